"""How many turns each coil of a guitar has, or how they compare: hum goes with them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..units import plain_words
from .base import Part
from .pickup import Coil
from .winding import wire_label, wire_resistance

__all__ = ["Turns", "coils_in", "field_of", "hum_assumptions", "turns_of"]

# 7600 turns of AWG 42 read 6.5 kΩ: Premier Guitar, "Demystifying DCR".
_MEAN_TURN = 6500 / wire_resistance("AWG 42") / 7600
_ROOT = "by root of inductance"
_RELATIVE = f"{_ROOT}, relative"


@dataclass(frozen=True)
class Turns:
    """Turns of one coil, and where they come from.

    Parameters
    ----------
    number : float
        Turns; their share of the largest in the guitar where no coil's are known.
    how : str
        "given", "by ohms of AWG 42", "by root of inductance".
    """

    number: float
    how: str

    def label(self) -> str:
        """Write the number: whole turns, or a share."""
        return f"{self.number:.2f}" if self.how == _RELATIVE else f"{self.number:.0f}"


def coils_in(parts: Mapping[str, Part]) -> dict[str, Coil]:
    """Find the coils of parts and inside them, by path."""
    found: dict[str, Coil] = {}
    for path, part in parts.items():
        if isinstance(part, Coil):
            found[path] = part
        else:
            inner = {f"{path}.{name}": one for name, one in part.inner().items()}
            found |= coils_in(inner)
    return found


def turns_of(coils: Mapping[str, Coil]) -> dict[str, Turns]:
    """Find the turns of each coil of one guitar.

    Parameters
    ----------
    coils : mapping of str to Coil
        All coils of the guitar by path.

    Returns
    -------
    dict of str to Turns
        Given turns stand. Else they follow from the ohms where the wire is known: length of the
        wire over the mean length of a turn, which is taken from coils of which both turns and
        wire are known, else 156 mm. Else they go with the root of the inductance, as on one core,
        from the coils of which the turns are known; if there is none, they are relative.
    """
    found = {path: Turns(coil.turns, "given") for path, coil in coils.items() if coil.turns}
    wires = {path: coil.wire for path, coil in coils.items() if coil.wire is not None}
    length = {path: coils[path].resistance / wire_resistance(wire) for path, wire in wires.items()}
    both = found.keys() & length.keys()
    mean = _middle(length[path] / found[path].number for path in coils if path in both)
    for path in length.keys() - both:
        number = length[path] / (mean or _MEAN_TURN)
        found[path] = Turns(number, f"by ohms of {wire_label(wires[path])}")
    roots = {path: math.sqrt(coil.inductance) for path, coil in coils.items()}
    scale = _middle(found[path].number / roots[path] for path in coils if path in found)
    unit = scale or 1 / max(roots.values(), default=1.0)
    for path in coils.keys() - found.keys():
        found[path] = Turns(unit * roots[path], _ROOT if scale else _RELATIVE)
    return {path: found[path] for path in coils}


def field_of(turns: Mapping[str, Turns]) -> dict[str, float]:
    """Volts of hum in each coil, for a field that induces 1 V in the coil of the most turns."""
    most = max((one.number for one in turns.values()), default=1.0)
    return {path: one.number / most for path, one in turns.items()}


def hum_assumptions(parts: Mapping[str, Part]) -> tuple[str, ...]:
    """Say what is assumed of a guitar's hum, and where the turns of its coils come from."""
    hows = {plain_words(path): one.how for path, one in turns_of(coils_in(parts)).items()}
    same = len(set(hows.values())) == 1
    each = next(iter(hows.values())) if same else ", ".join(map(" ".join, hows.items()))
    return ("equal field in all coils assumed", f"turns {each}") if hows else ()


def _middle(values: Iterable[float]) -> float | None:
    """Geometric mean, None of nothing."""
    logs = [math.log(value) for value in values]
    return math.exp(math.fsum(logs) / len(logs)) if logs else None
