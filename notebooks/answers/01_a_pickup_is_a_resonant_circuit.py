# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: A pickup is a resonant circuit
#
# To the lesson [A pickup is a resonant circuit](../01_a_pickup_is_a_resonant_circuit.ipynb). Try
# first; a worked answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import a_pickup_is_a_resonant_circuit as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")
guitar = gn.layouts.one_pickup(pickup, cable="5 m")

# %% [markdown]
# ## Is it so?
#
# ### "Twice the ohms, twice as hot"
#
# Change the resistance, nothing else, and compare the levels at 100 Hz.

# %%
more_ohms = guitar.replace("pickup.resistance", "12.4k")
level, level_with_more = (
    float(gn.level_db(gn.response(g, frequency=[100]))[0]) for g in (guitar, more_ohms)
)
print(f"{level:.2f} dB with 6.2 kΩ, {level_with_more:.2f} dB with 12.4 kΩ")
found = "yes" if level_with_more > level else "no"
assert check(found, exercise.twice_the_ohms)
check(found, exercise.twice_the_ohms)

# %% [markdown]
# By hand: at 100 Hz both pots and the amp lie across the coil, 250 kΩ ∥ 250 kΩ ∥ 1 MΩ = 111 kΩ
# (the tone capacitor's 72 kΩ in series with its pot hardly count, being a quarter turn away in
# phase). The coil's resistance and that load divide the voltage.

# %%
load = 1 / (1 / 250e3 + 1 / 250e3 + 1 / 1e6)
by_hand = [20 * np.log10(load / (load + ohms)) for ohms in (6.2e3, 12.4e3)]
print(f"by hand: {by_hand[0]:.2f} and {by_hand[1]:.2f} dB")

# %% [markdown]
# ### "It peaks where the data sheet says"

# %%
alone = float(gn.peak(gn.response(gn.layouts.pickup_alone(pickup))).frequency)
fitted = float(gn.peak(gn.response(guitar)).frequency)
print(f"alone {alone:.0f} Hz, in the guitar {fitted:.0f} Hz: {100 * (fitted / alone - 1):.0f} %")
found = "yes" if abs(fitted / alone - 1) < 0.1 else "no"
assert check(found, exercise.data_sheet_peak)
check(found, exercise.data_sheet_peak)

# %% [markdown]
# ### "A hotter winding is louder, and that is all"
#
# The model induces 1 V in any pickup. Twice the turns make it 2 V, so 6 dB come on top of what the
# other resistance and inductance do.

# %%
hotter = guitar.replace("pickup", gn.Pickup("12.4k", "9.6 H", "120p"))
levels = gn.level_db(gn.response({"once": guitar, "twice": hotter}, frequency=[5000]))
change = float(levels.sel(build="twice")[0] - levels.sel(build="once")[0])
gain = change + 20 * np.log10(2)
print(f"at 5 kHz: {gain:+.1f} dB")
found = "yes" if gain > 0 else "no"
assert check(found, exercise.hotter_is_louder)
check(found, exercise.hotter_is_louder)

# %% [markdown]
# ## Exercises
#
# ### 1. A coil of 8 H, 150 pF of winding, 800 pF of cable
#
# Both capacitances lie across the coil, side by side, so they add: 950 pF. Then the formula. (The
# example is H. Lemme's, in "The Secrets of Electric Guitar Pickups", Electronic Musician, December
# 1986, read in a text that quotes it; he gives about 1827 Hz.)

# %%
found = 1 / (2 * np.pi * np.sqrt(8 * (150e-12 + 800e-12)))
assert check(found, exercise.resonance_by_formula)
check(found, exercise.resonance_by_formula)

# %% [markdown]
# ### 2. Capacitance from inductance and peak
#
# Square the formula and turn it round: (2πf)² = 1/(LC), so C = 1/((2πf)²L). In picofarads:

# %%
found = 1e12 / ((2 * np.pi * 7850) ** 2 * 2.9)
assert check(found, exercise.capacitance_from_peak)
check(found, exercise.capacitance_from_peak)

# %% [markdown]
# The proof: a pickup with that capacitance peaks where the data sheet says. (The sheet also gives
# 6.5 kΩ; it hardly matters.)

# %%
proof = gn.Pickup("6.5k", "2.9 H", found * 1e-12)
hertz = float(gn.peak(gn.response(gn.layouts.pickup_alone(proof))).frequency)
print(f"{hertz:.0f} Hz")

# %% [markdown]
# ### 3. Pots of 500 kΩ
#
# Both pots, then the height of the peak.

# %%
brighter = gn.layouts.one_pickup(pickup, volume="500k", tone="500k", cable="5 m")
found = float(gn.peak(gn.response(brighter)).height)
assert check(found, exercise.height_with_500k)
check(found, exercise.height_with_500k)

# %% [markdown]
# Before it was 4.3 dB: half the damping makes the peak nearly 4 dB higher, and moves it a little.
#
# ### 4. The inductance that peaks at 3 kHz
#
# A first guess by the formula, with all the capacitance there is: 120 pF + 500 pF.

# %%
guess = 1 / ((2 * np.pi * 3000) ** 2 * 620e-12)
print(f"without damping: {guess:.2f} H")

# %% [markdown]
# The damping moves the peak down, so less inductance will do. Sweep below the guess.

# %%
henries = np.linspace(3, 5, 41)
h = gn.response(guitar, {"pickup.inductance": henries})
peaks = gn.peak(h).frequency.values
found = henries[np.argmin(abs(peaks - 3000))]
print(f"{found:.2f} H")
assert check(found, exercise.inductance_for_a_peak)
check(found, exercise.inductance_for_a_peak)

# %% [markdown]
# ## Check
#
# What the text says, asserted.

# %%
assert round(load, -3) == 111e3
assert round(1 / (2 * np.pi * 100 * 22e-9), -3) == 72e3
assert abs(by_hand[0] - level) < 0.05
assert abs(by_hand[1] - level_with_more) < 0.05
assert round(20 * np.log10(2)) == 6
assert abs(hertz / 7850 - 1) < 0.005
before = float(gn.peak(gn.response(guitar)).height)
assert round(before, 1) == 4.3
assert 3.5 < float(gn.peak(gn.response(brighter)).height) - before < 4
assert found < guess

# %% [markdown]
# On to the next lesson: [Loading by pots, cable and amp](../02_loading_by_pots_cable_amp.ipynb).
