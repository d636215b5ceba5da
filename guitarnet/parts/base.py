"""Base of all parts: lugs, values and a stamp.

A part is a frozen dataclass. Its quantities are declared once, with unit and limits, by
:func:`quantity`; the same declaration reads what people write, checks the values of a sweep, and
defines the dotted paths. A part writes its branches into a netlist by :meth:`Part.stamp` and knows
nothing of its harness.
"""

from __future__ import annotations

import ast
import dataclasses
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar, Generic, Literal, Protocol, TypeVar, dataclass_transform, overload

import numpy as np
import xarray as xr

from ..errors import BadSetting, BadValue, Unusual, a, nearest
from ..gate import entered, insisted, public
from ..table import Table
from ..units import BARE_SHARE, Quantity, format_value
from .measured import Measured, MeasuredValue, measured_value

__all__ = [
    "PRACTICE",
    "Control",
    "Drive",
    "MaybeNumber",
    "Measurable",
    "Number",
    "Part",
    "Stamps",
    "Values",
    "Written",
    "apply",
    "as_entered",
    "asks",
    "insistence",
    "inverse",
    "other",
    "part_inside",
    "quantity",
    "read_quantities",
    "root",
    "valued",
]

Given = TypeVar("Given")
Held = TypeVar("Held")


class Written(Generic[Given, Held]):
    """Type of a field that is given in one way and held in another; no such object is made.

    Type checkers and editors read it as they read a descriptor: ``Pot("250k").resistance`` takes
    ``float | str`` and is a ``float``.
    """

    @overload
    def __get__(self, held_by: None, kind: Any) -> Any: ...
    @overload
    def __get__(self, held_by: object, kind: Any) -> Held: ...
    def __get__(self, held_by: Any, kind: Any) -> Any:
        raise NotImplementedError

    def __set__(self, held_by: Any, value: Given) -> None:
        raise NotImplementedError


Number = Written["float | str", float]
MaybeNumber = Written["float | str | None", "float | None"]
Measurable = Written["float | str | Measured", float]
"""What a tolerance is usual of, so that a measurement may take its place."""
_GIVEN = {
    "Number": "float | str",
    "MaybeNumber": "float | str | None",
    "Measurable": "float | str | Measured",
}


def quantity(
    unit: str,
    *,
    default: Any = dataclasses.MISSING,
    at_least: float | None = None,
    above: float | None = None,
    at_most: float | None = None,
    optional: bool = False,
    hint: str = "",
    usual: tuple[str, str, str] | None = None,
    marked: bool = False,
    percent: bool = False,
    copper: bool = False,
    swept: bool = True,
) -> Any:
    """Declare a dataclass field that holds one value in SI; see `Quantity`.

    One that is not swept inside a circuit is set like a choice, each value a part of its own.
    """
    spec = Quantity(unit, at_least, above, at_most, optional, hint, usual, marked, percent, copper)
    return dataclasses.field(default=default, metadata={"quantity": spec, "swept": swept})


def tolerance(*, default: float | None) -> Any:
    """Declare the tolerance field that many parts have: 0.2 or "20%" means plus or minus 20 %."""
    return quantity(
        "fraction",
        default=default,
        at_least=0,
        at_most=1,
        optional=True,
        hint="'20%' or 0.2",
        usual=("0.005%", "80%", PRACTICE),
        percent=True,
    )


PRACTICE = "common practice, no source"


def asks(part: Any) -> bool:
    """Whether unusual values of a part that is being made are asked about."""
    return entered() and not (part.unusual or insisted())


def insistence(*, default: bool) -> Any:
    """Declare the field that says that unusual values are meant; it makes no other part."""
    return dataclasses.field(default=default, compare=False, repr=False)


def read_quantities(made: Any) -> None:
    """Read what was given for each quantity of a frozen dataclass.

    A person who entered an unusual one is asked, unless they have said that it is meant: which
    then stays on the part, and in the file.
    """
    meant = getattr(made, "unusual", False)
    asking = entered()
    for field in dataclasses.fields(made):
        spec = field.metadata.get("quantity")
        if spec is None:
            continue
        given, where = getattr(made, field.name), f"{type(made).__name__}.{field.name}"
        if isinstance(given, (Measured, MeasuredValue)):
            held: float | None = _measured(made, field.name, given, spec, where)
            number = given = as_entered(held, spec)
        else:
            number = held = spec.read(given, where)
        if asking and not meant:
            try:
                spec.ask(number, where, given)
            except Unusual:
                if not insisted():
                    raise
                meant = True
        object.__setattr__(made, field.name, held)
    if meant and hasattr(made, "unusual"):
        object.__setattr__(made, "unusual", True)


