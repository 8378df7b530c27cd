"""In what order to paint, and why.

The order follows common practice of the trade (no source): prime, gild with
water before painting, ground, transparent paints from light to dark, opaque
paints large areas before small, oil gilding when the paint has cured, outlines,
varnish. One paint goes through the whole piece before the next, so there are as
few changes as there are paints; where rank leaves it open, colours that touch do
not follow each other, so that wet edges do not meet. What is bare stays bare:
primer, ground and varnish go where paint goes. Dry media come after wet ones and
know neither coats nor wet edges.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.plans.media import DRY, OBJECTS, dry_hours, is_transparent, tape_hours
from fillwork.plans.model import Step
from fillwork.plans.paint_order import light_first, order_paints
from fillwork.plans.taping import find_rounds
from fillwork.plans.words import hours_words, joined, length_words
from fillwork.plans.working import find_brushes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.colouring.palettes.model import Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.plans.model import Quantity


_WIDE = "wide flat brush or roller"
_TRACING = "tracing paper"
_GILDING = ("gilder's knife and cushion", "gilder's tip", "soft mop")
_PAINTED_ROUND = frozenset({"ink", "watercolour"})


def find_steps(amounts: Amounts) -> tuple[Step, ...]:
    """Return the painting order with a reason for each step."""
    steps = enumerate(_Order(amounts).steps(), start=1)
    return tuple(replace(step, order=number) for number, step in steps)


class _Order:
    """Tell the steps of a piece one by one, their numbers left open."""

    def __init__(self, amounts: Amounts) -> None:
        self.amounts, self.swatches = amounts, amounts.swatches
        self.under, self.tape = amounts.under, amounts.settings.tape
        self.quantity = {q.swatch: q for q in amounts.quantities}
        self.bare = [q.swatch for q in amounts.quantities if q.bare]
        self.kept = self.names(self.bare)
        self.whole = "the whole panel" if amounts.patch is None else "the patch"
        self.brushes = find_brushes(amounts)
        self.kinds = _kinds(amounts)

    def names(self, places: list[int]) -> str:
        return joined([self.swatches[s].name for s in places])

    def step(
        self,
        kind: str,
        swatch: int | None,
        text: str,
        reason: str,
        needs: tuple[str, ...] = (),
        tape: float = 0.0,
        group: int = 0,
    ) -> Step:
        # a ground lies under what has kinds of its own, which may be bare
        other = kind == "line" or (kind == "under" and swatch in self.bare)
        orbits = () if other else self.kinds.get(swatch, ())
        return Step(
            0, swatch, orbits, text, reason, kind, needs, tape=tape, round=group
        )

    def steps(self) -> Iterator[Step]:
        amounts = self.amounts
        covered = [s for s in self.quantity if s not in self.bare]
        leaf = [s for s in covered if self.swatches[s].medium == "leaf"]
        dry = [s for s in covered if self.swatches[s].medium in DRY]
        paints = [s for s in covered if s not in (*leaf, *dry, self.under)]
        beneath = amounts.beneath
        wet = bool(paints or leaf or beneath is not None)
        primer, varnish = amounts.over_and_under
        if amounts.patch is not None:
            yield self.clean(amounts.patch.words)
        if self.bare:
            yield self.leave(wet=wet)
        if primer and wet:
            yield self.prime(primer)
        if beneath is not None:
            yield self.lay_under(beneath)
        gilt = [self.gild(s) for s in leaf]
        if amounts.bole:
            yield from gilt
        yield from self.fills(paints)
        yield from self.draws(dry, "when the paint has dried, " if paints else "")
        if not amounts.bole:
            yield from gilt
        if amounts.line is not None:
            yield self.line(*amounts.line)
        if varnish and wet:
            yield self.varnish(varnish, [self.swatches[s] for s in leaf])

    def clean(self, patch: str) -> Step:
        text = (
            f"Clean the patch, {patch}; take off what is loose, dull the edge of the "
            "old paint, and try each paint on a card: dry, it must match what is "
            "beside it."
        )
        reason = "a new batch never quite matches the old one"
        needs = ("fine abrasive paper, used wet", "card")
        return self.step("clean", None, text, reason, needs)

    def leave(self, *, wet: bool) -> Step:
        place, text = self.bare[0], f"Leave {self.kept} unpainted"
        if not wet:
            reason = "the bare surface is one of the colours"
            return self.step("bare", place, text + ".", reason)
        reason = "what is bare must stay clean from the start"
        if self.amounts.medium in _PAINTED_ROUND:
            return self.step("bare", place, text + ": paint round it.", reason)
        text += "; cover it with film or tape where the brush might slip."
        return self.step("bare", place, text, reason, ("masking film", "knife"))

    def prime(self, primer: str) -> Step:
        where = self.whole
        if self.kept:
            where = f"every region that takes paint, not {self.kept},"
        text = f"Prime {where} with {primer} and let it dry"
        reason = "bare plaster, wood and card drink the first coat unevenly"
        if self.under is not None:
            return self.step("prime", None, text + ".", reason, (_WIDE,))
        text += "; then carry the drawing over."
        needs = (_WIDE, _TRACING, "soft graphite")
        return self.step("prime", None, text, reason, needs)

    def lay_under(self, ground: Quantity) -> Step:
        swatch = self.swatches[ground.swatch]
        whole = self.whole.replace("panel", "piece")
        where = f"{whole}, not {self.kept}," if self.kept else whole
        coats = _coats_words(swatch, ground)
        chalk = "white chalk" if swatch.lab[0] < 50 else "soft graphite"
        text = (
            f"Paint {where} with {swatch.name}{coats}; when it is dry, carry the "
            f"drawing over with {chalk}."
        )
        reason = "the ground goes under everything: all other colours lie on it"
        needs = (_WIDE, _TRACING, chalk)
        return self.step("under", ground.swatch, text, reason, needs)

    def gild(self, place: int) -> Step:
        name = self.swatches[place].name
        if self.amounts.bole:
            text = f"Lay {name} on bole by water gilding, and burnish it."
            reason = "water gilding and burnishing come before any paint"
            wet = ("bole", "gilding water", *_GILDING, "burnisher")
            return self.step("gild", place, text, reason, wet)
        text = (
            f"Dust the cured paint with chalk or talc, size the {name} regions with "
            "oil size, and lay the leaf when the size is tacky."
        )
        reason = "oil gilding comes when the paint has cured and will not hold"
        needs = ("oil size", "talc", *_GILDING)
        return self.step("gild", place, text, reason, needs)

    def fills(self, paints: list[int]) -> Iterator[Step]:
        """Yield a step for each paint, white under it and tape before it."""
        rounds = self.rounds(paints) if self.tape else {}
        order = order_paints(self.amounts, paints, rounds)
        whites = {white.above: white.paint.name for white in self.amounts.whites}
        # rounds are numbered as they come in the order of work
        mates: dict[int, list[int]] = {}
        for swatch, _ in order:
            if swatch in rounds:
                mates.setdefault(rounds[swatch], []).append(swatch)
        number = {r: k for k, r in enumerate(mates, start=1)}
        for place, (swatch, reason) in enumerate(order):
            paint = self.swatches[swatch]
            thing = paint.medium in OBJECTS
            mine = rounds.get(swatch, -1)
            group, together = number.get(mine, 0), mates.get(mine, [])
            tape, told, tools = 0.0, "", () if thing else self.brushes
            if together[:1] == [swatch]:
                # all edges of a round are taped before the first of its paints
                tape = math.fsum(self.quantity[s].edge for s in together)
            if tape:
                go = " in one go" if len(together) > 1 else ""
                told = f"Tape the edges of {self.names(together)}{go}, "
                told += f"{length_words(tape)}. "
            taped = (*tools, "masking tape") if tape else tools
            if swatch in whites:
                yield self.whiten(swatch, whites[swatch], told, taped, tape, group)
                told, taped, tape = "", tools, 0.0
            text = told + self.how(paint, self.quantity[swatch])
            if place == 0 and not thing:
                text += self.edge_words(paint, len(order))
            if group:
                text += " Take the tape off while the last coat is soft."
            elif self.tape and self.brushes and not thing:
                text += f" Cut in by hand: tape lifts {paint.medium}."
            yield self.step("fill", swatch, text, reason, taped, tape, group)

    def rounds(self, paints: list[int]) -> dict[int, int]:
        """Return the round of taping of each paint that stands tape."""
        taped = [s for s in paints if tape_hours(self.swatches[s])]
        touching = self.amounts.areas.touching[np.ix_(taped, taped)] > 0
        return dict(zip(taped, find_rounds(touching), strict=True))

    def whiten(
        self,
        place: int,
        white: str,
        told: str,
        needs: tuple[str, ...],
        tape: float,
        group: int,
    ) -> Step:
        swatch, beneath = self.swatches[place], self.swatches[self.under or 0].name
        text = f"{told}Paint the {swatch.name} regions with {white} in one coat and "
        text += "let it dry."
        clear = swatch.opacity or "transparent"
        reason = f"{swatch.name} is {clear}: {beneath} would darken it without white "
        return self.step("white", place, text, reason + "under", needs, tape, group)

    def how(self, swatch: Swatch, quantity: Quantity) -> str:
        if swatch.medium in OBJECTS:
            return f"Set the pieces of {swatch.name}."
        return f"Paint {swatch.name}{_coats_words(swatch, quantity)}."

    def edge_words(self, swatch: Swatch, many: int) -> str:
        """Say how far the first paint, and so every one, reaches."""
        if self.amounts.line is not None:
            return (
                " Go a hair under the outlines, here and later, so that no gap shows."
            )
        if self.under is not None or many < 2 or is_transparent(swatch):
            return " Go up to the line."
        return " Go a hair over the line: the next colour covers it, and no gap shows."

    def draws(self, dry: list[int], after: str) -> Iterator[Step]:
        """Yield the steps of what is drawn; `after`: what the first waits for."""
        for place in light_first(dry, self.swatches):
            swatch = self.swatches[place]
            soil, text = "dust", f"Colour every {swatch.name} region in light layers"
            rest = ", the edge first, then the middle."
            if swatch.medium == "marker":
                soil, text = (
                    "tip",
                    f"Fill every {swatch.name} region with strokes one way",
                )
                rest = ", the edge first; leave no pool of ink at the line."
            reason = (
                f"{after}light before dark, so that no dark {soil} soils a light one"
            )
            yield self.step("draw", place, text + rest, reason)
            after = ""

    def line(self, quantity: Quantity, paint: str) -> Step:
        place = None if quantity.swatch < 0 else quantity.swatch
        over = "over the meeting of the colours"
        text = f"Draw the outlines with {paint}, {over}."
        reason = "last, because the line hides where two colours meet"
        needs: tuple[str, ...] = ("lining brush or ruling pen", "ruler")
        if self.amounts.line_gilt:
            text = (
                "Dust the cured paint with chalk or talc, size the outlines with a "
                f"lining brush, {over}, and lay strips of {paint} when the size is "
                "tacky."
            )
            needs = ("oil size", "talc", *_GILDING, "lining brush", "ruler")
        return self.step("line", place, text, reason, needs)

    def varnish(self, varnish: str, leaf: list[Swatch]) -> Step:
        where = f"what is painted, not {self.kept}," if self.kept else self.whole
        text = f"Varnish {where} with {varnish} once everything has cured"
        metal = [s.name for s in leaf if s.leaf and s.leaf.imitation]
        gold = [s.name for s in leaf if not (s.leaf and s.leaf.imitation)]
        if gold:
            text += f"; go round {joined(gold)}: if it is imitation metal after all, "
            text += "cover it too"
        if metal:
            text += f"; cover {joined(metal)}, which tarnishes"
        if self.amounts.line_gilt:
            text += "; the gilded line is too fine to go round and takes it too"
        reason = "varnish seals what lies under it"
        return self.step("varnish", None, text + ".", reason, ("soft wide brush",))


def _kinds(amounts: Amounts) -> dict[int | None, tuple[int, ...]]:
    """Return for each swatch the orbits of which a painted face bears it."""
    kind, swatch = amounts.orbits.of_face[1:], amounts.colouring.of_face[1:]
    known = (kind >= 0) & (swatch >= 0)
    if amounts.patch is not None:
        known &= amounts.patch.face_share[1:] > 0
    found: dict[int | None, tuple[int, ...]] = {}
    pairs = np.unique(np.stack([swatch[known], kind[known]], axis=1), axis=0)
    for one, orbit in pairs.tolist():
        found[one] = (*found.get(one, ()), orbit)
    return found


def _coats_words(swatch: Swatch, quantity: Quantity) -> str:
    if quantity.coats == 1:
        return " in one coat"
    wait = hours_words(dry_hours(swatch))
    return f" in {quantity.coats} coats, {wait} between coats"
