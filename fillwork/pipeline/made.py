"""Which swatch each kind was given, by which version, and whether that changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.notes import Note
from fillwork.plans.model import Made
from fillwork.version import __version__

if TYPE_CHECKING:
    from fillwork.pipeline.painting import Coloured


def made_of(coloured: Coloured) -> Made:
    """Return this version and the swatch of each kind that bears a single one."""
    swatches, of_face = coloured.palette.swatches, coloured.colouring.of_face
    found = []
    for orbit in coloured.survey.orbits.orbits:
        (first, *others) = np.unique(of_face[orbit.faces]).tolist()
        if not others and first >= 0:
            found.append((orbit.letter, swatches[first].name))
    return Made(__version__, tuple(found))


def made_notes(before: Made, now: Made) -> tuple[Note, ...]:
    """Return a note where another version once gave other swatches."""
    if not before.version or before.version == now.version:
        return ()
    other = dict(now.swatches)
    changed = [k for k, s in before.swatches if other.get(k, s) != s]
    if not changed:
        return ()
    letters = ", ".join(changed[:8]) + (" ..." if len(changed) > 8 else "")
    text = (
        f"fillwork {before.version} gave other swatches to {letters} when the plan "
        "was written"
    )
    remedy = "take them as they were with --as-made"
    return (Note("pipeline", "made otherwise", text, remedy=remedy),)
