"""Tracing: a picture of an inked sheet, handed back as a drawing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from fillwork.pipeline.progress import quiet

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.plans.model import Plan
    from fillwork.readers.scan.trace import Traced
    from fillwork.renderers.scene import Scene

    Progress = Callable[[str], None]

__all__ = ["Tracing", "trace_drawing"]

_SHOWN = 12


@dataclass(frozen=True, slots=True, eq=False)
class Tracing:
    """Hold a traced sheet and what it can be written as.

    Parameters
    ----------
    traced : Traced
        The sheet.
    linework : LineWork
        Its lines in mm.
    plan : Plan
        The choices.
    """

    traced: Traced
    linework: LineWork
    plan: Plan

    @property
    def notes(self) -> tuple[Note, ...]:
        """Return the notes of reading.

        Returns
        -------
        tuple of Note
            What was taken, and what is in doubt.
        """
        return self.linework.notes

    def write(
        self, folder: str | Path, *, force: bool = False, keep: Path | None = None
    ) -> tuple[Path, ...]:
        """Write the drawing, the picture with the lines, the record, the plan.

        Parameters
        ----------
        folder : str or Path
            Where to; made when missing.
        force : bool
            Overwrite files that are not fillwork's own.
        keep : Path, optional
            A file that is never overwritten.

        Returns
        -------
        tuple of Path
            The files written.

        Raises
        ------
        RenderError
            If they cannot be written.
        """
        from pathlib import Path

        from fillwork.pipeline.output import digest, write_files
        from fillwork.plans.file import plan_to_toml
        from fillwork.readers.scan.overlay import draw_overlay
        from fillwork.renderers.encoders.svg import to_svg
        from fillwork.renderers.report import to_json, trace_report

        lines = self.linework
        plan = replace(self.plan, drawing=lines.file, digest=lines.digest)
        files = {
            "drawing.svg": to_svg(self._scene()),
            "trace.png": draw_overlay(self.traced),
            "plan.toml": plan_to_toml(plan).encode(),
        }
        assert lines.trace is not None
        report: dict[str, object] = {
            "schema": 1,
            "drawing": {"file": lines.file, "sha256": lines.digest},
            "trace": trace_report(lines.trace),
            "outputs": [
                {"file": name, "sha256": digest(data)} for name, data in files.items()
            ],
        }
        files["trace.json"] = to_json(report)
        return write_files(Path(folder), files, force=force, keep=keep)

    def _scene(self) -> Scene:
        from fillwork.renderers.scene import Scene, Strokes

        lines, frame = self.linework, self.linework.frame
        items = []
        for row, (layer, colour, width, _) in enumerate(lines.styles):
            strokes = np.flatnonzero(lines.style == row)
            if not len(strokes):
                continue
            count = np.diff(lines.stroke_start)[strokes]
            start = np.r_[0, np.cumsum(count)].astype(np.int64)
            step = np.arange(int(count.sum())) - np.repeat(start[:-1], count)
            first = np.repeat(lines.stroke_start[:-1][strokes], count)
            items.append(
                Strokes(
                    curves=lines.curves.take(first + step),
                    start=start,
                    closed=lines.closed[strokes],
                    width=width or 0.35,
                    colour=colour or "#000000",
                    join="round",
                    cap="round",
                    layer=layer or "final",
                )
            )
        title = "Lines traced from a sheet"
        return Scene(frame.width, frame.height, tuple(items), title, paper="")

    def table(self) -> str:
        """Return what was traced as a few lines of text.

        Returns
        -------
        str
            Lines that end in a line break.
        """
        trace = self.linework.trace
        assert trace is not None
        width, height = trace.page
        pieces = self.traced.drawing.pieces
        arcs = sum(p.circle for p in pieces)
        rows = [
            f"sheet     {width:.1f} x {height:.1f} mm, followed at {trace.dpi:.0f} dpi",
            f"lines     {len(pieces) - arcs} straight, {arcs} arcs; "
            f"pen {trace.pen_width:.2f} mm wide",
            "doubt     " + ("none" if not trace.doubtful else _doubts(self)),
        ]
        if not trace.sure:
            rows.append("          compare trace.png with the sheet before you go on")
        for n, d in enumerate(trace.doubtful[:_SHOWN], 1):
            size = f", {d.size:.1f} mm" if d.size else ""
            rows.append(f"  {n:2d}  @{d.at[0]:.1f},{d.at[1]:.1f}  {d.what}{size}")
        if len(trace.doubtful) > _SHOWN:
            rows.append(f"  and {len(trace.doubtful) - _SHOWN} more, in trace.json")
        return "\n".join(rows) + "\n"


def _doubts(tracing: Tracing) -> str:
    trace = tracing.linework.trace
    assert trace is not None
    count = len(trace.doubtful)
    text = f"{count} place{'s' * (count > 1)}"
    return text + (", none that weighs" if trace.sure else "")


def trace_drawing(
    source: bytes,
    plan: Plan,
    *,
    name: str = "",
    progress: Progress = quiet,
) -> Tracing:
    """Trace a picture of an inked sheet.

    Parameters
    ----------
    source : bytes
        The picture's content.
    plan : Plan
        All choices; `Plan.scan` counts.
    name : str
        File name to show.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    Tracing
        The lines.

    Raises
    ------
    FillworkError
        If the picture cannot be read, or shows no lines.
    """
    from fillwork.errors import ReadError
    from fillwork.pipeline.scanning import picture_choices
    from fillwork.readers.limits import NORMAL
    from fillwork.readers.scan.read import as_linework
    from fillwork.readers.scan.trace import trace_picture
    from fillwork.readers.selectors import Choice
    from fillwork.readers.source import is_picture, open_source

    choices = picture_choices(plan)
    file = open_source(source, name=name, limits=NORMAL)
    if not is_picture(file.data):
        what = "this is no picture"
        mend = "give a PNG, JPEG, TIFF or WebP; other drawings need no tracing"
        raise ReadError(what, file.name, mend)
    progress("tracing the sheet")
    traced = trace_picture(file.data, file.name, choices)
    linework = as_linework(traced, file, Choice())
    if plan.scan.regular:
        from fillwork.pipeline.regular import regular_lines
        from fillwork.pipeline.surveying import arrange
        from fillwork.symmetry.zones.find import find_zones

        progress("finding the symmetry")
        regions = partial(arrange, plan=plan, allow_large=False)
        found = regions(linework)
        zones = find_zones(found)
        linework, *_ = regular_lines(linework, found, zones, regions, wanted=True)
    return Tracing(traced, linework, plan)
