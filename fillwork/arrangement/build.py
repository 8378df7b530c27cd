"""The order in which an arrangement is built."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement import choice
from fillwork.arrangement.edges import Edges, merge_pieces, split_curves
from fillwork.arrangement.faces import build_faces
from fillwork.arrangement.halfedges import find_cycles, link_next, sort_round_vertices
from fillwork.arrangement.limits import LIMITS
from fillwork.arrangement.meetings import find_meetings
from fillwork.arrangement.model import Arrangement, Defect
from fillwork.arrangement.pruning import find_dangling
from fillwork.arrangement.segments import cut_into_chords
from fillwork.arrangement.vertices import join_points, same_points
from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.limits import Limits
    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.tolerance import Tolerance

__all__ = ["build_arrangement"]


@dataclass(frozen=True, slots=True, eq=False)
class _Graph:
    vertices: NDArray[np.float64]
    edges: Edges
    tolerance: Tolerance


def build_arrangement(
    linework: LineWork,
    tolerance: Tolerance | None = None,
    *,
    join_within: float | None = None,
    close_gaps: float | None = None,
    page_edge: str = "auto",
    close: tuple[tuple[float, float], ...] = (),
    drop: tuple[tuple[float, float], ...] = (),
    allow_large: bool = False,
) -> Arrangement:
    """Build vertices, edges and faces from line work.

    Parameters
    ----------
    linework : LineWork
        The strokes of a drawing.
    tolerance : Tolerance, optional
        All slacks; chosen from the drawing by default.
    join_within, close_gaps : float, optional
        Single slacks instead of the chosen ones, mm.
    page_edge : str
        ``auto``: the page's edge closes regions where line work runs off it;
        ``close``: it does; ``open``: it does not.
    close : tuple of (x, y)
        Points in mm: the nearest gap is closed whatever its size.
    drop : tuple of (x, y)
        Points in mm: the nearest line is left out.
    allow_large : bool
        Raise the limits of `fillwork.arrangement.limits` eightfold.

    Returns
    -------
    Arrangement
        Face 0 is the unbounded one; no other face when nothing is closed.

    Raises
    ------
    LineWorkError
        If there are no lines, a limit is exceeded, no line or gap lies near a
        point of `close` or `drop`, or the result breaks a rule.
    """
    limits = LIMITS.raised() if allow_large else LIMITS
    curves = linework.curves
    stroke = linework.stroke_of_curve()
    if len(curves) == 0:
        what = "the drawing has no lines"
        raise LineWorkError(what, mend="check which lines are used (--lines, --scope)")
    if not np.isfinite(curves.data).all():
        what = "a line has a coordinate that is not a number"
        raise LineWorkError(what)
    page_curves = len(curves)
    low, high = _box(curves)
    middle = (low + high) / 2
    local = curves.transform(affine.translation(-middle[0], -middle[1]))
    graph = _build_graph(local, tolerance, join_within, close_gaps, limits)
    edges = graph.edges
    defects: list[Defect] = []
    notes: list[Note] = []
    dangling = find_dangling(edges.vertex, len(graph.vertices))
    loose = [edges.take(dangling)]
    edges = edges.take(~dangling)
    order = sort_round_vertices(local, graph.vertices, edges)
    origin = edges.vertex.reshape(-1)
    next_half = link_next(order, origin)
    start, member = find_cycles(next_half, order)
    cycle_of = np.empty(len(origin), np.int32)
    cycle_of[member] = np.repeat(np.arange(len(start) - 1), np.diff(start))
    bridge = cycle_of[0::2] == cycle_of[1::2]
    if bridge.any():
        loose.append(edges.take(bridge))
        half_kept = ~np.repeat(bridge, 2)
        renumber = (np.cumsum(half_kept) - 1).astype(np.int32)
        order = renumber[order[half_kept[order]]]
        edges = edges.take(~bridge)
        origin = edges.vertex.reshape(-1)
        next_half = link_next(order, origin)
        start, member = find_cycles(next_half, order)
    used = np.zeros(len(graph.vertices), dtype=bool)
    used[origin] = True
    number = (np.cumsum(used) - 1).astype(np.int32)
    edges = replace(edges, vertex=number[edges.vertex])
    vertices = graph.vertices[used]
    faces = build_faces(local, vertices, edges, order, next_half, start, member)
    limits.refuse_above("regions", len(faces.area) - 1)
    cut_edge = edges.curve >= page_curves
    cut = np.zeros(len(faces.area), dtype=bool)
    cut[faces.face[np.repeat(cut_edge, 2)]] = True
    cut[0] = False
    loose_curves = Curves.concatenate(
        [curves.part(e.curve, e.span[:, 0], e.span[:, 1]) for e in loose]
    )
    result = Arrangement(
        vertices=vertices + middle,
        origin=edges.vertex.reshape(-1).copy(),
        next=next_half,
        face=faces.face,
        edge_curve=edges.curve,
        edge_span=edges.span,
        source_start=edges.source_start,
        source_curve=edges.source_curve,
        ring_start=faces.ring_start,
        ring_half_edge=faces.ring_half_edge,
        face_ring_start=faces.face_ring_start,
        area=faces.area,
        witness=np.full((len(faces.area), 2), np.nan),
        inscribed=np.zeros(len(faces.area)),
        cut=cut,
        curves=curves,
        page_curves=page_curves,
        curve_stroke=stroke,
        loose=loose_curves,
        components=faces.components,
        area_difference=faces.difference,
        frame=linework.frame,
        tolerance=graph.tolerance,
        defects=tuple(defects),
        notes=tuple(notes),
    )
    witness, inscribed = _witnesses(result)
    result = replace(result, witness=witness, inscribed=inscribed)
    result.check()
    return result


def _witnesses(
    arrangement: Arrangement,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    import shapely

    witness = np.full((arrangement.face_count, 2), np.nan)
    inscribed = np.zeros(arrangement.face_count)
    if arrangement.face_count > 1:
        lines = shapely.maximum_inscribed_circle(arrangement.polygons())
        ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
        witness[1:] = ends[:, 0]
        inscribed[1:] = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    return witness, inscribed


def _box(curves: Curves) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a box that holds the ends of all curves and their arcs' centres."""
    points = np.concatenate([curves.starts(), curves.ends()])
    return points.min(axis=0), points.max(axis=0)


