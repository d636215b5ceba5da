"""Small changes of a source text, one at a time: what mutation testing tries on the tests.

Each `Mutant` changes one place of the syntax tree: a comparison, an operator, a number, a flag, a
key, a returned value, a branch's condition, a keyword argument, a statement left out. Left alone
are what no test should pin: docstrings, annotations, the words of errors and hints, text inside
f-strings, ``__all__``, decorators, the ``strict`` of zip, casts for the type checker and what only
it reads.
"""

from __future__ import annotations

import ast
import copy
import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

COMPARE = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
OPERATOR = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.MatMult: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitOr,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
NAMES = {
    one: other
    for pair in (
        ("min", "max"),
        ("any", "all"),
        ("argmin", "argmax"),
        ("minimum", "maximum"),
        ("lower", "upper"),
        ("startswith", "endswith"),
        ("zeros", "ones"),
        ("sin", "cos"),
        ("log", "log10"),
        ("real", "imag"),
        ("sorted", "list"),
    )
    for one, other in (pair, pair[::-1])
}
WORDS = {"hint"}
"""Keywords whose value is told to people."""
GUARDS = {"strict"}
"""Keywords that only guard what is so by construction: no test can see them go."""


@dataclass(frozen=True)
class Mutant:
    """One change at one place of one file."""

    file: str
    kind: str
    place: int  # the node's place in the walk of the tree
    choice: int  # which of the changes that this node can take
    first: int
    last: int  # lines of the node
    around: tuple[int, int]  # lines of the statement it stands in
    inside: bool  # in the body of a function, so that new code can be put into the living function
    before: str
    after: str
    key: str  # a short name that stays while the function's statement does
    owner: str  # the function, class or table of the module that it stands in

    def __str__(self) -> str:
        return f"{self.file}:{self.first} {self.kind}: {self.before}  ->  {self.after}"


def _constants(value: object, key: bool) -> Iterator[object]:
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, (int, float, complex)):
        if value + 1 != value:
            yield value + 1
        if isinstance(value, float) and value:
            yield value * 1.1
    elif isinstance(value, str) and key:
        yield value + "x"


def _changes(node: ast.AST, parent: ast.AST | None) -> Iterator[tuple[str, ast.AST]]:
    """Every change that a node can take, as (kind, new node)."""
    if isinstance(node, ast.Compare):
        for i, op in enumerate(node.ops):
            new = copy.deepcopy(node)
            new.ops[i] = COMPARE[type(op)]()
            yield "comparison", new
    elif isinstance(node, (ast.BinOp, ast.AugAssign)) and type(node.op) in OPERATOR:
        if not isinstance(node, ast.BinOp) or not (_is_text(node.left) or _is_text(node.right)):
            new = copy.deepcopy(node)
            new.op = OPERATOR[type(node.op)]()
            yield "operator", new
    elif isinstance(node, ast.BoolOp):
        new = copy.deepcopy(node)
        new.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "and, or", new
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not, ast.Invert)):
        yield "sign, not", node.operand
    elif isinstance(node, ast.Constant):
        key = isinstance(parent, (ast.Compare, ast.Subscript, ast.Dict))
        for value in _constants(node.value, key):
            if isinstance(value, str) and _is_looked_in(node, parent):
                value = node.value[:-1]  # one letter more would be one that nobody looks for
            yield "constant", ast.Constant(value)
    elif isinstance(node, ast.Name) and node.id in NAMES and isinstance(parent, ast.Call):
        yield "function", ast.Name(NAMES[node.id], node.ctx)
    elif isinstance(node, ast.Attribute) and node.attr in NAMES:
        yield "function", ast.Attribute(node.value, NAMES[node.attr], node.ctx)
    elif isinstance(node, ast.Return) and node.value is not None:
        # False is as false as None: the constant itself is turned round.
        constant = node.value.value if isinstance(node.value, ast.Constant) else ...
        if constant is not None and constant is not False:
            yield "return", ast.Return(ast.Constant(None))
    elif isinstance(node, ast.Break):
        yield "loop", ast.Continue()
    elif isinstance(node, ast.Continue):
        yield "loop", ast.Break()
    elif isinstance(node, (ast.Raise, ast.Delete)) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
    ):
        yield "left out", ast.Pass()
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Subscript):
        yield "left out", ast.Pass()
    if isinstance(node, ast.AugAssign):
        yield "left out", ast.Pass()
    if isinstance(node, (ast.If, ast.IfExp, ast.While)) and isinstance(
        node.test, (ast.Name, ast.Attribute, ast.Call, ast.Subscript)
    ):
        new = copy.deepcopy(node)
        new.test = ast.UnaryOp(ast.Not(), node.test)
        yield "condition", new
    if isinstance(node, ast.comprehension):
        for i in range(len(node.ifs)):
            new = copy.deepcopy(node)
            del new.ifs[i]
            yield "condition", new
    if isinstance(node, ast.Call):
        for i, keyword in enumerate(node.keywords):
            if keyword.arg is not None and keyword.arg not in WORDS | GUARDS:
                new = copy.deepcopy(node)
                del new.keywords[i]
                yield "argument", new


