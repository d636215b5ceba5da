# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Loading by pots, cable and amp
#
# **The question from the bench.** "I put 500 kΩ pots in for the 250 kΩ ones and it came alive.
# Louder, too. It is because the old ones bled the treble to ground, isn't it? And the next
# guitar lost its sparkle with the longer cable, so that one wants 1 MΩ." Three loads hang on
# a pickup: pots, cable, amp. Which of them moves the peak, and which only lets it stand up?
#
# **What you learn.** What each load does, and how to predict it before you solder, from four closed
# forms: where the peak is, how high it is, and why a resistance and a capacitance act differently.
#
# **How long it takes.** About thirty minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing. For the last part an ohmmeter and, if there is one, a
# capacitance meter.
#
# The guitar is invented: a single coil of 6.2 kΩ, 2.4 H and 120 pF, a volume and a tone pot of the
# same resistance, 22 nF, 5 m of cable, an amp of 1 MΩ.

# %%
import numpy as np

import guitarnet as gn
from exercises import loading_by_pots_cable_amp as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")


def guitar(pots="250k", **changed):
    given = {"volume": pots, "tone": pots, "cable": "5 m", "amp": "1M"} | changed
    return gn.layouts.one_pickup(pickup, **given)


guitar()

# %% [markdown]
# ## Predict
#
# With 250 kΩ pots this guitar peaks at 3.8 kHz, 4.3 dB above its level at 100 Hz. Now both pots
# become 500 kΩ. Write your numbers in place of `None` before you go on.

# %%
my_peak = None  # Hz: where is the peak with 500 kΩ pots?
my_height = None  # dB: how high does it stand above the level at 100 Hz?
my_louder = None  # dB: how much louder is the guitar at 100 Hz?

# %% [markdown]
# ## Compute
#
# ### What the pickup sees
#
# Both knobs at 10. The whole track of the volume pot lies across the pickup, from hot to ground,
# and so does the amp. The tone pot is in series with its capacitor, and at the peak 22 nF are
# under 2 kΩ, next to nothing against 250. So three resistances in parallel:

# %%


def load(*ohms):
    """Resistances in parallel."""
    return 1 / sum(1 / ohm for ohm in ohms)


reactance = 1 / (2 * np.pi * 3800 * 22e-9)
load_250, load_500 = load(250e3, 250e3, 1e6), load(500e3, 500e3, 1e6)
print(f"22 nF at 3.8 kHz: {reactance:.0f} Ω")
print(f"the load: {load_250 / 1e3:.0f} kΩ with 250 kΩ pots, {load_500 / 1e3:.0f} kΩ with 500")

# %% [markdown]
# The cable's 500 pF lie beside the winding's 120. That leaves one coil, one capacitor and two
# resistances: R in series, the wire, and P in parallel, the load. Four closed forms follow (the
# lesson "Where the peak comes from" derives them):
#
# | | |
# |---|---|
# | natural frequency | f₀ = √(1 + R/P) / (2π√(LC)) |
# | damping | Q = √(LC(1 + R/P)) / (RC + L/P) |
# | peak | f = f₀ √(1 - 1/(2Q²)), none where Q is 1/√2 or less |
# | its height | Q / √(1 - 1/(4Q²)), re the level at low frequency |

# %%


def closed_forms(parallel, capacitance, wire=6.2e3, inductance=2.4):
    """Q, frequency [Hz] and height [dB] of the peak."""
    more = 1 + wire / parallel
    natural = np.sqrt(more / (inductance * capacitance)) / (2 * np.pi)
    quality = np.sqrt(inductance * capacitance * more) / (
        wire * capacitance + inductance / parallel
    )
    frequency = natural * np.sqrt(1 - 1 / (2 * quality**2))
    height = 20 * np.log10(quality / np.sqrt(1 - 1 / (4 * quality**2)))
    return quality, frequency, height


ohms = {"250 kΩ": 250e3, "300 kΩ": 300e3, "500 kΩ": 500e3, "1 MΩ": 1e6}
by_pots = gn.response({name: guitar(ohm) for name, ohm in ohms.items()}, dim="pots")
computed = gn.peak(by_pots)
at_100 = gn.level_db(by_pots).interp(frequency=100)
rows = []
for name, ohm in ohms.items():
    parallel = load(ohm, ohm, 1e6)
    quality, frequency, height = closed_forms(parallel, 620e-12)
    found = computed.sel(pots=name)
    rows.append(
        (
            name,
            f"{parallel / 1e3:.0f}",
            f"{quality:.2f}",
            f"{frequency:.0f}",
            f"{float(found.frequency):.0f}",
            f"{height:.2f}",
            f"{float(found.height):.2f}",
            f"{float(at_100.sel(pots=name)):.2f}",
        )
    )
