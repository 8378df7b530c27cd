"""Options that commands share, and how they lay over a plan file."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fillwork.cli.laying import laying_from
from fillwork.errors import FillworkError, PlanError

if TYPE_CHECKING:
    from collections.abc import Callable

    # click's types take a parameter from 8.4 on; at run time they need none
    _Type = click.ParamType[Any]
    from fillwork.colouring.model import Pin
    from fillwork.plans.model import Plan

    Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]
else:
    _Type = click.ParamType

__all__ = [
    "apply",
    "batch_options",
    "colouring_options",
    "drawing_argument",
    "folder_for",
    "lines_options",
    "output_options",
    "paint_options",
    "palette_option",
    "picture_options",
    "plan_from",
    "run_options",
    "scan_options",
    "sheet_options",
    "weave_options",
]


class Length(_Type):
    """A length such as ``2.5cm``, in mm inside."""

    name = "length"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return mm.

        Returns
        -------
        Any
            Mm.
        """
        if not isinstance(value, str):
            return value
        from fillwork.units import parse_length

        try:
            return parse_length(value)
        except FillworkError as error:
            self.fail(f"{error.what}; {error.mend}", param, ctx)


class Share(_Type):
    """A share such as ``15%``, a fraction inside."""

    name = "share"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return a fraction.

        Returns
        -------
        Any
            A fraction.
        """
        if not isinstance(value, str):
            return value
        from fillwork.units import parse_share

        try:
            return parse_share(value)
        except FillworkError as error:
            self.fail(f"{error.what}; {error.mend}", param, ctx)


class Point(_Type):
    """A place such as ``@12.5,40``, a pair of mm inside."""

    name = "@x,y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return x and y.

        Returns
        -------
        Any
            X and y.
        """
        if not isinstance(value, str):
            return value
        x, comma, y = value.strip().removeprefix("@").partition(",")
        try:
            point = (float(x), float(y))
        except ValueError:
            comma = ""
            point = (0.0, 0.0)
        if not comma or not all(abs(v) < 1e9 for v in point):
            self.fail(f"“{value}” is no place; write @x,y in mm", param, ctx)
        return point


class Pair(_Type):
    """Two texts joined by ``=``, such as ``A=gold``.

    Parameters
    ----------
    left, right : str
        What stands on each side, for the message.
    """

    name = "pair"

    def __init__(self, left: str, right: str) -> None:
        self.left, self.right = left, right

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return both sides.

        Returns
        -------
        Any
            Both sides.
        """
        if not isinstance(value, str):
            return value
        left, equals, right = value.rpartition("=")
        if not equals or not left.strip() or not right.strip():
            self.fail(f"“{value}” is not {self.left}={self.right}", param, ctx)
        return (left.strip(), right.strip())


class Scale(_Type):
    """A scale such as ``1:5``, true length / drawn length inside."""

    name = "scale"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return true length / drawn length.

        Returns
        -------
        Any
            The factor.
        """
        if not isinstance(value, str):
            return value
        drawn, _, true = value.partition(":")
        try:
            scale = float(true) / float(drawn)
        except (ValueError, ZeroDivisionError):
            scale = 0.0
        if not 1e-6 < scale < 1e6:
            self.fail(f"“{value}” is no scale; write it as 1:5", param, ctx)
        return scale


