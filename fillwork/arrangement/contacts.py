"""Contacts: where curves all but touch, so that they were meant to touch once.

A *smooth line* is a stroke, or a part of one, that goes on without a corner,
however many curves it was drawn as. Two smooth lines that were meant to touch
stay a hair apart, or overlap by a hair and then cross twice: far apart for so
small an overlap, since a lens of depth g between circles of radius R is
2 √(g R) long. Such a pair of crossings is one *contact*.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.smooth_lines import ROUNDING
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import LINE
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import begins, next_round

if TYPE_CHECKING:
    from fillwork.arrangement.found import Meetings
    from fillwork.arrangement.smooth_lines import SmoothLines
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves


# lines that cross under less than this sine all but touch, and where they do
# so twice within this share of their length, they were meant to touch once
_SHALLOW = 0.4
TOUCH = 0.1
_NEAREST = 0.25  # of a gap: where lines are nearest it is less by no more beside it
_END = 1e-6  # of a line: places nearer are its end
_NEARLY = 1e-6  # of a line: how exactly crossings under small angles are found
_SLIGHT = 1e-4  # of a line: an overlap no deeper is none that was drawn
# of a circle: so far along it parts from its tangent by no more than that
_ALONG = float(np.sqrt(_SLIGHT / np.pi))


@dataclass(frozen=True, slots=True, eq=False)
class Contacts:
    """Hold pairs of meetings that may be one contact."""

    # (meetings,): the first meeting at the same place: chords find some places twice
    same: Ints
    # one and other, (n,): meetings of the same two smooth lines that follow each other
    one: Ints
    other: Ints
    # (n,): how deep the lines overlap, or how far they are apart, between them, mm
    depth: Floats
    # (n,): how far the lines part within a tenth of the shorter, mm: next to nothing
    # for a line and its double
    parting: Floats
    whole: Bools  # (n,): whether neither line ends between them
    # (n,): how far apart third lines pass between them, mm; 0 for none or one
    spread: Floats
    # (n, 2): how far one meeting is from the other along both lines, mm
    way: Floats
    # begin and size, (n, 2): for both lines, where the way from one meeting to the
    # other begins (number of the line plus share of its length) and its share of it
    begin: Floats
    size: Floats
    # (meetings,): along how much of the lines from there they part by no more than a
    # pen could show, mm; 0 where they do not all but touch, less for a line and its
    # double, which go on side by side
    room: Floats
    bend: Floats  # (meetings,): by how much they part there, 1/mm; infinite elsewhere

    def all_but_touching(self) -> Ints:
        """Return the first meeting of the contact that each belongs to.

        Returns (meetings,): a meeting; one that belongs to no contact is its own.
        """
        return components(self.one, self.other, len(self.same))[self.same]

    def depths(self) -> Floats:
        """Return by how much lines that all but touch overlap, mm."""
        return self.depth[self.parting > self.depth]

    def touching(self, depth: float, clear: Bools) -> Bools:
        """Return which meetings are those of touches of which neither is clear.

        `depth`: largest depth, mm. `clear` (meetings,): which are clear of ends.
        """
        rows = self.whole & (self.depth <= depth) & (self.parting > depth)
        rows &= ~(clear[self.one] | clear[self.other])
        found = np.zeros(len(self.same), dtype=bool)
        found[self.one[rows]] = found[self.other[rows]] = True
        return found

    def within(self, depth: float, held: Bools) -> Ints:
        """Return the contacts that are no deeper, in the same way.

        `depth`: largest depth, mm; what is nearer than this is joined anyway. `held`
        (meetings,): meetings that take part. Returns (meetings,): a meeting; a row of
        lenses, as between a line and its double, is no contact.
        """
        good = self.whole & (self.spread <= 2.0 * depth)
        good &= (self.depth <= depth) & (self.parting > depth)
        good &= held[self.one] & held[self.other]
        count = len(self.same)
        good &= (self.way > depth).any(axis=1)
        group = components(self.one[good], self.other[good], count)
        first = np.flatnonzero(self.same == np.arange(count))
        size = np.bincount(group[first], minlength=count)[group]
        return np.where(size <= 3, group, np.arange(count))[self.same]

    def at_one_place(
        self, group: Ints, held: Bools, keys: Floats, lines: SmoothLines, depth: float
    ) -> Ints:
        """Return groups of meetings, those that touch a line at one place in one.

        Two lines that touch are one within `depth` for some way, and where chance lays
        another's touch on it, on that way it means the same point.

        `group` (n,): the first of those that belong together. `held` (n,): meetings
        that take part. `keys` (n, 2): where they are on both lines, as
        `SmoothLines.keys` has it. `lines`: these.
        """
        reach = np.minimum(self.room, np.sqrt(2 * depth / self.bend))
        rows = np.flatnonzero((reach > 0) & held)
        row, key = np.repeat(rows, 2), keys[rows].reshape(-1)
        order = np.argsort(key, kind="stable")
        row, key = row[order], key[order]
        line = np.floor(key).astype(np.int64)
        # after the last on a line that is closed comes the first
        after = next_round(np.flatnonzero(begins(line)), len(row))
        step = np.abs(key[after] - key)
        step = np.where(lines.closed[line], np.minimum(step, 1.0 - step), step)
        step *= lines.total[line]
        near = step <= np.minimum(reach[row], reach[row[after]])
        one = np.r_[np.arange(len(group)), row[near]]
        other = np.r_[group, row[after][near]]
        return np.asarray(components(one, other, len(group)))

    def slight(self, keys: Floats) -> Bools:
        """Return which places lie inside contacts that no pen could show.

        `keys` (k,): places: number of the smooth line plus share of its length. Returns
        (k,): where a third line passes between two meetings that are one.
        """
        whole = (self.way / np.maximum(self.size, 1e-300)).min(axis=1)
        rows = np.flatnonzero(self.depth <= _SLIGHT * whole)
        begin, size = self.begin[rows] + 2 * ROUNDING, self.size[rows] - 4 * ROUNDING
        inside = np.zeros(len(keys), bool)
        ways = _ways_between(begin, size, keys)
        inside[ways.order[ways.covered()]] = True
        return inside

    def members(self, group: Ints, keys: Floats) -> tuple[Ints, Ints]:
        """Return which places lie inside contacts.

        `group` (meetings,): the contact of each meeting, from `within`. `keys` (k,):
        places: number of the smooth line plus share of its length. Returns `place` and
        `contact` (m,): places inside, and contacts that they lie in: where contacts
        share places, these hang together, but not each place is given with each
        contact.
        """
        inner = np.flatnonzero(group[self.one] == group[self.other])
        ways = _ways_between(self.begin[inner], self.size[inner], keys)
        contact = group[self.one[inner]][ways.row]
        place = np.flatnonzero(ways.covered())
        # the way that begins last before a place, and all ways at their first places
        begin = np.argsort(ways.first, kind="stable")
        stop = np.maximum.accumulate(ways.after[begin])
        apart = np.r_[True, ways.first[begin][1:] >= stop[:-1]] if len(begin) else []
        lead = begin[apart]
        holder = contact[lead][np.searchsorted(ways.first[lead], place, "right") - 1]
        return (ways.order[np.r_[place, ways.first]], np.r_[holder, contact])


def find_contacts(curves: Curves, lines: SmoothLines, meetings: Meetings) -> Contacts:
    """Find pairs of meetings of two smooth lines that were meant to be one."""
    curve, t = meetings.cross_curve, meetings.cross_t
    same = np.arange(len(curve))
    met = _shallow_meetings(curves, lines, curve, t)
    room = np.zeros(len(curve))
    least = lines.total[met.run].min(axis=1)
    slope = np.maximum(np.abs(met.sine), _SLIGHT / _ALONG)
    turn, along = turning(curves, lines, curve[met.row], t[met.row])
    parts = least * turn > along
    room[met.row] = np.where(parts, least * _SLIGHT / slope, -np.inf)
    bend = np.full(len(curve), np.inf)
    bend[met.row[parts]] = turn[parts] / along[parts]
    if len(met.row) == 0:
        return _no_contacts(same, room, bend)
    found, head = _once_each(met, lines, same)
    row, run, sine = found.row, found.run, found.sine
    # the next meeting of the same two lines; after the last comes the first
    size = np.diff(np.r_[head, len(row)])
    after = next_round(head, len(row))
    succ, pred = after, np.empty_like(after)
    pred[succ] = np.arange(len(succ))
    here = np.flatnonzero(np.repeat(size, size) > 1)
    whole, step, near = found.steps(lines, here, after[here])
    here, whole, step = here[near], whole[near], step[near]
    after = after[here]
    # the gap between the lines is a parabola: its depth from the two slopes
    way = np.maximum(np.abs(step[:, 0]), 1e-300)
    turn = np.abs(sine[after] - sine[here])
    steepest = np.maximum(np.abs(sine[here]), np.abs(sine[after]))
    depth = steepest**2 * way / np.maximum(2 * turn, 1e-300)
    parting = 0.5 * (TOUCH * whole.min(axis=1)) ** 2 * turn / way
    # the meetings at both ends are no third line; one that touches there too passes
    # through the same point, wherever chance lets them cross
    passes = room <= 0
    visit = np.concatenate([curve[passes].reshape(-1), meetings.on_curve])
    visit_t = np.concatenate([t[passes].reshape(-1), meetings.on_t])
    # a place side by side in a lens parts what is one way from tip to tip
    beside = meetings.apart[row] > 0
    first = np.where(beside[here] & ~beside[after], pred[here], here)
    last = np.where(beside[after] & ~beside[here], succ[after], after)
    _, lens, short = found.steps(lines, first, last)
    short &= (first != last) & ~beside[first] & ~beside[last]
    first, lens = np.where(short, first, here), np.where(short[:, None], lens, step)
    tip = run[here] + found.share(first, lens, whole)
    wide = np.abs(lens) / whole
    keys = lines.keys(visit, visit_t)
    ways = _ways_between(tip + 2 * ROUNDING, wide - 4 * ROUNDING, keys)
    third = ways.order[ways.covered()]
    spread = _spread(ways, curves.point(visit[third], visit_t[third]), len(here))
    return Contacts(
        same,
        row[here],
        row[after],
        depth,
        parting,
        found.within(lines, here) & found.within(lines, after),
        spread,
        np.abs(step),
        run[here] + found.share(here, step, whole),
        np.abs(step) / whole,
        room,
        bend,
    )


def _no_contacts(same: Ints, room: Floats, bend: Floats) -> Contacts:
    """Return that no two meetings are one."""
    none, empty = np.empty(0, np.int64), np.empty((0, 2))
    far, false = empty[:, 0], np.empty(0, bool)
    return Contacts(
        same, none, none, far, far, false, far, empty, empty, empty, room, bend
    )


def _once_each(
    met: _Meetings, lines: SmoothLines, same: Ints
) -> tuple[_Meetings, Ints]:
    """Return meetings of smooth lines each once, and where those of each pair begin.

    `same` (meetings,): changed: the first meeting at each one's place.
    """
    head = np.r_[True, (np.diff(met.run, axis=0) != 0).any(axis=1)]
    # between two crossings to the same side there is one to the other, so two that
    # are this near are one that was found twice, each but nearly
    side = np.sign(met.sine)
    again = (side[1:] == side[:-1]) & (side[1:] != 0)
    slack = np.where(again, _NEARLY, ROUNDING)[:, None] * lines.total[met.run[1:]]
    moved = np.abs(np.diff(met.place, axis=0)) > slack
    fresh = head | np.r_[True, moved.any(axis=1)]
    same[met.row] = met.row[np.flatnonzero(fresh)[np.cumsum(fresh) - 1]]
    once = _Meetings(met.row[fresh], met.sine[fresh], met.run[fresh], met.place[fresh])
    return once, np.flatnonzero(head[fresh])


def _spread(ways: _Ways, points: Floats, count: int) -> Floats:
    """Return the diagonals of the boxes about what lies on each of the ways, mm.

    `points` are the places of all that lie on any, in their order. Boxes of 1, 2, 4 ...
    that follow each other are made once for all: each way is two of them.
    """
    number = np.r_[0, np.cumsum(ways.covered())]
    first, after = number[ways.first], number[ways.after]
    low, high = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
    box_low, box_high, step = points, points, 1
    while len(first):
        now = after - first < 2 * step
        for at in (first[now], after[now] - step):
            np.minimum.at(low, ways.row[now], box_low[at])
            np.maximum.at(high, ways.row[now], box_high[at])
        ways, first, after = ways.some(~now), first[~now], after[~now]
        box_low = np.minimum(box_low[:-step], box_low[step:])
        box_high = np.maximum(box_high[:-step], box_high[step:])
        step *= 2
    size = np.where(high >= low, high - low, 0.0)
    return np.asarray(np.hypot(size[:, 0], size[:, 1]))


@dataclass(frozen=True, slots=True, eq=False)
class _Meetings:
    """Hold meetings under a small angle, by the two lines, then along the first.

    `row` numbers them, `sine` is that of the angle from the line of lower number
    to the other, `run` holds both lines and `place` where along them, mm.
    """

    row: Ints
    sine: Floats
    run: Ints
    place: Floats

    def steps(
        self, lines: SmoothLines, begin: Ints, end: Ints
    ) -> tuple[Floats, Floats, Bools]:
        """Return both lines' lengths, ways along them, and which of these are short."""
        run = self.run[begin]
        whole = np.maximum(lines.total[run], 1e-300)
        step = self.place[end] - self.place[begin]
        step -= np.where(lines.closed[run], np.round(step / whole) * whole, 0.0)
        short = np.asarray((np.abs(step) < TOUCH * whole).all(axis=1))
        return whole, step, short

    def within(self, lines: SmoothLines, at: Ints) -> Bools:
        """Return which meetings are at the end of neither line."""
        place, run = self.place[at], self.run[at]
        whole = np.maximum(lines.total[run], 1e-300)
        end = np.minimum(place, whole - place) / whole
        return np.asarray((lines.closed[run] | (end > _END)).all(axis=1))

    def share(self, begin: Ints, step: Floats, whole: Floats) -> Floats:
        """Return at which share of both lines, below 1, ways begin."""
        share = (self.place[begin] + np.minimum(step, 0.0)) / whole
        return np.asarray(np.minimum(share - np.floor(share), 1.0 - ROUNDING))


