# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Tapers
#
# **The question from the bench.** "I ordered an audio pot, and it says A. The old one out of this
# guitar says A too, and by my meter it is linear. The next says 15A; it does all its work near
# the bottom, or near the top, I cannot tell. And the customer wants it smooth." What does
# a taper mean, in ohms and in decibels, and what does it do in the guitar?
#
# **What you learn.** How to find a taper with a meter, how to read its level at each mark, and how
# load, end zones and a treble bleed change it.
#
# **How long it takes.** About thirty minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing. For the last part an ohmmeter and a loose pot.
#
# The guitar is invented: a single coil of 6.2 kΩ, a volume pot of 250 kΩ, 5 m of cable, an amp of
# 1 MΩ.

# %%
import matplotlib.pyplot as plt
import numpy as np

import guitarnet as gn
from exercises import tapers as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")


def guitar(law, **changed):
    return gn.layouts.one_pickup(pickup, volume=gn.Pot("250k", law), cable="5 m", **changed)


laws = {
    "linear": gn.linear_taper(),
    "audio 30 %": gn.audio_taper("30%"),
    "audio 15 %": gn.audio_taper("15%"),
    "audio 10 %": gn.audio_taper("10%"),
    "reverse audio 15 %": gn.reverse_audio_taper("15%"),
}

# %% [markdown]
# A pot is a track of resistance with a wiper on it. The **taper** says which part of the track
# lies below the wiper, that is on the side it touches at 0, when the knob stands at a mark. The
# percentage of an audio taper is that part at half travel: "15 %" has 37.5 of its 250 kΩ below
# the wiper at 5. Most audio tracks are printed in two pieces and bend once (common
# practice, no source).
#
# ## Predict
#
# Levels at 5 against those at 10. Write your numbers in place of `None` before you go on.

# %%
my_linear = None  # dB, minus for a loss: a linear pot at 5
my_audio = None  # dB, minus for a loss: an audio pot of 15 % at 5
my_bleed = None  # dB, minus for a loss: the same, with a treble bleed of 150 kΩ ∥ 1 nF

# %% [markdown]
# ## Compute
#
# ### From rotation to track, from track to level
#
# With nothing connected to the wiper a pot divides the voltage as its track is divided, and the
# level is 20 log₁₀ of that.

# %%
marks = np.array([10, 9, 7, 5, 3, 1])
as_cut = {name: law(marks / 10) for name, law in laws.items()}
gn.Table(
    ("track below the wiper [%]", *(f"at {mark}" for mark in marks)),
    [(name, *(f"{100 * part:.0f}" for part in parts)) for name, parts in as_cut.items()],
)

# %%
gn.Table(
    ("level [dB re 10], wiper unloaded", *(f"at {mark}" for mark in marks)),
    [(name, *(f"{20 * np.log10(p):.1f}" for p in parts)) for name, parts in as_cut.items()],
)

# %% [markdown]
# Decibels go by ratios. A linear pot gives away 6 dB over its upper half, and 14 dB from 5 to 1.
# The audio pot of 15 % gives away 16.5 dB over its upper half, and 14 dB from 5 to 1: between
# those two marks both are straight lines through zero, so both fall by a factor of five.
#
# ### The load on the wiper
#
# A wiper that feeds something sees that in parallel to the lower piece of the track. With a source
# of no resistance, track fraction t, pot V and load A, the share that is left is
# t / (1 + t(1 - t)V/A). For a linear pot at half travel:

# %%


def loaded(part, load):
    """Share of the voltage left at the wiper; the load in pots."""
    return part / (1 + part * (1 - part) / load)


shares = {times: loaded(0.5, times) for times in (np.inf, 4.0, 1.0, 0.5)}
gn.Table(
    ("load", "share at half travel", "level [dB]"),
    [
        ("none" if np.isinf(n) else f"{n:g} x pot", f"{s:.3f}", f"{20 * np.log10(s):.2f}")
        for n, s in shares.items()
    ],
    note="One pot gives 0.4, half a pot 0.333 (G. Johnson, TenTec list, November 2001).",
)

# %% [markdown]
# 1 MΩ on 250 kΩ is four times the pot and costs half a decibel. A resistor of the pot's own size
# or smaller from wiper to ground bends a linear pot towards an audio one. It is an old trick, and
# it loads the pickup at 10, where the resistor lies across it.
#
# ### In the guitar
#
# The whole circuit, at 100 Hz, against mark 10:

# %%
h = gn.response(
    {name: guitar(law) for name, law in laws.items()}, dim="taper", volume=np.arange(0, 10.5, 0.5)
)
levels = gn.effective_taper(h)
gn.Table(
    ("level [dB re 10], in the guitar", *(f"at {mark}" for mark in marks)),
    [(name, *(f"{x:.1f}" for x in levels.sel(taper=name, volume=marks).values)) for name in laws],
)

