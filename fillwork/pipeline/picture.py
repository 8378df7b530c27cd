"""The survey picture: kinds tinted, symmetry drawn, defects numbered."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fillwork.errors import SymmetryError
from fillwork.pipeline.encoding import encode
from fillwork.printing import title_words

if TYPE_CHECKING:
    from fillwork.pipeline.surveying import Survey
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.text.typeset import FontSet


def survey_scene(survey: Survey) -> Scene:
    """Return the survey picture: kinds tinted, symmetry drawn, defects numbered."""
    from fillwork.renderers.survey.picture import compose_survey

    return compose_survey(
        survey.arrangement,
        survey.outlines,
        survey.orbits,
        title=survey.plan.sheets.title or title_words(survey.linework.file),
        fonts=_fonts(survey),
    )


def zone_scene(survey: Survey, index: int, group: str) -> Scene:
    """Return a small picture of one zone under a symmetry that it may have.

    The zone alone, its kinds tinted, a repeat with its centres and axes. `group`: as it
    can be stated, such as ``frieze:p11m``. Raises `SymmetryError` if the zone cannot
    have it, or there is no such zone.
    """
    from fillwork.renderers.survey.zones import compose_zone
    from fillwork.symmetry.kinds.orbits import find_orbits
    from fillwork.symmetry.lines.detect import find_symmetry

    if all(zone.index != index for zone in survey.zones):
        what = f"zone {index} is not in the drawing, which has {len(survey.zones)}"
        raise SymmetryError(what, mend="see the zones with: fillwork survey")
    arrangement = survey.arrangement
    zones = tuple(
        replace(zone, symmetry=find_symmetry(arrangement, zone.faces, stated=group))
        if zone.index == index
        else zone
        for zone in survey.zones
    )
    plan = survey.plan
    orbits = find_orbits(arrangement, zones, match=plan.match, alike=plan.alike)
    return compose_zone(arrangement, survey.outlines, orbits, index)


def survey_picture(survey: Survey, suffix: str, *, width: int = 1600) -> bytes:
    """Return the survey picture as a file's bytes.

    Parameters
    ----------
    survey : Survey
        What was found.
    suffix : str
        ``.svg``, ``.png`` or ``.pdf``.
    width : int
        Width of a PNG, px.

    Returns
    -------
    bytes
        The picture.

    Raises
    ------
    RenderError
        If the suffix is another one.
    """
    from fillwork.pipeline.checks import check_survey

    check_survey(survey)
    fonts = _fonts(survey)
    return encode(survey_scene(survey), suffix, width=width, fonts=fonts)


def _fonts(survey: Survey) -> FontSet:
    from fillwork.renderers.text.own_font import own_fonts

    return own_fonts(survey.plan.font_data, survey.plan.sheets.font)
