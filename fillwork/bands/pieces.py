"""Pieces of bands: faces between two rails that run beside each other at one width.

A *reading* of a face takes two runs of its boundary as *caps* and what lies between
them as *rails*. Whatever the rails' shape, the face is as wide in the mean as twice its
area over the length of both; a reading stands when the rails come nowhere nearer to
each other than that, so that they have this width all along. A parallelogram has two
readings; which of them is a piece of a band, if any, its neighbours tell. A face of two
rings at one width is a band that lies over all others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.runs import (
    SLACK,
    Runs,
    after,
    is_ring,
    rails_of,
    ring_sizes,
    summed,
    swept,
    unit_vectors,
)

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints


# a frame that cuts a piece changes its mean width by this share
_CUT_SLACK = 0.3
# caps of bands that cross at a flat angle are long: 1 / sin 10°
_LONGEST_CAP = 6.0
# rails leave a cap side by side; curved ones leave a slanting cap one before the other
_ABREAST, _ABREAST_CURVED = np.cos(np.radians((20.0, 40.0)))
# rails that turn by more than this in all are curved or bent
_BENT = np.radians(7.0)


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


def read_faces(arrangement: Arrangement, runs: Runs) -> Readings:
    """Return every way to read a face as a piece of a band."""
    caps = _likely_caps(arrangement, runs)
    face = runs.face[caps[:, 0, 0]]
    ahead, behind = after(runs, caps[..., 1]), after(runs, caps[..., 0], -1)
    mean, both = _mean_width(arrangement, runs, caps)
    out = unit_vectors(runs.arriving[behind] - runs.leaving[ahead])
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
    near = np.abs(width - as_wide[face]) <= SLACK * width
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
    even = ~bent | (np.abs(across[:, 0] - across[:, 1]) <= SLACK * width)
    return width, np.asarray(even & (np.abs(width - mean) <= _CUT_SLACK * width))


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
    face, width, length = ring_sizes(arrangement)
    held = is_ring(arrangement)[face]
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
    fits &= chord >= (1 - 1.5 * SLACK) * width[:, None]
    good = np.zeros(len(abreast), bool)
    good[rows[fits.all(axis=1)]] = True
    return good


def _framed(arrangement: Arrangement, runs: Runs, half: Ints) -> Bools:
    """Return which half-edges run along a frame or the page."""
    framed = np.zeros(2 * arrangement.edge_count, bool)
    framed[runs.half[np.repeat(runs.outer, np.diff(runs.start))]] = True
    return np.asarray(framed[half])


def along_frames(arrangement: Arrangement, runs: Runs, caps: Ints) -> Bools:
    """Return which readings have a frame or the page for half of a rail or more.

    `caps` (n, 2, 2): as `Readings` has them.
    """
    rail, half = rails_of(runs, caps)
    p, q = (arrangement.vertices[arrangement.origin[h]] for h in (half, half ^ 1))
    size = np.hypot(*(q - p).T)
    total = summed(size, rail, 2 * len(caps))
    outer = summed(size * _framed(arrangement, runs, half), rail, 2 * len(caps))
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
        kept = ~(cut & _framed(arrangement, runs, half))
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
    return np.asarray(some & (apart >= (1 - SLACK) * width))
