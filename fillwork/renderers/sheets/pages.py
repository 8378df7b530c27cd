"""Put sheets on pages: one page with its key, or several that are joined.

One class of some length: each way of putting a sheet on a page counts the same codes
and follows the one layout that all sheets of a set share.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fillwork.geometry import affine
from fillwork.renderers.layout import (
    MARGIN,
    Page,
    compose_page,
    scale_text,
    tight_words,
)
from fillwork.renderers.scene import Box, Item, Picture, Placed, Scene, Text
from fillwork.renderers.sheets.cover import compose_cover
from fillwork.renderers.sheets.fitting import Layout, choose_layout
from fillwork.renderers.sheets.key import (
    COLUMN,
    ENTRY,
    KeyEntry,
    compose_foot_key,
    compose_key,
    fill_key,
    key_swatch,
)
from fillwork.renderers.sheets.sheet import LETTERS, Sheet
from fillwork.renderers.sheets.tiles import (
    Tile,
    TilePlan,
    compose_registration,
    plan_tiles,
    window_shows,
)
from fillwork.units import page_size

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fillwork.notes import Note
    from fillwork.renderers.sheets.parts import Parts
    from fillwork.renderers.sheets.pounce import Piece


_SWATCH = 12.0
_HEADED = 7.0
"""Width of a swatch before the words at a head of one line, mm."""
_BETWEEN = 8.0
"""Between the rows of a long strip, mm."""
_MOST_ROWS = 6
_FREE = 4.0
"""Between a drawing and its key, mm."""

_INSTRUCTED = 52.0
"""Height of a paint's square with the longest instruction under it, mm."""

_SLIM = 24.0
"""Narrower than this, mm, a key's names would be cut short."""

_ONE_ROW = 1.5
"""A drawing is broken into rows only where it comes out larger by half at least."""


