"""From a survey to its colours, and the same again in another palette."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fillwork.pipeline.anew import assign_or_keep
from fillwork.pipeline.checks import refuse_misfit, refuse_no_regions
from fillwork.pipeline.progress import quiet, telling
from fillwork.pipeline.scale import drawn_rules, real_scale, scale_known
from fillwork.pipeline.surveying import Survey, adjacency_of
from fillwork.pipeline.taking import load_palette, take_palette
from fillwork.plans.model import Plan
from fillwork.values import check_kind, told_repr

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from fillwork.colouring.model import Colouring, Pin, Pins
    from fillwork.colouring.palettes.model import Palette
    from fillwork.notes import Note
    from fillwork.pipeline.progress import Progress
    from fillwork.plans.model import Schedule


def fix_pins(pins: Iterable[Pin], survey: Survey) -> tuple[Pin, ...]:
    """Return pins that hold points where they held letters.

    Letters follow the areas and may change when the drawing is edited; a point
    still finds its region.
    """
    by_letter = {o.letter: o for o in survey.orbits.orbits}
    fixed = []
    for pin in pins:
        orbit = by_letter.get(pin.where.strip())
        if orbit is None or pin.scope != "kind":
            fixed.append(pin)
            continue
        # three decimals, as plans print them
        point = survey.arrangement.witness[orbit.representative].tolist()
        x, y = (round(value, 3) + 0.0 for value in point)
        where = f"@{x!r},{y!r}"
        fixed.append(replace(pin, where=where))
    return tuple(fixed)


def plan_for(survey: Survey, plan: Plan, pins: Iterable[Pin]) -> Plan:
    """Return a plan as its file is written: of this drawing, with these pins."""
    linework, rules = survey.linework, replace(plan.rules, pins=fix_pins(pins, survey))
    return replace(plan, drawing=linework.file, digest=linework.digest, rules=rules)


@dataclass(frozen=True, slots=True, eq=False)
class Coloured:
    """Hold the colouring of a survey and the schedule that follows from it.

    Parameters
    ----------
    survey : Survey
        The drawing.
    plan : Plan
        The choices.
    palette : Palette
        The palette.
    colouring : Colouring
        Which region bears which swatch.
    schedule : Schedule
        What to buy and in what order to paint.
    notes : tuple of Note
        Notes of colouring and schedule.
    """

    survey: Survey
    plan: Plan
    palette: Palette
    colouring: Colouring
    schedule: Schedule
    notes: tuple[Note, ...]

    def __repr__(self) -> str:
        return told_repr(self, self.survey.linework.file, self.colouring)


def colour_survey(
    survey: Survey,
    plan: Plan | None = None,
    *,
    palette: Palette | str | Path | None = None,
    pins: Pins = (),
    progress: Progress = quiet,
) -> Coloured:
    """Assign the palette to a surveyed drawing and work out the schedule.

    Parameters
    ----------
    survey : Survey
        What was found in the drawing.
    plan : Plan, optional
        All choices; by default those of the survey. What concerns lines,
        symmetry and match must equal the survey's.
    palette : Palette, str or Path, optional
        One in hand, such as from `Palette.from_colours`, a name or a file, instead
        of the plan's; it is taken into the plan of the result.
    pins : mapping, or iterable of Pin or tuple
        Fixed swatches besides those of the plan, as of `Pin.gather`.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    Coloured
        The colouring and the schedule.

    Raises
    ------
    LineWorkError
        If the drawing has no region.
    PlanError
        If the plan wants other lines or another symmetry than the survey's.
    FillworkError
        If palette or wishes are wrong.

    Examples
    --------
    >>> import fillwork, shapely
    >>> pair = [shapely.box(0, 0, 20, 10), shapely.box(20, 0, 50, 10)]
    >>> survey = fillwork.make_survey(fillwork.LineWork.from_geometry(pair))
    >>> two = fillwork.Palette.from_colours({"ivory": "#fffff0", "night": "#14143c"})
    >>> coloured = colour_survey(survey, palette=two, pins={"A": "night"})
    >>> fillwork.region_columns(survey, coloured.colouring)["swatch"]
    ['ivory', 'night']
    """
    from fillwork.plans.schedule import make_schedule
    from fillwork.plans.strands import strand_lines

    check_kind(survey, Survey, "survey")
    plan = survey.plan if plan is None else plan
    check_kind(plan, Plan, "plan")
    refuse_misfit(survey, plan)
    plan = with_palette(plan, palette, pins)
    refuse_no_regions(survey)
    palette = load_palette(plan)
    progress("assigning the palette")
    adjacency = survey.adjacency
    if plan.rules.corners_count != survey.plan.rules.corners_count:
        adjacency = adjacency_of(survey.arrangement, survey.orbits, plan)
    rules = drawn_rules(plan, survey.arrangement)
    colouring = assign_or_keep(
        survey, adjacency, palette, rules, progress=telling(progress)
    )
    progress("working out the schedule")
    scale = real_scale(plan, survey.arrangement)
    schedule = make_schedule(
        survey.arrangement,
        survey.orbits,
        adjacency,
        colouring,
        plan.paint,
        real_scale=scale,
        scale_known=scale_known(plan, survey.linework),
        on_hand=plan.on_hand_data.encode() or None,
        used_before=plan.used,
        strands=strand_lines(survey.bands, survey.orbits, colouring, scale),
    )
    return Coloured(
        survey=survey,
        plan=plan,
        palette=palette,
        colouring=colouring,
        schedule=schedule,
        notes=(*palette.notes, *colouring.notes, *schedule.notes),
    )


def with_palette(
    plan: Plan, palette: Palette | str | Path | None, pins: Pins = ()
) -> Plan:
    """Return the plan with a palette and pins over its own.

    `palette`: one in hand, a name or a file. `pins`: fixed swatches.
    """
    from fillwork.colouring.model import Pin
    from fillwork.colouring.palettes.model import Palette

    if isinstance(palette, Palette):
        plan = replace(plan, palette="", palette_data=palette.to_toml())
    elif palette is not None:
        plan = take_palette(plan, palette)
    more = Pin.gather(pins)
    if not more:
        return plan
    return replace(plan, rules=replace(plan.rules, pins=(*plan.rules.pins, *more)))
