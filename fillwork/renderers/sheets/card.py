"""Compose the swatch card: fields to paint before the piece is begun."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.renderers.layout import shorten
from fillwork.renderers.scene import BLACK, GREY_60, Box, Item, Text, rectangle
from fillwork.renderers.sheets.key import fit_code
from fillwork.renderers.text.bars import code_text

if TYPE_CHECKING:
    from fillwork.renderers.sheets.parts import Parts


_CELL = (60.0, 52.0)
_GAP = 4.0


def compose_card(parts: Parts, body: Box) -> list[list[Item]]:
    """Return the card, page by page.

    For each paint: its colour, a field to paint beside it, number, name, pigments, and
    the mix where there is one.

    `body`: where the fields stand on a page, mm.
    """
    left, bottom, right, top = body
    columns = max(1, int((right - left + _GAP) // (_CELL[0] + _GAP)))
    rows = max(1, int((top - bottom + _GAP) // (_CELL[1] + _GAP)))
    width = (right - left + _GAP) / columns - _GAP
    mixes: dict[int, str] = {}
    if parts.schedule is not None:
        for swatch, recipe, _, _ in parts.schedule.mixes:
            mixes.setdefault(swatch, f"Mix: {recipe}")
        for swatch, _, miss in parts.schedule.refused:
            mixes[swatch] = f"No mix of the paints on hand: nearest ΔE00 {miss:.1f}"
    fonts = parts.fonts
    pages: list[list[Item]] = []
    for k, entry in enumerate(parts.entries):
        if k % (columns * rows) == 0:
            pages.append([])
        row, column = divmod(k % (columns * rows), columns)
        x = left + column * (width + _GAP)
        y = top - row * (_CELL[1] + _GAP)
        field = 32.0
        half = width / 2
        items = pages[-1]
        # the colour and the field meet: the eye compares best at an edge
        items += rectangle((x, y - field, x + half, y), fill=entry.hex)
        items += rectangle((x, y - field, x + width, y), edge=BLACK)
        code, size, number = fit_code(entry.code, 12.0, 0.5 * width, fonts)
        items += code_text(code, (x, y - field - 5.0), size, fonts, row=k)
        offset = max(8.0, number + 2.5)
        room = width - offset
        name = shorten(entry.name, 9, room, fonts, "medium")
        items.append(
            Text((x + offset, y - field - 4.6), name, 9, "medium", role="TD", row=k)
        )
        base = y - field - 8.6
        lines = [entry.details] if entry.details else []
        if entry.place in mixes:
            lines += fonts.wrap(mixes[entry.place], 7, room)[:2]
        for line in lines:
            words = shorten(line, 7, room, fonts)
            at = (x + offset, base)
            items.append(Text(at, words, 7, colour=GREY_60, role="TD", row=k))
            base -= 3.0
    return pages or [[]]
