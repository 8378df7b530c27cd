"""What is painted besides regions: the line, and white under them.

The painted line: whether it is wanted, with what, how much, and what it covers.
White goes under what would let a dark ground through.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.notes import Note
from fillwork.plans.media import DEFAULT_COVERAGE, facts_of, liquid
from fillwork.plans.model import Quantity
from fillwork.plans.quantities import (
    COMMON,
    Coats,
    coats_of,
    quantity_of_liquid,
)
from fillwork.plans.words import length_words
from fillwork.units import fine_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools
    from fillwork.colouring.model import Colouring, Palette, Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.plans.mixing import HandPaint
    from fillwork.symmetry.model import Orbits

_DEEP = 8.0
"""Half-widths of the line; a region this deep keeps more than half in any case
that was thought of: a star of many points is the worst."""


def wished_line(colouring: Colouring) -> tuple[str, int | None] | None:
    """Return with what a painted line was asked for, by name or by width.

    As it was written, and its place in the palette if it is a swatch; None where no
    line is wanted: neither named nor wide, or ``none``, or a width of 0.
    """
    wish, width = (colouring.rules.outline or "").strip(), colouring.rules.outline_width
    if wish.casefold() == "none" or width == 0 or not (wish or width is not None):
        return None
    return wish, place_of(colouring.palette, wish)


def place_of(palette: Palette, name: str) -> int | None:
    """Return the place of a paint in its palette.

    None where there is none of that name. `name`: name or code; may be empty.
    """
    try:
        return palette.index(name) if name else None
    except KeyError:
        return None


def measure_line(amounts: Amounts) -> tuple[Quantity, str] | None:
    """Return the painted line as a quantity, and what it is painted with.

    A line that no swatch paints is of the main medium. None where no line is wanted.
    """
    if amounts.wished_line is None:
        return None
    wish, place = amounts.wished_line
    swatch = amounts.swatches[place] if place is not None else None
    name = swatch.name if swatch else wish or "a near-black line"
    stated = amounts.colouring.rules.outline_width is not None
    length, width = amounts.line_size
    area = length * width
    row = -1 if place is None else place
    base = Quantity(row, 0, area / amounts.real_scale**2, area, length)
    rows = [
        ("length", length_words(length), "drawing"),
        ("width", f"{fine_text(width)} mm", "plan" if stated else "default"),
    ]
    if swatch is not None and not liquid(swatch):
        return replace(base, factors=tuple(rows)), name
    medium, settings = amounts.medium, amounts.settings
    far = facts_of(medium).coverage or DEFAULT_COVERAGE
    told = (far, f"{COMMON} for {medium or 'paint'}")
    paint = swatch or medium
    return quantity_of_liquid(base, paint, settings, rows, coverage=told), name


def find_swallowed(arrangement: Arrangement, width: float) -> tuple[Bools, Bools]:
    """Return which regions a line along all edges covers.

    `width`: width of the line, mm of the drawing; half of it lies in each region.
    Returns `whole` and `most` (F,): regions covered wholly; regions covered by more
    than half, the whole ones among them.
    """
    import shapely

    half = width / 2
    whole = np.zeros(arrangement.face_count, dtype=bool)
    most = whole.copy()
    faces = np.flatnonzero(arrangement.inscribed < _DEEP * half)
    faces = faces[faces > 0]
    if half <= 0 or len(faces) == 0:
        return whole, most
    shapes = arrangement.polygons(faces)
    left = shapely.area(shapely.buffer(shapes, -half, join_style="mitre"))
    share = left / np.maximum(shapely.area(shapes), 1e-300)
    whole[faces] = share < 1e-6
    most[faces] = share < 0.5
    return whole, most


def swallowed_note(
    orbits: Orbits, whole: Bools, most: Bools, width: float
) -> Note | None:
    """Name and count the regions that the painted line covers.

    None where there are none. `whole` and `most` (F,): as of `find_swallowed`. `width`:
    true width of the line, mm.
    """
    if not most.any():
        return None
    named = []
    for orbit in orbits.orbits:
        count = int(most[orbit.faces].sum())
        if count:
            named.append(f"{count} of {orbit.letter} ({orbit.name})")
    shown = ", ".join(named[:6]) + (" and others" if len(named) > 6 else "")
    counts = (
        (int(whole.sum()), "wholly"),
        (int((most & ~whole).sum()), "by over half"),
    )
    covers = " and ".join(f"{n} region{'s' * (n != 1)} {how}" for n, how in counts if n)
    text = (
        f"a line {width:g} mm wide covers {covers}: {shown}; paint for them is not "
        "bought"
    )
    remedy = "take a finer line with --outline, or a larger scale"
    return Note("plans", "swallowed regions", text, remedy=remedy)


def white_name(white: int | str | HandPaint, swatches: Sequence[Swatch]) -> str:
    """Return what a white is called.

    `white`: a place in the palette, a name, or a paint on hand.
    """
    if isinstance(white, int):
        return swatches[white].name
    return white if isinstance(white, str) else white.name


def find_whites(
    amounts: Amounts,
) -> list[tuple[int, int | str | HandPaint, Quantity]]:
    """Return which swatches need white under them, which white, and how much.

    The swatch above, the white as of `white_name`, and one coat of it.
    """
    swatches, settings, under = amounts.swatches, amounts.settings, amounts.under
    found = []
    for q in amounts.quantities if under is not None else ():
        swatch = swatches[q.swatch]
        if q.bare or q.swatch == under or q.volume is None:
            continue
        if not coats_of(swatch, settings, swatches[under or 0]).white:
            continue
        white = _white_for(swatch, swatches, amounts.mixes.hand.paints)
        place, paint = -1, replace(swatch, coverage=None, price=())
        if isinstance(white, int):
            place, paint = white, swatches[white]
        elif not isinstance(white, str):
            paint = white.swatch
        base = replace(q, swatch=place, edge=0.0)
        one = Coats(1, f"{COMMON} under a paint that lets the ground through")
        quantity = quantity_of_liquid(base, paint, settings, coats=one)
        found.append((q.swatch, white, quantity))
    return found


def _white_for(
    swatch: Swatch, swatches: Sequence[Swatch], paints: tuple[HandPaint, ...]
) -> int | str | HandPaint:
    """Return an opaque white of the paint's medium: of the palette, on hand, or new."""

    def _white(one: Swatch) -> bool:
        opaque = one.opacity in ("", "opaque", "semi-opaque")
        alike = one.medium == swatch.medium
        return alike and opaque and one.lab[0] >= 88 and one.oklch[1] < 0.04

    for hand in paints:
        if _white(hand.swatch):
            return hand
    own = [i for i, s in enumerate(swatches) if _white(s)]
    if own:
        return max(own, key=lambda i: swatches[i].lab[0])
    return f"white, {swatch.medium}" if swatch.medium else "white"
