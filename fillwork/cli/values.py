"""Kinds of values that options take: lengths, shares, places, scales."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fillwork.errors import FillworkError

if TYPE_CHECKING:
    from collections.abc import Callable

    # click's types take a parameter from 8.4 on; at run time they need none
    _Type = click.ParamType[Any]
else:
    _Type = click.ParamType


class Kind(_Type):
    """A kind of value, read from its text by a function.

    `name`: what click calls it. `read`: from the text to the value; raises ValueError
    with what is wrong.
    """

    def __init__(self, name: str, read: Callable[[str], Any]) -> None:
        self.name, self.read = name, read

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return the value of a text; what was read already stays."""
        if not isinstance(value, str):
            return value
        try:
            return self.read(value)
        except FillworkError as error:
            self.fail(f"{error.what}; {error.mend}", param, ctx)
        except ValueError as error:
            self.fail(str(error), param, ctx)


def _colours(text: str) -> int | str:
    if text in ("apart", "no"):
        return text
    if not (text.isdecimal() and len(text) < 3 and 2 <= int(text) <= 12):
        what = "give a number from 2 to 12, apart or no"
        raise ValueError(what)
    return int(text)


def _length(text: str) -> float:
    from fillwork.units import parse_length

    return parse_length(text)


def _share(text: str) -> float:
    from fillwork.units import parse_share

    return parse_share(text)


def _numbers(texts: list[str]) -> tuple[float, ...]:
    """Return numbers; none where one of the texts is no number."""
    try:
        return tuple(float(text) for text in texts)
    except ValueError:
        return ()


def _point(text: str) -> tuple[float, ...]:
    found = _numbers(text.strip().removeprefix("@").split(",", 1))
    if len(found) != 2 or not all(abs(v) < 1e9 for v in found):
        what = f"“{text}” is no place; write @x,y in mm"
        raise ValueError(what)
    return found


def _scale(text: str) -> float:
    # true length / drawn length
    found = _numbers(text.split(":", 1))
    scale = found[1] / found[0] if len(found) == 2 and found[0] else 0.0
    if not 1e-6 < scale < 1e6:
        what = f"“{text}” is no scale; write it as 1:5"
        raise ValueError(what)
    return scale


def _real_width(text: str) -> tuple[str, float]:
    # what is measured, and its length
    word, _, length = text.strip().rpartition(" ")
    if word.strip() not in ("page", "drawing"):
        word, length = "page", text
    return word.strip(), _length(length)


def _measure(text: str) -> tuple[float, ...]:
    # x y x y and the length
    ends, _, length = text.partition("=")
    points = _numbers(ends.replace(",", " ").replace("@", "").split())
    try:
        true = _length(length)
    except FillworkError:
        true = 0.0
    if len(points) != 4 or true <= 0 or points[:2] == points[2:]:
        what = f"“{text}” is no measure; write two points and the length, such as "
        what += "“10,10 70,10 = 300mm”"
        raise ValueError(what)
    return (*points, true)


def _corners(text: str) -> tuple[tuple[float, ...], ...]:
    found = tuple(_numbers(part.split(",")) for part in text.split())
    whole = [len(p) for p in found] == [2] * 4
    if not whole or not all(abs(v) < 1e6 for p in found for v in p):
        what = f"“{text}” is not x,y x,y x,y x,y in px"
        raise ValueError(what)
    return found


def pair(left: str, right: str) -> Kind:
    """Return the kind of two texts joined by ``=``, such as ``A=gold``.

    Its values are pairs of texts. `left` and `right`: what stands on each side, for the
    message.
    """

    def _read(text: str) -> tuple[str, str]:
        one, _, other = text.rpartition("=")
        if not one.strip() or not other.strip():
            what = f"“{text}” is not {left}={right}"
            raise ValueError(what)
        return one.strip(), other.strip()

    return Kind("pair", _read)


COLOURS = Kind("colours", _colours)
"""A number of colours that change places, ``apart`` or ``no``."""
LENGTH = Kind("length", _length)
"""A length such as ``2.5cm``, in mm inside."""
SHARE = Kind("share", _share)
"""A share such as ``15%``, a fraction inside."""
POINT = Kind("@x,y", _point)
"""A place such as ``@12.5,40``, a pair of mm inside."""
SCALE = Kind("scale", _scale)
"""A scale such as ``1:5``, true length / drawn length inside."""
REAL_WIDTH = Kind("width", _real_width)
"""A true width with what it measures: ``300mm`` or ``drawing 300mm``."""
MEASURE = Kind("measure", _measure)
"""A true length between two points, such as ``10,10 70,10 = 300mm``."""
CORNERS = Kind("corners", _corners)
"""Four points of a picture such as ``10,12 800,9 805,1100 7,1105``, px."""
