"""Middle lines, kinds of bands and what joins strands: small tables by construction."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.drawing import as_linework
from fillwork.bands.kinds import (
    _groups,
    _joined,
    _located,
    _mostly_of_bands,
    bands_of_woven,
    join_strands,
)
from fillwork.bands.lengths import _lengths
from fillwork.bands.lined import Bare, _led_on, _most, _renumbered, follow_middle_lines
from fillwork.bands.middles import (
    _along_each_other,
    _among,
    _beside,
    _between_halves,
    _between_held,
    _between_thirds,
    _into,
)
from fillwork.bands.model import BAND, CROSSING, GROUND, Bands, BandStrand
from fillwork.bands.naming import _middle, name_bands
from fillwork.bands.pieces import read_faces
from fillwork.bands.runs import find_runs
from fillwork.bands.weave import weave_lines
from fillwork.symmetry.model import Orbit, Orbits
from tests.unit.helpers import circle, line, linework_from_curves, polyline


def strand(length, closed=False, width=4.0):
    return BandStrand(length, closed, width)


def bands_of(strand_of, part, strands, through=(), crossings=3):
    return Bands(
        np.array(strand_of),
        np.array(part),
        np.array(through, np.int64).reshape(-1, 3),
        tuple(strands),
        crossings,
        True,
    )


def test_the_heaviest_of_each_row_is_taken_the_first_of_equal_ones() -> None:
    row = np.array([0, 0, 0, 2, 2, 3, 3])
    column = np.array([1, 4, 1, 3, 2, 5, 0])
    weight = np.array([2.0, 3.0, 2.0, 1.0, 1.0, 0.5, 0.4])
    assert _most(row, column, weight, 5).tolist() == [1, -1, 2, 5, -1]
    assert _most(row[:0], column[:0], weight[:0], 2).tolist() == [-1, -1]


def test_lines_take_the_name_of_one_that_they_face() -> None:
    name = np.array([7, -1, -1, -1, 9, -1])
    facing = np.array([[0, 1], [2, 1], [3, 3], [4, 0]])
    # from line to line; what faces none of a name has none, and none is renamed
    assert _led_on(name, facing).tolist() == [7, 7, 7, -1, 9, -1]


def test_strands_of_a_group_are_one_and_stand_by_length() -> None:
    bands = bands_of(
        [-1, 0, 2, 1, 4], [GROUND, BAND, BAND, BAND, CROSSING],
        [strand(10.0, True), strand(30.0, True), strand(5.0)], [[4, 2, 1]],
    )  # fmt: skip
    # strands 0 and 2 are one; number 4 is a new one of 45 mm
    found = _renumbered(
        bands,
        np.array([0, 1, 0]),
        np.array([3.0, 4.0, 5.0, 6.0, 7.0]),
        np.array([2.0, 0, 0, 0, 45]),
    )
    # by falling length: 45, 30, 10 + 5 + 2; number 2 of the crossing has no length
    assert [(s.length, s.closed, s.width) for s in found.strands] == [
        (45, False, 7), (30, True, 4), (17, False, 3), (0, False, 5)
    ]  # fmt: skip
    assert found.strand.tolist() == [-1, 2, 3, 1, 0]
    assert found.through.tolist() == [[4, 1, 3]]
    assert (found.crossings, found.sure) == (3, True)


def test_what_lies_along_a_middle_line_is_of_its_strand() -> None:
    # faces 1 and 2 are of strands 0 and 1, line 0 runs in both; face 3 is ground along
    # line 0, face 4 along line 1, which faces line 0; face 5 along line 2, which faces
    # none; face 6 has two lines in it, and face 7 is far broader than a band
    size = np.array([10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 5.0, 4.0])
    area = np.array([0, 40, 36, 32, 28, 24, 20, 900.0])
    bare = Bare(
        SimpleNamespace(area=area),
        np.arange(8),
        np.array([2.0]),
        np.array([1, 2, 3, 4, 5, 6, 6, 7]),
        np.array([0, 0, 0, 1, 2, 0, 1, 0]),
        size,
        np.array([[1, 0], [0, 1]]),
    )
    bands = bands_of(
        [-1, 0, 1, -1, -1, -1, -1, -1], [0, 1, 1, 0, 0, 0, 0, 0],
        [strand(10.0), strand(9.0)], [[2, 1, 1]],
    )  # fmt: skip
    found = follow_middle_lines(bands, bare)
    assert found.through.tolist() == [[2, 0, 0]]
    assert found.part.tolist() == [0, 1, 1, 1, 1, 1, 0, 0]
    assert found.strand.tolist() == [-1, 0, 0, 0, 0, 1, -1, -1]
    # 10 + 9 of before, 8 + 7 that are new; and the line alone
    assert [s.length for s in found.strands] == [34, 6]
    assert [s.width for s in found.strands] == [4, 4]
    assert bands.part.tolist() == [0, 1, 1, 0, 0, 0, 0, 0]


def test_lines_along_no_strand_are_strands_with_those_that_they_face() -> None:
    # strand 0 along line 0; lines 1 and 2 face each other, lines 3 and 4 none; line 5
    # faces line 0
    bare = Bare(
        SimpleNamespace(area=np.full(7, 40.0)), np.arange(7), np.array([2.0]),
        np.arange(1, 7), np.arange(6), np.arange(10.0, 16.0),
        np.array([[1, 2], [2, 1], [0, 5], [5, 0]]),
    )  # fmt: skip
    bands = bands_of([-1, 0, *[-1] * 5], [0, 1, 0, 0, 0, 0, 0], [strand(10.0)])
    found = follow_middle_lines(bands, bare)
    # 10 + 15, 11 + 12, 14 and 13 mm
    assert [s.length for s in found.strands] == [25, 23, 14, 13]
    assert found.strand.tolist() == [-1, 0, 1, 1, 3, 2, 0]


@pytest.mark.parametrize(("area", "held"), [(69.9, True), (70.1, False)])
def test_no_face_along_a_middle_line_is_broader_by_a_quarter(area, held) -> None:
    # a line 10 mm long in a band 4 mm wide: at most 1.25 * 4 * (10 + 4) mm²
    bare = Bare(
        SimpleNamespace(area=np.array([0, 40, area])), np.arange(3), np.array([2.0]),
        np.array([1, 2]), np.array([0, 0]), np.array([10.0, 10]),
        np.empty((0, 2), np.int64),
    )  # fmt: skip
    bands = bands_of([-1, 0, -1], [GROUND, BAND, GROUND], [strand(10.0)])
    assert follow_middle_lines(bands, bare).part.tolist() == [0, 1, int(held)]


def test_crumbs_lead_on_from_held_points_alone() -> None:
    ends = np.array([[0, 1], [1, 2], [2, 3], [3, 9], [4, 5], [6, 6]])
    held = np.zeros(10, bool)
    held[[0, 3]] = True
    # 0 - 1 - 2 - 3 lead on; 3 - 9 and 4 - 5 end nowhere
    every = np.array([0, 1, 2, 3, 4])
    assert _between_held(ends, every, held).tolist() == [0, 1, 2]
    held[3] = False
    assert _between_held(ends, every, held).tolist() == []
    held[9] = True
    assert _between_held(ends, every, held).tolist() == [0, 1, 2, 3]


def test_rails_along_each_other_share_half_of_the_longer_one() -> None:
    long = np.array([10.0, 20, 4, 4])
    one, other = np.array([0, 1, 0, 2, 3]), np.array([1, 0, 1, 3, 2])
    for size, pairs in (
        ([5.0, 10, 5, 1.9, 1.9], [[0, 1], [1, 0]]),
        ([4.9, 9.9, 5, 2.0, 2.0], [[2, 3], [3, 2]]),
    ):
        found = _along_each_other(one, other, np.array(size), long)
        assert found.T.tolist() == pairs
    none = np.empty(0, np.int64)
    assert _along_each_other(none, none, np.empty(0), np.empty(0)).shape == (2, 0)


def thirds(count, middle=4.0, outer=(4.0, 4.0)):
    """Return strips in threes: rails that lie along each other, and their widths.

    Strip 3 k + 1 lies between 3 k and 3 k + 2.
    """
    base = 6 * np.arange(count)
    left, right = (base + 1, base + 2), (base + 3, base + 4)
    one = np.concatenate([left[0], left[1], right[0], right[1]])
    other = np.concatenate([left[1], left[0], right[1], right[0]])
    width = np.tile([outer[0], middle, outer[1]], count)
    return np.stack([one, other]), width


def test_three_strips_side_by_side_have_two_middle_lines() -> None:
    none = np.zeros(36, bool)
    for count, wide in ((11, 0), (12, 24)):
        pairs, width = thirds(count)
        inner, outer, found = _between_thirds(pairs, width, none[: 3 * count])
        # strapwork has them by the dozen; half of all three is one and a half
        assert found.tolist() == [6.0] * wide
    base = 6 * np.arange(12)
    assert sorted(inner.tolist()) == sorted(
        [*(base + 2), *(base + 3), *(base + 1), *(base + 4)]
    )
    assert sorted(outer.tolist()) == sorted([*base, *(base + 5)])
    # the inner one is no wider than the outer ones by more than a tenth, nor are these
    for middle, sides, held in (
        (4.39, (4.0, 4.0), True),
        (4.41, (4.0, 4.0), False),
        (1.0, (4.0, 4.39), True),
        (1.0, (4.0, 4.41), False),
    ):
        pairs, width = thirds(12, middle, sides)
        found = _between_thirds(pairs, width, none)[2]
        assert len(found) == 24 * held
        if held:
            assert found == pytest.approx(np.full(24, (middle + sum(sides)) / 2))
    # halves are none of them
    pairs, width = thirds(13)
    halved = np.zeros(39, bool)
    halved[1] = True
    assert len(_between_thirds(pairs, width, halved)[2]) == 24


def test_distances_are_among_widths_to_a_tenth() -> None:
    widths, far = np.array([2.0, 5.0]), np.array([1.81, 2.23, 1.8, 4.55, 5.6, 3.0])
    # 0.9 of a distance up to 1.1 of it
    assert _among(widths, far).tolist() == [False, False, False, True, False, False]
    assert _among(widths, np.array([1.82, 2.22])).tolist() == [True, True]


def drawing(*rows, wide=120.0, high=120.0, **choices):
    work = linework_from_curves(list(rows), wide, high)
    return build_arrangement(work, close_gaps=0.0, **choices)


def box(x, y, wide, high):
    corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    return [line(*row) for row in polyline(corners, closed=True).tolist()]


def edge_at(arrangement, x, y):
    middles = arrangement.vertices[arrangement.origin].reshape(-1, 2, 2).mean(axis=1)
    return int(np.argmin(np.hypot(*(middles - [x, y]).T)))


def test_what_lies_beside_an_edge_is_told_with_its_distance() -> None:
    # a line from 20 to 80 at y = 50; a rail 6 above it, a line aslant 10 below
    rows = [*box(20, 20, 60, 60), line(20, 50, 80, 50), line(20, 56, 80, 56)]
    rows.append(line(20, 42, 80, 38))
    arrangement = drawing(*rows)
    edge = edge_at(arrangement, 50, 50)
    out = np.zeros(arrangement.edge_count, bool)
    half = 2 * edge
    p, q = (arrangement.vertices[arrangement.origin[h]] for h in (half, half + 1))
    upper = 0 if q[0] > p[0] else 1  # which side is the left of it

    def told(reach):
        side, far, hit = _beside(arrangement, np.array([edge]), out, reach)
        assert side.shape == far.shape == hit.shape == (3, 2)
        return side[:, [upper, 1 - upper]], far[:, [upper, 1 - upper]], hit

    nothing, rail = 0, 2
    side, far, hit = told(5.0)
    assert (side == nothing).all()
    assert (hit == -1).all()
    side, far, hit = told(20.0)
    assert side.tolist() == [[rail, rail]] * 3
    assert far[:, 0] == pytest.approx([6, 6, 6])
    # at 1, 3 and 5 sixths of the way: 42 - 4 x / 60 below
    assert sorted(far[:, 1]) == pytest.approx([8 + 4 / 6, 10, 8 + 20 / 6])
    assert set(hit[:, upper].tolist()) == {edge_at(arrangement, 50, 56)}
    out[edge_at(arrangement, 50, 56)] = True
    side, far, hit = told(20.0)
    assert side.tolist() == [[3, rail]] * 3
    # side by side is what turns by a sine of 0.15 at most
    for rise, kind in ((8.8, rail), (9.3, 1)):
        rows[-1] = line(20, 42, 80, 42 - rise)
        arrangement = drawing(*rows)
        out = np.zeros(arrangement.edge_count, bool)
        edge = edge_at(arrangement, 50, 50)
        side, _, _ = _beside(arrangement, np.array([edge]), out, 20.0)
        assert sorted(set(side.reshape(-1).tolist())) == sorted({rail, kind})


def test_faces_lie_in_those_of_a_drawing_with_fewer_lines() -> None:
    rows = [*box(20, 20, 60, 60), line(50, 20, 50, 80)]
    whole = drawing(*rows, line(20, 50, 80, 50))
    merged = drawing(*rows, page_edge="open")
    into = _into(whole, merged)
    points = np.array([[30.0, 30], [30, 70], [70, 30], [70, 70]])
    assert into[whole.faces_at(points)].tolist() == merged.faces_at(points).tolist()
    assert into[0] == 0


def test_faces_cut_lengthwise_are_longer_than_their_area_tells() -> None:
    rows = [*box(5, 5, 15, 5.6), *box(30, 5, 15, 5.8), *box(60, 5, 4, 5)]
    # cut aslant: a triangle, and what lacks two thirds and a quarter of one rail
    corners = [(5, 40), (33, 40), (5, 46)], [(40, 40), (58, 40), (46, 46), (40, 46)]
    corners += ([(70, 40), (90, 40), (85, 46), (70, 46)],)
    for points in corners:
        rows += [line(*row) for row in polyline(points, closed=True).tolist()]
    # and lengthwise, aslant
    rows += [line(*r) for r in polyline([(5, 60), (33, 60), (33, 64), (5, 63)], True)]
    arrangement = drawing(*rows)
    places = [(10, 7), (35, 7), (62, 7), (8, 42), (45, 42), (75, 42), (20, 62)]
    face = arrangement.faces_at(np.array(places, float))
    assert len(set(face.tolist())) == len(places)
    # of bands 6 mm wide: narrower by a fifteenth, by a thirtieth; and a scrap 4 by 5
    found = _lengths(arrangement, face, np.full(7, 6.0))
    assert found[:3] == pytest.approx([15, 15 * 5.8 / 6, 20 / 6])
    # half of its rails is the middle of what is cut aslant
    assert found[3:6] == pytest.approx([14, 12, 17.5])
    assert found[6] == pytest.approx(28, rel=0.01)
    assert len(_lengths(arrangement, face[:0], np.empty(0))) == 0


@pytest.mark.parametrize("degrees", [10, 60, 170])
@pytest.mark.parametrize("wide", [0.5, 2.0, 3.7])
def test_a_bent_face_cut_lengthwise_is_as_long_as_its_middle(degrees, wide) -> None:
    way = np.radians(np.linspace(0, degrees, 2 * degrees + 1))
    ways = np.column_stack([np.cos(way), np.sin(way)])
    inner, outer = (60 + (50 + side * wide / 2) * ways for side in (-1, 1))
    points = polyline(np.vstack([inner, outer[::-1]]).tolist(), closed=True)
    arrangement = drawing(*(line(*row) for row in points.tolist()))
    face = arrangement.faces_at(np.array([60 + 50 * ways[degrees]]))
    # a band 4 mm wide
    found = _lengths(arrangement, face, np.full(1, 4.0))
    assert found == pytest.approx(50 * math.radians(degrees), rel=1e-3)


def orbit(letter, faces, area, cut=0, band=False):
    rows = np.array(faces, np.int32)
    return Orbit(letter, letter, letter, 1, rows, faces[0], "C2", area, cut, band)


def orbits_of(groups, count):
    of_face = np.full(count, -1, np.int32)
    for k, o in enumerate(groups):
        of_face[o.faces] = k
    none = np.full(count, -1, np.int32)
    return Orbits(
        tuple(groups), of_face, of_face.copy(), of_face.copy(), none,
        np.zeros(count, bool), "all", (),
    )  # fmt: skip


def test_kinds_are_of_bands_where_half_of_their_regions_are() -> None:
    orbits = orbits_of([orbit("A", [1, 2], 9.0), orbit("B", [3, 4, 5], 5.0)], 7)
    bands = bands_of(
        [-1, 0, -1, 0, -1, -1, -1], [0, 1, 0, CROSSING, 0, 0, BAND], [strand(9.0)]
    )
    assert _mostly_of_bands(orbits, bands).tolist() == [True, False]


def test_strands_of_one_kind_are_one_kind_and_crossings_go_with_theirs() -> None:
    kinds = [
        orbit("A", [1], 50.0),
        orbit("B", [2, 3], 9.0),
        orbit("C", [4, 5, 8], 6.0),
        orbit("D", [6], 4.0),
        orbit("E", [7], 2.0),
    ]
    # strands 0 and 1 share kind B; strand 2 has kind C; D and E are crossings
    bands = bands_of(
        [-1, -1, 0, 1, 2, 2, 2, 0, 2], [0, 0, 1, 1, 1, 1, 2, 2, 1],
        [strand(9.0), strand(8.0), strand(7.0)], [[6, 0, 2], [7, 1, 0]],
    )  # fmt: skip
    given = replace(
        orbits_of(kinds, 9), operation_of_face=np.arange(9, dtype=np.int32),
        families=(5, 5, 7, 7, 7), figures=(1, 2, 3, 4, 5),
    )  # fmt: skip
    joined, settled = join_strands(given, bands)
    # no operation is known for bands, and each is of a family of its own
    assert joined.operation_of_face.tolist() == [0, 1, *[-1] * 7]
    assert joined.families == (1, 2, 3)
    assert joined.figures == (1, 0, 0)
    told = [(o.letter, o.name, o.faces.tolist(), o.band) for o in joined.orbits]
    # both crossings go to the first kind, that of strands 2: three pieces
    assert told == [
        ("A", "A", [1], False),
        ("B", "band 2", [2, 3, 7], True),
        ("C", "band 1", [4, 5, 6, 8], True),
    ]
    assert [s.orbit for s in settled.strands] == [1, 1, 0]
    assert joined.of_face.tolist() == [-1, 0, 1, 1, 2, 2, 2, 1, 2]
    # face 6 lies where strands 0 and 2 cross: it is of the kind of the lower number
    assert joined.strand_of_face.tolist() == [-1, -1, 0, 1, 2, 2, 2, 1, 2]
    assert {o.site_symmetry for o in joined.orbits if o.band} == {"C1"}


def test_crossings_alone_make_no_kind_of_bands() -> None:
    # of three regions of kind A one is a piece, and kind B is where bands would cross
    kinds = [orbit("A", [1, 2, 3], 9.0), orbit("B", [4], 4.0)]
    bands = bands_of([-1, 0, -1, -1, 0], [0, 1, 0, 0, 2], [strand(9.0)], [[4, 0, 0]])
    orbits = orbits_of(kinds, 5)
    joined, same = join_strands(orbits, bands)
    assert joined is orbits
    assert same is bands


def test_bits_that_a_frame_leaves_go_with_the_most_of_their_bands() -> None:
    kinds = [orbit("A", [1, 2], 9.0, cut=2), orbit("B", [3, 4, 5], 5.0, cut=1)]
    orbits = orbits_of(kinds, 6)
    pieces = np.array([2, 3])
    links = np.array([0, 1]), np.array([0, 1])
    groups, orbit_of = _groups(orbits, np.ones(2, bool), pieces, links, 2)
    # all of A is cut: its strand goes with that of B
    assert groups == [[1, 0]]
    assert orbit_of.tolist() == [0, 0]
    whole = orbits_of([orbit("A", [1, 2], 9.0, cut=1), kinds[1]], 6)
    groups, orbit_of = _groups(whole, np.ones(2, bool), pieces, links, 2)
    assert groups == [[1], [0]]
    assert orbit_of.tolist() == [1, 0]
    # of as many regions the kind of the first of them comes first
    even = orbits_of([orbit("A", [4, 5], 9.0), orbit("B", [1, 2], 5.0)], 6)
    assert _groups(even, np.ones(2, bool), pieces, links, 2)[0] == [[1], [0]]
    rows = [orbit("A", [1], 9.0), orbit("B", [2], 5.0), orbit("C", [6], 4.0)]
    three = orbits_of([*rows, orbit("D", [3], 3.0)], 7)
    links = np.array([0, 2, 1, 3]), np.array([0, 0, 1, 1])
    groups, orbit_of = _groups(three, np.ones(4, bool), np.ones(4, int), links, 3)
    assert groups == [[0, 2], [1, 3]]
    # a strand without a piece of any kind is taken with the first
    assert orbit_of.tolist() == [0, 1, 0]


def test_kinds_that_are_joined_keep_the_largest_region_and_all_faces() -> None:
    one = _joined([orbit("B", [7, 9], 4.0, cut=1), orbit("C", [2, 3], 6.0, cut=2)])
    assert one.faces.tolist() == [2, 3, 7, 9]
    assert (one.letter, one.area, one.cut) == ("C", 6.0, 3)
    assert (one.base_name, one.site_symmetry, one.band) == ("band", "C1", True)
    assert _joined([orbit("B", [7], 4.0), orbit("C", [2], 4.0)]).letter == "C"


def test_points_are_located_in_the_faces_that_hold_them() -> None:
    rows = [*box(20, 20, 60, 60), line(50, 20, 50, 80)]
    arrangement = drawing(*rows, page_edge="open")
    points = np.array([[30.0, 30], [5, 5], [70, 30], [50, 40]])
    row, face = _located(arrangement, points)
    # one outside and one on a line are in none
    assert row.tolist() == [0, 2]
    assert face.tolist() == arrangement.faces_at(points[row]).tolist()
    loose = drawing(line(20, 20, 80, 20), page_edge="open")
    assert loose.face_count == 1
    for where, places in (
        (arrangement, points[:0]),
        (loose, points),
        (loose, points[:0]),
    ):
        assert [v.tolist() for v in _located(where, places)] == [[], []]


def test_the_middle_of_a_ring_of_pieces_is_the_ground_within() -> None:
    # a ring in three pieces parted by gaps as wide as twice the band, about a circle
    parts = []
    for k in range(3):
        a, b = (2 * np.pi * (k + s) / 3 for s in (0.03, 0.97))
        c, s = np.cos([a, b]), np.sin([a, b])
        parts += [(1, [60, 60, r, 0, 0, r, a, b]) for r in (30.0, 34.0)]
        parts += [
            line(60 + 30 * x, 60 + 30 * y, 60 + 34 * x, 60 + 34 * y)
            for x, y in zip(c, s, strict=True)
        ]
    arrangement = drawing(*parts, circle(60, 60, 10), circle(100, 10, 5))
    turn = 2 * np.pi * (np.arange(3) + 0.5) / 3
    ring = np.stack([60 + 32 * np.cos(turn), 60 + 32 * np.sin(turn)], axis=1)
    pieces = arrangement.faces_at(ring)
    inner, far = arrangement.faces_at(np.array([[60.0, 60], [100, 10]]))
    assert len({*pieces.tolist(), int(inner), int(far)}) == 5
    ground = np.array([inner, far])
    assert _middle(arrangement, pieces, 4.0, ground) == inner
    # pieces that do not hang together, or ground that is not there
    assert _middle(arrangement, pieces, 1.0, ground) == -1
    assert _middle(arrangement, pieces, 4.0, ground[:0]) == -1
    assert _middle(arrangement, pieces, 4.0, ground[1:]) == -1


def survey_of(names, bands, of_face, strand_of_face):
    groups = [
        orbit(n, np.flatnonzero(np.array(of_face) == k).tolist(), 5.0, 0, n in bands)
        for k, n in enumerate(names)
    ]
    count = len(of_face)
    return replace(
        orbits_of(groups, count), strand_of_face=np.array(strand_of_face, np.int64)
    )


def test_kinds_of_closed_and_of_open_bands_are_named_so() -> None:
    strands = [strand(9.0, True), strand(8.0, True), strand(7.0), strand(6.0)]
    bands = bands_of([-1, 0, 1, 2, 3], [0, 1, 1, 1, 1], strands)
    arrangement = drawing(*(r for k in range(4) for r in box(5 + 25 * k, 5, 20, 20)))
    for of_face, names in (
        ([-1, 0, 0, 1, 1], ["A, closed", "B, open"]),
        # closed and open ones in one kind are told by their number alone
        ([-1, 0, 1, 0, 1], ["A", "B"]),
    ):
        orbits = survey_of("AB", "AB", of_face, [-1, 0, 1, 2, 3])
        named = name_bands(arrangement, orbits, bands)
        assert [o.name for o in named.orbits] == names
    # kinds that are no bands keep their names
    orbits = survey_of("AB", "B", [-1, 0, 0, 1, 1], [-1, -1, -1, 2, 3])
    named = name_bands(arrangement, orbits, bands)
    assert [o.name for o in named.orbits] == ["A", "B, open"]
    plain = replace(orbits, strand_of_face=None)
    assert name_bands(arrangement, plain, bands) is plain


def test_regions_of_a_weave_are_of_the_strand_that_is_on_top() -> None:
    # a band with a bend, one across both its arms and a ring that crosses nothing
    rows = [*box(0, 0, 120, 120), line(10, 20, 100, 20), line(100, 20, 100, 110)]
    rows += [line(30, 5, 30, 60), circle(50, 80, 12)]
    plain = linework_from_curves(rows, 120, 120)
    woven = weave_lines(build_arrangement(plain), 6.0)
    drawn = build_arrangement(as_linework(woven, plain), close_gaps=0.0)
    bands = bands_of_woven(drawn, woven)
    # by length: 180, 2 pi 12 = 75.4 and 55 mm
    assert [round(s.length, 1) for s in bands.strands] == [180, 75.4, 55]
    assert [s.closed for s in bands.strands] == [False, True, False]
    assert bands.crossings == 1
    places = np.array([
        [15, 20], [60, 20], [100, 20], [100, 60], [50, 92], [30, 10], [30, 40],
        [10, 60], [50, 80], [60, 30],
    ])  # fmt: skip
    faces = drawn.faces_at(places.astype(float))
    assert bands.strand[faces].tolist() == [0, 0, 0, 0, 1, 2, 2, -1, -1, -1]
    assert (bands.part[faces] == BAND).tolist() == [True] * 7 + [False] * 3
    top = drawn.faces_at(np.array([[30.0, 20]]))
    assert bands.strand[top] in (0, 2)
    assert (bands.part == CROSSING).sum() == 0
    # without a band on top the square where both cross is a crossing
    crossed = weave_lines(build_arrangement(plain), 6.0, crossings="crossed")
    drawn = build_arrangement(as_linework(crossed, plain), close_gaps=0.0)
    bands = bands_of_woven(drawn, crossed)
    square = drawn.faces_at(np.array([[30.0, 20]]))
    assert np.flatnonzero(bands.part == CROSSING).tolist() == square.tolist()
    assert bands.strand[drawn.faces_at(places.astype(float))].tolist() == [
        0, 0, 0, 0, 1, 2, 2, -1, -1, -1
    ]  # fmt: skip


@pytest.mark.parametrize(("strips", "held"), [
    ((4.0, 4.0), True),
    # as wide as each other to a tenth
    ((4.0, 4.375), True), ((4.0, 4.5), False), ((4.5, 4.0), False),
    # strips in greater number have others of their width beside them
    ((4.0, 4.0, 4.0), False), ((4.0, 4.0, 9.0), True),
    ((4.0,), False),
])  # fmt: skip
def test_a_middle_line_has_halves_of_one_width_on_both_sides(strips, held) -> None:
    places = 90 + np.cumsum([0.0, *strips])
    rows = [line(0, y, 200, y) for y in places]
    rows += [line(x, 0, x, 200) for x in (55, 140)] + box(0, 0, 200, 200)
    arrangement = drawing(*rows, wide=200.0, high=200.0)
    runs = find_runs(arrangement)
    between, beside, widths = _between_halves(
        arrangement, runs, read_faces(arrangement, runs)
    )
    at = arrangement.vertices[arrangement.origin].reshape(-1, 2, 2)
    level = at[:, 0, 1] == at[:, 1, 1]

    def all_along(*lines):
        return (level & np.isin(at[:, 0, 1], lines)).tolist()

    if not held:
        assert not between.any()
        assert not beside.any()
        assert len(widths) == 0
        return
    # all three edges of the line between, and of the two lines beyond the halves
    assert between.tolist() == all_along(places[1])
    assert between.sum() == 3
    assert beside.tolist() == all_along(places[0], places[2])
    assert widths.tolist() == pytest.approx(sorted(list(strips[:2]) * 3))


def test_a_half_along_a_frame_is_none_beside_one_that_is_not() -> None:
    # between a band 8 mm wide with its middle line and a frame lies ground 4 mm wide
    for low in (4.0, 30.0):
        rows = [line(0, y, 200, y) for y in (low, low + 4, low + 8)]
        rows += [line(x, 0, x, 100) for x in (55, 140)] + box(0, 0, 200, 100)
        arrangement = drawing(*rows, wide=200.0, high=100.0)
        runs = find_runs(arrangement)
        between, _, widths = _between_halves(
            arrangement, runs, read_faces(arrangement, runs)
        )
        at = arrangement.vertices[arrangement.origin].reshape(-1, 2, 2)
        level = at[:, 0, 1] == at[:, 1, 1]
        assert sorted({*at[between][:, 0, 1].tolist()}) == [low + 4]
        assert level[between].all()
        assert widths.tolist() == pytest.approx([4.0] * 6)


def test_a_face_no_wider_than_the_last_digits_has_the_length_of_its_area() -> None:
    rows = [*box(5, 5, 15, 5.6)]
    arrangement = drawing(*rows)
    face = arrangement.faces_at(np.array([[10.0, 7]]))
    # 1e-15 mm high at 100 mm: its corners are on one line in double precision
    thin = shapely.Polygon([(100, 100), (101, 100), (101, 100 + 1e-15)])
    both = SimpleNamespace(
        area=np.array([0.0, float(arrangement.area[face[0]]), 0.0]),
        polygons=lambda rows, *, valid: np.array(
            [*arrangement.polygons(face, valid=valid), thin]
        ),
    )
    found = _lengths(cast("Any", both), np.array([1, 2]), np.full(2, 6.0))
    assert found == pytest.approx([15, 0])
