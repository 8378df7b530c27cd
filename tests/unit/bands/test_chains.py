"""What chains of pieces form, by small tables; and cloth, face by face."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.chains import Chains
from fillwork.bands.found import find_bands
from fillwork.bands.model import BAND, CROSSING, GROUND
from tests.unit.bands.test_links import readings
from tests.unit.helpers import linework_from_segments, polyline


def told(found, chain, **more):
    """Return chains of readings that all hold, with what else is told of them."""
    chains = object.__new__(Chains)
    count = len(found.face)
    runs = SimpleNamespace(
        face=np.repeat(found.face, 2), outer=np.zeros(2 * count, bool)
    )
    chains.pieces = SimpleNamespace(
        readings=found, runs=runs, over=np.empty(0, np.int64)
    )
    chains.arrangement = SimpleNamespace(
        face_count=int(found.face.max()) + 1, area=np.zeros(int(found.face.max()) + 1)
    )
    chains.live, chains.face = np.arange(count), found.face
    chains.chain = np.array(chain)
    chains.count = int(chains.chain.max()) + 1
    chains.node = np.zeros(count, bool)
    chains.cluster = np.zeros(chains.count, np.int64)
    chains.parted = np.empty(0, np.int64)
    chains.meets = np.empty((0, 2), np.int64)
    chains.firm = np.empty(0, bool)
    chains.kind = chains.cut = None
    for name, value in more.items():
        setattr(chains, name, value)
    return chains


def test_chains_bend_whose_pieces_turn_or_are_curved() -> None:
    # directions of two pieces: the mean of the doubled ones is the cosine of the turn
    turns = [0.0, 180.0, 11.4, 11.6, 90.0]
    degrees = np.array([[0.0, 180]] * 5 + [[t, 180] for t in turns] + [[0, 180]])
    found = readings([4.0] * 11, degrees=degrees)
    found.curved[10] = True
    chains = told(found, [*range(5), *range(5), 5])
    assert chains._bends().tolist() == [False, False, False, True, True, True]


def test_chains_have_the_width_of_others_where_three_share_it() -> None:
    # within 3 of 100 of 4.1 are 4, 4.1 and 4.2; of 4 and of 4.2 one other
    widths = [4.0, 4.1, 4.2, 9.0, 9.0, 9.29, 5.0, 5.2, 6.0, 6.0]
    chains = told(readings(widths), np.arange(10))
    assert chains._of_a_width().tolist() == [
        False, True, False, False, False, False, False, False, False, False
    ]  # fmt: skip
    near = told(readings([9.0, 9.0, 9.25]), np.arange(3))
    assert near._of_a_width().tolist() == [True] * 3


def test_chains_are_as_wide_as_their_pieces_and_as_long_in_all() -> None:
    found = readings([4.0, 6.0, 3.0], length=[10.0, 20.0, 6.0])
    chains = told(found, [0, 0, 1])
    assert chains._widths().tolist() == [5, 3]
    assert chains._slenderness().tolist() == [6, 2]


@pytest.mark.parametrize(("width", "length", "squat"), [
    (8.1, 9.0, True),
    (7.9, 9.0, False),  # twice as broad as bands at most
    (8.1, 9.8, False),  # longer than 1.2 widths: 9.72
])  # fmt: skip
def test_broad_ground_is_left_out_of_clusters(width, length, squat) -> None:
    # two bands 4 mm wide, each of two pieces 2.4 widths long in the mean; a broad one
    found = readings([4.0] * 4 + [width], length=[9.7, 9.5, 9.5, 9.7, length])
    meets = np.array([[0, 1], [1, 2], [2, 0]])
    chains = told(
        found, [0, 0, 1, 1, 2], meets=meets, firm=np.array([True, False, True])
    )
    assert chains._leave_ground().tolist() == [False, False, squat]
    assert chains.meets.tolist() == (meets[:1] if squat else meets).tolist()
    assert chains.firm.tolist() == [True, False, True][: 1 if squat else 3]
    assert chains.cluster.tolist() == [0, 0, int(squat)]


def test_ground_is_broad_beside_chains_that_are_long_alone() -> None:
    # without any of two pieces that are longer there is nothing to be broad beside
    for length, squat in (([9.7, 9.5], True), ([9.6, 9.5], False)):
        found = readings([4.0, 4.0, 12.0], length=[*length, 12.0])
        assert told(found, [0, 0, 1])._leave_ground().tolist() == [False, squat]
    found = readings([4.0, 12.0], length=[40.0, 12.0])
    assert told(found, [0, 1])._leave_ground().tolist() == [False, False]
    # crossings are no pieces of a length
    found = readings([4.0, 4.0, 4.0, 12.0], length=[10.0, 10.0, 90.0, 12.0])
    chains = told(found, [0, 0, 1, 1], node=np.array([False, False, True, False]))
    assert chains._leave_ground().tolist() == [False, True]


@pytest.mark.parametrize(("width", "framed", "squat"), [
    (5.1, [4, 5], True),
    (4.9, [4, 5], False),  # broader than what lies inside by a quarter at most
    (5.1, [4], False),
    (5.1, [0, 4, 5], True),
    (5.1, [0, 1, 2, 3, 4, 5], False),
])  # fmt: skip
def test_strips_along_frames_broader_than_what_lies_inside_are_ground(
    width, framed, squat
) -> None:
    found = readings([4.0] * 4 + [width] * 2, length=[20.0] * 6)
    chains = told(found, [0, 0, 1, 1, 2, 2])
    chains.pieces.runs.outer[2 * np.array(framed)] = True
    assert chains._leave_ground().tolist() == [False, False, squat]


def judged(met, ground, many, bent=(), lengths=None, parted=(), grid=False):
    """Return what is said of four chains of one piece each, with so much ground."""
    found = readings([4.0] * 4, length=lengths or [20.0] * 4)
    chains = told(found, np.arange(4), parted=np.array(parted, np.int64))
    chains.arrangement.face_count = 1 + 4 + ground
    chains._is_grid = lambda faces: grid
    assert found.face.tolist() == [1, 2, 3, 4]
    bends = np.isin(np.arange(4), bent)
    return chains._is_strapwork(np.ones(4, bool), np.array(met), bends, many)


@pytest.mark.parametrize(("ground", "many", "more", "sure"), [
    (20, True, {}, True),
    (20, False, {}, False),
    (20, True, {"grid": True}, False),
    # crossings of a fifth of the ground: 4 to 20
    (21, True, {}, False),
    # strips that lines part as often as a fifth of their crossings
    (4, True, {"parted": [0]}, False),
    (4, True, {"parted": []}, True),
    # three of four crossings are of bands that both bend: then neither counts
    (99, True, {"bent": [0, 1, 2], "parted": [0] * 9}, True),
    (99, True, {"bent": [0, 1], "parted": [0] * 9}, False),
    (99, True, {"bent": [0, 1, 2], "grid": True}, True),
    (20, True, {"bent": [0, 1], "grid": True}, False),
    # two crossings of long bands that bend are many
    (99, False, {"bent": [0, 1, 2], "lengths": [32.0] * 4}, True),
    (99, False, {"bent": [0, 1, 2], "lengths": [31.0] * 4}, False),
    # and where three of four long ones bend on the one side, few are enough
    (99, True, {"bent": [1], "lengths": [32.0] * 4}, True),
    (99, True, {"bent": [1], "lengths": [31.0] * 4}, False),
    (99, True, {"bent": [3], "lengths": [32.0] * 4}, False),
])  # fmt: skip
def test_chains_that_cross_are_strapwork_by_how_they_cross(
    ground, many, more, sure
) -> None:
    # 0 crosses 1 and 1 crosses 2, twice each, but for one of 2 and 3 where told so
    met = [[0, 1], [1, 0], [1, 2], [2, 3] if more.get("bent") else [2, 1]]
    assert judged(met, ground, many, **more) is sure


def test_a_grid_has_strips_for_ground_and_none_over_another() -> None:
    # faces 1 and 2 are bands, 3 to 22 ground, of which 19 or 18 are strips as well
    for strips, grid in ((19, True), (18, False)):
        face = [1, 2, *range(3, 3 + strips)]
        chains = told(readings([4.0] * len(face), face=face), np.zeros(len(face), int))
        chains.arrangement.face_count = 23
        chains.cap, chains.pair = np.array([0]), np.array([0])
        chains.pieces.over = np.array([-1])
        assert chains._is_grid(np.array([1, 2])) is grid
        chains.pieces.over = np.array([5])
        assert chains._is_grid(np.array([1, 2])) is False
    # without ground there is none
    chains.pieces.over = np.array([-1])
    assert chains._is_grid(np.arange(1, 23)) is False


def alone(least=4, lengths=(12.0, 12.0, 12.0), loose=0, bends=True, area=10.0, cut=6):
    """Return which of two chains of three pieces, and one of two, look like bands."""
    found = readings([4.0] * 8, length=[*lengths, *lengths, 90.0, 90.0])
    chains = told(found, [0, 0, 0, 1, 1, 1, 2, 2], cluster=np.array([0, 1, 1]))
    chains.arrangement.area = np.full(9, 1.0)
    chains.arrangement.area[0] = area
    return chains._alone(
        np.arange(8) < cut, np.array([loose, 0]), np.full(3, bends), least
    ).tolist()


def test_bands_that_cross_no_others_are_long_and_bend_side_by_side() -> None:
    # of a width that is told two pieces are enough, of others three
    assert alone(least=1, cut=8) == [True, True, True]
    assert alone(least=1, cut=7) == [True, True, False]
    assert alone(least=1, loose=1) == [False, True, False]
    assert alone(cut=8) == [True, True, False]
    assert alone(cut=5) == [False, False, False]  # of one band there are no several
    assert alone(bends=False) == [False] * 3
    assert alone(loose=1) == [False] * 3
    # eight widths long in all, and three of a hundred of the area
    assert alone(lengths=(11.0, 11.0, 10.0)) == [True, True, False]
    assert alone(lengths=(11.0, 11.0, 9.9)) == [False] * 3
    assert alone(area=191.0) == [True, True, False]
    assert alone(area=193.0) == [False] * 3


def inherited(part, strand, kind, cut=None):
    chains = told(readings([4.0]), [0])
    chains.kind = np.array(kind)
    chains.cut = None if cut is None else np.array(cut, bool)
    part, strand = np.array(part), np.array(strand)
    chains._inherit(part, strand)
    return part.tolist(), strand.tolist()


def test_faces_are_what_most_of_their_kind_are() -> None:
    # six of ten are enough, of five three; the rest keeps no strand yet
    some = [BAND] * 6 + [GROUND] * 4
    own = [0] * 6 + [-1] * 4
    assert inherited(some, own, [0] * 10) == ([BAND] * 10, own)
    some[5], own[5] = GROUND, -1
    assert inherited(some, own, [0] * 10) == (some, own)
    # bands before crossings, and what is something stays so
    mixed = [BAND] * 3 + [CROSSING] * 1 + [GROUND] * 1
    assert inherited(mixed, [0] * 5, [0] * 5)[0] == [1, 1, 1, 2, 1]
    cross = [CROSSING] * 3 + [BAND] * 1 + [GROUND] * 1
    assert inherited(cross, [0] * 5, [0] * 5)[0] == [2, 2, 2, 1, 2]
    # what is cut says nothing of its kind, and faces of no kind are left alone
    told_of = [BAND, BAND, GROUND, GROUND, GROUND]
    strands = [0, 0, -1, -1, -1]
    kinds = [0, 0, 0, 0, -1]
    assert inherited(told_of, strands, kinds)[0] == told_of
    assert inherited(told_of, strands, kinds, [0, 0, 0, 1, 0])[0] == [1, 1, 1, 1, 0]
    # of twenty two are fewer than 15 of 100, three are not
    few = [BAND] * 3 + [GROUND] * 17
    own = [0] * 3 + [-1] * 17
    assert inherited(few, own, [0] * 20) == (few, own)
    few[2] = GROUND
    assert inherited(few, own, [0] * 20) == ([GROUND] * 20, [-1] * 20)


def boxes(*corners):
    rows = []
    for x, y, wide, high in corners:
        points = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        rows.append(polyline(points, closed=True))
    return build_arrangement(
        linework_from_segments(np.vstack(rows), 100, 100), page_edge="open"
    )


def test_faces_are_as_broad_as_twice_their_area_by_their_outline() -> None:
    arrangement = boxes((5, 5, 20, 6), (40, 40, 10, 10))
    chains = told(readings([4.0]), [0], arrangement=arrangement)
    face = arrangement.faces_at(np.array([[10.0, 8], [45, 45]]))
    assert chains._breadth()[face] == pytest.approx([2 * 120 / 52, 5])
    assert chains._breadth()[0] == 0


def test_a_face_beside_others_lies_beside_the_longest() -> None:
    # a square, a tall one on its left, low ones right and above; one far off
    arrangement = boxes(
        (40, 40, 10, 10), (30, 40, 10, 10), (50, 40, 10, 4), (40, 50, 6, 10),
        (80, 80, 5, 5),
    )  # fmt: skip
    square, left, right, above, far = arrangement.faces_at(
        np.array([[45.0, 45], [35, 45], [55, 42], [43, 55], [82, 82]])
    ).tolist()
    chains = told(readings([4.0]), [0], arrangement=arrangement)

    def beside(faces, *known):
        mask = np.isin(np.arange(arrangement.face_count), known)
        return [v.tolist() for v in chains._beside(np.array(faces), mask)]

    assert beside([square], left, right, above) == [[square], [left]]
    assert beside([square], right, above) == [[square], [above]]
    assert beside([square, left], right, square) == [
        sorted([square, left]),
        [right if f == square else square for f in sorted([square, left])],
    ]
    assert beside([far], left, square) == [[], []]


def test_faces_may_be_crossings_that_are_as_wide_both_ways_or_cut() -> None:
    # face 1 is 4 by 4.12, face 2 4 by 4.13, face 3 read one way, face 4 at a frame
    found = readings([4.0, 4.12, 4.0, 4.13, 4.0, 5.0, 4.0], face=[1, 1, 2, 2, 3, 4, 5])
    node = np.arange(7) == 6
    chains = told(found, np.arange(7), node=node)
    chains.pieces.runs.outer[10] = True
    assert chains._may_be_crossings().tolist() == [
        True, True, False, False, False, True, True
    ]  # fmt: skip


def cloth(count, width, turn, shift, woven, gap=0.0, lines=(-0.5, 0.5), side=100.0):
    """Return rails of two families of bands that cross, cut by a square; and truth.

    Each of the second family goes over and under the first in turn, or all rails run
    through; `lines`: how far off the middles they run, in widths. The truth: middles
    of bands, beyond the square too.
    """
    centre, panel = np.array([side / 2, side / 2]), shapely.box(0, 0, side, side)
    ways = np.radians([turn, turn + 90])
    step = 20.0
    places = step * (np.arange(count) - (count - 1) / 2)
    rails, middles = [], []
    for family, way in enumerate(ways):
        along = np.array([np.cos(way), np.sin(way)])
        across = np.array([-along[1], along[0]])
        for i, place in enumerate(places + shift[family]):
            foot = centre + place * across
            middles.append(shapely.LineString([foot - 300 * along, foot + 300 * along]))
            # crossings along the band lie where the other family's places are
            signs = 1 if family else -1
            spots = sorted(
                (signs * (p + shift[1 - family]), j) for j, p in enumerate(places)
            )
            ends = [-300.0]
            for spot, j in spots:
                if woven and (i + j) % 2 == family:
                    half = width / 2 + gap
                    ends += [spot - half, spot + half]
            ends.append(300.0)
            for off in width * np.array(lines):
                for a, b in zip(ends[::2], ends[1::2], strict=True):
                    p, q = (foot + off * across + t * along for t in (a, b))
                    cut = shapely.LineString([p, q]).intersection(panel)
                    if cut.length > 1e-6:
                        rails.append(np.array(cut.coords).reshape(-1))
    frame = polyline([(0, 0), (side, 0), (side, side), (0, side)], closed=True)
    return np.vstack([rails, frame]), middles


@pytest.mark.parametrize("woven", [True, False])
@pytest.mark.parametrize("inner", [(), (0.0,), (-1 / 6, 1 / 6)])
@pytest.mark.parametrize(("turn", "shift"), [
    (0.0, (0.0, 0.0)), (0.0, (3.0, 1.0)), (20.0, (2.0, -1.0)), (33.0, (0.0, 4.0)),
])  # fmt: skip
def test_every_face_of_a_cloth_is_of_its_band(turn, shift, inner, woven) -> None:
    width = 6.0
    rails, lines = cloth(5, width, turn, shift, woven, lines=(-0.5, *inner, 0.5))
    middles = [m.intersection(shapely.box(0, 0, 100, 100)) for m in lines]
    regions = build_arrangement(linework_from_segments(rails, 100, 100))
    bands = find_bands(regions, width=None if woven else width)
    assert bands is not None
    assert bands.sure
    assert len(bands.strands) == len(lines)
    crossed = [
        (a, b)
        for a in range(len(middles))
        for b in range(a)
        if middles[a].intersects(middles[b]) and (a < 5) != (b < 5)
    ]
    assert bands.crossings == len(crossed)
    length = sorted(m.length for m in middles)
    # strands stand by falling length; what a frame cuts aslant is nearly as long
    found = [round(s.length, 6) for s in bands.strands]
    assert found == sorted(found, reverse=True)
    assert sorted(found) == pytest.approx(length, rel=0.1)
    whole = sum(x > 90 for x in length)
    assert whole >= 6
    assert sorted(found)[-whole:] == pytest.approx(length[-whole:], rel=0.02)
    assert [s.width for s in bands.strands] == pytest.approx([width] * len(lines))
    assert not any(s.closed for s in bands.strands)
    cut = shapely.intersects(regions.polygons(), shapely.box(0, 0, 100, 100).exterior)
    # which bands lie over every face; all faces of a strand have one in common
    of = {}
    for face in range(1, regions.face_count):
        spot = shapely.Point(regions.witness[face])
        over = [k for k, m in enumerate(lines) if m.distance(spot) < width / 2]
        if regions.area[face] < 0.05 * width**2:
            continue
        told_of = [GROUND, BAND, BAND if woven else CROSSING][len(over)]
        if cut[face - 1] and told_of == CROSSING:
            # which two go through what a frame leaves is not always told
            assert bands.part[face] != GROUND
            told_of = bands.part[face]
        assert bands.part[face] == told_of
        if not over:
            assert bands.strand[face] == -1
        elif woven or len(over) == 1:
            strand = int(bands.strand[face])
            of[strand] = of.get(strand, set(over)) & set(over)
    assert sorted(of) == list(range(len(lines)))
    assert {min(v) for v in of.values()} == set(range(len(lines)))
    assert all(len(v) == 1 for v in of.values())
    # both strands of a crossing, by number
    for face, one, other in bands.through.tolist():
        spot = shapely.Point(regions.witness[face])
        over = {k for k, m in enumerate(lines) if m.distance(spot) < width / 2}
        assert one < other
        if regions.area[face] >= 0.05 * width**2:
            assert of[one] | of[other] == over
    if woven:
        assert len(bands.through) == 0


@pytest.mark.parametrize(("level", "upright", "sure"), [
    # four crossings are strapwork, three are a question, and two of one strand none
    (2, 2, True), (1, 4, True), (1, 3, False), (3, 1, False),
])  # fmt: skip
def test_strapwork_has_four_crossings(level, upright, sure) -> None:
    rows = []
    for family, (count, crossed) in enumerate([(level, upright), (upright, level)]):
        for i in range(count):
            ends = [0.0]
            for j in range(crossed):
                if (i + j) % 2 == family:
                    ends += [20 * j + 17.0, 20 * j + 23.0]
            ends.append(20.0 * crossed + 20)
            for off in (17.0, 23.0):
                for a, b in zip(ends[::2], ends[1::2], strict=True):
                    y = 20 * i + off
                    rows.append([y, a, y, b] if family else [a, y, b, y])
    wide, high = 20.0 * upright + 20, 20.0 * level + 20
    frame = polyline([(0, 0), (wide, 0), (wide, high), (0, high)], closed=True)
    work = linework_from_segments(np.vstack([rows, frame]), wide, high)
    bands = find_bands(build_arrangement(work))
    assert bands is not None
    assert bands.crossings == level * upright
    assert bands.sure == sure
    # with their width told, all are
    told_so = find_bands(build_arrangement(work), width=6.0)
    assert told_so.sure
    assert told_so.crossings == level * upright
    assert find_bands(build_arrangement(work), width=7.2) is None


def test_a_drawing_of_two_regions_has_no_bands() -> None:
    rows = np.vstack([polyline([(0, 0), (9, 0), (9, 9), (0, 9)], True), [[4, 0, 4, 9]]])
    work = linework_from_segments(rows, 10, 10)
    assert find_bands(build_arrangement(work)) is None


def crosses(count):
    """Return a row of crosses of two bands 6 mm wide, the level one on top."""
    rows = []
    for k in range(count):
        x, y = 40.0 * k + 50, 50.0
        left, right, low, high = x - 15, x + 15, y - 15, y + 15
        rows += polyline(
            [(left, y - 3), (right, y - 3), (right, y + 3), (left, y + 3)], True
        ).tolist()
        for a, b in ((low, y - 3), (y + 3, high)):
            rows += [[x - 3, a, x - 3, b], [x + 3, a, x + 3, b]]
        rows += [[x - 3, low, x + 3, low], [x - 3, high, x + 3, high]]
    wide = 40.0 * count + 60
    frame = polyline([(0, 0), (wide, 0), (wide, 100), (0, 100)], closed=True)
    work = linework_from_segments(np.vstack([rows, frame]), wide, 100)
    return build_arrangement(work)


def test_bands_that_cross_once_in_many_places_are_strapwork() -> None:
    for count, sure in ((4, True), (3, False), (1, False)):
        bands = find_bands(crosses(count))
        if count == 1:  # of one crossing nothing is asked
            assert bands is None
            continue
        assert bands.sure == sure
        assert bands.crossings == count
        assert len(bands.strands) == 2 * count
        assert [s.length for s in bands.strands] == pytest.approx([30.0] * 2 * count)
