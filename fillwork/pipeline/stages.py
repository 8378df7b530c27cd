"""Run the stages of the main job in order and keep what each returned."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import fillwork.errors as err
from fillwork.pipeline.progress import quiet, telling
from fillwork.pipeline.scale import drawn_rules, real_scale, scale_known
from fillwork.plans.model import SHEETS, Plan
from fillwork.tomlfile import (
    check_text,
    is_file,
    parse_toml,
    read_bytes,
    read_toml_file,
)
from fillwork.values import told_repr

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.bands.found import Bands
    from fillwork.bands.model import Woven
    from fillwork.colouring.model import Adjacency, Colouring, Palette, Pin, Pins
    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.pipeline.progress import Progress
    from fillwork.plans.model import Schedule
    from fillwork.renderers.typeset import FontSet
    from fillwork.symmetry.model import Orbits, Zone
    from fillwork.tolerance import Tolerance

__all__ = [
    "Survey",
    "arrange",
    "bare_digits",
    "check_plan",
    "colour_survey",
    "load_palette",
    "make_survey",
    "quiet",
    "read_plan",
    "read_source",
    "real_scale",
    "rename_kinds",
    "scale_known",
    "take_font",
    "take_palette",
    "telling",
    "weave",
]


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
        """Return real length / drawn length.

        Returns
        -------
        float
            Real length / drawn length.
        """
        return real_scale(self.plan, self.arrangement)

    @property
    def scale_known(self) -> bool:
        """Return whether a physical size is stated.

        Returns
        -------
        bool
            Whether a physical size is stated.
        """
        return scale_known(self.plan, self.linework)


def read_source(path: str | Path, *, allow_large: bool = False) -> bytes:
    """Return a file's bytes: a drawing, a picture or a font.

    Parameters
    ----------
    path : str or Path
        The file, or ``-`` for standard input.
    allow_large : bool
        Raise the size limits.

    Returns
    -------
    bytes
        Its content, or one byte more than any reader takes.

    Raises
    ------
    ReadError
        If it cannot be read.
    """
    from fillwork.readers.limits import limits_for

    return read_bytes(path, limits_for(allow_large).file_bytes)


def read_plan(path: str | Path) -> Plan:
    """Return the plan that a file holds, with what it names beside it taken in.

    Parameters
    ----------
    path : str or Path
        The plan file.

    Returns
    -------
    Plan
        All choices. A font that is not there is missed only by what needs it.

    Raises
    ------
    PlanError
        If the plan is wrong.
    PaletteError
        If the palette file that it names is wrong.
    RenderError
        If the font that it names is none.
    """
    from fillwork.plans.file import parse_plan

    path = Path(path)
    plan = parse_plan(read_toml_file(path), path.name)
    if plan.palette and not plan.palette_data:
        beside = path.parent / plan.palette
        if plan.palette.endswith(".toml") and is_file(beside):
            plan = take_palette(plan, beside)
    if plan.sheets.font and is_file(path.parent / plan.sheets.font):
        taken = take_font(plan, path.parent / plan.sheets.font)
        # the digest stays that of the plan, so that another font is noticed
        digest = plan.sheets.font_digest or taken.sheets.font_digest
        plan = replace(taken, sheets=replace(taken.sheets, font_digest=digest))
    return plan


def take_font(plan: Plan, path: str | Path) -> Plan:
    """Return the plan with a font of the user's own.

    Parameters
    ----------
    plan : Plan
        All choices.
    path : str or Path
        The font's file; the plan keeps its name and digest.

    Returns
    -------
    Plan
        The plan with that font.

    Raises
    ------
    ReadError
        If the file cannot be read.
    RenderError
        If it is no font that can be used.
    """
    import hashlib

    from fillwork.renderers.own_font import own_fonts, plain_font

    name = Path(path).name
    data = read_source(path)
    plain_font(data, name)
    own_fonts(data, name)
    digest = hashlib.sha256(data).hexdigest()
    sheets = replace(plan.sheets, font=name, font_digest=digest)
    return replace(plan, sheets=sheets, font_data=data)


def plan_fonts(plan: Plan) -> FontSet:
    """Return the fonts of a plan: the bundled ones, and its own where at hand.

    Parameters
    ----------
    plan : Plan
        All choices.

    Returns
    -------
    FontSet
        Fonts for composing and encoding.
    """
    from fillwork.renderers.own_font import own_fonts

    return own_fonts(plan.font_data, plan.sheets.font)


def take_palette(plan: Plan, name_or_path: str | Path) -> Plan:
    """Return the plan with another palette.

    Parameters
    ----------
    plan : Plan
        All choices.
    name_or_path : str or Path
        Name of a shipped palette, or a palette file, which is taken into the
        plan whole so that the plan stands by itself.

    Returns
    -------
    Plan
        The plan with that palette.

    Raises
    ------
    PaletteError
        If the file is no palette.
    """
    import tomli_w

    from fillwork.colouring.palette_file import parse_palette

    text = str(name_or_path)
    path = Path(text)
    if not (text.endswith(".toml") or is_file(path)):
        return replace(plan, palette=text, palette_data="")
    data = read_toml_file(path)
    parse_palette(data, path.name)
    _, table = parse_toml(data, path.name)
    table.setdefault("name", path.stem)
    return replace(plan, palette="", palette_data=tomli_w.dumps(table))


def load_palette(plan: Plan) -> Palette:
    """Return the palette of a plan.

    Parameters
    ----------
    plan : Plan
        All choices.

    Returns
    -------
    Palette
        The palette.

    Raises
    ------
    PaletteError
        If it is unknown or wrong.
    """
    from fillwork.colouring.palette_file import parse_palette, read_palette

    if plan.palette_data:
        palette = parse_palette(plan.palette_data.encode(), "palette of the plan")
        # its lines are those of no file that a user has
        notes = tuple(replace(note, source=None) for note in palette.notes)
        return replace(palette, notes=notes)
    return read_palette(plan.palette)


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
    from fillwork.pipeline.laying import read_lines
    from fillwork.symmetry.orbits import find_orbits
    from fillwork.symmetry.zones import find_zones

    check_source(source, plan)
    plan = Plan() if plan is None else plan
    check_plan(plan)
    progress("reading the drawing")
    linework = read_lines(
        source, plan, name=name, allow_large=allow_large, progress=progress
    )
    if drawn is not None:
        drawn(linework)
    progress("finding regions")
    woven = None
    if plan.bands.width is not None:
        from fillwork.bands.drawing import as_linework, gap_note

        middle = arrange(linework, plan, allow_large=allow_large)
        progress("weaving")
        # a gap would let the ground run together, and leave no region of a band
        closed = replace(plan, bands=replace(plan.bands, gap=0.0))
        woven = weave(linework.file, middle, closed)
        linework = as_linework(woven, linework)
        if plan.bands.gap:
            linework = replace(linework, notes=(*linework.notes, gap_note()))
        # repairs were meant for the lines, and are made
        mended = replace(plan, close=(), drop=(), join_within=None, close_gaps=0.0)
        arrangement = arrange(linework, mended, allow_large=allow_large)
    else:
        arrangement = arrange(
            linework, plan, allow_large=allow_large, tolerance=tolerance
        )
    progress("finding the symmetry")
    zones = find_zones(arrangement, stated=_stated(plan))
    progress("sorting regions into kinds")
    orbits = find_orbits(arrangement, zones, match=plan.match)
    orbits, bands, asked = _with_bands(arrangement, orbits, woven, plan)
    orbits = rename_kinds(orbits, plan)
    notes = (*linework.notes, *arrangement.notes, *orbits.notes)
    return Survey(
        linework=linework,
        arrangement=arrangement,
        zones=orbits.zones,
        orbits=orbits,
        adjacency=_adjacency(arrangement, orbits, plan),
        outlines=build_outlines(arrangement),
        plan=plan,
        notes=(*notes, *asked, *_digest_note(plan, linework)),
        bands=bands,
    )


def _with_bands(
    arrangement: Arrangement, orbits: Orbits, woven: Woven | None, plan: Plan
) -> tuple[Orbits, Bands | None, tuple[Note, ...]]:
    """Return the kinds with each strand of strapwork as one, and what is in doubt."""
    from fillwork.bands.found import find_bands
    from fillwork.bands.kinds import bands_of_woven, join_strands
    from fillwork.bands.naming import name_bands
    from fillwork.bands.settings import doubt_note, known_width

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
            return orbits, None, () if found is None else (doubt_note(found, scale),)
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

    Parameters
    ----------
    linework : LineWork
        The lines.
    plan : Plan
        All choices.
    allow_large : bool
        Raise the size limits.
    tolerance : Tolerance, optional
        All slacks instead of the plan's.

    Returns
    -------
    Arrangement
        The regions.

    Raises
    ------
    LineWorkError
        If the lines cannot be worked; it names the file.
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
            allow_large=allow_large,
        )
    except err.FillworkError as error:
        if error.where:
            raise
        # the arrangement knows lines, not files
        raise type(error)(error.what, linework.file, error.mend) from error


def weave(file: str, middle: Arrangement, plan: Plan) -> Woven:
    """Return the lines of a drawing woven as a plan says.

    Parameters
    ----------
    file : str
        Name of the drawing, for messages.
    middle : Arrangement
        Its lines.
    plan : Plan
        All choices; `Plan.bands` must name a width.

    Returns
    -------
    Woven
        The bands.

    Raises
    ------
    LineWorkError
        If there is no room for bands of that width.
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
        )
    except err.LineWorkError as error:
        where = f"{file}, {error.where}" if error.where else file
        raise err.LineWorkError(error.what, where, error.mend) from error


