"""Compose the picture of places: the panel as each good place would lay it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.laying.drawing import FRAME
from fillwork.renderers.contact import ContactCell, compose_contact
from fillwork.renderers.lines import line_items
from fillwork.renderers.scene import (
    Fills,
    Scene,
    circle_lines,
    segments,
    shapes_from_rings,
    single_lines,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats
    from fillwork.laying.open_joins import OpenJoin
    from fillwork.linework import LineWork

_CUT = "#e4e4e4"
_THIN = "#d9603b"
_PEN = 0.16  # mm on the page
_WIDE = 80.0  # mm, about what one panel takes on the page


@dataclass(frozen=True, slots=True, eq=False)
class PlaceCell:
    """Hold one place."""

    linework: LineWork  # the panel laid so, or the lower left part of it
    part: bool  # whether it is a part
    # ndarray of object: pieces that the edge cuts, as shapely polygons, mm
    pieces: NDArray[Any]
    thin: Bools  # which of them are too thin
    title: str  # what stands in the middle
    measures: tuple[tuple[str, str], ...]  # figures to show
    words: str  # a sentence under them


def compose_places(places: Sequence[PlaceCell], *, title: str) -> Scene:
    """Return the panel as each place lays it, numbered, best first; one page.

    `places`: eight at most.
    """
    cells = [ContactCell(p.title, _scene(p), (), p.measures, p.words) for p in places]
    shown = "Places, best first"
    if any(p.part for p in places):
        shown = "Places, best first, the lower left part of each"
    return compose_contact(
        cells,
        title=title,
        columns=(1, 2, 3, 4),
        one_page=True,
        subtitle=f"{shown}; cut figures grey, pieces under 5 mm red",
    )[0]


def compose_joins(joins: Sequence[OpenJoin], *, title: str, count: int) -> Scene:
    """Return joins that were left open, each with what lies round it; one page.

    `joins`: eight at most. `count`: how many there are.
    """
    cells = []
    for join in joins:
        apart = "none near" if join.apart is None else f"{join.apart:.2f} mm away"
        x, y = join.at
        measures = (("nearest end", apart),)
        scene = _join_scene(join)
        cells.append(ContactCell(f"at {x:.1f}, {y:.1f} mm", scene, (), measures, ""))
    shown = "" if count == len(joins) else f", the first {len(joins)} of {count}"
    return compose_contact(
        cells,
        title=title,
        columns=(1, 2, 3, 4),
        one_page=True,
        subtitle=f"Joins left open{shown}; places are mm of the cell's drawing, y up",
    )[0]


def _join_scene(join: OpenJoin) -> Scene:
    side = join.side
    pen = _PEN * side / _WIDE
    items: list[Any] = [
        single_lines(join.curves, 3 * pen),
        segments([[*join.end, *join.other]], 5 * pen, _THIN),
        circle_lines([join.end, join.other], 0.02 * side, 4 * pen, _THIN),
    ]
    return Scene(side, side, tuple(items), "an open join")


def _scene(place: PlaceCell) -> Scene:
    frame = place.linework.frame
    pen = _PEN * max(frame.width, frame.height) / _WIDE
    items: list[Any] = []
    for rows, colour in ((~place.thin, _CUT), (place.thin, _THIN)):
        polygons = place.pieces[rows]
        if len(polygons):
            shapes = shapes_from_rings([_rings(p) for p in polygons])
            items.append(Fills(shapes, np.arange(len(polygons)), colour, layer=""))
    lines = line_items(place.linework, width=pen)
    if place.part:
        lines = [item for item in lines if item.layer != FRAME]
        w, h = frame.width, frame.height
        lines.append(segments([[0, 0, w, 0], [0, 0, 0, h]], 3 * pen))
    items += lines
    return Scene(frame.width, frame.height, tuple(items), place.title)


def _rings(polygon: Any) -> list[Floats]:
    rings = [polygon.exterior, *polygon.interiors]
    return [np.array(r.coords)[:-1] for r in rings]