# %%
bled = gn.response(guitar("audio 15%", treble_bleed="1n || 150k"), volume=[10, 5])
with_bleed = float(gn.effective_taper(bled).sel(volume=5))
at_5 = {name: float(levels.sel(taper=name, volume=5)) for name in laws}
hint = "Half the track is left, and a little less for the load."
check(my_linear, at_5["linear"], unit="dB", within="0.5 dB", hint=hint)

# %%
hint = "Take 20 log₁₀ of the share of the track, and a little off for the load."
check(my_audio, at_5["audio 15 %"], unit="dB", within="0.5 dB", hint=hint)

# %%
hint = "The resistor of the bleed lies across the upper piece of the track."
check(my_bleed, with_bleed, unit="dB", within="0.5 dB", hint=hint)

# %% [markdown]
# ## Look
#
# ### As cut, and as level

# %%
axes = gn.plots.plot_taper(h, laws, title="One knob, five tapers")

# %% [markdown]
# On the left the part of the track, on the right the level at the amp. A straight line on
# the left is none on the right. The reverse taper keeps the level up until it has nearly run out
# of travel: in most guitars it is wrong as a volume, and it is right where a pot is wired the
# other way round.
#
# ### A real one
#
# Tapers are drawn with straight lines and made of paste. Below is a published measurement of an
# audio pot, the resistance from wiper to low lug every 5 degrees, from 225 degrees down to 45
# (MIT OpenCourseWare, Guitar Building, "Potentiometer Resistance Chart").

# %%
degrees = np.arange(225, 40, -5)
kilohms = """
97.5 97.5 97.5 97.6 97.4 97.2 93.5 84.5 74.5 67.8 62.0 60.6 55.9 48.3 40.8 35.8 30.1 21.5 17.7
16.4 15.7 14.7 13.9 13.4 12.6 11.9 11.0 10.5 10.1 9.8 9.0 8.4 7.8 6.9 6.5 5.8 5.2
"""
ohms = 1000 * np.fromstring(kilohms, sep=" ")
measured = gn.measured_taper(degrees, ohms, travel=(0, 225), name="measured")
bent = gn.audio_taper(0.205 / 0.7 / 2, knee=0.7, dead_zone=(0, 25 / 225))
half_bent = gn.audio_taper("14%")
turns = np.linspace(0, 1, 226)
fig, ax = plt.subplots(figsize=(7.6, 4.4))
ax.plot(degrees, 100 * measured(degrees / 225), "o", color="#444444", markersize=4)
ax.plot(225 * turns, 100 * bent(turns), color="#0072b2")
ax.plot(225 * turns, 100 * half_bent(turns), "--", color="#d55e00")
ax.text(147, 15, "measured", color="#444444", ha="left")
ax.text(174, 46, "two pieces that\nmeet at 140°", color="#0072b2", ha="left")
ax.text(142, 44, "two pieces that\nmeet halfway", color="#d55e00", ha="right")
ax.axvspan(200, 225, color="#eeeeee", zorder=0)
ax.text(223, 5, "end zone", ha="right", color="#555555")
ax.set(xlim=(0, 225), ylim=(0, 105), xlabel="rotation [degrees]")
ax.set_ylabel("track below the wiper [%]")
for side in ("top", "right"):
    ax.spines[side].set_visible(False)
title = ax.set_title("A measured audio pot bends late, and ends early", loc="left", weight="bold")

# %%
fits = {
    "knee at 140°": float(abs(bent(degrees / 225) - measured(degrees / 225)).max()),
    "knee halfway": float(abs(half_bent(degrees / 225) - measured(degrees / 225)).max()),
}
print(f"half travel: {100 * measured(0.5):.1f} %;", end=" ")
print("off by at most", ", ".join(f"{100 * off:.1f} % ({name})" for name, off in fits.items()))

# %% [markdown]
# Two things to learn from it. It has 14 % at half travel, and yet the two straight pieces of
# a 14 % taper that meet halfway miss it by a fifth of the track, because it bends at 140 degrees.
# Two pieces with the knee there follow it within 5 %. And from 200 degrees on nothing moves: the
# last ninth of the travel is an **end zone**, so a knob at 9 is nearly full up.

# %%
ending = gn.response(
    {
        "audio 15 %, no end zones": guitar(gn.audio_taper("15%")),
        "the same, end zones of 5 % and 11 %": guitar(
            gn.audio_taper("15%", dead_zone=(0.05, 0.11))
        ),
        "the measured pot": guitar(measured),
    },
    dim="pot",
    volume=np.arange(0, 10.5, 0.5),
)
at_9 = gn.effective_taper(ending).sel(volume=9)
gn.Table(
    ("pot", "level at 9 [dB re 10]"),
    [(str(name), f"{float(x):.2f}") for name, x in zip(at_9.pot.values, at_9, strict=True)],
)

