"""Write scenes as one PDF: vectors, layers, embedded fonts, a reading order.

ISO 32000-2:2020 is the source throughout: optional content (8.11), form XObjects
(8.10), marked content and logical structure (14.6 to 14.8). Conformance to PDF/UA
or PDF/A is not claimed: no validator has been run.
"""

from __future__ import annotations

import io
import itertools
from typing import TYPE_CHECKING

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name, String

from fillwork.errors import RenderError
from fillwork.geometry import affine
from fillwork.geometry.ranges import expand_ranges
from fillwork.renderers.encoders.pathtext import (
    decimals_for,
    format_number,
    numbers,
    pdf_paths,
)
from fillwork.renderers.encoders.pdf_fonts import FontBook
from fillwork.renderers.encoders.pdf_structure import StructureTree
from fillwork.renderers.scene import LAYERS, Fills, Labels, Placed, Strokes, Text
from fillwork.renderers.text.bars import label_bars
from fillwork.renderers.text.typeset import CAP_HEIGHT, PT, FontSet, default_fonts

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from fillwork.renderers.scene import Item, Picture, Scene
    from fillwork.renderers.text.typeset import Run, Shaped


_POINTS_PER_MM = 72 / 25.4
_LEAST, _MOST = 3, 14_400
"""Sides of a page, units (ISO 32000-1:2008, annex C, C.2)."""
_SHAPES_A_PATH = 200  # painted by one operator, so that no path grows too long to print
_LAYER_TITLE = {
    "colours": "Colours",
    "outlines": "Outlines",
    "numbers": "Numbers",
    "islands": "Islands",
    "marks": "Marks",
}


def _check_size(width: float, height: float) -> None:
    """Raise for a page that no PDF can have."""
    sides = [round(side * _POINTS_PER_MM, 4) for side in (width, height)]
    if all(_LEAST <= side <= _MOST for side in sides):
        return
    what = (
        f"a page of {width:.4g} x {height:.4g} mm is none of a PDF, whose sides are "
        f"{_LEAST * PT:.2f} to {_MOST * PT:,.0f} mm"
    )
    mend = "take another --paper, such as A4 with --fit page, or another --scale"
    raise RenderError(what, mend=mend)


def to_pdf(
    scenes: Sequence[Scene], *, title: str, fonts: FontSet | None = None
) -> bytes:
    """Return scenes as the pages of a PDF file.

    The file; the same scenes give the same bytes. `scenes`: the pages; a scene that
    stands twice is written once. `title`: title of the document.
    """
    pdf = pikepdf.new()
    writer = _Document(pdf, fonts or default_fonts())
    for scene in scenes:
        writer.page(scene)
    writer.finish(title)
    out = io.BytesIO()
    pdf.save(
        out,
        deterministic_id=True,
        compress_streams=True,
        object_stream_mode=pikepdf.ObjectStreamMode.generate,
    )
    return out.getvalue()


def _colour(hexa: str, stroke: bool) -> str:
    r, g, b = (int(hexa[i : i + 2], 16) / 255 for i in (1, 3, 5))
    if r == g == b:  # greys print with black ink alone
        return f"{format_number(r, 4)} {'G' if stroke else 'g'}\n"
    rgb = " ".join(format_number(v, 4) for v in (r, g, b))
    return f"{rgb} {'RG' if stroke else 'rg'}\n"


