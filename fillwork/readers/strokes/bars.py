"""Fills that are expanded strokes, each read by its own middle line.

A program that makes one stroke into a shape writes a bar: two long sides beside each
other, and between their ends a straight side or a round cap. A closed stroke becomes
two outlines: circles about one centre, or polygons with their sides side by side. The
middle line follows from each shape alone, whatever its width. A straight end may lie
half of the width beyond the stroke's own, where lines run over. Strokes leave more open
between them than they cover; slats and bricks do not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.circles import are_circular
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.geometry.quarters import quarters_as_arcs, whole_circles
from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.hidden import find_fills
from fillwork.readers.strokes.outlines import close_outlines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats

    Row = Floats

_OFF = 0.03  # of the width: by so much sides and caps may be off
_STRAIGHT = 1e-6  # of a cosine: lines that turn by less go straight on
_LONG = 1.5  # times its width a bar is long at least, to be told from a square
_ALIKE = 0.02  # of a width: shapes whose widths differ by less have one
_MOST = 20_000  # shapes that are looked at
_FEWEST = 3  # shapes that tell lines from rings and slats where none is thin


def single_lines(
    table: StrokeTable, likely: Bools
) -> tuple[StrokeTable, Bools, float] | None:
    """Return the middle lines of shapes that are single strokes.

    `table`: the edges of fills, mm. `likely` (S,): those of shapes that look like
    bands. Returns lines, each of the item of its shape; which strokes of the table they
    stand for, (S,); and their usual width, mm. None where one that looks like a band is
    none. Other shapes are taken too where they are as wide as one of the bands.
    """
    items = np.unique(table.item)
    if len(items) > _MOST:
        return None
    bands = np.zeros(int(items.max()) + 1, bool)
    bands[table.item[likely]] = True
    found: dict[int, tuple[float, NDArray[np.uint8], Row]] = {}
    for item, loops in _shapes(table):
        line = _middle(loops)
        if line is not None:
            found[item] = line
        elif bands[item]:
            return None
    widths = np.array([found[k][0] for k in np.flatnonzero(bands).tolist()])
    taken = [
        k
        for k, (width, _, _) in sorted(found.items())
        if bands[k] or (np.abs(widths - width) <= _ALIKE * width).any()
    ]
    if likely.all() and len(taken) < _FEWEST:
        return None
    if not _leave_regions(table.take(np.isin(table.item, taken)), widths):
        return None
    rows = [found[k] for k in taken]
    return (
        StrokeTable(
            np.concatenate([kind for _, kind, _ in rows]),
            np.concatenate([data for _, _, data in rows]),
            np.cumsum([0, *(len(kind) for _, kind, _ in rows)]),
            np.array([len(kind) > 1 or kind[0] == ARC for _, kind, _ in rows]),
            np.array(taken),
        ),
        np.isin(table.item, taken),
        float(np.median(widths)),
    )


def _leave_regions(table: StrokeTable, widths: Row) -> bool:
    """Return whether more is left open between the shapes than they cover.

    Slats side by side are drawn regions themselves.
    """
    import shapely

    fine = 0.01 * float(widths.min())
    shapes, _ = find_fills(table, fine, np.ones(int(table.item.max()) + 1, bool))
    parts = shapely.get_parts(shapely.union_all(shapes, grid_size=0.1 * fine))
    covered = float(shapely.area(parts).sum())
    outer = shapely.polygons(shapely.get_exterior_ring(parts))
    return float(shapely.area(outer).sum()) > 2.0 * covered


def _shapes(table: StrokeTable) -> Iterator[tuple[int, list[Curves]]]:
    """Yield items with their closed outlines."""
    table = close_outlines(table, np.ones(len(table.closed), bool))
    arcs = whole_circles(quarters_as_arcs(table.curves()), table.start)
    long = np.hypot(*(arcs.ends() - arcs.starts()).T) > 0
    long |= arcs.kind == ARC
    loops: list[Curves] = []
    count = len(table.closed)
    for s, item in enumerate(table.item.tolist()):
        rows = np.arange(table.start[s], table.start[s + 1])
        loops.append(_without_joints(arcs.take(rows[long[rows]])))
        if s + 1 == count or table.item[s + 1] != item:
            yield item, loops
            loops = []


def _without_joints(loop: Curves) -> Curves:
    """Return a closed outline with straight lines that go straight on as one."""
    way = loop.ends() - loop.starts()
    size = np.hypot(*way.T)
    after, next_size = np.roll(way, -1, axis=0), np.roll(size, -1)
    on = (way * after).sum(axis=1) > (1.0 - _STRAIGHT) * size * next_size
    on &= (loop.kind == LINE) & (np.roll(loop.kind, -1) == LINE)
    if not on.any() or on.all():
        return loop
    # begin where a line ends
    first = int(np.flatnonzero(~on)[0]) + 1
    order = np.roll(np.arange(len(loop)), -first)
    last = ~on[order]
    lead = order[np.r_[True, last[:-1]]]
    data = loop.data[lead].copy()
    straight = loop.kind[lead] == LINE
    data[straight, 2:4] = loop.data[order[last], 2:4][straight]
    return Curves(loop.kind[lead], data)


def _middle(loops: list[Curves]) -> tuple[float, NDArray[np.uint8], Row] | None:
    """Return width and middle line, as kinds and rows, of a shape; None for others."""
    if len(loops) == 1:
        return _bar(loops[0])
    if len(loops) != 2:
        return None
    return _circle(*loops) or _polygon(*loops)


def _bar(loop: Curves) -> tuple[float, NDArray[np.uint8], Row] | None:
    lines = np.flatnonzero(loop.kind == LINE)
    if len(lines) < 2:
        return None
    start, end = loop.starts(), loop.ends()
    length = np.hypot(*(end - start).T)
    one, other = np.sort(lines[np.argsort(-length[lines], kind="stable")[:2]])
    caps = np.array([[end[one], start[other]], [end[other], start[one]]])
    across = caps[:, 1] - caps[:, 0]
    width = float(np.hypot(*across.T).mean())
    ends = caps.mean(axis=1)
    way = ends[0] - ends[1]
    long = float(np.hypot(*way))
    if long < _LONG * width or width == 0.0:
        return None
    off = _OFF * width
    # both caps are as wide, and straight across
    if np.hypot(*(across[0] + across[1])) > off or np.abs(across @ way).max() > (
        off * long
    ):
        return None
    rest = np.setdiff1d(np.arange(len(loop)), [one, other])
    share = np.linspace(0.0, 1.0, 9)
    points = np.concatenate([loop.point(rest, np.full(len(rest), t)) for t in share])
    far = np.abs((points - ends.mean(axis=0)) @ way) / long - long / 2
    side = np.abs((points - ends[1]) @ np.array([-way[1], way[0]])) / long
    straight = np.abs(far) <= off
    round_ = np.abs(np.hypot(np.maximum(far, 0.0), side) - width / 2) <= off
    if not (straight.all() or (round_ & (far > -off)).all()):
        return None
    row = np.zeros((1, 8))
    row[0, :4] = *ends[1], *ends[0]
    return width, np.array([LINE], np.uint8), row


def _circle(one: Curves, other: Curves) -> tuple[float, NDArray[np.uint8], Row] | None:
    if not (are_circular(one).all() and are_circular(other).all()):
        return None
    d, e = one.data, other.data
    radius = [np.hypot(*f[:, 2:4].T) for f in (d, e)]
    width = float(abs(radius[0].mean() - radius[1].mean()))
    middle = float(radius[0].mean() + radius[1].mean()) / 2
    centre = d[0, :2]
    off = [np.hypot(*(f[:, :2] - centre).T).max() for f in (d, e)]
    off += [np.ptp(r) for r in radius]
    if max(off) > _OFF * width or middle < _LONG * width:
        return None
    row = np.array([[*centre, middle, 0.0, 0.0, middle, 0.0, 2 * np.pi]])
    return width, np.array([ARC], np.uint8), row


def _polygon(one: Curves, other: Curves) -> tuple[float, NDArray[np.uint8], Row] | None:
    if len(one) != len(other) or len(one) < 3:
        return None
    if (one.kind != LINE).any() or (other.kind != LINE).any():
        return None
    p, q = one.starts(), other.starts()
    if _turn(p) * _turn(q) < 0:
        q = q[::-1]
    # each corner lies beside the one nearest to it
    first = int(np.argmin(np.hypot(*(q - p[0]).T)))
    q = np.roll(q, -first, axis=0)
    d, e = np.roll(p, -1, axis=0) - p, np.roll(q, -1, axis=0) - q
    size = np.hypot(*d.T), np.hypot(*e.T)
    gap = cross(d, q - p) / size[0]
    width = float(np.abs(gap).mean())
    turned = np.abs(cross(d, e)) / size[0]
    if width == 0.0 or min(s.min() for s in size) < _LONG * width:
        return None
    if np.ptp(gap) > _OFF * width or turned.max() > _OFF * width:
        return None
    corner = (p + q) / 2
    rows = np.zeros((len(p), 8))
    rows[:, :2], rows[:, 2:4] = corner, np.roll(corner, -1, axis=0)
    return width, np.full(len(p), LINE, np.uint8), rows


def _turn(corners: Row) -> float:
    return float(cross(corners, np.roll(corners, -1, axis=0)).sum())
