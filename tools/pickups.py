"""Real pickups: two curves of each set are fitted, the third is predicted.

Run it from the checkout::

    python tools/pickups.py --half development --told capacitor
    python tools/pickups.py --half development --told capacitor --save now.csv --against before.csv
    python tools/pickups.py --levels
    python tools/pickups.py --simulated 200 --told capacitor
    python tools/pickups.py --coils --half development
    python tools/pickups.py --together

The sets, their split by family and the list of disturbed ones stand in
``tests/reference/pickup_sets``. The unloaded curve and that with the large capacitor are fitted,
each set by itself; the miss is the rms difference between the predicted and the measured third
curve (200 kohm and 470 pF) from 200 Hz to 8 kHz, in bins of a thirtieth of a decade, levels matched
from 60 to 250 Hz. The intervals hold 90 % of 2000 draws of families, with replacement (seed 1).
``--levels`` fits all three curves of every set and prints which are found to lie off.
``--coils`` fits the two coils of each humbucker and predicts what was measured of both in series
and in parallel, then fits all of it; ``--together`` times twelve pickups in one fit.
``--simulated`` fits invented pickups and counts how often an error covers the truth. Their two
curves have smooth errors of 0.15 dB that both share and 0.12 dB each its own, over 0.12 of a
decade, noise of 0.05 dB and levels 0.15 dB apart; what a fit leaves of that, 0.12 dB, is what it
leaves of real pickups. Set n is drawn by seed n. Figures in `pickups.md`.
"""

from __future__ import annotations

import argparse
import csv
import io
import lzma
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "tests" / "reference" / "pickup_sets"
if "guitarnet" not in sys.modules:
    sys.path.append(str(ROOT))  # after PYTHONPATH, so that another checkout can be tried

import guitarnet as gn  # noqa: E402
from guitarnet.study.fit.coil_model import string_response  # noqa: E402

SEEN = ("unloaded", "load-large-capacitor")
THIRD = "load-200k-470p"
TOLD = {"capacitor": ("10.15n", "1%"), "nothing": ("10n", "12%"), "resistance": ("10n", "12%")}
COIL_OF = {
    "coil 1, coil 2 open": "coil 1",
    "coil 2, coil 1 open": "coil 2",
    "slug coil, other open": "coil 1",
    "screw coil, other open": "coil 2",
    "one coil, the other open": "coil 1",
}
_DRAWS = 2000


class PickupSet(NamedTuple):
    """A row of the list of sets, and its curves as read."""

    name: str
    family: str
    half: str
    level: str
    connection: str
    one_of_two: bool
    resistance: str
    inductance: str
    curves: dict[str, tuple[np.ndarray, np.ndarray]]


def pickup_sets() -> dict[str, PickupSet]:
    """Every set by its name."""
    curves: dict[str, dict[str, list[tuple[float, float]]]] = {}
    with lzma.open(FOLDER / "curves.csv.xz", "rt", encoding="utf-8") as file:
        rows = csv.reader(line for line in file if line[0] != "#")
        next(rows)  # the names of the columns
        for name, load, frequency, level in rows:
            points = curves.setdefault(name, {}).setdefault(load, [])
            points.append((float(frequency), float(level)))
    text = (FOLDER / "sets.csv").read_text(encoding="utf-8")
    lines = io.StringIO("".join(line for line in text.splitlines(True) if line[0] != "#"))
    return {
        row["set"]: PickupSet(
            row["set"],
            row["family"],
            row["half"],
            row["level"],
            row["connection"],
            "open" in row["connection"],
            row["resistance"],
            row["inductance"],
            {load: tuple(np.array(p).T) for load, p in curves[row["set"]].items()},
        )
        for row in csv.DictReader(lines)
    }


def loads(told: str) -> dict[str, Any]:
    """Load of each curve, with what is known of the large capacitor."""
    farad, within = TOLD[told]
    capacitor = gn.fitting.Unknown(farad, within, name="large capacitor")
    loss = gn.fitting.Unknown(0.015, 0.8, name="large capacitor")
    return {
        "unloaded": gn.fitting.Load(),
        "load-large-capacitor": gn.fitting.Load(capacitance=capacitor, dissipation=loss),
        THIRD: gn.fitting.Load("200k", "470p"),
    }


