"""Clips and hard masks: which outline of the file cuts what, and its region."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from fillwork.geometry import affine
from fillwork.readers.strokes.clip import gathered_region
from fillwork.readers.strokes.drawn import Clip
from fillwork.readers.svg.basic_clips import clip_by_shape
from fillwork.readers.svg.frames import Frame, frame_of_node
from fillwork.readers.svg.gate.gather import Node
from fillwork.readers.svg.shapes.paths import PathCollector
from fillwork.readers.svg.shapes.values import Viewport, parse_length, parse_transform
from fillwork.readers.svg.style.cascade import INITIAL
from fillwork.readers.svg.style.css import told_of

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine
    from fillwork.readers.strokes.collect import Context
    from fillwork.readers.strokes.cutting import Region
    from fillwork.readers.svg.style.cascade import Own
    from fillwork.readers.svg.walk import Walk

_SILENT = frozenset({"title", "desc", "metadata"})
LIGHT = 0.5
"""A mask's paint of less luminance than this hides what it lies on."""


def clip_of(walk: Walk, own: Own, matrix: Affine, parent: int, role: str) -> int:
    """Return the number of the clip that cuts an element.

    `own`: its properties. `matrix`: from its units to the page's. `parent`: the clip
    around it, -1 for none. `role`: what element it is.
    """
    if walk.collecting_clip:
        return parent
    if own.clip:
        if own.clip.startswith("#"):
            parent = _by_path(walk, own.clip[1:], matrix, parent, role)
        else:
            found = clip_by_shape(walk, own.clip, matrix, parent)
            if found is None:
                told = f"has “clip-path: {own.clip[:40]}”, which is not used"
                walk.doubt(told, role)
            else:
                parent = found
    if own.mask:
        parent = _by_mask(walk, own.mask, matrix, parent, role)
    return parent


def _by_path(walk: Walk, name: str, matrix: Affine, parent: int, role: str) -> int:
    node = walk.prepared.nodes.get(name)
    if node is None or node.role != "clipPath":
        walk.doubt("is clipped by something that is not there", role)
        return parent
    for inner in _clips_of(walk, node):
        by_box = inner.attributes.get("clipPathUnits") == "objectBoundingBox"
        parent = walk.add_clip(Clip(parent, matrix, shape=inner, by_box=by_box))
    return parent


def _clips_of(walk: Walk, node: Node) -> list[Node]:
    # those that cut a clip, or all that it holds, and then the clip itself
    found, last = [node], [node]
    while last and len(found) < walk.limits.depth:
        holder = last.pop()
        parts = [child for child in holder.children if child.role not in _SILENT]
        inside = {_clip_named(child) for child in parts}
        names = {_clip_named(holder)}
        if len(inside) == 1 and not any("transform" in c.attributes for c in parts):
            names |= inside
        elif any(inside):
            walk.doubt("holds shapes clipped one by one, which is not done", "clipPath")
        for name in sorted(names - {""}):
            other = walk.prepared.nodes.get(name)
            if other is not None and other.role == "clipPath" and other not in found:
                found.append(other)
                last.append(other)
    return found[::-1]


def _clip_named(node: Node) -> str:
    text = told_of(node.attributes).get("clip-path") or node.attributes.get(
        "clip-path", ""
    )
    return text.partition("#")[2].split(")", 1)[0].strip("\"' ")


def _by_mask(walk: Walk, name: str, matrix: Affine, parent: int, role: str) -> int:
    node = walk.prepared.nodes.get(name)
    if node is None or node.role != "mask":
        return parent  # what is not there masks nothing: CSS Masking 1, section 7.1
    by_box = node.attributes.get("maskContentUnits") == "objectBoundingBox"
    if _region_of(walk, node, by_box) is None:
        walk.doubt("is seen through a mask that is no hard outline: taken whole", role)
        return parent
    if node.attributes.get("maskUnits") == "userSpaceOnUse":
        keys = (("x", "x"), ("y", "y"), ("width", "x"), ("height", "y"))
        given = [
            parse_length(node.attributes.get(key, ""), walk.viewport, axis)
            for key, axis in keys
        ]
        x, y, width, height = (0.0 if value is None else value for value in given)
        if None not in given and min(width, height) > 0:
            parent = walk.add_clip(Clip(parent, matrix, box=(x, y, width, height)))
    return walk.add_clip(Clip(parent, matrix, shape=node, by_box=by_box))


def clip_region(walk: Walk, clip: Clip) -> Region:
    """Return the outline of a clip or mask that is no box, in its own units."""
    node = clip.shape
    if not isinstance(node, Node):
        return cast("Region", node)
    found = _region_of(walk, node, bool(clip.by_box))
    assert found is not None
    return found


def _region_of(walk: Walk, node: Node, by_box: bool) -> Region | None:
    # None for a mask whose edges are not those of filled shapes
    key = (id(node), by_box)
    if key not in walk.regions:
        make = _masked if node.role == "mask" else _clipped
        view = Viewport(1.0, 1.0) if by_box else walk.page.viewport()
        walk.regions[key] = None  # while it is made: a mask may name itself
        walk.regions[key] = make(walk, node, view)
    return walk.regions[key]


def _clipped(walk: Walk, node: Node, view: Viewport) -> Region:
    collector = PathCollector(walk.limits, walk.where)
    with walk.inside(collector, 0.0):
        walk.collecting_clip = True
        own = parse_transform(node.attributes.get("transform", ""))[0]
        walk.open_frame(Frame(own, INITIAL, view))
        walk.replay(node.children)
    return gathered_region(collector)


def _masked(walk: Walk, node: Node, view: Viewport) -> Region | None:
    # what filled shapes of full light let through; dark ones under them do nothing
    by_alpha = told_of(node.attributes).get("mask-type", "").strip() == "alpha"
    collector, before = PathCollector(walk.limits, walk.where), dict(walk.counts)
    with walk.inside(collector, 0.0):
        walk.open_frame(frame_of_node(walk, node, affine.IDENTITY, view))
        walk.replay(node.children)
    pictured = walk.counts != before
    walk.counts = before
    shows = [_shows(collector.contexts[c], by_alpha) for c in collector.item_context]
    dark = next((k for k, shown in enumerate(shows) if shown is not False), len(shows))
    if pictured or not all(shows[dark:]):
        return None
    return gathered_region(collector, dark)


def _shows(about: Context, by_alpha: bool) -> bool | None:
    # whether a shape of a mask lets its inside be seen; None where that is not all
    if about.stroked or not about.filled or not about.covers or about.clip >= 0:
        return None
    fill = about.fill or "url"
    if by_alpha:
        return True
    if not fill.startswith("#"):
        return None
    red, green, blue = (int(fill[k : k + 2], 16) / 255 for k in (1, 3, 5))
    # luminance as CSS Masking 1 has it: sRGB channels by the weights of linear ones
    return bool(0.2125 * red + 0.7154 * green + 0.0721 * blue >= LIGHT)
