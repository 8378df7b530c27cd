"""The order in which an arrangement is built."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement import choice, gaps, page
from fillwork.arrangement import defects as words
from fillwork.arrangement.bundles import lay_bundle, lay_pencil
from fillwork.arrangement.choice import Asked
from fillwork.arrangement.corners import find_corners
from fillwork.arrangement.crowds import crowd_width
from fillwork.arrangement.ends import find_tips
from fillwork.arrangement.faces import build_faces
from fillwork.arrangement.flat import lay_flat
from fillwork.arrangement.graph import build_graph
from fillwork.arrangement.hairs import find_hairs
from fillwork.arrangement.halfedges import find_cycles, link_next, sort_round_vertices
from fillwork.arrangement.ink import find_ink
from fillwork.arrangement.limits import LIMITS
from fillwork.arrangement.model import Arrangement
from fillwork.arrangement.openings import without_openings
from fillwork.arrangement.picked import lines_to_drop, tips_to_cut
from fillwork.arrangement.pruning import find_dangling
from fillwork.arrangement.vertices import components
from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.quarters import join_circles
from fillwork.notes import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.bundles import Bundle
    from fillwork.arrangement.edges import Edges
    from fillwork.arrangement.limits import Limits
    from fillwork.arrangement.model import Defect
    from fillwork.linework import LineWork
    from fillwork.tolerance import Tolerance

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class _Wishes:
    """Hold the arguments of `build_arrangement`."""

    tolerance: Tolerance | None
    join_within: float | None
    close_gaps: float | None
    close: Points
    drop: Points
    cut: Points
    limits: Limits
    whole_page: bool = False
    thorough: bool = False

    @property
    def free(self) -> bool:
        """Whether fillwork chooses what is one point."""
        return self.tolerance is None and self.join_within is None


def build_arrangement(
    linework: LineWork,
    tolerance: Tolerance | None = None,
    *,
    join_within: float | None = None,
    close_gaps: float | None = None,
    page_edge: str = "auto",
    close: Points = (),
    drop: Points = (),
    cut: Points = (),
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
        ``close``: it does in any case; ``open``: it never does.
    close : tuple of (x, y)
        Points in mm: the nearest gap is closed whatever its size.
    drop : tuple of (x, y)
        Points in mm: the nearest line is left out, with every copy of it.
    cut : tuple of (x, y)
        Points in mm: the line that ends alone nearest is cut at its last crossing.
    allow_large : bool
        Raise the limits of `fillwork.arrangement.limits` eightfold.

    Returns
    -------
    Arrangement
        Face 0 is the unbounded one; there is no other when nothing is closed.

    Raises
    ------
    LineWorkError
        If there are no lines, a limit is exceeded, no line or gap lies near a
        point of `close`, `drop` or `cut`, or the result breaks a rule.
    ValueError
        If `page_edge` is none of the three words.
    """
    if page_edge not in ("auto", "close", "open"):
        what = f"page_edge is auto, close or open, not {page_edge!r}"
        raise ValueError(what)
    for name, slack in (("join_within", join_within), ("close_gaps", close_gaps)):
        if slack is not None and not 0 <= slack < math.inf:
            what = f"{name} is a length of 0 mm or more, not {slack!r}"
            raise ValueError(what)
    curves = linework.curves
    if len(curves) == 0:
        what = "the drawing has no lines"
        raise LineWorkError(what, mend="check which lines are used (--lines, --scope)")
    if not np.isfinite(curves.data).all():
        what = "a line has a coordinate that is not a number"
        raise LineWorkError(what, mend="mend the drawing")
    limits = LIMITS.raised() if allow_large else LIMITS
    limits.refuse_above("segments", len(curves))
    if tolerance is not None:
        tolerance = replace(
            tolerance,
            join_within=tolerance.join_within if join_within is None else join_within,
            close_gaps=tolerance.close_gaps if close_gaps is None else close_gaps,
        )
        join_within = close_gaps = None
    wishes = _Wishes(
        tolerance,
        join_within,
        close_gaps,
        close,
        drop,
        cut,
        limits,
        page_edge == "close",
    )
    frame = linework.frame
    run_offs = 0
    if page_edge == "auto" and frame.has_page:
        slack = max(1e-4 * max(frame.width, frame.height), 1e-9)
        run_offs = page.count_run_offs(curves, frame, slack)
    if page_edge == "close" or run_offs >= 2:
        result = _build(linework, wishes, with_page=True)
        if page_edge == "close":
            return result
        if _page_closes(result):
            closed = int(result.cut.sum())
            text = (
                f"the page's edge closes {closed} region{'s' * (closed != 1)}, because "
                f"line work runs off it at {run_offs} places"
            )
            note = Note("arrangement", "page edge", text, remedy="--page-edge open")
            return replace(result, notes=(*result.notes, note))
    return _build(linework, wishes, with_page=False)


