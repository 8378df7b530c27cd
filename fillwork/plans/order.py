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
from fillwork.plans.taping import find_rounds
from fillwork.plans.words import hours_words, joined, length_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Colouring, Swatch
    from fillwork.plans.areas import Areas
    from fillwork.plans.model import Quantity
    from fillwork.symmetry.model import Orbits

__all__ = [
    "TRACING",
    "Work",
    "find_steps",
    "gilds_with_water",
    "main_medium",
    "painting_order",
    "paints_of_bands",
]

TRACING = "tracing paper"
_GILDING = ("gilder's knife and cushion", "gilder's tip", "soft mop")
_PAINTED_ROUND = frozenset({"ink", "watercolour"})
_WATER_GILT = frozenset({"egg tempera"})


class Work(NamedTuple):
    """Hold what is done besides filling regions.

    Parameters
    ----------
    outline : str
        What the outline is painted with; empty for none.
    outline_swatch : int or None
        Its place in the palette, if it is a swatch.
    primer, varnish : str
        What goes under and over; empty for none.
    under : int or None
        The swatch that goes over the whole piece first.
    whites : tuple of (int, str)
        Swatches that need white under them, and what that white is.
    brushes : tuple of str
        Brushes that suit the regions.
    tape : bool
        Whether edges are taped.
    patch : str
        What alone is repaired, in words; empty for all.
    bands : tuple of (str, frozenset of int)
        ``first``, ``last`` or empty: when the paints of bands come; and these paints.
    """

    outline: str = ""
    outline_swatch: int | None = None
    primer: str = ""
    varnish: str = ""
    under: int | None = None
    whites: tuple[tuple[int, str], ...] = ()
    brushes: tuple[str, ...] = ()
    tape: bool = False
    patch: str = ""
    bands: tuple[str, frozenset[int]] = ("", frozenset())

    @property
    def whole(self) -> str:
        """Return what primer, ground and varnish go over.

        Returns
        -------
        str
            The whole panel, or the patch.
        """
        return "the patch" if self.patch else "the whole panel"


def main_medium(swatches: Sequence[Swatch], quantities: tuple[Quantity, ...]) -> str:
    """Return the medium that covers the largest area, leaf left out.

    Parameters
    ----------
    swatches : sequence of Swatch
        The palette's paints as they are used.
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
            medium = swatches[q.swatch].medium
            area[medium] = area.get(medium, 0.0) + q.area_real
    area.pop("leaf", None)
    return max(sorted(area), key=lambda m: area[m], default="")


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
    swatches : sequence of Swatch, optional
        The palette's paints as they are used; the palette's own by default.
    work : Work, optional
        Outline, primer, varnish and what goes under.

    Returns
    -------
    tuple of Step
        From 1.
    """
    swatches = colouring.palette.swatches if swatches is None else swatches
    work = work or Work()
    real = {q.swatch: q for q in quantities}
    bare = [q.swatch for q in quantities if q.bare]
    leaf = [q.swatch for q in quantities if not q.bare and _is_leaf(swatches, q)]
    fills = [q.swatch for q in quantities if not q.bare and q.swatch not in leaf]
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
    if work.under is not None:
        steps.append(_lay_under(work, swatches, real, kept))
    water = gilds_with_water(medium)
    if water:
        steps += [_gild(swatches[s], s, water=True) for s in leaf]
    rounds = _rounds(paints, swatches, areas) if work.tape else {}
    order = _paint_order(
        colouring, swatches, areas, real, paints, work=work, rounds=rounds
    )
    # rounds are numbered as they come in the order of work
    number: dict[int, int] = {}
    for swatch, _ in order:
        if swatch in rounds:
            number.setdefault(rounds[swatch], len(number) + 1)
    white_of = dict(work.whites)
    taped: set[int] = set()
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
            text = f"{told}{white.text}"
            steps.append(
                white._replace(
                    text=text,
                    needs=(*work.brushes, *tools),
                    tape=tape,
                    round=group,
                )
            )
            told, tools, tape = "", (), 0.0
        brushes = () if swatches[swatch].medium in OBJECTS else work.brushes
        text = told + _how(swatches[swatch], real[swatch])
        if place == 0 and swatches[swatch].medium not in OBJECTS:
            text += _edge_words(work, swatches[swatch], len(order))
        if group:
            text += " Take the tape off while the last coat is soft."
        elif work.tape and brushes:
            text += f" Cut in by hand: tape lifts {swatches[swatch].medium}."
        one = _Draft("fill", swatch, text, reason, (*brushes, *tools))
        steps.append(one._replace(tape=tape, round=group))
    dry.sort(key=lambda s: (-round(swatches[s].lab[0]), s))
    for k, swatch in enumerate(dry):
        after = "when the paint has dried, " if paints and k == 0 else ""
        soil = "tip" if swatches[swatch].medium == "marker" else "dust"
        reason = f"{after}light before dark, so that no dark {soil} soils a light one"
        steps.append(_Draft("draw", swatch, _draw(swatches[swatch]), reason))
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
            swatch=draft.swatch,
            orbits=kinds.get(draft.swatch, ())
            if draft.swatch is not None and draft.kind in regions
            else (),
            text=draft.text,
            reason=draft.reason,
            kind=draft.kind,
            needs=draft.needs,
            tape=draft.tape,
            round=draft.round,
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


