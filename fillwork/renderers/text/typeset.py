"""Shape text: from characters to placed glyphs, in any bundled script.

Fonts are Noto Sans in two weights, with companions for Arabic, Hebrew and
Devanagari; a font of the user's own may follow them. Measures are in em.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_left
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import RenderError
from fillwork.geometry.curves import CUBIC, LINE, Curves
from fillwork.renderers.text.bidi import base_level, equal_runs, visual_runs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from typing import Any

    from fillwork.arrays import Floats, Ints

PT = 25.4 / 72
"""One point in mm."""

CAP_HEIGHT = 0.714
"""Height of capitals and figures of the bundled fonts, em."""

_BUNDLED = ("NotoSans", "NotoSansArabic", "NotoSansHebrew", "NotoSansDevanagari")
_WEIGHTS = {"regular": "Regular", "medium": "Medium"}

_BEFORE = {"left": 0.0, "centre": 0.5, "right": 1.0}

_REPLACED = {
    "\u2212": "\u2013",  # minus: the bundled fonts have an en dash of that width
    "\u2248": "~",
    "\t": " ",
}


@dataclass(frozen=True, eq=False)
class Font:
    """Hold one font file and its glyphs."""

    key: str  # name that is unique in a `FontSet`
    data: bytes  # the font file

    def __post_init__(self) -> None:
        import uharfbuzz as hb

        mend = "give a TrueType or OpenType font"
        try:
            face = hb.Face(self.data)
            font = hb.Font(face)
            count = face.glyph_count
        except Exception as error:
            what = f"the font “{self.key}” cannot be read ({error})"
            raise RenderError(what, mend=mend) from error
        if count == 0:
            what = f"the font “{self.key}” has no glyphs"
            raise RenderError(what, mend=mend)
        object.__setattr__(self, "hb", font)
        object.__setattr__(self, "per_em", face.upem)
        object.__setattr__(self, "characters", frozenset(face.unicodes))
        object.__setattr__(self, "_outlines", {})

    hb: Any = None
    per_em: int = 1000
    characters: frozenset[int] = frozenset()

    def outline(self, glyph: int) -> tuple[Curves, Ints]:
        """Return the contours of a glyph.

        Returns `curves`: lines and cubics in em, contour by contour, each closed;
        `start` (contours + 1,): limits of the contours.
        """
        known: dict[int, tuple[Curves, Ints]] = self._outlines  # type: ignore[attr-defined]
        if glyph not in known:
            known[glyph] = _read_outline(self.hb, glyph, self.per_em)
        return known[glyph]


def _read_outline(font: Any, glyph: int, per_em: int) -> tuple[Curves, Ints]:
    import uharfbuzz as hb

    kinds: list[int] = []
    rows: list[list[float]] = []
    start = [0]
    pen: list[float] = [0.0, 0.0, 0.0, 0.0]  # current point, start of contour

    def move(x: float, y: float, _: Any) -> None:
        pen[:] = [x, y, x, y]

    def line(x: float, y: float, _: Any) -> None:
        if (x, y) != (pen[0], pen[1]):
            kinds.append(LINE)
            rows.append([pen[0], pen[1], x, y, 0, 0, 0, 0])
            pen[0:2] = [x, y]

    def cubic(
        a: float, b: float, c: float, d: float, x: float, y: float, _: Any
    ) -> None:
        kinds.append(CUBIC)
        rows.append([pen[0], pen[1], a, b, c, d, x, y])
        pen[0:2] = [x, y]

    def quadratic(a: float, b: float, x: float, y: float, _: Any) -> None:
        # raised to a cubic, which is exact
        px, py = pen[0], pen[1]
        first = px + 2 * (a - px) / 3, py + 2 * (b - py) / 3
        cubic(*first, x + 2 * (a - x) / 3, y + 2 * (b - y) / 3, x, y, None)

    def close(_: Any) -> None:
        line(pen[2], pen[3], None)
        if len(rows) > start[-1]:
            start.append(len(rows))

    funcs = hb.DrawFuncs()
    funcs.set_move_to_func(move)
    funcs.set_line_to_func(line)
    funcs.set_cubic_to_func(cubic)
    funcs.set_quadratic_to_func(quadratic)
    funcs.set_close_path_func(close)
    font.draw_glyph(glyph, funcs)
    data = np.array(rows, dtype=np.float64).reshape(-1, 8) / per_em
    return Curves(np.array(kinds, np.uint8), data), np.array(start, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Hold glyphs of one font from left to right."""

    font: Font
    glyphs: tuple[int, ...]  # glyph numbers
    # x and y: where each stands from the start of the whole text, em
    x: tuple[float, ...]
    y: tuple[float, ...]
    advances: tuple[float, ...]  # advance of each glyph, em
    # the characters that each glyph stands for; empty for all but the first glyph of a
    # cluster
    clusters: tuple[str, ...]
    text: str  # the characters of the run in reading order
    rtl: bool  # whether it runs right to left
    start: float = 0.0  # where the pen stands before it, em


