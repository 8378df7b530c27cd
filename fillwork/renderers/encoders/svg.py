"""Write a scene as SVG: true curves, y down, one group a colour.

Letters are written as outlines, so that a sheet looks and measures the same on
every machine; the words stand beside them as labels for reading aloud.
"""

from __future__ import annotations

import re
from html import escape
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.renderers.encoders.pathtext import (
    PathText,
    decimals_for,
    format_number,
    numbers,
    svg_paths,
)
from fillwork.renderers.scene import LAYERS, Fills, Labels, Placed, Strokes, Text
from fillwork.renderers.text.bars import label_bars
from fillwork.renderers.text.typeset import CAP_HEIGHT, PT, FontSet, default_fonts

if TYPE_CHECKING:
    from fillwork.arrangement.model import Outlines
    from fillwork.geometry.affine import Affine
    from fillwork.renderers.scene import Item, Scene
    from fillwork.renderers.text.typeset import Font


_JOIN = {"mitre": "miter", "round": "round"}
_CAP = {"flat": "butt", "round": "round"}


def to_svg(scene: Scene, *, fonts: FontSet | None = None) -> bytes:
    """Return a scene as an SVG file.

    UTF-8 text; the same scene gives the same bytes.

    Follows SVG 2 (W3C). Width and height are in mm and one user unit is 1 mm.
    """
    writer = _Writer(scene, fonts or default_fonts())
    return writer.write().encode("utf-8")


# what no XML can hold, not even escaped: XML 1.0, section 2.2
_NO_CHARACTER = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# what an attribute would turn into spaces; `xml.sax.saxutils` loads all of HTTP
_KEPT = str.maketrans({"\n": "&#10;", "\r": "&#13;", "\t": "&#9;", '"': "&quot;"})


def _escaped(text: str) -> str:
    return escape(_NO_CHARACTER.sub("\ufffd", text), quote=False)


def _quoted(text: str) -> str:
    """Return the value of an attribute."""
    if text.isalnum():  # a letter, as of a hundred thousand kinds
        return f'"{text}"'
    return f'"{_escaped(text).translate(_KEPT)}"'


