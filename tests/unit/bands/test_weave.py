"""Lines woven into bands, against what is known of the graphs that they form."""

from __future__ import annotations

import re
from dataclasses import replace
from math import gcd
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.drawing import as_linework
from fillwork.bands.kinds import bands_of_woven, join_strands
from fillwork.bands.levels import choose_levels
from fillwork.bands.strands import Lines, follow_strands, gather_lines
from fillwork.bands.weave import weave_lines
from fillwork.cli.main import main
from fillwork.colouring.adjacency import measure_adjacency
from fillwork.errors import LineWorkError
from fillwork.geometry.curves import Curves
from fillwork.pipeline.surveying import make_survey
from fillwork.pipeline.weave_group import group_of_weave
from fillwork.plans.model import Plan
from fillwork.plans.settings import BandSettings
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.bench.strapwork import middle_lines
from tests.unit.helpers import (
    arc,
    circle,
    line,
    linework_from_curves,
    linework_from_segments,
    polyline,
)

if TYPE_CHECKING:
    from fillwork.bands.model import Woven
    from fillwork.linework import LineWork


def star(n: int, k: int, radius: float = 45.0) -> LineWork:
    """Return the star polygon {n/k} as lines."""
    turn = 2 * np.pi * np.arange(n) / n + 0.1
    points = 50 + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return linework_from_segments(np.hstack([points, np.roll(points, -k, axis=0)]))


def kagome(width: float = 150.0, height: float = 110.0, step: float = 20.0) -> LineWork:
    """Return three families of lines that cross two by two, in a frame."""
    panel = shapely.box(0, 0, width, height)
    parts = []
    for angle in np.radians([0.0, 60.0, 120.0]):
        along, across = (
            np.array([np.cos(angle), np.sin(angle)]),
            np.array([-np.sin(angle), np.cos(angle)]),
        )
        for k in range(-20, 21):
            middle = (k + 0.5) * step * across
            long = shapely.LineString([middle - 400 * along, middle + 400 * along])
            cut = long.intersection(panel)
            if cut.length > 1:
                parts.append(np.array(cut.coords).reshape(-1))
    frame = polyline([(0, 0), (width, 0), (width, height), (0, height)], closed=True)
    segments = np.vstack([np.array(parts), frame])
    return linework_from_segments(segments, width=width, height=height)


def woven_regions(
    lines: LineWork, width: float, **choices: object
) -> tuple[Woven, int]:
    woven = weave_lines(build_arrangement(lines), width, **choices)
    drawn = as_linework(woven, lines)
    regions = build_arrangement(drawn, close_gaps=0.0, page_edge="open")
    return woven, regions.face_count - 1


@pytest.mark.parametrize(("n", "k"), [(5, 2), (7, 2), (7, 3), (8, 3), (9, 4), (12, 5)])
def test_stars_of_one_line_weave(n: int, k: int) -> None:
    # {n/k} has n (k - 1) double points; H. S. M. Coxeter, Regular Polytopes, 1973,
    # § 2.8. V = C, E = 2 C and Euler give C + 1 regions; each crossing ends one band
    # under another, so that there are C pieces of band more.
    woven, regions = woven_regions(star(n, k), 0.4)
    crossings = n * (k - 1)
    assert len(woven.crossings.double) == crossings
    assert not len(woven.crossings.stuck)
    assert not len(woven.crossings.piled)
    assert len(woven.strands.strands) == 1
    assert regions == 2 * crossings + 1


@pytest.mark.parametrize(("n", "k"), [(6, 2), (8, 2), (9, 3), (10, 4), (12, 3)])
def test_compound_stars_have_as_many_strands_as_polygons(n: int, k: int) -> None:
    # {n/k} is gcd(n, k) polygons; Coxeter, as above
    woven, regions = woven_regions(star(n, k), 0.4)
    assert len(woven.strands.strands) == gcd(n, k)
    assert all(s.closed for s in woven.strands.strands)
    assert regions == 2 * n * (k - 1) + 1


