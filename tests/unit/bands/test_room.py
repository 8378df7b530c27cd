"""How wide bands may be, rings about points, pieces at frames: closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.cut import CutBands
from fillwork.bands.kinds import _families, _settled, _whole
from fillwork.bands.lengths import lengths_at_frames
from fillwork.bands.levels import choose_levels
from fillwork.bands.model import BAND, CROSSING, GROUND, Bands, BandStrand
from fillwork.bands.rings import add_rings
from fillwork.bands.room import find_fault, least_room, rails_lost
from fillwork.bands.strands import follow_strands, gather_lines
from fillwork.bands.weave import _three_digits, weave_lines
from fillwork.errors import LineWorkError
from fillwork.geometry.curves import ARC
from tests.unit.helpers import (
    circle,
    line,
    linework_from_curves,
    linework_from_segments,
    polyline,
)


def framed(rows, wide=120.0, high=120.0):
    frame = polyline([(0, 0), (wide, 0), (wide, high), (0, high)], closed=True)
    return build_arrangement(
        linework_from_segments(np.vstack([rows, frame]), wide, high)
    )


def grid(x, y, wide=120.0, high=120.0):
    upright = [[a, 0, a, high] for a in x]
    level = [[0, b, wide, b] for b in y]
    return np.array(upright + level, float)


@pytest.mark.parametrize("gap", [0.0, 0.5])
@pytest.mark.parametrize(("x", "y", "room"), [
    # lines 12 and 15 mm apart, and 20 from the frame: no ground is left at 12
    ((20, 32, 44, 56), (30, 45, 60), 12),
    ((40, 80), (45, 60, 75), 15),
])  # fmt: skip
def test_bands_of_a_grid_may_be_as_wide_as_its_narrower_step(x, y, room, gap) -> None:
    plain = framed(grid(x, y))
    woven = weave_lines(plain, 1.0, measure_room=True)
    # to one part in a hundred, of three digits
    assert 0.985 * room < woven.widest <= room
    with pytest.raises(LineWorkError, match="room for") as refused:
        weave_lines(plain, 1.05 * room, gap=gap)
    told = float(refused.value.what.split()[-2])
    assert 0.98 * room - gap < told <= room
    assert (f"with a gap of {gap:.3g} mm" in refused.value.what) == (gap > 0)
    weave_lines(plain, told, gap=gap)


def test_room_in_a_large_drawing_is_told_without_an_exponent() -> None:
    plain = framed(100 * grid((20, 32, 44, 56), (30, 45, 60)), 12000.0, 12000.0)
    with pytest.raises(LineWorkError, match="bands 1300 mm wide with a gap") as refused:
        weave_lines(plain, 1300.0, gap=5.0)
    told = refused.value.what.split()[-2]
    assert told.isdecimal()
    assert 1170 < int(told) <= 1200
    assert f"take a width up to {told} mm" in str(refused.value)


def test_bands_of_a_triangle_may_be_as_wide_as_the_circle_in_it() -> None:
    # three lines through the sides of 26, 28 and 30 mm: area 336, half the boundary 42
    corners = np.array([[40.0, 40], [68, 40], [50, 64]])
    rows = []
    for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way = (q - p) / np.hypot(*(q - p))
        rows.append([*(p - 25 * way), *(q + 25 * way)])
    plain = build_arrangement(linework_from_segments(rows, 120, 120))
    woven = weave_lines(plain, 1.0, measure_room=True)
    assert 0.985 * 2 * 8 < woven.widest <= 2 * 8


def test_numbers_are_cut_down_to_three_digits() -> None:
    for value, cut in (
        (12.3999, 12.3),
        (12.4, 12.4),
        (0.0123456, 0.0123),
        (999.9, 999.0),
    ):
        assert _three_digits(value) == pytest.approx(cut, rel=1e-12)
    assert _three_digits(1234.0) == 1230.0


@pytest.mark.parametrize("width", [1.0, 2.5])
@pytest.mark.parametrize("arms", [6, 8])
def test_rings_leave_the_corners_of_a_node_free(width: float, arms: int) -> None:
    way = 2 * np.pi * np.arange(arms) / arms
    rows = [[60, 60, 60 + 40 * math.cos(a), 60 + 40 * math.sin(a)] for a in way]
    # rails at half the width off lines at an angle meet at w / 2 over the sine of half
    # of it; the ring stands 1.2 widths farther out
    corner = width / 2 / math.sin(math.pi / arms)
    radius = corner + 1.2 * width
    lines = gather_lines(build_arrangement(linework_from_segments(rows, 120, 120)))
    node = np.flatnonzero(np.bincount(lines.origin) == arms)
    ringed = add_rings(lines, node, width)
    arcs = ringed.pieces.kind == ARC
    assert arcs.sum() == arms
    assert ringed.pieces.data[arcs, :2] == pytest.approx(np.full((arms, 2), 60.0))
    assert ringed.pieces.data[arcs, 2] == pytest.approx(np.full(arms, radius))
    assert ringed.pieces.lengths()[arcs].sum() == pytest.approx(2 * np.pi * radius)
    # each line is parted where it crosses the ring, and the ring goes round by there
    assert (~arcs).sum() == 2 * arms
    degree = np.bincount(ringed.origin)
    assert sorted(degree.tolist()) == sorted([arms] + [4] * arms + [1] * arms)
    places = ringed.vertices[ringed.origin]
    ends = np.stack([ringed.pieces.starts(), ringed.pieces.ends()], axis=1)
    assert np.allclose(places.reshape(-1, 2, 2), ends, atol=1e-9)
    assert add_rings(lines, node[:0], width) is lines
    short = linework_from_segments(
        [[60, 60, 60 + radius * math.cos(a), 60 + radius * math.sin(a)] for a in way]
    )
    few = gather_lines(build_arrangement(short))
    centre = np.flatnonzero(np.bincount(few.origin) == arms)
    with pytest.raises(LineWorkError, match="no ring for bands"):
        add_rings(few, centre, width)


def test_pieces_at_a_frame_are_as_long_as_they_are_cut() -> None:
    # bands 6 mm wide: pieces 20 long, and one cut lengthwise to 4 mm, 15 long
    def box(x, y, wide, high):
        return polyline(
            [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], True
        )

    arrangement = build_arrangement(
        linework_from_segments(
            np.vstack(
                [
                    box(5, 5, 20, 6),
                    box(40, 5, 15, 4),
                    box(5, 40, 6, 6),
                    box(40, 40, 20, 6),
                ]
            ),
            100,
            100,
        )
    )
    whole, cut, crossing, known = arrangement.faces_at(
        np.array([[10.0, 8], [45, 7], [8, 43], [45, 43]])
    )
    count = arrangement.face_count
    part, strand = np.zeros(count, np.int64), np.full(count, -1)
    part[[whole, cut, known]], strand[[whole, cut, known]] = BAND, [0, 1, 0]
    part[crossing] = CROSSING
    shaped = np.zeros(count, bool)
    shaped[known] = True
    through = np.array([[crossing, 0, 1]])
    found = lengths_at_frames(
        arrangement, part, strand, through, shaped, np.array([6.0, 6.0])
    )
    # a crossing is as long as it is wide on both; what is known adds nothing
    assert found == pytest.approx([20 + 6, 15 + 6])


def levels_of(work, start="over"):
    strands = follow_strands(gather_lines(build_arrangement(work)))
    return strands, choose_levels(strands, start=start)


def test_over_and_under_take_turns_along_lines_of_a_grid() -> None:
    rows = grid((30, 60, 90), (40, 80))
    frame = polyline([(0, 0), (120, 0), (120, 120), (0, 120)], closed=True)
    work = linework_from_segments(np.vstack([rows, frame]), 120, 120)
    strands, over = levels_of(work)
    assert len(over.double) == 6
    assert len(over.stuck) == len(over.piled) == 0
    heading = np.abs(np.sin(strands.lines.headings())) < 0.5
    top = {}
    for one, two in over.double.tolist():
        assert sorted(over.level[[one, two]].tolist()) == [0, 1]
        upper = one if over.level[one] == 0 else two
        at = strands.lines.vertices[over.vertex[one]].round(3).tolist()
        top[tuple(at)] = bool(heading[over.halves[upper, 0]])
    # a chessboard: each step either way changes which is on top
    for (x, y), level in top.items():
        assert level == (top[30, 40] ^ (x // 30 % 2 == 0) ^ (y == 80))
    _, under = levels_of(work, "under")
    for one, two in over.double.tolist():
        assert under.level[[one, two]].tolist() == over.level[[two, one]].tolist()


def test_lines_of_one_point_are_piled_by_their_direction() -> None:
    way = np.radians([2.0, 62.0, 122.0])
    rows = []
    for x, y in ((40, 60), (80, 60)):
        for a in way:
            c, s = 15 * math.cos(a), 15 * math.sin(a)
            rows.append([x - c, y - s, x + c, y + s])
    strands, found = levels_of(linework_from_segments(rows, 120, 120))
    assert len(found.piled) == 2
    heading = strands.lines.headings()
    for vertex in found.piled.tolist():
        mine = np.flatnonzero(found.vertex == vertex)
        mine = mine[np.argsort(found.level[mine])]
        assert found.level[mine].tolist() == [0, 1, 2]
        # level lines come first, also when they are a little off
        along = np.degrees(heading[found.halves[mine, 0]]) % 180
        assert along == pytest.approx([2, 62, 122])


def test_a_ring_round_a_line_end_is_stuck_where_turns_fail() -> None:
    # a line that ends within a ring crosses it once: the ring is over or under there,
    # and comes back as it went
    work = linework_from_curves([circle(60, 60, 20), line(60, 60, 110, 60)], 120, 120)
    _, found = levels_of(work)
    assert len(found.double) == 1
    assert len(found.stuck) == 1


def test_strands_keep_their_classes_families_and_crossings() -> None:
    # faces 0 to 5 in classes; strand 0 has faces 1 and 3, strand 1 face 4
    classes = np.array([0, 1, 2, 3, 4, 2], np.int32)
    strand = np.array([-1, 0, -1, 0, 1, -1])
    told = _whole(classes, strand)
    assert told[1] == told[3]
    assert len({*told[[0, 2, 3, 4]].tolist()}) == 4
    assert told[5] == told[2]
    assert _whole(classes, np.full(6, -1)) is classes
    # kinds 2 and 0 of families 7 and 5, and two bands: each of a family of its own
    assert _families((5, 9, 7), [2, -1, 0, -1, 2]) == (1, 2, 3, 4, 1)
    assert _families((), [0]) == ()
    # a crossing goes to the strand of the lower kind, of equal ones to the first named
    bands = Bands(
        np.array([-1, 0, 1, -1, -1]),
        np.array([GROUND, BAND, BAND, CROSSING, CROSSING]),
        np.array([[3, 0, 1], [4, 1, 0]]),
        (BandStrand(9.0, True, 2.0), BandStrand(5.0, True, 2.0)),
        2,
        True,
    )
    settled = _settled(bands, np.array([1, 0]))
    assert settled.strand.tolist() == [-1, 0, 1, 1, 1]
    assert [s.orbit for s in settled.strands] == [1, 0]
    even = _settled(bands, np.array([0, 0]))
    assert even.strand.tolist() == [-1, 0, 1, 0, 1]


def test_a_rail_that_is_lost_is_told_before_bands_that_lie_on_each_other() -> None:
    # the triangle of above: its sides have no rail within it from 16 mm on
    corners = np.array([[40.0, 40], [68, 40], [50, 64]])
    rows = []
    for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way = (q - p) / np.hypot(*(q - p))
        rows.append([*(p - 25 * way), *(q + 25 * way)])
    plain = build_arrangement(linework_from_segments(rows, 120, 120))
    strands = follow_strands(gather_lines(plain))
    levels = choose_levels(strands)
    for width, lost in ((15.8, False), (16.2, True)):
        bands = CutBands(strands, levels, width / 2, 0.0, "open")
        bands.cut_rails(round_outside=False)
        fault = find_fault(bands)
        assert (fault is not None) is lost
        again = rails_lost(bands)
        assert (again is not None) is lost
        if fault is not None:
            assert not fault.overlap
            assert fault.width == np.inf
            middles = (corners + np.roll(corners, -1, axis=0)) / 2
            assert min(np.hypot(*(middles - fault.at).T)) < 1e-6
            assert least_room(bands) < 16.2
        else:
            assert least_room(bands) >= 15.8
