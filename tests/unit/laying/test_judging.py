"""What is good about a place on a panel, and what a frame shows: by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.border import _met
from fillwork.laying.figures import Figures, Point
from fillwork.laying.frames import _Drawn
from fillwork.laying.joins import make_motif
from fillwork.laying.model import Cell
from fillwork.laying.panel import panel_from_curves, rectangle_panel
from fillwork.laying.placing import (
    edge_pieces,
    find_placings,
    judge_place,
    put_first,
    shortest_period,
)
from fillwork.laying.ways import find_ways
from tests.unit.helpers import linework_from_segments, polyline

SQUARE = np.array([[10.0, 0], [0, 10]])
CENTRES = (Point((5.0, 5.0), 4, "a square"), Point((0.0, 0.0), 4, "a crossing"))
TURNS = [affine.rotation(k * math.pi / 2) for k in range(4)]
MIRROR = (1.0, 0.0, 0.0, -1.0, 0.0, 0.0)


def figures(polygons, basis, operations=(affine.IDENTITY,), points=(), **facts):
    names = tuple(["square", "kite", "octagon"][: len(polygons)])
    held = np.array(polygons, object)
    return Figures(held, names, np.array(basis), tuple(operations), points, "", **facts)


def squares(**facts) -> Figures:
    """Return squares of 10 mm that have all their turns and mirrors."""
    every = [*TURNS, *(affine.compose(t, MIRROR) for t in TURNS)]
    return figures([shapely.box(0, 0, 10, 10)], SQUARE, every, CENTRES, **facts)


# columns of 10 mm from the left: 35 mm leave half a square, 34 mm two fifths
@pytest.mark.parametrize(
    ("width", "height", "least", "thin", "halves"),
    [
        (35, 25, 5.0, 0, 0),
        (34, 25, 4.0, 3, 2),
        (34, 24, 4.0, 6, 4),
        (40, 30, None, 0, 0),
    ],
)
def test_pieces_at_the_edge_are_counted(width, height, least, thin, halves) -> None:
    place = judge_place(squares(), rectangle_panel(width, height), affine.IDENTITY)
    assert place.smallest == pytest.approx(math.inf if least is None else least)
    assert place.small == thin
    # in the panel's corners a quarter is enough: a fifth, as of 4 by 5, is not
    assert place.halves == halves
    pieces = edge_pieces(squares(), rectangle_panel(width, height), affine.IDENTITY)
    assert int(pieces.poor.sum()) == thin
    columns, rows = width % 10, height % 10
    areas = [10 * columns] * (height // 10 * (columns > 0))
    areas += [10 * rows] * (width // 10 * (rows > 0))
    areas += [columns * rows] if columns * rows else []
    assert sorted(shapely.area(pieces.polygons)) == pytest.approx(sorted(areas))
    assert sorted(pieces.share) == pytest.approx(sorted(a / 100 for a in areas))


def test_a_score_adds_what_speaks_against_a_place() -> None:
    # 34 by 24 from the corner: nothing is alike (3 + 3 + 2), six thin pieces of six
    # (4 · 6 / 10 + 2), four of six under half (3 · 4 / 6)
    panel = rectangle_panel(34, 24)
    place = judge_place(squares(), panel, affine.IDENTITY)
    assert place.alike == ()
    # cut off: two squares lack 60 mm² each, three 60 each, the corner 84, over 116 mm
    # of edge and 10 mm of a square
    lost = (2 * 60 + 3 * 60 + 84) / 116 / 10
    assert place.score == pytest.approx(8 + 4.4 + 2 + 2 * lost)
    even = judge_place(squares(), rectangle_panel(40, 30), affine.IDENTITY)
    assert even.score == pytest.approx(0)
    assert even.alike == ("left and right", "top and bottom", "corners")
    assert even.scale == pytest.approx(1)
    # half a square more on one side, from the middle of a square: as good all round
    half = judge_place(squares(), panel, affine.translation(7.0, 7.0))
    assert half.alike == ("left and right", "top and bottom", "corners")


def test_sides_are_alike_where_the_panel_s_own_moves_keep_the_lines() -> None:
    shapes = [shapely.box(0, 0, 10, 10)]
    across = (-1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    half = (-1.0, 0.0, 0.0, -1.0, 0.0, 0.0)
    for operations, panel, alike in (
        ([across], (40, 30), ("left and right",)),
        ([MIRROR], (40, 30), ("top and bottom",)),
        ([half], (40, 30), ("left and right", "top and bottom")),
        (
            [across, MIRROR, half],
            (40, 30),
            ("left and right", "top and bottom", "corners"),
        ),
        (TURNS, (40, 40), ("left and right", "top and bottom", "corners")),
        (TURNS, (40, 30), ("left and right", "top and bottom")),
        ([], (40, 30), ()),
    ):
        seen = figures(shapes, SQUARE, [affine.IDENTITY, *operations])
        place = judge_place(seen, rectangle_panel(*panel), affine.IDENTITY)
        assert place.alike == alike
    # quarter turns alone, about the middle of 45 mm
    seen = figures(shapes, SQUARE, [affine.IDENTITY, *TURNS[1:]])
    middle = affine.translation(2.5, 2.5)
    turned = judge_place(seen, rectangle_panel(45, 45), middle)
    assert turned.alike == ("left and right", "top and bottom", "corners")
    # the middle of 43 mm is no centre of them
    seen = figures(shapes, SQUARE, [affine.IDENTITY, *TURNS[1:]])
    assert judge_place(seen, rectangle_panel(43, 43), affine.IDENTITY).alike == ()
    # a hand's lines may miss by three of its slips
    for slip, alike in ((0.4, True), (0.3, False)):
        loose = figures(shapes, SQUARE, [affine.IDENTITY, across], slip=slip)
        place = judge_place(loose, rectangle_panel(41, 30), affine.IDENTITY)
        assert ("left and right" in place.alike) is alike


def test_what_stands_in_the_middle_is_named() -> None:
    octagon = shapely.Point(0, 0).buffer(4)
    seen = figures(
        [shapely.box(0, 0, 10, 10), shapely.box(10, 0, 20, 10)], [[20.0, 0], [0, 10]]
    )
    for x, y, said in (
        (15.0, 15.0, "a square"),
        (5.0, 15.0, "a kite"),
        (20.0, 15.0, "a line between two figures"),
        (20.0, 20.0, "the point where 4 figures meet"),
    ):
        place = affine.translation(20.0 - x, 20.0 - y)
        assert judge_place(seen, rectangle_panel(40, 40), place, what="x").middle == {
            "a square": "a kite",
            "a kite": "a square",
        }.get(said, said)
    apart = figures([octagon, octagon, octagon], [[20.0, 0], [0, 20]])
    middle = judge_place(apart, rectangle_panel(20, 20), affine.IDENTITY, what="a gap")
    assert middle.middle == "a gap"
    one = Figures(
        np.array([octagon], object),
        ("octagon",),
        SQUARE * 2,
        (affine.IDENTITY,),
        (),
        "",
    )
    on = judge_place(one, rectangle_panel(40, 40), affine.IDENTITY)
    assert on.middle == "an octagon"
    none = figures([], SQUARE)
    assert (
        judge_place(none, rectangle_panel(9, 9), affine.IDENTITY, what="y").middle
        == "y"
    )


def test_the_shortest_shift_along_an_edge() -> None:
    slanted = np.array([[10.0, 4], [10, -2]])
    # one and two of them: 30 mm level; less the other: 6 mm upright
    assert shortest_period(slanted, 0) == pytest.approx(30)
    assert shortest_period(slanted, 1) == pytest.approx(6)
    assert shortest_period(SQUARE, 0) == pytest.approx(10)
    assert shortest_period(np.array([[7.0, 0]]), 0) == pytest.approx(7)
    assert shortest_period(np.array([[7.0, 0]]), 1) is None
    assert shortest_period(np.empty((0, 2)), 0) is None
    assert shortest_period(np.array([[10.0, math.pi], [1, 10]]), 0) is None


def test_the_best_place_has_even_cuts_and_a_scale_that_comes_out_even() -> None:
    panel = rectangle_panel(41.0, 30.5)
    best = find_placings(squares(), panel, 1.0)
    assert [p.number for p in best] == list(range(1, len(best) + 1))
    assert [p.score for p in best] == sorted(p.score for p in best)
    assert best[0].alike == ("left and right", "top and bottom", "corners")
    assert {p.middle for p in best} <= {
        "a square",
        "the point where 4 figures meet",
        "a line between two figures",
        "",
    }
    # by 2.5 in a hundred larger four squares fill the width
    given = find_placings(squares(), panel, 1.0, give=0.026)
    assert any(p.scale == pytest.approx(1.025) for p in given)
    assert all(abs(p.scale - 1) < 0.0261 for p in given)
    assert not any(
        p.scale > 1.02 for p in find_placings(squares(), panel, 1.0, give=0.024)
    )
    # none is another one turned or mirrored
    first = put_first(given[-1], given)
    assert first[0].map == given[-1].map
    assert [p.number for p in first] == list(range(1, len(first) + 1))
    assert len({p.map for p in first}) == len(first) == len(given)


def test_a_strip_lies_along_the_longer_side_in_the_middle() -> None:
    strip = figures(
        [shapely.box(0, -3, 10, 5)], [[10.0, 0]], points=(Point((5.0, 0.0), 1, "x"),)
    )
    (level,) = find_placings(strip, rectangle_panel(60, 30), 1.0)[:1]
    low, high = affine.apply(level.map, np.array([[0.0, -3], [0, 5]]))[:, 1]
    assert (low, high) == pytest.approx((11, 19))
    (upright,) = find_placings(strip, rectangle_panel(30, 60), 1.0)[:1]
    sides = affine.apply(upright.map, np.array([[0.0, -3], [0, 5]]))[:, 0]
    assert sorted(sides) == pytest.approx([11, 19])


def test_a_hole_cuts_figures_as_the_edge_does() -> None:
    hole = Curves.from_segments(
        polyline([(12, 12), (12, 18), (18, 18), (18, 12)], True)
    )
    panel = panel_from_curves([rectangle_panel(40, 30).curves, hole])
    pieces = edge_pieces(squares(), panel, affine.IDENTITY)
    assert pieces.share == pytest.approx([0.64])


def test_the_slip_of_a_hand_is_that_of_its_joins() -> None:
    # of one or two misses the least, which is no blunder; of more the root mean square
    for misses, slip in (
        ([], 0.0),
        ([0.2], 0.2),
        ([0.3, 0.1], 0.1),
        ([0.1, 0.2, 0.2], math.sqrt(0.03)),
    ):
        heights = 8.0 * np.arange(1, len(misses) + 1)
        rows = [[0, y, 40, y + m] for y, m in zip(heights, misses, strict=True)]
        rows += [[5, 35, 30, 37]]
        outline = np.array([[0.0, 0], [40, 0], [40, 40], [0, 40]])
        curves = Curves.from_segments(np.array(rows, float))
        cell = Cell(curves, np.zeros(len(rows), np.int32), outline, guided=True)
        (way,) = find_ways(outline, "shifts", "", slack=0.5)
        motif = make_motif(cell, way, slack=0.5)
        assert motif.slip == pytest.approx(slip, abs=1e-9)


def drawn_strip(plain, *, turn=0.0, low=3.0, high=15.0, basis=12.0) -> _Drawn:
    """Return a strip of teeth between two rails, with plain lines beside it."""
    rows = [np.array([0.0, y, 120, y]) for y in (low, high)]
    rows += [np.array([0.0, 0, 0, 18]), np.array([120.0, 0, 120, 18])]
    for k in range(10):
        rows.append(np.array([12.0 * k, low, 12 * k + 6, high]))
        rows.append(np.array([12.0 * k + 6, high, 12 * k + 12, low]))
    rows += [np.array(row, float) for row in plain]
    spin = affine.rotation(turn, (60.0, 60.0))
    lines = affine.apply(spin, np.array(rows).reshape(-1, 2)).reshape(-1, 4)
    work = linework_from_segments(lines, 200, 200)
    arrangement = build_arrangement(work, close_gaps=0.0)
    at = affine.apply(affine.invert(spin), arrangement.witness)
    held = (at[:, 1] > low) & (at[:, 1] < high)
    along = affine.linear(spin) @ [basis, 0.0]
    zone = SimpleNamespace(faces=np.flatnonzero(held))
    part = SimpleNamespace(arrangement=arrangement, zone=zone, basis=along[None])
    return _Drawn(work, part)


FULL = [[0, 0, 120, 0], [0, 18, 120, 18]]


@pytest.mark.parametrize("turn", [0.0, 0.5, math.pi / 2])
def test_plain_lines_beside_a_strip_are_told_from_its_edges(turn: float) -> None:
    drawn = drawn_strip([*FULL, [0, 1.2, 120, 1.2]], turn=turn)
    frame = drawn.frame()
    assert frame.corner is None
    assert frame.outside == pytest.approx((1.8, 3.0), abs=1e-3)
    assert frame.inside == pytest.approx((3.0,), abs=1e-3)
    # one repeat, level, as high as the strip
    assert np.ptp(frame.strip.outline, axis=0) == pytest.approx([12, 12], abs=1e-3)
    ends = np.abs(frame.strip.curves.ends() - frame.strip.curves.starts())
    assert (ends[:, 1] < 1e-3).sum() >= 2


def test_a_strip_stays_as_it_was_drawn_whichever_way_its_shift_points() -> None:
    for basis in (12.0, -12.0):
        frame = drawn_strip([*FULL, [0, 1.2, 120, 1.2]], basis=basis).frame()
        assert frame.outside == pytest.approx((1.8, 3.0), abs=1e-3)
        assert frame.inside == pytest.approx((3.0,), abs=1e-3)


@pytest.mark.parametrize(
    ("rows", "outside"),
    [
        # pieces within a fiftieth of the width of 12 mm are one line
        ([[0, 1.2, 60, 1.2], [60, 1.4, 120, 1.4]], (1.7, 3.0)),
        ([[0, 1.0, 60, 1.0], [60, 1.5, 120, 1.5]], (3.0,)),
        # a twentieth may be missing, of what lies away from the ends
        ([[0, 1.2, 58, 1.2], [61, 1.2, 120, 1.2]], (1.8, 3.0)),
        ([[0, 1.2, 57, 1.2], [63, 1.2, 120, 1.2]], (3.0,)),
        # level to a rise of one in fifty
        ([[0, 1.2, 60, 1.3], [60, 1.3, 120, 1.2]], (1.75, 3.0)),
        # nearer the strip's own edge than a fiftieth of its width it is that edge
        ([[0, 2.8, 120, 2.8]], (3.0,)),
        # another border outside: what lies beyond it is none of this frame
        (
            [[0, 1.2, 120, 1.2], *([k, 0.1, k + 5, 1.1] for k in range(0, 120, 5))],
            (1.8,),
        ),
    ],
)
def test_what_is_a_plain_line(rows, outside) -> None:
    frame = drawn_strip([*FULL, *rows]).frame()
    assert frame.outside == pytest.approx(outside, abs=2e-2)
    assert frame.inside == pytest.approx((3.0,), abs=1e-3)


def test_a_place_counts_its_size_its_middle_and_its_turn() -> None:
    panel = rectangle_panel(41.0, 30.5)
    for p in find_placings(squares(), panel, 1.0, give=0.026):
        rest = p.score - judge_place(squares(), panel, p.map).score
        # fifty times the share by which it is larger or smaller, less 0.15 for each
        # turn of the centre that stands in the middle
        rest -= 50 * abs(p.scale - 1)
        assert rest == pytest.approx(-0.6) or rest == pytest.approx(0.0)
        special = p.middle in ("a square", "the point where 4 figures meet")
        assert (rest < -0.5) == special
    # a rhombus on its tip as it was drawn: with its shifts along an edge it comes last
    tip = figures(
        [shapely.Polygon([(0, 0), (5, -5), (10, 0), (5, 5)])],
        [[5.0, -5], [5, 5]],
        points=(Point((5.0, 0.0), 2, "x"),),
    )
    places = find_placings(tip, rectangle_panel(40, 30), 1.0)
    turned = [abs(p.map[1]) > 1e-6 for p in places]
    assert turned == sorted(turned)
    assert any(turned)
    for p, other in zip(places, turned, strict=True):
        rest = p.score - judge_place(tip, rectangle_panel(40, 30), p.map).score
        told = 20.0 if other else 0.0
        assert min(abs(rest - told), abs(rest - told + 0.3)) < 1e-9


@pytest.mark.parametrize("scale", [0.5, 2.0])
def test_sizes_that_come_out_even_are_sought_about_the_wanted_one(scale) -> None:
    # 41 by 30.5 mm at scale 1, as above
    panel = rectangle_panel(41.0 * scale, 30.5 * scale)
    given = find_placings(squares(), panel, scale, give=0.026)
    assert {round(p.scale / scale, 6) for p in given} == {
        1.0,
        1.025,
        round(30.5 / 30, 6),
    }


def test_ends_of_a_corner_piece_go_to_the_strips_and_edges_do_not_count() -> None:
    # a piece 20 mm wide; the strips' lines come in at 10 on the right, at 12 on top
    rows = [
        [5.0, 5, 20, 10.2],  # misses by 0.2
        [5, 5, 12, 19.9],  # misses by 0.1
        [8, 8, 20, 15],  # meets none
        [0, 20, 20, 20],  # along the inner edges
        [20, 0, 20, 20],
        [3, 3, 7, 7],  # within
    ]
    right, top = np.array([10.0, 20.0]), np.array([12.0, 17.0])
    piece = Curves.from_segments(np.array(rows))
    moved, apart, far = _met(piece, right, top, 20.0, 0.5)
    # the end at 15, and the strip's line at 17 on top
    assert apart == 2
    assert far == pytest.approx(0.2)
    ends = moved.ends()
    assert ends[:2] == pytest.approx(np.array([[20, 10], [12, 20]]))
    assert moved.data[2:, :4].tolist() == rows[2:]
