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
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.plans.media import (
    DRY,
    OBJECTS,
    dry_hours,
    is_transparent,
    liquid,
    tape_hours,
)
from fillwork.plans.model import Step
from fillwork.plans.paint_order import Work, gilds_with_water, main_medium, order_paints
from fillwork.plans.taping import find_rounds
from fillwork.plans.words import hours_words, joined, length_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Colouring, Swatch
    from fillwork.plans.areas import Areas
    from fillwork.plans.model import Quantity
    from fillwork.symmetry.model import Orbits


_TRACING = "tracing paper"
_GILDING = ("gilder's knife and cushion", "gilder's tip", "soft mop")
_PAINTED_ROUND = frozenset({"ink", "watercolour"})


def find_steps(
    colouring: Colouring,
    orbits: Orbits,
    areas: Areas,
    quantities: tuple[Quantity, ...],
    *,
    swatches: Sequence[Swatch] | None = None,
    work: Work | None = None,
) -> tuple[Step, ...]:
    """Return the painting order with a reason for each step.

    `areas`: areas and which swatches touch. `swatches`: the palette's paints as they
    are used; the palette's own by default. `work`: outline, primer, varnish and what
    goes under.
    """
    swatches = colouring.palette.swatches if swatches is None else swatches
    work = work or Work()
    real = {q.swatch: q for q in quantities}
    bare = [q.swatch for q in quantities if q.bare]
    covered = [q.swatch for q in quantities if not q.bare]
    leaf = [s for s in covered if swatches[s].medium == "leaf"]
    fills = [s for s in covered if s not in leaf]
    dry = [s for s in fills if swatches[s].medium in DRY]
    paints = [s for s in fills if s not in dry and s != work.under]
    wet = bool(paints or leaf or work.under is not None)
    medium = main_medium(swatches, quantities)
    kept = joined([swatches[s].name for s in bare])
    steps: list[_Draft] = []
    if work.patch:
        steps.append(_clean(work.patch))
    if bare:
        masked = wet and medium not in _PAINTED_ROUND
        steps.append(_leave(bare[0], kept, wet=wet, masked=masked))
    if work.primer and wet:
        steps.append(_prime(work, kept))
    if work.under is not None and work.under in real:  # it is not, under bare alone
        steps.append(_lay_under(work, swatches, real[work.under], work.under, kept))
    water = gilds_with_water(medium)
    if water:
        steps += [_gild(swatches[s], s, water=True) for s in leaf]
    rounds = _rounds(paints, swatches, areas) if work.tape else {}
    order = order_paints(
        colouring, swatches, areas, real, paints, work=work, rounds=rounds
    )
    steps += _fills(order, rounds, work, swatches, real)
    steps += _drawn(swatches, dry, "when the paint has dried, " if paints else "")
    if not water:
        steps += [_gild(swatches[s], s, water=False) for s in leaf]
    if work.outline:
        steps.append(_line(work, swatches))
    if work.varnish and wet:
        gold = [swatches[s] for s in leaf]
        line = work.outline_swatch
        gilt_line = line is not None and swatches[line].medium == "leaf"
        steps.append(_varnish(work, kept, gold, gilt_line))
    kinds = _kinds(colouring, orbits)
    regions = ("bare", "under", "white", "fill", "draw", "gild")
    return tuple(
        Step(
            order=number,
            orbits=kinds.get(draft.swatch, ())
            if draft.swatch is not None and draft.kind in regions
            else (),
            **draft._asdict(),
        )
        for number, draft in enumerate(steps, start=1)
    )


class _Draft(NamedTuple):
    """Hold a step before it has a number."""

    kind: str
    swatch: int | None
    text: str
    reason: str
    needs: tuple[str, ...] = ()
    tape: float = 0.0
    round: int = 0


