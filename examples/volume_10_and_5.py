r"""What does a treble bleed across the volume pot do at volume 10, and at volume 5?

Without options this runs an invented workshop scenario: a single coil and a humbucker guitar,
each with a short low-capacitance cable and with a long one. With options it runs your own
guitar; no Python is needed:

    python examples/volume_10_and_5.py --resistance 6.2k --inductance 2.4H --volume 250k \
        --bleed "150k || 1n" --bleed 680p --cable "5 m"
    python examples/volume_10_and_5.py --harness my_guitar.toml --bleed "150k || 1n"

It prints tables and leaves pictures, a CSV file and live pages in a folder. Nothing here is
measured on a guitar; before you measure or solder one, unplug it from the amplifier, and never
open an amplifier: its voltages are lethal even when it is off.
"""

from __future__ import annotations

import argparse
import io
import re
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.files import write_bytes, write_text

MARKS = np.arange(0, 10.5, 0.5)
SHOWN = [10, 9, 7, 5, 3]
BAND = (200.0, 5000.0)
CABLES = (150, 300, 500, 1000)  # pF
BLEEDS = ("1n", "150k || 1n", "130k + 1.2n")
DECIBELS = "levels matched at 100 Hz, re volume 10"
SHORT = (
    "What each build changes at volume 10 against no bleed (largest, 20 Hz-20 kHz), and what\n"
    "turning down to 5 does to its level (at 100 Hz) and its shape (largest, 200 Hz-5 kHz,\n"
    f"{DECIBELS}) [dB]"
)


@dataclass
class Case:
    """One guitar with one cable: the same guitar without a bleed, with each, and rewired."""

    name: str
    builds: dict[str, gn.Harness]

    @property
    def first(self) -> str:
        """The build whose parts are listed: the guitar as it is."""
        return "as it is" if "as it is" in self.builds else "no bleed"

    @property
    def pickup(self) -> gn.Pickup:
        """What the guitar is known by."""
        return next(part for part in self.plain.parts.values() if isinstance(part, gn.Pickup))

    @property
    def plain(self) -> gn.Harness:
        """The guitar without a bleed."""
        return self.builds["no bleed"]

    @property
    def bleeds(self) -> dict[str, gn.Harness]:
        """The guitars that differ from it by a bleed only."""
        return {label: guitar for label, guitar in self.builds.items() if label != "50s wiring"}

    @property
    def file(self) -> str:
        """The case's name as the beginning of a file name."""
        return "-".join("".join(c if c.isalnum() else " " for c in self.name.lower()).split())


def main(arguments: list[str] | None = None) -> int:
    """Run the job; returns the exit code."""
    options = read_options(arguments)
    try:
        run(options)
    except gn.GuitarnetError as error:
        print(f"error: {error}", file=sys.stderr)
        return 2
    return 0


def run(options: argparse.Namespace) -> None:
    """Compute every case, leave its files, print its tables."""
    began = time.perf_counter()
    cases = scenario() if options.scenario else [own_guitar(options)]
    folder = prepared(Path(options.out))
    rows: list[tuple] = []
    pages: list[str] = [__doc__.splitlines()[0]]
    if options.scenario:
        pages.append("An invented workshop scenario; give options to run your own guitar (--help).")
    short: list[gn.Table] = []
    for number, case in enumerate(cases, 1):
        progress(f"[{number}/{len(cases)}] {case.name}: computing")
        h = gn.compare(case.builds, volume=MARKS)
        rows += summary_rows(case, h)
        progress(f"[{number}/{len(cases)}] {case.name}: drawing")
        draw(case, h, folder)
        seen = [other for other in cases[: number - 1] if other.pickup == case.pickup]
        pages.append(f"=== {case.name} ===\n{case.builds[case.first]}")
        pages += [str(table) for table in answers(case, h, cable_table=not seen)]
        short.append(in_short(case, h))
    progress("")
    pages.append("=== In short ===\n" + SHORT)
    pages += [str(table) for table in short]
    pages.append(notes(cases))
    text = "\n\n".join(pages)
    gn.Table(SUMMARY, rows).to_csv(folder / "summary.csv")
    write_text(folder / "answers.txt", text + "\n")
    print(text)
    print(f"\nPictures, live pages, answers.txt and summary.csv are in the folder {folder}")
    print(f"({time.perf_counter() - began:.0f} s)")


