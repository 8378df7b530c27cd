"""Strands: lines followed through the points where they meet.

A *strand* is a line as a weaver follows it: straight on where lines cross, round
the corner where one line bends. A *border line* is one at which others end and
which none crosses, such as a frame: it is no strand. Where an odd number of lines
meet, the two that go on most nearly straight are one strand and the odd one ends.
Lines that *touch*, leaving a point side by side, go on as smoothly as they can there
and do not cross; one that ends so, as a twig does, makes no border of the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.geometry.crossings import cross, nearest_parameter
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.geometry.near import nearest_points, pairs_within
from fillwork.geometry.ranges import begins, marked, spread

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints


# a part of a curve turns at most this much, so that what runs beside it is a curve too
_TURN = np.radians(20.0)
# lines that go on this straight are one line where others end on one side of it
_STRAIGHT = np.radians(3.0)
# lines that leave a point side by side are no farther apart: where one ends, and where
# they might cross; and they turn by less there
_TOUCH, _CROSS, _SMOOTH = np.radians((3.0, 0.5, 30.0))
# points that were joined bend a frame by less
_BENT = np.radians(20.0)


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Hold line work as pieces between the points where lines meet, bend or end.

    Half ``2 e`` of piece ``e`` leaves its start, half ``2 e + 1`` its end.
    """

    vertices: Floats  # (V, 2): the points, mm
    pieces: Curves  # e pieces, each from vertex to vertex
    origin: Ints  # (2 E,): vertex that each half leaves

    def headings(self) -> Floats:
        """Return the direction in which each half leaves its vertex.

        Returns (2 E,): angles, radians.
        """
        count = len(self.pieces)
        rows, zero = np.arange(count), np.zeros(count)
        first = self.pieces.derivative(rows, zero)
        last = -self.pieces.derivative(rows, zero + 1.0)
        heading = np.empty(2 * count)
        heading[0::2] = np.arctan2(first[:, 1], first[:, 0])
        heading[1::2] = np.arctan2(last[:, 1], last[:, 0])
        return heading

    def bends(self) -> Floats:
        """Return the curvature of each half where it leaves its vertex.

        Returns (2 E,): 1/mm, positive to the left.
        """
        rows, step = np.arange(len(self.pieces)), 1e-4
        found = np.empty(2 * len(rows))
        for side in (0, 1):
            at = np.full(len(rows), float(side))
            slope = self.pieces.derivative(rows, at)
            inner = self.pieces.derivative(rows, np.abs(at - step))
            speed = np.maximum(np.hypot(*slope.T), 1e-300)
            found[side::2] = cross(slope, inner) / step / speed**3
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Strand:
    """Hold one strand."""

    halves: Ints  # its halves in walking order
    closed: bool  # whether it comes back to where it began
    border: bool  # whether it is a line at which others end and which none crosses
    length: float  # along the middle, mm


@dataclass(frozen=True, slots=True, eq=False)
class Strands:
    """Hold the strands of line work."""

    lines: Lines  # the line work
    # (2 E,): the half that leaves the same vertex on the other side, as the strand goes
    # on; -1 where the strand ends
    onward: Ints
    strands: tuple[Strand, ...]  # by falling length, border lines among them
    of_piece: Ints  # (E,): row of `strands` for each piece
    touching: Bools  # (V,): points where lines touch and do not cross


def gather_lines(arrangement: Arrangement) -> Lines:
    """Return the lines of an arrangement, loose ones too, as pieces.

    Lines and circular arcs are exact; other curves are parted so that each piece turns
    by 20° at most.

    `arrangement`: the drawing. The page's edge is no line.
    """
    drawn = np.flatnonzero(arrangement.edge_curve < arrangement.page_curves)
    pieces = half_edge_curves(arrangement, 2 * drawn)
    half = np.stack([2 * drawn, 2 * drawn + 1], axis=1)
    origin = arrangement.origin[half].astype(np.int64)
    vertices = arrangement.vertices
    loose = arrangement.loose
    if len(loose):
        slack = max(2.0 * arrangement.tolerance.join_within, 1e-6)
        loose = _parted_where_they_meet(loose, vertices, slack)
        ends = np.concatenate([loose.starts(), loose.ends()])
        vertices, of_end = _matched(vertices, ends, slack)
        far = of_end.reshape(2, -1).T
        pieces = Curves.concatenate([pieces, loose])
        origin = np.concatenate([origin, far])
    pieces = _settled(pieces, vertices[origin[:, 0]], vertices[origin[:, 1]])
    return _parted(vertices, pieces, origin)


