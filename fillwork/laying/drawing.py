"""What was laid as the line work of a drawing, so that every stage takes it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.openings import OPENING
from fillwork.geometry.affine import IDENTITY
from fillwork.geometry.curves import Curves
from fillwork.linework import Frame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Ints32
    from fillwork.laying.model import Panel
    from fillwork.linework import LineWork
    from fillwork.notes import Note

FRAME = "frame"
"""Layer of the panel's edge."""


def as_linework(
    curves: Curves,
    style: Ints32,
    panel: Panel,
    drawn: LineWork,
    *,
    scale: float,
    holes: Sequence[str] = (),
    notes: Sequence[Note] = (),
) -> LineWork:
    """Return laid lines and the panel's edge as a drawing at true size.

    One stroke a line; the edge is on the layer ``frame``. `curves`: lines on the panel,
    mm. `style` (N,): row of the cell's table of styles for each. `drawn`: the drawing
    of the cell: its file and styles stay. `scale`: panel length / drawn length, for the
    widths of lines. `holes`: layers of the edges of the panel's holes; openings by
    default.
    """
    styles = [
        (layer, colour, None if width is None else width * scale, dash)
        for layer, colour, width, dash in drawn.styles
    ]
    widths = [w for *_, w, _ in styles if w]
    edge_style = len(styles)
    width = min(widths, default=0.35)
    rings = len(panel.rings)
    layers = (FRAME, *(holes or (OPENING,) * (rings - 1)))
    names = list(dict.fromkeys(layers))
    styles += [(name, "#000000", width, False) for name in names]
    both = Curves.concatenate([curves, panel.curves])
    start = np.r_[np.arange(len(curves)), len(curves) + np.array(panel.ring_start)]
    count = len(curves) + rings
    edge = np.array([edge_style + names.index(name) for name in layers])
    whole = np.hypot(*(curves.starts() - curves.ends()).T) < 1e-9
    return replace(
        drawn,
        curves=both,
        stroke_start=start.astype(np.int32),
        closed=np.concatenate([whole, np.ones(rings, bool)]),
        style=np.concatenate([style, edge]).astype(np.int32),
        styles=tuple(styles),
        source_line=np.zeros(count, np.int32),
        source_name=("laid",) * len(curves) + layers,
        # a page that is not the panel would close regions beside it
        frame=Frame(
            panel.width, panel.height, IDENTITY, "mm", True, has_page=panel.rectangle
        ),
        notes=(*drawn.notes, *notes),
    )