@pytest.mark.parametrize("seed", range(6))
def test_a_closed_line_that_crosses_itself_at_random_alternates(seed: int) -> None:
    # Tait 1877: every closed line with double points alone can alternate
    rng = np.random.default_rng(seed)
    points = rng.uniform(5, 95, (9, 2))
    strands = follow_strands(
        gather_lines(build_arrangement(linework_from_segments(polyline(points, True))))
    )
    levels = choose_levels(strands)
    assert len(strands.strands) == 1
    assert not len(levels.stuck)
    # once round: over and under in turn, twice as many passes as crossings
    halves = strands.strands[0].halves
    level = {
        int(h): int(v)
        for row, v in zip(levels.halves, levels.level, strict=True)
        for h in row
    }
    met = [level[int(h)] for h in halves if int(h) in level]
    assert len(met) == 2 * len(levels.double)
    assert all(a != b for a, b in zip(met, met[1:] + met[:1], strict=True))


def test_circles_weave_as_exact_arcs() -> None:
    rings = [circle(40, 50, 25), circle(60, 50, 25), circle(50, 67, 25)]
    woven, regions = woven_regions(linework_from_curves(rings), 2.0)
    # three rings, each pair crossing twice: the drawing of the Borromean rings
    assert len(woven.crossings.double) == 6
    assert regions == 2 * 6 + 1
    radii = np.hypot(*woven.curves.data[:, 2:4].T)
    assert np.isclose(radii[:, None], [24.0, 26.0]).any(axis=1).all()


def test_the_crossings_of_the_other_start_are_the_other_way_round() -> None:
    plain = build_arrangement(star(7, 3))
    over, under = (weave_lines(plain, 0.5, start=word) for word in ("over", "under"))
    assert (over.crossings.level != under.crossings.level).all()


def test_a_framed_field_alternates_up_to_the_frame() -> None:
    lines = kagome()
    woven = weave_lines(build_arrangement(lines), 2.5, gap=0.3)
    assert sum(s.border for s in woven.strands.strands) == 1
    assert not len(woven.crossings.stuck)
    low, high = np.array([-1e-9, -1e-9]), np.array([150 + 1e-9, 110 + 1e-9])
    ends = np.vstack([woven.curves.starts(), woven.curves.ends()])
    assert ((ends >= low) & (ends <= high)).all()


def test_a_bend_beside_the_frame_stays_within_it() -> None:
    # the outer rail of this corner turns 1 mm beyond the frame
    bend = polyline([(20, 60), (20, 0.5), (70, 0.5), (70, 60)])
    frame = polyline([(0, 0), (90, 0), (90, 60), (0, 60)], closed=True)
    lines = linework_from_segments(np.vstack([bend, frame]), width=90, height=60)
    woven, regions = woven_regions(lines, 3.0)
    ends = np.vstack([woven.curves.starts(), woven.curves.ends()])
    assert ends.min() >= -1e-9
    # the band, the ground within it and the ground on both sides
    assert regions == 4


def test_bands_that_cross_right_before_a_frame_have_room() -> None:
    # the crossing is 0.1 mm inside, and nothing of the bands is left behind it
    rows = [[20, 10.1, 40.2, 30.1], [20, 49.9, 40.2, 29.9]]
    frame = polyline([(20, 0), (40.2, 0), (40.2, 60), (20, 60)], closed=True)
    lines = linework_from_segments(np.vstack([rows, frame]), 60, 60)
    woven = weave_lines(build_arrangement(lines), 2.0)
    assert len(woven.crossings.double) == 1
    # two bands and what lies above, between and below them; scraps may be left where
    # both bands reach the frame
    regions = build_arrangement(as_linework(woven, lines), close_gaps=0.0)
    assert (regions.area > 0.05).sum() == 5


def aslant_to_a_frame(turn: float, offset: float) -> tuple[shapely.Polygon, LineWork]:
    """Return a frame, and in it three families of lines, none along its sides."""
    panel, rows = shapely.box(20, 20, 80, 75), []
    for angle, off in zip(
        turn + np.pi / 3 * np.arange(3), (0.5, 0.5, offset), strict=True
    ):
        along = np.array([np.cos(angle), np.sin(angle)])
        for k in range(-6, 6):
            middle = 50 + (k + off) * 14 * np.array([-along[1], along[0]])
            whole = shapely.LineString([middle - 99 * along, middle + 99 * along])
            cut = whole.intersection(panel)
            if cut.length > 0.5:
                rows.append(np.array(cut.coords).reshape(-1))
    frame = polyline(np.array(panel.exterior.coords)[:-1], closed=True)
    return panel, linework_from_segments(np.vstack([rows, frame]))


