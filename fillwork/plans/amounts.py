"""How much of each paint, leaf, primer and varnish a drawing takes, and in what tins.

What each part needs is worked out when it is first asked for, so the parts stand
here in the order in which they are read: areas, paints, amounts, tins.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.plans.areas import measure_areas, panel_repeats
from fillwork.plans.besides import find_swallowed, find_whites, measure_line, place_of
from fillwork.plans.buying import Tins, buy_leaf
from fillwork.plans.leaf_quantities import plan_leaf, with_leaf
from fillwork.plans.media import facts_of, liquid
from fillwork.plans.mixing import Mixes
from fillwork.plans.model import Quantity
from fillwork.plans.patch import find_patch
from fillwork.plans.quantities import (
    COMMON,
    coats_of,
    find_quantities,
    measure_under,
    quantity_of_liquid,
)

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.colouring.palettes.model import Prices, Swatch
    from fillwork.notes import Note
    from fillwork.plans.areas import Areas
    from fillwork.plans.besides import White
    from fillwork.plans.leafing import LeafPlan
    from fillwork.plans.mixing import HandPaint
    from fillwork.plans.model import Buy, PaintSettings
    from fillwork.plans.patch import Patch
    from fillwork.symmetry.model import Orbits


_PRIMER_COVERAGE, _VARNISH_COVERAGE = 10.0, 12.0


class _Extra(NamedTuple):
    """Hold what is used besides the regions' own paints."""

    quantity: Quantity
    name: str
    use: str  # what its tin is used for
    tin: str = ""  # what it is bought as; empty where it is a swatch
    medium: str = ""
    hand: HandPaint | None = None


