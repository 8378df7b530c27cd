"""The cosets of a subgroup, numbered: the colours of a counterchange."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Ints, Ints32
    from fillwork.colouring.counterchange.subgroups import (
        Element,
        PatternGroup,
        Subgroup,
    )


class Cosets:
    """Number the cosets gH of a subgroup from 0, which is H itself.

    `subgroup`: H. `members` (list of (int, tuple of int)): one operation a coset, in
    the order of their numbers.
    """

    def __init__(self, group: PatternGroup, subgroup: Subgroup) -> None:
        self.group, self.subgroup = group, subgroup
        steps = group.steps
        self.members: list[Element] = [group.identity]
        self._back: list[Element] = [group.identity]
        self._memo: dict[Element, int] = {}
        for member in self.members:  # grows while it is walked
            for step in steps:
                new = group.multiply(step, member)
                if self._find(new) < 0:
                    self.members.append(new)
                    self._back.append(group.invert(new))
        # translations by this many lattice vectors keep every coset
        self._period = max(subgroup.index, 1) if group.rank else 1

    def _find(self, element: Element) -> int:
        for number, back in enumerate(self._back):
            if self.subgroup.contains(self.group.multiply(back, element)):
                return number
        return -1

    def number(self, element: Element) -> int:
        """Return the coset of an operation. `element`: operation."""
        g, t = element
        key = (g, tuple(v % self._period for v in t))
        found = self._memo.get(key)
        if found is None:
            found = self._memo[key] = self._find(key)
        return found

    def numbers(self, part: Ints, move: Ints, then: Element | None = None) -> Ints32:
        """Return the cosets of many operations.

        `part` (n,): their parts of the point group. `move` (n, rank): their
        translations. `then`: an operation done before each of them. Returns (n,): their
        numbers.
        """
        code = part
        for column in (move % self._period).T:
            code = code * self._period + column
        _, first, where = np.unique(code, return_index=True, return_inverse=True)
        found = []
        for row in first.tolist():
            element: Element = (int(part[row]), tuple(move[row].tolist()))
            if then is not None:
                element = self.group.multiply(element, then)
            found.append(self.number(element))
        return np.array(found, np.int32)[where.reshape(-1)]
