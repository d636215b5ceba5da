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
# You need an ohmmeter on the bench for the last part. It takes about twenty minutes. The pickup
# is invented: two coils of 4.2 kΩ, 2.1 H and 180 pF, the second reverse wound over a reversed
# magnet, with a coupling of 0.12, which is what measured pickups of two coils show.

# %%
import numpy as np

import guitarnet as gn

coil = gn.Coil("4.2k", "2.1 H", "180p")
humbucker = gn.Humbucker(coil, coil, coupling=0.12)
guitar = gn.layouts.one_pickup(
    humbucker, volume="500k", tone="500k", tone_capacitor="22n", cable="5 m"
)
guitar

# %% [markdown]
# ## Predict
#
# Write down your numbers before you go on.

# %%
my_parallel_peak = 1.0  # times: where is the peak in parallel, against series, in the guitar?
my_split_level = -3.0  # dB: the level of one coil against both in series, at 100 Hz?
my_reading = 4.2  # kΩ: what does the ohmmeter show at the jack in parallel, all controls up?

# %% [markdown]
# ## Unloaded, by arithmetic
#
# Two coils in series add their inductances, and twice the mutual inductance on top; in parallel
# there is a quarter of that. The winding capacitances do the opposite. So, unloaded, the peak
# does not move at all:

# %%
connections = ["series", "parallel", "coil 1", "coil 1, other shunted"]
alone = gn.layouts.pickup_alone(humbucker)
unloaded = gn.peak(gn.response(alone, **{"pickup.connection": connections}))
unloaded.frequency.to_pandas().round(0).rename("unloaded peak [Hz]")

# %% [markdown]
# A shunted coil is a short-circuited winding beside the one that plays: it takes k² = 1.4 % off
# the inductance, so that peak lies 0.7 % higher than in a bare coil, and higher than in the
# others, whose coupled partner adds to theirs.

# %% [markdown]
# ## In the guitar
#
# Now the cable's 500 pF count for more than the windings, and they do not change with the switch.

# %%
h = gn.response(guitar, volume=10, **{"pickup.connection": connections})
ax = gn.plot_response(h, title="Series is loud and low, parallel weak and high, split between")

# %%
peak = gn.peak(h)
level = gn.level_db(h).interp(frequency=100)
table = peak[["frequency", "height"]].to_dataframe()[["frequency", "height"]]
table["level at 100 Hz"] = (level - level.sel({"pickup.connection": "series"})).to_series()
table.round(2).rename(
    columns={"frequency": "peak [Hz]", "height": "height [dB]", "level at 100 Hz": "level [dB]"}
)

# %%
ratio = float(
    peak.frequency.sel({"pickup.connection": "parallel"})
    / peak.frequency.sel({"pickup.connection": "series"})
)
split_level = float(table.loc["coil 1", "level at 100 Hz"])
print(f"parallel peaks {ratio:.2f} times as high as series; you expected {my_parallel_peak}")
print(f"one coil is {split_level:+.1f} dB re series at 100 Hz; you expected {my_split_level} dB")

# %% [markdown]
# With an external capacitor alone the ratio would be 2 (a quarter of the inductance). Here the
# windings' own capacitance pulls it down a little, and the pots' load as well. The level falls by
# about 6 dB from series to either of the others, because one coil's voltage is missing, or both
# are in parallel.
#
# The notch near 8.5 kHz, where the other coil is left open, is that idle coil: it resonates with
# its own capacitance and, being coupled, takes part. Shunting it takes the notch away.

# %% [markdown]
# ## Hum
#
# Hum is induced in both coils by the same field, whatever the magnets do; the string's signal
# depends on both winding and magnet. That is why a reverse-wound coil over a reversed magnet
# cancels the one and keeps the other.

# %%
hum = {
    connection: gn.hum(guitar.replace("pickup.connection", connection), [50, 60])
    for connection in connections
}
for connection, found in hum.items():
    left = round(float(found.residual.max()), 1) + 0.0
    print(f"{connection:24} {left:6.1f} dB re the loudest coil alone")

# %% [markdown]
# Both together cancel exactly here, because the two coils are exactly alike. With one coil of
# 4.2 kΩ and one that has 10 % more of everything, what is left in parallel?

# %%
other = gn.Coil("4.62k", "2.31 H", "198p")
uneven = gn.layouts.one_pickup(gn.Humbucker(coil, other, connection="parallel"), cable="5 m")
residual = float(gn.hum(uneven, [50]).residual.max())
print(f"{residual:.1f} dB: cancelling still, but not to nothing")

# %% [markdown]
# ## Is it so?
#
# *"Split makes it a single coil pickup."* It hums like one. But a coil of a humbucker usually has
# fewer turns than a single coil pickup (common practice, no source), so less inductance and less
# signal; here it is 6 dB below the series pickup.
#
# *"Coil split and coil tap are the same."* A split leaves out one of two coils; a tap takes the
# signal off part of one coil's turns (`gn.tapped`).

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open
# an amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its
# stand; ventilate fumes; lead solder wants washed hands; wear goggles when clipping leads. The
# mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# With a cable plugged in and nothing else, on tip and sleeve, all controls at 10:

# %%
readings = gn.jack_resistance(guitar, volume=10, **{"pickup.connection": connections})
kilohm = (readings / 1000).to_series().round(2)
print(f"in parallel: {kilohm['parallel']} kΩ; you expected {my_reading} kΩ")
kilohm.rename("at the jack [kΩ]")

# %% [markdown]
# The meter tells series from parallel at a glance, a quarter of the reading. It cannot tell a
# coil left open from one that is shunted, nor a coil wired out of phase: tap the poles and listen
# for that.

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
bare = gn.peak(gn.response(gn.layouts.pickup_alone(coil)))
peaks = unloaded.frequency
assert abs(float(peaks.sel({"pickup.connection": "parallel"}) / peaks[0]) - 1) < 1e-4
assert round(100 * 0.12**2, 1) == 1.4
shunted = float(peaks.sel({"pickup.connection": "coil 1, other shunted"}))
assert abs(shunted / float(bare.frequency) - 1.007) < 0.0005
assert shunted > float(peaks[0])
assert 1.7 < ratio < 2
shapes = gn.level_db(h).sel(frequency=slice(7000, 10000))
idle = shapes.sel({"pickup.connection": "coil 1"})
assert 8300 < float(idle.frequency[int(idle.argmin("frequency"))]) < 8900
assert (shapes.sel({"pickup.connection": "coil 1, other shunted"}).diff("frequency") < 0).all()
assert -6.5 < split_level < -5.5
assert -6.5 < table.loc["parallel", "level at 100 Hz"] < -5.5
for connection in ("series", "parallel"):
    assert float(hum[connection].residual.max()) == -np.inf
for connection in ("coil 1", "coil 1, other shunted"):
    assert abs(float(hum[connection].residual.max())) < 0.5
assert -30 < residual < -15
assert bool(gn.hum(uneven, [50]).cancelling)
quarter = kilohm["parallel"] / kilohm["series"]
assert abs(quarter - 0.25) < 0.01
