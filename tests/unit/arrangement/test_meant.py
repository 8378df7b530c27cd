"""Gaps that a drawing means stay open; those of a hand are closed."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely

from fillwork.arrangement import build_arrangement
from tests.unit.helpers import linework_from_segments


def knot(gap, half, strands=4, step=30.0):
    """Return strands, over and under in turn, the lower ones stopping short.

    A strand is one line (half 0) or two rails, `half` mm from its middle; a square
    stands round it.
    """
    far = step * (strands + 1)
    rows = [[0, 0, far, 0], [far, 0, far, far], [far, far, 0, far], [0, far, 0, 0]]
    for k in range(strands):
        for upright in (0, 1):
            cuts = [0.0]
            for m in range(strands):
                if (k + m + upright) % 2 == 0:
                    over = step * (m + 1)
                    cuts += [over - half - gap, over + half + gap]
            cuts.append(far)
            for side in {-half, half}:
                at = step * (k + 1) + side
                for a, b in zip(cuts[::2], cuts[1::2], strict=True):
                    rows.append([at, a, at, b] if upright else [a, at, b, at])
    return np.array(rows, float)


@pytest.mark.parametrize("gap", [0.4, 1.2])
@pytest.mark.parametrize("half", [0.0, 2.0])
def test_gaps_beside_the_upper_strand_stay_open(gap, half):
    rows = knot(gap, half)
    lines = shapely.union_all(shapely.linestrings(rows.reshape(-1, 2, 2)))
    found = build_arrangement(linework_from_segments(rows, 200, 200))
    assert found.face_count - 1 == len(shapely.polygonize([lines]).geoms)
    assert gap / 3 < found.tolerance.close_gaps < gap
    assert "meant" in found.tolerance.why
    # who wants them closed says so
    asked = build_arrangement(
        linework_from_segments(rows, 200, 200), close_gaps=1.5 * gap
    )
    assert asked.face_count > found.face_count


@pytest.mark.parametrize("seed", range(4))
def test_misses_of_a_hand_are_closed(seed):
    miss = np.random.default_rng(seed).normal(0, 0.25, (9, 8, 2))
    rows = [[10, 10 + 20 * j, 170, 10 + 20 * j] for j in range(9)]
    for i in range(9):
        for j in range(8):
            low, high = miss[i, j]
            x = 10 + 20 * i
            rows.append([x, 10 + 20 * j + low, x, 30 + 20 * j - high])
    found = build_arrangement(linework_from_segments(np.array(rows, float), 200, 200))
    assert found.face_count - 1 == 64


def test_where_no_end_misses_none_is_moved():
    rows = [[0, 20 * k, 100, 20 * k] for k in range(6)]
    rows += [[20 * k, 0, 20 * k, 100] for k in range(6)]
    found = build_arrangement(linework_from_segments(np.array(rows, float), 200, 200))
    assert found.face_count - 1 == 25
    assert found.tolerance.close_gaps == 0.0


@pytest.mark.parametrize("miss", [0.0, 0.15])
def test_a_loose_grid_does_not_join_the_teeth_of_a_fine_comb(miss):
    # a grid whose ends miss by 0.35 mm beside twelve teeth 0.6 mm apart
    rng = np.random.default_rng(1)
    rows = [[10, 10 + 20 * j, 110, 10 + 20 * j] for j in range(6)]
    for i in range(6):
        for j in range(5):
            low, high = abs(rng.normal(0, 0.35, 2))
            x = 10 + 20 * i
            rows.append([x, 10 + 20 * j + low, x, 30 + 20 * j - high])
    wide = 13 * 0.6
    corners = [[130, 20], [130 + wide, 20], [130 + wide, 60], [130, 60], [130, 20]]
    rows += [a + b for a, b in pairwise(corners)]
    for k in range(1, 13):
        low, high = abs(rng.normal(0, miss, 2))
        rows.append([130 + 0.6 * k, 20 + low, 130 + 0.6 * k, 60 - high])
    lines = linework_from_segments(np.array(rows, float), 200, 200, line_width=0.3)
    found = build_arrangement(lines, page_edge="open")
    assert found.face_count - 1 == 25 + 13


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_gaps_alike_are_closed_where_they_leave_no_region(seed):
    # each side of 16 squares a line of its own, short by 0.3 to 0.6 mm at both ends
    rng, rows = np.random.default_rng(seed), []
    for i in range(5):
        for j in range(4):
            low, high = rng.uniform(0.3, 0.6, 2)
            rows.append(
                [20 + 20 * i, 20 + 20 * j + low, 20 + 20 * i, 40 + 20 * j - high]
            )
            low, high = rng.uniform(0.3, 0.6, 2)
            rows.append(
                [20 + 20 * j + low, 20 + 20 * i, 40 + 20 * j - high, 20 + 20 * i]
            )
    lines = linework_from_segments(np.array(rows), 200, 200, line_width=0.3)
    found = build_arrangement(lines)
    assert found.face_count - 1 == 16
    assert sum(defect.type == "gap" for defect in found.defects) >= 25


@pytest.mark.parametrize("seed", [13, 27, 35])
def test_gaps_that_the_pen_half_covers_are_no_more_alike(seed):
    # a grid of six by six in a frame, its lines short by 0.3 to 0.6 mm at both ends,
    # drawn with a pen that covers gaps up to 0.4 mm
    rng = np.random.default_rng(seed)
    rows = [[20, 20, 164, 20], [164, 20, 164, 164], [164, 164, 20, 164]]
    rows.append([20, 164, 20, 20])
    for k in range(1, 6):
        low, high, left, right = rng.uniform(0.3, 0.6, 4)
        rows.append([20 + 24 * k, 20 + low, 20 + 24 * k, 164 - high])
        rows.append([20 + left, 20 + 24 * k, 164 - right, 20 + 24 * k])
    lines = linework_from_segments(np.array(rows, float), 200, 200, line_width=0.7)
    assert build_arrangement(lines).face_count - 1 == 36