@dataclass(frozen=True, eq=False)
class Amounts:
    """Say how much of what a drawing takes, each part when it is first asked for."""

    arrangement: Arrangement
    orbits: Orbits
    adjacency: Adjacency
    colouring: Colouring
    settings: PaintSettings  # coats, spare, containers, leaf, panel
    real_scale: float  # real length / drawn length
    on_hand: bytes | None  # file of the paints on hand, for mixes

    # What is painted, and how large it is.

    @cached_property
    def wished_line(self) -> tuple[str, int | None] | None:
        """Return with what a painted line was asked for, by name or by width.

        As it was written, and its place in the palette if it is a swatch; None where no
        line is wanted: neither named nor wide, or ``none``, or a width of 0.
        """
        rules = self.colouring.rules
        wish, width = (rules.outline or "").strip(), rules.outline_width
        if wish.casefold() == "none" or width == 0 or not (wish or width is not None):
            return None
        return wish, place_of(self.colouring.palette, wish)

    @cached_property
    def swallowed(self) -> tuple[Bools | None, tuple[Note, ...]]:
        """Return the regions that the painted line covers, and what to say of them."""
        pen = self.colouring.rules.outline_width
        if not pen or self.wished_line is None:
            return None, ()
        return find_swallowed(self.arrangement, self.orbits, pen, self.real_scale)

    @cached_property
    def patch(self) -> Patch | None:
        """Return the patch that alone is repaired."""
        if not self.settings.patch:
            return None
        return find_patch(
            self.arrangement, self.orbits, self.settings.patch, self.real_scale
        )

    @cached_property
    def covered(self) -> Bools | None:
        """Return the regions that take no paint of their own."""
        covered, _ = self.swallowed
        if self.patch is None:
            return covered
        outside: Bools = self.patch.face_share == 0
        return outside if covered is None else covered | outside

    @cached_property
    def drawn(self) -> Areas:
        """Return what each swatch covers on the drawing."""
        return measure_areas(
            self.arrangement,
            self.orbits,
            self.colouring,
            covered=self.covered,
            patch=self.patch,
        )

    @cached_property
    def on_panel(self) -> tuple[Areas, Floats | None, tuple[Note, ...]]:
        """Return areas as painted, regions of each kind, and doubts."""
        if self.settings.panel is None:
            return self.drawn, None, ()
        weight, count, doubts = panel_repeats(
            self.orbits, self.adjacency, self.settings.panel, self.real_scale
        )
        areas = measure_areas(
            self.arrangement,
            self.orbits,
            self.colouring,
            weight,
            count,
            covered=self.covered,
        )
        return areas, count, tuple(doubts)

    @property
    def areas(self) -> Areas:
        """Return what each swatch covers on the panel."""
        return self.on_panel[0]

    # The paints.

    @cached_property
    def bare(self) -> tuple[int, ...]:
        """Return the swatches that are left bare."""
        wanted = {b.strip().casefold() for b in self.colouring.rules.bare}
        return tuple(
            i
            for i, s in enumerate(self.colouring.palette.swatches)
            if s.medium == "bare" or wanted & {s.name.casefold(), s.code.casefold()}
        )

    @cached_property
    def under(self) -> int | None:
        """Return the swatch that goes under all."""
        return place_of(self.colouring.palette, self.settings.under)

    @cached_property
    def used(self) -> list[int]:
        """Return the swatches that are painted: on regions, under them, as lines."""
        shown = np.delete(self.areas.area, self.bare).sum() > 0.0
        ground = self.colouring.ground
        if ground is not None and ground not in self.bare:
            shown |= self.areas.margin > 0
        # nothing goes under what all lies bare
        under = self.under if shown else None
        besides = (under, self.wished_line and self.wished_line[1])
        return [
            i
            for i in range(len(self.colouring.palette.swatches))
            if i in besides or (i not in self.bare and self.areas.area[i] > 0)
        ]

    @cached_property
    def mixes(self) -> Mixes:
        """Return which swatches are mixed from the paints on hand."""
        return Mixes(self.colouring.palette, self.used, self.on_hand)

    @property
    def swatches(self) -> list[Swatch]:
        """Return the palette's paints as they are used."""
        return self.mixes.swatches

    # How much of each.

    @cached_property
    def counted(self) -> tuple[tuple[Quantity, ...], tuple[Note, ...]]:
        """Return what each swatch covers, leaf not yet laid, and what is not told."""
        return find_quantities(
            self.areas,
            self.colouring.palette,
            self.settings,
            real_scale=self.real_scale,
            bare=self.bare,
            ground=self.colouring.ground,
            areas_drawn=self.drawn,
            under=self.under,
            swatches=self.swatches,
        )

    @cached_property
    def beneath(self) -> Quantity | None:
        """Return what goes under the whole piece; None where nothing does.

        Nor where all lies bare. Its own regions may be bare.
        """
        place = self.under
        if place is None or place not in self.bare:
            return next((q for q in self.counted[0] if q.swatch == place), None)
        one = measure_under(
            place,
            self.areas,
            self.drawn,
            real_scale=self.real_scale,
            bare=self.bare,
            ground=self.colouring.ground,
        )
        if one.area_real <= 0.0:
            return None
        swatch = self.swatches[place]
        coats = coats_of(swatch, self.settings)
        return quantity_of_liquid(one, swatch, self.settings, one.factors, coats=coats)

    @cached_property
    def leafing(self) -> tuple[LeafPlan, ...]:
        """Return how leaf is laid."""
        return plan_leaf(self)

    @cached_property
    def quantities(self) -> tuple[Quantity, ...]:
        """Return what each swatch covers and takes."""
        laid = {plan.swatch: plan for plan in self.leafing}
        return tuple(
            with_leaf(q, laid[q.swatch], self.swatches[q.swatch])
            if q.swatch in laid and not q.bare
            else q
            for q in self.counted[0]
        )

    @cached_property
    def medium(self) -> str:
        """Return the medium that covers the largest area, leaf left out."""
        area: dict[str, float] = {}
        ground = () if self.beneath is None else (self.beneath,)
        own = (q for q in self.quantities if q.swatch != self.under and not q.bare)
        for q in (*own, *ground):
            medium = self.swatches[q.swatch].medium
            if medium != "leaf":
                area[medium] = area.get(medium, 0.0) + q.area_real
        return max(sorted(area), key=lambda m: area[m], default="")

    @property
    def bole(self) -> bool:
        """Return whether leaf is laid on bole, before any paint: on gesso."""
        return self.medium == "egg tempera"

    @property
    def line_size(self) -> tuple[float, float]:
        """Return the length and the width of a painted line, mm, true size."""
        width = self.colouring.rules.outline_width
        width = self.areas.outline_width if width is None else width
        return self.areas.outline * self.real_scale, width * self.real_scale

    @cached_property
    def line(self) -> tuple[Quantity, str] | None:
        """Return the painted line, and what it is painted with."""
        line = measure_line(self)
        if line is None:
            return None
        one, name = line
        plan = next((p for p in self.leafing if p.swatch == one.swatch), None)
        if plan is None or any(q.swatch == one.swatch for q in self.leaf):
            return line
        # no region is gilded: the leaf stands in the line's own row
        gilt = with_leaf(one, plan, self.swatches[plan.swatch])
        return replace(gilt, factors=(*one.factors, *gilt.factors)), name

    @property
    def line_gilt(self) -> bool:
        """Return whether the painted line is of leaf."""
        place = -1 if self.line is None else self.line[0].swatch
        return place >= 0 and self.swatches[place].medium == "leaf"

    @cached_property
    def whites(self) -> tuple[White, ...]:
        """Return white under what would let a dark ground through."""
        return find_whites(self)

    @cached_property
    def over_and_under(self) -> tuple[str, str]:
        """Return primer and varnish: as wished, else as is common for the medium."""
        facts, settings = facts_of(self.medium), self.settings
        primer, varnish = (
            usual if not wish else "" if wish.casefold() == "none" else wish
            for wish, usual in (
                (settings.primer, facts.primer),
                (settings.varnish, facts.varnish),
            )
        )
        return primer, varnish

    @cached_property
    def painted(self) -> float:
        """Return the real area that takes paint or leaf, mm²: what is primed."""
        dry = {
            i
            for i, s in enumerate(self.swatches)
            if s.medium != "leaf" and not liquid(s)
        }
        # what goes under all lies below dry paints too
        left = dry.union(self.bare) if self.beneath is None else set(self.bare)
        idle = math.fsum(self.areas.area[sorted(left)]) * self.real_scale**2
        if self.settings.panel is not None:
            return self.settings.panel[0] * self.settings.panel[1] - idle
        ground = self.colouring.ground
        margin = 0.0 if ground is None or ground in left else self.drawn.margin
        return max((self.drawn.total + margin) * self.real_scale**2 - idle, 0.0)

    @cached_property
    def leaf(self) -> list[Quantity]:
        """Return what is gilded, lines left out."""
        return [
            q
            for q in self.quantities
            if not q.bare and self.swatches[q.swatch].medium == "leaf"
        ]

    # What is bought.

    @cached_property
    def extras(self) -> list[_Extra]:
        """Return a ground whose regions are bare, line, whites, primer and varnish."""
        found = []
        if self.beneath is not None and self.beneath.swatch in self.bare:
            name = f"ground: {self.swatches[self.beneath.swatch].name}"
            found.append(_Extra(self.beneath, name, "ground"))
        if self.line is not None:
            one, paint = self.line
            name = f"outline: {paint}"
            tin = "" if one.swatch >= 0 else name
            found.append(_Extra(one, name, "outline", tin, self.medium))
        for place, white, one, hand in self.whites:
            above = self.swatches[place]
            use, name = f"under {above.name}", white.name
            tin = "" if one.swatch >= 0 else name
            found.append(_Extra(one, f"{use}: {name}", use, tin, above.medium, hand))
        primer, varnish = self.over_and_under
        sealed = self.painted - math.fsum(
            q.area_real
            for q in self.leaf
            if not ((leaf := self.swatches[q.swatch].leaf) and leaf.imitation)
        )
        where = "the patch" if self.patch is not None else "whole panel"
        if self.areas.area[list(self.bare)].sum() > 0:
            where = "what is painted"
        round_leaf = f"{where} but the leaf" if sealed < self.painted else where
        for what, use, area, coverage in (
            (primer, where, self.painted, _PRIMER_COVERAGE),
            (varnish, round_leaf, sealed, _VARNISH_COVERAGE),
        ):
            if what and area > 1e-9:
                one = Quantity(-1, 0, area / self.real_scale**2, area, 0.0)
                one = quantity_of_liquid(
                    one, self.medium, self.settings, coverage=(coverage, COMMON)
                )
                found.append(_Extra(one, f"{what}, {use}", use, what, self.medium))
        return found

    @cached_property
    def prices(self) -> Prices:
        """Return what primer, varnish and the like cost."""
        return (*self.colouring.palette.prices, *self.mixes.hand.prices)

    @cached_property
    def tins(self) -> Tins:
        """Return all uses of paints, gathered."""
        tins = Tins(self.swatches, self.settings, self.mixes.recipes, self.prices)
        for q in self.quantities:
            if q.volume is not None:
                use = "ground" if q.swatch == self.under else "regions"
                tins.use(q.swatch, use, q.volume)
        for extra in self.extras:
            volume = extra.quantity.volume
            if volume is None:
                continue
            if extra.hand is not None:
                tins.use_hand(extra.hand, extra.use, volume)
            elif extra.tin:
                tins.use_other(extra.tin, extra.medium, extra.use, volume)
            else:
                tins.use(extra.quantity.swatch, extra.use, volume)
        return tins

    @cached_property
    def buys(self) -> tuple[Buy, ...]:
        """Return what to buy."""
        books = [buy_leaf(self.swatches[plan.swatch], plan) for plan in self.leafing]
        order = (*self.tins.buys(), *books)
        return tuple(sorted(order, key=lambda b: (b.swatch < 0, max(b.swatch, 0))))

    @cached_property
    def taken(self) -> tuple[Buy, ...]:
        """Return how much of each paint on hand is taken."""
        return self.tins.on_hand()

    @cached_property
    def packed(self) -> tuple[tuple[Quantity, ...], tuple[Quantity, ...]]:
        """Return regions' paints and extras, each tin in the row of its first use."""
        tin_of: dict[int | str, Buy] = {
            (b.swatch if b.swatch >= 0 else b.name): b
            for b in (*self.buys, *self.taken)
        }
        own = [_in_packages(q, q.swatch, tin_of) for q in self.quantities]
        extras = [
            _in_packages(e.quantity, e.tin or e.quantity.swatch, tin_of)
            for e in self.extras
        ]
        return tuple(own), tuple(extras)

    @property
    def notes(self) -> tuple[Note, ...]:
        """Return what is to be said of areas, mixes and amounts."""
        swallowed, doubts, silent = self.swallowed[1], self.on_panel[2], self.counted[1]
        return (*swallowed, *doubts, *self.mixes.notes, *silent)


def _in_packages(
    quantity: Quantity, tin: int | str, tin_of: dict[int | str, Buy]
) -> Quantity:
    """Return a quantity with the packages of its tin; none where it has no row.

    The tin is taken from those that no row has yet; what is bare takes none.
    """
    if quantity.volume is None:
        return quantity
    buy = tin_of.pop(tin, None)
    return replace(quantity, containers=buy.packages if buy is not None else ())
