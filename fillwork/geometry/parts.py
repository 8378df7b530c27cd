"""Items that hang together by links."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Floats, Ints


def components(first: AnyInts, second: AnyInts, n: int) -> Ints:
    """Return the smallest member of the connected component of each item.

    `first` and `second`: links between items. Returns (n,): smallest item that can be
    reached.
    """
    root = np.arange(n, dtype=np.int64)
    a, b = np.asarray(first, np.int64), np.asarray(second, np.int64)
    while len(a):
        low, high = np.minimum(a, b), np.maximum(a, b)
        np.minimum.at(root, high, low)
        while True:
            nearer = root[root]
            if np.array_equal(nearer, root):
                break
            root = nearer
        a, b = root[a], root[b]
        open_links = a != b
        a, b = a[open_links], b[open_links]
    return root


def part_numbers(first: AnyInts, second: AnyInts, n: int) -> Ints:
    """Return the number of the connected part of each item.

    `first` and `second`: links between items. Returns (n,): parts are numbered from 0
    by their smallest item.

    Examples
    --------
    >>> part_numbers(np.array([0, 3]), np.array([2, 4]), 5).tolist()
    [0, 1, 0, 2, 2]
    """
    root = components(first, second, n)
    is_root = root == np.arange(n)
    number = np.cumsum(is_root) - 1
    return np.asarray(number[root], dtype=np.int64)


def gathered(places: Floats, first: AnyInts, second: AnyInts) -> tuple[Floats, Ints]:
    """Return every place at the mean of those it is joined to, and by which one.

    `places` (n, 2). `first` and `second`: places that are joined. Returns (n, 2); (n,):
    the smallest of those that each is joined to, itself included.
    """
    root = components(first, second, len(places))
    count = np.maximum(np.bincount(root, minlength=len(places)), 1)
    sums = [np.bincount(root, axis, len(places)) for axis in places.T]
    return (np.stack(sums, axis=1) / count[:, None])[root], root
