"""The painted line: its colour, and how it stands out against what it parts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.difference import ciede2000, hex_to_srgb, srgb_to_lab
from fillwork.geometry.ranges import distinct
from fillwork.notes import Note

if TYPE_CHECKING:
    from fillwork.colouring.model import Colouring, Rules
    from fillwork.colouring.palettes.model import Palette


_NEAR_BLACK = "#1d1a17"
"""The painted line when no swatch is named for it: a warm near-black."""

_HEX = re.compile(r"#[0-9a-fA-F]{6}")
_VISIBLE = 10.0  # ΔE00 under which a line is lost beside a colour (common practice)


@dataclass(frozen=True, slots=True)
class OutlineContrast:
    """Hold how the painted line stands out."""

    hex: str  # its colour, ``#rrggbb``
    name: str  # its swatch, or the colour where it is none
    # smallest ΔE00 between it and a swatch that regions bear
    smallest_difference: float
    against: str  # name of that swatch


def outline_hex(palette: Palette, rules: Rules) -> str | None:
    """Return the colour of the painted line.

    ``#rrggbb``; None where no line is painted.

    `rules`: `Rules.outline` names a swatch or a hex, or is ``none`` or None. Raises
    `KeyError` if it names no swatch.
    """
    wanted = (rules.outline or "").strip()
    if wanted.casefold() == "none" or rules.outline_width == 0:
        return None
    if not wanted:
        return _NEAR_BLACK
    if _HEX.fullmatch(wanted):
        return wanted.lower()
    return palette.swatches[palette.index(wanted)].hex


def measure_outline(colouring: Colouring) -> OutlineContrast | None:
    """Measure the painted line against the swatches that regions bear.

    None where no line is painted, or nothing is coloured. `colouring`: the colouring
    and its rules.
    """
    palette, rules = colouring.palette, colouring.rules
    try:
        shown = outline_hex(palette, rules)
    except KeyError:
        return None
    used = distinct(colouring.of_face[colouring.of_face >= 0])
    if shown is None or not len(used):
        return None
    line = srgb_to_lab(hex_to_srgb(shown))
    lab = np.array([palette.swatches[int(k)].lab for k in used])
    apart = ciede2000(lab, np.broadcast_to(line, lab.shape))
    least = int(np.argmin(apart))
    wanted = (rules.outline or "").strip()
    named = bool(wanted) and not _HEX.fullmatch(wanted)
    name = palette.swatches[palette.index(wanted)].name if named else shown
    return OutlineContrast(
        hex=shown,
        name=name,
        smallest_difference=float(apart[least]),
        against=palette.swatches[int(used[least])].name,
    )


def outline_note(colouring: Colouring) -> Note | None:
    """Return a note where a line that was asked for is lost beside a swatch.

    What is lost, and the swatch that would stand out most. `colouring`: the colouring
    and its rules.
    """
    found = measure_outline(colouring)
    if found is None or not colouring.rules.outline:
        return None
    if found.smallest_difference >= _VISIBLE:
        return None
    palette = colouring.palette
    used = distinct(colouring.of_face[colouring.of_face >= 0])
    lab = np.array([swatch.lab for swatch in palette.swatches])
    apart = np.array(
        [ciede2000(lab[used], lab[[k] * len(used)]).min() for k in range(len(lab))]
    )
    best = int(np.argmax(apart))
    text = (
        f"the outline, {found.name}, is lost beside {found.against} "
        f"(ΔE00 {found.smallest_difference:.1f})"
    )
    remedy = "take a colour of its own for it, such as --outline #ffffff"
    if apart[best] >= _VISIBLE:
        name = palette.swatches[best].name
        remedy = f'--outline "{name}" stands out more (ΔE00 {apart[best]:.1f})'
    return Note("colouring", "outline lost", text, remedy=remedy)
