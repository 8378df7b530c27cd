"""Where leaders may run, against a library of plane geometry."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.renderers.sheets.leaders import _cross, _far, _Taken, _touch, _within
from fillwork.renderers.text.room import number_body
from fillwork.renderers.text.typeset import default_fonts


def ends(count: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return ends of lines on a fine grid, some level or upright, and the lines."""
    draw = np.random.default_rng(seed)
    a, b = draw.integers(0, 97, (2, count, 2)) / 4.0
    b[: count // 8, 0] = a[: count // 8, 0]
    b[count // 8 : count // 4, 1] = a[count // 8 : count // 4, 1]
    b[np.all(a == b, axis=1)] += (1.0, 0.5)
    return a, b, shapely.linestrings(np.stack([a, b], axis=1))


def test_distances_are_those_from_lines_with_two_ends() -> None:
    a, b, lines = ends(200, 1)
    points = np.random.default_rng(2).uniform(-5, 30, (40, 2))
    found = _far(points[:, None], a[None], b[None])
    true = shapely.distance(shapely.points(points)[:, None], lines[None])
    assert found == pytest.approx(true, abs=1e-9)
    # of a line without length: from its point
    assert _far(points, *[points + np.array([3, 4])] * 2) == pytest.approx(5.0)


def test_lines_cross_where_each_parts_the_ends_of_the_other() -> None:
    (a, b, one), (c, d, other) = ends(60, 3), ends(60, 4)
    found = _cross(a[:, None], b[:, None], c[None], d[None])
    true = shapely.crosses(one[:, None], other[None])
    # ends that lie on the other line are no crossing here
    touching = np.zeros_like(true)
    for points, lines, axis in ((a, other, 1), (b, other, 1), (c, one, 0), (d, one, 0)):
        dots = np.expand_dims(shapely.points(points), axis)
        touching |= shapely.distance(dots, np.expand_dims(lines, 1 - axis)) < 1e-9
    assert found.tolist() == (true & ~touching).tolist()
    assert 200 < found.sum() < 3400


def test_lines_pass_through_boxes() -> None:
    a, b, lines = ends(80, 5)
    low, size = np.random.default_rng(6).integers(1, 60, (2, 80, 2)) / 4.0 + 0.1
    found = _within(a[:, None], b[:, None], low[None], (low + size)[None])
    boxes = shapely.box(*low.T, *(low + size).T)
    true = shapely.length(shapely.intersection(lines[:, None], boxes[None])) > 1e-9
    assert found.tolist() == true.tolist()
    assert 500 < found.sum() < 5900


@pytest.mark.parametrize(
    ("dot", "end"),
    [
        # a box of 4 x 2 mm about (10, 10): met at its sides, and 1 % before them
        ((0.0, 10.0), (10 - 2.02, 10.0)),
        ((10.0, 0.0), (10.0, 10 - 1.01)),
        ((20.0, 20.0), (11.01, 11.01)),
        ((30.0, 15.0), (12.02, 10.505)),
        # so near that the line would have no length: a tenth of the way is left
        ((12.0, 10.0), (11.8, 10.0)),
    ],
)
def test_lines_stop_at_the_box_of_their_number(dot, end) -> None:
    middle, half = np.array([10.0, 10.0]), np.array([2.0, 1.0])
    assert _touch(np.array(dot), middle, half) == pytest.approx(np.array(end))


def taken_by(text: str) -> _Taken:
    """Return what is taken where one number of 2 mm stands about (50, 50)."""
    parts = SimpleNamespace(fonts=default_fonts())
    numbers = SimpleNamespace(
        texts=(text,),
        height=np.array([0.0, 2.0, 0.0]),
        text=np.array([-1, 0, 0]),
        at=np.full((3, 2), 50.0),
    )
    return _Taken(parts, numbers)


def test_no_number_and_no_leader_meets_another() -> None:
    taken = taken_by("8")
    width, height = np.array(number_body("8", default_fonts()).half) * 2.0 + 0.2
    half, dot = np.array([1.0, 1.0]), np.array([50.0, 60.0])

    def free(*at: tuple[float, float], row: int = 0) -> list[bool]:
        return taken.free(dot, np.array(at), half, row).tolist()

    # numbers may touch: 0.2 mm is about each in any case
    beside, under = 50 + width + 1, 60 - height - 11
    assert free((beside + 0.01, 50), (beside - 0.01, 50)) == [True, False]
    # the number that stands there is in the way of one below it
    assert free((50, under - 0.01), (40, 40)) == [False, True]
    assert taken.crossed(
        dot, np.array([[50.0, under - 9.0], [60.0, 60.0]]), 0
    ).tolist() == [
        True,
        False,
    ]
    taken.add(np.array([38.0, 58.0]), np.array([42.0, 62.0]))
    assert free((36.9, 60), (37.1, 60), (40, 63.1)) == [False, False, True]
    # a leader of number 1 from (60, 50) to (60, 70): none of another crosses it, or
    # ends within 1.2 dots of 0.5 mm beside it
    taken.join(np.array([60.0, 50.0]), np.array([60.0, 70.0]), 1)
    assert free((65, 60), (58, 64)) == [False, True]
    for gap, row, room in ((0.59, 0, False), (0.61, 0, True), (0.59, 1, True)):
        near = np.array([60.0 - gap, 65.0])
        assert taken.crossed(near, np.array([[55.0, 70.0]]), row)[0] != room
