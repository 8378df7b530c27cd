"""Compose the printed sheets: numbered, blank, coloured, steps, repeat, masks, card.

A *sheet* is the drawing in one dress at one scale. It stands on one page with its
key beside or below, whichever leaves the drawing larger; or, larger than the
paper, on pages that are joined, after a page with the key and the plan of pages.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError, RenderError
from fillwork.geometry import affine
from fillwork.notes import Note
from fillwork.plans.model import SHEETS
from fillwork.renderers.card import compose_card
from fillwork.renderers.detail import MOST_PAGES, plan_details
from fillwork.renderers.hatching import hatch_strokes, hatch_swatch
from fillwork.renderers.key import KeyEntry, compose_key, key_capacity
from fillwork.renderers.layout import (
    MARGIN,
    Page,
    compose_frame,
    scale_text,
)
from fillwork.renderers.leaders import compose_leaders
from fillwork.renderers.masks import mask_items
from fillwork.renderers.numbering import PageNumbers
from fillwork.renderers.pages import PageMaker, Sheet
from fillwork.renderers.parts import FAINT, Parts
from fillwork.renderers.scene import (
    WHITE,
    Item,
    Labels,
    Picture,
    Placed,
    Scene,
    Text,
    rectangle,
)
from fillwork.renderers.schedule_page import compose_schedule
from fillwork.renderers.typeset import default_fonts

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.plans.model import Schedule, SheetSettings
    from fillwork.renderers.typeset import FontSet
    from fillwork.symmetry.model import Orbits

__all__ = ["MANY_PAGES", "compose_masks", "compose_sheets"]

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
MANY_PAGES = "too many pages"
"""Type of the note that sheets are fitted for want of a word about many pages."""

_MORE = "take larger paper, a larger --real-width or a smaller --least-number"


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
        class_set = ["blank", "numbered", "steps", "coloured"]
        wanted = class_set + [name for name in wanted if name not in class_set]
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
    composer = _composed(parts, wanted)
    pages = composer.pages
    notes = [*composer.notes.values()]
    missing = _missing(pages, parts.fonts)
    if missing:
        note = Note(
            "renderers",
            "characters missing",
            f"no font at hand has {missing}",
            remedy="name one that has with --font FILE",
        )
        notes.append(note)
    if pages and notes:
        pages[0] = replace(pages[0], notes=(*pages[0].notes, *notes))
    copies = max(1, int(settings.copies))
    if copies == 1:
        return tuple(pages)
    return tuple(page for _ in range(copies) for page in pages)


def _composed(parts: Parts, wanted: Sequence[str]) -> _Composer:
    """Return the pages, fitted to one each where true size is left open to us."""
    settings = parts.settings
    composer = _Composer(parts, wanted)
    for name in dict.fromkeys(wanted):
        composer.add(name)
    pages, most = len(composer.pages), settings.most_pages
    if pages <= most:
        return composer
    what = (
        f"the sheets would take {pages:,} pages of {settings.paper}, more than {most}"
    )
    on = f"say --most-pages {pages} to go on"
    if settings.fit != "auto" or composer.layout().page is not None:
        raise PlanError(what, mend=f"{on}, or --fit page for one page each")
    fitted = replace(parts, settings=replace(settings, fit="page"), _cache={})
    composer = _composed(fitted, wanted)
    told = Note(
        "renderers",
        MANY_PAGES,
        f"at true size {what}",
        remedy=f"{on}; until then each is fitted to one page",
    )
    composer.notes[told.type] = told
    return composer


def compose_masks(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    colouring: Colouring,
    settings: SheetSettings,
    *,
    real_scale: float,
    scale_known: bool = True,
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
    scale_known : bool
        Whether the real size is known.
    title : str
        Title of the drawing.

    Returns
    -------
    tuple of Scene
        As large as the drawing with 10 mm around; for a cutter, as SVG. Cut lines
        are closed outlines on the layer ``outlines``; what would fall out is
        hatched on ``islands``, the corners of the drawing stand on ``marks``.
    """
    parts = Parts(
        arrangement,
        outlines,
        orbits,
        colouring,
        None,
        settings,
        real_scale,
        scale_known,
        title,
    )
    size = "real size" if scale_known else "drawing size"
    names = _file_names([entry.code for entry in parts.entries])
    width, height = (v * real_scale for v in parts.size)
    scenes = []
    found: list[tuple[KeyEntry, int]] = []
    for entry, name in zip(parts.entries, names, strict=True):
        items, islands = mask_items(parts, entry.place, real_scale, settings.mirror)
        words = f"{title}: mask for {entry.code} {entry.name}, {size}"
        words += ", mirrored" if settings.mirror else ""
        words += f"; {_plural(islands)}, hatched" if islands else ""
        picture = Picture(tuple(items), (0, 0, width, height))
        if islands:
            found.append((entry, islands))
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
                title=words,
                name=f"mask-{name}",
            )
        )
    if found:
        scenes[0] = replace(scenes[0], notes=(_island_note(found),))
    return tuple(scenes)


