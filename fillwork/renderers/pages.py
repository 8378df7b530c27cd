"""Put sheets on pages: one page with its key, or many that are joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fillwork.errors import PlanError
from fillwork.geometry import affine
from fillwork.notes import Note
from fillwork.renderers.key import COLUMN, ENTRY, KeyEntry, compose_key, key_capacity
from fillwork.renderers.layout import (
    MARGIN,
    MOST_TILES,
    Page,
    TilePlan,
    compose_frame,
    compose_page_map,
    compose_registration,
    count_tiles,
    format_length,
    plan_tiles,
    scale_text,
)
from fillwork.renderers.parts import Parts
from fillwork.renderers.scene import (
    BLACK,
    WHITE,
    Box,
    Item,
    Picture,
    Placed,
    Scene,
    Text,
    rectangle,
)
from fillwork.units import page_size

if TYPE_CHECKING:
    from fillwork.renderers.parts import Parts

__all__ = ["PageMaker", "Sheet"]

_KEY_GAP = 6.0

_BESIDE = 45.0

SMALL = 20.0
"""A drawing whose longer side is less is noted, mm on paper."""

Layout = tuple[float, Page | None, Box, Box | None]
"""Paper mm for one mm, the page (None: several), room for drawing, and for key."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One drawing in one dress, before it has a page."""

    name: str
    code: str
    subtitle: str
    items: tuple[Item, ...]
    alt: str
    entries: tuple[KeyEntry, ...] = ()
    note: str = ""
    aside: tuple[str, ...] = ()


