"""Make one plausible slip at a time in a stage and tell which the tests notice.

    python tests/bench/slips.py FOLDER [STAGE ...] [--count 10] [--seed 1] [--tests 40]

FOLDER holds what the tests of each stage reach, as `NAME.cov`, written once a stage by

    COVERAGE_FILE=FOLDER/NAME.cov pytest -n 0 --cov=fillwork --cov-context=test \\
        --cov-report= tests/unit/NAME

(`pip install pytest-cov`; another NAME, such as `reference`, may hold further tests).
A slip is made in the working tree and taken back: run it in a clone of your own. Of the
tests that reach its line `--tests` are run: in the order of those of its own stage
before others, one case of each before its further cases, and few lines reached before
many, half are the first of them and half are spread over the rest.
Slips that change no result (a bound that is never met, a speed) count as not noticed:
the list is to be read.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import resource
import signal
import subprocess
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pytest

if TYPE_CHECKING:
    import coverage

ROOT = Path(__file__).parents[2]

COMPARE = {
    ast.Lt: "<=",
    ast.LtE: "<",
    ast.Gt: ">=",
    ast.GtE: ">",
    ast.Eq: "!=",
    ast.NotEq: "==",
    ast.Is: "is not",
    ast.IsNot: "is",
    ast.In: "not in",
    ast.NotIn: "in",
}
COUNT = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.FloorDiv: "/"}
NAMES = {
    "min": "max",
    "max": "min",
    "argmin": "argmax",
    "argmax": "argmin",
    "minimum": "maximum",
    "maximum": "minimum",
    "floor": "ceil",
    "ceil": "floor",
    "cos": "sin",
    "sin": "cos",
    "all": "any",
    "any": "all",
    "append": "remove",
}


_MOST = 150  # seconds of a core, within which the tests of a slip end


class Slip(NamedTuple):
    """One change: where its text begins and ends in the file, and the new text."""

    file: Path
    line: int
    begin: int
    end: int
    old: str
    new: str


def slips_of(file: Path, reached: set[int]) -> list[Slip]:
    """Return every slip on lines that a test reaches."""
    text = file.read_text()
    starts = [0]
    for line in text.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    raw = text.encode()
    found: list[Slip] = []

    def add(first: ast.expr, last: ast.expr, new: str) -> None:
        a = starts[first.end_lineno - 1] + first.end_col_offset
        b = starts[last.lineno - 1] + last.col_offset
        old = raw[a:b].decode().strip(" ()\n")
        if first.lineno in reached and old:
            between = raw[a:b].decode()
            text = between.replace(old, new, 1)
            found.append(Slip(file, first.lineno, a, b, old, text))

    def put(node: ast.AST, new: str) -> None:
        a = starts[node.lineno - 1] + node.col_offset
        b = starts[node.end_lineno - 1] + node.end_col_offset
        if node.lineno in reached:
            found.append(Slip(file, node.lineno, a, b, raw[a:b].decode(), new))

    tree = ast.parse(text)
    inside = {
        id(n)
        for f in ast.walk(tree)
        if isinstance(f, ast.FunctionDef)
        for b in f.body[bool(ast.get_docstring(f)) :]
        for n in ast.walk(b)
    }
    for node in ast.walk(tree):
        if id(node) not in inside:
            continue
        if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARE:
            add(node.left, node.comparators[0], COMPARE[type(node.ops[0])])
        elif isinstance(node, ast.BinOp) and type(node.op) in COUNT:
            add(node.left, node.right, COUNT[type(node.op)])
        elif isinstance(node, ast.BoolOp):
            other = "or" if isinstance(node.op, ast.And) else "and"
            add(node.values[0], node.values[1], other)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            put(node, f"({ast.unparse(node.operand)})")
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            put(node, str(not node.value))
        elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            whole = isinstance(node.value, int)
            put(node, str(node.value + 1 if whole else 2 * node.value + 0.1))
        elif isinstance(node, ast.Call):
            name = node.func
            last = getattr(name, "attr", getattr(name, "id", ""))
            if last in NAMES:
                whole = ast.unparse(name)
                put(name, whole[: len(whole) - len(last)] + NAMES[last])
        elif isinstance(node, ast.If | ast.While | ast.IfExp):
            put(node.test, f"(not ({ast.unparse(node.test)}))")
    return found


class Reach(NamedTuple):
    """Hold which tests reach which lines of a stage."""

    # of each file and line the tests, as (not of the stage's own, test)
    tests: dict[Path, dict[int, set[tuple[bool, str]]]]
    lines: Counter[str]  # how many lines each reaches

    def first(self, slip: Slip, most: int) -> list[str]:
        """Return tests that reach a slip's line, those that say most about it first."""
        cases: Counter[tuple[bool, str]] = Counter()
        ranked = []
        for other, test in sorted(
            self.tests[slip.file][slip.line], key=lambda t: (self.lines[t[1]], t)
        ):
            function = other, test.partition("[")[0]
            ranked.append((other, cases[function], self.lines[test], test))
            cases[function] += 1
        tests = list(dict.fromkeys(test for *_, test in sorted(ranked)))
        near, rest = tests[: most // 2], tests[most // 2 :]
        return near + rest[:: max(1, -(-len(rest) // (most - most // 2)))]


def reach_of(stage: str, data: dict[str, coverage.CoverageData]) -> Reach:
    """Return which tests reach the lines of a stage."""
    reach = Reach({}, Counter())
    for file in sorted((ROOT / "fillwork" / stage).rglob("*.py")):
        lines = reach.tests[file] = defaultdict(set)
        for name, one in data.items():
            for line, contexts in one.contexts_by_lineno(str(file)).items():
                # a test's own name may have the sign that parts it from its phase
                tests = {c.rpartition("|")[0] for c in contexts if c[:6] == "tests/"}
                lines[line] |= {(name != stage, test) for test in tests}
                reach.lines.update(tests)
    return reach


def noticed(slip: Slip, tests: list[str]) -> str:
    """Make the slip, run the tests, take it back; return what happened."""
    before = slip.file.read_bytes()
    after = before[: slip.begin] + slip.new.encode() + before[slip.end :]
    try:
        slip.file.write_bytes(after)
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "--no-header"]
        command += ["-p", "no:cacheprovider", *tests]
        kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        run = subprocess.run(
            command,
            cwd=ROOT,
            capture_output=True,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (_MOST, _MOST)),
            env=kept | {"PYTHONPATH": str(ROOT)},
        )
        if run.returncode == pytest.ExitCode.USAGE_ERROR:
            # a test that is not found is none that notices anything
            raise RuntimeError(run.stderr.decode())
        told = {0: "no", 1: "yes", -signal.SIGKILL: "too slow"}
        return told.get(run.returncode, f"code {run.returncode}")
    finally:
        slip.file.write_bytes(before)


def main() -> None:
    """Print a line a slip and the share noticed."""
    import coverage

    ask = argparse.ArgumentParser()
    ask.add_argument("folder", type=Path)
    ask.add_argument("stages", nargs="*")
    ask.add_argument("--count", type=int, default=10)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--tests", type=int, default=40)
    told = ask.parse_args()
    data = {}
    for file in sorted(told.folder.glob("*.cov")):
        data[file.stem] = coverage.CoverageData(str(file))
        data[file.stem].read()
    for stage in told.stages or sorted(data):
        if not (ROOT / "fillwork" / stage).is_dir():
            continue
        reach = reach_of(stage, data)
        found: list[Slip] = []
        for file, lines in reach.tests.items():
            found += slips_of(file, {line for line, tests in lines.items() if tests})
        chosen = random.Random(told.seed).sample(found, min(told.count, len(found)))
        seen = 0
        for slip in chosen:
            begin = time.monotonic()
            result = noticed(slip, reach.first(slip, told.tests))
            seen += result != "no"
            place = f"{slip.file.relative_to(ROOT)}:{slip.line}"
            print(
                f"{result:8} {place}  {slip.old!r} -> {slip.new.strip()!r}"
                f"  {len(reach.tests[slip.file][slip.line])} tests, "
                f"{time.monotonic() - begin:.0f} s",
                flush=True,
            )
        print(f"{stage}: {seen} of {len(chosen)} noticed", flush=True)


if __name__ == "__main__":
    main()
