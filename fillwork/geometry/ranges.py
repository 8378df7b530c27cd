"""Whole numbers in bulk: those that differ, and ranges laid end to end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import AnyInts, Bools, Ints


_Whole = TypeVar("_Whole", bound=np.integer)


def expand_ranges(start: AnyInts, count: AnyInts) -> tuple[Ints, Ints]:
    """Return all members of many ranges, and the range that each belongs to.

    `start` and `count` (n,): range ``k`` is ``start[k] ... start[k] + count[k] - 1``.
    Returns `owner`: the range of each member; `member`: the members, range by range.
    """
    count = np.asarray(count, dtype=np.int64)
    owner = np.repeat(np.arange(len(count)), count)
    offset = np.cumsum(count) - count
    member = np.repeat(np.asarray(start) - offset, count)
    member += np.arange(len(owner))
    return owner, member


def marked(rows: Any, count: int) -> Bools:
    """Return which of so many things are named by numbers, or by a mask of all."""
    found = np.zeros(count, dtype=bool)
    found[rows] = True
    return found


def spread(count: AnyInts) -> tuple[Ints, Ints]:
    """Return for each of so many places in each row its row, and its number there.

    `count` (n,): places in each row. Returns `row` and `number`, both from 0.

    Examples
    --------
    >>> row, number = spread(np.array([3, 0, 2]))
    >>> row.tolist(), number.tolist()
    ([0, 0, 0, 2, 2], [0, 1, 2, 0, 1])
    """
    return expand_ranges(np.zeros(len(count), np.int64), count)


def distinct(values: NDArray[_Whole]) -> NDArray[_Whole]:
    """Return the numbers that occur, ascending.

    Newer versions of `numpy.unique` put whole numbers through a table of hashes,
    which takes ten times as long as sorting where they are many.

    Each of them once.

    `values` (n,): numbers.

    Examples
    --------
    >>> distinct(np.array([5, 2, 5])).tolist()
    [2, 5]
    """
    ordered = np.sort(values)
    return ordered[begins(ordered)]


def begins(values: AnyInts) -> Bools:
    """Return where runs of one number begin.

    Examples
    --------
    >>> begins(np.array([4, 4, 7, 7, 4])).tolist()
    [True, False, True, False, True]
    """
    first = np.ones(len(values), bool)
    first[1:] = values[1:] != values[:-1]
    return first


def next_round(first: AnyInts, count: int) -> Ints:
    """Return what follows each of `count` members of rows; after the last the first.

    `first`: where each row begins, from 0.

    Examples
    --------
    >>> next_round(np.array([0, 3]), 5).tolist()
    [1, 2, 0, 4, 3]
    """
    after = np.arange(1, count + 1)
    after[np.r_[first, count][1:] - 1] = first
    return after


def distinct_pairs(pairs: AnyInts) -> Ints:
    """Return the pairs of numbers that occur, ascending.

    `pairs` (n, 2): a pair a row.

    Examples
    --------
    >>> distinct_pairs(np.array([[5, -1], [2, 7], [5, -1]])).tolist()
    [[2, 7], [5, -1]]
    """
    if len(pairs) == 0:
        return np.zeros((0, 2), np.int64)
    one, two = pairs[:, 0].astype(np.int64), pairs[:, 1].astype(np.int64)
    first, second = int(one.min()), int(two.min())
    span = int(two.max()) - second + 1
    key = distinct((one - first) * span + two - second)
    return np.column_stack([key // span + first, key % span + second])
