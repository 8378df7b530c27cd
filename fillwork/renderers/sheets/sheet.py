"""A sheet: one drawing in one dress, before it has a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fillwork.renderers.scene import Item
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.sheets.numbering import PageNumbers


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One drawing in one dress, before it has a page.

    Parameters
    ----------
    name, code, subtitle, alt : str
        Kind of sheet, page code, and words.
    items : tuple of items
        The drawing, on paper from the lower left corner of its box.
    entries : tuple of KeyEntry
        Its key.
    note : str
        One more line at the foot.
    told : str
        An instruction at the head of a sheet of one paint.
    numbers : PageNumbers, optional
        Gives the numbers of each page.
    faces : ndarray of int, optional
        The regions without which a page would be empty; all by default.
    whole : bool
        Whether it shows the whole piece alike, so that one reduced page serves
        where others are joined.
    """

    name: str
    code: str
    subtitle: str
    items: tuple[Item, ...] = ()
    alt: str = ""
    entries: tuple[KeyEntry, ...] = ()
    note: str = ""
    told: str = ""
    numbers: PageNumbers | None = None
    faces: NDArray[np.int64] | None = None
    whole: bool = False

    @property
    def single(self) -> bool:
        """Return whether the sheet is of one paint or one step.

        As steps and masks are.
        """
        return self.name in ("steps", "masks")
