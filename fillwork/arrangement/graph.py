"""From curves to vertices and edges: the line work split where it meets."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement import choice
from fillwork.arrangement.contacts import (
    find_contacts,
    find_smooth_lines,
    measure_touches,
)
from fillwork.arrangement.crowds import find_crowds
from fillwork.arrangement.edges import Edges, group_pairs, merge_pieces, split_curves
from fillwork.arrangement.meetings import find_meetings
from fillwork.arrangement.passes import find_passes
from fillwork.arrangement.pencils import part_pencil
from fillwork.arrangement.segments import cut_into_chords
from fillwork.arrangement.vertices import (
    components,
    join_points,
    same_points,
)
from fillwork.errors import LineWorkError
from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import LINE
from fillwork.geometry.ranges import distinct, expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.bundles import Bundle
    from fillwork.arrangement.contacts import Contacts, SmoothLines
    from fillwork.arrangement.limits import Limits
    from fillwork.arrangement.meetings import Meetings
    from fillwork.arrangement.segments import Chords
    from fillwork.geometry.curves import Curves
    from fillwork.tolerance import Tolerance


SHORT = 1.0 - 1e-9
_OFF = 2.0  # times that rounding moves a point, by which a corner may come off a side
_NEAR = 1 / 8  # of the reach: where that is not known, rounding moves it no farther
_WIDE = 3.0  # times farther: how far ends are looked for where they miss everywhere
_JOINT = 1e-5  # of a line: how exactly it is known where its smooth parts join


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """Hold vertices and edges, and the slacks that made them."""

    vertices: NDArray[np.float64]  # (V, 2): places of vertices, mm
    edges: Edges  # edges between them
    tolerance: Tolerance  # the slacks


def build_graph(
    curves: Curves,
    skip: NDArray[np.bool_],
    stroke: NDArray[np.int32],
    asked: choice.Asked,
    limits: Limits,
    finer: float = 1.0,
    *,
    thorough: bool = False,
    wide: float = 1.0,
    bundles: tuple[Bundle, ...] = (),
) -> Graph:
    """Split curves where they meet, and join what is near.

    `skip` (curves,): curves that are left out. `stroke` (curves,): stroke of each
    curve. `asked`: what is known of the slacks beforehand. `limits`: how much is taken
    on. `finer`: how many times nearer their curves chords lie than usual. `thorough`:
    whether each curve is looked at for all vertices within the slack: those too at
    which others meet that run on it. `wide`: how many times farther than usual ends are
    looked for. `bundles`: the same circles, which meet in these points alone. Raises
    `LineWorkError` if a limit is exceeded or all lines are points.
    """
    tolerance, join_within = asked.tolerance, asked.join_within
    rough = cut_into_chords(curves, 1e9)
    size_low, size_high = bounds(rough.ends.reshape(-1, 2))
    size = float(np.hypot(*(size_high - size_low)))
    if size == 0.0:
        what = "all lines of the drawing are points"
        raise LineWorkError(what)
    lengths = np.hypot(*(rough.ends[:, 2:] - rough.ends[:, :2]).T)
    bent = np.flatnonzero((curves.kind != LINE) & ~skip)
    crowd = tuple(bent[rows] for rows in find_crowds(curves, bent, asked.crowd))
    once = ~np.isin(rough.curve, crowd[0])
    length = float(lengths[once].sum()) if len(crowd[0]) else float(lengths.sum())
    spacing = choice.line_spacing(size_low, size_high, length)
    flatten = tolerance.flatten if tolerance else min(1e-4 * size, 0.02 * spacing)
    chords = cut_into_chords(curves, flatten / finer) if rough.sagitta.any() else rough
    limits.refuse_above("segments", len(chords))
    if tolerance is not None and join_within is None:
        join_within = tolerance.join_within
    if join_within is None:
        short = float(np.percentile(lengths[lengths > 0], 10))
        reach = wide * min(0.03 * spacing, 0.1 * short)
    else:
        reach = join_within
    reach = max(reach, 1e-7 * size)
    exact = 1e-7 * size if join_within is None else min(join_within, 1e-7 * size)
    if exact > 0:
        chords = part_pencil(chords, exact)
    touching = np.zeros(len(curves), dtype=bool)
    for bundle in bundles:
        chords = bundle.part(curves, chords)
        touching[bundle.curve] = True

    n = len(chords)
    both = same_points(chords.ends.reshape(-1, 2))
    end_point = both.reshape(-1, 2)
    points = np.empty((int(both.max()) + 1, 2))
    points[both[::-1]] = chords.ends.reshape(-1, 2)[::-1]
    zero = (end_point[:, 0] == end_point[:, 1]) | skip[chords.curve]
    chosen, copy_of, copies = _distinct_chords(curves, chords, end_point, zero, crowd)
    meetings = find_meetings(curves, chords, chosen, end_point, reach, limits, touching)

    # visits of curves to points: ends of chords, ends on lines, crossings
    kept = np.zeros(n, dtype=bool)
    kept[chosen] = True
    last = kept & np.r_[chords.curve[1:] != chords.curve[:-1], True]
    end_curve = np.concatenate([chords.curve[kept], chords.curve[last]])
    end_t = np.concatenate([chords.span[:, 0][kept], np.ones(int(last.sum()))])
    end_id = np.concatenate([end_point[:, 0][kept], end_point[:, 1][last]])
    if chords is not rough:
        lengths = np.hypot(*(chords.ends[:, 2:] - chords.ends[:, :2]).T)
    speed = np.bincount(chords.curve, lengths, len(curves)).astype(np.float64)
    lines = find_smooth_lines(curves, stroke, speed)
    contacts = find_contacts(
        curves,
        lines,
        meetings.cross_curve,
        meetings.cross_t,
        meetings.on_curve,
        meetings.on_t,
        meetings.apart,
    )
    if tolerance is None:
        drawn = _Met(
            curves,
            chords,
            chosen,
            end_point,
            points,
            meetings,
            lines,
            contacts,
            bundles,
        )
        pieces, misses, ends, narrow = drawn.measures(
            1e-7 * size, asked.rounding, reach
        )
        if wide == 1.0 and choice.is_rough(pieces, misses, reach):
            return build_graph(
                curves,
                skip,
                stroke,
                asked,
                limits,
                finer,
                thorough=thorough,
                wide=_WIDE,
                bundles=bundles,
            )
        tolerance = choice.choose_tolerance(
            size,
            pieces,
            misses,
            measure_touches(
                curves,
                lines,
                contacts,
                meetings.cross_curve,
                meetings.cross_t,
                meetings.apart,
            ),
            reach,
            flatten,
            asked,
            ends,
            narrow,
        )
    join = tolerance.join_within

    on = (meetings.on_distance <= join) & (meetings.on_t >= 0) & (meetings.on_t <= 1)
    crossing = (meetings.clearance > join) & (meetings.apart <= join)
    pair, pair_t = meetings.cross_curve[crossing], meetings.cross_t[crossing]
    # a contact is one point, in the middle of its meetings
    cross_point = curves.point(pair[:, 0], pair_t[:, 0])
    group = contacts.within(join, crossing)
    contact, first_of, member, count = np.unique(
        group[crossing], return_index=True, return_inverse=True, return_counts=True
    )
    new = (len(points) + member).astype(np.int32)
    met = np.stack([np.bincount(member, cross_point[:, k]) for k in (0, 1)], axis=1)
    met = np.where((count == 1)[:, None], cross_point[first_of], met / count[:, None])
    vertex, place = join_points(np.concatenate([points, met]), join)
    # what lies inside a contact is there too
    visit_curve = np.concatenate([end_curve, pair.reshape(-1)])
    visit_t = np.concatenate([end_t, pair_t.reshape(-1)])
    visit = np.concatenate([end_id, np.repeat(new, 2)])
    inside, holder = contacts.members(group, lines.keys(visit_curve, visit_t))
    if len(inside):
        owner = vertex[len(points) + np.searchsorted(contact, holder)]
        one = components(owner, vertex[visit[inside]], len(place)).astype(np.int32)
        vertex = one[vertex]
    curve = np.concatenate([end_curve, pair[:, 0], pair[:, 1], meetings.on_curve[on]])
    t = np.concatenate([end_t, pair_t[:, 0], pair_t[:, 1], meetings.on_t[on]])
    point = np.concatenate([end_id, new, new, meetings.on_point[on]])
    owner = vertex[point]
    if thorough:
        at, by, by_t = find_passes(curves, chords, chosen, place, owner, join)
        owner = np.concatenate([owner, at])
        curve, t = np.concatenate([curve, by]), np.concatenate([t, by_t])
    with np.errstate(divide="ignore"):
        reach_t = np.where(speed > 0, 6 * join / np.maximum(speed, 1e-300), 1.0)
    reach_t = np.minimum(reach_t, 0.5)
    pieces_found = split_curves(curve, t, owner, reach_t)
    edges = merge_pieces(curves, place, *pieces_found, join)
    if len(copies):
        edges = _with_copies(edges, chords.curve[copy_of], chords.curve[copies])
    return Graph(place, edges, tolerance)


@dataclass(frozen=True, slots=True, eq=False)
class _Met:
    """Hold curves, and how their chords meet.

    `chosen` are the chords that differ, `end_point` (n, 2) the numbers of their ends'
    `points`.
    """

    curves: Curves
    chords: Chords
    chosen: NDArray[np.int64]
    end_point: NDArray[np.int32]
    points: NDArray[np.float64]
    meetings: Meetings
    lines: SmoothLines
    contacts: Contacts
    bundles: tuple[Bundle, ...]

    def measures(
        self, exact: float, rounding: float, reach: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], float]:
        """Return lengths of pieces, by how much ends miss lines, and the lines' ends.

        And the height of the flattest triangle whose sides are drawn. What is nearer
        than `exact` mm is one; what misses by more than `reach` was not looked for.
        """
        chords, end_point, meetings = self.chords, self.end_point, self.meetings
        lines, points = self.lines, self.points
        initial, final = chords.span[:, 0] == 0.0, chords.span[:, 1] == 1.0
        first, last = chords.curve[initial], chords.curve[final]
        drawn_end = np.zeros(len(points), dtype=bool)
        drawn_end[end_point[initial, 0]] = True
        drawn_end[end_point[final, 1]] = True
        # a smooth line that is drawn in parts has no end where they join
        inner = np.zeros(len(points), dtype=bool)
        begins, stops = np.zeros((2, len(self.curves)), dtype=bool)
        begins[lines.first[~lines.closed]] = True
        inner[end_point[initial, 0]] = ~begins[first]
        stops[lines.last[~lines.closed]] = True
        # ends that differ in the last digits are two points
        inner[end_point[final, 1]] |= ~stops[last]
        on = (meetings.on_distance <= exact) & drawn_end[meetings.on_point]
        uses = np.bincount(end_point[self.chosen].reshape(-1), minlength=len(points))
        uses[meetings.on_point] += 1
        loose = np.zeros((len(self.curves), 2), dtype=bool)
        loose[first, 0] = uses[end_point[initial, 0]] < 2
        loose[last, 1] = uses[end_point[final, 1]] < 2
        # where a bent line goes on smoothly, it meets others where it crosses or
        # touches them, not where by chance the joint of its parts lies near them
        curled = np.zeros(len(points), dtype=bool)
        curled[end_point[chords.sagitta > 0].reshape(-1)] = True
        on &= ~(inner & curled)[meetings.on_point]
        # where many lines go through one point, or circles touch, each is parted there
        there = chords.sagitta == 0
        for bundle in self.bundles:
            there |= (chords.ends[:, :2] == bundle.point).all(axis=1)
        parted = self.chosen[there[self.chosen]]
        parted = parted[chords.span[parted, 0] > 0]
        pieces = _piece_lengths(
            lines,
            self.contacts,
            loose,
            (meetings.cross_curve, meetings.cross_t),
            (
                np.r_[meetings.on_curve[on], chords.curve[parted]],
                np.r_[meetings.on_t[on], chords.span[parted, 0]],
            ),
        )
        missed = (meetings.on_distance > 0) & drawn_end[meetings.on_point]
        missed &= ~inner[meetings.on_point]
        # an end that lies on one line misses no other, such as a circle beside it
        lies = np.zeros(len(points), dtype=bool)
        rows = np.flatnonzero(meetings.on_distance <= exact)
        line, end = meetings.on_curve[rows], points[meetings.on_point[rows]]
        # but one that differs from the line's own end in the last digits is that end
        tips = self.curves.starts()[line], self.curves.ends()[line]
        off = np.minimum(*(np.hypot(*(tip - end).T) for tip in tips))
        lies[meetings.on_point[rows[off > 2 * exact]]] = True
        missed &= ~lies[meetings.on_point]
        # nor does the corner of a thin triangle whose three sides are drawn
        least = min(exact, _OFF * rounding)
        off_line = (meetings.on_distance > least) & (drawn_end & ~inner)[
            meetings.on_point
        ]
        off_line &= self.curves.kind[meetings.on_curve] == LINE
        rows = np.flatnonzero(off_line)
        narrow = np.inf
        if len(rows):
            straight = chords.sagitta == 0
            # corners of its sides may differ in the last digits
            one, _ = join_points(points, least)
            corner, off = one[meetings.on_point[rows]], meetings.on_distance[rows]
            drawn, alike = _drawn_triangles(
                chords.curve[straight],
                one[end_point[straight]],
                meetings.on_curve[rows],
                meetings.on_t[rows],
                corner,
            )
            # rounding takes corners off a side by so little and no more; where chance
            # lays them near it, it lays others farther off
            known = np.isfinite(rounding)
            near = off <= (_OFF * rounding if known else _NEAR * reach)
            found = [distinct(corner[drawn & alike & k]) for k in (near, ~near)]
            meant = drawn & ~near
            if len(found[0]) <= len(found[1]) + 1:
                meant |= drawn & alike
            missed[rows] &= ~meant
            narrow = float(off[meant & alike].min(initial=np.inf))
        misses = np.concatenate([meetings.on_distance[missed], meetings.end_distance])
        return pieces, misses, points[drawn_end & ~inner], narrow


def _drawn_triangles(
    curve: NDArray[np.int32],
    ends: NDArray[np.int32],
    line: NDArray[np.int32],
    at: NDArray[np.float64],
    point: NDArray[np.int32],
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
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
    loose: NDArray[np.bool_],
    crossing: tuple[NDArray[np.int32], NDArray[np.float64]],
    landing: tuple[NDArray[np.int32], NDArray[np.float64]],
) -> NDArray[np.float64]:
    """Return lengths of line between neighbouring meeting points and corners.

    Pieces up to a loose end count only where there is nothing else. A curve
    drawn as many short pieces is not taken for fine work, and a smooth closed
    line begins where it first meets another; a contact is one meeting.
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
    apart = ~contacts.slight(lines.keys(met, at))
    own, share = run[met[apart]], share[apart]
    share /= np.maximum(total[own], 1e-300)
    begin = np.ones(len(total))
    np.minimum.at(begin, own, share)
    share -= np.where(lines.closed, begin, 0.0)[own]
    ends = np.arange(len(total))
    key = np.concatenate([own + np.minimum(share, 1.0) * SHORT, ends, ends + SHORT])
    key.sort()
    step = np.diff(key)
    own = np.floor(key[:-1]).astype(np.int64)
    same = own == np.floor(key[1:])
    # the first piece of a line begins at its start, the last ends at its end
    at_start = np.r_[True, own[1:] != own[:-1]]
    ends_there = key[1:] == own + SHORT
    hangs = at_start & loose[lines.first[own], 0]
    hangs |= ends_there & loose[lines.last[own], 1]
    inner = same & ~hangs
    if not inner.any():
        inner = same
    return np.asarray(step[inner] * total[own[inner]])


