"""How many decimals a file's numbers have, below a transform too."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.rounding import rounding_of_points

if TYPE_CHECKING:
    from fillwork.arrays import Ints
    from fillwork.geometry.affine import Affine
    from fillwork.geometry.curves import Curves
    from fillwork.linework import Frame
    from fillwork.readers.strokes.collect import Context, StrokeTable

_SHARED = 0.95  # of all curves that lie below one transform: these tell


def rounding_as_written(
    curves: Curves,
    table: StrokeTable,
    contexts: list[Context],
    of_item: Ints,
    frame: Frame,
) -> tuple[float, float]:
    """Return how far the decimals of a file may have moved a point, mm.

    As ends of curves tell, before the transform that nearly all have in common;
    infinite if not known, the first also where the numbers have more decimals than
    rounded ones.

    `curves`: in mm, those of `table`. `of_item`: the context of each item.
    """
    points = curves.starts()
    owner = of_item[table.item[table.owner()]]
    used, count = np.unique(owner, return_counts=True)
    share: dict[Affine, int] = {}
    for k, n in zip(used.tolist(), count.tolist(), strict=True):
        own = contexts[k].matrix
        share[own] = share.get(own, 0) + n
    most = max(share, key=lambda own: share[own])
    if share[most] < _SHARED * len(owner) or affine.determinant(most) == 0.0:
        told = rounding_of_points(points, frame.to_mm)
        return told, told
    alike = np.array([c.matrix == most for c in contexts])[owner]
    to_mm = affine.compose(frame.to_mm, most)
    told = rounding_of_points(points[alike], to_mm)
    if math.isfinite(told):
        return told, told
    return told, rounding_of_points(points[alike], to_mm, as_written=True)
