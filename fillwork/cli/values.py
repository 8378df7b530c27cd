"""Kinds of values that options take: lengths, shares, places, scales."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fillwork.errors import FillworkError

if TYPE_CHECKING:
    # click's types take a parameter from 8.4 on; at run time they need none
    _Type = click.ParamType[Any]
else:
    _Type = click.ParamType


class Colours(_Type):
    """A number of colours that change places, or ``apart``."""

    name = "colours"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return the number or the word.

        Returns
        -------
        Any
            An int or ``apart``.
        """
        if value == "apart" or isinstance(value, int):
            return value
        if not (value.isdecimal() and len(value) < 3 and 2 <= int(value) <= 12):
            self.fail("give a number from 2 to 12, or apart", param, ctx)
        return int(value)


class Length(_Type):
    """A length such as ``2.5cm``, in mm inside."""

    name = "length"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return mm."""
        if not isinstance(value, str):
            return value
        from fillwork.units import parse_length

        try:
            return parse_length(value)
        except FillworkError as error:
            self.fail(f"{error.what}; {error.mend}", param, ctx)


class Share(_Type):
    """A share such as ``15%``, a fraction inside."""

    name = "share"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return a fraction.

        Returns
        -------
        Any
            A fraction.
        """
        if not isinstance(value, str):
            return value
        from fillwork.units import parse_share

        try:
            return parse_share(value)
        except FillworkError as error:
            self.fail(f"{error.what}; {error.mend}", param, ctx)


class Point(_Type):
    """A place such as ``@12.5,40``, a pair of mm inside."""

    name = "@x,y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return x and y."""
        if not isinstance(value, str):
            return value
        x, comma, y = value.strip().removeprefix("@").partition(",")
        try:
            point = (float(x), float(y))
        except ValueError:
            comma = ""
            point = (0.0, 0.0)
        if not comma or not all(abs(v) < 1e9 for v in point):
            self.fail(f"“{value}” is no place; write @x,y in mm", param, ctx)
        return point


class Pair(_Type):
    """Two texts joined by ``=``, such as ``A=gold``.

    Parameters
    ----------
    left, right : str
        What stands on each side, for the message.
    """

    name = "pair"

    def __init__(self, left: str, right: str) -> None:
        self.left, self.right = left, right

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return both sides."""
        if not isinstance(value, str):
            return value
        left, equals, right = value.rpartition("=")
        if not equals or not left.strip() or not right.strip():
            self.fail(f"“{value}” is not {self.left}={self.right}", param, ctx)
        return (left.strip(), right.strip())


class Scale(_Type):
    """A scale such as ``1:5``, true length / drawn length inside."""

    name = "scale"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return true length / drawn length."""
        if not isinstance(value, str):
            return value
        drawn, _, true = value.partition(":")
        try:
            scale = float(true) / float(drawn)
        except (ValueError, ZeroDivisionError):
            scale = 0.0
        if not 1e-6 < scale < 1e6:
            self.fail(f"“{value}” is no scale; write it as 1:5", param, ctx)
        return scale


class RealWidth(_Type):
    """A true width with what it measures: ``300mm`` or ``drawing 300mm``."""

    name = "width"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return what is measured, and mm.

        Returns
        -------
        Any
            ``page`` or ``drawing``, and the length.
        """
        if not isinstance(value, str):
            return value
        word, _, length = value.strip().rpartition(" ")
        if word.strip() not in ("page", "drawing"):
            word, length = "page", value
        return word.strip(), LENGTH.convert(length, param, ctx)


class Measure(_Type):
    """A true length between two points, such as ``10,10 70,10 = 300mm``."""

    name = "measure"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return x y x y and the length in mm."""
        if not isinstance(value, str):
            return value
        from fillwork.units import parse_length

        ends, _, length = value.partition("=")
        try:
            points = [float(v) for v in ends.replace(",", " ").replace("@", "").split()]
            true = parse_length(length)
        except (ValueError, FillworkError):
            points, true = [], 0.0
        if len(points) != 4 or true <= 0 or points[:2] == points[2:]:
            wanted = "write two points and the length, such as “10,10 70,10 = 300mm”"
            self.fail(f"“{value}” is no measure; {wanted}", param, ctx)
        return (*points, true)


class Corners(_Type):
    """Four points of a picture such as ``10,12 800,9 805,1100 7,1105``, px."""

    name = "corners"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Return four pairs."""
        if not isinstance(value, str):
            return value
        try:
            found = tuple(
                (float(x), float(y))
                for x, y in (part.split(",") for part in value.split())
            )
        except ValueError:
            found = ()
        if len(found) != 4 or not all(abs(v) < 1e6 for p in found for v in p):
            self.fail(f"“{value}” is not x,y x,y x,y x,y in px", param, ctx)
        return found


LENGTH, SHARE, POINT = Length(), Share(), Point()
