"""Cover a sheet that is larger than the paper with pages that are joined.

A *tile* is what one page shows of the sheet; neighbours show the same strip, the
overlap. Pages on which nothing of the sheet would stand are left out.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.renderers.layout import FOOT, Page
from fillwork.renderers.scene import (
    BLACK,
    GREY_60,
    WHITE,
    Box,
    Item,
    Text,
    circle_lines,
    rectangle,
    segments,
)
from fillwork.renderers.text.typeset import CAP_HEIGHT
from fillwork.symmetry.kinds.orbits import letters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Floats
    from fillwork.renderers.text.typeset import FontSet

MOST_TILES = 2000
"""Most pages that one sheet is laid out on."""


@dataclass(frozen=True, slots=True)
class Tile:
    """Hold one page of a sheet that is larger than the paper."""

    code: str  # column letter and row number, ``A1`` top left
    window: Box  # what the page shows, in the sheet's coordinates, mm
    # what is this page's own: between the lines on which pages join, and the sheet's
    # edges
    cell: Box


@dataclass(frozen=True, slots=True)
class TilePlan:
    """Hold all pages of a sheet that is larger than the paper."""

    page: Page  # their size
    columns: int  # columns and rows: how many there are
    rows: int
    tiles: tuple[Tile, ...]  # row by row from the top left
    # joints_x and joints_y: where pages join, from the sheet's left and lower edge, mm
    joints_x: tuple[float, ...]
    joints_y: tuple[float, ...]


def plan_tiles(
    papers: Sequence[tuple[float, float]],
    width: float,
    height: float,
    overlap: float,
    band: float = 0.0,
) -> TilePlan:
    """Return pages that cover a sheet, as few as possible.

    They join on lines that can be snapped on the panel: a round number of mm apart,
    counted from its centre line outwards.

    The pages; those at opposite edges are equally wide. `papers`: page sizes to choose
    from. `width` and `height`: size of the sheet. `overlap`: how far neighbouring pages
    show the same strip. `band`: height that a key takes at the foot of each, mm. Raises
    `PlanError` if the overlap leaves no new ground on a page, or there would be more
    than 2,000 pages.
    """
    page, columns, rows, across, up = _grid(papers, width, height, overlap, band)
    if columns * rows > MOST_TILES:
        what = f"the sheet would need {columns * rows} pages"
        raise PlanError(what, mend="take larger paper, or say --fit page")
    joints_x = _joints(width, columns, across, overlap)
    joints_y = _joints(height, rows, up, overlap)
    xs = [0.0, *joints_x, width]
    ys = [0.0, *joints_y, height]
    tiles = []
    for r in range(rows):
        for c in range(columns):
            cell = (xs[c], ys[rows - 1 - r], xs[c + 1], ys[rows - r])
            # half of the overlap lies beyond each joint, none beyond the edges
            wide = overlap / 2 * ((c < columns - 1) - (c > 0))
            high = overlap / 2 * ((r > 0) - (r < rows - 1))
            left = (cell[0] + cell[2] + wide - across) / 2
            bottom = (cell[1] + cell[3] + high - up) / 2
            window = (left, bottom, left + across, bottom + up)
            tiles.append(Tile(f"{letters(c)}{r + 1}", window, cell))
    return TilePlan(page, columns, rows, tuple(tiles), tuple(joints_x), tuple(joints_y))


def _joints(length: float, count: int, room: float, overlap: float) -> list[float]:
    """Return where pages join along one side: a round number apart from the middle.

    Examples
    --------
    >>> _joints(345.0, 3, 190.0, 10.0)
    [112.5, 232.5]
    >>> _joints(600.0, 4, 190.0, 10.0)
    [150.0, 300.0, 450.0]
    """
    if count < 2:
        return []
    even, most = length / count, room - overlap
    # the pages at the edges have an overlap on one side only
    least = (length - 2 * room + overlap) / (count - 2) if count > 2 else 0.0
    steps = [math.ceil(even / unit - 1e-9) * unit for unit in (50.0, 10.0, 5.0, 1.0)]
    steps += [math.floor(most), most]
    # round, but not so wide that the pages at the edges are slivers
    wide = max(0.8 * even + 0.2 * most, min(even, most))
    good = [s for s in steps[:4] if least <= s <= min(most, wide) + 1e-9]
    good += [s for s in steps[4:] if s >= least - 1e-9]
    return [length / 2 + (k - count / 2) * good[0] for k in range(1, count)]


def _grid(
    papers: Sequence[tuple[float, float]],
    width: float,
    height: float,
    overlap: float,
    band: float,
) -> tuple[Page, int, int, float, float]:
    """Return the page that needs fewest, columns, rows, and a page's room."""
    found = []
    for paper in papers:
        page = Page(*paper, head=8.0, foot=FOOT + band)
        page.check()
        left, bottom, right, top = page.body
        across, up = right - left, top - bottom
        if not 0 <= overlap <= min(across, up) / 2:
            what = f"an overlap of {overlap:g} mm does not suit this paper"
            raise PlanError(what, mend=f"take from 0 to {min(across, up) / 2:.0f} mm")
        columns = _count(width, across, overlap)
        rows = _count(height, up, overlap)
        found.append((page, columns, rows, across, up))
    return min(found, key=lambda grid: grid[1] * grid[2])


def _count(length: float, room: float, overlap: float) -> int:
    """Return how many pages a length takes; one needs no overlap."""
    if length <= room * (1 + 1e-9):
        return 1
    return max(2, math.ceil((length - overlap) / (room - overlap) - 1e-9))


