# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # What a treble bleed does at 10 and at 5
#
# **The question from the bench.** A customer wants a capacitor soldered across the volume pot,
# "so that it stays clear when I turn down". Another maker warns that it sounds unnatural, and
# that it colours the tone even at 10. What does it do, in numbers, with this pickup, this pot
# and this cable?
#
# You need nothing on the bench for this lesson; the last part says how to check it on a guitar.
# It takes about twenty minutes. The guitar is invented: a single coil of 6.2 kΩ with 250 kΩ
# pots (audio taper, 15 % of the track at half travel), 22 nF on the tone pot, and 5 m of cable
# at 100 pF a metre.

# %%
import numpy as np

import guitarnet as gn

pickup = gn.Pickup("6.2k", "2.4 H", "120p")


def guitar(treble_bleed=None, wiring="modern", **volume):
    return gn.layouts.one_pickup(
        pickup,
        volume=gn.Pot("250k", "audio 15%", **volume),
        tone="250k",
        tone_capacitor="22n",
        treble_bleed=treble_bleed,
        wiring=wiring,
        cable="5 m",
    )


guitar("1n")

# %% [markdown]
# The bleed lies between the input and the output of the volume pot. What is soldered to what
# can be read off the same harness:

# %%
guitar("1n").joints()

# %% [markdown]
# ## Predict
#
# Write down your numbers before you go on. There is no shame in a wrong one: the distance
# between what you expected and what comes out is the lesson.

# %%
my_change_at_10 = 3.0  # dB: how much more treble do you expect at 10 with 1 nF, at any frequency?
my_loss_at_5 = -10.0  # dB: how much treble goes at volume 5 without a bleed, at 4 kHz?
my_rise_at_5 = 3.0  # dB: and with 1 nF: how far above the shape of volume 10, at 3 kHz?

# %% [markdown]
# ## At 10
#
# Decibels first of all against the guitar without the bleed, level and all. The knob is full
# up, the wiper rests on the lug, and both ends of the capacitor sit on the same piece of metal.

# %%
builds = {"no bleed": guitar(), "1 nF": guitar("1n")}
at_10 = gn.compare(builds, volume=10)
difference = gn.level_db(at_10, re={"build": "no bleed"}).sel(build="1 nF")
largest_at_10 = float(abs(difference).max())
print(f"largest difference at 10, 20 Hz to 20 kHz: {largest_at_10:.12f} dB")
print(f"you expected {my_change_at_10} dB")

# %% [markdown]
# Nothing, to the last digit: a capacitor with both lugs on one node carries no current.
#
# A real pot may keep a little resistance between wiper and lug. Data sheets allow about 2 ohm;
# a worn or cheap one may have more, say 1 % of the track. And few players set the knob at
# exactly 10.

# %%
real = gn.compare(builds, **{"volume.end_resistance": [0, "2 ohm", "1%"]}, volume=[10, 9])
against = gn.level_db(real, re={"build": "no bleed"}).sel(build="1 nF")
worst = abs(against).max("frequency").to_pandas().round(4)
worst

# %% [markdown]
# So the warning that it colours the tone even at 10 has this much in it: nothing with a good
# pot, under a tenth of a decibel with 1 % of end resistance, and almost three decibels at 9.
# Whether one hears that is not ours to say.

# %% [markdown]
# ## At 5, without a bleed
#
# Turning down brings up to 212 kΩ between the pickup and the cable. Now the cable's 500 pF
# hang behind a large resistance. (It is often said that "treble leaves first because current
# seeks ground": it is a divider, and one of its loads is a capacitor.)

# %%
plain = gn.response(guitar(), volume=[10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0])
ax = gn.plot_response(plain, title="Without a bleed the peak goes first, then the level")
# %% [markdown]
# To compare shapes, match the levels at 100 Hz and subtract the curve of volume 10.

# %%
change = gn.treble_change(plain, frequencies=["2 kHz", "3 kHz", "4 kHz", "5 kHz"])
loss_at_5 = float(change.change.sel(volume=5, frequency=4000))
print(f"at volume 5 and 4 kHz: {loss_at_5:+.2f} dB re volume 10; you expected {my_loss_at_5} dB")
change.change.to_pandas().round(2)

# %% [markdown]
# The loss at 4 kHz is largest near mark 7, not further down: there the resistance
# between pickup and cable, both ways round, is near its largest.

# %% [markdown]
# ## At 5, with one
#
# Five builds: no bleed, 1 nF alone, 1 nF with 150 kΩ beside it, 1.2 nF with 130 kΩ in series,
# and 50s wiring without a bleed (the tone network on the output of the volume pot).

