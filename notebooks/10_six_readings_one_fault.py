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
# You need nothing on the bench for this lesson; the last part says how to do it on a guitar. It
# takes about forty minutes. The guitar is invented: pickups of 6, 6.2 and 6.8 kΩ, a five-way
# lever, 250 kΩ audio pots (one volume, two tones), a shared tone capacitor of 22 nF.

# %%
from collections import Counter

import matplotlib.pyplot as plt
import numpy as np

import guitarnet as gn

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
# Write down your numbers before you go on.

# %%
my_neck = 6.0  # kΩ: what does a sound guitar show in the place "neck", all controls up?
my_broken_neck = float("inf")  # kΩ: and if the neck pickup's coil is broken? ("inf" for open)
my_largest = 250  # kΩ: the largest reading while you turn the volume from 10 to 0?

# %% [markdown]
# ## What a sound guitar must show
#
# "Shows" is for a guitar with exactly these values. Pots are off by up to 20 % and pickups by
# 5 %, and the meter has its own error, so the columns after it say how far a sound guitar may be
# off.

# %%
meter = gn.Ohmmeter()
gn.expected_readings(guitar, meter=meter).table()

# %% [markdown]
# The neck pickup has 6 kΩ and the meter shows less: the volume pot lies across it, from its hot
# to ground. At 10 that is 6 kΩ parallel to 250 kΩ. The pot may be off by 20 % and hardly moves the
# reading: at 10 you measure the pickup. The tone pots do not count at all, because the capacitor
# in series with them passes no direct current.

# %%
neck = float(gn.jack_resistance(guitar, switch="neck")) / 1000
by_hand = 1 / (1 / 6 + 1 / 250)
print(f"{neck:.2f} kΩ; by hand {by_hand:.2f} kΩ; you expected {my_neck} kΩ")

# %% [markdown]
# ## A quarter of the pot
#
# Turn the volume down and the reading rises, and then falls to nothing. The jack sees the lower
# piece of the track, parallel to the upper piece with the pickup behind it. Both together are
# always pot plus pickup, and two resistances of a given sum are largest in parallel when they
# are equal. So the largest reading is a quarter of pot plus pickup, whatever the taper.
#
# This does not hold where something else conducts. A treble bleed with a resistor in parallel is
# the usual case: its resistor lies across the upper piece.

# %%
with_bleed = guitar.replace("treble_bleed", "1n || 150k")
marks = np.linspace(0, 10, 201)
quarter = (250 + 6) / 4
fig, ax = plt.subplots(figsize=(7.6, 4.4))
for label, harness, dash, colour, place in [
    ("no bleed", guitar, "-", "#0072b2", (8.75, 55)),
    ("1 nF ∥ 150 kΩ", with_bleed, "--", "#d55e00", (6.4, 38)),
]:
    ohms = gn.jack_resistance(harness, switch="neck", volume=marks) / 1000
    ax.plot(marks, ohms, dash, color=colour)
    ax.text(*place, label, color=colour)
ax.axhline(quarter, color="grey", linewidth=1)
ax.text(0.1, quarter + 1, "(250 kΩ + 6 kΩ) / 4", color="grey")
ax.set(xlim=(0, 10), ylim=(0, 75), xlabel="volume", ylabel="at the jack [kΩ]")
title = ax.set_title("Without a bleed: a quarter of pot plus pickup", loc="left", weight="bold")

# %%
largest = gn.ResistanceReading(switch="neck", largest_over="volume")
top = float(largest.expected(guitar)) / 1000
top_with_bleed = float(largest.expected(with_bleed)) / 1000
print(f"largest without a bleed {top:.1f} kΩ, with it {top_with_bleed:.1f} kΩ; ", end="")
print(f"you expected {my_largest} kΩ")
print(f"the pot by the rule: {gn.pot_from_largest(1e3 * top, '6k') / 1e3:.0f} kΩ without, ", end="")
print(f"{gn.pot_from_largest(1e3 * top_with_bleed, '6k') / 1e3:.0f} kΩ with the bleed")

# %% [markdown]
# With the bleed the rule is wrong by a third. Then ask the whole circuit instead: which pickup
# and which pot give these two readings, the bleed being there?

# %%
two_readings = [
    gn.ResistanceReading("5.859k", switch="neck", volume=10),
    gn.ResistanceReading(round(1e3 * top_with_bleed), switch="neck", largest_over="volume"),
]
found = gn.values_from_readings(with_bleed, two_readings, ["neck.resistance", "volume.resistance"])
found.table()

