"""Measuring with a sound card, tried on the simulated chain of `sound_card`.

Run it from the checkout::

    python tools/measuring.py quiet hum coverage mistakes pickup --half development
    python tools/measuring.py coverage --half held back --draws 200

``quiet``: a guitar with hum of -40 dBFS, clocks 100 parts in a million apart, at each rate and
number of bits, nothing drifting and the known resistor exact; the worst of all tones from 20 Hz
to 20 kHz. ``hum``: the same with hum of -20 dBFS. ``coverage``: gain, lead and resistor off; how
many tones lie within two stated standard errors. ``mistakes``: each kind, and sessions without
one. ``pickup``: bare pickups with eddy loss, through WAV files and the fit. Session n is drawn
by seed n. Figures in `measuring.md`.
"""

from __future__ import annotations

import argparse
import collections
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
if "guitarnet" not in sys.modules:
    sys.path.append(str(ROOT))  # after PYTHONPATH, so that another checkout can be tried

import guitarnet as gn  # noqa: E402
import sound_card  # noqa: E402
from guitarnet.study.measuring.stimulus import stimulus_samples  # noqa: E402

HALVES = {
    "development": sound_card.DEVELOPMENT,
    "held back": sound_card.HELD_BACK,
    "fresh": sound_card.FRESH,
}
_TAKEN: dict[Any, np.ndarray] = {}
"""Recordings of the last seed, which its mistakes share."""
ROWS = ("quiet", "hum", "coverage", "mistakes", "pickup")

# What is said of each mistake: words of its sentence.
SENTENCES = {
    "hum too strong": ("too strong",),
    "clipping": ("clips",),
    "no output": ("no output",),
    "nothing plugged in": ("nothing is plugged in",),
    "channels swapped": ("swapped",),
    "channels alike": ("same sound in both",),
    "crackling contact": ("crackles",),
    "samples lost": ("samples were lost",),
    "another sample rate": ("samples a second, but its tones",),
    "calibrations exchanged": ("exchanged", "is no short"),
    "stale calibration": ("is stale",),
    "shorted jack": ("shorted",),
}


def played(rate: int) -> np.ndarray:
    """Samples that are played, as the 16 bits of the file."""
    return np.round(stimulus_samples(rate, -6.0, 3) * 2.0**15) / 2.0**15


def measured(session: sound_card.Session, **how: Any) -> Any:
    """Read a session's recordings."""
    sounds = {
        name: gn.audio.sound(samples, session.rates[name])
        for name, samples in session.recordings.items()
    }
    chain = session.chain
    calibration = gn.measuring.read_calibration(
        *(sounds[name] for name in ("open", "short", "known")),
        resistance=chain.known,
        accuracy=max(chain.known_limits, 1e-4),
        series=chain.resistor,
    )
    return gn.measuring.read_impedance(sounds["thing"], calibration, sounds["again"], **how)


def off(result: Any, thing: sound_card.Thing) -> tuple[np.ndarray, np.ndarray]:
    """How far each tone is off [dB], [degree]."""
    ratio = result["impedance"].values / thing.impedance(result["frequency"].values)
    return 20 * np.log10(np.abs(ratio)), np.degrees(np.angle(ratio))


def one_session(
    seed: int,
    mistake: str | None = None,
    *,
    drifting: bool = False,
    thing: Any = None,
    **fixed: Any,
) -> sound_card.Session:
    """Record one session by seed."""
    rng = np.random.default_rng(seed)
    chain = sound_card.draw_chain(rng, drifting=drifting, **fixed)
    what = (thing or sound_card.any_guitar)(rng)
    if _TAKEN and seed != next(iter(_TAKEN))[0]:
        _TAKEN.clear()
    kept = _TAKEN if thing is None and drifting else None
    return sound_card.session(played(chain.rate), chain, what, seed, mistake=mistake, taken=kept)


