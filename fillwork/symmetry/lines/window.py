"""The window: where a drawing would show a line if there were one, as a grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import expand_ranges
from fillwork.symmetry.grids import count_parts, distance_inside

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Floats32

_PIXELS = 250_000  # of the window's grid
FIGURES = 4  # parts of the window from which they may be loose figures


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """Hold the window as a grid of distances from its edge."""

    corner: Floats  # (2,): lower left corner of the grid, mm
    pixel: float  # side of a pixel, mm
    # (rows, columns): distance of each pixel's centre from the outside, mm, up to half
    # a scale; 0 outside, as all along the grid's edge
    depth: Floats32

    def depth_at(self, points: Floats) -> Floats32:
        """Return how deep inside the window points lie.

        `points` (n, 2): points, mm. Returns (n,): distance from the window's edge, mm,
        short by up to a pixel; 0 outside.
        """
        rows, columns = self.depth.shape
        # column by column: numpy is slow along rows of two; the outermost pixels lie
        # outside, so that what is beyond the grid may be taken for them
        cell = np.zeros(len(points), np.intp)
        for k, size in ((1, rows), (0, columns)):
            at = points[:, k] - self.corner[k]
            at /= self.pixel
            np.maximum(at, 0.0, out=at)
            np.minimum(at, size - 1, out=at)
            cell *= size
            cell += at.astype(np.intp)
        return np.asarray(self.depth.ravel().take(cell))

    @property
    def area(self) -> float:
        """Return the area of the window, mm²."""
        return float((self.depth > 0).sum()) * self.pixel**2

    def narrowed(self, margin: float) -> Window:
        """Return the window without its outermost part; the narrower one.

        `margin`: how much is set aside all round, mm.
        """
        # depths beyond some are not told apart, so they are found anew
        deepest = float(self.depth.max(initial=0.0)) + margin
        depth = distance_inside(self.depth > 0, deepest / self.pixel + 1)
        depth = depth * np.float32(self.pixel) - np.float32(margin)
        return Window(self.corner, self.pixel, np.maximum(depth, np.float32(0)))


def _fill(
    boundary: Floats, corner: Floats, pixel: float, shape: tuple[int, int]
) -> Bools:
    """Return which pixel centres lie inside closed boundaries (even-odd rule)."""
    rows, columns = shape
    y0 = (boundary[:, 1] - corner[1]) / pixel - 0.5
    y1 = (boundary[:, 3] - corner[1]) / pixel - 0.5
    x0 = (boundary[:, 0] - corner[0]) / pixel - 0.5
    x1 = (boundary[:, 2] - corner[0]) / pixel - 0.5
    low = np.ceil(np.minimum(y0, y1)).astype(np.intp)
    high = np.ceil(np.maximum(y0, y1)).astype(np.intp)
    owner, row = expand_ranges(low, high - low)
    x = x0[owner] + (row - y0[owner]) / (y1[owner] - y0[owner]) * (x1 - x0)[owner]
    column = np.clip(np.ceil(x).astype(np.intp), 0, columns)
    row = np.clip(row, 0, rows - 1)
    toggles = np.bincount(row * (columns + 1) + column, minlength=rows * (columns + 1))
    parity = np.cumsum(toggles.reshape(rows, columns + 1), axis=1)[:, :columns] % 2
    return np.asarray(parity == 1)


def build_window(
    boundary: Floats, hull: Floats, deepest: float, figures: int
) -> Window:
    """Return the window that a boundary bounds, or else a hull.

    `deepest`: depth that is measured at most, mm. `figures`: so many parts may be
    figures scattered on an empty ground, which counts as seen then.
    """
    low, high = hull.min(axis=0), hull.max(axis=0)
    width, height = np.maximum(high - low, 1e-9)
    pixel = float(max(np.sqrt(width * height / _PIXELS), max(width, height) / 4000))
    corner = low - 2 * pixel
    shape = (int(np.ceil(height / pixel)) + 4, int(np.ceil(width / pixel)) + 4)
    ring = np.concatenate([hull, np.roll(hull, -1, axis=0)], axis=1)
    inside = _fill(boundary, corner, pixel, shape) if len(boundary) else None
    whole = _fill(ring, corner, pixel, shape)
    if inside is not None:
        parts, largest = count_parts(inside)
        # scattered figures on an empty ground: the ground counts as seen, and so does
        # a narrow one between many, whose lines all lie on their own edges
        area, ground = inside.sum(), whole.sum()
        scattered = parts >= figures and largest < 0.5 * ground
        if scattered and (area < 0.6 * ground or largest < 0.2 * area):
            inside = whole
    else:
        inside = whole
    depth = distance_inside(inside, deepest / pixel + 4) - np.float32(0.5)
    depth = np.maximum(depth, 0) * np.float32(pixel)
    return Window(corner, pixel, depth)


def widen_window(window: Window, margin: float) -> Window:
    """Return the window grown by a margin on all sides.

    Where a figure stands free, the lines on its outline are evidence too; they
    lie on the window's edge and count only when the window is a little wider.

    With depths from its own edge. `margin`: how much wider, mm.
    """
    pad = int(np.ceil(margin / window.pixel)) + 2
    inside = np.pad(window.depth > 0, pad)
    away = distance_inside(~inside, margin / window.pixel + 1) * window.pixel
    grown = away <= margin
    deepest = float(window.depth.max(initial=0.0)) + margin
    depth = distance_inside(grown, deepest / window.pixel + 1) - np.float32(0.5)
    depth = np.maximum(depth, 0) * np.float32(window.pixel)
    return Window(window.corner - pad * window.pixel, window.pixel, depth)


def convex_hull(points: Floats) -> Floats:
    """Return the convex hull of points, counter-clockwise; a thin box of a line."""
    import shapely

    hull = shapely.convex_hull(shapely.multipoints(points))
    low, high = points.min(axis=0), points.max(axis=0)
    size = float((high - low).max())
    if float(shapely.area(hull)) > 1e-9 * size * size:
        ring = shapely.get_coordinates(hull)[:-1]
        x, y = ring.T
        twice = float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
        return np.asarray(ring if twice > 0 else ring[::-1])
    pad = max(size * 1e-3, 1e-9)
    low, high = low - pad, high + pad
    return np.array([low, (high[0], low[1]), high, (low[0], high[1])])


def on_hull(segments: Floats, hull: Floats, slack: float) -> Bools:
    """Return which segments run along the convex hull."""
    a, b = hull, np.roll(hull, -1, axis=0)
    side = b - a
    length = np.hypot(side[:, 0], side[:, 1])
    a, side, length = a[length > 0], side[length > 0], length[length > 0]
    normal = np.stack([-side[:, 1], side[:, 0]], axis=1) / length[:, None]
    level = (a * normal).sum(axis=1)
    result = np.zeros(len(segments), bool)
    for chunk in np.array_split(np.arange(len(segments)), len(segments) // 4096 + 1):
        first = segments[chunk, :2] @ normal.T - level
        last = segments[chunk, 2:] @ normal.T - level
        near = (np.abs(first) < slack) & (np.abs(last) < slack)
        result[chunk] = near.any(axis=1)
    return result
