"""Regions that the painted line covers, wholly or by more than half."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.notes import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.model import Orbits


_DEEP = 8.0
"""Half-widths of the line; a region this deep keeps more than half in any case
that was thought of: a star of many points is the worst."""


def find_swallowed(
    arrangement: Arrangement, width: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which regions a line along all edges covers.

    `width`: width of the line, mm of the drawing; half of it lies in each region.
    Returns `whole` and `most` (F,): regions covered wholly; regions covered by more
    than half, the whole ones among them.
    """
    import shapely

    half = width / 2
    whole = np.zeros(arrangement.face_count, dtype=bool)
    most = whole.copy()
    faces = np.flatnonzero(arrangement.inscribed < _DEEP * half)
    faces = faces[faces > 0]
    if half <= 0 or len(faces) == 0:
        return whole, most
    shapes = arrangement.polygons(faces)
    left = shapely.area(shapely.buffer(shapes, -half, join_style="mitre"))
    share = left / np.maximum(shapely.area(shapes), 1e-300)
    whole[faces] = share < 1e-6
    most[faces] = share < 0.5
    return whole, most


def swallowed_note(
    orbits: Orbits,
    whole: NDArray[np.bool_],
    most: NDArray[np.bool_],
    width: float,
) -> Note | None:
    """Name and count the regions that the painted line covers.

    None where there are none.

    `whole` and `most` (F,): as of `find_swallowed`. `width`: true width of the line,
    mm.
    """
    if not most.any():
        return None
    named = []
    for orbit in orbits.orbits:
        count = int(most[orbit.faces].sum())
        if count:
            named.append(f"{count} of {orbit.letter} ({orbit.name})")
    shown = ", ".join(named[:6]) + (" and others" if len(named) > 6 else "")
    counts = (
        (int(whole.sum()), "wholly"),
        (int((most & ~whole).sum()), "by over half"),
    )
    covers = " and ".join(f"{n} region{'s' * (n != 1)} {how}" for n, how in counts if n)
    text = (
        f"a line {width:g} mm wide covers {covers}: {shown}; paint for them is not "
        "bought"
    )
    remedy = "take a finer line with --outline, or a larger scale"
    return Note("plans", "swallowed regions", text, remedy=remedy)
