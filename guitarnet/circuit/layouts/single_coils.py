"""Ready harnesses of two or three single coils."""

from __future__ import annotations

from ...gate import public
from ...parts.base import Part
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.switch import five_way_lever, four_way_lever, three_way_toggle
from ...parts.two_lug import Capacitor, Resistor, bleed
from ..harness import Harness
from .bench import Bench, read_capacitor, read_pot, read_resistor, second_tone, whole_pickup

__all__ = [
    "three_single_coils",
    "three_single_coils_blender",
    "two_single_coils",
    "two_single_coils_four_way",
    "two_stacked_pairs",
]


@public
def two_single_coils(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | float | str = "250k",
    tone: Pot | float | str = "250k",
    tone_capacitor: Capacitor | float | str = "47n",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "two single coils",
    unusual: bool = False,
) -> Harness:
    """Wire two pickups with a three-way switch, master volume and master tone.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``neck``, ``bridge``, ``switch`` (places "neck", "neck+bridge", "bridge"),
        ``volume``, ``tone``, ``tone_capacitor``, ``treble_bleed``, ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadValue
        If a value is not one that the part can have.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> two_single_coils(coil, coil).parts["switch"].place
    'neck'
    """
    bench = Bench(
        neck=whole_pickup(neck),
        bridge=whole_pickup(bridge),
        switch=three_way_toggle(),
        volume=read_pot(volume),
        tone=read_pot(tone),
        tone_capacitor=read_capacitor(tone_capacitor),
        treble_bleed=bleed(treble_bleed),
    )
    bench.join(
        ("neck.ground", "bridge.ground", "volume.low", "jack.sleeve"),
        ("neck.hot", "switch.first"),
        ("bridge.hot", "switch.second"),
        ("switch.common", "volume.high", "treble_bleed.a"),
        ("volume.wiper", "treble_bleed.b", "jack.tip"),
    )
    bench.join_tone("volume.high")
    return bench.plugged(cable, amp, name)


@public
def two_single_coils_four_way(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | float | str = "250k",
    tone: Pot | float | str = "250k",
    tone_capacitor: Capacitor | float | str = "47n",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "two single coils, four-way",
    unusual: bool = False,
) -> Harness:
    """Wire two pickups with a four-way lever whose last place adds them in series.

    In series the start of the neck coil stands on the hot lead of the bridge pickup. A metal
    cover on the neck pickup must therefore get a ground wire of its own, lifted off the coil's
    ground lead; else it would be hot in that place.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``neck``, ``bridge``, ``switch`` (places "bridge", "neck+bridge", "neck",
        "neck+bridge in series"), ``volume``, ``tone``, ``tone_capacitor``, ``treble_bleed``,
        ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadValue
        If a value is not one that the part can have.

    Notes
    -----
    One bank brings the bridge to the output, which the neck never leaves; the other takes the
    neck's ground lead to ground or to the bridge. At "bridge" the neck hangs by its hot lead.

    References
    ----------
    The four places: common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> two_single_coils_four_way(coil, coil).parts["switch"].places[-1]
    'neck+bridge in series'
    """
    bench = Bench(neck=whole_pickup(neck), bridge=whole_pickup(bridge), switch=four_way_lever())
    bench.join(
        ("bridge.ground", "jack.sleeve"),
        ("bridge.hot", "switch.a"),
        # Bridge to the output, at "bridge" and "neck+bridge".
        ("switch.a1", "switch.a2", "neck.hot", "volume.high"),
        ("neck.ground", "switch.b"),
        # Neck to ground, at "neck+bridge" and "neck"; on top of the bridge in the last place.
        ("switch.b2", "switch.b3", "jack.sleeve"),
        ("switch.b4", "bridge.hot"),
    )
    bench.leave_open("switch.a3", "switch.a4", "switch.b1")
    bench.add_master("neck.hot", volume, treble_bleed, tone, tone_capacitor)
    return bench.plugged(cable, amp, name)


@public
def two_stacked_pairs(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | float | str = "250k",
    tone: Pot | float | str = "250k",
    tone_capacitor: Capacitor | float | str = "47n",
    isolating_resistor: Resistor | float | str = "220k",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "two stacked pairs",
    unusual: bool = False,
) -> Harness:
    """Wire two pickups, each with a stacked pair of volume and tone, and no switch.

    The outputs meet behind a resistor each, so that one volume at 0 does not short the other
    pickup. The resistors cost level and, with the cable, treble.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups.
    isolating_resistor : Resistor, float or str
        Resistor between each volume and the jack [ohm].
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`, alike for both pickups.

    Returns
    -------
    Harness
        Parts ``neck``, ``bridge``, ``neck_volume``, ``neck_tone``, ``neck_capacitor``,
        ``neck_bleed``, ``neck_resistor`` and the same of the bridge, ``jack``, ``cable``,
        ``amp``.

    Raises
    ------
    BadValue
        If a value is not one that the part can have.

    References
    ----------
    220 kΩ from memory; the other defaults are common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> two_stacked_pairs(coil, coil).parts["neck_resistor"].label()
    '220 kΩ'
    """
    bench = Bench(neck=whole_pickup(neck), bridge=whole_pickup(bridge))
    for side in ("neck", "bridge"):
        bench.add_volume_and_tone(
            side,
            hot=f"{side}.hot",
            ground=f"{side}.ground",
            out=f"{side}_resistor.a",
            volume=volume,
            tone=tone,
            tone_capacitor=tone_capacitor,
            treble_bleed=treble_bleed,
        )
        bench.parts[f"{side}_resistor"] = read_resistor(isolating_resistor)
        bench.join((f"{side}_resistor.b", "jack.tip"))
    return bench.plugged(cable, amp, name)


