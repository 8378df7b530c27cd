"""Compose the printed sheets: numbered, blank, coloured, steps, repeat, masks, card.

A *sheet* is the drawing in one dress at one scale. It stands on one page with its
key beside or below, whichever leaves the drawing larger; or, larger than the
paper, on pages that are joined, after a page with the key and the plan of pages.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError, RenderError
from fillwork.geometry import affine
from fillwork.notes import Note
from fillwork.renderers.card import compose_card
from fillwork.renderers.detail import plan_details
from fillwork.renderers.hatching import hatch_strokes, hatch_swatch
from fillwork.renderers.key import COLUMN, ENTRY, KeyEntry, compose_key, key_capacity
from fillwork.renderers.layout import (
    MARGIN,
    Page,
    compose_frame,
    compose_page_map,
    compose_registration,
    plan_tiles,
    scale_text,
)
from fillwork.renderers.leaders import compose_leaders
from fillwork.renderers.masks import mask_items
from fillwork.renderers.parts import FAINT, Parts
from fillwork.renderers.scene import (
    WHITE,
    Box,
    Item,
    Picture,
    Placed,
    Scene,
    Text,
    rectangle,
)
from fillwork.renderers.typeset import default_fonts
from fillwork.units import page_size

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.plans.model import Schedule, SheetSettings
    from fillwork.renderers.typeset import FontSet
    from fillwork.symmetry.model import Orbits

__all__ = ["SHEETS", "compose_masks", "compose_sheets"]

SHEETS = ("numbered", "blank", "coloured", "steps", "repeat", "masks", "card")
"""Kinds of sheet, in the order in which a maker uses them."""

_TITLES = {
    "numbered": "Numbered sheet",
    "blank": "Blank sheet",
    "coloured": "Coloured sheet",
}
_LETTERS = {
    "numbered": "N",
    "blank": "B",
    "coloured": "C",
    "steps": "S",
    "masks": "M",
    "repeat": "R",
    "detail": "D",
    "card": "W",
}
_KEY_GAP = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """One drawing in one dress, before it has a page."""

    name: str
    code: str
    subtitle: str
    items: tuple[Item, ...]
    alt: str
    entries: tuple[KeyEntry, ...] = ()
    note: str = ""
    aside: tuple[str, ...] = ()


def compose_sheets(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    adjacency: Adjacency,
    colouring: Colouring,
    schedule: Schedule | None,
    settings: SheetSettings,
    *,
    real_scale: float,
    scale_known: bool,
    title: str,
    fonts: FontSet | None = None,
) -> tuple[Scene, ...]:
    """Return the pages of the sheets that the settings ask for.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    outlines : Outlines
        Their true outlines.
    orbits : Orbits
        Their kinds.
    adjacency : Adjacency
        Which regions touch; for masks.
    colouring : Colouring
        Their swatches.
    schedule : Schedule or None
        Its steps order the pages of ``steps``.
    settings : SheetSettings
        Choices.
    real_scale : float
        Real mm for one mm of the drawing; sheets are at real size unless they
        are fitted to the page.
    scale_known : bool
        Whether the real size is known; the foot says it.
    title : str
        Title of the drawing.
    fonts : FontSet, optional
        Fonts; the bundled ones by default.

    Returns
    -------
    tuple of Scene
        Pages in order.

    Raises
    ------
    PlanError
        If a sheet is unknown, or the paper is too small for its margins.
    RenderError
        If there is no region to show.
    """
    del adjacency
    if arrangement.face_count < 2:
        what = "there is no region to put on a sheet"
        raise RenderError(what, mend="see `fillwork survey` for open ends")
    wanted = list(settings.sheets)
    if settings.teach:
        wanted = ["blank", "numbered", "steps", "coloured"]
    for name in wanted:
        if name not in SHEETS:
            what = f"sheet “{name}” is not known"
            raise PlanError(what, mend="take some of " + ", ".join(SHEETS))
    if not real_scale > 0:
        what = f"a scale of {real_scale:g} is none"
        raise PlanError(what, mend="give --real-width as a length above 0")
    parts = Parts(
        arrangement,
        outlines,
        orbits,
        colouring,
        schedule,
        settings,
        real_scale,
        scale_known,
        title,
        fonts or default_fonts(),
    )
    composer = _Composer(parts)
    for name in dict.fromkeys(wanted):
        composer.add(name)
    pages = composer.pages
    missing = "".join(
        dict.fromkeys(
            c
            for text in (title, *(e.name for e in parts.entries))
            for c in parts.fonts.shape(text).missing
        )
    )
    if missing and pages:
        from dataclasses import replace

        note = Note(
            "renderers",
            "characters missing",
            f"no bundled font has {missing}",
            remedy="name a font that has them with --font FILE",
        )
        pages[0] = replace(pages[0], notes=(*pages[0].notes, note))
    copies = max(1, int(settings.copies))
    if copies == 1:
        return tuple(pages)
    return tuple(page for _ in range(copies) for page in pages)


def compose_masks(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    colouring: Colouring,
    settings: SheetSettings,
    *,
    real_scale: float,
    title: str = "",
) -> tuple[Scene, ...]:
    """Return one page a paint with nothing but outlines to cut, at real size.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    outlines : Outlines
        Their true outlines.
    orbits : Orbits
        Their kinds.
    colouring : Colouring
        Their swatches.
    settings : SheetSettings
        ``mirror`` is heeded.
    real_scale : float
        Real mm for one mm of the drawing.
    title : str
        Title of the drawing.

    Returns
    -------
    tuple of Scene
        As large as the drawing with 10 mm around; for a cutter, as SVG.
    """
    parts = Parts(
        arrangement,
        outlines,
        orbits,
        colouring,
        None,
        settings,
        real_scale,
        True,
        title,
    )
    width, height = (v * real_scale for v in parts.size)
    scenes = []
    for entry in parts.entries:
        items, islands = mask_items(parts, entry.place, real_scale, settings.mirror)
        picture = Picture(tuple(items), (0, 0, width, height))
        notes: tuple[Note, ...] = ()
        if islands:
            notes = (_island_note(entry, islands),)
        scenes.append(
            Scene(
                width + 2 * MARGIN,
                height + 2 * MARGIN,
                (
                    Placed(
                        picture,
                        affine.translation(MARGIN, MARGIN),
                        alt=f"Mask for {entry.code} {entry.name}",
                    ),
                ),
                title=f"{title}: mask for {entry.code} {entry.name}",
                name=f"mask-{entry.code}",
                notes=notes,
            )
        )
    return tuple(scenes)


def _island_note(entry: KeyEntry, islands: int) -> Note:
    plural = "s" if islands > 1 else ""
    return Note(
        "renderers",
        "islands",
        f"mask {entry.code} {entry.name} has {islands} island{plural} that would "
        "fall out",
        remedy="leave bridges to them, or lay them by hand",
    )


class _Composer:
    """Turn sheets into pages."""

    def __init__(self, parts: Parts) -> None:
        self.parts = parts
        self.settings = parts.settings
        self.fonts = parts.fonts
        self.pages: list[Scene] = []
        self.used: dict[str, int] = {}
        self.papers = self._papers()
        self.detailed = False

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
        """Return the next free page code of a sheet."""
        self.used[letter] = self.used.get(letter, 0) + 1
        return f"{letter}{self.used[letter]}"

    def add(self, name: str) -> None:
        if name == "card":
            self.card()
        elif name == "repeat":
            self.details(None)
        elif name == "steps":
            self.steps()
        elif name == "masks":
            self.masks()
        else:
            self.plain(name)

    def layout(self, entries: int) -> tuple[float, Page | None, Box, Box | None]:
        """Return scale, page, room for the drawing and for the key.

        The page is None when the drawing needs several.
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
        if self.settings.fit:
            best = max(choices, key=lambda c: (c[0], -c[1], -c[2]))
            return best[0], best[3], best[4], best[5]
        if whole:
            best = max(whole, key=lambda c: (-c[1], c[0], -c[2]))
            return true, best[3], best[4], best[5]
        return true, None, (0, 0, 0, 0), None

    def _own_page(self, entries: int) -> tuple[float, Page | None, Box, Box | None]:
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

    def place(self, sheet: _Sheet, scale: float, layout: tuple) -> None:  # type: ignore[type-arg]
        """Put a sheet on its page or pages."""
        _, page, room, key = layout
        box = self.parts.sheet_box(scale)
        picture = Picture(sheet.items, box)
        words = scale_text(scale, self.parts.real_scale, self.parts.scale_known)
        if page is None:
            self._tiled(sheet, picture, words)
            return
        head, foot = compose_frame(
            page,
            self.fonts,
            title=self.parts.title,
            subtitle=sheet.subtitle,
            scale=words,
            code=sheet.code,
            note=sheet.note,
            name_line=self.settings.teach,
        )
        left, _, _, top = room
        # aligned with the title
        x = left
        y = top - box[3]
        items: list[Item] = [*head]
        items.append(Placed(picture, affine.translation(x, y), alt=sheet.alt))
        rest = sheet.entries
        if key is not None and (sheet.entries or sheet.aside):
            columns, rows = key_capacity(key)
            now = rest[: columns * rows]
            rest = rest[columns * rows :]
            items += compose_key(now, key, self.fonts)
            under = key[3] - len(now) * ENTRY - 2 if columns == 1 else key[3]
            items += self._aside(sheet.aside, key, under, len(now), columns)
        items += foot
        self._page(page, items, sheet, sheet.code)
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
        items: list[Item] = []
        for line in lines:
            for words in self.fonts.wrap(line, 9, right - left):
                top -= 4.2
                if top < key[1] - 0.5:
                    return items
                items.append(Text((left, top), words, 9))
            top -= 1.5
        return items

    def _page(self, page: Page, items: list[Item], sheet: _Sheet, code: str) -> None:
        title = f"{self.parts.title}: {sheet.subtitle}, {code}"
        name = f"{sheet.name}-{code.lower()}"
        self.pages.append(
            Scene(page.width, page.height, tuple(items), title, name, WHITE)
        )

    def _more_key(self, sheet: _Sheet, rest: tuple[KeyEntry, ...], page: Page) -> None:
        """Continue a key on pages of its own."""
        number = 2
        while rest:
            code = f"{sheet.code}-key{number}"
            subtitle = f"{sheet.subtitle}: key, continued"
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
            self._page(page, items, sheet, code)
            number += 1

    def _tiled(self, sheet: _Sheet, picture: Picture, words: str) -> None:
        """Put a sheet on pages that are joined, after a page with the key."""
        width, height = picture.box[2], picture.box[3]
        plan = plan_tiles(self.papers, width, height, self.settings.overlap)
        self._cover(sheet, picture, plan, words)
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
            items += foot
            self._page(page, items, sheet, code)

    def _cover(self, sheet: _Sheet, picture: Picture, plan, words: str) -> None:  # type: ignore[no-untyped-def]
        """Return the page with key and plan of pages."""
        page = Page(plan.page.width, plan.page.height)
        rows, columns = plan.rows, plan.columns
        subtitle = f"{sheet.subtitle}: key and plan of {rows * columns} pages"
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
        thin = self.parts.outline_picture(self.parts.real_scale)
        small = Picture(
            (self.parts.on_paper(thin, self.parts.real_scale, self.settings.mirror),),
            picture.box,
        )
        items.append(
            Placed(
                small,
                (k, 0.0, 0.0, k, x, y),
                alt=f"Plan of {rows} rows and {columns} columns of pages",
            )
        )
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
        y_text = top - 3.2
        for line in lines:
            for words_ in self.fonts.wrap(line, 9, max(right - text_left, 30)):
                items.append(Text((text_left, y_text), words_, 9))
                y_text -= 4.6
            y_text -= 2
        key: Box = (left, bottom, right, top - high * k - 8)
        rest = sheet.entries
        if rest:
            count, rows_ = key_capacity(key)
            now, rest = rest[: count * rows_], rest[count * rows_ :]
            items += compose_key(now, key, self.fonts)
        items += foot
        self._page(page, items, sheet, sheet.code)
        self._more_key(sheet, rest, page)

    def plain(self, name: str) -> None:
        """Add a numbered, blank or coloured sheet."""
        parts, mirror = self.parts, self.settings.mirror
        with_key = name != "blank"
        entries = parts.entries if with_key else ()
        layout = self.layout(len(entries))
        scale = layout[0]
        code = self.code(_LETTERS[name])
        note = ""
        small = np.empty(0, np.int64)
        if name == "coloured":
            items: list[Item] = []
            if parts.colouring.ground is not None:
                ground = parts.colouring.palette.swatches[parts.colouring.ground].hex
                items += rectangle(parts.sheet_box(scale), fill=ground, layer="colours")
            items.append(parts.on_paper(parts.coloured_picture(), scale, mirror))
        else:
            outline = parts.outline_picture(scale)
            items = [parts.on_paper(outline, scale, mirror)]
        if name == "numbered":
            numbers = parts.numbers(scale, mirror)
            leaders, small = compose_leaders(parts, numbers, scale, mirror)
            items.append(numbers.labels())
            items += leaders
        subtitle = _TITLES[name] + (", mirrored for tracing down" if mirror else "")
        first_detail = f"R{self.used.get('R', 0) + 1}"
        if len(small):
            note = (
                "Regions too small for a number here are numbered on the enlarged "
                f"detail, page {first_detail} and following."
            )
        sheet = _Sheet(
            name, code, subtitle, tuple(items), self._alt(name), entries, note
        )
        self.place(sheet, scale, layout)
        if len(small):
            self.details(small)

    def _alt(self, name: str) -> str:
        parts = self.parts
        regions = parts.arrangement.face_count - 1
        what = {
            "numbered": "outlines with the number of its paint in each region",
            "blank": "outlines only",
            "coloured": "the finished colours",
        }[name]
        kinds = len(parts.orbits.orbits)
        return f"{parts.title}: {what}; {regions} regions of {kinds} kinds"

    def steps(self) -> None:
        """Add one page a paint, in painting order."""
        parts, mirror = self.parts, self.settings.mirror
        layout = self.layout(1)
        scale = layout[0]
        total = len(parts.steps)
        for number, (entry, text, reason) in enumerate(parts.steps, start=1):
            faint = parts.outline_picture(scale, FAINT)
            tint: Item
            if self.settings.hatch:
                strokes = hatch_strokes(parts, entry.place, number - 1, scale)
                tint = parts.on_paper(Picture((strokes,), parts.box), scale, mirror)
                shown = KeyEntry(
                    entry.place,
                    entry.code,
                    entry.name,
                    WHITE,
                    entry.details,
                    entry.count,
                    entry.area,
                )
            else:
                fill = parts.fill_of(entry.place, entry.hex)
                tint = parts.on_paper(Picture((fill,), parts.box), scale, mirror)
                shown = entry
            aside = tuple(t for t in (text, reason) if t)
            sheet = _Sheet(
                "steps",
                self.code("S"),
                f"Step {number} of {total}: {entry.code} {entry.name}"
                + (", mirrored" if mirror else ""),
                (tint, parts.on_paper(faint, scale, mirror)),
                f"{parts.title}: where {entry.code} {entry.name} is painted",
                (shown,),
                aside=aside,
            )
            before = len(self.pages)
            self.place(sheet, scale, layout)
            if self.settings.hatch:
                self._hatch_key(before, number - 1)

    def _hatch_key(self, page: int, pattern: int) -> None:
        """Fill the swatch of the key with its hatch: it is the only white square."""
        from dataclasses import replace

        scene = self.pages[page]
        for item in scene.items:
            box = getattr(item, "shapes", None)
            if box is not None and getattr(item, "colour", "") == WHITE:
                low = box.pieces.data[:, 0:2].min(axis=0)
                items = (*scene.items, hatch_swatch(pattern, low[0], low[1], 8.0))
                self.pages[page] = replace(scene, items=items)
                return

    def masks(self) -> None:
        """Add one sheet a paint with outlines to cut."""
        parts, mirror = self.parts, self.settings.mirror
        layout = self.layout(1)
        scale = layout[0]
        for entry in parts.entries:
            items, islands = mask_items(parts, entry.place, scale, mirror)
            note = ""
            aside = ("Cut along the lines; what is inside them falls out.",)
            if islands:
                plural = "s" if islands > 1 else ""
                note = (
                    f"{islands} island{plural} would fall out, marked by hatching: "
                    "leave bridges, or lay them by hand."
                )
            sheet = _Sheet(
                "masks",
                self.code("M"),
                f"Mask for {entry.code} {entry.name}"
                + (", mirrored: for the back" if mirror else ""),
                tuple(items),
                f"{parts.title}: outlines to cut for {entry.code} {entry.name}",
                (entry,),
                note=note,
                aside=aside,
            )
            self.place(sheet, scale, layout)

    def details(self, small: NDArray[np.int64] | None) -> None:
        """Add pages that show parts of the drawing enlarged, with every number."""
        if self.detailed and small is None:
            return
        self.detailed = True
        parts, mirror = self.parts, self.settings.mirror
        papers = self.papers or [(210.0, 297.0), (297.0, 210.0)]
        for detail in plan_details(parts, papers, small, mirror):
            code = self.code("R")
            head, foot = compose_frame(
                detail.page,
                self.fonts,
                title=parts.title,
                subtitle=detail.subtitle + (", mirrored" if mirror else ""),
                scale=scale_text(detail.scale, parts.real_scale, parts.scale_known),
                code=code,
                note=detail.note,
            )
            items: list[Item] = [*head, *detail.items]
            rest = parts.entries
            if detail.key is not None:
                columns, rows = key_capacity(detail.key)
                now = rest[: columns * rows]
                items += compose_key(now, detail.key, self.fonts)
            items += foot
            sheet = _Sheet("repeat", code, detail.subtitle, (), "")
            self._page(detail.page, items, sheet, code)

    def card(self) -> None:
        """Add the swatch card."""
        papers = self.papers or [(210.0, 297.0)]
        page = Page(*papers[0])
        body = page.body
        chunks = compose_card(self.parts, body)
        for number, chunk in enumerate(chunks, start=1):
            code = self.code("W")
            subtitle = "Swatch card: paint each field first, let it dry, compare"
            head, foot = compose_frame(
                page,
                self.fonts,
                title=self.parts.title,
                subtitle=subtitle,
                scale="",
                code=code,
            )
            sheet = _Sheet("card", code, f"Swatch card {number}", (), "")
            self._page(page, [*head, *chunk, *foot], sheet, code)
