"""Drawings that have no bands, made from a seed: nobody would paint strands in them."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np
import shapely

from tests.bench.strapwork import middle_lines
from tests.reference.test_kinds_tilings import TILINGS

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["drawings_without"]

SIDE = 100.0


def _svg(segments: np.ndarray, circles: np.ndarray | None = None) -> bytes:
    box = [[0, 0, SIDE, 0], [SIDE, 0, SIDE, SIDE], [SIDE, SIDE, 0, SIDE]]
    box.append([0, SIDE, 0, 0])
    lines = shapely.linestrings(np.asarray(segments, float).reshape(-1, 2, 2))
    inner = shapely.intersection(lines, shapely.box(0, 0, SIDE, SIDE))
    inner = [g for g in shapely.get_parts(inner) if g.length > 1e-6]
    rows = [np.array(g.coords).reshape(-1) for g in inner]
    marks = [
        f'<line x1="{a:.5f}" y1="{b:.5f}" x2="{c:.5f}" y2="{d:.5f}"/>'
        for a, b, c, d in np.vstack([*rows, *np.array(box, float)]) + 5
    ]
    if circles is not None:
        marks += [
            f'<circle cx="{x + 5:.5f}" cy="{y + 5:.5f}" r="{r:.5f}"/>'
            for x, y, r in circles
        ]
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="110mm" height="110mm" '
        'viewBox="0 0 110 110"><g fill="none" stroke="#000" stroke-width="0.25">'
        + "\n".join(marks)
        + "</g></svg>"
    ).encode()


def _grid(xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
    return np.array(
        [[x, 0, x, SIDE] for x in xs] + [[0, y, SIDE, y] for y in ys], float
    )


def _rings(points: np.ndarray) -> np.ndarray:
    """Return the sides of polygons (n, corners, 2)."""
    return np.concatenate([points, np.roll(points, -1, axis=1)], -1).reshape(-1, 4)


def _turned(segments: np.ndarray, angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    points = np.asarray(segments, float).reshape(-1, 2) - SIDE / 2
    return (points @ [[c, s], [-s, c]] + SIDE / 2).reshape(-1, 4)


def _parallels(rng: np.random.Generator) -> np.ndarray:
    wide = rng.uniform(2, 9, rng.integers(1, 4))
    at = np.cumsum(np.tile(wide, 90))
    lines = np.array([[x, -60, x, 160] for x in at[at < 220] - 60])
    return _turned(lines, rng.choice([0, np.pi / 4, rng.uniform(0, 3)]))


def _chevrons(rng: np.random.Generator) -> np.ndarray:
    tall, wide, rise = rng.uniform(4, 12), rng.uniform(10, 25), rng.uniform(3, 14)
    rows = []
    for y in np.arange(-20, 120, tall):
        for k in range(-1, int(SIDE / wide) + 2):
            a, b = (0, rise) if k % 2 else (rise, 0)
            rows.append([k * wide, y + a, (k + 1) * wide, y + b])
    rows += [[k * wide, 0, k * wide, SIDE] for k in range(int(SIDE / wide) + 1)]
    return np.array(rows)


def _bricks(rng: np.random.Generator) -> np.ndarray:
    tall = rng.uniform(4, 10)
    wide, off = tall * rng.uniform(1.5, 4), rng.choice([0.5, 1 / 3, 0.25])
    ys = np.arange(tall, SIDE, tall)
    joints = [
        [x, y, x, y + tall]
        for k, y in enumerate([0, *ys])
        for x in np.arange((k * off % 1) * wide, SIDE, wide)
    ]
    return np.vstack([_grid(np.empty(0), ys), joints])


def _herringbone(rng: np.random.Generator) -> np.ndarray:
    w = rng.uniform(4, 7)
    n = int(rng.integers(2, 5))
    boxes = []
    # blocks of n by 1 in stairs
    for i in range(-40, 40):
        for j in range(-40, 40):
            x, y = (i + n * j) * w, (i - n * j) * w
            if -80 < x < 180 and -80 < y < 180:
                boxes.append(shapely.box(x, y, x + n * w, y + w))
                boxes.append(shapely.box(x, y + w, x + w, y + w + n * w))
    edges = shapely.unary_union([b.boundary for b in boxes])
    rows = [
        np.hstack([c[:-1], c[1:]])
        for g in shapely.get_parts(edges)
        for c in [np.array(g.coords)]
    ]
    return _turned(np.vstack(rows), rng.choice([0, np.pi / 4]))


def _tartan(rng: np.random.Generator) -> np.ndarray:
    wide = rng.uniform(1.5, 12, rng.integers(2, 7))
    at = np.cumsum(np.tile(wide, 60))
    at = at[at < SIDE]
    if rng.random() < 0.4:
        other = np.cumsum(np.tile(rng.uniform(1.5, 12, rng.integers(2, 7)), 60))
        return _grid(at, other[other < SIDE])
    return _grid(at, at)


def _lozenges(rng: np.random.Generator) -> np.ndarray:
    wide, slope = rng.uniform(6, 16), rng.uniform(0.5, 2.2)
    rows = []
    for x in np.arange(-300, 300, wide):
        rows += [[x, 0, x + 100 / slope, 100], [x, 100, x + 100 / slope, 0]]
    return np.array(rows)


def _kites(rng: np.random.Generator) -> np.ndarray:
    """Return rosettes of long kites, and rays."""
    n, turns = int(rng.choice([6, 8, 10, 12, 16])), int(rng.integers(2, 5))
    rows = []
    t = 2 * np.pi * np.arange(n) / n
    radius = np.sort(rng.uniform(6, 48, turns * 2))
    for a, b in zip(radius[::2], radius[1::2], strict=True):
        tip = np.stack([np.cos(t), np.sin(t)], 1)
        side = np.stack([np.cos(t + np.pi / n), np.sin(t + np.pi / n)], 1)
        rows.append(np.hstack([tip * b, side * (a + b) / 2]))
        rows.append(np.hstack([np.roll(tip, -1, 0) * b, side * (a + b) / 2]))
        rows.append(np.hstack([tip * a, side * (a + b) / 2]))
        rows.append(np.hstack([np.roll(tip, -1, 0) * a, side * (a + b) / 2]))
    return np.vstack(rows) + SIDE / 2


def _stars(rng: np.random.Generator) -> np.ndarray:
    name = rng.choice(sorted(TILINGS))
    middles = middle_lines(
        name, rng.uniform(14, 24), SIDE, np.radians(rng.uniform(38, 78))
    )
    return np.vstack([np.hstack([m[:-1], m[1:]]) for m in middles])


def _tiling(rng: np.random.Generator) -> np.ndarray:
    """Return a tiling, with its dual or spokes in some of its tiles."""
    from tests.bench.strapwork import _tiles

    name = rng.choice(sorted(TILINGS))
    tiles = _tiles(name, rng.uniform(8, 16), SIDE)
    rows = [_rings(tile[None]) for tile in tiles]
    if rng.random() < 0.5:
        for tile in tiles:
            middle = (tile + np.roll(tile, -1, 0)) / 2
            if rng.random() < 0.9:
                rows.append(np.hstack([middle, np.tile(tile.mean(0), (len(tile), 1))]))
    return np.unique(np.round(np.vstack(rows), 5), axis=0)


def _voronoi(rng: np.random.Generator) -> np.ndarray:
    points = shapely.MultiPoint(rng.uniform(0, SIDE, (rng.integers(25, 90), 2)))
    cells = shapely.voronoi_polygons(points, extend_to=shapely.box(0, 0, 100, 100))
    edges = shapely.unary_union([c.exterior for c in cells.geoms])
    return np.vstack(
        [
            np.hstack([c[:-1], c[1:]])
            for g in shapely.get_parts(edges)
            for c in [np.array(g.coords)]
        ]
    )


def _map(rng: np.random.Generator) -> np.ndarray:
    """Return cells with rough borders."""
    rows = []
    for a in _voronoi(rng):
        p, q = a[:2], a[2:]
        count = max(int(np.hypot(*(q - p)) / 2.5), 1)
        t = np.linspace(0, 1, count + 1)[:, None]
        line = p + t * (q - p)
        line[1:-1] += rng.normal(0, 0.35, (count - 1, 2))
        rows.append(np.hstack([line[:-1], line[1:]]))
    return np.vstack(rows)


def _delaunay(rng: np.random.Generator) -> np.ndarray:
    points = shapely.MultiPoint(rng.uniform(0, SIDE, (rng.integers(20, 60), 2)))
    edges = shapely.delaunay_triangles(points, only_edges=True)
    return np.array([np.array(g.coords).reshape(-1) for g in shapely.get_parts(edges)])


def _window(rng: np.random.Generator) -> np.ndarray:
    """Return panes with glazing bars as double lines, not crossing each other."""
    xs = np.arange(0, SIDE, SIDE / rng.integers(2, 5))[1:]
    bar = rng.uniform(1, 3)
    rows = []
    edges = np.r_[0, xs, SIDE]
    for a, b in itertools.pairwise(edges):
        a, b = a + bar, b - bar
        y = np.arange(0, SIDE, SIDE / rng.integers(2, 6))
        for low, high in zip(y, np.r_[y[1:], SIDE], strict=True):
            box = np.array([[a, low + bar], [b, low + bar], [b, high - bar]])
            rows.append(_rings(np.vstack([box, [[a, high - bar]]])[None]))
    return np.vstack(rows)


def _steps(rng: np.random.Generator) -> np.ndarray:
    """Return squares in squares, or a log cabin."""
    rows, step = [], rng.uniform(3, 7)
    cell = SIDE / rng.integers(1, 4)
    for x in np.arange(0, SIDE - 1, cell):
        for y in np.arange(0, SIDE - 1, cell):
            centre = np.array([x, y]) + cell / 2
            for r in np.arange(step, cell / 2, step):
                box = np.array([[-r, -r], [r, -r], [r, r], [-r, r]]) + centre
                rows.append(_rings(box[None]))
                rows.append(
                    [
                        [
                            centre[0] + r,
                            centre[1] - r,
                            centre[0] + r,
                            centre[1] - r - step,
                        ]
                    ]
                )
    return np.vstack(rows)


def _fan(rng: np.random.Generator) -> np.ndarray:
    n = int(rng.integers(9, 40))
    t = 2 * np.pi * np.arange(n) / n
    far = 80 * np.stack([np.cos(t), np.sin(t)], 1)
    near = far / 80 * rng.uniform(4, 15)
    rows = [np.hstack([near, far])]
    for r in np.sort(rng.uniform(15, 60, rng.integers(1, 6))):
        ring = r * np.stack([np.cos(t), np.sin(t)], 1)
        rows.append(_rings(ring[None]))
    rows.append(_rings(near[None]))
    return np.vstack(rows) + SIDE / 2


def _scales(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    step = rng.uniform(8, 14)
    r = step * rng.uniform(0.5, 1.0)
    at = [
        [x + (k % 2) * step / 2, y, r]
        for k, y in enumerate(np.arange(r, SIDE - r, step / 2))
        for x in np.arange(r, SIDE - r - step / 2, step)
    ]
    return np.empty((0, 4)), np.array(at)


def _targets(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return rings in squares, or rings all round one middle with spokes."""
    n = rng.integers(1, 5)
    cell = SIDE / n
    radii = (
        np.cumsum(rng.uniform(1.5, 4, 30))
        if rng.random() < 0.5
        else np.arange(1, 40) * 2.3
    )
    at = [
        [(i + 0.5) * cell, (j + 0.5) * cell, r]
        for i in range(n)
        for j in range(n)
        for r in radii[radii < cell / 2 - 0.5]
    ]
    return _grid(np.arange(1, n) * cell, np.arange(1, n) * cell), np.array(at)


