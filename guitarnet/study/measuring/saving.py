"""Measured curves as files that other programs read."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

import numpy as np
import xarray as xr

from ...errors import BadFile, plain
from ...files import write_text
from ...gate import public
from ..fit.curves import measured_values
from ..response.labels import decibels

__all__ = ["save_measurement"]

_OHM = 50.0  # what S-parameters are told for


@public
def save_measurement(measured: xr.Dataset, path: str | os.PathLike[str]) -> Path:
    """Save a measured curve as CSV, or an impedance as a Touchstone one-port.

    Parameters
    ----------
    measured : xarray.Dataset
        From `read_impedance` or `read_transfer`.
    path : path
        The file: ``.csv``, or ``.s1p`` for an impedance.

    Returns
    -------
    pathlib.Path
        The file; `guitarnet.fitting.read_curve` reads it.

    Raises
    ------
    BadSetting
        If it is no measured curve.
    BadFile
        If the ending is another, or the file cannot be written.

    References
    ----------
    Touchstone File Format Specification, version 2.0, IBIS Open Forum, 2009 (one-ports of
    version 1).

    Examples
    --------
    See `guitarnet.measuring.read_impedance`.
    """
    kind, f, values = measured_values(measured, "save_measurement")
    ending = Path(path).suffix.lower()
    if ending == ".s1p" and kind == "impedance":
        return write_text(path, _touchstone(measured, f, values))
    if ending != ".csv":
        others = " or .s1p" if kind == "impedance" else ""
        raise BadFile(str(path), "ends in no format of a curve", f"end it in .csv{others}")
    return write_text(path, _csv(measured, kind, f, values))


def _csv(measured: xr.Dataset, kind: str, f: np.ndarray, values: np.ndarray) -> str:
    size, turned = np.abs(values), np.degrees(np.angle(values))
    error = measured["standard_error"].values
    if kind == "impedance":
        columns = {
            "frequency_hz": f, "impedance_ohm": size, "phase_deg": turned,
            "standard_error_ohm": error, "phase_error_deg": measured["phase_error"].values,
        }  # fmt: skip
    else:
        level, spread = decibels(size), 20 / np.log(10) * error
        columns = {
            "frequency_hz": f, "magnitude_db": level, "phase_deg": turned,
            "standard_error_db": spread,
        }  # fmt: skip
    stream = io.StringIO()
    stream.write(f"# {plain(measured.attrs.get('name', ''))}\n")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(
        [f"{value:.9g}" for value in row] for row in zip(*columns.values(), strict=True)
    )
    return stream.getvalue()


def _touchstone(measured: xr.Dataset, hertz: np.ndarray, z: np.ndarray) -> str:
    s = (z - _OHM) / (z + _OHM)
    lines = [f"! {plain(measured.attrs.get('name', ''))}", f"# HZ S RI R {_OHM:g}"]
    lines += [f"{f:.9g} {one.real:.15g} {one.imag:.15g}" for f, one in zip(hertz, s, strict=True)]
    return "\n".join(lines) + "\n"
