"""The fields of the gallery of panels have the groups that they are said to have."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.ink import moved, noded, once, placed, round_of
from tests.bench.ornaments import FIELDS
from tests.unit.laying.test_cells import PLANE_OF


@pytest.mark.filterwarnings("ignore:Set OLD_ERROR_HANDLING:DeprecationWarning")
@pytest.mark.reference("spglib, A. Togo, K. Shinohara, I. Tanaka 2024")
@pytest.mark.parametrize("name", FIELDS)
def test_spglib_finds_the_group_of_a_field(name: str) -> None:
    import spglib

    steps, cell, group = FIELDS[name]()
    basis = np.array(steps, float)
    grid = np.stack(np.meshgrid(np.arange(-4, 5), np.arange(-4, 5)), -1).reshape(-1, 2)
    ink = [i for at in grid @ basis for i in moved(cell, placed(0, at=at))]
    ends, along, rounds, middles = [], [], [], []
    for item in noded(once(ink)):
        if item.kind == "L":
            ends += list(item.points)
            along += [item.points.T @ (share, 1 - share) for share in (0.25, 0.75)]
        else:
            # as many as the turns of 4 and 6 divide
            centre, radius, first, swept = round_of(item)
            middles.append(centre)
            t = first + swept * (np.arange(24) + 0.5) / 24
            rounds.append(centre + radius * np.column_stack([np.cos(t), np.sin(t)]))
    atoms, kinds = [], []
    every = (ends, along, np.reshape(rounds, (-1, 2)), middles)
    for kind, points in enumerate(every):
        if len(points) == 0:
            continue
        parts = np.array(points) @ np.linalg.inv(basis)
        # whole cells in the middle, where all that crosses them is drawn
        parts = parts[(parts > -1.001).all(axis=1) & (parts < 1.001).all(axis=1)]
        parts = parts % 1.0
        # once each, places that are the same across the cell's rim too
        apart = np.abs((parts[:, None] - parts + 0.5) % 1.0 - 0.5).max(axis=-1)
        parts = parts[np.triu(apart < 1e-4, 1).sum(axis=0) == 0]
        # each kind at a height of its own: nothing turns the sheet over
        atoms.append(np.column_stack([parts, np.full(len(parts), 0.17 * kind**2)]))
        kinds += [kind + 1] * len(parts)
    lattice = np.zeros((3, 3))
    lattice[:2, :2] = basis * 5 / np.sqrt(abs(np.linalg.det(basis)))
    lattice[2, 2] = 23.7
    data = spglib.get_symmetry_dataset((lattice, np.vstack(atoms), kinds), 1e-3)
    assert PLANE_OF[data.number] == group
