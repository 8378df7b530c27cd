"""Names that differ for all kinds of a drawing."""

from __future__ import annotations

import numpy as np

from fillwork.symmetry.kinds.names import make_unique


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
