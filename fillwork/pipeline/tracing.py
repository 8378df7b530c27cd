"""Tracing: a picture of an inked sheet, handed back as a drawing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from fillwork.pipeline.handed import Handed
from fillwork.pipeline.progress import quiet

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.linework import LineWork
    from fillwork.plans.model import Plan
    from fillwork.readers.scan.trace import Traced

    Progress = Callable[[str], None]


_SHOWN = 12


@dataclass(frozen=True, slots=True, eq=False)
class Tracing(Handed):
    """Hold a traced sheet and what it can be written as."""

    traced: Traced  # the sheet
    linework: LineWork  # its lines in mm
    plan: Plan

    record: ClassVar[str] = "trace.json"

    def pictures(self) -> dict[str, bytes]:
        """Return the drawing, and the sheet with the lines over it."""
        from fillwork.readers.scan.overlay import draw_overlay
        from fillwork.renderers.encoders.svg import to_svg
        from fillwork.renderers.lines import lines_scene

        title = "Lines traced from a sheet"
        scene = lines_scene(self.linework, title=title, ends="round")
        return {"drawing.svg": to_svg(scene), "trace.png": draw_overlay(self.traced)}

    def report(self) -> dict[str, Any]:
        """Return how far the lines are sure, as plain values; lengths in mm."""
        from fillwork.renderers.report import trace_report

        lines = self.linework
        assert lines.trace is not None
        return {
            "schema": 1,
            "drawing": {"file": lines.file, "sha256": lines.digest},
            "trace": trace_report(lines.trace),
        }

    def table(self) -> str:
        """Return what was traced as a few lines of text.

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
    source: bytes, plan: Plan, *, name: str = "", progress: Progress = quiet
) -> Tracing:
    """Trace a picture of an inked sheet.

    `plan`: all choices; `Plan.scan` counts. `name`: file name to show. Raises
    `FillworkError` if the picture cannot be read, or shows no lines.
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
        from fillwork.pipeline.regular import even_out
        from fillwork.pipeline.surveying import arrange

        progress("finding the symmetry")
        linework = even_out(linework, partial(arrange, plan=plan, allow_large=False))
    return Tracing(traced, linework, plan)
