"""White under what would let a dark ground through: where, which white, how much."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fillwork.plans.quantities import (
    COMMON,
    Coats,
    coats_of,
    coverage_of,
    quantity_of_liquid,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.plans.mixing import HandPaint
    from fillwork.plans.model import Quantity


def white_name(white: int | str | HandPaint, swatches: Sequence[Swatch]) -> str:
    """Return what a white is called.

    `white`: a place in the palette, a name, or a paint on hand.
    """
    if isinstance(white, int):
        return swatches[white].name
    return white if isinstance(white, str) else white.name


def find_whites(
    amounts: Amounts,
) -> list[tuple[int, int | str | HandPaint, Quantity]]:
    """Return which swatches need white under them, which white, and how much.

    The swatch above, the white as of `white_name`, and one coat of it.
    """
    swatches, settings, under = amounts.swatches, amounts.settings, amounts.under
    found = []
    for q in amounts.quantities if under is not None else ():
        swatch = swatches[q.swatch]
        if q.bare or q.swatch == under or q.volume is None:
            continue
        if not coats_of(swatch, settings, swatches[under or 0]).white:
            continue
        white = _white_for(swatch, swatches, amounts.mixes.hand.paints)
        place, paint = -1, replace(swatch, coverage=None, price=())
        if isinstance(white, int):
            place, paint = white, swatches[white]
        elif not isinstance(white, str):
            paint = white.swatch
        coverage, origin = coverage_of(paint)
        base = replace(q, swatch=place, edge=0.0)
        one = Coats(1, f"{COMMON} under a paint that lets the ground through")
        quantity = quantity_of_liquid(
            base, paint, coverage, origin, settings, coats=one
        )
        found.append((q.swatch, white, quantity))
    return found


def _white_for(
    swatch: Swatch, swatches: Sequence[Swatch], paints: tuple[HandPaint, ...]
) -> int | str | HandPaint:
    """Return an opaque white of the paint's medium: of the palette, on hand, or new."""

    def _white(one: Swatch) -> bool:
        opaque = one.opacity in ("", "opaque", "semi-opaque")
        alike = one.medium == swatch.medium
        return alike and opaque and one.lab[0] >= 88 and one.oklch[1] < 0.04

    for hand in paints:
        if _white(hand.swatch):
            return hand
    own = [i for i, s in enumerate(swatches) if _white(s)]
    if own:
        return max(own, key=lambda i: swatches[i].lab[0])
    return f"white, {swatch.medium}" if swatch.medium else "white"