def _page_closes(result: Arrangement) -> bool:
    """Return whether the drawing's own lines part the page's rim."""
    if not result.cut.any():
        return False
    on_page = np.repeat(result.edge_curve >= result.page_curves, 2)
    rim = np.zeros(len(result.vertices), dtype=bool)
    rim[result.origin[on_page]] = True
    return int(rim[result.origin[~on_page]].sum()) >= 2


def _build(linework: LineWork, wishes: _Wishes, *, with_page: bool) -> Arrangement:
    """Build from the true curves; where that does not add up, from edges laid flat.

    Euler's formula tells: where it holds, the edges round all vertices have an order
    that can be drawn in the plane. Before they are laid flat, curves that run on each
    other are asked about the vertices that they pass by.
    """
    try:
        return _build_once(linework, wishes, with_page, 0.0)
    except _TangledError:
        wishes = replace(wishes, thorough=True)
    try:
        return _build_once(linework, wishes, with_page, 0.0)
    except _TangledError as error:
        return _build_once(linework, wishes, with_page, error.finer)


def _build_once(
    linework: LineWork,
    wishes: _Wishes,
    with_page: bool,
    flat: float,
) -> Arrangement:
    """Build with or without the page's sides as lines.

    Edges are laid flat with so many times finer chords, unless `flat` is 0.
    """
    finer = max(flat, 1.0)
    rounding = choice.rounding_of(linework.curves, linework.frame.to_mm)
    bundles: tuple[Bundle, ...] = ()
    if wishes.free:
        linework, bundles = _with_bundles(linework, rounding)
    own = linework.curves
    stroke = linework.stroke_of_curve()
    points = np.concatenate([own.starts(), own.ends()])
    low, high = bounds(points)
    middle = (low + high) / 2
    to_local = affine.translation(-middle[0], -middle[1])
    sides = page.page_sides(linework.frame) if with_page else Curves.empty()
    table = Curves.concatenate([own, sides])
    local = table.transform(to_local)
    skip = np.zeros(len(table), dtype=bool)
    if wishes.drop:
        skip = lines_to_drop(local, len(own), np.array(wishes.drop) - middle)
    curve_stroke = np.r_[stroke, np.full(len(sides), -1, np.int32)].astype(np.int32)
    width = _line_width(linework)
    crowd = crowd_width(float(np.hypot(*(high - low))), width) if wishes.free else 0.0
    asked = Asked(
        wishes.tolerance, wishes.join_within, wishes.close_gaps, width, rounding, crowd
    )
    thorough = wishes.thorough and not flat

    def meet(
        lines: Curves,
        left_out: NDArray[np.bool_],
        drawn: NDArray[np.int32],
        known: Asked,
    ) -> tuple[gaps.Net, Tolerance]:
        """Return lines parted where they meet, and the slacks."""
        graph = build_graph(
            lines,
            left_out,
            drawn,
            known,
            wishes.limits,
            finer,
            thorough=thorough,
            bundles=tuple(bundle.moved(-middle) for bundle in bundles),
        )
        edges, join = graph.edges, graph.tolerance.join_within
        if with_page:
            outside = page.outside_page(lines, edges, linework.frame, middle, join)
            edges = edges.take(~outside)
        tips = find_tips(lines, graph.vertices, edges)
        ink = width or 0.0
        near = min(ink, graph.tolerance.close_gaps)
        corners, spread = find_corners(lines, graph.vertices, edges, near)
        net = gaps.Net(
            lines, graph.vertices, edges, tips, corners, spread, middle, ink, near
        )
        return net, graph.tolerance

    drawn, tolerance = meet(local, skip, curve_stroke, asked)
    notes: tuple[Note, ...] = ()
    chosen = wishes.tolerance is None and wishes.close_gaps is None
    limit = tolerance.close_gaps
    if chosen:
        tolerance, notes = drawn.held_open(tolerance, width)

    def closed(mends: gaps.Mends) -> Arrangement:
        """Return the regions with these gaps closed."""
        found: list[Defect] = []
        lines, by, inner = table, curve_stroke, len(own)
        net, over, closings = drawn, mends.overshoot, mends.closings
        if len(closings):
            start, edge = drawn.starts(closings)
            tip_stroke = by[drawn.edges.curve[edge]]
            target_stroke = by[closings.curve]
            found += words.closing_defects(closings, start, tip_stroke, target_stroke)
            short = Curves.from_segments(
                np.concatenate([start, closings.target + middle], axis=1)
            )
            lines, inner = (
                Curves.concatenate([own, short, sides]),
                len(own) + len(short),
            )
            by = np.r_[stroke, tip_stroke, np.full(len(sides), -1)].astype(np.int32)
            added = np.zeros(len(short) + len(sides), dtype=bool)
            left_out = np.r_[skip[: len(own)], added]
            net, _ = meet(
                lines.transform(to_local), left_out, by, Asked(tolerance, crowd=crowd)
            )
            over = net.tips.from_junction & (net.tips.length <= tolerance.close_gaps)
        tips, edges, ends = net.tips, net.edges, net.ends()
        if wishes.cut:
            size = float(np.hypot(*(high - low)))
            over = over | tips_to_cut(ends, np.array(wishes.cut), size)
        if len(tips):
            tip_stroke = by[edges.curve[tips.edge]]
            found += words.tip_defects(tips, ends, tip_stroke, over)
        if over.any():
            trimmed = np.isin(tips.edge_chain, tips.chain[over]) & (
                tips.edge_chain >= 0
            )
            edges = edges.take(~trimmed)
        return _finish(
            linework,
            lines,
            net.curves,
            middle,
            inner,
            by,
            net.vertices,
            edges,
            tolerance,
            found,
            wishes,
            flat=flat,
            by_hand=bool((closings.tip >= len(drawn.tips)).any()),
        )

    most, close = tolerance.close_gaps, wishes.close
    within = drawn.reach(most)
    opened: dict[int, float] = {}
    while True:
        mends = drawn.mends(most, within, close)
        result = closed(mends)
        long = mends.bounding_narrow(result, len(own))
        if not chosen or not long.any():
            break
        # their ends may meet what is nearer
        left = mends.closings.take(long)
        for tip in (left.tip, left.other_tip):
            within[tip[tip >= 0]] = 0.99 * left.size[tip >= 0]
        seen = drawn.shown(left)
        opened.update(zip(seen.tip.tolist(), seen.size.tolist(), strict=True))
    notes += gaps.left_open(opened, mends)

    def count(length: float) -> int:
        """Return how many regions there are when gaps up to a length are closed."""
        longer = drawn.mends(length, drawn.reach(length), close)
        return closed(longer).face_count - 1

    if result.face_count == 1 and not notes:
        notes = drawn.shortest_that_closes(most, count)
    elif chosen and not notes:
        notes = drawn.just_longer(limit, result.face_count - 1, count)
    return replace(result, notes=(*result.notes, *notes)) if notes else result


