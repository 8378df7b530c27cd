"""How a cell may go on, by the words for it: against lattices and tilings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.errors import PlanError, SymmetryError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.joins import make_motif
from fillwork.laying.left_out import _alike
from fillwork.laying.model import Cell
from fillwork.laying.open_joins import find_open_joins
from fillwork.laying.sectors import _STRIPS, ways_of_rosette
from fillwork.laying.ways import check_way, find_ways, turned_group, way_number

SQUARE = np.array([[0.0, 0], [40, 0], [40, 40], [0, 40]])
AWAY = np.array([50.0, 60.0])
SLANTED = np.array([[10.0, 5], [50, 15], [60, 45], [20, 35]])
HEXAGON = 20 * np.array(
    [[math.cos(k * math.pi / 3), math.sin(k * math.pi / 3)] for k in range(6)]
)


def same_lattice(one: np.ndarray, two: np.ndarray) -> bool:
    there, back = one @ np.linalg.inv(two), two @ np.linalg.inv(one)
    return all(np.allclose(m, np.rint(m), atol=1e-6) for m in (there, back))


def turned(points: np.ndarray, angle: float) -> np.ndarray:
    return affine.apply(affine.rotation(angle), points)


@pytest.mark.parametrize(
    "by",
    [
        "",
        "shifts",
        "Mirrors ",
        "border",
        "turns",
        "turns 2",
        "turns 360",
        "drop",
        "drop 1/3",
        "brick 0.25",
        "brick .5",
        "shifts 30,0 -1.5,.5",
        "shifts +3.,4 5,-6",
        "mirrors way 2",
        "way 12",
    ],
)
def test_words_for_ways_are_understood(by: str) -> None:
    check_way(by)


@pytest.mark.parametrize(
    "by",
    [
        "shift",
        "shifts 30 40",
        "shifts 1,2",
        "drop 1/0",
        "drop 1.5",
        "turns 1",
        "turns 361",
        "turns -3",
        "brick 1:2",
        "way",
        "mirrors 2",
    ],
)
def test_other_words_are_refused_with_those_that_serve(by: str) -> None:
    with pytest.raises(PlanError, match="not understood") as refused:
        check_way(by)
    assert "say shifts" in refused.value.mend


def test_numbers_and_turns_are_taken_out_of_words() -> None:
    assert way_number("Mirrors way 2 ") == ("mirrors", 2)
    assert way_number("way 13") == ("", 13)
    assert way_number("turns 4") == ("turns 4", None)
    # turns by a half, a third, a quarter and a sixth go on in the plane
    told = [turned_group(f"turns {n}") for n in (2, 3, 4, 5, 6, 7, 12)]
    assert told == ["", "", "", "rosette:C5", "", "rosette:C7", "rosette:C12"]
    assert turned_group("turns 10 way 2") == "rosette:C10"
    assert turned_group("turns") == ""


@pytest.mark.parametrize("angle", [0.0, 0.2])
@pytest.mark.parametrize("outline", [SQUARE, SLANTED, HEXAGON])
def test_shifts_carry_a_cell_beside_itself_without_gap_or_overlap(outline, angle):
    cell = turned(outline, angle)
    (way,) = find_ways(cell, "shifts", "", slack=0.01)
    assert way.name == "shifts"
    assert way.miss == pytest.approx(0, abs=1e-9)
    area = shapely.Polygon(cell).area
    assert abs(np.linalg.det(way.basis)) == pytest.approx(area)
    for step in way.basis:
        beside = shapely.Polygon(cell + step)
        own = shapely.Polygon(cell)
        assert beside.intersection(own).area < 1e-6
        # a whole side in common: grown by a hundredth they overlap all along it
        overlap = beside.buffer(0.01).intersection(own).area
        assert overlap > 0.01 * 19


def test_stated_shifts_are_taken_as_they_are() -> None:
    (way,) = find_ways(SQUARE, "shifts 30,0 -1.5,20", "", slack=0.01)
    assert way.basis.tolist() == [[30, 0], [-1.5, 20]]
    with pytest.raises(PlanError, match="lie on one line"):
        find_ways(SQUARE, "shifts 30,10 15,5", "", slack=0.01)
    with pytest.raises(
        SymmetryError, match=r"has 3 corners of 90\.0, 45\.0, 45\.0 degrees"
    ):
        find_ways(SQUARE[[0, 1, 3]], "shifts", "", slack=0.01)


# columns that fall by a share of the height, rows that slide by a share of the width
@pytest.mark.parametrize(
    ("by", "basis"),
    [
        ("drop", [[40, -20], [0, 40]]),
        ("drop 1/4", [[40, -10], [0, 40]]),
        ("drop 0.25", [[40, -10], [0, 40]]),
        ("brick", [[20, 40], [40, 0]]),
        ("brick 1/4", [[10, 40], [40, 0]]),
    ],
)
@pytest.mark.parametrize("first", range(4))
def test_drops_and_bricks(by: str, basis, first: int) -> None:
    ways = find_ways(np.roll(SQUARE, first, axis=0), by, "", slack=0.01)
    assert same_lattice(ways[0].basis, np.array(basis, float))
    # a half is the same either way, a quarter has a mirror image
    mirrored = np.array(basis, float) * [1, -1]
    assert len(ways) == (1 if same_lattice(mirrored, np.array(basis, float)) else 2)
    assert all(
        same_lattice(w.basis, np.array(b, float))
        for w, b in zip(ways, (basis, mirrored), strict=False)
    )
    with pytest.raises(SymmetryError, match="has 6 corners"):
        find_ways(HEXAGON, by, "", slack=0.01)


def test_a_turned_cell_may_drop_along_either_of_its_sides() -> None:
    # from five degrees on nothing says which side is upright
    for degrees, count in ((4.5, 1), (5.5, 2)):
        cell = turned(SQUARE, math.radians(degrees))
        ways = find_ways(cell, "drop", "", slack=0.01)
        assert len(ways) == count


def test_hands_draw_squares_and_hexagons_a_little_off() -> None:
    rng = np.random.default_rng(3)
    for outline, equal in ((SQUARE, 40.0), (HEXAGON, 20.0 * 3**0.5)):
        drawn = outline + rng.uniform(-0.3, 0.3, outline.shape)
        (way,) = find_ways(drawn, "shifts", "", slack=1.5)
        sizes = np.hypot(*way.basis.T)
        assert sizes[0] == pytest.approx(sizes[1], rel=1e-9)
        assert sizes == pytest.approx(np.full(2, equal), abs=0.5)
        cosine = way.basis[0] @ way.basis[1] / sizes.prod()
        assert abs(cosine) == pytest.approx(0 if len(outline) == 4 else 0.5, abs=1e-9)
        assert 0.05 < way.miss < 0.6
        # the map carries what was drawn near the outline that must be
        mended = affine.apply(way.mend, drawn)
        assert np.hypot(*(mended - way.outline).T).max() < 0.5
    # a rectangle, a rhombus and a slanted cell as even as they are
    wide = np.array([[0.0, 0], [60, 0.2], [60.2, 40], [-0.1, 40.1]])
    one, two = find_ways(wide, "shifts", "", slack=1.5)[0].basis
    assert one @ two == pytest.approx(0, abs=1e-9)
    assert math.hypot(*one) > math.hypot(*two) + 15
    (way,) = find_ways(SLANTED, "shifts", "", slack=1.5)
    assert way.basis.tolist() == [[40, 10], [10, 30]]
    off = SQUARE.copy()
    off[2] += 3
    with pytest.raises(
        SymmetryError, match=r"more than the 0\.50 mm allowed"
    ) as refused:
        find_ways(off, "shifts", "", slack=0.5)
    # half of the diagonal of 3 by 3 mm, shared by two corners
    assert "1.06 mm off" in str(refused.value)
    assert "--misfit 1.17" in refused.value.mend


@pytest.mark.reference("International Tables for Crystallography E, frieze groups")
@pytest.mark.parametrize(
    ("short", "part"),
    [(s, k) for s, parts in _STRIPS.items() for k in range(len(parts))],
)
@pytest.mark.parametrize("angle", [0.0, 1.1])
def test_parts_of_strips_fill_them_once(short: str, part: int, angle: float) -> None:
    # 30 mm of repeat and 20 of width, or the half of either
    shape = np.array(_STRIPS[short][part]) * [30, 10]
    cell = turned(shape, angle) + AWAY
    ways = find_ways(cell, "", f"frieze:{short}", slack=0.01)
    order = {"p1": 1, "p2mg": 4, "p2mm": 4}.get(short, 2)
    points = np.random.default_rng(1).uniform([0, -9.99], [30, 9.99], (200, 2))
    along = turned(np.array([[30.0, 0]]), angle)[0]
    fitting = []
    for way in ways:
        assert len(way.operations) == order
        assert len(way.basis) == 1
        steps = np.arange(-6, 7)[:, None, None] * way.basis[0]
        copies = np.concatenate(
            [affine.apply(g, way.outline) + steps for g in way.operations]
        )
        tree = shapely.STRtree(shapely.polygons(copies))
        at = shapely.points(turned(points, angle) + AWAY)
        hits = np.bincount(tree.query(at, predicate="within")[0], minlength=200)
        if np.allclose(np.abs(way.basis[0] @ along), 900) and (hits == 1).all():
            fitting.append(way.name)
    assert fitting
    assert set(fitting) == {f"frieze:{short}"}


def test_a_border_runs_along_the_longer_way_first() -> None:
    ways = find_ways(
        np.array([[0.0, 0], [30, 0], [30, 20], [0, 20]]), "border", "", slack=1
    )
    assert [np.abs(w.basis).tolist() for w in ways] == [[[30, 0]], [[0, 20]]]
    assert [w.name for w in ways] == ["border", "border"]
    with pytest.raises(SymmetryError, match="6 corners"):
        find_ways(HEXAGON, "border", "", slack=1)


@pytest.mark.parametrize(("name", "degrees"), [("C5", 72), ("D5", 36), ("C12", 30)])
def test_a_sector_may_be_off_by_what_its_rays_miss(name: str, degrees: float) -> None:
    n, mirrors = int(name[1:]), name[0] == "D"
    # rays of 50 mm: each is off by half of the angle's fault
    for fault, ways in ((0.0, 1), (0.019, 1), (0.021, 0), (-0.019, 1), (-0.021, 0)):
        angle = math.radians(degrees) + fault
        ray = 50 * np.array([[1, 0], [math.cos(angle), math.sin(angle)]])
        sector = np.vstack([[0, 0], ray]) + AWAY
        found = ways_of_rosette(n, mirrors, sector, slack=0.5)
        found = [w for w in found if np.hypot(*(w.outline[0] - AWAY)) < 1e-6]
        assert len(found) == ways
        for way in found:
            a, b = way.outline[1:] - AWAY
            exact = math.atan2(b[1], b[0]) - math.atan2(a[1], a[0])
            assert exact == pytest.approx(math.radians(degrees))
            assert way.miss == pytest.approx(abs(fault) / 2 * 50, abs=1e-9)
            # as many copies as the group has, which fill the turn once
            assert len(way.operations) == n * (2 if mirrors else 1)
            far = np.random.default_rng(0).uniform(-15, 15, (300, 2)) + AWAY
            tree = shapely.STRtree(
                shapely.polygons([affine.apply(g, way.outline) for g in way.operations])
            )
            hits = tree.query(shapely.points(far), predicate="within")[0]
            assert np.bincount(hits, minlength=300).tolist() == [1] * 300


def test_ends_left_open_are_shown_with_the_nearest_other_end() -> None:
    # a line that leaves 3 mm higher than it enters: both ends are left, one pair
    lines = np.array([[0.0, 20, 40, 23], [10, 5, 30, 5]])
    cell = Cell(Curves.from_segments(lines), np.zeros(2, np.int32), SQUARE, guided=True)
    (way,) = find_ways(SQUARE, "shifts", "", slack=0.5)
    motif = make_motif(cell, way, slack=0.5)
    assert sum(not m.closed for m in motif.misfits) == 2
    (join,) = find_open_joins(motif)
    assert join.apart == pytest.approx(3)
    assert join.side == pytest.approx(12)
    assert join.end == pytest.approx((6, 6))
    assert abs(join.end[1] - join.other[1]) == pytest.approx(3)
    assert join.end[0] == pytest.approx(join.other[0])
    # within the window the two parts of the line end where the cells meet
    ends = np.vstack([join.curves.starts(), join.curves.ends()])
    assert (np.hypot(*(ends - join.end).T) < 1e-6).sum() == 1
    # farther than the window shows there is none
    far = replace(cell, curves=Curves.from_segments(np.array([[0.0, 5, 20, 33]])))
    (lone,) = find_open_joins(make_motif(far, way, slack=0.5))
    assert lone.apart is None
    assert lone.other == lone.end


def test_corners_hold_the_same_however_they_are_turned() -> None:
    flag = shapely.Polygon([(-0.9, -0.9), (0.5, -0.9), (-0.9, 0.1)])
    leaf = shapely.box(0.1, 0.1, 0.8, 0.5)
    pieces = np.array([flag, leaf])
    for angle in (0, 90, 180, 270):
        for flip in (1, -1):
            image = [
                shapely.affinity.rotate(
                    shapely.affinity.scale(p, flip, 1, origin=(0, 0)),
                    angle,
                    origin=(0, 0),
                )
                for p in (leaf, flag)
            ]
            assert _alike(pieces, np.array(image))
    assert not _alike(pieces, pieces[:1])
    # a leaf of another size: its area may differ by a tenth
    for share, alike in ((0.04, True), (0.06, False)):
        wider = shapely.box(0.1 - 0.7 * share, 0.1, 0.8 + 0.7 * share, 0.5)
        assert _alike(pieces, np.array([flag, wider])) is alike
