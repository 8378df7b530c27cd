"""In what order to paint, and why.

The order follows common practice of the trade (no source): prime, gild with
water before painting, ground, transparent paints from light to dark, opaque
paints large areas before small, oil gilding when the paint has cured, outlines,
varnish. One paint goes through the whole piece before the next, so there are as
few changes as there are paints; where rank leaves it open, colours that touch do
not follow each other, so that wet edges do not meet.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.plans.model import Step
from fillwork.plans.quantities import MEDIA_FACTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.colouring.model import Colouring, Palette, Swatch
    from fillwork.plans.areas import Areas
    from fillwork.plans.model import Quantity
    from fillwork.symmetry.model import Orbits

__all__ = ["find_steps", "is_transparent", "main_medium"]

_DRY = frozenset({"crayon", "marker", "pencil"})
_OBJECTS = frozenset({"paper", "thread", "tile"})
_WATER_GILT = frozenset({"egg tempera"})


def is_transparent(swatch: Swatch) -> bool:
    """Return whether what lies under a paint shows through.

    Parameters
    ----------
    swatch : Swatch
        The swatch.

    Returns
    -------
    bool
        By its opacity; by its medium where that is not given.
    """
    if swatch.opacity:
        return swatch.opacity in ("transparent", "semi-transparent")
    facts = MEDIA_FACTS.get(swatch.medium)
    return bool(facts and facts.transparent) or swatch.medium in _DRY


def main_medium(palette: Palette, quantities: tuple[Quantity, ...]) -> str:
    """Return the medium that covers the largest area, leaf left out.

    Parameters
    ----------
    palette : Palette
        The palette.
    quantities : tuple of Quantity
        What each swatch covers.

    Returns
    -------
    str
        The medium; empty where none is given.
    """
    area: dict[str, float] = {}
    for q in quantities:
        if not q.bare:
            medium = palette.swatches[q.swatch].medium
            area[medium] = area.get(medium, 0.0) + q.area_real
    area.pop("leaf", None)
    return max(sorted(area), key=lambda m: area[m], default="")


def find_steps(
    colouring: Colouring,
    orbits: Orbits,
    areas: Areas,
    quantities: tuple[Quantity, ...],
    *,
    outline: str = "",
    outline_swatch: int | None = None,
    primer: str = "",
    varnish: str = "",
) -> tuple[Step, ...]:
    """Return the painting order with a reason for each step.

    Parameters
    ----------
    colouring : Colouring
        Which swatch each face bears.
    orbits : Orbits
        The kinds.
    areas : Areas
        Areas and which swatches touch.
    quantities : tuple of Quantity
        What each swatch covers.
    outline : str
        What the outline is painted with; empty for none.
    outline_swatch : int or None
        Its place in the palette, if it is a swatch.
    primer, varnish : str
        What goes under and over; empty for none.

    Returns
    -------
    tuple of Step
        From 1.
    """
    palette = colouring.palette
    real = {q.swatch: q for q in quantities}
    bare = [q.swatch for q in quantities if q.bare]
    leaf = [
        q.swatch
        for q in quantities
        if palette.swatches[q.swatch].medium == "leaf" and not q.bare
    ]
    paints = [q.swatch for q in quantities if not q.bare and q.swatch not in leaf]
    medium = main_medium(palette, quantities)
    kinds = _kinds(colouring, orbits)
    steps: list[tuple[int | None, str, str]] = []
    if bare:
        names = " and ".join(palette.swatches[s].name for s in bare)
        text = f"Leave {names} unpainted; mask it where the brush might slip."
        steps.append((bare[0], text, "what is bare must stay clean from the start"))
    if primer:
        text = f"Prime the whole panel with {primer} and let it dry."
        reason = "bare plaster, wood and card drink the first coat unevenly"
        steps.append((None, text, reason))
    water = medium in _WATER_GILT
    if water:
        steps += [_gild(palette.swatches[s], s, water=True) for s in leaf]
    for place, (swatch, reason) in enumerate(
        _paint_order(colouring, areas, real, paints)
    ):
        text = _how(palette.swatches[swatch], real[swatch], place)
        steps.append((swatch, text, reason))
    if not water:
        steps += [_gild(palette.swatches[s], s, water=False) for s in leaf]
    regions = len(steps)
    if outline:
        text = f"Draw the outlines with {outline}, over the meeting of the colours."
        reason = "last, because the line hides where two colours meet"
        steps.append((outline_swatch, text, reason))
    if varnish:
        text = f"Varnish the whole panel with {varnish} once everything has cured"
        text += "; go round true gold, cover imitation metal." if leaf else "."
        steps.append((None, text, "varnish seals what lies under it"))
    return tuple(
        Step(
            order=number,
            swatch=swatch,
            orbits=kinds.get(swatch, ())
            if swatch is not None and number <= regions
            else (),
            text=text,
            reason=reason,
        )
        for number, (swatch, text, reason) in enumerate(steps, start=1)
    )


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


def _paint_order(
    colouring: Colouring,
    areas: Areas,
    real: dict[int, Quantity],
    paints: list[int],
) -> list[tuple[int, str]]:
    """Return paints in order with reasons, ground first."""
    palette = colouring.palette
    total = math.fsum(q.area_real for q in real.values()) or 1.0
    share = {s: real[s].area_real / total for s in paints}
    ground = colouring.ground
    if ground not in paints:
        grounds = [s for s in paints if palette.swatches[s].role == "ground"]
        ground = grounds[0] if grounds else None
    rest = [s for s in paints if s != ground]
    clear = [s for s in rest if is_transparent(palette.swatches[s])]
    cover = [s for s in rest if s not in clear]
    clear.sort(key=lambda s: (-round(palette.swatches[s].lab[0]), s))
    # areas within a factor of two rank alike, which leaves room for wet edges
    cover.sort(key=lambda s: (-_octave(share[s]), -_covers(palette.swatches[s]), s))
    order: list[tuple[int, str]] = []
    if ground is not None:
        name = palette.swatches[ground].name
        reason = f"the ground comes first ({_percent(share[ground])}): "
        reason += f"every other colour is painted up to {name}"
        order.append((ground, reason))
    for swatch in clear:
        reason = "transparent paint goes from light to dark"
        order.append((swatch, reason + _wet(palette, areas, order, swatch)))
    last = order[-1][0] if order else None
    ranks = [_octave(share[s]) for s in cover]
    before: int | None = None
    for swatch in _apart(cover, ranks, areas.touching, last):
        reason = _size(palette, share, before, swatch)
        if palette.swatches[swatch].opacity in ("", "opaque"):
            reason += "; it covers, so its edge puts right the one before"
        order.append((swatch, reason + _wet(palette, areas, order, swatch)))
        before = swatch
    return order


def _size(
    palette: Palette, share: dict[int, float], before: int | None, swatch: int
) -> str:
    """Say why an opaque paint comes now, by its size."""
    part = _percent(share[swatch])
    if before is None:
        return f"of the largest areas left ({part})"
    if _octave(share[swatch]) == _octave(share[before]):
        return f"about as large as {palette.swatches[before].name} ({part})"
    return f"large before small ({part})"


def _octave(share: float) -> int:
    return math.floor(math.log2(max(share, 1e-9)) + 1e-9)


def _covers(swatch: Swatch) -> float:
    """Return how surely a paint covers: opaque first, then darker ones."""
    rank = {"opaque": 2.0, "semi-opaque": 1.0}.get(swatch.opacity, 1.5)
    return rank - swatch.lab[0] / 1000.0


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.005 else "under 1 %"


def _apart(
    ranked: list[int],
    ranks: list[int],
    touching: NDArray[np.float64],
    last: int | None,
) -> list[int]:
    """Return paints by rank, among equals one that does not touch the last."""
    left, order = list(zip(ranked, ranks, strict=True)), []
    while left:
        choice = 0
        if last is not None:
            equals = [s for s, rank in left if rank == left[0][1]]
            apart = (i for i, s in enumerate(equals) if touching[last, s] == 0.0)
            choice = next(apart, 0)
        last, _ = left.pop(choice)
        order.append(last)
    return order


def _wet(
    palette: Palette, areas: Areas, before: list[tuple[int, str]], swatch: int
) -> str:
    if not before:
        return ""
    last = before[-1][0]
    name = palette.swatches[last].name
    if areas.touching[last, swatch] > 0:
        return f"; it touches {name}: let that dry first"
    return f"; it does not touch {name}, which may still be wet"


def _how(swatch: Swatch, quantity: Quantity, place: int) -> str:
    facts = MEDIA_FACTS.get(swatch.medium)
    if swatch.medium in _OBJECTS:
        return f"Set the pieces of {swatch.name}."
    if swatch.medium in _DRY:
        return f"Colour every {swatch.name} region, edges first, then the middle."
    if quantity.coats == 1:
        text = f"Paint {swatch.name} in one coat"
    else:
        wait = facts.drying if facts and facts.drying else "until touch-dry"
        text = f"Paint {swatch.name} in {quantity.coats} coats, {wait} between coats"
    if place == 0:
        return text + ", a hair under the lines so that no gap shows."
    return text + "."


def _gild(swatch: Swatch, place: int, *, water: bool) -> tuple[int, str, str]:
    if water:
        text = f"Lay {swatch.name} on bole by water gilding, and burnish it."
        return place, text, "water gilding and burnishing come before any paint"
    text = (
        f"Dust the cured paint with chalk or talc, size the {swatch.name} regions "
        f"with oil size, and lay the leaf when the size is tacky."
    )
    return place, text, "oil gilding comes when the paint has cured and will not hold"
