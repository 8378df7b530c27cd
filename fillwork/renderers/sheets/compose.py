"""Compose the printed sheets: numbered, blank, coloured, steps, repeat, masks, card.

A *sheet* is the drawing in one dress at one scale. It stands on one page with its
key beside or below, whichever leaves the drawing larger; or, larger than the
paper, on pages that are joined, after a page with the key and the plan of pages.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fillwork.errors import PlanError, RenderError
from fillwork.notes import Note
from fillwork.plans.model import SHEETS, SheetSettings
from fillwork.renderers.layout import missing_characters
from fillwork.renderers.sheets.composer import PUPILS, TEACHERS, SheetComposer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.renderers.scene import Scene
    from fillwork.renderers.sheets.parts import Parts

MANY_PAGES = "too many pages"
"""Type of the note that sheets are fitted for want of a word about many pages."""


def compose_sheets(parts: Parts) -> tuple[Scene, ...]:
    """Return the pages of the sheets that the settings ask for; pages in order.

    `parts`: the drawing, its colours and the choices. Sheets are at real size unless
    they are fitted to the page. Raises `PlanError` if a sheet is unknown, or the paper
    is too small for its margins. Raises `RenderError` if there is no region to show.
    """
    settings = parts.settings
    if parts.arrangement.face_count < 2:
        what = "there is no region to put on a sheet"
        raise RenderError(what, mend="see `fillwork survey` for open ends")
    wanted = list(settings.sheets)
    for name in wanted:
        if name not in SHEETS:
            what = f"sheet “{name}” is not known"
            raise PlanError(what, mend="take some of " + ", ".join(SHEETS))
    if not parts.real_scale > 0:
        what = f"a scale of {parts.real_scale:g} is none"
        raise PlanError(what, mend="give --real-width as a length above 0")
    composer = _composed(parts, wanted)
    pages = composer.pages
    notes = [*composer.notes.values()]
    missing = missing_characters(pages, parts.fonts)
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
    if settings.teach:
        own = composer.own
        first = pages[: len(pages) - own]
        return (*first, *(pages[len(pages) - own :] * settings.pupils))
    if copies == 1:
        return tuple(pages)
    return tuple(page for _ in range(copies) for page in pages)


def _composed(parts: Parts, wanted: Sequence[str]) -> SheetComposer:
    """Return the pages, fitted to one each where true size is left open to us."""
    settings = parts.settings
    teach = settings.teach > 0
    chosen = tuple(dict.fromkeys(wanted))
    if parts.mended is not None and not teach and chosen == SheetSettings().sheets:
        chosen = ("repair",)  # of a repair, the whole would be paper wasted
    if teach and chosen == SheetSettings().sheets:
        chosen = PUPILS

    def _made(small_masks: bool = False) -> SheetComposer:
        names = (*TEACHERS, *chosen) if teach else chosen
        composer = SheetComposer(parts, names, small_masks=small_masks)
        if teach:
            composer.class_pack(chosen)
            return composer
        for name in chosen:
            composer.add(name)
        return composer

    composer = _made()
    pages, most = len(composer.pages), settings.most_pages
    if pages <= most:
        return composer
    what = (
        f"the sheets would take {pages:,} pages of {settings.paper}, more than {most}"
    )
    on = f"say --most-pages {pages} to go on"
    if settings.fit != "auto" or composer.layout().page is not None:
        raise PlanError(what, mend=f"{on}, or --fit page for one page each")
    if "masks" in chosen:
        # masks have files at true size of their own: paper can do without them
        composer = _made(small_masks=True)
        if len(composer.pages) <= most:
            told = Note(
                "renderers",
                "masks reduced",
                f"with masks at true size {what}: they are reduced here",
                remedy=f"cut them from their own files, or {on}",
            )
            composer.notes[told.type] = told
            return composer
    fitted = replace(parts, settings=replace(settings, fit="page"))
    composer = _composed(fitted, wanted)
    told = Note(
        "renderers",
        MANY_PAGES,
        f"at true size {what}",
        remedy=f"{on}; until then each is fitted to one page",
    )
    composer.notes[told.type] = told
    return composer
