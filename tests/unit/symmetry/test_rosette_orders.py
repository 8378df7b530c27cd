"""Orders of rosettes: not doubled by what is nearly there, and beyond 64."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.fit import Correlator
from fillwork.symmetry.lines.gathering import gather_evidence
from fillwork.symmetry.lines.rosette import find_rosette
from fillwork.symmetry.lines.turning import widened
from fillwork.symmetry.zones.find import find_zones
from tests.bench.symmetry_sets import read_pattern
from tests.unit.helpers import linework_from_segments, polyline
from tests.unit.symmetry.strips import rosette_pattern

# the way of a line that is longer in two figures of four
_ALONG = np.array([9.0, 4.0]) / np.hypot(9.0, 4.0)


def _star(n: int, step: int, radius: float = 60.0) -> np.ndarray:
    """Return the sides of the star polygon {n/step}."""
    angle = np.arange(n) * 2 * np.pi / n
    tips = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.hstack([tips, np.roll(tips, -step, axis=0)])


def _turned(segments: list[list[float]], n: int) -> np.ndarray:
    rows = []
    for k in range(n):
        c, s = np.cos(2 * np.pi * k / n), np.sin(2 * np.pi * k / n)
        turn = np.array([[c, s], [-s, c]])
        rows.append((np.reshape(segments, (-1, 2)) @ turn).reshape(-1, 4))
    return np.concatenate(rows)


def _ring(n: int, inner: float, outer: float) -> np.ndarray:
    angle = np.arange(2 * n) * np.pi / n
    radius = np.where(np.arange(2 * n) % 2, inner, outer)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return polyline(points, closed=True)


def _read(segments: np.ndarray):
    work = linework_from_segments(segments + 80.0, 160, 160, has_page=False)
    arrangement = build_arrangement(work)
    zones = find_zones(arrangement)
    return arrangement, zones


@pytest.mark.parametrize(
    ("bar", "group"),
    [([18.0, -2.0, 18.0, 2.0], "D12"), ([30.0, 0.0, 36.0, 3.0], "C12")],
)
def test_a_detail_in_every_second_point_halves_the_order(bar, group):
    stars = [_star(24, 7), _star(24, 10)]
    _, zones = _read(np.vstack([*stars, _turned([bar], 12)]))
    symmetry = zones[0].symmetry
    assert symmetry.group.short == group
    assert symmetry.certain


def test_rings_of_twice_the_order_do_not_double_it():
    rings = [(24, 50, 60), (24, 40, 47), (24, 30, 37), (12, 22, 27), (24, 18, 20)]
    _, zones = _read(np.vstack([_ring(*r) for r in rings]))
    symmetry = zones[0].symmetry
    assert symmetry.group.short == "D12"
    assert symmetry.certain


# {n/k} has k - 1 rings of n regions and its middle: n (k - 1) + 1 in k kinds
@pytest.mark.parametrize(("n", "step"), [(72, 5), (97, 6)])
def test_stars_of_more_than_64_points(n, step):
    arrangement, zones = _read(_star(n, step))
    assert arrangement.face_count - 1 == n * (step - 1) + 1
    assert zones[0].symmetry.group.short == f"D{n}"
    assert zones[0].symmetry.certain
    assert len(find_orbits(arrangement, zones).orbits) == step


def test_large_orders_can_be_stated():
    assert parse_group("rosette:D97").orbifold == "*97•"


def _trefoil(half_width: float) -> np.ndarray:
    """Return the sides of a band along an alternating trefoil knot.

    The curve (sin t + 2 sin 2t, cos t - 2 cos 2t) meets itself where cos t is -1/4 and
    wherever thirds of a turn carry that point.
    """
    knot = np.arccos(-0.25)
    under, over = 2 * np.pi / 3 - knot, knot

    def side(start: float, stop: float, away: float) -> np.ndarray:
        t = np.linspace(start, stop, 200)
        x, y = np.sin(t) + 2 * np.sin(2 * t), np.cos(t) - 2 * np.cos(2 * t)
        u, v = np.cos(t) + 4 * np.cos(2 * t), -np.sin(t) + 4 * np.sin(2 * t)
        off = away / np.hypot(u, v)
        return np.column_stack([x - off * v, y + off * u])

    def turned(points: np.ndarray, k: int) -> np.ndarray:
        c, s = np.cos(2 * np.pi * k / 3), np.sin(2 * np.pi * k / 3)
        return points @ np.array([[c, -s], [s, c]])

    edges = [side(over - 0.35, over + 0.35, w) for w in (half_width, -half_width)]
    above = np.vstack([edges[0], edges[1][::-1]])
    others = shapely.union_all([shapely.Polygon(turned(above, k)) for k in (1, 2)])
    rows = []
    for away in (half_width, -half_width):
        # from under one crossing over another to under a third
        whole = shapely.LineString(side(under, 4 * np.pi / 3 - knot, away))
        for k, points in enumerate([shapely.get_coordinates(whole - others)] * 3):
            rows.append(polyline(turned(points, k)))
    return 20 * np.concatenate(rows)


def test_a_mirror_fits_the_lines_where_bands_cross_too():
    # alternating knots pass over and under by turns, which no mirror in the plane keeps
    arrangement, zones = _read(_trefoil(0.25))
    assert arrangement.face_count - 1 == 7
    assert zones[0].symmetry.group.short == "C3"
    assert zones[0].symmetry.certain


def test_a_sliver_that_the_window_does_not_show_has_a_scale():
    work = linework_from_segments(_star(8, 3) + 80.0, 160, 160, has_page=False)
    evidence = gather_evidence(build_arrangement(work))
    window = replace(evidence.window, depth=np.zeros_like(evidence.window.depth))
    unseen = replace(evidence, window=window)
    assert widened(unseen).scale > 0
    assert find_rosette(unseen, Correlator(evidence)) is None


# the group is that of the turns and mirrors that the strokes were carried about by;
# one face in the first, seven in the second stood apart as plain parts of a frame
@pytest.mark.parametrize(("n", "noise"), [(5, 0.0), (8, 0.01)])
def test_a_rosette_of_many_strokes_is_one_zone(n: int, noise: float) -> None:
    pattern = rosette_pattern(n, True, 300, noise=noise)
    arrangement, _ = read_pattern(pattern, "open")
    zones = find_zones(arrangement)
    assert [z.symmetry.group.short for z in zones] == [f"D{n}"]


@pytest.mark.parametrize(("stray", "sure"), [(0.0, True), (0.07, False)])
def test_a_detail_is_no_sure_design_where_corners_stray(
    stray: float, *, sure: bool
) -> None:
    # four figures turned by quarters, of which two opposite have one line 1.5 mm
    # longer: half turns where that is exact, a slip of the pen where corners are off
    rng = np.random.default_rng(1)
    triangle = np.array([[14.0, -5.0], [24.0, -2.0], [16.0, 5.0]])
    kite = np.array([[19.0, 10.0], [26.0, 13.0], [23.0, 19.0], [17.0, 16.0]])
    rows = [polyline([(15, 15), (85, 15), (85, 85), (15, 85)], closed=True)]
    for k in range(4):
        c, s = np.cos(k * np.pi / 2), np.sin(k * np.pi / 2)
        bar = np.array([[12.0, -1.0], np.array([21.0, 3.0]) + (k % 2) * 1.5 * _ALONG])
        for figure, closed in ((triangle, True), (bar, False), (kite, True)):
            turned = figure @ np.array([[c, s], [-s, c]])
            moved = turned + rng.normal(0, stray, figure.shape) + 50
            rows.append(polyline(moved, closed))
    arrangement = build_arrangement(
        linework_from_segments(np.vstack(rows), 100, 100, has_page=False)
    )
    zone = max(find_zones(arrangement), key=lambda z: len(z.faces))
    found = zone.symmetry
    assert (found.group.short, found.certain) == ("C2", sure)
    assert sure or [c.group for c in found.candidates] == ["C2", "C4"]


@pytest.mark.parametrize("n", [5, 7, 10])
def test_turns_that_lines_keep_roughly_leave_doubt(n: int) -> None:
    """Each figure is moved by up to an eighth of its sides, as by a hand."""
    hook = [[24.0, 2.0, 36.0, 6.0], [36.0, 6.0, 30.0, 14.0], [30.0, 14.0, 24.0, 2.0]]
    rng = np.random.default_rng(n)
    moved = np.repeat(rng.uniform(-1.0, 1.0, (n, 2)), 3, axis=0)
    found = _read(_turned(hook, n) + np.tile(moved, 2))[1][0].symmetry
    assert (found.group.short, found.certain) == (f"C{n}", False)
