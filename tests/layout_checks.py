"""What the tests of the ready layouts share: pickups, truth tables as text, ngspice, swaps."""

from __future__ import annotations

import itertools

import numpy as np

import guitarnet as gn
from guitarnet.solve.spice import run_ngspice
from guitarnet.study.bench.truth_table import selections

NECK = gn.Pickup("6.0k", "2.3 H", "110p")
MIDDLE = gn.Pickup("6.2k", "2.4 H", "120p", winding=-1, magnet=-1)
BRIDGE = gn.Pickup("6.8k", "2.8 H", "130p")
COILS = gn.Coil("4.1k", "2.2 H", "100p"), gn.Coil("4.3k", "2.3 H", "110p")
LEADS = gn.Humbucker(*COILS, connection="leads")
OTHER_LEADS = gn.Humbucker(
    gn.Coil("4.4k", "2.5 H", "105p"), gn.Coil("4.6k", "2.6 H", "115p"), connection="leads"
)


def truth(guitar, **settings):
    """Each place (or tuple of places) with coils and senses, how, and the controls that work.

    Coils are written as "+neck -bridge.coil_1", controls as a set.
    """
    found = {}
    for row in selections(guitar, **settings):
        places = tuple(row.setting.values())
        coils = " ".join(f"{'+' if sense > 0 else '-'}{name}" for name, sense in row.coils.items())
        found[places[0] if len(places) == 1 else places] = coils, row.how, set(row.controls)
    return found


def capacitors(guitar, **settings):
    """Each place with the capacitors that are in circuit."""
    return {
        next(iter(row.setting.values())): row.capacitors for row in selections(guitar, **settings)
    }


def same_as_ngspice(guitar, **settings):
    """Compare every combination of switch places with ngspice: 1e-9 of the largest value."""
    switches = {n: p.places for n, p in guitar.parts.items() if isinstance(p, gn.Switch)}
    for places in itertools.product(*switches.values()):
        here = dict(zip(switches, places, strict=True)) | settings
        frequency, volts = run_ngspice(
            gn.formulas.to_spice(guitar, frequency=(50, 15e3), per_decade=6, **here)
        )
        found = gn.response(guitar, frequency=frequency, **here).values
        assert np.abs(volts).max() > 0, here
        assert np.abs(volts - found).max() < 1e-9 * np.abs(found).max(), here


def swapped(guitar, one, other):
    """The same harness with two lugs in each other's places: a wiring error."""
    change = {one: other, other: one}
    return gn.Harness(
        guitar.parts,
        [[change.get(lug, lug) for lug in joint] for joint in guitar.joined],
        [change.get(lug, lug) for lug in guitar.open_lugs],
        guitar.name,
    )
