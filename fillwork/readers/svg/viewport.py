"""The page of an SVG file: its outermost viewport."""

from __future__ import annotations

from fillwork.geometry import affine
from fillwork.readers.strokes.page import MM_PER_PX, Page
from fillwork.readers.svg.shapes.values import (
    PHYSICAL,
    Viewport,
    box_transform,
    length_unit,
    parse_length,
    parse_view_box,
    wrong_box,
)

# Sizes that a page may have, CSS pixels: from a hair's breadth to a town.
_LEAST, _MOST = 1e-3, 1e8
_RELATIVE = frozenset({"%", "vw", "vh"})


class OutermostPage(Page):
    """Hold the outermost viewport once the root element is met."""

    def __init__(self) -> None:
        super().__init__()
        self._inner = Viewport(100.0, 100.0)

    def viewport(self) -> Viewport:
        """Return what percentages of the root's children refer to."""
        return self._inner

    def open(self, attributes: dict[str, str], font: float) -> None:
        """Take the attributes of the root element.

        `attributes`: of the outermost ``svg``. `font`: its font size in user units.
        """
        box = parse_view_box(attributes.get("viewBox"))
        nothing = Viewport(0.0, 0.0, font)
        doubts = [f"the page's {what}" for what in wrong_box(attributes)]
        sizes: list[float | None] = []
        units: list[str] = []
        for key in ("width", "height"):
            text = attributes.get(key, "")
            value = parse_length(text, nothing)
            relative = length_unit(text) in _RELATIVE
            if value is None and (text or "auto").strip() != "auto":
                doubts.append(f"the page's {key} is {text[:40]!r}")
            elif value is not None and (value <= 0 or relative):
                if not relative:
                    doubts.append(f"the page's {key} is {text[:40]!r}")
                value = None
            sizes.append(value)
            units.append(length_unit(text) if value is not None else "")
        self.doubt = "; ".join(doubts)
        width, height = sizes
        if box is not None:
            if width is None and height is None:
                width, height = box[2], box[3]
            elif width is None:
                width = (height or 0.0) * box[2] / box[3]
            elif height is None:
                height = width * box[3] / box[2]
        if width is None or height is None:
            self._inner = Viewport(width or 100.0, height or 100.0, font)
            return
        if not (_LEAST <= width <= _MOST and _LEAST <= height <= _MOST):
            self.doubt = f"a page of {width:g} by {height:g} px cannot be meant"
            return
        self.has_page = True
        self.width, self.height = width, height
        known = [unit for unit in units if unit in PHYSICAL]
        self.scale_known = bool(known)
        self.unit = known[0] if known else "px"
        lay = affine.IDENTITY
        self._inner = Viewport(width, height, font)
        if box is not None:
            aspect = attributes.get("preserveAspectRatio", "")
            lay = box_transform(box, width, height, aspect)
            self._inner = Viewport(box[2], box[3], font)
        flip = (MM_PER_PX, 0.0, 0.0, -MM_PER_PX, 0.0, height * MM_PER_PX)
        self.to_mm = affine.compose(flip, lay)
