"""Find the cell: its lines and the straight-sided outline that bounds it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import LineWorkError
from fillwork.geometry.boxes import box_ring
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import LINE
from fillwork.geometry.polygons import signed_area
from fillwork.laying.clip import box_round
from fillwork.laying.model import Cell

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Floats
    from fillwork.linework import LineWork

_EXACT = 1e-3  # mm; what is nearer was not drawn by hand
_NARROW = 1e-4  # of its longer side: what is narrower is no cell
_WIDEST = math.pi / 3 + 0.05  # half of the widest sector of a rosette, a third
_BEYOND = 1.05  # of the farthest point of a sector: how far its outline reaches
_HELD = 0.9  # share of the lines that a closed guide holds
_DRAWN = 500  # lines of a guide that somebody may have drawn by hand
_STRAIGHT_ON = 0.98  # cosine between the ends of a line in two pieces
_GAPS = (0.02, 0.06, 0.15)  # of the guide: gaps that a hand leaves at corners
_SIDES = 6  # corners of a cell that goes on by shifts, at most
_LEAST = 0.05  # share of the lines that a part of the guide must hold to count


def default_slack(linework: LineWork) -> float:
    """Return how far lines may miss each other at a join.

    0.5 mm; two widths of its pen on a traced sheet, whose size may not be known; less
    in drawings of short lines: a fifth of the length that nine in ten lines exceed.
    """
    most = 0.5
    lengths = linework.curves.lengths()
    if linework.trace is not None:
        most = 2.0 * linework.trace.pen_width
        # gaps that were closed say nothing of how long lines are
        bridged = np.array([layer == "doubtful" for layer, *_ in linework.styles])
        own = bridged[linework.style]
        lengths = lengths[~np.repeat(own, np.diff(linework.stroke_start))]
    lengths = lengths[lengths > 1e-6]
    if len(lengths) == 0:
        return most
    return float(min(most, 0.2 * np.percentile(lengths, 10)))


def find_cell(
    linework: LineWork,
    guide: LineWork | None,
    *,
    slack: float,
    strip: bool = False,
    sector: bool = False,
) -> Cell:
    """Return the cell that a drawing shows; the lines with their outline.

    `guide`: the guide lines that bound the cell, where they were named. `slack`: how
    far corners may be off, mm. `strip`: whether it is one repeat of a border, which has
    four corners, though its ends need not be drawn. `sector`: whether it is a sector of
    a rosette, which two guide lines from its middle bound. Raises `LineWorkError` if
    the guide lines close nothing, or the cell is as narrow as a line.
    """
    stroke = linework.stroke_of_curve()
    style = linework.style[stroke].astype(np.int32)
    if guide is not None:
        outline = find_outline(guide, slack=slack, within=linework, sector=sector)
    else:
        outline = _own_outline(linework, slack, strip)
    if abs(signed_area(outline)) <= _NARROW * float(np.ptp(outline, axis=0).max()) ** 2:
        what = "the cell is as narrow as a line"
        mend = "draw what bounds it, and name its guide lines with --cell"
        raise LineWorkError(what, linework.file, mend)
    return Cell(linework.curves, style, outline, guide is not None)


def find_outline(
    guide: LineWork,
    *,
    slack: float,
    within: LineWork | None = None,
    sector: bool = False,
) -> Floats:
    """Return the outline that guide lines close.

    `slack`: bends smaller than this are no corners, mm. `within`: the lines it bounds;
    parts of the guide that hold none are left out. `sector`: whether two lines from one
    point bound one, whatever lies between them. Returns (k, 2): corners,
    counter-clockwise, mm. Raises `LineWorkError` if the guide lines close nothing.
    """
    arrangement = build_arrangement(guide, page_edge="open")
    if arrangement.face_count < 2:
        arrangement = build_arrangement(guide, page_edge="open", close_gaps=2 * slack)
    polygons = arrangement.polygons()
    lines = None if within is None else _pieces(within, slack)[0]
    if lines is not None:
        polygons = _by_hand(polygons, guide, lines, slack)
    if len(polygons) == 0:
        opened = _open_sector(guide, within, slack) if sector and within else None
        if opened is not None:
            return opened
        what = "the guide lines of the cell close nothing"
        mend = (
            "join their corners, or leave --cell out; two lines from the middle of a "
            "rosette bound a sector of it with --symmetry, such as rosette:C10"
        )
        raise LineWorkError(what, guide.file, mend)
    if lines is not None and len(polygons) > 1:
        held = [_length_in(lines, p) for p in polygons]
        keep = np.array(held) >= _LEAST * sum(held)
        if keep.any():
            own, whole = _outer(polygons[keep], slack), _outer(polygons, slack)
            # circles of the construction part corners off in which nothing is drawn
            return whole if len(whole) <= _SIDES < len(own) else own
    return _outer(polygons, slack)


def _by_hand(
    polygons: NDArray[Any], guide: LineWork, lines: NDArray[Any], slack: float
) -> NDArray[Any]:
    """Return what guides close once drawn on, where they hold too little of `lines`."""
    import shapely

    whole = float(shapely.length(lines).sum())
    held = _length_in(lines, shapely.union_all(polygons)) if len(polygons) else 0.0
    if held > _HELD * whole or len(guide.closed) > _DRAWN:
        return polygons
    pieces, stroke = _pieces(guide, slack)
    chords = shapely.get_coordinates(pieces).reshape(-1, 2, 2)
    first = np.flatnonzero(np.diff(stroke, prepend=-1))
    last = np.append(first[1:], len(stroke)) - 1
    ends = np.concatenate([chords[first, ::-1], chords[last]])
    along = ends[:, 1] - ends[:, 0]
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    size = float(np.ptp(chords.reshape(-1, 2), axis=0).max(initial=0.0))
    # where ink lies over a pencil line it is in two pieces
    apart = np.hypot(*np.moveaxis(ends[:, None, 1] - ends[None, :, 1], -1, 0))
    apart[along @ along.T > -_STRAIGHT_ON] = np.inf
    near = apart.argmin(axis=1)
    across = np.stack([ends[:, 1], ends[near, 1]], axis=1)
    for share in _GAPS:
        on = np.stack([ends[:, 1], ends[:, 1] + share * size * along], axis=1)
        joins = across[apart.min(axis=1) < share * size]
        drawn = shapely.union_all(
            shapely.linestrings(np.concatenate([chords, on, joins]))
        )
        closed = shapely.get_parts(shapely.polygonize([drawn]))
        # between a line and one drawn on along it are slivers
        around = shapely.union_all(closed).buffer(slack, join_style="mitre")
        closed = shapely.get_parts(around.buffer(-2 * slack, join_style="mitre"))
        closed = shapely.buffer(closed, slack, join_style="mitre")
        now = _length_in(lines, shapely.union_all(closed)) if len(closed) else 0.0
        if now > held + _LEAST * whole:
            polygons, held = closed, now
    return polygons


def _pieces(linework: LineWork, slack: float) -> tuple[NDArray[Any], NDArray[Any]]:
    """Return the lines piece by piece, as shapely's, and the stroke of each."""
    import shapely

    points, owner, _ = linework.curves.flatten(max(slack, 1e-3))
    pieces = np.array(shapely.linestrings(points.reshape(-1, 2, 2)), dtype=object)
    return pieces, linework.stroke_of_curve()[owner]


