# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Fifties, modern, independent
#
# **The question from the bench.** The same pots, the same capacitor, four ways to join them.
# "50s wiring keeps the treble." "Independent volumes let you blend two pickups, but they kill the
# top." "Nothing changes at 10." Which of these are true, and what does each cost?
#
# **What you learn.** What the four wirings share at 10, and where they part when the volume goes
# down, the tone goes down, or a second pickup joins in; and which of them a meter can tell apart.
#
# **How long it takes.** About thirty minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing. For the last part a guitar, a cable and an ohmmeter.
#
# The guitar is invented: pickups of 7.6 kΩ and 3.9 H with some eddy loss and screening, 500 kΩ pots
# (audio taper, 15 % of the track at half travel), 22 nF, 5 m of cable.
#
# What joins what, told by function:
#
# - *modern*: pickup on the lug touched at 10, output on the wiper, tone on the pickup's side;
# - *50s*: the same, with the tone on the output's side;
# - *independent*: pickup on the wiper, output on the lug touched at 10, tone on the pickup's side;
# - *independent 50s*: the same, with the tone on the output's side.

# %%
import numpy as np

import guitarnet as gn
from exercises import fifties_modern_independent as exercise
from exercises.checking import check

pickup = gn.Pickup("7.6k", "3.9 H", "110p", "400k", 0.3, "7 kHz")
WIRINGS = ("modern", "50s", "independent", "independent 50s")


def guitar(wiring, capacitor="22n"):
    return gn.layouts.one_pickup(
        pickup,
        volume=gn.Pot("500k", "audio 15%"),
        tone=gn.Pot("500k", "audio 15%"),
        tone_capacitor=capacitor,
        wiring=wiring,
        cable="5 m",
    )


builds = {wiring: guitar(wiring) for wiring in WIRINGS}
guitar("50s")

# %% [markdown]
# ## Predict
#
# Write your numbers in place of `None` before you go on. A wrong one costs nothing: the distance
# between what you expected and what comes out is the lesson.

# %%
my_change_at_10 = None  # dB: the largest difference between the four at volume 10, tone 10
my_gain_of_50s = None  # dB: at 3 kHz and volume 5, how much more does 50s keep than modern?
my_loss_of_independent = None  # dB, minus for a loss: what does independent do at 3 kHz, volume 5?
my_level_of_independent = None  # dB, minus for quieter: its level at 5 re 10 (modern: -17 dB)

# %% [markdown]
# ## Compute
#
# ### At 10

# %%
finely = gn.response(builds, dim="wiring", volume=np.arange(0, 10.5, 0.5))
h = finely.sel(volume=[10, 9, 7, 5, 3])
difference = gn.level_db(h, re={"wiring": "modern"}).sel(volume=10)
largest_at_10 = float(abs(difference).max())
print(f"largest difference at 10: {largest_at_10:.12f} dB")

# %%
check(
    my_change_at_10,
    largest_at_10,
    unit="dB",
    within="0.1 dB",
    hint="Where is the wiper when the knob is full up?",
)

# %% [markdown]
# None: at 10 the wiper and the upper lug are one piece of metal, and all four wirings are one
# circuit.
#
# ### Turned down
#
# The change at 3 kHz re volume 10, levels matched at 100 Hz, in decibels; the tone is at 10.

# %%
at_3k = gn.treble_change(h, frequencies=["3 kHz"]).change.sel(frequency=3000)
at_3k.to_pandas().round(1)

# %%
gain_of_50s = float(at_3k.sel(wiring="50s", volume=5) - at_3k.sel(wiring="modern", volume=5))
check(
    my_gain_of_50s,
    gain_of_50s,
    unit="dB",
    within="0.5 dB",
    hint="With the tone at 10 the tone network is 500 kΩ, on either side.",
)

# %%
loss_of_independent = float(at_3k.sel(wiring="independent", volume=5))
check(
    my_loss_of_independent,
    loss_of_independent,
    unit="dB",
    within="3 dB",
    hint="How much of the track lies between wiper and upper lug at half travel?",
)

