"""Laying: one cell or one repeat of a drawing, handed back as a whole panel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.pipeline.progress import quiet
from fillwork.pipeline.scale import drawn_scale, scale_known
from fillwork.printing import title_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.laying.border import Border, Corner
    from fillwork.laying.figures import Figures
    from fillwork.laying.model import Cell, Motif, Panel, Placing, Way
    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.plans.model import LayingSettings, Plan
    from fillwork.renderers.places import PlaceCell

    Progress = Callable[[str], None]

_SHOWN_LINES = 2500  # in one picture of a place; more would be a grey field

__all__ = ["Laid", "corner_from", "lay_drawing", "outline_from", "read_lines"]


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Hold a laid panel and what it can be written as.

    Parameters
    ----------
    linework : LineWork
        Lines over the whole panel, with its edge, at true size.
    motif : Motif
        The lines of one repeat.
    panel : Panel
        The panel.
    placing : Placing
        Where the repeat lies.
    placings : tuple of Placing
        The best places, by number.
    figures : Figures
        What one repeat shows.
    drawn : LineWork
        The cell as it was read.
    scale : float
        Panel length / drawn length as asked for.
    plan : Plan
        The choices.
    border : Border or None
        The border, where one was run round the panel.
    """

    linework: LineWork
    motif: Motif
    panel: Panel
    placing: Placing
    placings: tuple[Placing, ...]
    figures: Figures
    drawn: LineWork
    scale: float
    plan: Plan
    border: Border | None = None

    @property
    def notes(self) -> tuple[Note, ...]:
        """Return the notes of reading and laying.

        Returns
        -------
        tuple of Note
            The notes of reading and laying.
        """
        return self.linework.notes

    def report(self) -> dict[str, Any]:
        """Return what was laid as plain values.

        Returns
        -------
        dict
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
            "lines": len(self.linework.curves) - len(self.panel.curves),
            "scale": round(place.scale, 6),
            "joins": [
                {
                    "at_mm": [_mm(v) for v in m.at],
                    "size_mm": _mm(m.size) if m.closed else None,
                    "done": "closed" if m.closed else "left",
                }
                for m in motif.misfits
            ],
            "placing": _placing(place),
            "placings": [_placing(p) for p in self.placings],
        }

    def table(self) -> str:
        """Return what was laid as a few lines of text.

        Returns
        -------
        str
            Lines that end in a line break.
        """
        motif = self.motif
        closed = [m.size for m in motif.misfits if m.closed]
        left = sum(not m.closed for m in motif.misfits)
        joins = "all meet"
        if closed:
            joins = f"{len(closed)} closed, up to {max(closed):.2f} mm"
        if left:
            joins += f"; {left} go on to nothing"
        lines = len(self.linework.curves) - len(self.panel.curves)
        rows = [
            f"panel     {self.panel.width:g} x {self.panel.height:g} mm, "
            f"{lines:,} lines",
            f"goes on   by {motif.way}",
            f"joins     {joins}",
            f"placing   {_words(self.placing)}",
        ]
        return "\n".join(rows) + "\n"

    def write(
        self, folder: str | Path, *, force: bool = False, keep: Path | None = None
    ) -> tuple[Path, ...]:
        """Write the drawing, the picture of places, the report and the plan.

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
        from fillwork.pipeline.output import REPORT, digest, write_files
        from fillwork.plans.file import plan_to_toml
        from fillwork.renderers.lines import lines_scene
        from fillwork.renderers.report import to_json
        from fillwork.renderers.svg import to_svg

        plan = replace(
            self.plan, drawing=self.linework.file, digest=self.linework.digest
        )
        title = f"{title_words(self.linework.file)}, laid over a panel"
        files = {
            "drawing.svg": to_svg(lines_scene(self.linework, title=title)),
            "places.png": self.picture(),
            "plan.toml": plan_to_toml(plan).encode(),
        }
        report = self.report()
        report["outputs"] = [
            {"file": name, "sha256": digest(data)} for name, data in files.items()
        ]
        return write_files(
            Path(folder), files | {REPORT: to_json(report)}, force=force, keep=keep
        )

    def picture(self) -> bytes:
        """Return the picture of places.

        Returns
        -------
        bytes
            A PNG.
        """
        from fillwork.renderers.places import compose_places
        from fillwork.renderers.png import to_png

        places = self.placings
        if self.placing not in places:
            places = (self.placing, *places[:7])
        title = title_words(self.linework.file)
        scene = compose_places([self._place_cell(p) for p in places], title=title)
        return to_png(scene, self.plan.png_width)

    def _place_cell(self, place: Placing) -> PlaceCell:
        """Return one place as the picture shows it."""
        from fillwork.laying.drawing import as_linework
        from fillwork.laying.field import lay_motif
        from fillwork.laying.panel import rectangle_panel
        from fillwork.laying.placing import edge_pieces
        from fillwork.renderers.places import PlaceCell

        linework = self.linework
        if self.border is not None:
            none = np.empty(0, dtype=object)
            along = [f"{100 * s:+.2f} %" for s in self.border.stretch]
            stretched = ("lower and upper; left and right", "; ".join(along))
            words = "How far the repeat is stretched to end on the corners."
            return PlaceCell(
                linework, False, none, np.empty(0, bool), place.middle,
                (stretched,), words,
            )  # fmt: skip
        lines = len(linework.curves)
        part = lines > _SHOWN_LINES and self.panel.rectangle
        if part or place is not self.placing:
            panel = self.panel
            if part:
                share = (_SHOWN_LINES / lines) ** 0.5
                panel = rectangle_panel(panel.width * share, panel.height * share)
            curves, style = lay_motif(self.motif, panel, place.map)
            linework = as_linework(curves, style, panel, self.drawn, scale=place.scale)
        pieces = edge_pieces(self.figures, self.panel, place.map)
        smallest = f"{place.smallest:.1f} mm" if np.isfinite(place.smallest) else "none"
        measures = (
            ("smallest piece at the edge", smallest),
            ("pieces under 5 mm; under half", f"{place.small}; {place.halves}"),
            ("size against the drawing", f"{100 * place.scale / self.scale:.4g} %"),
        )
        alike = "alike: " + ", ".join(place.alike) if place.alike else "no sides alike"
        title = place.middle or "as asked"
        return PlaceCell(
            linework, part, pieces.polygons, pieces.poor, title, measures, alike
        )


