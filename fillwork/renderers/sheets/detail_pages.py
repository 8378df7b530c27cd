"""Put what is shown enlarged on pages: details with every number, and a repair.

A repair shows the patch alone, at true size where a page holds it. A circle is drawn
with what lies round it, so that the old paint beside the patch can be found; of a
kind, the whole drawing shows where its regions are.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.geometry.polygons import ring_sides
from fillwork.notes import Note
from fillwork.renderers.layout import Page
from fillwork.renderers.scene import (
    BLACK,
    Fills,
    Item,
    grey,
    segments,
    shapes_from_rings,
)
from fillwork.renderers.sheets.detail import (
    MOST_PAGES,
    Detail,
    compose_detail,
    plan_details,
)
from fillwork.renderers.sheets.key import fill_key
from fillwork.renderers.sheets.pages import PageMaker
from fillwork.renderers.sheets.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Ints
    from fillwork.plans.patch import Patch
    from fillwork.renderers.scene import Box
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.sheets.parts import Parts

_MORE = "take larger paper, a larger --real-width or a smaller --least-number"

_TINT = 0.12
"""How black what is mended is tinted."""

_ROUND = 0.3
"""What is shown round a circle, in radii: enough to find the place."""

_LEAST = 0.05
_EDGE = 0.3
"""Width of the circle's line on paper, mm."""


class DetailMaker(PageMaker):
    """Make pages that show parts of the drawing enlarged.

    `parts`: the drawing. `names`: the sheets of the set.
    """

    def __init__(self, parts: Parts, names: Sequence[str]) -> None:
        super().__init__(parts, names)
        self.first_detail = ""
        self.without = 0

    def repair(self) -> None:
        """Add the patch that alone is mended."""
        parts = self.parts
        patch = parts.mended
        if patch is None:
            what = "there is no patch to repair"
            raise PlanError(what, mend="name one with --patch “@x,y r=80mm”")
        papers = self.papers or [(210.0, 297.0), (297.0, 210.0)]
        detail = _compose_repair(parts, papers, patch)
        self._more_key(
            *self._detail(detail, "repair", self.code("repair"), detail.note)
        )

    def details(self, small: Ints | None) -> None:
        """Add pages that show parts of the drawing enlarged, with every number.

        `small`: the regions that need it; None for one repeat of each zone.
        """
        if self.first_detail:
            return
        parts = self.parts
        papers = self.papers or [(210.0, 297.0), (297.0, 210.0)]
        layout = self.layout()
        shown = layout.scale if small is None and layout.page is not None else 0.0
        details, without = plan_details(parts, papers, small, beyond=shown)
        self.without = len(without)
        for number, detail in enumerate(details):
            code = self.code("repeat")
            self.first_detail = self.first_detail or code
            note = detail.note
            if number == 0 and self.without:
                note = f"{note} {self._left_out()}.".strip()
            made = self._detail(detail, "repeat", code, note)
            if number == 0:
                self._more_key(*made)
        if self.without:
            last = self.pages[-1]
            told = Note(
                "renderers",
                "regions without number",
                f"on the sheets, {self._left_out()}",
                remedy=_MORE,
            )
            self.pages[-1] = replace(last, notes=(*last.notes, told))

    def _detail(
        self, detail: Detail, name: str, code: str, note: str
    ) -> tuple[Sheet, tuple[KeyEntry, ...], Page]:
        """Add a page of detail; return its sheet and what its key had no room for."""
        parts, mirror = self.parts, self.settings.mirror
        key: list[Item] = []
        rest = detail.entries
        if detail.key is not None:
            key, rest = fill_key(rest, detail.key, self.fonts)
        sheet = Sheet(name, code, detail.subtitle)
        self.page(
            detail.page,
            sheet,
            [*detail.items, *key],
            subtitle=detail.subtitle + (", mirrored" if mirror else ""),
            scale=parts.scale_words(detail.scale),
            note=note,
            aside=detail.aside,
        )
        return sheet, rest, detail.page

    def _left_out(self) -> str:
        """Return how many regions stay without a number, and why."""
        many = "region is" if self.without == 1 else "regions are"
        return (
            f"{self.without} {many} too small for a number; details end after "
            f"{MOST_PAGES} pages"
        )


def _compose_repair(
    parts: Parts, papers: list[tuple[float, float]], patch: Patch
) -> Detail:
    """Return the patch with its numbers, tinted, on one page.

    At true size, or as large as the page allows. `papers`: pages to choose from.
    """
    window: Box = parts.box
    under: list[Item] = []
    over: list[Item] = []
    if patch.circle is None:
        rows = np.flatnonzero(patch.face_share > 0)
        under.append(Fills(parts.outlines, rows, grey(_TINT)))
    else:
        x, y, radius = patch.circle
        reach = radius * (1.0 + _ROUND)
        # less round it, where that keeps it at true size
        half = max(_width(Page(*paper)) for paper in papers) / 2 / parts.real_scale
        if radius * (1.0 + _LEAST) <= half < reach:
            reach = half
        left, bottom, right, top = parts.box
        window = (
            max(x - reach, left),
            max(y - reach, bottom),
            min(x + reach, right),
            min(y + reach, top),
        )
        angle = np.linspace(0.0, 2 * np.pi, 181)[:-1]
        ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius + (x, y)
        shape = shapes_from_rings([[ring]])
        under.append(Fills(shape, np.array([0]), grey(_TINT)))
        over.append(segments(ring_sides(ring), _EDGE / parts.real_scale, BLACK))
    words = f"The patch, {patch.words}"
    detail, _ = compose_detail(
        parts,
        papers,
        window,
        words,
        most=parts.real_scale,
        under=under,
        over=over,
        shown_only=patch.circle is not None,
    )
    return detail


def _width(page: Page) -> float:
    left, bottom, right, top = page.body
    return min(right - left, top - bottom)
