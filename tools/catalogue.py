"""The catalogue: every undisturbed set of curves fitted, and written as a ready pickup.

Run it from the checkout::

    python tools/catalogue.py            # fits all sets and writes guitarnet/parts/catalogue.json
    python tools/catalogue.py --check    # fits them and says what has changed
    python tools/catalogue.py --priors   # whether what is known of a kind helps

Each set is fitted by itself to its three curves, with what is stated of it (ohms, henry) and the
large capacitor of the rig, 10.15 nF within 1 %, which follows from the curves against the 470 pF.
A curve of one coil beside an idle one is told so. Sets whose three curves do not agree in level,
and those of which that is doubtful, are left out (``level`` in ``pickup_sets/sets.csv``).

Of each fit stand in the file: the part as in a harness file, rounded to four digits; every value
of the model with its error; the covariance of their logarithms as the rows of its lower triangular
root, one after the other; what the part misses of each curve; and what it
misses of all three, in third octaves. Names are ours and stay; what a pickup is called says its
ohms, fitted where none are stated.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

import guitarnet as gn
from guitarnet.gate import computing
from guitarnet.parts.base import Part
from guitarnet.study.fit.result import moved
from guitarnet.units import read_value

# First, because it finds the package where that is not installed.
from pickups import SEEN, THIRD, PickupSet, fitted, pickup_sets

FILE = Path(gn.__file__).parent / "parts" / "catalogue.json"
SOURCE = "open dataset, GitHub user strayr, commit 7760780 (2023-12-09)"
LICENCE = "CC0 1.0"
TOLD = "capacitor"
# A number is a place in this list: add at its end, and take none out. A name may leave the ohms
# that are fitted by this share.
_NAMED_WITHIN = 0.05

NAMES = {
    "single-coil-ceramic-bar-steel-poles": (
        "single coil",
        "single coil, steel poles on a ceramic bar, 6.3k",
    ),
    "single-coil-e": ("single coil", "single coil, 10.3k"),
    "single-coil-wide-10.6k": ("single coil", "wide single coil, 10.6k"),
    "two-coil-medium": ("humbucker", "humbucker, 7.4k"),
    "two-coil-d.series": ("humbucker", "humbucker, 8.1k"),
    "two-coil-g.series": ("humbucker", "humbucker, slugs and screws, 9.6k"),
    "two-coil-hot-series": ("humbucker", "humbucker, 11.9k"),
    "two-coil-j-bridge": ("humbucker", "bridge humbucker, 12.2k"),
    "two-coil-12.69k-neck": ("humbucker", "neck humbucker, 12.7k"),
    "two-coil-i-bridge": ("humbucker", "bridge humbucker, 13.7k"),
    "two-coil-f.series": ("humbucker", "humbucker, 15.9k"),
    "two-coil-blades-series": ("humbucker", "blade humbucker, 16.6k"),
    "two-coil-k": ("humbucker", "humbucker, 17.5k"),
    "two-coil-h.bare": ("humbucker", "humbucker without its cover, 18.0k"),
    "two-coil-h.covered": ("humbucker", "humbucker with a metal cover, 17.5k"),
    "two-coil-hot-parallel": ("humbucker in parallel", "humbucker in parallel, 2.7k"),
    "two-coil-d.coil-1": ("one coil of a humbucker", "one coil of the 8.1k humbucker, 4.0k"),
    "two-coil-d.coil-2": ("one coil of a humbucker", "one coil of the 8.1k humbucker, 4.2k"),
    "two-coil-e.coil-2": ("one coil of a humbucker", "one coil of a humbucker, 6.7k"),
    "two-coil-f.coil-1": ("one coil of a humbucker", "one coil of the 15.9k humbucker, 7.6k"),
    "two-coil-g.coil-2": ("one coil of a humbucker", "screw coil of the 9.6k humbucker, 5.5k"),
    "two-coil-blades.coil-2": (
        "one coil of a humbucker",
        "one coil of the 16.6k blade humbucker, 8.2k",
    ),
    "two-coil-blades-one-coil": (
        "one coil of a humbucker",
        "one coil of the 16.6k blade humbucker, 9.3k",
    ),
    "two-coil-hot-coil-1": ("one coil of a humbucker", "one coil of the 11.9k humbucker, 5.9k"),
    "two-coil-hot-coil-2": ("one coil of a humbucker", "one coil of the 11.9k humbucker, 6.8k"),
    "bass-b-rear": ("bass pickup", "bass pickup, rear, 15.0k"),
    "bass-two-coil-a.series": ("bass humbucker", "bass humbucker, 7.6k"),
    "bass-two-coil-a.coil-1": (
        "one coil of a bass humbucker",
        "one coil of the 7.6k bass humbucker, 3.79k",
    ),
    "bass-two-coil-a.coil-2": (
        "one coil of a bass humbucker",
        "one coil of the 7.6k bass humbucker, 3.81k",
    ),
}
"""Kind and name of every set in the catalogue, by its number from 1."""


def digits(value: float, count: int = 4) -> float:
    """Round to so many digits."""
    return float(f"{value:.{count - 1}e}")


def rounded(part: Any) -> Any:
    """Give the same part with four digits of each value."""
    changed: dict[str, Any] = {}
    for field in dataclasses.fields(part):
        value = getattr(part, field.name)
        if isinstance(value, Part):
            changed[field.name] = rounded(value)
        elif isinstance(value, float):
            changed[field.name] = digits(value)
    with computing():
        return dataclasses.replace(part, **changed, source="")


def plain(part: Any) -> dict[str, Any]:
    """Write a part as in a harness file."""
    return dict(gn.harness_to_dict(gn.Harness({"pickup": part}, []))["parts"]["pickup"])


def entry(one: PickupSet, kind: str, name: str) -> dict[str, Any]:
    """Fit a set and write it as plain data."""
    facts = {
        field: stated
        for field, stated in (("resistance", one.resistance), ("inductance", one.inductance))
        if stated
    }
    fit = fitted(one, TOLD, (*SEEN, THIRD), **facts)
    named = read_value(name.rpartition(" ")[2], "ohm")
    ohms = fit.values["resistance"].value
    if abs(named / ohms - 1) > _NAMED_WITHIN:
        print(f"{name}: the fit gives {ohms:.0f} ohm", file=sys.stderr)
    notes = [
        f"its {curve.curve.name} curve lies {abs(curve.above):.1f} dB off the level of the others"
        for curve in moved(fit.curves)
    ]
    return {
        "name": name,
        "kind": kind,
        "set": one.name,
        "told": facts,
        "part": plain(rounded(fit.pickup)),
        "values": {
            key: [digits(v.value), digits(v.error, 2), v.unit, v.determined]
            for key, v in {**fit.values, **fit.loads}.items()
        },
        "loads": list(fit.loads),
        "root": [
            digits(x)
            for i, row in enumerate(np.linalg.cholesky(fit.covariance.values))
            for x in row[: i + 1]
        ],
        "curves": {curve.curve.name: round(curve.rms, 3) for curve in fit.curves},
        "third_octaves": [digits(f, 5) for f in fit.missed.frequency.values],
        "missed": [round(x, 3) for x in fit.missed.values.tolist()],
        "notes": notes,
    }


def catalogue() -> dict[str, Any]:
    """Fit every set."""
    sets = pickup_sets()
    clear = {name for name, one in sets.items() if one.level == "clear"}
    assert clear == set(NAMES), sorted(clear ^ set(NAMES))
    pickups: list[dict[str, Any]] = []
    for name, (kind, words) in NAMES.items():
        pickups.append(entry(sets[name], kind, words))
        print(f"{len(pickups):3d} {words}", flush=True)
    return {
        "schema": 1,
        "source": SOURCE,
        "licence": LICENCE,
        "left_out": len(sets) - len(clear),
        "pickups": pickups,
    }


def text_of(data: dict[str, Any]) -> str:
    """Write it with a line for each pickup."""
    head = {key: value for key, value in data.items() if key != "pickups"}
    lines = ",\n".join(json.dumps(one, ensure_ascii=False) for one in data["pickups"])
    return f'{json.dumps(head)[:-1]}, "pickups": [\n{lines}\n]}}\n'


def changes(old: dict[str, Any], new: dict[str, Any]) -> list[str]:
    """Say which values have changed by more than a tenth of their error, and which are new."""
    lines = []
    before = {one["name"]: one for one in old["pickups"]}
    for one in new["pickups"]:
        was = before.get(one["name"])
        if was is None:
            lines.append(f"{one['name']}: new")
            continue
        for key, (value, error, *_) in one["values"].items():
            if key not in was["values"]:
                lines.append(f"{one['name']}: {key} is new")
            elif abs(value - was["values"][key][0]) > 0.1 * error:
                lines.append(f"{one['name']}: {key} {was['values'][key][0]:g} -> {value:g}")
        if one["part"].get("kind") != was["part"].get("kind"):
            lines.append(f"{one['name']}: is a {one['part']['kind']} now")
    return lines


def try_priors() -> None:
    """Fit each to its ohms and a loaded peak, with the priors of the others of its kind."""
    # Here, since they read the file that is made by the rest.
    from guitarnet.study.catalogue.entries import of_kind
    from guitarnet.study.catalogue.kinds import priors_of
    from guitarnet.study.catalogue.listing import model_peak

    load = gn.fitting.Load("200k", "470p")
    for kind in ("humbucker", "one coil of a humbucker"):
        every = of_kind(kind)
        off: dict[str, list[float]] = {"without": [], "with": []}
        for one in every:
            hertz, _ = model_peak(one, load)
            family = one.measured_as.partition(".")[0]
            others = [p for p in every if p.measured_as.partition(".")[0] != family]
            for label, known in (("without", None), ("with", priors_of(others))):
                fit = gn.fit_pickup(
                    resistance=one.values["resistance"].value,
                    peak=gn.fitting.PeakReading(hertz, load, unusual=True),
                    priors=known,
                    losses=True,
                    unusual=True,
                )
                ratio = fit.values["inductance"].value / one.values["inductance"].value
                off[label].append(abs(np.log(ratio)))
        for label, each in off.items():
            figures = ", ".join(f"{100 * x:.0f} %" for x in np.quantile(each, [0.5, 0.9, 1.0]))
            print(f"{kind}, {len(each)}, L {label} priors of its kind: off by {figures}")


def main() -> int:
    """Fit all sets; write the file, or compare with it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare with the file, write nothing")
    parser.add_argument("--priors", action="store_true", help="try what is known of a kind")
    chosen = parser.parse_args()
    if chosen.priors:
        try_priors()
        return 0
    made = catalogue()
    old = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {"pickups": []}
    found = changes(old, made)
    print("\n".join(found) or "nothing has changed by a tenth of its error")
    if chosen.check:
        return bool(found)
    FILE.write_text(text_of(made), encoding="utf-8")
    print(f"{FILE.name}: {FILE.stat().st_size} bytes, {len(made['pickups'])} pickups")
    return 0


if __name__ == "__main__":
    sys.exit(main())
