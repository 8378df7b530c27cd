"""Which images of a region are asked what stands there: the nearest ones."""

from dataclasses import replace

import numpy as np
import pytest

from fillwork.symmetry.kinds.agree import LOOKED_AT, near_enough
from fillwork.symmetry.quotient import quotient_of
from tests.unit.symmetry.cells import SPACE_GROUPS, make_cells


def nearest_images(quotient, start, steps):
    """Return how far off the nearest images of a point are, but for itself."""
    moved = quotient.linear @ start + quotient.shift
    near = start + quotient.nearest(moved - start)
    images = (near[:, None] + steps).reshape(-1, 2)
    away = np.sort(np.hypot(*(images - start).T))
    return away[away > 1e-6][:LOOKED_AT]


@pytest.mark.parametrize("rows", [1, 2])
@pytest.mark.parametrize("name", SPACE_GROUPS)
def test_the_nearest_images_are_among_those_of_few_translations(name, rows):
    rng = np.random.default_rng(12)
    pattern = make_cells(name, rng, repeats=4.0, framed=False)
    quotient = quotient_of(pattern.symmetry)
    basis = quotient.basis[:rows]
    # of one row: what lies beside a strip stays as far off as it is
    quotient = replace(quotient, basis=basis, inverse_basis=np.linalg.pinv(basis))
    steps = quotient.copies(60.0 * np.linalg.norm(basis, axis=1).max())
    few = near_enough(quotient, steps)
    if rows == 2:
        assert len(few) < len(steps) / 4
    for start in rng.uniform(-50, 50, (20, 2)):
        wanted = nearest_images(quotient, start, steps)
        found = nearest_images(quotient, start, few)
        assert np.allclose(found, wanted[: len(found)], rtol=1e-9)
        assert len(found) == len(wanted)
