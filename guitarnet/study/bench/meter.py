"""What a meter shows at the jack or between lugs: impedance, DC resistance, capacitance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved, Settings, one_mapping
from ...errors import BadSetting, a, listed
from ...gate import public
from ...parts.output import AmpInput
from ...parts.winding import resistance_at
from ...solve import ac
from ...units import Quantity, dimensions, read_celsius
from ..response.looking_in import net_at_meter
from ..response.sweep import Guitars, labelled, read_frequency, sweep
from .ohmmeter import Ohmmeter

__all__ = [
    "coil_celsius",
    "coil_warmth",
    "impedance",
    "jack_capacitance",
    "jack_resistance",
    "lug_capacitance",
    "lug_resistance",
]

_DISSIPATION = 0.1  # up to which meters state their accuracy
_CELSIUS = Quantity("number", at_least=-50, at_most=180, hint="in °C")


@public(guitar=None)
def impedance(
    guitar: Guitars,
    settings: Settings = None,
    *,
    frequency: Any = None,
    at: str = "jack",
    **keywords: Any,
) -> xr.DataArray:
    """Impedance of a guitar between tip and sleeve.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar, or builds by label.
    frequency : array_like, optional
        Frequencies [Hz], rising, from 0; by default a logarithmic grid, 20 Hz to 20 kHz.
    at : {"jack", "amp"}
        "jack": without the amp, through the cable if there is one. "amp": with the amp.
    settings, **keywords
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Complex [ohm], infinite if no current can flow: ``build`` first if there are builds, then
        a dimension for each swept setting, ``frequency`` last.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> impedance(guitar, volume=[10, 5]).dims
    ('volume', 'frequency')
    """
    settings = one_mapping(settings, keywords)
    if at not in ("jack", "amp"):
        raise BadSetting("at", f"{at!r} is no place to measure", "use 'jack' or 'amp'", at)
    hertz = read_frequency(frequency)
    values, coords, captions = _looking_in(guitar, hertz, at, settings)
    attrs = {
        "units": "ohm",
        "long_name": f"impedance at the {at}",
        **captions,
    }
    axis = {"units": "Hz", "long_name": "frequency"}
    coords["frequency"] = xr.Variable(("frequency",), hertz, axis)
    return labelled(values, coords, "impedance", attrs)


@public(guitar=None)
def jack_resistance(
    guitar: Guitars,
    settings: Settings = None,
    *,
    coil_temperature: Any = 20.0,
    meter: Ohmmeter | None = None,
    **keywords: Any,
) -> xr.DataArray:
    """Resistance that an ohmmeter shows between tip and sleeve, with the amp unplugged.

    Unplug the guitar from the amplifier before measuring. Never put an ohmmeter on anything that
    is connected to the mains.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar, or builds by label; with the resistance of its cable, without its amp.
    coil_temperature : float or list of float
        Temperature of the pickups' coils [°C]; their resistance is stated at 20 °C. A list
        becomes the dimension ``coil_temperature``, before all settings.
    meter : Ohmmeter, optional
        The meter: its leads add resistance, and it shows "OL" above its largest reading. None is
        a perfect meter.
    settings, **keywords
        As in `guitarnet.response`; a list of switch places, marks or values becomes a dimension.

    Returns
    -------
    xarray.DataArray
        Resistance [ohm] with a dimension for each swept setting; infinite means "OL".

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    The impedance at 0 Hz: capacitors are open and inductors shorts. Coils have
    R (1 + 0.00393 (t - 20)) at t °C; pots and resistors do not change.

    References
    ----------
    Copper, 0.00393/K at 20 °C: IEC 60028, International standard of resistance for copper.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> jack_resistance(guitar, volume=10, coil_temperature=[20, 30]).values.round().tolist()
    [6050.0, 6282.0]
    """
    settings = one_mapping(settings, keywords)
    return _resistance(
        guitar, settings, "resistance at the jack, amp unplugged", coil_temperature, meter
    )


@public
def lug_resistance(
    guitar: Harness,
    one: str,
    other: str,
    settings: Settings = None,
    *,
    lifted: Sequence[str] | str = (),
    coil_temperature: Any = 20.0,
    meter: Ohmmeter | None = None,
    **keywords: Any,
) -> xr.DataArray:
    """Resistance that an ohmmeter shows between any two lugs, in circuit.

    Unplug the guitar from everything before opening or measuring it. Never put an ohmmeter on
    anything that is connected to the mains. To lift a lead you use a hot iron.

    Parameters
    ----------
    guitar : Harness
        The guitar; with its cable, without its amp.
    one, other : str
        Lugs that the probes touch, such as "volume.high" and "volume.low".
    lifted : sequence of str, or str
        Lugs whose lead you lift first, to measure a part alone.
    coil_temperature, meter
        As in `guitarnet.jack_resistance`.
    settings, **keywords
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Resistance [ohm] with a dimension for each swept setting; infinite means "OL".

    Raises
    ------
    BadHarness
        If a lug does not exist.
    BadSetting, BadValue, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    As in `guitarnet.jack_resistance`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> float(lug_resistance(guitar, "volume.high", "volume.low").round())
    6050.0
    >>> float(lug_resistance(guitar, "volume.high", "volume.low", lifted=["pickup.hot"]).round())
    250000.0
    """
    settings = one_mapping(settings, keywords)
    measured, ends = _probed(guitar, one, other, lifted)
    description = f"resistance from {one} to {other}"
    return _resistance(measured, settings, description, coil_temperature, meter, ends)


@public(guitar=None)
def jack_capacitance(
    guitar: Guitars, settings: Settings = None, *, frequency: Any = "1 kHz", **keywords: Any
) -> xr.Dataset:
    """Capacitance that a meter shows between tip and sleeve, and whether it means anything.

    Unplug the guitar from the amplifier before measuring.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar, or builds by label; with its cable, without its amp.
    frequency, settings, **keywords
        As in `lug_capacitance`.

    Returns
    -------
    xarray.Dataset
        As in `lug_capacitance`.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    As in `lug_capacitance`. The coils of a guitar are across its jack and hide every capacitance
    there. You can only measure the cable, with the jack disconnected from the guitar.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), cable="3 m")
    >>> bool(jack_capacitance(guitar).makes_sense)
    False
    >>> alone = jack_capacitance(guitar.lift("volume.wiper"))
    >>> round(float(alone.capacitance) * 1e12), bool(alone.makes_sense)
    (300, True)
    """
    settings = one_mapping(settings, keywords)
    return _capacitance(guitar, frequency, settings, "at the jack, amp unplugged")


@public
def lug_capacitance(
    guitar: Harness,
    one: str,
    other: str,
    settings: Settings = None,
    *,
    frequency: Any = "1 kHz",
    lifted: Sequence[str] | str = (),
    **keywords: Any,
) -> xr.Dataset:
    """Capacitance that a meter shows between two lugs, and whether it means anything.

    Unplug the guitar from everything before opening or measuring it. To lift a lead you use a hot
    iron.

    Parameters
    ----------
    guitar : Harness
        The guitar; with its cable, without its amp.
    one, other : str
        Lugs that the probes touch, such as "tone_capacitor.a" and "tone_capacitor.b".
    frequency : float, str or list
        Test frequency of the meter [Hz], above 0; 1 kHz and 120 Hz are usual.
    lifted : sequence of str, or str
        Lugs whose lead you lift first, to measure a part alone.
    settings, **keywords
        As in `guitarnet.response`.

    Returns
    -------
    xarray.Dataset
        ``capacitance`` [F] as a meter in parallel mode shows it, negative across a coil;
        ``dissipation``, the dissipation factor; ``makes_sense``, whether the capacitance is not
        negative and the dissipation factor at most 0.1. The attribute ``statement`` is a sentence
        about it.

    Raises
    ------
    BadHarness
        If a lug does not exist.
    BadSetting, BadValue, TooLarge
        As in `guitarnet.response`, or if the frequency is 0.

    Notes
    -----
    With the admittance Y = 1/Z between the probes: C = Im(Y) / (2 pi f), D = Re(Y) / abs(Im(Y)).
    A meter that times a charge, instead of measuring at one frequency, is wrong as soon as
    anything except a capacitor is across its probes; the same limit is used for it.

    References
    ----------
    Accuracy stated up to a dissipation factor of 0.1: common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> ends = "tone_capacitor.a", "tone_capacitor.b"
    >>> found = lug_capacitance(guitar, *ends, tone=[10, 0])
    >>> found.makes_sense.values.tolist()
    [True, False]
    >>> print(found.statement)  # doctest: +ELLIPSIS
    from tone_capacitor.a to tone_capacitor.b: 1 of 2 readings make no sense: ...
    """
    settings = one_mapping(settings, keywords)
    measured, ends = _probed(guitar, one, other, lifted)
    return _capacitance(measured, frequency, settings, f"from {one} to {other}", ends)


def _probed(
    guitar: Harness, one: str, other: str, lifted: Sequence[str] | str
) -> tuple[Harness, tuple[str, str]]:
    """The guitar with leads lifted, and the nodes that the probes touch."""
    lugs = [lifted] if isinstance(lifted, str) else lifted
    measured = guitar.lift(*listed(lugs, "lifted", "name the lugs, as ['tone_capacitor.a']"))
    return measured, (measured.node(one), measured.node(other))


def _capacitance(
    guitar: Guitars,
    frequency: Any,
    settings: Mapping[str, Any],
    description: str,
    ends: tuple[str, str] | None = None,
) -> xr.Dataset:
    """Parallel capacitance and dissipation factor, at the jack or between two nodes."""
    hertz = read_frequency(frequency)
    if hertz[0] == 0:
        raise BadSetting(
            "frequency", "no current passes a capacitor at 0 Hz", "give 120 or '1 kHz'", 0.0
        )
    values, coords, _ = _looking_in(guitar, hertz, "jack", settings, ends)
    axis = {"units": "Hz", "long_name": "test frequency"}
    coords["frequency"] = xr.Variable(("frequency",), hertz, axis)
    ohms = xr.DataArray(values, coords=coords)
    if not dimensions(frequency, "frequency"):
        ohms = ohms.isel(frequency=0)
    siemens = xr.apply_ufunc(_admittance, ohms, dask="parallelized", output_dtypes=[complex])
    farad = siemens.imag / (2 * np.pi * ohms.frequency)
    dissipation = xr.apply_ufunc(
        _over, siemens.real, abs(siemens.imag), dask="parallelized", output_dtypes=[float]
    )
    sense = (farad >= 0) & (dissipation <= _DISSIPATION)
    capacitance = xr.Dataset(
        {
            "capacitance": farad.assign_attrs(units="F", long_name=f"capacitance {description}"),
            "dissipation": dissipation.assign_attrs(units="1", long_name="dissipation factor"),
            "makes_sense": sense,
        }
    )
    return capacitance.assign_attrs(statement=f"{description}: {_statement(sense)}")


def _admittance(ohms: np.ndarray) -> np.ndarray:
    """Admittance [S]: NaN for two probes on one joint, zero for an open pair."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.isinf(ohms), 0, np.where(ohms == 0, complex(np.nan, np.nan), 1 / ohms))