# %% [markdown]
# ## What can go wrong
#
# Single faults, each made by editing the sound guitar: a joint taken off, two lugs joined, a part
# replaced. Each is a harness like any other and answers the same questions.

# %%
possible = gn.faults(guitar)
kinds = Counter(fault.kind for fault in possible)
gn.Table(["kind of fault", "how many"], [*kinds.items(), ("together", len(possible))])

# %%
possible.of_kind("coil")

# %% [markdown]
# Look at the first line of each pickup. A broken coil does not read "OL" at the jack: it reads
# 250 kΩ, the pot that is still there.

# %%
broken = float(possible["neck coil broken"].readings(switch="neck")) / 1000
print(f"neck coil broken, place neck: {broken:.0f} kΩ; you expected {my_broken_neck} kΩ")

# %% [markdown]
# ## Three mysteries
#
# Behind each number stands one of these faults, drawn by a seed, in a guitar whose parts are
# drawn at random within their tolerances. You cannot see it in the code, nor could we. What you
# get is what the meter shows, to four digits (its own error left out).

# %%
six = [gn.ResistanceReading(switch=place) for place in guitar.parts["switch"].places]
six.append(largest)


def hidden(number):
    """Draw the fault behind a number."""
    return possible[int(np.random.default_rng(number).integers(len(possible)))]


def measure(number, reading):
    """Take a reading on the guitar behind a number."""
    harness = hidden(number).guitar
    parts = {path: value[0].item() for path, value in gn.spread(harness, 1, seed=number).items()}
    ohms = float(reading.expected(harness, meter=meter, **parts))
    return reading.with_ohms(float(f"{ohms:.4g}"))


def printed(readings):
    """Print what was read."""
    for reading in readings:
        print(reading.label())


# %% [markdown]
# ### The first
#
# "No sound in one place of the switch."

# %%
first = [measure(421, reading) for reading in six]
printed(first)

# %% [markdown]
# Compare with the table of the sound guitar. Which readings are off, and what do the others rule
# out? Write down what you think it is, then ask.

# %%
my_first = "..."

# %%
asked_first = gn.diagnose(guitar, first)
asked_first

# %% [markdown]
# The other four places are sound, so the trouble lies between the neck pickup and the common lug
# of the switch. More the jack cannot tell: a broken coil, an open joint at either lead, a dead
# contact all leave only the pot. It says what to measure next. Do so:

# %%
first.append(measure(421, asked_first.next[0].reading))
print(first[-1].label())
told_first = gn.diagnose(guitar, first)
told_first

# %%
print(f"It was: {hidden(421).words}. You said: {my_first}")

# %% [markdown]
# Were the coil sound, its own 6 kΩ would show between its leads. Note that it is not "OL" even
# there: the pot still lies across it through the switch. Lift one lead and it is:

# %%
lifted = gn.lug_resistance(hidden(421).guitar, "neck.hot", "neck.ground", lifted="neck.hot")
print("OL" if np.isinf(lifted) else f"{float(lifted):.0f} Ω")

# %% [markdown]
# ### The second
#
# "It crackles, in all places."

# %%
second = [measure(93, reading) for reading in six]
printed(second)

# %% [markdown]
# All five places read too much. Subtract what they should read. Where must a resistance be that
# adds the same to all of them? And what does the sixth reading say about before or behind the
# volume pot?

# %%
my_second = "..."

# %%
asked_second = gn.diagnose(guitar, second, symptoms="crackles")
asked_second

# %%
second.append(measure(93, asked_second.next[0].reading))
print(second[-1].label())
told_second = gn.diagnose(guitar, second, symptoms="crackles")
told_second

# %%
print(f"It was: {hidden(93).words}. You said: {my_second}")

# %% [markdown]
# Two lugs that are soldered together must read nothing but the meter's leads. About 10 kΩ there
# is a bad joint. (It is also why the sixth reading is high: what stands behind the pot adds to
# the largest reading in full, what stands before it adds only a quarter.)

# %% [markdown]
# ### The third
#
# "Thin in the two places between, fine in the other three."

# %%
third = [measure(460, reading) for reading in six]
printed(third)

# %%
my_third = "..."

# %%
unaided = gn.diagnose(guitar, third, steps=False)
print(unaided.verdict())

# %% [markdown]
# Every reading is in order. The meter has nothing to say, but the customer has:

# %%
between = ["neck+middle", "middle+bridge"]
heard = {"thin": between}
asked_third = gn.diagnose(guitar, third, symptoms=heard)
asked_third

# %% [markdown]
# The middle pickup is in both of these places. Its sense is reversed: its leads changed over where
# they are soldered, or the coil, or the magnet inside it. One reading with the guitar open tells
# the leads from the others:

# %%
third.append(measure(460, asked_third.next[0].reading))
print(third[-1].label())
told_third = gn.diagnose(guitar, third, symptoms=heard, steps=False)
likeliest = told_third.explanations[0]
print(f"{likeliest.probability:.0%}: {likeliest}")
print(f"It was: {hidden(460).words}. You said: {my_third}")

# %% [markdown]
# Its ground lead is where it belongs, so it is inside the pickup. Coil or magnet: no meter on a
# lead tells, a compass does.

# %%
builds = {"as it should be": guitar, "the third guitar": hidden(460).guitar}
h = gn.compare(builds, switch="neck+middle")
ax = gn.plot_response(h, title="Neck and middle out of phase: little is left")

# %% [markdown]
# In the model both pickups give the same signal, so almost all of it cancels. On a guitar a
# string moves differently above each of them, and more is left, least in the bass.

# %% [markdown]
# ## What an ohmmeter cannot see
#
# The largest change of the six readings, computed for each; what people say they hear; and the
# test that finds it.


# %%
def change(harness, sound=guitar):
    """Give the largest change of the six readings, as a share."""
    return max(
        abs(float(reading.expected(harness)) / float(reading.expected(sound)) - 1)
        for reading in six
    )


def volumes(wiring):
    """Give readings of a guitar with one pickup over the volume knob."""
    single = gn.layouts.one_pickup(guitar.parts["middle"], wiring=wiring)
    return gn.jack_resistance(single, volume=[10, 7, 5, 3, 0])


fifties = float(abs(volumes("50s") / volumes("modern") - 1).max())
cannot_see = [
    (
        "middle coil reversed",
        change(possible["middle coil reversed"].guitar),
        "thin together with another",
        "tap a pole with a screwdriver, meter on low DC volts: which way does it kick?",
    ),
    (
        "middle magnet reversed",
        change(possible["middle magnet reversed"].guitar),
        "thin together with another",
        "compass above the poles",
    ),
    (
        "tone capacitor open",
        change(possible["tone capacitor open"].guitar),
        "tone does nothing",
        "capacitance range of the meter, one leg lifted",
    ),
    (
        "tone capacitor is 220 nF, not 22 nF",
        change(possible["tone capacitor is 220 nF, not 22 nF"].guitar),
        "dark when turned down",
        "its marking (223), or the capacitance range",
    ),
    (
        "switch contact b dead",
        change(possible["switch contact b dead"].guitar),
        "tone does nothing",
        "continuity across the switch, place by place",
    ),
    (
        "jack tip and sleeve swapped",
        change(possible["jack tip and sleeve swapped"].guitar),
        "buzz that rises on touching the strings",
        "continuity from the sleeve to the bridge or tailpiece",
    ),
    (
        "a treble bleed of 1 nF alone",
        change(guitar.replace("treble_bleed", "1n")),
        "thin when turned down",
        "look; capacitance from volume high to wiper",
    ),
    (
        "50s wiring, not modern (one pickup)",
        fifties,
        "tone and volume work otherwise",
        "continuity: which lug of the volume is the tone on?",
    ),
]
gn.Table(
    ["what is wrong", "readings change by", "what people say", "find it by"],
    [(words, f"{100 * share:.1f} %", said, test) for words, share, said, test in cannot_see],
)


# %%
def unseen(fault):
    """Say whether every reading is within the meter's limits of that of the sound guitar."""
    return all(
        abs(float(reading.expected(fault.guitar)) - ohms) <= meter.limit(ohms)
        for reading, ohms in zip(six, sound_readings, strict=True)
    )


sound_readings = [float(reading.expected(guitar)) for reading in six]
blind = sum(unseen(fault) for fault in possible)
print(f"{blind} of {len(possible)} faults leave all six readings as they were")

# %% [markdown]
# So sound readings do not make a sound guitar. Tap the poles, turn every knob, and listen.

# %% [markdown]
# ## Is it so?
#
# *"Zero in continuity means broken."* It is the reverse. Zero means joined: from the volume's
# wiper to the jack's tip there must be next to nothing. A broken joint reads "OL":

