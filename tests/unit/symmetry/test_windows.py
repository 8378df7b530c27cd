"""Patterns cut by windows that are no rectangles, or that leave parts of the page."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments
from tests.unit.symmetry.cells import SPACE_GROUPS, Cells, make_cells
from tests.unit.symmetry.panels import _clip

if TYPE_CHECKING:
    from fillwork.symmetry.model import Symmetry


def _window(kind: str, wide: float, tall: float, turn: float = 31.0) -> shapely.Polygon:
    box = shapely.box(0, 0, wide, tall)
    if kind == "round":
        small = 0.48 * min(wide, tall)
        return shapely.Point(wide / 2, tall / 2).buffer(small, quad_segs=24)
    if kind == "turned":
        inner = shapely.box(0.2 * wide, 0.2 * tall, 0.8 * wide, 0.8 * tall)
        return shapely.affinity.rotate(inner, turn).intersection(box)
    if kind == "thin":
        inner = shapely.box(0.02 * wide, 0.32 * tall, 0.98 * wide, 0.68 * tall)
        return shapely.affinity.rotate(inner, turn).intersection(box)
    if kind == "three":
        foot = [(0.02 * wide, 0.02 * tall), (0.98 * wide, 0.05 * tall)]
        return shapely.Polygon([*foot, (turn * wide, 0.97 * tall)])
    if kind == "ell":
        return box.difference(shapely.box(wide / 2, tall / 2, wide, tall))
    return box.difference(shapely.box(0.6 * wide, -1, 0.75 * wide, tall / 2))


# groups are those of gemmi's tables, by which the patterns are made
@pytest.mark.parametrize(
    ("group", "kind", "edge"),
    [
        ("p6m", "round", "page"),
        ("cm", "turned", "page"),
        ("p31m", "ell", "page"),
        ("pmg", "notch", "drawn"),
        ("pm", "ell", "drawn"),
    ],
)
def test_a_window_of_any_shape_leaves_the_group(
    group: str, kind: str, edge: str
) -> None:
    rng = np.random.default_rng(crc32(f"{group} {kind}".encode()))
    pattern = make_cells(group, rng, repeats=24.0, framed=False)
    window = _window(kind, *pattern.window.bounds[2:])
    found = _found(pattern, window, edge)
    assert found.group.short == group
    assert found.certain


# no more is seen than a row of pmm, three cells of p3 whose neighbours the page leaves
# open, and oblongs of pm that are hardly off a smaller group's or a larger one's
@pytest.mark.parametrize(
    ("group", "seed", "noise", "kind", "between", "edge"),
    [
        ("pmm", 822, 0.01, "thin", (-20, 20), "open"),
        ("p3", 807, 0.005, "turned", (5, 85), "page"),
        ("pm", 806, 0.005, "three", (0.2, 0.8), "page"),
    ],
)
def test_a_small_piece_is_not_sure_of_another_group(
    group: str,
    seed: int,
    noise: float,
    kind: str,
    between: tuple[float, float],
    edge: str,
) -> None:
    rng = np.random.default_rng([99, seed, list(SPACE_GROUPS).index(group)])
    repeats = float(rng.choice([12, 18, 30]))
    pattern = make_cells(group, rng, repeats=repeats, noise=noise, framed=False)
    window = _window(kind, *pattern.window.bounds[2:], rng.uniform(*between))
    found = _found(pattern, window, edge)
    assert found.group.short == group or not found.certain


def _found(pattern: Cells, window: shapely.Polygon, edge: str) -> Symmetry:
    """Return the symmetry of the largest zone of a pattern in a window."""
    rows = _clip(pattern.segments, window)
    if edge == "drawn":
        ring = shapely.get_coordinates(window.exterior)
        rows = np.vstack([rows, np.hstack([ring[:-1], ring[1:]])])
    low, high = rows.reshape(-1, 2).min(axis=0), rows.reshape(-1, 2).max(axis=0)
    work = linework_from_segments(
        rows - np.tile(low, 2), *(high - low), has_page=edge == "page"
    )
    page_edge = "close" if edge == "page" else "open"
    arrangement = build_arrangement(work, page_edge=page_edge, close_gaps=0.0)
    return max(find_zones(arrangement), key=lambda zone: len(zone.faces)).symmetry


def test_corners_that_a_round_window_cuts_off_its_page_are_plain() -> None:
    # four kites about the middle of each square of a grid: p4; a square less the
    # circle in it is four corners, of which one fell in with the pattern
    pitch, radius = 20.0, 45.0
    kite = np.array([[6, 2.5], [8, 3], [7.2, 4.6], [6.2, 4]])
    far = 6 * pitch
    rows = [[s, -far, s, far] for s in np.arange(-far, far + 1, pitch)]
    rows += [[y0, x0, y1, x1] for x0, y0, x1, y1 in rows]
    for turn in range(4):
        c, s = np.cos(turn * np.pi / 2), np.sin(turn * np.pi / 2)
        ring = kite @ np.array([[c, s], [-s, c]])
        for x in np.arange(-far, far, pitch) + pitch / 2:
            for y in np.arange(-far, far, pitch) + pitch / 2:
                sides = np.hstack([ring, np.roll(ring, -1, axis=0)])
                rows += (sides + np.array([x, y, x, y])).tolist()
    c, s = np.cos(np.radians(25)), np.sin(np.radians(25))
    moved = np.reshape(rows, (-1, 2)) + np.array([3.0, 4.0])
    turned = moved @ np.array([[c, s], [-s, c]])
    disc = shapely.Point(0, 0).buffer(radius, quad_segs=32)
    ring = shapely.get_coordinates(disc.exterior)
    drawn = [_clip(turned.reshape(-1, 4), disc), np.hstack([ring[:-1], ring[1:]])]
    work = linework_from_segments(np.vstack(drawn) + radius, 2 * radius, 2 * radius)
    zones = find_zones(build_arrangement(work, page_edge="close"))
    assert [z.symmetry.group.short for z in zones] == ["p4", "none"]
    assert zones[0].symmetry.certain
    assert len(zones[1].faces) == 4


# signs and order of coordinates of the general position, International Tables A
@pytest.mark.parametrize(
    ("group", "turns"),
    [
        ("pmm", [(1, 0, 0, 1), (-1, 0, 0, -1), (-1, 0, 0, 1), (1, 0, 0, -1)]),
        ("p4", [(1, 0, 0, 1), (-1, 0, 0, -1), (0, -1, 1, 0), (0, 1, -1, 0)]),
        ("pm", [(1, 0, 0, 1), (-1, 0, 0, 1)]),
    ],
)
def test_loose_figures_in_a_concave_frame_keep_their_group(
    group: str, turns: list[tuple[int, int, int, int]]
) -> None:
    # the sides of the ell are cut by few figures, and nothing repeats them
    ell = shapely.Polygon([(0, 0), (170, 0), (170, 90), (95, 90), (95, 170), (0, 170)])
    hook = np.array([[3, 2], [11, 4], [8, 7], [9, 12], [4, 9]], dtype=float)
    wide, tall = 30.0, 30.0 if group == "p4" else 37.0
    rows = [_sides(ell)]
    for turn in turns:
        figure = shapely.Polygon(hook @ np.reshape(turn, (2, 2)).T)
        for i, j in np.ndindex(9, 9):
            moved = shapely.affinity.translate(
                figure, wide * (i - 1) + 7, tall * (j - 1) + 11
            )
            cut = shapely.intersection(moved.exterior, ell)
            lines = shapely.get_parts(shapely.line_merge(cut))
            rows += [_sides(line) for line in lines if line.length > 0]
    work = linework_from_segments(np.concatenate(rows), 170.0, 170.0, has_page=False)
    zones = find_zones(build_arrangement(work))
    largest = max(zones, key=lambda zone: len(zone.faces))
    assert largest.symmetry.group.short == group
    assert largest.symmetry.certain


def _sides(shape: shapely.Geometry) -> np.ndarray:
    """Return the sides of a line or ring, one a row."""
    points = shapely.get_coordinates(shape)
    return np.hstack([points[:-1], points[1:]])
