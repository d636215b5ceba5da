# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # 50s, modern, independent
#
# **The question from the bench.** The same pots, the same capacitor, four ways to join them.
# "50s wiring keeps the treble." "Independent volumes let you blend two pickups, but they kill the
# top." "Nothing changes at 10." Which of it is so, and what does each cost?
#
# You need nothing on the bench; the last part says what to measure. It takes about twenty
# minutes. The guitar is invented: pickups of 7.6 kΩ and 3.9 H with some eddy loss and screening,
# 500 kΩ pots (audio taper, 15 % of the track at half travel), 22 nF, 5 m of cable.
#
# What joins what, told by function:
#
# - *modern*: pickup on the lug touched at 10, output on the wiper, tone on the pickup's side;
# - *50s*: the same, with the tone on the output's side;
# - *independent*: pickup on the wiper, output on the lug touched at 10, tone on the pickup's side;
# - *independent 50s*: the same, with the tone on the output's side.

# %%
import numpy as np

import guitarnet as gn

pickup = gn.Pickup("7.6k", "3.9 H", "110p", "400k", 0.3, "7 kHz")
WIRINGS = ("modern", "50s", "independent", "independent 50s")


def guitar(wiring):
    return gn.layouts.one_pickup(
        pickup,
        volume=gn.Pot("500k", "audio 15%"),
        tone=gn.Pot("500k", "audio 15%"),
        tone_capacitor="22n",
        wiring=wiring,
        cable="5 m",
    )


builds = {wiring: guitar(wiring) for wiring in WIRINGS}
guitar("50s")

# %% [markdown]
# ## Predict
#
# Write down your numbers before you go on.

# %%
my_change_at_10 = 1.0  # dB: largest difference between the four at volume 10, tone 10
my_gain_of_50s = 6.0  # dB: how much more treble at 3 kHz does 50s keep at volume 5 than modern?
my_loss_of_independent = -6.0  # dB: treble at 3 kHz that independent loses at volume 5
my_level_of_independent = -17.0  # dB: its level at volume 5, re volume 10 (modern: -17 dB)

# %% [markdown]
# ## At 10

# %%
marks = [10, 9, 7, 5, 3, 0]
h = gn.compare(builds, dim="wiring", volume=marks)
difference = gn.level_db(h, re={"wiring": "modern"}).sel(volume=10)
largest_at_10 = float(abs(difference).max())
print(f"largest difference at 10: {largest_at_10:.12f} dB; you expected {my_change_at_10} dB")

# %% [markdown]
# None: at 10 the wiper and the upper lug are one piece of metal, and all four wirings are one
# circuit.
#
# ## Turned down

# %%
ax = gn.plot_builds(h, [10, 7, 5, 3], title="At 10 one circuit; turned down, four")

# %%
change = gn.treble_change(h, frequencies=["1 kHz", "3 kHz", "5 kHz"])
at_3k = change.change.sel(frequency=3000)
gain_of_50s = float(at_3k.sel(wiring="50s", volume=5) - at_3k.sel(wiring="modern", volume=5))
loss_of_independent = float(at_3k.sel(wiring="independent", volume=5))
print(f"50s keeps {gain_of_50s:+.1f} dB at volume 5; you expected {my_gain_of_50s:+} dB")
print(f"independent: {loss_of_independent:+.1f} dB; you expected {my_loss_of_independent:+} dB")
at_3k.to_pandas().round(1)

# %% [markdown]
# The table is the change at 3 kHz re volume 10, levels matched at 100 Hz. With the tone at 10,
# 50s keeps 0.6 dB more than modern at volume 5 with this guitar, not six: what takes the treble is
# the resistance between pickup and cable, and that is the same in both. Behind a divider the cable
# sees both halves of the track side by side, never more than a quarter of it, 125 kΩ; independent
# puts 425 kΩ in its way at half travel, and loses 19 dB.
#
# ## The taper

# %%
finely = gn.compare(builds, dim="wiring", volume=np.arange(0, 10.5, 0.5))
tapers = gn.effective_taper(finely)
level_of_independent = float(tapers.sel(wiring="independent", volume=5))
print(f"independent at 5: {level_of_independent:.1f} dB; you expected {my_level_of_independent} dB")
ax = gn.plot_taper(
    finely, {"audio 15%": gn.audio_taper(0.15)}, title="Independent hardly turns down"
)

# %% [markdown]
# Turned round, the pot is no divider for the pickup but a resistor on its way to the amp, with
# the rest of the track across the pickup. At 100 Hz the amp's 1 MΩ is all it works against: at 5
# the level falls by 4 dB where the others fall by 17, and at 1 it is still there. Then, at 0, the
# wiper shorts the pickup. What goes on the way down is the treble.
#
# ## With the tone turned down
#
# Here 50s is another control: the capacitor hangs behind the volume pot.

