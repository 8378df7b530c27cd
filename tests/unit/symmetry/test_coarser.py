"""A detail in every second, third ... repeat makes the repeat larger by as much."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.pipeline.surveying import make_survey
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.find import find_zones
from tests.bench.plain_fields import draw_field
from tests.unit.helpers import linework_from_segments

if TYPE_CHECKING:
    from collections.abc import Callable

# repeats that bear the detail, and how many repeats one of the whole then holds
MARKED: dict[str, tuple[Callable[[int, int], bool], int]] = {
    "none": (lambda i, j: False, 1),
    "chessboard": (lambda i, j: (i + j) % 2 == 0, 2),
    "third column": (lambda i, j: i % 3 == 0, 3),
    "third diagonal": (lambda i, j: (i + j) % 3 == 0, 3),
    "second both ways": (lambda i, j: i % 2 == 0 and j % 2 == 0, 4),
    "knight's moves": (lambda i, j: (i + 2 * j) % 5 == 0, 5),
}


@pytest.mark.parametrize("name", list(MARKED))
def test_a_detail_of_some_repeats_is_seen(name: str) -> None:
    """Judged by counting: the marks of a sublattice of index n stand in one of n."""
    marked, index = MARKED[name]
    rows = []
    for i in range(12):
        for j in range(10):
            lines = [(0, 0, 10, 0), (0, 0, 0, 10), (0, 0, 10, 10), (7, 0, 7, 7)]
            if marked(i, j):
                lines += [(1, 3, 3, 3), (3, 3, 3, 5), (3, 5, 1, 3)]
            rows.append(np.array(lines) + 10.0 * np.array([i, j, i, j]))
    lines = linework_from_segments(np.concatenate(rows).astype(float), 120, 100)
    found = find_symmetry(build_arrangement(lines, page_edge="open"))
    assert found.group.short == "p1"
    assert found.lattice is not None
    assert abs(np.linalg.det(found.lattice.basis)) == pytest.approx(100 * index)
    steps = np.round(found.lattice.basis / 10).astype(int).tolist()
    assert all(
        marked(i + di, j + dj) == marked(i, j)
        for di, dj in steps
        for i in range(20)
        for j in range(20)
    )


@pytest.mark.parametrize(
    ("wide", "high", "missing"),
    [(4, 5, {(3, 1), (1, 4)}), (5, 4, {(0, 1), (2, 2), (4, 3)})],
)
def test_a_few_missing_figures_make_no_sure_repeat(
    wide: int, high: int, missing: set[tuple[int, int]]
) -> None:
    """Some sublattice carries any two or three places onto each other."""
    flag = np.array([(2, 2, 8, 3), (8, 3, 4, 6), (4, 6, 2, 2)], float)
    rows = [
        flag + 10.0 * np.array([i, j, i, j])
        for i in range(wide)
        for j in range(high)
        if (i, j) not in missing
    ]
    w, h = 10 * wide, 10 * high
    frame = np.array([(0, 0, w, 0), (w, 0, w, h), (w, h, 0, h), (0, h, 0, 0)], float)
    lines = linework_from_segments(np.concatenate([*rows, frame]), w, h)
    found = find_zones(build_arrangement(lines))[0].symmetry
    assert not found.certain


# groups by which the script lays them; of the second a figure is wanting in two corners
@pytest.mark.parametrize(
    ("group", "seed", "noise"), [("p31m", 6501, 0.005), ("p3", 6512, 0.02)]
)
def test_no_other_group_is_sure_of_loose_figures(
    group: str, seed: int, noise: float
) -> None:
    drawing = draw_field(group, seed, noise, "none").svg.encode()
    zones = make_survey(drawing, name="field.svg").zones
    found = max(zones, key=lambda zone: len(zone.faces)).symmetry
    assert found.group.short == group or not found.certain
