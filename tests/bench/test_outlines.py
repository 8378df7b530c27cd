"""What naming an outline of many sides costs as the sides grow.

Run: ``pytest -m bench -s tests/bench/test_outlines.py``.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import LINE, Curves
from fillwork.symmetry.kinds.names import find_names
from tests.unit.helpers import linework_from_curves

pytestmark = pytest.mark.bench


def _seconds(sides: int, waves: float) -> float:
    angle = np.arange(sides) * 2 * np.pi / sides
    radius = 80 * (1 + 0.1 * np.sin(waves * angle))
    points = 100 + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    data = np.zeros((sides, 8))
    data[:, :2], data[:, 2:4] = points, np.roll(points, -1, axis=0)
    curves = Curves(np.full(sides, LINE, np.uint8), data)
    arrangement = build_arrangement(
        linework_from_curves(curves, 200, 200, has_page=False)
    )
    rest = np.array([-1, *[0] * (arrangement.face_count - 1)])
    best = np.inf
    for _ in range(3):
        start = time.process_time()
        find_names(
            arrangement, rest, [np.array([1])], np.ones(1, bool), arrangement.area[1:2]
        )
        best = min(best, time.process_time() - start)
    return best


@pytest.mark.parametrize("waves", [3.3, 41.0])
def test_growth_with_sides(waves: float) -> None:
    few, many = _seconds(4_000, waves), _seconds(8_000, waves)
    growth = many / few
    print(f"\n{waves:g} waves: 4,000 sides {few:.2f} s; twice as many {growth:.2f} x")
    assert growth < 3
