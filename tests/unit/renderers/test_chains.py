"""Edges joined into paths: each once, corners kept, what is straight in one piece."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.renderers.encoders.chains import _join_runs, edge_paths, ring_paths
from tests.unit.plans.boards import board


def lines_of(*points: tuple[float, float]) -> Curves:
    return Curves.from_segments(np.hstack([points[:-1], points[1:]]))


def arcs_of(*spans: tuple[float, float], radius: float = 5.0) -> Curves:
    frame = [1.0, 2.0, radius, 0.0, 0.0, radius]
    return Curves(np.full(len(spans), ARC), np.array([[*frame, *s] for s in spans]))


@pytest.mark.parametrize(
    ("curves", "joined"),
    [
        (lines_of((0, 0), (1, 0), (3, 0)), [[0, 0, 3, 0]]),
        # a turn of a thousandth, there and back, and a corner
        (lines_of((0, 0), (1, 0), (2, 0.001)), [[0, 0, 1, 0], [1, 0, 2, 0.001]]),
        (lines_of((0, 0), (2, 0), (1, 0)), [[0, 0, 2, 0], [2, 0, 1, 0]]),
        (lines_of((0, 0), (2, 0), (2, 1)), [[0, 0, 2, 0], [2, 0, 2, 1]]),
        (lines_of((9, 9), (8, 8), (5, 5), (5, 4)), [[9, 9, 5, 5], [5, 5, 5, 4]]),
        # they do not meet
        (
            Curves.from_segments(np.array([[0, 0, 1, 0], [1.001, 0, 2, 0]])),
            [[0, 0, 1, 0], [1.001, 0, 2, 0]],
        ),
        (arcs_of((0, 1), (1, 2), (2, 2.5)), [[1, 2, 5, 0, 0, 5, 0, 2.5]]),
        (arcs_of((3, 2), (2, 0)), [[1, 2, 5, 0, 0, 5, 3, 0]]),
        # there and back, apart, and on another circle
        (arcs_of((0, 1), (1, 0)), None),
        (arcs_of((0, 1), (1.001, 2)), None),
        (Curves.concatenate([arcs_of((0, 1)), arcs_of((1, 2), radius=6.0)]), None),
        (Curves.concatenate([lines_of((0, 0), (6, 2)), arcs_of((0, 1))]), None),
    ],
)
def test_what_runs_on_along_one_line_or_arc_is_one_piece(curves, joined) -> None:
    start = np.array([0, len(curves)])
    found, limits = _join_runs(curves, start)
    if joined is None:
        joined = curves.data.tolist()
    assert [row[: len(want)] for row, want in zip(found.data, joined, strict=True)] == [
        pytest.approx(want) for want in joined
    ]
    assert limits.tolist() == [0, len(joined)]


def test_paths_are_not_joined_with_each_other() -> None:
    curves = lines_of((0, 0), (1, 0), (2, 0), (3, 0))
    found, limits = _join_runs(curves, np.array([0, 1, 3]))
    assert found.data[:, :4].tolist() == [[0, 0, 1, 0], [1, 0, 3, 0]]
    assert limits.tolist() == [0, 1, 2]


def length(curves: Curves) -> float:
    assert (curves.kind == LINE).all()
    return float(np.hypot(*(curves.data[:, 2:4] - curves.data[:, :2]).T).sum())


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (4, 3)])
def test_lines_of_a_chequer_run_through_its_crossings(columns, rows) -> None:
    curves, start, closed = edge_paths(board(columns, rows))
    # the border with its four corners, and each line within from side to side
    inner = columns - 1 + rows - 1
    assert sorted(np.diff(start)) == [1] * inner + [4]
    assert sorted(closed) == [False] * inner + [True]
    across = 10 * (columns * (rows + 1) + rows * (columns + 1))
    assert length(curves) == pytest.approx(across)
    for (first, last), whole in zip(pairwise(start), closed, strict=True):
        row = curves.data[first:last]
        assert row[:-1, 2:4].tolist() == row[1:, :2].tolist()
        assert (row[0, :2].tolist() == row[-1, 2:4].tolist()) == whole


def test_edges_that_are_left_out_part_the_lines() -> None:
    squares = board(3, 1)
    ends = squares.vertices[squares.origin].reshape(-1, 4)
    # without the sides of the middle square that lie on the border
    middle = (ends[:, [0, 2]].mean(axis=1) == 15.0) & (ends[:, 1] == ends[:, 3])
    curves, start, closed = edge_paths(squares, ~middle)
    assert length(curves) == pytest.approx(100 - 20)
    # the two outer squares, each closed
    assert closed.tolist() == [True, True]
    assert np.diff(start).tolist() == [4, 4]
    none, start, closed = edge_paths(squares, np.zeros(len(ends), bool))
    assert (len(none), start.tolist(), len(closed)) == (0, [0], 0)


def signed(curves: Curves) -> float:
    x0, y0, x1, y1 = curves.data[:, :4].T
    return float((x0 * y1 - x1 * y0).sum() / 2)


@pytest.mark.parametrize(
    ("shown", "areas"),
    [
        # of 3 x 3 squares of 100 mm²: all, all but the middle, and two that meet at a
        # corner alone
        ("111111111", [900]),
        ("111101111", [-100, 800 + 100]),
        ("100010000", [100, 100]),
        ("110110001", [100, 400]),
        ("000000000", []),
    ],
)
def test_outlines_have_what_is_shown_on_their_left(shown, areas) -> None:
    inside = np.array([False, *(mark == "1" for mark in shown)])
    curves, start = ring_paths(board(3, 3), inside)
    parts = [np.arange(a, b) for a, b in pairwise(start)]
    rings = [curves.take(part) for part in parts]
    assert sorted(round(signed(ring), 6) for ring in rings) == sorted(areas)
    assert all(len(ring) == 4 for ring in rings)
    # corners are square: nothing straight is left in two pieces
    for ring in rings:
        way = ring.data[:, 2:4] - ring.data[:, :2]
        turn = np.roll(way, -1, axis=0)
        assert (way * turn).sum() == 0
        assert math.isclose(np.abs(way).sum(), length(ring))