def _shallow_meetings(
    curves: Curves, lines: SmoothLines, curve: Ints32, t: Floats
) -> _Meetings:
    """Return the meetings of two lines, of which one is bent, that all but touch."""
    run = lines.run[curve]
    bent = (curves.kind[curve] != LINE).any(axis=1) & (run[:, 0] != run[:, 1])
    row = np.flatnonzero(bent)
    d, e = (curves.derivative(curve[row, k], t[row, k]) for k in (0, 1))
    sine = cross(d, e) / np.maximum(np.hypot(*d.T) * np.hypot(*e.T), 1e-300)
    shallow = np.abs(sine) < _SHALLOW
    row, sine = row[shallow], sine[shallow]
    run, place = run[row], lines.places(curve[row], t[row])
    swap = run[:, 0] > run[:, 1]
    sine[swap] *= -1
    run[swap], place[swap] = run[swap, ::-1], place[swap, ::-1]
    order = np.lexsort((place[:, 0], run[:, 1], run[:, 0]))
    return _Meetings(row[order], sine[order], run[order], place[order])


def near_touches(
    curves: Curves,
    lines: SmoothLines,
    contacts: Contacts,
    meetings: Meetings,
    *,
    nearest: bool,
) -> Ints:
    """Return the meetings at which lines stay apart and part on both sides.

    As lines that touch do; a line and its double do not. `contacts`: pairs of meetings
    that may be one. `nearest`: those alone at which lines are nearest, of which several
    may be at one place.
    """
    curve, t, apart = meetings.cross_curve, meetings.cross_t, meetings.apart
    within = np.zeros(len(apart), dtype=bool)
    if nearest:
        # between two places where lines cross they overlap, wherever they are told
        group = contacts.all_but_touching()
        within = (np.bincount(group, apart <= 0, len(apart)) > 0)[group]
    else:
        within[contacts.one] = within[contacts.other] = True
    gap = (apart > 0) & ~within
    rows = np.flatnonzero(gap & (lines.run[curve[:, 0]] != lines.run[curve[:, 1]]))
    curve, t, apart = curve[rows], t[rows], apart[rows]
    base = _sine(curves, curve, t) if nearest else None
    turn, way = turning(curves, lines, curve, t, base)
    room = TOUCH * lines.total[lines.run[curve]].min(axis=1)
    parts = 0.5 * room**2 * turn > apart * way
    if base is not None:
        # where directions differ, the gap is a parabola whose lowest point lies beside
        parts &= 0.5 * base**2 * way <= _NEAREST * apart * turn
    return np.asarray(rows[parts])


