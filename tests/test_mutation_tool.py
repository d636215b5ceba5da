"""The mutation test's own changes: which it makes, which it leaves alone, and that each is one."""

from __future__ import annotations

import ast
import sys

import pytest

SOURCE = '''
"""Text."""
from typing import cast
__all__ = ["size"]
LIMIT: float = 2.0

@decorated(flag=True)
def size(a: "x[0]", *, b=3) -> "y[1]":
    """Text with 5 < 6."""
    if a < b and not a:
        raise ValueError(f"{a + 1} is too small", "give 7")
    kept = [x for x in a if x]
    kept["key"] = cast("z[2]", -a)
    print(f"{a + 1}")
    if a is None or b in "RL":
        return False
    return min(kept, default=a + 1)
'''
EXPECTED = {
    "constant: 2.0  ->  3.0",
    "constant: 2.0  ->  2.2",
    "constant: 3  ->  4",
    "and, or: a < b and (not a)  ->  a < b or not a",
    "comparison: a < b  ->  a <= b",
    "sign, not: not a  ->  a",
    "left out: raise ValueError(f'{a + 1} is too small', 'give 7')  ->  pass",
    "condition: for x in a if x  ->  for x in a",
    "left out: kept['key'] = cast('z[2]', -a)  ->  pass",
    "constant: 'key'  ->  'keyx'",
    "left out: print(f'{a + 1}')  ->  pass",
    "return: return min(kept, default=a + 1)  ->  return None",
    "argument: min(kept, default=a + 1)  ->  min(kept)",
    "comparison: a is None  ->  a is not None",
    "and, or: a is None or b in 'RL'  ->  a is None and b in 'RL'",
    "comparison: b in 'RL'  ->  b not in 'RL'",
    "constant: 'RL'  ->  'R'",
    "constant: False  ->  True",
    "function: min  ->  max",
    "operator: a + 1  ->  a - 1",
    "constant: 1  ->  2",
}


@pytest.fixture
def tool(project, monkeypatch):
    monkeypatch.syspath_prepend(str(project / "tools"))
    from mutation import mutants

    yield mutants
    for name in [name for name in sys.modules if name.partition(".")[0] == "mutation"]:
        del sys.modules[name]


def test_the_changes(tool):
    found = tool.mutants("file.py", SOURCE)
    assert {f"{m.kind}: {m.before}  ->  {m.after}" for m in found} == EXPECTED
    assert len({mutant.key for mutant in found}) == len(found) == len(EXPECTED)
    assert {mutant.owner for mutant in found} == {"LIMIT", "size"}
    assert {mutant.before for mutant in found if not mutant.inside} == {"2.0", "3"}


def test_each_mutant_is_one_change(tool):
    """What is written anew differs from the source by what the mutant says, and can be compiled."""
    plain = ast.unparse(ast.parse(SOURCE)).splitlines()
    for mutant in tool.mutants("file.py", SOURCE):
        tree = tool.mutated(SOURCE, mutant)
        compile(tree, "file.py", "exec")
        changed = ast.unparse(tree).splitlines()
        assert len(changed) == len(plain)
        assert sum(a != b for a, b in zip(plain, changed, strict=True)) == 1


def test_keys_stay_when_other_lines_change(tool):
    keys = {mutant.key for mutant in tool.mutants("file.py", SOURCE)}
    assert {mutant.key for mutant in tool.mutants("file.py", "import os\n\n" + SOURCE)} == keys
