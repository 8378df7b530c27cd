"""Pieces of bands: faces between two rails that run beside each other at one width.

Lines cross or end on each other at the *corners* of a face, and a *run* of its
boundary goes from one corner to the next. A band bends where no other line comes in,
so that its bends are no corners. A *reading* of a face takes two of its runs as *caps*
and what lies between them as *rails*. Whatever the rails' shape, the face is as wide in
the mean as twice its area over the length of both; a reading stands when the rails come
nowhere nearer to each other than that, so that they have this width all along. A
parallelogram has two readings; which of them is a piece of a band, if any, its
neighbours tell. A face of two rings at one width is a band that lies over all others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import components
from fillwork.geometry.ranges import distinct, spread

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
_SLACK = 0.08
# and a frame that cuts a piece changes its mean width by this share
_CUT_SLACK = 0.3
# caps of bands that cross at a flat angle are long: 1 / sin 10°
_LONGEST_CAP = 6.0
# rails leave a cap side by side; curved ones leave a slanting cap one before the other
_ABREAST, _ABREAST_CURVED = np.cos(np.radians((20.0, 40.0)))
# rails that turn by more than this in all are curved or bent
_BENT = np.radians(7.0)
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


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Hold faces read as pieces of bands."""

    face: Ints  # (R,): the face
    # (R, 2, 2): first and last run of its caps, as rows of `Runs`; -1 for a ring
    caps: Ints
    # width and length, (R,): distance of its rails and their mean length, mm
    width: Floats
    length: Floats
    middle: Floats  # (R, 2, 2): middle of each cap, mm
    # (R, 2, 2): unit direction in which the band leaves the piece at each cap
    out: Floats
    curved: Bools  # (R,): whether a rail is curved or bent
    curl: Floats  # (R,): by how much it turns in all, radians a mm

    @property
    def ring(self) -> Bools:
        """Return (R,): which are rings."""
        return self.caps[:, 0, 0] < 0

    def take(self, rows: Ints) -> Readings:
        """Return some of the readings."""
        names = self.__dataclass_fields__
        return Readings(*(getattr(self, name)[rows] for name in names))


def _unit(v: Floats) -> Floats:
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
        length=_summed(length[at], of_run, len(lead)),
        bend=_summed(inner[at], of_run, len(lead)),
        sweep=_summed(sweep, of_run, len(lead)),
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
    start = np.flatnonzero(np.r_[True, np.diff(arrangement.origin[order]) > 0])
    two = start[np.diff(np.r_[start, len(order)]) == 2]
    if not len(two):
        return np.asarray(length)
    one, other = order[two].astype(np.int64), order[two + 1].astype(np.int64)
    ahead, behind = (tangents(arrangement, half)[0] for half in (one, other))
    on = np.abs(_angle(-ahead, behind)) <= _CORNER
    line = components(one[on] >> 1, other[on] >> 1, arrangement.edge_count)
    return _summed(length, line, len(length))[line]


def swept(p: Floats, q: Floats) -> Floats:
    """Return the area of triangles from the origin to sides, mm²."""
    return np.asarray((p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0]) / 2)


def _summed(value: Floats, row: Ints, count: int) -> Floats:
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
    out = np.asarray((rings > 2) | ((rings > 1) & ~_is_ring(arrangement)))
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


def _ring_sizes(arrangement: Arrangement) -> tuple[Ints, Floats, Floats]:
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


def _is_ring(arrangement: Arrangement) -> Bools:
    """Return which faces are rings of one width."""
    import shapely

    found = np.zeros(arrangement.face_count, bool)
    face, width, _ = _ring_sizes(arrangement)
    if len(face):
        polygons = arrangement.polygons(face)
        inner = shapely.get_interior_ring(polygons, 0)
        apart = shapely.distance(shapely.get_exterior_ring(polygons), inner)
        found[face[apart >= (1 - _SLACK) * width]] = True
    return found


def tangents(arrangement: Arrangement, half: Ints) -> tuple[Floats, Floats]:
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


