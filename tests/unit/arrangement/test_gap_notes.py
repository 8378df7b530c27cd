"""What is said of gaps that stay open: lengths and numbers by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.arrangement import gaps
from fillwork.arrangement.gaps import left_open
from fillwork.errors import LineWorkError


def finder(sizes, tips=6):
    """Return what knows gaps of some sizes, up to what is asked."""

    def closings(within):
        asked = np.array([s for s in sizes if s <= within.max()])
        return SimpleNamespace(size=asked)

    vertices = np.array([[0.0, 0], [300, 400]])
    return SimpleNamespace(tips=np.arange(tips), vertices=vertices, closings=closings)


def owner():
    (found,) = [v for v in vars(gaps).values() if hasattr(v, "shortest_that_closes")]
    return found


@pytest.mark.parametrize(
    ("regions", "said", "length"),
    [
        # as many regions with 0.5 as with 0.9 mm: the shorter is named
        (
            {0.22: 3, 0.55: 7, 0.99: 7},
            "3 gaps of up to 0.5 mm keep lines open",
            "0.55mm",
        ),
        (
            {0.22: 3, 0.55: 7, 0.99: 9},
            "5 gaps of up to 0.9 mm keep lines open",
            "0.99mm",
        ),
        ({0.22: 4, 0.55: 4, 0.99: 4}, "1 gap of 0.2 mm keeps lines open", "0.22mm"),
    ],
)
def test_the_shortest_gap_that_closes_most_regions_is_named(regions, said, length):
    find = finder([0.9, 0.05, 0.2, 0.5, 0.4, 0.6])
    notes = owner().shortest_that_closes(find, 0.1, regions.__getitem__)
    assert [n.text for n in notes] == [said]
    assert notes[0].remedy.startswith(f"--close-gaps {length} ")


def test_nothing_is_said_where_no_gap_closes_a_region():
    find = finder([0.2, 0.5])
    assert owner().shortest_that_closes(find, 0.1, lambda _: 0) == ()
    assert owner().shortest_that_closes(find, 0.6, lambda _: 5) == ()
    assert owner().shortest_that_closes(finder([0.2], 0), 0.1, lambda _: 5) == ()


def test_gaps_a_little_longer_than_those_closed_are_told_where_they_part_regions():
    find = finder([0.08, 0.12, 0.15, 40.0])
    asked = []

    def count(length):
        asked.append(length)
        return 8

    (note,) = owner().just_longer(find, 0.1, 7, count)
    assert note.text == (
        "2 gaps of up to 0.15 mm stay open: only those up to 0.1 mm are mended by "
        "themselves"
    )
    # two digits, longer by a tenth
    assert asked == [0.17]
    assert note.remedy.startswith("--close-gaps 0.17mm ")
    assert owner().just_longer(find, 0.1, 8, count) == ()
    (one,) = owner().just_longer(finder([0.12]), 0.1, 7, count)
    assert one.text.startswith("1 gap of 0.12 mm stays open")
    assert owner().just_longer(finder([0.08]), 0.1, 7, count) == ()


def test_gaps_beside_narrow_regions_are_told_with_the_longest():
    closings = SimpleNamespace(tip=np.array([3]), other_tip=np.array([-1]))
    mends = SimpleNamespace(closings=closings)
    (note,) = left_open({1: 0.3, 2: 0.7, 3: 5.0}, mends)
    assert note.text.startswith("2 gaps of up to 0.7 mm would close regions")
    assert note.remedy.startswith("--close-gaps 0.77mm ")
    (one,) = left_open({1: 0.3, 3: 5.0}, mends)
    assert one.text.startswith("1 gap of 0.3 mm would close")
    assert left_open({3: 5.0}, mends) == ()


class Closed(list):
    """Closings of some tips, as the finder of gaps hands them out."""

    tip = property(lambda self: np.array(self, int))
    other_tip = property(lambda self: np.full(len(self), -1))


@pytest.mark.parametrize(
    ("strictly", "loosely", "taken"), [([1], [1, 2], [1]), ([], [1], [1])]
)
def test_a_gap_that_was_asked_for_is_closed_loosely_where_it_must_be(
    strictly, loosely, taken
):
    asked = []

    def closings(within, *, strict=True):
        asked.append(np.flatnonzero(within).tolist())
        return Closed(strictly if strict else loosely)

    ends = np.array([[0.0, 0], [10, 0], [90, 90]])
    find = SimpleNamespace(
        tips=np.arange(3),
        vertices=np.array([[0.0, 0], [100, 100]]),
        ends=lambda: ends,
        closings=closings,
    )
    found = owner()._asked_closings(find, ((11.0, 0.5),))
    assert list(found) == taken
    # the nearest end alone
    assert all(rows == [1] for rows in asked)
    with pytest.raises(LineWorkError, match="no open end near: the nearest is"):
        owner()._asked_closings(find, ((50.0, 20.0),))
    find.closings = lambda within, *, strict=True: Closed([])
    with pytest.raises(LineWorkError, match="nothing can be joined"):
        owner()._asked_closings(find, ((11.0, 0.5),))
