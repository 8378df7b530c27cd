"""Patterns cut by windows that are no rectangles, or that leave parts of the page."""

from __future__ import annotations

from zlib import crc32

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments
from tests.unit.symmetry.cells import make_cells
from tests.unit.symmetry.panels import _clip


def _window(kind: str, wide: float, tall: float) -> shapely.Polygon:
    box = shapely.box(0, 0, wide, tall)
    if kind == "round":
        small = 0.48 * min(wide, tall)
        return shapely.Point(wide / 2, tall / 2).buffer(small, quad_segs=24)
    if kind == "turned":
        inner = shapely.box(0.2 * wide, 0.2 * tall, 0.8 * wide, 0.8 * tall)
        return shapely.affinity.rotate(inner, 31).intersection(box)
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
    found = max(find_zones(arrangement), key=lambda zone: len(zone.faces)).symmetry
    assert found.group.short == group
    assert found.certain