def measured(one: PickupSet, load: str, told: str) -> Any:
    """One curve of a set."""
    frequency, level = one.curves[load]
    return gn.fitting.MeasuredCurve(
        frequency, level, load=loads(told)[load], slope=20, name=load, unusual=True
    )


def fitted(one: PickupSet, told: str, seen: tuple[str, ...] = SEEN, **options: Any) -> Any:
    """Fit of one set by itself; one told its resistance only where it is stated."""
    facts: dict[str, Any] = {"beside_idle_coil": one.one_of_two}
    if told == "resistance" and one.resistance:
        facts["resistance"] = one.resistance
    return gn.fit_pickup(
        [measured(one, load, told) for load in seen],
        name=one.name,
        unusual=True,
        **facts | options,
    )


def miss(one: PickupSet, fit: Any, told: str, load: str = THIRD, connection: str = "") -> float:
    """Miss of a predicted curve, by default the third [dB rms]."""
    frequency, level = one.curves[load]
    h = fit.predict(loads(told)[load], frequency, connection=connection)
    predicted = gn.level_db(h).values
    off = level - 20 * np.log10(frequency) - predicted
    low = (frequency > 60) & (frequency < 250)
    inside = (frequency >= 200) & (frequency <= 8000)
    _, group = np.unique(np.floor(30 * np.log10(frequency[inside])), return_inverse=True)
    mean = np.bincount(group, off[inside]) / np.bincount(group)
    return float(np.sqrt(np.mean((mean - off[low].mean()) ** 2)))


def figures(misses: np.ndarray) -> np.ndarray:
    """Median, 90 % and worst."""
    return np.array([np.median(misses), np.quantile(misses, 0.9), misses.max()])


def summary(rows: list[tuple[PickupSet, float, float]]) -> list[str]:
    """Figures with their intervals, and those of the pairs; families are drawn."""
    random = np.random.default_rng(1)
    families = sorted({one.family for one, _, _ in rows})
    groups = [
        np.array([(now, before) for one, now, before in rows if one.family == family])
        for family in families
    ]
    values = np.concatenate(groups)
    draws = [
        np.concatenate([groups[i] for i in random.integers(len(groups), size=len(groups))])
        for _ in range(_DRAWS)
    ]

    def line(label: str, of: Any) -> str:
        ends = np.quantile([of(draw) for draw in draws], [0.05, 0.95], axis=0).T
        cells = [f"{x:5.2f} [{a:.2f}, {b:.2f}]" for x, (a, b) in zip(of(values), ends, strict=True)]
        return f"  {label:18s}" + "   ".join(cells)

    lines = [line("median, 90 %, worst", lambda v: figures(v[:, 0]))]
    if not np.isnan(values[:, 1]).any():
        lines.append(line("before", lambda v: figures(v[:, 1])))
        lines.append(line("less than before", lambda v: figures(v[:, 1]) - figures(v[:, 0])))
    return lines


def simulated(seed: int, told: str) -> tuple[dict[str, float], Any]:
    """One invented pickup: its values and its fit."""
    random = np.random.default_rng(seed)

    def near(value: float, sd: float, share: bool = False) -> float:
        odds = (value / (1 - value) if share else value) * np.exp(random.normal(0, sd))
        return float(odds / (1 + odds) if share else odds)

    true = {
        "resistance": near(8e3, 0.35),
        "inductance": near(4.5, 0.4),
        "capacitance": near(165e-12, 0.3),
        "eddy_resistance": near(26e3, 0.6),
        "eddy_share": near(0.38, 0.25, share=True),
        "eddy_order": near(0.87, 0.4, share=True),
        "screening_frequency": near(3.2e3, 0.17),
        "slow_share": near(0.08, 0.4),
        "slow_frequency": near(680.0, 0.2),
    }
    instrument = 1 / near(1e6, 0.15)
    within = float(TOLD[told][1].rstrip("%")) / 100
    large = 10e-9 * np.exp(random.normal(0, within))
    f = np.geomspace(60, 12e3, 220)
    apart = np.subtract.outer(np.log10(f), np.log10(f)) / 0.12
    smooth = np.linalg.cholesky(np.exp(-(apart**2) / 2) + 1e-6 * np.eye(f.size))
    shared = 0.15 * smooth @ random.standard_normal(f.size)
    unknown = gn.fitting.Unknown(10e-9, within, name="large capacitor")
    loss = gn.fitting.Unknown(0.015, 0.8, name="large capacitor")
    curves = []
    for farad, load in (
        (0.0, gn.fitting.Load()),
        (large, gn.fitting.Load(capacitance=unknown, dissipation=loss)),
    ):
        y = instrument + 2j * np.pi * f * farad * (1 - 0.015j)
        level = 20 * np.log10(f * np.abs(string_response(true, f, y)))
        level += shared + 0.12 * smooth @ random.standard_normal(f.size)
        level += random.normal(0, 0.05, f.size) + random.normal(0, 0.15)
        curves.append(
            gn.fitting.MeasuredCurve(f, level, load=load, slope=20, name=str(load), unusual=True)
        )
    return true, gn.fit_pickup(curves, beside_idle_coil=False, unusual=True)


