"""How curves meet, and what their pieces and their ends tell of the slacks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.arrangement.contacts import TOUCH, find_contacts, near_touches
from fillwork.arrangement.joints import with_joints
from fillwork.arrangement.vertices import join_points
from fillwork.geometry.curves import LINE
from fillwork.geometry.ranges import begins, distinct, expand_ranges, marked

if TYPE_CHECKING:
    from fillwork.arrangement.bundles import Bundle
    from fillwork.arrangement.contacts import Contacts
    from fillwork.arrangement.found import Meetings
    from fillwork.arrangement.segments import Chords
    from fillwork.arrangement.smooth_lines import SmoothLines
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves

_SHORT = 1.0 - 1e-9
_OFF = 2.0  # times that rounding moves a point, by which a corner may come off a side
_NEAR = 1 / 8  # of the reach: where that is not known, rounding moves it no farther
_JOINT = 1e-5  # of a line: how exactly it is known where its smooth parts join
_TELLING = 0.01  # of all line, below which pieces between meetings tell nothing of it


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Hold curves and their chords."""

    curves: Curves
    chords: Chords
    chosen: Ints  # the chords that differ
    end_point: Ints32  # (chords, 2): which points they end at
    points: Floats  # (n, 2): mm
    copies: tuple[Ints32, Ints32]  # curves, and their copies
    bundles: tuple[Bundle, ...]  # circles that meet in one point or two
    touching: Bools  # (curves,): those of bundles
    size: float  # diagonal of the drawing, mm
    flatten: float  # how near their curves the chords lie, mm
    near: float  # how near what is one point may lie, as far as is known, mm
    least: float  # what is nearer is one point in any case, mm
    step: float  # what places are settled to, mm

    @property
    def reach(self) -> float:
        """Return how far ends are looked for that miss lines, mm."""
        return max(self.near, self.least)


class Shown(NamedTuple):
    """Hold what tells of the slacks."""

    pieces: Floats  # lengths of lines between meetings and corners, mm
    misses: Floats  # by how much ends miss lines, mm
    ends: Floats  # (n, 2): where lines end, mm
    narrow: float  # height of the flattest triangle whose sides are drawn, mm


