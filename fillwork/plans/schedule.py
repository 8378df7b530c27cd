"""What to buy and in what order to paint, gathered.

`make_schedule` joins areas, quantities, order, mixes and cautions;
`fillwork.plans.schedule_text` tells it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.notes import Note
from fillwork.plans.areas import measure_areas
from fillwork.plans.cautions import find_cautions, with_care
from fillwork.plans.larger_panel import panel_repeats
from fillwork.plans.leaf_quantities import plan_leaf, with_leaf
from fillwork.plans.materials import list_materials
from fillwork.plans.media import (
    MEDIA_FACTS,
    Clash,
    clash_of_mix,
    find_clashes,
    liquid,
)
from fillwork.plans.mixing import (
    FARTHEST,
    as_mixed,
    find_mixes,
    parse_paints,
    strength_notes,
)
from fillwork.plans.model import Quantity, Schedule
from fillwork.plans.order import find_steps
from fillwork.plans.paint_order import (
    Work,
    gilds_with_water,
    main_medium,
    painting_order,
    paints_of_bands,
)
from fillwork.plans.painted_line import (
    line_wanted,
    measure_gilt_line,
    measure_line,
    place_of,
    place_of_line,
)
from fillwork.plans.patch import find_patch
from fillwork.plans.quantities import (
    COMMON,
    check_settings,
    find_quantities,
    quantity_of_liquid,
)
from fillwork.plans.swallowed import find_swallowed, swallowed_note
from fillwork.plans.tins import Tins, buy_leaf
from fillwork.plans.whites import find_whites, white_name
from fillwork.plans.working import find_brushes, time_steps

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Adjacency, Colouring, Palette, Prices, Swatch
    from fillwork.plans.areas import Areas
    from fillwork.plans.mixing import HandPaint, Recipe
    from fillwork.plans.model import Buy, PaintSettings, Step, UsedPaint
    from fillwork.symmetry.model import Orbits

__all__ = ["make_schedule"]

_PRIMER_COVERAGE, _VARNISH_COVERAGE = 10.0, 12.0


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

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds.
    adjacency : Adjacency
        Which kinds touch.
    colouring : Colouring
        The swatch of each region.
    settings : PaintSettings
        Coats, spare, containers, leaf, panel.
    real_scale : float
        Real length / drawn length.
    scale_known : bool
        Whether the real size was stated.
    on_hand : bytes, optional
        File of the paints on hand, for mixes.
    used_before : tuple of UsedPaint
        What was really used when it was painted.
    strands : tuple of str
        Lengths of bands to paint, a line for each sort.

    Returns
    -------
    Schedule
        All of it.

    Raises
    ------
    PlanError
        If a setting makes no sense, there is no region, a larger panel is asked
        for a drawing that is no plane pattern, or the paints on hand are wrong.
    """
    check_settings(settings, real_scale)
    palette = colouring.palette
    _check_names(palette, settings)
    notes: list[Note] = []
    covered = None
    pen = colouring.rules.outline_width
    if pen and line_wanted(colouring):
        whole, covered = find_swallowed(arrangement, pen)
        note = swallowed_note(orbits, whole, covered, pen * real_scale)
        notes += [note] if note is not None else []
    patch = None
    if settings.patch:
        if settings.panel is not None:
            what = "a patch is part of the drawing, and a larger panel is more than it"
            raise PlanError(what, mend="leave out --patch, or --panel")
        patch = find_patch(arrangement, orbits, settings.patch, real_scale)
        outside = patch.face_share == 0
        covered = outside if covered is None else covered | outside
    drawn = measure_areas(arrangement, orbits, colouring, covered=covered, patch=patch)
    areas, count = drawn, None
    if settings.panel is not None:
        weight, count, doubts = panel_repeats(
            orbits, adjacency, settings.panel, real_scale
        )
        areas = measure_areas(
            arrangement, orbits, colouring, weight, count, covered=covered
        )
        notes += doubts
    bare = tuple(
        i
        for i, s in enumerate(palette.swatches)
        if s.medium == "bare" or _named(s.name, s.code, colouring)
    )
    under = place_of(palette, settings.under)
    line_at = place_of_line(colouring)
    used = {
        i
        for i in range(len(palette.swatches))
        if i not in bare and (areas.area[i] > 0 or i in (under, line_at))
    }
    mixes = _Mixes(palette, sorted(used), on_hand)
    swatches = mixes.swatches
    notes += mixes.notes
    quantities, silent = find_quantities(
        areas,
        palette,
        settings,
        real_scale=real_scale,
        bare=bare,
        ground=colouring.ground,
        areas_drawn=drawn,
        under=under,
        swatches=swatches,
    )
    notes += silent
    leafing = plan_leaf(
        arrangement,
        orbits,
        colouring,
        swatches,
        areas,
        settings,
        real_scale=real_scale,
        covered=covered,
        line=measure_gilt_line(colouring, swatches, areas, real_scale),
        count=count,
        shapes=None if patch is None else patch.parts,
    )
    laid = {plan.swatch: plan for plan in leafing}
    quantities = tuple(
        with_leaf(q, laid[q.swatch], swatches[q.swatch]) if q.swatch in laid else q
        for q in quantities
    )
    medium = main_medium(swatches, quantities)
    primer, varnish = _over_and_under(settings, medium)
    prices = (*palette.prices, *mixes.prices)
    tins = Tins(swatches, settings, mixes.recipes, prices)
    for q in quantities:
        if q.volume is not None:
            tins.use(q.swatch, "regions" if q.swatch != under else "ground", q.volume)
    # what else is used: the quantity, its name, and that of its tin
    extras: list[tuple[Quantity, str, str]] = []
    line = measure_line(colouring, swatches, areas, settings, medium, real_scale)
    if line is not None:
        plan = laid.get(line[0].swatch)
        if plan is not None and all(q.swatch != plan.swatch for q in quantities):
            # no region is gilded: the leaf stands in the line's own row
            gilt_line = with_leaf(line[0], plan, swatches[plan.swatch])
            told = (*line[0].factors, *gilt_line.factors)
            line = (replace(gilt_line, factors=told), line[1])
        tin = "" if line[0].swatch >= 0 else f"outline: {line[1]}"
        extras.append((line[0], f"outline: {line[1]}", tin))
        volume = line[0].volume
        if volume is not None and not tin:
            tins.use(line[0].swatch, "outline", volume)
        elif volume is not None:
            tins.use_other(tin, medium, "outline", volume)
    whites = find_whites(quantities, swatches, settings, under, mixes.paints)
    for place, white, quantity in whites:
        what, volume = f"under {swatches[place].name}", quantity.volume or 0.0
        name = white_name(white, swatches)
        extras.append(
            (quantity, f"{what}: {name}", "" if quantity.swatch >= 0 else name)
        )
        if isinstance(white, int):
            tins.use(white, what, volume)
        elif isinstance(white, str):
            tins.use_other(white, swatches[place].medium, what, volume)
        else:
            tins.use_hand(white, what, volume)
    painted = _painted(areas, drawn, colouring, settings, swatches, bare, real_scale)
    sealed = painted - math.fsum(
        q.area_real
        for q in quantities
        if swatches[q.swatch].medium == "leaf"
        and not ((leaf := swatches[q.swatch].leaf) and leaf.imitation)
    )
    where = "the patch" if patch is not None else "whole panel"
    where = "what is painted" if areas.area[list(bare)].sum() > 0 else where
    round_leaf = f"{where} but the leaf" if sealed < painted else where
    for what, over, area, coverage in (
        (primer, where, painted, _PRIMER_COVERAGE),
        (varnish, round_leaf, sealed, _VARNISH_COVERAGE),
    ):
        if what and area > 1e-9:
            one = _whole(area, real_scale, coverage, settings, medium)
            extras.append((one, f"{what}, {over}", what))
            tins.use_other(what, medium, over, one.volume or 0.0)
    work = Work(
        outline=line[1] if line else "",
        outline_swatch=line[0].swatch if line and line[0].swatch >= 0 else None,
        primer=primer,
        varnish=varnish,
        under=under,
        whites=tuple((place, white_name(w, swatches)) for place, w, _ in whites),
        brushes=find_brushes(
            arrangement, _takes_paint(colouring, swatches, bare), real_scale
        ),
        tape=settings.tape,
        patch=patch.words if patch is not None else "",
        bands=(settings.bands, paints_of_bands(arrangement, orbits, colouring)),
    )
    clashes = find_clashes(
        swatches,
        sorted(used),
        _lies_on(colouring, areas, quantities, swatches, work),
        support=settings.support,
        primer=primer,
        varnish=varnish,
    )
    mixed_of = (
        clash_of_mix(place, swatches, [paint.medium for paint, _ in recipe.parts])
        for place, recipe in mixes.recipes.items()
    )
    clashes = (*clashes, *(c for c in mixed_of if c is not None))
    clashes += _bole_on_paint(swatches, quantities, medium, under)
    notes += [
        Note("plans", "does not hold", clash.text.partition(". Instead")[0])
        for clash in clashes
    ]
    steps = find_steps(
        colouring, orbits, areas, quantities, swatches=swatches, work=work
    )
    if patch is not None:
        reached = set(orbits.of_face[patch.face_share > 0].tolist())
        steps = tuple(
            replace(step, orbits=tuple(row for row in step.orbits if row in reached))
            for step in steps
        )
    steps = time_steps(
        with_care(_refused(steps, clashes), swatches),
        quantities,
        swatches,
        areas,
        settings,
        medium=medium,
        painted=painted,
        line=line[0] if line else None,
    )
    materials = list_materials(
        steps,
        painted=painted,
        bare=math.fsum(areas.area[list(bare)]) * real_scale**2,
        gilt=_gilt(quantities, swatches, line),
        spare=settings.spare,
        prices=prices,
    )
    books = [buy_leaf(swatches[plan.swatch], plan) for plan in leafing]
    buys = tuple(
        sorted((*tins.buys(), *books), key=lambda b: (b.swatch < 0, max(b.swatch, 0)))
    )
    hand = tins.on_hand()
    tin_of: dict[int | str, Buy] = {
        (b.swatch if b.swatch >= 0 else b.name): b for b in (*buys, *hand)
    }
    # each tin stands in the row of its first use
    quantities = tuple(_packed(q, tin_of.pop(q.swatch, None)) for q in quantities)
    packed = [_packed(q, tin_of.pop(tin or q.swatch, None)) for q, _, tin in extras]
    gilt = [swatches[i] for i in sorted(used)]
    named = {b.name for b in hand} | mixes.named
    mixed = [p for p in mixes.paints if p.name in named]
    return Schedule(
        quantities=quantities,
        extras=tuple(packed),
        extra_names=tuple(name for _, name, _ in extras),
        steps=steps,
        mixes=mixes.told,
        cautions=find_cautions(
            [*gilt, *mixed],
            varnish=varnish,
            support=settings.support,
            needs=frozenset(need for step in steps for need in step.needs),
        ),
        real_scale=real_scale,
        across=float(np.ptp(arrangement.vertices[:, 0], axis=0)) * real_scale,
        scale_known=scale_known,
        notes=tuple(notes),
        bought=tuple((b.name, b.need) for b in hand),
        swatches=tuple(swatches),
        buys=(*buys, *hand),
        currency=palette.currency or mixes.currency,
        clashes=clashes,
        refused=mixes.refused,
        materials=materials,
        leafing=leafing,
        patch=patch.words if patch is not None else "",
        mended=patch,
        used=used_before,
        strands=strands,
        support=settings.support,
    )


