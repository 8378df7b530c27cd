"""What a shape's style says about its lines: the cascade and inheritance.

Of all properties only those matter here that decide whether a line is seen and
of which sort it is (SVG 2, chapters 6, 11 and 13).
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from fillwork.readers.svg.shapes.values import Viewport, parse_length, parse_numbers
from fillwork.readers.svg.style.colours import parse_colour
from fillwork.readers.svg.style.css import Rule, parse_declarations

PRESENTATION = frozenset(
    {
        "stroke", "stroke-width", "stroke-opacity", "stroke-dasharray", "fill",
        "fill-opacity", "opacity", "display", "visibility", "color", "clip-path",
        "clip-rule", "fill-rule", "mask", "transform", "vector-effect", "font-size",
        "style", "overflow", "mix-blend-mode", "transform-origin", "transform-box",
        "marker-start", "marker-mid", "marker-end",
    }
)  # fmt: skip
"""Attributes that may change how a shape is drawn, ``style`` among them."""

_GEOMETRY = frozenset({"x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "d"})
"""Geometry that CSS may set in the place of attributes (SVG 2, section 8.1)."""


_VAR = re.compile(r"var\(\s*(--[^\s,()]+)\s*(?:,((?:[^()]|\([^()]*\))*))?\)")
_NESTED, _LONGEST = 20, 2000

_GENERAL = {"initial", "inherit", "unset", "revert", "revert-layer"}
_PLAIN_BLENDS = {"normal", *_GENERAL}
_PAINTS = {"none", "currentcolor", "context-fill", "context-stroke", *_GENERAL}
# properties that move or cut a shape and are not followed, and what leaves it alone
_NOT_FOLLOWED = ("offset-path", "zoom")
_ALONE = {"", "none", "auto", "1", "normal", *_GENERAL}


class Inherited(NamedTuple):
    """Hold the properties that children inherit."""

    # stroke and fill: ``none``, ``#rrggbb``, or ``url`` for a gradient or pattern
    stroke: str
    # stroke_alpha and fill_alpha: opacity of each paint, that of its colour included
    stroke_alpha: float
    fill: str
    fill_alpha: float
    stroke_opacity: float  # stroke_opacity and fill_opacity: the properties alone
    fill_opacity: float
    width: float  # width of the stroke in user units
    dash: bool  # whether it is dashed
    colour: str  # the property ``color``, for ``currentColor``
    visible: bool  # the property ``visibility``
    font: float  # font size in user units
    # even_odd and clip_even_odd: whether fill and clip rules are ``evenodd``
    even_odd: bool
    clip_even_odd: bool
    # whether the group shows nothing of what lies under it: no opacity below 1, mask or
    # blending. It does not inherit, but holds for all that is in a group.
    solid: bool
    custom: tuple[tuple[str, str], ...] = ()  # custom properties, for ``var()``
    # server and otherwise: the id of the gradient or pattern that a fill of ``url``
    # names, and the paint that takes its place where there is none such, empty if none
    # is named
    server: str = ""
    otherwise: str = ""

    @property
    def stroked(self) -> bool:
        """Return whether a line is seen along the shape."""
        return (
            self.visible
            and self.stroke != "none"
            and self.width > 0
            and self.stroke_alpha * self.stroke_opacity > 0
        )

    @property
    def filled(self) -> bool:
        """Return whether the inside of the shape is painted."""
        return (
            self.visible
            and self.fill != "none"
            and self.fill_alpha * self.fill_opacity > 0
        )

    @property
    def covers(self) -> bool:
        """Return whether the fill hides what was drawn before.

        True for an opaque fill, unless it has the colour of its own line; of a gradient
        or pattern its own colours decide as well.
        """
        return (
            self.filled
            and self.solid
            and self.fill_alpha * self.fill_opacity == 1.0
            and not (self.stroked and self.stroke == self.fill)
        )


INITIAL = Inherited(
    stroke="none", stroke_alpha=1.0, fill="#000000", fill_alpha=1.0,
    stroke_opacity=1.0, fill_opacity=1.0, width=1.0, dash=False, colour="#000000",
    visible=True, font=16.0, even_odd=False, clip_even_odd=False, solid=True,
)  # fmt: skip


class Own(NamedTuple):
    """Hold the properties that children do not inherit."""

    hidden: bool = False  # ``display: none``, or an opacity of 0 on element or group
    # what clips it: the id after #, or a shape as CSS has it; empty for none
    clip: str = ""
    mask: str = ""  # the id of what masks it; empty for none
    fixed_width: bool = False  # ``vector-effect: non-scaling-stroke``
    transform: str | None = None  # the transform, attribute or CSS
    steps: str = ""  # ``translate``, ``rotate`` and ``scale``, as functions
    origin: str = ""  # ``transform-origin``
    box: str = ""  # ``transform-box``; empty for that of the view
    overflow: str = ""  # for viewports
    geometry: tuple[tuple[str, str], ...] = ()  # geometry set by CSS

    @property
    def moves(self) -> str:
        """Return all that maps the element, as one list of functions."""
        return f"{self.steps} {self.transform or ''}".strip()

    @property
    def apart(self) -> bool:
        """Return whether what it makes of a shape depends on the shape itself."""
        return bool(self.clip or self.mask or self.box)


def cascade(
    attributes: dict[str, str], rules: tuple[Rule, ...], style: str | None
) -> dict[str, str]:
    """Return the declared values of one element; one value a property.

    `attributes`: presentation attributes.
    """
    declared = dict(attributes)
    strong: dict[str, str] = {}
    for rule in rules:
        for name, value, important in rule.declarations:
            (strong if important else declared)[name] = value
    if style:
        inline = parse_declarations(style)
        declared.update((name, value) for name, value, weight in inline if not weight)
        declared.update(strong)
        declared.update((name, value) for name, value, weight in inline if weight)
    else:
        declared.update(strong)
    return declared


def resolve(
    parent: Inherited, declared: dict[str, str], viewport: Viewport
) -> tuple[Inherited, Own]:
    """Return what the declared values make of the parent's."""
    new = parent._asdict()
    own = {name: value for name, value in declared.items() if name.startswith("--")}
    if own:
        new["custom"] = tuple(sorted({**dict(parent.custom), **own}.items()))
    if any("var(" in value for value in declared.values()):
        custom = dict(new["custom"])
        declared = {key: _with_custom(text, custom) for key, text in declared.items()}
    given = {key: text for key, text in declared.items() if text and text != "inherit"}
    get = given.get
    if font := get("font-size"):
        sized = viewport.sized(parent.font)
        size = parse_length(font.removesuffix("%"), sized)
        if size is not None and size >= 0:
            new["font"] = size * parent.font / 100 if font.endswith("%") else size
    if parsed := parse_colour(get("color", "")):
        new["colour"] = parsed[0]
    for key in ("stroke", "fill"):
        if value := get(key):
            _set_paint(new, key, value, parent)
        opacity = _opacity(get(key + "-opacity"))
        if opacity is not None:
            new[key + "_opacity"] = opacity
    if width := get("stroke-width"):
        length = parse_length(width, viewport.sized(new["font"]))
        if length is not None and length >= 0:
            new["width"] = length
    if dash := get("stroke-dasharray"):
        numbers = parse_numbers(dash)
        new["dash"] = sum(numbers) > 0 and min(numbers, default=-1.0) >= 0
    if visibility := get("visibility"):
        new["visible"] = visibility == "visible"
    for key, field in (("fill-rule", "even_odd"), ("clip-rule", "clip_even_odd")):
        value = get(key)
        if value in {"evenodd", "nonzero"}:
            new[field] = value == "evenodd"
    if parent.solid and {"opacity", "mask", "mix-blend-mode"} & declared.keys():
        opacity = _opacity(get("opacity"))
        through = opacity is not None and opacity < 1
        blend = get("mix-blend-mode", "normal").strip().lower()
        through |= bool(_reference(get("mask"))) or blend not in _PLAIN_BLENDS
        new["solid"] = not through
    return Inherited(**new), _resolve_own(declared)


