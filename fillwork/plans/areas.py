"""How much area each swatch covers, and how much edge there is to cut in.

On the drawing, and with its repeats over a panel larger than it.

To *cut in* is to paint up to an edge by hand. An edge between two regions of
the same swatch needs no cutting in; an edge against another swatch, or against
what lies outside the regions, does, and it does so for both colours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.colouring.adjacency import measure_edges
from fillwork.errors import PlanError
from fillwork.notes import Note

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.plans.patch import Patch
    from fillwork.symmetry.model import Orbits


@dataclass(frozen=True, slots=True, eq=False)
class Areas:
    """Hold what each swatch covers on the drawing."""

    # (S,): regions that bear each swatch; not whole numbers after scaling by repeats
    faces: Floats
    area: Floats  # (S,): their area, mm² of the drawing
    edge: Floats  # (S,): edge to cut in, mm of the drawing
    # (S, S): length of edge that two swatches share, mm; symmetric, the diagonal is the
    # edge inside one colour
    touching: Floats
    outline: float  # length of all edges of regions, the page's edge left out, mm
    total: float  # area of all regions, mm²
    # width of line that suits the drawing, mm, as `outline_width` has it
    outline_width: float
    # area of the page outside the regions, mm²; 0 where the drawing has no page, or is
    # one piece of another shape than the page: then the panel is that shape
    margin: float

    def __post_init__(self) -> None:
        for value in (self.faces, self.area, self.edge, self.touching):
            value.setflags(write=False)


def measure_areas(
    arrangement: Arrangement,
    orbits: Orbits,
    colouring: Colouring,
    weight: Floats | None = None,
    count: Floats | None = None,
    *,
    covered: Bools | None = None,
    patch: Patch | None = None,
) -> Areas:
    """Measure areas, regions and edges of each swatch, on the drawing.

    `weight` (orbits,): how often each region of a kind counts; 1 by default. Serves to
    scale a pattern by its repeats; an edge counts by the mean of its two sides. `count`
    (orbits,): how many regions of a kind there are, whatever the drawing shows; a
    drawing that cuts regions shows more, and smaller ones. `covered` (F,): regions that
    the painted line covers; they take no paint of their own. `patch`: what alone is
    painted. Raises `PlanError` if there is no region.
    """
    swatches = len(colouring.palette.swatches)
    if arrangement.face_count <= 1:
        what = "there is no region to paint"
        raise PlanError(what, mend="look at the open ends with fillwork survey")
    of_face = colouring.of_face.astype(np.int64)
    of_face = np.where(of_face >= 0, of_face, swatches)
    kind, inside = np.maximum(orbits.of_face, 0), orbits.of_face >= 0
    each = np.ones(arrangement.face_count)
    if weight is not None:
        each = np.where(inside, weight[kind], 1.0)
    each[0] = 0.0
    tally = each
    if patch is not None:
        tally = each * (patch.face_share > 0)
        each = each * patch.face_share
    if count is not None:
        seen = np.array([max(len(o.faces), 1) for o in orbits.orbits], np.float64)
        tally = np.where(inside, (count / seen)[kind], 0.0)
    size = np.abs(arrangement.area)
    bare = np.zeros(arrangement.face_count, bool) if covered is None else covered
    # what bears no swatch is counted last
    faces, area = (
        np.bincount(of_face[1:], np.where(bare, 0.0, values)[1:], swatches + 1)
        for values in (tally, size * each)
    )
    scaled = _real_edges(arrangement, each, patch)
    touching = _touching(arrangement, of_face, scaled, swatches)
    drawn = arrangement.edge_curve < arrangement.page_curves
    total = float(size[1:].sum())
    frame = arrangement.frame
    page = frame.width * frame.height if frame.has_page else 0.0
    part = weight is not None or patch is not None or page < total * (1 + 1e-6)
    return Areas(
        faces=faces[:swatches].astype(np.float64),
        area=area[:swatches].astype(np.float64),
        edge=(touching.sum(axis=1) - np.diag(touching))[:swatches],
        touching=touching[:swatches, :swatches].copy(),
        outline=float(scaled[drawn].sum()),
        total=float((size * each)[1:].sum()),
        outline_width=outline_width(arrangement),
        margin=0.0 if part or has_own_shape(arrangement) else page - total,
    )


def _real_edges(arrangement: Arrangement, each: Floats, patch: Patch | None) -> Floats:
    """Return the length of each edge, as often as the faces beside it are painted."""
    length = measure_edges(arrangement, np.arange(arrangement.edge_count))
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    bounded = left != right
    if patch is not None:
        return np.asarray(length * patch.edge_share * bounded)
    sides = (left > 0).astype(np.float64) + (right > 0)
    twice = length * (each[left] + each[right])
    return np.asarray(twice / np.maximum(sides, 1.0) * bounded)


def _touching(
    arrangement: Arrangement, of_face: Ints, length: Floats, swatches: int
) -> Floats:
    """Return the length along which each two swatches touch; none is the last."""
    a, b = of_face[arrangement.face[0::2]], of_face[arrangement.face[1::2]]
    many = swatches + 1
    flat = np.bincount(a * many + b, length, many**2).astype(np.float64)
    table = flat.reshape(many, many)
    return np.asarray(table + table.T - np.diag(np.diag(table)))


def panel_repeats(
    orbits: Orbits, adjacency: Adjacency, panel: tuple[float, float], real_scale: float
) -> tuple[Floats, Floats, list[Note]]:
    """Return how often each kind counts on a larger panel, and how many it has.

    `adjacency`: areas of the kinds. `panel`: width and height, mm, true size.
    `real_scale`: real length / drawn length. Returns `weight` and `count` (orbits,): by
    what the area seen of a kind is multiplied, and how many regions it has; `notes`:
    where the panel goes by area, not by whole repeats. Raises `PlanError` if the
    drawing is no plane pattern, or the panel makes no sense.
    """
    zone = orbits.zones[0] if orbits.zones else None
    lattice = None if zone is None else zone.symmetry.lattice
    if zone is None or lattice is None or zone.symmetry.group.family != "plane":
        family = "none" if zone is None else zone.symmetry.group.family
        what = f"a larger panel needs a plane pattern, and this one is “{family}”"
        mend = "leave out --panel, or state the symmetry with --symmetry plane:NAME"
        raise PlanError(what, mend=mend)
    if not all(math.isfinite(v) and v > 0 for v in panel):
        what = "the panel must be wider and higher than 0 mm"
        raise PlanError(what, mend="give --panel W,H such as 2m,1m")
    (a, b), (c, d) = lattice.basis.tolist()
    cell = abs(a * d - b * c)
    repeats = panel[0] * panel[1] / (cell * real_scale**2)
    notes = []
    turns = sum(o.kind in ("identity", "rotation") for o in zone.symmetry.operations)
    whole = len(zone.symmetry.operations)
    order = max({"all": whole, "turns": turns}.get(orbits.match, 1), 1)
    here = np.array([o.zone == zone.index for o in orbits.orbits])
    sites = [_site_order(o.site_symmetry, orbits.match) for o in orbits.orbits]
    in_cell = np.where(here, order / np.array(sites), 0.0)
    area = in_cell * [o.area for o in orbits.orbits]
    seen = adjacency.area
    count = in_cell * repeats
    weight = area * repeats / np.where(seen > 0, seen, np.inf)
    shown = [len(o.faces) > o.cut for o in orbits.orbits] & (seen > 0)
    exact = shown[here].all() and abs(area.sum() - cell) <= 0.01 * cell
    alone = orbits.match in ("none", "family", "figure")
    if alone or not exact:
        scale = panel[0] * panel[1] / (float(seen[here].sum()) * real_scale**2)
        weight = np.where(here, scale, 0.0)
        count = weight * [len(o.faces) for o in orbits.orbits]
        text = "the panel was scaled by the area seen, not by whole repeats"
        remedy = "draw at least one whole repeat for exact figures"
        if alone:
            text = (
                f"with --match {orbits.match} colours do not follow the repeats: the "
                "panel was scaled by the area seen"
            )
            remedy = f"leave out --match {orbits.match} for exact figures"
        notes.append(Note("plans", "scaled by area", text, remedy=remedy))
    if len(orbits.zones) > 1:
        text = "only the field is repeated over the panel; borders are left out"
        notes.append(Note("plans", "borders left out", text))
    return weight, count, notes


def _site_order(site: str, match: str) -> int:
    """Return how many of the operations that match keep a region in its place."""
    digits = "".join(c for c in site if c.isdigit())
    order = int(digits) if digits else 1
    if match == "all":
        return order * (2 if site.startswith("D") else 1)
    return order if match == "turns" else 1


_SQUARE = 0.985
"""Share of its box that a piece fills which is taken for a rectangle."""


def has_own_shape(arrangement: Arrangement) -> bool:
    """Return whether the regions are one piece that is no whole upright rectangle.

    A round or shaped panel, or one with openings, is drawn on a page of its own width
    and height, as a disc or a gable; what the page has outside it is no part of it.
    """
    if arrangement.openings:
        return True
    if arrangement.face_ring_start[1] - arrangement.face_ring_start[0] > 1:
        return False
    sides = arrangement.face.reshape(-1, 2)
    outer = np.flatnonzero((sides == 0).any(axis=1) & (sides[:, 0] != sides[:, 1]))
    if not len(outer):
        return False
    chords, _, _ = half_edge_curves(arrangement, 2 * outer).flatten(
        max(float(np.sqrt(arrangement.area.max())), 1e-6) / 1e3
    )
    points = chords.reshape(-1, 2)
    width, height = points.max(axis=0) - points.min(axis=0)
    # what lies within the outer boundary is all region
    return bool(np.abs(arrangement.area[1:]).sum() < _SQUARE * width * height)


def outline_width(arrangement: Arrangement) -> float:
    """Return the width of the painted line that suits a drawing, mm.

    0.35, or a thirtieth of the median region's width (the root of its area) if that is
    less.
    """
    if arrangement.face_count < 2:
        return 0.35
    return min(0.35, float(np.sqrt(np.median(arrangement.area[1:]))) / 30.0)
