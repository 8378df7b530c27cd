"""``fillwork sheets``: paint-by-region sheets alone."""

from __future__ import annotations

from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_notes, show_written


@click.command(name="sheets", cls=Command, leading="Sheets")
@options.apply(
    options.drawing_argument,
    options.lines_options,
    options.weave_options,
    options.colouring_options,
    options.sheet_options,
    options.paint_options,
    options.picture_options,
    options.output_options,
)
@click.option(
    "--as",
    "formats",
    type=click.Choice(["pdf", "svg", "png"]),
    multiple=True,
    help="File formats; pdf unless said, repeatable.",
)
@options.apply(options.run_options)
def command(
    drawing: str,
    out: str | None,
    force: bool,
    formats: tuple[str, ...],
    quiet: bool,
    allow_large: bool,
    **settings: Any,
) -> None:
    """Make paint-by-region sheets: outlines, numbers, key, true scale."""
    from fillwork.pipeline import job
    from fillwork.pipeline.output import earlier_state, write_files

    plan = choices.plan_from(settings)
    folder = choices.folder_for(out, drawing)
    data, name = choices.read_drawing(drawing, allow_large)
    with Progress(quiet) as progress:
        done = job.colour_drawing(
            data, plan, name=name, allow_large=allow_large, progress=progress
        )
        files = done.sheet_files(formats or ("pdf",))
        earlier = earlier_state(folder, done.survey.linework)
        written = write_files(folder, files, force=force)
    show_written(written)
    say(done.pages_text(), nl=False)
    show_notes((*done.notes, *done.sheet_notes, *earlier))