@pytest.mark.parametrize(
    ("turn", "offset"), [(0.2, 0.5), (0.15, 0.3), (0.3, 0.25), (0.65, 0.5), (0.95, 0.8)]
)
def test_rails_of_bands_that_cross_right_before_a_frame_end_on_rails(
    turn: float, offset: float
) -> None:
    width = 1.6
    panel, lines = aslant_to_a_frame(turn, offset)
    woven = weave_lines(build_arrangement(lines), width)
    # the ground is what no band covers, each as long as if there were no frame
    middles = lines.curves.data[:-4, :4].reshape(-1, 2, 2)
    onward = (middles[:, 1] - middles[:, 0]) * 20
    longer = np.stack([middles[:, 0] - onward, middles[:, 1] + onward], axis=1)
    covered = shapely.linestrings(longer)
    covered = shapely.buffer(covered, width / 2, cap_style="flat")
    ground = panel.difference(shapely.union_all(covered))
    chords = woven.curves.flatten(1e-4)[0].reshape(-1, 2, 2)
    drawn = shapely.union_all(shapely.linestrings(chords))
    assert ground.buffer(-1e-3).intersection(drawn).length == 0
    # where rails come out right before the frame, scraps of the ground are left out
    wide = shapely.get_parts(ground)
    wide = wide[shapely.area(wide) > 0.2]
    edges = shapely.union_all(shapely.boundary(wide))
    assert edges.difference(drawn.buffer(1e-3)).length < 1e-6
    # and no rail hangs loose
    ends = np.r_[
        woven.curves.starts()[woven.path_start[:-1]],
        woven.curves.ends()[woven.path_start[1:] - 1],
    ]
    near, _ = shapely.STRtree(shapely.linestrings(chords)).query(
        shapely.points(ends), "dwithin", distance=1e-6
    )
    assert (np.bincount(near, minlength=len(ends)) > 1).all()


def test_a_border_outside_the_frame_of_the_field_is_woven_too() -> None:
    # a field of two crossing lines and a closed line round it; the page's edge is no
    # band
    inner = polyline([(20, 20), (80, 20), (80, 60), (20, 60)], closed=True)
    page = polyline([(0, 0), (100, 0), (100, 80), (0, 80)], closed=True)
    ring = polyline([(10, 10), (90, 10), (90, 70), (10, 70)], closed=True)
    field = [[20, 30, 80, 50], [20, 50, 80, 30]]
    rows = np.vstack([inner, page, ring, field])
    woven, regions = woven_regions(linework_from_segments(rows, 100, 80), 2.0)
    assert [s.border for s in woven.strands.strands].count(True) == 2
    # two bands, three pieces and four of ground in the field; outside it the ring, and
    # ground on both sides of it
    assert regions == 3 + 4 + 3


def test_bands_and_ground_fill_the_panel() -> None:
    lines = kagome()
    woven = weave_lines(build_arrangement(lines), 2.5)
    regions = build_arrangement(as_linework(woven, lines), close_gaps=0.0)
    assert regions.area.sum() == pytest.approx(150 * 110, rel=1e-9)


def test_the_mirrors_of_a_field_go_when_it_is_woven() -> None:
    # a mirror would carry the band above to the band below at the crossings on it
    lines = kagome(90.0, 70.0)
    plain = build_arrangement(lines)
    woven = weave_lines(plain, 2.5)
    bands = build_arrangement(as_linework(woven, lines), close_gaps=0)
    symmetry = find_zones(plain)[0].symmetry
    assert symmetry.group.short == "p6m"
    assert group_of_weave(symmetry, woven) == "p6"
    assert find_zones(bands)[0].symmetry.group.short == "p6"


def test_thin_bands_lose_the_mirrors_as_well() -> None:
    # rails 0.2 mm apart are hardly told from the lines
    middles = middle_lines("4.8^2", 20, 100, np.radians(67.5))
    rows = np.vstack([np.hstack([m[:-1], m[1:]]) for m in middles])
    rows = rows[((rows > 0) & (rows < 100)).all(axis=1)]
    plain = build_arrangement(linework_from_segments(rows, has_page=False))
    symmetry = find_zones(plain)[0].symmetry
    assert symmetry.group.short == "p4m"
    assert group_of_weave(symmetry, weave_lines(plain, 0.2)) == "p4"


