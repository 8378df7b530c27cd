"""Lines of frames and of patterns: rows, rings, loops, mitres, corners and sides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones.arcs import _apart as apart_from
from fillwork.symmetry.zones.arcs import _regions_beside, _tips, framing_arcs
from fillwork.symmetry.zones.frame_rows import (
    _reaches_out,
    without_cells,
    without_rings,
    without_rows,
)
from fillwork.symmetry.zones.frames import (
    _between_corners,
    _tiny_between,
    _walk_loop,
    face_parts,
    find_frame_edges,
    ground_outside,
)
from fillwork.symmetry.zones.lengthwise import _lines_through, bands_of, ends_of
from fillwork.symmetry.zones.meetings import _Band, _goes_on
from fillwork.symmetry.zones.mitres import _apart, _corners, _covering, _Leaving
from fillwork.symmetry.zones.parting import (
    _alike,
    _bounding,
    _join_small,
    _next_steps,
    between,
    strips,
)
from fillwork.symmetry.zones.parting import (
    _goes_on as returns_in_both,
)
from fillwork.symmetry.zones.runs import Run, extend_runs, find_runs, straight_links
from fillwork.symmetry.zones.sides import ring_pieces, side_halves
from tests.unit.helpers import arc, circle, line, linework_from_curves
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

UNIT = 10.0
NONE = np.zeros(0, np.int64)


def straight(x0, y0, x1, y1, **facts) -> Run:
    ends = np.array([[x0, y0], [x1, y1]], float)
    step = ends[1] - ends[0]
    size = float(np.hypot(*step))
    facts = {"unit": UNIT} | facts
    return Run(
        NONE, size, False, False, ends.mean(axis=0), step / size, 0.0, ends, **facts
    )


def ring(x, y, radius) -> Run:
    middle = np.array([x, y], float)
    return Run(
        NONE,
        2 * math.pi * radius,
        True,
        True,
        middle,
        np.array([1.0, 0]),
        radius,
        np.zeros((0, 2)),
    )


def test_many_rings_that_hold_little_or_touch_are_a_patterns() -> None:
    row = straight(0, 0, 99, 0)
    # what they hold is under twelve of the usual regions: 19.5 mm
    for radius, dropped in ((19.0, True), (20.0, False)):
        far = [ring(100 * k, 0, radius) for k in range(5)]
        kept = without_rings([row, *far], UNIT)
        assert kept == ([row] if dropped else [row, *far])
        assert without_rings(far[:4], UNIT) == far[:4]
    # or they touch: 2.05 radii apart
    for step, dropped in ((81.9, True), (82.1, False)):
        near = [ring(step * k, 0, 40) for k in range(5)]
        assert without_rings(near, UNIT) == ([] if dropped else near)
    # of one size within a twentieth
    for radius, dropped in ((19.5, True), (21.1, False)):
        some = [*(ring(100 * k, 0, 19) for k in range(4)), ring(400, 0, 19)]
        some[4] = ring(400, 0, 19 if dropped else radius)
        assert (len(without_rings(some, UNIT)) == 0) is dropped


def rows_at(heights, low=0.0, high=200.0, **facts) -> list[Run]:
    return [straight(low, y, high, y, **facts) for y in heights]


def test_rows_at_equal_distances_are_a_patterns() -> None:
    # six gaps of one width, wider than 1.2 units
    rows = rows_at(np.arange(7) * 15.0)
    assert without_rows(rows, UNIT) == []
    assert len(without_rows(rows_at(np.arange(6) * 15.0, alike=0.0), UNIT)) == 6
    assert len(without_rows(rows_at(np.arange(7) * 11.9), UNIT)) == 7
    # one that is four units off is none of them
    odd = straight(0, 140, 200, 140)
    kept = without_rows([*rows, odd], UNIT)
    assert kept == [odd]
    # lines that cross them are asked for themselves
    up = straight(100, -20, 100, 120)
    assert without_rows([*rows, up], UNIT) == [up]
    # each is shorter than the last by the gap at both ends: nested frames
    nested = [
        straight(15 * k, 15 * k, 300 - 15 * k, 15 * k, crossed=0.0) for k in range(8)
    ]
    assert len(without_rows(nested, UNIT)) == 8


def test_rows_lie_at_equal_distances_within_a_share_of_these() -> None:
    # 0.04 of 50 mm, or 0.15 of a unit of 10 mm
    for gap, off, kept in ((50, 1.9, 0), (50, 2.1, 8), (20, 1.4, 0), (20, 1.6, 8)):
        # every other gap is wider, so that no three are alike beside each other
        heights = np.cumsum([0, *(gap + off * (k % 2) for k in range(7))])
        rows = rows_at(heights, alike=0.0, crossed=0.2)
        assert len(without_rows(rows, UNIT)) == kept


def test_three_rows_alike_on_both_sides_are_a_patterns() -> None:
    # under six units apart
    for gap, kept in ((40.0, 0), (61.0, 4)):
        assert len(without_rows(rows_at(np.arange(4) * gap), UNIT)) == kept
    assert len(without_rows(rows_at(np.arange(4) * 40.0, alike=0.29), UNIT)) == 4


def test_rows_by_turns_nearer_and_farther_are_a_patterns() -> None:
    # lines across all of them, six pairs of one width
    heights = [0, 13, 40, 53, 80, 93, 120, 133]
    crossed = rows_at(heights, crossed=0.4, alike=0.0)
    assert without_rows(crossed, UNIT) == []
    assert len(without_rows(rows_at(heights, crossed=0.2, alike=0.0), UNIT)) == 8


def test_walls_between_cells_of_a_strip_are_a_patterns() -> None:
    # from one side of a strip 30 mm high to the other, at equal distances
    walls = [straight(30.0 * k, 0, 30.0 * k, 30, alike=0.0) for k in range(7)]
    assert without_rows(walls, UNIT) == []
    odd = [
        straight(30.0 * k + 9 * (k % 3), 0, 30.0 * k + 9 * (k % 3), 30, alike=0.0)
        for k in range(7)
    ]
    assert len(without_rows(odd, UNIT)) == 7


def test_lines_that_go_on_at_both_ends_reach_out() -> None:
    low, high = np.array([0.0, 0, 0, -6, -6]), np.array([90.0, 90, 90, 96, 90])
    assert _reaches_out(low, high, UNIT).tolist() == [False, False, False, True, False]
    # less than half a unit is none
    assert not _reaches_out(low * 0.8, 90 + (high - 90) * 0.8, UNIT).any()
    # nor where most do not end as one
    assert not _reaches_out(np.array([0.0, -6, -6, 6, -20]), high, UNIT).any()


def test_many_loops_of_one_size_that_touch_are_cells() -> None:
    def box(x):
        corners = [(x, 0), (x + 30, 0), (x + 30, 30), (x, 30)]
        return [
            straight(*p, *q)
            for p, q in zip(corners, corners[1:] + corners[:1], strict=True)
        ]

    # middles nearer than 1.05 times their outline over π: 40.1 mm
    for step, cells_ in ((39.0, True), (41.0, False)):
        lines = [r for k in range(5) for r in box(step * k)]
        loops = [[4 * k + j for j in range(4)] for k in range(5)]
        assert without_cells(lines, loops) == ([] if cells_ else loops)
        assert without_cells(lines, loops[:4]) == loops[:4]


def test_loops_are_walked_turning_left() -> None:
    corners = np.array([[0, 0], [40, 0], [40, 30], [0, 30]], float)
    sides = [(0, 1), (2, 1), (3, 2), (3, 0)]
    ends = np.array([corners[k] for side in sides for k in side])
    near = [
        [j for j in range(8) if j != i and (ends[i] == ends[j]).all()] for i in range(8)
    ]
    assert sorted(_walk_loop(0, ends, near)) == [0, 1, 2, 3]
    open_ = [[j for j in row if j not in (6, 7)] for row in near]
    assert _walk_loop(0, ends, open_) is None
    # a triangle turns by 120 degrees at each corner, more than 103
    three = 40 * np.array([[0, 0], [1, 0], [0.5, math.sqrt(0.75)]])
    ends = np.array([three[k] for k in (0, 1, 1, 2, 2, 0)])
    near = [
        [j for j in range(6) if j != i and np.allclose(ends[i], ends[j])]
        for i in range(6)
    ]
    assert _walk_loop(0, ends, near) is None


def test_what_goes_straight_on_is_told_by_direction_and_part() -> None:
    part, towards = np.array([0, 0, 1]), np.array([0.1, 1.5, -3.1])
    other, back = np.array([0, 1]), np.array([0.1 + math.pi + 0.3, 0.1])
    # within twenty degrees, 0.35 of a radian, and of one part
    assert _goes_on(part, towards, other, back).tolist() == [True, False, True]
    far = np.array([0.1 + math.pi + 0.4, 0.5])
    assert _goes_on(part, towards, other, far).tolist() == [False, False, False]
    assert _goes_on(part, towards, other[:0], back[:0]).tolist() == [False] * 3


def test_vertices_lie_to_the_left_of_lines_and_outside_circles() -> None:
    points = np.array([[0.0, 0], [50, 5], [99, 0], [97, 1], [30, -40]])
    band = _Band([straight(0, 0, 100, 0), ring(0, 0, 40)], points)
    run = np.zeros(5, int)
    assert band.offset(run, np.arange(5)) == pytest.approx([0, 5, 0, 1, -40])
    assert band.offset(run + 1, np.arange(5)) == pytest.approx(
        [-40, math.hypot(50, 5) - 40, 59, math.hypot(97, 1) - 40, 10]
    )
    # two in a hundred of a line are left out at both ends
    assert band.between_tips(run, np.arange(5)).tolist() == [
        False,
        True,
        False,
        True,
        True,
    ]
    assert band.between_tips(run + 1, np.arange(5)).all()


def test_ends_of_an_arc_lie_beside_its_widest_gap() -> None:
    drawing = grid(
        [0.0, 100], [0.0, 100], arc(50, 0, 40, 0.0, math.pi), line(50, 40, 50, 100)
    )
    runs = find_runs(drawing, straight_links(drawing), UNIT)
    (own,) = [r for r in extend_runs(drawing, runs, UNIT) if r.round]
    tips = _tips(drawing, own)
    assert sorted(tips[:, 0].tolist()) == pytest.approx([10, 90])
    assert tips[:, 1] == pytest.approx([0, 0], abs=1e-9)
    # outside of it lie two regions, parted by the line on its top
    assert _regions_beside(drawing, own) == 2
    points, others = np.array([[0.0, 0], [9, 0]]), np.array([[3.0, 4], [0, 12]])
    assert apart_from(points, others) == pytest.approx([5, math.hypot(6, 4)])


def test_an_arc_that_stands_on_a_frame_line_frames_what_lies_in_it() -> None:
    spokes = [line(50, 40, 50, 100), line(20, 26, 0, 60), line(80, 26, 100, 60)]
    drawing = grid([0.0, 100], [0.0, 100], arc(50, 0, 40, 0.0, math.pi), *spokes)
    runs = extend_runs(drawing, find_runs(drawing, straight_links(drawing), UNIT), UNIT)
    lower = [r for r in runs if not r.round and np.abs(r.ends[:, 1]).max() < 1e-6]
    arcs = [r for r in runs if r.round]
    (own,) = arcs
    assert framing_arcs(drawing, runs, lower, UNIT) == [own]
    # without the line that it stands on it closes nothing
    assert framing_arcs(drawing, arcs, [], UNIT) == []
    # crossed by others, or short beside the usual region, it is a pattern's
    own.crossed = 0.21
    assert framing_arcs(drawing, runs, lower, UNIT) == []
    own.crossed = 0.0
    assert framing_arcs(drawing, runs, lower, own.length / 2.9) == []


def test_corners_are_where_lines_meet_that_end_there() -> None:
    box = [
        straight(0, 0, 100, 0),
        straight(100, 0, 100, 60),
        straight(100, 60, 0, 60),
        straight(0, 60, 0, 0),
    ]
    found = _corners(box, UNIT)
    assert {tuple(p) for p in found.round(6).tolist()} == {
        (0, 0),
        (100, 0),
        (100, 60),
        (0, 60),
    }
    # a crossing comes after what ends; parallels and lines apart meet nowhere
    cross = [*box, straight(-20, 30, 120, 30)]
    assert len(_corners(cross, UNIT)) == 6
    assert {tuple(p) for p in _corners(cross, UNIT)[4:].round(6).tolist()} == {
        (0, 30),
        (100, 30),
    }
    assert len(_corners([box[0], box[2]], UNIT)) == 0
    assert len(_corners(box[:1], UNIT)) == 0
    # a line that stops half a unit short still meets
    for gap, met in ((4.9, 1), (5.1, 0)):
        short = [straight(gap, 0, 100, 0), straight(0, 0.1, 0, 60)]
        assert len(_corners(short, UNIT)) == met
    # at a sine of less than 0.2 lines meet too slantly
    for rise, met in ((21, 1), (20, 0)):
        assert (
            len(_corners([straight(0, 0, 100, 0), straight(0, 0, 100, rise)], UNIT))
            == met
        )


def test_points_near_one_before_them_are_left_out() -> None:
    points = np.array([[0.0, 0], [4.9, 0], [5.1, 0], [9.9, 0], [0, 5], [50, 50]])
    # of those before them, kept or not
    assert _apart(points, 5.0) == [0, 5]
    assert _apart(points[[0, 2, 5]], 5.0) == [0, 1, 2]
    assert _apart(points[[0, 1, 5]], 5.0) == [0, 2]
    assert _apart(points[:0], 5.0) == []
    rng = np.random.default_rng(4)
    some = rng.uniform(0, 60, (150, 2))
    told = _apart(some, 6.0)
    away = np.hypot(*np.moveaxis(some[:, None] - some[None], -1, 0))
    # one stands where none before it is near
    kept = [k for k in range(150) if not (away[k, :k] <= 6.0).any()]
    assert told == kept


def test_edges_cover_a_segment_but_for_small_gaps() -> None:
    start, way = np.array([10.0, 10]), np.array([0.6, 0.8])

    def covering(*spans, off=0.0):
        side = off * np.array([-0.8, 0.6])
        tails = np.array([start + a * way + side for a, _ in spans])
        heads = np.array([start + b * way + side for _, b in spans])
        return _covering(
            start, way, 50.0, np.arange(len(spans)) + 7, tails, heads, UNIT
        )

    whole = covering((0, 20), (20, 50))
    assert whole.edges.tolist() == [7, 8]
    assert (whole.length, whole.round, whole.closed) == (50, False, False)
    assert whole.ends.tolist() == [[10, 10], [40, 50]]
    assert whole.centre.tolist() == [25, 30]
    # gaps of 0.06 of 50 mm in all, at ends or between
    for spans, told in (
        (((0, 20), (22.9, 50)), True),
        (((0, 20), (23.1, 50)), False),
        (((1.5, 20), (20, 48.6)), True),
        (((1.5, 20), (20, 48.4)), False),
        (((0, 51.1),), False),
    ):
        assert (covering(*spans) is not None) is told
    # twice the fit of a line aside, 1 mm
    assert covering((0, 50), off=0.9) is not None
    assert covering((0, 50), off=1.1) is None
    assert covering((60, 70)) is None


def test_lines_leave_a_point_on_both_sides_of_a_way() -> None:
    lines = [straight(0, 0, 100, 0), straight(0, 0, 0, 60)]
    leaving = _Leaving.of(lines)
    corner = np.zeros(2)
    half = np.array([1, 1]) / math.sqrt(2)
    assert leaving.on_both_sides(corner, half, UNIT)
    assert not leaving.on_both_sides(corner, -half, UNIT)
    assert not leaving.on_both_sides(corner, np.array([1.0, 0]), UNIT)
    assert not leaving.on_both_sides(np.array([50.0, 30]), half, UNIT)
    assert not _Leaving.of([]).on_both_sides(corner, half, UNIT)
    # feet of perpendiculars, on the lines or a unit beyond
    feet = leaving.feet(np.array([30.0, 20]), UNIT)
    assert feet.tolist() == [[30, 0], [0, 20]]
    assert leaving.feet(np.array([109.0, 71]), UNIT).tolist() == [[109, 0]]
    assert leaving.feet(np.array([111.0, 69]), UNIT).tolist() == [[0, 69]]
    # and before they begin
    assert leaving.feet(np.array([-9.0, -9]), UNIT).tolist() == [[-9, 0], [0, -9]]
    assert leaving.feet(np.array([-11.0, -9]), UNIT).tolist() == [[0, -9]]


def test_faces_hang_together_where_no_barrier_is() -> None:
    drawing = grid([0.0, 30, 60, 90], [0.0, 30])
    x = drawing.vertices[drawing.origin[0::2], 0]
    other = drawing.vertices[drawing.origin[1::2], 0]
    barrier = (x == 60) & (other == 60)
    part = face_parts(drawing, barrier)
    left, middle, right = drawing.faces_at(np.array([[15.0, 15], [45, 15], [75, 15]]))
    assert part[left] == part[middle] != part[right]
    assert part[0] not in (part[left], part[right])


def test_short_edges_between_ends_of_frames_are_theirs() -> None:
    # a frame line that is broken by an edge of 0.9 mm, and one of 1.5 mm
    for gap, told in ((0.9, 1), (1.9, 1), (2.1, 0)):
        drawing = grid(
            [0.0, 100],
            [0.0, 100],
            line(0, 50, 40, 50),
            line(40, 50, 40 + gap, 50),
            line(40 + gap, 50, 100, 50),
            line(40, 50, 40, 0),
            line(40 + gap, 50, 40 + gap, 100),
        )
        ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
        level = (np.abs(ends[:, :, 1] - 50) < 1e-9).all(axis=1)
        short = level & (np.ptp(ends[:, :, 0], axis=1) < 3)
        mask = level & ~short
        assert short.sum() == 1
        found = _tiny_between(drawing, mask, UNIT)
        assert found[short].sum() == told
        # where both ends of the frame go on otherwise, a tenth of a unit
        both = (
            mask
            | ((np.abs(ends[:, :, 0] - 40) < 1e-9).all(axis=1))
            | ((np.abs(ends[:, :, 0] - 40 - gap) < 1e-9).all(axis=1))
        )
        assert _tiny_between(drawing, both, UNIT)[short].sum() == (gap < 1)


def test_inner_lines_of_a_border_run_on_into_its_corners() -> None:
    # 20 mm within a frame of 200 by 200
    outer = [straight(0, 0, 200, 0), straight(0, 200, 200, 200)]
    inner = [straight(0, 20, 200, 20), straight(0, 180, 200, 180)]
    found = _between_corners([*outer, *inner], outer, UNIT)
    assert [r.ends.tolist() for r in found] == [
        [[20, 20], [180, 20]],
        [[20, 180], [180, 180]],
    ]
    # a third of their length away they are no border's
    far = [straight(0, 70, 200, 70)]
    assert _between_corners([*outer[:1], *far], outer[:1], UNIT) == []
    shorter = [straight(0, 20, 189, 20)]
    assert _between_corners([*outer, *shorter], outer, UNIT) == []
    assert _between_corners([*outer, *inner], [], UNIT) == []


def test_what_a_window_cuts_off_its_page_is_outside() -> None:
    rows = [line(20, 20, 80, 80), line(80, 20, 20, 80)]
    for window, told in (
        ([circle(50, 50, 50)], True),
        ([circle(30, 50, 20), circle(70, 50, 20)], False),
    ):
        inside = [line(50, 0, 50, 100), line(0, 50, 100, 50)] if told else rows
        drawing = build_arrangement(linework_from_curves([*window, *inside]))
        faces = np.arange(1, drawing.face_count, dtype=np.int32)
        found = ground_outside(drawing, faces)
        if told:
            assert len(found) == 4
            corner = drawing.faces_at(np.array([[2.0, 2], [98, 2], [2, 98], [98, 98]]))
            assert set(found.tolist()) == set(corner.tolist())
        else:
            assert len(found) == 0


def test_a_panel_within_a_border_is_framed() -> None:
    step = np.arange(20.0, 181, 10)
    lines = [line(x, 20, x, 180) for x in step[1:-1]]
    lines += [line(20, y, 180, y) for y in step[1:-1]]
    drawing = grid([0.0, 20, 180, 200], [0.0, 20, 180, 200], *lines, wide=200, high=200)
    framed = find_frame_edges(drawing)
    ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
    at = [
        ((np.abs(ends[:, :, k] - v) < 1e-9).all(axis=1))
        for k in (0, 1)
        for v in (20, 180)
    ]
    # both lines of the border, and none of the squares
    assert framed[np.any(at, axis=0)].all()
    inner = (ends.min(axis=(1, 2)) > 20) & (ends.max(axis=(1, 2)) < 180)
    assert not framed[inner].any()
    tiny = grid([0.0, 10], [0.0, 10])
    assert not find_frame_edges(tiny).any()


def test_a_ring_falls_into_four_sides_and_corners() -> None:
    step = [0.0, 10, 30, 50, 70, 80]
    drawing = grid(step, step)
    measures = measure_faces(drawing)
    inner = cells(drawing, 10, 10, 70, 70)
    round_it = np.setdiff1d(np.arange(1, 26), inner).astype(np.int32)
    pieces, sides = ring_pieces(drawing, measures, round_it)
    assert sides == 4
    assert sorted(len(p) for p in pieces) == [1, 1, 1, 1, 3, 3, 3, 3]
    assert sorted(np.concatenate(pieces).tolist()) == round_it.tolist()
    for piece in pieces:
        if len(piece) == 3:
            assert np.ptp(measures.centroid[piece], axis=0).min() < 1e-9
    parted = between(drawing, pieces)
    # each of eight pieces meets two others along one edge
    assert parted.sum() == 8
    # a full square and a ring about a hole of more corners are none
    assert ring_pieces(drawing, measures, np.arange(1, 26, dtype=np.int32)) == (
        [],
        0,
    )
    hole = np.setdiff1d(np.arange(1, 26), [*inner[:2], *inner[3:4]]).astype(np.int32)
    assert ring_pieces(drawing, measures, hole) == ([], 0)


def test_what_runs_round_some_corners_falls_into_its_sides() -> None:
    step = [0.0, 10, 30, 50, 70, 80]
    drawing = grid(step, step)
    measures = measure_faces(drawing)
    below = cells(drawing, 10, 0, 70, 10)
    left, right = cells(drawing, 0, 10, 10, 70), cells(drawing, 70, 10, 80, 70)
    corner, next_ = cells(drawing, 0, 0, 10, 10), cells(drawing, 70, 0, 80, 10)
    assert [len(c) for c in (below, left, right, corner, next_)] == [3, 3, 3, 1, 1]

    def pieces(*cells_of: np.ndarray) -> tuple[set[frozenset[int]], int]:
        own = np.concatenate(cells_of).astype(np.int32)
        found, sides = ring_pieces(drawing, measures, own)
        assert sum(map(len, found)) == (len(own) if found else 0)
        return {frozenset(p.tolist()) for p in found}, sides

    def those(*cells_of: np.ndarray) -> set[frozenset[int]]:
        return {frozenset(c.tolist()) for c in cells_of}

    # an L is parted, and a U; at an open end a corner square is of its side
    ell = those(below, left, corner)
    assert pieces(below, left, corner) == (ell, 2)
    at_end = np.concatenate([below, next_])
    assert pieces(at_end, left, corner) == (those(at_end, left, corner), 2)
    both = those(below, left, corner, next_, right)
    assert pieces(below, left, corner, next_, right) == (both, 3)
    # a side has no corner, and what bends one way and the other has no inside
    above = cells(drawing, 70, 70, 80, 80)
    assert pieces(below) == (set(), 0)
    beyond = cells(drawing, 10, 70, 50, 80)
    last = cells(drawing, 0, 70, 10, 80)
    assert pieces(below, next_, right, above)[1] == 2
    wide = cells(drawing, 30, 10, 50, 70)
    assert pieces(below, wide) == (set(), 0)
    assert pieces(left, corner, below, last, beyond)[1] == 3
    crooked = np.concatenate([cells(drawing, 50, 10, 70, 80), above])
    assert pieces(below, crooked) == (set(), 0)


def test_a_side_is_parted_at_its_middle() -> None:
    drawing = grid(np.arange(0.0, 71, 10), [0.0, 10])
    measures = measure_faces(drawing)
    one, middle, two = side_halves(measures, np.arange(1, 8, dtype=np.int32))
    x = measures.centroid[:, 0]
    assert sorted(
        [sorted(x[one].round().tolist()), sorted(x[two].round().tolist())]
    ) == [[5, 15, 25], [45, 55, 65]]
    assert x[middle] == pytest.approx([35])


def test_strips_are_long_and_narrow() -> None:
    drawing = grid([0.0, 100], [0.0, 7.2, 15])
    measures = measure_faces(drawing)
    faces = np.argsort(drawing.area[1:]).astype(np.int32) + 1
    # (2 * 107.2)² / 720 = 63.8 and (2 * 107.8)² / 780 = 59.6
    assert strips(drawing, measures, faces).tolist() == [True, False]


def test_parts_are_alike_by_the_faces_that_both_hold() -> None:
    kind = np.array([0, 0, 0, 1, 0, 0, 0, 2])
    one, other = np.arange(8) < 4, np.arange(8) >= 4
    free = np.zeros(8, bool)
    # six tenths of the area
    for odd, told in ((2.0, True), (2.1, False)):
        area = np.array([1.0, 1, 1, odd, 1, 1, 1, 1])
        assert _alike(kind, area, free, one, other) is told
    # what a frame touches says nothing, where enough is left
    area = np.ones(8)
    area[3] = 9
    touching = np.arange(8) == 3
    assert _alike(kind, area, touching, one, other)
    touching = np.array([False, False, True, True] * 2)
    assert not _alike(kind, area, touching, one, other)
    assert not _alike(kind, area, free, one, np.zeros(8, bool))


def test_faces_return_by_like_steps_in_both_parts() -> None:
    kind = np.zeros(6, int)
    one, other = np.arange(6) < 3, np.arange(6) >= 3
    level = [(10.0 * k, 0) for k in range(3)]
    for step, told in (
        ((10.0, 0), True),
        ((10.9, 0), True),
        ((11.1, 0), False),
        ((0, 10), False),
    ):
        middle = np.array([*level, *(np.array(step) * k + [70, 70] for k in range(3))])
        assert returns_in_both(kind, middle, one, other) is told
    # one of a kind in a part tells nothing
    few = np.arange(6) == 3
    assert returns_in_both(kind, middle, one, few)
    steps = _next_steps(kind, np.array(level + level), one, np.array([0]))
    assert {tuple(s) for s in steps.tolist()} == {(10, 0), (-10, 0)}


def test_lines_with_all_on_one_side_bound_it() -> None:
    points = np.array([[10.0, 10], [30, 10], [20, 30]])
    ends = np.array([[0.0, 5, 40, 5], [0, 20, 40, 20], [0, 5, 0, 40], [40, 5, 90, 5]])
    told = _bounding(points, ends, np.array([0, 1, 2, 0]), np.array([0, 1, 2, 3]))
    assert told.tolist() == [True, False, True, True]


def test_neighbours_too_small_for_a_symmetry_are_one_part() -> None:
    drawing = grid(np.arange(0.0, 71, 10), [0.0, 10])
    measures = measure_faces(drawing)
    x = measures.centroid[1:, 0]
    faces = np.arange(1, 8, dtype=np.int32)[np.argsort(x)]
    label = np.array([0, 0, 1, 2, 3, 3, 3])
    told = _join_small(drawing, measures, faces, label)
    # two, one and one side by side; three are a part of their own
    assert told[0] == told[1] == told[2] == told[3]
    assert told[4] == told[5] == told[6] != told[0]
    assert set(told.tolist()) == {0, 1}


def test_lines_through_a_strip_run_along_or_across_it() -> None:
    drawing = grid([0.0, 20, 60, 100, 120], [0.0, 10, 20])
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
    level = (np.abs(ends[:, :, 1] - 10) < 1e-9).all(axis=1)
    assert _lines_through(drawing, faces).tolist() == level.tolist()
    # those that cut squares off its ends
    upright = np.any(
        [(np.abs(ends[:, :, 0] - x) < 1e-9).all(axis=1) for x in (20, 100)], axis=0
    )
    assert _lines_through(drawing, faces, across=True).tolist() == upright.tolist()
    # a tenth off the square
    for x, told in ((21.9, True), (22.1, False)):
        other = grid([0.0, x, 120], [0.0, 20])
        every = np.arange(1, other.face_count, dtype=np.int32)
        assert _lines_through(other, every, across=True).any() == told
    square = grid([0.0, 20, 40], [0.0, 20, 40])
    four, measures = np.arange(1, 5, dtype=np.int32), measure_faces(square)
    for parted in (bands_of, ends_of):
        parts, lines = parted(square, measures, four, NOTHING)
        assert parts == []
        assert not lines.any()
