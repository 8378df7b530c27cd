"""Compose a contact sheet: colourways side by side at one scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.renderers.layout import Page, compose_page, shorten
from fillwork.renderers.scene import (
    BLACK,
    GREY_60,
    Box,
    Item,
    Picture,
    Placed,
    Scene,
    Text,
    rectangle,
)
from fillwork.renderers.text.typeset import default_fonts
from fillwork.units import page_size

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits


# mm on paper
_GAP = 8.0  # between cells
_STRIP, _GREY_STRIP = 6.0, 3.0  # heights of swatches, and of their greys below
_LINES = 4  # of words under a cell
_LARGE = 40.0  # mm; a picture that can be judged
_TOGETHER = 0.7  # how much more on one page counts against their size


@dataclass(frozen=True, slots=True, eq=False)
class ContactCell:
    """Hold one colourway."""

    title: str  # its name
    scene: Scene  # the coloured drawing
    # its swatches: colour, the grey of the same lightness, share of the area, and
    # number
    strip: tuple[tuple[str, str, float, str], ...] = ()
    measures: tuple[tuple[str, str], ...] = ()  # three measured figures at most
    words: str = ""  # a sentence under them


@dataclass(frozen=True, slots=True)
class _Look:
    """How all cells look."""

    shown: Box  # part of the drawings that is seen, in their scenes' coordinates
    width: float  # width and height of a picture on paper, mm
    height: float
    told: float  # width of its words, mm
    fonts: FontSet


def repeat_window(
    width: float, height: float, orbits: Orbits, repeats: float = 2.2
) -> Box | None:
    """Return a part of a coloured drawing that shows some repeats.

    In the scene's coordinates; None, for the whole, where it has no repeats or few.

    `width` and `height`: size of the coloured drawing's scene, mm. `repeats`: how many
    are shown at least each way.
    """
    if len(orbits.zones) != 1:
        return None
    lattice = orbits.zones[0].symmetry.lattice
    if lattice is None or len(lattice.basis) != 2:
        return None
    extent = np.abs(lattice.basis).sum(axis=0) * repeats
    side = float(extent.max())
    if side >= 0.8 * min(width, height):
        return None
    x, y = (width - side) / 2, (height - side) / 2
    return (x, y, x + side, y + side)


def compose_contact(
    cells: Sequence[ContactCell],
    *,
    title: str,
    paper: str = "A4-landscape",
    window: Box | None = None,
    columns: Sequence[int] = (3, 4, 5),
    subtitle: str = "Colourways, best first",
    numbered: bool = True,
    one_page: bool = False,
    fonts: FontSet | None = None,
) -> tuple[Scene, ...]:
    """Return coloured drawings in equal cells at one scale.

    `paper`: page name. `window`: part of the drawings to show, in their scenes'
    coordinates; see `repeat_window`. `columns`: how many cells across may be tried.
    `numbered`: number the cells from 1. `one_page`: make them as small as one page
    asks, where the columns allow it.
    """
    fonts = fonts or default_fonts()
    width, height = page_size(paper)
    page = Page(float(width), float(height), foot=6.0)
    page.check()
    left, bottom, right, top = page.body
    whole = (cells[0].scene.width, cells[0].scene.height) if cells else (1.0, 1.0)
    shown: Box = window or (0.0, 0.0, *whole)
    aspect = (shown[3] - shown[1]) / (shown[2] - shown[0])
    figures = max((len(cell.measures[:3]) for cell in cells), default=3)
    told = max((_LINES if cell.words else 0 for cell in cells), default=0)
    strips = any(cell.strip for cell in cells)
    under = _strip_room(strips) + 5.8 + 3.4 * (figures + told)
    least = len(cells) if one_page else 1
    wide, rows = _grid(
        (right - left, top - bottom), under, aspect, len(cells), columns, least
    )
    cell_width = (right - left + _GAP) / wide - _GAP
    cell_height = (top - bottom + _GAP) / rows - _GAP
    size = min(cell_width, max(cell_height - under, 10.0) / aspect)
    step = min(cell_height, size * aspect + under) + _GAP  # no wider apart than wanted
    look = _Look(shown, size, size * aspect, cell_width if one_page else size, fonts)
    pages = []
    count = max(1, -(-len(cells) // (wide * rows)))
    for number in range(count):
        items: list[Item] = []
        batch = cells[number * wide * rows : (number + 1) * wide * rows]
        for k, cell in enumerate(batch):
            row, column = divmod(k, wide)
            x = left + column * (cell_width + _GAP)
            y = top - row * step
            rank = number * wide * rows + k + 1 if numbered else 0
            items += _cell(cell, rank, x, y, look)
        of = f", page {number + 1} of {count}" if count > 1 else ""
        pages.append(
            compose_page(
                page,
                fonts,
                items,
                name=f"contact-{number + 1}",
                words=f"{title}: {subtitle[:1].lower()}{subtitle[1:]}{of}",
                title=title,
                subtitle=f"{subtitle}{of}",
                code=f"K{number + 1}",
            )
        )
    return tuple(pages)


def _grid(
    room: tuple[float, float],
    under: float,
    aspect: float,
    count: int,
    columns: Sequence[int],
    least: int,
) -> tuple[int, int]:
    """Return how many cells across and up show most. `under`: words below each, mm.

    `least`: cells that the page must hold, where the columns allow it.
    """
    best = (0.0, columns[0] if least < 2 else max(columns), 1)
    for wide in columns:
        across = (room[0] + _GAP) / wide - _GAP
        for rows in range(1, wide + 1):
            up = (room[1] + _GAP) / rows - _GAP - under
            if up <= 10 or wide * rows < least:
                continue
            size = min(across, up / aspect)
            # as many at once as stay large enough to judge
            fits = min(wide * rows, max(count, 1))
            score = size * fits**_TOGETHER
            if fits == count and size >= _LARGE:
                score *= 1.25  # side by side is what the sheet is for
            if score > best[0]:
                best = (score, wide, rows)
    return best[1:]


def _cell(
    cell: ContactCell, rank: int, x: float, top: float, look: _Look
) -> list[Item]:
    shown, told, fonts = look.shown, look.told, look.fonts
    bottom, scale = top - look.height, look.width / (shown[2] - shown[0])
    clip: Box = (x, bottom, x + look.width, top)
    place = (scale, 0.0, 0.0, scale, x - shown[0] * scale, bottom - shown[1] * scale)
    name = f"{rank}  {cell.title}" if rank else cell.title
    picture = Picture(cell.scene.items, (0, 0, cell.scene.width, cell.scene.height))
    items: list[Item] = [Placed(picture, place, clip=clip, alt=name)]
    if cell.strip:
        items += _strips(cell, x, bottom - 2 - _STRIP, look.width)
    base = bottom - _strip_room(bool(cell.strip)) - 4.6
    name = shorten(name, 9, told, fonts, "medium")
    items.append(Text((x, base), name, 9, "medium"))
    for k, (what, value) in enumerate(cell.measures[:3]):
        line = base - 3.8 - 3.4 * k
        room = told - fonts.width(value, 7) - 2
        words = shorten(what, 7, room, fonts)
        items.append(Text((x, line), words, 7, colour=GREY_60))
        items.append(Text((x + told, line), value, 7, align="right"))
    line = base - 3.8 - 3.4 * len(cell.measures[:3])
    said = fonts.wrap(cell.words, 7, told) if cell.words else []
    if len(said) > _LINES:
        rest = " ".join(said[_LINES - 1 :])
        said = [*said[: _LINES - 1], shorten(rest, 7, told, fonts)]
    items += [
        Text((x, line - 3.4 * k), words, 7, colour=GREY_60)
        for k, words in enumerate(said)
    ]
    return items


def _strip_room(strips: bool) -> float:
    return 2 + _STRIP + _GREY_STRIP if strips else 0.0


def _strips(cell: ContactCell, x: float, y: float, width: float) -> list[Item]:
    """Return the swatches by their share, and their greys under them."""
    items: list[Item] = []
    total = sum(share for _, _, share, _ in cell.strip) or 1.0
    low = y - _GREY_STRIP
    at = x
    for colour, grey, share, code in cell.strip:
        step = width * share / total
        items += rectangle((at, y, at + step, y + _STRIP), fill=colour, code=code)
        items += rectangle((at, low, at + step, y), fill=grey)
        at += step
    return [*items, *rectangle((x, low, x + width, y + _STRIP), edge=BLACK)]
