"""Values inside attributes: lengths, number lists, transforms, view boxes."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fillwork.geometry import affine

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.geometry.affine import Affine


NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"

_NUMBER = re.compile(NUMBER)
_LENGTH = re.compile(rf"\s*({NUMBER})\s*([A-Za-z]+|%)?\s*\Z")

# CSS Values and Units 4, section 6.2: lengths as multiples of the CSS pixel.
_UNITS = {
    "": 1.0, "px": 1.0, "in": 96.0, "cm": 96.0 / 2.54, "mm": 96.0 / 25.4,
    "q": 96.0 / 101.6, "pt": 96.0 / 72.0, "pc": 16.0,
}  # fmt: skip
PHYSICAL = frozenset({"in", "cm", "mm", "q", "pt", "pc"})


# CSS Values and Units 4, section 10: signs of sums stand between blanks
_NESTED = 20
_INNERMOST = re.compile(r"([a-z]*)\(([^()]*)\)", re.I)
_TERM = re.compile(r"\s([+-])\s+((?:(?!\s[+-]\s).)*)", re.S)
_FACTOR = re.compile(r"([*/])([^*/]*)")
_FUNCTIONS: dict[str, Callable[[list[float]], float]] = {
    "": lambda v: v[0], "calc": lambda v: v[0], "min": min, "max": max,
    "clamp": lambda v: max(v[0], min(v[1:])),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Viewport:
    """Hold the sizes that percentages and font units refer to."""

    width: float  # width and height: size of the nearest viewport in its own user units
    height: float
    font: float = 16.0  # size of the font in user units
    root: float | None = None  # that of the outermost element, where it is another

    def sized(self, font: float) -> Viewport:
        """Return the same for an element whose font has another size."""
        if font == self.font:
            return self
        root = self.font if self.root is None else self.root
        return Viewport(self.width, self.height, font, root)


def parse_length(text: str | None, viewport: Viewport, axis: str = "o") -> float | None:
    """Return a length in user units.

    The length; None if there is none or it cannot be understood. `text`: number with or
    without unit, or a percentage. `axis` ({"x"): whether a percentage is of the width,
    the height or, as for radii, of the diagonal over √2 (SVG 2, section 8.9).
    """
    if text is None:
        return None
    found = _LENGTH.match(text)
    if not found:
        return _calculated(text, viewport, axis) if "(" in text else None
    number, unit = float(found[1]), (found[2] or "").lower()
    if not math.isfinite(number):
        return None
    if unit in _UNITS:
        return number * _UNITS[unit]
    relative = _RELATIVE.get(unit)
    return None if relative is None else number * relative(viewport, axis)


def _calculated(text: str, viewport: Viewport, axis: str) -> float | None:
    # calc(), min(), max() and clamp(), from the inside out
    for _ in range(_NESTED):
        found = _INNERMOST.search(text)
        if not found:
            break
        sums = [_sum(part, viewport, axis) for part in found[2].split(",")]
        values = [value for value in sums if value is not None]
        make = _FUNCTIONS.get(found[1].lower())
        if make is None or len(values) < len(sums):
            return None
        text = f"{text[: found.start()]} {make(values)!r} {text[found.end() :]}"
    return None if "(" in text else parse_length(text, viewport, axis)


def _sum(text: str, viewport: Viewport, axis: str) -> float | None:
    total = 0.0
    for sign, product in _TERM.findall(f" + {text}"):
        value = 1.0
        for how, factor in _FACTOR.findall(f"*{product}"):
            number = parse_length(factor, viewport, axis)
            if number is None or (how == "/" and number == 0):
                return None
            value = value * number if how == "*" else value / number
        total += value if sign == "+" else -value
    return total


def _whole(viewport: Viewport, axis: str) -> float:
    if axis == "x":
        return viewport.width
    if axis == "y":
        return viewport.height
    return math.hypot(viewport.width, viewport.height) / math.sqrt(2.0)


# CSS Values and Units 4, sections 5 and 6.1
_RELATIVE: dict[str, Callable[[Viewport, str], float]] = {
    "%": lambda view, axis: _whole(view, axis) / 100,
    "em": lambda view, _: view.font,
    "rem": lambda view, _: view.font if view.root is None else view.root,
    "ex": lambda view, _: view.font / 2,
    "ch": lambda view, _: view.font / 2,
    "vw": lambda view, _: view.width / 100,
    "vh": lambda view, _: view.height / 100,
}


def length_unit(text: str | None) -> str:
    """Return the unit of a length in small letters.

    Empty for a bare number or when it cannot be understood.
    """
    found = _LENGTH.match(text or "")
    return (found[2] or "").lower() if found else ""


def parse_numbers(text: str) -> list[float]:
    """Return all numbers in a text.

    `text`: numbers with blanks or commas between, or run together as in ``1-2.5.5``.
    """
    return [float(number) for number in _NUMBER.findall(text)]


def parse_view_box(text: str | None) -> tuple[float, float, float, float] | None:
    """Return the four numbers of a view box.

    x, y, width, height; None if it is missing or cannot be used.
    """
    if not text:
        return None
    numbers = parse_numbers(text)
    if len(numbers) != 4 or not all(map(math.isfinite, numbers)):
        return None
    x, y, width, height = numbers
    return (x, y, width, height) if width > 0 and height > 0 else None


_ALIGN = re.compile(r"(?:x(?:Min|Mid|Max)Y(?:Min|Mid|Max)|none)(?:\s+(?:meet|slice))?")


def wrong_box(attributes: dict[str, str]) -> list[str]:
    """Return which attributes that lay a viewport out cannot be understood."""
    wrong = []
    box = attributes.get("viewBox", "").strip()
    if box and parse_view_box(box) is None:
        wrong.append(f"viewBox {box[:40]!r}")
    aspect = attributes.get("preserveAspectRatio", "").strip()
    if aspect and not _ALIGN.fullmatch(aspect.removeprefix("defer").strip()):
        wrong.append(f"preserveAspectRatio {aspect[:40]!r}")
    return wrong


_SHARES = {"left": 0.0, "top": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0}


def parse_origin(text: str, viewport: Viewport) -> tuple[float, float] | None:
    """Return the point of ``transform-origin`` in user units; None if not understood.

    Percentages and words are of the view box, whose corner counts as the origin (CSS
    Transforms 1, section 8, "view-box").
    """
    words = text.lower().split()[:2]
    if not words or words[0] in {"initial", "inherit", "unset", "revert"}:
        return 0.0, 0.0
    words += ["center"] * (2 - len(words))
    if words[0] in {"top", "bottom"} or words[1] in {"left", "right"}:
        words.reverse()
    x, y = (
        _SHARES[word] * _whole(viewport, axis)
        if word in _SHARES
        else parse_length(word, viewport, axis)
        for word, axis in zip(words, "xy", strict=True)
    )
    return None if x is None or y is None else (x, y)


def box_transform(
    box: tuple[float, float, float, float], width: float, height: float, aspect: str
) -> Affine:
    """Return the map that lays a view box into a viewport.

    The map (SVG 2, section 8.2, "Computing the equivalent transform of an SVG
    viewport").

    `box`: x, y, width, height of the view box. `width` and `height`: size of the
    viewport, whose corner is the origin. `aspect`: the attribute preserveAspectRatio;
    empty means ``xMidYMid meet``.
    """
    x, y, box_width, box_height = box
    sx, sy = width / box_width, height / box_height
    words = [word for word in aspect.split() if word != "defer"]
    align = words[0] if words else "xMidYMid"
    if not re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)|none", align):
        align = "xMidYMid"
    if align == "none":
        return (sx, 0.0, 0.0, sy, -x * sx, -y * sy)
    scale = max(sx, sy) if words[1:] == ["slice"] else min(sx, sy)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    dx = -x * scale + (width - box_width * scale) * share[align[1:4]]
    dy = -y * scale + (height - box_height * scale) * share[align[5:8]]
    return (scale, 0.0, 0.0, scale, dx, dy)


_CALL = re.compile(r"\s*,?\s*([A-Za-z0-9]+)\s*\(([^()]*)\)")
_ARGUMENT = re.compile(rf"\s*,?\s*({NUMBER})([A-Za-z%]*)")
_ANGLES = {
    "": math.pi / 180, "deg": math.pi / 180, "grad": math.pi / 200, "rad": 1.0,
    "turn": 2 * math.pi,
}  # fmt: skip


@functools.lru_cache(maxsize=4096)
def parse_transform(text: str) -> tuple[Affine, str]:
    """Return the map of a transform list.

    `text`: the attribute or CSS property ``transform``; the last function is applied
    first. Returns `map`: the product of the functions up to the first error; `wrong`:
    the part that cannot be understood; empty when all is well.
    """
    quick = _single_function(text)
    if quick is not None:
        return quick, ""
    result = affine.IDENTITY
    position = 0
    while True:
        found = _CALL.match(text, position)
        if not found:
            break
        given = _arguments(found[2])
        step = _transform_function(found[1].lower(), given) if given else None
        if step is None:
            break
        result = affine.compose(result, step)
        position = found.end()
    rest = text[position:].strip()
    return result, "" if rest in {"", "none"} else rest[:40]


def _single_function(text: str) -> Affine | None:
    # one function of bare numbers, as most transforms are
    name, bracket, rest = text.partition("(")
    if not bracket or rest.find(")") != len(rest) - 1:
        return None
    try:
        values = [float(part) for part in rest[:-1].replace(",", " ").split()]
    except ValueError:
        return None
    if not values or not all(map(math.isfinite, values)):
        return None
    given = [(value, "") for value in values]
    return _transform_function(name.strip().lower(), given)


def _arguments(text: str) -> list[tuple[float, str]] | None:
    if _ARGUMENT.sub("", text).strip():
        return None
    return [(float(n), unit.lower()) for n, unit in _ARGUMENT.findall(text)]


def _transform_function(name: str, given: list[tuple[float, str]]) -> Affine | None:
    if name == "matrix" and len(given) == 6:
        a, b, c, d, e, f = (value for value, _ in given)
        return (a, b, c, d, e, f)
    if name.startswith("scale"):
        factors = [value / 100 if unit == "%" else value for value, unit in given]
        sides = _sides(name[5:], factors, second=factors[0], other=1.0)
        return affine.scaling(*sides) if sides else None
    if name.startswith("translate"):
        if any(unit not in _UNITS for _, unit in given):
            return None
        sides = _sides(name[9:], [value * _UNITS[unit] for value, unit in given])
        return affine.translation(*sides) if sides else None
    return _turn_or_skew(name, given)


def _sides(
    axis: str, given: list[float], *, second: float = 0.0, other: float = 0.0
) -> tuple[float, float] | None:
    """Return what a function is given for x and y, or for the one it is named after.

    `second`: what y has where one number stands for both. `other`: what the side has
    that the function is not named after. None where that many numbers say nothing.
    """
    if axis == "" and len(given) in {1, 2}:
        return given[0], given[1] if len(given) == 2 else second
    if len(given) != 1:
        return None
    return {"x": (given[0], other), "y": (other, given[0])}.get(axis)


def _turn_or_skew(name: str, given: list[tuple[float, str]]) -> Affine | None:
    skews = name.startswith("skew")
    turns = given if skews else given[:1]
    if any(unit not in _ANGLES for _, unit in turns):
        return None
    angles = [value * _ANGLES[unit] for value, unit in turns]
    if not all(map(math.isfinite, angles)):
        return None  # an angle without measure turns to nowhere
    if name == "rotate" and len(given) in {1, 3}:
        centre = (given[1][0], given[2][0]) if len(given) == 3 else (0.0, 0.0)
        return _exact_rotation(angles[0], centre)
    sides = _sides(name[4:], [math.tan(angle) for angle in angles]) if skews else None
    return (1.0, sides[1], sides[0], 1.0, 0.0, 0.0) if sides else None


def _exact_rotation(angle: float, centre: tuple[float, float]) -> Affine:
    # a quarter turn is exact, so that turned copies meet without a gap
    c, s = math.cos(angle), math.sin(angle)
    if abs(c) < 1e-15:
        c, s = 0.0, math.copysign(1.0, s)
    elif abs(s) < 1e-15 * max(1.0, abs(angle)):
        c, s = math.copysign(1.0, c), 0.0
    x, y = centre
    return (c, s, -s, c, x - c * x + s * y, y - s * x - c * y)