@dataclass(frozen=True, slots=True, eq=False)
class Met:
    """Hold curves, and how their chords meet."""

    cut: Cut
    meetings: Meetings
    lines: SmoothLines
    contacts: Contacts
    reach: float  # what misses by more was not looked for, mm
    speed: Floats  # (curves,): length of each, mm

    def measures(self, rounding: float) -> Shown:
        """Return what lines and their ends show.

        `rounding`: how far the decimals of the file may move a point, mm.
        """
        drawn, inner = self._line_ends()
        pieces = self._pieces(drawn, inner)
        misses, narrow = self._misses(drawn & ~inner, rounding)
        return Shown(pieces, misses, self.cut.points[drawn & ~inner], narrow)

    def touches(self, *, nearest: bool = False) -> tuple[Floats, Floats]:
        """Return by how much lines that all but touch overlap, and stay apart, mm.

        `nearest`: the latter where they are nearest alone.
        """
        rows = self._near_touches(nearest=nearest)
        return self.contacts.depths(), self.meetings.apart[rows]

    def with_joints(self) -> Met:
        """Return the same with joints of smooth lines that others touch."""
        cut, chords, lines = self.cut, self.cut.chords, self.lines
        start = np.full(len(cut.points), -1, np.int32)
        begins = chords.span[:, 0] == 0.0
        start[cut.end_point[begins, 0]] = chords.curve[begins]
        drawn, inner = self._line_ends()
        ends = drawn & ~inner
        met = with_joints(self.meetings, lines, start, ends, cut.least)
        if len(met.apart) == len(self.meetings.apart):
            return self
        contacts = find_contacts(cut.curves, lines, met)
        return replace(self, meetings=met, contacts=contacts)

    def bridges(self, join: float, touch: float) -> tuple[Floats, Ints32]:
        """Return what joins lines that touch in ink, and which curves they start on.

        One at each place. `join` and `touch`: what is nearer is one anyway, and how far
        lines stay apart at most, mm. Returns (n, 4): ends, mm; (n,): curves.
        """
        rows, apart = self._near_touches(nearest=True), self.meetings.apart
        rows = rows[(apart[rows] > join) & (apart[rows] <= touch)]
        rows = rows[np.argsort(self.meetings.apart[rows], kind="stable")]
        pair, t = self.meetings.cross_curve[rows], self.meetings.cross_t[rows]
        ends = [self.cut.curves.point(pair[:, k], t[:, k]) for k in (0, 1)]
        run, room = self.lines.run[pair], self.lines.total[self.lines.run[pair]]
        kept: dict[tuple[int, int], list[int]] = {}
        for k, (one, other) in enumerate(np.sort(run, axis=1).tolist()):
            there = kept.setdefault((one, other), [])
            far = np.hypot(*(ends[0][there] - ends[0][k]).T)
            if (far > TOUCH * room[k].min()).all():
                there.append(k)
        own = np.sort(np.array([k for each in kept.values() for k in each], np.int64))
        return np.hstack(ends)[own], pair[own, 0]

    def _near_touches(self, *, nearest: bool) -> Ints:
        curves, met = self.cut.curves, self.meetings
        return near_touches(curves, self.lines, self.contacts, met, nearest=nearest)

    def _line_ends(self) -> tuple[Bools, Bools]:
        """Return at which points curves end, and at which a smooth line goes on."""
        chords, end_point, lines = self.cut.chords, self.cut.end_point, self.lines
        initial, final = chords.span[:, 0] == 0.0, chords.span[:, 1] == 1.0
        drawn, inner = np.zeros((2, len(self.cut.points)), dtype=bool)
        drawn[end_point[initial, 0]] = True
        drawn[end_point[final, 1]] = True
        # a smooth line that is drawn in parts has no end where they join
        begins, stops = np.zeros((2, len(self.cut.curves)), dtype=bool)
        begins[lines.first[~lines.closed]] = True
        inner[end_point[initial, 0]] = ~begins[chords.curve[initial]]
        stops[lines.last[~lines.closed]] = True
        # ends that differ in the last digits are two points
        inner[end_point[final, 1]] |= ~stops[chords.curve[final]]
        return drawn, inner

    def _pieces(self, drawn: Bools, inner: Bools) -> Floats:
        """Return lengths of pieces; `drawn`, `inner`: as `_line_ends` has them."""
        cut, meetings = self.cut, self.meetings
        chords, end_point = cut.chords, cut.end_point
        on = (meetings.on_distance <= cut.least) & drawn[meetings.on_point]
        uses = np.bincount(end_point[cut.chosen].reshape(-1), minlength=len(drawn))
        uses[meetings.on_point] += 1
        loose = np.zeros((len(cut.curves), 2), dtype=bool)
        for end in (0, 1):
            tip = chords.span[:, end] == float(end)
            loose[chords.curve[tip], end] = uses[end_point[tip, end]] < 2
        # where a bent line goes on smoothly, it meets others where it crosses or
        # touches them, not where by chance the joint of its parts lies near them
        curled = marked(end_point[chords.sagitta > 0].reshape(-1), len(drawn))
        on &= ~(inner & curled)[meetings.on_point]
        # where many lines go through one point, or circles touch, each is parted there
        there = chords.sagitta == 0
        for bundle in cut.bundles:
            there |= (chords.ends[:, :2] == bundle.point).all(axis=1)
        parted = cut.chosen[there[cut.chosen]]
        parted = parted[chords.span[parted, 0] > 0]
        return _piece_lengths(
            self.lines,
            self.contacts,
            loose,
            (meetings.cross_curve, meetings.cross_t),
            (
                np.r_[meetings.on_curve[on], chords.curve[parted]],
                np.r_[meetings.on_t[on], chords.span[parted, 0]],
            ),
        )

    def _misses(self, ends: Bools, rounding: float) -> tuple[Floats, float]:
        """Return by how much ends miss lines, and the least height of a triangle.

        `ends`: at which points lines end.
        """
        cut, meetings, exact = self.cut, self.meetings, self.cut.least
        missed = (meetings.on_distance > 0) & ends[meetings.on_point]
        # an end that lies on one line misses no other, such as a circle beside it
        lies = np.zeros(len(cut.points), dtype=bool)
        rows = np.flatnonzero(meetings.on_distance <= exact)
        line, end = meetings.on_curve[rows], cut.points[meetings.on_point[rows]]
        # but one that differs from the line's own end in the last digits is that end
        tips = cut.curves.starts()[line], cut.curves.ends()[line]
        off = np.minimum(*(np.hypot(*(tip - end).T) for tip in tips))
        lies[meetings.on_point[rows[off > 2 * exact]]] = True
        missed &= ~lies[meetings.on_point]
        # nor does the corner of a thin triangle whose three sides are drawn
        least = min(exact, _OFF * rounding)
        off_line = (meetings.on_distance > least) & ends[meetings.on_point]
        off_line &= cut.curves.kind[meetings.on_curve] == LINE
        rows = np.flatnonzero(off_line)
        narrow = np.inf
        if len(rows):
            meant, narrow = self._triangles(rows, least, rounding)
            missed[rows] &= ~meant
        return (
            np.concatenate([meetings.on_distance[missed], meetings.end_distance]),
            narrow,
        )

    def _triangles(
        self, rows: Ints, least: float, rounding: float
    ) -> tuple[Bools, float]:
        """Return which corners near lines are drawn so, and how near the nearest is.

        `rows`: those of meetings that are asked. `least`: corners that lie nearer each
        other are one, mm.
        """
        chords, meetings = self.cut.chords, self.meetings
        straight = chords.sagitta == 0
        # corners of its sides may differ in the last digits
        one, _ = join_points(self.cut.points, least)
        corner, off = one[meetings.on_point[rows]], meetings.on_distance[rows]
        drawn, alike = _drawn_triangles(
            chords.curve[straight],
            one[self.cut.end_point[straight]],
            meetings.on_curve[rows],
            meetings.on_t[rows],
            corner,
        )
        # rounding takes corners off a side by so little and no more; where chance
        # lays them near it, it lays others farther off
        known = np.isfinite(rounding)
        near = off <= (_OFF * rounding if known else _NEAR * self.reach)
        found = [distinct(corner[drawn & alike & k]) for k in (near, ~near)]
        meant = drawn & ~near
        if len(found[0]) <= len(found[1]) + 1:
            meant |= drawn & alike
        return meant, float(off[meant & alike].min(initial=np.inf))


