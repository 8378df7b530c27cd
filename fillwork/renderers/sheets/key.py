"""Compose the key of a sheet: swatch, number, name, pigment, count and area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.renderers.layout import format_area, shorten
from fillwork.renderers.scene import BLACK, GREY_60, WHITE, Box, Item, Text, rectangle
from fillwork.renderers.sheets.hatching import hatch_swatch
from fillwork.renderers.text.bars import code_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Colouring
    from fillwork.renderers.text.typeset import FontSet


UNPAINTED = "left unpainted"
"""What the key says of a swatch that stands for the bare surface."""

ENTRY = 12.0
"""Height of one entry, mm."""

COLUMN = 52.0
"""Width of one column, mm."""

FOOT_ROW = 6.0
"""Height of one row of the compact key at the foot of a sheet, mm."""

_GAP = 4.0
_SWATCH = 8.0
_FOOT_SWATCH = 4.4
_FOOT_MOST = 62.0
_FOOT_CODE = 24.0  # of codes, mm
_FOOT_SIZES = (9.0, 8.0, 7.0)  # of names, pt: the largest at which all fit


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """Hold one line of a key."""

    place: int  # place of the swatch in the palette
    code: str  # code, name and hex: as in the palette
    name: str
    hex: str
    details: str  # pigments and medium
    count: int  # regions that bear it
    area: float  # their area, real where known, mm²
    pattern: int = -1  # hatch that stands for the colour on black copies; -1 for none
    size: str = ""  # the area in words, in the unit of the whole key


def fit_code(
    code: str, size: float, room: float, fonts: FontSet
) -> tuple[str, float, float]:
    """Return a paint's code as it stands before its name, and its size and width.

    `size`, pt: at best; down to 7 pt, and at last cut short. `room`: most, mm.
    """
    for smaller in (size, 9.0, 7.0):
        width = fonts.width(code, smaller, "medium")
        if width <= room:
            return code, smaller, width
    code = shorten(code, 7.0, room, fonts, "medium")
    return code, 7.0, fonts.width(code, 7.0, "medium")


def key_swatch(entry: KeyEntry, box: Box) -> list[Item]:
    """Return the square of a paint: its colour, or its hatch; a framed square.

    `box`: left, bottom, right, top, mm.
    """
    if entry.pattern < 0:
        return rectangle(box, fill=entry.hex, edge=BLACK)
    lines = hatch_swatch(entry.pattern, box[0], box[1], box[2] - box[0])
    return [*rectangle(box, fill=WHITE, edge=BLACK), lines]


def key_entries(
    arrangement: Arrangement, colouring: Colouring, area_scale: float
) -> tuple[KeyEntry, ...]:
    """Return an entry for each swatch that a region bears.

    In the order of the palette. `area_scale`: real area for one mm² of the drawing.
    """
    swatches = colouring.palette.swatches
    worn = colouring.of_face >= 0
    of_face = colouring.of_face[worn]
    count = np.bincount(of_face, minlength=len(swatches))
    area = np.bincount(of_face, arrangement.area[worn], len(swatches)) * area_scale
    bare = {name.casefold() for name in colouring.rules.bare}
    entries = []
    for place, swatch in enumerate(swatches):
        if count[place] == 0:
            continue
        details = [", ".join(swatch.pigments), swatch.medium]
        if bare & {swatch.name.casefold(), swatch.code.casefold()}:
            details = [UNPAINTED]
        entries.append(
            KeyEntry(
                place,
                swatch.code,
                swatch.name,
                swatch.hex,
                " · ".join(d for d in details if d),
                int(count[place]),
                float(area[place]),
                size=format_area(float(area[place]), float(area.sum())),
            )
        )
    return tuple(entries)


def key_capacity(box: Box) -> tuple[int, int]:
    """Return how many columns and rows of entries a box holds.

    `box`: left, bottom, right, top, mm. Returns `columns` and `rows`: at least one
    column.
    """
    left, bottom, right, top = box
    columns = max(1, int((right - left + _GAP) // (COLUMN + _GAP)))
    return columns, max(0, int((top - bottom + 1e-6) // ENTRY))


def compose_key(entries: Sequence[KeyEntry], box: Box, fonts: FontSet) -> list[Item]:
    """Return entries in columns, from the top left down.

    `box`: left, bottom, right, top, mm.
    """
    left, _, right, top = box
    columns, rows = key_capacity(box)
    columns = max(1, min(columns, -(-len(entries) // max(rows, 1))))
    rows = -(-len(entries) // columns) if columns > 1 else max(rows, len(entries))
    width = min((right - left + _GAP) / columns - _GAP, COLUMN + 16)
    items: list[Item] = []
    for k, entry in enumerate(entries):
        column, row = divmod(k, max(rows, 1))
        x = left + column * (width + _GAP)
        y = top - row * ENTRY
        items += _compose_entry(entry, x, y, width, fonts, row=k)
    return items


def fill_key(
    entries: tuple[KeyEntry, ...], box: Box, fonts: FontSet
) -> tuple[list[Item], tuple[KeyEntry, ...]]:
    """Return the key as far as a box holds it.

    `box`: left, bottom, right, top, mm. Returns `items`: the entries that the box
    holds; `rest`: the others.
    """
    columns, rows = key_capacity(box)
    shown = columns * rows
    return compose_key(entries[:shown], box, fonts), entries[shown:]


def _compose_entry(
    entry: KeyEntry, x: float, top: float, width: float, fonts: FontSet, *, row: int = 0
) -> list[Item]:
    """Return one entry.

    `x` and `top`: upper left corner, mm. `width`: room, mm. `row`: row in the table.
    """
    items = key_swatch(entry, (x, top - _SWATCH - 1, x + _SWATCH, top - 1))
    code, size, number = fit_code(entry.code, 12.0, 0.5 * (width - 11), fonts)
    items += code_text(code, (x + 11, top - 4.9), size, fonts, row=row)
    text_x = x + max(19.0, 11 + number + 2)
    room = x + width - text_x
    name = shorten(entry.name, 9, room, fonts, "medium")
    items.append(Text((text_x, top - 3.6), name, 9, "medium", role="TD", row=row))
    plural = "" if entry.count == 1 else "s"
    measure = f"{entry.count} region{plural}, {entry.size}"
    lines = [entry.details, measure] if entry.details else [measure]
    for k, line in enumerate(lines):
        at = (text_x, top - 6.7 - 2.8 * k)
        words = shorten(line, 7, room, fonts)
        items.append(Text(at, words, 7, colour=GREY_60, role="TD", row=row))
    return items


def foot_columns(
    entries: Sequence[KeyEntry], width: float, fonts: FontSet
) -> tuple[int, float]:
    """Return how many columns a compact key has in a width, and how wide each is.

    `width`: room, mm. Returns `columns`: one at least; `column`: width of each without
    the gap after it, mm.
    """
    widest = max((_foot_width(e, fonts) for e in entries), default=0.0)
    columns = max(1, int((width + _GAP) // (min(widest, _FOOT_MOST) + _GAP)))
    columns = min(columns, max(1, len(entries)))
    # rows filled evenly
    rows = -(-len(entries) // columns)
    columns = max(1, -(-len(entries) // max(rows, 1)))
    return columns, min((width + _GAP) / columns - _GAP, _FOOT_MOST)


def _foot_start(entry: KeyEntry, fonts: FontSet) -> float:
    *_, number = fit_code(entry.code, 9.0, _FOOT_CODE, fonts)
    return _FOOT_SWATCH + 1.6 + max(number, 3.4) + 1.6


def _foot_width(entry: KeyEntry, fonts: FontSet) -> float:
    """Return the width of one entry of a compact key, mm."""
    words = fonts.width(entry.name, 9) + 2 + fonts.width(entry.size, 7)
    return _foot_start(entry, fonts) + words


def compose_foot_key(
    entries: Sequence[KeyEntry], box: Box, fonts: FontSet
) -> tuple[list[Item], int]:
    """Return a compact key: rows of swatch, number, name and area.

    `box`: left, bottom, right, top, mm. Returns `items`: swatches and words, row by row
    from the top left; `shown`: how many entries found room.
    """
    left, bottom, right, top = box
    columns, width = foot_columns(entries, right - left, fonts)
    shown = columns * int((top - bottom + 1e-6) // FOOT_ROW)
    held = entries[:shown]
    rooms = [width - _foot_start(entry, fonts) for entry in held]
    size = next(
        s
        for s in _FOOT_SIZES
        if s == _FOOT_SIZES[-1]
        or all(
            fonts.width(entry.name, s) <= room
            for entry, room in zip(held, rooms, strict=True)
        )
    )
    # a name goes before its area
    names = [
        shorten(entry.name, size, room, fonts)
        for entry, room in zip(held, rooms, strict=True)
    ]
    afters = [fonts.width(name, size) + 2 for name in names]
    areas = all(  # of all paints, or of none
        after + fonts.width(entry.size, 7) <= room + 0.01
        for entry, after, room in zip(held, afters, rooms, strict=True)
    )
    items: list[Item] = []
    for k, entry in enumerate(held):
        row, column = divmod(k, columns)
        x = left + column * (width + _GAP)
        y = top - (row + 1) * FOOT_ROW + 1.2
        square = (x, y - 0.7, x + _FOOT_SWATCH, y - 0.7 + _FOOT_SWATCH)
        items += key_swatch(entry, square)
        at = (x + _FOOT_SWATCH + 1.6, y)
        code, high, _ = fit_code(entry.code, 9.0, _FOOT_CODE, fonts)
        items += code_text(code, at, high, fonts, row=k)
        start = x + width - rooms[k]
        items.append(Text((start, y), names[k], size, role="TD", row=k))
        if areas:
            at = (start + afters[k], y)
            items.append(Text(at, entry.size, 7, colour=GREY_60, role="TD", row=k))
    return items, min(shown, len(entries))
