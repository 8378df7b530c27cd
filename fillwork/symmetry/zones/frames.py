"""Frame lines: long lines that part one pattern from another.

A pattern stops at its frame, so hardly any line runs straight on across it; the
lines of a pattern, as long as they may be, are crossed by others all along.
Runs of edges that go straight on are found first, then those on one line or
circle are joined, then the crossed ones fall out. Short lines that part a border
at its corners (mitres, sides of corner pieces) count when they start where frame
lines meet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct, expand_ranges
from fillwork.symmetry.grids import part_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement

__all__ = ["face_parts", "find_frame_edges"]

# a run goes on where it turns by less than this, in radians
_GOES_ON = np.radians(20.0)
# lengths beside the median root of a face's area
_LONG = 6.0
_ROUND = 14.0
_SHORT = 1.0
_FIT = 0.05
# sine of the largest angle at which a piece of a line lies along it
_ALONG = 0.3
# largest share of vertices where another line runs across a frame line
_CROSSED = 0.47
# largest share where lines end on it from both sides
_BOTH = 0.62
# pieces of a frame line that have no direction
_TINY = 0.1
# a line of a pattern is met once in so many roots of the median area at least
_MET_EVERY = 3.5
# gaps of one width that rows of a pattern have, and nested frames have not
_MANY_ROWS = 6
# share of its extent that a frame line fills
_SOLID = 0.9
# share of gaps by which lines of nested frames are shorter at both ends
_NESTED = 0.8
# roots of the median area from which three gaps of one width are those of fields
_ROWS_APART = 6.0


# squared boundary over area, from which a face is a strip of a frame
_STRIP = 60.0
# share of the faces along a row of a pattern that return on its other side
_SIDES_ALIKE = 0.3
# by how much their areas and boundaries may differ
_SAME = 0.03
# what is left out at both ends of a run, beside its length
_TIPS = np.array([0.02, -0.02])


@dataclass(slots=True, eq=False)
class _Run:
    """A straight or circular run of edges."""

    edges: NDArray[np.int64]
    length: float
    round: bool
    closed: bool
    centre: NDArray[np.float64]
    direction: NDArray[np.float64]
    radius: float
    ends: NDArray[np.float64]
    crossed: float = 0.0
    both: float = 0.0
    # root of the usual area of the faces beside it, and how alike its two sides are
    unit: float = 0.0
    alike: float = 1.0


def find_frame_edges(arrangement: Arrangement) -> NDArray[np.bool_]:
    """Find the edges that belong to frame lines.

    Parameters
    ----------
    arrangement : Arrangement
        All faces.

    Returns
    -------
    ndarray of bool, shape (E,)
        True for edges on frame lines, mitres and sides of corner pieces.
    """
    mask = np.zeros(arrangement.edge_count, dtype=bool)
    if arrangement.face_count < 4:
        return mask
    unit = float(np.median(np.sqrt(arrangement.area[1:])))
    link = _straight_links(arrangement)
    runs = _extend_runs(arrangement, _find_runs(arrangement, link, unit), unit)
    _look_beside(arrangement, runs, unit)
    _count_meetings(arrangement, runs, unit)
    clear = [r for r in runs if r.crossed <= _CROSSED and r.both <= _BOTH]
    frames = [r for r in clear if r.length >= _LONG * unit]
    frames = [r for r in frames if not r.round or r.closed]
    # rows are told by all of their lines, those of coarse fields too
    frames = [r for r in _without_rows(frames, unit) if r.length >= _LONG * r.unit]
    short = [r for r in clear if not r.round and r.length < _LONG * r.unit]
    frames += _closed_loops(short, unit)
    if not frames:
        return mask
    frames += _corner_lines(arrangement, frames, unit)
    for run in frames:
        mask[run.edges] = True
    return mask | _tiny_between(arrangement, mask, _TINY * unit)


def _tiny_between(
    arrangement: Arrangement, mask: NDArray[np.bool_], most: float
) -> NDArray[np.bool_]:
    """Return short edges from one end of a frame's edge to another's.

    Where lines all but meet on a frame, its pieces are too short to have a
    direction; a gap there would join what the frame parts.
    """
    tail, head = arrangement.origin[0::2], arrangement.origin[1::2]
    step = arrangement.vertices[head] - arrangement.vertices[tail]
    on = np.zeros(len(arrangement.vertices), dtype=bool)
    on[tail[mask]] = on[head[mask]] = True
    return np.asarray(on[tail] & on[head] & (np.hypot(*step.T) <= most))


def face_parts(
    arrangement: Arrangement, barrier: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """Return which faces hang together across edges that are no barrier.

    Parameters
    ----------
    arrangement : Arrangement
        All faces.
    barrier : ndarray of bool, shape (E,)
        Edges that part faces.

    Returns
    -------
    ndarray of int64, shape (F,)
        Number of the part of each face; that of face 0 is its own.
    """
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    open_edge = ~barrier & (a != 0) & (b != 0)
    return part_numbers(a[open_edge], b[open_edge], arrangement.face_count)


def _directions(arrangement: Arrangement) -> NDArray[np.complex128]:
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


def _straight_links(arrangement: Arrangement) -> NDArray[np.int64]:
    """Return for each half-edge the one that goes straight on behind its origin.

    Both leave the same vertex, in opposite directions; -1 where none does.
    """
    count = len(arrangement.origin)
    out = _directions(arrangement)
    order = np.lexsort((np.angle(out), arrangement.origin))
    origin = arrangement.origin[order]
    start = np.searchsorted(origin, origin, side="left")
    degree = np.searchsorted(origin, origin, side="right") - start
    place = np.arange(count) - start
    best = np.full(count, _GOES_ON)
    partner = np.full(count, -1, dtype=np.int64)
    for step in range(1, min(int(degree.max(initial=0)), 64)):
        other = start + (place + step) % np.maximum(degree, 1)
        turn = np.abs(np.angle(-out[order[other]] * np.conj(out[order])))
        better = (degree > step) & (turn < best)
        best[better] = turn[better]
        partner[better] = other[better]
    link = np.full(count, -1, dtype=np.int64)
    known = partner >= 0
    mutual = known.copy()
    mutual[known] = partner[partner[known]] == np.flatnonzero(known)
    link[order[mutual]] = order[partner[mutual]]
    return link


def _find_runs(
    arrangement: Arrangement, link: NDArray[np.int64], unit: float
) -> list[_Run]:
    """Return runs of edges that are straight or lie on a circle."""
    edges = arrangement.edge_count
    a = np.flatnonzero(link >= 0)
    group = part_numbers(a // 2, link[a] // 2, edges)
    p = arrangement.vertices[arrangement.origin[0::2]]
    q = arrangement.vertices[arrangement.origin[1::2]]
    step = np.hypot(*(q - p).T)
    total = np.bincount(group, step)
    wanted = np.flatnonzero(total >= _SHORT * unit)
    order = np.argsort(group, kind="stable")
    first = np.searchsorted(group[order], wanted, side="left")
    last = np.searchsorted(group[order], wanted, side="right")
    # the longest ones, where a drawing has very many
    keep = np.argsort(-total[wanted], kind="stable")[:4000]
    runs = []
    for k in np.sort(keep):
        own = order[first[k] : last[k]]
        run = _fit_run(p[own], q[own], step[own], own, unit)
        if run is not None:
            runs.append(run)
    return runs


def _fit_run(
    p: NDArray[np.float64],
    q: NDArray[np.float64],
    step: NDArray[np.float64],
    edges: NDArray[np.int64],
    unit: float,
) -> _Run | None:
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
    if np.sqrt(weight @ across**2) <= _FIT * unit:
        ends = centre + np.outer([along.min(), along.max()], direction)
        return _Run(edges, length, False, False, centre, direction, 0.0, ends)
    # Kåsa's fit of a circle
    matrix = np.column_stack([2 * away, np.ones(len(away))])
    solution = np.linalg.lstsq(matrix, (away**2).sum(axis=1), rcond=None)[0]
    middle = solution[:2]
    radius = float(np.sqrt(max(solution[2] + middle @ middle, 0.0)))
    miss = np.hypot(*(away - middle).T) - radius
    if radius == 0 or np.sqrt(weight @ miss**2) > _FIT * unit:
        return None
    closed = length > 0.93 * 2 * np.pi * radius
    ends = np.zeros((0, 2))
    return _Run(edges, length, True, closed, centre + middle, direction, radius, ends)


def _extend_runs(arrangement: Arrangement, runs: list[_Run], unit: float) -> list[_Run]:
    """Take up all edges on the line or circle of each run, longest runs first.

    Jitter breaks a long line into runs; what lies on the line within the fit and
    without a gap is one run again.
    """
    lines = _Lines(arrangement)
    taken = np.zeros(arrangement.edge_count, dtype=bool)
    found: list[_Run] = []
    for run in sorted(runs, key=lambda r: -r.length):
        free = ~taken[run.edges]
        if lines.length[run.edges][free].sum() < 0.5 * run.length:
            continue
        if run.length >= 1.5 * unit and len(found) < 600:
            grow = _extend_round if run.round else _extend_line
            run = grow(run, lines, unit)
        taken[run.edges] = True
        found.append(run)
    return found


class _Lines:
    """All edges, and those that begin at each vertex.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing.
    """

    def __init__(self, arrangement: Arrangement) -> None:
        self.points = arrangement.vertices
        self.x, self.y = (np.ascontiguousarray(c) for c in self.points.T)
        self.a = arrangement.origin[0::2].astype(np.int64)
        self.b = arrangement.origin[1::2].astype(np.int64)
        self.length = np.hypot(*(self.points[self.b] - self.points[self.a]).T)
        self._order = np.argsort(self.a, kind="stable")
        self._count = np.bincount(self.a, minlength=len(self.points))
        self._first = np.cumsum(self._count) - self._count

    def along(
        self, level: NDArray[np.float64], on: NDArray[np.bool_]
    ) -> NDArray[np.int64]:
        """Return the edges that run along a line or circle.

        Short pieces of lines that cross it lie as near, but not along it.

        Parameters
        ----------
        level : ndarray of float64, shape (V,)
            Distance of each vertex from the line, or from the circle's centre, mm.
        on : ndarray of bool, shape (V,)
            The vertices that lie on it.

        Returns
        -------
        ndarray of int64
            Edges with both ends on it, ascending.
        """
        vertex = np.flatnonzero(on)
        _, row = expand_ranges(self._first[vertex], self._count[vertex])
        edges = self._order[row]
        edges = np.sort(edges[on[self.b[edges]]])
        across = np.abs(level[self.a[edges]] - level[self.b[edges]])
        return np.asarray(edges[across < _ALONG * self.length[edges]])

    def fit(self, edges: NDArray[np.int64], unit: float) -> _Run | None:
        """Return the line or circle of edges, or None when they are neither.

        Parameters
        ----------
        edges : ndarray of int64
            The edges.
        unit : float
            Root of the median area of a face, mm.

        Returns
        -------
        _Run or None
            The run that they make.
        """
        p, q = self.points[self.a[edges]], self.points[self.b[edges]]
        return _fit_run(p, q, self.length[edges], edges, unit)


def _extend_line(run: _Run, lines: _Lines, unit: float) -> _Run:
    for _ in range(3):
        (u, v), (cx, cy) = run.direction.tolist(), run.centre.tolist()
        across = lines.y * u
        across -= lines.x * v
        across -= cy * u - cx * v
        edges = lines.along(across, np.abs(across) < _FIT * unit)
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


def _extend_round(run: _Run, lines: _Lines, unit: float) -> _Run:
    # a short arc tells its centre roughly: each turn reaches further round
    for _ in range(6):
        away = np.hypot(lines.x - run.centre[0], lines.y - run.centre[1])
        edges = lines.along(away, np.abs(away - run.radius) < _FIT * unit)
        # chords of the circle, not lines across it
        edges = edges[lines.length[edges] < 0.8 * run.radius]
        if len(edges) <= len(run.edges):
            return run
        fitted = lines.fit(edges, unit)
        if fitted is None or not fitted.round:
            return run
        run = fitted
    return run


def _look_beside(arrangement: Arrangement, runs: list[_Run], unit: float) -> None:
    """Note how large faces beside straight runs are, and whether both sides are alike.

    A coarse field beside a fine one has longer lines, which are no frames for it.
    """
    points, face = arrangement.vertices, arrangement.face
    step = points[arrangement.origin[1::2]] - points[arrangement.origin[0::2]]
    size = np.repeat(np.hypot(*step.T), 2)
    round_it = np.maximum(np.bincount(face, size, arrangement.face_count), 1e-300)
    area = np.maximum(arrangement.area, 1e-300)
    strip = round_it**2 > _STRIP * area
    for run in runs:
        run.unit = unit
    straight = [run for run in runs if not run.round]
    if not straight:
        return
    edges = np.concatenate([run.edges for run in straight])
    owner = np.repeat(np.arange(len(straight)), [len(run.edges) for run in straight])
    ahead = step[edges] * np.array([run.direction for run in straight])[owner]
    back = (ahead.sum(axis=1) < 0).astype(np.int64)
    beside: list[list[NDArray[np.int64]]] = [[] for _ in straight]
    for k in (0, 1):
        pair = owner * arrangement.face_count + face[2 * edges + (back ^ k)]
        row, side = np.divmod(distinct(pair), arrangement.face_count)
        row, side = row[side != 0], side[side != 0]
        order = np.lexsort((area[side], row))
        row, side = row[order], side[order]
        count = np.bincount(row, minlength=len(straight))
        first = np.cumsum(count) - count
        # strips of a frame and the outside say nothing
        wide = np.bincount(row, ~strip[side], len(straight))
        for r in np.flatnonzero(wide).tolist():
            beside[r].append(side[first[r] : first[r] + count[r]])
    for run, told in zip(straight, beside, strict=True):
        if told:
            # the sides are sorted by area
            half = [((len(side) - 1) // 2, len(side) // 2) for side in told]
            middle = [area[side[[*at]]] for side, at in zip(told, half, strict=True)]
            run.unit = max(unit, min(float(np.sqrt(a).mean()) for a in middle))
        if len(told) < 2:
            run.alike = 0.0
        elif run.length >= _LONG * unit:  # of shorter ones nobody asks
            one, other = told
            same = np.abs(area[one][:, None] / area[other] - 1) < _SAME
            same &= np.abs(round_it[one][:, None] / round_it[other] - 1) < _SAME
            run.alike = float(same.any(axis=1).mean())


def _without_rows(frames: list[_Run], unit: float) -> list[_Run]:
    """Leave out parallel lines at equal distances: they belong to a pattern."""
    lines = [r for r in frames if not r.round]
    drop: set[int] = set()
    direction = np.array([r.direction for r in lines]).reshape(-1, 2)
    centre = np.array([r.centre for r in lines]).reshape(-1, 2)
    for k, lead in enumerate(lines):
        normal = np.array([-lead.direction[1], lead.direction[0]])
        family = np.flatnonzero(np.abs(direction @ normal) < 0.03)
        if len(family) < 4 or family[0] != k:
            continue
        # lines in line with each other lie in one row
        offset = centre[family] @ normal
        order = np.argsort(offset, kind="stable")
        apart = np.diff(offset[order]) > 0.15 * unit
        row = np.concatenate([[0], np.cumsum(apart)])
        first = np.flatnonzero(np.diff(row, prepend=-1))
        gap = np.diff(offset[order][first])
        # lines of nested frames are shorter and shorter, by the gap at either end
        ends = np.array([(lines[k].ends @ lead.direction) for k in family[order]])
        low = np.minimum.reduceat(ends.min(axis=1), first)
        high = np.maximum.reduceat(ends.max(axis=1), first)
        shrinks = np.minimum(np.abs(np.diff(low)), np.abs(np.diff(high)))
        level = shrinks < 0.5 * gap
        inset = [np.abs(np.abs(np.diff(e)) - gap) < 0.1 * gap for e in (low, high)]
        # and without a gap, as rows of a pattern in a slanted square are not
        length = np.array([lines[k].length for k in family[order]])
        solid = np.add.reduceat(length, first) > _SOLID * (high - low)
        nested = inset[0] & inset[1] & solid[1:] & solid[:-1]
        same = np.array([lines[k].alike for k in family[order]])
        mirrored = np.maximum.reduceat(same, first) >= _SIDES_ALIKE
        for width in np.unique(gap[gap > 1.2 * unit]):
            alike = np.abs(gap - width) < max(0.15 * unit, 0.04 * width)
            # many, or three in a row: the sides of nested frames are far apart, and
            # those of fields side by side farther than rows of a pattern
            three = alike & level & (gap < _ROWS_APART * unit)
            # and the regions on both sides of fields' lines are unlike
            three &= mirrored[1:] | mirrored[:-1]
            rows = np.flatnonzero(three[:-2] & three[1:-1] & three[2:])
            if alike.sum() >= _MANY_ROWS and nested[alike].mean() <= _NESTED:
                at = np.flatnonzero(alike)
            elif len(rows):
                at = np.unique(np.concatenate([rows, rows + 1, rows + 2]))
            else:
                at = rows
            if len(at):
                drop.update(family[order[np.isin(row, [*at, *(at + 1)])]].tolist())
    dropped = {id(lines[k]) for k in drop}
    return [r for r in frames if id(r) not in dropped]


def _closed_loops(short: list[_Run], unit: float) -> list[_Run]:
    """Return lines of middle length that close a convex polygon between them."""
    import shapely

    lines = [r for r in short if r.length >= 1.5 * unit]
    if len(lines) < 3:
        return []
    lines = sorted(lines, key=lambda r: -r.length)[:5000]
    ends = np.array([r.ends for r in lines]).reshape(-1, 2)
    near: list[list[int]] = [[] for _ in ends]
    dots = np.asarray(shapely.points(ends))
    pairs = shapely.STRtree(dots).query(dots, "dwithin", 0.25 * unit)
    order = np.lexsort((pairs[1], pairs[0]))
    for i, j in pairs.T[order].tolist():
        if i != j:
            near[i].append(j)
    found: list[_Run] = []
    done: set[int] = set()
    for first in range(len(lines)):
        if first in done:
            continue
        loop = _walk_loop(first, ends, near)
        if loop is None:
            continue
        members = [lines[k] for k in loop]
        if sum(r.length for r in members) >= _ROUND * unit:
            found.extend(members)
            done.update(loop)
    return found


def _walk_loop(
    first: int, ends: NDArray[np.float64], near: list[list[int]]
) -> list[int] | None:
    """Walk from line to line, always turning left, until the first comes again.

    Where several lines go on, each is tried, up to a number of steps.
    """
    for origin in (2 * first, 2 * first + 1):
        stack: list[tuple[list[int], float]] = [([origin], 0.0)]
        for _ in range(400):
            if not stack:
                break
            path, total = stack.pop()
            tail = path[-1] ^ 1
            step = ends[tail] - ends[path[-1]]
            for other in near[tail]:
                onward = ends[other ^ 1] - ends[other]
                cross = step[0] * onward[1] - step[1] * onward[0]
                angle = float(np.arctan2(cross, step @ onward))
                turned = total + angle
                if not 0.1 < angle < 1.8 or turned > 2 * np.pi + 0.3:
                    continue
                if other == origin:
                    if turned > 2 * np.pi - 0.3 and len(path) >= 3:
                        return [p // 2 for p in path]
                elif len(path) < 24 and other // 2 not in [p // 2 for p in path]:
                    stack.append(([*path, other], turned))
    return None


def _count_meetings(arrangement: Arrangement, runs: list[_Run], unit: float) -> None:
    """Note at which share of each run's meeting points lines reach both sides.

    The first share counts lines that run straight across, the second any that
    reach it: the mirror lines of a pattern have lines on both sides everywhere. What
    lies within the fit of a run is on it: a tip that pokes through reaches one side.
    """
    if not runs:
        return
    points, origin = arrangement.vertices, arrangement.origin
    band = _Band(runs, points, unit)
    count, edges, total = len(runs), arrangement.edge_count, len(points)
    owner = np.repeat(np.arange(count), [len(r.edges) for r in runs])
    member = np.concatenate([r.edges for r in runs])
    own = np.sort(owner * edges + member)
    order = np.argsort(origin, kind="stable")
    degree = np.bincount(origin, minlength=total)
    first = np.cumsum(degree) - degree
    ends = np.concatenate([origin[2 * member], origin[2 * member + 1]])
    place = distinct(np.concatenate([owner, owner]) * total + ends)
    place = place[band.between_tips(*np.divmod(place, total))]
    # lines that leave a run go some way within its fit, perhaps
    for step in range(3):
        run, vertex = np.divmod(place, total)
        row, half = expand_ranges(first[vertex], degree[vertex])
        half = order[half]
        key = run[row] * edges + half // 2
        found = np.minimum(np.searchsorted(own, key), len(own) - 1)
        leaving = own[found] != key
        row, half = row[leaving], half[leaving]
        target = origin[half ^ 1]
        inside = np.abs(band.offset(run[row], target)) < _FIT * unit
        onto = run[row[inside]] * total + target[inside]
        if step == 2 or np.isin(onto, place).all():
            break
        place = np.union1d(place, onto)
    linked = np.isin(onto, place)
    here = np.searchsorted(place, onto[linked])
    part = part_numbers(row[inside][linked], here, len(place))
    row, half = row[~inside], half[~inside]
    away = points[origin[half ^ 1]] - points[origin[half]]
    left = band.offset(run[row], origin[half ^ 1]) > 0
    which = part[row]
    parts = int(part.max(initial=-1)) + 1
    run_of = np.zeros(parts, dtype=np.int64)
    run_of[part] = run
    one, other = _pairs(which[left], which[~left], parts)
    p, q = away[left][one], away[~left][other]
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    straight = np.abs(np.arctan2(cross, -(p * q).sum(axis=1))) < _GOES_ON
    met, both, crossed = (
        np.bincount(run_of[np.unique(k)], minlength=count)
        for k in (which, which[left][one], which[left][one[straight]])
    )
    for k in np.flatnonzero(met).tolist():
        # lines of a pattern are met all along, two frame lines where they cross
        least = max(
            float(met[k]), runs[k].length / (_MET_EVERY * max(runs[k].unit, unit))
        )
        runs[k].crossed = float(crossed[k]) / least
        runs[k].both = float(both[k]) / least


class _Band:
    """How vertices lie to runs.

    Parameters
    ----------
    runs : list of _Run
        The runs.
    points : ndarray of shape (V, 2)
        Vertices, mm.
    unit : float
        Root of the median area of a face, mm.
    """

    def __init__(
        self, runs: list[_Run], points: NDArray[np.float64], unit: float
    ) -> None:
        self.points = points
        self.round = np.array([r.round for r in runs])
        self.centre = np.array([r.centre for r in runs])
        self.radius = np.array([r.radius for r in runs])
        self.direction = np.array([r.direction for r in runs])
        # what happens at the ends of a line does not count
        self.span = np.array(
            [
                (-np.inf, np.inf)
                if r.round
                else np.sort((r.ends - r.centre) @ r.direction) + r.length * _TIPS
                for r in runs
            ]
        )

    def offset(
        self, run: NDArray[np.int64], vertex: NDArray[np.integer]
    ) -> NDArray[np.float64]:
        """Return how far vertices are to the left of lines, or outside circles.

        Parameters
        ----------
        run, vertex : ndarray of int
            Which of each.

        Returns
        -------
        ndarray of float64
            Signed distances, mm.
        """
        away = self.points[vertex] - self.centre[run]
        u, v = self.direction[run].T
        across = u * away[:, 1] - v * away[:, 0]
        beyond = np.hypot(*away.T) - self.radius[run]
        return np.asarray(np.where(self.round[run], beyond, across))

    def between_tips(
        self, run: NDArray[np.int64], vertex: NDArray[np.integer]
    ) -> NDArray[np.bool_]:
        """Return which vertices are not at the ends of lines.

        Parameters
        ----------
        run, vertex : ndarray of int
            Which of each.

        Returns
        -------
        ndarray of bool
            True between the ends, and for circles.
        """
        away = self.points[vertex] - self.centre[run]
        at = (away * self.direction[run]).sum(axis=1)
        return np.asarray((at >= self.span[run, 0]) & (at <= self.span[run, 1]))


def _pairs(
    first: NDArray[np.int64], second: NDArray[np.int64], n: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return all pairs of rows that have the same number, of 0 to n - 1."""
    order = np.argsort(second, kind="stable")
    size = np.bincount(second, minlength=n)
    start = np.cumsum(size) - size
    row, at = expand_ranges(start[first], size[first])
    return row, order[at]