def count_tiles(
    papers: Sequence[tuple[float, float]],
    width: float,
    height: float,
    overlap: float,
    band: float = 0.0,
) -> int:
    """Return how many pages a sheet needs at the least.

    Pages, without the one that has the key. `papers`, `width`, `height`, `overlap`,
    `band`: as for `plan_tiles`. Raises `PlanError` if the overlap leaves no new ground
    on a page.
    """
    _, columns, rows, *_ = _grid(papers, width, height, overlap, band)
    return columns * rows


def compose_registration(
    tile: Tile, shift: tuple[float, float], size: tuple[float, float]
) -> tuple[list[Item], list[Box]]:
    """Return the crosses by which pages are laid on each other and on the panel.

    They stand where joints meet, and where they meet the sheet's edges. `shift`: from
    the sheet's coordinates to the page's, mm. `size`: width and height of the sheet,
    mm. Returns `items`: crosses with a ring; those of neighbouring pages coincide;
    `boxes`: where they stand on the page, mm.
    """
    points = {
        (x, y)
        for x in (tile.cell[0], tile.cell[2])
        for y in (tile.cell[1], tile.cell[3])
        if 0.01 < x < size[0] - 0.01 or 0.01 < y < size[1] - 0.01
    }
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
    items: list[Item] = [
        # seen on dark paint as well
        segments(lines, 0.5, WHITE, cap="round"),
        segments(lines, 0.12, BLACK),
        circle_lines(at, 1.5, 0.12),
    ]
    boxes: list[Box] = [(x - 4, y - 4, x + 4, y + 4) for x, y in at.tolist()]
    return items, boxes


def compose_page_map(
    plan: TilePlan, width: float, height: float, box: Box, fonts: FontSet
) -> list[Item]:
    """Return how pages lie on the sheet, with the names of columns and rows.

    Frames, and codes on white. `plan`: the pages; those left out have no name. `width`
    and `height`: size of the sheet. `box`: where the sheet's own frame stands, mm.
    """
    left, bottom, right, top = box
    k = min((right - left) / width, (top - bottom) / height)
    xs = [left + x * k for x in (0.0, *plan.joints_x, width)]
    ys = [bottom + y * k for y in (0.0, *plan.joints_y, height)]
    there = {tile.code for tile in plan.tiles}
    items: list[Item] = [
        segments([[x, ys[0], x, ys[-1]] for x in xs], 0.35, BLACK),
        segments([[xs[0], y, xs[-1], y] for y in ys], 0.35, BLACK),
    ]
    for r in range(plan.rows):
        for c in range(plan.columns):
            code = f"{letters(c)}{r + 1}"
            if code not in there:
                continue
            a, b = xs[c], ys[plan.rows - 1 - r]
            across, up = xs[c + 1] - a, ys[plan.rows - r] - b
            size = min(9.0, up * 1.2, across * 0.7)
            if size < 3:
                continue
            high = size * CAP_HEIGHT * 25.4 / 72
            wide = fonts.width(code, size, "medium") / 2
            x, y = a + across / 2, b + up / 2 - high / 2
            back = (x - wide - 0.8, y - 0.8, x + wide + 0.8, y + high + 0.8)
            items += rectangle(back, fill=WHITE)
            items.append(Text((x, y), code, size, "medium", align="centre"))
    # where they stand too close, only some of the columns and rows have their names
    widest = max(fonts.width(letters(c), 7) for c in range(plan.columns))
    for c in range(0, plan.columns, _every(xs, widest + 1.0)):
        x = (xs[c] + xs[c + 1]) / 2
        items.append(
            Text((x, ys[-1] + 1.2), letters(c), 7, align="centre", colour=GREY_60)
        )
    for r in range(0, plan.rows, _every(ys, 2.8)):
        y = (ys[plan.rows - 1 - r] + ys[plan.rows - r]) / 2 - 0.9
        items.append(
            Text((xs[0] - 1.5, y), str(r + 1), 7, align="right", colour=GREY_60)
        )
    return items


def _every(edges: Sequence[float], room: float) -> int:
    """Return how many pages on the next name stands, so that each has its room.

    `edges`: where pages join, mm, ascending. `room`: what a name takes, mm.

    Examples
    --------
    >>> _every([0.0, 4.0, 8.0, 12.0], 3.0), _every([0.0, 2.0, 4.0, 6.0], 3.0)
    (1, 2)
    """
    apart = min(b - a for a, b in itertools.pairwise(edges))
    return max(1, math.ceil(room / apart))


def window_shows(lines: Floats, window: Box) -> bool:
    """Return whether lines meet a window, or regions that they bound cover it.

    False for a page on which nothing would stand. `lines` (n, 4), mm: sides of regions.
    `window`: left, bottom, right, top, mm.
    """
    left, bottom, right, top = window
    # column by column: numpy is slow along rows of two
    x0, y0, x1, y1 = lines.T
    near = ((x0 >= left) | (x1 >= left)) & ((x0 <= right) | (x1 <= right))
    near &= ((y0 >= bottom) | (y1 >= bottom)) & ((y0 <= top) | (y1 <= top))
    x0, y0, x1, y1 = lines[near].T
    # a line whose box meets the window misses it only if all corners are on one side
    normal = np.stack([y1 - y0, x0 - x1])
    corners = np.array([[left, left, right, right], [bottom, top, bottom, top]])
    side = normal.T @ corners - (normal[0] * x0 + normal[1] * y0)[:, None]
    if np.any((side.min(axis=1) <= 0) & (side.max(axis=1) >= 0)):
        return True
    x, y = (left + right) / 2, (bottom + top) / 2
    spans = (lines[:, 1] > y) != (lines[:, 3] > y)
    x0, y0, x1, y1 = lines[spans].T
    crossed = x < x0 + (y - y0) / (y1 - y0) * (x1 - x0)
    return bool(np.count_nonzero(crossed) % 2)
