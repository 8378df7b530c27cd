"""What an element's style makes of it: its context, its clip, its place."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING

from fillwork.geometry import affine
from fillwork.readers.strokes.collect import Context
from fillwork.readers.strokes.page import MM_PER_PX
from fillwork.readers.svg.patterns import is_opaque_gradient
from fillwork.readers.svg.shapes.paths import PathCollector
from fillwork.readers.svg.shapes.values import (
    Viewport,
    parse_length,
    parse_origin,
    parse_transform,
)
from fillwork.readers.svg.style.cascade import INITIAL, PRESENTATION, Inherited, Own
from fillwork.readers.svg.style.stylebook import StyleBook

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine
    from fillwork.readers.limits import Limits
    from fillwork.readers.selectors import Condition
    from fillwork.readers.strokes.drawn import Clip
    from fillwork.readers.svg.frames import Frame
    from fillwork.readers.svg.gate.gather import Prepared
    from fillwork.readers.svg.style.css import Element
    from fillwork.readers.svg.viewport import OutermostPage

SHAPES = frozenset({"line", "polyline", "polygon", "rect", "circle", "ellipse", "path"})
_STYLED = PRESENTATION - {"transform"}
_FILL_BOXES = {"fill-box", "content-box"}


class Contexts(ABC):
    """Know the open groups, and number what shapes inside them share.

    `prepared`: style sheets, and the elements that others refer to. `limits`: sizes
    allowed. `conditions`: classes and ids that the user asked for. `where`: file name
    for messages. `page`: the outermost viewport, filled when the root is met. `unit`
    (float): length in mm of a unit of what is being gathered.
    """

    def __init__(
        self,
        prepared: Prepared,
        limits: Limits,
        conditions: tuple[Condition, ...],
        where: str,
        page: OutermostPage,
    ) -> None:
        self.prepared = prepared
        self.sheet = prepared.sheet
        self.limits = limits
        self.where = where
        self.page = page
        self.conditions = conditions
        self.collector = PathCollector(limits, where)
        self.collecting_clip = False
        self.unit = 0.0
        self.clips: list[Clip] = []
        self.counts: dict[str, int] = {}
        self.thin = False
        self.notes: dict[str, list[tuple[str, int]]] = {}
        self.line = 0
        self.line_shift = 0
        self._frames: list[Frame] = []
        self._book = StyleBook(self.sheet, conditions, limits, where)
        self._named = bool(conditions) or bool(self.sheet.rules)
        self.plain = not self._named
        self._inherited = INITIAL
        self._clip_of: dict[object, int] = {}
        self._context_of: dict[Context, int] = {}

    @property
    def classes(self) -> list[str]:
        """Return the classes met, where a selector asks for one."""
        return list(self._book.classes)

    @property
    def odd(self) -> list[str]:
        """Return what was met and not understood, with where."""
        names, lines = self.collector.item_name, self.collector.item_line
        wrong = [
            f"{names[item]} in line {lines[item] + self.line_shift} {what}"
            for item, what in self.collector.wrong
        ]
        told = [
            f"{name} in line {line + self.line_shift} {what}"
            for what, places in self.notes.items()
            for name, line in places
        ]
        return wrong + told

    @property
    def unread(self) -> tuple[int, int]:
        """Return how many style sheets and style selectors were not read."""
        return self.sheet.imports, self.sheet.skipped

    @property
    def viewport(self) -> Viewport:
        """Return what percentages refer to just now."""
        frame = self._frames[-1]
        return frame.viewport.sized(frame.style.font)

    def item(self, context: int, name: str) -> int:
        """Return the number of a new item, met where the walk is."""
        return self.collector.add_item(context, self.line, name)

    def count(self, what: str) -> None:
        """Count something that is not line work."""
        self.counts[what] = self.counts.get(what, 0) + 1

    def doubt(self, what: str, element: str) -> None:
        """Keep where something odd was met."""
        self.notes.setdefault(what, []).append((element, self.line))

    def style_of(
        self, role: str, attributes: dict[str, str], element: Element | None
    ) -> Inherited:
        """Return what an element hands to those inside it."""
        self._style(role, attributes, self._frames[-1], element)
        return self._inherited

    def number(self, context: Context) -> int:
        """Return the number of a context, the same for the same."""
        found = self._context_of.get(context)
        if found is None:
            found = self._context_of[context] = len(self.collector.contexts)
            self.collector.contexts.append(context)
        return found

    def _length(
        self, given: dict[str, str], key: str, axis: str, name: str
    ) -> float | None:
        text = given.get(key, "auto").strip()
        value = parse_length(text, self.viewport, axis)
        if value is None and text not in {"", "auto"}:
            self.doubt(f"has a value of {key} that cannot be understood", name)
        return value

    def _style(
        self,
        role: str,
        attributes: dict[str, str],
        frame: Frame,
        element: Element | None,
    ) -> tuple[int, Own]:
        # The context of a shape (-1 when it is not seen), and its own properties;
        # for a group the inherited properties stay in self._inherited.
        book = self._book
        rules = book.rules(role, attributes, frame, element) if self._named else ()
        given = tuple([pair for pair in attributes.items() if pair[0] in _STYLED])
        transform = attributes.get("transform")
        names = book.names(attributes, frame.names) if self.conditions else 0
        key = (given, rules, names, role == "line")
        is_shape = role in SHAPES
        if is_shape and transform is None:
            found = frame.cache.get(key)
            if found is not None:
                return found
        style, own = book.resolve(frame, given, rules)
        while book.passed:
            self.doubt(f"has “{book.passed.pop(0)}”, which is not used", role)
        self._inherited = style
        if transform is not None and own.transform is None:
            own = own._replace(transform=transform)
        if not is_shape:
            return 0, own
        context = self._context(role, frame, style, own, names, attributes)
        if transform is None and len(frame.cache) < 10_000 and not own.apart:
            frame.cache[key] = (context, own)
        return context, own

    def _context(
        self,
        role: str,
        frame: Frame,
        style: Inherited,
        own: Own,
        names: int,
        attributes: dict[str, str],
    ) -> int:
        stroked, filled = style.stroked, style.filled
        if role == "line":
            filled = False
        if self.collecting_clip:
            # only the shapes count, not how they are painted
            stroked, filled = False, style.visible
        fill, pattern, covers = self._paint(style, role)
        filled = filled and (fill != "none" or self.collecting_clip)
        if own.hidden or not (stroked or filled):
            # of no width is not painted: SVG 2, 13.5.3 (stroke-width)
            self.thin |= style.visible and style.stroke != "none" and not style.width
            return -1
        matrix = frame.matrix
        if own.moves:
            matrix = affine.compose(matrix, self._transform(own, role, attributes))
        clip = self._clip(own, matrix, frame.clip, role)
        if not stroked:
            width = 0.0
        elif own.fixed_width:
            width = style.width * MM_PER_PX
        else:
            width = style.width * affine.mean_scale(matrix) * self.unit
        width = min(width, 1e6) if width > 0 else 0.0
        paint = style.stroke if stroked else fill
        servers = (stroked and style.stroke == "url", filled and fill == "url")
        context = Context(
            matrix, stroked, filled, None if paint == "url" else paint,
            width, style.dash and stroked, frame.layer, clip,
            style.clip_even_odd if self.collecting_clip else style.even_odd, names,
            any(servers), filled and covers and not own.mask,
            (f"url {style.server}" if fill == "url" else fill) if filled else None,
            pattern if filled else "",
        )  # fmt: skip
        return self.number(context)

    def _paint(self, style: Inherited, role: str) -> tuple[str, str, bool]:
        # the fill, the pattern it is laid with, and whether it hides what is under it
        if style.fill != "url" or self.collecting_clip:
            return style.fill, "", style.covers
        if not style.server:
            return "url", "", False
        node = self.prepared.nodes.get(style.server)
        if node is None:
            # what is not there paints nothing: SVG 2, section 13.2
            self.doubt("is filled by something that is not there", role)
            return style.otherwise or "none", "", style.covers
        if node.role == "pattern":
            return "url", style.server, style.covers
        opaque = style.covers and is_opaque_gradient(self.prepared, style.server)
        return "url", "", opaque

    def _transform(
        self, own: Own, role: str, attributes: dict[str, str] | None = None
    ) -> Affine:
        # `attributes`: of a single shape, which alone is known whole by now
        matrix, wrong = parse_transform(own.moves)
        if wrong:
            self.doubt("has a transform that cannot be understood", role)
        if not own.origin and not own.box:
            return matrix
        view, corner = self.viewport, (0.0, 0.0)
        if own.box:
            box = None
            if attributes is not None and own.box in _FILL_BOXES:
                box = self._box(role, {**attributes, **dict(own.geometry)})
            if box is None:
                told = (
                    f"has a transform about its {own.box[:20]}, known of shapes alone"
                )
                self.doubt(told, role)
                return matrix
            x, y, width, height = box
            view = Viewport(width, height, view.font, view.root)
            corner = x, y
        origin = parse_origin(own.origin or "0 0", view)
        if origin is None:
            self.doubt("has a transform-origin that cannot be understood", role)
            return matrix
        x, y = origin[0] + corner[0], origin[1] + corner[1]
        there, back = affine.translation(x, y), affine.translation(-x, -y)
        return affine.compose(there, affine.compose(matrix, back))

    @abstractmethod
    def _box(
        self, role: str, attributes: dict[str, str]
    ) -> tuple[float, float, float, float] | None:
        """Return x, y, width and height of a shape in its own units, if it has any."""

    @abstractmethod
    def _clip(self, own: Own, matrix: Affine, parent: int, role: str) -> int:
        """Return the number of the clip that cuts an element."""

    def add_clip(self, clip: Clip) -> int:
        """Return the number of a clip: one for all that share it but not its box."""
        if self.collecting_clip:
            return clip.parent
        key = (clip.parent, clip.matrix, clip.box, id(clip.shape))
        found = None if clip.by_box else self._clip_of.get(key)
        if found is None:
            found = len(self.clips)
            self.clips.append(clip)
            self._clip_of[key] = found
        return found
