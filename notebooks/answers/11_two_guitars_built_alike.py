# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: How far apart are two guitars built alike?
#
# To the lesson [How far apart are two guitars built
# alike?](../11_two_guitars_built_alike.ipynb). Try first; a worked answer teaches most when you
# have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import two_guitars_built_alike as exercise
from exercises.checking import check

guitar = gn.layouts.one_pickup(
    gn.Pickup("6.2k", "2.4 H", "120p", "300k", 0.3, "8 kHz"),
    volume="250k",
    tone="250k",
    tone_capacitor="22n",
    cable="5 m",
)
own = gn.tolerances.tolerances_of(guitar)
f = np.geomspace(50, 15e3, 200)


def nine_in_ten(name, **changed):
    """Range of the peak's frequency or height, some tolerances changed."""
    shares = own | {path.replace("__", "."): share for path, share in changed.items()}
    drawn = gn.tolerances.spread(guitar, 2000, seed=1, tolerances=shares)
    found = gn.peak(gn.response(guitar, frequency=f, volume=10, **drawn))
    return float(np.ptp(gn.tolerances.quantiles(found[name], [0.05, 0.95]).values))


# %% [markdown]
# ## Is it so?
#
# ### "Same model, same sound"
#
# A thousand pairs, levels matched at 100 Hz, the worst difference of each; then count.

# %%
many = gn.response(guitar, frequency=f, volume=10, **gn.tolerances.spread(guitar, 2000, seed=1))
shape = gn.level_db(many, re="reference").sel(frequency=slice(200, 5000)).values
pairs = np.abs(shape[::2] - shape[1::2]).max(axis=1)
share = float(np.mean(pairs < 0.5))
found = "yes" if share > 0.5 else "no"
print(f"{share:.0%} of the pairs stay within 0.5 dB")
assert check(found, exercise.half_of_pairs_within_half_a_db)
check(found, exercise.half_of_pairs_within_half_a_db)

# %% [markdown]
# ### "A 250 kΩ pot that has 220 is quieter at 5"
#
# The total alone, then the taper alone.

# %%
h = gn.response(
    guitar, {"volume": 5, "volume.resistance": ["200k", "250k", "300k"]}, frequency=[100]
)
by_total = float(np.ptp(gn.level_db(h).values))
pots = {half: gn.Pot("250k", f"audio {half}") for half in ("12 %", "15 %", "18 %")}
tapered = gn.response(
    {half: guitar.replace("volume", pot) for half, pot in pots.items()}, frequency=[100], volume=5
)
by_taper = float(np.ptp(gn.level_db(tapered).values))
found = "yes" if by_total > by_taper else "no"
print(f"total {by_total:.2f} dB, taper {by_taper:.1f} dB")
assert check(found, exercise.total_more_than_taper)
check(found, exercise.total_more_than_taper)

# %% [markdown]
# ### "Sort the pots, and the guitars will sound alike"

# %%
sorted_pots = {"volume__resistance": 0.05, "tone__resistance": 0.05}
before, after = nine_in_ten("frequency"), nine_in_ten("frequency", **sorted_pots)
found = "yes" if after < 0.75 * before else "no"
print(f"peaks within {before:.0f} Hz as bought, within {after:.0f} Hz with sorted pots")
assert check(found, exercise.sorted_pots_same_peak)
check(found, exercise.sorted_pots_same_peak)

# %% [markdown]
# ## Exercises
#
# ### 1. Two tapers
#
# By hand first: 20 log of the ratio of the two fractions. The pot drives the amp's megohm, which
# takes off a little more from the larger fraction.

# %%
by_hand = 20 * np.log10(17 / 13)
builds = {
    half: guitar.replace("volume", gn.Pot("250k", gn.audio_taper(half)))
    for half in ("13 %", "17 %")
}
level = gn.level_db(gn.response(builds, frequency=[100], volume=5)).isel(frequency=0)
found = float(level[1] - level[0])
print(f"by hand {by_hand:.2f} dB, in the guitar {found:.2f} dB")
assert 0 < by_hand - found < 0.1
assert check(by_hand, exercise.level_of_two_tapers)
assert check(found, exercise.level_of_two_tapers)
check(found, exercise.level_of_two_tapers)

# %% [markdown]
# ### 2. Pots sorted to ±10 %
#
# Two of the tolerances changed, the others as they are.

# %%
found = nine_in_ten("height", volume__resistance=0.1, tone__resistance=0.1)
print(f"as bought {nine_in_ten('height'):.2f} dB, sorted {found:.2f} dB")
assert check(found, exercise.pots_to_10_percent)
check(found, exercise.pots_to_10_percent)

# %% [markdown]
# ### 3. One cable for all
#
# A part that is the same in all guitars does not vary: its tolerance is 0.

# %%
found = nine_in_ten("frequency", cable__capacitance_per_metre=0)
print(f"each its own cable {nine_in_ten('frequency'):.0f} Hz, one cable {found:.0f} Hz")
assert check(found, exercise.same_cable_for_all)
check(found, exercise.same_cable_for_all)

# %% [markdown]
# Less than one would think. Independent causes add as squares, so taking away a smaller one changes
# little as long as the largest is there.
#
# ### 4. Coils sorted for 400 Hz
#
# Try some tolerances, and look where the range passes 400 Hz.

# %%
shares = [0.03, 0.04, 0.05, 0.06, 0.07, 0.08]
ranges = [nine_in_ten("frequency", pickup__inductance=share) for share in shares]
for share, hertz in zip(shares, ranges, strict=True):
    print(f"±{share:.0%}: {hertz:.0f} Hz")
found = 100 * float(np.interp(400, ranges, shares))
print(f"read off: ±{found:.1f} %")
assert check(found, exercise.inductance_for_400_hz)
check(found, exercise.inductance_for_400_hz)

# %% [markdown]
# Promise the dealer ±6 %, and mind where it stops paying: from ±4 to ±3 % you gain little, because
# the cable and the winding's capacitance still vary.

# %%
gain = ranges[1] - ranges[0]
print(f"from ±4 to ±3 %: {gain:.0f} Hz")
assert 0 < gain < 20

# %% [markdown]
# On to the next lesson: [Where the peak comes from](../12_where_the_peak_comes_from.ipynb).
