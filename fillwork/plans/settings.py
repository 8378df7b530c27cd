"""Choices of single stages, each with the key under which the plan file holds it."""

from __future__ import annotations

from dataclasses import dataclass

from fillwork.errors import PlanError
from fillwork.values import changed_repr, choice

SHEETS = {
    "numbered": "Numbered sheet",
    "blank": "Blank sheet",
    "coloured": "Coloured answer, for the wall",
    "steps": "Steps, in painting order",
    "repeat": "Large repeat for beginners, and details",
    "masks": "Masks",
    "card": "Swatch card",
    "model": "Half-done model",
    "trials": "Small trials, to cut apart",
    "pounce": "True-size repeats, to prick and pounce",
    "line": "Painted line, both edges",
    "repair": "The patch to repair",
    "schedule": "Schedule",
}
"""Kinds of sheet, and what the overview of a class pack calls each."""

SUPPORTS = (
    "brick", "canvas", "card", "glass", "lime plaster", "gypsum plaster", "metal",
    "old paint", "paper", "stone", "timber",
)  # fmt: skip
"""What a panel may be made of."""

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
        What the panel is made of, one of `SUPPORTS`; empty
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

    coats: int | None = choice(None, "count")
    spare: float = choice(0.15, "number")
    containers: tuple[float, ...] = choice((), "numbers", "containers_ml")
    panel: tuple[float, float] | None = choice(None, "size", "panel_mm")
    leaf_size: float = choice(80.0, "length", "leaf_size_mm")
    leaf_lap: float = choice(3.0, "length", "leaf_lap_mm")
    leaf_waste: float = choice(0.12, "number")
    coats_of: tuple[tuple[str, int], ...] = choice((), "coats", option="--coats")
    under: str = choice("", "swatch")
    primer: str = choice("", "text")
    varnish: str = choice("", "text")
    support: str = choice("", SUPPORTS)
    tape: bool = choice(False, "truth")
    pace: tuple[float, float] | None = choice(None, "size")
    patch: str = choice("", "text")
    bands: str = choice("", ("", "first", "last"), option="--paint-bands")

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

    find: str = choice("auto", "text", option="--bands")
    width: float | None = choice(None, "length", "width_mm", option="--band")
    gap: float = choice(0.0, "length", "gap_mm", option="--band-gap")
    start: str = choice("over", ("over", "under"), option="--band-start")
    corners: str = choice("mitre", ("mitre", "round"), option="--band-corners")
    crossings: str = choice(
        "woven", ("woven", "crossed", "open"), option="--band-crossings"
    )
    nodes: str = choice("piled", ("piled", "plain", "ring"), option="--band-nodes")

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
    give : float or None
        How far the size may give so that repeats come out even, a share; none by
        default, but a border's repeat by as little as no eye sees.
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
    lines_outside, lines_inside : tuple of float
        How far plain lines lie outside the strip and inside it, mm of its drawing.
    medallion : str
        ``keep`` what stands in the middle of a drawn field there, or ``drop`` it.
    misfit : float or None
        Largest misfit that is closed at joins, mm; lines are drawn on half as far
        again to the cell's outline. From the drawing by default.
    """

    over: tuple[float, float] | None = choice(None, "size", "over_mm")
    outline: str = choice("", "text", option="--over")
    cell: tuple[str, ...] = choice((), "texts")
    by: str = choice("", "text")
    place: int | None = choice(None, "count")
    place_at: tuple[float, float] | None = choice(None, "point", option="--place")
    give: float | None = choice(None, "number", option="--scale-by")
    corner: str = choice("", "text", option="--corner-piece")
    corner_size: tuple[float, float] | None = choice(
        None, "size", "corner_mm", option="--corner-piece"
    )
    border: str = choice("", "text")
    border_cell: str = choice("", "text", option="--border")
    border_width: float | None = choice(
        None, "length", "border_width_mm", option="--border"
    )
    lines_outside: tuple[float, ...] = choice(
        (), "numbers", "lines_outside_mm", option="--border"
    )
    lines_inside: tuple[float, ...] = choice(
        (), "numbers", "lines_inside_mm", option="--border"
    )
    medallion: str = choice("keep", ("keep", "drop"))
    misfit: float | None = choice(None, "length", "misfit_mm")

    def __repr__(self) -> str:
        return changed_repr(self)

    @property
    def wanted(self) -> bool:
        """Return whether a cell is to be laid."""
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
    regular : bool
        Whether lines that are images of each other are averaged.
    """

    sheet_size: str = choice("auto", "text")
    corners: tuple[tuple[float, float], ...] = choice(
        (), "points", "corners_px", option="--sheet-corners"
    )
    pen: str = choice("auto", "text")
    pencil: str = choice("drop", ("drop", "keep"))
    dpi: float | None = choice(None, "number")
    settled: tuple[tuple[float, float], ...] = choice((), "points", "settled_mm")
    inked: tuple[tuple[float, float], ...] = choice((), "points", "inked_mm")
    regular: bool = choice(False, "truth")

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

    sheets: tuple[str, ...] = choice(("numbered",), "texts", option="--sheet")
    paper: str = choice("A4", "text")
    fit: str = choice("auto", "fit")
    least_number: float = choice(1.5, "length", "least_number_mm")
    mirror: bool = choice(False, "truth")
    hatch: bool = choice(False, "truth")
    teach: int = choice(0, "pupils")
    copies: int = choice(1, "copies")
    overlap: float = choice(10.0, "length", "overlap_mm")
    title: str | None = choice(None, "text")
    font: str = choice("", "file")
    font_digest: str = choice("", "text", "font_sha256", option="--font")
    most_pages: int = choice(60, "pages")
    mask_overlap: float = choice(0.0, "length", "mask_overlap_mm")
    bridge: float = choice(0.0, "length", "bridge_mm")

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

        Those of the class, or as many as copies.
        """
        return max(self.teach, self.copies) if self.teach else 0