def not_understood(declared: dict[str, str], viewport: Viewport) -> list[str]:
    """Return the declarations that are passed over though lines may hang on them."""
    passed = []
    for name, text in declared.items():
        low = text.strip().lower()
        if name in {"stroke", "fill", "color"}:
            known = low in _PAINTS or low.startswith("url(") or not low
            known = known or parse_colour(low.split(" icc-color", 1)[0]) is not None
        elif name == "stroke-width":
            width = parse_length(low, viewport)
            known = low in _ALONE or (width is not None and width >= 0)
        elif name == "mask":
            known = low in _ALONE or low.startswith("url(")
        elif name.startswith("marker"):
            known = not low.startswith("url(")
        else:
            known = name not in _NOT_FOLLOWED or low in _ALONE
        if not known and "var(" not in low:
            passed.append(f"{name}: {text.strip()[:40]}")
    return passed


def _with_custom(
    text: str, custom: dict[str, str], known: dict[str, str | None] | None = None
) -> str:
    """Put custom properties in the place of var(), those inside others too.

    What has no value, or grows without end, is empty: as if it were not declared. One
    that refers to nothing has none, so that what stands second in var() counts: CSS
    Custom Properties 1, section 3. `known`: those looked up so far, None for no value.
    """
    known = {} if known is None else known
    for _ in range(_NESTED):
        found = _VAR.search(text)
        if found is None or len(text) > _LONGEST or len(known) > _NESTED:
            break
        name = found[1].lower()
        if name not in known:
            value, known[name] = custom.get(name), None
            if value is not None and "var(" in value:
                value = _with_custom(value, custom, known) or None
            known[name] = value
        value = found[2] if known[name] is None else known[name]
        if value is None:
            return ""
        text = text[: found.start()] + value + text[found.end() :]
    return "" if "var(" in text else text


