"""Turn lines with a width into polygons, for pictures made of pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats

_MITRE_LIMIT = 10.0
"""Longest mitre, in widths of the line: the limit that PDF starts with."""


def stroke_polygons(
    points: Floats, start: AnyInts, closed: Bools, half: float, join: str, cap: str
) -> list[Floats]:
    """Return the polygons that broad lines cover.

    `points` (n, 2): points of all lines, px. `start` (p + 1,): line ``k`` has
    ``points[start[k]:start[k + 1]]``. `closed` (p,): whether the last point of a line
    is joined to its first. `half`: half the width, px. `join` and `cap`: ``mitre`` or
    ``round``; ``flat`` or ``round``. Returns (m, k, 2): a quadrilateral each segment, a
    kite or disc each corner.
    """
    row = np.repeat(np.arange(len(closed)), np.diff(start))
    after = np.arange(len(points)) + 1
    last = np.zeros(len(points), bool)
    last[np.asarray(start[1:])[np.diff(start) > 0] - 1] = True
    after[last] = np.asarray(start)[row[last]]
    step = points[after] - points
    size = np.hypot(step[:, 0], step[:, 1])
    real = np.flatnonzero((size > 1e-9) & (~last | closed[row]))
    if len(real) == 0:
        return []
    row, way = row[real], step[real] / size[real, None]
    a, b = points[real], points[after[real]]
    side = np.stack([-way[:, 1], way[:, 0]], axis=1) * half
    found = [np.stack([a + side, b + side, b - side, a - side], axis=1)]
    # joins between segment i and the next of its line
    i = np.arange(len(real))
    lead = np.flatnonzero(np.r_[True, row[1:] != row[:-1]])
    end = np.r_[lead[1:], len(row)] - 1
    k = i + 1
    k[end] = lead
    meets = np.ones(len(real), bool)
    meets[end] = closed[row[end]]
    cross = way[i, 0] * way[k, 1] - way[i, 1] * way[k, 0]
    dot = (way[i] * way[k]).sum(axis=1)
    bent = meets & ((np.abs(cross) > 1e-6) | (dot < 0))
    i, k, cross, dot = i[bent], k[bent], cross[bent], dot[bent]
    if join == "round" and len(i):
        found.append(_discs(b[i], half))
    elif len(i):
        outer = -np.sign(cross)[:, None]
        p, q = b[i] + outer * side[i], b[i] + outer * side[k]
        # the tip lies where the outer edges meet: half / cos(turn / 2) away
        cos2 = np.maximum((1 + dot) / 2, 1e-12)
        middle = outer * (side[i] + side[k])
        norm = np.maximum(np.linalg.norm(middle, axis=1), 1e-12)[:, None]
        tip = b[i] + middle / norm * (half / np.sqrt(cos2))[:, None]
        blunt = cos2 < 1 / _MITRE_LIMIT**2
        tip[blunt] = (p[blunt] + q[blunt]) / 2
        found.append(np.stack([b[i], p, tip, q], axis=1))
    free = ~closed[row[lead]]
    if cap == "round" and free.any():
        found.append(_discs(np.concatenate([a[lead[free]], b[end[free]]]), half))
    return found


def _discs(centres: Floats, radius: float) -> Floats:
    n = int(np.clip(np.ceil(np.pi * np.sqrt(radius / 0.5)), 8, 64))
    angle = np.arange(n) * 2 * np.pi / n
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius
    return centres[:, None, :] + ring[None, :, :]


def dash_lines(
    paths: list[Floats], closed: list[bool], dash: Floats
) -> tuple[list[Floats], list[bool]]:
    """Return the dashes of lines.

    `paths` (n, 2): points of each line. `dash`: lengths of dashes and gaps in turn.
    Returns `paths`: one line a dash; `closed`: all False.
    """
    if len(dash) % 2:
        dash = np.concatenate([dash, dash])
    period = float(dash.sum())
    out: list[Floats] = []
    if period <= 0:
        return paths, closed
    for path, round_ in zip(paths, closed, strict=True):
        points = np.vstack([path, path[:1]]) if round_ else path
        far = np.concatenate(
            [[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))]
        )
        total = float(far[-1])
        if total / period > 20_000:
            out.append(points)
            continue
        begin = np.concatenate([[0.0], np.cumsum(dash)[:-1]])[0::2]
        for k in range(int(np.ceil(total / period)) if total > 0 else 0):
            for s, length in zip(begin + k * period, dash[0::2], strict=True):
                if s >= total:
                    break
                e = min(float(s + length), total)
                within = points[(far > s) & (far < e)]
                ends = [
                    [np.interp(t, far, points[:, 0]), np.interp(t, far, points[:, 1])]
                    for t in (s, e)
                ]
                out.append(np.vstack([ends[:1], within, ends[1:]]))
    return out, [False] * len(out)