def _corner_lines(
    arrangement: Arrangement,
    frames: list[_Run],
    unit: float,
) -> list[_Run]:
    """Return lines from a corner of the frames to another corner or frame line.

    Mitres run from an inner corner to an outer one, sides of corner pieces from a
    corner square onto a frame line. They are looked for where they must be.
    """
    corners = _corners(frames, unit)[:200]
    points = arrangement.vertices
    a, b = arrangement.origin[0::2], arrangement.origin[1::2]
    straight = [f for f in frames if not f.round]
    leaving = _Leaving.of(straight)
    on_run = np.zeros(len(a), dtype=bool)
    framed = np.concatenate([f.edges for f in frames]) if frames else on_run[:0]
    starts = np.cumsum([0, *(len(f.edges) for f in frames[:-1])])
    found: list[_Run] = []
    crossed: list[_Run] = []

    def slack(run: _Run) -> float:
        return max(0.05 * run.length, _FIT * unit)

    for k, corner in enumerate(corners):
        goals = np.concatenate([corners[k + 1 :], leaving.feet(corner, unit)])
        steps = goals - corner
        fars = np.hypot(*steps.T)
        near = (fars > 0.5 * unit) & (fars < 12.0 * unit)
        for goal, step, far in zip(
            goals[near], steps[near], fars[near].tolist(), strict=True
        ):
            # the diagonal of a corner square lies between lines at both of its ends
            way = step / far
            if leaving.on_both_sides(corner, way, unit) and leaving.on_both_sides(
                goal, -way, unit
            ):
                continue
            run = _covering(corner, way, far, points, a, b, unit)
            if run is None or any(
                np.isin(run.edges, f.edges).mean() > 0.5 for f in found
            ):
                continue
            on_run[run.edges] = True
            on_frame = np.add.reduceat(on_run[framed], starts).max()
            on_run[run.edges] = False
            if on_frame > 0.3 * len(run.edges):
                continue
            _count_meetings(arrangement, [run], unit)
            if run.crossed <= _CROSSED:
                found.append(run)
            else:
                crossed.append(run)
    # few lines meet a short one: where all four corners have it, it is a frame's
    size = np.array([r.length for r in crossed + found])
    return found + [r for r in crossed if (abs(size - r.length) < slack(r)).sum() >= 4]


