r"""From a measured pickup to a model: curves in, a model and a one-page data sheet out.

Without arguments this runs on curves that ship, of a wide single coil. With arguments it runs on
yours; no Python is needed:

    python examples/fit_pickup.py unloaded.csv --load-curve loaded.csv 200k 470p --slope 20 \
        --dcr 10.6k --inductance "6.7 H at 120 Hz" --cable "5 m" --out my_pickup

A curve is a CSV file with the columns frequency_hz and magnitude_db (a driven pickup) or
frequency_hz and impedance_ohm (an impedance), and phase_deg if it was measured. Its load must be
stated: files named first had nothing across the pickup but the instrument. One curve alone
leaves much open; the same pickup with a known resistor and capacitor across it tells far more.

It leaves a data sheet (PNG and text), the picture of the fit, and the pickup in a stated guitar
as a harness file, which examples/volume_10_and_5.py --harness reads. Your files are never changed.

Cautions where a pickup is measured: unplug the guitar from everything, first of all from the
amplifier, and take the battery out of active electronics. Never open an amplifier: its voltages
are lethal even when it is off. Drive an exciter coil from a battery-powered or low-voltage
generator; the instrument's mains earth must be intact. Probes, not clips, on coil ends. An iron is
hot, fumes want air, lead solder wants washed hands, clipped leads fly: wear goggles. Local
electrical codes and a licensed technician come before this tool.
"""

from __future__ import annotations

import argparse
import sys
import textwrap
from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import xarray as xr
from matplotlib.layout_engine import ConstrainedLayoutEngine

import guitarnet as gn
from guitarnet.command.words import folder_for, progress
from guitarnet.files import write_bytes, write_text
from guitarnet.show.figures import style
from guitarnet.show.figures.picture import picture

DATA = Path(__file__).parent / "data"
DEMO = (
    *(str(DATA / "single-coil-wide-10.6k.unloaded.csv"), "--slope", "20"),
    *("--load-curve", str(DATA / "single-coil-wide-10.6k.load-200k-470p.csv"), "200k", "470p"),
    *("--dcr", "10.6k", "--inductance", "6.7 H at 120 Hz", "--name", "wide single coil"),
)
PAGE = (11.16, 15.78)  # inches; printed on A4 its letters have three quarters of their size
DPI = 148


def main(arguments: list[str] | None = None) -> int:
    """Run the job; returns the exit code."""
    try:
        run(read_options(sys.argv[1:] if arguments is None else arguments))
    except gn.GuitarnetError as error:
        # What Python writes as slope=20 is an option here.
        words = f"error: {error}".replace("give slope=", "give --slope ")
        print(words.replace("unusual=True", "--unusual"), file=sys.stderr)
        return 2
    return 0


def run(options: argparse.Namespace) -> None:
    """Fit, then write everything, so that a refusal leaves nothing behind."""
    guitar = gn.layouts.one_pickup(
        gn.Pickup("6k", "3 H", "100p"),  # replaced by what is found
        volume=options.volume,
        tone=None if options.tone == "none" else options.tone,
        tone_capacitor=options.tone_capacitor,
        cable=gn.Cable(options.cable, options.cable_capacitance, unusual=options.unusual),
        amp=options.amp,
        name=options.name,
        unusual=options.unusual,
    )
    curves = read_curves(options)
    folder = folder_for("", options.out)
    progress("fitting")
    fit = gn.fit_pickup(
        curves,
        resistance=options.dcr,
        inductance=[inductance(words, options.unusual) for words in options.inductance],
        beside_idle_coil=options.one_coil_of_two or None,
        name=options.name,
        unusual=options.unusual,
    )
    sheet = Sheet(fit, guitar.replace("pickup", fit.pickup), given(options, curves))
    text = sheet.text()
    progress("drawing")
    pictures = {"data-sheet.png": sheet.draw(), "fit.png": gn.plots.plot_fit(fit)}
    written = {name: picture(drawn, dpi=DPI) for name, drawn in pictures.items()}
    progress("")
    write_text(folder / "data-sheet.txt", text)
    for name, data in written.items():
        write_bytes(folder / name, data)
    gn.save_harness(sheet.guitar, folder / "guitar.toml")
    print(text)
    print(f"data-sheet.png, data-sheet.txt, fit.png and guitar.toml are in the folder {folder}")


# -- what was measured ------------------------------------------------------------------------


def read_curves(options: argparse.Namespace) -> list[gn.fitting.MeasuredCurve]:
    """Every curve with its load, named by it."""
    loads = [(path, gn.fitting.Load()) for path in options.curve]
    loads += [(path, load(ohm, farad, options.unusual)) for path, ohm, farad in options.load_curve]
    if not loads:
        raise gn.errors.BadSetting(
            "curves", "none is given", "name a CSV file, or give no option at all"
        )
    curves = [
        gn.fitting.read_curve(path, load=across, slope=options.slope, unusual=options.unusual)
        for path, across in loads
    ]
    names = [f"{'impedance, ' * (c.kind == 'impedance')}{c.load}" for c in curves]
    often = Counter(names)
    return [
        replace(curve, name=name if often[name] == 1 else f"{curve.name}, {name}")
        for curve, name in zip(curves, names, strict=True)
    ]


