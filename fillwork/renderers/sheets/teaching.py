"""What a class needs besides the sheets: a half-done model, trials, an overview.

That a class works from black copies on A4, with a coloured answer for the wall and
small studies first, is common practice (no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.notes import Note
from fillwork.plans.words import joined
from fillwork.renderers.layout import shorten
from fillwork.renderers.scene import (
    BLACK,
    GREY_60,
    Box,
    Item,
    Placed,
    Text,
    rectangle,
    segments,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Ints
    from fillwork.renderers.sheets.parts import Parts
    from fillwork.renderers.text.typeset import FontSet

_TRIALS = 6
"""Small drawings on one page."""

_ADULTS = frozenset({"enamel", "leaf", "lime wash", "oil", "silicate paint"})
"""Media with oil size, solvents, lime or strong alkali (common practice, no source)."""

_GAP = 6.0
_FIELD, _BETWEEN = 5.0, 1.0
"""Side of an empty field under a trial, and what parts it from the next, mm."""


@dataclass(frozen=True, slots=True)
class PackRow:
    """Hold one line of the overview."""

    code: str  # page codes
    what: str  # the sheet in words
    pages: int  # how many pages it has
    copies: int  # how many of each are wanted
    pupil: bool  # whether each pupil has it


def class_notes(parts: Parts) -> tuple[Note, ...]:
    """Return a note where paints that are used are none for a class."""
    swatches = parts.colouring.palette.swatches
    used = {entry.place for entry in parts.entries}
    named = [
        s.name for k, s in enumerate(swatches) if k in used and s.medium in _ADULTS
    ]
    if not named:
        return ()
    plural = "is no paint" if len(named) == 1 else "are no paints"
    text = f"{joined(named)} {plural} for a class: size, solvents or lime go with it"
    remedy = (
        "take a palette of pencils, markers or gouache that are labelled for children"
    )
    return (Note("renderers", "not for a class", text, remedy=remedy),)


def model_faces(parts: Parts) -> Ints:
    """Return the regions that a half-done model shows coloured: one figure.

    A region and all that touch it along a side. It is a star where a kind is named so,
    else the region with most neighbours; whole where one is, and near the middle of the
    drawing.
    """
    arrangement, orbits = parts.arrangement, parts.orbits
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    count = np.bincount(np.r_[left, right], minlength=arrangement.face_count)
    worn = parts.colouring.of_face >= 0
    worn[0] = False
    star = np.zeros(arrangement.face_count, bool)
    for orbit in orbits.orbits:
        star[orbit.faces] = "star" in orbit.name
    middle = np.array([(parts.box[k] + parts.box[k + 2]) / 2 for k in (0, 1)])
    far = np.linalg.norm(arrangement.witness - middle, axis=1)
    # the whole before the cut, stars before others, then those with many sides,
    # in steps, so that of many alike the one nearest the middle is taken
    steps = np.floor(np.log2(np.maximum(count, 1)) * 2)
    order = np.lexsort((far, -steps, ~star, orbits.cut, ~worn))
    first = int(order[0])
    beside = np.r_[right[left == first], left[right == first]]
    faces = np.unique(np.r_[first, beside])
    # a ground that reaches through the whole drawing would colour it all
    large = parts.arrangement.area[faces] > 0.25 * parts.arrangement.area.sum()
    keep = worn[faces] & ((faces == first) | ~large)
    found: Ints = faces[keep].astype(np.int64)
    return found


def compose_trials(parts: Parts, body: Box) -> tuple[list[Item], float]:
    """Return several small drawings with fields to try colours in.

    `body`: room on the page, mm. Returns
    `items`: outlines, and under each as many empty fields as there are paints; `scale`:
    paper mm for one mm of the drawing.
    """
    left, bottom, right, top = body
    width, height = parts.size
    fields = min(len(parts.entries), 8)
    best = (0.0, 1, 1, 1)
    for columns in (1, 2, 3, 6):
        rows = _TRIALS // columns
        wide = (right - left + _GAP) / columns - _GAP
        # under a narrow drawing the fields stand in several rows
        across = max(1, min(fields, int((wide + _BETWEEN) // (_FIELD + _BETWEEN))))
        under = -(-fields // across) * (_FIELD + _BETWEEN) + _BETWEEN
        high = (top - bottom + _GAP) / rows - _GAP - under
        best = max(best, (min(wide / width, high / height), columns, rows, across))
    scale, columns, rows, across = best
    wide = (right - left + _GAP) / columns - _GAP
    high = (top - bottom + _GAP) / rows - _GAP
    outline = parts.outline_picture(scale)
    m = parts.map_to_paper(scale)
    items: list[Item] = []
    step = _FIELD + _BETWEEN
    for k in range(_TRIALS):
        row, column = divmod(k, columns)
        x = left + column * (wide + _GAP) + (wide - width * scale) / 2
        y = top - row * (high + _GAP) - height * scale
        place = affine.compose(affine.translation(x, y), m)
        items.append(Placed(outline, place, alt=f"{parts.title}: trial {k + 1}"))
        x0 = left + column * (wide + _GAP) + (wide - across * step) / 2
        for n in range(fields):
            down, along = divmod(n, across)
            a, b = x0 + step * along, y - 1.5 - step * down
            box = (a, b - _FIELD, a + _FIELD, b)
            items += rectangle(box, edge=GREY_60, width=0.2)
    return items, scale


def compose_overview(
    rows: Sequence[PackRow],
    pupils: int,
    body: Box,
    own: int,
    before: int,
    fonts: FontSet,
) -> list[tuple[list[Item], float]]:
    """Return the table of what a class gets, and what it takes in paper.

    `pupils`: how many there are. `body`: room on a page, mm. `own`: pages of the
    overview itself, those of its key included. `before`: pages of the teacher's set
    after them. Returns of each page `items`: rows and sentences; and `below`: where
    they end, mm.
    """
    left, bottom, right, top = body
    small = right - left < 130
    size, step = (7.0, 4.4) if small else (9.0, 6.0)
    codes = max((fonts.width(row.code, size) for row in rows), default=0.0)
    start, apart = left + max(codes, 10.0) + 4.0, 11.0 if small else 20.0
    columns = [(left, "left"), (start, "left")]
    columns += [(right - k * apart, "right") for k in (2, 1, 0)]
    room = right - 2 * apart - 10.0 - start
    heads = ("Page", "Sheet", "Pages", "Copies", "Paper")
    paper = sum(row.pages * row.copies for row in rows)
    table = [
        (
            row.code,
            shorten(row.what, size, room, fonts),
            str(row.pages),
            str(row.copies),
            str(row.pages * row.copies),
        )
        for row in rows
    ]
    these = "this page" if own == 1 else f"these {own} pages"
    table.append(("", f"With {these}", "", "", str(paper + own)))
    pages: list[tuple[list[Item], float]] = []
    items: list[Item] = []
    y = bottom
    for k, cells in enumerate(table, start=1):
        if y - step < bottom:
            if items:
                pages.append((items, y))
            items, y = [], top - 4.0
            for (x, align), words in zip(columns, heads, strict=True):
                head = Text((x, y), words, size, "medium", align=align, role="TH")
                items.append(head)
            items.append(segments([[left, y - 1.6, right, y - 1.6]], 0.2, BLACK))
        if k == len(table):
            items.append(segments([[left, y - 1.6, right, y - 1.6]], 0.2, BLACK))
        y -= step
        for (x, align), words in zip(columns, cells, strict=True):
            if words:
                at = (x, y)
                items.append(Text(at, words, size, align=align, role="TD", row=k))
    line = 0.5 * size
    y -= 4.0
    for sentence in _pack_sentences(rows, pupils, own + before):
        wrapped = fonts.wrap(sentence, size, right - left)
        if y - line * len(wrapped) < bottom:
            pages.append((items, y))
            items, y = [], top
        for words in wrapped:
            y -= line
            items.append(Text((left, y), words, size))
        y -= 2.0
    return [*pages, (items, y)]


def _pack_sentences(rows: Sequence[PackRow], pupils: int, first: int) -> list[str]:
    """Return which pages of the file the pupils get, and how all are printed.

    `first`: pages of the file before the first pupil's.
    """
    own = sum(row.pages for row in rows if row.pupil)
    last, plural = first + own * pupils, "s" * (own != 1)
    once = f"{first + 1} to {first + own}" if own > 1 else f"{first + 1}"
    at = f"pages {first + 1} to {last}" if last > first + 1 else f"page {last}"
    mine = (
        f"The pupils' sets, {own} page{plural} each, are {at} of this file. To copy "
        f"instead: print page{plural} {once} once, and make {pupils} copies of each."
    )
    if pupils == 1:
        mine = f"The pupil's set is {at} of this file."
    if own == 0:
        mine = "The sheets chosen give no page for pupils."
    return [
        mine,
        "Print at 100 %, on one side. Pencils, markers or paints for children only "
        "where their label says so; local rules come first.",
    ]
