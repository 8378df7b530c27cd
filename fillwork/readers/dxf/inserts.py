"""Blocks laid where they are placed, and styles resolved by layer and block.

All places of a block with one look are laid at once, so that a million of them cost
arrays. A block is drawn once for every way in which its styles come out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, NoReturn

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.geometry.polygons import ring_sides
from fillwork.readers.dxf.colours import numbered_colour
from fillwork.readers.dxf.tables import Layer
from fillwork.readers.strokes.collect import Context, StrokeTable, transform_rows
from fillwork.readers.strokes.cutting import Region
from fillwork.readers.strokes.drawn import Clip

if TYPE_CHECKING:
    from array import array

    from fillwork.arrays import Floats
    from fillwork.readers.dxf.objects import Points
    from fillwork.readers.dxf.sketch import Look, Sketch
    from fillwork.readers.dxf.tables import Document
    from fillwork.readers.selectors import Condition
    from fillwork.readers.strokes.drawn import Drawn

_USUAL_WEIGHT = 0.25  # mm, of lines without a weight (LWDEFAULT of the DXF reference)


class _Around(NamedTuple):
    # what the entities of a block take from the place where it stands
    layer: str
    colour: str
    dash: bool
    weight: float
    clip: int
    names: int


@dataclass(slots=True)
class Layout:
    """Hold a drawing laid out."""

    tables: list[StrokeTable]  # strokes in the drawing's units
    # strokes left out on layers that are off or frozen, by layer
    hidden: dict[str, int]
    counts: dict[str, int]  # what is no line work, by word
    # what was not understood: the first line, and how often
    doubts: dict[str, tuple[int, int]]


def lay_out(
    sketch: Sketch, document: Document, drawn: Drawn, *, mm: float,
    conditions: tuple[Condition, ...], shown: frozenset[str],
) -> Layout:  # fmt: skip
    """Lay the blocks of a space where they are placed.

    `sketch`: the model or a paper space. `mm`: length of the drawing's unit.
    `conditions`: classes (names of blocks) and ids (handles) that selectors ask for.
    `shown`: layers that are read though they are off or frozen, in small letters.
    """
    work = _Work(document, drawn, mm, conditions, shown)
    around = _Around("0", numbered_colour(7), False, _USUAL_WEIGHT, -1, 0)
    work.lay(sketch, np.array([affine.IDENTITY]), around, ())
    for window in sketch.viewports:
        drawn.clips.append(Clip(-1, affine.IDENTITY, window.box))
        inside = around._replace(clip=len(drawn.clips) - 1)
        work.frozen = window.frozen
        work.lay(document.model, np.array([window.matrix]), inside, ())
    return work.found


class _Work:
    def __init__(
        self, document: Document, drawn: Drawn, mm: float,
        conditions: tuple[Condition, ...], shown: frozenset[str],
    ) -> None:  # fmt: skip
        self.document = document
        self.drawn = drawn
        self.mm = mm
        self.conditions = conditions
        self.shown = shown
        self.found = Layout([], {}, {}, {})
        self.frozen: frozenset[str] = frozenset()
        self.calls = self.copies = self.curves = 0
        self.regions: dict[str, Region] = {}  # by the dictionary of what is cut
        self.classes = {
            c.text.lower(): 1 << k for k, c in enumerate(conditions) if c.key == "class"
        }
        self.handles = {
            c.text.upper(): 1 << k for k, c in enumerate(conditions) if c.key == "id"
        }

    def refuse(self, limit: str, got: str) -> NoReturn:
        raise self.drawn.limits.refuse(limit=limit, got=got, where=self.drawn.where)

    def lay(
        self, sketch: Sketch, maps: Floats, around: _Around, inside: tuple[str, ...]
    ) -> None:
        self._count(sketch, len(maps))
        if len(sketch):
            self._strokes(sketch, maps, around)
        for (name, look, own_dictionary), placing in sketch.placings.items():
            block = self.document.blocks.get(name)
            if name in inside:
                shown = self.document.written.get(name, name)
                what = f"the block “{shown}” holds itself and is left out there"
                self.found.doubts.setdefault(what, (placing.line, 1))
                continue
            if block is None:
                what = f"the block “{name[:40]}” is placed but not in the file"
                self.found.doubts.setdefault(what, (placing.line, 1))
                continue
            layer = self._layer(look, around)
            if self._frozen(layer) and layer.name.lower() not in self.shown:
                self._hide(layer, len(maps) * (len(placing.maps) // 6))
                continue
            own = self._places(placing.maps, block.base, len(maps), len(inside))
            names = around.names | self.classes.get(name, 0)
            names |= self.handles.get(look.handle, 0)
            self.drawn.names.setdefault(self.document.written[name])
            inner = _Around(
                layer.name.lower(),
                self._colour(look, layer, around),
                self._dash(look, layer, around),
                self._weight(look, layer, around),
                around.clip,
                names,
            )
            own = _compose(maps, own)
            outline = self.document.objects.outline(own_dictionary)
            if not outline:
                self.lay(block, own, inner, (*inside, name))
                continue
            region = self.regions.get(own_dictionary)
            if region is None:
                region = self.regions[own_dictionary] = _region(outline)
            for one in own:
                a, b, c, d, e, f = one.tolist()
                self.drawn.clips.append(
                    Clip(around.clip, (a, b, c, d, e, f), shape=region)
                )
                cut = inner._replace(clip=len(self.drawn.clips) - 1)
                self.lay(block, one[None], cut, (*inside, name))

    def _count(self, sketch: Sketch, times: int) -> None:
        """Count what is laid so many times, and refuse more than the limits."""
        limits = self.drawn.limits
        self.calls += 1
        if self.calls > limits.forms:
            got = f"more than {limits.forms:,} blocks or styles of blocks are drawn"
            self.refuse("forms", got)
        for word, count in sketch.counts.items():
            self.found.counts[word] = self.found.counts.get(word, 0) + times * count
        for what, (line, count) in sketch.doubts.items():
            first, before = self.found.doubts.get(what, (line, 0))
            self.found.doubts[what] = (first, before + count)
        self.curves += times * len(sketch)
        if self.curves > limits.curves:
            self.refuse("curves", f"{self.curves:,} lines, arcs and curves")
        if times * len(sketch.names) + len(self.drawn.collector.item_name) > (
            limits.elements
        ):
            self.refuse("elements", f"more than {limits.elements:,} shapes")

    def _places(
        self, maps: array[float], base: tuple[float, float], times: int, depth: int
    ) -> Floats:
        """Return where a block is placed, its base point at the origin of its lines.

        `times`: how often what places it is laid. `depth`: blocks that it stands in.
        """
        limits = self.drawn.limits
        own = np.array(maps).reshape(-1, 6)
        self.copies += times * len(own)
        if self.copies > limits.elements:
            self.refuse("elements", f"{self.copies:,} placed blocks")
        if depth >= limits.depth:
            self.refuse("depth", f"blocks stand {depth} deep")
        x, y = base
        own[:, 4] -= own[:, 0] * x + own[:, 2] * y
        own[:, 5] -= own[:, 1] * x + own[:, 3] * y
        return own

    def _strokes(self, sketch: Sketch, maps: Floats, around: _Around) -> None:
        looks = list(sketch.looks)
        of_look = np.array([self._context(look, around) for look in looks], np.int64)
        context = of_look[np.array(sketch.look, np.int64)]
        start = np.array(sketch.start, np.int64)
        names = sketch.names
        lines = np.array(sketch.line, np.int32)
        table = StrokeTable(
            np.array(sketch.kinds, np.uint8),
            np.array(sketch.rows, np.float64).reshape(-1, 8),
            start,
            np.array(sketch.closed, bool),
            np.arange(len(names)),
        )
        if (context < 0).any():
            seen = context >= 0
            hidden = np.bincount(np.array(sketch.look)[~seen], minlength=len(looks))
            for k in np.flatnonzero(hidden).tolist():
                layer = self._layer(looks[k], around)
                self._hide(layer, len(maps) * int(hidden[k]))
            table = table.take(seen)
            names = [names[k] for k in np.flatnonzero(seen).tolist()]
            lines, context = lines[seen], context[seen]
        if not names:
            return
        times, n, strokes = len(maps), len(table.kind), len(names)
        kind, data = np.tile(table.kind, times), np.tile(table.data, (times, 1))
        transform_rows(kind, data, maps, np.repeat(np.arange(times), n))
        steps = np.arange(times)
        starts = (steps[:, None] * n + table.start[:-1]).ravel()
        collector = self.drawn.collector
        first = len(collector.item_name)
        collector.item_context.extend(np.tile(context, times).tolist())
        collector.item_line.extend(np.tile(lines, times).tolist())
        collector.item_name.extend(names * times)
        self.found.tables.append(
            StrokeTable(
                kind,
                data,
                np.append(starts, times * n),
                np.tile(table.closed, times),
                np.arange(first, first + times * strokes),
            )
        )

    # -- styles --------------------------------------------------------------

    def _layer(self, look: Look, around: _Around) -> Layer:
        name = around.layer if look.layer == "0" else look.layer
        layer = self.document.layers.get(name)
        if layer is None:
            layer = self.document.layers[name] = Layer(
                self.document.written.get(name, name)
            )
        return layer

    def _frozen(self, layer: Layer) -> bool:
        return layer.frozen or layer.handle in self.frozen

    def _hide(self, layer: Layer, count: int) -> None:
        hidden = self.found.hidden
        hidden[layer.name] = hidden.get(layer.name, 0) + count

    def _context(self, look: Look, around: _Around) -> int:
        layer = self._layer(look, around)
        hidden = layer.unseen or self._frozen(layer)
        if hidden and layer.name.lower() not in self.shown:
            return -1
        self.drawn.layers.setdefault(layer.name)
        width = look.width * self.mm or self._weight(look, layer, around)
        context = Context(
            matrix=affine.IDENTITY,
            stroked=not look.filled,
            filled=look.filled,
            colour=self._colour(look, layer, around),
            width=width,
            dash=self._dash(look, layer, around),
            layer=layer.name,
            clip=around.clip,
            even_odd=True,
            names=around.names | self.handles.get(look.handle, 0),
            gradient=False,
        )
        return self.drawn.context(context)

    def _colour(self, look: Look, layer: Layer, around: _Around) -> str:
        colour = layer.colour if look.colour == 256 else look.colour
        if isinstance(colour, str):
            return colour
        return around.colour if colour == 0 else numbered_colour(colour)

    def _dash(self, look: Look, layer: Layer, around: _Around) -> bool:
        if look.dash == "byblock":
            return around.dash
        dash = layer.dash if look.dash == "bylayer" else look.dash
        return dash in self.document.dashed

    def _weight(self, look: Look, layer: Layer, around: _Around) -> float:
        if look.weight == -2:
            return around.weight
        weight = layer.weight if look.weight == -1 else look.weight
        return weight / 100 if weight >= 0 else _USUAL_WEIGHT


def _region(outline: Points) -> Region:
    """Return what an outline leaves of a block."""
    none = np.zeros(len(outline), np.int64)
    sides = Curves.from_segments(ring_sides(np.array(outline)))
    return Region(sides, none, none, np.ones(1, bool))


def _compose(outer: Floats, inner: Floats) -> Floats:
    """Return every outer map after every inner one."""
    a, b, c, d, e, f = (column[:, None] for column in outer.T)
    p, q, r, s, t, u = inner.T
    found = np.stack(
        [a * p + c * q, b * p + d * q, a * r + c * s, b * r + d * s,
         a * t + c * u + e, b * t + d * u + f],
        axis=-1,
    )  # fmt: skip
    return np.asarray(found.reshape(-1, 6))
