"""Put what is shown enlarged on pages: details with every number, and a repair."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fillwork.errors import PlanError
from fillwork.notes import Note
from fillwork.renderers.sheets.detail import MOST_PAGES, plan_details
from fillwork.renderers.sheets.key import fill_key
from fillwork.renderers.sheets.pages import PageMaker
from fillwork.renderers.sheets.repair import compose_repair
from fillwork.renderers.sheets.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from fillwork.renderers.layout import Page
    from fillwork.renderers.scene import Item
    from fillwork.renderers.sheets.detail import Detail
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.sheets.parts import Parts


_MORE = "take larger paper, a larger --real-width or a smaller --least-number"


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
        patch = parts.schedule.mended if parts.schedule is not None else None
        if patch is None:
            what = "there is no patch to repair"
            raise PlanError(what, mend="name one with --patch “@x,y r=80mm”")
        papers = self.papers or [(210.0, 297.0), (297.0, 210.0)]
        detail = compose_repair(parts, papers, patch, self.settings.mirror)
        self._more_key(*self._detail(detail, "repair", self.code("X"), detail.note))

    def details(self, small: NDArray[np.int64] | None) -> None:
        """Add pages that show parts of the drawing enlarged, with every number.

        `small`: the regions that need it; None for one repeat of each zone.
        """
        if self.first_detail:
            return
        parts, mirror = self.parts, self.settings.mirror
        papers = self.papers or [(210.0, 297.0), (297.0, 210.0)]
        layout = self.layout()
        shown = layout.scale if small is None and layout.page is not None else 0.0
        details, without = plan_details(parts, papers, small, mirror, beyond=shown)
        self.without = len(without)
        for number, detail in enumerate(details):
            code = self.code("R")
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
