"""What holds for every ready layout: files, bleeds, words, refusals, tables of joints."""

from __future__ import annotations

import inspect
import re

import numpy as np
import pytest
from layout_checks import BRIDGE, LEADS, MIDDLE, NECK, OTHER_LEADS, truth

import guitarnet as gn
from guitarnet import layouts
from guitarnet.parts.blend import BlendPot
from guitarnet.parts.choke import Choke

WHOLE = LEADS.replace("connection", "series")

MAKERS = {
    "one_pickup": lambda **k: layouts.one_pickup(NECK, **k),
    "two_single_coils": lambda **k: layouts.two_single_coils(NECK, BRIDGE, **k),
    "two_single_coils_four_way": lambda **k: layouts.two_single_coils_four_way(NECK, BRIDGE, **k),
    "two_stacked_pairs": lambda **k: layouts.two_stacked_pairs(NECK, BRIDGE, **k),
    "three_single_coils": lambda **k: layouts.three_single_coils(NECK, MIDDLE, BRIDGE, **k),
    "three_single_coils_blender": lambda **k: layouts.three_single_coils_blender(
        NECK, MIDDLE, BRIDGE, **k
    ),
    "two_humbuckers": lambda **k: layouts.two_humbuckers(WHOLE, WHOLE, **k),
    "two_humbuckers_rotary": lambda **k: layouts.two_humbuckers_rotary(LEADS, OTHER_LEADS, **k),
    "two_humbuckers_push_pull": lambda **k: layouts.two_humbuckers_push_pull(
        LEADS, OTHER_LEADS, neck_tone_pull="phase", **k
    ),
    "hss": lambda **k: layouts.hss(NECK, MIDDLE, LEADS, **k),
    "bass_two_volumes": lambda **k: layouts.bass_two_volumes(NECK, BRIDGE, **k),
    "bass_blend": lambda **k: layouts.bass_blend(NECK, BRIDGE, **k),
    "rotary_tone": lambda **k: layouts.rotary_tone(NECK, **k),
    "rotary_notch": lambda **k: layouts.rotary_notch(NECK, **k),
    "bass_cut": lambda **k: layouts.bass_cut(NECK, **k),
}
EVERY = pytest.mark.parametrize("name", MAKERS)


def test_every_layout_is_here():
    """A layout that is added is tested, too."""
    made = {name for name in layouts.__all__ if callable(getattr(layouts, name))}
    assert made == {*MAKERS, "pickup_alone"}


@EVERY
def test_files_keep_a_layout(tmp_path, name):
    """Saved and loaded it is equal, and its truth table is the same."""
    guitar = MAKERS[name](treble_bleed="150k || 1n")
    loaded = gn.load_harness(gn.save_harness(guitar, tmp_path / "guitar.toml"))
    assert loaded == guitar
    assert truth(loaded) == truth(guitar)


@EVERY
def test_every_volume_has_its_bleed(name):
    """All volumes turned down, each bleed by itself keeps some of the treble."""
    guitar = MAKERS[name](treble_bleed="1n")
    volumes = [part for part in guitar.parts if part.endswith("volume")]
    bleeds = [part for part in guitar.parts if part.endswith("bleed")]
    assert len(volumes) == len(bleeds) > 0
    down = dict.fromkeys(volumes, 4)
    if name.startswith("two_humbuckers") and len(volumes) == 2:
        down["switch"] = "neck+bridge"

    def treble(one):
        low, high = abs(gn.response(one, frequency=[200.0, 2500.0], **down)).values
        return high / low

    for bleed in bleeds:
        assert treble(guitar) > 1.03 * treble(guitar.replace(bleed, None))


@EVERY
def test_cable_amp_and_name_are_taken(name):
    guitar = MAKERS[name](cable=gn.Cable("6 m", "60p"), amp=gn.AmpInput("500k"), name="mine")
    assert guitar.name == "mine"
    assert guitar.parts["cable"].label() == "6 m at 60 pF/m"
    assert guitar.parts["amp"].resistance == 500e3
    assert MAKERS[name](cable="10 ft").parts["cable"].length == pytest.approx(3.048)


@EVERY
def test_pots_and_capacitors_are_taken_as_parts(name):
    """A part given whole is that part, not a value read anew."""
    given = {
        "volume": gn.Pot("330k", "linear"),
        "tone": gn.Pot("1M", "linear"),
        "tone_capacitor": gn.Capacitor("33n", tolerance="5%"),
    }
    known = inspect.signature(getattr(layouts, name)).parameters
    given = {key: part for key, part in given.items() if key in known}
    assert "volume" in given
    guitar = MAKERS[name](**given)
    for part in given.values():
        assert part in guitar.parts.values()


