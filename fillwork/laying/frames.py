"""The frame of a drawn panel: its border's strip, corner piece and plain lines.

Measured in a picture turned so that the strip lies level on the lower side, its outer
edge below: x runs along the strip, y from the outside in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds, box_ring
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.polygons import ring_curves
from fillwork.laying.border import Border, Corner, border_panel, lay_border
from fillwork.laying.clip import clip_curves, curve_boxes
from fillwork.laying.model import Cell
from fillwork.laying.repeats import find_parts, part_region
from fillwork.laying.whole import plain_border

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Floats
    from fillwork.geometry.affine import Affine
    from fillwork.laying.figures import Figures
    from fillwork.laying.model import Motif, Panel
    from fillwork.laying.repeats import Part
    from fillwork.linework import LineWork

_LEVEL = 0.02  # slope of a frame line set by eye, rise to run
_COVERED = 0.95  # of its length that a frame line shows
_NEAR = 0.02  # of the strip's width within which lines are one
_TIP = 0.05  # of it from a corner within which a hand's line ends in the corner


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Hold what runs round a panel, at the size of its drawing."""

    strip: Cell  # one repeat of the band, level, its outer edge below
    corner: Corner | None  # None: the strip goes round by mitres
    outside: tuple[float, ...]  # how far plain lines lie outside the band, mm
    inside: tuple[float, ...]  # and inside it


def find_frame(drawn: LineWork) -> Frame | None:
    """Return the frame that a drawing shows; None where none is certain.

    `drawn`: a strip of several repeats, or a panel with a border. A strip by itself
    stays as it was drawn; its lower edge is outside.
    """
    for part in find_parts(drawn, {1}):
        return _Drawn(drawn, part).frame()
    return None


def lay_frame(
    motif: Motif,
    figures: Figures,
    outline: Panel,
    scale: float,
    *,
    corner: Corner | None = None,
    outside: Sequence[float] = (),
    inside: Sequence[float] = (),
    give: float | None = None,
    slack: float = 0.5,
) -> Border:
    """Return a strip run round a panel, with plain lines beside it.

    `motif`, `figures`, `corner`, `give`, `slack`: as for `lay_border`. `outline`: the
    panel. `scale`: panel length / drawn length. `outside`, `inside`: how far plain
    lines lie from the strip's two edges, mm of the drawing. Raises `LineWorkError` as
    `lay_border` does.
    """
    first = scale * max(outside, default=0.0)
    last = scale * max(inside, default=0.0)
    room, at = outline, (0.0, 0.0)
    if first > 0:
        rim = plain_border(outline, first)
        room, at = rim.field, rim.inset
    laid = lay_border(
        motif, figures, room, scale, corner=corner, give=give, slack=slack
    )
    if first <= 0 and last <= 0:
        return laid
    # lines between the panel's edge and the field's, the strip's own two among them
    depth = {first - scale * v for v in outside} | {first, first + laid.width}
    depth |= {first + laid.width + scale * v for v in inside}
    width = first + laid.width + last
    near = 1e-6 * width
    rings = [
        ring_curves(border_panel(outline, v).rings[1])
        for v in sorted(depth)
        if near < v < width - near
    ]
    band = laid.curves.transform(affine.translation(*at))
    plain = np.full(sum(map(len, rings)), motif.usual_style, np.int32)
    return replace(
        laid,
        curves=Curves.concatenate([band, *rings]),
        style=np.concatenate([laid.style, plain]),
        outline=outline,
        panel=border_panel(outline, width),
        width=width,
    )


