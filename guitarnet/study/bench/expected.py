"""Readings that an ohmmeter must show at the jack of a healthy guitar, with their range."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import CAUTIONS, Harness
from ...circuit.settings import target
from ...errors import has_items
from ...gate import public
from ...identity import ByValue
from ...parts.output import AmpInput
from ...parts.switch import Switch
from ...table import Table, Tabled
from ...units import Quantity, format_value, plain_words, write_celsius
from ..response.sweep import check_guitar
from ..spread.tolerance import limits, spread, tolerances_of as usual
from .meter import coil_celsius, jack_resistance
from .ohmmeter import Ohmmeter, displayed
from .readings import read_knob

__all__ = ["ExpectedReadings", "expected_readings", "resistance_tolerances", "widened"]

_COUNT = Quantity("number", at_least=100, at_most=1e7, hint="95 % of a few draws means little")
_WITHIN = Quantity("fraction", at_least=0.5, at_most=0.98)
_PROBE = (0.0, 2.5, 5.0, 7.5, 10.0)  # marks to test whether a control acts
_SAME = 1e-7  # relative difference of readings that is rounding


@public
@dataclass(frozen=True, eq=False, repr=False)
class ExpectedReadings(Tabled, ByValue):
    """Readings that an ohmmeter must show at the jack. Made by `guitarnet.expected_readings`.

    Parameters
    ----------
    guitar : str
        Name of the guitar.
    data : xarray.Dataset
        ``nominal``, ``low``, ``high``, ``sampled_low`` and ``sampled_high`` [ohm], infinite for
        "OL", with a dimension for each switch and ``knobs``; and ``counts``, whether turning one
        ``control`` changes the reading.
    silent_switches : tuple of str
        Switches that change no reading.
    conditions : str
        Conditions of all readings, in sentences.

    Examples
    --------
    See `guitarnet.expected_readings`.
    """

    guitar: str
    data: xr.Dataset
    silent_switches: tuple[str, ...]
    conditions: str

    @property
    def silent_controls(self) -> tuple[str, ...]:
        """Controls that change no reading, such as a tone pot with a good capacitor."""
        counts = self.data.counts
        elsewhere = [dim for dim in counts.dims if dim != "control"]
        anywhere = counts.any(elsewhere)
        return tuple(str(name) for name in anywhere.control.values[~anywhere.values])

    def table(self) -> Table:
        """Return the readings as a table, with its conditions and the usual cautions."""
        fixed = dict.fromkeys(self.silent_switches, 0)
        shown = ~self.data.moved.isin(self.silent_controls)
        data = self.data.isel(fixed).isel(knobs=shown.values)
        dims = [str(dim) for dim in data.nominal.dims]
        within = format_value(data.attrs["within"], "fraction")
        columns = (
            *(plain_words(dim) for dim in dims),
            *("shows", "lowest", "highest", f"{within} from", f"{within} to", "what counts"),
        )
        rows = []
        for index in np.ndindex(*(data.sizes[dim] for dim in dims)):
            reading = data.isel(dict(zip(dims, index, strict=True)))
            ohms = ("nominal", "low", "high", "sampled_low", "sampled_high")
            counting = reading.control.values[reading.counts.values]
            rows.append(
                (
                    *(str(reading[dim].values) for dim in dims),
                    *(displayed(float(reading[name])) for name in ohms),
                    ", ".join(plain_words(str(name)) for name in counting) or "no control",
                )
            )
        title = f"What an ohmmeter shows at the jack: {self.guitar}"
        return Table(columns, rows, title, f"{self._note()} {CAUTIONS}")

    def _records(self) -> list[dict[str, Any]]:
        ohms = ["nominal", "low", "high", "sampled_low", "sampled_high"]
        frame = self.data[ohms].to_dataframe().reset_index()
        records: list[dict[str, Any]] = frame.to_dict("records")
        return records

    def _note(self) -> str:
        sentences = [self.conditions]
        silent = [plain_words(name) for name in self.silent_controls]
        if silent:
            sentences.append(f"No reading depends on {', '.join(silent)}.")
        if self.silent_switches:
            named = ", ".join(plain_words(name) for name in self.silent_switches)
            sentences.append(f"No reading depends on the place of {named}.")
        return " ".join(sentences)


@public
def expected_readings(
    guitar: Harness,
    *,
    marks: Any = None,
    coil_temperature: float | str = 20.0,
    meter: Ohmmeter | None = None,
    count: int = 1000,
    seed: int = 0,
    within: float | str = 0.95,
    tolerances: Mapping[str, Any] | None = None,
) -> ExpectedReadings:
    """Compute what an ohmmeter must show at the jack at every switch place, with its range.

    Unplug the guitar from the amplifier before measuring. Plug the cable into the guitar only,
    and connect the meter to tip and sleeve.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    marks : number, list or mapping, optional
        Knob marks for extra readings, for every knob in turn, or by knob, as
        ``{"volume": [7, 5, 0]}``. The other knobs stay as they are, most of them at 10.
    coil_temperature : float or str
        Temperature of the coils [°C].
    meter : Ohmmeter, optional
        The meter. Its leads add resistance, it shows "OL" above its largest reading, and its
        limits of error widen the ranges. None is a perfect meter.
    count : int
        How many guitars to draw for the sampled range, at least 100.
    seed : int
        Seed of the draws.
    within : float or str
        Share of the draws inside the sampled range; half of the others are above, half below.
    tolerances : mapping of str to float or str, optional
        As in `guitarnet.tolerances.spread`.

    Returns
    -------
    ExpectedReadings
        The readings; prints as a table.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        If a knob, mark, tolerance or count is not right, or as in `guitarnet.response`.

    Notes
    -----
    ``low`` has all parts at their lower limits and ``high`` at their upper limits: exact for
    resistances, see `guitarnet.tolerances.limits`. The sampled range is the probabilistically
    symmetric interval of order statistics.

    References
    ----------
    Sampled range: JCGM 101:2008 (Monte Carlo supplement to the GUM), 7.7.2. Method of reading:
    common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> found = expected_readings(guitar, marks={"volume": 5})
    >>> found.data.nominal.sel(knobs="volume 5").round().item()
    32011.0
    >>> found.silent_controls
    ('tone',)
    """
    check_guitar(guitar)
    drawn_count, share = _COUNT.read(count, "count"), _WITHIN.read(within, "within")
    assert drawn_count is not None
    assert share is not None
    switches = {
        name: list(part.places) for name, part in guitar.parts.items() if isinstance(part, Switch)
    }
    settings: dict[str, Any] = {**switches, **_knobs(guitar, marks)}
    degrees = coil_celsius(coil_temperature)
    how: dict[str, Any] = {"coil_temperature": degrees, "meter": meter}
    values: dict[str, Any] = _cases(guitar, count, seed, tolerances)
    # Nominal, all low, all high and every draw are cases of one sweep.
    ohms = jack_resistance(guitar, {**settings, **values}, **how).drop_vars(values)
    if "knobs" not in ohms.dims:
        ohms = ohms.expand_dims(knobs=["no knob"], axis=-1).assign_coords(moved=("knobs", [""]))
    if "sample" not in ohms.dims:  # nothing varies
        ohms = ohms.expand_dims(sample=int(drawn_count) + 3, axis=-1)
    nominal, low, high = (ohms.isel(sample=case, drop=True) for case in range(3))
    data = xr.Dataset({"nominal": nominal})
    data["low"], data["high"] = widened(low, high, meter)
    draws = _misread(ohms.isel(sample=slice(3, None)), meter, seed)
    data["sampled_low"], data["sampled_high"] = _interval(draws, share)
    data["counts"] = _counts(guitar, settings, nominal, how)
    data.attrs = {"units": "ohm", "within": share, "count": int(drawn_count), "seed": seed}
    silent = tuple(name for name in switches if _same_readings(ohms, ohms.isel({name: 0})).all())
    conditions = _conditions(degrees, meter, share, int(drawn_count))
    if any(0 < mark < 10 for _, mark in _moves(guitar, marks)):
        conditions += (
            " Between the ends of a knob, its taper and its setting are taken as exact, so the "
            "true range is wider."
        )
    return ExpectedReadings(guitar.name, data, silent, conditions)


def _knob_defaults(guitar: Harness) -> dict[str, float]:
    """Mark of every knob."""
    return {
        name: float(part.controls["mark"].default or 0)
        for name, part in guitar.parts.items()
        if "mark" in part.controls
    }


def _knobs(guitar: Harness, marks: Any) -> dict[str, xr.DataArray]:
    """Marks of all knobs along ``knobs``: first as set, then with one knob moved at a time."""
    stand = _knob_defaults(guitar)
    moves = list(_moves(guitar, marks))
    columns = {name: [mark] * (1 + len(moves)) for name, mark in stand.items()}
    odd = [f"{name} {mark:g}" for name, mark in stand.items() if mark != 10]
    labels, moved = [", ".join(["all at 10", *odd])], [""]
    for row, (name, mark) in enumerate(moves, 1):
        columns[name][row] = mark
        labels.append(f"{name.replace('_', ' ')} {mark:g}")
        moved.append(name)
    return {
        name: xr.DataArray(column, {"knobs": labels, "moved": ("knobs", moved)}, ("knobs",))
        for name, column in columns.items()
    }


def _moves(guitar: Harness, marks: Any) -> Iterator[tuple[str, float]]:
    stand = _knob_defaults(guitar)
    if marks is None:
        return
    asked = marks if isinstance(marks, Mapping) else dict.fromkeys(stand, marks)
    for name, given in asked.items():
        knob = read_knob(guitar, name, "marks")
        spec = guitar.parts[knob].controls["mark"].spec
        for one in given if has_items(given) and not isinstance(given, str) else [given]:
            mark = spec.read(one, knob)
            assert mark is not None
            if mark != stand[knob]:
                yield knob, mark


def _cases(
    guitar: Harness, count: int, seed: int, tolerances: Mapping[str, Any] | None
) -> dict[str, xr.DataArray]:
    """Values along ``sample``: nominal, all low, all high, then the draws."""
    resistances = resistance_tolerances(guitar, tolerances)
    ends = limits(guitar, tolerances=resistances)
    draws = spread(guitar, count, seed=seed, tolerances=resistances)
    return {
        path: xr.DataArray(
            np.concatenate([[ends[path].values.mean()], ends[path].values, draws[path].values]),
            dims="sample",
        )
        for path in draws
    }


def resistance_tolerances(
    guitar: Harness, tolerances: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Return the tolerances that change a reading: those of resistances, except the amp's.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    tolerances : mapping of str to float or str, optional
        As in `guitarnet.tolerances.spread`.

    Returns
    -------
    dict of str to float or str
        Tolerance of each resistance by path.
    """
    amp = guitar.only(AmpInput, needed=False)
    shares = usual(guitar) if tolerances is None else tolerances
    return {
        path: share
        for path, share in shares.items()
        if target(guitar, path)[1].unit == "ohm" and path.partition(".")[0] != amp
    }