@EVERY
def test_joints_name_every_lug_but_those_of_empty_places(name):
    """The list for the bench leaves nothing out."""
    guitar = MAKERS[name]()
    text = str(guitar.joints())
    for part_name, part in guitar.parts.items():
        if not isinstance(part, gn.Empty):
            assert part_name.replace("_", " ") in text


def of_a_docstring(name):
    """What the docstring of a layout lacks."""
    made = getattr(layouts, name)
    doc = inspect.cleandoc(made.__doc__)
    pieces = re.split(r"^(\w[\w ]+)\n-+\n", doc, flags=re.MULTILINE)
    sections = dict(zip(pieces[1::2], pieces[2::2], strict=True))
    told = re.findall(r"^(\S[^:\n]*?)(?: :.*)?$", sections["Parameters"], re.MULTILINE)
    if {n.strip() for line in told for n in line.split(",")} != {
        *inspect.signature(made).parameters
    }:
        yield "Parameters are not those of the signature"
    if not re.search(rf">>> .*\b{name}\b", sections.get("Examples", "")):
        yield "no example"
    if "BadValue" not in sections.get("Raises", ""):
        yield "no Raises"
    if name == "pickup_alone":
        return
    if not sections.get("References", "").strip():
        yield "no References"
    written = set(re.findall(r"``(\w+)``", sections.get("Returns", "")))
    if name not in ("two_humbuckers_push_pull", "two_stacked_pairs", "rotary_tone", "rotary_notch"):
        yield from sorted(f"no {part} in Returns" for part in {*MAKERS[name]().parts} - written)


def test_docstrings_of_layouts():
    """Each parameter, what is returned with the parts, where the values come from, an example."""
    names = (*MAKERS, "pickup_alone")
    wrong = [f"{name}: {said}" for name in names for said in of_a_docstring(name)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: layouts.two_single_coils_four_way(NECK, LEADS),
            "pickup: has four leads and no hot; connect it, or build the harness from parts.",
        ),
        (
            lambda: layouts.two_stacked_pairs(NECK, "bridge"),
            "pickup: 'bridge' is not a pickup; give gn.Pickup(...).",
        ),
        (
            lambda: layouts.two_humbuckers_rotary(LEADS, WHOLE),
            "bridge: is connected already (series); give gn.Humbucker(..., connection='leads'), "
            "whose coils the switch connects.",
        ),
        (
            lambda: layouts.hss(NECK, MIDDLE, "humbucker"),
            "bridge: 'humbucker' has no two coils to be switched; give gn.Humbucker(..., "
            "connection='leads').",
        ),
        (
            lambda: layouts.hss(NECK, MIDDLE, LEADS, tones="all"),
            "tones: 'all' is unknown; use 'neck and middle' or 'neck and bridge'.",
        ),
        (
            lambda: layouts.two_humbuckers_push_pull(LEADS, LEADS, neck_tone_pull="phases"),
            "neck_tone_pull: 'phases' is unknown; did you mean 'phase'?",
        ),
        (
            lambda: layouts.two_humbuckers_push_pull(LEADS, LEADS, neck_tone_pull="split"),
            "neck_tone_pull: 'split' stands on both pots of the neck; give it to one of them.",
        ),
        (
            lambda: layouts.two_humbuckers_push_pull(LEADS, LEADS, bridge_tone_pull="parallel"),
            "bridge_volume_pull: cannot leave out a coil of the bridge that 'parallel' has joined "
            "to the other; give a pickup one of 'split' and 'parallel'.",
        ),
        (
            lambda: layouts.two_humbuckers_push_pull(LEADS, LEADS, wiring="vintage"),
            "wiring: 'vintage' is unknown; use one of 50s, independent, independent 50s, modern.",
        ),
        (
            lambda: layouts.bass_blend(NECK, BRIDGE, blending="indipendent"),
            "blending: 'indipendent' is unknown; did you mean 'independent'?",
        ),
        (
            lambda: layouts.rotary_tone(NECK, capacitors="22n"),
            "capacitors: '22n' is no list of capacitors; give ['10n', '22n'].",
        ),
        (
            lambda: layouts.rotary_tone(NECK, capacitors=["22n", "223"]),
            "capacitors: 22 nF stands twice; give each value once.",
        ),
        (
            lambda: layouts.rotary_notch(NECK, capacitors=[]),
            "capacitors: 0 make no rotary switch; give 1 to 11.",
        ),
        (
            lambda: layouts.rotary_tone(NECK, capacitors=[f"{n}n" for n in range(1, 13)]),
            "capacitors: 12 make no rotary switch; give 1 to 11.",
        ),
        (
            lambda: layouts.bass_cut(NECK, control="knob"),
            "control: 'knob' is unknown; use one of pot, switch.",
        ),
        (
            lambda: BlendPot("0 ohm"),
            "BlendPot.resistance: '0 ohm' is too small; give a value from 1 Ω to 1 GΩ ('M' is "
            "mega, 'm' is a thousandth).",
        ),
        (
            lambda: gn.response(layouts.bass_blend(NECK, BRIDGE), frequency=[100.0], blend=11),
            "blend: 11 is too large; give a value from 0 to 10 (knob marks run from 0 to 10).",
        ),
        (
            lambda: Choke("0 H"),
            "Choke.inductance: '0 H' is zero; give a value above 0 H up to 1000 H (a choke has "
            "some henry).",
        ),
    ],
)
def test_refused(make, message):
    with pytest.raises(gn.GuitarnetError) as refusal:
        make()
    assert str(refusal.value) == message