gn.Table(
    (
        "both pots",
        "load [kΩ]",
        "Q",
        "peak by hand [Hz]",
        "computed",
        "height by hand [dB]",
        "computed",
        "level at 100 Hz [dB]",
    ),
    rows,
    note="By hand: the closed forms, tone capacitor taken for a short. Heights re 100 Hz.",
)

# %% [markdown]
# By hand and by computer agree within 5 Hz and 0.03 dB. From 250 to 500 kΩ the peak goes up by
# 240 Hz and stands 3.7 dB higher. And at 100 Hz the guitar is louder by less than 0.2 dB. Your
# numbers:

# %%
peak_500, height_500 = (
    float(computed.sel(pots="500 kΩ")[name]) for name in ("frequency", "height")
)
hint = "A resistance damps the peak; what moves it is coil and capacitance."
check(my_peak, peak_500, unit="Hz", hint=hint)

# %%
hint = "Compute Q for both loads; the height is nearly Q, in decibels."
check(my_height, height_500, unit="dB", within="0.5 dB", hint=hint)

# %%
louder = float(at_100.sel(pots="500 kΩ") - at_100.sel(pots="250 kΩ"))
hint = "At 100 Hz the pickup is 6.2 kΩ, and it feeds 111 kΩ or 200."
check(my_louder, louder, unit="dB", within="0.1 dB", hint=hint)

# %% [markdown]
# ### One change at a time
#
# Start from the guitar with 250 kΩ pots and change one thing only.

# %%
open_tone = gn.Pot("250k", gn.no_load("audio 15%"))
changes = {
    "as it is": guitar(),
    "volume pot 500 kΩ": guitar(volume="500k"),
    "both pots 500 kΩ": guitar("500k"),
    "no-load tone pot": guitar(tone=open_tone),
    "3 m of cable": guitar(cable="3 m"),
    "10 m of cable": guitar(cable="10 m"),
    "amp of 10 MΩ": guitar(amp="10M"),
    "pedal of 500 kΩ": guitar(amp=gn.amp_input("pedal")),
    "pedal of 10 kΩ": guitar(amp=gn.amp_input("low-impedance pedal")),
    "tone capacitor 100 nF": guitar(tone_capacitor="100n"),
}
changed = gn.response(changes)
peaks = gn.peak(changed)
low = gn.level_db(changed).interp(frequency=100)


def written(number, digits=1):
    """A number in print; a dash where there is none."""
    return "—" if np.isnan(number) else f"{float(number):.{digits}f}"


gn.Table(
    ("changed", "peak [Hz]", "height [dB re 100 Hz]", "level at 100 Hz [dB]"),
    [
        (name, written(f, 0), written(top), written(level, 2))
        for name, f, top, level in zip(changes, peaks.frequency, peaks.height, low, strict=True)
    ],
)

# %% [markdown]
# Two kinds of change stand in this table. A **capacitance** (cable) moves the peak by hundreds of
# hertz: 610 up with 3 m, 860 down with 10. A **resistance** (pots, amp) changes above all its
# height. Both touch the other a little: damping pulls the peak down, and a longer cable makes
# it higher, because the same resistance damps a lower peak less.
#
# Compare two lines: the no-load tone pot with 250 kΩ, and both pots of 500 kΩ. They agree within
# 1 Hz and 0.01 dB, and so they must: 250 kΩ with 1 MΩ are 200 kΩ, and 500, 500 and 1000 are 200
# as well. The pickup does not know which resistor it feeds.
#
# The last pedal is another matter: 10 kΩ leave no peak at all, and cost 4 dB at 100 Hz already.
#
# ## Look
#
# ### Resistance lets the peak stand

# %%
ax = gn.plot_response(
    by_pots, re="reference", title="Larger pots: the peak stands up and hardly moves"
)

# %% [markdown]
# ### Capacitance moves it

# %%
by_cable = gn.response(guitar(), {"cable.length": ["1 m", "3 m", "5 m", "10 m"]})
ax = gn.plot_response(by_cable, re="reference", title="Longer cables: the peak moves down")

# %% [markdown]
# ### What the larger pots add
#
# The same guitar with larger pots, minus that with 250 kΩ, frequency by frequency.

# %%
ax = gn.plot_response(
    by_pots, re={"pots": "250 kΩ"}, title="What larger pots add: the peak, and nothing above it"
)

