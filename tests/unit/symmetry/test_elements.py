"""Centres and axes of every group, its sentence and its names."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import ndimage

from fillwork.errors import SymmetryError
from fillwork.symmetry.elements import describe, elements
from fillwork.symmetry.grids import count_parts, fast_length, local_peaks
from fillwork.symmetry.groups import parse_group, rosette_group
from fillwork.symmetry.model import Lattice, Operation, Symmetry
from tests.unit.colouring.pattern_groups import frieze_maps, plane_maps, rosette_maps


def kind_of(m) -> tuple[str, int]:
    """Return kind and order of an isometry, from its matrix."""
    a, b, c, d, e, f = m
    if a * d - b * c > 0:
        angle = abs(math.atan2(b, a))
        return ("rotation", round(2 * math.pi / angle)) if angle > 1e-9 else IDENTITY
    half = math.atan2(b, a) / 2
    slides = abs(math.cos(half) * e + math.sin(half) * f) > 1e-9
    return ("glide", 0) if slides else ("reflection", 2)


IDENTITY = ("identity", 1)
KINDS = {"p1": "oblique", "p2": "oblique", "p3": "hexagonal", "p6": "hexagonal"}


def symmetry(family: str, short: str, turn: float = 0.0, **facts) -> Symmetry:
    """Return a group about (20, -30), turned."""
    if family == "rosette":
        maps, basis = rosette_maps(int(short[1:]), mirrors=short[0] == "D")
    else:
        maps, basis = (plane_maps if family == "plane" else frieze_maps)(short)
    c, s = math.cos(turn), math.sin(turn)
    spin, centre = np.array([[c, -s], [s, c]]), np.array([20.0, -30.0])
    operations = []
    for m in maps:
        linear = spin @ np.array([[m[0], m[2]], [m[1], m[3]]]) @ spin.T
        shift = spin @ m[4:] + centre - linear @ centre
        told = (*linear.T.ravel().tolist(), *shift.tolist())
        operations.append(Operation(told, *kind_of(m)))
    kind = "hexagonal" if short[:2] in ("p3", "p6") else "rectangular"
    lattice = Lattice(basis @ spin.T, kind) if len(basis) else None
    name = f"{family}:{short}"
    group = parse_group(name)
    return Symmetry(group, lattice, tuple(centre), tuple(operations), **facts)


# a turn by 2 pi / n fixes 4 - 4 cos² (pi / n) = |det (1 - R)| points of a cell: 4, 3, 2
# and 1; those of higher order count among them. Each direction of axes has two modulo
# shifts: of a rectangular lattice both are alike, of a rhombic one a mirror, a glide
PLANE = {
    "p1": ({}, 0, 0),
    "p2": ({2: 4}, 0, 0),
    "pm": ({}, 2, 0),
    "pg": ({}, 0, 2),
    "cm": ({}, 1, 1),
    "pmm": ({2: 4}, 4, 0),
    "pmg": ({2: 4}, 2, 2),
    "pgg": ({2: 4}, 0, 4),
    "cmm": ({2: 4}, 2, 2),
    "p4": ({4: 2, 2: 2}, 0, 0),
    "p4m": ({4: 2, 2: 2}, 6, 2),
    "p4g": ({4: 2, 2: 2}, 2, 6),
    "p3": ({3: 3}, 0, 0),
    "p3m1": ({3: 3}, 3, 3),
    "p31m": ({3: 3}, 3, 3),
    "p6": ({6: 1, 3: 2, 2: 3}, 0, 0),
    "p6m": ({6: 1, 3: 2, 2: 3}, 6, 6),
}
FRIEZE = {
    "p1": ({}, 0, 0),
    "p11g": ({}, 0, 1),
    "p1m1": ({}, 2, 0),
    "p2": ({2: 2}, 0, 0),
    "p11m": ({}, 1, 0),
    "p2mg": ({2: 2}, 2, 1),
    "p2mm": ({2: 2}, 3, 0),
}
ROSETTES = {
    "C5": ({5: 1}, 0, 0),
    "D1": ({}, 1, 0),
    "D4": ({4: 1}, 4, 0),
    "D7": ({7: 1}, 7, 0),
}
GROUPS = [
    (family, short, *counts)
    for family, table in (("plane", PLANE), ("frieze", FRIEZE), ("rosette", ROSETTES))
    for short, counts in table.items()
]


@pytest.mark.parametrize(("family", "short", "orders", "mirrors", "glides"), GROUPS)
@pytest.mark.parametrize("turn", [0.0, 0.37])
def test_a_cell_has_the_elements_of_its_group(
    family, short, orders, mirrors, glides, turn
):
    whole = symmetry(family, short, turn)
    found = elements(whole)
    told = found.orders.tolist()
    assert {n: told.count(n) for n in set(told)} == orders
    assert (len(found.mirrors), len(found.glides)) == (mirrors, glides)
    assert found.cell[0].tolist() == [20.0, -30.0]
    basis = np.zeros((2, 2))
    if whole.lattice is not None:
        basis[: len(whole.lattice.basis)] = whole.lattice.basis
    assert found.cell[1:].tolist() == basis.tolist()
    # each element is one of an operation and a shift: carried onto itself by it
    step = basis.T @ np.mgrid[-3:4, -3:4].reshape(2, -1)
    for point, order in zip(found.centres, found.orders, strict=True):
        images = [
            linear_of(o) @ point + o.map[4:]
            for o in whole.operations
            if o.kind == "rotation" and o.order == order
        ]
        assert any(miss(image - point, step) < 1e-9 for image in images)
        # within the cell from its origin
        along = np.linalg.pinv(basis.T) @ (point - found.cell[0])
        assert ((along > -1e-5) & (along < 1)).all()
    for axes in (found.mirrors, found.glides):
        for x, y, dx, dy in axes:
            assert math.hypot(dx, dy) == pytest.approx(1)
            mirror = 2 * np.outer([dx, dy], [dx, dy]) - np.eye(2)
            point = np.array([x, y])
            off = [
                across_miss(linear_of(o) @ point + o.map[4:] - point, step, (dx, dy))
                for o in whole.operations
                if np.allclose(linear_of(o), mirror)
            ]
            assert min(off) < 1e-9


def linear_of(operation: Operation) -> np.ndarray:
    a, b, c, d, _, _ = operation.map
    return np.array([[a, c], [b, d]])


def miss(offset: np.ndarray, step: np.ndarray) -> float:
    return float(np.hypot(*(offset[:, None] - step)).min())


def across_miss(offset: np.ndarray, step: np.ndarray, way) -> float:
    return float(np.abs(np.array([-way[1], way[0]]) @ (offset[:, None] - step)).min())


# oblique (7, 0) and (2.3, 5.9): √(2.3² + 5.9²) = 6.33 mm, atan(5.9 / 2.3) = 69°; a
# rhombus of 7 by 4.6: sides of √(3.5² + 2.3²) = 4.19 mm, 180° - 2 atan(2.3 / 3.5)
# = 113°
OBLIQUE = "repeats every 7 mm one way and 6.3 mm the other, at 69°"
RECTANGLE = "repeats every 7 mm one way and 4.6 mm the other, at 90°"
RHOMBUS = "repeats every 4.2 mm two ways at 113°"
SQUARE = "repeats every 6 mm two ways at 90°; quarter turns and, elsewhere, half turns"
HEXAGON = "repeats every 6 mm three ways at 120°"
SIXTH = f"{HEXAGON}; sixth turns and, elsewhere, third turns and half turns"
STRIP = "repeats every 5 mm along the strip"
SAID = {
    "plane": {
        "p1": OBLIQUE,
        "p2": f"{OBLIQUE}; half turns",
        "pm": f"{RECTANGLE}; mirrors",
        "pg": f"{RECTANGLE}; glides",
        "cm": f"{RHOMBUS}; mirrors; glides between them",
        "pmm": f"{RECTANGLE}; half turns; mirrors through their centres",
        "pmg": f"{RECTANGLE}; half turns; mirrors beside their centres; "
        "glides between them",
        "pgg": f"{RECTANGLE}; half turns; glides",
        "cmm": f"{RHOMBUS}; half turns; mirrors through some of their centres; "
        "glides between them",
        "p4": SQUARE,
        "p4m": f"{SQUARE}; mirrors through their centres; glides between them",
        "p4g": f"{SQUARE}; mirrors beside their centres; glides between them",
        "p3": f"{HEXAGON}; third turns",
        "p31m": f"{HEXAGON}; third turns; mirrors through some of their centres; "
        "glides between them",
        "p3m1": f"{HEXAGON}; third turns; mirrors through their centres; "
        "glides between them",
        "p6": SIXTH,
        "p6m": f"{SIXTH}; mirrors through their centres; glides between them",
    },
    "frieze": {
        "p1": STRIP,
        "p2mg": f"{STRIP}; half turns; mirrors beside their centres; "
        "glides between them",
    },
    "rosette": {
        "C5": "turns by 1/5 about one centre",
        "D1": "one mirror",
        "D8": "turns by 1/8 about one centre; 8 mirrors through it",
    },
}


@pytest.mark.parametrize(
    ("family", "short", "said"),
    [(family, short, said) for family in SAID for short, said in SAID[family].items()],
)
def test_a_symmetry_is_said_in_one_sentence(family, short, said):
    assert describe(symmetry(family, short, 0.37)) == said
    doubtful = symmetry(family, short, certain=False, reason="a corner is missing")
    assert describe(doubtful) == f"{said} (not certain: a corner is missing)"


def test_no_symmetry_says_why():
    assert describe(Symmetry(parse_group("none"))) == "no symmetry"
    why = Symmetry(parse_group("none"), reason="too few lines")
    assert describe(why) == "no symmetry: too few lines"
    # from a metre on whole millimetres
    wide = Lattice(np.array([[1234.56, 0.0]]), "line")
    strip = Symmetry(parse_group("frieze:p1"), wide)
    assert describe(strip) == "repeats every 1235 mm along the strip"


@pytest.mark.parametrize(
    ("name", "full", "orbifold"),
    [
        ("plane:p4m", "p4mm", "*442"),
        (" Plane: P4MM ", "p4mm", "*442"),
        ("frieze:p2mg", "p2mg", "2*∞"),
        ("frieze:p112", "p112", "22∞"),
        ("rosette:D1", "m", "*1•"),
        ("rosette:d7", "7m", "*7•"),
        ("rosette:D8", "8mm", "*8•"),
        ("rosette:c360", "360", "360•"),
        ("rosette:C1", "none", ""),
        ("none", "none", ""),
    ],
)
def test_groups_are_known_by_their_names(name, full, orbifold):
    group = parse_group(name)
    assert (group.full, group.orbifold) == (full, orbifold)
    assert parse_group(group.title.replace(" ", ":")) == group


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        ("plane:p5", "plane groups are p1 p2 pm pg"),
        ("frieze:p4m", "frieze groups are p1 p11g"),
        ("rosette:C361", "say rosette:C2 ... C360 or D1 ... D360"),
        ("rosette:D0", "say rosette:C2"),
        ("rosette:E4", "say rosette:C2"),
        ("p4m", "say plane:p4m$"),
        ("p2", "say plane:p2 or frieze:p2$"),
        ("d8", "say rosette:D8$"),
        ("none:p1", "say plane:NAME, frieze:NAME, rosette:NAME or none"),
        ("star", "say plane:NAME"),
    ],
)
def test_what_is_no_group_is_told_what_is(name, mend):
    with pytest.raises(SymmetryError, match="no symmetry group called") as told:
        parse_group(name)
    assert told.match(mend)


def test_a_turn_by_nothing_is_no_symmetry():
    assert rosette_group(1, mirrors=False).title == "none"
    assert rosette_group(1, mirrors=True).title == "rosette D1"


def test_fast_lengths_are_the_least_products_of_2_3_and_5():
    products = sorted(
        2**i * 3**j * 5**k for i in range(13) for j in range(9) for k in range(6)
    )
    for least in range(1, 2049):
        assert fast_length(least) == next(p for p in products if p >= least)
    assert fast_length(0) == 1


@pytest.mark.parametrize("share", [0.02, 0.4, 0.6, 1.0])
def test_parts_and_peaks_of_a_grid_are_scipys(share):
    rng = np.random.default_rng(7)
    for shape in ((40, 70), (1, 30), (25, 1)):
        inside = rng.random(shape) < share
        labels, parts = ndimage.label(inside)
        largest = np.bincount(labels[inside]).max(initial=0)
        assert count_parts(inside) == (parts, largest)
        heights = rng.integers(0, 9, shape)
        top = ndimage.maximum_filter(heights, size=3, mode="wrap")
        assert (local_peaks(heights) == (heights == top)).all()
    assert count_parts(np.zeros((4, 5), bool)) == (0, 0)