class RealWidth(_Type):
    """A true width with what it measures: ``300mm`` or ``drawing 300mm``."""

    name = "width"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return what is measured, and mm.

        Returns
        -------
        Any
            ``page`` or ``drawing``, and the length.
        """
        if not isinstance(value, str):
            return value
        word, _, length = value.strip().rpartition(" ")
        if word.strip() not in ("page", "drawing"):
            word, length = "page", value
        return word.strip(), LENGTH.convert(length, param, ctx)


class Measure(_Type):
    """A true length between two points, such as ``10,10 70,10 = 300mm``."""

    name = "measure"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return x y x y and the length in mm.

        Returns
        -------
        Any
            Five numbers.
        """
        if not isinstance(value, str):
            return value
        from fillwork.units import parse_length

        ends, _, length = value.partition("=")
        try:
            points = [float(v) for v in ends.replace(",", " ").replace("@", "").split()]
            true = parse_length(length)
        except (ValueError, FillworkError):
            points, true = [], 0.0
        if len(points) != 4 or true <= 0 or points[:2] == points[2:]:
            wanted = "write two points and the length, such as “10,10 70,10 = 300mm”"
            self.fail(f"“{value}” is no measure; {wanted}", param, ctx)
        return (*points, true)


class Corners(_Type):
    """Four points of a picture such as ``10,12 800,9 805,1100 7,1105``, px."""

    name = "corners"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return four pairs.

        Returns
        -------
        Any
            Four pairs.
        """
        if not isinstance(value, str):
            return value
        try:
            found = tuple(
                (float(x), float(y))
                for x, y in (part.split(",") for part in value.split())
            )
        except ValueError:
            found = ()
        if len(found) != 4 or not all(abs(v) < 1e6 for p in found for v in p):
            self.fail(f"“{value}” is not x,y x,y x,y x,y in px", param, ctx)
        return found


LENGTH, SHARE, POINT = Length(), Share(), Point()


def apply(*groups: list[Decorator]) -> Decorator:
    """Return a decorator that adds groups of options, in order.

    Parameters
    ----------
    *groups : list of decorators
        Options.

    Returns
    -------
    callable
        The decorator.
    """

    def decorate(function: Callable[..., Any]) -> Callable[..., Any]:
        """Add the options to a command."""
        for group in reversed(groups):
            for option in reversed(group):
                function = option(function)
        return function

    return decorate


def _option(*names: str, **settings: Any) -> Decorator:
    return click.option(*names, **settings)


drawing_argument: list[Decorator] = [click.argument("drawing", metavar="DRAWING")]

scan_options = [
    _option(
        "--sheet-size",
        metavar="NAME|W,H",
        help="Of a picture: the sheet's size, such as A4, letter or 210,297.",
    ),
    _option(
        "--sheet-corners",
        type=Corners(),
        metavar="x,y x,y x,y x,y",
        help="Of a picture: the sheet's corners, px, clockwise from the upper left.",
    ),
    _option("--pen", metavar="#rrggbb", help="Of a picture: the final ink's colour."),
    _option(
        "--pencil",
        type=click.Choice(["drop", "keep"]),
        help="Of a picture: whether pencil and guide lines are kept, as a layer.",
    ),
    _option(
        "--dpi",
        type=click.FloatRange(50, 4800),
        metavar="N",
        help="Of a scan: its resolution, where the file does not say it.",
    ),
    _option(
        "--settled",
        type=POINT,
        multiple=True,
        metavar="@x,y",
        help="Of a picture: the doubt at that point was looked at and is none.",
    ),
    _option(
        "--inked",
        type=POINT,
        multiple=True,
        metavar="@x,y",
        help="Of a picture: the ink at that point, left before, is a line.",
    ),
]

lines_options = [
    _option("--plan", "plan_file", metavar="FILE", help="Take all choices from it."),
    _option(
        "--real-width",
        type=RealWidth(),
        metavar="LENGTH",
        help="True width of what the drawing's page stands for; “drawing 300mm” of "
        "its lines alone.",
    ),
    _option(
        "--scale",
        type=Scale(),
        metavar="1:N",
        help="The drawing is at this scale, instead of --real-width.",
    ),
    _option(
        "--real",
        type=Measure(),
        metavar="MEASURE",
        help="A true length between two points: “x,y x,y = 300mm”.",
    ),
    _option(
        "--over",
        metavar="W,H|FILE",
        help="Lay one cell over a panel of that size, or of that outline.",
    ),
    _option(
        "--cell",
        multiple=True,
        metavar="SELECTOR",
        help="Guide lines that bound the cell, and are left out.",
    ),
    _option(
        "--by",
        metavar="WAY",
        help="How the cell goes on: shifts, “shifts x,y x,y”, “drop 1/2”, “brick 1/2”, "
        "mirrors, turns, “turns 4”, border (round a panel); a group is named with "
        "--symmetry.",
    ),
    _option(
        "--border",
        metavar="FILE|WIDTH|rest",
        help="Run a border round the field, drawn to the cell's scale: a strip's "
        "drawing, a plain width, or the rest that whole repeats leave.",
    ),
    _option(
        "--corner-piece",
        metavar="FILE|mitre",
        help="Of a border: the lower left corner's own drawing; a mitre unless said.",
    ),
    _option(
        "--place",
        metavar="N|X,Y",
        help="Where the cell lies: a number of places.png, or where its middle comes; "
        "3@X,Y has the turn and size of the third.",
    ),
    _option(
        "--scale-by",
        type=SHARE,
        metavar="SHARE",
        help="How far the size may give so that repeats come out even: 2%.",
    ),
    _option(
        "--misfit",
        type=LENGTH,
        metavar="LENGTH",
        help="Close joins where lines miss each other by no more.",
    ),
    _option(
        "--lines",
        multiple=True,
        metavar="SELECTOR",
        help="Take only these lines: layer=NAME, colour=#00f, class=NAME, id=NAME, "
        "width<0.3, width>0.3, dash=yes, joined by , for “and”.",
    ),
    _option("--leave", multiple=True, metavar="SELECTOR", help="Leave these out."),
    _option(
        "--scope",
        type=click.Choice(["auto", "stroked", "outlines", "both"]),
        help="Stroked lines, edges of fills, or both.",
    ),
    _option(
        "--hidden",
        type=click.Choice(["auto", "drop", "keep"]),
        help="Lines under opaque shapes drawn over them: not seen, so dropped.",
    ),
    _option(
        "--layout",
        metavar="NAME",
        help="Of a DXF drawing: read this layout (paper space), not the model.",
    ),
    _option(
        "--page-number",
        type=click.IntRange(1),
        metavar="N",
        help="Of a PDF file: read this page, not the first.",
    ),
    _option(
        "--join-within",
        type=LENGTH,
        metavar="LENGTH",
        help="Ends nearer than this are one point.",
    ),
    _option(
        "--close-gaps",
        type=LENGTH,
        metavar="LENGTH",
        help="Close gaps and trim overshoots up to this.",
    ),
    _option(
        "--close",
        type=POINT,
        multiple=True,
        metavar="@x,y",
        help="Close the gap nearest that point.",
    ),
    _option(
        "--drop",
        type=POINT,
        multiple=True,
        metavar="@x,y",
        help="Drop the line nearest that point.",
    ),
    _option(
        "--page-edge",
        type=click.Choice(["auto", "close", "open"]),
        help="Whether the page's edge closes regions.",
    ),
    _option(
        "--symmetry",
        multiple=True,
        metavar="NAME",
        help="auto, none, or a group such as plane:p4m, frieze:p2mg, rosette:D8; "
        "for one zone 2=frieze:p2mg.",
    ),
    _option(
        "--match",
        type=click.Choice(["all", "turns", "shifts", "none", "family", "figure"]),
        help="What must match: the whole group; mirror images apart; shifts only; "
        "every region by itself; like shapes; the parts of one star or flower.",
    ),
    *scan_options,
]

palette_option = _option(
    "--palette", metavar="NAME|FILE", help="A shipped palette, or a file."
)

batch_options = [
    _option(
        "--palette",
        "palettes",
        multiple=True,
        metavar="A,B,...",
        help="Names or files; with several, each drawing has a folder for each.",
    ),
    _option(
        "--workers",
        type=click.IntRange(1, 512),
        metavar="N",
        help="Processes of this machine; one a processor unless said.",
    ),
    _option(
        "--cluster",
        default="",
        metavar="ADDRESS",
        help="Let the workers of this Dask scheduler do it, such as tcp://host:8786.",
    ),
]

weave_options = [
    _option(
        "--bands",
        "band_find",
        metavar="auto|no|WIDTH",
        help="Find strapwork that is drawn as bands; or do not; or how wide it is.",
    ),
    _option(
        "--band",
        type=LENGTH,
        metavar="WIDTH",
        help="Weave plain lines into bands of this width, over and under in turn.",
    ),
    _option(
        "--band-gap", type=LENGTH, metavar="LENGTH", help="Free beside the band above."
    ),
    _option(
        "--band-start",
        type=click.Choice(["over", "under"]),
        help="Under: the other way round everywhere.",
    ),
    _option(
        "--band-corners",
        type=click.Choice(["mitre", "round"]),
        help="How bands bend.",
    ),
    _option(
        "--band-crossings",
        type=click.Choice(["woven", "crossed", "open"]),
        help="Woven; or all edges run through; or none does.",
    ),
    _option(
        "--band-nodes",
        type=click.Choice(["piled", "plain", "ring"]),
        help="Where three lines meet in a point: bands piled; a plain node; or a ring.",
    ),
]

colouring_options = [
    palette_option,
    _option(
        "--goal",
        type=click.FloatRange(0, 100),
        metavar="N",
        help="Wanted CIEDE2000 between touching kinds; 20 unless said.",
    ),
    *(
        _option(
            f"--pin{suffix}",
            f"pins_{scope}",
            type=Pair("WHERE", "SWATCH"),
            multiple=True,
            metavar="WHERE=SWATCH",
            help=what,
        )
        for suffix, scope, what in (
            ("", "kind", "Fix a swatch; WHERE: a letter, a name, “strand 2” or @x,y."),
            ("-turns", "turns", "The same for the region's turned copies alone."),
            ("-shifts", "shifts", "The same for the region's shifted copies alone."),
            ("-only", "only", "The same for that one region or strand."),
        )
    ),
    _option(
        "--tie", multiple=True, metavar="A,B", help="These places take one swatch."
    ),
    _option(
        "--ban",
        type=Pair("WHERE", "SWATCH"),
        multiple=True,
        metavar="WHERE=SWATCH",
        help="Never that swatch there.",
    ),
    _option("--most", type=click.IntRange(1), metavar="N", help="At most N swatches."),
    _option(
        "--taste",
        type=click.Choice(["balanced", "quiet", "festive", "two-tone", "dark"]),
        help="Character of the colours among those that reach the goal; balanced "
        "unless said.",
    ),
    _option(
        "--share",
        type=Pair("SWATCH", "SHARE"),
        multiple=True,
        metavar="SWATCH=10%",
        help="Area share wished.",
    ),
    _option("--corners", is_flag=True, default=None, help="Corner contacts count too."),
    _option("--ground", metavar="SWATCH", help="The colour behind the pattern."),
    _option(
        "--outline",
        metavar="SWATCH:WIDTH|none",
        help="The painted line: a swatch, or a swatch and a width.",
    ),
    _option(
        "--bare", multiple=True, metavar="SWATCH", help="This one is left unpainted."
    ),
    _option(
        "--counterchange",
        type=click.IntRange(2, 12),
        metavar="K",
        help="Let K colours change places within kinds.",
    ),
    _option(
        "--choice",
        multiple=True,
        metavar="N|A=N",
        help="Which of the numbered counterchanges.",
    ),
    _option(
        "--as-made",
        is_flag=True,
        default=None,
        help="Pin each kind to the swatch that the plan says it was given.",
    ),
    _option(
        "--seed",
        type=click.IntRange(0, 2**31 - 1),
        metavar="N",
        help="Repeatable choice among equals.",
    ),
]

sheet_options = [
    _option(
        "--sheet",
        "sheets",
        multiple=True,
        metavar="NAME",
        help="numbered, blank, coloured, steps, repeat, masks, card, model, trials, "
        "pounce, line, repair, schedule; repeatable.",
    ),
    _option("--paper", metavar="NAME", help="A4, A3-landscape, letter, drawing, ..."),
    _option(
        "--fit",
        type=click.Choice(["auto", "page", "true"]),
        help="auto: true size, or whole on a page where a tenth less does; page (or "
        "--fit alone): as large as one page; true: true size on joined pages.",
    ),
    _option(
        "--most-pages",
        type=click.IntRange(1, 100_000),
        metavar="N",
        help="Refuse more pages than that; 60 unless said.",
    ),
    _option(
        "--least-number",
        type=LENGTH,
        metavar="LENGTH",
        help="Smallest height of a number in a region.",
    ),
    _option("--mirror", is_flag=True, default=None, help="Mirrored, to trace down."),
    _option("--hatch", is_flag=True, default=None, help="Hatching instead of tints."),
    _option(
        "--teach",
        type=click.IntRange(1, 200),
        metavar="N",
        help="For a class of N: as many pupils' sets (numbered, blank and a half-done "
        "model, or the sheets chosen), and one for the teacher.",
    ),
    _option("--copies", type=click.IntRange(1, 200), metavar="N", help="Copies each."),
    _option("--overlap", type=LENGTH, metavar="LENGTH", help="Overlap of pages."),
    _option(
        "--mask-overlap",
        type=LENGTH,
        metavar="LENGTH",
        help="How far openings of masks reach under their neighbours: 0.3mm.",
    ),
    _option(
        "--bridge",
        type=LENGTH,
        metavar="LENGTH",
        help="Cut bridges of that width to islands of masks, not only draw them.",
    ),
    _option("--title", metavar="TEXT", help="Title on the sheets."),
    _option(
        "--font",
        metavar="FILE",
        help="A font for scripts that the bundled ones lack.",
    ),
]

paint_options = [
    _option(
        "--coats",
        multiple=True,
        metavar="N|SWATCH=N",
        help="Coats of all paints, or of one; by its opacity unless said.",
    ),
    _option(
        "--under",
        metavar="SWATCH",
        help="Paint the whole panel with it first; the others lie on it.",
    ),
    _option(
        "--primer",
        metavar="NAME|none",
        help="What goes under the paint; as common for the medium unless said.",
    ),
    _option("--varnish", metavar="NAME|none", help="What goes over it; likewise."),
    _option(
        "--support",
        metavar="NAME",
        help="What the panel is made of: timber, lime plaster, canvas, paper, ...",
    ),
    _option(
        "--patch",
        metavar="PLACE",
        help="A repair alone: “@x,y r=80mm”, or a kind.",
    ),
    _option("--tape", is_flag=True, default=None, help="Edges are taped, in rounds."),
    _option(
        "--paint-bands",
        "bands",
        type=click.Choice(["first", "last"]),
        help="When the paints of bands come.",
    ),
    _option(
        "--pace",
        metavar="M2,M",
        help="m² filled and m of edge cut in an hour; hours are then told.",
    ),
    _option("--spare", type=SHARE, metavar="SHARE", help="Bought above need: 15%."),
    _option("--on-hand", metavar="FILE", help="Paints on hand, TOML, for mixes."),
    _option(
        "--panel", metavar="W,H", help="Fill a larger panel of that size with repeats."
    ),
]

picture_options = [
    _option(
        "--view",
        type=click.Choice(["normal", "protan", "deutan", "tritan", "grey"]),
        help="Add the picture as seen so, coloured-deutan.png, or in greys.",
    ),
    _option(
        "--png-width",
        type=click.IntRange(16, 20000),
        metavar="PX",
        help="Width of pictures; 1600 unless said.",
    ),
]

output_options = [
    _option(
        "--out",
        metavar="DIR",
        help="Where to write; out/ and the drawing's name unless said.",
    ),
    _option("--force", is_flag=True, help="Overwrite files that differ."),
]

further_options = [
    _option("--html", is_flag=True, help="Add a page to hand on, in one file."),
    _option(
        "--dxf",
        is_flag=True,
        help="Add closed outlines for cutters and CAD, one layer a paint; masks too.",
    ),
]

run_options = [
    _option("--quiet", is_flag=True, help="Say no progress."),
    _option("--allow-large", is_flag=True, help="Raise the size limits."),
]


def folder_for(out: str | None, drawing: str, *, step: str = "") -> Path:
    """Return where the results of a drawing go.

    Parameters
    ----------
    out : str or None
        As given with ``--out``.
    drawing : str
        The drawing's file, or ``-``.
    step : str
        Of a command that makes another drawing.

    Returns
    -------
    Path
        A folder.
    """
    from fillwork.pipeline.output import default_folder

    return default_folder(drawing, step=step) if out is None else Path(out)


def plan_from(settings: dict[str, Any]) -> Plan:
    """Return the plan file's choices with those of the command line over them.

    Parameters
    ----------
    settings : dict
        Values of the options, None or () where one was not given. What belongs
        to the plan is taken out.

    Returns
    -------
    Plan
        All choices.

    Raises
    ------
    PlanError
        If the plan file or a value is wrong.
    """
    from fillwork.pipeline.stages import read_plan, take_font, take_palette
    from fillwork.plans.model import Plan

    file = settings.pop("plan_file", None)
    plan = Plan() if file is None else read_plan(file)
    simple = (
        "scale", "real", "lines", "leave", "scope", "hidden", "layout",
        "page_number",
        "join_within", "close_gaps", "page_edge", "match", "view", "png_width",
    )  # fmt: skip
    width = settings.pop("real_width", None)
    if width is not None:
        plan = replace(plan, real_of=width[0], real_width=width[1])
    plan = replace(plan, **_given(settings, {k: k for k in simple}))
    plan = replace(
        plan,
        close=_added(plan.close, settings.pop("close", ())),
        drop=_added(plan.drop, settings.pop("drop", ())),
    )
    names = {"cell": "cell", "by": "by", "scale_by": "give", "misfit": "misfit"}
    laying = laying_from(plan.laying, _given(settings, names), settings)
    plan = replace(plan, laying=laying)
    scan = {"sheet_size": "sheet_size", "sheet_corners": "corners"}
    scan |= {k: k for k in ("pen", "pencil", "dpi")}
    plan = replace(plan, scan=replace(plan.scan, **_given(settings, scan)))
    settled = _added(plan.scan.settled, settings.pop("settled", ()))
    inked = _added(plan.scan.inked, settings.pop("inked", ()))
    plan = replace(plan, scan=replace(plan.scan, settled=settled, inked=inked))
    bands = ("find", "width", "gap", "start", "corners", "crossings", "nodes")
    named = {f"band_{k}" if k != "width" else "band": k for k in bands}
    plan = replace(plan, bands=replace(plan.bands, **_given(settings, named)))
    stated = settings.pop("symmetry", ())
    if stated:
        plan = replace(plan, symmetry=_symmetry(stated))
    palette = settings.pop("palette", None)
    if palette is not None:
        plan = take_palette(plan, palette)
    plan = _with_rules(plan, settings)
    plan = _with_paint(plan, settings)
    sheets = _given(
        settings,
        {
            k: k
            for k in (
                "sheets",
                "paper",
                "fit",
                "most_pages",
                "least_number",
                "mirror",
                "hatch",
                "teach",
                "copies",
                "overlap",
                "mask_overlap",
                "bridge",
                "title",
            )
        },
    )
    plan = replace(plan, sheets=replace(plan.sheets, **sheets))
    font = settings.pop("font", None)
    return plan if font is None else take_font(plan, font)


def _given(settings: dict[str, Any], names: dict[str, str]) -> dict[str, Any]:
    """Take the options that were given, under the names of the plan's fields."""
    found = {}
    for option, field in names.items():
        value = settings.pop(option, None)
        if value is not None and value != ():
            found[field] = value
    return found