# %% [markdown]
# With the tone at 10, 50s keeps 0.6 dB more than modern at volume 5 with this guitar: what takes
# the treble is the resistance between pickup and cable, and that is the same in both. Behind a
# divider the cable sees both halves of the track side by side, never more than a quarter of it,
# 125 kΩ. Independent puts 425 kΩ in its way at half travel, and loses 19 dB.
#
# ### The taper
#
# The level at 100 Hz re volume 10, in decibels.

# %%
tapers = gn.effective_taper(finely)
tapers.sel(volume=[10, 7, 5, 3, 1, 0]).to_pandas().round(1)

# %%
level_of_independent = float(tapers.sel(wiring="independent", volume=5))
check(
    my_level_of_independent,
    level_of_independent,
    unit="dB",
    within="1 dB",
    hint="The output is no longer on the wiper: what is there to divide the voltage at 100 Hz?",
)

# %% [markdown]
# Turned round, the pot is no divider for the pickup but a resistor on its way to the amp, with
# the rest of the track across the pickup. At 100 Hz the amp's 1 MΩ is all it works against: at 5
# the level falls by 4 dB where modern falls by 17, and at 1 it is still there, 7 dB down. Then, at
# 0, the wiper shorts the pickup. What goes on the way down is the treble.
#
# ### With the tone turned down
#
# Here 50s is another control: the capacitor hangs behind the volume pot.

# %%
toned = gn.response(builds, dim="wiring", volume=[10, 5], tone=5)
with_tone = gn.treble_change(toned, frequencies=["3 kHz"]).change.isel(frequency=0)
level_with_tone = gn.effective_taper(toned).sel(volume=5)
gn.Table(
    ["tone 5, volume 5 re volume 10", "level at 100 Hz [dB]", "3 kHz, levels matched [dB]"],
    [
        (
            wiring,
            f"{float(level_with_tone.sel(wiring=wiring)):.1f}",
            f"{float(with_tone.sel(wiring=wiring, volume=5)):+.1f}",
        )
        for wiring in WIRINGS
    ],
)

# %% [markdown]
# With the tone at 5 as well, 50s falls by 20 dB instead of 17 and its shape brightens by 1 dB,
# where modern darkens by 2. So "50s keeps the treble" holds where the tone is down, more than
# where it is up, and the price is level.
#
# ### Two pickups
#
# What independent is made for: both pickups on, one turned down to 0. The table holds the level
# at 100 Hz re the neck's volume at 10.

# %%
both = {
    wiring: gn.layouts.two_humbuckers(
        pickup, pickup, volume="500k", tone="500k", wiring=wiring, cable="5 m"
    )
    for wiring in WIRINGS
}
blend = gn.response(both, dim="wiring", switch="neck+bridge", neck_volume=[10, 5, 0])
left = gn.effective_taper(blend, "neck_volume").to_pandas().round(1)
left

# %% [markdown]
# Neck volume at 0 silences the whole guitar with modern and 50s wiring: its wiper lies on ground,
# and so does the output. With independent the bridge pickup plays on, through the resistance of
# the neck's pot. That is the trade: blending for treble.
#
# ### Noise
#
# The resistance that takes the treble also makes noise, 4kT times the real part of what the amp
# looks into.

# %%
gn.audio.noise_table(guitar("modern"))

# %%
gn.audio.noise_table(guitar("independent"))

# %% [markdown]
# From 10 down to 3 the two lie within a microvolt of each other. With modern wiring the noise goes
# away at 0, where the output is shorted; with independent it does not, because the whole track lies
# between ground and output. Hum and the amp's own noise are not in it.
#
# ## Look
#
# ### The shapes

# %%
axes = gn.plots.plot_builds(h, [10, 7, 5, 3], title="At 10 one circuit; turned down, four shapes")

# %% [markdown]
# 50s and modern part above 3.1 kHz, where the peak was. The two independent wirings are
# 1 dB down at 530 and 750 Hz already.
#
# ### The taper

# %%
axes = gn.plots.plot_taper(
    finely, {"audio 15%": gn.audio_taper(0.15)}, title="Independent hardly turns down"
)

# %% [markdown]
# ### Turn the knob
#
# The four wirings, live. (Without a running or trusted notebook you see a still picture.)

