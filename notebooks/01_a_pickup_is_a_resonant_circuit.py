# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # A pickup is a resonant circuit
#
# **The question from the bench.** "This one reads 6 kΩ and that one 12, so the second is twice as
# hot, is it?" An ohmmeter sees the wire and nothing else. What does a pickup consist of, which part
# of it makes the peak, and why does the same pickup peak elsewhere once it is in a guitar?
#
# **What you learn.** The three values of a coil and what each of them does; why the peak moves when
# the pickup is fitted; what losses change; how to find inductance and capacitance with a meter.
#
# **How long it takes.** About twenty-five minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing. For the last part an ohmmeter, and an LCR meter if there
# is one.
#
# The pickups are invented.

# %%
import numpy as np

import guitarnet as gn
from exercises import a_pickup_is_a_resonant_circuit as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")
alone = gn.layouts.pickup_alone(pickup)
alone

# %% [markdown]
# Three values: the wire's resistance, the coil's inductance, and the capacitance between its
# windings and along its lead. An inductor and a capacitor together resonate at
# f₀ = 1/(2π√(LC)).

# %% [markdown]
# ## Predict
#
# Write your numbers in place of `None` before you go on. A wrong one costs nothing: the distance
# between what you expected and what comes out is the lesson.

# %%
my_peak = None  # Hz: where does this pickup peak with nothing connected?
my_loaded = None  # Hz: and where with 250 kΩ pots and 5 m of cable?
my_double = None  # dB, minus for quieter: what does twice the DC resistance do at 100 Hz?

# %% [markdown]
# ## Compute
#
# ### Impedance: what a meter would see at each frequency
#
# The formula first, then the whole curve: the largest impedance and where it lies.

# %%
f0 = 1 / (2 * np.pi * np.sqrt(pickup.inductance * pickup.capacitance))
z = gn.impedance(alone)
largest = z.isel(frequency=int(abs(z).argmax("frequency")))
print(f"1/(2π√(LC)): {f0:.0f} Hz; at 20 Hz: {float(abs(z[0])):.0f} Ω")
print(f"largest: {float(abs(largest)) / 1e6:.1f} MΩ at {float(largest.frequency):.0f} Hz")

# %% [markdown]
# Over three megohms from 6 kΩ of wire: this coil is lossless, which no real one is. More below.
#
# ### Response: what becomes of the string's voltage
#
# The string induces a voltage *within* the coil. It reaches the lugs through the coil's own
# resistance and inductance, with the capacitance across: a low-pass with a peak at its end.

# %%
guitar = gn.layouts.one_pickup(pickup, cable="5 m")
h = gn.response({"alone": alone, "250 kΩ pots and 5 m of cable": guitar})
peak = gn.peak(h)
unloaded, loaded = (float(f) for f in peak.frequency)
gn.Table(
    ("pickup", "peak [Hz]", "height [dB re 100 Hz]"),
    [
        (label, f"{float(f):.0f}", f"{float(top):.1f}")
        for label, f, top in zip(h.build.values, peak.frequency, peak.height, strict=True)
    ],
)

# %%
check(my_peak, unloaded, unit="Hz", hint="Put henries and farads into 1/(2π√(LC)).")

# %%
check(my_loaded, loaded, unit="Hz", within="10 %", hint="The cable has 500 pF.")

# %% [markdown]
# The peak moves from 9.4 kHz to 3.8 kHz and falls from 27 dB to 4.3 dB. The cable's 500 pF lie
# beside the winding's 120, and the pots' resistance takes the energy that swings between coil and
# capacitor. What a pickup's data sheet calls its resonance is not where it peaks in a guitar.
#
# ### Which value does what?
#
# Double one value at a time, in the guitar.

