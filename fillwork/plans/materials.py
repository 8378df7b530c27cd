"""Tools and materials besides paint and leaf: how much, for which steps, what price.

Spreading of size and bole and the length of a roll of tape are common practice,
no source. A price is looked up by the name that the schedule gives, or by what
stands before its comma: "flat brush" prices a flat brush of any width.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from fillwork.plans.model import Buy
from fillwork.plans.packages import pick_priced
from fillwork.plans.words import area_words, length_words, volume_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Prices
    from fillwork.plans.model import Step


_SPREAD = {"oil size": 20.0, "bole": 3.0, "gilding water": 8.0}
"""m² a litre, all coats together."""
_ROLL = 50_000.0
"""mm of tape on a roll."""
_SPARE_TAPE = 0.1


def price_of(prices: Prices, name: str) -> tuple[tuple[float, str, float], ...]:
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
    found = []
    for name, orders in of_need.items():
        amount, unit = 1.0, "piece"
        if name == "tracing paper":
            amount, unit = painted + bare, "mm2"
        elif name == "masking film":
            amount, unit = bare, "mm2"
        elif name == "masking tape":
            amount, unit = tape, "mm"
        elif name in _SPREAD:
            amount, unit = gilt * 1e-3 * (1.0 + spare) / _SPREAD[name], "mL"
        packages, sold, cost = _packages(amount, unit, price_of(prices, name))
        uses = ((_ranges(orders), amount),)
        found.append(Buy(name, -1, amount, unit, packages, sold, uses, cost))
    return tuple(found)


def _packages(
    amount: float, unit: str, sizes: tuple[tuple[float, str, float], ...]
) -> tuple[tuple[tuple[float, int], ...], str, float | None]:
    """Return packages that cost least, their unit, and their price if known."""
    pieces = math.ceil(amount / _ROLL) if unit == "mm" else 1
    for sold, need in (
        ("mL", amount if unit == "mL" else 0.0),
        ("m2", amount * 1e-6 if unit == "mm2" else 0.0),
        ("piece", float(pieces)),
    ):
        priced = {size: price for size, known, price in sizes if known == sold}
        if priced and need > 0:
            packages = pick_priced(need, priced.items())
            return packages, sold, math.fsum(priced[s] * n for s, n in packages)
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
        told.append(
            "as "
            + " + ".join(f"{n} x {size:g} {unit}" for size, n in material.packages)
        )
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
