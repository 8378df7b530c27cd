"""Edges of a band beside its middle line, against closed formulas."""

import numpy as np
import pytest
import shapely

from fillwork.bands.paths import _arcs, _walk, _with_long_lines
from fillwork.bands.rails import build_rails, meet_rails, rail_of
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from tests.unit.helpers import arc, line


def test_rails_beside_a_bezier_that_is_an_arc_are_arcs_of_other_radii() -> None:
    # a cubic with legs of 4/3 tan(a/4) r is an arc of angle a within 1e-7 of r
    # (M. Goldapp, "Approximation of circular arcs by cubic polynomials", 1991)
    radius, angle = 50.0, np.radians(20.0)
    leg = 4 / 3 * np.tan(angle / 4) * radius
    end = radius * np.array([np.cos(angle), np.sin(angle)])
    back = leg * np.array([np.sin(angle), -np.cos(angle)])
    row = np.concatenate([[radius, 0.0], [radius, leg], end + back, end])
    rails = build_rails(Curves(np.array([CUBIC], np.uint8), row[None]), np.array([3.0]))
    along = np.linspace(0.0, 1.0, 41)
    for rail, apart in ((0, -3.0), (1, 3.0)):  # the middle lies on the left
        points = rails.point(np.full(41, rail), along)
        assert np.hypot(*points.T) == pytest.approx(radius + apart, abs=1e-4)
        assert points[[0, -1]] == pytest.approx(
            np.array([[radius, 0.0], end]) * (radius + apart) / radius, abs=1e-9
        )


def test_rails_beside_a_free_bezier_keep_their_distance() -> None:
    row = np.array([[0.0, 0.0, 10.0, 0.0, 20.0, 1.5, 30.0, 5.0]])
    middle = Curves(np.array([CUBIC], np.uint8), row)
    rails = build_rails(middle, np.array([2.0]))
    fine = np.linspace(-0.2, 1.2, 4001)  # beyond its ends too
    line = shapely.LineString(middle.point(np.zeros(4001, int), fine))
    along = np.linspace(0.0, 1.0, 21)
    for rail in (0, 1):
        points = shapely.points(rails.point(np.full(21, rail), along))
        assert shapely.distance(points, line) == pytest.approx(2.0, abs=2e-3)
    left, right = (rails.point(np.array([k]), np.array([0.5]))[0] for k in (0, 1))
    assert left[1] > right[1]


def curves_of(*rows) -> Curves:
    return Curves(
        np.array([kind for kind, _ in rows], np.uint8),
        np.array([data for _, data in rows], float),
    )


def test_a_half_has_the_rails_of_its_piece_on_its_own_left_and_right() -> None:
    halves = np.array([0, 1, 6, 7])
    assert rail_of(halves, left=True).tolist() == [0, 1, 6, 7]
    assert rail_of(halves, left=False).tolist() == [1, 0, 7, 6]


def test_rails_of_lines_and_circles_are_lines_and_circles() -> None:
    clockwise = arc(0, 0, 20, 1, 0)
    kind, mirrored = arc(0, 0, 20, 0, 1)
    mirrored[5] = -20.0  # as in a drawing that is turned over
    pieces = curves_of(
        line(0, 0, 10, 0), line(0, 0, 0, 10), arc(0, 0, 20, 0, 1), clockwise,
        (kind, mirrored),
    )  # fmt: skip
    rails = build_rails(pieces, np.array([2.0, 3.0, 4.0, 4.0, 4.0]))
    assert rails.kind.tolist() == [LINE] * 4 + [ARC] * 6
    assert rails.data[:4, :4].tolist() == [
        [0, 2, 10, 2], [0, -2, 10, -2], [-3, 0, -3, 10], [3, 0, 3, 10]
    ]  # fmt: skip
    # the middle of a circle lies on the left of who goes against the clock
    radii = np.hypot(*rails.data[4:, 2:4].T)
    assert radii == pytest.approx([16, 24, 24, 16, 24, 16])
    assert np.hypot(*rails.data[4:, 4:6].T) == pytest.approx(radii)
    assert np.allclose(rails.data[4:, 6:], pieces.data[[2, 2, 3, 3, 4, 4], 6:])