def _length_in(lines: NDArray[Any], polygon: Any) -> float:
    import shapely

    return float(shapely.length(shapely.intersection(lines, polygon)).sum())


def _open_sector(guide: LineWork, lines: LineWork, slack: float) -> Floats | None:
    """Return the triangle of two lines from one point, beyond all that they hold."""
    if len(guide.curves) != 2 or (guide.curves.kind != LINE).any():
        return None
    ends = np.stack([guide.curves.starts(), guide.curves.ends()], axis=1)
    gaps = np.hypot(*np.moveaxis(ends[0][:, None] - ends[1], -1, 0))
    i, j = np.unravel_index(int(gaps.argmin()), gaps.shape)
    if gaps[i, j] > 2 * slack:
        return None
    middle = (ends[0, i] + ends[1, j]) / 2
    sides = np.stack([ends[0, 1 - i], ends[1, 1 - j]]) - middle
    sides /= np.hypot(*sides.T)[:, None]
    if np.linalg.det(sides) < 0:
        sides = sides[::-1]
    half = math.acos(float(np.clip(sides[0] @ sides[1], -1, 1))) / 2
    points = lines.curves.flatten(max(slack, 1e-3))[0].reshape(-1, 2) - middle
    far = float(np.hypot(*points.T).max(initial=0.0))
    if not far or half > _WIDEST:
        return None
    return np.vstack([middle, middle + sides * (_BEYOND * far / math.cos(half))])


