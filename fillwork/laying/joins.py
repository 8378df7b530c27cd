"""Join a cell's lines to those of its copies, and keep each line once.

A *boundary end* is the end of a line on the cell's outline, or near it. Where the
copies of the cell meet, boundary ends that miss each other by a little are moved to
their common middle; the rest of the line follows, by the similarity that keeps its
other end. All is done modulo the shifts, so that each join is the same wherever the
repeat comes to lie.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.geometry.polygons import ring_sides
from fillwork.laying.clip import clip_curves
from fillwork.laying.model import Misfit, Motif
from fillwork.symmetry.grids import part_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.laying.model import Cell, Way


_RAILED = 9.0  # what edges of a strip that are drawn count for, beside an open line's 3
_EXACT = 2e-5  # files are written with four places and more
_TOLD = 1e-3
_NOISE = 2.5
"""Ends of one point are this much farther apart, at most, than three joins in four."""
_MEANT = 0.1
"""Ends this share of the slack off the outline are told when they meet nothing."""


def make_motif(cell: Cell, way: Way, *, slack: float) -> Motif:
    """Return the lines of one repeat, joined, each once.

    The lines with what was closed at the joins.

    `way`: how it goes on. `slack`: largest misfit that is closed, mm.
    """
    drawn, style = _inside(cell, way, slack)
    ends = _Ends(drawn, way, slack)
    moved, misfits = ends.close()
    copies = [moved.transform(g) for g in way.operations]
    laid = Curves.concatenate(copies)
    styles = np.tile(style, len(copies))
    laid = _gather(laid, way.basis)
    keep = _once(laid, way.basis, slack)
    back = affine.invert(way.mend)
    told = tuple(
        Misfit(_pair(affine.apply(back, np.array(m.at))), m.size, m.closed)
        for m in misfits
    )
    closed = [m.size for m in misfits if m.closed]
    return Motif(
        curves=laid.take(keep),
        style=styles[keep],
        basis=way.basis.copy(),
        operations=way.operations,
        outline=way.outline.copy(),
        way=way.name,
        misfits=told,
        slip=max(way.miss, _usual(closed)),
    )


def _usual(misses: list[float]) -> float:
    """Return the root mean square of misses, or the least of one or two: a blunder."""
    if len(misses) < 3:
        return min(misses, default=0.0)
    return float(np.sqrt(np.mean(np.square(misses))))


def weigh_way(cell: Cell, way: Way, *, slack: float) -> float:
    """Return how badly lines meet when a cell goes on in a way.

    `slack`: largest misfit that is closed, mm. Returns three for each line that ends at
    a join with nothing to go on to, one for each that only meets its neighbour in the
    cell there, as a tip that touches the guide, less one for each that meets an end
    from elsewhere in the cell, and less for one that misses it. Its own image in a
    mirror says nothing: every end has one. Where that is alike, fewer lines end where
    the pattern does.
    """
    drawn, _ = _inside(cell, way, slack)
    ends = _Ends(drawn, way, slack)
    _, misfits = ends.close()
    left = sum(not m.closed for m in misfits)
    score = 3.0 * left + ends.touching - ends.met + min(0.01 * ends.stopping, 0.3)
    return score + _RAILED * _open_rails(drawn, way)


def _open_rails(drawn: Curves, way: Way) -> float:
    """Return how much more is drawn of a strip's ends than of its edges; a share."""
    if len(way.basis) != 1 or len(way.outline) != 4:
        return 0.0
    sides = ring_sides(way.outline)
    step = sides[:, 2:] - sides[:, :2]
    size = np.hypot(*step.T)
    lines = drawn.take(np.flatnonzero(drawn.kind == LINE))
    ends = np.stack([lines.starts(), lines.ends()], axis=1)
    covered = np.zeros(4)
    for k, (side, along) in enumerate(zip(sides, step / size[:, None], strict=True)):
        off = cross(np.broadcast_to(along, ends.shape), ends - side[:2])
        on = (np.abs(off) <= _TOLD).all(axis=1)
        covered[k] = np.abs((ends[on, 1] - ends[on, 0]) @ along).sum() / size[k]
    along = np.abs(step @ way.basis[0]) / size
    rails = along >= np.sort(along)[2]
    covered = np.minimum(covered, 1.0)
    return float(covered[~rails].mean() - covered[rails].mean())


