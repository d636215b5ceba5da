"""Ready harness of two humbuckers whose coils are switched by push-pull pots."""

from __future__ import annotations

from ...errors import BadSetting, nearest
from ...gate import public
from ...parts.base import Part
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable
from ...parts.pot import Pot
from ...parts.switch import double_throw, three_way_toggle
from ...parts.two_lug import Capacitor
from ..harness import Harness
from .bench import Bench, Wiring, four_leads

__all__ = ["PULLS", "two_humbuckers_push_pull"]

PULLS = {
    "split": ("both coils", "coil 1"),
    "parallel": ("series", "parallel"),
    "phase": ("in phase", "reversed"),
}
"""What a push-pull may do to a humbucker, and its two places, pushed and pulled."""


@public(neck=None, bridge=None)
def two_humbuckers_push_pull(
    neck: Humbucker,
    bridge: Humbucker,
    *,
    neck_volume_pull: str | None = "split",
    bridge_volume_pull: str | None = "split",
    neck_tone_pull: str | None = None,
    bridge_tone_pull: str | None = None,
    volume: Pot | float | str = "500k",
    tone: Pot | float | str = "500k",
    tone_capacitor: Capacitor | float | str = "22n",
    treble_bleed: Part | str | None = None,
    wiring: Wiring = "modern",
    cable: Cable | float | str = "3 m",
    amp: AmpInput | float | str = "1M",
    name: str = "two humbuckers, push-pulls",
    unusual: bool = False,
) -> Harness:
    """Wire two humbuckers as in `two_humbuckers`, with switches on push-pull pots.

    A push-pull is a pot and an independent two-pole two-way switch, a part of its own here. The
    same switches may as well be mini toggles.

    Parameters
    ----------
    neck, bridge : Humbucker
        The pickups, with ``connection="leads"``.
    neck_volume_pull, bridge_volume_pull, neck_tone_pull, bridge_tone_pull : str or None
        What the switch on each pot does to its pickup. "split": pulled, the second coil is
        shunted (places "both coils", "coil 1"). "parallel": pulled, the coils are in parallel
        (places "series", "parallel"). "phase": pulled, the pickup is reversed (places
        "in phase", "reversed"); its metal cover then needs a ground wire of its own. None: a
        plain pot.
    volume, tone, tone_capacitor, treble_bleed, wiring, cable, amp, name, unusual
        As in `one_pickup`, alike for both pickups.

    Returns
    -------
    Harness
        Parts as of `two_humbuckers`, and ``neck_volume_pull`` and its kin where there is one.

    Raises
    ------
    BadSetting
        If the wiring or what a push-pull does is unknown, or two of one pickup are in each
        other's way.
    BadValue
        If a pickup's leads are not free, or a value is not one that the part can have.

    References
    ----------
    Common practice, no source; so are the defaults.

    Examples
    --------
    >>> from guitarnet import Coil, Humbucker
    >>> pickup = Humbucker(Coil("4k", "2 H", "100p"), Coil("4k", "2 H", "100p"), connection="leads")
    >>> guitar = two_humbuckers_push_pull(pickup, pickup, neck_tone_pull="phase")
    >>> guitar.parts["neck_tone_pull"].places
    ('in phase', 'reversed')
    """
    bench = Bench()
    pulls = {
        "neck": {"neck_volume_pull": neck_volume_pull, "neck_tone_pull": neck_tone_pull},
        "bridge": {"bridge_volume_pull": bridge_volume_pull, "bridge_tone_pull": bridge_tone_pull},
    }
    for side, pickup, lug in (("neck", neck, "first"), ("bridge", bridge, "second")):
        bench.parts[side] = four_leads(side, pickup)
        hot, ground = _join_pulls(bench, side, pickup, pulls[side])
        bench.add_volume_and_tone(
            side,
            hot=hot,
            ground=ground,
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


def _join_pulls(
    bench: Bench, side: str, pickup: Humbucker, pulls: dict[str, str | None]
) -> tuple[str, str]:
    """Join the coils of a humbucker through its push-pulls; give its hot and its ground lug."""
    switch = _check_pulls(side, pulls)
    for pull, does in pulls.items():
        if does is not None:
            bench.parts[pull] = double_throw(PULLS[does])
    hot, upper, lower, ground = pickup.ends(side)
    if own := switch.get("parallel"):
        bench.join(
            (upper, f"{own}.a"),
            (lower, f"{own}.b"),
            (f"{own}.a1", f"{own}.b1"),
            (f"{own}.a2", ground),
            (f"{own}.b2", hot),
        )
    else:
        bench.join((upper, lower))
    if own := switch.get("split"):
        bench.join((upper, f"{own}.a"), (f"{own}.a2", ground))
        bench.leave_open(*(f"{own}.{lug}" for lug in ("a1", "b", "b1", "b2")))
    if own := switch.get("phase"):
        bench.join(
            (hot, f"{own}.a"),
            (ground, f"{own}.b"),
            (f"{own}.a1", f"{own}.b2"),
            (f"{own}.b1", f"{own}.a2"),
        )
        hot, ground = f"{own}.a1", f"{own}.b1"
    return hot, ground


def _check_pulls(side: str, pulls: dict[str, str | None]) -> dict[str, str]:
    """Name the switch of a pickup that does each thing."""
    switch: dict[str, str] = {}
    for pull, does in pulls.items():
        if does is None:
            continue
        if does not in PULLS:
            raise BadSetting(pull, f"{does!r} is unknown", nearest(str(does), PULLS), does)
        if does in switch:
            raise BadSetting(
                pull, f"{does!r} stands on both pots of the {side}", "give it to one of them", does
            )
        switch[does] = pull
    if {"split", "parallel"} <= switch.keys():
        raise BadSetting(
            switch["split"],
            f"cannot leave out a coil of the {side} that 'parallel' has joined to the other",
            "give a pickup one of 'split' and 'parallel'",
        )
    return switch
