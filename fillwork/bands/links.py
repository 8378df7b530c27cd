"""Where pieces of bands go on, and which readings of faces hold.

A piece of a band *goes on* where another piece faces it in line: cap to cap, or on
the other side of the band that lies over both. Two pieces never share a rail, for on
both sides of a band is ground: of two that would, the one holds that goes on at more of
its caps, in weaves one more where another goes on under it, then the narrower, then the
one that no frame cuts; else neither holds. A four-sided face that two bands go through
is a *crossing* of plain strapwork.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.bands.pieces import along_frames
from fillwork.bands.runs import rails_of, swept
from fillwork.bands.sides import find_sides, share_a_side
from fillwork.geometry.ranges import begins, distinct, expand_ranges, marked, spread

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.bands.pieces import Readings
    from fillwork.bands.runs import Runs


# how far, in widths, a band may run on under another one
_REACH = 5.0
# caps that meet may lie so far behind or before each other, in widths
_BACK, _FRONT = -0.15, 0.25
# how far off its line a piece may go on, in widths; and when it is curved
_ASIDE, _ASIDE_CURVED = 0.1, 0.2
# by how much its direction may turn meanwhile, and when it is curved
_TURN, _TURN_CURVED = np.radians(9.0), np.radians(40.0)
# of two pieces side by side the narrower is the band when it is this much narrower
_NARROWER = 0.8
# and by this much, though the other goes on at one cap more
_FAR_BROADER = 3.0
# by how much a band may turn out of sight: a width, and as many times as in sight
_CURL, _AS_CURLED = np.radians(14.0), 2.2
_EVEN = 0.1  # widths of pieces of one strand differ by no more
# a band ends at the one over it, or, where its pieces are so slender, this share of its
# width before it: panes and slabs that stand apart are less so
_TOUCHES, _BESIDE, _APART_SLENDER = 0.1, 0.4, 2.0
_CRUMB = 0.06  # edges shorter than this share of the width are a fault of the hand
_FLAT = np.radians(10.0)  # bands cross at no flatter angle
_WOVEN = 0.5  # so many pieces of woven bands go on under others
_SAME = 0.05  # what is as wide as the bands differs by no more from one of them
_ROUNDS = 12


class Pieces:
    """Work out which readings hold, and where each piece goes on.

    A *cap* is numbered ``2 r`` or ``2 r + 1`` by its reading ``r``. `arrangement`: the
    drawing. `runs`: of its faces. `readings`: faces read as pieces of bands. `cut`
    (F,): which faces a frame or the page cuts.
    """

    def __init__(
        self,
        arrangement: Arrangement,
        runs: Runs,
        readings: Readings,
        cut: Bools | None,
    ) -> None:
        self.arrangement, self.runs, self.readings = arrangement, runs, readings
        self.at_edge = self._at_an_edge(cut)
        narrow = float(np.quantile(readings.width, 0.25))
        self.side, self.ends = find_sides(arrangement, _CRUMB * narrow)
        self.alive = np.ones(len(readings.face), bool)
        self.between: Ints = np.full(2 * len(readings.face), -1, np.int64)
        self._pairs()
        self._rivals()

    def _pairs(self) -> None:
        """List caps that face each other in line, and what lies between them."""
        import shapely

        r = self.readings
        self.faces = distinct(r.face)
        self.tree = shapely.STRtree(self.arrangement.polygons(self.faces))
        middle, out = r.middle.reshape(-1, 2), r.out.reshape(-1, 2)
        self.at: Any = shapely.points(middle)
        self.bulge = _bulges(self.runs, r.caps)
        width, curved, curl = (np.repeat(v, 2) for v in (r.width, r.curved, r.curl))
        a, b = self._ahead()
        # a piece may go on in itself, under the band that lies over both its ends
        keep = (a < b) & ((a >> 1 == b >> 1) | (r.face[a >> 1] != r.face[b >> 1]))
        a, b = a[keep], b[keep]
        mean = (width[a] + width[b]) / 2
        keep = np.abs(width[a] - width[b]) <= _EVEN * mean
        bend = curved[a] | curved[b]
        cosine = -(out[a] * out[b]).sum(axis=1)
        keep &= cosine >= np.where(bend, np.cos(_TURN_CURVED), np.cos(_TURN))
        a, b, mean, bend = a[keep], b[keep], mean[keep], bend[keep]
        along = out[a] - out[b]
        along /= np.maximum(np.hypot(*along.T), 1e-300)[:, None]
        step = middle[b] - middle[a]
        ahead = (step * along).sum(axis=1)
        aside = np.abs(step[:, 0] * along[:, 1] - step[:, 1] * along[:, 0])
        curl = np.maximum(curl[a], curl[b])
        # out of sight it may turn one way and back
        slack = np.maximum(_ASIDE_CURVED, _ASIDE + curl * ahead**2 / mean / 4)
        slack = np.where(bend & (ahead > 0.3 * mean), slack, _ASIDE)
        keep = (aside <= slack * mean) & (ahead >= -0.1 * mean)
        # out of sight a band turns little a width, or as in sight
        turn = np.arccos(np.clip(-(out[a] * out[b]).sum(axis=1), -1, 1))
        curl = np.maximum(_CURL / mean, _AS_CURLED * curl)
        keep &= turn <= np.maximum(_TURN, curl * ahead)
        hidden = np.flatnonzero(keep & (ahead > 0.15 * mean))
        over = np.full(len(a), -1, np.int64)
        over[hidden] = self._over(a[hidden], b[hidden], mean[hidden])
        # where nothing lies over it, a band goes on between the same two lines
        rows = np.flatnonzero(~self.readings.ring)
        rail, half = rails_of(self.runs, r.caps[rows])
        rails = rows[rail >> 1], half
        seen = share_a_side(self.side, rails, a >> 1, b >> 1)
        keep &= (seen & (ahead <= 0.15 * mean)) | (over >= 0)
        keep &= (a >> 1 != b >> 1) | (over >= 0)
        self.a, self.b, self.ahead = a[keep], b[keep], ahead[keep]
        self.over = over[keep]
        self._across(along[keep])

    def _across(self, along: Floats) -> None:
        """List which readings of what lies over a pair run across the pair."""
        r = self.readings
        low, high = (np.searchsorted(r.face, self.over, s) for s in ("left", "right"))
        size = np.where(self.over >= 0, high - low, 0)
        pair, reading = expand_ranges(low, size)
        slant = np.abs((r.out[reading, 0] * along[pair]).sum(axis=1))
        across = (slant < np.cos(_FLAT)) | r.curved[reading] | r.ring[reading]
        self.across_pair, self.across = pair[across], reading[across]

    def _ahead(self) -> tuple[Ints, Ints]:
        """Return caps with those in a wedge before them: more than face each other.

        Of all caps within reach, as many as 300 in a plain grid, few lie in the wedge.
        """
        bent = np.repeat(self.readings.curved, 2)
        ends = np.flatnonzero(~np.repeat(self.readings.ring, 2))
        straight = ends[~bent[ends]]
        reach = self._reach(ends)
        found = [
            self._in_wedge(*caps, turn / 2, aside, reach)
            for one, other, turn, aside in (
                (straight, straight, _TURN, _ASIDE),
                (ends[bent[ends]], ends, _TURN_CURVED, _ASIDE_CURVED),
                (straight, ends[bent[ends]], _TURN_CURVED, _ASIDE_CURVED),
            )
            for caps in self._of_like_width(one, other)
        ]
        a, b = (np.concatenate(side) for side in zip(*found, strict=True))
        order = np.lexsort((b, a))
        return a[order], b[order]

    def _reach(self, caps: Ints) -> Floats:
        """Return how far before each cap one may lie in which it goes on, in widths.

        That is close beyond a face that is close before it, or right at it. `caps`:
        those asked about. Returns (2 R,), 0 for the others.
        """
        r, arrangement = self.readings, self.arrangement
        width = np.repeat(r.width, 2)[caps]
        middle, out = r.middle.reshape(-1, 2)[caps], r.out.reshape(-1, 2)[caps]
        slender = (r.length >= _APART_SLENDER * r.width)[caps >> 1]
        most = np.where(slender, _BESIDE, _TOUCHES)
        faces, tree = self.faces, self.tree
        # of two that go on in each other the other may be wider
        near = (1 + _EVEN) * most * width + self.bulge[caps]
        row, at = tree.query(self.at[caps], "dwithin", distance=near)
        other = faces[at] != r.face[caps[row] >> 1]
        row, at = row[other], at[other]
        ring = arrangement.face_ring_start[faces[at]]
        owner, step = spread(np.diff(arrangement.ring_start)[ring])
        half = arrangement.ring_half_edge[arrangement.ring_start[ring][owner] + step]
        away = arrangement.vertices[arrangement.origin[half]] - middle[row[owner]]
        ahead = (away * out[row[owner]]).sum(axis=1)
        # places come cap by cap
        first = np.flatnonzero(begins(row[owner]))
        far = np.zeros(len(caps))
        far[row[owner[first]]] = np.maximum(np.maximum.reduceat(ahead, first), 0.0)
        reach = np.zeros(2 * len(r.face))
        reach[caps] = np.minimum(far / width + (1 + _EVEN) * most, _REACH)
        return reach

    def _of_like_width(self, caps: Ints, others: Ints) -> list[tuple[Ints, Ints]]:
        """Return caps in groups, each with the others that may be as wide as some."""
        step = np.log((1 + _EVEN / 2) / (1 - _EVEN / 2)) * (1 + 1e-9)
        size = np.floor(np.log(np.maximum(self.readings.width, 1e-300)) / step)
        one, other = size[caps >> 1], size[others >> 1]
        return [
            (caps[one == k], others[np.abs(other - k) <= 1])
            for k in np.unique(one).tolist()
        ] or [(caps, others)]

    def _in_wedge(
        self, caps: Ints, others: Ints, turn: float, aside: float, reach: Floats
    ) -> tuple[Ints, Ints]:
        """Return caps, each with the others ahead of it, off its axis by so much.

        `reach` (2 R,): how far before each cap is looked, in widths.
        """
        import shapely

        if not len(caps) or not len(others):
            return caps[:0], others[:0]
        r = self.readings
        middle, out = r.middle.reshape(-1, 2), r.out.reshape(-1, 2)
        width = np.repeat(r.width, 2)[caps, None]
        # widths of two that go on differ by up to a tenth, hence the room
        near = np.full(len(caps), 1.2 * aside)
        front = 1.02 * np.maximum(reach[caps], _FRONT)
        back, far = np.full(len(caps), _BACK), near + front * np.tan(turn)
        ahead = np.stack([back, front, front, back], axis=1)[..., None]
        off = np.stack([-near, -far, far, near], axis=1)[..., None]
        axis = out[caps, None]
        across = np.stack([-axis[..., 1], axis[..., 0]], axis=-1)
        rings = middle[caps, None] + width[..., None] * (ahead * axis + off * across)
        wedges: Any = shapely.polygons(rings)
        row, other = shapely.STRtree(self.at[others]).query(wedges, "intersects")
        a, b = caps[row], others[other]
        keep = np.hypot(*(middle[b] - middle[a]).T) <= _REACH * width[row, 0]
        return a[keep], b[keep]

    def _over(self, a: Ints, b: Ints, mean: Floats) -> Ints:
        """Return the face that lies between two caps, close to both, or -1."""
        import shapely

        r = self.readings
        ends = r.middle.reshape(-1, 2)
        found = np.full(len(a), -1, np.int64)
        if not len(a):
            return found
        polygons = self.tree.geometries
        row, at = self.tree.query(
            shapely.points((ends[a] + ends[b]) / 2), predicate="within"
        )
        far = [
            np.asarray(shapely.distance(polygons[at], shapely.points(ends[cap[row]])))
            - self.bulge[cap[row]]
            for cap in (a, b)
        ]
        # a band that goes under another ends at it in all its breadth
        first, last = np.maximum(r.caps.reshape(-1, 2), 0).T
        corner = self.runs.first[first], self.runs.last[last]
        for cap, place in itertools.product((a[row], b[row]), corner):
            away = shapely.distance(polygons[at], shapely.points(place[cap]))
            far.append(np.where(first[cap] == last[cap], away, 0.0))
        slender = np.minimum(*((r.length / r.width)[side[row] >> 1] for side in (a, b)))
        most = np.where(slender >= _APART_SLENDER, _BESIDE, _TOUCHES)
        close = np.max(far, axis=0) <= most * mean[row]
        face = self.faces[at]
        close &= (face != r.face[a[row] >> 1]) & (face != r.face[b[row] >> 1])
        found[row[close]] = face[close]
        return found

    def _at_an_edge(self, cut: Bools | None) -> Bools:
        """Return which caps lie at the outside, where a face is cut, or end freely."""
        runs, arrangement = self.runs, self.arrangement
        first, last = np.maximum(self.readings.caps.reshape(-1, 2), 0).T
        begin, end = runs.half[runs.start[first]], runs.half[runs.start[last + 1] - 1]
        across = arrangement.face[begin ^ 1]
        at_edge = (across == 0) | runs.outer[first] | runs.outer[last]
        cut = arrangement.cut if cut is None else cut
        at_edge |= cut[across]
        at_edge |= cut[np.repeat(self.readings.face, 2)]
        # no other line meets the corners of a free end
        lone = np.bincount(arrangement.origin) == 2
        at_edge |= lone[arrangement.origin[begin]] & lone[arrangement.origin[end ^ 1]]
        return np.asarray(at_edge, bool)

    def _support(self) -> Ints:
        """Return at how many caps each reading goes on, or ends at an edge.

        And, where half of all go on hidden, one more where another goes on under it:
        ground goes on under bands as well, but nothing goes on under ground.
        """
        mate, pair = self.mates()
        on = mate.reshape(-1, 2) >= 0
        some = np.asarray(on.any(axis=1), bool)
        on = on | (self.at_edge.reshape(-1, 2) & some[:, None])
        support = np.asarray(on.sum(axis=1))
        # a ring goes on nowhere; bands that pass under it, on both sides, hold it
        ring = np.flatnonzero(self.readings.ring)
        under = np.bincount(
            self.over[pair[pair >= 0]] + 1, minlength=self.arrangement.face_count + 1
        )
        support[ring] = np.minimum(under[1:][self.readings.face[ring]] // 2, 2)
        # nor does a piece that runs from frame to frame over all others
        above = self.above(pair)
        whole = self.at_edge.reshape(-1, 2).all(axis=1) & (support == 0)
        support[above & whole] = 2
        # where most go on in sight, what lies between two that do not is seldom above
        hidden = int((self.over[pair[pair >= 0]] >= 0).sum())
        woven = hidden >= _WOVEN * int((pair >= 0).sum())
        return np.asarray(support + above if woven else support)

    def above(self, pair: Ints) -> Bools:
        """Return which readings lie over pairs of caps, and run across these.

        `pair` (2 R,): as `mates` has them.
        """
        used = np.zeros(len(self.over), bool)
        used[pair[pair >= 0]] = True
        return marked(self.across[used[self.across_pair]], len(self.alive))

    def _rivals(self) -> None:
        """List readings of faces that share a rail."""
        r = self.readings
        rows = np.flatnonzero(~r.ring)
        rail, half = rails_of(self.runs, r.caps[rows])
        reading, edge = rows[rail >> 1], half >> 1
        right = (half & 1).astype(bool)
        order = np.argsort(edge[right], kind="stable")
        a, b = reading[~right], reading[right][order]
        sought, there = edge[~right], edge[right][order]
        low, high = (np.searchsorted(there, sought, side) for side in ("left", "right"))
        # every reading on the one side of an edge with every one on the other
        row, place = expand_ranges(low, high - low)
        a, b = a[row], b[place]
        p = self.arrangement.vertices[self.arrangement.origin[0::2][sought[row]]]
        q = self.arrangement.vertices[self.arrangement.origin[1::2][sought[row]]]
        key, back = np.unique(a * len(r.face) + b, return_inverse=True)
        shared = np.bincount(back, np.hypot(*(q - p).T), minlength=len(key))
        a, b = key // max(len(r.face), 1), key % max(len(r.face), 1)
        rail_shared = shared > 0.15 * np.minimum(r.width[a], r.width[b])
        self.rival_a, self.rival_b = a[rail_shared], b[rail_shared]

    def mates(self) -> tuple[Ints, Ints]:
        """Return the cap in which each cap goes on, and the row of that pair.

        Returns `mate` and `pair` (2 R,): both are -1 where a cap ends.
        """
        mate = np.full(2 * len(self.alive), -1, np.int64)
        pair = mate.copy()
        held = self.over < 0  # nothing lies between
        held[self.across_pair[self.alive[self.across]]] = True
        live = self.alive[self.a >> 1] & self.alive[self.b >> 1] & held
        rows = np.flatnonzero(live)
        rows = rows[np.lexsort((self.b[rows], self.a[rows], self.ahead[rows].round(6)))]
        # the nearest first, each cap once
        for k, i, j in zip(
            rows.tolist(), self.a[rows].tolist(), self.b[rows].tolist(), strict=True
        ):
            if mate[i] < 0 and mate[j] < 0:
                mate[i], mate[j] = j, i
                pair[i] = pair[j] = k
        return mate, pair

    def settle(self) -> None:
        """Drop readings that go on nowhere or stand beside a better one."""
        r = self.readings
        framed = self.runs.outer[r.caps.reshape(len(r.caps), -1)].any(axis=1)
        framed = np.where(r.ring, 0, framed.astype(np.int64))
        along = np.zeros(len(r.face), np.int64)
        rows = np.flatnonzero(~r.ring)
        along[rows] = along_frames(self.arrangement, self.runs, r.caps[rows])
        for _ in range(_ROUNDS):
            support = self._support()
            drop = self.alive & (support == 0)
            a, b = self.rival_a, self.rival_b
            live = self.alive[a] & self.alive[b] & ~drop[a] & ~drop[b]
            a, b = a[live], b[live]
            narrow = np.where(r.width[a] < _NARROWER * r.width[b], 1, 0)
            narrow -= np.where(r.width[b] < _NARROWER * r.width[a], 1, 0)
            better = np.sign(support[a] - support[b])
            # one cap more is little beside so much less breadth
            far = np.maximum(r.width[a], r.width[b]) > _FAR_BROADER * np.minimum(
                r.width[a], r.width[b]
            )
            better = np.where(far & (np.abs(support[a] - support[b]) < 2), 0, better)
            # between a band and a frame beside it lies ground
            beside = along[b] - along[a]
            better = np.where(beside == 0, better, beside)
            lost = np.zeros(len(drop), bool)
            lost[b[better > 0]] = lost[a[better < 0]] = True
            # what loses to none decides first, and what is equal when nothing is left
            best = np.where(better > 0, ~lost[a], ~lost[b]) & (better != 0)
            drop[np.where(better > 0, b, a)[best]] = True
            if not drop.any():
                better = np.where(better == 0, narrow, better)
                better = np.where(better == 0, framed[b] - framed[a], better)
                drop[b[better >= 0]] = True
                drop[a[better <= 0]] = True
            if not drop.any():
                break
            self.alive &= ~drop
        if self.alive.any():
            self._widen()
        self._one_reading_a_face()

    def _widen(self) -> None:
        """Take what is as wide as the bands, goes on or ends on them, and has no rival.

        Pieces that the frame parts from all others, and strands that none crosses,
        hold by the width alone.
        """
        r = self.readings
        core = np.sort(r.width[self.alive & ~r.ring])
        if not len(core):
            return
        at = np.searchsorted(core, r.width)
        below, above = core[np.maximum(at - 1, 0)], core[np.minimum(at, len(core) - 1)]
        off = np.minimum(np.abs(r.width - below), np.abs(r.width - above))
        fresh = ~self.alive & ~r.ring & (off <= _SAME * r.width)
        taken = self.alive | fresh
        a, b = self.rival_a, self.rival_b
        both = taken[a] & taken[b]
        fresh[a[both]] = fresh[b[both]] = False
        band = marked(r.face[self.alive], self.arrangement.face_count + 1)
        run = np.maximum(r.caps[..., 0].reshape(-1), 0)
        beyond = self.arrangement.face[self.runs.half[self.runs.start[run]] ^ 1]
        held = self.at_edge | band[beyond]
        taken = self.alive | fresh
        live = taken[self.a >> 1] & taken[self.b >> 1]
        held[self.a[live]] = held[self.b[live]] = True
        self.alive |= fresh & held.reshape(-1, 2).all(axis=1)

    def _one_reading_a_face(self) -> None:
        """Keep both readings of a crossing, and the better one of other faces."""
        r = self.readings
        support = self._support()
        live = np.flatnonzero(self.alive)
        count = np.bincount(r.face[live], minlength=self.arrangement.face_count)
        ends = np.bincount(
            r.face[live], support[live], minlength=self.arrangement.face_count
        )
        crossing = (count == 2) & (ends >= 3)
        # where a frame cuts an end, two readings may have the other end in common
        both = live[:-1][crossing[r.face[live[:-1]]] & (np.diff(r.face[live]) == 0)]
        after = live[1:][np.searchsorted(live, both)]
        one, other = (r.caps[k].reshape(-1, 4) for k in (both, after))
        same = (one[:, :, None] == other[:, None, :]) & ~self.runs.outer[one][..., None]
        crossing[r.face[both[same.any(axis=(1, 2))]]] = False
        self.crossing = crossing
        order = live[np.lexsort((r.width[live], -support[live], r.face[live]))]
        first = begins(r.face[order])
        lose = order[~first & ~crossing[r.face[order]]]
        self.alive[lose] = False


def _bulges(runs: Runs, caps: Ints) -> Floats:
    """Return how far caps of one run bulge beyond the chord of their ends, mm.

    `caps` (R, 2, 2): as `Readings` has them. Returns (2 R,).
    """
    first, last = np.maximum(caps.reshape(-1, 2), 0).T
    p, q = runs.first[first], runs.last[last]
    area = np.abs(runs.sweep[first] - swept(p, q))
    # as of a parabola
    sag = 1.5 * area / np.maximum(np.hypot(*(q - p).T), 1e-300)
    return np.asarray(np.where(first == last, sag, 0.0))
