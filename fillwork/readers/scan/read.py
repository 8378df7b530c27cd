"""A picture in, `LineWork` out: the traced lines in mm, y up, with what is in doubt."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.linework import Doubtful, Frame, LineGroup, LineWork, TraceRecord
from fillwork.notes import Note
from fillwork.readers.scan.circles import length
from fillwork.readers.scan.model import Choices
from fillwork.readers.scan.trace import trace_picture
from fillwork.readers.scan.trails import piece_rows, trail
from fillwork.readers.strokes.notes import refuse_unknown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.readers.scan.model import Drawing, Page
    from fillwork.readers.scan.trace import Traced
    from fillwork.readers.selectors import Choice, Selector, Style
    from fillwork.readers.source import SourceFile

LAYERS = ("final", "doubtful", "pencil")
IN_DOUBT = "tracing in doubt"
"""Type of the note on places in doubt."""
_COLOURS = ("#000000", "#d03010", "#7a7a7a")


def read_picture(file: SourceFile, choice: Choice, choices: Choices | None) -> LineWork:
    """Read the line work of a picture; the lines in mm, y up.

    `choice`: which layers are taken; the scope says nothing here. `choices`: how it is
    traced. Raises `ReadError` if the picture cannot be read. Raises `LineWorkError` if
    it shows no lines, none is left, or a selector names a layer that no picture has.
    """
    refuse_unknown(choice, LAYERS, (), file.name)
    traced = last_traced(
        file.data, file.name, Choices() if choices is None else choices
    )
    return as_linework(traced, file, choice)


@lru_cache(maxsize=1)
def last_traced(data: bytes, name: str, choices: Choices) -> Traced:
    """Return a traced sheet; the last one is kept, as work on it asks again.

    As `trace_picture`; not to be changed. `data`: a picture file.
    """
    return trace_picture(data, name, choices)


def as_linework(traced: Traced, file: SourceFile, choice: Choice) -> LineWork:
    """Return a traced sheet as line work; the lines in mm, y up.

    `choice`: which layers are taken. Raises `LineWorkError` if none is left.
    """
    scale, (width, height) = traced.page.scale, traced.page.size
    kinds: list[int] = []
    rows: list[tuple[float, ...]] = []
    start, style, names, closed = [0], [], [], []
    pen = round(traced.drawing.width / scale, 3)
    styles: tuple[Style, ...] = tuple(
        (layer, colour, pen, False)
        for layer, colour in zip(LAYERS, _COLOURS, strict=True)
    )
    lengths = np.zeros(3)
    counts = np.zeros(3, int)
    for own, index, drawing in _layered(traced):
        piece = drawing.pieces[index]
        found = [
            (kind, row) for kind, row in piece_rows(drawing, piece)
            if kind != LINE or row[:2] != row[2:4]
        ]  # fmt: skip
        if not found:
            continue
        counts[own] += 1
        lengths[own] += length(trail(drawing, piece, 4.0)) / scale
        if not _taken(styles[own], choice):
            continue
        for kind, row in found:
            kinds.append(kind)
            rows.append(_to_mm(kind, row, traced.page))
        start.append(len(rows))
        style.append(own)
        closed.append(piece.vertices[0] == piece.vertices[-1])
        names.append(f"{LAYERS[own]} {index + 1}")
    if not rows:
        what = "none of the traced lines is taken"
        mend = "layers of a picture: final, doubtful, pencil; mend --lines or --leave"
        raise LineWorkError(what, file.name, mend)
    groups = tuple(
        LineGroup(*styles[k], int(counts[k]), float(lengths[k]), k in style)
        for k in range(3)
        if counts[k]
    )
    record, known = record_of(traced), traced.page.scale_known
    to_mm = (1 / scale, 0.0, 0.0, -1 / scale, 0.5 / scale, height - 0.5 / scale)
    return LineWork(
        curves=Curves(np.array(kinds, np.uint8), np.array(rows, np.float64)),
        stroke_start=np.array(start, np.int32),
        closed=np.array(closed, bool),
        style=np.array(style, np.int32),
        styles=styles,
        source_line=np.zeros(len(names), np.int32),
        source_name=tuple(names),
        frame=Frame(width, height, to_mm, "px", scale_known=known, has_page=True),
        file=file.name,
        digest=file.digest,
        groups=groups,
        notes=_notes(traced, record),
        trace=record,
    )


def _layered(traced: Traced) -> Iterator[tuple[int, int, Drawing]]:
    """Iterate over all pieces: the layer, the number in its drawing, and that."""
    first_bridge = len(traced.drawing.pieces) - traced.bridges
    for index in range(len(traced.drawing.pieces)):
        yield int(index >= first_bridge), index, traced.drawing
    if traced.pencil is not None:
        for index in range(len(traced.pencil.pieces)):
            yield 2, index, traced.pencil


def record_of(traced: Traced) -> TraceRecord:
    """Return what a report says about a traced sheet, in mm, y up."""
    page = traced.page
    return TraceRecord(
        sure=traced.sure,
        doubtful=tuple(
            Doubtful(page.to_mm(*d.at), d.what, d.size, d.remedy) for d in traced.doubts
        ),
        page=page.size,
        corners=page.corners,
        pen_width=traced.drawing.width / page.scale,
        dpi=page.scale * 25.4,
        other_pens=traced.other_pens,
    )


def _to_mm(kind: int, row: tuple[float, ...], page: Page) -> tuple[float, ...]:
    if kind == ARC:
        u, v = (row[2], -row[3]), (row[4], -row[5])
        diameters = (number / page.scale for number in (*u, *v))
        return (*page.to_mm(*row[:2]), *diameters, *row[6:])
    points = 4 if kind == CUBIC else 2
    found = [n for k in range(points) for n in page.to_mm(*row[2 * k : 2 * k + 2])]
    return (*found, *[0.0] * (8 - 2 * points))


def _taken(style: Style, choice: Choice) -> bool:
    chosen = not choice.lines or any(_holds(style, s) for s in choice.lines)
    return chosen and not any(_holds(style, s) for s in choice.leave)


def _holds(style: Style, selector: Selector) -> bool:
    return all(condition.fits(style) for condition in selector.conditions)


def _notes(traced: Traced, record: TraceRecord) -> tuple[Note, ...]:
    notes = []
    if not traced.page.scale_known:
        width, height = traced.page.size
        text = f"the sheet's size is not known; {width:.0f} x {height:.0f} mm was taken"
        if sorted((round(width), round(height))) == [210, 297]:
            text += " (A4; A3, A5 and A6 have its shape)"
        remedy = "name it with --sheet-size, such as A5 or 300,400"
        notes.append(Note("readers", "sheet size taken", text, remedy=remedy))
    if traced.page.turn:
        text = (
            f"the scan lay {abs(traced.page.turn):.2f}° askew and was turned straight"
        )
        notes.append(Note("readers", "scan turned", text))
    if traced.frames > 1:
        text = f"the file holds {traced.frames} pictures; the first was traced"
        notes.append(Note("readers", "several pictures", text))
    for at in traced.idle:
        place = f"@{at[0]:g},{at[1]:g}"
        if traced.page.shows(at):
            text = f"beside {place} no ink was left that could become a line"
            remedy = "name the place of a doubt “ink that no line follows”"
        else:
            width, height = traced.page.size
            text = f"{place} lies off the sheet, {width:.0f} x {height:.0f} mm"
            remedy = "name places of this sheet for --inked and --settled"
        notes.append(Note("readers", "place without use", text, remedy=remedy))
    return (*notes, *doubt_notes(record))


def doubt_notes(record: TraceRecord) -> tuple[Note, ...]:
    """Return what is told of the places of a traced sheet that are in doubt."""
    if not record.doubtful:
        return ()
    count, first = len(record.doubtful), record.doubtful[0]
    text = f"{count} place{'s' * (count > 1)} in doubt, the first: {first.what}"
    remedy = "fillwork trace shows each on trace.png; mend the drawing.svg"
    return (Note("readers", IN_DOUBT, text, at=first.at, remedy=remedy),)
