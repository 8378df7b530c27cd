"""What to buy and in what order to paint, gathered and told.

`make_schedule` joins areas, quantities, order, mixes and cautions;
`schedule_text` is for the shop and the wall, `schedule_csv` for a spreadsheet.
"""

from __future__ import annotations

import csv
import io
import math
import textwrap
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.notes import Note
from fillwork.plans.areas import measure_areas
from fillwork.plans.cautions import find_cautions
from fillwork.plans.model import Quantity, Schedule
from fillwork.plans.order import find_steps, main_medium
from fillwork.plans.quantities import (
    COMMON,
    DEFAULT_COVERAGE,
    MEDIA_FACTS,
    check_settings,
    find_quantities,
    quantity_of_liquid,
)
from fillwork.plans.swallowed import find_swallowed, swallowed_note
from fillwork.units import fine_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Adjacency, Colouring, Palette
    from fillwork.plans.areas import Areas
    from fillwork.plans.model import PaintSettings
    from fillwork.symmetry.model import Orbits

__all__ = ["make_schedule", "schedule_csv", "schedule_text"]

_PRIMER_COVERAGE, _VARNISH_COVERAGE = 10.0, 12.0
_MODEL = "Kubelka-Munk, single constant, on rebuilt reflectance"
_WIDTH = 100
_COLUMNS = (
    "number",
    "paint",
    "hex",
    "medium",
    "pigments",
    "kinds",
    "regions",
    "area_drawn_mm2",
    "area_real_mm2",
    "cut_in_mm",
    "coats",
    "coverage_m2_per_l",
    "volume_ml",
    "buy",
    "leaves",
    "books",
    "bare",
    "step",
)


def make_schedule(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    colouring: Colouring,
    settings: PaintSettings,
    *,
    real_scale: float,
    scale_known: bool,
    on_hand: bytes | None = None,
) -> Schedule:
    """Work out areas, paint and leaf, mixes, order and cautions.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds.
    adjacency : Adjacency
        Which kinds touch.
    colouring : Colouring
        The swatch of each region.
    settings : PaintSettings
        Coats, spare, containers, leaf, panel.
    real_scale : float
        Real length / drawn length.
    scale_known : bool
        Whether the real size was stated.
    on_hand : bytes, optional
        File of the paints on hand, for mixes.

    Returns
    -------
    Schedule
        All of it.

    Raises
    ------
    PlanError
        If a setting makes no sense, there is no region, a larger panel is asked
        for a drawing that is no plane pattern, or the paints on hand are wrong.
    """
    check_settings(settings, real_scale)
    palette = colouring.palette
    notes: list[Note] = []
    covered = None
    pen = colouring.rules.outline_width
    if pen and (colouring.rules.outline or "").strip().casefold() != "none":
        whole, covered = find_swallowed(arrangement, pen)
        note = swallowed_note(orbits, whole, covered, pen * real_scale)
        notes += [note] if note is not None else []
    drawn = measure_areas(arrangement, orbits, colouring, covered=covered)
    areas = drawn
    panel_area = (drawn.total + drawn.margin) * real_scale**2
    if settings.panel is not None:
        weight, count, doubts = _repeats(orbits, adjacency, settings.panel, real_scale)
        areas = measure_areas(
            arrangement, orbits, colouring, weight, count, covered=covered
        )
        panel_area = settings.panel[0] * settings.panel[1]
        notes += doubts
    bare = tuple(
        i
        for i, s in enumerate(palette.swatches)
        if s.medium == "bare" or _named(s.name, s.code, colouring)
    )
    quantities, silent = find_quantities(
        areas,
        palette,
        settings,
        real_scale=real_scale,
        bare=bare,
        ground=colouring.ground,
        areas_drawn=drawn,
    )
    notes += silent
    medium = main_medium(palette, quantities)
    facts = MEDIA_FACTS.get(medium)
    primer, varnish = (facts.primer, facts.varnish) if facts else ("", "")
    line = _outline(colouring, areas, settings, medium, real_scale)
    extras, names = [], []
    if line is not None:
        extras.append(line[0])
        names.append(f"outline: {line[1]}")
    for what, coverage in ((primer, _PRIMER_COVERAGE), (varnish, _VARNISH_COVERAGE)):
        if what:
            extras.append(_whole(panel_area, real_scale, coverage, settings, medium))
            names.append(f"{what}, whole panel")
    steps = find_steps(
        colouring,
        orbits,
        areas,
        quantities,
        outline=line[1] if line else "",
        outline_swatch=line[0].swatch if line and line[0].swatch >= 0 else None,
        primer=primer,
        varnish=varnish,
    )
    used = [palette.swatches[q.swatch] for q in quantities if not q.bare]
    schedule = Schedule(
        quantities=quantities,
        extras=tuple(extras),
        extra_names=tuple(names),
        steps=steps,
        mixes=(),
        cautions=find_cautions(used, varnish=varnish),
        real_scale=real_scale,
        scale_known=scale_known,
        notes=tuple(notes),
    )
    if on_hand is not None:
        schedule = _with_mixes(schedule, palette, on_hand, varnish)
    return schedule


