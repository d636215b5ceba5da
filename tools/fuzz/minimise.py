"""A trial made as small as it can be while it still goes wrong."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

import guitarnet as gn

from .draw import Trial

__all__ = ["minimise", "written"]


def minimise(trial: Trial, wrong: Callable[[Trial], bool], *, most: int = 500) -> Trial:
    """Take away parts, joints, settings and frequencies one by one while the trial stays wrong.

    Parameters
    ----------
    trial : Trial
        A trial that goes wrong.
    wrong : callable
        Whether a trial goes wrong; what raises is not.
    most : int
        Smaller trials to try in all.
    """
    tried = 0
    while True:
        for smaller in _smaller(trial):
            tried += 1
            if tried > most:
                return trial
            if _is_wrong(smaller, wrong):
                trial = smaller
                break
        else:
            return trial


def written(trial: Trial) -> str:
    """Write a trial so that it can be read, and typed in again."""
    data: dict[str, Any] = gn.harness_to_dict(trial.guitar)
    parts = "\n".join(f"  {name}: {part}" for name, part in data["parts"].items())
    joints = "\n".join(f"  {' - '.join(joint)}" for joint in data["joined"])
    return (
        f"parts\n{parts}\njoined\n{joints}\nopen {', '.join(data['open_lugs'])}\n"
        f"settings {trial.settings}, at {trial.at}, {trial.frequency} Hz"
    )


def _is_wrong(trial: Trial, wrong: Callable[[Trial], bool]) -> bool:
    try:
        trial.guitar.check()
        return wrong(trial)
    except gn.GuitarnetError:
        return False


def _smaller(trial: Trial) -> Iterator[Trial]:
    for frequency in trial.frequency:
        if len(trial.frequency) > 1:
            yield dataclasses.replace(trial, frequency=(frequency,))
    for name, value in trial.settings.items():
        for one in value if isinstance(value, list) else ():
            yield dataclasses.replace(trial, settings={**trial.settings, name: one})
    for name in trial.guitar.parts:
        if name != trial.at.partition(".")[0] and name != "jack":
            yield _without(trial, name)
    for name, part in trial.guitar.parts.items():
        if isinstance(part, gn.Switch):
            continue
        for field in dataclasses.fields(part):  # type: ignore[arg-type]
            plain = field.default
            if plain is not dataclasses.MISSING and getattr(part, field.name) != plain:
                made = _plainer(part, field.name, plain)
                if made is not None and made != part:
                    guitar = trial.guitar.replace(name, made)
                    yield dataclasses.replace(trial, guitar=guitar)


def _plainer(part: Any, name: str, value: Any) -> Any:
    try:
        made = dataclasses.replace(part, **{name: value})
    except gn.GuitarnetError:
        return None
    return made if made.lugs == part.lugs else None


def _without(trial: Trial, gone: str) -> Trial:
    guitar = trial.guitar
    parts = {name: part for name, part in guitar.parts.items() if name != gone}
    left = [[lug for lug in joint if lug.partition(".")[0] in parts] for joint in guitar.joined]
    opened = [lug for lug in guitar.open_lugs if lug.partition(".")[0] in parts]
    opened += [joint[0] for joint in left if len(joint) == 1]
    made = gn.Harness(parts, [joint for joint in left if len(joint) > 1], opened, guitar.name)
    settings = {n: v for n, v in trial.settings.items() if n.partition(".")[0] != gone}
    return dataclasses.replace(trial, guitar=made, settings=settings)
