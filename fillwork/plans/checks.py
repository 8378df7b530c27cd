"""What a value of the plan file may be: each kind of value, and how it is told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fillwork.plans.model import (
    FITS,
)

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


CHECKS: dict[str, Callable[[Any], Any]] = {
    "number": _number,
    "length": _number,
    "numbers": _many(_number),
    "whole": _whole,
    "count": lambda v: _whole(v) if v != 0 else None,
    "colours": lambda v: v if v == "apart" or (_whole(v) and v > 0) else None,
    "copies": lambda v: _whole(v) if _whole(v) and v <= 200 else None,
    "alike": lambda v: _number(v) if _number(v) is not None and v <= 0.5 else None,
    "width": lambda v: _whole(v) if _whole(v) and 16 <= v <= 20000 else None,
    "pages": lambda v: _whole(v) if _whole(v) and v <= 100_000 else None,
    "fit": lambda v: (
        ("page" if v else "true")
        if isinstance(v, bool)
        else v
        if isinstance(v, str) and v in FITS
        else None
    ),
    "pupils": lambda v: (
        int(v)
        if isinstance(v, bool)
        else _whole(v)
        if _whole(v) is not None and v <= 200
        else None
    ),
    "truth": lambda v: v if isinstance(v, bool) else None,
    "text": _text,
    "file": lambda v: v if _text(v) and not set(v) & set("/\\\0") else None,
    "texts": _many(_text),
    "points": _many(_point),
    "point": _point,
    "measure": _measure,
    "size": _size,
    "groups": _many(_group),
    "pairs": _many(_pair),
    "shares": _table(_number),
    "coats": _table(lambda v: _whole(v) if v != 0 else None),
    "choices": _choices,
}


WANTED = {
    "number": "a number of 0 or more",
    "length": "a length in mm",
    "numbers": "a list of numbers",
    "whole": "a whole number of 0 or more",
    "count": "a whole number of 1 or more",
    "colours": "apart, or a whole number of 1 or more",
    "copies": "a whole number from 1 to 200",
    "alike": "a share from 0 to 0.5, such as 0.03 for 3 %",
    "width": "a width from 16 to 20000 px",
    "pages": "a whole number from 1 to 100000",
    "fit": "one of " + ", ".join(FITS),
    "pupils": "a whole number of pupils up to 200",
    "truth": "true or false",
    "text": "a text",
    "file": "a file's name without a folder",
    "texts": "a list of texts",
    "points": "a list of points [x, y] in mm",
    "point": "a point [x, y] in mm",
    "measure": "[x, y, x, y, length]: two points and the length between them, mm",
    "size": "a size [width, height] in mm",
    "groups": "a list of lists of two or more places",
    "pairs": "a list of [place, swatch]",
    "shares": "a table of swatch = share",
    "coats": "a table of paint = whole number of 1 or more",
    "choices": "a number, or a table of kind = number",
}
