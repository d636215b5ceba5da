"""Ready harnesses of one pickup with more than a tone pot: rotary tones, a notch, a bass cut."""

from __future__ import annotations

from collections.abc import Iterable

from ...errors import BadSetting, nearest
from ...gate import public
from ...parts.base import Part
from ...parts.choke import Choke
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.switch import double_throw, rotary
from ...parts.two_lug import Capacitor, Resistor
from ..harness import Harness
from .bench import Bench, marked_capacitors, read_capacitor, read_pot, read_resistor, whole_pickup

__all__ = ["BASS_CUTS", "bass_cut", "rotary_notch", "rotary_tone"]

BASS_CUTS = ("pot", "switch")
"""What stands across the bass-cut capacitor; see `bass_cut`."""


@public
def rotary_tone(
    pickup: Coil | Humbucker,
    *,
    volume: Pot | float | str = "250k",
    capacitors: Iterable[Capacitor | float | str] = ("2.2n", "10n", "39n", "47n", "100n"),
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "rotary tone",
    unusual: bool = False,
) -> Harness:
    """Wire one pickup with a volume and a rotary switch of tone capacitors.

    Parameters
    ----------
    pickup : Pickup or Humbucker
        The pickup.
    capacitors : sequence of Capacitor, float or str
        Tone capacitors [F], 1 to 11, in the order of the places.
    volume, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``pickup``, ``tone`` (the rotary: places "none", "2.2 nF", "10 nF" and so on, by
        the capacitors as they are given here; a replaced capacitor leaves the panel's marks as
        they are), ``capacitor_1`` and so on, ``volume``, ``treble_bleed``, ``jack``, ``cable``,
        ``amp``.

    Raises
    ------
    BadSetting
        If there is no capacitor, or two are alike.
    BadValue
        If a value is not one that the part can have.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> rotary_tone(Pickup("6.2k", "2.4 H", "120p")).parts["tone"].places[:3]
    ('none', '2.2 nF', '10 nF')
    """
    chosen = marked_capacitors(capacitors)
    bench = Bench(pickup=whole_pickup(pickup), tone=rotary(1, ["none", *chosen]))
    bench.join(("pickup.ground", "jack.sleeve"), ("pickup.hot", "tone.a"))
    bench.leave_open("tone.a1")
    for number, part in enumerate(chosen.values(), 1):
        bench.parts[f"capacitor_{number}"] = part
        bench.join(
            (f"tone.a{number + 1}", f"capacitor_{number}.a"),
            (f"capacitor_{number}.b", "jack.sleeve"),
        )
    bench.add_master("pickup.hot", volume, treble_bleed)
    return bench.plugged(cable, amp, name)


@public
def rotary_notch(
    pickup: Coil | Humbucker,
    *,
    volume: Pot | float | str = "500k",
    tone: Pot | float | str | None = "500k",
    tone_capacitor: Capacitor | float | str = "22n",
    capacitors: Iterable[Capacitor | float | str] = ("1n", "3.3n", "10n", "33n", "220n"),
    choke: Choke | float | str = "1.5 H",
    resistor: Resistor | float | str = "100k",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "rotary notch",
    unusual: bool = False,
) -> Harness:
    """Wire one pickup with a rotary R-L-C notch before volume and tone.

    Parameters
    ----------
    pickup : Pickup or Humbucker
        The pickup.
    capacitors : sequence of Capacitor, float or str
        Capacitors [F], 1 to 11, each in series with the choke from the signal to ground.
    choke : Choke, float or str
        Choke, or its inductance [H] with no resistance and no capacitance of its own.
    resistor : Resistor, float or str
        Resistor [ohm] in the signal before the notch, bridged in the place "off".
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``pickup``, ``notch`` (the rotary: places "off", "1 nF", "3.3 nF" and so on, by the
        capacitors as they are given here), ``resistor``, ``choke``, ``capacitor_1`` and so on,
        ``volume``, ``tone``, ``tone_capacitor``, ``treble_bleed``, ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadSetting
        If there is no capacitor, or two are alike.
    BadValue
        If a value is not one that the part can have.

    Notes
    -----
    Choke and capacitor are in series resonance at f = 1/(2 pi sqrt(L C)), where they take the
    signal to ground except for the choke's resistance.

    References
    ----------
    Arrangement and values from memory; measure yours.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> rotary_notch(Pickup("6.2k", "2.4 H", "120p")).parts["choke"].label()
    '1.5 H'
    """
    chosen = marked_capacitors(capacitors)
    bench = Bench(
        pickup=whole_pickup(pickup),
        notch=rotary(2, ["off", *chosen]),
        resistor=read_resistor(resistor),
        choke=choke if isinstance(choke, Choke) else Choke(choke),
    )
    bench.join(
        ("pickup.ground", "jack.sleeve"),
        ("pickup.hot", "resistor.a", "notch.a1"),
        # One pole bridges the resistor, the other chooses a capacitor.
        ("resistor.b", "notch.a"),
        ("notch.b", "choke.a"),
        ("choke.b", "jack.sleeve"),
    )
    bench.leave_open("notch.b1")
    for number, part in enumerate(chosen.values(), 1):
        bench.parts[f"capacitor_{number}"] = part
        bench.join(
            ("resistor.b", f"capacitor_{number}.a"),
            (f"capacitor_{number}.b", f"notch.b{number + 1}"),
        )
        bench.leave_open(f"notch.a{number + 1}")
    bench.add_master("resistor.b", volume, treble_bleed, tone, tone_capacitor)
    return bench.plugged(cable, amp, name)


