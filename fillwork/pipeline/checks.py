"""Arguments checked at the door, in the library's words."""

from __future__ import annotations

from dataclasses import Field, fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import fillwork.errors as err
from fillwork.pipeline.taking import load_palette
from fillwork.plans.model import SHEETS, Plan
from fillwork.tomlfile import check_lines, check_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.pipeline.surveying import Survey


def check_source(source: object, plan: object) -> None:
    """Raise for what is no drawing, in words for who writes a program.

    `source`: what was given as one. Raises `TypeError` if it is neither a file, nor
    bytes, nor line work; or the plan is none.
    """
    from fillwork.linework import LineWork

    if not isinstance(plan, Plan | None):
        what = f"a plan is a Plan, not {type(plan).__name__}; read a file by read_plan"
        raise TypeError(what)
    if not isinstance(source, str | Path | bytes | LineWork):
        what = (
            "a drawing is the path of a file, its bytes, or a LineWork, not "
            f"{type(source).__name__}; lines in hand become one by "
            "LineWork.from_geometry"
        )
        raise TypeError(what)


def check_survey(survey: object) -> None:
    """Raise for what is no survey, where this stage cannot load the class.

    Raises `TypeError`.
    """
    from fillwork.arrangement.model import Arrangement

    if not isinstance(getattr(survey, "arrangement", None), Arrangement):
        what = f"survey is a Survey, not {type(survey).__name__}"
        raise TypeError(what)


_DRAWN = {
    "outline": "the panel's outline",
    "corner": "the corner piece",
    "border": "the border's strip",
    "border_cell": "the outline of the border's cell",
}
"""Fields of `LayingSettings` that hold path data, with what it shows."""

_LENGTH = "give a length above 0 with"


def check_plan(plan: Plan) -> None:
    """Raise for a choice that no drawing could mend, before any work is done.

    Raises `PlanError` if the real width, the paper, the name of a sheet or a text is
    wrong. Raises `PaletteError` if the palette is unknown or wrong. Raises
    `SymmetryError` if the stated symmetry names no group.
    """
    from fillwork.bands.settings import known_width
    from fillwork.plans.file import check_values
    from fillwork.symmetry.groups import parse_group
    from fillwork.units import page_size

    for field in fields(plan):
        # palette and paints on hand were checked
        if field.name not in {"palette_data", "on_hand_data", "laying"}:
            for text in _texts(getattr(plan, field.name)):
                check_text(text, f"a text of {field.name.replace('_', ' ')}")
    for field in fields(plan.laying):
        name = _DRAWN.get(field.name)
        for text in _texts(getattr(plan.laying, field.name)):
            if name is None:
                check_text(text, "a text of laying")
            else:
                check_lines(text, name)
    for value, what, mend in (
        (plan.real_width, "the real width is {:g}", f"{_LENGTH} --real-width"),
        (plan.scale, "the scale is {:g}", "write it as --scale 1:5"),
        (plan.bands.width, "the bands have no width", f"{_LENGTH} --band"),
    ):
        if value is not None and value <= 0:
            raise err.PlanError(what.format(value), mend=mend)
    if plan.laying.by:
        from fillwork.laying.ways import check_way

        check_way(plan.laying.by)
    if plan.bands.find not in ("auto", "no"):
        known_width(plan.bands.find)
    if plan.sheets.paper != "drawing":
        page_size(plan.sheets.paper)
    for name in plan.sheets.sheets:
        if name not in SHEETS:
            what = f"sheet “{name}” is not known"
            raise err.PlanError(what, mend="take some of " + ", ".join(SHEETS))
    for _, group in plan.symmetry:
        if group != "auto":
            parse_group(group)
    if plan.rules.choices and plan.rules.counterchange in (None, "no"):
        what = "a choice is named, but no number of colours that change places"
        raise err.PlanError(what, mend="add --counterchange K, or leave --choice out")
    if plan.rules.choices and plan.rules.counterchange == "apart":
        what = "apart chooses by itself how kinds alternate, and a choice is named"
        raise err.PlanError(what, mend="give a number of colours, or leave it out")
    check_values(plan)
    load_palette(plan)


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from _texts(one)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _texts(getattr(value, field.name))


def _section(one: Field[Any]) -> str:
    """Return the section of the plan file in which a field of the plan stands."""
    return str(one.metadata.get("key", "")).partition(".")[0] or one.name


SURVEYED = tuple(
    one.name
    for one in fields(Plan)
    if _section(one) in {"lines", "laying", "bands", "symmetry", "scan"}
)
"""Choices that every survey rests on: whole sections of the plan file."""

SIZED = ("real_width", "real_of", "scale", "real")
"""Choices of the true size."""


def rests_on(plan: Plan) -> tuple[str, ...]:
    """Return the choices that a survey by a plan rests on.

    The true size is one where a panel or the width of bands is stated in true lengths.
    """
    bands = plan.bands
    wide = bands.width is not None or bands.find not in ("auto", "no")
    return (*SURVEYED, *SIZED) if wide or plan.laying.wanted else SURVEYED


def refuse_misfit(survey: Survey, plan: Plan) -> None:
    """Raise when a plan wants another survey than the one in hand.

    Raises `PlanError` if a choice differs that the survey rests on.
    """
    for name in rests_on(survey.plan):
        mine, theirs = getattr(plan, name), getattr(survey.plan, name)
        if mine != theirs:
            what = f"the plan has {name} = {mine!r}, the survey {theirs!r}"
            mend = "make the survey by the same plan"
            raise err.PlanError(what, survey.linework.file, mend)


def refuse_no_regions(survey: Survey) -> None:
    """Raise when there is nothing to colour.

    Raises `LineWorkError` if the drawing has no region.
    """
    if survey.arrangement.face_count > 1:
        return
    loose = sum(1 for d in survey.arrangement.defects if d.type == "loose end")
    what = f"the lines close no region ({loose} loose ends)"
    mend = (
        "see them with: fillwork survey DRAWING --picture survey.png; "
        "then draw what is missing"
    )
    for note in survey.notes:
        if note.type == "open gaps":
            what, mend = f"{what}; {note.text}", note.remedy
    raise err.LineWorkError(what, survey.linework.file, mend)
