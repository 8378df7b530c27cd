"""A DXF file in, `LineWork` out: the order in which the parts of reading run."""

from __future__ import annotations

import difflib
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import ReadError
from fillwork.notes import Note
from fillwork.readers.dxf.inserts import lay_out
from fillwork.readers.dxf.tables import UNITS, read_document, refuse_unfinished
from fillwork.readers.strokes.assemble import assemble
from fillwork.readers.strokes.clip import cut_strokes
from fillwork.readers.strokes.collect import (
    Collector,
    drop_wild,
    merge_tables,
    transform_rows,
)
from fillwork.readers.strokes.drawn import Drawn
from fillwork.readers.strokes.notes import MOST_TOLD, all_hidden, foremost
from fillwork.readers.strokes.page import Page

if TYPE_CHECKING:
    from fillwork.linework import LineWork
    from fillwork.readers.dxf.inserts import Layout
    from fillwork.readers.dxf.sketch import Sketch
    from fillwork.readers.dxf.tables import Document
    from fillwork.readers.limits import Limits
    from fillwork.readers.selectors import Choice
    from fillwork.readers.source import SourceFile
    from fillwork.readers.strokes.collect import StrokeTable


_FAR = 1e5  # mm from the origin at which a drawing is moved near it
_MEANT = 1e300  # larger numbers are not meant, and their sums are none


def read_dxf(
    file: SourceFile, choice: Choice, limits: Limits, layout: str = ""
) -> LineWork:
    """Read the line work of a DXF drawing.

    All strokes in mm, y up, from the lower left corner of their box. `choice`:
    selectors and scope; a block's name is a class, a handle an id. `layout`: name of
    the layout (paper space) to read; the model by default. Raises `ReadError` if the
    file is damaged or over a limit, or there is no such layout. Raises `LineWorkError`
    if it holds no lines, or none is left by the selectors.
    """
    with np.errstate(all="ignore"):
        return _read(file, choice, limits, layout)


def _read(file: SourceFile, choice: Choice, limits: Limits, layout: str) -> LineWork:
    conditions = choice.names
    handles = frozenset(c.text.upper() for c in conditions if c.key == "id")
    document = read_document(file.data, file.name, limits, handles)
    refuse_unfinished(document, file.name)
    notes: list[Note] = []
    sketch, unit = _space(document, layout, file.name, notes)
    page = Page()
    page.unit, mm = UNITS.get(unit, ("unit", 1.0))
    page.scale_known = unit in UNITS
    drawn = Drawn(limits, file.name, Collector(limits, file.name))
    shown = frozenset(layer.lower() for layer in choice.layers)
    found = lay_out(sketch, document, drawn, mm=mm, conditions=conditions, shown=shown)
    drawn.counts = found.counts
    drawn.notes = {}
    drawn.odd = [f"line {line}: {what}" for what, (line, _) in found.doubts.items()]
    strokes = merge_tables(found.tables)
    x, y = _middle(strokes, mm)
    page.to_mm = (mm, 0.0, 0.0, mm, -mm * x, -mm * y)
    strokes.data.setflags(write=True)
    # first near the origin, then to mm: large coordinates lose nothing
    for move in ((1.0, 0.0, 0.0, 1.0, -x, -y), (mm, 0.0, 0.0, mm, 0.0, 0.0)):
        none = np.zeros(len(strokes.kind), np.int64)
        transform_rows(strokes.kind, strokes.data, np.array([move]), none)
    strokes, dropped = drop_wild(strokes, limits.coordinate)
    uncut = strokes
    strokes, counts = cut_strokes(strokes, drawn, page, limits)
    counts["wild"] = dropped
    if not len(uncut.closed) and found.hidden:
        raise all_hidden(file.name, found.hidden)
    notes += _notes(found, page)
    line_work = assemble(file, drawn, page, strokes, choice, [], counts, uncut)
    return replace(line_work, notes=(*notes, *line_work.notes))


def _space(
    document: Document, layout: str, where: str, notes: list[Note]
) -> tuple[Sketch, int]:
    """Return the space to read and its unit."""
    papers: dict[str, tuple[Sketch, int]] = {}
    for name, block, unit in document.layouts:
        sketch = document.blocks.get(block)
        papers[name] = (
            document.paper if sketch is None else sketch, 4 if unit else 1
        )  # fmt: skip
    if not papers:
        papers["paper"] = (document.paper, document.unit)
    wanted = layout.strip().lower()
    if wanted and wanted != "model":
        for name, space in papers.items():
            if name.lower() == wanted:
                return space
        names = ["model", *papers]
        near = difflib.get_close_matches(layout, names, 1)
        what = f"the drawing has no layout “{layout}”"
        mend = f"did you mean {near[0]}? " if near else ""
        raise ReadError(what, where, f"{mend}layouts: {', '.join(names[:12])}")
    drawn = [name for name, (sketch, _) in papers.items() if _any(sketch)]
    if not wanted and not _any(document.model) and drawn:
        text = f"the model is empty; the layout “{drawn[0]}” was read"
        notes.append(Note("readers", "layout", text))
        return papers[drawn[0]]
    if drawn:
        text = f"the model was read, and not {_several(len(drawn), 'layout')}"
        remedy = f"--layout reads one: {', '.join(drawn[:6])}"
        notes.append(Note("readers", "layout", text, remedy=remedy))
    return document.model, document.unit


def _any(sketch: Sketch) -> bool:
    return bool(len(sketch) or sketch.placings)


def _middle(strokes: StrokeTable, mm: float) -> tuple[float, float]:
    """Return the point that becomes the origin, in the drawing's units.

    The middle one of all first points, so that a few wild lines do not matter; the
    origin itself where the drawing is near it.
    """
    first = strokes.data[:, :2]
    first = first[(np.abs(first) < _MEANT).all(axis=1)]
    if not len(first):
        return 0.0, 0.0
    x, y = np.median(first, axis=0).tolist()
    if max(abs(x), abs(y)) * mm < _FAR:
        return 0.0, 0.0
    return float(round(x)), float(round(y))


def _several(count: int, word: str) -> str:
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"


def _notes(found: Layout, page: Page) -> list[Note]:
    notes = []
    named, others, left = foremost(found.hidden)
    told = [(layer, f"the layer “{layer}”, which is", n) for layer, n in named]
    if others:
        told.append(("NAME", f"{_several(others, 'other layer')}, each", left))
    for layer, where, count in told:
        lines = "line or block" if count == 1 else "lines or blocks"
        text = f"{count:,} {lines} on {where} off, frozen or not plotted, left out"
        remedy = f"--lines “layer={layer}” takes it, or switch the layer on"
        notes.append(Note("readers", "hidden layer", text, remedy=remedy))
    doubts = sorted(found.doubts.items(), key=lambda d: d[1])
    for what, (line, count) in doubts[:MOST_TOLD]:
        more = f"; {count - 1} more" if count > 1 else ""
        text = f"line {line}: {what}{more}"
        notes.append(Note("readers", "not understood", text))
    if len(doubts) > MOST_TOLD:
        text = f"{len(doubts) - MOST_TOLD:,} more was not understood"
        notes.append(Note("readers", "not understood", text))
    if not page.scale_known:
        text = "the drawing states no unit; one unit is taken as 1 mm"
        remedy = "state the true width with --real-width"
        notes.append(Note("readers", "no physical size", text, remedy=remedy))
    return notes
