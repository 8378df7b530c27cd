"""Compose the schedule as pages: a table for the shop, the order, the cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.plans.schedule_rows import shop_rows
from fillwork.plans.schedule_text import (
    cost_lines,
    drying_lines,
    factor_sets,
    hand_lines,
    material_lines,
    mix_lines,
    needs_words,
    time_lines,
    used_lines,
    when_words,
)
from fillwork.renderers.layout import Page, compose_page, shorten, table_page
from fillwork.renderers.scene import (
    BLACK,
    GREY_45,
    GREY_60,
    Item,
    Scene,
    Text,
    rectangle,
    segments,
)
from fillwork.renderers.sheets.sheet import LETTERS
from fillwork.renderers.text.typeset import default_fonts

if TYPE_CHECKING:
    from fillwork.colouring.palettes.model import Palette, Swatch
    from fillwork.plans.model import Schedule
    from fillwork.renderers.text.typeset import FontSet


_ROW = 8.0
_COLUMNS = (
    # title, right edge from the left margin in mm
    ("Regions", 74.0),
    ("Area", 92.0),
    ("Cut in", 109.0),
    ("Coats", 118.0),
    ("Need", 135.0),
)
_BUY = 139.0
_PRICE = 22.0
_LINE, _SMALL = 4.6, 3.6
"""From line to line of words of 9 and 7 pt, mm: leading of 1.45."""

_LAST = 0.25
"""A last page that is filled less is worth closer lines, ..."""

_CLOSER = (0.92, 0.85)
"""... down to a leading of 1.23."""


def compose_schedule(
    schedule: Schedule,
    palette: Palette,
    *,
    title: str,
    paper: str = "A4",
    fonts: FontSet | None = None,
) -> tuple[Scene, ...]:
    """Return the schedule as pages to take to the shop and to the wall.

    `schedule`: what to buy, in what order to paint, cautions. `paper`: page name;
    ``drawing`` means A4.
    """
    fonts = fonts or default_fonts()
    page = table_page(paper)
    made = _written(_Writer(page, title, fonts), schedule, palette)
    if len(made.pages) > 1 and made.filled < _LAST:
        # a few lines alone on a page: lines closer together take them back
        for close in _CLOSER:
            closer = _written(_Writer(page, title, fonts, close), schedule, palette)
            if len(closer.pages) < len(made.pages):
                return closer.finish()
    return made.finish()


def _written(writer: _Writer, schedule: Schedule, palette: Palette) -> _Writer:
    """Write a schedule down, and return who wrote it."""
    if schedule.patch:
        writer.paragraphs("A repair alone", [f"{schedule.patch}."])
    if schedule.clashes:
        refused = [clash.text for clash in schedule.clashes]
        writer.paragraphs("Refused: what does not hold", refused)
    writer.heading("To buy")
    writer.table(schedule, palette)
    writer.paragraphs("", cost_lines(schedule))
    writer.boxes("Besides", material_lines(schedule))
    if schedule.bought:
        writer.paragraphs("Paints on hand, for all uses", hand_lines(schedule))
    writer.paragraphs("Used before", used_lines(schedule))
    writer.paragraphs("Bands", list(schedule.strands))
    writer.paragraphs("Mixes", mix_lines(schedule, palette))
    # the list goes to the shop, the order stays at the wall
    writer.turn()
    writer.order(schedule)
    writer.paragraphs("", time_lines(schedule))
    writer.paragraphs("Cautions", list(schedule.cautions))
    factors = [f"{names}: {told}" for names, told in factor_sets(schedule, palette)]
    factors += drying_lines(schedule, palette)
    writer.paragraphs("Factors", factors, small=True)
    writer.paragraphs("Notes", [note.text for note in schedule.notes], small=True)
    return writer


class _Writer:
    """Write down a page, and turn it when it is full."""

    def __init__(
        self, page: Page, title: str, fonts: FontSet, close: float = 1.0
    ) -> None:
        self.page, self.title, self.fonts, self.close = page, title, fonts, close
        self.left, self.bottom, self.right, self.top = page.body
        self.bottom -= 6
        self.pages: list[list[Item]] = []
        self.y = 0.0
        self.row = 0
        self.priced = False
        self.turn()

    def turn(self) -> None:
        self.pages.append([])
        self.y = self.top

    @property
    def filled(self) -> float:
        """Return what share of the last page is written on."""
        return (self.top - self.y) / (self.top - self.bottom)

    def need(self, height: float) -> bool:
        """Turn the page if less than a height is left; say whether it was."""
        if self.y - height < self.bottom:
            self.turn()
            return True
        return False

    def put(self, *items: Item) -> None:
        self.pages[-1].extend(items)

    def heading(self, text: str) -> None:
        if not text:
            return
        self.need(20)
        if self.y < self.top:
            self.y -= 4
        self.y -= 5
        self.put(Text((self.left, self.y), text, 12, "medium", role="H2"))
        self.y -= 3

    def write(
        self,
        lines: list[str],
        size: float,
        step: float,
        indent: float = 0.0,
        colour: str = BLACK,
    ) -> None:
        """Put down lines, each a step below the last."""
        for line in lines:
            self.need(step)
            self.y -= step
            at = (self.left + indent, self.y)
            self.put(Text(at, line, size, colour=colour))

    def box(self, base: float) -> None:
        """Put down a box to tick, beside a line of words."""
        left = self.left
        self.put(*rectangle((left, base - 0.6, left + 3.6, base + 3.0), edge=BLACK))

    def titles(self) -> None:
        self.y -= 4
        self.row += 1
        titles = [(self.left + edge, words, "right") for words, edge in _COLUMNS]
        titles.append((self.left + _BUY, "To buy", "left"))
        if self.priced:
            titles.append((self.right, "Price", "right"))
        for x, words, align in titles:
            self.put(
                self._cell(x, self.y, words, 7, colour=GREY_60, align=align, role="TH")
            )
        self.y -= 1.5
        self.put(segments([[self.left, self.y, self.right, self.y]], 0.2, BLACK))

    def table(self, schedule: Schedule, palette: Palette) -> None:
        """Put down a row a paint: how much there is of it, and what to buy."""
        self.priced = schedule.cost is not None
        self.titles()
        edge = self.right - (_PRICE if self.priced else 0.0)
        room = edge - self.left - _BUY - 1.0
        for row in shop_rows(schedule, palette):
            if self.need(_ROW):
                self.titles()
            self.row += 1
            left, base = self.left, self.y - 5.2
            if row.bought:
                self.box(base)
            self._name(row.swatch, row.name, base)
            values = (row.regions, row.area, row.edge, row.coats, row.need)
            before = 0.0
            for value, (_, at) in zip(values, _COLUMNS, strict=True):
                # such as “under 0.1 mL”, which would run into what stands before it
                wide = before > 0.0 and self.fonts.width(value, 9) > at - before - 1.0
                size = 7.0 if wide else 9.0
                self.put(self._cell(left + at, base, value, size, align="right"))
                before = at
            size, lines = 9.0, self.fonts.wrap(row.buy, 9, room) if row.buy else []
            if len(lines) > 1:
                size, (first, *rest) = 7.0, self.fonts.wrap(row.buy, 7, room)
                more = shorten(" ".join(rest), 7, room, self.fonts) if rest else ""
                lines = [first, more] if rest else [first]
            lift = 1.4 if len(lines) > 1 else 0.0
            for k, line in enumerate(lines):
                self.put(self._cell(left + _BUY, base + lift - 3.0 * k, line, size))
            if row.price:
                self.put(self._cell(self.right, base, row.price, 9, align="right"))
            self.y -= _ROW
            self.put(segments([[left, self.y, self.right, self.y]], 0.1, GREY_45))
        self.y -= 4.5
        for words in self.fonts.wrap(schedule.size_words, 7, self.right - self.left):
            self.put(Text((self.left, self.y), words, 7, colour=GREY_60))
            self.y -= _SMALL
        self.y += _SMALL

    def _name(self, swatch: Swatch | None, name: str, base: float) -> None:
        """Put down colour, number, name and details of a row."""
        left, code, details = self.left, "", ""
        if swatch is not None:
            box = (left + 7, base - 1.2, left + 12, base + 3.8)
            self.put(*rectangle(box, fill=swatch.hex, edge=BLACK))
            code = swatch.code
            parts = (", ".join(swatch.pigments), swatch.medium)
            details = " · ".join(d for d in parts if d)
        self.put(self._cell(left + 14.5, base, code, 9, "medium"))
        room = 42.0 if swatch is not None else 50.0
        lines = [shorten(name, 9, room, self.fonts, "medium")]
        size, weight, lift = 9.0, "medium", 1.4 if details else 0.0
        if swatch is None and lines[0] != name:
            lines = self.fonts.wrap(name, 7, room)[:2]
            size, weight = 7.0, "medium"
            lift = 1.4 if len(lines) > 1 else 0.0
        for k, line in enumerate(lines):
            at = base + lift - 3.0 * k
            self.put(self._cell(left + 22, at, line, size, weight))
        if details:
            words = shorten(details, 7, room, self.fonts)
            self.put(self._cell(left + 22, base - 1.6, words, 7, colour=GREY_60))

    def _cell(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        weight: str = "regular",
        *,
        colour: str = BLACK,
        align: str = "left",
        role: str = "TD",
    ) -> Text:
        return Text((x, y), text, size, weight, colour, align, role=role, row=self.row)

    def order(self, schedule: Schedule) -> None:
        """Put down the steps with their reasons."""
        if not schedule.steps:
            return
        self.heading("Order of work")
        indent = 9.0
        room = self.right - self.left - indent
        large, small = _LINE * self.close, _SMALL * self.close
        needs = needs_words(schedule.steps)
        for step, tools in zip(schedule.steps, needs, strict=True):
            lines = self.fonts.wrap(f"{when_words(step)}{step.text}", 9, room)
            care = f"Care: {step.care}" if step.care else ""
            below = [
                line
                for text in (step.reason, tools, care)
                if text
                for line in self.fonts.wrap(text, 7, room)
            ]
            self.need(len(lines) * large + len(below) * small + 1)
            at = (self.left + 6.0, self.y - large)
            self.put(Text(at, f"{step.order}", 9, "medium", align="right"))
            self.write(lines, 9, large, indent)
            self.write(below, 7, small, indent, GREY_60)
            self.y -= 1.6 * self.close

    def boxes(self, title: str, texts: list[str]) -> None:
        """Put down what is ticked off, a line each."""
        if not texts:
            return
        self.heading(title)
        for text in texts:
            lines = self.fonts.wrap(text, 9, self.right - self.left - 7)
            self.need(len(lines) * 5.2)
            self.box(self.y - 5.2)
            self.write(lines, 9, 5.2, 7)

    def paragraphs(self, title: str, texts: list[str], *, small: bool = False) -> None:
        if not texts:
            return
        self.heading(title)
        size, step = (7.0, _SMALL) if small else (9.0, _LINE)
        step *= self.close
        for text in texts:
            lines = self.fonts.wrap(text, size, self.right - self.left)
            self.need(min(len(lines), 4) * step)
            self.write(lines, size, step)
            self.y -= 1.4 * self.close

    def finish(self) -> tuple[Scene, ...]:
        scenes = []
        total = len(self.pages)
        for number, items in enumerate(self.pages, start=1):
            of = f", page {number} of {total}" if total > 1 else ""
            scenes.append(
                compose_page(
                    self.page,
                    self.fonts,
                    items,
                    name=f"schedule-{number}",
                    words=f"{self.title}: schedule{of}",
                    title=self.title,
                    subtitle=f"Schedule: what to buy and in what order to paint{of}",
                    code=f"{LETTERS['schedule']}{number}",
                )
            )
        return tuple(scenes)