def widened(
    low: xr.DataArray, high: xr.DataArray, meter: Ohmmeter | None
) -> tuple[xr.DataArray, xr.DataArray]:
    """Widen a range by the meter's limits of error; an open reading stays open.

    Parameters
    ----------
    low, high : xarray.DataArray
        Ends of the range [ohm].
    meter : Ohmmeter or None
        The meter; None is a perfect one.

    Returns
    -------
    tuple of xarray.DataArray
        Ends of the wider range.
    """
    if meter is None:
        return low, high
    below = low.where(np.isinf(low), (low - meter.limit(low.where(~np.isinf(low), 0))).clip(0))
    return below, high + meter.limit(high)


def _misread(ohms: xr.DataArray, meter: Ohmmeter | None, seed: int) -> xr.DataArray:
    """Add an error of the meter to each draw, equally probable within its limits."""
    if meter is None:
        return ohms
    stream = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=tuple(b"meter")))
    off = stream.uniform(-1, 1, ohms.sizes["sample"])
    finite = ohms.where(~np.isinf(ohms), 0)
    read = (finite + meter.limit(finite) * xr.DataArray(off, dims="sample")).clip(0)
    return read.where(~np.isinf(ohms), np.inf)


def _interval(draws: xr.DataArray, share: float) -> tuple[xr.DataArray, xr.DataArray]:
    """Probabilistically symmetric interval of order statistics."""
    count = draws.sizes["sample"]
    inside = int(share * count + 0.5)
    first = (count - inside + 1) // 2 - 1
    axis = draws.dims.index("sample")
    ordered = draws.copy(data=np.sort(draws.values, axis=axis))
    ends = (ordered.isel(sample=rank, drop=True) for rank in (max(first, 0), first + inside))
    return next(ends), next(ends)


