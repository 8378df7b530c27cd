"""Fills by patterns of tiles, as ISO 32000-1 defines them (section 8.7.3).

Where the box of a pattern is larger than its steps, tiles lie over each other: what
reaches into one from those around is drawn in it as well.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pikepdf

from fillwork.geometry import affine
from fillwork.readers.pdf.functions import BROKEN
from fillwork.readers.pdf.state import State, rectangle, table_of
from fillwork.readers.strokes.collect import drop_wild
from fillwork.readers.strokes.patterns import (
    MOST_DEEP,
    Laid,
    add_tiles,
    edge_and_line,
    fit_tiles,
    has_area,
)
from fillwork.readers.strokes.tiles import Grid, make_tile

if TYPE_CHECKING:
    from fillwork.readers.pdf.content import Painter
    from fillwork.readers.pdf.state import Path, Tiling
    from fillwork.readers.strokes.collect import Context, StrokeTable
    from fillwork.readers.strokes.tiles import Tile

_MOST_OVER = 25  # tiles that may reach into one
_HAIR = 1e-3  # of a step: a box that is larger by no more is rounded


def fill_by_tiles(
    painter: Painter, path: Path, state: State, *, stroked: bool, even_odd: bool
) -> None:
    """Draw a path, and the tiles that it is filled with.

    `painter`: where they go. `state`: the graphics state, with a pattern. `stroked`:
    whether its line is drawn too. `even_odd`: its fill rule.
    """
    assert state.pattern is not None
    fill = f"tiles {state.pattern.stream.objgen}"
    about = painter.about(state, stroked, True, even_odd)
    about = about._replace(gradient=False, fill=fill)
    edge, line = edge_and_line(about)
    shape = drop_wild(table_of(path), 1e12)[0]
    laid = _fit(painter, about, shape, state.pattern)
    if isinstance(laid, str):
        # its outline alone: what fills it is not known
        if laid:
            painter.doubt(f"a shape {laid}: its outline alone is used")
        alone = line if stroked else edge._replace(gradient=True)
        painter.add_path(path, painter.number(alone))
        return
    if laid is not None:
        edge = edge._replace(covers=about.covers and laid.tile.opaque)
        if edge.covers or not stroked:
            painter.add_path(path, painter.number(edge))
        add_tiles(painter, about, shape, laid)
    if stroked:
        painter.add_path(path, painter.number(line))


def _fit(
    painter: Painter, about: Context, shape: StrokeTable, tiling: Tiling
) -> Laid | str | None:
    """Return the tiles of a shape.

    None where they paint nothing; a reason where it is not known what is seen, empty
    for what is no line work.
    """
    stream = tiling.stream
    name = stream.objgen
    if not len(shape.closed):
        return None
    if name in painter.laying:
        return "is filled by a pattern that refers to itself"
    if len(painter.laying) >= MOST_DEEP:
        return f"stands in patterns more than {MOST_DEEP} deep"
    try:
        x0, y0, x1, y1 = (float(v) for v in stream["/BBox"])
        steps = [abs(float(stream[key])) for key in ("/XStep", "/YStep")]
        own = stream.get("/Matrix", affine.IDENTITY)
        a, b, c, d, e, f = (float(v) for v in own)
    except BROKEN:
        return "is filled by a pattern without its tile's size"
    box = (min(x0, x1), min(y0, y1), abs(x1 - x0), abs(y1 - y0))
    whole = affine.compose(tiling.base, (a, b, c, d, e, f))
    if not (has_area(whole) and has_area(about.matrix)):
        return "is filled by a pattern whose transform leaves no area"
    if not all(math.isfinite(v) for v in (*box, *steps)) or not min(*steps, *box[2:]):
        return "is filled by a pattern without its tile's size"
    grid = Grid(
        affine.compose(affine.invert(about.matrix), whole), box[0], box[1], *steps
    )
    if not has_area(grid.matrix):
        return "is filled by a pattern whose transform leaves no area"
    over = [
        max(math.ceil(size / step - _HAIR), 1)
        for size, step in zip(box[2:], steps, strict=True)
    ]
    if over[0] * over[1] > _MOST_OVER:
        return "is filled by a pattern of too many tiles over each other"
    unit = affine.mean_scale(whole) * painter.unit
    key = (name, tiling.ink, unit, painter.laying)

    def make() -> Tile | None:
        if key not in painter.tiles:
            painter.laying = (*painter.laying, name)
            try:
                painter.tiles[key] = _tile(painter, tiling, box, over, unit)
            finally:
                painter.laying = painter.laying[:-1]
        return painter.tiles[key][0]

    room = painter.room()
    laid = fit_tiles(painter.allowance, room, shape, about.even_odd, grid, make)
    pictures = painter.tiles.get(key, (None, False))[1]
    return "" if laid is None and pictures else laid


def _tile(
    painter: Painter, tiling: Tiling, box: tuple[float, float, float, float],
    over: list[int], unit: float,
) -> tuple[Tile | None, bool]:  # fmt: skip
    """Return the tile, None for one without lines, and whether it holds pictures."""
    stream = tiling.stream
    data = painter.unpacker.read(stream)
    resources = stream.get("/Resources", pikepdf.Dictionary())
    size = tuple(abs(float(stream[key])) for key in ("/XStep", "/YStep"))
    counts = painter.drawn.counts
    before = sum(counts.values())
    ink = tiling.ink or "#000000"
    with painter.apart(unit, one_ink=tiling.ink is not None) as drawn:
        # the tile's corner is that of the box, and those before reach into it
        for column, row in itertools.product(*(range(1 - n, 1) for n in over)):
            shift = (column * size[0] - box[0], row * size[1] - box[1])
            state = State(affine.translation(*shift), fill=ink, stroke=ink)
            bounds = painter.clip(rectangle(*box), state, False)
            painter.run(data, resources, replace(state, clip=bounds), ())
        table = painter.table()
        tile = make_tile(
            drawn, table, (size[0], size[1]), 1 / unit, painter.allowance.budget,
            drop=painter.hides,
        )  # fmt: skip
    return tile, sum(counts.values()) > before
