"""``fillwork schedule``: what to buy and in what order to paint."""

from __future__ import annotations

from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_notes


@click.command(name="schedule", cls=Command, leading="Paint")
@options.apply(
    options.drawing_argument,
    options.lines_options,
    options.weave_options,
    options.colouring_options,
    options.paint_options,
)
@click.option("--csv", "as_csv", is_flag=True, help="The quantities as CSV.")
@options.apply(options.run_options)
def command(
    drawing: str, as_csv: bool, quiet: bool, allow_large: bool, **settings: Any
) -> None:
    """Work out areas, paint and leaf to buy, painting order and cautions."""
    from fillwork.pipeline import job

    plan = choices.plan_from(settings)
    data, name = choices.read_drawing(drawing, allow_large)
    with Progress(quiet) as progress:
        done = job.colour_drawing(
            data, plan, name=name, allow_large=allow_large, progress=progress
        )
        text = done.schedule_csv() if as_csv else done.schedule_text()
    say(text, nl=False)
    show_notes(done.notes)