def prepared(folder: Path) -> Path:
    """Make the folder before anything is computed, and take away what an earlier run left."""
    write_text(folder / "answers.txt", "")
    for old in (*folder.glob("*-live.html"), *folder.glob("*-[1-6]-*.png")):
        old.unlink()
    return folder


# -- guitars ----------------------------------------------------------------------------------


def scenario() -> list[Case]:
    """An invented workshop: two guitars, each with two cables."""
    guitars = {
        "single coil": ("6.2k", "2.4 H", "120p", "250k", "47n"),
        "humbucker": ("8.4k", "4.6 H", "110p", "500k", "22n"),
    }
    cables = {
        "short cable": gn.Cable("3 m", "70 pF/m"),
        "long cable": gn.Cable("6 m", "150 pF/m"),
    }
    cases = []
    for guitar, (ohms, henries, farads, pot, capacitor) in guitars.items():
        for cable_name, cable in cables.items():
            name = f"{guitar}, {cable_name}"
            plain, fifties = (
                gn.layouts.one_pickup(
                    gn.Pickup(ohms, henries, farads),
                    volume=pot,
                    tone=pot,
                    tone_capacitor=capacitor,
                    cable=cable,
                    wiring=wiring,
                    name=f"{name} (invented)",
                )
                for wiring in ("modern", "50s")
            )
            cases.append(Case(name, with_bleeds(plain, BLEEDS) | {"50s wiring": fifties}))
    return cases


def own_guitar(options: argparse.Namespace) -> Case:
    """The reader's guitar, from a harness file or from values."""
    bleeds = options.bleed or BLEEDS
    if options.harness:
        guitar = gn.load_harness(options.harness)
        for needed in ("volume", "treble_bleed"):
            if needed not in guitar.parts:
                fix = 'name the volume pot "volume"'
                if needed == "treble_bleed":
                    fix = (
                        'add [parts.treble_bleed] with kind = "Empty", its lugs joined to the '
                        "input and the output of the volume pot"
                    )
                raise gn.BadHarness(options.harness, f"has no part {needed!r}", fix)
        builds = with_bleeds(guitar, bleeds)
        own = guitar.parts["treble_bleed"]
        if not isinstance(own, gn.Empty) and own.label() not in builds:
            # What the file says comes first; the others stand beside it.
            builds = {"no bleed": builds["no bleed"], own.label(): guitar} | builds
        return Case(guitar.name, builds)
    pickup = gn.Pickup(options.resistance, options.inductance, options.capacitance)

    def make(wiring: str) -> gn.Harness:
        return gn.layouts.one_pickup(
            pickup,
            volume=gn.Pot(options.volume, options.taper),
            tone=None if options.tone == "none" else gn.Pot(options.tone, options.taper),
            tone_capacitor=options.tone_capacitor,
            cable=gn.Cable(options.cable, options.cable_capacitance),
            amp=options.amp,
            wiring=wiring,
            name="your guitar",
        )

    builds = with_bleeds(make(options.wiring), bleeds)
    if options.tone != "none" and options.wiring == "modern":
        builds["50s wiring"] = make("50s")
    return Case("your guitar", builds)


def with_bleeds(guitar: gn.Harness, bleeds: Sequence[str]) -> dict[str, gn.Harness]:
    """The guitar without a bleed and with each of some."""
    builds = {"no bleed": guitar.replace("treble_bleed", None)}
    for text in bleeds:
        part = gn.bleed(text)
        if part is not None:
            builds[part.label()] = guitar.replace("treble_bleed", part)
    return builds


# -- answers ----------------------------------------------------------------------------------


