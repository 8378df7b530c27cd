"""Long runs of edges: straight or round, found and followed past what hides them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Complexes, Floats, Ints


# a run goes on where it turns by less than this, in radians
GOES_ON = np.radians(20.0)
# the same where what goes on is neither straight nor round
_SHARP = np.radians(4.0)
# what more a line turns where it goes on as an arc, radians
_BENDS = 1e-3
# a run is so long at least, and strays by so much at most, in roots of the median area
_SHORT = 1.0
FIT = 0.05
# sine of the largest angle at which a piece of a line lies along it
_ALONG = 0.3


@dataclass(slots=True, eq=False)
class Run:
    """A straight or circular run of edges."""

    edges: Ints
    length: float
    round: bool
    closed: bool
    centre: Floats
    direction: Floats
    radius: float
    ends: Floats
    crossed: float = 0.0
    both: float = 0.0
    # root of the usual area of the faces beside it, and how alike its two sides are
    unit: float = 0.0
    alike: float = 1.0


def _directions(arrangement: Arrangement) -> Complexes:
    """Return the direction in which each half-edge leaves its origin."""
    half = np.arange(len(arrangement.origin))
    span = arrangement.edge_span[half // 2]
    back = (half & 1).astype(bool)
    t = np.where(back, span[:, 1], span[:, 0])
    sense = np.sign(np.where(back, span[:, 0], span[:, 1]) - t)
    d = arrangement.curves.derivative(arrangement.edge_curve[half // 2], t)
    d = d * sense[:, None]
    chord = (
        arrangement.vertices[arrangement.origin[half ^ 1]]
        - arrangement.vertices[arrangement.origin]
    )
    plain = (arrangement.curves.kind[arrangement.edge_curve[half // 2]] == 0) | (
        np.abs(d).sum(axis=1) < 1e-12
    )
    d[plain] = chord[plain]
    z = d[:, 0] + 1j * d[:, 1]
    return np.asarray(z / np.maximum(np.abs(z), 1e-300))


def straight_links(arrangement: Arrangement) -> Ints:
    """Return for each half-edge the one that goes straight on behind its origin.

    Both leave the same vertex, in opposite directions; -1 where none does. Returns
    (H,): a half-edge each.
    """
    count = len(arrangement.origin)
    out = _directions(arrangement)
    order = np.lexsort((np.angle(out), arrangement.origin))
    origin = arrangement.origin[order]
    start = np.searchsorted(origin, origin, side="left")
    degree = np.searchsorted(origin, origin, side="right") - start
    place = np.arange(count) - start
    bent = np.repeat(arrangement.curves.kind[arrangement.edge_curve] != 0, 2)
    best = np.full(count, GOES_ON)
    partner = np.full(count, -1, dtype=np.int64)
    for step in range(1, min(int(degree.max(initial=0)), 64)):
        other = start + (place + step) % np.maximum(degree, 1)
        turn = np.abs(np.angle(-out[order[other]] * np.conj(out[order])))
        # a circle that touches the sides of its square goes on as a circle
        turn += _BENDS * (bent[order[other]] != bent[order])
        better = (degree > step) & (turn < best)
        best[better] = turn[better]
        partner[better] = other[better]
    link = np.full(count, -1, dtype=np.int64)
    known = partner >= 0
    mutual = known.copy()
    mutual[known] = partner[partner[known]] == np.flatnonzero(known)
    link[order[mutual]] = order[partner[mutual]]
    return link


def find_runs(arrangement: Arrangement, link: Ints, unit: float) -> list[Run]:
    """Return runs of edges that are straight or lie on a circle.

    Those at least as long as the unit. `link` (H,): what goes straight on, as of
    `straight_links`. `unit`: root of the median area of a face, mm.
    """
    a = np.flatnonzero(link >= 0)
    one, other = a // 2, link[a] // 2
    every = np.ones(arrangement.edge_count, dtype=bool)
    runs, neither = _fitting(arrangement, one, other, every, unit)
    # a circle that nearly touches a line shares an edge with it, and both are neither
    bent = arrangement.curves.kind[arrangement.edge_curve] != 0
    mixed = neither[one] & (bent[one] == bent[other])
    more, neither = _fitting(arrangement, one[mixed], other[mixed], neither, unit)
    runs += more
    # a line of a border that ends at a corner may point to the next side there
    left = neither[one] & mixed
    if left.any():
        out = _directions(arrangement)
        turn = np.abs(np.angle(-out[link[a[left]]] * np.conj(out[a[left]])))
        left[left] = turn < _SHARP
        runs += _fitting(arrangement, one[left], other[left], neither, unit)[0]
    return runs


def _fitting(
    arrangement: Arrangement, one: Ints, other: Ints, asked: Bools, unit: float
) -> tuple[list[Run], Bools]:
    """Return the lines and circles that linked edges make.

    `one` and `other`: edges that are linked. `asked` (E,): those that are asked.
    `unit`: root of the median area of a face, mm. Returns `runs`; `neither` (E,): edges
    of what is as long and neither straight nor round.
    """
    group = part_numbers(one, other, arrangement.edge_count)
    p = arrangement.vertices[arrangement.origin[0::2]]
    q = arrangement.vertices[arrangement.origin[1::2]]
    step = np.hypot(*(q - p).T)
    total = np.bincount(group, step * asked)
    wanted = np.flatnonzero(total >= _SHORT * unit)
    order = np.argsort(group, kind="stable")
    first = np.searchsorted(group[order], wanted, side="left")
    last = np.searchsorted(group[order], wanted, side="right")
    # the longest ones, where a drawing has very many
    keep = np.argsort(-total[wanted], kind="stable")[:4000]
    runs = []
    neither = np.zeros(arrangement.edge_count, dtype=bool)
    for k in np.sort(keep):
        own = order[first[k] : last[k]]
        run = _fit_run(p[own], q[own], step[own], own, unit)
        if run is not None:
            runs.append(run)
        else:
            neither[own] = True
    return runs, neither


def _fit_run(
    p: Floats, q: Floats, step: Floats, edges: Ints, unit: float
) -> Run | None:
    """Return the line or circle of a run, or None when it is neither."""
    weight = np.concatenate([step, step]) / (2 * step.sum())
    points = np.concatenate([p, q])
    centre = weight @ points
    away = points - centre
    _, vectors = np.linalg.eigh((away * weight[:, None]).T @ away)
    direction = vectors[:, 1]
    across = away @ vectors[:, 0]
    along = away @ direction
    length = float(step.sum())
    if np.sqrt(weight @ across**2) <= FIT * unit:
        ends = centre + np.outer([along.min(), along.max()], direction)
        return Run(edges, length, False, False, centre, direction, 0.0, ends)
    # Kåsa's fit of a circle
    matrix = np.column_stack([2 * away, np.ones(len(away))])
    solution = np.linalg.lstsq(matrix, (away**2).sum(axis=1), rcond=None)[0]
    middle = solution[:2]
    radius = float(np.sqrt(max(solution[2] + middle @ middle, 0.0)))
    miss = np.hypot(*(away - middle).T) - radius
    if radius == 0 or np.sqrt(weight @ miss**2) > FIT * unit:
        return None
    closed = length > 0.93 * 2 * np.pi * radius
    ends = np.zeros((0, 2))
    return Run(edges, length, True, closed, centre + middle, direction, radius, ends)


def extend_runs(arrangement: Arrangement, runs: list[Run], unit: float) -> list[Run]:
    """Take up all edges on the line or circle of each run, longest runs first.

    Jitter breaks a long line into runs; what lies on the line within the fit and
    without a gap is one run again.

    Fewer and longer ones. `unit`: root of the median area of a face, mm.
    """
    lines = _Lines(arrangement)
    taken = np.zeros(arrangement.edge_count, dtype=bool)
    found: list[Run] = []
    for run in sorted(runs, key=lambda r: -r.length):
        free = ~taken[run.edges]
        if lines.length[run.edges][free].sum() < 0.5 * run.length:
            continue
        if len(found) < 600:
            grow = _extend_round if run.round else _extend_line
            run = grow(run, lines, unit)
        taken[run.edges] = True
        found.append(run)
    return found


class _Lines:
    """All edges, and those that begin at each vertex. `arrangement`: the drawing."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.points = arrangement.vertices
        self.x, self.y = (np.ascontiguousarray(c) for c in self.points.T)
        self.a = arrangement.origin[0::2].astype(np.int64)
        self.b = arrangement.origin[1::2].astype(np.int64)
        self.length = np.hypot(*(self.points[self.b] - self.points[self.a]).T)
        self._order = np.argsort(self.a, kind="stable")
        self._count = np.bincount(self.a, minlength=len(self.points))
        self._first = np.cumsum(self._count) - self._count

    def along(self, level: Floats, on: Bools) -> Ints:
        """Return the edges that run along a line or circle.

        Short pieces of lines that cross it lie as near, but not along it.

        Edges with both ends on it, ascending. `level` (V,): distance of each vertex
        from the line, or from the circle's centre, mm. `on` (V,): the vertices that lie
        on it.
        """
        vertex = np.flatnonzero(on)
        _, row = expand_ranges(self._first[vertex], self._count[vertex])
        edges = self._order[row]
        edges = np.sort(edges[on[self.b[edges]]])
        across = np.abs(level[self.a[edges]] - level[self.b[edges]])
        return np.asarray(edges[across < _ALONG * self.length[edges]])

    def fit(self, edges: Ints, unit: float) -> Run | None:
        """Return the line or circle of edges, or None when they are neither.

        `unit`: root of the median area of a face, mm.
        """
        p, q = self.points[self.a[edges]], self.points[self.b[edges]]
        return _fit_run(p, q, self.length[edges], edges, unit)


