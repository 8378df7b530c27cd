"""Patterns of any size for measuring, constructed by their geometry."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "TILINGS", "cells_of", "circles_of", "dense_twelvefold", "framed", "hatching_of",
    "star_and_cross", "svg_of", "tiling",
]  # fmt: skip


def _closed(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.hstack([points, np.roll(points, -1, axis=0)])


def star_and_cross(segments: int) -> NDArray[np.float64]:
    """Return eight-point stars and crosses, every polygon drawn whole.

    Stars set tip to tip leave crosses between them, so each side is drawn
    twice; inside each star eight short lines end on its sides (T-joints).
    """
    half = np.pi / 8
    angle = np.arange(16) * half
    tip, notch = 10.0, 10.0 * np.cos(2 * half) / np.cos(half)
    radius = np.where(np.arange(16) % 2 == 0, tip, notch)
    star = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    # the cross about the corner of four stars follows their sides
    quarter = star[0:5]
    middle = np.array([10.0, 10.0])
    cross = []
    for k in range(4):
        c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][k]
        turn = np.array([[c, -s], [s, c]])
        cross.append((quarter[::-1][:-1] - middle) @ turn.T + middle)
    inner = (star + np.roll(star, -1, axis=0)) / 2
    ties = np.hstack([inner[0::2], inner[1::2]])
    cell = np.vstack([_closed(star), _closed(np.vstack(cross)), ties])
    side = max(int(np.ceil(np.sqrt(segments / len(cell)))), 1)
    shift = 20.0 * np.stack(np.meshgrid(np.arange(side), np.arange(side)), -1)
    shift = np.tile(shift.reshape(-1, 1, 2), (1, 1, 2))
    return np.round((cell[None] + shift + 15.0).reshape(-1, 4)[:segments], 6)


def dense_twelvefold(segments: int) -> NDArray[np.float64]:
    """Return overlapping {12/3} stars on a hexagonal lattice.

    About three regions for each line.
    """
    angle = np.arange(12) * np.pi / 6 + np.pi / 12
    points = 10.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    star = np.hstack([points, np.roll(points, -3, axis=0)])
    side = max(int(np.ceil(np.sqrt(segments / 12))), 1)
    i, j = np.meshgrid(np.arange(side), np.arange(side))
    x = 17.0 * (i + 0.5 * (j % 2))
    y = 17.0 * np.sqrt(3) / 2 * j
    shift = np.stack([x, y, x, y], axis=-1).reshape(-1, 1, 4)
    return np.round((star[None] + shift + 15.0).reshape(-1, 4)[:segments], 6)


def _polygon(sides: int, radius: float, start: float) -> NDArray[np.float64]:
    angle = start + np.arange(sides) * 2 * np.pi / sides
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


_SLOPE = 5.0 * np.sqrt(3)
# step along a row; what the next row is shifted and raised by; the polygon that stands
# at each place, and regions a place: what lies between is drawn by its neighbours
TILINGS = {
    "octagons and squares": (
        (10.0, 0.0, 10.0),
        _polygon(8, 5.0 / np.cos(np.pi / 8), np.pi / 8),
        2,
    ),
    "hexagons": ((10.0, 5.0, _SLOPE), _polygon(6, 10.0 / np.sqrt(3), np.pi / 6), 1),
    "triangles": (
        (10.0, 5.0, _SLOPE),
        np.array([[0.0, 0.0], [10.0, 0.0], [5.0, _SLOPE]]),
        2,
    ),
    "kagome": ((10.0, 5.0, _SLOPE), _polygon(6, 5.0, 0.0), 3),
}


def tiling(name: str, regions: int) -> NDArray[np.float64]:
    """Return the polygons of a uniform tiling, each drawn whole, in even rows."""
    (step, aside, up), corners, each = TILINGS[name]
    side = max(round(float(np.sqrt(regions / each))), 2)
    i, j = np.meshgrid(np.arange(side), np.arange(side))
    place = np.stack([step * i + aside * (j % 2), up * j], axis=-1).reshape(-1, 1, 2)
    lines = _closed(corners)[None] + np.tile(place, (1, 1, 2))
    return np.round(lines.reshape(-1, 4) - corners.min() + 15.0, 6)


def framed(segments: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return lines in a border of lozenges between two frames, corners left empty."""
    wide, gap = 20.0, 10.0
    points = segments.reshape(-1, 2)
    low, high = points.min(axis=0) - gap, points.max(axis=0) + gap
    many = np.maximum(np.round((high - low) / wide), 1).astype(int)
    lozenge = np.array([[0.0, -0.5], [0.5, 0.0], [0.0, 0.5], [-0.5, 0.0]])
    ink = [segments]
    for margin in (0.0, wide):
        a, b = low - margin, high + margin
        ink.append(_closed(np.array([a, [b[0], a[1]], b, [a[0], b[1]]])))
    for axis, count in enumerate(many.tolist()):
        step = (high - low)[axis] / count
        across = 1 - axis
        for edge in (low[across] - wide / 2, high[across] + wide / 2):
            middle = np.full((count, 1, 2), edge)
            middle[:, 0, axis] = low[axis] + step * (np.arange(count) + 0.5)
            size = np.full(2, wide)
            size[axis] = step
            ink += [_closed(four) for four in middle + lozenge * size]
    lines = np.vstack(ink)
    return np.round(lines - lines.min() + 10.0, 6)


