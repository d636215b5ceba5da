"""A guitar in symbols: transfer function, poles, zeros, low-frequency limit.

sympy is loaded by the first call.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping, resolve, target, variants
from ...errors import BadSetting, has_items
from ...gate import public
from ...parts.base import Part
from ...parts.pot import Pot
from ..response.response import node_at

if TYPE_CHECKING:
    import sympy

    from ...solve.symbolic import Ratio

__all__ = [
    "dc_gain",
    "one_setting",
    "poles",
    "symbol_of",
    "symbols_of",
    "transfer_function",
    "zeros",
]

_FULL = Pot.controls["mark"].default or 0.0


@public(keep=None)
def transfer_function(
    guitar: Harness,
    settings: Settings = None,
    *,
    keep: str | Iterable[str] = (),
    at: str = "amp",
    **keywords: Any,
) -> sympy.Expr:
    """Exact transfer function of a guitar from the induced voltage, as a sympy expression in s.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    keep : str or iterable of str
        Values to keep as letters: paths ("pickup.inductance", "treble_bleed.capacitance"), parts
        for their main value ("tone_capacitor"), pots for the fraction of the track below the
        wiper ("volume" is t, 0 to 1; the taper is not in the formula). "all" keeps every value
        that is not zero and not a setting. Every other value becomes an exact fraction.
    at : str
        Where to listen, as in `guitarnet.response`.
    settings, **keywords
        As in `guitarnet.response`, but one value each. Knobs that are neither set nor kept are
        at 10.

    Returns
    -------
    sympy.Expr
        H(s), a ratio of polynomials in ``sympy.Symbol("s")`` [V/V], with 1 V in every coil;
        exactly 0 if nothing reaches the output. `symbol_of` gives the letters; all are positive.

    Raises
    ------
    BadSetting
        If a setting is a list, or a path to keep has no value or is also a setting.
    BadValue, BadHarness
        As in `guitarnet.response`.
    NotExpressible
        If a part in the signal path is not a rational function of s.

    Notes
    -----
    A letter is never zero or infinite; the ends of a pot's travel are limits of the formula.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6k", "2 H", "120p"), tone=None, cable=0)
    >>> transfer_function(guitar, keep=["pickup.inductance", "pickup.capacitance"])
    200000/(200000*C_pickup*L_pickup*s**2 + s*(1200000000*C_pickup + L_pickup) + 206000)
    """
    settings = one_mapping(settings, keywords)
    return _ratio(guitar, keep, at, settings).expression()


@public(keep=None)
def dc_gain(
    guitar: Harness,
    settings: Settings = None,
    *,
    keep: str | Iterable[str] = (),
    at: str = "amp",
    **keywords: Any,
) -> sympy.Expr:
    """Exact limit of the transfer function towards 0 Hz.

    Parameters
    ----------
    guitar, keep, at, settings, **keywords
        As in `transfer_function`.

    Returns
    -------
    sympy.Expr
        Volts at the output for 1 V induced [V/V]: a fraction, or an expression in the letters.

    Raises
    ------
    BadSetting, BadValue, BadHarness, NotExpressible
        As in `transfer_function`.

    Notes
    -----
    With a series capacitor the limit is that of the capacitive divider at low frequencies, while
    `guitarnet.response` at 0 Hz is 0.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> dc_gain(layouts.one_pickup(Pickup("6k", "2.4 H", "120p"), volume="250k", amp="1M"))
    100/103
    """
    settings = one_mapping(settings, keywords)
    return _ratio(guitar, keep, at, settings).low_frequency_limit()


@public(guitar=None)
def poles(
    guitar: Harness | sympy.Expr, settings: Settings = None, *, at: str = "amp", **keywords: Any
) -> np.ndarray:
    """Poles of the transfer function, as complex frequencies in Hz.

    Parameters
    ----------
    guitar, at, settings, **keywords
        As in `transfer_function`; or only an expression from it, without letters except s.

    Returns
    -------
    numpy.ndarray
        s / (2 pi) [Hz], complex, smallest magnitude first. The magnitude of a conjugate pair is
        its natural frequency, and -magnitude / (2 real part) its Q.

    Raises
    ------
    BadSetting, BadValue, BadHarness, NotExpressible
        As in `transfer_function`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6k", "2.4 H", "120p"), tone=None)
    >>> abs(poles(guitar)).round(1).tolist()
    [5087.5, 5087.5]
    """
    settings = one_mapping(settings, keywords)
    return _roots(guitar, at, settings, "denominator")


@public(guitar=None)
def zeros(
    guitar: Harness | sympy.Expr, settings: Settings = None, *, at: str = "amp", **keywords: Any
) -> np.ndarray:
    """Zeros of the transfer function, as complex frequencies in Hz.

    Parameters
    ----------
    guitar, at, settings, **keywords
        As in `transfer_function`; or only an expression from it, without letters except s.

    Returns
    -------
    numpy.ndarray
        s / (2 pi) [Hz], complex, smallest magnitude first; empty if the guitar is silent.

    Raises
    ------
    BadSetting, BadValue, BadHarness, NotExpressible
        As in `transfer_function`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6k", "2.4 H", "120p"), tone="500k")
    >>> abs(zeros(guitar)).round(3).tolist()
    [14.469]
    """
    settings = one_mapping(settings, keywords)
    return _roots(guitar, at, settings, "numerator")


@public
def symbol_of(guitar: Harness, path: str) -> sympy.Symbol:
    """Letter of a value in `transfer_function`.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    path : str
        A path or part, as in ``keep`` of `transfer_function`.

    Returns
    -------
    sympy.Symbol
        A positive symbol. Its name is generated and may change; the path does not.

    Raises
    ------
    BadSetting
        If there is no such value, or it cannot be a letter.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6k", "2.4 H", "120p"))
    >>> symbol_of(guitar, "pickup.inductance"), symbol_of(guitar, "volume")
    (L_pickup, t_volume)
    """
    return symbols_of(guitar)[_kept_path(guitar, path)]


@public
def symbols_of(guitar: Harness) -> dict[str, sympy.Symbol]:
    """Every value of a guitar that can be a letter.

    Parameters
    ----------
    guitar : Harness
        The guitar.

    Returns
    -------
    dict of str to sympy.Symbol
        Letters by full path; each is positive.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> symbols_of(layouts.one_pickup(Pickup("6k", "2.4 H", "120p")))["amp.resistance"]
    R_amp
    """
    from ...solve import symbolic

    units, short = {}, {}
    for name, part in guitar.parts.items():
        aliases = {path: alias for alias, path in part.aliases().items()}
        for local, spec in part.settable().items():
            if spec.unit != "mark" and not _is_loss(local):
                path = f"{name}.{local}"
                short[path] = f"{name}.{aliases.get(local, local)}"
                units[short[path]] = spec.unit
    named = symbolic.letters(units)
    return {path: named[alias] for path, alias in short.items()}


def one_setting(
    guitar: Harness, settings: Mapping[str, Any], form: str
) -> tuple[Harness, dict[str, float]]:
    """Read settings that must be one value each.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    settings : mapping
        Settings as a person writes them.
    form : str
        Name of the result, for the error text.

    Returns
    -------
    guitar : Harness
        The guitar with its categories set.
    values : dict of str to float
        Numbers by full path.

    Raises
    ------
    BadSetting
        If a setting is a list.
    """
    labels, harnesses, rest = variants(guitar, settings)
    swept = list(labels)
    if not swept:
        _, guitar = next(harnesses)
        resolved = resolve(guitar, rest)
        swept = [
            name
            for name, given in rest.items()
            if getattr(resolved.values[target(guitar, name)[0]], "dims", ())
        ]
        values = {
            path: float(value.values if isinstance(value, xr.Variable) else value)
            for path, value in resolved.values.items()
            if not swept
        }
    if swept:
        raise BadSetting(
            swept[0],
            f"is a list, and {form} is of one setting",
            "give one value, or loop over them",
        )
    return guitar, values


def _roots(
    guitar: Harness | sympy.Expr, at: str, settings: Mapping[str, Any], part: str
) -> np.ndarray:
    """Roots of the numerator or denominator of a guitar's, or a given, transfer function."""
    from ...solve import symbolic

    if isinstance(guitar, Harness):
        ratio = _ratio(guitar, (), at, settings)
    else:
        if settings or at != "amp":
            name = next(iter(settings), "at")
            raise BadSetting(name, "is no setting of a formula", "give it to transfer_function()")
        ratio = symbolic.read(guitar)
    return symbolic.roots(getattr(ratio, part))


