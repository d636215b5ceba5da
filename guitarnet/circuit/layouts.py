"""Ready harnesses. Each is a function that reads like the wiring."""

from __future__ import annotations

from typing import Any

from ..errors import BadSetting, BadValue, nearest
from ..parts.humbucker import Humbucker
from ..parts.output import AmpInput, Cable, Jack
from ..parts.pickup import Coil
from ..parts.pot import Pot
from ..parts.switch import five_way_lever, three_way_toggle
from ..parts.two_lug import Capacitor, bleed
from .harness import Harness

__all__ = [
    "WIRINGS",
    "one_pickup",
    "pickup_alone",
    "three_single_coils",
    "two_humbuckers",
    "two_single_coils",
]

WIRINGS = ("modern", "50s", "independent", "independent 50s")
"""Where the tone network and the pickup meet the volume pot; see `one_pickup`."""


def one_pickup(
    pickup: Coil | Humbucker,
    *,
    volume: Pot | str = "250k",
    tone: Pot | str | None = "250k",
    tone_capacitor: Any = "22n",
    treble_bleed: Any = None,
    wiring: str = "modern",
    cable: Cable | str = "3 m",
    amp: AmpInput | str = "1M",
    name: str = "one pickup",
) -> Harness:
    """Wire one pickup with a volume and a tone control.

    Parameters
    ----------
    pickup : Pickup or Humbucker
        The pickup.
    volume : Pot or str
        Volume pot, or its resistance [ohm] with an audio taper of 15 % at half travel.
    tone : Pot, str or None
        Tone pot, likewise; None wires no tone control.
    tone_capacitor : Capacitor, float or str
        Tone capacitor [F].
    treble_bleed : Part, str or None
        Two-lug network between input and output of the volume pot: a part, or text such as
        "150k || 1n" (see `guitarnet.bleed`).
    wiring : {"modern", "50s", "independent", "independent 50s"}
        Modern: pickup on ``high``, output on the wiper, tone on the pickup side. 50s: the same
        with the tone on the output side. Independent: pickup on the wiper, output on ``high``,
        tone on the pickup side. Independent 50s: the same with the tone on the output side.
    cable : Cable, float or str
        Cable, or its length [m] at 100 pF/m.
    amp : AmpInput, float or str
        Amp input, or its resistance [ohm].
    name : str
        What to call the guitar.

    Returns
    -------
    Harness
        Parts ``pickup``, ``volume``, ``tone``, ``tone_capacitor``, ``treble_bleed``, ``jack``,
        ``cable``, ``amp``.

    Raises
    ------
    BadSetting
        If the wiring is unknown.
    BadValue
        If a value is not one that the part can have.

    References
    ----------
    Modern and 50s: Premier Guitar, on tone pot wiring. Defaults (250 kΩ, audio 15 %, 22 nF, 3 m):
    common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> guitar = one_pickup(Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")
    >>> guitar.parts["treble_bleed"].label()
    '150 kΩ ∥ 1 nF'
    """
    _check_pickup(pickup)
    entry, exit_ = _sides(wiring)
    parts: dict[str, Any] = {"pickup": pickup, "volume": _pot(volume)}
    joined: list[tuple[str, ...]] = [
        ("pickup.ground", "volume.low", "jack.sleeve"),
        ("pickup.hot", f"volume.{entry}", "treble_bleed.a"),
        (f"volume.{exit_}", "treble_bleed.b", "jack.tip"),
    ]
    open_lugs: list[str] = []
    if tone is not None:
        side = f"volume.{exit_ if wiring.endswith('50s') else entry}"
        parts["tone"] = _pot(tone)
        parts["tone_capacitor"] = _capacitor(tone_capacitor)
        _join_tone(joined, open_lugs, side, "tone", "tone_capacitor")
    parts["treble_bleed"] = bleed(treble_bleed)
    return _plugged(parts, joined, open_lugs, cable, amp, name)