def svg_of(segments: NDArray[np.float64]) -> bytes:
    """Return an SVG drawing of single lines, in mm."""
    width, height = segments.reshape(-1, 2).max(axis=0) + 10.0
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" '
        f'height="{height:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}">\n'
        '<g fill="none" stroke="#000" stroke-width="0.3">\n'
    )
    rows = [
        f'<line x1="{a:.6f}" y1="{b:.6f}" x2="{c:.6f}" y2="{d:.6f}"/>\n'
        for a, b, c, d in segments.tolist()
    ]
    return (head + "".join(rows) + "</g>\n</svg>\n").encode()


def circles_of(regions: int) -> bytes:
    """Return an SVG drawing of circles that overlap their four neighbours.

    A square lattice of circles whose radius is 0.6 of its step: each cell has the
    body of a circle, two lenses and a gap, all bounded by arcs.
    """
    side = max(round(float(np.sqrt(regions / 4))), 2)
    step = 10.0
    width = step * (side + 1)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" '
        f'height="{width}mm" viewBox="0 0 {width} {width}">\n'
        '<g fill="none" stroke="#000" stroke-width="0.3">\n'
    )
    rows = [
        f'<circle cx="{step * (i + 1)}" cy="{step * (j + 1)}" r="{0.6 * step}"/>\n'
        for i in range(side)
        for j in range(side)
    ]
    return (head + "".join(rows) + "</g>\n</svg>\n").encode()


def cells_of(count: int, seed: int, *, shared: bool) -> bytes:
    """Return an SVG drawing of a square metre of Voronoi cells, no two alike.

    `shared`: each side once, as a line, and not each cell as a closed path.
    """
    from scipy.spatial import Voronoi

    size = 1000.0
    points = np.random.default_rng(seed).random((count, 2)) * size
    # images in the four sides bound the cells by the square
    images = [points * (-1, 1), points * (1, -1)]
    images += [(2 * size, 0) + points * (-1, 1), (0, 2 * size) + points * (1, -1)]
    found = Voronoi(np.vstack([points, *images]))
    if shared:
        own = (found.ridge_points < count).any(axis=1)
        rows = found.vertices[np.array(found.ridge_vertices)[own]].reshape(-1, 4)
        lines = [
            f'<line x1="{a:.4f}" y1="{b:.4f}" x2="{c:.4f}" y2="{d:.4f}"/>'
            for a, b, c, d in rows.tolist()
        ]
        return _page(size, size, lines)
    paths = []
    for region in found.point_region[:count].tolist():
        ring = found.vertices[found.regions[region]]
        way = ring - ring.mean(axis=0)
        ring = ring[np.argsort(np.arctan2(way[:, 1], way[:, 0]))]
        corners = "L".join(f"{x:.4f},{y:.4f}" for x, y in ring.tolist())
        paths.append(f'<path d="M{corners}Z"/>')
    return _page(size, size, paths)


def hatching_of(strokes: int, seed: int) -> bytes:
    """Return an SVG drawing of loose hatching by hand in four columns of one frame."""
    rng = np.random.default_rng(seed)
    rows = strokes // 4
    high = 0.8 * rows + 10.0
    off = rng.normal(0.0, 0.3, (rows, 4, 4)) * (1.0, 0.3, 1.0, 0.3)
    x, y = 10.0 + 60.0 * np.arange(4), 5.0 + 0.8 * np.arange(rows)[:, None]
    ends = np.stack(np.broadcast_arrays(x, y, x + 58.0, y), axis=-1) + off
    lines = [
        f'<line x1="{a:.4f}" y1="{b:.4f}" x2="{c:.4f}" y2="{d:.4f}"/>'
        for a, b, c, d in ends.reshape(-1, 4).tolist()
    ]
    frame = f'<rect x="10" y="2" width="240" height="{high - 5:.1f}"/>'
    return _page(270.0, high, [*lines, frame])


def _page(width: float, height: float, rows: list[str]) -> bytes:
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" '
        f'height="{height}mm" viewBox="0 0 {width} {height}">\n'
        '<g fill="none" stroke="#000" stroke-width="0.1">\n'
    )
    return (head + "\n".join(rows) + "\n</g>\n</svg>\n").encode()
