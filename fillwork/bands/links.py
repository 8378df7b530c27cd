"""Where pieces of bands go on, and which readings of faces hold.

A piece of a band *goes on* where another piece faces it in line: cap to cap, or on
the other side of the band that lies over both. Two pieces never share a rail, for on
both sides of a band is ground: of two that would, the one that goes on at more of its
caps holds, then the narrower; where neither is, neither holds. A four-sided face that
two bands go through is a *crossing* of plain strapwork.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.bands.pieces import Readings, Sides

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]
    Truths = NDArray[np.bool_]

__all__ = ["Pieces"]

# how far, in widths, a band may run on under another one
_REACH = 5.0
# how far off its line a piece may go on, in widths; and when it is curved
_ASIDE, _ASIDE_CURVED = 0.1, 0.2
# by how much its direction may turn meanwhile, and when it is curved
_TURN, _TURN_CURVED = np.radians(9.0), np.radians(40.0)
# of two pieces side by side the narrower is the band when it is this much narrower
_NARROWER = 0.8
_EVEN = 0.1  # widths of pieces of one strand differ by no more
_BESIDE = 0.4  # a band may end this share of its width before the one over it
_ROUNDS = 12


class Pieces:
    """Work out which readings hold, and where each piece goes on.

    A *cap* is numbered ``2 r`` or ``2 r + 1`` by its reading ``r``.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing.
    sides : Sides
        Of its faces.
    readings : Readings
        Faces read as pieces of bands.
    cut : ndarray of bool, shape (F,), optional
        Which faces a frame or the page cuts.
    """

    def __init__(
        self,
        arrangement: Arrangement,
        sides: Sides,
        readings: Readings,
        cut: Truths | None,
    ) -> None:
        self.arrangement, self.sides, self.readings = arrangement, sides, readings
        self.at_edge = self._at_an_edge(cut)
        self.alive = np.ones(len(readings.face), bool)
        self.between: Ints = np.full(2 * len(readings.face), -1, np.int64)
        self._pairs()
        self._rivals()

    def _pairs(self) -> None:
        """List caps that face each other in line, and what lies between them."""
        from scipy.spatial import cKDTree

        r = self.readings
        middle, out = r.middle.reshape(-1, 2), r.out.reshape(-1, 2)
        width, curved = np.repeat(r.width, 2), np.repeat(r.curved, 2)
        tree = cKDTree(middle)
        a, b = _near(tree, middle, _REACH * width)
        keep = (a < b) & (a >> 1 != b >> 1)
        keep &= r.face[a >> 1] != r.face[b >> 1]
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
        slack = np.where(bend & (ahead > 0.3 * mean), _ASIDE_CURVED, _ASIDE)
        keep = (aside <= slack * mean) & (ahead >= -0.1 * mean)
        # a band that turns while it is out of sight turns little a width
        turn = np.arccos(np.clip(-(out[a] * out[b]).sum(axis=1), -1, 1))
        keep &= turn <= np.maximum(_TURN, np.radians(14.0) * ahead / mean)
        over = self._over(a, b, mean)
        keep &= (ahead <= 0.15 * mean) | (over >= 0)
        over[ahead <= 0.15 * mean] = -1
        self.a, self.b, self.ahead = a[keep], b[keep], ahead[keep]
        self.over = over[keep]

    def _over(self, a: Ints, b: Ints, mean: Floats) -> Ints:
        """Return the face that lies between two caps, close to both, or -1."""
        import shapely

        r = self.readings
        ends = r.middle.reshape(-1, 2)
        found = np.full(len(a), -1, np.int64)
        if not len(a):
            return found
        candidates = np.unique(r.face)
        polygons = self.arrangement.polygons(candidates)
        tree = shapely.STRtree(polygons)
        row, at = tree.query(
            shapely.points((ends[a] + ends[b]) / 2), predicate="within"
        )
        far_a = shapely.distance(polygons[at], shapely.points(ends[a[row]]))
        far_b = shapely.distance(polygons[at], shapely.points(ends[b[row]]))
        close = np.maximum(far_a, far_b) <= _BESIDE * mean[row]
        face = candidates[at]
        close &= (face != r.face[a[row] >> 1]) & (face != r.face[b[row] >> 1])
        found[row[close]] = face[close]
        return found

    def _at_an_edge(self, cut: Truths | None) -> Truths:
        """Return which caps lie at the outside, or where a face is cut."""
        side = self.readings.caps.reshape(-1)
        half = self.sides.half[self.sides.start[side]]
        across = self.arrangement.face[half ^ 1]
        at_edge = (across == 0) | self.sides.outer[side]
        cut = self.arrangement.cut if cut is None else cut
        at_edge |= cut[across]
        at_edge |= cut[np.repeat(self.readings.face, 2)]
        return np.asarray(at_edge, bool)

    def _support(self) -> Ints:
        """Return at how many caps each reading goes on, or ends at an edge."""
        mate, _ = self.mates()
        on = mate.reshape(-1, 2) >= 0
        some = np.asarray(on.any(axis=1), bool)
        on = on | (self.at_edge.reshape(-1, 2) & some[:, None])
        return np.asarray(on.sum(axis=1))

    def _rivals(self) -> None:
        """List readings of faces that share a rail."""
        arrangement, sides, r = self.arrangement, self.sides, self.readings
        side_of = np.full(len(arrangement.origin), -1, np.int64)
        side_of[sides.half] = np.repeat(
            np.arange(len(sides.face)), np.diff(sides.start)
        )
        reading_count = np.bincount(r.face, minlength=arrangement.face_count)
        reading_start = np.r_[0, np.cumsum(reading_count)]
        one, other = side_of[0::2], side_of[1::2]
        p = arrangement.vertices[arrangement.origin[0::2]]
        q = arrangement.vertices[arrangement.origin[1::2]]
        edge = np.flatnonzero((one >= 0) & (other >= 0))
        face_a, face_b = sides.face[one[edge]], sides.face[other[edge]]
        keep = (reading_count[face_a] > 0) & (reading_count[face_b] > 0)
        edge, face_a, face_b = edge[keep], face_a[keep], face_b[keep]
        key = one[edge] * len(sides.face) + other[edge]
        unique, first, inverse = np.unique(key, return_index=True, return_inverse=True)
        shared = np.bincount(inverse, np.hypot(*(q - p)[edge].T), minlength=len(unique))
        edge, face_a, face_b = edge[first], face_a[first], face_b[first]
        # every reading of the one with every reading of the other
        times = reading_count[face_a] * reading_count[face_b]
        row = np.repeat(np.arange(len(edge)), times)
        step = np.arange(len(row)) - np.repeat(np.cumsum(times) - times, times)
        ra = reading_start[face_a[row]] + step // reading_count[face_b[row]]
        rb = reading_start[face_b[row]] + step % reading_count[face_b[row]]
        rail = (r.caps[ra] != one[edge[row]][:, None]).all(axis=1)
        rail &= (r.caps[rb] != other[edge[row]][:, None]).all(axis=1)
        rail &= shared[row] > 0.15 * np.minimum(r.width[ra], r.width[rb])
        self.rival_a, self.rival_b = ra[rail], rb[rail]

    def mates(self) -> tuple[Ints, Ints]:
        """Return the cap in which each cap goes on, and the row of that pair.

        Returns
        -------
        mate, pair : ndarray of int64, shape (2 R,)
            Both are -1 where a cap ends.
        """
        mate = np.full(2 * len(self.alive), -1, np.int64)
        pair = mate.copy()
        held = np.zeros(self.arrangement.face_count + 1, bool)
        held[self.readings.face[self.alive]] = True
        held[-1] = True  # nothing lies between
        live = self.alive[self.a >> 1] & self.alive[self.b >> 1] & held[self.over]
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
        for _ in range(_ROUNDS):
            support = self._support()
            drop = self.alive & (support == 0)
            a, b = self.rival_a, self.rival_b
            live = self.alive[a] & self.alive[b] & ~drop[a] & ~drop[b]
            a, b = a[live], b[live]
            narrow = np.where(r.width[a] < _NARROWER * r.width[b], 1, 0)
            narrow -= np.where(r.width[b] < _NARROWER * r.width[a], 1, 0)
            better = np.sign(support[a] - support[b])
            better = np.where(better == 0, narrow, np.where(narrow == 0, 0, better))
            drop[b[better >= 0]] = True
            drop[a[better <= 0]] = True
            if not drop.any():
                break
            self.alive &= ~drop
        self._one_reading_a_face()

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
        self.crossing = crossing
        order = live[np.lexsort((r.width[live], -support[live], r.face[live]))]
        first = np.r_[True, r.face[order][1:] != r.face[order][:-1]]
        lose = order[~first & ~crossing[r.face[order]]]
        self.alive[lose] = False


def _near(tree: object, points: Floats, radius: Floats) -> tuple[Ints, Ints]:
    """Return rows of points and of those within their radii."""
    lists = tree.query_ball_point(points, radius)  # type: ignore[attr-defined]
    size = np.fromiter(map(len, lists), np.int64, len(lists))
    a = np.repeat(np.arange(len(points)), size)
    flat = [i for one in lists for i in one]
    return a, np.array(flat, np.int64)
