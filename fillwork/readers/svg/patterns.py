"""Fills by patterns: which tile a pattern is, and the shapes that it fills.

SVG 2, section 14.3 ("Patterns"). What is outside a tile is cut, whatever `overflow`
says: the standard leaves open what would be seen of it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from fillwork.geometry import affine
from fillwork.readers.strokes.collect import drop_wild
from fillwork.readers.strokes.outlines import box_of
from fillwork.readers.strokes.patterns import (
    MOST_DEEP,
    STEPS,
    Laid,
    add_tiles,
    edge_and_line,
    fit_tiles,
    has_area,
)
from fillwork.readers.strokes.tiles import Grid, make_tile
from fillwork.readers.svg.frames import frame_of_node
from fillwork.readers.svg.shapes.paths import PathCollector
from fillwork.readers.svg.shapes.values import (
    Viewport,
    box_transform,
    parse_length,
    parse_transform,
    parse_view_box,
)
from fillwork.readers.svg.style.colours import parse_colour
from fillwork.readers.svg.style.css import told_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.geometry.affine import Affine
    from fillwork.readers.strokes.collect import Context, StrokeTable
    from fillwork.readers.strokes.tiles import Tile
    from fillwork.readers.svg.gate.gather import Node, Prepared
    from fillwork.readers.svg.walk import Walk

_PICTURES = frozenset({"image", "text", "foreignObject", "video", "canvas"})


class _Chain(NamedTuple):
    # a pattern or gradient and those that it refers to, in order
    nodes: tuple[Node, ...]
    closed: bool

    def get(self, key: str) -> str:
        for node in self.nodes:
            if key in node.attributes:
                return node.attributes[key].strip()
        return ""

    @property
    def holder(self) -> Node | None:
        # the one whose children count
        return next((node for node in self.nodes if node.children), None)


def _chain(prepared: Prepared, name: str, roles: frozenset[str]) -> _Chain:
    found: list[Node] = []
    names: set[str] = set()
    while name and name not in names:
        names.add(name)
        node = prepared.nodes.get(name)
        if node is None or node.role not in roles:
            return _Chain(tuple(found), closed=False)
        found.append(node)
        name = ""
        for key, value in node.attributes.items():
            if key == "href" or (key.endswith(":href") and not name):
                name = value.strip().removeprefix("#")
    return _Chain(tuple(found), closed=bool(name))


_GRADIENTS = frozenset({"linearGradient", "radialGradient"})


def is_opaque_gradient(prepared: Prepared, name: str) -> bool:
    """Return whether nothing shows through a gradient.

    `prepared`: the elements that others refer to. `name`: id of the gradient.
    True if all its stops are opaque, as far as their own attributes say.
    """
    holder = _chain(prepared, name, _GRADIENTS).holder
    if holder is None:
        return False
    stops = [node for node in holder.children if node.role == "stop"]
    return bool(stops) and all(map(_is_opaque_stop, stops))


def _is_opaque_stop(stop: Node) -> bool:
    told = told_of(stop.attributes)
    colour = parse_colour(told.get("stop-color", "#000").strip().lower())
    try:
        text = told.get("stop-opacity", "1").strip()
        opacity = float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        opacity = 1.0
    return "class" not in told and opacity >= 1 and (not colour or colour[1] >= 1)


def fill_by_pattern(
    walk: Walk,
    draw: Callable[[Walk, dict[str, str], int, str], None],
    attributes: dict[str, str],
    context: int,
    name: str,
) -> None:
    """Draw a shape, and the tiles that it is filled with.

    `walk`: where they go. `draw`: draws the shape. `attributes`: of the shape. `name`:
    its element with id.
    """
    about = walk.collector.contexts[context]
    shape = _shape_alone(walk, draw, attributes, context, name)
    laid = _fitting_tile(walk, about, shape, name)
    edge, line = edge_and_line(about)
    if isinstance(laid, str):
        # its outline alone: what fills it is not known
        edge = edge._replace(gradient=True)
        draw(walk, attributes, walk.number(line if about.stroked else edge), name)
        return
    if laid is not None:
        edge = edge._replace(covers=about.covers and laid.tile.opaque)
        if edge.covers or not about.stroked:
            draw(walk, attributes, walk.number(edge), name)
        add_tiles(walk, about, shape, laid)
    if about.stroked:
        draw(walk, attributes, walk.number(line), name)


def _shape_alone(
    walk: Walk,
    draw: Callable[[Walk, dict[str, str], int, str], None],
    attributes: dict[str, str],
    context: int,
    name: str,
) -> StrokeTable:
    # its strokes in its own units
    kept, walk.collector = walk.collector, PathCollector(walk.limits, walk.where)
    draw(walk, attributes, context, name)
    shape = walk.collector.finish()
    walk.collector = kept
    return drop_wild(shape, 1e12)[0]


def _fitting_tile(
    walk: Walk, about: Context, shape: StrokeTable, name: str
) -> Laid | str | None:
    """Return the tile of a shape's pattern and its places.

    None where no paint is applied; a word where it is not known what is seen, which
    then has been told.
    """
    chain = _chain(walk.prepared, about.pattern, frozenset({"pattern"}))
    holder = chain.holder
    if not len(shape.closed):
        return None
    if chain.closed or about.pattern in walk.laying:
        return _told(walk, name, "is filled by a pattern that refers to itself")
    if holder is None:
        _unpainted(walk, name, "holds nothing")
        return None
    if len(walk.laying) >= MOST_DEEP:
        return _told(walk, name, f"stands in patterns more than {MOST_DEEP} deep")
    if walk.allowance.budget.left < 0:
        return _told(walk, name, STEPS)
    low, high = box_of(shape)
    box = (*low.tolist(), *(high - low).tolist())
    fitted = _fit(chain, box, walk.viewport)
    if isinstance(fitted, str):
        _unpainted(walk, name, fitted)
        return None
    grid, content = fitted
    whole = affine.compose(about.matrix, grid.matrix)
    scale = affine.mean_scale(whole) * walk.unit
    size = (grid.width, grid.height)
    if not (math.isfinite(scale) and scale > 0 and has_area(grid.matrix)):
        _unpainted(walk, name, "has a transform that leaves no area")
        return None

    def make() -> Tile | None:
        walk.laying = (*walk.laying, about.pattern)
        try:
            return _tile(walk, chain, content, size, scale, about)
        finally:
            walk.laying = walk.laying[:-1]

    room = walk.collector.room()
    laid = fit_tiles(walk.allowance, room, shape, about.even_odd, grid, make)
    if isinstance(laid, str):
        return _told(walk, name, laid)
    if laid is None:
        if _has_picture(holder):
            return "picture"
        _unpainted(walk, name, "draws nothing")
    return laid


def _told(walk: Walk, name: str, what: str) -> str:
    walk.doubt(f"{what}: its outline alone is used", name)
    return what


def _unpainted(walk: Walk, name: str, why: str) -> None:
    # such a pattern paints nothing: SVG 2, sections 13.2 and 14.3
    walk.doubt(f"is filled by a pattern that {why}, so by nothing", name)


def _has_picture(node: Node) -> bool:
    stack = [node]
    while stack:
        node = stack.pop()
        if node.role in _PICTURES or node.role == "use":
            return True
        stack.extend(node.children)
    return False


def _fit(
    chain: _Chain, box: tuple[float, float, float, float], view: Viewport
) -> tuple[Grid, Affine] | str:
    """Return the tiles, and the map of what is in one, its corner at the origin.

    A word where there are none.
    """
    x0, y0, across, down = box
    by_box = chain.get("patternUnits") != "userSpaceOnUse"
    if by_box:
        view = Viewport(1.0, 1.0, view.font)
    keys = (("x", "x"), ("y", "y"), ("width", "x"), ("height", "y"))
    lengths = [parse_length(chain.get(key), view, axis) for key, axis in keys]
    for (key, _), length in zip(keys, lengths, strict=True):
        if key in ("width", "height") and length is None and chain.get(key):
            return f"has no length as its {key}"
    x, y, width, height = (length or 0.0 for length in lengths)
    if by_box:
        x, y = x0 + x * across, y0 + y * down
        width, height = width * across, height * down
    if not (width > 0 and height > 0 and math.isfinite(x + y + width + height)):
        return "has no width or height"
    matrix, _ = parse_transform(chain.get("patternTransform"))
    view_box = chain.get("viewBox")
    content = affine.IDENTITY
    if view_box:
        seen = parse_view_box(view_box)
        if seen is None:
            return "has a viewBox of no area"
        aspect = chain.get("preserveAspectRatio")
        content = box_transform(seen, width, height, aspect)
    elif chain.get("patternContentUnits") == "objectBoundingBox":
        content = affine.scaling(across, down)
    return Grid(matrix, x, y, width, height), content


def _tile(
    walk: Walk,
    chain: _Chain,
    content: Affine,
    size: tuple[float, float],
    scale: float,
    about: Context,
) -> Tile | None:
    key = (about.pattern, content, size, scale, walk.laying, walk.viewport)
    if key in walk.tiles:
        return walk.tiles[key]
    holder = chain.holder
    assert holder is not None
    viewport = walk.viewport
    if chain.get("viewBox"):
        seen = parse_view_box(chain.get("viewBox"))
        viewport = Viewport(*seen[2:]) if seen else viewport
    collector = PathCollector(walk.limits, walk.where)
    with walk.inside(collector, scale):
        walk.open_frame(frame_of_node(walk, holder, content, viewport))
        walk.replay(holder.children)
        tile = make_tile(
            walk, collector.finish(), size, 1 / scale, walk.allowance.budget,
            drop=walk.drops,
        )  # fmt: skip
    walk.tiles[key] = tile
    return tile
