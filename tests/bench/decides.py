"""Tell which terms of conditions decide nothing in the tests that are given.

    python tests/bench/decides.py FOLDER TEST ...

FOLDER is a part of the package such as `bands` or `symmetry/zones`; TEST are tests for
pytest. The folder's modules are read with each term of a condition wrapped: operands of
`and` and `or`, tests of `if`, masks joined by `&` and `|`, and the larger or smaller of
two. A line tells a term that was reached and without which every answer would have
been the same: an operand of `and` that was never false where it was asked, a mask that
took nothing away, a bound that was never reached. What guards against files that no
test has stands among them; what is left over from before another rule as well.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.machinery
import operator
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from types import CodeType, ModuleType

ROOT = Path(__file__).parents[2]
_SEEN, _FIRST, _SECOND, _ALL = 1, 2, 4, 7


class Term(NamedTuple):
    """A term: where it stands, what it is, and how it reads."""

    file: str
    line: int
    kind: str  # and, or, if, &=, |=, &, |, min, max
    text: str


terms: list[Term] = []
# of each: reached; the first answer, or operand, mattered; the second did
states: list[int] = []


def asked(at: int, value: Any) -> Any:
    """Note whether an operand was true or false."""
    if states[at] != _ALL:
        states[at] |= _SEEN | (_FIRST if value else _SECOND)
    return value


def _same(one: Any, two: Any) -> bool:
    return np.array_equal(np.broadcast_to(one, np.shape(two)), two)


def joined(at: int, join: Callable[[Any, Any], Any], one: Any, two: Any) -> Any:
    """Note which of two masks, or of two bounds, the answer differs from."""
    found = join(one, two)
    if states[at] != _ALL:
        states[at] |= _SEEN
        states[at] |= 0 if _same(two, found) else _FIRST
        states[at] |= 0 if _same(one, found) else _SECOND
    return found


def changed(at: int, join: Callable[[Any, Any], Any], one: Any, two: Any) -> Any:
    """Note whether a mask changes what it is joined to; return it."""
    if not states[at] & _SECOND:
        states[at] |= _SEEN | (0 if _same(one, join(one, two)) else _SECOND)
    return two


_JOINS = {ast.BitAnd: ("&", operator.and_), ast.BitOr: ("|", operator.or_)}
_BOUNDS = {"min", "max", "np.minimum", "np.maximum"}


class _Wrap(ast.NodeTransformer):
    """Wrap the terms of a module's functions."""

    def __init__(self, file: str) -> None:
        self.file = file

    def _call(self, name: str, text: str, kind: str, *given: ast.expr) -> ast.expr:
        terms.append(Term(self.file, given[-1].lineno, kind, text))
        states.append(0)
        number = ast.Constant(len(terms) - 1)
        call = ast.Call(ast.Name(f"decides_{name}", ast.Load()), [number, *given], [])
        return ast.copy_location(call, given[-1])

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        node.body = [self.visit(one) for one in node.body]  # no annotation, no default
        return node

    def visit_BoolOp(self, node: ast.BoolOp) -> ast.AST:
        kind = "and" if isinstance(node.op, ast.And) else "or"
        told = [ast.unparse(one) for one in node.values]
        wrapped = map(self.visit, node.values)
        node.values = [
            self._call("asked", text, kind, one)
            for text, one in zip(told, wrapped, strict=True)
        ]
        return node

    def visit_If(self, node: ast.If) -> ast.AST:
        text, plain = (
            ast.unparse(node.test),
            isinstance(node.test, ast.BoolOp | ast.Name),
        )
        self.generic_visit(node)
        if not plain:
            node.test = self._call("asked", text, "if", node.test)
        return node

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        text, kind = ast.unparse(node), _JOINS.get(type(node.op))
        self.generic_visit(node)
        if kind is None:
            return node
        name = ast.Name(f"decides_{kind[1].__name__}", ast.Load())
        return self._call("joined", text, kind[0], name, node.left, node.right)

    def visit_AugAssign(self, node: ast.AugAssign) -> ast.AST:
        text, kind = ast.unparse(node), _JOINS.get(type(node.op))
        now = ast.parse(ast.unparse(node.target), mode="eval").body
        self.generic_visit(node)
        if kind is not None:
            name = ast.Name(f"decides_{kind[1].__name__}", ast.Load())
            given = name, now, node.value
            node.value = self._call("changed", text, f"{kind[0]}=", *given)
        return node

    def visit_Call(self, node: ast.Call) -> ast.AST:
        text, name = ast.unparse(node), ast.unparse(node.func)
        self.generic_visit(node)
        if name not in _BOUNDS or len(node.args) != 2 or node.keywords:
            return node
        return self._call("joined", text, name, node.func, *node.args)


class _Loader(importlib.machinery.SourceFileLoader):
    def get_code(self, fullname: str) -> CodeType:
        file = str(Path(self.path).relative_to(ROOT))
        tree = _Wrap(file).visit(ast.parse(self.get_data(self.path)))
        return compile(ast.fix_missing_locations(tree), self.path, "exec")

    def exec_module(self, module: ModuleType) -> None:
        known = asked, joined, changed, operator.and_, operator.or_
        vars(module).update({f"decides_{one.__name__}": one for one in known})
        super().exec_module(module)


class _Finder(importlib.abc.MetaPathFinder):
    def __init__(self, folder: str) -> None:
        self.folder = "fillwork." + folder.strip("/").replace("/", ".")

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> Any:
        if not f"{fullname}.".startswith(f"{self.folder}."):
            return None
        spec = importlib.machinery.PathFinder.find_spec(fullname, path, target)
        if spec is not None and isinstance(spec.loader, importlib.abc.FileLoader):
            spec.loader = _Loader(spec.loader.name, spec.loader.path)
        return spec


def idle(kind: str, state: int) -> str:
    """Return why a term decided nothing; empty where it did, or was not reached."""
    if not state & _SEEN or state == _ALL:
        return ""
    told = {
        "and": "" if state & _SECOND else "never false",
        "or": "" if state & _FIRST else "never true",
        "if": "always " + ("true" if state & _FIRST else "false"),
    }
    if kind in told:
        return told[kind]
    if kind[-1] == "=":
        return "" if state & _SECOND else "changes nothing"
    return "the first is idle" if state & _SECOND else "the second is idle"


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the tests and print a line for each term that decided nothing in them."""
    ask = argparse.ArgumentParser()
    ask.add_argument("folder")
    ask.add_argument("tests", nargs="+")
    given = ask.parse_args(arguments)
    sys.path.insert(0, str(ROOT))
    sys.meta_path.insert(0, _Finder(given.folder))
    pytest.main(["-q", "-p", "no:cacheprovider", *given.tests])
    rows = [
        f"{term.file}:{term.line}: {why}: {term.text}"
        for term, state in sorted(zip(terms, states, strict=True))
        if (why := idle(term.kind, state))
    ]
    print("\n".join(rows))
    reached = sum(state > 0 for state in states)
    print(f"{len(rows)} of {reached} terms reached decided nothing")


if __name__ == "__main__":
    main()
