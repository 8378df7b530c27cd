"""Gaps at loose ends: what each end was meant to meet.

A tip that points at another line, or meets another tip, within `close_gaps` is a gap;
a chain that is shorter than that beyond a junction is an overshoot. An end that runs
beside a line without pointing at it, as a curling stem does, is left alone.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.candidates import overlapping_pairs
from fillwork.geometry.boxes import bounds
from fillwork.geometry.crossings import cross, nearest_parameter
from fillwork.geometry.curves import ARC, LINE
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.edges import Edges
    from fillwork.arrangement.ends import Tips
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves

AHEAD = 0.5  # cosine: a gap lies within 60° of where the line points
_BESIDE = -0.2  # two tips may also miss each other sideways
# how far an end may run on to a line, in its distance from it: a curved one from 30°
# on, a straight one, which says surely where it points, from 10° on, and so an arc that
# leaves its tangent on the way by no more than a share of the distance
_RUN_CURVED, _RUN_STRAIGHT = 2.0, 5.8
_BENT = 0.5
_AT_ONE_PLACE = 3.0  # pairs of ends no farther apart, in their own gaps, are one place
# two ends point at one place of a line, in the gap of the nearer
_ONE_PLACE = 0.25
# so many gaps tell how far ends miss one another in a drawing; of normal errors one
# pair in ten thousand is farther apart, in the usual gap
_USUAL, _FARTHEST = 8, 4.0
# an end looks at so many edges, the nearest, where there are so many pairs; how often
# the way within which it looks is doubled, and how many ends look at once
_MOST, _PAIRS = 128, 1 << 18
_STEPS, _AT_ONCE = 10, 512
# pairs are so many times fewer than what a coarse grid tells of them
_COARSE = 16


@dataclass(frozen=True, slots=True, eq=False)
class Closings:
    """Hold short lines that close gaps."""

    tip: Ints  # (n,): the tip that each begins at
    target: Floats  # (n, 2): where it ends, mm
    size: Floats  # (n,): its length, mm
    curve: Ints  # (n,): the curve that it ends on
    other_tip: Ints  # (n,): the other tip where two meet, else -1

    def __len__(self) -> int:
        return len(self.tip)

    def take(self, kept: NDArray[np.bool_ | np.int64]) -> Closings:
        """Return some of them."""
        return Closings(*(getattr(self, f.name)[kept] for f in fields(self)))

    def joined(self, more: Closings) -> Closings:
        """Return these and more."""
        both = ((getattr(v, f.name) for v in (self, more)) for f in fields(self))
        return Closings(*(np.concatenate([*columns]) for columns in both))


def find_closings(
    curves: Curves,
    vertices: Floats,
    edges: Edges,
    tips: Tips,
    within: Floats,
    strict: bool,
    touching: float = 0.0,
    slack: float = 0.0,
) -> Closings:
    """Find what loose ends should be joined to.

    At most one for each tip, the shortest first. `vertices` (V, 2): places of vertices,
    mm. `within` (tips,): longest gap for each tip, mm; 0 for tips that stay. `strict`:
    whether a line must point at what it is joined to. `touching`: gaps up to this are
    covered by ink, mm: they need no pointing. `slack`: points nearer than this are one,
    mm.
    """
    aims = _aim(curves, vertices, edges, tips, within)
    tip, edge, size = aims.tip, aims.edge, aims.size
    toward = ((aims.target - aims.place) * aims.outward).sum(axis=1)
    ahead = toward / np.maximum(size, 1e-300) >= AHEAD
    allowed = (size <= aims.limit) & (aims.straight_on | ahead | (not strict))
    onto = np.flatnonzero(aims.straight_on & allowed & (size > 0))
    line = edges.curve[edge[onto]].astype(np.int64)
    crossed = tip[onto], line, aims.target[onto], size[onto]
    score, late, past, beside, away = _meet_others(
        aims, allowed, vertices, tips, strict=strict
    )
    other = aims.other
    met = np.flatnonzero(allowed & (other >= 0))
    allowed[met[_on_one_line(tip[met], other[met], *crossed, slack)]] = False
    rows = np.flatnonzero(allowed & (size > 0))
    rows = rows[np.lexsort((edge[rows], tip[rows], score[rows]))]
    found = aims.closings(_chosen(rows, tip, other, size), edges)
    here = vertices[tips.vertex]
    more = _that_passed(found, late, past, away, here, tips.outward)
    curve = edges.curve[beside[more]].astype(np.int64)
    passing = Closings(late[more], here[past[more]], away[more], curve, past[more])
    if not strict or touching <= 0:
        return found.joined(passing)
    # what is joined, or passes another end, needs no more; beyond a line that it
    # crosses, an end is no gap
    inner = edges.vertex[tips.edge[tip]].sum(axis=1) - tips.vertex[tip]
    under = (size > 0) & (size <= np.minimum(aims.limit, touching)) & (other < 0)
    under &= (aims.ends != inner[:, None]).all(axis=1)
    under &= ~np.isin(tip, np.r_[found.tip, found.other_tip, late, past])
    rows = np.flatnonzero(under)
    rows = rows[np.lexsort((edge[rows], size[rows], tip[rows]))]
    rows = rows[np.unique(tip[rows], return_index=True)[1]]
    return found.joined(passing).joined(aims.closings(rows, edges))


@dataclass(frozen=True, slots=True, eq=False)
class _Aims:
    """Hold pairs of a tip and an edge near it, and where on it the tip may end.

    Where it ends at another tip or at a corner, `target`, `size` and `other` change.
    """

    tip: Ints  # (n,)
    edge: Ints  # (n,)
    ends: Ints32  # (n, 2): vertices at both ends of the edge
    limit: Floats  # (n,): the longest gap at the tip, mm
    place: Floats  # (n, 2): where the tip is, mm
    outward: Floats  # (n, 2): unit vector in which it points
    straight_on: Bools  # (n,): whether its line goes on to the edge
    target: Floats  # (n, 2): where it may end, mm
    size: Floats  # (n,): how far that is, mm
    other: Ints  # (n,): the tip that is there, else -1

    def closings(self, rows: Ints, edges: Edges) -> Closings:
        """Return some of the pairs as lines that close gaps."""
        return Closings(
            self.tip[rows],
            self.target[rows],
            self.size[rows],
            edges.curve[self.edge[rows]].astype(np.int64),
            self.other[rows],
        )


def _aim(
    curves: Curves, vertices: Floats, edges: Edges, tips: Tips, within: Floats
) -> _Aims:
    """Return where tips would meet edges near them, or come nearest to them."""
    tip, edge = _tips_and_edges(vertices, edges, tips, within)
    place, outward = vertices[tips.vertex[tip]], tips.outward[tip]
    limit = within[tip]
    ends = edges.vertex[edge]
    a, b = vertices[ends[:, 0]], vertices[ends[:, 1]]
    d = b - a
    length = np.maximum(np.hypot(*d.T), 1e-300)
    w = place - a
    u = np.clip((w * d).sum(axis=1) / length**2, 0.0, 1.0)
    nearest = a + u[:, None] * d
    gap = np.hypot(*(nearest - place).T)
    # where the line prolonged would meet the edge
    det = cross(outward, d)
    parallel = np.abs(det) < 1e-9 * length
    safe = np.where(parallel, 1.0, det)
    run = np.where(parallel, np.inf, -cross(w, d) / safe)
    at = np.where(parallel, 0.0, -cross(w, outward) / safe)
    straight_on = (run > 0) & (at >= 0) & (at <= 1)
    own = edges.curve[tips.edge[tip]]
    straight = np.minimum(run, limit) ** 2 * _most_bent(curves, own) <= 2 * _BENT * gap
    longest = np.where(straight, _RUN_STRAIGHT, _RUN_CURVED)
    straight_on &= (run <= limit) & (run <= longest * gap + 1e-12)
    u = np.where(straight_on, at, u)
    target = a + u[:, None] * d
    bent = np.flatnonzero(curves.kind[edges.curve[edge]] != LINE)
    if len(bent):
        span = edges.span[edge[bent]]
        guess = span[:, 0] + u[bent] * (span[:, 1] - span[:, 0])
        curve = edges.curve[edge[bent]]
        t, _ = nearest_parameter(curves, curve, target[bent], guess)
        t = np.clip(t, span.min(axis=1), span.max(axis=1))
        target[bent] = curves.point(curve, t)
    size = np.hypot(*(target - place).T)
    none = np.full(len(tip), -1, np.int64)
    return _Aims(
        tip, edge, ends, limit, place, outward, straight_on, target, size, none
    )


def _meet_others(
    aims: _Aims, allowed: Bools, vertices: Floats, tips: Tips, *, strict: bool
) -> tuple[NDArray[Any], ...]:
    """Let tips end at other tips and corners near by: these were meant.

    `allowed` (n,): which may end where they aim; changed. Returns how good each is, and
    the tips that pass others, these, on which edges, and how far away.
    """
    score = aims.size.copy()
    number = np.full(len(vertices), -1, np.int64)
    number[tips.vertex] = np.arange(len(tips))
    passed = []
    for k in (0, 1):
        corner, there = vertices[aims.ends[:, k]], number[aims.ends[:, k]]
        away = np.hypot(*(corner - aims.place).T)
        ahead = ((corner - aims.place) * aims.outward).sum(axis=1) >= _BESIDE * away
        near = (there >= 0) & (away <= aims.limit) & (there != aims.tip)
        meets = near & (ahead | (not strict))
        past = np.flatnonzero(near & ~meets)
        passed.append((aims.tip[past], there[past], aims.edge[past], away[past]))
        snap = np.hypot(*(corner - aims.target).T) <= 0.4 * aims.size
        snap &= allowed & (there < 0) & (away <= aims.limit)
        take = meets | snap
        aims.target[take], aims.size[take] = corner[take], away[take]
        aims.other[take] = np.where(meets[take], there[take], -1)
        score[take] = np.where(meets[take], 0.6, 1.0) * away[take]
        allowed |= meets
    return score, *(np.concatenate(v) for v in zip(*passed, strict=True))


def _on_one_line(
    one: Ints, two: Ints, tip: Ints, line: Ints, at: Floats, size: Floats, slack: float
) -> Bools:
    """Return which pairs of tips were to meet on a line that both stop short of.

    `one` and `two` (n,): the pairs. `tip` and `line` (m,): the curve that each tip
    points at; `at` (m, 2): where; `size` (m,): how far it is, mm. `slack`: what is
    nearer is one point, mm. Two that point at one place of one curve are joined there,
    not before it.
    """
    found = np.zeros(len(one), bool)
    if len(one) == 0 or len(tip) == 0:
        return found
    curves = int(line.max()) + 1
    key = tip * curves + line
    order = np.lexsort((size, key))
    order = order[np.unique(key[order], return_index=True)[1]]
    key = key[order]
    first, last = (np.searchsorted(key, (one + k) * curves) for k in (0, 1))
    pair, mine = expand_ranges(first, last - first)
    wanted = two[pair] * curves + key[mine] % curves
    its = np.minimum(np.searchsorted(key, wanted), len(key) - 1)
    both = key[its] == wanted
    pair, mine, its = pair[both], order[mine[both]], order[its[both]]
    apart = np.hypot(*(at[mine] - at[its]).T)
    near = apart <= np.maximum(_ONE_PLACE * np.minimum(size[mine], size[its]), slack)
    found[pair[near]] = True
    return found


def _most_bent(curves: Curves, curve: AnyInts) -> Floats:
    """Return how much lines and arcs bend at most, 1/mm; of others 1e200."""
    kind, data = curves.kind[curve], curves.data[curve]
    bent = np.where(kind == LINE, 0.0, 1e200)
    arc = np.flatnonzero(kind == ARC)
    u, v = data[arc, 2:4], data[arc, 4:6]
    # of half-axes a and b: a² + b² and ab
    squares, product = (u**2 + v**2).sum(axis=1), np.abs(cross(u, v))
    a = np.sqrt((squares + np.sqrt(np.maximum(squares**2 - 4 * product**2, 0))) / 2)
    bent[arc] = a**3 / np.maximum(product, 1e-100) ** 2
    return bent


def _chosen(rows: Ints, tip: Ints, other: Ints, size: Floats) -> Ints:
    """Return the closings that are made, of rows that come the best first.

    Each end is joined once, to an end that is joined already if that is the best.
    Where more than two ends miss one another at one place, their pairs are joined as
    well, or regions beside that place would hang together.
    """
    joined: dict[int, tuple[int, float]] = {}  # of each end: a group, its longest gap
    groups: dict[int, list[int]] = {}
    chosen = []
    for r in rows.tolist():
        one, two = int(tip[r]), int(other[r])
        if one not in joined and two not in joined:
            ends = [one, two] if two >= 0 else [one]
            # an end that meets a line belongs to no group of ends
            number = r if two >= 0 else -1
            groups.setdefault(number, []).extend(ends)
            joined.update(dict.fromkeys(ends, (number, float(size[r]))))
            chosen.append(r)
            continue
        if two < 0 or two not in joined:
            continue
        if one not in joined:
            number, long = joined[two]
            groups[number].append(one)
            joined[one] = number, max(long, float(size[r]))
            chosen.append(r)
            continue
        (a, short), (b, long) = joined[one], joined[two]
        if a == b or a < 0 or b < 0 or size[r] > _AT_ONE_PLACE * max(short, long):
            continue
        groups[a] += groups.pop(b)
        reach = max(short, long, float(size[r]))
        joined.update(dict.fromkeys(groups[a], (a, reach)))
        chosen.append(r)
    return np.array(chosen, np.int64)


def _that_passed(
    found: Closings,
    tip: Ints,
    other: Ints,
    away: Floats,
    place: Floats,
    outward: Floats,
) -> Ints:
    """Return which ends that passed another are joined to it: rows of the two.

    Where two ends are joined, a third that ran past both, at one place with them, was
    to end there too. One that crosses what joins them is an overshoot. Two that ran
    past each other are joined if they are as near as others are.
    """
    pair = np.flatnonzero(found.other_tip >= 0)
    one, two = found.tip[pair], found.other_tip[pair]
    mate = np.full(len(place), -1, np.int64)
    gap = np.zeros(len(place))
    mate[np.r_[two, one]] = np.r_[one, two]
    gap[np.r_[two, one]] = np.tile(found.size[pair], 2)
    free = np.ones(len(place), dtype=bool)
    free[found.tip] = free[two] = False
    usual = float(np.median(found.size[pair])) if len(pair) >= _USUAL else 0.0
    near = away <= np.maximum(_AT_ONE_PLACE * gap[other], _FARTHEST * usual)
    row = np.flatnonzero(free[tip] & near)
    step = place[other[row]] - place[tip[row]]
    beyond = place[mate[other[row]]] - place[tip[row]]
    way = outward[tip[row]]
    third = (mate[other[row]] >= 0) & (cross(way, step) * cross(way, beyond) > 0)
    behind = (step * outward[other[row]]).sum(axis=1) > -_BESIDE * away[row]
    each = free[other[row]] & behind & (tip[row] < other[row])
    row = row[third | each]
    row = row[np.lexsort((other[row], away[row], tip[row]))]
    return np.asarray(row[np.unique(tip[row], return_index=True)[1]])


def _tips_and_edges(
    vertices: Floats, edges: Edges, tips: Tips, within: Floats
) -> tuple[Ints, Ints]:
    """Return pairs of a tip and an edge near it that is not its own."""
    active = np.flatnonzero(within > 0)
    none = np.empty(0, np.int64)
    if len(active) == 0 or len(edges) == 0:
        return none, none
    place = vertices[tips.vertex[active]]
    room = within[active][:, None]
    tip_low, tip_high = place - room, place + room
    near, most = _near_edges(vertices, edges, tip_low, tip_high)
    if most > _COARSE * _PAIRS:
        return _tips_and_nearest(vertices, edges, tips, within, near)
    a, b = vertices[edges.vertex[near, 0]], vertices[edges.vertex[near, 1]]
    low, high = np.minimum(a, b), np.maximum(a, b)
    firsts, seconds, more = [none], [none], 0
    n = len(near)
    lows = np.concatenate([low, tip_low])
    highs = np.concatenate([high, tip_high])
    for i, j in overlapping_pairs(lows, highs, apart=np.arange(len(lows)) < n):
        i, j = np.minimum(i, j), np.maximum(i, j)
        mixed = (i < n) & (j >= n)
        one, other = active[j[mixed] - n], near[i[mixed]]
        own = (edges.vertex[other] == tips.vertex[one][:, None]).any(axis=1)
        firsts.append(one[~own])
        seconds.append(other[~own])
        more += len(firsts[-1])
        if more > _PAIRS:
            return _tips_and_nearest(vertices, edges, tips, within, near)
    return np.concatenate(firsts), np.concatenate(seconds)


def _tips_and_nearest(
    vertices: Floats, edges: Edges, tips: Tips, within: Floats, near: Ints
) -> tuple[Ints, Ints]:
    """Return pairs of a tip and an edge near it, of each tip the nearest edges.

    About each tip is looked farther and farther until enough are found. `near`: the
    edges that are asked.
    """
    import shapely

    lines: Any = shapely.linestrings(vertices[edges.vertex[near]])
    tree = shapely.STRtree(lines)
    left = np.flatnonzero(within > 0)
    firsts, seconds = [], []
    for share in 0.5 ** np.arange(_STEPS, -1, -1):
        full = np.zeros(len(left), bool)
        for start in range(0, len(left), _AT_ONCE):
            asked = left[start : start + _AT_ONCE]
            place = shapely.points(vertices[tips.vertex[asked]])
            row, hit = tree.query(place, "dwithin", distance=share * within[asked])
            tip, edge = asked[row], near[hit]
            own = (edges.vertex[edge] == tips.vertex[tip][:, None]).any(axis=1)
            row, tip, edge = row[~own], tip[~own], edge[~own]
            enough = np.bincount(row, minlength=len(asked)) >= _MOST
            full[start : start + _AT_ONCE] = enough
            if share < 1:
                tip, edge = tip[enough[row]], edge[enough[row]]
            kept = _nearest(vertices, edges, tips, tip, edge)
            firsts.append(tip[kept])
            seconds.append(edge[kept])
        left = left[~full]
    return np.concatenate(firsts), np.concatenate(seconds)


def _nearest(
    vertices: Floats, edges: Edges, tips: Tips, tip: Ints, edge: Ints
) -> Bools:
    """Return which pairs of a tip and an edge are among the nearest of that tip."""
    kept = np.ones(len(tip), bool)
    many = np.flatnonzero(np.bincount(tip, minlength=len(tips))[tip] > _MOST)
    a, b = (vertices[edges.vertex[edge[many], k]] for k in (0, 1))
    d, w = b - a, vertices[tips.vertex[tip[many]]] - a
    along = (w * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-300)
    away = np.hypot(*(w - np.clip(along, 0.0, 1.0)[:, None] * d).T)
    order = np.lexsort((edge[many], away, tip[many]))
    owner = tip[many][order]
    rank = np.arange(len(order)) - np.searchsorted(owner, owner)
    kept[many[order[rank >= _MOST]]] = False
    return kept


def _near_edges(
    vertices: Floats, edges: Edges, tip_low: Floats, tip_high: Floats
) -> tuple[Ints, int]:
    """Return the edges with an end near some tip's box, and all long edges.

    And about how many ends lie near boxes, each box asked by itself.
    """
    a, b = edges.ends(vertices)
    length = np.maximum(np.abs(a[:, 0] - b[:, 0]), np.abs(a[:, 1] - b[:, 1]))
    origin, corner = bounds(vertices)
    cells = int(np.clip(2 * np.sqrt(len(vertices)), 8, 1000))
    cell = float((corner - origin).max()) / cells + 1e-300
    cell = max(cell, float((tip_high - tip_low).max()), 2 * float(length.mean()))
    marked = np.zeros((cells + 5, cells + 5), dtype=bool)
    first = np.clip((tip_low - origin) / cell, -1, cells).astype(np.int64) + 2
    last = np.clip((tip_high - origin) / cell, -1, cells).astype(np.int64) + 2
    # an edge no longer than a cell that enters a box ends within one cell of it
    for dx in (-1, 0, 1, 2):
        for dy in (-1, 0, 1, 2):
            x = np.minimum(first[:, 0] + dx, last[:, 0] + 1)
            y = np.minimum(first[:, 1] + dy, last[:, 1] + 1)
            marked[x, y] = True
    place = ((vertices - origin) / cell).astype(np.int64) + 2
    near = marked[place[:, 0], place[:, 1]]
    held = np.zeros((cells + 6, cells + 6), np.int64)
    np.add.at(held, (place[:, 0] + 1, place[:, 1] + 1), 1)
    held = held.cumsum(axis=0).cumsum(axis=1)
    (x, y), (u, v) = first.T, last.T + 1
    most = int((held[u, v] - held[x, v] - held[u, y] + held[x, y]).sum())
    flat = near[edges.vertex[:, 0]] | near[edges.vertex[:, 1]] | (length > cell)
    return np.flatnonzero(flat), most
