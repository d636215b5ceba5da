# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Where the peak comes from
#
# To the lesson [Where the peak comes from](../12_where_the_peak_comes_from.ipynb). Try first;
# a worked answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import where_the_peak_comes_from as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")


def guitar(pots="250k", **changed):
    given = {"volume": pots, "tone": pots, "cable": "5 m"} | changed
    return gn.layouts.one_pickup(pickup, **given)


# %% [markdown]
# ## Is it so?
#
# **The peak is at 1/(2π√(LC)).** Not in a guitar. It says where coil and capacitance swing when
# nothing damps them. With Q = 1.56 the factor √(1 - 1/(2Q²)) alone is 0.89.

# %%
factor = np.sqrt(1 - 1 / (2 * 1.558**2))
print(f"{factor:.2f}")
told = check("no", exercise.peak_is_at_lc)
assert round(factor, 2) == 0.89
assert told
told

# %% [markdown]
# **Four poles at 10.** No. Each pole stands for one value that the circuit can remember, a current
# in a coil or a voltage on a capacitance. At 10 winding and cable share their voltage: one coil,
# one capacitance of 620 pF, one tone capacitor.

# %%
told = check("no", exercise.a_pole_for_each_part)
assert len(gn.formulas.poles(guitar())) == 3
assert told
told

# %% [markdown]
# ## 1. The height at Q = 2
#
# Q/√(1 - 1/(4Q²)) is 2/√(15/16), and that in decibels:

# %%
found = 20 * np.log10(2 / np.sqrt(15 / 16))
print(f"{found:.2f} dB")
told = check(found, exercise.height_at_q_2)
assert told
told

# %% [markdown]
# ## 2. The Q of a peak that stands at twice the level
#
# Q²/(1 - 1/(4Q²)) = 4, so Q⁴ - 4Q² + 1 = 0, and Q² is 2 + √3. (The other root, 2 - √3, is a Q
# under 1/√2: no peak.)

# %%
found = np.sqrt(2 + np.sqrt(3))
print(f"{found:.3f}")
told = check(found, exercise.quality_for_twice)
assert np.sqrt(2 - np.sqrt(3)) < np.sqrt(0.5)
assert told
told

# %% [markdown]
# The proof: a coil with that Q, nothing closed about it. 2.4 H and 620 pF behind no load have their
# Q from the wire alone, R = √(L/C)/Q.

# %%
wire = np.sqrt(2.4 / 620e-12) / found
damped = gn.Pickup(wire, "2.4 H", "620p")
height = float(gn.peak(gn.response(gn.layouts.pickup_alone(damped))).height)
print(f"{wire / 1e3:.0f} kΩ of wire: {height:.2f} dB")
assert abs(height - 20 * np.log10(2)) < 0.02

# %% [markdown]
# ## 3. Q, by the closed form and by the poles
#
# 500 kΩ, 500 kΩ and 1 MΩ make a load of 200 kΩ.

# %%
wire, inductance, capacitance, load = 6.2e3, 2.4, 620e-12, 200e3
found = np.sqrt(inductance * capacitance * (1 + wire / load)) / (
    wire * capacitance + inductance / load
)
pole = gn.formulas.poles(guitar("500k"))[-1]  # the pair; the first is the tone network's
by_poles = -abs(pole) / (2 * pole.real)
print(f"closed form {found:.3f}, poles {by_poles:.3f}")
told = check(found, exercise.q_from_the_poles)
assert abs(found / by_poles - 1) < 1e-3
assert told
told

# %% [markdown]
# ## 4. Poles with a treble bleed
#
# Winding, bleed and cable form a ring: winding from ground to the volume pot's input, bleed from
# input to output, cable from output back to ground. Their voltages add up to nothing, so two of
# them fix the third. One coil, one tone capacitor, and two of the three: four, no more than
# without the bleed.

# %%
found = 1 + 1 + 2
told = check(found, exercise.poles_with_a_bleed)
assert len(gn.formulas.poles(guitar(), volume=5)) == found
assert told
told

# %% [markdown]
# On to the next lesson: [Choosing a bleed before
# soldering](../13_choosing_a_bleed_before_soldering.ipynb).