def _measured(
    made: Any, name: str, given: Measured | MeasuredValue, spec: Quantity, where: str
) -> float:
    """Read what was measured, where that may take the place of a tolerance."""
    shares = getattr(made, "usual_tolerance", {})
    if name not in shares:
        if isinstance(given, MeasuredValue):  # copied from another part
            return float(given)
        problem = "has no tolerance that a measurement could replace"
        raise BadValue(where, problem, "give the value alone", given.value)
    value = given if isinstance(given, MeasuredValue) else measured_value(given, spec, where)
    spec.check(np.asarray(value), where)
    stated = getattr(made, "tolerance", None)
    if stated is not None and name == next(iter(shares)):
        within = format_value(value.share, "fraction", digits=2)
        raise BadValue(
            f"{type(made).__name__}.tolerance",
            f"is given, but the {name} is measured, within {within}",
            "leave the tolerance out",
            stated,
        )
    return value


def other(*, default: Any) -> Any:
    """Declare a field that is not a single number, with a default."""
    return dataclasses.field(default=default)


@dataclass_transform(frozen_default=True, field_specifiers=(quantity, tolerance, other, insistence))
def valued(kind: type[Held]) -> type[Held]:
    """Make a frozen dataclass whose signature shows what each field accepts."""
    made: type[Held] = dataclass(frozen=True)(kind)
    annotations = made.__init__.__annotations__
    for name, held in {**annotations, "return": "None"}.items():
        if held.startswith("Written["):
            pair: Any = ast.parse(held, mode="eval").body
            annotations[name] = ast.unparse(pair.slice.elts[0])
        else:
            annotations[name] = _GIVEN.get(held, held)
    return made


Position = Literal["", "neck", "middle", "bridge"]
POSITIONS = ("neck", "middle", "bridge")
"""Where a pickup may sit."""


def check_position(part: Part) -> None:
    """Check the position of a pickup."""
    position = part.position  # type: ignore[attr-defined]
    if not isinstance(position, str) or position not in ("", *POSITIONS):
        raise BadValue(
            f"{type(part).__name__}.position",
            f"{position!r} is no position",
            f"use {', '.join(map(repr, POSITIONS))}, or '' where it is not known",
            position,
        )


@dataclass(frozen=True)
class Control:
    """A value that a hand sets, such as a knob's mark."""

    spec: Quantity
    default: float | None


@dataclass(frozen=True)
class Drive:
    """The source of a harness: string or hum, in all coils or in some.

    Parameters
    ----------
    source : {"string", "hum"}
        A magnetised string moves, or a magnetic field from outside hums through every coil.
    only : tuple of str, optional
        Names of the driven pickups or coils; all by default.
    field : mapping of str to float
        Volts of hum in each coil by path; the harness fills them in.
    """

    source: str = "string"
    only: tuple[str, ...] | None = None
    field: Mapping[str, float] = dataclasses.field(default_factory=dict)


class Stamps(Protocol):
    """The netlist for one part, with the part's own lug names."""

    def resistor(self, name: str, a: str, b: str, value: Any) -> None: ...
    def inductor(self, name: str, a: str, b: str, value: Any) -> None: ...
    def capacitor(self, name: str, a: str, b: str, value: Any, *, loss: Any = 0.0) -> None: ...
    def source(self, name: str, plus: str, minus: str, volts: float = 1.0) -> None: ...
    def mutual(self, name: str, one: str, other: str, value: Any) -> None: ...
    def follower(self, name: str, out: str, back: str, plus: str, minus: str) -> None: ...
    def inner(self, name: str, **lugs: str) -> Stamps: ...


class Values:
    """Values of a part for one stamping: its fields, replaced by the settings.

    Attribute access gives a float, a labelled array of a sweep, or a symbol.
    """

    def __init__(
        self, part: Part, prefix: str, given: Mapping[str, Any], drive: Drive | None = None
    ) -> None:
        self._part, self.path, self._given = part, prefix, given
        self._drive = drive or Drive()

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):  # asked before there is anything, as by a copy
            raise AttributeError(name)
        path = f"{self.path}.{name}"
        if path in self._given:
            return self._given[path]
        if name in self._part.controls:
            return self._part.controls[name].default
        return getattr(self._part, name)

    def inner(self, name: str, part: Part) -> Values:
        """Give the values of a part inside this one."""
        return Values(part, f"{self.path}.{name}", self._given, self._drive)

    def volts(self, string: float, hum: float) -> float:
        """Volts of a coil's source: of the string, or with the sign ``hum`` of the field."""
        only = self._drive.only
        if only is not None and not any(f"{self.path}.".startswith(f"{name}.") for name in only):
            return 0.0
        return hum * self._drive.field[self.path] if self._drive.source == "hum" else string


