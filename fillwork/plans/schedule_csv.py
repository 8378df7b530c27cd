"""The schedule's rows as CSV, for a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from fillwork.plans.schedule_rows import rows_of
from fillwork.plans.words import harmless, need_text, three

if TYPE_CHECKING:
    from fillwork.colouring.palettes.model import Palette
    from fillwork.plans.model import Schedule
    from fillwork.symmetry.model import Orbits


_COLUMNS = (
    "number", "paint", "hex", "medium", "pigments", "kinds", "regions",
    "area_drawn_mm2", "area_real_mm2", "cut_in_mm", "coats", "coverage_m2_per_l",
    "volume_ml", "buy", "leaves", "books", "bare", "step", "price", "currency", "day",
    "tape_mm",
)  # fmt: skip


def schedule_csv(schedule: Schedule, palette: Palette, orbits: Orbits) -> str:
    """Return the quantities as CSV (RFC 4180), one row a paint.

    Numbers with a point and as many digits as the text has; areas in mm², lengths in
    mm, volumes in mL.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    # the last step of a swatch that fills regions, else its first
    step_of = {s.swatch: s for s in reversed(schedule.steps)}
    step_of |= {s.swatch: s for s in schedule.steps if s.orbits}
    for row in rows_of(schedule, palette):
        q, own, swatch, cost = row.quantity, row.own, row.swatch, row.cost
        step = step_of.get(q.swatch) if own else None
        letters = [orbits.orbits[o].letter for o in step.orbits] if step else []
        cells = [
            swatch.code if swatch and own else "",
            row.name,
            swatch.hex if swatch else "",
            swatch.medium if swatch else "",
            " ".join(swatch.pigments) if swatch else "",
            " ".join(letters),
            q.faces if own else "",
            three(q.area_drawn),
            three(q.area_real),
            "" if row.plain else three(q.edge),
            "" if row.plain or q.leaves is not None else q.coats,
            "" if q.coverage is None else f"{q.coverage:g}",
            "" if q.volume is None else need_text(q.volume),
            row.buy_words,
            "" if q.leaves is None else q.leaves,
            "" if q.books is None else q.books,
            "yes" if q.bare else "no",
            step.order if step else "",
            "" if cost is None else f"{cost:.2f}",
            "" if cost is None else schedule.currency,
            step.days[0] if step and step.days[0] else "",
            three(step.tape) if step and step.tape else "",
        ]
        # names, codes, media and pigments are whatever the palette has
        writer.writerow([harmless(c) if isinstance(c, str) else c for c in cells])
    return out.getvalue()
