# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: What a treble bleed does at 10 and at 5
#
# To the lesson [What a treble bleed does at 10 and at 5](../04_treble_bleed_at_10_and_5.ipynb). Try
# first; a worked answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import treble_bleed_at_10_and_5 as exercise
from exercises.checking import check

guitar = gn.layouts.one_pickup(
    gn.Pickup("6.2k", "2.4 H", "120p"),
    volume=gn.Pot("250k", "audio 15%"),
    tone="250k",
    tone_capacitor="22n",
    cable="5 m",
)


def with_bleed(text):
    return guitar.replace("treble_bleed", gn.bleed(text))


# %% [markdown]
# ## Is it so?
#
# ### "A treble bleed colours the tone even at 10"
#
# The largest difference over all frequencies, level and all.

# %%
levels = gn.level_db(gn.response({"none": guitar, "1 nF": with_bleed("1n")}, volume=10))
largest = float(abs(levels[1] - levels[0]).max())
print(f"{largest:.6f} dB")
found = "yes" if largest > 0.1 else "no"
assert check(found, exercise.colours_at_10)
check(found, exercise.colours_at_10)

# %% [markdown]
# ### "Treble leaves first because current seeks ground"
#
# Take the cable away and leave everything else.

# %%
h = gn.response(guitar.replace("cable.length", "0 m"), volume=[10, 5])
worst = float(gn.treble_change(h).worst.sel(volume=5))
print(f"without a cable: {worst:+.1f} dB")
found = "yes" if abs(worst) > 1 else "no"
assert check(found, exercise.current_seeks_ground)
check(found, exercise.current_seeks_ground)

# %% [markdown]
# The pot's way to ground is a resistance. It takes bass and treble alike.
#
# ### "A bleed keeps the tone just as it is at 10"

# %%
h = gn.response(with_bleed("1n"), volume=[10, 5])
worst = float(gn.treble_change(h).worst.sel(volume=5))
print(f"1 nF alone: {worst:+.1f} dB")
found = "yes" if abs(worst) < 3 else "no"
assert check(found, exercise.bleed_keeps_the_tone)
check(found, exercise.bleed_keeps_the_tone)

# %% [markdown]
# ## Exercises
#
# ### 1. How much louder with 100 kΩ
#
# The effective taper is the level at 100 Hz re volume 10. The difference of both guitars is the
# answer.

# %%
builds = {"none": guitar, "1 nF ∥ 100 kΩ": with_bleed("1n || 100k")}
taper = gn.effective_taper(gn.response(builds, volume=[10, 5])).sel(volume=5)
taper.to_series().round(2)

# %%
found = float(taper[1] - taper[0])
assert check(found, exercise.level_with_100k)
check(found, exercise.level_with_100k)

# %% [markdown]
# By hand: at 5 the track has 212.5 kΩ above the wiper and 37.5 kΩ below. With 100 kΩ beside the
# upper part it is as if that part were only 68 kΩ.

# %%
above = 1 / (1 / 212.5e3 + 1 / 100e3)
by_hand = 20 * np.log10((37.5e3 / (37.5e3 + above)) / 0.15)
print(f"{above / 1000:.0f} kΩ; {by_hand:.1f} dB louder, the pickup and the amp left out")

# %% [markdown]
# ### 2. Where a linear pot loses most
#
# The change at 4 kHz at every whole mark, and the lowest of them.

# %%
linear = guitar.replace("volume", gn.Pot("250k", gn.linear_taper()))
h = gn.response(linear, volume=np.arange(0, 11))
change = gn.treble_change(h, frequencies=["4 kHz"]).change.sel(frequency=4000)
change.to_series().round(2)

# %%
found = int(change.idxmin("volume"))
assert check(found, exercise.worst_mark_of_a_linear_pot)
check(found, exercise.worst_mark_of_a_linear_pot)

# %% [markdown]
# Seen from the cable, both parts of the track lie side by side. Two parts of one whole are largest
# that way when they are equal: 125 kΩ ∥ 125 kΩ = 62.5 kΩ, half way. An audio pot has half of its
# track below the wiper near mark 7, and that is where it loses most.
#
# ### 3. A humbucker with 1 nF

# %%
humbucker = gn.layouts.one_pickup(
    gn.Pickup("8.4k", "4.6 H", "110p"),
    volume="500k",
    tone="500k",
    treble_bleed="1n",
    cable="5 m",
)
h = gn.response(humbucker, volume=[10, 5])
found = float(gn.treble_change(h, frequencies=["2 kHz"]).change.sel(volume=5)[0])
assert check(found, exercise.humbucker_with_1_nf)
check(found, exercise.humbucker_with_1_nf)

# %% [markdown]
# Is it less affected? Without a bleed it loses more than the single coil: its peak is higher with
# 500 kΩ pots, and the larger track stands in the way of the same cable.

# %%
for label, one in {"humbucker": humbucker.replace("treble_bleed", None), "single": guitar}.items():
    loss = float(gn.treble_change(gn.response(one, volume=[10, 5])).worst.sel(volume=5))
    print(f"{label}, no bleed: {loss:+.1f} dB at the worst frequency from 200 Hz to 5 kHz")

# %% [markdown]
# ### 4. The capacitor that keeps 3 kHz
#
# From 100 pF the treble is still lost, with 1 nF it is far above. Compute some values, look where
# the change passes zero.

# %%
picofarads = np.arange(100, 401, 25)
changes = []
for c in picofarads:
    h = gn.response(with_bleed(f"{c}p"), volume=[10, 5])
    changes.append(float(gn.treble_change(h, frequencies=["3 kHz"]).change.sel(volume=5)[0]))
for c, decibels in zip(picofarads, changes, strict=True):
    print(f"{c} pF: {decibels:+.2f} dB")

# %%
found = float(np.interp(0, changes, picofarads))
sold = gn.values.nearest_preferred(found * 1e-12)
print(f"{found:.0f} pF; the nearest one can buy: {sold * 1e12:.0f} pF")
assert check(found, exercise.even_capacitor)
check(found, exercise.even_capacitor)

# %% [markdown]
# One frequency misleads. With that capacitor 3 kHz is where it was, and the worst deviation
# between 200 Hz and 5 kHz is still 4.9 dB:

# %%
h = gn.response(with_bleed(f"{found:.0f}p"), volume=[10, 5])
left = gn.treble_change(h).sel(volume=5)
print(f"{float(left.worst):+.1f} dB at {float(left.worst_frequency):.0f} Hz")

# %% [markdown]
# ## Check
#
# What the text says, asserted.

# %%
assert round(above, -3) == 68e3
assert abs(by_hand - float(taper[1] - taper[0])) < 0.5
assert float(gn.audio_taper(0.15)(0.5)) * 250e3 == 37.5e3
marks = np.arange(0, 11)
assert marks[np.argmin(abs(gn.audio_taper(0.15)(marks / 10) - 0.5))] == 7
losses = [
    float(gn.treble_change(gn.response(one, volume=[10, 5])).worst.sel(volume=5))
    for one in (humbucker.replace("treble_bleed", None), guitar)
]
assert losses[0] < losses[1] < 0
peaks = [
    float(gn.peak(gn.response(one)).height)
    for one in (humbucker.replace("treble_bleed", None), guitar)
]
assert peaks[0] > peaks[1]
assert changes[0] < 0 < changes[-1]
assert round(float(left.worst), 1) == 4.9

# %% [markdown]
# On to the next lesson: [Cable length](../05_cable_length.ipynb).
