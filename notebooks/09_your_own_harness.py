# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Joints, switches, your own harness
#
# **The question from the bench.** A customer has a guitar with two single coils and wants no
# pickup selector at all: both pickups always on, a mini toggle that puts them in parallel or in
# series, one volume, and in place of the tone pot a rotary switch with three capacitors. No
# catalogue has that wiring. How do you write it down, check it before the iron is hot, and know
# what it will do?
#
# You need an ohmmeter on the bench for the last part. It takes about half an hour. The guitar is
# invented: a neck pickup of 6 kΩ, a bridge pickup of 6.8 kΩ, a 250 kΩ audio pot, capacitors of
# 2.2, 10 and 47 nF, and 5 m of cable at 100 pF a metre.

# %%
import inspect
import tempfile
from pathlib import Path

import guitarnet as gn

# %% [markdown]
# ## Predict
#
# Write down your numbers before you go on.

# %%
my_series_level = 6.0  # dB: how much louder is series than parallel, at 100 Hz, volume 10?
my_peak = 1000  # Hz: where is the peak in parallel, with 10 nF switched in?
my_parallel_reading = 6.4  # kΩ: what does the ohmmeter show at the jack in parallel?
my_series_reading = 12.8  # kΩ: and in series?

# %% [markdown]
# ## Parts on the bench
#
# A harness is parts and joints. Lay out the parts first and give each a name of your own. A
# switch's places are named by what they select, as on the panel; the first place is where it
# stands unless you say otherwise.

# %%
parts = {
    "neck": gn.Pickup("6k", "2.3 H", "110p"),
    "bridge": gn.Pickup("6.8k", "2.8 H", "130p"),
    "mode": gn.double_throw(["parallel", "series"]),
    "tone": gn.rotary(1, ["none", "2.2 nF", "10 nF", "47 nF"]),
    "small": gn.Capacitor("2.2n"),
    "medium": gn.Capacitor("10n"),
    "large": gn.Capacitor("47n"),
    "volume": gn.Pot("250k", "audio 15%"),
    "jack": gn.Jack(),
}
for name, part in parts.items():
    print(f"{name:7} {', '.join(part.lugs)}")

# %% [markdown]
# These are the lugs you will solder to. A pot's wiper touches `high` at 10 and `low` at 0, from
# whichever side you look at it. On the toggle, `a` is the middle lug of one pole: it touches `a1`
# in the first place and `a2` in the second. So does `b` on the other pole.
#
# ## Joints
#
# Now the joints, one line for each: the lugs that meet in one blob of solder.

# %%
joints = [
    ("bridge.ground", "small.b", "medium.b", "large.b", "volume.low", "jack.sleeve"),
    ("neck.hot", "tone.a", "volume.high"),
    # The toggle: the neck's ground lead, and the bridge's hot lead.
    ("neck.ground", "mode.a"),
    ("bridge.hot", "mode.b"),
    # Parallel: the one to ground, the other to the neck's hot.
    ("mode.a1", "jack.sleeve"),
    ("mode.b1", "neck.hot"),
    # The rotary.
    ("tone.a2", "small.a"),
    ("tone.a3", "medium.a"),
    ("tone.a4", "large.a"),
    # Out.
    ("volume.wiper", "jack.tip"),
]
# Cable and amp are part of the circuit: plugged in, they are.
unfinished = gn.Harness(parts, joints, name="two pickups, series and parallel").plugged("5 m")


def try_it(harness):
    """Check a harness, and print the sentence where it is not whole."""
    try:
        harness.check()
    except gn.BadHarness as error:
        print(error)
    else:
        print("Every lug is joined, or left open on purpose.")


try_it(unfinished)

# %% [markdown]
# A forgotten lug. Nothing is computed before every lug is accounted for. And it is right: what
# makes the pair *series* is missing. In series the neck stands on top of the bridge, so the
# neck's ground lead must meet the bridge's hot lead: a jumper from `a2` to `b2`. That is a joint.

# %%
jumpered = unfinished.join("mode.a2", "mode.b2")
try_it(jumpered)

# %% [markdown]
# Another one, and this one is in order: in the rotary's first place there is to be no capacitor.
# So we say that we leave it open on purpose.

# %%
guitar = jumpered.leave_open("tone.a1")
try_it(guitar)

# %% [markdown]
# `unfinished` and `jumpered` are still what they were: every edit gives a new harness.
#
# ## What does it select?
#
# That every lug is accounted for does not mean that the wiring is right. The truth table is read
# from the contacts by continuity, place by place, as you would with a meter. Here in one place
# of the rotary; without `tone="none"` it has eight rows.

