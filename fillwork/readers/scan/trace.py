"""The order in which the parts of tracing run."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError, ReadError
from fillwork.linework import LONE_END
from fillwork.readers.scan import check
from fillwork.readers.scan.fit import hand_accuracy
from fillwork.readers.scan.flatten import flatten_sheet
from fillwork.readers.scan.freehand import smooth_runs
from fillwork.readers.scan.gaps import add_line, close_ends
from fillwork.readers.scan.holes import without_holes
from fillwork.readers.scan.inks import (
    as_one,
    closed_beside,
    lighter_lines,
    part_inks,
    with_lighter,
)
from fillwork.readers.scan.light import is_light_ink, measure_darkness
from fillwork.readers.scan.marks import find_marks
from fillwork.readers.scan.picture import open_picture
from fillwork.readers.scan.pixels import widened, without_rim
from fillwork.readers.scan.settle import settle
from fillwork.readers.scan.strands import build_strands, open_stems

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats
    from fillwork.readers.scan.gaps import Closing
    from fillwork.readers.scan.inks import Inks
    from fillwork.readers.scan.marks import Mark
    from fillwork.readers.scan.model import Choices, Page
    from fillwork.readers.scan.settle import Drawing

    _Place = tuple[float, float]  # px
    # inked pixels, their lines, how far a hand strays, lettering and hatching
    _Followed = tuple[Bools, Drawing, float, list[Mark]]

# mm: the longest gap that is closed; one that leaves no doubt about the sheet; one
# that leaves none where a long line is carried straight on.
_REACH = 3.5
_PLAIN_GAP = 1.2
_STRAIGHT_GAP = 2.2
_LEAST_PEN = 2.2
# mm: a sheet that bends less is laid flat by its sides well enough to be sure.
_FLAT = 3.0
# mm: sides of a flat sheet may seem to bend by so much, as edges are torn or blurred.
_BLURRED = 1.0
# mm: so near the edge of a sheet that was found in a photograph the table shows.
_RIM = 1.0
_MOST_LINES = 20_000
# Of the lines: ink on the paper's other side, lighter or darker, that may be lines too.
_BOTH = 0.2
# Of 255: paper that looks no lighter was in too little light.
_DIM = 50.0
_MARK_REMEDY = "compare with the sheet; what is missing is drawn on it in ink, alone"
# mm: a place named so near a doubt means it.
_SAME_PLACE = 2.0


@dataclass(frozen=True, slots=True)
class Doubt:
    """Name one place that a person should look at."""

    at: tuple[float, float]  # px of the page, y down
    what: str  # what is in doubt
    size: float  # mm
    remedy: str  # what to do
    weighs: bool  # whether regions may be wrong for it


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """Hold a traced sheet."""

    frames: int  # pictures in the file; the first one was traced
    page: Page  # the flat sheet
    drawing: Drawing  # final lines, px of the page
    bridges: int  # how many pieces, the last ones, close gaps
    pencil: Drawing | None  # pencil and guide lines, where they are kept
    doubts: tuple[Doubt, ...]  # places to look at
    # places that somebody named and where there is nothing to say, mm, y up
    idle: tuple[tuple[float, float], ...] = ()
    other_pens: tuple[str, ...] = ()  # colours of the other inks, as ``#rrggbb``

    @property
    def sure(self) -> bool:
        """Return whether nothing speaks against any region.

        False as soon as one doubt weighs.
        """
        return not any(d.weighs for d in self.doubts)


def trace_picture(data: bytes, name: str, choices: Choices) -> Traced:
    """Trace the inked lines of a sheet.

    `data`: a picture file. Returns lines, and what is in doubt. Raises `ReadError` if
    the picture cannot be read, or its sheet is not in view. Raises `LineWorkError` if
    no lines are on it.
    """
    _need_library()
    picture = open_picture(data, name)
    page = flatten_sheet(picture, choices, name)
    rgb, hole = without_holes(page.rgb, page.scale)
    page, pen = replace(page, rgb=rgb), choices.pen
    light, beside = is_light_ink(rgb, page.scale, pen)
    if light:
        rgb = 255 - rgb
        pen = pen if pen == "auto" else f"#{0xFFFFFF - int(pen[1:], 16):06x}"
    dark = measure_darkness(rgb, page.scale)
    inks = part_inks(dark, page.scale, pen)
    del dark
    by_itself = choices.pen == "auto" and not choices.guides
    inks, followed, second, lighter = _final_lines(inks, page, by_itself, name)
    mask, drawing, sigma, marks = followed
    idle = _take_ink(mask, drawing, sigma, choices, page)
    apart = check.drop_narrow_joins(drawing, inks.strength, inks.level)
    rims = check.rims_that_meet(drawing)
    before = len(drawing.pieces)
    closings = close_ends(drawing, _REACH * page.scale)
    bridges = len(drawing.pieces) - before
    before = smooth_runs(drawing, before, sigma)
    doubts = [_gap(c, page.scale) for c in closings]
    doubts.extend(
        Doubt(m.at, m.what, m.size / page.scale, _MARK_REMEDY, m.weighs) for m in marks
    )
    doubts.extend(_ink_doubts(inks, page, second))
    if beside > _BOTH:
        doubts.append(_both_sides(light, page))
    if by_itself and second is None and choices.pencil != "keep":
        doubts.extend(_second(inks, drawing))
    if lighter is not None and (lighter[1] or choices.pencil != "keep"):
        doubts.append(_lighter(*lighter))
    doubts.extend(_sheet_doubts(page))
    if hole is not None:
        what = "a row of holes along the sheet's side, taken for no lines"
        doubts.append(Doubt(hole, what, 0.0, _MARK_REMEDY, False))
    fitted = check.drawn(drawing, (mask.shape[0], mask.shape[1]))
    doubts.extend(_region_doubts(mask, fitted, drawing, before, page.scale))
    what = "lines that meet only by the rims of their ink"
    remedy = "compare with the sheet whether they are to meet"
    doubts.extend(Doubt(at, what, far / page.scale, remedy, True) for at, far in rims)
    what = "an end past its line that stops before the next, taken off"
    doubts.extend(
        Doubt(at, what, far / page.scale, _MARK_REMEDY, True)
        for at, far in check.short_of_lines(drawing)
    )
    what = "a tip that all but touches a line was left apart"
    remedy = "compare with the sheet; where they meet, draw the tip on"
    doubts.extend(Doubt(at, what, far / page.scale, remedy, True) for at, far in apart)
    doubts.extend(_line_doubts(mask, fitted, drawing, before, sigma, page.scale))
    doubts.extend(_fork_doubts(mask, drawing, page.scale))
    looked = [_pixel(at, page) for at in choices.settled]
    pencil = None
    if choices.pencil == "keep" and inks.other is not None:
        pencil = _other_lines(inks, page, name)
    return Traced(
        frames=picture.frames,
        page=page,
        drawing=drawing,
        bridges=bridges,
        pencil=pencil,
        doubts=_told_once(doubts, looked, page.scale),
        idle=(*idle, *(at for at in choices.settled if not page.shows(at))),
        other_pens=tuple(_colour(dark, light) for dark in inks.others),
    )


def _need_library() -> None:
    try:
        import skimage  # noqa: F401
    except ImportError as error:
        what = "pictures need the library scikit-image, which is not installed"
        mend = "in fillwork's folder say: pip install '.[scan]'"
        raise ReadError(what, mend=mend) from error


def _final_lines(
    inks: Inks, page: Page, by_itself: bool, name: str
) -> tuple[Inks, _Followed, _Place | None, tuple[_Place, bool] | None]:
    """Return the inks and what the final ones draw, with others taken for final.

    `by_itself`: whether the final inks are to be told, neither named nor the pen's
    alone. Then: a second ink on which lines end, and where first; else
    lines that are lighter than the pen's, where, and whether they were taken with them.
    """
    followed = _lines(inks, inks.pen, page, name)
    if not by_itself:
        return inks, followed, None, None
    second = None
    if inks.colours is not None:
        second = check.ends_on(followed[1], inks.other)
    if second is not None:
        inks = as_one(inks)
        return inks, _lines(inks, inks.pen, page, name), second, None
    lighter = lighter_lines(inks, followed[1].width, page.scale)
    if lighter is not None and not lighter[1]:
        lighter = lighter[0], check.ends_on(followed[1], inks.other) is not None
    if lighter is not None and lighter[1]:
        inks = with_lighter(inks)
        followed = _lines(inks, inks.pen, page, name)
    return inks, followed, None, lighter


def _lines(inks: Inks, pen: Bools, page: Page, name: str) -> _Followed:
    from fillwork.readers.scan.skeleton import build_network, clean_mask

    share = float(pen.mean())
    if share > 0.5:
        what = f"{100 * share:.0f} % of the sheet is dark: this is no line drawing"
        mend = "take the picture in even light, the sheet alone in view"
        raise LineWorkError(what, name, mend)
    if page.corners:
        pen = without_rim(pen, max(1, round(_RIM * page.scale)))
    mask = clean_mask(pen, page.scale) if pen.any() else pen
    if not mask.any():
        what = "no inked lines are on the sheet"
        mend = "name the ink with --pen #rrggbb, or scan at 300 dpi"
        if float(np.percentile(page.rgb[::8, ::8], 90)) < _DIM:
            what = "the picture is too dark to tell lines from paper"
            mend = "take it in more light, or scan the sheet"
        raise LineWorkError(what, name, mend)
    network = build_network(mask, inks.strength)
    if network.width < _LEAST_PEN:
        what = f"the pen's lines are {network.width:.1f} px wide, too thin to follow"
        mend = "scan at 300 dpi, or take the picture from nearer"
        raise LineWorkError(what, name, mend)
    if len(network.chains) > _MOST_LINES:
        what = f"{len(network.chains):,} pieces of line: this is no line drawing"
        mend = "take a picture of one inked sheet"
        raise LineWorkError(what, name, mend)
    if not network.chains:
        what = "no inked lines are on the sheet"
        raise LineWorkError(what, name, "name the ink with --pen #rrggbb")
    open_stems(network)
    strands = build_strands(network)
    marks = find_marks(mask, network, strands, page.scale)
    left = [m.left for m in marks if m.left is not None]
    if left:
        cleaned = clean_mask(mask & ~np.logical_or.reduce(left), page.scale)
        if cleaned.any():
            mask = cleaned
            network = build_network(mask, inks.strength)
            open_stems(network)
            strands = build_strands(network)
    sigma = hand_accuracy(strands, network.width)
    return mask, settle(network, strands, sigma, mask), sigma, marks


def _other_lines(inks: Inks, page: Page, name: str) -> Drawing | None:
    if inks.other is None or not inks.other.any():
        return None
    try:
        return _lines(inks, inks.other, page, name)[1]
    except LineWorkError:
        return None


def _gap(closing: Closing, scale: float) -> Doubt:
    at = (float(closing.at[0]), float(closing.at[1]))
    size = closing.size / scale
    if size == 0.0:
        return Doubt(at, LONE_END, 0.0, "drop it, or draw it on", True)
    remedy = "leave it, or drop the bridge with --leave layer=doubtful"
    most = _STRAIGHT_GAP if closing.straight else _PLAIN_GAP
    return Doubt(at, "a gap that was closed", size, remedy, size > most)


def _ink_doubts(
    inks: Inks, page: Page, second: tuple[float, float] | None
) -> list[Doubt]:
    what = "paint as dark as the pen, on which lines cannot be seen"
    remedy = "draw the lines on it, or take a picture before it is painted"
    found = [Doubt(p, what, s / page.scale, remedy, True) for p, s in inks.hidden]
    if second is not None:
        what = "lines of another ink, on which the pen's end, were taken with them"
        remedy = "name one ink with --pen #rrggbb where the other is construction"
        return [*found, Doubt(second, what, 0.0, remedy, False)]
    if not inks.doubtful:
        return found
    at = (page.rgb.shape[1] / 2, page.rgb.shape[0] / 2)
    what = "ink and pencil are hard to tell apart"
    remedy = "name the ink with --pen #rrggbb"
    return [*found, Doubt(at, what, 0.0, remedy, True)]


def _second(inks: Inks, drawing: Drawing) -> list[Doubt]:
    at = closed_beside(inks, drawing.width)
    if at is None:
        return []
    what = "closed figures of another ink, as dark as the pen's, were left out"
    remedy = "take them with --pencil keep, or name the pen with --pen #rrggbb"
    return [Doubt(at, what, 0.0, remedy, True)]


def _both_sides(light: bool, page: Page) -> Doubt:
    at = (page.rgb.shape[1] / 2, page.rgb.shape[0] / 2)
    ways = ("lighter", "darker") if light else ("darker", "lighter")
    what = f"lines {ways[0]} than the paper were read, what is {ways[1]} was left out"
    remedy = "name the other ink with --pen #rrggbb to read that instead"
    return Doubt(at, what, 0.0, remedy, True)


def _colour(dark: Floats, light: bool) -> str:
    rgb = np.rint(255 * (dark if light else 1 - dark)).astype(int)
    return "#" + "".join(f"{channel:02x}" for channel in rgb)


def _lighter(at: tuple[float, float], taken: bool) -> Doubt:
    what = "lines lighter than the rest but as broad as the pen's were taken "
    if taken:
        what += "with them"
        remedy = "name the ink with --pen #rrggbb where they are pencil"
    else:
        what += "for pencil"
        remedy = "take them with --pencil keep where they are ink"
    return Doubt(at, what, 0.0, remedy, not taken)


def _sheet_doubts(page: Page) -> list[Doubt]:
    at = (page.rgb.shape[1] / 2, page.rgb.shape[0] / 2)
    found = []
    if page.bow > _BLURRED:
        what = "the sheet does not lie flat; its sides bend and were straightened"
        remedy = "press it flat, or scan it"
        found.append(Doubt(at, what, page.bow, remedy, page.bow > _FLAT))
    if page.torn:
        what = "one side of the sheet is torn or covered; what shows was taken for it"
        remedy = "take away what lies over it, or name its corners with --sheet-corners"
        found.append(Doubt(at, what, 0.0, remedy, not page.borne_out))
    if page.faint:
        what = "the sheet is hardly told from its ground; what steps there was taken"
        remedy = "lay it on a darker ground, or name its corners with --sheet-corners"
        found.append(Doubt(at, what, 0.0, remedy, not page.borne_out))
    if page.edgeless:
        what = "the sheet's edges were not found; the whole picture was taken for it"
        remedy = "lay it on a darker ground, or name its corners with --sheet-corners"
        found.append(Doubt(at, what, 0.0, remedy, True))
    return found


def _region_doubts(
    mask: Bools, fitted: Bools, drawing: Drawing, before: int, scale: float
) -> list[Doubt]:
    from fillwork.readers.scan.trails import trail

    shape = (mask.shape[0], mask.shape[1])
    lines = [trail(drawing, p, 3.0) for p in drawing.pieces]
    # a line that skips less than its width goes on
    seen = check.draw_lines(lines[:before], shape, 1.0)
    seen &= widened(mask, round(0.5 * drawing.width))
    seen |= mask | check.draw_lines(lines[before:], shape, 0.8 * drawing.width)
    what = "a region that lines and pixels disagree about"
    remedy = "compare the lines with the sheet there"
    return [
        Doubt(at, what, area**0.5, remedy, True)
        for at, area in check.unlike_regions(seen, fitted, scale, drawing.width)
    ]


def _fork_doubts(mask: Bools, drawing: Drawing, scale: float) -> list[Doubt]:
    what = "a small region whose tip is hidden where two lines run together"
    remedy = "compare the lines with the sheet there"
    found = check.small_at_forks(mask, drawing.forks, drawing.width)
    least = check.LEAST_MM2 * scale**2
    return [
        Doubt(at, what, area**0.5 / scale, remedy, area > least) for at, area in found
    ]


def _pixel(at: tuple[float, float], page: Page) -> tuple[float, float]:
    """Return a place of the sheet, mm, y up, in px of the page."""
    return at[0] * page.scale - 0.5, (page.size[1] - at[1]) * page.scale - 0.5


def _near(
    at: tuple[float, float], places: list[tuple[float, float]], scale: float
) -> bool:
    return any(abs(at[0] - x) + abs(at[1] - y) < _SAME_PLACE * scale for x, y in places)


def _told_once(
    doubts: list[Doubt], looked: list[tuple[float, float]], scale: float
) -> tuple[Doubt, ...]:
    """Return the doubts that nobody looked at, one of a sort at a place."""
    told: list[Doubt] = []
    for doubt in doubts:
        same = [d.at for d in told if d.what == doubt.what]
        if not _near(doubt.at, looked + same, scale):
            told.append(doubt)
    return tuple(told)


def _take_ink(
    mask: Bools, drawing: Drawing, sigma: float, choices: Choices, page: Page
) -> list[tuple[float, float]]:
    """Add a straight line along ink that was left, where it is straight or meant.

    Where two curves run into one before a third line, the fork takes the last bit
    of both; whether that mends the regions is checked with all others. Returned are
    the places that were meant and beside which no ink was left.
    """
    taken = {at: _pixel(at, page) for at in choices.inked}
    idle = dict(taken)
    width = drawing.width
    covered = check.drawn(drawing, (mask.shape[0], mask.shape[1]))
    for _, tips, broad in check.bare_ink(mask, covered, width, 3.0 * sigma):
        along = np.linspace(tips[0], tips[1], 100)
        named = [
            at for at, place in taken.items()
            if any(_near((x, y), [place], page.scale) for x, y in along.tolist())
        ]  # fmt: skip
        for at in named:
            idle.pop(at, None)
        long = float(np.hypot(*(tips[1] - tips[0])))
        if named or broad < min(width, 0.5 * long):
            add_line(drawing, tips[0], tips[1])
    return list(idle)


def _line_doubts(
    mask: Bools,
    fitted: Bools,
    drawing: Drawing,
    before: int,
    sigma: float,
    scale: float,
) -> list[Doubt]:
    """Return where lines and ink do not lie on each other."""
    from fillwork.readers.scan.trails import trail

    # three times the root mean square: what a hand does once in a few hundred
    slack = 3.0 * sigma
    lines = (trail(drawing, p, 1.0) for p in drawing.pieces[:before])
    bare = check.bare_lines(lines, mask, drawing.width, slack)
    left = [
        (at, float(np.hypot(*(tips[1] - tips[0]))))
        for at, tips, _ in check.bare_ink(mask, fitted, drawing.width, slack)
    ]
    remedy = "compare the lines with the sheet there"
    return [
        Doubt(at, what, long / scale, remedy, True)
        for found, what in (
            (bare, "a line where there is no ink"),
            (left, "ink that no line follows"),
        )
        for at, long in found
    ]
