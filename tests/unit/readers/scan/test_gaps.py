"""What an end is carried on to: another end, a corner ahead, a line, or nothing."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.gaps import Closing, add_line, close_ends
from fillwork.readers.scan.model import Drawing

WIDTH = 6.0
REACH = 42.0


def drawing(*lines: tuple[float, float, float, float]) -> Drawing:
    found = Drawing([], [], WIDTH)
    for a, b, c, d in lines:
        add_line(found, np.array([a, b]), np.array([c, d]))
    return found


def rays(gap: float, off: float = 0.0) -> Drawing:
    """Two level lines of 200 px, one of which begins so far from the other's end."""
    return drawing((-200.0, 0.0, 0.0, 0.0), (gap, off, gap + 200.0, off))


def bridged(found: list[Closing]) -> list[float]:
    """Return the sizes of the gaps that were closed."""
    return sorted(c.size for c in found if c.size)


@pytest.mark.parametrize(
    ("gap", "closed"), [(20.0, [20.0]), (41.0, [41.0]), (43.0, [])]
)
def test_ends_ahead_of_each_other_within_reach_become_one(
    gap: float, closed: list[float]
) -> None:
    lines = rays(gap)
    found = close_ends(lines, REACH)
    assert bridged(found) == pytest.approx(closed)
    assert len(lines.pieces) == 2 + len(closed)
    # what stays open is told: both outer ends, and the two if nothing was near
    assert sum(c.size == 0 for c in found) == 4 - 2 * len(closed)
    if closed:
        (middle,) = (c.at for c in found if c.size)
        assert middle == pytest.approx([gap / 2, 0.0])
        assert lines.pieces[-1].tips == (1, 2)


@pytest.mark.parametrize(("angle", "closed"), [(37.0, 1), (43.0, 0)])
def test_ends_beside_each_other_are_joined_within_a_cone(
    angle: float, closed: int
) -> None:
    # level lines, the second so many degrees beside the first's way, 30 px off
    a = np.radians(angle)
    lines = rays(30 * np.cos(a), 30 * np.sin(a))
    assert len(bridged(close_ends(lines, REACH))) == closed
    # closer than one and a half widths whatever the angle
    for far, count in ((8.5, 1), (9.5, closed)):
        lines = rays(far * np.cos(a), far * np.sin(a))
        assert len(bridged(close_ends(lines, REACH))) == count


@pytest.mark.parametrize(
    ("angle", "size", "straight"),
    [(0.0, 30.0, True), (12.0, 30.0, True), (18.0, 30.0, False)],
)
def test_a_bridge_is_straight_where_both_lines_point_along_it(
    angle: float, size: float, straight: bool
) -> None:
    a = np.radians(angle)
    lines = rays(size * np.cos(a), size * np.sin(a))
    (found,) = (c for c in close_ends(lines, REACH) if c.size)
    assert found.straight == straight
    # and both are three times as long as the gap
    for long, told in ((size * 2.8, False), (size * 3.2, straight)):
        short = drawing(
            (-long, 0.0, 0.0, 0.0),
            (size * np.cos(a), size * np.sin(a), 400.0, size * np.sin(a)),
        )
        (found,) = (c for c in close_ends(short, REACH) if c.size)
        assert found.straight == told


@pytest.mark.parametrize(
    ("before", "corner"),
    # how far the first stops before the corner, or is past it; 9 px are 1.5 widths
    [(20.0, True), (-7.0, True), (-11.0, False)],
)
def test_two_ends_go_on_to_their_corner(before: float, corner: bool) -> None:
    # a right angle at the origin
    lines = drawing((-200.0, 0.0, -before, 0.0), (0.0, 200.0, 0.0, 30.0))
    found = close_ends(lines, REACH)
    at = [tuple(np.round(c.at, 6)) for c in found if c.size]
    assert ((0.0, 0.0) in at) == corner
    if before > 0:
        (told,) = (c for c in found if c.size)
        assert told.size == pytest.approx(np.hypot(before, 30.0))
        # of ends that meet at a corner the last bits lead there
        ends = {tuple(lines.vertices[v]) for p in lines.pieces[2:] for v in p.tips}
        assert ends == {(-before, 0.0), (0.0, 30.0), (0.0, 0.0)}


@pytest.mark.parametrize(("turn", "corner"), [(15.0, False), (20.0, True)])
def test_a_corner_of_lines_all_but_straight_is_none(turn: float, corner: bool) -> None:
    # each misses the corner by 10 px; a sine of 0.3 is 17.5 degrees
    a = np.radians(turn)
    way = np.array([np.cos(a), np.sin(a)])
    lines = drawing((-200.0, 0.0, -10.0, 0.0), (*(10 * way), *(200 * way)))
    (found,) = (c for c in close_ends(lines, REACH) if c.size)
    assert (abs(found.at[1]) < 1e-9) == corner


@pytest.mark.parametrize(("gap", "closed"), [(5.0, True), (40.0, True), (44.0, False)])
def test_an_end_goes_on_to_the_line_ahead(gap: float, closed: bool) -> None:
    lines = drawing((0.0, 0.0, 200.0, 0.0), (200 + gap, -100.0, 200 + gap, 100.0))
    found = close_ends(lines, REACH)
    assert bridged(found) == pytest.approx([gap] if closed else [], abs=1.0)
    if closed:
        assert len(lines.pieces[1].vertices) == 3
        foot = lines.vertices[lines.pieces[1].vertices[1]]
        assert foot == pytest.approx([200 + gap, 0.0], abs=0.01)
        (told,) = (c for c in found if c.size)
        assert told.at == pytest.approx([200 + gap / 2, 0.0], abs=0.01)


def test_nothing_is_closed_where_no_end_is_loose() -> None:
    lines = drawing((0.0, 0.0, 100.0, 0.0), (0.0, 0.0, 0.0, 100.0))
    lines.pieces[1].vertices[0] = 0
    lines.pieces[1].vertices[1] = lines.pieces[0].vertices[1]
    assert close_ends(lines, REACH) == []
    assert close_ends(Drawing([], [], WIDTH), REACH) == []