def _over(conductance: np.ndarray, susceptance: np.ndarray) -> np.ndarray:
    """Dissipation factor: 0 for an open pair."""
    with np.errstate(divide="ignore", invalid="ignore"):
        none = (conductance == 0) & (susceptance == 0)
        return np.where(none, 0.0, conductance / susceptance)


def _statement(sense: xr.DataArray) -> str:
    wrong = int((~sense).sum())
    if not wrong:
        return "makes sense, the dissipation factor is at most 0.1"
    what = (
        "makes no sense" if sense.size == 1 else f"{wrong} of {sense.size} readings make no sense"
    )
    return (
        f"{what}: a coil or a low resistance is across the probes (dissipation factor over 0.1, or "
        "a negative capacitance); lift one lead"
    )


def _resistance(
    guitar: Guitars,
    settings: Mapping[str, Any],
    long_name: str,
    coil_temperature: Any,
    meter: Ohmmeter | None,
    ends: tuple[str, str] | None = None,
) -> xr.DataArray:
    """Resistance at 0 Hz, at the jack or between two nodes."""
    degrees = _coil_degrees(coil_temperature)
    warmed = _warmth(degrees)
    values, coords, _ = _looking_in(guitar, np.zeros(1), "jack", settings, ends, warmed)
    if isinstance(degrees, xr.Variable):
        coords["coil_temperature"] = degrees
        if "coil_temperature" in values.dims:
            values = values.transpose("coil_temperature", ...)
        else:  # no coil counts here
            values = values.set_dims({"coil_temperature": degrees.size, **values.sizes})
    ohms = xr.DataArray(values[..., 0], coords=coords, name="resistance").real
    shown = ohms if meter is None else meter.shows(ohms)
    return shown.assign_attrs(units="ohm", long_name=long_name)


