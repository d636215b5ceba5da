# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Six readings, one fault
#
# **The question from the bench.** A guitar with three single coils comes back: "something is
# wrong with it". Before you slacken the strings you can plug in a cable, put the ohmmeter on tip
# and sleeve, and take six readings: one in each place of the switch with all controls up, and
# the largest that you meet while you turn the volume. What must they be? And which fault explains
# the ones you get?
#
# **What you learn.** What a sound guitar shows and how far it may be off; to reason from six
# numbers to a fault, and from a fault to the next measurement; what an ohmmeter cannot see.
#
# **How long it takes.** About forty minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing; for your own guitar an ohmmeter and a cable.
#
# The guitar is invented: pickups of 6, 6.2 and 6.8 kΩ, a five-way lever, 250 kΩ audio pots (one
# volume, two tones), a shared tone capacitor of 22 nF.

# %%
from collections import Counter

import matplotlib.pyplot as plt
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
ax = gn.draw(guitar)

# %% [markdown]
# ## Predict
#
# Write your numbers in place of `None` before you go on; "OL" is a number too.

# %%
my_neck = None  # kΩ: what does a sound guitar show in the place "neck", all controls up?
my_broken_neck = None  # kΩ: and if the wire of the neck pickup is broken?
my_largest = None  # kΩ: the largest reading while you turn the volume from 10 to 0, place "neck"?

# %% [markdown]
# ## Compute
#
# ### What a sound guitar must show
#
# "Shows" is for a guitar with exactly these values. Pots are off by up to 20 % and pickups by
# 5 %, so the columns after it say how far a sound guitar may be off.

# %%
meter = gn.bench.Ohmmeter()
gn.expected_readings(guitar, meter=meter).table()

# %%
neck = float(gn.jack_resistance(guitar, switch="neck")) / 1000
hint = "Count the coil, and whatever lies across it from hot to ground."
check(my_neck, neck, within="1 %", unit="kΩ", hint=hint)

# %% [markdown]
# The neck pickup has 6 kΩ and the meter shows 5.86: the volume pot lies across it, from its hot to
# ground. The pot may be off by 20 % and moves the reading by less than 1 %: at 10 you measure the
# pickup. The tone pots do not count at all, because the capacitor in series with them passes no
# direct current.
#
# The sixth reading is for the pot. The jack sees the lower piece of the track, parallel to the
# upper piece with the pickup behind it. Both together are always pot plus pickup, and two
# resistances of a given sum are largest in parallel when they are equal. So the largest reading is
# a quarter of pot plus pickup, whatever the taper.

# %%
largest = gn.bench.ResistanceReading(switch="neck", largest_over="volume")
top = float(largest.expected(guitar)) / 1000
hint = "The wiper sees two pieces of track in parallel: when is that largest?"
check(my_largest, top, within="3 %", unit="kΩ", hint=hint)

# %% [markdown]
# Here it is 64 kΩ; four times that, less the pickup, is the pot.
#
# ### What can go wrong
#
# Single faults, each made by editing the sound guitar: a joint taken off, two lugs joined, a part
# replaced. Each is a harness like any other and answers the same questions.

# %%
possible = gn.bench.faults(guitar)
kinds = Counter(fault.kind for fault in possible)
gn.Table(["kind of fault", "how many"], [*kinds.items(), ("together", len(possible))])

# %%
possible.of_kind("coil")

# %%
broken = float(possible["neck coil broken"].readings(switch="neck")) / 1000
hint = "The coil is not all that lies between tip and sleeve."
check(my_broken_neck, broken, within="3 %", unit="kΩ", hint=hint)

# %% [markdown]
# Look at the first line of each pickup. A broken coil does not read "OL" at the jack: it reads
# 250 kΩ, the pot that is still there.
#
# ### Three mysteries
#
# Each number hides one of these faults, drawn by a seed, in a guitar whose parts are drawn at
# random within their tolerances. You cannot see it in the code. You get what the meter shows,
# to four digits (without its own error).