def turning(
    curves: Curves,
    lines: SmoothLines,
    curve: Ints32,
    t: Floats,
    base: Floats | None = None,
) -> tuple[Floats, Floats]:
    """Return how fast the directions of two lines part where they meet.

    The sine between them over a hundredth of the shorter curve to both sides, and how
    long that way is, mm. `curve` and `t` (n, 2): curves, and where on them they meet.
    `base` (n,): the sine there; with it curves go on a little beyond their ends.
    """
    length = lines.length[curve]
    step = 0.01 * length.min(axis=1)[:, None] / np.maximum(length, 1e-300)
    slopes = [curves.derivative(curve[:, k], t[:, k]) for k in (0, 1)]
    same_way = np.where((slopes[0] * slopes[1]).sum(axis=1) < 0, -1.0, 1.0)
    step[:, 1] *= same_way
    turn, way = np.zeros((2, len(curve)))
    for sign in (-1.0, 1.0):
        at = t + sign * step
        inside = ((at >= 0) & (at <= 1)).all(axis=1) | (base is not None)
        sine = np.abs(_sine(curves, curve, at) - (0.0 if base is None else base))
        turn += np.where(inside, sine, 0.0)
        way += np.where(inside, step[:, 0] * length[:, 0], 0.0)
    return turn, way


