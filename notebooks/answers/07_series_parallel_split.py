# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Series, parallel, split
#
# To the lesson [Series, parallel, split](../07_series_parallel_split.ipynb). Try first; a worked
# answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import series_parallel_split as exercise
from exercises.checking import check

coil = gn.Coil("4.2k", "2.1 H", "180p")


def guitar(connection, second=coil, cable="5 m"):
    pickup = gn.Humbucker(coil, second, coupling=0.12, connection=connection)
    return gn.layouts.one_pickup(
        pickup, volume="500k", tone="500k", tone_capacitor="22n", cable=cable
    )


# %% [markdown]
# ## Is it so?
#
# ### "Split makes it a single coil pickup"

# %%
single = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), cable="5 m")
heights = [float(gn.peak(gn.response(one)).height) for one in (guitar("coil 1"), single)]
print(f"split {heights[0]:.1f} dB, single coil with 250 kΩ pots {heights[1]:.1f} dB")
found = "yes" if abs(heights[0] - heights[1]) < 2 else "no"
assert check(found, exercise.split_is_a_single_coil)
check(found, exercise.split_is_a_single_coil)

# %% [markdown]
# ### "Parallel puts the peak an octave up"

# %%
series, parallel = (
    float(gn.peak(gn.response(guitar(name))).frequency) for name in ("series", "parallel")
)
print(f"{parallel / series:.2f} times")
found = "yes" if abs(parallel / series / 2 - 1) < 0.05 else "no"
assert check(found, exercise.an_octave_up)
check(found, exercise.an_octave_up)

# %% [markdown]
# ### "Only series cancels hum"

# %%
left = float(gn.audio.hum(guitar("parallel"), frequency=[50]).residual.max())
print(f"less than -200 dB left in parallel, two equal coils: {left < -200}")
found = "yes" if left > -20 else "no"
assert check(found, exercise.parallel_hums)
check(found, exercise.parallel_hums)

# %% [markdown]
# ## Exercises
#
# ### 1. The reading in parallel
#
# Three ways from tip to sleeve lie side by side: both coils, and the whole track of the volume pot,
# for at 10 its wiper lies on the pickup's side. The tone control does not count, since its
# capacitor blocks direct current.

# %%
found = 1 / (1 / 5.4 + 1 / 7.2 + 1 / 500)
print(f"{found:.3f} kΩ; without the pot {1 / (1 / 5.4 + 1 / 7.2):.3f}")
assert check(found, exercise.reading_in_parallel)
check(found, exercise.reading_in_parallel)

# %% [markdown]
# ### 2. The inductance in parallel, coupled
#
# In series two equal coils have 2L, and twice the mutual inductance kL on top: 2L(1 + k). In
# parallel it is a quarter of that: L(1 + k)/2. Without coupling that is 1.5 H, as published for two
# such coils (Slightly Technical Academy, "Pickup coils in parallel, why not").

# %%
by_hand = 3 * (1 + 0.12) / 2
print(f"by hand: {by_hand:.3f} H")

# %% [markdown]
# The same from the circuit: the reactance at 1 Hz over 2πf, low enough that the capacitance does
# not show.

# %%
equal = gn.Coil("4k", "3 H", "200p")
pair = gn.Humbucker(equal, equal, coupling=0.12, connection="parallel")
z = gn.impedance(gn.layouts.pickup_alone(pair), frequency=[1])
found = float(z.imag[0]) / (2 * np.pi)
assert check(found, exercise.parallel_inductance)
check(found, exercise.parallel_inductance)

# %% [markdown]
# ### 3. Parallel with 9 m of cable

# %%
found = float(gn.peak(gn.response(guitar("parallel", cable="9 m"))).frequency)
assert check(found, exercise.parallel_with_9_m)
check(found, exercise.parallel_with_9_m)

# %% [markdown]
# ### 4. How alike two coils must be
#
# By hand: hum goes with the turns, and of one wire the turns go with the ohms. With p per cent more
# turns on one coil the difference is p, out of 100 + p that the larger one gives alone. A tenth
# (-20 dB) is left where p/(100 + p) = 1/10.

# %%
by_hand_percent = 100 / 9
print(f"{by_hand_percent:.1f} %")

# %% [markdown]
# Then the circuit. More turns of the same wire: resistance goes with them, inductance with their
# square. Look where the hum that is left passes -20 dB.

# %%
percent = np.arange(8, 15)
residual = []
for p in percent:
    second = gn.Coil(4200 * (1 + p / 100), 2.1 * (1 + p / 100) ** 2, "180p")
    residual.append(float(gn.audio.hum(guitar("series", second), frequency=[50]).residual.max()))
    print(f"{p:2} % more turns: {residual[-1]:.1f} dB")

# %%
found = float(np.interp(-20, residual, percent))
assert check(found, exercise.coils_alike)
check(found, exercise.coils_alike)

# %% [markdown]
# On the bench the two readings tell: the same wire, so 11 % more turns are some 11 % more ohms.
#
# ## Check
#
# What the text says, asserted.

# %%
track = gn.jack_resistance(gn.layouts.one_pickup(gn.Pickup("6k", "2 H", "100p"), volume="500k"))
assert abs(float(track) - 1 / (1 / 6e3 + 1 / 500e3)) < 1e-6
free = gn.Humbucker(equal, equal, coupling=0, connection="parallel")
z0 = gn.impedance(gn.layouts.pickup_alone(free), frequency=[1])
assert abs(float(z0.imag[0]) / (2 * np.pi) - 1.5) < 0.005
assert abs(float(z.imag[0]) / (2 * np.pi) / by_hand - 1) < 0.005
assert round(by_hand_percent) == 11
assert abs(by_hand_percent - float(np.interp(-20, residual, percent))) < 0.1

# %% [markdown]
# On to the next lesson: [Measure a pickup, fit a model](../08_measure_a_pickup_fit_a_model.ipynb).
