"""Write curves as path commands: SVG's M L A C Z and PDF's m l c h.

Text is made for whole tables of curves at once and joined ring by ring, so that
shapes with hundreds of thousands of pieces take about a second.
"""

from __future__ import annotations

import itertools
import math
import re
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.geometry.ranges import spread

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.arrays import AnyInts, Bools, Floats, Ints

_NEAR_HALF = 0.09
"""Sweeps this near a half turn (rad) are ill conditioned as an ``A`` command."""

_MANY = 1000
"""Points from which on those that stand in one place are written once."""

_TRAILING = re.compile(r"\.0\b")


def decimals_for(size: float) -> int:
    """Return how many decimals keep a drawing to 1e-7 of its size.

    `size`: largest extent, mm.
    """
    if not size > 0:
        return 5
    return int(np.clip(7 - math.floor(math.log10(size)), 3, 9))


def format_number(value: float, decimals: int) -> str:
    """Return a number as short as its decimals allow.

    Without exponent, trailing zeros or negative zero.

    `decimals`: decimals to keep at most.

    Examples
    --------
    >>> format_number(12.50004, 3)
    '12.5'
    """
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def numbers(values: Floats, decimals: int) -> list[str]:
    """Return many numbers as text, each as short as it can be.

    `values`: any shape; read in order. `decimals`: decimals to keep at most.
    """
    rounded = np.round(np.asarray(values, dtype=np.float64).ravel(), decimals) + 0.0
    if rounded.size == 0:
        return []
    text = " ".join(map(repr, rounded.tolist()))
    if "e" in text:  # tiny numbers have an exponent in repr
        return [format_number(v, decimals) for v in rounded.tolist()]
    return _TRAILING.sub("", text).split(" ")


def _rows(values: Floats, decimals: int, form: str) -> list[str]:
    """Return each row of numbers as text, set into a form."""
    words = iter(numbers(values, decimals))
    return [form % row for row in zip(*[words] * values.shape[1], strict=True)]


def _points(xy: Floats, decimals: int, form: str) -> list[str]:
    """Return points as text; each is written once, however many pieces end there."""
    if len(xy) <= _MANY:
        return _rows(xy, decimals, form)
    at = np.round(xy, decimals) + 0.0
    whole = np.ascontiguousarray(at).view(np.complex128).ravel()
    found, index = np.unique(whole, return_inverse=True)
    words = _rows(found.view(np.float64).reshape(-1, 2), decimals, form)
    text: list[str] = np.array(words, object)[index].tolist()
    return text


def _put(out: list[str], where: AnyInts, texts: Iterable[str]) -> None:
    """Put texts at their places in a list."""
    for i, text in zip(where.tolist(), texts, strict=True):
        out[i] = text


class PathText:
    """Hold the text of each piece and of each start point.

    `pieces`: the command that runs along each curve. `starts`: the command that moves
    to the start of each curve that begins a path. `close`: the command that closes a
    ring. `plain`: straight pieces, which a closing command can stand for.
    """

    __slots__ = ("_close", "_pieces", "_plain", "_starts")

    def __init__(
        self, pieces: list[str], starts: list[str], close: str, plain: Bools
    ) -> None:
        self._pieces = pieces
        self._starts = starts
        self._close = close
        self._plain: list[bool] = plain.tolist()

    def path(self, first: int, last: int, closed: bool) -> str:
        """Return the commands of one path.

        `first` and `last`: pieces from the first to before the last. `closed`: whether
        it ends where it begins.
        """
        if closed:
            # the closing command draws the last straight side
            end = last - 1 if last - first > 1 and self._plain[last - 1] else last
            return self._starts[first] + "".join(self._pieces[first:end]) + self._close
        return self._starts[first] + "".join(self._pieces[first:last])

    def shape(self, limits: list[int]) -> str:
        """Return the commands of closed rings. `limits`: where each begins, the end."""
        rings = itertools.pairwise(limits)
        return "".join(self.path(a, b, True) for a, b in rings if b > a)


