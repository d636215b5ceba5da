"""Ready harnesses of basses: two volumes, or a blend."""

from __future__ import annotations

from ...errors import BadSetting, nearest
from ...gate import public
from ...parts.base import Part
from ...parts.blend import BlendPot
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.two_lug import Capacitor, bleed
from ..harness import Harness
from .bench import Bench, read_capacitor, read_pot, whole_pickup

__all__ = ["BLENDINGS", "bass_blend", "bass_two_volumes"]

BLENDINGS = ("normal", "independent", "rheostat")
"""How pickups and output meet a blend pot; see `bass_blend`."""


@public
def bass_two_volumes(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    volume: Pot | float | str = "250k",
    tone: Pot | float | str = "250k",
    tone_capacitor: Capacitor | float | str = "47n",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "bass, two volumes",
    unusual: bool = False,
) -> Harness:
    """Wire two pickups with a volume each and one tone behind both.

    The volumes are independent: each pickup stands on the wiper of its pot, both outputs meet
    at ``high``. A volume at 0 shorts its own pickup and leaves the other sounding.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`; both volumes are alike.

    Returns
    -------
    Harness
        Parts ``neck``, ``bridge``, ``neck_volume``, ``bridge_volume``, ``neck_bleed``,
        ``bridge_bleed``, ``tone``, ``tone_capacitor``, ``jack``, ``cable``, ``amp``.

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
    >>> coil = Pickup("7k", "3.5 H", "150p")
    >>> "tone_capacitor" in bass_two_volumes(coil, coil).parts
    True
    """
    bench = Bench(neck=whole_pickup(neck), bridge=whole_pickup(bridge))
    for side in ("neck", "bridge"):
        own = f"{side}_volume"
        bench.parts |= {own: read_pot(volume), f"{side}_bleed": bleed(treble_bleed)}
        bench.join(
            (f"{side}.ground", f"{own}.low", "jack.sleeve"),
            (f"{side}.hot", f"{own}.wiper", f"{side}_bleed.a"),
            (f"{own}.high", f"{side}_bleed.b", "jack.tip"),
        )
    bench.parts |= {"tone": read_pot(tone), "tone_capacitor": read_capacitor(tone_capacitor)}
    bench.join_tone("jack.tip")
    return bench.plugged(cable, amp, name)


@public
def bass_blend(
    neck: Coil | Humbucker,
    bridge: Coil | Humbucker,
    *,
    blending: str = "independent",
    blend: BlendPot | float | str = "250k",
    volume: Pot | float | str = "250k",
    tone: Pot | float | str = "250k",
    tone_capacitor: Capacitor | float | str = "47n",
    treble_bleed: Part | str | None = None,
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "bass, blend",
    unusual: bool = False,
) -> Harness:
    """Wire two pickups with a blend pot, then master volume and master tone.

    Parameters
    ----------
    neck, bridge : Pickup or Humbucker
        The pickups. Towards 0 of the blend the neck stays, at 5 both are full, towards 10 the
        bridge stays; see Notes for what the ends do in each wiring.
    blending : {"normal", "independent", "rheostat"}
        Normal: each pickup on its ``high`` lug, the wipers joined as the output, the low lugs
        grounded. Independent: each pickup on its wiper, the high lugs joined as the output, the
        low lugs grounded. Rheostat: as normal, but the low lugs are left open.
    blend : BlendPot or str
        Blend pot, or the resistance of each track [ohm], falling along a straight line.
    volume, tone, tone_capacitor, treble_bleed, cable, amp, name, unusual
        As in `one_pickup`.

    Returns
    -------
    Harness
        Parts ``neck``, ``bridge``, ``blend``, ``volume``, ``tone``, ``tone_capacitor``,
        ``treble_bleed``, ``jack``, ``cable``, ``amp``.

    Raises
    ------
    BadSetting
        If the blending is unknown.
    BadValue
        If a value is not one that the part can have.

    Notes
    -----
    What follows from the joints, for tracks of R. Normal: the wipers are one node, so the low
    end of the falling track grounds the output; it is silent at 0 and at 10. Independent: at
    either end the pickup that is left out is shorted and the other stands on the output
    directly. At the centre, and with the independent blend at the ends too, both tracks lie
    across the output, R/2. Rheostat: nothing leads to ground, so at the centre the pot is as
    good as not there; but the pickup that is left out keeps sounding through R.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> coil = Pickup("7k", "3.5 H", "150p")
    >>> bass_blend(coil, coil, blending="rheostat").open_lugs[:2]
    ('blend.first_low', 'blend.second_low')
    """
    if blending not in BLENDINGS:
        raise BadSetting(
            "blending", f"{blending!r} is unknown", nearest(str(blending), BLENDINGS), blending
        )
    bench = Bench(
        neck=whole_pickup(neck),
        bridge=whole_pickup(bridge),
        blend=blend if isinstance(blend, BlendPot) else BlendPot(blend),
    )
    entry, exit_ = ("wiper", "high") if blending == "independent" else ("high", "wiper")
    bench.join(
        ("neck.ground", "bridge.ground", "jack.sleeve"),
        ("neck.hot", f"blend.first_{entry}"),
        ("bridge.hot", f"blend.second_{entry}"),
        (f"blend.first_{exit_}", f"blend.second_{exit_}"),
    )
    if blending == "rheostat":
        bench.leave_open("blend.first_low", "blend.second_low")
    else:
        bench.join(("blend.first_low", "blend.second_low", "jack.sleeve"))
    bench.add_master(f"blend.first_{exit_}", volume, treble_bleed, tone, tone_capacitor)
    return bench.plugged(cable, amp, name)
