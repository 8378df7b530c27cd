"""Tiles laid over shapes: what is allowed, what is told, and how they are painted."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.readers.limits import LARGE, NORMAL
from fillwork.readers.strokes.collect import Collector, Context
from fillwork.readers.strokes.patterns import (
    STEPS,
    Allowance,
    Laid,
    add_tiles,
    edge_and_line,
    fit_tiles,
    has_area,
)
from fillwork.readers.strokes.tiles import Grid, Tile
from tests.unit.readers.strokes.tables import about, box, ends, fill, line, table

if TYPE_CHECKING:
    from fillwork.readers.strokes.drawn import Clip

GRID = Grid(affine.IDENTITY, 0.0, 0.0, 10.0, 10.0)
SHAPE = table(box(0, 0, 40, 20), closed=True)  # eight tiles, all at its outline
ROOM = 1000, 1000


def tile(count: int = 1, *, opaque: bool = False, **painted: object) -> Tile:
    """A tile of so many short lines."""
    return Tile(
        table(*[[line(1, 1 + k, 3, 1 + k)] for k in range(count)]), [about(**painted)],
        np.zeros(count, int), np.arange(count), [f"n{k}" for k in range(count)],
        np.ones(count, bool), np.full(count, -1, np.int8), opaque,
    )  # fmt: skip


def fitted(
    allowance: Allowance, made: Tile | None = None, room: tuple[int, int] = ROOM,
    shape: object = SHAPE,
) -> Laid | str | None:  # fmt: skip
    return fit_tiles(allowance, room, shape, False, GRID, lambda: made)


def allowed(**limits: int) -> Allowance:
    return Allowance(replace(NORMAL, **limits), "a.svg")


def test_maps_that_leave_an_area() -> None:
    assert has_area(affine.IDENTITY)
    assert not has_area((1.0, 0.0, 0.0, 0.0, 0.0, 0.0))
    assert not has_area((1.0, 0.0, 0.0, math.inf, 0.0, 0.0))
    assert not has_area((1.0, 0.0, 0.0, 1.0, math.nan, 0.0))


def test_tiles_are_counted_until_none_is_left() -> None:
    some = allowed(tiles=20, copies=35)
    got = fitted(some, tile(2))
    assert isinstance(got, Laid)
    assert len(got.places) == len(got.inside) == 8
    assert (some.tiles, some.copies) == (12, 19)
    assert fitted(some, tile(2)).tile.names == ["n0", "n1"]
    assert (some.tiles, some.copies) == (4, 3)
    assert fitted(some, tile(2)) == (
        "is filled by a pattern of 8 tiles: over the limit tiles = 20"
    )
    assert fitted(allowed(), None) is None


def test_exactly_what_is_allowed_is_laid() -> None:
    assert isinstance(fitted(allowed(copies=16), tile(2)), Laid)
    assert (
        fitted(allowed(copies=15), tile(2))
        == "is filled by a pattern of too many shapes"
    )
    # three times as many items and curves, for the shape may cut them apart
    assert isinstance(fitted(allowed(), tile(2), (48, 48)), Laid)
    assert fitted(allowed(), tile(2), (47, 48)).endswith("too many shapes")
    assert fitted(allowed(), tile(2), (48, 47)).endswith("too many lines")
    huge = table(box(0, 0, 4e8, 2e8), closed=True)
    assert "pattern of 800,000,000,000,000 tiles" not in str(
        fitted(allowed(), tile(), shape=huge)
    )
    assert "more than a million million tiles" in fitted(
        allowed(), tile(), shape=table(box(0, 0, 4e9, 4e9), closed=True)
    )
    assert "of 160,000,000,000 tiles" in fitted(
        allowed(), tile(), shape=table(box(0, 0, 4e6, 4e6), closed=True)
    )


def test_steps_are_spent_on_what_the_shape_cuts() -> None:
    # a quarter of all; 20,000 a shape, and tiles at its outline by lines and sides
    some = allowed()
    assert some.budget.left == NORMAL.cut_steps // 4
    fitted(some, tile(5))
    spent = NORMAL.cut_steps // 4 - some.budget.left
    assert 20_000 + 8 * 5 * 4 <= spent < 20_000 + 8 * 5 * 4 + 500
    few = allowed(cut_steps=4 * 20_100)
    assert fitted(few, tile(5)) == STEPS
    assert few.budget.left < 0
    assert fitted(few, tile(5)) == STEPS
    # tiles that lie in the shape as a whole cost nothing more
    inner = table(box(-5, -5, 4e3, 30), closed=True)
    assert isinstance(fitted(allowed(), tile(), (9999, 9999), shape=inner), Laid)
    large = Allowance(replace(LARGE, cut_steps=4 * 20_100), "a.svg")
    with pytest.raises(ReadError):
        fitted(large, tile(5))


class Ground:
    """Gather contexts, clips and strokes."""

    def __init__(self) -> None:
        self.collector = Collector(NORMAL, "a.svg")
        self.clips: list[Clip] = []

    def number(self, context: Context) -> int:
        self.collector.contexts.append(context)
        return len(self.collector.contexts) - 1

    def add_clip(self, clip: Clip) -> int:
        self.clips.append(clip)
        return 10 + len(self.clips)


def laid(shape: object, made: Tile, painted: Context) -> Ground:
    ground = Ground()
    got = fit_tiles(allowed(), ROOM, shape, False, GRID, lambda: made)
    assert isinstance(got, Laid)
    add_tiles(ground, painted, shape, got)
    return ground


def test_tiles_take_the_place_and_names_of_their_shape() -> None:
    twice = (2.0, 0.0, 0.0, 2.0, 0.0, 0.0)
    painted = fill(matrix=twice, clip=4, layer="a", names=4, covers=True)
    # three by three, of which the middle one lies inside
    ground = laid(table(box(-5, -5, 20, 20), closed=True),
                  tile(2, names=1, covers=True), painted)  # fmt: skip
    got = ground.collector.finish()
    assert len(got.closed) == 18
    contexts = [ground.collector.contexts[k] for k in ground.collector.item_context]
    assert {c.matrix for c in contexts} == {twice}
    assert {c.layer for c in contexts} == {"a"}
    assert {c.names for c in contexts} == {5}
    assert all(c.laid and c.covers for c in contexts)
    # the clip of the shape, and its outline round that for what it cuts
    at = [row[:2] for row in ends(got)]
    inside = [
        c.clip
        for c, (x, y) in zip(contexts, at, strict=True)
        if 0 < x < 10 and 0 < y < 10
    ]
    assert inside == [4, 4]
    assert sorted({c.clip for c in contexts}) == [4, 11]
    (clip,) = ground.clips
    assert (clip.parent, clip.matrix, clip.drawn) == (4, twice, 1)
    assert len(clip.shape.outline) == 4
    assert ground.collector.item_name[:2] == ["n0", "n1"]
    assert list(ground.collector.item_line[:4]) == [0, 1, 0, 1]


def test_what_the_tile_covers_goes_by_what_the_shape_does() -> None:
    for painted, made, covers in (
        (fill(), tile(covers=True), True),
        # the shape's own fill covers for an opaque tile
        (fill(), tile(covers=True, opaque=True), False),
        (fill(covers=False), tile(covers=True), False),
        (fill(), tile(covers=False), False),
        (fill(), replace(tile(covers=True), whole=np.zeros(1, bool)), False),
    ):
        ground = laid(SHAPE, made, painted)
        assert {c.covers for c in ground.collector.contexts} == {covers}
    # the outline of a shape with a line is drawn as one
    (clip,) = laid(SHAPE, tile(), about(filled=True)).clips
    assert clip.drawn == 2
    empty = laid(SHAPE, tile(0), fill())
    assert not empty.collector.contexts


def test_a_shape_with_a_pattern_is_its_edge_and_its_line() -> None:
    edge, ink = edge_and_line(
        about(filled=True, covers=True, fill="url(#p)", pattern="p", dash=True)
    )
    assert (edge.stroked, edge.filled, edge.colour, edge.width, edge.dash) == (
        False, True, None, 0.0, False,
    )  # fmt: skip
    assert (ink.stroked, ink.filled, ink.colour, ink.width) == (
        True,
        False,
        "#000000",
        0.2,
    )
    assert (edge.covers, ink.covers, edge.pattern, ink.pattern) == (
        False,
        False,
        "",
        "",
    )
    assert (edge.gradient, ink.gradient, ink.fill) == (False, False, None)
    assert edge_and_line(about(colour=None))[1].gradient
