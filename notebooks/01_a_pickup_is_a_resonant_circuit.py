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
# You need nothing on the bench; the last part says how to see the resonance with a meter. It takes
# about twenty minutes. The pickups are invented.

# %%
import numpy as np

import guitarnet as gn

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
# Write down your numbers before you go on.

# %%
my_peak = 5000.0  # Hz: where does this pickup peak with nothing connected?
my_loaded = 5000.0  # Hz: and where with 250 kΩ pots and 5 m of cable?
my_double = 3.0  # dB: how much louder does twice the DC resistance make it, at low frequency?

# %% [markdown]
# ## Impedance: what a meter would see at each frequency
#
# At low frequency there is only the wire. Then the inductance takes over, and the impedance rises
# with frequency (phase towards +90°). Beyond the resonance it falls again, as a capacitor's does
# (phase towards -90°). Where the phase crosses zero it is largest.

# %%
z = gn.impedance(alone)
axes = gn.plot_impedance(z, title="Wire below, coil in the middle, capacitor above")
# %%
largest = z.isel(frequency=int(abs(z).argmax("frequency")))
f0 = 1 / (2 * np.pi * np.sqrt(pickup.inductance * pickup.capacitance))
print(f"largest: {float(abs(largest)) / 1e6:.1f} MΩ at {float(largest.frequency):.0f} Hz")
print(f"1/(2π√(LC)): {f0:.0f} Hz; at 20 Hz: {float(abs(z[0])):.0f} Ω")

# %% [markdown]
# Over three megohms from 6 kΩ of wire: this coil is lossless, which no real one is. More below.
#
# ## Response: what becomes of the string's voltage
#
# The string induces a voltage *within* the coil. It reaches the lugs through the coil's own
# resistance and inductance, with the capacitance across: a low-pass with a peak at its end.

# %%
guitar = gn.layouts.one_pickup(pickup, cable="5 m")
h = gn.compare({"alone": alone, "250 kΩ pots and 5 m of cable": guitar})
ax = gn.plot_response(h, title="The guitar brings the peak down, and lowers it")
# %%
peak = gn.peak(h)
unloaded, loaded = (float(f) for f in peak.frequency)
print(f"alone: {unloaded:.0f} Hz, you expected {my_peak:.0f}")
print(f"in the guitar: {loaded:.0f} Hz, you expected {my_loaded:.0f}")
print(f"heights re 100 Hz: {float(peak.height[0]):.0f} and {float(peak.height[1]):.1f} dB")

# %% [markdown]
# The peak moves from 9.4 kHz to 3.8 kHz and falls from 27 dB to 4.3 dB. The cable's 500 pF lie
# beside the winding's 120, and the pots' resistance takes the energy that swings between coil and
# capacitor. What a pickup's data sheet calls its resonance is not where it peaks in a guitar.
#
# ## Which value does what?

# %%
each = {
    "as it is": pickup,
    "twice the resistance": gn.Pickup("12.4k", "2.4 H", "120p"),
    "twice the inductance": gn.Pickup("6.2k", "4.8 H", "120p"),
    "twice the capacitance": gn.Pickup("6.2k", "2.4 H", "240p"),
}
changed = gn.compare({label: guitar.replace("pickup", one) for label, one in each.items()})
ax = gn.plot_response(changed, title="Inductance moves the peak; resistance hardly does")
# %%
found = gn.peak(changed)
at_100 = gn.level_db(changed).interp(frequency=100)
gn.Table(
    ("pickup", "peak [Hz]", "height [dB re 100 Hz]", "level at 100 Hz [dB]"),
    [
        (label, f"{float(p):.0f}", f"{float(top):.1f}", f"{float(low):+.2f}")
        for label, p, top, low in zip(each, found.frequency, found.height, at_100, strict=True)
    ],
)

# %% [markdown]
# - Twice the **inductance**: the peak moves to 2.4 kHz and is 2 dB lower.
# - Twice the **capacitance** of the winding: it moves by 7 % only, because the cable has most of
#   the capacitance anyway.
# - Twice the **resistance** alone: the peak stays within 1 %, and the level falls by 0.44 dB.
#
# So a higher reading on the ohmmeter is not what makes a pickup louder or darker. It often goes
# along with more turns, and those raise voltage and inductance; but thinner wire gives more ohms
# as well, with the same turns. Only pickups of one wire and one core can be compared by it.

# %%
quieter = float(at_100[1] - at_100[0])
print(f"twice the resistance: {quieter:+.2f} dB at 100 Hz; you expected {my_double:+} dB")

# %% [markdown]
# ## Real coils have losses
#
# Steel and brass near the coil carry eddy currents: they shunt part of the inductance, and they
# screen the coil from the string. A pickup may have both (these values are invented; the lesson
# "Measure a pickup, fit a model" finds those of a real one).

