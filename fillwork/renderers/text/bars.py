"""Bars under numbers that read as another one upside down: 6 and 9, 68 and 89.

A sheet lies on the table between several people, and a panel is painted from all
sides. A bar under the figures says which way is up. That figures which can be
mistaken so are underlined is common practice (no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.renderers.scene import BLACK, Item, Labels, Strokes, Text, segments
from fillwork.renderers.text.typeset import CAP_HEIGHT

if TYPE_CHECKING:
    from fillwork.renderers.text.typeset import FontSet


BAR_BELOW = 0.24
"""Distance of a bar's middle below the figures, in their heights."""

BAR_WIDTH = 0.1
"""Width of a bar, in heights of the figures."""

_TURNED = {"0": "0", "1": "1", "6": "9", "8": "8", "9": "6"}
_CAP = CAP_HEIGHT * 25.4 / 72


def needs_bar(code: str) -> bool:
    """Return whether a number reads as another one when it is turned round.

    True for 6, 9, 66, 68, 86, 89, 98, 99, 16, 18 and their like; not for 8, 69 or 11,
    which stay what they are, nor for 10, which becomes none.

    Examples
    --------
    >>> [code for code in ("6", "8", "10", "16", "69", "96", "99") if needs_bar(code)]
    ['6', '16', '99']
    """
    if not code or any(c not in _TURNED for c in code):
        return False
    turned = "".join(_TURNED[c] for c in reversed(code))
    return turned != code and ("6" in code or "9" in code or turned[0] != "0")


def code_text(
    code: str, at: tuple[float, float], size: float, fonts: FontSet, *, row: int = 0
) -> list[Item]:
    """Return a swatch's number in running text, with its bar.

    The number, and a bar where it needs one. `at`: start of the base line, mm. `size`,
    pt. `row`: row of a table.
    """
    items: list[Item] = [Text(at, code, size, "medium", role="TD", row=row)]
    if needs_bar(code):
        width = fonts.width(code, size, "medium")
        high = size * _CAP
        y = at[1] - BAR_BELOW * high
        items.append(segments([[at[0], y, at[0] + width, y]], BAR_WIDTH * high, BLACK))
    return items


def label_bars(labels: Labels, fonts: FontSet) -> list[Strokes]:
    """Return the bars of labels, which every encoder draws with them.

    One item a size; none where no number needs a bar.
    """
    barred = np.array([needs_bar(t) for t in labels.texts] + [False])
    rows = np.flatnonzero(barred[labels.text])
    if len(rows) == 0:
        return []
    half = np.zeros((len(labels.texts), 2))
    for k in np.unique(labels.text[rows]).tolist():
        left, bottom, right, top = fonts.shape(labels.texts[k], labels.weight).ink
        half[k] = (right - left) / 2 / CAP_HEIGHT, (top - bottom) / 2 / CAP_HEIGHT
    found = []
    for high in np.unique(labels.height[rows]).tolist():
        mine = rows[labels.height[rows] == high]
        wide, tall = half[labels.text[mine]].T * high
        x, y = labels.at[mine].T
        y = y - tall - BAR_BELOW * high
        lines = np.stack([x - wide, y, x + wide, y], axis=1)
        width = BAR_WIDTH * high
        found.append(segments(lines, width, labels.colour, layer=labels.layer))
    return found
