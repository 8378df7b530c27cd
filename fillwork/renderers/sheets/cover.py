"""The page before pages that are joined: how they lie, and the key of all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.geometry import affine
from fillwork.renderers.scene import GREY_45, Box, Item, Picture, Placed, Text, segments
from fillwork.renderers.sheets.key import fill_key
from fillwork.renderers.sheets.parts import FAINT
from fillwork.renderers.sheets.tiles import TilePlan, compose_page_map

if TYPE_CHECKING:
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.sheets.parts import Parts
    from fillwork.renderers.sheets.pounce import Piece
    from fillwork.renderers.sheets.sheet import Sheet


_BESIDE = 45.0


def compose_cover(
    parts: Parts,
    sheet: Sheet,
    picture: Picture,
    plan: TilePlan,
    body: Box,
    piece: Piece | None = None,
) -> tuple[list[Item], tuple[KeyEntry, ...]]:
    """Return the page with key and plan of pages, of the drawing or of a piece.

    `sheet`: what the pages show. `picture`: at its size on paper. `body`: where there
    is room on it, mm. `piece`: what is shown instead of the whole drawing. Returns
    `items`: what stands on it; `rest`: entries of the key that found no room.
    """
    left, bottom, right, top = body
    width, height = picture.box[2], picture.box[3]
    keyed = len(sheet.entries) > 1
    room_up = (top - bottom) * (0.55 if keyed else 0.8)
    k = min((right - left - 6.0) * 0.7 / width, (room_up - 6.0) / height, 1.0)
    wide, high = width * k + 6.0, height * k + 6.0
    x, y = left + 6.0, top - high
    scale = parts.real_scale
    m: affine.Affine = (k, 0.0, 0.0, k, x, y)
    if piece is None:
        faint = parts.outline_picture(scale, FAINT)
        m = affine.compose(m, parts.map_to_paper(scale))
    else:
        inked = segments(piece.lines, 0.15 / k, GREY_45)
        faint = Picture((inked,), picture.box)
    alt = f"Plan of {plan.rows} rows and {plan.columns} columns of pages"
    items: list[Item] = [Placed(faint, m, alt=alt)]
    items += compose_page_map(
        plan, width, height, (x, y, x + width * k, y + height * k), parts.fonts
    )
    text_left = left + wide + 8
    y_text, size = top - 3.2, 9.0
    if right - text_left < _BESIDE:
        # too narrow beside the plan: below it
        text_left, y_text, size = left, top - high - 6, 7.0
    for line in _sentences(parts, plan, width, height, piece):
        for words in parts.fonts.wrap(line, size, right - text_left):
            items.append(Text((text_left, y_text), words, size))
            y_text -= 0.51 * size
        y_text -= 0.22 * size
    rest: tuple[KeyEntry, ...] = ()
    if keyed:
        key: Box = (left, bottom, right, min(top - high - 8, y_text - 4))
        shown, rest = fill_key(sheet.entries, key, parts.fonts)
        items += shown
    return items, rest


def _sentences(
    parts: Parts, plan: TilePlan, width: float, height: float, piece: Piece | None
) -> list[str]:
    """Return what is told of the pages: how many, how they join, how they are laid."""
    rows, columns = plan.rows, plan.columns
    lines = [
        f"{columns} x {rows} pages, each with {parts.settings.overlap:g} mm overlap "
        "or more.",
        *(_joint_words(plan, width, height) if piece is None else ()),
        "Print all pages at 100 %. Lay the crosses of neighbouring pages on each "
        "other"
        + (", and on the lines snapped on the panel" if piece is None else "")
        + "; columns have letters, rows have numbers.",
        *(() if piece is None else (piece.told,)),
    ]
    left_out = rows * columns - len(plan.tiles)
    if left_out:
        lines.insert(1, f"{left_out} of them would be empty and are left out.")
    return lines


def _joint_words(plan: TilePlan, width: float, height: float) -> list[str]:
    """Return at which distances from its edges a panel's lines are snapped."""
    found = []
    for what, joints, edge, length in (
        ("Columns", plan.joints_x, "left", width),
        ("Rows", plan.joints_y, "lower", height),
    ):
        if not joints:
            continue
        offs = sorted({round(abs(x - length / 2), 2) for x in joints})
        at = ", ".join(f"±{_short(x)}" if x else "0" for x in offs)
        found.append(
            f"{what} join {at} mm from the centre line, which is "
            f"{_short(length / 2)} mm from the {edge} edge."
        )
    return found


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
