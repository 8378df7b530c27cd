"""Ink in one shape: what may be ink, and the chains of its middle lines."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.strokes.ink import (
    _borders,
    _chains,
    _edges,
    _may_be_ink,
    _sharpened,
)
from tests.unit.readers.strokes.tables import Row, box, polygon, table


@pytest.mark.parametrize(
    ("strokes", "closed", "item", "ink"),
    [
        # one shape with a hole; two without, which cover all of their box
        ([box(0, 0, 9, 9), box(1, 1, 7, 7)], 2, 0, True),
        ([box(0, 0, 9, 9), box(9, 0, 9, 9)], 2, None, False),
        # alone, two fifths of their box
        ([box(0, 0, 2, 10), box(8, 0, 2, 10)], 2, None, True),
        ([box(0, 0, 2.1, 10), box(8, 0, 2, 10)], 2, None, False),
        # of which more than half are whole
        ([box(0, 0, 9, 9), box(1, 1, 7, 7)], 1, 0, False),
        ([box(0, 0, 9, 9), box(1, 1, 7, 7), box(2, 2, 1, 1)], 2, 0, True),
    ],
)
def test_what_may_be_ink(
    strokes: list[list[Row]], closed: int, item: int | None, ink: bool
) -> None:
    told = table(*strokes, item=item)
    told.closed[:closed] = True
    assert _may_be_ink(told) == ink


def test_a_hole_is_no_ink_whichever_way_it_runs() -> None:
    # a frame of 9 by 9 without its hole, and three squares: 32 + 3 of 20 by 9
    around = polygon((1, 1), (1, 8), (8, 8), (8, 1))
    for hole in (box(1, 1, 7, 7), around):
        single = [box(15 + 2 * k, 8, 1, 1) for k in range(3)]
        told = table(box(0, 0, 9, 9), hole, *single, closed=True)
        told.item[:] = 0, 0, 1, 2, 3
        assert _may_be_ink(told)


def chains_of(long: float, apart: float = 1.0) -> list[list[list[float]]]:
    """Two forks, so far from each other, joined by one straight border."""
    here, there = [0.0, 0.0], [long, 0.0]
    ends = np.array([
        [here, there], [here, [-9, 9]], [here, [-9, -9]],
        [there, [long + 9, 9]], [there, [long + 9, -9]],
    ])  # fmt: skip
    points = np.array([[long / 2, apart / 2], [long / 2, -apart / 2]])
    pair = np.tile([0, 1], (5, 1))
    # wherever on the page
    by = np.array([50.0, 30.0])
    found = _chains(ends + by, pair, points + by, 1.0)
    return [np.round(c - by, 6).tolist() for c in found]


@pytest.mark.parametrize(
    ("long", "apart", "count"),
    # a border of four widths between two forks is a crossing, drawn to its middle;
    # where the ink is wider there, of four times that
    [(3.9, 1.0, 4), (4.1, 1.0, 5), (7.9, 2.0, 4), (8.1, 2.0, 5)],
)
def test_corners_that_face_each_other_meet_in_a_point(
    long: float, apart: float, count: int
) -> None:
    found = chains_of(long, apart)
    assert len(found) == count
    if count == 4:
        forks = {tuple(end) for c in found for end in (c[0], c[-1])}
        assert (long / 2, 0.0) in forks
        assert len(forks) == 5
    else:
        assert [
            sorted(c) for c in found if len(c) == 2 and abs(c[0][1]) + abs(c[1][1]) < 1
        ] == [[[0.0, 0.0], [long, 0.0]]]


def test_borders_lie_between_unlike_regions() -> None:
    # two rows of places, a unit apart: the border runs in their middle
    x = np.arange(10.0)
    points = np.vstack([np.stack([x, 0 * x], 1), np.stack([x, 0 * x + 1], 1)])
    ends, pair = _borders(points, np.repeat([0, 1], 10))
    assert np.allclose(ends[..., 1], 0.5)
    assert (np.abs(pair[:, 0] - pair[:, 1]) == 10).all()
    assert len(_borders(points, np.zeros(20, int))[0]) == 0


def test_edges_of_a_lattice_bound_its_panes() -> None:
    panes = [box(1 + 10 * i, 1 + 10 * j, 9, 9) for i in range(3) for j in range(2)]
    told = table(box(0, 0, 31, 21), *panes, closed=True, item=0)
    points, label, side = _edges(told, np.ones(1, bool))
    assert side == pytest.approx(9.0)
    assert np.unique(label).tolist() == list(range(7))
    # the outline, and each pane, by its own places
    outer = points[label == 0]
    assert (np.isin(outer[:, 0], [0, 31]) | np.isin(outer[:, 1], [0, 21])).all()
    step = np.hypot(*np.diff(points[label == 1], axis=0).T)
    assert step.max() <= 0.2 * 1.3
    # five panes are a figure
    few = table(box(0, 0, 31, 21), *panes[:5], closed=True, item=0)
    assert _edges(few, np.ones(1, bool)) is None


def test_bends_are_sharpened_and_ends_stay() -> None:
    # a right angle, rounded over half of a width; what strays by less than a thirtieth
    # of one is straight
    turn = np.radians(np.linspace(-90, 0, 7))
    bend = np.stack([9.5 + 0.5 * np.cos(turn), 0.5 + 0.5 * np.sin(turn)], 1)
    chain = np.vstack([[[0.0, 0.0], [5.0, 0.02]], bend, [[10.0, 10.0]]])
    (found,) = _sharpened([chain], 1.0)
    assert found == pytest.approx(np.array([[0, 0], [10, 0], [10, 10]]), abs=0.02)
    (bent,) = _sharpened([np.array([[0.0, 0.0], [5.0, 0.04], [10.0, 0.0]])], 1.0)
    assert len(bent) == 3
