"""Run a strip round a rectangular panel, with a corner piece or a mitre.

The strip lies on the lower side as it was drawn, its lower edge outside. With a
mitre each side runs from its corners to its middle, and sides are mirror images of
each other in the diagonals. With a corner piece, the piece and the side between two
of them go round by quarter turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.clip import clip_curves
from fillwork.laying.field import lay_motif
from fillwork.laying.joins import move_ends
from fillwork.laying.model import Panel
from fillwork.laying.panel import rectangle_panel
from fillwork.laying.runs import join_runs

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine
    from fillwork.laying.figures import Figures
    from fillwork.laying.model import Motif

__all__ = ["Border", "Corner", "border_panel", "lay_border"]


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """Hold a corner piece, drawn for the lower left corner.

    Parameters
    ----------
    curves : Curves
        Its lines, mm, from its lower left corner.
    width, height : float
        Its size, mm.
    """

    curves: Curves
    width: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Border:
    """Hold a laid border.

    Parameters
    ----------
    curves : Curves
        Lines, mm of the panel, without its edges.
    style : ndarray of int32, shape (N,)
        Their styles.
    panel : Panel
        The ring that the border fills.
    width : float
        Width of the border, mm.
    stretch : tuple of float
        Share by which the repeat is longer along the lower side and the left side.
    wanted : tuple of float
        The shares at which it would end on the corner.
    apart : int
        Lines that end at a corner piece and meet none of its lines.
    closed : float
        How far an end of the corner piece was moved to meet the strip's, mm of the
        drawing, at most.
    """

    curves: Curves
    style: NDArray[np.int32]
    panel: Panel
    width: float
    stretch: tuple[float, float]
    wanted: tuple[float, float]
    apart: int = 0
    closed: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """Hold the motif along x, its lower edge at y = 0, and where it may turn."""

    motif: Motif
    place: Affine
    period: float
    width: float
    mirrors: bool


def border_panel(width: float, height: float, border: float) -> Panel:
    """Return the ring between a panel's edge and the inner edge of its border.

    Parameters
    ----------
    width, height : float
        Size of the panel, mm.
    border : float
        Width of the border, mm.

    Returns
    -------
    Panel
        A rectangle with a rectangular hole.

    Raises
    ------
    LineWorkError
        If the border leaves no room.
    """
    if 2 * border >= min(width, height) - 1e-6:
        what = f"a border {border:.1f} mm wide leaves no room inside the panel"
        raise LineWorkError(what, mend="lay it over a larger panel, or set --scale")
    outer = rectangle_panel(width, height)
    inner = outer.rings[0].copy()
    inner = np.clip(inner, border, np.array([width, height]) - border)[::-1]
    edge = Curves.from_segments(np.hstack([inner, np.roll(inner, -1, axis=0)]))
    return Panel(
        width,
        height,
        Curves.concatenate([outer.curves, edge]),
        (0, 4, 8),
        (outer.rings[0], inner),
        False,
    )


def lay_border(
    motif: Motif,
    figures: Figures,
    size: tuple[float, float],
    scale: float,
    *,
    corner: Corner | None = None,
    give: float = 0.0,
    slack: float = 0.5,
) -> Border:
    """Return a strip run round a panel.

    Parameters
    ----------
    motif : Motif
        One repeat of the strip.
    figures : Figures
        Its symmetry.
    size : tuple of float
        Width and height of the panel, mm.
    scale : float
        Panel length / drawn length.
    corner : Corner, optional
        A corner piece at the size of the drawing; a mitre by default.
    give : float
        Share by which the repeat may be stretched to end on a corner.
    slack : float
        How far the corner piece's lines may miss the strip's, mm of the drawing.

    Returns
    -------
    Border
        The lines.

    Raises
    ------
    LineWorkError
        If there is no room, or the corner piece is of another width.
    """
    strip = _strip(motif, figures, scale)
    panel = border_panel(*size, strip.width)
    if corner is None:
        # at the middle of each corner a mirror of the strip, one sort or the other
        phases = (0.0, strip.period / 2) if strip.mirrors else (0.0,)
        tried = [[_half_side(strip, n, p, give) for n in size] for p in phases]
        sides = min(tried, key=lambda pair: max(abs(side[3]) for side in pair))
        parts, styles = _mitred(sides, size)
        apart, closed = 0, 0.0
    else:
        for measure in (corner.width, corner.height):
            if abs(measure * scale - strip.width) > slack * scale:
                what = (
                    f"the corner piece is {corner.width:.2f} x {corner.height:.2f} mm, "
                    f"the border {strip.width / scale:.2f} mm wide"
                )
                mend = "draw it as a square as wide as the border"
                raise LineWorkError(what, mend=mend)
        sides = [_whole_side(strip, length, give) for length in size]
        fit = strip.width / max(corner.width, 1e-9)
        piece = corner.curves.transform(affine.scaling(fit, fit))
        ends = [_open_ends(sides[k][0], size[k], strip.width) for k in (0, 1)]
        # each corner piece lies between the end of one side and the start of the next
        met = [
            _met(piece, ends[k][0], ends[1 - k][1], strip.width, slack * scale)
            for k in (0, 1)
        ]
        apart = max(n for _, n, _ in met)
        closed = max(moved for *_, moved in met) / scale
        usual = int(np.bincount(motif.style).argmax()) if len(motif.style) else 0
        parts, styles = _turned(sides, [m[0] for m in met], usual, size)
    curves, style = Curves.concatenate(parts), np.concatenate(styles)
    near = 1e-7 * max(size)
    kept, origin = clip_curves(curves, panel.curves, panel.rings, near=10 * near)
    curves, style = join_runs(kept, style[origin], near=near)
    return Border(
        curves=curves,
        style=style,
        panel=panel,
        width=strip.width,
        stretch=(sides[0][2], sides[1][2]),
        wanted=(sides[0][3], sides[1][3]),
        apart=apart,
        closed=closed,
    )


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
    start, mirrors = float(own[:, 0].min()), False
    for g in figures.operations:
        turned = affine.compose(level, affine.compose(g, affine.invert(level)))
        m = affine.linear(turned)
        if abs(m[0, 0] + 1) < 1e-4 and abs(m[1, 1] - 1) < 1e-4:
            start, mirrors = turned[4] / 2, True
    place = affine.compose(affine.translation(-start, -float(low[1])), level)
    period = scale * float(np.hypot(*along))
    return _Strip(motif, place, period, float(high[1] - low[1]), mirrors)


_Side = tuple[Curves, "NDArray[np.int32]", float, float]


def _run(strip: _Strip, first: float, last: float) -> tuple[Curves, NDArray[np.int32]]:
    """Return the strip from one place along it to another, moved to x = 0."""
    window = rectangle_panel(last - first, strip.width)
    # over the sides a little, so that lines on them are not taken for the edge
    wide = Panel(
        window.width,
        window.height + 2.0,
        rectangle_panel(window.width, window.height + 2.0).curves,
        (0, 4),
        rectangle_panel(window.width, window.height + 2.0).rings,
        True,
    )
    place = affine.compose(affine.translation(-first, 1.0), strip.place)
    curves, style = lay_motif(strip.motif, wide, place)
    return curves.transform(affine.translation(0.0, -1.0)), style


def _half_side(strip: _Strip, length: float, phase: float, give: float) -> _Side:
    """Return half of a side from its corner, the corner's part as drawn."""
    begin = phase - strip.width / 2
    turn = begin + strip.width
    free = length / 2 - strip.width
    step = strip.period / 2 if strip.mirrors else strip.period
    count = max(round((turn + free) / step), 1)
    while count * step - turn <= 0.25 * step:
        count += 1
    wanted = free / (count * step - turn) - 1
    stretch = wanted if abs(wanted) <= give + 1e-9 else 0.0
    near, near_style = _run(strip, begin, turn)
    far, far_style = _run(strip, turn, turn + free / (1 + stretch))
    far = far.transform((1 + stretch, 0, 0, 1, strip.width, 0))
    both = Curves.concatenate([near, far])
    style = np.concatenate([near_style, far_style])
    w, half = strip.width, length / 2
    ring = np.array([[0.0, -1.0], [half, -1.0], [half, w + 1.0], [w + 1, w + 1]])
    ring[0, 0] = -1.0
    edge = Curves.from_segments(np.hstack([ring, np.roll(ring, -1, axis=0)]))
    kept, origin = clip_curves(both, edge, [ring], along=True)
    return kept, style[origin], stretch, wanted


