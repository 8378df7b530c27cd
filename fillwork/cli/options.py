"""Options that commands share, in groups."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

import click

from fillwork.cli.values import (
    COLOURS,
    CORNERS,
    LENGTH,
    MEASURE,
    POINT,
    REAL_WIDTH,
    SCALE,
    SHARE,
    pair,
)
from fillwork.colouring.model import Rules
from fillwork.plans.model import Plan
from fillwork.plans.settings import (
    FITS,
    SHEETS,
    BandSettings,
    LayingSettings,
    PaintSettings,
    ScanSettings,
)
from fillwork.values import option_of

if TYPE_CHECKING:
    from collections.abc import Callable

    Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


def apply(*groups: list[Decorator]) -> Decorator:
    """Return a decorator that adds groups of options, in order."""

    def decorate(function: Callable[..., Any]) -> Callable[..., Any]:
        """Add the options to a command."""
        for group in reversed(groups):
            for option in reversed(group):
                function = option(function)
        return function

    return decorate


def names_of(group: list[Decorator]) -> tuple[str, ...]:
    """Return the names of the parameters that a group of options adds."""

    def bare() -> None:
        """Take no option yet."""

    for option in group:
        option(bare)
    return tuple(p.name for p in getattr(bare, "__click_params__", []))


def _option(*names: str, **settings: Any) -> Decorator:
    return click.option(*names, **settings)


# `spec`: the option with its value as help shows it, such as ``--over W,H|FILE``.


def _text(spec: str, told: str, kind: Any = None, **more: Any) -> Decorator:
    name, metavar = spec.split(" ", 1)
    return _option(name, type=kind, metavar=metavar, help=told, **more)


def _many(spec: str, told: str, kind: Any = None) -> Decorator:
    return _text(spec, told, kind, multiple=True)


def _places(name: str, told: str) -> Decorator:
    return _many(f"{name} @x,y", told, POINT)


def _length(name: str, told: str, metavar: str = "LENGTH") -> Decorator:
    return _text(f"{name} {metavar}", told, LENGTH)


def _count(spec: str, told: str, least: int, most: int | None = None) -> Decorator:
    return _text(spec, told, click.IntRange(least, most))


def _pick(of: type[Any], field: str, told: str, *names: str) -> Decorator:
    """Return an option that takes the words of a field of choices.

    `names`: the option and its parameter, where they are not the field's.
    """
    one = {f.name: f for f in fields(of)}[field]
    words = [word for word in one.metadata["kind"] if word]
    names = names or (option_of(one),)
    return _option(*names, type=click.Choice(words), help=told)


def _flag(name: str, told: str) -> Decorator:
    return _option(name, is_flag=True, default=None, help=told)


drawing_argument: list[Decorator] = [click.argument("drawing", metavar="DRAWING")]

scan_options = [
    _text(
        "--sheet-size NAME|W,H",
        "Of a picture: the sheet's size, such as A4, letter or 210,297.",
    ),
    _text(
        "--sheet-corners x,y x,y x,y x,y",
        "Of a picture: the sheet's corners, px, clockwise from the upper left.",
        CORNERS,
    ),
    _text("--pen #rrggbb", "Of a picture: the final ink's colour."),
    _pick(
        ScanSettings,
        "pencil",
        "Of a picture: whether pencil and guide lines are kept, as a layer.",
    ),
    _text(
        "--dpi N",
        "Of a scan: its resolution, where the file does not say it.",
        click.FloatRange(50, 4800),
    ),
    _places(
        "--settled", "Of a picture: the doubt at that point was looked at and is none."
    ),
    _places("--inked", "Of a picture: the ink at that point, left before, is a line."),
    _option(
        "--regular/--as-traced",
        default=None,
        help="Of a picture: even out lines that the symmetry makes alike.",
    ),
]

size_options = [
    _option("--plan", "plan_file", metavar="FILE", help="Take all choices from it."),
    _text(
        "--real-width LENGTH",
        "True width of what the drawing's page stands for; “drawing 300mm” of "
        "its lines alone.",
        REAL_WIDTH,
    ),
    _text(
        "--scale 1:N", "The drawing is at this scale, instead of --real-width.", SCALE
    ),
    _text(
        "--real MEASURE",
        "A true length between two points: “x,y x,y = 300mm”.",
        MEASURE,
    ),
]

laying_options = [
    _text(
        "--over W,H|FILE", "Lay one cell over a panel of that size, or of that outline."
    ),
    _many("--cell SELECTOR", "Guide lines that bound the cell, and are left out."),
    _text(
        "--by WAY",
        "How the cell goes on: shifts, “shifts x,y x,y”, “drop 1/2”, “brick 1/2”, "
        "mirrors, turns, “turns 4”, “turns 10” (a rosette's sector), border (round a "
        "panel); a group is named with --symmetry.",
    ),
    _text(
        "--border FILE|WIDTH|rest",
        "Run a border round the field, drawn to the cell's scale: a strip's "
        "drawing, a plain width, or the rest that whole repeats leave.",
    ),
    _text(
        "--corner-piece FILE|mitre",
        "Of a border: the lower left corner's own drawing; a mitre unless said.",
    ),
    _pick(
        LayingSettings,
        "medallion",
        "What stands in the middle of a drawn field: kept there, or the field goes on.",
    ),
    _text(
        "--place N|X,Y",
        "Where the cell lies: a number of places.png, or where its middle comes; "
        "3@X,Y has the turn and size of the third.",
    ),
    _text(
        "--scale-by SHARE",
        "How far the size may give so that repeats come out even: 2%.",
        SHARE,
    ),
    _length(
        "--misfit",
        "Close joins where lines miss each other by no more, or stop half as far "
        "again short of the cell's outline.",
    ),
]

reading_options = [
    _many(
        "--lines SELECTOR",
        "Take only these lines: layer=NAME, colour=#00f, class=NAME, id=NAME, "
        "width<0.3, width>0.3, dash=yes, joined by , for “and”.",
    ),
    _many("--leave SELECTOR", "Leave these out."),
    _pick(Plan, "scope", "Stroked lines, edges of fills, or both."),
    _pick(
        Plan,
        "hidden",
        "Lines under opaque shapes drawn over them: not seen, so dropped.",
    ),
    _text(
        "--layout NAME",
        "Of a DXF drawing: read this layout (paper space), not the model.",
    ),
    _count("--page-number N", "Of a PDF file: read this page, not the first.", 1),
    _length("--join-within", "Ends nearer than this are one point."),
    _length("--close-gaps", "Close gaps and trim overshoots up to this."),
    _places("--close", "Close the gap nearest that point."),
    _places("--drop", "Drop the line nearest that point."),
    _places(
        "--cut", "Cut the line that ends alone nearest there at its last crossing."
    ),
    _pick(Plan, "page_edge", "Whether the page's edge closes regions."),
]

kinds_options = [
    _many(
        "--symmetry NAME",
        "auto, none, or a group such as plane:p4m, frieze:p2mg, rosette:D8; "
        "for one zone 2=frieze:p2mg.",
    ),
    _pick(
        Plan,
        "match",
        "What must match: the whole group; mirror images apart; shifts only; "
        "every region by itself; like shapes; the parts of one star or flower.",
    ),
    _text(
        "--alike SHARE",
        "How far outlines of like shapes may lie apart, of the root of their area: 3%.",
        SHARE,
    ),
]

lines_options = [
    *size_options,
    *laying_options,
    *reading_options,
    *kinds_options,
    *scan_options,
]

palette_option = _text("--palette NAME|FILE", "A shipped palette, or a file.")

batch_options = [
    _option(
        "--palette",
        "palettes",
        multiple=True,
        metavar="A,B,...",
        help="Names or files; with several, each drawing has a folder for each.",
    ),
    _count(
        "--workers N", "Processes of this machine; one a processor unless said.", 1, 512
    ),
    _text(
        "--cluster ADDRESS",
        "Let the workers of this Dask scheduler do it, such as tcp://host:8786.",
        default="",
    ),
]


def band_choices(prefix: str) -> list[Decorator]:
    """Return the options of how bands are woven.

    Of the start, corners, crossings and nodes. `prefix`: what their names begin with.
    """
    told = {
        "start": "Under: the mirror image, over and under exchanged.",
        "corners": "How bands bend.",
        "crossings": "Woven; or all edges run through; or none does.",
        "nodes": "Where three lines meet in a point: bands piled; a plain node; or a "
        "ring.",
    }
    return [
        _pick(BandSettings, name, words, f"--{prefix}{name}", f"band_{name}")
        for name, words in told.items()
    ]


weave_options = [
    _option(
        "--bands",
        metavar="auto|no|WIDTH",
        help="Find strapwork that is drawn as bands; or do not; or how wide it is.",
    ),
    _length(
        "--band",
        "Weave plain lines into bands of this width, over and under in turn.",
        "WIDTH",
    ),
    _length("--band-gap", "Free beside the band above."),
    *band_choices("band-"),
]

colouring_options = [
    palette_option,
    _text(
        "--goal N",
        "Wanted CIEDE2000 between touching kinds; 20 unless said.",
        click.FloatRange(0, 100),
    ),
    *(
        _option(
            f"--pin{suffix}",
            f"pins_{scope}",
            type=pair("WHERE", "SWATCH"),
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
    _many("--tie A,B", "These places take one swatch."),
    _many("--ban WHERE=SWATCH", "Never that swatch there.", pair("WHERE", "SWATCH")),
    _count("--most N", "At most N swatches.", 1),
    _pick(
        Rules,
        "taste",
        "Character of the colours among those that reach the goal; balanced "
        "unless said.",
    ),
    _many("--share SWATCH=10%", "Area share wished.", pair("SWATCH", "SHARE")),
    _flag("--corners", "Corner contacts count too."),
    _text("--ground SWATCH", "The colour behind the pattern."),
    _text(
        "--outline SWATCH:WIDTH|none",
        "The painted line: a swatch, or a swatch and a width.",
    ),
    _many("--bare SWATCH", "This one is left unpainted."),
    _text(
        "--counterchange K|apart|no",
        "Let K colours change places within kinds; apart: as few as part "
        "regions of one kind that touch, as is done anyway in kinds that fill a zone "
        "alone; no: nowhere.",
        COLOURS,
    ),
    _many("--choice N|A=N", "Which of the numbered counterchanges."),
    _flag("--as-made", "Pin each kind to the swatch that the plan says it was given."),
    _count("--seed N", "Repeatable choice among equals.", 0, 2**31 - 1),
]

sheet_options = [
    _option(
        "--sheet",
        multiple=True,
        metavar="NAME",
        help=", ".join(SHEETS) + "; repeatable.",
    ),
    _text("--paper NAME", "A4, A3-landscape, letter, drawing, ..."),
    _option(
        "--fit",
        type=click.Choice(FITS),
        help="auto: true size, or whole on a page where a tenth less does; page (or "
        "--fit alone): as large as one page; true: true size on joined pages.",
    ),
    _count(
        "--most-pages N", "Refuse more pages than that; 60 unless said.", 1, 100_000
    ),
    _length("--least-number", "Smallest height of a number in a region."),
    _flag("--mirror", "Mirrored, to trace down."),
    _flag("--hatch", "Hatching instead of tints."),
    _count(
        "--teach N",
        "For a class of N: as many pupils' sets (numbered, blank and a half-done "
        "model, or the sheets chosen), and one for the teacher.",
        1,
        200,
    ),
    _count("--copies N", "Copies each.", 1, 200),
    _length("--overlap", "Overlap of pages."),
    _length(
        "--mask-overlap",
        "How far openings of masks reach under their neighbours: 0.3mm.",
    ),
    _length(
        "--bridge", "Cut bridges of that width to islands of masks, not only draw them."
    ),
    _text("--title TEXT", "Title on the sheets."),
    _text("--font FILE", "A font for scripts that the bundled ones lack."),
]

paint_options = [
    _many(
        "--coats N|SWATCH=N",
        "Coats of all paints, or of one; by its opacity unless said.",
    ),
    _text(
        "--under SWATCH", "Paint the whole panel with it first; the others lie on it."
    ),
    _text(
        "--primer NAME|none",
        "What goes under the paint; as common for the medium unless said.",
    ),
    _text("--varnish NAME|none", "What goes over it; likewise."),
    _text(
        "--support NAME",
        "What the panel is made of: timber, lime plaster, canvas, paper, ...",
    ),
    _text("--patch PLACE", "A repair alone: “@x,y r=80mm”, or a kind."),
    _flag("--tape", "Edges are taped, in rounds."),
    _pick(PaintSettings, "bands", "When the paints of bands come."),
    _text(
        "--pace M2,M", "m² filled and m of edge cut in an hour; hours are then told."
    ),
    _text("--spare SHARE", "Bought above need: 15%.", SHARE),
    _text("--on-hand FILE", "Paints on hand, TOML, for mixes."),
    _text("--panel W,H", "Fill a larger panel of that size with repeats."),
]

picture_options = [
    _pick(
        Plan,
        "view",
        "Add the picture as seen so, coloured-deutan.png, or in greys.",
    ),
    _count("--png-width PX", "Width of pictures; 1600 unless said.", 16, 20000),
]

output_options = [
    _text("--out DIR", "Where to write; out/ and the drawing's name unless said."),
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
