"""Perfect colourings of the regular tilings, three ways.

As D. Frettlöh does it (Counting perfect colourings of plane regular tilings,
arXiv:0807.4630; the method from its abstract and introduction, its tables were not
at hand): perfect colourings with k colours are the subgroups of index k that
contain the stabiliser of a tile. Beside ours they are counted by sympy's coset
enumeration from a presentation, and where number theory has a formula by that.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from fillwork.colouring.counterchange.subgroups import find_subgroups
from fillwork.symmetry.groups import general_positions
from tests.reference.test_counterchange_counts import fp_group
from tests.unit.colouring import pattern_groups as ideal

# tiling: group with mirrors, its generators that keep a tile; group of its turns,
# the generator that keeps a tile; a tile's centre in the basis
TILINGS = {
    "squares": ("p4m", (0, 1), "p4", (0,), (0, 0)),
    "hexagons": ("p6m", (0, 1), "p6", (0,), (0, 0)),
    "triangles": ("p6m", (1, 2), "p6", (1,), (Fraction(1, 3), Fraction(2, 3))),
}


def stabiliser(short, centre):
    """Return the operations that keep a point, exactly, from general positions."""
    found = []
    for g, position in enumerate(general_positions("plane", short)):
        a, b, c, d = position.matrix
        x, y = centre
        moved = (
            a * x + b * y + Fraction(position.shift[0]),
            c * x + d * y + Fraction(position.shift[1]),
        )
        over = [Fraction(p) - q for p, q in zip(centre, moved, strict=True)]
        if all(v.denominator == 1 for v in over):
            found.append((g, tuple(int(v) for v in over)))
    return found


def ours(short, centre, most):
    group = ideal.plane(short)
    kept = stabiliser(short, centre)
    return [
        sum(all(h.contains(s) for s in kept) for h in find_subgroups(group, k))
        for k in range(1, most + 1)
    ]


def by_cosets(short, kept, most):
    from sympy.combinatorics.fp_groups import low_index_subgroups

    group = fp_group(short)
    words = [group.free_group.generators[k] for k in kept]
    found = [0] * (most + 1)
    for table in low_index_subgroups(group, most, words):
        # as many conjugates hold the stabiliser as cosets are kept by it
        rows = table.table
        if not holds(group, table):
            continue
        columns = [table.A_dict[w] for w in words]
        fixed = sum(all(row[c] == k for c in columns) for k, row in enumerate(rows))
        same = sum(relabels(rows, start) for start in range(len(rows)))
        assert fixed % same == 0
        found[len(rows)] += fixed // same
    return found[1:]


def holds(group, table):
    """Say whether every relator keeps every coset; sympy 1.14 lets some that do not."""
    for relator in group.relators:
        for coset in range(len(table.table)):
            at = coset
            for letter in relator.letter_form_elm:
                at = table.table[at][table.A_dict[letter]]
            if at != coset:
                return False
    return True


def relabels(rows, start):
    label, waiting = {0: start}, [0]
    for row in waiting:  # grows while it is walked
        for a, b in zip(rows[row], rows[label[row]], strict=True):
            if a not in label:
                label[a] = b
                waiting.append(a)
            elif label[a] != b:
                return False
    return True


@pytest.mark.reference("Frettlöh's method by sympy low_index_subgroups")
@pytest.mark.parametrize("tiling", TILINGS)
def test_perfect_colourings_agree_with_coset_enumeration(tiling):
    whole, kept, _, _, centre = TILINGS[tiling]
    assert ours(whole, centre, 9) == by_cosets(whole, kept, 9)


@pytest.mark.reference("Frettlöh's method by sympy low_index_subgroups, turns only")
@pytest.mark.parametrize("tiling", TILINGS)
def test_colourings_perfect_under_turns_agree_with_coset_enumeration(tiling):
    _, _, turns, kept, centre = TILINGS[tiling]
    assert ours(turns, centre, 12) == by_cosets(turns, kept, 12)


def numbers(most, *forms):
    """Return for k = 1 ... most how many of the forms c n² give k."""
    return [
        sum(k % c == 0 and math.isqrt(k // c) ** 2 == k // c for c in forms)
        for k in range(1, most + 1)
    ]


@pytest.mark.reference("sublattices kept by 4mm and 6mm: n² and 2n²; n² and 3n²")
def test_squares_and_hexagons_by_formula():
    assert ours("p4m", (0, 0), 36) == numbers(36, 1, 2)
    assert ours("p6m", (0, 0), 36) == numbers(36, 1, 3)


@pytest.mark.reference("ideals of norm k: OEIS A002654 (Gauss), A002324 (Eisenstein)")
def test_turns_of_squares_and_hexagons_by_ideals():
    def ideals(k, modulus, sign):
        return sum(sign[d % modulus] for d in range(1, k + 1) if k % d == 0)

    gauss = [ideals(k, 4, (0, 1, 0, -1)) for k in range(1, 37)]
    assert gauss[:10] == [1, 1, 0, 1, 2, 0, 0, 1, 1, 2]  # A002654 begins so
    assert ours("p4", (0, 0), 36) == gauss
    eisenstein = [ideals(k, 3, (0, 1, -1)) for k in range(1, 37)]
    assert eisenstein[:10] == [1, 0, 1, 1, 0, 0, 2, 0, 1, 0]  # A002324 begins so
    assert ours("p6", (0, 0), 36) == eisenstein
