"""Cover a sheet that is larger than the paper with pages that are joined.

A *tile* is what one page shows of the sheet; neighbours show the same strip, the
overlap. Pages on which nothing of the sheet would stand are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError, RenderError
from fillwork.renderers.layout import FOOT, Page
from fillwork.renderers.scene import (
    BLACK,
    GREY_60,
    Box,
    Item,
    Strokes,
    Text,
    circles,
    segments,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.renderers.typeset import FontSet

__all__ = [
    "MOST_TILES",
    "Tile",
    "TilePlan",
    "compose_page_map",
    "compose_registration",
    "count_tiles",
    "plan_tiles",
]

MOST_TILES = 2000
"""Most pages that one sheet is laid out on."""


@dataclass(frozen=True, slots=True)
class Tile:
    """Hold one page of a sheet that is larger than the paper.

    Parameters
    ----------
    code : str
        Column letter and row number, ``A1`` top left.
    window : tuple of float
        What the page shows, in the sheet's coordinates, mm.
    joints_x, joints_y : tuple of float
        Where pages join within this one, in the sheet's coordinates.
    """

    code: str
    window: Box
    joints_x: tuple[float, ...]
    joints_y: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TilePlan:
    """Hold all pages of a sheet that is larger than the paper.

    Parameters
    ----------
    page : Page
        Their size.
    columns, rows : int
        How many there are.
    tiles : tuple of Tile
        Row by row from the top left.
    """

    page: Page
    columns: int
    rows: int
    tiles: tuple[Tile, ...]


def _letters(number: int) -> str:
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text


def plan_tiles(
    papers: Sequence[tuple[float, float]],
    width: float,
    height: float,
    overlap: float,
    band: float = 0.0,
) -> TilePlan:
    """Return pages that cover a sheet, as few as possible.

    Parameters
    ----------
    papers : sequence of (float, float)
        Page sizes to choose from.
    width, height : float
        Size of the sheet.
    overlap : float
        How far neighbouring pages show the same strip.
    band : float
        Height that a key takes at the foot of each, mm.

    Returns
    -------
    TilePlan
        The pages; what is left over is shared equally by opposite sides.

    Raises
    ------
    PlanError
        If the overlap leaves no new ground on a page, or there would be more
        than 2,000 pages.
    """
    page, columns, rows, across, up = _grid(papers, width, height, overlap, band)
    if columns * rows > MOST_TILES:
        what = f"the sheet would need {columns * rows} pages"
        raise PlanError(what, mend="take larger paper, or say --fit page")
    step_x, step_y = across - overlap, up - overlap
    x0 = (width - (columns * step_x + overlap)) / 2
    y1 = height + ((rows * step_y + overlap) - height) / 2
    tiles = []
    for r in range(rows):
        for c in range(columns):
            left, top = x0 + c * step_x, y1 - r * step_y
            window = (left, top - up, left + across, top)
            joints_x = [left + overlap / 2] if c else []
            joints_x += [left + across - overlap / 2] if c < columns - 1 else []
            joints_y = [top - overlap / 2] if r else []
            joints_y += [top - up + overlap / 2] if r < rows - 1 else []
            tiles.append(
                Tile(f"{_letters(c)}{r + 1}", window, tuple(joints_x), tuple(joints_y))
            )
    return TilePlan(page, columns, rows, tuple(tiles))


def _grid(
    papers: Sequence[tuple[float, float]],
    width: float,
    height: float,
    overlap: float,
    band: float,
) -> tuple[Page, int, int, float, float]:
    """Return the page that needs fewest, columns, rows, and a page's room."""
    best: tuple[int, int, int, Page, float, float] | None = None
    for paper in papers:
        page = Page(*paper, head=8.0, foot=FOOT + band)
        page.check()
        left, bottom, right, top = page.body
        across, up = right - left, top - bottom
        if not 0 <= overlap <= min(across, up) / 2:
            what = f"an overlap of {overlap:g} mm does not suit this paper"
            raise PlanError(what, mend=f"take from 0 to {min(across, up) / 2:.0f} mm")
        columns = max(1, math.ceil((width - overlap) / (across - overlap) - 1e-9))
        rows = max(1, math.ceil((height - overlap) / (up - overlap) - 1e-9))
        if best is None or columns * rows < best[0]:
            best = (columns * rows, columns, rows, page, across, up)
    if best is None:
        what = "no page was tried"
        raise RenderError(what)
    _, columns, rows, page, across, up = best
    return page, columns, rows, across, up


