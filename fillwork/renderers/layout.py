"""Lay out pages: paper, body, furniture at head and foot.

Lengths are mm on paper. Everything stands on a grid of 4 mm; the margin is one
that office printers can print.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.plans.words import area_words, figure_words, three
from fillwork.renderers.scene import (
    BLACK,
    GREY_60,
    WHITE,
    Box,
    Item,
    Labels,
    Placed,
    Scene,
    Text,
    segments,
)
from fillwork.units import page_size

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from fillwork.renderers.text.typeset import FontSet


MARGIN = 10.0
"""Margin that printers can print, mm."""

HEAD = 16.0
FOOT = 14.0
THIN = "\u2009"


@dataclass(frozen=True, slots=True)
class Page:
    """Hold a page's size and where its body lies."""

    width: float  # width and height: size, mm
    height: float
    # head and foot: height of the bands above and below the body, mm
    head: float = HEAD
    foot: float = FOOT

    @property
    def body(self) -> Box:
        """Return the box between head and foot."""
        return (
            MARGIN,
            MARGIN + self.foot,
            self.width - MARGIN,
            self.height - MARGIN - self.head,
        )

    def check(self) -> None:
        """Raise if nothing is left for the drawing.

        Raises `PlanError` if the body is smaller than 25 mm either way.
        """
        left, bottom, right, top = self.body
        if right - left < 25 or top - bottom < 25:
            what = (
                f"paper of {self.width:g} x {self.height:g} mm is smaller than its "
                "margins need"
            )
            raise PlanError(what, mend="take larger paper, A6 at least")


def table_page(paper: str) -> Page:
    """Return the page that tables stand on: A4 where the paper is too narrow.

    At least 190 mm wide. `paper`: page name; ``drawing`` means A4.
    """
    width, height = page_size("A4" if paper == "drawing" else paper)
    if width < 190:
        width, height = page_size("A4")
    return Page(float(width), float(height))


def shorten(
    text: str, size: float, width: float, fonts: FontSet, weight: str = "regular"
) -> str:
    """Return a text cut to a width, with an ellipsis where it was cut.

    `size`, pt. `width`: most, mm. `weight`: ``regular`` or ``medium``.
    """
    if fonts.width(text, size, weight) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if fonts.width(text[:middle].rstrip() + "…", size, weight) <= width:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def format_area(mm2: float, whole: float | None = None) -> str:
    """Return an area with three significant figures, in mm², cm² or m².

    `whole`: what the areas of a list make together, mm²: one unit serves them all.

    Examples
    --------
    >>> format_area(1234.5).replace(THIN, " ")
    '12.3 cm²'
    """
    return area_words(mm2, whole).replace(" ", THIN)


def format_length(mm: float) -> str:
    """Return a length to 0.1 mm, or in m from 1 m on, with its unit."""
    if mm >= 1000:
        return f"{three(mm / 1000)}{THIN}m"
    if 0 < mm < 0.1:
        return f"{three(mm)}{THIN}mm"
    text = f"{mm:.1f}".removesuffix(".0")
    return f"{text}{THIN}mm"


def scale_text(
    scale: float, real_scale: float, scale_known: bool, across: float = 0.0
) -> str:
    """Return the scale of a sheet in words.

    Says whether it is real size, drawing size or a ratio, and of which. `scale`: paper
    mm for one mm of the drawing. `real_scale`: real mm for one mm of the drawing.
    `scale_known`: whether the real size is known. `across`: real width of the figure,
    mm, told where the real size is known.
    """
    if scale_known and across:
        words = scale_text(scale, real_scale, scale_known)
        return f"{words}; {figure_words(across)}"
    ratio = scale / real_scale
    if abs(ratio - 1) < 1e-6:
        if scale_known:
            return "Real size, 1 : 1"
        return "Drawing size, 1 : 1. The real scale is not known"
    of = "of real size" if scale_known else "of drawing size; real scale not known"
    if ratio < 1:
        return f"Reduced, 1 : {three(1 / ratio)} {of}"
    return f"Enlarged, {three(ratio)} : 1 {of}"