def _resolve_own(declared: dict[str, str]) -> Own:
    get = declared.get
    opacity = _opacity(get("opacity"))
    box = get("transform-box", "").strip().removeprefix("view-box")
    return Own(
        hidden=get("display", "").strip() == "none" or opacity == 0,
        clip=_clip(get("clip-path", "")),
        mask=_reference(get("mask")),
        fixed_width=get("vector-effect", "").strip() == "non-scaling-stroke",
        transform=get("transform"),
        steps=_steps(declared),
        origin=get("transform-origin", ""),
        box="" if box in _ALONE else box,
        overflow=get("overflow", "").strip(),
        geometry=tuple(sorted((k, v) for k, v in declared.items() if k in _GEOMETRY)),
    )


def _steps(declared: dict[str, str]) -> str:
    """Return the single maps as functions, in the order of CSS Transforms 2, 3."""
    steps = []
    for name in ("translate", "rotate", "scale"):
        words = declared.get(name, "").lower().split()
        if not words or words[0] in _ALONE - {"1"}:
            continue
        if name != "rotate":
            words = words[:2]
        elif words[:1] == ["z"] or words[:3] == ["0", "0", "1"]:
            words = words[-1:]
        steps.append(f"{name}({','.join(words)})")
    return " ".join(steps)


def _clip(text: str) -> str:
    text = text.strip()
    if text.lower().startswith("url("):
        name = _reference(text)
        return f"#{name}" if name else ""
    return "" if text.lower() in _ALONE else text


def _set_paint(new: dict[str, object], key: str, value: str, parent: Inherited) -> None:
    value = value.strip()
    low = value.lower()
    if low == "none":
        new[key] = "none"
    elif low == "initial":
        new[key] = getattr(INITIAL, key)
    elif low == "currentcolor":
        new[key], new[key + "_alpha"] = new["colour"], 1.0
    elif low.startswith("url("):
        new[key], new[key + "_alpha"] = "url", 1.0
        if key == "fill":
            other = parse_colour(low.rpartition(")")[2].strip())
            new["server"], new["otherwise"] = _reference(value), (other or ("",))[0]
    elif low in {"context-fill", "context-stroke"}:
        new[key] = getattr(parent, low[8:])
    elif parsed := parse_colour(low.split(" icc-color", 1)[0]):
        new[key], new[key + "_alpha"] = parsed


def _opacity(text: str | None) -> float | None:
    if not text:
        return None
    text = text.strip()
    try:
        value = float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        return None
    return None if math.isnan(value) else min(1.0, max(0.0, value))


def _reference(text: str | None) -> str:
    # the id inside url(#id), with or without quotes
    if not text:
        return ""
    text = text.strip()
    if not text.lower().startswith("url("):
        return ""
    inside = text[4:].split(")", 1)[0].strip().strip("\"'").strip()
    return inside[1:] if inside.startswith("#") else ""
