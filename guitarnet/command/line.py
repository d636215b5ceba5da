"""The command line: from words to a verb, and how a refusal is said."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence

from ..errors import BadSetting, GuitarnetError, nearest
from ..gate import insisting
from ..units import prefer_units
from . import verbs
from .options import parser, parsers_of_verbs
from .words import put, refuse

__all__ = ["main"]

_REFUSED, _STOPPED = 2, 130

# What the library says to a programmer, as it reads here.
_SAID = (
    (re.compile(r"give place='([^']*)'"), r"give --place \1"),
    (
        re.compile(r"add an empty one, as guitar\.add\(.*$"),
        'add [parts.treble_bleed] with kind = "Empty" to the file, its lugs a and b joined to '
        "the input and the output of the volume pot.",
    ),
    (re.compile(r", or end the path in \.html and print that"), ", or give --html-only"),
    (re.compile(r"; give marks in goal=gn\.choosing\.BleedGoal\(marks=\.\.\.\)"), "; leave it out"),
    (re.compile(r"^(Ohmmeter|goal)\.(?=\w+:)"), "--"),
    (re.compile(r"\bunusual=True"), "--unusual"),
    (re.compile(r"\bunusual = true beside it"), "unusual = true beside it, or --unusual"),
    (re.compile(r", as in h\.isel\(.*\)"), ""),
    (re.compile(r"^coil_temperature:"), "--temperature:"),
    (re.compile(r"^(?=(marks|paper|place|series):)"), "--"),
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : sequence of str, optional
        The words behind ``guitarnet``; those of the process unless given.

    Returns
    -------
    int
        Exit code: 0 fine, 1 a reading that cannot be right (``check`` only), 2 bad input or an
        answer that cannot be printed, 130 stopped by the keyboard.
    """
    # Drawings go to files only, whatever screen there is.
    os.environ["MPLBACKEND"] = "Agg"
    if arguments is None:
        # Nothing is chunked in a process of its own; xarray would load dask's arrays to find that
        # out. None says that there are none (Python's reference, "The module cache").
        sys.modules.setdefault("dask.array", None)  # type: ignore[arg-type]
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a screen that has no Ω shows ?
    try:
        try:
            code = _run(list(sys.argv[1:] if arguments is None else arguments))
        except SystemExit as end:  # --help and --version
            code = int(end.code or verbs.FINE)
        put("")  # now, before the end of the process finds that it did not get out
        return code
    except GuitarnetError as error:
        refuse(f"error: {_in_our_words(str(error))}")
        return _REFUSED
    except KeyboardInterrupt:
        refuse("stopped")
        return _STOPPED
    except BrokenPipeError:  # whoever read along, such as head, has seen enough
        return verbs.FINE


def _run(words: list[str]) -> int:
    whole = parser()
    known = parsers_of_verbs(whole)
    if not words:
        whole.print_help()
        return verbs.FINE
    for word in words:
        if "\0" in word or any(0xD800 <= ord(c) <= 0xDFFF for c in word):
            raise BadSetting(
                ascii(word), "holds bytes that are no UTF-8 text", "write it in UTF-8", word
            )
    verb = words[0]
    if verb.startswith("-"):
        whole.parse_args(words)  # --help and --version end here
    if verb not in known:
        raise BadSetting("guitarnet", f"there is no verb {verb!r}", nearest(verb, known), verb)
    own = known[verb]
    # Readings and networks may stand before, between and behind the options.
    options, rest = own.parse_known_intermixed_args(words[1:])
    for word in rest:
        offered = [name for action in own._actions for name in action.option_strings]
        fix = nearest(word, offered)
        if word.startswith("--tolerance"):
            fix = 'write tolerance = "1%" into the file, in the part\'s table'
        raise BadSetting(own.prog, f"there is no option {word!r}", fix, word)
    units = "feet" if getattr(options, "feet", False) else "metric"
    with insisting(getattr(options, "unusual", False)), prefer_units(units):
        code: int = getattr(verbs, verb)(options)
    return code


def _in_our_words(sentence: str) -> str:
    for pattern, words in _SAID:
        sentence = pattern.sub(words, sentence)
    return sentence
