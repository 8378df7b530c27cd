"""What a value of the plan file may be: each kind of value, and how it is told.

A check takes what TOML gave and returns it as the plan holds it, None where it is
of another kind.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fillwork.plans.settings import FITS

if TYPE_CHECKING:
    from collections.abc import Callable

    _Check = Callable[[Any], Any]


def _real(value: Any) -> float | None:
    """Check a number of either sign; true and false are none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) < 1e9 else None


def _number(value: Any) -> float | None:
    number = _real(value)
    return number if number is not None and number >= 0 else None


def _between(least: int, most: int = 2**31 - 1) -> _Check:
    def check(value: Any) -> int | None:
        if isinstance(value, bool) or not isinstance(value, int):
            return None
        return value if least <= value <= most else None

    return check


def _fit(value: Any) -> str | None:
    if isinstance(value, bool):
        return "page" if value else "true"
    return value if isinstance(value, str) and value in FITS else None


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) and value.strip() else None


def _many(one: _Check, least: int = 0, most: int | None = None) -> _Check:
    """Return a check of lists of one kind, of so many values."""

    def check(value: Any) -> tuple[Any, ...] | None:
        if not isinstance(value, list):
            return None
        found = tuple(one(v) for v in value)
        if len(found) < least or (most is not None and len(found) > most):
            return None
        return None if None in found else found

    return check


_whole = _between(0)
_point = _many(_real, 2, 2)


def _measure(value: Any) -> tuple[float, ...] | None:
    found = _many(_real, 5, 5)(value)
    if found is None or found[:2] == found[2:4] or found[4] <= 0:
        return None
    return tuple(found)


def _size(value: Any) -> tuple[float, float] | None:
    point = _point(value)
    return point if point is not None and min(point) > 0 else None


def _table(one: _Check) -> _Check:
    def check(value: Any) -> tuple[Any, ...] | None:
        if not isinstance(value, dict):
            return None
        found = tuple((k, one(v)) for k, v in value.items())
        return None if any(v is None for _, v in found) else found

    return check


def _choices(value: Any) -> Any:
    return _table(_whole)({"": value} if _whole(value) is not None else value)


KINDS: dict[str, tuple[_Check, str]] = {
    "number": (_number, "a number of 0 or more"),
    "length": (_number, "a length in mm"),
    "numbers": (_many(_number), "a list of numbers of 0 or more, such as [250, 1000]"),
    "whole": (_whole, "a whole number of 0 or more"),
    "count": (_between(1), "a whole number of 1 or more"),
    "colours": (
        lambda v: v if v in ("apart", "no") else _between(1)(v),
        "apart, no, or a whole number of 1 or more",
    ),
    "copies": (_between(1, 200), "a whole number from 1 to 200"),
    "alike": (
        lambda v: _number(v) if _number(v) is not None and v <= 0.5 else None,
        "a share from 0 to 0.5, such as 0.03 for 3 %",
    ),
    "width": (_between(16, 20_000), "a width from 16 to 20000 px"),
    "pages": (_between(1, 100_000), "a whole number from 1 to 100000"),
    "fit": (_fit, "one of " + ", ".join(FITS)),
    "pupils": (
        lambda v: int(v) if isinstance(v, bool) else _between(0, 200)(v),
        "a whole number of pupils up to 200",
    ),
    "truth": (lambda v: v if isinstance(v, bool) else None, "true or false"),
    "text": (_text, "a text"),
    "file": (
        lambda v: v if _text(v) and not set(v) & set("/\\\0") else None,
        "a file's name without a folder",
    ),
    "texts": (_many(_text), 'a list of texts, such as ["a", "b"]'),
    "swatch": (_text, "a text"),
    "swatches": (_many(_text), 'a list of texts, such as ["a", "b"]'),
    "points": (_many(_point), "a list of points in mm, such as [[10, 20], [30, 5.5]]"),
    "point": (_point, "a point in mm, such as [10, 20]"),
    "measure": (
        _measure,
        "[x, y, x, y, length]: two points and the length between them, mm",
    ),
    "size": (_size, "a width and a height in mm, such as [300, 200]"),
    "groups": (
        _many(_many(_text, 2)),
        'a list of lists of two or more places, such as [["A", "B"]]',
    ),
    "pairs": (
        _many(_many(_text, 2, 2)),
        'a list of places with swatches, such as [["A", "ivory"]]',
    ),
    "shares": (
        _table(_number),
        "a table of swatches with shares, such as { ivory = 0.4 }",
    ),
    "coats": (
        _table(_between(1)),
        "a table of paints with whole numbers of 1 or more, such as { ivory = 2 }",
    ),
    "choices": (
        _choices,
        "a number, or a table of kinds with numbers, such as { C = 2 }",
    ),
}
"""What each kind of value is checked by, and how it is told."""
