# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Series, parallel, split
#
# **The question from the bench.** A customer asks for a switch on a humbucker: series, parallel,
# or split to one coil. What does each do to the level, to the peak and to the hum, and why does
# "split" not make it a single coil pickup?
#
# **What you learn.** How two coils add up in series and in parallel, why the peak moves in the
# guitar and not without it, what an idle coil does, how much hum remains, and what the meter
# shows.
#
# **How long it takes.** About twenty-five minutes, and twenty for the exercises.
#
# **What you need on the bench.** Nothing. For the last part a guitar with such a switch, a cable
# and an ohmmeter.
#
# The pickup is invented: two coils of 4.2 kΩ, 2.1 H and 180 pF of AWG 42 wire, the second reverse
# wound over a reversed magnet, with a coupling of 0.12, the middle of what an open dataset of
# measured pickups gives.

# %%
import guitarnet as gn
from exercises import series_parallel_split as exercise
from exercises.checking import check

coil = gn.Coil("4.2k", "2.1 H", "180p", wire="AWG 42")
humbucker = gn.Humbucker(coil, coil, coupling=0.12)
guitar = gn.layouts.one_pickup(
    humbucker, volume="500k", tone="500k", tone_capacitor="22n", cable="5 m"
)
guitar

# %% [markdown]
# ## Predict
#
# Write your numbers in place of `None` before you go on. A wrong one costs nothing: the distance
# between what you expected and what comes out is the lesson.

# %%
my_unloaded = None  # times: where is the peak in parallel, against series, the pickup alone?
my_ratio = None  # times: and in the guitar, with 5 m of cable?
my_split_level = None  # dB, minus for quieter: one coil against both in series, at 100 Hz?
my_reading = None  # kΩ: what does the ohmmeter show at the jack in parallel, all controls up?

# %% [markdown]
# ## Compute
#
# ### The pickup alone
#
# Two coils in series add their inductances, and twice the mutual inductance on top; in parallel
# there is a quarter of that. The winding capacitances do the opposite. So, unloaded, the peak
# does not move at all:

# %%
connections = ["series", "parallel", "coil 1", "coil 1, other shunted"]
alone = gn.layouts.pickup_alone(humbucker)
unloaded = gn.peak(gn.response(alone, {"pickup.connection": connections})).frequency
gn.Table(
    ("connection", "unloaded peak [Hz]"),
    [(name, f"{float(f):.0f}") for name, f in zip(connections, unloaded, strict=True)],
)

# %%
unloaded_ratio = float(unloaded[1] / unloaded[0])
check(
    my_unloaded,
    unloaded_ratio,
    within=0.1,
    hint="The peak goes with 1/√(LC): what becomes of L, and what of C?",
)

# %% [markdown]
# A shunted coil is a short-circuited winding beside the one that plays: it takes k² = 1.4 % off
# the inductance, so that peak lies 0.7 % higher than in a bare coil, and higher than in the
# others, whose coupled partner adds to theirs.
#
# ### In the guitar
#
# Now the cable's 500 pF count for more than the windings, and they do not change with the switch.

# %%
h = gn.response(guitar, {"volume": 10, "pickup.connection": connections})
peak = gn.peak(h)
level = gn.level_db(h).interp(frequency=100)
level = level - level.sel({"pickup.connection": "series"})
gn.Table(
    ("connection", "peak [Hz]", "height [dB re 100 Hz]", "level at 100 Hz [dB re series]"),
    [
        (name, f"{float(f):.0f}", f"{float(top):.1f}", f"{float(low) + 0.0:.1f}")
        for name, f, top, low in zip(connections, peak.frequency, peak.height, level, strict=True)
    ],
)

# %%
ratio = float(peak.frequency[1] / peak.frequency[0])
check(
    my_ratio,
    ratio,
    within=0.1,
    hint="A quarter of the inductance, and nearly the same capacitance.",
)

# %%
split_level = float(level.sel({"pickup.connection": "coil 1"}))
check(my_split_level, split_level, unit="dB", within="0.5 dB", hint="Half the voltage is missing.")

# %% [markdown]
# With an external capacitor alone the ratio would be 2 (a quarter of the inductance). Here it is
# 1.73: the windings' own capacitance pulls it down, and so does the pots' load. The level falls by
# about 6 dB from series to each of the others, because one coil's voltage is missing, or both
# are in parallel.
#
# ### Hum
#
# One field from outside goes through both coils and induces volts in proportion to their turns,
# whatever the magnets do; the string's signal depends on both winding and magnet. That is why a
# reverse-wound coil over a reversed magnet cancels the one and keeps the other.

# %%
hum = {
    connection: gn.audio.hum(guitar.replace("pickup.connection", connection), frequency=[50, 60])
    for connection in connections
}


def decibels(residual):
    """What is left of the hum; nothing but rounding counts as nothing."""
    most = float(residual.max())
    return "none left" if most < -200 else f"{round(most, 1) + 0.0:.1f}"


