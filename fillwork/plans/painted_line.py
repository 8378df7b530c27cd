"""The painted line: whether it is wanted, with what, how much, and what it covers."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.notes import Note
from fillwork.plans.media import MEDIA_FACTS, liquid
from fillwork.plans.model import Quantity
from fillwork.plans.quantities import (
    COMMON,
    DEFAULT_COVERAGE,
    coverage_of,
    quantity_of_liquid,
)
from fillwork.plans.words import length_words
from fillwork.units import fine_text

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools
    from fillwork.colouring.model import Colouring, Palette
    from fillwork.plans.amounts import Amounts
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
    if swatch is None:
        facts = MEDIA_FACTS.get(amounts.medium)
        coverage = (facts.coverage if facts else None) or DEFAULT_COVERAGE
        source = f"{COMMON} for {amounts.medium or 'paint'}"
    elif liquid(swatch):
        coverage, source = coverage_of(swatch)
    else:
        return replace(base, factors=tuple(rows)), name
    paint, settings = swatch or amounts.medium, amounts.settings
    return quantity_of_liquid(base, paint, coverage, source, settings, rows), name


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