def _pair(point: NDArray[np.float64]) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _edge(ring: NDArray[np.float64]) -> Curves:
    return Curves.from_segments(ring_sides(ring))


def _inside(cell: Cell, way: Way, slack: float) -> tuple[Curves, NDArray[np.int32]]:
    """Return the cell's lines on the outline as it must be, and inside it."""
    curves = cell.curves
    if np.abs(np.subtract(way.mend, affine.IDENTITY)).max() > 1e-9:
        curves = curves.transform(way.mend)
    curves = _on_sides(curves, way.outline, slack)
    parts, origin = clip_curves(curves, _edge(way.outline), [way.outline], along=True)
    return parts, cell.style[origin]


def _on_sides(curves: Curves, ring: NDArray[np.float64], slack: float) -> Curves:
    """Lay straight lines that run along a side of the outline onto it."""
    line = np.flatnonzero(curves.kind == LINE)
    data = curves.data.copy()
    for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        side = (q - p) / np.hypot(*(q - p))
        ends = data[line, :4].reshape(-1, 2, 2)
        off = cross(np.broadcast_to(side, ends.shape), ends - p)
        reach = np.abs(((ends[:, 1] - ends[:, 0]) * side).sum(axis=1))
        along = (np.abs(off) <= slack).all(axis=1) & (reach > 2 * slack)
        if not along.any():
            continue
        rows = line[along]
        share = (ends[along] - p) @ side
        length = float(np.hypot(*(q - p)))
        share = np.where(np.abs(share) <= slack, 0.0, share)
        share = np.where(np.abs(share - length) <= slack, length, share)
        data[rows, :4] = (p + share[..., None] * side).reshape(-1, 4)
    return Curves(curves.kind.copy(), data)


def _reach_sides(curves: Curves, ring: NDArray[np.float64], slack: float) -> Curves:
    """Draw lines that stop short of the outline out to it, straight on."""
    line = np.flatnonzero(curves.kind == LINE)
    if len(line) == 0:
        return curves
    data = curves.data.copy()
    for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        side = (q - p) / np.hypot(*(q - p))
        for k in (0, 1):
            end = data[line, 2 * k : 2 * k + 2]
            other = data[line, 2 - 2 * k : 4 - 2 * k]
            off = cross(np.broadcast_to(side, end.shape), end - p)
            rise = cross(np.broadcast_to(side, end.shape), end - other)
            share = ((end - p) @ side) / np.hypot(*(q - p))
            length = np.hypot(*(end - other).T)
            near = (np.abs(off) <= slack) & (np.abs(off) > 0)
            near &= (share > -1e-3) & (share < 1 + 1e-3)
            steep = np.abs(rise) > 0.3 * length
            todo = near & steep & (length > 2 * slack)
            step = np.where(todo, off / np.where(rise == 0, 1.0, rise), 0.0)
            moved = end - step[:, None] * (end - other)
            data[line[todo], 2 * k : 2 * k + 2] = moved[todo]
    return Curves(curves.kind.copy(), data)


