"""``fillwork report``: what to hand over when a drawing comes out wrong."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_written


@click.command(name="report", cls=Command, leading="Lines of the drawing")
@options.apply(
    options.drawing_argument, options.lines_options, options.colouring_options
)
@click.option("--wrong", "words", default="", metavar="WORDS", help="What is wrong.")
@click.option(
    "--with-drawing/--without-drawing",
    default=None,
    help="Put the drawing itself beside it; asked on a terminal, else left out.",
)
@options.apply(options.run_options)
@click.option(
    "--out", default="trouble", metavar="DIR", show_default=True, help="Where to."
)
@click.option("--force", is_flag=True, help="Overwrite what differs there.")
def command(
    drawing: str,
    words: str,
    with_drawing: bool | None,
    quiet: bool,
    allow_large: bool,
    out: str,
    force: bool,
    **settings: Any,
) -> None:
    """Gather what the maintainers need of a drawing that came out wrong.

    Versions, choices, numbers of what was found and the drawing's digest; the
    drawing itself only when you say so. Nothing is sent: read it, then hand it over.
    """
    from fillwork.pipeline.output import write_files
    from fillwork.pipeline.trouble import gather_trouble

    plan = choices.plan_from(settings)
    data, name = choices.read_drawing(drawing, allow_large)
    with Progress(quiet) as progress:
        told = gather_trouble(
            data,
            plan,
            name=name,
            words=words,
            allow_large=allow_large,
            progress=progress,
        )
    if with_drawing is None:
        with_drawing = sys.stdin.isatty() and click.confirm(
            "Put the drawing itself beside it? Whoever gets the folder can open it."
        )
    text = json.dumps(told, indent=1, ensure_ascii=False) + "\n"
    files = {"trouble.json": text.encode()}
    if with_drawing:
        files[f"drawing{Path(name).suffix}"] = data
    show_written(write_files(Path(out), files, force=force))
    say("nothing was sent: look it through, then attach it to what you write us")
