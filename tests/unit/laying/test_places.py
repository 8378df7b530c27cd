"""Places that are offered: exact, and the same for one repeat and for several."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.geometry import affine
from fillwork.pipeline.laying import lay_drawing
from fillwork.plans.model import LayingSettings, Plan

if TYPE_CHECKING:
    from fillwork.laying.model import Placing

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="{0}mm" height="{1}mm" '
HEAD += 'viewBox="0 0 {0} {1}"><rect x="{2}" y="{2}" width="{3}" height="{4}" '
HEAD += 'fill="none" stroke="#00f"/><g fill="none" stroke="#000" stroke-width=".3">'
STEP = 40


def star(x: float, y: float) -> str:
    """Return a star of eight points, four of which touch its neighbours 40 mm off."""
    points = [
        (x + r * math.cos(a), y + r * math.sin(a))
        for k in range(16)
        for r, a in [((20.0, 9.0)[k % 2], math.pi * k / 8)]
    ]
    return f'<path d="M{" L".join(f"{a:.4f} {b:.4f}" for a, b in points)}Z"/>'


@cache
def places(columns: int, rows: int, at: float, by: str) -> tuple[Placing, ...]:
    """Return the places of stars on a panel, of which one cell holds so many."""
    size = STEP * (max(columns, rows) + 2)
    text = HEAD.format(size, size, at, STEP * columns, STEP * rows)
    reach = [(i, j) for i in range(-1, columns + 2) for j in range(-1, rows + 2)]
    text += "".join(star(20 + STEP * i, 20 + STEP * j) for i, j in reach)
    settings = LayingSettings(over=(300, 200), cell=("colour=#00f",), by=by)
    data = (text + "</g></svg>").encode()
    return lay_drawing(data, Plan(laying=settings), name="stars.svg").placings


def middles(found: tuple[Placing, ...]) -> list[tuple[float, ...]]:
    """Return where the panel's middle lies among the stars, and how they are turned."""
    told = []
    for place in found:
        at = affine.apply(affine.invert(place.map), np.array([150.0, 100.0]))
        share = ((at - 20) / STEP + 1e-6) % 1.0 - 1e-6
        # by the star's mirrors: sides and diagonals
        share = np.sort(np.minimum(share, 1 - share))
        turn = math.degrees(math.atan2(place.map[1], place.map[0])) % 90
        told.append((*np.round(share, 5).tolist(), round(turn, 3)))
    return told


@pytest.mark.parametrize("at", [20.0, 33.7])
def test_the_middle_of_the_panel_is_a_centre_to_the_hair(at: float) -> None:
    # by construction: p4m, its four turns on stars and between four of them, its
    # half-turns between two; wherever the edge of the cell cuts the lines
    centres = [(0.0, 0.0), (0.5, 0.5), (0.0, 0.5)]
    found = places(1, 1, at, "shifts")
    held = [p for p in found if "corners" in p.alike and p.map[1] == 0]
    assert len(held) == 4
    for place, told in zip(found, middles(found), strict=True):
        if place in held:
            assert told[:2] in centres
        # no hair of a figure is left at the edge by a place that is off by one
        assert place.smallest > 0.1


@pytest.mark.parametrize(
    ("columns", "rows", "by"), [(2, 2, "mirrors"), (3, 1, "shifts")]
)
def test_a_cell_of_several_repeats_has_the_places_of_one(
    columns: int, rows: int, by: str
) -> None:
    one, several = places(1, 1, 20.0, "shifts"), places(columns, rows, 20.0, by)
    assert sorted(middles(several)) == sorted(middles(one))
    assert [p.alike for p in several] == [p.alike for p in one]