def _mm(value: float) -> float | None:
    return round(float(value), 3) + 0.0 if np.isfinite(value) else None


def _placing(place: Placing) -> dict[str, Any]:
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


def outline_from(source: bytes, name: str, *, allow_large: bool = False) -> str:
    """Return the outline of a panel that a drawing shows, as path data.

    Parameters
    ----------
    source : bytes
        The drawing.
    name : str
        Its file name, for messages.
    allow_large : bool
        Raise the size limits.

    Returns
    -------
    str
        Path data in mm, y down, as it stands in plans.

    Raises
    ------
    FillworkError
        If the drawing cannot be read or closes nothing.
    """
    import itertools

    from fillwork.laying.panel import panel_from_outline
    from fillwork.readers import read_linework
    from fillwork.renderers.pathtext import svg_paths

    drawing = read_linework(source, name=name, scope="auto", allow_large=allow_large)
    panel = panel_from_outline(drawing)
    flipped = panel.curves.transform((1, 0, 0, -1, 0, panel.height))
    text = svg_paths(flipped, 6)
    return "".join(
        text.path(a, b, True) for a, b in itertools.pairwise(panel.ring_start)
    )


def read_lines(
    source: str | Path | bytes | LineWork,
    plan: Plan,
    *,
    name: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
) -> LineWork:
    """Return the lines of a drawing, laid over a panel where the plan says so.

    Parameters
    ----------
    source : str, Path, bytes or LineWork
        The drawing's file, or its content, or its lines.
    plan : Plan
        All choices.
    name : str
        File name to show when `source` is bytes.
    allow_large : bool
        Raise the size limits.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    LineWork
        The lines.

    Raises
    ------
    FillworkError
        If the drawing cannot be read or laid.
    """
    from fillwork.errors import PlanError
    from fillwork.linework import LineWork
    from fillwork.pipeline.scanning import picture_choices
    from fillwork.readers import read_linework

    if isinstance(source, LineWork):
        if plan.laying.wanted or plan.lines or plan.leave:
            what = "lines in hand are taken as they are: not chosen, not laid"
            raise PlanError(what, mend="leave lines, leave and laying out of the plan")
        return source
    if plan.laying.wanted:
        return lay_drawing(
            source, plan, name=name, allow_large=allow_large, progress=progress
        ).linework
    return read_linework(
        source,
        name=name,
        lines=plan.lines,
        leave=plan.leave,
        scope=plan.scope,
        hidden=plan.hidden,
        allow_large=allow_large,
        picture=picture_choices(plan),
        layout=plan.layout,
        page_number=plan.page_number,
    )