def _ratio(
    guitar: Harness, keep: str | Iterable[str], at: str, settings: Mapping[str, Any]
) -> Ratio:
    from ...solve import symbolic

    guitar, given = one_setting(guitar, settings, "a formula")
    values = _exact_values(guitar, given)
    symbols = symbols_of(guitar)
    for path in _kept(guitar, keep, values, given):
        values[path] = symbols[path]
    for name, part in guitar.parts.items():
        if isinstance(part, Pot):
            total = values[f"{name}.resistance"]
            ends = [_exact_end(end, total) for end in part.end_resistance]
            values[f"{name}.end_resistance"] = ends
            if part.taper.opens_at_full and values[f"{name}.track"] == 1:
                _leave_to_mark(name, values, given)
    return symbolic.transfer(guitar.stamp(values), node_at(guitar, at))


def _exact_values(guitar: Harness, given: Mapping[str, float]) -> dict[str, Any]:
    """Every value of a guitar as an exact fraction; knobs by the fraction of their track."""
    from ...solve.symbolic import exact

    values: dict[str, Any] = {}
    for name, part in guitar.parts.items():
        for local in part.settable():
            value = given.get(f"{name}.{local}", _own_value(part, local))
            if value is not None:
                values[f"{name}.{local}"] = exact(value)
        if isinstance(part, Pot):
            mark = given.get(f"{name}.mark", _FULL)
            values.setdefault(f"{name}.track", exact(part.taper(mark / 10)))
            values.pop(f"{name}.mark")
    return values