class _Ends:
    """Find and close boundary ends of one cell among all its copies."""

    def __init__(self, curves: Curves, way: Way, slack: float) -> None:
        self.curves, self.way, self.slack = curves, way, slack
        self.drawn = np.vstack([curves.starts(), curves.ends()])
        reached = _reach_sides(curves, way.outline, slack)
        self.points = np.vstack([reached.starts(), reached.ends()])
        # half of what is closed lies on either side of a join
        far = np.hypot(*(self.points - self.drawn).T) > slack / 2
        self.points[far] = self.drawn[far]
        count = len(curves)
        self.owner = np.tile(np.arange(count), 2)
        lengths = curves.lengths()
        closed = np.hypot(*(self.points[:count] - self.points[count:]).T) < 1e-9
        can = (lengths > 2 * slack) & ~closed
        self.sides = sides = _joined_sides(way, slack)
        self.off = _distance(self.drawn, sides)
        self.boundary = _distance(self.points, sides) <= slack
        self.free = self.boundary & can[self.owner]
        self.met, self.touching = 0.0, 0
        rim = _distance(self.points, ring_sides(way.outline)) <= slack
        self.stopping = int((rim & ~self.boundary).sum())

    def close(self) -> tuple[Curves, list[Misfit]]:
        """Return the curves with their boundary ends moved together."""
        rows = np.flatnonzero(self.boundary)
        if len(rows) == 0:
            return self.curves, []
        copies = len(self.way.operations)
        images = np.vstack(
            [affine.apply(g, self.points[rows]) for g in self.way.operations]
        )
        basis = self.way.basis
        near = _near_pairs(images, basis, self.slack)
        alone = ~_touched(near, near.apart <= _EXACT, len(images))[: len(rows)]
        on_line, line_off = self._on_lines(rows, alone)
        far = np.tile(line_off, copies)
        held = np.tile(self._held(rows), copies)
        led = np.hypot(*(self.points[rows] - self.drawn[rows]).T) > _EXACT
        group, mean = _meet(images, basis, near, far, held, led)
        size = np.bincount(group)
        off = 2 * np.hypot(*(mean[: len(rows)] - self.drawn[rows]).T)
        off = np.where(size[group[: len(rows)]] > 1, off, 2 * line_off)
        off = off[np.isfinite(off)]
        noise = _NOISE * float(np.percentile(off, 75)) if len(off) else 0.0
        noise = min(noise, self.slack)
        if noise > _EXACT:
            group, mean = _meet(images, basis, near, far, held, led, noise)
            size = np.bincount(group)
        here = group[: len(rows)]
        others = _others(group, self.points[rows], self.slack)
        gap = np.hypot(*(mean[: len(rows)] - self.points[rows]).T)[others]
        share = gap / self.slack if self.slack > 0 else (gap > 0).astype(float)
        self.met = float((1.0 - np.minimum(share, 1.0)).sum())
        across = (near.a < len(rows)) != (near.b < len(rows))
        beyond = _touched(near, across, len(images))[: len(rows)]
        self.touching = int(((size[here] > 1) & ~beyond & ~others).sum())
        # a join is one place, however many of its copies the cell shows
        which = np.tile(np.arange(len(rows)), copies)
        place = np.full(len(size), len(rows))
        np.minimum.at(place, group, which)
        wanted = self.drawn.copy()
        misses: dict[int, tuple[float, int]] = {}
        left: set[int] = set()
        for k, row in enumerate(rows.tolist()):
            if size[here[k]] > 1:
                target = mean[k]
            elif np.isfinite(line_off[k]):
                target = on_line[k]
            else:
                # an end well inside a cell of good joins is meant to end there
                if self.off[row] <= max(noise, _MEANT * self.slack):
                    left.add(int(place[here[k]]))
                continue
            miss = 2 * float(np.hypot(*(target - self.drawn[row])))
            if self.free[row]:
                wanted[row] = target
            if miss > _TOLD:
                join = int(place[here[k]])
                misses[join] = max(misses.get(join, (0.0, row)), (miss, row))
        misfits = [
            Misfit(_pair(self.drawn[row]), miss, True) for miss, row in misses.values()
        ]
        misfits += [
            Misfit(_pair(self.drawn[rows[k]]), 0.0, False) for k in sorted(left)
        ]
        return move_ends(self.curves, wanted), misfits

    def _held(self, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return 2 for ends at a corner of the outline, 1 on a side, else 0."""
        points, ring = self.points[rows], self.way.outline
        corner = np.hypot(*np.moveaxis(points[:, None] - ring, -1, 0)).min(axis=1)
        side = _distance(points, self.sides)
        held = (side <= _EXACT).astype(np.int64) + (corner <= _EXACT)
        return np.asarray(held, dtype=np.int64)

    def _on_lines(
        self, rows: NDArray[np.int64], lonely: NDArray[np.bool_]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return where lonely ends lie on a line of a copy, and how far off it."""
        import shapely

        found = self.points[rows].copy()
        nearest = np.full(len(rows), np.inf)
        todo = np.flatnonzero(lonely)
        if len(todo) == 0:
            return found, nearest
        chords, owner, _ = self.curves.flatten(1e-4 * max(self.slack, 1e-3))
        points = np.asarray(shapely.points(self.points[rows[todo]]))
        ring = self.way.outline
        low, high = ring.min(axis=0) - self.slack, ring.max(axis=0) + self.slack
        for number, g in enumerate(self.way.operations):
            laid = affine.apply(g, chords.reshape(-1, 2, 2))
            for shift in _shifts_over(laid.reshape(-1, 2), self.way.basis, low, high):
                same = number == 0 and np.hypot(*shift) < 1e-9
                lines = np.asarray(shapely.linestrings(laid + shift))
                tree = shapely.STRtree(lines)
                a, b = tree.query(points, predicate="dwithin", distance=self.slack)
                off = shapely.distance(points[a], lines[b])
                # an end meets its own line's image when that is well within reach
                own = owner[b] == self.owner[rows[todo[a]]]
                good = ~own | (~np.array(same) & (off <= self.slack / 4))
                a, b, off = a[good], b[good], off[good]
                at = shapely.line_interpolate_point(
                    lines[b], shapely.line_locate_point(lines[b], points[a])
                )
                order = np.argsort(-off, kind="stable")  # the nearest comes last
                a, off, at = todo[a[order]], off[order], at[order]
                nearer = off < nearest[a]
                a, off, at = a[nearer], off[nearer], at[nearer]
                nearest[a] = off
                found[a] = shapely.get_coordinates(at)
        return found, nearest


def _others(
    group: NDArray[np.int64], points: NDArray[np.float64], slack: float
) -> NDArray[np.bool_]:
    """Return which points meet images of points elsewhere in the cell."""
    which = np.tile(np.arange(len(points)), len(group) // len(points))
    low = np.full((int(group.max()) + 1, 2), np.inf)
    high = -low
    np.minimum.at(low, group, points[which])
    np.maximum.at(high, group, points[which])
    apart = np.hypot(*(high - low).T) > 2 * slack
    return np.asarray(apart[group[: len(points)]])


def _shifts_over(
    points: NDArray[np.float64],
    basis: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the lattice shifts that bring points into a box."""
    rank = len(basis)
    if rank == 0:
        return np.zeros((1, 2))
    size = (points.min(axis=0) - high, points.max(axis=0) - low)
    corners = np.array([[-size[i][0], -size[j][1]] for i in (0, 1) for j in (0, 1)])
    along = corners @ np.linalg.pinv(basis)
    first = np.floor(along.min(axis=0) - 1e-9).astype(int)
    last = np.ceil(along.max(axis=0) + 1e-9).astype(int)
    axes = [np.arange(f, t + 1) for f, t in zip(first, last, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, rank)
    shifts = grid @ basis
    meets = (points.min(axis=0) + shifts <= high).all(axis=1)
    meets &= (points.max(axis=0) + shifts >= low).all(axis=1)
    return np.asarray(shifts[meets])


def _joined_sides(way: Way, slack: float) -> NDArray[np.float64]:
    """Return the sides of the outline beyond which a copy of the cell lies.

    Of strips and rosettes the other sides are where the pattern ends.
    """
    import shapely

    ring, ends = way.outline, ring_sides(way.outline)
    shares = np.array([0.2, 0.5, 0.8])[:, None]
    probes = ends[:, None, :2] * (1 - shares) + ends[:, None, 2:] * shares
    points = shapely.points(probes.reshape(-1, 2))
    low, high = ring.min(axis=0) - slack, ring.max(axis=0) + slack
    met = np.zeros(len(points), dtype=bool)
    for number, g in enumerate(way.operations):
        copy = affine.apply(g, ring)
        for shift in _shifts_over(copy, way.basis, low, high):
            if number == 0 and np.hypot(*shift) < 1e-9:
                continue
            met |= shapely.distance(shapely.polygons(copy + shift), points) <= slack
    joined = met.reshape(-1, 3).all(axis=1)
    return np.asarray(ends[joined])


def _distance(
    points: NDArray[np.float64], sides: NDArray[np.float64]
) -> NDArray[np.float64]:
    import shapely

    if len(sides) == 0:
        return np.full(len(points), np.inf)
    lines = np.asarray(shapely.linestrings(sides.reshape(-1, 2, 2)))
    rim = shapely.multilinestrings(lines)
    shapely.prepare(rim)
    return np.asarray(shapely.distance(rim, shapely.points(points)))


def _wrap(
    points: NDArray[np.float64], basis: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the lattice cell of each point, as whole numbers along the basis."""
    if len(basis) == 0:
        return np.zeros((len(points), 0))
    # off any simple fraction, so that corners and middles lie on no border
    return np.asarray(np.floor(points @ np.linalg.pinv(basis) + 0.3819660113))


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Hold points that are near each other modulo the shifts."""

    a: NDArray[np.int64]
    b: NDArray[np.int64]
    apart: NDArray[np.float64]


def _near_pairs(
    points: NDArray[np.float64], basis: NDArray[np.float64], slack: float
) -> _Pairs:
    from scipy.spatial import cKDTree

    wrapped = points - _wrap(points, basis) @ basis if len(basis) else points
    padded, back = _padded(wrapped, basis, slack)
    reach = slack * (1 + 1e-9) + 1e-12
    pairs = cKDTree(padded).query_pairs(reach, output_type="ndarray")
    one, two = padded[pairs[:, 0]], padded[pairs[:, 1]]
    return _Pairs(back[pairs[:, 0]], back[pairs[:, 1]], np.hypot(*(one - two).T))


def _touched(near: _Pairs, rows: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """Return which points are in the chosen pairs."""
    found = np.zeros(count, dtype=bool)
    found[near.a[rows]] = found[near.b[rows]] = True
    return found


def _parts(
    near: _Pairs, rows: NDArray[np.bool_], count: int
) -> tuple[int, NDArray[np.int64]]:
    """Return how many parts the chosen pairs make of the points, and each one's."""
    group = part_numbers(near.a[rows], near.b[rows], count)
    return int(group.max(initial=-1)) + 1, group


def _together(
    points: NDArray[np.float64],
    near: _Pairs,
    exact: NDArray[np.bool_],
    led: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Return which pairs are of points that are near each other and near no more.

    Not where two lines each go on exactly beyond the join, beside each other. That an
    end which was `led` onto the side meets its own image there says nothing.
    """
    n = len(points)
    parts, group = _parts(near, np.ones(len(near.a), dtype=bool), n)
    size = np.bincount(group, minlength=parts)
    pairs = np.unique(np.sort(np.column_stack([near.a, near.b]), axis=1), axis=0)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    full = np.bincount(group[pairs[:, 0]], minlength=parts) == size * (size - 1) // 2
    apart = np.hypot(*(points[near.a] - points[near.b]).T)
    drawn = len(led)
    one, two = near.a % drawn, near.b % drawn
    told = (near.a // drawn != near.b // drawn) | (apart > 2 * _EXACT)
    told &= (one != two) | ~led[one]
    _, met = _parts(near, exact, n)
    goes_on = np.unique(met[near.a[exact & told]])
    settled = np.zeros(n, dtype=bool)
    settled[goes_on] = True
    joins = np.unique(np.column_stack([group, met]), axis=0)
    many = np.bincount(joins[settled[joins[:, 1]], 0], minlength=parts) > 1
    return np.asarray((full & ~many)[group[near.a]])


def _meet(
    points: NDArray[np.float64],
    basis: NDArray[np.float64],
    near: _Pairs,
    line_off: NDArray[np.float64],
    held: NDArray[np.int64],
    led: NDArray[np.bool_],
    noise: float = 0.0,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Gather points that belong together, and say where each is to go.

    Ends that meet exactly, or lie on a line, are together as they are; the others
    go to the nearest. Then all within the noise of the drawing are one, as are those
    that lie together and alone: each near all the others, and near no more. They come
    to those of them that are `held` most.
    """
    n = len(points)
    a, b = near.a, near.b
    exact = near.apart <= _EXACT
    meets = _touched(near, exact, n) | (line_off <= _EXACT)
    nearest = np.full(n, np.inf)
    np.minimum.at(nearest, a, near.apart)
    np.minimum.at(nearest, b, near.apart)
    # a line that an end lies on goes before an end some way off
    reach = np.where(line_off < nearest / 2, -1.0, 1.1 * nearest)
    reach[meets] = -1.0
    used = exact | (near.apart <= noise) | _together(points, near, exact, led)
    used |= (near.apart <= reach[a]) | (near.apart <= reach[b])
    count, group = _parts(near, used, n)
    weight = np.where(meets, 1.0, 0.0)
    weight += np.bincount(group, weight, minlength=count)[group] == 0
    for least in (1, 2):
        firm = np.bincount(group, weight * (held >= least), minlength=count)[group] > 0
        weight[firm & (held < least)] = 0.0
    lead = np.full(count, n)
    np.minimum.at(lead, group, np.arange(n))
    beside = points - points[lead[group]]
    if len(basis):
        beside -= np.round(beside @ np.linalg.pinv(basis)) @ basis
    total = np.bincount(group, weight, minlength=count)
    mean = np.column_stack(
        [
            np.bincount(group, beside[:, k] * weight, minlength=count) / total
            for k in (0, 1)
        ]
    )
    middle = points - beside + mean[group]
    # what meets already is not moved by a rounding
    stays = meets & (np.hypot(*(middle - points).T) <= 10 * _EXACT)
    return group, np.where(stays[:, None], points, middle)


def _padded(
    wrapped: NDArray[np.float64], basis: NDArray[np.float64], slack: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return points with their nearest shifted copies, and whose each is."""
    every = np.arange(len(wrapped))
    if len(basis) == 0:
        return wrapped, every
    inverse = np.linalg.pinv(basis)
    place = wrapped @ inverse + 0.3819660113
    margin = slack * np.linalg.norm(inverse, axis=0) * 1.5 + 1e-9
    rank = len(basis)
    steps = np.stack(np.meshgrid(*[[-1, 0, 1]] * rank, indexing="ij"), axis=-1).reshape(
        -1, rank
    )
    points, back = [], []
    for step in steps:
        moved = place + step
        near = ((moved > -margin) & (moved < 1 + margin)).all(axis=1)
        points.append(wrapped[near] + step @ basis)
        back.append(every[near])
    return np.vstack(points), np.concatenate(back)


def move_ends(curves: Curves, wanted: NDArray[np.float64]) -> Curves:
    """Return curves drawn between other ends, by the similarity of the ends.

    `wanted` (2N, 2): where they shall start, then where they shall end, mm.
    """
    n = len(curves)
    start, end = curves.starts(), curves.ends()
    new_start, new_end = wanted[:n], wanted[n:]
    moved = np.hypot(*(start - new_start).T) + np.hypot(*(end - new_end).T) > 0
    rows = np.flatnonzero(moved)
    if len(rows) == 0:
        return curves
    old = (end - start)[rows] @ np.array([1, 1j])
    new = (new_end - new_start)[rows] @ np.array([1, 1j])
    safe = np.abs(old) > 1e-9
    factor = np.where(safe, new / np.where(safe, old, 1), 1.0)
    data = curves.data.copy()
    points = data[rows].reshape(-1, 4, 2) @ np.array([1, 1j])
    first = start[rows] @ np.array([1, 1j])
    onto = new_start[rows] @ np.array([1, 1j])
    kind = curves.kind[rows]
    arc = kind == ARC
    image = onto[:, None] + factor[:, None] * (points - first[:, None])
    image[arc, 1:3] = factor[arc, None] * points[arc, 1:3]
    image[arc, 3] = points[arc, 3]
    line = kind == LINE
    image[line, 1] = new_end[rows[line]] @ np.array([1, 1j])
    image[line, 2:] = 0
    data[rows] = np.stack([image.real, image.imag], axis=-1).reshape(-1, 8)
    return Curves(curves.kind.copy(), data)


def _gather(curves: Curves, basis: NDArray[np.float64]) -> Curves:
    """Shift each curve so that its middle lies in the first repeat."""
    if len(basis) == 0 or len(curves) == 0:
        return curves
    middle = curves.point(np.arange(len(curves)), np.full(len(curves), 0.5))
    shift = -_wrap(middle, basis) @ basis
    return shift_curves(curves, shift)


def shift_curves(curves: Curves, shift: NDArray[np.float64]) -> Curves:
    """Return curves, each shifted by its own vector. `shift` (N, 2): vectors, mm."""
    data = curves.data.copy()
    for k in (0, 1):
        data[:, k] += shift[:, k]
        bent = curves.kind != ARC
        data[bent, 2 + k] += shift[bent, k]
        cubic = bent & (curves.kind != LINE)
        if cubic.any():
            data[cubic, 4 + k] += shift[cubic, k]
            data[cubic, 6 + k] += shift[cubic, k]
    return Curves(curves.kind.copy(), data)


def _once(
    curves: Curves, basis: NDArray[np.float64], slack: float
) -> NDArray[np.int64]:
    """Return the rows to keep so that no line is there twice.

    Two curves are one when ends meet ends and middles lie within the slack, or a
    hundredth of the chord where that is less.
    """
    from scipy.spatial import cKDTree

    n = len(curves)
    if n < 2:
        return np.arange(n)
    every = np.arange(n)
    middle = curves.point(every, np.full(n, 0.5))
    wrapped = middle - _wrap(middle, basis) @ basis if len(basis) else middle
    chord = curves.ends() - curves.starts()
    reach = np.maximum(np.minimum(slack, 0.01 * np.hypot(*chord.T)), 1e-6)
    most = float(reach.max())
    padded, back = _padded(wrapped, basis, most)
    pairs = cKDTree(padded).query_pairs(most, output_type="ndarray")
    a, b = back[pairs[:, 0]], back[pairs[:, 1]]
    apart = np.hypot(*(padded[pairs[:, 0]] - padded[pairs[:, 1]]).T)
    shift = padded[pairs[:, 0]] - padded[pairs[:, 1]]
    shift = (middle[a] - middle[b]) - shift  # b + shift lies beside a
    start, end = curves.starts(), curves.ends()
    same = (apart <= np.minimum(reach[a], reach[b])) & (a != b)
    ends_a = np.stack([start[a], end[a]], axis=1)
    for_b = np.stack([start[b], end[b]], axis=1) + shift[:, None]
    straight = np.hypot(*(np.moveaxis(ends_a - for_b, -1, 0))).max(axis=1)
    crossed = np.hypot(*(np.moveaxis(ends_a - for_b[:, ::-1], -1, 0))).max(axis=1)
    same &= np.minimum(straight, crossed) <= 1e-5
    # between the ends as well
    quarter = curves.point(a, np.full(len(a), 0.25))
    off = np.full(len(a), np.inf)
    for t in (0.25, 0.75):
        other = curves.point(b, np.full(len(b), t)) + shift
        off = np.minimum(off, np.hypot(*(quarter - other).T))
    same &= off <= np.minimum(reach[a], reach[b])
    drop = np.maximum(a, b)[same]
    keep = np.ones(n, dtype=bool)
    keep[drop] = False
    return np.flatnonzero(keep)