def _drawn_triangles(
    curve: Ints32, ends: Ints32, line: Ints32, at: Floats, point: Ints32
) -> tuple[Bools, Bools]:
    """Return which points are drawn to both ends of a line, and as often as elsewhere.

    `curve` and `ends` are those of straight chords, shape (n,) and (n, 2); `line`, `at`
    and `point` tell what lies near what. Of a line of several chords the first tells.
    Where flat triangles lie on each other, a point is drawn to the next ones beside the
    line. Where tiles that are drawn each for itself meet a side of another in its
    middle, their common side is drawn twice, those on it once.
    """
    large = np.int64(ends.max(initial=0)) + 1
    key = np.array([large, 1])
    side, often = np.unique(np.sort(ends, axis=1) @ key, return_counts=True)
    one, other = np.divmod(side, large)
    most = np.zeros(large, np.int64)
    for end in (one, other):
        np.maximum.at(most, end, often)
    # each side from either end
    start, stop = np.r_[one, other], np.r_[other, one]
    order = np.argsort(start, kind="stable")
    start, stop, times = start[order], stop[order], np.r_[often, often][order]
    first, last = (np.searchsorted(start, point, side=s) for s in ("left", "right"))
    row, way = expand_ranges(first, last - first)
    # what lies beside each line, and where
    names, lead = np.unique(curve, return_index=True)
    own = np.unique(line)
    tips = ends[lead[np.searchsorted(names, own)]]
    beside = np.r_[line, own, own].astype(np.int64) * large
    beside += np.r_[point, tips[:, 0], tips[:, 1]]
    place = np.r_[at, np.zeros(len(own)), np.ones(len(own))]
    order = np.argsort(beside, kind="stable")
    beside, place = beside[order], place[order]
    wanted = line[row].astype(np.int64) * large + stop[way]
    found = np.minimum(np.searchsorted(beside, wanted), len(beside) - 1)
    held = beside[found] == wanted
    row, way, there = row[held], way[held], place[found[held]]
    tip = (stop[way][:, None] == ends[lead[np.searchsorted(names, line[row])]]).any(1)
    step = there - at[row]
    equal = times[way] == most[point[row]]
    whole, chain = np.ones((2, len(point)), dtype=bool)
    alike = np.ones(len(point), dtype=bool)
    for on in (step < 0, step > 0):
        whole &= np.bincount(row, on & tip, len(point)) > 0
        chain &= np.bincount(row, on & equal, len(point)) > 0
    alike = np.bincount(row, tip & ~equal, len(point)) == 0
    return whole | chain, np.where(whole, alike, chain)