def _fills(
    order: list[tuple[int, str]],
    rounds: dict[int, int],
    work: Work,
    swatches: Sequence[Swatch],
    real: dict[int, Quantity],
) -> list[_Draft]:
    """Return a step for each paint, white under it and tape before it."""
    # rounds are numbered as they come in the order of work
    number: dict[int, int] = {}
    for swatch, _ in order:
        if swatch in rounds:
            number.setdefault(rounds[swatch], len(number) + 1)
    white_of = dict(work.whites)
    taped: set[int] = set()
    steps: list[_Draft] = []
    for place, (swatch, reason) in enumerate(order):
        group = number.get(rounds[swatch], 0) if swatch in rounds else 0
        mates = [s for s, _ in order if group and rounds.get(s) == rounds[swatch]]
        tape = 0.0
        if group and group not in taped:
            # all edges of a round are taped before the first of its paints
            tape = math.fsum(real[s].edge for s in mates)
            taped.add(group)
        told = _tape_words(tape, [swatches[s].name for s in mates]) if tape else ""
        tools = ("masking tape",) if tape else ()
        if swatch in white_of and work.under is not None:
            beneath = swatches[work.under].name
            white = _whiten(swatch, swatches, white_of[swatch], beneath)
            white = white._replace(
                text=told + white.text, needs=(*work.brushes, *tools)
            )
            steps.append(white._replace(tape=tape, round=group))
            told, tools, tape = "", (), 0.0
        thing = swatches[swatch].medium in OBJECTS
        text = told + _how(swatches[swatch], real[swatch])
        if place == 0 and not thing:
            text += _edge_words(work, swatches[swatch], len(order))
        if group:
            text += " Take the tape off while the last coat is soft."
        elif work.tape and work.brushes and not thing:
            text += f" Cut in by hand: tape lifts {swatches[swatch].medium}."
        needs = tools if thing else (*work.brushes, *tools)
        steps.append(_Draft("fill", swatch, text, reason, needs, tape, group))
    return steps


def _rounds(
    paints: list[int], swatches: Sequence[Swatch], areas: Areas
) -> dict[int, int]:
    """Return the round of taping of each paint that stands tape."""
    taped = [s for s in paints if liquid(swatches[s]) and tape_hours(swatches[s])]
    touching = areas.touching[np.ix_(taped, taped)] > 0
    return dict(zip(taped, find_rounds(touching), strict=True))


def _tape_words(tape: float, names: list[str]) -> str:
    go = " in one go" if len(names) > 1 else ""
    return f"Tape the edges of {joined(names)}{go}, {length_words(tape)}. "


def _drawn(swatches: Sequence[Swatch], dry: list[int], after: str) -> list[_Draft]:
    """Return the steps of what is drawn; `after`: what the first of them waits for."""
    steps = []
    for swatch in sorted(dry, key=lambda s: (-round(swatches[s].lab[0]), s)):
        soil = "tip" if swatches[swatch].medium == "marker" else "dust"
        reason = f"{after}light before dark, so that no dark {soil} soils a light one"
        steps.append(_Draft("draw", swatch, _draw(swatches[swatch]), reason))
        after = ""
    return steps


def _leave(place: int, names: str, *, wet: bool, masked: bool) -> _Draft:
    text = f"Leave {names} unpainted"
    if not wet:
        reason = "the bare surface is one of the colours"
        return _Draft("bare", place, text + ".", reason)
    reason = "what is bare must stay clean from the start"
    if not masked:
        return _Draft("bare", place, text + ": paint round it.", reason)
    text += "; cover it with film or tape where the brush might slip."
    return _Draft("bare", place, text, reason, ("masking film", "knife"))


def _clean(patch: str) -> _Draft:
    text = (
        f"Clean the patch, {patch}; take off what is loose, dull the edge of the old "
        "paint, and try each paint on a card: dry, it must match what is beside it."
    )
    reason = "a new batch never quite matches the old one"
    return _Draft(
        "clean", None, text, reason, ("fine abrasive paper, used wet", "card")
    )


def _prime(work: Work, kept: str) -> _Draft:
    drawn, primer = work.under is None, work.primer
    where = f"every region that takes paint, not {kept}," if kept else work.whole
    text = f"Prime {where} with {primer} and let it dry"
    text += "; then carry the drawing over." if drawn else "."
    reason = "bare plaster, wood and card drink the first coat unevenly"
    carry = (_TRACING, "soft graphite") if drawn else ()
    return _Draft("prime", None, text, reason, ("wide flat brush or roller", *carry))


def _lay_under(
    work: Work, swatches: Sequence[Swatch], quantity: Quantity, place: int, kept: str
) -> _Draft:
    swatch = swatches[place]
    whole = work.whole.replace("panel", "piece")
    where = f"{whole}, not {kept}," if kept else whole
    text = f"Paint {where} with {swatch.name}"
    text += _coats_words(swatch, quantity)
    dark = swatch.lab[0] < 50
    with_what = "white chalk" if dark else "soft graphite"
    text += f"; when it is dry, carry the drawing over with {with_what}."
    reason = "the ground goes under everything: all other colours lie on it"
    needs = ("wide flat brush or roller", _TRACING, with_what)
    return _Draft("under", place, text, reason, needs)


