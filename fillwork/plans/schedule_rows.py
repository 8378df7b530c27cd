"""The rows of the schedule's table: what is used, what is bought, at what price."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from fillwork.plans.media import DRY, OBJECTS
from fillwork.plans.words import (
    area_words,
    joined,
    leaves_words,
    length_words,
    packages_words,
    price_words,
    volume_words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Palette, Swatch
    from fillwork.plans.model import Buy, Quantity, Schedule


def swatches_of(schedule: Schedule, palette: Palette) -> Sequence[Swatch]:
    """Return the palette's paints as they are used.

    With medium and pigments of the parts where a paint is mixed.
    """
    return schedule.swatches or palette.swatches


def rows_of(schedule: Schedule, palette: Palette) -> list[tuple[Quantity, str, bool]]:
    """Return every row of the table: paints, then what goes over and under.

    The quantity, its name, and whether it is a swatch's own row.
    """
    rows = [(q, palette.swatches[q.swatch].name, True) for q in schedule.quantities]
    rows += [
        (q, name, False)
        for q, name in zip(schedule.extras, schedule.extra_names, strict=True)
    ]
    return rows


def tin_of(schedule: Schedule, quantity: Quantity, name: str) -> Buy | None:
    """Return the tin, or the books, that a row is taken from.

    None where nothing is bought for it.
    """
    for buy in schedule.buys:
        if quantity.swatch >= 0 and buy.swatch == quantity.swatch:
            return buy
        if quantity.swatch < 0 and buy.swatch < 0:
            tins = (name, name.rpartition(", ")[0], name.partition(": ")[2])
            if buy.name in tins:
                return buy
    return None


def buy_words(
    schedule: Schedule, quantity: Quantity, name: str, *, own: bool = True
) -> str:
    """Return what to buy for a row.

    Packages; for what another row's tin holds, which one. `own`: whether it is a
    swatch's own row.
    """
    if quantity.bare:
        return "leave bare"
    buy = tin_of(schedule, quantity, name)
    if quantity.leaves is not None:
        if buy is None:
            books = quantity.books or 0
            return f"{books} book{'s' * (books != 1)}"
        return _leaf_words(buy)
    if quantity.volume is None:
        if buy is not None and buy.unit == "leaf":
            return "same books"
        return "by area" if own else ""
    if buy is not None and buy.mixed:
        mixed = (own or quantity.swatch >= 0) and not buy.taken
        if buy.taken and buy.taken != buy.name:
            return f"{buy.taken}, on hand"
        return "mix" if mixed else "on hand"
    if quantity.containers:
        text = packages_words(quantity.containers)
        uses = [what for what, _ in buy.uses] if buy is not None else []
        return text + (f", for {joined(uses)}" if len(uses) > 1 else "")
    return "same tin" if buy is not None else ""


def _leaf_words(buy: Buy) -> str:
    """Return the books and single leaves to buy, such as ``2 books of 25``."""
    parts = []
    for size, count in buy.packages:
        if size > 1:
            parts.append(f"{count} book{'s' * (count != 1)} of {size:g}")
        else:
            parts.append(f"{count} lea{'f' if count == 1 else 'ves'}")
    return " + ".join(parts)


def dry_medium(swatch: Swatch | None) -> bool:
    """Return whether a paint is drawn or set, so that it has no coats.

    For pencils, markers, tile and the like.
    """
    return swatch is not None and swatch.medium in DRY | OBJECTS


class ShopRow(NamedTuple):
    """Hold one row of the table for the shop, in words."""

    # whether it has a box to tick: not for what is bare or comes from another row's tin
    bought: bool
    # the paint as it is used; None for what is no swatch's own row
    swatch: Swatch | None
    name: str  # of the paint, or of what goes over or under
    # regions, area, edge, coats, need, buy and price: empty where nothing is told
    regions: str
    area: str
    edge: str
    coats: str
    need: str
    buy: str
    price: str


def shop_rows(schedule: Schedule, palette: Palette) -> list[ShopRow]:
    """Return the table for the shop, in the order of `rows_of`."""
    swatches = swatches_of(schedule, palette)
    rows = []
    for q, name, own in rows_of(schedule, palette):
        swatch = swatches[q.swatch] if own else None
        plain = q.bare or dry_medium(swatch)
        packed = bool(q.containers) or q.leaves is not None
        buy = tin_of(schedule, q, name) if packed else None
        need = "" if q.volume is None else volume_words(q.volume)
        cost = None if buy is None else buy.cost
        rows.append(
            ShopRow(
                bought=not q.bare and (own or packed),
                swatch=swatch,
                name=name,
                regions=f"{q.faces}" if own else "",
                area=area_words(q.area_real, schedule.area),
                edge="" if plain or not q.edge else length_words(q.edge),
                coats="" if plain or q.leaves is not None else f"{q.coats}",
                need=need if q.leaves is None else leaves_words(q.leaves),
                buy=buy_words(schedule, q, name, own=own),
                price="" if cost is None else price_words(cost, schedule.currency),
            )
        )
    return rows
