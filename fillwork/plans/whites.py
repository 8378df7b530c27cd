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
    if under is None:
        return []
    found = []
    for q in amounts.quantities:
        swatch = swatches[q.swatch]
        if q.bare or q.swatch == under or q.volume is None:
            continue
        if not coats_of(swatch, settings, swatches[under]).white:
            continue
        white = _white_for(swatch, swatches, amounts.mixes.paints)
        if isinstance(white, int):
            paint = swatches[white]
        elif isinstance(white, str) or white.swatch is None:
            paint = replace(swatch, coverage=None, price=())
        else:
            paint = white.swatch
        coverage, origin = coverage_of(paint)
        base = replace(q, swatch=white if isinstance(white, int) else -1, edge=0.0)
        base = replace(base, leaves=None, books=None)
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
        if hand.swatch is not None and _white(hand.swatch):
            return hand
    own = [i for i, s in enumerate(swatches) if _white(s)]
    if own:
        return max(own, key=lambda i: swatches[i].lab[0])
    return f"white, {swatch.medium}" if swatch.medium else "white"
