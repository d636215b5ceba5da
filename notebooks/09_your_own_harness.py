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
# **What you learn.** To write any wiring as parts and joints, to have it checked, to read from it
# what each switch place selects, what to solder, what the meter must show and how it answers.
#
# **How long it takes.** About half an hour, and as long again for the exercises.
#
# **What you need on the bench.** Nothing at first; an ohmmeter for the last part.
#
# The guitar is invented: a neck pickup of 6 kΩ and a bridge pickup of 6.8 kΩ, both of AWG 42
# wire, a 250 kΩ audio pot, capacitors of 2.2, 10 and 47 nF, and 5 m of cable at 100 pF a metre.

# %%
import inspect
import math
import tempfile
from pathlib import Path

import guitarnet as gn
from exercises import your_own_harness as exercise
from exercises.checking import check

# %% [markdown]
# ## Predict
#
# Write your numbers in place of `None` before you go on.

# %%
my_series_level = None  # dB: how much louder is series than parallel, at 100 Hz, volume 10?
my_peak = None  # Hz: where is the peak in parallel, with 10 nF switched in?
my_parallel_reading = None  # kΩ: what does the ohmmeter show at the jack in parallel?
my_series_reading = None  # kΩ: and in series?

# %% [markdown]
# ## Compute
#
# ### Parts on the bench
#
# A harness is parts and joints. Lay out the parts first and give each a name of your own. A
# switch's places are named by what they select, as on the panel; by default the switch is in the
# first place.

# %%
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
for name, part in parts.items():
    print(f"{name:7} {', '.join(part.lugs)}")

# %% [markdown]
# These are the lugs you will solder to. A pot's wiper touches `high` at 10 and `low` at 0, from
# whichever side you look at it. On the toggle, `a` is the middle lug of one pole: it touches `a1`
# in the first place and `a2` in the second. So does `b` on the other pole.
#
# ### Joints
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
    except gn.errors.BadHarness as error:
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
# ### What does it select?
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
# ### What to solder, what to buy
#
# The joint list is in working order, for a pencil. The parts list says what to look for on the
# part.

# %%
guitar.joints()

# %%
guitar.part_table()

# %% [markdown]
# ### What the meter must show
#
# At the jack, cable plugged in and nothing at its other end, volume at 10.

# %%
modes, tones = guitar.parts["mode"].places, guitar.parts["tone"].places
readings = gn.jack_resistance(guitar, mode=list(modes), tone=list(tones))
kilohm = (readings.sel(tone="none") / 1000).to_series().round(2)

# %%
hint = "Two coils in parallel, and the volume pot lies across them."
check(my_parallel_reading, kilohm["parallel"], within="2 %", unit="kΩ", hint=hint)

# %%
hint = "Two coils one after the other, and the volume pot lies across both."
check(my_series_reading, kilohm["series"], within="2 %", unit="kΩ", hint=hint, high=hint)

# %%
print(f"in parallel {kilohm['parallel']} kΩ, in series {kilohm['series']} kΩ")

# %% [markdown]
# 6 and 6.8 kΩ in series make 12.8 kΩ, in parallel 3.19 kΩ; the 250 kΩ pot lies across either and
# takes a little off. The rotary changes nothing on the ohmmeter: a capacitor passes no direct
# current.
#
# ### How it answers
#
# Both places of the toggle, all four of the rotary.

# %%
h = gn.response(guitar, mode=list(modes), tone=list(tones))
level = gn.level_db(h).interp(frequency=100)
louder = float(level.sel(mode="series", tone="none") - level.sel(mode="parallel", tone="none"))
peaks = gn.peak(h).frequency
at_10n = float(peaks.sel(mode="parallel", tone="10 nF"))

# %%
check(my_series_level, louder, within="0.5 dB", unit="dB", hint="Both voltages are added.")

# %%
hint = "Put all that is in parallel into 1/(2π√(LC)): both coils, both windings, cable, capacitor."
check(my_peak, at_10n, within="5 %", unit="Hz", hint=hint)