gn.Table(
    ("connection", "hum re the loudest coil alone [dB]"),
    [(name, decibels(found.residual)) for name, found in hum.items()],
)

# %% [markdown]
# Here both together cancel exactly, because the two coils are exactly equal. Now two unlike ones:
# 5 % more turns of the same wire (5 % more resistance, 10 % more inductance); and the same turns of
# thinner wire, AWG 43, so that only the resistance is larger. How much hum remains at 50 Hz?

# %%
ratio_of_ohms = gn.windings.wire_resistance("AWG 43") / gn.windings.wire_resistance("AWG 42")
others = {
    "5 % more turns": gn.Coil(1.05 * 4200, 1.05**2 * 2.1, "180p", wire="AWG 42"),
    "thinner wire": gn.Coil(ratio_of_ohms * 4200, "2.1 H", "180p", wire="AWG 43"),
}
left = {
    (label, connection): float(
        gn.audio.hum(
            guitar.replace("pickup", gn.Humbucker(coil, other, connection=connection)),
            frequency=[50],
        ).residual.max()
    )
    for label, other in others.items()
    for connection in ("series", "parallel")
}
gn.Table(
    ("second coil", "connection", "hum re the loudest coil alone [dB]"),
    [(*case, f"{hums:.0f}") for case, hums in left.items()],
)

# %% [markdown]
# In series the difference of the turns is left: -26 dB with 5 % more, next to nothing (-84 dB)
# where the turns are equal. In parallel the difference of turns over impedance is left. A coil with
# more turns of the same wire has more resistance in its way as well, so that only -41 dB remain.
# With equal turns of thinner wire the currents are unlike, and -14 dB remain. So coils of one wire
# cancel better in parallel, coils of equal turns and unlike wire better in series.
#
# Where do the turns come from? You can give them (`turns=`). Here they follow from the ohms and the
# wire. Where neither is known they are taken as the root of the inductance, and every table of hum
# says which it was:

# %%
gn.windings.turns_table(guitar.replace("pickup", gn.Humbucker(coil, others["5 % more turns"])))

# %% [markdown]
# ## Look
#
# ### Four ways to connect two coils

# %%
ax = gn.plot_response(h, title="Series: most level, lowest peak; parallel: highest peak")

# %% [markdown]
# Follow the dotted line to 8.5 kHz. Where the other coil is left open there is a notch: that idle
# coil resonates with its own capacitance and, being coupled, takes part. Shunting it takes the
# notch away, and costs between 0.7 and 1.4 dB from 500 Hz to 3 kHz.
#
# ### Shapes only
#
# The same curves, each re its own level at 100 Hz.

# %%
ax = gn.plot_response(
    h, re="reference", title="Shapes: the peak moves up by less than an octave", view=(500, 15e3)
)

# %% [markdown]
# ### Turn the knob
#
# The four connections, live. (Without a running or trusted notebook you see a still picture.)

# %%
each = {name: guitar.replace("pickup.connection", name) for name in connections}
live = gn.response(each, dim="connection", volume=range(11))
gn.live_page(live, re=None, volume=10, title="Series, parallel, split (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "Split makes it a single coil pickup"
#
# Compare it with a single coil of 6.2 kΩ, 2.4 H and 120 pF in a guitar of its own, with the pots
# that usually go with one.

# %%
mine = None  # "yes" or "no": are both peaks of the same height, within 2 dB?
check(mine, exercise.split_is_a_single_coil)

# %%
single = gn.Pickup("6.2k", "2.4 H", "120p")
three = {
    "split, 500 kΩ pots": guitar.replace("pickup.connection", "coil 1"),
    "single coil, 500 kΩ pots": guitar.replace("pickup", single),
    "single coil, 250 kΩ pots": gn.layouts.one_pickup(single, cable="5 m"),
}
alike = gn.peak(gn.response(three, volume=10))
gn.Table(
    ("guitar", "peak [Hz]", "height [dB re 100 Hz]"),
    [
        (name, f"{float(f):.0f}", f"{float(top):.1f}")
        for name, f, top in zip(three, alike.frequency, alike.height, strict=True)
    ],
)

# %% [markdown]
# In frequency it is near: the split coil peaks within 10 % of the single coil. In height it is not:
# 5 dB above the one with its usual 250 kΩ pots, and 1.5 dB above it where the pots are the same. It
# hums like a single coil. Whether it is as loud depends on the turns, and a coil of a humbucker
# usually has fewer (common practice, no source); here it is 6 dB below the series pickup.
#
# A split is not a tap: a split leaves out one of two coils; a tap takes the signal off part of
# one coil's turns (`gn.tapped`).
#
# ### "Parallel puts the peak an octave up"

# %%
mine = None  # "yes" or "no": in the guitar, is it within 5 % of twice the frequency in series?
check(mine, exercise.an_octave_up)

# %%
print(f"alone {unloaded_ratio:.2f} times, in this guitar {ratio:.2f} times")

# %% [markdown]
# An octave is what a cable alone would give, without windings and pots. In this guitar the ratio
# is 1.73, and without any guitar it is 1.
#
# ### "Only series cancels hum"

# %%
mine = None  # "yes" or "no": in parallel, is less than 20 dB of the hum taken away?
check(mine, exercise.parallel_hums)

# %%
for name, found in hum.items():
    print(f"{name:22} {'cancels' if bool(found.cancelling) else 'hums'}")

# %% [markdown]
# Parallel cancels as well as series: it is the windings' directions that count. One coil alone
# hums, whatever becomes of the other.
#
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open an
# amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its stand.
# Ventilate the fumes. Wash your hands after using leaded solder. Wear goggles when clipping leads.
# The mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# With a cable plugged in and nothing else, on tip and sleeve, all controls at 10:

# %%
readings = gn.jack_resistance(guitar, {"volume": 10, "pickup.connection": connections})
kilohm = (readings / 1000).to_series()
gn.Table(
    ("connection", "at the jack [kΩ]"), [(name, f"{ohms:.2f}") for name, ohms in kilohm.items()]
)

# %%
check(my_reading, kilohm["parallel"], unit="kΩ", hint="Two equal resistances side by side.")

# %% [markdown]
# The meter tells series from parallel at a glance, a quarter of the reading. It cannot tell a
# coil left open from one that is shunted, nor a coil wired out of phase. For the latter put the
# meter on low DC volts and tap each coil's poles with a screwdriver: which way does it kick?
#
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/07_series_parallel_split.ipynb).
#
# **1.** A humbucker reads 5.4 kΩ on one coil and 7.2 kΩ on the other. You wire them in parallel,
# with a 500 kΩ volume pot. What must the meter show at the jack, all controls at 10?