def _is_leaf(swatches: Sequence[Swatch], quantity: Quantity) -> bool:
    return swatches[quantity.swatch].medium == "leaf"


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
    carry = (TRACING, "soft graphite") if drawn else ()
    return _Draft("prime", None, text, reason, ("wide flat brush or roller", *carry))


def _lay_under(
    work: Work, swatches: Sequence[Swatch], real: dict[int, Quantity], kept: str
) -> _Draft:
    place = work.under or 0
    swatch, quantity = swatches[place], real[place]
    whole = work.whole.replace("panel", "piece")
    where = f"{whole}, not {kept}," if kept else whole
    text = f"Paint {where} with {swatch.name}"
    text += _coats_words(swatch, quantity)
    dark = swatch.lab[0] < 50
    with_what = "white chalk" if dark else "soft graphite"
    text += f"; when it is dry, carry the drawing over with {with_what}."
    reason = "the ground goes under everything: all other colours lie on it"
    needs = ("wide flat brush or roller", TRACING, with_what)
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


def gilds_with_water(medium: str) -> bool:
    """Return whether leaf is laid on bole, before the paint.

    Parameters
    ----------
    medium : str
        The main medium.

    Returns
    -------
    bool
        For egg tempera on gesso.
    """
    return medium in _WATER_GILT


def painting_order(
    colouring: Colouring,
    swatches: Sequence[Swatch],
    areas: Areas,
    quantities: tuple[Quantity, ...],
    work: Work,
) -> list[int]:
    """Return all swatches that are laid on, in the order of the steps.

    Parameters
    ----------
    colouring : Colouring
        Which swatch each face bears.
    swatches : sequence of Swatch
        The palette's paints as they are used.
    areas : Areas
        Areas and which swatches touch.
    quantities : tuple of Quantity
        What each swatch covers.
    work : Work
        What goes over the whole piece first, and when bands come.

    Returns
    -------
    list of int
        Places in the palette: what lies under all, paints, dry media, leaf, with
        water gilding before the paints.
    """
    real = {q.swatch: q for q in quantities if not q.bare}
    leaf = [s for s in real if swatches[s].medium == "leaf"]
    dry = [s for s in real if swatches[s].medium in DRY]
    under = work.under
    paints = [s for s in real if s not in leaf and s not in dry and s != under]
    order = [
        s for s, _ in _paint_order(colouring, swatches, areas, real, paints, work=work)
    ]
    dry.sort(key=lambda s: (-round(swatches[s].lab[0]), s))
    first = [under] if under is not None and under in real else []
    if gilds_with_water(main_medium(swatches, quantities)):
        return [*first, *leaf, *order, *dry]
    return [*first, *order, *dry, *leaf]


def _paint_order(
    colouring: Colouring,
    swatches: Sequence[Swatch],
    areas: Areas,
    real: dict[int, Quantity],
    paints: list[int],
    *,
    work: Work,
    rounds: dict[int, int] | None = None,
) -> list[tuple[int, str]]:
    """Return paints in order with reasons, ground first."""
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
    """Return the swatches that bands bear on more area than all other regions.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds.
    colouring : Colouring
        Which swatch each region bears.

    Returns
    -------
    frozenset of int
        Places in the palette.
    """
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
    if _octave(share[swatch]) == _octave(share[before]):
        return f"about as large as {swatches[before].name} ({part})"
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
    swatches: Sequence[Swatch],
    areas: Areas,
    before: list[tuple[int, str]],
    swatch: int,
) -> str:
    """Say which earlier paints this one touches, along the whole chain."""
    if not before:
        return ""
    last = before[-1][0]
    name = swatches[last].name
    touched = [s for s, _ in before if areas.touching[s, swatch] > 0]
    others = joined([swatches[s].name for s in touched if s != last])
    if last not in touched:
        text = f"; it does not touch {name} and may follow it at once"
        return text + (f", when {others} {_has(touched)} dried" if others else "")
    text = f"; it touches {name}: let that dry first"
    return text + (f", {others} too" if others else "")


def _has(names: list[int]) -> str:
    return "has" if len(names) == 1 else "have"


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
