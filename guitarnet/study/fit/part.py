"""From fitted numbers to the part of a guitar."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...parts.humbucker import Humbucker
from ...parts.pickup import Coil, Pickup
from . import coil_model

__all__ = ["part_of"]

_PICKUP = (
    "resistance",
    "inductance",
    "capacitance",
    "eddy_resistance",
    "eddy_share",
    "eddy_order",
    "screening_frequency",
    "slow_share",
    "slow_frequency",
)


def part_of(values: Mapping[str, float], source: str) -> Pickup | Humbucker:
    """Everything of the model that is the pickup's, as a part."""
    numbers: dict[str, Any] = {name: values[name] for name in _PICKUP if name in values}
    if "coupling" in values:
        return _humbucker(values, source)
    if "idle_coupling" not in values:
        return Pickup(**numbers, source=source)
    idle = numbers | {"capacitance": values["idle_capacitance"]}
    return Humbucker(
        Coil(**numbers, signal=1.0),
        Coil(**idle, signal=values["idle_signal"]),
        coupling=values["idle_coupling"],
        connection="coil 1",
        between_capacitance=values["between_capacitance"],
        source=source,
    )


def _humbucker(values: Mapping[str, float], source: str) -> Humbucker:
    """Two coils that share 2 V, in series."""
    one, two = coil_model.coils_of(values)
    ratio = one.get("signal_ratio", 1.0)
    return Humbucker(
        Coil(**{name: one[name] for name in _PICKUP if name in one}, signal=2 / (1 + ratio)),
        Coil(
            **{name: two[name] for name in _PICKUP if name in two}, signal=2 * ratio / (1 + ratio)
        ),
        coupling=one["coupling"],
        between_capacitance=one["between_capacitance"],
        lead_capacitance=one["lead_capacitance"],
        source=source,
    )
