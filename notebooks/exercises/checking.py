"""Is a learner's answer within reach of the computed one? A hint if not, never the solution."""

from __future__ import annotations

import html
import math
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from guitarnet.errors import BadSetting, BadValue, asked
from guitarnet.gate import public
from guitarnet.ranking import CLOSE
from guitarnet.units import format_value, read_value

__all__ = ["Checked", "Exercise", "check"]

_NEAR = 3  # times the tolerance
_SMALL = 3.0  # dB; below it a factor of 2 is as likely a rough guess as a slip
_BASES = ("ohm", "F", "H", "Hz", "m", "V", "F/m", "ohm/m")
_YES_OR_NO = {"y": "yes", "true": "yes", "n": "no", "false": "no"}
_ANY = "any that has prefixes"
_OPEN = ("ol", "open", "inf")
_HEADS = {"right": "Right", "near": "Near", "wrong": "Not yet", "unanswered": "Your turn"}
# A rule beside the words; the words say the same without it.
_COLOURS = {"right": "#0072b2", "near": "#997700", "wrong": "#d55e00", "unanswered": "#767676"}

# (unit it can happen in, how it is called, factor, what it may have been)
_SLIPS = (
    (_ANY, "a factor of 1000", 1e3, "is the prefix right"),
    (_ANY, "a factor of a million", 1e6, "is the prefix right"),
    (_ANY, "a factor of 1000 million", 1e9, "is the prefix right"),
    ("Hz", "a factor of 2π", 2 * math.pi, "was it rad/s against Hz"),
    ("dB", "a factor of 2", 2.0, "was it 10 log against 20 log"),
    ("%", "a factor of 100", 100.0, "was it a fraction against percent"),
)


@public
@dataclass(frozen=True)
class Exercise:
    """A question, what computes its answer, and what helps when the answer is off.

    Parameters
    ----------
    question : str
        What is asked, in one sentence.
    expected : number, bool, str or callable
        The answer in ``unit``, or a function of no arguments that computes it when it is needed.
        True and False are for "is it so?", a word for a choice among ``choices``.
    within : str or float
        How far off is still right: "5 %" of the computed answer, or "0.5 dB", which is in the
        unit; a bare number is in the unit too, and 0 asks for exactly that number.
    unit : str
        Unit of ``expected`` and of an answer without one, with its prefix: "Hz", "kΩ", "pF",
        "dB", "%"; any other word is a label, such as "readings".
    hint : str
        One sentence that helps without giving the answer away, with capital and full stop.
    low, high : str
        What to add when the answer is too low or too high.
    choices : tuple of str
        The words to choose from.

    Raises
    ------
    BadSetting
        If the tolerance cannot be read.

    Examples
    --------
    >>> import math
    >>> exercise = Exercise(
    ...     "Where do 2 H and 500 pF resonate?",
    ...     lambda: 1 / (2 * math.pi * math.sqrt(2 * 500e-12)),
    ...     unit="Hz",
    ...     hint="Put henries and farads into 1/(2π√(LC)).",
    ... )
    >>> check("5 kHz", exercise)
    Right: 5.033 kHz computed, yours is 0.65 % lower.
    """

    question: str
    expected: Any = field(repr=False)  # else a look at the exercise would be the solution
    within: str | float = "5 %"
    unit: str = ""
    hint: str = ""
    low: str = ""
    high: str = ""
    choices: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self.tolerance(1.0)

    def value(self) -> Any:
        """Compute the answer: a float in the unit, a bool or a word."""
        found = self.expected
        if callable(found):
            found = asked(found, "expected", "give a value, or a function of nothing")
        if isinstance(found, (bool, np.bool_)):
            return bool(found)
        if isinstance(found, str):
            if found not in self.choices:
                fix = f"give choices with {found!r} among them"
                raise BadSetting("expected", f"{found!r} is none of the choices", fix, found)
            return found
        return read_value(_plain(found), "number", where="expected")

    def tolerance(self, expected: float) -> float:
        """How far off an answer may be, in the unit.

        Parameters
        ----------
        expected : float
            The computed answer.

        Returns
        -------
        float
            In the unit of the exercise.

        Raises
        ------
        BadSetting
            If ``within`` is no tolerance.
        """
        try:
            if isinstance(self.within, str) and self.within.strip().endswith("%"):
                off = read_value(self.within, "fraction", where="within") * abs(expected)
            else:
                off = _number(self.within, self.unit, "within")
        except BadValue as error:
            fix = "write it like '5 %' or '0.5 dB'"
            raise BadSetting("within", error.problem, fix, self.within) from None
        if not 0 <= off < math.inf and math.isfinite(expected):
            raise BadSetting(
                "within", f"{self.within!r} is no tolerance", "give one from 0", self.within
            )
        return off