def count_tiles(
    papers: Sequence[tuple[float, float]],
    width: float,
    height: float,
    overlap: float,
    band: float = 0.0,
) -> int:
    """Return how many pages a sheet needs at the least.

    Parameters
    ----------
    papers, width, height, overlap, band
        As for `plan_tiles`.

    Returns
    -------
    int
        Pages, without the one that has the key.

    Raises
    ------
    PlanError
        If the overlap leaves no new ground on a page.
    """
    _, columns, rows, *_ = _grid(papers, width, height, overlap, band)
    return columns * rows


def compose_registration(
    tile: Tile, shift: tuple[float, float]
) -> tuple[list[Item], list[Box]]:
    """Return the crosses by which pages are laid on each other.

    Parameters
    ----------
    tile : Tile
        The page.
    shift : tuple of float
        From the sheet's coordinates to the page's, mm.

    Returns
    -------
    items : list of items
        Crosses with a ring; those of neighbouring pages coincide.
    boxes : list of boxes
        Where they stand on the page, mm.
    """
    left, bottom, right, top = tile.window
    inset = 5.0
    points = set()
    ys = tile.joints_y or ()
    xs = tile.joints_x or ()
    for x in xs:
        for y in ys or (bottom + inset, top - inset):
            points.add((x, y))
        if len(ys) == 1:
            points.add(
                (x, bottom + inset if ys[0] > (bottom + top) / 2 else top - inset)
            )
    for y in ys:
        for x in xs or (left + inset, right - inset):
            points.add((x, y))
        if len(xs) == 1:
            points.add(
                (left + inset if xs[0] > (left + right) / 2 else right - inset, y)
            )
    if not points:
        return [], []
    at = np.array(sorted(points)) + np.array(shift)
    level = np.array([4.0, 0.0])
    lines = np.concatenate(
        [
            np.hstack([at - level, at + level]),
            np.hstack([at - level[::-1], at + level[::-1]]),
        ]
    )
    rings, start = circles(at, 1.5)
    items: list[Item] = [
        segments(lines, 0.12, BLACK),
        Strokes(rings, start, np.ones(len(at), bool), 0.12, BLACK, layer=""),
    ]
    boxes: list[Box] = [(x - 4, y - 4, x + 4, y + 4) for x, y in at.tolist()]
    return items, boxes


def compose_page_map(
    plan: TilePlan,
    width: float,
    height: float,
    box: Box,
    fonts: FontSet,
) -> list[Item]:
    """Return a small plan of how pages lie, with their codes.

    Parameters
    ----------
    plan : TilePlan
        The pages.
    width, height : float
        Size of the sheet.
    box : tuple of float
        Where the plan stands: the sheet's own frame fills it.
    fonts : FontSet
        Fonts.

    Returns
    -------
    list of items
        Frames and codes.
    """
    left, bottom, right, top = box
    k = min((right - left) / width, (top - bottom) / height)
    lines = []
    items: list[Item] = []
    for tile in plan.tiles:
        a, b, c, d = (
            left + tile.window[0] * k,
            bottom + tile.window[1] * k,
            left + tile.window[2] * k,
            bottom + tile.window[3] * k,
        )
        lines += [[a, b, c, b], [c, b, c, d], [c, d, a, d], [a, d, a, b]]
        size = min(12.0, (d - b) * 1.2, (c - a) * 0.8)
        if size >= 2:
            middle = (b + d) / 2 - size * 25.4 / 72 * 0.36
            at = ((a + c) / 2, middle)
            items.append(Text(at, tile.code, size, "medium", align="centre"))
    return [segments(lines, 0.25, GREY_60), *items]
