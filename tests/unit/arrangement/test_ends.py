"""Gaps, overshoots, open work, doubled lines, single repairs, the page's edge."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from scipy.spatial import Delaunay

from fillwork.arrangement import build_arrangement, closings, ends
from fillwork.arrangement.edges import Edges
from fillwork.errors import LineWorkError
from fillwork.geometry.curves import Curves
from fillwork.readers import read_linework
from fillwork.tolerance import Tolerance
from tests.unit.helpers import (
    arc,
    circle,
    cubic,
    line,
    linework_from_curves,
    linework_from_segments,
    polyline,
)


def lattice():
    """Return nine by nine lines, 10 mm apart, from 10 to 90 mm."""
    rows = [[10, 10 * k, 90, 10 * k] for k in range(1, 10)]
    rows += [[10 * k, 10, 10 * k, 90] for k in range(1, 10)]
    return [list(map(float, r)) for r in rows]


def types(arrangement):
    return sorted(d.type for d in arrangement.defects)


def defect(arrangement, kind):
    found = [d for d in arrangement.defects if d.type == kind]
    assert len(found) == 1, arrangement.defects
    return found[0]


def build(rows, **options):
    return build_arrangement(linework_from_segments(rows), **options)


@pytest.mark.parametrize("gap", [0.2, 0.3, 0.45, 0.6])
@pytest.mark.parametrize("row", [0, 4])
def test_a_line_that_stops_short_is_closed_and_listed(gap, row):
    rows = lattice()
    rows[row][2] -= gap
    found = build(rows)
    assert found.face_count - 1 == 64
    fault = defect(found, "gap")
    assert fault.done == "closed"
    assert np.isclose(fault.size, gap, rtol=1e-6)
    assert np.allclose(fault.at, (90 - gap, rows[row][1]))
    assert row in fault.strokes


@pytest.mark.parametrize("extra", [0.2, 0.4, 0.6])
def test_a_line_that_runs_too_far_is_trimmed_and_listed(extra):
    rows = lattice()
    rows[4][2] += extra
    rows[12][1] -= extra
    found = build(rows)
    assert found.face_count - 1 == 64
    assert types(found) == ["overshoot", "overshoot"]
    for fault in found.defects:
        assert fault.done == "trimmed"
        assert np.isclose(fault.size, extra, rtol=1e-6)
    assert len(found.loose) == 0


def test_a_corner_that_does_not_meet_is_closed():
    rows = [[10, 10, 50, 10], [50.3, 10.3, 50, 50], [50, 50, 10, 50], [10, 50, 10, 10]]
    found = build(rows)
    assert found.face_count - 1 == 1
    assert defect(found, "gap").strokes == (0, 1)


def test_a_curve_that_stops_short_of_an_arc_is_closed():
    rows = [circle(50, 50, 40), cubic(50, 50, 60, 70, 70, 60, 89.6, 50)]
    rows += [line(50, 50, 50, 90)]
    found = build_arrangement(linework_from_curves(rows))
    assert found.face_count - 1 == 2
    assert np.isclose(found.area[1:].sum(), np.pi * 1600)
    assert defect(found, "gap").size < 0.5


def test_curling_stems_are_left_open():
    turn = np.linspace(0, 3 * np.pi, 60)
    radius = 3 + 1.5 * turn
    stem = np.stack([50 + radius * np.cos(turn), 50 + radius * np.sin(turn)], axis=1)
    frame = [[0, 0], [100, 0], [100, 100], [0, 100]]
    rows = np.vstack([polyline(frame, closed=True), polyline(stem)])
    found = build(rows)
    assert found.face_count - 1 == 1
    assert types(found) == ["loose end", "loose end"]
    assert {d.done for d in found.defects} == {"left"}


def test_an_end_beside_a_line_is_left_alone():
    rows = [*lattice(), [12.0, 15.0, 17.0, 10.5]]
    rows.append([32.0, 35.0, 38.0, 30.4])
    rows[-1] = [32.0, 30.4, 38.0, 30.4]
    found = build(rows[:-2] + rows[-1:])
    assert found.face_count - 1 == 64
    assert types(found) == ["loose end", "loose end"]


def test_close_gaps_given_by_the_user_is_kept():
    rows = lattice()
    rows[4][2] -= 0.4
    assert build(rows, close_gaps=0.3).face_count - 1 == 63
    found = build(rows, close_gaps=0.5)
    assert found.face_count - 1 == 64
    assert found.tolerance.close_gaps == 0.5
    assert "as asked" in found.tolerance.why


def test_a_tolerance_given_whole_is_used_as_it_is():
    given = Tolerance(0.01, 0.5, 0.02, sliver=0.0, why="by hand")
    found = build_arrangement(linework_from_segments(lattice()), given)
    assert found.tolerance == given
    changed = build_arrangement(
        linework_from_segments(lattice()), given, close_gaps=0.7
    )
    assert changed.tolerance.close_gaps == 0.7


def test_noise_of_all_ends_is_joined_without_listing():
    rng = np.random.default_rng(3)
    step = []
    for i in range(12):
        for j in range(12):
            step += [[i, j, i + 1, j], [i, j, i, j + 1]]
    rows = 10.0 * np.array(step) + 5
    rows += rng.uniform(-0.01, 0.01, rows.shape)
    found = build_arrangement(linework_from_segments(rows, has_page=False))
    # the open sides right and above leave eleven by eleven squares
    assert found.face_count - 1 == 121
    assert set(types(found)) == {"loose end"}
    assert 0.02 < found.tolerance.join_within < 0.2
    assert "miss each other" in found.tolerance.why


@pytest.mark.parametrize("seed", range(3))
def test_sides_set_by_eye_one_by_one_meet_where_they_were_meant_to(seed):
    # five by five eight-point stars tip to tip, 20 mm apart; every side is a line
    # of its own, both its ends off by 0.1 mm (one sigma), its length 4.4 mm
    rng = np.random.default_rng(seed)
    turn = np.arange(16) * np.pi / 8
    r = np.where(np.arange(16) % 2, 10 * np.cos(np.pi / 4) / np.cos(np.pi / 8), 10)
    star = np.stack([r * np.cos(turn), r * np.sin(turn)], axis=1)
    star = np.hstack([star, np.roll(star, -1, axis=0)])
    at = np.stack(np.meshgrid(np.arange(5), np.arange(5)), axis=-1).reshape(-1, 1, 2)
    rows = (star + np.tile(20.0 * at + 15, 2)).reshape(-1, 4)
    rows += rng.normal(0, 0.1, rows.shape)
    found = build_arrangement(linework_from_segments(rows, has_page=False))
    # between the stars four by four crosses
    assert found.face_count - 1 == 25 + 16


@pytest.mark.parametrize("offset", [0.05, 0.15, 0.3])
def test_a_line_drawn_twice_side_by_side_is_one(offset):
    rows = [*lattice(), [10, 30 + offset, 90, 30 + offset]]
    found = build(rows)
    assert found.face_count - 1 == 64
    fault = defect(found, "sliver")
    assert fault.done == "merged"
    assert np.isclose(fault.size, offset, rtol=1e-6)
    assert fault.strokes == (2, 18)
    both = [
        set(found.source_curve[a:b].tolist())
        for a, b in zip(found.source_start[:-1], found.source_start[1:], strict=True)
    ]
    assert sum({2, 18} <= s for s in both) == 8


def test_two_circles_that_nearly_coincide_are_one():
    rows = [circle(50, 50, 30), circle(50.1, 50, 30.05)]
    rows += [line(20, 50, 80, 50), line(50, 20, 50, 80)]
    found = build_arrangement(linework_from_curves(rows))
    assert found.face_count - 1 == 4
    # told as a sliver, or as lines drawn twice
    assert types(found) == ["sliver"] or [n.type for n in found.notes] == [
        "doubled lines"
    ]


def test_a_narrow_band_of_visible_width_stays():
    rows = [*lattice(), [10, 30.8, 90, 30.8]]
    assert build(rows).face_count - 1 == 72


def test_exact_copies_are_listed_as_doubled():
    rows = [*lattice(), [10, 20, 50, 20]]
    fault = defect(build(rows), "doubled")
    assert fault.strokes == (1, 18)
    assert np.isclose(fault.size, 40.0)


def test_close_and_drop_by_a_point():
    rows = [[10, 10, 90, 10], [90, 10, 90, 90], [90, 90, 10, 90], [10, 90, 10, 15]]
    assert build(rows, close_gaps=0.1).face_count == 1
    found = build(rows, close_gaps=0.1, close=((10, 14),))
    assert found.face_count - 1 == 1
    assert defect(found, "gap").size == 5.0
    grid = lattice()
    dropped = build([*grid, grid[4]], drop=((33, 50.5),))
    assert dropped.face_count - 1 == 56
    curved = [circle(50, 50, 30), circle(50, 50, 30, 1.0), circle(50, 50, 10)]
    dropped = build_arrangement(linework_from_curves(curved), drop=((50, 80.2),))
    assert dropped.face_count - 1 == 1
    # a line that runs on by 20 mm is cut at its last crossing and still parts regions
    run_on = [*rows[:3], [10, 90, 10, 10], [10, 50, 110, 50]]
    (end,) = build(run_on).defects
    assert (end.type, end.size) == ("loose end", 20.0)
    cut = build(run_on, cut=((109, 50),))
    assert cut.face_count - 1 == 2
    assert [(d.type, d.done) for d in cut.defects] == [("overshoot", "trimmed")]
    with pytest.raises(LineWorkError, match="no line ends alone near"):
        build(run_on, cut=((50, 70),))


def test_repairs_with_nothing_near_name_the_distance():
    rows = lattice()
    with pytest.raises(LineWorkError, match="no open end"):
        build(rows, close=((50, 50),))
    with pytest.raises(LineWorkError, match="nearest is 5 mm away"):
        build(rows, drop=((35, 35),))
    rows[0][2] = 60.0
    with pytest.raises(LineWorkError, match=r"nearest is 80\.6 mm away"):
        build(rows, close=((60, 90),))
    with pytest.raises(LineWorkError, match="nearest is 6970 mm away"):
        build(rows, drop=((7060, 35),))


def test_page_edge_closes_what_runs_off_it():
    rows = [[0, 10 * k + 5, 100, 10 * k + 5] for k in range(10)]
    rows += [[10 * k + 5, -3, 10 * k + 5, 105] for k in range(10)]
    found = build(rows)
    assert found.face_count - 1 == 121
    assert np.isclose(found.area.sum(), 10_000.0)
    assert found.cut.sum() == 40
    assert [n.type for n in found.notes] == ["page edge"]
    assert build(rows, page_edge="open").face_count - 1 == 81
    assert not build(rows, page_edge="open").cut.any()
    work = linework_from_segments(rows, has_page=False)
    assert build_arrangement(work).face_count - 1 == 81


def test_a_frame_inside_the_page_gets_no_margin():
    rows = lattice()
    assert build(rows).face_count - 1 == 64
    assert not build(rows).cut.any()
    marks = [[0, 50, 5, 50], [95, 50, 100, 50], [50, 0, 50, 5], [50, 95, 50, 100]]
    assert build(rows + marks).face_count - 1 == 64
    assert build(rows, page_edge="close").face_count - 1 == 65


def test_arcs_that_the_page_cuts():
    rows = [circle(0, 0, 50), circle(100, 100, 50), circle(0, 0, 80)]
    found = build_arrangement(linework_from_curves(rows))
    assert found.cut[1:].all()
    assert np.isclose(found.area.sum(), 10_000.0)
    assert np.isclose(found.area[1:].min(), np.pi * 2500 / 4)


def test_a_wrong_word_for_the_page_edge():
    with pytest.raises(ValueError, match="auto, close or open"):
        build(lattice(), page_edge="perhaps")


def test_an_arc_that_stops_short_of_the_page():
    rows = [arc(0, 0, 50, 0.004, np.pi / 2 - 0.004), circle(50, 50, 10)]
    found = build_arrangement(linework_from_curves(rows), page_edge="close")
    assert found.face_count - 1 == 3
    assert types(found) == ["gap", "gap"]


@pytest.mark.parametrize(("miss", "mended"), [(0.2, True), (0.28, True), (0.32, False)])
def test_no_gap_is_closed_beyond_the_limit_that_is_named(miss, mended):
    # the line comes in aslant, so that straight on it has farther to go
    end = np.array([45.0, 30.0 - miss])
    start = end - 6 * np.array([np.cos(0.9), np.sin(0.9)])
    found = build([*lattice(), [*start, *end]], close_gaps=0.3)
    closed = [d for d in found.defects if d.done == "closed"]
    assert len(closed) == mended
    assert all(d.size <= 0.3 for d in closed)


@pytest.mark.parametrize("seed", [21, 22])
@pytest.mark.parametrize("drawn", ["lines", "triangles"])
def test_thin_triangles_of_a_mesh_stay(seed, drawn):
    # scipy's Delaunay mesh; drawn edge by edge, or each triangle round for itself
    points = np.random.default_rng(seed).uniform(5, 195, (300, 2))
    corners = Delaunay(points).simplices
    sides = np.sort(corners[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    paths = np.unique(sides, axis=0) if drawn == "lines" else corners
    closed = "" if drawn == "lines" else "Z"
    body = "".join(
        "<path d='M"
        + "L".join(f"{x:.6g},{y:.6g}" for x, y in points[p])
        + f"{closed}'/>"
        for p in paths
    )
    head = "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='200mm' "
    style = "viewBox='0 0 200 200' fill='none' stroke='#000' stroke-width='1'>"
    found = build_arrangement(
        read_linework(f"{head}{style}{body}</svg>".encode(), name="mesh")
    )
    assert found.face_count - 1 == len(corners)


def drawn_with(decimals, paths):
    """Return the regions of paths whose points are written with so many decimals."""
    body = "".join(
        "<path d='M"
        + "L".join(f"{x:.{decimals}f},{y:.{decimals}f}" for x, y in p)
        + "'/>"
        for p in paths
    )
    head = "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='200mm' "
    style = "viewBox='0 0 200 200' fill='none' stroke='#000' stroke-width='0.25'>"
    return build_arrangement(read_linework(f"{head}{style}{body}</svg>".encode()))


def a_thin_mesh(decimals, height):
    """Return the points and triangles of a mesh that has a very thin one.

    One corner lies a step of the last decimal, or less than a hair, above the base.
    """
    inner = np.random.default_rng(5).uniform(20, 180, (60, 2)).round(decimals)
    rim = [[10, 10], [190, 10], [190, 190], [10, 190], [97, 10 + height]]
    points = np.concatenate([inner, rim])
    return points, Delaunay(points).simplices


def sides_of(corners):
    return np.unique(np.sort(corners[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)), axis=0)


@pytest.mark.parametrize(
    ("decimals", "height"),
    [(2, 0.01), (3, 0.001), (4, 0.0001), (5, 0.00002), (6, 0.0001), (6, 0.00001)],
)
@pytest.mark.parametrize("drawn", ["lines", "triangles"])
def test_the_thinnest_triangle_of_a_mesh_stays(decimals, height, drawn):
    points, corners = a_thin_mesh(decimals, height)
    ways = {"lines": sides_of(corners), "triangles": corners[:, [0, 1, 2, 0]]}
    found = drawn_with(decimals, points[ways[drawn]])
    assert found.face_count - 1 == len(corners)


@pytest.mark.parametrize("decimals", [2, 3, 17])
def test_flat_triangles_on_each_other_stay(decimals):
    # two of the corners miss the base, a third the side between them
    points, _ = a_thin_mesh(min(decimals, 3), 0.03)
    points = np.concatenate([points, [[60, 10.02], [130, 10.05]]])
    corners = Delaunay(points).simplices
    nudge = np.random.default_rng(7).uniform(
        -1e-14, 1e-14, (*sides_of(corners).shape, 2)
    )
    sides = points[sides_of(corners)] * (1 + nudge * (decimals == 17))
    assert drawn_with(decimals, sides).face_count - 1 == len(corners)


@pytest.mark.parametrize("height", [0.02, 0.002, 0.0005])
def test_it_stays_where_ends_of_its_sides_differ_in_the_last_digits(height):
    points, corners = a_thin_mesh(3, height)
    sides = points[sides_of(corners)]
    nudge = np.random.default_rng(6).uniform(-1e-14, 1e-14, sides.shape)
    assert drawn_with(17, sides * (1 + nudge)).face_count - 1 == len(corners)


@pytest.mark.parametrize(("decimals", "angle"), [(1, 27), (2, 11), (2, 38), (3, 27)])
def test_tiles_that_meet_others_in_the_middle_of_a_side(decimals, angle):
    # rows of long tiles and of squares in turn, each tile drawn for itself, all turned;
    # lines without a width, as those of a DXF file
    turn = np.exp(1j * np.radians(angle))
    tiles = []
    for row in range(4):
        width = 20.0 if row % 2 else 10.0
        for left in np.arange(-40, 40, width):
            box = np.array([0, width, width + 10j, 10j, 0]) + left + 10j * (row - 2)
            place = box * turn * 0.8137 + 50 + 50j
            place = np.stack([place.real, place.imag], axis=1).round(decimals)
            tiles.append(np.concatenate([place[:-1], place[1:]], axis=1))
    assert build(np.concatenate(tiles)).face_count - 1 == len(tiles)


@pytest.mark.parametrize("angle", [15, 25])
def test_a_straight_line_that_meets_another_at_a_flat_angle_is_closed(angle):
    # a triangle on a base, one side of it 0.15 mm short
    run, miss = 1 / np.tan(np.radians(angle)), 0.15
    rows = [
        (0, 0, 100, 0),
        (10 + miss * run, miss, 10 + 8 * run, 8),
        (10 + 8 * run, 8, 90, 0),
    ]
    found = build(rows, page_edge="open")
    assert found.face_count - 1 == 1
    assert np.isclose(defect(found, "gap").size, miss / np.sin(np.radians(angle)))


def band(short, off):
    """Return a frame that two rails 1 mm apart part, and a square of 1 mm between them.

    The rails end so many mm from the frame, a side of the square so many from one.
    """
    frame = [(0, 0, 60, 0), (60, 0, 60, 60), (60, 60, 0, 60), (0, 60, 0, 0)]
    rails = [(30, short, 30, 60), (31, short, 31, 60)]
    return [*frame, *rails, (30, 20, 31, 20), (31, 21, 30 + off, 21)]


@pytest.mark.parametrize("gap", [0.1, 0.2, 0.3])
def test_a_narrow_region_beside_a_gap_that_is_closed_stays(gap):
    # left and right of the rails, and what lies between them in three
    found = build(band(0, gap), page_edge="open")
    assert found.face_count - 1 == 5
    assert defect(found, "gap").size == pytest.approx(gap)


def test_no_gap_is_closed_that_is_longer_than_half_of_a_region_beside_it():
    assert build(band(0.4, 0), page_edge="open").face_count - 1 == 5
    # above 0.5 mm: left and right hang together by the lower end of the rails
    found = build(band(0.6, 0), page_edge="open")
    assert found.face_count - 1 == 3
    note = next(n for n in found.notes if n.type == "open gaps")
    assert "2 gaps of up to 0.6 mm" in note.text
    length = float(note.remedy.split()[1].removesuffix("mm"))
    closed = build(band(0.6, 0), page_edge="open", close_gaps=length)
    assert closed.face_count - 1 == 5


def test_gaps_a_little_longer_than_what_is_mended_are_told():
    # lines that end short of the frame, one by 0.8 and two by 1.4 mm
    rows = lattice()
    for row, short in ((2, 0.8), (4, 1.4), (6, 1.4)):
        rows[row][2] -= short
    found = build(rows)
    assert 0.8 < found.tolerance.close_gaps < 1.4
    assert found.face_count - 1 == 64 - 2
    (note,) = [n for n in found.notes if n.type == "open gaps"]
    assert "2 gaps of up to 1.4 mm" in note.text
    length = float(note.remedy.split()[1].removesuffix("mm"))
    assert build(rows, close_gaps=length).face_count - 1 == 64
    # nor does it matter that no end misses by less
    rows[2][2] = 90.0
    assert "open gaps" in [n.type for n in build(rows).notes]
    # a choice of one's own is not spoken of, nor is an end that stops far away
    assert "open gaps" not in [n.type for n in build(rows, close_gaps=1.0).notes]
    rows[4][2] = rows[6][2] = 86.0
    assert "open gaps" not in [n.type for n in build(rows).notes]


def test_the_remedy_of_a_closed_gap_leaves_it():
    remedy = defect(build(band(0, 0.2), page_edge="open"), "gap").remedy
    length = float(remedy.split("--close-gaps ")[1].split("mm")[0])
    left = build(band(0, 0.2), page_edge="open", close_gaps=length)
    assert left.face_count - 1 == 4


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("off", [0.01, 0.03])
def test_three_ends_that_miss_one_another_are_one_corner(seed, off):
    # a wall of six rows of bricks, 10 by 5 mm, with half bricks at both ends of each
    # second row; sides are drawn from joint to joint, each end off by its own error
    rows = []
    for j in range(7):
        rows += [[5 * k, 5 * j, 5 * k + 5, 5 * j] for k in range(12)]
        joints = [0, 60, *range(10 - 5 * (j % 2), 60, 10)] if j < 6 else []
        rows += [[x, 5 * j, x, 5 * j + 5] for x in joints]
    table = np.array(rows, float)
    table += np.random.default_rng(seed).normal(20, off, table.shape)
    found = build(table.tolist(), join_within=1e-4)
    assert found.face_count - 1 == 3 * 6 + 3 * 7


@pytest.mark.parametrize("gap", [0.05, 0.15])
def test_an_arc_that_meets_a_line_at_a_flat_angle_is_closed(gap):
    # on a base: an arc of 40 mm that ends so much above it at 14°, and a side
    tilt = np.radians(14)
    x, y = 10 - 40 * np.sin(tilt), gap + 40 * np.cos(tilt)
    rows = [line(0, 0, 100, 0), arc(x, y, 40, tilt - np.pi / 2, 0)]
    rows += [line(x + 40, y, x + 40, 0)]
    found = build_arrangement(linework_from_curves(rows), page_edge="open")
    assert found.face_count - 1 == 1
    assert defect(found, "gap").size == pytest.approx(gap / np.sin(tilt), rel=0.05)


@pytest.mark.parametrize("seed", range(4))
def test_tips_that_stop_short_of_a_frame_reach_it(seed: int) -> None:
    # two by two stars of two squares, whose tips lie on the frame and on each other;
    # every line ends 0.1 to 0.6 mm before both its ends. A star has 9 regions; round
    # them lie one in the middle, four at the sides, four in the corners
    turn = np.arange(5) * np.pi / 2
    sides = []
    for x in (30.0, 70.0):
        for y in (30.0, 70.0):
            for start in (0.0, np.pi / 4):
                ring = 20.0 * np.stack([np.cos(turn + start), np.sin(turn + start)], 1)
                ring += [x, y]
                sides.append(np.hstack([ring[:-1], ring[1:]]))
    frame = np.array([[10, 10], [90, 10], [90, 90], [10, 90], [10, 10]], dtype=float)
    sides.append(np.hstack([frame[:-1], frame[1:]]))
    lines = np.vstack(sides)
    way = lines[:, 2:] - lines[:, :2]
    way /= np.hypot(*way.T)[:, None]
    short = np.random.default_rng(seed).uniform(0.1, 0.6, (len(lines), 2))
    drawn = lines + np.hstack([short[:, :1] * way, -short[:, 1:] * way])
    found = build_arrangement(linework_from_segments(drawn), page_edge="open")
    assert found.face_count - 1 == 4 * 9 + 1 + 4 + 4


def hairlines(n):
    """Return vertices, edges and loose ends of lines side by side, without a rim."""
    x = 10 + 5e-4 * np.arange(n)
    lines = np.stack([x, np.full(n, 10.0), x, np.full(n, 90.0)], axis=1)
    vertices = lines.reshape(-1, 2)
    number = np.arange(2 * n, dtype=np.int32).reshape(-1, 2)
    span = np.tile([0.0, 1.0], (n, 1))
    each = np.arange(n, dtype=np.int32)
    edges = Edges(number, each, span, np.arange(n + 1, dtype=np.int32), each)
    return vertices, edges, ends.find_tips(Curves.from_segments(lines), vertices, edges)


def test_thousands_of_loose_ends_within_one_gap_look_at_the_nearest_edges() -> None:
    # of all pairs of an end and an edge few stay
    n = 900
    vertices, edges, tips = hairlines(n)
    tip, edge = closings._tips_and_edges(vertices, edges, tips, np.full(len(tips), 0.5))
    assert len(tips) == 2 * n
    assert len(tip) <= closings._PAIRS + closings._MOST * 2 * n < (n - 1) * 2 * n
    assert np.bincount(tip).min() >= closings._MOST
    middle = edge[tips.vertex[tip] == n]
    assert {n // 2 - 1, n // 2 + 1} <= set(middle.tolist())


def test_many_loose_ends_in_fine_work_need_little_memory() -> None:
    # all ends and all edges lie within one gap
    n, rng = 120_000, np.random.default_rng(2)
    start = rng.uniform(0, 0.3, (n, 2))
    vertices = np.concatenate([start, start + rng.normal(0, 1e-4, (n, 2))])
    each = np.arange(n, dtype=np.int32)
    pair = np.stack([each, each + n], axis=1)
    span = np.tile([0.0, 1.0], (n, 1))
    edges = Edges(pair, each, span, np.arange(n + 1, dtype=np.int32), each)
    curves = Curves.from_segments(np.hstack([vertices[:n], vertices[n:]]))
    few = edges.take(each < 1000)
    tips = ends.find_tips(curves, vertices, few)
    tracemalloc.start()
    tip, _ = closings._tips_and_edges(vertices, edges, tips, np.full(len(tips), 0.4))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(tip) <= closings._MOST * len(tips)
    assert peak < 100e6


@pytest.mark.parametrize("n", [900, 1800])
def test_loose_ends_within_one_gap_take_time_with_their_number(
    n: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a way of twice the length holds at most twice as many lines side by side, and
    # lines on both sides: no end is asked of more than that, however many there are
    vertices, edges, tips = hairlines(n)
    asked = []
    nearest = closings._nearest

    def counted(vertices, edges, tips, tip, edge):
        asked.append(len(tip))
        return nearest(vertices, edges, tips, tip, edge)

    monkeypatch.setattr(closings, "_nearest", counted)
    closings._tips_and_edges(vertices, edges, tips, np.full(len(tips), 0.5))
    assert closings._MOST * len(tips) <= sum(asked)
    assert sum(asked) <= (2 * closings._MOST + 2) * len(tips)


@pytest.mark.parametrize("seed", [5, 7, 11])
def test_lines_that_stop_short_of_one_place_of_a_frame_are_led_there(seed):
    # squares of 20 mm with a diagonal each, in a frame; ends run over or stop short by
    # 0.2 to 0.6 mm, some of two lines at one place of the frame
    rng = np.random.default_rng(seed)

    def drawn(*ends):
        a, b = np.array(ends, float)
        way = (b - a) / np.hypot(*(b - a))
        low, high = rng.uniform(0.2, 0.6, 2) * rng.choice([-1, 1], 2)
        return [*(a - low * way), *(b + high * way)]

    rows = [[20, 20, 160, 20], [160, 20, 160, 140], [160, 140, 20, 140]]
    rows.append([20, 140, 20, 20])
    rows += [drawn((20 * i, 20), (20 * i, 140)) for i in range(2, 8)]
    rows += [drawn((20, 20 * j), (160, 20 * j)) for j in range(2, 7)]
    rows += [
        drawn((20 * i, 20 * j), (20 * i + 20, 20 * j + 20))
        for i in range(1, 8)
        for j in range(1, 7)
    ]
    lines = linework_from_segments(np.array(rows, float), 200, 200, line_width=0.5)
    assert build_arrangement(lines).face_count - 1 == 2 * 7 * 6
