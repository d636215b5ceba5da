# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Worked answers: Loading by pots, cable and amp
#
# To the lesson [Loading by pots, cable and amp](../02_loading_by_pots_cable_amp.ipynb). Try first;
# a worked answer teaches most when you have one of your own to lay beside it.

# %%
import sys

sys.path.insert(0, "..")  # the exercises lie beside the lessons

import numpy as np

import guitarnet as gn
from exercises import loading_by_pots_cable_amp as exercise
from exercises.checking import check

pickup = gn.Pickup("6.2k", "2.4 H", "120p")


def load(*ohms):
    """Resistances in parallel."""
    return 1 / sum(1 / ohm for ohm in ohms)


def closed_forms(parallel, capacitance, wire=6.2e3, inductance=2.4):
    """Q, frequency [Hz] and height [dB] of the peak."""
    more = 1 + wire / parallel
    natural = np.sqrt(more / (inductance * capacitance)) / (2 * np.pi)
    quality = np.sqrt(inductance * capacitance * more) / (
        wire * capacitance + inductance / parallel
    )
    frequency = natural * np.sqrt(1 - 1 / (2 * quality**2))
    height = 20 * np.log10(quality / np.sqrt(1 - 1 / (4 * quality**2)))
    return quality, frequency, height


# %% [markdown]
# ## Is it so?
#
# **The resistor leads the treble away.** No. If it did, the highest treble would gain most from
# a larger one; but the gain is 4 dB at the peak and next to nothing at 15 kHz.

# %%
found = "no"
told = check(found, exercise.resistor_leads_treble_away)
assert told
told

# %% [markdown]
# **500 kΩ pots are louder.** No, not by a decibel. At 100 Hz the pickup is its wire, 6.2 kΩ, and
# the load makes a divider of it.

# %%
louder = 20 * np.log10(
    (1 + 6.2e3 / load(250e3, 250e3, 1e6)) / (1 + 6.2e3 / load(500e3, 500e3, 1e6))
)
print(f"{louder:.2f} dB, tone capacitor taken for a short")
told = check("no", exercise.larger_pots_are_louder)
assert 0.2 < louder < 0.25
assert told
told

# %% [markdown]
# (At 100 Hz the tone capacitor is no short yet, 72 kΩ, and the whole computation says 0.18 dB.)
#
# **The tone capacitor counts at 10.** No. 22 nF have 1.9 kΩ at 3.8 kHz; what is in series with
# 250 kΩ and smaller than that by a hundred does not count, and 100 nF have still less.

# %%
for hertz in (100, 3800):
    print(f"{hertz} Hz: {1 / (2 * np.pi * hertz * 22e-9) / 1e3:.1f} kΩ")
told = check("no", exercise.tone_capacitor_at_10)
assert told
told

# %% [markdown]
# ## 1. Three loads in parallel
#
# Add what conducts: 1/500 + 1/500 + 1/1000 = 5/1000, so 1000/5 kΩ.

# %%
found = load(500, 500, 1000)
told = check(found, exercise.resistance_across)
assert told
told

# %% [markdown]
# ## 2. The peak of another guitar
#
# A no-load tone pot at 10 is open, so 300 kΩ and 1 MΩ in parallel, 231 kΩ. The capacitance is that
# of the winding and of 3 m of cable, 120 + 300 = 420 pF.

# %%
parallel, capacitance = load(300e3, 1e6), 120e-12 + 3 * 100e-12
quality, found, _ = closed_forms(parallel, capacitance)
print(f"{parallel / 1e3:.0f} kΩ, {capacitance * 1e12:.0f} pF: Q {quality:.2f}, {found:.0f} Hz")
told = check(found, exercise.peak_of_another)
assert round(parallel / 1e3) == 231
assert told
told

# %% [markdown]
# And by the whole circuit:

# %%
guitar = gn.layouts.one_pickup(
    pickup, volume="300k", tone=gn.Pot("250k", gn.no_load("audio 15%")), cable="3 m"
)
whole = float(gn.peak(gn.response(guitar)).frequency)
print(f"{whole:.0f} Hz")
assert abs(whole / found - 1) < 1e-3

# %% [markdown]
# ## 3. A pedal of 500 kΩ
#
# The load falls from 111 kΩ to 100. Heights of both, and the difference, new minus old:

# %%
heights = [closed_forms(load(250e3, 250e3, amp), 620e-12)[2] for amp in (500e3, 1e6)]
found = heights[0] - heights[1]
print(f"{heights[0]:.2f} dB for {heights[1]:.2f} dB: {found:.2f} dB")
told = check(found, exercise.pedal_in_front)
assert told
told

# %% [markdown]
# ## 4. No peak any more
#
# From Q = 1/√2 down there is none: (RC + L/P)² = 2LC(1 + R/P). Both sides hold 2RLC/P, which
# goes out, and P = L/√(2LC - R²C²) is left. With R neglected it is √(L/(2C)).

# %%
wire, inductance, capacitance = 6.2e3, 2.4, 620e-12
found = inductance / np.sqrt(2 * inductance * capacitance - (wire * capacitance) ** 2)
print(f"{found / 1e3:.1f} kΩ; R neglected {np.sqrt(inductance / 2 / capacitance) / 1e3:.1f} kΩ")
told = check(found / 1e3, exercise.load_without_a_peak)
assert told
told

# %% [markdown]
# And by the whole circuit, with one resistance for all the load: a little more has a peak, and
# a little less has none.

# %%
for share in (1.05, 0.95):
    loaded = gn.layouts.one_pickup(
        pickup, tone=None, cable="5 m", amp=gn.AmpInput(share * found)
    ).replace("volume.resistance", "1G")
    height = float(gn.peak(gn.response(loaded)).height)
    print(f"{share * found / 1e3:.1f} kΩ: {'none' if np.isnan(height) else f'{height:.3f} dB'}")
    assert np.isnan(height) == (share < 1)

# %% [markdown]
# On to the next lesson: [Tapers](../03_tapers.ipynb).
