"""The order in which an arrangement is built."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement import choice, gaps, page
from fillwork.arrangement import defects as words
from fillwork.arrangement.assembly import Assembly, Lines, TangledError
from fillwork.arrangement.bundles import lay_bundle, lay_flower, lay_pencil
from fillwork.arrangement.choice import Asked
from fillwork.arrangement.corners import find_corners
from fillwork.arrangement.crowds import crowd_width
from fillwork.arrangement.ends import find_tips
from fillwork.arrangement.graph import build_graph
from fillwork.arrangement.limits import LIMITS
from fillwork.arrangement.picked import lines_to_drop, tips_to_cut
from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import Curves
from fillwork.geometry.quarters import join_circles
from fillwork.geometry.rounding import settled, settled_curves, step_of
from fillwork.linework import LineWork, usual_width, widths_of
from fillwork.notes import Note
from fillwork.values import check_kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.bundles import Bundle
    from fillwork.arrangement.limits import Limits
    from fillwork.arrangement.model import Arrangement, Defect
    from fillwork.tolerance import Tolerance

Points = tuple[tuple[float, float], ...]

# mm: beyond it squares of distances tell nothing any more; no drawing reaches so far
_FARTHEST = 1e12


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

    @property
    def free(self) -> bool:
        """Whether fillwork chooses what is one point."""
        return self.tolerance is None and self.join_within is None

    @property
    def one_point(self) -> float | None:
        """How near points are one, mm, where it is stated."""
        if self.join_within is None and self.tolerance is not None:
            return self.tolerance.join_within
        return self.join_within


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
    check_kind(linework, LineWork, "linework")
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
    if (farthest := float(np.abs(curves.data).max())) > _FARTHEST:
        what = f"a line has a coordinate of {farthest:.2g} mm, too far out to work on"
        raise LineWorkError(what, mend="check the drawing's units and transforms")
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
    that can be drawn in the plane.
    """
    try:
        return _build_once(linework, wishes, with_page, 0.0)
    except TangledError as error:
        return _build_once(linework, wishes, with_page, error.finer)


def _build_once(
    linework: LineWork, wishes: _Wishes, with_page: bool, flat: float
) -> Arrangement:
    """Build with or without the page's sides as lines.

    Edges are laid flat with so many times finer chords, unless `flat` is 0.
    """
    return _Builder(linework, wishes, with_page, flat).build()