# %%
print(f"series is {louder:+.1f} dB re parallel at 100 Hz; peaks [Hz]:")
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
# ### A ready layout is the same thing
#
# This is the code of a ready layout, without its description: one pickup, a volume and a rotary
# of capacitors. `add_master` adds the usual volume, `plugged` the jack, the cable and the amp.
# Parts, joints, open lugs: what you have written above.

# %%
print(inspect.getsource(gn.layouts.rotary_tone).split('"""')[2])

# %% [markdown]
# So lift the neck's hot lead off your harness, as you would with the iron, and in parallel you
# must get exactly that layout. Are the two the same?

# %%
ready = gn.layouts.rotary_tone(
    parts["bridge"], capacitors=["2.2n", "10n", "47n"], volume=parts["volume"], cable="5 m"
)
bridge_alone = guitar.lift("neck.hot")
lifted = gn.response(bridge_alone, mode="parallel", tone=list(tones))
theirs = gn.response(ready, tone=list(tones))
difference = float(abs(lifted - theirs).max() / abs(theirs).max())
print("alike, but for rounding" if difference < 1e-6 else f"apart by {difference:.1e}")

# %% [markdown]
# ### Keep it
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
#
# ## Look
#
# ### The drawing
#
# Ready layouts have a schematic placed by hand. Your own wiring gets a connection diagram: each
# upright line is one joint, with its number in the joint list.

# %%
ax = gn.draw(guitar)

# %% [markdown]
# ### What it does
#
# Volume at 10. Decibels re 1 V induced in each pickup, so that the two pictures can be compared in
# level, too.

# %%
ax = gn.plot_response(h.sel(mode="parallel"), title="In parallel each capacitor moves the peak")
limits = ax.set_ylim(-50, 20)

# %%
ax = gn.plot_response(
    h.sel(mode="series"), title="In series: louder at the low end, and every peak lower"
)
limits = ax.set_ylim(-50, 20)

# %% [markdown]
# The small kink near 9 kHz in series is real for coils without losses, as assumed here: there one
# pickup is above its own resonance and the other still below.
#
# ### Turn the knob
#
# The four places of the rotary in parallel, live. (Without a running or trusted notebook you see a
# still picture.)

# %%
live = gn.response(guitar, mode="parallel", tone=list(tones), volume=range(11))
gn.live_page(live, volume=10, title="Two pickups in parallel, a rotary of capacitors (invented)")

# %% [markdown]
# ## Is it so?
#
# Things people say. Answer "yes" or "no" first, then read what the computation shows.
#
# ### "The larger the capacitor, the less is left, at every frequency"

# %%
mine = None  # "yes" or "no": in parallel, is there less with 47 nF than with 10 nF at 600 Hz too?
check(mine, exercise.larger_takes_more)

# %%
at_both = gn.level_db(h).sel(mode="parallel").interp(frequency=[600, 2000])
at_both.to_pandas().round(1)

# %%
larger = (at_both.sel(tone="47 nF") - at_both.sel(tone="10 nF")).values
print(f"47 nF re 10 nF: {larger[0]:+.1f} dB at 600 Hz, {larger[1]:+.1f} dB at 2 kHz")

# %% [markdown]
# At 2 kHz it is so: with 47 nF there are 17 dB less than with 10 nF. The larger the capacitor, the
# lower the peak, and everything above it goes. At 600 Hz it is not: there 47 nF leave 3 dB more,
# because their peak is there.

# %% [markdown]
# ### "Ground the middle lug of the volume pot"
#
# It is right for a pot that only lies across something, and many a tone control is wired that way.
# Now the volume: the ground wire on the middle lug, the output on the lug that the middle one
# touches at 0.

# %%
mine = None  # "yes" or "no": does any signal reach the jack at 10, at 5 or at 2?
check(mine, exercise.grounded_middle_lug)

