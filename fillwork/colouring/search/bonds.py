"""Pairs of classes that should differ or agree, and what two swatches gain there."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.parts import leave_touching
from fillwork.colouring.search.tones import CAP

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.arrays import AnyInts, Floats, Ints
    from fillwork.colouring.model import Rules
    from fillwork.colouring.search.parts import Parts
    from fillwork.colouring.search.tones import Tones
    from fillwork.colouring.search.wishes import Classes

_GROUND = 0.8  # how far a class is the ground from which on it is no main colour
_BLUR = 0.45  # what it takes from contrast that both are of one value
_WIDE = 0.15  # share of its zone from which on a class is wide
_FINE = 0.4  # how far a class stands out from which on it answers the main colour


@dataclass(frozen=True, slots=True, eq=False)
class Bond:
    """Hold pairs of classes and what two swatches are worth there."""

    rule: str  # name of the rule, or names of several with the same gain
    links: AnyInts  # (E, 2): classes
    weight: Floats  # (E,): weight of each pair
    gain: Floats  # (K, K): gain of two swatches, symmetric


def find_bonds(
    classes: Classes, parts: Parts, tones: Tones, differences: Floats, rules: Rules
) -> list[Bond]:
    """Return the bonds of every rule, their weights not yet taken.

    Some may be empty. `differences` (K, K): CIEDE2000 between swatches.
    """
    area = parts.area
    middle = classes.links[parts.middle[classes.links].max(axis=1, initial=0.0) >= 1]
    return [
        _contrast(classes, parts, tones, differences, rules),
        *_zone_bonds(classes, parts, tones),
        _bond("focus", middle, tones.step, area),
        _bond("likeness", parts.families, tones.same, area),
        _bond("chains", _chains(classes, parts), tones.same, area),
        _bond("leaves", parts.leaves, tones.alike_in_hue(), area),
        _bond("stems", parts.stems, tones.same, area),
        _bond("exchange", classes.unlike, tones.step, area),
    ]


def join_bonds(bonds: list[Bond], weights: dict[str, float]) -> tuple[Bond, ...]:
    """Return bonds with the weights of their rules, those of one gain as one.

    None is empty.
    """
    found: list[Bond] = []
    for bond in bonds:
        if not len(bond.links):
            continue
        weight = weights[bond.rule] * bond.weight
        same = next((k for k, b in enumerate(found) if b.gain is bond.gain), None)
        if same is None:
            found.append(Bond(bond.rule, bond.links, weight, bond.gain))
            continue
        other = found[same]
        found[same] = Bond(
            f"{other.rule}, {bond.rule}",
            np.concatenate([other.links, bond.links]),
            np.concatenate([other.weight, weight]),
            bond.gain,
        )
    return tuple(found)


def _bond(rule: str, links: AnyInts, gain: Floats, area: Floats) -> Bond:
    """Return a bond whose weights sum to 1, half by number and half by area."""
    if not len(links):
        return Bond(rule, np.empty((0, 2), np.int64), np.zeros(0), gain)
    least = area[links].min(axis=1)
    weight = 0.5 / len(links) + 0.5 * least / max(float(least.sum()), 1e-12)
    return Bond(rule, links, weight, gain)


def _contrast(
    classes: Classes, parts: Parts, tones: Tones, differences: Floats, rules: Rules
) -> Bond:
    apart = np.minimum(differences, CAP) / CAP
    # value parts more than hue: two hues of one value are a blur in grey
    gain = np.sqrt((apart + tones.value) / 2.0) - _BLUR * tones.blur
    if rules.goal_difference > 0:  # where the goal cannot be met, come near it
        miss = np.clip(1.0 - differences / rules.goal_difference, 0.0, 1.0)
        gain = gain - miss**2
    links, shared = classes.links, classes.shared
    mean = float(shared.mean()) if len(shared) else 0.0
    weight = np.maximum(shared, 0.02 * mean)
    weight = weight * (1.0 + parts.figure[links].max(axis=1, initial=0.0))
    if weight.sum() > 0:
        weight = weight / weight.sum()
    elif len(weight):
        weight = np.full(len(weight), 1.0 / len(weight))
    return Bond("contrast", links, weight, gain)


def _zone_bonds(classes: Classes, parts: Parts, tones: Tones) -> list[Bond]:
    """Let ground and field differ in value, and zones answer each other."""
    under: dict[int, int] = {}
    accents: dict[int, int] = {}
    field_pairs: list[tuple[int, int]] = []
    spark: list[tuple[int, int]] = []
    wide: list[tuple[int, int]] = []
    for z in range(len(parts.roles)):
        own = np.flatnonzero(parts.zone == z)
        if not len(own):
            continue
        ground = int(own[np.argmax(parts.ground[own])])
        under[z] = ground
        rest = own[own != ground]
        if not len(rest):
            continue
        main = int(rest[np.argmax(parts.area[rest])])
        field_pairs.append((ground, main))
        broad = own[parts.area[own] >= _WIDE * parts.area[own].sum()].tolist()
        wide += combinations(broad, 2)
        stands_out = parts.figure[rest] + parts.middle[rest] + 0.5 * parts.small[rest]
        # the other half of a leaf is of its hue
        near = parts.leaves[(parts.leaves == main).any(axis=1)]
        fine = rest[(stands_out >= _FINE) & ~np.isin(rest, [main, *near.ravel()])]
        if parts.ground[main] <= _GROUND:
            spark += [(main, j) for j in fine.tolist()]
        accents[z] = int(rest[np.argmax(stands_out)])
    fields = [z for z in under if parts.roles[z] == "field"]
    framed = [z for z in under if parts.roles[z] == "border"]
    frame = [(under[fields[0]], under[z]) for z in framed] if fields else []
    return [
        _bond("spark", _rows(spark), tones.far_in_hue(), parts.area),
        _bond("hollow", leave_touching(classes, _rows(wide)), -tones.same, parts.area),
        _bond("value", _rows(field_pairs), tones.step, parts.area),
        *_answers(classes, parts, tones, under, accents),
        _bond("frame", _rows(frame), tones.step, parts.area),
    ]


def _rows(found: Iterable[tuple[int, ...]]) -> Ints:
    return np.array(list(found), np.int64).reshape(-1, 2)


def _answers(
    classes: Classes,
    parts: Parts,
    tones: Tones,
    under: dict[int, int],
    accents: dict[int, int],
) -> list[Bond]:
    """Let frames and what stands about a field answer each other.

    `under` and `accents`: the ground of each zone, and what stands out there.
    """
    framed = [z for z in under if parts.roles[z] == "border"]
    around = [z for z in accents if parts.roles[z] in ("border", "corner", "medallion")]
    answer = [(under[a], under[b]) for a, b in pairwise(framed)]
    answer += [(accents[a], accents[b]) for a, b in pairwise(around)]
    corners = [z for z in under if parts.roles[z] == "corner"]
    answer += [
        (one[name], two[name])
        for zones in (framed, corners)
        for one, two in pairwise([_by_name(parts, z) for z in zones])
        for name in one
        if name in two
    ]
    sides = _rows(_sides(classes, parts))
    parted = leave_touching(classes, sides)
    known, apart = (set(map(tuple, e.tolist())) for e in (sides, parted))
    mitred = _rows(e for e in map(tuple, sides.tolist()) if e not in apart)
    answer = list(dict.fromkeys((min(e), max(e)) for e in answer if e[0] != e[1]))
    answer = [e for e in answer if e not in known]
    alike = leave_touching(classes, _rows(answer))
    free = set(map(tuple, alike.tolist()))
    touching = _rows(e for e in answer if e not in free)
    return [
        _bond("answer", alike, tones.same, parts.area),
        # those that touch, as at a mitre, answer by one hue in two values
        _bond("answer", touching, tones.alike_in_hue(), parts.area),
        _bond("sides", parted, tones.same, parts.area),
        _bond("sides", mitred, tones.alike_in_hue(), parts.area),
    ]


def _sides(classes: Classes, parts: Parts) -> list[tuple[int, int]]:
    """Return classes that play one part in two sides of a frame.

    Sides meet at their ends, or both meet one corner piece there: what they share is
    short beside the root of their area. Frames that lie in each other share long lines.
    """
    count = len(parts.roles)
    ends = parts.zone[classes.links.astype(np.int64)]
    shared = np.zeros((count, count))
    np.add.at(shared, (ends[:, 0], ends[:, 1]), classes.shared)
    shared += shared.T
    area = np.bincount(parts.zone, classes.area, count)
    short = shared < 2.0 * np.sqrt(np.minimum.outer(area, area))
    roles = np.array(parts.roles)
    side, corner = roles == "border", roles == "corner"
    meets = (shared > 0) & (short | corner | corner[:, None])
    both = (meets & side & side[:, None]) | (
        (meets & corner).astype(int) @ meets.astype(int) > 0
    )
    found: list[tuple[int, int]] = []
    for a, b in np.argwhere(np.triu(both, 1) & side & side[:, None]).tolist():
        one, two = (
            own[np.lexsort((-parts.area[own], -parts.ground[own]))]
            for own in (np.flatnonzero(parts.zone == z) for z in (a, b))
        )
        if len(one) == len(two):
            found += zip(one.tolist(), two.tolist(), strict=True)
        elif len(one) and len(two):
            found.append((int(one[0]), int(two[0])))
    return sorted({(min(e), max(e)) for e in found if e[0] != e[1]})


def _by_name(parts: Parts, zone: int) -> dict[str, int]:
    """Return the largest class of each plain name in a zone."""
    own = np.flatnonzero(parts.zone == zone)
    own = own[np.argsort(parts.area[own], kind="stable")]
    return {parts.names[j]: j for j in own.tolist()}


def _chains(classes: Classes, parts: Parts) -> Ints:
    """Return small classes of one zone that touch the same small class."""
    fine = parts.small > 0.5
    ends = classes.links.astype(np.int64)
    ends = ends[fine[ends].all(axis=1)]
    ends = ends[parts.zone[ends[:, 0]] == parts.zone[ends[:, 1]]]
    both = np.concatenate([ends, ends[:, ::-1]])
    both = both[np.lexsort((both[:, 1], both[:, 0]))]
    # those that follow each other round one class are alike, every second one
    same = both[1:, 0] == both[:-1, 0]
    found = np.column_stack([both[:-1, 1], both[1:, 1]])[same]
    found = np.unique(np.sort(found, axis=1), axis=0).reshape(-1, 2)
    return leave_touching(classes, found)
