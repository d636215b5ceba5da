"""Ready harnesses of humbuckers, connected already or switched coil by coil."""

from __future__ import annotations

from ...gate import public
from ...parts.base import Part
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.switch import five_way_lever, rotary, three_way_toggle
from ...parts.two_lug import Capacitor, Resistor
from ..harness import Harness
from .bench import (
    Bench,
    Wiring,
    four_leads,
    read_capacitor,
    read_optional_resistor,
    read_pot,
    second_tone,
    whole_pickup,
)

__all__ = ["hss", "two_humbuckers", "two_humbuckers_rotary"]


@public
def two_humbuckers(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | float | str = "500k",
    tone: Pot | float | str = "500k",
    tone_capacitor: Capacitor | float | str = "22n",
    treble_bleed: Part | str | None = None,
    wiring: Wiring = "modern",
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "two humbuckers",
    unusual: bool = False,
) -> Harness:
    """Wire two pickups, each with volume and tone, and a three-way switch behind the volumes.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups.
    volume, tone, tone_capacitor, treble_bleed, wiring, cable, amp, name, unusual
        As in `one_pickup`, alike for both pickups.

    Returns
    -------
    Harness
        Parts ``neck``, ``bridge``, ``neck_volume``, ``bridge_volume``, ``neck_tone``,
        ``bridge_tone``, ``neck_capacitor``, ``bridge_capacitor``, ``neck_bleed``,
        ``bridge_bleed``, ``switch`` (places "neck", "neck+bridge", "bridge"), ``jack``,
        ``cable``, ``amp``.

    Raises
    ------
    BadSetting
        If the wiring is unknown.
    BadValue
        If a value is not one that the part can have.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> pickup = Pickup("8.4k", "4.6 H", "110p")
    >>> len(two_humbuckers(pickup, pickup, wiring="independent").parts)
    14
    """
    bench = Bench()
    for side, pickup, lug in (("neck", neck, "first"), ("bridge", bridge, "second")):
        bench.parts[side] = whole_pickup(pickup)
        bench.add_volume_and_tone(
            side,
            hot=f"{side}.hot",
            ground=f"{side}.ground",
            out=f"switch.{lug}",
            volume=volume,
            tone=tone,
            tone_capacitor=tone_capacitor,
            treble_bleed=treble_bleed,
            wiring=wiring,
        )
    bench.parts["switch"] = three_way_toggle()
    bench.join(("switch.common", "jack.tip"))
    return bench.plugged(cable, amp, name)


@public(neck=None, bridge=None)
def two_humbuckers_rotary(
    neck: Humbucker,
    bridge: Humbucker,
    *,
    volume: Pot | float | str = "500k",
    tone: Pot | float | str = "500k",
    tone_capacitor: Capacitor | float | str = "22n",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "two humbuckers, rotary",
    unusual: bool = False,
) -> Harness:
    """Wire two humbuckers with a five-place rotary of four poles that selects single coils.

    Parameters
    ----------
    neck, bridge : Humbucker
        The pickups, with ``connection="leads"``. ``coil_1`` of each is the coil nearer the neck,
        so the inner coils are ``coil_2`` of the neck and ``coil_1`` of the bridge. One of them
        is then reversed and the other is not, as are the outer two, and each place cancels hum
        as far as the coils are alike.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``neck``, ``bridge``, ``switch`` (places "neck", "inner coils parallel",
        "inner coils series", "outer coils parallel", "bridge"), ``volume``, ``tone``,
        ``tone_capacitor``, ``treble_bleed``, ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadValue
        If a pickup's leads are not free, or a value is not one that the part can have.

    Notes
    -----
    The outer coils never leave the output and the bridge's inner coil never leaves ground; a
    coil that is not selected hangs by one end, and none is shorted.

    References
    ----------
    The five places: common practice, no source; so are the defaults. The contacts are derived
    from the places.

    Examples
    --------
    >>> from guitarnet import Coil, Humbucker
    >>> pickup = Humbucker(Coil("4k", "2 H", "100p"), Coil("4k", "2 H", "100p"), connection="leads")
    >>> two_humbuckers_rotary(pickup, pickup).parts["switch"].kind
    'rotary, 4 poles'
    """
    places = (
        "neck",
        "inner coils parallel",
        "inner coils series",
        "outer coils parallel",
        "bridge",
    )
    bench = Bench(
        neck=four_leads("neck", neck),
        bridge=four_leads("bridge", bridge),
        switch=rotary(4, places),
    )
    n_hot, n_upper, n_lower, n_ground = neck.ends("neck")
    b_hot, b_upper, b_lower, b_ground = bridge.ends("bridge")
    bench.join(
        (n_hot, b_lower, "volume.high"),
        (b_upper, "jack.sleeve"),
        # The neck's inner coil: under the outer one, then twice at the output.
        (n_lower, "switch.a"),
        (n_upper, "switch.a1"),
        ("switch.a2", "switch.a3", "volume.high"),
        # Ground for the neck: below both coils, below the inner one, below the outer one.
        ("switch.b", "jack.sleeve"),
        ("switch.b1", "switch.b2", n_ground),
        ("switch.b4", n_upper),
        # The bridge's inner coil: at the output, below the neck's inner coil, below the outer.
        (b_hot, "switch.c"),
        ("switch.c2", "volume.high"),
        ("switch.c3", n_ground),
        ("switch.c5", b_ground),
        # Ground for the bridge's outer coil, beside the neck's.
        (b_ground, "switch.d"),
        ("switch.d4", "jack.sleeve"),
    )
    bench.leave_open(*(f"switch.{lug}" for lug in ("a4", "a5", "b3", "b5", "c1", "c4")))
    bench.leave_open(*(f"switch.{lug}" for lug in ("d1", "d2", "d3", "d5")))
    bench.add_master(n_hot, volume, treble_bleed, tone, tone_capacitor)
    return bench.plugged(cable, amp, name)


