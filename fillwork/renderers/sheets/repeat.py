"""Dress one repeat: its frame, its symmetry elements, and numbers clear of both.

Axes and frame are broken where a number stands. A number that would stand on a
centre moves aside within its region; where there is no room, the symbol gives way.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.geometry import affine
from fillwork.geometry.polygons import polygon_sides
from fillwork.renderers.scene import BLACK, Box, Item, Labels, segments
from fillwork.renderers.sheets.quiet import quiet_sizes
from fillwork.renderers.symbols import Elements, compose_elements
from fillwork.renderers.text.room import Sides, number_body, place_best

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Floats
    from fillwork.geometry.affine import Affine
    from fillwork.renderers.sheets.parts import NumberedRegions, Parts
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Symmetry, Zone

FRAME = 0.5
"""Width of the frame of one repeat, mm."""

SYMBOL = 1.7
"""How far a centre's symbol reaches, mm."""

_AIR = 0.4


def cell_corners(
    symmetry: Symmetry,
    box: Box,
    arrangement: Arrangement | None = None,
    faces: AnyInts | None = None,
) -> Floats | None:
    """Return the corners of one repeat that lies well inside a box.

    `symmetry`: with a lattice, or without. `box`: left, bottom, right, top, mm.
    `arrangement`: the regions, where a repeat is wanted that some of them fill.
    `faces`: those regions. Returns (4, 2): corners counter-clockwise; of the repeats
    that are filled and inside, the one nearest to the middle of the box. That of a
    frieze is as high as the box. None when there is no lattice.
    """
    lattice = symmetry.lattice
    if lattice is None:
        return None
    if len(lattice.basis) == 1:
        return _strip_corners(symmetry, lattice.basis[0], box)
    basis = lattice.basis
    if basis[0, 0] * basis[1, 1] - basis[0, 1] * basis[1, 0] < 0:
        basis = basis[::-1]
    middle = np.array([(box[0] + box[2]) / 2, (box[1] + box[3]) / 2])
    origin = np.array(symmetry.centre if symmetry.centre is not None else middle)
    half = (basis[0] + basis[1]) / 2
    ranked: list[tuple[float, Floats]] = []
    # a centre of highest rotation stands at the corners, or in the middle
    for start in (origin, origin - half):
        near = np.linalg.solve(basis.T, middle - half - start)
        steps = [
            range(int(np.floor(v)) - _REACH, int(np.ceil(v)) + _REACH + 1) for v in near
        ]
        for i in steps[0]:
            for j in steps[1]:
                low = start + i * basis[0] + j * basis[1]
                corners = np.array(
                    [low, low + basis[0], low + basis[0] + basis[1], low + basis[1]]
                )
                out = max(
                    0.0,
                    box[0] - corners[:, 0].min(),
                    corners[:, 0].max() - box[2],
                    box[1] - corners[:, 1].min(),
                    corners[:, 1].max() - box[3],
                )
                far = float(np.linalg.norm(corners.mean(axis=0) - middle))
                ranked.append((round(out * 1000 + far, 6), corners))
    ranked.sort(key=lambda pair: pair[0])
    if arrangement is None or faces is None:
        return ranked[0][1]
    best = (-1.0, ranked[0][1])
    for _, corners in ranked[:_TRIED]:
        share = _share(arrangement, faces, corners)
        if share > 0.98:
            return corners
        if share > best[0] + 0.01:
            best = (share, corners)
    return best[1]


_REACH = 6
"""How many repeats from the middle one is looked for."""

_TRIED = 200


