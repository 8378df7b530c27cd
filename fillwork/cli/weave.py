"""``fillwork weave``: plain lines to bands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fillwork.cli import choices, options, values
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_notes, show_written


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
@click.option(
    "--start",
    "band_start",
    type=click.Choice(["over", "under"]),
    help="Under: the mirror image, over and under exchanged.",
)
@click.option(
    "--corners",
    "band_corners",
    type=click.Choice(["mitre", "round"]),
    help="How bands bend.",
)
@click.option(
    "--crossings",
    "band_crossings",
    type=click.Choice(["woven", "crossed", "open"]),
    help="Woven; or all edges run through; or none does.",
)
@click.option(
    "--nodes",
    "band_nodes",
    type=click.Choice(["piled", "plain", "ring"]),
    help="Where three lines meet in a point: bands piled; a plain node; or a ring.",
)
@options.apply(options.output_options, options.run_options)
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
    folder = choices.folder_for(out, drawing, step="woven")
    data, name = choices.read_drawing(drawing, allow_large)
    with Progress(quiet) as progress:
        done = weave_drawing(
            data, plan, name=name, allow_large=allow_large, progress=progress
        )
        keep = None if given is None else Path(given)
        written = done.write(folder, force=force, keep=keep)
    say(done.table(), nl=False)
    show_written(written)
    show_notes(done.notes)
