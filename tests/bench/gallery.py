"""Count what is right in panels as makers frame them (`panels_drawn.py`).

    python tests/bench/gallery.py FIRST LAST [--noise 0.005] [--apart] [--case TEXT]
        [--turned] [--save FOLDER]

For each seed from FIRST to below LAST and each kind a panel is constructed with its
zones and their groups: two dozen borders, mitred and with seven sorts of corner, round
frames, arches, medallions whole, halved and quartered, fields beside each other and in
odd windows. `--noise` moves corners by that share of what lines usually measure; with
`--apart` each figure by itself, so that figures miss each other and the frames.
`--turned` lays each drawing once more, turned by any angle, mirrored and sized anew,
and tells ("<>") where the zones are others then: they must not be. A line a panel tells
which zone was wrong and said to be sure ("!!"), which wrong and in doubt ("??"), and
which is right and doubted; the last line is a row of a table.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections import Counter
from copy import copy
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.zones.find import find_zones
from fillwork.symmetry.zones.making import PLAIN
from fillwork.symmetry.zones.parting import FEWEST
from tests.bench.framed import Part, score_panel
from tests.bench.ink import moved, noded, placed, shaken, svg_of
from tests.bench.panels_drawn import CASES, make_panel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.symmetry.model import Zone
    from tests.bench.framed import Score
    from tests.bench.panels_drawn import Work

_EDGE = 10.0  # about a panel, mm


class Found(NamedTuple):
    """What was found of one drawing."""

    svg: str
    zones: tuple[Zone, ...]
    score: Score
    doubted: list[str]
    seconds: float


def draw_and_find(
    work: Work, noise: float = 0.0, *, other: bool = False, apart: bool = False
) -> Found:
    """Draw a panel and find its zones; `other` lays it another way."""
    seed = int(work.wide * 1000)
    ink = work.lines if apart else noded(work.lines)
    if noise:
        ink = shaken(ink, work.frame, noise, seed, apart=apart)
    move = placed(0.0)
    if other:
        rng = np.random.default_rng([7, seed])
        angle, size = rng.uniform(0.1, 6.2), rng.choice([0.5, 0.8, 1.3, 2.0])
        move = placed(angle, size, flip=bool(rng.random() < 0.5))
    tips = move(np.array([(x, y) for x in (0, work.wide) for y in (0, work.tall)]))
    low, high = tips.min(axis=0) - _EDGE, tips.max(axis=0) + _EDGE

    def there(xy: np.ndarray) -> np.ndarray:
        return move(xy) - low

    svg = svg_of(moved(ink, there), moved(work.frame, there), *(high - low))
    arrangement = build_arrangement(read_linework(svg.encode(), name="panel.svg"))
    start = time.process_time()
    zones = find_zones(arrangement)
    seconds = time.process_time() - start
    laid = copy(work)
    laid.parts = [
        Part(shapely.transform(p.area, there), p.role, p.groups) for p in work.parts
    ]
    score = score_panel(laid, arrangement, 0.0, zones)
    every = shapely.union_all([p.area for p in laid.parts])
    shapely.prepare(every)
    wrong = {int(n) for text in score.wrong for n in re.findall(r"zone (\d+)", text)}
    doubted = [
        f"{z.role} {z.symmetry.group.short}: {z.symmetry.reason}"
        for z in zones
        if not z.symmetry.certain
        and z.symmetry.reason != PLAIN
        and z.index not in wrong
        and shapely.contains_xy(every, *arrangement.witness[z.faces].T).sum() >= FEWEST
    ]
    return Found(svg, zones, score, doubted, seconds)


def _answer(found: Found) -> Counter[tuple[str, int, bool]]:
    """Return what must be the same however a drawing is laid."""
    return Counter(
        (z.symmetry.group.short, len(z.faces), z.symmetry.certain) for z in found.zones
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Count over seeds and kinds."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("first", type=int)
    parser.add_argument("last", type=int)
    parser.add_argument("--noise", type=float, default=0.0)
    parser.add_argument("--apart", action="store_true")
    parser.add_argument("--case", default="", help="kinds whose names hold this")
    parser.add_argument("--turned", action="store_true")
    parser.add_argument("--save", type=Path)
    given = parser.parse_args(arguments)
    total: Counter[str] = Counter()
    seconds = 0.0
    for seed in range(given.first, given.last):
        for case in [c for c in CASES if given.case in c]:
            work = make_panel(case, seed, noisy=given.noise > 0)
            found = draw_and_find(work, given.noise, apart=given.apart)
            score = found.score
            total["drawings"] += 1
            total["regions"] += score.regions
            total["right"] += score.right
            total["sure of another group"] += score.sure_and_wrong > 0
            total["sure of none"] += score.none_and_sure > 0
            total["right and doubted"] += bool(found.doubted)
            seconds += found.seconds
            if given.save:
                name = work.name.replace("/", "-").replace(":", " ") + ".svg"
                (given.save / name).write_text(found.svg)
            for text in score.wrong:
                print("!!" if " SURE " in text else "??", given.noise, text)
            share = f"{score.right} of {score.regions}"
            print("  ", given.noise, work.name, share, f"{found.seconds:.2f} s")
            for text in found.doubted:
                print("      doubted:", text)
            if given.turned:
                again = draw_and_find(work, given.noise, other=True)
                if _answer(again) != _answer(found):
                    total["others when turned"] += 1
                    lost, new = (
                        sorted((one - two).elements())
                        for one, two in (
                            (_answer(found), _answer(again)),
                            (_answer(again), _answer(found)),
                        )
                    )
                    print("<>", given.noise, work.name, lost, new)
            sys.stdout.flush()
    print(f"{given.noise:.1%}", dict(total), f"{seconds:.0f} s of CPU in zones")


if __name__ == "__main__":
    main()
