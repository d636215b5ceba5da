"""The course: one form for every lesson, exercises that are used, answered and helped with."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

import guitarnet as gn
import guitarnet.course

NOTEBOOKS = Path(__file__).resolve().parent.parent / "notebooks"
LESSONS = sorted(NOTEBOOKS.glob("[0-9]*.py"))
MODULES = [m.name for m in pkgutil.iter_modules(guitarnet.course.__path__) if m.name != "checking"]
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

THERE = {module: importlib.import_module(f"guitarnet.course.{module}") for module in MODULES}
EXERCISES = [
    pytest.param(module, getattr(there, name), name, id=f"{module}.{name}")
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


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_the_form_of_a_lesson(lesson):
    """A question from the bench, what one needs, and the same headings, in the same order."""
    prose = prose_of(lesson)
    assert re.findall(r"^## (.+)$", prose, re.MULTILINE) == FORM
    titles = re.findall(r"^# (.+)$", prose, re.MULTILINE)
    assert len(titles) == 1
    assert not re.search(r"\d", titles[0].replace("at 10 and at 5", ""))
    opening = prose.partition("## Predict")[0]
    assert re.findall(r"^\*\*(.+)\*\*", opening, re.MULTILINE) == OPENING


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_where_one_measures_the_cautions_stand(lesson):
    measure = prose_of(lesson).partition("## Measure it")[2].partition("\n## ")[0]
    words = " ".join(measure.lower().split())
    assert "**cautions.**" in words
    assert [caution for caution in CAUTIONS if caution not in words] == []


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_has_exercises_with_answers_beside(lesson):
    source = lesson.read_text(encoding="utf-8")
    assert f"from guitarnet.course import {name_of(lesson)} as exercise" in source
    assert f"](answers/{lesson.stem}.ipynb)" in source
    assert name_of(lesson) in MODULES
    assert (NOTEBOOKS / "answers" / lesson.name).exists()


@pytest.mark.parametrize(
    ("lesson", "following"), list(zip(LESSONS, [*LESSONS[1:], None], strict=True))
)
def test_a_lesson_ends_with_a_way_on(lesson, following):
    """The last cell of a lesson and of its answers names what comes next, by its title."""
    answers = NOTEBOOKS / "answers" / lesson.name
    last, last_answer = (
        " ".join(path.read_text("utf-8").split("# %% [markdown]\n")[-1].split()).replace("# ", "")
        for path in (lesson, answers)
    )
    assert last.startswith("**Turn the page.**")
    assert f"](answers/{lesson.stem}.ipynb)" in last
    if following:
        (title,) = re.findall(r"^# (.+)$", prose_of(following), re.MULTILINE)
        assert f"[{title}]({following.stem}.ipynb)" in last
        assert f"[{title}](../{following.stem}.ipynb)" in last_answer


@pytest.mark.parametrize("source", [*LESSONS, *(NOTEBOOKS / "answers").glob("[0-9]*.py")])
def test_every_link_between_notebooks_leads_somewhere(source):
    targets = re.findall(r"\]\(([^)#:]+)\)", prose_of(source))
    assert targets
    assert [one for one in targets if not (source.parent / one).exists()] == []


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
    folder = Path(guitarnet.course.__path__[0])
    sources = [*folder.glob("*.py"), *LESSONS, *(NOTEBOOKS / "answers").glob("[0-9]*.py")]
    found = [hint for source in sources for hint in hints_in(source)]
    assert len(found) > 100
    assert [hint for hint in found if not re.fullmatch(r"[A-Z].*[.?]", hint[1])] == []


# -- the exercises --------------------------------------------------------------------------------


@pytest.mark.parametrize("module", MODULES)
def test_a_lesson_has_a_few_exercises(module):
    there = THERE[module]
    assert 2 <= len(there.__all__) <= 7
    assert all(isinstance(getattr(there, name), gn.Exercise) for name in there.__all__)


@pytest.mark.parametrize(("module", "exercise", "name"), EXERCISES)
def test_an_exercise_is_used_and_answered(module, exercise, name):
    """Unanswered in the lesson, answered step by step in the worked answers."""
    lesson = lesson_of(module)
    used = rf"gn\.check\([^)]*\bexercise\.{name}\b"
    assert re.search(used, lesson.read_text(encoding="utf-8"))
    assert re.search(used, (NOTEBOOKS / "answers" / lesson.name).read_text(encoding="utf-8"))
    assert exercise.question.strip().endswith("?")
    assert exercise.hint


@pytest.mark.parametrize(("module", "exercise", "name"), EXERCISES)
def test_the_computed_answer_is_right(module, exercise, name):
    value = exercise.value()
    assert gn.check(value, exercise).right


@pytest.mark.parametrize(("module", "exercise", "name"), EXERCISES)
def test_an_answer_that_is_off_gets_a_hint_and_not_the_solution(module, exercise, name):
    value = exercise.value()
    if isinstance(value, (bool, str)):
        choices = ("yes", "no") if isinstance(value, bool) else exercise.choices
        (told, *rest) = [gn.check(c, exercise) for c in choices if not gn.check(c, exercise)]
        assert told.verdict == "wrong"
        assert len(rest) == len(choices) - 2
        assert exercise.hint in str(told)
        return
    solution = re.compile(rf"(?<![\d.]){re.escape(f'{value:.3g}')}(?!\d)")
    tolerance = exercise.tolerance(value)
    for sign in (1, -1):
        if tolerance:
            near = gn.check(value + sign * 1.5 * tolerance, exercise)
            assert near.verdict == "near"
            assert not solution.search(str(near))
        far = gn.check(value + sign * (10 * tolerance + 7), exercise)
        assert far.verdict == "wrong"
        assert exercise.hint in str(far)
        assert not solution.search(str(far))


@pytest.mark.parametrize(
    ("expected", "slip"), [(1.2, False), (-2.9, False), (3.1, True), (-12, True)]
)
def test_twice_the_decibels_are_a_slip_from_3_db_up(expected, slip):
    """Below, twice as much is a rough guess as often as 10 log taken for 20 log."""
    for answer in (2 * expected, expected / 2):
        told = str(gn.check(answer, expected, unit="dB", within="0.1 dB"))
        assert ("10 log" in told) == slip


def test_choices_that_hold_a_comma_are_told_apart():
    told = str(gn.check(None, "470 pF", choices=("470 pF", "none, 50s wiring")))
    assert told == "Your turn: write one of 470 pF; none, 50s wiring first."


@pytest.mark.parametrize(
    ("answer", "expected", "unit"),
    [("8 db", 8, "dB"), ("±6 %", 6, "%"), ("4 Readings", 4, "readings"), (" 40% ", 40, "%")],
)
def test_a_label_however_it_is_written(answer, expected, unit):
    assert gn.check(answer, expected, unit=unit, within=0).right


def test_another_unit_for_a_label_is_named():
    with pytest.raises(gn.BadValue) as told:
        gn.check("970 ohm", 12, unit="%")
    assert str(told.value) == (
        "answer: '970 ohm' is not a number in %; write it like '3' or '3 %'."
    )


def test_a_choice_however_it_is_spaced():
    assert gn.check("Audio 15 %", "audio 15%", choices=("linear", "audio 15%")).right


@pytest.mark.parametrize(("answer", "expected", "unit"), [(142e-12, 142, "pF"), (224e3, 224, "kΩ")])
def test_a_bare_number_in_the_unit_without_its_prefix(answer, expected, unit):
    told = gn.check(answer, expected, unit=unit)
    assert told.verdict == "wrong"
    assert f"a bare number is in {unit}" in str(told)
