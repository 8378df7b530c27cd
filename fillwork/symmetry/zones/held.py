"""Whether the shifts of a lattice carry faces onto like faces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.parting import strips
from fillwork.symmetry.zones.repeats import shifts_beside

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures


# share of faces that must find themselves again a repeat away in one pattern
HELD = 0.88
# share of the faces of small parts that must be carried onto like ones
PART_HELD = 0.7
# share of the inner faces that have their place a repeat away on the page
_ASKED = 0.4
# repeats of a field that one of the whole is at most, each way
_MULTIPLE = 4


def share_held(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    symmetry: Symmetry,
    part: Ints32 | None = None,
) -> float | None:
    """Return which share of inner faces the translations carry onto like faces.

    The share of their area; None when too few faces have a place a repeat away to be
    asked about.

    `faces`: faces of the zone. `symmetry`: what it is thought to have. `part`: faces
    that alone are asked, under longer translations too.
    """
    if symmetry.lattice is None:
        return None
    shifts = symmetry.lattice.basis
    if part is not None and len(shifts) == 2:
        shifts = shifts_beside(shifts)
    right, total, whole = _carried(arrangement, measures, faces, symmetry, part, shifts)
    # a repeat that few faces can be asked about is no evidence
    if total.sum() <= (4 * _ASKED * whole if part is None else 0.0):
        return None
    return float(right.sum() / total.sum())


def may_hold(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    rest: Ints32,
    field: Symmetry,
) -> bool:
    """Tell whether shifts of a field may carry what lies beside it too.

    A lattice that holds both is the field's own or a coarser one of its shifts.

    Whether two of its shifts carry enough of the rest onto like faces, or none of it
    can be asked and no strip of a frame is among it.

    `faces`: all faces that are in question. `rest`: those beside the field. `field`:
    the symmetry of the field, of two shifts.
    """
    if field.lattice is None:
        return False
    i, j = (k.ravel() for k in np.mgrid[: _MULTIPLE + 1, -_MULTIPLE : _MULTIPLE + 1])
    both = np.column_stack([i, j])[(i > 0) | (j > 0)]
    shifts = both @ field.lattice.basis
    right, total, _ = _carried(arrangement, measures, faces, field, rest, shifts)
    if not total.any():
        return not strips(arrangement, measures, rest).any()
    good = both[(total > 0) & (right >= PART_HELD * total)]
    return len(good) > 1 and np.linalg.matrix_rank(good) == 2


def _carried(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    symmetry: Symmetry,
    part: Ints32 | None,
    shifts: Floats,
) -> tuple[Floats, Floats, float]:
    """Return the area that shifts carry onto like faces, both ways, and that asked.

    The last number is the area of all inner faces.
    """
    import shapely

    edge = np.zeros(arrangement.face_count, dtype=bool)
    edge[arrangement.face[outer_sides(arrangement, faces)]] = True
    inner = faces[~edge[faces] & ~arrangement.cut[faces]]
    right, total = np.zeros(len(shifts)), np.zeros(len(shifts))
    if len(inner) < 2:
        return right, total, 0.0
    noise = max(symmetry.residual, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, inner, quotient_of(symmetry), noise)
    matcher = Matcher(marks, quotient_of(Symmetry(NO_GROUP)))
    tree = shapely.STRtree(arrangement.polygons(inner))
    own = np.arange(len(inner))
    own = own if part is None else own[np.isin(inner, part)]
    asked = marks.take(own)
    for k, shift in enumerate(shifts):
        for sign in (1.0, -1.0):
            moved = asked.moved(np.eye(2), sign * shift)
            # asked only where an inner face is expected
            at = tree.query(shapely.points(moved.xy), predicate="within")[0]
            row = np.unique(at)
            weight = arrangement.area[inner[own[row]]]
            right[k] += float(weight[matcher.match(moved.take(row)) >= 0].sum())
            total[k] += float(weight.sum())
    return right, total, float(arrangement.area[inner].sum())
