"""Runs of a boundary of a face: from one corner to the next.

Lines cross or end on each other at the *corners* of a face. A band bends where no other
line comes in, so that its bends are no corners; a frame and the page are known by what
lies beyond them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import components
from fillwork.geometry.ranges import begins, distinct, spread

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints

# lines that cross at a flatter angle are hardly drawn; hands sway by less
_CORNER = np.radians(8.0)
# where no other line comes in, only the end of a band turns as sharply
_FREE_END = np.radians(60.0)
# an edge shorter than this share of the breadth of its face is a fault of the hand
_CRUMB = 0.06
# rails may come nearer than the mean width by this share of it
SLACK = 0.08
# towards the strapwork a frame turns by less where lines end at it, or seldom
_RAIL_TO_RAIL, _FEW_TURNS = np.radians(20.0), 0.25
# bands between two crossings have few corners; ground may have many
_MOST_RUNS = 20


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Hold the runs of faces of one ring, counter-clockwise from corner to corner."""

    face: Ints  # (S,): face of each run; those of a face follow each other
    # (S + 1,): run ``s`` has the half-edges ``half[start[s]:start[s + 1]]``
    start: Ints
    half: Ints  # half-edges of all runs; those of a face follow each other
    first: Floats  # first and last, (S, 2): ends of each run, mm
    last: Floats
    leaving: Floats  # leaving and arriving, (S, 2): unit directions there
    arriving: Floats
    # length, bend and sweep, (S,): length, mm; by how much it turns between its ends,
    # radians; and the area that it sweeps as seen from the middle of the drawing, mm²
    length: Floats
    bend: Floats
    sweep: Floats
    outer: Bools  # (S,): whether nothing lies beyond: a frame or the page
    # (F + 1,): face ``f`` has the runs ``face_start[f]:face_start[f + 1]``, possibly
    # none
    face_start: Ints


def unit_vectors(v: Floats) -> Floats:
    """Return vectors of length 1 in the same directions; 0 stays 0."""
    size = np.hypot(v[..., 0], v[..., 1])[..., None]
    return np.asarray(v / np.maximum(size, 1e-300))


def find_runs(arrangement: Arrangement) -> Runs:
    """Return the runs of all faces without holes.

    Faces of fewer than two corners have none here.
    """
    single = np.flatnonzero(np.diff(arrangement.face_ring_start) == 1)
    single = single[single > 0]
    ring = arrangement.face_ring_start[single]
    begin, size = arrangement.ring_start[ring], np.diff(arrangement.ring_start)[ring]
    owner, step = spread(size)
    half = arrangement.ring_half_edge[begin[owner] + step].astype(np.int64)
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    length = np.hypot(*(q - p).T)
    around = np.bincount(owner, weights=length, minlength=len(single))
    breadth = 2.0 * arrangement.area[single] / np.maximum(around, 1e-300)
    kept = stretch_lengths(arrangement)[half >> 1] > _CRUMB * breadth[owner]
    degree = _degrees(arrangement, half, owner, kept)
    half, owner, p, q = half[kept], owner[kept], p[kept], q[kept]
    length = length[kept]
    start = np.r_[0, np.cumsum(np.bincount(owner, minlength=len(single)))]
    leaving, arriving = tangents(arrangement, half)
    turn = np.abs(_angle(arriving[_before(start, owner)], leaving))
    corner = (turn > _CORNER) & (degree > 2)
    # a face that other lines give too few corners may end freely
    few = np.bincount(owner, weights=corner, minlength=len(single)) < 4
    corner |= few[owner] & (turn > _FREE_END)
    count = np.bincount(owner, weights=corner, minlength=len(single)).astype(np.int64)
    corner &= ((count >= 2) & (count <= _MOST_RUNS))[owner]
    # walk each face from its first corner
    lead = np.flatnonzero(corner)
    run_owner = owner[lead]
    entry = start[:-1].copy()
    entry[run_owner[::-1]] = lead[::-1]
    some = distinct(run_owner)
    row, step = spread(np.diff(start)[some])
    base, number = start[some][row], np.diff(start)[some][row]
    at = base + (entry[some][row] - base + step) % number
    begins = np.flatnonzero(corner[at])
    tail = at[np.r_[begins[1:] - 1, len(at) - 1]] if len(begins) else at
    lead = at[begins]
    of_run = np.cumsum(corner[at]) - 1
    # crumbs that were left out lie between the end of an edge and the next one
    end = q[at]
    inside = np.flatnonzero(~corner[at][1:])
    end[inside] = p[at[inside + 1]]
    sweep = swept(p[at], end)
    inner = np.where(corner, 0.0, turn) + np.abs(_angle(leaving, arriving))
    face = single[owner[lead]].astype(np.int64)
    per_face = np.bincount(face, minlength=arrangement.face_count)
    outer = _framing(arrangement)[half[lead] ^ 1]
    outer |= arrangement.edge_curve[half[lead] >> 1] >= arrangement.page_curves
    return Runs(
        face=face,
        start=np.r_[begins, len(at)].astype(np.int64),
        half=half[at],
        first=p[lead],
        last=q[tail],
        leaving=leaving[lead],
        arriving=arriving[tail],
        length=summed(length[at], of_run, len(lead)),
        bend=summed(inner[at], of_run, len(lead)),
        sweep=summed(sweep, of_run, len(lead)),
        outer=np.asarray(outer),
        face_start=np.r_[0, np.cumsum(per_face)].astype(np.int64),
    )