# %%
each = {
    "as it is": pickup,
    "twice the resistance": gn.Pickup("12.4k", "2.4 H", "120p"),
    "twice the inductance": gn.Pickup("6.2k", "4.8 H", "120p"),
    "twice the capacitance": gn.Pickup("6.2k", "2.4 H", "240p"),
}
changed = gn.response({label: guitar.replace("pickup", one) for label, one in each.items()})
found = gn.peak(changed)
at_100 = gn.level_db(changed).interp(frequency=100)
gn.Table(
    ("pickup", "peak [Hz]", "height [dB re 100 Hz]", "level at 100 Hz [dB]"),
    [
        (label, f"{float(p):.0f}", f"{float(top):.1f}", f"{float(low):+.2f}")
        for label, p, top, low in zip(each, found.frequency, found.height, at_100, strict=True)
    ],
)

# %%
quieter = float(at_100[1] - at_100[0])
check(
    my_double,
    quieter,
    unit="dB",
    within="0.3 dB",
    hint="The resistance is in series with the voltage; only the pots take current from it.",
)

# %% [markdown]
# - Twice the **inductance**: the peak moves to 2.4 kHz and is 2 dB lower.
# - Twice the **capacitance** of the winding: it moves by 7 % only, because the cable has most of
#   the capacitance anyway.
# - Twice the **resistance** alone: the peak stays within 1 %, and the level falls by 0.44 dB.
#
# ### Real coils have losses
#
# Steel and brass near the coil carry eddy currents: they shunt part of the inductance, and they
# screen the coil from the string. A pickup may have both (these values are invented; the lesson
# "Measure a pickup, fit a model" finds those of a real one).

# %%
lossy = gn.Pickup(
    "6.2k", "2.4 H", "120p", eddy_resistance="60k", eddy_share="20%", screening_frequency="6 kHz"
)
both = gn.response(
    {
        "lossless": alone,
        "with losses": gn.layouts.pickup_alone(lossy),
        "lossless, in the guitar": guitar,
        "with losses, in the guitar": guitar.replace("pickup", lossy),
    }
)
heights = gn.peak(both).height
gn.Table(
    ("pickup", "height of the peak [dB re 100 Hz]"),
    [(str(label), f"{float(heights.sel(build=label)):.1f}") for label in both.build.values],
)

# %% [markdown]
# Unloaded, hardly anything else damps the peak: 27 dB become 13. In the guitar the pots have
# damped it already, and 4.3 dB become 2.5.
#
# ## Look
#
# ### Impedance
#
# At low frequency there is only the wire. Then the inductance takes over, and the impedance rises
# with frequency (phase towards +90°, beyond +80°). Beyond the resonance it falls again, as
# a capacitor's does (phase towards -90°). Where the phase crosses zero it is largest, to 1 %.

# %%
axes = gn.plots.plot_impedance(z, title="Wire below, coil in the middle, capacitor above")

# %% [markdown]
# ### Alone and in the guitar


# %%
def mark_peaks(ax, h):
    """Write the frequency beside each peak."""
    tops = gn.peak(h)
    for f, top in zip(tops.frequency.values, tops.height.values, strict=True):
        ax.plot(f, top, "ko", markersize=4, zorder=5)
        ax.annotate(
            f"{f / 1000:.1f} kHz",
            (f, top),
            xytext=(-6, 5),
            textcoords="offset points",
            ha="right",
            fontsize=9,
        )


ax = gn.plot_response(
    h, re="reference", title="The guitar brings the peak down, in frequency and in height"
)
mark_peaks(ax, h)

# %% [markdown]
# Below its peak this lossless pickup passes everything: within half a decibel up to 2 kHz, alone.
# Far above the peak it falls by 12 dB an octave.
#
# ### One value doubled

# %%
ax = gn.plot_response(
    changed, title="Inductance moves the peak; resistance hardly does", view=(200, 15e3)
)

# %% [markdown]
# ### Losses

# %%
ax = gn.plot_response(both, title="Losses tame the unloaded peak most", view=(200, 15e3))

