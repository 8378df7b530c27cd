"""Clips written as shapes of CSS instead of a ``clipPath``.

CSS Shapes 1, section 3 ("Basic shapes"), its reference boxes by CSS Masking 1, section
3: where an element has no box of CSS, its border box is that of its strokes, its
content box that of its fill.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.strokes.clip import as_region
from fillwork.readers.strokes.drawn import Clip
from fillwork.readers.svg.shapes.paths import PathCollector
from fillwork.readers.svg.shapes.values import Viewport, parse_length, parse_origin

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine
    from fillwork.readers.strokes.cutting import Region
    from fillwork.readers.svg.walk import Walk

_CALL = re.compile(r"([a-z]+)\(((?:[^()\"']|\([^()]*\)|\"[^\"]*\"|'[^']*')*)\)", re.I)
_RULE = re.compile(r"\s*(nonzero|evenodd)\s*,", re.I)
_BY_FILL = {"fill-box", "content-box", "padding-box"}
_BY_STROKE = {"", "border-box", "margin-box", "stroke-box"}

Call = tuple[str, str]
"""Name of a basic shape, and what stands in its brackets."""


def clip_by_shape(walk: Walk, text: str, matrix: Affine, parent: int) -> int | None:
    """Return the number of the clip that a value of ``clip-path`` names.

    None if it cannot be understood. `matrix`: from the units of the element to the
    page's. `parent`: the clip around it.
    """
    found = _CALL.search(text)
    if found is None:
        return None
    call = found[1].lower(), found[2]
    box = (text[: found.start()] + text[found.end() :]).strip().lower()
    view = walk.viewport
    region = _outlined(walk, call, view, (view.width, view.height))
    if region is None:
        return None
    if box == "view-box":
        return walk.add_clip(Clip(parent, matrix, shape=region))
    if box not in _BY_FILL | _BY_STROKE:
        return None
    made = functools.partial(_known, walk, call, view)
    by_box = 1 if box in _BY_FILL else 2
    return walk.add_clip(Clip(parent, matrix, shape=made, by_box=by_box))


def _known(walk: Walk, call: Call, view: Viewport, size: tuple[float, float]) -> Region:
    region = _outlined(walk, call, view, size)
    assert region is not None
    return region


def _outlined(
    walk: Walk, call: Call, view: Viewport, size: tuple[float, float]
) -> Region | None:
    # what a basic shape leaves of a box whose corner is the origin
    name, inside = call
    rule = _RULE.match(inside)
    if rule and name in {"polygon", "path"}:
        inside = inside[rule.end() :]
    collector = PathCollector(walk.limits, walk.where)
    item = collector.add_item(0, walk.line, name)
    box = Viewport(*size, view.font, view.root)
    if name == "path":
        collector.add_path(item, inside.strip().strip("\"'"))
    elif name == "polygon":
        pairs = inside.split(",")
        points = _lengths(" ".join(pairs), "xy" * len(pairs), box)
        if points is None:
            return None
        collector.add_path(item, "M" + " ".join(map(repr, points)) + "Z")
    elif name in {"circle", "ellipse"}:
        oval = _round(name, inside, box)
        if oval is None:
            return None
        if min(oval[2:]) > 0:  # else it leaves nothing
            collector.add_ellipse(item, *oval)
    else:
        sides = _boxed(name, inside, box)
        if sides is None:
            return None
        if min(sides[2:4]) > 0:
            collector.add_box(item, sides)
    even_odd = rule is not None and rule[1].lower() == "evenodd"
    return as_region(collector.finish(), np.array([even_odd]))


def _lengths(text: str, axes: str, box: Viewport) -> list[float] | None:
    words = text.split()
    if len(words) != len(axes):
        return None
    found = [parse_length(w, box, axis) for w, axis in zip(words, axes, strict=True)]
    known = [value for value in found if value is not None]
    return known if len(known) == len(found) else None


def _round(
    name: str, inside: str, box: Viewport
) -> tuple[float, float, float, float] | None:
    # centre and radii; a radius that is not given reaches the nearest side
    before, _, after = f" {inside.strip().lower()} ".partition(" at ")
    middle = parse_origin(after.strip() or "center", box)
    if middle is None or len(after.split()) > 2:
        return None
    x, y = middle
    sides = {"x": (abs(x), abs(box.width - x)), "y": (abs(y), abs(box.height - y))}
    axes = ("o",) if name == "circle" else ("x", "y")
    words = before.split() or ["closest-side"] * len(axes)
    if len(words) != len(axes):
        return None
    radii = []
    for word, axis in zip(words, axes, strict=True):
        near = sides.get(axis, (*sides["x"], *sides["y"]))
        reach = {"closest-side": min(near), "farthest-side": max(near)}.get(word)
        radius = parse_length(word, box, axis) if reach is None else reach
        if radius is None or radius < 0:
            return None
        radii.append(radius)
    return x, y, radii[0], radii[-1]


def _boxed(
    name: str, inside: str, box: Viewport
) -> tuple[float, float, float, float, float, float] | None:
    # x, y, width, height, and the radii of all corners
    sides, _, corners = f"{inside.strip().lower()} ".partition(" round ")
    words, radii = sides.split(), (corners or "0").replace("/", " ").split()
    if name == "inset" and 0 < len(words) < 4:
        # one to three stand for four, as margins are written
        words = (words * 3)[:3] if len(words) < 3 else words
        words.append(words[1])
    if len(radii) > 2 or (len(radii) == 2 and "/" not in corners):
        return None  # corners that differ
    given = _lengths(" ".join(words), "yxyx" if name != "xywh" else "xyxy", box)
    radius = _lengths(" ".join((radii * 2)[:2]), "xy", box)
    if given is None or radius is None or name not in {"inset", "rect", "xywh"}:
        return None
    if name == "xywh":
        x, y, w, h = given
    elif name == "rect":
        y, x, w, h = given[0], given[3], given[1] - given[3], given[2] - given[0]
    else:
        y, x = given[0], given[3]
        w, h = box.width - x - given[1], box.height - y - given[2]
    w, h = max(w, 0.0), max(h, 0.0)
    return x, y, w, h, min(radius[0], w / 2), min(radius[1], h / 2)