def _sine(curves: Curves, curve: Ints32, t: Floats) -> Floats:
    """Return the sines of the angles between two curves, as `turning` has them."""
    d, e = (curves.derivative(curve[:, k], t[:, k]) for k in (0, 1))
    return np.asarray(cross(d, e) / np.maximum(np.hypot(*d.T) * np.hypot(*e.T), 1e-300))


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """Hold ways along lines as ranges of places in the order in which these lie.

    `order`, shape (places,), sorts the places; a way of number `row` goes over the
    sorted places from `first` to before `after`, at least one.
    """

    order: Ints
    row: Ints
    first: Ints
    after: Ints

    def some(self, kept: Bools) -> _Ways:
        """Return some of the ways."""
        return _Ways(self.order, self.row[kept], self.first[kept], self.after[kept])

    def covered(self) -> Bools:
        """Return which of the sorted places lie on any way."""
        many = len(self.order) + 1
        depth = np.bincount(self.first, minlength=many)
        depth -= np.bincount(self.after, minlength=many)
        return np.cumsum(depth)[:-1] > 0


def _ways_between(begin: Floats, size: Floats, keys: Floats) -> _Ways:
    """Return which places lie on each of a row of ways along lines."""
    row = np.repeat(np.arange(len(begin)), 2)
    low, high = begin.reshape(-1), (begin + size).reshape(-1)
    line = np.floor(low)
    over = np.flatnonzero(high > line + 1.0)
    # a way past the start of its line comes in two parts
    row, low = np.r_[row, row[over]], np.r_[low, line[over]]
    high = np.r_[np.minimum(high, line + 1.0 - ROUNDING / 2), high[over] - 1.0]
    order = np.argsort(keys)
    first = np.asarray(np.searchsorted(keys, low, sorter=order))
    after = np.asarray(np.searchsorted(keys, high, side="right", sorter=order))
    return _Ways(order, row, first, after).some(after > first)
