"""Commands that hand a drawing back: laid, traced or woven."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.cli import choices
from fillwork.cli.messages import Progress, say, show_notes, show_written

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.plans.model import Plan


def hand_back(
    make: Callable[..., Any],
    plan: Plan,
    plan_file: str | None,
    drawing: str,
    *,
    out: str | None,
    step: str = "",
    force: bool,
    quiet: bool,
    **reading: bool,
) -> None:
    """Make a drawing from a drawing, write what came of it, and tell it.

    `make`: from the content and the plan to a `Handed` that tells itself by `table`.
    `plan_file`: the file that they were taken from, which is not written over.
    `drawing`: a file, or ``-`` for standard input. `out`: where to write, as given with
    ``--out``. `step`: the folder beside a drawing of fillwork's own. `force` and
    `quiet`: overwrite; say no progress. `reading`: whether ``allow_large``, where
    `make` takes large drawings.
    """
    folder = choices.folder_for(out, drawing, step=step)
    data, name = choices.read_drawing(drawing, **({"allow_large": False} | reading))
    with Progress(quiet) as progress:
        done = make(data, plan, name=name, progress=progress, **reading)
        progress("drawing")
        keep = None if plan_file is None else Path(plan_file)
        written = done.write(folder, force=force, keep=keep)
    say(done.table(), nl=False)
    show_written(written)
    show_notes(done.notes)