class _Writer:
    def __init__(self, scene: Scene, fonts: FontSet) -> None:
        self.scene = scene
        self.fonts = fonts
        self.decimals = decimals_for(max(scene.width, scene.height))
        self.out: list[str] = []
        self.defs: list[str] = []
        self.glyphs: dict[tuple[str, int], str] = {}
        self.clips = 0
        self.named: set[str] = set()
        self.cache: dict[tuple[Outlines, Affine], PathText] = {}

    def number(self, value: float) -> str:
        return format_number(value, self.decimals)

    def write(self) -> str:
        scene = self.scene
        flip = (1.0, 0.0, 0.0, -1.0, 0.0, scene.height)
        for item in scene.items:
            self.item(item, flip)
        width, height = self.number(scene.width), self.number(scene.height)
        head = [
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" '
            f'height="{height}mm" viewBox="0 0 {width} {height}">\n'
        ]
        if scene.title:
            head.append(f"<title>{_escaped(scene.title)}</title>\n")
        if self.defs:
            head.append("<defs>\n" + "\n".join(self.defs) + "\n</defs>\n")
        if scene.paper:
            head.append(
                f'<rect width="{width}" height="{height}" fill="{scene.paper}"/>\n'
            )
        return "".join([*head, *self.out, "</svg>\n"])

    def item(self, item: Item, m: Affine) -> None:
        if isinstance(item, Fills):
            self.fills(item, m)
        elif isinstance(item, Strokes):
            self.strokes(item, m)
        elif isinstance(item, Labels):
            self.labels(item, m)
            for bar in label_bars(item, self.fonts):
                self.strokes(bar, m)
        elif isinstance(item, Text):
            self.text(item, m)
        else:
            self.placed(item, m)

    def shape_text(self, shapes: Outlines, m: Affine) -> PathText:
        if (shapes, m) not in self.cache:
            pieces = shapes.pieces.transform(m)
            text = svg_paths(pieces, self.decimals, shapes.ring_start)
            self.cache[shapes, m] = text
        return self.cache[shapes, m]

    def fills(self, item: Fills, m: Affine) -> None:
        if len(item.rows) == 0:
            return
        text = self.shape_text(item.shapes, m)
        attributes = f' fill="{item.colour}" fill-rule="evenodd"'
        if item.layer:
            attributes += f' data-layer="{item.layer}"'
        if item.code:
            attributes += f" data-code={_quoted(item.code)}"
        if item.name:
            attributes += f" data-swatch={_quoted(item.name)}"
        self.out.append(f"<g{attributes}>\n")
        which = item.kind.tolist() if item.kind is not None else [-1] * len(item.rows)
        kinds = {k: f" data-kind={_quoted(item.kinds[k])}" for k in {*which} - {-1}}
        kinds[-1] = ""
        rings = item.shapes.ring_start.tolist()
        faces = item.shapes.face_ring_start.tolist()
        for row, kind in zip(item.rows.tolist(), which, strict=True):
            d = text.shape(rings[faces[row] : faces[row + 1] + 1])
            if d:
                self.out.append(f'<path{kinds[kind]} d="{d}"/>\n')
        self.out.append("</g>\n")

    def strokes(self, item: Strokes, m: Affine) -> None:
        if len(item.start) < 2 or item.width <= 0:
            return
        text = svg_paths(item.curves.transform(m), self.decimals, item.start)
        scale = affine.mean_scale(m)
        attributes = (
            f' fill="none" stroke="{item.colour}" '
            f'stroke-width="{format_number(item.width * scale, self.decimals)}"'
        )
        if item.join != "mitre":
            attributes += f' stroke-linejoin="{_JOIN[item.join]}"'
        else:
            attributes += ' stroke-miterlimit="10"'
        if item.cap != "flat":
            attributes += f' stroke-linecap="{_CAP[item.cap]}"'
        if item.dash:
            dash = " ".join(self.number(d * scale) for d in item.dash)
            attributes += f' stroke-dasharray="{dash}"'
        if item.layer:
            attributes += f" data-layer={_quoted(item.layer)}"
            if item.layer not in (*LAYERS, *self.named):
                # a layer of line work, which readers know by its id
                self.named.add(item.layer)
                attributes = f" id={_quoted(item.layer)}{attributes}"
        self.out.append(f"<g{attributes}>\n")
        start = item.start.tolist()
        for p, closed in enumerate(item.closed.tolist()):
            if start[p + 1] > start[p]:
                d = text.path(start[p], start[p + 1], closed)
                self.out.append(f'<path d="{d}"/>\n')
        self.out.append("</g>\n")

    def glyph(self, font: Font, glyph: int) -> str:
        key = (font.key, glyph)
        if key not in self.glyphs:
            name = f"g{len(self.glyphs)}"
            self.glyphs[key] = name
            curves, start = font.outline(glyph)
            # glyphs are kept in thousandths of an em, y down
            text = svg_paths(curves.transform((1000, 0, 0, -1000, 0, 0)), 1)
            d = text.shape(start.tolist())
            self.defs.append(f'<path id="{name}" d="{d}"/>')
        return self.glyphs[key]

    def words(self, text: str, weight: str) -> str:
        """Return the glyphs of a text, each where it stands."""
        return "".join(
            f'<use href="#{self.glyph(font, glyph)}" '
            f'x="{format_number(x * 1000, 1)}" y="{format_number(-y * 1000, 1)}"/>'
            for font, glyph, x, y in self.fonts.shape(text, weight).glyphs()
            if len(font.outline(glyph)[0])
        )

    def labels(self, item: Labels, m: Affine) -> None:
        if len(item.at) == 0:
            return
        layer = f' data-layer="{item.layer}"' if item.layer else ""
        self.out.append(f'<g fill="{item.colour}"{layer}>\n')
        at = affine.apply(m, item.at)
        em = item.height / CAP_HEIGHT * affine.mean_scale(m)
        names: list[str] = []
        for k, text in enumerate(item.texts):
            names.append(f"t{len(self.defs)}-{k}")
            head = f'<g id="{names[k]}" role="img" aria-label={_quoted(text)}>'
            self.defs.append(f"{head}{self.words(text, item.weight)}</g>")
        middle = self.fonts.middles(item.texts, item.weight)[item.text]
        x = at[:, 0] - middle[:, 0] * em
        y = at[:, 1] + middle[:, 1] * em
        table = numbers(np.stack([em / 1000, x, y], axis=1), self.decimals + 1)
        for i, k in enumerate(item.text.tolist()):
            s, px, py = table[3 * i : 3 * i + 3]
            self.out.append(
                f'<use href="#{names[k]}" transform="matrix({s} 0 0 {s} {px} {py})"/>\n'
            )
        self.out.append("</g>\n")

    def text(self, item: Text, m: Affine) -> None:
        em = item.size * PT * affine.mean_scale(m)
        x, y = affine.apply(m, np.array(item.at)).tolist()
        x -= self.fonts.shape(item.text, item.weight).before(item.align) * em
        uses = self.words(item.text, item.weight)
        s = format_number(em / 1000, 8)
        label = _quoted(item.text)
        self.out.append(
            f'<g role="img" aria-label={label} fill="{item.colour}" transform='
            f'"matrix({s} 0 0 {s} {self.number(x)} {self.number(y)})">{uses}</g>\n'
        )

    def placed(self, item: Placed, m: Affine) -> None:
        inner = affine.compose(m, item.map)
        attributes = ""
        if item.clip is not None:
            self.clips += 1
            corners = np.array([item.clip[0:2], item.clip[2:4]])
            low, high = np.sort(affine.apply(m, corners), axis=0)
            size = high - low
            self.defs.append(
                f'<clipPath id="c{self.clips}"><rect x="{self.number(low[0])}" '
                f'y="{self.number(low[1])}" width="{self.number(size[0])}" '
                f'height="{self.number(size[1])}"/></clipPath>'
            )
            attributes += f' clip-path="url(#c{self.clips})"'
        if item.alt:
            attributes += f' role="img" aria-label={_quoted(item.alt)}'
        if attributes:
            self.out.append(f"<g{attributes}>\n")
        for each in item.picture.items:
            self.item(each, inner)
        if attributes:
            self.out.append("</g>\n")
