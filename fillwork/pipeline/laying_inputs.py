"""A panel, a corner piece and a border's strip as a plan keeps them: path data."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.polygons import ring_curves
from fillwork.laying.clip import curve_boxes

if TYPE_CHECKING:
    from fillwork.geometry.curves import Curves
    from fillwork.laying.border import Corner
    from fillwork.laying.model import Cell, Panel
    from fillwork.linework import LineWork
    from fillwork.plans.model import LayingSettings
    from fillwork.readers.scan.model import Choices


_CLEAR = 10.0  # mm


def outline_from(source: bytes, name: str) -> str:
    """Return the outline of a panel that a drawing shows, as path data.

    Path data in mm, y down, as it stands in plans. Raises `FillworkError` if the
    drawing cannot be read or closes nothing.
    """
    from fillwork.laying.panel import panel_from_outline
    from fillwork.readers import read_linework
    from fillwork.renderers.encoders.pathtext import svg_paths

    drawing = read_linework(source, name=name, scope="auto")
    panel = panel_from_outline(drawing)
    flipped = panel.curves.transform((1, 0, 0, -1, 0, panel.height))
    text = svg_paths(flipped, 6)
    return "".join(
        text.path(a, b, True) for a, b in itertools.pairwise(panel.ring_start)
    )


def corner_from(source: bytes, name: str) -> tuple[str, tuple[float, float]]:
    """Return a corner piece as path data, and its size.

    `source`: the drawing; its page is the piece. Returns `data`: path data in mm, y
    down, as it stands in plans; `size`: width and height of the page, mm. Raises
    `FillworkError` if the drawing cannot be read.
    """
    from fillwork.readers import read_linework

    drawing = read_linework(source, name=name)
    frame = drawing.frame
    return _path_data(drawing.curves, frame.height), (frame.width, frame.height)


def border_from(
    source: bytes,
    name: str,
    cell: tuple[str, ...],
    leave: tuple[str, ...] = (),
    picture: Choices | None = None,
) -> dict[str, Any]:
    """Return a border's strip as the fields of `LayingSettings` keep it.

    `source`: the drawing of one repeat, or of several, or of a panel in its border:
    then with the border's corner piece, and the plain lines beside it. `cell`:
    selectors of the guide lines that bound a cell; a drawing without such lines is
    taken by its repeat or its outline. `leave`: selectors of lines left out. `picture`:
    how a picture is traced. Raises `FillworkError` if the drawing cannot be read.
    """
    from fillwork.errors import LineWorkError
    from fillwork.laying.cell import default_slack, find_cell
    from fillwork.laying.frames import find_frame
    from fillwork.readers import read_linework

    guide = None
    if cell:
        try:
            guide = read_linework(
                source, name=name, lines=cell, scope="both", picture=picture
            )
        except LineWorkError:  # the guide lines are those of the field alone
            cell = ()
    drawn = read_linework(source, name=name, leave=(*cell, *leave), picture=picture)
    frame = find_frame(drawn) if guide is None else None
    if frame is None:
        slack = max(default_slack(drawn), 0.01)
        strip = find_cell(drawn, guide, slack=slack, strip=True)
    else:
        strip = frame.strip
    # clear of the page's edge, where the reader would cut what lies a hair beyond it
    box = curve_boxes(strip.curves)
    low = np.minimum(box[:, :2].min(axis=0), strip.outline.min(axis=0))
    high = np.maximum(box[:, 3].max(), strip.outline[:, 1].max())
    height, aside = float(high) + _CLEAR, _CLEAR - float(low[0])
    outline = ring_curves(strip.outline)
    found: dict[str, Any] = {
        "border": _path_data(strip.curves, height, aside),
        "border_cell": _path_data(outline, height, aside),
        "lines_outside": () if frame is None else frame.outside,
        "lines_inside": () if frame is None else frame.inside,
    }
    if frame is not None and frame.corner is not None:
        piece = frame.corner
        found["corner"] = _path_data(piece.curves, piece.height)
        found["corner_size"] = (round(piece.width, 6), round(piece.height, 6))
    return found


def panel_of(laying: LayingSettings) -> Panel:
    """Return the panel that a plan names; its box begins at the origin.

    Raises `PlanError` if none is named.
    """
    from fillwork.errors import PlanError
    from fillwork.laying.panel import panel_from_outline, rectangle_panel

    if not laying.outline:
        if laying.over is None:
            what = "the plan gives no panel to lay the cell over"
            raise PlanError(what, mend="give --over W,H or --outline")
        return rectangle_panel(*laying.over)
    return panel_from_outline(_lines(laying.outline, "the panel's outline"))


def corner_piece(laying: LayingSettings) -> Corner | None:
    """Return the corner piece of a plan; None for a mitre."""
    from fillwork.laying.border import Corner

    if not laying.corner or laying.corner_size is None:
        return None
    width, height = laying.corner_size
    lines = _lines(laying.corner, "the corner piece")
    curves = lines.curves.transform((1, 0, 0, 1, 0, height - lines.frame.height))
    return Corner(curves, width, height)


def border_cell(laying: LayingSettings) -> tuple[Cell, LineWork]:
    """Return one repeat of the strip of a plan's border, and its drawing.

    `laying`: the choices; `border` and `border_cell` count. One repeat of the strip;
    its lines.
    """
    from fillwork.laying.cell import find_cell

    strip = _lines(laying.border, "the border's strip")
    guide = _lines(laying.border_cell, "the outline of the border's cell")
    return find_cell(strip, guide, slack=0.01, strip=True), strip


def _path_data(curves: Curves, height: float, aside: float = 0.0) -> str:
    from fillwork.renderers.encoders.pathtext import lines_path

    return lines_path(curves.transform((1, 0, 0, -1, aside, height)), 6)


def _lines(data: str, name: str) -> LineWork:
    """Return the lines of path data in mm, y down from the top of a page."""
    from fillwork.readers import read_linework

    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100000mm" height="100000mm" '
        'viewBox="0 0 100000 100000">'
        f'<path d="{data}" fill="none" stroke="black" stroke-width="0.1"/></svg>'
    )
    return read_linework(text.encode(), name=name)
