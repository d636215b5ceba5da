# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # How far apart are two guitars built alike?
#
# **The question from the bench.** Two guitars leave the same bench on the same day, with the same
# parts list, and the customer says that one is duller. Can that be the parts alone? And if it
# matters: which part would you sort first?
#
# **What you learn.** How far the tolerances of parts carry at volume 10 and turned down, which part
# does what, and what sorting would buy.
#
# **How long it takes.** About twenty-five minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing; for your own parts an ohmmeter and a handful of pots.
#
# The guitar is invented: a single coil of 6.2 kΩ and 2.4 H with some eddy loss and
# screening, 250 kΩ pots, 22 nF, 5 m of cable.

# %%
import numpy as np

import guitarnet as gn
from exercises import two_guitars_built_alike as exercise
from exercises.checking import check

guitar = gn.layouts.one_pickup(
    gn.Pickup("6.2k", "2.4 H", "120p", "300k", 0.3, "8 kHz"),
    volume="250k",
    tone="250k",
    tone_capacitor="22n",
    cable="5 m",
)
gn.Table(
    ["value", "±"],
    [(path, f"{share:.0%}") for path, share in gn.tolerances.tolerances_of(guitar).items()],
)

# %% [markdown]
# Parts are sold with these tolerances. Those of the pots are in data sheets; the others are common
# practice, no source.
#
# ## Predict
#
# Write your answers in place of `None` before you go on.

# %%
my_peak_range = None  # Hz: from the lowest to the highest peak of nine guitars in ten, volume 10?
my_pair = None  # dB: worst difference in shape, 200 Hz-5 kHz, that half of all pairs stay under?
my_level_at_5 = None  # dB: range of level at volume 5, with every pot's taper a little off?
my_part = None  # which value of the table above moves the peak's frequency most?

# %% [markdown]
# ## Compute
#
# ### Two thousand guitars
#
# Each value is drawn at random between its limits, all equally probable, each by itself. The
# draws have a seed, so you get the same two thousand.

# %%
drawn = gn.tolerances.spread(guitar, 2000, seed=1)
f = np.geomspace(50, 15e3, 200)
marked = gn.response(guitar, frequency=f, volume=10)
many = gn.response(guitar, frequency=f, volume=10, **drawn)
peaks, peak = gn.peak(many), gn.peak(marked)
low, _, high = gn.tolerances.quantiles(peaks.frequency).values
peak_range = high - low

# %%
hint = "Inductance and cable are each off by up to 10 %; the peak goes with one over √(LC)."
check(my_peak_range, peak_range, within="15 %", unit="Hz", hint=hint)

# %%
gn.tolerances.quantile_table(
    {"peak": peaks.frequency, "height re 100 Hz": peaks.height},
    {"peak": peak.frequency, "height re 100 Hz": peak.height},
)

# %% [markdown]
# ### Pairs
#
# The customer compares two guitars, not one with its data sheet. So take the thousand pairs,
# first with second, third with fourth, levels matched at 100 Hz, and look for the worst
# difference between 200 Hz and 5 kHz.

# %%
shape = gn.level_db(many, re="reference").sel(frequency=slice(200, 5000)).values
pairs = np.abs(shape[::2] - shape[1::2]).max(axis=1)
half, most = np.quantile(pairs, [0.5, 0.95])

# %%
hint = "The peaks are up to some hundred hertz apart; how steep is the flank there?"
check(my_pair, half, within="0.3 dB", unit="dB", hint=hint)

# %%
print(f"half of all pairs stay under {half:.2f} dB, 95 in 100 under {most:.2f} dB")

# %% [markdown]
# Half of all pairs differ by up to 1 dB at their worst place, and one pair in twenty by more than
# 2.3 dB. So it can be the parts alone. Whether a customer hears it, no computation says; below you
# can listen.
#
# ### Turned down
#
# A taper is a promise that pots keep loosely: a military standard (MIL-PRF-94G) allows ±20 % of the
# curve at each angle. Now every pot's taper is off too, one number for each pot.

