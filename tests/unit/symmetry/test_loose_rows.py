"""Borders of figures that stand in one ground: what their outlines alone show.

Every figure lies at a whole step from the next, so that a side is a frieze of the
figure's own symmetry (p1m1 where it stands on the inner line, p2mm where it lies loose
and has mirrors both ways), by construction; the drawings are invented.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones

WIDE, EDGE = 11.0, 24.0  # of the border, and from the page to the field; mm

# lines of a figure from the inner line outwards: x along, y across, in steps
FIGURES = {
    "half circles": ("p1m1", [("A", 0.5), (0.0, 0.0), (1.0, 0.0)]),
    "battlements": ("p1m1", [("L",), (0.2, 0), (0.3, 0.6), (0.7, 0.6), (0.8, 0)]),
    "squares": (
        "p2mm",
        [("L",), (0.2, 0.3), (0.8, 0.3), (0.8, 0.6), (0.2, 0.6), (0.2, 0.3)],
    ),
}


def panel(
    figure: str, nx: int, ny: int, step: float, *, mitred: bool, off: float = 0.0
) -> bytes:
    """Return a panel with a field of crossed rectangles and a row on each side.

    `step`: from figure to figure, mm. `off`: how far each figure is from its place
    along the row, mm, at most.
    """
    rng = random.Random(7)
    wide, high = nx * step, ny * step
    sides = [  # of each the corner that it begins at, along and outwards
        (nx, (0, 0), (1, 0), (0, -1)),
        (ny, (wide, 0), (0, 1), (1, 0)),
        (nx, (wide, high), (-1, 0), (0, 1)),
        (ny, (0, high), (0, -1), (-1, 0)),
    ]
    (kind, *how), *points = FIGURES[figure][1]
    to = f"A{how[0] * step},{how[0] * step} 0 0 1 " if kind == "A" else "L"
    paths = []
    for count, start, along, out in sides:
        for k in range(count):
            slip = rng.uniform(-off, off)
            at = [
                [
                    EDGE + start[n] + ((k + x) * step + slip) * along[n]
                    + y * step * out[n]
                    for n in (0, 1)
                ]
                for x, y in points
            ]  # fmt: skip
            paths.append("M" + to.join(f"{x:.4f},{y:.4f} " for x, y in at))
    paths += [
        f"M{EDGE - m},{EDGE - m}h{wide + 2 * m}v{high + 2 * m}h{-wide - 2 * m}z"
        for m in (0.0, WIDE)
    ]
    for k in range(1, 5):
        paths.append(f"M{EDGE + k * wide / 5},{EDGE}v{high}")
        paths.append(f"M{EDGE},{EDGE + k * high / 5}h{wide}")
    for k in range(25):
        x, y = EDGE + k % 5 * wide / 5, EDGE + k // 5 * high / 5
        paths.append(
            f"M{x},{y}l{wide / 5},{high / 5}m{-wide / 5},0l{wide / 5},{-high / 5}"
        )
    if mitred:
        for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            corner = (EDGE + (x > 0) * wide, EDGE + (y > 0) * high)
            paths.append(f"M{corner[0]},{corner[1]}l{x * WIDE},{y * WIDE}")
    size = (wide + 2 * EDGE, high + 2 * EDGE)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}mm" '
        f'height="{size[1]}mm" viewBox="0 0 {size[0]} {size[1]}"><path fill="none" '
        f'stroke="#222" stroke-width=".4" d="{" ".join(paths)}"/></svg>'
    ).encode()


@pytest.mark.parametrize(
    ("figure", "nx", "ny", "step", "mitred", "off"),
    [
        ("half circles", 9, 7, 12.0, True, 0.0),
        # decimals of the ends leave no half circle quite like another
        ("half circles", 6, 6, 10.54235, True, 0.0),
        ("battlements", 8, 6, 12.0, False, 0.0),
        ("squares", 9, 9, 12.0, False, 0.0),
        ("squares", 10, 7, 12.0, True, 0.06),
    ],
)
def test_figures_of_a_side_in_one_ground_are_one_kind(
    figure: str, nx: int, ny: int, step: float, mitred: bool, off: float
) -> None:
    drawing = panel(figure, nx, ny, step, mitred=mitred, off=off)
    arrangement = build_arrangement(read_linework(drawing, name="row.svg"))
    zones = find_zones(arrangement)
    of_face = find_orbits(arrangement, zones).of_face
    x, y = arrangement.witness.T
    inside = (x > EDGE) & (x < EDGE + nx * step) & (y > EDGE) & (y < EDGE + ny * step)
    small = (np.arange(len(x)) > 0) & ~inside & (arrangement.area < step**2)
    for side in (y < EDGE, x > EDGE + nx * step, y > EDGE + ny * step, x < EDGE):
        row = np.flatnonzero(small & side)
        assert len(row) in (nx, ny)
        assert len(np.unique(of_face[row])) == 1
    # and their ground is none of them, wherever one more would lie on it
    ground = (np.arange(len(x)) > 0) & ~inside & ~small
    assert not set(of_face[ground].tolist()) & set(of_face[small].tolist())
    rows = [z.symmetry for z in zones if np.isin(z.faces, np.flatnonzero(small)).any()]
    assert {found.group.short for found in rows} == {FIGURES[figure][0]}
    for found in rows:
        assert np.hypot(*found.lattice.basis[0]) == pytest.approx(step, abs=0.02)
