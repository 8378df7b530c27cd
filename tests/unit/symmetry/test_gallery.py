"""Panels of the gallery on which one rule alone decides; groups by construction."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Operation, Symmetry
from fillwork.symmetry.zones.fewer import kept_by_regions, shares_kept
from fillwork.symmetry.zones.proof import own_symmetry, with_doubt_of_regions
from fillwork.symmetry.zones.turned import with_doubt_about
from tests.bench.gallery import Found, draw_and_find
from tests.bench.panels_drawn import Work, make_panel
from tests.unit.helpers import circle, line, linework_from_curves


def found_in(case: str, seed: int, noise: float = 0.0, *, other: bool = False) -> Found:
    return draw_and_find(make_panel(case, seed, noisy=noise > 0), noise, other=other)


def sure(found: Found, group: str, role: str) -> int:
    return sum(
        z.symmetry.certain and z.symmetry.group.short == group and z.role == role
        for z in found.zones
    )


@pytest.mark.parametrize("noise", [0.0, 0.005])
def test_rows_that_a_line_of_the_field_parts_from_it_are_the_fields(
    noise: float,
) -> None:
    # gables in rows, whose lines run from side to side of the frame
    found = found_in("border:ring chain", 21, noise)
    field = found.zones[0]
    assert field.symmetry.group.short == "pm"
    assert field.symmetry.certain
    # three rows of 9, cut ones above and below: 88 regions by counting
    assert len(field.faces) == 88
    assert sure(found, "p2mm", "border") == 4


@pytest.mark.parametrize("other", [False, True])
def test_figures_nearer_one_rail_have_no_mirror_along_the_strip(*, other: bool) -> None:
    # tulips that are all but circles, standing on the inner rail
    found = found_in("border:tulips", 22, other=other)
    assert sure(found, "p1m1", "border") == 4


def test_a_side_is_parted_from_corner_squares_that_hang_together_with_it() -> None:
    found = found_in("border:saw", 22)
    assert sure(found, "p1", "border") == 4
    assert sure(found, "D1", "corner") == 4


def test_a_row_beside_regions_in_doubt_that_repeat_with_it_is_in_doubt() -> None:
    # rows of bricks that three medallions cut
    found = found_in("three medallions", 21)
    assert sure(found, "p2mm", "border") == 0
    assert found.score.sure_and_wrong == 0


def test_regions_are_kept_where_they_lie_as_an_operation_lays_them() -> None:
    # right-angled triangles, all alike: their mirror images have their areas and places
    rows = [line(0, 0, 80, 0), line(80, 0, 80, 12), line(80, 12, 0, 12)]
    rows.append(line(0, 12, 0, 0))
    for x in range(5, 75, 10):
        rows += [line(x, 3, x + 8, 3), line(x + 8, 3, x, 8), line(x, 8, x, 3)]
    arrangement = build_arrangement(linework_from_curves(rows, 100, 30))
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    teeth = faces[arrangement.area[faces] < 100]
    assert len(teeth) == 7
    found = find_symmetry(arrangement, teeth, stated="frieze:p1", loose_lines=False)
    at = 2 * (5 + 8 / 3)  # the mirror goes through the middle of the first
    flip = Operation((-1.0, 0.0, 0.0, 1.0, at, 0.0), "reflection", 2)
    more = replace(found, operations=(*found.operations, flip))
    kept = shares_kept(arrangement, measure_faces(arrangement), teeth, teeth, more)
    assert kept.tolist() == [1.0, 0.0]


@pytest.mark.parametrize(
    ("rhombi", "bars", "certain"), [(5, 2, False), (5, 3, True), (17, 4, True)]
)
def test_a_strip_keeps_no_mirror_that_loses_all_of_a_row(
    rhombi: int, bars: int, *, certain: bool
) -> None:
    # rhombi keep it, and slanted bars between them turn by half alone
    end = 10 * rhombi + 10
    rows = [line(0, 0, end, 0), line(end, 0, end, 12), line(end, 12, 0, 12)]
    rows.append(line(0, 12, 0, 0))
    shapes = [((-3, 0), (0, -4), (3, 0), (0, 4), 10 * k + 10) for k in range(rhombi)]
    shapes += [((0, -4), (2, -4), (0, 4), (-2, 4), 10 * k + 15) for k in range(bars)]
    for *corners, at in shapes:
        for (x, y), (u, v) in zip(corners, corners[1:] + corners[:1], strict=True):
            rows.append(line(at + x, 6 + y, at + u, 6 + v))
    arrangement = build_arrangement(linework_from_curves(rows, end + 10, 30))
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    faces = faces[arrangement.area[faces] < 100]
    assert len(faces) == rhombi + bars
    whole = find_symmetry(arrangement, faces, stated="frieze:p2mm", loose_lines=False)
    whole = replace(whole, certain=True, reason="")
    found = kept_by_regions(arrangement, measure_faces(arrangement), faces, whole)
    assert found.group.short == "p2"
    assert found.certain == certain


@pytest.mark.parametrize("seed", [3, 4])
def test_bars_between_mitres_are_a_strip(seed: int) -> None:
    # slanted bars from rail to rail, off by 0.01 mm, slide along themselves
    rng = np.random.default_rng(seed)
    wide = shapely.Polygon([(0, 0), (130, 0), (118, 12), (12, 12)])
    corners = shapely.get_coordinates(wide)
    rows = [line(*p, *q) for p, q in pairwise(corners.tolist())]
    for k in range(1, 29):
        a, b = 5 * k - 1.3 + rng.normal(0, 0.01, 2)
        bar = wide.intersection(shapely.LineString([(a, 0), (b + 3.6, 12)]))
        if len(ends := shapely.get_coordinates(bar)) == 2:
            rows.append(line(*ends[0], *ends[1]))
    arrangement = build_arrangement(linework_from_curves(rows, 140, 30))
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    found = own_symmetry(arrangement, measure_faces(arrangement), faces)
    assert (found.group.family, found.group.short) == ("frieze", "p2")
    assert found.certain


def test_nothing_is_not_sure_where_a_shift_carries_a_third() -> None:
    # six circles in a row beside ten boxes that are all unlike
    rows = [circle(10.0 + 12 * k, 10.0, 4.0) for k in range(6)]
    rng = np.random.default_rng(3)
    for k in range(10):
        x, y = 8.0 + 7 * k, 24.0 + rng.uniform(0, 6)
        u, v = x + rng.uniform(2, 6), y + rng.uniform(2, 14)
        rows += [line(x, y, u, y), line(u, y, u, v), line(u, v, x, v), line(x, v, x, y)]
    arrangement = build_arrangement(linework_from_curves(rows, 90, 60))
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    measures = measure_faces(arrangement)
    found = with_doubt_of_regions(arrangement, measures, faces, Symmetry(NO_GROUP))
    # five of sixteen are carried on; back and forth all six are
    assert not found.certain
    few = faces[np.abs(arrangement.area[faces] - np.pi * 16) > 0.1]
    assert with_doubt_of_regions(arrangement, measures, few, Symmetry(NO_GROUP)).certain


@pytest.mark.parametrize("other", [False, True])
def test_figures_that_repeat_in_one_ground_make_a_side_a_strip(*, other: bool) -> None:
    # teeth on the outer rail between mitres, which cut two of them
    found = found_in("mitred:teeth out", 23, other=other)
    assert sure(found, "p1m1", "border") == 4


@pytest.mark.parametrize("other", [False, True])
def test_bars_with_hooks_turned_by_half_are_sure_of_no_mirror(*, other: bool) -> None:
    # 86 % of the lines lie where mirrors along and across would lay them
    found = found_in("border:bars", 31, other=other)
    assert sure(found, "p2", "border") == 4


def test_corner_pieces_that_nearly_turn_by_a_quarter_are_not_sure_of_less() -> None:
    # two diagonals in a square: D4, whose ends a hand misses by a tenth
    rows = [line(0, 0, 20, 0), line(20, 0, 20, 20), line(20, 20, 0, 20)]
    rows += [line(0, 20, 0, 0), line(0, 0, 20, 20), line(0, 20, 20, 0)]
    arrangement = build_arrangement(linework_from_curves(rows, 30, 30))
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    measures = measure_faces(arrangement)
    both = find_symmetry(arrangement, faces, stated="rosette:D2", loose_lines=False)
    assert not with_doubt_about(
        arrangement, measures, faces, replace(both, stated=False)
    ).certain


def test_a_field_lets_go_leaves_of_the_border_that_fell_in_with_it() -> None:
    # the line between was not seen for the wave along it
    found = found_in("border:leaves", 34, 0.005)
    assert found.score.sure_and_wrong == 0
    assert sure(found, "p11g", "border") == 4


def test_a_piece_that_the_frame_cuts_off_a_field_stays_with_it() -> None:
    # a disc whose quarter the inner frame cuts off: most of its outline is that line
    found = found_in("mitred:ring chain", 702, 0.005)
    assert found.score.wrong == []
    # rings: five on an upright side and halves at both ends, and the ground
    assert sorted(len(z.faces) for z in found.zones if z.role == "border")[:2] == [8, 8]


def test_a_triangle_of_rows_beside_a_field_goes_with_its_rows() -> None:
    # two rows of lozenges are a pattern too, and halves of them lie on the inner frame
    found = found_in("mitred:two rows", 703, 0.01)
    assert found.score.wrong == []
    assert sure(found, "p2mm", "border") == 4


def test_a_side_that_is_sure_lets_go_of_corners_that_do_not_repeat_in_it() -> None:
    # the ground about a circle in each corner square, at both ends of a row of teeth
    found = found_in("border:teeth out", 502, 0.005)
    assert found.score.sure_and_wrong == 0


def test_a_few_rings_of_a_field_in_pieces_are_not_sure_of_their_own_turns() -> None:
    # discs that touch in an exact field, and miss or cross each other in this
    found = found_in("border:teeth", 502, 0.005)
    assert found.score.sure_and_wrong == 0


def test_a_sliver_at_a_line_across_a_side_keeps_no_corner_with_it() -> None:
    # a corner of the line is off: what it cuts off is a piece more than side and ends
    found = found_in("border:leaves", 642, 0.005)
    assert (sure(found, "p11g", "border"), sure(found, "D4", "corner")) == (4, 4)
    assert found.score.sure_and_wrong == 0


def test_petals_of_a_flower_field_in_pieces_are_not_sure_of_their_turns() -> None:
    # circles of an exact field, each through six others' middles, look like frames
    found = found_in("border:ring chain", 501)
    assert found.score.sure_and_wrong == 0


@pytest.mark.parametrize(
    ("case", "seed", "noise", "group"),
    [
        # arcs that all but touch the inner rail share an edge with it
        ("border:crossing arcade", 602, 0.005, "p1m1"),
        # strands run some way along both rails, which are no longer for it
        ("border:rope", 602, 0.005, "p2"),
        # a row of the field lies a tenth of a region from the rail
        ("mitred:teeth", 602, 0.005, "p1m1"),
        # rows of the field lie as far apart as both rails
        ("mitred:lozenges", 602, 0.005, "p2mm"),
        # rails without gaps among broken rows of the field, as far apart by chance
        ("mitred:wave and circles", 604, 0.0, "p2mg"),
        # two rows between rails, whose lines would agree with a plane pattern
        ("border:two rows", 604, 0.0, "p2mm"),
        # circles of one size in a border, and such as make the field
        ("mitred:ring chain", 601, 0.0, "p2mm"),
        ("corner:cross", 601, 0.0, "p1"),
        # courses as far from each other as the last of them from the frame
        ("mitred:saw", 712, 0.005, "p1"),
        ("mitred:chevrons", 712, 0.005, "p11m"),
        # rows of houses whose repeat is that of the border beside them
        ("mitred:two rows", 722, 0.01, "p2mm"),
        # a border in one piece, whose rows above and below repeat together
        ("butted", 751, 0.005, "p1m1"),
        # specks where leaves touch their wave, which no glide keeps
        ("border:leaves", 753, 0.0, "p11g"),
    ],
)
def test_lines_of_a_frame_are_told_from_what_touches_and_resembles_them(
    case: str, seed: int, noise: float, group: str
) -> None:
    found = found_in(case, seed, noise)
    assert sure(found, group, "border") == 4
    assert found.score.sure_and_wrong == found.score.none_and_sure == 0
    assert found.zones[0].role == "field"
    assert found.zones[0].symmetry.certain


@pytest.mark.parametrize(
    ("case", "seed", "noise"),
    [
        # rings about each other, each off its place: one mirror goes through them
        ("corner:two circles", 603, 0.01),
        # specks where petals meet
        ("border:two rows of teeth", 603, 0.01),
        # a side with both of its corners, whose lines circles touch
        ("border:circles", 603, 0.01),
        # scales of which the frame cuts most
        ("plain mitres", 602, 0.005),
        # two medallions lie on a shift of the drawing
        ("three medallions", 602, 0.005),
        # a field with one side of its border: it repeats along both as that side does
        ("mitred:circles", 704, 0.005),
        # one of four corner stars whose small corners are off by a tenth shows nothing
        ("border:teeth", 662, 0.01),
        # ends of two sides that a mitre and lines across part from them
        ("mitred:checks", 761, 0.005),
    ],
)
def test_what_misses_leave_is_not_sure(case: str, seed: int, noise: float) -> None:
    found = found_in(case, seed, noise)
    assert found.score.sure_and_wrong == found.score.none_and_sure == 0


def test_a_field_of_a_thousand_cells_shows_its_shortest_shift() -> None:
    # hexagons in a plain frame: the grid lays other shifts nearer to its places
    work = Work("hexagons", 2, noisy=False)
    x, y = work.wide, work.tall
    inner = (16.0, 16.0, x - 16, y - 16)
    work.draw_box(work.whole)
    work.draw_box(inner)
    work.fill(shapely.box(*inner), "hexagons", 900.0, at=(x / 2, y / 2))
    field = draw_and_find(work).zones[0].symmetry
    assert field.group.short == "p6m"
    assert field.certain


def field_between_corners(seed: int, part: float) -> tuple[Work, shapely.Geometry]:
    """Return a box with empty squares at its corners, and the rest of it.

    `part`: the side of each, in the height of the box.
    """
    work = Work("corners", seed, noisy=False)
    work.draw_box(work.whole)
    side, rest = part * work.tall, shapely.box(*work.whole)
    for x in (0.0, work.wide - side):
        for y in (0.0, work.tall - side):
            work.draw_box((x, y, x + side, y + side))
            rest = rest.difference(shapely.box(x, y, x + side, y + side))
    return work, rest


def test_empty_corner_squares_are_none_of_the_field() -> None:
    work, rest = field_between_corners(4, 0.22)
    work.fill(rest, "octagons", 60.0)
    found = draw_and_find(work)
    assert found.score.right == found.score.regions
    assert sure(found, "p4m", "field") == 1


def test_empty_squares_at_corners_of_coarse_hexagons_are_none_of_them() -> None:
    # too short for lines of a frame, and smaller than a cell
    work, rest = field_between_corners(1, 0.18)
    work.fill(rest, "hexagons", 0.9 * rest.area / (0.18 * work.tall) ** 2)
    found = draw_and_find(work)
    assert found.score.right == found.score.regions
    assert sure(found, "p6m", "field") == 1


def test_the_ground_of_a_border_is_told_beside_a_line_that_runs_on() -> None:
    # beads beside a coarse field: the inner lines run through the corner squares
    work = Work("coarse", 2, noisy=False)
    work.wide, work.tall = 330.0, 180.0
    inner = work.border(work.whole, 16.0, "beads", "circle")
    work.fill(shapely.box(*inner), "octagons", 18.0, spin=0.35)
    assert sure(draw_and_find(work), "p2mm", "border") == 4
