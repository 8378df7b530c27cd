import itertools
import tracemalloc

import pytest

from fillwork.colouring.counterchange.subgroups import (
    conjugacy_classes,
    conjugate,
    find_subgroups,
    read_pattern_group,
    subgroup_name,
)
from fillwork.colouring.counterchange.words import say_choice
from fillwork.errors import SymmetryError
from tests.unit.colouring import pattern_groups as ideal

EVERY = [("plane", s) for s in ideal.PLANE] + [("frieze", s) for s in ideal.FRIEZE]


def group_of(family, short):
    return ideal.plane(short) if family == "plane" else ideal.frieze(short)


@pytest.mark.parametrize(("family", "short"), EVERY)
def test_the_whole_group_bears_its_own_name(family, short):
    group = group_of(family, short)
    (whole,) = find_subgroups(group, 1)
    assert subgroup_name(group, whole) == short


@pytest.mark.parametrize(("family", "short"), EVERY)
def test_subgroups_are_closed_and_have_their_index(family, short):
    group = group_of(family, short)
    for index in (2, 3, 4):
        for sub in find_subgroups(group, index):
            for a, b in itertools.product(sub.parts, repeat=2):
                assert sub.contains(group.multiply(a, b))
                assert sub.contains(group.multiply(group.invert(a), b))
            for g, _ in sub.parts:
                for row in sub.lattice:
                    assert sub.contains((0, group.act(g, row)))
            size = 1
            for k, row in enumerate(sub.lattice):
                size *= row[k]
            assert group.order * size == index * len(sub.parts)


@pytest.mark.reference("International Tables A: subgroups that keep all shifts")
@pytest.mark.parametrize(
    ("short", "told"),
    [
        (
            "pmg",
            {
                "p2": "mirror images and glides change them; half-turns keep them",
                "pm": "half-turns and glides change them; mirror images keep them",
                "pg": "half-turns and mirror images change them; glides keep them",
            },
        ),
        (
            "p4g",
            {
                "p4": "mirror images and glides change them; half-turns and "
                "quarter-turns keep them",
                "pgg": "quarter-turns and mirror images change them; half-turns and "
                "glides keep them",
                "cmm": "quarter-turns and glides change them; half-turns and mirror "
                "images keep them",
            },
        ),
    ],
)
def test_mirrors_and_glides_are_told_apart_where_every_repeat_is_alike(short, told):
    group = ideal.plane(short)
    found = {
        subgroup_name(group, sub): say_choice(group, sub, 2)
        for sub in find_subgroups(group, 2)
        if sub.lattice == ((1, 0), (0, 1))
    }
    assert found == {
        name: f"2 colours: every repeat is coloured alike; {words}"
        for name, words in told.items()
    }


@pytest.mark.parametrize("short", ["p4m", "p31m", "p6", "pgg", "cmm"])
def test_products_are_associative_and_inverses_undo(short):
    group = ideal.plane(short)
    some = [(g, (g % 3 - 1, 2 - g % 2)) for g in range(group.order)]
    for a, b, c in itertools.product(some, repeat=3):
        left = group.multiply(group.multiply(a, b), c)
        assert left == group.multiply(a, group.multiply(b, c))
    for a in some:
        assert group.multiply(a, group.invert(a)) == (0, (0, 0))


def test_conjugate_subgroups_have_one_name_and_normal_ones_stand_alone():
    group = ideal.plane("p6m")
    for index in (2, 3, 4):
        classes = conjugacy_classes(group, find_subgroups(group, index))
        for members in classes:
            assert len({subgroup_name(group, m) for m in members}) == 1
            if index == 2:
                assert len(members) == 1
            assert conjugate(group, members[0], (0, (0, 0))) == members[0]


def test_a_rosette_of_many_turns_takes_memory_by_pairs_of_them():
    # Dn has 2n operations; (2n)^3 distances of 2 x 2 parts would be 227 MB at n = 96
    tracemalloc.start()
    group = ideal.rosette(96, mirrors=True)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 100e6
    # turns by k and l make one by k + l (mod n)
    turns = [row[:96] for row in group.product[:96]]
    assert turns == [tuple((k + m) % 96 for m in range(96)) for k in range(96)]


@pytest.mark.parametrize("n", range(1, 13))
@pytest.mark.parametrize("index", [2, 3, 4, 6])
def test_rosettes(n, index):
    # Cn: one if K divides n; Dn: one if K divides n and one more for K even with
    # K/2 dividing n (elementary)
    group = ideal.rosette(n, mirrors=False)
    assert len(find_subgroups(group, index)) == (n % index == 0)
    group = ideal.rosette(n, mirrors=True)
    classes = conjugacy_classes(group, find_subgroups(group, index))
    turning = index % 2 == 0 and n % (index // 2) == 0
    # types: conjugate in the rosette that also holds the half steps
    assert len({subgroup_name(group, c[0]) for c in classes}) == (
        (n % index == 0) + turning
    )


def test_operations_that_do_not_close_are_refused():
    maps, basis = ideal.plane_maps("p4")
    with pytest.raises(SymmetryError):
        read_pattern_group(maps[:3], basis)


def test_no_index_below_one():
    with pytest.raises(ValueError, match="index 0"):
        find_subgroups(ideal.plane("p1"), 0)
