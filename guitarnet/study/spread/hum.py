"""Turns of a guitar's coils, and the hum they pick up, counted in what one coil alone would."""

from __future__ import annotations

from typing import Any

import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved, Settings, one_mapping
from ...gate import public
from ...parts.base import Drive
from ...parts.turns import coils_in, hum_assumptions, turns_of
from ...solve import ac
from ...table import Table
from ...units import format_value, plain_words
from ..response.labels import decibels
from ..response.response import node_at, pickups_of
from ..response.sweep import Guitars, assumed_by, check_guitar, read_frequency, sweep

__all__ = ["hum", "turns_table"]

_MAINS = (50.0, 60.0, 100.0, 120.0)


@public(guitar=None)
def hum(
    guitar: Guitars,
    settings: Settings = None,
    *,
    frequency: Any = _MAINS,
    at: str = "amp",
    **keywords: Any,
) -> xr.Dataset:
    """Hum of all coils together, against the loudest coil alone.

    One field from outside goes through every coil and induces volts in proportion to its turns,
    with the sign of its winding. Of two coils wound in opposite directions, what is left in
    series is the difference of their turns, and in parallel the difference of turns over
    impedance. So coils of one wire cancel better in parallel, and coils of equal turns but unlike
    wire in series.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar, or builds by label.
    frequency : array_like
        Frequencies [Hz]; the mains frequencies and their doubles unless given.
    at : str
        Where to listen; see `guitarnet.response`.
    settings, **keywords
        As in `guitarnet.response`.

    Returns
    -------
    xarray.Dataset
        ``residual`` [dB re the loudest coil alone] over the swept settings and ``frequency``:
        6 dB for two equal coils that add, -inf for two that cancel exactly; and ``cancelling``,
        whether it is below -20 dB at every frequency. NaN where no coil is heard.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    20 log10(abs(sum of N_i H_i) / max abs(N_i H_i)), each with the sign of its winding and N_i
    turns; `guitarnet.windings.turns_table` says where these come from. An equal field in all
    coils is assumed, and nothing is said of hum that enters by wires.

    References
    ----------
    That a tenth (-20 dB) counts as cancelling is a convention of ours.

    Examples
    --------
    >>> from guitarnet import Coil, Humbucker, layouts
    >>> coil = Coil("4k", "2 H", "150p")
    >>> bool(hum(layouts.one_pickup(Humbucker(coil, coil))).cancelling)
    True
    """
    settings = one_mapping(settings, keywords)
    hertz = read_frequency(frequency)
    assumed: list[tuple[str, ...]] = []

    def compute(guitar: Harness, resolved: Resolved) -> xr.Variable:
        assumed.append(hum_assumptions(guitar.parts))
        node = node_at(guitar, at)

        def heard(coil: tuple[str, ...] | None) -> xr.Variable:
            net = guitar.stamp(resolved.values, drive=Drive("hum", coil))
            return ac.node_size(net, node, hertz, dims=resolved.dims)

        alone = xr.Variable.concat([heard(coil) for coil in pickups_of(guitar, coils=True)], "coil")
        both = xr.Variable.concat([heard(None), alone.max("coil")], "of")
        return both.transpose(..., "of", "frequency")

    found, coords, _ = sweep(guitar, settings, compute, points=2 * hertz.size)
    coords["frequency"] = xr.Variable(("frequency",), hertz, {"units": "Hz"})
    both = xr.DataArray(found, coords)
    together, loudest = both.isel(of=0), both.isel(of=1)
    share = together / loudest.where(loudest > 0)
    # What is left of equal and opposite numbers by rounding is nothing.
    share = share.where(~(share < 1e-12), 0.0)
    residual = xr.apply_ufunc(decibels, share, dask="parallelized", output_dtypes=[float])
    return xr.Dataset(
        {
            "residual": residual.assign_attrs(
                units="dB", long_name="hum re the loudest coil alone"
            ),
            "cancelling": (share < 0.1).all("frequency"),
        },
        attrs={"assumptions": assumed_by(assumed)},
    )


@public
def turns_table(guitar: Harness) -> Table:
    """List the turns of every coil of a guitar, and where they come from.

    Parameters
    ----------
    guitar : Harness
        The guitar.

    Returns
    -------
    Table
        Coil, turns, where they come from, ohms and inductance.

    Raises
    ------
    BadSetting
        If it is no guitar.

    Notes
    -----
    Turns that are given stand: ``gn.Pickup(..., turns=7600)``. Else they follow from the ohms
    where the wire is known, ``wire="AWG 42"``: length of the wire over the mean length of a turn.
    That is taken from the coils of which both turns and wire are known; if there is none it is
    156 mm, which leaves the ratio of two coils right where their bobbins are alike. Else turns
    go with the root of the inductance, as on one and the same core: in turns where those of
    another coil are known, as a share of the largest where none are. More steel in one coil than
    in the other spoils that.

    References
    ----------
    156 mm: 7600 turns of AWG 42 read 6.5 kΩ; Premier Guitar, "Demystifying DCR".

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> neck, bridge = Pickup("6k", "2.3 H", "110p"), Pickup("6.8k", "2.8 H", "130p", turns=8000)
    >>> print(turns_table(layouts.two_single_coils(neck, bridge)))
    Turns of the coils of two single coils
    coil    turns  where they come from   ohms    inductance
    neck     7251  by root of inductance  6 kΩ    2.3 H
    bridge   8000  given                  6.8 kΩ  2.8 H
    """
    check_guitar(guitar)
    coils = coils_in(guitar.parts)
    rows = [
        (
            plain_words(path),
            turns.label(),
            turns.how,
            format_value(coils[path].resistance, "ohm"),
            format_value(coils[path].inductance, "H"),
        )
        for path, turns in turns_of(coils).items()
    ]
    return Table(
        ("coil", "turns", "where they come from", "ohms", "inductance"),
        rows,
        f"Turns of the coils of {guitar.name}",
    )
