"""Faces read as pieces of bands: widths, lengths and ends by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.links import Pieces
from fillwork.bands.pieces import along_frames, read_faces
from fillwork.bands.runs import find_runs, outside, rails_of, stretch_lengths
from fillwork.bands.sides import find_sides, links_by_sides
from fillwork.geometry.parts import part_numbers
from tests.unit.helpers import circle, line, linework_from_curves, polyline


def drawn(*rows, wide=200.0):
    work = linework_from_curves(list(rows), wide, 200)
    return build_arrangement(work, close_gaps=0.0)


def path(*points, closed=False):
    return [line(*row) for row in polyline(points, closed).tolist()]


def framed(*rows, wide=200.0):
    """Return lines in a frame at which they end: what ends freely closes no region."""
    frame = path((0, 0), (wide, 0), (wide, 200), (0, 200), closed=True)
    return drawn(*rows, *frame, wide=wide)


def readings_at(arrangement, point):
    """Return the readings of the face at a point, narrow ones first."""
    face = int(arrangement.faces_at(np.array([point]))[0])
    runs = find_runs(arrangement)
    found = read_faces(arrangement, runs)
    rows = np.flatnonzero(found.face == face)
    return runs, found.take(rows[np.argsort(found.width[rows])])


def ways_of(found, row):
    """Return middles and directions of the caps of a reading, in order."""
    return sorted(
        (m.round(6).tolist(), (o.round(6) + 0.0).tolist())
        for m, o in zip(found.middle[row], found.out[row], strict=True)
    )


@pytest.mark.parametrize("degrees", [90.0, 60.0, 30.0])
def test_a_parallelogram_is_a_piece_of_either_of_two_bands(degrees) -> None:
    # rails 6 mm apart, crossed by others 15 mm apart along them, at an angle
    lean = math.cos(math.radians(degrees)) / math.sin(math.radians(degrees))

    def across(x):
        return line(x - 100 * lean, 0, x + 100 * lean, 200)

    rows = [line(0, 100, 600, 100), line(0, 106, 600, 106), across(280), across(295)]
    runs, found = readings_at(framed(*rows, wide=600.0), (287.5 + 3 * lean, 103))
    # the other reading is as wide as 15 sin of the angle, and 6 / sin long
    sine = math.sin(math.radians(degrees))
    told = sorted([(6.0, 15.0), (15 * sine, 6 / sine)])
    assert found.width == pytest.approx([w for w, _ in told])
    assert found.length == pytest.approx([n for _, n in told])
    assert not found.curved.any()
    assert not found.ring.any()
    assert found.curl == pytest.approx([0, 0], abs=1e-9)
    row = [w for w, _ in told].index(6.0)
    ends = [[280 + 3 * lean, 103], [295 + 3 * lean, 103]]
    expected = [(np.round(ends[0], 6).tolist(), [-1, 0])]
    expected += [(np.round(ends[1], 6).tolist(), [1, 0])]
    assert ways_of(found, row) == expected
    rail, _ = rails_of(runs, found.caps[[row]])
    assert sorted(rail.tolist()) == [0, 1]


def test_a_bend_is_one_piece_with_the_mean_length_of_its_rails() -> None:
    rows = [
        *path((0, 100), (60, 100), (60, 200)),
        *path((0, 105), (55, 105), (55, 200)),
        line(15, 0, 15, 200),
        line(0, 150, 200, 150),
    ]
    _, found = readings_at(framed(*rows), (57, 103))
    # rails of 45 + 50 and 40 + 45 mm, 475 - 25 mm² between them
    assert found.width == pytest.approx([5])
    assert found.length == pytest.approx([90])
    assert found.curved.tolist() == [True]
    assert ways_of(found, 0) == [([15, 102.5], [-1, 0]), ([57.5, 150], [0, 1])]


@pytest.mark.parametrize("sweep", [0.3, 1.2, 2.5])
def test_a_piece_between_two_circles_is_as_wide_as_they_are_apart(sweep) -> None:
    rows = [circle(100, 100, r) for r in (30, 36, 60)]
    for angle in (0.1, 0.1 + sweep):
        c, s = math.cos(angle), math.sin(angle)
        rows.append(line(100, 100, 100 + 60 * c, 100 + 60 * s))
    mid = 0.1 + sweep / 2
    at = (100 + 33 * math.cos(mid), 100 + 33 * math.sin(mid))
    _, found = readings_at(drawn(*rows), at)
    row = int(np.argmin(np.abs(found.width - 6)))
    assert found.width[row] == pytest.approx(6, rel=1e-3)
    assert found.length[row] == pytest.approx(33 * sweep, rel=1e-3)
    assert found.curved[row]
    # by so much it turns on its way: one over the radius of its middle
    assert found.curl[row] == pytest.approx(1 / 33, rel=0.02)


def test_a_ring_of_one_width_is_a_piece_without_ends() -> None:
    runs, found = readings_at(
        drawn(circle(100, 100, 40), circle(100, 100, 46)), (100, 143)
    )
    assert found.ring.tolist() == [True]
    assert found.width == pytest.approx([6], rel=1e-3)
    assert found.length == pytest.approx([2 * math.pi * 43], rel=1e-3)
    assert found.curl == pytest.approx([1 / 43], rel=1e-3)
    # nearer by a tenth on one side it is none, by a twentieth it is one
    for off, ring in ((0.7, False), (0.3, True)):
        _, found = readings_at(
            drawn(circle(100 + off, 100, 40), circle(100, 100, 46)), (100, 143)
        )
        assert found.ring.tolist() == [True] * ring
    assert len(runs.face) == 0


@pytest.mark.parametrize(("narrow", "held"), [(5.4, True), (4.8, False)])
def test_rails_come_no_nearer_than_a_twelfth_of_their_width(narrow, held) -> None:
    # 6 mm apart at one end; at 0.92 of the mean 5.7 and 5.4 at the other: 5.24, 4.97
    rows = [
        line(0, 100, 200, 100),
        line(60, 106, 140, 100 + narrow),
        line(60, 0, 60, 200),
        line(140, 0, 140, 200),
        line(0, 106, 60, 106),
        line(140, 100 + narrow, 200, 100 + narrow),
    ]
    _, found = readings_at(framed(*rows), (100, 102))
    thin = found.width < 10
    assert thin.any() == held
    if held:
        assert found.width[thin] == pytest.approx([5.7], rel=1e-3)


def test_a_cap_is_at_most_six_times_as_long_as_the_band_is_wide() -> None:
    # a band crossed at 10.5 degrees has caps of 5.5 widths, at 9 degrees of 6.4
    for degrees, read in ((10.5, True), (9.0, False)):
        lean = 1 / math.tan(math.radians(degrees))
        rows = [line(0, 100, 1800, 100), line(0, 103, 1800, 103)]
        rows += [line(x - 100 * lean, 0, x + 100 * lean, 200) for x in (860, 910)]
        arrangement = framed(*rows, wide=1800.0)
        _, found = readings_at(arrangement, (885 + 1.5 * lean, 101.5))
        assert (np.abs(found.width - 3) < 1e-6).any() == read


def test_a_line_runs_on_where_nothing_turns_or_joins_it() -> None:
    # a circle alone; a path that bends by 4 degrees, then by 86; one that ends on it
    rows = [
        circle(120, 100, 30),
        *path((0, 10), (40, 10), (70, 12), (70, 200)),
        line(20, 10, 20, 0),
    ]
    arrangement = framed(*rows)
    long = stretch_lengths(arrangement)
    ends = arrangement.vertices[arrangement.origin].reshape(-1, 2, 2)
    middles = ends.mean(axis=1)
    ring = np.abs(np.hypot(*(middles - [120, 100]).T) - 30) < 1
    assert long[ring] == pytest.approx(np.full(ring.sum(), 60 * math.pi), rel=2e-3)

    def at(x, y):
        return long[int(np.argmin(np.hypot(*(middles - [x, y]).T)))]

    assert at(10, 10) == pytest.approx(20)
    assert at(20, 5) == pytest.approx(10)
    bend = 20 + math.hypot(30, 2)
    assert at(30, 10) == pytest.approx(bend)
    assert at(55, 11) == pytest.approx(bend)
    assert at(70, 106) == pytest.approx(188)


def test_frames_and_the_ground_round_them_are_outside() -> None:
    # two frames, one in the other, round a square that a line halves
    rows = [
        *path((10, 10), (190, 10), (190, 190), (10, 190), closed=True),
        *path((20, 20), (180, 20), (180, 180), (20, 180), closed=True),
        *path((30, 30), (170, 30), (170, 170), (30, 170), closed=True),
        line(30, 100, 170, 100),
    ]
    arrangement = drawn(*rows)
    at = arrangement.faces_at(
        np.array([[15.0, 100], [25, 100], [50, 50], [50, 150], [5, 5]])
    )
    told = outside(arrangement)[at]
    assert told.tolist() == [True, True, False, False, True]


def test_pieces_along_a_frame_are_told() -> None:
    # three courses in a frame; a line down the middle parts them
    rows = [
        *path((20, 50), (180, 50), (180, 80), (20, 80), closed=True),
        line(20, 60, 180, 60),
        line(20, 70, 180, 70),
        line(70, 50, 70, 80),
        line(130, 50, 130, 80),
    ]
    arrangement = drawn(*rows)
    for point, told in (((100, 55), True), ((100, 65), False), ((100, 75), True)):
        runs, found = readings_at(arrangement, point)
        row = int(np.argmin(np.abs(found.length - 60) + np.abs(found.width - 10)))
        assert found.width[row] == pytest.approx(10)
        assert found.length[row] == pytest.approx(60)
        assert along_frames(arrangement, runs, found.caps[[row]]).tolist() == [told]


def test_one_side_of_a_line_has_one_number_up_to_its_end() -> None:
    rows = [
        line(20, 100, 180, 100),
        line(60, 50, 60, 150),
        line(120, 50, 120, 150),
        *path((20, 50), (180, 50), (180, 150), (20, 150), closed=True),
    ]
    arrangement = drawn(*rows)
    side, _ = find_sides(arrangement, 0.01)
    p, q = (
        arrangement.vertices[arrangement.origin[h]]
        for h in (np.arange(len(side)), np.arange(len(side)) ^ 1)
    )
    level = (p[:, 1] == 100) & (q[:, 1] == 100)
    upper = level & (q[:, 0] > p[:, 0])
    lower = level & (q[:, 0] < p[:, 0])
    for rows_of in (upper, lower):
        assert rows_of.sum() == 3
        assert len(set(side[rows_of].tolist())) == 1
    assert side[upper][0] != side[lower][0]
    right = (p[:, 0] == 60) & (q[:, 0] == 60) & (q[:, 1] < p[:, 1])
    assert right.sum() == 2
    assert len(set(side[right].tolist())) == 1
    assert not set(side[right].tolist()) & set(side[level].tolist())


def test_pieces_on_one_side_of_a_line_are_of_one_strand() -> None:
    # three bands each way, 6 mm wide; each piece a strand of its own at first
    at = (30.0, 36.0, 90.0, 96.0, 150.0, 156.0)
    rows = [line(0, y, 200, y) for y in at] + [line(x, 0, x, 200) for x in at]
    arrangement = framed(*rows)
    runs = find_runs(arrangement)
    found = read_faces(arrangement, runs)
    band = np.abs(found.width - 6) < 1e-6
    band &= found.length > 10
    readings = found.take(np.flatnonzero(band))
    cut = np.zeros(arrangement.face_count, bool)
    pieces = Pieces(arrangement, runs, readings, cut)
    alive = np.flatnonzero(pieces.alive)
    strand = np.full(len(readings.face), -1, np.int64)
    strand[alive] = np.arange(len(alive))
    one, other, face, of = links_by_sides(pieces, strand)
    group = part_numbers(one, other, len(alive))
    middle = readings.middle[alive].mean(axis=1)
    out = np.abs(readings.out[alive, 0, 0]) > 0.5
    known = {}
    for k, (level, (x, y)) in enumerate(
        zip(out.tolist(), middle.tolist(), strict=True)
    ):
        known.setdefault((level, round(y if level else x)), []).append(int(group[k]))
    assert len(known) == 6
    linked = set()
    for (level, place), members in known.items():
        # two between crossings are one; what the frame cuts says nothing
        along = 0 if level else 1
        mine = np.flatnonzero(
            (out == level) & (np.abs(middle[:, 1 - along] - place) < 1)
        )
        mine = mine[np.argsort(middle[mine, along])]
        assert len(mine) == len(members) == 4
        assert group[mine[1]] == group[mine[2]]
        linked.add(int(group[mine[1]]))
    assert len(linked) == 6
    # what lies on a side of a strand is a piece of it, or where it crosses another
    for f, s in zip(face.tolist(), of.tolist(), strict=True):
        x, y = arrangement.witness[f]
        level, place = out[s], middle[s, 1 if out[s] else 0]
        assert abs((y if level else x) - place) < 3
