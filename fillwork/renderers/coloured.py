"""Compose the coloured drawing: fills by swatch, the painted line on top."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.colouring.outline import outline_hex
from fillwork.colouring.vision import view_palette
from fillwork.errors import RenderError
from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import Curves
from fillwork.plans.areas import has_own_shape, outline_width
from fillwork.renderers.encoders.chains import edge_paths
from fillwork.renderers.scene import (
    COLOURS,
    OUTLINES,
    WHITE,
    Box,
    Fills,
    Item,
    Picture,
    Placed,
    Scene,
    Strokes,
    rectangle,
)
from fillwork.units import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.arrays import Bools
    from fillwork.colouring.model import Colouring
    from fillwork.symmetry.model import Orbits

MARGIN = 0.05
"""Margin round the coloured drawing, as a share of its longer side."""


def drawing_box(arrangement: Arrangement) -> Box:
    """Return the box of all regions.

    Left, bottom, right, top, mm; that of the page when there is no region.
    """
    if arrangement.face_count < 2 or arrangement.edge_count == 0:
        return (0.0, 0.0, arrangement.frame.width, arrangement.frame.height)
    # what bounds the regions from outside reaches as far as they all do
    sides = arrangement.face.reshape(-1, 2)
    outer = np.flatnonzero((sides == 0).any(axis=1))
    chords, _, _ = half_edge_curves(arrangement, 2 * outer).flatten(
        max(float(np.sqrt(arrangement.area.max())) * 1e-4, 1e-9)
    )
    low, high = bounds(chords.reshape(-1, 2))
    return (*low.tolist(), *high.tolist())


def outline_pen(arrangement: Arrangement, colouring: Colouring) -> tuple[str, float]:
    """Return colour and width of the painted line.

    `colouring`: its rules may name a swatch or a hex, a width, or ``none``. Returns
    `colour`: ``#rrggbb``, or empty for no line; `width`: width, mm: by default 0.35, or
    a thirtieth of the median region's width (the root of its area) if that is less.
    Raises `RenderError` if the swatch is unknown.
    """
    rules = colouring.rules
    try:
        colour = outline_hex(colouring.palette, rules)
    except KeyError:
        what = f"the outline's swatch “{rules.outline}” is not in the palette"
        mend = "name one of its swatches, or #rrggbb"
        raise RenderError(what, mend=mend) from None
    if colour is None:
        return "", 0.0
    if rules.outline_width is not None:
        return colour, float(rules.outline_width)
    return colour, outline_width(arrangement)


def swatch_fills(
    outlines: Outlines,
    orbits: Orbits,
    colouring: Colouring,
    *,
    faces: Bools | None = None,
) -> list[Fills]:
    """Return the fills of regions, one group a swatch, in the order of the palette.

    `faces` (F,): which faces; all by default.
    """
    letters = tuple(orbit.letter for orbit in orbits.orbits)
    fills = []
    for place, swatch in enumerate(colouring.palette.swatches):
        chosen = colouring.of_face == place
        if faces is not None:
            chosen = chosen & faces
        rows = np.flatnonzero(chosen)
        rows = rows[rows > 0]
        if len(rows) == 0:
            continue
        fills.append(
            Fills(
                outlines,
                rows,
                swatch.hex,
                code=swatch.code,
                name=swatch.name,
                kind=orbits.of_face[rows].astype(np.int32),
                kinds=letters,
            )
        )
    return fills


def outline_strokes(
    arrangement: Arrangement,
    width: float,
    colour: str,
    *,
    edges: Bools | None = None,
    loose: bool = True,
) -> Strokes:
    """Return the outlines of all regions as one item, each edge once.

    Lines with mitred joins. `width`: width of the line, mm. `colour`: ``#rrggbb``.
    `edges` (E,): which edges; all by default. `loose`: whether drawn lines that bound
    no region are among them, such as a curl that ends free.
    """
    curves, start, closed = edge_paths(arrangement, edges)
    if loose and len(arrangement.loose):
        extra = np.arange(1, len(arrangement.loose) + 1)
        curves = Curves.concatenate([curves, arrangement.loose])
        start = np.concatenate([start, start[-1] + extra])
        closed = np.concatenate([closed, np.zeros(len(extra), bool)])
    return Strokes(curves, start, closed, width, colour, layer=OUTLINES)


def _backing(
    arrangement: Arrangement, colouring: Colouring, colours: Sequence[str]
) -> list[Item]:
    """Return lines below the fills, so that no light shows between them.

    Many programs blend the rims of two fills that meet with what lies below. A
    line in the colour of one of the two, drawn first, keeps that blend in tune.
    """
    left = colouring.of_face[arrangement.face[0::2]]
    right = colouring.of_face[arrangement.face[1::2]]
    inner = (left >= 0) & (right >= 0)
    width = outline_width(arrangement) / 2
    items: list[Item] = []
    for place in np.unique(left[inner]).tolist():
        paths = edge_paths(arrangement, inner & (left == place))
        colour = colours[place]
        items.append(Strokes(*paths, width, colour, join="round", layer=COLOURS))
    return items


def compose_coloured(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    colouring: Colouring,
    *,
    view: str = "normal",
    title: str = "",
    window: Box | None = None,
) -> Scene:
    """Return the coloured drawing at its own size with a margin of 5 % around.

    `view`: one of `VIEWS`, such as what a colour-blind eye sees. `title`: title of the
    file; nothing of it shows in the picture. `window`: part of the scene that will be
    seen; the rest may be missing. Raises `RenderError` if the outline's swatch is
    unknown.
    """
    shown = replace(colouring, palette=view_palette(colouring.palette, view))
    colours = [swatch.hex for swatch in shown.palette.swatches]
    left, bottom, right, top = box = drawing_box(arrangement)
    margin = MARGIN * max(right - left, top - bottom)
    width, height = coloured_size(box)
    faces = edges = None
    if window is not None:
        seen = (
            window[0] + left - margin,
            window[1] + bottom - margin,
            window[2] + left - margin,
            window[3] + bottom - margin,
        )
        faces = _faces_near(arrangement, seen)
        edges = faces[arrangement.face[0::2]] | faces[arrangement.face[1::2]]
    ground = WHITE
    if colouring.ground is not None:
        ground = colours[colouring.ground]
    items: list[Item] = []
    pen, pen_width = outline_pen(arrangement, colouring)
    if pen and view != "normal":
        own = [swatch.hex.lower() for swatch in colouring.palette.swatches]
        pen = dict(zip(own, colours, strict=True)).get(pen.lower(), pen)
    if not pen:
        items += _backing(arrangement, colouring, colours)
    items += swatch_fills(outlines, orbits, shown, faces=faces)
    if pen:
        items.append(outline_strokes(arrangement, pen_width, pen, edges=edges))
    picture = Picture(tuple(items), (left, bottom, right, top))
    place = affine.translation(margin - left, margin - bottom)
    page: list[Item] = []
    if colouring.ground is not None and not has_own_shape(arrangement):
        page += rectangle((0, 0, width, height), fill=ground)
    page.append(Placed(picture, place, alt=_describe(arrangement, orbits, title)))
    return Scene(width, height, tuple(page), title=title, name="coloured", paper=WHITE)


def coloured_size(box: Box) -> tuple[float, float]:
    """Return the size of the coloured drawing's scene.

    `box`: box of all regions, from `drawing_box`, mm. Returns width and height with the
    margins, mm.
    """
    left, bottom, right, top = box
    margin = MARGIN * max(right - left, top - bottom)
    return right - left + 2 * margin, top - bottom + 2 * margin


def _faces_near(arrangement: Arrangement, window: Box) -> Bools:
    """Return the faces whose boxes come near a window, face 0 left out."""
    corner = arrangement.vertices[arrangement.origin]
    low = np.full((arrangement.face_count, 2), np.inf)
    high = np.full((arrangement.face_count, 2), -np.inf)
    np.minimum.at(low, arrangement.face, corner)
    np.maximum.at(high, arrangement.face, corner)
    # curves may reach beyond the corners by as much again
    slack = (high - low).max(axis=1, keepdims=True, initial=0.0)
    slack = np.where(np.isfinite(slack), slack, 0.0) + 0.1 * (window[2] - window[0])
    below = np.asarray((low - slack <= window[2:]).all(axis=1))
    above = np.asarray((high + slack >= window[:2]).all(axis=1))
    near: Bools = below & above
    near[0] = False
    return near


def _describe(arrangement: Arrangement, orbits: Orbits, title: str) -> str:
    head = f"{title}: " if title else ""
    regions = counted(arrangement.face_count - 1, "region")
    kinds = counted(len(orbits.orbits), "kind")
    return f"{head}coloured drawing, {regions} of {kinds}"
