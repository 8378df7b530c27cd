"""Pieces of bands: faces between two rails that run beside each other at one width.

A *side* of a face runs from corner to corner; along it the boundary is smooth. A
*reading* of a face takes two opposite sides as *caps* and those between them, two by
two from cap to cap, as *rails*. It stands when every two rails run side by side at one
width: straight ones antiparallel, curved ones at one distance. A parallelogram has
two readings; which of them is a piece of a band, if any, its neighbours tell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]
    Truths = NDArray[np.bool_]

__all__ = ["Readings", "Sides", "find_sides", "read_faces"]

# the boundary turns by more than this at a corner, and by less along a curve
_CORNER = np.radians(15.0)
# a side that turns by more than this from end to end is curved
_BENT = np.radians(7.0)
# width may differ by this share of it along a band
_SLACK = 0.08
# a side shorter than this share of the breadth of its face is a fault of the hand
_CRUMB = 0.06
# bands of more bends than this from crossing to crossing are not looked for
_MOST_SIDES = 40


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Hold the sides of faces that have one ring.

    Parameters
    ----------
    face : ndarray of int64, shape (S,)
        Face of each side; the sides of a face follow each other, counter-clockwise.
    place : ndarray of int64, shape (S,)
        Number of the side within its face, from 0.
    first, last : ndarray of float64, shape (S, 2)
        Its ends, mm.
    leaving, arriving : ndarray of float64, shape (S, 2)
        Unit directions at its ends.
    curved : ndarray of bool, shape (S,)
        Whether it bends.
    start : ndarray of int64, shape (S + 1,)
        Side ``s`` has the half-edges ``half[start[s]:start[s + 1]]``.
    half : ndarray of int64
        Half-edges of all sides.
    face_start : ndarray of int64, shape (F + 1,)
        Face ``f`` has the sides ``face_start[f]:face_start[f + 1]``, possibly none.
    outer : ndarray of bool, shape (S,)
        Whether nothing, or a face with a hole, lies beyond: a frame or the page.
    """

    face: Ints
    place: Ints
    first: Floats
    last: Floats
    leaving: Floats
    arriving: Floats
    curved: Truths
    start: Ints
    half: Ints
    face_start: Ints
    outer: Truths


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Hold faces read as pieces of bands.

    Parameters
    ----------
    face : ndarray of int64, shape (R,)
        The face.
    caps : ndarray of int64, shape (R, 2)
        Sides that are its caps, as rows of `Sides`.
    width : ndarray of float64, shape (R,)
        Distance of its rails, mm.
    length : ndarray of float64, shape (R,)
        Mean length of its rails, mm.
    middle : ndarray of float64, shape (R, 2, 2)
        Middle of each cap, mm.
    out : ndarray of float64, shape (R, 2, 2)
        Unit direction in which the band leaves the piece at each cap.
    curved : ndarray of bool, shape (R,)
        Whether a rail is curved.
    """

    face: Ints
    caps: Ints
    width: Floats
    length: Floats
    middle: Floats
    out: Floats
    curved: Truths


def _unit(v: Floats) -> Floats:
    size = np.hypot(v[..., 0], v[..., 1])[..., None]
    return np.asarray(v / np.maximum(size, 1e-300))


def find_sides(arrangement: Arrangement) -> Sides:
    """Return the sides of all faces without holes.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing.

    Returns
    -------
    Sides
        Faces of fewer than three sides have none here.
    """
    single = np.flatnonzero(np.diff(arrangement.face_ring_start) == 1)
    single = single[single > 0]
    ring = arrangement.face_ring_start[single]
    begin, size = arrangement.ring_start[ring], np.diff(arrangement.ring_start)[ring]
    owner = np.repeat(np.arange(len(single)), size)
    row = np.repeat(begin - np.cumsum(size) + size, size) + np.arange(len(owner))
    half = arrangement.ring_half_edge[row].astype(np.int64)
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    length = np.hypot(*(q - p).T)
    around = np.bincount(owner, weights=length, minlength=len(single))
    breadth = 2.0 * arrangement.area[single] / np.maximum(around, 1e-300)
    kept = length > _CRUMB * breadth[owner]
    half, owner, p, q = half[kept], owner[kept], p[kept], q[kept]
    count = np.bincount(owner, minlength=len(single))
    start = np.r_[0, np.cumsum(count)]
    leaving, arriving = _tangents(arrangement, half)
    _, before = _round(start, owner)
    turn = _angle(arriving[before], leaving)
    corner = np.abs(turn) > _CORNER
    # sides of a face begin with its first corner
    corners = np.bincount(owner, weights=corner, minlength=len(single)).astype(int)
    good = (corners >= 3) & (corners <= _MOST_SIDES)
    lead = np.flatnonzero(corner & good[owner])
    side_owner = owner[lead]
    side_count = np.bincount(side_owner, minlength=len(single))
    side_start = np.r_[0, np.cumsum(side_count)]
    following, previous = _round(side_start, side_owner)
    # a side runs to the corner after it, round the start of the ring if need be
    reach = lead[following] - lead
    reach = np.where(reach <= 0, reach + count[side_owner], reach)
    where = np.repeat(np.arange(len(lead)), reach)
    step = np.arange(len(where)) - np.repeat(np.cumsum(reach) - reach, reach)
    base = start[:-1][side_owner][where]
    at = base + (lead[where] - base + step) % count[side_owner][where]
    tail = at[np.cumsum(reach) - 1] if len(reach) else np.empty(0, np.int64)
    # of two ends that a crumb lies between, the middle
    first = (p[lead] + q[tail[previous]]) / 2
    last = first[following]
    inner = np.where(step > 0, turn[at], 0.0)
    within = _angle(leaving[at], arriving[at])
    bend = np.bincount(where, weights=inner + within, minlength=len(lead))
    sway = np.bincount(where, weights=np.abs(within), minlength=len(lead))
    curved = (np.abs(bend) > _BENT) | (sway > 2 * _BENT)
    chord = _unit(last - first)
    face = single[side_owner].astype(np.int64)
    face_count = np.bincount(face, minlength=arrangement.face_count)
    beyond = arrangement.face[half[lead] ^ 1]
    outer = np.diff(arrangement.face_ring_start)[beyond] > 1
    outer |= (beyond == 0) | (
        arrangement.edge_curve[half[lead] >> 1] >= arrangement.page_curves
    )
    return Sides(
        face=face,
        place=np.arange(len(lead)) - side_start[:-1][side_owner],
        first=first,
        last=last,
        leaving=np.where(curved[:, None], leaving[lead], chord),
        arriving=np.where(curved[:, None], arriving[tail], chord),
        curved=curved,
        start=np.r_[0, np.cumsum(reach)].astype(np.int64),
        half=half[at],
        face_start=np.r_[0, np.cumsum(face_count)].astype(np.int64),
        outer=np.asarray(outer),
    )


def _round(start: Ints, owner: Ints) -> tuple[Ints, Ints]:
    """Return the row after and before each, round each of the rings."""
    rows = np.arange(len(owner))
    after, before = rows + 1, rows - 1
    some = np.flatnonzero(np.diff(start) > 0)
    after[start[some + 1] - 1] = start[some]
    before[start[some]] = start[some + 1] - 1
    return after, before


def _tangents(arrangement: Arrangement, half: Ints) -> tuple[Floats, Floats]:
    """Return unit directions of half-edges where they begin and end."""
    edge, side = half >> 1, half & 1
    curve = arrangement.edge_curve[edge]
    t0 = arrangement.edge_span[edge, side]
    t1 = arrangement.edge_span[edge, 1 - side]
    sign = np.where(t1 >= t0, 1.0, -1.0)[:, None]
    first = _unit(arrangement.curves.derivative(curve, t0) * sign)
    last = _unit(arrangement.curves.derivative(curve, t1) * sign)
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    chord = _unit(q - p)
    # a curve that was moved onto a vertex, or that has no direction there
    off = (first * chord).sum(axis=1) < 0.9
    off |= (last * chord).sum(axis=1) < 0.9
    first[off], last[off] = chord[off], chord[off]
    return first, last


def _angle(a: Floats, b: Floats) -> Floats:
    """Return the angle by which directions turn, radians."""
    across = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return np.asarray(np.arctan2(across, (a * b).sum(axis=1)))


def read_faces(arrangement: Arrangement, sides: Sides) -> Readings:
    """Return every way to read a face as a piece of a band.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing.
    sides : Sides
        Of its faces.

    Returns
    -------
    Readings
        By face.
    """
    found: list[tuple[Ints, Ints, Floats, Floats]] = []
    count = np.diff(sides.face_start)
    polylines = _Polylines(arrangement, sides)
    for n in np.unique(count[(count > 3) & (count % 2 == 0)]).tolist():
        faces = np.flatnonzero(count == n)
        table = sides.face_start[faces][:, None] + np.arange(n)
        for cap in range(n // 2):
            one = table[:, (cap + 1 + np.arange(n // 2 - 1)) % n]
            other = table[:, (cap - 1 - np.arange(n // 2 - 1)) % n]
            width, good = _abreast(sides, polylines, one, other)
            rows = np.flatnonzero(good)
            caps = np.stack([table[rows, cap], table[rows, cap + n // 2]], axis=1)
            length = polylines.lengths[one[rows]].sum(axis=1)
            length = (length + polylines.lengths[other[rows]].sum(axis=1)) / 2
            found.append((faces[rows], caps, width[rows], length))
    whole = np.concatenate([f[0] for f in found]) if found else np.empty(0, np.int64)
    ended = np.setdiff1d(sides.face[sides.outer], whole)
    found += [
        reading
        for face in ended.tolist()
        for reading in _readings_at_an_edge(sides, polylines, int(face))
    ]
    if not found:
        none = np.empty(0, np.int64), np.empty((0, 2), np.int64)
        found.append((*none, np.empty(0), np.empty(0)))
    face = np.concatenate([f[0] for f in found]).astype(np.int64)
    order = np.argsort(face, kind="stable")
    caps = np.concatenate([f[1] for f in found])[order]
    count = np.diff(sides.face_start)[face[order]]
    begin = sides.face_start[face[order]]
    ahead = begin[:, None] + (sides.place[caps] + 1) % count[:, None]
    behind = begin[:, None] + (sides.place[caps] - 1) % count[:, None]
    out = _unit(sides.arriving[behind] - sides.leaving[ahead])
    # a reading is curved when a rail is; caps may be curved without
    total = np.bincount(
        sides.face, weights=sides.curved, minlength=arrangement.face_count
    )
    bent = total[face[order]] > sides.curved[caps].sum(axis=1)
    return Readings(
        face=face[order],
        caps=caps,
        width=np.concatenate([f[2] for f in found])[order],
        length=np.concatenate([f[3] for f in found])[order],
        middle=(sides.first[caps] + sides.last[caps]) / 2,
        out=out,
        curved=bent,
    )


def _readings_at_an_edge(
    sides: Sides, polylines: _Polylines, face: int
) -> list[tuple[Ints, Ints, Floats, Floats]]:
    """Return readings of a face of which one end is cut off by a frame or the page.

    Its rails are matched from the other cap until one of them is cut.
    """
    begin, end = sides.face_start[face], sides.face_start[face + 1]
    n = int(end - begin)
    found = []
    for cap in np.flatnonzero(~sides.outer[begin:end]).tolist():
        one, other, stop = [], [], -1
        for k in range(1, n // 2 + 1):
            a, b = begin + (cap + k) % n, begin + (cap - k) % n
            if a == b or sides.outer[a] or sides.outer[b]:
                stop = int(a if sides.outer[a] else b)
                break
            one.append(a)
            other.append(b)
        if not one or stop < 0 or not sides.outer[stop]:
            continue
        rows = np.array([one]), np.array([other])
        width, good = _abreast(sides, polylines, *rows)
        if good[0]:
            length = sum(polylines.lengths[row].sum(axis=1) for row in rows) / 2
            caps = np.array([[begin + cap, stop]])
            found.append((np.array([face]), caps, width, np.asarray(length)))
    return found


class _Polylines:
    """Make the sides as lines of chords, when asked for."""

    def __init__(self, arrangement: Arrangement, sides: Sides) -> None:
        self.arrangement, self.sides = arrangement, sides
        half = sides.half
        p = arrangement.vertices[arrangement.origin[half]]
        q = arrangement.vertices[arrangement.origin[half ^ 1]]
        row = np.repeat(np.arange(len(sides.face)), np.diff(sides.start))
        chords = np.bincount(row, np.hypot(*(q - p).T), minlength=len(sides.face))
        straight = np.hypot(*(sides.last - sides.first).T)
        self.lengths = np.where(sides.curved, chords, straight)

    def points(self, side: int) -> Floats:
        """Return the points of a side, its ends among them."""
        half = self.sides.half[self.sides.start[side] : self.sides.start[side + 1]]
        inner = self.arrangement.vertices[self.arrangement.origin[half[1:]]]
        return np.concatenate(
            [self.sides.first[side][None], inner, self.sides.last[side][None]]
        )


def _abreast(
    sides: Sides, polylines: _Polylines, one: Ints, other: Ints
) -> tuple[Floats, Truths]:
    """Return the width between rows of rails, and whether they run at one width.

    Both have shape (faces, rails on a side of the band).
    """
    a0, a1 = sides.first[one], sides.last[one]
    b0, b1 = sides.first[other], sides.last[other]
    a, b = a1 - a0, b1 - b0
    along = _unit(a - b)
    across = np.stack([-along[..., 1], along[..., 0]], axis=-1)
    mid_a, mid_b = (a0 + a1) / 2, (b0 + b1) / 2
    width = ((mid_b - mid_a) * across).sum(axis=-1)
    heights = np.stack(
        [
            ((mid_b - a0) * across).sum(axis=-1),
            ((mid_b - a1) * across).sum(axis=-1),
            ((b0 - mid_a) * across).sum(axis=-1),
            ((b1 - mid_a) * across).sum(axis=-1),
        ]
    )
    size = np.maximum(np.hypot(a[..., 0], a[..., 1]), 1e-300)
    size_b = np.maximum(np.hypot(b[..., 0], b[..., 1]), 1e-300)
    with np.errstate(invalid="ignore", divide="ignore"):
        good = np.abs(heights - width).max(axis=0) <= _SLACK * width
        good &= (a * b).sum(axis=-1) < -0.95 * size * size_b
        good &= (width > 0) & (np.minimum(size, size_b) > 0.1 * width)
    bent, bent_other = sides.curved[one], sides.curved[other]
    good &= ~bent & ~bent_other
    # rows of which all straight rails hold are worth the work of curved ones
    both = bent & bent_other
    hopeful = (good | both).all(axis=1)
    for row, k in zip(*np.nonzero(both & hopeful[:, None]), strict=True):
        if not hopeful[row]:
            continue
        value, holds = _beside(
            polylines.points(int(one[row, k])), polylines.points(int(other[row, k]))
        )
        width[row, k], good[row, k] = value, holds
        hopeful[row] = holds
    mean = width.mean(axis=1)
    with np.errstate(invalid="ignore"):
        even = (np.abs(width - mean[:, None]) <= _SLACK * mean[:, None]).all(axis=1)
    return mean, good.all(axis=1) & even


def _beside(one: Floats, other: Floats) -> tuple[float, bool]:
    """Return the distance of two curves, and whether it is the same all along."""
    import shapely

    lines = np.array([shapely.LineString(one), shapely.LineString(other)])
    share = (np.arange(7) + 0.5) / 7
    far = []
    for here, there in (lines, lines[::-1]):
        points = shapely.line_interpolate_point(here, share, normalized=True)
        at = shapely.line_locate_point(there, points)
        inside = (at > 1e-9) & (at < there.length * (1 - 1e-9))
        far.append(shapely.distance(points, there)[inside])
    distance = np.concatenate(far)
    if len(distance) < 4:
        return 0.0, False
    width = float(np.median(distance))
    spread = float(np.abs(distance - width).max())
    # rails of a band run opposite ways round its piece
    against = float((one[-1] - one[0]) @ (other[-1] - other[0])) < 0
    return width, spread <= _SLACK * width and against