def _file_names(codes: Sequence[str]) -> list[str]:
    """Return codes as parts of file names, each once."""
    names: list[str] = []
    for number, code in enumerate(codes, start=1):
        name = "".join(c for c in code if c.isalnum() or c in "-_")
        taken = {n.casefold() for n in names}
        if name != code or name.casefold() in taken:
            name = f"{name or 'paint'}-{number}"
        names.append(name)
    return names


def _plural(islands: int) -> str:
    return f"{islands} island{'s' * (islands != 1)} would fall out"


def _island_note(islands: list[tuple[KeyEntry, int]]) -> Note:
    count = sum(n for _, n in islands)
    each = ", ".join(f"{e.code} {e.name} ({n})" for e, n in islands)
    return Note(
        "renderers",
        "islands",
        f"{_plural(count)} of masks: {each}",
        remedy="leave bridges to them, or lay them by hand",
    )


def _missing(pages: Sequence[Scene], fonts: FontSet) -> str:
    """Return the characters on pages that no font has."""
    words: dict[tuple[str, str], None] = {}

    def gather(items: Iterable[Item]) -> None:
        for item in items:
            if isinstance(item, Text):
                words[item.text, item.weight] = None
            elif isinstance(item, Labels):
                for row in np.unique(item.text):
                    words[item.texts[row], item.weight] = None
            elif isinstance(item, Placed):
                gather(item.picture.items)

    for page in pages:
        gather(page.items)
    found = (c for word in words for c in fonts.shape(*word).missing)
    return "".join(dict.fromkeys(found))


