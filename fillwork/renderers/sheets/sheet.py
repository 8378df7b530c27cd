"""A sheet: one drawing in one dress, before it has a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillwork.arrays import Ints
    from fillwork.renderers.scene import Item
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.sheets.numbering import PageNumbers

LETTERS = {
    "class": "K", "numbered": "N", "blank": "B", "coloured": "C", "steps": "S",
    "repeat": "R", "masks": "M", "card": "W", "model": "H", "trials": "E",
    "pounce": "P", "line": "L", "repair": "X", "schedule": "T", "leaf": "G",
}  # fmt: skip
"""The letter with which the page codes of each kind of sheet begin."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One drawing in one dress, before it has a page."""

    name: str  # name, code, subtitle and alt: kind of sheet, page code, and words
    code: str
    subtitle: str
    # the drawing, on paper from the lower left corner of its box
    items: tuple[Item, ...] = ()
    alt: str = ""
    entries: tuple[KeyEntry, ...] = ()  # its key
    note: str = ""  # one more line at the foot
    told: str = ""  # an instruction at the head of a sheet of one paint
    numbers: PageNumbers | None = None  # gives the numbers of each page
    # the regions without which a page would be empty; all by default
    faces: Ints | None = None
    # whether it shows the whole piece alike, so that one reduced page serves where
    # others are joined
    whole: bool = False

    @property
    def single(self) -> bool:
        """Return whether the sheet is of one paint or one step.

        As steps and masks are.
        """
        return self.name in ("steps", "masks")
