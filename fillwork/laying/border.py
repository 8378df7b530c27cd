"""Run a strip round a panel of straight sides, with a corner piece or a mitre.

The strip lies on the lower side as it was drawn, its lower edge outside. With a
mitre each side runs from its corners to its middle, and sides are mirror images of
each other in the lines that halve the corners. With a corner piece, the piece and
the side between two of them go round a rectangle by quarter turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.polygons import ring_curves
from fillwork.laying.cell import cut_corners
from fillwork.laying.clip import clip_curves, clip_to_ring
from fillwork.laying.field import lay_motif
from fillwork.laying.model import Panel
from fillwork.laying.moves import move_ends
from fillwork.laying.panel import panel_from_curves, rectangle_panel
from fillwork.laying.runs import join_runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Floats, Ints32
    from fillwork.geometry.affine import Affine
    from fillwork.laying.figures import Figures
    from fillwork.laying.model import Motif

UNSEEN = 1e-3
"""Share by which a repeat may always be longer: no eye sees it."""

_EASY = 0.025
"""Share by which one is made longer unless the maker says how much it may give."""


_Lines = tuple[Curves, "Ints32"]  # lines and their styles
_Told = tuple[str, float, float]  # sides in words, their stretch and the one wanted
_NAMES = ("lower and upper sides", "left and right sides")


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """Hold a corner piece, drawn for the lower left corner."""

    curves: Curves  # its lines, mm, from its lower left corner
    width: float  # width and height: its size, mm
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Border:
    """Hold a laid border."""

    curves: Curves  # lines, mm of the panel, without its edges
    style: Ints32  # (N,): their styles
    outline: Panel  # the panel that it runs round
    panel: Panel  # the ring that the border fills
    width: float  # width of the border, mm
    sides: tuple[str, ...] = ()  # sides that are alike, in words
    # share by which the repeat is longer along each of them
    stretch: tuple[float, ...] = ()
    wanted: tuple[float, ...] = ()  # the shares at which it would end on the corner
    apart: int = 0  # lines that end at a corner piece and meet none of its lines
    # how far an end of the corner piece was moved to meet the strip's, mm of the
    # drawing, at most
    closed: float = 0.0
    slip: float = 0.0  # how far the hand was off, mm of the panel

    @property
    def inset(self) -> tuple[float, float]:
        """Return where the field's box begins on the panel.

        Its lower left corner, mm.
        """
        x, y = self.panel.rings[1].min(axis=0).tolist()
        return x, y

    @property
    def field(self) -> Panel:
        """Return what the border leaves of the panel."""
        inner = ring_curves(self.panel.rings[1][::-1])
        return panel_from_curves([inner, *self.outline.edges[1:]])


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """Hold the motif along x, its lower edge at y = 0, and where it may turn."""

    motif: Motif
    place: Affine
    period: float
    width: float
    mirrors: bool


def border_panel(outline: Panel, border: float) -> Panel:
    """Return the ring between a panel's edge and the inner edge of its border.

    The panel with what the border leaves as a hole. `border`: width of the border, mm.
    Raises `LineWorkError` if the border leaves no room, or a side of the panel is no
    straight line.
    """
    import shapely

    corners = _corners(outline)
    turn = _Turns(corners)
    lean = turn.inward + np.tan(turn.angle / 2)[:, None] * turn.along
    inner = corners + border * lean
    step = np.roll(inner, -1, axis=0) - inner
    area = shapely.Polygon(inner)
    room = bool(((step * turn.along).sum(axis=1) > 1e-6).all()) and area.is_valid
    room = room and area.distance(shapely.LinearRing(corners)) > border - 1e-6
    if not room:
        what = f"a border {border:.1f} mm wide leaves no room inside the panel"
        raise LineWorkError(what, mend="lay it over a larger panel, or set --scale")
    for k, ring in enumerate(outline.rings[1:], 1):
        if not area.contains(shapely.LinearRing(ring)):
            what = f"a border {border:.1f} mm wide runs into opening {k} of the panel"
            raise LineWorkError(what, mend="make the border narrower")
    edge, start = ring_curves(corners), (0, len(corners))
    whole = Panel(outline.width, outline.height, edge, start, (corners,), False)
    return whole.with_hole(ring_curves(inner[::-1]), inner[::-1])


def _corners(outline: Panel) -> Floats:
    """Return a panel's corners, counter-clockwise."""
    if outline.rectangle:
        return rectangle_panel(outline.width, outline.height).rings[0]
    bent = outline.curves.kind[: outline.ring_start[1]] != LINE
    if bent.any():
        curved = int(bent.sum())
        sides = "1 side of the panel is" if curved == 1 else f"{curved} sides are"
        what = f"{sides} curved"
        mend = "draw them as straight lines; a border runs along straight sides alone"
        raise LineWorkError(what, mend=mend)
    ring = cut_corners(outline.rings[0], 1e-4 * max(outline.width, outline.height))
    return np.roll(ring, -int(np.lexsort((ring[:, 0], ring[:, 1]))[0]), axis=0)