def _panel(plan: Plan) -> Panel:
    from fillwork.errors import PlanError
    from fillwork.laying.panel import panel_from_outline, rectangle_panel

    laying = plan.laying
    if not laying.outline:
        if laying.over is None:
            what = "the plan gives no panel to lay the cell over"
            raise PlanError(what, mend="give --over W,H or --outline")
        return rectangle_panel(*laying.over)
    return panel_from_outline(_from_path(laying.outline, "the panel's outline"))


def lay_drawing(
    source: str | Path | bytes,
    plan: Plan,
    *,
    name: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
) -> Laid:
    """Lay the cell of a drawing over a panel.

    Parameters
    ----------
    source : str, Path or bytes
        The drawing's file, or its content.
    plan : Plan
        All choices; `Plan.laying` must name a panel.
    name : str
        File name to show when `source` is bytes.
    allow_large : bool
        Raise the size limits.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    Laid
        The panel.

    Raises
    ------
    FillworkError
        If the drawing cannot be read, or the cell does not fill the panel.
    """
    from fillwork.laying.cell import default_slack, find_cell
    from fillwork.laying.drawing import as_linework
    from fillwork.laying.field import lay_motif
    from fillwork.laying.figures import find_figures
    from fillwork.laying.joins import make_motif
    from fillwork.laying.placing import find_placings
    from fillwork.laying.repeats import find_repeat
    from fillwork.notes import Note
    from fillwork.pipeline.scanning import picture_choices
    from fillwork.readers import read_linework

    laying = plan.laying
    panel = _panel(plan)
    drawn = read_linework(
        source,
        name=name,
        lines=plan.lines,
        leave=(*plan.leave, *laying.cell),
        scope=plan.scope,
        hidden=plan.hidden,
        allow_large=allow_large,
        picture=picture_choices(plan),
        layout=plan.layout,
        page_number=plan.page_number,
    )
    guide = None
    if laying.cell:
        guide = read_linework(
            source,
            name=name,
            lines=laying.cell,
            scope="both",
            allow_large=allow_large,
            picture=picture_choices(plan),
            layout=plan.layout,
            page_number=plan.page_number,
        )
    slack = default_slack(drawn) if laying.misfit is None else laying.misfit
    progress("finding the cell")
    stated = [g for zone, g in plan.symmetry if zone == 0 and g != "auto"]
    found = None
    border = laying.by.strip().lower() == "border"
    if guide is None and (not laying.by or border) and not stated:
        found = find_repeat(drawn)
        if border and found is not None and len(found[1].basis) != 1:
            found = None
    if found is not None:
        cell, way, exact = found
        slack = min(slack, exact)
    else:
        cell = find_cell(drawn, guide, slack=max(slack, 0.01))
        progress("joining the repeats")
        way = _choose_way(cell, plan, slack)
    motif = make_motif(cell, way, slack=slack)
    progress("laying the panel")
    scale = drawn_scale(plan, drawn.frame)
    figures = find_figures(motif, drawn)
    if border:
        return _bordered(motif, figures, drawn, cell, plan, scale, slack)
    placings = find_placings(figures, panel, scale, give=laying.give)
    placing = _chosen(placings, laying, motif, figures, panel, scale)
    curves, style = lay_motif(motif, panel, placing.map)
    notes = _notes(drawn, plan, motif, cell)
    if not panel.rectangle:
        text = "the page of drawing.svg is the box round the panel, not its edge"
        remedy = "use that file with --page-edge open"
        notes = (*notes, Note("laying", "outline", text, remedy=remedy))
    linework = as_linework(
        curves, style, panel, drawn, scale=placing.scale, notes=notes
    )
    return Laid(linework, motif, panel, placing, placings, figures, drawn, scale, plan)


