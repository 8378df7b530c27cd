"""Find the group of a tiling, and check its kinds by letting the group act.

The tiling is the one of squares and regular octagons, 4.8.8, of which the group is
p4m [1]_. Its operations carry regions onto regions; what they carry onto each other is
an orbit, and the orbits must be the kinds that the survey gives.

Run it: ``python demo/group_of_a_tiling.py``.

References
----------
.. [1] B. Grünbaum and G. C. Shephard, "Tilings and Patterns", Freeman, 1987,
   section 2.1.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

import fillwork

SIDE, ACROSS = 10.0, 6  # mm; octagons each way


def draw_tiling() -> np.ndarray:
    """Return the sides of the octagons, of shape (n, 2, 2)."""
    step = SIDE * (1 + math.sqrt(2))
    turn = np.radians(22.5 + 45 * np.arange(9))
    radius = SIDE / (2 * math.sin(math.pi / 8))
    ring = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    middles = [(i * step, j * step) for i in range(ACROSS) for j in range(ACROSS)]
    rings = [ring + middle for middle in middles]
    return np.concatenate([np.stack([r[:-1], r[1:]], axis=1) for r in rings])


def main() -> None:
    """Say the group, its maps and its orbits."""
    work = fillwork.LineWork.from_geometry(draw_tiling(), name="squares and octagons")
    survey = fillwork.make_survey(work)
    (zone,) = survey.zones
    symmetry = zone.symmetry
    print(f"group {symmetry.group.title}, orbifold {symmetry.group.orbifold}")
    print(f"shifts (mm): {np.round(symmetry.lattice.basis, 3).tolist()}")
    for operation in symmetry.operations:
        print(f"  {operation.kind:<10} order {operation.order}")

    # what the generators carry onto each other, again and again, is one orbit
    count = survey.arrangement.face_count
    pairs = []
    for generator in symmetry.generators:
        there = fillwork.face_action(survey.arrangement, generator)
        met = np.flatnonzero(there > 0)
        pairs.append(np.stack([met, there[met]]))
    rows, columns = np.concatenate(pairs, axis=1)
    carried = coo_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    _, orbit = connected_components(carried, directed=False)
    kind = survey.orbits.of_face
    for number, found in enumerate(survey.orbits.orbits):
        orbits = set(orbit[kind == number].tolist())
        faces = f"{len(found.faces)} regions, {len(orbits)} orbit by its maps"
        print(f"kind {found.letter}: {found.name}, {faces}")


if __name__ == "__main__":
    main()
