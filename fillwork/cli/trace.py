"""``fillwork trace``: a picture of an inked sheet to exact line work."""

from __future__ import annotations

from typing import Any

import click

from fillwork.cli import choices, options, values
from fillwork.cli.command import Command
from fillwork.cli.handing import hand_back


@click.command(name="trace", cls=Command, leading="Picture of a sheet")
@click.argument("drawing", metavar="PICTURE")
@click.option("--plan", "plan_file", metavar="FILE", help="Take all choices from it.")
@options.apply(options.scan_options)
@click.option(
    "--corners",
    "corners",
    type=values.CORNERS,
    metavar="x,y x,y x,y x,y",
    help="The same as --sheet-corners.",
)
@options.apply(options.output_options)
@click.option("--quiet", is_flag=True, help="Say no progress.")
def command(
    drawing: str,
    corners: Any,
    out: str | None,
    force: bool,
    quiet: bool,
    **settings: Any,
) -> None:
    """Trace the inked lines of a scan or a photograph.

    Writes drawing.svg, which every other command takes, with the layers final,
    doubtful and pencil; trace.png, the flat sheet with the lines over it and a
    numbered ring on each doubt; trace.json and plan.toml.
    """
    from fillwork.pipeline.tracing import trace_drawing

    given = settings.get("plan_file")
    if corners is not None:
        settings["sheet_corners"] = corners
    plan = choices.plan_from(settings)
    hand_back(trace_drawing, plan, given, drawing, out=out, force=force, quiet=quiet)
