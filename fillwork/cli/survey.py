"""``fillwork survey``: what is in a drawing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_notes


@click.command(name="survey", cls=Command, leading="Plan and true size")
@options.apply(options.drawing_argument, options.lines_options, options.weave_options)
@click.option("--json", "as_json", is_flag=True, help="The report as JSON.")
@click.option(
    "--picture",
    metavar="FILE",
    help="Draw regions, symmetry and defects: .svg, .png or .pdf.",
)
@click.option(
    "--png-width",
    type=click.IntRange(16, 20000),
    metavar="PX",
    help="Width of a PNG; 1600 unless said.",
)
@click.option("--force", is_flag=True, help="Overwrite a picture that differs.")
@options.apply(options.run_options)
def command(
    drawing: str,
    as_json: bool,
    picture: str | None,
    force: bool,
    quiet: bool,
    allow_large: bool,
    **settings: Any,
) -> None:
    """Find regions, open ends, symmetry and kinds; show a table."""
    from fillwork.errors import RenderError
    from fillwork.pipeline import output, reports
    from fillwork.pipeline.encoding import PICTURES
    from fillwork.pipeline.picture import survey_picture
    from fillwork.pipeline.surveying import make_survey

    plan = choices.plan_from(settings)
    if picture is not None and Path(picture).suffix.lower() not in PICTURES:
        what = "a picture ends in " + ", ".join(PICTURES)
        raise RenderError(what, picture, "name the file so")
    data, name = choices.read_drawing(drawing, allow_large)
    with Progress(quiet) as progress:
        survey = make_survey(
            data, plan, name=name, allow_large=allow_large, progress=progress
        )
        if picture is not None:
            progress("drawing the picture")
            suffix = Path(picture).suffix
            image = survey_picture(survey, suffix, width=plan.png_width)
            output.write_file(Path(picture), image, force=force)
        if as_json:
            text = reports.survey_json(survey).decode()
        else:
            text = reports.survey_table(survey)
    say(text, nl=False)
    show_notes(survey.notes)