def test_plain_weave_of_squares_repeats_by_two_lines() -> None:
    # the weaver's plain weave: over and under change places from thread to thread, so
    # that a shift by one thread is lost, and a shift by one both ways is kept
    at = np.arange(5.0, 80.0, 10.0)[:, None] * [0, 1, 0, 1] + [0, 0, 80, 0]
    frame = polyline([(0, 0), (80, 0), (80, 80), (0, 80)], closed=True)
    rows = np.vstack([at, at[:, [1, 0, 3, 2]], frame])
    plain = build_arrangement(linework_from_segments(rows, 80, 80))
    symmetry = find_zones(plain)[0].symmetry
    assert symmetry.group.short == "p4m"
    assert group_of_weave(symmetry, weave_lines(plain, 3.0)) == "p4g"


def test_crossed_bands_leave_a_region_at_each_crossing() -> None:
    woven, regions = woven_regions(star(7, 2), 2.0, crossings="crossed")
    # C crossings, 2 C pieces of band between them, C + 1 regions of ground
    assert regions == 4 * len(woven.crossings.double) + 1


def test_open_bands_are_one_region() -> None:
    woven, regions = woven_regions(star(7, 2), 2.0, crossings="open")
    # all bands are one region round C + 1 of ground, the outermost among them
    assert regions == len(woven.crossings.double) + 1 + 1


def test_a_band_wider_than_its_room_says_how_wide_it_may_be() -> None:
    with pytest.raises(LineWorkError) as caught:
        weave_lines(build_arrangement(star(7, 3)), 12.0)
    assert "room for" in caught.value.what
    assert "take a width up to" in caught.value.mend


def test_the_room_that_is_named_is_there() -> None:
    plain = build_arrangement(star(7, 3))
    with pytest.raises(LineWorkError):
        weave_lines(plain, 12.0)
    room = weave_lines(plain, 0.1, measure_room=True).widest
    weave_lines(plain, 0.98 * room)
    with pytest.raises(LineWorkError):
        weave_lines(plain, 1.02 * room)


@pytest.mark.parametrize("corners", ["mitre", "round"])
@pytest.mark.parametrize("seed", range(3))
def test_what_a_refusal_tells_fits(seed: int, corners: str) -> None:
    points = np.random.default_rng(seed + 70).uniform(5, 95, (6, 2))
    plain = build_arrangement(linework_from_segments(polyline(points, True)))
    with pytest.raises(LineWorkError, match="room for") as caught:
        weave_lines(plain, 60.0, corners=corners)
    room = float(caught.value.what.split()[-2])
    woven = weave_lines(plain, room, corners=corners)
    if corners == "mitre":
        assert ground_without_rails(woven) < 1e-6
    with pytest.raises(LineWorkError):
        weave_lines(plain, 1.03 * room, corners=corners)


def ground_without_rails(woven: Woven) -> float:
    """Return what of the edge of the bands' union no rail is drawn along, mm.

    Bands are made of the middle lines by shapely, with mitred corners.
    """
    strands, bands = woven.strands, []
    for strand in strands.strands:
        parts = []
        for half in strand.halves.tolist():
            chords = strands.lines.pieces.take(np.array([half >> 1])).flatten(1e-4)[0]
            points = np.vstack([chords[:, :2], chords[-1:, 2:]])
            parts.append(points[::-1] if half & 1 else points)
        middle = np.vstack(parts)
        ring = shapely.LinearRing if strand.closed else shapely.LineString
        bands.append(
            ring(middle).buffer(
                woven.width / 2, cap_style="flat", join_style="mitre", mitre_limit=1e3
            )
        )
    rails = shapely.linestrings(woven.curves.flatten(1e-4)[0].reshape(-1, 2, 2))
    edge = shapely.unary_union(bands).boundary
    return float(edge.difference(shapely.unary_union(rails).buffer(1e-3)).length)


def zigzags(bend: float, height: float) -> LineWork:
    """Return two zigzags across each other between two straight lines."""
    along = np.arange(0.0, 161.0, bend)
    sign = np.where(np.arange(len(along)) % 2, 1.0, -1.0)
    rows = [polyline(np.c_[along, 20 + s * height * sign]) for s in (1, -1)]
    edges = [[0, y, 160, y] for y in (10, 30)]
    return linework_from_segments(np.vstack([*rows, edges]), 160, 40)


@pytest.mark.parametrize("width", [1.0, 2.15, 2.2])
def test_zigzags_in_a_strip_keep_their_rails(width: float) -> None:
    woven = weave_lines(build_arrangement(zigzags(10, 7)), width)
    assert ground_without_rails(woven) < 1e-6


