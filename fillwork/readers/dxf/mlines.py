"""Multiple lines (MLINE): parallel lines with ends that their style asks for."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, NamedTuple

from fillwork.geometry.curves import ARC, LINE

if TYPE_CHECKING:
    from fillwork.readers.dxf.tags import Entity

    Curve = tuple[int, tuple[float, ...]]
    Point = tuple[float, float]


# flags of a MLINESTYLE, code 70
_JOINTS, _SQUARE, _INNER, _ROUND = 2, 16, 32, 64
_TO_END = 16  # the end's flags are the start's times this


class MultipleLine(NamedTuple):
    """Hold the parts of a multiple line."""

    strokes: list[list[Curve]]  # the parallel lines, in pieces where they are cut
    # what is drawn only where the style has a flag, with that flag
    ends: list[tuple[int, list[Curve]]]
    closed: bool  # whether it is a ring, and no line is cut


def multiple_line(entity: Entity, flags: int) -> MultipleLine:
    """Return the parts of a multiple line.

    Its lines, and its ends by the flag that asks for each. `flags`: its code 71: 2
    closed, 4 and 8 no ends at the start and the end.

    Of each corner the file holds, for each line, the distance from the corner along
    its miter, then from there along the line to the line's start, and from that start
    the places where it stops and goes on (DXF reference, MLINE, code 41).
    """
    corners, miters, told = _read(entity)
    count = min((len(lines) for lines in told), default=0)
    if len(corners) < 2 or not count or len(miters) < len(corners):
        return MultipleLine([], [], False)
    rows = [
        [(x + mx * t[0], y + my * t[0]) for t in lines[:count] if t]
        for (x, y), (mx, my), lines in zip(corners, miters, told, strict=False)
    ]
    if any(len(row) < count for row in rows):
        return MultipleLine([], [], False)
    closed = bool(flags & 2)
    pairs = list(itertools.pairwise([*rows, rows[0]] if closed else rows))
    strokes: list[list[Curve]] = []
    cut = False
    for k in range(count):
        run: list[Curve] = []
        for (start, end), lines in zip(pairs, told, strict=False):
            pieces = _pieces(start[k], end[k], lines[k])
            cut |= len(lines[k]) > 2
            for piece in pieces:
                if run and run[-1][1][2:4] != piece[1][:2]:
                    strokes.append(run)
                    run = []
                run.append(piece)
        if run:
            strokes.append(run)
    order = sorted(range(count), key=lambda k: told[0][k][0])
    ends: list[tuple[int, list[Curve]]] = []
    inner = rows[1:-1] if not closed else rows
    across = [_line(row[order[0]], row[order[-1]]) for row in inner]
    ends += [(_JOINTS, [line]) for line in across]
    for row, no, times in ((rows[0], 4, 1), (rows[-1], 8, _TO_END)):
        if closed or flags & no:
            continue
        # counter-clockwise from the left line at the start, from the right at the end
        low, high = (order[-1], order[0]) if times == 1 else (order[0], order[-1])
        ends.append((_SQUARE * times, [_line(row[low], row[high])]))
        ends.append((_ROUND * times, [_half(row[low], row[high])]))
        if count > 3:
            low, high = (order[-2], order[1]) if times == 1 else (order[1], order[-2])
            ends.append((_INNER * times, [_half(row[low], row[high])]))
    return MultipleLine(strokes, ends, closed and not cut)


def _read(entity: Entity) -> tuple[list[Point], list[Point], list[list[list[float]]]]:
    corners: list[Point] = []
    miters: list[Point] = []
    told: list[list[list[float]]] = []
    x = 0.0
    for code, value in zip(entity.codes, entity.values, strict=True):
        if code in (b"11", b"13"):
            x = float(value)
        elif code == b"21":
            corners.append((x, float(value)))
            told.append([])
        elif code == b"23":
            miters.append((x, float(value)))
        elif code == b"74" and told:
            told[-1].append([])
        elif code == b"41" and told and told[-1]:
            told[-1][-1].append(float(value))
    return corners, miters, told


def _pieces(p: Point, q: Point, told: list[float]) -> list[Curve]:
    """Return what is drawn of one line between two corners."""
    if len(told) <= 2:
        return [_line(p, q)] if p != q else []
    length = math.dist(p, q) or 1.0
    stops = [0.0, *told[2:]]
    if len(stops) % 2:
        stops.append(length - told[1])
    ux, uy = (q[0] - p[0]) / length, (q[1] - p[1]) / length
    at = [
        (p[0] + ux * (told[1] + s), p[1] + uy * (told[1] + s))
        if told[1] + s < length
        else q
        for s in stops
    ]
    return [_line(a, b) for a, b in zip(at[::2], at[1::2], strict=True) if a != b]


def _line(p: Point, q: Point) -> Curve:
    return LINE, (*p, *q, 0.0, 0.0, 0.0, 0.0)


def _half(p: Point, q: Point) -> Curve:
    """Return the half circle from one point to another, counter-clockwise."""
    cx, cy = (p[0] + q[0]) / 2, (p[1] + q[1]) / 2
    ux, uy = p[0] - cx, p[1] - cy
    return ARC, (cx, cy, ux, uy, -uy, ux, 0.0, math.pi)
