"""Numbers that isometries leave alone, and how regions are compared in turn."""

from __future__ import annotations

from itertools import combinations_with_replacement, pairwise, permutations
from math import factorial, prod

import numpy as np
import pytest

from fillwork.symmetry.faces import congruence
from fillwork.symmetry.faces.measures import measure_faces
from tests.unit.symmetry.answers import given, some
from tests.unit.symmetry.test_faces import box, rings

SHAPES = {
    "triangle": [[100.0, 100], [130, 105], [110, 140]],
    "kite": [[100.0, 100], [120, 90], [160, 100], [120, 110]],
    "hollow": [[100.0, 100], [150, 100], [150, 150], [130, 115]],
    "arrow": [[100.0, 100], [140, 120], [100, 140], [112, 118], [90, 120]],
}


def mean_over(triangle, of) -> complex:
    """Return the mean over a triangle of a product of its points and their conjugates.

    The weights of the corners are Dirichlet distributed with all parameters 1: the mean
    of a product of weights to the powers a, b and c is 2 a! b! c! / (2 + a + b + c)!.
    `of`: for each factor whether it is conjugate.
    """
    total = 0j
    for rows in np.ndindex(*[3] * len(of)):
        powers = np.bincount(rows, minlength=3)
        share = 2 * prod(map(factorial, powers.tolist())) / factorial(2 + len(of))
        terms = [
            triangle[k].conjugate() if bar else triangle[k]
            for k, bar in zip(rows, of, strict=True)
        ]
        total += share * prod(terms)
    return total


@pytest.mark.parametrize("name", list(SHAPES))
@pytest.mark.parametrize("turn", [0.0, 1.1])
@pytest.mark.parametrize("mirrored", [False, True])
def test_traits_are_moments_about_the_middle(name, turn, mirrored) -> None:
    z = np.array(SHAPES[name]) @ np.array([1, 1j])
    z = (z.conj() if mirrored else z) * np.exp(1j * turn)
    z = z - z.min() + 300 + 300j
    drawing = rings(np.column_stack([z.real, z.imag]))
    measures = measure_faces(drawing)
    # about the middle of the whole, as triangles that it makes with each side
    sides = [*pairwise(z), (z[-1], z[0])]
    area = sum((p.conjugate() * q).imag / 2 for p, q in sides)
    middle = sum((p.conjugate() * q).imag / 6 * (p + q) for p, q in sides) / area
    own = z - middle
    sides = [*pairwise(own), (own[-1], own[0])]

    def moment(*of):
        whole = sum(
            (p.conjugate() * q).imag / 2 * mean_over([0j, p, q], of) for p, q in sides
        )
        return whole / area

    size = np.sqrt(abs(area))
    length = sum(abs(q - p) for p, q in sides)
    told = congruence.traits_of(drawing, measures, np.array([1]))
    wanted = [
        size,
        length / 4,
        abs(moment(False, True)) / size,
        abs(moment(False, False)) / size,
        abs(moment(False, False, False)) / size**2,
        abs(moment(False, False, True)) / size**2,
    ]
    assert told[0] == pytest.approx(wanted, rel=1e-6)


def test_means_over_a_triangle_are_those_of_its_corners() -> None:
    # the middle of area, and a second moment by its closed form: the sum over pairs of
    # corners, each twice with itself, over twelve
    z = [1 + 2j, 4 - 1j, -2 + 5j]
    assert mean_over(z, [False]) == pytest.approx(sum(z) / 3)
    pairs = combinations_with_replacement(z, 2)
    assert mean_over(z, [False, False]) == pytest.approx(
        sum(a * b for a, b in pairs) / 6
    )
    for order in permutations(z):
        assert mean_over(order, [False, True]) == pytest.approx(
            mean_over(z, [True, False])
        )


def test_groups_of_several_are_compared_some_thousands_at_a_time(monkeypatch) -> None:
    monkeypatch.setattr(congruence, "_BATCH", 5)
    # groups of three, one, two, four and two
    group = np.array([3, 0, 3, 1, 0, 2, 3, 0, 2, 3, 4, 4])
    told = [rows.tolist() for rows in congruence._batches(group)]
    # whole groups up to the first that ends at five or beyond
    assert told == [[1, 4, 7, 5, 8], [0, 2, 6, 9, 10, 11]]
    monkeypatch.setattr(congruence, "_BATCH", 1)
    told = [rows.tolist() for rows in congruence._batches(group)]
    assert told == [[1, 4, 7], [5, 8], [0, 2, 6, 9], [10, 11]]
    assert list(congruence._batches(np.arange(4))) == []