def load(ohm: str, farad: str, unusual: bool = False) -> gn.fitting.Load:
    """A load as the command line states it: values, none, or "about" one, which is then found.

    Two curves with the same words have the same part across them.
    """

    def read(words: str, nothing: float | None) -> Any:
        if words.lower() == "none":
            return nothing
        about = words.lower().startswith("about ")
        return gn.fitting.Unknown(words[6:], name=words) if about else words

    return gn.fitting.Load(read(ohm, None), read(farad, 0.0), unusual=unusual)


def inductance(words: str, unusual: bool = False) -> gn.fitting.InductanceReading:
    """A reading such as "6.7 H at 120 Hz"."""
    henry, at, frequency = words.partition(" at ")
    return (
        gn.fitting.InductanceReading(henry, frequency, unusual=unusual)
        if at
        else gn.fitting.InductanceReading(henry, unusual=unusual)
    )


def given(options: argparse.Namespace, curves: list[gn.fitting.MeasuredCurve]) -> str:
    """What was measured, in words."""
    words = [f"DC resistance {options.dcr}"] if options.dcr else []
    words += [f"inductance {reading}" for reading in options.inductance]
    files = [*options.curve, *(path for path, *_ in options.load_curve)]
    words += [
        f"{curve.name}: {curve.frequency.size} points ({Path(file).name})"
        for curve, file in zip(curves, files, strict=True)
    ]
    return f"Measured: {'; '.join(words)}."


# -- the data sheet ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Sheet:
    """A fitted pickup, alone and in a guitar, and what a data sheet says of it."""

    fit: gn.fitting.PickupFit
    guitar: gn.Harness
    given: str

    @cached_property
    def alone(self) -> gn.Harness:
        """The pickup without a guitar."""
        return gn.layouts.pickup_alone(self.fit.pickup)

    @cached_property
    def responses(self) -> xr.DataArray:
        """Response alone and in the guitar, knobs at 10."""
        return gn.response({"unloaded": self.alone, "in the guitar": self.guitar})

    def values(self) -> gn.Table:
        """Values with standard errors."""
        table = self.fit.table()
        return gn.Table(table.columns, table.rows, table.title)

    def resonances(self) -> gn.Table:
        """Where the response is highest."""
        found = gn.peak(self.responses)
        rows = []
        for label in self.responses["build"].values:
            at, height, q = (float(found[k].sel(build=label)) for k in ("frequency", "height", "q"))
            if height > 0.05:
                rows.append((label, hertz(at), f"{height:.1f}", "" if np.isnan(q) else f"{q:.1f}"))
            else:
                rows.append((label, "no peak", "", ""))
        return gn.Table(("resonance", "frequency", "dB re 100 Hz", "Q"), rows)

    def impedances(self) -> gn.Table:
        """What an LCR meter shows in series mode, and where the impedance is largest."""
        z = gn.impedance(self.alone)
        top = z["frequency"].values[int(abs(z).argmax("frequency"))]
        rows = []
        for ohm in gn.impedance(self.alone, frequency=[120, 1000, top]):
            at = float(ohm["frequency"])
            henry = float(ohm.imag) / (2 * np.pi * at)
            words = ((float(abs(ohm)), "ohm"), (henry, "H"))
            rows.append(
                [hertz(at), *(gn.values.format_value(v, unit, digits=3) for v, unit in words)]
            )
        rows[-1][-1] = "(its largest)"
        return gn.Table(("impedance at", "size", "reads as"), rows)

    def notes(self) -> list[str]:
        """What was measured and assumed, and what the data cannot tell."""
        parts = self.guitar.summary()
        parts.pop("pickup")
        words = "; ".join(f"{name.replace('_', ' ')} {label}" for name, label in parts.items())
        said = [self.given, f"Unloaded: not even the instrument. The guitar: {words}; knobs at 10."]
        said.append(
            "Model: an induced voltage behind R and L, C across"
            + (", part of L shunted by eddy loss" if "eddy_share" in self.fit.values else "")
            + (
                ", the voltage screened to first order."
                if "screening_frequency" in self.fit.values
                else "."
            )
        )
        said.append("Standard errors include what is typical of pickups, stated accuracies too.")
        if "slow_share" in self.fit.values:
            said.append(
                "Slow screening is in the fit, but not in the response shown here: it may be the "
                "exciter's. Where it is the pickup's, the response well above "
                f"{hertz(self.fit.values['slow_frequency'].value)} lies lower by "
                f"{-20 * np.log10(1 - self.fit.values['slow_share'].value):.1f} dB."
            )
        if "idle_coupling" in self.fit.values:
            said.append(
                "The idle coil is in the fit, but not in the responses and impedances here."
            )
        return [*said, *self.fit.warnings]

    def text(self) -> str:
        """The data sheet as text."""
        tables = (self.values(), self.resonances(), self.impedances())
        wrapped = [textwrap.fill(words, 96, break_on_hyphens=False) for words in self.notes()]
        pages = [f"{self.fit.name}: data sheet", *(str(t) for t in tables), "\n".join(wrapped)]
        return "\n\n".join(pages) + "\n"

    def draw(self) -> Any:
        """The data sheet as one page."""
        with style.style():
            page = plt.figure(figsize=PAGE, layout=ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.06))
            top = self.head_inches()
            rest = PAGE[1] - top
            heights = (top, 0.47 * rest, 0.53 * rest)
            rows = page.subfigures(3, 1, squeeze=False, height_ratios=heights)
            head, middle, foot = rows.ravel()
            self.write_head(head, top)
            left, right = middle.subfigures(1, 2)
            ax = left.subplots()
            gn.plot_response(self.responses, ax, title="Response, unloaded and in the guitar")
            axes = right.subplots(2, 1, sharex=True, height_ratios=(2, 1))
            z = gn.impedance(self.alone)
            gn.plots.plot_impedance(z, axes, title="Impedance, pickup alone")
            kinds = len({curve.curve.kind for curve in self.fit.curves})
            grid = foot.subplots(2, kinds, squeeze=False, sharex="col", height_ratios=(3, 1))
            gn.plots.plot_fit(self.fit, grid)
        return page

    def head_inches(self) -> float:
        """Height of what is written above the pictures."""
        lines = str(self.values()).count("\n") + 1
        return 0.9 + 0.17 * lines + 0.15 * len(self.small_print())

    def small_print(self) -> list[str]:
        """The notes, line by line."""
        return [
            line
            for words in self.notes()
            for line in textwrap.wrap(words, 180, break_on_hyphens=False)
        ]

    def write_head(self, head: Any, inches: float) -> None:
        """Name, values and readings; notes under them."""
        head.text(0.02, 1 - 0.12 / inches, self.fit.name, size=20, weight="bold", va="top")
        table = {"family": "monospace", "fontsize": 9, "va": "top", "linespacing": 1.35}
        below = 1 - 0.6 / inches
        head.text(0.02, below, str(self.values()), **table)
        widest = max(len(line) for line in str(self.values()).split("\n"))
        beside = min(0.68, max(0.55, 0.02 + 0.0753 * (widest + 4) / PAGE[0]))
        head.text(beside, below, f"{self.resonances()}\n\n{self.impedances()}", **table)
        notes = "\n".join(self.small_print())
        head.text(0.02, 0.1 / inches, notes, fontsize=8, color=style.GREY, linespacing=1.3)


