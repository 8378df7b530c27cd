"""From curves to vertices and edges: the line work split where it meets."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement import choice
from fillwork.arrangement.edges import Edges, group_pairs, merge_pieces, split_curves
from fillwork.arrangement.meetings import find_meetings
from fillwork.arrangement.segments import cut_into_chords
from fillwork.arrangement.vertices import join_points, same_points
from fillwork.errors import LineWorkError
from fillwork.geometry.boxes import bounds
from fillwork.geometry.crossings import cross

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.limits import Limits
    from fillwork.geometry.curves import Curves
    from fillwork.tolerance import Tolerance

__all__ = ["Graph", "build_graph"]

SHORT = 1.0 - 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """Hold vertices and edges, and the slacks that made them.

    Parameters
    ----------
    vertices : ndarray of shape (V, 2)
        Places of vertices, mm.
    edges : Edges
        Edges between them.
    tolerance : Tolerance
        The slacks.
    """

    vertices: NDArray[np.float64]
    edges: Edges
    tolerance: Tolerance


# lines that cross under less than this sine all but touch, and where they do
# so twice within this share of their length, they were meant to touch once
_SHALLOW = 0.2
_TOUCH = 0.1


def build_graph(
    curves: Curves,
    skip: NDArray[np.bool_],
    stroke: NDArray[np.int32],
    asked: choice.Asked,
    limits: Limits,
    finer: float = 1.0,
    wider: float = 1.0,
    spans: tuple[tuple[int, float, float], ...] = (),
) -> Graph:
    """Split curves where they meet, and join what is near.

    Parameters
    ----------
    curves : Curves
        The curves, about the origin.
    skip : ndarray of bool, shape (curves,)
        Curves that are left out.
    stroke : ndarray of int32, shape (curves,)
        Stroke of each curve.
    asked : Asked
        What is known of the slacks beforehand.
    limits : Limits
        How much is taken on.
    finer, wider : float
        Factors for finer chords and for another `join_within`: a second try.
    spans : tuple of (curve, float, float)
        Parts of curves, from one parameter to another, that are left out.

    Returns
    -------
    Graph
        Vertices and edges.

    Raises
    ------
    LineWorkError
        If a limit is exceeded or all lines are points.
    """
    tolerance, join_within = asked.tolerance, asked.join_within
    rough = cut_into_chords(curves, 1e9)
    size_low, size_high = bounds(rough.ends.reshape(-1, 2))
    size = float(np.hypot(*(size_high - size_low)))
    if size == 0.0:
        what = "all lines of the drawing are points"
        raise LineWorkError(what)
    lengths = np.hypot(*(rough.ends[:, 2:] - rough.ends[:, :2]).T)
    length = float(lengths.sum())
    spacing = choice.line_spacing(size_low, size_high, length)
    flatten = tolerance.flatten if tolerance else min(1e-4 * size, 0.02 * spacing)
    chords = cut_into_chords(curves, flatten / finer) if rough.sagitta.any() else rough
    limits.refuse_above("segments", len(chords))
    if tolerance is not None and join_within is None:
        join_within = tolerance.join_within
    if join_within is None:
        short = float(np.percentile(lengths[lengths > 0], 10))
        reach = min(0.03 * spacing, 0.1 * short)
    else:
        reach = join_within
    reach = max(reach, 1e-7 * size) * max(wider, 1.0)

    n = len(chords)
    both = same_points(chords.ends.reshape(-1, 2))
    end_point = both.reshape(-1, 2)
    points = np.empty((int(both.max()) + 1, 2))
    points[both[::-1]] = chords.ends.reshape(-1, 2)[::-1]
    zero = (end_point[:, 0] == end_point[:, 1]) | skip[chords.curve]
    chosen, copy_of, copies = _distinct_lines(chords.sagitta == 0, end_point, zero)
    meetings = find_meetings(curves, chords, chosen, end_point, reach, limits)

    # visits of curves to points: ends of chords, ends on lines, crossings
    kept = np.zeros(n, dtype=bool)
    kept[chosen] = True
    last = kept & np.r_[chords.curve[1:] != chords.curve[:-1], True]
    end_curve = np.concatenate([chords.curve[kept], chords.curve[last]])
    end_t = np.concatenate([chords.span[:, 0][kept], np.ones(int(last.sum()))])
    end_id = np.concatenate([end_point[:, 0][kept], end_point[:, 1][last]])
    cross_point = curves.point(meetings.cross_curve[:, 0], meetings.cross_t[:, 0])

    if chords is not rough:
        lengths = np.hypot(*(chords.ends[:, 2:] - chords.ends[:, :2]).T)
    speed = np.bincount(chords.curve, lengths, len(curves)).astype(np.float64)
    if tolerance is None:
        drawn_end = np.zeros(len(points), dtype=bool)
        drawn_end[end_point[chords.span[:, 0] == 0.0, 0]] = True
        drawn_end[end_point[chords.span[:, 1] == 1.0, 1]] = True
        on = (meetings.on_distance <= 1e-7 * size) & drawn_end[meetings.on_point]
        uses = np.bincount(end_point[chosen].reshape(-1), minlength=len(points))
        uses[meetings.on_point] += 1
        loose = np.zeros((len(curves), 2), dtype=bool)
        first, final = chords.span[:, 0] == 0.0, chords.span[:, 1] == 1.0
        loose[chords.curve[first], 0] = uses[end_point[first, 0]] < 2
        loose[chords.curve[final], 1] = uses[end_point[final, 1]] < 2
        pieces = _piece_lengths(
            curves,
            stroke,
            speed,
            loose,
            (meetings.cross_curve, meetings.cross_t),
            (meetings.on_curve[on], meetings.on_t[on]),
        )
        missed = (meetings.on_distance > 0) & drawn_end[meetings.on_point]
        misses = np.concatenate([meetings.on_distance[missed], meetings.end_distance])
        tolerance = choice.choose_tolerance(size, pieces, misses, reach, flatten, asked)
    join = tolerance.join_within * wider

    on = (meetings.on_distance <= join) & (meetings.on_t >= 0) & (meetings.on_t <= 1)
    crossing = (meetings.clearance > join) & (meetings.apart <= join)
    pair, pair_t = meetings.cross_curve[crossing], meetings.cross_t[crossing]
    new = len(points) + np.arange(len(pair), dtype=np.int32)
    vertex, place = join_points(np.concatenate([points, cross_point[crossing]]), join)
    curve = np.concatenate([end_curve, pair[:, 0], pair[:, 1], meetings.on_curve[on]])
    t = np.concatenate([end_t, pair_t[:, 0], pair_t[:, 1], meetings.on_t[on]])
    point = np.concatenate([end_id, new, new, meetings.on_point[on]])
    with np.errstate(divide="ignore"):
        reach_t = np.where(speed > 0, 6 * join / np.maximum(speed, 1e-300), 1.0)
    reach_t = np.minimum(reach_t, 0.5)
    pieces_found = split_curves(curve, t, vertex[point], reach_t)
    if spans:
        pieces_found = _without_spans(*pieces_found, spans)
    edges = merge_pieces(curves, place, *pieces_found, join)
    if len(copies):
        edges = _with_copies(edges, chords.curve[copy_of], chords.curve[copies])
    return Graph(place, edges, tolerance)


def _without_spans(
    piece_vertex: NDArray[np.int32],
    piece_curve: NDArray[np.int32],
    piece_span: NDArray[np.float64],
    spans: tuple[tuple[int, float, float], ...],
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.float64]]:
    """Return the pieces whose middle lies in none of the spans."""
    rows = np.array(sorted(spans))
    key = piece_curve + piece_span.mean(axis=1) * SHORT
    before = np.searchsorted(rows[:, 0] + rows[:, 1] * SHORT, key, side="right") - 1
    found = rows[np.maximum(before, 0)]
    inside = (before >= 0) & (found[:, 0] == piece_curve)
    kept = ~(inside & (key <= found[:, 0] + found[:, 2] * SHORT))
    return piece_vertex[kept], piece_curve[kept], piece_span[kept]


def _piece_lengths(
    curves: Curves,
    stroke: NDArray[np.int32],
    length: NDArray[np.float64],
    loose: NDArray[np.bool_],
    crossing: tuple[NDArray[np.int32], NDArray[np.float64]],
    landing: tuple[NDArray[np.int32], NDArray[np.float64]],
) -> NDArray[np.float64]:
    """Return lengths of line between neighbouring meeting points and corners.

    Pieces up to a loose end count only where there is nothing else.
    Curves of one stroke that go on in the same direction are one line here, so
    that a curve drawn as many short pieces is not taken for fine work.
    """
    corner = np.ones(len(curves), dtype=bool)
    if len(curves) > 1:
        zero, one = np.zeros(len(curves)), np.ones(len(curves))
        index = np.arange(len(curves))
        end, out = curves.evaluate(index[:-1], one[:-1])
        start, onward = curves.evaluate(index[1:], zero[1:])
        joined = (end == start).all(axis=1) & (stroke[1:] == stroke[:-1])
        cosine = out[:, 0] * onward[:, 0] + out[:, 1] * onward[:, 1]
        smooth = cosine > 0.85 * np.hypot(*out.T) * np.hypot(*onward.T)
        corner[1:] = ~(joined & smooth)
    run = np.cumsum(corner) - 1
    lead = np.flatnonzero(corner)
    total = np.add.reduceat(length, lead)
    before = np.cumsum(length) - length
    offset = before - before[lead][run]
    curve = np.concatenate([crossing[0].reshape(-1), landing[0]]).astype(np.int64)
    t = np.concatenate([crossing[1].reshape(-1), landing[1]])
    place = offset[curve] + np.clip(t, 0.0, 1.0) * length[curve]
    count = crossing[0].size
    if count:
        pair_place = place[:count].reshape(-1, 2)
        once = _merge_touches(curves, *crossing, run[crossing[0]], pair_place, total)
        kept = np.append(np.repeat(once, 2), np.ones(len(landing[0]), bool))
        curve, place = curve[kept], place[kept]
    place /= np.maximum(total[run[curve]], 1e-300)
    ends = np.arange(len(lead))
    key = np.concatenate(
        [run[curve] + np.minimum(place, 1.0) * SHORT, ends, ends + SHORT]
    )
    key.sort()
    step = np.diff(key)
    own = np.floor(key[:-1]).astype(np.int64)
    same = own == np.floor(key[1:])
    # the first piece of a run begins at the run's start, the last ends at its end
    last = np.r_[lead[1:], len(curves)] - 1
    at_start = np.r_[True, own[1:] != own[:-1]]
    ends_there = key[1:] == own + SHORT
    hangs = (at_start & loose[lead[own], 0]) | (ends_there & loose[last[own], 1])
    inner = same & ~hangs
    if not inner.any():
        inner = same
    return np.asarray(step[inner] * total[own[inner]])


def _merge_touches(
    curves: Curves,
    curve: NDArray[np.int32],
    t: NDArray[np.float64],
    run: NDArray[np.int64],
    place: NDArray[np.float64],
    total: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Move both crossings of curves that all but touch to the middle between them.

    Circles meant to touch that overlap by a hair cross twice, far apart for so
    small an overlap; these distances tell nothing of how exact the drawing is.

    Parameters
    ----------
    curves : Curves
        All curves.
    curve, t : ndarray of shape (n, 2)
        Both curves of each crossing, and the parameters there.
    run : ndarray of int64, shape (n, 2)
        The smooth line that each belongs to.
    place : ndarray of shape (n, 2)
        Where along these lines, mm; changed in place.
    total : ndarray
        Length of each smooth line, mm.

    Returns
    -------
    ndarray of bool, shape (n,)
        False for the second of two crossings that are one.
    """
    once = np.ones(len(run), bool)
    bent = (curves.kind[curve] != 0).any(axis=1) & (run[:, 0] != run[:, 1])
    rows = np.flatnonzero(bent)
    if len(rows) < 2:
        return once
    along = [curves.evaluate(curve[rows, k], t[rows, k])[1] for k in (0, 1)]
    sine = np.abs(cross(*along)) / np.maximum(
        np.hypot(*along[0].T) * np.hypot(*along[1].T), 1e-300
    )
    rows = rows[sine < _SHALLOW]
    if len(rows) < 2:
        return once
    # the line of lower number first
    swap = run[rows, 0] > run[rows, 1]
    first, second = swap.astype(np.intp), 1 - swap.astype(np.intp)
    a, b = run[rows, first], run[rows, second]
    order = np.lexsort((place[rows, first], b, a))
    rows, first, second, a, b = (v[order] for v in (rows, first, second, a, b))
    head = np.r_[True, (a[1:] != a[:-1]) | (b[1:] != b[:-1])]
    group = np.cumsum(head) - 1
    size = np.bincount(group)
    begin = np.flatnonzero(head)
    # the next crossing of the same two lines; after the last comes the first
    after = np.arange(1, len(rows) + 1)
    after[begin + size - 1] = begin
    here = np.flatnonzero(size[group] > 1)
    after = after[here]
    sides = ((first, total[a]), (second, total[b]))

    def steps(side: NDArray[np.intp], whole: NDArray[np.float64]) -> Any:
        step = place[rows[after], side[after]] - place[rows[here], side[here]]
        return step - np.round(step / whole[here]) * whole[here]

    near = np.ones(len(here), bool)
    for side, whole in sides:
        near &= np.abs(steps(side, whole)) < _TOUCH * whole[here]
    here, after = here[near], after[near]
    for side, whole in sides:
        middle = place[rows[here], side[here]] + 0.5 * steps(side, whole)
        middle = np.mod(middle, whole[here])
        place[rows[here], side[here]] = place[rows[after], side[after]] = middle
    once[rows[np.maximum(here, after)]] = False
    return once