@public
def three_single_coils(
    neck: Coil | Humbucker,
    middle: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    tones: str = "neck and middle",
    volume: Pot | float | str = "250k",
    tone: Pot | float | str = "250k",
    tone_capacitor: Capacitor | float | str = "22n",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "three single coils",
    unusual: bool = False,
) -> Harness:
    """Wire three pickups with a five-way lever, one volume and two tones with a shared capacitor.

    Parameters
    ----------
    neck, middle, bridge : Pickup or Humbucker
        The pickups. A middle pickup with reversed winding and magnet makes the two places
        between cancel hum, as far as turns over impedance are alike; see
        `guitarnet.audio.hum_table`.
    tones : {"neck and middle", "neck and bridge"}
        Which pickups the two tone controls belong to: ``tone_1`` the neck, ``tone_2`` the other.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`; both tone pots are alike.

    Returns
    -------
    Harness
        Parts ``neck``, ``middle``, ``bridge``, ``switch`` (places "neck", "neck+middle",
        "middle", "middle+bridge", "bridge"), ``volume``, ``tone_1``, ``tone_2``,
        ``tone_capacitor``, ``treble_bleed``, ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadSetting
        If ``tones`` is unknown.
    BadValue
        If a value is not one that the part can have.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> three_single_coils(coil, coil, coil).parts["switch"].places[1]
    'neck+middle'
    """
    second = second_tone(tones, middle="2", bridge="3")
    bench = Bench(
        neck=whole_pickup(neck),
        middle=whole_pickup(middle),
        bridge=whole_pickup(bridge),
        switch=five_way_lever(),
        volume=read_pot(volume),
        tone_1=read_pot(tone),
        tone_2=read_pot(tone),
        tone_capacitor=read_capacitor(tone_capacitor),
        treble_bleed=bleed(treble_bleed),
    )
    bench.join(
        ("neck.ground", "middle.ground", "bridge.ground", "volume.low", "jack.sleeve"),
        ("neck.hot", "switch.a1"),
        ("middle.hot", "switch.a2"),
        ("bridge.hot", "switch.a3"),
        # The other bank leads from the same common to the tone controls.
        ("switch.a", "switch.b", "volume.high", "treble_bleed.a"),
        ("volume.wiper", "treble_bleed.b", "jack.tip"),
    )
    bench.leave_open("switch.b2" if second == "3" else "switch.b3")
    bench.join_tone("switch.b1", "tone_1")
    bench.join_tone(f"switch.b{second}", "tone_2")
    return bench.plugged(cable, amp, name)


@public
def three_single_coils_blender(
    neck: Coil | Humbucker,
    middle: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | float | str = "250k",
    tone: Pot | float | str = "250k",
    tone_capacitor: Capacitor | float | str = "22n",
    blender: Pot | float | str = "250k",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "three single coils, blender",
    unusual: bool = False,
) -> Harness:
    """Wire three pickups with a five-way lever, volume, master tone and a blender.

    The blender stands between neck and bridge: whichever of the two the lever leaves out it adds
    to the other. At 10 it is open and the guitar sounds as without it; turned down it adds more
    and more, and at 0 both are straight in parallel. At "middle" neither sounds, whatever it does.

    Parameters
    ----------
    neck, middle, bridge : Pickup or Humbucker
        The pickups.
    blender : Pot or str
        Blender pot, or its resistance [ohm] with a no-load audio taper of 15 % at half travel.
        A pot that does not open at 10 leaves some of the other pickup in.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``neck``, ``middle``, ``bridge``, ``switch`` (places "neck", "neck+middle",
        "middle", "middle+bridge", "bridge"), ``blender``, ``volume``, ``tone``,
        ``tone_capacitor``, ``treble_bleed``, ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadValue
        If a value is not one that the part can have.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> three_single_coils_blender(coil, coil, coil).parts["blender"].label()
    '250 kΩ, audio 15%, no-load'
    """
    bench = Bench(
        neck=whole_pickup(neck),
        middle=whole_pickup(middle),
        bridge=whole_pickup(bridge),
        switch=five_way_lever(),
        blender=read_pot(blender, "audio 15%, no-load"),
    )
    bench.join(
        ("neck.ground", "middle.ground", "bridge.ground", "jack.sleeve"),
        ("neck.hot", "switch.a1", "blender.wiper"),
        ("middle.hot", "switch.a2"),
        ("bridge.hot", "switch.a3", "blender.low"),
    )
    bench.leave_open("blender.high", "switch.b", "switch.b1", "switch.b2", "switch.b3")
    bench.add_master("switch.a", volume, treble_bleed, tone, tone_capacitor)
    return bench.plugged(cable, amp, name)
