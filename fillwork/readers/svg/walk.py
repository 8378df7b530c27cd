"""The walk over a drawing: maps, styles, viewports and copies, shape by shape."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.readers.strokes.drawn import Clip
from fillwork.readers.strokes.outlines import box_of
from fillwork.readers.strokes.patterns import Allowance
from fillwork.readers.svg.clips import clip_of, clip_region
from fillwork.readers.svg.contexts import Contexts
from fillwork.readers.svg.frames import Frame
from fillwork.readers.svg.patterns import fill_by_pattern
from fillwork.readers.svg.shapes import basic as shapes
from fillwork.readers.svg.shapes.paths import PathCollector
from fillwork.readers.svg.shapes.values import (
    Viewport,
    box_transform,
    parse_view_box,
    wrong_box,
)
from fillwork.readers.svg.style.cascade import INITIAL, PRESENTATION, Own
from fillwork.readers.svg.style.css import Element

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.parsers.expat import XMLParserType

    from fillwork.geometry.affine import Affine
    from fillwork.readers.limits import Limits
    from fillwork.readers.selectors import Condition
    from fillwork.readers.strokes.cutting import Region
    from fillwork.readers.strokes.tiles import Tile
    from fillwork.readers.svg.gate.gather import Node, Prepared
    from fillwork.readers.svg.viewport import OutermostPage

_SHAPES = {
    "line": shapes.draw_line,
    "polyline": shapes.draw_polyline,
    "polygon": shapes.draw_polygon,
    "rect": shapes.draw_rect,
    "circle": shapes.draw_circle,
    "ellipse": shapes.draw_ellipse,
    "path": shapes.draw_path,
}
_MOST_BOXES = 20_000
"""Shapes that turn about their own boxes, each looked for by itself."""
_GROUPS = frozenset({"svg", "g", "a", "switch", "use", "symbol"})
_COUNTED = {
    "text": "text", "image": "image", "foreignObject": "foreign object",
    "video": "video", "canvas": "canvas",
}  # fmt: skip
_APART = (
    "collector", "_frames", "_context_of", "_skip", "clips", "_clip_of", "unit",
    "collecting_clip", "line",
)  # fmt: skip
_PASSED = {"animate", "animateTransform", "animateMotion", "set", "script", "filter"}


class Walk(Contexts):
    """Follow the elements of a drawing and gather its shapes.

    `drops`: whether lines under later fills are left out. `laying` (tuple of str): ids
    of the patterns whose tiles are being made. `tiles`: tiles made so far. `allowance`
    (Allowance): how many more may be laid. `regions`: what clips and masks leave, by
    node; None of a mask that is no outline.
    """

    def __init__(
        self,
        prepared: Prepared,
        limits: Limits,
        conditions: tuple[Condition, ...],
        where: str,
        page: OutermostPage,
        *,
        drops: bool = True,
    ) -> None:
        super().__init__(prepared, limits, conditions, where, page)
        self.drops = drops
        self.laying: tuple[str, ...] = ()
        self.tiles: dict[object, Tile | None] = {}
        self.allowance = Allowance(limits, where)
        self.copies = 0
        self._boxed = 0
        self.regions: dict[tuple[int, bool], Region | None] = {}
        self._skip = 0
        self._pending: Node | None = None
        self._instance: dict[str, str] | None = None
        self._roles = _roles(prepared.prefixes)
        self._shapes = {
            tag: (role, _SHAPES[role], role == "line")
            for tag, role in self._roles.items()
            if role in _SHAPES
        }
        self._parser: XMLParserType | None = None
        self.layers: dict[str, None] = {}

    # -- events of the parser ------------------------------------------------

    def setup(self, parser: XMLParserType) -> None:
        """Keep the parser, which knows the line in the file."""
        self._parser = parser

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Take the start of an element of the file."""
        if self._skip:
            self._skip += 1
            return
        parser = self._parser
        self.line = parser.CurrentLineNumber if parser is not None else 0
        shape = self._shapes.get(tag)
        if (
            shape is not None
            and self.plain
            and self._frames
            and PRESENTATION.isdisjoint(attributes)
        ):
            # most elements of large drawings: a shape that adds no style
            frame = self._frames[-1]
            role, draw, is_line = shape
            context = frame.plain_line if is_line else frame.plain
            if context >= 0 and not frame.switch:
                self._skip = 1
                name = attributes.get("id")
                draw(self, attributes, context, f"{role}#{name}" if name else role)
                return
        self._open(tag, attributes, None)
        if self._pending is not None:
            node, self._pending = self._pending, None
            self._replay(node)
            self._frames.pop()
            self._skip = 1

    def end(self, tag: str) -> None:
        """Take the end of an element of the file."""
        del tag
        if self._skip:
            self._skip -= 1
        else:
            self._frames.pop()

    # -- copies --------------------------------------------------------------

    def _replay(self, node: Node) -> None:
        # the copy of an element, without recursion
        stack: list[tuple[bool, Iterator[Node]]] = [(False, iter((node,)))]
        base = self.line
        while stack:
            closes, nodes = stack[-1]
            child = next(nodes, None)
            if child is None:
                stack.pop()
                if closes:
                    self._frames.pop()
                continue
            self.copies += 1
            if self.copies > self.limits.copies:
                got = f"more than {self.limits.copies:,} elements copied by use"
                raise self.limits.refuse(limit="copies", got=got, where=self.where)
            self.line = child.line
            self._open(child.tag, child.attributes, child.element)
            if self._skip:
                self._skip = 0
            elif self._pending is not None:
                target, self._pending = self._pending, None
                stack.append((True, iter((target,))))
            else:
                stack.append((True, iter(child.children)))
        self.line = base

    def clip_region(self, clip: Clip) -> Region:
        """Return the outline of a clip that is no box, in its own units."""
        return clip_region(self, clip)

    def _clip(self, own: Own, matrix: Affine, parent: int, role: str) -> int:
        return clip_of(self, own, matrix, parent, role)

    def _box(
        self, role: str, attributes: dict[str, str]
    ) -> tuple[float, float, float, float] | None:
        self._boxed += 1
        collector = PathCollector(self.limits, self.where)
        if self._boxed <= _MOST_BOXES:
            with self.inside(collector, 0.0):
                _SHAPES[role](self, attributes, 0, role)
        table = collector.finish()
        if not len(table.closed):
            return None
        low, high = box_of(table)
        return (*low.tolist(), *(high - low).tolist())

    # -- what stands apart: clips and tiles ----------------------------------

    @contextmanager
    def inside(self, collector: PathCollector, unit: float) -> Iterator[None]:
        """Gather shapes in units of so many mm apart from those of the drawing."""
        kept = {name: getattr(self, name) for name in _APART}
        self.collector, self._context_of, self._skip = collector, {}, 0
        self.clips, self._clip_of, self.unit = [], {}, unit
        self.collecting_clip = False
        try:
            yield
        finally:
            for name, value in kept.items():
                setattr(self, name, value)

    def open_frame(self, frame: Frame) -> None:
        """Put a frame in the place of all that are open."""
        self._frames = [frame]

    def replay(self, nodes: list[Node]) -> None:
        """Draw copies of elements into the frame that is open."""
        for node in nodes:
            self._replay(node)

    # -- one element ---------------------------------------------------------

    def _open(
        self, tag: str, attributes: dict[str, str], element: Element | None
    ) -> None:
        instance, self._instance = self._instance, None
        role = self._roles.get(tag)
        if role is None or not self._frames:
            self._open_other(tag, attributes, role)
            return
        frame = self._frames[-1]
        if frame.switch and not self._switch_takes(frame, attributes):
            self._skip = 1
            return
        draw = _SHAPES.get(role)
        if draw is None:
            self._open_group(role, attributes, frame, element, instance)
            return
        context, own = self._style(role, attributes, frame, element)
        patterned = context >= 0 and self.collector.contexts[context].pattern
        if own.geometry:
            attributes = {**attributes, **dict(own.geometry)}
        elif self.plain and PRESENTATION.isdisjoint(attributes) and not patterned:
            if role == "line":
                frame.plain_line = context
            else:
                frame.plain = context
        self._skip = 1
        if context >= 0:
            name = attributes.get("id")
            shown = f"{role}#{name}" if name else role
            if patterned:
                fill_by_pattern(self, draw, attributes, context, shown)
            else:
                draw(self, attributes, context, shown)

    def _open_other(
        self, tag: str, attributes: dict[str, str], role: str | None
    ) -> None:
        if not self._frames:
            if role != "svg":
                page = "this is a web page: " if tag.lower() == "html" else ""
                what = f"{page}the outermost element is {tag[:40]!r}, not svg"
                raise ReadError(what, self.where, "export the drawing as SVG")
            self._open_root(attributes)
            return
        self._skip = 1
        local = tag.rpartition(":")[2]
        if self.sheet.siblings:
            inner = self._frames[-1]
            inner.last = Element(local, attributes, inner.element, inner.last)
        if local in _COUNTED:
            shown = attributes.get("display") != "none"
            if shown:
                self.count(_COUNTED[local])
        elif local in _PASSED:
            self.count(local)

    def _switch_takes(self, frame: Frame, attributes: dict[str, str]) -> bool:
        if frame.switch == 2 or attributes.get("requiredExtensions", "").strip():
            return False
        languages = attributes.get("systemLanguage")
        if languages is not None and "en" not in languages.lower():
            return False
        frame.switch = 2
        return True

    # -- groups and viewports ------------------------------------------------

    def _open_root(self, attributes: dict[str, str]) -> None:
        root = Frame(affine.IDENTITY, INITIAL, Viewport(100.0, 100.0))
        element = Element("svg", attributes, None, None) if self._named else None
        self._frames.append(root)
        _, own = self._style("svg", attributes, root, element)
        style = self._inherited
        self._frames.pop()
        dimensions = {**attributes, **dict(own.geometry)}
        self.page.open(dimensions, style.font)
        self.unit = self.page.mm_per_unit
        frame = Frame(affine.IDENTITY, style, self.page.viewport())
        frame.element = element
        frame.names = self._book.names(attributes, 0)
        if own.hidden:
            frame.style = style._replace(stroke="none", fill="none")
        self._frames.append(frame)
        if own.moves:
            frame.matrix = self._transform(own, "svg")
        frame.clip = self._clip(own, frame.matrix, -1, "svg")

    def _open_group(
        self,
        role: str,
        attributes: dict[str, str],
        frame: Frame,
        element: Element | None,
        instance: dict[str, str] | None,
    ) -> None:
        if role == "symbol" and instance is None:
            self._skip = 1
            return
        if len(self._frames) >= self.limits.depth:
            got = f"elements stand {len(self._frames)} deep inside each other"
            raise self.limits.refuse(
                limit="depth", got=got, where=f"{self.where}, line {self.line}"
            )
        if element is None and self._named:
            element = Element(role, attributes, frame.element, frame.last)
            frame.last = element
        matrix, style, clip = frame.matrix, frame.style, frame.clip
        own = None
        layer, names = frame.layer, self._book.names(attributes, frame.names)
        if layer is None and role in {"g", "a"}:
            layer = (
                attributes.get("inkscape:label")
                or attributes.get("data-name")
                or attributes.get("id")
            )
            if layer:
                self.layers[layer] = None
        if self._named or not PRESENTATION.isdisjoint(attributes):
            _, own = self._style(role, attributes, frame, element)
            if own.hidden:
                self._skip = 1
                return
            style = self._inherited
            if own.moves:
                matrix = affine.compose(matrix, self._transform(own, role))
            clip = self._clip(own, matrix, clip, role)
        inner = Frame(matrix, style, frame.viewport, layer, clip)
        inner.names = names
        inner.element = element
        inner.using = frame.using
        if role == "switch":
            inner.switch = 1
        elif role == "use":
            if not self._open_use(attributes, own, inner, frame):
                self._skip = 1
                return
        elif role not in {"g", "a"}:
            self._open_viewport(role, attributes, own, inner, instance)
        self._frames.append(inner)

    def _open_use(
        self, attributes: dict[str, str], own: Own | None, inner: Frame, frame: Frame
    ) -> bool:
        address = attributes.get("href") or attributes.get("xlink:href")
        if address is None:
            for key, value in attributes.items():
                if key.endswith(":href"):
                    address = value
        address = (address or "").strip()
        shown = f"use#{attributes['id']}" if "id" in attributes else "use"
        if not address.startswith("#"):
            if address:
                self.doubt("refers outside the file", shown)
            return False
        target = address[1:]
        node = self.prepared.nodes.get(target)
        if node is None:
            self.doubt("refers to nothing", shown)
            return False
        if target in frame.using:
            self.doubt("contains itself", shown)
            return False
        geometry = dict(own.geometry) if own else {}
        placed = {**attributes, **geometry}
        x = self._length(placed, "x", "x", shown) or 0.0
        y = self._length(placed, "y", "y", shown) or 0.0
        if x or y:
            inner.matrix = affine.compose(inner.matrix, affine.translation(x, y))
        inner.using = frame.using | {target}
        self._pending = node
        self._instance = {
            key: placed[key] for key in ("width", "height") if key in placed
        }
        return True

    def _open_viewport(
        self,
        role: str,
        attributes: dict[str, str],
        own: Own | None,
        inner: Frame,
        instance: dict[str, str] | None,
    ) -> None:
        # a nested svg, or a symbol in use (SVG 2, sections 5.5 and 8.2)
        given = {**attributes, **dict(own.geometry if own else ()), **(instance or {})}
        view = inner.viewport
        x = self._length(given, "x", "x", role) or 0.0
        y = self._length(given, "y", "y", role) or 0.0
        width = self._length(given, "width", "x", role)
        height = self._length(given, "height", "y", role)
        if min(width or 0.0, height or 0.0) < 0:
            self.doubt("has a negative size, which is not used", role)
        width = view.width if width is None or width < 0 else width
        height = view.height if height is None or height < 0 else height
        for what in wrong_box(attributes):
            self.doubt(f"has {what}, which is not used", role)
        box = parse_view_box(attributes.get("viewBox"))
        outer = inner.matrix
        overflow = (own.overflow if own else "") or attributes.get("overflow", "")
        if overflow not in {"visible", "auto"}:
            viewport = Clip(inner.clip, outer, box=(x, y, width, height))
            inner.clip = self.add_clip(viewport)
        shift = affine.translation(x, y)
        if box is not None and width > 0 and height > 0:
            lay = box_transform(
                box, width, height, attributes.get("preserveAspectRatio", "")
            )
            shift = affine.compose(shift, lay)
            width, height = box[2], box[3]
        inner.matrix = affine.compose(outer, shift)
        inner.viewport = Viewport(width, height, view.font, view.root)


def _roles(prefixes: tuple[str, ...]) -> dict[str, str]:
    heads = ("", *(f"{prefix}:" for prefix in prefixes))
    return {head + name: name for head in heads for name in (*_SHAPES, *_GROUPS)}
