"""The schedule as plain values, as it stands in ``report.json``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fillwork.plans.buying import material_words
from fillwork.renderers.rows import area_value, mm_value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Colouring
    from fillwork.colouring.palettes.model import Swatch
    from fillwork.plans.model import Buy, Quantity, Schedule, Step
    from fillwork.symmetry.model import Orbits


def _quantity(quantity: Quantity, name: str) -> dict[str, Any]:
    return {
        "paint": name,
        "regions": quantity.faces,
        "area_drawn_mm2": area_value(quantity.area_drawn),
        "area_real_mm2": area_value(quantity.area_real),
        "edge_mm": mm_value(quantity.edge),
        "coats": quantity.coats,
        "coverage_m2_per_l": quantity.coverage,
        "volume_ml": mm_value(quantity.volume),
        "containers": [{"ml": size, "count": n} for size, n in quantity.containers],
        "leaves": quantity.leaves,
        "books": quantity.books,
        "bare": quantity.bare,
        "factors": [{"what": a, "value": b, "from": c} for a, b, c in quantity.factors],
    }


def _step(step: Step, swatches: Sequence[Swatch], orbits: Orbits) -> dict[str, Any]:
    return {
        "order": step.order,
        "paint": None if step.swatch is None else swatches[step.swatch].name,
        "kinds": [orbits.orbits[o].letter for o in step.orbits],
        "text": step.text,
        "reason": step.reason,
        "kind": step.kind,
        "needs": list(step.needs),
        "care": step.care,
        "days": list(step.days),
        "wait": step.wait,
        "tape_mm": mm_value(step.tape),
        "round": step.round,
    }


def _buy(buy: Buy) -> dict[str, Any]:
    return {
        "name": buy.name,
        "need": mm_value(buy.need),
        "unit": buy.unit,
        "packages": [{"size": size, "count": n} for size, n in buy.packages],
        "uses": [{"for": what, "need": mm_value(n)} for what, n in buy.uses],
        "price": None if buy.cost is None else round(buy.cost, 2),
    }


def schedule_report(
    schedule: Schedule, colouring: Colouring, orbits: Orbits
) -> dict[str, Any]:
    """Return quantities, steps, mixes, what to buy and cautions; mm, mm², mL."""
    swatches = colouring.palette.swatches
    return {
        "scale_known": schedule.scale_known,
        "paints": [_quantity(q, swatches[q.swatch].name) for q in schedule.quantities],
        "extras": [
            _quantity(q, name)
            for q, name in zip(schedule.extras, schedule.extra_names, strict=True)
        ],
        "steps": [_step(s, swatches, orbits) for s in schedule.steps],
        "mixes": [
            {
                "swatch": swatches[m[0]].name,
                "recipe": m[1],
                "expected_difference": mm_value(m[2]),
                "remark": m[3],
            }
            for m in schedule.mixes
        ],
        "refused_mixes": [
            {
                "swatch": swatches[place].name,
                "nearest": recipe,
                "difference": mm_value(miss),
            }
            for place, recipe, miss in schedule.refused
        ],
        "does_not_hold": [
            {"pair": c.pair, "paints": c.who, "why": c.why, "remedy": c.remedy}
            for c in schedule.clashes
        ],
        "buys": [_buy(b) for b in schedule.buys],
        "currency": schedule.currency,
        "materials": [
            {
                "what": m.name,
                "how_much": material_words(m),
                "price": None if m.cost is None else round(m.cost, 2),
            }
            for m in schedule.materials
        ],
        "bought": [{"paint": name, "ml": mm_value(ml)} for name, ml in schedule.bought],
        "cautions": list(schedule.cautions),
    }