def _whiten(place: int, swatches: Sequence[Swatch], white: str, beneath: str) -> _Draft:
    swatch = swatches[place]
    text = f"Paint the {swatch.name} regions with {white} in one coat and let it dry."
    clear = swatch.opacity or "transparent"
    reason = f"{swatch.name} is {clear}: {beneath} would darken it without white under"
    return _Draft("white", place, text, reason)


def _line(work: Work, swatches: Sequence[Swatch]) -> _Draft:
    text = f"Draw the outlines with {work.outline}, over the meeting of the colours."
    reason = "last, because the line hides where two colours meet"
    needs: tuple[str, ...] = ("lining brush or ruling pen", "ruler")
    place = work.outline_swatch
    if place is not None and swatches[place].medium == "leaf":
        text = (
            "Dust the cured paint with chalk or talc, size the outlines with a lining "
            "brush, over the meeting of the colours, and lay strips of "
            f"{work.outline} when the size is tacky."
        )
        needs = ("oil size", "talc", *_GILDING, "lining brush", "ruler")
    return _Draft("line", place, text, reason, needs)


def _varnish(work: Work, kept: str, leaf: list[Swatch], gilt_line: bool) -> _Draft:
    varnish = work.varnish
    where = f"what is painted, not {kept}," if kept else work.whole
    text = f"Varnish {where} with {varnish} once everything has cured"
    gold = [s.name for s in leaf if not (s.leaf and s.leaf.imitation)]
    metal = [s.name for s in leaf if s.leaf and s.leaf.imitation]
    if gold:
        text += f"; go round {joined(gold)}: if it is imitation metal after all, "
        text += "cover it too"
    if metal:
        text += f"; cover {joined(metal)}, which tarnishes"
    if gilt_line:
        text += "; the gilded line is too fine to go round and takes it too"
    reason = "varnish seals what lies under it"
    return _Draft("varnish", None, text + ".", reason, ("soft wide brush",))


def _draw(swatch: Swatch) -> str:
    if swatch.medium == "marker":
        text = f"Fill every {swatch.name} region with strokes one way"
        return text + ", the edge first; leave no pool of ink at the line."
    text = f"Colour every {swatch.name} region in light layers"
    return text + ", the edge first, then the middle."


def _kinds(colouring: Colouring, orbits: Orbits) -> dict[int, tuple[int, ...]]:
    """Return for each swatch the orbits of which a face bears it."""
    kind, swatch = orbits.of_face[1:], colouring.of_face[1:]
    known = (kind >= 0) & (swatch >= 0)
    if not known.any():
        return {}
    pairs = np.unique(np.stack([swatch[known], kind[known]], axis=1), axis=0)
    found: dict[int, list[int]] = {}
    for one, orbit in pairs.tolist():
        found.setdefault(one, []).append(orbit)
    return {s: tuple(o) for s, o in found.items()}


def _coats_words(swatch: Swatch, quantity: Quantity) -> str:
    if quantity.coats == 1:
        return " in one coat"
    wait = hours_words(dry_hours(swatch))
    return f" in {quantity.coats} coats, {wait} between coats"


def _how(swatch: Swatch, quantity: Quantity) -> str:
    if swatch.medium in OBJECTS:
        return f"Set the pieces of {swatch.name}."
    return f"Paint {swatch.name}" + _coats_words(swatch, quantity) + "."


def _edge_words(work: Work, swatch: Swatch, many: int) -> str:
    """Say how far the first paint, and so every one, reaches."""
    if work.outline:
        return " Go a hair under the outlines, here and later, so that no gap shows."
    if work.under is not None or many < 2 or is_transparent(swatch):
        return " Go up to the line."
    return " Go a hair over the line: the next colour covers it, and no gap shows."


def _gild(swatch: Swatch, place: int, *, water: bool) -> _Draft:
    if water:
        text = f"Lay {swatch.name} on bole by water gilding, and burnish it."
        reason = "water gilding and burnishing come before any paint"
        needs = ("bole", "gilding water", *_GILDING, "burnisher")
        return _Draft("gild", place, text, reason, needs)
    text = (
        f"Dust the cured paint with chalk or talc, size the {swatch.name} regions "
        f"with oil size, and lay the leaf when the size is tacky."
    )
    reason = "oil gilding comes when the paint has cured and will not hold"
    return _Draft("gild", place, text, reason, ("oil size", "talc", *_GILDING))
