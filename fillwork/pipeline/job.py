"""The whole job in one call: from a drawing to its finish."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.pipeline.finish import Finish
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.progress import quiet
from fillwork.pipeline.surveying import make_survey

if TYPE_CHECKING:
    from pathlib import Path

    from fillwork.colouring.model import Pins
    from fillwork.colouring.palettes.model import Palette
    from fillwork.linework import LineWork
    from fillwork.pipeline.progress import Progress
    from fillwork.plans.model import Plan
    from fillwork.tolerance import Tolerance


def colour_drawing(
    source: str | Path | bytes | LineWork,
    plan: Plan | None = None,
    *,
    name: str = "",
    palette: Palette | str | Path | None = None,
    pins: Pins = (),
    tolerance: Tolerance | None = None,
    allow_large: bool = False,
    progress: Progress = quiet,
) -> Finish:
    """Do the main job: from a drawing to its planned, coloured finish.

    Parameters
    ----------
    source : str, Path, bytes or LineWork
        The drawing's file, or its content, or its lines.
    plan : Plan, optional
        All choices.
    name : str
        File name to show when `source` is bytes.
    palette : Palette, str or Path, optional
        One in hand, such as from `Palette.from_colours`, a name or a file, instead
        of the plan's.
    pins : mapping, or iterable of Pin or tuple
        Fixed swatches besides those of the plan, as of `Pin.gather`.
    tolerance : Tolerance, optional
        All slacks instead of the plan's, such as `Tolerance.exact`.
    allow_large : bool
        Raise the size limits.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    Finish
        The result; nothing is written until one of its ``write_`` methods is
        called.

    Raises
    ------
    FillworkError
        If the drawing closes no region, cannot be read, or a wish is wrong.

    Examples
    --------
    >>> square = b'<svg width="9mm" height="9mm" viewBox="0 0 9 9">' + (
    ...     b'<path d="M1 1h6v6h-6z" fill="none" stroke="black"/></svg>')
    >>> finish = colour_drawing(square, name="square.svg")
    >>> [orbit.name for orbit in finish.orbits.orbits]
    ['square']
    """
    survey = make_survey(
        source,
        plan,
        name=name,
        allow_large=allow_large,
        tolerance=tolerance,
        progress=progress,
    )
    coloured = colour_survey(survey, palette=palette, pins=pins, progress=progress)
    return Finish(coloured, progress)