def test_a_rotary_takes_eleven_capacitors():
    """And one place without, on a switch of twelve."""
    guitar = layouts.rotary_tone(NECK, capacitors=[f"{n}n" for n in range(1, 12)])
    kept = [part.capacitance for part in guitar.parts.values() if isinstance(part, gn.Capacitor)]
    assert kept == pytest.approx([n * 1e-9 for n in range(1, 12)])


@pytest.mark.parametrize("does", [None, "split", "parallel", "phase"])
@pytest.mark.parametrize("pot", ["neck_volume", "neck_tone", "bridge_volume", "bridge_tone"])
def test_each_push_pull_is_called_by_its_pot(pot, does):
    """And does one thing, at the two places that are its own."""
    plain = dict.fromkeys(
        ("neck_volume_pull", "neck_tone_pull", "bridge_volume_pull", "bridge_tone_pull")
    )
    guitar = layouts.two_humbuckers_push_pull(LEADS, OTHER_LEADS, **{**plain, f"{pot}_pull": does})
    pulls = {name: part.places for name, part in guitar.parts.items() if name.endswith("_pull")}
    places = {
        "split": ("both coils", "coil 1"),
        "parallel": ("series", "parallel"),
        "phase": ("in phase", "reversed"),
    }
    assert pulls == ({} if does is None else {f"{pot}_pull": places[does]})


def test_new_parts_are_swept_replaced_and_saved():
    """A blend and a choke are parts like any other: paths, replace, tolerance, files."""
    notch = layouts.rotary_notch(NECK, choke=Choke("1.5 H", "90 ohm", "80p", tolerance="20%"))
    h = gn.response(notch, frequency=[500.0], notch="33 nF", choke=["1 H", "2 H"])
    assert h.dims == ("choke", "frequency")
    assert notch.replace("choke", "2 H").parts["choke"].resistance == 90
    bass = layouts.bass_blend(NECK, BRIDGE, blend=BlendPot("500k", "audio 20%", tolerance="10%"))
    for guitar in (notch, bass):
        assert gn.harness_from_dict(gn.harness_to_dict(guitar)) == guitar
    h = gn.response(bass, frequency=[500.0], blend=[2, 8], **{"blend.resistance": ["250k", "500k"]})
    assert h.shape == (2, 2, 1)
    assert np.ptp(abs(h).values) > 0


def test_a_layout_of_ones_own_is_as_short():
    """Parts and joints by hand give what the ready layout gives."""
    by_hand = gn.Harness(
        {
            "neck": NECK,
            "bridge": BRIDGE,
            "switch": gn.switches.three_way_toggle(),
            "volume": gn.Pot("250k", "audio 15%"),
            "jack": gn.Jack(),
        },
        [
            ("neck.ground", "bridge.ground", "volume.low", "jack.sleeve"),
            ("neck.hot", "switch.first"),
            ("bridge.hot", "switch.second"),
            ("switch.common", "volume.high"),
            ("volume.wiper", "jack.tip"),
        ],
    )
    table = {place: row[:2] for place, row in truth(by_hand).items()}
    ready = truth(layouts.two_single_coils(NECK, BRIDGE))
    assert table == {place: row[:2] for place, row in ready.items()}