def coverage(count: int, told: str) -> None:
    """Print how often one and two standard errors cover the truth."""
    off: dict[str, list[float]] = {}
    rms = []
    for seed in range(count):
        true, fit = simulated(seed, told)
        rms += [curve.rms for curve in fit.curves]
        for name, value in true.items():
            found = fit.values[name]
            off.setdefault(name, []).append(abs(found.value - value) / found.error)
    off["all"] = [one for each in off.values() for one in each]
    print(
        f"{count} simulated sets, {told} told, residual {np.median(rms):.2f} dB rms in the median"
    )
    for name, each in off.items():
        within = [100 * float(np.mean(np.array(each) < n)) for n in (1, 2)]
        print(f"  {name:22s}{within[0]:4.0f} % {within[1]:4.0f} %")


def compare_levels() -> None:
    """Print the range of levels of every set, and whether it is reported."""
    reported: dict[str, list[int]] = {}
    for one in pickup_sets().values():
        fit = fitted(one, "capacitor", (*SEEN, THIRD))
        above = [curve.above for curve in fit.curves]
        found = any("loads allowed for" in sentence for sentence in fit.warnings)
        reported.setdefault(f"{one.half}, {one.level}", []).append(found)
        print(f"{one.name:36s} {one.level:10s} {np.ptp(above):5.2f} dB {'reported' * found}")
    for label, each in sorted(reported.items()):
        print(f"{label}: {sum(each)} of {len(each)} reported")


def humbuckers() -> dict[str, dict[str, PickupSet]]:
    """Families of which each coil and both together were measured, by connection."""
    families: dict[str, dict[str, PickupSet]] = {}
    for one in pickup_sets().values():
        how = COIL_OF.get(one.connection, one.connection)
        if how in ("coil 1", "coil 2", "series", "parallel"):
            families.setdefault(one.family, {})[how] = one
    whole = {"coil 1", "coil 2", "series"}
    return {family: sets for family, sets in families.items() if whole <= set(sets)}


def fit_of_two(sets: dict[str, PickupSet], family: str) -> Any:
    """Fit of one humbucker from all curves of some of its connections."""
    told = [
        gn.fitting.Measurements(
            [measured(one, load, "capacitor") for load in (*SEEN, THIRD)],
            connection=how,
            unusual=True,
        )
        for how, one in sets.items()
    ]
    return gn.fitting.fit_pickups({family: told}, unusual=True)[family]