@pytest.mark.parametrize(("bend", "height"), [(10, 7), (10, 5), (7, 6)])
def test_zigzags_may_be_as_wide_as_their_corners_leave_room(
    bend: float, height: float
) -> None:
    # a mitred corner reaches half the width over the sine of half its angle beyond
    # the bend, and half the width of the edge's own band comes to meet it
    sine = bend / np.hypot(bend, 2 * height)
    room = 2 * (10 - height) / (1 + 1 / sine)
    plain = build_arrangement(zigzags(bend, height))
    weave_lines(plain, 0.995 * room)
    with pytest.raises(LineWorkError):
        weave_lines(plain, 1.02 * room)


@pytest.mark.parametrize(
    "lines",
    [
        linework_from_segments(np.array([[10, 10, 90, 10], [10, 13, 90, 13]])),
        linework_from_curves([circle(50, 50, 20), circle(50, 50, 23)]),
    ],
)
def test_bands_side_by_side_do_not_lie_on_each_other(lines: LineWork) -> None:
    plain = build_arrangement(lines)
    weave_lines(plain, 2.99)
    with pytest.raises(LineWorkError, match=r"room for (2\.9\d|3) mm"):
        weave_lines(plain, 3.2)


def test_bands_side_by_side_between_two_sides_of_a_frame_do_not_either() -> None:
    frame = polyline([(0, 0), (90, 0), (90, 40), (0, 40)], closed=True)
    rows = np.vstack([[[0, 10, 90, 10], [0, 11, 90, 11]], frame])
    plain = build_arrangement(linework_from_segments(rows, 90, 40))
    weave_lines(plain, 0.99)
    with pytest.raises(LineWorkError, match=r"room for (0\.99\d|1) mm"):
        weave_lines(plain, 2.0)


def test_lines_that_cross_right_at_a_frame_end_there() -> None:
    # crossings 0.05 mm before the frame: one line ends on the other, and one of its
    # rails would meet that band only beyond the frame
    panel = shapely.box(0, 0, 100, 100)
    frame = polyline([(0, 0), (100, 0), (100, 100), (0, 100)], closed=True)
    middles = middle_lines("4.6.12", 17, 100, np.radians(72))
    cut = [shapely.LineString(m).intersection(panel) for m in middles]
    chains = [
        shapely.get_coordinates(part)
        for part in shapely.get_parts(cut)
        if part.geom_type == "LineString"
    ]
    rows = np.vstack([frame, *(np.hstack([c[:-1], c[1:]]) for c in chains)])
    lines = linework_from_segments(rows, 100, 100)
    woven = weave_lines(build_arrangement(lines), 1.3)
    ends = np.vstack([woven.curves.starts(), woven.curves.ends()])
    assert ends.min() >= -1e-6
    assert ends.max() <= 100 + 1e-6
    assert len(np.unique(woven.path_strand)) == len(woven.strands.strands)


def test_twigs_that_leave_a_stem_smoothly_are_bands_of_their_own() -> None:
    # a straight stem between two sides of a frame; two quarters of circles leave it in
    # one point and go on straight to the frame
    rows = polyline([(10, 10), (90, 10), (90, 90), (10, 90)], closed=True)
    rows = np.vstack([rows, [[10, 50, 40, 50], [40, 50, 90, 50]]])
    rows = np.vstack([rows, [[60, 70, 60, 90], [60, 30, 60, 10]]])
    twigs = [arc(40, 70, 20, -np.pi / 2, 0), arc(40, 30, 20, np.pi / 2, 0)]
    lines = linework_from_curves([*(line(*row) for row in rows), *twigs])
    woven, regions = woven_regions(lines, 2.0)
    assert [s.border for s in woven.strands.strands].count(True) == 1
    lengths = sorted(s.length for s in woven.strands.strands if not s.border)
    twig = 20 + 10 * np.pi
    assert lengths == pytest.approx([twig, twig, 80])
    # three bands, and ground left and right of each twig
    assert regions == 3 + 4
    inner = tuple(s for s in woven.strands.strands if not s.border)
    bands = replace(woven, strands=replace(woven.strands, strands=inner))
    assert ground_without_rails(bands) < 1e-6


