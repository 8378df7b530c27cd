"""Borders whose sides hang together at corner squares that no line parts from them.

The groups of sides are those of the motifs; the drawings are invented.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from tests.bench.gallery import draw_and_find
from tests.bench.ink import lines
from tests.bench.panels_drawn import Work

WIDTH = 22.0


def border_open_at(open_corners: set[int], motif: str, seed: int) -> Work:
    """Return a panel with lines at all corner squares but some.

    `open_corners`: counter-clockwise from the one below on the left.
    """
    work = Work("open corners", seed, noisy=False)
    inner = work.border(work.whole, WIDTH, motif, "plain")
    work.frame = []
    work.draw_box(work.whole)
    work.draw_box(inner)
    x0, y0, x1, y1 = inner
    across, up = np.array([WIDTH, 0.0]), np.array([0.0, WIDTH])
    outwards = [(-across, -up), (across, -up), (across, up), (-across, up)]
    for k, at in enumerate([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]):
        for way in outwards[k] if k not in open_corners else ():
            work.frame += lines(at, at + way)
    work.fill(shapely.box(*inner), "octagons", 40.0)
    return work


@pytest.mark.parametrize(
    ("open_corners", "motif", "group"),
    [
        ({0}, "triangles", "p2mg"),
        ({2}, "beads", "p2mm"),
        ({0, 2}, "lozenges", "p2mm"),
        ({0, 1}, "saw", "p1"),
    ],
)
def test_sides_that_hang_together_at_corners_are_parted(
    open_corners: set[int], motif: str, group: str
) -> None:
    found = draw_and_find(border_open_at(open_corners, motif, 3))
    borders = [z for z in found.zones if z.role == "border"]
    assert [z.symmetry.group.short for z in borders] == [group] * 4
    assert all(z.symmetry.certain for z in borders)
    # no region of a side, and none of an open corner, is in another's zone
    assert found.score.right == found.score.regions


@pytest.mark.parametrize(
    ("seed", "name", "beside"),
    [(7, "kagome", "hexagons_in_squares"), (25, "hexagons", "octagons")],
)
def test_a_field_with_a_corner_cut_out_is_no_strip_that_bends(
    seed: int, name: str, beside: str
) -> None:
    # p6m has other repeats along and across; in doubt or not, no arm is a frieze
    work = Work("elfield", seed, noisy=False)
    work.draw_box(work.whole)
    thick = float(work.rng.uniform(0.2, 0.4)) * work.tall
    hole = shapely.box(thick, thick, work.wide, work.tall)
    work.draw_box(hole.bounds)
    repeats = float(work.rng.choice([10, 20, 30]))
    work.fill(shapely.box(*work.whole).difference(hole), name, repeats)
    work.fill(hole, beside, 20.0)
    found = draw_and_find(work)
    assert found.score.sure_and_wrong == 0
    assert not any(z.symmetry.group.family == "frieze" for z in found.zones)
