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
# **What you learn.** Why the treble goes when one turns down, what a bleed does at 10, at 9 and at
# 5, what a resistor beside or behind the capacitor changes, and what each costs in taper.
#
# **How long it takes.** About twenty-five minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing. For the last part a guitar, a cable and an ohmmeter.
#
# The guitar is invented: a single coil of 6.2 kΩ with 250 kΩ pots (audio taper, 15 % of the track
# at half travel), 22 nF on the tone pot, and 5 m of cable at 100 pF a metre.

# %%
import numpy as np

import guitarnet as gn
from exercises import treble_bleed_at_10_and_5 as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")


def guitar(treble_bleed=None, wiring="modern", cable="5 m", **volume):
    return gn.layouts.one_pickup(
        pickup,
        volume=gn.Pot("250k", "audio 15%", **volume),
        tone="250k",
        tone_capacitor="22n",
        treble_bleed=treble_bleed,
        wiring=wiring,
        cable=cable,
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
# Write your numbers in place of `None` before you go on. A wrong one costs nothing: the distance
# between what you expected and what comes out is the lesson.

# %%
my_change_at_10 = None  # dB: what does 1 nF change at 10, at most, at any frequency?
my_loss_at_5 = None  # dB, minus for a loss: at 4 kHz, what does turning to 5 do without a bleed?
my_rise_at_5 = None  # dB: and with 1 nF, at 3 kHz: how far above the shape of volume 10?

# %% [markdown]
# ## Compute
#
# ### At 10
#
# Decibels first of all against the guitar without the bleed, level and all. The knob is full
# up, the wiper rests on the lug, and both ends of the capacitor sit on the same piece of metal.

# %%
two = {"no bleed": guitar(), "1 nF": guitar("1n")}
at_10 = gn.response(two, volume=10)
difference = gn.level_db(at_10, re={"build": "no bleed"}).sel(build="1 nF")
largest_at_10 = float(abs(difference).max())
print(f"largest difference at 10, 20 Hz to 20 kHz: {largest_at_10:.12f} dB")

# %%
check(
    my_change_at_10,
    largest_at_10,
    unit="dB",
    within="0.1 dB",
    hint="What lies between the two lugs of the capacitor when the knob is full up?",
)

# %% [markdown]
# Nothing: a capacitor with both lugs on one node carries no current.
#
# A real pot may keep a little resistance between wiper and lug. Data sheets allow about 2 ohm; for
# a worn one suppose 1 % of the track. And few players set the knob at
# exactly 10. The table holds the largest difference that 1 nF makes, in decibels.

# %%
real = gn.response(two, {"volume.end_resistance": [0, "2 ohm", "1%"], "volume": [10, 9]})
against = gn.level_db(real, re={"build": "no bleed"}).sel(build="1 nF")
worst = abs(against).max("frequency").to_pandas().round(4)
worst

# %% [markdown]
# ### At 5, without a bleed
#
# Turned to 5, the pot puts 212 kΩ of its track between the pickup and the cable. Now the cable's
# 500 pF hang behind a large resistance. To compare shapes, match the levels at 100 Hz and subtract
# the curve of volume 10. What is left is what turning down does to the treble, in decibels. (At 0
# the guitar is silent, and there is no number: NaN.)

# %%
plain = gn.response(guitar(), volume=[10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0])
change = gn.treble_change(plain, frequencies=["2 kHz", "3 kHz", "4 kHz", "5 kHz"])
at_4k = change.change.sel(frequency=4000)
change.change.to_pandas().round(2)

# %%
loss_at_5 = float(at_4k.sel(volume=5))
check(
    my_loss_at_5,
    loss_at_5,
    unit="dB",
    within="1 dB",
    hint="Think how high the peak was at 10: what is there to lose?",
)

# %% [markdown]
# The loss at 4 kHz is largest near mark 7, not further down: there the resistance
# between pickup and cable, both ways round, is near its largest.
#
# ### At 5, with one
#
# Five builds: no bleed, 1 nF alone, 1 nF with 150 kΩ beside it, 1.2 nF with 130 kΩ in series,
# and 50s wiring without a bleed (the tone network on the output of the volume pot). The table is
# the deviation of largest size between 200 Hz and 5 kHz, in decibels.

# %%
builds = {
    "no bleed": guitar(),
    "1 nF": guitar("1n"),
    "1 nF ∥ 150 kΩ": guitar("1n || 150k"),
    "1.2 nF + 130 kΩ": guitar("1.2n + 130k"),
    "50s wiring": guitar(wiring="50s"),
}
h = gn.response(builds, volume=np.arange(0, 10.5, 0.5))
bled = gn.treble_change(h, frequencies=["1 kHz", "3 kHz", "5 kHz"])
bled.worst.sel(volume=[10, 9, 7, 5, 3]).to_pandas().round(2)

# %%
rise_at_5 = float(bled.change.sel(build="1 nF", volume=5, frequency=3000))
check(
    my_rise_at_5,
    rise_at_5,
    unit="dB",
    within="1 dB",
    hint="At 3 kHz 1 nF is 53 kΩ beside the 212 kΩ of the track.",
)

# %% [markdown]
# Without a bleed treble is lost at every mark. With 1 nF alone a little is lost at 9; from 7 down
# there is more than at 10, and the lower the knob the more. A resistor beside or behind the
# capacitor keeps that in check, at a price:
#
# ### The taper
#
# The level at 100 Hz re volume 10, in decibels.

# %%
tapers = gn.effective_taper(h).sel(volume=[10, 7, 5, 3])
tapers.to_pandas().round(1)

# %% [markdown]
# A resistor in parallel changes the taper: at 5 the guitar is 6 dB louder than without. A
# capacitor alone or with a resistor in series leaves it alone; 50s wiring loads the output
# a little, by less than 2 dB.
#
# ## Look
#
# ### Without a bleed

# %%
ax = gn.plot_response(plain, title="Without a bleed the peak goes first, then the level")

# %% [markdown]
# ### With one
#
# First each build at each mark, re its own level at 100 Hz. Then the same curves less that of
# volume 10: above zero there is more treble than at 10, below zero less.

# %%
ax = gn.plots.plot_builds(h, title="At 10 all are alike; at 5 each has a shape of its own")

# %%
ax = gn.plots.plot_difference(
    h, re={"volume": 10}, title="Turned down: no bleed loses the peak, 1 nF alone overshoots it"
)

# %% [markdown]
# Above the peak, from about 6 kHz, even the guitar without a bleed has more than at 10, relative
# to 100 Hz: at 10 the pickup falls off steeply there, and at 5 the pot holds its fall back.
#
# ### The taper

# %%
ax = gn.plots.plot_taper(
    h, {"audio 15%": gn.audio_taper(0.15)}, title="The parallel resistor makes it louder"
)

# %% [markdown]
# ### Turn the knob
#
# The same curves, live: move the knob, choose builds. (Without a running or trusted notebook
# you see a still picture.)

# %%
gn.live_page(
    h.sel(volume=range(11)), title="Treble bleeds, single coil, 5 m of cable (invented guitar)"
)

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "A treble bleed colours the tone even at 10"

# %%
mine = None  # "yes" or "no": at 10, a good pot: does 1 nF change any frequency by over 0.1 dB?
check(mine, exercise.colours_at_10)

# %%
print(
    f"at 10: {worst.loc['0 Ω', 10.0]} dB with no end resistance, {worst.loc['1%', 10.0]} with 1 %"
)
print(f"at 9: {worst.loc['0 Ω', 9.0]:.1f} dB")

# %% [markdown]
# So the warning has this much in it: nothing with a good pot, under a tenth of a decibel with 1 %
# of end resistance, and almost three decibels at 9. Whether one hears that, no computation says.
#
# ### "Treble leaves first because current seeks ground"
#
# If the way to ground took the treble, it would take it with any cable, and with none.

# %%
mine = None  # "yes" or "no": volume 5, no cable: is the treble still lost, by more than 1 dB?
check(mine, exercise.current_seeks_ground)

# %%
cables = gn.response(
    {f"{metres} m": guitar(cable=f"{metres} m") for metres in (0, 1, 5)},
    dim="cable",
    volume=[10, 5],
)
without_cable = gn.treble_change(cables).worst.sel(volume=5)
for label, decibels in without_cable.to_series().items():
    print(f"{label} of cable: {decibels:+.1f} dB at the worst frequency up to 5 kHz")

# %% [markdown]
# The track to ground is the same in all three. Without a cable nothing is lost (0.4 dB are gained);
# with 5 m it is 4.4 dB. Current takes every way there is, and most where the impedance is least.
# The pot is a divider, and one of its loads is a capacitor: the higher the frequency, the more of
# the current that one takes. What the saying has right is that the treble goes to ground; it goes
# by way of the cable.
#
# ### "A bleed keeps the tone just as it is at 10"

# %%
mine = None  # "yes" or "no": with 1 nF alone, does the shape at 5 stay within 3 dB of that at 10?
check(mine, exercise.bleed_keeps_the_tone)

# %%
at_5 = bled.worst.sel(volume=5).to_series().round(1)
at_5.rename("volume 5 re 10, worst [dB]").to_frame()

# %% [markdown]
# Not with 1 nF alone and this guitar: the shape at 5 lies up to 9.0 dB above that of volume 10,
# where without a bleed it lies up to 4.4 dB below. Of the five only 1 nF with 150 kΩ beside it
# stays within 3 dB, and that one changes the taper. Other values come nearer still (the lesson on
# choosing a bleed). Which of the shapes is the natural one is for the player.
#
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open an
# amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its stand.
# Ventilate the fumes. Wash your hands after using leaded solder. Wear goggles when clipping leads.
# The mains earth must be intact. Local electrical codes and a licensed technician come before this
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
# Read your own, and lay a measured response over the picture with `gn.plots.plot_measured`.
#
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/04_treble_bleed_at_10_and_5.ipynb).
#
# **1.** A customer has 1 nF with 100 kΩ in parallel. How much louder is this guitar at 5 than
# without a bleed, at 100 Hz, each re its own volume 10?

