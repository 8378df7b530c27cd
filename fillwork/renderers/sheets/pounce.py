"""True-size pieces to prick and pounce, or to cut as a stencil: one repeat, one sector.

What a pattern repeats is drawn once, as large as on the panel: the repeat of a
field or a border, or the sector of a rosette that its turns carry round. It is
pricked once and laid on as often as the panel needs (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.geometry.polygons import ring_sides
from fillwork.renderers.scene import BLACK, GREY_45, OUTLINES, Item, segments
from fillwork.renderers.sheets.quiet import LINE_INK, OUTLINE_WIDTH
from fillwork.renderers.sheets.repeat import alike_zones, cell_corners
from fillwork.symmetry.elements import elements

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.renderers.sheets.parts import Parts
    from fillwork.symmetry.model import Zone

_ARM = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Hold one true-size piece, on paper from its lower left corner."""

    title: str  # title and told: what it is, and how it is laid on
    told: str
    items: tuple[Item, ...]  # outlines, the edges of the piece, crosses at its corners
    lines: Floats  # (n, 4): the outlines alone, mm
    size: tuple[float, float]  # width and height, mm


def find_pieces(parts: Parts) -> list[Piece]:
    """Return the pieces that a drawing repeats, at true size, alike ones once.

    One for each zone that repeats; none where nothing does.
    """
    pieces = []
    for zone, named in alike_zones(parts.orbits.zones, parts.orbits.of_face):
        made = _outline_of(parts, zone)
        if made is not None:
            corners, what, told = made
            pieces.append(_piece(parts, zone, corners, what + named, told))
    return pieces


def _outline_of(parts: Parts, zone: Zone) -> tuple[Floats, str, str] | None:
    """Return the corners of what a zone repeats, its name, and how it is laid on."""
    symmetry = zone.symmetry
    low, high = parts.boxes
    box = (*low[zone.faces].min(axis=0), *high[zone.faces].max(axis=0))
    real = parts.real_scale
    if symmetry.lattice is not None:
        corners = cell_corners(symmetry, box, parts.arrangement, zone.faces)
        if corners is None:
            return None
        steps = np.hypot(*symmetry.lattice.basis.T) * real
        if len(steps) == 1:
            return corners, "One link", f"Lay it on every {_mm(steps[0])} along."
        a, b = symmetry.lattice.basis
        turn = np.degrees(np.arccos(a @ b / (np.hypot(*a) * np.hypot(*b))))
        told = f"Lay it on every {_mm(steps[0])} and {_mm(steps[1])}, at {turn:.0f}°."
        return corners, "One repeat", told
    if symmetry.group.family != "rosette":
        return None
    cell = elements(symmetry)
    if len(cell.orders) == 0:
        return None
    order = int(cell.orders.max())
    if order < 3:
        return None
    centre = cell.centres[int(cell.orders.argmax())]
    mine = np.isin(parts.arrangement.face, zone.faces)
    points = parts.arrangement.vertices[parts.arrangement.origin[mine]]
    reach = float(np.hypot(*(points - centre).T).max()) * 1.001
    half = np.pi / order
    middle = np.pi / 2
    if len(cell.mirrors):
        x, y = cell.mirrors[0, 2:4]
        # the sector lies between mirrors, nearest to the upright
        first = float(np.arctan2(y, x)) + half
        middle = first + np.round((np.pi / 2 - first) / half) * half
    angle = np.linspace(middle - half, middle + half, 25)
    arc = centre + reach / np.cos(half / 12) * np.stack(
        [np.cos(angle), np.sin(angle)], axis=1
    )
    told = f"Turn it about the centre, {order} times by {360 / order:g}°."
    return np.concatenate([[centre], arc]), f"One {_share(order)}", told


def _share(order: int) -> str:
    words = {3: "third", 4: "quarter", 5: "fifth", 6: "sixth", 8: "eighth"}
    words |= {10: "tenth", 12: "twelfth", 16: "sixteenth"}
    return words.get(order, f"sector of {order}")


def _mm(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") + " mm"


def _piece(parts: Parts, zone: Zone, corners: Floats, title: str, told: str) -> Piece:
    scale, mirror = parts.real_scale, parts.settings.mirror
    cell = shapely.Polygon(corners)
    left, bottom, right, top = cell.bounds
    arrangement = parts.arrangement
    mine = np.zeros(arrangement.face_count, bool)
    mine[zone.faces] = True
    # each edge once: between two regions, it bounds both
    edges = np.flatnonzero(mine[arrangement.face[0::2]] | mine[arrangement.face[1::2]])
    error = min(0.02, max(parts.size) * 2e-5)
    chords, _, _ = half_edge_curves(arrangement, 2 * edges).flatten(error)
    strings = np.asarray(shapely.linestrings(chords.reshape(-1, 2, 2)))
    inside = np.asarray(shapely.intersection(strings, cell))
    parts_ = shapely.get_parts(inside[shapely.length(inside) > 0])
    rows = [np.asarray(part.coords)[[0, -1]].ravel() for part in parts_]
    lines = np.array(rows).reshape(-1, 4)
    corner = np.array([right if mirror else left, bottom])
    way = np.array([-scale if mirror else scale, scale])
    lines = ((lines.reshape(-1, 2) - corner) * way).reshape(-1, 4)
    ring = (corners - corner) * way
    edge = ring_sides(ring)
    # the crosses of a sector stand at its point and at the ends of its sides
    marks = ring if len(ring) == 4 else ring[[0, 1, -1]]
    arms = np.array([[_ARM, 0.0], [0.0, _ARM]])
    crosses = np.concatenate([np.hstack([marks - arm, marks + arm]) for arm in arms])
    items: list[Item] = [
        segments(edge, 0.15, GREY_45, dash=(2.0, 1.0)),
        segments(lines, OUTLINE_WIDTH, LINE_INK, layer=OUTLINES, cap="round"),
        segments(crosses, 0.12, BLACK),
    ]
    size = ((right - left) * scale, (top - bottom) * scale)
    return Piece(title, told, tuple(items), lines, size)
