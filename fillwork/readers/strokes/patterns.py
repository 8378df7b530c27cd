"""Shapes filled with the tiles of a pattern, in any format: which, how many, laid."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.readers.strokes.clip import Budget, as_region
from fillwork.readers.strokes.drawn import Clip
from fillwork.readers.strokes.tiles import Grid, choose_places, lay_tile

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Bools, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.readers.limits import Limits
    from fillwork.readers.strokes.collect import Collector, Context, StrokeTable
    from fillwork.readers.strokes.tiles import Tile

MOST_DEEP = 8
"""Patterns inside each other."""

STEPS = "is filled by a pattern that takes too many steps"
"""Said of a shape whose tiles would take too long."""


class Allowance:
    """Count the tiles of a drawing, and what is spent on laying them.

    `limits`: sizes allowed. `where`: file name for messages.
    """

    def __init__(self, limits: Limits, where: str) -> None:
        self.limits = limits
        self.budget = Budget(limits, where, share=0.25)
        self.tiles = limits.tiles
        self.copies = limits.copies


class Laid(NamedTuple):
    """Hold the tile of a shape's pattern and where it is laid."""

    tile: Tile
    grid: Grid  # where tiles lie
    places: Ints  # (n, 2): columns and rows taken
    inside: Bools  # (n,): which lie in the shape as a whole

    def reach(self, matrix: Affine) -> Affine:
        """Return the map from the pattern's units, given that of the shape."""
        return affine.compose(matrix, self.grid.matrix)


class Ground(Protocol):
    """Say what laying asks of what gathers a drawing."""

    def number(self, context: Context) -> int:
        """Return the number of a context."""
        ...

    def add_clip(self, clip: Clip) -> int:
        """Return the number of a clip."""
        ...

    @property
    def collector(self) -> Collector:
        """Return what takes the strokes."""
        ...


def has_area(matrix: Affine) -> bool:
    """Return whether a map leaves an area, and all its numbers are numbers."""
    return all(map(math.isfinite, matrix)) and affine.determinant(matrix) != 0


def fit_tiles(
    allowance: Allowance,
    room: tuple[int, int],
    shape: StrokeTable,
    even_odd: bool,
    grid: Grid,
    make: Callable[[], Tile | None],
) -> Laid | str | None:
    """Return the tiles that fill a shape.

    `allowance`: what may still be laid; changed. `room`: how many more items and curves
    there is room for. `shape`: the shape, in its own units. `even_odd`: its fill rule.
    `grid`: where tiles lie; its map leaves an area. `make`: makes the tile. None where
    the tile draws nothing; a reason in words where it is not known what is seen. Raises
    `ReadError` if more is asked for than raised limits allow.
    """
    spend, limits = allowance.budget.spend, allowance.limits
    if allowance.budget.left < 0:
        return STEPS
    try:
        places = choose_places(shape, even_odd, grid, allowance.tiles, spend)
        if isinstance(places, float):
            number = (
                f"{places:,.0f}" if places < 1e12 else "more than a million million"
            )
            text = f"is filled by a pattern of {number} tiles: over the limit "
            return f"{text}tiles = {limits.tiles:,}"
        tile = make()
        if tile is not None and not places[1].all():
            # what the shape cuts is compared with its outline
            crossed = int((~places[1]).sum()) * len(tile.table.kind)
            spend(20_000 + crossed * len(shape.kind))
    except ReadError:
        if limits.raised:
            raise
        return STEPS
    if tile is None:
        return None
    items, curves = room
    count = len(places[0])
    allowance.copies -= count * len(tile.names)
    if allowance.copies < 0 or 3 * count * len(tile.names) > items:
        return "is filled by a pattern of too many shapes"
    if 3 * count * len(tile.table.kind) > curves:
        return "is filled by a pattern of too many lines"
    allowance.tiles -= count
    return Laid(tile, grid, *places)


def add_tiles(ground: Ground, about: Context, shape: StrokeTable, laid: Laid) -> None:
    """Lay the tiles of a shape's pattern.

    `ground`: where they go. `about`: how the shape is painted. `shape`: the shape, in
    its own units. `laid`: the tiles.
    """
    tile = laid.tile
    if not len(tile.table.closed):
        return
    table, item, cut = lay_tile(tile, laid.grid, laid.places, laid.inside)
    clip = about.clip
    if cut.any():
        one = replace(shape, item=np.zeros(len(shape.item), np.int64))
        region = as_region(one, np.array([about.even_odd]))
        clip = ground.add_clip(
            Clip(clip, about.matrix, shape=region, drawn=1 + about.stroked)
        )
    through = about.covers and not tile.opaque
    numbers = np.zeros((len(tile.names), 2), np.int64)
    for k in np.unique(item).tolist():
        of = tile.contexts[tile.of_item[k]]
        for side, which in enumerate((about.clip, clip)):
            covers = of.covers and through and bool(tile.whole[k])
            numbers[k, side] = ground.number(
                of._replace(
                    matrix=laid.reach(about.matrix), clip=which, layer=about.layer,
                    names=of.names | about.names, covers=covers, laid=True,
                )
            )  # fmt: skip
    context = numbers[item, cut.astype(np.int64)]
    names = [tile.names[k] for k in item.tolist()]
    ground.collector.add_strokes(context, tile.line[item], names, table)


def edge_and_line(about: Context) -> tuple[Context, Context]:
    """Return how the edge and the line of a shape with a pattern are painted.

    `about`: how the shape is painted. Returns `edge` and `line`: of its fill alone and
    of its stroke alone, neither of which covers anything.
    """
    line = about._replace(
        filled=False, covers=False, fill=None, pattern="", gradient=about.colour is None
    )
    edge = about._replace(
        stroked=False, colour=None, width=0.0, dash=False, covers=False, pattern="",
        gradient=False,
    )  # fmt: skip
    return edge, line