# %%
six = [gn.bench.ResistanceReading(switch=place) for place in guitar.parts["switch"].places]
six.append(largest)


def hidden(number):
    """Draw the fault behind a number."""
    return possible[int(np.random.default_rng(number).integers(len(possible)))]


def measure(number, reading):
    """Take a reading on the guitar behind a number."""
    harness = hidden(number).guitar
    parts = {
        path: value[0].item()
        for path, value in gn.tolerances.spread(harness, 1, seed=number).items()
    }
    ohms = float(reading.expected(harness, meter=meter, **parts))
    taken = reading.with_ohms(float(f"{ohms:.4g}"))
    print(taken.label())
    return taken


# %% [markdown]
# ### The first: "no sound in one place of the switch"

# %%
first = [measure(421, reading) for reading in six]

# %% [markdown]
# Compare with the table of the sound guitar. Which readings are off, and what do the others rule
# out? Write down the kind of fault, one of the table above, then ask.

# %%
my_first = None  # "coil", "switch", "open joint", ...
asked_first = gn.diagnose(guitar, first)
asked_first

# %% [markdown]
# The other four places are sound, so the trouble lies between the neck pickup and the common lug
# of the switch. The jack tells you no more: a broken coil, an open joint at either lead and a dead
# contact all leave only the pot. "likely" and "rare" say how often such faults occur: joints open
# more often than new coils break. The last lines say what to measure next, and what each cause
# would show. Do so, three times:

# %%
told_first = asked_first
for _ in range(3):
    first.append(measure(421, told_first.next[0].reading))
    told_first = gn.diagnose(guitar, first)
print(told_first.verdict())

# %% [markdown]
# Both joints are good: two lugs that are soldered together read nothing but the meter's leads. The
# third reading is across the coil, and it decides.

# %%
hint = "What would the meter show between the leads of a sound coil?"
check(my_first, hidden(421).kind, choices=gn.bench.FAULT_KINDS, hint=hint)

# %% [markdown]
# Were the coil sound, its own 6 kΩ would show between its leads. Note that it is not "OL" even
# there: the pot still lies across it through the switch. Lift one lead and it is:

# %%
lifted = gn.bench.lug_resistance(hidden(421).guitar, "neck.hot", "neck.ground", lifted="neck.hot")
print("OL" if np.isinf(lifted) else f"{float(lifted):.0f} Ω")

# %% [markdown]
# ### The second: "it crackles, in all places"

# %%
second = [measure(93, reading) for reading in six]

# %% [markdown]
# All five places read too much. Subtract what they should read. Where must a resistance be that
# adds the same to all of them? And what does the sixth reading say about before or behind the
# volume pot?

# %%
my_second = None  # the kind of fault
asked_second = gn.diagnose(guitar, second, symptoms="crackles")
asked_second

# %%
second.append(measure(93, asked_second.next[0].reading))
asked_again = gn.diagnose(guitar, second, symptoms="crackles")
asked_again

# %% [markdown]
# The cheap reading came first: the guitar stays closed. With the volume at 0 the wiper is grounded
# and the jack must read nothing. It reads about 10 kΩ, so the bad joint lies between the wiper and
# the jack, or at the jack's sleeve. The next reading opens the guitar and tells these two apart:

# %%
second.append(measure(93, asked_again.next[0].reading))
told_second = gn.diagnose(guitar, second, symptoms="crackles")
print(told_second.verdict())

# %%
hint = "A resistance where there should be none."
check(my_second, hidden(93).kind, choices=gn.bench.FAULT_KINDS, hint=hint)

# %% [markdown]
# From the ground bus to the sleeve the meter shows only its leads, so that joint is good. The
# verdict gives the ohms of the bad one, and the limits within which they lie. (It is also why the
# sixth reading is high: a resistance after the pot adds to the largest reading in full, a
# resistance before it adds only a quarter.)
#
# ### The third: "thin in the two places between, fine in the other three"

# %%
third = [measure(460, reading) for reading in six]
unaided = gn.diagnose(guitar, third, steps=False)
print(unaided.verdict())

