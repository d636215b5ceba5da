# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Joints, switches, your own harness
#
# To the lesson [Joints, switches, your own harness](../09_your_own_harness.ipynb). Try first; a
# worked answer teaches most when you have one of your own to lay beside it.
#
# The guitar of the lesson, its joints in three groups, so that one group can be changed:

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import your_own_harness as exercise
from exercises.checking import check

parts = {
    "neck": gn.Pickup("6k", "2.3 H", "110p", wire="AWG 42"),
    "bridge": gn.Pickup("6.8k", "2.8 H", "130p", wire="AWG 42"),
    "mode": gn.switches.double_throw(["parallel", "series"]),
    "tone": gn.switches.rotary(1, ["none", "2.2 nF", "10 nF", "47 nF"]),
    "small": gn.Capacitor("2.2n"),
    "medium": gn.Capacitor("10n"),
    "large": gn.Capacitor("47n"),
    "volume": gn.Pot("250k", "audio 15%"),
    "jack": gn.Jack(),
}
common = [
    ("bridge.ground", "small.b", "medium.b", "large.b", "volume.low", "jack.sleeve"),
    ("tone.a", "volume.high"),
    ("bridge.hot", "mode.b"),
    ("mode.a1", "jack.sleeve"),
    ("mode.b1", "volume.high"),
    ("tone.a2", "small.a"),
    ("tone.a3", "medium.a"),
    ("tone.a4", "large.a"),
    ("volume.wiper", "jack.tip"),
]
neck = [("neck.hot", "volume.high"), ("neck.ground", "mode.a")]
jumper = [("mode.a2", "mode.b2")]


def wired(joints, parts=parts, left=()):
    harness = gn.Harness(parts, joints).plugged("5 m").leave_open("tone.a1", *left)
    harness.check()
    return harness


guitar = wired(common + neck + jumper)
gn.truth_table(guitar, tone="none")

# %% [markdown]
# ## Is it so?
#
# ### "The larger the capacitor, the less is left, at every frequency"

# %%
h = gn.response(guitar, frequency=[600], mode="parallel", tone=["10 nF", "47 nF"])
small, large = gn.level_db(h).isel(frequency=0).values
print(f"at 600 Hz {small:+.1f} dB with 10 nF, {large:+.1f} dB with 47 nF")
found = "yes" if large < small else "no"
assert check(found, exercise.larger_takes_more)
check(found, exercise.larger_takes_more)

# %% [markdown]
# ### "Ground the middle lug of the volume pot"
#
# Change the two leads over: wherever the joint list says wiper, write low, and the other way round.

# %%
over = {"volume.wiper": "volume.low", "volume.low": "volume.wiper"}
joints = common + neck + jumper
grounded = wired([tuple(over.get(lug, lug) for lug in joint) for joint in joints])
h = gn.response(grounded, volume=[10, 5, 2])
print(f"largest output: {float(abs(h).max()):.6f} V for 1 V induced")
found = "yes" if float(abs(h).max()) > 1e-6 else "no"
assert check(found, exercise.grounded_middle_lug)
check(found, exercise.grounded_middle_lug)

# %% [markdown]
# From the output's lug the track leads to the wiper, and the wiper is ground. Nothing of the
# pickup is on that piece of track.
#
# ### "Two pickups in series are a humbucker"

# %%
hum = gn.audio.hum(guitar, mode="series")
print(f"hum re the louder coil alone: {float(hum.residual[0]):+.1f} dB")
found = "yes" if bool(hum.cancelling) else "no"
assert check(found, exercise.series_cancels_hum)
check(found, exercise.series_cancels_hum)

# %% [markdown]
# ## Exercises
#
# ### 1. A 500 kΩ volume pot
#
# 12.8 kΩ of coils, and 500 kΩ across them.

# %%
by_hand = 1 / (1 / 12.8 + 1 / 500)
found = float(gn.jack_resistance(guitar.replace("volume.resistance", "500k"), mode="series")) / 1000
print(f"by hand {by_hand:.2f} kΩ, from the harness {found:.2f} kΩ")
assert abs(by_hand - found) < 0.005
assert check(found, exercise.with_a_500k_pot)
check(found, exercise.with_a_500k_pot)