def _added(old: tuple[Any, ...], new: tuple[Any, ...]) -> tuple[Any, ...]:
    return (*old, *(v for v in new if v not in old))


def _symmetry(stated: tuple[str, ...]) -> tuple[tuple[int, str], ...]:
    found = []
    for text in stated:
        zone, equals, name = text.partition("=")
        if not equals:
            zone, name = "0", text
        if not re.fullmatch(r"\s*[0-9]{1,6}\s*", zone) or not name.strip():
            what = f"--symmetry “{text}” is no group"
            mend = "write a group such as plane:p4m, or for one zone 2=frieze:p2mg"
            raise PlanError(what, mend=mend)
        found.append((int(zone), name.strip()))
    return tuple(z for z in found if z != (0, "auto"))


def _with_rules(plan: Plan, settings: dict[str, Any]) -> Plan:
    from fillwork.units import parse_length, parse_share

    names = {
        "goal": "goal_difference",
        "most": "most",
        "taste": "taste",
        "corners": "corners_count",
        "ground": "ground",
        "bare": "bare",
        "counterchange": "counterchange",
        "seed": "seed",
    }
    changes = _given(settings, names)
    rules = plan.rules
    outline = settings.pop("outline", None)
    if outline is not None:
        swatch, colon, width = outline.rpartition(":")
        if not colon:
            swatch = outline
        changes["outline"] = swatch.strip()
        if colon:
            changes["outline_width"] = parse_length(width, what="--outline")
    new = _pins(settings)
    before = tuple(p for p in rules.pins if not _same_place(p, new))
    if settings.pop("as_made", None):
        from fillwork.colouring.model import Pin

        # a pin by its point names a kind too: what it gives is in the list
        before = tuple(p for p in before if p.scope != "kind")
        chosen = {p.where for p in new}
        before += tuple(
            Pin(letter, swatch)
            for letter, swatch in plan.made.swatches
            if letter not in chosen
        )
    changes["pins"] = (*before, *new)
    ties = tuple(tuple(_split_places(text)) for text in settings.pop("tie", ()) or ())
    for tie in ties:
        if len(tie) < 2:
            what = f"--tie “{','.join(tie)}” names one place"
            raise PlanError(what, mend="write two or more, such as --tie A,B")
    changes["ties"] = _added(rules.ties, ties)
    changes["bans"] = _added(rules.bans, settings.pop("ban", ()) or ())
    shares = dict(rules.shares)
    for swatch, share in settings.pop("share", ()) or ():
        shares[swatch] = parse_share(share, what="--share")
    changes["shares"] = tuple(shares.items())
    choices = dict(rules.choices)
    for text in settings.pop("choice", ()) or ():
        letter, _, number = text.rpartition("=")
        if not re.fullmatch(r"\s*0*[1-9][0-9]{0,8}\s*", number):
            what = f"--choice “{text}” is no number"
            raise PlanError(what, mend="write --choice 2, or --choice A=2")
        choices[letter.strip()] = int(number)
    changes["choices"] = tuple(choices.items())
    return replace(plan, rules=replace(rules, **changes))