@public
@dataclass(frozen=True)
class Checked:
    """What `check` says of an answer; true when it is right.

    Parameters
    ----------
    verdict : str
        "right", "near", "wrong" or "unanswered".
    words : str
        What is said.
    """

    verdict: str
    words: str

    @property
    def right(self) -> bool:
        """Whether the answer is within the tolerance."""
        return self.verdict == "right"

    def __bool__(self) -> bool:
        return self.right

    def __str__(self) -> str:
        return f"{_HEADS[self.verdict]}: {self.words}"

    __repr__ = __str__

    def _repr_html_(self) -> str:
        rule = f"border-left:4px solid {_COLOURS[self.verdict]};padding:.2em .7em;margin:.4em 0"
        return (
            f'<p style="{rule}"><strong>{_HEADS[self.verdict]}:</strong> '
            f"{html.escape(self.words)}</p>"
        )


@public
def check(
    answer: Any,
    expected: Any,
    *,
    within: str | float = "5 %",
    unit: str = "",
    hint: str = "",
    low: str = "",
    high: str = "",
    choices: tuple[str, ...] = (),
) -> Checked:
    """Say whether an answer is right or near, or give a hint, never the solution.

    Parameters
    ----------
    answer : number, str, bool or None
        A number in the unit, text with a unit ("3.2 kHz", "250k"), yes or no, a word among the
        choices; None or ``...`` where nothing is answered yet.
    expected : Exercise, number, bool, str or callable
        An exercise, which brings all the rest with it, or the answer as in `Exercise`.
    within, unit, hint, low, high, choices
        As in `Exercise`; beside an exercise they replace its own.

    Returns
    -------
    Checked
        True when right. It shows itself in words.

    Raises
    ------
    BadValue
        If the answer is no number, no yes or no, or none of the choices.
    BadSetting
        If the tolerance or the expected answer cannot be read.

    Notes
    -----
    A wrong answer is tried for common slips: the sign, a bare number in farads where pF are asked,
    a prefix (a factor of 1000, a million and so on), rad/s against Hz (2π), 10 log against 20 log
    (a factor of 2, from 3 dB up), a fraction for percent.

    Examples
    --------
    >>> check("4.1 kHz", 4000, unit="Hz")
    Right: 4 kHz computed, yours is 2.5 % higher.
    >>> check(25000, 4000, unit="Hz", hint="Count the cable.")
    Not yet: by a factor of 2π too large; was it rad/s against Hz? Hint: Count the cable.
    >>> check("no", True, hint="An ohmmeter sees the wire only.").right
    False
    """
    given: dict[str, Any] = {
        "within": within,
        "unit": unit,
        "hint": hint,
        "low": low,
        "high": high,
        "choices": choices,
    }
    if isinstance(expected, Exercise):
        usual = {one.name: one.default for one in fields(Exercise)}
        task = replace(expected, **{k: v for k, v in given.items() if v != usual[k]})
    else:
        task = Exercise("", expected, **given)
    value = task.value()
    if answer is None or answer is ...:
        return Checked("unanswered", _prompt(task, value))
    if isinstance(value, (bool, str)):
        return _chosen(answer, task, value)
    return _weighed(_number(answer, task.unit, "answer"), task, value)


# -- reading --------------------------------------------------------------------------------------


def _plain(value: Any) -> Any:
    """Take the value out of an array without dimensions."""
    return np.asarray(value).item() if getattr(value, "ndim", None) == 0 else value


def _scale(unit: str) -> tuple[str, float]:
    """The unit that `read_value` knows and the factor to it; no unit for a label."""
    if unit in _BASES:
        return unit, 1.0
    for base in _BASES if unit else ():
        try:
            return base, read_value(f"1 {unit}", base)
        except BadValue:
            continue
    return "", 1.0


def _number(answer: Any, unit: str, where: str) -> float:
    """Read an answer in the unit of the exercise."""
    answer = _plain(answer)
    base, factor = _scale(unit)
    if isinstance(answer, str) and base:
        if base == "ohm" and answer.strip().lower() in _OPEN:
            return math.inf
        number = read_value(answer, base, where=where, marking=base == "F") / factor
    else:
        number = _labelled(answer, unit, where)
    if math.isnan(number):
        raise BadValue(where, "nan is no answer", "give a number, or None for none yet", answer)
    return number