# %% [markdown]
# ### What the guitar does to it
#
# An audio pot of 15 %, with and without treble bleeds and in 50s wiring, and one of 30 %.

# %%
builds = {
    "15 %": guitar("audio 15%"),
    "15 %, 1 nF": guitar("audio 15%", treble_bleed="1n"),
    "15 %, 1 nF ∥ 150 kΩ": guitar("audio 15%", treble_bleed="1n || 150k"),
    "15 %, 50s wiring": guitar("audio 15%", wiring="50s"),
    "30 %": guitar("audio 30%"),
}
h_builds = gn.response(builds, volume=np.arange(0, 10.5, 0.5))
axes = gn.plots.plot_taper(h_builds, title="A resistor across the pot makes another taper of it")

# %%
effective = gn.effective_taper(h_builds)
gn.Table(
    ("level [dB re 10]", *(f"at {mark}" for mark in marks)),
    [
        (name, *(f"{x:.1f}" for x in effective.sel(build=name, volume=marks).values))
        for name in builds
    ],
)

# %% [markdown]
# A capacitor changes next to nothing at 100 Hz. 150 kΩ beside it do: at 5 the pot of 15 % then
# acts like one of 30 %, both at -10.9 dB. Who wants the bleed and the old feel takes a pot with
# a smaller percentage, or a bleed without the resistor.
#
# ### Turn the knob
#
# The tapers, live. (Without a running or trusted notebook you see a still picture.) The curves
# differ in level and in treble: what stands between pickup and cable is the upper piece of the
# track, and it depends on the taper.

# %%
live = gn.response({name: guitar(law) for name, law in laws.items()}, dim="taper", volume=range(11))
gn.live_page(live, title="Five tapers, 250 kΩ, no bleed (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "A means linear"

# %%
mine = None  # "yes" or "no": on every pot?
check(mine, exercise.a_always_means_linear)

# %%
gn.Table(
    ("letter", "old", "today"),
    [
        ("A", gn.taper("A", convention="old"), gn.taper("A", convention="today")),
        ("B", "—", gn.taper("B", convention="today")),
        ("C", gn.taper("C", convention="old"), gn.taper("C", convention="today")),
    ],
    note="Common practice, no source; audio taken as 15 %, which no letter says.",
)

# %% [markdown]
# On old parts it may, on most parts of today it does not. Write the taper in words, and trust the
# meter, not the letter. Here a letter without its convention is refused, and a percentage goes with
# the word audio: "15A" is an audio pot of 15 %.
#
# ### "A linear pot does its work at the top, an audio pot at the bottom"

# %%
mine = None  # "yes" or "no": does a linear pot take more decibels from 10 to 5 than from 5 to 1?
check(mine, exercise.linear_acts_at_the_top)

# %%
for name in ("linear", "audio 15 %"):
    top, bottom = (float(levels.sel(taper=name, volume=mark)) for mark in (5, 1))
    print(f"{name}: {top:.1f} dB from 10 to 5, {bottom - top:.1f} dB from 5 to 1")

# %% [markdown]
# In decibels it is the other way round. The linear pot gives 6.5 dB over its upper half, and the
# rest near the bottom; the audio pot spreads them more evenly, 16.7 dB above and 13.8 dB below.
#
# ### "An audio pot sounds different from a linear one, even full up"

# %%
mine = None  # "yes" or "no": at 10, does it change any frequency by over 0.1 dB?
check(mine, exercise.brighter_at_10)

# %%
full = gn.level_db(h.sel(volume=10), re={"taper": "linear"})
at_7 = gn.treble_change(h, frequencies=["4 kHz"]).change.sel(volume=7, frequency=4000)
print(f"at 10, largest difference of any two: {float(abs(full).max()):.6f} dB")
print(f"at 7 and 4 kHz re 10: linear {float(at_7.sel(taper='linear')):.1f} dB, ", end="")
print(f"audio 15 % {float(at_7.sel(taper='audio 15 %')):.1f} dB")

# %% [markdown]
# At 10 the wiper lies on the end of the track, whatever the taper: no difference at all. Turned
# down there is one, because other pieces of track stand before the cable.

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it, and take the
# battery out of active electronics. Never open an amplifier: its voltages are lethal even when it
# is off. If you desolder, the iron is hot and stays in its stand. Ventilate the fumes. Wash your
# hands after using leaded solder. Wear goggles when clipping leads; do not heat a pot for long:
# its track suffers. The mains earth must be intact. Local electrical codes and a licensed
# technician come before this lesson.
#
# A **loose pot**: the ohmmeter between wiper and the lug it touches at 0, knob on, one reading at
# every mark. Name the lugs by what the wiper touches; their numbers depend on the side one looks
# from. Put in your readings:

# %%
readings = ["0 ohm", "4.1k", "7.9k", "12.2k", "18k", "31k", "55k", "98k", "151k", "222k", "246k"]
own = gn.measured_taper(range(11), readings, name="own")
whole = gn.values.read_value(readings[-1], "ohm")
print(f"half travel: {100 * own(0.5):.1f} % of {whole / 1e3:.0f} kΩ")

# %% [markdown]
# **In the guitar**, nothing opened: cable in, meter on tip and sleeve, one reading at each mark.
# The pickup is in the reading, so compare with these, not with the track:

# %%
at_jack = {name: gn.jack_resistance(guitar(law), volume=marks) for name, law in laws.items()}
gn.Table(
    ("at the jack [kΩ]", *(f"at {mark}" for mark in marks)),
    [(name, *(f"{ohm / 1e3:.1f}" for ohm in ohms.values)) for name, ohms in at_jack.items()],
    note="For exactly 250 kΩ (±20 % is usual); a bleed with a resistor changes the readings.",
)

# %% [markdown]
# At 5 a linear pot shows about twice what the audio pot of 15 % shows. A pot's ±20 % do not make
# that: the lowest linear pot still reads more than the highest audio pot.
#
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/03_tapers.ipynb).
#
# **1.** 6.2 kΩ of pickup, a volume pot of 250 kΩ, and 32 kΩ at the jack with the volume at 5. Which
# taper is it?

