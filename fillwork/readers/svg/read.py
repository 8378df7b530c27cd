"""An SVG file in, `LineWork` out: the order in which the parts of reading run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.strokes.assemble import assemble
from fillwork.readers.strokes.clip import cut_strokes
from fillwork.readers.strokes.collect import drop_wild, transform_rows
from fillwork.readers.strokes.outlines import close_outlines
from fillwork.readers.svg.gate.document import parse_xml, prepare_xml
from fillwork.readers.svg.gate.gather import prepare
from fillwork.readers.svg.viewport import OutermostPage
from fillwork.readers.svg.walk import Walk

if TYPE_CHECKING:
    from fillwork.linework import LineWork
    from fillwork.readers.limits import Limits
    from fillwork.readers.selectors import Choice
    from fillwork.readers.source import SourceFile


def read_svg(file: SourceFile, choice: Choice, limits: Limits) -> LineWork:
    """Read the line work of an SVG drawing; all strokes in mm, y up.

    `choice`: selectors and scope. Raises `ReadError` if the file is no SVG or over a
    limit. Raises `LineWorkError` if it holds no lines, or none is left by the
    selectors.
    """
    # numbers without measure run through and are left out where lines are known
    with np.errstate(all="ignore"):
        return _read(file, choice, limits)


def _read(file: SourceFile, choice: Choice, limits: Limits) -> LineWork:
    text = prepare_xml(file)
    prepared = prepare(text, limits)
    page = OutermostPage()
    drops = choice.hidden != "keep"
    walk = Walk(prepared, limits, choice.names, file.name, page, drops=drops)
    outside = parse_xml(text, limits, walk.start, walk.end, setup=walk.setup)
    walk.line_shift = text.first_line - 1
    del text
    strokes = walk.collector.finish()
    maps = walk.collector.matrices(page.to_mm)
    context = np.array(walk.collector.item_context, np.int64)
    of_curve = context[strokes.item][strokes.owner()]
    strokes.data.setflags(write=True)
    transform_rows(strokes.kind, strokes.data, maps, of_curve)
    strokes, dropped = drop_wild(strokes, limits.coordinate)
    # a fill ends at a straight line where its outline is open, also when cut
    contexts = walk.collector.contexts
    fills = np.array([c.filled and not (c.stroked or c.laid) for c in contexts], bool)
    strokes = close_outlines(strokes, fills[context[strokes.item]])
    uncut = strokes
    strokes, counts = cut_strokes(uncut, walk, page, limits)
    counts["wild"] = dropped
    return assemble(file, walk, page, strokes, choice, outside, counts, uncut)
