"""On which side of a bound rows, runs, loops and parts of panels lie, one at a time."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.faces.places import Marks
from fillwork.symmetry.model import Lattice
from fillwork.symmetry.zones import find, frame_rows, frames, siblings
from fillwork.symmetry.zones.arcs import _tips, framing_arcs
from fillwork.symmetry.zones.held import may_hold, share_held
from fillwork.symmetry.zones.making import Part, in_order
from fillwork.symmetry.zones.middles import has_middle
from fillwork.symmetry.zones.mitres import _corners, _Leaving, corner_lines
from fillwork.symmetry.zones.parting import _alike
from fillwork.symmetry.zones.proof import EMPTY
from fillwork.symmetry.zones.repeats import share_shifted
from fillwork.symmetry.zones.rims import _sure_rosettes
from fillwork.symmetry.zones.runs import (
    _fit_run,
    extend_runs,
    find_runs,
    straight_links,
)
from tests.unit.helpers import arc, circle, line, linework_from_curves
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_frame_rules import straight
from tests.unit.symmetry.test_rows_of_frames import rows, told
from tests.unit.symmetry.test_zone_faces import about, along_x
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid, strip

UNIT = 10.0


def run_along(drawing, x0, y0, x1, y1):
    """Return a level or upright line, with the edges of a drawing on it."""
    ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
    low, high = np.array([x0, y0]) - 1e-6, np.array([x1, y1]) + 1e-6
    on = ((ends > low) & (ends < high)).all(axis=(1, 2))
    return replace(straight(x0, y0, x1, y1), edges=np.flatnonzero(on))


def test_three_rows_are_told_by_faces_alike_on_one_side_of_each_gap() -> None:
    gaps = [10, 10, 10, 47]
    first = rows(gaps, mirrored=[True, False, False, False, False])
    assert told(frame_rows._equal(first, 8.0)) == []
    second = rows(gaps, mirrored=[False, True, False, True, False])
    assert told(frame_rows._equal(second, 8.0)) == [[0, 1, 2, 3]]


def one_line(drawing, height: float):
    """Return the run on a level line, and its edges from left to right."""
    (own,) = [
        r
        for r in find_runs(drawing, straight_links(drawing), UNIT)
        if not r.round and np.allclose(r.ends[:, 1], height)
    ]
    middle = drawing.vertices[drawing.origin.reshape(-1, 2)[own.edges]].mean(axis=1)
    return own, own.edges[np.argsort(middle[:, 0])]


@pytest.mark.parametrize("piece", [slice(0, 2), slice(1, 3), slice(3, 5)])
def test_a_run_takes_up_all_of_its_line(piece: slice) -> None:
    drawing = grid([0.0, 20, 40, 60, 80, 100], [0.0, 50, 100])
    whole, edges = one_line(drawing, 50.0)
    known = replace(whole, edges=edges[piece], length=40.0)
    (found,) = extend_runs(drawing, [known], UNIT)
    assert sorted(found.edges) == sorted(edges)
    assert found.length == pytest.approx(100)
    # two pieces of it are one
    rest = replace(whole, edges=np.setdiff1d(edges, edges[piece]), length=60.0)
    assert len(extend_runs(drawing, [known, rest], UNIT)) == 1


def test_edges_of_a_run_count_by_their_length() -> None:
    # two long edges and a short one that is off their line by 0.3 mm
    x = np.array([0.0, 50, 51, 100])
    points = np.column_stack([x, [0.0, 0.3, 0.0, 0.1]])
    p, q = points[:-1], points[1:]
    step = np.hypot(*(q - p).T)
    run = _fit_run(p, q, step, np.arange(3), UNIT)
    # the way of most variance, each edge by its length at both of its ends
    _, ways = np.linalg.eigh(np.cov(np.vstack([p, q]).T, aweights=np.tile(step, 2)))
    assert abs(run.direction @ ways[:, 1]) == pytest.approx(1, abs=1e-12)
    assert run.length == pytest.approx(step.sum())


def test_a_gap_parts_a_line() -> None:
    # of one line 15 mm lack, and of another half a millimetre
    for gap, taken in ((15.0, 2), (0.5, 4)):
        uprights = [line(x, 0, x, 60) for x in (20, 40, 40 + gap, 60 + gap)]
        level = [line(0, 30, 40, 30), line(100, 30, 40 + gap, 30)]
        drawing = grid([0.0, 100], [0.0, 60], *uprights, *level)
        ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
        on = np.flatnonzero(np.abs(ends[:, :, 1] - 30).max(axis=1) < 1e-6)
        on = on[np.argsort(ends[on, :, 0].mean(axis=1))]
        known = replace(straight(0, 30, 20, 30), edges=on[:1])
        (found,) = extend_runs(drawing, [known], UNIT)
        assert len(found.edges) == (len(on) if taken == 4 else taken)


def test_a_loop_about_one_face_is_a_cell() -> None:
    corners = [(20, 20), (80, 20), (80, 80), (20, 80), (20, 20)]
    sides = [line(*a, *b) for a, b in pairwise(corners)]
    for more, one in (((), True), ((line(20, 50, 80, 50),), False)):
        drawing = grid([0.0, 100], [0.0, 100], *sides, *more)
        spans = [(20, 20, 80, 20), (80, 20, 80, 80), (20, 80, 80, 80), (20, 20, 20, 80)]
        loop = [run_along(drawing, *span) for span in spans]
        assert frames._is_face(drawing, loop) is one


def test_ground_that_no_hole_is_in_goes_round_nothing() -> None:
    # a ring in two halves about a disc
    drawing = grid(
        [0.0, 100],
        [0.0, 100],
        circle(50, 50, 30),
        circle(50, 50, 10),
        line(20, 50, 40, 50),
        line(60, 50, 80, 50),
    )
    disc = np.array([drawing.face_at(50, 50)], np.int32)
    halves = np.array([drawing.face_at(50, 70), drawing.face_at(50, 30)], np.int32)
    star, ring = Part(disc, about(6)), Part(halves, about(2))
    assert not has_middle(drawing, ring, [ring, star])


def test_a_field_may_hold_nothing_that_few_of_its_shifts_reach() -> None:
    step = np.arange(0.0, 81, 10)
    drawing = grid(step, step)
    faces = np.arange(1, 65, dtype=np.int32)
    rest = cells(drawing, 0, 0, 40, 80)
    # once 34 mm on a square lies 4 mm beside the next; twice that is beyond all
    basis = np.diag([34.0, 34.0])
    field = replace(symmetry("plane", "p1"), lattice=Lattice(basis, "square"))
    assert not may_hold(drawing, measure_faces(drawing), faces, rest, field)


@pytest.mark.parametrize("place", [(10, 0), (80, 0), (10, 90), (80, 90)])
@pytest.mark.parametrize("upright", [False, True])
def test_a_square_beside_a_corner_is_none(place, upright: bool) -> None:
    # ten millimetres off the side of a panel of a hundred
    lines = [0.0, 10, 20, 80, 90, 100]
    drawing = grid(lines, lines)
    x, y = place[::-1] if upright else place
    square = cells(drawing, x, y, x + 10, y + 10)
    rest = np.setdiff1d(np.arange(1, 26), square).astype(np.int32)
    parts = [Part(rest, symmetry("plane", "p4")), Part(square, NOTHING)]
    assert [p.role for p in in_order(drawing, parts)] == ["field", "border"]
    corner = cells(drawing, 90, 0, 100, 10)
    rest = np.setdiff1d(np.arange(1, 26), corner).astype(np.int32)
    parts = [Part(rest, symmetry("plane", "p4")), Part(corner, NOTHING)]
    assert [p.role for p in in_order(drawing, parts)] == ["field", "corner"]


def test_a_short_side_between_two_is_a_border() -> None:
    drawing = grid([0.0, 85, 100], [0.0, 15, 85, 100])
    parts = [
        Part(cells(drawing, 0, 15, 85, 85), symmetry("plane", "p4")),
        Part(cells(drawing, 0, 0, 100, 15), strip(3)),
        Part(cells(drawing, 0, 85, 100, 100), strip(3)),
        Part(cells(drawing, 85, 15, 100, 85), strip(3)),
    ]
    assert [p.role for p in in_order(drawing, parts)] == ["field", *["border"] * 3]


def test_squares_stand_at_a_corner_that_they_all_but_touch() -> None:
    # two in a hundred of the panel's diagonal are 2.8 mm
    lines = [0.0, 1, 11, 89, 99, 100]
    drawing = grid(lines, lines)
    for x, y in ((1, 1), (89, 1), (1, 89), (89, 89)):
        square = cells(drawing, x, y, x + 10, y + 10)
        rest = np.setdiff1d(np.arange(1, 26), square).astype(np.int32)
        parts = [Part(rest, symmetry("plane", "p4")), Part(square, NOTHING)]
        assert [p.role for p in in_order(drawing, parts)] == ["field", "corner"]


def framed(*mitres):
    """Return a square frame 15 mm wide, and the runs of its eight sides."""
    inner = [(15, 15), (85, 15), (85, 85), (15, 85), (15, 15)]
    sides = [line(*a, *b) for a, b in pairwise(inner)]
    drawing = grid([0.0, 100], [0.0, 100], *sides, *mitres)
    spans = [
        span
        for a, b in ((0, 100), (15, 85))
        for c in (a, b)
        for span in ((a, c, b, c), (c, a, c, b))
    ]
    return drawing, [run_along(drawing, *span) for span in spans]


def in_corners(drawing) -> list[int]:
    """Return the edges that lie aslant in the corner squares."""
    ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
    off = np.abs(np.diff(np.abs(ends - 50), axis=2)).max(axis=(1, 2))
    slanted = (np.ptp(ends, axis=1) > 1e-6).all(axis=1)
    return np.flatnonzero((off < 1e-6) & slanted).tolist()


MITRES = [
    line(0, 0, 15, 15),
    line(100, 0, 85, 15),
    line(100, 100, 85, 85),
    line(0, 100, 15, 85),
]


def test_mitres_run_from_corner_to_corner() -> None:
    drawing, sides = framed(*MITRES)
    found = corner_lines(drawing, sides, UNIT)
    assert sorted(e for r in found for e in r.edges) == in_corners(drawing)
    # and further than twelve units from it none looks
    assert corner_lines(drawing, sides, 1.7) == []


def test_four_crossed_mitres_are_a_frames_and_fewer_none() -> None:
    # a short line through each, from side to side of its corner
    across = [
        line(0, 10, 10, 0),
        line(100, 10, 90, 0),
        line(100, 90, 90, 100),
        line(0, 90, 10, 100),
    ]
    drawing, sides = framed(*MITRES, *across)
    found = corner_lines(drawing, sides, UNIT)
    assert sorted(e for r in found for e in r.edges) == in_corners(drawing)
    drawing, sides = framed(*MITRES[:3], *across[:3])
    assert corner_lines(drawing, sides, UNIT) == []


def test_points_where_a_line_ends_come_before_crossings() -> None:
    long = straight(0, 0, 100, 0)
    across = straight(30, -40, 30, 40)
    # one that ends on the middle of the other
    on_it = straight(60, 0, 60, 40)
    found = _corners([long, across, on_it], UNIT)
    assert found.tolist() == [[60, 0], [30, 0]]


def test_parts_are_held_by_sums_of_shifts_too() -> None:
    # cells of 10 by 20 mm: each of the shifts and their sum and difference hold
    drawing = grid(np.arange(0.0, 101, 10), np.arange(0.0, 101, 20))
    faces = np.arange(1, 51, dtype=np.int32)
    basis = np.array([[10.0, 20], [10, -20]])
    field = replace(symmetry("plane", "p1"), lattice=Lattice(basis, "oblique"))
    measures = measure_faces(drawing)
    assert share_held(drawing, measures, faces, field, faces) == 1


def test_lines_are_long_beside_the_smaller_faces_on_one_side() -> None:
    # three cells of 40 mm on both sides, and of 60 below: half of them count
    uprights = [line(x, 0, x, 100) for x in (30, 65)]
    for strip_, unit in ((30, (35 * 40) ** 0.5), (65, UNIT)):
        # a strip of a frame along 0.3 or 0.65 of it
        drawing = grid(
            [0.0, 100], [0.0, 60, 100], *uprights, line(0, 61.5, strip_, 61.5)
        )
        run = run_along(drawing, 0, 60, 100, 60)
        frames._look_beside(drawing, [run], UNIT)
        assert run.unit == pytest.approx(unit)


def test_sides_of_a_line_are_alike_by_faces_of_one_area_and_boundary() -> None:
    # six squares of 20 mm above it; below it the like, larger ones, as large ones of 40
    # by 10, or two squares and what is none; either side may be asked of the other
    for uprights, low, alike in (
        (range(0, 121, 20), 20, [1.0]),
        (range(0, 121, 24), 24, [0.0]),
        (range(0, 121, 40), 10, [0.0]),
        ((0, 20, 40, 120), 20, [1.0, 2 / 3]),
        ((0, 20, 40, 120), 21, [0.0]),
    ):
        upper = [line(x, 40, x, 60) for x in range(20, 120, 20)]
        lower = [line(x, 40 - low, x, 40) for x in uprights]
        box = [line(0, 60, 120, 60), line(0, 40, 0, 60), line(120, 40, 120, 60)]
        base = [line(0, 40 - low, 120, 40 - low), line(0, 40, 120, 40)]
        work = linework_from_curves([*upper, *lower, *box, *base], has_page=False)
        drawing = build_arrangement(work, close_gaps=0.0)
        run = run_along(drawing, 0, 40, 120, 40)
        frames._look_beside(drawing, [run], UNIT)
        assert run.alike in alike


def test_a_rosette_lies_beside_parts_alone() -> None:
    drawing = grid([0.0, 30, 60, 90], [0.0, 30])
    left, middle, right = (cells(drawing, x, 0, x + 30, 30) for x in (0, 30, 60))
    star = Part(left, symmetry("rosette", "D4"))
    far, near = Part(right, NOTHING), Part(middle, NOTHING)
    ((own, beside),) = _sure_rosettes(drawing, [star, far])
    assert own is star
    assert beside == []
    ((_, beside),) = _sure_rosettes(drawing, [star, near, far])
    assert beside == [near]


def test_parts_may_hold_one_face_of_each_kind() -> None:
    kind, area = np.array([0, 1, 2, 0, 1, 2]), np.ones(6)
    first = np.arange(6) < 3
    assert _alike(kind, area, np.zeros(6, bool), first, ~first)
    assert not _alike(np.arange(6), area, np.zeros(6, bool), first, ~first)


@pytest.mark.parametrize("wide_last", [True, False])
def test_what_a_shift_carries_onto_others_is_not_carried_on(wide_last: bool) -> None:
    # six squares of 10 mm, and beside one end of them a cell of 15
    places = [0.0, 10, 20, 30, 40, 50, 60, 75]
    drawing = grid(places if wide_last else [75 - x for x in places[::-1]], [0.0, 10])
    faces = np.arange(1, 8, dtype=np.int32)
    measures, rails = measure_faces(drawing), np.zeros(2)
    # six squares of seven cells have a like one; one of them has another cell beside it
    none, known = np.zeros((0, 2)), np.array([[0.0, 20]])
    assert share_shifted(drawing, measures, faces, none, 0.0, rails) == 6 / 7
    assert share_shifted(drawing, measures, faces, known, 0.0, rails) == 5 / 7


def test_corners_at_the_ends_of_both_lines_come_first() -> None:
    # by tenths of a unit: 2.5 and 1.2 mm from the ends of the level line
    level = straight(0, 0, 100, 0)
    far, near = straight(2.5, 0, 2.5, 50), straight(98.8, 0, 98.8, 50)
    for lines in ([level, far, near], [level, near, far]):
        assert _corners(lines, UNIT).round(6).tolist() == [[98.8, 0], [2.5, 0]]


@pytest.mark.parametrize(("rise", "both"), [(15, True), (9, False)])
def test_lines_leave_aside_by_a_tenth_of_their_way(rise: float, both: bool) -> None:
    lines = [straight(0, 0, 100, rise), straight(0, 0, 100, -rise)]
    point, way = np.zeros(2), np.array([1.0, 0])
    assert _Leaving.of(lines).on_both_sides(point, way, UNIT) is both
    assert not _Leaving.of(lines[:1]).on_both_sides(point, way, UNIT)


@pytest.mark.parametrize(("gap", "both"), [(4.8, True), (5.2, False)])
def test_lines_that_leave_a_point_begin_at_it(gap: float, both: bool) -> None:
    lines = [straight(gap, gap / 5, 100, 20), straight(gap, -gap / 5, 100, -20)]
    # half a unit off, 4.9 and 5.3 mm
    leaving = _Leaving.of(lines)
    assert leaving.on_both_sides(np.zeros(2), np.array([1.0, 0]), UNIT) is both


def test_ends_of_an_arc_are_found_wherever_it_is_open() -> None:
    # open by a right angle to the right, above, to the left and below
    for turn in np.pi / 2 * np.arange(4):
        own = arc(50, 50, 30, turn + np.pi / 4, turn + 7 * np.pi / 4)
        ends = 50 + 30 * np.exp(1j * (turn + np.pi / 4 * np.array([1, 7]))).view(float)
        cross = [line(10, 50, 90, 50), line(50, 10, 50, 90)]
        box = [(10, 10), (90, 10), (90, 90), (10, 90), (10, 10)]
        sides = [line(*a, *b) for a, b in pairwise(box)]
        drawing = grid([0.0, 100], [0.0, 100], own, line(*ends), *cross, *sides)
        runs = find_runs(drawing, straight_links(drawing), UNIT)
        (run,) = [r for r in extend_runs(drawing, runs, UNIT) if r.round]
        found = _tips(drawing, run)
        wanted = ends.reshape(2, 2)
        assert np.sort(found, axis=0) == pytest.approx(np.sort(wanted, axis=0))


def arches(count: int, radii):
    """Return arches on a level line, each cut in four, and the runs of both."""
    wide = 100.0 * count
    turns = np.exp(0.25j * np.pi * np.arange(1, 4))
    rows = [line(0, 0, wide, 0)]
    for x, radius in zip(100.0 * np.arange(count) + 50, radii, strict=True):
        cuts = [line(x, 0, x + 50 * z.real, 50 * z.imag) for z in turns]
        rows += [arc(x, 0, radius, 0.0, np.pi), *cuts]
    box = [line(0, 0, 0, 50), line(0, 50, wide, 50), line(wide, 50, wide, 0)]
    tops = [line(100.0 * k, 0, 100.0 * k, 50) for k in range(1, count)]
    work = linework_from_curves([*rows, *box, *tops], wide, 50.0, has_page=False)
    return build_arrangement(work, close_gaps=0.0)


@pytest.mark.parametrize(("count", "wide", "told"), [(5, 0, 5), (6, 0, 0), (6, 3, 6)])
def test_many_arches_of_one_size_are_a_patterns(count, wide, told) -> None:
    drawing = arches(count, 30 + wide * np.arange(count))
    runs = extend_runs(drawing, find_runs(drawing, straight_links(drawing), UNIT), UNIT)
    base = [r for r in runs if not r.round and np.abs(r.ends[:, 1]).max() < 1e-6]
    own = [r for r in runs if r.round]
    assert len(own) == count
    found = framing_arcs(drawing, [*own, *base], base, UNIT)
    assert len([r for r in found if r.round]) == told


def test_pieces_of_a_group_about_nothing_are_parts() -> None:
    drawing = grid([0.0, 30, 60, 90], [0.0, 30])
    left, right = cells(drawing, 0, 0, 30, 30), cells(drawing, 60, 0, 90, 30)
    empty = replace(NOTHING, reason=EMPTY)
    both = np.sort(np.concatenate([left, right]))
    pieces, alone = find._in_pieces(drawing, None, both, empty)
    assert sorted(p.tolist() for p in pieces) == [[f] for f in both]
    assert alone is None
    assert find._in_pieces(drawing, None, left, empty) == ([], None)


def test_friezes_of_one_strip_have_one_group_and_all_but_one_repeat() -> None:
    def step(size, short="p2"):
        return along_x(short, size, (0.0, 0.0))

    assert find._one_strip([step(10.0), step(12.4), step(11.0)])
    assert not find._one_strip([step(10.0), step(12.6), step(11.0)])
    assert not find._one_strip([step(10.0), step(10.0, "p1")])


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn", [0.0, 0.7, 2.9, -1.1])
def test_a_copy_is_carried_by_its_isometry(mirrored: bool, turn: float) -> None:
    rng = np.random.default_rng(5)
    xy = rng.uniform(0, 50, (6, 2))
    size, little = np.arange(10.0, 16), np.full(6, 0.1)
    own = Marks(xy, size, 4 * size, little, little, 4 * little)
    linear = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    linear = linear @ np.diag([1.0, -1.0 if mirrored else 1.0])
    there = replace(own, xy=xy @ linear.T + [70, -20])
    assert any(
        np.allclose(told, linear) and np.allclose(shift, [70, -20])
        for told, shift in siblings._isometries(own, there)
    )
    # of what is like none there is none
    other = replace(own, size=size + 20)
    assert siblings._isometries(own, other) == []


def test_middling_lines_that_close_on_several_faces_are_a_frames() -> None:
    corners = [(20, 20), (80, 20), (80, 80), (20, 80), (20, 20)]
    sides = [line(*a, *b) for a, b in pairwise(corners)]
    spans = [(20, 20, 80, 20), (80, 20, 80, 80), (20, 80, 80, 80), (20, 20, 20, 80)]
    for more, several in (((), False), ((line(20, 50, 80, 50),), True)):
        drawing = grid([0.0, 100], [0.0, 100], *sides, *more)
        loop = [run_along(drawing, *span) for span in spans]
        # 240 mm are fourteen units of 17 and some
        found = frames._closed_loops(drawing, loop, [], 17.1)
        assert {id(r) for r in found} == ({id(r) for r in loop} if several else set())
        assert frames._closed_loops(drawing, loop, [], 17.2) == []
        # with a line of the frame as one side the others alone are told
        found = frames._closed_loops(drawing, loop[1:], loop[:1], 17.1)
        assert len(found) == (3 if several else 0)
        assert frames._closed_loops(drawing, loop[1:], [], 17.1) == []
