"""Leaf for the regions and lines of a drawing: which shapes, how many, how much."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.plans.leafing import LeafPlan, LeafShape, lay_leaf, lay_lines
from fillwork.plans.quantities import BOOK, COMMON
from fillwork.plans.shapes import true_polygons
from fillwork.plans.words import leaves_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fillwork.arrays import AnyInts, Floats
    from fillwork.colouring.palettes.model import Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.plans.model import PaintSettings, Quantity

_ALIKE = 0.1
"""What lengths of shapes that are cut as one may differ by, mm: no knife is truer."""

_MOST_SHAPES = 150
"""Shapes that are laid one by one; of more, the smaller ones go by their box."""


def plan_leaf(amounts: Amounts) -> tuple[LeafPlan, ...]:
    """Lay leaf on every region and line that takes it: a plan for each metal used."""
    found = []
    for place, swatch in enumerate(amounts.swatches):
        if swatch.medium != "leaf":
            continue
        size, lap, loss = _sheet(swatch, amounts.settings)
        faces = np.flatnonzero(amounts.colouring.of_face == place)
        if amounts.covered is not None:
            faces = faces[~amounts.covered[faces]]
        if amounts.areas.area[place] <= 0 or place in amounts.bare:
            faces = faces[:0]
        laid = _shapes(amounts, faces)
        lines: tuple[LeafShape, ...] = ()
        if amounts.wished_line is not None and amounts.wished_line[1] == place:
            lines = (lay_lines(*amounts.line_size, size, lap),)
        if laid or lines:
            found.append(lay_leaf(place, laid, lines, size=size, lap=lap, loss=loss))
    return tuple(found)


def _sheet(
    swatch: Swatch, settings: PaintSettings
) -> tuple[tuple[float, float], float, float]:
    leaf = swatch.leaf
    size = (leaf.size if leaf else None) or (settings.leaf_size, settings.leaf_size)
    lap = leaf.lap if leaf and leaf.lap is not None else settings.leaf_lap
    loss = leaf.loss if leaf and leaf.loss is not None else settings.leaf_waste
    return size, min(lap, 0.45 * min(size)), loss


def _shapes(
    amounts: Amounts, faces: AnyInts
) -> list[tuple[tuple[int, ...], float, Any]]:
    """Return kinds, number and true shape of what is gilded, alike ones once."""
    from shapely import affinity

    arrangement, orbits, scale = amounts.arrangement, amounts.orbits, amounts.real_scale
    count = amounts.on_panel[1]
    parts = None if amounts.patch is None else amounts.patch.parts
    kind = orbits.of_face
    # whole regions of a kind are one shape; cut ones stand alone
    groups: dict[tuple[int, ...], list[int]] = {}
    for face in faces.tolist():
        if parts is None or face in parts:
            alike = parts is None and kind[face] >= 0 and not orbits.cut[face]
            key = (int(kind[face]),) if alike else (int(kind[face]), face)
            groups.setdefault(key, []).append(face)
    first = [members[0] for members in groups.values()]
    outlines: Iterable[Any]
    if parts is None:
        outlines = true_polygons(arrangement, np.array(first, np.int64), 0.05 / scale)
    else:
        outlines = (parts[face] for face in first)
    found: list[tuple[tuple[int, ...], float, Any]] = []
    for (row, *_), members, outline in zip(
        groups, groups.values(), outlines, strict=True
    ):
        many = float(len(members))
        if count is not None and row >= 0:
            many = many * float(count[row]) / max(int((kind == row).sum()), 1)
        scaled = affinity.scale(outline, scale, scale, origin=(0, 0))
        found.append(((row,) if row >= 0 else (), many, scaled))
    found = alike_once(found)
    if len(found) > _MOST_SHAPES:
        found.sort(key=lambda f: -f[2].area)
    small = [(k, n, s.minimum_rotated_rectangle) for k, n, s in found[_MOST_SHAPES:]]
    return found[:_MOST_SHAPES] + small


def alike_once(
    shapes: Sequence[tuple[tuple[int, ...], float, Any]],
) -> list[tuple[tuple[int, ...], float, Any]]:
    """Return congruent shapes, mirror images too, as one with their numbers summed.

    Leaf is cut as boxes, so a turned shape takes the same. Shapes are alike where
    their corners' distances from the centre and their sides agree, in rising order.

    `shapes` (sequence of (tuple of int, float, polygon)): kinds, how many there are,
    and the shape, mm. Returns list of (tuple of int, float, polygon): the first of
    those that are alike stands for all.
    """
    import shapely

    found: list[tuple[tuple[int, ...], float, Any]] = []
    signs: list[Floats] = []
    of_size: dict[int, list[int]] = {}
    for kinds, many, shape in shapes:
        line = [shapely.get_coordinates(r) for r in shapely.get_parts(shape.boundary)]
        sides = [np.hypot(*np.diff(ring, axis=0).T) for ring in line]
        points = np.concatenate([ring[:-1] for ring in line]) - shape.centroid.coords[0]
        sign = np.r_[
            np.sort(np.hypot(*points.T)), np.sort(np.concatenate(sides)), shape.length
        ]
        like = of_size.setdefault(len(sign), [])
        twin = next((k for k in like if np.abs(signs[k] - sign).max() < _ALIKE), None)
        if twin is None:
            like.append(len(found))
            found.append((kinds, many, shape))
            signs.append(sign)
            continue
        others, more, first = found[twin]
        found[twin] = (tuple(dict.fromkeys((*others, *kinds))), more + many, first)
    return found


def with_leaf(quantity: Quantity, plan: LeafPlan, swatch: Swatch) -> Quantity:
    """Return a quantity with the leaves that were laid. `plan`: how leaf lies."""
    leaf = swatch.leaf
    book = (leaf.book if leaf else None) or BOOK
    told = "palette" if leaf else COMMON
    return replace(
        quantity,
        leaves=plan.needed,
        books=math.ceil(plan.needed / book),
        factors=(
            ("leaf", f"{plan.size[0]:g} x {plan.size[1]:g} mm", told),
            ("lap", f"{plan.lap:g} mm, at edges too", told),
            ("laid", f"{leaves_words(plan.laid)} on the true shapes", "drawing"),
            ("loss", f"{100 * plan.loss:g} %", told),
            ("book", leaves_words(book), told),
            ("colour", "nominal; metal changes with the light", "its ΔE00 too"),
        ),
    )