# %% [markdown]
# Every reading is in order. The meter has nothing to say, but the customer has. Write down the kind
# of fault, then enter the symptom that he described:

# %%
my_third = None  # the kind of fault
between = ["neck+middle", "middle+bridge"]
heard = {"thin": between}
asked_third = gn.diagnose(guitar, third, symptoms=heard)
asked_third

# %% [markdown]
# The middle pickup is in both of these places. Its sense is reversed: its leads are swapped where
# they are soldered, or the coil, or the magnet inside it. No ohmmeter tells coil from magnet. Two
# tests do, and the guitar stays closed for both: the screwdriver, which shows the way the meter
# kicks when it touches a pole, and the compass. Here is what they show on the third guitar:

# %%
pickups = ["neck", "middle", "bridge"]
volts = gn.response(hidden(460).guitar, switch=pickups, frequency=[100]).isel(frequency=0).real
kicks = {name: "positive" if float(volts.sel(switch=name)) > 0 else "negative" for name in pickups}
poles = {
    name: "south" if hidden(460).guitar.parts[name].magnet == -1 else "north" for name in pickups
}
tests = {"screwdriver": kicks, "compass": poles}
print(tests)

# %%
asked_again_third = gn.diagnose(guitar, third, symptoms=heard, tests=tests)
asked_again_third

# %% [markdown]
# The middle kicks the other way, and its magnet is like the others. So it is the leads or the coil.
# Leads are swapped more often than coils are wound the wrong way round, so the leads are "likely".
# One reading with the guitar open decides:

# %%
third.append(measure(460, asked_again_third.next[0].reading))
told_third = gn.diagnose(guitar, third, symptoms=heard, tests=tests, steps=False)
print(told_third.verdict())

# %%
hint = "The leads are where they belong, so where is the sense reversed?"
check(my_third, hidden(460).kind, choices=gn.bench.FAULT_KINDS, hint=hint)

# %% [markdown]
# Its ground lead is where it belongs, so the coil is reversed inside the pickup. The three were:

# %%
for number in (421, 93, 460):
    print(hidden(number).label)

# %% [markdown]
# ### What an ohmmeter cannot see
#
# The largest change of the six readings, computed for each; what people say they hear; and the
# test that finds it.


# %%
def readings_of(harness):
    """Give the six readings [ohm], as a perfect meter shows them."""
    return np.array([float(reading.expected(harness)) for reading in six])


sound = readings_of(guitar)
kick = "tap a pole with a screwdriver, meter on low DC volts: which way does it kick?"
cannot_see = {
    "middle coil reversed": ("thin together with another", kick),
    "middle magnet reversed": ("thin together with another", "compass above the poles"),
    "tone capacitor open": ("tone does nothing", "capacitance range, one leg lifted"),
    "switch contact b dead": ("tone does nothing", "continuity across the switch"),
    "jack tip and sleeve swapped": (
        "buzz on touching the strings",
        "sleeve to bridge or tailpiece",
    ),
}
change = {
    words: float(np.abs(readings_of(possible[words].guitar) / sound - 1).max())
    for words in (*cannot_see, "tone capacitor is 220 nF, not 22 nF")
}
gn.Table(
    ["what is wrong", "readings change by", "what people say", "find it by"],
    [(words, f"{100 * change[words]:.1f} %", *rest) for words, rest in cannot_see.items()],
)

# %%
within = meter.limit(sound)  # the meter's own limits of error
blind = sum(bool((abs(readings_of(one.guitar) - sound) <= within).all()) for one in possible)
print(f"{blind} of {len(possible)} faults leave all six readings as they were")

# %% [markdown]
# Half of them. So sound readings do not make a sound guitar: tap the poles, turn every knob, and
# plug it in once more before you call it done.
#
# ## Look
#
# ### A quarter of the pot
#
# What the jack shows over the whole turn of the volume. A treble bleed with a resistor in parallel
# changes the picture: its resistor lies across the upper piece of the track.

