"""A PDF page in, `LineWork` out: the order in which the parts of reading run."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pikepdf

from fillwork.errors import FillworkError, ReadError
from fillwork.geometry import affine
from fillwork.notes import Note
from fillwork.readers.pdf.content import Painter
from fillwork.readers.pdf.functions import BROKEN
from fillwork.readers.pdf.pages import (
    Layers,
    choose_page,
    inherited,
    open_pdf,
    read_box,
)
from fillwork.readers.pdf.state import State
from fillwork.readers.pdf.streams import Unpacker
from fillwork.readers.strokes.assemble import assemble
from fillwork.readers.strokes.clip import cut_strokes
from fillwork.readers.strokes.collect import Collector, drop_wild, transform_rows
from fillwork.readers.strokes.drawn import Drawn
from fillwork.readers.strokes.notes import all_hidden, foremost
from fillwork.readers.strokes.outlines import close_outlines
from fillwork.readers.strokes.page import MM_PER_PX, Page

if TYPE_CHECKING:
    from fillwork.linework import LineWork
    from fillwork.readers.limits import Limits
    from fillwork.readers.pdf.pages import PageBox
    from fillwork.readers.scan.model import Choices
    from fillwork.readers.selectors import Choice
    from fillwork.readers.source import SourceFile

_NO_REMARKS = {"/Link", "/Popup", "/Widget"}
_WHITE = "#ffffff"
_UNSEEN = 0b100010  # the flags Hidden and NoView
_LOOKED = 20  # pages that are looked at for the first with lines


def read_pdf(
    file: SourceFile,
    choice: Choice,
    limits: Limits,
    number: int | None = None,
    picture: Choices | None = None,
) -> LineWork:
    """Read the line work of a page of a PDF file.

    `choice`: selectors and scope. `limits`: sizes allowed. `number`: the page, from 1;
    None for the first of those looked at that shows lines or a picture. `picture`: how
    a page that is only a picture is traced. Returns all strokes in mm, y up, from the
    lower left corner of the page. Raises `ReadError` if the file is locked, damaged or
    over a limit, or there is no such page. Raises `LineWorkError` if the page holds no
    lines, or none is left by the selectors.
    """
    try:
        with np.errstate(all="ignore"), open_pdf(file.data, file.name, limits) as pdf:
            return _read(pdf, file, choice, limits, number, picture)
    except FillworkError:
        raise
    except BROKEN as error:
        what = "the PDF is damaged and cannot be read"
        raise ReadError(what, file.name, "copy or save it again") from error


def _read(
    pdf: pikepdf.Pdf, file: SourceFile, choice: Choice, limits: Limits,
    number: int | None, picture: Choices | None,
) -> LineWork:  # fmt: skip
    sheet = choose_page(pdf, number, file.name)
    painter = _paint(pdf, sheet, file, choice, limits)
    notes: list[Note] = []
    count, read = len(pdf.pages), 1
    if count > 1 and number is None:
        while not _shows(painter) and read < min(count, _LOOKED):
            read += 1
            other = choose_page(pdf, read, file.name)
            tried = _paint(pdf, other, file, choice, limits)
            if _shows(tried):
                sheet, painter = other, tried
                break
        else:
            read = 1
        text = f"page {read} of {count} was read"
        text += ", the first with lines" if read > 1 else ""
        notes.append(
            Note("readers", "page", text, remedy="--page-number N reads another")
        )
    box = read_box(sheet, file.name)
    drawn = painter.drawn
    if painter.pictures and not _has_ink(drawn):
        from fillwork.readers.pdf.scanned import trace_page

        traced = trace_page(painter.pictures, box, file, choice, picture)
        return replace(traced, notes=(*notes, *traced.notes))
    return _finish(painter, drawn, box, file, choice, notes)


def _shows(painter: Painter) -> bool:
    return bool(painter.drawn.collector.item_name or painter.pictures)


def _has_ink(drawn: Drawn) -> bool:
    """Return whether more is drawn than white areas, as behind a scanned sheet."""
    contexts = drawn.collector.contexts
    used = (contexts[k] for k in {*drawn.collector.item_context})
    return any(c.stroked or c.fill != _WHITE for c in used)


def _paint(
    pdf: pikepdf.Pdf, sheet: Any, file: SourceFile, choice: Choice, limits: Limits
) -> Painter:
    """Follow the operators of a page."""
    box = read_box(sheet, file.name)
    drawn = Drawn(limits, file.name, Collector(limits, file.name))
    unit = affine.mean_scale(box.matrix)
    unpacker = Unpacker(limits, file.name)
    hides = choice.hidden != "keep"
    painter = Painter(drawn, unpacker, Layers.of(pdf, choice.layers), unit, hides=hides)
    resources = inherited(sheet, "/Resources")
    resources = pikepdf.Dictionary() if resources is None else resources
    painter.run(_content(sheet, unpacker), resources, State(affine.IDENTITY), ())
    if remarks := _remarks(sheet):
        drawn.counts["annotation"] = remarks
    return painter


def _remarks(sheet: Any) -> int:
    """Return how many annotations are seen on a page (PDF 1.7, section 12.5)."""
    found = sheet.get("/Annots")
    listed = list(found) if isinstance(found, pikepdf.Array) else []
    count = 0
    for one in listed:
        if isinstance(one, pikepdf.Dictionary) and "/AP" in one:
            flags = one.get("/F", 0)
            unseen = isinstance(flags, int) and bool(flags & _UNSEEN)
            count += not unseen and str(one.get("/Subtype")) not in _NO_REMARKS
    return count


def _content(sheet: Any, unpacker: Unpacker) -> bytes:
    contents = sheet.get("/Contents")
    if contents is None:
        return b""
    parts = [contents] if isinstance(contents, pikepdf.Stream) else list(contents)
    return b"\n".join(
        unpacker.read(part) for part in parts if isinstance(part, pikepdf.Stream)
    )


def _finish(
    painter: Painter, drawn: Drawn, box: PageBox, file: SourceFile, choice: Choice,
    notes: list[Note],
) -> LineWork:  # fmt: skip
    limits = drawn.limits
    page = Page()
    page.has_page = page.scale_known = True
    page.unit, page.to_mm = "pt", box.matrix
    page.width, page.height = (side / MM_PER_PX for side in box.size)
    strokes = painter.table()
    strokes.data.setflags(write=True)
    context = np.array(drawn.collector.item_context, np.int64)
    if len(strokes.closed):
        maps = drawn.collector.matrices(page.to_mm)
        which = context[strokes.item][strokes.owner()]
        transform_rows(strokes.kind, strokes.data, maps, which)
    strokes, dropped = drop_wild(strokes, limits.coordinate)
    if len(strokes.closed):
        contexts = drawn.collector.contexts
        fills = np.array(
            [c.filled and not (c.stroked or c.laid) for c in contexts], bool
        )
        strokes = close_outlines(strokes, fills[context[strokes.item]])
    if not len(strokes.closed) and painter.hidden:
        shown = {name or "one without a name": n for name, n in painter.hidden.items()}
        raise all_hidden(file.name, shown)
    drawn.odd = sorted(painter.doubts)
    uncut = strokes
    strokes, counts = cut_strokes(strokes, drawn, page, limits)
    counts["wild"] = dropped
    named, others, left = foremost(painter.hidden)
    for name, count in named:
        layer = f"on the layer “{name}”, which is off," if name else "not shown"
        text = f"{count:,} line{'s' * (count > 1)} {layer} left out"
        remedy = f"--lines “layer={name}” takes them" if name else ""
        notes.append(Note("readers", "hidden layer", text, remedy=remedy))
    if others:
        text = f"{left:,} lines on {others:,} more layers that are off left out"
        notes.append(Note("readers", "hidden layer", text))
    for what, count in sorted(painter.doubts.items()):
        times = "once" if count == 1 else f"{count:,} times"
        notes.append(Note("readers", "not understood", f"{what}, {times}"))
    line_work = assemble(file, drawn, page, strokes, choice, [], counts, uncut)
    return replace(line_work, notes=(*notes, *line_work.notes))
