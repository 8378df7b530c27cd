"""Site symmetries and multiplicities agree with the International Tables.

gemmi's operations of the space group whose projection is the plane group give
the multiplicity of a position and the operations that keep it.
"""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.model import Zone
from fillwork.tolerance import Tolerance
from tests.unit.helpers import linework_from_segments
from tests.unit.symmetry.cells import SPACE_GROUPS, make_cells, table_operations

SOURCE = (
    "International Tables for Crystallography A, positions of the 17 plane"
    " groups, by the operations tabulated in gemmi"
)


@pytest.mark.reference(SOURCE)
@pytest.mark.parametrize("name", list(SPACE_GROUPS))
def test_site_symmetry_times_multiplicity_is_the_order(name: str) -> None:
    rng = np.random.default_rng(40 + sum(map(ord, name)))
    pattern = make_cells(name, rng, repeats=12, general=2, special=1)
    work = linework_from_segments(pattern.segments, 300, 300, has_page=False)
    arrangement = build_arrangement(work, Tolerance(1e-4, 0.0, 0.01))
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    orbits = find_orbits(arrangement, (Zone(1, faces, pattern.symmetry),))
    truth, _ = pattern.truth(arrangement)
    cell = np.linalg.inv(pattern.cell)
    table = table_operations(name)
    for orbit in orbits.orbits:
        kind = np.bincount(truth[orbit.faces - 1]).argmax()
        seed = pattern.seeds[pattern.orbit == kind][0]
        point = (seed - pattern.shift) @ cell
        images: list[np.ndarray] = []
        turns = mirrors = 0
        for m, t in table:
            image = m @ point + t
            gap = image - point
            if np.abs(gap - np.rint(gap)).max() < 1e-6:
                turns += np.linalg.det(m) > 0
                mirrors += np.linalg.det(m) < 0
            near = [np.abs((image - q) - np.rint(image - q)).max() for q in images]
            if not near or min(near) > 1e-6:
                images.append(image)
        assert orbit.site_symmetry == f"{'D' if mirrors else 'C'}{turns}"
        assert (turns + mirrors) * len(images) == len(table)