def _split_places(text: str) -> list[str]:
    """Split at commas, but keep the comma inside a point ``@x,y``."""
    found: list[str] = []
    for part in text.split(","):
        last = found[-1] if found else ""
        if last.startswith("@") and "," not in last:
            found[-1] = f"{last},{part.strip()}"
        elif part.strip():
            found.append(part.strip())
    return found


def _pins(settings: dict[str, Any]) -> tuple[Pin, ...]:
    from fillwork.colouring.model import SCOPES, Pin

    return tuple(
        Pin(where, swatch, scope)
        for scope in SCOPES
        for where, swatch in settings.pop(f"pins_{scope}", ()) or ()
    )


def _same_place(pin: Pin, others: tuple[Pin, ...]) -> bool:
    return any((p.where, p.scope) == (pin.where, pin.scope) for p in others)


def _with_paint(plan: Plan, settings: dict[str, Any]) -> Plan:
    from fillwork.units import parse_length

    names = ("spare", "under", "primer", "varnish", "support", "tape", "patch", "bands")
    changes = _given(settings, {k: k for k in names})
    changes |= _coats(settings.pop("coats", ()) or (), plan.paint.coats_of)
    pace = settings.pop("pace", None)
    if pace is not None:
        match = re.fullmatch(r"\s*([0-9.]+)\s*,\s*([0-9.]+)\s*", pace)
        try:
            changes["pace"] = (float(match[1]), float(match[2])) if match else ()
        except ValueError:
            changes["pace"] = ()
        if not changes["pace"] or not all(1e-3 <= v <= 1e4 for v in changes["pace"]):
            what = f"--pace “{pace}” is no pace"
            mend = "write m² and m of edge an hour, such as 0.5,8"
            raise PlanError(what, mend=mend)
    panel = settings.pop("panel", None)
    if panel is not None:
        parts = panel.split(",")
        if len(parts) != 2:
            what = f"--panel “{panel}” is no size"
            raise PlanError(what, mend="write width and height, such as 900,1200")
        width, height = (parse_length(p, what="--panel") for p in parts)
        if min(width, height) <= 0:
            what = f"--panel “{panel}” has no area"
            raise PlanError(what, mend="give a width and a height above 0")
        changes["panel"] = (width, height)
    on_hand = settings.pop("on_hand", None)
    if on_hand is not None:
        plan = replace(plan, on_hand_data=_normal_toml(on_hand))
    return replace(plan, paint=replace(plan.paint, **changes))