class _Document:
    def __init__(self, pdf: pikepdf.Pdf, fonts: FontSet) -> None:
        self.pdf = pdf
        self.fonts = fonts
        self.book = FontBook()
        self.forms: dict[Picture, tuple[str, Any]] = {}
        self.layers: dict[str, Any] = {}
        self.contents: dict[Scene, tuple[Any, list[tuple[str, str, int]]]] = {}
        self.structure = StructureTree(pdf)
        self.resources = pdf.make_indirect(Dictionary())
        self.bookmarks: list[tuple[str, int]] = []

    def page(self, scene: Scene) -> None:
        if scene not in self.contents:
            stream = _Stream(self, max(scene.width, scene.height), tagged=True)
            stream.out.append(
                f"q {format_number(_POINTS_PER_MM, 9)} 0 0 "
                f"{format_number(_POINTS_PER_MM, 9)} 0 0 cm\n"
            )
            if scene.paper and scene.paper != "#ffffff":
                size = (
                    f"{format_number(scene.width, 4)} {format_number(scene.height, 4)}"
                )
                stream.tag(f"{_colour(scene.paper, False)}0 0 {size} re f\n")
            for item in scene.items:
                stream.item(item)
            stream.out.append("Q\n")
            data = "".join(stream.out).encode("ascii")
            self.contents[scene] = (self.pdf.make_stream(data), stream.marks)
        content, marks = self.contents[scene]
        width, height = scene.width * _POINTS_PER_MM, scene.height * _POINTS_PER_MM
        box = Array([0, 0, round(width, 4), round(height, 4)])
        _check_size(scene.width, scene.height)
        page = self.pdf.add_blank_page(page_size=(float(box[2]), float(box[3])))
        page.obj.MediaBox = box
        for name in ("/CropBox", "/TrimBox", "/BleedBox", "/ArtBox"):
            page.obj[name] = Array(list(box))
        page.obj.Contents = content
        page.obj.Resources = self.resources
        page.obj.Tabs = Name.S
        self.structure.add_page(page.obj, scene.title, marks)
        self.bookmarks.append((scene.title, len(self.pdf.pages) - 1))

    def form(self, picture: Picture) -> str:
        """Return the resource name of a picture's form."""
        if picture not in self.forms:
            left, bottom, right, top = picture.box
            size = max(right - left, top - bottom)
            stream = _Stream(self, size, tagged=False)
            for item in picture.items:
                stream.item(item)
            form = self.pdf.make_stream("".join(stream.out).encode("ascii"))
            form.Type, form.Subtype = Name.XObject, Name.Form
            # lines and numbers may reach a little beyond the box
            more = 0.05 * size + 5
            box = (left - more, bottom - more, right + more, top + more)
            form.BBox = Array([round(v, 4) for v in box])
            form.Resources = self.resources
            self.forms[picture] = f"P{len(self.forms)}", form
        return self.forms[picture][0]

    def layer(self, name: str) -> None:
        if name not in self.layers:
            self.layers[name] = self.pdf.make_indirect(
                Dictionary(Type=Name.OCG, Name=String(_LAYER_TITLE.get(name, name)))
            )

    def finish(self, title: str) -> None:
        pdf, root = self.pdf, self.pdf.Root
        self.resources.Font = self.book.resources(pdf)
        forms = {f"/{name}": form for name, form in self.forms.values()}
        self.resources.XObject = Dictionary(forms)
        if self.layers:
            order = dict.fromkeys((*LAYERS, *self.layers))
            layers = {f"/{n}": self.layers[n] for n in order if n in self.layers}
            self.resources.Properties = Dictionary(layers)
            groups = list(layers.values())
            root.OCProperties = Dictionary(
                OCGs=Array(groups),
                D=Dictionary(
                    Name=String("Layers"), Order=Array(groups), ON=Array(groups)
                ),
            )
        self.structure.finish()
        root.Lang = String("en")
        root.MarkInfo = Dictionary(Marked=True)
        root.ViewerPreferences = Dictionary(
            PrintScaling=Name("/None"), DisplayDocTitle=True, PickTrayByPDFSize=True
        )
        with pdf.open_metadata(set_pikepdf_as_editor=False) as metadata:
            metadata["dc:title"] = title
            metadata["dc:language"] = {"en"}
            metadata["pdf:Producer"] = "fillwork"
        pdf.docinfo["/Title"] = String(title)
        pdf.docinfo["/Producer"] = String("fillwork")
        if len(self.bookmarks) > 1:
            with pdf.open_outline() as outline:
                outline.root.extend(
                    pikepdf.OutlineItem(text or f"Page {number + 1}", number)
                    for text, number in self.bookmarks
                )


