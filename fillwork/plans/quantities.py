"""How much paint and leaf each swatch needs.

Volume = real area x coats x (1 + spare) / coverage. Coverage comes from the
palette; where it is silent, from `fillwork.plans.media`, which is common practice
without a source, as are coats by opacity, container sizes and the figures for
leaf. Every factor stands in `Quantity.factors` with where it comes from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fillwork.errors import PlanError
from fillwork.notes import Note
from fillwork.plans.media import DEFAULT_COVERAGE, facts_of, is_transparent, liquid
from fillwork.plans.model import PaintSettings, Quantity
from fillwork.plans.settings import SUPPORTS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fillwork.colouring.palettes.model import Palette, Swatch
    from fillwork.plans.areas import Areas


COMMON = "common practice"
BOOK = 25
_OPACITY_COATS = {
    "opaque": 2,
    "semi-opaque": 3,
    "semi-transparent": 3,
    "transparent": 2,
}
"""Coats that a paint takes: common practice, no source. A transparent one is
not meant to cover."""
_DARKER = 10.0
"""L* by which a ground must be darker than a paint to show through it."""


@dataclass(frozen=True, slots=True)
class Coats:
    """Say how many coats a paint takes, and what must go under it."""

    coats: int  # coats of the paint itself
    origin: str  # where the number comes from
    white: bool = False  # whether white must go under it


def coats_of(
    swatch: Swatch, settings: PaintSettings, under: Swatch | None = None
) -> Coats:
    """Return the coats of a paint, over the ground that lies under it.

    That number; white under a paint through which a darker ground shows. `under`: the
    paint that lies under the whole piece.
    """
    darker = under is not None and under.lab[0] < swatch.lab[0] - _DARKER
    white = darker and liquid(swatch) and is_transparent(swatch)
    for name, coats in settings.coats_of:
        if name.casefold() in (swatch.name.casefold(), swatch.code.casefold()):
            return Coats(coats, "plan", white)
    if swatch.coats is not None:
        return Coats(swatch.coats, "palette", white)
    if settings.coats is not None:
        return Coats(settings.coats, "plan", white)
    origin = f"{COMMON} for {swatch.opacity} paint" if swatch.opacity else COMMON
    coats = _OPACITY_COATS.get(swatch.opacity, 2)
    if darker and swatch.opacity == "semi-opaque":
        return Coats(coats + 1, f"{origin}, one more over a darker ground")
    return Coats(coats, origin, white)


def check_settings(settings: PaintSettings, real_scale: float) -> None:
    """Raise when a factor of the schedule makes no sense.

    `real_scale`: real length / drawn length. Raises `PlanError` naming the first factor
    that is wrong.
    """
    for coats in (settings.coats, *(n for _, n in settings.coats_of)):
        if coats is not None and not 1 <= coats <= 50:
            what = f"{coats} coats cannot be painted"
            raise PlanError(what, mend="give --coats from 1 to 50")
    if not 0.0 <= settings.spare <= 5.0:
        what = f"a spare of {100 * settings.spare:g} % makes no sense"
        raise PlanError(what, mend="give --spare from 0% to 500%")
    if not (math.isfinite(real_scale) and 0.0 < real_scale < 1e6):
        what = f"a scale of {real_scale:g} makes no sense"
        raise PlanError(what, mend="give the true width with --real-width")
    if any(not (0.0 < c < 1e9) for c in settings.containers):
        what = "a container must hold more than 0 mL"
        raise PlanError(what, mend="give sizes in mL, such as 100, 250, 1000")
    if settings.support and settings.support not in SUPPORTS:
        what = f"“{settings.support}” is no support that is known"
        raise PlanError(what, mend="take one of " + ", ".join(SUPPORTS))
    if not 0.0 <= settings.leaf_lap < settings.leaf_size / 2:
        what = (
            f"a lap of {settings.leaf_lap:g} mm does not fit "
            f"a leaf of {settings.leaf_size:g} mm"
        )
        raise PlanError(what, mend="a leaf of 80 mm takes a lap of about 3 mm")
    if not 0.0 <= settings.leaf_waste < 1.0:
        what = f"a loss of {100 * settings.leaf_waste:g} % of the leaf makes no sense"
        raise PlanError(what, mend="keep it under 100 %; 10-15 % is usual")


def find_quantities(
    areas: Areas,
    palette: Palette,
    settings: PaintSettings,
    *,
    real_scale: float,
    bare: tuple[int, ...] = (),
    ground: int | None = None,
    areas_drawn: Areas | None = None,
    under: int | None = None,
    swatches: Sequence[Swatch] | None = None,
) -> tuple[tuple[Quantity, ...], tuple[Note, ...]]:
    """Work out what each swatch needs, but leaf, which is laid on the true shapes.

    `areas`: what each swatch covers (scaled by repeats for a larger panel), mm of the
    drawing. `real_scale`: real length / drawn length. `ground`: the swatch that also
    covers the page outside the regions. `areas_drawn`: what the swatches cover on the
    drawing itself, when `areas` is scaled. `under`: the swatch that goes over the whole
    panel, all but what is bare, before all others. `swatches`: the palette's paints as
    they are used; the palette's own by default. One a swatch used, in the order of the
    palette; and what is doubtful. Raises `PlanError` if a factor makes no sense.
    """
    check_settings(settings, real_scale)
    drawn = areas if areas_drawn is None else areas_drawn
    swatches = palette.swatches if swatches is None else swatches
    lies_under = None if under is None else swatches[under]
    quantities, silent = [], []
    for place, swatch in enumerate(swatches):
        if place == under and place not in bare:
            quantity = measure_under(
                place, areas, drawn, real_scale=real_scale, bare=bare, ground=ground
            )
        else:
            quantity = _measure_own(place, areas, drawn, real_scale, ground)
        if quantity.area_real <= 0.0 and areas.faces[place] <= 0:
            continue
        if place in bare:
            quantity = replace(quantity, coats=0, bare=True, factors=())
        elif not liquid(swatch) and swatch.medium != "leaf":
            factor = (swatch.medium, "by area", "not sold by volume")
            quantity = replace(quantity, factors=(factor,))
        elif swatch.medium == "leaf":
            quantity = replace(quantity, factors=())
        else:
            if not coverage_of(swatch)[1]:
                silent.append(swatch.name)
            coats = coats_of(swatch, settings, None if place == under else lies_under)
            quantity = quantity_of_liquid(
                quantity, swatch, settings, quantity.factors, coats=coats
            )
        quantities.append(quantity)
    return tuple(quantities), _silent_notes(silent)


def _measure_own(
    place: int, areas: Areas, drawn: Areas, real_scale: float, ground: int | None
) -> Quantity:
    """Return what a swatch covers: its regions, the page too if it is the ground."""
    extra = place == ground and areas.margin > 0
    area, on_drawing = (
        float(a.area[place]) + (a.margin if extra else 0.0) for a in (areas, drawn)
    )
    factors = (("margin", "page outside the regions", "ground"),) if extra else ()
    return Quantity(
        place,
        round(float(areas.faces[place])),
        on_drawing,
        area * real_scale**2,
        float(areas.edge[place]) * real_scale,
        factors=factors,
    )


def measure_under(
    place: int,
    areas: Areas,
    drawn: Areas,
    *,
    real_scale: float,
    bare: tuple[int, ...],
    ground: int | None,
) -> Quantity:
    """Return what a paint covers that goes under the whole piece.

    All but what is bare; its own regions need not be. The arguments are those of
    `find_quantities`; `drawn`: what the swatches cover on the drawing itself.
    """
    # what another ground leaves of the page is covered too
    page = ground is not None and ground not in bare
    area, on_drawing = (_all_but(a, bare, page=page) for a in (areas, drawn))
    factors = [("area", "under the whole piece", "plan")]
    if page and place == ground and areas.margin > 0:
        factors.insert(0, ("margin", "page outside the regions", "ground"))
    faces = 0 if place in bare else round(float(areas.faces[place]))
    return Quantity(
        place, faces, on_drawing, area * real_scale**2, 0.0, factors=tuple(factors)
    )


def _silent_notes(names: list[str]) -> tuple[Note, ...]:
    """Return a note on paints of which nothing says how far they go."""
    if not names:
        return ()
    text = f"no coverage is known for {', '.join(names)}; {DEFAULT_COVERAGE:g} "
    text += "m²/L was taken"
    remedy = "add coverage = ... (m² a litre, one coat) to the palette"
    return (Note("plans", "no coverage", text, remedy=remedy),)


def _all_but(areas: Areas, bare: tuple[int, ...], *, page: bool) -> float:
    """Return the area of all regions but bare ones; with what the page has outside."""
    margin = areas.margin if page else 0.0
    return areas.total + margin - math.fsum(areas.area[list(bare)])


def coverage_of(swatch: Swatch) -> tuple[float, str]:
    """Return how far a paint goes, and where that comes from.

    m² a litre in one coat; the origin, empty for a mere guess.
    """
    if swatch.coverage is not None:
        return swatch.coverage, "palette"
    facts = facts_of(swatch.medium)
    if facts.span and facts.coverage is not None:
        return facts.coverage, f"{COMMON} for {swatch.medium}: {facts.span} m²/L"
    return DEFAULT_COVERAGE, ""


def sizes_of(
    swatch: Swatch | None, medium: str, settings: PaintSettings
) -> tuple[tuple[float, ...], str]:
    """Return the sizes in which a paint is sold, and where that comes from.

    `swatch`: the paint; its prices name its sizes. `medium`: its medium, for the sizes
    common in the trade. Returns sizes, mL, and their origin.
    """
    if swatch is not None:
        priced = tuple(size for size, unit, _ in swatch.price if unit == "mL")
        if priced:
            return priced, "palette, with prices"
    if settings.containers:
        return settings.containers, "plan"
    return facts_of(medium).containers, COMMON


def quantity_of_liquid(
    common: Quantity,
    paint: Swatch | str,
    settings: PaintSettings,
    factors: Iterable[tuple[str, str, str]] = (),
    *,
    coverage: tuple[float, str] = (0.0, ""),
    coats: Coats | None = None,
) -> Quantity:
    """Return the quantity of a paint, primer or varnish sold by volume.

    Its packages are left open, for a tin may serve other uses too. `common`: swatch,
    faces, areas and edge; the rest is filled in. `paint`: what is bought, or a medium,
    for the container sizes. `factors`: factors to name besides. `coverage`: of a
    medium, as of `coverage_of`. `coats`: one coat by default.
    """
    coats = coats or Coats(1, COMMON)
    if isinstance(paint, str):
        sizes, source = sizes_of(None, paint, settings)
    else:
        sizes, source = sizes_of(paint, paint.medium, settings)
        coverage = coverage_of(paint)
    far, origin = coverage
    litres = common.area_real * 1e-6 * coats.coats * (1.0 + settings.spare) / far
    spare = COMMON if settings.spare == PaintSettings().spare else "plan"
    rows = (
        *factors,
        ("coats", str(coats.coats), coats.origin),
        ("coverage", f"{far:g} m²/L", origin or "guess, no medium known"),
        ("spare", f"{100 * settings.spare:g} %", spare),
        ("containers", ", ".join(f"{size:g}" for size in sizes) + " mL", source),
    )
    volume = litres * 1000.0
    return replace(common, coats=coats.coats, coverage=far, volume=volume, factors=rows)