def _distinct_chords(
    curves: Curves,
    chords: Chords,
    end_point: NDArray[np.int32],
    zero: NDArray[np.bool_],
    crowd: tuple[NDArray[np.int64], ...],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return the chords that differ, and the copies with what they copy.

    Lines are alike by their ends; a curve drawn again with the same numbers, or one of
    many that run on another (`crowd`: those, and these), is told by one of its chords.
    """
    straight = chords.sagitta == 0
    usable = np.flatnonzero(straight & ~zero)
    ends = end_point[usable]
    low, high = np.minimum(ends[:, 0], ends[:, 1]), np.maximum(ends[:, 0], ends[:, 1])
    order, new = group_pairs(low, high, int(end_point.max()) + 1)
    lead = usable[order[np.flatnonzero(new)]]
    original = lead[np.cumsum(new) - 1][~new]
    copies = usable[order[~new]]
    rest = np.flatnonzero(~straight & ~zero)
    if len(rest):
        bent = distinct(chords.curve[rest])
        rows = np.ascontiguousarray(curves.data[bent]).view(np.dtype((np.void, 64)))
        _, head, like = np.unique(
            rows.reshape(-1), return_index=True, return_inverse=True
        )
        as_first = head[like]
        if len(crowd[0]):
            rows_of = np.full(len(curves), -1)
            rows_of[bent] = np.arange(len(bent))
            own, lead_of = rows_of[crowd[0]], rows_of[crowd[1]]
            held = (own >= 0) & (lead_of >= 0)
            as_first[own[held]] = as_first[lead_of[held]]
            as_first = as_first[as_first]
        again = np.flatnonzero(as_first != np.arange(len(bent)))
        if len(again):
            rest = rest[~np.isin(chords.curve[rest], bent[again])]
            drawn = np.searchsorted(chords.curve, bent)  # a chord of each
            original = np.concatenate([original, drawn[as_first[again]]])
            copies = np.concatenate([copies, drawn[again]])
    return np.sort(np.concatenate([lead, rest])), original, copies


def _with_copies(
    edges: Edges, original: NDArray[np.int32], copies: NDArray[np.int32]
) -> Edges:
    """Add the curves that are exact copies to the sources of edges."""
    order = np.argsort(original, kind="stable")
    original, copies = original[order], copies[order]
    begin = np.searchsorted(original, edges.source_curve)
    count = np.searchsorted(original, edges.source_curve, side="right") - begin
    row = np.repeat(np.arange(len(edges)), np.diff(edges.source_start))
    _, member = expand_ranges(begin, count)
    rows = np.concatenate([row, np.repeat(row, count)])
    source = np.concatenate([edges.source_curve, copies[member]])
    rank = np.argsort(rows, kind="stable")
    total = np.bincount(rows, minlength=len(edges))
    return replace(
        edges,
        source_start=np.r_[0, np.cumsum(total)].astype(np.int32),
        source_curve=source[rank],
    )
