"""Dress the drawing for each kind of sheet, and put it on pages."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.geometry.polygons import polygon_sides
from fillwork.notes import Note
from fillwork.plans.areas import has_own_shape
from fillwork.plans.model import SHEETS
from fillwork.renderers.coloured import outline_pen
from fillwork.renderers.layout import Page, scale_text
from fillwork.renderers.scene import OUTLINES, Item, Picture, Scene, rectangle, segments
from fillwork.renderers.sheets.card import compose_card
from fillwork.renderers.sheets.detail_pages import DetailMaker
from fillwork.renderers.sheets.key import fill_key
from fillwork.renderers.sheets.leaders import compose_leaders
from fillwork.renderers.sheets.leaf_page import compose_leaf
from fillwork.renderers.sheets.masks import mask_items, mask_words
from fillwork.renderers.sheets.numbering import PageNumbers
from fillwork.renderers.sheets.parts import FAINT, Parts
from fillwork.renderers.sheets.pounce import find_pieces
from fillwork.renderers.sheets.quiet import LINE_INK, OUTLINE_WIDTH
from fillwork.renderers.sheets.schedule_page import compose_schedule
from fillwork.renderers.sheets.sheet import Sheet
from fillwork.renderers.sheets.stencil import line_shape
from fillwork.renderers.sheets.steps import find_step_sheets, step_fills, step_traces
from fillwork.renderers.sheets.teaching import (
    PackRow,
    class_notes,
    compose_overview,
    compose_trials,
    model_faces,
)
from fillwork.units import counted, plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Ints

_PLAIN = {
    "numbered": (
        "Numbered sheet",
        "outlines with the number of its paint in each region",
    ),
    "blank": ("Blank sheet", "outlines only"),
    "coloured": ("Coloured sheet", "the finished colours"),
    "model": ("Half-done model", "one figure in its colours, the rest with numbers"),
}
"""Title of each sheet of the whole drawing, and what it shows."""

TEACHERS = ("coloured", "steps", "repeat", "trials")
"""Sheets of a class that the teacher has once."""

PUPILS = ("numbered", "blank", "model")
"""Sheets of a class that each pupil has, where none are chosen."""


class SheetComposer(DetailMaker):
    """Dress the drawing for each kind of sheet."""

    def __init__(
        self, parts: Parts, names: Sequence[str], *, small_masks: bool = False
    ) -> None:
        super().__init__(parts, names)
        self.small_masks = small_masks
        self.repeat = "repeat" in names
        self.own = 0

    def class_pack(self, chosen: Sequence[str]) -> None:
        """Add the teacher's set, then what each pupil gets, once."""
        pupils = self.settings.pupils
        self.notes |= {note.type: note for note in class_notes(self.parts)}
        rows: list[PackRow] = []
        for name in TEACHERS:
            rows += self._counted(name, 1, False)
        self.named, before = True, len(self.pages)
        for name in chosen:
            if name == "repeat":
                self.first_detail = ""
            rows += self._counted(name, pupils, True)
        self.named, self.own = False, len(self.pages) - before
        self._overview(rows, pupils)

    def _counted(self, name: str, copies: int, pupil: bool) -> list[PackRow]:
        """Add a sheet, and return its line of the overview."""
        before = len(self.pages)
        self.add(name)
        made = self.pages[before:]
        if not made:
            return []
        codes = [page.name.partition("-")[2].upper() for page in made]
        code = codes[0] if len(codes) == 1 else f"{codes[0]} to {codes[-1]}"
        return [PackRow(code, SHEETS[name], len(made), copies, pupil)]

    def _overview(self, rows: Sequence[PackRow], pupils: int) -> None:
        """Put the teacher's pages, with the key, before all others."""
        page = Page(*(self.papers or [(210.0, 297.0)])[0])
        subtitle = f"For the teacher: a class of {pupils}"
        sheet = Sheet("class", self.code("class"), subtitle)
        kept, told = self.pages, 1
        before = len(kept) - self.own
        while True:
            self.pages = []
            made = compose_overview(rows, pupils, page.body, told, before, self.fonts)
            left, bottom, right, _ = page.body
            key = (left, bottom, right, made[-1][1] - 10.0)
            shown, rest = fill_key(self.parts.entries, key, self.fonts)
            made[-1][0].extend(shown)
            for number, (items, _) in enumerate(made, start=1):
                code = sheet.code + (f"-{number}" if number > 1 else "")
                self.page(page, sheet, items, code=code)
            self._more_key(sheet, rest, page)
            # the overview tells how many pages it takes, those of its key included
            if len(self.pages) <= told:
                break
            told = len(self.pages)
        self.pages += kept

    def trials(self) -> None:
        """Add several small drawings on one page."""
        papers = self.papers or [(210.0, 297.0)]
        found = [
            (compose_trials(self.parts, Page(*paper).body), paper) for paper in papers
        ]
        (items, scale), paper = max(found, key=lambda f: round(f[0][1], 9))
        self.page(
            Page(*paper),
            Sheet("trials", self.code("trials"), "Small trials"),
            items,
            subtitle="Small trials: try colours before the piece",
            scale=scale_text(scale, self.parts.real_scale, self.parts.scale_known),
            name_line=self.named,
        )

    def add(self, name: str) -> None:
        """Add the pages of one sheet, by its name in the plan."""
        others = {
            "card": self.card, "line": self.line, "masks": self.masks,
            "pounce": self.pounce, "repair": self.repair, "schedule": self.schedule,
            "steps": self.steps, "trials": self.trials,
        }  # fmt: skip
        if name in others:
            others[name]()
        elif name == "repeat":
            self.details(None)
        else:
            self.plain(name)

    def plain(self, name: str) -> None:
        """Add a numbered, blank or coloured sheet."""
        parts, mirror = self.parts, self.settings.mirror
        scale = self.layout().scale
        title, shown = _PLAIN[name]
        code = self.code(name)
        done = model_faces(parts) if name == "model" else np.empty(0, np.int64)
        items = self._drawn(name, scale, done)
        numbered: PageNumbers | None = None
        note = ""
        details: list[Scene] = []
        if name in ("numbered", "model"):
            numbers = parts.numbers(scale)
            height = numbers.height.copy()
            height[done] = 0.0
            numbers = replace(numbers, height=height)
            leaders: Sequence[Item] = ()
            if name == "numbered":
                leaders, small = compose_leaders(parts, numbers, scale)
                if len(small):
                    note, details = self._enlarged(small)
            numbered = PageNumbers(parts, numbers, scale, leaders)
        sheet = Sheet(
            name,
            code,
            title + (", mirrored for tracing down" if mirror else ""),
            tuple(items),
            f"{parts.title}: {shown}; "
            f"{counted(parts.arrangement.face_count - 1, 'region')} of "
            f"{counted(len(parts.orbits.orbits), 'kind')}",
            () if name == "blank" else parts.entries,
            note,
            numbers=numbered,
        )
        self.place(sheet)
        self.pages += details

    def _drawn(self, name: str, scale: float, done: Ints) -> list[Item]:
        """Return the drawing of a sheet; `done`: regions of a model in colour."""
        parts = self.parts
        hatched = self.settings.hatch and name == "coloured"
        if name == "coloured" and not hatched:
            picture = parts.on_paper(parts.coloured_picture(), scale)
            ground = parts.colouring.ground
            if ground is None or has_own_shape(parts.arrangement):
                return [picture]
            colour = parts.colouring.palette.swatches[ground].hex
            sheet = rectangle(parts.sheet_box(scale), fill=colour, layer="colours")
            return [*sheet, picture]
        outline = parts.on_paper(parts.outline_picture(scale), scale)
        if not hatched and name != "model":
            return [outline]
        only = None if hatched else done
        tints = tuple(parts.paint(entry, scale, only) for entry in parts.entries)
        return [parts.on_paper(Picture(tints, parts.box), scale), outline]

    def _enlarged(self, small: Ints) -> tuple[str, list[Scene]]:
        """Return what to say of regions without a number, and the pages that show them.

        Composed before the sheet, so that it can tell what they leave out.
        """
        kept, self.pages = self.pages, []
        self.details(None if self.repeat else small)
        details, self.pages = self.pages, kept
        note = (
            "Numbers missing here stand on the enlarged detail, page "
            f"{self.first_detail} and following"
        )
        return note + (
            f"; {self.without} have none even there." if self.without else "."
        ), details

    def steps(self) -> None:
        """Add one page a step; what is done stands pale behind."""
        parts, mirror = self.parts, self.settings.mirror
        scale = self.layout().scale
        done: list[Item] = []
        for step in find_step_sheets(parts):
            faint = parts.outline_picture(scale, FAINT)
            now = step_fills(parts, step, scale)
            tint = parts.on_paper(Picture(now, parts.box), scale)
            part = step.entry if not step.whole and step.kind != "line" else None
            sheet = Sheet(
                "steps",
                self.code("steps"),
                step.title + (", mirrored" if mirror else ""),
                (*done, parts.on_paper(faint, scale), tint)
                if step.kind == "line"
                else (*done, tint, parts.on_paper(faint, scale)),
                f"{parts.title}: where step {step.order} goes"
                if step.entry is None
                else f"{parts.title}: where {step.entry.code} {step.entry.name} goes",
                (step.entry,) if step.entry is not None else (),
                told=step.told,
                faces=None if part is None else parts.faces_of(part.place),
                # what to do, not a template: that is the numbered or the blank sheet
                whole=step.whole or self.settings.fit != "true",
            )
            self.place(sheet)
            traces = step_traces(parts, step)
            done += [parts.on_paper(trace, scale) for trace in traces]

    def masks(self) -> None:
        """Add one sheet a paint with outlines to cut."""
        parts, mirror = self.parts, self.settings.mirror
        scale = self.layout().scale
        enlarged = scale > parts.real_scale * (1 + 1e-6) and not self.small_masks
        changed = "Enlarged" if enlarged else "Reduced"
        true = abs(scale / parts.real_scale - 1) < 1e-6 and not self.small_masks
        # a ground under the whole piece is painted without a mask
        under = parts.schedule.under if parts.schedule is not None else ()
        for entry in parts.entries:
            if entry.place in under or not parts.paints(entry.place):
                continue
            mask = mask_items(parts, entry.place, scale, tinted=True)
            note = mask_words(mask, self.settings.bridge)
            told = "Cut along the lines, away from the hand that holds; what is tinted "
            told += "falls out."
            if not true:
                told = f"{changed}, to look at: cut it at true size from the mask's "
                told += "own file, or with --fit true. What is tinted falls out."
            if self.settings.mask_overlap:
                told += (
                    f" The openings reach {self.settings.mask_overlap:g} mm under "
                    "their neighbours."
                )
            sheet = Sheet(
                "masks",
                self.code("masks"),
                f"Mask for {entry.code} {entry.name}"
                + (", mirrored: for the back" if mirror else ""),
                mask.items,
                f"{parts.title}: outlines to cut for {entry.code} {entry.name}",
                (entry,),
                note=note,
                told=told,
                faces=parts.faces_of(entry.place),
                whole=self.small_masks,
            )
            self.place(sheet)

    def pounce(self) -> None:
        """Add what the drawing repeats, at true size, on as many pages as it takes."""
        parts = self.parts
        pieces = find_pieces(parts)
        if not pieces:
            self.notes["nothing repeats"] = Note(
                "renderers",
                "nothing repeats",
                "there is no repeat or sector to pounce: no symmetry was found",
                remedy="take the blank sheet, or state one with --symmetry",
            )
        for piece in pieces:
            self.piece(piece, self.code("pounce"))

    def line(self) -> None:
        """Add the painted line with both of its edges."""
        parts, mirror = self.parts, self.settings.mirror
        _, width = outline_pen(parts.arrangement, parts.colouring)
        if not width:
            what = "no line is painted, so it has no edges"
            raise PlanError(what, mend="say --outline SWATCH:WIDTH, such as gold:2mm")
        scale = self.layout().scale
        sides = np.concatenate(polygon_sides(line_shape(parts, width)))
        pen = segments(
            sides, OUTLINE_WIDTH / scale, LINE_INK, layer=OUTLINES, cap="round"
        )
        real = f"{plain(width * parts.real_scale)} mm"
        sheet = Sheet(
            "line",
            self.code("line"),
            f"Painted line, {real} wide, both edges"
            + (", mirrored for tracing down" if mirror else ""),
            (parts.on_paper(Picture((pen,), parts.box), scale),),
            f"{parts.title}: both edges of the painted line",
        )
        self.place(sheet)

    def card(self) -> None:
        """Add the swatch card."""
        papers = self.papers or [(210.0, 297.0)]
        page = Page(*papers[0])
        subtitle = "Swatch card: paint each field first, let it dry, compare"
        chunks = compose_card(self.parts, page.body)
        for number, chunk in enumerate(chunks, start=1):
            sheet = Sheet("card", self.code("card"), f"Swatch card {number}")
            self.page(page, sheet, chunk, subtitle=subtitle)

    def schedule(self) -> None:
        """Add the schedule, where there is one."""
        parts = self.parts
        if parts.schedule is None:
            return
        self.pages += compose_schedule(
            parts.schedule,
            parts.colouring.palette,
            title=parts.title,
            paper=self.settings.paper,
            fonts=self.fonts,
        )
        self.pages += compose_leaf(
            parts.schedule,
            parts.colouring.palette,
            parts.orbits,
            title=parts.title,
            paper=self.settings.paper,
            fonts=self.fonts,
        )
