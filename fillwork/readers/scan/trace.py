"""The order in which the parts of tracing run."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError, ReadError
from fillwork.linework import LONE_END
from fillwork.readers.scan import check
from fillwork.readers.scan.circles import far
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
from fillwork.readers.scan.pixels import place, widened, without_rim
from fillwork.readers.scan.settle import settle
from fillwork.readers.scan.skeleton import build_network, clean_mask
from fillwork.readers.scan.strands import build_strands, open_stems
from fillwork.readers.scan.trails import trail

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.arrays import Bools, Floats
    from fillwork.readers.scan.gaps import Closing
    from fillwork.readers.scan.inks import Inks
    from fillwork.readers.scan.marks import Mark
    from fillwork.readers.scan.model import Choices, Drawing, Network, Page, Strand
    from fillwork.readers.scan.pixels import Place

    _Sized = tuple[Place, float]  # px
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
_COMPARE = "compare the lines with the sheet there"
_MARK_REMEDY = "compare with the sheet; what is missing is drawn on it in ink, alone"
# mm: a place named so near a doubt means it.
_SAME_PLACE = 2.0


@dataclass(frozen=True, slots=True)
class Doubt:
    """Name one place that a person should look at."""

    at: Place  # px of the page, y down
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
    idle: tuple[Place, ...] = ()
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
    scale = page.scale
    idle = _take_ink(mask, drawing, sigma, choices, page)
    apart = check.drop_narrow_joins(drawing, inks.strength, inks.level)
    rims = check.rims_that_meet(drawing)
    before = len(drawing.pieces)
    closings = close_ends(drawing, _REACH * scale)
    bridges = len(drawing.pieces) - before
    before = smooth_runs(drawing, before, sigma)
    kept = choices.pencil == "keep"
    doubts = [_gap(c, scale) for c in closings]
    doubts += [
        Doubt(m.at, m.what, m.size / scale, _MARK_REMEDY, m.weighs) for m in marks
    ]
    doubts += _ink_doubts(inks, page, second)
    if beside > _BOTH:
        doubts.append(_both_sides(light, page))
    if by_itself and second is None and not kept:
        doubts += _second(inks, drawing)
    if lighter is not None and (lighter[1] or not kept):
        doubts.append(_lighter(*lighter))
    doubts += _sheet_doubts(page)
    if hole is not None:
        what = "a row of holes along the sheet's side, taken for no lines"
        doubts.append(Doubt(hole, what, 0.0, _MARK_REMEDY, False))
    fitted = check.drawn(drawing, mask.shape)
    doubts += _region_doubts(mask, fitted, drawing, before, scale)
    doubts += _end_doubts(rims, check.short_of_lines(drawing), apart, scale)
    doubts += _line_doubts(mask, fitted, drawing, before, sigma, scale)
    doubts += _fork_doubts(mask, drawing, scale)
    looked = [page.to_px(at) for at in choices.settled]
    pencil = _other_lines(inks, page, name) if kept else None
    return Traced(
        frames=picture.frames,
        page=page,
        drawing=drawing,
        bridges=bridges,
        pencil=pencil,
        doubts=_told_once(doubts, looked, scale),
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
) -> tuple[Inks, _Followed, Place | None, tuple[Place, bool] | None]:
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
    if lighter is None:
        return inks, followed, None, None
    at, taken = lighter
    if taken or check.ends_on(followed[1], inks.other) is not None:
        inks = with_lighter(inks)
        return inks, _lines(inks, inks.pen, page, name), None, (at, True)
    return inks, followed, None, (at, False)


def _lines(inks: Inks, pen: Bools, page: Page, name: str) -> _Followed:
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
    nothing = "no inked lines are on the sheet", name, "name the ink with --pen #rrggbb"
    if not network.chains:
        raise LineWorkError(*nothing)
    strands = _strands(network)
    marks = find_marks(mask, network, strands, page.scale)
    left = [m.left for m in marks if m.left is not None]
    if left:
        rest = mask.copy()
        rest.flat[np.concatenate(left)] = False
        rest = clean_mask(rest, page.scale)
        others = build_network(rest, inks.strength) if rest.any() else None
        if others is not None and others.chains:
            mask, network, strands = rest, others, _strands(others)
        else:
            what = "all ink looks like lettering or hatching, and was kept"
            marks = [
                m if m.left is None else replace(m, what=what, left=None, weighs=True)
                for m in marks
            ]
    sigma = hand_accuracy(strands, network.width)
    drawing = settle(network, strands, sigma, mask)
    if not drawing.pieces:
        raise LineWorkError(*nothing)
    return mask, drawing, sigma, marks


def _strands(network: Network) -> list[Strand]:
    open_stems(network)
    return build_strands(network)


def _other_lines(inks: Inks, page: Page, name: str) -> Drawing | None:
    if inks.other is None or not inks.other.any():
        return None
    try:
        return _lines(inks, inks.other, page, name)[1]
    except LineWorkError:
        return None


def _at_each(
    found: Iterable[_Sized], what: str, remedy: str, scale: float = 1.0
) -> list[Doubt]:
    """Return a doubt that weighs at each place. `scale`: what their sizes have a mm."""
    return [Doubt(at, what, size / scale, remedy, True) for at, size in found]


def _gap(closing: Closing, scale: float) -> Doubt:
    at, size = place(closing.at), closing.size / scale
    if size == 0.0:
        return Doubt(at, LONE_END, 0.0, "drop it, or draw it on", True)
    remedy = "leave it, or drop the bridge with --leave layer=doubtful"
    most = _STRAIGHT_GAP if closing.straight else _PLAIN_GAP
    return Doubt(at, "a gap that was closed", size, remedy, size > most)


def _ink_doubts(inks: Inks, page: Page, second: Place | None) -> list[Doubt]:
    what = "paint as dark as the pen, on which lines cannot be seen"
    remedy = "draw the lines on it, or take a picture before it is painted"
    found = _at_each(inks.hidden, what, remedy, page.scale)
    if second is not None:
        what = "lines of another ink, on which the pen's end, were taken with them"
        remedy = "name one ink with --pen #rrggbb where the other is construction"
        return [*found, Doubt(second, what, 0.0, remedy, False)]
    if inks.doubtful:
        what = "ink and pencil are hard to tell apart"
        remedy = "name the ink with --pen #rrggbb"
        found.append(Doubt(page.middle, what, 0.0, remedy, True))
    return found


def _second(inks: Inks, drawing: Drawing) -> list[Doubt]:
    at = closed_beside(inks, drawing.width)
    if at is None:
        return []
    what = "closed figures of another ink, as dark as the pen's, were left out"
    remedy = "take them with --pencil keep, or name the pen with --pen #rrggbb"
    return [Doubt(at, what, 0.0, remedy, True)]


def _both_sides(light: bool, page: Page) -> Doubt:
    ways = ("lighter", "darker") if light else ("darker", "lighter")
    what = f"lines {ways[0]} than the paper were read, what is {ways[1]} was left out"
    remedy = "name the other ink with --pen #rrggbb to read that instead"
    return Doubt(page.middle, what, 0.0, remedy, True)


def _colour(dark: Floats, light: bool) -> str:
    rgb = np.rint(255 * (dark if light else 1 - dark)).astype(int)
    return "#" + "".join(f"{channel:02x}" for channel in rgb)


def _lighter(at: Place, taken: bool) -> Doubt:
    how, remedy = "for pencil", "take them with --pencil keep where they are ink"
    if taken:
        how = "with them"
        remedy = "name the ink with --pen #rrggbb where they are pencil"
    what = f"lines lighter than the rest but as broad as the pen's were taken {how}"
    return Doubt(at, what, 0.0, remedy, not taken)


def _sheet_doubts(page: Page) -> list[Doubt]:
    corners = ", or name its corners with --sheet-corners"
    ground = "lay it on a darker ground" + corners
    table = (
        (page.bow > _BLURRED, page.bow, page.bow > _FLAT,
         "the sheet does not lie flat; its sides bend and were straightened",
         "press it flat, or scan it"),
        (page.torn, 0.0, not page.borne_out,
         "one side of the sheet is torn or covered; what shows was taken for it",
         "take away what lies over it" + corners),
        (page.faint, 0.0, not page.borne_out,
         "the sheet is hardly told from its ground; what steps there was taken",
         ground),
        (page.edgeless, 0.0, True,
         "the sheet's edges were not found; the whole picture was taken for it",
         ground),
    )  # fmt: skip
    return [
        Doubt(page.middle, what, size, remedy, weighs)
        for holds, size, weighs, what, remedy in table
        if holds
    ]


def _region_doubts(
    mask: Bools, fitted: Bools, drawing: Drawing, before: int, scale: float
) -> list[Doubt]:
    lines = [trail(drawing, p, 3.0) for p in drawing.pieces]
    # a line that skips less than its width goes on
    seen = check.draw_lines(lines[:before], mask.shape, 1.0)
    seen &= widened(mask, round(0.5 * drawing.width))
    seen |= mask | check.draw_lines(lines[before:], mask.shape, 0.8 * drawing.width)
    unlike = check.unlike_regions(seen, fitted, scale, drawing.width)
    found = [(at, area**0.5) for at, area in unlike]
    return _at_each(found, "a region that lines and pixels disagree about", _COMPARE)


def _end_doubts(
    rims: list[_Sized], short: list[_Sized], apart: list[_Sized], scale: float
) -> list[Doubt]:
    """Return where it was left open whether an end meets a line."""
    met = "lines that meet only by the rims of their ink"
    whether = "compare with the sheet whether they are to meet"
    past = "an end past its line that stops before the next, taken off"
    beside = "a tip that all but touches a line was left apart"
    mend = "compare with the sheet; where they meet, draw the tip on"
    return [
        *_at_each(rims, met, whether, scale),
        *_at_each(short, past, _MARK_REMEDY, scale),
        *_at_each(apart, beside, mend, scale),
    ]


def _line_doubts(
    mask: Bools,
    fitted: Bools,
    drawing: Drawing,
    before: int,
    sigma: float,
    scale: float,
) -> list[Doubt]:
    """Return where lines and ink do not lie on each other."""
    # three times the root mean square: what a hand does once in a few hundred
    slack = 3.0 * sigma
    lines = (trail(drawing, p, 1.0) for p in drawing.pieces[:before])
    bare = check.bare_lines(lines, mask, drawing.width, slack)
    left = [
        (at, far(*tips))
        for at, tips, _ in check.bare_ink(mask, fitted, drawing.width, slack)
    ]
    return [
        *_at_each(bare, "a line where there is no ink", _COMPARE, scale),
        *_at_each(left, "ink that no line follows", _COMPARE, scale),
    ]


def _fork_doubts(mask: Bools, drawing: Drawing, scale: float) -> list[Doubt]:
    what = "a small region whose tip is hidden where two lines run together"
    least = check.LEAST_MM2 * scale**2
    return [
        Doubt(at, what, area**0.5 / scale, _COMPARE, area > least)
        for at, area in check.small_at_forks(mask, drawing.forks, drawing.width)
    ]


def _near(at: Place, places: list[Place], scale: float) -> bool:
    return any(abs(at[0] - x) + abs(at[1] - y) < _SAME_PLACE * scale for x, y in places)


def _told_once(
    doubts: list[Doubt], looked: list[Place], scale: float
) -> tuple[Doubt, ...]:
    """Return the doubts that nobody looked at, one of a sort at a place."""
    told: list[Doubt] = []
    places: dict[str, list[Place]] = {}
    for doubt in doubts:
        same = places.setdefault(doubt.what, list(looked))
        if not _near(doubt.at, same, scale):
            same.append(doubt.at)
            told.append(doubt)
    return tuple(told)


def _take_ink(
    mask: Bools, drawing: Drawing, sigma: float, choices: Choices, page: Page
) -> list[Place]:
    """Add a straight line along ink that was left, where it is straight or meant.

    Where two curves run into one before a third line, the fork takes the last bit
    of both; whether that mends the regions is checked with all others. Returned are
    the places that were meant and beside which no ink was left.
    """
    taken = {at: page.to_px(at) for at in choices.inked}
    idle = dict(taken)
    covered = check.drawn(drawing, mask.shape)
    for _, tips, broad in check.bare_ink(mask, covered, drawing.width, 3.0 * sigma):
        along = np.linspace(tips[0], tips[1], 100)
        named = [
            at for at, place in taken.items()
            if any(_near((x, y), [place], page.scale) for x, y in along.tolist())
        ]  # fmt: skip
        for at in named:
            idle.pop(at, None)
        if named or broad < min(drawing.width, 0.5 * far(*tips)):
            add_line(drawing, tips[0], tips[1])
    return list(idle)
