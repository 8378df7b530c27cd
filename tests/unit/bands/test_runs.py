"""Runs of boundaries, caps and rails between them: small faces by construction."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.onward import _free_caps, _fringe, _sides
from fillwork.bands.pieces import (
    _able,
    _arms_alone,
    _caps_of,
    _cut_bends,
    _likely_caps,
    _mean_width,
    _sizes,
    _wide,
    _width_at_frames,
    read_faces,
)
from fillwork.bands.runs import (
    _angle,
    _before,
    after,
    find_runs,
    is_ring,
    outside,
    rails_of,
    ring_sizes,
    tangents,
    unit_vectors,
)
from fillwork.bands.sides import find_sides, join_crumbs, share_a_side
from tests.unit.bands.test_links import readings
from tests.unit.helpers import arc, circle, line, linework_from_curves, polyline


def drawn(*rows, wide=200.0, **choices):
    work = linework_from_curves(list(rows), wide, 200)
    return build_arrangement(work, close_gaps=0.0, **choices)


def path(*points, closed=False):
    return [line(*row) for row in polyline(points, closed).tolist()]


def box(x, y, wide, high):
    return path((x, y), (x + wide, y), (x + wide, y + high), (x, y + high), closed=True)


def face_at(arrangement, x, y):
    return int(arrangement.faces_at(np.array([[x, y]], float))[0])


def runs_at(arrangement, x, y):
    """Return the runs of the face at a place, each with its ends."""
    runs, face = find_runs(arrangement), face_at(arrangement, x, y)
    rows = np.arange(*runs.face_start[face : face + 2])
    assert (runs.face[rows] == face).all()
    return runs, rows


def test_vectors_become_unit_vectors_and_none_stays_none() -> None:
    found = unit_vectors(np.array([[[3.0, 4.0], [0, 0]], [[0, -2], [1e-9, 0]]]))
    assert found.tolist() == [[[0.6, 0.8], [0, 0]], [[0, -1], [1, 0]]]


def test_directions_turn_by_their_angle_left_positive() -> None:
    a = np.array([[1.0, 0], [1, 0], [0, 1], [1, 0]])
    b = np.array([[0.0, 1], [0, -1], [0, 1], [-1, 0]])
    assert np.degrees(_angle(a, b)) == pytest.approx([90, -90, 0, 180])


def test_the_row_before_goes_round_each_ring() -> None:
    # rings of 3, 0 and 2 rows
    owner = np.array([0, 0, 0, 2, 2])
    assert _before(np.array([0, 3, 3, 5]), owner).tolist() == [2, 0, 1, 4, 3]


def fake_runs(sizes, counts):
    """Return runs of so many half-edges, in faces of so many of them."""
    start = np.r_[0, np.cumsum(sizes)]
    return SimpleNamespace(
        face=np.repeat(np.arange(len(counts)), counts), start=start,
        half=100 + np.arange(start[-1]), face_start=np.r_[0, np.cumsum(counts)],
    )  # fmt: skip


def test_steps_go_round_faces() -> None:
    runs = fake_runs([1] * 7, [3, 4])
    every = np.arange(7)
    assert after(runs, every).tolist() == [1, 2, 0, 4, 5, 6, 3]
    assert after(runs, every, -1).tolist() == [2, 0, 1, 6, 3, 4, 5]
    assert after(runs, np.array([[4]]), 6).tolist() == [[6]]


def test_rails_are_what_lies_between_caps_in_order() -> None:
    # face 1 has runs 2 to 5 of 2, 1, 3 and 1 half-edges: 102 to 108
    runs = fake_runs([1, 1, 2, 1, 3, 1], [2, 4])
    for caps, rails in (
        ([[2, 2], [4, 4]], ([104], [108])),
        ([[3, 3], [5, 5]], ([105, 106, 107], [102, 103])),
        ([[5, 2], [4, 4]], ([104], [])),
        ([[4, 4], [2, 2]], ([108], [104])),
    ):
        rail, half = rails_of(runs, np.array([caps]))
        assert half[rail == 0].tolist() == rails[0]
        assert half[rail == 1].tolist() == rails[1]
    rail, half = rails_of(runs, np.array([[[2, 2], [4, 4]], [[3, 3], [5, 5]]]))
    assert rail.tolist() == [0, 1, 2, 2, 2, 3, 3]
    assert half.tolist() == [104, 108, 105, 106, 107, 102, 103]
    sizes = _sizes(runs, np.array([[[5, 2], [4, 4]], [[3, 5], [2, 2]]]))
    assert sizes.tolist() == [[2, 1], [3, 1]]


def test_a_face_has_corners_where_lines_come_in_and_turn() -> None:
    # a rectangle in a grid; a line joins its lower side from below, and its upper side
    # turns by 30 degrees with none
    rows = [line(0, 50, 200, 50), line(40, 0, 40, 200), line(100, 0, 100, 200)]
    rows += [line(70, 20, 70, 50)]
    rise = 30 * math.tan(math.radians(15))
    rows += path((40, 80), (70, 80 + rise), (100, 80))
    rows += [line(0, 80, 40, 80), line(100, 80, 200, 80)]
    runs, at = runs_at(drawn(*rows), 70, 60)
    # what comes in from outside makes no corner where nothing turns
    assert sorted(runs.length[at].tolist()) == pytest.approx(
        sorted([60, 30, 30, 2 * math.hypot(30, rise)])
    )
    upper = at[np.argmax(runs.length[at])]
    assert math.degrees(runs.bend[upper]) == pytest.approx(30)
    assert [math.degrees(runs.bend[k]) for k in at if k != upper] == pytest.approx(
        [0, 0, 0], abs=1e-9
    )
    # counter-clockwise, one after another
    assert runs.first[np.roll(at, -1)] == pytest.approx(runs.last[at])
    assert runs.leaving[upper] == pytest.approx(
        np.array([-math.cos(math.radians(15)), math.sin(math.radians(15))])
    )
    assert runs.arriving[upper] == pytest.approx(
        np.array([-math.cos(math.radians(15)), -math.sin(math.radians(15))])
    )
    # twice the area of a polygon is the sum of what its sides sweep
    assert runs.sweep[at].sum() == pytest.approx(60 * 30 + 30 * rise)
    assert not runs.outer[at].any()


@pytest.mark.parametrize(("degrees", "corner"), [(7.5, False), (8.5, True)])
def test_a_corner_turns_by_more_than_eight_degrees(degrees, corner) -> None:
    # the lower side of a four-sided face turns where a line ends at it from below
    drop = 30 * math.tan(math.radians(degrees))
    rows = [line(40, 0, 40, 200), line(100, 0, 100, 200), line(0, 100, 200, 100)]
    rows += path((0, 50), (70, 50), (100, 50 + drop), (200, 50 + drop))
    rows += [line(70, 0, 70, 50)]
    _, at = runs_at(drawn(*rows), 70, 80)
    assert len(at) == 4 + corner


@pytest.mark.parametrize(("degrees", "corners"), [(58.0, 3), (62.0, 4)])
def test_a_free_end_turns_by_more_than_sixty_degrees(degrees, corners) -> None:
    # two rails from a line that end freely, in a tip of two sides
    turn = math.radians(degrees)
    x, y = 100 + 12 * math.cos(turn), 12 * math.sin(turn)
    rows = [*path((40, 100), (100, 100), (x, 100 + y), (100, 100 + 2 * y))]
    rows += path((100, 100 + 2 * y), (40, 100 + 2 * y))
    rows += [line(40, 50, 40, 180)]
    _, at = runs_at(drawn(*rows, *box(20, 20, 150, 160)), 70, 105)
    # both ends at the line, and both sides of the tip, or the tip: 180 - 2 * 58 is 64
    assert len(at) == corners


def test_crumbs_are_no_sides_and_what_meets_there_meets_the_next() -> None:
    # a rectangle 60 by 30 whose corner is cut off; it is 20 mm broad
    for cut, corners in ((0.8, 4), (0.9, 5)):
        # 6 of 100 are 1.2 mm; the cut is 1.13 and 1.27 mm long
        x, y = 100 - cut, 80 - cut
        rows = [line(40, 0, 40, 200), line(100, 0, 100, y), line(0, 50, 200, 50)]
        rows += [line(0, 80, x, 80), line(x, 80, 100, y), line(x, 80, x, 200)]
        rows += [line(100, y, 200, y)]
        runs, at = runs_at(drawn(*rows), 70, 60)
        assert len(at) == corners
        sides = [30 - cut, 30, 60 - cut, 60]
        found = sorted(runs.length[at].tolist())[-4:]
        assert found == pytest.approx(sides)


def test_frames_and_the_page_are_outer() -> None:
    rows = [*box(20, 20, 160, 160), line(20, 100, 180, 100), line(100, 20, 100, 180)]
    for width, choices in ((200.0, {}), (200.0, {"page_edge": "open"})):
        runs, at = runs_at(drawn(*rows, wide=width, **choices), 50, 50)
        told = {
            tuple(sorted(map(tuple, [runs.first[k].tolist(), runs.last[k].tolist()]))):
            bool(runs.outer[k])
            for k in at
        }  # fmt: skip
        assert told == {
            ((20, 20), (100, 20)): True, ((20, 20), (20, 100)): True,
            ((100, 20), (100, 100)): False, ((20, 100), (100, 100)): False,
        }  # fmt: skip
    # the page's own edge
    runs, at = runs_at(drawn(line(0, 100, 200, 100), line(100, 0, 100, 200)), 50, 50)
    assert sorted(runs.outer[at].tolist()) == [False, False, True, True]


def test_rings_have_the_mean_width_and_length_of_their_sides() -> None:
    rows = [*box(20, 20, 60, 60), *box(25, 25, 50, 50)]
    rows += [*box(100, 20, 60, 60), *box(110, 25, 45, 50)]
    arrangement = drawn(*rows)
    face, width, length = ring_sizes(arrangement)
    one, other = face_at(arrangement, 22, 50), face_at(arrangement, 105, 50)
    at = {int(f): k for k, f in enumerate(face)}
    assert length[at[one]] == pytest.approx((240 + 200) / 2)
    assert width[at[one]] == pytest.approx((3600 - 2500) / 220)
    assert length[at[other]] == pytest.approx((240 + 190) / 2)
    # one width all round, nearer by 8 of 100 at most
    told = is_ring(arrangement)
    assert told[one]
    assert not told[other]
    assert told.sum() == 1


def test_half_edges_leave_and_arrive_along_their_lines() -> None:
    rows = [*box(20, 20, 60, 60), arc(50, 20, 30, 0, math.pi)]
    arrangement = drawn(*rows)
    half = np.arange(2 * arrangement.edge_count)
    first, last = tangents(arrangement, half)
    p, q = (arrangement.vertices[arrangement.origin[h]] for h in (half, half ^ 1))
    # the other half goes the other way
    assert first[0::2] == pytest.approx(-last[1::2])
    for k in half.tolist():
        round_ = abs(np.hypot(*(p[k] - [50, 20])) - 30) < 1e-6
        round_ &= abs(np.hypot(*(q[k] - [50, 20])) - 30) < 1e-6
        middle = (p[k] + q[k]) / 2
        chord = (q[k] - p[k]) / np.hypot(*(q[k] - p[k]))
        if not round_ or middle[1] <= 20 + 1e-9:
            assert first[k] == pytest.approx(chord, abs=1e-9)
            assert last[k] == pytest.approx(chord, abs=1e-9)


def test_the_outside_is_what_no_frame_holds() -> None:
    rows = [*box(20, 20, 160, 160), line(20, 100, 180, 100)]
    arrangement = drawn(*rows)
    out = outside(arrangement)
    assert out[0]
    assert out[face_at(arrangement, 5, 5)]
    assert not out[face_at(arrangement, 50, 50)]
    # ground with a figure in it, and a ring round that, are as a frame round a drawing
    inner = drawn(*rows, circle(60, 60, 20), circle(60, 60, 16))
    out = outside(inner)
    for x, y, told in (
        (25, 25, True),
        (60, 78, True),
        (60, 60, False),
        (50, 150, False),
    ):
        assert out[face_at(inner, x, y)] == told


def test_caps_are_single_runs_or_two_and_three_at_a_frame() -> None:
    assert _caps_of(3, 0).tolist() == [[0, 0], [1, 1], [2, 2]]
    assert _caps_of(4, 0b0101).tolist() == [
        [0, 0], [1, 1], [2, 2], [3, 3],
        [3, 0], [0, 1], [3, 1], [1, 2], [2, 3], [1, 3],
    ]  # fmt: skip


def test_caps_leave_rails_on_both_sides() -> None:
    # a rectangle has two pairs of opposite sides, a pentagon none that are abreast
    rows = [line(0, 50, 200, 50), line(0, 56, 200, 56)]
    rows += [line(x, 0, x, 200) for x in (40, 60)]
    arrangement = drawn(*rows, *box(0, 0, 200, 200))
    runs, at = runs_at(arrangement, 50, 53)
    caps = _likely_caps(arrangement, runs)
    own = caps[np.isin(caps[:, 0, 0], at)] - at[0]
    assert sorted(own.tolist()) == [[[0, 0], [2, 2]], [[1, 1], [3, 3]]]
    width, both = _mean_width(arrangement, runs, own + at[0])
    assert sorted(zip(width.tolist(), both.tolist(), strict=True)) == [
        (6, 40), (20, 12)
    ]  # fmt: skip


@pytest.mark.parametrize(("degrees", "read"), [(19.0, True), (21.0, False)])
def test_rails_leave_a_cap_at_twenty_degrees_to_each_other(degrees, read) -> None:
    # a wedge whose upper side rises, between two upright lines
    rise = math.tan(math.radians(degrees))
    rows = [line(0, 100, 200, 100), line(0, 110, 100, 110)]
    rows += [line(100, 110, 103, 110 + 3 * rise)]
    rows += [line(100, 0, 100, 200), line(103, 0, 103, 200)]
    arrangement = drawn(*rows, *box(0, 0, 200, 200))
    runs, at = runs_at(arrangement, 101.5, 105)
    assert len(at) == 4
    caps = at[[[[0, 0], [2, 2]], [[1, 1], [3, 3]]]]
    upright = np.abs(runs.leaving[caps[:, 0, 0], 0]) < 1e-9
    assert _able(arrangement, runs, caps)[upright].tolist() == [read]


def test_rails_come_no_nearer_than_their_width() -> None:
    rows = [line(0, 100, 200, 100), line(0, 106, 200, 106)]
    rows += [line(100, 0, 100, 200), line(130, 0, 130, 200)]
    arrangement = drawn(*rows, *box(0, 0, 200, 200))
    runs, at = runs_at(arrangement, 115, 103)
    caps = at[[[[0, 0], [2, 2]], [[1, 1], [3, 3]]]]
    upright = np.abs(runs.leaving[caps[:, 0, 0], 0]) < 1e-9
    caps = np.repeat(caps[upright], 2, axis=0)
    told = _wide(arrangement, runs, caps, np.array([6.5, 6.55]), np.zeros(2, bool))
    # 0.92 of 6.5 is 5.98
    assert told.tolist() == [True, False]
    assert _wide(arrangement, runs, caps[:0], np.empty(0), np.empty(0)).shape == (0,)


def cap_runs(outer, chords):
    """Return runs of one face of four, cap 0 and cap 2 of so long chords, upright."""
    first = np.array([[0.0, 0], [0, 0], [9, 0], [9, 0]])
    last = first.copy()
    last[0, 1], last[2, 1] = chords
    return SimpleNamespace(
        face=np.zeros(4, np.int64), face_start=np.array([0, 4]), first=first, last=last,
        outer=np.array(outer),
    )  # fmt: skip


@pytest.mark.parametrize(("outer", "chords", "mean", "bent", "width", "fits"), [
    # without a frame as wide as in the mean, at a frame as the end that is whole
    ([0, 0, 0, 0], (5.0, 6.0), 5.4, False, 5.4, True),
    ([1, 0, 0, 0], (5.0, 6.0), 5.4, False, 6.0, True),
    ([0, 0, 1, 0], (5.0, 6.0), 5.4, False, 5.0, True),
    ([1, 0, 1, 0], (5.0, 6.0), 5.4, False, 5.4, True),
    # a frame changes the mean by three tenths at most
    ([1, 0, 0, 0], (5.0, 6.0), 4.3, False, 6.0, True),
    ([1, 0, 0, 0], (5.0, 6.0), 4.1, False, 6.0, False),
    ([1, 0, 0, 0], (5.0, 6.0), 7.9, False, 6.0, False),
    # of a bend that is cut both ends are whole, and differ by 8 of 100 at most
    ([0, 0, 0, 0], (5.8, 6.2), 5.0, True, 6.0, True),
    ([0, 0, 0, 0], (5.7, 6.3), 5.0, True, 6.0, False),
])  # fmt: skip
def test_widths_at_frames_are_those_of_whole_ends(
    outer, chords, mean, bent, width, fits
) -> None:
    runs = cap_runs(np.array(outer, bool), chords)
    caps = np.array([[[0, 0], [2, 2]]])
    out = np.array([[[-1.0, 0], [1, 0]]])
    found, good = _width_at_frames(runs, caps, out, np.array([mean]), np.array([bent]))
    assert found.tolist() == [pytest.approx(width)]
    assert good.tolist() == [fits]


def test_a_bend_that_a_frame_cuts_lies_between_two_whole_ends() -> None:
    caps = np.array([[[0, 0], [3, 3]]])
    for outer, told in (
        ([], False),  # nothing is cut
        ([5], False),  # beside a cap
        ([1], False),
        ([0], False),  # a cap itself
        ([2, 5], False),
    ):
        runs = fake_runs([1] * 6, [6])
        runs.outer = np.isin(np.arange(6), outer)
        assert _cut_bends(runs, caps).tolist() == [told]
    # runs 0 and 4 are caps, of 1, 2 and 3 the middle one is cut
    runs = fake_runs([1] * 8, [8])
    runs.outer = np.isin(np.arange(8), [2])
    assert _cut_bends(runs, np.array([[[0, 0], [4, 4]]])).tolist() == [True]


def test_an_arm_of_a_bend_is_no_piece_of_its_own() -> None:
    # face 0 has a bend 6 mm wide; a reading at the frame as wide as that is an arm
    runs = fake_runs([1] * 8, [4, 4])
    runs.outer = np.isin(np.arange(8), [0, 4])
    caps = np.array([[[1, 1], [3, 3]], [[0, 0], [2, 2]], [[0, 0], [2, 2]], [[1, 1]] * 2,
                     [[4, 4], [6, 6]]])  # fmt: skip
    width = np.array([6.0, 6.4, 6.6, 6.0, 6.0])
    bent = np.array([True, False, False, False, False])
    told = _arms_alone(runs, caps, width, bent)
    assert told.tolist() == [False, True, False, False, False]


def test_what_bends_or_curves_is_told_with_its_curl() -> None:
    # a bend of 20 degrees in a band 6 mm wide, between two lines across
    a = math.radians(20)
    c, s = math.cos(a), math.sin(a)
    inner, outer = (100.0, 100.0), (100 + 6 * math.tan(a / 2), 94.0)
    rows = path((60, 100), inner, (100 + 40 * c, 100 + 40 * s))
    reach = 40 + 6 * math.tan(a / 2)
    rows += path((60, 94), outer, (outer[0] + reach * c, 94 + reach * s))
    rows += [line(60, 80, 60, 120)]
    far = (100 + 40 * c, 100 + 40 * s)
    rows += [line(far[0] - 20 * s, far[1] + 20 * c, far[0] + 20 * s, far[1] - 20 * c)]
    arrangement = drawn(*rows, *box(20, 20, 160, 160))
    runs = find_runs(arrangement)
    found = read_faces(arrangement, runs)
    rows_of = np.flatnonzero(found.face == face_at(arrangement, 80, 97))
    one = found.take(rows_of[np.argmin(np.abs(found.width[rows_of] - 6))][None])
    assert one.width == pytest.approx([6])
    short, long = 40 + 40, 40 + 40 + 2 * 6 * math.tan(a / 2)
    assert one.length == pytest.approx([(short + long) / 2])
    assert one.curved.tolist() == [True]
    # both rails turn by 20 degrees
    assert one.curl == pytest.approx([2 * a / (short + long)])


def test_edges_between_joined_points_are_crumbs_as_well() -> None:
    # a side 2 mm long, and a bend of 20 mm and more beside it from its one end to the
    # other; a second side where the lines come from, and one of 3 mm
    rows = [line(40, 50, 40, 100), line(40, 100, 40, 102), line(40, 102, 40, 150)]
    rows += [line(10, 100, 40, 100), line(10, 102, 40, 102)]
    rows += path((40, 100), (60, 101), (40, 102))
    rows += [line(20, 100, 20, 102), line(30, 147, 40, 147), *box(10, 50, 150, 100)]
    arrangement = drawn(*rows, page_edge="open")
    ends = arrangement.vertices[arrangement.origin].reshape(-1, 2, 2)
    long = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    crumbs, one = join_crumbs(arrangement, 2.4)
    assert (long < 2.1).sum() == 3
    assert crumbs.tolist() == (long < 2.1).tolist()
    for x, together in ((10, True), (20, True), (40, True), (60, False)):
        near = np.hypot(*(arrangement.vertices - [x, 101]).T) < 1.1
        assert near.sum() == 1 + together
        assert len(set(one[near].tolist())) == 1
    assert len(set(one.tolist())) == len(one) - 3
    assert not join_crumbs(arrangement, 1.9)[0].any()


def test_lines_end_where_no_other_goes_on() -> None:
    rows = [line(20, 100, 180, 100), line(60, 100, 60, 150), *box(20, 50, 160, 100)]
    arrangement = drawn(*rows)
    _, ends = find_sides(arrangement, 0.01)
    p, q = (
        arrangement.vertices[arrangement.origin[np.arange(len(ends)) ^ k]].round(6)
        for k in (0, 1)
    )
    told = {(*a, *b) for a, b, e in zip(p.tolist(), q.tolist(), ends, strict=True) if e}
    # the level line ends at both sides of the box, the upright one at both its ends
    assert told == {
        (60, 100, 20, 100), (60, 100, 180, 100), (60, 100, 60, 150), (60, 150, 60, 100)
    }  # fmt: skip


def test_readings_share_a_side_of_a_line() -> None:
    side = np.array([0, 1, 0, 1, 4, 5, 4, 7])
    # reading 0 has rails on sides 0 and 5, reading 1 on 0, reading 3 on 4 and 1
    rails = np.array([0, 0, 1, 3, 3]), np.array([0, 5, 2, 4, 1])
    a, b = np.array([0, 0, 1, 2, 3, 1]), np.array([1, 3, 3, 0, 0, 0])
    assert share_a_side(side, rails, a, b).tolist() == [
        True, False, False, False, False, True
    ]  # fmt: skip
    none = np.empty(0, np.int64)
    assert share_a_side(side, (none, none), a, b).tolist() == [False] * 6
    assert share_a_side(side, rails, none, none).tolist() == []


def test_ends_of_runs_are_free_where_no_piece_says_otherwise() -> None:
    # face 1 is a piece with a free cap 1 (run 2), face 2 a piece at a frame, face 3 is
    # none; runs 0 to 3, 4 to 5, 6
    found = readings([4.0, 4.0, 4.0], face=[1, 2, 3])
    found.caps[:] = [[[0, 0], [2, 2]], [[4, 4], [5, 5]], [[6, 6], [6, 6]]]
    runs = SimpleNamespace(face=np.array([1, 1, 1, 1, 2, 2, 3]))
    pieces = SimpleNamespace(
        runs=runs, readings=found, alive=np.array([True, True, False])
    )
    mated = np.array([True, False, False, True, False, False])
    framed = np.array([False, False, True, False])
    free = _free_caps(pieces, mated, framed)
    assert free.tolist() == [
        [False, False], [False, False], [True, True], [False, False],
        [True, True], [False, False], [True, True],
    ]  # fmt: skip


def test_the_fringe_is_the_frame_and_a_crumb_beside_it() -> None:
    # lines that end 0.2 and 0.4 mm before the frame's corner, joined to it
    rows = [*box(0, 0, 200, 200), line(0, 100, 200, 100), line(50, 0, 50, 200)]
    rows += [line(100, 0.2, 100, 100), line(100, 0.2, 130, 0), line(100, 0, 100, 0.2)]
    rows += [line(150, 0.4, 150, 100), line(150, 0.4, 180, 0), line(150, 0, 150, 0.4)]
    arrangement = drawn(*rows)
    runs = find_runs(arrangement)
    fringe = _fringe(runs, arrangement, 5.0)

    def told(x, y):
        at = np.hypot(*(arrangement.vertices - [x, y]).T)
        assert at.min() < 1e-6
        return bool(fringe[at.argmin()])

    # 6 of 100 of the width: 0.3 mm
    assert told(0, 100)
    assert told(50, 0)
    assert not told(50, 100)
    assert told(100, 0.2)
    assert not told(150, 0.4)


def test_faces_have_sides_from_point_to_point_along_bands() -> None:
    rows = [*box(20, 20, 60, 60), line(20, 50, 80, 50), line(50, 20, 50, 80)]
    arrangement = drawn(*rows)
    runs = find_runs(arrangement)
    face, beyond = face_at(arrangement, 35, 35), face_at(arrangement, 65, 35)

    def vertex(x, y):
        return int(np.argmin(np.hypot(*(arrangement.vertices - [x, y]).T)))

    of_band = np.isin(np.arange(arrangement.face_count), [beyond])
    # counter-clockwise the right side goes up, and a band lies beyond it alone
    asked = [
        ((50, 20), (50, 50), True), ((50, 50), (50, 20), False),
        ((50, 50), (20, 50), False), ((20, 20), (50, 20), False),
        ((50, 20), (20, 50), False),
    ]  # fmt: skip
    a, b = (np.array([vertex(*row[k]) for row in asked]) for k in (0, 1))
    faces = np.full(len(asked), face)
    told = _sides(runs, arrangement, of_band, faces, a, b)
    assert told.tolist() == [t for *_, t in asked]
    assert not _sides(runs, arrangement, of_band, faces + 0 * a + 999, a, b).any()
