"""What a value of the plan file may be: each kind of value, and how it is told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fillwork.plans.settings import FITS

if TYPE_CHECKING:
    from collections.abc import Callable


def _number(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if 0 <= value < 1e9 else None


def _whole(value: Any) -> int | None:
    if isinstance(value, bool) or not isinstance(value, int):
        return None
    return value if 0 <= value < 2**31 else None


def _between(least: int, most: int = 2**31 - 1) -> Callable[[Any], int | None]:
    def check(value: Any) -> int | None:
        number = _whole(value)
        return number if number is not None and least <= number <= most else None

    return check


def _fit(value: Any) -> str | None:
    if isinstance(value, bool):
        return "page" if value else "true"
    return value if isinstance(value, str) and value in FITS else None


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) and value.strip() else None


def _many(one: Callable[[Any], Any]) -> Callable[[Any], tuple[Any, ...] | None]:
    def check(value: Any) -> tuple[Any, ...] | None:
        if not isinstance(value, list):
            return None
        found = tuple(one(v) for v in value)
        return None if any(v is None for v in found) else found

    return check


def _point(value: Any) -> tuple[float, float] | None:
    if not isinstance(value, list) or len(value) != 2:
        return None
    if any(isinstance(v, bool) or not isinstance(v, int | float) for v in value):
        return None
    x, y = float(value[0]), float(value[1])
    return (x, y) if abs(x) < 1e9 and abs(y) < 1e9 else None


def _measure(value: Any) -> tuple[float, ...] | None:
    if not isinstance(value, list) or len(value) != 5:
        return None
    ends, length = (_point(value[:2]), _point(value[2:4])), _number(value[4])
    if ends[0] is None or ends[1] is None or not length or ends[0] == ends[1]:
        return None
    return (*ends[0], *ends[1], length)


def _size(value: Any) -> tuple[float, float] | None:
    point = _point(value)
    return point if point is not None and min(point) > 0 else None


def _group(value: Any) -> tuple[str, ...] | None:
    found = _many(_text)(value)
    return found if found is not None and len(found) >= 2 else None


def _pair(value: Any) -> tuple[str, str] | None:
    found = _many(_text)(value)
    return (found[0], found[1]) if found is not None and len(found) == 2 else None


def _table(one: Callable[[Any], Any]) -> Callable[[Any], tuple[Any, ...] | None]:
    def check(value: Any) -> tuple[Any, ...] | None:
        if not isinstance(value, dict):
            return None
        found = tuple((k, one(v)) for k, v in value.items())
        return None if any(v is None for _, v in found) else found

    return check


def _choices(value: Any) -> tuple[tuple[str, int], ...] | None:
    if _whole(value) is not None:
        return (("", int(value)),)
    return _table(_whole)(value)


KINDS: dict[str, tuple[Callable[[Any], Any], str]] = {
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
    "points": (_many(_point), "a list of points in mm, such as [[10, 20], [30, 5.5]]"),
    "point": (_point, "a point in mm, such as [10, 20]"),
    "measure": (
        _measure,
        "[x, y, x, y, length]: two points and the length between them, mm",
    ),
    "size": (_size, "a width and a height in mm, such as [300, 200]"),
    "groups": (
        _many(_group),
        'a list of lists of two or more places, such as [["A", "B"]]',
    ),
    "pairs": (_many(_pair), 'a list of places with swatches, such as [["A", "ivory"]]'),
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
