# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Where the peak comes from
#
# **The question from the bench.** "They all say the peak is at 1/(2π√(LC)). By that mine should
# be at 4.1 kHz, and in the guitar it is at 3.8. Which of the two is wrong, and where does the
# formula come from in the first place?"
#
# **What you learn.** To derive it, in letters, from the circuit: what each element does, why the
# peak is where it is and as high as it is, and when the closed form stops being enough.
#
# **How long it takes.** About forty-five minutes, and half an hour for the exercises.
#
# **What you need on the bench.** Nothing, but have a pencil. For the last part a way of finding a
# peak, and a known capacitor.
#
# The letters are computed with sympy, and lcapy gives a second opinion; both come with the extra
# "notebooks". The guitar is invented: 6.2 kΩ, 2.4 H, 120 pF, pots of 250 kΩ, 22 nF, 5 m of cable,
# 1 MΩ.

# %%
import lcapy
import matplotlib.pyplot as plt
import numpy as np
import sympy as sp

import guitarnet as gn
from exercises import where_the_peak_comes_from as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")


def guitar(pots="250k", **changed):
    given = {"volume": pots, "tone": pots, "cable": "5 m"} | changed
    return gn.layouts.one_pickup(pickup, **given)


# %% [markdown]
# ## Predict
#
# Write your numbers in place of `None` before you go on.

# %%
my_lc = None  # Hz: 1/(2π√(LC)) for 2.4 H and 620 pF
my_shift = None  # %: by how much is the peak in the guitar lower than that?
my_poles = None  # how many poles has the whole guitar with the volume at 5?

# %% [markdown]
# ## Compute
#
# ### The circuit, in letters
#
# The string induces a voltage **in** the coil. It drives a current through the wire R and the
# inductance L, into what lies across the pickup: the capacitance C of winding and cable, and
# the load P, all resistances to ground in parallel.
#
# ```text
#           R       L
#    o-----[ ]----∩∩∩∩---+------+------o
#    |                   |      |
#  string                C      P     out
#    |                   |      |
#    o-------------------+------+------o
# ```
#
# Instead of frequency one writes s. An inductance is sL, a capacitance conducts sC, and for a tone
# of frequency f, s is 2πf times j. Then it is a voltage divider like any other.

# %%
R, L, C, P = sp.symbols("R L C P", positive=True)
s = sp.Symbol("s")
series = R + s * L  # in the way, an impedance
across = 1 / P + s * C  # to ground, a conductance
H = 1 / (1 + series * across)


def show(name, formula):
    """A formula, as one writes it."""
    print(sp.pretty(sp.Eq(sp.Symbol(name), formula, evaluate=False), wrap_line=False))


show("H", H)

# %%
top, bottom = sp.fraction(sp.together(H))
bottom = sp.collect(sp.expand(bottom / P), s)
show("H", top / P / bottom)

# %% [markdown]
# The whole secret is in the denominator, a polynomial of second degree in s: one s from the coil,
# one from the capacitor.
#
# ### Two numbers say it all
#
# Any such denominator is written a·(s² + s ω₀/Q + ω₀²). Comparing the factors gives the natural
# frequency ω₀ = 2πf₀ and the quality Q:

# %%
a2, a1, a0 = sp.Poly(bottom, s).all_coeffs()
natural = sp.sqrt(a0 / a2)
quality = sp.simplify(natural * a2 / a1)
show("omega_0", natural)

# %%
show("Q", quality)

# %% [markdown]
# Read them. ω₀ is 1/√(LC), but for √((P + R)/P), or √(1 + R/P), which is near 1 when the load is
# large against the wire. In Q both resistances stand: R wants to be small, P large.
#
# ### The maximum is not at f₀
#
# The size of H is largest where the denominator is smallest. Put s = jω, take the square of the
# size, differentiate by ω², and look where it is zero:

# %%
w0, Q = sp.symbols("omega_0 Q", positive=True)
x = sp.Symbol("x", positive=True)  # ω²
size_squared = (w0**2 - x) ** 2 + x * w0**2 / Q**2
(at,) = sp.solve(sp.diff(size_squared, x), x)
show("omega", sp.sqrt(sp.factor(at)))

# %%
height = sp.simplify(w0**2 / sp.sqrt(size_squared.subs(x, at)))
show("height", height)

# %% [markdown]
# So f = f₀ √(1 - 1/(2Q²)): the peak is lower than the natural frequency, and there is none when
# Q is 1/√2 or less. Its height over the level at low frequency is Q/√(1 - 1/(4Q²)), a little more
# than Q.
#
# ### With numbers
#
# P is 250 kΩ, 250 kΩ and 1 MΩ in parallel (at these frequencies the tone capacitor is a short),
# C is 120 and 500 pF.

# %%
values = {R: 6200, L: sp.Rational(12, 5), C: sp.Rational(620, 10**12), P: sp.Rational(10**6, 9)}
f0 = float((natural / 2 / sp.pi).subs(values))
q = float(quality.subs(values))
by_hand = f0 * np.sqrt(1 - 1 / (2 * q**2))
undamped = 1 / (2 * np.pi * np.sqrt(2.4 * 620e-12))
whole = gn.peak(gn.response(guitar()))
computed = float(whole.frequency)
gn.Table(
    ("", "[Hz]"),
    [
        ("1/(2π√(LC))", f"{undamped:.0f}"),
        ("natural frequency f₀, with √(1 + R/P)", f"{f0:.0f}"),
        ("peak by the closed form", f"{by_hand:.0f}"),
        ("peak by the whole circuit", f"{computed:.0f}"),
    ],
    note=f"Q = {q:.2f}.",
)

# %%
shift = 100 * (1 - computed / undamped)
hint = "Use henries and farads; winding and cable together make the 620 pF."
check(my_lc, undamped, unit="Hz", within="1 %", hint=hint)

# %%
hint = "It depends on Q alone, but for a little; put Q into √(1 - 1/(2Q²))."
check(my_shift, shift, unit="%", within=1, hint=hint)

# %% [markdown]
# Nobody was wrong. 4126 Hz is where coil and capacitance would swing by themselves; the load lifts
# f₀ by 3 % and the damping brings the peak down by 11 %, and together that is 9 % less.
#
# ### The same from the harness
#
# Nothing so far knew of a harness. Ask one for its transfer function with every value a letter
# (no tone control, as in the drawing). At 10 the wiper is at the end of the track, t = 1:

# %%
simple = guitar(tone=None)
letters = gn.formulas.symbols_of(simple)
from_harness = gn.formulas.transfer_function(simple, keep="all").subs(letters["volume.track"], 1)
over, under = sp.fraction(sp.factor(from_harness))
parts = [sp.Poly(under, s).coeff_monomial(s**power) for power in range(3)]
gn.Table(
    ("", "in letters"),
    [("numerator", over), *((f"denominator, s^{n}", part) for n, part in enumerate(parts))],
    note="c_cable is the capacitance a metre, l_cable the length.",
)

# %%
ours = H.subs(
    {
        R: letters["pickup.resistance"],
        L: letters["pickup.inductance"],
        C: letters["pickup.capacitance"]
        + letters["cable.length"] * letters["cable.capacitance_per_metre"],
        P: 1 / (1 / letters["volume.resistance"] + 1 / letters["amp.resistance"]),
    }
)
difference = sp.simplify(from_harness - ours)
print(f"difference of the two, in letters: {difference}")

# %% [markdown]
# Zero, in letters: not nearly, and not at some values.
#
# ### A second opinion
#
# lcapy is another library that solves circuits in symbols, by its own way. It gets the same circuit
# as a list of elements, node by node.