def answers(case: Case, h: xr.DataArray, cable_table: bool) -> list[gn.Table]:
    """Tables (a) to (e) for one case; (b) once for each guitar."""
    tables = [effect_at_ten(case)] if len(case.bleeds) > 1 else []
    tables += [loss_by_cable(case)] if cable_table else []
    tables += [taper_table(h), overshoot(h)]
    if "50s wiring" in case.builds:
        tables.append(fifties(case))
    return tables


def in_short(case: Case, h: xr.DataArray) -> gn.Table:
    """The main question in one table."""
    change, level = gn.treble_change(h, band=BAND), gn.effective_taper(h)
    at_ten = gn.level_db(h.sel(volume=[10]), re={"build": "no bleed"}).sel(volume=10)
    rows = []
    for label in h.build.values:
        at = change.sel(build=label, volume=5)
        rows.append(
            (
                label,
                signed(largest(at_ten.sel(build=label))),
                signed(level.sel(build=label, volume=5)),
                signed(at.worst),
                hertz(at.worst_frequency),
            )
        )
    heads = ("build", "at 10: change", "at 5: level", "at 5: shape", "at Hz")
    return gn.Table(heads, rows, title=case.name)


def effect_at_ten(case: Case) -> gn.Table:
    """(a) Largest difference from the guitar without a bleed, in level and all."""
    ends = [0, "2 ohm", "1%"]
    at_ten = gn.compare(case.bleeds, volume=10, **{"volume.end_resistance": ends})
    at_nine = gn.compare(case.bleeds, volume=9)
    columns = [at_ten.isel({"volume.end_resistance": i}) for i in range(len(ends))] + [at_nine]
    found = [gn.level_db(column, re={"build": "no bleed"}) for column in columns]
    rows = []
    for label in case.bleeds:
        if label != "no bleed":
            rows.append((label, *(signed(largest(level.sel(build=label))) for level in found)))
    title = (
        "(a) Any effect at 10? Largest difference from no bleed, 20 Hz-20 kHz [dB]\n"
        "    (end resistance: what stays between wiper and lug with the knob full up)"
    )
    heads = ("bleed", "at 10, no end res.", "at 10, 2 \u03a9", "at 10, 1 % of the pot", "at 9")
    return gn.Table(heads, rows, title=title)


def loss_by_cable(case: Case) -> gn.Table:
    """(b) What turning down without a bleed does, by cable."""
    lengths = [picofarad / 100 for picofarad in CABLES]
    h = gn.response(
        case.plain,
        volume=SHOWN,
        **{"cable.length": lengths, "cable.capacitance_per_metre": "100 pF/m"},
    )
    change = gn.treble_change(h, frequencies=("2 kHz", "3 kHz", "5 kHz"), band=BAND)
    rows = []
    for picofarad, length in zip(CABLES, lengths, strict=True):
        here = change.sel({"cable.length": length})
        for mark in SHOWN[2:]:
            at = here.sel(volume=mark)
            rows.append(
                (
                    f"{picofarad} pF",
                    mark,
                    *(signed(v) for v in at.change.values),
                    signed(at.worst),
                    hertz(at.worst_frequency),
                )
            )
    title = f"(b) How much treble goes without a bleed? {DECIBELS} [dB]"
    heads = ("cable", "volume", "2 kHz", "3 kHz", "5 kHz", "largest 200-5k", "at Hz")
    return gn.Table(heads, rows, title=title)


def taper_table(h: xr.DataArray) -> gn.Table:
    """(c) Level against the knob."""
    level = gn.effective_taper(h)
    rows = [
        (label, *(signed(level.sel(build=label, volume=mark)) for mark in [*SHOWN, 1]))
        for label in h.build.values
    ]
    title = "(c) What becomes of the taper? Level at 100 Hz re volume 10 [dB]"
    return gn.Table(("build", *(f"volume {mark}" for mark in [*SHOWN, 1])), rows, title=title)