@public(bridge=None)
def hss(
    neck: Coil | Humbucker,
    middle: Coil | Humbucker,
    bridge: Humbucker,
    *,
    tones: str = "neck and middle",
    volume: Pot | float | str = "500k",
    tone: Pot | float | str = "500k",
    tone_capacitor: Capacitor | float | str = "22n",
    single_coil_resistor: Resistor | float | str | None = None,
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "HSS",
    unusual: bool = False,
) -> Harness:
    """Wire two single coils and a bridge humbucker that the five-way lever splits by itself.

    The second bank shunts the humbucker's ``coil_2`` between middle and bridge, and nowhere else
    that the bridge is heard.

    Parameters
    ----------
    neck, middle : Pickup or Humbucker
        The single coils. A middle pickup with reversed winding and magnet makes both places
        between cancel hum, as far as turns over impedance are alike: nearly so with one wire on
        all coils. See `guitarnet.audio.hum_table`.
    bridge : Humbucker
        The humbucker, with ``connection="leads"``.
    tones : {"neck and middle", "neck and bridge"}
        Which pickups the two tone controls belong to: ``tone_1`` the neck, ``tone_2`` the other.
    single_coil_resistor : Resistor, float, str or None
        Resistor [ohm] across neck and across middle, such as "470k", which loads them about as
        250k pots would; None leaves it out.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`; both tone controls are alike.

    Returns
    -------
    Harness
        Parts ``neck``, ``middle``, ``bridge``, ``switch`` (places "neck", "neck+middle",
        "middle", "middle+bridge", "bridge"), ``neck_resistor``, ``middle_resistor``, ``volume``,
        ``treble_bleed``, ``tone_1``, ``tone_capacitor_1``, ``tone_2``, ``tone_capacitor_2``,
        ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadSetting
        If ``tones`` is unknown.
    BadValue
        If the humbucker's leads are not free, or a value is not one that the part can have.

    Notes
    -----
    The tone controls stand on the pickups' lugs, for the second bank is taken. Each has a
    capacitor of its own: a shared one would lead from a pickup that is off to one that is on.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Coil, Humbucker, Pickup
    >>> single, coil = Pickup("6k", "2.3 H", "110p"), Coil("4k", "2 H", "100p")
    >>> guitar = hss(single, single, Humbucker(coil, coil, connection="leads"))
    >>> guitar.parts["neck_resistor"].label()
    'none'
    """
    second = second_tone(tones, middle="switch.a2", bridge="switch.a3")
    bench = Bench(
        neck=whole_pickup(neck),
        middle=whole_pickup(middle),
        bridge=four_leads("bridge", bridge),
        switch=five_way_lever(),
        neck_resistor=read_optional_resistor(single_coil_resistor),
        middle_resistor=read_optional_resistor(single_coil_resistor),
    )
    hot, upper, lower, ground = bridge.ends("bridge")
    bench.join(
        ("neck.ground", "middle.ground", ground, "jack.sleeve"),
        ("neck.hot", "switch.a1", "neck_resistor.a"),
        ("middle.hot", "switch.a2", "middle_resistor.a"),
        ("neck_resistor.b", "middle_resistor.b", "jack.sleeve"),
        (hot, "switch.a3"),
        # The link between the coils; where middle and bridge touch their common it is grounded.
        (upper, lower, "switch.b2"),
        ("switch.b", "jack.sleeve"),
    )
    bench.leave_open("switch.b1", "switch.b3")
    bench.add_master("switch.a", volume, treble_bleed)
    for number, at in (("1", "switch.a1"), ("2", second)):
        bench.parts[f"tone_{number}"] = read_pot(tone)
        bench.parts[f"tone_capacitor_{number}"] = read_capacitor(tone_capacitor)
        bench.join_tone(at, f"tone_{number}", f"tone_capacitor_{number}")
    return bench.plugged(cable, amp, name)