# %%
circuit = lcapy.Circuit("V 1 0 s 1\nR 1 2 {R}\nL 2 3 {L}\nC 3 0 {C}\nR2 3 0 {P}")
theirs = circuit[3].V(lcapy.s).sympy
letter = {"s": s, "R": R, "L": L, "C": C, "P": P}
theirs = theirs.subs({symbol: letter[symbol.name] for symbol in theirs.free_symbols})
opinion = sp.simplify(theirs - H)
print(f"lcapy minus ours, in letters: {opinion}")

# %% [markdown]
# ## Look
#
# ### Limits: two straight lines
#
# At low frequency and at high frequency H is simple.

# %%
low = sp.limit(H, s, 0)
high = sp.limit(H * s**2, s, sp.oo)
show("H_low", sp.simplify(low))
print()
show("H_high", high / s**2)

# %% [markdown]
# Below the peak the pickup is its wire on its load, P/(R + P), and L and C have no say. Above it
# R and P have no say: 1/(s²LC), 12 dB an octave. The two lines meet at f₀. What resistance is
# left does, it does between them.

# %%
hertz = np.geomspace(200, 20e3, 400)
level_low = 20 * np.log10(float(low.subs(values)))
slope = level_low - 40 * np.log10(hertz / f0)
fig, ax = plt.subplots(figsize=(7.6, 4.4))
for pots, colour, dash, place in [
    ("250k", "#0072b2", "-", (2600, 5.6)),
    ("500k", "#d55e00", "--", (2950, 8.2)),
    ("1M", "#00795a", ":", (3300, 10.8)),
]:
    one = gn.level_db(gn.response(guitar(pots), frequency=hertz))
    ax.semilogx(hertz, one, dash, color=colour, linewidth=2)
    label = f"pots of {gn.values.format_value(gn.values.read_value(pots, 'ohm'), 'ohm')}"
    ax.text(*place, label, color=colour, ha="right")
below = hertz <= f0
ax.semilogx(hertz[below], np.full(below.sum(), level_low), color="#6b6b6b", linewidth=1)
ax.semilogx(hertz[~below], slope[~below], color="#6b6b6b", linewidth=1)
ax.axvline(f0, color="#b0b0b0", linewidth=1)
ax.text(f0 * 0.97, -27, "f₀", ha="right", color="#555555")
ax.text(260, -2.6, "P/(R + P): the wire on its load", color="#555555")
ax.text(8600, -8, "1/(s²LC):\n12 dB an octave", color="#555555")
ax.set(xlim=(200, 20e3), ylim=(-30, 15), xlabel="frequency [Hz]", ylabel="level [dB re 1 V/V]")
ax.set_xticks([200, 500, 1000, 2000, 5000, 10000, 20000])
ax.set_xticklabels(["200", "500", "1k", "2k", "5k", "10k", "20k"])
ax.minorticks_off()
for side in ("top", "right"):
    ax.spines[side].set_visible(False)
title = ax.set_title("Two lines meet at f₀; Q is what happens there", loc="left", weight="bold")

# %% [markdown]
# (Lossless coil assumed. f₀ and the lines are those of 250 kΩ.)
#
# ### Poles: the same in one picture
#
# The zeros of the denominator are the poles. A complex pair of them is a point at the distance
# f₀ from the origin; the nearer it lies to the vertical axis, the higher Q, which is the distance
# over twice the way from that axis.

# %%
fig, ax = plt.subplots(figsize=(6.4, 5.6))
angle = np.linspace(np.pi / 2, np.pi, 200)
families = {
    "pots": ([guitar(p) for p in ("100k", "250k", "500k", "1M")], "#0072b2", "o-"),
    "cable": ([guitar(cable=m) for m in ("1 m", "3 m", "5 m", "10 m")], "#d55e00", "s--"),
}
for guitars, colour, mark in families.values():
    points = np.array([gn.formulas.poles(one)[-1] for one in guitars]) / 1e3
    ax.plot(points.real, abs(points.imag), mark, color=colour, markersize=6)
