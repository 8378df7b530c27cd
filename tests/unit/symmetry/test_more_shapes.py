"""Names of shapes seldom drawn, and how far a corner may be off."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import LINE
from fillwork.symmetry.kinds.names import _quick_names, find_names, make_unique
from fillwork.symmetry.kinds.outlines import Outline
from fillwork.symmetry.kinds.shape import name_outline
from tests.unit.helpers import arc, circle, cubic, line, linework_from_curves
from tests.unit.symmetry.figures import _arcs, _cross, _poly, _ring, _star, figures

RIGHT = np.array([3.0, 0.0])


def _rounded(points, radius):
    """Return a convex polygon whose corners are arcs that run smoothly into sides."""
    rows, p = [], np.asarray(points, float)
    for k in range(len(p)):
        a, b, c = p[k - 1], p[k], p[(k + 1) % len(p)]
        into, out = (b - a) / np.hypot(*(b - a)), (c - b) / np.hypot(*(c - b))
        turn = np.arctan2(into[0] * out[1] - into[1] * out[0], into @ out)
        cut = radius * np.tan(turn / 2)
        left = np.array([-into[1], into[0]])
        centre = b - cut * into + radius * left
        begin = np.arctan2(*(-left)[::-1])
        rows.append((b - cut * into, b + cut * out, (centre, begin, begin + turn)))
    made = []
    for (_, leave, bend), (enter, _, _) in zip(rows, [*rows[1:], rows[0]], strict=True):
        centre, begin, end = bend
        made += [arc(*centre, radius, begin, end), line(*leave, *enter)]
    return made


BOX = [(0, 0), (20, 0), (20, 9), (0, 9)]
WIDE = [(0, 0), (10, 0), (10, 10), (0, 10)]
MORE = {
    "heptagon": (_poly(_ring(7)), "regular heptagon"),
    "nonagon": (_poly(_ring(9)), "regular nonagon"),
    "eleven": (_poly(_ring(11)), "regular 11-sided"),
    "ten sides": (
        _poly(_ring(10) * [2, 1] + np.outer(np.arange(10) == 1, [1.0, 2])),
        "10-sided",
    ),
    "strip": (_poly([(0, 0), (51, 0), (51, 10), (0, 10)]), "strip"),
    "not quite a strip": (_poly([(0, 0), (49, 0), (49, 10), (0, 10)]), "rectangle"),
    "slanted strip": (_poly([(0, 0), (60, 0), (65, 8), (5, 8)]), "strip"),
    "uneven arrowhead": (
        _poly([(8, -6), (1, 12), (-9, -7), (0, 0)]),
        "uneven arrowhead",
    ),
    "bow tie": (
        _poly([(-9, -6), (0, -2), (9, -6), (9, 6), (0, 2), (-9, 6)]),
        "bow tie",
    ),
    "turned bow tie": (
        _poly([(-9, -6), (1, -2), (9, -9), (9, 6), (-1, 2), (-9, 9)]),
        "6-sided with a half turn",
    ),
    "half turn": (
        _poly([(0, 0), (10, 0), (14, 6), (10, 13), (0, 13), (-4, 7)]),
        "6-sided with a half turn",
    ),
    "T of another stem": (
        _poly([(0, 0), (4, 0), (4, 5), (9, 5), (9, 9), (4, 9), (4, 14), (0, 14)]),
        "T-shape",
    ),
    "blunt chevron": (
        _poly([(0, 0), (8, 6), (8, 9), (0, 7), (-8, 9), (-8, 6)]),
        "hollow 6-sided with one mirror",
    ),
    "uneven star": (
        _poly(_star(5, 4.0) * (1 + 0.3 * np.outer(np.arange(10) == 0, [1, 1]))),
        "uneven 5-point star",
    ),
    "three arms": (
        _poly(
            np.vstack(
                [
                    _ring(3, 4, np.pi / 3),
                    _ring(3, 10, 0.2),
                    _ring(3, 10, -0.2),
                ]
            )[[3, 0, 7, 4, 1, 8, 5, 2, 6]]
        ),
        "3-armed cross",
    ),
    "uneven cross": (
        _poly(_cross(10, 3) + 4 * np.outer(np.arange(12) < 2, [0, 1])[::-1]),
        "uneven cross",
    ),
    "drop": (
        [
            arc(0, 0, 4, -np.pi + np.arccos(0.4), np.pi - np.arccos(0.4)),
            line(-1.6, 4 * np.sin(np.arccos(0.4)), -10, 0),
            line(-10, 0, -1.6, -4 * np.sin(np.arccos(0.4))),
        ],
        "drop",
    ),
    "oval": (
        [
            arc(6, 0, 4, -np.pi / 3, np.pi / 3),
            arc(0, -6 * 3**0.5, 16, np.pi / 3, 2 * np.pi / 3),
            arc(-6, 0, 4, 2 * np.pi / 3, 4 * np.pi / 3),
            arc(0, 6 * 3**0.5, 16, -2 * np.pi / 3, -np.pi / 3),
        ],
        "oval",
    ),
    "cinquefoil": (_arcs(_ring(5, 7), 4.2), "cinquefoil"),
    "uneven foil": (_arcs(_ring(5, 7), (4.2, 4.2, 4.2, 4.2, 3.0)), "uneven cinquefoil"),
    "two bulges": (_arcs([(0, -9), (0, 9)], (4, 4.1)), "lens"),
    "bulging pentagon": (_arcs(_ring(5), 0.9), "bulging pentagon"),
    "hollow rhombus": (
        _arcs([(9, 0), (0, 5), (-9, 0), (0, -5)], -1.0),
        "hollow rhombus",
    ),
    "hollow box": (_arcs([(0, 0), (60, 0), (60, 8), (0, 8)], -0.8), "hollow rectangle"),
    "rounded square": (_rounded(WIDE, 2), "rounded square"),
    "rounded rectangle": (_rounded(BOX, 2), "rounded rectangle"),
    "rounded triangle": (_rounded(_ring(3), 2), "rounded triangle"),
    "rounded pentagon": (_rounded(_ring(5), 2), "rounded 5-sided"),
    "curved star": (_arcs(_star(6, 5), 0.6), "curved 6-point star"),
    "curved cross": (
        _arcs(_cross(10, 3), [0.0, 0.8, 0.0] * 4),
        "curved cross",
    ),
    "one curved side": (
        _arcs([(0, 0), (14, 0), (4, 9)], (0, -1.5, 0)),
        "curved triangle",
    ),
    "pointed arch of two": (
        _arcs([(0, 0), (10, 0), (5, 12)], (0, 2, 2)),
        "pointed arch",
    ),
    "tub": (_arcs([(0, 0), (14, 0), (14, 6), (0, 6)], (3, 0, 0, 2)), "curved 4-sided"),
    "flat arch": (
        _arcs([(0, 0), (14, 0), (14, 6), (0, 6)], (0, 0, 1.2, 0)),
        "curved 4-sided with one mirror",
    ),
}


def _named(rows, *more) -> str:
    """Return the base name of the region of most area, in a drawing of outlines."""
    curves = linework_from_curves([*rows, *more]).curves
    curves = curves.transform((0.8, 0.6, -0.6, 0.8, 100.0, 100.0))
    arrangement = build_arrangement(linework_from_curves(curves, 300, 300))
    face = int(np.argmax(arrangement.area[1:])) + 1
    of_face = np.full(arrangement.face_count, -1)
    of_face[face] = 0
    area = arrangement.area[[face]]
    return find_names(arrangement, of_face, [np.array([face])], np.array([True]), area)[
        0
    ][1]


@pytest.mark.parametrize("label", list(MORE))
def test_seldom_figures_have_their_names(label: str) -> None:
    rows, name = MORE[label]
    assert _named(rows) == name


@pytest.mark.parametrize(
    ("outer", "inner", "name"),
    [
        ([circle(0, 0, 20)], [circle(0, 0, 12)], "ring"),
        ([circle(0, 0, 20)], [circle(3, 0, 5)], "circle with a hole"),
        ([circle(0, 0, 20)], _poly(_ring(4, 16)), "circle frame"),
        (_poly(_ring(4, 20)), _poly(_ring(4, 14)), "square frame"),
        # a hole of a third of the area, and one off the middle
        (_poly(_ring(4, 20)), _poly(_ring(4, 10)), "square with a hole"),
        (_poly(_ring(4, 20)), _poly(_ring(4, 14) + RIGHT), "square with a hole"),
        (
            _poly(_ring(4, 20)),
            [*_poly(_ring(4, 4) + 2 * RIGHT), *_poly(_ring(3, 4) - 2 * RIGHT)],
            "square with 2 holes",
        ),
    ],
)
def test_holes_are_told(outer, inner, name) -> None:
    assert _named(outer, *inner) == name


def _straight(points, move=0.0, corner=0) -> Outline:
    p = np.array(points, float)
    if (p[:, 0] * np.roll(p[:, 1], -1) - p[:, 1] * np.roll(p[:, 0], -1)).sum() < 0:
        p = p[::-1].copy()
    p[corner] += move * np.array([0.8, 0.6])
    step = (np.roll(p, -1, axis=0) - p) @ (1, 1j)
    turn = np.angle(step / np.roll(step, 1))
    x, y = p.T
    area = abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2
    none = np.zeros(len(p))
    return Outline(p, none, none.astype(bool), turn, float(area))


CORNERS = {
    label: (np.array([row[1][:2] for row in rows]), name)
    for label, (rows, name) in figures().items()
    if all(kind == LINE for kind, _ in rows)
}
# a corner far off leaves what no corner decides: what is asked of some alone
FIRM = {"scalene", "quadrilateral", "L", "T", "chevron", "3-4-5", "right trapezium"}


@pytest.mark.parametrize("label", list(CORNERS))
def test_corners_may_be_off_by_less_than_the_slack(label: str) -> None:
    # the mean of all corners takes up a part of what one of them is off
    points, name = CORNERS[label]
    size = np.ptp(points, axis=0).max()
    for corner in range(len(points)):
        near = _straight(points, 0.019 * size, corner)
        assert name_outline(near, 0.02 * size) == name
        if label not in FIRM:
            far = _straight(points, 0.06 * size, corner)
            assert name_outline(far, 0.005 * size) != name


def test_a_right_angle_may_be_off_by_what_moves_its_sides() -> None:
    # sides of 10 and 20 with a corner off by 0.2: 0.2 / 10 + 0.2 / 20 is 0.03 radians
    for off, name in ((0.028, "right triangle"), (0.032, "triangle")):
        way = np.pi / 2 + off
        ring = [(0, 0), (10, 0), (20 * np.cos(way), 20 * np.sin(way))]
        assert name_outline(_straight(ring), 0.2) == name
    # parallel sides of 20 and 12: 0.2 / 20 + 0.2 / 12 is 0.0267
    for off, name in ((0.025, "trapezium"), (0.028, "4-sided")):
        end = (3 + 12 * np.cos(off), 8 + 12 * np.sin(off))
        ring = [(0, 0), (20, 0), end, (3, 8)]
        assert name_outline(_straight(ring), 0.2) == name


def test_many_kinds_are_named_by_their_corners() -> None:
    # beyond five hundred kinds: triangles, rectangles and half circles in a grid
    rows, names = [], []
    for k in range(520):
        x, y = 10 * (k % 26), 10 * (k // 26)
        if k % 3 == 0:
            rows += _poly([(x, y), (x + 6, y), (x, y + 4)])
        elif k % 3 == 1:
            rows += _poly([(x, y), (x + 6, y), (x + 6, y + 4), (x, y + 4)])
        else:
            rows += [arc(x + 3, y + 1, 3, 0, np.pi), line(x, y + 1, x + 6, y + 1)]
        names.append([(x + 1.5, y + 1.5), k % 3])
    work = linework_from_curves(rows, 300, 300)
    arrangement = build_arrangement(work)
    at = arrangement.faces_at(np.array([p for p, _ in names]))
    of_face = np.full(arrangement.face_count, -1)
    of_face[at] = np.arange(520)
    whole = np.ones(520, bool)
    whole[[510, 519]] = False
    told = find_names(
        arrangement, of_face, [np.array([f]) for f in at], whole, arrangement.area[at]
    )
    base = [b for _, b in told]
    careful = ["right triangle", "rectangle", "half circle"]
    quick = ["triangle", "4-sided", "curved 2-sided"]
    assert base[:500] == [careful[k % 3] for k in range(500)]
    for k in range(500, 520):
        assert base[k] == (quick[k % 3] if whole[k] else "edge piece")
    assert len({name for name, _ in told}) == 520


def test_a_handle_that_lies_on_its_end_hides_no_corner() -> None:
    # three curved sides; a handle at the end of each says no direction there
    rows = [
        cubic(10, 10, 10, 10, 30, 25, 50, 10),
        cubic(50, 10, 50, 10, 30, 25, 30, 50),
        cubic(30, 50, 30, 50, 25, 30, 10, 10),
    ]
    arrangement = build_arrangement(linework_from_curves(rows, 60, 60))
    assert _quick_names(arrangement, np.array([1])) == ["curved triangle"]


def test_sizes_that_differ_by_less_than_a_twelfth_are_one() -> None:
    apart = make_unique(["kite"] * 2, np.array([10.0, 9.1]), [[], []])
    assert apart == ["large kite", "small kite"]
    alike = make_unique(["kite"] * 2, np.array([10.0, 9.3]), [[], []])
    assert alike == ["kite 1", "kite 2"]
    # four sizes have no words; of pieces at the edge none is asked for
    four = make_unique(["kite"] * 4, np.array([16.0, 8, 4, 2]), [[]] * 4)
    assert four == ["kite 1", "kite 2", "kite 3", "kite 4"]
    edge = make_unique(["edge piece"] * 2, np.array([16.0, 8]), [[]] * 2)
    assert edge == ["edge piece 1", "edge piece 2"]


def test_the_ground_is_a_piece_of_much_of_the_drawing() -> None:
    rows = [line(0, 0, 100, 0), line(100, 0, 100, 100), line(100, 100, 0, 100)]
    for high, name in ((16, "ground"), (14, "edge piece")):
        work = linework_from_curves(
            [*rows, line(0, 100, 0, 0), line(0, high, 100, high)]
        )
        arrangement = build_arrangement(work)
        low, rest = arrangement.faces_at(np.array([[50.0, 5], [50, 50]]))
        of_face = np.full(arrangement.face_count, -1)
        of_face[[low, rest]] = 0, 1
        told = find_names(
            arrangement,
            of_face,
            [np.array([low]), np.array([rest])],
            np.array([False, True]),
            arrangement.area[[low, rest]],
        )
        assert [base for _, base in told] == [name, "rectangle"]
