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
from fillwork.renderers.sheets.composer import TEACHERS, SheetComposer
from fillwork.renderers.sheets.masks import compose_masks
from fillwork.renderers.sheets.parts import Parts
from fillwork.renderers.text.typeset import default_fonts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.plans.model import Schedule
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits

__all__ = ["MANY_PAGES", "compose_masks", "compose_sheets"]

MANY_PAGES = "too many pages"
"""Type of the note that sheets are fitted for want of a word about many pages."""

PUPILS = ("numbered", "blank", "model")
"""Sheets that each pupil has unless others are chosen."""


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
    mended = parts.schedule is not None and parts.schedule.mended is not None
    if mended and not teach and chosen == SheetSettings().sheets:
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