# %%
lossy = gn.Pickup(
    "6.2k", "2.4 H", "120p", eddy_resistance="60k", eddy_share="20%", screening_frequency="6 kHz"
)
both = gn.compare(
    {
        "lossless": alone,
        "with losses": gn.layouts.pickup_alone(lossy),
        "lossless, in the guitar": guitar,
        "with losses, in the guitar": guitar.replace("pickup", lossy),
    }
)
ax = gn.plot_response(both, title="Losses tame the unloaded peak most")
# %%
heights = gn.peak(both).height
gn.Table(
    ("pickup", "height of the peak [dB re 100 Hz]"),
    [(str(label), f"{float(heights.sel(build=label)):.1f}") for label in both.build.values],
)

# %% [markdown]
# Unloaded, hardly anything else damps the peak: 27 dB become 13. In the guitar the pots have
# damped it already, and 4.3 dB become 2.5.
#
# ## Is it so?
#
# *"Treble leaves because a dark pickup blocks it."* Below its peak this lossless pickup passes
# everything: within half a decibel up to 2 kHz, alone. Far above the peak it falls by 12 dB an
# octave.
#
# *"A hotter winding only gets louder."* With twice the turns of the same wire on the same core the
# inductance goes with their square: twice the voltage, the unloaded peak at half its frequency, if
# the capacitance stays:

# %%
twice = gn.Pickup("12.4k", "9.6 H", "120p")
lower = float(gn.peak(gn.response(gn.layouts.pickup_alone(twice))).frequency) / unloaded
print(f"twice the turns: the peak alone at {lower:.2f} of its frequency")

# %% [markdown]
# ## Measure it on your own pickup
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it, and take the
# battery out of active electronics. Never open an amplifier: its voltages are lethal even when it
# is off. Probes, not clips, on coil ends: the wire tears. If you solder, the iron is hot and
# stays in its stand; ventilate fumes; lead solder wants washed hands; wear goggles when clipping
# leads. The mains earth must be intact. Local electrical codes and a licensed technician come
# before this lesson.
#
# An ohmmeter reads R. An LCR meter in series mode reads L at 120 Hz; at 1 kHz it reads too high,
# because the capacitance is already at work:

# %%
reads = gn.impedance(alone, [120, 1000])
apparent = reads.values.imag / (2 * np.pi * reads.frequency.values)
print(f"at 120 Hz {apparent[0]:.3f} H, at 1 kHz {apparent[1]:.3f} H, the coil has 2.4 H")

# %% [markdown]
# By 1 % here; by 5 % with the 5 m of cable still on it. From L and the unloaded peak follows the
# capacitance, C = 1/((2πf)²L):

# %%
capacitance = 1 / ((2 * np.pi * unloaded) ** 2 * apparent[0])
print(f"{capacitance * 1e12:.0f} pF")

# %% [markdown]
# ## Turn the knob
#
# The peak in the guitar, live: volume, and each pickup of the table above. (Without a running or
# trusted notebook you see a still picture.)

# %%
guitars = {label: guitar.replace("pickup", one) for label, one in each.items()}
live = gn.compare(guitars, dim="pickup", volume=range(11))
gn.knob_view(live, title="One pickup, one value doubled (invented guitar)")

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert abs(float(largest.frequency) / f0 - 1) < 0.01
assert 3e6 < float(abs(largest)) < 3.5e6
crossing = z.frequency.values[np.flatnonzero(np.diff(np.sign(z.values.imag)))]
assert crossing.size == 1
assert abs(crossing[0] / f0 - 1) < 0.01
assert (round(unloaded, -2), round(loaded, -2)) == (9400, 3800)
assert peak.height.values.round(1).tolist() == [27.1, 4.3]
moved = (found.frequency / found.frequency[0]).values
assert abs(moved[1] - 1) < 0.01
assert round(float(found.frequency[2]), -2) == 2400
assert round(float(found.height[2] - found.height[0])) == -2
assert round(100 * (moved[3] - 1)) == -7
assert round(quieter, 2) == -0.44
assert heights.values.round().tolist() == [27, 13, 4, 3]
assert heights.values.round(1)[2:].tolist() == [4.3, 2.5]
flat = gn.level_db(h, re="reference").isel(build=0).sel(frequency=slice(20, 2000))
assert float(abs(flat).max()) < 0.5
octave = gn.level_db(gn.response(alone, [80e3, 160e3]))
assert round(float(octave[1] - octave[0])) == -12
assert round(lower, 2) == 0.5
assert apparent.round(2).tolist() == [2.4, 2.42]
on_cable = gn.impedance(gn.layouts.pickup_alone(gn.Pickup("6.2k", "2.4 H", "620p")), [1000])
assert round(100 * (float(on_cable.imag[0]) / (2 * np.pi * 1000 * 2.4) - 1)) == 5
assert round(100 * (apparent[1] / 2.4 - 1)) == 1
assert round(capacitance * 1e12) == 120
