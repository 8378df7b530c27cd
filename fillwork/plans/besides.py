"""What is painted besides regions: the line, and white under them.

The painted line: whether it is wanted, with what, how much, and what it covers.
White goes under what would let a dark ground through.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.notes import Note
from fillwork.plans.media import DEFAULT_COVERAGE, facts_of, liquid
from fillwork.plans.model import Quantity
from fillwork.plans.quantities import COMMON, Coats, coats_of, quantity_of_liquid
from fillwork.plans.words import length_words
from fillwork.units import fine_text, plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools
    from fillwork.colouring.palettes.model import Palette, Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.plans.mixing import HandPaint
    from fillwork.symmetry.model import Orbits

_DEEP = 8.0
"""Half-widths of the line; a region this deep keeps more than half in any case
that was thought of: a star of many points is the worst."""


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


def find_swallowed(
    arrangement: Arrangement, orbits: Orbits, pen: float, real_scale: float
) -> tuple[Bools, tuple[Note, ...]]:
    """Return which regions a line along all edges covers by more than half.

    `pen`: width of the line, mm of the drawing; half of it lies in each region. Returns
    `most` (F,): those regions; `notes`: how many they are, where there are any.
    """
    import shapely

    half = pen / 2
    most = np.zeros(arrangement.face_count, dtype=bool)
    faces = np.flatnonzero(arrangement.inscribed < _DEEP * half)
    faces = faces[faces > 0]
    shapes = arrangement.polygons(faces)
    left = shapely.area(shapely.buffer(shapes, -half, join_style="mitre"))
    share = left / np.maximum(shapely.area(shapes), 1e-300)
    most[faces] = share < 0.5
    if not most.any():
        return most, ()
    counts = [(int(most[orbit.faces].sum()), orbit) for orbit in orbits.orbits]
    named = [f"{n} of {orbit.letter} ({orbit.name})" for n, orbit in counts if n]
    shown = ", ".join(named[:6]) + (" and others" if len(named) > 6 else "")
    whole = int((share < 1e-6).sum())
    parts = ((whole, "wholly"), (int(most.sum()) - whole, "by over half"))
    covers = " and ".join(f"{n} region{'s' * (n != 1)} {how}" for n, how in parts if n)
    text = (
        f"a line {plain(pen * real_scale)} mm wide covers {covers}: {shown}; paint "
        "for them is not bought"
    )
    remedy = "take a finer line with --outline, or a larger scale"
    return most, (Note("plans", "swallowed regions", text, remedy=remedy),)


class White(NamedTuple):
    """Hold one coat of white under a paint."""

    above: int  # the paint's place in the palette
    paint: Swatch  # the white
    quantity: Quantity
    hand: HandPaint | None  # where it is taken from the paints on hand


def find_whites(amounts: Amounts) -> tuple[White, ...]:
    """Return the white under what would let a dark ground through."""
    swatches, settings, under = amounts.swatches, amounts.settings, amounts.under
    if under is None:
        return ()
    found = []
    for q in amounts.quantities:
        swatch = swatches[q.swatch]
        if q.bare or q.swatch == under or q.volume is None:
            continue
        if not coats_of(swatch, settings, swatches[under]).white:
            continue
        place, white, hand = _white_for(swatch, swatches, amounts.mixes.hand.paints)
        base = replace(q, swatch=place, edge=0.0)
        one = Coats(1, f"{COMMON} under a paint that lets the ground through")
        quantity = quantity_of_liquid(base, white, settings, coats=one)
        found.append(White(q.swatch, white, quantity, hand))
    return tuple(found)


def _white_for(
    swatch: Swatch, swatches: Sequence[Swatch], paints: tuple[HandPaint, ...]
) -> tuple[int, Swatch, HandPaint | None]:
    """Return an opaque white of the paint's medium: on hand, of the palette, or new."""

    def _white(one: Swatch) -> bool:
        opaque = one.opacity in ("", "opaque", "semi-opaque")
        alike = one.medium == swatch.medium
        return alike and opaque and one.lab[0] >= 88 and one.oklch[1] < 0.04

    for hand in paints:
        if _white(hand.swatch):
            return -1, hand.swatch, hand
    own = [i for i, s in enumerate(swatches) if _white(s)]
    if own:
        place = max(own, key=lambda i: swatches[i].lab[0])
        return place, swatches[place], None
    name = f"white, {swatch.medium}" if swatch.medium else "white"
    # nothing is known of it but its medium
    new = replace(swatch, name=name, pigments=(), coverage=None, price=(), cautions=())
    return -1, new, None