def three_single_coils(
    neck: Coil | Humbucker,
    middle: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    tones: str = "neck and middle",
    volume: Pot | str = "250k",
    tone: Pot | str = "250k",
    tone_capacitor: Any = "22n",
    treble_bleed: Any = None,
    cable: Cable | str = "3 m",
    amp: AmpInput | str = "1M",
    name: str = "three single coils",
) -> Harness:
    """Wire three pickups with a five-way lever, one volume and two tones with a shared capacitor.

    Parameters
    ----------
    neck, middle, bridge : Pickup or Humbucker
        The pickups. A middle pickup with reversed winding and magnet makes the two places
        between cancel hum.
    tones : {"neck and middle", "neck and bridge"}
        Which pickups the two tone controls belong to: ``tone_1`` the neck, ``tone_2`` the other.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name
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
    second = {"neck and middle": "2", "neck and bridge": "3"}.get(tones)
    if second is None:
        raise BadSetting(
            "tones", f"{tones!r} is unknown", "use 'neck and middle' or 'neck and bridge'", tones
        )
    pickups = {"neck": neck, "middle": middle, "bridge": bridge}
    for pickup in pickups.values():
        _check_pickup(pickup)
    parts: dict[str, Any] = {
        **pickups,
        "switch": five_way_lever(),
        "volume": _pot(volume),
        "tone_1": _pot(tone),
        "tone_2": _pot(tone),
        "tone_capacitor": _capacitor(tone_capacitor),
        "treble_bleed": bleed(treble_bleed),
    }
    joined: list[tuple[str, ...]] = [
        ("neck.ground", "middle.ground", "bridge.ground", "volume.low", "jack.sleeve"),
        ("neck.hot", "switch.a1"),
        ("middle.hot", "switch.a2"),
        ("bridge.hot", "switch.a3"),
        # The other bank leads from the same common to the tone controls.
        ("switch.a", "switch.b", "volume.high", "treble_bleed.a"),
        ("volume.wiper", "treble_bleed.b", "jack.tip"),
    ]
    open_lugs = [f"switch.b{'2' if second == '3' else '3'}"]
    _join_tone(joined, open_lugs, "switch.b1", "tone_1", "tone_capacitor")
    _join_tone(joined, open_lugs, f"switch.b{second}", "tone_2", "tone_capacitor")
    return _plugged(parts, joined, open_lugs, cable, amp, name)


def two_single_coils(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | str = "250k",
    tone: Pot | str = "250k",
    tone_capacitor: Any = "47n",
    treble_bleed: Any = None,
    cable: Cable | str = "3 m",
    amp: AmpInput | str = "1M",
    name: str = "two single coils",
) -> Harness:
    """Wire two pickups with a three-way switch, master volume and master tone.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name
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
    for pickup in (neck, bridge):
        _check_pickup(pickup)
    parts: dict[str, Any] = {
        "neck": neck,
        "bridge": bridge,
        "switch": three_way_toggle(),
        "volume": _pot(volume),
        "tone": _pot(tone),
        "tone_capacitor": _capacitor(tone_capacitor),
        "treble_bleed": bleed(treble_bleed),
    }
    joined: list[tuple[str, ...]] = [
        ("neck.ground", "bridge.ground", "volume.low", "jack.sleeve"),
        ("neck.hot", "switch.first"),
        ("bridge.hot", "switch.second"),
        ("switch.common", "volume.high", "treble_bleed.a"),
        ("volume.wiper", "treble_bleed.b", "jack.tip"),
    ]
    open_lugs: list[str] = []
    _join_tone(joined, open_lugs, "volume.high", "tone", "tone_capacitor")
    return _plugged(parts, joined, open_lugs, cable, amp, name)


