"""What the plans stage takes and returns.

A *plan* is the file of all choices: nothing in it is derived. *Quantities* say
how much of each paint is needed, *steps* in what order to paint.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, get_args

from fillwork.colouring.model import Rules
from fillwork.plans.settings import (
    FITS,
    SHEETS,
    BandSettings,
    LayingSettings,
    PaintSettings,
    ScanSettings,
    SheetSettings,
)
from fillwork.plans.words import figure_words
from fillwork.values import (
    Hidden,
    LineScope,
    Match,
    PageEdge,
    RealOf,
    View,
    changed_repr,
    choice,
    told_repr,
)

if TYPE_CHECKING:
    from fillwork.colouring.palettes.model import Swatch
    from fillwork.notes import Note
    from fillwork.plans.leafing import LeafPlan
    from fillwork.plans.media import Clash
    from fillwork.plans.patch import Patch

__all__ = [
    "FITS", "SHEETS", "BandSettings", "Buy", "LayingSettings", "Made", "PaintSettings",
    "Plan", "Quantity", "ScanSettings", "Schedule", "SheetSettings", "Step",
    "UsedPaint",
]  # fmt: skip


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
    hidden : str
        ``auto``, ``drop`` or ``keep``: lines under opaque shapes drawn over them.
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
        ``all``, ``turns``, ``shifts``, ``none``, ``family`` or ``figure``.
    alike : float
        How far outlines of like shapes may lie apart, in roots of their area.
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

    drawing: str = choice("", "text", "drawing.file")
    digest: str = choice("", "text", "drawing.sha256")
    real_width: float | None = choice(None, "length", "drawing.real_width_mm")
    real_of: RealOf = choice(
        "page", ("page", "drawing"), "drawing.real_width_of", option="--real-width"
    )
    scale: float | None = choice(None, "number", "drawing.scale")
    real: tuple[float, float, float, float, float] | None = choice(
        None, "measure", "drawing.real"
    )
    lines: tuple[str, ...] = choice((), "texts", "lines.use")
    leave: tuple[str, ...] = choice((), "texts", "lines.leave")
    scope: LineScope = choice("auto", get_args(LineScope), "lines.scope")
    hidden: Hidden = choice("auto", get_args(Hidden), "lines.hidden")
    layout: str = choice("", "text", "lines.layout")
    page_number: int | None = choice(None, "count", "lines.page_number")
    join_within: float | None = choice(None, "length", "lines.join_within_mm")
    close_gaps: float | None = choice(None, "length", "lines.close_gaps_mm")
    close: tuple[tuple[float, float], ...] = choice((), "points", "lines.close")
    drop: tuple[tuple[float, float], ...] = choice((), "points", "lines.drop")
    cut: tuple[tuple[float, float], ...] = choice((), "points", "lines.cut")
    page_edge: PageEdge = choice("auto", get_args(PageEdge), "lines.page_edge")
    laying: LayingSettings = field(default_factory=LayingSettings)
    bands: BandSettings = field(default_factory=BandSettings)
    symmetry: tuple[tuple[int, str], ...] = ()
    match: Match = choice("all", get_args(Match), "symmetry.match")
    alike: float = choice(0.03, "alike", "symmetry.alike")
    names: tuple[tuple[str, str], ...] = ()
    palette: str = "quiet-earth"
    palette_data: str = ""
    on_hand_data: str = ""
    rules: Rules = field(default_factory=Rules)
    paint: PaintSettings = field(default_factory=PaintSettings)
    sheets: SheetSettings = field(default_factory=SheetSettings)
    scan: ScanSettings = field(default_factory=ScanSettings)
    view: View = choice("normal", get_args(View), "picture.view")
    png_width: int = choice(1600, "width", "picture.png_width")
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
    coats: int = 1
    coverage: float | None = None
    volume: float | None = None
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
    support : str
        What the panel is made of; empty where nobody said.
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
    support: str = ""

    def __repr__(self) -> str:
        return told_repr(self, paints=len(self.quantities), steps=len(self.steps))

    @property
    def under(self) -> frozenset[int]:
        """Return the swatches that go under the whole piece, so that none is masked.

        Places in the palette.
        """
        return frozenset(
            s.swatch for s in self.steps if s.kind == "under" and s.swatch is not None
        )

    @property
    def area(self) -> float:
        """Return the area of all paints together, mm²: it chooses their unit.

        Real, where the scale is known.
        """
        return sum(q.area_real for q in self.quantities)

    @property
    def size_words(self) -> str:
        """Return whether sizes are real, and what the piece is made of.

        Full sentences.
        """
        said = f"; {self.scale_words}" if self.scale_words else ""
        told = f"Sizes are real{said}."
        if not self.scale_known:
            told = (
                "The real size is not known: all sizes are those of the drawing. "
                "State the true width with --real-width."
            )
        return f"{told} Painted on {self.support}." if self.support else told

    @property
    def cost(self) -> float | None:
        """Return what all packages with a price cost together, tools too.

        None where nothing has a price.
        """
        costs = [b.cost for b in (*self.buys, *self.materials) if b.cost is not None]
        return sum(costs) if costs else None

    @property
    def scale_words(self) -> str:
        """Return the drawing's scale in words; empty at true size or unknown.

        Such as ``the drawing is at 1 : 5; the figure is 3.000 m across``.
        """
        if not self.scale_known or abs(self.real_scale - 1) < 1e-9:
            return ""
        ratio = f"1 : {self.real_scale:.4g}"
        if self.real_scale < 1:
            ratio = f"{1 / self.real_scale:.4g} : 1"
        return f"the drawing is at {ratio}; {figure_words(self.across)}"
