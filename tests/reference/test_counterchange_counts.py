"""Numbers of subgroups against a coset enumeration and number theory."""

import pytest

from fillwork.colouring.counterchange.subgroups import (
    conjugacy_classes,
    find_subgroups,
)
from tests.unit.colouring import pattern_groups as ideal

# presentations by orbifold: rotations r, s; mirrors a, b, c, d; see Conway, Burgiel
# and Goodman-Strauss, The Symmetries of Things, 2008 (from memory)
PRESENTED = {
    "p1": ("r s", "r*s*r**-1*s**-1"),
    "p2": ("r s t", "r**2 s**2 t**2 (r*s*t)**2"),
    "p3": ("r s", "r**3 s**3 (r*s)**3"),
    "p4": ("r s", "r**4 s**4 (r*s)**2"),
    "p6": ("r s", "r**6 s**3 (r*s)**2"),
    "pg": ("r s", "r**2*s**2"),
    "pm": ("a b r", "a**2 b**2 r*a*r**-1*a b*r*b*r**-1"),
    "cm": ("a r", "a**2 r**2*a*r**-2*a"),
    "pmm": ("a b c d", "a**2 b**2 c**2 d**2 (a*b)**2 (b*c)**2 (c*d)**2 (d*a)**2"),
    "pmg": ("r s a", "r**2 s**2 a**2 r*s*a*s*r*a"),
    "pgg": ("r s", "(r*s)**2 (r**-1*s)**2"),
    "cmm": ("r a b", "r**2 a**2 b**2 (a*b)**2 (a*r*b*r)**2"),
    "p4m": ("a b c", "a**2 b**2 c**2 (a*b)**4 (b*c)**4 (a*c)**2"),
    "p4g": ("r a", "r**4 a**2 (r**-1*a*r*a)**2"),
    "p3m1": ("a b c", "a**2 b**2 c**2 (a*b)**3 (b*c)**3 (a*c)**3"),
    "p31m": ("r a", "r**3 a**2 (r**-1*a*r*a)**3"),
    "p6m": ("a b c", "a**2 b**2 c**2 (a*b)**6 (b*c)**3 (a*c)**2"),
}


def fp_group(short):
    from sympy.combinatorics.fp_groups import FpGroup
    from sympy.combinatorics.free_groups import free_group

    letters, relators = PRESENTED[short]
    free, *generators = free_group(",".join(letters.split()))
    named = dict(zip(letters.split(), generators, strict=True))
    words = [eval(word, {"__builtins__": {}}, named) for word in relators.split()]
    return FpGroup(free, words)


def counted_by_sympy(short, most):
    from sympy.combinatorics.fp_groups import low_index_subgroups

    found = dict.fromkeys(range(1, most + 1), 0)
    for table in low_index_subgroups(fp_group(short), most):
        found[len(table.table)] += 1
    return found


@pytest.mark.reference("sympy low_index_subgroups on presentations by orbifold")
@pytest.mark.parametrize("short", PRESENTED)
def test_conjugacy_classes_agree_with_coset_enumeration(short):
    group = ideal.plane(short)
    wanted = counted_by_sympy(short, 4)
    for index in (1, 2, 3, 4):
        found = conjugacy_classes(group, find_subgroups(group, index))
        assert len(found) == wanted[index], index


@pytest.mark.reference("sublattices of index n: sum of divisors, OEIS A000203")
def test_sublattices():
    group = ideal.plane("p1")
    for n in range(1, 13):
        divisors = sum(d for d in range(1, n + 1) if n % d == 0)
        assert len(find_subgroups(group, n)) == divisors


@pytest.mark.reference("subgroups of index 2 = 2**rank of the abelianised group - 1")
@pytest.mark.parametrize(
    ("short", "rank"),
    # homomorphisms onto two elements, counted by hand from the presentations
    [("p1", 2), ("p2", 3), ("pmm", 4), ("p4m", 3), ("p4", 2), ("p3", 0), ("p6m", 2)],
)
def test_index_two(short, rank):
    assert len(find_subgroups(ideal.plane(short), 2)) == 2**rank - 1
