"""What a finish lays out to print: sheets, masks, leaf, and what is odd about them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fillwork.pipeline.encoding import encode
from fillwork.pipeline.output import digest, record_of
from fillwork.pipeline.scale import real_scale

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.notes import Note
    from fillwork.pipeline.finish import Finish
    from fillwork.renderers.sheets.parts import Parts


def parts_of(finish: Finish) -> Parts:
    """Return the drawing as sheets and masks need it."""
    from fillwork.renderers.sheets.parts import Parts

    plan, survey = finish.plan, finish.survey
    return Parts(
        survey.arrangement,
        survey.outlines,
        survey.orbits,
        finish.colouring,
        finish.schedule,
        plan.sheets,
        real_scale=real_scale(plan, survey.arrangement),
        scale_known=finish.schedule.scale_known,
        title=finish.title,
        fonts=finish.fonts,
    )


def mask_files(finish: Finish, suffix: str) -> dict[str, bytes]:
    """Return names and contents of the masks, ``.svg`` or ``.dxf``."""
    masks = finish.mask_scenes()
    return {f"{mask.name}{suffix}": encode(mask, suffix) for mask in masks}


def notes_of_sheets(finish: Finish) -> tuple[Note, ...]:
    """Return what is odd about the font, and about each page once."""
    pages = finish.sheet_scenes() + finish.mask_scenes()
    notes = [note for page in dict.fromkeys(pages) for note in page.notes]
    return (*_font_notes(finish), *notes)


def _font_notes(finish: Finish) -> tuple[Note, ...]:
    from fillwork.notes import Note

    plan = finish.coloured.plan
    if not plan.font_data or plan.sheets.font_digest == digest(plan.font_data):
        return ()
    text = f"{plan.sheets.font} is another font than when the plan was written"
    remedy = "sheets may look otherwise; name it with --font to settle it"
    return (Note("pipeline", "font changed", text, remedy=remedy),)


def leaf_pdf(finish: Finish) -> bytes:
    """Return how leaf is laid and cut, as PDF."""
    from fillwork.renderers.encoders.pdf import to_pdf
    from fillwork.renderers.sheets.leaf_page import compose_leaf

    scenes = compose_leaf(
        finish.schedule,
        finish.palette,
        finish.orbits,
        title=finish.title,
        paper=finish.plan.sheets.paper,
        fonts=finish.fonts,
    )
    return to_pdf(scenes, title=f"{finish.title}: leaf", fonts=finish.fonts)


def sheet_files(finish: Finish, formats: Sequence[str]) -> dict[str, bytes]:
    """Return the sheets in several formats, as of `Finish.sheet_files`.

    File names and contents, the record of them last.

    `formats`: of ``pdf``, ``svg`` and ``png``. Raises `PlanError` if true size would
    take more pages than the plan allows.
    """
    from fillwork.errors import PlanError
    from fillwork.renderers.report import to_json
    from fillwork.renderers.sheets.compose import MANY_PAGES

    finish.progress("laying out sheets")
    for note in finish.sheet_notes:
        if note.type == MANY_PAGES:
            go_on = (note.remedy or "").partition(";")[0]
            mend = f"{go_on}, or --fit page for one page each"
            raise PlanError(note.text, mend=mend)
    files = {"sheets.pdf": finish.sheets()} if "pdf" in formats else {}
    scenes = finish.sheet_scenes() if set(formats) - {"pdf"} else ()
    width, fonts = finish.plan.png_width, finish.fonts
    for number, scene in enumerate(scenes, 1):
        for suffix in (f for f in ("svg", "png") if f in formats):
            name = f"sheet-{number:02d}.{suffix}"
            files[name] = encode(scene, f".{suffix}", width=width, fonts=fonts)
    files |= mask_files(finish, ".svg")
    record = record_of(finish.survey.linework, files, sheets=sheets_record(finish))
    return files | {"sheets.json": to_json(record)}


def sheets_record(finish: Finish) -> dict[str, Any]:
    """Return which sheets were laid out, on how many pages, for how many pupils."""
    sheets = finish.plan.sheets
    return {
        "names": list(sheets.sheets),
        "paper": sheets.paper,
        "fit": sheets.fit,
        "teach": sheets.teach or None,
        "copies": sheets.copies,
        "pages": len(finish.sheet_scenes()),
    }


def pages_text(finish: Finish) -> str:
    """Return how many pages the sheets have, and what paper they take, as one line."""
    pages = len(finish.sheet_scenes())
    paper = finish.plan.sheets.paper
    each = "" if paper == "drawing" else f" of {paper}"
    many = f"{pages:,} page{'s' * (pages != 1)}"
    sheets = f"{pages:,} sheet{'s' * (pages != 1)} of paper"
    return f"sheets    {many}{each}: {sheets}, printed on one side at 100 %\n"
