"""A patch to repair: a circle on the panel, or one kind.

A patch is written ``@x,y r=80mm``, the point in mm of the drawing as everywhere,
the radius true on the panel; or as the letter or the name of a kind.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.errors import FillworkError, PlanError
from fillwork.plans.shapes import true_polygons
from fillwork.plans.words import length_words

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.symmetry.model import Orbits

_CIRCLE = re.compile(r"\s*@\s*([-+0-9.eE]+)\s*,\s*([-+0-9.eE]+)\s+r\s*=\s*(.+)")


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """Hold what of each region and edge a patch takes."""

    words: str  # the patch in words
    face_share: Floats  # (F,): share of each region's area
    edge_share: Floats  # (E,): share of each edge's length
    # dict of int to polygon or None: the part of each region that a circle takes, mm of
    # the drawing; None where whole regions are taken
    parts: dict[int, Any] | None
    # point and radius, mm of the drawing; None for a kind
    circle: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        self.face_share.setflags(write=False)
        self.edge_share.setflags(write=False)


def _parse_patch(text: str) -> tuple[float, float, float] | str:
    """Read a patch as it is written.

    `text`: ``@x,y r=LENGTH``, or the letter or name of a kind. Returns a circle: point
    in mm of the drawing, true radius in mm; or a kind. Raises `PlanError` if it is
    neither.
    """
    if not text.strip().startswith("@"):
        return text.strip()
    match = _CIRCLE.fullmatch(text)
    mend = "write it as “@x,y r=80mm”, or name a kind"
    if match is None:
        what = f"“{text}” is no patch"
        raise PlanError(what, mend=mend)
    from fillwork.units import parse_length

    try:
        x, y = float(match[1]), float(match[2])
        radius = parse_length(match[3], what="the radius")
    except (ValueError, FillworkError) as error:
        what = f"“{text}” is no patch"
        raise PlanError(what, mend=mend) from error
    if radius <= 0 or not (abs(x) < 1e9 and abs(y) < 1e9):
        what = f"the patch “{text}” has no area"
        raise PlanError(what, mend=mend)
    return x, y, radius


def find_patch(
    arrangement: Arrangement, orbits: Orbits, text: str, real_scale: float
) -> Patch:
    """Return what a patch takes of the drawing.

    `real_scale`: real length / drawn length. Raises `PlanError` if it meets no region.
    """
    wanted = _parse_patch(text)
    if isinstance(wanted, str):
        return _of_kind(arrangement, orbits, wanted)
    return _of_circle(arrangement, text, wanted, real_scale)


def _of_kind(arrangement: Arrangement, orbits: Orbits, name: str) -> Patch:
    folded = name.casefold()
    rows = [
        k
        for k, orbit in enumerate(orbits.orbits)
        if orbit.letter == name or orbit.name.casefold() == folded
    ]
    if not rows:
        what = f"there is no kind “{name}” to repair"
        letters = ", ".join(o.letter for o in orbits.orbits[:20])
        raise PlanError(what, mend=f"kinds here: {letters}; or write “@x,y r=80mm”")
    inside = np.isin(orbits.of_face, rows)
    inside[0] = False
    face = arrangement.face.reshape(-1, 2)
    edges = inside[face].any(axis=1)
    plural = "s" if len(rows) > 1 else ""
    letters = ", ".join(orbits.orbits[k].letter for k in rows)
    return Patch(
        f"all regions of kind{plural} {letters}",
        inside.astype(np.float64),
        np.asarray(edges, np.float64),
        None,
    )


def _of_circle(
    arrangement: Arrangement,
    text: str,
    wanted: tuple[float, float, float],
    real_scale: float,
) -> Patch:
    import shapely

    x, y, radius = wanted
    circle = shapely.Point(x, y).buffer(radius / real_scale, 64)
    error = radius / real_scale * 1e-3
    faces = np.arange(1, arrangement.face_count)
    rough = arrangement.polygons(faces)
    # curves may bulge beyond their chords: look a little wider first
    wide = shapely.Point(x, y).buffer(2.0 * radius / real_scale, 16)
    near = shapely.intersects(rough, wide) | (
        arrangement.inscribed[1:] > radius / real_scale
    )
    faces = faces[near]
    true = true_polygons(arrangement, faces, error)
    cut = shapely.intersection(true, circle)
    share = np.zeros(arrangement.face_count)
    parts: dict[int, Any] = {}
    whole = np.maximum(shapely.area(true), 1e-300)
    for face, part, area in zip(faces.tolist(), cut, whole, strict=True):
        if part.area > 1e-9 * area:
            share[face] = min(part.area / area, 1.0)
            parts[face] = part
    if not parts:
        what = f"the patch “{text}” meets no region"
        raise PlanError(what, mend="give a point in mm of the drawing, y up")
    sides = arrangement.face.reshape(-1, 2)
    edges = np.flatnonzero((share[sides] > 0).any(axis=1))
    chords, owner, _ = half_edge_curves(arrangement, 2 * edges).flatten(error)
    lines = shapely.linestrings(chords.reshape(-1, 2, 2))
    inside = shapely.length(shapely.intersection(lines, circle))
    count = len(edges)
    length = np.maximum(np.bincount(owner, shapely.length(lines), count), 1e-300)
    edge_share = np.zeros(arrangement.edge_count)
    edge_share[edges] = np.bincount(owner, inside, count) / length
    words = f"within {length_words(radius)} of ({x:g}, {y:g}) mm on the drawing"
    return Patch(words, share, edge_share, parts, (x, y, radius / real_scale))
