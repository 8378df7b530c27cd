"""``fillwork batch``: the main job for many drawings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fillwork.cli import choices, options
from fillwork.cli.command import Command
from fillwork.cli.messages import Progress, say, show_written


@click.command(name="batch", cls=Command, leading="Many drawings")
@click.argument("drawings", metavar="DRAWING...", nargs=-1, required=True)
@options.apply(options.batch_options, options.lines_options, options.weave_options)
@options.apply(
    [o for o in options.colouring_options if o is not options.palette_option],
    options.sheet_options,
    options.paint_options,
    options.picture_options,
    options.output_options,
)
@options.apply(options.run_options, options.further_options)
@click.pass_context
def command(
    context: click.Context,
    /,
    drawings: tuple[str, ...],
    palettes: tuple[str, ...],
    workers: int | None,
    cluster: str,
    out: str | None,
    force: bool,
    quiet: bool,
    allow_large: bool,
    **settings: Any,
) -> None:
    """Do the main job for many drawings, each in a folder of its own.

    batch.csv has a row for each, and contact.png shows all. A drawing that cannot be
    done is a row of faults, and the others go on; the exit code is 1 then. Begun
    again, it goes on where it stopped: drawings that are done with the same choices
    by the same version are kept as they are.
    """
    from fillwork.pipeline.batch.parts import DONE, FAULT, WAITING
    from fillwork.pipeline.batch.run import colour_batch

    given = settings.get("plan_file")
    wanted = options.names_of(options.further_options)
    further = {name: settings.pop(name) for name in wanted}
    plan = choices.plan_from(settings)
    with Progress(quiet) as progress:
        done = colour_batch(
            drawings,
            plan,
            palettes=[p.strip() for text in palettes for p in text.split(",")],
            out=out or "out",
            workers=workers,
            cluster=cluster,
            **further,
            force=force,
            plan_file=None if given is None else Path(given),
            allow_large=allow_large,
            progress=progress,
        )
    before = f", {done.before:,} of them before" if done.before else ""
    say(f"done      {done.count(DONE):,} of {len(done.rows):,}{before}")
    for row in done.rows:
        if row.state == FAULT:
            mend = f"\n  {row.mend}" if row.mend else ""
            say(f"fault: {row.folder}: {row.fault}{mend}", err=True)
    show_written(done.written)
    if done.stopped:
        waiting = done.count(WAITING)
        say(
            f"fillwork: stopped with {waiting:,} still to do; all files are whole\n"
            "  the same command goes on from here",
            err=True,
        )
        context.exit(130)
    if done.count(FAULT):
        context.exit(1)