def _coats(
    given: tuple[str, ...], before: tuple[tuple[str, int], ...]
) -> dict[str, Any]:
    """Return coats of all paints and of single ones, as the plan keeps them."""
    found: dict[str, Any] = {}
    single = dict(before)
    for text in given:
        name, equals, number = text.rpartition("=")
        known = re.fullmatch(r"\s*0*([1-9]|[1-4][0-9]|50)\s*", number)
        if known is None or (equals and not name.strip()):
            what = f"--coats “{text}” is no number of coats"
            mend = "write --coats 2, or for one paint --coats gold=1; 1 to 50"
            raise PlanError(what, mend=mend)
        if equals:
            single[name.strip()] = int(known[1])
        else:
            found["coats"] = int(known[1])
    return found | ({"coats_of": tuple(single.items())} if single else {})


def _normal_toml(path: str) -> str:
    import tomli_w

    from fillwork.tomlfile import parse_toml, read_toml_file

    name = Path(path).name
    return tomli_w.dumps(parse_toml(read_toml_file(path), name, kind="TOML file")[1])


def read_drawing(drawing: str, allow_large: bool) -> tuple[bytes, str]:
    """Return the content and the shown name of a drawing.

    Parameters
    ----------
    drawing : str
        A file, or ``-`` for standard input.
    allow_large : bool
        Raise the size limits.

    Returns
    -------
    data : bytes
        The content, cut one byte beyond the limit.
    name : str
        File name without folder, ``standard input`` for ``-``.

    Raises
    ------
    ReadError
        If it cannot be read.
    """
    from fillwork.pipeline.stages import read_source

    name = "standard input" if drawing == "-" else Path(drawing).name
    return read_source(drawing, allow_large=allow_large), name