# %%
gn.truth_table(guitar, tone="none")

# %% [markdown]
# Suppose you had answered the first sentence in the lazy way, by leaving both lugs open:

# %%
lazy = unfinished.leave_open("mode.a2", "mode.b2", "tone.a1")
try_it(lazy)
gn.truth_table(lazy, tone="none")

# %% [markdown]
# Every lug is accounted for, and the guitar is silent in series. The check finds what you forgot;
# the truth table finds what you got wrong. Read both.
#
# ## What to solder, what to buy
#
# The joint list is in working order, for a pencil. The parts list says what to look for on the
# part.

# %%
guitar.joints()

# %%
guitar.part_table()

# %% [markdown]
# ## The drawing
#
# Ready layouts have a schematic placed by hand. Your own wiring gets a connection diagram: each
# upright line is one joint, with its number in the joint list.

# %%
ax = gn.draw(guitar)

# %% [markdown]
# ## What it does
#
# Both places of the toggle, all four of the rotary, volume at 10. Decibels re 1 V induced in
# each pickup, so that the two pictures can be compared in level, too.

# %%
modes, tones = guitar.parts["mode"].places, guitar.parts["tone"].places
h = gn.response(guitar, mode=list(modes), tone=list(tones))
ax = gn.plot_response(h.sel(mode="parallel"), title="In parallel each capacitor moves the peak")
limits = ax.set_ylim(-50, 20)
# %%
ax = gn.plot_response(h.sel(mode="series"), title="In series louder, and every peak lower")
limits = ax.set_ylim(-50, 20)

# %%
level = gn.level_db(h).interp(frequency=100)
louder = float(level.sel(mode="series", tone="none") - level.sel(mode="parallel", tone="none"))
peaks = gn.peak(h).frequency
print(f"series is {louder:+.1f} dB re parallel at 100 Hz; you expected {my_series_level:+} dB")
at_10n = float(peaks.sel(mode="parallel", tone="10 nF"))
print(f"in parallel with 10 nF the peak is at {at_10n:.0f} Hz; you expected {my_peak} Hz")
peaks.to_pandas().round(0)

# %% [markdown]
# Series adds the two voltages, twice that of one pickup; it is a little less than 6 dB because
# 12.8 kΩ of pickups feed the same pot. It also adds the inductances, so every peak lies lower.
#
# Without a pot in front of it, a capacitor does not cut treble like a tone control: it moves the
# peak down. You can check it by hand. In parallel the two inductances give 1.26 H; with 10 nF,
# the cable's 500 pF and the windings' 240 pF, f = 1/(2π √(L C)) is 1367 Hz, and the loads pull it
# a little lower.
#
# The small kink near 9 kHz in series is real for coils without losses, as assumed here: there one
# pickup is above its own resonance and the other still below.

# %% [markdown]
# ## Is it so?
#
# *"10 nF is dark, 40 nF is bright."* It is the reverse: the larger the capacitor, the lower the
# peak, and everything above it goes.
#
# *"Series is a humbucker."* Series or parallel says how the signals add. Whether hum cancels
# depends on windings and magnets: see the lesson "Series, parallel, split".
#
# ## A ready layout is the same thing
#
# This is the code of a ready layout, without its description: one pickup, a volume and a rotary
# of capacitors. `add_master` adds the usual volume, `plugged` the jack, the cable and the amp.
# Parts, joints, open lugs: what you have written above.

# %%
print(inspect.getsource(gn.layouts.rotary_tone).split('"""')[2])

# %% [markdown]
# So lift the neck's hot lead off your harness, as you would with the iron, and in parallel you
# must be left with just that layout. Is it so, to the last digit?

# %%
ready = gn.layouts.rotary_tone(
    parts["bridge"], capacitors=["2.2n", "10n", "47n"], volume=parts["volume"], cable="5 m"
)
bridge_alone = guitar.lift("neck.hot")
mine = gn.response(bridge_alone, mode="parallel", tone=list(tones))
theirs = gn.response(ready, tone=list(tones))
difference = float(abs(mine - theirs).max() / abs(theirs).max())
print(f"largest difference: {difference:.1e} of the largest value")

# %% [markdown]
# ## Keep it
#
# A harness is kept as a text file (TOML) that any editor opens. Here is the end of it:

# %%
with tempfile.TemporaryDirectory() as folder:
    path = Path(folder) / "two_pickups.toml"
    gn.save_harness(guitar, path)
    text = path.read_text(encoding="utf-8")
    again = gn.load_harness(path)
    # In an editor you would change the value and save.
    path.write_text(text.replace('"250 kohm"', '"500 kohm"'), encoding="utf-8")
    with_500k = gn.load_harness(path)

print(text[text.index("[parts.large]") :])
print(f"read back: {'the same harness' if again == guitar else 'another harness'}")
print(f"after the edit: volume {with_500k.parts['volume'].label()}")

# %% [markdown]
# Nothing in the file is ever run as a program: names, numbers and text only. A lug misspelt in
# the editor is refused on reading, with a sentence as above.

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open
# an amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its
# stand; ventilate fumes; lead solder wants washed hands; wear goggles when clipping leads. The
# mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# Before you solder the toggle, find its middle lugs with the meter, and which outer lug they
# touch in which position: on many a toggle it is the one away from the bat. And mind a metal
# cover on the neck pickup: in series the neck's ground lead is on the bridge's hot lead, so the
# cover needs a ground wire of its own.
#
# Then at the jack, before you restring: cable plugged in and nothing else, volume at 10.

# %%
readings = gn.jack_resistance(guitar, mode=list(modes), tone=list(tones))
kilohm = (readings.sel(tone="none") / 1000).to_series().round(2)
print(f"in parallel: {kilohm['parallel']} kΩ; you expected {my_parallel_reading} kΩ")
print(f"in series: {kilohm['series']} kΩ; you expected {my_series_reading} kΩ")

# %% [markdown]
# 6 and 6.8 kΩ in series make 12.8 kΩ, in parallel 3.19 kΩ; the 250 kΩ pot lies across either and
# takes a little off. The rotary changes nothing on the ohmmeter: a capacitor passes no direct
# current. To know that the right one is in each place, read its marking (222, 103, 473) or use
# the meter's capacitance range.
#
# The readings cannot tell whether the two pickups are in phase. Play both: if it is thin, unplug,
# and swap the two leads of one pickup (of one whose cover or braid is not on its ground lead).

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.


# %%
def refusal(harness):
    """Give the sentence with which a harness is refused."""
    try:
        harness.check()
    except gn.BadHarness as error:
        return str(error)
    return ""


assert refusal(unfinished).startswith("mode.a2: is not joined to anything")
assert refusal(jumpered).startswith("tone.a1: is not joined to anything")
assert refusal(guitar) == refusal(lazy) == ""
assert [row.how for row in gn.selections(guitar, tone="none")] == ["in parallel", "in series"]
assert [row.how for row in gn.selections(lazy, tone="none")] == ["in parallel", "silent"]
assert len(gn.truth_table(guitar)) == 8
for row in gn.selections(guitar):
    assert dict(row.coils) == {"neck": 1, "bridge": 1}
capacitors = [row.capacitors for row in gn.selections(guitar, mode="series")]
assert capacitors == [(), ("small",), ("medium",), ("large",)]
assert 5.5 < louder < 6
assert (peaks.sel(mode="series") < peaks.sel(mode="parallel")).all()
assert (peaks.diff("tone") < 0).all()
henry = 2.3 * 2.8 / (2.3 + 2.8)
assert round(henry, 2) == 1.26
by_hand = 1 / (2 * 3.14159265 * (henry * (10e-9 + 500e-12 + 240e-12)) ** 0.5)
assert round(by_hand) == 1367
assert 0.95 < at_10n / by_hand < 1
kinked = gn.level_db(h).sel(mode="series", tone="none", frequency=slice(7000, 11000))
rising = kinked.diff("frequency")
assert 8500 < float(rising.frequency[int(rising.argmax("frequency"))]) < 9500
assert float(rising.max()) > 0
assert mine.sizes == theirs.sizes
assert difference < 1e-9
assert again == guitar
assert with_500k.parts["volume"].resistance == 500e3
assert abs(kilohm["parallel"] - 1 / (1 / 6 + 1 / 6.8 + 1 / 250)) < 0.005
assert abs(kilohm["series"] - 1 / (1 / 12.8 + 1 / 250)) < 0.005
assert round(1 / (1 / 6 + 1 / 6.8), 2) == 3.19
assert float(abs(readings / readings.sel(tone="none") - 1).max()) < 1e-9
markings = {row[0]: row[4] for row in guitar.part_table()}
assert [markings[name] for name in ("small", "medium", "large")] == ["222", "103", "473"]