# %%
with_bleed = guitar.replace("treble_bleed", "1n || 150k")
marks = np.linspace(0, 10, 201)
quarter = (250 + 6) / 4
fig, ax = plt.subplots(figsize=(7.6, 4.4), layout="constrained")
for label, harness, dash, colour, place in [
    ("no bleed", guitar, "-", "#0072b2", (8.85, 55)),
    ("1 nF ∥ 150 kΩ", with_bleed, "--", "#d55e00", (6.25, 38)),
]:
    ohms = gn.jack_resistance(harness, switch="neck", volume=marks) / 1000
    ax.plot(marks, ohms, dash, color=colour, linewidth=2)
    ax.text(*place, label, color=colour, weight="bold")
ax.axhline(quarter, color="grey", linewidth=1)
ax.text(0.1, quarter + 1, "(250 kΩ + 6 kΩ) / 4", color="dimgrey")
ax.set(xlim=(0, 10), ylim=(0, 75), xlabel="volume", ylabel="at the jack, place neck [kΩ]")
ax.spines[["top", "right"]].set_visible(False)
ax.grid(color="#e4e4e4")
title = "Without a bleed the top is a quarter of pot plus pickup"
_ = ax.set_title(title, loc="left", weight="bold")

# %% [markdown]
# With the bleed the largest is 46.6 kΩ, and the rule would say 180 kΩ, wrong by more than a
# quarter. Then ask the whole circuit instead, as in the third exercise.
#
# ### The third guitar

# %%
builds = {"as it should be": guitar, "the third guitar": hidden(460).guitar}
h = gn.response(builds, switch="neck+middle")
ax = gn.plot_response(h, title="Neck and middle out of phase: little is left")

# %% [markdown]
# In the model both pickups give the same signal, so over 20 dB of it cancel. On a guitar a string
# moves differently above each of them, and more is left.
#
# ### Turn the knob
#
# Two faults that the knob tells at once, beside the sound guitar, live: a linear pot where an audio
# one belongs, and a volume whose ground lug is open, so that it never goes to zero. (Without a
# running or trusted notebook you see a still picture.)

