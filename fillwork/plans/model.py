"""What the plans stage takes and returns.

A *plan* is the file of all choices: nothing in it is derived. *Quantities* say
how much of each paint is needed, *steps* in what order to paint.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fillwork.colouring.model import Rules
from fillwork.errors import PlanError
from fillwork.plans.words import figure_words
from fillwork.values import (
    Hidden,
    LineScope,
    Match,
    PageEdge,
    RealOf,
    View,
    changed_repr,
    told_repr,
)

if TYPE_CHECKING:
    from fillwork.colouring.model import Swatch
    from fillwork.notes import Note
    from fillwork.plans.leafing import LeafPlan
    from fillwork.plans.media import Clash
    from fillwork.plans.patch import Patch

__all__ = [
    "FITS",
    "SHEETS",
    "BandSettings",
    "Buy",
    "LayingSettings",
    "Made",
    "PaintSettings",
    "Plan",
    "Quantity",
    "ScanSettings",
    "Schedule",
    "SheetSettings",
    "Step",
    "UsedPaint",
]


SHEETS = (
    "numbered",
    "blank",
    "coloured",
    "steps",
    "repeat",
    "masks",
    "card",
    "model",
    "trials",
    "pounce",
    "line",
    "repair",
    "schedule",
)
"""Kinds of sheet."""

FITS = ("auto", "page", "true")
"""How a drawing is fitted to its paper."""


@dataclass(frozen=True, slots=True)
class PaintSettings:
    """Hold the factors of the schedule.

    Parameters
    ----------
    coats : int or None
        Coats of each paint; None: by its opacity.
    spare : float
        Share bought above need.
    containers : tuple of float
        Container sizes to buy in, mL, ascending; empty: sizes common in the
        trade, or those that have a price.
    panel : tuple of float or None
        Width and height of a larger panel to fill with repeats, mm.
    leaf_size : float
        Side of a leaf, mm.
    leaf_lap : float
        Lap of leaves, mm.
    leaf_waste : float
        Share of leaf lost.
    coats_of : tuple of (str, int)
        Coats of single paints, by name; they go before all else.
    under : str
        The paint that goes over the whole panel before all others; empty: none.
    primer, varnish : str
        What goes under and over the paint; ``none``, or empty: as is common for
        the medium.
    support : str
        What the panel is made of, one of `fillwork.plans.media.SUPPORTS`; empty
        where it is not told.
    tape : bool
        Whether edges are taped, in as few rounds as may be.
    pace : tuple of float or None
        m² filled and m of edge cut in, an hour; common practice by default, and
        then hours are not told.
    patch : str
        What alone is repaired, as of `fillwork.plans.patch`; empty: all.
    bands : str
        ``first`` or ``last``: when the paints of bands come; empty: as other paints.
    """

    coats: int | None = None
    spare: float = 0.15
    containers: tuple[float, ...] = ()
    panel: tuple[float, float] | None = None
    leaf_size: float = 80.0
    leaf_lap: float = 3.0
    leaf_waste: float = 0.12
    coats_of: tuple[tuple[str, int], ...] = ()
    under: str = ""
    primer: str = ""
    varnish: str = ""
    support: str = ""
    tape: bool = False
    pace: tuple[float, float] | None = None
    patch: str = ""
    bands: str = ""

    def __repr__(self) -> str:
        return changed_repr(self)


@dataclass(frozen=True, slots=True)
class BandSettings:
    """Hold how plain lines are woven into bands, and whether bands are looked for.

    Parameters
    ----------
    find : str
        ``auto``, ``no``, or the width of bands that are in the drawing.
    width : float or None
        Width of the bands, mm; None: lines stay lines.
    gap : float
        Left free beside the band that is over, mm.
    start : str
        ``over`` or ``under``: the other way round everywhere.
    corners : str
        ``mitre`` or ``round``.
    crossings : str
        ``woven``, ``crossed`` or ``open``.
    nodes : str
        ``piled``, ``plain`` or ``ring``, where three lines or more meet in a point.
    """

    find: str = "auto"
    width: float | None = None
    gap: float = 0.0
    start: str = "over"
    corners: str = "mitre"
    crossings: str = "woven"
    nodes: str = "piled"

    def __repr__(self) -> str:
        return changed_repr(self)


@dataclass(frozen=True, slots=True)
class LayingSettings:
    """Hold how one cell is laid over a whole panel.

    Parameters
    ----------
    over : tuple of float or None
        Width and height of the panel, mm.
    outline : str
        Path data of a panel's outline, mm, y down; it goes before `over`. Nothing
        is laid where both are missing.
    cell : tuple of str
        Selectors of the guide lines that bound the cell.
    by : str
        ``shifts``, ``shifts x,y x,y``, ``drop 1/2``, ``brick 1/2``, ``mirrors``,
        ``turns`` or ``border``; empty: by the stated symmetry, else by shifts.
    place : int or None
        Number of the placing, from 1, best first.
    place_at : tuple of float or None
        Where the cell's middle comes on the panel, mm; with the turn and size of
        `place`, where that is given too.
    give : float
        How far the size may give so that repeats come out even, a share.
    corner : str
        Path data of a border's corner piece, mm, y down; empty: a mitre.
    corner_size : tuple of float or None
        Its width and height, mm.
    border : str
        Path data of the strip run round the field, mm, y down; ``rest`` for a plain
        border that takes what whole repeats leave; empty: none.
    border_cell : str
        Path data of the outline of the strip's cell.
    border_width : float or None
        Width of a plain border, mm.
    misfit : float or None
        Largest misfit that is closed at joins, mm; from the drawing by default.
    """

    over: tuple[float, float] | None = None
    outline: str = ""
    cell: tuple[str, ...] = ()
    by: str = ""
    place: int | None = None
    place_at: tuple[float, float] | None = None
    give: float = 0.0
    corner: str = ""
    corner_size: tuple[float, float] | None = None
    border: str = ""
    border_cell: str = ""
    border_width: float | None = None
    misfit: float | None = None

    def __repr__(self) -> str:
        return changed_repr(self)

    @property
    def wanted(self) -> bool:
        """Return whether a cell is to be laid.

        Returns
        -------
        bool
            Whether a cell is to be laid.
        """
        return self.over is not None or bool(self.outline)


@dataclass(frozen=True, slots=True)
class ScanSettings:
    """Hold how a scan or a photograph of a sheet is traced.

    Parameters
    ----------
    sheet_size : str
        ``auto``, the name of a paper, or ``W,H``.
    corners : tuple of (float, float)
        The sheet's corners in the picture, px, clockwise from the upper left;
        empty to find them.
    pen : str
        ``auto``, or the colour of the final ink as ``#rrggbb``.
    pencil : str
        ``drop`` or ``keep``.
    dpi : float or None
        Resolution of a scan whose file does not say it.
    settled : tuple of (float, float)
        Places in doubt that somebody looked at, mm, y up.
    inked : tuple of (float, float)
        Ink that was left and is a line, mm, y up.
    """

    sheet_size: str = "auto"
    corners: tuple[tuple[float, float], ...] = ()
    pen: str = "auto"
    pencil: str = "drop"
    dpi: float | None = None
    settled: tuple[tuple[float, float], ...] = ()
    inked: tuple[tuple[float, float], ...] = ()

    def __repr__(self) -> str:
        return changed_repr(self)


@dataclass(frozen=True, slots=True)
class SheetSettings:
    """Hold the choices for printed sheets.

    Parameters
    ----------
    sheets : tuple of str
        Kinds of sheet, such as ``numbered``.
    paper : str
        Page name for `fillwork.units.page_size`, or ``drawing``.
    fit : str
        ``auto``: true size, reduced by up to a tenth where that keeps the drawing
        on one page; ``page``: as large as one page; ``true``: true size, whatever
        pages that takes. True and False stand for ``page`` and ``true``.
    most_pages : int
        More pages of one copy are refused.
    mask_overlap : float
        How far openings of masks reach under their neighbours, mm.
    bridge : float
        Width of bridges that hold islands of masks, mm; 0: proposed, not cut.
    least_number : float
        Smallest height of a number, mm.
    mirror, hatch : bool
        Mirror images for tracing; hatching for black copies.
    teach : int
        Pupils of a class that the sheets are for; 0 for none.
    copies : int
        Copies of each sheet.
    overlap : float
        Overlap of pages that are joined, mm.
    title : str or None
        Title; the drawing's name by default.
    font, font_digest : str
        File name and SHA-256 of a font for scripts that the bundled ones lack.
    """

    sheets: tuple[str, ...] = ("numbered",)
    paper: str = "A4"
    fit: str = "auto"
    least_number: float = 1.5
    mirror: bool = False
    hatch: bool = False
    teach: int = 0
    copies: int = 1
    overlap: float = 10.0
    title: str | None = None
    font: str = ""
    font_digest: str = ""
    most_pages: int = 60
    mask_overlap: float = 0.0
    bridge: float = 0.0

    def __repr__(self) -> str:
        return changed_repr(self)

    def __post_init__(self) -> None:
        """Take true and false as older plans have them."""
        words: dict[object, str] = {True: "page", False: "true"}
        object.__setattr__(self, "fit", words.get(self.fit, self.fit))
        if self.fit not in FITS:
            what = f"a fit “{self.fit}” is not known"
            raise PlanError(what, mend="take one of " + ", ".join(FITS))
        for name, most in (("mask_overlap", 20.0), ("bridge", 50.0)):
            if not 0 <= getattr(self, name) <= most:
                what = f"{getattr(self, name):g} mm is no {name.replace('_', ' ')}"
                raise PlanError(what, mend=f"take from 0 to {most:g} mm")
        object.__setattr__(self, "teach", int(self.teach))
        if self.teach > 1 and self.copies > 1:
            what = f"{self.teach} pupils and {self.copies} copies both say how many"
            raise PlanError(
                what, mend="leave --copies out, or --teach without a number"
            )

    @property
    def pupils(self) -> int:
        """Return how many pupils' sets are wanted.

        Returns
        -------
        int
            Those of the class, or as many as copies.
        """
        return max(self.teach, self.copies) if self.teach else 0


@dataclass(frozen=True, slots=True)
class UsedPaint:
    """Hold what was really used for a swatch, for who mends it later.

    Parameters
    ----------
    swatch : str
        Its name.
    batch, mix, date, words : str
        Number of the batch, the mix, when, and anything else; in the user's own
        words.
    """

    swatch: str
    batch: str = ""
    mix: str = ""
    date: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Made:
    """Hold what came of a plan: what is kept beside the choices.

    Parameters
    ----------
    version : str
        Version of fillwork.
    swatches : tuple of (str, str)
        Letter of each kind that bears one swatch, and that swatch.
    """

    version: str = ""
    swatches: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """Gather all choices for one drawing.

    Parameters
    ----------
    drawing, digest : str
        File name without folder, SHA-256 of its bytes; empty when not fixed.
    real_width : float or None
        True width of the panel, mm.
    real_of : str
        What that is the width of: ``page``, or ``drawing``, its lines alone.
    scale : float or None
        True length / drawn length, such as 5 for a drawing at 1 : 5.
    real : tuple of 5 floats or None
        Two points of the drawing, x y x y, and the true length between them, mm.
        It goes before `scale`, which goes before `real_width`.
    lines, leave : tuple of str
        Selectors of final line work and of lines to leave out.
    scope : str
        ``stroked``, ``outlines``, ``both`` or ``auto``.
    layout : str
        Of a DXF drawing: the layout to read; empty: the model.
    page_number : int or None
        Of a PDF file: the page to read, from 1; None: the first.
    join_within, close_gaps : float or None
        Tolerances, mm; from the drawing by default.
    close, drop, cut : tuple of (float, float)
        Single repairs, mm.
    page_edge : str
        ``auto``, ``close`` or ``open``.
    laying : LayingSettings
        How one cell is laid over a whole panel.
    bands : BandSettings
        How plain lines are woven.
    symmetry : tuple of (int, str)
        Stated symmetry by zone (0: the whole drawing); empty: ``auto``.
    match : str
        ``all``, ``turns``, ``shifts`` or ``none``.
    names : tuple of (str, str)
        Letter of a kind and the name given to it by the user.
    palette : str
        Name of a shipped palette, or file.
    palette_data : str
        TOML of a palette of the user's own; it goes before `palette`.
    on_hand_data : str
        TOML of the paints on hand, for mixes.
    rules : Rules
        Wishes for the colouring.
    paint : PaintSettings
        Factors of the schedule.
    sheets : SheetSettings
        Choices for sheets.
    scan : ScanSettings
        Choices for pictures of a sheet.
    view : str
        ``normal``, ``protan``, ``deutan``, ``tritan`` or ``grey``.
    png_width : int
        Width of pictures, px.
    made : Made
        What came of the plan when it was written.
    used : tuple of UsedPaint
        What was really used.
    font_data : bytes
        The font that `sheets` names. It is no part of the plan's file, which
        holds its name and digest: the font lies beside it.
    """

    drawing: str = ""
    digest: str = ""
    real_width: float | None = None
    real_of: RealOf = "page"
    scale: float | None = None
    real: tuple[float, float, float, float, float] | None = None
    lines: tuple[str, ...] = ()
    leave: tuple[str, ...] = ()
    scope: LineScope = "auto"
    hidden: Hidden = "auto"
    layout: str = ""
    page_number: int | None = None
    join_within: float | None = None
    close_gaps: float | None = None
    close: tuple[tuple[float, float], ...] = ()
    drop: tuple[tuple[float, float], ...] = ()
    cut: tuple[tuple[float, float], ...] = ()
    page_edge: PageEdge = "auto"
    laying: LayingSettings = field(default_factory=LayingSettings)
    bands: BandSettings = field(default_factory=BandSettings)
    symmetry: tuple[tuple[int, str], ...] = ()
    match: Match = "all"
    names: tuple[tuple[str, str], ...] = ()
    palette: str = "quiet-earth"
    palette_data: str = ""
    on_hand_data: str = ""
    rules: Rules = field(default_factory=Rules)
    paint: PaintSettings = field(default_factory=PaintSettings)
    sheets: SheetSettings = field(default_factory=SheetSettings)
    scan: ScanSettings = field(default_factory=ScanSettings)
    view: View = "normal"
    png_width: int = 1600
    made: Made = field(default_factory=Made)
    used: tuple[UsedPaint, ...] = ()
    font_data: bytes = field(default=b"", repr=False)

    def __repr__(self) -> str:
        return changed_repr(self)


@dataclass(frozen=True, slots=True)
class Quantity:
    """Say how much of one swatch is needed.

    Parameters
    ----------
    swatch : int
        Place in the palette.
    faces : int
        Regions that bear it.
    area_drawn, area_real : float
        Area on the drawing and on the panel, mm².
    edge : float
        Length of edge to cut in on the panel, mm.
    coats : int
        Coats.
    coverage : float or None
        m² a litre covers in one coat.
    volume : float or None
        Need with spare, mL; None for leaf and bare surface.
    containers : tuple of (float, int)
        Container size in mL and how many to buy.
    leaves, books : int or None
        For leaf.
    factors : tuple of (str, str, str)
        Each factor: what, value with unit, where it comes from.
    bare : bool
        Counted, not bought.
    """

    swatch: int
    faces: int
    area_drawn: float
    area_real: float
    edge: float
    coats: int
    coverage: float | None
    volume: float | None
    containers: tuple[tuple[float, int], ...] = ()
    leaves: int | None = None
    books: int | None = None
    factors: tuple[tuple[str, str, str], ...] = ()
    bare: bool = False


@dataclass(frozen=True, slots=True)
class Buy:
    """Name one thing to buy, summed over all that it is used for.

    Parameters
    ----------
    name : str
        What it is.
    swatch : int
        Place in the palette; -1 for what is no swatch.
    need : float
        How much, in `unit`; 0 where it is only named.
    unit : str
        ``mL``, ``leaf``, ``mm``, ``mm2``, ``piece`` or empty.
    packages : tuple of (float, int)
        Size and count; of leaf the size is 1 in the unit of `sold`.
    sold : str
        ``mL``, ``m2``, ``book``, ``leaf`` or ``piece``.
    uses : tuple of (str, float)
        What it is used for and how much of it for that.
    cost : float or None
        Price of the packages; None where no price is known.
    mixed : bool
        Whether it is mixed with others from the paints on hand.
    taken : str
        The paint on hand that is taken for it as it is; empty for none.
    """

    name: str
    swatch: int
    need: float
    unit: str
    packages: tuple[tuple[float, int], ...] = ()
    sold: str = "mL"
    uses: tuple[tuple[str, float], ...] = ()
    cost: float | None = None
    mixed: bool = False
    taken: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """Name one step of the painting order.

    Parameters
    ----------
    order : int
        From 1.
    swatch : int or None
        Place in the palette; None for priming, varnish and the like.
    orbits : tuple of int
        Kinds painted in this step.
    text : str
        What to do.
    reason : str
        Why now.
    kind : str
        ``bare``, ``prime``, ``under``, ``white``, ``fill``, ``draw``, ``gild``,
        ``line`` or ``varnish``.
    needs : tuple of str
        Tools and materials besides the paint.
    days : tuple of (int, int)
        First and last day, from 1; zeros where not reckoned.
    wait : str
        What it waits for; empty for nothing.
    hours : float
        Work of one pair of hands.
    tape : float
        Tape to lay, mm.
    round : int
        Round of taping, from 1; 0 for none.
    care : str
        What to beware of in this step, in sentences; empty for nothing of its own.
    """

    order: int
    swatch: int | None
    orbits: tuple[int, ...]
    text: str
    reason: str
    kind: str = ""
    needs: tuple[str, ...] = ()
    days: tuple[int, int] = (0, 0)
    wait: str = ""
    hours: float = 0.0
    tape: float = 0.0
    round: int = 0
    care: str = ""

    @property
    def day_words(self) -> str:
        """Return the days in words.

        Returns
        -------
        str
            Such as ``day 2`` or ``days 2-3``; empty where not reckoned.
        """
        first, last = self.days
        if not first:
            return ""
        return f"day {first}" if first == last else f"days {first}-{last}"


@dataclass(frozen=True, slots=True)
class Schedule:
    """Hold what to buy and in what order to paint.

    Parameters
    ----------
    quantities : tuple of Quantity
        One a swatch used, in the order of the palette.
    extras : tuple of Quantity
        Outline, primer, varnish (swatch -1 where it is no swatch).
    extra_names : tuple of str
        What each of `extras` is.
    steps : tuple of Step
        The painting order.
    mixes : tuple of (int, str, float, str)
        Swatch, recipe, expected CIEDE2000, remark.
    cautions : tuple of str
        Full sentences.
    scale_known : bool
        Whether real areas are real.
    notes : tuple of Note
        Doubts.
    bought : tuple of (str, float)
        Paints on hand that the mixes use, and how much of each, mL.
    real_scale : float
        Real length / drawn length.
    across : float
        Width of the figure, real mm.
    swatches : tuple of Swatch
        The palette's paints as they are used: medium, opacity and pigments of
        a mix come from its parts. Empty: as the palette has them.
    buys : tuple of Buy
        What to buy, one a tin.
    currency : str
        The word for prices.
    clashes : tuple of Clash
        What does not hold on each other.
    refused : tuple of (int, str, float)
        Swatches that no mix comes near: swatch, nearest recipe, its CIEDE2000.
    materials : tuple of Buy
        Tools and materials besides paint and leaf, with the steps that need them.
    leafing : tuple of LeafPlan
        How leaf is laid and cut.
    patch : str
        What alone is repaired, in words; empty for all.
    mended : Patch or None
        The same as shares of regions, for its sheet.
    used : tuple of UsedPaint
        What was really used when it was painted.
    strands : tuple of str
        Lengths of bands to paint, a line for each sort.
    """

    quantities: tuple[Quantity, ...]
    extras: tuple[Quantity, ...]
    extra_names: tuple[str, ...]
    steps: tuple[Step, ...]
    mixes: tuple[tuple[int, str, float, str], ...]
    cautions: tuple[str, ...]
    scale_known: bool
    notes: tuple[Note, ...] = ()
    bought: tuple[tuple[str, float], ...] = ()
    real_scale: float = 1.0
    across: float = 0.0
    swatches: tuple[Swatch, ...] = ()
    buys: tuple[Buy, ...] = ()
    currency: str = ""
    clashes: tuple[Clash, ...] = ()
    refused: tuple[tuple[int, str, float], ...] = ()
    materials: tuple[Buy, ...] = ()
    leafing: tuple[LeafPlan, ...] = ()
    patch: str = ""
    mended: Patch | None = None
    used: tuple[UsedPaint, ...] = ()
    strands: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return told_repr(self, paints=len(self.quantities), steps=len(self.steps))

    @property
    def under(self) -> frozenset[int]:
        """Return the swatches that go under the whole piece, so that none is masked.

        Returns
        -------
        frozenset of int
            Places in the palette.
        """
        return frozenset(
            s.swatch for s in self.steps if s.kind == "under" and s.swatch is not None
        )

    @property
    def cost(self) -> float | None:
        """Return what all packages with a price cost together, tools too.

        Returns
        -------
        float or None
            None where nothing has a price.
        """
        costs = [b.cost for b in (*self.buys, *self.materials) if b.cost is not None]
        return sum(costs) if costs else None

    @property
    def scale_words(self) -> str:
        """Return the drawing's scale in words; empty at true size or unknown.

        Returns
        -------
        str
            Such as ``the drawing is at 1 : 5; the figure is 3.000 m across``.
        """
        if not self.scale_known or abs(self.real_scale - 1) < 1e-9:
            return ""
        ratio = f"1 : {self.real_scale:.4g}"
        if self.real_scale < 1:
            ratio = f"{1 / self.real_scale:.4g} : 1"
        return f"the drawing is at {ratio}; {figure_words(self.across)}"
