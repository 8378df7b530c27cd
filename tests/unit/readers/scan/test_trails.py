"""Places along pieces, arcs as rows, and what an end meets first."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.readers.scan.gaps import add_line
from fillwork.readers.scan.model import Drawing, Piece
from fillwork.readers.scan.trails import Trails, arc_row, heading, piece_rows, trail

WIDTH = 6.0


def at(degrees: float, radius: float = 50.0) -> np.ndarray:
    a = np.radians(degrees)
    return np.array([100.0, 100.0]) + radius * np.array([np.cos(a), np.sin(a)])


CIRCLE = np.array([100.0, 100.0, 50.0])


def arc(*degrees: float, turn: float | None = None) -> tuple[Drawing, Piece]:
    """An arc through places of a circle of 50 px, in order."""
    drawing = Drawing([at(d) for d in degrees], [], WIDTH)
    turn = np.radians(degrees[-1] - degrees[0]) if turn is None else turn
    vertices = list(range(len(degrees)))
    piece = Piece(True, CIRCLE, turn, vertices, np.empty((0, 2)))
    drawing.pieces.append(piece)
    return drawing, piece


@pytest.mark.parametrize("degrees", [(10.0, 100.0), (100.0, 10.0), (-150.0, 140.0)])
@pytest.mark.parametrize("step", [0.5, 3.0])
def test_an_arc_runs_along_its_circle(
    degrees: tuple[float, float], step: float
) -> None:
    drawing, piece = arc(*degrees)
    path = trail(drawing, piece, step)
    assert path[0] == pytest.approx(at(degrees[0]))
    assert path[-1] == pytest.approx(at(degrees[1]))
    assert np.hypot(*(path - 100.0).T) == pytest.approx(np.full(len(path), 50.0))
    long = 50 * np.radians(abs(degrees[1] - degrees[0]))
    steps = np.hypot(*np.diff(path, axis=0).T)
    assert steps == pytest.approx(np.full(len(steps), step), rel=0.2)
    assert steps.sum() == pytest.approx(long, rel=0.001)
    # through its middle, on the way that it turns
    half = at(sum(degrees) / 2)
    assert np.hypot(*(path - half).T).min() < step
    ((kind, row),) = piece_rows(drawing, piece)
    assert kind == ARC
    assert row[:6] == pytest.approx([100.0, 100.0, 50.0, 0.0, 0.0, 50.0])
    assert row[7] - row[6] == pytest.approx(np.radians(degrees[1] - degrees[0]))


def test_an_arc_passes_its_vertices_though_they_lie_beside_the_circle() -> None:
    p, q = at(0.0, 51.0), at(90.0, 49.5)
    row = arc_row(p, q, CIRCLE, np.pi / 2, whole=False)
    assert row is not None
    centre, radius = np.array(row[:2]), row[2]
    assert np.hypot(*(p - centre)) == pytest.approx(radius)
    assert np.hypot(*(q - centre)) == pytest.approx(radius)
    # and the circle's own middle there
    assert np.hypot(*(at(45.0) - centre)) == pytest.approx(radius, abs=0.2)
    ends = [centre + radius * np.array([np.cos(a), np.sin(a)]) for a in row[6:]]
    assert ends[0] == pytest.approx(p)
    assert ends[1] == pytest.approx(q)


@pytest.mark.parametrize(
    ("turn", "is_arc"),
    # a radian more than it is said to turn is the other way round
    [(0.6, True), (0.5, False), (-0.6, False), (1.57, True), (-4.7, True)],
)
def test_what_turns_too_far_is_no_arc(turn: float, is_arc: bool) -> None:
    row = arc_row(at(0.0), at(90.0), CIRCLE, turn, whole=False)
    assert (row is not None) == is_arc
    if row is not None:
        assert row[7] - row[6] == pytest.approx(np.pi / 2 if turn > 0 else -1.5 * np.pi)


def test_a_whole_circle_turns_once_the_way_it_was_drawn() -> None:
    for turn in (6.0, -6.0):
        row = arc_row(at(30.0), at(30.0), CIRCLE, turn, whole=True)
        assert row is not None
        assert row[7] - row[6] == pytest.approx(np.copysign(2 * np.pi, turn))
        assert row[6] == pytest.approx(np.radians(30.0))
    # two places that are one are no arc
    assert arc_row(at(30.0), at(30.0), CIRCLE, 1.0, whole=False) is None


def test_a_step_back_is_a_line_and_not_once_around() -> None:
    # the middle vertex lies a hair behind the first
    drawing, piece = arc(10.0, 9.7, 80.0)
    kinds = [kind for kind, _ in piece_rows(drawing, piece)]
    assert kinds == [LINE, ARC]
    drawing, piece = arc(10.0, 30.0, 80.0)
    assert [kind for kind, _ in piece_rows(drawing, piece)] == [ARC, ARC]


def test_lines_and_curves_are_walked_in_even_steps() -> None:
    drawing = Drawing([], [], WIDTH)
    add_line(drawing, np.array([0.0, 0.0]), np.array([30.0, 40.0]))
    path = trail(drawing, drawing.pieces[0], 2.0)
    assert path == pytest.approx(np.linspace([0.0, 0.0], [30.0, 40.0], 26))
    # what is shorter than a step has both ends
    add_line(drawing, np.array([0.0, 0.0]), np.array([0.3, 0.0]))
    assert len(trail(drawing, drawing.pieces[1], 2.0)) == 2
    row = (0.0, 0.0, 10.0, 0.0, 20.0, 0.0, 30.0, 0.0)
    drawing.vertices += [np.zeros(2), np.array([30.0, 0.0])]
    piece = Piece(
        False, np.zeros(4), 0.0, [4, 5], np.empty((0, 2)), curve=((CUBIC, row),)
    )
    assert piece_rows(drawing, piece) == [(CUBIC, row)]
    assert trail(drawing, piece, 3.0) == pytest.approx(
        np.c_[np.linspace(0, 30, 11), np.zeros(11)]
    )
    # no two vertices alike make a line of a straight piece
    drawing.pieces[0].vertices = [0, 0, 1]
    assert len(piece_rows(drawing, drawing.pieces[0])) == 1


def test_an_end_heads_along_its_last_places() -> None:
    points = np.array([[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [6.0, 1.0], [6.0, 9.0]])
    assert heading(points, 0) == pytest.approx(np.array([-6.0, -1.0]) / np.sqrt(37))
    assert heading(points, -1) == pytest.approx(np.array([4.0, 9.0]) / np.sqrt(97))
    assert heading(points[:2], 0) == pytest.approx([-1.0, 0.0])


def met(
    lines: list[tuple[float, float, float, float]], own: int = 0
) -> tuple[float, int] | None:
    """Ask what the right end of the first line, at (100, 50), meets."""
    drawing = Drawing([], [], WIDTH)
    add_line(drawing, np.array([0.0, 50.0]), np.array([100.0, 50.0]))
    for a, b, c, d in lines:
        add_line(drawing, np.array([a, b]), np.array([c, d]))
    trails = Trails.along(drawing)
    place, way = np.array([100.0, 50.0]), np.array([1.0, 0.0])
    near = trails.around(place, 60.0)
    assert (np.abs(trails.points[near] - place) < 60.0).all()
    return trails.ahead(near, place, way, own)


def test_an_end_meets_what_lies_first_on_its_way() -> None:
    assert met([]) is None
    lines = [(140.0, 0.0, 140.0, 100.0), (120.0, 0.0, 120.0, 100.0)]
    assert met(lines) == (pytest.approx(20.0, abs=0.1), 2)
    # beyond what is asked, there is nothing
    assert met([(162.0, 0.0, 162.0, 100.0)]) is None
    # of lines that end beside its way those count that reach within 1.6 px of it
    assert met([(120.0, 0.0, 120.0, 48.6)]) is not None
    assert met([(120.0, 0.0, 120.0, 48.2)]) is None
    # it may be past a line by 0.3 widths, 1.8 px, and is a tenth of a pixel before it
    # then
    assert met([(98.4, 0.0, 98.4, 100.0)]) == (0.1, 1)
    assert met([(98.0, 0.0, 98.0, 100.0)]) is None


@pytest.mark.parametrize(("ahead", "seen"), [(17.0, False), (20.0, True)])
def test_an_end_meets_its_own_line_from_three_widths_on(
    ahead: float, seen: bool
) -> None:
    # as if the line ahead were a part of its own
    drawing = Drawing([], [], WIDTH)
    x = 100.0 + ahead
    add_line(drawing, np.array([x, 0.0]), np.array([x, 100.0]))
    trails = Trails.along(drawing)
    near = np.arange(len(trails.points))
    place, way = np.array([100.0, 50.0]), np.array([1.0, 0.0])
    assert (trails.ahead(near, place, way, 0) is not None) == seen
    assert trails.ahead(near, place, way, 1) is not None