# %%
grounded = gn.bench.faults(guitar)["volume wiper and low swapped"].guitar
left = float(abs(gn.response(grounded, volume=[10, 5, 2])).max())
shows = float(gn.jack_resistance(grounded, volume=10)) / 1000
print(f"largest output {left:.6f} V for 1 V; at 10 the meter shows {shows:.0f} kΩ, the pot alone")

# %% [markdown]
# Nothing at all: the output hangs on ground by a piece of the track, and no signal gets past the
# grounded wiper. At 10 the pickup is shorted as well. And with the output left on the middle lug,
# it is a short at the jack, which the check refuses before anything is computed:

# %%
try_it(guitar.join("volume.wiper", "jack.sleeve"))

# %% [markdown]
# ### "Two pickups in series are a humbucker"
#
# The pickups of this guitar are wound in one direction, over magnets of one direction.

# %%
mine = None  # "yes" or "no": is their hum in series less than a tenth of one coil's?
check(mine, exercise.series_cancels_hum)

# %%
rwrp = guitar.replace("bridge.winding", -1).replace("bridge.magnet", -1)
hums = {
    (label, mode): float(gn.audio.hum(one, frequency=[50], mode=mode).residual[0])
    for label, one in {"as it is": guitar, "bridge RWRP": rwrp}.items()
    for mode in modes
}
gn.Table(
    ("bridge pickup", "mode", "hum re the loudest coil alone [dB]"),
    [(label, mode, f"{db:+.0f}") for (label, mode), db in hums.items()],
)

# %% [markdown]
# As it is, in series hum adds like the signal: 5 dB more than the louder coil. With a bridge pickup
# that is reverse-wound over reversed magnets (RWRP) hum falls by 19 dB in series and by 41 dB in
# parallel. So series is not what cancels; the directions are, in either mode. One field goes
# through both coils, so hum goes with their turns. Both are of one wire, so the turns go with the
# ohms: 6 to 6.8. In series that difference is left. In parallel the coil of more turns has as much
# more resistance in its way, and little is left. (Equal fields in both pickups are assumed.) More
# of it in the lesson "Series, parallel, split".

# %% [markdown]
# ## Measure it on your own guitar
#
# **Cautions.** Unplug the guitar from the amplifier before opening or measuring it. Never open an
# amplifier: its voltages are lethal even when it is off. The iron is hot and stays in its stand.
# Ventilate the fumes. Wash your hands after using leaded solder. Wear goggles when clipping leads.
# The mains earth must be intact. Local electrical codes and a licensed technician come before this
# lesson.
#
# Before you solder the toggle, find its middle lugs with the meter, and which outer lug they
# touch in which position: on many a toggle it is the one away from the bat. And mind a metal
# cover on the neck pickup: in series the neck's ground lead is on the bridge's hot lead, so the
# cover needs a ground wire of its own.
#
# Then at the jack, before you restring: cable plugged in and nothing else, volume at 10. Put your
# own two readings here:

# %%
my_readings = {"parallel": "3.12k", "series": "12.05k"}  # invented
verified = gn.verify(guitar, my_readings)
verified

# %% [markdown]
# To know that the right capacitor is in each place, read its marking (222, 103, 473) or use the
# meter's capacitance range; the ohmmeter cannot tell.
#
# Nor can the readings tell whether the two pickups are in phase. Play both: if it is thin, unplug,
# and swap the two leads of one pickup (of one whose cover or braid is not on its ground lead).
#
# ## Exercises
#
# Try first; then compare with the [worked answers](answers/09_your_own_harness.ipynb).
#
# **1.** The customer wants a 500 kΩ volume pot. What must the meter show in series, at 10?

# %%
mine = None  # kΩ
check(mine, exercise.with_a_500k_pot)

# %% [markdown]
# **2.** And he wants the third place of the rotary to peak at 1 kHz, in parallel, with the 250 kΩ
# pot as it is. Which capacitor?

# %%
mine = None  # nF
check(mine, exercise.capacitor_for_1_khz)

