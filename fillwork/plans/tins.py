"""What to buy: one tin a paint, whatever it is used for.

A paint that fills regions, draws the outline and goes under another is one tin,
and so is a paint on hand that several mixes take. Packages are chosen for the
sum: by least cost where the paint has prices, else the fewest.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from fillwork.plans.materials import price_of
from fillwork.plans.model import Buy
from fillwork.plans.packages import pick_containers, pick_priced
from fillwork.plans.quantities import BOOK, sizes_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Prices, Swatch
    from fillwork.plans.leafing import LeafPlan
    from fillwork.plans.mixing import HandPaint, Recipe
    from fillwork.plans.model import PaintSettings


class _Tin(NamedTuple):
    name: str
    swatch: int  # its place in the palette; -1 for what is no swatch
    paint: Swatch | None
    medium: str
    uses: dict[str, float]  # what for, and how much of it for that, mL


def _fill(tins: dict[str, _Tin], tin: _Tin, what: str, ml: float) -> None:
    """Add a use to the tin of that name."""
    uses = tins.setdefault(tin.name, tin).uses
    uses[what] = uses.get(what, 0.0) + ml


class Tins:
    """Gather uses of paints, and say what to buy for their sums.

    `swatches`: the palette's paints. `settings`: sizes to buy in. `recipes`: swatches
    that are mixed from the paints on hand. `prices`: what primer, varnish and the like
    cost, by name.
    """

    def __init__(
        self,
        swatches: Sequence[Swatch],
        settings: PaintSettings,
        recipes: dict[int, Recipe],
        prices: Prices = (),
    ) -> None:
        self.swatches, self.settings, self.recipes = swatches, settings, recipes
        self.prices = prices
        self._own: dict[str, _Tin] = {}
        self._other: dict[str, _Tin] = {}
        self._hand: dict[str, _Tin] = {}

    def use(self, swatch: int, what: str, ml: float) -> None:
        """Add a use of a swatch. `swatch`: place in the palette. `ml`: how much, mL."""
        paint = self.swatches[swatch]
        tin = _Tin(paint.name, swatch, paint, paint.medium, {})
        _fill(self._own, tin, what, ml)
        if swatch in self.recipes:
            parts = self.recipes[swatch].parts
            whole = sum(n for _, n in parts)
            for hand, n in parts:
                self.use_hand(hand, f"{what} of {paint.name}", ml * n / whole)

    def use_hand(self, hand: HandPaint, what: str, ml: float) -> None:
        """Add a use of a paint on hand as it is. `ml`: how much, mL."""
        paint = hand.swatch
        _fill(self._hand, _Tin(paint.name, -1, paint, paint.medium, {}), what, ml)

    def use_other(self, name: str, medium: str, what: str, ml: float) -> None:
        """Add a use of what is no swatch: primer, varnish, another white.

        `medium`, for the sizes in the trade. `ml`: how much, mL.
        """
        _fill(self._other, _Tin(name, -1, None, medium, {}), what, ml)

    def buys(self) -> tuple[Buy, ...]:
        """Return what to buy, swatches in the order of the palette first.

        One a tin; mixed swatches have no packages of their own.
        """
        own = sorted(self._own.values(), key=lambda t: t.swatch)
        return tuple(
            self._buy(t, mixed=t.swatch in self.recipes)
            for t in (*own, *self._other.values())
        )

    def on_hand(self) -> tuple[Buy, ...]:
        """Return how much of each paint on hand is used.

        In the order of their first use; with packages where they have prices.
        """
        return tuple(
            self._buy(t, mixed=not (t.paint is not None and t.paint.price))
            for t in self._hand.values()
        )

    def _buy(self, tin: _Tin, *, mixed: bool) -> Buy:
        need = math.fsum(tin.uses.values())
        packages: tuple[tuple[float, int], ...] = ()
        cost = None
        if not mixed:
            own = tin.paint.price if tin.paint else price_of(self.prices, tin.name)
            prices = {size: price for size, unit, price in own if unit == "mL"}
            if prices:
                packages = pick_priced(need, prices.items())
                cost = math.fsum(prices[s] * n for s, n in packages)
            else:
                sizes, _ = sizes_of(tin.paint, tin.medium, self.settings)
                packages = pick_containers(need, sizes)
        uses = tuple(tin.uses.items())
        recipe = self.recipes.get(tin.swatch) if mixed else None
        taken = recipe.single if recipe is not None else ""
        return Buy(
            tin.name, tin.swatch, need, "mL", packages, "mL", uses, cost, mixed, taken
        )


def buy_leaf(swatch: Swatch, plan: LeafPlan) -> Buy:
    """Return the books, or single leaves, that cost least.

    Books where nothing says that single leaves are sold. `swatch`: the leaf; its prices
    and the size of its book. `plan`: how many leaves are laid.
    """
    leaves = plan.needed
    book = (swatch.leaf.book if swatch.leaf else None) or BOOK
    prices = {
        unit: price for _, unit, price in swatch.price if unit in ("book", "leaf")
    }
    books, singles = math.ceil(leaves / book), 0
    cost = None
    if prices:
        sizes = {"book": float(book), "leaf": 1.0}
        ways = pick_priced(leaves, [(sizes[u], p) for u, p in prices.items()])
        counts = dict(ways)
        singles = counts.get(1.0, 0) if "leaf" in prices and book > 1 else 0
        books = counts.get(float(book), 0) if "book" in prices else 0
        cost = books * prices.get("book", 0.0) + singles * prices.get("leaf", 0.0)
    packages = tuple(
        (size, n) for size, n in ((float(book), books), (1.0, singles)) if n
    )
    kinds = (
        ("regions", any(x.outline for x in plan.shapes)),
        ("outline", any(not x.outline for x in plan.shapes)),
    )
    uses = tuple((what, float(leaves)) for what, there in kinds if there)
    name, need = swatch.name, float(leaves)
    return Buy(name, plan.swatch, need, "leaf", packages, "book", uses, cost)