def _with_bundles(
    linework: LineWork, rounding: float
) -> tuple[LineWork, tuple[Bundle, ...]]:
    """Return line work whose circles through one or two points lie right there.

    The same, and no bundles, where there is no such point. `rounding`: how far decimals
    of the file may move a point, mm, if straight lines or whole circles tell it.
    """
    curves, start = join_circles(linework.curves, linework.stroke_start)
    low, high = bounds(np.concatenate([curves.starts(), curves.ends()]))
    exact = 1e-7 * float(np.hypot(*(high - low)))
    if math.isinf(rounding):
        rounding = linework.rounding
    laid, bundle = lay_bundle(curves, exact, rounding)
    bundles: tuple[Bundle, ...] = (bundle,)
    if len(bundle.curve) == 0:
        laid, bundles = lay_pencil(curves, exact, rounding)
    if laid is curves:
        return linework, ()
    return replace(linework, curves=laid, stroke_start=start), bundles


def _line_width(linework: LineWork) -> float | None:
    """Return the usual width of the drawn lines, mm; None when none has one."""
    widths = np.array([np.nan if w is None else w for _, _, w, _ in linework.styles])
    if len(widths) == 0 or np.isnan(widths).all():
        return None
    drawn = widths[linework.style]
    drawn = drawn[np.isfinite(drawn)]
    return float(np.median(drawn)) if len(drawn) else None


