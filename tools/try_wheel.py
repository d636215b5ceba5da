"""Try the wheel in bare environments, away from the checkout, for every Python that is here.

    python tools/try_wheel.py                  # every Python 3.11 or later that can be found
    python tools/try_wheel.py python3.12 ...   # these
    python tools/try_wheel.py --only-this      # the one that runs this script

For each: an environment of its own takes the wheel and nothing else; the core must stay under
300 MB (files as installed, without the byte code that Python makes of them and without pip),
answer what needs no extra, and refuse what needs one in a sentence that names it. Then the extras
for figures and lessons are added, and an example, the command and one lesson run.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent
OLDEST = (3, 11)
MOST = 300e6  # bytes
EXAMPLE, LESSON = "cable_length.py", "05_cable_length.py"
CORE = """
import sys
import guitarnet as gn
guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")
h = gn.response(guitar, volume=[10, 5])
assert gn.peak(h).frequency.notnull().all()
assert 6.0e3 < gn.jack_resistance(guitar, volume=10) < 6.2e3
print(gn.diagnose(guitar, [gn.bench.ResistanceReading("250k")]))
print(gn.choose_treble_bleed(guitar))
gn.audio.write_sound("pluck.wav", gn.audio.play_through(gn.strings.pluck("E2"), guitar, volume=5))
for name, extra, ask in [
    ("figures", "figures", lambda: gn.plot_response(h)),
    ("symbols", "symbols", lambda: gn.formulas.transfer_function(guitar)),
]:
    try:
        ask()
    except gn.errors.NotInstalled as refusal:
        assert f"guitarnet[{extra}]" in str(refusal), refusal
    else:
        raise SystemExit(f"{name} came without their extra")
assert not {"matplotlib", "sympy"} & set(sys.modules)
"""


def pythons() -> list[str]:
    """Every interpreter on the path or of pyenv, one of each version."""
    found: dict[str, str] = {}
    places = [Path(p) for p in os.environ.get("PATH", "").split(os.pathsep) if p]
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv"))
    places += sorted(pyenv.glob("versions/*/bin"))
    for place in places:
        for minor in range(OLDEST[1], 30):
            path = place / f"python3.{minor}"
            if not os.access(path, os.X_OK):
                continue
            said = subprocess.run(
                [path, "-c", "import sys, venv, ensurepip; print(sys.version.split()[0])"],
                capture_output=True,
                text=True,
            )
            if said.returncode == 0:  # a wrapper of a version that is not chosen says no
                found.setdefault(said.stdout.strip(), str(path))
    return list(found.values())


def run(*command: object, where: Path) -> str:
    """Run a command away from the checkout; what it says is shown where it fails."""
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "VIRTUAL"))}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=where,
        env={**clean, "MPLBACKEND": "agg", "OMP_NUM_THREADS": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
    )
    if done.returncode:
        raise SystemExit(f"{done.stdout}\n{' '.join(map(str, command))} failed")
    return done.stdout


def size(environment: Path) -> tuple[float, float]:
    """Bytes of what was installed, and the same with byte code; pip is left out of both."""
    files = [
        path
        for path in environment.glob("lib/python*/site-packages/**/*")
        if path.is_file() and not re.search(r"site-packages/(pip|setuptools)\b", path.as_posix())
    ]
    without = sum(path.stat().st_size for path in files if path.suffix != ".pyc")
    return without, sum(path.stat().st_size for path in files)


def try_one(interpreter: str, wheel: Path, scratch: Path) -> str:
    """Try the wheel with one Python; returns what to say of it."""
    begun = time.monotonic()
    where = scratch / "away"
    shutil.rmtree(where, ignore_errors=True)
    where.mkdir()
    environment = where / "bare"
    run(interpreter, "-m", "venv", environment, where=where)
    python, pip = environment / "bin" / "python", environment / "bin" / "pip"
    run(pip, "install", "-q", "--disable-pip-version-check", wheel, where=where)
    without, with_code = size(environment)
    if without > MOST:
        raise SystemExit(f"the core takes {without / 1e6:.0f} MB, over {MOST / 1e6:.0f}")
    (where / "core.py").write_text(CORE, encoding="utf-8")
    run(python, "-W", "error", "core.py", where=where)
    command = environment / "bin" / "guitarnet"
    run(command, "new", "one_pickup", "mine.toml", where=where)
    run(command, "check", "mine.toml", "at=6k", where=where)
    run(pip, "install", "-q", f"guitarnet[figures] @ {wheel.as_uri()}", where=where)
    for script in (PROJECT / "examples" / EXAMPLE, PROJECT / "notebooks" / LESSON):
        shutil.copy(script, where)
    shutil.copytree(PROJECT / "notebooks" / "exercises", where / "exercises")
    run(python, "-W", "error", EXAMPLE, "--out", "left", where=where)
    if not list((where / "left").glob("*.png")):
        raise SystemExit(f"{EXAMPLE} left no picture")
    run(python, LESSON, where=where)
    version = run(python, "-c", "import sys; print(sys.version.split()[0])", where=where).strip()
    return (
        f"Python {version}: core {without / 1e6:.0f} MB ({with_code / 1e6:.0f} MB with byte code), "
        f"core, command, {EXAMPLE} and {LESSON} run; {time.monotonic() - begun:.0f} s"
    )


def main(given: Iterable[str] | None = None) -> None:
    """Run the chore."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("python", nargs="*", help="interpreters; all that are found unless given")
    parser.add_argument("--only-this", action="store_true", help="the one that runs this script")
    parser.add_argument("--wheel", type=Path, help="a wheel already built")
    options = parser.parse_args(given)
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        wheel = options.wheel
        if wheel is None:
            run(
                sys.executable,
                "-m",
                "build",
                "-q",
                "--wheel",
                "-o",
                scratch,
                PROJECT,
                where=scratch,
            )
            wheel = next(scratch.glob("*.whl"))
        chosen = [sys.executable] if options.only_this else options.python or pythons()
        for interpreter in chosen:
            print(try_one(interpreter, wheel.resolve(), scratch), flush=True)


if __name__ == "__main__":
    main()
