"""Which swatches are mixed from the paints on hand, and which cannot be."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.notes import Note
from fillwork.plans.media import liquid
from fillwork.plans.mixing import (
    FARTHEST,
    as_mixed,
    find_mixes,
    parse_paints,
    strength_notes,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Palette, Prices, Swatch
    from fillwork.plans.mixing import HandPaint, Recipe


class Mixes:
    """Hold which swatches are mixed from the paints on hand, and which are not.

    `used`: swatches that are painted. `on_hand`: file of the paints on hand.
    """

    def __init__(
        self, palette: Palette, used: Sequence[int], on_hand: bytes | None
    ) -> None:
        self.swatches: list[Swatch] = list(palette.swatches)
        self.recipes: dict[int, Recipe] = {}
        self.paints: tuple[HandPaint, ...] = ()
        self.notes: list[Note] = []
        self.currency = ""
        self.prices: Prices = ()
        self.named: set[str] = set()
        self.told: tuple[tuple[int, str, float, str], ...] = ()
        self.refused: tuple[tuple[int, str, float], ...] = ()
        if on_hand is None:
            return
        self.paints, doubts = parse_paints(on_hand, "paints on hand")
        self.notes += doubts
        self.currency, self.prices = self.paints[0].currency, self.paints[0].prices
        wanted = [i for i in used if liquid(palette.swatches[i])]
        found = find_mixes([palette.swatches[i] for i in wanted], self.paints)
        for place, recipe in zip(wanted, found, strict=True):
            swatch = palette.swatches[place]
            self.named |= {paint.name for paint, _ in recipe.parts}
            if recipe.difference > FARTHEST:
                told = (place, recipe.text, recipe.difference)
                self.refused = (*self.refused, told)
                text = (
                    f"{swatch.name} cannot be mixed from the paints on hand: the "
                    f"nearest, {recipe.text}, is off by ΔE00 {recipe.difference:.1f}"
                )
                remedy = "buy it, or add a paint that comes nearer"
                self.notes.append(Note("plans", "no mix", text, remedy=remedy))
                continue
            self.recipes[place] = recipe
            self.swatches[place] = as_mixed(swatch, recipe)
            row = (place, recipe.text, recipe.difference, recipe.remark)
            self.told = (*self.told, row)
        self.notes += strength_notes(self.recipes.values())
