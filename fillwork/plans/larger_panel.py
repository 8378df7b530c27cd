"""Repeats of a drawing over a panel larger than it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.notes import Note

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.colouring.model import Adjacency
    from fillwork.symmetry.model import Orbits


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
    order = {"all": len(zone.symmetry.operations), "turns": turns}.get(orbits.match, 1)
    order = max(order, 1)
    weight, count = np.zeros(len(orbits.orbits)), np.zeros(len(orbits.orbits))
    filled = 0.0
    for row, orbit in enumerate(orbits.orbits):
        if orbit.zone != zone.index:
            continue
        whole = len(orbit.faces) - orbit.cut > 0
        in_cell = order / _site_order(orbit.site_symmetry, orbits.match)
        filled += in_cell * orbit.area
        seen = float(adjacency.area[row])
        count[row] = in_cell * repeats
        if whole and seen > 0:
            weight[row] = in_cell * orbit.area * repeats / seen
        else:
            filled = math.nan
    alone = orbits.match in ("none", "family", "figure")
    if alone or not abs(filled - cell) <= 0.01 * cell:
        here = np.array([o.zone == zone.index for o in orbits.orbits])
        seen_area = float(adjacency.area[here].sum())
        scale = panel[0] * panel[1] / (seen_area * real_scale**2)
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