def _parted_where_they_meet(loose: Curves, vertices: Floats, slack: float) -> Curves:
    """Return loose lines split where they cross each other or run over a vertex."""
    import shapely

    chords, owner, span = loose.flatten(max(slack / 4, 1e-4))
    boxes = np.array(shapely.linestrings(chords.reshape(-1, 2, 2)), object).ravel()
    tree = shapely.STRtree(boxes)
    a, b = tree.query(boxes, predicate="intersects")
    other = owner[a] < owner[b]
    a, b = a[other], b[other]
    meets = shapely.intersection(boxes[a], boxes[b])
    points = shapely.get_coordinates(shapely.centroid(meets))
    at, near = tree.query(shapely.points(vertices), predicate="dwithin", distance=slack)
    rows = np.concatenate([a, b, near])
    places = np.concatenate([points, points, vertices[at]])
    guess = span[rows].mean(axis=1)
    t, _ = nearest_parameter(loose, owner[rows], places, guess)
    size = loose.lengths()
    cuts: list[list[float]] = [[0.0, 1.0] for _ in range(len(loose))]
    for row, value in zip(owner[rows].tolist(), t.tolist(), strict=True):
        edge = min(0.4, slack / max(size[row], slack))
        if edge < value < 1 - edge:
            cuts[row].append(value)
    index, first, last = [], [], []
    for row, values in enumerate(cuts):
        steps = np.unique(np.round(values, 9))
        index += [row] * (len(steps) - 1)
        first += steps[:-1].tolist()
        last += steps[1:].tolist()
    return loose.part(np.array(index), np.array(first), np.array(last))


def _matched(known: Floats, ends: Floats, slack: float) -> tuple[Floats, Ints]:
    """Return vertices with new ones for ends that are none, and the vertex of each."""
    of_end = np.full(len(ends), -1, np.int64)
    if len(known):
        far, near = nearest_points(ends, known)
        of_end = np.where(far <= slack, near, -1)
    vertices = [known]
    rest = np.flatnonzero(of_end < 0)
    total = len(known)
    if len(rest):
        row, other = pairs_within(ends[rest], ends[rest], slack)
        first = np.searchsorted(row, np.arange(len(rest) + 1))
        for k, group in zip(rest, np.split(other, first[1:-1]), strict=True):
            if of_end[k] < 0:
                of_end[rest[group]] = np.where(
                    of_end[rest[group]] < 0, total, of_end[rest[group]]
                )
                vertices.append(ends[k][None])
                total += 1
    return np.concatenate(vertices), of_end


def _settled(pieces: Curves, starts: Floats, ends: Floats) -> Curves:
    """Return pieces that begin and end at their vertices where they are lines."""
    data = pieces.data.copy()
    straight = pieces.kind == LINE
    data[straight, 0:2], data[straight, 2:4] = starts[straight], ends[straight]
    return Curves(pieces.kind.copy(), data)


def _parted(vertices: Floats, pieces: Curves, origin: Ints) -> Lines:
    """Return lines of which each curve turns little."""
    count = np.ones(len(pieces), np.int64)
    circle = _circles(pieces)
    for bent in np.flatnonzero((pieces.kind != LINE) & ~circle):
        t = np.linspace(0.0, 1.0, 33)
        slope = pieces.derivative(np.full(33, bent), t)
        angle = np.unwrap(np.arctan2(slope[:, 1], slope[:, 0]))
        count[bent] = max(1, int(np.ceil(np.abs(np.diff(angle)).sum() / _TURN)))
    # a circle that meets nothing else begins and ends in one point
    count[circle & (origin[:, 0] == origin[:, 1])] = 2
    if (count == 1).all():
        return Lines(vertices, pieces, origin.reshape(-1))
    row, step = spread(count)
    parts = pieces.part(row, step / count[row], (step + 1) / count[row])
    first, last = step == 0, step == count[row] - 1
    begins, ends = np.empty(len(row), np.int64), np.empty(len(row), np.int64)
    begins[first], ends[last] = origin[:, 0], origin[:, 1]
    inner = np.flatnonzero(~last)
    fresh = len(vertices) + np.arange(len(inner))
    ends[inner], begins[inner + 1] = fresh, fresh
    joints = parts.ends()[inner]
    return Lines(
        np.concatenate([vertices, joints]),
        parts,
        np.stack([begins, ends], axis=1).reshape(-1),
    )


