"""The course: one form for every lesson, exercises that are used, answered and helped with."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

import exercises
import guitarnet as gn
from exercises.checking import Exercise, check

NOTEBOOKS = Path(__file__).resolve().parent.parent / "notebooks"
LESSONS = sorted(NOTEBOOKS.glob("[0-9]*.py"))
MODULES = [m.name for m in pkgutil.iter_modules(exercises.__path__) if m.name != "checking"]
OPENING = [
    "The question from the bench.",
    "What you learn.",
    "How long it takes.",
    "What you need on the bench.",
]
FORM = [
    "Predict",
    "Compute",
    "Look",
    "Is it so?",
    "Measure it on your own guitar",
    "Exercises",
    "Check",
]
CAUTIONS = ("unplug", "never open an amplifier", "lethal", "licensed")

THERE = {module: importlib.import_module(f"exercises.{module}") for module in MODULES}
DEAR = (
    "bleed_for_independent",
    "coils_alike",
    "even_capacitor",
    "from_the_drawer",
    "half_of_pairs_within_half_a_db",
    "inductance_for_400_hz",
    "load_without_a_peak",
    "odd_values_would_help",
    "ohms_of_the_joint",
    "pot_behind_a_bleed",
    "pots_to_10_percent",
    "price_of_3_db",
    "same_cable_for_all",
    "sorted_pots_same_peak",
    "three_zeros",
    "worst_of_a_humbucker",
)
"""What takes a third of a second or more: left to the lessons and answers, which are run too."""
EXERCISES = [
    pytest.param(
        getattr(there, name),
        id=f"{module}.{name}",
        marks=[pytest.mark.long] if name in DEAR else [],
    )
    for module, there in THERE.items()
    for name in there.__all__
]


def name_of(lesson):
    return lesson.stem.partition("_")[2]


def lesson_of(module):
    """The one lesson of a module."""
    (lesson,) = [lesson for lesson in LESSONS if name_of(lesson) == module]
    return lesson


def prose_of(source):
    """The text of a lesson, without its code."""
    lines = re.split(r"^# %%", source.read_text(encoding="utf-8"), flags=re.MULTILINE)
    cells = [cell.partition("\n")[2] for cell in lines if cell.startswith(" [markdown]")]
    return "\n".join(re.sub(r"^# ?", "", cell, flags=re.MULTILINE) for cell in cells)


# -- the form -------------------------------------------------------------------------------------


def of_the_form(lesson):
    """What a lesson lacks: headings in their order, a title without numbers, an opening."""
    prose = prose_of(lesson)
    if re.findall(r"^## (.+)$", prose, re.MULTILINE) != FORM:
        yield "other headings"
    titles = re.findall(r"^# (.+)$", prose, re.MULTILINE)
    if len(titles) != 1 or re.search(r"\d", titles[0].replace("at 10 and at 5", "")):
        yield "no one title without a number"
    opening = prose.partition("## Predict")[0]
    if re.findall(r"^\*\*(.+)\*\*", opening, re.MULTILINE) != OPENING:
        yield "another opening"
    measure = prose.partition("## Measure it")[2].partition("\n## ")[0]
    words = " ".join(measure.lower().split())
    yield from (f"no {said!r}" for said in ("**cautions.**", *CAUTIONS) if said not in words)


def of_the_exercises(lesson):
    """What a lesson lacks of its exercises: a module of them, and their answers beside."""
    source = lesson.read_text(encoding="utf-8")
    for said in (
        f"from exercises import {name_of(lesson)} as exercise",
        f"](answers/{lesson.stem}.ipynb)",
    ):
        if said not in source:
            yield f"no {said!r}"
    if name_of(lesson) not in MODULES or not (NOTEBOOKS / "answers" / lesson.name).exists():
        yield "no module or no answers"


def of_the_way_on(lesson, following):
    """The last cell of a lesson and of its answers names what comes next, by its title."""
    last, last_answer = (
        " ".join(path.read_text("utf-8").split("# %% [markdown]\n")[-1].split()).replace("# ", "")
        for path in (lesson, NOTEBOOKS / "answers" / lesson.name)
    )
    if not last.startswith("**Turn the page.**") or f"](answers/{lesson.stem}.ipynb)" not in last:
        yield "no page to turn"
    if following:
        (title,) = re.findall(r"^# (.+)$", prose_of(following), re.MULTILINE)
        if f"[{title}]({following.stem}.ipynb)" not in last:
            yield f"no way on to {title!r}"
        if f"[{title}](../{following.stem}.ipynb)" not in last_answer:
            yield f"no way on from the answers to {title!r}"


def test_every_lesson_has_one_form():
    """A question from the bench, the same headings, cautions, exercises, and a way on."""
    wrong = []
    for lesson, following in zip(LESSONS, [*LESSONS[1:], None], strict=True):
        for rule in (
            of_the_form(lesson),
            of_the_exercises(lesson),
            of_the_way_on(lesson, following),
        ):
            wrong += [f"{lesson.stem}: {said}" for said in rule]
    assert len(LESSONS) >= 13
    assert not wrong, "\n".join(map(str, wrong))


def test_the_rules_of_the_form_themselves(tmp_path):
    """A lesson without anything breaks each."""
    bare = tmp_path / "01_bare.py"
    bare.write_text("# %% [markdown]\n# # 3 things\n", encoding="utf-8")
    assert list(of_the_form(bare)) == [
        "other headings",
        "no one title without a number",
        "another opening",
        *(f"no {said!r}" for said in ("**cautions.**", *CAUTIONS)),
    ]
    assert len(list(of_the_exercises(bare))) == 3


def test_every_link_between_notebooks_leads_somewhere():
    wrong = []
    for source in (*LESSONS, *(NOTEBOOKS / "answers").glob("[0-9]*.py")):
        targets = re.findall(r"\]\(([^)#:]+)\)", prose_of(source))
        assert targets, source.name
        wrong += [(source.name, one) for one in targets if not (source.parent / one).exists()]
    assert not wrong, "\n".join(map(str, wrong))


def test_every_answer_has_a_lesson():
    answers = {path.name for path in (NOTEBOOKS / "answers").glob("*.py")}
    assert answers == {lesson.name for lesson in LESSONS}
    assert sorted(MODULES) == sorted(name_of(lesson) for lesson in LESSONS)


def test_the_index_lists_every_lesson_in_order():
    index = (NOTEBOOKS / "README.md").read_text(encoding="utf-8")
    listed = re.findall(r"\]\((\d\d_\w+)\.ipynb\)", index)
    assert listed == [lesson.stem for lesson in LESSONS]
    for lesson in LESSONS:
        (title,) = re.findall(r"^# (.+)$", prose_of(lesson), re.MULTILINE)
        assert f"[{title}]({lesson.stem}.ipynb)" in index


def hints_in(source):
    """Every hint written in a source, with its place."""
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        given = {}
        if isinstance(node, ast.Call):
            given = {word.arg: word.value for word in node.keywords}
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            given = {node.targets[0].id: node.value}
        for name in {"hint", "low", "high"} & set(given):
            value = given[name]
            if isinstance(value, ast.Constant) and isinstance(value.value, str) and value.value:
                yield f"{source.name}:{value.lineno}", value.value


def test_a_hint_is_a_sentence():
    """They are joined to other sentences: a capital first, a full stop or a question mark last."""
    folder = Path(exercises.__path__[0])
    sources = [*folder.glob("*.py"), *LESSONS, *(NOTEBOOKS / "answers").glob("[0-9]*.py")]
    found = [hint for source in sources for hint in hints_in(source)]
    assert len(found) > 100
    assert [hint for hint in found if not re.fullmatch(r"[A-Z].*[.?]", hint[1])] == []


# -- the exercises --------------------------------------------------------------------------------


def test_a_lesson_has_a_few_exercises():
    for module, there in THERE.items():
        assert 2 <= len(there.__all__) <= 7, module
        assert all(isinstance(getattr(there, name), Exercise) for name in there.__all__), module


def test_every_exercise_is_used_and_answered():
    """Unanswered in the lesson, answered step by step in the worked answers."""
    wrong = []
    for module, there in THERE.items():
        lesson = lesson_of(module)
        sources = [lesson, NOTEBOOKS / "answers" / lesson.name]
        texts = [source.read_text(encoding="utf-8") for source in sources]
        for name in there.__all__:
            exercise = getattr(there, name)
            used = rf"(?<!\w)check\([^)]*\bexercise\.{name}\b"
            wrong += [(module, name, "not used") for text in texts if not re.search(used, text)]
            if not exercise.question.strip().endswith("?") or not exercise.hint:
                wrong.append((module, name, "no question or no hint"))
    assert not wrong, "\n".join(map(str, wrong))


@pytest.mark.parametrize("exercise", EXERCISES)
def test_the_computed_answer_is_right_and_one_that_is_off_gets_a_hint(exercise):
    """And not the solution."""
    value = exercise.value()
    assert check(value, exercise).right
    exercise = dataclasses.replace(exercise, expected=value)  # computed once for what follows
    if isinstance(value, (bool, str)):
        choices = ("yes", "no") if isinstance(value, bool) else exercise.choices
        (told, *rest) = [check(c, exercise) for c in choices if not check(c, exercise)]
        assert told.verdict == "wrong"
        assert len(rest) == len(choices) - 2
        assert exercise.hint in str(told)
        return
    solution = re.compile(rf"(?<![\d.]){re.escape(f'{value:.3g}')}(?!\d)")
    tolerance = exercise.tolerance(value)
    for sign in (1, -1):
        if tolerance:
            near = check(value + sign * 1.5 * tolerance, exercise)
            assert near.verdict == "near"
            assert not solution.search(str(near))
        far = check(value + sign * (10 * tolerance + 7), exercise)
        assert far.verdict == "wrong"
        assert exercise.hint in str(far)
        assert not solution.search(str(far))


@pytest.mark.parametrize(
    ("expected", "slip"), [(1.2, False), (-2.9, False), (3.1, True), (-12, True)]
)
def test_twice_the_decibels_are_a_slip_from_3_db_up(expected, slip):
    """Below, twice as much is a rough guess as often as 10 log taken for 20 log."""
    for answer in (2 * expected, expected / 2):
        told = str(check(answer, expected, unit="dB", within="0.1 dB"))
        assert ("10 log" in told) == slip


def test_choices_that_hold_a_comma_are_told_apart():
    told = str(check(None, "470 pF", choices=("470 pF", "none, 50s wiring")))
    assert told == "Your turn: write one of 470 pF; none, 50s wiring first."


@pytest.mark.parametrize(
    ("answer", "expected", "unit"),
    [("8 db", 8, "dB"), ("±6 %", 6, "%"), ("4 Readings", 4, "readings"), (" 40% ", 40, "%")],
)
def test_a_label_however_it_is_written(answer, expected, unit):
    assert check(answer, expected, unit=unit, within=0).right


def test_another_unit_for_a_label_is_named():
    with pytest.raises(gn.errors.BadValue) as told:
        check("970 ohm", 12, unit="%")
    assert str(told.value) == (
        "answer: '970 ohm' is not a number in %; write it like '3' or '3 %'."
    )


def test_a_choice_however_it_is_spaced():
    assert check("Audio 15 %", "audio 15%", choices=("linear", "audio 15%")).right


@pytest.mark.parametrize(("answer", "expected", "unit"), [(142e-12, 142, "pF"), (224e3, 224, "kΩ")])
def test_a_bare_number_in_the_unit_without_its_prefix(answer, expected, unit):
    told = check(answer, expected, unit=unit)
    assert told.verdict == "wrong"
    assert f"a bare number is in {unit}" in str(told)