class _Stream:
    """Write the items of one page or one form."""

    def __init__(self, document: _Document, size: float, *, tagged: bool) -> None:
        self.document = document
        self.decimals = max(3, decimals_for(size) - 2)
        self.out: list[str] = []
        self.tagged = tagged
        self.marks: list[tuple[str, str, int]] = []

    def number(self, value: float) -> str:
        return format_number(value, self.decimals + 2)

    def tag(self, text: str, role: str = "", alt: str = "", row: int = 0) -> None:
        """Write content as what it is in the reading order, or as none of it."""
        if not self.tagged:
            self.out.append(text)
        elif not role:
            self.out.append(f"/Artifact BMC\n{text}EMC\n")
        else:
            mark = f"/{role} <</MCID {len(self.marks)}>> BDC\n"
            self.marks.append((role, alt, row))
            self.out.append(f"{mark}{text}EMC\n")

    def item(self, item: Item) -> None:
        if isinstance(item, Placed):
            self.placed(item)
            return
        if isinstance(item, Text):
            self.text(item)
            return
        if isinstance(item, Fills):
            text = self.fills(item)
        elif isinstance(item, Strokes):
            text = self.strokes(item)
        else:
            bars = label_bars(item, self.document.fonts)
            text = "".join([self.labels(item), *map(self.strokes, bars)])
        if text:
            self.tag(self.on_layer(item.layer, text))

    def on_layer(self, layer: str, text: str) -> str:
        if not layer:
            return text
        self.document.layer(layer)
        return f"/OC /{layer} BDC\n{text}EMC\n"

    def fills(self, item: Fills) -> str:
        if len(item.rows) == 0:
            return ""
        shapes = item.shapes
        rows = np.asarray(item.rows)
        # only the pieces of these shapes are turned into text
        ring_first = shapes.face_ring_start[rows]
        ring_count = shapes.face_ring_start[rows + 1] - ring_first
        _, rings = expand_ranges(ring_first, ring_count)
        piece_first = shapes.ring_start[rings]
        piece_count = shapes.ring_start[rings + 1] - piece_first
        _, pieces = expand_ranges(piece_first, piece_count)
        begin = np.concatenate([[0], np.cumsum(piece_count)])
        text = pdf_paths(shapes.pieces.take(pieces), self.decimals, begin)
        limits = begin.tolist()
        rings = np.cumsum([0, *ring_count]).tolist()
        found = [text.shape(limits[a : b + 1]) for a, b in itertools.pairwise(rings)]
        return f"q {_colour(item.colour, False)}{_painted(found, 'f*')}Q\n"

    def strokes(self, item: Strokes) -> str:
        if len(item.start) < 2 or item.width <= 0:
            return ""
        text = pdf_paths(item.curves, self.decimals, item.start)
        join = 0 if item.join == "mitre" else 1
        cap = 0 if item.cap == "flat" else 1
        dash = " ".join(self.number(d) for d in item.dash)
        pen = f"{self.number(item.width)} w {join} j {cap} J 10 M [{dash}] 0 d\n"
        limits = itertools.pairwise(item.start.tolist())
        found = [
            text.path(a, b, whole) if b > a else ""
            for (a, b), whole in zip(limits, item.closed.tolist(), strict=True)
        ]
        return f"q {_colour(item.colour, True)}{pen}{_painted(found, 'S')}Q\n"

    def labels(self, item: Labels) -> str:
        if len(item.at) == 0:
            return ""
        fonts, book = self.document.fonts, self.document.book
        shaped = [fonts.shape(words, item.weight) for words in item.texts]
        texts = [[(book.use(r), _run_text(r)) for r in s.runs] for s in shaped]
        em = item.height / CAP_HEIGHT
        middle = fonts.middles(item.texts, item.weight)
        low = item.at - middle[item.text] * em[:, None]
        size = numbers(em, self.decimals + 1)
        xy = numbers(low, self.decimals)
        out = ["BT ", _colour(item.colour, False)]
        font = ""
        for i, k in enumerate(item.text.tolist()):
            out.append(f"{size[i]} 0 0 {size[i]} {xy[2 * i]} {xy[2 * i + 1]} Tm\n")
            for name, shown in texts[k]:
                if name != font:
                    out.append(f"/{name} 1 Tf\n")
                    font = name
                out.append(shown)
        out.append("ET\n")
        return "".join(out)

    def text(self, item: Text) -> None:
        document = self.document
        shaped = document.fonts.shape(item.text, item.weight)
        if not shaped.runs:
            return
        em = item.size * PT
        x = item.at[0] - shaped.before(item.align) * em
        out = ["BT ", _colour(item.colour, False)]
        s = self.number(em)
        out.append(f"{s} 0 0 {s} {self.number(x)} {self.number(item.at[1])} Tm\n")
        out += [f"/{document.book.use(r)} 1 Tf\n{_run_text(r)}" for r in shaped.runs]
        out.append("ET\n")
        text = "".join(out)
        if _needs_actual_text(shaped):
            words = ("\ufeff" + item.text).encode("utf-16-be").hex().upper()
            text = f"/Span <</ActualText <{words}>>> BDC\n{text}EMC\n"
        self.tag(self.on_layer(item.layer, text), item.role, row=item.row)

    def placed(self, item: Placed) -> None:
        name = self.document.form(item.picture)
        out = ["q\n"]
        if item.clip is not None:
            left, bottom, right, top = item.clip
            box = (left, bottom, right - left, top - bottom)
            out.append(" ".join(self.number(v) for v in box) + " re W n\n")
        if item.map != affine.IDENTITY:
            linear = " ".join(format_number(v, 9) for v in item.map[:4])
            shift = " ".join(self.number(v) for v in item.map[4:])
            out.append(f"{linear} {shift} cm\n")
        out.append(f"/{name} Do\nQ\n")
        self.tag("".join(out), "Figure" if item.alt else "", item.alt)


