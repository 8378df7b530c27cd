"""Moving a drawing changes its symmetry only as it must; operations form a group."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import SymmetryError
from fillwork.geometry import affine
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments
from tests.unit.symmetry.cells import agreement
from tests.unit.symmetry.patterns import Pattern, plane_pattern
from tests.unit.symmetry.strips import rosette_pattern, strip_pattern
from tests.unit.symmetry.truth import kinds_by_construction


def _read(segments: np.ndarray, page: tuple[float, float] | None = None):
    """Return the faces, and what was added to the points."""
    low = np.zeros(2) if page else segments.reshape(-1, 2).min(axis=0)
    moved = segments - np.tile(low, 2)
    width, height = page or moved.reshape(-1, 2).max(axis=0)
    lines = linework_from_segments(moved, width, height, has_page=page is not None)
    edge = "close" if page else "open"
    return build_arrangement(lines, page_edge=edge, close_gaps=0.0), -low


def _patterns() -> dict[str, Pattern]:
    return {
        "pg": plane_pattern("pg", 5, repeats=8),
        "cmm": plane_pattern("cmm", 5, repeats=8, noise=0.005),
        "p4g": plane_pattern("p4g", 5, repeats=8),
        "p31m": plane_pattern("p31m", 5, repeats=8),
        "p2mg": strip_pattern("p2mg", 5),
        "p11g": strip_pattern("p11g", 6),
        "C5": rosette_pattern(5, False, 5),
        "D6": rosette_pattern(6, True, 5),
    }


MOVES = {
    "turned": np.array([[0.6, -0.8], [0.8, 0.6]]),
    "larger": 7.5 * np.eye(2),
    "smaller and mirrored aslant": 0.04 * np.array([[0.28, 0.96], [0.96, -0.28]]),
}


@pytest.mark.parametrize("name", list(_patterns()))
def test_moving_changes_only_what_it_must(name: str) -> None:
    segments = _patterns()[name].segments
    first, offset = _read(segments)
    before = find_symmetry(first)
    assert before.group.short == name
    for how, matrix in MOVES.items():
        scale = float(np.sqrt(abs(np.linalg.det(matrix))))
        image = (segments.reshape(-1, 2) @ matrix.T).reshape(-1, 4)
        second, other = _read(image)
        after = find_symmetry(second)
        assert after.group.short == name, how
        assert after.certain == before.certain, how
        if before.lattice is None:
            # the one centre moves along
            centre = (np.array(before.centre) - offset) @ matrix.T + other
            assert np.hypot(*(centre - after.centre)) < 0.05 * scale, how
        else:
            # the same translations: whole combinations of each other
            basis = before.lattice.basis @ matrix.T
            along = basis @ np.linalg.pinv(after.lattice.basis)
            assert np.abs(along - np.rint(along)).max() < 0.01, how
            assert abs(np.linalg.det(np.rint(along))) == pytest.approx(1.0), how


@pytest.mark.parametrize("name", list(_patterns()))
def test_operations_form_a_group(name: str) -> None:
    found = find_symmetry(_read(_patterns()[name].segments)[0])
    lattice = np.zeros((0, 2)) if found.lattice is None else found.lattice.basis
    linear = np.array([affine.linear(o.map) for o in found.operations])
    assert found.operations[0].kind == "identity"
    for a, b in itertools.product(found.operations, repeat=2):
        product = affine.compose(a.map, b.map)
        gap = np.abs(linear - affine.linear(product)).max(axis=(1, 2))
        assert gap.min() < 1e-9
        own = found.operations[int(np.argmin(gap))].map
        shift = np.array(product[4:]) - np.array(own[4:])
        if len(lattice):
            along = shift @ np.linalg.pinv(lattice)
            shift = shift - np.rint(along) @ lattice
        assert np.abs(shift).max() < 1e-6


@pytest.mark.parametrize(
    ("drawn", "stated", "reason"),
    [
        ("p4m", "plane:p6m", "hexagonal lattice.*square"),
        ("p4m", "plane:p31m", "hexagonal lattice.*square"),
        ("pgg", "plane:p4", "square lattice.*rectangular"),
        ("p6m", "plane:p4m", "square lattice.*hexagonal"),
        ("p2", "plane:pm", "rectangular lattice.*oblique"),
    ],
)
def test_a_group_that_the_lattice_cannot_have_is_refused(
    drawn: str, stated: str, reason: str
) -> None:
    arrangement, _ = _read(plane_pattern(drawn, 5, repeats=9).segments)
    with pytest.raises(SymmetryError, match=reason):
        find_symmetry(arrangement, stated=stated)


def test_a_group_that_the_lines_contradict_is_refused_or_doubted() -> None:
    # the lattice is square, the motif has no mirror
    arrangement, _ = _read(plane_pattern("p4", 5, repeats=9).segments)
    with pytest.raises(SymmetryError, match="fits only"):
        find_symmetry(arrangement, stated="plane:p4m")
    held = find_symmetry(arrangement, stated="plane:p2")
    assert (held.group.short, held.certain) == ("p2", True)


@pytest.mark.parametrize("name", ["p1", "pg", "pgg"])
def test_lines_that_close_nothing_testify_where_the_page_cuts_them(name: str) -> None:
    # the page's edge closes regions with strokes that end free elsewhere
    pattern = plane_pattern(
        name, 100, repeats=9, symmetric=True, shape="upright", margin=1.6
    )
    low = np.array(pattern.window.bounds[:2])
    width, height = np.array(pattern.window.bounds[2:]) - low
    page = (float(width), float(height))
    arrangement, _ = _read(pattern.segments - np.tile(low, 2), page)
    (zone,) = find_zones(arrangement)
    assert zone.symmetry.group.short == name


@pytest.mark.parametrize("name", ["pm", "p31m"])
def test_pieces_as_thin_as_the_noise_belong_to_what_goes_on_behind(name: str) -> None:
    pattern = plane_pattern(
        name, 100, repeats=9, noise=0.01, shape="upright", margin=1.6
    )
    low = np.array(pattern.window.bounds[:2])
    width, height = np.array(pattern.window.bounds[2:]) - low
    page = (float(width), float(height))
    arrangement, _ = _read(pattern.segments - np.tile(low, 2), page)
    orbits = find_orbits(arrangement, find_zones(arrangement))
    kind, cut = kinds_by_construction(pattern, arrangement, -low)
    known = kind >= 0
    right = agreement(kind[known], orbits.of_face[1:][known])
    assert right[cut[known]].mean() > 0.98


def test_a_patch_cut_on_all_sides_is_no_sure_strip() -> None:
    pattern = plane_pattern("pm", 102, repeats=2, shape="upright", margin=1.6)
    low = np.array(pattern.window.bounds[:2])
    width, height = np.array(pattern.window.bounds[2:]) - low
    page = (float(width), float(height))
    arrangement, _ = _read(pattern.segments - np.tile(low, 2), page)
    found = find_symmetry(arrangement)
    assert found.group.short == "pm" or not found.certain
