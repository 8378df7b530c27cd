"""Whether what is seen was cut out of something larger, and lines end where it was cut.

A strip or a rosette that stands by itself carries the free ends of its lines, such as
those of a fringe, onto each other. A patch of a pattern does not: its lines end
where a crop cut them, and the cells that they would have closed are missing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.model import Symmetry

_FEW = 4  # ends that must be seen
_MOST = 2000  # ends that are asked
_CARRIED = 0.5  # share of them that must be carried onto ends
_WHOLE = 0.95  # share of its lines that a rosette that stands alone keeps in sight
_NEAR = 0.2  # how near to one, in usual lines between corners


def why_cut_off(
    arrangement: Arrangement, evidence: Evidence, found: Symmetry, *, ends: bool
) -> str:
    """Return why a strip or rosette may be cut out of a pattern.

    Empty where nothing says so, and of plane patterns. `found`: what they show. `ends`:
    whether lines that bound no face were asked too.
    """
    if found.group.family not in ("frieze", "rosette"):
        return ""
    if evidence.torn and not _carries_all(evidence, found):
        return "cells that stay open at the page's edge may go on as a plane pattern"
    if ends and _ends_cut_off(arrangement, found, evidence.scale):
        return "lines that end beside it may be those of a pattern that is cut off"
    return ""


def _carries_all(evidence: Evidence, found: Symmetry) -> bool:
    """Tell whether a rosette carries its lines to where lines are seen."""
    for a, b, c, d, e, f in (operation.map for operation in found.operations):
        image = evidence.samples @ np.array([[a, b], [c, d]]) + (e, f)
        if (evidence.window.depth_at(image) > 0).mean() < _WHOLE:
            return False
    return found.lattice is None


def _ends_cut_off(arrangement: Arrangement, found: Symmetry, scale: float) -> bool:
    """Tell whether an operation carries most free ends of lines onto none."""
    import shapely

    tips = _tips(arrangement)
    if len(tips) < _FEW:
        return False
    tree = shapely.STRtree(np.asarray(shapely.points(tips)))
    if found.lattice is None:
        maps = [o.map for o in found.operations if o.kind != "identity"]
    else:
        maps = [
            (1.0, 0.0, 0.0, 1.0, *(s * v)) for v in found.lattice.basis for s in (1, -1)
        ]
    low, high = tips.min(axis=0) - scale, tips.max(axis=0) + scale
    for a, b, c, d, e, f in maps:
        image = tips @ np.array([[a, b], [c, d]]) + (e, f)
        image = image[((image >= low) & (image <= high)).all(axis=1)]
        if len(image) < _FEW:
            continue
        nearest = tree.query_nearest(shapely.points(image), all_matches=False)[1]
        away = np.hypot(*(image - tips[nearest]).T)
        if (away <= _NEAR * scale).mean() < _CARRIED:
            return True
    return False


def _tips(arrangement: Arrangement) -> Floats:
    """Return the free ends of lines that bound no face, mm."""
    if len(arrangement.loose) == 0:
        return np.zeros((0, 2))
    chords, _, _ = arrangement.loose.flatten(max(arrangement.tolerance.flatten, 1e-9))
    ends = np.concatenate([chords[:, :2], chords[:, 2:]])
    step = max(4 * arrangement.tolerance.join_within, 1e-9)
    both = np.rint(np.concatenate([ends, arrangement.vertices]) / step)
    _, number, count = np.unique(both, axis=0, return_inverse=True, return_counts=True)
    free: Floats = ends[count[number.ravel()[: len(ends)]] == 1]
    return free[:_MOST]
