"""Ends carried on as far as the ink goes, and pieces that pass through a place."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.check import draw_lines
from fillwork.readers.scan.ends import carry_on, pass_through
from fillwork.readers.scan.gaps import add_line
from fillwork.readers.scan.model import Drawing, Piece

WIDTH = 6.0


def drawing(*lines: tuple[float, float, float, float], width: float = WIDTH) -> Drawing:
    found = Drawing([], [], width)
    for a, b, c, d in lines:
        add_line(found, np.array([a, b]), np.array([c, d]))
    return found


def ink(*lines: tuple[float, float, float, float], width: float = WIDTH) -> np.ndarray:
    paths = [np.array(line, float).reshape(2, 2) for line in lines]
    return draw_lines(paths, (300, 400), width)


@pytest.mark.parametrize("wide", [6.0, 20.0, 30.0])
@pytest.mark.parametrize(("gap", "met"), [(12.0, True), (13.9, True), (14.6, False)])
def test_a_loose_end_goes_on_within_ink_for_fourteen_widths(
    gap: float, met: bool, wide: float
) -> None:
    # whatever a pixel is, a level line stops so many widths before an upright one
    end, at = 30.0, 30.0 + gap * wide
    lines = drawing((10.0, 150.0, end, 150.0), (at, 10.0, at, 290.0), width=wide)
    mask = np.ones((300, 500), bool)
    carry_on(lines, mask, set())
    assert (len(lines.pieces[1].vertices) == 3) == met
    if met:
        assert lines.vertices[lines.pieces[0].vertices[-1]] == pytest.approx([at, 150])
        assert lines.pieces[0].vertices[-1] == lines.pieces[1].vertices[1]


@pytest.mark.parametrize(("stop", "met"), [(130.0, True), (115.0, False)])
def test_an_end_stops_at_paper(stop: float, met: bool) -> None:
    level, upright = (10.0, 150.0, 100.0, 150.0), (130.0, 10.0, 130.0, 290.0)
    lines = drawing(level, upright)
    carry_on(lines, ink((10.0, 150.0, stop, 150.0), upright), set())
    assert (len(lines.pieces[1].vertices) == 3) == met


@pytest.mark.parametrize("wide", [6.0, 24.0])
@pytest.mark.parametrize(("share", "taken"), [(0.9, "first"), (1.5, "last")])
def test_of_lines_that_meet_in_one_place_the_first_is_taken(
    share: float, taken: str, wide: float
) -> None:
    # two upright lines ahead, within 1.2 widths of each other one place
    one, two = 130.0, 130.0 + share * wide
    lines = drawing(
        (10.0, 150.0, 100.0, 150.0), (one, 10.0, one, 290.0), (two, 10.0, two, 290.0),
        width=wide,
    )  # fmt: skip
    carry_on(lines, np.ones((300, 400), bool), set())
    end = lines.vertices[lines.pieces[0].vertices[-1]]
    assert end[0] == pytest.approx(one if taken == "first" else two)


def beside(far: float, paper: float, wide: float) -> tuple[Drawing, np.ndarray]:
    """A line that ends on another and whose ink runs on, some widths, to a gap.

    So much paper, in widths, lies between its ink and that of the next line; `far`:
    between the middles of both lines.
    """
    next_ = 100.0 + far * wide
    # ink reaches half a width beyond a line's middle
    stop = next_ - (0.5 + paper) * wide
    lines = drawing(
        (100.0, 10.0, 100.0, 290.0), (10.0, 150.0, 100.0, 150.0),
        (next_, 10.0, next_, 290.0), width=wide,
    )  # fmt: skip
    v = lines.add(np.array([100.0, 150.0]))
    lines.pieces[0].vertices.insert(1, v)
    lines.pieces[1].vertices[1] = v
    mask = np.zeros((300, 600), bool)
    mask[:, round(100 - wide / 2) : round(100 + wide / 2)] = True
    mask[:, round(next_ - wide / 2) : round(next_ + wide / 2)] = True
    mask[round(150 - wide / 2) : round(150 + wide / 2), 10 : round(stop) + 1] = True
    return lines, mask


@pytest.mark.parametrize("wide", [6.0, 20.0])
@pytest.mark.parametrize(
    ("far", "paper", "on"),
    [
        # ink that ends as a pen would, half a width past a tip, 1.7 widths on, and then
        # paper; what is as near to the next line as that goes on to it
        (4.0, 0.8, True),
        # so little ink beside its own line is that line's rim
        (2.2, 0.3, False),
        # no half of the way to the next
        (7.0, 3.5, False),
        # ink all the way: it meets the next
        (4.0, -0.4, True),
    ],
)
def test_ink_past_a_line_that_all_but_reaches_the_next_is_a_line(
    far: float, paper: float, on: bool, wide: float
) -> None:
    lines, mask = beside(far, paper, wide)
    carry_on(lines, mask, set())
    assert (len(lines.pieces[1].vertices) == 3) == on
    if not on:
        return
    tip = lines.vertices[lines.pieces[1].vertices[-1]]
    want = 100.0 + far * wide
    if paper > 0:
        want -= (1.0 + paper) * wide
    assert tip == pytest.approx([want, 150.0], abs=1.1)


def slanted(degrees: float, far: float) -> Drawing:
    """A level line that ends on a slanted one; some widths on, an upright line."""
    way = 90 * np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    x = 100.0 + far * WIDTH
    lines = drawing(
        (*(100 - way[0], 150 - way[1]), *(100 + way[0], 150 + way[1])),
        (10.0, 150.0, 100.0, 150.0), (x, 20.0, x, 290.0),
    )  # fmt: skip
    v = lines.add(np.array([100.0, 150.0]))
    lines.pieces[0].vertices.insert(1, v)
    lines.pieces[1].vertices[1] = v
    return lines


@pytest.mark.parametrize(("long", "on"), [(1.25, False), (1.65, True)])
def test_ink_beside_a_slanted_line_is_its_own_up_to_its_rim(
    long: float, on: bool
) -> None:
    # at 30 degrees it lies beside half as many widths as it is long: 0.62 or 0.82
    lines = slanted(30.0, long + 1.5)
    mask = np.zeros((300, 400), bool)
    mask[147:153, 10 : round(100 + (long + 0.5) * WIDTH) + 1] = True
    carry_on(lines, mask, set())
    assert (len(lines.pieces[1].vertices) == 3) == on


@pytest.mark.parametrize(("far", "on"), [(2.0, False), (3.0, True)])
def test_a_line_between_others_is_theirs_as_far_as_their_ink(
    far: float, on: bool
) -> None:
    # between lines at 15 and 90 degrees sin 15 / (1 + sin 15) of the way, 0.21, lies
    # between it and both at most: 0.41 or 0.62 widths
    lines = slanted(15.0, far)
    carry_on(lines, np.ones((300, 400), bool), set())
    assert (len(lines.pieces[1].vertices) == 3) == on


def test_an_arc_goes_on_along_its_circle() -> None:
    # a quarter of a circle of 80 px that stops 20 degrees before the level line
    lines = Drawing([], [], WIDTH)
    angle = np.radians([90.0, 20.0])
    tips = np.array([100.0, 100.0]) + 80 * np.c_[np.cos(angle), np.sin(angle)]
    a, b = (lines.add(tip) for tip in tips)
    circle = np.array([100.0, 100.0, 80.0])
    lines.pieces.append(Piece(True, circle, -np.radians(70), [a, b], tips))
    add_line(lines, np.array([120.0, 100.0]), np.array([290.0, 100.0]))
    carry_on(lines, np.ones((300, 300), bool), set())
    end = lines.vertices[lines.pieces[0].vertices[-1]]
    assert end == pytest.approx([180.0, 100.0])
    # and back over the level line's own end where that stops short of the arc
    assert lines.pieces[0].vertices[-1] in lines.pieces[1].vertices


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_piece_passes_through_what_lies_between_its_ends(sign: float) -> None:
    lines = drawing((0.0, 0.0, 100.0, 0.0))
    places = ([40.0, 1.0], [-5.0, 0.0], [105.0, 0.0], [60.0, 0.0])
    for place in places:
        pass_through(lines, lines.pieces[0], lines.add(np.array(place)))
    assert lines.pieces[0].vertices == [0, 2, 5, 1]
    # an arc from 10 to 200 degrees, the one way or the other
    arc = Drawing([], [], WIDTH)
    for degrees in (10.0, 200.0, 100.0, 300.0, 350.0):
        a = sign * np.radians(degrees)
        arc.add(50 * np.array([np.cos(a), np.sin(a)]))
    piece = Piece(
        True, np.array([0.0, 0.0, 50.0]), sign * 3.3, [0, 1], np.zeros((2, 2))
    )
    arc.pieces.append(piece)
    for v in (2, 3, 4, 2):
        pass_through(arc, piece, v)
    assert piece.vertices == [0, 2, 1]
    # a whole circle has all of them
    piece.vertices = [0, 0]
    for v in (3, 2, 4, 1):
        pass_through(arc, piece, v)
    assert piece.vertices == [0, 2, 1, 3, 4, 0]
