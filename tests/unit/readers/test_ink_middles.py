"""Ink between regions is read by its middle, however wide and however it lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from fillwork.geometry.polygons import ring_sides
from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.ink import _quantiles, lines_of_ink


def table_of(ink: shapely.Geometry) -> StrokeTable:
    """Return the outlines of an area as one shape."""
    rings = [
        np.asarray(ring.coords)[:-1]
        for part in shapely.get_parts(ink)
        for ring in (part.exterior, *part.interiors)
    ]
    rows = [ring_sides(ring) for ring in rings]
    start = np.cumsum([0, *map(len, rows)])
    data = np.zeros((start[-1], 8))
    data[:, :4] = np.concatenate(rows)
    found = StrokeTable.of_lines(data, 0, start)
    return replace(found, closed=np.ones(len(rows), bool))


def middles(ink: shapely.Geometry) -> tuple[shapely.Geometry, float] | None:
    found = lines_of_ink(table_of(ink), np.array([True]))
    if found is None:
        return None
    lines, width = found
    ends = lines.data[:, :4].reshape(-1, 2, 2)
    return shapely.multilinestrings(shapely.linestrings(ends)), width


def grid(columns: int, rows: int, skew: float = 0.0) -> shapely.Geometry:
    """Return lines of a lattice of 10 mm, those across it leaning by `skew`."""
    across = [
        [(skew * y, y), (10 * columns + skew * y, y)]
        for y in range(0, 10 * rows + 1, 10)
    ]
    along = [
        [(x, 0), (x + skew * 10 * rows, 10 * rows)]
        for x in range(0, 10 * columns + 1, 10)
    ]
    return shapely.union_all(shapely.linestrings(across + along))


@pytest.mark.parametrize("width", [0.4, 1.0, 1.8])
@pytest.mark.parametrize(("turn", "skew"), [(0.0, 0.0), (0.3, 0.0), (0.0, 0.5)])
def test_lines_of_a_lattice_are_its_own(width, turn, skew) -> None:
    lines = affinity.rotate(grid(4, 3, skew), turn, (0, 0), use_radians=True)
    ink = lines.buffer(width / 2, cap_style="square", join_style="mitre")
    found, told = middles(ink)
    assert told == pytest.approx(width, rel=0.05)
    # every line is found, no other, and corners are sharp. Where a line ends at right
    # angles on another what is equally far from all three edges lies an eighth of the
    # width off: w/2 - y = hypot(w/2, w/2 + y)
    off = (0.126 if skew == 0.0 else 0.16) * width
    assert shapely.hausdorff_distance(found, lines) < off
    assert shapely.length(found) == pytest.approx(shapely.length(lines), rel=0.02)
    corners = shapely.points(np.array([(0, 0), (40, 0), (40 + 30 * skew, 30)]))
    corners = affinity.rotate(
        shapely.multipoints(corners), turn, (0, 0), use_radians=True
    )
    assert shapely.distance(found, shapely.get_parts(corners)).max() < 0.05 * width


def test_plates_and_figures_are_no_ink() -> None:
    lines = grid(4, 3)
    assert middles(lines.buffer(1.1, cap_style="square")) is not None
    # wider than three tenths of its holes
    assert middles(lines.buffer(1.2, cap_style="square")) is None
    # a frame with five panes, and with six
    for columns, rows, ink in ((5, 1, False), (3, 2, True)):
        found = middles(grid(columns, rows).buffer(0.5, cap_style="square"))
        assert (found is not None) == ink
    # a plate with small holes
    holes = [shapely.Point(x, y).buffer(1) for x in range(5, 40, 10) for y in (5, 15)]
    assert middles(shapely.box(0, 0, 40, 20) - shapely.union_all(holes)) is None


@pytest.mark.parametrize(
    ("weights", "found"),
    [
        ([1, 1, 1, 1], [2, 4]),
        ([0, 0, 1, 1], [3, 4]),
        ([7, 1, 1, 1], [1, 3]),
        ([0] * 4, [0, 0]),
    ],
)
def test_quantiles_go_by_weight(weights, found) -> None:
    values = np.array([3.0, 1.0, 4.0, 2.0])
    by_value = np.array(weights, float)[[2, 0, 3, 1]]
    assert _quantiles(values, by_value, (0.5, 0.9)) == found