# %%
probes = ("volume.wiper", "jack.tip")
joined = float(gn.lug_resistance(guitar, *probes))
open_joint = possible["open joint at volume wiper and jack tip"].guitar
opened = float(gn.lug_resistance(open_joint, *probes))
print(f"joined: {joined:g} Ω; broken: {'OL' if np.isinf(opened) else opened}")

# %% [markdown]
# *"A broken pickup reads open."* On the bench, yes. In the guitar you read the pot.
#
# *"250 kΩ in a place of the switch is the pot, so the pickup is fine."* It is the pot, so the
# pickup is *not* there.

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it, and take the
# battery out of active electronics. Never open an amplifier: its voltages are lethal even when it
# is off. The iron is hot and stays in its stand; ventilate fumes; lead solder wants washed hands;
# wear goggles when clipping leads. The mains earth must be intact. Local electrical codes and a
# licensed technician come before this lesson.
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
# ## Check
#
# Every number in the text above, asserted.

# %%
assert abs(neck - by_hand) < 1e-6
assert round(neck, 2) == 5.86
nominal = gn.expected_readings(guitar).data.nominal.isel(knobs=0)
pickups = {"neck": 6.0, "middle": 6.2, "bridge": 6.8}
for place in guitar.parts["switch"].places:
    alone = sum(1 / pickups[name] for name in place.split("+"))
    assert abs(float(nominal.sel(switch=place)) / 1000 - 1 / (alone + 1 / 250)) < 1e-6
assert gn.expected_readings(guitar).silent_controls == ("tone_1", "tone_2")
pot_off = gn.jack_resistance(guitar, switch="neck", **{"volume.resistance": ["200k", "300k"]})
assert float(abs(pot_off / 1000 / neck - 1).max()) < 0.01
assert abs(top - quarter) < 0.01
assert abs(gn.pot_from_largest(1e3 * top, "6k") / 250e3 - 1) < 1e-3
rule = gn.pot_from_largest(1e3 * top_with_bleed, "6k") / 250e3
assert 0.6 < rule < 0.75
assert abs(found.values["neck.resistance"] / 6000 - 1) < 1e-3
assert abs(found.values["volume.resistance"] / 250e3 - 1) < 1e-3
assert abs(broken - 250) < 1e-6
assert sum(kinds.values()) == len(possible)
assert set(kinds) <= set(gn.FAULT_KINDS)
assert hidden(421).words == "neck coil broken"
assert hidden(93).words == "resistive joint at volume wiper and jack tip"
assert hidden(460).words == "middle coil reversed"
assert len(asked_first.fitting) == 1
assert len(asked_first.fitting[0].faults) == 4
assert [str(one) for one in told_first.fitting] == [hidden(421).words]
assert first[-1].between == ("neck.hot", "neck.ground")
assert 200e3 < first[-1].ohms < 300e3
assert np.isinf(lifted)
assert len(asked_second.fitting) == 2
off = [reading.ohms - float(ohms) for reading, ohms in zip(second, nominal, strict=False)]
assert all(9.4e3 < ohms < 11e3 for ohms in off)
assert str(told_second.explanations[0]) == hidden(93).words
assert told_second.explanations[0].probability > 0.99
assert 9e3 < second[-1].ohms < 11e3
bad = gn.faults(guitar, kinds="resistive joint")
behind = float(largest.expected(bad["resistive joint at volume wiper and jack tip"].guitar))
ahead = float(largest.expected(bad["resistive joint at volume high"].guitar))
assert abs(behind - 1e3 * top - 10e3) < 10
assert abs(ahead - 1e3 * top - 2.5e3) < 10
assert unaided.healthy_fits
assert {fault.words for fault in likeliest.faults} == {hidden(460).words, "middle magnet reversed"}
assert likeliest.probability > 0.75
assert third[-1].between == ("neck.ground", "middle.ground")
assert third[-1].ohms < 1
changed = hidden(460).change_db([100, 1000], switch=list(guitar.parts["switch"].places))
assert float(changed.sel(switch=between).max()) < -20
others = [place for place in changed.switch.values if place not in between]
assert float(abs(changed.sel(switch=others)).max()) < 1e-9
assert all(share < 1e-9 for _, share, _, _ in cannot_see)
assert 0.4 < blind / len(possible) < 0.6
assert joined == 0
assert np.isinf(opened)
told = gn.diagnose(guitar, yours, steps=False)
assert [str(one) for one in told.fitting] == ["switch contact a2 dead at middle+bridge"]