def compare_coils(half: str) -> None:
    """Print what the two coils of each humbucker say of both together."""
    loaded: dict[str, list[float]] = {}
    for family, sets in humbuckers().items():
        if sets["series"].half != half:
            continue
        coils = {how: one for how, one in sets.items() if how.startswith("coil")}
        began = time.process_time()
        of_coils, of_all = fit_of_two(coils, family), fit_of_two(sets, family)
        spent = (time.process_time() - began) / 2
        level = "disturbed" if any(o.level == "disturbed" for o in sets.values()) else "undisturbed"
        print(f"{family}, {half}, {level}, {spent:.1f} s a fit")
        for how, one in sets.items():
            if how in coils:
                continue
            off = [miss(one, of_coils, "capacitor", load, how) for load in (*SEEN, THIRD)]
            left = [curve.rms for curve in of_all.curves if curve.curve.name.startswith(how)]
            print(f"  {how}: predicted {_listed(off)}, fitted too {_listed(left)}")
            if how == "series":
                loaded.setdefault(level, []).append(off[-1])
        for label, fit in (("coils", of_coils), ("all", of_all)):
            k, within = fit.values["coupling"].value, fit.values["coupling"].error
            pico = [
                1e12 * one.value
                for one in (
                    fit.values["between_capacitance"],
                    fit.values["lead_capacitance"],
                    fit.loads["instrument capacitance"],
                )
            ]
            worst = max(curve.rms for curve in fit.curves)
            print(
                f"  from {label}: k {k:.3f} +- {within:.3f}; between, lead, instrument "
                + ", ".join(f"{one:.0f}" for one in pico)
                + f" pF; curves within {worst:.2f} dB"
            )
    for level, each in loaded.items():
        print(
            f"loaded series curve, {half}, {level}: {_listed(each)}; median {np.median(each):.2f}"
        )


def _listed(each: list[float]) -> str:
    return ", ".join(f"{one:.2f}" for one in each)


def fit_together() -> None:
    """Print the processor time of twelve pickups that are fitted to two curves each, as one rig."""
    sets = [one for one in pickup_sets().values() if one.level == "clear"][:12]
    told = {
        one.name: gn.fitting.Measurements(
            [measured(one, load, "capacitor") for load in SEEN],
            beside_idle_coil=one.one_of_two,
            unusual=True,
        )
        for one in sets
    }
    began = time.process_time()
    gn.fitting.fit_pickups(told, unusual=True)
    print(f"{len(told)} pickups together: {time.process_time() - began:.1f} s of processor time")


def main() -> int:
    """Print the miss of every set, and the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--half", choices=("development", "set aside"), default="development")
    parser.add_argument("--told", choices=tuple(TOLD), default="capacitor")
    parser.add_argument("--floor", action="store_true", help="fit all three curves")
    parser.add_argument("--save", type=Path, help="write the misses to this file")
    parser.add_argument("--against", type=Path, help="pair with the misses in this file")
    parser.add_argument("--levels", action="store_true", help="print which curves lie off")
    parser.add_argument("--simulated", type=int, metavar="N", help="fit N invented pickups")
    parser.add_argument("--coils", action="store_true", help="predict both coils from each")
    parser.add_argument("--together", action="store_true", help="time twelve pickups in one fit")
    chosen = parser.parse_args()
    if chosen.simulated:
        coverage(chosen.simulated, chosen.told)
        return 0
    if chosen.coils:
        compare_coils(chosen.half)
        return 0
    if chosen.together:
        fit_together()
        return 0
    if chosen.levels:
        compare_levels()
        return 0
    before: dict[str, float] = {}
    if chosen.against:
        lines = chosen.against.read_text(encoding="utf-8").splitlines()
        before = {name: float(value) for name, value in (line.split(",") for line in lines)}
    seen = (*SEEN, THIRD) if chosen.floor else SEEN
    rows, spent = [], []
    for one in pickup_sets().values():
        if one.half != chosen.half:
            continue
        began = time.process_time()
        fit = fitted(one, chosen.told, seen)
        spent.append(time.process_time() - began)
        found = next(v for name, v in fit.loads.items() if name == "large capacitor capacitance")
        rows.append((one, miss(one, fit, chosen.told), before.get(one.name, np.nan)))
        print(
            f"{one.name:36s} {one.level:10s} {rows[-1][1]:5.2f}"
            f"  capacitor {found.value * 1e9:5.2f} nF, residuals "
            + ", ".join(f"{curve.rms:.2f}" for curve in fit.curves),
            flush=True,
        )
    for label, levels in {
        "undisturbed": ("clear", "doubtful"),
        "disturbed": ("disturbed",),
    }.items():
        part = [row for row in rows if row[0].level in levels]
        print(f"{chosen.half}, {chosen.told} told, {len(part)} {label} sets [dB]")
        print("\n".join(summary(part)))
    print(f"processor time of a fit: median {np.median(spent):.2f} s, most {max(spent):.2f} s")
    if chosen.save:
        text = "".join(f"{one.name},{value:.6f}\n" for one, value, _ in rows)
        chosen.save.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
