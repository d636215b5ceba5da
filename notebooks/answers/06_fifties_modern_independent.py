# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Fifties, modern, independent
#
# To the lesson [Fifties, modern, independent](../06_fifties_modern_independent.ipynb). Try first; a
# worked answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import fifties_modern_independent as exercise
from exercises.checking import check

pickup = gn.Pickup("7.6k", "3.9 H", "110p", "400k", 0.3, "7 kHz")


def guitar(wiring, pots="500k", capacitor="22n", bleed=None):
    return gn.layouts.one_pickup(
        pickup,
        volume=gn.Pot(pots, "audio 15%"),
        tone=gn.Pot(pots, "audio 15%"),
        tone_capacitor=capacitor,
        treble_bleed=bleed,
        wiring=wiring,
        cable="5 m",
    )


def change_at_3k(harness, mark):
    """Level at 3 kHz re volume 10, levels matched at 100 Hz [dB]."""
    h = gn.response(harness, volume=[10, mark])
    return float(gn.treble_change(h, frequencies=["3 kHz"]).change.sel(volume=mark)[0])


# %% [markdown]
# ## Is it so?
#
# ### "50s wiring is a treble bleed"

# %%
kept = change_at_3k(guitar("50s"), 5) - change_at_3k(guitar("modern"), 5)
print(f"50s keeps {kept:.1f} dB more")
found = "yes" if kept > 3 else "no"
assert check(found, exercise.fifties_is_a_bleed)
check(found, exercise.fifties_is_a_bleed)

# %% [markdown]
# ### "Independent volumes kill the top"
#
# At 10, over all frequencies, level and all.

# %%
wirings = {wiring: guitar(wiring) for wiring in ("modern", "independent")}
levels = gn.level_db(gn.response(wirings, volume=10))
largest = float(abs(levels[1] - levels[0]).max())
print(f"largest difference: {largest:.6f} dB")
found = "yes" if largest > 0.1 else "no"
assert check(found, exercise.independent_kills_the_top)
check(found, exercise.independent_kills_the_top)

# %% [markdown]
# ### "10 nF is dark, 40 nF is bright"

# %%
small, large = (
    float(
        gn.level_db(
            gn.response(guitar("modern", capacitor=c), frequency=[1000], tone=0), re="reference"
        )[0]
    )
    for c in ("10n", "40n")
)
print(f"1 kHz re 100 Hz, tone at 0: {small:+.1f} dB with 10 nF, {large:+.1f} dB with 40 nF")
found = "yes" if small < large else "no"
assert check(found, exercise.dark_capacitor)
check(found, exercise.dark_capacitor)

# %% [markdown]
# ## Exercises
#
# ### 1. The largest reading at the jack
#
# By hand first. Call what lies below the wiper x and the whole track R. From the wiper one way to
# ground is x, the other R - x and then the pickup, P. The two ways together make R + P, and two
# parts of a whole, side by side, are largest when they are equal: (R + P)/4.

# %%
by_hand = (500 + 7.6) / 4
print(f"by hand: {by_hand:.1f} kΩ")

# %% [markdown]
# Then as on the bench: turn the knob finely, keep the largest reading.

# %%
readings = gn.jack_resistance(guitar("modern"), volume=np.linspace(0, 10, 201))
found = float(readings.max()) / 1000
print(f"met at volume {float(readings.idxmax('volume')):.2f}")
assert check(found, exercise.largest_reading)
check(found, exercise.largest_reading)

# %% [markdown]
# Four times that reading, less the pickup, is the pot. It is a way to measure a fitted pot.
#
# ### 2. 50s with 250 kΩ

# %%
found = change_at_3k(guitar("50s", "250k"), 5) - change_at_3k(guitar("modern", "250k"), 5)
assert check(found, exercise.fifties_with_250k)
check(found, exercise.fifties_with_250k)

# %% [markdown]
# Twice as much as with 500 kΩ, and still little: a tone network of 250 kΩ weighs more on the
# pickup, so moving it away changes more.
#
# ### 3. The peak with the neck at 0

# %%
both = gn.layouts.two_humbuckers(
    pickup, pickup, volume="500k", tone="500k", wiring="independent", cable="5 m"
)
h = gn.response(both, switch="neck+bridge", neck_volume=[10, 0])
peaks = gn.peak(h).frequency
print(f"both up: {float(peaks[0]):.0f} Hz")
found = float(peaks.sel(neck_volume=0))
assert check(found, exercise.peak_of_the_bridge)
check(found, exercise.peak_of_the_bridge)

# %% [markdown]
# With both up two coils lie in parallel: half the inductance on one cable. With the neck at 0 its
# coil is shorted behind 500 kΩ, and the bridge is alone with the cable.
#
# ### 4. A bleed for independent
#
# What modern leaves at 7 is the aim. Then some capacitors across the pot of the independent guitar.

# %%
aim = change_at_3k(guitar("modern"), 7)
picofarads = np.arange(300, 601, 50)
changes = [change_at_3k(guitar("independent", bleed=f"{c}p"), 7) for c in picofarads]
print(f"aim: {aim:+.2f} dB")
for c, decibels in zip(picofarads, changes, strict=True):
    print(f"{c} pF: {decibels:+.2f} dB")

# %%
found = float(np.interp(aim, changes, picofarads))
print(f"{found:.0f} pF")
assert check(found, exercise.bleed_for_independent)
check(found, exercise.bleed_for_independent)

# %% [markdown]
# At 7 only. At 5 the same capacitor leaves independent 5 dB below modern:

# %%
both_at_5 = [
    change_at_3k(guitar("independent", bleed=f"{found:.0f}p"), 5),
    change_at_3k(guitar("modern"), 5),
]
print(f"at 5: {both_at_5[0]:+.1f} dB and {both_at_5[1]:+.1f} dB")

# %% [markdown]
# ## Check
#
# What the text says, asserted.

# %%
assert abs(by_hand - float(readings.max()) / 1000) < 0.1
pot = 4 * float(readings.max()) - 7.6e3
assert abs(pot - 500e3) < 200
fifties = change_at_3k(guitar("50s", "250k"), 5) - change_at_3k(guitar("modern", "250k"), 5)
assert 1.8 < fifties / kept < 2.2
assert peaks[0] > peaks[1]
assert round(both_at_5[0] - both_at_5[1]) == -5

# %% [markdown]
# On to the next lesson: [Series, parallel, split](../07_series_parallel_split.ipynb).
