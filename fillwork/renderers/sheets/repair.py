"""The sheet of a repair: the patch alone, at true size where a page holds it.

A circle is drawn with what lies round it, so that the old paint beside the patch
can be found; of a kind, the whole drawing shows where its regions are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.polygons import ring_sides
from fillwork.renderers.layout import Page
from fillwork.renderers.scene import (
    BLACK,
    Fills,
    Item,
    grey,
    segments,
    shapes_from_rings,
)
from fillwork.renderers.sheets.detail import Detail, compose_detail

if TYPE_CHECKING:
    from fillwork.plans.patch import Patch
    from fillwork.renderers.scene import Box
    from fillwork.renderers.sheets.parts import Parts


_TINT = 0.12
"""How black what is mended is tinted."""
_ROUND = 0.3
"""What is shown round a circle, in radii: enough to find the place."""
_LEAST = 0.05
_EDGE = 0.3
"""Width of the circle's line on paper, mm."""


def compose_repair(
    parts: Parts, papers: list[tuple[float, float]], patch: Patch, mirror: bool
) -> Detail:
    """Return the patch with its numbers, tinted, on one page.

    At true size, or as large as the page allows.

    `papers`: pages to choose from. `mirror`: whether the drawing is turned round.
    """
    window: Box = parts.box
    under: list[Item] = []
    over: list[Item] = []
    if patch.circle is None:
        rows = np.flatnonzero(patch.face_share > 0)
        under.append(Fills(parts.outlines, rows, grey(_TINT)))
    else:
        x, y, radius = patch.circle
        reach = radius * (1.0 + _ROUND)
        # less round it, where that keeps it at true size
        half = max(_width(Page(*paper)) for paper in papers) / 2 / parts.real_scale
        if radius * (1.0 + _LEAST) <= half < reach:
            reach = half
        left, bottom, right, top = parts.box
        window = (
            max(x - reach, left),
            max(y - reach, bottom),
            min(x + reach, right),
            min(y + reach, top),
        )
        angle = np.linspace(0.0, 2 * np.pi, 181)[:-1]
        ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius + (x, y)
        shape = shapes_from_rings([[ring]])
        under.append(Fills(shape, np.array([0]), grey(_TINT)))
        over.append(segments(ring_sides(ring), _EDGE / parts.real_scale, BLACK))
    words = f"The patch, {patch.words}"
    detail, _ = compose_detail(
        parts,
        papers,
        window,
        words,
        mirror,
        most=parts.real_scale,
        under=under,
        over=over,
        shown_only=patch.circle is not None,
    )
    return detail


def _width(page: Page) -> float:
    left, bottom, right, top = page.body
    return min(right - left, top - bottom)