def test_kinds_of_batches_are_numbered_on(monkeypatch) -> None:
    group = np.array([0, 0, 1, 1, 2, 3, 3])

    def compared(arrangement, faces, group, slack, budget):
        count = len(faces)
        # the first of a batch alone where the budget is spent
        kind = np.where(budget > 2, np.arange(count) % 2, -1)
        kind = np.where(np.arange(count) % 2, kind, 0 if budget > 2 else -1)
        return kind, np.ones(count, int), np.full(count, 0.5), np.full(count, 4), count

    monkeypatch.setattr(congruence, "_BATCH", 1)
    for budget, kinds, left in (
        (9, [0, 1, 2, 3, 6, 4, 5], 0),
        (5, [0, 1, 2, 3, 4, 5, 6], 2),
        (2, list(range(7)), 6),
    ):
        monkeypatch.setattr(congruence, "_COMPARED", budget)
        given(monkeypatch, congruence, _compare_groups=compared)
        told = congruence._compare_all(None, some(7), group, 0.1)
        assert told[0].tolist() == kinds
        assert told[4] == left
        # what is alone in its group is not compared
        assert (told[1][4], told[2][4], told[3][4]) == (0, 0, 1)
        assert (told[1][0], told[2][0], told[3][0]) == (1, 0.5, 4)


def test_copies_stand_for_each_other_but_for_what_has_holes() -> None:
    one, far = box(50, 50, 30, 20), box(120, 50, 30, 20)
    other = box(50, 120, 20, 30)
    holed = [box(120, 120, 30, 20), box(130, 125, 5, 5)]
    again = [box(200, 120, 30, 20), box(210, 125, 5, 5)]
    drawing = rings(one, far, other, *holed, *again)
    at = [
        (65, 60),
        (135, 60),
        (60, 135),
        (121, 121),
        (201, 121),
        (132, 127),
        (212, 127),
    ]
    faces = drawing.faces_at(np.array(at, float))
    lead, like = congruence._copies(drawing, faces)
    assert like[0] == like[1]
    assert like[5] == like[6]
    assert len(set(like.tolist())) == 5
    assert (like[lead] == np.arange(len(lead))).all()
    assert {at[k] for k in lead.tolist()} == {
        (65, 60),
        (60, 135),
        (121, 121),
        (201, 121),
        (132, 127),
    }


def test_shares_with_a_mirror_or_a_turn_of_their_own() -> None:
    scalene = np.array(SHAPES["triangle"])
    drawing = rings(
        box(50, 50, 30, 20), scalene + np.array([100, 0]), box(300, 300, 20, 20)
    )
    at = np.array([(65.0, 60), (212, 112), (310, 310)])
    faces = drawing.faces_at(at)
    assert congruence.share_alike_alone(drawing, faces, 0.01) == pytest.approx(2 / 3)
    assert congruence.share_alike_alone(drawing, faces[1:2], 0.01) == 0
    # a parallelogram turns by half and has no mirror
    skew = np.array([[400.0, 400], [440, 400], [450, 420], [410, 420]])
    other = rings(skew)
    assert congruence.share_alike_alone(other, np.array([1]), 0.01) == 1
    # an isosceles triangle has a mirror and no turn
    tall = np.array([[400.0, 400], [420, 400], [410, 450]])
    assert congruence.share_alike_alone(rings(tall), np.array([1]), 0.01) == 1


def test_regions_are_compared_with_the_first_of_their_group(monkeypatch) -> None:
    # outlines of one number each: 0 and 0.1 are alike, 5 and 5.1, and 9 mirrored
    values = np.array([0.0, 5.0, 0.1, 5.1, -9.0, 9.0])

    def compare(series, others):
        # the conjugate stands for the mirror image: here the number with its sign
        return np.abs(series - others).real, np.full(len(series), 0.25)

    given(
        monkeypatch,
        congruence,
        _outlines=(values * 1j, np.full(6, 100.0)),
        _compare=compare,
        _rotation_order=lambda series, near: np.full(len(series), 3),
    )
    group = np.zeros(6, int)
    told = congruence._compare_groups(None, some(6), group, 0.1, 99)
    kind, side, angle, fold, spent = told
    # 4e-3 of the radius is 0.4: one after another is what others are compared with
    assert kind.tolist() == [0, 1, 0, 1, 2, 2]
    assert side.tolist() == [0, 0, 0, 0, 0, 1]
    assert (angle == 0.25).all()
    assert (fold == 3).all()
    # six, then four, then two outlines
    assert spent == 12
    kind, *_, spent = congruence._compare_groups(None, some(6), group, 0.1, 11)
    assert (kind.tolist(), spent) == ([0, 1, 0, 1, -1, -1], 10)
    kind, *_, spent = congruence._compare_groups(None, some(6), group, 0.1, 10)
    assert (kind.tolist(), spent) == ([0, 1, 0, 1, -1, -1], 10)
    kind, *_, spent = congruence._compare_groups(None, some(6), group, 0.1, 5)
    assert ((kind == -1).all(), spent) == (True, 0)
    # twice what lines miss by, where that is more
    kind, *_ = congruence._compare_groups(None, some(6), group, 2.6, 99)
    assert kind.tolist() == [0, 0, 0, 0, 1, 1]