# %% [markdown]
# ### 2. A capacitor for 1 kHz
#
# By hand first: C = 1/((2πf)² L), less what cable and windings bring.

# %%
henry = 2.3 * 2.8 / (2.3 + 2.8)
by_hand = 1e9 / ((2 * np.pi * 1000) ** 2 * henry) - 0.5 - 0.24
print(f"{by_hand:.1f} nF, if nothing damped the circuit")

# %% [markdown]
# That is a start. The loads pull the peak lower, so the capacitor must be a little smaller. Sweep a
# few and look between which two the peak passes 1 kHz, then read off in between.

# %%
nanofarad = np.arange(15.0, 21.0)
h = gn.response(guitar, mode="parallel", tone="10 nF", medium=list(nanofarad * 1e-9))
peaks = gn.peak(h).frequency.values
for farad, hertz in zip(nanofarad, peaks, strict=True):
    print(f"{farad:.0f} nF: {hertz:.0f} Hz")
found = float(np.interp(-1000, -peaks, nanofarad))
print(f"read off: {found:.1f} nF")
assert found < by_hand
assert check(found, exercise.capacitor_for_1_khz)
check(found, exercise.capacitor_for_1_khz)

# %% [markdown]
# The drawer has 18 nF, and a capacitor sold as ±10 % may be anything from 16 to 20: measure it.
#
# ### 3. The phase toggle
#
# The neck's two leads go to the two middle lugs. In the first place its hot comes out as hot, and
# its ground goes on to the mode toggle, as it did. In the second place the two are crossed. So each
# of the two ways out collects two outer lugs: `a1` and `b2`, and `b1` and `a2`.

# %%
phase = [
    ("neck.hot", "phase.a"),
    ("neck.ground", "phase.b"),
    ("phase.a1", "phase.b2", "volume.high"),
    ("phase.b1", "phase.a2", "mode.a"),
]
toggle = gn.switches.double_throw(["in phase", "reversed"])
with_phase = wired(common + phase + jumper, parts | {"phase": toggle})
gn.truth_table(with_phase, tone="none")

# %% [markdown]
# The minus sign stands where it should. Now the level.

# %%
both = ["in phase", "reversed"]
level = gn.level_db(
    gn.response(with_phase, frequency=[100], phase=both, mode=["parallel", "series"])
)
change = level.isel(frequency=0).sel(phase="reversed") - level.isel(frequency=0).sel(
    phase="in phase"
)
found = float(change.sel(mode="parallel"))
print(f"in parallel {found:+.1f} dB, in series {float(change.sel(mode='series')):+.1f} dB")
assert check(found, exercise.phase_toggle)
check(found, exercise.phase_toggle)

# %% [markdown]
# In parallel something is left, because the two coils differ and do not weigh alike. In series each
# adds its whole voltage, so equal voltages leave next to nothing.
#
# ### 4. The jumper on the wrong lug
#
# `b1` is the hot side. In series the neck's ground lead touches `a2`, and with this jumper the hot
# side: both leads of the neck are on one joint. The bridge's hot lead touches `b2`, where nothing
# is. So no coil is across the pot, and the meter sees the pot alone.

# %%
wrong = wired(common + neck + [("mode.a2", "mode.b1")], left=["mode.b2"])
found = float(gn.jack_resistance(wrong, mode="series")) / 1000
print(f"{found:.0f} kΩ in series, {float(gn.jack_resistance(wrong)) / 1000:.2f} kΩ in parallel")
assert check(found, exercise.jumper_on_the_wrong_lug)
check(found, exercise.jumper_on_the_wrong_lug)

# %% [markdown]
# The truth table says it without a meter:

# %%
rows = [row.how for row in gn.bench.selections(wrong, tone="none")]
assert rows == ["in parallel", "silent"]
gn.truth_table(wrong, tone="none")

# %% [markdown]
# On to the next lesson: [Six readings, one fault](../10_six_readings_one_fault.ipynb).
