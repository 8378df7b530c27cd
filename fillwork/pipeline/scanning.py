"""Lines read as a plan chooses them, and how it says that a picture is traced."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from fillwork.errors import PlanError

if TYPE_CHECKING:
    from pathlib import Path

    from fillwork.linework import LineWork
    from fillwork.plans.model import Plan
    from fillwork.readers.scan.model import Choices


def read_chosen(
    source: str | Path | bytes,
    plan: Plan,
    name: str,
    allow_large: bool,
    *,
    guides: bool = False,
) -> LineWork:
    """Read the lines that a plan chooses.

    `guides`: whether lines of a picture in other inks than the pen's are guides.
    """
    from fillwork.readers import read_linework

    return read_linework(
        source,
        name=name,
        lines=plan.lines,
        leave=plan.leave,
        scope=plan.scope,
        hidden=plan.hidden,
        allow_large=allow_large,
        picture=replace(picture_choices(plan), guides=guides),
        layout=plan.layout,
        page_number=plan.page_number,
    )


def picture_choices(plan: Plan) -> Choices:
    """Return the choices for a picture.

    `plan`: all choices; `Plan.scan` counts. Raises `PlanError` if the size, the
    corners, the pen or the resolution is none.
    """
    from fillwork.readers.scan.model import Choices

    scan = plan.scan
    if scan.corners and len(scan.corners) != 4:
        what = f"{len(scan.corners)} corners are named; a sheet has 4"
        raise PlanError(what, mend="name them in px, clockwise from the upper left")
    pen = scan.pen.lower()
    if pen != "auto" and not re.fullmatch(r"#[0-9a-f]{6}", pen):
        what = f"pen “{scan.pen}” is no colour"
        raise PlanError(what, mend="write auto, or a colour as #1a2b3c")
    if scan.dpi is not None and not 50.0 <= scan.dpi <= 4800.0:
        what = f"a resolution of {scan.dpi:g} dpi cannot be"
        raise PlanError(what, mend="give --dpi from 50 to 4800")
    return Choices(
        sheet_size=_size(scan.sheet_size),
        corners=scan.corners,
        pen=pen,
        pencil=scan.pencil,
        dpi=scan.dpi,
        settled=scan.settled,
        inked=scan.inked,
    )


def _size(text: str) -> tuple[float, float] | None:
    from fillwork.units import page_size, parse_length

    if text.strip().lower() == "auto":
        return None
    if "," not in text:
        return page_size(text)
    parts = text.split(",")
    size = tuple(parse_length(p, what="sheet size") for p in parts)
    if len(size) != 2 or not all(10.0 <= v <= 3000.0 for v in size):
        what = f"“{text}” is no size of a sheet"
        raise PlanError(what, mend="write width and height, such as 210,297")
    return (size[0], size[1])