# %%
faulty = ["volume is linear, not audio 15%", "open joint at volume low"]
turned = {"sound": guitar} | {words: possible[words].guitar for words in faulty}
live = gn.response(turned, switch="neck", volume=range(11))
gn.live_page(live, re=None, title="What the volume knob tells (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "Zero in continuity means broken"

# %%
mine = None  # "yes" or "no": zero from the volume's wiper to the jack's tip: is the joint broken?
check(mine, exercise.zero_means_broken)

# %%
probes = ("volume.wiper", "jack.tip")
joined = float(gn.bench.lug_resistance(guitar, *probes))
open_joint = possible["open joint at volume wiper and jack tip"].guitar
opened = float(gn.bench.lug_resistance(open_joint, *probes))
print(f"joined: {joined:g} Ω; broken: {'OL' if np.isinf(opened) else opened}")

# %% [markdown]
# It is the reverse. Zero means joined; a broken joint reads "OL". The saying comes from the other
# case: zero between hot and ground is a fault indeed, a short. What zero means depends on whether
# the two lugs should be one.
#
# ### "A broken pickup reads open"

# %%
mine = None  # "yes" or "no": neck coil broken, place neck: does the meter show OL at the jack?
check(mine, exercise.broken_coil_reads_open)

# %% [markdown]
# On the bench, yes. In the guitar you read the pot, 250 kΩ. And so "250 kΩ is the pot, the pickup
# is fine" is wrong as well: it is the pot, so the pickup is *not* there.
#
# ### "The meter would show a wrong tone capacitor"

# %%
mine = None  # "yes" or "no": 220 nF for 22 nF: does any of the six readings change by over 0.1 %?
check(mine, exercise.wrong_tone_capacitor)

# %%
swapped = {value: guitar.replace("tone_capacitor", value) for value in ("22n", "220n")}
dull = gn.level_db(gn.response(swapped, frequency=[500], switch="neck", tone_1=0)).isel(frequency=0)
apart = float(dull[1] - dull[0])
wrong = change["tone capacitor is 220 nF, not 22 nF"]
print(f"the six readings change by {100 * wrong:.1f} %")
print(f"with the tone at 0 the level at 500 Hz changes by {apart:.1f} dB")

# %% [markdown]
# Not one of the six. It counts only with the tone turned down, by 18 dB at 500 Hz. The meter
# shows it all the same, on another range: capacitance, one leg lifted. And a *shorted* tone
# capacitor does show on the ohmmeter, because then the tone pot is a second resistance from hot to
# ground:

# %%
shorted = possible["tone capacitor shorted"].guitar
at_10, at_0 = gn.jack_resistance(shorted, switch="neck", tone_1=[10, 0]).values
print(f"shorted, place neck: {at_10 / 1000:.2f} kΩ with the tone at 10, {at_0:.0f} Ω at 0")

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it, and take the
# battery out of active electronics. Never open an amplifier: its voltages are lethal even when it
# is off. The iron is hot and stays in its stand. Ventilate the fumes. Wash your hands after using
# leaded solder. Wear goggles when clipping leads. The mains earth must be intact. Local electrical
# codes and a licensed technician come before this lesson.
#
# Cable into the guitar and nothing at its other end; meter on tip and sleeve, range 20 kΩ, for
# the sixth reading 200 kΩ. Hold the plugs by their insulation, not the metal: your body conducts.
# Describe your guitar with one of `gn.layouts`, or build it as in the lesson "Joints, switches,
# your own harness", and write your readings as you note them down:

# %%
yours = {
    "neck": "5.91k",
    "neck+middle": "3.05k",
    "middle": "6.10k",
    "middle+bridge": "6.71k",
    "bridge": "6.71k",
}
print(gn.diagnose(guitar, yours, steps=False).verdict())

# %% [markdown]
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/10_six_readings_one_fault.ipynb).
#
# **1.** "The bridge has become weak." In its place the meter shows 5.83 kΩ, all other readings are
# as they should be. By how many percent is the coil itself short of its 6.8 kΩ? (More than 5 % is
# a fault, such as turns that are shorted.)

# %%
mine = None  # %
check(mine, exercise.weak_bridge)

# %% [markdown]
# **2.** Another guitar of this kind: neck 5.9 kΩ, neck+middle 0, middle 0, middle+bridge 0, bridge
# 6.7 kΩ. Which fits: "middle coil broken", "middle coil shorted", "open joint at middle ground" or
# "hot touches the shield at the jack"?

# %%
mine = None
check(mine, exercise.three_zeros)

# %% [markdown]
# **3.** One has a treble bleed, 1 nF parallel to 150 kΩ. In the place neck it reads 5.84 kΩ at 10,
# and at most 43.5 kΩ as you turn the volume. What has its pot?

# %%
mine = None  # kΩ
check(mine, exercise.pot_behind_a_bleed)

# %% [markdown]
# **4.** A last one crackles. Its parts are as marked, and the six readings are 8.69, 5.91, 8.87,
# 6.09, 9.43 and 64.75 kΩ. Somewhere is a bad joint. Before or behind the volume pot? And what has
# it?

# %%
mine = None  # kΩ
check(mine, exercise.ohms_of_the_joint)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert abs(neck - 1 / (1 / 6 + 1 / 250)) < 1e-6
assert round(neck, 2) == 5.86
limits = gn.tolerances.tolerances_of(guitar)
assert (limits["volume.resistance"], limits["neck.resistance"]) == (0.2, 0.05)
nominal = gn.expected_readings(guitar).data.nominal.isel(knobs=0)
pickups = {"neck": 6.0, "middle": 6.2, "bridge": 6.8}
for place in guitar.parts["switch"].places:
    alone = sum(1 / pickups[name] for name in place.split("+"))
    assert abs(float(nominal.sel(switch=place)) / 1000 - 1 / (alone + 1 / 250)) < 1e-6
