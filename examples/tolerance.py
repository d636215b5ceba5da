r"""How far apart are two guitars built alike, which part matters, and what does it sound like?

Without options this runs an invented guitar: a single coil, 250 kOhm pots, 5 m of cable, a treble
bleed. With options it runs your own; no Python is needed:

    python examples/tolerance.py --harness my_guitar.toml --guitars 5000
    python examples/tolerance.py --tolerance volume.resistance=5% --tolerance pickup.inductance=3%
    python examples/tolerance.py --clip my_recording.wav

It prints tables and leaves pictures, two CSV files and sounds in a folder. Every figure is of the
model; nothing here is measured on a guitar. Before you measure or solder one, unplug it from the
amplifier, and never open an amplifier: its voltages are lethal even when it is off.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import numpy as np

import guitarnet as gn
from guitarnet.files import write_bytes
from guitarnet.show.figures.picture import picture

MARKS = (10, 7, 5)
BAND = (200.0, 5000.0)


def invented() -> gn.Harness:
    """The guitar of the scenario."""
    return gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p", "300k", 0.3, "8 kHz"),
        treble_bleed="150k || 1n",
        cable="5 m",
        name="invented guitar",
    )


def stated(given: Sequence[str]) -> dict[str, str]:
    """Tolerances as written: volume.resistance=5%."""
    pairs = [text.partition("=") for text in given]
    for path, sign, share in pairs:
        if not (path and sign and share):
            raise gn.errors.BadSetting("--tolerance", f"{path!r} has no share", "write PATH=5%")
    return {path: share for path, _, share in pairs}


def knob_of(guitar: gn.Harness) -> str:
    """The first volume pot."""
    pots = [name for name, part in guitar.parts.items() if isinstance(part, gn.Pot)]
    volumes = [name for name in pots if "volume" in name]
    if not volumes:
        raise gn.errors.BadHarness(guitar.name, "has no pot called volume", "name one so")
    return volumes[0]


def run(options: argparse.Namespace) -> None:
    """Do the whole job."""
    guitar = gn.load_harness(options.harness) if options.harness else invented()
    shares = {**gn.tolerances.tolerances_of(guitar), **stated(options.tolerance)}
    knob, out = knob_of(guitar), Path(options.out)
    drawn = gn.tolerances.spread(guitar, options.guitars, seed=options.seed, tolerances=shares)

    f = np.geomspace(50, 15e3, 200)
    peaks = gn.peak(gn.response(guitar, {knob: 10, **drawn}, frequency=f))
    marked = gn.peak(gn.response(guitar, {knob: 10}, frequency=f))
    names = {"peak": "frequency", "height re 100 Hz": "height"}
    table = gn.tolerances.quantile_table(
        {label: peaks[name] for label, name in names.items()},
        {label: marked[name] for label, name in names.items()},
    )
    print(f"{options.guitars} of {guitar.name}, {knob} 10:\n{table}\n")
    table.to_csv(out / "peaks.csv")

    ranked = gn.tolerances.sensitivity_ranking(
        guitar, {knob: 10}, frequency=np.geomspace(*BAND, 80), tolerances=shares, re="reference"
    )
    rows = [
        (path, f"{off:.0%}", f"{worst:.2f}")
        for path, off, worst in zip(
            ranked.value.values, ranked.tolerance.values, ranked.worst.values, strict=True
        )
    ]
    order = gn.Table(
        ["value", "±", "at most [dB]"],
        rows,
        note="Slope times tolerance, 200 Hz to 5 kHz, level re 100 Hz.",
    )
    print(f"What matters:\n{order}\n")
    order.to_csv(out / "ranking.csv")
    print(f"Its own noise:\n{gn.audio.noise_table(guitar, marks=[*MARKS, 0], knob=knob)}\n")

    band = gn.tolerances.tolerance_band(guitar, drawn, {knob: MARKS})
    bands = gn.plots.plot_bands(band, gn.response(guitar, {knob: MARKS}))
    write_bytes(out / "band.png", picture(bands))
    write_bytes(out / "ranking.png", picture(gn.plots.plot_ranking(ranked)))

    clip = (
        gn.audio.read_sound(options.clip)
        if options.clip
        else gn.strings.pluck(["E2", "A2", "D3"], pickup="60 mm")
    )
    by_peak = np.argsort(peaks.frequency.fillna(0).values)
    ends = {
        "low-peak": by_peak[len(by_peak) // 100],
        "high-peak": by_peak[-1 - len(by_peak) // 100],
    }
    builds = {"as-marked": guitar}
    for label, number in ends.items():
        builds[label] = guitar
        for path, values in drawn.items():
            builds[label] = builds[label].replace(path, float(values[number]))
    heard = gn.audio.normalise(
        gn.audio.match_level(gn.audio.play_through(clip, builds, {knob: 10}))
    )
    for label in builds:
        gn.audio.write_sound(out / f"{label}.wav", heard.sel(build=label))
    print(f"Sounds with levels matched by equal power, and pictures, are in {out}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the options; one sentence where something is not right."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--harness", help="a guitar as save_harness writes it (TOML)")
    parser.add_argument("--guitars", type=int, default=2000, help="how many to draw")
    parser.add_argument("--seed", type=int, default=0, help="another draw")
    parser.add_argument(
        "--tolerance", action="append", default=[], metavar="PATH=SHARE", help="such as 5%%"
    )
    parser.add_argument("--clip", help="a sound file to send through instead of a computed string")
    parser.add_argument("--out", default="tolerance", help="folder for what it leaves")
    try:
        run(parser.parse_args(arguments))
    except gn.GuitarnetError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