# %%
mine = None  # kΩ
check(mine, exercise.reading_in_parallel)

# %% [markdown]
# **2.** Two coils of 3 H and 4 kΩ with a coupling of 0.12, in parallel. What inductance does a
# meter find at low frequency?

# %%
mine = None  # H
check(mine, exercise.parallel_inductance)

# %% [markdown]
# **3.** Your customer has 9 m of cable. Where is the peak in parallel, with this lesson's guitar?

# %%
mine = None  # Hz
check(mine, exercise.parallel_with_9_m)

# %% [markdown]
# **4.** You wind the second coil with more turns than the first, same wire and core. How many per
# cent more may it have before less than 20 dB of the hum cancel, in series?

# %%
mine = None  # %
check(mine, exercise.coils_alike)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
# The pickup alone.
bare = gn.peak(gn.response(gn.layouts.pickup_alone(coil)))
assert abs(unloaded_ratio - 1) < 1e-4
assert round(100 * 0.12**2, 1) == 1.4
shunted = float(unloaded.sel({"pickup.connection": "coil 1, other shunted"}))
assert abs(shunted / float(bare.frequency) - 1.007) < 0.0005
assert shunted > float(unloaded[:3].max())
# In the guitar.
cable = guitar.parts["cable"]
assert round(cable.length * cable.capacitance_per_metre * 1e12) == 500
assert round(ratio, 2) == 1.73
assert level[1:].round().values.tolist() == [-6, -6, -6]
# Hum.
for connection in ("series", "parallel"):
    assert float(hum[connection].residual.max()) < -200
for connection in ("coil 1", "coil 1, other shunted"):
    assert abs(float(hum[connection].residual.max())) < 0.5
more = others["5 % more turns"]
assert [round(100 * (x - 1)) for x in (more.resistance / 4200, more.inductance / 2.1)] == [5, 10]
assert [round(left["5 % more turns", name]) for name in ("series", "parallel")] == [-26, -41]
assert round(left["thinner wire", "series"]) == -84
assert round(left["thinner wire", "parallel"]) == -14
# Look.
shapes = gn.level_db(h).sel(frequency=slice(7000, 10000))
idle = shapes.sel({"pickup.connection": "coil 1"})
assert 8300 < float(idle.frequency[int(idle.argmin("frequency"))]) < 8900
assert (shapes.sel({"pickup.connection": "coil 1, other shunted"}).diff("frequency") < 0).all()
cost = gn.level_db(h)[2] - gn.level_db(h)[3]
band = cost.sel(frequency=slice(500, 3000))
assert 0.7 < float(band.min()) < float(band.max()) < 1.4
# Is it so?
assert abs(float(alike.frequency[0] / alike.frequency[2]) - 1) < 0.1
higher = (alike.height[0] - alike.height).values
assert round(higher[2]) == 5
assert round(higher[1], 1) == 1.5
assert round(split_level) == -6
assert bool(hum["parallel"].cancelling)
# On the bench.
assert abs(kilohm["parallel"] / kilohm["series"] - 0.25) < 0.01

# %% [markdown]
# **Turn the page.** The next lesson is [Measure a pickup, fit a
# model](08_measure_a_pickup_fit_a_model.ipynb). Compare your exercises with the [worked
# answers](answers/07_series_parallel_split.ipynb) first.