T = TypeVar("T", bound="Part")


@public
class Part:
    """Base of all parts."""

    kinds: ClassVar[dict[str, type[Part]]] = {}
    """Every kind of part by its name, as harness files write it."""

    def __init_subclass__(cls) -> None:
        Part.kinds[cls.__name__] = cls
        cls.__repr__ = Part.__repr__  # type: ignore[method-assign]  # else dataclass writes its own

    lugs: ClassVar[tuple[str, ...]] = ()
    controls: ClassVar[Mapping[str, Control]] = {}
    main: ClassVar[str | None] = None
    """The field or control that a bare part name sets."""
    usual_tolerance: ClassVar[Mapping[str, float]] = {}
    """By how much a field may be off, plus or minus a share. A stated ``tolerance`` replaces the
    first."""

    def __post_init__(self) -> None:
        read_quantities(self)

    def inner(self) -> Mapping[str, Part]:
        """Parts inside this one, by name."""
        return {}

    def settable(self) -> dict[str, Quantity]:
        """Every value that a setting may reach, by its path inside this part."""
        specs = {name: control.spec for name, control in self.controls.items()}
        for field in dataclasses.fields(self):  # type: ignore[arg-type]
            if field.metadata.get("swept") and field.name != "tolerance":
                specs[field.name] = field.metadata["quantity"]
        for name, part in self.inner().items():
            specs.update({f"{name}.{path}": spec for path, spec in part.settable().items()})
        return specs

    def tolerances(self) -> dict[str, float]:
        """Tolerance of each value as a share, by its path inside this part."""
        shares = dict(self.usual_tolerance)
        tolerance = getattr(self, "tolerance", None)
        if tolerance is not None and shares:
            shares[next(iter(shares))] = tolerance
        for name in shares:
            if isinstance(value := getattr(self, name), MeasuredValue):
                shares[name] = value.share
        for name, part in self.inner().items():
            shares.update({f"{name}.{path}": share for path, share in part.tolerances().items()})
        return shares

    def aliases(self) -> Mapping[str, str]:
        """Short names for paths inside this part."""
        return {}

    def path(self, local: str, where: str) -> str:
        """Full path of a path or alias that a user wrote."""
        local = self.aliases().get(local, local)
        if local in self.settable() or local in self.categories():
            return local
        part = part_inside(self, local)
        if part is not None and part.main:
            return f"{local}.{part.main}"
        inside, _, field = local.rpartition(".")
        if field == "tolerance" and hasattr(piece := part_inside(self, inside) or self, field):
            fix = "give it to the part, as tolerance = '5%', or sweep the value itself"
            raise BadSetting(where, "a tolerance is no setting", fix, local)
        if field == "tolerance" and (own := piece_tolerances(piece, where)):
            raise BadSetting(
                where, "each part inside has its own", f"give {' or '.join(own)}", local
            )
        known = [*self.settable(), *self.categories(), *self.aliases()]
        raise BadSetting(
            where,
            f"{a(type(self))} has no {local!r}",
            nearest(local, known),
            local,
        )

    def categories(self) -> tuple[str, ...]:
        """Fields that hold something other than one number, such as a taper."""
        names = tuple(
            field.name
            for field in dataclasses.fields(self)  # type: ignore[arg-type]
            if field.metadata.get("swept") is not True
            and field.name not in ("source", "position", "unusual")
        )
        inner = (
            f"{name}.{path}" for name, part in self.inner().items() for path in part.categories()
        )
        return (*names, *inner)

    def replace(self: T, local: str, value: Any) -> T:
        """Return a copy with the value at a path replaced."""
        fields = [field.name for field in dataclasses.fields(self)]  # type: ignore[arg-type]
        if local not in fields:
            raise BadSetting(
                f"{type(self).__name__}.replace", f"there is no {local!r}", nearest(local, fields)
            )
        return dataclasses.replace(self, **{local: value})  # type: ignore[type-var]

    def called(self) -> str:
        """Kind of the part, as text."""
        return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(self).__name__).lower()

    def label(self) -> str:
        """Describe the part in a few words."""
        raise NotImplementedError

    def table(self) -> Table:
        """Return the values of the part and of the parts inside it as a table.

        Returns
        -------
        Table
            Values that are missing or at their default are left out, so that a table is
            short and says what matters.
        """
        return Table((self.called(), "value"), self._rows())

    def _rows(self) -> list[tuple[str, str]]:
        rows = []
        for field in dataclasses.fields(self):  # type: ignore[arg-type]
            value = getattr(self, field.name)
            spec = field.metadata.get("quantity")
            nothing = value is None or value == "" or (value == field.default and not value)
            if nothing or isinstance(value, (Part, tuple)):
                continue
            written = str(value) if spec is None else format_value(value, spec.unit)
            written = "yes" if field.name == "unusual" else written
            if spec is not None and isinstance(value, MeasuredValue):
                share = format_value(value.share, "fraction", digits=2)
                written += f" \u00b1{share} ({value.words(spec.unit)})"
            plus_minus = "\u00b1" if field.name == "tolerance" else ""
            rows.append((field.name.replace("_", " "), plus_minus + written))
        for name, part in self.inner().items():
            rows += [(f"{name}: {what}", written) for what, written in part._rows()]
        return rows

    def __repr__(self) -> str:
        """The call that makes the part, without defaults."""
        given = [
            f"{field.name}={_shown(value, field.metadata.get('quantity'))!r}"
            for field in dataclasses.fields(self)  # type: ignore[arg-type]
            if (value := getattr(self, field.name)) != field.default
        ]
        return f"{type(self).__name__}({', '.join(given)})"

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def caption(self) -> str:
        """Describe the part with its settings, for captions."""
        return self.label()

    def assumptions(self, values: Values) -> tuple[str, ...]:
        """Assumptions about this part that a figure must state."""
        return ()

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the part's branches into a netlist."""
        raise NotImplementedError


