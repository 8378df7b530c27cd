"""Pictures of what was laid: the good places, and the joins that were left open."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import Curves
from fillwork.geometry.polygons import ring_curves
from fillwork.printing import title_words

if TYPE_CHECKING:
    from fillwork.laying.border import Border
    from fillwork.laying.model import Panel, Placing
    from fillwork.laying.open_joins import OpenJoin
    from fillwork.pipeline.laying import Laid
    from fillwork.renderers.places import PlaceCell


_SHOWN_LINES = 2500  # in one picture of a place; more would be a grey field
_SHOWN_JOINS = 8
_LONG = 4.0  # times as long as wide: of such a panel a part is shown


def places_picture(laid: Laid) -> bytes:
    """Return the picture of places; a PNG."""
    from fillwork.renderers.encoders.png import to_png
    from fillwork.renderers.places import compose_places

    places = laid.placings
    if laid.placing not in places:
        places = (laid.placing, *places[:7])
    title = title_words(laid.linework.file)
    scene = compose_places([_cell(laid, p) for p in places], title=title)
    return to_png(scene, laid.plan.png_width)


def joins_picture(laid: Laid, joins: tuple[OpenJoin, ...]) -> bytes:
    """Return the picture of joins that were left open; a PNG. `joins`: at least one."""
    from fillwork.renderers.encoders.png import to_png
    from fillwork.renderers.places import compose_joins

    title = title_words(laid.linework.file)
    scene = compose_joins(joins[:_SHOWN_JOINS], title=title, count=len(joins))
    return to_png(scene, laid.plan.png_width)


def _cell(laid: Laid, place: Placing) -> PlaceCell:
    """Return one place as the picture shows it."""
    import shapely

    from fillwork.laying.placing import edge_pieces
    from fillwork.laying.whole import lay_whole, moved_place
    from fillwork.renderers.places import PlaceCell

    linework, border, field = laid.linework, laid.border, laid.field
    if field is None:
        assert border is not None
        none = np.empty(0, dtype=object)
        along = list(zip(border.sides, border.stretch, strict=True))[:3]
        names = "; ".join(name.removesuffix(" sides") for name, _ in along)
        stretched = (names, "; ".join(f"{100 * s:+.2f} %" for _, s in along))
        words = "How far the repeat is stretched to end on the corners."
        return PlaceCell(
            linework, False, none, np.empty(0, bool), place.middle, (stretched,), words
        )
    x, y = (0.0, 0.0) if border is None else border.inset
    lines = len(linework.curves)
    long = max(field.width / field.height, field.height / field.width) > _LONG
    part = field.rectangle and (long or lines > _SHOWN_LINES)
    shown = field
    if part:
        shown, border = _corner_of(
            field, border, min((_SHOWN_LINES / max(lines, 1)) ** 0.5, 1.0)
        )
    if part or place != laid.placing:
        inside = None if part else laid.medallion
        linework = lay_whole(
            laid.motif, shown, place.map, laid.drawn, border=border, medallion=inside
        )
    pieces = edge_pieces(laid.figures, field, moved_place(place.map, (-x, -y)))
    polygons = shapely.transform(pieces.polygons, lambda p: p + np.array([x, y]))
    smallest = f"{place.smallest:.1f} mm" if np.isfinite(place.smallest) else "none"
    measures = (
        ("smallest piece at the edge", smallest),
        ("pieces under 5 mm; under half", f"{place.small}; {place.halves}"),
        ("size against the drawing", f"{100 * place.scale / laid.scale:.4g} %"),
    )
    alike = "alike: " + ", ".join(place.alike) if place.alike else "no sides alike"
    title = place.middle or "as asked"
    return PlaceCell(linework, part, polygons, pieces.poor, title, measures, alike)


def _corner_of(
    field: Panel, border: Border | None, share: float
) -> tuple[Panel, Border | None]:
    """Return the lower left part of a field, and of the border round it."""
    from fillwork.laying.clip import clip_curves
    from fillwork.laying.panel import panel_from_curves, rectangle_panel

    outer = field if border is None else border.panel
    area = outer.width * outer.height * share**2
    # no longer than a picture of it is wide, whatever the panel's sides
    width = min(outer.width, (area * min(outer.width / outer.height, 2.0)) ** 0.5)
    width = min(outer.width, max(width, area**0.5))
    height = min(outer.height, area / width, 1.5 * width)
    width = min(width, _LONG * height)
    whole = rectangle_panel(width, height)
    if border is None:
        return whole, None
    inset = border.width
    part = rectangle_panel(
        min(max(width - inset, 1.0), field.width),
        min(max(height - inset, 1.0), field.height),
    )
    curves, origin = clip_curves(border.curves, whole.curves, whole.rings)
    inner = border.panel.curves.take(np.arange(4, 8))
    edge, _ = clip_curves(inner, whole.curves, whole.rings)
    # inside the part the border's inner edge is a line like others
    both = Curves.concatenate([curves, edge])
    style = np.concatenate([border.style[origin], np.zeros(len(edge), np.int32)])
    low, w, h = inset, inset + part.width, inset + part.height
    hole = np.array([[low, low], [low, h], [w, h], [w, low]])
    ring = panel_from_curves([whole.curves, ring_curves(hole)])
    shown = replace(border, curves=both, style=style, outline=whole, panel=ring)
    return part, shown
