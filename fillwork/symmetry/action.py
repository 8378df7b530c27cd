"""The action of symmetry operations on the regions of a drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.geometry import affine
from fillwork.symmetry.model import Operation
from fillwork.values import check_kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine


def face_action(
    arrangement: Arrangement, operation: Operation | Affine
) -> NDArray[np.int32]:
    """Return onto which region an operation carries each region.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    operation : Operation or tuple of 6 floats
        An isometry, such as one of `Symmetry.operations` or `Symmetry.generators`.

    Returns
    -------
    ndarray of int32, shape (F,)
        For each face the face it is carried onto; 0 for face 0, -1 where the image
        is no region of the drawing, as at its rim.

    Notes
    -----
    A region is carried onto another when a point well inside each comes to lie in
    the other, there and back.

    Examples
    --------
    >>> import fillwork, shapely
    >>> row = [shapely.box(x, 0, x + 10, 10) for x in (0, 10, 20)]
    >>> survey = fillwork.make_survey(fillwork.LineWork.from_geometry(row))
    >>> first, middle, last = survey.arrangement.faces_at([[5, 5], [15, 5], [25, 5]])
    >>> mirror = (-1, 0, 0, 1, 30, 0)
    >>> there = fillwork.face_action(survey.arrangement, mirror)
    >>> there[[first, middle, last]].tolist() == [last, middle, first]
    True
    """
    check_kind(arrangement, Arrangement, "arrangement")
    there = operation.map if isinstance(operation, Operation) else operation
    if np.shape(there) != (6,) or not np.isfinite(there).all():
        what = f"an operation is six numbers, not {there!r}"
        raise ValueError(what)
    points = arrangement.witness[1:]
    image = arrangement.faces_at(affine.apply(there, points))
    source = arrangement.faces_at(affine.apply(affine.invert(there), points))
    found = np.full(arrangement.face_count, -1, np.int32)
    found[0] = 0
    own = np.arange(1, arrangement.face_count)
    met = image > 0
    back = np.zeros(len(own), bool)
    back[met] = source[image[met] - 1] == own[met]
    found[1:][back] = image[back]
    return found
