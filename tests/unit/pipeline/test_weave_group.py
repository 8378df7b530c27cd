"""Which group a weave keeps: signs of operations, sublattices, and what is stated."""

from __future__ import annotations

import itertools
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.errors import SymmetryError
from fillwork.pipeline import weave_group
from fillwork.pipeline.weave_group import _keeping, _sign, zones_of_weave
from fillwork.symmetry.zones import find

TURN, STAY = (0.0, 1.0, -1.0, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


def crossings(level: list[int]):
    """Return crossings at the corners of a square, what is over along x or along y."""
    at = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]])
    x, y = (1.0, 0.0), (0.0, 1.0)
    return at, np.array([[(x, y), (y, x)][k] for k in level])


@pytest.mark.parametrize(
    ("level", "turned"),
    [
        # a quarter turn carries x to y: it keeps what alternates round the square
        ([0, 1, 0, 1], 1),
        ([0, 0, 0, 0], -1),
        # half and half: neither
        ([0, 0, 0, 1], 0),
    ],
)
def test_an_operation_keeps_a_weave_or_exchanges_over_and_under(level, turned) -> None:
    at, ways = crossings(level)
    assert _sign(at, ways, STAY, 0.1) == 1
    assert _sign(at, ways, TURN, 0.1) == turned
    # the way that a band runs has no direction
    assert _sign(at, -ways, TURN, 0.1) == turned
    # crossings that meet no other say nothing
    away = (1.0, 0.0, 0.0, 1.0, 9.0, 0.0)
    assert _sign(at, ways, away, 0.1) == 0
    near = (1.0, 0.0, 0.0, 1.0, 0.05, 0.0)
    assert _sign(at, ways, near, 0.06) == 1
    assert _sign(at, ways, near, 0.04) == 0


def test_a_few_crossings_beside_loose_ends_do_not_decide() -> None:
    at = np.array([[10.0 * k, 0.0] for k in range(10)])
    ways = np.tile([(1.0, 0.0), (0.0, 1.0)], (10, 1, 1))
    for odd, sign in ((1, 1), (2, 1), (3, 0), (7, 0), (8, -1), (10, -1)):
        # a shift by 100 mm onto the same row, of which some are the other way
        moved = ways.copy()
        moved[:odd] = moved[:odd, ::-1]
        both = np.vstack([at, at + np.array([100.0, 0.0])])
        shift = (1.0, 0.0, 0.0, 1.0, 100.0, 0.0)
        found = _sign(both, np.vstack([ways, moved]), shift, 0.1)
        assert found == sign, odd


@pytest.mark.parametrize("signs", list(itertools.product([1, -1], repeat=2)))
def test_shifts_that_keep_the_weave_are_a_lattice(signs) -> None:
    group = SimpleNamespace(rank=2)
    found = _keeping(group, [1], list(signs))
    if signs == (1, 1):
        assert found.lattice == ((1, 0), (0, 1))
        return
    rows = np.array(found.lattice, float)
    # of index 2, in Hermite form, and exactly the shifts of sign 1
    assert np.linalg.det(rows) == pytest.approx(2)
    assert rows[1, 0] == 0 <= rows[0, 1] < rows[1, 1]
    for a, b in itertools.product(range(-3, 4), repeat=2):
        within = np.linalg.solve(rows.T, [a, b])
        kept = signs[0] ** abs(a) * signs[1] ** abs(b) == 1
        assert np.allclose(within, np.rint(within)) == kept


def test_parts_that_exchange_are_kept_with_a_shift_that_does_too() -> None:
    # along a strip whose shift exchanges over and under, each part is kept: alone, or
    # with one shift
    strip = SimpleNamespace(rank=1)
    found = _keeping(strip, [1, -1, 1], [-1])
    assert found.lattice == ((2,),)
    assert dict(found.parts) == {0: (0,), 1: (1,), 2: (0,)}
    # where no shift does, the parts of sign 1 alone
    found = _keeping(strip, [1, -1, 1], [1])
    assert found.lattice == ((1,),)
    assert dict(found.parts) == {0: (0,), 2: (0,)}
    disc = SimpleNamespace(rank=0)
    assert dict(_keeping(disc, [1, -1], []).parts) == {0: ()}


def zone(group="p4m", *, certain=True, shifts=2):
    lattice = SimpleNamespace(basis=np.eye(2)[:shifts]) if shifts else None
    return SimpleNamespace(
        symmetry=SimpleNamespace(
            certain=certain, lattice=lattice, group=SimpleNamespace(short=group)
        )
    )


@pytest.mark.parametrize(
    ("rails", "plain", "group", "stated"),
    [
        ([zone("p4m")], [zone()], "p4g", "plane:p4g"),
        ([zone("p4m")], [zone(shifts=1)], "p2mg", "frieze:p2mg"),
        ([zone("D4")], [zone(shifts=0)], "C4", "rosette:C4"),
        # found already, or found without being sure
        ([zone("p4g")], [zone()], "p4g", None),
        ([zone("p4g", certain=False)], [zone()], "p4g", "plane:p4g"),
        # parts of their own, or middle lines that tell nothing
        ([zone(), zone()], [zone()], "p4g", None),
        ([zone()], [zone(), zone()], "p4g", None),
        ([zone()], [zone(certain=False)], "p4g", None),
        ([zone()], [zone()], None, None),
        # a group that the rails cannot have
        ([zone()], [zone()], "wrong", None),
    ],
)
def test_the_lines_say_which_group_the_bands_have(
    rails, plain, group, stated, monkeypatch
) -> None:
    rails, asked = tuple(rails), []
    middle = SimpleNamespace(face_count=9)

    def find_zones(of, stated=""):
        if of is middle:
            return tuple(plain)
        asked.append(stated)
        if "wrong" in stated:
            what = "no such group"
            raise SymmetryError(what)
        return ("as stated",)

    monkeypatch.setattr(find, "find_zones", find_zones)
    monkeypatch.setattr(weave_group, "group_of_weave", lambda *_: group)
    found = zones_of_weave(SimpleNamespace(), rails, None, middle)
    assert found == (("as stated",) if stated else rails)
    assert asked == (
        [stated] if stated else ["plane:wrong"] if group == "wrong" else []
    )
    empty = SimpleNamespace(face_count=1)
    assert zones_of_weave(SimpleNamespace(), rails, None, empty) is rails
