"""Public names that no ability uses: there must be none, but for those listed with a reason."""

from __future__ import annotations

import ast
import inspect
from pathlib import Path
from typing import Any

__all__ = ["EXEMPT", "face", "options_without_ability", "without_ability"]

_PARTS = (
    *("AmpInput", "BlendPot", "Cable", "Capacitor", "Choke", "Coil", "Empty", "Harness"),
    *("Humbucker", "Jack", "Network", "Pickup", "Pot", "Resistor", "Switch"),
)
_STAMP = "what a part writes into the netlist: in every response, netlist and SPICE text"
_READ = "how a fit reads it: in every fit of such a reading"
EXEMPT = {
    **{f"gn.{part}.stamp": _STAMP for part in _PARTS},
    "gn.fitting.Load.unknowns": _READ,
    "gn.formulas.Netlist(branches=)": "filled by adding branches",
    "gn.formulas.Netlist(bare=)": "filled by adding branches",
}
"""Names that no ability needs to use, with the reason."""


def face() -> dict[str, Any]:
    """What is public, by what one writes after ``gn.``: flat names, and those of each room."""
    import guitarnet as gn

    found: dict[str, Any] = {}
    for name in gn.__all__:
        one = getattr(gn, name)
        if inspect.ismodule(one):
            found |= {f"{name}.{own}": getattr(one, own) for own in one.__all__}
        else:
            found[name] = one
    del found["errors.GuitarnetError"]  # is flat too
    return found


def options_without_ability() -> list[str]:
    """Options of public functions that no ability gives; layouts take theirs from one mapping."""
    given: dict[str, set[str]] = {}
    counts: dict[str, int] = {}
    keys = {
        key.value
        for node in ast.walk(_tree())
        if isinstance(node, ast.Dict)
        for key in node.keys
        if isinstance(key, ast.Constant)
    }
    for node in ast.walk(_tree()):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            names = {one.arg for one in node.keywords}
            own = given.setdefault(node.func.attr, set())
            own |= (names | keys) if None in names else names
            counts[node.func.attr] = max(counts.get(node.func.attr, 0), len(node.args))
    left = []
    for name, made in face().items():
        bare = name.rpartition(".")[2]
        if name.startswith("layouts.") or not callable(made):
            continue
        if inspect.isclass(made) and bare not in given:
            continue
        for number, (option, one) in enumerate(inspect.signature(made).parameters.items()):
            by_name = one.kind in (one.POSITIONAL_OR_KEYWORD, one.KEYWORD_ONLY)
            by_place = one.kind != one.KEYWORD_ONLY and number < counts.get(bare, 0)
            if option == "unusual":  # tried on every kind of value in tests/test_unusual.py
                continue
            if by_name and not by_place and option not in given.get(bare, ()):
                left.append(f"gn.{name}({option}=)")
    return [name for name in left if name not in EXEMPT]


def without_ability() -> list[str]:
    """Public names, and public methods of public classes, that the abilities do not use."""
    import guitarnet as gn

    used, attributes = _used()
    left = [f"gn.{name}" for name in face() if name not in used]
    for name, kind in face().items():
        if inspect.isclass(kind):
            left += [
                f"gn.{name}.{one}" for one in _methods(kind, gn.__name__) if one not in attributes
            ]
    return sorted(name for name in left if name not in EXEMPT)


def _tree() -> ast.Module:
    return ast.parse((Path(__file__).parent / "abilities.py").read_text(encoding="utf-8"))


def _used() -> tuple[set[str], set[str]]:
    """Names that are taken from the package in the file of abilities, and all attributes."""
    used, attributes = set(), set()
    for node in ast.walk(_tree()):
        if isinstance(node, ast.Attribute):
            attributes.add(node.attr)
            if isinstance(node.value, ast.Name) and node.value.id == "gn":
                used.add(node.attr)
            if isinstance(node.value, ast.Name) and node.value.id == "layouts":
                used.add(f"layouts.{node.attr}")
            room = node.value
            if isinstance(room, ast.Attribute):
                used.add(f"{room.attr}.{node.attr}")
    return used, attributes


def _methods(kind: type, package: str) -> list[str]:
    """Public methods and properties that a class of the package defines, or takes from one."""
    found: dict[str, None] = {}
    for base in kind.__mro__:
        if base.__module__.partition(".")[0] != package:
            continue
        for name, value in vars(base).items():
            is_own = inspect.isfunction(value) or isinstance(value, property)
            if not name.startswith("_") and (is_own or hasattr(value, "attrname")):
                found[name] = None
    return list(found)
