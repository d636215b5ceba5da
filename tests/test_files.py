"""Files as they are met: links, rights, pipes, devices, killed writers, several at once."""

from __future__ import annotations

import os
import signal
import socket
import stat
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest

import guitarnet as gn
from guitarnet import files
from guitarnet.command.line import main
from guitarnet.command.start import LAYOUTS, beginning

COIL = gn.Pickup("6.2k", "2.4 H", "120p")
READERS = {
    "harness": gn.load_harness,
    "curve": lambda path: gn.fitting.read_curve(path, load=gn.fitting.Load("10M")),
    "Touchstone": lambda path: gn.fitting.read_curve(path, load=gn.fitting.Load("10M")),
    "sound": gn.audio.read_sound,
    "taper": gn.measured_taper,
}
ENDINGS = {"harness": "toml", "curve": "csv", "Touchstone": "s1p", "sound": "wav", "taper": "csv"}
WRITERS = {
    "harness": lambda path: gn.save_harness(gn.layouts.pickup_alone(COIL), path),
    "table": lambda path: gn.layouts.pickup_alone(COIL).part_table().to_csv(path),
    "sound": lambda path: gn.audio.write_sound(path, gn.audio.sound([0.0, 0.25, -0.5])),
    "card": lambda path: gn.job_card(gn.layouts.pickup_alone(COIL), path),
    "folder": lambda path: _in_a_folder(path),
}


def _in_a_folder(path):
    with files.together(path.parent) as beside:
        files.write_text(beside / path.name, "text")


def refusal(read, path):
    with pytest.raises(gn.errors.BadFile) as caught:
        read(path)
    return str(caught.value)


# -- reading --------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", READERS)
def test_what_is_no_file_is_refused_at_once(kind, tmp_path):
    """A pipe that no one writes into would be waited for, a device read without end."""
    path = tmp_path / f"mine.{ENDINGS[kind]}"
    path.mkdir()
    assert refusal(READERS[kind], path) == f"{path}: is a folder; name a file."
    path.rmdir()
    assert refusal(READERS[kind], path) == (
        f"{path}: there is no such file; check the name and folder."
    )
    os.mkfifo(path)
    assert refusal(READERS[kind], path) == f"{path}: is a pipe; name a file."
    path.unlink()
    for device in ("/dev/zero", "/dev/null", "/dev/tty"):
        path.symlink_to(device)
        said = refusal(READERS[kind], path)
        # Without a terminal there is no /dev/tty to open.
        assert said == f"{path}: is a device; name a file." or device == "/dev/tty"
        path.unlink()
    path.symlink_to(path)
    assert refusal(READERS[kind], path) == (
        f"{path}: cannot be read (Too many levels of symbolic links); check the name and rights."
    )


def test_the_terminal_and_a_socket_are_refused(tmp_path):
    controller, terminal = os.openpty()
    assert refusal(gn.load_harness, os.ttyname(terminal)).endswith(": is a device; name a file.")
    os.close(controller)
    os.close(terminal)
    with socket.socket(socket.AF_UNIX) as own:
        own.bind(str(tmp_path / "s"))
        assert "cannot be read (" in refusal(gn.load_harness, tmp_path / "s")