def hertz(value: float) -> str:
    """A frequency to three digits."""
    return gn.values.format_value(value, "Hz", digits=3)


# -- the command line -------------------------------------------------------------------------


class Parser(argparse.ArgumentParser):
    """A parser whose refusals are one sentence."""

    def error(self, message: str) -> Any:
        """Refuse in one sentence."""
        self.exit(2, f"error: {message}; --help says how.\n")


def read_options(words: list[str]) -> argparse.Namespace:
    """Read the command line; without anything but a folder, that of the data that ships."""
    parser = Parser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    add = parser.add_argument
    add("curve", nargs="*", metavar="CSV", help="measured with nothing across but the instrument")
    add(
        *("--load-curve", "-l"),
        nargs=3,
        action="append",
        default=[],
        metavar=("CSV", "OHM", "FARAD"),
        help="measured with a load across the pickup: values, none, or 'about 10n' if unsure",
    )
    add(
        *("--slope",),
        default="0",
        metavar="DB",
        help="what the rig adds to driven curves [dB per decade]: 20 for an exciter coil fed with "
        "constant current and no integrator (0)",
    )
    add("--dcr", metavar="OHM", help="DC resistance")
    add(
        "--inductance",
        action="append",
        default=[],
        metavar="READING",
        help="what an LCR meter shows, as '6.7 H at 120 Hz'; may be given several times",
    )
    add("--unusual", action="store_true", help="values and units that look like a slip are meant")
    add("--one-coil-of-two", action="store_true", help="the other coil was left open beside it")
    add("--name", default="pickup", help="name of the pickup (pickup)")
    guitar = parser.add_argument_group("the guitar to show it in")
    for name, (default, meaning) in GUITAR.items():
        guitar.add_argument(
            f"--{name}", default=default, metavar="VALUE", help=f"{meaning} ({default})"
        )
    add("--out", default="fitted_pickup", metavar="FOLDER", help="where to leave the files")
    options = parser.parse_args(words)
    if vars(options) | {"out": ""} == vars(parser.parse_args([])) | {"out": ""}:
        return parser.parse_args([*DEMO, "--out", options.out])
    return options


GUITAR = {
    "volume": ("250k", "volume pot"),
    "tone": ("250k", "tone pot, or none"),
    "tone-capacitor": ("22n", "tone capacitor"),
    "cable": ("5 m", "length of the cable"),
    "cable-capacitance": ("100 pF/m", "capacitance of the cable"),
    "amp": ("1M", "input resistance of the amp"),
}


if __name__ == "__main__":
    sys.exit(main())