def compose_page(
    page: Page,
    fonts: FontSet,
    items: Iterable[Item],
    *,
    name: str,
    words: str,
    title: str,
    subtitle: str,
    code: str,
    scale: str = "",
    note: str = "",
    name_line: bool = False,
    aside: float = 0.0,
    tight: bool = False,
) -> Scene:
    """Return a page with what stands at its head and at its foot; on white paper.

    `name` and `words`: the scene's name, and what it shows. `title` and `subtitle`: at
    the head, left. `code`: page code, at the foot, right. `scale`: at the foot, beside
    the rule; without it there is no rule either. `note`: one more line at the foot, or
    as many as it takes, three at the most.
    `name_line`: whether there is a line for a name at the head, right. `aside`: width
    that something else takes at the head, right, mm. `tight`: whether title and
    subtitle share one line, as on pages that are joined.
    """
    right = page.width - MARGIN
    wide = right - MARGIN
    # a line for a name beside the title
    rule = min(60.0, wide * 0.42) if name_line else 0.0
    room = wide - (rule + 4 if name_line else 0.0) - aside
    if tight:
        head = _tight_head(page, fonts, title, subtitle, room, aside, name_line)
    else:
        head = _head(page, fonts, title, subtitle, room, rule, aside)
    # on narrow paper the scale stands over the rule, and leaves a note one line
    flows = bool(scale) and wide < 150 and len(fonts.wrap(note, 7, wide)) > 1
    foot = _scale_rule(page, fonts, "" if flows else scale, code) if scale else []
    if code:
        at = (right, MARGIN + 0.6)
        foot.append(Text(at, code, 9, "medium", align="right", role="P"))
    if flows:
        foot += _foot_lines(f"{scale}. {note}", wide, 8.6, fonts)
    elif note:
        # over the text of the rule, or higher where the scale stands there too
        foot += _foot_lines(
            note, wide, 8.6 if wide >= 150 or not scale else 11.7, fonts
        )
    whole = (*head, *items, *foot)
    return Scene(page.width, page.height, whole, words, name, WHITE)


def _foot_lines(words: str, wide: float, up: float, fonts: FontSet) -> list[Item]:
    """Return words over the rule at the foot, in up to three lines.

    `wide`: room, mm. `up`: how far above the margin a last line stands, mm; three
    lines, which stand closer, begin lower.
    """
    lines = fonts.wrap(words, 7, wide)
    most, step = (1, 0.0) if up > 9.0 else (2, 2.9)
    if most == 2 and len(lines) > 2:
        most, step, up = 3, 2.5, 7.2
    if len(lines) > most:
        rest = " ".join(lines[most - 1 :])
        lines = [*lines[: most - 1], shorten(rest, 7, wide, fonts)]
    top = MARGIN + up + step * (len(lines) - 1)
    return [
        Text((MARGIN, top - step * k), line, 7, colour=GREY_60)
        for k, line in enumerate(lines)
    ]


def _head(
    page: Page,
    fonts: FontSet,
    title: str,
    subtitle: str,
    room: float,
    rule: float,
    aside: float,
) -> list[Item]:
    """Return title and subtitle on lines of their own, a rule for a name beside."""
    top, right = page.height - MARGIN, page.width - MARGIN
    head: list[Item] = []
    words = shorten(title, 16, room, fonts, "medium")
    if words:
        head.append(Text((MARGIN, top - 5.0), words, 16, "medium", role="H1"))
    if subtitle:
        wide = right - MARGIN - aside
        size = 9 if fonts.width(subtitle, 9) <= wide else 7
        words = shorten(subtitle, size, wide, fonts)
        at = (MARGIN, top - 11.0)
        head.append(Text(at, words, size, colour=GREY_60, role="P"))
    if rule:
        x = right - rule - aside
        head += _name_rule((x, top - 5.0), x + rule, fonts, below=0.6)
    return head