def test_a_pipe_given_to_the_command_does_not_hang(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    os.mkfifo("mine.toml")
    assert main(["check", "mine.toml"]) == 2
    assert capsys.readouterr() == ("", "error: mine.toml: is a pipe; name a file.\n")


def test_a_file_that_grows_while_it_is_read_is_bounded(tmp_path, monkeypatch):
    """As a log is written on: the size that the system gives first is under the limit."""
    file = tmp_path / "mine.toml"
    file.write_text("")
    first = file.stat()

    def then_it_grows(number):
        os.truncate(file, 30_000_000)
        return first

    monkeypatch.setattr(files.os, "fstat", then_it_grows)
    assert refusal(gn.load_harness, file) == (
        f"{file}: has over 20000000 bytes; give a file of at most 20000000 bytes."
    )


def test_a_touchstone_file_is_text_alone(tmp_path):
    """Its library would unpickle a file that it opens, and so run what stands there."""
    pytest.importorskip("skrf")
    file, trace = tmp_path / "evil.s1p", tmp_path / "trace"
    file.write_text(f"cos\nsystem\n(S'touch {trace}'\ntR.")  # protocol 0 is plain text
    assert refusal(READERS["Touchstone"], file) == (
        f"{file}: is not a Touchstone one-port; export it again, or as CSV."
    )
    assert not trace.exists()


@pytest.mark.parametrize(
    "text",
    [
        "a" + ".a" * 400_000 + " = 1",
        "[" + "a . " * 200_000 + "a]",
        '"a".' * 200_000 + "a = 1",
        "x = {" + "'a'." * 200_000 + "a = 1}",
    ],
    ids=["bare", "header", "quoted", "inline"],
)
def test_a_key_of_very_many_names_is_refused(text, tmp_path):
    """The parser's time would grow with the square of it."""
    file = tmp_path / "mine.toml"
    file.write_text(text)
    names = max(text.count("a"), 1)
    assert refusal(gn.load_harness, file) == (
        f"{file}: joins {names} names by dots in one key; a harness has at most 30, as "
        "parts.volume.resistance."
    )


def test_dots_that_join_no_names_are_free(tmp_path):
    """In text, in comments, in numbers and in one long line of joints."""
    file = tmp_path / "mine.toml"
    guitar = gn.layouts.one_pickup(COIL, name="a.b" * 50 + " '. \" #")
    text = f'# {"a." * 100}\n{_plain(guitar)}\n# it\'s """ {".a" * 100}'
    file.write_text(text.replace("\n    ", " "))
    assert gn.load_harness(file) == guitar


def _plain(guitar):
    from guitarnet.circuit.saved import harness_text

    return harness_text(guitar)


@pytest.mark.parametrize(
    ("written", "message"),
    [
        (
            '{name = "x", base = 2, opens_at_full = "yes"}',
            "taper.opens_at_full: 'yes' is neither true nor false; give one of the two.",
        ),
        ("{name = 5, base = 2}", "taper.name: 5 is no text; name the taper in words."),
        ('{name = "x", base = "b"}', "taper.base: 'b' is not a number; give a plain number."),
    ],
)
def test_a_taper_that_is_none(written, message, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(_plain(gn.layouts.one_pickup(COIL)).replace('"audio 15%"', written))
    assert refusal(gn.load_harness, file) == f"{file}, parts.volume.taper, {message}"


def test_a_base_in_words_is_a_number(tmp_path):
    file = tmp_path / "mine.toml"
    text = _plain(gn.layouts.one_pickup(COIL))
    file.write_text(text.replace('"audio 15%"', '{name = "x", base = "4"}', 1))
    taper = gn.load_harness(file).parts["volume"].taper
    assert taper(0.5) == pytest.approx((4**0.5 - 1) / 3)
    assert gn.load_harness(gn.save_harness(gn.load_harness(file), file)) == gn.load_harness(file)


# -- writing --------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", WRITERS)
def test_a_link_is_written_through_and_rights_are_kept(kind, tmp_path):
    """What stands behind the link is new, the link a link, the mode what someone set."""
    home, away = tmp_path / "home", tmp_path / "away"
    home.mkdir()
    away.mkdir()
    link, real = home / "mine.html", away / "real.html"
    real.write_text("old")
    real.chmod(0o640)
    link.symlink_to(Path("..", "away", "real.html"))
    WRITERS[kind](link)
    assert link.is_symlink()
    assert real.read_bytes() != b"old"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    real.unlink()  # now the link is broken
    WRITERS[kind](link)
    assert link.is_symlink()
    assert real.read_bytes() != b"old"
    link.unlink()
    link.write_text("old")
    link.chmod(0o755)
    WRITERS[kind](link)
    assert stat.S_IMODE(link.stat().st_mode) == 0o755
    assert sorted(path.name for path in home.iterdir()) == ["mine.html"]
    assert sorted(path.name for path in away.iterdir()) == ["real.html"]


def test_a_new_file_has_the_usual_rights(tmp_path):
    before = os.umask(0o027)
    try:
        files.write_text(tmp_path / "a.txt", "a")
        with files.together(tmp_path / "new") as beside:
            files.write_text(beside / "b.txt", "b")
    finally:
        os.umask(before)
    for path in ("a.txt", "new/b.txt"):
        assert stat.S_IMODE((tmp_path / path).stat().st_mode) == 0o640


@pytest.mark.parametrize("kind", ["harness", "table", "sound"])
def test_what_is_no_file_is_never_replaced(kind, tmp_path):
    path = tmp_path / "mine.html"
    path.mkdir()
    assert refusal(WRITERS[kind], path) == f"{path}: is a folder; name a file."
    path.rmdir()
    os.mkfifo(path)
    assert refusal(WRITERS[kind], path) == f"{path}: is a pipe; name a file."
    assert stat.S_ISFIFO(path.stat().st_mode)
    path.unlink()
    path.symlink_to(path)
    assert refusal(WRITERS[kind], path) == (
        f"{path}: cannot be written (Too many levels of symbolic links); check the folder and "
        "its rights."
    )
    assert path.is_symlink()
    path.unlink()
    inside = path / "x.html"
    path.write_text("old")
    assert refusal(WRITERS[kind], inside) == (
        f"{inside}: cannot be written (Not a directory); check the folder and its rights."
    )


def test_a_pipe_among_files_that_belong_together(tmp_path):
    os.mkfifo(tmp_path / "b.txt")
    with pytest.raises(gn.errors.BadFile) as caught, files.together(tmp_path) as beside:
        files.write_text(beside / "a.txt", "a")
        files.write_text(beside / "b.txt", "b")
    assert str(caught.value) == f"{tmp_path / 'b.txt'}: is a pipe; remove it, or name another."
    assert [path.name for path in tmp_path.iterdir()] == ["b.txt"]


def test_a_folder_is_made_only_for_a_file_that_can_be_written(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    refusal(lambda path: files.write_text(path, "a"), tmp_path / "new" / "deep" / "a.txt")
    assert list(tmp_path.iterdir()) == []


# -- several processes ----------------------------------------------------------------------------


def python(code, *words, where):
    """A process of its own, which forks what else is needed: importing once is enough."""
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, words)],
        cwd=where,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_of_several_that_begin_one_file_one_does(tmp_path):
    """Processes that wait for each other and then write the same new name, twenty times."""
    code = (
        "import os\n"
        "from guitarnet import files\n"
        "from guitarnet.errors import BadFile\n"
        "for number in range(20):\n"
        "    start, go = os.pipe()\n"
        "    several = []\n"
        "    for own in range(3):\n"
        "        several.append(os.fork())\n"
        "        if not several[-1]:\n"
        "            os.close(go)\n"
        "            os.read(start, 1)\n"
        "            try:\n"
        "                files.write_text(f'mine {number}.toml', str(own), new=True)\n"
        "            except BadFile as error:\n"
        "                print(f'{error}\\n', end='', flush=True)\n"
        "                os._exit(1)\n"
        "            os._exit(0)\n"
        "    os.close(start)\n"
        "    os.close(go)\n"
        "    print(*(os.waitpid(one, 0)[1] >> 8 for one in several), flush=True)\n"
    )
    said, wrong = python(code, where=tmp_path).communicate(timeout=60)
    assert wrong == ""
    lines = iter(said.splitlines())
    for number, refused in enumerate(lines):
        name = f"mine {number}.toml"
        assert {refused, next(lines)} == {
            f"{name}: is there already; name a new file; nothing is written over."
        }
        codes = next(lines).split()
        assert sorted(codes) == ["0", "1", "1"]
        assert (tmp_path / name).read_text() == str(codes.index("0"))
    assert len(list(tmp_path.iterdir())) == 20


def test_of_several_verbs_that_begin_one_file_one_does(tmp_path, monkeypatch, capsys):
    """Threads of the command itself; a broken link is there already too."""
    monkeypatch.chdir(tmp_path)
    start, codes = threading.Barrier(4), []

    def begin():
        start.wait()
        codes.append(main(["new", "one_pickup", "mine.toml"]))

    several = [threading.Thread(target=begin) for _ in range(4)]
    for one in several:
        one.start()
    for one in several:
        one.join()
    assert sorted(codes) == [0, 2, 2, 2]
    said, refused = capsys.readouterr()
    assert said.count("written to mine.toml") == 1
    assert refused == 3 * (
        "error: mine.toml: is there already; name a new file; nothing is written over.\n"
    )
    assert gn.load_harness("mine.toml") == beginning("one_pickup")
    Path("link.toml").symlink_to("nowhere.toml")
    assert main(["new", "one_pickup", "link.toml"]) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link.toml", "mine.toml"]


def test_a_file_system_without_links(tmp_path, monkeypatch):
    """As on a memory card: made in its place, and none is written over there either."""

    def none(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(files.os, "link", none)
    file = tmp_path / "mine.toml"
    files.write_text(file, "text", new=True)
    assert refusal(lambda path: files.write_text(path, "other", new=True), file) == (
        f"{file}: is there already; name a new file; nothing is written over."
    )
    assert file.read_text() == "text"
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]


def test_what_a_killed_process_left_goes_and_what_a_living_one_makes_stays(tmp_path):
    """Also where it was killed before its folder was there; a name like ours is not ours.

    Each process says its line in one piece: where output is unbuffered, `print` writes every word
    by itself, and the words of two processes mix.
    """
    code = (
        "import os, sys\n"
        "from guitarnet import files\n"
        "for _ in range(2):\n"
        "    if not os.fork():\n"
        "        with files.together('out') as beside:\n"
        "            files.write_text(beside / 'a.txt', 'a')\n"
        "            print(f'{os.getpid()} {beside.name}\\n', end='', flush=True)\n"
        "            sys.stdin.readline()\n"
        "        os._exit(0)\n"
        "os.wait()\n"
        "print('killed', flush=True)\n"
        "os.wait()\n"
    )
    both = python(code, where=tmp_path)
    (killed, left), (_, living) = (both.stdout.readline().split() for _ in range(2))
    os.kill(int(killed), signal.SIGKILL)
    assert both.stdout.readline() == "killed\n"
    mine = tmp_path / ".guitarnet.notes"
    mine.mkdir()
    assert {path.name for path in tmp_path.iterdir()} == {left, living, mine.name}
    out = tmp_path / "out"
    files.write_text(out / "b.txt", "b")
    assert {path.name for path in tmp_path.iterdir()} == {living, mine.name, "out"}
    assert both.communicate("\n", timeout=20) == ("", "")
    assert {path.name for path in tmp_path.iterdir()} == {mine.name, "out"}
    assert {path.name for path in out.iterdir()} == {"a.txt", "b.txt"}


def test_two_that_write_one_file_leave_one_whole(tmp_path):
    file = tmp_path / "mine.bin"
    several = [
        threading.Thread(
            target=lambda byte=byte: [files.write_bytes(file, byte * 10_000) for _ in range(20)]
        )
        for byte in (b"a", b"b", b"c")
    ]
    for one in several:
        one.start()
    for one in several:
        one.join()
    assert file.read_bytes() in (b"a" * 10_000, b"b" * 10_000, b"c" * 10_000)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.bin"]


# -- what the command prints ----------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full")
def test_an_answer_that_cannot_be_printed_is_said_once(tmp_path):
    """Found at the latest when what waits is sent, not when the interpreter ends.

    Nor is a closed pipe a second error there; ``head`` closes one.
    """
    gn.save_harness(gn.layouts.one_pickup(COIL), tmp_path / "one.toml")
    code = (
        "import contextlib, gc, io, os, sys\n"
        "from guitarnet.command.line import main\n"
        "with contextlib.redirect_stdout(io.StringIO()):\n"
        "    main(['check', 'one.toml'])\n"  # what it needs is imported once, for all seven,
        "gc.freeze()\n"  # and not looked through at the end of each
        "def full(number):\n"
        "    os.dup2(os.open('/dev/full', os.O_WRONLY), number)\n"
        "def closed(number):\n"
        "    mine, theirs = os.pipe()\n"
        "    os.close(mine)\n"
        "    os.dup2(theirs, number)\n"
        "for words, to, number in (\n"
        "    ('check one.toml', full, 1),\n"
        "    ('completion bash', full, 1),\n"
        "    ('--help', full, 1),\n"
        "    ('check none.toml', full, 2),\n"
        "    ('check one.toml', closed, 1),\n"
        "    ('--help', closed, 1),\n"
        "    ('check none.toml', closed, 2),\n"
        "):\n"
        "    own = os.fork()\n"
        "    if not own:\n"
        "        to(number)\n"
        "        sys.exit(main(words.split()))\n"
        "    print(os.waitpid(own, 0)[1] >> 8, flush=True)\n"
    )
    said, refused = python(code, where=tmp_path).communicate(timeout=60)
    assert said.split() == ["2", "2", "2", "2", "0", "0", "2"]
    assert refused == 3 * (
        "error: the answer: cannot be printed (No space left on device); make room, or send it "
        "elsewhere.\n"
    )


@pytest.mark.long
def test_a_stream_that_was_closed_is_no_error(tmp_path):
    done = subprocess.run(
        ["sh", "-c", f"{sys.executable} -m guitarnet new >&-"],
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        text=True,
        timeout=60,
    )
    assert (done.returncode, done.stderr) == (0, "")


# -- how large ------------------------------------------------------------------------------------


def ladder(sections):
    """Resistors in line, a capacitor to ground behind each."""
    parts = {"pickup": COIL, "jack": gn.Jack()}
    ground, joined, last = ["pickup.ground", "jack.sleeve"], [], "pickup.hot"
    for n in range(sections):
        parts |= {f"r{n}": gn.Resistor("1k"), f"c{n}": gn.Capacitor("10p")}
        joined += [(last, f"r{n}.a"), (f"r{n}.b", f"c{n}.a")]
        ground.append(f"c{n}.b")
        last = f"r{n}.b"
    return gn.Harness(parts, [*joined, (last, "jack.tip"), ground], name="ladder")


def test_a_harness_with_more_faults_than_a_guitar_has_is_refused():
    with pytest.raises(gn.errors.BadHarness) as caught:
        gn.bench.faults(ladder(200))
    assert str(caught.value) == (
        "ladder: may have 3417 single faults; a guitar has at most 1000; ask for some of them, as "
        "kinds=['coil', 'pot']."
    )
    assert len(gn.bench.faults(ladder(200), kinds="coil")) == 5
    assert len(gn.bench.faults(ladder(20))) == 353


def test_no_layout_comes_near_that():
    assert max(len(gn.bench.faults(beginning(name))) for name in LAYOUTS) < 300


def test_joints_are_merged_in_the_order_of_the_first():
    """Whichever of them share a lug, and however late the one that joins two comes."""
    parts = {f"r{n}": gn.Resistor("1k") for n in range(6)}
    joined = [
        ("r0.a", "r1.a"),
        ("r2.a", "r3.a"),
        ("r4.a", "r5.a"),
        ("r0.b", "r1.b"),
        ("r3.a", "r2.b", "r4.a"),
        ("r1.b", "r0.b"),
    ]
    assert gn.Harness(parts, joined).joined == (
        ("r0.a", "r1.a"),
        ("r2.a", "r3.a", "r4.a", "r5.a", "r2.b"),
        ("r0.b", "r1.b"),
    )


def test_marks_are_shown_in_whatever_order_they_were_swept():
    """Each panel shows its own mark: at 10 a bleed does nothing, at 5 it does."""
    guitars = {b or "none": gn.layouts.one_pickup(COIL, treble_bleed=b) for b in (None, "1n")}
    h = gn.response(guitars, volume=[10, 5, 7])
    level = gn.level_db(h, re="reference")
    for marks in ([5, 10], [7, 10, 5, 7]):
        axes = gn.plots.plot_builds(h, marks)
        shown = list(dict.fromkeys(marks))
        assert len(axes) == len(shown)
        for ax, mark in zip(axes, shown, strict=True):
            drawn = ax.lines[0].get_ydata()
            own = level.sel(volume=mark).isel(build=0)
            assert np.isin(np.round(drawn, 9), np.round(own.values, 9)).all()
        # At 10 both are the reference: that panel is left out, and the caption says so.
        assert len(gn.plots.plot_difference(h, marks, re={"volume": 10})) == len(shown) - 1
