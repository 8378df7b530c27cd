"""Which paint follows which, and why: ground, transparent, opaque, bands."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.plans.media import DRY, is_transparent
from fillwork.plans.words import joined

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.colouring.model import Colouring, Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.plans.areas import Areas
    from fillwork.plans.model import Quantity
    from fillwork.symmetry.model import Orbits

_WATER_GILT = frozenset({"egg tempera"})
_LIKE = 0.8  # of the larger of two areas, from which they are about as large


class Work(NamedTuple):
    """Hold what is done besides filling regions."""

    outline: str = ""  # what the outline is painted with; empty for none
    outline_swatch: int | None = None  # its place in the palette, if it is a swatch
    primer: str = ""  # primer and varnish: what goes under and over; empty for none
    varnish: str = ""
    under: int | None = None  # the swatch that goes over the whole piece first
    # swatches that need white under them, and what that white is
    whites: tuple[tuple[int, str], ...] = ()
    brushes: tuple[str, ...] = ()  # brushes that suit the regions
    tape: bool = False  # whether edges are taped
    patch: str = ""  # what alone is repaired, in words; empty for all
    # ``first``, ``last`` or empty: when the paints of bands come; and these paints
    bands: tuple[str, frozenset[int]] = ("", frozenset())

    @property
    def whole(self) -> str:
        """Return what primer, ground and varnish go over.

        The whole panel, or the patch.
        """
        return "the patch" if self.patch else "the whole panel"


def main_medium(swatches: Sequence[Swatch], quantities: tuple[Quantity, ...]) -> str:
    """Return the medium that covers the largest area, leaf left out."""
    area: dict[str, float] = {}
    for q in quantities:
        if not q.bare:
            medium = swatches[q.swatch].medium
            area[medium] = area.get(medium, 0.0) + q.area_real
    area.pop("leaf", None)
    return max(sorted(area), key=lambda m: area[m], default="")


def gilds_with_water(medium: str) -> bool:
    """Return whether leaf is laid on bole, before the paint.

    For egg tempera on gesso. `medium`: the main medium.
    """
    return medium in _WATER_GILT


def painting_order(amounts: Amounts, work: Work) -> list[int]:
    """Return all swatches that are laid on, in the order of the steps.

    Places in the palette: what lies under all, paints, dry media, leaf, with water
    gilding before the paints.

    `work`: what goes over the whole piece first, and when bands come.
    """
    swatches = amounts.swatches
    real = {q.swatch: q for q in amounts.quantities if not q.bare}
    leaf = [s for s in real if swatches[s].medium == "leaf"]
    dry = [s for s in real if swatches[s].medium in DRY]
    under = work.under
    paints = [s for s in real if s not in leaf and s not in dry and s != under]
    found = order_paints(
        amounts.colouring, swatches, amounts.areas, real, paints, work=work
    )
    order = [s for s, _ in found]
    dry.sort(key=lambda s: (-round(swatches[s].lab[0]), s))
    first = [under] if under is not None and under in real else []
    if gilds_with_water(amounts.medium):
        return [*first, *leaf, *order, *dry]
    return [*first, *order, *dry, *leaf]


def order_paints(
    colouring: Colouring,
    swatches: Sequence[Swatch],
    areas: Areas,
    real: dict[int, Quantity],
    paints: list[int],
    *,
    work: Work,
    rounds: dict[int, int] | None = None,
) -> list[tuple[int, str]]:
    """Return paints in order with reasons, ground first.

    `colouring`: its ground comes first where nothing lies under all. `areas`: areas and
    which swatches touch. `paints`: the swatches to bring in order. `work`: what goes
    over the whole piece first, and when bands come. `rounds`: the round of taping of
    each paint that stands tape. Returns place in the palette, and why it comes now.
    """
    under = work.under
    total = math.fsum(q.area_real for q in real.values()) or 1.0
    share = {s: real[s].area_real / total for s in paints}
    ground = None if under is not None else colouring.ground
    if ground not in paints and under is None:
        grounds = [s for s in paints if swatches[s].role == "ground"]
        ground = grounds[0] if grounds else None
    rest = [s for s in paints if s != ground]
    clear = [s for s in rest if is_transparent(swatches[s])]
    cover = [s for s in rest if s not in clear]
    clear.sort(key=lambda s: (-round(swatches[s].lab[0]), s))
    # areas within a factor of two rank alike, which leaves room for wet edges
    cover.sort(key=lambda s: (-_octave(share[s]), -_covers(swatches[s]), s))
    order: list[tuple[int, str]] = []
    if ground is not None:
        name = swatches[ground].name
        reason = f"the ground comes first ({_percent(share[ground])}): "
        reason += f"every other colour is painted up to {name}"
        order.append((ground, reason))
    reason = "transparent paint goes from light to dark"
    order += [(swatch, reason) for swatch in clear]
    last = order[-1][0] if order else None
    ranks = [_octave(share[s]) for s in cover]
    before: int | None = None
    for swatch in _apart(cover, ranks, areas.touching, last):
        reason = _size(swatches, share, before, swatch)
        if swatches[swatch].opacity in ("", "opaque"):
            reason += "; it covers, so its edge puts right the one before"
        order.append((swatch, reason))
        before = swatch
    order = _with_bands(order, *work.bands)
    if rounds:
        order = _by_rounds(order, rounds)
    return [
        (swatch, reason + _wet(swatches, areas, order[:k], swatch))
        for k, (swatch, reason) in enumerate(order)
    ]


def _with_bands(
    order: list[tuple[int, str]], when: str, banded: frozenset[int]
) -> list[tuple[int, str]]:
    """Bring the paints of bands to the front or the end."""
    own = [swatch for swatch, _ in order if swatch in banded]
    if not when or not own:
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
    keys: dict[int, tuple[int, int]] = {}
    for k, (swatch, _) in enumerate(order):
        mine = rounds.get(swatch)
        keys[swatch] = (k if mine is None else first.setdefault(mine, k), k)
    return sorted(order, key=lambda o: keys[o[0]])


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
    ranked: list[int], ranks: list[int], touching: Floats, last: int | None
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
    swatches: Sequence[Swatch], areas: Areas, before: list[tuple[int, str]], swatch: int
) -> str:
    """Say which earlier paints this one touches, along the whole chain."""
    if not before:
        return ""
    last = before[-1][0]
    name = swatches[last].name
    touched = [s for s, _ in before if areas.touching[s, swatch] > 0]
    others = joined([swatches[s].name for s in touched if s != last])
    if last not in touched:
        has = "has" if len(touched) == 1 else "have"
        text = f"; it does not touch {name} and may follow it at once"
        return text + (f", when {others} {has} dried" if others else "")
    text = f"; it touches {name}: let that dry first"
    return text + (f", {others} too" if others else "")
