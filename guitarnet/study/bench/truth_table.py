"""What each switch place selects: coils, how they are joined, controls that work."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting, TooLarge, has_items
from ...frozen import Frozen
from ...gate import public
from ...parts.base import Part
from ...parts.humbucker import Humbucker
from ...parts.switch import Switch
from ...parts.two_lug import Capacitor
from ...solve import ac
from ...table import Table
from ...units import fixed, plain_words
from ..formulas.symbols import one_setting
from ..response.labels import value_in_words
from ..response.sweep import check_guitar
from .continuity import audible_coils, coils_of, connection_label, senses

__all__ = ["Selection", "crossed_coils", "selections", "truth_table"]

_MOST = 4096  # rows
_HERTZ = np.array([100.0, 1000.0, 5000.0])
_MARKS = (0.0, 2.5, 5.0, 7.5, 10.0)
_CHANGE = 1e-7  # of the largest: far above rounding, far below any part's effect
_NOTE = (
    "Coils and joins follow from the contacts. Knobs that are not set are at 10, a blend is at its "
    "centre. + and \u2212: sign of the string's signal. Weights: volts at the amp input at 0 Hz "
    "from the voltage in that coil alone, with loads; a series capacitor blocks 0 Hz. A control "
    "is listed if turning it alone changes the response to any coil at 100 Hz, 1 kHz or 5 kHz, a "
    "capacitor if doubling it does."
)


@public
@dataclass(frozen=True)
class Selection:
    """What one setting of the switches selects. Made by `selections`.

    Parameters
    ----------
    setting : mapping of str to object
        Places of the switches, and other settings that were given as lists.
    coils : mapping of str to int
        Audible coils by path ("neck", "bridge.coil_1"), with the sign of the string's signal,
        1 or -1.
    how : str
        "alone", "in series", "in parallel", "silent", a formula ("+" in series, "∥" in
        parallel), or "meshed" if series and parallel do not describe the circuit.
    weights : mapping of str to float
        Volts at the amp input at 0 Hz from the voltage in that coil alone, by path.
    controls : tuple of str
        Knobs that change the response to some coil when turned alone.
    capacitors : tuple of str
        Capacitors that change the response when their value is doubled.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> (row,) = selections(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")))
    >>> isinstance(row, Selection), row.how
    (True, 'alone')
    """

    setting: Mapping[str, Any]
    coils: Mapping[str, int]
    how: str
    weights: Mapping[str, float]
    controls: tuple[str, ...]
    capacitors: tuple[str, ...]


@public
def truth_table(guitar: Harness, settings: Settings = None, **keywords: Any) -> Table:
    """Tabulate what every combination of switch places selects.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    settings, **keywords
        As in `guitarnet.response`. A switch that is set keeps that place; a list gives a row for
        each value.

    Returns
    -------
    Table
        One column for each switch and each setting that is a list; the audible coils with their
        sign, how they are joined, their weights, the controls that work, and the capacitors in
        circuit if these differ between rows. A guitar without a switch has one row. Where the
        coils of one humbucker double their hum or cancel the string, a sentence below says so.

    Raises
    ------
    BadSetting, BadValue
        If a setting is unknown, empty or out of range.
    BadHarness
        If the harness is not whole.
    TooLarge
        If there are over 4096 combinations.

    Notes
    -----
    Coils, signs and joins follow from joints, contacts and knobs; weights and controls follow
    from the response. Nothing of this is stored with the guitar.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> for row in truth_table(layouts.two_single_coils(coil, coil)):
    ...     print(row)
    ('neck', 'neck +', 'alone', '0.97', 'volume, tone')
    ('neck+bridge', 'neck +, bridge +', 'in parallel', '0.49, 0.49', 'volume, tone')
    ('bridge', 'bridge +', 'alone', '0.97', 'volume, tone')
    """
    settings = one_mapping(settings, keywords)
    selected = selections(guitar, settings)
    columns = [*selected[0].setting, "coils", "how", "weights", "controls"]
    rows = [
        [
            *(_label(value) for value in row.setting.values()),
            ", ".join(f"{plain_words(path)} {_SIGN[sense]}" for path, sense in row.coils.items()),
            row.how,
            ", ".join(fixed(abs(row.weights[path]), 2) for path in row.coils),
            ", ".join(row.controls) or "none",
        ]
        for row in selected
    ]
    if len({row.capacitors for row in selected}) > 1:
        columns.append("capacitors")
        for cells, row in zip(rows, selected, strict=True):
            cells.append(", ".join(row.capacitors) or "none")
    note = "\n".join([*crossed_coils(guitar, selected), _NOTE])
    return Table(columns, rows, f"What {guitar.name} selects", note)


def crossed_coils(guitar: Harness, selected: Iterable[Selection] | None = None) -> list[str]:
    """Say of each humbucker whether its coils cancel the string or double their hum.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    selected : iterable of Selection, optional
        What its switches select; found out unless given, in a guitar that has a humbucker.
    """
    pickups = {n: part for n, part in guitar.parts.items() if isinstance(part, Humbucker)}
    if not pickups:
        return []
    found: dict[tuple[str, str], list[str]] = {}
    audible = dict.fromkeys(pickups, 0)
    for row in selections(guitar) if selected is None else selected:
        for name, part in pickups.items():
            paths = [f"{name}.coil_1", f"{name}.coil_2"]
            if not row.coils.keys() >= set(paths):
                continue
            audible[name] += 1
            string = math.prod(row.coils[path] for path in paths)
            hum = string * (part.coil_1.magnet or 1) * (part.coil_2.magnet or 1)
            effects = ["cancel the string's signal"] * (string < 0) + ["double their hum"] * (
                hum > 0
            )
            if effects:
                place = ", ".join(
                    f"{plain_words(switch)} {_label(value)}"
                    for switch, value in row.setting.items()
                )
                found.setdefault((name, " and ".join(effects)), []).append(place)
    sentences = []
    for (name, does), places in found.items():
        part = pickups[name]
        fix = "swap the two leads of one coil"
        if part.connection == "leads":
            other = "opposite" if part.bobbins == "alike" else "alike"
            fix += f", or say bobbins = '{other}' if the bobbins are wound so"
        where = f" with {'; '.join(places)}" if len(places) < audible[name] else ""
        sentences.append(f"Beware: the coils of the {plain_words(name)} {does}{where}; {fix}.")
    return sentences


@public
def selections(
    guitar: Harness, settings: Settings = None, **keywords: Any
) -> tuple[Selection, ...]:
    """Find what every combination of switch places selects, for a program to read.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    settings, **keywords
        As in `guitarnet.truth_table`.

    Returns
    -------
    tuple of Selection
        One for each combination; the last switch changes fastest.

    Raises
    ------
    BadSetting, BadValue
        If a setting is unknown, empty or out of range.
    BadHarness
        If the harness is not whole.
    TooLarge
        If there are over 4096 combinations.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> guitar = layouts.two_single_coils(coil, coil)
    >>> [dict(row.coils) for row in selections(guitar)]
    [{'neck': 1}, {'neck': 1, 'bridge': 1}, {'bridge': 1}]
    """
    settings = one_mapping(settings, keywords)
    check_guitar(guitar)
    guitar.check()
    choices = _choices(guitar, settings)
    count = math.prod(len(options) for options in choices.values())
    if count > _MOST:
        raise TooLarge(
            "truth table",
            f"has {count} rows, more than {_MOST}",
            f"set some of {', '.join(choices)}",
            count,
        )
    fixed = {name: given for name, given in settings.items() if name not in choices}
    return tuple(
        _selection(guitar, dict(zip(choices, chosen, strict=True)), fixed)
        for chosen in itertools.product(*choices.values())
    )


_SIGN = {1: "+", -1: "\u2212"}


def _choices(guitar: Harness, settings: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Options that make the rows: each switch, then each setting that is a list."""
    choices: dict[str, list[Any]] = {}
    for name, part in guitar.parts.items():
        if isinstance(part, Switch):
            given = settings.get(name, settings.get(f"{name}.place", list(part.places)))
            choices[name] = list(given) if isinstance(given, (list, tuple)) else [given]
    for name, given in settings.items():
        if (
            isinstance(given, (list, np.ndarray))
            and has_items(given)
            and name.removesuffix(".place") not in choices
        ):
            choices[name] = list(given)
    for name, options in choices.items():
        if not options:
            raise BadSetting(name, "is an empty list", "give at least one value")
    return choices


def _selection(guitar: Harness, setting: Mapping[str, Any], fixed: Mapping[str, Any]) -> Selection:
    plain = {n: given for n, given in fixed.items() if n.removesuffix(".place") not in setting}
    made, values = one_setting(guitar, {**plain, **setting}, "a row of a truth table")
    weights = _weights(made, values)
    tree, is_plain = audible_coils(made, values)
    if is_plain:
        coils = senses(tree)
    else:
        least = _CHANGE * max(map(abs, weights.values()))
        coils = {path: 1 if v > 0 else -1 for path, v in weights.items() if abs(v) > least}
    ordered = {path: coils[path] for path in weights if path in coils}
    working = _working(made, values)
    return Selection(
        Frozen(dict(setting)),
        Frozen(ordered),
        connection_label(tree) if is_plain else "meshed",
        Frozen({path: weights[path] for path in ordered}),
        tuple(name for name in working if "mark" in made.parts[name].controls),
        tuple(name for name in working if isinstance(made.parts[name], Capacitor)),
    )


def _weights(guitar: Harness, values: Mapping[str, float]) -> dict[str, float]:
    """Volts at the output at 0 Hz from each coil alone."""
    net, node = guitar.stamp(values), guitar.node(guitar.output_lug())
    weights = {}
    for path in coils_of(net):
        amplitude = {f"{path}.induced": net.branches[f"{path}.induced"].value}
        volts = ac.node_voltage(net, node, np.zeros(1), amplitudes=amplitude)
        weights[path] = float(volts.values[0].real)
    return weights


def _working(guitar: Harness, values: Mapping[str, float]) -> tuple[str, ...]:
    """Knobs and capacitors that change the response when changed one at a time."""
    changes = _changes(guitar, values)
    if not changes:
        return ()
    # First the row as set, then one row for each change of each part.
    rows = {path: [at] for path, at, _ in changes.values()}
    whose: list[str] = []
    for name, (path, _, others) in changes.items():
        whose += [name] * len(others)
        for other, row in rows.items():
            row += others if other == path else [row[0]] * len(others)
    given = {path: xr.Variable(("change",), np.array(row)) for path, row in rows.items()}
    net = guitar.stamp({**values, **given})
    # Unequal sources, so that no coils cancel.
    parts = {
        name: net.branches[name].value * (1 + 0.1 * 2**0.5 * number)
        for number, name in enumerate(net.sources())
    }
    node = guitar.node(guitar.output_lug())
    volts = ac.node_voltage(net, node, _HERTZ, amplitudes=parts, dims=("change",)).values
    effects = np.abs(volts[1:] - volts[0]).max(axis=1)
    changing = {
        who
        for who, much in zip(whose, effects > _CHANGE * np.abs(volts).max(), strict=True)
        if much
    }
    return tuple(name for name in changes if name in changing)


def _changes(
    guitar: Harness, values: Mapping[str, float]
) -> dict[str, tuple[str, float, list[float]]]:
    """Path, value and changed values of each knob and capacitor."""
    changes: dict[str, tuple[str, float, list[float]]] = {}
    for name, part in guitar.parts.items():
        if isinstance(part, Capacitor):
            path = f"{name}.capacitance"
            at = values.get(path, part.capacitance)
            changes[name] = path, at, [2 * at]
        elif f"{name}.track" in values:
            path = f"{name}.track"
            changes[name] = path, values[path], [mark / 10 for mark in _MARKS]
        elif "mark" in part.controls:
            path = f"{name}.mark"
            at = values.get(path, part.controls["mark"].default or 0.0)
            changes[name] = path, at, list(_MARKS)
    return changes


def _label(value: Any) -> str:
    if value is None or isinstance(value, Part):
        return "none" if value is None else value.label()
    return value_in_words(value)