def _with_mixes(
    schedule: Schedule, palette: Palette, on_hand: bytes, varnish: str
) -> Schedule:
    from fillwork.plans.mixing import find_mixes, parse_paints

    paints, doubts = parse_paints(on_hand, "paints on hand")
    wanted = [
        q.swatch for q in schedule.quantities if not q.bare and q.volume is not None
    ]
    recipes = find_mixes([palette.swatches[s] for s in wanted], paints)
    volume = {q.swatch: q.volume or 0.0 for q in schedule.quantities}
    bought: dict[str, float] = {}
    mixes = []
    for swatch, recipe in zip(wanted, recipes, strict=True):
        mixes.append((swatch, recipe.text, recipe.difference, recipe.remark))
        parts = sum(n for _, n in recipe.parts)
        for paint, n in recipe.parts:
            share = volume[swatch] * n / parts
            bought[paint.name] = bought.get(paint.name, 0.0) + share
    used = [palette.swatches[q.swatch] for q in schedule.quantities if not q.bare]
    mixed = [p for p in paints if p.name in bought]
    return replace(
        schedule,
        mixes=tuple(mixes),
        cautions=find_cautions([*used, *mixed], varnish=varnish),
        bought=tuple((p.name, bought[p.name]) for p in paints if p.name in bought),
        notes=(*schedule.notes, *doubts),
    )


def _named(name: str, code: str, colouring: Colouring) -> bool:
    wanted = {b.strip().casefold() for b in colouring.rules.bare}
    return name.casefold() in wanted or code.casefold() in wanted


def _repeats(
    orbits: Orbits, adjacency: Adjacency, panel: tuple[float, float], real_scale: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[Note]]:
    """Return how often each kind counts on a larger panel, and how many it has."""
    zone = orbits.zones[0] if orbits.zones else None
    lattice = None if zone is None else zone.symmetry.lattice
    if zone is None or lattice is None or zone.symmetry.group.family != "plane":
        family = "none" if zone is None else zone.symmetry.group.family
        what = f"a larger panel needs a plane pattern, and this one is “{family}”"
        mend = "leave out --panel, or state the symmetry with --symmetry plane:NAME"
        raise PlanError(what, mend=mend)
    if not all(math.isfinite(v) and v > 0 for v in panel):
        what = "the panel must be wider and higher than 0 mm"
        raise PlanError(what, mend="give --panel W,H such as 2m,1m")
    (a, b), (c, d) = lattice.basis.tolist()
    cell = abs(a * d - b * c)
    repeats = panel[0] * panel[1] / (cell * real_scale**2)
    notes = []
    turns = sum(o.kind in ("identity", "rotation") for o in zone.symmetry.operations)
    order = {"all": len(zone.symmetry.operations), "turns": turns}.get(orbits.match, 1)
    order = max(order, 1)
    weight, count = np.zeros(len(orbits.orbits)), np.zeros(len(orbits.orbits))
    filled = 0.0
    for row, orbit in enumerate(orbits.orbits):
        if orbit.zone != zone.index:
            continue
        whole = len(orbit.faces) - orbit.cut > 0
        in_cell = order / _site_order(orbit.site_symmetry, orbits.match)
        filled += in_cell * orbit.area
        seen = float(adjacency.area[row])
        count[row] = in_cell * repeats
        if whole and seen > 0:
            weight[row] = in_cell * orbit.area * repeats / seen
        else:
            filled = math.nan
    alone = orbits.match in ("none", "family", "figure")
    if alone or not abs(filled - cell) <= 0.01 * cell:
        here = np.array([o.zone == zone.index for o in orbits.orbits])
        seen_area = float(adjacency.area[here].sum())
        scale = panel[0] * panel[1] / (seen_area * real_scale**2)
        weight = np.where(here, scale, 0.0)
        count = weight * [len(o.faces) for o in orbits.orbits]
        text = "the panel was scaled by the area seen, not by whole repeats"
        remedy = "draw at least one whole repeat for exact figures"
        if alone:
            text = (
                f"with --match {orbits.match} colours do not follow the repeats: the "
                "panel was scaled by the area seen"
            )
            remedy = f"leave out --match {orbits.match} for exact figures"
        notes.append(Note("plans", "scaled by area", text, remedy=remedy))
    if len(orbits.zones) > 1:
        text = "only the field is repeated over the panel; borders are left out"
        notes.append(Note("plans", "borders left out", text))
    return weight, count, notes


