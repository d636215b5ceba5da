"""The course: one form for every lesson, exercises that are used, answered and helped with."""

from __future__ import annotations

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