class _Mixes:
    """Hold which swatches are mixed from the paints on hand, and which are not.

    Parameters
    ----------
    palette : Palette
        The palette.
    used : sequence of int
        Swatches that are painted.
    on_hand : bytes or None
        File of the paints on hand.
    """

    def __init__(
        self, palette: Palette, used: Sequence[int], on_hand: bytes | None
    ) -> None:
        self.swatches: list[Swatch] = list(palette.swatches)
        self.recipes: dict[int, Recipe] = {}
        self.paints: tuple[HandPaint, ...] = ()
        self.notes: list[Note] = []
        self.currency = ""
        self.prices: Prices = ()
        self.named: set[str] = set()
        self.told: tuple[tuple[int, str, float, str], ...] = ()
        self.refused: tuple[tuple[int, str, float], ...] = ()
        if on_hand is None:
            return
        self.paints, doubts = parse_paints(on_hand, "paints on hand")
        self.notes += doubts
        self.currency, self.prices = self.paints[0].currency, self.paints[0].prices
        wanted = [i for i in used if liquid(palette.swatches[i])]
        found = find_mixes([palette.swatches[i] for i in wanted], self.paints)
        for place, recipe in zip(wanted, found, strict=True):
            swatch = palette.swatches[place]
            self.named |= {paint.name for paint, _ in recipe.parts}
            if recipe.difference > FARTHEST:
                told = (place, recipe.text, recipe.difference)
                self.refused = (*self.refused, told)
                text = (
                    f"{swatch.name} cannot be mixed from the paints on hand: the "
                    f"nearest, {recipe.text}, is off by ΔE00 {recipe.difference:.1f}"
                )
                remedy = "buy it, or add a paint that comes nearer"
                self.notes.append(Note("plans", "no mix", text, remedy=remedy))
                continue
            self.recipes[place] = recipe
            self.swatches[place] = as_mixed(swatch, recipe)
            row = (place, recipe.text, recipe.difference, recipe.remark)
            self.told = (*self.told, row)
        self.notes += strength_notes(self.recipes.values())


