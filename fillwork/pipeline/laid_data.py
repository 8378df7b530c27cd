"""What the page shows of a laid cell: the pattern, the panel, the good places."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.pipeline.laying import lay_drawing, placing_values

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.plans.model import Plan

_FINE = 1e-3  # of the repeat's size: what a curve may be off on the page


def laid_data(
    source: bytes, plan: Plan, *, name: str = "", allow_large: bool = False
) -> dict[str, Any]:
    """Return what the page needs to move a laid cell about under its panel.

    Plain values; lengths in mm, y up, maps from the drawing to the panel. `plan`: the
    choices; a panel must be named.
    """
    import shapely

    laid = lay_drawing(source, plan, name=name, allow_large=allow_large)
    motif, field, border = laid.motif, laid.field, laid.border
    inset = (0.0, 0.0)
    if field is not None and border is not None:
        inset = border.inset
    window = laid.panel if field is None else field
    rings, still = window.rings, [] if border is None else [border.curves]
    if laid.medallion is not None:
        rings = laid.medallion.open_in(window).rings
        still.append(laid.medallion.curves.transform(affine.translation(*inset)))
    figures = shapely.get_exterior_ring(laid.figures.polygons)
    size = float(np.ptp(motif.outline, axis=0).max())
    return {
        "width": laid.panel.width,
        "height": laid.panel.height,
        "rings": [_flat(ring + inset) for ring in rings],
        "rectangle": window.rectangle,
        "border": _segments(Curves.concatenate(still), size) if still else [],
        "motif": [] if field is None else _segments(motif.curves, size),
        "basis": motif.basis.tolist(),
        "cell_middle": motif.outline.mean(axis=0).tolist(),
        "figures": [_flat(shapely.get_coordinates(ring)[:-1]) for ring in figures],
        "place": placing_values(laid.placing),
        "places": [placing_values(place) for place in laid.placings],
        "words": laid.table(),
    }


def _segments(curves: Curves, size: float) -> list[float]:
    return _flat(curves.flatten(_FINE * size)[0])


def _flat(values: Floats) -> list[float]:
    return np.round(values, 4).ravel().tolist()
