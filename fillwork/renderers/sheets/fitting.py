"""Choose the paper, the scale and the place of the key for a set of sheets.

A drawing stands at true size where that fits one page. Where a little less does,
turned or not, it is reduced by up to a tenth rather than torn in two; beyond that
it goes over several pages that are joined. All sheets of a set have one scale, so
that they can be laid over each other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fillwork.errors import PlanError
from fillwork.notes import Note
from fillwork.renderers.layout import Page, format_length
from fillwork.renderers.sheets.key import COLUMN, FOOT_ROW, foot_columns, key_capacity
from fillwork.renderers.sheets.tiles import MOST_TILES, count_tiles

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.renderers.scene import Box
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.text.typeset import FontSet


_KEY_GAP = 6.0
"""Room between the drawing and a key beside it, mm."""

TOLD = 14.0
"""Height of the band that holds an instruction, mm."""

_LEAST_REDUCED = 0.9
"""How far a drawing is reduced before it goes over several pages."""

SMALL = 20.0
"""A drawing whose longer side is less is noted, mm on paper."""

_BAND_GAP = 4.0


@dataclass(frozen=True, slots=True)
class Layout:
    """Hold where a drawing and its key stand."""

    scale: float  # paper mm for one mm of the drawing
    page: Page | None  # the page; None when the drawing goes over several
    room: Box = (0.0, 0.0, 0.0, 0.0)  # room for the drawing, mm
    key: Box | None = None  # room for the key, mm
    # whether the key is a column beside the drawing, not a band at its foot
    beside: bool = False
    band: float = 0.0  # height that a band takes from the drawing, mm
    notes: tuple[Note, ...] = ()  # what was decided


@dataclass(frozen=True, slots=True)
class _Place:
    fit: float
    short: int
    turned: int
    layout: Layout


def _key_band(
    page: Page, entries: Sequence[KeyEntry], told: bool, fonts: FontSet
) -> float:
    """Return the height of the band below a drawing, its gap included.

    Height, mm; a third of the body at most; 0 for none. `page`: the paper. `entries`:
    what the key of any sheet of the set holds. `told`: whether a sheet of the set bears
    an instruction.
    """
    left, bottom, right, top = page.body
    rows = 0
    if entries:
        columns, _ = foot_columns(entries, right - left, fonts)
        rows = min(-(-len(entries) // columns), int((top - bottom) / 3 // FOOT_ROW))
    high = max(rows * FOOT_ROW, TOLD if told else 0.0)
    return high + _BAND_GAP if high else 0.0


def choose_layout(
    papers: Sequence[tuple[float, float]],
    size: tuple[float, float],
    true: float,
    entries: Sequence[KeyEntry],
    *,
    told: bool,
    fit: str,
    known: bool,
    overlap: float,
    most: int,
    paper: str,
    fonts: FontSet,
) -> Layout:
    """Return scale, page, room for the drawing and for the key.

    The largest drawing where it is fitted; else true size. `papers`: page sizes, those
    preferred first. `size`: width and height of the drawing, its own mm. `true`: real
    mm for one mm of the drawing. `entries`: what the key of any sheet of the set holds.
    `told`: whether a sheet of the set bears an instruction. `fit`: ``auto``, ``page``
    or ``true``. `known`: whether the real size is known. `overlap`: overlap of pages
    that are joined, mm. `most`: most pages that nobody is asked about. `paper`: name of
    the paper, for notes. Raises `PlanError` if there is no room for drawing and key.
    """
    width, height = size
    stated = list(papers)
    turned = [(b, a) for a, b in stated if (b, a) not in stated]
    places = _places(stated, size, entries, told, fonts)
    if not places:
        what = f"paper “{paper}” leaves no room for drawing and key"
        raise PlanError(what, mend="take larger paper")
    if fit == "page":
        best = _largest(places)
        return replace(best.layout, scale=best.fit)
    tried = places
    if fit == "auto":
        tried = places + _places(turned, size, entries, told, fonts, first=len(stated))
    whole = [p for p in tried if p.fit >= true * (1 - 1e-9)]
    if whole:
        best = max(whole, key=lambda p: (p.turned < len(stated), -p.short, p.fit))
        notes = _small_note(max(width, height) * true)
        return replace(best.layout, scale=true, notes=notes)
    large = (width * true, height * true)
    band = _key_band(Page(*stated[0]), entries, told, fonts)
    alone = count_tiles(stated, *large, overlap, 0.0) == 1
    if fit == "true" or (alone and known):
        return Layout(true, None, band=0.0 if alone else band)
    best = _largest(tried)
    fitted = replace(best.layout, scale=best.fit)
    if best.fit >= _LEAST_REDUCED * true:
        return replace(fitted, notes=(_reduced_note(best.fit / true, paper),))
    if alone:
        return Layout(true, None)
    pages = count_tiles(stated, *large, overlap, band)
    if pages > (MOST_TILES if known else most):
        return replace(fitted, notes=(_fitted_note(pages, paper, known),))
    return Layout(true, None, band=band)


def _largest(places: Sequence[_Place]) -> _Place:
    return max(places, key=lambda p: (round(p.fit, 9), -p.short, -p.turned))


def _places(
    papers: Sequence[tuple[float, float]],
    size: tuple[float, float],
    entries: Sequence[KeyEntry],
    told: bool,
    fonts: FontSet,
    first: int = 0,
) -> list[_Place]:
    """Return the ways to stand on each paper, with how large the drawing would be."""
    found = []
    for turned, paper in enumerate(papers, start=first):
        page = Page(*paper)
        left, bottom, right, top = page.body
        band = _key_band(page, entries, told, fonts)
        key: Box | None = (left, bottom, right, bottom + band - _BAND_GAP)
        short = 0
        if entries:
            columns, _ = foot_columns(entries, right - left, fonts)
            rows = int((band - _BAND_GAP + 1e-6) // FOOT_ROW)
            short = max(0, len(entries) - columns * rows)
        room: Box = (left, bottom + band, right, top)
        ways = [Layout(0.0, page, room, key if band else None, band=band)]
        if band:
            key = (right - COLUMN, bottom, right, top)
            room = (left, bottom, key[0] - _KEY_GAP, top)
            ways.append(Layout(0.0, page, room, key, beside=True))
        for way in ways:
            wide, high = way.room[2] - way.room[0], way.room[3] - way.room[1]
            if wide < 20 or high < 20:
                continue
            if way.beside and way.key is not None:
                short = max(0, len(entries) - key_capacity(way.key)[1])
            fit = min(wide / size[0], high / size[1])
            found.append(_Place(fit, short, turned, way))
    return found


def _reduced_note(share: float, paper: str) -> Note:
    return Note(
        "renderers",
        "reduced",
        f"sheets are reduced to {100 * share:.0f} % so that the drawing stays whole on "
        f"one page of {paper}",
        remedy="say --fit true for true size, on pages that are joined",
    )


def _fitted_note(pages: int, paper: str, known: bool) -> Note:
    at = "real size" if known else "drawing size"
    remedy = "take larger paper for true size, or say --fit page"
    if not known:
        remedy = "give --real-width for true size, or say --fit true"
    return Note(
        "renderers",
        "fitted",
        f"at {at} a sheet would need {pages:,} pages of {paper}: sheets are fitted to "
        "one page",
        remedy=remedy,
    )


def _small_note(longest: float) -> tuple[Note, ...]:
    """Note a drawing that is next to nothing on its paper."""
    if longest >= SMALL:
        return ()
    note = Note(
        "renderers",
        "small on paper",
        f"at true size the drawing is {format_length(longest)} long",
        remedy="say --fit page to have it as large as the paper",
    )
    return (note,)