def _counts(
    guitar: Harness, settings: Mapping[str, Any], nominal: xr.DataArray, how: Mapping[str, Any]
) -> xr.DataArray:
    """Whether turning one control changes the reading."""
    stand = _knob_defaults(guitar)
    names = list(stand)
    places: dict[str, Any] = {n: given for n, given in settings.items() if n not in stand}
    as_set = nominal.isel(knobs=0, drop=True)
    if not names:
        return xr.zeros_like(as_set, dtype=bool).expand_dims(
            control=np.array([], dtype=str), axis=-1
        )
    turned: dict[str, Any] = {
        name: xr.DataArray(
            [
                list(_PROBE) if name == turned_knob else [stand[name]] * len(_PROBE)
                for turned_knob in names
            ],
            {"control": names},
            ("control", "probe"),
        )
        for name in names
    }
    ohms = jack_resistance(guitar, {**places, **turned}, **how).drop_vars(names)
    return ~_same_readings(ohms, as_set).all("probe")


def _same_readings(one: xr.DataArray, other: xr.DataArray) -> xr.DataArray:
    """Whether readings agree apart from rounding; open agrees with open."""
    with np.errstate(invalid="ignore"):  # open minus open
        near: xr.DataArray = abs(one - other) < _SAME * abs(other)
    return near | (one == other)


def _conditions(degrees: float, meter: Ohmmeter | None, share: float, count: int) -> str:
    read = "a perfect meter" if meter is None else f"a meter of {meter.label()}"
    whole = "all parts at their limits" if meter is None else "all parts and the meter at limits"
    return (
        "Cable plugged in, amp unplugged, tip to sleeve; "
        f"coils at {write_celsius(degrees)}; {read}. "
        f"Lowest and highest: {whole}; {format_value(share, 'fraction')} of {count} guitars "
        "drawn at random are between the other two."
    )
