"""From a drawing to its survey: lines, regions, symmetry, kinds."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import fillwork.errors as err
from fillwork.pipeline.checks import check_plan, check_source
from fillwork.pipeline.guides import guide_notes
from fillwork.pipeline.progress import quiet
from fillwork.pipeline.scale import real_scale, scale_known
from fillwork.plans.model import Plan
from fillwork.values import told_repr

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.bands.model import Bands, Woven
    from fillwork.colouring.model import Adjacency
    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.pipeline.progress import Progress
    from fillwork.symmetry.model import Orbits, Zone
    from fillwork.tolerance import Tolerance


_TURNS = 3  # bands that are found narrow what is closed, and that may show other bands


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """Hold what was found in a drawing, before any colour.

    Parameters
    ----------
    linework : LineWork
        The lines as read.
    arrangement : Arrangement
        Vertices, edges, faces.
    zones : tuple of Zone
        Parts of the drawing, each with its symmetry.
    orbits : Orbits
        The kinds of region.
    adjacency : Adjacency
        Which kinds and faces touch.
    outlines : Outlines
        True outlines of the faces.
    plan : Plan
        The choices that led here.
    notes : tuple of Note
        Notes of all stages so far.
    bands : Bands or None
        The strands of strapwork, if it is any.
    as_drawn : LineWork, optional
        The drawing of a panel that is laid anew with a border, as it was read.
    """

    linework: LineWork
    arrangement: Arrangement
    zones: tuple[Zone, ...]
    orbits: Orbits
    adjacency: Adjacency
    outlines: Outlines
    plan: Plan
    notes: tuple[Note, ...]
    bands: Bands | None = None
    as_drawn: LineWork | None = None

    def __repr__(self) -> str:
        regions, kinds = self.arrangement.face_count - 1, len(self.orbits.orbits)
        group = self.zones[0].symmetry.group.title if self.zones else "none"
        file = self.linework.file
        return told_repr(self, file, regions=regions, kinds=kinds, symmetry=group)

    def _repr_svg_(self) -> str:
        """Show the survey picture in a notebook."""
        from fillwork.pipeline.picture import survey_picture

        return survey_picture(self, ".svg").decode()

    def _repr_html_(self) -> str:
        """Show the survey picture with the kinds in a notebook."""
        from fillwork.pipeline.notebook import notebook_html

        return notebook_html(self._repr_svg_(), self)

    def plot(self, ax: Any = None) -> Any:
        """Draw the kinds in pale tints on axes of matplotlib.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Where to; new axes by default.

        Returns
        -------
        matplotlib.axes.Axes
            In mm, y up.
        """
        from fillwork.pipeline.plotting import plot_regions

        return plot_regions(self, ax=ax)

    @property
    def real_scale(self) -> float:
        """Return real length / drawn length."""
        return real_scale(self.plan, self.arrangement)

    @property
    def scale_known(self) -> bool:
        """Return whether a physical size is stated."""
        return scale_known(self.plan, self.linework)


def make_survey(
    source: str | Path | bytes | LineWork,
    plan: Plan | None = None,
    *,
    name: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
    tolerance: Tolerance | None = None,
    drawn: Callable[[LineWork], None] | None = None,
) -> Survey:
    """Find regions, symmetry and kinds of a drawing.

    Parameters
    ----------
    source : str, Path, bytes or LineWork
        The drawing's file, or its content, or its lines.
    plan : Plan, optional
        All choices.
    name : str
        File name to show when `source` is bytes.
    allow_large : bool
        Raise the size limits.
    progress : callable
        Called with the name of each stage as it begins.
    tolerance : Tolerance, optional
        All slacks instead of the plan's, such as `Tolerance.exact` for data without
        faults of the hand.
    drawn : callable, optional
        Called with the lines as soon as they are read, before any search.

    Returns
    -------
    Survey
        What was found; possibly without any region.

    Raises
    ------
    FillworkError
        If the drawing cannot be read or worked, or a setting is wrong.
    """
    from fillwork.arrangement.outlines import build_outlines
    from fillwork.pipeline.beside import beside_notes
    from fillwork.pipeline.idle import idle_notes
    from fillwork.pipeline.reading import read_with_drawn
    from fillwork.tolerance import Tolerance
    from fillwork.values import check_kind

    check_source(source, plan)
    if tolerance is not None:
        check_kind(tolerance, Tolerance, "tolerance")
    plan = Plan() if plan is None else plan
    check_plan(plan)
    progress("reading the drawing")
    linework, as_drawn = read_with_drawn(
        source, plan, name=name, allow_large=allow_large, progress=progress
    )
    if drawn is not None:
        drawn(linework)
    progress("finding regions")

    again = functools.partial(
        arrange, plan=plan, allow_large=allow_large, tolerance=tolerance
    )
    woven = middle = None
    if plan.bands.width is not None:
        middle = arrange(linework, plan, allow_large=allow_large)
        progress("weaving")
        woven, linework, arrangement = _weave_regions(
            linework, middle, plan, allow_large
        )
    else:
        arrangement = again(linework)
        linework, arrangement = _with_short_rails(linework, arrangement, plan, again)
    linework, arrangement, orbits, bands, asked = _sort_regions(
        linework, arrangement, (woven, middle), plan, again, progress
    )
    return Survey(
        linework=linework,
        arrangement=arrangement,
        zones=orbits.zones,
        orbits=orbits,
        adjacency=adjacency_of(arrangement, orbits, plan),
        outlines=build_outlines(arrangement),
        plan=plan,
        notes=(
            *guide_notes(linework, arrangement, plan),
            *(() if woven else beside_notes(linework, arrangement, plan)),
            *linework.notes,
            *arrangement.notes,
            *orbits.notes,
            *asked,
            *_digest_note(plan, linework),
            *idle_notes(plan),
        ),
        bands=bands,
        as_drawn=as_drawn,
    )


def _sort_regions(
    linework: LineWork,
    arrangement: Arrangement,
    weave: tuple[Woven | None, Arrangement | None],
    plan: Plan,
    again: functools.partial[Arrangement],
    progress: Progress,
) -> tuple[LineWork, Arrangement, Orbits, Bands | None, tuple[Note, ...]]:
    """Return lines and regions, their kinds, bands, and what to ask about these.

    `weave`: what they were woven from, bands and regions of their middle lines.
    `again`: returns the regions of lines, as drawn or as mended since.
    """
    from fillwork.pipeline.regular import regular_lines
    from fillwork.pipeline.weave_group import zones_of_weave
    from fillwork.symmetry.kinds.orbits import find_orbits
    from fillwork.symmetry.zones.find import find_zones

    woven, middle = weave
    # the cell of a panel was evened out before it was laid
    laid = plan.scan.regular and plan.laying.wanted and not plan.laying.cell
    traced = linework.trace is not None and woven is None and not laid
    for turn in range(_TURNS):
        progress("finding the symmetry")
        zones = find_zones(arrangement, stated=_stated(plan))
        if woven is not None and middle is not None and not plan.symmetry:
            zones = zones_of_weave(arrangement, zones, woven, middle)
        if turn == 0 and traced:
            linework, arrangement, zones = regular_lines(
                linework, arrangement, zones, again, wanted=plan.scan.regular
            )
        progress("sorting regions into kinds")
        orbits = find_orbits(arrangement, zones, match=plan.match, alike=plan.alike)
        orbits, bands, asked = _with_bands(arrangement, orbits, woven, plan)
        if bands is None or woven is not None or plan.close_gaps is not None:
            break
        held = _within_bands(arrangement.tolerance, bands)
        if held is None:
            break
        most = held.close_gaps
        if all(d.done == "left" or d.size <= most for d in arrangement.defects):
            arrangement = replace(arrangement, tolerance=held)
            break
        if turn + 1 < _TURNS:  # else the kinds would be those of other regions
            arrangement = again(linework, tolerance=held)
    return linework, arrangement, rename_kinds(orbits, plan), bands, asked


def _weave_regions(
    linework: LineWork, middle: Arrangement, plan: Plan, allow_large: bool
) -> tuple[Woven, LineWork, Arrangement]:
    """Return lines woven into bands, the lines that those have, and their regions."""
    from fillwork.bands.drawing import as_linework, gap_note

    # a gap would let the ground run together, and leave no region of a band
    closed = replace(plan, bands=replace(plan.bands, gap=0.0))
    try:
        woven = weave(linework.file, middle, closed)
    except err.LineWorkError as error:
        mend = _as_here(error.mend)
        raise err.LineWorkError(error.what, error.where, mend) from error
    linework = as_linework(woven, linework)
    notes = [replace(n, remedy=_as_here(n.remedy)) for n in linework.notes]
    if plan.bands.gap:
        notes.append(gap_note())
    linework = replace(linework, notes=tuple(notes))
    regions = arrange(linework, without_mends(plan), allow_large=allow_large)
    return woven, linework, regions


def without_mends(plan: Plan) -> Plan:
    """Return the plan for bands: repairs were meant for the lines, and are made."""
    return replace(plan, close=(), drop=(), cut=(), join_within=None, close_gaps=0.0)


def _as_here(remedy: str) -> str:
    """Return what mends a weave as options of the main job, not those of ``weave``."""
    return remedy.replace("--nodes", "--band-nodes")


def _within_bands(tolerance: Tolerance, bands: Bands) -> Tolerance | None:
    """Return slacks that close nothing over half of a band; None where these do so."""
    half = min(strand.width for strand in bands.strands) / 2
    if tolerance.close_gaps <= half * (1 + 1e-9):
        return None
    why = f"{tolerance.why}; half of a band's width at most"
    return replace(tolerance, close_gaps=half, why=why)


def _with_short_rails(
    linework: LineWork,
    arrangement: Arrangement,
    plan: Plan,
    again: Callable[..., Arrangement],
) -> tuple[LineWork, Arrangement]:
    """Return lines and regions with rails led on, where that makes strapwork."""
    from fillwork.bands.found import find_bands
    from fillwork.bands.settings import known_width
    from fillwork.bands.short_rails import lead_on_short_rails
    from fillwork.linework import usual_width

    if plan.bands.find == "no" or not arrangement.defects:
        return linework, arrangement
    led = lead_on_short_rails(linework, arrangement.tolerance.join_within)
    if led is None:
        return linework, arrangement
    width, scale = known_width(plan.bands.find), real_scale(plan, arrangement)
    closed = again(led)
    # ends that were led on meet exactly, and tell nothing of how far others miss
    slack = closed.tolerance
    ink = min(arrangement.tolerance.close_gaps, usual_width(linework) or 0.0)
    if ink > slack.close_gaps:
        closed = again(led, tolerance=replace(slack, close_gaps=ink))
    bands = find_bands(closed, width=None if width is None else width / scale)
    if bands is None or not bands.sure:
        return linework, arrangement
    return led, closed


def _with_bands(
    arrangement: Arrangement, orbits: Orbits, woven: Woven | None, plan: Plan
) -> tuple[Orbits, Bands | None, tuple[Note, ...]]:
    """Return the kinds with each strand of strapwork as one, and what is in doubt."""
    from fillwork.bands.found import find_bands
    from fillwork.bands.kinds import bands_of_woven, join_strands
    from fillwork.bands.naming import name_bands
    from fillwork.bands.settings import doubt_note, known_width, worth_asking

    if woven is not None:
        bands = bands_of_woven(arrangement, woven)
    elif plan.bands.find == "no":
        return orbits, None, ()
    else:
        width, scale = known_width(plan.bands.find), real_scale(plan, arrangement)
        found = find_bands(
            arrangement,
            width=None if width is None else width / scale,
            kind_of_face=orbits.of_face,
            cut=orbits.cut,
        )
        if found is None or not found.sure:
            ask = found is not None and worth_asking(found, orbits.of_face)
            return orbits, None, (doubt_note(found, scale),) if found and ask else ()
        bands = found
    joined, bands = join_strands(orbits, bands)
    return name_bands(arrangement, joined, bands), bands, ()


def arrange(
    linework: LineWork,
    plan: Plan,
    *,
    allow_large: bool,
    tolerance: Tolerance | None = None,
) -> Arrangement:
    """Return the regions of line work under a plan's slacks and repairs.

    Raises `LineWorkError` if the lines cannot be worked; it names the file.
    """
    from fillwork.arrangement.build import build_arrangement

    try:
        return build_arrangement(
            linework,
            tolerance,
            join_within=plan.join_within,
            close_gaps=plan.close_gaps,
            page_edge=plan.page_edge,
            close=plan.close,
            drop=plan.drop,
            cut=plan.cut,
            allow_large=allow_large,
        )
    except err.FillworkError as error:
        if error.where:
            raise
        # the arrangement knows lines, not files
        raise type(error)(error.what, linework.file, error.mend) from error


def weave(
    file: str, middle: Arrangement, plan: Plan, *, measure_room: bool = False
) -> Woven:
    """Return the lines of a drawing woven as a plan says.

    `plan`: all choices; `Plan.bands` must name a width. `measure_room`: find out how
    wide bands may be. Raises `LineWorkError` if there is no room for bands of that
    width.
    """
    from fillwork.bands.weave import weave_lines

    bands, scale = plan.bands, real_scale(plan, middle)
    try:
        return weave_lines(
            middle,
            (bands.width or 0.0) / scale,
            gap=bands.gap / scale,
            start=bands.start,
            corners=bands.corners,
            crossings=bands.crossings,
            nodes=bands.nodes,
            measure_room=measure_room,
        )
    except err.LineWorkError as error:
        where = f"{file}, {error.where}" if error.where else file
        raise err.LineWorkError(error.what, where, error.mend) from error


def _stated(plan: Plan) -> str | dict[int, str] | None:
    """Return the stated symmetry as `find_zones` takes it; None for auto."""
    stated = {z: g for z, g in plan.symmetry if g != "auto"}
    if not stated:
        return None
    if set(stated) == {0}:
        return stated[0]
    return stated


def _digest_note(plan: Plan, linework: LineWork) -> tuple[Note, ...]:
    from fillwork.notes import Note

    if not plan.digest or plan.digest == linework.digest:
        return ()
    name = linework.file or "the drawing"
    text = f"{name} changed since the plan was written"
    if plan.drawing and plan.drawing != linework.file:
        text = f"the plan was written for {plan.drawing}, not for {name}"
    remedy = "check that each pin still hits the region it was meant for"
    return (Note("pipeline", "drawing changed", text, remedy=remedy),)


def adjacency_of(arrangement: Arrangement, orbits: Orbits, plan: Plan) -> Adjacency:
    """Return which kinds and faces of a drawing touch, as its rules count contact.

    `plan`: says whether corners count.
    """
    from fillwork.colouring.adjacency import measure_adjacency

    return measure_adjacency(arrangement, orbits, corners=plan.rules.corners_count)


def rename_kinds(orbits: Orbits, plan: Plan) -> Orbits:
    """Return the kinds with the names that the user gave them.

    `plan`: all choices; `Plan.names` count. Raises `PlanError` if a letter is none of
    theirs.
    """
    if not plan.names:
        return orbits
    wanted = dict(plan.names)
    known = {o.letter for o in orbits.orbits}
    for letter in wanted:
        if letter not in known:
            what = f"names: there is no kind {letter}"
            mend = "kinds here: " + ", ".join(sorted(known)) if known else ""
            raise err.PlanError(what, mend=mend)
    renamed = tuple(
        replace(o, name=wanted[o.letter], base_name=wanted[o.letter])
        if o.letter in wanted
        else o
        for o in orbits.orbits
    )
    return replace(orbits, orbits=renamed)
