"""Lengths of strands, for the maker who paints or lays each from end to end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.plans.words import length_words

if TYPE_CHECKING:
    from fillwork.bands.model import Bands
    from fillwork.colouring.model import Colouring
    from fillwork.symmetry.model import Orbits


# sorts of strands that are listed; the report has them all
_LISTED = 30


def strand_lines(
    bands: Bands | None, orbits: Orbits, colouring: Colouring, real_scale: float
) -> tuple[str, ...]:
    """Return how long the strands are that are painted alike.

    One line for strands of one kind, swatch and length, by kind. `real_scale`: real
    length / drawn length.
    """
    if bands is None or orbits.strand_of_face is None:
        return ()
    face = np.flatnonzero((orbits.strand_of_face >= 0) & (colouring.of_face >= 0))
    strand, first = np.unique(orbits.strand_of_face[face], return_index=True)
    alike: dict[tuple[int, int, str], list[int]] = {}
    for k, at in zip(strand.tolist(), face[first].tolist(), strict=True):
        words = length_words(bands.strands[k].length * real_scale)
        worn = int(colouring.of_face[at])
        alike.setdefault((int(orbits.of_face[at]), worn, words), []).append(k + 1)
    lines = []
    for (row, worn, words), numbers in sorted(
        alike.items(), key=lambda one: (one[0][0], one[1])
    )[:_LISTED]:
        orbit = orbits.orbits[row]
        many = (
            f"{len(numbers)} of {words} each, strands"
            if numbers[1:]
            else f"{words}, strand"
        )
        told = ", ".join(map(str, numbers[:8])) + " ..." * (len(numbers) > 8)
        name = colouring.palette.swatches[worn].name
        lines.append(f"{orbit.name} ({orbit.letter}), {name}: {many} {told}")
    if len(alike) > _LISTED:
        lines.append(f"and {len(alike) - _LISTED} more sorts (in report.json)")
    return tuple(lines)