def as_entered(value: Any, spec: Quantity | None) -> Any:
    """Give a value as one may enter it again: a share of which percent are asked, in percent."""
    if isinstance(value, MeasuredValue):
        return value.shown
    if spec is None or not spec.percent or value is None or value <= BARE_SHARE:
        return value
    return f"{(Decimal(repr(value)) * 100).normalize():f}%"


def _shown(value: Any, spec: Quantity | None) -> Any:
    """Give a value as the call that makes the part has it."""
    return value.measured if isinstance(value, MeasuredValue) else as_entered(value, spec)


def piece_tolerances(part: Part, path: str) -> list[str]:
    """Give the paths of the tolerances of the parts inside one, where ``path`` leads to its own."""
    whole = path.removesuffix("tolerance")
    return [
        f"{whole}{name}.tolerance"
        for name, piece in part.inner().items()
        if hasattr(piece, "tolerance")
    ]


def part_inside(part: Part, path: str) -> Part | None:
    """Find the part inside another at a path, as part lists print it; none at an empty path."""
    name, _, rest = path.partition(".")
    inner_part = part.inner().get(name)
    return part_inside(inner_part, rest) if inner_part is not None and rest else inner_part


def label_of(part: Part, *names: str) -> str:
    """Write some of a part's quantities with their units."""
    fields = {f.name: f for f in dataclasses.fields(part)}  # type: ignore[arg-type]
    shown = []
    for name in names:
        value = getattr(part, name)
        if value is not None:
            shown.append(format_value(value, fields[name].metadata["quantity"].unit))
    return ", ".join(shown)


def apply(function: Callable[[np.ndarray], np.ndarray], value: Any) -> Any:
    """Apply an elementwise function to a number or to a labelled, perhaps chunked, array."""
    if not isinstance(value, xr.Variable):
        return float(function(np.asarray(value, dtype=float)))
    if isinstance(value.data, np.ndarray):
        return xr.Variable(value.dims, function(value.data))
    return xr.apply_ufunc(function, value, dask="parallelized", output_dtypes=[float])


def root(value: Any) -> Any:
    """Square root of a number, labelled array or symbol."""
    if isinstance(value, (xr.Variable, float, int, complex)):
        return value**0.5
    import sympy  # loaded already where a value is a symbol

    # Of a rational the root is irrational: as near as a double is.
    return float(value) ** 0.5 if value.is_number else sympy.sqrt(value)


def inverse(value: Any) -> Any:
    """One over a number, labelled array or symbol; infinite where a number is zero."""
    if not isinstance(value, (xr.Variable, float, int)):
        return 1 / value
    return apply(
        lambda x: np.divide(1.0, x, out=np.full(np.shape(x), np.inf), where=np.asarray(x) != 0),
        value,
    )
