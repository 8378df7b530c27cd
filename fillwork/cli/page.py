"""``fillwork page``: the local page."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from fillwork.cli import choices
from fillwork.cli.command import Command
from fillwork.cli.messages import say


@click.command(name="page", cls=Command)
@click.argument("drawing", required=False)
@click.option("--plan", "plan_file", metavar="FILE", help="Begin with these choices.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    show_default="any that is free",
    help="Port on this machine.",
)
@click.option("--no-open", is_flag=True, help="Do not open the browser.")
@click.option("--allow-large", is_flag=True, help="Raise the size limits.")
def command(
    drawing: str | None,
    plan_file: str | None,
    port: int,
    no_open: bool,
    allow_large: bool,
) -> None:
    """Open the local page: the whole job without a command line.

    It is served to this machine only, and ends with Ctrl-C. Work is kept in the
    state folder of the user and can be taken up again.
    """
    from fillwork.pipeline.taking import read_plan
    from fillwork.server.serve import serve

    given = None
    if drawing is not None:
        data, name = choices.read_drawing(drawing, allow_large)
        given = (data, Path(name).name)
    plan = None if plan_file is None else read_plan(plan_file)

    def ready(address: str) -> None:
        say(address)
        say("end with Ctrl-C", err=True)
        sys.stdout.flush()
        if not no_open:
            click.launch(address)

    try:
        serve(given, plan, port=port, allow_large=allow_large, ready=ready)
    except KeyboardInterrupt:
        say("", err=True)
