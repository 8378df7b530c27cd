"""Ends that stop short of a line or of another end, carried on to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.ends import ahead_of, heading, pass_through
from fillwork.readers.scan.model import Piece
from fillwork.readers.scan.settle import meeting
from fillwork.readers.scan.trails import trail

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.readers.scan.settle import Drawing

_CONE = np.cos(np.radians(40.0))
# A line so many times longer than its gap says where it goes on.
_LONG = 3.0
_STRAIGHT = np.cos(np.radians(15.0))


@dataclass(frozen=True, slots=True, eq=False)
class Closing:
    """Say where an end was carried on."""

    at: NDArray[np.float64]  # (2,): middle of the gap, px
    size: float  # width of the gap, px; 0 where nothing was near and the end stays open
    # whether a line many times as long as the gap was carried on as it runs
    straight: bool = False


def close_ends(drawing: Drawing, reach: float) -> list[Closing]:
    """Close gaps at loose ends.

    `drawing`: changed in place. `reach`: longest gap that is closed, px. Each gap
    closed and each end that stays open.
    """
    from scipy.spatial import cKDTree

    through = drawing.through()
    ends: list[tuple[int, int, int]] = []
    for index, piece in enumerate(drawing.pieces):
        ends.extend(
            (index, end, piece.vertices[end])
            for end in (0, -1)
            if len(through[piece.vertices[end]]) == 1
        )
    if not ends:
        return []
    trails = [trail(drawing, piece, 2.0) for piece in drawing.pieces]
    points = np.vstack(trails)
    owner = np.repeat(np.arange(len(trails)), [len(t) for t in trails])
    tree = cKDTree(points)
    place = {k: drawing.vertices[v] for k, (_, _, v) in enumerate(ends)}
    way = {k: heading(trails[i], e) for k, (i, e, _) in enumerate(ends)}
    long = [float(np.hypot(*np.diff(t, axis=0).T).sum()) for t in trails]
    closed: list[Closing] = []
    done: set[int] = set()
    offers = []
    for k, (index, _, _) in enumerate(ends):
        for m in range(len(ends)):
            if m == k:
                continue
            off = place[m] - place[k]
            far = float(np.hypot(*off))
            if far > reach or (ends[m][0] == index and far < 1.0):
                continue
            ahead = far < 1.5 * drawing.width or (
                off @ way[k] > _CONE * far and -off @ way[m] > _CONE * far
            )
            corner = _corner(place[k], way[k], place[m], way[m], reach, drawing.width)
            if k < m and (ahead or corner is not None):
                offers.append((far, k, ("end", m, corner)))
        near = np.array(tree.query_ball_point(place[k], reach), np.int64)
        hit = ahead_of(
            points[near], owner[near], place[k], way[k], index, drawing.width
        )
        if hit is not None:
            offers.append((hit[0] * 1.2, k, ("line", hit[1], None)))
    for size, k, (sort, target, corner) in sorted(offers, key=lambda o: (o[0], o[1])):
        if k in done or (sort == "end" and target in done):
            continue
        done.add(k)
        if sort == "end":
            done.add(target)
            both = min(long[ends[n][0]] for n in (k, target)) > _LONG * size
            if corner is not None:
                closed.append(Closing(corner, size, bool(both)))
                _bridge(drawing, ends[k][2], corner)
                _bridge(drawing, ends[target][2], corner, same=True)
            else:
                off = (place[target] - place[k]) / max(size, 1e-9)
                plain = both and min(off @ way[k], -off @ way[target]) > _STRAIGHT
                middle = (place[k] + place[target]) / 2
                closed.append(Closing(middle, size, bool(plain)))
                a, b = ends[k][2], ends[target][2]
                _straight(drawing, a, b)
        else:
            landing = _landing(drawing, target, place[k], way[k], size)
            size /= 1.2
            plain = long[ends[k][0]] > _LONG * size
            closed.append(Closing((place[k] + landing) / 2, size, plain))
            _land(drawing, drawing.pieces[target], ends[k][2], landing)
    closed.extend(Closing(place[k], 0.0) for k in range(len(ends)) if k not in done)
    return closed


def _corner(
    p: NDArray[np.float64],
    u: NDArray[np.float64],
    q: NDArray[np.float64],
    v: NDArray[np.float64],
    reach: float,
    width: float,
) -> NDArray[np.float64] | None:
    """Return where two ends would meet, if that is ahead of both and near."""
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.3:
        return None
    off = q - p
    t = (off[0] * v[1] - off[1] * v[0]) / cross
    s = (off[0] * u[1] - off[1] * u[0]) / cross
    if min(t, s) < -1.5 * width or max(t, s) > reach:
        return None
    meet: NDArray[np.float64] = p + t * u
    return meet


def _landing(
    drawing: Drawing,
    target: int,
    place: NDArray[np.float64],
    way: NDArray[np.float64],
    size: float,
) -> NDArray[np.float64]:
    ray = np.r_[place, way]
    rough = place + way * size / 1.2
    return meeting(rough, [ray, drawing.pieces[target].carrier], drawing.width)


def _land(
    drawing: Drawing, target: Piece, end: int, landing: NDArray[np.float64]
) -> None:
    """Carry an end on to a piece; to its nearer end where it would pass that by."""
    _bridge(drawing, end, landing)
    v = len(drawing.vertices) - 1
    pass_through(drawing, target, v)
    if v in target.vertices:
        return
    tips = (target.vertices[0], target.vertices[-1])
    far = [float(np.hypot(*(drawing.vertices[n] - landing))) for n in tips]
    drawing.pieces.pop()
    _straight(drawing, end, tips[0] if far[0] < far[1] else tips[1])


def _bridge(
    drawing: Drawing, end: int, to: NDArray[np.float64], *, same: bool = False
) -> None:
    if same:
        other = len(drawing.vertices) - 1
    else:
        drawing.vertices.append(to.copy())
        other = len(drawing.vertices) - 1
    _straight(drawing, end, other)


def add_line(
    drawing: Drawing, start: NDArray[np.float64], stop: NDArray[np.float64]
) -> None:
    """Add a straight line that no other touches yet.

    `drawing`: changed in place. `start` and `stop` (2,): px.
    """
    drawing.vertices.extend((start.copy(), stop.copy()))
    _straight(drawing, len(drawing.vertices) - 2, len(drawing.vertices) - 1)


def _straight(drawing: Drawing, a: int, b: int) -> None:
    p, q = drawing.vertices[a], drawing.vertices[b]
    way = q - p
    long = float(np.hypot(*way))
    if long < 1e-9:
        way, long = np.array([1.0, 0.0]), 1.0
    drawing.pieces.append(
        Piece(False, np.r_[p, way / long], 0.0, [a, b], np.vstack([p, q]))
    )
