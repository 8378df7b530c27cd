"""``fillwork colourways``: palettes or assignments side by side."""

from __future__ import annotations

from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_notes, show_written


@click.command(name="colourways", cls=Command, leading="Symmetry and colours")
@options.apply(options.drawing_argument, options.lines_options, options.weave_options)
@click.option(
    "--palette",
    "palettes",
    multiple=True,
    metavar="NAME|FILE",
    help="One: several assignments of it. Several: the best of each. "
    "None: all that come with fillwork.",
)
@click.option(
    "--count",
    type=click.IntRange(1, 60),
    metavar="N",
    help="How many; 6 of one palette, else one a palette.",
)
@options.apply(
    [o for o in options.colouring_options if o is not options.palette_option],
    options.picture_options,
    options.output_options,
    options.run_options,
)
def command(
    drawing: str,
    palettes: tuple[str, ...],
    count: int | None,
    out: str | None,
    force: bool,
    quiet: bool,
    allow_large: bool,
    **settings: Any,
) -> None:
    """Lay palettes or assignments side by side, ranked, each with its plan.

    Take one up with: fillwork colour DRAWING --plan colourway-01.toml
    """
    from fillwork.colouring.palettes.file import list_palettes
    from fillwork.pipeline import colourways
    from fillwork.pipeline.output import earlier_state, write_files
    from fillwork.pipeline.surveying import make_survey

    given = settings.get("plan_file")
    plan = choices.plan_from(settings)
    if not palettes and given is None:
        palettes = list_palettes()
    if count is None:
        count = len(palettes) if len(palettes) > 1 else 6
    folder = choices.folder_for(out, drawing)
    data, name = choices.read_drawing(drawing, allow_large)
    with Progress(quiet) as progress:
        survey = make_survey(
            data, plan, name=name, allow_large=allow_large, progress=progress
        )
        # all palettes are tried, so that the best stay when fewer are wanted
        wanted = max(count, len(palettes))
        found = colourways.suggest(
            survey, plan, palettes, count=wanted, progress=progress
        )[:count]
        made = colourways.files(survey, found, progress=progress)
        earlier = earlier_state(folder, survey.linework)
        written = write_files(folder, made, force=force)
    say(colourways.contact_table(found), nl=False)
    show_written(written)
    show_notes((*survey.notes, *earlier))