ax.plot(f0 / 1e3 * np.cos(angle), f0 / 1e3 * np.sin(angle), color="#9a9a9a", linewidth=1)
for x_label, y_label, label, colour, side in [
    (-0.47, 4.05, "pots of 1 MΩ", "#0072b2", "left"),
    (-0.85, 4.3, "500 kΩ", "#0072b2", "center"),
    (-2.7, 2.9, "100 kΩ", "#0072b2", "left"),
    (-1.75, 4.25, "250 kΩ and 5 m", "#444444", "right"),
    (-3.3, 6.2, "1 m of cable", "#d55e00", "left"),
    (-1.78, 4.8, "3 m", "#d55e00", "left"),
    (-0.7, 2.95, "10 m", "#d55e00", "left"),
]:
    ax.text(x_label, y_label, label, color=colour, ha=side)
ax.text(-4.1, 0.35, "circle of radius f₀", color="#6b6b6b")
ax.axvline(0, color="#444444", linewidth=1)
ax.axhline(0, color="#444444", linewidth=1)
ax.set(xlim=(-4.6, 1.2), ylim=(0, 7), xlabel="real part [kHz]", ylabel="imaginary part [kHz]")
ax.set_aspect("equal")
for side in ("top", "right"):
    ax.spines[side].set_visible(False)
title = ax.set_title("Resistance turns the pole, capacitance moves it", loc="left", weight="bold")

# %% [markdown]
# Other pots move the pole along the circle: f₀ stays nearly, Q changes. Another cable moves it to
# another circle. That is the lesson "Loading by pots, cable and amp" in one picture.
#
# ### Which element does what
#
# In letters one can ask how much 1 % of each value does: the derivative of the logarithm by the
# logarithm, here with this guitar's numbers.

# %%
shares = []
for symbol, name in ((L, "inductance"), (C, "capacitance"), (R, "wire"), (P, "load")):
    by_f0, by_q = (
        float(sp.simplify(sp.diff(quantity, symbol) * symbol / quantity).subs(values))
        for quantity in (natural, quality)
    )
    shares.append((name, by_f0, by_q))
gn.Table(
    ("1 % more", "f₀ changes by [%]", "Q changes by [%]"),
    [(name, f"{by_f0:+.2f}", f"{by_q:+.2f}") for name, by_f0, by_q in shares],
)

# %% [markdown]
# L and C set the frequency, half a percent each. The load sets the height, nearly one for one.
# The wire's resistance, which is what an ohmmeter reads, hardly matters to either.
#
# ### Where the closed form stops being enough
#
# It holds one coil and one capacitance. Count the poles of real settings:

# %%
lossy = gn.Pickup(
    "6.2k", "2.4 H", "120p", eddy_resistance="60k", eddy_share="20%", screening_frequency="6 kHz"
)
cases = {
    "no tone control, all at 10": (simple, {}),
    "the guitar, all at 10": (guitar(), {}),
    "volume at 9": (guitar(), {"volume": 9}),
    "volume at 5": (guitar(), {"volume": 5}),
    "tone at 5": (guitar(), {"tone": 5}),
    "tone at 0": (guitar(), {"tone": 0}),
    "a coil with losses": (guitar().replace("pickup", lossy), {}),
}
rows, found_peaks = [], {}
for name, (harness, knobs) in cases.items():
    found_peaks[name] = float(gn.peak(gn.response(harness, **knobs)).frequency)
    there = len(gn.formulas.poles(harness, **knobs)), len(gn.formulas.zeros(harness, **knobs))
    shown = "none" if np.isnan(found_peaks[name]) else f"{found_peaks[name]:.0f}"
    rows.append((name, *there, shown))
gn.Table(
    ("setting", "poles", "zeros", "peak [Hz]"),
    rows,
    note=f"The closed form says {by_hand:.0f} Hz, and knows of two poles only.",
)

# %%
check(my_poles, rows[3][1], within=0, hint="Each coil and each capacitance of its own counts.")

# %% [markdown]
# With all at 10 the tone network adds a pole and a zero. They lie side by side and cancel:

# %%
slow_pole, slow_zero = gn.formulas.poles(guitar())[0].real, gn.formulas.zeros(guitar())[0].real
print(f"pole at {slow_pole:.1f} Hz, zero at {slow_zero:.1f} Hz")

# %% [markdown]
# That is why 22 nF may be left out at 10, and why it may not once the knob is down: at 0 it swings
# with the coil instead, below 700 Hz. Turning the volume to 9 parts the cable from the
# winding; 42.5 kΩ of track are between them, the two capacitances are no longer one, and the peak
# has moved by 630 Hz. At 5 there is none. A coil with eddy losses and screening has more poles
# still, which is why the lesson "Measure a pickup, fit a model" fits more than three values.
# Above that, ask the whole circuit; the formula has shown what to look for.
#
# ### Turn the knob
#
# The volume knob, live: the guitar, the guitar without its tone control, and the coil with losses.
# At 10 the first two differ by the load of one pot. (Without a running or trusted notebook
# you see a still picture.)

# %%
live = gn.response(
    {
        "the guitar": guitar(),
        "no tone control": simple,
        "a coil with losses": cases["a coil with losses"][0],
    },
    volume=range(11),
)
gn.live_page(live, volume=10, title="The closed form holds at 10 (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "The peak of a guitar is at 1/(2π√(LC))"

# %%
mine = None  # "yes" or "no": of this guitar, to within a percent?
check(mine, exercise.peak_is_at_lc)

# %%
print(f"{undamped:.0f} Hz by it, {computed:.0f} Hz in the guitar: {-shift:+.1f} %")
alone = float(gn.peak(gn.response(gn.layouts.pickup_alone(pickup))).frequency)
bare = 1 / (2 * np.pi * np.sqrt(2.4 * 120e-12))
print(f"unloaded: {bare:.0f} Hz by it, {alone:.0f} Hz computed: {100 * (alone / bare - 1):+.2f} %")

# %% [markdown]
# In the guitar it misses by 9 %. Unloaded, where next to nothing damps a lossless coil, it holds
# within 0.1 %.
#
# ### "Every coil and every capacitance adds a pole"
#
# A coil, a winding, a cable and a tone capacitor: four.

# %%
mine = None  # "yes" or "no": has the guitar four poles, with both knobs at 10?
check(mine, exercise.a_pole_for_each_part)

# %%
at_10, at_5 = (len(gn.formulas.poles(guitar(), volume=mark)) for mark in (10, 5))
print(f"poles at 10: {at_10}; at 5: {at_5}")

# %% [markdown]
# Three. At 10 winding and cable hang on the same two lugs; they have one voltage between them and
# count as one. Turn the knob and there are four.

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it, and take the
# battery out of active electronics. Never open an amplifier: its voltages are lethal even when it
# is off. Probes, not clips, on coil ends: the wire tears. If you solder, the iron is hot and stays
# in its stand. Ventilate the fumes. Wash your hands after using leaded solder. Wear goggles when
# clipping leads. The mains earth must be intact. Local electrical codes and a licensed technician
# come before this lesson.
#
# Two peaks give two unknowns. Find the peak of the bare pickup, f₁ (the lesson "Measure a pickup,
# fit a model" says how), then once more with a known capacitor K across it, f₂. With little
# damping f₁² LC = f₂² L(C + K), and L is out of it:

# %%
f1, f2, K = sp.symbols("f_1 f_2 K", positive=True)
(winding,) = sp.solve(sp.Eq(f1**2 * C, f2**2 * (C + K)), C)
show("C", winding)

# %%
with_470p = gn.Pickup("6.2k", "2.4 H", "590p")  # 120 pF and the 470 pF across them
peaks = [
    float(gn.peak(gn.response(gn.layouts.pickup_alone(one))).frequency)
    for one in (pickup, with_470p)
]
c_found = float(winding.subs({f1: peaks[0], f2: peaks[1], K: 470e-12}))
l_found = 1 / ((2 * np.pi * peaks[0]) ** 2 * c_found)
print(f"{peaks[0]:.0f} Hz and {peaks[1]:.0f} Hz: C = {c_found * 1e12:.0f} pF, L = {l_found:.2f} H")

# %% [markdown]
# That finds the 120 pF and the 2.4 H within 1 % on the lossless pickup of this lesson. Put in your
# own two peaks, and the capacitor's value as measured, not as printed. With a real coil its losses
# move both peaks a little, and so does the input of the meter, which lies across it too.
#
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/12_where_the_peak_comes_from.ipynb).
#
# **1.** A pair of poles has Q = 2. How high does the peak stand, re the level at low frequency?