def stretch_lengths(arrangement: Arrangement) -> Floats:
    """Return how far the line of each edge runs on without a corner or another line.

    Chords of a curve are short, and none of them is a fault of the hand. Returns (E,):
    length, mm.
    """
    p, q = (arrangement.vertices[arrangement.origin[side::2]] for side in (0, 1))
    length = np.hypot(*(q - p).T)
    order = np.argsort(arrangement.origin, kind="stable")
    start = np.flatnonzero(begins(arrangement.origin[order]))
    two = start[np.diff(np.r_[start, len(order)]) == 2]
    if not len(two):
        return np.asarray(length)
    one, other = order[two].astype(np.int64), order[two + 1].astype(np.int64)
    ahead, behind = (tangents(arrangement, half)[0] for half in (one, other))
    on = np.abs(_angle(-ahead, behind)) <= _CORNER
    line = components(one[on] >> 1, other[on] >> 1, arrangement.edge_count)
    return summed(length, line, len(length))[line]


def swept(p: Floats, q: Floats) -> Floats:
    """Return the area of triangles from the origin to sides, mm²."""
    return np.asarray((p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0]) / 2)


def summed(value: Floats, row: Ints, count: int) -> Floats:
    """Return sums of values by row."""
    return np.asarray(np.bincount(row, weights=value, minlength=count), np.float64)


def _before(start: Ints, owner: Ints) -> Ints:
    """Return the row before each, round each of the rings."""
    before = np.arange(len(owner)) - 1
    some = np.flatnonzero(np.diff(start) > 0)
    before[start[some]] = start[some + 1] - 1
    return before


def _degrees(arrangement: Arrangement, half: Ints, owner: Ints, kept: Bools) -> Ints:
    """Return how many edges meet where each kept half-edge begins.

    Vertices of crumbs before it count as its own.
    """
    degree = np.bincount(arrangement.origin, minlength=len(arrangement.vertices))
    number = np.cumsum(kept, dtype=np.int64) - kept  # the kept row at or after each row
    last = np.flatnonzero(kept)
    most = np.zeros(len(last), np.int64)
    if not len(last):
        return most
    # crumbs behind the last kept edge of a ring stand before its first
    wrapped = np.minimum(number, len(last) - 1)
    first = np.searchsorted(owner[last], owner)
    over = (number >= len(last)) | (owner[last[wrapped]] != owner)
    wrapped = np.where(over, np.minimum(first, len(last) - 1), wrapped)
    held = owner[last[wrapped]] == owner
    np.maximum.at(most, wrapped[held], degree[arrangement.origin[half[held]]])
    return most


def outside(arrangement: Arrangement) -> Bools:
    """Return what lies outside a frame: the ground round it, and frames round that."""
    rings = np.diff(arrangement.face_ring_start)
    out = np.asarray((rings > 2) | ((rings > 1) & ~is_ring(arrangement)))
    out[0] = True
    framing = np.flatnonzero(rings == 2)
    first = arrangement.face_ring_start[framing]
    row, step = spread(np.diff(arrangement.ring_start)[first])
    half = arrangement.ring_half_edge[arrangement.ring_start[first][row] + step]
    beyond = arrangement.face[half ^ 1]
    # frames within frames, from without
    while True:
        inside = np.bincount(row, ~out[beyond], len(framing)) > 0
        fresh = framing[~inside & ~out[framing]]
        if not len(fresh):
            return out
        out[fresh] = True


