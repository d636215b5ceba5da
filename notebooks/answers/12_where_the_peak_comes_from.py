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
import numpy as np

import guitarnet as gn
from guitarnet.course import where_the_peak_comes_from as exercise

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
told = gn.check("no", exercise.peak_is_at_lc)
assert round(factor, 2) == 0.89
assert told
told

# %% [markdown]
# **Four poles at 10.** No. Each pole stands for one value that the circuit can remember, a current
# in a coil or a voltage on a capacitance. At 10 winding and cable share their voltage: one coil,
# one capacitance of 620 pF, one tone capacitor.

# %%
told = gn.check("no", exercise.a_pole_for_each_part)
assert len(gn.poles(guitar())) == 3
assert told
told

# %% [markdown]
# ## 1. The resonance of a hot pickup
#
# 800 and 150 pF lie in parallel, 950 pF. A published example of the same values says about 1827 Hz
# (H. Lemme, "The Secrets of Electric Guitar Pickups", Electronic Musician, December 1986).

# %%
found = 1 / (2 * np.pi * np.sqrt(8 * 950e-12))
print(f"{found:.1f} Hz")
told = gn.check(found, exercise.resonance_of_a_hot_pickup)
assert abs(found / 1827 - 1) < 1e-3
assert told
told

# %% [markdown]
# ## 2. The capacitance from a data sheet
#
# (2πf)² LC = 1, so C = 1/((2πf)² L). The values are those of a published data sheet (Premier
# Guitar, "Demystifying DCR").

# %%
found = 1 / ((2 * np.pi * 7850) ** 2 * 2.9)
print(f"{found * 1e12:.1f} pF")
told = gn.check(found * 1e12, exercise.capacitance_from_the_data_sheet)
assert told
told

# %% [markdown]
# And back: a pickup with that capacitance peaks where the sheet says.

# %%
sheet = gn.Pickup("6.5k", "2.9 H", found)
peak = float(gn.peak(gn.response(gn.layouts.pickup_alone(sheet))).frequency)
print(f"{peak:.0f} Hz")
assert abs(peak / 7850 - 1) < 2e-3

# %% [markdown]
# ## 3. Q, by the closed form and by the poles
#
# 500 kΩ, 500 kΩ and 1 MΩ make a load of 200 kΩ.

# %%
wire, inductance, capacitance, load = 6.2e3, 2.4, 620e-12, 200e3
found = np.sqrt(inductance * capacitance * (1 + wire / load)) / (
    wire * capacitance + inductance / load
)
pole = gn.poles(guitar("500k"))[-1]  # the pair; the first is the tone network's
by_poles = -abs(pole) / (2 * pole.real)
print(f"closed form {found:.3f}, poles {by_poles:.3f}")
told = gn.check(found, exercise.q_from_the_poles)
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
told = gn.check(found, exercise.poles_with_a_bleed)
assert len(gn.poles(guitar(), volume=5)) == found
assert told
told