# %% [markdown]
# The gain is largest around 4 kHz, 4.1 dB with 500 kΩ. At 15 kHz it is under 0.1 dB: there the
# cable shunts the pickup far more than any pot.

# %% [markdown]
# ### Turn the knob
#
# All four pots, live, over the volume knob. (Without a running or trusted notebook you see
# a still picture.) Below 10 the pot's upper part comes between pickup and cable, and larger pots
# lose more: the lesson "What a treble bleed does at 10 and at 5" takes that up.

# %%
live = gn.response({name: guitar(ohm) for name, ohm in ohms.items()}, dim="pots", volume=range(11))
gn.live_page(live, volume=10, title="Both pots of 250 kΩ to 1 MΩ (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "250 kΩ pots are darker because the resistor leads the treble to ground"
#
# They add that the loss grows with frequency.

# %%
mine = None  # "yes" or "no": does the highest treble gain most from a larger pot?
check(mine, exercise.resistor_leads_treble_away)

# %%
gain = gn.level_db(by_pots, re={"pots": "250 kΩ"}).sel(pots="500 kΩ")
for hertz in (100, 1000, 4000, 15000):
    print(f"500 kΩ for 250 kΩ: {float(gain.interp(frequency=hertz)):+.2f} dB at {hertz} Hz")
no_coil = gn.Pickup("6.2k", "2.4 H", "120p").replace("inductance", "1 mH")
bare = gn.response(
    {
        name: guitar(ohm).replace("pickup", no_coil).replace("cable.length", 0)
        for name, ohm in ohms.items()
    },
    dim="pots",
)
flat = gn.level_db(bare, re={"pots": "250 kΩ"}).sel(pots="500 kΩ", frequency=slice(1e3, 15e3))
least, most = float(flat.min()), float(flat.max())
print(f"without inductance and cable, 1 to 15 kHz: {least:+.2f} to {most:+.2f} dB")

# %% [markdown]
# A resistor takes the same share at every frequency. Take the inductance and the cable away, and
# 500 kΩ for 250 give 0.21 dB, at 1 kHz as at 15. What the resistor does in the guitar is
# to damp: it draws current through the coil, and the energy that would swing between coil and
# capacitance is lost in it. That matters where something swings, at the peak.
#
# ### "500 kΩ pots make it louder"

# %%
mine = None  # "yes" or "no": by 1 dB or more at 100 Hz, for 250 kΩ?
check(mine, exercise.larger_pots_are_louder)

# %%
print(f"at 100 Hz: {louder:+.2f} dB; at the peak, {peak_500:.0f} Hz: {height_500:.1f} dB re 100 Hz")

# %% [markdown]
# By 0.18 dB at 100 Hz. Around 4 kHz it is 4 dB more, and whoever calls that louder has a number to
# point to; but it is a peak, not a level.
#
# ### "The tone capacitor sets the cut-off, with the knob at 10 too"
#
# People say that 22 nF and 250 kΩ make 1/(2πRC) = 29 Hz.

# %%
mine = None  # "yes" or "no": does 100 nF for 22 nF change more than half a decibel, from 80 Hz up?
check(mine, exercise.tone_capacitor_at_10)

# %%
corner = 1 / (2 * np.pi * 250e3 * 22e-9)
other = gn.level_db(changed, re={"build": "as it is"}).sel(build="tone capacitor 100 nF")
above_80 = float(abs(other.sel(frequency=slice(80, None))).max())
print(
    f"1/(2πRC): {corner:.0f} Hz; 100 nF for 22 nF at 10: {above_80:.2f} dB at the most, from 80 Hz"
)

# %% [markdown]
# The 29 Hz are right, but they answer another question. Above 29 Hz the capacitor is nearly a
# short, so 250 kΩ is across a pickup of 6.2 kΩ. From 80 Hz up the two capacitors differ by 0.03 dB.
# Pickup and pots set the treble at 10; the capacitor matters when you turn the knob down.

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it, and take the
# battery out of active electronics. Never open an amplifier: its voltages are lethal even when it
# is off. If you desolder, the iron is hot and stays in its stand. Ventilate the fumes. Wash your
# hands after using leaded solder. Wear goggles when clipping leads. The mains earth must be
# intact. Local electrical codes and a licensed technician come before this lesson.
#
# A pot says 250 kΩ and may have 20 % more or less (usual in data sheets). Measure between its outer
# lugs with one of them free, else the pickup is in parallel. At the jack, without opening anything,
# the largest reading while you turn the volume is a quarter of pot plus pickup:

# %%
shows = float(gn.bench.ResistanceReading(largest_over="volume").expected(guitar()))
pot = gn.bench.pot_from_largest(shows, "6.2k")
print(f"largest at the jack: {shows / 1e3:.2f} kΩ, so the pot has {pot / 1e3:.0f} kΩ")

# %% [markdown]
# How much does that tolerance matter? Both pots 20 % low, and 20 % high:

# %%
off = [guitar(0.8 * 250e3), guitar(1.2 * 250e3)]
low_height, high_height = (float(gn.peak(gn.response(one)).height) for one in off)
print(
    f"{low_height:.1f} and {high_height:.1f} dB: {high_height - low_height:.1f} dB from pots alone"
)

# %% [markdown]
# Two guitars of one plan may differ by over 2 dB at the peak, from their pots alone; 300 kΩ for 250
# is within the tolerance. Put in what you measured:

# %%
yours = guitar("263k", tone="238k", cable=gn.Cable("18 ft", "30 pF/ft"))
told = gn.peak(gn.response(yours))
print(f"peak at {float(told.frequency):.0f} Hz, {float(told.height):.1f} dB high")

# %% [markdown]
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/02_loading_by_pots_cable_amp.ipynb).
# A number is in the unit asked for; text may bring its own ("200k", "4.8 kHz").
#
# **1.** A volume pot of 500 kΩ at 10, a tone pot of 500 kΩ at 10, an amp of 1 MΩ. Which
# resistance loads the pickup at its peak?

