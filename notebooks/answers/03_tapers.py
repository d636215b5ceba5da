# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Tapers
#
# To the lesson [Tapers](../03_tapers.ipynb). Try first;
# a worked answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import tapers as exercise
from exercises.checking import check


def beside(*ohms):
    """Resistances in parallel."""
    return 1 / sum(1 / ohm for ohm in ohms)


# %% [markdown]
# ## Is it so?
#
# **A means linear.** Not always. On most parts of today A is audio and B is linear; on old ones A
# is linear and C is audio.

# %%
for era in ("old", "today"):
    print(f"{era}: A is {gn.taper('A', convention=era)}")
told = check("no", exercise.a_always_means_linear)
assert told
told

# %% [markdown]
# **A linear pot does its work at the top.** No. From 10 to 5 the track is halved, and from 5 to 1
# it is divided by five.

# %%
upper, lower = 20 * np.log10(0.5), 20 * np.log10(0.1 / 0.5)
print(f"unloaded: {upper:.1f} dB from 10 to 5, {lower:.1f} dB from 5 to 1")
told = check("no", exercise.linear_acts_at_the_top)
assert upper > lower
assert told
told

# %% [markdown]
# **An audio pot sounds different at 10.** No. The wiper lies on the end of the track. Both pots are
# 250 kΩ across the pickup and nothing in the way; how the track is divided further down, nobody
# can know from there.

# %%
told = check("no", exercise.brighter_at_10)
assert told
told

# %% [markdown]
# ## 1. The taper by the meter
#
# The jack sees the lower piece of the track, parallel to the upper piece with the pickup behind it.
# For each taper:

# %%
readings = {}
for name, below in (("linear", 0.5), ("audio 15%", 0.15), ("audio 30%", 0.30)):
    lower_piece, upper_piece = 250 * below, 250 * (1 - below)
    readings[name] = beside(lower_piece, upper_piece + 6.2)
    print(f"{name}: {lower_piece:.1f} beside {upper_piece:.1f} + 6.2: {readings[name]:.1f} kΩ")

# %%
found = min(readings, key=lambda name: abs(readings[name] - 32))
told = check(found, exercise.taper_by_the_meter)
assert told
told

# %% [markdown]
# ## 2. The mark of half the voltage
#
# From mark 5 to 10 the track fraction runs from 15 % to 100 % in a straight line. 50 % is
# (50 - 15)/(100 - 15) of that way.

# %%
found = 5 + 5 * (50 - 15) / (100 - 15)
print(f"mark {found:.2f}")
told = check(found, exercise.mark_for_half)
assert abs(gn.audio_taper(0.15)(found / 10) - 0.5) < 1e-12
assert told
told

# %% [markdown]
# ## 3. A pot that feeds its own size
#
# The lower half of the track, 125 kΩ, has 250 kΩ in parallel. The rest is a divider.

# %%
lower_piece = beside(125, 250)
found = 100 * lower_piece / (125 + lower_piece)
print(f"{lower_piece:.1f} kΩ of {125 + lower_piece:.1f}: {found:.1f} %")
told = check(found, exercise.loaded_at_half)
assert told
told

# %% [markdown]
# ## 4. The level with a bleed
#
# At 100 Hz the capacitor of the bleed has 1.6 MΩ and does not count beside 150 kΩ; nor do coil,
# winding and cable. At 5 there are 37.5 kΩ below the wiper and 212.5 above. The bleed lies across
# the upper piece, the amp across the lower one. The tone pot and its capacitor are left out: they
# load both settings nearly alike.

# %%
in_the_way = 6.2 + beside(212.5, 150)
to_ground = beside(37.5, 1000)
at_5 = to_ground / (in_the_way + to_ground)
across = beside(250, 1000)
at_10 = across / (6.2 + across)
found = 20 * np.log10(at_5 / at_10)
print(f"at 5 {at_5:.3f}, at 10 {at_10:.3f}: {found:.1f} dB")
told = check(found, exercise.level_with_a_bleed)
assert round(1 / (2 * np.pi * 100 * 1e-9) / 1e6, 1) == 1.6
assert told
told

# %% [markdown]
# On to the next lesson: [What a treble bleed does at 10 and at
# 5](../04_treble_bleed_at_10_and_5.ipynb).
