"""Where a pickup is on the string, and which harmonics it senses there."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, BadValue, a, listed
from ...gate import public
from ...units import Quantity, dimensions, format_value
from ..response.arrays import check_size, read_array, read_response
from ..response.labels import decibels

__all__ = ["PickupPosition", "cancellation_frequency", "harmonic_level_db", "string_spectrum"]

_DISTANCE = Quantity("m", above=0, at_most=3)
_WIDTH = Quantity("m", at_least=0, at_most=0.5)
_LEVEL = Quantity("number", at_least=0, at_most=1e6)
_FRET = Quantity("number", at_least=0, at_most=36)
_COUNT = Quantity("number", at_least=1, at_most=10000)
_HZ = Quantity("Hz", above=0, at_most=20e3)
_NOTE = re.compile(r"([A-G])([#b\u266f\u266d]?)(\d)", re.ASCII)
_STEP = {"C": -9, "D": -7, "E": -5, "F": -4, "G": -2, "A": 0, "B": 2}  # semitones from A
_SHARP = {"": 0, "#": 1, "b": -1}
_MIDDLE = "a string's middle"
_REFERENCE = (
    "0 dB: fundamental of the same string, plucked as hard in its middle and sensed there by one "
    "coil"
)


@public
@dataclass(frozen=True)
class PickupPosition:
    """Where and how a pickup senses a string.

    Parameters
    ----------
    position : float or str
        Distance of its middle from the bridge [m].
    aperture : float or str
        Length of string that each coil senses, evenly [m]; 0 is a point.
    coil_spacing : float or str
        Distance between the middles of a two-coil pickup's coils [m]; 0 is one coil.
    coils_in_phase : bool
        Whether the signals of the two coils add; if not, that of the far coil is subtracted.
    sign : int
        1, or -1 for a pickup out of phase with the others.
    level : float
        Weight of each coil: 1 for two coils in series, which give twice the signal of one; 0.5
        for two in parallel.

    Raises
    ------
    BadValue
        If a value is out of range.

    Examples
    --------
    >>> PickupPosition("40 mm", coil_spacing="18 mm").position
    0.04
    """

    position: float
    aperture: float = 0.0
    coil_spacing: float = 0.0
    coils_in_phase: bool = True
    sign: int = 1
    level: float = 1.0

    def __post_init__(self) -> None:
        for name, spec in (
            ("position", _DISTANCE),
            ("aperture", _WIDTH),
            ("coil_spacing", _WIDTH),
            ("level", _LEVEL),
        ):
            value = spec.read(getattr(self, name), f"PickupPosition.{name}")
            object.__setattr__(self, name, value)
        if not isinstance(self.sign, (int, float, np.number)) or self.sign not in (1, -1):
            raise BadValue("PickupPosition.sign", f"{self.sign!r} is no sign", "give 1 or -1")

    @property
    def reach(self) -> float:
        """Largest distance from its middle that the pickup senses [m]."""
        return (self.coil_spacing + self.aperture) / 2


@public(harmonics=None, h=None)
def string_spectrum(
    pickup: Any,
    *,
    string: Any = "E2",
    scale: float | str = "648 mm",
    fret: Any = 0,
    pluck: Any = "130 mm",
    position: Any = None,
    harmonics: int = 60,
    together: bool = True,
    h: xr.DataArray | None = None,
) -> xr.DataArray:
    r"""Harmonics that a pickup senses on a plucked string.

    Parameters
    ----------
    pickup : PickupPosition, float, str or mapping
        Position of the pickup; a bare distance from the bridge [m] is one coil that senses a
        point. A mapping of names to positions is several pickups.
    string : str, float or sequence
        The open string: a note, "E2" to "E4" on a guitar, or its frequency [Hz].
    scale : float or str
        Length of the open string [m].
    fret : float or sequence
        Fret that stops the string; 0 is open. Pickup and pluck do not move.
    pluck : float, str or sequence
        Distance of the pluck from the bridge [m]; by default a fifth of the string (common
        practice, no source).
    position : float, str or sequence, optional
        Distance of the pickup from the bridge [m], instead of that in ``pickup``.
    harmonics : int
        How many harmonics, with the fundamental.
    together : bool
        Whether to add several pickups, as a guitar does. Otherwise they stay apart along the
        dimension ``pickup``.
    h : xarray.DataArray, optional
        Response of the guitar, from `guitarnet.response`. It multiplies each harmonic, by a
        cubic spline through its points. With a dimension ``pickup`` of the same names, each pickup
        has its own response. The response of a two-coil pickup already includes both coils: with
        a ``coil_spacing`` give ``level=0.5``, or compute the response with
        ``pickups="each coil"`` and give each coil its own position.

    Returns
    -------
    xarray.DataArray
        Amplitude with sign (complex with ``h``). It is 1 for the fundamental of the same string,
        plucked as hard in its middle and sensed there at a point by one coil, and exactly 0 if a
        harmonic vanishes. There is a dimension for each list among string, fret, pluck and
        position, and ``harmonic`` last; the coordinate ``frequency`` [Hz] belongs to
        ``harmonic``, string and fret.

    Raises
    ------
    BadValue
        If a value is out of range, or a position is beyond the sounding string.
    BadSetting
        If a list is empty, or ``h`` does not fit the harmonics or pickups.

    Notes
    -----
    A string of length L that is released from a sharp corner at p has displacements
    1/n² sin(n pi p/L). A pickup senses velocity, which is n times as much, so 1/n remains. With
    the same force of the pluck, no other factor depends on p, L or n. At x the mode has the height
    sin(n pi x/L), and the coil takes the mean over its aperture w:

    a_n = 1/n sin(n pi p/L) sin(n pi x/L) sin(u)/u,  u = n pi w/(2 L),  L = L0 2^(-fret/12).

    Two coils at the distance d multiply it by 2 cos(n pi d/(2 L)), which is zero at the odd
    multiples of c/(2 d); see `cancellation_frequency`. Out of phase, sin(n pi x/L) becomes
    -cos(n pi x/L) and the cosine a sine. Several pickups add with their signs. The string is
    ideal: no stiffness, no losses, no pull of the magnets, a sharp aperture. The spectrum is that
    of the start of the note, not of its decay.

    References
    ----------
    Textbook: plucked ideal string, by Fourier series. Comb and cancellation of two coils:
    H. Lemme, quoted: about 3000 Hz on the low E and 4000 Hz on the A string.

    Examples
    --------
    >>> spectrum = string_spectrum("162 mm", pluck="100 mm", harmonics=8)
    >>> spectrum.harmonic[spectrum == 0].values
    array([4, 8])
    >>> string_spectrum(PickupPosition("40 mm", coil_spacing="18 mm"), fret=[0, 12]).dims
    ('fret', 'harmonic')
    """
    length = _DISTANCE.read(scale, "scale")
    count = _COUNT.read(harmonics, "harmonics")
    assert length is not None
    assert count is not None
    if count != int(count):
        raise BadValue("harmonics", f"{harmonics!r} is not whole", "give a whole number")
    coords: dict[str, Any] = {}
    n = xr.Variable("harmonic", np.arange(1, int(count) + 1))
    coords["harmonic"] = xr.Variable("harmonic", n, {"units": "1", "long_name": "harmonic"})
    open_hertz = _strings(string, coords)
    frets = _swept("fret", fret, _FRET, coords, "fret")
    plucks = _swept("pluck", pluck, _DISTANCE, coords, "pluck, distance from the bridge")
    sounding = length * 2.0 ** (-frets / 12)
    hertz = n * open_hertz * 2.0 ** (frets / 12)
    _inside("pluck", plucks, 0.0, sounding)

    positions = _positions(pickup)
    moved = None
    if position is not None:
        if len(positions) > 1:
            raise BadSetting(
                "position", "is given for several pickups", "give each its own position"
            )
        long_name = "pickup, distance from the bridge"
        moved = _swept("position", position, _DISTANCE, coords, long_name)
    drawn = _sinpi(n * plucks / sounding) / n
    sensed = [
        xr.DataArray(drawn * _sensed(name, place, moved, n, sounding))
        for name, place in positions.items()
    ]
    spectrum = xr.concat(sensed, "pickup")
    spectrum = spectrum.assign_coords(pickup=list(positions))
    attrs: dict[str, Any] = {"units": "1", "assumptions": _assumed(positions, plucks, position)}
    if h is not None:
        spectrum = spectrum * _through(h, hertz, list(positions))
        attrs["guitar"] = h.attrs.get("guitar", "")
        attrs["assumptions"] += f"; {h.attrs.get('assumptions', '')}".rstrip("; ")
    if together or len(positions) == 1:
        spectrum = (
            spectrum.sum("pickup", skipna=False)
            if len(positions) > 1
            else spectrum.isel(pickup=0, drop=True)
        )
    # The note of a string changes no amplitude; the dimension exists all the same.
    missing = {d: c.size for d, c in coords.items() if c.dims == (d,) and d not in spectrum.dims}
    spectrum = spectrum.expand_dims(missing)
    axis = xr.Variable(hertz.dims, hertz, {"units": "Hz", "long_name": "frequency"})
    spectrum = spectrum.assign_coords({**coords, "frequency": axis})
    order = [d for d in ("pickup", "string", "fret", "pluck", "position") if d in spectrum.dims]
    where = "through the guitar" if h is not None else "at the pickup"
    attrs["long_name"] = f"string velocity {where}, re {_MIDDLE}"
    return spectrum.transpose(..., *order, "harmonic").rename("spectrum").assign_attrs(attrs)


@public
def harmonic_level_db(spectrum: xr.DataArray, re: str | None = None) -> xr.DataArray:
    """Level of each harmonic in decibels.

    Parameters
    ----------
    spectrum : xarray.DataArray
        From `string_spectrum`.
    re : None or "loudest"
        Reference of 0 dB: None is the fundamental of the same string, plucked as hard in its
        middle and sensed there by one coil; "loudest" is the loudest harmonic of each spectrum.

    Returns
    -------
    xarray.DataArray
        Level [dB] with the same dimensions; -inf if a harmonic vanishes.

    Raises
    ------
    BadSetting
        If it is no spectrum, or ``re`` is not known.

    Examples
    --------
    >>> level = harmonic_level_db(string_spectrum("162 mm", harmonics=4), re="loudest")
    >>> float(level.max()), float(level[-1])
    (0.0, -inf)
    """
    if not isinstance(spectrum, xr.DataArray) or "harmonic" not in spectrum.dims:
        raise BadSetting(
            "spectrum",
            f"{a(type(spectrum))} is not a spectrum over harmonics",
            "give what string_spectrum() returns",
        )
    fix = "give what string_spectrum() returns"
    read_array(spectrum, "spectrum", fix)
    if spectrum.chunks is None:
        check_size(spectrum.values, "spectrum", fix, finite=True)
    hertz = spectrum.coords.get("frequency")
    if hertz is None or hertz.dtype.kind not in "iuf" or "harmonic" not in hertz.dims:
        raise BadSetting("spectrum", "has no frequencies for its harmonics", fix)
    if not (hertz > 0).all():
        raise BadSetting("spectrum", "has no frequencies above 0 Hz for its harmonics", fix)
    if re is not None and re != "loudest":
        raise BadSetting("re", f"{re!r} is no reference", "use None or 'loudest'", re)
    size = abs(spectrum)
    reference, sentences = _MIDDLE, [_REFERENCE]
    if re == "loudest":
        loudest = size.max("harmonic")
        size, reference = size / loudest.where(loudest > 0, 1), "its loudest harmonic"
        sentences = []
    level = xr.apply_ufunc(
        decibels, size, dask="parallelized", output_dtypes=[float], keep_attrs=False
    )
    attrs = {"units": "dB", "long_name": f"level re {reference}"}
    attrs["assumptions"] = "; ".join([*sentences, spectrum.attrs.get("assumptions", "")])
    attrs["guitar"] = spectrum.attrs.get("guitar", "")
    return level.rename("level").assign_attrs(attrs)


@public
def cancellation_frequency(
    coil_spacing: float | str, *, string: str | float = "E2", scale: float | str = "648 mm"
) -> float:
    """Frequency at which the two coils of a pickup cancel each other on a string.

    Parameters
    ----------
    coil_spacing : float or str
        Distance between the middles of the coils [m].
    string : str or float
        The open string: a note such as "E2", or its frequency [Hz].
    scale : float or str
        Length of the open string [m].

    Returns
    -------
    float
        Lowest such frequency [Hz]; the others are its odd multiples. It is the same at every
        fret.

    Raises
    ------
    BadValue
        If a value is out of range.

    Notes
    -----
    c / (2 d), with waves of velocity c = 2 L f0: the coils are half a wavelength apart.

    References
    ----------
    H. Lemme, quoted: about 3000 Hz on the low E and 4000 Hz on the A string.

    Examples
    --------
    >>> round(cancellation_frequency("18 mm")), round(cancellation_frequency("18 mm", string="A2"))
    (2967, 3960)
    """
    between = _DISTANCE.read(coil_spacing, "coil_spacing")
    length = _DISTANCE.read(scale, "scale")
    assert between is not None
    assert length is not None
    return length * _hertz(string) / between


def _hertz(string: Any) -> float:
    """Frequency of an open string from a note (A4 = 440 Hz, equal steps) or a frequency."""
    note = _NOTE.fullmatch(string.strip()) if isinstance(string, str) else None
    if note:
        step = _STEP[note[1]] + _SHARP[note[2]] + 12 * (int(note[3]) - 4)
        return float(440 * 2 ** (step / 12))
    if isinstance(string, str) and not re.match(r"\s*[-+.\d]", string):
        raise BadValue(
            "string", f"{string!r} is no note", "write it like 'E2' or 'F#1', or give Hz", string
        )
    hertz = _HZ.read(string, "string")
    assert hertz is not None
    return hertz


def _several(name: str, given: Any) -> bool:
    return not isinstance(given, str) and dimensions(given, name) > 0


def _listed(name: str, given: Any) -> list[Any]:
    if (count := dimensions(given, name)) > 1:
        raise BadSetting(name, f"has {count} dimensions", "give one list")
    array = isinstance(given, (np.ndarray, xr.DataArray))
    values = np.asarray(given).tolist() if array else listed(given, name, "give one list")
    if not values:
        raise BadSetting(name, "is an empty list", "give at least one value")
    return values


def _strings(string: Any, coords: dict[str, Any]) -> xr.Variable:
    """Frequencies of the open strings; a list becomes a dimension of labels."""
    if not _several("string", string):
        return xr.Variable((), _hertz(string))
    values = _listed("string", string)
    labels = [v.strip() if isinstance(v, str) else format_value(v, "Hz") for v in values]
    _each_once("string", labels)
    coords["string"] = xr.Variable("string", labels, {"long_name": "string"})
    return xr.Variable("string", [_hertz(value) for value in values])


def _swept(
    name: str, given: Any, spec: Quantity, coords: dict[str, Any], long_name: str
) -> xr.Variable:
    """Read one value, or a list as a dimension."""
    if not _several(name, given):
        return xr.Variable((), spec.read(given, name))
    written = _listed(name, given)
    values = [spec.read(value, name) for value in written]
    _each_once(name, values)
    attrs = {"long_name": long_name, "units": "m" if spec.unit == "m" else "1"}
    coords[name] = xr.Variable(name, values, attrs)
    if any(isinstance(value, str) for value in written):
        coords[f"{name}_written"] = xr.Variable(name, [str(value) for value in written])
    return xr.Variable(name, values)


def _each_once(name: str, values: list[Any]) -> None:
    for i, value in enumerate(values):
        if value in values[:i]:
            raise BadSetting(name, f"{value} is given twice", "give each once", value)


def _positions(pickup: Any) -> dict[str, PickupPosition]:
    several = isinstance(pickup, Mapping)
    given = dict(pickup) if several else {"pickup": pickup}
    if not given:
        raise BadSetting("pickup", "names no pickup", "give one or more")
    return {
        str(name): one if isinstance(one, PickupPosition) else PickupPosition(one)
        for name, one in given.items()
    }


def _inside(name: str, position: xr.Variable, reach: float, sounding: xr.Variable) -> None:
    """Refuse a position that is not between bridge and stopping fret."""
    low, high = position - reach, position + reach - sounding
    if (low.values < 0).any():
        worst = float(position.min())
        raise BadValue(
            name,
            f"{worst * 1e3:.4g} mm from the bridge with {reach * 1e3:.4g} mm to either side "
            "reaches beyond it",
            "move it away from the bridge or make it narrower",
            worst,
        )
    if (high.values >= 0).any():
        worst, short = float(position.max()), float(sounding.min())
        raise BadValue(
            name,
            f"{(worst + reach) * 1e3:.4g} mm from the bridge is not on a string that sounds for "
            f"{short * 1e3:.4g} mm",
            "choose a lower fret or a position nearer to the bridge",
            worst,
        )


def _sinpi(z: xr.Variable) -> xr.Variable:
    """sin(pi z), exactly 0 at whole numbers, also if z is rounded."""
    nearest = np.round(z.values)
    offset = z.values - nearest
    offset = np.where(np.abs(offset) < 1e-14 * np.maximum(1, np.abs(nearest)), 0, offset)
    return xr.Variable(z.dims, np.where(nearest % 2, -1, 1) * np.sin(np.pi * offset))


def _sensed(
    name: str,
    position: PickupPosition,
    moved: xr.Variable | None,
    n: xr.Variable,
    sounding: xr.Variable,
) -> xr.Variable:
    """Height of each mode as a pickup senses it: comb, aperture, coils, sign."""
    x = moved if moved is not None else xr.Variable((), position.position)
    _inside(name, x, position.reach, sounding)
    at, half = n * x / sounding, n * position.coil_spacing / (2 * sounding)
    if position.coil_spacing == 0:
        height = _sinpi(at)
    elif position.coils_in_phase:
        height = 2 * _sinpi(at) * _sinpi(half + 0.5)
    else:  # the coil nearer to the bridge, minus the other
        height = -2 * _sinpi(at + 0.5) * _sinpi(half)
    if position.aperture:
        wide = n * position.aperture / (2 * sounding)
        height = height * _sinpi(wide) / (np.pi * wide)
    return position.sign * position.level * height


def _through(h: xr.DataArray, hertz: xr.Variable, names: list[str]) -> xr.DataArray:
    """Response at the harmonics."""
    from scipy.interpolate import CubicSpline

    if not isinstance(h, xr.DataArray) or h.sizes.get("frequency", 0) < 2:
        raise BadSetting(
            "h", "is not a response over two or more frequencies", "give what response() returns"
        )
    grid = read_response(h)["frequency"].values
    if h.chunks is None:
        check_size(h.values, "h", "give what response() returns", finite=True)
    if hertz.values.min() < grid[0] or hertz.values.max() > grid[-1]:
        raise BadSetting(
            "h",
            f"runs from {format_value(grid[0], 'Hz')} to {format_value(grid[-1], 'Hz')}, the "
            f"harmonics from {format_value(float(hertz.min()), 'Hz')} to "
            f"{format_value(float(hertz.max()), 'Hz')}",
            "give response() a wider grid, or ask for fewer harmonics",
        )
    if "pickup" in h.dims and list(h["pickup"].values) != names:
        raise BadSetting(
            "h",
            f"has pickups {', '.join(map(str, h['pickup'].values))}, the string has "
            f"{', '.join(names)}",
            "give both the same names in the same order",
        )
    return xr.apply_ufunc(
        lambda values: CubicSpline(grid, values, axis=-1)(hertz.values),
        h.drop_vars(["at_reference", "reference_frequency"], errors="ignore"),
        input_core_dims=[["frequency"]],
        output_core_dims=[list(hertz.dims)],
        dask="parallelized",
        output_dtypes=[complex],
        dask_gufunc_kwargs={"output_sizes": dict(hertz.sizes), "allow_rechunk": True},
        keep_attrs=False,
    )


def _assumed(positions: Mapping[str, PickupPosition], plucks: xr.Variable, position: Any) -> str:
    phrases = ["ideal string", "velocity sensed"]
    if plucks.ndim == 0:
        phrases.append(f"plucked {float(plucks) * 1e3:.4g} mm from the bridge")
    for name, one in positions.items():
        details = [] if position is not None else [f"{one.position * 1e3:.4g} mm from the bridge"]
        if one.coil_spacing:
            phase = "" if one.coils_in_phase else " out of phase"
            details.append(f"two coils {one.coil_spacing * 1e3:.4g} mm apart{phase}")
        details.append(
            f"aperture {one.aperture * 1e3:.4g} mm" if one.aperture else "sensing a point"
        )
        if one.sign < 0:
            details.append("out of phase")
        phrases.append(f"{name} {', '.join(details)}")
    return "; ".join(phrases)
