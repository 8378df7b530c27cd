"""Names that differ for all kinds of a drawing."""

from __future__ import annotations

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.kinds.names import make_unique
from fillwork.symmetry.kinds.outlines import outlines_of
from fillwork.symmetry.kinds.shape import name_outline


def test_a_name_of_one_kind_stays_plain() -> None:
    assert make_unique(["square", "kite"], np.array([4.0, 2.0]), [[], []]) == [
        "square",
        "kite",
    ]


def test_sizes_part_kinds_of_one_name() -> None:
    area = np.array([9.0, 4.0, 1.0])
    assert make_unique(["kite"] * 3, area, [[], [], []]) == [
        "large kite",
        "middle kite",
        "small kite",
    ]


def test_a_neighbour_parts_kinds_of_one_size() -> None:
    base = ["8-point star", "hexagon", "kite", "kite"]
    neighbours = [[(2, 1.0)], [(3, 1.0)], [(0, 1.0)], [(1, 1.0)]]
    assert make_unique(base, np.array([9.0, 8.0, 2.0, 2.0]), neighbours)[2:] == [
        "kite beside the 8-point star",
        "kite beside the hexagon",
    ]


def test_a_number_parts_what_nothing_else_does() -> None:
    area = np.array([2.0, 2.0])
    assert make_unique(["kite", "kite"], area, [[(1, 1.0)], [(0, 1.0)]]) == [
        "kite 1",
        "kite 2",
    ]


def test_names_are_unique_whatever_the_kinds() -> None:
    rng = np.random.default_rng(5)
    for _ in range(50):
        n = int(rng.integers(2, 40))
        base = [("kite", "square", "triangle")[k] for k in rng.integers(0, 3, n)]
        area = rng.choice([1.0, 1.02, 3.0, 7.0, 20.0], n)
        neighbours = [
            [(int(k), 1.0) for k in rng.permutation(n)[:3] if k != row]
            for row in range(n)
        ]
        names = make_unique(base, area, neighbours)
        assert len(set(names)) == n


def test_figures_whose_points_a_hand_let_miss_keep_their_names() -> None:
    # lozenges 16 by 20 in a row between rails; their points miss by up to 0.3 mm
    short = np.array([0.0, 0.3, 0.1, -0.2, 0.25, 0.05, 0.0]) / 2
    rows = [[(10, 10), (106, 10), (106, 30), (10, 30)]]
    for k in range(6):
        left, right, middle = 10 + 16 * k + short[k], 26 + 16 * k - short[k + 1], 18
        up, down = 30 - abs(short[k]), 10 + abs(short[k + 1])
        rows.append(
            [(left, 20), (middle + 16 * k, down), (right, 20), (middle + 16 * k, up)]
        )
    path = "".join("M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in r) + "Z" for r in rows)
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="40mm" '
        f'viewBox="0 0 120 40"><path d="{path}" fill="none" stroke="#000" '
        'stroke-width="0.4"/></svg>'
    )
    drawn = build_arrangement(
        read_linework(text.encode(), name="a.svg"), join_within=1e-4
    )
    assert drawn.face_count - 1 == 6 + 2 * 5 + 4
    faces = drawn.faces_at(np.array([[18.0 + 16 * k, 20.0] for k in range(6)]))
    between = drawn.faces_at(np.array([[26.0 + 16 * k, 12.0] for k in range(5)]))
    for name, of in (("rhombus", faces), ("isosceles triangle", between)):
        found = outlines_of(drawn, drawn.face_ring_start[of])
        assert {name_outline(one, 0.2) for one in found} == {name}
