"""``fillwork weave``: plain lines to bands."""

from __future__ import annotations

from typing import Any

import click

from fillwork.cli import choices, options, values
from fillwork.cli.command import Command
from fillwork.cli.handing import hand_back


@click.command(name="weave", cls=Command, leading="Bands")
@options.apply(options.drawing_argument, options.lines_options)
@click.option("--band", type=values.LENGTH, metavar="WIDTH", help="Width of the bands.")
@click.option(
    "--gap",
    "band_gap",
    type=values.LENGTH,
    metavar="LENGTH",
    help="Left free beside the band that is over.",
)
@options.apply(options.band_choices(""), options.output_options, options.run_options)
def command(
    drawing: str,
    out: str | None,
    force: bool,
    quiet: bool,
    allow_large: bool,
    **settings: Any,
) -> None:
    """Weave plain lines into bands that pass over and under.

    Writes drawing.svg, which every other command takes, and woven.png.
    """
    from fillwork.pipeline.weaving import weave_drawing

    given = settings.get("plan_file")
    plan = choices.plan_from(settings)
    hand_back(
        weave_drawing,
        plan,
        given,
        drawing,
        out=out,
        step="woven",
        force=force,
        quiet=quiet,
        allow_large=allow_large,
    )