def test_a_frame_that_curves_touch_stays_a_frame() -> None:
    # a wave of half circles, its ends along two sides and a crest at a third
    frame = polyline([(10, 30), (70, 30), (70, 65), (10, 65)], closed=True)
    wave = [arc(10 + 30 * k + 15, 50, 15, np.pi, (k % 2) * 2 * np.pi) for k in (0, 1)]
    lines = linework_from_curves([*(line(*row) for row in frame), *wave])
    woven = weave_lines(build_arrangement(lines), 1.0)
    strands = woven.strands.strands
    drawn = shapely.linestrings(woven.curves.flatten(1e-3)[0].reshape(-1, 2, 2))
    assert shapely.box(10, 30, 70, 65).buffer(0.01).covers(shapely.union_all(drawn))
    assert [s.border for s in strands].count(True) == 1
    bands = [s.length for s in strands if not s.border]
    # what runs on the frame nearer than points are one is left out
    assert sum(bands) == pytest.approx(30 * np.pi, rel=1e-3)


def test_straight_lines_at_a_narrow_angle_do_not_touch() -> None:
    # 0.3° apart, in the middle point
    points = np.array([[50, 50], [10, 50], [90, 50], [10, 49.8], [90, 50.2]], float)
    rows = np.hstack([np.repeat(points[:1], 4, axis=0), points[1:]])
    origin = np.array([0, 1, 0, 2, 0, 3, 0, 4])
    lines = Lines(points, Curves.from_segments(rows), origin)
    assert not follow_strands(lines).touching.any()


def test_circles_that_touch_lie_on_each_other_and_do_not_take_turns() -> None:
    # two touch; a third crosses both, twice each
    circles = [circle(30, 50, 20), circle(70, 50, 20), circle(50, 62, 24)]
    woven = weave_lines(build_arrangement(linework_from_curves(circles)), 1.5)
    sizes = [s.length for s in woven.strands.strands]
    assert sizes == pytest.approx([48 * np.pi, 40 * np.pi, 40 * np.pi])
    assert len(woven.crossings.double) == 4
    assert not len(woven.crossings.stuck)
    assert ground_without_rails(woven) < 1e-6


def test_an_end_inside_the_drawing_is_capped() -> None:
    lines = linework_from_curves([line(10, 50, 90, 50), line(50, 20, 50, 80)])
    woven, regions = woven_regions(lines, 4.0)
    # one band above in one piece, one below in two
    assert regions == 3
    assert not any(s.border for s in woven.strands.strands)


def test_a_closed_band_is_round_at_every_corner() -> None:
    square = polyline([(20, 20), (80, 20), (80, 80), (20, 80)], closed=True)
    lines = linework_from_segments(square)
    woven = weave_lines(build_arrangement(lines), 4.0, corners="round")
    # a square of side 60 grown by 2: four sides and a circle; and one shrunk by 2
    expected = [4 * 60 + 4 * np.pi, 4 * 56]
    sizes = np.add.reduceat(woven.curves.lengths(), woven.path_start[:-1])
    assert np.allclose(sorted(sizes, reverse=True), expected)
    assert as_linework(woven, lines).closed.all()


def test_three_lines_in_a_point_are_piled_and_told() -> None:
    turn = np.radians([0.0, 60.0, 120.0])
    ends = 40 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    woven = weave_lines(
        build_arrangement(linework_from_segments(np.hstack([50 - ends, 50 + ends]))),
        3.0,
    )
    assert len(woven.crossings.piled) == 1
    drawn = as_linework(woven, star(5, 2))
    assert "three lines or more" in drawn.notes[-1].text
    # the one on top is whole, the others are in two pieces
    regions = build_arrangement(replace(drawn, notes=()), close_gaps=0.0)
    assert regions.face_count - 1 == 5


def test_what_mends_a_node_is_told_as_an_option_of_the_main_job() -> None:
    survey = make_survey(three_families(), Plan(bands=BandSettings(width=2.0)))
    (told,) = [n for n in survey.notes if "three lines or more" in n.text]
    offered = {
        name for param in main.get_command(None, "colour").params for name in param.opts
    }
    named = set(re.findall(r"--[a-z-]+", told.remedy))
    assert named
    assert named <= offered


def three_families() -> LineWork:
    """Return lines of three directions through common points, in no frame."""
    turn = np.radians([0.0, 60.0, 120.0])
    along = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    across = np.stack([-np.sin(turn), np.cos(turn)], axis=1)
    return linework_from_segments(
        np.array(
            [
                np.r_[50 + k * 20 * n - 30 * a, 50 + k * 20 * n + 30 * a]
                for a, n in zip(along, across, strict=True)
                for k in (-1, 0, 1)
            ]
        )
    )


