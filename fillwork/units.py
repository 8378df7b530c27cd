"""Lengths with units, page sizes.

Page sizes: ISO 216:2007 (A and B series) and ANSI/ASME Y14.1 (letter to E size).
"""

from __future__ import annotations

import math
import re

from fillwork.errors import PlanError

_MM_PER = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "ft": 304.8,
    "pt": 25.4 / 72.0,
    "px": 25.4 / 96.0,
}
"""Millimetres in each unit; px as CSS Values 4 fixes it, 96 to the inch."""

PAGE_SIZES: dict[str, tuple[float, float]] = {
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420),
    "A4": (210, 297), "A5": (148, 210), "A6": (105, 148), "B3": (353, 500),
    "B4": (250, 353), "B5": (176, 250), "letter": (215.9, 279.4),
    "legal": (215.9, 355.6), "tabloid": (279.4, 431.8), "ansi-c": (431.8, 558.8),
    "ansi-d": (558.8, 863.6), "ansi-e": (863.6, 1117.6),
}  # fmt: skip
"""Portrait width and height in mm."""

_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z]*)\s*")


def parse_length(text: str, *, what: str = "length") -> float:
    """Return a length in mm.

    `text`: a number with ``mm cm m in ft pt px``; a bare number is mm. `what`: what the
    length is for, named in errors. Returns the length in mm, 0 or more. Raises
    `PlanError` if the text is no length.

    Examples
    --------
    >>> parse_length("2.5cm")
    25.0
    """
    match = _LENGTH.fullmatch(text)
    if match is None or (match[2] and match[2].lower() not in _MM_PER):
        what_is_wrong = f"{what} “{text}” is no length"
        mend = "write a number with " + ", ".join(_MM_PER) + "; a bare number is mm"
        raise PlanError(what_is_wrong, mend=mend)
    value = float(match[1]) * _MM_PER[match[2].lower() or "mm"]
    if not 0 <= value < 1e9:
        what_is_wrong = f"{what} “{text}” is out of range"
        raise PlanError(what_is_wrong, mend="give a length from 0 to 1000 km")
    return value


def parse_share(text: str, *, what: str = "share") -> float:
    """Return a share as a fraction.

    `text`: ``15%`` or ``0.15``. `what`: what the share is for, named in errors. Returns
    the fraction, 0 to 1 (more than 1 is not refused). Raises `PlanError` if the text is
    no share.

    Examples
    --------
    >>> parse_share("15%")
    0.15
    """
    raw = text.strip()
    try:
        value = float(raw.rstrip("%").strip()) / (100.0 if raw.endswith("%") else 1.0)
    except ValueError:
        value = -1.0
    if not 0 <= value < 1e6:
        what_is_wrong = f"{what} “{text}” is no share"
        raise PlanError(what_is_wrong, mend="write it as 15% or 0.15")
    return value


def page_size(text: str) -> tuple[float, float]:
    """Return the width and height of a page.

    `text`: a name of `PAGE_SIZES`, with ``-landscape`` after it to lay it on its long
    side, or ``WIDTHxHEIGHT`` with units. Returns width and height, mm. Raises
    `PlanError` if no such page is known.

    Examples
    --------
    >>> page_size("A4-landscape")
    (297, 210)
    """
    raw = text.strip()
    name, _, way = raw.partition("-landscape") if "-landscape" in raw else (raw, "", "")
    turned = "-landscape" in raw and not way
    for known, (width, height) in PAGE_SIZES.items():
        if known.lower() == name.lower():
            return (height, width) if turned else (width, height)
    parts = re.split(r"[x×]", raw)
    if len(parts) == 2:
        try:
            size = tuple(parse_length(p) for p in parts)
        except PlanError:
            size = (0.0, 0.0)
        if min(size) >= 20.0:
            return (size[0], size[1])
    what = f"paper “{text}” is not known"
    mend = "take one of " + ", ".join(PAGE_SIZES) + " or WIDTHxHEIGHT (20 mm or more)"
    raise PlanError(what, mend=mend)


def fine(value: float, places: int = 3) -> float:
    """Return a number as files give it, however small it is.

    `value`: a measure. `places`: decimals; where they would leave fewer than three
    significant figures, there are as many as it takes. Returns the rounded number.

    Examples
    --------
    >>> fine(12.34567), fine(0.000254469)
    (12.346, 0.000254)
    """
    return round(value, _places(value, places)) + 0.0


def fine_text(value: float) -> str:
    """Return a number as `fine` gives it, written without an exponent.

    `value`: a measure. With two digits behind the point or more.

    Examples
    --------
    >>> fine_text(12.34567), fine_text(0.0000254469), fine_text(0.0)
    ('12.35', '0.0000254', '0.00')
    """
    return f"{value:.{_places(value, 2)}f}"


def counted(count: int, noun: str) -> str:
    """Return how many there are of something that takes an s.

    Examples
    --------
    >>> counted(1, "region"), counted(0, "kind")
    ('1 region', '0 kinds')
    """
    return f"{count} {noun}{'s' * (count != 1)}"


def plain(value: float, figures: int = 3) -> str:
    """Return a number of a few significant figures, written without an exponent.

    Examples
    --------
    >>> [plain(v) for v in (6751.2, 12.345, 0.012345, 0.0)]
    ['6750', '12.3', '0.0123', '0']
    """
    return f"{float(f'{value:.{figures}g}'):.10f}".rstrip("0").rstrip(".")


def _places(value: float, places: int) -> int:
    size = abs(value)
    if not 0 < size < 10.0 ** (2 - places):
        return places
    return 2 - math.floor(math.log10(size))
