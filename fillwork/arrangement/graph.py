"""From curves to vertices and edges: the line work split where it meets."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement import choice
from fillwork.arrangement.contacts import find_contacts
from fillwork.arrangement.crowds import find_crowds
from fillwork.arrangement.edges import Edges, group_pairs, merge_pieces, split_curves
from fillwork.arrangement.meetings import find_meetings
from fillwork.arrangement.met import Cut, Met
from fillwork.arrangement.pencils import part_pencil
from fillwork.arrangement.segments import cut_into_chords
from fillwork.arrangement.smooth_lines import find_smooth_lines
from fillwork.arrangement.vertices import join_points, same_points
from fillwork.errors import LineWorkError
from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import LINE
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import distinct, expand_ranges, marked
from fillwork.geometry.rounding import settled

if TYPE_CHECKING:
    from fillwork.arrangement.bundles import Bundle
    from fillwork.arrangement.limits import Limits
    from fillwork.arrangement.segments import Chords
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves
    from fillwork.tolerance import Tolerance

_WIDE = 3.0  # times farther: how far ends are looked for where they miss everywhere


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """Hold vertices and edges, and the slacks that made them."""

    vertices: Floats  # (V, 2): places of vertices, mm
    edges: Edges  # edges between them
    tolerance: Tolerance  # the slacks
    # ends (n, 4), mm, of what joins lines that touch in ink, and the curves it is on
    bridges: tuple[Floats, Ints32] | None = None


def build_graph(
    curves: Curves,
    skip: Bools,
    stroke: Ints32,
    asked: choice.Asked,
    limits: Limits,
    finer: float,
    bundles: tuple[Bundle, ...],
) -> Graph:
    """Split curves where they meet, and join what is near.

    `skip` (curves,): curves that are left out. `stroke` (curves,): stroke of each
    curve. `asked`: what is known of the slacks beforehand. `limits`: how much is taken
    on. `finer`: how many times nearer their curves chords lie than usual. `bundles`:
    the same circles, which meet in these points alone. Raises `LineWorkError` if a
    limit is exceeded or all lines are points.
    """
    cut = _cut(curves, skip, asked, limits, finer, bundles)
    met = _meet(cut, stroke, limits, cut.reach)
    tolerance = asked.tolerance
    if tolerance is None:
        shown = met.measures(asked.rounding)
        rough = choice.is_rough(shown.pieces, shown.misses, cut.reach)
        if rough and asked.join_within is None:
            met = _meet(cut, stroke, limits, max(_WIDE * cut.near, cut.least))
            shown = met.measures(asked.rounding)
        tolerance = choice.choose_tolerance(
            cut.size,
            shown.pieces,
            shown.misses,
            np.concatenate(met.touches()),
            met.reach,
            cut.flatten,
            asked,
            shown.ends,
            shown.narrow,
        )
        touches = met.with_joints().touches(nearest=True)
        tolerance = choice.with_touches(tolerance, touches, len(shown.pieces), asked)
    graph = _graph(met, tolerance, flat=finer > 1.0)
    if tolerance.touch <= tolerance.join_within:
        return graph
    if tolerance.touch > met.reach:
        met = _meet(cut, stroke, limits, tolerance.touch)
    bridges = met.with_joints().bridges(tolerance.join_within, tolerance.touch)
    return replace(graph, bridges=bridges)


def _cut(
    curves: Curves,
    skip: Bools,
    asked: choice.Asked,
    limits: Limits,
    finer: float,
    bundles: tuple[Bundle, ...],
) -> Cut:
    """Return the chords of curves that differ, and how near each other they are."""
    join_within = asked.join_within
    if asked.tolerance is not None and join_within is None:
        join_within = asked.tolerance.join_within
    rough = cut_into_chords(curves, 1e9)
    low, high = bounds(rough.ends.reshape(-1, 2))
    size = float(np.hypot(*(high - low)))
    if size == 0.0:
        what = "all lines of the drawing are points"
        raise LineWorkError(what)
    lengths = np.hypot(*(rough.ends[:, 2:] - rough.ends[:, :2]).T)
    bent = np.flatnonzero((curves.kind != LINE) & ~skip)
    crowd = tuple(bent[rows] for rows in find_crowds(curves, bent, asked.crowd))
    once = ~np.isin(rough.curve, crowd[0])
    spacing = choice.line_spacing(low, high, float(lengths[once].sum()))
    flatten = min(1e-4 * size, 0.02 * spacing)
    if asked.tolerance is not None:
        flatten = asked.tolerance.flatten
    chords = cut_into_chords(curves, flatten / finer) if rough.sagitta.any() else rough
    chords = replace(chords, ends=settled(chords.ends, asked.step))
    limits.refuse_above("segments", len(chords))
    least = 1e-7 * size
    exact = least if join_within is None else min(join_within, least)
    if join_within is None:
        join_within = min(
            0.03 * spacing, 0.1 * float(np.percentile(lengths[lengths > 0], 10))
        )
    if exact > 0:
        chords = part_pencil(chords, exact)
    touching = np.zeros(len(curves), dtype=bool)
    for bundle in bundles:
        chords = bundle.part(curves, chords)
        touching[bundle.curve] = True
    both = same_points(chords.ends.reshape(-1, 2))
    end_point = both.reshape(-1, 2)
    points = np.empty((int(both.max()) + 1, 2))
    points[both[::-1]] = chords.ends.reshape(-1, 2)[::-1]
    zero = (end_point[:, 0] == end_point[:, 1]) | skip[chords.curve]
    chosen, copy_of, copies = _distinct_chords(curves, chords, end_point, zero, crowd)
    return Cut(
        curves,
        chords,
        chosen,
        end_point,
        points,
        (chords.curve[copy_of], chords.curve[copies]),
        bundles,
        touching,
        size,
        flatten,
        join_within,
        least,
        asked.step,
    )


def _meet(cut: Cut, stroke: Ints32, limits: Limits, reach: float) -> Met:
    """Return how chords meet; ends that miss lines by no more than `reach`, mm."""
    curves, chords = cut.curves, cut.chords
    meetings = find_meetings(
        curves, chords, cut.chosen, cut.end_point, reach, limits, cut.touching
    )
    lengths = np.hypot(*(chords.ends[:, 2:] - chords.ends[:, :2]).T)
    speed = np.bincount(chords.curve, lengths, len(curves)).astype(np.float64)
    lines = find_smooth_lines(curves, stroke, speed)
    contacts = find_contacts(curves, lines, meetings)
    return Met(cut, meetings, lines, contacts, reach, speed)


def _graph(met: Met, tolerance: Tolerance, *, flat: bool) -> Graph:
    """Return the curves parted at their meetings, what is near joined.

    `flat`: whether they are to be laid flat, where nothing may leave its place.
    """
    cut, meetings, contacts, speed = met.cut, met.meetings, met.contacts, met.speed
    curves, points = cut.curves, cut.points
    join = tolerance.join_within
    end_curve, end_t, end_id = _chord_ends(cut)
    on = (meetings.on_distance <= join) & (meetings.on_t >= 0) & (meetings.on_t <= 1)
    # a crossing near an end is told by that end, but not where lines touch: the end
    # may lie as near and well beside the touch
    clear = meetings.clearance > join
    clear |= contacts.touching(join, clear) | (meetings.apart > 0)
    crossing = clear & (meetings.apart <= join)
    pair, pair_t = meetings.cross_curve[crossing], meetings.cross_t[crossing]
    # a contact is one point, in the middle of its meetings; laid flat, lenses are hairs
    cross_point = curves.point(pair[:, 0], pair_t[:, 0])
    group = contacts.same if flat else contacts.within(join, crossing)
    if not flat:
        keys = met.lines.keys(meetings.cross_curve, meetings.cross_t)
        group = contacts.at_one_place(group, crossing, keys, met.lines, join)
    contact, first_of, member, count = np.unique(
        group[crossing], return_index=True, return_inverse=True, return_counts=True
    )
    new = (len(points) + member).astype(np.int32)
    middle = np.stack([np.bincount(member, cross_point[:, k]) for k in (0, 1)], axis=1)
    alone = (count == 1)[:, None]
    middle = np.where(alone, cross_point[first_of], middle / count[:, None])
    met_at = settled(middle.astype(np.float64), cut.step)
    vertex, place = join_points(np.concatenate([points, met_at]), join)
    # what lies inside a contact is there too
    visit_curve = np.concatenate([end_curve, pair.reshape(-1)])
    visit_t = np.concatenate([end_t, pair_t.reshape(-1)])
    visit = np.concatenate([end_id, np.repeat(new, 2)])
    inside, holder = contacts.members(group, met.lines.keys(visit_curve, visit_t))
    if len(inside):
        owner = vertex[len(points) + np.searchsorted(contact, holder)]
        one = components(owner, vertex[visit[inside]], len(place)).astype(np.int32)
        vertex = one[vertex]
    curve = np.concatenate([end_curve, pair[:, 0], pair[:, 1], meetings.on_curve[on]])
    t = np.concatenate([end_t, pair_t[:, 0], pair_t[:, 1], meetings.on_t[on]])
    point = np.concatenate([end_id, new, new, meetings.on_point[on]])
    owner = vertex[point]
    with np.errstate(divide="ignore"):
        reach_t = np.where(speed > 0, 6 * join / np.maximum(speed, 1e-300), 1.0)
    reach_t = np.minimum(reach_t, 0.5)
    pieces_found = split_curves(curve, t, owner, reach_t)
    edges = merge_pieces(curves, place, *pieces_found, join)
    if len(cut.copies[0]):
        edges = _with_copies(edges, *cut.copies)
    return Graph(place, edges, tolerance)


def _chord_ends(cut: Cut) -> tuple[Ints32, Floats, Ints32]:
    """Return which curve goes where through which point at ends of chords."""
    chords, end_point = cut.chords, cut.end_point
    kept = marked(cut.chosen, len(chords))
    last = kept & np.r_[chords.curve[1:] != chords.curve[:-1], True]
    return (
        np.concatenate([chords.curve[kept], chords.curve[last]]),
        np.concatenate([chords.span[:, 0][kept], np.ones(int(last.sum()))]),
        np.concatenate([end_point[:, 0][kept], end_point[:, 1][last]]),
    )


def _distinct_chords(
    curves: Curves,
    chords: Chords,
    end_point: Ints32,
    zero: Bools,
    crowd: tuple[Ints, ...],
) -> tuple[Ints, Ints, Ints]:
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


def _with_copies(edges: Edges, original: Ints32, copies: Ints32) -> Edges:
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
