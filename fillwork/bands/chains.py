"""Chains of pieces of bands, and what they form.

A piece of a band *goes on* where another piece faces it in line: cap to cap, or on
the other side of the band that lies over both. A four-sided face that two strands go
through is a *crossing* of plain strapwork. Two pieces never share a rail: on both
sides of a band is ground. What is left of these rules is strapwork when it hangs
together in chains of several pieces that cross each other, and else a doubt.

One class of some length: each rule is asked of the same chains, by the same tables.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.lengths import lengths_at_frames
from fillwork.bands.model import BAND, CROSSING, GROUND, Bands, BandStrand
from fillwork.bands.onward import links_by_rails
from fillwork.bands.runs import rails_of
from fillwork.bands.sides import links_by_sides
from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import begins, distinct, marked

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.bands.links import Pieces

CROSSINGS = 4
"""Strapwork has at least so many crossings."""
# and this share of the regions' area
_SHARE = 0.03
# straight strands of one width differ by no more, and so many others share it
_LIKE, _OTHERS = 0.03, 2
# hardly longer than wide, what is so many times as wide as bands is ground
_BROAD = 2.0
SLENDER = 1.2
"""And half of its pieces between crossings are longer, in widths."""
# of those that lie over others, where so many do: in twills and baskets half of all
_ABOVE = 0.3
# lines that cross two by two part the ground into about as many regions as there are
# crossings (Euler); frames add some, and bands on some of the lines alone more
_MESHES = 0.2
# strips of a grid or tartan are parted by its other lines, some as often as they cross;
# bands of strapwork are so where a line is drawn over them
_PARTED = 0.2
# such strips are straight, and neither counts where most bands that cross both bend
_BOTH_BEND = 0.75
# bends of both rails at one width, so often as long as wide, are drawn on purpose
_LONG, _FEW_BENT = 8.0, 2
# what is as wide as bands differs by no more from one of them
_AS_WIDE = 0.95, 1.05
# no face of theirs is broader
_BROADER = 1.25
# of a strand that crosses others at a frame alone, one is in sight between crossings
_FEW_PIECES = 3
# in a grid so much of the ground is strips
_STRIPS = 0.95
# what this share of the whole faces of a kind is, all of the kind are
_MOST = 0.6
_FEW = 0.15
# a region smaller than this share of a square over the band is a scrap
_SCRAP = 0.05
# a bit of a band beyond another one lies in its way: no farther than this, within this
# breadth, both in widths, and with this share of its area
_BEYOND, _BREADTH, _WITHIN = 6.0, 1.2, 0.85


class Chains:
    """Follow pieces from cap to cap and judge what they form."""

    def __init__(
        self, pieces: Pieces, kind_of_face: AnyInts | None, cut: Bools | None
    ) -> None:
        self.pieces, self.arrangement = pieces, pieces.arrangement
        self.kind, self.cut = kind_of_face, cut
        self.mate, self.pair = pieces.mates()
        self.open = pieces.alive & ~pieces.readings.ring  # what has ends
        self.live = np.flatnonzero(pieces.alive)
        self.face = pieces.readings.face[self.live]
        self.row_of = np.full(len(pieces.alive), -1, np.int64)
        self.row_of[self.live] = np.arange(len(self.live))
        self.node = pieces.crossing[self.face]

    def _chains(self) -> None:
        """Find the chains of pieces, and the clusters of chains that cross."""
        mate, row_of = self.mate, self.row_of
        cap = np.flatnonzero(mate >= 0)
        self.cap = cap[cap < mate[cap]]
        one, other = row_of[self.cap >> 1], row_of[mate[self.cap] >> 1]
        self.chain = part_numbers(one, other, len(self.live))
        self.count = int(self.chain.max(initial=-1)) + 1
        over = self.pieces.over[self.pair[self.cap]]
        # a single line cuts a band where neither side of its cap is a crossing, or may
        # be one that the frame cuts or whose other band it cuts off
        node = self._may_be_crossings()
        cut = (over < 0) & ~node[one] & ~node[other]
        self.parted = self.chain[one[cut]]
        hidden = np.flatnonzero(over >= 0)
        top = np.full(self.arrangement.face_count, -1, np.int64)
        top[self.face] = np.arange(len(self.live))
        below = self.chain[one[hidden]]
        above = self.chain[top[over[hidden]]]
        cap, beyond, self.bit = self._bits()
        self.bit_chain = self.chain[self.row_of[cap >> 1]]
        under = beyond >= 0
        below = np.r_[below, self.bit_chain[under]]
        above = np.r_[above, self.chain[top[beyond[under]]]]
        # the two readings of a crossing follow each other
        first = np.flatnonzero(self.node[:-1] & (self.face[:-1] == self.face[1:]))
        # at a corner of a strip along the frame two bands meet, but none goes on
        on = (mate.reshape(-1, 2) >= 0).sum(axis=1)[self.live]
        firm = on[first] + on[first + 1] >= 3
        self.through = np.stack(
            [self.face[first], self.chain[first], self.chain[first + 1]], axis=1
        )
        self.meets = np.concatenate(
            [np.stack([below, above], axis=1), self.through[:, 1:]]
        )
        # a lone piece with a bit beyond its neighbour may be any region at a frame
        joined = (
            np.bincount(self.chain, minlength=self.count)[self.bit_chain[under]] > 1
        )
        self.firm = np.r_[np.ones(len(hidden), bool), joined, firm]
        self.cluster = part_numbers(self.meets[:, 0], self.meets[:, 1], self.count)

    def _may_be_crossings(self) -> Bools:
        """Return which pieces are crossings, or may be: cut, or as wide both ways."""
        r, runs = self.pieces.readings, self.pieces.runs
        other = np.flatnonzero(r.face[1:] == r.face[:-1]) + 1
        like = np.abs(r.width[other] - r.width[other - 1]) <= _LIKE * r.width[other]
        may = marked(r.face[other[like]], self.arrangement.face_count)
        may[runs.face[runs.outer]] = True
        return np.asarray(self.node | may[self.face], bool)

    def result(self, least: int) -> Bands | None:
        """Return the strands of the clusters that are strapwork."""
        self._chains()
        arrangement = self.arrangement
        squat = self._leave_ground()
        cluster = self.cluster
        total = int(cluster.max()) + 1
        plain = ~self.node & ~squat[self.chain]
        pieces = np.bincount(cluster[self.chain[plain]], minlength=total)
        ends = np.flatnonzero(
            (self.mate < 0) & np.repeat(self.open, 2) & ~self.pieces.at_edge
        )
        loose = np.bincount(
            cluster[self.chain[self.row_of[ends >> 1]]], minlength=total
        )
        area = np.bincount(
            cluster[self.chain],
            arrangement.area[self.face]
            * np.where(self.node, 0.5, 1.0)
            * ~squat[self.chain],
            minlength=total,
        )
        share = area / max(float(np.abs(arrangement.area).sum()), 1e-300)
        bends = self._bends()
        held = self.firm & (bends | self._of_a_width())[self.meets].all(axis=1)
        crossings = np.bincount(cluster[self.meets[held, 0]], minlength=total)
        seen = (crossings >= 1) & (pieces >= 2) & (loose <= 2 * crossings)
        enough = share[seen].sum() >= (_SHARE if least > 1 else 0.0)
        total_crossings = int(crossings[seen].sum())
        if not enough or total_crossings < min(least, 2):
            alone = self._alone(plain, loose, bends, least)
            return self._built(alone, sure=least == 1) if alone.any() else None
        keep = seen[cluster]
        sure = total_crossings >= least
        if least > 1:
            r, plain = self.pieces.readings, plain & keep[self.chain]
            slender = (r.length / r.width)[self.live[plain]]
            # squares between stars and crosses stand in line as well, over nothing
            above = self.pieces.above(self.pair)[self.live[plain]]
            some = above if above.mean() >= _ABOVE else slice(None)
            if float(np.median(slender[some])) < SLENDER:
                return None
            sure = self._is_strapwork(
                keep, self.meets[held & seen[cluster[self.meets[:, 0]]]], bends, sure
            )
        bands = self._built(keep | self._parted_by_frames(keep), sure=sure)
        ground = int((bands.part[1:] == GROUND).sum())
        # bricks lie in line too, without ground between them, as strips along frames do
        runs = self.pieces.runs
        framed = marked(runs.face[runs.outer], self.arrangement.face_count)
        strip = len(bands.strands) == 1 and framed[bands.part != GROUND].all()
        if least > 1 and (strip or ground < _MESHES * bands.crossings):
            return replace(bands, sure=False)
        return bands

    def _parted_by_frames(self, keep: Bools) -> Bools:
        """Return chains of few pieces that a frame parts from the rest of their strand.

        As wide as bands that are kept, they go on in nothing else, and a piece that has
        ground on both sides ends at one of those.
        """
        r, runs, count = self.pieces.readings, self.pieces.runs, self.count
        own = np.flatnonzero(~r.ring[self.live])
        row, chain = self.live[own], self.chain[own]
        kept, side = keep[chain], self.pieces.side
        rail, half = rails_of(runs, r.caps[row])
        of_band = np.zeros(len(side), bool)  # sides of lines with bands on them
        of_band[side[half[kept[rail >> 1]]]] = True
        beside = marked(rail[of_band[side[half ^ 1]]] >> 1, len(row))
        # caps of two runs, where a frame cuts an end
        cap = runs.half[runs.start[r.caps[row].reshape(len(row), 4)]] ^ 1
        ends = of_band[side[cap]].any(axis=1) & ~beside
        width = np.sort(r.width[row[kept]])
        low, high = (np.searchsorted(width, r.width[row] * f) for f in _AS_WIDE)
        on = (self.mate >= 0) | self.pieces.at_edge
        fits = (high > low) & on.reshape(-1, 2)[row].all(axis=1)
        few = np.bincount(chain, minlength=count) <= _FEW_PIECES
        few &= np.bincount(chain, ~fits, count) == 0
        return np.asarray(few & ~keep & (np.bincount(chain, ends, count) > 0))

    def _alone(self, plain: Bools, loose: Ints, bends: Bools, least: int) -> Bools:
        """Return which chains look like bands that cross no others, only single lines.

        Those of a width that is told; else long ones that bend side by side, if there
        are several. `plain`: pieces that are no crossings. `loose`: ends of each
        cluster inside the drawing.
        """
        pieces = np.bincount(self.chain[plain], minlength=self.count)
        whole = (pieces >= 2) & (loose[self.cluster] == 0)
        if least == 1:
            return np.asarray(whole)
        whole &= bends & (pieces > 2) & (self._slenderness() >= _LONG)
        share = np.bincount(
            self.chain, self.arrangement.area[self.face], minlength=self.count
        )[whole].sum() / max(float(np.abs(self.arrangement.area).sum()), 1e-300)
        return np.asarray(whole & (whole.sum() > 1) & (share >= _SHARE))

    def _is_strapwork(self, keep: Bools, met: Ints, bends: Bools, many: bool) -> bool:
        """Return whether chains that are kept are bands for certain.

        `met` (n, 2): those that cross. `bends`: which do. `many`: whether many cross.
        """
        banded = distinct(self.face[keep[self.chain]])
        ground = self.arrangement.face_count - 1 - len(banded)
        few = len(met) < _MESHES * ground
        few |= int(keep[self.parted].sum()) > _PARTED * len(met)
        both = bends[met].all(axis=1)
        bent = float(both.sum()) >= _BOTH_BEND * len(met)
        # long bands that bend side by side are known by less
        long = self._slenderness()[met].min(axis=1) >= _LONG
        many |= int((both & long).sum()) >= _FEW_BENT
        # and straight ones beside them
        either = bends[met].any(axis=1) & long
        few &= float(either.sum()) < _BOTH_BEND * len(met)
        # of strips of a grid none bends
        return many and (bent or not (few or self._is_grid(banded)))

    def _leave_ground(self) -> Bools:
        """Return which chains are ground between lines, and leave them in no cluster.

        Their pieces are hardly longer than wide, and far broader than those of bands.
        """
        r = self.pieces.readings
        plain = np.flatnonzero(~self.node)
        chain, row = self.chain[plain], self.live[plain]
        length = np.bincount(chain, r.length[row], self.count)
        width = np.bincount(chain, r.width[row], self.count)
        number = np.bincount(chain, minlength=self.count)
        slender = (length >= 2 * SLENDER * width) & (number > 1)
        mean = width / np.maximum(number, 1)
        most = mean[slender].max(initial=np.inf if not slender.any() else 0.0)
        squat = (mean > _BROAD * most) & (length < SLENDER * width)
        # and strips along frames, broader than what lies inside
        runs = self.pieces.runs
        framed = marked(runs.face[runs.outer], self.arrangement.face_count)
        inner = marked(self.chain[~framed[self.face]], self.count)
        if (slender & inner).any():
            squat |= ~inner & (mean > _BROADER * mean[slender & inner].max())
        held = ~squat[self.meets].any(axis=1)
        self.meets, self.firm = self.meets[held], self.firm[held]
        self.cluster = part_numbers(self.meets[:, 0], self.meets[:, 1], self.count)
        return np.asarray(squat)

    def _is_grid(self, banded: Ints) -> bool:
        """Return whether all of the ground is strips as well, and none lies on another.

        Which strips of a grid or tartan are bands, if any, its lines do not say.
        """
        strips = marked(self.pieces.readings.face, self.arrangement.face_count)
        ground = np.ones(self.arrangement.face_count, bool)
        ground[banded] = ground[0] = False
        flat = (self.pieces.over[self.pair[self.cap]] < 0).all()
        return (
            bool(flat and strips[ground].mean() >= _STRIPS) if ground.any() else False
        )

    def _of_a_width(self) -> Bools:
        """Return which chains are as wide as several others are."""
        width = self._widths()
        order = np.sort(width)
        low = np.searchsorted(order, width * (1 - _LIKE))
        high = np.searchsorted(order, width * (1 + _LIKE), "right")
        return np.asarray(high - low > _OTHERS)

    def _slenderness(self) -> Floats:
        """Return how many times as long as wide the pieces of each chain are in all."""
        length = np.bincount(self.chain, self.pieces.readings.length[self.live])
        return np.asarray(length / np.maximum(self._widths(), 1e-300))

    def _widths(self) -> Floats:
        """Return how wide the pieces of each chain are in the mean, mm."""
        width = np.bincount(self.chain, self.pieces.readings.width[self.live])
        return np.asarray(width / np.bincount(self.chain))

    def _bends(self) -> Bools:
        """Return which chains bend."""
        r = self.pieces.readings
        weight = np.bincount(self.chain)
        # directions of a straight chain are one but for their sign
        out = r.out[self.live, 0]
        twice = np.exp(2j * np.arctan2(out[:, 1], out[:, 0]))
        real = np.bincount(self.chain, twice.real, self.count)
        imaginary = np.bincount(self.chain, twice.imag, self.count)
        bent = np.bincount(self.chain, r.curved[self.live], self.count) > 0
        return np.asarray(bent | (np.hypot(real, imaginary) < 0.98 * weight))

    def _built(self, keep: Bools, sure: bool) -> Bands:
        """Return the chains that are kept as strands."""
        r, arrangement = self.pieces.readings, self.arrangement
        part = np.zeros(arrangement.face_count, np.int64)
        strand = np.full(arrangement.face_count, -1, np.int64)
        kept = keep[self.chain]
        part[self.face[kept]] = BAND
        strand[self.face[kept]] = self.chain[kept]
        both = keep[self.through[:, 1]] & keep[self.through[:, 2]]
        through = self.through[both]
        part[through[:, 0]] = CROSSING
        kept_bit = keep[self.bit_chain]
        part[self.bit[kept_bit]] = BAND
        strand[self.bit[kept_bit]] = self.bit_chain[kept_bit]
        size = np.where(kept, r.length[self.live], 0.0)
        length = np.bincount(self.chain, size, minlength=self.count)
        apart = np.maximum(self.pieces.ahead[self.pair[self.cap]], 0.0)
        np.add.at(length, self.chain[self.row_of[self.cap >> 1]], apart)
        weight = np.bincount(self.chain, minlength=self.count)
        summed = np.bincount(self.chain, r.width[self.live], minlength=self.count)
        width = summed / np.maximum(weight, 1)
        closed = np.ones(self.count, bool)
        ends = np.flatnonzero((self.mate < 0) & np.repeat(self.open, 2))
        closed[self.chain[self.row_of[ends >> 1]]] = False
        chains = list(np.flatnonzero(keep))
        lengths, widths = length.tolist(), width.tolist()
        found = [(lengths[k], bool(closed[k]), widths[k]) for k in chains]
        number = np.full(self.count, -1, np.int64)
        number[chains] = np.arange(len(chains))
        strand = np.where(strand >= 0, number[strand], -1)
        through = np.column_stack([through[:, 0], number[through[:, 1:]]])
        if self.kind is not None:
            self._inherit(part, strand)
        own = np.full(len(self.pieces.alive), -1, np.int64)
        own[self.live] = number[self.chain]
        wide = np.array([w for *_, w in found])
        through, same = self._by_sides(own, part, strand, through, wide)
        group, more = self._joined(part, strand, found, through[:, 0], same)
        through[:, 1:] = group[through[:, 1:]]
        shaped = marked(self.face[kept], arrangement.face_count)
        widths = np.array([w for *_, w in found])
        more_mm = lengths_at_frames(
            arrangement, part, strand, through, shaped, widths
        ).tolist()
        found = [(s[0] + m, *s[1:]) for s, m in zip(found, more_mm, strict=True)]
        left = distinct(np.r_[strand[strand >= 0], through[:, 1:].reshape(-1)]).tolist()
        order = sorted(left, key=lambda k: (-round(found[k][0], 6), k))
        rank = np.full(len(found), -1, np.int64)
        rank[order] = np.arange(len(order))
        strand = np.where(strand >= 0, rank[strand], -1)
        through[:, 1:] = np.sort(rank[through[:, 1:]], axis=1)
        strand[through[:, 0]] = through[:, 1]
        meets = keep[self.meets].all(axis=1)
        return Bands(
            strand=strand,
            part=part,
            through=through,
            strands=tuple(BandStrand(*found[k]) for k in order),
            crossings=int(meets.sum()) + more,
            sure=sure,
        )

    def _by_sides(
        self, own: Ints, part: Ints, strand: Ints, through: Ints, wide: Floats
    ) -> tuple[Ints, tuple[Ints, Ints]]:
        """Take faces to the strands on whose sides of lines they lie, in place.

        Returns the crossings, more or fewer than before, and strands that are one.
        """
        one, other, face, of = links_by_sides(self.pieces, own)
        # however little a frame leaves of a band, no face of one is broader
        broad = self._breadth()[face] > _BROADER * wide[of]
        face, of = face[~broad], of[~broad]
        first = np.flatnonzero(begins(face))
        count = np.diff(np.r_[first, len(face)])
        runs = self.pieces.runs
        framed = marked(runs.face[runs.outer], self.arrangement.face_count)
        # what is a band by its kind alone may be any
        open_ = framed | (part == GROUND) | ((part == BAND) & (strand < 0))
        first, count = first[open_[face[first]]], count[open_[face[first]]]
        lone, both = first[count == 1], first[count == 2]
        part[face[lone]], part[face[both]] = BAND, CROSSING
        told = face[np.r_[lone, both]]
        strand[told] = of[np.r_[lone, both]]
        crossed = np.stack([face[both], of[both], of[both + 1]], axis=1)
        through = np.concatenate([through[~np.isin(through[:, 0], told)], crossed])
        return through[np.argsort(through[:, 0])], (one, other)

    def _breadth(self) -> Floats:
        """Return how broad faces are: twice their area by their outline, mm."""
        a = self.arrangement
        p, q = (a.vertices[a.origin[side::2]] for side in (0, 1))
        long = np.repeat(np.hypot(*(q - p).T), 2)
        around = np.bincount(a.face, long, minlength=a.face_count)
        return np.asarray(2.0 * np.abs(a.area) / np.maximum(around, 1e-300))

    def _inherit(self, part: Ints, strand: Ints) -> None:
        """Let faces be what most faces of their kind are, in place."""
        kind = np.asarray(self.kind, np.int64)
        some = kind >= 0
        whole = some if self.cut is None else some & ~self.cut
        count = max(int(kind.max()), 0) + 1
        total = np.bincount(kind[whole], minlength=count)
        for what in (BAND, CROSSING):
            held = np.bincount(kind[whole & (part == what)], minlength=count)
            most = (held >= _MOST * total) & (held > 0)
            fresh = some & (part != what) & most[np.where(some, kind, 0)]
            part[fresh] = np.where(part[fresh] == GROUND, what, part[fresh])
        few = np.bincount(kind[whole & (part != GROUND)], minlength=count)
        lone = (few > 0) & (few < _FEW * total)
        drop = some & lone[np.where(some, kind, 0)]
        part[drop], strand[drop] = GROUND, -1

    def _joined(
        self,
        part: Ints,
        strand: Ints,
        found: list[tuple[float, bool, float]],
        through: Ints,
        same: tuple[Ints, Ints],
    ) -> tuple[Ints, int]:
        """Join strands, and faces not found by their shape, by their rails, in place.

        Returns which strand each of those found has become, and how many crossings
        this makes that were not counted.
        """
        wide = max(w for *_, w in found)
        crossing = part == CROSSING
        one, other, over, apart = links_by_rails(
            self.pieces, part == BAND, crossing, self.mate >= 0, wide
        )
        # a scrap at a frame lies on rails of all bands there, and joins none
        scrap = self.arrangement.area < _SCRAP * wide**2
        unlike = (strand[one] != strand[other]) & (strand[one] >= 0)
        unlike &= (strand[other] >= 0) & (scrap[one] | scrap[other])
        one, other, over, apart = (v[~unlike] for v in (one, other, over, apart))
        rest = np.flatnonzero((part != GROUND) & (strand < 0))
        fresh = distinct(np.r_[one, other])
        rest = distinct(np.r_[rest, fresh[part[fresh] == GROUND]])
        row = strand.copy()
        row[rest] = len(found) + np.arange(len(rest))
        lone = rest[(part[rest] == CROSSING) & ~np.isin(rest, over)]
        lone, beside = self._beside(lone, strand >= 0)
        group = part_numbers(
            np.r_[row[one], row[lone], same[0]],
            np.r_[row[other], row[beside], same[1]],
            len(found) + len(rest),
        )
        names = int(group.max(initial=-1)) + 1
        # scraps that hang together with no band are none
        known = marked(group[: len(found)], names)
        known[group[row[rest[part[rest] != GROUND]]]] = True
        held = known[group[row[one]]]
        one, other, over, apart = (v[held] for v in (one, other, over, apart))
        # bits count already
        counted = np.isin(one, self.bit) | np.isin(other, self.bit)
        counted |= np.isin(over, through) | (part[over] == GROUND)
        crossed = over[crossing[over] & ~counted]
        more = len(distinct(crossed)) + int((~crossing[over] & ~counted).sum())
        rest = rest[known[group[row[rest]]]]
        part[rest] = np.where(part[rest] == GROUND, BAND, part[rest])
        strand[rest] = row[rest]
        # what two go on through goes with one of them
        lone = (part[over] == GROUND) | (crossing[over] & (strand[over] >= len(found)))
        strand[over[lone]] = strand[one[lone]]
        part[over[lone]] = np.where(part[over[lone]] == GROUND, BAND, part[over[lone]])
        # strands that are left, by number
        some = strand >= 0
        strand[some] = (np.cumsum(known) - 1)[group[strand[some]]]
        group = (np.cumsum(known) - 1)[group[np.r_[np.arange(len(found)), row[rest]]]]
        names = int(known.sum())
        mean = float(np.median([w for *_, w in found]))
        size = np.r_[[s[0] for s in found], self.arrangement.area[rest] / mean]
        widths = np.r_[[s[2] for s in found], np.full(len(rest), mean)]
        closed = np.r_[[s[1] for s in found], np.zeros(len(rest), bool)]
        closed = np.bincount(group, ~closed, names) == 0
        weight = np.maximum(np.bincount(group, size, names), 1e-300)
        width = np.bincount(group, widths * size, names) / weight
        size[len(widths) - len(rest) :] = 0.0
        length = np.bincount(group, size, names)
        length += np.bincount(strand[one], apart * ~crossing[over], names)
        found[:] = zip(length.tolist(), closed.tolist(), width.tolist(), strict=True)
        return group, more

    def _beside(self, faces: Ints, known: Bools) -> tuple[Ints, Ints]:
        """Return those of some faces that lie beside known ones, and the longest so."""
        a = self.arrangement
        sought = marked(faces, a.face_count)
        half = np.flatnonzero(
            sought[a.face] & known[a.face[np.arange(len(a.face)) ^ 1]]
        )
        p, q = (a.vertices[a.origin[h]] for h in (half, half ^ 1))
        order = np.lexsort((half, -np.hypot(*(q - p).T).round(9), a.face[half]))
        half = half[order]
        half = half[begins(a.face[half])]
        return a.face[half].astype(np.int64), a.face[half ^ 1].astype(np.int64)

    def _bits(self) -> tuple[Ints, Ints, Ints]:
        """Return bits that the frame leaves of bands beyond another one.

        Returns `cap` and `over` and `bit` (n,): the cap of the piece that goes on in
        it, the face it goes on under, -1 for none, and the bit itself.
        """
        import shapely

        r, runs = self.pieces.readings, self.pieces.runs
        none = np.empty(0, np.int64)
        ends = np.flatnonzero((self.mate < 0) & np.repeat(self.open, 2))
        caps = r.caps.reshape(-1, 2)
        ends = ends[~runs.outer[caps[ends]].all(axis=1)]
        framed = distinct(runs.face[runs.outer])
        bits = framed[~np.isin(framed, self.face)]
        if not len(ends) or not len(bits):
            return none, none, none
        middle, out = r.middle.reshape(-1, 2)[ends], r.out.reshape(-1, 2)[ends]
        width = r.width[ends >> 1][:, None]
        aside = np.stack([-out[:, 1], out[:, 0]], axis=1) * width * _BREADTH / 2
        far = middle + _BEYOND * width * out
        corners = [middle - aside, far - aside, far + aside, middle + aside]
        ways = np.asarray(shapely.polygons(np.stack(corners, axis=1)))
        polygons = self.arrangement.polygons(bits, valid=True)
        end, bit = shapely.STRtree(polygons).query(ways, predicate="intersects")
        common = shapely.intersection(ways[end], polygons[bit])
        share = np.asarray(shapely.area(common))
        within = share >= _WITHIN * np.abs(self.arrangement.area[bits[bit]])
        # what the band goes on under, or in, lies right behind its cap
        cap = ends[end]
        run = np.where(runs.outer[caps[cap, 0]], caps[cap, 1], caps[cap, 0])
        over = self.arrangement.face[runs.half[runs.start[run]] ^ 1].astype(np.int64)
        keep = within & np.isin(over, np.r_[self.face, bits])
        # and the bit at its other side: bands that bend lead past others
        half = np.flatnonzero(np.isin(self.arrangement.face, bits))
        sides = self.arrangement.face[np.stack([half, half ^ 1])].astype(np.int64)
        beside = sides[0] * self.arrangement.face_count + sides[1]
        found = bits[bit] * self.arrangement.face_count + over
        keep &= (over == bits[bit]) | np.isin(found, beside)
        # a scrap there lies in the way of all bands that the frame cuts
        area = np.abs(self.arrangement.area[bits[bit]])
        keep &= area >= _SCRAP * r.width[cap >> 1] ** 2
        over[~np.isin(over, self.face)] = -1
        cap, over, bit = cap[keep], over[keep], bits[bit[keep]]
        size = share[keep]
        order = np.lexsort((cap, -size.round(9), bit))
        first = order[begins(bit[order])]
        return cap[first], over[first], bit[first]