def _site_order(site: str, match: str) -> int:
    """Return how many of the operations that match keep a region in its place."""
    digits = "".join(c for c in site if c.isdigit())
    order = int(digits) if digits else 1
    if match == "all":
        return order * (2 if site.startswith("D") else 1)
    return order if match == "turns" else 1


def _outline(
    colouring: Colouring,
    areas: Areas,
    settings: PaintSettings,
    medium: str,
    real_scale: float,
) -> tuple[Quantity, str] | None:
    """Return the painted line as a quantity, and what it is painted with."""
    wish = colouring.rules.outline
    width = colouring.rules.outline_width
    if width == 0 or (wish is not None and wish.strip().casefold() == "none"):
        return None
    palette, place, name = colouring.palette, -1, "a near-black line"
    if wish is not None:
        name = wish
        try:
            place = palette.index(wish)
        except KeyError:
            place = -1
    swatch = palette.swatches[place] if place >= 0 else None
    name = swatch.name if swatch else name
    origin = "plan" if width is not None else "default"
    width = (areas.outline_width if width is None else width) * real_scale
    length = areas.outline * real_scale
    base = Quantity(
        swatch=place,
        faces=0,
        area_drawn=length * width / real_scale**2,
        area_real=length * width,
        edge=length,
        coats=1,
        coverage=None,
        volume=None,
    )
    used = swatch.medium if swatch else medium
    facts = MEDIA_FACTS.get(used)
    coverage = swatch.coverage if swatch and swatch.coverage else None
    source = "palette" if coverage else f"{COMMON} for {used or 'paint'}"
    if coverage is None:
        coverage = facts.coverage if facts else DEFAULT_COVERAGE
    rows = [
        ("length", _length(length), "drawing"),
        ("width", f"{fine_text(width, 2)} mm", origin),
    ]
    if coverage is None:
        return replace(base, factors=tuple(rows)), name
    one = quantity_of_liquid(base, used, coverage, source, settings, rows, coats=1)
    return one, name


def _whole(
    area: float,
    real_scale: float,
    coverage: float,
    settings: PaintSettings,
    medium: str,
) -> Quantity:
    base = Quantity(
        swatch=-1,
        faces=0,
        area_drawn=area / real_scale**2,
        area_real=area,
        edge=0.0,
        coats=1,
        coverage=None,
        volume=None,
    )
    return quantity_of_liquid(base, medium, coverage, COMMON, settings, coats=1)


def _area(mm2: float) -> str:
    """Return an area with three significant digits and a fitting unit."""
    if mm2 >= 1e5:
        return f"{_significant(mm2 / 1e6)} m²"
    if mm2 >= 100.0:
        return f"{_significant(mm2 / 100.0)} cm²"
    return f"{_significant(mm2)} mm²"


def _length(mm: float) -> str:
    if mm >= 1000.0:
        return f"{_significant(mm / 1000.0)} m"
    return f"{_significant(mm)} mm"


