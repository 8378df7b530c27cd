"""A field of repeats, with the border round it where there is one, as one drawing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.openings import OPENING
from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.border import Border, border_panel
from fillwork.laying.drawing import FRAME, as_linework
from fillwork.laying.field import lay_motif
from fillwork.laying.placing import shortest_period

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Ints32
    from fillwork.geometry.affine import Affine
    from fillwork.laying.figures import Figures
    from fillwork.laying.medallions import Medallion
    from fillwork.laying.model import Motif, Panel
    from fillwork.linework import LineWork
    from fillwork.notes import Note

BORDER = "border"
"""Layer of a border's lines."""

_LEAST, _MOST = 0.03, 0.25  # of the panel's shorter side; judged by eye


def moved_place(place: Affine, by: tuple[float, float]) -> Affine:
    """Return a place moved right and up.

    `place`: from the drawing's mm to the panel's. `by`: how far, mm.
    """
    return affine.compose(affine.translation(*by), place)


def plain_border(outline: Panel, width: float) -> Border:
    """Return a border without lines of its own; its two edges.

    `width`: its width, mm.
    """
    none = Curves.from_segments(np.empty((0, 4)))
    ring = border_panel(outline, width)
    return Border(none, np.empty(0, np.int32), outline, ring, width)


def rest_border(
    figures: Figures, size: tuple[float, float], scale: float, give: float
) -> tuple[float, float]:
    """Return the border that takes what whole repeats leave of a panel.

    `figures`: what one repeat shows. `size`: width and height of the panel, mm.
    `scale`: panel length / drawn length. `give`: how far the scale may be off, a share.
    Returns `width` and `scale`: the border's width, mm, equal on all sides, and the
    scale that makes it so. Raises `LineWorkError` if no scale near enough does; the one
    that would is told.
    """
    period = [shortest_period(figures.basis, axis) for axis in (0, 1)]
    if period[0] is None or period[1] is None:
        what = "the pattern does not repeat along both sides of the panel"
        raise LineWorkError(what, mend="say the border's width, such as --border 40mm")
    p, q = (scale * v for v in period if v is not None)
    (w, h), least = size, min(size)
    k, m = np.meshgrid(
        np.arange(1, int(w / p) + 2), np.arange(1, int(h / q) + 2), indexing="ij"
    )
    # w - 2 b = k p s and h - 2 b = m q s; of a square any s will do
    apart = k * p - m * q
    free = (abs(w - h) < 1e-6 * least) & (np.abs(apart) < 1e-6 * least)
    apart[np.abs(apart) < 1e-9 * least] = np.inf
    s = np.where(free, 1.0, (w - h) / apart)
    b = (w - k * p * s) / 2
    fits = (s > 0) & (_LEAST * least <= b) & (b <= _MOST * least)
    s, b = s[fits], b[fits]
    off = np.round(np.abs(s - 1), 9)
    good = np.flatnonzero(off <= give + 1e-6)
    if len(good):
        # of those near enough the narrowest
        best = good[np.lexsort((off[good], np.round(b[good], 6)))[0]]
        return float(b[best]), float(scale * s[best])
    what = "whole repeats leave no border of equal width"
    mend = "say the border's width, such as --border 40mm"
    if len(off):
        mend = f"allow another size with --scale-by {100 * off.min():.2g}%, or {mend}"
    raise LineWorkError(what, mend=mend)


def lay_whole(
    motif: Motif,
    field: Panel,
    place: Affine,
    drawn: LineWork,
    *,
    border: Border | None = None,
    medallion: Medallion | None = None,
    notes: Sequence[Note] = (),
) -> LineWork:
    """Return a laid field, and the border round it, as a drawing; at true size.

    `motif`: the lines of one repeat. `field`: what they fill, its box from the origin.
    `place`: from the drawing's mm to the whole panel's. `medallion`: what stands in the
    field, in its mm.
    """
    scale = affine.mean_scale(place)
    slip = max(scale * motif.slip, 0.0 if border is None else border.slip)
    drawn = replace(drawn, slip=slip)
    if border is None:
        curves, style = _lay_field(motif, field, place, medallion)
        return as_linework(curves, style, field, drawn, scale=scale, notes=notes)
    x, y = border.inset
    moved = moved_place(place, (-x, -y))
    inner, style = _lay_field(motif, field, moved, medallion)
    inner = inner.transform(affine.translation(x, y))
    row = len(drawn.styles)
    _, colour, pen, _ = drawn.styles[int(np.bincount(drawn.style).argmax())]
    both = Curves.concatenate([border.curves, inner])
    styles = np.concatenate([np.full(len(border.curves), row, np.int32), style])
    drawn = replace(drawn, styles=(*drawn.styles, (BORDER, colour, pen, False)))
    # with its field the ring of the border is the whole panel
    panel, holes = border.panel, border.outline
    for edge, ring in zip(holes.edges[1:], holes.rings[1:], strict=True):
        panel = panel.with_hole(edge, ring)
    panel = replace(panel, rectangle=holes.rectangle)
    layers = (FRAME, *(OPENING for _ in holes.rings[1:]))
    return as_linework(
        both, styles, panel, drawn, scale=scale, holes=layers, notes=notes
    )


def _lay_field(
    motif: Motif, field: Panel, place: Affine, medallion: Medallion | None
) -> tuple[Curves, Ints32]:
    """Return the lines of a field, and of what stands in it, with their styles."""
    if medallion is None:
        return lay_motif(motif, field, place)
    curves, style = lay_motif(motif, medallion.open_in(field), place)
    return (
        Curves.concatenate([curves, medallion.curves]),
        np.concatenate([style, medallion.style]),
    )
