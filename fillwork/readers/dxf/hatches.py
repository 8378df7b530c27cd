"""The edges of hatches and of polygons of several rings, as rings of curves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, LINE
from fillwork.readers.dxf.bulges import arc_span, bulge_curves
from fillwork.readers.dxf.splines import spline_curves

if TYPE_CHECKING:
    from fillwork.readers.dxf.tags import Entity

    Curve = tuple[int, tuple[float, ...]]


class _Tape:
    # the tags of an entity, read one after the other by their codes
    def __init__(self, entity: Entity) -> None:
        self.codes = entity.codes
        self.values = entity.values
        self.at = 0

    def find(self, code: bytes) -> float:
        """Return the value of the next tag of a code, and go past it."""
        self.at = self.codes.index(code, self.at) + 1
        return float(self.values[self.at - 1])

    def bulge_or_weight(self, default: float) -> float:
        """Return the value of the very next tag, if it is of code 42."""
        if self.at < len(self.codes) and self.codes[self.at] == b"42":
            return self.find(b"42")
        return default


def hatch_rings(entity: Entity) -> list[list[Curve]]:
    """Return the closed edges of a HATCH or a MPOLYGON in its own plane.

    Rings, each of curves end to end. Raises `ValueError` if the tags end too early or
    hold no numbers.
    """
    tape = _Tape(entity)
    rings = []
    for _ in range(_count(tape, b"91")):
        ring = _polyline(tape) if int(tape.find(b"92")) & 2 else _edges(tape)
        rings.append(ring)
    return rings


def _count(tape: _Tape, code: bytes) -> int:
    count = int(tape.find(code))
    if not 0 <= count <= len(tape.codes):
        what = "a count that cannot be true"
        raise ValueError(what)
    return count


def _polyline(tape: _Tape) -> list[Curve]:
    start = tape.at
    count = _count(tape, b"93")
    # in a MPOLYGON 72 stands behind 73
    told = zip(tape.codes[start : tape.at], tape.values[start : tape.at], strict=True)
    bulges = float(dict(told).get(b"72", 0)) != 0
    points = []
    for _ in range(count):
        x, y = tape.find(b"10"), tape.find(b"20")
        points.append((x, y, tape.bulge_or_weight(0.0) if bulges else 0.0))
    # a hatch's edge is closed whatever it says
    return bulge_curves(points, closed=True)


def _edges(tape: _Tape) -> list[Curve]:
    curves: list[Curve] = []
    for _ in range(_count(tape, b"93")):
        kind = int(tape.find(b"72"))
        if kind == 1:
            ends = [tape.find(code) for code in (b"10", b"20", b"11", b"21")]
            curves.append((LINE, (*ends, 0.0, 0.0, 0.0, 0.0)))
        elif kind == 2:
            cx, cy, r, first, last = (
                tape.find(code) for code in (b"10", b"20", b"40", b"50", b"51")
            )
            turn = 1.0 if tape.find(b"73") else -1.0
            s = arc_span(math.radians(first), math.radians(last))
            curves.append((ARC, (cx, cy, r, 0.0, 0.0, r, turn * s[0], turn * s[1])))
        elif kind == 3:
            cx, cy, ux, uy, ratio, first, last = (
                tape.find(code)
                for code in (b"10", b"20", b"11", b"21", b"40", b"50", b"51")
            )
            turn = 1.0 if tape.find(b"73") else -1.0
            s = arc_span(math.radians(first), math.radians(last))
            v = (-uy * ratio, ux * ratio)
            curves.append((ARC, (cx, cy, ux, uy, *v, turn * s[0], turn * s[1])))
        elif kind == 4:
            curves += _spline(tape)
        else:
            what = f"an edge of the kind {kind}"
            raise ValueError(what)
    return curves


def _spline(tape: _Tape) -> list[Curve]:
    degree = int(tape.find(b"94"))
    rational = tape.find(b"73") != 0
    tape.find(b"74")
    n_knots, n_points = _count(tape, b"95"), _count(tape, b"96")
    knots = np.array([tape.find(b"40") for _ in range(n_knots)])
    rows, weights = [], []
    for _ in range(n_points):
        rows.append((tape.find(b"10"), tape.find(b"20")))
        if rational:
            weights.append(tape.bulge_or_weight(1.0))
    points = np.array(rows)
    return spline_curves(degree, knots, points, np.array(weights) if rational else None)
