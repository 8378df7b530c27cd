"""Colours as CSS writes them, turned into ``#rrggbb`` and an opacity."""

from __future__ import annotations

import colorsys
import math
import re

# The named colours of CSS Color Module Level 4, section 6.1.
_NAMED = """
aliceblue f0f8ff  antiquewhite faebd7  aqua 00ffff  aquamarine 7fffd4  azure f0ffff
beige f5f5dc  bisque ffe4c4  black 000000  blanchedalmond ffebcd  blue 0000ff
blueviolet 8a2be2  brown a52a2a  burlywood deb887  cadetblue 5f9ea0
chartreuse 7fff00  chocolate d2691e  coral ff7f50  cornflowerblue 6495ed
cornsilk fff8dc  crimson dc143c  cyan 00ffff  darkblue 00008b  darkcyan 008b8b
darkgoldenrod b8860b  darkgray a9a9a9  darkgreen 006400  darkgrey a9a9a9
darkkhaki bdb76b  darkmagenta 8b008b  darkolivegreen 556b2f  darkorange ff8c00
darkorchid 9932cc  darkred 8b0000  darksalmon e9967a  darkseagreen 8fbc8f
darkslateblue 483d8b  darkslategray 2f4f4f  darkslategrey 2f4f4f
darkturquoise 00ced1  darkviolet 9400d3  deeppink ff1493  deepskyblue 00bfff
dimgray 696969  dimgrey 696969  dodgerblue 1e90ff  firebrick b22222
floralwhite fffaf0  forestgreen 228b22  fuchsia ff00ff  gainsboro dcdcdc
ghostwhite f8f8ff  gold ffd700  goldenrod daa520  gray 808080  green 008000
greenyellow adff2f  grey 808080  honeydew f0fff0  hotpink ff69b4  indianred cd5c5c
indigo 4b0082  ivory fffff0  khaki f0e68c  lavender e6e6fa  lavenderblush fff0f5
lawngreen 7cfc00  lemonchiffon fffacd  lightblue add8e6  lightcoral f08080
lightcyan e0ffff  lightgoldenrodyellow fafad2  lightgray d3d3d3  lightgreen 90ee90
lightgrey d3d3d3  lightpink ffb6c1  lightsalmon ffa07a  lightseagreen 20b2aa
lightskyblue 87cefa  lightslategray 778899  lightslategrey 778899
lightsteelblue b0c4de  lightyellow ffffe0  lime 00ff00  limegreen 32cd32
linen faf0e6  magenta ff00ff  maroon 800000  mediumaquamarine 66cdaa
mediumblue 0000cd  mediumorchid ba55d3  mediumpurple 9370db  mediumseagreen 3cb371
mediumslateblue 7b68ee  mediumspringgreen 00fa9a  mediumturquoise 48d1cc
mediumvioletred c71585  midnightblue 191970  mintcream f5fffa  mistyrose ffe4e1
moccasin ffe4b5  navajowhite ffdead  navy 000080  oldlace fdf5e6  olive 808000
olivedrab 6b8e23  orange ffa500  orangered ff4500  orchid da70d6
palegoldenrod eee8aa  palegreen 98fb98  paleturquoise afeeee  palevioletred db7093
papayawhip ffefd5  peachpuff ffdab9  peru cd853f  pink ffc0cb  plum dda0dd
powderblue b0e0e6  purple 800080  rebeccapurple 663399  red ff0000  rosybrown bc8f8f
royalblue 4169e1  saddlebrown 8b4513  salmon fa8072  sandybrown f4a460
seagreen 2e8b57  seashell fff5ee  sienna a0522d  silver c0c0c0  skyblue 87ceeb
slateblue 6a5acd  slategray 708090  slategrey 708090  snow fffafa
springgreen 00ff7f  steelblue 4682b4  tan d2b48c  teal 008080  thistle d8bfd8
tomato ff6347  turquoise 40e0d0  violet ee82ee  wheat f5deb3  white ffffff
whitesmoke f5f5f5  yellow ffff00  yellowgreen 9acd32
"""
_HEX_OF = dict(re.findall(r"([a-z]+) ([0-9a-f]{6})", _NAMED))

_HEX = re.compile(r"#([0-9a-f]{3,8})\Z")
_CALL = re.compile(r"(rgba?|hsla?)\(\s*(.*?)\s*\)\Z")
_ANGLES = {"deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}


def parse_colour(text: str) -> tuple[str, float] | None:
    """Return a colour and its opacity.

    `text`: a colour of CSS: a name, ``#rgb``, ``#rrggbb`` with or without opacity,
    ``rgb()``, ``rgba()``, ``hsl()``, ``hsla()`` or ``transparent``. Returns ``#rrggbb``
    and the opacity, 0 to 1; None if it is no such colour.

    Examples
    --------
    >>> parse_colour("Teal"), parse_colour("#00f8")
    (('#008080', 1.0), ('#0000ff', 0.5333333333333333))
    """
    text = text.strip().lower()
    named = _HEX_OF.get(text)
    if named is not None:
        return "#" + named, 1.0
    if text == "transparent":
        return "#000000", 0.0
    found = _HEX.match(text)
    if found:
        return _from_hex(found[1])
    found = _CALL.match(text)
    if found:
        try:
            return _from_call(found[1], found[2])
        except (ValueError, OverflowError):
            return None
    return None


def _from_hex(digits: str) -> tuple[str, float] | None:
    if len(digits) in {3, 4}:
        digits = "".join(2 * digit for digit in digits)
    if len(digits) not in {6, 8}:
        return None
    alpha = int(digits[6:], 16) / 255 if len(digits) == 8 else 1.0
    return "#" + digits[:6], alpha


def _from_call(name: str, inside: str) -> tuple[str, float] | None:
    parts = [part for part in re.split(r"[\s,/]+", inside) if part]
    if len(parts) not in {3, 4}:
        return None
    alpha = _share(parts[3], 1.0) if len(parts) == 4 else 1.0
    if name.startswith("rgb"):
        rgb = [_share(part, 255.0) for part in parts[:3]]
    else:
        hue = _angle(parts[0]) / 360 % 1.0
        rgb = list(colorsys.hls_to_rgb(hue, _percent(parts[2]), _percent(parts[1])))
    return "#" + "".join(f"{math.floor(value * 255 + 0.5):02x}" for value in rgb), alpha


def _share(text: str, full: float) -> float:
    if text == "none":
        return 0.0
    value = float(text[:-1]) / 100 if text.endswith("%") else float(text) / full
    return min(1.0, max(0.0, value))


def _percent(text: str) -> float:
    return min(1.0, max(0.0, float(text.removesuffix("%")) / 100))


def _angle(text: str) -> float:
    for unit, factor in _ANGLES.items():
        if text.endswith(unit):
            return float(text[: -len(unit)]) * factor
    return 0.0 if text == "none" else float(text)