def _circles(pieces: Curves) -> Bools:
    """Return which pieces are arcs of circles."""
    d = pieces.data
    long, wide = (d[:, 2:4] ** 2).sum(axis=1), (d[:, 4:6] ** 2).sum(axis=1)
    skew = np.abs(d[:, 2] * d[:, 4] + d[:, 3] * d[:, 5])
    round_ = (skew < 1e-9 * long) & (np.abs(long - wide) < 1e-9 * long)
    return np.asarray((pieces.kind == ARC) & round_)


def follow_strands(lines: Lines, outer: Bools | None = None) -> Strands:
    """Return the strands of line work; every piece in one strand.

    `outer` (2 E,): which halves have the outside on their left.

    Where all lines of a point lie on one side of two of them, these two go on into
    each other and the rest end there, as at a frame. Elsewhere an even number of
    lines go on each opposite to where it came from in the order round the point, so
    that no two strands touch without crossing, and of an odd number the straightest
    pairs go on. Time is n log n in the number of pieces.
    """
    heading = lines.headings()
    plain = straight_on(lines.origin, heading, outer)
    touching = _where_lines_touch(lines, heading)
    if not touching.any():
        return _walk(lines, plain, touching)
    smooth = _smoothly_on(lines, heading, plain, touching)
    found = _walk(lines, smooth, touching)
    # what touches a frame ends there
    borders = [s.halves for s in found.strands if s.border]
    if borders:
        along = np.zeros(len(heading), bool)
        frame = np.concatenate(borders)
        along[frame] = along[frame ^ 1] = True
        framed = marked(lines.origin[frame], len(lines.vertices))
        smooth[(touching & framed)[lines.origin] & ~along] = -1
        found = _walk(lines, smooth, touching & ~framed)
    return found


def _where_lines_touch(lines: Lines, heading: Floats) -> Bools:
    """Return the points that two of three lines or more leave side by side."""
    found = np.zeros(len(lines.vertices), bool)
    order = np.lexsort((heading, lines.origin))
    owner = lines.origin[order]
    first = np.flatnonzero(begins(owner))
    count = np.diff(np.r_[first, len(owner)])
    after = np.arange(len(order)) + 1
    after[first + count - 1] = first
    turn = np.mod(heading[order[after]] - heading[order], 2 * np.pi)
    most = np.repeat(np.where(count > 3, _CROSS, _TOUCH), count)
    close = turn <= most
    # two straight lines cross, be it at a narrow angle
    straight = lines.pieces.kind[order >> 1] == LINE
    close &= ~(straight & straight[after])
    found[owner[close & np.repeat(count > 2, count)]] = True
    return found


def _smoothly_on(lines: Lines, heading: Floats, onward: Ints, touching: Bools) -> Ints:
    """Return halves as they go on, where lines touch with least change of curvature."""
    onward, bend = onward.copy(), lines.bends()
    halves = np.flatnonzero(touching[lines.origin])
    halves = halves[np.argsort(lines.origin[halves], kind="stable")]
    starts = np.flatnonzero(np.diff(lines.origin[halves])) + 1
    for group in np.split(halves, starts):
        i, j = (group[k] for k in np.triu_indices(len(group), 1))
        turn = np.abs(np.angle(-np.exp(1j * (heading[i] - heading[j]))))
        kink = np.abs(bend[i] + bend[j]) * np.ptp(lines.vertices)
        order = np.lexsort((j, i, kink.round(3), (turn / _TOUCH).round()))
        onward[group] = -1
        for a, b in zip(i[order].tolist(), j[order].tolist(), strict=True):
            bent = abs(np.angle(-np.exp(1j * (heading[a] - heading[b])))) > _SMOOTH
            if onward[a] < 0 and onward[b] < 0 and not bent:
                onward[a], onward[b] = b, a
    return onward


