# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Measure a pickup, fit a model
#
# To the lesson [Measure a pickup, fit a model](../08_measure_a_pickup_fit_a_model.ipynb). Try
# first; a worked answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import measure_a_pickup_fit_a_model as exercise
from exercises.checking import check

# As fitted, rounded.
wide = gn.Pickup("10.6k", "6.8 H", "133p", "27k", 0.365, "2.65 kHz", eddy_order=0.894)

# %% [markdown]
# ## Is it so?
#
# ### "A pickup is R, L and C"
#
# Two pickups, one with the losses that the fit found and one without, under 200 kΩ and 470 pF. The
# volume pot plays the 200 kΩ, the cable the 470 pF. Then the root mean square of what is between
# them.

# %%
plain = gn.Pickup(wide.resistance, wide.inductance, wide.capacitance)
load = {"volume": "200k", "tone": None, "cable": gn.Cable("1 m", "470p"), "amp": "10M"}
builds = {"whole": gn.layouts.one_pickup(wide, **load), "RLC": gn.layouts.one_pickup(plain, **load)}
level = gn.level_db(gn.response(builds, frequency=np.geomspace(200, 8000, 120)), re="reference")
rms = float(np.sqrt(((level[0] - level[1]) ** 2).mean()))
print(f"{rms:.1f} dB rms")
found = "yes" if rms < 1 else "no"
assert check(found, exercise.only_r_l_c)
check(found, exercise.only_r_l_c)

# %% [markdown]
# ### "Unloaded means unloaded"
#
# The pickup alone, nothing across it, not even an instrument.

# %%
peak = gn.peak(gn.response(gn.layouts.pickup_alone(wide)))
print(f"{float(peak.height):.1f} dB at {float(peak.frequency):.0f} Hz")
found = "yes" if float(peak.height) < 1 else "no"
assert check(found, exercise.own_peak_under_1_db)
check(found, exercise.own_peak_under_1_db)

# %% [markdown]
# ### "More ohms, more volts"
#
# The ohms come from the wire's length and section, the volts from the turns alone.

# %%
bobbin = {"core_length": "57 mm", "core_width": "4.8 mm", "traverse": "11 mm"}
thin, thick = (
    gn.windings.winding(wire, turns=turns, **bobbin)
    for wire, turns in (("AWG 44", 7000), ("AWG 42", 8000))
)
print(f"AWG 44: {thin.turns} turns, {thin.resistance:.0f} Ω")
print(f"AWG 42: {thick.turns} turns, {thick.resistance:.0f} Ω")
found = "yes" if (thin.resistance > thick.resistance) == (thin.turns > thick.turns) else "no"
assert check(found, exercise.more_ohms_more_volts)
check(found, exercise.more_ohms_more_volts)

# %% [markdown]
# ## Exercises
#
# ### 1. The cold workshop
#
# Copper has 0.393 % more resistance for each degree above 20 °C, and as much less below. At 8 °C
# that is 12 degrees, 4.7 % too little.

# %%
by_hand = 10.15 / (1 + 0.00393 * (8 - 20))
found = gn.windings.resistance_at("10.15k", 20, measured_at=8) / 1000
print(f"by hand {by_hand:.2f} kΩ, by the function {found:.2f} kΩ")
assert round(12 * 0.393, 1) == 4.7
assert round(by_hand, 2) == round(found, 2) == 10.65
assert check(found, exercise.cold_workshop)
check(found, exercise.cold_workshop)

# %% [markdown]
# It left with 10.6 kΩ and has 10.65 kΩ: nothing is broken. Write the room's temperature beside each
# reading that you keep.
#
# ### 2. The capacitance, from two peaks
#
# The peak goes with one over the square root of the capacitance. So the squared ratio of the two
# frequencies is the ratio of the capacitances, (C + 470 pF) / C. Solve for C.

# %%
ratio = (7.4 / 3.4) ** 2
by_hand = 470 / (ratio - 1)
print(f"the capacitances are as {ratio:.2f} to 1, so C is {by_hand:.0f} pF")

# %% [markdown]
# The fit takes the 1 MΩ and the coil's 6.1 kΩ into account, which move the peaks a little, and
# says how sure it is.

# %%
peaks = [
    gn.fitting.PeakReading("7.4 kHz", gn.fitting.Load("1M")),
    gn.fitting.PeakReading("3.4 kHz", gn.fitting.Load("1M", "470p")),
]
fit = gn.fit_pickup(resistance="6.1k", peak=peaks)
found = fit.values["capacitance"].value * 1e12
assert check(by_hand, exercise.winding_capacitance_by_two_peaks)
assert check(found, exercise.winding_capacitance_by_two_peaks)
fit

# %%
check(found, exercise.winding_capacitance_by_two_peaks)

# %% [markdown]
# ### 3. The inductance
#
# Known the capacitance, either peak gives it: L = 1 / ((2πf)² C).

# %%
by_hand = 1 / ((2 * np.pi * 7400) ** 2 * by_hand * 1e-12)
found = fit.values["inductance"].value
print(f"by hand {by_hand:.2f} H, by the fit {found:.2f} H")
assert check(by_hand, exercise.inductance_by_two_peaks)
assert check(found, exercise.inductance_by_two_peaks)
check(found, exercise.inductance_by_two_peaks)

# %% [markdown]
# ### 4. 500 kΩ pots
#
# Both pots are swept at once and by name: two values each, of which we want the pairs.

# %%
guitar = gn.layouts.one_pickup(wide, cable="5 m")
pots = ["250k", "500k"]
h = gn.response(guitar, {"volume.resistance": pots, "tone.resistance": pots}, frequency=[3000])
level = gn.level_db(h, re="reference").isel(frequency=0)
with_250k, with_500k = level.values.diagonal()
found = with_500k - with_250k
print(f"with 250 kΩ {with_250k:+.2f} dB, with 500 kΩ {with_500k:+.2f} dB")
assert check(found, exercise.with_500k_pots)
check(found, exercise.with_500k_pots)

# %% [markdown]
# The pots load the peak region of a pickup with much inductance most, so it gains there by a new
# pair of pots. At 500 Hz hardly anything changes, less than 0.2 dB:

# %%
low = gn.level_db(
    gn.response(guitar, {"volume.resistance": pots, "tone.resistance": pots}, frequency=[500]),
    re="reference",
).isel(frequency=0)
gain = float(low[1, 1] - low[0, 0])
print(f"at 500 Hz {gain:+.2f} dB")
assert 0 < gain < 0.2

# %% [markdown]
# On to the next lesson: [Joints, switches, your own harness](../09_your_own_harness.ipynb).