@pytest.mark.parametrize("nodes", ["plain", "ring"])
def test_a_point_of_three_lines_may_be_a_plain_node(nodes: str) -> None:
    # seven points of three lines, each a node where six bands run together
    woven, regions = woven_regions(three_families(), 2.0, nodes=nodes)
    assert len(woven.crossings.piled) == 7
    assert not len(woven.crossings.stuck)
    rings = [s for s in woven.strands.strands if s.closed]
    if nodes == "plain":
        # a connected figure of bands, of one region, round six triangles
        assert not rings
        assert regions == 1 + 6
    else:
        # each ring crosses six bands, is over three of them and under three: three
        # pieces of its own, between which three bands run in to the node
        assert len(rings) == 7
        assert len(woven.crossings.double) == 7 * 6


def test_no_ring_fits_where_lines_are_short() -> None:
    with pytest.raises(LineWorkError, match="ring"):
        weave_lines(build_arrangement(three_families()), 6.0, nodes="ring")


def test_a_line_parted_in_short_chords_weaves_like_the_whole() -> None:
    # lines drawn in many pieces, shorter than the band is wide
    fine = np.linspace(0, 1, 81)
    a = np.stack([10 + 80 * fine, np.full(81, 50.0)], axis=1)
    b = np.stack([np.full(81, 50.0), 10 + 80 * fine], axis=1)
    lines = linework_from_segments(np.vstack([polyline(a), polyline(b)]))
    _, regions = woven_regions(lines, 6.0)
    assert regions == 3


def test_lines_in_short_chords_that_cross_at_a_narrow_angle_lose_no_rail() -> None:
    # at 8° a band 2 mm wide comes out of the other 14 mm from the crossing, fourteen
    # chords away: half the width over the tangent of half the angle
    along = np.linspace(-40, 40, 81)
    turn = np.radians([4.0, -4.0])
    rows = [
        polyline(50 + along[:, None] * [np.cos(a), np.sin(a)]) for a in turn.tolist()
    ]
    woven = weave_lines(build_arrangement(linework_from_segments(np.vstack(rows))), 2.0)
    assert ground_without_rails(woven) < 1e-6


def test_the_same_drawing_gives_the_same_bands() -> None:
    first, second = (weave_lines(build_arrangement(kagome()), 2.0) for _ in range(2))
    assert first.curves.data.tobytes() == second.curves.data.tobytes()