# %%
mine = None  # dB
check(mine, exercise.height_at_q_2)

# %% [markdown]
# **2.** The peak is to stand at just twice the level at low frequency, 6 dB up. Which Q must the
# poles have?

# %%
mine = None  # a plain number
check(mine, exercise.quality_for_twice)

# %% [markdown]
# **3.** The guitar of this lesson with both pots of 500 kΩ, knobs at 10. What is the Q of its pair
# of poles? (By the closed form, or by `gn.formulas.poles`.)

# %%
mine = None  # a plain number
check(mine, exercise.q_from_the_poles)

# %% [markdown]
# **4.** A treble bleed of 1 nF goes across the volume pot, and the knob stands at 5. How many poles
# has the guitar now?

# %%
mine = None  # a whole number
check(mine, exercise.poles_with_a_bleed)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert sp.simplify(natural - sp.sqrt((1 + R / P) / (L * C))) == 0
assert sp.simplify(quality - sp.sqrt(L * C * (1 + R / P)) / (R * C + L / P)) == 0
assert sp.simplify(at - w0**2 * (1 - 1 / (2 * Q**2))) == 0
assert sp.simplify(height - Q / sp.sqrt(1 - 1 / (4 * Q**2))) == 0
assert at.subs(Q, 1 / sp.sqrt(2)) == 0
assert round(undamped) == 4126
assert round(undamped, -2) == 4100
assert round(computed, -2) == 3800
assert abs(by_hand - computed) < 5
assert round(100 * (f0 / undamped - 1)) == 3
assert round(100 * (1 - by_hand / f0)) == 11
assert round(shift) == 9
assert difference == 0
assert opinion == 0
assert sp.simplify(low - P / (R + P)) == 0
assert sp.simplify(high - 1 / (L * C)) == 0
assert round(40 * np.log10(2)) == 12
assert round(20 * np.log10(2)) == 6
circle = [abs(gn.formulas.poles(guitar(pots))[-1]) for pots in ("250k", "500k", "1M")]
assert abs(circle[-1] / circle[0] - 1) < 0.02
assert abs(abs(gn.formulas.poles(guitar(cable="10 m"))[-1]) / circle[0] - 1) > 0.2
assert [round(by_f0, 1) for _, by_f0, _ in shares[:2]] == [-0.5, -0.5]
assert shares[3][0] == "load"
assert 0.8 < shares[3][2] < 1
assert all(abs(part) < 0.15 for part in shares[2][1:])
assert [row[1] for row in rows] == [2, 3, 4, 4, 3, 2, 5]
assert abs(slow_pole / slow_zero - 1) < 0.03
assert 500 < found_peaks["tone at 0"] < 700
assert round(250 * (1 - gn.audio_taper(0.15)(0.9)), 1) == 42.5
assert round(computed - found_peaks["volume at 9"], -1) == 630
assert np.isnan(found_peaks["volume at 5"])
assert abs(alone / bare - 1) < 1e-3
assert (at_10, at_5) == (3, 4)
assert abs(c_found / 120e-12 - 1) < 0.01
assert abs(l_found / 2.4 - 1) < 0.01

# %% [markdown]
# **Turn the page.** The next lesson is [Choosing a bleed before
# soldering](13_choosing_a_bleed_before_soldering.ipynb). Compare your exercises with the [worked
# answers](answers/12_where_the_peak_comes_from.ipynb) first.
