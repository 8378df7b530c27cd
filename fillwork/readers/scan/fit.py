"""Strands cut into the fewest lines and arcs that the pen's accuracy allows."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import fit_circle, fit_line, misses

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints
    from fillwork.readers.scan.model import Strand


_LINE_COST, _ARC_COST = 9.0, 14.0
_MOST_PLACES = 150


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Hold one line or arc of a strand."""

    start: int  # start and stop: first and last point of the strand
    stop: int
    circle: bool  # whether it is an arc
    carrier: Floats  # line or circle, px


def hand_accuracy(strands: list[Strand], width: float) -> float:
    """Return how far a drawn line strays from what was meant, px.

    Root mean square, from 0.06 to 0.6 widths. `width`: width of the pen's line, px.

    The accuracy is raised as long as that leaves far fewer parts: a steady
    hand's lines need few parts already, a shaky one's fall apart.
    """
    sample = sorted(strands, key=lambda s: -len(s.points))[:25]
    trial = 0.06 * width + 0.1
    count = sum(_parts(s, width, trial) for s in sample)
    while trial < 0.4 * width:
        wider = 1.5 * trial
        fewer = sum(_parts(s, width, wider) for s in sample)
        if fewer > 0.85 * count:
            break
        trial, count = wider, fewer
    return trial


def cut_strand(strand: Strand, width: float, sigma: float) -> list[Part]:
    """Return the lines and arcs of a strand.

    End to end. A closed strand begins at a corner where it has one. `width`: width of
    the pen's line, px. `sigma`: root mean square that a drawn line may stray, px.

    Least sum of squared misses over `sigma`² a length of three widths, and a
    price for each part, found exactly over all places where the strand could
    be cut by dynamic programming. Lines come from moments, circles from the
    algebraic fit on moments.
    """
    points = strand.points
    if len(points) < 3:
        return [Part(0, len(points) - 1, False, _line_of(points))]
    trim = max(1, round(0.7 * width))
    return [_part(strand, *cut, trim) for cut in _cuts(strand, width, sigma, trim)]


def _parts(strand: Strand, width: float, sigma: float) -> int:
    if len(strand.points) < 3:
        return 1
    return len(_cuts(strand, width, sigma, max(1, round(0.7 * width))))


