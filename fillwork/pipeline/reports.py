"""What was found and done, told: as plain values, as JSON, in a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fillwork.units import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.pipeline.finish import Finish
    from fillwork.pipeline.surveying import Survey
    from fillwork.symmetry.model import Zone


def survey_report(survey: Survey) -> dict[str, Any]:
    """Return what was found as plain values: ``report.json`` without the colours."""
    from fillwork.renderers.rows import plain

    return plain(survey_columns(survey))


def survey_json(survey: Survey) -> bytes:
    """Return what was found as JSON text.

    UTF-8, as in ``report.json`` without the colouring parts.
    """
    from fillwork.renderers.report import to_json

    return to_json(survey_columns(survey))


def survey_columns(survey: Survey) -> dict[str, Any]:
    """Return what was found, with long lists as columns.

    Plain values, and columns for `renderers.report.to_json`.
    """
    from fillwork.renderers.report import survey_report as compose
    from fillwork.version import __version__

    return compose(
        survey.linework,
        survey.arrangement,
        survey.orbits,
        survey.adjacency,
        version=__version__,
        real_scale=survey.real_scale,
        scale_known=survey.scale_known,
        notes=survey.notes,
        bands=survey.bands,
    )


def _symmetry_name(zones: Sequence[Zone]) -> str:
    """Return the groups of all zones, the largest zone's first, each once."""
    sure: dict[str, bool] = {}
    for zone in zones:
        group, certain = zone.symmetry.group, zone.symmetry.certain
        name = "none" if group.family == "none" else f"{group.family} {group.short}"
        sure[name] = sure.get(name, True) and certain
    if len(sure) > 1:
        # plain parts of a frame say nothing beside what repeats or turns
        sure.pop("none", None)
    return ", ".join(n if yes else f"{n} (not certain)" for n, yes in sure.items())


def summary(finish: Finish) -> str:
    """Return the result of the main job in a few lines."""
    from fillwork.colouring.outline import measure_outline

    colouring = finish.colouring
    name = _symmetry_name(finish.survey.zones)
    used = len({int(s) for s in colouring.of_face[1:]})
    kinds = len(finish.orbits.orbits)
    bound = "best possible" if colouring.proven else "not more than"
    contrast = "no kinds touch"
    if colouring.equal_neighbours:
        contrast = "none: all that touch bear one colour"
    if colouring.closest is not None:
        a, b = (finish.orbits.orbits[k].letter for k in colouring.closest)
        contrast = (
            f"ΔE00 {colouring.smallest_difference:.1f} between {a} and {b}, "
            f"wanted {colouring.goal:g}, {bound} {colouring.bound:.1f}"
        )
    seen = ""
    outline = measure_outline(colouring)
    if outline is not None and colouring.rules.outline:
        seen = (
            f"outline   {outline.name}, ΔE00 {outline.smallest_difference:.1f} "
            f"at least, against {outline.against}\n"
        )
    view = finish.plan.view
    if view != "normal":
        under = finish.views[view]
        least = under["smallest_difference"]
        seen += f"seen      {view}: "
        seen += (
            "no unlike regions touch\n"
            if least is None
            else f"ΔE00 {least:.1f} between {' and '.join(under['between'])}\n"
        )
    return (
        f"regions   {finish.arrangement.face_count - 1} in "
        f"{counted(kinds, 'kind')}, symmetry {name}\n"
        f"palette   {finish.palette.name}, {used} of "
        f"{len(finish.palette.swatches)} swatches\n"
        f"contrast  {contrast}\n{seen}"
    )


def survey_table(survey: Survey) -> str:
    """Return what was found as a table for people."""
    from fillwork.renderers.survey.text import compose_table

    return compose_table(
        survey.linework,
        survey.arrangement,
        survey.orbits,
        real_scale=survey.real_scale,
        scale_known=survey.scale_known,
        bands=survey.bands,
    )
