"""The basic shapes (SVG 2, chapter 10): attributes in, numbers gathered.

Most attributes are bare numbers and take one call of `float`; units, percentages
and mistakes take the longer way. A shape that the standard says is not drawn
(a radius of 0, a negative width) is left out.
"""

from __future__ import annotations

import contextlib
import math
from typing import TYPE_CHECKING

from fillwork.readers.svg.shapes.values import parse_length

if TYPE_CHECKING:
    from fillwork.readers.svg.walk import Walk


_AXIS = {
    "x": "x", "y": "y", "width": "x", "height": "y", "cx": "x", "cy": "y", "r": "o",
    "rx": "x", "ry": "y", "x1": "x", "x2": "x", "y1": "y", "y2": "y",
}  # fmt: skip

_NEGATIVE = "has a negative size and is not drawn"


def _length(
    walk: Walk, attributes: dict[str, str], key: str, name: str
) -> float | None:
    # None when the attribute is missing, auto, or in error
    text = attributes.get(key)
    if text is None or text.strip() in {"auto", ""}:
        return None
    value = parse_length(text, walk.viewport, _AXIS[key])
    if value is None:
        walk.doubt(f"has a value of {key} that cannot be understood", name)
    return value


def _numbers(
    walk: Walk, attributes: dict[str, str], keys: tuple[str, ...], name: str
) -> list[float]:
    with contextlib.suppress(ValueError):
        numbers = [float(attributes.get(key, "0")) for key in keys]
        if all(map(math.isfinite, numbers)):
            return numbers
    return [_length(walk, attributes, key, name) or 0.0 for key in keys]


def draw_line(walk: Walk, attributes: dict[str, str], context: int, name: str) -> None:
    """Take a ``line``."""
    try:
        x1, y1 = float(attributes["x1"]), float(attributes["y1"])
        x2, y2 = float(attributes["x2"]), float(attributes["y2"])
        # no number without measure: such a sum less itself is not 0
        plain = (total := x1 + y1 + x2 + y2) - total == 0.0
    except (KeyError, ValueError):
        plain = False
    if not plain:
        x1, y1, x2, y2 = _numbers(walk, attributes, ("x1", "y1", "x2", "y2"), name)
    if x1 != x2 or y1 != y2:
        walk.collector.add_line(context, walk.line, name, (x1, y1, x2, y2))


def draw_circle(
    walk: Walk, attributes: dict[str, str], context: int, name: str
) -> None:
    """Take a ``circle``."""
    cx, cy, r = _numbers(walk, attributes, ("cx", "cy", "r"), name)
    if r > 0:
        walk.collector.add_ellipse(walk.item(context, name), cx, cy, r, r)
    elif r < 0:
        walk.doubt(_NEGATIVE, name)


def draw_ellipse(
    walk: Walk, attributes: dict[str, str], context: int, name: str
) -> None:
    """Take an ``ellipse``; a missing radius takes the other's value."""
    cx, cy = _numbers(walk, attributes, ("cx", "cy"), name)
    rx = _length(walk, attributes, "rx", name)
    ry = _length(walk, attributes, "ry", name)
    rx = ry if rx is None else rx
    ry = rx if ry is None else ry
    if rx is not None and ry is not None and rx > 0 and ry > 0:
        walk.collector.add_ellipse(walk.item(context, name), cx, cy, rx, ry)
    elif min(rx or 0.0, ry or 0.0) < 0:
        walk.doubt(_NEGATIVE, name)


def draw_rect(walk: Walk, attributes: dict[str, str], context: int, name: str) -> None:
    """Take a ``rect``, its corners rounded as far as they may be."""
    x, y, w, h = _numbers(walk, attributes, ("x", "y", "width", "height"), name)
    if w <= 0 or h <= 0:
        if min(w, h) < 0:
            walk.doubt(_NEGATIVE, name)
        return
    rx = ry = 0.0
    if "rx" in attributes or "ry" in attributes:
        across = _length(walk, attributes, "rx", name)
        down = _length(walk, attributes, "ry", name)
        # a negative radius counts as not given (SVG 2, section 10.2)
        across = None if across is not None and across < 0 else across
        down = None if down is not None and down < 0 else down
        rx = across if across is not None else (down or 0.0)
        ry = down if down is not None else rx
        rx, ry = min(rx, w / 2), min(ry, h / 2)
    walk.collector.add_box(walk.item(context, name), (x, y, w, h, rx, ry))


def draw_polyline(
    walk: Walk, attributes: dict[str, str], context: int, name: str
) -> None:
    """Take a ``polyline``."""
    points = attributes.get("points", "").strip()
    if points and points != "none":
        walk.collector.add_path(walk.item(context, name), "M" + points)


def draw_polygon(
    walk: Walk, attributes: dict[str, str], context: int, name: str
) -> None:
    """Take a ``polygon``."""
    points = attributes.get("points", "").strip().rstrip(",")
    if points and points != "none":
        walk.collector.add_path(walk.item(context, name), f"M{points}Z")


def draw_path(walk: Walk, attributes: dict[str, str], context: int, name: str) -> None:
    """Take a ``path``."""
    data = attributes.get("d")
    if not data or data == "none":
        return
    if data.startswith("path("):  # as CSS writes it
        data = data[5:].strip().rstrip(")").strip().strip("\"'")
    walk.collector.add_path(walk.item(context, name), data)