@dataclass(frozen=True, slots=True, eq=False)
class Shaped:
    """Hold a shaped line of text."""

    runs: tuple[Run, ...]  # from left to right
    width: float  # advance of all, em
    # box of the glyphs' outlines: left, bottom, right, top, em
    ink: tuple[float, float, float, float]
    missing: str  # characters that no font has
    rtl: bool = False  # whether the line as a whole runs right to left

    @property
    def middle(self) -> tuple[float, float]:
        """Return the middle of the ink's box, em."""
        left, bottom, right, top = self.ink
        return (left + right) / 2, (bottom + top) / 2

    def before(self, align: str) -> float:
        """Return how far it begins before its point, em. `align`: as in `Text`."""
        return _BEFORE[align] * self.width

    def glyphs(self) -> Iterator[tuple[Font, int, float, float]]:
        """Return font, number and place (em) of each glyph, from left to right."""
        return (
            (run.font, *glyph)
            for run in self.runs
            for glyph in zip(run.glyphs, run.x, run.y, strict=True)
        )


class FontSet:
    """Offer the bundled fonts, and one of the user's own after them.

    `extra`: a TrueType or OpenType font file for scripts that the bundled fonts lack.
    """

    def __init__(self, extra: bytes | None = None) -> None:
        self._extra = Font("own", extra) if extra is not None else None
        self._shaped: dict[tuple[str, str], Shaped] = {}

    def fonts(self, weight: str) -> list[Font]:
        """Return the fonts to try in order; latin first.

        `weight`: ``regular`` or ``medium``.
        """
        found = [_bundled(f"{name}-{_WEIGHTS[weight]}") for name in _BUNDLED]
        return [*found, self._extra] if self._extra else found

    def shape(self, text: str, weight: str = "regular") -> Shaped:
        """Return the glyphs of a line of text. `weight`: ``regular`` or ``medium``."""
        key = (text, weight)
        if key not in self._shaped:
            self._shaped[key] = self._shape(text, weight)
        return self._shaped[key]

    def middles(self, texts: Sequence[str], weight: str) -> Floats:
        """Return the middles of the ink of some texts, (n, 2), em."""
        found = [self.shape(text, weight).middle for text in texts]
        return np.array(found).reshape(-1, 2)

    def width(self, text: str, size: float, weight: str = "regular") -> float:
        """Return how wide a text is; width in mm.

        `size`, pt. `weight`: ``regular`` or ``medium``.
        """
        return self.shape(text, weight).width * size * 25.4 / 72

    def wrap(self, text: str, size: float, width: float) -> list[str]:
        """Return a text broken into lines at spaces.

        At least one line; a word longer than the line is broken. `size`, pt. `width`:
        longest line, mm.
        """
        lines: list[str] = []
        line = ""
        # a number and its per cent sign stay together
        joined = text.replace(" %", "\u00a0%")
        for word in filter(None, joined.split(" ")):
            trial = f"{line} {word}" if line else word
            if line and self.width(trial, size) > width:
                lines.append(line)
                line = word
            else:
                line = trial
            while self.width(line, size) > width and len(line) > 1:
                cut = self._fitting(line, size, width)
                lines.append(line[:cut])
                line = line[cut:]
        return [*lines, line] if line or not lines else lines

    def _fitting(self, word: str, size: float, width: float) -> int:
        """Return how many letters of a word too long for a width stand in it."""
        letters = range(len(word))
        long = bisect_left(
            letters, True, lo=2, key=lambda n: self.width(word[:n], size) > width
        )
        return long - 1

    def _shape(self, text: str, weight: str) -> Shaped:
        text = "".join(_REPLACED.get(c, c) for c in unicodedata.normalize("NFC", text))
        text = "".join(c for c in text if c >= " ")
        fonts = self.fonts(weight)
        chosen, missing = _choose_fonts(text, fonts)
        runs: list[Run] = []
        pen = 0.0
        for first, last, rtl in visual_runs(text):
            spans = equal_runs(chosen[first:last])
            for a, b, font in reversed(spans) if rtl else spans:
                words = text[first + a : first + b]
                runs.append(_shape_run(fonts[font], words, rtl, pen))
                pen += sum(runs[-1].advances)
        return Shaped(tuple(runs), pen, _ink_box(runs), missing, base_level(text) == 1)


