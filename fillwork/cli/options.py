"""Options that commands share, in groups."""

from __future__ import annotations

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
        type=CORNERS,
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
    _option(
        "--regular/--as-traced",
        default=None,
        help="Of a picture: average lines that are images of each other.",
    ),
]

lines_options = [
    _option("--plan", "plan_file", metavar="FILE", help="Take all choices from it."),
    _option(
        "--real-width",
        type=REAL_WIDTH,
        metavar="LENGTH",
        help="True width of what the drawing's page stands for; “drawing 300mm” of "
        "its lines alone.",
    ),
    _option(
        "--scale",
        type=SCALE,
        metavar="1:N",
        help="The drawing is at this scale, instead of --real-width.",
    ),
    _option(
        "--real",
        type=MEASURE,
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
        "--cut",
        type=POINT,
        multiple=True,
        metavar="@x,y",
        help="Cut the line that ends alone nearest there at its last crossing.",
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
    _option(
        "--alike",
        type=SHARE,
        metavar="SHARE",
        help="How far outlines of like shapes may lie apart, of the root of their "
        "area: 3%.",
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


def band_choices(prefix: str) -> list[Decorator]:
    """Return the options of how bands are woven.

    Of the start, corners, crossings and nodes.

    `prefix`: what their names begin with.
    """
    return [
        _option(
            f"--{prefix}start",
            "band_start",
            type=click.Choice(["over", "under"]),
            help="Under: the mirror image, over and under exchanged.",
        ),
        _option(
            f"--{prefix}corners",
            "band_corners",
            type=click.Choice(["mitre", "round"]),
            help="How bands bend.",
        ),
        _option(
            f"--{prefix}crossings",
            "band_crossings",
            type=click.Choice(["woven", "crossed", "open"]),
            help="Woven; or all edges run through; or none does.",
        ),
        _option(
            f"--{prefix}nodes",
            "band_nodes",
            type=click.Choice(["piled", "plain", "ring"]),
            help="Where three lines meet in a point: bands piled; a plain node; or a "
            "ring.",
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
    *band_choices("band-"),
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
    _option(
        "--tie", multiple=True, metavar="A,B", help="These places take one swatch."
    ),
    _option(
        "--ban",
        type=pair("WHERE", "SWATCH"),
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
        type=pair("SWATCH", "SHARE"),
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
        type=COLOURS,
        metavar="K|apart",
        help="Let K colours change places within kinds; apart: as few as part "
        "regions of one kind that touch.",
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
