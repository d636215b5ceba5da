"""What can be given to each verb, and the help that teaches it."""

from __future__ import annotations

import argparse
import textwrap
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import Any, NoReturn

from ..circuit.harness import CAUTIONS
from ..errors import BadSetting
from ..study.faults.symptoms import SYMPTOMS
from .start import LAYOUTS

__all__ = ["SHELLS", "completion_script", "parser", "parsers_of_verbs"]

SHELLS = ("bash", "zsh", "fish", "tcsh", "powershell")
"""Shells that can complete the command."""

_CODES = (
    "Exit code: 0 fine; 2 something given is not right: one sentence says what, and nothing was "
    "written{more}. Your files are never changed."
)
_CAUTIONS = f"Cautions: {CAUTIONS}"


class _Offered(tuple[str, ...]):
    """Words that completion offers; the verb itself says which one is nearest to a wrong one."""

    def __contains__(self, word: object) -> bool:
        return True


class _Parser(argparse.ArgumentParser):
    """A parser whose refusals are one sentence."""

    def __init__(self, **how: Any) -> None:
        how = {"formatter_class": argparse.RawDescriptionHelpFormatter, **how}
        super().__init__(allow_abbrev=False, **how)

    def error(self, message: str) -> NoReturn:
        """Refuse in one sentence."""
        short = message.replace("the following arguments are required:", "needs")
        raise BadSetting(self.prog, short, f"{self.prog} --help says how")


@cache
def parser() -> argparse.ArgumentParser:
    """Make the parser of the whole command, from which help and completion follow."""
    whole = _Parser(
        prog="guitarnet",
        description=_filled(
            "What a guitar's passive electronics do to its sound, and what a meter shows of them. "
            "A guitar is a harness file (TOML): begin one with new, edit it, give it to the other "
            "verbs. Each verb leaves its files in a folder named after the harness file, or in "
            "--out FOLDER, and prints the main thing."
        ),
        epilog=_filled(
            "Example:",
            "  guitarnet new three_single_coils mine.toml cable='5 m'\n"
            "  guitarnet check mine.toml neck=6.05k middle=6.1k bridge=6.0k\n"
            "  guitarnet fault mine.toml neck=6.05k middle=249k bridge=6.0k\n"
            "  guitarnet bleeds mine.toml '150k || 1n' 680p",
            "guitarnet VERB --help teaches one verb.",
            "A shell completes verbs and options after: guitarnet completion --help",
            _CODES.format(more=". check: 1 a reading that this guitar cannot show without a fault"),
            _CAUTIONS,
        ),
    )
    whole.add_argument("--version", action="version", version=f"guitarnet {_version()}")
    added = whole.add_subparsers(dest="verb", metavar="VERB", title="verbs", parser_class=_Parser)
    for add in (
        *(_new, _pickups, _draw, _card, _check, _fault, _bleeds, _cable, _wiring, _choose, _page),
        *(_measure, _record, _certificate, _returned, _sheet, _history, _completion),
    ):
        add(added)
    return whole


def _version() -> str:
    try:
        return version("guitarnet")
    except PackageNotFoundError:  # run from its folder
        return "(not installed)"


def _verb(
    added: Any, name: str, summary: str, *teaching: str, cautions: bool = True, more: str = ""
) -> argparse.ArgumentParser:
    """Add a verb: its summary, what it teaches, the exit codes and the cautions."""
    end = [_CODES.format(more=more), *([_CAUTIONS] if cautions else [])]
    made: argparse.ArgumentParser = added.add_parser(
        name,
        help=summary,
        description=f"{summary[:1].upper()}{summary[1:]}.",
        epilog=_filled(*teaching, *end),
    )
    return made


def _filled(*paragraphs: str) -> str:
    """Fill each paragraph; one that is indented is an example and stays as it is."""
    return "\n\n".join(
        one if one.startswith(" ") else textwrap.fill(one, 88, break_on_hyphens=False)
        for one in paragraphs
    )


