"""What to buy: tins of paint, books of leaf, tools and materials.

A paint that fills regions, draws the outline and goes under another is one *tin*,
and so is a paint on hand that several mixes take. Packages are chosen for the sum:
by least cost where prices are known, else the fewest. Several small packages are
several batches, and a second batch never matches the first; so without prices
fewer packages go before less left over.

Spreading of size and bole and the length of a roll of tape are common practice,
no source. A price is looked up by the name that the schedule gives, or by what
stands before its comma: "flat brush" prices a flat brush of any width.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from fillwork.plans.model import Buy
from fillwork.plans.packages import pick_containers, pick_priced
from fillwork.plans.quantities import BOOK, sizes_of
from fillwork.plans.words import area_words, length_words, volume_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.palettes.model import Prices, Swatch
    from fillwork.plans.leafing import LeafPlan
    from fillwork.plans.mixing import HandPaint, Recipe
    from fillwork.plans.model import PaintSettings, Step

    _Packages = tuple[tuple[float, int], ...]  # size and count
    _Prices = tuple[tuple[float, str, float], ...]  # size, its unit and its price


_SPREAD = {"oil size": 20.0, "bole": 3.0, "gilding water": 8.0}
"""m² a litre, all coats together."""
_ROLL = 50_000.0
"""mm of tape on a roll."""
_SPARE_TAPE = 0.1


def price_of(prices: Prices, name: str) -> _Prices:
    """Return what the sizes of a tool or material cost.

    `prices`: of the palette, then of the paints on hand. `name`: as the schedule names
    it. Returns size, unit and price; empty where none is given.

    Examples
    --------
    >>> price_of((("Flat brush", ((1.0, "piece", 3.0),)),), "flat brush, 10 mm")
    ((1.0, 'piece', 3.0),)
    """
    wanted = name.casefold()
    for what in (wanted, wanted.partition(",")[0]):
        for known, sizes in prices:
            if known.casefold() == what:
                return sizes
    return ()


def _priced(need: float, unit: str, sizes: _Prices) -> tuple[_Packages, float] | None:
    """Return the packages of a unit that cost least; None where it has no price."""
    prices = {size: price for size, known, price in sizes if known == unit}
    if not prices:
        return None
    packages = pick_priced(need, prices.items())
    return packages, math.fsum(prices[s] * n for s, n in packages)


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
        packages: _Packages = ()
        cost = None
        if not mixed:
            own = tin.paint.price if tin.paint else price_of(self.prices, tin.name)
            sizes, _ = sizes_of(tin.paint, tin.medium, self.settings)
            priced = _priced(need, "mL", own)
            packages, cost = priced or (pick_containers(need, sizes), None)
        uses = tuple(tin.uses.items())
        taken = self.recipes[tin.swatch].single if tin.swatch in self.recipes else ""
        return Buy(
            tin.name, tin.swatch, need, "mL", packages, "mL", uses, cost, mixed, taken
        )


def buy_leaf(swatch: Swatch, plan: LeafPlan) -> Buy:
    """Return the books, or single leaves, that cost least.

    Books where nothing says that single leaves are sold. `swatch`: the leaf; its prices
    and the size of its book. `plan`: how many leaves are laid.
    """
    need = float(plan.needed)
    sizes = {"book": float((swatch.leaf and swatch.leaf.book) or BOOK), "leaf": 1.0}
    prices = tuple((sizes[u], "", p) for _, u, p in swatch.price if u in sizes)
    books = math.ceil(need / sizes["book"])
    unpriced = ((sizes["book"], books),) if books else ()
    packages, cost = _priced(need, "", prices) or (unpriced, None)
    kinds = (
        ("regions", any(x.outline for x in plan.shapes)),
        ("outline", any(not x.outline for x in plan.shapes)),
    )
    uses = tuple((what, need) for what, there in kinds if there)
    return Buy(swatch.name, plan.swatch, need, "leaf", packages, "book", uses, cost)


def list_materials(
    steps: Sequence[Step],
    *,
    painted: float,
    bare: float,
    gilt: float,
    spare: float,
    prices: Prices = (),
) -> tuple[Buy, ...]:
    """Return tools and materials with how much and for which steps.

    In the order in which they are first needed; what each is used for are the steps.

    `steps`: the order of work. `painted`, `bare`, `gilt`: areas that take paint, stay
    bare, and take leaf, mm². `spare`: share bought above need.
    """
    of_need: dict[str, list[int]] = {}
    for step in steps:
        for need in step.needs:
            of_need.setdefault(need, []).append(step.order)
    tape = math.fsum(step.tape for step in steps) * (1.0 + _SPARE_TAPE)
    amounts = {
        "tracing paper": (painted + bare, "mm2"),
        "masking film": (bare, "mm2"),
        "masking tape": (tape, "mm"),
    }
    for name, spread in _SPREAD.items():
        amounts[name] = gilt * 1e-3 * (1.0 + spare) / spread, "mL"
    found = []
    for name, orders in of_need.items():
        amount, unit = amounts.get(name, (1.0, "piece"))
        packages, sold, cost = _packages(amount, unit, price_of(prices, name))
        uses = ((_ranges(orders), amount),)
        found.append(Buy(name, -1, amount, unit, packages, sold, uses, cost))
    return tuple(found)


def _packages(
    amount: float, unit: str, sizes: _Prices
) -> tuple[_Packages, str, float | None]:
    """Return packages that cost least, their unit, and their price if known."""
    pieces = math.ceil(amount / _ROLL) if unit == "mm" else 1
    needs = {"piece": float(pieces)}
    if unit == "mL":
        needs = {"mL": amount, **needs}
    elif unit == "mm2":
        needs = {"m2": amount * 1e-6, **needs}
    for sold, need in needs.items():
        priced = _priced(need, sold, sizes) if need > 0 else None
        if priced is not None:
            return priced[0], sold, priced[1]
    return ((1.0, pieces),) if unit in ("mm", "piece") else (), "piece", None


def material_words(material: Buy) -> str:
    """Return how much of a material, and for which steps.

    Such as ``12.0 m, 1 roll of 50 m, steps 3-5``.
    """
    amount, told = material.need, []
    if material.unit == "mm2":
        told.append(area_words(amount))
    elif material.unit == "mm":
        rolls = math.ceil(amount / _ROLL)
        told += [length_words(amount), f"{rolls} roll{'s' * (rolls != 1)} of 50 m"]
    elif material.unit == "mL":
        spread = f"{_SPREAD[material.name]:g} m²/L, common practice"
        told.append(f"{volume_words(amount)} ({spread})")
    if material.sold in ("mL", "m2") and material.packages:
        unit = material.sold.replace("m2", "m²")
        sizes = (f"{n} x {size:g} {unit}" for size, n in material.packages)
        told.append("as " + " + ".join(sizes))
    ((steps, _),) = material.uses
    told.append(f"step{'s' * (not steps.isdigit())} {steps}")
    return ", ".join(told)


def _ranges(numbers: Sequence[int]) -> str:
    """Return numbers with runs joined, as 4-7, 9."""
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    return ", ".join(f"{a}-{b}" if b > a else f"{a}" for a, b in runs)