# %%
mine = None  # "linear", "audio 15%" or "audio 30%"
check(mine, exercise.taper_by_the_meter)

# %% [markdown]
# **2.** An audio pot of 15 %, two straight pieces that meet halfway, nothing on the wiper. At which
# mark is half the voltage left?

# %%
mine = None  # the mark
check(mine, exercise.mark_for_half)

# %% [markdown]
# **3.** A linear pot of 250 kΩ feeds an input of 250 kΩ. Which share of the voltage is left at half
# travel?

# %%
mine = None  # %
check(mine, exercise.loaded_at_half)

# %% [markdown]
# **4.** The audio pot of 15 % in the guitar, with a bleed of 150 kΩ and 1 nF in parallel. You have
# seen the result; find it by hand, at 100 Hz, re mark 10. Pickup 6.2 kΩ, amp 1 MΩ.

# %%
mine = None  # dB
check(mine, exercise.level_with_a_bleed)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert round(0.15 * 250, 1) == 37.5
linear, audio = (20 * np.log10(as_cut[name]) for name in ("linear", "audio 15 %"))
assert round(linear[3]) == -6
assert round(audio[3], 1) == -16.5
assert round(linear[5] - linear[3]) == round(audio[5] - audio[3]) == -14
assert round(shares[1.0], 3) == 0.4
assert round(shares[0.5], 3) == 0.333
assert round(20 * np.log10(shares[4.0] / 0.5), 1) == -0.5
assert round(100 * measured(0.5)) == 14
assert round(200 * 0.7) == 140
assert 0.04 < fits["knee at 140°"] < 0.05
assert round(fits["knee halfway"], 1) == 0.2
assert np.isclose(1 - 200 / 225, 1 / 9)
assert (abs(measured(degrees[degrees >= 200] / 225) - 1) < 0.005).all()
assert -0.5 < float(at_9.sel(pot="the measured pot")) < 0
alone = effective.sel(build="15 %, 1 nF") - effective.sel(build="15 %")
assert float(abs(alone.sel(volume=slice(1, 10))).max()) < 0.15
assert round(with_bleed, 1) == round(at_5["audio 30 %"], 1) == -10.9
assert abs(float(effective.sel(build="15 %, 1 nF ∥ 150 kΩ", volume=5)) - with_bleed) < 1e-9
assert round(at_5["linear"], 1) == -6.5
assert round(at_5["audio 15 %"], 1) == -16.7
assert round(float(levels.sel(taper="audio 15 %", volume=1)) - at_5["audio 15 %"], 1) == -13.8
assert float(abs(full).max()) < 1e-9
assert abs(float(at_7.sel(taper="linear") - at_7.sel(taper="audio 15 %"))) > 0.5
lowest, highest = (
    float(gn.jack_resistance(guitar(laws[name]).replace("volume.resistance", ohms), volume=5))
    for name, ohms in (("linear", "200k"), ("audio 15 %", "300k"))
)
assert lowest > highest
assert 1.9 < at_jack["linear"].values[3] / at_jack["audio 15 %"].values[3] < 2.1

# %% [markdown]
# **Turn the page.** The next lesson is [What a treble bleed does at 10 and at
# 5](04_treble_bleed_at_10_and_5.ipynb). Compare your exercises with the [worked
# answers](answers/03_tapers.ipynb) first.