def _random_lines(rng: np.random.Generator) -> np.ndarray:
    n = int(rng.integers(6, 30))
    angle, off = rng.uniform(0, np.pi, n), rng.uniform(-45, 45, n)
    d = np.stack([np.cos(angle), np.sin(angle)], 1)
    foot = np.stack([-d[:, 1], d[:, 0]], 1) * off[:, None] + SIDE / 2
    return np.hstack([foot - 160 * d, foot + 160 * d])


def _crosses(rng: np.random.Generator) -> np.ndarray:
    """Return star and cross tiles with a joint all round each, loose or not."""
    step = rng.uniform(14, 24)
    shrink = rng.choice([1.0, 0.93])
    t = np.arange(16) * np.pi / 8
    tip = step / 2 * shrink
    notch = tip * np.cos(np.pi / 4) / np.cos(np.pi / 8)
    radius = np.where(np.arange(16) % 2 == 0, tip, notch)[:, None]
    star = radius * np.stack([np.cos(t), np.sin(t)], 1)
    i = np.arange(step / 2, SIDE + step, step)
    at = np.stack(np.meshgrid(i, i), -1).reshape(-1, 1, 2)
    return np.unique(np.round(_rings(star + at), 5), axis=0)


def _pinwheels(rng: np.random.Generator) -> np.ndarray:
    """Return squares of two sizes (Pythagoras), or parquet of strips."""
    a = rng.uniform(8, 14)
    if rng.random() < 0.5:
        b = a * rng.uniform(0.25, 0.7)
        rows = [
            _rings(
                np.array([[0, 0], [a, 0], [a, a], [0, a]])[None]
                + [i * a - j * b, i * b + j * a]
            )
            for i in range(-20, 20)
            for j in range(-20, 20)
        ]
        return np.unique(np.round(np.vstack(rows), 5), axis=0)
    n = int(rng.integers(2, 5))
    rows = []
    for i in range(int(SIDE / a) + 1):
        for j in range(int(SIDE / a) + 1):
            for k in range(n):
                s = k * a / n
                if (i + j) % 2:
                    rows.append([i * a + s, j * a, i * a + s, (j + 1) * a])
                else:
                    rows.append([i * a, j * a + s, (i + 1) * a, j * a + s])
    m = np.arange(a, SIDE, a)
    return np.vstack([rows, _grid(m, m)])


KINDS = {
    "parallel lines": _parallels,
    "chevrons": _chevrons,
    "bricks": _bricks,
    "herringbone": _herringbone,
    "tartan": _tartan,
    "lozenges": _lozenges,
    "kites": _kites,
    "stars": _stars,
    "tiling": _tiling,
    "cells": _voronoi,
    "map": _map,
    "triangles": _delaunay,
    "window": _window,
    "squares in squares": _steps,
    "fan": _fan,
    "scales": _scales,
    "targets": _targets,
    "lines at random": _random_lines,
    "stars and crosses": _crosses,
    "pinwheels and parquet": _pinwheels,
}


def drawings_without(seed: int, each: int = 5) -> Iterator[tuple[str, bytes]]:
    """Yield so many drawings of each of twenty kinds, with their names."""
    for name, make in KINDS.items():
        for k in range(each):
            rng = np.random.default_rng([seed, k, *name.encode()])
            drawn = make(rng)
            rows, circles = drawn if isinstance(drawn, tuple) else (drawn, None)
            yield f"{name} {k}", _svg(rows, circles)