class _Drawn:
    """Hold a drawing turned so that its strip lies level below."""

    def __init__(self, drawn: LineWork, part: Part) -> None:
        import shapely

        arrangement = part.arrangement
        self.drawn, self.part = drawn, part
        self.period = float(np.hypot(*part.basis[0]))
        faces = np.arange(1, arrangement.face_count)
        whole = shapely.union_all(arrangement.polygons(faces, valid=True))
        corners = shapely.get_coordinates(whole)
        region = part_region(arrangement, part.zone)
        edge = shapely.get_coordinates(region)
        along = part.basis[0]
        angle = -math.atan2(along[1], along[0])
        turn = affine.rotation(angle)
        box, own = (_box(affine.apply(turn, p)) for p in (corners, edge))
        below, above = own[1] - box[1], box[3] - own[3]
        # a strip by itself stays as it was drawn
        self.panel = max(below, above) > own[3] - own[1]
        if below > above if self.panel else math.cos(angle) < 0:
            turn = affine.compose(affine.rotation(math.pi), turn)
            box, own = (_box(affine.apply(turn, p)) for p in (corners, edge))
        self.turn: Affine = turn
        self.box, self.own = box, own
        self.curves = drawn.curves.transform(turn)
        self.width = own[3] - own[1]
        area = (box[2] - box[0]) * (box[3] - box[1])
        self.rectangle = shapely.area(shapely.convex_hull(whole)) > 0.995 * area

    def frame(self) -> Frame:
        """Return the strip, the corner piece and the plain lines."""
        left, low, right, high = self.own
        corner = self._corner() if self.panel and self.rectangle else None
        length = right - left
        if corner is None:
            first = left + (length - self.period) / 2 + 0.0131 * self.period
        else:  # as the side begins at its corner
            first = self.box[0] + (low - self.box[1]) + self.width
            middle = left + (length - self.period) / 2
            first += round((middle - first) / self.period) * self.period
        ring = box_ring(np.array([first, low]), np.array([first + self.period, high]))
        box = curve_boxes(self.curves)
        near = (box[:, :2] <= ring[2] + 1.0) & (box[:, 2:] >= ring[0] - 1.0)
        rows = np.flatnonzero(near.all(axis=1))
        style = self.drawn.style[self.drawn.stroke_of_curve()[rows]].astype(np.int32)
        strip = Cell(self.curves.take(rows), style, ring, True)
        return Frame(strip, corner, *self._plain())

    def _corner(self) -> Corner | None:
        """Return the square of the border where the strips of two sides end.

        None where a line runs on from one into the other.
        """
        import shapely

        x, y, w = self.box[0] + (self.own[1] - self.box[1]), self.own[1], self.width
        near, off = _NEAR * w, _TIP * w
        ring = box_ring(np.array([x, y]), np.array([x + w, y + w]))
        edge = ring_curves(ring)
        shown = [
            _shown(self._straight(1), x + w, (y, y + w), near),
            _shown(self._straight(0), y + w, (x, x + w), near),
        ]
        chords = shapely.linestrings(self.curves.flatten(near)[0].reshape(-1, 2, 2))
        ends = [
            [(x + w, y + off), (x + w, y + w - off)],
            [(x + off, y + w), (x + w - off, y + w)],
        ]
        for drawn, side in zip(shown, shapely.linestrings(ends), strict=True):
            if not drawn and shapely.intersects(chords, side).any():
                return None
        lines, _ = clip_curves(self.curves, edge, [ring], near=near)
        parting = edge.take(1 + np.flatnonzero(shown))
        both = Curves.concatenate([lines, parting])
        if len(both) == 0:
            return None
        return Corner(both.transform(affine.translation(-x, -y)), w, w)

    def _straight(self, axis: int) -> Floats:
        """Return the lines along an axis: where each lies, begins and stops.

        Returns (n, 3), mm.
        """
        rows = np.flatnonzero(self.curves.kind == LINE)
        ends = np.stack([self.curves.starts()[rows], self.curves.ends()[rows]])
        run = np.abs(ends[1] - ends[0])
        ends = ends[:, run[:, 1 - axis] <= _LEVEL * run[:, axis]]
        at, along = ends[:, :, 1 - axis].mean(axis=0), ends[:, :, axis]
        return np.stack([at, along.min(axis=0), along.max(axis=0)], axis=1)

    def _plain(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Return how far plain lines lie from the strip's lower and upper edges."""
        left, low, right, high = self.own
        near = _NEAR * self.width
        aside = min(1.25 * self.width, 0.3 * (right - left))
        span = (left + aside, right - aside)
        level = self._straight(0)
        full = [v for v in _places(level[:, 0], near) if _shown(level, v, span, near)]
        bottom, top = self._other(span)
        # what is not plain ends the frame: another border outside, the field inside
        below = np.where(bottom < low - near, top, -math.inf).max(initial=-math.inf)
        above = np.where(top > high + near, bottom, math.inf).min(initial=math.inf)
        clear, stop = float(below) - near, float(above) + near
        if stop == math.inf and self.panel:
            stop = -math.inf  # an empty middle: the field's edge is not known
        outside = tuple(round(low - v, 6) for v in full if clear <= v < low - near)
        inside = tuple(round(v - high, 6) for v in full if high + near < v <= stop)
        return tuple(sorted(outside)), tuple(sorted(inside))

    def _other(self, span: tuple[float, float]) -> tuple[Floats, Floats]:
        """Return how low and how high each line that is not level comes in a span."""
        chords = self.curves.flatten(0.01 * self.width)[0]
        start, end = chords[:, :2], chords[:, 2:]
        step = end - start
        rows = np.abs(step[:, 1]) > _LEVEL * np.abs(step[:, 0])
        rows &= np.minimum(start[:, 0], end[:, 0]) < span[1]
        rows &= np.maximum(start[:, 0], end[:, 0]) > span[0]
        start, end, step = start[rows], end[rows], step[rows]
        run = np.where(step[:, 0] == 0, 1.0, step[:, 0])
        cut = np.clip((np.array(span)[:, None] - start[:, 0]) / run, 0.0, 1.0)
        upright = step[:, 0] == 0
        cut[0, upright], cut[1, upright] = 0.0, 1.0
        y = start[:, 1] + cut * step[:, 1]
        return y.min(axis=0), y.max(axis=0)


def _box(points: Floats) -> list[float]:
    low, high = bounds(points)
    return [*low.tolist(), *high.tolist()]


def _places(values: Floats, near: float) -> list[float]:
    """Return values that lie near each other as one, their middle."""
    order = np.sort(values)
    parts = np.split(order, np.flatnonzero(np.diff(order) > near) + 1)
    return [float(part.mean()) for part in parts if len(part)]


def _shown(lines: Floats, at: float, span: tuple[float, float], near: float) -> bool:
    """Return whether lines cover nearly all of a span."""
    rows = lines[np.abs(lines[:, 0] - at) <= near]
    reach, covered = span[0], 0.0
    for _, first, last in rows[np.argsort(rows[:, 1])]:
        first, last = max(first, reach), min(last, span[1])
        if last > first:
            covered, reach = covered + last - first, last
    return bool(covered >= _COVERED * (span[1] - span[0]))
