# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Six readings, one fault
#
# To the lesson [Six readings, one fault](../10_six_readings_one_fault.ipynb). Try first; a worked
# answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import six_readings_one_fault as exercise
from exercises.checking import check

guitar = gn.layouts.three_single_coils(
    gn.Pickup("6k", "2.3 H", "110p"),
    gn.Pickup("6.2k", "2.4 H", "120p"),
    gn.Pickup("6.8k", "2.8 H", "130p"),
    volume="250k",
    tone="250k",
    tone_capacitor="22n",
    cable="5 m",
)
possible = gn.bench.faults(guitar)
six = [gn.bench.ResistanceReading(switch=place) for place in guitar.parts["switch"].places]
six.append(gn.bench.ResistanceReading(switch="neck", largest_over="volume"))

# %% [markdown]
# ## Is it so?
#
# ### "Zero in continuity means broken"
#
# A broken joint lets nothing through: an infinite resistance, "OL".

# %%
ohms = float(gn.bench.lug_resistance(guitar, "volume.wiper", "jack.tip"))
found = "yes" if np.isinf(ohms) else "no"
print(f"the sound joint has {ohms:g} Ω")
assert check(found, exercise.zero_means_broken)
check(found, exercise.zero_means_broken)

# %% [markdown]
# ### "A broken pickup reads open"

# %%
ohms = float(gn.jack_resistance(possible["neck coil broken"].guitar, switch="neck"))
found = "yes" if np.isinf(ohms) else "no"
print(f"at the jack {ohms / 1000:.0f} kΩ, the volume pot")
assert check(found, exercise.broken_coil_reads_open)
check(found, exercise.broken_coil_reads_open)

# %% [markdown]
# ### "The meter would show a wrong tone capacitor"
#
# The six readings with 22 nF, and again with 220 nF.

# %%
wrong = guitar.replace("tone_capacitor", "220n")
changes = [float(one.expected(wrong)) / float(one.expected(guitar)) - 1 for one in six]
found = "yes" if max(map(abs, changes)) > 0.001 else "no"
print(f"largest change {100 * max(map(abs, changes)):.3f} %")
assert check(found, exercise.wrong_tone_capacitor)
check(found, exercise.wrong_tone_capacitor)

# %% [markdown]
# ## Exercises
#
# ### 1. The weak bridge
#
# The pot lies across the coil: 1/reading = 1/coil + 1/pot. Solved for the coil:

# %%
coil = 1 / (1 / 5.83 - 1 / 250)
found = 100 * (1 - coil / 6.8)
print(f"the coil has {coil:.2f} kΩ, {found:.1f} % short of 6.8 kΩ")
assert check(found, exercise.weak_bridge)
check(found, exercise.weak_bridge)

# %% [markdown]
# Much more than 5 %, so part of its turns are shorted, or another pickup was fitted. A coil that is
# only cold would need to be very cold:

# %%
needed = 20 - found / 0.393
print(f"copper that is {found:.1f} % short of its value at 20 °C is at {needed:.0f} °C")
assert needed < -10

# %% [markdown]
# ### 2. Three zeros
#
# Zero means joined: in these three places something leads from hot to ground. All three have the
# middle pickup switched on, and the two others do not. So the short is at the middle pickup, not
# behind the switch, where it would silence all places. A broken coil or an open joint would not
# read zero, it would read the pot.

# %%
shorts = dict.fromkeys(["neck+middle", "middle", "middle+bridge"], "0 ohm")
read = {"neck": "5.9k", **shorts, "bridge": "6.7k"}
asked = gn.diagnose(guitar, read)
asked

# %%
found = "middle coil shorted"
assert asked.explanations[0].faults[0].label == found
assert check(found, exercise.three_zeros)
check(found, exercise.three_zeros)

# %% [markdown]
# A short from the middle's hot lead to ground makes the same circuit, and a grounded lug of the
# switch nearly so. The readings that the table names next tell these apart: it says what each cause
# would show.
#
# ### 3. The pot behind a bleed
#
# The rule "four times the largest, less the pickup" knows nothing of the bleed's 150 kΩ, which
# lies across the upper piece of the track:

# %%
by_rule = gn.bench.pot_from_largest("43.5k", "6k") / 1000
print(f"by the rule {by_rule:.0f} kΩ, far too little")
assert not check(by_rule, exercise.pot_behind_a_bleed)

# %% [markdown]
# The whole circuit knows it: which pickup and which pot give both readings?

# %%
with_bleed = guitar.replace("treble_bleed", "1n || 150k")
readings = [
    gn.bench.ResistanceReading("5.84k", switch="neck", volume=10),
    gn.bench.ResistanceReading("43.5k", switch="neck", largest_over="volume"),
]
recovered = gn.bench.values_from_readings(
    with_bleed, readings, ["neck.resistance", "volume.resistance"]
)
recovered.table()

# %%
found = recovered.values["volume.resistance"] / 1000
assert round(1 - found / 250, 1) == 0.1
assert check(found, exercise.pot_behind_a_bleed)
check(found, exercise.pot_behind_a_bleed)

# %% [markdown]
# About a tenth below 250 kΩ, so the pot is within its ±20 %.
#
# ### 4. The bad joint
#
# First subtract what a sound guitar shows.

# %%
shown = np.array([8.69, 5.91, 8.87, 6.09, 9.43, 64.75])
sound = np.array([float(one.expected(guitar)) / 1000 for one in six])
more = shown - sound
print("too much by", more.round(2), "kΩ")

# %% [markdown]
# The five places are all high by nearly the same, some 2.8 to 2.9 kΩ, so the joint is common to
# all pickups. The sixth is high by only about a quarter of that. A joint behind the pot would add
# to it in full. So the joint is before the pot, between the switch and the pot's upper lug.
#
# There the pot lies across pickup and joint together, so take it out first, as in exercise 1, and
# then the pickup:

# %%
neck_and_joint = 1 / (1 / 8.69 - 1 / 250)
by_hand = neck_and_joint - 6
print(f"neck and joint {neck_and_joint:.2f} kΩ, so the joint has {by_hand:.2f} kΩ")

# %% [markdown]
# Or ask the faulty guitar itself, whose joint is a value like any other. All six readings together
# round off less.

# %%
fault = gn.bench.faults(guitar, kinds="resistive joint")["resistive joint at volume high"]
path, _ = fault.unknown
taken = [one.with_ohms(1000 * kilohm) for one, kilohm in zip(six, shown, strict=True)]
recovered = gn.bench.values_from_readings(fault.guitar, taken, [path], tolerances={})
found = recovered.values[path] / 1000
print(f"from all six {found:.2f} kΩ")
assert check(by_hand, exercise.ohms_of_the_joint)
assert check(found, exercise.ohms_of_the_joint)
check(found, exercise.ohms_of_the_joint)

# %% [markdown]
# The numbers in the text above:

# %%
assert (more[:5] > 2.75).all()
assert (more[:5] < 2.95).all()
assert abs(more[5] / 0.75 - 1) < 0.05

# %% [markdown]
# On to the next lesson: [How far apart are two guitars built
# alike?](../11_two_guitars_built_alike.ipynb).