def quiet(seeds: Any, hum: float = -40.0) -> str:
    """Say how far the worst tone is off."""
    worst = []
    for n, seed in enumerate(seeds):
        fixed: dict[str, Any] = {"hum": hum, "clock": 100.0 * (-1) ** n}
        fixed["rate"] = (44_100, 48_000, 96_000)[n % 3]
        fixed["bits"] = (16, 24)[n // 3 % 2]
        session = one_session(seed, **fixed)
        decibel, degree = off(measured(session), session.thing)
        worst.append((np.abs(decibel).max(), np.abs(degree).max()))
    table = np.array(worst)
    return (
        f"{len(table)} sessions, hum {hum:g} dBFS, worst tone: median {np.median(table, axis=0)}, "
        f"95 % {np.quantile(table, 0.95, axis=0)}, all {table.max(axis=0)} [dB, degree]"
    )


def coverage(seeds: Any) -> str:
    """Say how often two standard errors cover the truth."""
    size, phase, both = [], [], []
    for seed in seeds:
        hum = -40.0 + 20.0 * (seed % 2)
        session = one_session(seed, drifting=True, hum=hum, rate=44_100)
        result = measured(session)
        decibel, degree = off(result, session.thing)
        share = (result["standard_error"] / np.abs(result["impedance"])).values
        size.append(np.abs(10 ** (decibel / 20) - 1) <= 2 * share)
        phase.append(np.abs(degree) <= 2 * result["phase_error"].values)
        both.append((np.abs(10 ** (decibel / 20) - 1) / share).max())
    table, turned = np.array(size), np.array(phase)
    bands = [table[:, part].mean() for part in (slice(0, 16), slice(16, 33), slice(33, 50))]
    return (
        f"{len(table)} draws: size {table.mean():.1%} of all tones "
        f"({', '.join(f'{one:.1%}' for one in bands)} in thirds of the band), "
        f"phase {turned.mean():.1%}"
    )


def mistakes(seeds: Any) -> str:
    """Say how many of each kind are found, and by which sentence."""
    told: dict[str, collections.Counter[str]] = collections.defaultdict(collections.Counter)
    for seed in seeds:
        for kind in sound_card.MISTAKES:
            session = one_session(seed, kind, drifting=True, rate=44_100)
            told[kind][_told(session, SENTENCES[kind])] += 1
    lines = []
    for kind, counted in told.items():
        found = counted.pop("found", 0)
        rest = "; ".join(f"{count}: {words}" for words, count in counted.most_common())
        lines.append(f"  {kind}: {found} of {len(seeds)}{f' ({rest})' if rest else ''}")
    return "\n".join(["", *lines])


def alarms(seeds: Any) -> str:
    """Count the sessions without a mistake that are refused."""
    told: collections.Counter[str] = collections.Counter()
    for seed in seeds:
        fixed: dict[str, Any] = {"hum": -40.0 + 20.0 * (seed % 2)}
        told[_told(one_session(seed, drifting=True, rate=44_100, **fixed), ())] += 1
    none = told.pop("not found", 0)
    rest = "; ".join(f"{count}: {words}" for words, count in told.most_common())
    return f"{len(seeds) - none} false alarms in {len(seeds)} sessions {rest}"


def _told(session: sound_card.Session, words: tuple[str, ...]) -> str:
    try:
        measured(session)
    except gn.GuitarnetError as error:
        return "found" if any(word in str(error) for word in words) else str(error)
    return "not found"


def pickup(seeds: Any) -> str:
    """Say how far L and C of bare pickups are off, by way of WAV files."""
    import soundfile

    rows = []
    for seed in seeds:
        session = one_session(seed, drifting=True, thing=sound_card.any_pickup)
        chain = session.chain
        with tempfile.TemporaryDirectory() as folder:
            files = {}
            for name, samples in session.recordings.items():
                files[name] = Path(folder, f"{name}.wav")
                soundfile.write(files[name], samples.T, chain.rate, f"PCM_{chain.bits}")
            calibration = gn.measuring.read_calibration(
                files["open"], files["short"], files["known"], chain.known,
                accuracy=chain.known_limits, series=chain.resistor,
            )  # fmt: skip
            result = gn.measuring.read_impedance(files["thing"], calibration, files["again"])
        fit = gn.fit_pickup(result)
        true = session.thing
        rows.append(
            [
                fit.values[name].value / getattr(true, name) - 1
                for name in ("inductance", "capacitance")
            ]
        )
    table = np.abs(rows) * 100
    return (
        f"{len(table)} pickups: L, C off by median {np.median(table, axis=0)}, "
        f"95 % {np.quantile(table, 0.95, axis=0)}, all {table.max(axis=0)} [%]"
    )


def main() -> None:
    """Run the rows that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("rows", nargs="+", choices=(*ROWS, "alarms"))
    parser.add_argument("--half", nargs="+", default=["development"])
    parser.add_argument("--draws", type=int, default=40)
    options = parser.parse_args()
    seeds = HALVES[" ".join(options.half)][: options.draws]
    for row in options.rows:
        start = time.process_time()
        answer = quiet(seeds, -20.0) if row == "hum" else globals()[row](seeds)
        print(f"{row}, {' '.join(options.half)}: {answer}; "
              f"{time.process_time() - start:.0f} s of processor time", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
