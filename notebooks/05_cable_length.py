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
# **The question from the bench.** "Do I need a treble bleed, or just a better cable?" A cable is
# a capacitor from tip to sleeve, often some 100 pF a metre (30 pF a foot), and the pickup sees
# it. How much does a metre move, at volume 10 and turned down?
#
# **What you learn.** Where the cable puts the peak, why a longer one makes the guitar darker and
# more peaked at once, and why one treble bleed acts differently with different cables.
#
# **How long it takes.** About twenty minutes, and as long again for the exercises.
#
# **What you need on the bench.** Nothing. For the last part a cable and a meter with a capacitance
# range.
#
# The guitar is invented: a single coil of 6.2 kΩ and 2.4 H, 250 kΩ pots with audio tapers, no
# bleed.

# %%
import numpy as np

import guitarnet as gn
from exercises import cable_length as exercise
from exercises.checking import check

guitar = gn.layouts.one_pickup(
    gn.Pickup("6.2k", "2.4 H", "120p"), volume="250k", tone="250k", tone_capacitor="22n"
)
guitar

# %% [markdown]
# ## Predict
#
# Write your numbers in place of `None` before you go on. A wrong one costs nothing: the distance
# between what you expected and what comes out is the lesson.

# %%
my_shift = None  # %: by how much does the peak fall from 3 m to 6 m of cable, at volume 10?
my_loss = None  # dB, minus for a loss: what do 6 m change against 3 m at 5 kHz, at volume 10?
my_dark = None  # dB, minus for a loss: at 3 kHz, what does turning from 10 to 7 do with 10 m?

# %% [markdown]
# ## Compute
#
# ### At volume 10

# %%
lengths = ["1 m", "3 m", "6 m", "10 m"]
at_10 = gn.response(guitar, {"volume": 10, "cable.length": lengths})
peak = gn.peak(at_10)
gn.Table(
    ("cable", "peak [Hz]", "height [dB re 100 Hz]"),
    [
        (length, f"{float(f):.0f}", f"{float(top):.1f}")
        for length, f, top in zip(lengths, peak.frequency, peak.height, strict=True)
    ],
)

# %%
f3, f6 = (float(peak.frequency.sel({"cable.length": metres})) for metres in (3, 6))
shift = 100 * (f6 / f3 - 1)
check(my_shift, -shift, unit="%", within=2, hint="The peak goes with one over √(LC).")

# %%
level = gn.level_db(at_10, re="reference").interp(frequency=5000)
loss = float(level.sel({"cable.length": 6}) - level.sel({"cable.length": 3}))
check(my_loss, loss, unit="dB", within="0.5 dB", hint="Beyond the peak the level falls steeply.")

# %%
print(f"from 3 m to 6 m the peak moves {shift:+.1f} %; at 5 kHz the level moves {loss:+.1f} dB")

# %% [markdown]
# Without any damping the resonance follows one over the square root of the whole capacitance,
# winding and cable together: from 3 m to 6 m it would fall by 24 %. Pots and amp damp it, which
# moves the peak as well, so it falls by 19 %. Twice the cable does not halve it, for two reasons:
# the square root, and the winding's 120 pF, which stay.
#
# The lower peak is the higher one. With more capacitance the coil's impedance at the peak is
# lower, and the same pots damp it less.
#
# ### Turned down
#
# The same cables at volume 9, 7, 5 and 3. Each is compared with itself at volume 10, levels
# matched at 100 Hz, so that only the change of shape is left. The table holds the deviation of
# largest size between 200 Hz and 5 kHz, in decibels.

# %%
cables = {"cable.length": lengths}
h = gn.response(guitar, volume=[10, 9, 7, 5, 3], **cables)
change = gn.treble_change(h)
worst = change.worst.to_pandas().round(1)
worst

# %%
dark = float(change.change.sel({"volume": 7, "cable.length": 10, "frequency": 3000}))
check(my_dark, dark, unit="dB", within="1 dB", hint="Volume 7 puts much resistance in the way.")