def coil_celsius(given: Any) -> float:
    """Read the temperature of the coils [°C], as people write it: 21, "21 C" or "70 F"."""
    return read_celsius(given, "coil_temperature", _CELSIUS)


def coil_warmth(coil_temperature: float | str) -> float:
    """Ratio of a copper coil's resistance at a temperature [°C] to that at 20 °C."""
    return float(_warmth(coil_celsius(coil_temperature)))


def _coil_degrees(given: Any) -> float | xr.Variable:
    """Read a temperature of the coils [°C], or several along ``coil_temperature``.

    Raises
    ------
    BadSetting, BadValue
        If a temperature is out of range or given twice, or there is none.
    """
    if isinstance(given, Mapping):
        fix = "give one in °C, or a list"
        raise BadSetting("coil_temperature", f"{a(type(given))} is none", fix)
    if not dimensions(given, "coil_temperature"):
        return coil_celsius(given)
    degrees = [coil_celsius(d) for d in np.asarray(given, dtype=object)]
    if not degrees:
        raise BadSetting("coil_temperature", "is an empty list", "give at least one")
    twice = next((d for i, d in enumerate(degrees) if d in degrees[:i]), None)
    if twice is not None:
        raise BadSetting(
            "coil_temperature", f"{twice:g} stands twice in the list", "give it once", twice
        )
    axis = {"units": "degC", "long_name": "coil temperature"}
    return xr.Variable(("coil_temperature",), degrees, axis)


def _warmth(degrees: float | xr.Variable) -> Any:
    """Ratio of a copper coil's resistance to that at 20 °C, for each temperature [°C]."""
    if not isinstance(degrees, xr.Variable):
        return resistance_at(1.0, degrees)
    return xr.Variable(degrees.dims, [resistance_at(1.0, d) for d in degrees.values])


def _looking_in(
    guitar: Guitars,
    hertz: np.ndarray,
    at: str,
    settings: Mapping[str, Any],
    ends: tuple[str, str] | None = None,
    warmed: Any = 1.0,
) -> tuple[xr.Variable, dict[str, xr.Variable], dict[str, str]]:
    """Impedance, its coordinates, and captions of the guitar."""
    left_out = AmpInput if at == "jack" else None

    def compute(harness: Harness, resolved: Resolved) -> xr.Variable:
        net, node = net_at_meter(harness, resolved.values, at, warmed)
        if ends is not None:
            node, net.ground = ends
        return ac.node_impedance(net, node, hertz, dims=resolved.dims)

    points = hertz.size * int(np.size(warmed))
    return sweep(guitar, settings, compute, points=points, left_out=left_out)
