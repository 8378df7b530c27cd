"""Pictures of a survey: what was found in it, and colourings of it side by side."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fillwork.errors import SymmetryError
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.taking import plan_fonts
from fillwork.printing import title_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fillwork.colouring.model import Colouring
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import Plan
    from fillwork.renderers.scene import Scene


def survey_scene(survey: Survey) -> Scene:
    """Return the survey picture: kinds tinted, symmetry drawn, defects numbered."""
    from fillwork.renderers.survey.picture import compose_survey

    return compose_survey(
        survey.arrangement,
        survey.outlines,
        survey.orbits,
        title=survey.plan.sheets.title or title_words(survey.linework.file),
        fonts=plan_fonts(survey.plan),
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
    fonts = plan_fonts(survey.plan)
    return encode(survey_scene(survey), suffix, width=width, fonts=fonts)


def side_by_side(
    survey: Survey,
    plan: Plan,
    shown: Iterable[tuple[Colouring, dict[str, Any]]],
    *,
    repeats: float = 2.2,
    **how: Any,
) -> tuple[Scene, ...]:
    """Return pages of small pictures of a drawing, each in colours of its own.

    `plan`: says under which view they are seen, the title and the fonts. `shown`: their
    colourings, each with what its `ContactCell` tells. `repeats`: how many are shown at
    least each way. `how`: as for `compose_contact`.
    """
    from fillwork.renderers.coloured import coloured_size, compose_coloured, drawing_box
    from fillwork.renderers.contact import ContactCell, compose_contact, repeat_window

    size = coloured_size(drawing_box(survey.arrangement))
    window = repeat_window(*size, survey.orbits, repeats)
    cells = []
    for colouring, told in shown:
        scene = compose_coloured(
            survey.arrangement,
            survey.outlines,
            survey.orbits,
            colouring,
            view=plan.view,
            title=told["title"],
            window=window,
        )
        cells.append(ContactCell(scene=scene, **told))
    title = plan.sheets.title or title_words(survey.linework.file)
    fonts = plan_fonts(plan)
    return compose_contact(cells, title=title, window=window, fonts=fonts, **how)


def page_pictures(stem: str, pages: Sequence[Scene], plan: Plan) -> dict[str, bytes]:
    """Return pages as PNG by their names, which are numbered where they are several."""
    width, fonts = max(plan.png_width, 1600), plan_fonts(plan)
    return {
        f"{stem}{f'-{number}' * (len(pages) > 1)}.png": encode(
            page, ".png", width=width, fonts=fonts
        )
        for number, page in enumerate(pages, 1)
    }
