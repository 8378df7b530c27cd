"""Pale tints that tell kinds apart without competing with the line work."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.difference import oklab_to_srgb, srgb_to_hex

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# lightness and chroma (OKLCH) of a round of eight kinds, and of the next two
_ROUNDS = np.array([(0.915, 0.065), (0.885, 0.085), (0.93, 0.035)])
_GOLDEN = 137.508  # degrees: no two of a few dozen steps come near each other


def kind_tints(numbers: ArrayLike) -> list[str]:
    """Return the tints of kinds, by their places from 0.

    ``#rrggbb`` with L* between 84 and 93; neighbours in number are far apart in hue
    (steps of the golden angle), later rounds differ in depth.
    """
    place = np.asarray(numbers)
    lightness, chroma = _ROUNDS[place // 8 % 3].T
    hue = np.radians((85.0 + place * _GOLDEN) % 360.0)
    oklab = [lightness, chroma * np.cos(hue), chroma * np.sin(hue)]
    return srgb_to_hex(oklab_to_srgb(np.stack(oklab, axis=1)))


def pale_tint(colour: str) -> str:
    """Return a colour as a veil of it on white paper.

    A fifth of the colour, the rest white.

    `colour`: ``#rrggbb``.

    Examples
    --------
    >>> pale_tint("#000000")
    '#cccccc'
    """
    parts = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return "#" + "".join(f"{round(255 - 0.2 * (255 - part)):02x}" for part in parts)