# %%
toned = gn.compare(builds, dim="wiring", volume=[10, 5], tone=5)
with_tone = gn.treble_change(toned, frequencies=["3 kHz"]).change.isel(frequency=0)
level_with_tone = gn.effective_taper(toned).sel(volume=5)
gn.Table(
    ["tone 5, volume 5 re volume 10", "level at 100 Hz [dB]", "3 kHz, levels matched [dB]"],
    [
        (
            wiring,
            f"{float(level_with_tone.sel(wiring=wiring)):.1f}",
            f"{float(with_tone.sel(wiring=wiring, volume=5)):+.1f}",
        )
        for wiring in WIRINGS
    ],
)

# %% [markdown]
# With the tone at 5 as well, 50s falls by 20 dB instead of 17 and its shape brightens by 1 dB,
# where modern darkens by 2. So "50s keeps the treble" holds where the tone is down, more than
# where it is up, and the price is level.
#
# ## Two pickups
#
# What independent is made for: both pickups on, one turned down to 0.

# %%
both = {
    wiring: gn.layouts.two_humbuckers(
        pickup, pickup, volume="500k", tone="500k", wiring=wiring, cable="5 m"
    )
    for wiring in WIRINGS
}
blend = gn.compare(both, dim="wiring", switch="neck+bridge", neck_volume=[10, 5, 0])
left = gn.effective_taper(blend, "neck_volume").to_pandas().round(1)
left

# %% [markdown]
# Neck volume at 0 silences the whole guitar with modern and 50s wiring: its wiper lies on ground,
# and so does the output. With independent the bridge pickup plays on, through the resistance of
# the neck's pot. That is the trade: blending for treble.
#
# ## Noise
#
# The resistance that takes the treble also makes noise, 4kT times the real part of what the amp
# looks into.

# %%
gn.noise_table(guitar("modern"))

# %%
gn.noise_table(guitar("independent"))

# %% [markdown]
# Both lie within a microvolt of each other. With modern wiring the noise goes away at 0, where
# the output is shorted; with independent it does not, because the whole track lies between ground
# and output. Hum and the amp's own noise are not in it.
#
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open
# an amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its
# stand; ventilate fumes; lead solder wants washed hands; wear goggles when clipping leads. The
# mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# An ohmmeter at the jack tells independent from the rest without opening anything. Modern and 50s
# read alike: they differ by a capacitor's place, which a meter for resistance does not see.

# %%
readings = {w: gn.jack_resistance(build, volume=[10, 5, 0]) for w, build in builds.items()}
gn.Table(
    ["at the jack [kΩ]", "volume 10", "volume 5", "volume 0"],
    [(w, *(f"{ohm / 1000:.1f}" for ohm in ohms.values)) for w, ohms in readings.items()],
)

# %% [markdown]
# Put your own reading at volume 0 here:

# %%
my_reading = 0.3  # ohm
print("independent" if my_reading > 10e3 else "modern or 50s")

# %% [markdown]
# ## Turn the knob
#
# The four wirings, live. (Without a running or trusted notebook you see a still picture.)

# %%
gn.knob_view(finely, title="Four wirings, tone at 10 (invented guitar)")

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.

# %%
assert largest_at_10 == 0
assert round(gain_of_50s, 1) == 0.6
assert -19.5 < loss_of_independent < -18.5
between = 500e3 * (1 - gn.audio_taper(0.15)(0.5))
assert round(between) == 425e3
track = np.linspace(0, 1, 101)
assert round(max(500e3 * track * (1 - track))) == 125e3
assert -4.5 < level_of_independent < -3.5
assert -17.5 < float(tapers.sel(wiring="modern", volume=5)) < -16.5
at_1 = gn.response(guitar("independent"), [100], volume=[10, 1])
assert gn.level_db(at_1, re={"volume": 10}).sel(volume=1).item() > -8
assert float(abs(gn.response(guitar("independent"), volume=0)).max()) == 0
assert -20.5 < float(level_with_tone.sel(wiring="50s")) < -19.5
assert -17.5 < float(level_with_tone.sel(wiring="modern")) < -16.5
assert 0.5 < float(with_tone.sel(wiring="50s", volume=5)) < 1.5
assert -2.5 < float(with_tone.sel(wiring="modern", volume=5)) < -1.5
assert np.isneginf(left.loc[["modern", "50s"], 0.0]).all()
assert np.isfinite(left.loc[["independent", "independent 50s"], 0.0]).all()
noise = {w: [float(row[1]) for row in gn.noise_table(guitar(w))] for w in ("modern", "independent")}
assert noise["modern"][-1] == 0
assert noise["independent"][-1] > 1
assert max(abs(a - b) for a, b in zip(*(n[:-1] for n in noise.values()), strict=True)) < 1
assert (readings["modern"].values == readings["50s"].values).all()
assert float(readings["modern"].sel(volume=0)) == 0
assert round(float(readings["independent"].sel(volume=0))) == 500e3
