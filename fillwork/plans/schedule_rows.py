"""The rows of the schedule's table: what is used, what is bought, at what price.

A row is a paint with its regions, or what goes over or under them. One tin serves
all rows of a paint; its packages and its price stand in the first of them.
"""

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

    from fillwork.colouring.palettes.model import Palette, Swatch
    from fillwork.plans.model import Buy, Quantity, Schedule


class Row(NamedTuple):
    """Hold one row of the table, and what it is taken from."""

    quantity: Quantity
    name: str  # of the paint, or of what goes over or under
    own: bool  # whether it is a swatch's own row
    swatch: Swatch | None  # the paint as it is used; None for what is no swatch
    buy: Buy | None  # the tin, or the books; None where nothing is bought for it

    @property
    def plain(self) -> bool:
        """Return whether it has neither coats nor edges: bare, drawn, or set."""
        medium = self.swatch.medium if self.own and self.swatch else ""
        return self.quantity.bare or medium in DRY | OBJECTS

    @property
    def packed(self) -> bool:
        """Return whether packages stand in this row, not in another of its tin."""
        return bool(self.quantity.containers) or self.quantity.leaves is not None

    @property
    def cost(self) -> float | None:
        """Return the price of its packages; None where none is known."""
        return self.buy.cost if self.buy is not None and self.packed else None

    @property
    def buy_words(self) -> str:
        """Return what to buy: packages, or which other row's tin holds it."""
        q, buy = self.quantity, self.buy
        if q.bare:
            return "leave bare"
        if q.leaves is not None:
            return "" if buy is None else _leaf_words(buy.packages)
        if q.volume is None:
            if buy is not None and buy.unit == "leaf":
                return "same books"
            return "by area" if self.own else ""
        if buy is not None and buy.mixed:
            if buy.taken and buy.taken != buy.name:
                return f"{buy.taken}, on hand"
            mixed = (self.own or q.swatch >= 0) and not buy.taken
            return "mix" if mixed else "on hand"
        if q.containers:
            uses = [what for what, _ in buy.uses] if buy is not None else []
            also = f", for {joined(uses)}" if len(uses) > 1 else ""
            return packages_words(q.containers) + also
        return "same tin" if buy is not None else ""


def swatches_of(schedule: Schedule, palette: Palette) -> Sequence[Swatch]:
    """Return the palette's paints as they are used.

    With medium and pigments of the parts where a paint is mixed.
    """
    return schedule.swatches or palette.swatches


def rows_of(schedule: Schedule, palette: Palette) -> list[Row]:
    """Return every row of the table: paints, then what goes over and under."""
    named = [(q, palette.swatches[q.swatch].name, True) for q in schedule.quantities]
    extras = zip(schedule.extras, schedule.extra_names, strict=True)
    named += [(q, name, False) for q, name in extras]
    swatches = swatches_of(schedule, palette)
    return [
        Row(
            quantity=q,
            name=name,
            own=own,
            swatch=swatches[q.swatch] if q.swatch >= 0 else None,
            buy=_tin_of(schedule, q, name),
        )
        for q, name, own in named
    ]


def _tin_of(schedule: Schedule, quantity: Quantity, name: str) -> Buy | None:
    """Return the tin, or the books, that a row is taken from."""
    if quantity.swatch >= 0:
        own = (b for b in schedule.buys if b.swatch == quantity.swatch)
        return next(own, None)
    tins = (name, name.rpartition(", ")[0], name.partition(": ")[2])
    return next((b for b in schedule.buys if b.swatch < 0 and b.name in tins), None)


def _leaf_words(packages: Sequence[tuple[float, int]]) -> str:
    """Return the books and single leaves to buy, such as ``2 books of 25``."""
    return " + ".join(
        f"{count} book{'s' * (count != 1)} of {size:g}"
        if size > 1
        else leaves_words(count)
        for size, count in packages
    )


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
    rows = []
    for row in rows_of(schedule, palette):
        q, own, cost = row.quantity, row.own, row.cost
        need = "" if q.volume is None else volume_words(q.volume)
        rows.append(
            ShopRow(
                bought=not q.bare and (own or row.packed),
                swatch=row.swatch if own else None,
                name=row.name,
                regions=f"{q.faces}" if own else "",
                area=area_words(q.area_real, schedule.area),
                edge="" if row.plain or not q.edge else length_words(q.edge),
                coats="" if row.plain or q.leaves is not None else f"{q.coats}",
                need=need if q.leaves is None else leaves_words(q.leaves),
                buy=row.buy_words,
                price="" if cost is None else price_words(cost, schedule.currency),
            )
        )
    return rows
