"""Circles set beside each other by hand, which miss each other by less than the pen.

A grid of n by m circles that touch has n m discs and (n - 1)(m - 1) places between
four of them; the drawings are invented.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework

PEN, STEP = 0.4, 10.4  # mm
QUARTER = 4 / 3 * (2**0.5 - 1)  # the usual Bézier for a quarter of a circle


def circle(x: float, y: float, r: float, *, as_path: bool) -> str:
    if not as_path:
        return f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{r:.3f}"/>'
    k = QUARTER * r
    ways = [(r, 0), (r, k), (k, r), (0, r), (-k, r), (-r, k), (-r, 0)]
    ways += [(-r, -k), (-k, -r), (0, -r), (k, -r), (r, -k), (r, 0)]
    points = [f"{x + a:.3f},{y + b:.3f}" for a, b in ways]
    return f'<path d="M{points[0]}C{" ".join(points[1:])}Z"/>'


def grid(
    n: int, m: int, off: float, seed: int, *, apart: float = 0.0, as_path: bool = False
) -> bytes:
    """Return a grid of circles, each set off by `off` mm at most each way.

    `apart`: mm between all, below 0 where they overlap.
    """
    rng = random.Random(seed)
    body = "".join(
        circle(
            20 + STEP * i + rng.uniform(-off, off),
            20 + STEP * j + rng.uniform(-off, off),
            (STEP - apart) / 2 + rng.uniform(-off, off),
            as_path=as_path,
        )
        for i in range(n)
        for j in range(m)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="180mm" height="180mm" '
        f'viewBox="0 0 180 180" fill="none" stroke="#000" stroke-width="{PEN}">'
        f"{body}</svg>"
    ).encode()


@pytest.mark.parametrize("as_path", [False, True])
@pytest.mark.parametrize("seed", [0, 1, 3, 4])
def test_circles_set_by_hand_touch_where_their_ink_does(
    seed: int, as_path: bool
) -> None:
    # centres and radii add up to a miss of 0.32 mm at most along the line between two
    n, m = 4 + seed % 3, 5 + seed % 2
    drawing = read_linework(grid(n, m, 0.08, seed, as_path=as_path), name="hand.svg")
    found = build_arrangement(drawing)
    assert found.face_count - 1 == n * m + (n - 1) * (m - 1)
    # discs as drawn, and what lies between: none of them is a lens or a crack
    disc, between = np.pi / 4 * STEP**2, (1 - np.pi / 4) * STEP**2
    areas = np.sort(found.area[1:])
    few = (n - 1) * (m - 1)
    assert areas[:few] == pytest.approx(between, abs=STEP * PEN)
    assert areas[few:] == pytest.approx(disc, abs=STEP * PEN)


@pytest.mark.parametrize("as_path", [False, True])
def test_circles_farther_apart_than_the_pen_do_not_touch(as_path: bool) -> None:
    text = grid(5, 5, 0.05, 1, apart=0.8, as_path=as_path)
    found = build_arrangement(read_linework(text, name="apart.svg"))
    assert found.face_count - 1 == 25


def test_circles_that_all_overlap_keep_their_lenses() -> None:
    text = grid(5, 5, 0.0, 1, apart=-0.6)
    found = build_arrangement(read_linework(text, name="over.svg"))
    assert found.face_count - 1 == 25 + 40 + 16


def test_a_few_circles_among_many_lines_touch_by_chance_alone() -> None:
    # every two of the lines cross once, and no three: Euler's formula
    rng = random.Random(4)
    lines = "".join(
        f'<line x1="{5 + 4 * k}" y1="3" x2="{rng.uniform(5, 170):.3f}" y2="177"/>'
        for k in range(40)
    )
    text = grid(2, 2, 0.08, 3).replace(b"</svg>", lines.encode() + b"</svg>")
    found = build_arrangement(read_linework(text, name="few.svg"))
    assert found.tolerance.touch == 0


def test_what_is_drawn_with_too_wide_a_pen_is_closed_no_farther_than_gaps_are() -> None:
    wide = grid(5, 5, 0.08, 1).replace(b'stroke-width="0.4"', b'stroke-width="1e9"')
    tolerance = build_arrangement(read_linework(wide, name="wide.svg")).tolerance
    assert tolerance.touch < STEP
    left_open = build_arrangement(
        read_linework(grid(5, 5, 0.08, 1), name="open.svg"), close_gaps=0.0
    )
    assert left_open.tolerance.touch == 0


@pytest.mark.parametrize("join_within", [None, 0.05, 0.2, 0.4])
def test_arches_on_a_line_touch_at_their_feet_alone(join_within: float | None) -> None:
    # each arch touches the next ones at both of its ends, which are two places
    n, r = 10, 6.3
    arches = "".join(
        f'<path d="M37,{37 + 2 * r * k:.1f}a{r},{r} 0 0 0 0,{2 * r}"/>'
        for k in range(n)
    )
    frames = f'<path d="M37,37v{2 * r * n}h20V37zM20,20v{34 + 2 * r * n}h60V20z"/>'
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="200mm" '
        'viewBox="0 0 100 200"><g fill="none" stroke="#222" '
        f'stroke-width=".5">{frames}{arches}</g></svg>'
    )
    found = build_arrangement(
        read_linework(drawing.encode(), name="arches.svg"), join_within=join_within
    )
    area = np.sort(found.area[1:])
    assert len(area) == n + 2
    # half a disc; what is one point moves its feet
    assert area[:n] == pytest.approx(np.pi * r**2 / 2, rel=0.003)
