"""Strips and rosettes of known symmetry, whole or cropped.

Random strokes carried about by the general positions of a frieze group, or by
turns and mirrors about one point. The package's own tables are not used.
"""

from __future__ import annotations

import numpy as np
import shapely

from tests.unit.symmetry.patterns import Pattern, finish_pattern

__all__ = ["STRIPS", "rosette_pattern", "strip_pattern"]

# Linear part (x, y) and shift of x in periods; y is across the strip.
# V. Kopský, D. B. Litvin (eds), International Tables for Crystallography E,
# 2002, part 2, "The 7 frieze groups": general positions
STRIPS = {
    "p1": [(1, 1, 0.0)],
    "p2": [(1, 1, 0.0), (-1, -1, 0.0)],
    "p1m1": [(1, 1, 0.0), (-1, 1, 0.0)],
    "p11m": [(1, 1, 0.0), (1, -1, 0.0)],
    "p11g": [(1, 1, 0.0), (1, -1, 0.5)],
    "p2mm": [(1, 1, 0.0), (-1, -1, 0.0), (-1, 1, 0.0), (1, -1, 0.0)],
    "p2mg": [(1, 1, 0.0), (-1, -1, 0.0), (-1, 1, 0.5), (1, -1, 0.5)],
}


def _strokes(rng, count, low, high, curved):
    """Return straight strokes inside a box, and arcs if wanted."""
    low, high = np.array(low, float), np.array(high, float)
    strokes = [rng.uniform(low, high, (2, 2)) for _ in range(count)]
    for _ in range(count // 2 if curved else 0):
        radius = rng.uniform(0.15, 0.4) * (high - low).min()
        centre = rng.uniform(low + radius, high - radius)
        t = rng.uniform(0, 2 * np.pi) + np.linspace(0, rng.uniform(2, 5), 40)
        strokes.append(centre + radius * np.column_stack([np.cos(t), np.sin(t)]))
    return strokes


def _turned(lines, window, basis, maps, turn):
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    window = shapely.transform(window, lambda xy: xy @ spin)
    turned = [(spin.T @ m @ spin, s @ spin) for m, s in maps]
    return [line @ spin for line in lines], window, basis @ spin, turned


def strip_pattern(
    name: str,
    seed: int,
    *,
    repeats: float = 7.0,
    noise: float = 0.0,
    curved: bool = False,
    cropped: bool = False,
    turned: bool = True,
    period: float = 30.0,
) -> Pattern:
    """Return a strip between two rails, its ends cut anywhere.

    ``cropped`` takes up to an eighth off one side, and cuts the ends aslant where the
    strip is turned.
    """
    rng = np.random.default_rng([seed, list(STRIPS).index(name)])
    few = 8 if len(STRIPS[name]) == 1 else 6 if len(STRIPS[name]) == 2 else 4
    half = 9.0
    strokes = _strokes(rng, few, (0, -half), (2 * period, half), curved)
    maps, lines = [], []
    count = int(np.ceil(repeats)) + 4
    for x, y, shift in STRIPS[name]:
        matrix = np.diag([float(x), float(y)])
        maps.append((matrix, np.array([shift * period, 0.0])))
        for k in range(-4, count + 2):
            move = np.array([(k + shift) * period, 0.0])
            lines += [stroke @ matrix + move for stroke in strokes]
    far = (count + 2) * period
    for s in (-half - 2, half + 2):
        lines.append(np.array([[-4 * period, s], [far, s]]))
    start = rng.uniform(0, period)
    stop = start + repeats * period
    low, high = -half - 2.0, half + 2.0
    slant = [0.0, 0.0]
    if cropped:
        slant = rng.uniform(-8, 8, 2) if turned else [0.0, 0.0]
        taken = rng.uniform(0.02, 0.125) * (high - low)
        if rng.random() < 0.5:
            low += taken
        else:
            high -= taken
    else:
        low, high = low - 1e-3, high + 1e-3
    ends = [(start - slant[0], low), (stop - slant[1], low)]
    ends += [(stop + slant[1], high), (start + slant[0], high)]
    window = shapely.Polygon(ends)
    basis = np.array([[period, 0.0]])
    turn = rng.uniform(0, 2 * np.pi) if turned else 0.0
    lines, window, basis, maps = _turned(lines, window, basis, maps, turn)
    boxed = window.buffer(2 * period)
    return finish_pattern(lines, window, boxed, basis, name, noise, rng, maps)


def rosette_pattern(
    n: int,
    mirrors: bool,
    seed: int,
    *,
    noise: float = 0.0,
    curved: bool = False,
    cropped: bool = False,
    radius: float = 60.0,
) -> Pattern:
    """Return a rosette about one point, free or with up to a fifth cut off."""
    rng = np.random.default_rng([seed, n, mirrors])
    lines, maps = [], []
    wide = 4 * np.pi / n if n > 1 else 2 * np.pi
    few = 8 if n > 2 else 14
    angle = rng.uniform(0, wide, (few, 2))
    away = rng.uniform(0.2, 1.0, (few, 2)) * radius
    ends = away[..., None] * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    strokes = list(ends)
    for _ in range(3 if curved else 0):
        a, r = rng.uniform(0, wide), rng.uniform(0.4, 0.8) * radius
        t = rng.uniform(0, 6) + np.linspace(0, rng.uniform(2, 5), 40)
        circle = np.column_stack([np.cos(t), np.sin(t)])
        strokes.append(
            r * np.array([np.cos(a), np.sin(a)])
            + rng.uniform(0.1, 0.2) * radius * circle
        )
    for sign in (1.0, -1.0) if mirrors else (1.0,):
        for k in range(n):
            c, s = np.cos(2 * np.pi * k / n), np.sin(2 * np.pi * k / n)
            matrix = np.diag([1.0, sign]) @ np.array([[c, s], [-s, c]])
            maps.append((matrix, np.zeros(2)))
            lines += [stroke @ matrix for stroke in strokes]
    window = shapely.Point(0, 0).buffer(1.4 * radius)
    if cropped:
        most = 0.75 if n < 3 else 0.45
        x0, y0, x1, y1 = rng.uniform(most, 1.2, 4) * radius
        window = shapely.box(-x0, -y0, x1, y1)
    turn = rng.uniform(0, 2 * np.pi)
    basis = np.zeros((0, 2))
    # the crop is no part of the rosette: it is turned on its own
    lines, _, _, maps = _turned(lines, window, basis, maps, turn)
    boxed = window.buffer(2 * radius)
    name = ("D" if mirrors else "C") + str(n)
    return finish_pattern(lines, window, boxed, basis, name, noise, rng, maps)
