"""Pieces that meet: every node where its lines cross, every end on its line.

One module of some length: each step takes the drawing as the one before left it.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import (
    crossings,
    far,
    fit_circle,
    misses,
    nearest_crossing,
    stray,
    unit,
)
from fillwork.readers.scan.ends import carry_on, pass_through
from fillwork.readers.scan.fit import cut_strand
from fillwork.readers.scan.forks import LONGEST_FORK, part_forks
from fillwork.readers.scan.joints import rejoin
from fillwork.readers.scan.model import Drawing, Fork, Piece, Strand
from fillwork.readers.scan.trails import Trails, heading
from fillwork.readers.scan.unite import unite_carriers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Bools, Floats
    from fillwork.readers.scan.model import Network

# How much a vertex is held where the skeleton has it, against lines that nearly agree.
_PULL = 0.02
# Of two lines one is trusted no more than so many times the other.
_MOST_WEIGHT = 30.0
# A line so many times as long as what meets it is bent by none of it.
_FAR = 3.0
# Widths by which lines that are drawn to one point may miss it and hide nothing.
_TO_ONE_POINT = 0.25
# Widths: paper that no line crosses on its way to another; how far along a line one
# may end beside the place where several meet.
_BARE, _BESIDE = 0.5, 6.0
# Widths between a piece and its forks, which are up to a half off, that bend it.
_BOW = 0.7
_WAYS = [np.array([np.cos(a), np.sin(a)]) for a in np.arange(8) * np.pi / 4]
# Squared sine, about, from which on lines hold a vertex along both directions.
_HELD = 0.03


def settle(
    network: Network, strands: list[Strand], sigma: float, mask: Bools
) -> Drawing:
    """Return the drawing that the strands make.

    `sigma`: root mean square that a drawn line may stray, px. `mask` (h, w): inked
    pixels.
    """
    drawing = Drawing([n.copy() for n in network.nodes], [], network.width)
    drawing.stubs.extend(network.stubs)
    for strand in strands:
        _lay(strand, drawing, sigma)
    unite_carriers(drawing, sigma)
    _adopt(drawing)
    _bend_short(drawing, sigma)
    _solve(drawing, mask, sigma)
    part_forks(drawing, mask)
    free = {n for n, met in network.at_node().items() if len(met) == 1}
    carry_on(drawing, mask, free)
    _trim(drawing, free)
    _bend(drawing, sigma)
    return drawing


def _from_corner(strand: Strand, width: float) -> Strand:
    """Return a closed strand that begins at its sharpest corner, first point twice."""
    points, n = strand.points, len(strand.points)
    k = max(2, round(1.5 * width))
    start = 0
    if n > 4 * k:
        u = points - np.roll(points, k, axis=0)
        v = np.roll(points, -k, axis=0) - points
        turn = np.abs(np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(1)))
        start = int(np.argmax(turn)) if turn.max() > 0.6 else 0
    if start == 0 and strand.stops:
        start = strand.stops[0][0]
    stops = sorted({((at - start) % n, node) for at, node in strand.stops})
    return Strand(
        np.vstack([np.roll(points, -start, axis=0), points[start]]),
        np.append(np.roll(strand.weight, -start), strand.weight[start]),
        stops,
        True,
    )


def _lay(strand: Strand, drawing: Drawing, sigma: float) -> None:
    width = drawing.width
    if strand.closed:
        strand = _from_corner(strand, width)
    parts = cut_strand(strand, width, sigma)
    last = len(strand.points) - 1
    near = 1.3 * width

    def vertex(at: int) -> int:
        best = min(strand.stops, key=lambda s: abs(s[0] - at), default=None)
        if best is not None and abs(best[0] - at) <= near:
            return best[1]
        if not strand.closed and at in (0, last):
            return strand.stops[0 if at == 0 else -1][1]
        return drawing.add(strand.points[at])

    first = begin = vertex(0)
    for part in parts:
        end = first if strand.closed and part.stop == last else vertex(part.stop)
        inner = [
            node for at, node in strand.stops
            if part.start < at < part.stop and node not in (begin, end)
        ]  # fmt: skip
        passed = [n for k, n in enumerate(inner) if k == 0 or inner[k - 1] != n]
        path, begin = [begin, *passed, end], end
        if path[0] == path[-1] and len(path) == 2 and not part.circle:
            continue
        points = _own(strand.points[part.start : part.stop + 1], width)
        turn = _turn(points, part.carrier) if part.circle else 0.0
        drawing.pieces.append(Piece(part.circle, part.carrier, turn, path, points))


def _own(points: Floats, width: float) -> Floats:
    """Return a part's points without the next chain's, beyond ink of several lines."""
    if len(points) > 3 and far(points[-2], points[-1]) > width:
        points = points[:-1]
    if len(points) > 3 and far(points[0], points[1]) > width:
        points = points[1:]
    return points


def _turn(points: Floats, circle: Floats) -> float:
    off = points - circle[:2]
    angle = np.unwrap(np.arctan2(off[:, 1], off[:, 0]))
    return float(angle[-1] - angle[0])


def _adopt(drawing: Drawing) -> None:
    """Give a short piece the carrier of a longer one that it goes on from.

    Near other lines a strand breaks, and what is left of it there is too short
    to say whether it is bent; the longer one may go on beyond a place where the
    ink of several runs together.
    """
    from scipy.spatial import cKDTree

    width = drawing.width
    length = [len(p.points) for p in drawing.pieces]
    through = drawing.through()
    tree = cKDTree(np.array(drawing.vertices))
    for k in sorted(range(len(length)), key=lambda k: length[k]):
        piece = drawing.pieces[k]
        if length[k] > 16 * width:
            break
        inner = piece.points[length[k] // 8 : length[k] - length[k] // 8]
        best: tuple[float, int] | None = None
        for v in piece.tips:
            near = tree.query_ball_point(drawing.vertices[v], LONGEST_FORK * width)
            for m in sorted({m for n in near for m in through.get(n, ())}):
                if length[m] < 2 * length[k]:
                    continue
                off = np.abs(misses(inner, drawing.pieces[m].carrier))
                # beside a fork the skeleton is bent
                beside = float(np.percentile(off, 80)) if len(off) else np.inf
                if beside < 0.35 * width and (best is None or beside < best[0]):
                    best = (beside, m)
        if best is not None:
            other = drawing.pieces[best[1]]
            piece.circle, piece.carrier = other.circle, other.carrier
            piece.turn = _turn(piece.points, other.carrier) if other.circle else 0.0


def _solve(drawing: Drawing, mask: Bools, sigma: float) -> None:
    """Move each vertex where its lines and circles meet, by least squares.

    A line that passes by is let go: where it ends is found later.
    """
    astray: list[tuple[int, int]] = []
    through = drawing.through()
    for v, met in through.items():
        numbers = list(dict.fromkeys(met))
        carriers = [drawing.pieces[k].carrier for k in numbers]
        seen = [float(len(drawing.pieces[k].points)) for k in numbers]
        # a line is known the better the longer it was seen: the short ones give way
        weights = [min(n / max(min(seen), 1.0), _MOST_WEIGHT) for n in seen]
        start = drawing.vertices[v]
        place, agreed = _agreed(start, carriers, weights, drawing.width, mask)
        first, *rest = sorted(range(len(seen)), key=lambda k: -seen[k])
        passes = met.count(numbers[first]) > 1
        if passes and rest and agreed[first] and seen[first] > _FAR * seen[rest[0]]:
            # what is so much longer stays as it runs, and what meets it reaches it
            place = meeting(place, [carriers[first]], drawing.width)
        if not _reached(start, place, mask, drawing.width):
            place = meeting(start, [carriers[first]], drawing.width)
            last = drawing.pieces[numbers[rest[-1]]] if rest else None
            bent = _bent_to(last, carriers[first], start, mask, drawing.width)
            if last is not None and bent is not None:
                place = bent
                carriers[rest[-1]] = last.carrier
        drawing.vertices[v] = place
        astray.extend(
            (v, k) for k, held in zip(numbers, agreed, strict=True)
            if held and len(rest) > 1 and met.count(k) == 1
        )  # fmt: skip
        hidden = _hidden(place, carriers, agreed, drawing.width)
        drawing.forks.extend(Fork(place, way, hidden) for way in _WAYS if hidden)
        for k, held in zip(numbers, agreed, strict=True):
            if not held and not rejoin(drawing, k, v):
                _let_go(drawing, drawing.pieces[k], v)
    for v, k in astray:
        others = [drawing.pieces[m] for m in sorted(set(through[v])) if m != k]
        _end_beside(drawing, drawing.pieces[k], others, v, mask, sigma)


def _reached(start: Floats, place: Floats, mask: Bools, width: float) -> bool:
    """Tell whether ink leads from where a skeleton meets to where its lines would."""
    long = far(start, place)
    if long < 1.5 * width:
        return True
    path = start + np.linspace(0.0, 1.0, round(long) + 1)[:, None] * (place - start)
    return sum(not _inked(at, mask) for at in path) < _BARE * width


def _bent_to(
    piece: Piece | None, goal: Floats, start: Floats, mask: Bools, width: float
) -> Floats | None:
    """Return where a piece ends if it is a little bent and not straight."""
    if piece is None or piece.circle or len(piece.points) < 4.0 * width:
        return None
    trim = round(0.7 * width)
    circle = fit_circle(piece.points[trim:-trim])
    if circle is None or circle[2] < 4.0 * width:
        return None
    for place in crossings(circle, goal):
        if far(start, place) < _BESIDE * width and _reached(start, place, mask, width):
            piece.bend(circle, _turn(piece.points, circle))
            return place
    return None


def _end_beside(
    drawing: Drawing, piece: Piece, others: list[Piece], v: int,
    mask: Bools, sigma: float,
) -> None:  # fmt: skip
    """End a line where it meets another itself, and not where a third one does.

    Where several lines end near each other on one, their ink runs together, and
    the skeleton has one place for all. At a small angle a line that misses that
    place by a hair ends much farther along. `others`: what met there besides.
    """
    width, place = drawing.width, drawing.vertices[v]
    seen = max(len(piece.points) / (3.0 * width), 1.0)
    # what an end is off by when so many places, each on its own, say where it is
    slack = max(_TO_ONE_POINT * width, 2.5 * sigma / np.sqrt(seen))
    first, last = piece.tips
    if v not in piece.tips or first == last or _off(place, piece.carrier) < slack:
        return
    others = [p for p in others if v in p.vertices]
    if not others:
        return
    goal = max(others, key=lambda p: (v in p.vertices[1:-1], len(p.points)))
    at = nearest_crossing(piece.carrier, goal.carrier, place)
    if at is None or not width < far(at, place) < _BESIDE * width:
        return
    if not _reached(at, place, mask, width):
        return
    new = drawing.add(at)
    for other in others:
        if np.array_equal(other.carrier, goal.carrier):
            pass_through(drawing, other, new)
        if new in other.vertices:
            piece.vertices[0 if first == v else -1] = new
            break


def _bend_short(drawing: Drawing, sigma: float) -> None:
    """Bend a straight piece that lies a good deal beside the forks where it ends.

    Of a flat arc on a line little shows between the forks, where its ink runs into
    the line's; where it ends is found later.
    """
    width = drawing.width
    trim = round(0.7 * width)
    for piece in drawing.pieces:
        tips = np.array([drawing.vertices[v] for v in piece.vertices])
        if piece.circle or len(tips) != 2 or len(piece.points) < 4.0 * width:
            continue
        inner = piece.points[trim:-trim]
        chord = np.r_[tips[0], unit(tips[1] - tips[0])]
        off = float(np.median(misses(inner, chord)))
        if abs(off) < max(_BOW * width, 2.0 * sigma):
            continue
        circle = fit_circle(inner)
        # round to the side on which its ink lies
        if circle is not None and off * float(misses(circle[None, :2], chord)[0]) <= 0:
            _bend_to(piece, circle, inner, piece.points, max(sigma, 0.2 * width))


def _bend(drawing: Drawing, sigma: float) -> None:
    """Bend a straight piece that leaves its own ink between its ends.

    What little is seen of an arc between two others is as good as straight; where
    it ends is found from them, and tells how it is bent.
    """
    width = drawing.width
    for piece in drawing.pieces:
        if piece.circle or len(piece.vertices) != 2 or len(piece.points) < 2 * width:
            continue
        a, b = (drawing.vertices[v] for v in piece.vertices)
        inner = piece.points[1:-1]
        off = misses(inner, np.r_[a, unit(b - a)])
        if abs(float(np.median(off))) < max(0.35 * width, 2.0 * sigma):
            continue
        ink = np.vstack([inner, a, b])
        circle = fit_circle(ink, np.r_[np.ones(len(inner)), [len(inner)] * 2])
        if circle is not None:
            three = np.vstack([a, inner[len(inner) // 2], b])
            _bend_to(piece, circle, ink, three, max(sigma, 0.2 * width))


def _bend_to(
    piece: Piece, circle: Floats, ink: Floats, along: Floats, most: float
) -> None:
    """Lay a piece on a circle that follows its ink for less than half a turn.

    `along` (n, 2): places on its way, px. `most`: by how much its ink may miss it.
    """
    turn = _turn(along, circle)
    if stray(ink, circle) < most and abs(turn) < np.pi:
        piece.bend(circle, turn)


def _off(place: Floats, carrier: Floats) -> float:
    """Return how far a place lies from a carrier, px."""
    return abs(float(misses(place[None], carrier)[0]))


def _hidden(
    place: Floats, carriers: list[Floats], agreed: list[bool], width: float
) -> float:
    """Return the largest triangle of lines that are drawn to one point, px²."""
    held = [c for c, good in zip(carriers, agreed, strict=True) if good]
    if len(held) < 3 or max(_off(place, c) for c in held) < _TO_ONE_POINT * width:
        return 0.0
    largest = 0.0
    for three in itertools.combinations(held, 3):
        pairs = itertools.combinations(three, 2)
        offers = [nearest_crossing(one, two, place) for one, two in pairs]
        corners = [q for q in offers if q is not None and far(q, place) < 4.0 * width]
        if len(corners) == 3:
            (ax, ay), (bx, by), (cx, cy) = corners
            double = abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay))
            largest = max(largest, 0.5 * double)
    return largest


def _agreed(
    start: Floats,
    carriers: list[Floats],
    weights: list[float],
    width: float,
    mask: Bools,
) -> tuple[Floats, list[bool]]:
    """Return the inked place near a start that most carriers agree on, and which do."""
    most = 0.7 * width

    def held(at: Floats) -> list[bool]:
        return [_off(at, c) <= most for c in carriers]

    for shares in (weights, ()):
        place = meeting(start, carriers, width, shares)
        agreed = held(place)
        if len(carriers) < 3 or all(agreed):
            return place, [True] * len(carriers)
    offers = [
        at for one, two in itertools.combinations(carriers, 2)
        for at in crossings(one, two)
    ]  # fmt: skip
    ranked = [
        (-sum(held(at)), far(at, start), k) for k, at in enumerate(offers)
        if far(at, start) < 6.0 * width and _inked(at, mask)
    ]  # fmt: skip
    count, _, best = min(ranked, default=(0, 0.0, 0))
    if -count < 2:
        return place, agreed
    agreed = held(offers[best])
    lines = [c for c, good in zip(carriers, agreed, strict=True) if good]
    shares = [w for w, good in zip(weights, agreed, strict=True) if good]
    return meeting(offers[best], lines, width, shares), agreed


def _inked(at: Floats, mask: Bools) -> bool:
    """Return whether a place lies in ink, or a pixel beside it."""
    x, y = np.rint(at).astype(int)
    return bool(mask[max(0, y - 1) : y + 2, max(0, x - 1) : x + 2].any())


def _let_go(drawing: Drawing, piece: Piece, v: int) -> None:
    for end in (0, -1):
        if piece.vertices[end] == v:
            place = meeting(piece.points[end], [piece.carrier], drawing.width)
            piece.vertices[end] = drawing.add(place)
    piece.vertices = [n for n in piece.vertices if n != v]


def meeting(
    start: Floats, carriers: list[Floats], width: float, weights: Sequence[float] = ()
) -> Floats:
    """Return the point nearest to all carriers, near a start.

    `start` (2,): where the skeleton has it, px. `carriers`: lines and circles. `width`:
    width of the pen's line, px. `weights`: how well each is known, 1 for the least;
    alike without. Returns (2,): px; the start itself where the carriers meet nowhere
    near.
    """
    x0, y0 = x, y = float(start[0]), float(start[1])
    given = [tuple(map(float, c)) for c in carriers]
    # a weak pull to the start holds what carriers leave free; then without it, where
    # they hold both directions
    pull, steps = _PULL, 12
    while steps:
        a, b, c, u, v = pull, 0.0, pull, pull * (x0 - x), pull * (y0 - y)
        for carrier, weight in zip(given, weights or [1.0] * len(given), strict=True):
            dx, dy = x - carrier[0], y - carrier[1]
            if len(carrier) == 4:
                nx, ny = -carrier[3], carrier[2]
                miss = dx * nx + dy * ny
            else:
                long = max(math.hypot(dx, dy), 1e-9)
                nx, ny, miss = dx / long, dy / long, long - carrier[2]
            wx, wy = weight * nx, weight * ny
            a, b, c = a + wx * nx, b + wx * ny, c + wy * ny
            u, v = u - miss * wx, v - miss * wy
        if not pull and 0.5 * (a + c - math.hypot(a - c, 2.0 * b)) <= _HELD:
            break
        det = a * c - b * b
        du, dv = (c * u - b * v) / det, (a * v - b * u) / det
        x, y, steps = x + du, y + dv, steps - 1
        if pull and (steps == 0 or max(abs(du), abs(dv)) < 1e-7):
            if math.hypot(x - x0, y - y0) > 5.0 * width:
                return start.copy()
            pull, steps = 0.0, 4
    return np.array([x, y])


def _past(
    drawing: Drawing, over: list[tuple[int, int, float]]
) -> list[tuple[int, int]]:
    """Return the ends that ran past their line, not half of the way to the next."""
    if not over:
        return []
    trails = Trails.along(drawing)
    found = []
    for index, end, long in over:
        line = trails.lines[index]
        near = trails.around(line[end], long)
        if trails.ahead(near, line[end], heading(line, end), index) is None:
            found.append((index, end))
    return found


def _trim(drawing: Drawing, free: set[int]) -> None:
    """Take off short ends that run past the line on which they should stop.

    Only where the ink itself ends, at a node that no second chain reaches.
    """
    longest = 5.0 * drawing.width
    through = drawing.through()
    over = []
    for index, piece in enumerate(drawing.pieces):
        for end in (0, -1):
            tip = piece.vertices[end]
            if len(piece.vertices) < 3 or tip not in free or len(through[tip]) != 1:
                continue
            long = far(drawing.vertices[piece.inner(end)], drawing.vertices[tip])
            if long < longest:
                over.append((index, end, long))
    for index, end in _past(drawing, over):
        piece = drawing.pieces[index]
        foot, tip = piece.inner(end), piece.vertices[end]
        drawing.stubs.append((drawing.vertices[foot], drawing.vertices[tip]))
        del piece.vertices[end]
    # a short piece of its own, beside a corner
    through = drawing.through()
    kept = []
    for piece in drawing.pieces:
        ends = [len(through[n]) for n in piece.tips]
        loose = any(n in free and e == 1 for n, e in zip(piece.tips, ends, strict=True))
        loose &= len(piece.vertices) == 2 and max(ends) > 2
        a, b = (drawing.vertices[n] for n in piece.tips)
        if loose and far(a, b) < 0.6 * longest:
            drawing.stubs.append((b, a) if ends[0] == 1 else (a, b))
            continue
        kept.append(piece)
    drawing.pieces = kept