class _Turns:
    """Hold the sides that begin at a ring's corners, and how it turns there."""

    def __init__(self, corners: Floats) -> None:
        step = np.roll(corners, -1, axis=0) - corners
        self.length = np.hypot(*step.T)
        self.along = step / self.length[:, None]
        self.inward = self.along @ np.array([[0.0, 1.0], [-1.0, 0.0]])
        before = np.roll(self.along, 1, axis=0)
        dot = (before * self.along).sum(axis=1)
        self.angle = np.arctan2(cross(before, self.along), dot)


def lay_border(
    motif: Motif,
    figures: Figures,
    outline: Panel,
    scale: float,
    *,
    corner: Corner | None = None,
    give: float | None = None,
    slack: float = 0.5,
) -> Border:
    """Return a strip run round a panel.

    `motif`: one repeat of the strip. `figures`: its symmetry. `scale`: panel length /
    drawn length. `corner`: a corner piece at the size of the drawing, for a rectangle;
    a mitre by default. `give`: share by which the repeat may be stretched to end on a
    corner, by default one that no eye sees. `slack`: how far the corner piece's lines
    may miss the strip's, mm of the drawing. Raises `LineWorkError` if there is no room,
    a side is curved, or the corner piece is of another width or not for corners of this
    panel.
    """
    give = _EASY if give is None else give
    strip = _strip(motif, figures, scale)
    panel = border_panel(outline, strip.width)
    size = (outline.width, outline.height)
    apart, closed = 0, 0.0
    if corner is None:
        laid, told = _mitred(strip, panel.rings[0], size, give)
    else:
        within = slack * scale
        corners = 0 if _is_box(panel.rings[0], size) else len(panel.rings[0])
        _require_fit(corner, strip.width, scale, slack, corners)
        laid, told, apart, far = _cornered(strip, corner, size, give, within)
        closed = far / scale
    curves = Curves.concatenate([lines for lines, _ in laid])
    style = np.concatenate([styles for _, styles in laid])
    near = 1e-7 * max(size)
    kept, origin = clip_curves(curves, panel.curves, panel.rings, near=10 * near)
    curves, style = join_runs(kept, style[origin], near=near)
    names, stretch, wanted = zip(*told, strict=True)
    return Border(
        curves, style, outline, panel, strip.width, names, stretch, wanted,
        apart, closed, scale * motif.slip,
    )  # fmt: skip


def _is_box(corners: Floats, size: tuple[float, float]) -> bool:
    """Return whether corners are those of the box of this size."""
    box = rectangle_panel(*size).rings[0]
    return len(corners) == 4 and bool(np.abs(corners - box).max() < 1e-6 * max(size))


def _require_fit(
    corner: Corner, width: float, scale: float, slack: float, corners: int
) -> None:
    """Raise `LineWorkError` where a corner piece does not fit a border.

    `width`: of the border, mm. `corners`: of a panel that is no rectangle, else 0.
    """
    if corners:
        what = (
            f"a corner piece goes round a rectangle; this panel has {corners} corners, "
            "or leans"
        )
        raise LineWorkError(what, mend="take --corner-piece mitre")
    for measure in (corner.width, corner.height):
        if abs(measure * scale - width) > slack * scale:
            what = (
                f"the corner piece is {corner.width:.2f} x {corner.height:.2f} mm, "
                f"the border {width / scale:.2f} mm wide"
            )
            mend = "draw it as a square as wide as the border"
            raise LineWorkError(what, mend=mend)


def _strip(motif: Motif, figures: Figures, scale: float) -> _Strip:
    along = motif.basis[0]
    if along[0] < -1e-9 * np.hypot(*along):
        along = -along
    angle = math.atan2(along[1], along[0])
    level = affine.compose(affine.scaling(scale, scale), affine.rotation(-angle))
    outline = np.vstack([affine.apply(g, motif.outline) for g in motif.operations])
    outline = affine.apply(level, outline)
    low, high = outline.min(axis=0), outline.max(axis=0)
    own = affine.apply(level, motif.outline)
    start = first = float(own[:, 0].min())
    period = scale * float(np.hypot(*along))
    mirrors = False
    for g in figures.operations:
        turned = affine.compose(level, affine.compose(g, affine.invert(level)))
        m = affine.linear(turned)
        if abs(m[0, 0] + 1) < 1e-4 and abs(m[1, 1] - 1) < 1e-4:
            # it begins at a mirror, at the one nearest the start of its cell
            half, start, mirrors = period / 2, turned[4] / 2, True
            start += half * round((first - start) / half)
    place = affine.compose(affine.translation(-start, -float(low[1])), level)
    width = float(high[1] - low[1])
    return _Strip(motif, place, period, width, mirrors)