def _labelled(answer: Any, unit: str, where: str) -> float:
    """Read an answer whose unit is a label: "3 dB", "±6 %", "4 readings"."""
    bare = answer
    if isinstance(answer, str):
        bare = answer.strip().removeprefix("±")
        if unit and bare.casefold().endswith(unit.casefold()):
            bare = bare[: -len(unit)].strip()
    try:
        return read_value(bare, "number", where=where)
    except BadValue:
        if not (unit and isinstance(answer, str)):
            raise
        fix = f"write it like '3' or '3 {unit}'"
        raise BadValue(where, f"{answer!r} is not a number in {unit}", fix, answer) from None


# -- weighing -------------------------------------------------------------------------------------


def _prompt(task: Exercise, value: Any) -> str:
    """What to write, and the question."""
    if isinstance(value, bool):
        first = "yes or no"
    elif isinstance(value, str):
        between = "; " if any("," in choice for choice in task.choices) else ", "
        first = "one of " + between.join(task.choices)
    else:
        first = f"your number{f' in {task.unit}' if task.unit else ''}"
    return f"write {first} first{f': {task.question}' if task.question else '.'}"


def _chosen(answer: Any, task: Exercise, value: bool | str) -> Checked:
    """Compare a yes, a no or a word."""
    wanted, choices = value, task.choices
    word = _letters(answer)
    if isinstance(value, bool):
        wanted, choices = "yes" if value else "no", ("yes", "no")
        word = _YES_OR_NO.get(word, word)
    known = {_letters(choice): choice for choice in choices}
    if word not in known:
        fix = "write one of " + ", ".join(repr(choice) for choice in choices)
        raise BadValue("answer", f"{answer!r} is none of the choices", fix, answer)
    if known[word] == wanted:
        return Checked("right", f"{wanted}.")
    return Checked("wrong", _joined("look again.", task.hint))


def _letters(word: Any) -> str:
    """A word without its spaces and capitals: "Audio 15 %" is "audio15%"."""
    return "".join(str(word).split()).lower()


def _weighed(number: float, task: Exercise, value: float) -> Checked:
    """Compare a number."""
    if number == value or math.isclose(number, value, rel_tol=CLOSE):
        return Checked("right", f"{_written(value, task.unit)}.")
    if math.isinf(value) or math.isinf(number):
        return Checked("wrong", _joined("look again.", task.hint))
    off, tolerance = number - value, task.tolerance(value)
    if abs(off) <= tolerance + 1e-9 * abs(value):
        return Checked("right", f"{_written(value, task.unit)} computed, {_gap(off, value, task)}.")
    side, more = ("high", task.high) if off > 0 else ("low", task.low)
    if abs(off) <= _NEAR * tolerance:
        return Checked("near", _joined(f"a little too {side}.", more or task.hint))
    slip = _slip(number, value, tolerance, task.unit)
    if slip:
        return Checked("wrong", _joined(slip, task.hint))
    return Checked("wrong", _joined(f"too {side}.", " ".join(filter(None, [more, task.hint]))))


def _joined(words: str, hint: str) -> str:
    return f"{words} Hint: {hint}" if hint else words


def _written(value: float, unit: str) -> str:
    """The computed value in print."""
    base, factor = _scale(unit)
    return format_value(value * factor, base) if base else f"{value:.4g} {unit}".strip()


def _gap(off: float, value: float, task: Exercise) -> str:
    """How far off a right answer is."""
    if abs(off) <= task.tolerance(value) / 100:
        return "and yours is that"
    side = "higher" if off > 0 else "lower"
    if isinstance(task.within, str) and "%" in task.within:
        return f"yours is {100 * abs(off / value):.2g} % {side}"
    return f"yours is {_written(float(f'{abs(off):.2g}'), task.unit)} {side}"


def _slip(number: float, value: float, tolerance: float, unit: str) -> str:
    """A common slip that leads from the computed value to the answer, in words; "" for none."""

    def is_near(other: float) -> bool:
        # A wide tolerance must not make a slip of anything.
        return abs(other - value) <= min(tolerance, 0.1 * abs(value)) + 1e-9 * abs(value)

    if is_near(-number):
        return "the size is right, the sign is not."
    base, scale = _scale(unit)
    if base and scale != 1 and is_near(number / scale):
        return f"it would be right in {base.replace('ohm', 'Ω')}, and a bare number is in {unit}."
    for where, name, factor, words in _SLIPS:
        if where not in (unit, base) and not (base and where == _ANY):
            continue
        if where == "dB" and abs(value) < _SMALL:
            continue
        if is_near(number / factor):
            return f"by {name} too large; {words}?"
        if is_near(number * factor):
            return f"by {name} too small; {words}?"
    return ""