@dataclass(frozen=True, slots=True)
class _Leaving:
    """The ends, directions and normals of straight lines, each both ways."""

    ends: NDArray[np.float64]
    direction: NDArray[np.float64]

    @classmethod
    def of(cls, lines: list[_Run]) -> _Leaving:
        ends = np.array([line.ends for line in lines]).reshape(-1, 2, 2)
        direction = np.array([line.direction for line in lines]).reshape(-1, 2)
        return cls(np.tile(ends, (2, 1, 1)), np.concatenate([direction, -direction]))

    def feet(self, point: NDArray[np.float64], unit: float) -> NDArray[np.float64]:
        """Return the feet of the perpendiculars from a point that lie on a line."""
        half = len(self.ends) // 2
        ends, direction = self.ends[:half], self.direction[:half]
        centre = ends.mean(axis=1)
        along = ((point - centre) * direction).sum(axis=1)
        reach = ((ends - centre[:, None]) * direction[:, None]).sum(axis=2)
        on = (reach.min(axis=1) - unit < along) & (along < reach.max(axis=1) + unit)
        return np.asarray((centre + along[:, None] * direction)[on])

    def on_both_sides(
        self, point: NDArray[np.float64], way: NDArray[np.float64], unit: float
    ) -> bool:
        """Tell whether lines leave a point on both sides of a way, less than square."""
        away = self.ends - point
        u, v = self.direction.T
        aside = np.abs(away[:, 0, 1] * u - away[:, 0, 0] * v)
        reach = away[:, :, 0] * u[:, None] + away[:, :, 1] * v[:, None]
        along, across = way[0] * u + way[1] * v, way[1] * u - way[0] * v
        # it must begin at the point or before it, and go on
        leaves = (aside <= 0.5 * unit) & (along > 0.1 * np.abs(across))
        leaves &= (reach.min(axis=1) < 0.5 * unit) & (reach.max(axis=1) > unit)
        slant = 0.1 * along[leaves]
        across = across[leaves]
        return bool((across < -slant).any() and (across > slant).any())