class PageMaker:
    """Turn sheets into pages.

    Parameters
    ----------
    parts : Parts
        The drawing.
    """

    def __init__(self, parts: Parts) -> None:
        self.parts = parts
        self.settings = parts.settings
        self.fonts = parts.fonts
        self.pages: list[Scene] = []
        self.used: dict[str, int] = {}
        self.notes: dict[str, Note] = {}
        self.mapped: set[str] = set()
        self.papers = self._papers()

    def _papers(self) -> list[tuple[float, float]]:
        text = self.settings.paper.strip()
        if text == "drawing":
            return []
        width, height = page_size(text)
        Page(width, height).check()
        if text.endswith("-landscape") or width == height or "x" in text or "×" in text:
            return [(float(width), float(height))]
        return [(float(width), float(height)), (float(height), float(width))]

    def code(self, letter: str) -> str:
        """Return the next free page code of a sheet.

        Parameters
        ----------
        letter : str
            Letter of the sheet.

        Returns
        -------
        str
            The next free page code of a sheet.
        """
        self.used[letter] = self.used.get(letter, 0) + 1
        return f"{letter}{self.used[letter]}"

    def layout(self, entries: int) -> Layout:
        """Return scale, page, room for the drawing and for the key.

        The page is None when the drawing needs several.

        Parameters
        ----------
        entries : int
            Lines that the key needs.

        Returns
        -------
        Layout
            Scale, page, room for the drawing and for the key.
        """
        width, height = self.parts.size
        true = self.parts.real_scale
        if not self.papers:
            return self._own_page(entries)
        choices = []
        for turned, paper in enumerate(self.papers):
            page = Page(*paper)
            left, bottom, right, top = page.body
            for place in ("beside", "below") if entries else ("none",):
                key: Box | None = None
                room = (left, bottom, right, top)
                short = 0
                if place == "beside":
                    key = (right - COLUMN, bottom, right, top)
                    room = (left, bottom, right - COLUMN - _KEY_GAP, top)
                    short = max(0, entries - key_capacity(key)[1])
                elif place == "below":
                    columns, _ = key_capacity((left, bottom, right, top))
                    rows = -(-entries // columns)
                    most = max(1, int((top - bottom) / 3 // ENTRY))
                    short = max(0, entries - most * columns)
                    band = min(rows, most) * ENTRY
                    key = (left, bottom, right, bottom + band)
                    room = (left, bottom + band + _KEY_GAP, right, top)
                if room[2] - room[0] < 20 or room[3] - room[1] < 20:
                    continue
                fit = min((room[2] - room[0]) / width, (room[3] - room[1]) / height)
                choices.append((fit, short, turned, page, room, key))
        if not choices:
            what = f"paper “{self.settings.paper}” leaves no room for drawing and key"
            raise PlanError(what, mend="take larger paper")
        whole = [c for c in choices if c[0] >= true * (1 - 1e-9)]
        if self.settings.fit or (not whole and self._too_many(width, height)):
            best = max(choices, key=lambda c: (c[0], -c[1], -c[2]))
            return best[0], best[3], best[4], best[5]
        if whole:
            self._small(max(width, height) * true)
            best = max(whole, key=lambda c: (-c[1], c[0], -c[2]))
            return true, best[3], best[4], best[5]
        return true, None, (0, 0, 0, 0), None

    def _too_many(self, width: float, height: float) -> bool:
        """Return whether true size would need more pages than anyone joins."""
        true = self.parts.real_scale
        size = width * true, height * true
        pages = count_tiles(self.papers, *size, self.settings.overlap)
        if pages <= MOST_TILES:
            return False
        at = "real size" if self.parts.scale_known else "drawing size"
        self.notes["fitted"] = Note(
            "renderers",
            "fitted",
            f"at {at} a sheet would need {pages:,} pages of {self.settings.paper}: "
            "sheets are fitted to one page",
            remedy="take larger paper for true size, or say --fit",
        )
        return True

    def _small(self, longest: float) -> None:
        """Note a drawing that is next to nothing on its paper."""
        if longest >= SMALL:
            return
        self.notes["small"] = Note(
            "renderers",
            "small on paper",
            f"at true size the drawing is {format_length(longest)} long",
            remedy="say --fit to have it as large as the paper",
        )

    def _own_page(self, entries: int) -> Layout:
        """Return a page made for the drawing, with its key."""
        scale = self.parts.real_scale
        width, height = (v * scale for v in self.parts.size)
        probe = Page(1000, 1000)
        across, up = 2 * MARGIN, 2 * MARGIN + probe.head + probe.foot
        beside = max(height, 1) >= width * 0.8
        rows = max(1, int(max(height, 3 * ENTRY) // ENTRY))
        columns = max(1, int((max(width, 130) + 4) // (COLUMN + 4)))
        if entries and beside:
            count = -(-entries // rows)
            key_width = count * (COLUMN + 4) - 4
            page = Page(
                max(width + _KEY_GAP + key_width, 130) + across,
                max(height, min(entries, rows) * ENTRY) + up,
            )
            left, bottom, right, top = page.body
            key = (right - key_width, bottom, right, top)
            return scale, page, (left, bottom, key[0] - _KEY_GAP, top), key
        band = -(-entries // columns) * ENTRY + _KEY_GAP if entries else 0.0
        page = Page(max(width, 130) + across, height + band + up)
        left, bottom, right, top = page.body
        room = (left, bottom + band, right, top)
        return scale, page, room, (left, bottom, right, bottom + band - _KEY_GAP)

    def place(self, sheet: Sheet, scale: float, layout: Layout) -> None:
        """Put a sheet on its page or pages.

        Parameters
        ----------
        sheet : Sheet
            What stands on the page.
        scale : float
            Paper length / drawn length.
        layout : Layout
            Where it stands.
        """
        _, page, room, key = layout
        box = self.parts.sheet_box(scale)
        picture = Picture(sheet.items, box)
        words = scale_text(scale, self.parts.real_scale, self.parts.scale_known)
        if page is None:
            self._tiled(sheet, picture, words)
            return
        rest = sheet.entries
        beside: list[Item] = []
        told: list[Item] = []
        if key is not None and (sheet.entries or sheet.aside):
            columns, rows = key_capacity(key)
            now = rest[: columns * rows]
            rest = rest[columns * rows :]
            beside += compose_key(now, key, self.fonts)
            under = key[3] - len(now) * ENTRY - 2 if columns == 1 else key[3]
            told = self._aside(sheet.aside, key, under, len(now), columns)
            beside += told
        # words that find no room by the key stand at the foot
        lost = () if told else sheet.aside
        head, foot = compose_frame(
            page,
            self.fonts,
            title=self.parts.title,
            subtitle=sheet.subtitle,
            scale=words,
            code=sheet.code,
            note=" ".join(t for t in (sheet.note, *lost) if t),
            name_line=self.settings.teach,
        )
        left, _, _, top = room
        # aligned with the title
        x = left
        y = top - box[3]
        items: list[Item] = [*head]
        items.append(Placed(picture, affine.translation(x, y), alt=sheet.alt))
        items += [*beside, *foot]
        self.page(page, items, sheet, sheet.code)
        self._more_key(sheet, rest, page)

    def _aside(
        self, lines: tuple[str, ...], key: Box, top: float, entries: int, columns: int
    ) -> list[Item]:
        """Return words under a key of one column, or right of a single entry."""
        left, right = key[0], key[2]
        if columns > 1:
            if entries > 1:
                return []
            left, top = left + COLUMN + 18, key[3] - 1
        rows: list[str] = []
        for size in (9, 7):
            broken = [self.fonts.wrap(line, size, right - left) for line in lines]
            room = int((top - key[1] + 0.5) / (0.47 * size))
            rows = [words for line in broken for words in line]
            if len(rows) <= room:
                break
        else:
            if room < 2:
                return []
            # whole words only, and a sign that there is more in the schedule
            rows = [*rows[: max(room - 1, 0)], "… more in the schedule"]
        step = 0.47 * size
        return [
            Text((left, top - (k + 1) * step), words, size)
            for k, words in enumerate(rows)
        ]

    def page(self, page: Page, items: list[Item], sheet: Sheet, code: str) -> None:
        """Add a finished page.

        Parameters
        ----------
        page : Page
            The paper.
        items : list of Item
            What is drawn.
        sheet : Sheet
            What stands on the page.
        code : str
            Page code.
        """
        title = f"{self.parts.title}: {sheet.subtitle}, {code}"
        name = f"{sheet.name}-{code.lower()}"
        self.pages.append(
            Scene(page.width, page.height, tuple(items), title, name, WHITE)
        )

    def _more_key(
        self, sheet: Sheet, rest: tuple[KeyEntry, ...], page: Page, first: int = 2
    ) -> None:
        """Put a key, or the rest of one, on pages of its own."""
        number = first
        while rest:
            code = f"{sheet.code}-key{number}"
            subtitle = f"{sheet.subtitle}: key" + ", continued" * (number > 1)
            head, foot = compose_frame(
                page,
                self.fonts,
                title=self.parts.title,
                subtitle=subtitle,
                scale="",
                code=code,
            )
            columns, rows = key_capacity(page.body)
            now, rest = rest[: columns * rows], rest[columns * rows :]
            items = [*head, *compose_key(now, page.body, self.fonts), *foot]
            self.page(page, items, sheet, code)
            number += 1

    def _tiled(self, sheet: Sheet, picture: Picture, words: str) -> None:
        """Put a sheet on pages that are joined, after a page with the key."""
        width, height = picture.box[2], picture.box[3]
        plan = plan_tiles(self.papers, width, height, self.settings.overlap)
        if len(plan.tiles) == 1:
            self._alone(sheet, picture, plan, words)
            return
        # sheets of one paint each share a plan of pages: the first one's
        single = len(sheet.entries) == 1
        if not (single and sheet.name in self.mapped):
            self._cover(sheet, picture, plan, words)
            self.mapped.add(sheet.name)
        note = " ".join(t for t in (sheet.note, *sheet.aside) if t) if single else ""
        for tile in plan.tiles:
            page = plan.page
            code = f"{sheet.code}-{tile.code}"
            head, foot = compose_frame(
                page,
                self.fonts,
                title=self.parts.title,
                subtitle=f"{sheet.subtitle}, page {tile.code}",
                scale=words,
                code=code,
                note=note,
            )
            left, bottom, right, top = page.body
            shift = (left - tile.window[0], bottom - tile.window[1])
            alt = f"{sheet.alt}, part {tile.code}"
            items: list[Item] = [*head]
            items.append(
                Placed(
                    picture,
                    affine.translation(*shift),
                    clip=(left, bottom, right, top),
                    alt=alt,
                )
            )
            items += compose_registration(tile, shift)
            if single:
                subtitle = f"{sheet.subtitle}, page {tile.code}"
                items += self._head_swatch(sheet.entries[0], subtitle, page)
            items += foot
            self.page(page, items, sheet, code)

    def _alone(
        self, sheet: Sheet, picture: Picture, plan: TilePlan, words: str
    ) -> None:
        """Put a sheet on one page that has room for the drawing alone.

        A key of one paint stands at its head; a longer one follows on a page.
        """
        page = plan.page
        left, bottom, _, _ = page.body
        several = len(sheet.entries) > 1
        note = " ".join(t for t in (sheet.note, *sheet.aside) if t)
        if several:
            note = f"{note} The key is on page {sheet.code}-key1.".strip()
        head, foot = compose_frame(
            page,
            self.fonts,
            title=self.parts.title,
            subtitle=sheet.subtitle,
            scale=words,
            code=sheet.code,
            note=note,
            name_line=self.settings.teach,
        )
        window = plan.tiles[0].window
        shift = (left - window[0], bottom - window[1])
        items: list[Item] = [*head]
        items.append(Placed(picture, affine.translation(*shift), alt=sheet.alt))
        if sheet.entries and not several:
            items += self._head_swatch(sheet.entries[0], sheet.subtitle, page)
        items += foot
        self.page(page, items, sheet, sheet.code)
        if several:
            whole = Page(page.width, page.height)
            self._more_key(sheet, sheet.entries, whole, first=1)

    def _head_swatch(self, entry: KeyEntry, subtitle: str, page: Page) -> list[Item]:
        """Return the swatch of a sheet's one paint, before its words at the head."""
        left, _, right, _ = page.body
        width = min(self.fonts.width(subtitle, 9), (right - left) * 0.38)
        x, y = right - width - 7.0, page.height - MARGIN - 5.0
        return rectangle((x, y, x + 5.0, y + 5.0), fill=entry.hex, edge=BLACK)

    def _cover(
        self, sheet: Sheet, picture: Picture, plan: TilePlan, words: str
    ) -> None:
        """Return the page with key and plan of pages."""
        page = Page(plan.page.width, plan.page.height)
        rows, columns = plan.rows, plan.columns
        what = "key and plan" if sheet.entries else "plan"
        subtitle = f"{sheet.subtitle}: {what} of {rows * columns} pages"
        head, foot = compose_frame(
            page,
            self.fonts,
            title=self.parts.title,
            subtitle=subtitle,
            scale=words,
            code=sheet.code,
            note=sheet.note,
            name_line=self.settings.teach,
        )
        left, bottom, right, top = page.body
        width, height = picture.box[2], picture.box[3]
        room_up = (top - bottom) * (0.5 if sheet.entries else 0.8)
        # the frames of the pages reach beyond the drawing
        xs = [t.window[0] for t in plan.tiles] + [t.window[2] for t in plan.tiles]
        ys = [t.window[1] for t in plan.tiles] + [t.window[3] for t in plan.tiles]
        wide, high = max(xs) - min(xs), max(ys) - min(ys)
        k = min((right - left) * 0.6 / wide, room_up / high, 1.0)
        x, y = left - min(xs) * k, top - max(ys) * k
        items: list[Item] = [*head]
        scale = self.parts.real_scale
        # the outlines of the sheet itself, so that they are written once
        faint = self.parts.outline_picture(scale)
        m = affine.compose(
            (k, 0.0, 0.0, k, x, y),
            self.parts.map_to_paper(scale, self.settings.mirror),
        )
        alt = f"Plan of {rows} rows and {columns} columns of pages"
        items.append(Placed(faint, m, alt=alt))
        items += compose_page_map(
            plan,
            width,
            height,
            (x, y, x + width * k, y + height * k),
            self.fonts,
        )
        text_left = left + wide * k + 8
        lines = [
            f"{columns} x {rows} pages, joined with {self.settings.overlap:g} mm "
            "overlap.",
            "Print all pages at 100 %. Lay the crosses of neighbouring pages on each "
            "other; columns have letters, rows have numbers.",
        ]
        lines += sheet.aside
        y_text, size = top - 3.2, 9.0
        if right - text_left < _BESIDE:
            # too narrow beside the plan: below it
            text_left, y_text, size = left, top - high * k - 6, 7.0
        for line in lines:
            for words_ in self.fonts.wrap(line, size, right - text_left):
                items.append(Text((text_left, y_text), words_, size))
                y_text -= 0.51 * size
            y_text -= 0.22 * size
        key: Box = (left, bottom, right, min(top - high * k - 8, y_text - 4))
        rest = sheet.entries
        if rest:
            count, rows_ = key_capacity(key)
            now, rest = rest[: count * rows_], rest[count * rows_ :]
            items += compose_key(now, key, self.fonts)
        items += foot
        self.page(page, items, sheet, sheet.code)
        self._more_key(sheet, rest, page)