def _extend_line(run: Run, lines: _Lines, unit: float) -> Run:
    for _ in range(3):
        (u, v), (cx, cy) = run.direction.tolist(), run.centre.tolist()
        across = lines.y * u
        across -= lines.x * v
        across -= cy * u - cx * v
        edges = lines.along(across, np.abs(across) < FIT * unit)
        ends = lines.points[np.stack([lines.a[edges], lines.b[edges]])] - run.centre
        along = np.sort(ends @ run.direction, axis=0)
        order = np.argsort(along[0], kind="stable")
        edges, (low, high) = edges[order], along[:, order]
        reach = np.maximum.accumulate(high)
        # parts of the line that no gap parts
        part = np.concatenate([[0], np.cumsum(low[1:] > reach[:-1] + 0.1 * unit)])
        own = np.isin(edges, run.edges)
        if not own.any():
            return run
        best = np.bincount(part[own], lines.length[edges[own]]).argmax()
        chosen = edges[part == best]
        if len(chosen) <= len(run.edges):
            return run
        fitted = lines.fit(chosen, unit)
        if fitted is None or fitted.round:
            return run
        run = fitted
    return run


def _extend_round(run: Run, lines: _Lines, unit: float) -> Run:
    # a short arc tells its centre roughly: each turn reaches further round
    for _ in range(6):
        away = np.hypot(lines.x - run.centre[0], lines.y - run.centre[1])
        edges = lines.along(away, np.abs(away - run.radius) < FIT * unit)
        # chords of the circle, not lines across it
        edges = edges[lines.length[edges] < 0.8 * run.radius]
        if len(edges) <= len(run.edges):
            return run
        fitted = lines.fit(edges, unit)
        if fitted is None or not fitted.round:
            return run
        run = fitted
    return run