# %%
tapers = gn.tolerances.spread_tapers(guitar, {"volume": [10, 7, 5, 3]}, 2000, seed=1)
at_5 = (
    gn.tolerances.tolerance_band(guitar, drawn | tapers, frequency=["100 Hz"])
    .sel(volume=5)
    .isel(frequency=0)
)
alone = gn.tolerances.tolerance_band(guitar, drawn, frequency=["100 Hz"], volume=5).isel(
    frequency=0
)
level_range = float(at_5[-1] - at_5[0])
without = float(alone[-1] - alone[0])

# %%
hint = "What are ±20 % of the track fraction, in decibels?"
check(my_level_at_5, level_range, within="0.4 dB", unit="dB", hint=hint)

# %%
print(f"at volume 5, 100 Hz: {level_range:.1f} dB apart, {without:.1f} dB with exact tapers")

# %% [markdown]
# At half travel nine guitars in ten lie within 3.1 dB, and nearly all of that is taper: the pot's
# total resistance hardly moves the level, because both pieces of the track grow together. If two
# guitars must track each other, sort the pots by their reading at 5, not by their total.
#
# ### Which part?
#
# The two thousand guitars say which part goes with the peak's frequency, and which with its
# height. A share of 1 would be all of it:

# %%
by_frequency, by_height = (
    gn.tolerances.sample_shares(drawn, peaks[name]) for name in ("frequency", "height")
)
most_moving = str(by_frequency.value[0].item())
hint = "The peak's frequency goes with one over √(LC), and C is winding and cable together."
check(my_part, most_moving, choices=tuple(drawn), hint=hint)

# %%
gn.Table(
    ["value", "share, frequency", "share, height"],
    [
        (path, *(f"{float(share.sel(value=path)):.2f}" for share in (by_frequency, by_height)))
        for path in by_frequency.value.values[:5]
    ],
)

# %% [markdown]
# The frequency of the peak is the coil's business and the cable's; its height is that of the two
# pots. Sorted pots will not bring two guitars to one frequency, and a matched pair of coils will
# not bring them to one height.
#
# ### What sorting would buy

# %%
own = gn.tolerances.tolerances_of(guitar)
plans = {
    "as bought": own,
    "pots sorted to ±5 %": own | {"volume.resistance": 0.05, "tone.resistance": 0.05},
    "coils sorted to ±3 % of inductance": own | {"pickup.inductance": 0.03},
}
rows = {}
for label, shares in plans.items():
    of_plan = gn.peak(
        gn.response(
            guitar,
            frequency=f,
            volume=10,
            **gn.tolerances.spread(guitar, 2000, seed=1, tolerances=shares),
        )
    )
    rows[label] = [
        float(np.ptp(gn.tolerances.quantiles(of_plan[name], [0.05, 0.95]).values))
        for name in ("frequency", "height")
    ]
gn.Table(
    ["nine guitars in ten lie within", "peak [Hz]", "height [dB]"],
    [(label, f"{hertz:.0f}", f"{decibels:.2f}") for label, (hertz, decibels) in rows.items()],
)

# %% [markdown]
# ## Look
#
# ### Two thousand guitars at 10
#
# Levels matched at 100 Hz.

# %%
ax = gn.plots.plot_bands(
    many, marked, re="reference", title="Below 1 kHz all alike; at the peak and above, a band"
)
_ = ax.set(xlim=(200, 15e3), ylim=(-14, 6), yticks=[-10, -5, 0, 5])

# %% [markdown]
# ### Turned down, with tapers that are off

# %%
ax = gn.plots.plot_bands(
    gn.tolerances.tolerance_band(guitar, drawn | tapers),
    gn.response(guitar, volume=[10, 7, 5, 3]),
    title="Turned down, the taper decides how loud it is",
)

# %% [markdown]
# ### Which part does what
#
# The slope of the level by each value, exact at every frequency. It is a straight line laid on a
# curve, so it holds for small changes.

# %%
ax = gn.plots.plot_sensitivity(
    gn.tolerances.sensitivity(guitar, volume=10, re="reference"),
    title="Inductance tilts the treble; pots lift the peak",
)

# %% [markdown]
# Times the tolerance, that is what each part may do between 200 Hz and 5 kHz:

# %%
ranked = gn.tolerances.sensitivity_ranking(
    guitar, frequency=np.geomspace(200, 5000, 80), volume=10, re="reference"
)
ax = gn.plots.plot_ranking(ranked, title="The coil's inductance first, then pots and cable")

