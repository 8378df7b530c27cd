"""Ends carried on along their own line as far as the ink goes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import crossings
from fillwork.readers.scan.trails import trail

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.readers.scan.model import Piece
    from fillwork.readers.scan.settle import Drawing


# Widths: how far an end may run on within ink; within how many lines that meet
# meet in one place; what lies farther from every line is a line of its own.
_LONGEST = 14.0
_ONE_PLACE = 1.2
_APART = 0.5
# From so many widths on ink beside a line is not the line's, and runs on past it.
_OWN, _RUN = 0.7, 1.2


def carry_on(drawing: Drawing, mask: Bools, free: set[int]) -> None:
    """Carry ends on to the last line that they reach within the ink.

    Where several lines meet near another, the skeleton loses the last bit of
    some: there the ink goes on, and no line follows it.

    `drawing`: changed in place. `mask` (h, w): inked pixels. `free`: vertices where the
    ink itself ends.
    """
    from scipy.spatial import cKDTree

    trails = [trail(drawing, piece, 2.0) for piece in drawing.pieces]
    points = np.vstack(trails)
    owner = np.repeat(np.arange(len(trails)), [len(t) for t in trails])
    tree = cKDTree(points)
    through = drawing.through()
    found, tips = [], []
    for index, piece in enumerate(drawing.pieces):
        if piece.vertices[0] == piece.vertices[-1]:
            continue
        for end in (0, -1):
            v = piece.vertices[end]
            loose = len(through[v]) == 1 and v not in free
            path, start = _path(drawing, piece, end, back=loose)
            stop = start + _inked(path[start:], mask)
            least = 0 if loose else start + round(drawing.width)
            if stop <= least:
                continue
            near, number = _nearest_others(tree, owner, points, path[:stop], index)
            offers = [
                (at, other, place)
                for other in number
                for at, place in _meetings(drawing, index, other, path[:stop], trails)
                if at >= least
                and _vertex_at(drawing, other, place) not in piece.vertices
            ]
            if not offers and not loose:
                tip = stop - round(0.5 * drawing.width)
                if near[max(tip, 0)] > _OWN * drawing.width and _stops_short(
                    points, owner, path[start : tip + 1], index, drawing.width
                ):
                    tips.append((piece, end, path[tip]))
            if not offers:
                continue
            last = max(offers, key=lambda o: o[0])[0]
            if not loose and near[start:last].max(initial=0.0) < _APART * drawing.width:
                continue
            offers = [o for o in offers if last - o[0] < _ONE_PLACE * drawing.width]
            found.append((index, end, loose, *min(offers, key=lambda o: o[0])[1:]))
    for index, end, loose, other, place in found:
        v = _vertex(drawing, other, place)
        vertices = drawing.pieces[index].vertices
        if v in vertices:
            continue
        if loose:
            vertices[end] = v
        elif end == 0:
            vertices.insert(0, v)
        else:
            vertices.append(v)
    for piece, end, place in tips:
        drawing.vertices.append(place.copy())
        piece.vertices.insert(
            0 if end == 0 else len(piece.vertices), len(drawing.vertices) - 1
        )


def _stops_short(
    points: Floats, owner: Ints, run: Floats, own: int, width: float
) -> bool:
    """Tell whether ink beside another line all but reaches the next one.

    What ran past its line goes not half of the way to the next.
    """
    if len(run) < _RUN * width:
        return False
    # a width of the gap lies under the ink of both
    near = (np.abs(points - run[-1]) < len(run) + width).all(axis=1)
    way = heading(run, -1)
    met = ahead_of(points[near], owner[near], run[-1], way, own, width)
    return met is not None and met[0] < len(run) + width


def _path(
    drawing: Drawing, piece: Piece, end: int, *, back: bool
) -> tuple[Floats, int]:
    """Return places 1 px apart along the carrier through an end, and which is it."""
    tip = drawing.vertices[piece.vertices[end]]
    before = round(3 * drawing.width) if back else 0
    along = np.arange(-before, round(_LONGEST * drawing.width) + 1.0)
    if piece.circle:
        centre, radius = piece.carrier[:2], float(piece.carrier[2])
        sign = (1.0 if piece.turn > 0 else -1.0) * (1.0 if end == -1 else -1.0)
        angle = np.arctan2(*(tip - centre)[::-1]) + sign * along / radius
        angle = angle[abs(along) < 0.9 * np.pi * radius]
        before = min(before, int(0.9 * np.pi * radius))
        way = np.stack([np.cos(angle), np.sin(angle)], 1)
        return centre + radius * way, before
    inner = drawing.vertices[piece.vertices[1 if end == 0 else -2]]
    direction = piece.carrier[2:]
    if direction @ (tip - inner) < 0:
        direction = -direction
    foot = piece.carrier[:2] + ((tip - piece.carrier[:2]) @ direction) * direction
    return foot + along[:, None] * direction, before


def _inked(path: Floats, mask: Bools) -> int:
    """Return how many places of a path lie in ink before the first that does not."""
    height, width = mask.shape
    at = np.clip(np.rint(path).astype(int), 0, (width - 1, height - 1))
    bare = np.flatnonzero(~mask[at[:, 1], at[:, 0]])
    return int(bare[0]) if len(bare) else len(path)


def _nearest_others(
    tree: object, owner: Ints, points: Floats, path: Floats, own: int
) -> tuple[Floats, list[int]]:
    """Return each place's distance from other pieces, and which are near any."""
    reach = 12.0
    near = np.full(len(path), reach)
    numbers: set[int] = set()
    for k, found in enumerate(tree.query_ball_point(path, reach)):  # type: ignore[attr-defined]
        other = np.array(found, np.int64)
        other = other[owner[other] != own]
        if len(other):
            near[k] = float(np.hypot(*(points[other] - path[k]).T).min())
            numbers.update(owner[other].tolist())
    return near, sorted(numbers)


