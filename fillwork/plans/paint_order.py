"""Which paint follows which, and why: ground, transparent, opaque, bands."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.plans.media import OBJECTS, is_transparent
from fillwork.plans.words import joined

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.colouring.model import Colouring
    from fillwork.colouring.palettes.model import Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.symmetry.model import Orbits

_LIKE = 0.8  # of the larger of two areas, from which they are about as large


def light_first(places: Iterable[int], swatches: Sequence[Swatch]) -> list[int]:
    """Return places in the palette from light to dark, alike ones as they stand."""
    return sorted(places, key=lambda s: (-round(swatches[s].lab[0]), s))


def order_paints(
    amounts: Amounts, paints: list[int], rounds: dict[int, int]
) -> list[tuple[int, str]]:
    """Return paints in order with reasons, ground first.

    The colouring's ground comes first where nothing lies under all. `paints`: the
    swatches to bring in order. `rounds`: the round of taping of each paint that stands
    tape. Returns place in the palette, and why it comes now.
    """
    swatches, touching = amounts.swatches, amounts.areas.touching
    area = {q.swatch: q.area_real for q in amounts.quantities}
    if amounts.under in area:
        # what shows of it, not what it lies under
        shown = float(amounts.areas.area[amounts.under])
        area[amounts.under] = shown * amounts.real_scale**2
    total = math.fsum(area.values()) or 1.0
    share = {s: area[s] / total for s in paints}
    order: list[tuple[int, str]] = []
    ground = _ground(amounts, paints)
    if ground is not None:
        name = swatches[ground].name
        reason = f"the ground comes first ({_percent(share[ground])}): "
        how = "comes" if _is_set(swatches[ground]) else "is painted"
        reason += f"every other colour {how} up to {name}"
        order.append((ground, reason))
    rest = [s for s in paints if s != ground]
    clear = [
        s for s in rest if is_transparent(swatches[s]) and not _is_set(swatches[s])
    ]
    reason = "transparent paint goes from light to dark"
    order += [(swatch, reason) for swatch in light_first(clear, swatches)]
    # areas within a factor of two rank alike, which leaves room for wet edges
    rank = {s: _octave(share[s]) for s in rest if s not in clear}
    cover = sorted(rank, key=lambda s: (-rank[s], -_covers(swatches[s]), s))
    last = order[-1][0] if order else None
    before: int | None = None
    for swatch in _apart(cover, rank, touching, last):
        reason = _size(swatches, share, before, swatch)
        covers = swatches[swatch].opacity in ("", "opaque")
        if covers and not _is_set(swatches[swatch]):
            reason += "; it covers, so its edge puts right the one before"
        order.append((swatch, reason))
        before = swatch
    order = _by_rounds(_with_bands(order, amounts), rounds)
    return [
        (swatch, reason + _wet(swatches, touching, [s for s, _ in order[:k]], swatch))
        for k, (swatch, reason) in enumerate(order)
    ]


def _is_set(swatch: Swatch) -> bool:
    """Return whether a swatch is set in pieces: it has no wet edge, and covers none."""
    return swatch.medium in OBJECTS


def _ground(amounts: Amounts, paints: list[int]) -> int | None:
    """Return the paint that is the ground, where nothing lies under all."""
    if amounts.under is not None:
        return None
    if amounts.colouring.ground in paints:
        return amounts.colouring.ground
    grounds = (s for s in paints if amounts.swatches[s].role == "ground")
    return next(grounds, None)


def _with_bands(
    order: list[tuple[int, str]], amounts: Amounts
) -> list[tuple[int, str]]:
    """Bring the paints of bands to the front or the end."""
    when = amounts.settings.bands
    if not when:
        return order
    banded = paints_of_bands(amounts.arrangement, amounts.orbits, amounts.colouring)
    own = [swatch for swatch, _ in order if swatch in banded]
    if not own:
        return order
    rest = [one for one in order if one[0] not in banded]
    if when == "last":
        reason = "bands come last, as asked: they put right the edges beside them"
        return [*rest, *((swatch, reason) for swatch in own)]
    reason = "bands come first, as asked: all else is painted up to them"
    after = [
        (s, why.replace("ground comes first", "ground comes next")) for s, why in rest
    ]
    return [*((swatch, reason) for swatch in own), *after]


def paints_of_bands(
    arrangement: Arrangement, orbits: Orbits, colouring: Colouring
) -> frozenset[int]:
    """Return the swatches that bands bear on more area than all other regions."""
    if not any(orbit.band for orbit in orbits.orbits):
        return frozenset()
    kind, swatch = orbits.of_face, colouring.of_face
    band = np.array([orbit.band for orbit in orbits.orbits])[kind]
    known = (kind >= 0) & (swatch >= 0)
    size = np.where(band, 1.0, -1.0) * np.abs(arrangement.area)
    total = np.bincount(swatch[known], size[known])
    return frozenset(np.flatnonzero(total > 0).tolist())


def _by_rounds(
    order: list[tuple[int, str]], rounds: dict[int, int]
) -> list[tuple[int, str]]:
    """Bring paints of one round together, where the first of them stands."""
    first: dict[int, int] = {}
    places = [
        first.setdefault(rounds[swatch], k) if swatch in rounds else k
        for k, (swatch, _) in enumerate(order)
    ]
    return [order[k] for k in sorted(range(len(order)), key=lambda k: places[k])]


def _size(
    swatches: Sequence[Swatch], share: dict[int, float], before: int | None, swatch: int
) -> str:
    """Say why an opaque paint comes now, by its size."""
    part = _percent(share[swatch])
    if before is None:
        return f"of the largest areas left ({part})"
    if share[swatch] < _LIKE * share[before]:
        return f"large before small ({part})"
    name = swatches[before].name
    if _LIKE * share[swatch] <= share[before]:
        return f"about as large as {name} ({part})"
    return f"within twice the area of {name} ({part})"


def _octave(share: float) -> int:
    return math.floor(math.log2(max(share, 1e-9)) + 1e-9)


def _covers(swatch: Swatch) -> float:
    """Return how surely a paint covers: opaque first, then darker ones."""
    rank = {"opaque": 2.0, "semi-opaque": 1.0}.get(swatch.opacity, 1.5)
    return rank - swatch.lab[0] / 1000.0


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.005 else "under 1 %"


def _apart(
    ranked: list[int], rank: dict[int, int], touching: Floats, last: int | None
) -> list[int]:
    """Return paints by rank, among equals one that does not touch the last."""
    left, order = list(ranked), []
    while left:
        equals = [s for s in left if last is not None and rank[s] == rank[left[0]]]
        apart = (s for s in equals if touching[last, s] == 0.0)
        last = next(apart, left[0])
        left.remove(last)
        order.append(last)
    return order


def _wet(
    swatches: Sequence[Swatch], touching: Floats, before: list[int], swatch: int
) -> str:
    """Say which earlier paints this one touches, along the whole chain."""
    before = [s for s in before if not _is_set(swatches[s])]
    if not before:
        return ""
    last = before[-1]
    name = swatches[last].name
    touched = [s for s in before if touching[s, swatch] > 0]
    others = joined([swatches[s].name for s in touched if s != last])
    if last not in touched:
        has = "has" if len(touched) == 1 else "have"
        text = f"; it does not touch {name} and may follow it at once"
        return text + (f", when {others} {has} dried" if others else "")
    text = f"; it touches {name}: let that dry first"
    return text + (f", {others} too" if others else "")