def _check_names(palette: Palette, settings: PaintSettings) -> None:
    for name in (settings.under, *(n for n, _ in settings.coats_of)):
        if name and place_of(palette, name) is None:
            what = f"“{name}” is no paint of the palette {palette.name}"
            mend = "take one of " + ", ".join(s.name for s in palette.swatches)
            raise PlanError(what, mend=mend)


def _takes_paint(
    colouring: Colouring, swatches: Sequence[Swatch], bare: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Return which regions are filled with a brush."""
    wet = np.array(
        [liquid(s) and i not in bare for i, s in enumerate(swatches)] + [False]
    )
    return np.asarray(wet[colouring.of_face], np.bool_)


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


def _bole_on_paint(
    swatches: Sequence[Swatch],
    quantities: tuple[Quantity, ...],
    medium: str,
    under: int | None,
) -> tuple[Clash, ...]:
    """Refuse water gilding over a ground that lies under the whole piece."""
    leaf = [q.swatch for q in quantities if swatches[q.swatch].medium == "leaf"]
    if under is None or not leaf or not gilds_with_water(medium):
        return ()
    return (
        Clash(
            pair=f"bole on {swatches[under].medium}",
            who=", ".join(swatches[i].name for i in leaf),
            why="bole wants gesso that drinks; on paint it flakes when burnished",
            remedy="leave the gilded regions out of the ground, or gild with oil size",
            swatches=(*leaf, under),
        ),
    )


def _gilt(
    quantities: tuple[Quantity, ...],
    swatches: Sequence[Swatch],
    line: tuple[Quantity, str] | None,
) -> float:
    """Return the area that takes size, mm²."""
    gilt = [q.area_real for q in quantities if swatches[q.swatch].medium == "leaf"]
    if line and line[0].swatch >= 0 and swatches[line[0].swatch].medium == "leaf":
        gilt.append(line[0].area_real)
    return math.fsum(gilt)


def _named(name: str, code: str, colouring: Colouring) -> bool:
    wanted = {b.strip().casefold() for b in colouring.rules.bare}
    return name.casefold() in wanted or code.casefold() in wanted


def _over_and_under(settings: PaintSettings, medium: str) -> tuple[str, str]:
    """Return primer and varnish: as wished, else as is common for the medium."""
    facts = MEDIA_FACTS.get(medium)
    common = (facts.primer, facts.varnish) if facts else ("", "")
    primer, varnish = (
        usual if not wish else "" if wish.casefold() == "none" else wish
        for wish, usual in zip((settings.primer, settings.varnish), common, strict=True)
    )
    return primer, varnish


def _painted(
    areas: Areas,
    drawn: Areas,
    colouring: Colouring,
    settings: PaintSettings,
    swatches: Sequence[Swatch],
    bare: tuple[int, ...],
    real_scale: float,
) -> float:
    """Return the real area that takes paint or leaf, mm²: what is primed."""
    left = list(bare) + [
        i for i, s in enumerate(swatches) if s.medium != "leaf" and not liquid(s)
    ]
    idle = math.fsum(areas.area[sorted(set(left))]) * real_scale**2
    if settings.panel is not None:
        return settings.panel[0] * settings.panel[1] - idle
    margin = 0.0
    if colouring.ground is not None and colouring.ground not in left:
        margin = drawn.margin
    return max((drawn.total + margin) * real_scale**2 - idle, 0.0)


def _lies_on(
    colouring: Colouring,
    areas: Areas,
    quantities: tuple[Quantity, ...],
    swatches: Sequence[Swatch],
    work: Work,
) -> list[tuple[int, int]]:
    """Return which swatch lies on which, at least at an edge, in painting order."""
    order = painting_order(colouring, swatches, areas, quantities, work)
    under = work.under
    pairs = [(s, under) for s in order if under is not None and s != under]
    if work.outline_swatch is not None:
        pairs += [(work.outline_swatch, s) for s in order if s != work.outline_swatch]
    # what is painted up to another laps over its edge
    pairs += [
        (later, earlier)
        for k, later in enumerate(order)
        for earlier in order[:k]
        if areas.touching[later, earlier] > 0
    ]
    return list(dict.fromkeys(pairs))


def _packed(quantity: Quantity, buy: Buy | None) -> Quantity:
    """Return a quantity with the packages of its tin; none where it has no row."""
    if quantity.volume is None:
        return quantity
    return replace(quantity, containers=buy.packages if buy is not None else ())


def _whole(
    area: float,
    real_scale: float,
    coverage: float,
    settings: PaintSettings,
    medium: str,
) -> Quantity:
    base = Quantity(
        swatch=-1,
        faces=0,
        area_drawn=area / real_scale**2,
        area_real=area,
        edge=0.0,
        coats=1,
        coverage=None,
        volume=None,
    )
    return quantity_of_liquid(base, medium, coverage, COMMON, settings)
