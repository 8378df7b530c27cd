"""Turn lines with a width into polygons, for pictures made of pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

__all__ = ["dash_lines", "stroke_polygons"]

MITRE_LIMIT = 10.0
"""Longest mitre, in widths of the line: the limit that PDF starts with."""


def stroke_polygons(
    path: NDArray[np.float64], closed: bool, half: float, join: str, cap: str
) -> Iterator[NDArray[np.float64]]:
    """Yield the polygons that a broad line covers.

    Parameters
    ----------
    path : ndarray of shape (n, 2)
        Points of the line, px.
    closed : bool
        Whether the last point is joined to the first.
    half : float
        Half the width, px.
    join, cap : str
        ``mitre`` or ``round``; ``flat`` or ``round``.

    Yields
    ------
    ndarray of shape (k, 2)
        A quadrilateral a segment, a kite a corner.
    """
    points = np.vstack([path, path[:1]]) if closed else path
    step = np.diff(points, axis=0)
    size = np.linalg.norm(step, axis=1)
    real = size > 1e-9
    if not real.any():
        return
    a, b = points[:-1][real], points[1:][real]
    way = step[real] / size[real, None]
    side = np.stack([-way[:, 1], way[:, 0]], axis=1) * half
    yield from np.stack([a + side, b + side, b - side, a - side], axis=1)
    # joins between segment i and i + 1
    i = np.arange(len(a)) if closed else np.arange(len(a) - 1)
    k = (i + 1) % len(a)
    cross = way[i, 0] * way[k, 1] - way[i, 1] * way[k, 0]
    dot = (way[i] * way[k]).sum(axis=1)
    bent = (np.abs(cross) > 1e-6) | (dot < 0)
    i, k, cross, dot = i[bent], k[bent], cross[bent], dot[bent]
    if join == "round" and len(i):
        yield from _discs(b[i], half)
    elif len(i):
        outer = -np.sign(cross)[:, None]
        p, q = b[i] + outer * side[i], b[i] + outer * side[k]
        # the tip lies where the outer edges meet: half / cos(turn / 2) away
        cos2 = np.maximum((1 + dot) / 2, 1e-12)
        middle = outer * (side[i] + side[k])
        norm = np.maximum(np.linalg.norm(middle, axis=1), 1e-12)[:, None]
        tip = b[i] + middle / norm * (half / np.sqrt(cos2))[:, None]
        blunt = cos2 < 1 / MITRE_LIMIT**2
        tip[blunt] = (p[blunt] + q[blunt]) / 2
        yield from np.stack([b[i], p, tip, q], axis=1)
    if cap == "round" and not closed:
        yield from _discs(np.stack([a[0], b[-1]]), half)


def _discs(centres: NDArray[np.float64], radius: float) -> NDArray[np.float64]:
    n = int(np.clip(np.ceil(np.pi * np.sqrt(radius / 0.5)), 8, 64))
    angle = np.arange(n) * 2 * np.pi / n
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius
    return centres[:, None, :] + ring[None, :, :]


def dash_lines(
    paths: list[NDArray[np.float64]], closed: list[bool], dash: NDArray[np.float64]
) -> tuple[list[NDArray[np.float64]], list[bool]]:
    """Return the dashes of lines.

    Parameters
    ----------
    paths : list of ndarray of shape (n, 2)
        Points of each line.
    closed : list of bool
        Whether a line is closed.
    dash : ndarray
        Lengths of dashes and gaps in turn.

    Returns
    -------
    paths : list of ndarray
        One line a dash.
    closed : list of bool
        All False.
    """
    if len(dash) % 2:
        dash = np.concatenate([dash, dash])
    period = float(dash.sum())
    out: list[NDArray[np.float64]] = []
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
