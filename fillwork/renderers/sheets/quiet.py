"""How quiet numbers are beside lines: their inks and their three sizes.

Numbers are there to be read once and painted over; lines are what a hand follows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.renderers.scene import grey

if TYPE_CHECKING:
    from fillwork.arrays import Floats

OUTLINE_WIDTH = 0.25
"""Width of outlines on sheets, mm on paper."""

LINE_INK = grey(0.8)
"""Colour of outlines."""

NUMBER_INK = grey(0.55)
"""Colour of numbers and of the lines that lead to them."""

LARGEST_NUMBER = 3.5
"""Height of the largest numbers, mm on paper."""


def quiet_sizes(height: Floats, least: float) -> Floats:
    """Return heights of numbers in three sizes at most.

    The largest of the sizes that fits, 0 where none does.

    `height`: largest heights that fit, mm; 0 for none. `least`: smallest size, mm. The
    largest is `LARGEST_NUMBER`; the third lies between them, in about the same ratio to
    both.

    Examples
    --------
    >>> quiet_sizes(np.array([0.0, 1.4, 1.6, 3.0, 9.0]), 1.5).tolist()
    [0.0, 0.0, 1.5, 2.3, 3.5]
    """
    most = max(LARGEST_NUMBER, least)
    between = round(float(np.sqrt(least * most)), 1)
    table = np.array(sorted({0.0, least, max(between, least), most}))
    found: Floats = table[np.searchsorted(table, height + 1e-9, side="right") - 1]
    return found