def _choose_fonts(text: str, fonts: list[Font]) -> tuple[list[int], str]:
    """Return the font of each character; marks stay with their base."""
    chosen: list[int] = []
    missing = []
    for i, c in enumerate(text):
        joins = unicodedata.combining(c) or c in "\u200c\u200d"
        neutral = unicodedata.category(c)[0] in "ZPN"
        if i and (joins or neutral) and ord(c) in fonts[chosen[-1]].characters:
            chosen.append(chosen[-1])
            continue
        having = (k for k, font in enumerate(fonts) if ord(c) in font.characters)
        found = next(having, None)
        if found is None and unicodedata.category(c) not in ("Cf", "Cc"):
            missing.append(c)
        chosen.append(found if found is not None else chosen[-1] if chosen else 0)
    return chosen, "".join(dict.fromkeys(missing))


def _shape_run(font: Font, text: str, rtl: bool, pen: float) -> Run:
    import uharfbuzz as hb

    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if rtl else "ltr"
    hb.shape(font.hb, buffer, {"kern": True, "liga": False, "tnum": True})
    infos, places = buffer.glyph_infos, buffer.glyph_positions
    scale = 1.0 / font.per_em
    start = pen
    x, y, advances = [], [], []
    for place in places:
        x.append(pen + place.x_offset * scale)
        y.append(place.y_offset * scale)
        advances.append(place.x_advance * scale)
        pen += place.x_advance * scale
    # characters of each cluster, given to its first glyph
    marks = sorted({info.cluster for info in infos})
    told = {a: text[a:b] for a, b in pairwise([*marks, len(text)])}
    clusters = [told.pop(info.cluster, "") for info in infos]
    return Run(
        font,
        tuple(info.codepoint for info in infos),
        tuple(x),
        tuple(y),
        tuple(advances),
        tuple(clusters),
        text,
        rtl,
        start,
    )


def _ink_box(runs: list[Run]) -> tuple[float, float, float, float]:
    boxes = []
    for run in runs:
        for glyph, x, y in zip(run.glyphs, run.x, run.y, strict=True):
            extents = run.font.hb.get_glyph_extents(glyph)
            if extents is None or extents.width == 0:
                continue
            left = x + extents.x_bearing / run.font.per_em
            top = y + extents.y_bearing / run.font.per_em
            bottom = top + extents.height / run.font.per_em
            boxes.append((left, bottom, left + extents.width / run.font.per_em, top))
    if not boxes:
        return (0.0, 0.0, 0.0, 0.0)
    left, bottom, right, top = zip(*boxes, strict=True)
    return min(left), min(bottom), max(right), max(top)


@cache
def _bundled(name: str) -> Font:
    source = resources.files("fillwork.renderers") / "fonts" / f"{name}.ttf"
    return Font(name, source.read_bytes())


@lru_cache(maxsize=1)
def default_fonts() -> FontSet:
    """Return the bundled fonts."""
    return FontSet()