def _build_graph(
    curves: Curves,
    tolerance: Tolerance | None,
    join_within: float | None,
    close_gaps: float | None,
    limits: Limits,
) -> _Graph:
    """Split the curves where they meet and join what is near."""
    rough = cut_into_chords(curves, 1e9)
    size_low = np.minimum(rough.ends[:, :2], rough.ends[:, 2:]).min(axis=0)
    size_high = np.maximum(rough.ends[:, :2], rough.ends[:, 2:]).max(axis=0)
    size = float(np.hypot(*(size_high - size_low)))
    if size == 0.0:
        what = "all lines of the drawing are points"
        raise LineWorkError(what)
    length = float(np.hypot(*(rough.ends[:, 2:] - rough.ends[:, :2]).T).sum())
    spacing = choice.line_spacing(size_low, size_high, length)
    flatten = tolerance.flatten if tolerance else min(1e-4 * size, 0.02 * spacing)
    chords = cut_into_chords(curves, flatten) if rough.sagitta.any() else rough
    limits.refuse_above("segments", len(chords))
    if tolerance is not None and join_within is None:
        join_within = tolerance.join_within
    reach = 0.03 * spacing if join_within is None else join_within
    reach = max(reach, 1e-7 * size)

    n = len(chords)
    both = same_points(chords.ends.reshape(-1, 2))
    end_point = both.reshape(-1, 2)
    points = np.empty((int(both.max()) + 1, 2))
    points[both[::-1]] = chords.ends.reshape(-1, 2)[::-1]
    zero = end_point[:, 0] == end_point[:, 1]
    chosen, copy_of, copies = _distinct_lines(chords.sagitta == 0, end_point, zero)
    meetings = find_meetings(curves, chords, chosen, end_point, reach, limits)

    # visits of curves to points: ends of chords, ends on lines, crossings
    kept = np.zeros(n, dtype=bool)
    kept[chosen] = True
    last = kept & np.r_[chords.curve[1:] != chords.curve[:-1], True]
    end_curve = np.concatenate([chords.curve[kept], chords.curve[last]])
    end_t = np.concatenate([chords.span[kept, 0], np.ones(int(last.sum()))])
    end_id = np.concatenate([end_point[kept, 0], end_point[last, 1]])
    cross_point = curves.point(meetings.cross_curve[:, 0], meetings.cross_t[:, 0])

    speed = np.zeros(len(curves))
    np.add.at(
        speed, chords.curve, np.hypot(*(chords.ends[:, 2:] - chords.ends[:, :2]).T)
    )
    if tolerance is None or join_within is None or close_gaps is None:
        on = meetings.on_distance <= 1e-7 * size
        curve = np.concatenate(
            [end_curve, meetings.cross_curve.reshape(-1), meetings.on_curve[on]]
        )
        t = np.concatenate([end_t, meetings.cross_t.reshape(-1), meetings.on_t[on]])
        key = np.sort(curve + np.clip(t, 0.0, 1.0) * (1 - 1e-9))
        step = np.diff(key)
        same = np.floor(key[1:]) == np.floor(key[:-1])
        pieces = step[same] * speed[key[:-1][same].astype(np.int64)]
        misses = np.concatenate(
            [meetings.on_distance[meetings.on_distance > 0], meetings.end_distance]
        )
        chosen_tolerance = choice.choose_tolerance(
            size, pieces, misses, reach, flatten, join_within, close_gaps
        )
        tolerance = chosen_tolerance
    join = tolerance.join_within

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
    edges = merge_pieces(curves, place, *pieces_found, join)
    if len(copies):
        edges = _with_copies(edges, chords.curve[copy_of], chords.curve[copies])
    return _Graph(place, edges, tolerance)


def _distinct_lines(
    straight: NDArray[np.bool_], end_point: NDArray[np.int32], zero: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return the chords that differ, and the copies with what they copy."""
    usable = np.flatnonzero(straight & ~zero)
    low, high = end_point[usable].min(axis=1), end_point[usable].max(axis=1)
    key = low.astype(np.int64) * (int(end_point.max()) + 1) + high
    order = np.argsort(key, kind="stable")
    new = np.ones(len(order), dtype=bool)
    new[1:] = key[order][1:] != key[order][:-1]
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
