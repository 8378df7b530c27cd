"""Patterns of known symmetry for tests, and line work without any.

Groups come from the general positions of gemmi's table of space groups: a plane
group is what the space group named beside it does to z = 0. Random strokes in
general position, carried about by those operations, have that group and, but
for a freak of chance, no larger one. The detector's own tables are not used.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import gemmi
import numpy as np
import shapely

# Hermann-Mauguin symbol of a space group whose projection along c is the plane
# group (International Tables for Crystallography A, tables of projections)
SPACE_GROUP = {
    "p1": "P 1",
    "p2": "P 1 1 2",
    "pm": "P m 1 1",
    "pg": "P b 1 1",
    "cm": "C m 1 1",
    "pmm": "P m m 2",
    "pmg": "P b m 2",
    "pgg": "P b a 2",
    "cmm": "C m m 2",
    "p4": "P 4",
    "p4m": "P 4 m m",
    "p4g": "P 4 b m",
    "p3": "P 3",
    "p3m1": "P 3 m 1",
    "p31m": "P 3 1 m",
    "p6": "P 6",
    "p6m": "P 6 m m",
}
PLANE_NAMES = tuple(SPACE_GROUP)
LATTICE_OF = {
    **dict.fromkeys(("p1", "p2"), "oblique"),
    **dict.fromkeys(("pm", "pg", "pmm", "pmg", "pgg"), "rectangular"),
    **dict.fromkeys(("cm", "cmm"), "centred rectangular"),
    **dict.fromkeys(("p4", "p4m", "p4g"), "square"),
    **dict.fromkeys(("p3", "p3m1", "p31m", "p6", "p6m"), "hexagonal"),
}


@lru_cache(maxsize=32)
def operations(name: str) -> tuple[tuple[np.ndarray, np.ndarray], ...]:
    """Return (matrix, shift) of a plane group, centring included."""
    group = gemmi.find_spacegroup_by_name(SPACE_GROUP[name])
    result = {}
    for op in group.operations():
        rot = np.array(op.rot)[:2, :2] // op.DEN
        tran = np.array(op.tran)[:2] % op.DEN
        result[(*rot.ravel(), *tran)] = (rot, tran / op.DEN)
    return tuple(result.values())


def conventional_cell(
    name: str, rng: np.random.Generator, symmetric: bool = False
) -> np.ndarray:
    """Return the rows a, b of a cell of the group's kind, of area about 1.

    With ``symmetric`` the cell has more symmetry than the group asks for.
    """
    kind = LATTICE_OF[name]
    if kind == "square" or (symmetric and kind != "hexagonal"):
        return np.eye(2)
    if kind == "hexagonal":
        return np.array([[1.0, 0.0], [-0.5, np.sqrt(0.75)]]) / np.sqrt(np.sqrt(0.75))
    ratio = rng.uniform(1.15, 1.9) ** rng.choice([-0.5, 0.5])
    if kind == "oblique":
        angle = np.radians(rng.uniform(66, 83))
        return np.array([[ratio, 0.0], [np.cos(angle) / ratio, np.sin(angle) / ratio]])
    if kind == "centred rectangular" and abs(ratio**2 - np.sqrt(3)) < 0.15:
        ratio = 1.2
    return np.array([[ratio, 0.0], [0.0, 1 / ratio]])


@dataclass
class Pattern:
    """Line work of a pattern inside a window, in mm."""

    segments: np.ndarray  # (n, 4), straight lines or chords split at crossings
    piece: np.ndarray  # (n,) number of the line between two corners
    window: shapely.Polygon
    basis: np.ndarray  # a primitive basis, mm
    group: str
    median: float  # of the lengths of lines between crossings
    repeats: float
    clean: np.ndarray  # (m, 4), the lines before corners were moved and cut off
    moved: np.ndarray  # (m, 4), the same after corners were moved
    maps: tuple[tuple[np.ndarray, np.ndarray], ...]  # x' = x @ matrix + shift, mm


def _strokes(
    rng: np.random.Generator, cell: np.ndarray, count: int, curved: bool
) -> list[np.ndarray]:
    """Return polylines in general position, longer than a fundamental domain."""
    size = np.sqrt(abs(np.linalg.det(cell)))
    strokes = []
    for _ in range(count):
        start = rng.random(2) @ cell
        heading = rng.uniform(0, 2 * np.pi)
        if curved:
            turn = rng.uniform(1.5, 4.5) * rng.choice([-1, 1])
            radius = rng.uniform(0.12, 0.3) * size
            t = np.linspace(0, turn, 40)
            strokes.append(
                start
                + radius * np.stack([np.cos(heading + t), np.sin(heading + t)], axis=1)
            )
        else:
            points = [start]
            for _ in range(rng.integers(2, 4)):
                heading += rng.uniform(0.6, 2.2) * rng.choice([-1, 1])
                step = rng.uniform(0.25, 0.6) * size
                points.append(
                    points[-1] + step * np.array([np.cos(heading), np.sin(heading)])
                )
            strokes.append(np.array(points))
    return strokes


def _rings(
    rng: np.random.Generator, cell: np.ndarray, count: int, style: str
) -> list[np.ndarray]:
    """Return closed figures in general position, unlike in size.

    ``polygons`` have sides and angles at random, ``circles`` are chords of circles,
    ``stars`` have 5, 7 or 9 points, so that none has a half turn of its own.
    """
    size = np.sqrt(abs(np.linalg.det(cell)))
    rings = []
    for k in range(count):
        centre = rng.random(2) @ cell
        radius = rng.uniform(0.12, 0.2) * (1 + 0.35 * k) * size
        start = rng.uniform(0, 2 * np.pi)
        if style == "circles":
            t, away = np.linspace(0, 2 * np.pi, 61), np.ones(61)
        elif style == "stars":
            points = int(rng.choice([5, 7, 9]))
            t = np.linspace(0, 2 * np.pi, 2 * points + 1)
            away = np.where(np.arange(len(t)) % 2, rng.uniform(0.4, 0.7), 1.0)
        else:
            sides = int(rng.integers(3, 7))
            step = rng.uniform(0.6, 1.4, sides)
            t = np.append(0, np.cumsum(step) / step.sum() * 2 * np.pi)
            away = rng.uniform(0.6, 1.2, sides)
            away = np.append(away, away[0])
        ring = np.stack([np.cos(start + t), np.sin(start + t)], axis=1)
        rings.append(centre + radius * away[:, None] * ring)
    return rings


def polygon_window(
    rng: np.random.Generator, repeats: float, basis: np.ndarray, shape: str
) -> shapely.Polygon:
    """Return a window of the area of so many cells, seen 1.3 times each way."""
    area = repeats * abs(np.linalg.det(basis))
    for _ in range(200):
        if shape == "triangle":
            side = 2 * np.sqrt(area / np.sqrt(3))
            turn = rng.uniform(0, 2 * np.pi) + np.array([0, 2, 4]) * np.pi / 3
            ring = side / np.sqrt(3) * np.stack([np.cos(turn), np.sin(turn)], axis=1)
            window = shapely.Polygon(ring)
        elif shape == "disc":
            radius = np.sqrt(area / np.pi)
            window = shapely.Point(0, 0).buffer(radius, quad_segs=24)
        else:
            most = 4.0 if shape == "thin" else 1.5 if repeats > 3 else 1.15
            ratio = np.sqrt(rng.uniform(2.5 if shape == "thin" else 1.0, most))
            w, h = np.sqrt(area) * ratio, np.sqrt(area) / ratio
            window = shapely.box(-w / 2, -h / 2, w / 2, h / 2)
            if shape != "upright":
                window = shapely.affinity.rotate(window, rng.uniform(0, 180))
        ring = np.array(window.exterior.coords)
        spans = np.ptp(ring @ np.linalg.inv(basis), axis=0)
        # share of the window that each basis vector carries into the window
        overlap = [
            window.intersection(shapely.affinity.translate(window, *v)).area / area
            for v in basis
        ]
        if (spans >= 1.3).all() and min(overlap) > 0.12:
            return window
    return window


def plane_pattern(
    name: str,
    seed: int,
    *,
    repeats: float = 9,
    noise: float = 0.0,
    curved: bool = False,
    symmetric: bool = False,
    shape: str = "box",
    size: float = 30.0,
    margin: float = 0.6,
    style: str = "strokes",
) -> Pattern:
    """Return a pattern of a plane group, cropped, turned, moved and jittered.

    ``shape`` is that of the window: ``upright``, ``box`` or ``thin`` (turned), ``disc``
    or ``triangle``. ``style`` says what is carried about: ``strokes``, or closed
    ``polygons``, ``circles`` or ``stars``.
    ``noise`` is the standard deviation of each corner, as a share of the median
    length of lines between crossings; ``margin`` says how far beyond the window
    the uncut lines are kept, in roots of the cell.
    """
    rng = np.random.default_rng([seed, PLANE_NAMES.index(name)])
    cell = conventional_cell(name, rng, symmetric)
    ops = operations(name)
    few = 5 if len(ops) <= 2 else 3 if len(ops) <= 4 else 2
    centred = name.startswith("c")
    basis = cell @ np.eye(2)
    if centred:
        basis = np.array([[0.5, 0.5], [-0.5, 0.5]]) @ cell
    # a few strokes, and for low groups enough that regions close
    if style == "strokes":
        strokes = _strokes(rng, cell, few, False)
    else:
        strokes = _rings(rng, cell, few, style)
    if curved:
        strokes += _strokes(rng, cell, few, True)
    scale = size * rng.uniform(0.5, 2.0)
    turn = rng.uniform(0, 2 * np.pi)
    spin = scale * np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    if rng.random() < 0.5:
        spin = np.diag([1.0, -1.0]) @ spin
    basis_mm = basis @ spin
    window = polygon_window(rng, repeats, basis_mm, shape)
    move = rng.uniform(0, 1, 2) @ basis_mm
    bounds = np.abs(np.array(window.bounds)).max() * 1.5 + (1.4 + margin) * scale
    reach = int(np.ceil(bounds / (0.6 * scale))) + 2
    inverse = np.linalg.inv(cell)
    lines = []
    shifts = [
        (i, j) for i in range(-reach, reach + 1) for j in range(-reach, reach + 1)
    ]
    shifts_mm = np.array(shifts) @ cell @ spin
    near = np.hypot(*(shifts_mm + move).T) < bounds
    shifts_mm = shifts_mm[near]
    for stroke in strokes:
        fractional = stroke @ inverse
        for rot, tran in ops:
            image = (fractional @ rot.T + tran) @ cell @ spin + move
            lines.extend(image + s for s in shifts_mm)
    lines = [np.round(x, 7) for x in lines]
    boxed = window.buffer(margin * scale)
    to_mm = cell @ spin
    back = np.linalg.inv(to_mm)
    maps = []
    for rot, tran in ops:
        matrix = back @ rot.T @ to_mm
        maps.append((matrix, tran @ to_mm + move - move @ matrix))
    return finish_pattern(lines, window, boxed, basis_mm, name, noise, rng, maps)


def finish_pattern(lines, window, boxed, basis, name, noise, rng, maps) -> Pattern:
    """Return lines split where they cross, with corners moved, cut by the window."""
    geometry = shapely.linestrings(
        np.concatenate(lines),
        indices=np.repeat(np.arange(len(lines)), [len(x) for x in lines]),
    )
    geometry = geometry[shapely.intersects(geometry, boxed)]
    noded = shapely.node(
        shapely.set_precision(shapely.multilinestrings(geometry), 1e-6)
    )
    parts = shapely.get_parts(noded)
    coordinates, index = shapely.get_coordinates(parts, return_index=True)
    lengths = shapely.length(parts[shapely.within(parts, window)])
    # lines between crossings end also at sharp corners
    segments, piece = [], []
    number = 0
    corner_lengths = []
    for k in range(len(parts)):
        line = coordinates[index == k] if len(parts) < 400 else None
        if line is None:
            break
        segments, piece, number, corner_lengths = _split(
            line, segments, piece, number, corner_lengths
        )
    if len(parts) >= 400:
        bounds = np.flatnonzero(np.diff(index)) + 1
        for line in np.split(coordinates, bounds):
            segments, piece, number, corner_lengths = _split(
                line, segments, piece, number, corner_lengths
            )
    median = float(np.median(corner_lengths if corner_lengths else lengths))
    segments = np.array(segments)
    piece = np.array(piece)
    clean = moved = segments
    if noise:
        moved = jitter(segments, noise * median, rng, piece)
    segments, piece = clip(moved, piece, window)
    cell = abs(np.linalg.det(basis)) if len(basis) == 2 else np.inf
    return Pattern(
        segments,
        piece,
        window,
        basis,
        name,
        median,
        window.area / cell,
        clean,
        moved,
        tuple(maps),
    )


def _split(line, segments, piece, number, lengths):
    delta = np.diff(line, axis=0)
    angle = np.arctan2(delta[:, 1], delta[:, 0])
    total = 0.0
    for i in range(len(delta)):
        if i:
            turn = abs((angle[i] - angle[i - 1] + np.pi) % (2 * np.pi) - np.pi)
            if turn > 0.6:
                number += 1
                lengths.append(total)
                total = 0.0
        segments.append((*line[i], *line[i + 1]))
        piece.append(number)
        total += float(np.hypot(*delta[i]))
    lengths.append(total)
    return segments, piece, number + 1, lengths


def jitter(
    segments: np.ndarray,
    sigma: float,
    rng: np.random.Generator,
    piece: np.ndarray | None = None,
) -> np.ndarray:
    """Return segments with each common end moved as one.

    With ``piece`` only the ends of lines between corners move; chords between them
    go along, so that a curve stays a curve.
    """
    ends = np.round(segments.reshape(-1, 2), 5)
    unique, inverse = np.unique(ends, axis=0, return_inverse=True)
    step = rng.normal(0, sigma, unique.shape)[inverse.ravel()].reshape(-1, 2, 2)
    if piece is not None:
        length = np.hypot(*(segments[:, 2:] - segments[:, :2]).T)
        start = np.flatnonzero(np.diff(piece, prepend=-1))
        stop = np.append(start[1:], len(piece)) - 1
        which = np.repeat(np.arange(len(start)), stop - start + 1)
        run = np.cumsum(length)
        before = run - length - (run - length)[start][which]
        total = np.maximum((run[stop] - (run - length)[start])[which], 1e-12)
        first, last = step[start[which], 0], step[stop[which], 1]
        share = np.stack([before, before + length], axis=1)[..., None]
        share = share / total[:, None, None]
        step = (1 - share) * first[:, None] + share * last[:, None]
    return (ends.reshape(-1, 2, 2) + step).reshape(-1, 4)


def clip(
    segments: np.ndarray, piece: np.ndarray, window: shapely.Polygon
) -> tuple[np.ndarray, np.ndarray]:
    """Return the parts of segments inside a convex window."""
    lines = shapely.linestrings(segments.reshape(-1, 2, 2))
    keep = shapely.intersects(lines, window)
    cut = shapely.intersection(lines[keep], window)
    good = (shapely.get_type_id(cut) == 1) & (shapely.length(cut) > 1e-9)
    cut = cut[good]
    xy = shapely.get_coordinates(cut).reshape(-1, 4)
    return xy, piece[keep][good]
