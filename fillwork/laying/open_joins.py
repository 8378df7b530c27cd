"""Joins that were left open: where they are, and what is nearest to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.laying.field import lay_motif
from fillwork.laying.moves import as_point, lattice_cells
from fillwork.laying.panel import rectangle_panel

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.geometry.curves import Curves
    from fillwork.laying.model import Motif


@dataclass(frozen=True, slots=True, eq=False)
class OpenJoin:
    """Hold one end that goes on to nothing, with what lies round it."""

    at: tuple[float, float]  # where on the cell as drawn, mm
    # how far the nearest other end is, mm; None where there is none in sight
    apart: float | None
    # what the laid pattern shows round it, mm from the window's lower left corner
    curves: Curves
    side: float  # side of the window, mm
    # end and other: the end, and the nearest other one or itself, in the window
    end: tuple[float, float]
    other: tuple[float, float]


def find_open_joins(motif: Motif) -> tuple[OpenJoin, ...]:
    """Return the joins of a motif that were left open, each pair of ends once.

    In the order of its misfits. `motif`: the lines of one repeat.
    """
    side = 0.3 * float(np.ptp(motif.outline, axis=0).max())
    window = rectangle_panel(side, side)
    middle = np.array([side, side]) / 2
    found: list[OpenJoin] = []
    seen: list[Floats] = []
    for misfit in (m for m in motif.misfits if not m.closed):
        shift = middle - misfit.at
        curves, _ = lay_motif(motif, window, affine.translation(*shift.tolist()))
        ends = np.vstack([curves.starts(), curves.ends()])
        near = 1e-6 * side  # what the window cuts is no end
        ends = ends[((ends > near) & (ends < side - near)).all(axis=1)]
        if len(ends) == 0:
            continue
        # the cell was mended before it was laid: the nearest end is the one meant
        own = ends[int(np.argmin(np.hypot(*(ends - middle).T)))]
        if any(np.hypot(*(p - _turned_back(own - shift, motif)).T).min() < 1e-4 * side
               for p in seen):  # fmt: skip
            continue
        off = np.hypot(*(ends - own).T)
        off[off <= near] = np.inf
        nearest = int(np.argmin(off))
        apart = float(off[nearest]) if np.isfinite(off[nearest]) else None
        other = own if apart is None else ends[nearest]
        if apart is not None:
            seen.append(_turned_back(other - shift, motif))
        found.append(
            OpenJoin(misfit.at, apart, curves, side, as_point(own), as_point(other))
        )
    return tuple(found)


def _turned_back(point: Floats, motif: Motif) -> Floats:
    """Return a point's images in the motif, moved by shifts near its middle."""
    images = np.array([affine.apply(affine.invert(g), point) for g in motif.operations])
    cells = lattice_cells(images - motif.outline.mean(axis=0), motif.basis)
    return np.asarray(images - cells @ motif.basis)
