"""Pieces of bands that go on in each other, as one rail of theirs alone can tell.

A frame leaves scraps of bands that have no two rails any more, and what is known for a
piece by its kind need not be one by its shape. Where a rail ends at another band, and
goes on in line on the far side with the same ground beside it, what lies along the two
is one strand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.runs import after, stretch_lengths
from fillwork.geometry.near import pairs_within
from fillwork.geometry.ranges import marked

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.bands.links import Pieces
    from fillwork.bands.runs import Runs


# how far, in widths, a rail may be out of sight
_REACH = 5.0
_CRUMB = 0.06  # edges shorter than this share of the width are a fault of the hand
# in widths: at least so far, and how far off its line it may be
_NEAR, _ASIDE, _ASIDE_CURVED = 0.05, 0.1, 0.2
# by how much its direction may turn meanwhile; in all, straight, and a width
_MOST, _TURN, _BEND = np.radians((40.0, 9.0, 14.0))


def links_by_rails(
    pieces: Pieces, band: Bools, crossing: Bools, mated: Bools, width: float
) -> tuple[Ints, Ints, Ints, Floats]:
    """Return which faces go on in each other by their rails, and under what.

    `band` and `crossing` (F,): which faces are pieces, and which two bands go through.
    `mated` (2 R,): caps of readings that go on already. `width`: of the widest band,
    mm. Returns `one` and `other` (n,): faces; those that were no piece lie at a frame;
    `over` (n,): the face that lies between; `apart` (n,): how far from each other they
    are, mm.
    """
    arrangement, runs = pieces.arrangement, pieces.runs
    count = len(runs.face)
    framed = marked(runs.face[runs.outer], arrangement.face_count)
    of_band = band | crossing
    likely = (band | (framed & ~of_band)) & ~crossing
    free = _free_caps(pieces, mated, framed)
    # at each corner a rail runs into a cap, or a cap into a rail
    ahead = after(runs, np.arange(count))
    rail = np.r_[np.arange(count), ahead]
    cap = np.r_[ahead, np.arange(count)]
    into = np.arange(2 * count) < count
    place = np.where(into[:, None], runs.last[rail], runs.first[rail])
    out = np.where(into[:, None], runs.arriving[rail], -runs.leaving[rail])
    first, last = runs.half[runs.start[:-1]] ^ 1, runs.half[runs.start[1:] - 1] ^ 1
    beside = arrangement.face[np.where(into, last[rail], first[rail])]
    over = arrangement.face[np.where(into, first[cap], last[cap])].astype(np.int64)
    face = runs.face[rail]
    keep = likely[face] & ~runs.outer[rail] & ~runs.outer[cap] & ~of_band[beside]
    keep &= np.where(into, free[cap, 0], free[cap, 1])
    keep &= of_band[over] | framed[over]
    # the vertex of the corner between them
    end = arrangement.origin[runs.half[runs.start[np.where(into, cap, rail)]]]
    rows = np.flatnonzero(keep)
    place, out, into, end = place[rows], out[rows], into[rows], end[rows]
    over, face, rail = over[rows], face[rows].astype(np.int64), rail[rows]
    a, b = pairs_within(place, place, _REACH * width)
    pair = (over[a] == over[b]) & into[a] & ~into[b] & (face[a] != face[b])
    a, b = a[pair], b[pair]
    along = out[a] - out[b]
    along /= np.maximum(np.hypot(*along.T), 1e-300)[:, None]
    step = place[b] - place[a]
    far = (step * along).sum(axis=1) / width
    aside = np.abs(step[:, 0] * along[:, 1] - step[:, 1] * along[:, 0]) / width
    turn = np.arccos(np.clip(-(out[a] * out[b]).sum(axis=1), -1, 1))
    good = turn <= np.minimum(np.maximum(_TURN, _BEND * far), _MOST)
    good &= aside <= np.where(turn > _TURN / 2, _ASIDE_CURVED, _ASIDE)
    # a rail ends at the band over it, or goes on along a crossing
    last, first = runs.half[runs.start[rail + 1] - 1], runs.half[runs.start[rail]]
    same = pieces.side[last[a]] == pieces.side[first[b]]
    under = pieces.ends[last[a]] & pieces.ends[first[b] ^ 1]
    # what the frame leaves of a crossing has a side from the one to the other
    side = _sides(runs, arrangement, of_band, over[a], end[a], end[b])
    # a rail that ends at a frame, or nearly there, does not turn and go on
    fringe = _fringe(runs, arrangement, width)
    held = ~(fringe[end[a]] | fringe[end[b]]) | (turn <= _TURN)
    good = (good & (same | (under & held))) | (side & held & (turn <= _MOST))
    good &= far > _NEAR
    rows = np.flatnonzero(good)
    rows = rows[np.lexsort((b[rows], a[rows], far[rows].round(6)))]
    # the nearest first, each rail once
    used, kept = set[int](), []
    for k, i, j in zip(rows.tolist(), a[rows].tolist(), b[rows].tolist(), strict=True):
        if i not in used and j not in used:
            used |= {i, j}
            kept.append(k)
    found = np.stack([face[a[kept]], face[b[kept]], over[a[kept]]], axis=1)
    found[:, :2].sort(axis=1)
    found, back = np.unique(found, axis=0, return_inverse=True)
    apart = np.zeros(len(found))
    np.maximum.at(apart, back.reshape(-1), far[kept] * width)
    one, other, between = found.reshape(-1, 3).T
    return one, other, between, apart


def _free_caps(pieces: Pieces, mated: Bools, framed: Bools) -> Bools:
    """Return which ends of each run are free: of pieces where their readings have them.

    `framed` (F,): faces at the frame.
    """
    runs, r = pieces.runs, pieces.readings
    caps = r.caps.reshape(-1, 2)
    held = np.repeat(pieces.alive & ~r.ring, 2)
    shaped = marked(r.face[pieces.alive], len(framed))
    shaped &= ~framed
    free = ~shaped[runs.face][:, None] & np.ones(2, bool)
    for state, value in ((held & ~mated, True), (held & mated, False)):
        free[caps[state, 0], 0] = value
        free[caps[state, 1], 1] = value
    return np.asarray(free)


def _fringe(runs: Runs, arrangement: Arrangement, width: float) -> Bools:
    """Return which vertices lie at the frame, or a crumb away from it."""
    fringe = np.zeros(len(arrangement.vertices), bool)
    outer = runs.half[np.repeat(runs.outer, np.diff(runs.start))]
    fringe[arrangement.origin[np.r_[outer, outer ^ 1]]] = True
    crumbs = arrangement.origin.reshape(-1, 2)
    crumbs = crumbs[stretch_lengths(arrangement) < _CRUMB * width]
    fringe[crumbs[fringe[crumbs].any(axis=1)]] = True
    return fringe


def _sides(
    runs: Runs, arrangement: Arrangement, of_band: Bools, face: Ints, a: Ints, b: Ints
) -> Bools:
    """Return where a face has one run from a vertex to another, along a band."""
    count = len(arrangement.vertices)
    start = arrangement.origin[runs.half[runs.start[:-1]]].astype(np.int64)
    end = arrangement.origin[runs.half[runs.start[1:] - 1] ^ 1].astype(np.int64)
    along = of_band[arrangement.face[runs.half[runs.start[:-1]] ^ 1]]
    key = np.where(along, runs.face * count + start, -1)
    order = np.argsort(key, kind="stable")
    at = np.minimum(np.searchsorted(key[order], face * count + a), len(key) - 1)
    row = order[at]
    return np.asarray((key[row] == face * count + a) & (end[row] == b))
