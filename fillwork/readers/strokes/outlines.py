"""Fills as line work: their edges, backgrounds, and strokes made into bands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import ARC, CUBIC, GAUSS, LINE, Curves
from fillwork.readers.strokes.collect import StrokeTable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.readers.strokes.page import Page

_LOOKS = 4000  # points along edges at which it is seen whether strokes lie there


def boxes(kind: NDArray[np.uint8], data: Floats) -> tuple[Floats, Floats]:
    """Return a box around each curve: exact for lines, else never too small.

    `kind` (N,): kinds. `data` (N, 8): numbers. Returns `low` and `high` (N, 2):
    corners.
    """
    points = data.reshape(-1, 4, 2)
    low = np.minimum(points[:, 0], points[:, 1])
    high = np.maximum(points[:, 0], points[:, 1])
    m = kind == CUBIC
    if m.any():
        low[m], high[m] = points[m].min(axis=1), points[m].max(axis=1)
    m = kind == ARC
    if m.any():
        p = points[m]
        reach = np.hypot(p[:, 1], p[:, 2])
        low[m], high[m] = p[:, 0] - reach, p[:, 0] + reach
    return low, high


def size_of(some: StrokeTable | Curves) -> float:
    """Return the longer side of the box around strokes or curves, as `boxes` has it."""
    low, high = boxes(some.kind, some.data)
    return float((bounds(high)[1] - bounds(low)[0]).max())


def extents(table: StrokeTable) -> Floats:
    """Return the longer side of the box of each stroke, mm."""
    low, high = boxes(table.kind, table.data)
    start = table.start[:-1]
    size = np.maximum.reduceat(high, start) - np.minimum.reduceat(low, start)
    return np.asarray(size.max(axis=1))


def ends_where_it_begins(table: StrokeTable) -> Bools:
    """Return which strokes are closed, or end at the very numbers they begin with."""
    curves, start = table.curves(), table.start
    begin, end = curves.starts()[start[:-1]], curves.ends()[start[1:] - 1]
    return np.asarray(table.closed | (begin == end).all(axis=1))


def box_of(table: StrokeTable) -> tuple[Floats, Floats]:
    """Return the box around all strokes, exact to rounding.

    Returns `low` and `high` (2,): corners.
    """
    curves = table.curves()
    straight = table.kind == LINE
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    if straight.any():
        some_low, some_high = boxes(table.kind[straight], table.data[straight])
        low, high = some_low.min(axis=0), some_high.max(axis=0)
    index, t = _extremes(curves, np.flatnonzero(~straight))
    if len(index):
        points = curves.point(index, t)
        low = np.minimum(low, points.min(axis=0))
        high = np.maximum(high, points.max(axis=0))
    return low, high


def _extremes(curves: Curves, rows: Ints) -> tuple[Ints, Floats]:
    # parameters where a curve may reach furthest left, right, up or down
    index, t = [np.repeat(rows, 2)], [np.tile([0.0, 1.0], len(rows))]
    arcs = rows[curves.kind[rows] == ARC]
    if len(arcs):
        d = curves.data[arcs]
        for axis in (0, 1):
            # P' = 0 where tan s = v / u
            peak = np.arctan2(d[:, 4 + axis], d[:, 2 + axis])
            sweep = d[:, 7] - d[:, 6]
            for half in (0.0, np.pi):
                turn = np.mod((peak + half - d[:, 6]) * np.sign(sweep), 2 * np.pi)
                at = turn / np.where(sweep == 0, 1.0, np.abs(sweep))
                inside = at <= 1.0
                index.append(arcs[inside])
                t.append(at[inside])
    cubics = rows[curves.kind[rows] == CUBIC]
    if len(cubics):
        b = curves.data[cubics].reshape(-1, 4, 2)
        # P'/3 = A + 2 B t + C t^2 on each axis
        first = b[:, 1] - b[:, 0]
        second = b[:, 2] - 2 * b[:, 1] + b[:, 0]
        third = b[:, 3] - 3 * b[:, 2] + 3 * b[:, 1] - b[:, 0]
        root = np.sqrt(np.maximum(second**2 - third * first, 0.0))
        q = -(second + np.where(second < 0, -root, root))
        with np.errstate(divide="ignore", invalid="ignore"):
            for at in (q / third, first / q):
                row, column = np.nonzero((at > 0) & (at < 1))
                index.append(cubics[row])
                t.append(at[row, column])
    return np.concatenate(index), np.concatenate(t)


def measure_lengths(kind: NDArray[np.uint8], data: Floats) -> Floats:
    """Return the length of each curve, quickly.

    `kind` (N,): kinds. `data` (N, 8): numbers. Returns (N,): exact for lines and arcs
    of circles; for the rest by five-point Gauss-Legendre quadrature, on both halves of
    a Bézier curve.
    """
    d = data[:, 2:4] - data[:, 0:2]
    lengths = np.hypot(d[:, 0], d[:, 1])
    arcs = np.flatnonzero(kind == ARC)
    if len(arcs):
        a = data[arcs]
        radius = np.hypot(a[:, 2], a[:, 3])
        other = np.hypot(a[:, 4], a[:, 5])
        lengths[arcs] = radius * np.abs(a[:, 7] - a[:, 6])
        across = np.abs((a[:, 2:4] * a[:, 4:6]).sum(axis=1))
        slack = 1e-9 * radius
        oval = (np.abs(radius - other) > slack) | (across > slack * radius)
        some = arcs[oval]
        lengths[some] = Curves(kind[some], data[some]).lengths()
    cubics = np.flatnonzero(kind == CUBIC)
    for begin in range(0, len(cubics), 100_000):
        rows = cubics[begin : begin + 100_000]
        b = data[rows].reshape(-1, 4, 2)
        p, q, r = b[:, 1] - b[:, 0], b[:, 2] - b[:, 1], b[:, 3] - b[:, 2]
        total = np.zeros(len(rows))
        for half in (0.25, 0.75):
            for node, weight in GAUSS:
                t = half + node / 4
                s = (1 - t) ** 2 * p + 2 * t * (1 - t) * q + t * t * r
                total += 0.75 * weight * np.hypot(s[:, 0], s[:, 1])
        lengths[rows] = total
    return lengths


def close_outlines(table: StrokeTable, filled: Bools) -> StrokeTable:
    """Return the strokes with the edges of fills closed, as filling closes them.

    With a straight line added to each open edge. `filled` (S,): which are edges of
    fills.
    """
    curves = table.curves()
    first, last = table.start[:-1], table.start[1:] - 1
    begin = curves.point(first, np.zeros(len(first)))
    end = curves.point(last, np.ones(len(last)))
    gap = np.abs(end - begin)
    size = np.abs(begin) + np.abs(end)
    open_ = filled & ~table.closed & (gap > 1e-12 * size).any(axis=1)
    closed = table.closed | filled
    if not open_.any():
        return StrokeTable(table.kind, table.data, table.start, closed, table.item)
    at = table.start[1:][open_]
    rows = np.zeros((len(at), 8))
    rows[:, 0:2], rows[:, 2:4] = end[open_], begin[open_]
    counts = np.diff(table.start) + open_
    return StrokeTable(
        np.insert(table.kind, at, LINE),
        np.insert(table.data, at, rows, axis=0),
        np.concatenate([[0], np.cumsum(counts)]),
        closed,
        table.item,
    )


def find_backgrounds(table: StrokeTable, fills: Bools, page: Page) -> Bools:
    """Return which fills do no more than cover the whole page.

    `table`: strokes in mm. `fills` (S,): shapes with a fill only. `page`: the page;
    without one nothing is a background. Returns (S,): rectangles that reach the page's
    edge on all sides, unless other fills end along that edge: then what is left of the
    page between them is a field as well.
    """
    found = np.zeros(len(fills), bool)
    counts = np.diff(table.start)
    # with a hole or another part it is more than a background
    alone = np.bincount(table.item)[table.item] == 1
    likely = np.flatnonzero(fills & alone & (counts >= 3) & (counts <= 5))
    if not len(likely):
        return found
    if page.has_page:
        width, height = page.size_mm
        low, high = np.zeros(2), np.array([width, height])
    else:
        low, high = box_of(table)
    slack = 1e-3 * float((high - low).max())
    for k in likely.tolist():
        rows = slice(int(table.start[k]), int(table.start[k + 1]))
        if (table.kind[rows] != LINE).any():
            continue
        points = table.data[rows, :4].reshape(-1, 2)
        near, far = points <= low + slack, points >= high - slack
        corner = far @ np.array([1, 2])
        # from corner to corner along the edges: across it covers a part
        along = corner[::2] ^ corner[1::2] != 3
        found[k] = (near | far).all() and along.all() and len(np.unique(corner)) == 4
    if found.any() and _reach_edge(table.take(fills & ~found), low, high, slack):
        found[:] = False
    return found


def find_grounds(table: StrokeTable, white: Bools) -> Bools:
    """Return which white fills are paper that everything else was drawn on.

    `table`: strokes in mm. `white` (S,): white shapes with a fill only. Returns (S,):
    upright rectangles drawn before all else, which lies within each, clear of its edge:
    a figure that a program laid on a larger page has one or two.
    """
    found = np.zeros(len(white), bool)
    first = np.unique(table.item, return_index=True)[1]
    for k in first.tolist():
        rows = slice(int(table.start[k]), int(table.start[k + 1]))
        points = table.data[rows, :4].reshape(-1, 2)
        rest = table.item > table.item[k]
        if not white[k] or (table.kind[rows] != LINE).any() or not rest.any():
            break
        low, high = bounds(points)
        at_corners = ((points == low) | (points == high)).all()
        along = (points[::2] == points[1::2]).any(axis=1).all()
        inner_low, inner_high = box_of(table.take(rest))
        clear = 1e-3 * float((high - low).max())
        inside = (inner_low > low + clear).all() and (inner_high < high - clear).all()
        other = (table.item == table.item[k]).sum() > 1
        if other or not (at_corners and along and inside):
            break
        found[k] = True
    return found


def _reach_edge(
    table: StrokeTable, low: Floats, high: Floats,
    slack: float,
) -> bool:  # fmt: skip
    """Return whether straight sides lie along the edge of a box."""
    sides = table.data[table.kind == LINE, :4].reshape(-1, 2, 2)
    long = np.hypot(*(sides[:, 1] - sides[:, 0]).T) > 10 * slack
    for edge in (low, high):
        near = np.abs(sides - edge) <= slack
        if (near[:, 0] & near[:, 1] & long[:, None]).any():
            return True
    return False


def free_length(edges: StrokeTable, drawn: StrokeTable, widths: list[float]) -> float:
    """Return the length of edges of fills that lie on no stroke, mm.

    `edges` and `drawn`: both in mm. `widths`: of the strokes, mm. Seen at points spread
    evenly along the edges; a point nearer to a stroke than the stroke is wide lies on
    it.
    """
    import shapely

    size = size_of(drawn)
    chords, _, _ = drawn.curves().flatten(max(1e-4 * size, 1e-9))
    near = shapely.STRtree(
        np.array(shapely.linestrings(chords.reshape(-1, 2, 2)), object).ravel()
    )
    sides, _, _ = edges.curves().flatten(max(1e-4 * size, 1e-9))
    step = sides[:, 2:] - sides[:, :2]
    along = np.r_[0.0, np.cumsum(np.hypot(step[:, 0], step[:, 1]))]
    if along[-1] <= 1e-12 * size:
        return 0.0
    at = (np.arange(_LOOKS) + 0.5) / _LOOKS * along[-1]
    row = np.searchsorted(along, at, side="right") - 1
    share = (at - along[row]) / np.maximum(along[row + 1] - along[row], 1e-300)
    points = sides[row, :2] + share[:, None] * step[row]
    reach = max(1e-3 * size, float(np.median(widths)) if widths else 0.0)
    found, _ = near.query(shapely.points(points), predicate="dwithin", distance=reach)
    return float(along[-1] * (1 - len(np.unique(found)) / _LOOKS))


def find_bands(table: StrokeTable, fills: Bools) -> tuple[Bools, float, str]:
    """Return which fills look like strokes that were made into thin bands.

    `table`: strokes in mm. `fills` (S,): edges of fills in use.

    A band of width w and length l has area A = w l and edge P = 2 (w + l), so
    2 A / P is about w, a small share of P. Many shapes have a long edge, so a
    band must also be equally wide in most places, measured across from points of
    its edge.
    """
    none = np.zeros(len(fills), bool), 0.0, ""
    if not fills.any():
        return none
    # edges of one shape belong together: the hole of a ring to its outside
    some = table.take(fills)
    curves = some.curves()
    size = float(np.ptp(np.concatenate([curves.starts(), curves.ends()]), axis=0).max())
    if size <= 0:
        return none
    segments, curve, _ = curves.flatten(max(size * 1e-3, 1e-9))
    loop = some.owner()[curve]
    _, shape_of_loop = np.unique(some.item, return_inverse=True)
    shape = shape_of_loop[loop]
    x0, y0, x1, y1 = (segments - np.tile(segments[0, :2], 2)).T
    signed = np.bincount(loop, (x0 * y1 - x1 * y0) / 2, len(some.closed))
    area = np.abs(np.bincount(shape_of_loop, signed))
    # a hole may run the same way round as the outside, under the even-odd rule
    largest = np.zeros(len(area))
    np.maximum.at(largest, shape_of_loop, np.abs(signed))
    holed = 2 * largest - np.bincount(shape_of_loop, np.abs(signed))
    area = np.where(holed > 0, np.minimum(area, holed), area)
    edge = np.bincount(shape, np.hypot(x1 - x0, y1 - y0))
    mean = 2 * area / np.maximum(edge, 1e-300)
    likely = np.flatnonzero((edge > 40 * mean) & (mean > 0))
    if not len(likely) or edge[likely].sum() <= 0.5 * edge.sum():
        return none
    order = np.argsort(shape, kind="stable")
    first = np.searchsorted(shape[order], np.arange(len(area) + 1))
    # a few hundred shapes tell enough
    tried = likely[:: max(1, len(likely) // 200)]
    widths = [
        _band_width(segments[order[first[k] : first[k + 1]]]) for k in tried.tolist()
    ]
    bands = [width for width in widths if width > 0]
    if len(bands) <= 0.5 * len(tried):
        return none
    count = round(len(likely) * len(bands) / len(tried))
    about = "" if len(tried) == len(likely) else "about "
    found = np.zeros(len(fills), bool)
    found[np.flatnonzero(fills)[np.isin(shape_of_loop, likely)]] = True
    return found, float(np.median(bands)), f"{about}{count} of {len(area)}"


def _band_width(segments: Floats) -> float:
    # the width that most places of a shape share, 0 if there is none
    if len(segments) > 20_000:
        return 0.0
    p, d = segments[:, 0:2], segments[:, 2:4] - segments[:, 0:2]
    length = np.hypot(d[:, 0], d[:, 1])
    total = np.cumsum(length)
    if total[-1] <= 0:
        return 0.0
    n = 48
    place = (np.arange(n) + 0.5) / n * total[-1]
    at = np.searchsorted(total, place)
    q = p[at] + d[at] * (1.0 - (total[at] - place) / length[at])[:, None]
    normal = np.stack([-d[at, 1], d[at, 0]], axis=1) / length[at, None]
    # where the straight line across meets the other edges, on either side
    gap = p[None] - q[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        det = normal[:, 0:1] * d[:, 1] - normal[:, 1:2] * d[:, 0]
        far = (gap[..., 0] * d[:, 1] - gap[..., 1] * d[:, 0]) / det
        along = gap[..., 0] * normal[:, 1:2] - gap[..., 1] * normal[:, 0:1]
        along = along / det
        hit = (along >= 0) & (along < 1) & np.isfinite(far)
    hit[np.arange(n), at] = False
    # inside is the side with an odd number of edges ahead
    ahead = (hit & (far > 0)).sum(axis=1) % 2 == 1
    far = np.where(ahead[:, None], far, -far)
    far = np.where(hit & (far > 0), far, np.inf).min(axis=1)
    width = float(np.median(far))
    # far across where nothing lies opposite
    if total[-1] < 40 * width:
        return 0.0
    alike = np.abs(far - width) <= 0.2 * width
    return width if alike.mean() >= 0.7 else 0.0