def read_faces(arrangement: Arrangement, runs: Runs) -> Readings:
    """Return every way to read a face as a piece of a band."""
    caps = _likely_caps(arrangement, runs)
    face = runs.face[caps[:, 0, 0]]
    ahead, behind = after(runs, caps[..., 1]), after(runs, caps[..., 0], -1)
    mean, both = _mean_width(arrangement, runs, caps)
    out = _unit(runs.arriving[behind] - runs.leaving[ahead])
    bent = _cut_bends(runs, caps)
    width, fits = _width_at_frames(runs, caps, out, mean, bent)
    good = fits & _wide(arrangement, runs, caps, np.minimum(mean, width), bent)
    good &= ~_arms_alone(runs, caps, width, good & bent)
    bend = np.bincount(runs.face, runs.bend, minlength=arrangement.face_count)[face]
    bend = bend - runs.bend[caps[..., 0]].sum(axis=1)
    # corners on the rails are bends as well
    inner = np.diff(runs.face_start)[face] - _sizes(runs, caps).sum(axis=1) > 2
    found = Readings(
        face=face,
        caps=caps,
        width=width,
        length=both / 2,
        middle=(runs.first[caps[..., 0]] + runs.last[caps[..., 1]]) / 2,
        out=out,
        curved=(bend > _BENT) | inner,
        curl=bend / np.maximum(both, 1e-300),
    ).take(np.flatnonzero(good))
    return _with_rings(arrangement, found)


def _cut_bends(runs: Runs, caps: Ints) -> Bools:
    """Return which pieces have a bend that a frame cuts, between two whole ends."""
    count = np.bincount(runs.face[runs.outer], minlength=len(runs.face_start) - 1)
    beside = np.stack([after(runs, caps[..., 1]), after(runs, caps[..., 0], -1)])
    whole = ~runs.outer[caps].any(axis=(1, 2)) & ~runs.outer[beside].any(axis=(0, 2))
    return np.asarray(whole & (count[runs.face[caps[:, 0, 0]]] > 0))


def _arms_alone(runs: Runs, caps: Ints, width: Floats, bent: Bools) -> Bools:
    """Return which readings take one arm of such a bend for a piece that ends there."""
    face = runs.face[caps[:, 0, 0]]
    as_wide = np.full(len(runs.face_start) - 1, np.inf)
    np.minimum.at(as_wide, face[bent], width[bent])
    near = np.abs(width - as_wide[face]) <= _SLACK * width
    return np.asarray(near & runs.outer[caps].any(axis=(1, 2)))


def _width_at_frames(
    runs: Runs, caps: Ints, out: Floats, mean: Floats, bent: Bools
) -> tuple[Floats, Bools]:
    """Return widths, of pieces that a frame cuts at the end that is whole.

    The second tells which are near enough to the mean width: a cut through a bend
    leaves more of the one rail than of the other.
    """
    frame = np.asarray(runs.outer[caps].any(axis=-1))
    chord = runs.last[caps[..., 1]] - runs.first[caps[..., 0]]
    across = np.abs(chord[..., 0] * out[..., 1] - chord[..., 1] * out[..., 0])
    cut = frame.sum(axis=1) == 1
    width = np.where(cut, np.where(frame[:, 0], across[:, 1], across[:, 0]), mean)
    width = np.where(bent, across.mean(axis=1), width)
    even = ~bent | (np.abs(across[:, 0] - across[:, 1]) <= _SLACK * width)
    return width, np.asarray(even & (np.abs(width - mean) <= _CUT_SLACK * width))


def after(runs: Runs, run: Ints, step: int = 1) -> Ints:
    """Return the runs so many steps after others, round their faces.

    `run`: rows of some of them. `step`: how many steps, counter-clockwise.
    """
    begin = runs.face_start[runs.face[run]]
    count = runs.face_start[runs.face[run] + 1] - begin
    return np.asarray(begin + (run - begin + step) % count)


