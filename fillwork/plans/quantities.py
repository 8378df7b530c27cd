"""How much paint and leaf to buy.

Volume = real area x coats x (1 + spare) / coverage. Coverage comes from the
palette; where it is silent, from `MEDIA_FACTS`, which is common practice
without a source, as are drying times, container sizes and the figures for leaf.
Every factor stands in `Quantity.factors` with where it comes from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fillwork.errors import PlanError
from fillwork.notes import Note
from fillwork.plans.model import PaintSettings, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.colouring.model import Palette, Swatch
    from fillwork.plans.areas import Areas

__all__ = [
    "BOOK",
    "COMMON",
    "DEFAULT_COVERAGE",
    "MEDIA_FACTS",
    "MediumFacts",
    "check_settings",
    "find_quantities",
    "liquid",
    "pick_containers",
    "quantity_of_liquid",
]

COMMON = "common practice"
BOOK = 25
DEFAULT_COVERAGE = 8.0
_DEFAULTS = PaintSettings()
_LITRES = (100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0, 10000.0)
_TUBES = (20.0, 60.0, 120.0, 250.0, 500.0, 1000.0)


@dataclass(frozen=True, slots=True)
class MediumFacts:
    """Hold what is common practice for one medium.

    Parameters
    ----------
    coverage : float or None
        m² a litre in one coat; None where it is not sold by volume.
    span : str
        The range makers speak of.
    drying : str
        Time between coats.
    containers : tuple of float
        Sizes in the trade, mL.
    primer : str
        What goes under it; empty for none.
    varnish : str
        What goes over it; empty for none.
    transparent : bool
        Whether it is transparent unless the swatch says otherwise.
    """

    coverage: float | None
    span: str = ""
    drying: str = ""
    containers: tuple[float, ...] = _TUBES
    primer: str = ""
    varnish: str = ""
    transparent: bool = False


MEDIA_FACTS: dict[str, MediumFacts] = {
    "acrylic": MediumFacts(
        6.5, "5-8", "1 hour", _TUBES, "acrylic primer", "acrylic varnish"
    ),
    "casein": MediumFacts(8.0, "6-10", "2 hours", _LITRES, "gesso", ""),
    "chalk paint": MediumFacts(11.0, "10-13", "2 hours", _LITRES, "", "matt varnish"),
    "bare": MediumFacts(None),
    "crayon": MediumFacts(None),
    "egg tempera": MediumFacts(10.0, "8-12", "1 hour", _TUBES, "gesso", ""),
    "emulsion": MediumFacts(12.0, "10-14", "4 hours", _LITRES, "wall primer", ""),
    "enamel": MediumFacts(12.0, "10-14", "16 hours", _LITRES, "undercoat", ""),
    "gouache": MediumFacts(10.0, "8-12", "1 hour", _TUBES),
    "ink": MediumFacts(12.0, "10-15", "15 minutes", (30.0, 100.0, 250.0), "", ""),
    "leaf": MediumFacts(None),
    "lime wash": MediumFacts(6.0, "4-8", "24 hours", _LITRES, "", ""),
    "marker": MediumFacts(None),
    "oil": MediumFacts(
        10.0,
        "8-12",
        "3 to 7 days",
        (40.0, 200.0, 500.0, 1000.0),
        "oil primer",
        "varnish",
    ),
    "paper": MediumFacts(None),
    "pencil": MediumFacts(None),
    "silicate paint": MediumFacts(6.0, "5-7", "12 hours", _LITRES, "", ""),
    "thread": MediumFacts(None),
    "tile": MediumFacts(None),
    "watercolour": MediumFacts(
        14.0, "10-18", "until the sheen is gone", (5.0, 15.0, 30.0), "", "", True
    ),
}
"""Common practice, no source; the label decides."""


def liquid(swatch: Swatch) -> bool:
    """Return whether a swatch is bought by volume.

    Parameters
    ----------
    swatch : Swatch
        The swatch.

    Returns
    -------
    bool
        False for leaf, pencils, thread, tile and the like.
    """
    facts = MEDIA_FACTS.get(swatch.medium)
    return facts is None or facts.coverage is not None or swatch.coverage is not None


def check_settings(settings: PaintSettings, real_scale: float) -> None:
    """Raise when a factor of the schedule makes no sense.

    Parameters
    ----------
    settings : PaintSettings
        The factors.
    real_scale : float
        Real length / drawn length.

    Raises
    ------
    PlanError
        Naming the first factor that is wrong.
    """
    if settings.coats < 1 or settings.coats > 50:
        what = f"{settings.coats} coats cannot be painted"
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
    if not 0.0 <= settings.leaf_lap < settings.leaf_size / 2:
        what = (
            f"a lap of {settings.leaf_lap:g} mm does not fit "
            f"a leaf of {settings.leaf_size:g} mm"
        )
        raise PlanError(what, mend="a leaf of 80 mm takes a lap of about 3 mm")
    if not 0.0 <= settings.leaf_waste < 1.0:
        what = f"a loss of {100 * settings.leaf_waste:g} % of the leaf makes no sense"
        raise PlanError(what, mend="keep it under 100 %; 10-15 % is usual")


def pick_containers(
    need: float, sizes: Iterable[float]
) -> tuple[tuple[float, int], ...]:
    """Choose containers that hold a volume with little left over.

    Parameters
    ----------
    need : float
        Volume, mL.
    sizes : iterable of float
        Sizes on sale, mL.

    Returns
    -------
    tuple of (float, int)
        Size and count, large ones first: of the choices that fill up with ever
        smaller sizes, the one with the least volume, each piece counted as 5 %
        more, for nobody likes to carry five small tins.
    """
    falling = sorted({float(s) for s in sizes if s > 0}, reverse=True)
    if need <= 0 or not falling:
        return ()
    best: tuple[float, int, tuple[tuple[float, int], ...]] | None = None
    for first in range(len(falling)):
        for last in range(first, len(falling)):
            rest = need
            picked: list[tuple[float, int]] = []
            for size in falling[first : last + 1]:
                exact = rest / size
                smallest = size == falling[last]
                count = math.ceil(exact - 1e-9) if smallest else int(exact + 1e-9)
                # however little is needed, it comes in one container
                count = max(count, int(smallest and not picked))
                if count > 0:
                    picked.append((size, count))
                    rest -= count * size
            volume = math.fsum(s * n for s, n in picked)
            pieces = sum(n for _, n in picked)
            weighed = round(volume * (1.0 + 0.05 * pieces), 6)
            if best is None or (weighed, pieces) < best[:2]:
                best = (weighed, pieces, tuple(picked))
    return best[2] if best is not None else ()


def find_quantities(
    areas: Areas,
    palette: Palette,
    settings: PaintSettings,
    *,
    real_scale: float,
    bare: tuple[int, ...] = (),
    ground: int | None = None,
    areas_drawn: Areas | None = None,
) -> tuple[tuple[Quantity, ...], tuple[Note, ...]]:
    """Work out what each swatch needs.

    Parameters
    ----------
    areas : Areas
        What each swatch covers (scaled by repeats for a larger panel), mm of
        the drawing.
    palette : Palette
        The palette.
    settings : PaintSettings
        Coats, spare, containers, leaf.
    real_scale : float
        Real length / drawn length.
    bare : tuple of int
        Swatches that stand for unpainted surface.
    ground : int or None
        The swatch that also covers the page outside the regions.
    areas_drawn : Areas, optional
        What the swatches cover on the drawing itself, when `areas` is scaled.

    Returns
    -------
    tuple of (tuple of Quantity, tuple of Note)
        One a swatch used, in the order of the palette; and what is doubtful.

    Raises
    ------
    PlanError
        If a factor makes no sense.
    """
    check_settings(settings, real_scale)
    drawn = areas if areas_drawn is None else areas_drawn
    quantities, silent = [], []
    for place, swatch in enumerate(palette.swatches):
        extra = areas.margin if place == ground else 0.0
        area = float(areas.area[place]) + extra
        if area <= 0.0 and areas.faces[place] <= 0:
            continue
        common = Quantity(
            swatch=place,
            faces=round(float(areas.faces[place])),
            area_drawn=float(drawn.area[place]) + (drawn.margin if extra else 0.0),
            area_real=area * real_scale**2,
            edge=float(areas.edge[place]) * real_scale,
            coats=1,
            coverage=None,
            volume=None,
        )
        factors = [("margin", "page outside the regions", "ground")] if extra else []
        if place in bare:
            quantity = replace(common, coats=0, bare=True)
        elif swatch.medium == "leaf":
            quantity = _leaf(common, settings)
        elif not liquid(swatch):
            factor = (swatch.medium, "by area", "not sold by volume")
            quantity = replace(common, factors=(factor,))
        else:
            coverage, origin = _coverage(swatch)
            if not origin:
                silent.append(swatch.name)
            quantity = quantity_of_liquid(
                common, swatch.medium, coverage, origin, settings, factors
            )
        quantities.append(quantity)
    notes = []
    if silent:
        text = f"no coverage is known for {', '.join(silent)}; {DEFAULT_COVERAGE:g} "
        text += "m²/L was taken"
        remedy = "add coverage = ... (m² a litre, one coat) to the palette"
        notes.append(Note("plans", "no coverage", text, remedy=remedy))
    return tuple(quantities), tuple(notes)


def _coverage(swatch: Swatch) -> tuple[float, str]:
    if swatch.coverage is not None:
        return swatch.coverage, "palette"
    facts = MEDIA_FACTS.get(swatch.medium)
    if facts is not None and facts.coverage is not None:
        return facts.coverage, f"{COMMON} for {swatch.medium}: {facts.span} m²/L"
    return DEFAULT_COVERAGE, ""


def _origin(name: str, value: float) -> str:
    """Return where a setting comes from: a default is common practice."""
    return COMMON if value == getattr(_DEFAULTS, name) else "plan"


def quantity_of_liquid(
    common: Quantity,
    medium: str,
    coverage: float,
    origin: str,
    settings: PaintSettings,
    factors: Iterable[tuple[str, str, str]] = (),
    *,
    coats: int | None = None,
) -> Quantity:
    """Return the quantity of a paint, primer or varnish sold by volume.

    Parameters
    ----------
    common : Quantity
        Swatch, faces, areas and edge; the rest is filled in.
    medium : str
        Medium, for the container sizes.
    coverage : float
        m² a litre in one coat.
    origin : str
        Where the coverage comes from; empty for a mere guess.
    settings : PaintSettings
        Coats, spare, containers.
    factors : iterable of (str, str, str)
        Factors to name besides.
    coats : int, optional
        Coats; those of the settings by default.

    Returns
    -------
    Quantity
        With volume and containers.
    """
    source = COMMON if coats is not None else _origin("coats", settings.coats)
    coats = settings.coats if coats is None else coats
    litres = common.area_real * 1e-6 * coats * (1.0 + settings.spare) / coverage
    volume = litres * 1000.0
    facts = MEDIA_FACTS.get(medium)
    sizes = settings.containers or (facts.containers if facts else _LITRES)
    rows = [
        *factors,
        ("coats", str(coats), source),
        ("coverage", f"{coverage:g} m²/L", origin or "guess, no medium known"),
        ("spare", f"{100 * settings.spare:g} %", _origin("spare", settings.spare)),
        ("containers", _listed(sizes), "plan" if settings.containers else COMMON),
    ]
    return replace(
        common,
        coats=coats,
        coverage=coverage,
        volume=volume,
        containers=pick_containers(volume, sizes),
        factors=tuple(rows),
    )


def _leaf(common: Quantity, settings: PaintSettings) -> Quantity:
    """Return leaves and books: each leaf loses its lap, each edge needs one."""
    usable = (settings.leaf_size - settings.leaf_lap) ** 2
    gross = common.area_real + common.edge * settings.leaf_lap
    leaves = math.ceil(gross * (1.0 + settings.leaf_waste) / usable - 1e-9)
    leaves = max(leaves, int(gross > 0))
    return replace(
        common,
        leaves=leaves,
        books=math.ceil(leaves / BOOK),
        factors=(
            (
                "leaf",
                f"{settings.leaf_size:g} x {settings.leaf_size:g} mm",
                _origin("leaf_size", settings.leaf_size),
            ),
            (
                "lap",
                f"{settings.leaf_lap:g} mm, at edges too",
                _origin("leaf_lap", settings.leaf_lap),
            ),
            (
                "loss",
                f"{100 * settings.leaf_waste:g} %",
                _origin("leaf_waste", settings.leaf_waste),
            ),
            ("book", f"{BOOK} leaves", COMMON),
            ("colour", "nominal; metal changes with the light", "its ΔE00 too"),
        ),
    )


def _listed(sizes: tuple[float, ...]) -> str:
    return ", ".join(f"{size:g}" for size in sizes) + " mL"