def _tight_head(
    page: Page,
    fonts: FontSet,
    title: str,
    subtitle: str,
    room: float,
    aside: float,
    name_line: bool,
) -> list[Item]:
    """Return title, a rule for a name and subtitle on one line."""
    right, y = page.width - MARGIN, page.height - MARGIN - 3.5
    wide = right - MARGIN
    head: list[Item] = []
    words, size, used = tight_words(subtitle, wide, fonts, aside, name_line=name_line)
    if words:
        head.append(Text((right, y), words, size, colour=GREY_60, align="right"))
    most = min(room * (0.32 if name_line else 0.6), wide - used - aside - 4)
    words = shorten(title, 9, most, fonts, "medium")
    if words:
        head.insert(0, Text((MARGIN, y), words, 9, "medium", role="H1"))
    if name_line:
        head += _name_rule((MARGIN + wide * 0.34, y), MARGIN + wide * 0.55, fonts)
    return head


def tight_words(
    subtitle: str, wide: float, fonts: FontSet, aside: float, *, name_line: bool = False
) -> tuple[str, float, float]:
    """Return a subtitle as it stands beside the title, its size and its width.

    The title gives way to it. `wide`: width of the head, mm. `aside`: what something
    else takes before it, mm. `name_line`: whether a line for a name stands between.
    """
    room = wide * 0.85 - aside
    if name_line:
        # the line ends before what stands aside
        room = min(wide * 0.38, wide * 0.45 - aside - 1.0)
    for size in (9.0, 7.0):
        width = fonts.width(subtitle, size)
        if width <= room:
            return subtitle, size, width
    words = shorten(subtitle, 7.0, room, fonts)
    return words, 7.0, fonts.width(words, 7.0)


def _name_rule(
    at: tuple[float, float], end: float, fonts: FontSet, below: float = 0.0
) -> list[Item]:
    """Return the word “Name” and the line to write it on."""
    x, y = at[0] + (fonts.width("Name", 9) + 2), at[1] - below
    return [Text(at, "Name", 9, role="P"), segments([[x, y, end, y]], 0.2, BLACK)]


def _scale_rule(page: Page, fonts: FontSet, scale: str, code: str) -> list[Item]:
    """Return a rule to lay a ruler on, and the scale beside it or above."""
    left, right = MARGIN, page.width - MARGIN
    y = MARGIN + 5.0
    length = 100.0 if right - left >= 100 else 50.0
    ticks = [(0.1, 1.5), (length / 2, 0.8), (length - 0.1, 1.5)]
    lines = [[left, y, left + length, y]]
    lines += [[left + x, y - t, left + x, y + t] for x, t in ticks]
    words = f"{length:.0f}{THIN}mm: print at 100{THIN}%"
    words += ", not fitted to the page" if length >= 100 else ""
    words = shorten(words, 7, length, fonts)
    foot: list[Item] = [
        segments(lines, 0.2, BLACK),
        Text((left, MARGIN + 0.6), words, 7, role="P"),
    ]
    x = left + length + 6
    space = right - x - (fonts.width(code, 9, "medium") + 4 if code else 0.0)
    if space > 40:
        for k, line in enumerate(fonts.wrap(scale, 9, space)[:2]):
            foot.append(Text((x, y - 1.2 - 4.0 * k), line, 9, role="P"))
    else:
        words = shorten(scale, 7, right - left, fonts)
        if words:
            foot.append(Text((left, MARGIN + 8.6), words, 7, role="P"))
    return foot


def missing_characters(pages: Sequence[Scene], fonts: FontSet) -> str:
    """Return the characters on pages that no font has.

    Each once; empty where all are there.
    """
    words = dict.fromkeys(word for page in pages for word in _words(page.items))
    found = (c for word in words for c in fonts.shape(*word).missing)
    return "".join(dict.fromkeys(found))


def _words(items: Iterable[Item]) -> Iterator[tuple[str, str]]:
    """Iterate over all texts, with their weights."""
    for item in items:
        if isinstance(item, Text):
            yield item.text, item.weight
        elif isinstance(item, Labels):
            yield from ((item.texts[k], item.weight) for k in np.unique(item.text))
        elif isinstance(item, Placed):
            yield from _words(item.picture.items)
