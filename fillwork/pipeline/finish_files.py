"""What a finish hands out: sheets, masks, leaf, the report, the page, all files.

And which swatch each kind was given, by which version, and whether that changed.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.notes import Note
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.output import REPORT, digest, record_of
from fillwork.pipeline.reports import survey_columns
from fillwork.pipeline.scale import real_scale
from fillwork.plans.model import Made
from fillwork.version import __version__

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fillwork.pipeline.finish import Finish
    from fillwork.pipeline.painting import Coloured
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


def _mask_files(finish: Finish, suffix: str) -> dict[str, bytes]:
    """Return names and contents of the masks, ``.svg`` or ``.dxf``."""
    masks = finish.mask_scenes()
    return {f"{mask.name}{suffix}": encode(mask, suffix) for mask in masks}


def notes_of_sheets(finish: Finish) -> tuple[Note, ...]:
    """Return what is odd about the font, and about each page once."""
    pages = finish.sheet_scenes() + finish.mask_scenes()
    notes = [note for page in dict.fromkeys(pages) for note in page.notes]
    return (*_font_notes(finish), *notes)


def _font_notes(finish: Finish) -> tuple[Note, ...]:
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

    File names and contents, the record of them last. `formats`: of ``pdf``, ``svg`` and
    ``png``. Raises `PlanError` if true size would take more pages than the plan allows.
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
    files |= _mask_files(finish, ".svg")
    record = record_of(finish.survey.linework, files, sheets=_sheets_record(finish))
    return files | {"sheets.json": to_json(record)}


def _sheets_record(finish: Finish) -> dict[str, Any]:
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


def all_files(finish: Finish, *, html: bool, dxf: bool) -> dict[str, bytes]:
    """Return names and contents of the main job's files, the report last.

    As of `Finish.files`. `html`: whether the page to hand on is among them. `dxf`:
    whether closed outlines for cutters and CAD are among them.
    """
    from fillwork.renderers.report import to_json

    finish.progress("drawing")
    files = {"coloured.svg": finish.svg(), "coloured.png": finish.png()}
    if finish.plan.view != "normal":
        files[f"coloured-{finish.plan.view}.png"] = finish.view_png()
    finish.progress("laying out sheets")
    files["sheets.pdf"] = finish.sheets()
    files |= _mask_files(finish, ".svg")
    if dxf:
        files["coloured.dxf"] = finish.dxf()
        files |= _mask_files(finish, ".dxf")
    files["schedule.txt"] = finish.schedule_text().encode()
    files["schedule.csv"] = finish.schedule_csv().encode()
    if finish.schedule.leafing:
        files["leaf.pdf"] = finish.leaf()
    files["plan.toml"] = finish.plan_toml().encode()
    if finish.choices is not None:
        from fillwork.pipeline.choices import choices_files

        finish.progress("drawing the choices of counterchange")
        files |= choices_files(finish.coloured, finish.choices)
    plan = finish.coloured.plan
    if plan.font_data and plan.sheets.font not in (*files, REPORT):
        # the plan names the font, so the font lies beside the plan
        files[plan.sheets.font] = plan.font_data
    if html:
        finish.progress("writing the page")
        files["page.html"] = finish.html()
    finish.progress("writing the report")
    files[REPORT] = to_json(report_columns(finish, files))
    return files


def report_columns(
    finish: Finish, outputs: Mapping[str, bytes] | None = None
) -> dict[str, Any]:
    """Return the report with long lists as columns.

    As of `fillwork.renderers.report.colouring_report`. `outputs`: files written with
    it, whose digests the report gives, and the sheets.
    """
    from fillwork.colouring.difference import difference_matrix
    from fillwork.renderers.report import colouring_report

    report = colouring_report(
        survey_columns(finish.survey),
        finish.arrangement,
        finish.orbits,
        finish.survey.adjacency,
        finish.colouring,
        difference_matrix(finish.palette),
        schedule=finish.schedule,
        views=finish.views,
        notes=(*finish.coloured.notes, *(finish.sheet_notes if outputs else ())),
        outputs=[(n, digest(d)) for n, d in (outputs or {}).items()],
    )
    return report | {"sheets": _sheets_record(finish)} if outputs else report


def page_file(finish: Finish) -> bytes:
    """Return the page to hand on, in one HTML file."""
    from fillwork.colouring.search.colourways import pins_of
    from fillwork.plans.file import plan_to_toml
    from fillwork.plans.model import Made
    from fillwork.renderers.page.data import compose_colouring, compose_drawing
    from fillwork.renderers.page.html import single_file

    survey, plan = finish.survey, finish.plan
    drawing = compose_drawing(
        survey.linework,
        survey.arrangement,
        survey.outlines,
        survey.orbits,
        survey.adjacency,
        real_scale=real_scale(plan, survey.arrangement),
        scale_known=finish.schedule.scale_known,
        notes=survey.notes,
    )
    colouring = compose_colouring(
        survey.arrangement,
        survey.orbits,
        survey.adjacency,
        finish.colouring,
        pins=plan.rules.pins,
        standing=pins_of(survey.arrangement, survey.orbits, finish.colouring),
        notes=finish.coloured.notes,
    )
    bare = replace(plan, rules=replace(plan.rules, pins=()), made=Made())
    return single_file(drawing, colouring, plan_to_toml(bare))


def made_of(coloured: Coloured) -> Made:
    """Return this version and the swatch of each kind that bears a single one."""
    names = [swatch.name for swatch in coloured.palette.swatches]
    orbits = coloured.survey.orbits.orbits
    if not orbits:
        return Made(__version__)
    worn = coloured.colouring.of_face[np.concatenate([o.faces for o in orbits])]
    size = np.array([len(o.faces) for o in orbits])
    begin = np.cumsum(size) - size
    least, most = (f.reduceat(worn, begin) for f in (np.minimum, np.maximum))
    least[least != most] = -1
    found = [
        (orbit.letter, names[swatch])
        for orbit, swatch in zip(orbits, least.tolist(), strict=True)
        if swatch >= 0
    ]
    return Made(__version__, tuple(found))


def made_notes(before: Made, now: Made) -> tuple[Note, ...]:
    """Return a note where another version once gave other swatches."""
    if not before.version or before.version == now.version:
        return ()
    other = dict(now.swatches)
    changed = [k for k, s in before.swatches if other.get(k, s) != s]
    if not changed:
        return ()
    letters = ", ".join(changed[:8]) + (" ..." if len(changed) > 8 else "")
    text = (
        f"fillwork {before.version} gave other swatches to {letters} when the plan "
        "was written"
    )
    remedy = "take them as they were with --as-made"
    return (Note("pipeline", "made otherwise", text, remedy=remedy),)