# %% [markdown]
# ### Listen
#
# The guitar with the 21st lowest peak of all two thousand, and that with the 21st highest. The
# string is computed, nothing is recorded. Switch while it plays; levels are matched by equal power.
# (Without a running or trusted notebook you see the levels.)


# %%
def guitar_number(number):
    made = guitar
    for path, values in drawn.items():
        made = made.replace(path, float(values[number]))
    return made


order = np.argsort(peaks.frequency.values)
builds = {"low peak": guitar_number(order[20]), "high peak": guitar_number(order[-21])}
note = gn.strings.pluck("A2", pickup="60 mm", distance="90 mm", duration=0.5, rate=16_000)
clips = gn.audio.play_through(note, builds, volume=10)
ends = [
    float(gn.peak(gn.response(made, frequency=f, volume=10)).frequency) for made in builds.values()
]
print("peaks at {:.0f} and {:.0f} Hz".format(*ends))
gn.pages.listen(clips, match=True, title="Two guitars built alike, volume 10")

# %% [markdown]
# ### Turn the knob
#
# The same two, and the guitar with every part as marked, live. (Without a running or trusted
# notebook you see a still picture.)

# %%
three = {"low peak": builds["low peak"], "as marked": guitar, "high peak": builds["high peak"]}
gn.live_page(
    gn.response(three, volume=range(11)), volume=10, title="Built alike (invented guitars)"
)

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "Same model, same sound"

# %%
mine = None  # "yes" or "no": do half of all pairs stay within 0.5 dB, from 200 Hz to 5 kHz?
check(mine, exercise.half_of_pairs_within_half_a_db)

# %%
for limit in (0.5, 1.0, 2.0, 3.0):
    print(f"within {limit} dB: {np.mean(pairs < limit):.0%} of all pairs")

# %% [markdown]
# Not within half a decibel: fewer than one pair in five. Within 3 dB it holds for nearly all of
# them, and below 1 kHz every pair of these is alike within 0.3 dB. What "same" means is for the
# player to say; and only the electronics are counted here, no wood, no strings, no pickup height.
#
# ### "A 250 kΩ pot that has 220 is quieter at 5"

# %%
mine = None  # "yes" or "no": does the pot's total move the level at 5 more than its taper?
check(mine, exercise.total_more_than_taper)

# %%
totals = gn.response(
    guitar, {"volume": 5, "volume.resistance": ["200k", "250k", "300k"]}, frequency=[100]
)
by_total = float(np.ptp(gn.level_db(totals).values))
halves = [guitar.replace("volume", gn.Pot("250k", f"audio {half} %")) for half in (12, 15, 18)]
by_taper = float(
    np.ptp([gn.level_db(gn.response(one, frequency=[100], volume=5)).values for one in halves])
)
print(f"200 to 300 kΩ: {by_total:.2f} dB; 12 to 18 % of the track at 5: {by_taper:.1f} dB")

# %% [markdown]
# Hardly: both pieces of the track are smaller by the same share, and the level is their ratio. The
# taper moves it by 3.4 dB. The total is not without effect, but it shows at 10, in the height of
# the peak.
#
# ### "Sort the pots, and the guitars will sound alike"

# %%
mine = None  # "yes" or "no": does sorting them to ±5 % take over a quarter off the peaks' range?
check(mine, exercise.sorted_pots_same_peak)

# %%
bought, sorted_pots, sorted_coils = rows.values()
for name, one in (("pots", sorted_pots), ("coils", sorted_coils)):
    off = [f"{1 - after / before:.0%}" for after, before in zip(one, bought, strict=True)]
    print(f"{name} sorted: range of the peak's frequency {off[0]} smaller, of its height {off[1]}")

# %% [markdown]
# Sorted pots take a tenth off the range of the frequency, and half off that of the height. Sorted
# coils take over a third off the frequency and next to nothing off the height. So first find out in
# what the two guitars differ: where the peak is, or how high it is.
#
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open an
# amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its stand.
# Ventilate the fumes. Wash your hands after using leaded solder. Wear goggles when clipping leads.
# The mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# Measure loose parts, before they are soldered in: ten pots end to end, and from wiper to the lug
# that it touches at 0 with the knob at 5. Put your readings here:

# %%
my_pots = [243e3, 251e3, 228e3, 262e3, 247e3, 239e3, 255e3, 244e3, 233e3, 258e3]  # ohm, invented
largest = max(abs(np.array(my_pots) / 250e3 - 1))
limits = own | {"volume.resistance": largest, "tone.resistance": largest}
of_mine = gn.peak(
    gn.response(
        guitar,
        frequency=f,
        volume=10,
        **gn.tolerances.spread(guitar, 2000, seed=1, tolerances=limits),
    )
)
my_height = float(np.ptp(gn.tolerances.quantiles(of_mine.height, [0.05, 0.95]).values))
print(f"these pots are within {largest:.0%}: the peak's height then spans {my_height:.2f} dB")

# %% [markdown]
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/11_two_guitars_built_alike.ipynb). For
# the last three draw two thousand guitars with `seed=1`, as above.
#
# **1.** Two volume pots of 250 kΩ, otherwise equal guitars. With the knob at 5 you read 13 % of the
# track from wiper to the lug for 0 in the one, 17 % in the other. How many decibels are the guitars
# apart at 5, at 100 Hz?

# %%
mine = None  # dB
check(mine, exercise.level_of_two_tapers)

# %% [markdown]
# **2.** You sort volume and tone pots to ±10 %. Within how many decibels of peak height do nine
# guitars in ten lie?

# %%
mine = None  # dB
check(mine, exercise.pots_to_10_percent)

# %% [markdown]
# **3.** In the shop all guitars are tried with one and the same cable. Within how many hertz do
# nine peaks in ten lie?

# %%
mine = None  # Hz
check(mine, exercise.same_cable_for_all)

# %% [markdown]
# **4.** A dealer wants the peaks of nine guitars in ten within 400 Hz, cables as bought. To what
# tolerance of inductance must you sort the coils?

# %%
mine = None  # %, plus or minus
check(mine, exercise.inductance_for_400_hz)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert own["pickup.inductance"] == own["cable.capacitance_per_metre"] == 0.1  # in a hint
assert 450 < peak_range < 550
assert 0.9 < half < 1.0
assert 2.2 < most < 2.4
assert 3.0 < level_range < 3.2
assert without < 0.25
assert most_moving == "pickup.inductance"
assert list(by_frequency.value.values[:2]) == ["pickup.inductance", "cable.capacitance_per_metre"]
assert set(by_height.value.values[:2]) == {"tone.resistance", "volume.resistance"}
assert ranked.value.values[0] == "pickup.inductance"
assert set(ranked.value.values[1:4]) == {
    "tone.resistance",
    "volume.resistance",
    "cable.capacitance_per_metre",
}
band = gn.tolerances.quantiles(gn.level_db(many, re="reference"))
assert float((band[-1] - band[0]).sel(frequency=slice(0, 1000)).max()) < 0.15
assert rows["pots sorted to ±5 %"][1] < 0.6 * rows["as bought"][1]
assert rows["pots sorted to ±5 %"][0] > 0.85 * rows["as bought"][0]
assert rows["coils sorted to ±3 % of inductance"][0] < 0.7 * rows["as bought"][0]
assert rows["coils sorted to ±3 % of inductance"][1] > 0.95 * rows["as bought"][1]
assert np.allclose(ends, np.sort(peaks.frequency.values)[[20, -21]], atol=1)
shares_within = [float(np.mean(pairs < limit)) for limit in (0.5, 3.0)]
assert shares_within[0] < 0.2
assert shares_within[1] > 0.99
below = gn.level_db(many, re="reference").sel(frequency=slice(0, 1000)).values
assert float(np.abs(below[::2] - below[1::2]).max()) < 0.3
assert by_total < 0.1
assert round(by_taper, 1) == 3.4
assert round(1 - sorted_pots[0] / bought[0], 1) == 0.1
assert round(1 - sorted_pots[1] / bought[1], 1) == 0.5
assert sorted_coils[0] < 2 / 3 * bought[0]

# %% [markdown]
# **Turn the page.** The next lesson is [Where the peak comes
# from](12_where_the_peak_comes_from.ipynb). Compare your exercises with the [worked
# answers](answers/11_two_guitars_built_alike.ipynb) first.