def _volume(ml: float) -> str:
    """Return a volume with two digits, rounded up: coverage is not known better."""
    if ml < 0.1:
        return "under 0.1 mL"
    step = 10.0 ** (math.floor(math.log10(ml)) - 1)
    two = round(math.ceil(ml / step - 1e-6) * step, 3)
    return f"{two / 1000.0:g} L" if two >= 1000.0 else f"{two:g} mL"


def _size(ml: float) -> str:
    return f"{ml / 1000.0:g} L" if ml >= 1000.0 else f"{ml:g} mL"


def _significant(value: float) -> str:
    if value <= 0:
        return "0"
    places = max(0, 2 - math.floor(math.log10(value) + 1e-12))
    return f"{value:.{places}f}"


def _buy(quantity: Quantity) -> str:
    if quantity.bare:
        return "leave bare"
    if quantity.leaves is not None:
        books = quantity.books or 0
        return f"{quantity.leaves} leaves, {books} book{'s' if books != 1 else ''}"
    if quantity.volume is None:
        return "by area"
    return " + ".join(f"{n} x {_size(size)}" for size, n in quantity.containers)


def _table(rows: Sequence[Sequence[str]], right: frozenset[int]) -> list[str]:
    """Return aligned lines; columns in `right` are flush right."""
    widths = [max(len(row[c]) for row in rows) for c in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if c in right else cell.ljust(width)
            for c, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    rule = "-" * max(len(line) for line in lines)
    return [lines[0], rule, *lines[1:]]


def _wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def schedule_text(schedule: Schedule, palette: Palette, orbits: Orbits) -> str:
    """Return the schedule as text to take to the shop and to the wall.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.
    orbits : Orbits
        The kinds, for their letters.

    Returns
    -------
    str
        A table with one row a paint, the factors, mixes, the order as numbered
        lines with reasons, and cautions.
    """
    lines = [f"Schedule for the palette {palette.name}", ""]
    if schedule.scale_known:
        said = schedule.scale_words
        lines.append(f"Sizes are real; {said}." if said else "Sizes are real.")
    else:
        lines += _wrapped(
            "The real size is not known: all sizes are those of the drawing. State "
            "the true width with --real-width."
        )
    lines += ["", "TO BUY", "", *_shop_table(schedule, palette)]
    if schedule.bought:
        lines += ["", "Paints on hand, summed over the mixes:"]
        lines += [f"  [ ]  {name}: {_volume(ml)}" for name, ml in schedule.bought]
    if any(q.volume is not None for q in schedule.quantities):
        lines += ["", "Mix each colour in one batch: a second batch never matches."]
    lines += ["", "FACTORS", "", *_factors(schedule, palette)]
    if schedule.mixes:
        lines += ["", "MIXES", "", f"  Model: {_MODEL}.", ""]
        for swatch, recipe, difference, remark in schedule.mixes:
            text = f"{palette.swatches[swatch].name}: {recipe} (expected ΔE00 "
            lines += _wrapped(f"{text}{difference:.1f}). {remark}", "  ", "    ")
    lines += ["", "ORDER", ""]
    for step in schedule.steps:
        letters = ", ".join(orbits.orbits[o].letter for o in step.orbits[:12])
        if len(step.orbits) > 12:
            letters += f" and {len(step.orbits) - 12} more"
        kinds = f" Kinds {letters}." if len(step.orbits) > 1 else ""
        kinds = f" Kind {letters}." if len(step.orbits) == 1 else kinds
        head = f"{step.order:3d}. "
        lines += _wrapped(step.text + kinds, head, "     ")
        lines += _wrapped(f"Why: {step.reason}.", "     ", "     ")
    lines += ["", "CAUTIONS", ""]
    for text in schedule.cautions:
        lines += _wrapped(text, "  - ", "    ")
    if schedule.notes:
        lines += ["", "NOTES", ""]
        for note in schedule.notes:
            text = f"{note.text}; {note.remedy}" if note.remedy else note.text
            lines += _wrapped(text, "  - ", "    ")
    return "\n".join(lines) + "\n"


def _shop_table(schedule: Schedule, palette: Palette) -> list[str]:
    head = ("   ", "No", "Paint", "Pigments", "Regions", "Area", "Cut in", "Coats")
    rows = [(*head, "Need", "Buy")]
    for q in schedule.quantities:
        s = palette.swatches[q.swatch]
        rows.append(
            (
                "[ ]" if not q.bare else "   ",
                s.code,
                s.name,
                " ".join(s.pigments) or s.medium,
                str(q.faces),
                _area(q.area_real),
                _length(q.edge),
                str(q.coats) if q.coats else "",
                "" if q.volume is None else _volume(q.volume),
                _buy(q),
            )
        )
    for q, name in zip(schedule.extras, schedule.extra_names, strict=True):
        need = "" if q.volume is None else _volume(q.volume)
        edge = _length(q.edge) if q.edge else ""
        row = ("[ ]", "", name, "", "", _area(q.area_real), edge, str(q.coats))
        rows.append((*row, need, _buy(q)))
    return _table(rows, frozenset({4, 5, 6, 7, 8}))


def _factors(schedule: Schedule, palette: Palette) -> list[str]:
    """Return each set of factors once, with the paints it is for."""
    groups: dict[tuple[tuple[str, str, str], ...], list[str]] = {}
    for q in schedule.quantities:
        if q.factors:
            groups.setdefault(q.factors, []).append(palette.swatches[q.swatch].name)
    for q, name in zip(schedule.extras, schedule.extra_names, strict=True):
        if q.factors:
            groups.setdefault(q.factors, []).append(name)
    lines = []
    for factors, names in groups.items():
        lines += _wrapped(", ".join(names) + ":", "  ", "    ")
        told = "; ".join(
            f"{what} {value} ({origin})" for what, value, origin in factors
        )
        lines += _wrapped(told + ".", "    ", "    ")
    drying = {
        s.medium: MEDIA_FACTS[s.medium].drying
        for s in (palette.swatches[q.swatch] for q in schedule.quantities if not q.bare)
        if s.medium in MEDIA_FACTS and MEDIA_FACTS[s.medium].drying
    }
    for medium, time in sorted(drying.items()):
        text = f"drying between coats of {medium}: {time} ({COMMON}; the label decides)"
        lines += _wrapped(text + ".", "  ", "    ")
    return lines


def schedule_csv(schedule: Schedule, palette: Palette, orbits: Orbits) -> str:
    """Return the quantities as CSV (RFC 4180), one row a paint.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.
    orbits : Orbits
        The kinds, for their letters.

    Returns
    -------
    str
        Numbers with a point; areas in mm², lengths in mm, volumes in mL.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    step_of = {s.swatch: s for s in reversed(schedule.steps) if s.swatch is not None}
    names = [palette.swatches[q.swatch].name for q in schedule.quantities]
    rows = [*zip(schedule.quantities, names, strict=True)]
    rows += [*zip(schedule.extras, schedule.extra_names, strict=True)]
    for place, (q, name) in enumerate(rows):
        own = place < len(schedule.quantities)
        swatch = palette.swatches[q.swatch] if q.swatch >= 0 else None
        step = step_of.get(q.swatch) if own else None
        letters = [orbits.orbits[o].letter for o in step.orbits] if step else []
        writer.writerow(
            [
                swatch.code if swatch and own else "",
                _harmless(name),
                swatch.hex if swatch else "",
                swatch.medium if swatch else "",
                " ".join(swatch.pigments) if swatch else "",
                " ".join(letters),
                q.faces,
                fine_text(q.area_drawn),
                fine_text(q.area_real),
                fine_text(q.edge),
                q.coats,
                "" if q.coverage is None else f"{q.coverage:g}",
                "" if q.volume is None else f"{q.volume:.3f}",
                _buy(q),
                "" if q.leaves is None else q.leaves,
                "" if q.books is None else q.books,
                "yes" if q.bare else "no",
                step.order if step else "",
            ]
        )
    return out.getvalue()


def _harmless(name: str) -> str:
    """Return a name that no spreadsheet takes for a formula."""
    return "'" + name if name[:1] in "+-@" else name