def _run(strip: _Strip, first: float, last: float) -> _Lines:
    """Return the strip from one place along it to another, moved to x = 0."""
    # over the sides a little, so that lines on them are not taken for the edge
    window = rectangle_panel(last - first, strip.width + 2.0)
    place = affine.compose(affine.translation(-first, 1.0), strip.place)
    curves, style = lay_motif(strip.motif, window, place)
    return curves.transform(affine.translation(0.0, -1.0)), style


def _half_side(
    strip: _Strip, begin: float, lean: float, reach: float, stretch: float
) -> _Lines:
    """Return a side from its corner to where it meets its other half.

    The corner's part is as drawn. `begin` is the strip's place at the corner, and
    `lean` how far the line that halves the corner goes along for each mm inwards.
    """
    w = strip.width
    # the middle of the other half may lie nearer than the end of the corner
    turn = min(w * max(lean, 1.0), reach)
    start = min(0.0, (w + 1) * lean)
    near, style = _run(strip, begin + start, begin + turn)
    parts, styles = [near.transform((1, 0, 0, 1, start, 0))], [style]
    if reach - turn > 1e-9:
        last = begin + turn + (reach - turn) / (1 + stretch)
        far, style = _run(strip, begin + turn, last)
        parts.append(far.transform((1 + stretch, 0, 0, 1, turn, 0)))
        styles.append(style)
    ring = np.array([[-lean, -1], [reach, -1], [reach, w + 1], [(w + 1) * lean, w + 1]])
    kept, origin = clip_to_ring(Curves.concatenate(parts), ring, along=True)
    return kept, np.concatenate(styles)[origin]


def _meeting(
    strip: _Strip, length: float, begin: list[float], lean: list[float], give: float
) -> tuple[float, float, float]:
    """Return how far the first half of a side reaches, its stretch and the one wanted.

    Both halves come to one place of the strip, which is a mirror where that is wanted.
    """
    reach = (length + begin[1] - begin[0]) / 2
    turn = [strip.width * max(end, 1.0) for end in lean]
    free = length - sum(turn)
    if free <= 1e-9:
        return reach, 0.0, 0.0
    step = strip.period / 2 if strip.mirrors else strip.period
    at = [begin[k] + turn[k] for k in (0, 1)]
    count = max(round((free + sum(at)) / (2 * step)), 1)
    while count * step - max(at) <= 0.25 * step:
        count += 1
    wanted = free / (2 * count * step - sum(at)) - 1
    if abs(wanted) > max(give + 1e-9, UNSEEN):
        return reach, 0.0, wanted
    return turn[0] + (count * step - at[0]) * (1 + wanted), wanted, wanted


def _mitred(
    strip: _Strip, corners: Floats, size: tuple[float, float], give: float
) -> tuple[list[_Lines], list[_Told]]:
    """Return the strip along each side, half by half, and what is told of the sides."""
    turns = _Turns(corners)
    lean = np.tan(turns.angle / 2).tolist()
    n, w = len(corners), strip.width
    pairs = [[lean[k], lean[(k + 1) % n]] for k in range(n)]
    tried = []
    # at the middle of each corner a mirror of the strip, one sort or the other
    for phase in (0.0, strip.period / 2) if strip.mirrors else (0.0,):
        begins = [[phase - w / 2 * end for end in pair] for pair in pairs]
        met = [
            _meeting(strip, length, begin, pair, give)
            for length, begin, pair in zip(turns.length, begins, pairs, strict=True)
        ]
        tried.append((max(abs(wanted) for *_, wanted in met), begins, met))
    _, begins, met = min(tried, key=lambda row: row[0])
    laid: list[_Lines] = []
    made: dict[tuple[float, ...], _Lines] = {}
    for k, (reach, stretch, _) in enumerate(met):
        for end, far in enumerate((reach, float(turns.length[k]) - reach)):
            begin, leans = begins[k][end], pairs[k][end]
            key = (round(leans, 9), round(far, 6), round(stretch, 9))
            if key not in made:
                made[key] = _half_side(strip, begin, leans, far, stretch)
            curves, style = made[key]
            a, b = turns.along[k] * (-1 if end else 1)
            place = (a, b, *turns.inward[k], *corners[(k + end) % n])
            laid.append((curves.transform(place), style))
    names: Sequence[str] = _NAMES
    if not _is_box(corners, size):
        names = [f"sides of {_short(size)} mm" for size in turns.length.tolist()]
    # those that are alike are told once
    told: dict[tuple[object, ...], _Told] = {}
    for name, (_, stretch, wanted) in zip(names, met, strict=False):
        told.setdefault(
            (name, round(stretch, 4), round(wanted, 4)), (name, stretch, wanted)
        )
    return laid, list(told.values())