# %%
mine = None  # dB
check(mine, exercise.level_with_100k)

# %% [markdown]
# **2.** Another has a linear volume pot and no bleed. At which whole mark is most lost at
# 4 kHz?

# %%
mine = None
check(mine, exercise.worst_mark_of_a_linear_pot)

# %% [markdown]
# **3.** "Humbuckers are less affected." Take a pickup of 8.4 kΩ, 4.6 H and 110 pF with 500 kΩ pots
# (audio taper), the same cable, and 1 nF alone: how far is the shape at 5 above that of volume 10,
# at 2 kHz?

# %%
mine = None  # dB
check(mine, exercise.humbucker_with_1_nf)

# %% [markdown]
# **4.** Which capacitor alone leaves 3 kHz at volume 5 just as it is at 10, levels matched at
# 100 Hz, in this lesson's guitar?

# %%
mine = None  # pF
check(mine, exercise.even_capacitor)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
# At 10.
assert largest_at_10 < 1e-9
assert 0 < worst.loc["1%", 10.0] < 0.1
assert 2.7 < worst.loc["0 Ω", 9.0] < 3
# At 5.
assert float(abs(gn.response(guitar(), volume=0)).max()) == 0
series = 250e3 * (1 - gn.audio_taper(0.15)(0.5))
assert 212e3 < series < 213e3
assert round(1 / (2 * np.pi * 3000 * 1e-9) / 1000) == 53
cable = guitar().parts["cable"]
assert round(cable.length * cable.capacitance_per_metre * 1e12) == 500
assert int(at_4k.idxmin("volume")) == 7
assert (bled.worst.sel(build="no bleed", volume=[9, 7, 5, 3]) < 0).all()
of_1_nf = bled.worst.sel(build="1 nF", volume=[9, 7, 5, 3]).values
assert of_1_nf[0] < 0 < of_1_nf[1] < of_1_nf[2] < of_1_nf[3]
# The taper.
louder = tapers - tapers.sel(build="no bleed")
assert round(float(louder.sel(build="1 nF ∥ 150 kΩ", volume=5))) == 6
for label in ("1 nF", "1.2 nF + 130 kΩ"):
    assert abs(louder.sel(build=label)).max() < 0.3