def _framing(arrangement: Arrangement) -> Bools:
    """Return half-edges of the outside that run along a frame.

    A frame goes on where lines end at it; what lines the outside of strapwork turns
    there from one rail to another.
    """
    counts = np.diff(arrangement.face_ring_start)
    ring = np.flatnonzero(np.repeat(outside(arrangement), counts))
    size = np.diff(arrangement.ring_start)[ring]
    row, step = spread(size)
    half = arrangement.ring_half_edge[arrangement.ring_start[ring][row] + step]
    found = np.zeros(2 * arrangement.edge_count, bool)
    if not len(half):
        return found
    leaving, arriving = tangents(arrangement, half.astype(np.int64))
    turn = _angle(arriving[_before(np.r_[0, np.cumsum(size)], row)], leaving)
    degree = np.bincount(arrangement.origin, minlength=len(arrangement.vertices))
    meets = degree[arrangement.origin[half]] > 2
    turned = np.bincount(row, meets & (turn > _RAIL_TO_RAIL), len(ring))
    frame = turned <= _FEW_TURNS * np.bincount(row, meets, len(ring))
    found[half[frame[row]]] = True
    return found


def ring_sizes(arrangement: Arrangement) -> tuple[Ints, Floats, Floats]:
    """Return faces of two rings, their mean width and length."""
    face = np.flatnonzero(np.diff(arrangement.face_ring_start) == 2)
    face = face[face > 0]
    rings = arrangement.face_ring_start[face][:, None] + np.arange(2)
    size = np.diff(arrangement.ring_start)[rings.reshape(-1)]
    row, step = spread(size)
    half = arrangement.ring_half_edge[
        arrangement.ring_start[rings.reshape(-1)][row] + step
    ]
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    around = np.bincount(row, np.hypot(*(q - p).T), minlength=len(size))
    length = around.reshape(-1, 2).sum(axis=1) / 2
    width = np.abs(arrangement.area[face]) / np.maximum(length, 1e-300)
    return face.astype(np.int64), width, length


def is_ring(arrangement: Arrangement) -> Bools:
    """Return which faces are rings of one width."""
    import shapely

    found = np.zeros(arrangement.face_count, bool)
    face, width, _ = ring_sizes(arrangement)
    if len(face):
        polygons = arrangement.polygons(face)
        inner = shapely.get_interior_ring(polygons, 0)
        apart = shapely.distance(shapely.get_exterior_ring(polygons), inner)
        found[face[apart >= (1 - SLACK) * width]] = True
    return found


def tangents(arrangement: Arrangement, half: Ints) -> tuple[Floats, Floats]:
    """Return unit directions of half-edges where they begin and end."""
    edge, side = half >> 1, half & 1
    curve = arrangement.edge_curve[edge]
    t0 = arrangement.edge_span[edge, side]
    t1 = arrangement.edge_span[edge, 1 - side]
    sign = np.where(t1 >= t0, 1.0, -1.0)[:, None]
    first = unit_vectors(arrangement.curves.derivative(curve, t0) * sign)
    last = unit_vectors(arrangement.curves.derivative(curve, t1) * sign)
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    chord = unit_vectors(q - p)
    # a curve that was moved onto a vertex, or that has no direction there
    off = (first * chord).sum(axis=1) < 0.9
    off |= (last * chord).sum(axis=1) < 0.9
    first[off], last[off] = chord[off], chord[off]
    return first, last


def _angle(a: Floats, b: Floats) -> Floats:
    """Return the angle by which directions turn, radians."""
    across = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return np.asarray(np.arctan2(across, (a * b).sum(axis=1)))


def after(runs: Runs, run: Ints, step: int = 1) -> Ints:
    """Return the runs so many steps after others, round their faces.

    `run`: rows of some of them. `step`: how many steps, counter-clockwise.
    """
    begin = runs.face_start[runs.face[run]]
    count = runs.face_start[runs.face[run] + 1] - begin
    return np.asarray(begin + (run - begin + step) % count)


def rails_of(runs: Runs, caps: Ints) -> tuple[Ints, Ints]:
    """Return the half-edges of rails between caps.

    `caps` (n, 2, 2): first and last runs of two caps of one face. Returns `rail` (m,):
    ``2 k`` and ``2 k + 1`` for the two rails between the caps of row ``k``; `half`
    (m,): their half-edges, in order round the face.
    """
    face = runs.face[caps[:, 0, 0]]
    begin = runs.start[runs.face_start[face]]
    around = runs.start[runs.face_start[face + 1]] - begin
    begin, around = np.repeat(begin, 2), np.repeat(around, 2)
    start = runs.start[caps[:, :, 1] + 1].reshape(-1)
    end = runs.start[caps[:, ::-1, 0]].reshape(-1)
    size = (end - start) % np.maximum(around, 1)
    row, step = spread(size)
    at = begin[row] + (start[row] - begin[row] + step) % around[row]
    return row, runs.half[at]
