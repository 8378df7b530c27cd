"""Cells whose corners a hand set: each off on its own, and all their copies alike.

The cells are invented. What an exact cell gives is known from its construction: the
group from how its lines lie, the regions of a repeat from counting those of the cell.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.pipeline.laying import lay_drawing
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import Plan
from fillwork.plans.settings import LayingSettings

if TYPE_CHECKING:
    from pathlib import Path

Line = list[tuple[float, float]]
SQUARE: Line = [(5, 5), (45, 5), (45, 45), (5, 45), (5, 5)]
WHEEL: list[Line] = [
    SQUARE,
    [(5, 5), (25, 17)], [(45, 5), (33, 25)], [(45, 45), (25, 33)], [(5, 45), (17, 25)],
    [(25, 17), (33, 25)], [(33, 25), (25, 33)], [(25, 33), (17, 25)],
    [(17, 25), (25, 17)], [(25, 5), (25, 17)], [(45, 25), (33, 25)],
    [(25, 45), (25, 33)], [(5, 25), (17, 25)],
]  # fmt: skip
EIGHTH: list[Line] = [
    [(5, 5), (45, 5), (45, 45), (5, 5)],
    [(18, 5), (45, 22)],
    [(30, 5), (45, 16.2)],
    [(45, 16.2), (38, 38)],
    [(25, 25), (45, 30)],
]


def spokes(radius: float) -> Line:
    turns = [math.pi / 3 * k for k in range(7)]
    return [(35 + radius * math.cos(t), 35 + radius * math.sin(t)) for t in turns]


HEXAGON: list[Line] = [spokes(25), spokes(12)]
HEXAGON += [list(pair) for pair in zip(spokes(25)[:6], spokes(12)[:6], strict=True)]


def drawn(lines: list[Line], off: float, seed: int, path: Path) -> Path:
    """Write lines, every corner moved by `off` mm or so on its own."""
    rng = np.random.default_rng(seed)
    corners = {p: np.array(p) + rng.normal(0, off, 2) for line in lines for p in line}
    body = "".join(
        '<path d="M' + "L".join(f"{x:.3f},{y:.3f} " for x, y in map(corners.get, line))
        + '"/>' for line in lines
    )  # fmt: skip
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="70mm" height="70mm" '
        'viewBox="0 0 70 70" fill="none" stroke="#222" stroke-width="0.4">'
        f"{body}</svg>"
    )
    return path


def laid(path: Path, by: str) -> tuple[str, bool, int]:
    plan = Plan(laying=LayingSettings(over=(260.0, 190.0), by=by))
    found = make_survey(lay_drawing(path, plan).linework)
    group = found.zones[0].symmetry
    return group.group.short, group.certain, len(found.orbits.orbits)


@pytest.mark.parametrize(
    ("lines", "by", "group", "kinds"),
    [
        # a wheel of four arms turns, and its mirrored copies stand beside it
        (WHEEL, "shifts", "p4", 3),
        (WHEEL, "mirrors", "p4g", 3),
        # every line ends on a side: the triangle stays one of three corners
        (EIGHTH, "mirrors", "p4m", 7),
        # a hexagon with a smaller one in it and six spokes
        (HEXAGON, "shifts", "p6m", 2),
    ],
)
@pytest.mark.parametrize("off", [0.0, 0.1])
def test_the_group_is_what_was_meant(
    lines: list[Line], by: str, group: str, kinds: int, off: float, tmp_path: Path
) -> None:
    assert laid(drawn(lines, off, 1, tmp_path / "cell.svg"), by) == (group, True, kinds)


def test_what_was_drawn_upright_lies_upright(tmp_path: Path) -> None:
    # rows that stand half a brick apart repeat along diagonals as well
    brick: list[Line] = [[(5, 5), (45, 5), (45, 25), (5, 25), (5, 5)]]
    brick += [[(5, 5), (25, 25), (45, 5)], [(25, 5), (25, 25)], [(35, 15), (45, 25)]]
    path = drawn(brick, 0.1, 3, tmp_path / "brick.svg")
    plan = Plan(laying=LayingSettings(over=(240.0, 160.0), by="brick 1/2"))
    turn = lay_drawing(path, plan).placing.map
    assert abs(math.degrees(math.atan2(turn[1], turn[0]))) < 2