def _outer(polygons: NDArray[Any], slack: float) -> Floats:
    import shapely

    whole = shapely.union_all(polygons)
    parts = shapely.get_parts(whole)
    largest = parts[int(np.argmax(shapely.area(parts)))]
    ring = shapely.get_coordinates(shapely.get_exterior_ring(largest))[:-1]
    return cut_corners(ring, min(slack, 0.01 * float(np.ptp(ring, axis=0).max())))


def cut_corners(ring: Floats, slack: float) -> Floats:
    """Return a ring without the points that are no corners.

    `ring` (n, 2): a closed ring. `slack`: points that lie this near the line between
    others are left out, mm. Returns (k, 2): counter-clockwise.
    """
    import shapely

    if signed_area(ring) < 0:
        ring = ring[::-1]
    far = int(np.argmax(np.hypot(*(ring - ring.mean(axis=0)).T)))
    ring = np.roll(ring, -far, axis=0)
    # as a line: a ring is never brought down to a triangle
    closed = shapely.linestrings(np.vstack([ring, ring[:1]]))
    shorter = shapely.simplify(closed, slack, preserve_topology=False)
    simple = shapely.get_coordinates(shorter)[:-1]
    # what is narrower than the slack has no corners but its ends
    return np.asarray(simple if len(simple) > 2 else ring, dtype=np.float64)


def _own_outline(linework: LineWork, slack: float, strip: bool) -> Floats:
    """Return the outline of a drawing without guide lines."""
    low, high = box_round(linework.curves)
    frame = linework.frame
    if frame.has_page:
        size = np.array([frame.width, frame.height])
        meets = int((low <= slack).sum() + (high >= size - slack).sum())
        if meets >= 2:
            return box_ring(np.zeros(2), size)
    try:
        arrangement = build_arrangement(linework, page_edge="open")
        polygons = arrangement.polygons()
    except LineWorkError:
        polygons = np.empty(0, dtype=object)
    if len(polygons):
        outline = _outer(polygons, slack)
        filled = abs(signed_area(outline)) / max(float(np.prod(high - low)), 1e-12)
        corners = (4,) if strip else (3, 4, 5, 6)
        if len(outline) in corners and filled > 0.4 and _convex(outline):
            ends = np.concatenate([linework.curves.starts(), linework.curves.ends()])
            # lines that run beside it are a part of the cell too
            if _within(ends, outline, slack):
                return outline
    return box_ring(*_sides(linework, low, high, slack))


def _within(points: Floats, ring: Floats, slack: float) -> bool:
    """Return whether points lie in a convex outline or near it."""
    side = np.roll(ring, -1, axis=0) - ring
    side /= np.hypot(*side.T)[:, None]
    inward = cross(side, points[:, None] - ring)
    return bool((inward >= -2 * slack).all())


def _sides(
    linework: LineWork, low: Floats, high: Floats, slack: float
) -> tuple[Floats, Floats]:
    """Return the box of lines whose ends show where its sides were meant to be.

    Ends set by hand lie on both sides of them; such a box that is all but square is
    one.
    """
    ends = np.concatenate([linework.curves.starts(), linework.curves.ends()])
    by_hand = False
    sides = []
    for wall in (low, high):
        near = np.abs(ends - wall) <= slack
        off = np.where(near, ends - wall, 0.0)
        by_hand |= bool((np.abs(off) > _EXACT).any())
        sides.append(wall + off.sum(axis=0) / np.maximum(near.sum(axis=0), 1))
    low, high = sides
    size = high - low
    if by_hand and abs(size[0] - size[1]) <= slack:
        high = low + size.mean()
    return low, high


def _convex(ring: Floats) -> bool:
    side = np.roll(ring, -1, axis=0) - ring
    return bool((cross(side, np.roll(side, -1, axis=0)) > 0).all())