def _covering(
    start: NDArray[np.float64],
    direction: NDArray[np.float64],
    far: float,
    points: NDArray[np.float64],
    a: NDArray[np.integer],
    b: NDArray[np.integer],
    unit: float,
) -> _Run | None:
    """Return the edges along a segment, or None when they do not cover it."""
    slack = 2.0 * _FIT * unit
    away = points - start
    along = away @ direction
    across = np.abs(away[:, 0] * direction[1] - away[:, 1] * direction[0])
    on = (across < slack) & (along > -slack) & (along < far + slack)
    edges = np.flatnonzero(on[a] & on[b])
    if len(edges) == 0:
        return None
    low = np.minimum(along[a[edges]], along[b[edges]])
    high = np.maximum(along[a[edges]], along[b[edges]])
    order = np.argsort(low, kind="stable")
    reach = np.maximum.accumulate(high[order])
    gaps = np.maximum(low[order][1:] - reach[:-1], 0.0).sum()
    gaps += max(float(low.min()), 0.0) + max(far - float(high.max()), 0.0)
    if gaps > max(0.06 * far, 2.0 * slack):
        return None
    ends = np.array([start, start + far * direction])
    return _Run(edges, far, False, False, ends.mean(axis=0), direction, 0.0, ends)


def _corners(frames: list[_Run], unit: float) -> NDArray[np.float64]:
    """Return the points where straight frame lines meet, first those where one ends.

    Both may go on: a border's corner lies on the lines of the next one.
    """
    lines = [f for f in frames if not f.round]
    if len(lines) < 2:
        return np.zeros((0, 2))
    direction = np.array([f.direction for f in lines])
    centre = np.array([f.centre for f in lines])
    ends = np.array([f.ends for f in lines])
    reach = ((ends - centre[:, None]) * direction[:, None]).sum(axis=2)
    low, high = reach.min(axis=1) - 0.5 * unit, reach.max(axis=1) + 0.5 * unit
    found, crossings = [], []
    for i in range(len(lines) - 1):
        rest = slice(i + 1, None)
        across = np.array([direction[i, 1], -direction[i, 0]])
        cross = -direction[rest] @ across
        offset = centre[rest] - centre[i]
        along = offset[:, 0] * direction[rest, 1] - offset[:, 1] * direction[rest, 0]
        slanted = np.abs(cross) >= 0.2
        t = along / np.where(slanted, cross, 1.0)
        point = centre[i] + t[:, None] * direction[i]
        ended = [
            np.hypot(*np.moveaxis(e - point[:, None], -1, 0)).min(axis=1) < 0.5 * unit
            for e in (ends[i][None], ends[rest])
        ]
        s = ((point - centre[rest]) * direction[rest]).sum(axis=1)
        on = (low[i] < t) & (t < high[i]) & (low[rest] < s) & (s < high[rest])
        on &= slanted
        found.append(point[on & (ended[0] | ended[1])])
        crossings.append(point[on & ~(ended[0] | ended[1])])
    points = np.concatenate(found + crossings)
    apart = [k for k, p in enumerate(points) if _far(points[:k], p, 0.5 * unit)]
    return np.asarray(points[apart])


def _far(points: NDArray[np.float64], point: NDArray[np.float64], away: float) -> bool:
    return len(points) == 0 or bool(np.hypot(*(points - point).T).min() > away)
