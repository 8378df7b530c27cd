"""Move one threshold at a time and tell which of them no drawing feels.

    python tests/bench/thresholds.py FOLDER [--by 2] [--skip 0] DRAWING ...

FOLDER is a part of the package such as `symmetry` or `readers/scan`. Each number that
stands at the head of a module there is taken `--by` times and then as a part of itself,
all others as they are; after each the drawings are surveyed anew. A line tells a number
that changes no zone, no kind, no traced line and no doubt either way: no drawing given
needs it where it stands. What depends on a number only when a module is loaded, or
through a default of an argument, is not seen to move.
"""

from __future__ import annotations

import argparse
import ast
import functools
import hashlib
import importlib
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from types import ModuleType

ROOT = Path(__file__).parents[2]


class Threshold(NamedTuple):
    """A number at the head of a module; `row` is its place in a tuple, else -1."""

    module: ModuleType
    name: str
    row: int

    @property
    def value(self) -> float:
        """Return the number as it stands."""
        found = getattr(self.module, self.name)
        return found if self.row < 0 else found[self.row]

    def moved(self, by: float) -> Any:
        """Return what the name stands for with the number moved, whole if it was."""
        found = getattr(self.module, self.name)
        new = self.value * by
        if isinstance(self.value, int):
            new = round(new) if round(new) != self.value else self.value + (by > 1)
        if self.row < 0:
            return new
        return (*found[: self.row], new, *found[self.row + 1 :])


def thresholds_of(folder: str) -> list[Threshold]:
    """Return the numbers at the heads of a folder's modules."""
    found = []
    for file in sorted((ROOT / "fillwork" / folder).rglob("*.py")):
        name = ".".join(file.relative_to(ROOT).with_suffix("").parts)
        module = importlib.import_module(name.removesuffix(".__init__"))
        for node in ast.parse(file.read_text()).body:
            target = node.targets[0] if isinstance(node, ast.Assign) else None
            for one in target.elts if isinstance(target, ast.Tuple) else [target]:
                if not isinstance(one, ast.Name):
                    continue
                value = getattr(module, one.id)
                rows = value if isinstance(value, tuple) else (value,)
                if all(type(v) in (int, float) for v in rows) and len(rows) <= 4:
                    of = range(len(rows)) if isinstance(value, tuple) else (-1,)
                    found += [Threshold(module, one.id, row) for row in of]
    return [t for t in found if t.value]


def holders(threshold: Threshold) -> list[ModuleType]:
    """Return the modules that know a number by its name."""
    value = getattr(threshold.module, threshold.name)
    loaded = (m for n, m in sys.modules.items() if n.startswith("fillwork."))
    return [m for m in loaded if vars(m).get(threshold.name) is value]


def put(modules: list[ModuleType], name: str, value: Any) -> None:
    """Set a number, and forget what was reckoned by another."""
    for module in modules:
        setattr(module, name, value)
    for name_of, module in list(sys.modules.items()):
        if name_of.startswith("fillwork."):
            for kept in vars(module).values():
                if isinstance(kept, functools._lru_cache_wrapper):
                    kept.cache_clear()


def told(drawing: Any, scan: bool) -> str:
    """Return a digest of what is found in a drawing."""
    from fillwork.errors import FillworkError
    from fillwork.symmetry.kinds.orbits import find_orbits
    from fillwork.symmetry.zones.find import find_zones

    try:
        if scan:
            from fillwork.pipeline.tracing import trace_drawing
            from fillwork.plans.model import Plan

            plan = Plan(scan=drawing[1])
            lines = trace_drawing(drawing[0], plan, name="sheet").linework
            seen = [lines.curves.data.round(3).tobytes(), repr(lines.trace.doubtful)]
        else:
            zones = find_zones(drawing)
            kinds = find_orbits(drawing, zones)
            seen = [
                (z.symmetry.group.title, z.symmetry.certain, z.faces.tobytes())
                for z in zones
            ]
            seen += [kinds.of_face.tobytes(), [o.name for o in kinds.orbits]]
    except (FillworkError, ArithmeticError, LookupError, ValueError) as error:
        seen = [type(error).__name__]
    return hashlib.sha256(repr(seen).encode()).hexdigest()


def main() -> None:
    """Print a line for each number that no drawing feels, and how many there are."""
    ask = argparse.ArgumentParser()
    ask.add_argument("folder")
    ask.add_argument("drawings", nargs="+", type=Path)
    ask.add_argument("--by", type=float, default=2.0)
    ask.add_argument("--skip", type=int, default=0)
    given = ask.parse_args()
    from fillwork.pipeline.surveying import make_survey
    from fillwork.plans.model import ScanSettings

    scan = given.folder.endswith("scan")
    drawings: list[Any] = []
    for file in given.drawings:
        if scan:
            drawings.append((file.read_bytes(), ScanSettings(sheet_size="A6")))
        else:
            drawings.append(make_survey(file.read_bytes(), name=file.name).arrangement)
    begin = time.process_time()
    base = [told(drawing, scan) for drawing in drawings]
    print(f"{len(drawings)} drawings, {time.process_time() - begin:.1f} s", flush=True)
    found = thresholds_of(given.folder)[given.skip :]
    unfelt = 0
    for k, threshold in enumerate(found):
        old, where = getattr(threshold.module, threshold.name), holders(threshold)
        # two modules may have equal numbers of one name
        where = [m for m in where if m is threshold.module or threshold.name[0] != "_"]
        felt = False
        for by in (given.by, 1.0 / given.by):
            put(where, threshold.name, threshold.moved(by))
            with np.errstate(all="ignore"):
                felt = felt or any(
                    told(d, scan) != b for d, b in zip(drawings, base, strict=True)
                )
            put(where, threshold.name, old)
        unfelt += not felt
        if not felt:
            row = f"[{threshold.row}]" if threshold.row >= 0 else ""
            name = threshold.module.__name__.removeprefix("fillwork.")
            text = f"{name}.{threshold.name}{row} = {threshold.value}"
            print(f"{k:4d} {text}", flush=True)
    print(f"{unfelt} of {len(found)} felt by no drawing, by {given.by:g}", flush=True)


if __name__ == "__main__":
    main()
