"""Ends that stop short of a line or of another end, carried on to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.geometry.near import pairs_within
from fillwork.readers.scan.circles import far, length, unit
from fillwork.readers.scan.ends import pass_through
from fillwork.readers.scan.model import Piece
from fillwork.readers.scan.settle import meeting
from fillwork.readers.scan.trails import Trails, heading

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.readers.scan.model import Drawing

_CONE = np.cos(np.radians(40.0))
# A line so many times longer than its gap says where it goes on.
_LONG = 3.0
_STRAIGHT = np.cos(np.radians(15.0))


@dataclass(frozen=True, slots=True, eq=False)
class Closing:
    """Say where an end was carried on."""

    at: Floats  # (2,): middle of the gap, px
    size: float  # width of the gap, px; 0 where nothing was near and the end stays open
    # whether a line many times as long as the gap was carried on as it runs
    straight: bool = False


class _End(NamedTuple):
    """Say where a piece ends loosely, and where that end points."""

    piece: int
    vertex: int
    place: Floats
    way: Floats
    long: float  # length of its piece, px


class _Offer(NamedTuple):
    """Say on what an end may be carried on: another end, or a line."""

    size: float  # px
    end: int
    other: int | None  # the end that it meets
    corner: Floats | None  # where both would meet, ahead of both
    line: int  # the piece that it meets, where it is no end


def close_ends(drawing: Drawing, reach: float) -> list[Closing]:
    """Close gaps at loose ends.

    `drawing`: changed in place. `reach`: longest gap that is closed, px. Each gap
    closed and each end that stays open.
    """
    trails = Trails.along(drawing)
    through = drawing.through()
    ends = [
        _End(k, v, drawing.vertices[v], heading(line, end), length(line))
        for k, (piece, line) in enumerate(
            zip(drawing.pieces, trails.lines, strict=True)
        )
        for end, v in zip((0, -1), piece.tips, strict=True)
        if len(through[v]) == 1
    ]
    if not ends:
        return []
    offers = _offers(trails, ends, reach)
    closed: list[Closing] = []
    done: set[int] = set()
    for offer in sorted(offers, key=lambda o: (o.size, o.end)):
        if offer.end in done or offer.other in done:
            continue
        done.add(offer.end)
        end = ends[offer.end]
        if offer.other is None:
            closed.append(_closed_on_line(drawing, end, offer))
        else:
            done.add(offer.other)
            closed.append(_closed_on_end(drawing, end, ends[offer.other], offer))
    closed.extend(Closing(e.place, 0.0) for k, e in enumerate(ends) if k not in done)
    return closed


def _offers(trails: Trails, ends: list[_End], reach: float) -> list[_Offer]:
    """Return on what each end may be carried on."""
    width = trails.width
    places = np.array([end.place for end in ends])
    offers = []
    for k, m in zip(*pairs_within(places, places, reach), strict=True):
        end, other = ends[k], ends[m]
        off = other.place - end.place
        size = far(end.place, other.place)
        if k >= m or (other.piece == end.piece and size < 1.0):
            continue
        ahead = size < 1.5 * width or (
            off @ end.way > _CONE * size and -off @ other.way > _CONE * size
        )
        corner = _corner(end.place, end.way, other.place, other.way, reach, width)
        if ahead or corner is not None:
            offers.append(_Offer(size, int(k), int(m), corner, -1))
    for k, end in enumerate(ends):
        near = np.array(trails.tree.query_ball_point(end.place, reach), np.int64)
        hit = trails.ahead(near, end.place, end.way, end.piece)
        if hit is not None:
            offers.append(_Offer(hit[0] * 1.2, k, None, None, hit[1]))
    return offers


def _closed_on_end(drawing: Drawing, end: _End, other: _End, offer: _Offer) -> Closing:
    """Carry two ends on to each other, and say where."""
    size, corner = offer.size, offer.corner
    both = min(end.long, other.long) > _LONG * size
    if corner is not None:
        v = drawing.add(corner)
        _straight(drawing, end.vertex, v)
        _straight(drawing, other.vertex, v)
        return Closing(corner, size, bool(both))
    off = (other.place - end.place) / max(size, 1e-9)
    plain = both and min(off @ end.way, -off @ other.way) > _STRAIGHT
    _straight(drawing, end.vertex, other.vertex)
    return Closing((end.place + other.place) / 2, size, bool(plain))


def _closed_on_line(drawing: Drawing, end: _End, offer: _Offer) -> Closing:
    """Carry an end on to a line, and say where."""
    target, size = drawing.pieces[offer.line], offer.size / 1.2
    rough = end.place + end.way * size
    ray = np.r_[end.place, end.way]
    landing = meeting(rough, [ray, target.carrier], drawing.width)
    _land(drawing, target, end.vertex, landing)
    return Closing((end.place + landing) / 2, size, end.long > _LONG * size)


def _corner(
    p: Floats, u: Floats, q: Floats, v: Floats, reach: float, width: float
) -> Floats | None:
    """Return where two ends would meet, if that is ahead of both and near."""
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.3:
        return None
    off = q - p
    t = (off[0] * v[1] - off[1] * v[0]) / cross
    s = (off[0] * u[1] - off[1] * u[0]) / cross
    if min(t, s) < -1.5 * width or max(t, s) > reach:
        return None
    meet: Floats = p + t * u
    return meet


def _land(drawing: Drawing, target: Piece, end: int, landing: Floats) -> None:
    """Carry an end on to a piece; to its nearer end where it would pass that by."""
    v = drawing.add(landing)
    pass_through(drawing, target, v)
    if v not in target.vertices:
        first, last = (far(drawing.vertices[n], landing) for n in target.tips)
        v = target.tips[0 if first < last else 1]
    _straight(drawing, end, v)


def add_line(drawing: Drawing, start: Floats, stop: Floats) -> None:
    """Add a straight line that no other touches yet.

    `drawing`: changed in place. `start` and `stop` (2,): px.
    """
    _straight(drawing, drawing.add(start), drawing.add(stop))


def _straight(drawing: Drawing, a: int, b: int) -> None:
    p, q = drawing.vertices[a], drawing.vertices[b]
    way = unit(q - p) if far(p, q) >= 1e-9 else np.array([1.0, 0.0])
    drawing.pieces.append(Piece(False, np.r_[p, way], 0.0, [a, b], np.vstack([p, q])))
