"""Parts: what one drawing with one palette gives, made from bytes and kept on disk."""

from __future__ import annotations

import io
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError
from fillwork.pipeline.output import digest, write_files

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fillwork.pipeline.batch.jobs import Choice, Job
    from fillwork.pipeline.finish import Finish

    Keeping = Callable[["Part"], "Part"]  # `keep` for one batch


DONE, FAULT, WAITING = "done", "fault", "waiting"

SMALL = 480
"""Longer side of the small pictures on the contact sheet, px."""


@dataclass(frozen=True, slots=True)
class Row:
    """Hold one row of the table.

    Parameters
    ----------
    drawing, folder, palette : str
        File name of the drawing, folder of the results, name of the palette.
    state : str
        ``done``, ``fault`` or ``waiting``.
    regions, kinds : int or None
        How many.
    symmetry : str
        Of the largest zone, such as ``plane p4m``.
    certain : bool or None
        Whether that is certain.
    least, wanted, possible : float or None
        Smallest difference of touching kinds, the goal, the best possible, ΔE00.
    swatches : int or None
        How many are used.
    notes : int or None
        How many notes the report has.
    fault, mend : str
        What went wrong, and what helps.
    strip : tuple of (hex, grey hex, share, code)
        Swatches by their share of the area.
    """

    drawing: str
    folder: str
    palette: str
    state: str
    regions: int | None = None
    kinds: int | None = None
    symmetry: str = ""
    certain: bool | None = None
    least: float | None = None
    wanted: float | None = None
    possible: float | None = None
    swatches: int | None = None
    notes: int | None = None
    fault: str = ""
    mend: str = ""
    strip: tuple[tuple[str, str, float, str], ...] = ()

    def plain(self) -> dict[str, Any]:
        """Return the row as plain values.

        Returns
        -------
        dict
            Names and values.
        """
        return asdict(self)


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Hold what one drawing with one palette gave."""

    row: Row  # its row of the table
    source: str = ""  # SHA-256 of the drawing that was read
    version: str = ""  # the version of fillwork that made it
    # file names and contents, until they are written
    files: dict[str, bytes] = field(default_factory=dict)
    # file names and their SHA-256, once they are
    outputs: dict[str, str] = field(default_factory=dict)
    picture: bytes = b""  # a small PNG


def make_parts(job: Job, data: bytes) -> Iterator[Part]:
    """Do the main job for a drawing with each palette.

    Yields one a palette; a fault is a part too.
    """
    from fillwork.pipeline.finish import Finish
    from fillwork.pipeline.painting import colour_survey
    from fillwork.pipeline.surveying import make_survey

    try:
        survey = make_survey(
            data, job.choices[0].plan, name=job.name, allow_large=job.allow_large
        )
    except Exception as error:
        yield from faults(job, error)
        return
    for choice in job.choices:
        try:
            finish = Finish(colour_survey(survey, choice.plan))
            yield _part(job, choice, finish)
        except Exception as error:
            yield Part(_faulty(job, choice, error))


def faults(job: Job, error: BaseException) -> Iterator[Part]:
    """Return one fault as the parts of a whole job.

    Yields one a palette, without files.
    """
    for choice in job.choices:
        yield Part(_faulty(job, choice, error))


def keep(part: Part, out: str, *, force: bool, plan_file: Path | None) -> Part:
    """Write the files of a part, whole or not at all.

    Digests instead of files; a fault where they could not be written. `out`: the
    batch's folder. `plan_file`: a file that is never overwritten.
    """
    if not part.files:
        return part
    folder = Path(out) / part.row.folder
    outputs = {name: digest(data) for name, data in part.files.items()}
    try:
        write_files(folder, part.files, force=force, keep=plan_file)
    except FillworkError as error:
        row = replace(part.row, state=FAULT, fault=_one_line(error), mend=error.mend)
        return Part(row)
    return replace(part, files={}, outputs=outputs)


def _part(job: Job, choice: Choice, finish: Finish) -> Part:
    from fillwork.pipeline.finish_files import all_files
    from fillwork.version import __version__

    files = all_files(finish, **job.further)
    return Part(
        _row(job, choice, finish),
        finish.survey.linework.digest,
        __version__,
        files,
        picture=_small(files["coloured.png"]),
    )


def _place(job: Job, choice: Choice) -> str:
    return f"{job.folder}/{choice.folder}" if choice.folder else job.folder


def _row(job: Job, choice: Choice, finish: Finish) -> Row:
    """Return the row of a drawing that is done."""
    from fillwork.pipeline.colourways import strip_of

    colouring, found = finish.colouring, finish.survey.zones[0].symmetry
    group = found.group
    least = None
    if colouring.closest is not None:
        least = round(float(colouring.smallest_difference), 1)
    strip = strip_of(finish.survey, colouring, finish.palette)
    return Row(
        job.name,
        _place(job, choice),
        finish.palette.name,
        DONE,
        regions=finish.arrangement.face_count - 1,
        kinds=len(finish.orbits.orbits),
        symmetry="none" if group.family == "none" else f"{group.family} {group.short}",
        certain=bool(found.certain),
        least=least,
        wanted=round(float(colouring.goal), 1),
        possible=None if least is None else round(float(colouring.bound), 1),
        swatches=len({int(s) for s in colouring.of_face[1:]}),
        notes=len(finish.notes),
        strip=tuple((a, b, round(c, 6), d) for a, b, c, d in strip),
    )


def _faulty(job: Job, choice: Choice, error: BaseException) -> Row:
    """Return the row of a fault, whatever raised it."""
    mend = ""
    if isinstance(error, FillworkError):
        what, mend = _one_line(error), error.mend
    elif isinstance(error, MemoryError):
        what = "the drawing needs more memory than there is"
        mend = "leave lines out with --leave, or take fewer --workers"
    else:
        what = f"an error in fillwork itself: {type(error).__name__}: {error}"
        mend = "colour the drawing by itself and report what it says"
    from fillwork.pipeline.taking import load_palette

    palette = load_palette(choice.plan).name
    what = " ".join(what.split())
    return Row(job.name, _place(job, choice), palette, FAULT, fault=what, mend=mend)


def _one_line(error: FillworkError) -> str:
    return f"{error.where}: {error.what}" if error.where else error.what


def _small(png: bytes) -> bytes:
    """Return a picture made small."""
    from PIL import Image

    with Image.open(io.BytesIO(png)) as picture:
        # reading at a fraction of its size would do for a sheet of small pictures
        small = picture.convert("RGB")
    small.thumbnail((SMALL, SMALL), Image.Resampling.BOX)
    out = io.BytesIO()
    small.save(out, "PNG")
    return out.getvalue()