class PageMaker:
    """Turn sheets into pages. `parts`: the drawing. `names`: the sheets of the set."""

    def __init__(self, parts: Parts, names: Sequence[str] = ()) -> None:
        self.parts = parts
        self.names = names
        self.settings = parts.settings
        self.fonts = parts.fonts
        self.pages: list[Scene] = []
        self.used: dict[str, int] = {}
        self.notes: dict[str, Note] = {}
        self.mapped = False
        self.named = False
        self.papers = self._papers()
        self._layout: Layout | None = None

    def _papers(self) -> list[tuple[float, float]]:
        text = self.settings.paper.strip()
        if text == "drawing":
            return []
        width, height = page_size(text)
        Page(width, height).check()
        if text.endswith("-landscape") or width == height or "x" in text or "×" in text:
            return [(float(width), float(height))]
        return [(float(width), float(height)), (float(height), float(width))]

    def code(self, name: str) -> str:
        """Return the next free page code of a kind of sheet."""
        letter = LETTERS[name]
        self.used[letter] = self.used.get(letter, 0) + 1
        return f"{letter}{self.used[letter]}"

    def layout(self) -> Layout:
        """Return scale and places of all sheets of the set.

        One layout serves them all, so that they can be laid over each other.

        Scale, page, room for the drawing and for the key.
        """
        if self._layout is None:
            self._layout = self._choose()
            self.notes |= {n.type: n for n in self._layout.notes}
        return self._layout

    def _choose(self) -> Layout:
        parts, settings = self.parts, self.settings
        keyed = bool({"numbered", "coloured", "model"}.intersection(self.names))
        entries = parts.entries if keyed else ()
        told = bool({"steps", "masks"}.intersection(self.names))
        if not self.papers:
            return self._own_page(max(len(entries), told), told)
        layout = self._fitted(settings.fit, entries, told)
        if layout.page is None and settings.teach and settings.fit == "auto":
            # a class works on single pages
            layout = self._fitted("page", entries, told)
        return layout

    def _fitted(self, fit: str, entries: Sequence[KeyEntry], told: bool) -> Layout:
        """Return the layout that a wish leads to."""
        parts, settings = self.parts, self.settings
        return choose_layout(
            self.papers,
            parts.reach,
            parts.real_scale,
            entries,
            told=told,
            fit=fit,
            known=parts.scale_known,
            overlap=settings.overlap,
            most=settings.most_pages,
            paper=settings.paper,
            fonts=self.fonts,
        )

    def _own_page(self, entries: int, told: bool) -> Layout:
        """Return a page made for the drawing, with its key beside or below."""
        instructed = _INSTRUCTED if told else 0.0
        scale = self.parts.real_scale
        width, height = (v * scale for v in self.parts.size)
        probe = Page(1000, 1000)
        across, up = 2 * MARGIN, 2 * MARGIN + probe.head + probe.foot
        gap = 6.0
        if entries and height >= width * 0.8:
            rows = max(1, int(max(height, 3 * ENTRY) // ENTRY))
            key_width = -(-entries // rows) * (COLUMN + 4) - 4
            page = Page(
                max(width + gap + key_width, 130) + across,
                max(height, min(entries, rows) * ENTRY, instructed) + up,
            )
            left, bottom, right, top = page.body
            key: Box = (right - key_width, bottom, right, top)
            return Layout(scale, page, (left, bottom, key[0] - gap, top), key, True)
        columns = max(1, int((max(width, 130) + 4) // (COLUMN + 4)))
        band = -(-entries // columns) * ENTRY + gap if entries else 0.0
        page = Page(max(width, 130) + across, height + band + up)
        left, bottom, right, top = page.body
        return Layout(
            scale,
            page,
            (left, bottom + band, right, top),
            (left, bottom, right, bottom + band - gap) if entries else None,
            band=band,
        )

    def place(self, sheet: Sheet) -> None:
        """Put a sheet on its page or pages."""
        layout = self.layout()
        scale = layout.scale
        box = self.parts.sheet_box(scale)
        picture = Picture(sheet.items, box)
        words = self.parts.scale_words(scale)
        if layout.page is None:
            self._tiled(sheet, picture, words)
            return
        page, room = layout.page, layout.room
        items: list[Item] = []
        rest: tuple[KeyEntry, ...] = ()
        aside = 0.0
        if sheet.single:
            if layout.beside and layout.key is not None:
                items += self._beside(sheet, layout.key)
            else:
                aside = _SWATCH + 4
                # the instruction takes the height of the key, at the head
                page = replace(page, head=page.head + layout.band)
                down = layout.band
                room = (room[0], room[1] - down, room[2], room[3] - down)
                items += self._told(sheet, page, layout.band)
        elif sheet.entries and layout.key is not None:
            shown, rest = self._key(sheet.entries, layout)
            items += shown
        wide, high = picture.box[2], picture.box[3]
        shift = ((room[0] + room[2] - wide) / 2, (room[1] + room[3] - high) / 2)
        picture = self._numbered(sheet, picture)
        drawn = Placed(picture, affine.translation(*shift), alt=sheet.alt)
        self.page(
            page,
            sheet,
            [drawn, *items],
            scale=words,
            note=sheet.note,
            name_line=self.named,
            aside=aside,
        )
        self._more_key(sheet, rest, page)

    def _numbered(self, sheet: Sheet, picture: Picture) -> Picture:
        """Return the picture of a whole sheet with its numbers."""
        if sheet.numbers is None:
            return picture
        numbers = sheet.numbers.items(picture.box)
        return replace(picture, items=(*picture.items, *numbers))

    def _key(
        self, entries: tuple[KeyEntry, ...], layout: Layout
    ) -> tuple[list[Item], tuple[KeyEntry, ...]]:
        """Return the key of a sheet, and the entries that found no room."""
        if layout.key is None:
            return [], entries
        if self.papers and not layout.beside:
            items, shown = compose_foot_key(entries, layout.key, self.fonts)
            return items, entries[shown:]
        return fill_key(entries, layout.key, self.fonts)

    def _beside(self, sheet: Sheet, key: Box) -> list[Item]:
        """Return the swatch of one paint with its instruction under it."""
        items = compose_key(sheet.entries, key, self.fonts)
        down = ENTRY + 2 if sheet.entries else 0.0
        under: Box = (key[0], key[1], key[2], key[3] - down)
        return [*items, *self._paragraph(sheet.told, under)]

    def _told(self, sheet: Sheet, page: Page, band: float) -> list[Item]:
        """Return the swatch of one paint at the head, and its instruction."""
        left, _, right, top = page.body
        up = page.height - MARGIN
        square: Box = (right - _SWATCH, up - _SWATCH, right, up)
        box: Box = (left, top + 1.0, right - (_SWATCH + 4), top + band + 2.0)
        swatch = key_swatch(sheet.entries[0], square) if sheet.entries else []
        return [*swatch, *self._paragraph(sheet.told, box)]

    def _paragraph(self, text: str, box: Box) -> list[Item]:
        """Return words from the top of a box down, as large as they fit."""
        left, bottom, right, top = box
        rows: list[str] = []
        for size in (9, 7):
            rows = self.fonts.wrap(text, size, right - left)
            room = int((top - bottom + 0.5) / (0.47 * size))
            if len(rows) <= room:
                break
        else:
            if room < 1:
                return []
            # whole words only, and a sign that there is more in the schedule
            rows = [*rows[: max(room - 1, 0)], "… more in the schedule"]
        step = 0.47 * size
        return [
            Text((left, top - (k + 1) * step + 0.8), words, size)
            for k, words in enumerate(rows)
        ]

    def page(
        self,
        page: Page,
        sheet: Sheet,
        items: Sequence[Item],
        *,
        code: str = "",
        subtitle: str = "",
        **frame: Any,
    ) -> None:
        """Add a finished page.

        `page`: the paper. `sheet`: what it shows; gives code and subtitle where no
        others are given. `code` and `subtitle`: of this page alone. `frame`: what else
        stands at head and foot, as of `compose_page`.
        """
        code = code or sheet.code
        self.pages.append(
            compose_page(
                page,
                self.fonts,
                items,
                name=f"{sheet.name}-{code.lower()}",
                words=f"{self.parts.title}: {sheet.subtitle}, {code}",
                title=self.parts.title,
                subtitle=subtitle or sheet.subtitle,
                code=code,
                **frame,
            )
        )

    def _more_key(
        self, sheet: Sheet, rest: tuple[KeyEntry, ...], page: Page, first: int = 2
    ) -> None:
        """Put a key, or the rest of one, on pages of its own."""
        number = first
        page = Page(page.width, page.height)
        while rest:
            code = f"{sheet.code}-key{number}"
            subtitle = f"{sheet.subtitle}: key" + ", continued" * (number > 1)
            items, rest = fill_key(rest, page.body, self.fonts)
            self.page(page, sheet, items, code=code, subtitle=subtitle)
            number += 1

    def _tiled(self, sheet: Sheet, picture: Picture, words: str) -> None:
        """Put a sheet on pages that are joined, after a page with their plan."""
        if sheet.whole:
            self._reduced(sheet, picture)
            return
        width, height = picture.box[2], picture.box[3]
        band = self.layout().band
        plan = plan_tiles(self.papers, width, height, self.settings.overlap, band)
        if len(plan.tiles) == 1:
            self._alone(sheet, picture, plan, words)
            return
        marked = self._marked(sheet)
        kept = tuple(t for t in plan.tiles if marked(t.cell))
        if not self.mapped:
            shown = plan if sheet.single else replace(plan, tiles=kept)
            self._cover(sheet, picture, shown, words)
            self.mapped = True
        for tile in kept:
            self._tile(sheet, picture, plan, tile, words)

    def _reduced(self, sheet: Sheet, picture: Picture) -> None:
        """Put a sheet on one page, however small the drawing gets."""
        width, height = picture.box[2], picture.box[3]
        band = 2 * ENTRY  # the instruction, at the head

        def _scale(page: Page, rows: int) -> float:
            left, bottom, right, top = page.body
            up = top - bottom - (rows - 1) * _BETWEEN
            return min((right - left) * rows / width, up / (rows * height), 1.0)

        pages = [Page(*paper) for paper in self.papers]
        pages = [replace(page, head=page.head + band) for page in pages]
        # a long strip is shown in rows, one below the other; one row by default
        page, rows = max(
            ((page, rows) for page in pages for rows in range(1, _MOST_ROWS + 1)),
            key=lambda way: _scale(*way) * (_ONE_ROW if way[1] == 1 else 1.0),
        )
        k = _scale(page, rows)
        left, bottom, right, top = page.body
        scale = self.layout().scale * k
        long, high = width * k / rows, height * k
        x = (left + right - long) / 2
        y = (bottom + top + rows * high + (rows - 1) * _BETWEEN) / 2
        drawn = []
        for row in range(rows):
            y -= high
            clip = None if rows == 1 else (x, y, x + long, y + high)
            alt = sheet.alt + (f", row {row + 1} of {rows}" if rows > 1 else "")
            place = (k, 0.0, 0.0, k, x - row * long, y)
            drawn.append(Placed(picture, place, clip=clip, alt=alt))
            y -= _BETWEEN
        told = self._told(sheet, page, band)
        self.page(
            page,
            sheet,
            [*drawn, *told],
            scale=self.parts.scale_words(scale),
            note=sheet.note,
            name_line=self.named,
            aside=_SWATCH + 4,
        )

    def piece(self, piece: Piece, code: str) -> None:
        """Put a true-size piece on one page, or on pages that are joined."""
        parts, (width, height) = self.parts, piece.size
        papers = self.papers or [(width + 40.0, height + 60.0)]
        words = scale_text(parts.real_scale, parts.real_scale, parts.scale_known)
        sheet = Sheet("pounce", code, f"{piece.title}, to prick and pounce")
        picture = Picture(piece.items, (0.0, 0.0, width, height))
        alt = f"{parts.title}: {piece.title[:1].lower()}{piece.title[1:]}, true size"
        fits = [Page(*paper) for paper in papers]
        fits = [
            page
            for page in fits
            if width <= page.body[2] - page.body[0] - 8
            and height <= page.body[3] - page.body[1] - 8
        ]
        tiles = plan_tiles(papers, width, height, self.settings.overlap)
        if not fits and len(tiles.tiles) == 1:
            fits = [replace(tiles.page, head=8.0)]
        plan = None if fits else tiles
        if plan is not None:
            kept = tuple(t for t in plan.tiles if window_shows(piece.lines, t.cell))
            plan = replace(plan, tiles=kept)
            self._cover(sheet, picture, plan, words, piece)
        shown: list[tuple[Page, str, Tile | None]] = (
            [(fits[0], code, None)]
            if plan is None
            else [(plan.page, f"{code}-{tile.code}", tile) for tile in plan.tiles]
        )
        for page, name, tile in shown:
            tight = page.head < 16
            more = "" if tile is None else f", page {tile.code}"
            left, bottom, right, top = page.body
            crosses: list[Item] = []
            if tile is None:
                shift = ((left + right - width) / 2, (bottom + top - height) / 2)
                clip = None
            else:
                shift = (left - tile.window[0], bottom - tile.window[1])
                clip = (left, bottom, right, top)
                crosses, _ = compose_registration(tile, shift, (width, height))
            place = affine.translation(*shift)
            drawn = Placed(picture, place, clip=clip, alt=alt + more)
            whole = f"{sheet.subtitle}. {piece.told}"
            if not tight and self.fonts.width(whole, 9) > right - left:
                whole, told = sheet.subtitle, piece.told
            else:
                told = piece.told if tight else ""
            self.page(
                page,
                sheet,
                [drawn, *crosses],
                code=name,
                subtitle=f"{piece.title}{more}" if tight else whole,
                scale=words,
                note=told,
                tight=tight,
            )

    def _marked(self, sheet: Sheet) -> Callable[[Box], bool]:
        """Return what tells whether anything of a sheet stands in a window."""
        parts = self.parts
        scale = self.layout().scale
        faces = sheet.faces
        if faces is None:
            faces = np.arange(1, parts.arrangement.face_count)
        patch = parts.mended
        if patch is not None:
            # of a repair only what it reaches, not all of the regions that it meets
            faces = faces[patch.face_share[faces] > 0]
            if patch.parts is not None:
                cut = shapely.union_all([patch.parts[k] for k in faces.tolist()])
                place = parts.map_to_paper(scale)
                on_paper = shapely.transform(cut, lambda at: affine.apply(place, at))
                return lambda window: on_paper.intersects(shapely.box(*window))
        elif sheet.name == "coloured" and parts.colouring.ground is not None:
            return lambda _: True
        sides = parts.sides_on_paper(scale).only(faces)
        lines = np.asfortranarray(sides.segments)
        return lambda window: window_shows(lines, window)

    def _tile(
        self, sheet: Sheet, picture: Picture, plan: TilePlan, tile: Tile, words: str
    ) -> None:
        """Add one of the pages that are joined."""
        band = self.layout().band
        told = sheet.single and band > 0
        page = replace(
            plan.page,
            head=plan.page.head + (band if told else -0.0),
            foot=plan.page.foot - (band if told else 0.0),
        )
        subtitle = f"{sheet.subtitle}, page {tile.code}"
        left, bottom, right, top = page.body
        shift = (left - tile.window[0], bottom - tile.window[1])
        place = affine.translation(*shift)
        clip: Box = (left, bottom, right, top)
        alt = f"{sheet.alt}, part {tile.code}"
        items: list[Item] = [Placed(picture, place, clip=clip, alt=alt)]
        size = (picture.box[2], picture.box[3])
        crosses, blocked = compose_registration(tile, shift, size)
        if sheet.numbers is not None:
            back = [
                (a - shift[0], b - shift[1], c - shift[0], d - shift[1])
                for a, b, c, d in blocked
            ]
            numbers = sheet.numbers.items(tile.window, back)
            inner = Picture(tuple(numbers), tile.window)
            items.append(Placed(inner, place, clip=clip))
        items += crosses
        aside = 0.0
        if told:
            if sheet.entries:
                aside = _HEADED
                items += self._head_swatch(
                    sheet.entries[0], subtitle, page, named=False
                )
            box: Box = (left, top + 1.0, right, top + band - 1.0)
            items += self._paragraph(sheet.told, box)
        elif sheet.entries:
            under: Box = (left, MARGIN + 14.0, right, bottom - 4.0)
            items += compose_foot_key(sheet.entries, under, self.fonts)[0]
        self.page(
            page,
            sheet,
            items,
            code=f"{sheet.code}-{tile.code}",
            subtitle=subtitle,
            scale=words,
            note=sheet.note if told else "",
            aside=aside,
            tight=True,
        )

    def _alone(
        self, sheet: Sheet, picture: Picture, plan: TilePlan, words: str
    ) -> None:
        """Put a sheet on one page that has room for the drawing alone.

        A key of one paint stands at its head; a longer one in what is left white
        above or beside the drawing, or else on a page that follows.
        """
        page = plan.page
        left, bottom, right, top = page.body
        several = len(sheet.entries) > 1
        x, y = (
            a - b for a, b in zip((left, bottom), plan.tiles[0].window, strict=False)
        )
        key: list[Item] = []
        # the drawing leaves the middle for a key, down or to the left
        up = (x, bottom, (left, bottom + picture.box[3] + _FREE, right, top))
        beside = (left, y, (left + picture.box[2] + _FREE, bottom, right, top))
        for free_x, free_y, box in (up, beside):
            if several and not key and box[2] - box[0] > _SLIM:
                found, shown = compose_foot_key(sheet.entries, box, self.fonts)
                if shown == len(sheet.entries):
                    key, x, y = found, free_x, free_y
        note = " ".join(t for t in (sheet.note, sheet.told) if t)
        if several and not key:
            note = f"{note} The key is on page {sheet.code}-key1.".strip()
        picture = self._numbered(sheet, picture)
        items: list[Item] = [
            Placed(picture, affine.translation(x, y), alt=sheet.alt),
            *key,
        ]
        aside = 0.0
        if sheet.entries and not several:
            aside, (entry,) = _HEADED, sheet.entries
            items += self._head_swatch(entry, sheet.subtitle, page, named=self.named)
        self.page(
            page,
            sheet,
            items,
            scale=words,
            note=note,
            name_line=self.named,
            aside=aside,
            tight=True,
        )
        if several and not key:
            self._more_key(sheet, sheet.entries, page, first=1)

    def _head_swatch(
        self, entry: KeyEntry, subtitle: str, page: Page, *, named: bool
    ) -> list[Item]:
        """Return the swatch of a sheet's one paint, before its words at the head."""
        left, _, right, _ = page.body
        *_, width = tight_words(
            subtitle, right - left, self.fonts, _HEADED, name_line=named
        )
        x, y = right - width - _HEADED, page.height - MARGIN - 5.0
        return key_swatch(entry, (x, y, x + 5.0, y + 5.0))

    def _cover(
        self,
        sheet: Sheet,
        picture: Picture,
        plan: TilePlan,
        words: str,
        piece: Piece | None = None,
    ) -> None:
        """Add the page with key and plan of pages."""
        page = Page(plan.page.width, plan.page.height)
        items, rest = compose_cover(self.parts, sheet, picture, plan, page.body, piece)
        what = "key and plan" if len(sheet.entries) > 1 else "plan"
        self.page(
            page,
            sheet,
            items,
            subtitle=f"{sheet.subtitle}: {what} of {len(plan.tiles)} pages",
            scale=words,
            note=sheet.note,
            name_line=self.named,
        )
        self._more_key(sheet, rest, page)