def _cuts(
    strand: Strand, width: float, sigma: float, trim: int
) -> list[tuple[int, int, bool]]:
    """Return where each part begins and stops, and whether it is an arc."""
    places = _places(strand, max(0.35 * width, 1.5 * sigma))
    moments = _moments(strand.points, strand.weight)
    n = len(places)
    first, last = np.triu_indices(n, 1)
    at, to = places[first], places[last]
    short = to - at < 5 * trim
    inner_at = np.where(short, at + (to - at) // 4, at + trim)
    inner_to = np.where(short, to - (to - at) // 4, to - trim)
    sums = moments[inner_to + 1] - moments[inner_at]
    line, arc, bow = _costs(sums)
    length = (to - at).astype(np.float64)
    chance = length / (3.0 * width) / sigma**2
    line_cost = line * chance + _LINE_COST
    arc_cost = arc * chance + _ARC_COST
    arc_cost[bow < max(1.2 * sigma, 0.12 * width)] = np.inf
    cost = np.minimum(line_cost, arc_cost)
    best = np.full(n, np.inf)
    best[0] = 0.0
    back = np.zeros(n, np.int64)
    table = np.full((n, n), np.inf)
    table[first, last] = cost
    for j in range(1, n):
        total = best[:j] + table[:j, j]
        back[j] = int(np.argmin(total))
        best[j] = total[back[j]]
    is_arc = np.zeros((n, n), bool)
    is_arc[first, last] = arc_cost < line_cost
    cuts = [n - 1]
    while cuts[-1]:
        cuts.append(int(back[cuts[-1]]))
    cuts.reverse()
    return [
        (int(places[i]), int(places[j]), bool(is_arc[i, j]))
        for i, j in itertools.pairwise(cuts)
    ]


def _part(strand: Strand, start: int, stop: int, arc: bool, trim: int) -> Part:
    points, weight = strand.points, strand.weight
    a, b = start, stop + 1
    if stop - start >= 5 * trim:
        a, b = a + trim, b - trim
    inner, share = points[a:b], weight[a:b]
    if share.sum() < 3:
        share = np.ones(len(inner))
    if arc:
        circle = fit_circle(inner, share)
        if circle is not None:
            return Part(start, stop, True, circle)
    if len(inner) < 2:
        inner, share = points[start : stop + 1], np.ones(stop + 1 - start)
    line = fit_line(inner, share)
    # one pass without what strays
    off = np.abs(misses(inner, line))
    near = share * (
        off <= max(0.3, 2.5 * float(np.sqrt(np.average(off**2, weights=share))))
    )
    if near.sum() > 0.6 * share.sum():
        line = fit_line(inner, near)
    return Part(start, stop, False, line)


def _line_of(points: Floats) -> Floats:
    if len(points) == 1:
        flat: Floats = np.r_[points[0], 1.0, 0.0]
        return flat
    return fit_line(points)


def _places(strand: Strand, slack: float) -> Ints:
    """Return where the strand may be cut: its outline's corners, and nodes."""
    points = strand.points
    for _ in range(6):
        found = _corners(points, slack)
        if len(found) <= _MOST_PLACES:
            break
        slack *= 1.6
    else:
        found = found[:: len(found) // _MOST_PLACES + 1]
    stops = [min(max(at, 0), len(points) - 1) for at, _ in strand.stops]
    if len(found) + len(stops) > 2 * _MOST_PLACES:
        stops = []
    return np.unique(np.r_[0, found, stops, len(points) - 1]).astype(np.int64)


def _corners(points: Floats, slack: float) -> list[int]:
    """Return the points kept by the method of Ramer, Douglas and Peucker."""
    kept = []
    stack = [(0, len(points) - 1)]
    while stack:
        a, b = stack.pop()
        if b - a < 2:
            continue
        base = points[b] - points[a]
        off = points[a + 1 : b] - points[a]
        long = float(np.hypot(*base))
        if long < 1e-9:
            away = np.hypot(off[:, 0], off[:, 1])
        else:
            away = np.abs(off[:, 0] * base[1] - off[:, 1] * base[0]) / long
        k = int(np.argmax(away))
        if away[k] > slack:
            kept.append(a + 1 + k)
            stack.extend(((a, a + 1 + k), (a + 1 + k, b)))
    return kept


def _moments(points: Floats, weight: Floats) -> Floats:
    x, y = ((points - points.mean(axis=0)) / 100.0).T
    z = x * x + y * y
    one = np.ones(len(x))
    rows = np.stack([one, x, y, x * x, x * y, y * y, z, x * z, y * z, z * z], 1)
    # points near nodes count a little, so that no sum is empty
    rows *= np.maximum(weight, 0.02)[:, None]
    return np.vstack([np.zeros(10), np.cumsum(rows, axis=0)])


def _costs(s: Floats) -> tuple[Floats, Floats, Floats]:
    """Return mean squared misses of line and circle, px², and the arc's bow, px."""
    n = np.maximum(s[:, 0], 1e-9)
    mx, my = s[:, 1] / n, s[:, 2] / n
    xx, xy, yy = s[:, 3] / n - mx * mx, s[:, 4] / n - mx * my, s[:, 5] / n - my * my
    root = np.sqrt(np.maximum((xx - yy) ** 2 + 4 * xy * xy, 0.0))
    line = np.maximum(0.5 * (xx + yy - root), 0.0)
    along = np.maximum(0.5 * (xx + yy + root), 1e-12)
    mz = s[:, 6] / n
    xz, yz = s[:, 7] / n - mx * mz, s[:, 8] / n - my * mz
    zz = s[:, 9] / n - mz * mz
    det = xx * yy - xy * xy
    good = det > 1e-9 * along**2
    det = np.where(good, det, 1.0)
    a = (xz * yy - yz * xy) / det
    b = (yz * xx - xz * xy) / det
    left = np.maximum(zz - a * xz - b * yz, 0.0)
    r2 = mz - a * mx - b * my + (a / 2) ** 2 + (b / 2) ** 2
    r2 = np.maximum(r2, 1e-9)
    arc = np.where(good, left / (4 * r2), np.inf)
    # length of an even line is sqrt(12) times its spread; bow = l² / 8 r
    bow = np.where(good, 12.0 * along / (8.0 * np.sqrt(r2)), 0.0)
    return line * 1e4, arc * 1e4, np.minimum(bow * 100.0, 1e6)