class _Builder:
    """Part lines where they meet, close gaps, and find the regions."""

    def __init__(
        self, linework: LineWork, wishes: _Wishes, with_page: bool, flat: float
    ) -> None:
        self.wishes, self.flat = wishes, flat
        self.rounding = choice.rounding_of(linework)
        self.bundles: tuple[Bundle, ...] = ()
        if wishes.free:
            linework, self.bundles = _with_bundles(linework, self.rounding)
        self.linework, self.width = linework, usual_width(linework)
        own = linework.curves
        low, high = bounds(np.concatenate([own.starts(), own.ends()]))
        self.size = float(np.hypot(*(high - low)))
        self.step = step_of(self.size, wishes.one_point)
        self.middle = settled((low + high) / 2, self.step)
        self.sides = page.page_sides(linework.frame) if with_page else Curves.empty()
        self.lines = self._lines(Curves.empty(), np.empty(0, np.int32))
        self.bridges = np.empty((0, 4)), np.empty(0, np.int32)
        self.skip = np.zeros(len(own), dtype=bool)
        if wishes.drop:
            points = np.array(wishes.drop) - self.middle
            self.skip = lines_to_drop(self.lines.local, len(own), points)[: len(own)]
        self.crowd = crowd_width(self.size, self.width) if wishes.free else 0.0

    def build(self) -> Arrangement:
        """Return the regions, with gaps closed that bound none narrower than twice."""
        wishes, width = self.wishes, self.width
        asked = Asked(
            wishes.tolerance,
            wishes.join_within,
            wishes.close_gaps,
            width,
            self.rounding,
            self.crowd,
            self.step,
        )
        drawn, tolerance = self._met(self.lines, asked)
        held = tolerance
        notes: tuple[Note, ...] = ()
        chosen = wishes.tolerance is None and wishes.close_gaps is None
        if chosen:
            held, notes = drawn.held_open(tolerance, width)
        result, left = self._mended(drawn, held, chosen)
        if notes and result.face_count == 1:
            # none is left on purpose where all regions would be open
            every, others = self._mended(drawn, tolerance, chosen)
            if every.face_count > 1:
                held, notes, result, left = tolerance, (), every, others
        notes += left

        def count(length: float) -> int:
            """Return how many regions there are when gaps up to a length are closed."""
            longer = drawn.mends(length, drawn.reach(length), wishes.close)
            return self._closed(drawn, held, longer).face_count - 1

        if result.face_count == 1 and not notes:
            notes = drawn.shortest_that_closes(held.close_gaps, count)
        elif chosen and not notes:
            regions = result.face_count - 1
            notes = drawn.just_longer(tolerance.close_gaps, regions, count)
        return replace(result, notes=(*result.notes, *notes)) if notes else result

    def _mended(
        self, drawn: gaps.Net, tolerance: Tolerance, chosen: bool
    ) -> tuple[Arrangement, tuple[Note, ...]]:
        """Return the regions, and notes on gaps that were left open.

        `chosen`: whether gaps stay open that bound regions narrower than twice of them.
        """
        most = tolerance.close_gaps
        within = drawn.reach(most)
        opened: dict[int, float] = {}
        while True:
            mends = drawn.mends(most, within, self.wishes.close)
            result = self._closed(drawn, tolerance, mends)
            long = mends.bounding_narrow(result, len(self.linework.curves))
            if not chosen or not long.any():
                return result, gaps.left_open(opened, mends)
            # their ends may meet what is nearer
            left = mends.closings.take(long)
            for tip in (left.tip, left.other_tip):
                within[tip[tip >= 0]] = 0.99 * left.size[tip >= 0]
            seen = drawn.shown(left)
            opened.update(zip(seen.tip.tolist(), seen.size.tolist(), strict=True))

    def _lines(self, short: Curves, stroke: NDArray[np.int32]) -> Lines:
        """Return the drawing's lines, short ones with their strokes, the page's."""
        own = self.linework.curves
        table = Curves.concatenate([own, short, self.sides])
        outside = np.full(len(self.sides), -1)
        strokes = [self.linework.stroke_of_curve(), stroke, outside]
        local = table.transform(affine.translation(-self.middle[0], -self.middle[1]))
        return Lines(
            table,
            settled_curves(local, self.step),
            self.middle,
            len(own),
            len(own) + len(short),
            np.concatenate(strokes).astype(np.int32),
            self.width,
        )

    def _met(self, lines: Lines, asked: Asked) -> tuple[gaps.Net, Tolerance]:
        """Return lines parted where they meet, and the slacks."""
        skip = np.zeros(len(lines.table), dtype=bool)
        skip[: len(self.skip)] = self.skip
        graph = build_graph(
            lines.local,
            skip,
            lines.stroke,
            asked,
            self.wishes.limits,
            max(self.flat, 1.0),
            tuple(bundle.moved(-self.middle) for bundle in self.bundles),
        )
        if lines is self.lines and graph.bridges is not None:
            self.bridges = graph.bridges
        edges, join = graph.edges, graph.tolerance.join_within
        local, middle = lines.local, self.middle
        if len(self.sides):
            frame = self.linework.frame
            edges = edges.take(~page.outside_page(local, edges, frame, middle, join))
        tips = find_tips(local, graph.vertices, edges)
        ink = self.width or 0.0
        most = graph.tolerance.close_gaps
        corners = find_corners(local, graph.vertices, edges, min(ink, most))
        pen = np.r_[widths_of(self.linework), 0.0][lines.stroke]
        # of lines drawn over each other one is left, with the ink of the broadest
        if len(edges):
            each = np.maximum.reduceat(pen[edges.source_curve], edges.source_start[:-1])
            np.maximum.at(pen, edges.curve, each)
        net = gaps.Net(
            local, graph.vertices, edges, tips, pen, corners, middle, ink, most, join
        )
        return net, graph.tolerance

    def _closed(
        self, drawn: gaps.Net, tolerance: Tolerance, mends: gaps.Mends
    ) -> Arrangement:
        """Return the regions with these gaps closed."""
        found: list[Defect] = []
        lines, net, closings = self.lines, drawn, mends.closings
        over = mends.overshoot
        if len(closings) or len(self.bridges[1]):
            start, edge = drawn.starts(closings)
            stroke = lines.stroke[drawn.edges.curve[edge]]
            target = lines.stroke[closings.curve]
            at_end = closings.tip < len(drawn.tips)
            found += words.closing_defects(closings, start, stroke, target, at_end)
            short = np.concatenate([start, closings.target + self.middle], axis=1)
            across = self.bridges[0] + np.tile(self.middle, 2)
            short = np.concatenate([short, across])
            stroke = np.concatenate([stroke, lines.stroke[self.bridges[1]]])
            lines = self._lines(Curves.from_segments(short), stroke)
            net, _ = self._met(lines, Asked(tolerance, crowd=self.crowd))
            over = net.tips.from_junction & (net.tips.length <= tolerance.close_gaps)
        tips, edges, ends = net.tips, net.edges, net.ends()
        if self.wishes.cut:
            over = over | tips_to_cut(ends, np.array(self.wishes.cut), self.size)
        if len(tips):
            stroke = lines.stroke[edges.curve[tips.edge]]
            found += words.tip_defects(tips, ends, stroke, over)
        if over.any():
            trimmed = np.isin(tips.edge_chain, tips.chain[over])
            edges = edges.take(~(trimmed & (tips.edge_chain >= 0)))
        assembly = Assembly(
            self.linework,
            lines,
            net.vertices,
            edges,
            tolerance,
            found,
            self.wishes.limits,
            self.flat,
        )
        return assembly.build(
            whole_page=self.wishes.whole_page,
            corner_gap=drawn.longest_at_corners(closings),
        )


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
    laid, bundle = lay_bundle(curves, exact, rounding)
    bundles: tuple[Bundle, ...] = (bundle,)
    if len(bundle.curve) == 0:
        laid, bundles = lay_pencil(curves, exact, rounding)
        if not bundles:
            laid = lay_flower(curves, exact, rounding)
    if laid is curves:
        return linework, ()
    return replace(linework, curves=laid, stroke_start=start), bundles
