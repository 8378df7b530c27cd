"""The survey picture: kinds tinted, symmetry drawn, defects numbered."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.pipeline.encoding import encode
from fillwork.printing import title_words

if TYPE_CHECKING:
    from fillwork.pipeline.surveying import Survey
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.text.typeset import FontSet

__all__ = ["survey_picture", "survey_scene"]


def survey_scene(survey: Survey) -> Scene:
    """Return the survey picture: kinds tinted, symmetry drawn, defects numbered.

    Parameters
    ----------
    survey : Survey
        What was found.

    Returns
    -------
    Scene
        The picture.
    """
    from fillwork.renderers.survey.picture import compose_survey

    return compose_survey(
        survey.arrangement,
        survey.outlines,
        survey.orbits,
        title=survey.plan.sheets.title or title_words(survey.linework.file),
        fonts=_fonts(survey),
    )


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
    fonts = _fonts(survey)
    return encode(survey_scene(survey), suffix, width=width, fonts=fonts)


def _fonts(survey: Survey) -> FontSet:
    from fillwork.renderers.text.own_font import own_fonts

    return own_fonts(survey.plan.font_data, survey.plan.sheets.font)