def _short(length: float) -> str:
    return f"{length:.1f}".removesuffix(".0")


def _cornered(
    strip: _Strip, corner: Corner, size: tuple[float, float], give: float, slack: float
) -> tuple[list[_Lines], list[_Told], int, float]:
    """Return the sides of a rectangle with its corner pieces, and what is told of them.

    `slack`: how far ends may miss each other, mm of the panel. Beside the lines and the
    sides, how many lines meet none at a corner piece, and how far ends were moved.
    """
    width = strip.width
    fit = width / max(corner.width, 1e-9)
    piece = corner.curves.transform(affine.scaling(fit, fit))
    sides = [_whole_side(strip, length, give) for length in size]
    near = max(slack, 1e-6 * width)
    ends = [_open_ends(sides[k][0][0], size[k], width, near) for k in (0, 1)]
    # each corner piece lies between the end of one side and the start of the next
    met = [_met(piece, ends[k][0], ends[1 - k][1], width, slack) for k in (0, 1)]
    w, h = size
    turns: tuple[Affine, ...] = (
        affine.IDENTITY,
        (0.0, 1.0, -1.0, 0.0, w, 0.0),
        (-1.0, 0.0, 0.0, -1.0, w, h),
        (0.0, -1.0, 1.0, 0.0, 0.0, h),
    )
    laid: list[_Lines] = []
    for k, turn in enumerate(turns):
        (curves, style), *_ = sides[k % 2]
        lines, *_ = met[k % 2]
        usual = np.full(len(lines), strip.motif.usual_style, np.int32)
        laid += [(curves.transform(turn), style), (lines.transform(turn), usual)]
    told = [(name, *side[1:]) for name, side in zip(_NAMES, sides, strict=True)]
    return laid, told, max(n for _, n, _ in met), max(far for *_, far in met)


def _whole_side(
    strip: _Strip, length: float, give: float
) -> tuple[_Lines, float, float]:
    """Return a side between two corner pieces, from x = the border's width.

    Beside it, its stretch and the one at which whole repeats would fill it.
    """
    free = length - 2 * strip.width
    count = max(round(free / strip.period), 1)
    wanted = free / (count * strip.period) - 1
    stretch = wanted if abs(wanted) <= max(give + 1e-9, UNSEEN) else 0.0
    run = free / (1 + stretch)
    # what is left over is cut alike at both corners
    first = (count * strip.period - run) / 2
    curves, style = _run(strip, first, first + run)
    moved = curves.transform((1 + stretch, 0, 0, 1, strip.width, 0))
    return (moved, style), stretch, wanted


def _open_ends(
    side: Curves, length: float, width: float, near: float
) -> tuple[Floats, Floats]:
    """Return the heights at which a side's lines begin and stop at corner pieces."""
    ends = np.vstack([side.starts(), side.ends()])
    ends = ends[(ends[:, 1] > 1e-6 * width) & (ends[:, 1] < (1 - 1e-6) * width)]
    at = (np.abs(ends[:, 0] - x) <= near for x in (width, length - width))
    first, last = (np.unique(np.round(ends[rows, 1], 6)) for rows in at)
    return first, last


def _met(
    piece: Curves, right: Floats, top: Floats, width: float, slack: float
) -> tuple[Curves, int, float]:
    """Return a corner piece with its ends on the strips'.

    Beside it, how many ends meet none, and how far one was moved at most.
    """
    ends = np.vstack([piece.starts(), piece.ends()])
    wanted, apart = ends.copy(), 0
    for axis, theirs in enumerate((right, top)):
        along = ends[:, 1 - axis]
        # a line along the edge of the border belongs to the edge
        rows = np.flatnonzero(
            (np.abs(ends[:, axis] - width) <= slack)
            & (along > slack)
            & (along < width - slack)
        )
        off = np.full((len(rows), len(theirs) + 1), np.inf)
        off[:, :-1] = np.abs(along[rows, None] - theirs)
        near = off.min(axis=1) <= slack
        wanted[rows[near], axis] = width
        wanted[rows[near], 1 - axis] = theirs[off[near].argmin(axis=1)]
        inner = (theirs > slack) & (theirs < width - slack)
        missed = off[:, :-1].min(axis=0, initial=np.inf) > slack
        apart += len(np.unique(np.round(along[rows[~near]], 6)))
        apart += int((missed & inner).sum())
    far = float(np.hypot(*(wanted - ends).T).max(initial=0.0))
    return move_ends(piece, wanted), apart, far