class _Composer(PageMaker):
    """Dress the drawing for each kind of sheet."""

    def __init__(self, parts: Parts, names: Sequence[str]) -> None:
        super().__init__(parts, names)
        self.repeat = "repeat" in names
        self.first_detail = ""
        self.without = 0

    def add(self, name: str) -> None:
        if name == "card":
            self.card()
        elif name == "schedule":
            self.schedule()
        elif name == "repeat":
            self.details(None)
        elif name == "steps":
            self.steps()
        elif name == "masks":
            self.masks()
        else:
            self.plain(name)

    def plain(self, name: str) -> None:
        """Add a numbered, blank or coloured sheet."""
        parts, mirror = self.parts, self.settings.mirror
        with_key = name != "blank"
        entries = parts.entries if with_key else ()
        scale = self.layout().scale
        code = self.code(_LETTERS[name])
        note = ""
        numbered: PageNumbers | None = None
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
            numbered = PageNumbers(parts, numbers, scale, mirror, leaders)
        subtitle = _TITLES[name] + (", mirrored for tracing down" if mirror else "")
        details: list[Scene] = []
        if len(small):
            # composed first, so that this page can tell what they leave out
            kept, self.pages = self.pages, []
            self.details(None if self.repeat else small)
            details, self.pages = self.pages, kept
            note = (
                "Numbers missing here stand on the enlarged detail, page "
                f"{self.first_detail} and following"
            )
            note += f"; {self.without} have none even there." if self.without else "."
        sheet = Sheet(
            name,
            code,
            subtitle,
            tuple(items),
            self._alt(name),
            entries,
            note,
            numbers=numbered,
        )
        self.place(sheet)
        self.pages += details

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
        scale = self.layout().scale
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
            why = f"Why: {reason}." if reason else ""
            told = " ".join(t for t in (text, why) if t)
            sheet = Sheet(
                "steps",
                self.code("S"),
                f"Step {number} of {total}: {entry.code} {entry.name}"
                + (", mirrored" if mirror else ""),
                (tint, parts.on_paper(faint, scale, mirror)),
                f"{parts.title}: where {entry.code} {entry.name} is painted",
                (shown,),
                told=told,
                faces=self._faces(entry.place),
            )
            before = len(self.pages)
            self.place(sheet)
            if self.settings.hatch:
                for page in range(before, len(self.pages)):
                    self._hatch_key(page, number - 1)

    def _hatch_key(self, page: int, pattern: int) -> None:
        """Fill the swatch of the key with its hatch: it is the only white square."""
        scene = self.pages[page]
        for item in scene.items:
            box = getattr(item, "shapes", None)
            if box is not None and getattr(item, "colour", "") == WHITE:
                low = box.pieces.data[:, 0:2].min(axis=0)
                size = float(np.ptp(box.pieces.data[:, 0]))
                items = (*scene.items, hatch_swatch(pattern, low[0], low[1], size))
                self.pages[page] = replace(scene, items=items)
                return

    def masks(self) -> None:
        """Add one sheet a paint with outlines to cut."""
        parts, mirror = self.parts, self.settings.mirror
        scale = self.layout().scale
        for entry in parts.entries:
            items, islands = mask_items(parts, entry.place, scale, mirror)
            note = ""
            told = "Cut along the lines; what is inside them falls out."
            if islands:
                note = (
                    f"{_plural(islands)}, marked by hatching: "
                    "leave bridges, or lay them by hand."
                )
            sheet = Sheet(
                "masks",
                self.code("M"),
                f"Mask for {entry.code} {entry.name}"
                + (", mirrored: for the back" if mirror else ""),
                tuple(items),
                f"{parts.title}: outlines to cut for {entry.code} {entry.name}",
                (entry,),
                note=note,
                told=told,
                faces=self._faces(entry.place),
            )
            self.place(sheet)

    def _faces(self, place: int) -> NDArray[np.int64]:
        """Return the regions that bear a swatch."""
        faces = np.flatnonzero(self.parts.colouring.of_face == place)
        return faces[faces > 0]

    def details(self, small: NDArray[np.int64] | None) -> None:
        """Add pages that show parts of the drawing enlarged, with every number."""
        if self.first_detail:
            return
        parts, mirror = self.parts, self.settings.mirror
        papers = self.papers or [(210.0, 297.0), (297.0, 210.0)]
        details, without = plan_details(parts, papers, small, mirror)
        self.without = len(without)
        for number, detail in enumerate(details):
            code = self.code("R")
            self.first_detail = self.first_detail or code
            note = detail.note
            if number == 0 and self.without:
                note = f"{note} {self._left_out()}.".strip()
            head, foot = compose_frame(
                detail.page,
                self.fonts,
                title=parts.title,
                subtitle=detail.subtitle + (", mirrored" if mirror else ""),
                scale=scale_text(detail.scale, parts.real_scale, parts.scale_known),
                code=code,
                note=note,
                aside=detail.aside,
            )
            items: list[Item] = [*head, *detail.items]
            rest = parts.entries
            if detail.key is not None:
                columns, rows = key_capacity(detail.key)
                now, rest = rest[: columns * rows], rest[columns * rows :]
                items += compose_key(now, detail.key, self.fonts)
            items += foot
            sheet = Sheet("repeat", code, detail.subtitle, (), "")
            self.page(detail.page, items, sheet, code)
            if number == 0:
                self._more_key(sheet, rest, detail.page)
        if self.without:
            last = self.pages[-1]
            told = Note(
                "renderers",
                "regions without number",
                f"on the sheets, {self._left_out()}",
                remedy=_MORE,
            )
            self.pages[-1] = replace(last, notes=(*last.notes, told))

    def _left_out(self) -> str:
        """Return how many regions stay without a number, and why."""
        many = "region is" if self.without == 1 else "regions are"
        return (
            f"{self.without} {many} too small for a number; details end after "
            f"{MOST_PAGES} pages"
        )

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
            sheet = Sheet("card", code, f"Swatch card {number}", (), "")
            self.page(page, [*head, *chunk, *foot], sheet, code)

    def schedule(self) -> None:
        """Add the schedule, where there is one."""
        parts = self.parts
        if parts.schedule is None:
            return
        self.pages += compose_schedule(
            parts.schedule,
            parts.colouring.palette,
            title=parts.title,
            paper=self.settings.paper,
            fonts=self.fonts,
        )