def _distinct_lines(
    straight: NDArray[np.bool_], end_point: NDArray[np.int32], zero: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return the chords that differ, and the copies with what they copy."""
    usable = np.flatnonzero(straight & ~zero)
    ends = end_point[usable]
    low, high = np.minimum(ends[:, 0], ends[:, 1]), np.maximum(ends[:, 0], ends[:, 1])
    order, new = group_pairs(low, high, int(end_point.max()) + 1)
    lead = usable[order[np.flatnonzero(new)]]
    original = lead[np.cumsum(new) - 1]
    copies = usable[order[~new]]
    rest = np.flatnonzero(~straight & ~zero)
    return np.sort(np.concatenate([lead, rest])), original[~new], copies


def _with_copies(
    edges: Edges, original: NDArray[np.int32], copies: NDArray[np.int32]
) -> Edges:
    """Add the curves that are exact copies to the sources of edges."""
    order = np.argsort(original, kind="stable")
    original, copies = original[order], copies[order]
    begin = np.searchsorted(original, edges.source_curve)
    count = np.searchsorted(original, edges.source_curve, side="right") - begin
    row = np.repeat(np.arange(len(edges)), np.diff(edges.source_start))
    offset = np.cumsum(count) - count
    member = np.arange(int(count.sum())) + np.repeat(begin - offset, count)
    rows = np.concatenate([row, np.repeat(row, count)])
    source = np.concatenate([edges.source_curve, copies[member]])
    rank = np.argsort(rows, kind="stable")
    total = np.bincount(rows, minlength=len(edges))
    return replace(
        edges,
        source_start=np.r_[0, np.cumsum(total)].astype(np.int32),
        source_curve=source[rank],
    )
