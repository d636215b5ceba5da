"""Guitars with a hidden fault and parts drawn at random: what a meter then reads.

The readings come from the solver of the frequency response at 0 Hz with the drawn values, not from
the linear model that the diagnosis uses.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.study.faults.diagnose import same_readings
from guitarnet.study.faults.faults import Fault, faults
from guitarnet.study.faults.likelihood import ReadingModel
from guitarnet.study.spread.tolerance import nominal


def candidates(guitar):
    """The guitar without a fault, and with each."""
    return [Fault("none", "no fault", guitar, guitar), *faults(guitar)]


def classes(guitar, readings, bench):
    """Classes of faults, from nominal readings alone, and the prediction of each fault."""
    found = candidates(guitar)
    expected = [bench.predict(fault.guitar, readings, fault.unknown) for fault in found]
    return found, expected, same_readings(found, expected, bench.meter)


def bench_for(guitar):
    """A usual meter and usual tolerances."""
    return ReadingModel(gn.bench.Ohmmeter(), gn.tolerances.tolerances_of(guitar))


def drawn_readings(fault, readings, meter, draws, seed, together=()):
    """What a meter reads on guitars with the fault, shape (draws, readings).

    Half the variance of the values ``together`` is common to them, as diagnosis takes it of coils.
    """
    rng = np.random.default_rng(seed)
    values = gn.tolerances.spread(fault.guitar, draws, seed=seed)
    if together:
        shared = gn.tolerances.spread(fault.guitar, draws, seed=seed + 1, alike=[together])
        own = {path: nominal(fault.guitar, path) for path in together}
        values |= {p: own[p] + (values[p] + shared[p] - 2 * own[p]) / 2**0.5 for p in together}
    if fault.unknown:
        path, tried = fault.unknown
        low, high = min(tried), max(tried)
        anything = (
            np.exp(rng.uniform(np.log(low), np.log(high), draws))
            if fault.kind == "resistive joint"
            else rng.uniform(low, high, draws)
        )
        values[path] = xr.DataArray(anything, dims="sample")
    values = {path: value for path, value in values.items() if path.endswith("resistance")}
    seen = np.empty((draws, len(readings)))
    for column, reading in enumerate(readings):
        settings = _with_wipers_off(fault.guitar, dict(reading.settings), rng, draws)
        ohms = gn.jack_resistance(fault.guitar, meter=meter, **settings, **values).values
        ohms = np.broadcast_to(ohms, draws)
        there = np.isfinite(ohms)
        off = rng.uniform(-1, 1, draws) * meter.limit(np.where(there, ohms, 0.0))
        seen[:, column] = np.where(there, np.maximum(np.where(there, ohms, 0) + off, 0), np.inf)
    return seen


def _with_wipers_off(guitar, settings, rng, draws):
    """Set a knob between its ends by its wiper, up to a fifth of the shorter piece off."""
    for name, mark in list(settings.items()):
        part = guitar.parts[name]
        if isinstance(part, gn.Pot) and 0 < mark < 10:
            del settings[name]
            track = float(part.taper(mark / 10))
            off = 0.2 * min(track, 1 - track) * rng.uniform(-1, 1, draws)
            settings[f"{name}.track"] = xr.DataArray(track + off, dims="sample")
    return settings


def found_in_first_three(guitar, readings, draws, seed=0, every=1, known=None):
    """Hide each fault in turn; count how often its class is among the three most probable.

    Or one fault in so many, by the order of the list, so that every kind has its share. ``known``
    is what `classes` gave, if it was asked. Returns the share, the sizes of the classes, and the
    faults that were missed.
    """
    bench = bench_for(guitar)
    found, expected, groups = known or classes(guitar, readings, bench)
    home = {index: number for number, group in enumerate(groups) for index in group}
    hits, missed = 0, []
    hidden = list(enumerate(found))[::every]
    for index, fault in hidden:
        for seen in drawn_readings(fault, readings, bench.meter, draws, seed + index):
            totals = np.array([bench.weigh(one, seen).total for one in expected])
            scores = [np.logaddexp.reduce(totals[group]) for group in groups]
            if home[index] in np.argsort(scores)[-3:]:
                hits += 1
            else:
                missed.append(fault.label)
    return hits / (draws * len(hidden)), sorted(map(len, groups), reverse=True), missed


def sound_called_faulty(guitar, readings, draws, seed=0, known=None):
    """Share of sound guitars, parts and meter drawn, whose likeliest class is of faults alone."""
    bench = bench_for(guitar)
    found, expected, groups = known or classes(guitar, readings, bench)
    called = 0
    for seen in drawn_readings(found[0], readings, bench.meter, draws, seed):
        totals = np.array([bench.weigh(one, seen).total for one in expected])
        scores = [np.logaddexp.reduce(totals[group]) for group in groups]
        called += 0 not in groups[int(np.argmax(scores))]
    return called / draws