# %%
builds = {
    "no bleed": guitar(),
    "1 nF": guitar("1n"),
    "1 nF ∥ 150 kΩ": guitar("1n || 150k"),
    "1.2 nF + 130 kΩ": guitar("1.2n + 130k"),
    "50s wiring": guitar(wiring="50s"),
}
h = gn.compare(builds, volume=np.arange(0, 10.5, 0.5))
ax = gn.plot_builds(h, title="At 10 all are alike; at 5 each has a shape of its own")
# %%
ax = gn.plot_difference(h, re={"volume": 10}, title="What turning down does to the shape")
# %%
change = gn.treble_change(h, frequencies=["1 kHz", "3 kHz", "5 kHz"])
rise_at_5 = float(change.change.sel(build="1 nF", volume=5, frequency=3000))
print(f"1 nF at volume 5 and 3 kHz: {rise_at_5:+.2f} dB; you expected {my_rise_at_5:+} dB")
change.worst.sel(volume=[10, 9, 7, 5, 3]).to_pandas().round(2)

# %% [markdown]
# The table is the deviation of largest size between 200 Hz and 5 kHz. Without a bleed
# the peak is lost. With 1 nF alone there is more treble than at 10, and the lower the knob the
# more. A resistor beside or behind the capacitor keeps that in check, at a price:

# %%
tapers = gn.effective_taper(h).sel(volume=[10, 7, 5, 3])
ax = gn.plot_taper(h, {"audio 15%": gn.audio_taper(0.15)}, title="What becomes of the taper")
tapers.to_pandas().round(1)

# %% [markdown]
# A resistor in parallel changes the taper (at 5 the guitar is louder than without); a
# capacitor alone or with a resistor in series leaves it alone; 50s wiring loads the output a
# little.

# %% [markdown]
# ## Is it so?
#
# *"A treble bleed sounds unnatural."* What the numbers say: with 1 nF alone, the shape at 5
# lies up to 8.9 dB above that of volume 10 and without a bleed up to 4.4 dB below it, both between
# 200 Hz and 5 kHz. Which of the two is the natural one is for the player.
#
# *"It colours the tone even at 10."* See above.
#
# *"A good cable makes it needless."* That is the lesson "Cable length".

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open
# an amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its
# stand; ventilate fumes; lead solder wants washed hands; wear goggles when clipping leads. The
# mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# A parallel bleed shows on an ohmmeter at the jack, a capacitor alone or in series does not:

# %%
marks = [10, 7, 5, 3, 0]
readings = {label: gn.jack_resistance(build, volume=marks) for label, build in builds.items()}
gn.Table(
    ["at the jack [kΩ]", *(f"volume {mark}" for mark in marks)],
    [(label, *(f"{ohm / 1000:.1f}" for ohm in ohms.values)) for label, ohms in readings.items()],
)

# %% [markdown]
# Read your own, and lay a measured response over the picture with `gn.plot_measured`.

# %% [markdown]
# ## Turn the knob
#
# The same curves, live: move the knob, choose builds. (Without a running or trusted notebook
# you see a still picture.)

# %%
gn.knob_view(h, title="Treble bleeds, single coil, 5 m of cable (invented guitar)")

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert largest_at_10 == 0
assert 0 < worst.loc["1%", 10.0] < 0.1
assert 2.7 < worst.loc["0 Ω", 9.0] < 3
assert float(abs(gn.response(guitar(), volume=0)).max()) == 0
series = 250e3 * (1 - gn.audio_taper(0.15)(0.5))
assert 212e3 < series < 213e3
at_4k = gn.treble_change(plain, frequencies=["4 kHz"]).change.sel(frequency=4000)
assert int(at_4k.idxmin("volume")) == 7
assert round(float(change.worst.sel(build="1 nF", volume=5)), 1) in (8.9, 9.0)
assert round(float(change.worst.sel(build="no bleed", volume=5)), 1) == -4.4
assert change.worst.sel(build="1 nF", volume=3) > change.worst.sel(build="1 nF", volume=5)
assert tapers.sel(build="1 nF ∥ 150 kΩ", volume=5) > tapers.sel(build="no bleed", volume=5) + 3
for label in ("1 nF", "1.2 nF + 130 kΩ"):
    assert abs(tapers.sel(build=label) - tapers.sel(build="no bleed")).max() < 0.3
assert abs(readings["1 nF"] - readings["no bleed"]).max() == 0
assert abs(readings["1 nF ∥ 150 kΩ"] - readings["no bleed"]).max() > 1
