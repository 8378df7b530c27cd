"""Colourways: palettes or assignments side by side, each with its plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.pipeline.checks import refuse_no_regions
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.moments import fit_wishes
from fillwork.pipeline.output import record_of
from fillwork.pipeline.painting import colour_survey, plan_for, with_palette
from fillwork.pipeline.picture import page_pictures, side_by_side
from fillwork.pipeline.progress import quiet, telling
from fillwork.pipeline.scale import drawn_rules
from fillwork.pipeline.taking import load_palette, plan_fonts

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fillwork.colouring.counterchange.find import Choice, Possibility
    from fillwork.colouring.model import Colouring, Colourway
    from fillwork.colouring.palettes.model import Palette
    from fillwork.pipeline.painting import Coloured
    from fillwork.pipeline.progress import Progress
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import Plan
    from fillwork.renderers.scene import Scene


RECORD = "colourways.json"


@dataclass(frozen=True, slots=True, eq=False)
class Suggestion:
    """Hold one colourway with the plan that gives it again."""

    number: int  # from 1, best first
    colourway: Colourway  # the colouring and what was measured on it
    plan: Plan  # all choices: the palette and a pin on every kind

    @property
    def name(self) -> str:
        """Return the name of its plan file, without suffix."""
        return f"colourway-{self.number:02d}"


def suggest(
    survey: Survey,
    plan: Plan | None = None,
    palettes: Sequence[str | Palette] = (),
    *,
    count: int = 6,
    progress: Progress = quiet,
) -> tuple[Suggestion, ...]:
    """Find colourways of a surveyed drawing, best first.

    `plan`: all choices; by default those of the survey. `palettes`: names, files or
    palettes in hand. With none, the plan's own: several assignments of it. With
    several, the best of each first. `count`: how many are wanted. Raises
    `FillworkError` if a palette or a wish is wrong, or the drawing has no region.
    """
    from fillwork.colouring.search.colourways import find_colourways

    plan = survey.plan if plan is None else plan
    refuse_no_regions(survey)
    plans = [with_palette(plan, p) for p in palettes] or [plan]
    loaded = [load_palette(p) for p in plans]
    before = load_palette(plan)
    plans = [
        fit_wishes(p, own, before, *loaded)
        for p, own in zip(plans, loaded, strict=True)
    ]
    plan_of = {id(p): own for p, own in zip(loaded, plans, strict=True)}
    found = find_colourways(
        survey.arrangement,
        survey.orbits,
        survey.adjacency,
        loaded,
        [drawn_rules(p, survey.arrangement) for p in plans],
        count=count,
        progress=telling(progress),
    )
    return tuple(
        Suggestion(
            number, way, plan_for(survey, plan_of[id(way.colouring.palette)], way.pins)
        )
        for number, way in enumerate(found, 1)
    )


def find_ways(
    survey: Survey,
    plan: Plan,
    colours: int,
    *,
    most: int = 24,
    progress: Progress = quiet,
) -> Iterator[tuple[Possibility | Choice, Coloured]]:
    """Find the ways in which colours can change places, each laid on the drawing.

    `colours`: how many colours change places. `most`: how many ways at most: those of
    the whole drawing, half of them at most, then those of single kinds in the order of
    the kinds. Yields a way, and the drawing coloured by it; ways that go against the
    pins are passed over. Raises `ColouringError` if kinds are matched by less than the
    whole symmetry, or the number is out of range.
    """
    from fillwork.colouring.counterchange.alternating_kinds import KindReader
    from fillwork.colouring.counterchange.find import find_all_choices
    from fillwork.errors import ColouringError

    progress("finding how kinds can alternate")
    reader = KindReader(survey.arrangement, survey.orbits, survey.adjacency)
    whole, single = find_all_choices(reader, colours)
    ways: list[Possibility | Choice] = [*whole[: most // 2], *single]
    found = 0
    for choice in ways:
        if found == most:
            return
        letter = getattr(choice, "letter", "")  # none: the whole drawing
        what = f"kind {letter}" if letter else "the whole drawing"
        progress(f"colouring {what} by choice {choice.number}")
        wanted = ((letter, choice.number),)
        rules = replace(plan.rules, counterchange=colours, choices=wanted)
        try:
            coloured = colour_survey(
                survey, replace(plan, rules=rules), progress=progress
            )
        except ColouringError:
            continue
        found += 1
        yield choice, coloured


def _contact_pages(
    survey: Survey, suggestions: Sequence[Suggestion]
) -> tuple[Scene, ...]:
    """Return the contact sheet: small pictures with swatches and greys under them."""
    shown = [(s.colourway.colouring, _told(survey, s.colourway)) for s in suggestions]
    return side_by_side(survey, survey.plan, shown)


def contact_sheet(
    survey: Survey,
    palettes: Sequence[str | Palette] = (),
    *,
    count: int = 6,
    suffix: str = ".pdf",
    width: int = 1600,
) -> bytes:
    """Return colourways of a surveyed drawing side by side, best first.

    Parameters
    ----------
    survey : Survey
        What was found in the drawing.
    palettes : sequence of str or Palette
        Names, files or palettes in hand: the best of each first. With none, several
        assignments of the plan's own.
    count : int
        How many are wanted.
    suffix : str
        ``.pdf`` for all pages; ``.png`` or ``.svg`` for the first.
    width : int
        Width of a PNG, px.

    Returns
    -------
    bytes
        The sheet.

    Raises
    ------
    FillworkError
        If a palette is wrong, or the drawing has no region.
    """
    from fillwork.pipeline.surveying import Survey
    from fillwork.renderers.encoders.pdf import to_pdf
    from fillwork.values import check_kind

    check_kind(survey, Survey, "survey")
    found = suggest(survey, palettes=palettes, count=count)
    pages = _contact_pages(survey, found)
    fonts = plan_fonts(survey.plan)
    if suffix.lower() == ".pdf":
        return to_pdf(pages, title=pages[0].title, fonts=fonts)
    return encode(pages[0], suffix, width=width, fonts=fonts)


def _told(survey: Survey, colourway: Colourway) -> dict[str, Any]:
    """Return what stands under a picture."""
    from fillwork.colouring.vision import view_palette

    colouring, values = colourway.colouring, dict(colourway.measures)
    palette, contrast = colouring.palette, values["smallest difference"]
    return {
        "title": palette.name,
        "strip": strip_of(survey, colouring, view_palette(palette, survey.plan.view)),
        "measures": (
            ("least ΔE00", "none touch" if np.isnan(contrast) else f"{contrast:.1f}"),
            ("range of lightness", f"{values['lightness range']:.0f}"),
            ("swatches", f"{values['swatches']:.0f}"),
        ),
    }


def strip_of(
    survey: Survey, colouring: Colouring, shown: Palette
) -> tuple[tuple[str, str, float, str], ...]:
    """Return colour, grey, share and number of the swatches used, the largest first.

    `shown`: the palette as it is seen.
    """
    from fillwork.colouring.vision import view_palette

    palette = colouring.palette
    greys = view_palette(palette, "grey").swatches
    area = np.bincount(
        colouring.of_face[1:], survey.arrangement.area[1:], len(palette.swatches)
    )
    share = area / max(float(area.sum()), 1e-12)
    return tuple(
        (shown.swatches[k].hex, greys[k].hex, float(share[k]), palette.swatches[k].code)
        for k in np.argsort(-share, kind="stable").tolist()
        if share[k] > 0
    )


def contact_table(suggestions: Sequence[Suggestion]) -> str:
    """Return the colourways as a table for people."""
    from fillwork.colouring.search.colourways import RANKED_BY

    lines = [
        " no  palette                least ΔE00  L* range  swatches  area changed  plan"
    ]
    for s in suggestions:
        values = dict(s.colourway.measures)
        contrast = values["smallest difference"]
        least = "     -" if np.isnan(contrast) else f"{contrast:6.1f}"
        name = s.colourway.colouring.palette.name
        span = values["lightness range"]
        lines.append(
            f"{s.number:3d}  {name:<22.22} {least:>10}  {span:8.0f}"
            f"  {values['swatches']:8.0f}  {100 * s.colourway.changed:10.0f} %"
            f"  {s.name}.toml"
        )
    lines.append("ranked by " + "; then by ".join(RANKED_BY))
    return "\n".join(lines) + "\n"


def files(
    survey: Survey, suggestions: Sequence[Suggestion], *, progress: Progress
) -> dict[str, bytes]:
    """Return the contact sheet, a plan a colourway, and the record of them.

    File names and contents, the record last.
    """
    from fillwork.plans.file import plan_to_toml
    from fillwork.plans.model import Made
    from fillwork.renderers.encoders.pdf import to_pdf
    from fillwork.renderers.report import to_json

    progress("drawing the contact sheet")
    pages = _contact_pages(survey, suggestions)
    fonts = plan_fonts(survey.plan)
    made = {"colourways.pdf": to_pdf(pages, title=pages[0].title, fonts=fonts)}
    made |= page_pictures("colourways", pages, survey.plan)
    for s in suggestions:
        # what came of the plan before is not what comes of this one
        plan = replace(s.plan, made=Made())
        made[f"{s.name}.toml"] = plan_to_toml(plan).encode()
        if s.plan.font_data:
            made.setdefault(s.plan.sheets.font, s.plan.font_data)
    ways = [
        {
            "number": s.number,
            "palette": s.colourway.colouring.palette.name,
            "plan": f"{s.name}.toml",
            "changed": round(s.colourway.changed, 4),
            "measures": {
                k: None if np.isnan(v) else round(float(v), 3)
                for k, v in s.colourway.measures
            },
        }
        for s in suggestions
    ]
    record = record_of(survey.linework, made, colourways=ways)
    made[RECORD] = to_json(record)
    return made