def _arc_pieces(data: Floats) -> tuple[Floats, ...]:
    """Return the end-point form of arcs given by conjugate half-diameters.

    `data` (n, 8): rows as in `fillwork.geometry.curves`, for ``ARC``. Returns (n,):
    half-axes rx and ry, turn of the long one in degrees, and the sign of the sweep (1:
    from x to y).

    The singular value decomposition of the matrix (u v) gives half-axes and
    turn. SVG 2, appendix B.2 ("Elliptical arc implementation notes").
    """
    m = np.stack([data[:, 2:4], data[:, 4:6]], axis=2)
    left, axes, _ = np.linalg.svd(m)
    turn = np.degrees(np.arctan2(left[:, 1, 0], left[:, 0, 0]))
    turn = np.where(turn <= -90, turn + 180, np.where(turn > 90, turn - 180, turn))
    rx, ry = axes[:, 0].copy(), axes[:, 1].copy()
    round_ones = np.abs(rx - ry) <= 1e-12 * rx
    turn[round_ones] = 0.0
    mean = (rx + ry) / 2
    rx[round_ones] = ry[round_ones] = mean[round_ones]
    det = data[:, 2] * data[:, 5] - data[:, 3] * data[:, 4]
    sign = np.sign(det) * np.sign(data[:, 7] - data[:, 6])
    return rx, ry, turn, sign


def _split_arcs(curves: Curves) -> tuple[Curves, Ints]:
    """Halve arcs that one ``A`` command cannot describe well."""
    parts = np.ones(len(curves), np.int64)
    arcs = curves.kind == ARC
    sweep = np.abs(curves.data[:, 7] - curves.data[:, 6])
    off_half = np.abs(sweep - np.pi)
    unclear = (off_half < _NEAR_HALF) & (off_half > 1e-9)
    parts[arcs & (unclear | (sweep > 1.5 * np.pi))] = 2
    if np.all(parts == 1):
        return curves, parts
    index, within = spread(parts)
    n = parts[index]
    whole = n == 1
    split = curves.part(index, within / n, (within + 1) / n)
    data = split.data.copy()
    data[whole] = curves.data[index[whole]]
    return Curves(split.kind.copy(), data), parts


def _merge(text: list[str], parts: Ints) -> list[str]:
    if np.all(parts == 1):
        return text
    first = np.concatenate([[0], np.cumsum(parts)]).tolist()
    return ["".join(text[a:b]) for a, b in itertools.pairwise(first)]


def _starts(
    curves: Curves, begin: AnyInts | None, decimals: int, form: str
) -> list[str]:
    """Return the text that begins a path at some curves, nothing at the others."""
    if begin is None:
        return _points(curves.starts(), decimals, form)
    starts = [""] * len(curves)
    begin = begin[begin < len(curves)]
    at = curves.point(begin, np.zeros(len(begin)))
    _put(starts, begin, _points(at, decimals, form))
    return starts


def _pieces(curves: Curves, decimals: int, line: str, cubic: str) -> list[str]:
    """Return the text of lines and cubics by their forms, nothing for arcs."""
    out = [""] * len(curves)
    where = np.flatnonzero(curves.kind == LINE)
    _put(out, where, _points(curves.data[where, 2:4], decimals, line))
    where = np.flatnonzero(curves.kind == CUBIC)
    _put(out, where, _rows(curves.data[where, 2:8], decimals, cubic))
    return out