# %% [markdown]
# With 1 m the shape moves by under 1 dB at every mark; with 10 m it is more than six times as
# much. Turned down, the pot puts resistance between pickup and cable. Resistance and capacitance
# together make a low-pass, and the longer cable brings more capacitance to it.
#
# ### With a bleed

# %%
networks = [None, gn.bleed("1n"), gn.bleed("150k || 1n"), gn.bleed("680p")]
bled = gn.response(guitar, volume=[10, 5], treble_bleed=networks, **cables)
with_bleed = gn.treble_change(bled).worst.sel(volume=5).to_pandas().round(1)
with_bleed

# %% [markdown]
# One network acts differently with different cables: 150 kΩ with 1 nF in parallel raises the shape
# at 5 by 3.3 dB with 3 m, and by 7.6 dB with 10 m. Choose the cable first, then the bleed.
#
# ## Look
#
# ### At volume 10
#
# Every curve meets at 100 Hz, so you compare shapes. The dots are the peaks.

# %%
ax = gn.plot_response(
    at_10, re="reference", title="A longer cable: a lower and a taller peak", view=(100, 15e3)
)
_ = ax.plot(peak.frequency, peak.height, "ko", markersize=4, zorder=5)

# %% [markdown]
# ### Turned down
#
# Below zero: less treble than the same cable has at volume 10. The valley sits where the peak was.
# Above it the curves rise, because at volume 10 the pickup itself falls off steeply there.

# %%
ax = gn.plots.plot_difference(
    h, re={"volume": 10}, title="Turning down takes the peak away, most with a long cable"
)

# %% [markdown]
# ### Turn the knob
#
# The cables against each other, live. (Without a running or trusted notebook you see a still
# picture.)

# %%
each = {f"{metres} m": guitar.replace("cable.length", f"{metres} m") for metres in (1, 3, 6, 10)}
live = gn.response(each, dim="cable", volume=range(11))
gn.live_page(live, title="Cable length, single coil, no bleed (invented guitar)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "Low capacitance is better: it gives more treble"

# %%
mine = None  # "yes" or "no": is there more at 3 kHz with 1 m than with 10 m, at volume 10?
check(mine, exercise.low_capacitance)

# %%
two = gn.level_db(at_10, re="reference").sel({"cable.length": [1, 10]})
two.interp(frequency=[2000, 3000, 4000, 5000]).to_pandas().round(1)

# %%
above = two.sel(frequency=slice(1000, None))
more = above.sel({"cable.length": 1}) > above.sel({"cable.length": 10})
meet = float(above.frequency[more][0])
print(f"the short cable has more from {meet:.0f} Hz on")

# %% [markdown]
# It depends on where you listen. At 3 kHz the long cable has 5 dB more, because its peak is
# there; at 5 kHz the short one has over 6 dB more. They change places at 3.9 kHz. Which is better
# is not a number.
#
# ### "A good cable makes a bleed needless"

# %%
mine = None  # "yes" or "no": with 1 m, does the shape stay within 1 dB at every mark?
check(mine, exercise.good_cable)

# %%
largest_change = worst.abs().max()
for metres, decibels in largest_change.items():
    print(f"{metres:4.0f} m: {decibels:.1f} dB at the worst mark")

# %% [markdown]
# With 1 m it holds: less than 1 dB at every mark. With 3 m it is 3.5 dB, with 6 m over 6, and most
# players stand further away than a metre. What counts is the whole capacitance, so 6 m of a
# cable at 50 pF a metre behave like 3 m of this one. Whether 3.5 dB call for a bleed is for the
# player to say.
#
# ### "Thicker copper lets more treble through"

# %%
mine = None  # "yes" or "no": does 1 Ω a metre cost 6 m of cable more than 0.1 dB at 5 kHz?
check(mine, exercise.thick_conductor)

# %%
thick, thin = (guitar.replace("cable", gn.Cable("6 m", resistance_per_metre=ohm)) for ohm in (0, 1))
copper = gn.level_db(gn.response({"no resistance": thick, "1 Ω/m": thin}))
largest = float(abs(copper[1] - copper[0]).max())
print(f"largest difference, 20 Hz to 20 kHz: {largest:.4f} dB")

# %% [markdown]
# Not by its resistance: under 0.01 dB at every frequency. The pickup has 6200 Ω and the amp a
# million; 6 Ω between them are lost on neither. A different cable may well have a different
# capacitance, and that you have seen.
#
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the cable at both ends before measuring it. Never measure anything that is
# connected to an amplifier that is on; never open an amplifier: its voltages are lethal even
# when it is off. The amplifier's mains earth must be intact. Local electrical codes and a licensed
# technician come before this lesson.
#
# With a capacitance meter on tip and sleeve, nothing plugged in at the other end, divide by the
# length. Coiled cables often have a few nanofarad (common practice, no source). Put your own
# numbers here:

# %%
own = gn.Cable("10 ft", "30 pF/ft")
h_own = gn.response(guitar.replace("cable", own), volume=[10, 5])
total = own.length * own.capacitance_per_metre
hertz = float(gn.peak(h_own).frequency.sel(volume=10))
print(f"{own.label()}: {total * 1e12:.0f} pF; peak at {hertz:.0f} Hz")

# %% [markdown]
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/05_cable_length.ipynb).
#
# **1.** Your customer has 9 m of cable. Where is the peak at volume 10?