# %%
gn.live_page(finely, title="Four wirings, tone at 10 (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "50s wiring is a treble bleed"

# %%
mine = None  # "yes" or "no": at 3 kHz, volume 5, tone 10: does 50s keep over 3 dB more than modern?
check(mine, exercise.fifties_is_a_bleed)

# %%
with_bleed = {
    "modern": guitar("modern"),
    "50s": guitar("50s"),
    "modern, 1 nF ∥ 150 kΩ": guitar("modern").replace("treble_bleed", gn.bleed("1n || 150k")),
}
bled = gn.response(with_bleed, volume=[10, 5])
kept = gn.treble_change(bled, frequencies=["3 kHz", "7 kHz"]).change.sel(volume=5)
kept.to_pandas().round(1)

# %% [markdown]
# Not at 3 kHz: 50s keeps 0.6 dB more than modern, and the bleed in the table 5.9 dB more. Higher up
# it is the other way round: at 7 kHz 50s keeps 5.0 dB more than modern, and the bleed 2.1 dB less.
# With the tone down 50s keeps treble as well, as you saw above. The two differ in kind: a bleed
# leads treble round the pot; 50s moves the tone network to where it weighs on the pickup less.
#
# ### "Independent volumes kill the top"

# %%
mine = None  # "yes" or "no": at volume 10, has independent less treble than modern by 0.1 dB?
check(mine, exercise.independent_kills_the_top)

# %%
lost = at_3k.sel(wiring="independent") - at_3k.sel(wiring="modern")
for mark, decibels in lost.to_series().round(1).items():
    print(f"volume {mark:2.0f}: {decibels + 0.0:+6.1f} dB against modern at 3 kHz, shapes compared")

# %% [markdown]
# Not at 10: there it is the same circuit. Turned down it is so: nearly 5 dB less than modern at 7,
# 12 dB less at 5. Whoever leaves the knobs at 10 pays nothing; whoever blends pays in treble.
#
# ### "10 nF is dark, 40 nF is bright"

# %%
mine = None  # "yes" or "no": tone at 0: is 10 nF the darker, that is, lower at 1 kHz re 100 Hz?
check(mine, exercise.dark_capacitor)

# %%
capacitors = {text: guitar("modern", text) for text in ("10n", "22n", "40n")}
turned = gn.response(capacitors, dim="capacitor", tone=[10, 0])
closed = gn.peak(turned).sel(tone=0)
at_1k = gn.level_db(turned, re="reference").interp(frequency=1000)
gn.Table(
    ("tone capacitor", "tone 10: 1 kHz [dB]", "tone 0: 1 kHz [dB]", "tone 0: peak [Hz]"),
    [
        (
            text,
            f"{float(at_1k.sel(capacitor=text, tone=10)):+.1f}",
            f"{float(at_1k.sel(capacitor=text, tone=0)):+.1f}",
            f"{float(closed.frequency.sel(capacitor=text)):.0f}",
        )
        for text in capacitors
    ],
)

# %% [markdown]
# The reverse. With the tone at 0 the capacitor lies across the pickup, and the peak comes down to
# 750 Hz with 10 nF and to 330 Hz with 40 nF. At 1 kHz 10 nF leaves 1.4 dB above 100 Hz, 40 nF is
# 15 dB below. With the tone at 10 the three are within 0.1 dB: there the capacitor hardly counts,
# since the pot's 500 kΩ lie before it.
#
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open an
# amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its stand.
# Ventilate the fumes. Wash your hands after using leaded solder. Wear goggles when clipping leads.
# The mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# An ohmmeter at the jack shows whether a guitar is wired independent, without opening anything.
# Modern and 50s have the same readings: they differ in the position of a capacitor, which a meter
# for resistance does not see.

# %%
readings = {w: gn.jack_resistance(build, volume=[10, 5, 0]) for w, build in builds.items()}
gn.Table(
    ["at the jack [kΩ]", "volume 10", "volume 5", "volume 0"],
    [(w, *(f"{ohm / 1000:.1f}" for ohm in ohms.values)) for w, ohms in readings.items()],
)

# %% [markdown]
# Put your own reading at volume 0 here:

# %%
my_reading = 0.3  # ohm
print("independent" if my_reading > 10e3 else "modern or 50s")

# %% [markdown]
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/06_fifties_modern_independent.ipynb).
#
# **1.** Modern wiring, this lesson's guitar. You turn the volume from 0 to 10 with the meter at the
# jack. What is the largest reading you meet?

