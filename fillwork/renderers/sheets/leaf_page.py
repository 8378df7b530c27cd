"""Compose how leaf is laid and cut: shapes with leaves, leaves with cuts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.polygons import ring_sides
from fillwork.plans.words import leaves_words
from fillwork.renderers.layout import Page, compose_page, table_page
from fillwork.renderers.scene import (
    BLACK,
    GREY_45,
    GREY_60,
    Fills,
    Item,
    Scene,
    Text,
    rectangle,
    segments,
    shapes_from_rings,
)
from fillwork.renderers.sheets.sheet import LETTERS
from fillwork.renderers.text.typeset import default_fonts

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.colouring.palettes.model import Palette
    from fillwork.plans.leafing import CutLeaf, LeafPlan, LeafShape
    from fillwork.plans.model import Schedule
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits

_GAP = 6.0
_WORDS = 9.0
_TINT = "#e9e4d6"
_MOST = 60


def compose_leaf(
    schedule: Schedule,
    palette: Palette,
    orbits: Orbits,
    *,
    title: str,
    paper: str = "A4",
    fonts: FontSet | None = None,
) -> tuple[Scene, ...]:
    """Return pages that show how each leaf metal is laid and cut.

    Pages; none where there is no leaf. `paper`: page name; ``drawing`` means A4.
    """
    fonts = fonts or default_fonts()
    page = table_page(paper)
    pages: list[tuple[str, list[Item]]] = []
    for plan in schedule.leafing:
        name = palette.swatches[plan.swatch].name
        writer = _Cells(page, fonts)
        writer.heading("How leaves lie: shape by shape, true shapes, with the lap")
        shapes = sorted(plan.shapes, key=lambda s: -s.count)
        for shape in shapes[:_MOST]:
            writer.shape(shape, orbits, plan)
        writer.more(len(shapes) - _MOST, "shapes")
        writer.heading("How leaves are cut")
        for leaf in plan.leaves[:_MOST]:
            writer.leaf(leaf, plan)
        writer.more(len(plan.leaves) - _MOST, "ways of cutting")
        said = (
            f"{name}: {leaves_words(plan.laid)} of {plan.size[0]:g} x "
            f"{plan.size[1]:g} mm laid, lap {plan.lap:g} mm, "
            f"{100 * plan.loss:g} % lost: {leaves_words(plan.needed)}"
        )
        pages += [(said, items) for items in writer.pages]
    return tuple(
        compose_page(
            page,
            fonts,
            items,
            name=f"leaf-{number}",
            words=f"{title}: leaf, page {number}",
            title=title,
            subtitle=said,
            code=f"{LETTERS['leaf']}{number}",
        )
        for number, (said, items) in enumerate(pages, start=1)
    )


class _Cells:
    """Fill pages with cells of one height, row by row."""

    def __init__(self, page: Page, fonts: FontSet) -> None:
        self.fonts = fonts
        self.left, self.bottom, self.right, self.top = page.body
        self.bottom += 6.0
        self.side = (self.right - self.left - 3 * _GAP) / 4
        self.pages: list[list[Item]] = [[]]
        self.x, self.y = self.left, self.top
        self.tall = 0.0  # of the row that is open

    def _end_row(self) -> None:
        if self.tall:
            self.x, self.y = self.left, self.y - self.tall - _WORDS - _GAP
            self.tall = 0.0

    def heading(self, text: str) -> None:
        """Put down a heading that stays with the row below it."""
        self._end_row()
        if self.y - 12.0 - self.side - _WORDS < self.bottom:
            self._turn()
        self.y -= 6.0
        self.pages[-1].append(Text((self.left, self.y), text, 12, "medium", role="H2"))
        self.y -= 4.0

    def more(self, left: int, what: str) -> None:
        """Say that not all are drawn."""
        if left <= 0:
            return
        self._end_row()
        self.y -= 4.0
        words = f"and {left} more {what}"
        self.pages[-1].append(Text((self.left, self.y), words, 9, colour=GREY_60))
        self.y -= 4.0

    def _turn(self) -> None:
        self.pages.append([])
        self.x, self.y = self.left, self.top

    def _cell(self, words: list[str], height: float) -> tuple[float, float]:
        """Return the lower left corner of the next cell."""
        if self.tall not in (0.0, height):
            self._end_row()
        if self.x + self.side > self.right + 1e-6:
            self._end_row()
        if self.y - height - _WORDS < self.bottom:
            self._turn()
        x, y = self.x, self.y - height
        for k, line in enumerate(words):
            size = 9.0 if k == 0 else 7.0
            at = (x, y - 4.0 - 3.6 * k)
            colour = BLACK if k == 0 else GREY_60
            self.pages[-1].append(Text(at, line, size, colour=colour))
        self.x += self.side + _GAP
        self.tall = height
        return x, y

    def shape(self, shape: LeafShape, orbits: Orbits, plan: LeafPlan) -> None:
        """Draw one shape with the pieces of leaf on it."""
        many = math.ceil(shape.count - 1e-6)
        pieces = len(shape.pieces)
        letters = [orbits.orbits[k].letter for k in shape.orbits]
        letter = ", ".join(letters[:4]) + (" and more" if len(letters) > 4 else "")
        whole = sum(
            w >= max(plan.size) - 0.1 and h >= min(plan.size) - 0.1
            for w, h in shape.sizes
        )
        told = f"{pieces} piece{'s' * (pieces != 1)} each"
        line = not shape.outline
        if line:
            told = f"{_size(shape.sizes[0])}, laid end to end, {plan.lap:g} mm over"
        elif pieces == 1:
            told = f"1 piece, {_size(shape.sizes[0])}"
            if shape.pair is not None:
                told = f"a pair from {_size(shape.pair)}"
        elif whole:
            told += ", 1 a whole leaf" if whole == 1 else f", {whole} whole leaves"
        name = f"line: {many} strips" if line else f"{letter}: {many} of them"
        points = np.vstack([*shape.outline, *shape.pieces])
        low, high = points.min(axis=0), points.max(axis=0)
        scale = min(self.side / float(max(*(high - low), 1e-9)), 2.0)
        # strips of a line are low
        height = float(high[1] - low[1]) * scale if line else self.side
        x, y = self._cell([name, told], height)
        room = (np.array([self.side, height]) - (high - low) * scale) / 2

        def _at(ring: Floats) -> Floats:
            return np.asarray((ring - low) * scale + room + (x, y), np.float64)

        items: list[Item] = []
        if shape.outline:
            rings = [[_at(ring) for ring in shape.outline]]
            filled = shapes_from_rings(rings)
            items.append(Fills(filled, np.array([0]), _TINT, layer=""))
        for ring, width, colour in (
            *((r, 0.3, BLACK) for r in shape.outline),
            *((p, 0.15, GREY_45) for p in shape.pieces),
        ):
            items.append(_closed(_at(ring), width, colour))
        if line:
            # the line itself, in the middle of its strip
            (long, strip), lap = shape.sizes[0], plan.lap
            edges = np.array([[0, lap], [long, lap], [0, strip - lap], [long, strip]])
            edges[3, 1] -= lap
            items.append(segments(_at(edges).reshape(2, 4), 0.3, BLACK))
        self.pages[-1] += items

    def leaf(self, leaf: CutLeaf, plan: LeafPlan) -> None:
        """Draw one leaf with its cuts."""
        pieces = len(leaf.cuts)
        plural = "leaf" if leaf.count == 1 else "leaves"
        told = f"{pieces} piece{'s' * (pieces != 1)}"
        if pieces == 1:
            told = _size(leaf.cuts[0][2:])
        x, y = self._cell([f"{leaf.count} {plural} so", told], self.side)
        scale = self.side / max(plan.size)
        items: list[Item] = []
        for a, b, w, h in leaf.cuts:
            box = (x + a * scale, y + b * scale)
            end = (x + (a + w) * scale, y + (b + h) * scale)
            items += rectangle((*box, *end), fill=_TINT, edge=GREY_45)
        width, height = plan.size[0] * scale, plan.size[1] * scale
        items += rectangle((x, y, x + width, y + height), edge=BLACK)
        self.pages[-1] += items


def _size(size: tuple[float, ...]) -> str:
    return f"{size[0]:.0f} x {size[1]:.0f} mm"


def _closed(ring: Floats, width: float, colour: str) -> Item:
    """Return a ring as a closed line."""
    return segments(ring_sides(ring), width, colour, cap="round")