def _sizes(runs: Runs, caps: Ints) -> Ints:
    """Return of how many runs caps are."""
    begin = runs.face_start[runs.face[caps[..., 0]]]
    count = runs.face_start[runs.face[caps[..., 0]] + 1] - begin
    return np.asarray((caps[..., 1] - caps[..., 0]) % count + 1)


def _mean_width(
    arrangement: Arrangement, runs: Runs, caps: Ints
) -> tuple[Floats, Floats]:
    """Return the mean width between caps, mm, and the length of both rails together.

    What lies beyond the chord of a cap, where it bulges, does not count.
    """
    face = runs.face[caps[..., 0].reshape(-1)]
    total = np.bincount(runs.face, runs.length, minlength=arrangement.face_count)
    size = _sizes(runs, caps)
    along, sweep = np.zeros(size.shape), np.zeros(size.shape)
    for k in range(int(size.max(initial=0))):
        run = after(runs, caps[..., 0], k)
        along += np.where(k < size, runs.length[run], 0.0)
        sweep += np.where(k < size, runs.sweep[run], 0.0)
    sweep -= swept(runs.first[caps[..., 0]], runs.last[caps[..., 1]])
    face = face.reshape(-1, 2)[:, 0]
    both = total[face] - along.sum(axis=1)
    area = arrangement.area[face] - sweep.sum(axis=1)
    return 2.0 * area / np.maximum(both, 1e-300), both


def _with_rings(arrangement: Arrangement, found: Readings) -> Readings:
    """Return readings with the faces that are rings among them."""
    face, width, length = _ring_sizes(arrangement)
    held = _is_ring(arrangement)[face]
    face, width, length = face[held], width[held], length[held]
    none = np.full((len(face), 2, 2), np.nan)
    rings = Readings(
        face,
        np.full((len(face), 2, 2), -1, np.int64),
        width,
        length,
        none,
        none,
        np.ones(len(face), bool),
        2 * np.pi / np.maximum(length, 1e-300),
    )
    names = Readings.__dataclass_fields__
    whole = Readings(
        *(np.concatenate([getattr(found, n), getattr(rings, n)]) for n in names)
    )
    return whole.take(np.argsort(whole.face, kind="stable"))


def _likely_caps(arrangement: Arrangement, runs: Runs) -> Ints:
    """Return pairs of runs, or of groups of runs, that may be the caps of a face.

    Where a frame cuts a cap off, the two together end the piece.
    """
    count = np.diff(runs.face_start)
    found = [np.empty((0, 2, 2), np.int64)]
    power = np.zeros(len(runs.face), np.int64)
    place = np.arange(len(runs.face)) - runs.face_start[runs.face]
    power[runs.outer] = 1 << place[runs.outer]
    frames = np.bincount(runs.face, power, minlength=len(count)).astype(np.int64)
    some = count > 2
    for n, frame in np.unique(np.stack([count, frames], 1)[some], axis=0).tolist():
        first = runs.face_start[:-1][(count == n) & (frames == frame)]
        caps = _caps_of(n, frame)
        i, j = np.triu_indices(len(caps), 1)
        one, other = caps[i], caps[j]
        # both rails have a run at least
        size = [(c[:, 1] - c[:, 0]) % n + 1 for c in (one, other)]
        before = (other[:, 0] - one[:, 1]) % n
        after = (one[:, 0] - other[:, 1]) % n
        apart = (before > 1) & (after > 1) & (before + after + sum(size) - 2 == n)
        both = np.stack([one[apart], other[apart]], axis=1)
        table = first[:, None, None, None] + both
        table = table.reshape(-1, 2, 2)
        found.append(table[_able(arrangement, runs, table)])
    return np.concatenate(found).astype(np.int64)


def _caps_of(count: int, frame: int) -> Ints:
    """Return the first and last place of caps in a face of so many runs."""
    caps = [(k, k) for k in range(count)]
    for k in range(count):
        if frame >> k & 1:
            before, after = (k - 1) % count, (k + 1) % count
            caps += [(before, k), (k, after), (before, after)]
    return np.array(caps, np.int64)


