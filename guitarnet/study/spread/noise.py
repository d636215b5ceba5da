"""Noise that a guitar makes by itself: thermal noise at its output, and hum place by place."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.roles import the_volume
from ...circuit.settings import Resolved, Settings, one_mapping
from ...errors import BadSetting, listed, pair
from ...gate import public
from ...parts.base import PRACTICE
from ...parts.output import AmpInput
from ...parts.switch import Switch
from ...ranking import CLOSE
from ...solve import ac
from ...table import Table
from ...units import Quantity, fixed, format_value, read_celsius, write_celsius
from ..response.labels import decibels
from ..response.looking_in import net_at_meter
from ..response.response import node_at
from ..response.sweep import Guitars, check_guitar, read_frequency, sweep
from .hum import hum

__all__ = ["SIGNAL", "a_weighting_db", "hum_table", "noise_level", "noise_spectrum", "noise_table"]

_BOLTZMANN = 1.380649e-23  # J/K, exact since 2019 (CODATA)
_ZERO_CELSIUS = 273.15
_CELSIUS = Quantity("number", at_least=-273.15, at_most=1000, hint="in °C")
SIGNAL = Quantity("V", above=0, usual=("1 mV", "0.99 V", "100 mV: " + PRACTICE))
_HZ = Quantity("Hz", above=0)
_CORNERS = 20.598997, 107.652649, 737.862231, 12194.217  # Hz; IEC 61672-1:2013, annex E
_NODES, _PANELS = 8, 16  # Gauss-Legendre points in each panel, panels in each decade


@public
def a_weighting_db(frequency: Any) -> np.ndarray:
    """A-weighting of sound level meters.

    Parameters
    ----------
    frequency : array_like
        Frequencies [Hz], rising, from 0.

    Returns
    -------
    numpy.ndarray
        Weight [dB], 0 at 1 kHz; -inf at 0 Hz.

    Raises
    ------
    BadSetting, BadValue
        If the frequencies do not rise, or one is negative.

    Notes
    -----
    20 log10(f4² f⁴ / ((f² + f1²) √(f² + f2²) √(f² + f3²) (f² + f4²))) less its value at 1 kHz,
    with f1 to f4 = 20.598997, 107.652649, 737.862231 and 12194.217 Hz.

    References
    ----------
    IEC 61672-1:2013, Electroacoustics - Sound level meters, annex E.

    Examples
    --------
    >>> a_weighting_db([100, 1000, 10000]).round(1).tolist()
    [-19.1, 0.0, -2.5]
    """
    return decibels(_weight(read_frequency(frequency)))


def _weight(f: np.ndarray) -> np.ndarray:
    """A-weighting as a factor, 1 at 1 kHz."""

    def shape(f: np.ndarray) -> np.ndarray:
        # As shares, since a fourth power of a high frequency is beyond all numbers.
        one, two, three, four = (np.hypot(f, corner) for corner in _CORNERS)
        return (f / one) ** 2 * (f / two) * (f / three) / four / four

    return shape(f) / shape(np.array(1000.0))


@public(guitar=None)
def noise_spectrum(
    guitar: Guitars,
    settings: Settings = None,
    *,
    frequency: Any = None,
    at: str = "amp",
    temperature: float | str = 20.0,
    **keywords: Any,
) -> xr.DataArray:
    """Density of the thermal noise of a guitar's coils, pots and resistors.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar, or builds by label.
    frequency : array_like, optional
        Frequencies [Hz], rising, from 0; a logarithmic grid from 20 Hz to 20 kHz unless given.
    at : {"amp", "grid", "jack"}
        At the amp input, its input resistance counted; behind its grid resistor, that counted
        too; or at the plug with the amp removed.
    temperature : float or str
        Of all parts [°C].
    settings, **keywords
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Density [V/√Hz], a dimension for each swept setting, ``frequency`` last.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.
    BadSetting
        If the output is open, where the formula has no end.

    Notes
    -----
    √(4 k T Re Z), with Z the impedance at that place. It holds for any passive network at one
    temperature, eddy losses and lossy capacitors included. The amp's own noise, that of a tube or
    transistor, is not in it, nor is what a string or hum induces.

    References
    ----------
    H. Nyquist, Thermal agitation of electric charge in conductors, Physical Review 32 (1928)
    110-113, doi:10.1103/PhysRev.32.110.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> (noise_spectrum(guitar, frequency=["100 Hz", "5 kHz"]) * 1e9).round(1).values.tolist()
    [9.8, 40.1]
    """
    settings = one_mapping(settings, keywords)
    hertz = read_frequency(frequency)
    found, coords, told = _density(guitar, hertz, at, temperature, settings)
    axis = {"units": "Hz", "long_name": "frequency"}
    coords["frequency"] = xr.Variable(("frequency",), hertz, axis)
    attrs = {"units": "V/√Hz", "long_name": f"thermal noise at the {at}", **told}
    return xr.DataArray(found, coords=coords, name="noise", attrs=attrs)


@public(guitar=None, band=None)
def noise_level(
    guitar: Guitars,
    settings: Settings = None,
    *,
    weighting: str | None = "A",
    band: tuple[float | str, float | str] = (20.0, 20e3),
    signal: float | str = "100 mV",
    at: str = "amp",
    temperature: float | str = 20.0,
    unusual: bool = False,
    **keywords: Any,
) -> xr.Dataset:
    """Thermal noise of a guitar in one number: microvolts, and decibels under a stated signal.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar, or builds by label.
    weighting : {"A", None}
        A-weighted as a sound level meter does, or all frequencies alike.
    band : pair of float or str
        Lowest and highest frequency [Hz].
    signal : float or str
        What 0 dB is [V rms]; 100 mV unless given.
    unusual : bool
        Whether a signal that hardly any guitar gives is meant, and is no slip.
    at, temperature, settings, **keywords
        As in `noise_spectrum`.

    Returns
    -------
    xarray.Dataset
        ``voltage`` [V rms] and ``level`` [dB re the signal], a dimension for each swept setting.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `noise_spectrum`; or if the weighting is unknown, or the band is empty.

    Notes
    -----
    √(∫ 4 k T Re Z(f) A(f)² df), by Gauss-Legendre rules of 8 points in 16 panels a decade.

    References
    ----------
    As in `noise_spectrum` and `a_weighting_db`. 100 mV for what a guitar gives is common
    practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> (noise_level(guitar, volume=[10, 5]).voltage * 1e6).round(2).values.tolist()
    [2.82, 2.33]
    """
    settings = one_mapping(settings, keywords)
    if weighting not in ("A", None):
        raise BadSetting("weighting", f"{weighting!r} is unknown", "use 'A' or None", weighting)
    edges = pair(band, "band", "give the lowest and the highest frequency")
    low, high = (_HZ.read(edge, "band") for edge in edges)
    volts = SIGNAL.entered(signal, "signal")
    assert low is not None
    assert high is not None
    assert volts is not None
    if not low < high:
        raise BadSetting(
            "band", f"{edges[0]!r} to {edges[1]!r} is an empty range", "give low below high"
        )
    hertz, width = _points(low, high)
    density, coords, told = _density(guitar, hertz, at, temperature, settings)
    if weighting == "A":
        width = width * _weight(hertz) ** 2
    square = (xr.DataArray(density, coords=coords) ** 2 * xr.Variable("frequency", width)).sum(
        "frequency"
    )
    voltage = square**0.5
    words = f"{'A-weighted, ' if weighting else ''}{low:g} Hz to {high:g} Hz"
    reference = format_value(volts, "V")
    level = xr.apply_ufunc(
        decibels, voltage / volts, dask="parallelized", output_dtypes=[float], keep_attrs=False
    )
    return xr.Dataset(
        {
            "voltage": voltage.assign_attrs(units="V", long_name=f"thermal noise, {words}"),
            "level": level.assign_attrs(
                units="dB", long_name=f"thermal noise re {reference}, {words}"
            ),
        },
        attrs=told,
    )


@public(marks=None, band=None)
def noise_table(
    guitar: Harness,
    settings: Settings = None,
    *,
    knob: str | None = None,
    marks: Iterable[float] = (10, 9, 7, 5, 3, 0),
    weighting: str | None = "A",
    band: tuple[float | str, float | str] = (20.0, 20e3),
    signal: float | str = "100 mV",
    at: str = "amp",
    temperature: float | str = 20.0,
    unusual: bool = False,
    **keywords: Any,
) -> Table:
    """Table of a guitar's thermal noise, a row for each mark of a knob.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    knob : str, optional
        Name of the knob; the one volume unless given.
    marks : iterable of float
        Marks of the knob.
    settings, weighting, band, signal, at, temperature, unusual, **keywords
        As in `noise_level`; settings are one value each.

    Returns
    -------
    Table
        Microvolts and decibels re the signal.

    Raises
    ------
    BadSetting, BadValue, BadHarness
        As in `noise_level`; or if the knob is set too, or another setting is a list.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> print(noise_table(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), marks=[10, 5]))
    volume    µV  dB re 100 mV
        10  2.82         -91.0
         5  2.33         -92.6
    Thermal noise, A-weighted, 20 Hz to 20000 Hz, all parts at 20 °C.
    """
    settings = one_mapping(settings, keywords)
    knob = knob or the_volume(guitar)
    if knob in settings:
        raise BadSetting(knob, "is the knob of the rows", "give its marks as marks=[10, 5]")
    found = noise_level(
        guitar,
        {**settings, knob: listed(marks, "marks", "give a list, as [10, 5]")},
        weighting=weighting,
        band=band,
        signal=signal,
        at=at,
        temperature=temperature,
    )
    _only(found.voltage, knob)
    volts = SIGNAL.entered(signal, "signal")
    assert volts is not None
    rows = [
        (f"{mark:g}", fixed(1e6 * v, 2), fixed(level, 1) if np.isfinite(level) else "silent")
        for mark, v, level in zip(
            found[knob].values, found.voltage.values, found.level.values, strict=True
        )
    ]
    words = str(found.voltage.attrs["long_name"])
    degrees = read_celsius(temperature, "temperature", _CELSIUS)
    return Table(
        [knob, "µV", f"dB re {format_value(volts, 'V')}"],
        rows,
        note=f"{words[:1].upper()}{words[1:]}, all parts at {write_celsius(degrees)}.",
    )


@public
def hum_table(
    guitar: Harness, settings: Settings = None, *, switch: str | None = None, **keywords: Any
) -> Table:
    """Table of the hum that coils pick up, a row for each place of a switch.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    switch : str, optional
        Name of the switch; the only one unless given.
    settings, **keywords
        As in `guitarnet.audio.hum`, one value each.

    Returns
    -------
    Table
        Hum at 50 Hz [dB re the loudest coil alone], and whether it cancels.

    Raises
    ------
    BadSetting
        If it is no guitar, there is no switch or several, the switch is set too, or a setting is
        a list.
    BadValue, BadHarness
        As in `guitarnet.audio.hum`.

    Notes
    -----
    As in `guitarnet.audio.hum`: an equal field in all coils is assumed, volts go with turns, and
    what enters by wires is not told. The line below says where the turns come from.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil, reverse = (Pickup("6k", "2.2 H", "120p", winding=w, magnet=w) for w in (1, -1))
    >>> print(hum_table(layouts.three_single_coils(coil, reverse, coil)))  # doctest: +ELLIPSIS
    switch         hum at 50 Hz [dB]...
    """
    settings = one_mapping(settings, keywords)
    check_guitar(guitar)
    switches = [name for name, part in guitar.parts.items() if isinstance(part, Switch)]
    if switch is None:
        if len(switches) != 1:
            raise BadSetting(
                "switch",
                f"there are {len(switches)} of them" if switches else "there is none",
                f"name one of {', '.join(switches)}" if switches else "use guitarnet.audio.hum",
            )
        switch = switches[0]
    elif switch not in switches:
        raise BadSetting("switch", f"{switch!r} is no switch", "name a switch of the guitar")
    for name in (switch, f"{switch}.place"):
        if name in settings:
            raise BadSetting(name, "is the switch of the rows", "leave it out")
    if "frequency" in settings:
        raise BadSetting("frequency", "is 50 Hz here", "leave it out, or use guitarnet.audio.hum")
    places = list(guitar.parts[switch].places)  # type: ignore[attr-defined]
    asked: dict[str, Any] = {**settings, switch: places}
    found = hum(guitar, asked, frequency=[50.0, 60.0, 100.0, 120.0])
    _only(found.cancelling, switch)
    rows = []
    for place in places:
        here = found.sel({switch: place})
        level = float(here.residual.sel(frequency=50))
        shown = "no coil" if np.isnan(level) else "none" if np.isneginf(level) else fixed(level, 1)
        rows.append((place, shown, "yes" if bool(here.cancelling) else "no"))
    return Table(
        [switch, "hum at 50 Hz [dB]", "cancels"],
        rows,
        note=f"dB re the loudest coil alone; {found.attrs['assumptions']}.",
    )


def _only(found: xr.DataArray, dim: str) -> None:
    others = [str(d) for d in found.dims if d != dim]
    if others:
        raise BadSetting(others[0], "is a list", f"give one value; the rows are of {dim}")


def _points(low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies and their weights in an integral over frequency, from low to high."""
    panels = max(1, int(np.ceil(np.log10(high / low) * _PANELS - CLOSE)))
    edges = np.linspace(np.log(low), np.log(high), panels + 1)
    x, w = np.polynomial.legendre.leggauss(_NODES)
    middle, half = (edges[1:] + edges[:-1])[:, None] / 2, np.diff(edges)[:, None] / 2
    hertz = np.exp(middle + half * x).ravel()
    return hertz, (half * w).ravel() * hertz  # df = f d(ln f)