def _choose_way(cell: Cell, plan: Plan, slack: float) -> Way:
    """Return the way in which most lines meet others at the joins."""
    from fillwork.laying.joins import weigh_way
    from fillwork.laying.ways import find_ways

    group = next((g for zone, g in plan.symmetry if zone == 0 and g != "auto"), "")
    by = plan.laying.by
    ways = find_ways(cell.outline, by, group, slack=max(slack, 0.01))
    if len(ways) == 1:
        return ways[0]
    weights = [weigh_way(cell, way, slack=slack) for way in ways]
    # a last bit does not decide between two that are as good
    best = min(range(len(ways)), key=lambda k: (round(weights[k], 6), k))
    return ways[best]


def _bordered(
    motif: Motif,
    figures: Figures,
    drawn: LineWork,
    cell: Cell,
    plan: Plan,
    scale: float,
    slack: float,
) -> Laid:
    """Return a strip run round the panel."""
    from fillwork.errors import PlanError
    from fillwork.laying.border import lay_border
    from fillwork.laying.drawing import as_linework
    from fillwork.laying.model import Placing
    from fillwork.notes import Note

    laying = plan.laying
    if laying.over is None or laying.outline:
        what = "a border runs round a rectangle, not round an outline"
        raise PlanError(what, mend="say its size with --over W,H")
    laid = lay_border(
        motif,
        figures,
        laying.over,
        scale,
        corner=_corner(laying),
        give=laying.give,
        slack=max(slack, 0.01),
    )
    notes = list(_notes(drawn, plan, motif, cell))
    names = ("lower and upper sides", "left and right sides")
    for name, stretch, wanted in zip(names, laid.stretch, laid.wanted, strict=True):
        if stretch == 0.0 and abs(wanted) > 1e-6:
            text = f"the repeat does not come out even along the {name}"
            remedy = f"let it be stretched by {100 * wanted:+.1f} % with --scale-by"
            notes.append(Note("laying", "cut repeat", text, remedy=remedy))
        elif abs(stretch) > 1e-6:
            text = f"the repeat is stretched by {100 * stretch:+.2f} % along the {name}"
            notes.append(Note("laying", "stretched", text))
    if laid.apart:
        text = f"{laid.apart} lines end at the corner piece and do not go on"
        remedy = (
            "draw its right side so that lines meet those of the repeat's left side"
        )
        notes.append(Note("laying", "corner piece", text, remedy=remedy))
    middle = "a mitre" if not laying.corner else "a corner piece"
    place = (scale, 0.0, 0.0, scale, 0.0, 0.0)
    placing = Placing(
        0, place, scale, f"border {laid.width:.1f} mm wide, {middle} at the corners",
        np.inf, 0, 0, ("left and right", "top and bottom", "corners"), 0.0,
    )  # fmt: skip
    linework = as_linework(
        laid.curves, laid.style, laid.panel, drawn, scale=scale, notes=notes
    )
    return Laid(
        linework, motif, laid.panel, placing, (), figures, drawn, scale, plan, laid
    )


