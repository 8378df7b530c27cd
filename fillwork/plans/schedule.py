"""What to buy and in what order to paint, gathered.

`make_schedule` joins amounts, order, cautions and what does not hold;
`fillwork.plans.schedule_text` tells it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.notes import Note
from fillwork.plans.amounts import Amounts
from fillwork.plans.besides import place_of
from fillwork.plans.buying import list_materials
from fillwork.plans.cautions import find_cautions, with_care
from fillwork.plans.media import Clash, clash_of_mix, find_clashes, liquid
from fillwork.plans.model import Schedule
from fillwork.plans.order import find_steps
from fillwork.plans.quantities import check_settings
from fillwork.plans.working import time_steps

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.colouring.palettes.model import Palette
    from fillwork.plans.model import Buy, PaintSettings, Step, UsedPaint
    from fillwork.symmetry.model import Orbits


def make_schedule(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    colouring: Colouring,
    settings: PaintSettings,
    *,
    real_scale: float,
    scale_known: bool,
    on_hand: bytes | None = None,
    used_before: tuple[UsedPaint, ...] = (),
    strands: tuple[str, ...] = (),
) -> Schedule:
    """Work out areas, paint and leaf, mixes, order and cautions.

    `real_scale`: real length / drawn length. `scale_known`: whether the real size was
    stated. `used_before`: what was really used when it was painted. `strands`: lengths
    of bands to paint, a line for each sort. Raises `PlanError` if a setting makes no
    sense, there is no region, a larger panel is asked for a drawing that is no plane
    pattern, or the paints on hand are wrong.
    """
    check_settings(settings, real_scale)
    palette = colouring.palette
    _check_wishes(palette, settings)
    amounts = Amounts(
        arrangement, orbits, adjacency, colouring, settings, real_scale, on_hand
    )
    quantities, extras = amounts.packed
    steps = find_steps(amounts)
    clashes = _clashes(amounts, steps)
    whites = {white.above: white.paint for white in amounts.whites}
    steps = with_care(_refused(steps, clashes), amounts.swatches, whites)
    steps = time_steps(amounts, steps)
    mixes, patch = amounts.mixes, amounts.patch
    return Schedule(
        quantities=quantities,
        extras=extras,
        extra_names=tuple(extra.name for extra in amounts.extras),
        steps=steps,
        mixes=tuple(
            (place, mix.text, mix.difference, mix.remark)
            for place, mix in mixes.recipes.items()
        ),
        cautions=_cautions(amounts, steps),
        real_scale=real_scale,
        across=float(np.ptp(arrangement.vertices[:, 0], axis=0)) * real_scale,
        scale_known=scale_known,
        notes=(*amounts.notes, *map(_note, clashes)),
        bought=tuple((b.name, b.need) for b in amounts.taken),
        swatches=tuple(amounts.swatches),
        buys=(*amounts.buys, *amounts.taken),
        currency=palette.currency or mixes.hand.currency,
        clashes=clashes,
        refused=tuple(
            (place, mix.text, mix.difference) for place, mix in mixes.refused.items()
        ),
        materials=_materials(amounts, steps),
        leafing=amounts.leafing,
        patch=patch.words if patch is not None else "",
        mended=patch,
        used=used_before,
        strands=strands,
        support=settings.support,
    )


def _check_wishes(palette: Palette, settings: PaintSettings) -> None:
    if settings.patch and settings.panel is not None:
        what = "a patch is part of the drawing, and a larger panel is more than it"
        raise PlanError(what, mend="leave out --patch, or --panel")
    under = place_of(palette, settings.under)
    if under is not None and not liquid(palette.swatches[under]):
        medium = palette.swatches[under].medium
        what = f"{settings.under} is {medium}, and only paint goes under all"
        raise PlanError(what, mend="take a paint of its colour for --under")
    for name in (settings.under, *(n for n, _ in settings.coats_of)):
        if name and place_of(palette, name) is None:
            what = f"“{name}” is no paint of the palette {palette.name}"
            mend = "take one of " + ", ".join(s.name for s in palette.swatches)
            raise PlanError(what, mend=mend)


def _clashes(amounts: Amounts, steps: tuple[Step, ...]) -> tuple[Clash, ...]:
    """Return what does not hold: at edges, in mixes, under leaf."""
    swatches = amounts.swatches
    primer, varnish = amounts.over_and_under
    found = find_clashes(
        swatches,
        amounts.used,
        _lies_on(amounts, steps),
        support=amounts.settings.support,
        primer=primer,
        varnish=varnish,
    )
    mixed = (
        clash_of_mix(place, swatches, [p.swatch.medium for p, _ in mix.parts])
        for place, mix in amounts.mixes.recipes.items()
    )
    return (*found, *(c for c in mixed if c is not None), *_bole_on_paint(amounts))


def _lies_on(amounts: Amounts, steps: tuple[Step, ...]) -> list[tuple[int, int]]:
    """Return which swatch lies on which, at least at an edge, in painting order."""
    laid = [s for s in steps if s.kind in ("under", "gild", "fill", "draw", "line")]
    placed = [(s.kind, s.swatch) for s in laid if s.swatch is not None]
    order = [swatch for kind, swatch in placed if kind != "line"]
    lines = [swatch for kind, swatch in placed if kind == "line"]
    under, touching = amounts.under, amounts.areas.touching
    pairs = [(s, under) for s in order if under is not None and s != under]
    pairs += [(line, s) for line in lines for s in order if s != line]
    # what is painted up to another laps over its edge
    pairs += [
        (later, earlier)
        for k, later in enumerate(order)
        for earlier in order[:k]
        if touching[later, earlier] > 0
    ]
    return list(dict.fromkeys(pairs))


def _bole_on_paint(amounts: Amounts) -> tuple[Clash, ...]:
    """Refuse water gilding over a ground that lies under the whole piece."""
    leaf, under = [q.swatch for q in amounts.leaf], amounts.under
    if under is None or not leaf or not amounts.bole:
        return ()
    return (
        Clash(
            pair=f"bole on {amounts.swatches[under].medium}",
            who=", ".join(amounts.swatches[i].name for i in leaf),
            why="bole wants gesso that drinks; on paint it flakes when burnished",
            remedy="leave the gilded regions out of the ground, or gild with oil size",
            swatches=(*leaf, under),
        ),
    )


def _note(clash: Clash) -> Note:
    return Note("plans", "does not hold", clash.text.partition(". Instead")[0])


def _refused(steps: tuple[Step, ...], clashes: tuple[Clash, ...]) -> tuple[Step, ...]:
    """Say in each step that is refused, that it is."""
    pairs = {c.swatches[0]: c.pair for c in reversed(clashes) if c.swatches}
    found = []
    for step in steps:
        pair = pairs.get(step.swatch) if step.swatch is not None else None
        if pair and step.kind != "bare":
            text = f"Refused as it stands, {pair} does not hold. {step.text}"
            step = replace(step, text=text)
        found.append(step)
    return tuple(found)


def _materials(amounts: Amounts, steps: tuple[Step, ...]) -> tuple[Buy, ...]:
    gilt = [q.area_real for q in amounts.leaf]
    if amounts.line is not None and amounts.line_gilt:
        gilt.append(amounts.line[0].area_real)
    bare = math.fsum(amounts.areas.area[list(amounts.bare)])
    return list_materials(
        steps,
        painted=amounts.painted,
        bare=bare * amounts.real_scale**2,
        gilt=math.fsum(gilt),
        spare=amounts.settings.spare,
        prices=amounts.prices,
    )


def _cautions(amounts: Amounts, steps: tuple[Step, ...]) -> tuple[str, ...]:
    mixes = amounts.mixes
    recipes = (*mixes.recipes.values(), *mixes.refused.values())
    named = {b.name for b in amounts.taken}
    named |= {paint.name for recipe in recipes for paint, _ in recipe.parts}
    whites = {white.quantity.swatch for white in amounts.whites} - {-1}
    return find_cautions(
        [
            *(amounts.swatches[i] for i in sorted({*amounts.used, *whites})),
            *(p.swatch for p in mixes.hand.paints if p.name in named),
        ],
        varnish=amounts.over_and_under[1],
        support=amounts.settings.support,
        needs=frozenset(need for step in steps for need in step.needs),
    )
