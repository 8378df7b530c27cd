"""Kinds whose own regions touch: which there are, and what parts them."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.find import read_zones
from fillwork.errors import ColouringError
from fillwork.notes import Note

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats
    from fillwork.colouring.counterchange.alternating_kinds import KindReader, Way
    from fillwork.colouring.counterchange.plan import Alternation
    from fillwork.colouring.model import Adjacency, Rules
    from fillwork.symmetry.model import Orbits

_NUMBERS = (2, 3, 4, 6)
"""Colours that are tried: a wall of like tiles needs two to four of them; six part
what turns by three and by two."""

_MITRES = 0.15
"""Of a region's outline: what touches its like along less, as the sides of a frame do
at their mitres, needs no other colour than its like."""

_LEAST = 0.02
"""Of its outline within the drawing: a kind that touches itself along less goes
unseen, and a number of colours that leaves less alike is enough."""


def _touched(
    orbits: Orbits, adjacency: Adjacency, counts: Bools
) -> tuple[Floats, Floats]:
    """Measure for each kind how long its regions touch each other, and all others.

    `counts`: which contacts of regions count. Returns both (kinds,): mm.
    """
    rows, shared = orbits.of_face[adjacency.face_pairs[counts]], adjacency.face_shared
    shared, count = shared[counts], len(orbits.orbits)
    alike = rows[:, 0] == rows[:, 1]
    own = np.bincount(rows[alike, 0], shared[alike], count).astype(np.float64)
    every = np.bincount(rows.reshape(-1), np.repeat(shared, 2), count)
    return own, np.asarray(every - 2.0 * own)


def lone_kinds(
    arrangement: Arrangement, orbits: Orbits, adjacency: Adjacency
) -> tuple[int, ...]:
    """Find the kinds that fill a zone alone, so that nothing in it would differ.

    Regions of such a kind touch each other and no other of their zone, and along more
    of their outlines than the mitres of a plain frame. Bands are left out: a strand is
    one paint. Returns their rows; none where less than the whole symmetry matches.
    """
    if orbits.match != "all":
        return ()
    zone = np.full(arrangement.face_count, -1, np.int64)
    for one in orbits.zones:
        if one.symmetry.group.family != "none":
            zone[one.faces] = one.index
    ends = zone[adjacency.face_pairs]
    own, others = _touched(
        orbits, adjacency, (ends[:, 0] == ends[:, 1]) & (ends[:, 0] >= 0)
    )
    found = []
    for row in np.flatnonzero((own > 0) & (others <= _LEAST * own)).tolist():
        orbit = orbits.orbits[row]
        outline = arrangement.polygons(np.array([orbit.representative]))[0].length
        within = 2.0 * float(own[row]) / (len(orbit.faces) * float(outline))
        if not orbit.band and within > _MITRES:
            found.append(row)
    return tuple(found)


def _plainness(ways: Sequence[Way], at: int) -> tuple[float, int]:
    """Return where touching regions stay alike, and how many repeats the colours need.

    `at`: the way, one of `ways`.
    """
    lattice = ways[at].subgroup.lattice
    return round(ways[at].alike, 6), math.prod(row[k] for k, row in enumerate(lattice))


def lone_note(plan: Alternation) -> Note:
    """Tell that kinds alternate which nobody asked to, and what undoes it."""
    change = plan.counterchange
    letters = [letter for letter, *_ in change.kinds]
    who = f"kind {letters[0]} fills its part of the drawing alone: its regions take"
    if len(letters) > 1:
        named = f"{', '.join(letters[:-1])} and {letters[-1]}"
        who = f"kinds {named} each fill a part of the drawing alone: their regions take"
    text = f"{who} {change.colours} colours in turn, so that neighbours differ"
    remedy = (
        "--counterchange no gives them one colour; "
        f"--counterchange {change.colours} shows every way to alternate"
    )
    return Note("colouring", "alternates alone", text, remedy=remedy)


def touching_kinds(orbits: Orbits, adjacency: Adjacency) -> tuple[int, ...]:
    """Find the kinds whose regions touch each other so far that it is seen.

    Returns their rows. Raises `ColouringError` if there is none.
    """
    own, others = _touched(orbits, adjacency, np.ones(len(adjacency.face_pairs), bool))
    found = np.flatnonzero(own > _LEAST * (own + others))
    if not len(found):
        what = "no kind touches itself, so none needs to alternate"
        mend = "leave it out, or name a number of colours"
        raise ColouringError(what, where="counterchange apart", mend=mend)
    return tuple(found.tolist())


def part_touching(
    reader: KindReader, rules: Rules, rows: Collection[int]
) -> Iterator[Rules]:
    """Yield the rules by which kinds that touch themselves alternate.

    `rows`: of these kinds. Yields with the number of colours and the choice of each
    kind: of all that it helps, then without the least of them, and so on to one. Of
    ways that part as much, those that colour every repeat alike come first. Raises
    `ColouringError` if none is parted by so few colours.
    """
    every = np.ones(len(reader.adjacency.face_pairs), bool)
    own, _ = _touched(reader.orbits, reader.adjacency, every)
    kinds = [k for _, zone in read_zones(reader, rows)[0] for k in zone]
    whole = float(own[sorted(rows)].sum())
    best: tuple[float, int, list[tuple[float, str, int]]] | None = None
    for colours in _NUMBERS:
        left, chosen = whole, []
        for kind in kinds:
            ways = reader.ways(kind, colours)
            if not ways:
                continue
            at = min(range(len(ways)), key=functools.partial(_plainness, ways))
            gain = float(own[kind.row]) - ways[at].alike
            if gain > _LEAST * own[kind.row]:
                left -= gain
                chosen.append((gain, kind.letter, at + 1))
        if chosen and (best is None or left < best[0] - _LEAST * whole):
            best = left, colours, chosen
        if left <= _LEAST * whole:
            break
    if best is None:
        letters = ", ".join(reader.orbits.orbits[row].letter for row in sorted(rows))
        what = f"no colouring that keeps the symmetry parts the regions of {letters}"
        mend = "match them by less: --match shifts or --match none"
        raise ColouringError(what, where="counterchange apart", mend=mend)
    _, colours, chosen = best
    chosen.sort(key=lambda c: (-c[0], c[1]))
    for end in range(len(chosen), 0, -1):
        choices = tuple((letter, number) for _, letter, number in chosen[:end])
        yield replace(rules, counterchange=colours, choices=choices)