def overshoot(h: xr.DataArray) -> gn.Table:
    """(d) Where the shape rises above that of volume 10."""
    shape = gn.level_db(h, re="reference")
    shape = shape - shape.sel(volume=10)
    f = shape["frequency"].values
    shape = shape.isel(frequency=np.flatnonzero((f >= BAND[0]) & (f <= BAND[1])))
    rows = []
    for label in h.build.values:
        cells = [label]
        for mark in SHOWN[1:]:
            one = shape.sel(build=label, volume=mark)
            top = one.isel(frequency=int(one.argmax("frequency")))
            risen = float(top) >= 0.05
            cells += [signed(top), hertz(top["frequency"])] if risen else ["none", ""]
        rows.append(tuple(cells))
    title = f"(d) Where does it overshoot? Highest rise, 200 Hz-5 kHz, {DECIBELS} [dB]"
    heads = [words for mark in SHOWN[1:] for words in (f"volume {mark}", "at Hz")]
    return gn.Table(("build", *heads), rows, title=title)


def fifties(case: Case) -> gn.Table:
    """(e) What 50s wiring does instead, tone at 10 and at 2."""
    pair = {"modern": case.plain, "50s": case.builds["50s wiring"]}
    h = gn.compare(pair, dim="wiring", volume=SHOWN, tone=[10, 2])
    change = gn.treble_change(h, frequencies=("500 Hz", "1 kHz", "3 kHz", "5 kHz"), band=BAND)
    level = gn.effective_taper(h)
    rows = []
    for tone in (10, 2):
        for mark in SHOWN[2:]:
            for wiring in pair:
                place = {"wiring": wiring, "volume": mark, "tone": tone}
                rows.append(
                    (
                        tone,
                        mark,
                        wiring,
                        *(signed(v) for v in change.change.sel(place).values),
                        signed(level.sel(place)),
                    )
                )
    title = (
        f"(e) What does 50s wiring do instead? {DECIBELS} at the same tone mark [dB]\n"
        "    (last column: level at 100 Hz re volume 10)"
    )
    heads = ("tone", "volume", "wiring", "500 Hz", "1 kHz", "3 kHz", "5 kHz", "level")
    return gn.Table(heads, rows, title=title)


SUMMARY = (
    *("case", "build", "volume", "level_100Hz_re_volume_10_dB"),
    *("change_1kHz_dB", "change_2kHz_dB", "change_3kHz_dB", "change_5kHz_dB"),
    *("worst_200_5000Hz_dB", "worst_Hz", "peak_Hz", "peak_re_100Hz_dB", "peak_q"),
)


def summary_rows(case: Case, h: xr.DataArray) -> list[tuple]:
    """Every build at every mark, for a spreadsheet."""
    change, level, top = gn.treble_change(h, band=BAND), gn.effective_taper(h), gn.peak(h)
    rows = []
    for label in h.build.values:
        for mark in MARKS[::-1]:
            place = {"build": label, "volume": mark}
            numbers = [
                level.sel(place),
                *change.change.sel(place).values,
                *(change[name].sel(place) for name in ("worst", "worst_frequency")),
                *(top[name].sel(place) for name in ("frequency", "height", "q")),
            ]
            written = ("" if np.isnan(v) else f"{float(v):.4g}" for v in numbers)
            rows.append((case.name, str(label), f"{mark:g}", *written))
    return rows


def notes(cases: list[Case]) -> str:
    """What was assumed."""
    assumed = dict.fromkeys(words for case in cases for words in case.plain.assumptions())
    assumed |= dict.fromkeys(
        [
            "tone at 10 unless said",
            "no end resistance in the pots unless said",
            "an audio taper as two straight segments that meet at half travel",
        ]
    )
    return f"What was assumed: {'; '.join(assumed)}."


def largest(level: xr.DataArray) -> float:
    """The value of largest size, with its sign."""
    return float(level.values[np.argmax(np.abs(level.values))])


def hertz(value: float | xr.DataArray) -> str:
    """A frequency as a table shows it; the end of the band is no resonance."""
    number = float(value)
    if np.isnan(number):
        return ""
    return f"{number:.0f} (edge)" if number in BAND else f"{number:.0f}"


def signed(value: float | xr.DataArray) -> str:
    """A decibel value as a table shows it."""
    number = float(value)
    if np.isneginf(number):
        return "silent"
    return "0" if abs(number) < 0.005 else f"{number:+.2f}"