def check_source(source: object, plan: object) -> None:
    """Raise for what is no drawing, in words for who writes a program.

    Parameters
    ----------
    source : object
        What was given as one.
    plan : object
        What was given as the plan.

    Raises
    ------
    TypeError
        If it is neither a file, nor bytes, nor line work; or the plan is none.
    """
    from fillwork.linework import LineWork

    if not isinstance(plan, Plan | None):
        what = f"a plan is a Plan, not {type(plan).__name__}; read a file by read_plan"
        raise TypeError(what)
    if not isinstance(source, str | Path | bytes | LineWork):
        what = (
            "a drawing is the path of a file, its bytes, or a LineWork, not "
            f"{type(source).__name__}; lines in hand become one by "
            "LineWork.from_geometry"
        )
        raise TypeError(what)


def check_plan(plan: Plan) -> None:
    """Raise for a choice that no drawing could mend, before any work is done.

    Parameters
    ----------
    plan : Plan
        All choices.

    Raises
    ------
    PlanError
        If the real width, the paper, the name of a sheet or a text is wrong.
    PaletteError
        If the palette is unknown or wrong.
    SymmetryError
        If the stated symmetry names no group.
    """
    from fillwork.bands.settings import known_width
    from fillwork.laying.ways import check_way
    from fillwork.plans.file import check_values
    from fillwork.symmetry.groups import parse_group
    from fillwork.units import page_size

    for field in fields(plan):
        if field.name not in {"palette_data", "on_hand_data"}:  # these were checked
            for text in _texts(getattr(plan, field.name)):
                check_text(text, f"a text of {field.name.replace('_', ' ')}")
    if plan.real_width is not None and plan.real_width <= 0:
        what = f"the real width is {plan.real_width:g}"
        raise err.PlanError(what, mend="give a length above 0 with --real-width")
    if plan.scale is not None and plan.scale <= 0:
        what = f"the scale is {plan.scale:g}"
        raise err.PlanError(what, mend="write it as --scale 1:5")
    check_way(plan.laying.by)
    if plan.bands.width is not None and plan.bands.width <= 0:
        what = "the bands have no width"
        raise err.PlanError(what, mend="give a length above 0 with --band")
    if plan.bands.find not in ("auto", "no"):
        known_width(plan.bands.find)
    if plan.sheets.paper != "drawing":
        page_size(plan.sheets.paper)
    for name in plan.sheets.sheets:
        if name not in SHEETS:
            what = f"sheet “{name}” is not known"
            raise err.PlanError(what, mend="take some of " + ", ".join(SHEETS))
    for _, group in plan.symmetry:
        if group != "auto":
            parse_group(group)
    if plan.rules.choices and plan.rules.counterchange is None:
        what = "a choice is named, but no number of colours that change places"
        raise err.PlanError(what, mend="add --counterchange K, or leave --choice out")
    check_values(plan)
    load_palette(plan)


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from _texts(one)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _texts(getattr(value, field.name))


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


