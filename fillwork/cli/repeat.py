"""``fillwork repeat``: one cell laid over a whole panel."""

from __future__ import annotations

from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.handing import hand_back


@click.command(name="repeat", cls=Command, leading="One cell over a panel")
@click.argument("drawing", metavar="CELL")
@options.apply(options.lines_options, options.output_options, options.run_options)
@click.option(
    "--png-width",
    type=click.IntRange(16, 20000),
    metavar="PX",
    help="Width of the picture; 1600 unless said.",
)
def command(
    drawing: str,
    out: str | None,
    force: bool,
    quiet: bool,
    allow_large: bool,
    **settings: Any,
) -> None:
    """Lay one cell over a whole panel: fillwork repeat CELL --over 600mm,900mm.

    CELL is a drawing of one repeat, of the smallest part of it, or of a whole
    pattern. Writes drawing.svg, which every other command takes, and places.png,
    the good places by number.
    """
    from fillwork.errors import PlanError
    from fillwork.pipeline.checks import check_plan
    from fillwork.pipeline.laying import lay_drawing

    given = settings.get("plan_file")
    plan = choices.plan_from(settings)
    if plan.close or plan.drop or plan.cut:
        what = "--close, --drop and --cut name places of the panel, not of its cell"
        mend = "mend the cell's drawing, or give them to fillwork colour with --over"
        raise PlanError(what, mend=mend)
    if not plan.laying.wanted:
        what = "how large the panel is is not said"
        raise PlanError(what, mend="add --over W,H, for instance --over 600mm,900mm")
    check_plan(plan)
    hand_back(
        lay_drawing,
        plan,
        given,
        drawing,
        out=out,
        step="laid",
        force=force,
        quiet=quiet,
        allow_large=allow_large,
    )