@pytest.mark.parametrize(("n", "k"), [(7, 3), (8, 2), (9, 3)])
def test_each_piece_of_band_is_told_to_its_strand(n: int, k: int) -> None:
    woven = weave_lines(build_arrangement(star(n, k)), 0.8)
    regions = build_arrangement(as_linework(woven, star(n, k)), close_gaps=0.0)
    strand = bands_of_woven(regions, woven).strand
    crossings = n * (k - 1)
    # as many pieces of band as crossings, shared evenly by strands that are turned
    # copies of each other; the rest is ground
    assert (strand[1:] >= 0).sum() == crossings
    shares = np.bincount(strand[strand >= 0])
    assert shares.tolist() == [crossings // gcd(n, k)] * gcd(n, k)


def test_strands_are_one_kind_and_the_ground_keeps_its_own() -> None:
    lines = kagome()
    woven = weave_lines(build_arrangement(lines), 2.5)
    regions = build_arrangement(as_linework(woven, lines), close_gaps=0.0)
    bands = bands_of_woven(regions, woven)
    strand = bands.strand
    plain = find_orbits(regions, find_zones(regions))
    joined, _ = join_strands(plain, bands)
    bands = [o for o in joined.orbits if o.band]
    # turns by 120° carry each of the three families of strands onto the others
    assert len(bands) == 1
    assert set(bands[0].faces.tolist()) == set(np.flatnonzero(strand >= 0).tolist())
    assert joined.of_face.tolist().count(-1) == plain.of_face.tolist().count(-1)
    for row, orbit in enumerate(joined.orbits):
        assert (joined.of_face[orbit.faces] == row).all()
    adjacency = measure_adjacency(regions, joined)
    assert joined.orbits.index(bands[0]) not in adjacency.self_adjacent.tolist()


@pytest.mark.parametrize("degrees", [4, 8, 15, 25, 40, 70])
def test_a_twig_that_leaves_a_stem_aslant_is_a_band(degrees: float) -> None:
    # a stem and a twig on its left, both on to a frame; the twig comes from its middle
    frame = polyline([(10, 10), (90, 10), (90, 90), (10, 90)], closed=True)
    lean = np.radians(degrees)
    x, y = 30 + 60, 40 + 60 * np.tan(lean)
    if y > 90:
        x, y = 30 + 50 / np.tan(lean), 90.0
    rows = np.vstack([frame, [[10, 40, 90, 40], [30, 40, x, y]]])
    woven, regions = woven_regions(linework_from_segments(rows), 2.0)
    # two bands; ground below, left and right of the twig
    assert regions == 2 + 3
    panel = shapely.box(10, 10, 90, 90)
    far = [[(0, 40), (100, 40)], [(30, 40), (2 * x - 30, 2 * y - 40)]]
    bands = shapely.union_all([shapely.LineString(r).buffer(1.0) for r in far])
    edge = bands.intersection(panel).boundary.difference(panel.boundary.buffer(0.01))
    drawn = shapely.linestrings(woven.curves.flatten(1e-3)[0].reshape(-1, 2, 2))
    away = shapely.Point(30, 40).buffer(1.5)  # where the union is round
    lost = edge.difference(shapely.union_all(drawn).buffer(0.01)).difference(away)
    assert lost.length < 0.05


def test_a_twig_in_a_ring_is_a_band() -> None:
    # at 25 degrees from where the ring runs, which bends towards it
    lean = np.radians(25)
    twig = line(80, 50, 80 - 15 * np.sin(lean), 50 + 15 * np.cos(lean))
    lines = linework_from_curves([circle(50, 50, 30), twig])
    woven, regions = woven_regions(lines, 2.0)
    assert [s.closed for s in woven.strands.strands] == [True, False]
    # two bands and the inside
    assert regions == 2 + 1


def test_lines_that_run_side_by_side_are_told_as_such() -> None:
    # two arcs from one point to another, 11 degrees apart at both
    bow = np.arcsin(6 / 30.6)
    low = arc(50, 44, 30.6, bow, np.pi - bow)
    lines = linework_from_curves([arc(50, 50, 30, 0, np.pi), low])
    with pytest.raises(LineWorkError, match="side by side") as told:
        weave_lines(build_arrangement(lines), 2.0)
    assert "room for" not in told.value.what.replace("no room for", "")
    assert "mm" in told.value.where


def test_lines_that_cross_at_a_flat_angle_go_on_straight() -> None:
    # 2.3° between them: no frame bends so that the one leads into the other
    lines = [[0, 49, 100, 51], [0, 51, 100, 49], [50, 0, 50, 40], [50, 60, 50, 100]]
    drawn = linework_from_segments(np.array(lines, float), width=100.0, height=100.0)
    strands = follow_strands(gather_lines(build_arrangement(drawn))).strands
    long = [s for s in strands if s.length > 90]
    assert [round(s.length, 6) for s in long] == [round(float(np.hypot(100, 2)), 6)] * 2
    assert not any(s.border for s in long)


@pytest.mark.parametrize(
    ("middles", "width", "group"),
    [
        # three rings that cross two by two: a mirror exchanges over and under
        (
            [
                (70 + 18 * np.sin(t), 70 - 18 * np.cos(t), 30.0)
                for t in (0.0, 2 * np.pi / 3, 4 * np.pi / 3)
            ],
            3.0,
            "C3",
        ),
        ([(30 + 24 * i, 30 + 24 * j, 15.5) for i, j in np.ndindex(5, 5)], 2.5, "p4"),
    ],
)
def test_a_coloured_weave_has_the_group_of_its_lines(middles, width, group) -> None:
    rings = "".join(f'<circle cx="{x}" cy="{y}" r="{r}"/>' for x, y, r in middles)
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="160mm" '
        f'viewBox="0 0 160 160" fill="none" stroke="#000">{rings}</svg>'
    )
    plan = Plan(bands=BandSettings(width=width))
    survey = make_survey(drawing.encode(), plan)
    assert [z.symmetry.group.short for z in survey.zones] == [group]
    # every ring is as every other
    assert len({s.orbit for s in survey.bands.strands}) == 1
