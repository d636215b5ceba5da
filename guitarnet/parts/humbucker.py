"""Pickups of two coils."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, get_args

from ..errors import BadSetting, BadValue, nearest
from ..gate import public
from ..units import read_value
from .base import (
    MaybeNumber,
    Number,
    Part,
    Position,
    Stamps,
    Values,
    check_position,
    label_of,
    quantity,
    root,
    valued,
)
from .pickup import Coil, measured_as

__all__ = ["CONNECTIONS", "Humbucker", "tapped"]

# Nodes of (hot, ground) of the first and of the second coil, for each connection. A split keeps the
# joint of both, so that the coil not in use hangs on it by one end, or by both.
_WIRED: dict[str, tuple[tuple[str, str], tuple[str, str]]] = {
    "series": (("hot", "link"), ("link", "ground")),
    "parallel": (("hot", "ground"), ("hot", "ground")),
    "coil 1": (("hot", "ground"), ("ground", "free")),
    "coil 2": (("free", "hot"), ("hot", "ground")),
    "coil 1, other shunted": (("hot", "ground"), ("ground", "ground")),
    "coil 2, other shunted": (("hot", "hot"), ("hot", "ground")),
    "leads": (("coil_1_finish", "coil_1_start"), ("coil_2_finish", "coil_2_start")),
}
# Bobbins wound alike are joined finish to finish: the hot end of the first is its start.
_ALIKE = ("coil_1_start", "coil_1_finish"), ("coil_2_finish", "coil_2_start")
Connection = Literal[
    "series",
    "parallel",
    "coil 1",
    "coil 2",
    "coil 1, other shunted",
    "coil 2, other shunted",
    "leads",
]
CONNECTIONS: tuple[Connection, ...] = get_args(Connection)
"""How the two coils of a `Humbucker` may be connected."""


@public
@valued
class Humbucker(Part):
    """A pickup of two coils, with lugs ``hot`` and ``ground``, or with four leads.

    Parameters
    ----------
    coil_1, coil_2 : Coil
        The coils. If neither winding nor magnet of the second is given, it is reverse wound over
        a reversed magnet, as in every humbucker. If no ``signal`` is given, the coils share 2 V
        in proportion to the roots of their inductances at construction.
    coupling : float or str
        Coupling factor k of the two inductances, -1 to 1. Positive for coils side by side, each
        of which returns some of the other's flux; negative for sections of one coil.
    connection : str
        "series", "parallel"; split: "coil 1" or "coil 2" with the other left open at one end, or
        "coil 1, other shunted", "coil 2, other shunted"; or "leads", whose lugs
        ``coil_1_finish``, ``coil_1_start``, ``coil_2_finish`` and ``coil_2_start`` are joined
        in the harness. Start and finish are those of the winding as wound.
    bobbins : {"alike", "opposite"}
        For "leads": whether both bobbins are wound in the same direction, as is usual, or in
        opposite ones. In series, alike ones are joined finish to finish, the others start of
        the first to finish of the second; the ready layouts do so.
    lead_names : mapping of str to str, optional
        For "leads": what you call a lead, or its colour, as ``{"coil_1_start": "black"}``. It
        stands beside the lead in the joint list, on the card, in drawings and in errors.
    source : str
        Where the values come from.
    position : {"", "neck", "middle", "bridge"}
        Position in a guitar, as in `Coil`.
    between_capacitance : float or str, optional
        Capacitance between the outer ends of the two coils, which are hot and ground in series [F].
    lead_capacitance : float or str, optional
        Capacitance of lead and metal from hot to ground, whatever the connection [F]; with "leads",
        across both coils as they lie in series.

    Raises
    ------
    BadValue
        If the connection or ``bobbins`` is unknown, a coil is not a `Coil`, a lead that is named
        does not exist or two have one name, or the coupling is out of range.

    Notes
    -----
    The magnets under the two coils are opposed. ``winding`` of a coil counts from its end towards
    ground to its end towards hot: of two bobbins wound alike, joined finish to finish, the second
    is -1.

    Mutual inductance M = -k w_1 w_2 sqrt(L_1 L_2), with w the windings' directions, between the
    parts of the inductances that eddy loss does not shunt. Series, reverse wound: L_1 + L_2 + 2 M.

    A split coil leaves the other on their joint. Their outer ends then carry opposite signals, and
    the capacitance between these draws current through the idle coil too.

    References
    ----------
    k of 0.06 to 0.25, in the median 0.11 from the coils alone and 0.13 with the curves of both in
    series, a bass pickup 0.2; 14 to 83 pF between the coils: fits to nine humbuckers and the bass
    in ``tests/reference/pickup_sets``. Series and parallel: H. Lemme, "Pickup-Geheimnisse:
    Beschaltung", gitarrenelektronik.de. Bobbins alike, magnets opposed, finishes joined: common
    practice, no source.

    Examples
    --------
    >>> coil = Coil("4k", "2 H", "150p")
    >>> Humbucker(coil, coil).label()
    'series: 4 kΩ, 2 H, 150 pF and 4 kΩ, 2 H, 150 pF, winding and magnet reversed, k 0.12'
    """

    coil_1: Coil
    coil_2: Coil
    coupling: Number = quantity("fraction", default=0.12, at_least=-0.999, at_most=0.999)
    connection: Connection = "series"
    source: str = ""
    position: Position = ""
    bobbins: Literal["alike", "opposite"] = "alike"
    lead_names: Mapping[str, str] | tuple[tuple[str, str], ...] | None = None
    between_capacitance: MaybeNumber = quantity(
        "F",
        default=None,
        above=0,
        at_most=1e-6,
        optional=True,
        hint="some ten picofarad are usual",
    )
    lead_capacitance: MaybeNumber = quantity(
        "F",
        default=None,
        above=0,
        at_most=1e-6,
        optional=True,
        hint="some ten to some hundred picofarad are usual",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        check_position(self)
        if not isinstance(self.bobbins, str) or self.bobbins not in ("alike", "opposite"):
            raise BadValue(
                "Humbucker.bobbins",
                f"{self.bobbins!r} is unknown",
                "use 'alike' for bobbins wound in the same direction, or 'opposite'",
                self.bobbins,
            )
        if self.lead_names is not None:
            object.__setattr__(self, "lead_names", _read_names(self.lead_names))
        for name, coil in self.inner().items():
            if not isinstance(coil, Coil):
                raise BadValue(f"Humbucker.{name}", f"{coil!r} is not a coil", "give gn.Coil(...)")
        if not isinstance(self.connection, str) or self.connection not in _WIRED:
            raise BadValue(
                "Humbucker.connection",
                f"{self.connection!r} is unknown",
                nearest(str(self.connection), _WIRED),
                self.connection,
            )
        two = self.coil_2
        if self.coupling >= 0 and two.winding is two.magnet is None:
            reversed_ = two.replace("winding", -1).replace("magnet", -1)
            object.__setattr__(self, "coil_2", reversed_)
        # Stated once and for all: another inductance by a setting leaves the volts as they are.
        roots = {name: coil.inductance**0.5 for name, coil in self._coils().items()}
        for name, coil in self._coils().items():
            if coil.signal is None:
                volts = 2 * roots[name] / sum(roots.values())
                object.__setattr__(self, name, coil.replace("signal", volts))

    @property
    def lugs(self) -> tuple[str, ...]:  # type: ignore[override]
        """Lugs for the connection."""
        wired = _WIRED["leads"]
        return (*wired[0], *wired[1]) if self.connection == "leads" else ("hot", "ground")

    def ends(self, name: str) -> tuple[str, str, str, str]:
        """Name the leads as they lie in series: hot, both at the link, ground."""
        (hot, upper), (lower, ground) = self._wired()
        return f"{name}.{hot}", f"{name}.{upper}", f"{name}.{lower}", f"{name}.{ground}"

    def lead_name(self, lug: str) -> str:
        """What a person calls a lead; empty where it has no name."""
        return dict(self.lead_names or ()).get(lug, "")

    def _wired(self) -> tuple[tuple[str, str], tuple[str, str]]:
        is_alike = self.connection == "leads" and self.bobbins == "alike"
        return _ALIKE if is_alike else _WIRED[self.connection]

    def inner(self) -> Mapping[str, Part]:
        """Parts inside this one, by name."""
        return self._coils()

    def _coils(self) -> dict[str, Coil]:
        return {"coil_1": self.coil_1, "coil_2": self.coil_2}

    def path(self, local: str, where: str) -> str:
        """Full path of a path that a user wrote."""
        if local in {*self.coil_1.settable(), *self.coil_1.categories()}:
            both = " and ".join(
                f"{where.removesuffix(local)}{name}.{local}" for name in self.inner()
            )
            each = ", to each half of what both in series read" if local == "resistance" else ""
            raise BadSetting(where, "each coil has its own", f"give {both}{each}", local)
        return super().path(local, where)

    def replace(self, local: str, value: Any) -> Humbucker:
        """Return a copy with the value at a path replaced."""
        name, _, rest = local.partition(".")
        if rest and name in self.inner():
            local, value = name, self.inner()[name].replace(rest, value)
        return super().replace(local, value)

    def label(self) -> str:
        """Describe the part in a few words."""
        one, two, how = self.coil_1, self.coil_2, str(self.connection)
        if self.connection == "leads" and self.bobbins == "alike":
            how += ", bobbins wound alike"
            if two.winding == -(one.winding or 1):  # so are the coils, which are joined otherwise
                two = two.replace("winding", one.winding)
        words = f"{how}: {one.label()} and {two.label()}, k {self.coupling:.3g}"
        if self.between_capacitance is not None:
            words += f", {label_of(self, 'between_capacitance')} between the coils"
        if self.lead_capacitance is not None:
            words += f", {label_of(self, 'lead_capacitance')} of the lead"
        return words

    def assumptions(self, values: Values) -> tuple[str, ...]:
        """Assumptions about this part that a figure must state."""
        sentences = (
            words
            for name, coil in self.inner().items()
            for words in coil.assumptions(values.inner(name, coil))
        )
        return (*measured_as(self.source), *dict.fromkeys(sentences))

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write both coils and their coupling into a netlist."""
        coils = [values.inner(name, coil) for name, coil in self._coils().items()]
        for (hot, ground), coil, coil_values in zip(
            self._wired(), self._coils().values(), coils, strict=True
        ):
            name = coil_values.path.rpartition(".")[2]
            coil.stamp(net.inner(name, hot=hot, ground=ground), coil_values)
        aiding = -(self.coil_1.winding or 1) * (self.coil_2.winding or 1)
        mutual = aiding * values.coupling * root(coils[0].inductance * coils[1].inductance)
        net.mutual("mutual", "coil_1.inductance", "coil_2.inductance", mutual)
        (upper, _), (_, lower) = self._wired()
        if values.lead_capacitance is not None:
            ends = (upper, lower) if self.connection == "leads" else ("hot", "ground")
            net.capacitor("lead_capacitance", *ends, values.lead_capacitance)
        if values.between_capacitance is not None:
            net.capacitor("between_capacitance", upper, lower, values.between_capacitance)