assert -2 < float(louder.sel(build="50s wiring").min()) < -1
# Look.
own = gn.level_db(plain, re="reference")
shape = own.sel(volume=5) - own.sel(volume=10)
assert float(shape.sel(frequency=slice(6000, 15000)).min()) > 0
assert float(shape.sel(frequency=slice(1000, 5000)).max()) < 0
# Is it so?
assert round(float(without_cable.sel(cable="0 m")), 1) == 0.4
assert round(float(without_cable.sel(cable="5 m")), 1) == -4.4
assert at_5[["no bleed", "1 nF"]].tolist() == [-4.4, 9.0]
assert at_5.index[at_5.abs() < 3].tolist() == ["1 nF ∥ 150 kΩ"]
nearer = gn.treble_change(gn.response(guitar("680p || 120k"), volume=[10, 5])).worst.sel(volume=5)
assert abs(float(nearer)) < at_5["1 nF ∥ 150 kΩ"]
# On the bench.
assert abs(readings["1 nF"] - readings["no bleed"]).max() < 1e-6
assert abs(readings["1.2 nF + 130 kΩ"] - readings["no bleed"]).max() < 1e-6
assert abs(readings["1 nF ∥ 150 kΩ"] - readings["no bleed"]).max() > 1

# %% [markdown]
# **Turn the page.** The next lesson is [Cable length](05_cable_length.ipynb). Compare your
# exercises with the [worked answers](answers/04_treble_bleed_at_10_and_5.ipynb) first.