# %% [markdown]
# ### Turn the knob
#
# The peak in the guitar, live: volume, and each pickup of the table above. (Without a running or
# trusted notebook you see a still picture.)

# %%
guitars = {label: guitar.replace("pickup", one) for label, one in each.items()}
live = gn.response(guitars, dim="pickup", volume=range(11))
gn.live_page(live, title="One pickup, one value doubled (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "Twice the ohms, twice as hot"

# %%
mine = None  # "yes" or "no": with twice the DC resistance, all else alike, is it louder at 100 Hz?
check(mine, exercise.twice_the_ohms)

# %%
print(f"twice the resistance alone: {quieter:+.2f} dB at 100 Hz")

# %% [markdown]
# Not by the ohms: alone they make it quieter, by less than half a decibel. The saying has a reason
# all the same. More turns of the same wire raise voltage, inductance and ohms together, so among
# pickups of one wire and one core the one with more ohms is the louder. But thinner wire gives more
# ohms as well, with the same turns. Across wire gauges the reading says nothing of loudness.
#
# ### "It peaks where the data sheet says"

# %%
mine = None  # "yes" or "no": is the peak in the guitar within 10 % of that of the pickup alone?
check(mine, exercise.data_sheet_peak)

# %%
print(f"in the guitar the peak lies at {loaded / unloaded:.2f} of its frequency alone")

# %% [markdown]
# In this guitar the peak is at 0.40 of that frequency. The figure in a data sheet is right for the
# pickup alone, as it was measured. It is still useful if you know the inductance, as you see
# further down: with both you find the capacitance, and with that the peak in any guitar.
#
# ### "A hotter winding is louder, and that is all"
#
# With twice the turns of the same wire on the same core the voltage doubles, the resistance
# doubles, and the inductance goes with the square of the turns.

# %%
mine = None  # "yes" or "no": with twice the turns, is the guitar louder at 5 kHz too?
check(mine, exercise.hotter_is_louder)

# %%
twice = gn.Pickup("12.4k", "9.6 H", "120p")
lower = float(gn.peak(gn.response(gn.layouts.pickup_alone(twice))).frequency) / unloaded
print(f"alone, it peaks at {lower:.2f} of the first one's frequency")
pair = gn.response(
    {"once": guitar, "twice": guitar.replace("pickup", twice)}, frequency=[100, 2000, 5000]
)
gain = 20 * np.log10(2) + gn.level_db(pair)[1] - gn.level_db(pair)[0]
gain.to_series().round(1).rename("twice the turns, in the guitar [dB]").to_frame()

# %% [markdown]
# Below the peak it is louder, by 5.6 dB at 100 Hz: twice the voltage is 6 dB, and the larger
# resistance takes a little. At 2 kHz it is 3.4 dB louder, and at 5 kHz it is 9.9 dB quieter. So
# it is louder, and darker too.
#
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it, and take the
# battery out of active electronics. Never open an amplifier: its voltages are lethal even when it
# is off. Probes, not clips, on coil ends: the wire tears. If you solder, the iron is hot and stays
# in its stand. Ventilate the fumes. Wash your hands after using leaded solder. Wear goggles when
# clipping leads. The mains earth must be intact. Local electrical codes and a licensed technician
# come before this lesson.
#
# An ohmmeter reads R. An LCR meter in series mode reads L at 120 Hz; at 1 kHz it reads too high,
# because the capacitance is already at work:

# %%
reads = gn.impedance(alone, frequency=[120, 1000])
apparent = reads.values.imag / (2 * np.pi * reads.frequency.values)
print(f"at 120 Hz {apparent[0]:.3f} H, at 1 kHz {apparent[1]:.3f} H, the coil has 2.4 H")

# %% [markdown]
# By 1 % here; by 5 % with the 5 m of cable still on it. From L and the unloaded peak follows the
# capacitance, C = 1/((2πf)²L):

# %%
capacitance = 1 / ((2 * np.pi * unloaded) ** 2 * apparent[0])
print(f"{capacitance * 1e12:.0f} pF")

# %% [markdown]
# ## Exercises
#
# Try first; then compare with the
# [worked answers](answers/01_a_pickup_is_a_resonant_circuit.ipynb).
#
# **1.** A published example: a coil of 8 H with 150 pF of winding, on a cable of 800 pF. Where does
# it resonate, without any damping?

# %%
mine = None  # Hz
check(mine, exercise.resonance_by_formula)

# %% [markdown]
# **2.** A data sheet gives 2.9 H and an unloaded peak at 7.85 kHz. What is the coil's capacitance?

# %%
mine = None  # pF
check(mine, exercise.capacitance_from_peak)

# %% [markdown]
# **3.** Your customer swaps both 250 kΩ pots of this lesson's guitar for 500 kΩ. How high is the
# peak now, re 100 Hz?

# %%
mine = None  # dB
check(mine, exercise.height_with_500k)

# %% [markdown]
# **4.** "I want it to peak at 3 kHz in my guitar", with 250 kΩ pots and 5 m of cable. Which
# inductance do you wind, resistance and capacitance as they are?

# %%
mine = None  # H
check(mine, exercise.inductance_for_a_peak)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
# Impedance.
assert abs(float(largest.frequency) / f0 - 1) < 0.01
assert 3e6 < float(abs(largest)) < 3.5e6
assert float(z.real[0]) < 6.3e3
phase = np.angle(z.values, deg=True)
assert phase.max() > 80
assert phase.min() < -89
crossing = z.frequency.values[np.flatnonzero(np.diff(np.sign(z.values.imag)))]
assert crossing.size == 1
assert abs(crossing[0] / f0 - 1) < 0.01
# Alone and in the guitar.
assert (round(unloaded, -2), round(loaded, -2)) == (9400, 3800)
assert peak.height.values.round(1).tolist() == [27.2, 4.3]
cable = guitar.parts["cable"]
assert round(cable.length * cable.capacitance_per_metre * 1e12) == 500
flat = gn.level_db(h, re="reference").isel(build=0).sel(frequency=slice(20, 2000))
assert float(abs(flat).max()) < 0.5
octave = gn.level_db(gn.response(alone, frequency=[80e3, 160e3]))
assert round(float(octave[1] - octave[0])) == -12
# One value doubled.
moved = (found.frequency / found.frequency[0]).values
assert abs(moved[1] - 1) < 0.01
assert round(float(found.frequency[2]), -2) == 2400
assert round(float(found.height[2] - found.height[0])) == -2
assert round(100 * (moved[3] - 1)) == -7
assert round(quieter, 2) == -0.44
# Losses.
assert heights.values.round().tolist() == [27, 13, 4, 3]
assert heights.values.round(1)[2:].tolist() == [4.3, 2.5]
# Is it so?
assert round(loaded / unloaded, 2) == 0.40
assert round(lower, 2) == 0.5
assert round(20 * np.log10(2)) == 6
assert gain.values.round(1).tolist() == [5.6, 3.4, -9.9]
# On the bench.
assert apparent.round(2).tolist() == [2.4, 2.42]
on_cable = gn.impedance(
    gn.layouts.pickup_alone(gn.Pickup("6.2k", "2.4 H", "620p")), frequency=[1000]
)
assert round(100 * (float(on_cable.imag[0]) / (2 * np.pi * 1000 * 2.4) - 1)) == 5
assert round(100 * (apparent[1] / 2.4 - 1)) == 1
assert round(capacitance * 1e12) == 120

# %% [markdown]
# **Turn the page.** The next lesson is [Loading by pots, cable and
# amp](02_loading_by_pots_cable_amp.ipynb). Compare your exercises with the [worked
# answers](answers/01_a_pickup_is_a_resonant_circuit.ipynb) first.