def _whole_side(strip: _Strip, length: float, give: float) -> _Side:
    """Return a side between two corner pieces, from x = the border's width."""
    free = length - 2 * strip.width
    count = max(round(free / strip.period), 1)
    wanted = free / (count * strip.period) - 1
    stretch = wanted if abs(wanted) <= give + 1e-9 else 0.0
    run = free / (1 + stretch)
    # what is left over is cut alike at both corners
    first = (count * strip.period - run) / 2
    curves, style = _run(strip, first, first + run)
    moved = curves.transform((1 + stretch, 0, 0, 1, strip.width, 0))
    return moved, style, stretch, wanted


def _mitred(
    sides: list[_Side], size: tuple[float, float]
) -> tuple[list[Curves], list[NDArray[np.int32]]]:
    w, h = size
    across: Affine = (-1.0, 0.0, 0.0, 1.0, w, 0.0)
    up: Affine = (1.0, 0.0, 0.0, -1.0, 0.0, h)
    swap: Affine = (0.0, 1.0, 1.0, 0.0, 0.0, 0.0)
    parts, styles = [], []
    for k, (curves, style, *_) in enumerate(sides):
        base = curves.transform(swap) if k else curves
        for m in (affine.IDENTITY, across, up, affine.compose(across, up)):
            parts.append(base.transform(m))
            styles.append(style)
    return parts, styles


def _turned(
    sides: list[_Side],
    pieces: list[Curves],
    style_of_piece: int,
    size: tuple[float, float],
) -> tuple[list[Curves], list[NDArray[np.int32]]]:
    w, h = size
    turns: tuple[Affine, ...] = (
        affine.IDENTITY,
        (0.0, 1.0, -1.0, 0.0, w, 0.0),
        (-1.0, 0.0, 0.0, -1.0, w, h),
        (0.0, -1.0, 1.0, 0.0, 0.0, h),
    )
    parts, styles = [], []
    for k, turn in enumerate(turns):
        curves, style, *_ = sides[k % 2]
        piece = pieces[k % 2]
        parts += [curves.transform(turn), piece.transform(turn)]
        styles += [style, np.full(len(piece), style_of_piece, np.int32)]
    return parts, styles


def _open_ends(
    side: Curves, length: float, width: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the heights at which a side's lines begin and stop at corner pieces."""
    ends = np.vstack([side.starts(), side.ends()])
    ends = ends[(ends[:, 1] > 1e-6 * width) & (ends[:, 1] < (1 - 1e-6) * width)]
    at = (np.abs(ends[:, 0] - x) <= 1e-6 * width for x in (width, length - width))
    first, last = (np.unique(np.round(ends[rows, 1], 6)) for rows in at)
    return first, last


def _met(
    piece: Curves,
    right: NDArray[np.float64],
    top: NDArray[np.float64],
    width: float,
    slack: float,
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
