"""The fewest colours that part touching regions of one kind."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.find import read_zones
from fillwork.errors import ColouringError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.colouring.counterchange.alternating_kinds import KindReader
    from fillwork.colouring.model import Rules


_NUMBERS = (2, 3, 4, 6)
"""Colours that are tried: a wall of like tiles needs two to four of them; six part
what turns by three and by two."""

_LEAST = 0.02
"""Of its outline within the drawing: a kind that touches itself along less goes
unseen, and a number of colours that leaves less alike is enough."""


def part_touching(reader: KindReader, rules: Rules) -> Iterator[Rules]:
    """Yield the rules by which kinds that touch themselves alternate.

    `rules`: asked for ``apart``. Yields with the number of colours and the choice of
    each such kind: of all that it helps, then without the least of them, and so on to
    one. Raises `ColouringError` if no kind touches itself, or none is parted by so few
    colours.
    """
    adjacency, of_face = reader.adjacency, reader.orbits.of_face
    rows = of_face[adjacency.face_pairs]
    count, shared = len(reader.orbits.orbits), adjacency.face_shared
    alike = rows[:, 0] == rows[:, 1]
    own = np.bincount(rows[alike, 0], shared[alike], count)
    around = np.bincount(rows.reshape(-1), np.repeat(shared, 2), count) - own
    flat = set(np.flatnonzero(own > _LEAST * around).tolist())
    kinds = [k for _, zone in read_zones(reader)[0] for k in zone if k.row in flat]
    where = "counterchange apart"
    if not flat:
        what = "no kind touches itself, so none needs to alternate"
        mend = "leave it out, or name a number of colours"
        raise ColouringError(what, where=where, mend=mend)
    whole = float(own[sorted(flat)].sum())
    best: tuple[float, int, list[tuple[float, str, int]]] | None = None
    for colours in _NUMBERS:
        left, chosen = whole, []
        for kind in kinds:
            ways = reader.ways(kind, colours)
            if not ways:
                continue
            at = min(range(len(ways)), key=lambda k: round(ways[k].alike, 6))
            gain = float(own[kind.row]) - ways[at].alike
            if gain > _LEAST * own[kind.row]:
                left -= gain
                chosen.append((gain, kind.letter, at + 1))
        if chosen and (best is None or left < best[0] - _LEAST * whole):
            best = left, colours, chosen
        if left <= _LEAST * whole:
            break
    if best is None:
        letters = ", ".join(reader.orbits.orbits[row].letter for row in sorted(flat))
        what = f"no colouring that keeps the symmetry parts the regions of {letters}"
        mend = "match them by less: --match shifts or --match none"
        raise ColouringError(what, where=where, mend=mend)
    _, colours, chosen = best
    chosen.sort(key=lambda c: (-c[0], c[1]))
    for end in range(len(chosen), 0, -1):
        choices = tuple((letter, number) for _, letter, number in chosen[:end])
        yield replace(rules, counterchange=colours, choices=choices)
