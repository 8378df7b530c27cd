"""Frames, borders and medallions whose zones follow from how they were made."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones import mitres
from fillwork.symmetry.zones.fields import field_of
from fillwork.symmetry.zones.find import find_zones
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.repeats import shifts_of
from fillwork.symmetry.zones.sides import ring_pieces
from tests.bench.framed import (
    Panel,
    border,
    build_panel,
    fill,
    frieze,
    make_case,
    plain,
    put_field,
    score_panel,
)
from tests.unit.helpers import (
    Row,
    circle,
    line,
    linework_from_curves,
    linework_from_segments,
)
from tests.unit.symmetry.panels import touching_panel

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement


@pytest.mark.parametrize("width", [6.0])
def test_a_second_frame_line_leaves_the_pattern_as_it_is(width: float) -> None:
    panel = Panel(np.random.default_rng(3))
    inner = plain(panel, (0.0, 0.0, panel.wide, panel.tall), width, mitred=False)
    panel.box(*inner)
    put_field(panel, "twelve", shapely.box(*inner), repeats=6)
    arrangement, _ = build_panel(panel)
    zones = find_zones(arrangement)
    assert zones[0].symmetry.group.short == "p6m"
    assert zones[0].symmetry.certain
    # all but the strip
    assert len(zones[0].faces) == arrangement.face_count - 2
    assert len(find_orbits(arrangement, zones).orbits) < 20


def test_borders_within_each_other_are_zones() -> None:
    panel = Panel(np.random.default_rng(5))
    box = border(
        panel, (0, 0, 300, 220), 20, ("p2mm",) * 2, ("rhombi",) * 2, "pinwheel"
    )
    box = plain(panel, box, 5.0, mitred=True)
    box = border(panel, box, 16, ("p2mg",) * 2, ("zigzag",) * 2, "mitre")
    put_field(panel, "p4g", shapely.box(*box), repeats=30)
    arrangement, edge = build_panel(panel)
    zones = find_zones(arrangement)
    score = score_panel(panel, arrangement, edge, zones)
    assert score.right >= 0.97 * score.regions
    assert score.sure_and_wrong == 0


def test_a_border_of_lozenges_is_a_frieze() -> None:
    # half lozenges on both sides: the lines alone would fit a plane pattern
    panel = Panel(np.random.default_rng(2))
    box = border(panel, (0, 0, 300, 220), 20, ("p2mm",) * 2, ("lozenge",) * 2, "square")
    put_field(panel, "p4g", shapely.box(*box), repeats=30)
    arrangement, _ = build_panel(panel)
    found = [z.symmetry.group.short for z in find_zones(arrangement)]
    assert found.count("p2mm") == 4


@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_a_medallion_in_a_star_needs_no_frame_line(noise: float) -> None:
    panel = make_case("several", 1)
    arrangement, edge = build_panel(panel, noise)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.93 * score.regions


# pieces in the corners turn less often than the medallion; lines between three
# fields stand as far apart as rows of a pattern
@pytest.mark.parametrize("case", ["spandrels", "side by side"])
def test_what_shares_a_frame_is_told_apart(case: str) -> None:
    panel = make_case(case, 12000)
    arrangement, edge = build_panel(panel)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.97 * score.regions
    assert score.sure_and_wrong == 0


# rings of a rosette thrice there, a field that a medallion or bar parts, and
# sides parted along a chain in their middle or nearly of one length, scraps of a field
# beside a star, rows of a border above and below a field of few cells, a wheel within
# the whirl about it, rows of a field between its mirrors: what a part shows is not the
# truth
@pytest.mark.parametrize(
    ("case", "seed", "noise"),
    [
        ("several", 61006, 0.0),
        ("medallion", 42001, 0.005),
        ("behind", 42000, 0.01),
        ("behind", 81003, 0.0),
        ("within", 81022, 0.0),
        ("spandrels", 87202, 0.01),
        ("behind", 87104, 0.005),
        ("full panel", 4100, 0.0),
        ("spandrels", 99004, 0.0),
        ("within", 93004, 0.0),
        ("side by side", 99202, 0.01),
        ("unlike sides", 113001, 0.01),
        ("several", 121013, 0.0),
        ("full panel", 121014, 0.0),
        ("side by side", 121114, 0.005),
    ],
)
def test_a_piece_is_not_sure_of_less(case: str, seed: int, noise: float) -> None:
    panel = make_case(case, seed)
    arrangement, edge = build_panel(panel, noise)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.sure_and_wrong == 0


def test_two_fields_of_one_pattern_start_anew_at_the_line_between_them() -> None:
    panel = make_case("side by side", 87004)
    arrangement, edge = build_panel(panel)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.97 * score.regions


@pytest.mark.parametrize(
    ("case", "seed", "noise"), [("side by side", 87100, 0.005), ("behind", 99004, 0.0)]
)
def test_cells_of_a_coarse_field_are_no_frames(
    case: str, seed: int, noise: float
) -> None:
    # beside fine work each cell is as long as a frame line, and a loop like a medallion
    panel = make_case(case, seed)
    arrangement, edge = build_panel(panel, noise)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.97 * score.regions
    assert not score.sure_and_wrong
    assert not score.none_and_sure


def test_stars_that_return_through_a_field_are_its_own() -> None:
    # fifteen wheels of six turns, which noise had made rosettes beside the field
    panel = make_case("border", 93104)
    arrangement, edge = build_panel(panel, 0.005)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.97 * score.regions
    assert score.sure_and_wrong == 0


def test_walls_between_cells_of_a_border_are_no_frames() -> None:
    # beside a fine field they are as long as a frame's lines
    panel = Panel(np.random.default_rng(8), wide=230.0, tall=170.0)
    styles = ("walls", "walls")
    inner = border(
        panel, (0.0, 0.0, 230.0, 170.0), 24.0, ("p2", "p2"), styles, "square"
    )
    put_field(panel, "twelve", shapely.box(*inner), repeats=40)
    arrangement, edge = build_panel(panel)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.97 * score.regions
    assert score.sure_and_wrong == 0


def test_shifts_explain_what_a_frame_cuts() -> None:
    rows = fill("stars", (0.0, 0.0, 200.0, 200.0), np.random.default_rng(4), 30)
    lines = shapely.intersection(
        shapely.linestrings(rows.reshape(-1, 2, 2)), shapely.box(20, 20, 180, 180)
    )
    lines = lines[shapely.length(lines) > 1e-6]
    rows = shapely.get_coordinates(lines).reshape(-1, 4)
    box = np.array([[20, 20], [180, 20], [180, 180], [20, 180]], float)
    rows = np.vstack([rows, np.hstack([box, np.roll(box, -1, axis=0)])])
    work = linework_from_segments(rows, 200, 200)
    arrangement = build_arrangement(work, page_edge="close")
    measures = measure_faces(arrangement)
    faces = np.arange(1, arrangement.face_count)
    barrier = np.zeros(arrangement.edge_count, dtype=bool)
    basis = shifts_of(arrangement, measures, faces, barrier)
    assert basis is not None
    assert np.isclose(abs(np.linalg.det(basis)), 200 * 200 / 30, rtol=1e-3)
    field = field_of(arrangement, measures, faces, basis, barrier)
    margin = int(faces[np.argmax(measures.length[faces])])
    assert set(faces) - set(field.tolist()) == {margin}


@pytest.mark.parametrize("count", [(4, 6), (6, 6)])
@pytest.mark.parametrize("lozenges", [1, 2])
def test_a_border_that_repeats_with_the_field_is_none_of_it(
    count: tuple[int, int], lozenges: int
) -> None:
    # stars and lozenges meet on the frame line: it looks crossed everywhere
    arrangement, inside = touching_panel(*count, lozenges)
    measures = measure_faces(arrangement)
    faces = np.arange(1, arrangement.face_count)
    barrier = np.zeros(arrangement.edge_count, dtype=bool)
    basis = shifts_of(arrangement, measures, faces, barrier)
    assert basis is not None
    assert np.allclose(np.abs(basis).max(axis=1), 1.0)
    field = field_of(arrangement, measures, faces, basis, barrier)
    assert set(field.tolist()) == set(inside.tolist())


# a frame round nothing: corner squares that a hand could take for the strip's cells,
# few and long repeats, and squares that are those cells
@pytest.mark.parametrize(
    ("corner", "along", "across", "corners"),
    [
        (15, (9, 14.0), (6, 86 / 6), 4),
        (15, (6, 22.0), (4, 22.0), 4),
        (12, (8, 12.0), (8, 12.0), 0),
    ],
)
def test_a_border_round_nothing_is_four_strips(
    corner: float,
    along: tuple[int, float],
    across: tuple[int, float],
    corners: int,
) -> None:
    lines: list[tuple[float, float, float, float]] = []
    wide, tall = (2 * corner + n * step for n, step in (along, across))

    def lozenge(x: float, y: float, across: float, high: float) -> None:
        ways = [(1, 0), (0, 1), (-1, 0), (0, -1)]
        ends = [(x + across / 2 * a, y + high / 2 * b) for a, b in ways]
        lines.extend((*p, *q) for p, q in pairwise([*ends, ends[0]]))

    middles = [(corner / 2, size - corner / 2) for size in (wide, tall)]
    for y in middles[1]:
        for k in range(along[0]):
            lozenge(corner + along[1] * (k + 0.5), y, along[1], corner)
    for x in middles[0]:
        for k in range(across[0]):
            lozenge(x, corner + across[1] * (k + 0.5), corner, across[1])
        for y in middles[1]:
            lozenge(x, y, corner, corner)
    lines += [(at, 0.0, at, tall) for at in (0.0, corner, wide - corner, wide)]
    lines += [(0.0, at, wide, at) for at in (0.0, corner, tall - corner, tall)]
    arrangement = build_arrangement(linework_from_segments(np.array(lines), wide, tall))
    zones = find_zones(arrangement)
    found = [zone.symmetry.group.short for zone in zones if zone.symmetry.certain]
    assert found.count("p2mm") == 4
    assert found.count("D4") == corners
    assert len(found) == 5 + corners
    assert find_orbits(arrangement, zones).defects == ()


# inner lines that cross each other at the corners and meet little else; sides that
# run through at the top, so that two sides hang together by the empty middle
@pytest.mark.parametrize(
    ("group", "style", "corner"),
    [("p1m1", "polygons", "leaf"), ("p2mg", "walls", "butt")],
)
def test_few_lines_meet_a_border_round_nothing(
    group: str, style: str, corner: str
) -> None:
    panel = Panel(np.random.default_rng(30))
    box = (0.0, 0.0, 218.0, 229.0)
    border(panel, box, 22, (group,) * 2, (style,) * 2, corner)
    arrangement, edge = build_panel(panel)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.97 * score.regions
    assert score.sure_and_wrong == 0


def test_sides_of_a_frame_round_nothing_are_no_plane_pattern() -> None:
    # its empty middle is larger than two repeats of what its sides would make
    panel = Panel(np.random.default_rng(0))
    border(panel, (0.0, 0.0, 224.0, 125.0), 23, ("p2mg",) * 2, ("zigzag",) * 2, "butt")
    arrangement, edge = build_panel(panel)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right == score.regions


def test_a_border_in_one_piece_has_four_sides() -> None:
    arrangement, inside = touching_panel(6, 6, 1)
    measures = measure_faces(arrangement)
    rest = np.setdiff1d(np.arange(1, arrangement.face_count), inside)
    pieces, count = ring_pieces(arrangement, measures, rest.astype(np.int32))
    assert count == 4
    assert sorted(np.concatenate(pieces).tolist()) == rest.tolist()
    # the field reaches from 2 to 8 both ways
    low, high = 2.0, 8.0
    sides = 0
    for piece in pieces:
        beyond = [(measures.centroid[piece] < low), (measures.centroid[piece] > high)]
        sides += int(sum(b.all(axis=0).sum() for b in beyond) == 1)
    assert sides == 4
    # lozenges in a row have mirrors along it and across
    largest = max(pieces, key=len)
    assert own_symmetry(arrangement, measures, largest).group.short == "p2mm"


def test_the_ground_about_a_medallion_does_not_hide_a_field() -> None:
    arrangement, inside = touching_panel(6, 9, 1, round_hole=2.0)
    measures = measure_faces(arrangement)
    own = own_symmetry(arrangement, measures, inside)
    assert own.certain
    assert own.group.short == "p4m"


def test_friezes_of_the_panels_are_what_they_are_said_to_be() -> None:
    rows, group = frieze("p2", "walls", 8, 20.0, 16.0, 7)
    assert group == "p2"
    # turned by half about the origin the lines are the same
    turned = -rows
    ends = {tuple(np.round(r, 5)) for r in rows}
    inner = np.abs(turned.reshape(-1, 2, 2)[:, :, 0]).max(axis=1) < 30
    both = [
        tuple(np.round(r, 5)) in ends or tuple(np.round(r[[2, 3, 0, 1]], 5)) in ends
        for r in turned[inner] + 0.0
    ]
    assert all(both)


@pytest.mark.parametrize("n", [8, 10, 12])
def test_a_half_medallion_has_the_order_of_the_whole(n: int) -> None:
    # squares in a frame, and at the middle of its side half of a star of n points,
    # constructed whole and cut by the frame
    centre, radius = np.array([100.0, 20.0]), 40.0
    turn = np.arange(2 * n + 1) * np.pi / n
    r = np.where(np.arange(2 * n + 1) % 2, 0.5, 1.0) * radius
    ring = centre + np.stack([r * np.cos(turn), r * np.sin(turn)], axis=1)
    lines = [*pairwise(ring), *((centre, p) for p in ring[1::2])]
    arc = centre + radius * np.exp(1j * np.linspace(0, 2 * np.pi, 721)).view(
        float
    ).reshape(-1, 2)
    disc, frame = shapely.Polygon(arc), shapely.box(10, 20, 190, 140)
    grid = [((x, 20), (x, 140)) for x in range(10, 191, 10)]
    grid += [((10, y), (190, y)) for y in range(20, 141, 10)]
    parts = [shapely.LineString(p).intersection(frame) for p in lines]
    parts += [shapely.LineString(arc).intersection(frame), frame.exterior]
    parts += [shapely.LineString(p).difference(disc) for p in grid]
    rows = []
    for part in shapely.get_parts(parts):
        xy = shapely.get_coordinates(part)
        if part.length > 1e-6:
            rows.append(np.hstack([xy[:-1], xy[1:]]))
    work = linework_from_segments(np.vstack(rows), 200, 160)
    arrangement = build_arrangement(work)
    zones = find_zones(arrangement)
    assert [z.symmetry.group.short for z in zones[:2]] == ["p4m", f"D{n}"]
    # the order that is found can be stated, though the lines of a half do not tell it
    stated = find_zones(arrangement, stated={2: f"rosette:D{n}"})[1].symmetry
    assert (stated.group.short, stated.stated, stated.certain) == (f"D{n}", True, True)


# stars {8/3} and {10/k} in half circles, of which every turn within the half holds; of
# twelve points the turns by quarters alone are seen on the lines
@pytest.mark.parametrize(
    ("seed", "noise", "order", "sure"),
    [(97500, 0.0, 8, True), (112004, 0.01, 10, True), (99003, 0.005, 12, False)],
)
def test_a_half_is_asked_within_it(
    seed: int, noise: float, order: int, *, sure: bool
) -> None:
    arrangement, _ = build_panel(make_case("half medallions", seed), noise)
    halves = [
        z.symmetry
        for z in find_zones(arrangement)
        if len(z.symmetry.operations) > 8 and z.symmetry.lattice is None
    ]
    assert [(s.group.short, s.certain) for s in halves] == [(f"D{order}", sure)] * 2


def test_loops_of_a_field_cut_nothing_out_of_it() -> None:
    # hexagrams {6/2} in their hexagons on a lattice of triangles, clipped by a
    # hexagon of a side of four repeats: all lines are carried on by p6m
    turn = np.pi / 3 * np.arange(6) + np.pi / 6
    ring = 10.5 * np.column_stack([np.cos(turn), np.sin(turn)])
    one = [np.hstack([ring, np.roll(ring, -k, axis=0)]) for k in (1, 2)]
    steps = np.stack(np.meshgrid(np.arange(-9, 10), np.arange(-9, 10)), -1)
    centres = 21.0 * steps.reshape(-1, 2) @ [[1.0, 0.0], [0.5, np.sqrt(0.75)]]
    lines = (centres[:, None] + np.vstack(one).reshape(-1, 2)).reshape(-1, 4)
    panel = Panel(np.random.default_rng(1))
    hexagon = 84.0 * np.column_stack([np.cos(turn), np.sin(turn)]) @ [[0, 1], [1, 0]]
    panel.ring(hexagon + 100)
    panel.inside(lines + 100, shapely.Polygon(hexagon + 100))
    panel.box(0, 0, 200, 200)
    arrangement, _ = build_panel(panel)
    field = max(find_zones(arrangement), key=lambda zone: len(zone.faces))
    assert field.symmetry.group.short == "p6m"
    inside = shapely.contains_xy(shapely.Polygon(hexagon + 110), *arrangement.witness.T)
    assert np.isin(np.flatnonzero(inside[1:]) + 1, field.faces).all()


def test_a_field_grows_round_what_hides_most_of_its_cells() -> None:
    # few repeats, of which a medallion leaves hardly a whole one
    panel = make_case("within", 41000)
    arrangement, edge = build_panel(panel)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right >= 0.97 * score.regions


def _mitred_beads() -> list[Row]:
    rows = [(0, 0, 16, 14), (200, 0, 184, 14), (200, 140, 184, 126), (0, 140, 16, 126)]
    for x0, y0, x1, y1 in ((0, 0, 200, 140), (16, 14, 184, 126)):
        rows += [(x0, y0, x1, y0), (x1, y0, x1, y1), (x1, y1, x0, y1), (x0, y1, x0, y0)]
    found = [line(*map(float, row)) for row in rows]
    found += [circle(23 + 14 * k, y, 5) for k in range(12) for y in (7, 133)]
    return found + [circle(x, 21 + 14 * k, 5) for k in range(8) for x in (8, 192)]


def test_beads_on_both_sides_of_a_mitre_are_two_rows() -> None:
    rows = _mitred_beads()
    arrangement = build_arrangement(linework_from_curves(rows, 210, 150))
    zones = find_zones(arrangement)
    owner = np.zeros(arrangement.face_count, dtype=int)
    for zone in zones:
        owner[zone.faces] = zone.index
    bead = np.flatnonzero(np.abs(arrangement.area - 25 * np.pi) < 1e-6)
    sides = [set(owner[bead[_side(arrangement, bead) == k]].tolist()) for k in range(4)]
    # one zone a side, all four unlike
    assert [len(s) for s in sides] == [1, 1, 1, 1]
    assert len(set.union(*sides)) == 4
    long = [z for z in zones if len(z.faces) == 13]
    assert [z.symmetry.group.short for z in long] == ["p2mm", "p2mm"]


def _side(arrangement: Arrangement, bead: np.ndarray) -> np.ndarray:
    x, y = arrangement.witness[bead].T
    return np.where(y < 14, 0, np.where(y > 126, 1, np.where(x < 16, 2, 3)))


def test_a_mitred_side_is_a_strip_though_its_ends_are_bare() -> None:
    # lozenges as far as the inner edge reaches, and none beyond it
    rows = [(0, 0, 100, 0), (8, 14, 92, 14), (0, 0, 8, 14), (100, 0, 92, 14)]
    found = [line(*map(float, row)) for row in rows]
    for k in range(7):
        ring = [(14 + 12 * k + x, y) for x, y in ((0, 0), (5, 7), (0, 14), (-5, 7))]
        sides = pairwise([*ring, ring[0]])
        found += [line(*map(float, (*p, *q))) for p, q in sides]
    work = linework_from_curves(found, 100, 14, has_page=False)
    arrangement = build_arrangement(work)
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    strip = own_symmetry(arrangement, measure_faces(arrangement), faces)
    assert strip.group.short == "p2mm"
    assert strip.certain
    assert strip.lattice is not None
    assert np.hypot(*strip.lattice.basis[0]) == pytest.approx(12)


def test_what_lies_between_pieces_of_a_zone_is_not_its_ground() -> None:
    # four corner squares of a grid with diagonals (p4m), nothing of it between
    rows = []
    for x0, y0 in ((0, 0), (220, 0), (0, 160), (220, 160)):
        for i, j in np.ndindex(4, 4):
            x, y = x0 + 5.0 * i, y0 + 5.0 * j
            ring = [(x, y), (x + 5, y), (x + 5, y + 5), (x, y + 5)]
            rows += [(*p, *q) for p, q in pairwise([*ring, ring[0]])]
            rows += [(x, y, x + 5, y + 5), (x, y + 5, x + 5, y)]
    rows += [(20, 0, 220, 0), (20, 180, 220, 180), (0, 20, 0, 160), (240, 20, 240, 160)]
    rows += [(20, 20, 220, 160), (20, 160, 220, 20), (20, 90, 220, 90)]
    work = linework_from_segments(np.array(rows, float), 240, 180, has_page=False)
    arrangement = build_arrangement(work)
    small = np.flatnonzero(arrangement.area < 7).astype(np.int32)
    small = small[small > 0]
    assert len(small) == 256
    found = find_symmetry(arrangement, small, loose_lines=False)
    assert found.group.short == "p4m"
    assert found.lattice is not None
    assert abs(np.linalg.det(found.lattice.basis)) == pytest.approx(25)


def test_corners_stand_apart_from_all_before_them():
    # beside the rule itself, point by point
    rng = np.random.default_rng(5)
    for spread in (0.3, 3.0, 30.0):
        points = np.round(rng.normal(0.0, spread, (300, 2)), 1)
        apart = [
            k
            for k in range(len(points))
            if (np.hypot(*(points[:k] - points[k]).T) > 0.5).all()
        ]
        assert mitres._apart(points, 0.5) == apart[: mitres._MOST]


@pytest.mark.parametrize(("case", "seed"), [("corners", 97510), ("mitred", 97511)])
def test_regions_of_like_areas_alone_make_no_piece_of_a_field(case, seed):
    # some regions of a border or corner are as large as some of the field, by chance
    panel = make_case(case, seed)
    arrangement, edge = build_panel(panel, 0.005)
    zones = find_zones(arrangement)
    score = score_panel(panel, arrangement, edge, zones)
    assert score.right == score.regions
    assert all(zone.symmetry.certain for zone in zones)