def _needs_actual_text(shaped: Shaped) -> bool:
    """Return whether glyphs alone would not give the words back in order.

    So it is where glyphs are no one-to-one picture of characters, and where a line
    that begins left to right turns round within. Lines that run right to left as
    a whole are left alone: readers put their glyphs in order themselves.
    """
    if shaped.rtl:
        return False
    return any(
        run.rtl or any(len(cluster) != 1 for cluster in run.clusters)
        for run in shaped.runs
    )


def _painted(paths: Sequence[str], operator: str) -> str:
    """Return paths with the operator that paints them, some hundred at a time."""
    parts = (
        paths[k : k + _SHAPES_A_PATH] for k in range(0, len(paths), _SHAPES_A_PATH)
    )
    return "".join("".join(part) + f"{operator}\n" for part in parts)


def _run_text(run: Run) -> str:
    """Return the operators that show a run, for a font of size 1 em."""
    out: list[str] = []
    shown: list[str] = []
    pen = run.start
    rise = 0.0

    def flush() -> None:
        if shown:
            out.append("[" + "".join(shown) + "] TJ\n")
            shown.clear()

    natural = {g: run.font.hb.get_glyph_h_advance(g) for g in set(run.glyphs)}
    for glyph, x, y in zip(run.glyphs, run.x, run.y, strict=True):
        if abs(y - rise) > 1e-6:
            flush()
            out.append(f"{format_number(y, 4)} Ts\n")
            rise = y
        gap = (x - pen) * 1000
        if abs(gap) > 0.05:
            shown.append(format_number(-gap, 1))
        shown.append(f"<{glyph:04X}>")
        pen = x + natural[glyph] / run.font.per_em
    flush()
    if rise:
        out.append("0 Ts\n")
    gap = (run.start + sum(run.advances) - pen) * 1000
    if abs(gap) > 0.05:
        out.append(f"[{format_number(-gap, 1)}] TJ\n")
    return "".join(out)