def _share(arrangement: Arrangement, faces: AnyInts, corners: Floats) -> float:
    """Return what share of a cell some regions fill."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    points = arrangement.witness[faces]
    # a region that reaches into a cell has its middle no further than a cell away
    near = np.all(np.abs(points - (low + high) / 2) < 1.5 * (high - low), axis=1)
    cell = shapely.Polygon(corners)
    parts = shapely.intersection(arrangement.polygons(faces[near], valid=True), cell)
    return float(shapely.area(parts).sum() / cell.area)


def _strip_corners(symmetry: Symmetry, step: Floats, box: Box) -> Floats:
    left, bottom, right, top = box
    ends = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    length = float(np.hypot(*step))
    way = step / length
    side = np.array([-way[1], way[0]])
    middle = ends.mean(axis=0)
    origin = np.array(symmetry.centre if symmetry.centre is not None else middle)
    across = (ends - origin) @ side
    along = float((middle - origin) @ way) / length
    start = origin + np.round(along - 0.5) * step
    low, high = side * across.min(), side * across.max()
    return np.array(
        [start + low, start + step + low, start + step + high, start + high]
    )


def alike_zones(zones: Sequence[Zone], label: AnyInts) -> list[tuple[Zone, str]]:
    """Return one zone of each sort, and the words for all that are like it.

    `label` (F,): what regions must have in common, such as kinds. Returns the first of
    each sort, and “ of zone 1” or “ of zones 3-6”; no words where there is one zone
    only.
    """
    sorts: dict[tuple[str, bytes], list[Zone]] = {}
    for zone in zones:
        key = (zone.symmetry.group.short, np.unique(label[zone.faces]).tobytes())
        sorts.setdefault(key, []).append(zone)
    if len(zones) < 2:
        return [(zone, "") for zone in zones]
    return [
        (
            same[0],
            f" of zone{'s' * (len(same) > 1)} {join_runs([z.index for z in same])}",
        )
        for same in sorts.values()
    ]


def join_runs(numbers: Sequence[int]) -> str:
    """Return numbers with runs joined, in order, with commas.

    Examples
    --------
    >>> join_runs([1, 2, 3, 5, 7, 8])
    '1-3, 5, 7, 8'
    """
    runs: list[list[int]] = []
    for n in sorted(numbers):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    words = []
    for run in runs:
        words += [f"{run[0]}-{run[-1]}"] if len(run) > 2 else [str(n) for n in run]
    return ", ".join(words)


def on_paper(elements: Elements, m: Affine) -> Elements:
    """Return elements moved by a similarity; on paper.

    `m`: the similarity; it may mirror.
    """
    ways = np.stack([np.cos(elements.turns), np.sin(elements.turns)], axis=1)
    ways = ways @ affine.linear(m).T
    return Elements(
        affine.apply(m, elements.centres.reshape(-1, 2)),
        elements.orders,
        np.arctan2(ways[:, 1], ways[:, 0]),
        _moved(elements.mirrors, m),
        _moved(elements.glides, m),
    )


def _moved(lines: Floats, m: Affine) -> Floats:
    return affine.apply(m, lines.reshape(-1, 2)).reshape(-1, 4)


def _number_halves(parts: Parts, numbers: NumberedRegions) -> Floats:
    """Return half the width and height of each region's number.

    Returns (F, 2): of the ink, mm; 0 where there is no number.
    """
    half = np.array([number_body(t, parts.fonts).half for t in numbers.texts])
    sized: Floats = half[numbers.text] * numbers.height[:, None]
    return sized


def clear_centres(
    parts: Parts,
    numbers: NumberedRegions,
    elements: Elements,
    scale: float,
) -> tuple[NumberedRegions, Elements]:
    """Return numbers moved off the symbols of centres.

    `elements`: on paper, from the lower left corner of the drawing's box. `scale`:
    paper mm for one mm of the drawing. Returns `numbers`: those on symbols moved, and
    smaller where they must be; `elements`: without the symbols that left no room for a
    number.
    """
    if len(elements.centres) == 0:
        return numbers, elements
    half = _number_halves(parts, numbers) + SYMBOL + _AIR
    shown = np.flatnonzero(numbers.height > 0)
    gap = np.abs(elements.centres[:, None] - numbers.at[shown][None])
    hits = np.asarray((gap < half[shown][None]).all(axis=2))
    at, height = numbers.at.copy(), numbers.height.copy()
    keep = np.ones(len(elements.centres), bool)
    m = parts.map_to_paper(scale)
    for column in np.flatnonzero(hits.any(axis=0)).tolist():
        face = int(shown[column])
        near = np.flatnonzero(hits[:, column])
        shape = shapely.transform(
            parts.arrangement.polygons(np.array([face]))[0],
            lambda xy: affine.apply(m, xy),
        )
        discs = shapely.buffer(shapely.points(elements.centres[near]), SYMBOL + 0.1)
        spot, size = _best_place(
            shapely.difference(shape, shapely.union_all(discs)),
            numbers.texts[int(numbers.text[face])],
            parts,
            float(numbers.height[face]),
        )
        if size >= parts.settings.least_number:
            sized = quiet_sizes(np.array([size]), parts.settings.least_number)
            at[face], height[face] = spot, sized[0]
        else:
            keep[near] = False
    return replace(numbers, at=at, height=height), Elements(
        elements.centres[keep],
        elements.orders[keep],
        elements.turns[keep],
        elements.mirrors,
        elements.glides,
    )


def _best_place(
    room: shapely.Geometry, text: str, parts: Parts, most: float
) -> tuple[Floats, float]:
    """Return where a number stands largest in a polygon, or in one of several."""
    best: tuple[Floats, float] = (np.zeros(2), 0.0)
    body = number_body(text, parts.fonts)
    pieces = [p for p in shapely.get_parts(room) if p.geom_type == "Polygon"]
    for piece in sorted(pieces, key=lambda p: -p.area)[:3]:
        if piece.area <= 0:
            continue
        sides = np.concatenate(polygon_sides(piece))
        table = Sides(sides, np.array([0, len(sides)]))
        start = shapely.maximum_inscribed_circle(piece).coords[0]
        at, size = place_best(
            table, np.zeros(1, int), np.array([start]), body, 0.2, enough=most
        )
        if size[0] > best[1]:
            best = (at[0], min(float(size[0]), most))
    return best


def compose_unit(
    labels: Labels, elements: Elements, frame: Floats, fonts: FontSet
) -> list[Item]:
    """Return the frame of a repeat and its elements, broken where numbers stand.

    Axes below, centres on top. `labels`: numbers or letters, on paper. `elements`: on
    paper. `frame` (n, 4): sides of the repeat or of the wedge, on paper; there may be
    none.
    """
    half = np.array([number_body(t, fonts, labels.weight).half for t in labels.texts])
    half = half.reshape(-1, 2)[labels.text] * labels.height[:, None] + _AIR
    low, high = labels.at - half, labels.at + half
    boxes = np.asarray(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    mirrors, glides = (_broken(n, boxes) for n in (elements.mirrors, elements.glides))
    items = compose_elements(replace(elements, mirrors=mirrors, glides=glides))
    if len(frame):
        items.insert(0, segments(_broken(frame, boxes), FRAME, BLACK, cap="round"))
    return items


def _broken(lines: Floats, boxes: NDArray[np.object_]) -> Floats:
    """Return what is left of lines outside some boxes."""
    tree = shapely.STRtree(boxes)
    rows: list[list[float]] = []
    for ends in lines.reshape(-1, 2, 2):
        line = shapely.LineString(ends)
        left = shapely.difference(line, shapely.union_all(boxes[tree.query(line)]))
        rows += [
            np.asarray(piece.coords)[[0, -1]].ravel().tolist()
            for piece in shapely.get_parts(left)
            if piece.length > 0
        ]
    return np.array(rows).reshape(-1, 4)


_CENTRES = {
    2: "lenses: half turns",
    3: "triangles: third turns",
    4: "squares: quarter turns",
    6: "hexagons: sixth turns",
}


def describe_marks(elements: Elements, framed: bool) -> str:
    """Return what the marks on a repeat mean.

    One sentence, empty when there is nothing to say. `framed`: whether the repeat has a
    frame.
    """
    words = ["heavy frame: one repeat"] if framed else []
    if len(elements.mirrors):
        words.append("solid lines: mirrors")
    if len(elements.glides):
        words.append("dashed lines: glides")
    words += [
        _CENTRES.get(order, f"black polygon: turns of 1/{order}")
        for order in sorted(set(elements.orders.tolist()))
    ]
    text = "; ".join(words)
    return f"{text[:1].upper()}{text[1:]}." if text else ""