def _finish(
    linework: LineWork,
    table: Curves,
    local: Curves,
    middle: NDArray[np.float64],
    page_curves: int,
    curve_stroke: NDArray[np.int32],
    vertices: NDArray[np.float64],
    edges: Edges,
    tolerance: Tolerance,
    found: list[Defect],
    wishes: _Wishes,
    *,
    flat: float,
    by_hand: bool,
) -> Arrangement:
    """Take off what bounds nothing, and find the faces."""
    doubled, notes = words.doubled_defects(edges, vertices + middle, curve_stroke)
    found += doubled
    loose: list[Edges] = []
    order: NDArray[np.int32] | None = None
    if flat:
        vertices, edges, order = lay_flat(vertices, edges, wishes.limits)
    pieces = len(edges)

    def pruned(
        edges: Edges, order: NDArray[np.int32] | None
    ) -> tuple[Edges, NDArray[np.int32]]:
        """Return the edges that part two sides, and their order round vertices."""
        dangling = find_dangling(edges.vertex, len(vertices))
        if dangling.any():
            loose.append(edges.take(dangling))
            if order is None:
                edges = edges.take(~dangling)
            else:
                edges, order = _without_edges(edges, order, dangling)
        if order is None:
            order = sort_round_vertices(local, vertices, edges)
        next_half = link_next(order, edges.vertex.reshape(-1))
        start, member = find_cycles(next_half, order)
        cycle_of = np.empty(2 * len(edges), np.int32)
        cycle_of[member] = np.repeat(np.arange(len(start) - 1), np.diff(start))
        bridge = cycle_of[0::2] == cycle_of[1::2]
        if bridge.any():
            if not _adds_up(edges, len(start) - 1, len(vertices)):
                raise _TangledError(tolerance, pieces, wishes.limits)
            loose.append(edges.take(bridge))
            bridges = words.bridge_defects(loose[-1], vertices + middle, curve_stroke)
            found.extend(bridges)
            edges, order = _without_edges(edges, order, bridge)
        return edges, order

    def assembled(edges: Edges, order: NDArray[np.int32]) -> Arrangement:
        """Return the regions that edges in their order round vertices bound."""
        places, edges = _used_alone(vertices, edges)
        next_half = link_next(order, edges.vertex.reshape(-1))
        start, member = find_cycles(next_half, order)
        faces = build_faces(local, places, edges, order, start, member)
        wishes.limits.refuse_above("regions", len(faces.area) - 1)
        cut = np.zeros(len(faces.area), dtype=bool)
        cut[faces.face[np.repeat(edges.curve >= page_curves, 2)]] = True
        cut[0] = False
        return Arrangement(
            vertices=places + middle,
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
            cut=cut,
            curves=table,
            page_curves=page_curves,
            curve_stroke=curve_stroke,
            loose=_loose_curves(table, loose, page_curves),
            components=faces.components,
            area_difference=faces.difference,
            frame=linework.frame,
            tolerance=replace(tolerance, match=max(tolerance.match, linework.slip)),
            defects=tuple(found),
            notes=tuple(notes),
        )

    # where chords stand for curves, two may enclose what these do not
    narrow = tolerance.join_within
    if flat and (local.kind != LINE).any():
        narrow = max(narrow, 2.0 * tolerance.flatten / flat)
    while True:
        edges, order = pruned(edges, order)
        result = assembled(edges, order)
        ends = result.vertices.take(result.origin, axis=0)
        length = np.hypot(*(ends[1::2] - ends[0::2]).T)
        whole = (local.kind[edges.curve] == LINE) & (
            np.abs(np.diff(edges.span, axis=1)[:, 0]) > 1.0 - 1e-6
        )
        hairs, turned = find_hairs(result.area, result.face, length, narrow, whole)
        if not flat and (result.euler != 0 or turned > 0):
            raise _TangledError(tolerance, pieces, wishes.limits)
        if len(hairs) == 0:
            break
        gone = np.zeros(len(edges), dtype=bool)
        gone[hairs] = True
        edges, order = _without_edges(edges, order, gone)
    if not wishes.whole_page:
        ground = page.sides_of_ground(result)
        if ground.any():
            edges, order = _without_edges(edges, order, ground)
            result = assembled(edges, order)
    rounding = choice.rounding_of(linework.curves, linework.frame.to_mm)
    closed = np.arange(len(table)) >= len(linework.curves)
    closed[page_curves:] = False
    ink = find_ink(
        result,
        _line_width(linework),
        rounding,
        closed,
        by_hand=by_hand,
        traced=linework.trace is not None,
    )
    if ink.edges.any():
        found += ink.defects
        edges = edges.with_sources_of(ink.heirs)
        edges, order = _without_edges(edges, order, ink.edges)
        result = assembled(edges, order)
    result = without_openings(result, linework)
    result.check()
    return result


