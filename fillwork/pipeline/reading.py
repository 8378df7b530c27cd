"""The lines of a drawing as a plan chooses them, laid where it says so."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.pipeline.progress import quiet
from fillwork.pipeline.scanning import read_chosen

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fillwork.linework import LineWork
    from fillwork.plans.model import Plan

    Progress = Callable[[str], None]


def read_lines(
    source: str | Path | bytes | LineWork,
    plan: Plan,
    *,
    name: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
) -> LineWork:
    """Return the lines of a drawing, laid over a panel where the plan says so.

    `source`: the drawing's file, or its content, or its lines. Raises `FillworkError`
    if the drawing cannot be read or laid.
    """
    return read_with_drawn(
        source, plan, name=name, allow_large=allow_large, progress=progress
    )[0]


def read_with_drawn(
    source: str | Path | bytes | LineWork,
    plan: Plan,
    *,
    name: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
) -> tuple[LineWork, LineWork | None]:
    """Return the lines as `read_lines` does, and those that were laid in a border.

    The latter None where nothing is laid, a cell is named, or no strip runs round it.
    """
    from fillwork.errors import PlanError
    from fillwork.linework import LineWork

    laying = plan.laying
    if isinstance(source, LineWork):
        if laying.wanted or plan.lines or plan.leave:
            what = "lines in hand are taken as they are: not chosen, not laid"
            raise PlanError(what, mend="leave lines, leave and laying out of the plan")
        return source, None
    if not laying.wanted:
        return read_chosen(source, plan, name, allow_large), None
    from fillwork.pipeline.laying import lay_drawing

    laid = lay_drawing(
        source, plan, name=name, allow_large=allow_large, progress=progress
    )
    bordered = laid.border is not None and bool(laying.border_cell)
    return laid.linework, laid.drawn if bordered and not laying.cell else None
