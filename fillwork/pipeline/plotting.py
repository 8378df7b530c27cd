"""Regions drawn by matplotlib, for who works in it anyway."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fillwork.colouring.model import Colouring
    from fillwork.pipeline.surveying import Survey


_PALE = 0.82
"""Lightness of kinds that bear no paint yet, 0 to 1; lines stay plain on it."""


def plot_regions(
    survey: Survey, colouring: Colouring | None = None, ax: Any = None
) -> Any:
    """Draw the regions on axes of matplotlib.

    Parameters
    ----------
    survey : Survey
        What was found.
    colouring : Colouring, optional
        Its swatches; by default each kind has a pale tint.
    ax : matplotlib.axes.Axes, optional
        Where to; new axes by default.

    Returns
    -------
    matplotlib.axes.Axes
        In mm, y up, of equal scale.

    Raises
    ------
    ImportError
        If matplotlib is not installed.
    ValueError
        If the colouring is that of another drawing.
    """
    from matplotlib import pyplot
    from matplotlib.collections import PathCollection
    from matplotlib.path import Path

    from fillwork.pipeline.checks import check_survey
    from fillwork.pipeline.tables import region_columns

    check_survey(survey)
    columns = region_columns(survey, colouring)
    if colouring is None:
        kinds = survey.orbits.of_face[1:]
        hue = (kinds * 0.618034) % 1  # the golden section keeps neighbours apart
        colours: Any = [_pale(float(h)) for h in hue]
    else:
        colours = columns["hex"]
    if ax is None:
        ax = pyplot.subplots()[1]
    paths = []
    for polygon in survey.arrangement.polygons():
        rings = [polygon.exterior, *polygon.interiors]
        paths.append(
            Path.make_compound_path(
                *(Path(np.asarray(r.coords), closed=True) for r in rings)
            )
        )
    ax.add_collection(
        PathCollection(paths, facecolors=colours, edgecolors="black", linewidths=0.5)
    )
    ax.autoscale_view()
    ax.set_aspect("equal")
    return ax


def _pale(hue: float) -> tuple[float, ...]:
    """Return a pale colour, as shares of red, green and blue."""
    turn = 2 * np.pi * (hue + np.array([0, 1 / 3, 2 / 3]))
    return tuple((_PALE + (1 - _PALE) * np.cos(turn)).tolist())