def _own_value(part: Part, local: str) -> float | None:
    head, _, rest = local.partition(".")
    if rest:
        return _own_value(part.inner()[head], rest)
    return part.controls[head].default if head in part.controls else getattr(part, head)


def _exact_end(end: float | str, total: Any) -> Any:
    from ...solve.symbolic import exact

    return exact(float(end[:-1])) / 100 * total if isinstance(end, str) else exact(end)


def _leave_to_mark(name: str, values: dict[str, Any], given: Mapping[str, float]) -> None:
    """Give a no-load pot its mark: a fraction of the track does not say that it opens."""
    if f"{name}.track" not in given:
        del values[f"{name}.track"]
        values[f"{name}.mark"] = given.get(f"{name}.mark", _FULL)


def _kept(
    guitar: Harness, keep: Any, values: Mapping[str, Any], given: Mapping[str, float]
) -> list[str]:
    """Full paths of the values to keep as letters."""
    if isinstance(keep, str) and keep == "all":
        symbols = symbols_of(guitar)
        return [path for path in symbols if values.get(path, 0) != 0 and not _is_set(path, given)]
    names = [keep] if isinstance(keep, str) else keep
    if not has_items(names):
        raise BadSetting(
            "keep", f"{keep!r} is no list of paths", "give paths such as ['volume'], or 'all'", keep
        )
    kept = []
    for name in names:
        path = _kept_path(guitar, str(name))
        if _is_set(path, given):
            raise BadSetting(
                str(name), "is both kept as a letter and set to a value", "do one of the two"
            )
        if path not in values:
            raise BadSetting(
                str(name),
                "has no value in this guitar",
                f"give the part one first, with replace({path!r}, ...)",
            )
        kept.append(path)
    return kept


def _is_set(path: str, given: Mapping[str, float]) -> bool:
    name, _, local = path.partition(".")
    return path in given or (local == "track" and f"{name}.mark" in given)


def _kept_path(guitar: Harness, name: str) -> str:
    """Full path of a value to keep as a letter."""
    part_name, local = guitar.split(name)
    part = guitar.parts[part_name]
    if local and part.path(local, name) in part.categories():
        raise BadSetting(name, "is no number", "keep values of parts, such as 'volume.resistance'")
    path, spec = target(guitar, name)
    if spec.unit == "mark":
        if local:
            raise BadSetting(
                name,
                "acts through the taper, which is not in the formula",
                f"keep {part_name!r}, the fraction of the track below the wiper",
            )
        return f"{part_name}.track"
    if _is_loss(path):
        raise BadSetting(
            name,
            "is a loss at every frequency, which no formula in s can have",
            "keep 'series_resistance' instead",
        )
    return path


def _is_loss(path: str) -> bool:
    return path.rsplit(".", 1)[-1] == "dissipation_factor"
