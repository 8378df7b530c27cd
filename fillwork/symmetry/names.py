"""Plain names for kinds of regions, unique in the drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.measures import FaceMeasures

__all__ = ["find_names"]


def find_names(
    arrangement: Arrangement,
    measures: FaceMeasures,
    of_face: NDArray[np.int64],
    standing: Sequence[NDArray[np.int64]],
    area: NDArray[np.float64],
) -> list[tuple[str, str]]:
    """Return a unique name and a plain name for each kind."""
    return [(f"region {k + 1}", "region") for k in range(len(standing))]
