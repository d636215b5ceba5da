"""A guitar as seen from a two-lug place: its response with any network in that place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.netlist import Netlist
from ...circuit.roles import roles
from ...circuit.settings import Resolved
from ...errors import BadHarness, BadSetting, a
from ...parts.base import Part, Values
from ...parts.switch import Switch
from ...parts.two_lug import Capacitor, Empty, Network, Resistor
from ...solve import ac
from ..response.response import node_at, response
from ..response.sweep import Guitars, sweep

__all__ = ["Port", "admittance", "bleed_place", "check_audible", "knob_across", "port"]

_TWO_LUG = (Empty, Network, Capacitor, Resistor)


@dataclass(frozen=True, eq=False)
class Port:
    """Response of a guitar with any network at one place, from three responses.

    Parameters
    ----------
    open, short : xarray.DataArray
        Response at the output with nothing in the place, and with a wire.
    impedance : xarray.DataArray
        Impedance between the lugs of the empty place, with no voltage in the coils [ohm].

    Notes
    -----
    A network of admittance Y draws the current Y V_open / (1 + Y Z) from the place, so the
    output is a weighted mean of the output with nothing and with a wire::

        H(Y) = (H_open + q H_short) / (1 + q),    q = Y Z

    References
    ----------
    Bilinear dependence on one immittance: Thevenin's theorem; the form with the two extremes is
    the extra element theorem of R. D. Middlebrook, "Null double injection and the extra element
    theorem", IEEE Transactions on Education 32 (1989).
    """

    open: xr.DataArray
    short: xr.DataArray
    impedance: xr.DataArray

    def response(self, siemens: Any) -> xr.DataArray:
        """Response with a network of this admittance at the place.

        Parameters
        ----------
        siemens : array_like
            Complex admittance [S] along ``frequency``, or labelled; infinite is a wire.

        Returns
        -------
        xarray.DataArray
            Complex response, with the dimensions of the port.
        """
        y = (
            siemens
            if isinstance(siemens, xr.DataArray)
            else xr.DataArray(siemens, dims="frequency")
        )
        wire, nothing = np.isinf(y), y == 0
        z, start, turned = self._linear()
        with np.errstate(invalid="ignore"):
            made = (start + y * turned) / (1 + y * z)
        # With a wire Y is infinite; the response is the ratio of the two terms in Y.
        made = made.where(~wire, xr.where(z == 0, start, self.short))
        return made.where(~nothing, self.open).transpose(*self.open.dims)

    def _linear(self) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
        """Z, the response as Y nears 0, and the factor of Y in the numerator.

        If no current can flow, any network acts as a wire.
        """
        loose = np.isinf(self.impedance)
        z = self.impedance.where(~loose, 0)
        return z, self.open.where(~loose, self.short), self.short * z

    def squares(self, dims: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray]:
        """Coefficients of the squared response in 1, Re Y, Im Y and the square of Y.

        Parameters
        ----------
        dims : tuple of str
            Order of the dimensions.

        Returns
        -------
        above, below : numpy.ndarray
            The squared response is the ratio of two such forms; the four coefficients are last.
        """
        z, start, turned = self._linear()
        made = []
        for zero, one in ((start, turned), (xr.ones_like(z), z)):
            first, second = (part.transpose(*dims).values for part in (zero, one))
            cross = first.conj() * second
            sizes = [np.abs(part) ** 2 for part in (first, second)]
            made.append(np.stack([sizes[0], 2 * cross.real, -2 * cross.imag, sizes[1]], axis=-1))
        return made[0], made[1]


def port(
    guitars: Guitars,
    ends: str | tuple[str, str],
    frequency: np.ndarray,
    settings: Mapping[str, Any],
    *,
    at: str = "amp",
) -> Port:
    """Compute the three responses of a guitar.

    Parameters
    ----------
    guitars : Harness or mapping of str to Harness
        The guitar, or several by label; several become the dimension ``build``.
    ends : str or pair of str
        Name of a two-lug part, which is removed; or two lugs.
    frequency : numpy.ndarray
        Frequencies [Hz], one dimension.
    settings : mapping
        As in `guitarnet.response`.
    at : str
        Where to listen, as in `guitarnet.response`.

    Returns
    -------
    Port
        The three responses, with a dimension for each swept setting and ``frequency`` last.

    Raises
    ------
    BadSetting, BadHarness, BadValue, TooLarge
        As in `guitarnet.response`, or if there is no such place, or a setting belongs to it.
    """
    removed = [ends] if isinstance(ends, str) else []
    for name in settings:
        if removed and str(name).partition(".")[0] == ends:
            raise BadSetting(str(name), "is the place of the candidates", "leave the setting out")

    def compute(guitar: Harness, resolved: Resolved) -> xr.Variable:
        _check_place(guitar, ends)
        lugs = (f"{ends}.a", f"{ends}.b") if isinstance(ends, str) else ends
        one, other = (guitar.node(lug) for lug in lugs)
        node = node_at(guitar, at)
        net = guitar.stamp(resolved.values, without=removed)
        # For the impedance of the place, its other lug is the ground.
        across = Netlist(other, dict(net.branches), set(net.bare))
        shorted = Netlist(net.ground, dict(net.branches), set(net.bare))
        shorted.resistor(f"{one} to {other}", one, other, 0.0)
        seen = [
            ac.node_voltage(net, node, frequency, dims=resolved.dims),
            ac.node_voltage(shorted, node, frequency, dims=resolved.dims),
            ac.node_impedance(across, one, frequency, dims=resolved.dims),
        ]
        return xr.Variable.concat(seen, dim="seen").transpose(..., "seen", "frequency")

    values, coords, captions = sweep(guitars, settings, compute, points=3 * frequency.size)
    coords["frequency"] = xr.Variable(("frequency",), frequency, {"units": "Hz"})
    seen = xr.DataArray(values, coords=coords, attrs=captions)
    return Port(*(seen.isel(seen=index) for index in range(3)))


def _check_place(guitar: Harness, ends: str | tuple[str, str]) -> None:
    if not isinstance(ends, str):
        return
    guitar.split(ends)
    if not isinstance(guitar.parts[ends], _TWO_LUG):
        raise BadSetting(
            ends,
            f"{a(type(guitar.parts[ends]))} is no place for a two-lug network",
            "name a capacitor, a resistor, a network or an empty place",
        )


def admittance(part: Part | None, frequency: np.ndarray) -> np.ndarray:
    """Admittance of a two-lug part.

    Parameters
    ----------
    part : Part or None
        Capacitor, resistor or network of them; None is nothing.
    frequency : numpy.ndarray
        Frequencies [Hz].

    Returns
    -------
    numpy.ndarray
        Complex [S]; infinite for a wire.

    Raises
    ------
    BadSetting
        If it is not a two-lug part.
    """
    if part is None or isinstance(part, Empty):
        return np.zeros(frequency.size, dtype=complex)
    if not isinstance(part, _TWO_LUG):
        raise BadSetting(
            "network", f"{part!r} is no two-lug part", "give text as '150k || 1n', or such a part"
        )
    net = Netlist("b", bare={"a", "b"})
    part.stamp(net.inner("part", a="a", b="b"), Values(part, "part", {}))
    with np.errstate(divide="ignore", invalid="ignore"):
        ohms = ac.node_impedance(net, "a", frequency).values
        return np.where(np.isinf(ohms), 0, np.where(ohms == 0, np.inf, 1 / ohms))


def knob_across(guitar: Harness, place: str) -> str | None:
    """Name of the volume pot across a place for a treble bleed."""
    role = roles(guitar).get(place)
    return role.of[0] if role and role.kind == "treble bleed" else None


def bleed_place(guitar: Harness) -> str:
    """Name of the only place for a treble bleed.

    Raises
    ------
    BadHarness
        If there is none, or there are several.
    """
    places = [name for name, role in roles(guitar).items() if role.kind == "treble bleed"]
    if len(places) == 1:
        return places[0]
    if places:
        raise BadHarness(
            guitar.name,
            f"has {len(places)} places for a treble bleed",
            f"give place={places[0]!r}, or another of {', '.join(places)}",
        )
    raise BadHarness(
        guitar.name,
        "has no place across a volume pot",
        "add an empty one, as guitar.add('treble_bleed', None), and join its lugs a and b",
    )


def check_audible(guitar: Harness, knob: str, settings: Mapping[str, Any], at: str = "amp") -> None:
    """Refuse a knob that changes nothing at these switch places.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    knob : str
        Name of the pot.
    settings : mapping
        Settings, as in `guitarnet.response`.
    at : str
        Where to listen.

    Raises
    ------
    BadSetting
        If the knob changes nothing.
    """
    turned: dict[str, Any] = {knob: [10, 3], **settings}
    h = abs(response(guitar, turned, frequency=[100.0, 1000.0], at=at))
    if float(abs(h.sel({knob: 3}) - h.sel({knob: 10})).max()) > 1e-7 * float(h.max()):
        return
    stand = ", ".join(
        f"{name} at {part.place}"
        for name, part in guitar.parts.items()
        if isinstance(part, Switch) and name not in settings
    )
    raise BadSetting(
        knob,
        "changes nothing audible" + (f" with {stand}" if stand else ""),
        "set the switch to another place" if stand else "name another knob",
    )