def svg_paths(curves: Curves, decimals: int, begin: AnyInts | None = None) -> PathText:
    """Return the SVG commands of a table of curves.

    `curves`: in the coordinates of the file, y down. `decimals`: decimals to keep.
    `begin`: the curves at which paths begin, one past the last allowed; by default any.

    Lines are ``L``, arcs ``A``, cubics ``C``. An arc of a full turn, or one within
    some degrees of a half turn (but not exactly one), is two ``A``. For an exact
    half turn the half-axes are written a trace too short; a reader then scales
    them up to fit the end points (SVG 2, appendix B.2.5), which is exact. To an arc
    that begins beside the end of the last piece, where ends were joined, a line leads.
    """
    whole, parts = _split_arcs(curves)
    out = _pieces(whole, decimals, "L%s %s", "C%s %s %s %s %s %s")
    where = np.flatnonzero(whole.kind == ARC)
    if len(where):
        data = whole.data[where]
        rx, ry, turn, sign = _arc_pieces(data)
        sweep = np.abs(data[:, 7] - data[:, 6])
        fine = decimals + 3
        short = np.where(np.abs(sweep - np.pi) <= 1e-9, 10.0**-fine, 0.0)
        radii = _rows(np.stack([rx - short, ry - short], axis=1), fine, "A%s %s")
        turns = numbers(turn, 9)
        large, way = np.stack([sweep > np.pi, sign > 0]).astype(int).tolist()
        ends = _rows(whole.point(where, np.ones(len(where))), decimals, "%s %s")
        _put(out, where, map("{} {} {} {} {}".format, radii, turns, large, way, ends))
    starts = _starts(curves, begin, decimals, "M%s %s")
    out = _merge(out, parts)
    if begin is not None:
        where = _beside(curves, begin, 10.0 ** (1 - decimals))
        at = curves.point(where, np.zeros(len(where)))
        onto = _rows(at, decimals, "L%s %s")
        _put(out, where, (a + out[i] for a, i in zip(onto, where, strict=True)))
    return PathText(out, starts, "Z", curves.kind == LINE)


def _beside(curves: Curves, begin: AnyInts, least: float) -> Ints:
    """Return the arcs that begin so far beside the end of what they follow, or farther.

    An ``A`` goes from where the pen is, and near half a turn a hundredth of a
    millimetre there moves the middle of an arc of 6 mm by a quarter.
    """
    apart = np.abs(curves.starts()[1:] - curves.ends()[:-1]).max(axis=1, initial=0.0)
    found = np.r_[False, apart >= least][: len(curves)] & (curves.kind == ARC)
    found[begin[begin < len(curves)]] = False
    return np.flatnonzero(found)


def lines_path(curves: Curves, decimals: int) -> str:
    """Return one path of curves, each by itself. `decimals`: decimals to keep."""
    text = svg_paths(curves, decimals)
    return "".join(text.path(k, k + 1, False) for k in range(len(curves)))


def _arcs_to_cubics(curves: Curves, step: float) -> tuple[Curves, Ints]:
    arcs = curves.kind == ARC
    parts = np.ones(len(curves), np.int64)
    if not arcs.any():
        return curves, parts
    sweep = np.abs(curves.data[arcs, 7] - curves.data[arcs, 6])
    parts[arcs] = np.maximum(1, np.ceil(sweep / step - 1e-9)).astype(np.int64)
    index, within = spread(parts)
    data = curves.data[index].copy()
    kind = curves.kind[index].copy()
    m = kind == ARC
    a = data[m]
    turn = (a[:, 7] - a[:, 6]) / parts[index[m]]
    s0 = a[:, 6] + within[m] * turn
    s1 = s0 + turn
    k = (4 / 3 * np.tan(turn / 4))[:, None]
    u, v, c = a[:, 2:4], a[:, 4:6], a[:, 0:2]

    def at(s: Floats) -> tuple[Floats, Floats]:
        cos, sin = np.cos(s)[:, None], np.sin(s)[:, None]
        return c + u * cos + v * sin, v * cos - u * sin

    (p0, d0), (p1, d1) = at(s0), at(s1)
    data[m] = np.hstack([p0, p0 + k * d0, p1 - k * d1, p1])
    kind[m] = CUBIC
    return Curves(kind, data), parts


def pdf_paths(curves: Curves, decimals: int, begin: AnyInts | None = None) -> PathText:
    """Return the PDF operators of a table of curves.

    Text of each piece; PDF has no arcs, they are cubics here. `curves`: in the
    coordinates of the page or form. `decimals`: decimals to keep. `begin`: the curves
    at which paths begin, one past the last allowed; by default any.
    """
    whole, parts = _arcs_to_cubics(curves, np.pi / 4)
    out = _pieces(whole, decimals, "%s %s l\n", "%s %s %s %s %s %s c\n")
    starts = _starts(curves, begin, decimals, "%s %s m\n")
    return PathText(_merge(out, parts), starts, "h\n", curves.kind == LINE)