def straight_on(origin: AnyInts, heading: Floats, outer: Bools | None = None) -> Ints:
    """Return in which half each goes on at the point that it leaves.

    `origin` (2 E,): vertex that each half leaves. `heading` (2 E,): direction in which
    it does, radians. `outer` (2 E,): which have the outside on their left: a frame goes
    on where points that were joined bend it a little. Returns (2 E,): pairs as
    `follow_strands` has them; -1 where a half ends.
    """
    order = np.lexsort((heading, origin))
    owner = origin[order]
    start = np.flatnonzero(begins(owner))
    degree = np.diff(np.r_[start, len(owner)])
    onward = np.full(len(heading), -1, np.int64)
    for d in np.unique(degree[degree > 1]):
        halves = order[start[degree == d][:, None] + np.arange(d)]
        angle = heading[halves]
        gap = np.mod(np.roll(angle, -1, axis=1) - angle, 2 * np.pi)
        widest = gap.argmax(axis=1)
        at = np.arange(len(halves))
        turn = np.pi - gap[at, widest]
        one_sided = turn <= _STRAIGHT
        if d % 2 == 0:
            # lines that cross at a flat angle go on straighter than along each other
            opposite = np.mod(np.roll(angle, -d // 2, axis=1) - angle, 2 * np.pi)
            one_sided &= np.abs(opposite - np.pi).max(axis=1) >= turn
        if outer is not None:
            framed = outer[halves[at, widest]]
            one_sided |= framed & (turn <= _BENT)
        last, first = halves[at, widest], halves[at, (widest + 1) % d]
        onward[last[one_sided]] = first[one_sided]
        onward[first[one_sided]] = last[one_sided]
        rest = halves[~one_sided]
        if d % 2 == 0:
            onward[rest] = np.roll(rest, d // 2, axis=1)
        else:
            _pair_odd(rest, heading, onward)
    return onward


def _pair_odd(halves: Ints, heading: Floats, onward: Ints) -> None:
    """Pair the halves round points of one odd degree, the straightest first."""
    angle = heading[halves]
    rows, columns = np.triu_indices(halves.shape[1], 1)
    bend = np.abs(np.angle(-np.exp(1j * (angle[:, rows] - angle[:, columns]))))
    free = np.ones(halves.shape, bool)
    at = np.arange(len(halves))
    for k in np.argsort(bend, axis=1, kind="stable").T:
        i, j = rows[k], columns[k]
        both = np.flatnonzero(free[at, i] & free[at, j])
        one, other = halves[both, i[both]], halves[both, j[both]]
        onward[one], onward[other] = other, one
        free[both, i[both]] = free[both, j[both]] = False


def _walk(lines: Lines, onward: Ints, touching: Bools) -> Strands:
    """Return strands by walking from half to half."""
    length = lines.pieces.lengths()
    arriving = np.arange(len(onward)) ^ 1
    # the half walked after h leaves the vertex at which h arrives
    following = np.where(onward[arriving] >= 0, onward[arriving], -1)
    degree = np.bincount(lines.origin, minlength=len(lines.vertices))
    ending = np.bincount(lines.origin[onward < 0], minlength=len(lines.vertices))
    seen = np.zeros(len(lines.pieces), bool)
    found: list[Strand] = []
    begins = np.flatnonzero(onward < 0)
    for first in [*begins.tolist(), *range(0, len(onward), 2)]:
        if seen[first >> 1]:
            continue
        halves = [first]
        seen[first >> 1] = True
        half = int(following[first])
        while half >= 0 and not seen[half >> 1]:
            halves.append(half)
            seen[half >> 1] = True
            half = int(following[half])
        walked = np.array(halves, np.int64)
        inner = lines.origin[walked if half >= 0 else walked[1:]]
        touched = touching[inner]
        rest = inner[~touched]
        crossed = bool((degree[rest] - ending[rest] >= 4).any())
        stems = int(ending[rest].sum())
        if half >= 0:  # a frame of straight sides that curves touch
            along = touched & (lines.pieces.kind[walked >> 1] == LINE)
            stems += int((degree[inner[along]] - 2).sum())
        found.append(
            Strand(
                walked,
                closed=half >= 0,
                border=not crossed and stems >= 2,
                length=float(length[walked >> 1].sum()),
            )
        )
    found.sort(key=lambda s: (-round(s.length, 6), int(s.halves.min())))
    of_piece = np.empty(len(lines.pieces), np.int64)
    for row, strand in enumerate(found):
        of_piece[strand.halves >> 1] = row
    return Strands(lines, onward, tuple(found), of_piece, touching)
