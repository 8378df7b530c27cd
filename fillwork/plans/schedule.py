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
from fillwork.plans.order import (
    Work,
    find_steps,
    gilds_with_water,
    main_medium,
    painting_order,
    paints_of_bands,
)
from fillwork.plans.patch import find_patch
from fillwork.plans.quantities import (
    COMMON,
    DEFAULT_COVERAGE,
    Coats,
    check_settings,
    coats_of,
    coverage_of,
    find_quantities,
    quantity_of_liquid,
)
from fillwork.plans.swallowed import find_swallowed, swallowed_note
from fillwork.plans.tins import Tins, buy_leaf
from fillwork.plans.words import length_words
from fillwork.plans.working import find_brushes, time_steps
from fillwork.units import fine_text

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
    if pen and _line_wanted(colouring):
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
        weight, count, doubts = _repeats(orbits, adjacency, settings.panel, real_scale)
        areas = measure_areas(
            arrangement, orbits, colouring, weight, count, covered=covered
        )
        notes += doubts
    bare = tuple(
        i
        for i, s in enumerate(palette.swatches)
        if s.medium == "bare" or _named(s.name, s.code, colouring)
    )
    under = _place(palette, settings.under)
    line_place = _line_place(colouring)
    used = {
        i
        for i in range(len(palette.swatches))
        if i not in bare and (areas.area[i] > 0 or i in (under, line_place))
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
        line=_gilt_line(colouring, swatches, areas, real_scale),
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
    line = _outline(colouring, swatches, areas, settings, medium, real_scale)
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
    whites = _whites(quantities, swatches, settings, under, mixes.paints)
    for place, white, quantity in whites:
        what, volume = f"under {swatches[place].name}", quantity.volume or 0.0
        name = _paint_name(white, swatches)
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
    for what, area, coverage in (
        (primer, painted, _PRIMER_COVERAGE),
        (varnish, sealed, _VARNISH_COVERAGE),
    ):
        if what and area > 1e-9:
            one = _whole(area, real_scale, coverage, settings, medium)
            extras.append((one, f"{what}, {where}", what))
            tins.use_other(what, medium, where, one.volume or 0.0)
    work = Work(
        outline=line[1] if line else "",
        outline_swatch=line[0].swatch if line and line[0].swatch >= 0 else None,
        primer=primer,
        varnish=varnish,
        under=under,
        whites=tuple((place, _paint_name(w, swatches)) for place, w, _ in whites),
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
        if name and _place(palette, name) is None:
            what = f"“{name}” is no paint of the palette {palette.name}"
            mend = "take one of " + ", ".join(s.name for s in palette.swatches)
            raise PlanError(what, mend=mend)


def _place(palette: Palette, name: str) -> int | None:
    try:
        return palette.index(name) if name else None
    except KeyError:
        return None


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


def _gilt_line(
    colouring: Colouring, swatches: Sequence[Swatch], areas: Areas, real_scale: float
) -> tuple[int, float, float] | None:
    """Return swatch, length and width of a gilded line, mm; None where it is none."""
    place = _line_place(colouring)
    if place is None or swatches[place].medium != "leaf":
        return None
    width = colouring.rules.outline_width
    width = areas.outline_width if width is None else width
    return place, areas.outline * real_scale, width * real_scale


def _named(name: str, code: str, colouring: Colouring) -> bool:
    wanted = {b.strip().casefold() for b in colouring.rules.bare}
    return name.casefold() in wanted or code.casefold() in wanted


def _line_wanted(colouring: Colouring) -> bool:
    """Return whether a painted line was asked for: by name or by width."""
    rules = colouring.rules
    wish = (rules.outline or "").strip()
    if wish.casefold() == "none" or rules.outline_width == 0:
        return False
    return bool(wish) or rules.outline_width is not None


def _line_place(colouring: Colouring) -> int | None:
    if not _line_wanted(colouring):
        return None
    return _place(colouring.palette, (colouring.rules.outline or "").strip())


def _over_and_under(settings: PaintSettings, medium: str) -> tuple[str, str]:
    """Return primer and varnish: as wished, else as is common for the medium."""
    facts = MEDIA_FACTS.get(medium)
    common = (facts.primer, facts.varnish) if facts else ("", "")
    primer, varnish = (
        usual if not wish else "" if wish.casefold() == "none" else wish
        for wish, usual in zip((settings.primer, settings.varnish), common, strict=True)
    )
    return primer, varnish


def _paint_name(white: int | str | HandPaint, swatches: Sequence[Swatch]) -> str:
    if isinstance(white, int):
        return swatches[white].name
    return white if isinstance(white, str) else white.name


def _whites(
    quantities: tuple[Quantity, ...],
    swatches: Sequence[Swatch],
    settings: PaintSettings,
    under: int | None,
    paints: tuple[HandPaint, ...],
) -> list[tuple[int, int | str | HandPaint, Quantity]]:
    """Return which swatches need white under them, which white, and how much."""
    if under is None:
        return []
    found = []
    for q in quantities:
        swatch = swatches[q.swatch]
        if q.bare or q.swatch == under or q.volume is None:
            continue
        if not coats_of(swatch, settings, swatches[under]).white:
            continue
        white = _white_for(swatch, swatches, paints)
        if isinstance(white, int):
            paint = swatches[white]
        elif isinstance(white, str) or white.swatch is None:
            paint = replace(swatch, coverage=None, price=())
        else:
            paint = white.swatch
        coverage, origin = coverage_of(paint)
        base = replace(q, swatch=white if isinstance(white, int) else -1, edge=0.0)
        base = replace(base, leaves=None, books=None)
        one = Coats(1, f"{COMMON} under a paint that lets the ground through")
        quantity = quantity_of_liquid(
            base, paint, coverage, origin, settings, coats=one
        )
        found.append((q.swatch, white, quantity))
    return found


def _white_for(
    swatch: Swatch, swatches: Sequence[Swatch], paints: tuple[HandPaint, ...]
) -> int | str | HandPaint:
    """Return an opaque white of the paint's medium: of the palette, on hand, or new."""

    def _white(one: Swatch) -> bool:
        opaque = one.opacity in ("", "opaque", "semi-opaque")
        alike = one.medium == swatch.medium
        return alike and opaque and one.lab[0] >= 88 and one.oklch[1] < 0.04

    for hand in paints:
        if hand.swatch is not None and _white(hand.swatch):
            return hand
    own = [i for i, s in enumerate(swatches) if _white(s)]
    if own:
        return max(own, key=lambda i: swatches[i].lab[0])
    return f"white, {swatch.medium}" if swatch.medium else "white"


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


def _repeats(
    orbits: Orbits, adjacency: Adjacency, panel: tuple[float, float], real_scale: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[Note]]:
    """Return how often each kind counts on a larger panel, and how many it has."""
    zone = orbits.zones[0] if orbits.zones else None
    lattice = None if zone is None else zone.symmetry.lattice
    if zone is None or lattice is None or zone.symmetry.group.family != "plane":
        family = "none" if zone is None else zone.symmetry.group.family
        what = f"a larger panel needs a plane pattern, and this one is “{family}”"
        mend = "leave out --panel, or state the symmetry with --symmetry plane:NAME"
        raise PlanError(what, mend=mend)
    if not all(math.isfinite(v) and v > 0 for v in panel):
        what = "the panel must be wider and higher than 0 mm"
        raise PlanError(what, mend="give --panel W,H such as 2m,1m")
    (a, b), (c, d) = lattice.basis.tolist()
    cell = abs(a * d - b * c)
    repeats = panel[0] * panel[1] / (cell * real_scale**2)
    notes = []
    turns = sum(o.kind in ("identity", "rotation") for o in zone.symmetry.operations)
    order = {"all": len(zone.symmetry.operations), "turns": turns}.get(orbits.match, 1)
    order = max(order, 1)
    weight, count = np.zeros(len(orbits.orbits)), np.zeros(len(orbits.orbits))
    filled = 0.0
    for row, orbit in enumerate(orbits.orbits):
        if orbit.zone != zone.index:
            continue
        whole = len(orbit.faces) - orbit.cut > 0
        in_cell = order / _site_order(orbit.site_symmetry, orbits.match)
        filled += in_cell * orbit.area
        seen = float(adjacency.area[row])
        count[row] = in_cell * repeats
        if whole and seen > 0:
            weight[row] = in_cell * orbit.area * repeats / seen
        else:
            filled = math.nan
    alone = orbits.match in ("none", "family", "figure")
    if alone or not abs(filled - cell) <= 0.01 * cell:
        here = np.array([o.zone == zone.index for o in orbits.orbits])
        seen_area = float(adjacency.area[here].sum())
        scale = panel[0] * panel[1] / (seen_area * real_scale**2)
        weight = np.where(here, scale, 0.0)
        count = weight * [len(o.faces) for o in orbits.orbits]
        text = "the panel was scaled by the area seen, not by whole repeats"
        remedy = "draw at least one whole repeat for exact figures"
        if alone:
            text = (
                f"with --match {orbits.match} colours do not follow the repeats: the "
                "panel was scaled by the area seen"
            )
            remedy = f"leave out --match {orbits.match} for exact figures"
        notes.append(Note("plans", "scaled by area", text, remedy=remedy))
    if len(orbits.zones) > 1:
        text = "only the field is repeated over the panel; borders are left out"
        notes.append(Note("plans", "borders left out", text))
    return weight, count, notes


def _site_order(site: str, match: str) -> int:
    """Return how many of the operations that match keep a region in its place."""
    digits = "".join(c for c in site if c.isdigit())
    order = int(digits) if digits else 1
    if match == "all":
        return order * (2 if site.startswith("D") else 1)
    return order if match == "turns" else 1


def _outline(
    colouring: Colouring,
    swatches: Sequence[Swatch],
    areas: Areas,
    settings: PaintSettings,
    medium: str,
    real_scale: float,
) -> tuple[Quantity, str] | None:
    """Return the painted line as a quantity, and what it is painted with."""
    if not _line_wanted(colouring):
        return None
    wish = (colouring.rules.outline or "").strip()
    width = colouring.rules.outline_width
    place = _line_place(colouring)
    swatch = swatches[place] if place is not None else None
    name = swatch.name if swatch else wish or "a near-black line"
    origin = "plan" if width is not None else "default"
    width = (areas.outline_width if width is None else width) * real_scale
    length = areas.outline * real_scale
    base = Quantity(
        swatch=-1 if place is None else place,
        faces=0,
        area_drawn=length * width / real_scale**2,
        area_real=length * width,
        edge=length,
        coats=1,
        coverage=None,
        volume=None,
    )
    used = swatch.medium if swatch else medium
    rows = [
        ("length", length_words(length), "drawing"),
        ("width", f"{fine_text(width, 2)} mm", origin),
    ]
    if swatch is not None and not liquid(swatch):
        return replace(base, factors=tuple(rows)), name
    if swatch is not None:
        coverage, source = coverage_of(swatch)
    else:
        facts = MEDIA_FACTS.get(used)
        coverage = (facts.coverage if facts else None) or DEFAULT_COVERAGE
        source = f"{COMMON} for {used or 'paint'}"
    one = Coats(1, COMMON)
    paint = swatch if swatch is not None else used
    return (
        quantity_of_liquid(base, paint, coverage, source, settings, rows, coats=one),
        name,
    )


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