def _adjacency(arrangement: Arrangement, orbits: Orbits, plan: Plan) -> Adjacency:
    from fillwork.colouring.adjacency import measure_adjacency

    return measure_adjacency(arrangement, orbits, corners=plan.rules.corners_count)


def rename_kinds(orbits: Orbits, plan: Plan) -> Orbits:
    """Return the kinds with the names that the user gave them.

    Parameters
    ----------
    orbits : Orbits
        The kinds.
    plan : Plan
        All choices; `Plan.names` count.

    Returns
    -------
    Orbits
        The same kinds.

    Raises
    ------
    PlanError
        If a letter is none of theirs.
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


def bare_digits(value: float) -> float:
    """Return a coordinate as plans and pins print it: three decimals.

    Parameters
    ----------
    value : float
        A length, mm.

    Returns
    -------
    float
        The rounded length.
    """
    return round(float(value), 3) + 0.0


def fix_pins(pins: Iterable[Pin], survey: Survey) -> tuple[Pin, ...]:
    """Return pins that hold points where they held letters.

    Letters follow the areas and may change when the drawing is edited; a point
    still finds its region.

    Parameters
    ----------
    pins : iterable of Pin
        The wishes.
    survey : Survey
        The drawing they are for.

    Returns
    -------
    tuple of Pin
        The same wishes.
    """
    by_letter = {o.letter: o for o in survey.orbits.orbits}
    fixed = []
    for pin in pins:
        orbit = by_letter.get(pin.where.strip())
        if orbit is None or pin.scope != "kind":
            fixed.append(pin)
            continue
        x, y = survey.arrangement.witness[orbit.representative]
        where = f"@{bare_digits(x)!r},{bare_digits(y)!r}"
        fixed.append(replace(pin, where=where))
    return tuple(fixed)


@dataclass(frozen=True, slots=True, eq=False)
class Coloured:
    """Hold the colouring of a survey and the schedule that follows from it.

    Parameters
    ----------
    survey : Survey
        The drawing.
    plan : Plan
        The choices.
    palette : Palette
        The palette.
    colouring : Colouring
        Which region bears which swatch.
    schedule : Schedule
        What to buy and in what order to paint.
    notes : tuple of Note
        Notes of colouring and schedule.
    """

    survey: Survey
    plan: Plan
    palette: Palette
    colouring: Colouring
    schedule: Schedule
    notes: tuple[Note, ...]

    def __repr__(self) -> str:
        return told_repr(self, self.survey.linework.file, self.colouring)


def colour_survey(
    survey: Survey,
    plan: Plan | None = None,
    *,
    palette: Palette | str | Path | None = None,
    pins: Pins = (),
    progress: Progress = quiet,
) -> Coloured:
    """Assign the palette to a surveyed drawing and work out the schedule.

    Parameters
    ----------
    survey : Survey
        What was found in the drawing.
    plan : Plan, optional
        All choices; by default those of the survey. What concerns lines,
        symmetry and match must equal the survey's.
    palette : Palette, str or Path, optional
        One in hand, such as from `Palette.from_colours`, a name or a file, instead
        of the plan's; it is taken into the plan of the result.
    pins : mapping, or iterable of Pin or tuple
        Fixed swatches besides those of the plan, as of `Pin.gather`.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    Coloured
        The colouring and the schedule.

    Raises
    ------
    LineWorkError
        If the drawing has no region.
    PlanError
        If the plan wants other lines or another symmetry than the survey's.
    FillworkError
        If palette or wishes are wrong.

    Examples
    --------
    >>> import fillwork, shapely
    >>> pair = [shapely.box(0, 0, 20, 10), shapely.box(20, 0, 50, 10)]
    >>> survey = fillwork.make_survey(fillwork.LineWork.from_geometry(pair))
    >>> two = fillwork.Palette.from_colours({"ivory": "#fffff0", "night": "#14143c"})
    >>> coloured = colour_survey(survey, palette=two, pins={"A": "night"})
    >>> fillwork.region_columns(survey, coloured.colouring)["swatch"]
    ['ivory', 'night']
    """
    from fillwork.colouring.assign import assign_colours
    from fillwork.plans.schedule import make_schedule
    from fillwork.plans.strands import strand_lines

    plan = survey.plan if plan is None else plan
    refuse_misfit(survey, plan)
    plan = with_palette(plan, palette, pins)
    refuse_no_regions(survey)
    palette = load_palette(plan)
    progress("assigning the palette")
    adjacency = survey.adjacency
    if plan.rules.corners_count != survey.plan.rules.corners_count:
        adjacency = _adjacency(survey.arrangement, survey.orbits, plan)
    colouring = assign_colours(
        survey.arrangement,
        survey.orbits,
        adjacency,
        palette,
        drawn_rules(plan, survey.arrangement),
        progress=telling(progress),
    )
    progress("working out the schedule")
    scale = real_scale(plan, survey.arrangement)
    schedule = make_schedule(
        survey.arrangement,
        survey.orbits,
        adjacency,
        colouring,
        plan.paint,
        real_scale=scale,
        scale_known=scale_known(plan, survey.linework),
        on_hand=plan.on_hand_data.encode() or None,
        used_before=plan.used,
        strands=strand_lines(survey.bands, survey.orbits, colouring, scale),
    )
    return Coloured(
        survey=survey,
        plan=plan,
        palette=palette,
        colouring=colouring,
        schedule=schedule,
        notes=(*palette.notes, *colouring.notes, *schedule.notes),
    )


def with_palette(
    plan: Plan, palette: Palette | str | Path | None, pins: Pins = ()
) -> Plan:
    """Return the plan with a palette and pins over its own.

    Parameters
    ----------
    plan : Plan
        All choices.
    palette : Palette, str or Path, optional
        One in hand, a name or a file.
    pins : mapping, or iterable of Pin or tuple
        Fixed swatches.

    Returns
    -------
    Plan
        The plan that holds them.
    """
    from fillwork.colouring.model import Palette, Pin

    if isinstance(palette, Palette):
        plan = replace(plan, palette="", palette_data=palette.to_toml())
    elif palette is not None:
        plan = take_palette(plan, palette)
    more = Pin.gather(pins)
    if not more:
        return plan
    return replace(plan, rules=replace(plan.rules, pins=(*plan.rules.pins, *more)))


_OF_SURVEY = (
    "lines", "leave", "scope", "hidden", "layout", "page_number", "join_within",
    "close_gaps", "close", "drop", "page_edge", "laying", "bands", "symmetry", "match",
    "scan",
)  # fmt: skip


def refuse_misfit(survey: Survey, plan: Plan) -> None:
    """Raise when a plan wants another survey than the one in hand.

    Parameters
    ----------
    survey : Survey
        What was found.
    plan : Plan
        The choices to colour it by.

    Raises
    ------
    PlanError
        If lines, symmetry or match differ.
    """
    for name in _OF_SURVEY:
        mine, theirs = getattr(plan, name), getattr(survey.plan, name)
        if mine != theirs:
            what = f"the plan has {name} = {mine!r}, the survey {theirs!r}"
            mend = "make the survey by the same plan"
            raise err.PlanError(what, survey.linework.file, mend)


def refuse_no_regions(survey: Survey) -> None:
    """Raise when there is nothing to colour.

    Parameters
    ----------
    survey : Survey
        What was found.

    Raises
    ------
    LineWorkError
        If the drawing has no region.
    """
    if survey.arrangement.face_count > 1:
        return
    loose = sum(1 for d in survey.arrangement.defects if d.type == "loose end")
    what = f"the lines close no region ({loose} loose ends)"
    mend = (
        "see them with: fillwork survey DRAWING --picture survey.png; "
        "larger gaps are closed with --close-gaps LENGTH"
    )
    raise err.LineWorkError(what, survey.linework.file, mend)