def _without_edges(
    edges: Edges, order: NDArray[np.int32], gone: NDArray[np.bool_]
) -> tuple[Edges, NDArray[np.int32]]:
    """Return edges without some, and the order of the rest round their vertices."""
    kept = ~np.repeat(gone, 2)
    renumber = (np.cumsum(kept) - 1).astype(np.int32)
    return edges.take(~gone), renumber[order[kept[order]]]


def _used_alone(
    vertices: NDArray[np.float64], edges: Edges
) -> tuple[NDArray[np.float64], Edges]:
    """Return the vertices at which edges end, and the edges with their new numbers."""
    used = np.zeros(len(vertices), dtype=bool)
    used[edges.vertex.reshape(-1)] = True
    if used.all():
        return vertices, edges
    number = (np.cumsum(used) - 1).astype(np.int32)
    return vertices[used], replace(edges, vertex=number[edges.vertex])


def _adds_up(edges: Edges, cycles: int, vertices: int) -> bool:
    """Return whether edges can be drawn in the plane: V - E + cycles = 2 C.

    A crossing that was missed makes edges look like bridges; once these are
    taken off, Euler's formula would hold again.
    """
    root = components(edges.vertex[:, 0], edges.vertex[:, 1], vertices)
    used = np.zeros(vertices, dtype=bool)
    used[edges.vertex.reshape(-1)] = True
    parts = int((used & (root == np.arange(vertices))).sum())
    return int(used.sum()) - len(edges) + cycles == 2 * parts


_FINEST = 256.0
"""Chords at most so many times nearer their curves, sixteen times as many."""


class _TangledError(Exception):
    """Say that true curves give edges no order that adds up.

    `finer` tells by how much finer chords stand for the curves: so near that no
    region as wide as a point lies between them, in numbers that the limits allow.
    """

    def __init__(self, tolerance: Tolerance, pieces: int, limits: Limits) -> None:
        super().__init__()
        wanted = 8.0 * tolerance.flatten / max(tolerance.join_within, 1e-300)
        room = (limits.segments / (2.0 * max(pieces, 1))) ** 2
        self.finer = max(min(wanted, _FINEST, room), 1.0)


def _loose_curves(table: Curves, loose: list[Edges], page_curves: int) -> Curves:
    """Return dangling lines and bridges, chords of one curve made one part."""
    if not loose:
        return Curves.empty()
    curve = np.concatenate([e.curve for e in loose])
    span = np.concatenate([e.span for e in loose])
    drawn = curve < page_curves
    curve, span = curve[drawn], span[drawn]
    if len(curve) == 0:
        return Curves.empty()
    low, high = span.min(axis=1), span.max(axis=1)
    order = np.lexsort((low, curve))
    curve, low, high = curve[order], low[order], high[order]
    new = np.ones(len(curve), dtype=bool)
    new[1:] = (curve[1:] != curve[:-1]) | (low[1:] != high[:-1])
    lead = np.flatnonzero(new)
    stop = np.r_[lead[1:], len(curve)] - 1
    return table.part(curve[lead], low[lead], high[stop])
