"""Ready harnesses of one pickup with volume and tone, or alone."""

from __future__ import annotations

from ...gate import public
from ...parts.base import Part
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.two_lug import Capacitor, bleed
from ..harness import Harness
from .bench import Bench, Wiring, read_capacitor, read_pot, sides, whole_pickup

__all__ = ["one_pickup", "pickup_alone"]


@public
def one_pickup(
    pickup: Coil | Humbucker,
    *,
    volume: Pot | float | str = "250k",
    tone: Pot | float | str | None = "250k",
    tone_capacitor: Capacitor | float | str = "22n",
    treble_bleed: Part | str | None = None,
    wiring: Wiring = "modern",
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "one pickup",
    unusual: bool = False,
) -> Harness:
    """Wire one pickup with a volume and a tone control.

    Parameters
    ----------
    pickup : Pickup or Humbucker
        The pickup.
    volume : Pot or str
        Volume pot, or its resistance [ohm] with an audio taper of 15 % at half travel.
    tone : Pot, str or None
        Tone pot, likewise; None wires no tone control. A no-load pot opens at 10:
        ``Pot("250k", no_load("audio 15%"))``.
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
    unusual : bool
        Whether values that hardly any guitar has are meant, and are no slip.

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
    Unusual
        If a value is one that hardly any guitar has.

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
    entry, exit_, tone_at = sides(wiring)
    bench = Bench(pickup=whole_pickup(pickup), volume=read_pot(volume))
    bench.join(
        ("pickup.ground", "volume.low", "jack.sleeve"),
        ("pickup.hot", f"volume.{entry}", "treble_bleed.a"),
        (f"volume.{exit_}", "treble_bleed.b", "jack.tip"),
    )
    if tone is not None:
        bench.parts |= {"tone": read_pot(tone), "tone_capacitor": read_capacitor(tone_capacitor)}
        bench.join_tone(f"volume.{tone_at}")
    bench.parts["treble_bleed"] = bleed(treble_bleed)
    return bench.plugged(cable, amp, name)


@public
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
    joined = (("pickup.hot", "jack.tip"), ("pickup.ground", "jack.sleeve"))
    return Harness({"pickup": whole_pickup(pickup), "jack": Jack()}, joined, name=name)