# -- pictures ---------------------------------------------------------------------------------


def draw(case: Case, h: xr.DataArray, folder: Path) -> None:
    """Leave the pictures and the live page of one case."""
    name = case.name[:1].upper() + case.name[1:]
    figures = {
        "1-builds": gn.plot_builds(h, SHOWN, title=f"{name}: shape at each volume mark"),
        "2-difference-from-volume-10": gn.plot_difference(
            h, SHOWN, re={"volume": 10}, title=f"{name}: how the shape differs from volume 10"
        ),
        "3-difference-from-no-bleed": gn.plot_difference(
            h,
            SHOWN,
            re={"build": "no bleed"},
            matched=False,
            title=f"{name}: level and all, against no bleed",
        ),
        "4-taper": gn.plot_taper(
            h, {"the track as cut": case.plain.parts["volume"].taper}, title=f"{name}: level"
        ),
        "5-every-mark": gn.plot_response(
            h.sel(build="no bleed", volume=[10, 9, 8, 7, 6, 5, 4, 3, 2, 1]),
            title=f"{name}, no bleed: level at each volume mark",
        ),
        "6-map": gn.plot_map(
            h.isel(build=1), title=f"{name}, {h.build.values[1]}: shape at every volume mark"
        ),
    }
    for kind, axes in figures.items():
        figure = np.ravel(axes)[0].figure
        picture = io.BytesIO()
        figure.savefig(picture, format="png")
        write_bytes(folder / f"{case.file}-{kind}.png", picture.getvalue())
        plt.close(figure)
    gn.knob_view(h, title=name).save(folder / f"{case.file}-live.html")


def progress(words: str) -> None:
    """Show what is going on, on a terminal only."""
    if sys.stderr.isatty():
        print(f"\r\033[K{words}", end="", file=sys.stderr, flush=True)


def read_options(arguments: list[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    own = parser.add_argument_group(
        "your own guitar (give any of these to run it instead of the scenario)"
    )
    values = {
        "resistance": ("6.2k", "DC resistance of the pickup"),
        "inductance": ("2.4H", "inductance of the pickup"),
        "capacitance": ("120p", "capacitance of the pickup's winding and lead"),
        "volume": ("250k", "volume pot"),
        "tone": ("250k", "tone pot, or none"),
        "taper": ("audio 15%", "taper of the pots, in words: linear, audio 10%%, ..."),
        "tone-capacitor": ("22n", "tone capacitor"),
        "wiring": ("modern", "modern, 50s, independent or 'independent 50s'"),
        "cable": ("5 m", "length of the cable"),
        "cable-capacitance": ("100 pF/m", "capacitance of the cable"),
        "amp": ("1M", "input resistance of the amp"),
    }
    for name, (default, words) in values.items():
        shown = default.replace("%", "%%")
        own.add_argument(f"--{name}", metavar="VALUE", help=f"{words} ({shown})")
    own.add_argument(
        "--bleed",
        action="append",
        metavar="NETWORK",
        help="a treble bleed: 1n, '150k || 1n', '130k + 1.2n'; may be given several times",
    )
    own.add_argument("--harness", metavar="FILE", help="a harness file (TOML) instead of values")
    parser.add_argument(
        "--out", default="volume_10_and_5", metavar="FOLDER", help="where to leave the files"
    )
    words = sys.argv[1:] if arguments is None else arguments
    # "--resistance -6.2k": let the value be refused as a value, not taken for an option.
    joined = re.sub(r"\n(-[\d.][^\n]*)", r"=\1", "\n".join(words))
    options = parser.parse_args(joined.split("\n") if joined else [])
    given = {k: v for k, v in vars(options).items() if k != "out" and v is not None}
    options.scenario = not given
    if options.harness and set(given) - {"harness", "bleed"}:
        parser.error("--harness brings all values; only --bleed may be given with it")
    for name, (default, _) in values.items():
        key = name.replace("-", "_")
        if getattr(options, key) is None:
            setattr(options, key, default)
    return options


if __name__ == "__main__":
    sys.exit(main())
