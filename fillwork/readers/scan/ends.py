"""Ends carried on along their own line as far as the ink goes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import crossings, far
from fillwork.readers.scan.pixels import seen_at
from fillwork.readers.scan.trails import Trails, heading

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats
    from fillwork.readers.scan.model import Drawing, Piece


# Widths: how far an end may run on within ink; within how many lines that meet
# meet in one place; what lies farther from every line is a line of its own; lines
# farther from an end's way are none that it meets.
_LONGEST = 14.0
_ONE_PLACE = 1.2
_APART = 0.5
_AROUND = 2.0
# From so many widths on ink beside a line is not the line's, and runs on past it.
_OWN, _RUN = 0.7, 1.2


def carry_on(drawing: Drawing, mask: Bools, free: set[int]) -> None:
    """Carry ends on to the last line that they reach within the ink.

    Where several lines meet near another, the skeleton loses the last bit of
    some: there the ink goes on, and no line follows it.

    `drawing`: changed in place. `mask` (h, w): inked pixels. `free`: vertices where the
    ink itself ends.
    """
    trails = Trails.along(drawing)
    through = drawing.through()
    found, tips = [], []
    for index, piece in enumerate(drawing.pieces):
        if piece.tips[0] == piece.tips[1]:
            continue
        for end in (0, -1):
            v = piece.vertices[end]
            loose = len(through[v]) == 1 and v not in free
            path, start = _path(drawing, piece, end, back=loose)
            stop = start + _inked(path[start:], mask)
            least = 0 if loose else start + round(drawing.width)
            if stop <= least:
                continue
            near, number = _nearest_others(trails, path[:stop], index)
            offers = [
                (at, other, place)
                for other in number
                for at, place in _meetings(drawing, trails, index, other, path[:stop])
                if at >= least
                and _vertex_at(drawing, other, place) not in piece.vertices
            ]
            if not offers:
                tip = stop - round(0.5 * drawing.width)
                run = path[start : tip + 1]
                if (
                    not loose
                    and near[max(tip, 0)] > _OWN * drawing.width
                    and _stops_short(trails, run, index)
                ):
                    tips.append((piece, end, path[tip]))
                continue
            last = max(at for at, _, _ in offers)
            if not loose and near[start:last].max(initial=0.0) < _APART * drawing.width:
                continue
            offers = [o for o in offers if last - o[0] < _ONE_PLACE * drawing.width]
            found.append((index, end, loose, *min(offers, key=lambda o: o[0])[1:]))
    for index, end, loose, other, place in found:
        v = _vertex(drawing, other, place)
        piece = drawing.pieces[index]
        if v in piece.vertices:
            continue
        if loose:
            piece.vertices[end] = v
        else:
            piece.extend(end, v)
    for piece, end, place in tips:
        piece.extend(end, drawing.add(place))


def _stops_short(trails: Trails, run: Floats, own: int) -> bool:
    """Tell whether ink beside another line all but reaches the next one.

    What ran past its line goes not half of the way to the next.
    """
    if len(run) < _RUN * trails.width:
        return False
    # a width of the gap lies under the ink of both
    reach = len(run) + trails.width
    near = trails.around(run[-1], reach)
    met = trails.ahead(near, run[-1], heading(run, -1), own)
    return met is not None and met[0] < reach


def _path(
    drawing: Drawing, piece: Piece, end: int, *, back: bool
) -> tuple[Floats, int]:
    """Return places 1 px apart along the carrier through an end, and which is it."""
    tip = drawing.vertices[piece.vertices[end]]
    before = round(3 * drawing.width) if back else 0
    along = np.arange(-before, round(_LONGEST * drawing.width) + 1.0)
    if piece.circle:
        centre, radius = piece.carrier[:2], float(piece.carrier[2])
        sign = piece.sign if end == -1 else -piece.sign
        angle = np.arctan2(*(tip - centre)[::-1]) + sign * along / radius
        angle = angle[abs(along) < 0.9 * np.pi * radius]
        before = min(before, int(0.9 * np.pi * radius))
        way = np.stack([np.cos(angle), np.sin(angle)], 1)
        return centre + radius * way, before
    inner = drawing.vertices[piece.inner(end)]
    direction = piece.carrier[2:]
    if direction @ (tip - inner) < 0:
        direction = -direction
    foot = piece.carrier[:2] + ((tip - piece.carrier[:2]) @ direction) * direction
    return foot + along[:, None] * direction, before


def _inked(path: Floats, mask: Bools) -> int:
    """Return how many places of a path lie in ink before the first that does not."""
    bare = np.flatnonzero(~seen_at(mask, path))
    return int(bare[0]) if len(bare) else len(path)


def _nearest_others(trails: Trails, path: Floats, own: int) -> tuple[Floats, list[int]]:
    """Return each place's distance from other pieces, and which are near any."""
    reach = _AROUND * trails.width
    near = np.full(len(path), reach)
    numbers: set[int] = set()
    for k, found in enumerate(trails.tree.query_ball_point(path, reach)):
        other = np.array(found, np.int64)
        other = other[trails.owner[other] != own]
        if len(other):
            near[k] = float(np.hypot(*(trails.points[other] - path[k]).T).min())
            numbers.update(trails.owner[other].tolist())
    return near, sorted(numbers)


def _meetings(
    drawing: Drawing, trails: Trails, index: int, other: int, path: Floats
) -> list[tuple[int, Floats]]:
    """Return where along a path another piece is met."""
    found = []
    own = drawing.pieces[index].carrier
    for place in crossings(own, drawing.pieces[other].carrier):
        off = np.hypot(*(path - place).T)
        at = int(np.argmin(off))
        line = trails.lines[other]
        beside = float(np.hypot(*(line - place).T).min())
        # a corner where a third line begins: there the other one stops short too
        tip = float(np.hypot(*(line[[0, -1]] - place).T).min())
        if off[at] < 1.0 and min(2.0 * beside, tip) < drawing.width:
            found.append((at, place))
    return found


def _vertex_at(drawing: Drawing, index: int, place: Floats) -> int | None:
    """Return a piece's vertex at a place, if it has one."""
    near = 0.35 * drawing.width
    for v in drawing.pieces[index].vertices:
        if far(drawing.vertices[v], place) < near:
            return v
    return None


def _vertex(drawing: Drawing, index: int, place: Floats) -> int:
    """Return a piece's vertex at a place, a new one where it has none."""
    at = _vertex_at(drawing, index, place)
    if at is not None:
        return at
    piece = drawing.pieces[index]
    v = drawing.add(place)
    pass_through(drawing, piece, v)
    if v not in piece.vertices:
        first, last = (far(drawing.vertices[n], place) for n in piece.tips)
        piece.extend(0 if first < last else -1, v)
    return v


def pass_through(drawing: Drawing, piece: Piece, v: int) -> None:
    """Let a piece pass through a vertex that lies on it.

    `piece`: changed in place; left as it is where the vertex is beyond its ends.
    """
    if v in piece.vertices:
        return
    places = np.array([drawing.vertices[n] for n in [*piece.vertices, v]])
    if piece.circle:
        off = places - piece.carrier[:2]
        angle = np.arctan2(off[:, 1], off[:, 0])
        along = (piece.sign * (angle - angle[0])) % (2 * np.pi)
        if piece.tips[0] == piece.tips[1]:
            along[-2] = 2 * np.pi
    else:
        along = (places - places[0]) @ (places[-2] - places[0])
    at = int(np.searchsorted(along[:-1], along[-1]))
    if 0 < at < len(piece.vertices):
        piece.vertices.insert(at, v)
