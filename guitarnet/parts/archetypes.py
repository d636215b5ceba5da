"""Ready pickups, generic: none is the pickup of a maker, each says where its numbers come from."""

from __future__ import annotations

from ..errors import by_name
from ..frozen import Frozen
from ..gate import public
from .pickup import Pickup

__all__ = ["ready_pickup", "ready_pickups"]

_PRACTICE = "common practice, no source"


def _fitted(name: str) -> str:
    return f"fitted to the open measurement {name!r} in tests/reference (CC0), rounded"


ready_pickups = Frozen(
    {
        "bright single coil": Pickup(
            6.3e3,
            2.75,
            220e-12,
            eddy_resistance=19e3,
            eddy_share=0.19,
            screening_frequency=2.9e3,
            source=_fitted("single-coil-alnico-rods-bridge"),
        ),
        "steel-pole single coil": Pickup(
            6.4e3,
            3.7,
            150e-12,
            eddy_resistance=36e3,
            eddy_share=0.36,
            screening_frequency=2.7e3,
            source=_fitted("single-coil-ceramic-bar-steel-poles"),
        ),
        "wide single coil": Pickup(
            10.6e3,
            6.6,
            143e-12,
            eddy_resistance=39e3,
            eddy_share=0.41,
            screening_frequency=2.1e3,
            source=f"{_fitted('single-coil-wide-10.6k')}; 10.6 kΩ and 6.7 H are stated there",
        ),
        "lossless single coil": Pickup(
            6.5e3,
            2.9,
            141.7e-12,
            source='6.5 kΩ, 2.9 H at 120 Hz, 7.85 kHz: Premier Guitar, "Demystifying DCR"; 141.7 '
            "pF follows; no losses are told",
        ),
        "medium humbucker": Pickup(
            7.5e3,
            3.8,
            183e-12,
            eddy_resistance=31e3,
            eddy_share=0.37,
            screening_frequency=2.6e3,
            source=_fitted("two-coil-medium"),
        ),
        "neck humbucker": Pickup(
            12.7e3,
            7.0,
            230e-12,
            eddy_resistance=76e3,
            eddy_share=0.44,
            screening_frequency=2.6e3,
            source=f"{_fitted('two-coil-12.69k-neck')}; 12.69 kΩ stated there",
        ),
        "hot humbucker": Pickup(
            11.9e3,
            6.8,
            165e-12,
            eddy_resistance=32e3,
            eddy_share=0.36,
            screening_frequency=2.3e3,
            source=_fitted("two-coil-hot-series"),
        ),
        "covered humbucker": Pickup(
            8e3,
            4.5,
            180e-12,
            eddy_resistance=30e3,
            eddy_share=0.45,
            screening_frequency=2e3,
            source=f"{_PRACTICE}; losses a guess: a cover screens from lower on",
        ),
        "lossless hot humbucker": Pickup(
            16.56e3,
            8.059,
            128e-12,
            source="16.56 kΩ, 8.059 H, 128 pF: forum bench measurement, quoted in a write-up; no "
            "losses are told",
        ),
        "bass single coil": Pickup(7.5e3, 3.8, 150e-12, source=f"{_PRACTICE}; no losses told"),
        "bass split coil": Pickup(11e3, 6.0, 150e-12, source=f"{_PRACTICE}; no losses told"),
    }
)
"""Ready pickups by name, each with the source of its values."""


@public(name=None)
def ready_pickup(name: str) -> Pickup:
    """Give a ready generic pickup by name.

    A start where nothing was measured yet. Two-coil pickups stand here as one coil, both coils
    in series.

    Parameters
    ----------
    name : str
        One of ``ready_pickups``, such as "bright single coil", "wide single coil", "medium
        humbucker", "covered humbucker", "hot humbucker", "bass split coil".

    Returns
    -------
    Pickup
        The pickup, with the source of its values.

    Raises
    ------
    BadSetting
        If there is none of that name.

    References
    ----------
    Named on each pickup as ``source``. Those fitted to measured curves were fitted to all three
    curves of the set, six sets together, with eddy loss and first-order screening; the winding's
    capacitance includes the pickup's lead. Without slow screening and idle coil in that fit the
    rig's instrument came to 2.2 MΩ, against 1.05 MΩ in `guitarnet.fitting.fit_pickups` with them.

    Examples
    --------
    >>> ready_pickup("wide single coil").inductance
    6.6
    """
    return by_name(ready_pickups, name, "ready pickup")