assert gn.expected_readings(guitar).silent_controls == ("tone_1", "tone_2")
pot_off = gn.jack_resistance(guitar, {"switch": "neck", "volume.resistance": ["200k", "300k"]})
assert float(abs(pot_off / 1000 / neck - 1).max()) < 0.01
assert abs(top - quarter) < 0.01
assert round(top) == 64
assert abs(gn.bench.pot_from_largest(1e3 * top, "6k") / 250e3 - 1) < 1e-3
top_with_bleed = float(largest.expected(with_bleed))
assert round(top_with_bleed / 1e3, 1) == 46.6
assert round(gn.bench.pot_from_largest(top_with_bleed, "6k") / 1e3) == 180
assert 180 < (1 - 0.25) * 250
assert abs(broken - 250) < 1e-6
assert sum(kinds.values()) == len(possible)
assert set(kinds) <= set(gn.bench.FAULT_KINDS)
assert hidden(421).label == "neck coil broken"
assert hidden(93).label == "resistive joint at volume wiper and jack tip"
assert hidden(460).label == "middle coil reversed"
assert len(asked_first.fitting) == 1
assert len(asked_first.fitting[0].faults) == 4
assert [str(one) for one in told_first.fitting] == [hidden(421).label]
assert first[-1].between == ("neck.hot", "neck.ground")
assert 200e3 < first[-1].ohms < 300e3
assert np.isinf(lifted)
assert len(asked_second.fitting) == 2
assert second[-1].between == ("neck.ground", "jack.sleeve")
assert second[-1].ohms < 1
assert second[-2].settings == {"switch": "neck", "volume": 0}
off = [reading.ohms - float(ohms) for reading, ohms in zip(second, nominal, strict=False)]
assert all(9.4e3 < ohms < 11e3 for ohms in off)
assert str(told_second.explanations[0]) == hidden(93).label
assert told_second.explanations[0].probability > 0.99
assert 9e3 < second[-2].ohms < 11e3
bad = gn.bench.faults(guitar, kinds="resistive joint")
behind = float(largest.expected(bad["resistive joint at volume wiper and jack tip"].guitar))
ahead = float(largest.expected(bad["resistive joint at volume high"].guitar))
assert abs(behind - 1e3 * top - 10e3) < 10
assert abs(ahead - 1e3 * top - 2.5e3) < 10
assert unaided.sound
assert [reading.between for reading in first[-3:-1]] == [
    ("neck.ground", "middle.ground"),
    ("neck.hot", "switch.a1"),
]
assert {reading.ohms for reading in first[-3:-1]} == {0.2}
assert kicks == {"neck": "positive", "middle": "negative", "bridge": "positive"}
assert set(poles.values()) == {"north"}
suspects = asked_again_third.explanations[0]
assert [str(one) for one in suspects.faults] == ["middle hot and ground swapped", hidden(460).label]
assert suspects.occurrence()[0] == "likely"
assert str(told_third.explanations[0]) == hidden(460).label
assert told_third.explanations[0].probability > 0.95
assert third[-1].between == ("neck.ground", "middle.ground")
assert third[-1].ohms < 1
changed = hidden(460).change_db(frequency=[100, 1000], switch=list(guitar.parts["switch"].places))
assert float(changed.sel(switch=between).max()) < -20
others = [place for place in changed.switch.values if place not in between]
assert float(abs(changed.sel(switch=others)).max()) < 1e-9
assert max(change.values()) < 1e-9
assert 2 * blind == len(possible)
assert joined == 0
assert np.isinf(opened)
told = gn.diagnose(guitar, yours, steps=False)
assert [str(one) for one in told.fitting] == ["switch contact a2 dead at middle+bridge"]
assert round(apart) == -18
assert abs(at_10 / 1000 - 1 / (1 / 6 + 2 / 250)) < 1e-6
assert at_0 == 0

# %% [markdown]
# **Turn the page.** The next lesson is [How far apart are two guitars built
# alike?](11_two_guitars_built_alike.ipynb). Compare your exercises with the [worked
# answers](answers/10_six_readings_one_fault.ipynb) first.
