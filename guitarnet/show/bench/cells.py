"""What is placed as one thing: a part, with the small parts that hang on its lugs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ...circuit.bench_lists import Joint, sorted_out
from ...circuit.harness import Harness
from ...errors import BadHarness
from ...parts.base import Part
from ...parts.blend import BlendPot
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.two_lug import Empty
from .form import Form, Lug
from .forms import form_of, sits_on
from .small import beside, hung, upright

__all__ = ["Bench", "Cell"]

_AT = {"high": -3, "wiper": 0, "low": 3}


@dataclass(frozen=True)
class Cell:
    """A part with what hangs on it, around the part's own middle.

    ``lugs`` are solder points by full name; ``legs`` are what hangs on them, each with the lug
    that it is soldered to; ``up`` are legs that go up to the ground bus; ``room`` is what a wire
    from a lug to the can takes at the left and right.
    """

    name: str
    kind: str
    form: Form
    lugs: dict[str, Lug]
    hanging: dict[str, Form] = field(default_factory=dict)
    legs: dict[str, str] = field(default_factory=dict)
    up: tuple[str, ...] = ()
    room: tuple[int, int] = (0, 0)

    @property
    def box(self) -> tuple[int, int, int, int]:
        """Left, top, right and bottom, with what hangs on the part."""
        boxes = [self.form.box, *(form.box for form in self.hanging.values())]
        left, top, right, bottom = zip(*boxes, strict=True)
        return min(left) - self.room[0], min(top), max(right) + self.room[1], max(bottom)


class Bench:
    """The soldered parts of a guitar, as cells, and its joints as the list numbers them."""

    def __init__(self, guitar: Harness) -> None:
        self.guitar = guitar
        self.parts: dict[str, Part] = {
            name: part
            for name, part in guitar.parts.items()
            if not isinstance(part, (Empty, Cable, AmpInput))
        }
        self.joints: list[Joint]
        self.joints, _, opened = sorted_out(guitar)
        self.open = [lug for lug in opened if lug.partition(".")[0] in self.parts]
        self.number = {
            lug: number
            for number, joint in enumerate(self.joints, 1)
            for lug in (*joint.fixed, *joint.leads)
        }
        self.ground = next(
            (n for n, joint in enumerate(self.joints, 1) if joint.step == "ground"), 0
        )
        self.pulls = {
            pot: name
            for name, part in self.parts.items()
            if (pot := sits_on(name, part, dict(guitar.parts)))
        }
        self.small = [name for name, part in self.parts.items() if part.lugs == ("a", "b")]
        self.cells: dict[str, Cell] = {}
        hangs = self._hanging()
        for name, part in self.parts.items():
            if name in self.small or name in self.pulls.values():
                continue
            self.cells[name] = self._cell(name, part, hangs.get(name, {}))
        self._turned: dict[str, Cell] = {}
        taken = {one for cell in self.cells.values() for one in cell.hanging}
        self.shelf = [name for name in self.small if name not in taken]
        if not self.parts:
            raise BadHarness(
                guitar.name, "has no part to draw", "add one, as add('jack', gn.Jack())"
            )

    def lugs_of(self, number: int) -> tuple[str, ...]:
        """Lugs of a joint, those without a lead first."""
        joint = self.joints[number - 1]
        return (*joint.fixed, *joint.leads)

    def joined(self, lug: str) -> tuple[str, ...]:
        """What else comes to the joint of a lug."""
        number = self.number.get(lug, 0)
        return tuple(q for q in self.lugs_of(number) if q != lug) if number else ()

    def _hanging(self) -> dict[str, dict[str, tuple[dict[str, str], str]]]:
        """By pot: the small parts on it, each with its lugs there and how it hangs."""
        hangs: dict[str, dict[str, tuple[dict[str, str], str]]] = {}
        taken: dict[str, list[str]] = {}
        for name in self.small:
            ends = {
                leg: {
                    pot: local
                    for pot, _, local in (q.partition(".") for q in self.joined(f"{name}.{leg}"))
                    if type(self.parts.get(pot)) is Pot
                }
                for leg in "ab"
            }
            grounds = [leg for leg in "ab" if self.number.get(f"{name}.{leg}") == self.ground]
            for pot in dict.fromkeys((*ends["a"], *ends["b"])):
                own = taken.setdefault(pot, [])
                on = {leg: ends[leg][pot] for leg in "ab" if pot in ends[leg]}
                neighbours = len(on) == 2 and abs(_AT[on["a"]] - _AT[on["b"]]) == 3
                if neighbours and not grounds and "under" not in own:
                    hangs.setdefault(pot, {})[name] = on, "under"
                    own.append("under")
                    break
                free = [leg for leg in on if leg not in grounds]
                if len(grounds) == 1 and len(free) == 1 and on[free[0]] != "wiper":
                    side = "left" if on[free[0]] == "high" else "right"
                    if side not in own:
                        hangs.setdefault(pot, {})[name] = {free[0]: on[free[0]]}, side
                        own.append(side)
                        break
        return hangs

    def _cell(
        self,
        name: str,
        part: Part,
        hangs: Mapping[str, tuple[dict[str, str], str]],
        *,
        turned: bool = False,
    ) -> Cell:
        pull = self.pulls.get(name, "")
        form = form_of(name, part, pull, self.parts.get(pull), turned=turned)
        lugs = {q if "." in q else f"{name}.{q}": lug for q, lug in form.lugs.items()}
        hanging: dict[str, Form] = {}
        legs: dict[str, str] = {}
        up: list[str] = []
        for small, (on, how) in hangs.items():
            if how == "under":
                hanging[small] = hung(self.parts[small], {leg: _AT[q] for leg, q in on.items()})
            else:
                (leg,) = on
                hanging[small] = beside(self.parts[small], leg, -1 if how == "left" else 1)
                up.append(f"{small}.{'b' if leg == 'a' else 'a'}")
            legs |= {f"{small}.{leg}": f"{name}.{q}" for leg, q in on.items()}
        own = [q for q in form.lugs if self.number.get(f"{name}.{q}", -1) == self.ground]
        room = (0, 0) if not form.cans else (2 * ("high" in own), 2 * ("low" in own))
        return Cell(name, _kind(part), form, lugs, hanging, legs, tuple(up), room)

    def turned(self, name: str) -> Cell:
        """A pickup with its leads in the other order, or a switch the other way round."""
        if name not in self._turned:
            self._turned[name] = self._cell(name, self.parts[name], {}, turned=True)
        return self._turned[name]

    def stand(self, name: str, top: str) -> Cell:
        """A small part on its own, its leg ``top`` up."""
        form = upright(self.parts[name], top)
        lugs = {f"{name}.{leg}": lug for leg, lug in form.lugs.items()}
        return Cell(name, "small", form, lugs)


def _kind(part: Part) -> str:
    if isinstance(part, (Pot, BlendPot)):
        return "pot"
    if isinstance(part, Jack):
        return "jack"
    return "pickup" if isinstance(part, (Coil, Humbucker)) else "switch"
