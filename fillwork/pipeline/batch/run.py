"""A whole batch: jobs made, worked off, told as a table and a contact sheet."""

from __future__ import annotations

import hashlib
import time
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from fillwork.errors import FillworkError, PlanError, ReadError
from fillwork.pipeline.batch.contact import contact_files
from fillwork.pipeline.batch.jobs import (
    Choice,
    Job,
    folder_names,
    job_key,
    plain_folder,
)
from fillwork.pipeline.batch.local import usable_cores, work_locally
from fillwork.pipeline.batch.parts import DONE, FAULT, WAITING, Part, Row, faults, keep
from fillwork.pipeline.batch.record import Ledger, rows_csv
from fillwork.pipeline.checks import check_plan
from fillwork.pipeline.output import outputs_of, write_files
from fillwork.pipeline.painting import with_palette
from fillwork.pipeline.progress import quiet
from fillwork.pipeline.taking import plan_fonts
from fillwork.plans.model import Plan

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fillwork.colouring.palettes.model import Palette
    from fillwork.pipeline.batch.parts import Keeping
    from fillwork.pipeline.progress import Progress


RECORD = "batch.json"


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Hold what a batch gave.

    Parameters
    ----------
    rows : tuple of Row
        One a drawing and palette, in the order of the drawings.
    written : tuple of Path
        The table, the contact sheet and their record.
    before : int
        How many rows were done by an earlier run.
    stopped : bool
        Whether it was stopped before its end.
    """

    rows: tuple[Row, ...]
    written: tuple[Path, ...]
    before: int = 0
    stopped: bool = False

    def count(self, state: str) -> int:
        """Return how many rows are in a state.

        Parameters
        ----------
        state : str
            ``done``, ``fault`` or ``waiting``.

        Returns
        -------
        int
            How many.
        """
        return sum(row.state == state for row in self.rows)


def colour_batch(
    drawings: Sequence[str | Path],
    plan: Plan | None = None,
    *,
    palettes: Sequence[str | Palette] = (),
    out: str | Path = "out",
    workers: int | None = None,
    cluster: str = "",
    html: bool = False,
    dxf: bool = False,
    force: bool = False,
    plan_file: Path | None = None,
    allow_large: bool = False,
    progress: Progress = quiet,
) -> Batch:
    """Do the main job for many drawings, each in a folder of its own.

    A fault in one is a row of the table, and the others go on. What an earlier run
    made of the same drawing, choices and version is kept. Ctrl-C ends it with whole
    files.

    Parameters
    ----------
    drawings : sequence of str or Path
        Files.
    plan : Plan, optional
        All choices, for every drawing.
    palettes : sequence of str or Palette
        Names, files or palettes in hand; each is laid on every drawing. By default
        the plan's.
    out : str or Path
        Where to; made when missing.
    workers : int, optional
        How many processes of this machine; by default one a processor.
    cluster : str
        Address of a Dask scheduler whose workers do the work instead.
    html, dxf : bool
        As of `Finish.write`.
    force : bool
        Overwrite files that are not fillwork's own.
    plan_file : Path, optional
        A file that is never overwritten.
    allow_large : bool
        Raise the size limits.
    progress : callable
        Called with how many are done.

    Returns
    -------
    Batch
        The rows, and what was written beside the drawings' folders.

    Raises
    ------
    FillworkError
        If a choice is wrong for any drawing, a drawing is named that is none, or the
        folder cannot be written.
    """
    choices = _choices(Plan() if plan is None else plan, palettes)
    paths = _paths(drawings)
    further = {"html": html, "dxf": dxf}
    jobs = [
        Job(str(path), folder, choices, further, allow_large)
        for path, folder in zip(paths, folder_names(paths), strict=True)
    ]
    if workers is not None and workers < 1:
        what = f"{workers} workers can do nothing"
        raise PlanError(what, mend="take 1 or more")
    count = min(workers or usable_cores(), len(jobs))
    keeping = partial(keep, out=str(out), force=force, plan_file=plan_file)
    found: dict[Job, list[Part]] = {}
    todo: dict[Job, tuple[str, str]] = {}  # the job's key, the drawing's digest
    ledger, before, stopped = Ledger(str(out)), 0, False
    try:
        progress("looking for what is done")
        for job in jobs:
            try:
                source = _digest_of(job)
            except FillworkError as error:
                found[job] = list(faults(job, error))
                continue
            key = job_key(job, source)
            parts = ledger.recall(job, key)
            if parts is None:
                todo[job] = key, source
            else:
                found[job] = parts
                before += len(parts)
        tell = _Estimate(len(jobs), len(todo), progress)
        tell(found)
        for job, parts in _work(list(todo), keeping, count, cluster):
            ledger.remember(job, *todo[job], parts)
            found[job] = parts
            tell(found)
    except KeyboardInterrupt:
        stopped = True
    progress("drawing the contact sheet")
    every = [part for job in jobs for part in found.get(job) or _not_begun(job)]
    done = [part for part in every if part.row.state == DONE]
    fonts = plan_fonts(choices[0].plan)
    left_out, several = len(every) - len(done), len(choices) > 1
    files = {"batch.csv": rows_csv(part.row for part in every)}
    files |= contact_files(done, left_out=left_out, several=several, fonts=fonts)
    files[RECORD] = _record(files)
    written = write_files(Path(out), files, force=force)
    return Batch(tuple(part.row for part in every), written, before, stopped)


def _choices(plan: Plan, palettes: Sequence[str | Palette]) -> tuple[Choice, ...]:
    """Return one set of choices a palette, each checked before any work."""
    if not palettes:
        check_plan(plan)
        return (Choice("", plan),)
    plans = [with_palette(plan, palette) for palette in palettes]
    for one in plans:
        check_plan(one)
    if len(plans) == 1:
        return (Choice("", plans[0]),)
    called = [p if isinstance(p, str) else p.name for p in palettes]
    names = [plain_folder(name) for name in called]
    if len({name.casefold() for name in names}) < len(names):
        what = f"two of the palettes {', '.join(called)} have one name"
        raise PlanError(what, mend="name each once, or rename a file")
    return tuple(map(Choice, names, plans))


def _paths(drawings: Sequence[str | Path]) -> list[Path]:
    """Return the drawings, each once, as they were named."""
    if isinstance(drawings, str | Path):
        drawings = [drawings]
    seen: dict[Path, Path] = {}
    for drawing in drawings:
        if str(drawing) == "-":
            what = "standard input is one drawing, and a batch needs files"
            raise ReadError(what, mend="save it as a file first")
        path = Path(drawing)
        seen.setdefault(path.resolve(), path)
    if not seen:
        what = "no drawings are named"
        raise ReadError(what, mend="name files, such as drawings/*.svg")
    return list(seen.values())


def _digest_of(job: Job) -> str:
    """Return the SHA-256 of a drawing's file."""
    path = Path(job.path)
    try:
        if not path.is_file():
            what = "there is no such file"
            if path.exists():
                what = "this is no plain file but a folder, a pipe or a device"
            raise ReadError(what, job.name, "check the name")
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        what = f"cannot be read: {(error.strerror or type(error).__name__).lower()}"
        raise ReadError(what, job.name) from error


