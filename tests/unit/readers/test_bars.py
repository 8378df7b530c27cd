"""Shapes that are single strokes, and helpers of middle lines: limits on both sides."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.readers.strokes.bars import (
    _bar,
    _circle,
    _middle,
    _polygon,
    _without_joints,
)
from fillwork.readers.strokes.ink import (
    _between,
    _followed,
    _length,
    _quantiles,
    _without_bends,
)
from fillwork.readers.strokes.meetings import _arcs_and_lines


def outline(*corners: tuple[float, float]) -> Curves:
    """A closed outline of straight lines."""
    p = np.array(corners, float)
    rows = np.zeros((len(p), 8))
    rows[:, :2], rows[:, 2:4] = p, np.roll(p, -1, axis=0)
    return Curves(np.full(len(p), LINE, np.uint8), rows)


def capped(long: float, width: float, *, bulge: float = 1.0) -> Curves:
    """A level bar with round caps beyond its ends, so much of a half circle high."""
    r = width / 2
    rows = np.array([
        [0.0, -r, long, -r, 0, 0, 0, 0],
        [long, 0.0, bulge * r, 0.0, 0.0, r, -np.pi / 2, np.pi / 2],
        [long, r, 0.0, r, 0, 0, 0, 0],
        [0.0, 0.0, bulge * r, 0.0, 0.0, r, np.pi / 2, 1.5 * np.pi],
    ])  # fmt: skip
    return Curves(np.array([LINE, ARC, LINE, ARC], np.uint8), rows)


@pytest.mark.parametrize(
    ("loop", "bar"),
    [
        (outline((0, 0), (10, 0), (10, 1), (0, 1)), True),
        # 1.5 widths are the least; a square has no middle line
        (outline((0, 0), (1.6, 0), (1.6, 1), (0, 1)), True),
        (outline((0, 0), (1.4, 0), (1.4, 1), (0, 1)), False),
        # straight across and as wide at both ends, within 0.03 of the width
        (outline((0, 0), (10, 0), (10.02, 1), (0.02, 1)), True),
        (outline((0, 0), (10, 0), (10.06, 1), (0.06, 1)), False),
        (outline((0, 0), (10, 0), (10, 1.02), (0, 1)), True),
        (outline((0, 0), (10, 0), (10, 1.05), (0, 1)), False),
        # round caps, half a width beyond the ends
        (capped(10.0, 1.0), True),
        (capped(10.0, 1.0, bulge=1.04), True),
        (capped(10.0, 1.0, bulge=1.1), False),
        (capped(10.0, 1.0, bulge=0.9), False),
        (outline((0, 0), (1, 0), (0, 1)), False),
    ],
)
def test_a_bar_has_two_long_sides_and_caps(loop: Curves, bar: bool) -> None:
    found = _bar(loop)
    assert (found is not None) == bar
    if found is None:
        return
    width, kind, row = found
    assert width == pytest.approx(1.0, abs=0.03)
    assert kind.tolist() == [LINE]
    x = np.sort(row[0, [0, 2]])
    assert x == pytest.approx([0.0, loop.starts()[:, 0].max()], abs=0.04)
    middle = 0.0 if (loop.kind == ARC).any() else 0.5
    assert row[0, [1, 3]] == pytest.approx([middle] * 2, abs=0.02)


def ring(radius: float, x: float = 0.0) -> Curves:
    row = np.array([[x, 0.0, radius, 0.0, 0.0, radius, 0.0, 2 * np.pi]])
    return Curves(np.array([ARC], np.uint8), row)


@pytest.mark.parametrize(
    ("one", "other", "middle"),
    [
        (ring(10.0), ring(9.0), 9.5),
        (ring(9.0), ring(10.0), 9.5),
        # about one centre, within 0.03 of the width
        (ring(10.0), ring(9.0, 0.02), 9.5),
        (ring(10.0), ring(9.0, 0.04), None),
        # its middle is 1.5 widths round at least: of radii 2.1 and 1 or 1.9 and 1
        (ring(2.1), ring(1.0), None),
        (ring(1.9), ring(1.0), 1.45),
    ],
)
def test_circles_about_one_centre_are_a_stroke(
    one: Curves, other: Curves, middle: float | None
) -> None:
    found = _circle(one, other)
    assert (found is not None) == (middle is not None)
    if found is not None:
        width, kind, row = found
        assert width == pytest.approx(abs(one.data[0, 2] - other.data[0, 2]))
        assert kind.tolist() == [ARC]
        assert row[0, 2] == pytest.approx(middle)
        assert row[0, 7] - row[0, 6] == pytest.approx(2 * np.pi)


SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]


def inner(
    by: float, *, shift: float = 0.0, turned: bool = False, first: int = 0
) -> Curves:
    """The square within, each side so far in; the upper one more."""
    corners = [
        (by, by),
        (10 - by, by),
        (10 - by, 10 - by - shift),
        (by, 10 - by - shift),
    ]
    corners = corners[first:] + corners[:first]
    return outline(*(corners[::-1] if turned else corners))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("first", [0, 1, 3])
def test_polygons_side_by_side_are_a_stroke(turned: bool, first: int) -> None:
    found = _polygon(outline(*SQUARE), inner(1.0, turned=turned, first=first))
    assert found is not None
    width, kind, rows = found
    assert width == pytest.approx(1.0)
    assert len(kind) == 4
    corners = {tuple(c) for c in np.round(rows[:, :2], 6).tolist()}
    assert corners == {(0.5, 0.5), (9.5, 0.5), (9.5, 9.5), (0.5, 9.5)}
    # each side as far from its own, within 0.03 of the width
    assert _polygon(outline(*SQUARE), inner(1.0, shift=0.02)) is not None
    assert _polygon(outline(*SQUARE), inner(1.0, shift=0.05)) is None
    # sides of 1.5 widths at least: 10 less twice 2.8 or 3
    assert _polygon(outline(*SQUARE), inner(2.8)) is not None
    assert _polygon(outline(*SQUARE), inner(3.0)) is None
    assert _polygon(outline(*SQUARE), outline(*SQUARE[:3])) is None
    assert _polygon(outline(*SQUARE), ring(3.0)) is None
    assert _middle([outline(*SQUARE), inner(1.0), inner(2.0)]) is None


def test_lines_that_go_straight_on_are_one() -> None:
    cut = outline((0, 0), (4, 0), (10, 0), (10, 10), (5, 10), (0, 10), (0, 3))
    found = _without_joints(cut)
    assert len(found) == 4
    assert {tuple(p) for p in found.starts().tolist()} == set(SQUARE)
    whole = outline(*SQUARE)
    assert _without_joints(whole) is whole
    # a bend of 0.2 degrees is one: of a cosine 6e-6
    bent = outline((0, 0), (5, -0.0175), (10, 0), (10, 10), (0, 10))
    assert len(_without_joints(bent)) == 5


def test_shares_are_counted_by_weight() -> None:
    values, weights = np.array([3.0, 1.0, 2.0]), np.array([1.0, 6.0, 3.0])
    assert _quantiles(values, weights, (0.5, 0.65, 0.95)) == [1.0, 2.0, 3.0]
    assert _quantiles(values, np.zeros(3), (0.5, 0.9)) == [0.0, 0.0]


def test_links_are_followed_from_node_to_node() -> None:
    # a Y whose arm comes back to its node, and a ring apart
    link = np.array([[0, 1], [1, 2], [2, 3], [3, 4], [4, 2], [5, 6], [6, 7], [7, 5]])
    chains = _followed(link, 8)
    ends = sorted(tuple(sorted((c[0], c[-1]))) for c in chains)
    assert ends == [(0, 2), (2, 2), (5, 5)]
    assert sorted(len(c) for c in chains) == [3, 4, 4]
    twice = np.array([[1, 0], [0, 1], [2, 2], [1, 2]])
    assert _between(twice).tolist() == [[0, 1], [1, 2]]
    assert _length(np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 5.0]])) == 6.0


@pytest.mark.parametrize(
    ("cut", "sharp"),
    # a right angle whose corner is cut off at 45 degrees: of a pen of 1 its short piece
    # is 1.4 px long, or 1.56, which is a side of its own
    [(1.0, True), (1.1, False)],
)
def test_a_bend_between_two_lines_becomes_their_corner(cut: float, sharp: bool) -> None:
    chain = np.array([[0.0, 0.0], [10.0 - cut, 0.0], [10.0, cut], [10.0, 10.0]])
    found = _without_bends(chain, 1.0)
    want = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]] if sharp else chain.tolist()
    assert found == pytest.approx(np.array(want))
    # what is short at an end goes with the line, up to four widths
    for count, stays in ((3, False), (5, True)):
        tail = np.c_[10 + np.zeros(count), 11.0 + np.arange(count)]
        long = np.vstack([[[10.0, 0.0], [10.0, 10.0]], tail])
        assert (len(_without_bends(long, 1.0)) == len(long)) == stays


def test_arcs_meet_lines_where_the_formula_has_them() -> None:
    # a half circle of 5 over a level line at 3: x = ±4
    arc = np.array([[0.0, 0.0, 5.0, 0.0, 0.0, 5.0, 0.0, np.pi]])
    lines = np.array([[-9.0, 3.0, 9.0, 3.0], [-9.0, -3.0, 9.0, -3.0],
                      [5.0, 3.0, 9.0, 3.0], [-9.0, 6.0, 9.0, 6.0]])  # fmt: skip
    index, t = _arcs_and_lines(arc, lines)
    assert index.tolist() == [0, 0]
    angle = np.arcsin(0.6)
    assert np.sort(t) == pytest.approx([angle / np.pi, 1 - angle / np.pi])
    # the other way round
    back = arc.copy()
    back[0, 6:] = np.pi, 0.0
    assert np.sort(_arcs_and_lines(back, lines)[1]) == pytest.approx(np.sort(1 - t))