# %% [markdown]
# **3.** Write a second mini toggle into the harness that reverses the neck pickup: a `phase` part,
# `gn.switches.double_throw(["in phase", "reversed"])`, the neck's leads on its two middle lugs.
# Check the truth table. By how much does "reversed" change the level at 100 Hz in parallel, volume
# at 10? (The model induces the same voltage in both pickups; on a guitar a string moves
# differently above each, and more is left.)

# %%
mine = None  # dB, minus for a loss
check(mine, exercise.phase_toggle)

# %% [markdown]
# **4.** An apprentice has put the jumper from `a2` to `b1` in place of `b2`. In parallel all is
# well. What does the meter show in series, volume at 10?

# %%
mine = None  # kΩ
check(mine, exercise.jumper_on_the_wrong_lug)

# %% [markdown]
# ## Check
#
# Every number in the text above, asserted.


# %%
def refusal(harness):
    """Give the sentence with which a harness is refused."""
    try:
        harness.check()
    except gn.errors.BadHarness as error:
        return str(error)
    return ""


assert refusal(unfinished).startswith("mode.a2: is not joined to anything")
assert refusal(jumpered).startswith("tone.a1: is not joined to anything")
assert refusal(guitar) == refusal(lazy) == ""
assert [row.how for row in gn.bench.selections(guitar, tone="none")] == ["in parallel", "in series"]
assert [row.how for row in gn.bench.selections(lazy, tone="none")] == ["in parallel", "silent"]
assert len(gn.truth_table(guitar)) == 8
for row in gn.bench.selections(guitar):
    assert dict(row.coils) == {"neck": 1, "bridge": 1}
capacitors = [row.capacitors for row in gn.bench.selections(guitar, mode="series")]
assert capacitors == [(), ("small",), ("medium",), ("large",)]
assert 5.5 < louder < 6
assert (peaks.sel(mode="series") < peaks.sel(mode="parallel")).all()
assert (peaks.diff("tone") < 0).all()
henry = 2.3 * 2.8 / (2.3 + 2.8)
assert round(henry, 2) == 1.26
by_hand = 1 / (2 * math.pi * math.sqrt(henry * (10e-9 + 500e-12 + 240e-12)))
assert round(by_hand) == 1367
assert 0.95 < at_10n / by_hand < 1
kinked = gn.level_db(h).sel(mode="series", tone="none", frequency=slice(7000, 11000))
rising = kinked.diff("frequency")
assert 8500 < float(rising.frequency[int(rising.argmax("frequency"))]) < 9500
assert float(rising.max()) > 0
assert lifted.sizes == theirs.sizes
assert difference < 1e-9
assert again == guitar
assert with_500k.parts["volume"].resistance == 500e3
assert verified.fits
assert abs(kilohm["parallel"] - 1 / (1 / 6 + 1 / 6.8 + 1 / 250)) < 0.005
assert abs(kilohm["series"] - 1 / (1 / 12.8 + 1 / 250)) < 0.005
assert round(1 / (1 / 6 + 1 / 6.8), 2) == 3.19
assert float(abs(readings / readings.sel(tone="none") - 1).max()) < 1e-9
markings = {row[0]: row[4] for row in guitar.part_table()}
assert [markings[name] for name in ("small", "medium", "large")] == ["222", "103", "473"]
assert larger.round().tolist() == [3, -17]
assert left < 1e-9
assert abs(shows - 250) < 1e-6
shorted = guitar.join("volume.wiper", "jack.sleeve")
assert "hot and ground must not share a joint" in refusal(shorted)
assert round(hums["as it is", "series"]) == 5
assert round(hums["bridge RWRP", "parallel"]) == -41
assert round(hums["bridge RWRP", "series"]) == -19

# %% [markdown]
# **Turn the page.** The next lesson is [Six readings, one fault](10_six_readings_one_fault.ipynb).
# Compare your exercises with the [worked answers](answers/09_your_own_harness.ipynb) first.
