"""A detail in every second, third ... repeat makes the repeat larger by as much."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.lines.detect import find_symmetry
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