# %%
mine = None  # Hz
check(mine, exercise.peak_with_9_m)

# %% [markdown]
# **2.** He buys a coiled one. You measure 2.4 nF from tip to sleeve. Where is the peak now?

# %%
mine = None  # Hz
check(mine, exercise.coiled_cable)

# %% [markdown]
# **3.** Another wants the peak at 3.3 kHz, "as it was with my old cable". How long was it?

# %%
mine = None  # m
check(mine, exercise.metres_for_a_peak)

# %% [markdown]
# **4.** A third has a 3 m cable at home and 6 m on stage, and wants one network for both: none,
# 220 pF, 1 nF, 150 kΩ ∥ 470 pF or 150 kΩ ∥ 1 nF. Which of them leaves the smallest worst
# deviation at volume 5? Write it as "none", "220p", "1n", "150k || 470p" or "150k || 1n".

# %%
mine = None
check(mine, exercise.one_bleed_for_two)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
# A metre and a foot of cable.
assert abs(gn.values.read_value("30 pF/ft", "F/m") * 1e12 / 100 - 1) < 0.02
# At volume 10.
undamped = np.sqrt((120e-12 + 300e-12) / (120e-12 + 600e-12))
assert round(100 * (1 - undamped)) == 24
assert round(shift) == -19
assert (np.diff(peak.frequency.values) < 0).all()
assert (np.diff(peak.height.values) > 0).all()
# Turned down.
assert abs(worst[1.0]).max() < 1
assert (abs(worst[10.0]) > 6 * abs(worst[1.0]))[[9.0, 7.0, 5.0, 3.0]].all()
assert (with_bleed.loc["150 kΩ ∥ 1 nF", [3.0, 10.0]] == [3.3, 7.6]).all()
# Is it so?
at_3k, at_5k = (two.interp(frequency=f).values for f in (3000, 5000))
assert round(at_3k[1] - at_3k[0]) == 5
assert 6 < at_5k[0] - at_5k[1] < 7
assert round(meet, -2) == 3900
assert largest_change[3.0] == 3.5
assert 6 < largest_change[6.0] < 7
alike = [gn.response(guitar.replace("cable", gn.Cable(*c))) for c in (("6 m", "50p"), ("3 m",))]
assert float(abs(alike[0] - alike[1]).max()) < 1e-9
assert largest < 0.01
# On the bench.
assert round(own.length, 3) == 3.048
assert abs(total * 1e12 - 300) < 0.5

# %% [markdown]
# **Turn the page.** The next lesson is [Fifties, modern,
# independent](06_fifties_modern_independent.ipynb). Compare your exercises with the [worked
# answers](answers/05_cable_length.ipynb) first.