def two_humbuckers(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | str = "500k",
    tone: Pot | str = "500k",
    tone_capacitor: Any = "22n",
    treble_bleed: Any = None,
    wiring: str = "modern",
    cable: Cable | str = "3 m",
    amp: AmpInput | str = "1M",
    name: str = "two humbuckers",
) -> Harness:
    """Wire two pickups, each with volume and tone, and a three-way switch behind the volumes.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups.
    volume, tone, tone_capacitor, treble_bleed, wiring, cable, amp, name
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
    entry, exit_ = _sides(wiring)
    parts: dict[str, Any] = {}
    joined: list[tuple[str, ...]] = []
    open_lugs: list[str] = []
    for side, pickup, lug in (("neck", neck, "first"), ("bridge", bridge, "second")):
        _check_pickup(pickup)
        own = f"{side}_volume"
        parts[side] = pickup
        parts[own] = _pot(volume)
        parts[f"{side}_tone"] = _pot(tone)
        parts[f"{side}_capacitor"] = _capacitor(tone_capacitor)
        parts[f"{side}_bleed"] = bleed(treble_bleed)
        joined += [
            (f"{side}.ground", f"{own}.low", "jack.sleeve"),
            (f"{side}.hot", f"{own}.{entry}", f"{side}_bleed.a"),
            (f"{own}.{exit_}", f"{side}_bleed.b", f"switch.{lug}"),
        ]
        at = f"{own}.{exit_ if wiring.endswith('50s') else entry}"
        _join_tone(joined, open_lugs, at, f"{side}_tone", f"{side}_capacitor")
    parts["switch"] = three_way_toggle()
    joined.append(("switch.common", "jack.tip"))
    return _plugged(parts, joined, open_lugs, cable, amp, name)


def pickup_alone(pickup: Coil | Humbucker, *, name: str = "pickup alone") -> Harness:
    """Join a pickup to a jack and to nothing else: unloaded.

    Parameters
    ----------
    pickup : Pickup or Humbucker
        The pickup.
    name : str
        What to call it.

    Returns
    -------
    Harness
        Parts ``pickup`` and ``jack``.

    Raises
    ------
    BadValue
        If it is not a pickup.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> sorted(pickup_alone(Pickup("6.2k", "2.4 H", "120p")).parts)
    ['jack', 'pickup']
    """
    _check_pickup(pickup)
    joined = (("pickup.hot", "jack.tip"), ("pickup.ground", "jack.sleeve"))
    return Harness({"pickup": pickup, "jack": Jack()}, joined, name=name)


def _sides(wiring: str) -> tuple[str, str]:
    """Lugs of a volume pot that are its input and its output."""
    if wiring not in WIRINGS:
        raise BadSetting("wiring", f"{wiring!r} is unknown", nearest(str(wiring), WIRINGS), wiring)
    return ("wiper", "high") if wiring.startswith("independent") else ("high", "wiper")


def _join_tone(
    joined: list[tuple[str, ...]], open_lugs: list[str], at: str, pot: str, capacitor: str
) -> None:
    """Join a tone control as a rheostat: the wiper on the signal, the low lug on the capacitor."""
    joined += [
        (at, f"{pot}.wiper"),
        (f"{pot}.low", f"{capacitor}.a"),
        (f"{capacitor}.b", "jack.sleeve"),
    ]
    open_lugs.append(f"{pot}.high")


def _plugged(
    parts: dict[str, Any],
    joined: list[tuple[str, ...]],
    open_lugs: list[str],
    cable: Cable | str,
    amp: AmpInput | str,
    name: str,
) -> Harness:
    """Add jack, cable and amp, and check the whole."""
    ends: dict[str, Any] = {
        "jack": Jack(),
        "cable": cable if isinstance(cable, Cable) else Cable(cable),  # type: ignore[arg-type]
        "amp": amp if isinstance(amp, AmpInput) else AmpInput(amp),  # type: ignore[arg-type]
    }
    plugs = [
        ("jack.tip", "cable.guitar_tip"),
        ("jack.sleeve", "cable.guitar_sleeve"),
        ("cable.amp_tip", "amp.tip"),
        ("cable.amp_sleeve", "amp.sleeve"),
    ]
    harness = Harness(parts | ends, (*joined, *plugs), tuple(open_lugs), name=name)
    harness.check()
    return harness


def _capacitor(given: Any) -> Capacitor:
    return given if isinstance(given, Capacitor) else Capacitor(given)


def _check_pickup(pickup: Any) -> None:
    if isinstance(pickup, Humbucker) and pickup.connection == "leads":
        raise BadValue(
            "pickup", "has four leads and no hot", "connect it, or build the harness from parts"
        )
    if not isinstance(pickup, (Coil, Humbucker)):
        raise BadValue("pickup", f"{pickup!r} is not a pickup", "give gn.Pickup(...)", pickup)


def _pot(given: Pot | str) -> Pot:
    return given if isinstance(given, Pot) else Pot(given, "audio 15%")  # type: ignore[arg-type]
