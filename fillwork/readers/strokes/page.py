"""The page: its size, and the way from the units of a drawing to mm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.geometry import affine

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine


MM_PER_PX = 25.4 / 96.0


class Page:
    """Hold what a file states of its page.

    `width` and `height` (float): size in CSS pixels; 0 without a page. `has_page`
    (bool): whether the file states a page. `scale_known` (bool): whether it states a
    physical size. `unit` (str): unit of the source's coordinates. `to_mm` (tuple of 6
    floats): from the units of the drawing to mm, y up. `doubt` (str): what is odd about
    the size; empty if nothing is.
    """

    def __init__(self) -> None:
        self.width = self.height = 0.0
        self.has_page = False
        self.scale_known = False
        self.unit = "px"
        self.doubt = ""
        self.to_mm: Affine = (MM_PER_PX, 0.0, 0.0, -MM_PER_PX, 0.0, 0.0)

    @property
    def mm_per_unit(self) -> float:
        """Return the length of a unit of the drawing.

        In mm, averaged over directions.
        """
        return affine.mean_scale(self.to_mm)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Return width and height of the page, in mm."""
        return self.width * MM_PER_PX, self.height * MM_PER_PX