def _read_names(given: Any) -> tuple[tuple[str, str], ...]:
    """Read what the leads of a pickup are called, as pairs of lead and name."""
    known = [*_WIRED["leads"][0], *_WIRED["leads"][1]]
    where = "Humbucker.lead_names"
    pairs = isinstance(given, tuple) and all(
        isinstance(pair, tuple) and len(pair) == 2 for pair in given
    )
    if not (pairs or isinstance(given, Mapping)):
        fix = "write {'coil_1_start': 'black'}"
        raise BadValue(where, f"{given!r} is no mapping", fix, given)
    given = dict(given)
    for lead, name in given.items():
        if not isinstance(lead, str) or lead not in known:
            raise BadValue(where, f"there is no lead {lead!r}", nearest(str(lead), known), lead)
        if not isinstance(name, str) or not name.strip().isprintable() or not name.strip():
            raise BadValue(where, f"{name!r} names no lead", "give a word, as 'black'", name)
    names = {lead: given[lead].strip() for lead in known if lead in given}
    for lead, name in names.items():
        if list(names.values()).count(name) > 1:
            raise BadValue(where, f"{name!r} stands twice", f"name {lead} otherwise", name)
    return tuple(names.items())


@public
def tapped(pickup: Coil, share: float | str, *, coupling: float | str = 0.95) -> Humbucker:
    """Coil tap: take the signal off part of one coil's turns.

    This is not a coil split, which leaves out one coil of a humbucker.

    Parameters
    ----------
    pickup : Coil
        The whole coil.
    share : float or str
        Share of the turns between the tap and ``ground``, such as 0.6 or "60%".
    coupling : float or str
        Coupling factor of the two sections.

    Returns
    -------
    Humbucker
        The two sections, the first in use, the other left open at one end.

    Raises
    ------
    BadValue
        If the share is not between 0 and 1, or the coil has eddy loss or screening, which this
        model cannot divide.

    Notes
    -----
    Resistance and signal go with turns, inductance with turns squared; the sections together have
    the coil's own R, L and C: L_i = x_i^2 L / (x_1^2 + x_2^2 + 2 k x_1 x_2), C_i = C / x_i.

    References
    ----------
    The coupling of sections of one coil is common practice, no source.

    Examples
    --------
    >>> part = tapped(Coil("10k", "4 H", "100p"), "60%")
    >>> part.connection, part.coil_1.resistance
    ('coil 1', 6000.0)
    """
    x = read_value(share, "fraction", where="tapped.share")
    k = read_value(coupling, "fraction", where="tapped.coupling")
    if not 0 < x < 1:
        raise BadValue("tapped.share", f"{share!r} leaves no two sections", "give 0.6 or '60%'")
    if pickup.eddy_resistance is not None or pickup.screening_frequency is not None:
        raise BadValue("tapped", "the coil has eddy loss or screening", "give a lossless coil")
    whole = pickup.inductance / (x**2 + (1 - x) ** 2 + 2 * k * x * (1 - x))
    volts = 1.0 if pickup.signal is None else pickup.signal
    lower, upper = (
        Coil(
            pickup.resistance * part,
            whole * part**2,
            pickup.capacitance / part,
            winding=pickup.winding,
            magnet=pickup.magnet,
            signal=volts * part,
            turns=None if pickup.turns is None else pickup.turns * part,
            wire=pickup.wire,
        )
        for part in (x, 1 - x)
    )
    return Humbucker(
        lower,
        upper,
        coupling=-k,
        connection="coil 1",
        source=pickup.source,
        position=pickup.position,
    )
