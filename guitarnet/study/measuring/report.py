"""What was measured, in a table of a few frequencies."""

from __future__ import annotations

import numpy as np
import xarray as xr

from ...table import Table
from ...units import fixed, format_value
from ..response.labels import decibels

__all__ = ["measured_table"]

_SHOWN = (20, 100, 300, 1e3, 2e3, 3e3, 5e3, 10e3, 20e3)  # Hz


def measured_table(measured: xr.Dataset) -> Table:
    """Set out an impedance, or a transfer, at tones near a few round frequencies."""
    f = measured["frequency"].values
    rows = []
    for near in _SHOWN:
        n = int(np.argmin(np.abs(np.log(f / near))))
        rows.append((format_value(f[n], "Hz", digits=3), *_cells(measured, n)))
    columns: tuple[str, ...]
    hum, mains = float(measured["hum"]), float(measured["mains"])
    note = f"Hum of {mains:g} Hz: {fixed(hum, 0)} dB re full scale."
    if measured.attrs["kind"] == "impedance":
        columns = ("frequency", "impedance", "standard error", "phase [°]", "standard error [°]")
        seen = float(measured["drift_seen"])
        note += (
            " Nobody recorded the open plug again, so drift is taken on trust."
            if np.isnan(seen)
            else f" The open plug has drifted by {fixed(seen, 3)} dB."
        )
        title = f"Impedance of {measured.attrs['name']}"
    else:
        columns = ("frequency", "level [dB]", "standard error [dB]")
        title = f"{measured.attrs['name']} under an exciter coil"
    return Table(columns, rows, title, note)


def _cells(measured: xr.Dataset, n: int) -> tuple[str, ...]:
    error = float(measured["standard_error"][n])
    if measured.attrs["kind"] != "impedance":
        size = abs(complex(measured["transfer"][n].item()))
        return fixed(float(decibels(size)), 2), fixed(20 / np.log(10) * error, 3)
    z = complex(measured["impedance"][n].item())
    return (
        format_value(abs(z), "ohm", digits=4),
        f"{100 * error / abs(z):.2g} %",
        fixed(float(np.degrees(np.angle(z))), 2),
        fixed(float(measured["phase_error"][n]), 2),
    )
