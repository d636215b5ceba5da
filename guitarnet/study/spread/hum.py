"""How much hum a guitar picks up, counted in what one coil alone would."""

from __future__ import annotations

from typing import Any

import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved, Settings, one_mapping
from ...gate import public
from ...parts.base import Drive
from ...solve import ac
from ..response.labels import decibels
from ..response.response import node_at, pickups_of
from ..response.sweep import Guitars, read_frequency, sweep

__all__ = ["hum"]

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

    A field from outside induces 1 V in every coil, with the sign of its winding; coils that are
    wound in opposite directions cancel it as far as they are alike.

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
    20 log10(abs(sum of H_i) / max abs(H_i)), each H_i with the sign of its winding and in
    proportion to its turns (`Coil.signal`). Equal fields in all coils are assumed, and nothing is
    said of hum that enters by wires.

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

    def compute(guitar: Harness, resolved: Resolved) -> xr.Variable:
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
        attrs={"assumptions": "equal field in all coils assumed"},
    )
