"""Polygons that are other ones shifted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import AnyInts, Floats, Ints


def shifted_copies(step: Floats, first_side: AnyInts) -> tuple[Ints, Ints]:
    """Return polygons of which none is another one shifted, and whose each is.

    The sides of a polygon are read as a word, from the side at which the word is
    least. A copy that rounding makes differ stands for itself, which costs time only.

    `step` (n, 2): sides of all polygons as vectors, polygon by polygon in walking
    order. `first_side` (m + 1,): polygon ``k`` owns sides ``first_side[k]:first_side[k
    + 1]``, at least one. Returns `lead`: the first polygon of each sort, rising; `like`
    (m,): for each polygon the row of `lead` that it is a copy of.

    Examples
    --------
    >>> right, up, back = [1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]
    >>> step = np.array([right, up, back, up, back, right, up, right, back])
    >>> lead, like = shifted_copies(step, np.array([0, 3, 6, 9]))
    >>> lead.tolist(), like.tolist()
    ([0, 2], [0, 0, 1])
    """
    first = np.asarray(first_side, np.int64)
    size = np.diff(first)
    if len(size) == 0:
        none = np.empty(0, np.int64)
        return none, none
    owner = np.repeat(np.arange(len(size)), size)
    unit = 1e-4 * float(np.median(np.abs(step))) + 1e-300
    whole = np.floor(step / unit + 0.37).astype(np.int64).astype(np.uint64)
    letter = _mix(_mix(whole[:, 0]) + whole[:, 1])
    place = np.arange(len(owner)) - first[owner]
    following = first[owner] + (place + 1) % size[owner]
    # the side that begins the word: the least with the next, hashed
    rank = _mix(letter + np.uint64(3) * letter[following])
    least = np.minimum.reduceat(rank, first[:-1])
    begins = np.flatnonzero(rank == least[owner])
    begin = np.zeros(len(size), np.int64)
    begin[owner[begins]] = place[begins]
    turned = (place - begin[owner]) % size[owner]
    word = np.add.reduceat(_mix(letter + turned.astype(np.uint64)), first[:-1])
    _, lead, like = np.unique(word, return_index=True, return_inverse=True)
    order = np.argsort(lead)
    rank_of = np.empty(len(lead), np.int64)
    rank_of[order] = np.arange(len(lead))
    return lead[order], rank_of[like]


def _mix(number: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Return numbers of which like and near ones are far apart (splitmix64)."""
    mixed = number + np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(mixed ^ (mixed >> np.uint64(31)))