def _piece_lengths(
    lines: SmoothLines,
    contacts: Contacts,
    loose: Bools,
    crossing: tuple[Ints32, Floats],
    landing: tuple[Ints32, Floats],
) -> Floats:
    """Return lengths of line between neighbouring meeting points and corners.

    Pieces up to a loose end count only where there is nothing else. A curve
    drawn as many short pieces is not taken for fine work, and a smooth closed
    line begins where it first meets another; a contact is one meeting. Where two
    contacts lie so near each other that both lines are one there, chance parts them.
    """
    run, total = lines.run, lines.total
    group = contacts.all_but_touching()
    once = group == np.arange(len(group))
    place = lines.places(*crossing)
    # where parts of one smooth line join, it does not meet itself
    whole = total[run[crossing[0][:, 0]]]
    step = np.abs(place[:, 0] - place[:, 1])
    joint = np.minimum(step, np.abs(whole - step)) <= _JOINT * whole
    once &= ~(joint & (run[crossing[0][:, 0]] == run[crossing[0][:, 1]]))
    met = np.concatenate([crossing[0][once].reshape(-1), landing[0]])
    share = np.concatenate([place[once].reshape(-1), lines.places(*landing)])
    at = np.concatenate([crossing[1][once].reshape(-1), landing[1]])
    room = np.r_[np.repeat(contacts.room[once], 2), np.zeros(len(landing[0]))]
    apart = ~contacts.slight(lines.keys(met, at))
    own, share, room = run[met[apart]], share[apart], room[apart]
    share /= np.maximum(total[own], 1e-300)
    begin = np.ones(len(total))
    np.minimum.at(begin, own, share)
    share -= np.where(lines.closed, begin, 0.0)[own]
    ends = np.arange(len(total))
    key = np.concatenate([own + np.minimum(share, 1.0) * _SHORT, ends, ends + _SHORT])
    room = np.r_[room, np.zeros(2 * len(ends))]
    order = np.argsort(key, kind="stable")
    key, room = key[order], room[order]
    step = np.diff(key)
    own = np.floor(key[:-1]).astype(np.int64)
    same = own == np.floor(key[1:])
    # the first piece of a line begins at its start, the last ends at its end
    at_start = begins(own)
    ends_there = key[1:] == own + _SHORT
    hangs = at_start & loose[lines.first[own], 0]
    hangs |= ends_there & loose[lines.last[own], 1]
    touch = step * total[own] < np.maximum(room[1:], room[:-1])
    touch &= np.minimum(room[1:], room[:-1]) >= 0
    inner = same & ~hangs & ~touch
    length = step * total[own]
    # a few dots, or none, tell nothing of lines that all end loose
    if length[inner].sum() < _TELLING * length[same].sum():
        inner = same
    return np.asarray(length[inner])