def _density(
    guitar: Guitars, hertz: np.ndarray, at: str, temperature: float | str, settings: dict[str, Any]
) -> tuple[xr.Variable, dict[str, xr.Variable], dict[str, str]]:
    """Density in V/√Hz, its coordinates, and what is to be told of the guitar."""
    if at not in ("amp", "grid", "jack"):
        raise BadSetting("at", f"{at!r} is no place", "use 'amp', 'grid' or 'jack'", at)
    degrees = read_celsius(temperature, "temperature", _CELSIUS)
    power = 4 * _BOLTZMANN * (degrees + _ZERO_CELSIUS)

    def volts(ohms: np.ndarray) -> np.ndarray:
        if np.isinf(ohms).any():
            raise BadSetting(
                "noise", f"nothing lies across the {at}", "listen at 'amp', or join a pickup"
            )
        # What rounding leaves of a lossless impedance may be below zero.
        return np.sqrt(power * np.maximum(ohms, 0.0))

    def compute(harness: Harness, resolved: Resolved) -> xr.Variable:
        net, node = net_at_meter(harness, resolved.values, "jack" if at == "jack" else "amp")
        if at == "grid":
            node = node_at(harness, at)
        ohms = ac.node_impedance(net, node, hertz, dims=resolved.dims)
        # The real part first: dask would warn of complex blocks that come out real.
        return xr.apply_ufunc(volts, ohms.real, dask="parallelized", output_dtypes=[float])

    left_out = AmpInput if at == "jack" else None
    found, coords, told = sweep(guitar, settings, compute, points=hertz.size, left_out=left_out)
    said = f"all parts at {write_celsius(degrees)}"
    told["assumptions"] = "; ".join(word for word in (told["assumptions"], said) if word)
    return found, coords, told