def _work(
    jobs: list[Job], keeping: Keeping, workers: int, cluster: str
) -> Iterator[tuple[Job, list[Part]]]:
    """Work jobs off; what comes back is written."""
    if cluster and jobs:
        from fillwork.pipeline.batch.cluster import work_on_cluster

        for job, parts in work_on_cluster(jobs, cluster):
            yield job, list(map(keeping, parts))
    else:
        yield from work_locally(jobs, keeping, workers=workers)


def _not_begun(job: Job) -> Iterator[Part]:
    for part in faults(job, FillworkError("")):
        yield replace(part, row=replace(part.row, state=WAITING))


class _Estimate:
    """Tell how many drawings are done, and how long the rest may take."""

    def __init__(self, all_jobs: int, todo: int, progress: Progress) -> None:
        self._all, self._todo, self._progress = all_jobs, todo, progress
        self._begun = time.monotonic()

    def __call__(self, found: dict[Job, list[Part]]) -> None:
        left = self._all - len(found)
        words = f"{len(found):,} of {self._all:,} done"
        wrong = sum(part.row.state == FAULT for p in found.values() for part in p)
        if wrong:
            words += f", {wrong:,} fault{'s' * (wrong != 1)}"
        worked = self._todo - left
        if worked and left:
            seconds = (time.monotonic() - self._begun) / worked * left
            words += f", about {_span(seconds)} left"
        self._progress(f"colouring drawings ({words})")


def _span(seconds: float) -> str:
    """Return a time in words, no finer than it is known."""
    if seconds < 90:
        return f"{max(round(seconds, -1), 10):.0f} s"
    if seconds < 90 * 60:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h"


def _record(files: dict[str, bytes]) -> bytes:
    from fillwork.renderers.report import to_json
    from fillwork.version import __version__

    outputs = outputs_of(files)
    return to_json({"schema": 1, "fillwork": __version__, "outputs": outputs})