def completion_script(shell: str) -> str:
    """Write what a shell completes the command by.

    Parameters
    ----------
    shell : str
        One of `SHELLS`.

    Returns
    -------
    str
        The script.
    """
    import shtab

    whole = parser()
    kinds = {"FILE": shtab.FILE, "FOLDER": shtab.DIRECTORY}
    for verb in parsers_of_verbs(whole).values():
        for action in verb._actions:
            if action.metavar in kinds:
                action.complete = kinds[str(action.metavar)]  # type: ignore[attr-defined]
    return shtab.complete(whole, shell)


def parsers_of_verbs(whole: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Give the parser of each verb by its name."""
    action = next(a for a in whole._actions if isinstance(a, argparse._SubParsersAction))
    return dict(action.choices)


def _new(added: Any) -> None:
    own = _verb(
        *(added, "new", "write a harness file of a ready layout, to edit"),
        "Without anything it lists the layouts; with a layout alone, the values that this takes.",
        "Example:",
        "  guitarnet new\n"
        "  guitarnet new two_humbuckers\n"
        "  guitarnet new two_humbuckers mine.toml neck=4 \\\n"
        "      bridge.resistance=8.2k volume=500k treble_bleed='150k || 1n' cable='5 m'",
        "Then open the file in any editor of plain text. Values are written as on the bench: 250k, "
        "22n, 2.4 H, 5 m, 'audio 15%'. A pickup's resistance one measures; inductance and "
        "capacitance want an LCR meter or a curve. Until then a measured one may do, by its number "
        "or its name: guitarnet pickups lists them.",
        cautions=False,
    )
    own.add_argument(
        "layout", nargs="?", metavar="LAYOUT", choices=_Offered(LAYOUTS), help="a ready layout"
    )
    own.add_argument("file", nargs="?", metavar="FILE", help="the file to write (must not exist)")
    own.add_argument(
        "values", nargs="*", default=[], metavar="NAME=VALUE", help="a value, as volume=500k"
    )
    _unusual(own)


def _pickups(added: Any) -> None:
    own = _verb(
        *(added, "pickups", "list measured pickups, show one, or find what is nearest to yours"),
        "Example:",
        "  guitarnet pickups\n"
        "  guitarnet pickups 'single coil'\n"
        "  guitarnet pickups 9\n"
        "  guitarnet pickups resistance=8.2k inductance='4.4 H'\n"
        "  guitarnet pickups resistance=8.2k peak='3 kHz' --load '200k || 470p'",
        "Without anything it lists all; with a kind, those of the kind; with a number or a name, "
        "all that is known of one. With readings of yours it lists the nearest: resistance, "
        "inductance (at 120 Hz), and a peak with the load across it. Give a number to new, as "
        "neck=9: the file then holds the values.",
    )
    own.add_argument(
        "words", nargs="*", default=[], metavar="WORD", help="a kind, a number, or READING=VALUE"
    )
    own.add_argument("--load", metavar="NETWORK", help="what lies across it at its peak")
    _unusual(own)


def _draw(added: Any) -> None:
    own = _verb(
        *(added, "draw", "draw the schematic of a guitar, and list what joins what"),
        "Example:",
        "  guitarnet draw mine.toml --bench",
        "It leaves schematic.svg, schematic.png and joints (text and CSV). Every line is followed "
        "and compared with the harness before it is drawn; a harness of your own gets a diagram "
        "of connections. With --bench it also leaves bench.svg and bench.png: the parts from "
        "behind, each wire with the number of its joint in the list. Solder by the list of joints; "
        "unplug the guitar before you open it.",
    )
    _guitar(own)
    own.add_argument(
        "--bench", action="store_true", help="also draw what you see when you solder it"
    )


def _card(added: Any) -> None:
    own = _verb(
        *(added, "card", "leave the job card: what to solder, buy and measure, to print"),
        "Example:",
        "  guitarnet card mine.toml --paper Letter --by 'R. L.' --number 12",
        "It leaves job-card.pdf and job-card.html, joints, parts and what the switch selects (text "
        "and CSV). Lines that are not given are left to fill in by hand. It needs "
        "pip install 'guitarnet[cards]'.",
    )
    _guitar(own)
    paper = own.add_argument("--paper", default="A4", metavar="SIZE", help="A4 or Letter (A4)")
    paper.choices = _Offered(("A4", "Letter"))
    for name, words in {
        "date": "date to print",
        "by": "who did the job",
        "number": "number of the guitar",
        "notes": "notes to print as they are",
    }.items():
        own.add_argument(f"--{name}", default="", metavar="TEXT", help=words)
    own.add_argument(
        "--html-only", action="store_true", help="leave out the PDF, which needs WeasyPrint, Pango"
    )
    _meter(own)
    _recorded(own, "left")


def _check(added: Any) -> None:
    own = _verb(
        *(added, "check", "what the meter must show; with readings, verify an installation"),
        "Example:",
        "  guitarnet check mine.toml\n"
        "  guitarnet check mine.toml neck=6.05k neck+middle=3.1k bridge=6.0k",
        _HOW_TO_READ,
        "It leaves readings (to be expected) and verified (what was read beside its range), each "
        "as text and CSV. Ranges have all parts and the meter at their limits.",
        more="; 1 a reading that this guitar cannot show without a fault",
    )
    _guitar(own)
    own.add_argument(
        "readings", nargs="*", default=[], metavar="PLACE=OHM", help="what the meter showed"
    )
    _meter(own, temperature=True)
    _recorded(own, "found")
    _numbered(own)


def _fault(added: Any) -> None:
    own = _verb(
        *(added, "fault", "find the faults that explain what was read and heard"),
        "Example:",
        "  guitarnet fault mine.toml neck=6.05k middle=249k bridge=6.0k\n"
        "  guitarnet fault mine.toml at=6.05k --heard 'tone=does nothing'\n"
        "  guitarnet fault mine.toml neck=6k --test compass:neck=north --test compass:middle=south",
        _HOW_TO_READ,
        f"What is heard is one of: {', '.join(SYMPTOMS)}. Put the switch place or the knob before "
        "it where you know it, as neck=silent.",
        "Tests without an ohmmeter count too: 'compass:neck=north' is the pole above a coil, "
        "'screwdriver:neck=positive' the kick of the meter on low DC volts at the jack as the "
        "screwdriver touches a pole, 'tap:neck=neck' the pickup that sounds there when tapped; "
        "none where nothing does. Between coils only differences count.",
        "It prints every fault that fits, the likeliest first, and what to measure next; often a "
        "meter cannot tell them apart. An equals sign joins faults that leave the same circuit. It "
        "leaves diagnosis as text and CSV.",
    )
    _guitar(own)
    own.add_argument("readings", nargs="+", metavar="PLACE=OHM", help="what the meter showed")
    own.add_argument(
        "--heard",
        action="append",
        default=[],
        metavar="WHERE=WORD",
        help="what is heard, as neck=silent; may be given several times",
    )
    own.add_argument(
        "--test",
        action="append",
        default=[],
        metavar="TEST:WHERE=RESULT",
        help="what a test at the bench showed, as compass:middle=south; may be given several times",
    )
    _meter(own, temperature=True)
    _recorded(own, "found")
    _numbered(own)


_HOW_TO_READ = (
    "How to read: cable plugged into the guitar and nothing else, meter on tip and sleeve of its "
    "free end, all controls up, once for each place of the switch. Write neck=6.05k, OL where the "
    "meter shows no value (with --largest 20k on its 20k range), at=6.05k where there is no "
    "switch; 'volume:5=32k' with a knob turned, 'neck,pull:coil 1=4k' with two switches, "
    "'volume.wiper:jack.tip=0 ohm' between two lugs."
)


def _bleeds(added: Any) -> None:
    own = _verb(
        *(added, "bleeds", "compare treble bleeds at given marks of the volume"),
        "Example:",
        "  guitarnet bleeds mine.toml '150k || 1n' 680p '130k + 1.2n' --marks 10 7 5\n"
        "  guitarnet bleeds two.toml 1n --place neck_bleed --set switch=neck",
        "A network is a capacitor (1n), parts side by side (||) or end to end (+). No bleed, what "
        "the guitar has, and the tone control moved to the other side of the volume are compared "
        "as well. It says in sentences what each does at 10 and at half travel; --tables prints "
        "the numbers too. It leaves report.html to hand over (report.pdf too where the extra cards "
        "is installed), bleeds.txt, bleeds.csv, two pictures (--pictures: seven) and a live page. "
        "Numbers are those of the model; it takes no side.",
    )
    _guitar(own)
    own.add_argument(
        "networks",
        nargs="*",
        default=[],
        metavar="NETWORK",
        help="a treble bleed; usual ones unless any is given",
    )
    own.add_argument(
        "--marks",
        nargs="+",
        default=[10, 9, 7, 5, 3],
        metavar="MARK",
        help="knob marks to show, 10 among them (10 9 7 5 3)",
    )
    own.add_argument("--tables", action="store_true", help="print the tables after the sentences")
    own.add_argument("--pictures", action="store_true", help="leave five more pictures")
    _placed(own)


def _cable(added: Any) -> None:
    own = _verb(
        *(added, "cable", "say what a metre of cable costs, and what other lengths do"),
        "Example:",
        "  guitarnet cable mine.toml '3 m' '20 ft'",
        "It compares the guitar's own cable with one a metre longer and with the lengths given "
        "(1 m and 6 m unless any is; with --feet 6 ft and 20 ft), at 10 and with the "
        "one volume at 5. It leaves cable.txt and cable.png. The capacitance of each metre is "
        "that of the guitar's cable; change it with --set 'cable.capacitance_per_metre=70 pF/m'.",
    )
    _guitar(own)
    own.add_argument(
        "lengths", nargs="*", default=[], metavar="LENGTH", help="a length, as '3 m' or '10 ft'"
    )
    _set(own)


def _wiring(added: Any) -> None:
    own = _verb(
        *(added, "wiring", "say what 50s, modern and independent wiring change with this guitar"),
        "Example:",
        "  guitarnet wiring mine.toml --set tone=5",
        "It compares the guitar as it is with the other wirings of one volume, at 10 and at 5. "
        "Modern has the tone control on the pickup's side of the volume, 50s on the output's side; "
        "independent has the pickup on the wiper. It leaves wiring.txt and wiring.png.",
    )
    _guitar(own)
    _placed(own)


def _choose(added: Any) -> None:
    own = _verb(
        *(added, "choose", "rank every treble bleed one can buy, over the whole travel"),
        "Example:",
        "  guitarnet choose mine.toml --cable '3 m' --cable '6 m' --goal treble --within 4",
        "It tries every network of up to three parts in preferred values; none, what the guitar "
        "has and the other wiring always compete. It leaves choice (text and CSV), what rounding "
        "to values on sale costs, and two pictures. It tells numbers, not taste.",
    )
    _guitar(own)
    own.add_argument(
        "networks",
        nargs="*",
        default=[],
        metavar="NETWORK",
        help="a network of yours that competes as it is",
    )
    goal = own.add_argument(
        "--goal",
        default="treble and taper",
        metavar="GOAL",
        help="'treble', or 'treble and taper' (which it is unless given)",
    )
    goal.choices = _Offered(("treble", "treble and taper"))
    own.add_argument("--within", metavar="DB", help="most that the shape may change anywhere [dB]")
    own.add_argument("--series", default="E12", metavar="E", help="preferred values, E6-E192 (E12)")
    own.add_argument(
        "--cable",
        action="append",
        default=[],
        metavar="LENGTH",
        help="a cable it has to serve; may be given several times",
    )
    _placed(own)


def _page(added: Any) -> None:
    own = _verb(
        *(added, "page", "leave a live page: move every control in a browser, curves follow"),
        "Example:",
        "  guitarnet page mine.toml --set volume=5 --set switch=neck\n"
        "  guitarnet page mine.toml yours.toml\n"
        "  guitarnet page mine.toml --set treble_bleed=1n --set treble_bleed='150k || 1n'",
        "Knobs, switches, cable, treble bleeds and tone capacitors are live; --set says where they "
        "stand at first. Several guitars, or one value given several times, lie over each other. "
        "live.html stands alone: it needs no network and can be sent by mail.",
        cautions=False,
    )
    own.add_argument("files", nargs="+", metavar="FILE", help="harness files (TOML)")
    own.add_argument("--title", metavar="TEXT", help="title of the page (the guitar's name)")
    _set(own)
    _out(own)


def _measure(added: Any) -> None:
    own = _verb(
        *(added, "measure", "measure an impedance with a sound card, from recordings"),
        "Example:",
        "  guitarnet measure\n"
        "  guitarnet measure pickup.wav --open open.wav --short short.wav --known 10k.wav \\\n"
        "      --resistance 9.98k --accuracy 0.5% --again open-2.wav",
        "Without a recording it leaves tones.wav to play and a drawing of the adapter. Play the "
        "tones once for each recording, and record both inputs as one file of two channels, "
        "reference first, tip second, from before the tones until after them: with nothing on the "
        "plug, with it shorted, with a known resistor across it, with each thing to measure, and "
        "at last with nothing on it again.",
        "Line level only: never an output for loudspeakers, never an amplifier. Switch phantom "
        "power off. A guitar is unplugged from everything else.",
        "It leaves each impedance as CSV, as a Touchstone one-port, in a picture, and in words. "
        "Nobody has tried this on hardware yet; figures come from a simulation.",
    )
    own.add_argument(
        "recordings", nargs="*", default=[], metavar="FILE", help="recordings of what is measured"
    )
    for name, words in {
        "open": "recording with nothing on the plug",
        "short": "recording with the plug shorted",
        "known": "recording with the known resistor",
        "again": "recording with nothing on the plug, afterwards: says how far the rig drifted",
    }.items():
        own.add_argument(f"--{name}", metavar="FILE", help=words)
    own.add_argument("--resistance", metavar="VALUE", help="the known resistor, as 9.98k")
    for name, value, words in (
        ("accuracy", "1%", "limits of error of the known resistor"),
        ("series", "47k", "resistor of the adapter"),
    ):
        shown = value.replace("%", "%%")
        own.add_argument(f"--{name}", default=value, metavar="VALUE", help=f"{words} ({shown})")
    own.add_argument(
        "--exciter",
        action="store_true",
        help="the recordings are of a pickup under an exciter coil: voltages, not impedances",
    )
    own.add_argument(
        "--rate",
        type=int,
        default=48_000,
        metavar="HZ",
        help="samples a second of the tones (48000)",
    )
    own.add_argument(
        "--out", default="measured", metavar="FOLDER", help="where to leave files (measured)"
    )


def _record(added: Any) -> None:
    own = _verb(
        *(added, "record", "keep what was read, found and done, of pickups and guitars"),
        "Example:",
        "  guitarnet record bench.record N-12 --new pickup --sort 'single coil, alnico rods' \\\n"
        "      --reading 7.15k --temperature '19 C' --state shipped\n"
        "  guitarnet record bench.record T-7 --new guitar --customer 'a customer'\n"
        "  guitarnet record bench.record T-7 --work 'new jack' --harness mine.toml --state left\n"
        "  guitarnet record bench.record T-7\n"
        "  guitarnet record bench.record --export bench.txt",
        "Without a NAME it lists what there is; with one alone, all that was written of it. The "
        "readings of a guitar are written as for check. Nothing is ever changed: --correct 12 "
        "puts another entry in the place of entry 12, --why withdraws it, and --all shows both. "
        "check, fault and card write into the same file with --record.",
        "--erase removes everything of one customer out of the file; copies of it and exported "
        "texts are yours to remove. Your record is for you: the law of your country says how long "
        "you may keep what names a person.",
    )
    own.add_argument("file", metavar="FILE", help="the record; it begins with the first --new")
    own.add_argument("name", nargs="?", metavar="NAME", help="a pickup or guitar")
    new = own.add_argument("--new", metavar="KIND", help="begin one: pickup or guitar")
    new.choices = _Offered(("pickup", "guitar"))
    for name, words in {
        "sort": "with --new: what sort it is; all of one are compared",
        "customer": "with --new: whose it is",
        "harness": "its harness file, as it is now",
        "export": "write the whole record as plain text to this file",
        "erase": "erase everything of this customer",
        "why": "with --correct: withdraw the entry, and why",
    }.items():
        metavar = {"harness": "FILE", "export": "FILE"}.get(name, "TEXT")
        own.add_argument(f"--{name}", metavar=metavar, help=words)
    for name, words in {
        "finding": "what was found",
        "work": "what was done",
        "remark": "anything else",
    }.items():
        own.add_argument(f"--{name}", default="", metavar="TEXT", help=words)
    own.add_argument(
        "--reading",
        dest="readings",
        action="append",
        default=[],
        metavar="OHM",
        help="what the meter showed, or PLACE=OHM; may be given several times",
    )
    own.add_argument("--correct", type=int, metavar="N", help="the entry to correct")
    own.add_argument("--all", action="store_true", help="show what was corrected, too")
    _unusual(own)
    _dated(own)
    _in_state(own, "")
    _coil(own)


def _certificate(added: Any) -> None:
    own = _verb(
        *(added, "certificate", "say what a customer's meter should show of a pickup"),
        "Example:",
        "  guitarnet certificate bench.record N-12 N-13 --out certificate.html\n"
        "  guitarnet certificate bench.record N-12 N-13 --labels --out labels.html",
        "It takes the last reading in the state shipped, and says what that is at 15, 20 and "
        "25 °C, with limits for both meters and both thermometers.",
    )
    _of_record(own)
    own.add_argument("names", nargs="+", metavar="NAME", help="pickups")
    own.add_argument("--labels", action="store_true", help="labels, three in a row")
    own.add_argument(
        "--out", default="certificate.html", metavar="FILE", help="the page (certificate.html)"
    )


def _returned(added: Any) -> None:
    own = _verb(
        *(added, "returned", "hold a pickup that came back against what was shipped"),
        "Example:",
        "  guitarnet returned bench.record N-12 6.95k --temperature '14 C'",
        "Both readings are brought to 20 °C. What was read is written into the record.",
        more="; 1 it does not read as it was shipped",
    )
    _of_record(own)
    own.add_argument("name", metavar="NAME", help="the pickup")
    own.add_argument("ohms", metavar="OHM", help="what the meter shows, or OL")
    _dated(own)
    _coil(own)


def _sheet(added: Any) -> None:
    own = _verb(
        *(added, "sheet", "write a guitar's sheet: as found, finding, work, as left"),
        "Example:",
        "  guitarnet sheet bench.record T-7 --out T-7.html",
    )
    _of_record(own)
    own.add_argument("name", metavar="NAME", help="the guitar")
    own.add_argument("--out", default="sheet.html", metavar="FILE", help="the page (sheet.html)")


def _history(added: Any) -> None:
    own = _verb(
        *(added, "history", "show all pickups of one sort over time, with your own limits"),
        "Example:",
        "  guitarnet history bench.record 'single coil, alnico rods' --limits 7.0k 7.3k",
        "It takes the first reading of each, brought to 20 °C, and leaves a picture.",
        cautions=False,
    )
    _of_record(own)
    own.add_argument("sort", metavar="SORT", help="the sort, as given with --sort")
    own.add_argument("--limits", nargs=2, metavar="OHM", help="your lowest and highest")
    own.add_argument(
        "--out", default="history.png", metavar="FILE", help="the picture (history.png)"
    )


def _completion(added: Any) -> None:
    own = _verb(
        *(added, "completion", "print what a shell completes this command by"),
        "Example:",
        "  guitarnet completion bash > ~/.local/share/bash-completion/completions/guitarnet\n"
        "  guitarnet completion zsh > ~/.zfunc/_guitarnet     (with ~/.zfunc in your fpath)\n"
        "  guitarnet completion fish > ~/.config/fish/completions/guitarnet.fish",
        "Begin a new shell afterwards.",
        cautions=False,
    )
    own.add_argument("shell", metavar="SHELL", choices=_Offered(SHELLS), help=", ".join(SHELLS))


# -- what several verbs take ------------------------------------------------------------------


def _guitar(own: argparse.ArgumentParser) -> None:
    own.add_argument("file", metavar="FILE", help="harness file of the guitar (TOML)")
    _out(own)


def _of_record(own: argparse.ArgumentParser) -> None:
    own.add_argument("file", metavar="FILE", help="the record")


def _dated(own: argparse.ArgumentParser) -> None:
    """Say on which day something was seen."""
    own.add_argument("--date", default="", metavar="DAY", help="the day, as 2026-12-01 (today)")


def _in_state(own: argparse._ActionsContainer, state: str) -> None:
    usual = f" ({state})" if state else ""
    words = f"found or left, shipped or returned{usual}"
    seen = own.add_argument("--state", default=state, metavar="STATE", help=words)
    seen.choices = _Offered(("found", "left", "shipped", "returned"))


def _coil(own: argparse.ArgumentParser) -> None:
    """Say how a coil was read."""
    own.add_argument(
        "--temperature",
        metavar="DEGREES",
        help="of the coil: 21, '21 C' or '70 F' (20 C)",
    )
    own.add_argument(
        "--accuracy",
        default="0.8%",
        metavar="VALUE",
        help="limits of error of the meter, as a share of the reading (0.8%%)",
    )


def _recorded(own: argparse.ArgumentParser, state: str) -> None:
    """Take the record that a verb writes into."""
    group = own.add_argument_group("the record")
    group.add_argument("--record", metavar="FILE", help="write this down in a record, too")
    _in_state(group, state)


def _numbered(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--number", default="", metavar="TEXT", help="number of the guitar, in the record"
    )
    _dated(own)


def _unusual(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--unusual",
        action="store_true",
        help="take values that hardly any guitar has as they are, without asking",
    )


def _out(own: argparse.ArgumentParser) -> None:
    _unusual(own)
    own.add_argument(
        "--feet", action="store_true", help="write lengths in feet and temperatures in °F"
    )
    own.add_argument(
        "--out", metavar="FOLDER", help="where to leave files (named after the harness file)"
    )


def _meter(own: argparse.ArgumentParser, *, temperature: bool = False) -> None:
    group = own.add_argument_group("the meter")
    for name, default, words in (
        ("leads", "0.2 ohm", "resistance of its leads"),
        ("accuracy", "0.8%", "limits of error, as a share of the reading"),
        ("largest", "20M", "largest reading, OL above it; 20k on a fixed range"),
    ):
        shown = default.replace("%", "%%")
        group.add_argument(f"--{name}", default=default, metavar="VALUE", help=f"{words} ({shown})")
    if temperature:
        group.add_argument(
            "--temperature",
            default="20 C",
            metavar="DEGREES",
            help="of the coils, which read more when warm: 21, '21 C' or '70 F' (20 C)",
        )


def _placed(own: argparse.ArgumentParser) -> None:
    own.add_argument("--place", metavar="NAME", help="where the bleed goes, if there are several")
    _set(own)


def _set(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a knob, switch or value, as tone=5, switch=neck, cable.length='3 m'; may be given "
        "several times; controls stand at 10 unless set",
    )