# %%
mine = None  # kΩ
check(mine, exercise.largest_reading)

# %% [markdown]
# **2.** Your customer has 250 kΩ pots instead. How much more does 50s keep than modern at 3 kHz,
# volume 5, tone 10?

# %%
mine = None  # dB
check(mine, exercise.fifties_with_250k)

# %% [markdown]
# **3.** Two such pickups, independent wiring, both on. The neck's volume goes to 0. Where is the
# peak now?

# %%
mine = None  # Hz
check(mine, exercise.peak_of_the_bridge)

# %% [markdown]
# **4.** "I keep independent, but at 7 I want no less treble than with modern." Which capacitor
# alone, as treble bleed across wiper and upper lug, leaves 3 kHz at 7 where modern without one has
# it?

# %%
mine = None  # pF
check(mine, exercise.bleed_for_independent)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
# At 10 and turned down.
assert largest_at_10 < 1e-9
assert round(gain_of_50s, 1) == 0.6
assert round(loss_of_independent) == -19
between = 500e3 * (1 - gn.audio_taper(0.15)(0.5))
assert round(between) == 425e3
track = np.linspace(0, 1, 101)
assert round(max(500e3 * track * (1 - track))) == 125e3
# The taper.
assert round(level_of_independent) == -4
assert round(float(tapers.sel(wiring="modern", volume=5))) == -17
assert round(float(tapers.sel(wiring="independent", volume=1))) == -7
assert float(abs(gn.response(guitar("independent"), volume=0)).max()) == 0
# The tone down.
assert round(float(level_with_tone.sel(wiring="50s"))) == -20
assert round(float(level_with_tone.sel(wiring="modern"))) == -17
assert round(float(with_tone.sel(wiring="50s", volume=5))) == 1
assert round(float(with_tone.sel(wiring="modern", volume=5))) == -2
# Two pickups.
assert np.isneginf(left.loc[["modern", "50s"], 0.0]).all()
assert np.isfinite(left.loc[["independent", "independent 50s"], 0.0]).all()
# Noise.
noise = {
    w: [float(row[1]) for row in gn.audio.noise_table(guitar(w))] for w in ("modern", "independent")
}
assert noise["modern"][-1] == 0
assert noise["independent"][-1] > 1
assert max(abs(a - b) for a, b in zip(*(n[:-1] for n in noise.values()), strict=True)) < 1
# Look.
shape = gn.level_db(h, re="reference").sel(volume=5)
assert round(float(gn.peak(h).frequency.sel(wiring="modern", volume=10)), -2) == 3100
apart = abs(shape.sel(wiring="50s") - shape.sel(wiring="modern"))
assert float(apart.sel(frequency=slice(50, 3000)).max()) < 1
assert float(apart.sel(frequency=slice(5000, 8000)).min()) > 1
for wiring, hertz in (("independent", 530), ("independent 50s", 750)):
    fallen = shape.sel(wiring=wiring).interp(frequency=hertz)
    assert abs(float(fallen) + 1) < 0.05
# Is it so?
more = kept - kept.sel(build="modern")
assert more.sel(build="50s").values.round(1).tolist() == [0.6, 5.0]
assert more.sel(build="modern, 1 nF ∥ 150 kΩ").values.round(1).tolist() == [5.9, -2.1]
assert abs(float(lost.sel(volume=10))) < 1e-9
assert -5 < float(lost.sel(volume=7)) < -4.5
assert round(float(lost.sel(volume=5))) == -12
assert closed.frequency.round(-1).values.tolist()[::2] == [750, 330]
assert round(float(at_1k.sel(capacitor="10n", tone=0)), 1) == 1.4
assert round(float(at_1k.sel(capacitor="40n", tone=0))) == -15
assert np.ptp(at_1k.sel(tone=10).values) < 0.1
# On the bench.
assert np.allclose(readings["modern"].values, readings["50s"].values)
assert float(readings["modern"].sel(volume=0)) == 0
assert round(float(readings["independent"].sel(volume=0))) == 500e3

# %% [markdown]
# **Turn the page.** The next lesson is [Series, parallel, split](07_series_parallel_split.ipynb).
# Compare your exercises with the [worked answers](answers/06_fifties_modern_independent.ipynb)
# first.
