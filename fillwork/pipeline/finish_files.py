"""Every file that a finish hands out: the report, the page in one file, all of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fillwork.pipeline.output import REPORT, digest
from fillwork.pipeline.reports import survey_columns
from fillwork.pipeline.scale import real_scale
from fillwork.pipeline.sheet_outputs import mask_files, sheets_record

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fillwork.pipeline.finish import Finish


def all_files(finish: Finish, *, html: bool, dxf: bool) -> dict[str, bytes]:
    """Return names and contents of the main job's files, the report last.

    As of `Finish.files`.

    `html`: whether the page to hand on is among them. `dxf`: whether closed outlines
    for cutters and CAD are among them.
    """
    from fillwork.renderers.report import to_json

    finish.progress("drawing")
    files = {"coloured.svg": finish.svg(), "coloured.png": finish.png()}
    if finish.plan.view != "normal":
        files[f"coloured-{finish.plan.view}.png"] = finish.view_png()
    finish.progress("laying out sheets")
    files["sheets.pdf"] = finish.sheets()
    files |= mask_files(finish, ".svg")
    if dxf:
        files["coloured.dxf"] = finish.dxf()
        files |= mask_files(finish, ".dxf")
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

    As of `fillwork.renderers.report.colouring_report`.

    `outputs`: files written with it, whose digests the report gives, and the sheets.
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
    return report | {"sheets": sheets_record(finish)} if outputs else report


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