# %%
mine = None  # kΩ
check(mine, exercise.resistance_across)

# %% [markdown]
# **2.** The pickup of this lesson with a volume pot of 300 kΩ, a no-load tone pot at 10, 3 m of
# cable and 1 MΩ. Where is its peak?

# %%
mine = None  # Hz
check(mine, exercise.peak_of_another)

# %% [markdown]
# **3.** With 250 kΩ pots and 5 m of cable a pedal with an input of 500 kΩ takes the amp's
# place. By how much does the height of the peak change?

# %%
mine = None  # dB
check(mine, exercise.pedal_in_front)

# %% [markdown]
# **4.** How small must the whole load be for the 2.4 H, 6.2 kΩ and 620 pF to have no peak
# any more? (Many pots in parallel do it, or one pickup too many.)

# %%
mine = None  # kΩ
check(mine, exercise.load_without_a_peak)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
base = computed.sel(pots="250 kΩ")
assert round(float(base.frequency), -2) == 3800
assert round(float(base.height), 1) == 4.3
assert 1000 < reactance < 2000
assert (round(load_250 / 1e3), round(load_500 / 1e3)) == (111, 200)
for row in rows:
    by_hand, by_computer = float(row[3]), float(row[4])
    assert abs(by_hand - by_computer) <= 5
    assert abs(float(row[5]) - float(row[6])) <= 0.03
assert round(peak_500 - float(base.frequency), -1) == 240
assert round(height_500 - float(base.height), 1) == 3.7
assert 0.1 < louder < 0.2
moved = peaks.frequency - peaks.frequency.sel(build="as it is")
assert moved.sel(build=["3 m of cable", "10 m of cable"]).values.round(-1).tolist() == [610, -860]
assert peaks.height.sel(build="10 m of cable") > peaks.height.sel(build="3 m of cable")
twins = peaks.sel(build=["no-load tone pot", "both pots 500 kΩ"])
assert float(np.ptp(twins.frequency.values)) < 1
assert float(np.ptp(twins.height.values)) < 0.01
assert np.allclose([load(250e3, 1e6), load(500e3, 500e3, 1e6)], 200e3)
assert np.isnan(peaks.height.sel(build="pedal of 10 kΩ"))
assert round(float(low.sel(build="as it is") - low.sel(build="pedal of 10 kΩ"))) == 4
assert 3900 < float(gain.idxmax("frequency")) < 4300
assert round(float(gain.max()), 1) == 4.1
assert float(gain.interp(frequency=15e3)) < 0.1
assert round(least, 2) == round(most, 2) == 0.21
assert round(louder, 2) == 0.18
assert round(float(gain.interp(frequency=4000))) == 4
assert round(corner) == 29
assert round(above_80, 2) == 0.03
assert abs(shows - (250e3 + 6.2e3) / 4) < 1
assert round(pot / 1e3) == 250
assert 2 < high_height - low_height < 2.5
assert 250e3 * 1.2 == 300e3

# %% [markdown]
# **Turn the page.** The next lesson is [Tapers](03_tapers.ipynb). Compare your exercises with the
# [worked answers](answers/02_loading_by_pots_cable_amp.ipynb) first.
