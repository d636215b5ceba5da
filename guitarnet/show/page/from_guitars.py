"""Content of a live page that computes its guitars: controls and opening settings."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np

from ...circuit.harness import Harness
from ...errors import BadSetting, plain
from ...study.response.measures import level_db, peak, reference_level
from ...study.response.response import response
from ...study.response.sweep import check_guitar, frequency_grid
from ...units import plain_words
from .controls import full_label, knobs_of, notes, placed, settings_text, with_role
from .model import live_model, opened
from .still import MOST_CURVES
from .words import (
    BASS_TO,
    LEAST_PEAK,
    NAMED,
    TREBLE_FROM,
    Shown,
    cells_of,
    columns_of,
    mode_of,
    modes_of,
    told,
)

__all__ = ["from_guitars"]

_REFERENCE, *_FREQUENCIES = NAMED


def from_guitars(
    guitars: Harness | Mapping[str, Harness],
    re: str | Mapping[str, Any] | None,
    view: tuple[float, float],
    settings: Mapping[str, Any],
) -> Shown:
    """Content for one guitar, or several by label, with the opening settings."""
    builds = dict(guitars) if isinstance(guitars, Mapping) else {"": guitars}
    _check(builds, view)
    builds, marks = opened(builds, settings)
    if not isinstance(guitars, Mapping):
        builds = {plain(guitar.name): guitar for guitar in builds.values()}
    volumes = with_role(builds, "volume")
    at = {name: part.controls["mark"].default or 0.0 for name, part in knobs_of(builds)}
    if len(builds) > 1:
        at |= dict.fromkeys(volumes, 5.0)
    at |= marks
    full = full_label(volumes)
    modes = modes_of(_REFERENCE, full)
    mode = mode_of(modes, re, volumes)
    columns = columns_of(_REFERENCE, full, _FREQUENCIES)
    data = {
        "labels": [plain(label) for label in builds],
        "choice": "guitar",
        "caption": "Level, change and peak of each guitar at these settings",
        "model": live_model(builds),
        "knobs": [{"name": n, "said": plain_words(n), "mark": at[n]} for n, _ in knobs_of(builds)],
        **placed(builds),
        "volumes": volumes,
        "tones": with_role(builds, "tone"),
        "told": told(),
        "middle": [BASS_TO, TREBLE_FROM],
        "reference": _REFERENCE,
        "named": _FREQUENCIES if full else [],
        "leastPeak": LEAST_PEAK,
        "columns": columns,
        "limits": [float(f"{f:.6g}") for f in view],
        "modes": modes,
        "mode": mode,
    }
    still = partial(_still, builds, at, volumes, modes[mode]["name"], columns)
    return Shown(data, "; ".join(data["labels"]), notes(builds), still)


def _check(builds: Mapping[str, Any], view: tuple[float, float]) -> None:
    if not builds:
        raise BadSetting("guitars", "has no guitar", "give at least one, as {'mine': guitar}")
    for guitar in builds.values():
        check_guitar(guitar)
    if len(builds) > MOST_CURVES:
        raise BadSetting(
            "guitars",
            f"{len(builds)} curves cannot be told apart",
            f"give up to {MOST_CURVES}",
            len(builds),
        )
    if not 20 <= view[0] < view[1] <= 20e3:
        raise BadSetting(
            "view", f"{view!r} is no range", "give two frequencies within 20 to 20000 Hz", view
        )


def _still(
    builds: Mapping[str, Harness],
    marks: Mapping[str, float],
    volumes: list[str],
    mode: str,
    columns: list[dict[str, str]],
) -> dict[str, Any]:
    """Curves and numbers at the opening settings, for the still picture."""
    grid = np.unique(np.concatenate([frequency_grid(), _FREQUENCIES]))
    levels, cells = [], []
    for guitar in builds.values():
        turned = [name for name, _ in knobs_of({"": guitar})]
        as_set: dict[str, Any] = {name: marks[name] for name in turned}
        up = as_set | {name: 10.0 for name in volumes if name in as_set}
        h, full = (
            response(guitar, at, frequency=grid, reference_frequency=_REFERENCE)
            for at in (as_set, up)
        )
        level = level_db(h).values
        shape, shape_full = (level_db(one, re="reference") for one in (h, full))
        with np.errstate(invalid="ignore"):  # where it is silent
            change = (shape - shape_full).sel(frequency=_FREQUENCIES).values
            loss = float(reference_level(h) - reference_level(full))
            minus = level_db(full).values if mode == "full" else 0.0
            drawn = shape.values if mode == "reference" else level - minus
        top = peak(h)
        top = top.where(top.height >= LEAST_PEAK)
        numbers = [loss, *change] if volumes else []
        numbers += [float(top.frequency) / 1000, float(top.height)]
        cells.append(cells_of(numbers, columns, bool(np.isneginf(level).all())))
        levels.append(np.where(np.isneginf(level), np.nan, drawn))
    return {
        "frequency": grid,
        "levels": np.array(levels),
        "cells": cells,
        "stands": settings_text(builds, marks),
    }
