"""Multiple lines, by the DXF reference (MLINE and MLINESTYLE)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry.curves import ARC, LINE
from fillwork.readers.dxf.mlines import multiple_line
from fillwork.readers.dxf.sketch import Look, Sketch
from tests.unit.readers.dxf.test_document import entity
from tests.unit.readers.dxf.test_entities import drawn, tags

LOOK = Look("0", 256, "bylayer", -1, 0.0, False, "")


def corner(x, y, mx, my, *lines):
    """A corner, its miter, and of each line the numbers of code 41."""
    told = [(11, x), (21, y), (12, 1), (22, 0), (13, mx), (23, my)]
    for line in lines:
        told += [(74, len(line)), *((41, v) for v in line), (75, 0)]
    return told


def parts(*corners, flags=1):
    told = [pair for one in corners for pair in one]
    return multiple_line(entity(tags("MLINE", (10, 0), (71, flags), *told)), flags)


def ends_of(curves):
    """Where curves begin and end."""
    found = []
    for kind, row in curves:
        if kind == LINE:
            found.append((row[:2], row[2:4]))
        else:
            points = [
                tuple(
                    row[k] + row[2 + k] * math.cos(t) + row[4 + k] * math.sin(t)
                    for k in (0, 1)
                )
                for t in row[6:]
            ]
            found.append(tuple(points))
    return np.array(found)


# three lines 10 long along x, at 1, 0 and -1 of their miter; the same with four
STRAIGHT = [corner(x, 0, 0, 1, (1, 0), (0, 0), (-1, 0)) for x in (0, 10)]
FOUR = [corner(x, 0, 0, 1, (2, 0), (1, 0), (-1, 0), (-2, 0)) for x in (0, 10)]


def test_lines_stand_at_their_distance_along_the_miter() -> None:
    found = parts(*STRAIGHT)
    assert [stroke[0][1][:4] for stroke in found.strokes] == [
        (0, 1, 10, 1), (0, 0, 10, 0), (0, -1, 10, -1),
    ]  # fmt: skip
    assert not found.closed


@pytest.mark.parametrize(
    ("flags", "start", "end"),
    [(1, True, True), (5, False, True), (9, True, False), (13, False, False)],
)
def test_ends_are_square_or_round(flags, start, end) -> None:
    found = parts(*STRAIGHT, flags=flags)
    true = {}
    if start:
        # from the right line to the left one: the half circle is beyond the start
        true |= {16: ((0, -1), (0, 1)), 64: ((0, 1), (0, -1))}
    if end:
        true |= {16 * 16: ((10, -1), (10, 1)), 64 * 16: ((10, -1), (10, 1))}
    assert {flag for flag, _ in found.ends} == set(true)
    for flag, curves in found.ends:
        ((p, q),) = ends_of(curves)
        assert {tuple(np.round(p, 9)), tuple(np.round(q, 9))} == set(
            map(tuple, true[flag])
        )
        if curves[0][0] == ARC:
            row = curves[0][1]
            t = (row[6] + row[7]) / 2
            middle = row[0] + row[2] * math.cos(t) + row[4] * math.sin(t)
            # a half circle of radius 1 stands beyond the lines
            assert middle == pytest.approx(-1 if flag == 64 else 11)


def test_inner_arcs_join_the_lines_inside_of_four() -> None:
    found = parts(*FOUR)
    inner = {flag: curves for flag, curves in found.ends if flag in (32, 32 * 16)}
    assert len(inner) == 2
    for flag, x in ((32, 0), (32 * 16, 10)):
        ((p, q),) = ends_of(inner[flag])
        assert sorted([tuple(np.round(p, 9)), tuple(np.round(q, 9))]) == [
            (x, -1),
            (x, 1),
        ]
    # of three lines there is none
    assert {flag for flag, _ in parts(*STRAIGHT).ends} == {16, 64, 256, 1024}


def test_lines_between_corners_are_joints_and_a_ring_has_one_at_each() -> None:
    square = [
        corner(x, y, dx, dy, (0, 0), (1, 0))
        for x, y, dx, dy in ((0, 0, 1, 1), (9, 0, -1, 1), (9, 9, -1, -1), (0, 9, 1, -1))
    ]
    opened, closed = parts(*square), parts(*square, flags=3)
    joints = [ends_of(c)[0].tolist() for flag, c in opened.ends if flag == 2]
    assert joints == [[[9, 0], [8, 1]], [[9, 9], [8, 8]]]
    assert [flag for flag, _ in closed.ends] == [2] * 4
    assert closed.closed
    assert not opened.closed
    assert [len(stroke) for stroke in opened.strokes] == [3, 3]
    assert [len(stroke) for stroke in closed.strokes] == [4, 4]
    assert closed.strokes[1][3][1][:4] == (1, 8, 1, 1)


@pytest.mark.parametrize(
    ("told", "pieces"),
    [
        ((0, 0), [(0, 10)]),
        ((0, 0, 4), [(0, 4)]),  # it stops and does not go on
        ((0, 0, 4, 6), [(0, 4), (6, 10)]),
        ((0, 0, 4, 6, 8), [(0, 4), (6, 8)]),
        ((0, 1, 3, 5), [(1, 4), (6, 10)]),  # measured from the line's own start
        ((0, 0, 4, 12), [(0, 4)]),
        ((0, 0, 0, 6), [(6, 10)]),
    ],
)
def test_lines_stop_and_go_on(told, pieces) -> None:
    found = parts(corner(0, 0, 0, 1, told), corner(10, 0, 0, 1, told), flags=2 + 1)
    out = [
        (row[0], row[2]) for stroke in found.strokes for _, row in stroke
        if row[0] < row[2]
    ]  # fmt: skip
    assert out == pieces
    # a ring that is cut is none
    assert found.closed is (len(told) == 2)


@pytest.mark.parametrize(
    "corners",
    [
        [],
        STRAIGHT[:1],
        [corner(0, 0, 0, 1), corner(1, 0, 0, 1)],
        [STRAIGHT[0], corner(10, 0, 0, 1, (), (), ())],
        [STRAIGHT[0][:4] + STRAIGHT[0][6:], STRAIGHT[1]],
    ],
)
def test_what_is_not_whole_has_no_parts(corners) -> None:
    found = parts(*corners)
    assert (found.strokes, found.ends) == ([], [])


def test_ends_are_drawn_where_the_style_asks_for_them() -> None:
    text = tags("MLINE", (2, "Own"), (71, 1), *(pair for c in STRAIGHT for pair in c))
    for flags, count in ((0, 3), (16, 4), (16 + 64, 5), (16 * 17, 5), (2, 3)):
        sketch = drawn(text)
        assert len(sketch.names) == 3
        sketch.finish({"own": flags, "other": 1023})
        assert len(sketch.names) == count
        sketch.finish({"own": 1023})
        assert len(sketch.names) == count  # once
    # a style that no table has asks for none
    sketch = drawn(text)
    sketch.finish({})
    assert len(sketch.names) == 3


# -- the sketch itself ----------------------------------------------------------


def test_lines_and_strokes_stand_in_one_table() -> None:
    sketch = Sketch()
    row = (0.0,) * 8
    sketch.add([], LOOK, closed=True, name="none", line=1)
    sketch.add([(ARC, row), (LINE, row)], LOOK, closed=True, name="two", line=5)
    other = LOOK._replace(colour=1)
    sketch.add_lines(np.ones((2, 4)), other, ["a", "b"], [7, 8])
    sketch.add([(LINE, row)], LOOK, closed=False, name="last", line=9)
    assert list(sketch.start) == [0, 2, 3, 4, 5]
    assert list(sketch.kinds) == [ARC, LINE, LINE, LINE, LINE]
    assert list(sketch.closed) == [1, 0, 0, 0]
    assert (list(sketch.look), list(sketch.looks)) == ([0, 1, 1, 0], [LOOK, other])
    assert (list(sketch.line), sketch.names) == (
        [5, 7, 8, 9],
        ["two", "a", "b", "last"],
    )
    assert np.array(sketch.rows).reshape(-1, 8).sum(axis=1).tolist() == [0, 0, 4, 4, 0]
    assert len(sketch) == 5


def test_doubts_keep_their_first_line_and_their_number() -> None:
    sketch = Sketch()
    for line in (9, 3, 12):
        sketch.doubt("odd", line)
    sketch.count("text")
    sketch.count("text")
    assert (sketch.doubts, sketch.counts) == ({"odd": (9, 3)}, {"text": 2})