def _is_looked_in(node: ast.AST, parent: ast.AST | None) -> bool:
    """Tell whether a node stands on the right of ``in``."""
    return isinstance(parent, ast.Compare) and any(
        other is node and isinstance(op, (ast.In, ast.NotIn))
        for op, other in zip(parent.ops, parent.comparators, strict=True)
    )


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


def _left_alone(node: ast.AST, field: str) -> bool:
    """Tell whether a part of a node is for people or for the type checker only."""
    if field in ("annotation", "returns", "decorator_list", "type_comment"):
        return True
    if isinstance(node, (ast.Raise, ast.JoinedStr)):
        return True
    if isinstance(node, ast.keyword) and node.arg in WORDS | GUARDS:
        return True
    if isinstance(node, (ast.Assign, ast.AnnAssign)) and field == "value":
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        return isinstance(target, ast.Name) and target.id == "__all__"
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name):
        return node.test.id == "TYPE_CHECKING"
    called = node.func if isinstance(node, ast.Call) else None
    return isinstance(called, ast.Name) and called.id in ("cast", "TypeVar", "ClassVar")


def _walk(
    node: ast.AST, parent: ast.AST | None, statement: ast.AST, inside: bool
) -> Iterator[tuple[ast.AST, ast.AST | None, str, int | None, ast.AST, bool]]:
    """Every node that may change: itself, its parent, field and index, statement, in a body."""
    for field, value in ast.iter_fields(node):
        if _left_alone(node, field) and field != "test":
            continue
        own = inside or (isinstance(node, (ast.FunctionDef, ast.Lambda)) and field == "body")
        for index, child in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(child, ast.AST):
                stands = child if isinstance(child, ast.stmt) else statement
                at = index if isinstance(value, list) else None
                yield child, node, field, at, stands, own
                yield from _walk(child, node, stands, own)


def _lines(node: ast.AST, default: ast.AST) -> tuple[int, int]:
    first = getattr(node, "lineno", None) or default.lineno
    if isinstance(node, (ast.If, ast.While)):
        return first, node.test.end_lineno or first
    return first, getattr(node, "end_lineno", None) or first


def _short(node: ast.AST) -> str:
    """Write a node in one line."""
    if isinstance(node, (ast.If, ast.While)):
        return f"if {ast.unparse(node.test)}"
    if isinstance(node, ast.comprehension):
        return ast.unparse(node).strip()
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 150 else text[:147] + "..."


def _owner(tree: ast.Module, line: int) -> str:
    """Name what is defined at a line of a module."""
    for top in tree.body:
        if top.lineno <= line <= (top.end_lineno or line):
            target = top.targets[0] if isinstance(top, ast.Assign) else getattr(top, "target", top)
            return getattr(target, "name", None) or getattr(target, "id", "")
    return ""


def mutants(file: str, source: str) -> list[Mutant]:
    """Find every mutant of a file."""
    found = []
    seen: Counter[str] = Counter()
    tree = ast.parse(source)
    for place, (node, parent, _, _, statement, inside) in enumerate(_walk(tree, None, tree, False)):
        for choice, (kind, new) in enumerate(_changes(node, parent)):
            lines, around = _lines(node, statement), _lines(statement, statement)
            before, after = _short(node), _short(new)
            told = f"{file}:{_short(statement)}:{kind}:{before}:{after}"
            seen[told] += 1
            key = hashlib.sha256(f"{told}:{seen[told]}".encode()).hexdigest()[:10]
            owner = _owner(tree, lines[0])
            found.append(
                Mutant(file, kind, place, choice, *lines, around, inside, before, after, key, owner)
            )
    return found


def mutated(source: str, mutant: Mutant) -> ast.Module:
    """Give the tree of a file with one mutant in it."""
    tree = ast.parse(source)
    node, parent, field, index, _, _ = next(
        found for place, found in enumerate(_walk(tree, None, tree, False)) if place == mutant.place
    )
    new = [change for _, change in _changes(node, parent)][mutant.choice]
    if isinstance(node, ast.UnaryOp) and new is node.operand:
        new = copy.deepcopy(new)
    if "lineno" in node._attributes:
        ast.copy_location(new, node)
    if index is None:
        setattr(parent, field, new)
    else:
        getattr(parent, field)[index] = new
    return ast.fix_missing_locations(tree)