@public
def bass_cut(
    pickup: Coil | Humbucker,
    *,
    control: str = "pot",
    bass: Pot | float | str = "1M",
    bass_capacitor: Capacitor | float | str = "3.3n",
    volume: Pot | float | str = "500k",
    tone: Pot | float | str | None = "500k",
    tone_capacitor: Capacitor | float | str = "22n",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "bass cut",
    unusual: bool = False,
) -> Harness:
    """Wire one pickup with a bass-cut capacitor in series before volume and tone.

    Parameters
    ----------
    pickup : Pickup or Humbucker
        The pickup.
    control : {"pot", "switch"}
        What stands across the capacitor: a pot, which bridges it at 10 and leaves its whole
        track across it at 0; or a switch with the places "full" and "bass cut".
    bass : Pot or str
        The pot, or its resistance [ohm] with a reverse audio taper of 15 %; unused with a switch.
    bass_capacitor : Capacitor, float or str
        Series capacitor [F].
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``pickup``, ``bass`` (pot or switch), ``bass_capacitor``, ``volume``, ``tone``,
        ``tone_capacitor``, ``treble_bleed``, ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadSetting
        If the control is unknown.
    BadValue
        If a value is not one that the part can have.

    Notes
    -----
    Where the bass begins to fall depends on all that comes after: with the load R to ground it is
    at f = 1/(2 pi R C), so it moves with the volume pot and the amp.

    References
    ----------
    3.3 nF or 1.5 nF: common practice, no source. Pot and its taper from memory.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> bass_cut(Pickup("6.2k", "2.4 H", "120p"), control="switch").parts["bass"].places
    ('full', 'bass cut')
    """
    if control not in BASS_CUTS:
        raise BadSetting(
            "control", f"{control!r} is unknown", nearest(str(control), BASS_CUTS), control
        )
    bench = Bench(pickup=whole_pickup(pickup), bass_capacitor=read_capacitor(bass_capacitor))
    bench.join(("pickup.ground", "jack.sleeve"), ("pickup.hot", "bass_capacitor.a"))
    if control == "pot":
        bench.parts["bass"] = read_pot(bass, "reverse audio 15%")
        bench.join(("bass_capacitor.a", "bass.high"), ("bass_capacitor.b", "bass.wiper"))
        bench.leave_open("bass.low")
    else:
        bench.parts["bass"] = double_throw(["full", "bass cut"], poles=1)
        bench.join(("bass_capacitor.a", "bass.a"), ("bass_capacitor.b", "bass.a1"))
        bench.leave_open("bass.a2")
    bench.add_master("bass_capacitor.b", volume, treble_bleed, tone, tone_capacitor)
    return bench.plugged(cable, amp, name)
