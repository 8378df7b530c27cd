"""Where pieces lie in whole regions under operations, and names beside neighbours."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fillwork.symmetry.kinds import pieces
from fillwork.symmetry.kinds.names import make_unique
from fillwork.symmetry.quotient import quotient_of
from tests.unit.symmetry.test_small_panels import plane, turned
from tests.unit.symmetry.test_zone_faces import along_x
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

TENS = quotient_of(plane("p1", 10.0, (0.0, 0.0)))
HALVES = quotient_of(plane("p2", 10.0, (0.0, 0.0)))
ALONG = quotient_of(along_x("p1", 10.0, (0.0, 0.0)))
ALONE = quotient_of(NOTHING)
# two regions of a cell of 10 mm: its left half, and its right half a repeat up
WHOLE = np.array([shapely.box(0, 0, 5, 10), shapely.box(5, 10, 10, 20)])


def covered(points, piece, quotient=TENS, whole=WHOLE):
    cover = pieces.cover_of(np.array(points, float), np.array(piece), whole, quotient)
    rows = zip(cover.piece, cover.operation, cover.whole, cover.share, strict=True)
    return [(int(p), int(o), int(w), round(float(s), 9)) for p, o, w, s in rows]


def test_points_of_pieces_lie_in_whole_regions() -> None:
    # three quarters in the left half, one in the right, wherever on the page
    points = [(31, 42), (32, 44), (-17, 3), (38, 41)]
    assert covered(points, [0] * 4) == [(0, 0, 0, 0.75), (0, 0, 1, 0.25)]
    assert covered(points, [0, 0, 1, 1]) == [
        (0, 0, 0, 1.0),
        (1, 0, 0, 0.5),
        (1, 0, 1, 0.5),
    ]
    # a half turn about the corner lays what is left on the right
    assert covered(points, [0] * 4, HALVES) == [
        (0, 0, 0, 0.75),
        (0, 0, 1, 0.25),
        (0, 1, 0, 0.25),
        (0, 1, 1, 0.75),
    ]
    # along a strip what lies above it is in none
    assert covered(points, [0] * 4, ALONG) == [(0, 0, 0, 0.25)]
    assert covered([(1, 1), (6, 12)], [0, 1], ALONE) == [(0, 0, 0, 1.0), (1, 0, 1, 1.0)]
    assert covered(np.zeros((0, 2)), []) == []
    assert covered(points, [0] * 4, whole=WHOLE[:0]) == []


def test_copies_of_regions_reach_into_the_cell() -> None:
    copies, whole = pieces._copies_over_cell(WHOLE, TENS)
    inside = shapely.area(shapely.intersection(copies, shapely.box(0, 0, 10, 10)))
    # each covers its half of the cell by its copies
    for row in (0, 1):
        assert inside[whole == row].sum() == pytest.approx(50)
    assert np.allclose(shapely.area(copies), 50)
    # one of three cells in a row, and of two along a strip
    long = np.array([shapely.box(12, 3, 38, 7)])
    copies, whole = pieces._copies_over_cell(long, TENS)
    inside = shapely.area(shapely.intersection(copies, shapely.box(0, 0, 10, 10)))
    assert inside.sum() == pytest.approx(26 * 4)
    copies, _ = pieces._copies_over_cell(long, ALONG)
    inside = shapely.area(shapely.intersection(copies, shapely.box(0, 0, 10, 10)))
    assert inside.sum() == pytest.approx(26 * 4)
    copies, whole = pieces._copies_over_cell(long, ALONE)
    assert (copies is long, whole.tolist()) == (True, [0])
    # of many some, spread over all
    wide = np.array([shapely.box(0, 0, 1000, 1000)])
    copies, _ = pieces._copies_over_cell(wide, TENS, 50.0)
    assert 30 < len(copies) < 70
    corners = shapely.bounds(copies)[:, :2]
    assert np.allclose(corners, 10 * np.rint(corners / 10))
    assert (np.ptp(corners, axis=0) > 700).all()


def test_points_lie_as_deep_as_their_middle_image() -> None:
    points = np.array([[2.0, 5], [22, 33], [6, 1], [5, 5], [0.5, 0.5]])
    told = pieces.depth_inside(points, WHOLE, TENS)
    # 2 mm from an edge, as a repeat on; 1 mm; on the edge between both
    assert told == pytest.approx([2, 2, 1, 0, 0.5])
    # of two images the deeper: a half turn lays (1, 5) at (9, 5)
    told = pieces.depth_inside(np.array([[1.0, 5]]), WHOLE, HALVES)
    assert told == pytest.approx([1])
    left = pieces.depth_inside(np.array([[1.0, 5], [7, 5]]), WHOLE[:1], HALVES)
    assert left == pytest.approx([1, 2])
    # of several the median, of two the larger: 1 and 2 mm in squares over each other
    both = np.array([shapely.box(0, 0, 9, 9), shapely.box(1, 1, 9, 9)])
    told = pieces.depth_inside(np.array([[2.0, 5]]), both, ALONE)
    assert told == pytest.approx([2])
    three = np.append(both, shapely.box(1.5, 1, 9, 9))
    assert pieces.depth_inside(np.array([[2.0, 5]]), three, ALONE) == pytest.approx([1])
    assert pieces.depth_inside(points, WHOLE[:0], TENS).tolist() == [0] * 5


def inner(edges, *, points=((31, 42), (32, 44)), quotient=TENS, operation=0, slack=0.5):
    return pieces.inner_share(
        np.array(points, float),
        np.array(edges, float).reshape(-1, 2),
        WHOLE[0],
        quotient,
        operation,
        slack,
    )


def test_edges_of_a_piece_run_inside_its_whole_region() -> None:
    # 31 to 35 mm and 40 to 50 mm are the left half, three repeats on and four up
    assert inner([(30, 45), (35, 45), (32, 40), (33, 50)]) == 0
    assert inner([(32, 45), (35, 45), (32, 40), (33, 46)]) == 0.5
    for deep, told in ((0.51, 1), (0.49, 0)):
        assert inner([(30 + deep, 45)]) == told
    # what lies beyond it does not run inside
    assert inner([(37, 45), (32, 55)]) == 0
    assert inner([]) == 0
    # laid by a half turn
    mine = {"points": [(-31, -42), (-32, -44)], "quotient": HALVES, "operation": 1}
    assert inner([(-32, -45), (-37, -45)], **mine) == 0.5
    # by the translation that lays most points into it
    most = [(36, 42), (38, 44), (39, 46), (41, 42), (42, 48), (43, 45), (44, 46)]
    assert inner([(42, 45), (32, 45)], points=most) == 0.5
    alone = {"points": [(2, 3)], "quotient": ALONE}
    assert inner([(2, 3), (9, 9)], **alone) == 0.5


def test_points_are_spread_over_regions() -> None:
    drawing = grid([0.0, 40, 40.3, 80], [0.0, 30])
    faces = drawing.faces_at(np.array([[20.0, 15], [40.15, 15], [60, 15]]))
    points, row = pieces.sample_points(drawing, faces)
    assert (np.diff(row) >= 0).all()
    polygons = drawing.polygons(faces)
    assert all(
        shapely.contains_xy(polygons[k], *p) for k, p in zip(row, points, strict=True)
    )
    for k, face in enumerate(faces):
        own = points[row == k]
        assert (own == drawing.witness[face]).all(axis=1).any()
        assert pieces._POINTS // 2 <= len(own) <= pieces._POINTS + 1
        # over all of its height
        assert np.ptp(own[:, 1]) > 20


def test_sides_that_turns_carry_to_where_no_line_is_cut_a_rosette() -> None:
    # a square of four squares, about whose middle half turns carry its outer sides onto
    # lines, and two more on its right
    drawing = grid([0.0, 10, 20, 30], [0.0, 10, 20])
    faces = np.arange(1, 7, dtype=np.int32)
    measures = np.flatnonzero(drawing.face[np.arange(len(drawing.face)) ^ 1] == 0)
    sides = measures[drawing.face[measures] > 0]
    half = quotient_of(turned(2, None, (10.0, 10.0)))

    def cut(quotient):
        found = pieces.cutting_sides(drawing, faces, sides, quotient, 0.0)
        x = drawing.vertices[drawing.origin[np.stack([found, found ^ 1])], 0]
        return sorted(x.mean(axis=0).tolist())

    # beyond 20 mm they lay them to where nothing is
    assert cut(half) == [25, 25, 30, 30]
    # about a point 2 mm on the left side comes to lie at 24 mm, within a square
    assert cut(quotient_of(turned(2, None, (12.0, 10.0)))) == [0, 0, 25, 25, 30, 30]
    quarter = quotient_of(turned(4, None, (10.0, 10.0)))
    left = cells(drawing, 0, 0, 20, 20)
    own = sides[np.isin(drawing.face[sides], left)]
    assert len(pieces.cutting_sides(drawing, left, own, quarter, 0.0)) == 0
    assert pieces.cutting_sides(drawing, faces, sides, ALONE, 0.0) is sides
    assert len(pieces.cutting_sides(drawing, faces, sides[:0], half, 0.0)) == 0


def test_names_of_one_size_are_told_by_neighbours_or_numbers() -> None:
    def told(base, area, neighbours=None):
        near = [[] for _ in base] if neighbours is None else neighbours
        return make_unique(base, np.array(area, float), near)

    # two or three sizes have words, four none
    assert told(["kite"] * 2, [9, 1]) == ["large kite", "small kite"]
    assert told(["kite"] * 4, [27, 9, 3, 1]) == [f"kite {k}" for k in range(1, 5)]
    assert told(["kite"] * 3, [9, 9, 1]) == [
        "large kite 1",
        "large kite 2",
        "small kite",
    ]
    # what is told by its size alone tells its neighbours
    near = [[], [(0, 1.0)], [(3, 1.0)], []]
    assert told(["kite", "leaf", "leaf", "kite"], [9, 5, 5, 1], near) == [
        "large kite",
        "leaf beside the large kite",
        "leaf beside the small kite",
        "small kite",
    ]
    # a neighbour that both touch tells neither, one that is not settled neither
    near = [[], [(0, 2.0)], [(0, 1.0), (3, 0.5)], []]
    assert told(["star", "leaf", "leaf", "kite"], [9, 5, 5, 1], near) == [
        "star",
        "leaf",
        "leaf beside the kite",
        "kite",
    ]
    # the longest side first
    near = [[(1, 1.0), (2, 3.0)], [], [], [(1, 0.0)][:0]]
    near[0].sort(key=lambda n: -n[1])
    assert told(["leaf", "star", "kite", "leaf"], [5, 9, 7, 5], near)[0] == (
        "leaf beside the kite"
    )
    # of more than forty none is asked
    for count, told_ in ((40, True), (41, False)):
        base = ["leaf"] * count + ["star"]
        near = [[(count, 1.0)], *[[] for _ in range(count)]]
        names = told(base, [5.0] * count + [50], near)
        assert (names[0] == "leaf beside the star") is told_
