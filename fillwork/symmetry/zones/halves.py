"""What lies in a rosette and does not turn with it, and rosettes that are cut.

A medallion at the edge of a panel is cut through its centre. Half of the images of its
regions lie beyond the cut, so that only those within it can tell how often it turns.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.groups import LARGEST_ROSETTE
from fillwork.symmetry.lines.assemble import rosette_symmetry
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.model import Candidate
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.turned import AT_RIM, CUT_THROUGH, ends_at, turned_faces

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry

# operations that carry a face onto like ones, of those of a rosette it belongs to
_BELONGS = 0.6
# how many times as often a figure that is cut through its centre is asked to turn
_BETWEEN = (2, 3)


def strangers(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, symmetry: Symmetry
) -> tuple[Bools, Bools]:
    """Return which faces a rosette carries onto too few like ones, and which onto some.

    `faces`: the faces of the zone. `symmetry`: its rosette group. Returns `strange`:
    faces that most operations carry onto no like one; `some`: those of them that two or
    more carry: they turn with fewer turns.
    """
    turned = turned_faces(arrangement, measures, faces, symmetry)
    asked = _asked(arrangement, measures, faces, symmetry)
    if asked is None:
        strange = turned.mean(axis=0) < _BELONGS if len(turned) else faces < 0
    else:
        strange = (turned & asked).sum(axis=0) < _BELONGS * asked.sum(axis=0)
    return np.asarray(strange), np.asarray(strange & (turned.sum(axis=0) >= 2))


def turning_more(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, symmetry: Symmetry
) -> Symmetry | None:
    """Return the rosette, in doubt, that a figure cut through its centre may be of.

    Turns between those that were found carry most of its faces too, as far as their
    images fall within it. None where they do not.

    `faces`: the faces of the zone. `symmetry`: its rosette group.
    """
    if _asked(arrangement, measures, faces, symmetry) is None:
        return None
    n, centre = int(symmetry.group.point_group[1:]), symmetry.centre
    mirror = None
    for operation in symmetry.operations:
        if operation.kind == "reflection":
            mirror = 0.5 * float(np.arctan2(operation.map[1], operation.map[0]))
            break
    for more in _BETWEEN:
        if more * n > LARGEST_ROSETTE:
            break
        fit = RosetteFit(
            more * n, mirror, np.array(centre), 0, 0.0, symmetry.residual, CUT_THROUGH
        )
        finer = rosette_symmetry(fit)
        asked = _asked(arrangement, measures, faces, finer)
        if asked is None:
            continue
        # rotations from the first on, then the mirrors; each so many-th was found
        asked[more - 1 : more * n - 1 : more] = False
        asked[more * n - 1 :: more] = False
        hits = turned_faces(arrangement, measures, faces, finer) & asked
        if hits.sum() >= max(_BELONGS * asked.sum(), 1):
            share = float(hits.sum() / asked.sum())
            told = Candidate(finer.group.short, share, symmetry.residual, CUT_THROUGH)
            return replace(finer, candidates=(told, *symmetry.candidates))
    return None


def _asked(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Bools | None:
    """Return which faces each operation but one carries to where the zone is.

    None unless it turns about a point where it ends: half of its images lie beyond.
    """
    if found.centre is None or not ends_at(arrangement, measures, faces, found.centre):
        return None
    # what the cut halves has no like among whole ones
    rim = outer_sides(arrangement, faces)
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[rim // 2]]
    side, away = ends[:, 1] - ends[:, 0], ends[:, 0] - found.centre
    off = np.abs(side[:, 0] * away[:, 1] - side[:, 1] * away[:, 0])
    near = AT_RIM * float(np.median(measures.size[faces]))
    halved = arrangement.face[rim[off < near * np.hypot(*side.T)]]
    whole = shapely.union_all(arrangement.polygons(faces, valid=True)).buffer(near)
    shapely.prepare(whole)
    half = np.flatnonzero(np.isin(arrangement.face, faces))
    corner = arrangement.vertices[arrangement.origin[half]]
    row = np.searchsorted(faces, arrangement.face[half])
    quotient = quotient_of(found)
    asked = np.ones((len(quotient.linear) - 1, len(faces)), dtype=bool)
    for k, linear in enumerate(quotient.linear[1:]):
        there = corner @ linear.T + quotient.shift[k + 1]
        asked[k, row[~shapely.contains_xy(whole, *there.T)]] = False
    return asked & ~np.isin(faces, halved)
