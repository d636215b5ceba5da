# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Cable length
#
# To the lesson [Cable length](../05_cable_length.ipynb). Try first; a worked answer teaches most
# when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import cable_length as exercise
from exercises.checking import check

guitar = gn.layouts.one_pickup(
    gn.Pickup("6.2k", "2.4 H", "120p"), volume="250k", tone="250k", tone_capacitor="22n"
)

# %% [markdown]
# ## Is it so?
#
# ### "Low capacitance is better: it gives more treble"
#
# Compute the level at 3 kHz with both cables, each re its own level at 100 Hz.

# %%
h = gn.response(guitar, {"cable.length": ["1 m", "10 m"]}, frequency=[3000])
short, long = gn.level_db(h, re="reference").isel(frequency=0).values
print(f"at 3 kHz: {short:.1f} dB with 1 m, {long:.1f} dB with 10 m")
found = "yes" if short > long else "no"
assert check(found, exercise.low_capacitance)
check(found, exercise.low_capacitance)

# %% [markdown]
# ### "A good cable makes a bleed needless"
#
# The worst deviation of the shape at each mark, with 1 m; then the largest of them.

# %%
h = gn.response(guitar.replace("cable.length", "1 m"), volume=[10, 9, 7, 5, 3])
worst = float(abs(gn.treble_change(h).worst).max())
print(f"at most {worst:.2f} dB")
found = "yes" if worst < 1 else "no"
assert check(found, exercise.good_cable)
check(found, exercise.good_cable)

# %% [markdown]
# ### "Thicker copper lets more treble through"
#
# Two guitars that differ in the resistance of their cable alone.

# %%
cables = {ohm: gn.Cable("6 m", resistance_per_metre=ohm) for ohm in (0, 1)}
levels = [
    gn.level_db(gn.response(guitar.replace("cable", c), frequency=[5000])) for c in cables.values()
]
cost = abs(float(levels[0][0] - levels[1][0]))
print(f"1 Ω a metre moves the level at 5 kHz by {cost:.4f} dB")
found = "yes" if cost > 0.1 else "no"
assert check(found, exercise.thick_conductor)
check(found, exercise.thick_conductor)

# %% [markdown]
# ## Exercises
#
# ### 1. The peak with 9 m of cable
#
# Roughly first: winding and cable make 120 + 900 = 1020 pF, and 1/(2π√(LC)) with 2.4 H gives a
# frequency that the damping has yet to lower.

# %%
rough = 1 / (2 * np.pi * np.sqrt(2.4 * 1020e-12))
print(f"without damping: {rough:.0f} Hz")

# %% [markdown]
# Then exactly, with pots and amp: change the length, ask for the peak.

# %%
found = float(gn.peak(gn.response(guitar.replace("cable.length", "9 m"))).frequency)
assert check(found, exercise.peak_with_9_m)
check(found, exercise.peak_with_9_m)

# %% [markdown]
# ### 2. A coiled cable of 2.4 nF
#
# The guitar sees the capacitance, not the length. Any length and capacitance a metre will do,
# as long as they multiply to 2.4 nF.

# %%
coiled = gn.Cable("6 m", "400 pF/m")
found = float(gn.peak(gn.response(guitar.replace("cable", coiled))).frequency)
assert check(found, exercise.coiled_cable)
check(found, exercise.coiled_cable)

# %% [markdown]
# ### 3. The length that puts the peak at 3.3 kHz
#
# Sweep the length and look where the peak passes 3.3 kHz. The lesson's table says between 6 m and
# 10 m.

# %%
metres = np.linspace(6, 10, 41)
peaks = gn.peak(gn.response(guitar, {"cable.length": metres})).frequency.values
found = metres[np.argmin(abs(peaks - 3300))]
print(f"{found:.1f} m")
assert check(found, exercise.metres_for_a_peak)
check(found, exercise.metres_for_a_peak)

# %% [markdown]
# `gn.choosing.choose(guitar, {"cable.length": gn.choosing.Range("1 m", "10 m")},
# gn.choosing.Goal("peak frequency", near="3.3 kHz"))` answers such questions for any value of
# any part.
#
# ### 4. One network for 3 m and 6 m
#
# All networks with both cables, in one sweep. The worse of the two cables counts, so take the
# larger deviation of each row, then the smallest of those.

# %%
networks = ("none", "220p", "1n", "150k || 470p", "150k || 1n")
parts = [None if text == "none" else gn.bleed(text) for text in networks]
h = gn.response(guitar, {"volume": [10, 5], "treble_bleed": parts, "cable.length": ["3 m", "6 m"]})
worst = gn.treble_change(h).worst.sel(volume=5)
worst.to_pandas().round(1)

# %%
found = networks[int(np.argmin(abs(worst).max("cable.length").values))]
print(found)
assert check(found, exercise.one_bleed_for_two)
check(found, exercise.one_bleed_for_two)

# %% [markdown]
# Volume 5 and two cables are a narrow view. `gn.choose_treble_bleed` weighs the whole travel.
#
# ## Check
#
# What the text says, asserted.

# %%
assert rough > float(gn.peak(gn.response(guitar.replace("cable.length", "9 m"))).frequency)
assert coiled.length * coiled.capacitance_per_metre == 2.4e-9
assert peaks[0] > 3300 > peaks[-1]

# %% [markdown]
# On to the next lesson: [Fifties, modern, independent](../06_fifties_modern_independent.ipynb).
