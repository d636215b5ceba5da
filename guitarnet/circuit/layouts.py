"""Ready harnesses. Each is a function that reads like the wiring."""

from __future__ import annotations

from typing import Any

from ..errors import BadSetting, BadValue, nearest
from ..parts.humbucker import Humbucker
from ..parts.output import AmpInput, Cable, Jack
from ..parts.pickup import Coil
from ..parts.pot import Pot
from ..parts.two_lug import Capacitor, bleed
from .harness import Harness

__all__ = ["WIRINGS", "one_pickup", "pickup_alone"]

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
    if wiring not in WIRINGS:
        raise BadSetting("wiring", f"{wiring!r} is unknown", nearest(str(wiring), WIRINGS), wiring)
    entry, exit_ = ("wiper", "high") if wiring.startswith("independent") else ("high", "wiper")
    parts: dict[str, Any] = {"pickup": pickup, "volume": _pot(volume)}
    joined: list[tuple[str, ...]] = [
        ("pickup.ground", "volume.low", "jack.sleeve"),
        ("pickup.hot", f"volume.{entry}", "treble_bleed.a"),
        (f"volume.{exit_}", "treble_bleed.b", "jack.tip"),
    ]
    open_lugs = []
    if tone is not None:
        parts["tone"] = _pot(tone)
        parts["tone_capacitor"] = (
            tone_capacitor if isinstance(tone_capacitor, Capacitor) else Capacitor(tone_capacitor)
        )
        # A rheostat: the wiper on the signal, the low lug on the capacitor.
        joined += [
            (f"volume.{exit_ if wiring.endswith('50s') else entry}", "tone.wiper"),
            ("tone.low", "tone_capacitor.a"),
            ("tone_capacitor.b", "jack.sleeve"),
        ]
        open_lugs.append("tone.high")
    parts |= {
        "treble_bleed": bleed(treble_bleed),
        "jack": Jack(),
        "cable": cable if isinstance(cable, Cable) else Cable(cable),  # type: ignore[arg-type]
        "amp": amp if isinstance(amp, AmpInput) else AmpInput(amp),  # type: ignore[arg-type]
    }
    joined += [
        ("jack.tip", "cable.guitar_tip"),
        ("jack.sleeve", "cable.guitar_sleeve"),
        ("cable.amp_tip", "amp.tip"),
        ("cable.amp_sleeve", "amp.sleeve"),
    ]
    harness = Harness(parts, tuple(joined), tuple(open_lugs), name=name)
    harness.check()
    return harness


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


def _check_pickup(pickup: Any) -> None:
    if isinstance(pickup, Humbucker) and pickup.connection == "leads":
        raise BadValue(
            "pickup", "has four leads and no hot", "connect it, or build the harness from parts"
        )
    if not isinstance(pickup, (Coil, Humbucker)):
        raise BadValue("pickup", f"{pickup!r} is not a pickup", "give gn.Pickup(...)", pickup)


def _pot(given: Pot | str) -> Pot:
    return given if isinstance(given, Pot) else Pot(given, "audio 15%")  # type: ignore[arg-type]