def _corner(laying: LayingSettings) -> Corner | None:
    """Return the corner piece of a plan."""
    from fillwork.laying.border import Corner

    if not laying.corner or laying.corner_size is None:
        return None
    width, height = laying.corner_size
    lines = _from_path(laying.corner, "the corner piece")
    curves = lines.curves.transform((1, 0, 0, 1, 0, height - lines.frame.height))
    return Corner(curves, width, height)


def _from_path(data: str, name: str) -> LineWork:
    """Return the lines of path data in mm, y down from the top of a page."""
    from fillwork.readers import read_linework

    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100000mm" height="100000mm" '
        'viewBox="0 0 100000 100000">'
        f'<path d="{data}" fill="none" stroke="black" stroke-width="0.1"/></svg>'
    )
    return read_linework(text.encode(), name=name)


def corner_from(
    source: bytes, name: str, *, allow_large: bool = False
) -> tuple[str, tuple[float, float]]:
    """Return a corner piece as path data, and its size.

    Parameters
    ----------
    source : bytes
        The drawing; its page is the piece.
    name : str
        Its file name, for messages.
    allow_large : bool
        Raise the size limits.

    Returns
    -------
    data : str
        Path data in mm, y down, as it stands in plans.
    size : tuple of float
        Width and height of the page, mm.

    Raises
    ------
    FillworkError
        If the drawing cannot be read.
    """
    from fillwork.readers import read_linework
    from fillwork.renderers.pathtext import svg_paths

    drawing = read_linework(source, name=name, allow_large=allow_large)
    frame = drawing.frame
    flipped = drawing.curves.transform((1, 0, 0, -1, 0, frame.height))
    text = svg_paths(flipped, 6)
    data = "".join(text.path(k, k + 1, False) for k in range(len(flipped)))
    return data, (frame.width, frame.height)


def _chosen(
    placings: tuple[Placing, ...],
    laying: LayingSettings,
    motif: Motif,
    figures: Figures,
    panel: Panel,
    scale: float,
) -> Placing:
    """Return the placing that the plan names, else the best."""
    from fillwork.errors import PlanError
    from fillwork.laying.placing import judge_place, place_middle

    if laying.place_at is not None:
        return judge_place(figures, panel, place_middle(motif, scale, laying.place_at))
    number = laying.place or 1
    if number > len(placings):
        what = f"--place {number}: there are {len(placings)} places"
        raise PlanError(what, mend="see them in places.png, or give x,y in mm")
    return placings[number - 1]


def _notes(drawn: LineWork, plan: Plan, motif: Motif, cell: Cell) -> tuple[Note, ...]:
    from fillwork.notes import Note

    found = []
    if not cell.guided:
        size = np.ptp(cell.outline, axis=0)
        text = (
            f"the cell is taken as the outline of the drawing, {size[0]:.1f} x "
            f"{size[1]:.1f} mm with {len(cell.outline)} corners"
        )
        remedy = "name the lines that bound it with --cell, such as --cell colour=#00f"
        found.append(Note("laying", "cell", text, remedy=remedy))
    if not scale_known(plan, drawn):
        text = "the drawing of the cell states no size; 96 px are taken as one inch"
        remedy = "say its size with --scale 1:5, --real-width or --real"
        found.append(Note("laying", "size not stated", text, remedy=remedy))
    closed = [m for m in motif.misfits if m.closed]
    if closed:
        worst = max(closed, key=lambda m: m.size)
        joins = "1 join" if len(closed) == 1 else f"{len(closed)} joins"
        text = (
            f"{joins} closed where lines missed each other by up to {worst.size:.2f} mm"
        )
        found.append(Note("laying", "joins closed", text, at=worst.at))
    left = [m for m in motif.misfits if not m.closed]
    if left:
        ends = "1 line ends" if len(left) == 1 else f"{len(left)} lines end"
        text = f"{ends} at the cell's outline and meet nothing in the next cell"
        remedy = (
            "mend the cell, allow more with --misfit LENGTH, or lay it by another way"
        )
        found.append(Note("laying", "open joins", text, at=left[0].at, remedy=remedy))
    return tuple(found)
