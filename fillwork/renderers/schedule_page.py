"""Compose the schedule as pages: a table for the shop, the order, the cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.renderers.layout import (
    THIN,
    Page,
    compose_frame,
    format_area,
    format_length,
    shorten,
)
from fillwork.renderers.scene import (
    BLACK,
    GREY_45,
    GREY_60,
    WHITE,
    Item,
    Scene,
    Text,
    rectangle,
    segments,
)
from fillwork.renderers.typeset import default_fonts
from fillwork.units import page_size

if TYPE_CHECKING:
    from fillwork.colouring.model import Palette
    from fillwork.plans.model import Quantity, Schedule
    from fillwork.renderers.typeset import FontSet

__all__ = ["compose_schedule"]

_ROW = 8.0
_COLUMNS = (
    # title, right edge from the left margin in mm
    ("Regions", 86.0),
    ("Area", 106.0),
    ("Edge", 126.0),
    ("Coats", 138.0),
    ("Need", 156.0),
)


def compose_schedule(
    schedule: Schedule,
    palette: Palette,
    *,
    title: str,
    paper: str = "A4",
    fonts: FontSet | None = None,
) -> tuple[Scene, ...]:
    """Return the schedule as pages to take to the shop and to the wall.

    Parameters
    ----------
    schedule : Schedule
        What to buy, in what order to paint, cautions.
    palette : Palette
        Names and colours.
    title : str
        Title of the drawing.
    paper : str
        Page name; ``drawing`` means A4.
    fonts : FontSet, optional
        Fonts; the bundled ones by default.

    Returns
    -------
    tuple of Scene
        Pages.
    """
    fonts = fonts or default_fonts()
    width, height = page_size("A4" if paper == "drawing" else paper)
    if width < 190:
        width, height = page_size("A4")
    writer = _Writer(Page(float(width), float(height)), title, fonts)
    writer.table(schedule, palette)
    writer.order(schedule, palette)
    writer.paragraphs("Mixes", _mixes(schedule, palette))
    writer.paragraphs("Factors", _factors(schedule, palette), small=True)
    writer.paragraphs("Cautions", list(schedule.cautions))
    writer.paragraphs("Notes", [note.text for note in schedule.notes], small=True)
    return writer.finish()


def _mixes(schedule: Schedule, palette: Palette) -> list[str]:
    lines = []
    for swatch, recipe, difference, remark in schedule.mixes:
        name = palette.swatches[swatch].name
        text = f"{name}: {recipe}; expected difference {difference:.1f} (CIEDE2000)."
        lines.append(f"{text} {remark}".strip())
    return lines


def _factors(schedule: Schedule, palette: Palette) -> list[str]:
    """Return each set of factors once, with the paints it holds for."""
    sets: dict[str, list[str]] = {}
    for quantity, name in _named(schedule, palette):
        text = "; ".join(
            f"{what} {value} ({source})" if source else f"{what} {value}"
            for what, value, source in quantity.factors
        )
        if text:
            sets.setdefault(text, []).append(name)
    return [f"{', '.join(names)}: {text}." for text, names in sets.items()]


def _named(schedule: Schedule, palette: Palette) -> list[tuple[Quantity, str]]:
    rows = [(q, palette.swatches[q.swatch].name) for q in schedule.quantities]
    rows += list(zip(schedule.extras, schedule.extra_names, strict=True))
    return rows


def _need(quantity: Quantity) -> str:
    if quantity.bare:
        return "bare"
    if quantity.leaves is not None:
        return f"{quantity.leaves} leaves"
    if quantity.volume is None:
        return "–"
    if quantity.volume >= 1000:
        return f"{quantity.volume / 1000:.2f}{THIN}L"
    return (
        f"{quantity.volume:.3g}{THIN}mL"
        if quantity.volume < 100
        else (f"{quantity.volume:.0f}{THIN}mL")
    )


def _buy(quantity: Quantity) -> str:
    if quantity.books is not None:
        return f"{quantity.books} book{'s' * (quantity.books != 1)}"
    return ", ".join(
        f"{count} × {size / 1000:g}{THIN}L"
        if size >= 1000
        else f"{count} × {size:g}{THIN}mL"
        for size, count in quantity.containers
    )


class _Writer:
    """Write down a page, and turn it when it is full."""

    def __init__(self, page: Page, title: str, fonts: FontSet) -> None:
        self.page, self.title, self.fonts = page, title, fonts
        self.left, self.bottom, self.right, self.top = page.body
        self.bottom -= 6
        self.pages: list[list[Item]] = []
        self.y = 0.0
        self.row = 0
        self.turn()

    def turn(self) -> None:
        self.pages.append([])
        self.y = self.top

    def need(self, height: float) -> bool:
        """Turn the page if less than a height is left; say whether it was."""
        if self.y - height < self.bottom:
            self.turn()
            return True
        return False

    def put(self, *items: Item) -> None:
        self.pages[-1].extend(items)

    def heading(self, text: str) -> None:
        self.need(20)
        if self.y < self.top:
            self.y -= 4
        self.y -= 5
        self.put(Text((self.left, self.y), text, 12, "medium", role="H2"))
        self.y -= 3

    def titles(self) -> None:
        self.y -= 4
        self.row += 1
        for words, edge in _COLUMNS:
            self.put(
                Text(
                    (self.left + edge, self.y),
                    words,
                    7,
                    colour=GREY_60,
                    align="right",
                    role="TH",
                    row=self.row,
                )
            )
        at = (self.left + 160, self.y)
        self.put(Text(at, "To buy", 7, colour=GREY_60, role="TH", row=self.row))
        self.y -= 1.5
        self.put(segments([[self.left, self.y, self.right, self.y]], 0.2, BLACK))

    def table(self, schedule: Schedule, palette: Palette) -> None:
        self.titles()
        rows = _named(schedule, palette)
        for number, (quantity, name) in enumerate(rows):
            if self.need(_ROW):
                self.titles()
            self.row += 1
            known = number < len(schedule.quantities)
            base = self.y - 5.2
            left = self.left
            self.put(*rectangle((left, base - 0.6, left + 3.6, base + 3.0), edge=BLACK))
            if known:
                swatch = palette.swatches[quantity.swatch]
                self.put(
                    *rectangle(
                        (left + 7, base - 1.2, left + 12, base + 3.8),
                        fill=swatch.hex,
                        edge=BLACK,
                    )
                )
                code = swatch.code
                details = " · ".join(
                    d for d in (", ".join(swatch.pigments), swatch.medium) if d
                )
            else:
                code, details = "", ""
            self.put(self._cell(left + 14.5, base, code, 9, "medium"))
            room = 46.0
            words = shorten(name, 9, room, self.fonts, "medium")
            lift = 1.4 if details else 0.0
            self.put(self._cell(left + 22, base + lift, words, 9, "medium"))
            if details:
                words = shorten(details, 7, room, self.fonts)
                self.put(self._cell(left + 22, base - 1.6, words, 7, colour=GREY_60))
            count = f"{quantity.faces}" if quantity.faces else "–"
            edge = format_length(quantity.edge) if quantity.edge else "–"
            values = (
                count,
                format_area(quantity.area_real),
                edge,
                f"{quantity.coats}" if not quantity.bare else "–",
                _need(quantity),
            )
            for value, (_, at) in zip(values, _COLUMNS, strict=True):
                self.put(self._cell(left + at, base, value, 9, align="right"))
            words = shorten(_buy(quantity), 9, self.right - left - 160, self.fonts)
            if words:
                self.put(self._cell(left + 160, base, words, 9))
            self.y -= _ROW
            self.put(segments([[left, self.y, self.right, self.y]], 0.1, GREY_45))
        said = schedule.scale_words
        words = (
            (f"Areas are real; {said}." if said else "Areas are real.")
            if schedule.scale_known
            else "Areas are those of the drawing: its real scale is not known."
        )
        self.y -= 4.5
        self.put(Text((self.left, self.y), words, 7, colour=GREY_60))

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
    ) -> Text:
        return Text((x, y), text, size, weight, colour, align, role="TD", row=self.row)

    def order(self, schedule: Schedule, palette: Palette) -> None:
        del palette
        if not schedule.steps:
            return
        self.heading("Order of work")
        indent = 9.0
        room = self.right - self.left - indent
        for step in schedule.steps:
            lines = self.fonts.wrap(step.text, 9, room)
            reasons = self.fonts.wrap(step.reason, 7, room) if step.reason else []
            self.need(len(lines) * 4.6 + len(reasons) * 3.6 + 1)
            for k, line in enumerate(lines):
                self.y -= 4.6
                if k == 0:
                    at = (self.left + 6.0, self.y)
                    self.put(Text(at, f"{step.order}", 9, "medium", align="right"))
                self.put(Text((self.left + indent, self.y), line, 9))
            for line in reasons:
                self.y -= 3.6
                self.put(Text((self.left + indent, self.y), line, 7, colour=GREY_60))
            self.y -= 1.6

    def paragraphs(self, title: str, texts: list[str], *, small: bool = False) -> None:
        if not texts:
            return
        self.heading(title)
        size, step = (7.0, 3.6) if small else (9.0, 4.6)
        for text in texts:
            lines = self.fonts.wrap(text, size, self.right - self.left)
            self.need(min(len(lines), 4) * step)
            for line in lines:
                self.need(step)
                self.y -= step
                self.put(Text((self.left, self.y), line, size))
            self.y -= 1.4

    def finish(self) -> tuple[Scene, ...]:
        scenes = []
        total = len(self.pages)
        for number, items in enumerate(self.pages, start=1):
            of = f", page {number} of {total}" if total > 1 else ""
            head, foot = compose_frame(
                self.page,
                self.fonts,
                title=self.title,
                subtitle=f"Schedule: what to buy and in what order to paint{of}",
                scale="",
                code=f"T{number}",
            )
            scenes.append(
                Scene(
                    self.page.width,
                    self.page.height,
                    (*head, *items, *foot),
                    f"{self.title}: schedule{of}",
                    f"schedule-{number}",
                    WHITE,
                )
            )
        return tuple(scenes)
