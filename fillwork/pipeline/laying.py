"""Laying: one cell or one repeat of a drawing, handed back as a whole panel.

The cell is read and joined to one repeat; the repeat is laid where it lies best, or as
the plan says, within its border, or it is run round the panel as one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import LineWorkError, PlanError
from fillwork.laying.border import Border, lay_border
from fillwork.laying.cell import default_slack, find_cell
from fillwork.laying.clip import box_round
from fillwork.laying.drawing import FRAME, as_linework
from fillwork.laying.field import refuse_many
from fillwork.laying.figures import Figures, find_figures
from fillwork.laying.frames import lay_frame
from fillwork.laying.joins import make_motif
from fillwork.laying.medallions import Medallion, placed
from fillwork.laying.model import Cell, Motif, Panel, Placing
from fillwork.laying.open_joins import OpenJoin, find_open_joins
from fillwork.laying.placing import (
    find_placings,
    judge_place,
    place_middle,
    put_first,
)
from fillwork.laying.repeats import find_repeat
from fillwork.laying.ways import plain_way, turned_group
from fillwork.laying.whole import lay_whole, moved_place, plain_border, rest_border
from fillwork.notes import Note
from fillwork.pipeline.handed import Handed
from fillwork.pipeline.laying_inputs import border_cell, corner_piece, panel_of
from fillwork.pipeline.laying_notes import (
    border_notes,
    cell_notes,
    frame_notes,
    in_length,
    medallion_notes,
    without_settled,
)
from fillwork.pipeline.laying_way import choose_way
from fillwork.pipeline.progress import quiet
from fillwork.pipeline.regular import even_out
from fillwork.pipeline.scale import drawn_scale
from fillwork.pipeline.scanning import read_chosen
from fillwork.printing import title_words
from fillwork.readers.selectors import check_selectors, parse_choice
from fillwork.units import counted

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fillwork.geometry.affine import Affine
    from fillwork.linework import LineWork
    from fillwork.plans.model import LayingSettings, Plan

    Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, eq=False)
class Laid(Handed):
    """Hold a laid panel and what it can be written as."""

    linework: LineWork  # lines over the whole panel, with its edge, at true size
    motif: Motif  # the lines of one repeat
    panel: Panel
    placing: Placing  # where the repeat lies
    placings: tuple[Placing, ...]  # the best places, by number
    figures: Figures  # what one repeat shows
    drawn: LineWork  # the cell as it was read
    scale: float  # panel length / drawn length as asked for
    plan: Plan
    border: Border | None = None  # the border, where one was run round the panel
    # what the repeats fill, its box from the origin: the panel or what the border
    # leaves of it; None where the cell itself was run round as a border
    field: Panel | None = None
    medallion: Medallion | None = None  # what stands in the middle of the field

    @property
    def open_joins(self) -> tuple[OpenJoin, ...]:
        """Return the joins that were left open, with what lies round each."""
        return find_open_joins(self.motif)

    def report(self) -> dict[str, Any]:
        """Return what was laid as plain values.

        Lengths in mm of the panel, misfits in mm of the drawing.
        """
        motif, place = self.motif, self.placing
        return {
            "schema": 1,
            "drawing": {"file": self.linework.file, "sha256": self.linework.digest},
            "panel_mm": [_mm(self.panel.width), _mm(self.panel.height)],
            "way": motif.way,
            "basis_mm": [
                [_mm(v) for v in row] for row in (motif.basis * place.scale).tolist()
            ],
            "lines": self._lines,
            "scale": round(place.scale, 6),
            "joins": [
                *(
                    _place(m.at) | {"size_mm": _mm(m.size), "done": "closed"}
                    for m in motif.misfits
                    if m.closed
                ),
                *(
                    _place(j.at) | {"done": "left", "size_mm": _mm(j.apart)}
                    for j in self.open_joins
                ),
            ],
            "border": None if self.border is None else self._border(),
            "placing": placing_values(place),
            "placings": [placing_values(p) for p in self.placings],
        }

    @property
    def _lines(self) -> int:
        return len(self.linework.curves) - len(self.panel.curves)

    def _border(self) -> dict[str, Any]:
        assert self.border is not None
        sides = zip(self.border.sides, self.border.stretch, strict=True)
        return {
            "width_mm": _mm(self.border.width),
            "stretch_percent": {
                name.removesuffix(" sides"): round(100 * share, 3) + 0.0
                for name, share in sides
            },
            "lines": len(self.border.curves),
        }

    def table(self) -> str:
        """Return what was laid as a few lines of text.

        Lines that end in a line break.
        """
        motif = self.motif
        closed = [m.size for m in motif.misfits if m.closed]
        left = len(self.open_joins)
        told = []
        if closed:
            worst = max(closed)
            size = f"{worst:.2f} mm" if worst >= 0.005 else "a hair"
            told.append(f"{len(closed)} closed, up to {size}")
        if left:
            told.append(f"{left} left open, see joins.png")
        joins = "; ".join(told) or "all meet"
        rows = [
            f"panel     {self.panel.width:g} x {self.panel.height:g} mm, "
            f"{self._lines:,} lines",
            f"goes on   by {motif.way}",
            f"joins     {joins}",
            f"placing   {_words(self.placing)}",
        ]
        if self.border is not None and self.field is not None:
            along = " and ".join(map(in_length, self.border.stretch))
            words = f"{self.border.width:.1f} mm wide, its repeat {along}"
            if self.plan.laying.border_cell == "":
                words = f"plain, {self.border.width:.1f} mm wide"
            rows.insert(3, f"border    {words}")
        return "\n".join(rows) + "\n"

    def pictures(self) -> dict[str, bytes]:
        """Return the drawing, the picture of places and that of open joins."""
        from fillwork.pipeline.laid_picture import joins_picture, places_picture
        from fillwork.renderers.encoders.svg import to_svg
        from fillwork.renderers.lines import lines_scene

        title = f"{title_words(self.linework.file)}, laid over a panel"
        files = {
            "drawing.svg": to_svg(lines_scene(self.linework, title=title)),
            "places.png": places_picture(self),
        }
        joins = self.open_joins
        return files | ({"joins.png": joins_picture(self, joins)} if joins else {})


def _mm(value: float | None) -> float | None:
    if value is None or not np.isfinite(value):
        return None
    return round(float(value), 3) + 0.0


def _place(at: tuple[float, float]) -> dict[str, Any]:
    return {"at_mm": [_mm(v) for v in at]}


def placing_values(place: Placing) -> dict[str, Any]:
    """Return a place as plain values; lengths in mm of the panel."""
    return {
        "number": place.number,
        "scale": round(place.scale, 6),
        "map": [round(v, 6) + 0.0 for v in place.map],
        "middle": place.middle,
        "smallest_piece_mm": _mm(place.smallest),
        "small_pieces": place.small,
        "under_half": place.halves,
        "alike": list(place.alike),
    }


def _words(place: Placing) -> str:
    parts = [f"number {place.number}"] if place.number else ["as asked"]
    if place.middle.startswith("border"):
        return place.middle
    if place.middle:
        parts.append(f"{place.middle} in the middle")
    if np.isfinite(place.smallest):
        parts.append(f"smallest piece at the edge {place.smallest:.1f} mm")
    if place.alike:
        parts.append("alike " + ", ".join(place.alike))
    return "; ".join(parts)


@dataclass(frozen=True, slots=True, eq=False)
class _Joined:
    """Hold one repeat as it was joined from its cell."""

    drawn: LineWork  # the drawing of the cell, without doubts that its laying settles
    motif: Motif
    cell: Cell
    slack: float  # how far lines may miss each other at joins, mm
    doubt: tuple[Note, ...]
    medallion: Medallion | None  # what stands in the middle of the drawing's field

    def notes(self, plan: Plan) -> tuple[Note, ...]:
        """Return what is told of the cell, and what was left in doubt of it."""
        return (*cell_notes(self.drawn, plan, self.motif, self.cell), *self.doubt)


def lay_drawing(
    source: str | Path | bytes,
    plan: Plan,
    *,
    name: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
) -> Laid:
    """Lay the cell of a drawing over a panel.

    `source`: the drawing's file, or its content. `plan`: all choices; `Plan.laying`
    must name a panel. Raises `FillworkError` if the drawing cannot be read, or the cell
    does not fill the panel.
    """
    panel = panel_of(plan.laying)
    border = plain_way(plan.laying.by) == "border"
    drawn, guide = _read_cell(source, plan, name, allow_large)
    joined = _join(drawn, guide, plan, border, progress)
    progress("laying the panel")
    points = np.stack(box_round(joined.drawn.curves))
    scale = drawn_scale(plan, joined.drawn.frame, points)
    refuse_many(joined.motif, panel, scale)
    figures = find_figures(joined.motif, joined.drawn)
    lay = _run_round if border else _fill
    return lay(joined, figures, panel, scale, plan)


def _fill(
    joined: _Joined, figures: Figures, panel: Panel, scale: float, plan: Plan
) -> Laid:
    """Return a panel filled with repeats, within the border that the plan names."""
    laying, motif = plan.laying, joined.motif
    round_it, fitted = _surround(plan, panel, figures, scale, joined.slack)
    field, inset = panel, (0.0, 0.0)
    if round_it is not None:
        field, inset = round_it.field, round_it.inset
    give = (laying.give or 0.0) if fitted == scale else 0.0
    placings = find_placings(figures, field, fitted, give=give)
    inside, told = _kept(joined, plan, field, fitted)
    if inside is not None and joined.medallion is not None:
        # first as it stands round the medallion
        as_drawn = placed(joined.medallion.centre, inside.centre, fitted)
        placings = put_first(judge_place(figures, field, as_drawn), placings)
    placing = _chosen(placings, laying, motif, figures, field, fitted, inset)
    placings = tuple(replace(p, map=moved_place(p.map, inset)) for p in placings)
    placing = replace(placing, map=moved_place(placing.map, inset))
    notes = [*joined.notes(plan), *told]
    if round_it is not None:
        notes += border_notes(round_it, fitted / scale - 1)
    if not panel.rectangle:
        text = "the page of drawing.svg is the box round the panel, not its edge"
        remedy = "use that file with --page-edge open"
        notes.append(Note("laying", "outline", text, remedy=remedy))
    drawn = joined.drawn
    linework = lay_whole(
        motif, field, placing.map, drawn, border=round_it, medallion=inside, notes=notes
    )
    return Laid(
        linework, motif, panel, placing, placings, figures, drawn, scale, plan,
        round_it, field, inside,
    )  # fmt: skip


def _read_cell(
    source: str | Path | bytes, plan: Plan, name: str, allow_large: bool
) -> tuple[LineWork, LineWork | None]:
    """Return the lines to lay, and those that bound the cell where some are named."""
    cell = plan.laying.cell
    check_selectors(cell)
    chosen = replace(plan, leave=(*plan.leave, *cell))
    drawn = read_chosen(source, chosen, name, allow_large, guides=bool(cell))
    if not cell and plan.scan.regular and drawn.trace is not None:
        # a hand's cell: what should meet at its joins does so once it is even
        within, gaps = plan.join_within, plan.close_gaps
        regions = partial(build_arrangement, join_within=within, close_gaps=gaps)
        drawn = even_out(drawn, regions)
    if not cell:
        return drawn, None
    bounds = replace(plan, lines=cell, leave=(), scope="both", hidden="auto")
    if drawn.trace is not None:
        bounds = _drawn_guides(bounds)
    try:
        return drawn, read_chosen(source, bounds, name, allow_large, guides=True)
    except LineWorkError as error:
        what = f"no line is as --cell {' '.join(cell)} says"
        raise LineWorkError(what, error.where, error.mend) from None


def _drawn_guides(plan: Plan) -> Plan:
    """Return how guide lines are read from a picture: by their colour, or as pencil."""
    chosen = [s.conditions for s in parse_choice(plan.lines, (), "both").lines]
    if len(chosen) == 1 and len(chosen[0]) == 1 and chosen[0][0].key == "colour":
        scan = replace(plan.scan, pen=chosen[0][0].text, pencil="drop")
        return replace(plan, scan=scan, lines=())
    return replace(plan, scan=replace(plan.scan, pencil="keep"))


def _join(
    drawn: LineWork,
    guide: LineWork | None,
    plan: Plan,
    border: bool,
    progress: Progress,
) -> _Joined:
    """Return one repeat, and what was found with it."""
    laying = plan.laying
    slack = default_slack(drawn) if laying.misfit is None else laying.misfit
    progress("finding the cell")
    stated = [g for zone, g in plan.symmetry if zone == 0 and g != "auto"]
    found, inside = None, None
    doubt: tuple[Note, ...] = ()
    if guide is None and (not laying.by or border) and not stated:
        found = find_repeat(drawn, strip=border)
    if found is not None:
        cell, way = found.cell, found.way
        slack = min(slack, found.slip)
        inside = found.medallion
        doubt = medallion_notes(found)
        if laying.border_cell:
            doubt = (*doubt, *frame_notes(found))
    else:
        named = [turned_group(laying.by), *stated[:1]]
        sector = any(group.startswith("rosette") for group in named)
        cell = find_cell(
            drawn, guide, slack=max(slack, 0.01), strip=border, sector=sector
        )
        progress("joining the repeats")
        way, doubt = choose_way(cell, laying.by, stated[0] if stated else "", slack)
    motif = make_motif(cell, way, slack=slack)
    if len(motif.curves) == 0:
        what = "no line of the drawing lies within the cell"
        mend = "name the lines that bound it with --cell, such as --cell colour=#00f"
        raise LineWorkError(what, drawn.file, mend)
    if guide is not None:
        drawn = without_settled(drawn, cell.outline)
    return _Joined(drawn, motif, cell, slack, doubt, inside)


def _kept(
    joined: _Joined, plan: Plan, field: Panel, scale: float
) -> tuple[Medallion | None, tuple[Note, ...]]:
    """Return the medallion in the middle of a field, at true size, and what is told."""
    if joined.medallion is None or plan.laying.medallion == "drop":
        return None, ()
    middle = (field.width / 2, field.height / 2)
    moved = joined.medallion.at(middle, scale)
    if moved.fits(field):
        return moved, ()
    text = "the medallion has no room in the middle of the field, and is left out"
    remedy = "take a larger panel, or say --medallion drop"
    return None, (Note("laying", "medallion", text, remedy=remedy),)


def _surround(
    plan: Plan, panel: Panel, figures: Figures, scale: float, slack: float
) -> tuple[Border | None, float]:
    """Return the border round a field, and the scale of the field."""
    laying = plan.laying
    if not laying.border and laying.border_width is None:
        return None, scale
    if laying.border_width is not None:
        return plain_border(panel, laying.border_width), scale
    if laying.border == "rest":
        if not panel.rectangle:
            what = "whole repeats leave a border of equal width in a rectangle alone"
            raise PlanError(what, mend="say its width, such as --border 40mm")
        size = (panel.width, panel.height)
        width, fitted = rest_border(figures, size, scale, laying.give or 0.0)
        return plain_border(panel, width), fitted
    cell, strip = border_cell(laying)
    way, _ = choose_way(cell, "border", "", slack)
    motif = make_motif(cell, way, slack=slack)
    laid = lay_frame(
        motif, find_figures(motif, strip), panel, scale,
        corner=corner_piece(laying), outside=laying.lines_outside,
        inside=laying.lines_inside, give=laying.give, slack=max(slack, 0.01),
    )  # fmt: skip
    return laid, scale


def _run_round(
    joined: _Joined, figures: Figures, panel: Panel, scale: float, plan: Plan
) -> Laid:
    """Return a strip run round the panel."""
    laying, motif, drawn = plan.laying, joined.motif, joined.drawn
    laid = lay_border(
        motif, figures, panel, scale, corner=corner_piece(laying), give=laying.give,
        slack=max(joined.slack, 0.01),
    )  # fmt: skip
    notes = (*joined.notes(plan), *border_notes(laid))
    middle = "a mitre" if not laying.corner else "a corner piece"
    place = (scale, 0.0, 0.0, scale, 0.0, 0.0)
    placing = Placing(
        0, place, scale, f"border {laid.width:.1f} mm wide, {middle} at the corners",
        np.inf, 0, 0, ("left and right", "top and bottom", "corners"), 0.0,
    )  # fmt: skip
    linework = as_linework(
        laid.curves, laid.style, laid.panel, replace(drawn, slip=scale * motif.slip),
        scale=scale, holes=(FRAME,), notes=notes,
    )  # fmt: skip
    return Laid(
        linework, motif, laid.panel, placing, (), figures, drawn, scale, plan, laid
    )


def _chosen(
    placings: tuple[Placing, ...],
    laying: LayingSettings,
    motif: Motif,
    figures: Figures,
    panel: Panel,
    scale: float,
    inset: tuple[float, float],
) -> Placing:
    """Return the placing that the plan names, else the best."""
    if laying.place_at is not None:
        x, y = laying.place_at
        at = (x - inset[0], y - inset[1])
        base: Affine = (scale, 0.0, 0.0, scale, 0.0, 0.0)
        if laying.place is not None and laying.place <= len(placings):
            base = placings[laying.place - 1].map
        return judge_place(figures, panel, place_middle(motif, base, at))
    number = laying.place or 1
    if number > len(placings):
        what = f"--place {number}: {counted(len(placings), 'place')} found"
        raise PlanError(what, mend="see them in places.png, or give x,y in mm")
    return placings[number - 1]
