# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Cable length
#
# **The question from the bench.** "Do I need a treble bleed, or just a better cable?" A cable
# is a capacitor from tip to sleeve, usually some 100 pF a metre (30 pF a foot), and the pickup
# sees it. How much does a metre move, at volume 10 and turned down?
#
# You need nothing on the bench. It takes about fifteen minutes. The guitar is invented: a single
# coil of 6.2 kΩ and 2.4 H, 250 kΩ pots with audio tapers, no bleed.

# %%
import numpy as np

import guitarnet as gn

guitar = gn.layouts.one_pickup(
    gn.Pickup("6.2k", "2.4 H", "120p"), volume="250k", tone="250k", tone_capacitor="22n"
)
guitar

# %% [markdown]
# ## Predict
#
# Write down your numbers before you go on.

# %%
my_shift = 10.0  # %: by how much does the peak fall from 3 m to 6 m of cable, at volume 10?
my_loss = -3.0  # dB: what does 6 m cost against 3 m at 5 kHz, volume 10?

# %% [markdown]
# ## At volume 10

# %%
lengths = ["1 m", "3 m", "6 m", "10 m"]
at_10 = gn.response(guitar, volume=10, **{"cable.length": lengths})
ax = gn.plot_response(at_10, re="reference", title="The longer the cable, the lower the peak")
# %%
peak = gn.peak(at_10)
table = peak.to_dataframe()[["frequency", "height", "q"]].round(2)
table.rename(columns={"frequency": "peak [Hz]", "height": "height [dB re 100 Hz]", "q": "Q"})

# %%
f3, f6 = (float(peak.frequency.sel({"cable.length": metres})) for metres in (3, 6))
shift = 100 * (f6 / f3 - 1)
level = gn.level_db(at_10, re="reference").interp(frequency=5000)
loss = float(level.sel({"cable.length": 6}) - level.sel({"cable.length": 3}))
print(f"from 3 m to 6 m the peak moves {shift:+.1f} %; you expected {-my_shift} %")
print(f"at 5 kHz: {loss:+.1f} dB; you expected {my_loss} dB")

# %% [markdown]
# Without any load the resonance follows one over the square root of the whole capacitance,
# winding and cable together: from 3 m to 6 m it would fall by 24 %. Pots and amp damp it, which
# moves the peak as well, so it falls by 19 %. Doubling the cable does not halve it, because the
# winding's 120 pF stay. And the lower peak is the higher one: the same load damps it less.

# %% [markdown]
# ## Turned down
#
# Now the same cables at volume 10, 7, 5 and 3. Each curve is compared with the same cable at
# volume 10, levels matched at 100 Hz: only what turning down does to the shape.

# %%
cables = {"cable.length": ["1 m", "3 m", "6 m", "10 m"]}
h = gn.response(guitar, volume=[10, 9, 7, 5, 3], **cables)
ax = gn.plot_difference(h, re={"volume": 10}, title="What turning down does, by cable length")
# %%
change = gn.treble_change(h)
worst = change.worst.to_pandas().round(1)
worst

# %% [markdown]
# With 1 m the shape moves by under 1 dB between 200 Hz and 5 kHz at every mark; with 10 m it is
# more than six times as much. So a short cable does make a bleed less of a question, and a long one
# makes it more of one. What a bleed does with each:

# %%
bled = gn.response(
    guitar,
    volume=[10, 5],
    treble_bleed=[None, gn.bleed("1n"), gn.bleed("150k || 1n"), gn.bleed("680p")],
    **cables,
)
with_bleed = gn.treble_change(bled).worst.sel(volume=5).to_pandas().round(1)
with_bleed

# %% [markdown]
# One network does not act alike with every cable: 150 kΩ with 1 nF in parallel raises the shape
# at 5 by 3.3 dB with 3 m, and by 7.6 dB with 10 m. Settle the cable first, then choose the
# bleed.

# %% [markdown]
# ## Measure it on your own cable
#
# **Cautions.** Unplug the cable at both ends before measuring it. Never measure anything that is
# connected to an amplifier that is on; never open an amplifier: its voltages are lethal even
# when it is off. Local electrical codes and a licensed technician come before this lesson.
#
# With a capacitance meter on tip and sleeve, nothing plugged in at the other end, divide by the
# length. Coiled cables are often a few nanofarad. Put your own numbers here:

# %%
mine = gn.Cable("10 ft", "30 pF/ft")
h_mine = gn.response(guitar.replace("cable", mine), volume=[10, 5])
total = mine.length * mine.capacitance_per_metre
hertz = float(gn.peak(h_mine).frequency.sel(volume=10))
print(f"{mine.label()}: {total * 1e12:.0f} pF; peak at {hertz:.0f} Hz")

# %% [markdown]
# ## Turn the knob
#
# The cables against each other, live. (Without a running or trusted notebook you see a still
# picture.)

# %%
each = {f"{metres} m": guitar.replace("cable.length", f"{metres} m") for metres in (1, 3, 6, 10)}
live = gn.compare(each, dim="cable", volume=range(11))
gn.knob_view(live, title="Cable length, single coil, no bleed (invented guitar)")

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert -19.5 < shift < -18.5
undamped = np.sqrt((120e-12 + 300e-12) / (120e-12 + 600e-12))
assert 0.755 < undamped < 0.765
assert (np.diff(peak.frequency.values) < 0).all()
heights = peak.height.values
assert (np.diff(heights) > 0).all()
assert abs(worst[1.0]).max() < 1
assert (abs(worst[10.0]) > 6 * abs(worst[1.0]))[[9.0, 7.0, 5.0, 3.0]].all()
parallel = with_bleed.loc["150 kΩ ∥ 1 nF"]
assert parallel[3.0] == 3.3
assert parallel[10.0] == 7.6
assert round(mine.length, 3) == 3.048
assert abs(total * 1e12 - 300) < 0.5
