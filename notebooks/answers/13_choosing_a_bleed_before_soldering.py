# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Choosing a bleed before soldering
#
# To the lesson [Choosing a bleed before
# soldering](../13_choosing_a_bleed_before_soldering.ipynb). Try first; a worked answer teaches most
# when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import guitarnet as gn
from exercises import choosing_a_bleed_before_soldering as exercise
from exercises.checking import check

guitar = gn.layouts.one_pickup(
    gn.Pickup("6.2k", "2.4 H", "120p"), volume="250k", tone="250k", tone_capacitor="22n"
)
with_5_m = guitar.replace("cable.length", "5 m")
cables = {"cable.length": ["3 m", "6 m"]}

# %% [markdown]
# ## Is it so?
#
# ### "1 nF is always better than nothing"
#
# No search is needed to score two networks: `forms=[]` searches none, and "none" competes anyway.

# %%
scored = gn.choose_treble_bleed(guitar, forms=[], networks=["1n", "150k || 1n"], **cables)
one_nf, none, parallel = (scored[name] for name in ("1 nF", "none", "150 kΩ ∥ 1 nF"))
print(f"treble: {one_nf.treble:.1f} dB with 1 nF, {none.treble:.1f} dB without")
found = "yes" if one_nf.treble < none.treble else "no"
assert check(found, exercise.one_nf_beats_none)
check(found, exercise.one_nf_beats_none)

# %% [markdown]
# ### "A resistor beside the capacitor keeps the taper"

# %%
print(f"taper: {parallel.taper:.1f} dB rms off, at most {parallel.score.level:+.1f} dB")
found = "yes" if parallel.taper < 1 else "no"
assert check(found, exercise.parallel_keeps_the_taper)
check(found, exercise.parallel_keeps_the_taper)

# %% [markdown]
# ### "With odd values it would be better still"
#
# `rounding` holds, for each form, the treble error with free values and with those that are sold.

# %%
table = gn.choose_treble_bleed(guitar, **cables).rounding()
costs = [float(row[4]) - float(row[2]) for row in table]
print(f"rounding costs at most {max(costs):.3f} dB")
found = "yes" if max(costs) > 0.1 else "no"
assert check(found, exercise.odd_values_would_help)
check(found, exercise.odd_values_would_help)

# %% [markdown]
# ## Exercises
#
# ### 1. 680 pF alone

# %%
scored = gn.choose_treble_bleed(with_5_m, forms=[], networks=["680p"])
row = scored["680 pF"]
found = row.treble
print(f"{found:.2f} dB rms; worst {row.worst:+.1f} dB at volume {row.score.worst_at['volume']:g}")
assert check(found, exercise.score_of_680_pf)
check(found, exercise.score_of_680_pf)

# %% [markdown]
# Without a bleed it is less than half of that. Ask him where he turns the knob: if only a little,
# he may still be right, as in the lesson.

# %%
assert scored["none"].treble < found / 2
print(f"none: {scored['none'].treble:.2f} dB rms")

# %% [markdown]
# ### 2. From the drawer
#
# The same search with the values that are there.

# %%
drawer = gn.choose_treble_bleed(
    with_5_m, capacitors=["220p", "470p", "680p", "1n"], resistors=["100k", "150k", "220k"]
)
drawer

# %%
found = drawer.best.network
assert check(found, exercise.from_the_drawer)
check(found, exercise.from_the_drawer)

# %% [markdown]
# The same values win as in the large search of the lesson, here with another cable: nothing has to
# be ordered. If treble alone counted, look at the front in the last column.
#
# ### 3. The pickup with more inductance
#
# The same search with another guitar.

# %%
humbucker = gn.layouts.one_pickup(
    gn.Pickup("8.4k", "4.6 H", "110p"),
    volume="500k",
    tone="500k",
    tone_capacitor="22n",
    cable="5 m",
)
best = gn.choose_treble_bleed(humbucker).best
found = best.worst
print(f"{best.network}: worst {found:+.1f} dB at volume {best.score.worst_at['volume']:g}")
assert check(found, exercise.worst_of_a_humbucker)
check(found, exercise.worst_of_a_humbucker)

# %% [markdown]
# It stands at the mark 1, where few play. Leave the marks below 3 out of the goal, and another
# network wins, but its worst is hardly smaller. Behind 500 kΩ no such network keeps the shape of a
# pickup with this much inductance; say so before you solder.

# %%
marks = gn.choosing.BleedGoal(marks=range(10, 2, -1))
higher = gn.choose_treble_bleed(humbucker, goal=marks).best
print(f"marks 10 to 3 only: {higher.network}, worst {higher.worst:+.1f} dB")
assert best.score.worst_at["volume"] == 1
assert higher.network != best.network
assert 9 < abs(higher.worst) < abs(best.worst)

# %% [markdown]
# ### 4. The price of 3 dB
#
# A goal with a limit: whatever stays within it comes first.

# %%
strict = gn.choose_treble_bleed(with_5_m, goal=gn.choosing.BleedGoal(within=3)).best
free = gn.choose_treble_bleed(with_5_m).best
found = strict.taper
print(f"within 3 dB: {strict.network}, worst {strict.worst:+.1f} dB, taper {found:.2f} dB")
print(f"no limit:    {free.network}, worst {free.worst:+.1f} dB, taper {free.taper:.2f} dB")
assert abs(strict.worst) <= 3
assert check(found, exercise.price_of_3_db)
check(found, exercise.price_of_3_db)

# %% [markdown]
# Tell the owner both rows. One decibel less at the worst mark costs him one more part and 2.6 dB of
# taper.

# %%
assert round(abs(free.worst) - abs(strict.worst)) == 1
assert strict.parts == free.parts + 1
assert round(found, 1) == 2.6

# %% [markdown]
# Back to the lesson: [Choosing a bleed before
# soldering](../13_choosing_a_bleed_before_soldering.ipynb).