def _meetings(
    drawing: Drawing, index: int, other: int, path: Floats, trails: list[Floats]
) -> list[tuple[int, Floats]]:
    """Return where along a path another piece is met."""
    found = []
    own = drawing.pieces[index].carrier
    for place in crossings(own, drawing.pieces[other].carrier):
        far = np.hypot(*(path - place).T)
        at = int(np.argmin(far))
        line = trails[other]
        beside = float(np.hypot(*(line - place).T).min())
        # a corner where a third line begins: there the other one stops short too
        tip = float(np.hypot(*(line[[0, -1]] - place).T).min())
        if far[at] < 1.0 and min(2.0 * beside, tip) < drawing.width:
            found.append((at, place))
    return found


def _vertex_at(drawing: Drawing, index: int, place: Floats) -> int | None:
    """Return a piece's vertex at a place, if it has one."""
    near = 0.35 * drawing.width
    for v in drawing.pieces[index].vertices:
        if float(np.hypot(*(drawing.vertices[v] - place))) < near:
            return v
    return None


def _vertex(drawing: Drawing, index: int, place: Floats) -> int:
    """Return a piece's vertex at a place, a new one where it has none."""
    at = _vertex_at(drawing, index, place)
    if at is not None:
        return at
    piece = drawing.pieces[index]
    drawing.vertices.append(place.copy())
    v = len(drawing.vertices) - 1
    pass_through(drawing, piece, v)
    if v not in piece.vertices:
        far = [
            np.hypot(*(drawing.vertices[piece.vertices[k]] - place)) for k in (0, -1)
        ]
        piece.vertices.insert(0 if far[0] < far[1] else len(piece.vertices), v)
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
        sign = 1.0 if piece.turn > 0 else -1.0
        along = (sign * (angle - angle[0])) % (2 * np.pi)
        if piece.vertices[0] == piece.vertices[-1]:
            along[-2] = 2 * np.pi
    else:
        along = (places - places[0]) @ (places[-2] - places[0])
    at = int(np.searchsorted(along[:-1], along[-1]))
    if 0 < at < len(piece.vertices):
        piece.vertices.insert(at, v)


def heading(points: Floats, end: int) -> Floats:
    """Return the direction in which a line leaves its end.

    `points` (n, 2): places along it, px. `end`: 0 for the first, -1 for the last.
    Returns (2,): of length one.
    """
    a, b = (points[0], points[min(3, len(points) - 1)]) if end == 0 else (
        points[-1], points[max(-4, -len(points))])  # fmt: skip
    way: Floats = a - b
    way /= max(float(np.hypot(*way)), 1e-9)
    return way


def ahead_of(
    points: Floats, owner: Ints, place: Floats, way: Floats, own: int, width: float
) -> tuple[float, int] | None:
    """Return what line an end would meet first if it went straight on.

    `points` (n, 2): places along lines near the end, px. `owner` (n,): which piece each
    is of. `place` and `way` (2,): the end, and its direction. `own`: the end's own
    piece. `width`: width of the pen's line, px. Returns how far away, px, and the
    piece.
    """
    off = points - place
    along = off @ way
    across = np.abs(off[:, 0] * way[1] - off[:, 1] * way[0])
    good = (across < 1.6) & (along > -0.3 * width)
    good &= (owner != own) | (along > 3.0 * width)
    if not good.any():
        return None
    k = int(np.argmin(np.where(good, along, np.inf)))
    return max(float(along[k]), 0.1), int(owner[k])
