"""Which parts of a drawing have a symmetry of their own.

A *zone* is a set of faces under one symmetry: the field of a panel, its border,
a medallion, a corner piece. A drawing without frame lines is one zone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry, Zone

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fillwork.arrangement.model import Arrangement

__all__ = ["find_zones"]


def find_zones(
    arrangement: Arrangement, *, stated: str | Mapping[int, str] | None = None
) -> tuple[Zone, ...]:
    """Find the parts of a drawing that have one symmetry each.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing's faces.
    stated : str or mapping of int to str, optional
        Symmetry that the user states, for the largest zone or by zone index,
        such as ``plane:p4m``; ``none`` leaves symmetry out of account.

    Returns
    -------
    tuple of Zone
        By falling area, indices from 1; together they hold every face but face
        0. Empty when there is no face.

    Raises
    ------
    SymmetryError
        If a stated symmetry cannot be held.
    """
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    if len(faces) == 0:
        return ()
    if stated == "none":
        return (Zone(1, faces, _no_symmetry("left out by choice")),)
    from fillwork.symmetry.detect import find_symmetry

    wish = stated if stated is None or isinstance(stated, str) else stated.get(1)
    symmetry = find_symmetry(arrangement, faces, stated=wish)
    return (Zone(1, faces, symmetry),)


def _no_symmetry(reason: str) -> Symmetry:
    return Symmetry(NO_GROUP, reason=reason, stated=True)