def test_rails_of_an_ellipse_leave_it_square_to_its_ends() -> None:
    kind, data = arc(0, 0, 20, 0, 0.3)
    data[5] = 10.0
    rails = build_rails(curves_of((kind, data)), np.array([1.5]))
    assert rails.kind.tolist() == [CUBIC, CUBIC]
    begin = np.array([20.0, 0.0])
    end = np.array([20 * np.cos(0.3), 10 * np.sin(0.3)])
    way = np.array([-20 * np.sin(0.3), 10 * np.cos(0.3)])
    normal = np.array([-way[1], way[0]]) / np.hypot(*way)
    for row, side in ((0, 1.5), (1, -1.5)):
        assert rails.data[row, :2] == pytest.approx(begin + side * np.array([-1, 0]))
        assert rails.data[row, 6:] == pytest.approx(end + side * normal, abs=1e-6)
        # and go the same way there
        leave, arrive = (
            rails.derivative(np.array([row]), np.array([t]))[0] for t in (0.0, 1.0)
        )
        assert leave / np.hypot(*leave) == pytest.approx([0, 1])
        assert arrive / np.hypot(*arrive) == pytest.approx(way / np.hypot(*way))
        # as fast as bends allow: the curvature is 20/100 at the one end
        speed = 10 * 0.3 * (1 - side * 20 / 100)
        assert np.hypot(*leave) == pytest.approx(speed, rel=1e-3)


def test_rails_meet_within_and_beyond_their_ends() -> None:
    rows = curves_of(
        line(0, 0, 10, 0), line(5, -5, 5, 5), line(20, 1, 20, 2), line(0, 3, 10, 3),
        arc(0, 0, 10, 0, np.pi / 2), line(6, 0, 6, 10), line(11, 0, 11, 10),
    )  # fmt: skip
    first = np.array([0, 0, 0, 4, 5, 4])
    second = np.array([1, 2, 3, 5, 4, 6])
    guess = np.full(6, 0.5)
    s, t, found = meet_rails(rows, first, second, guess, guess)
    assert found.tolist() == [True, True, False, True, True, False]
    turn = np.arccos(0.6) / (np.pi / 2)  # where the circle of 10 is 6 and 8 off
    assert s[[0, 1, 3, 4]] == pytest.approx([0.5, 2, turn, 0.8])
    assert t[[0, 1, 3, 4]] == pytest.approx([0.5, -1, 0.8, turn])
    # of lines that never meet the places asked from stay
    assert (s[2], t[2]) == (0.5, 0.5)
    none = np.empty(0, np.int64)
    assert [len(v) for v in meet_rails(rows, none, none, s[:0], s[:0])] == [0, 0, 0]


def test_a_walk_goes_from_gate_to_gate_and_each_rail_once() -> None:
    # rails 0 to 4: 0 leads on to 2 by its end, 1 goes round with 3, 4 is not drawn
    follow = np.array([-1, 4, 7, 6, 1, -1, 3, 2, -1, -1])
    live = np.array([True, True, True, True, False])
    gates, first = _walk(follow, live)
    # runs with ends come first; rings begin at the start of their first rail
    assert gates.tolist() == [0, 4, 2, 6]
    assert first.tolist() == [0, 2]
    gates, first = _walk(follow, np.zeros(5, bool))
    assert len(gates) == len(first) == 0


def test_arcs_round_corners_take_the_short_way() -> None:
    about = np.array([[0.0, 0], [5, 5], [0, 0]])
    start = np.array([[2.0, 0], [5, 3], [-2, 0.2]])
    end = np.array([[0.0, 2], [3, 5], [-2, -0.2]])
    arcs = _arcs(about, start, end, 2.0)
    assert (arcs.kind == ARC).all()
    assert arcs.lengths()[:2] == pytest.approx([np.pi, np.pi])
    assert arcs.lengths()[2] == pytest.approx(2 * 2 * np.arctan2(0.2, 2))
    assert arcs.starts()[:2] == pytest.approx(start[:2])
    assert arcs.ends()[:2] == pytest.approx(end[:2])


def test_straight_stretches_in_line_are_made_one() -> None:
    rows = curves_of(
        line(0, 0, 4, 0), line(4, 0, 9, 0),  # in line
        line(9, 0, 9, 3),  # a corner
        line(9, 3, 9, 1),  # and back
        arc(7, 1, 2, 0, 1), line(0, 0, 1, 1), line(1, 1, 2, 2), line(2, 2, 3, 3),
    )  # fmt: skip
    path = np.array([0, 0, 0, 0, 0, 1, 1, 2])
    curves, of = _with_long_lines(rows, path)
    assert curves.kind.tolist() == [LINE, LINE, LINE, ARC, LINE, LINE]
    assert of.tolist() == [0, 0, 0, 0, 1, 2]
    ends = np.column_stack([curves.starts(), curves.ends()])
    assert ends[[0, 1, 2, 4, 5]].tolist() == [
        [0, 0, 9, 0], [9, 0, 9, 3], [9, 3, 9, 1], [0, 0, 2, 2], [2, 2, 3, 3]
    ]  # fmt: skip
    none, rows_of = _with_long_lines(rows.take(slice(0, 0)), path[:0])
    assert len(none) == len(rows_of) == 0
