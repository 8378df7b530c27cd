"""What carries a zone onto itself beside the group that was found of it.

The patterns are cells whose group is gemmi's of the International Tables (see
`cells.py`): with all of its operations nothing is left, with fewer the others are seen.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.beyond import share_beyond
from fillwork.symmetry.zones.proof import with_doubt_of_regions
from tests.unit.helpers import linework_from_segments
from tests.unit.symmetry.cells import SPACE_GROUPS, make_cells


def _read(segments: np.ndarray):
    low, high = segments.reshape(-1, 2).min(0), segments.reshape(-1, 2).max(0)
    work = linework_from_segments(
        segments - np.tile(low, 2), *(high - low), has_page=True
    )
    return build_arrangement(work, page_edge="close", close_gaps=0.0)


@pytest.mark.parametrize("name", SPACE_GROUPS)
def test_nothing_is_beyond_a_whole_group_and_something_beyond_its_shifts(name):
    pattern = make_cells(name, np.random.default_rng(31), repeats=14.0, framed=False)
    arrangement = _read(pattern.segments)
    measures = measure_faces(arrangement)
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    low = pattern.segments.reshape(-1, 2).min(0)
    whole = pattern.symmetry
    moved = [
        replace(o, map=(*o.map[:4], *_moved(o.map, low))) for o in whole.operations
    ]
    whole = replace(whole, operations=tuple(moved))
    assert share_beyond(arrangement, measures, faces, whole) == (0.0, "")
    if name != "p1":
        shifts = replace(whole, operations=whole.operations[:1])
        share, kind = share_beyond(arrangement, measures, faces, shifts)
        assert share >= 0.9
        # a group without mirrors and glides has turns
        assert kind == "a turn" or name not in ("p2", "p3", "p4", "p6")


def _moved(numbers, low):
    """Return the shift of an operation when the drawing starts at `low`."""
    a, b, c, d, e, f = numbers
    x, y = low
    return e + a * x + c * y - x, f + b * x + d * y - y


def test_a_short_strip_of_triangles_is_not_sure_of_one_mirror():
    # three periods of a zigzag: its whole triangles are carried on by half of one
    zigzag = [
        (
            24.0 * k + 12 * half,
            20.0 * half,
            24.0 * k + 12 * (half + 1),
            20.0 * (1 - half),
        )
        for k in range(3)
        for half in (0, 1)
    ]
    box = [(0, 0, 72, 0), (72, 0, 72, 20), (72, 20, 0, 20), (0, 20, 0, 0)]
    arrangement = _read(np.array([*zigzag, *box], float))
    mirror = find_symmetry(arrangement, stated="rosette:D1")
    sure = replace(mirror, certain=True, stated=False, reason="")
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    found = with_doubt_of_regions(arrangement, measure_faces(arrangement), faces, sure)
    assert not found.certain
    assert "outside it" in found.reason or "a shift carries" in found.reason