def _able(arrangement: Arrangement, runs: Runs, caps: Ints) -> Bools:
    """Return where rails leave both caps side by side, at their mean width."""
    ahead, behind = after(runs, caps[..., 1]), after(runs, caps[..., 0], -1)
    frame = np.asarray(runs.outer[caps].any(axis=-1))
    # a frame may cut a band where it bends
    bent = np.minimum(runs.bend[ahead], runs.bend[behind]) > _BENT
    abreast = -(runs.arriving[behind] * runs.leaving[ahead]).sum(axis=-1) > np.where(
        bent, _ABREAST_CURVED, _ABREAST
    )
    abreast |= frame
    rows = np.flatnonzero(abreast.all(axis=1))
    caps, frame = caps[rows], frame[rows]
    width, _ = _mean_width(arrangement, runs, caps)
    chord = np.hypot(
        *np.moveaxis(runs.last[caps[..., 1]] - runs.first[caps[..., 0]], -1, 0)
    )
    fits = frame | (chord <= _LONGEST_CAP * width[:, None])
    fits &= chord >= (1 - 1.5 * _SLACK) * width[:, None]
    good = np.zeros(len(abreast), bool)
    good[rows[fits.all(axis=1)]] = True
    return good


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


def along_frames(arrangement: Arrangement, runs: Runs, caps: Ints) -> Bools:
    """Return which readings have a frame or the page for half of a rail or more.

    `caps` (n, 2, 2): as `Readings` has them.
    """
    rail, half = rails_of(runs, caps)
    p, q = (arrangement.vertices[arrangement.origin[h]] for h in (half, half ^ 1))
    size = np.hypot(*(q - p).T)
    framed = np.zeros(2 * arrangement.edge_count, bool)
    framed[runs.half[np.repeat(runs.outer, np.diff(runs.start))]] = True
    total = _summed(size, rail, 2 * len(caps))
    outer = _summed(size * framed[half], rail, 2 * len(caps))
    return np.asarray((outer > total / 2).reshape(-1, 2).any(axis=1))


def _wide(
    arrangement: Arrangement, runs: Runs, caps: Ints, width: Floats, bent: Bools
) -> Bools:
    """Return where rails come nowhere much nearer than their mean width.

    A frame that cuts a bend is no rail.
    """
    import shapely

    if not len(caps):
        return np.zeros(0, bool)
    rail, half = rails_of(runs, caps)
    cut = bent[rail >> 1]
    if cut.any():
        framed = np.zeros(2 * arrangement.edge_count, bool)
        framed[runs.half[np.repeat(runs.outer, np.diff(runs.start))]] = True
        kept = ~(cut & framed[half])
        rail, half = rail[kept], half[kept]
    size = np.bincount(rail, minlength=2 * len(caps))
    some = (size.reshape(-1, 2) > 0).all(axis=1)
    # a new line begins where the half-edge before ends elsewhere
    start, end = arrangement.origin[half], arrangement.origin[half ^ 1]
    fresh = np.r_[True, (rail[1:] != rail[:-1]) | (start[1:] != end[:-1])]
    last = np.r_[fresh[1:], True]
    # each half-edge gives its start, the last one its end too
    points = np.repeat(arrangement.vertices[start], 1 + last, axis=0)
    index = np.repeat(np.cumsum(fresh) - 1, 1 + last)
    points[np.cumsum(1 + last)[last] - 1] = arrangement.vertices[end[last]]
    parts = np.asarray(shapely.linestrings(points, indices=index), object)
    owner = rail[fresh]
    lines = np.full(2 * len(caps), None, object)
    lines[owner] = parts
    several = np.flatnonzero(np.diff(owner) == 0)
    for k in np.unique(owner[several]).tolist():
        lines[k] = shapely.multilinestrings(parts[owner == k])
    apart = shapely.distance(lines[0::2], lines[1::2])
    return np.asarray(some & (apart >= (1 - _SLACK) * width))
