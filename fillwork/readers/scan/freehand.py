"""Curves that no few arcs follow, as cubic Béziers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import CUBIC
from fillwork.readers.scan.circles import fit_line, misses
from fillwork.readers.scan.model import Piece
from fillwork.readers.scan.trails import trail

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.readers.scan.model import Drawing


# Pieces that a curve drawn with compasses has at most, as a rule.
_FEW = 3
# Arcs that follow a free curve turn by less where they join; corners by more, rad.
_CORNER = np.radians(27.0)
# Widths: a straight piece of a free curve is no longer.
_STRAIGHT = 12.0
# Widths: what lies nearer to another line is bent by its ink.
_BENT = 0.9
# Widths to both sides that tell the way of a curve.
_AROUND = 1.5


def smooth_runs(drawing: Drawing, before: int, sigma: float) -> int:
    """Follow each run of many short arcs by fewer Béziers.

    How many of the pieces now are drawn lines.

    `drawing`: changed in place. `before`: how many pieces, the first ones, are drawn
    lines. `sigma`: root mean square that a drawn line may stray, px.

    A run is broken at corners; lines that meet it are carried along. Béziers that
    go on in one way where they join are fitted by least squares [1]_, each as long
    as the pen's accuracy, or that of the arcs, allows. The run stays as it is where
    that saves nothing.

    References
    ----------
    .. [1] P. J. Schneider, "An algorithm for automatically fitting digitized
       curves", Graphics Gems, Academic Press, 1990.
    """
    met: dict[int, list[int]] = {}
    for k, piece in enumerate(drawing.pieces[:before]):
        if piece.circle or len(piece.points) < _STRAIGHT * drawing.width:
            for v in (piece.vertices[0], piece.vertices[-1]):
                met.setdefault(v, []).append(k)
    free = sorted({k for p in met.values() for k in p})
    joints = {
        v for v, p in met.items()
        if len(p) == 2 and p[0] != p[1] and _smooth(drawing, v, p)
    }  # fmt: skip
    done: dict[int, Piece | None] = {}
    for k in free:
        if k in done:
            continue
        run = _run(drawing, k, met, joints)
        arcs = sum(drawing.pieces[m].circle for m, _ in run)
        curve = None
        # a polygon has no arcs
        if len(run) > _FEW and 4 * arcs >= len(run):
            curve = _curve(drawing, run, joints, sigma)
        if curve is not None:
            done.update((m, None) for m, _ in run)
            done[run[0][0]] = curve
        else:
            done.update((m, drawing.pieces[m]) for m, _ in run)
    kept = [done.get(k, p) for k, p in enumerate(drawing.pieces[:before])]
    drawn = [p for p in kept if p is not None]
    drawing.pieces = drawn + drawing.pieces[before:]
    return len(drawn)


def _smooth(drawing: Drawing, v: int, met: list[int]) -> bool:
    ways = []
    for k in met:
        piece = drawing.pieces[k]
        path = trail(drawing, piece, 1.0)
        path = path if piece.vertices[0] == v else path[::-1]
        ways.append(path[1] - path[0])
    (a, b), (c, d) = ways
    return bool(abs(np.arctan2(a * d - b * c, -(a * c + b * d))) < _CORNER)


def _run(
    drawing: Drawing, first: int, met: dict[int, list[int]], joints: set[int]
) -> list[tuple[int, bool]]:
    """Return the pieces of a run in order, and whether each is taken backwards."""

    def onward(k: int, *, back: bool) -> list[tuple[int, bool]]:
        found = [(k, back)]
        while True:
            k, back = found[-1]
            v = drawing.pieces[k].vertices[0 if back else -1]
            if v not in joints:
                return found
            k = sum(met[v]) - k
            if k == first:
                return found
            found.append((k, drawing.pieces[k].vertices[0] != v))

    ahead = onward(first, back=False)
    if drawing.pieces[first].vertices[0] == _last(drawing, ahead[-1]):
        return ahead
    behind = onward(first, back=True)[1:]
    return [(k, not back) for k, back in reversed(behind)] + ahead


def _last(drawing: Drawing, taken: tuple[int, bool]) -> int:
    return drawing.pieces[taken[0]].vertices[0 if taken[1] else -1]


def _curve(
    drawing: Drawing, run: list[tuple[int, bool]], joints: set[int], sigma: float
) -> Piece | None:
    """Return the run as fewer Béziers that do as well as its arcs."""
    first, last = _last(drawing, (run[0][0], not run[0][1])), _last(drawing, run[-1])
    pieces = [drawing.pieces[k] for k, _ in run]
    off = np.hstack([misses(p.points, p.carrier) for p in pieces])
    # arcs that follow a free curve stray more than lines do
    most = max(sigma, float(np.sqrt(np.mean(off**2))))
    parts = [drawing.pieces[k].points[:: -1 if back else 1] for k, back in run]
    points = np.vstack(parts)
    tips = np.array([drawing.vertices[first], drawing.vertices[last]])
    # what comes back at a corner ends there
    closed = first == last and first in joints
    if closed:
        points = np.vstack([points, points[:1]])
    else:
        beside = np.hypot(*(points[:, None] - tips).transpose(2, 0, 1)).min(axis=1)
        points = points[beside > _BENT * drawing.width]
        points = np.vstack([tips[:1], points, tips[1:]])
    step = np.hypot(*np.diff(points, axis=0).T)
    points = points[np.r_[True, step > 0.1]]
    rows = _beziers(points, round(_AROUND * drawing.width), most, closed=closed)
    if len(rows) >= len(run):
        return None
    curve = tuple((CUBIC, tuple(map(float, row.ravel()))) for row in rows)
    carrier = np.r_[tips[0], 1.0, 0.0]
    found = Piece(False, carrier, 0.0, [first, last], points, curve)
    drawing.vertices[first] = points[0].copy()
    _carry(drawing, {v for p in pieces for v in p.vertices}, found)
    return found


def _carry(drawing: Drawing, vertices: set[int], curve: Piece) -> None:
    """Move the vertices within a run to its curve."""
    path = trail(drawing, curve, 0.25)
    for v in vertices.difference(curve.vertices):
        off = np.hypot(*(path - drawing.vertices[v]).T)
        drawing.vertices[v] = path[int(np.argmin(off))].copy()


def _beziers(points: Floats, around: int, most: float, *, closed: bool) -> list[Floats]:
    """Return Béziers along points, each as long as the accuracy allows."""
    last = len(points) - 1
    near = points
    if closed:
        near = np.vstack([points[-1 - around : -1], points, points[1 : 1 + around]])

    def way(at: int) -> Floats:
        k = at + around if closed else at
        some = near[max(0, k - around) : k + around + 1]
        found = fit_line(some)[2:]
        return found if found @ (some[-1] - some[0]) > 0 else -found

    rows = []
    start = 0
    while start < last:
        good, bad = min(start + 2 * around, last), last + 1
        best = _bezier(points[start : good + 1], way(start), way(good))[0]
        reach = good - start
        # twice as far while that fits, then halve between
        while bad - good > max(1, around // 2):
            stop = min(start + 2 * reach, last) if bad > last else (good + bad) // 2
            if stop == good:
                break
            row, miss = _bezier(points[start : stop + 1], way(start), way(stop))
            if miss <= most:
                good, best, reach = stop, row, stop - start
            else:
                bad = stop
        rows.append(best)
        start = good
    return rows


def _bezier(points: Floats, one: Floats, two: Floats) -> tuple[Floats, float]:
    """Return the Bézier with given ends and ways, and how far it misses, px.

    Its two free lengths by least squares, then each point's place on it anew.
    """
    step = np.hypot(*np.diff(points, axis=0).T)
    t = np.r_[0.0, np.cumsum(step)]
    long = float(t[-1])
    t /= long
    row = np.empty((4, 2))
    for _ in range(4):
        s = 1.0 - t
        b = np.stack([s**3, 3 * s * s * t, 3 * s * t * t, t**3], 1)
        ends = (b[:, :2].sum(axis=1))[:, None] * points[0]
        ends += (b[:, 2:].sum(axis=1))[:, None] * points[-1]
        table = np.stack([np.outer(b[:, 1], one), -np.outer(b[:, 2], two)], 2)
        lengths = np.linalg.lstsq(
            table.reshape(-1, 2), (points - ends).ravel(), rcond=None
        )[0]
        # neither back nor in loops
        u, v = np.clip(lengths, 0.05 * long, long)
        row = np.stack(
            [points[0], points[0] + u * one, points[-1] - v * two, points[-1]]
        )
        off = b @ row - points
        slope = 3 * (s * s)[:, None] * (row[1] - row[0])
        slope += 6 * (s * t)[:, None] * (row[2] - row[1])
        slope += 3 * (t * t)[:, None] * (row[3] - row[2])
        square = np.maximum((slope * slope).sum(axis=1), 1e-9)
        t = np.clip(t - (off * slope).sum(axis=1) / square, 0.0, 1.0)
        across = off[:, 0] * slope[:, 1] - off[:, 1] * slope[:, 0]
    return row, float(np.sqrt(np.mean(across**2 / square)))
