"""``fillwork colour``: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_notes, show_written


@click.command(name="colour", cls=Command, leading="Symmetry and colours")
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
@options.apply(options.run_options, options.further_options)
def command(
    drawing: str,
    out: str | None,
    force: bool,
    quiet: bool,
    allow_large: bool,
    **settings: Any,
) -> None:
    """Do the main job: coloured drawing, sheets, schedule, report, plan."""
    from fillwork.pipeline import job, reports
    from fillwork.pipeline.output import earlier_state

    given = settings.get("plan_file")
    wanted = options.names_of(options.further_options)
    further = {name: settings.pop(name) for name in wanted}
    plan = choices.plan_from(settings)
    folder = choices.folder_for(out, drawing)
    data, name = choices.read_drawing(drawing, allow_large)
    with Progress(quiet) as progress:
        done = job.colour_drawing(
            data, plan, name=name, allow_large=allow_large, progress=progress
        )
        earlier = earlier_state(folder, done.survey.linework)
        keep = None if given is None else Path(given)
        written = done.write(folder, force=force, keep=keep, **further)
    say(reports.summary(done), nl=False)
    if done.choices is not None:
        from fillwork.pipeline.choices import choices_text

        say(choices_text(done.choices, whole=False), nl=False)
    show_written(written)
    say(done.pages_text(), nl=False)
    show_notes((*done.notes, *done.sheet_notes, *earlier))
