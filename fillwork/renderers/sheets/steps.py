"""The painting order as sheets: one a step, what is done pale behind.

Every step of the schedule has its sheet, priming and varnish too, so that a number
means the same step in sheets, schedule and CSV.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.difference import hex_to_srgb, srgb_to_lab
from fillwork.plans.schedule_text import when_words
from fillwork.renderers.coloured import outline_pen, outline_strokes
from fillwork.renderers.scene import GREY_60, WHITE, Fills, Picture, Strokes, grey
from fillwork.renderers.sheets.key import KeyEntry

if TYPE_CHECKING:
    from fillwork.arrays import Ints
    from fillwork.plans.model import Step
    from fillwork.renderers.sheets.parts import Parts

_PRIMED = 0.12
"""How black the tint of what is primed or cleaned is: seen beside white paper."""
_LIGHT = 80.0
"""L* from which a line would be lost on the pale tints, whose L* is some 90."""

_EDGED = 1.5
"""Width of a light line with its grey edges, which show it, in widths of the line."""

_TITLES = {
    "prime": "priming",
    "varnish": "varnish",
    "clean": "cleaning",
    "line": "outlines",
}


@dataclass(frozen=True, slots=True)
class StepSheet:
    """Hold what stands at the head of one sheet of the painting order."""

    # order and total: the step's number in the schedule, and how many steps there are;
    # 0 for a paint that no step names
    order: int
    total: int
    kind: str  # as of a step
    entry: KeyEntry | None  # the paint; None for priming, varnish and the like
    told: str = ""  # what to do, and why now

    @property
    def title(self) -> str:
        """Return the sheet's subtitle.

        Step, number and name of the paint, or what is done.
        """
        head = f"Step {self.order} of {self.total}: " if self.order else ""
        paint = f"{self.entry.code} {self.entry.name}" if self.entry else ""
        if self.kind == "white":
            return f"{head}white under {paint}"
        what = _TITLES.get(self.kind, "")
        return head + ", ".join(w for w in (what, paint) if w)

    @property
    def whole(self) -> bool:
        """Return whether the step goes over the whole piece, so that one page shows it.

        As priming, a ground under all and varnish do.
        """
        return self.kind in ("prime", "under", "varnish", "clean")


def find_step_sheets(parts: Parts) -> tuple[StepSheet, ...]:
    """Return the sheets of the painting order, numbered as the schedule is.

    One a step, then paints that no step names.
    """
    by_place = {e.place: e for e in parts.entries}
    steps = parts.schedule.steps if parts.schedule is not None else ()
    total = max((step.order for step in steps), default=0)
    found = []
    for step in steps:
        entry = by_place.get(-1 if step.swatch is None else step.swatch)
        if entry is None and step.swatch is not None and step.kind == "under":
            entry = _ground_entry(parts, step.swatch)
        found.append(StepSheet(step.order, total, step.kind, entry, _told(step)))
    named = {sheet.entry.place for sheet in found if sheet.entry}
    rest = [entry for place, entry in by_place.items() if place not in named]
    if _mended(parts) is not None:
        rest = []  # what the patch does not need
    many = 0 if steps else len(rest)
    for k, entry in enumerate(rest, start=1):
        found.append(StepSheet(k if many else 0, many, "fill", entry))
    return tuple(found)


def _ground_entry(parts: Parts, place: int) -> KeyEntry:
    """Return the entry of a ground under all that no region bears."""
    swatch = parts.colouring.palette.swatches[place]
    colour = grey(_PRIMED) if parts.settings.hatch else swatch.hex
    return KeyEntry(place, swatch.code, swatch.name, colour, "", 0, 0.0)


def _told(step: Step) -> str:
    why = f" Why: {step.reason}." if step.reason else ""
    care = f" Care: {step.care}" if step.care else ""
    return when_words(step) + step.text + care + why


def step_fills(
    parts: Parts, sheet: StepSheet, scale: float
) -> tuple[Fills | Strokes, ...]:
    """Return what is done in a step, in full colour, in the drawing's mm.

    `scale`: paper mm for one mm of the drawing, for a hatch.
    """
    if sheet.kind == "line":
        return _line(parts, on_pale=True)
    if sheet.kind == "varnish":
        # the finished piece; leaf that varnish goes round stays pale
        kept = _unvarnished(parts)
        fills = tuple(
            parts.paint(e, scale, _mended(parts))
            for e in parts.entries
            if e.place not in kept
        )
        steps = parts.schedule.steps if parts.schedule is not None else ()
        lined = any(step.kind == "line" for step in steps)
        return (*fills, *(_line(parts) if lined else ()))
    if sheet.kind == "white" and sheet.entry is not None:
        return (Fills(parts.outlines, _rows(parts, sheet), WHITE),)
    if sheet.entry is None or (sheet.kind == "bare"):
        rows = _rows(parts, sheet)
        return (Fills(parts.outlines, rows, grey(_PRIMED)),) if len(rows) else ()
    if sheet.kind == "under":
        return (parts.paint(sheet.entry, scale, _covered(parts), whole=True),)
    return (parts.paint(sheet.entry, scale, _mended(parts)),)


def step_traces(parts: Parts, sheet: StepSheet) -> tuple[Picture, ...]:
    """Return what a step leaves for the sheets after it: a pale tint.

    In the drawing's mm.
    """
    if sheet.kind in ("bare", "clean", "prime", "varnish", "line"):
        return ()
    if sheet.kind == "white":
        fill = Fills(parts.outlines, _rows(parts, sheet), WHITE)
        return (Picture((fill,), parts.box),)
    if sheet.entry is None:
        return ()
    if sheet.kind == "under":
        return (parts.pale(sheet.entry, True, _covered(parts)),)
    return (parts.pale(sheet.entry, False, _mended(parts)),)


def _rows(parts: Parts, sheet: StepSheet) -> Ints:
    """Return the regions of a step."""
    of_face = parts.colouring.of_face
    if sheet.entry is None:
        rows = _covered(parts)
        return rows[rows > 0]
    rows = np.flatnonzero(of_face == sheet.entry.place)
    mended = _mended(parts)
    return rows[rows > 0] if mended is None else np.intersect1d(rows, mended)


def _covered(parts: Parts) -> Ints:
    """Return the regions that are not bare, of those that a repair reaches."""
    rows = np.flatnonzero(~np.isin(parts.colouring.of_face, _bare(parts)))
    mended = _mended(parts)
    return rows if mended is None else np.intersect1d(rows, mended)


def _mended(parts: Parts) -> Ints | None:
    """Return the regions that a repair reaches; None where there is none."""
    patch = parts.mended
    return None if patch is None else np.flatnonzero(patch.face_share > 0)


def _bare(parts: Parts) -> list[int]:
    """Return the swatches that are left unpainted."""
    schedule = parts.schedule
    quantities = schedule.quantities if schedule is not None else ()
    return [q.swatch for q in quantities if q.bare]


def _unvarnished(parts: Parts) -> set[int]:
    """Return the swatches that varnish goes round: what is bare, and true leaf."""
    swatches = parts.colouring.palette.swatches
    leaf = {
        place
        for place, s in enumerate(swatches)
        if s.medium == "leaf" and not (s.leaf is not None and s.leaf.imitation)
    }
    return leaf | set(_bare(parts))


def _line(parts: Parts, *, on_pale: bool = False) -> tuple[Strokes, ...]:
    """Return the painted line; a light one in a grey edge, on what is pale."""
    pen, width = outline_pen(parts.arrangement, parts.colouring)
    if not pen:
        return ()
    edged = on_pale and srgb_to_lab(hex_to_srgb(pen))[0] >= _LIGHT
    patch = parts.mended
    near = None if patch is None else patch.edge_share > 0
    return tuple(
        outline_strokes(
            parts.arrangement, wide, colour, edges=near, loose=patch is None
        )
        for wide, colour in [(_EDGED * width, GREY_60)] * int(edged) + [(width, pen)]
    )
