"""Outlines of faces as few pieces as the eye sees: straight sides and curves.

A vertex on a straight side, where another line ends, is no corner; an arc that
the drawing keeps in several parts is one piece; a run of short chords that turn
steadily is a traced curve.

One module of some length: corners, arcs and traced curves are told of the same pieces.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, LINE

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Complexes, Floats


# a joint that turns less is smooth, in radians
SMOOTH = np.radians(12.0)
# chords of a traced curve turn at most this much at each vertex
_TRACED = np.radians(16.5)
# corners up to which all turns of an outline are tried by one table
_TABLE = 64
# a straight side that bends less where lines join it, in radians, and by so many
# times as much as one line may stray, is one side
_JOINED, _BENT = np.radians(5.0), 3.0
# where corners missed each other, a side no longer than so many times the longest such
# gap and than this share of the figure is a corner
_MISSED, _GAP = 1.25, 0.08


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """Hold an outer ring as pieces from corner to corner, counter-clockwise."""

    # (n, 2): where pieces meet, mm; piece i runs from corner i to the next
    corners: Floats
    # (n,): angle that each piece turns by, radians: 0 for a straight side, positive
    # when it bulges outwards
    bend: Floats
    round: Bools  # (n,): True for circular arcs
    # (n,): angle that the outline turns by at each corner, radians: negative at a
    # corner that points inwards
    turn: Floats
    area: float  # area inside, mm²
    closed: str = ""  # ``circle`` or ``oval`` when there are no corners, else empty

    @property
    def count(self) -> int:
        """Return the number of pieces."""
        return len(self.corners)


@dataclass(slots=True)
class _Piece:
    """One piece in the making: a run of ring vertices, first to last."""

    first: int
    last: int
    straight: bool
    bend: float
    circular: bool
    centre: complex
    radius: float


def outlines_of(arrangement: Arrangement, rings: AnyInts) -> list[Outline]:
    """Return rings as pieces.

    `rings`: rows of `Arrangement.ring_start`, all counter-clockwise.
    """
    rings = np.asarray(rings)
    if len(rings) == 0:
        return []
    start, stop = arrangement.ring_start[rings], arrangement.ring_start[rings + 1]
    size = stop - start
    offset = np.cumsum(size) - size
    at = np.repeat(start, size) + np.arange(int(size.sum())) - np.repeat(offset, size)
    half = arrangement.ring_half_edge[at]
    edge, back = half // 2, half & 1
    curve = arrangement.edge_curve[edge]
    span = arrangement.edge_span[edge]
    t0 = np.where(back == 0, span[:, 0], span[:, 1])
    t1 = np.where(back == 0, span[:, 1], span[:, 0])
    sense = np.sign(t1 - t0)[:, None]
    points = arrangement.vertices[arrangement.origin[half]]
    ends = arrangement.vertices[arrangement.origin[half ^ 1]]
    leave = arrangement.curves.derivative(curve, t0) * sense
    enter = arrangement.curves.derivative(curve, t1) * sense
    # a line that was joined to a near vertex runs along its chord
    straight = arrangement.curves.kind[curve] == LINE
    chord = ends - points
    for tangent in (leave, enter):
        flat = straight | (np.abs(tangent).sum(axis=1) < 1e-12)
        tangent[flat] = chord[flat]
    z = points[:, 0] + 1j * points[:, 1]
    out = leave[:, 0] + 1j * leave[:, 1]
    into = enter[:, 0] + 1j * enter[:, 1]
    kind = arrangement.curves.kind[curve]
    data = arrangement.curves.data[curve]
    circular = kind == ARC
    skew = np.abs(data[:, 2] * data[:, 4] + data[:, 3] * data[:, 5])
    u2, v2 = (data[:, 2:4] ** 2).sum(axis=1), (data[:, 4:6] ** 2).sum(axis=1)
    circular &= (skew < 1e-3 * u2) & (np.abs(u2 - v2) < 2e-3 * u2)
    centre = np.where(circular, data[:, 0] + 1j * data[:, 1], 0.0)
    radius = np.where(circular, np.sqrt(u2), 0.0)
    gap = _MISSED * arrangement.corner_gap
    columns = z, out, into, curve, straight, circular, centre, radius
    return [
        _outline(*_without_gaps([c[a : a + n] for c in columns], gap))
        for a, n in zip(offset, size, strict=True)
    ]


def _without_gaps(columns: list[Any], gap: float) -> list[Any]:
    """Return the columns of a ring whose sides that close gaps at corners are corners.

    `columns`: as `_outline` takes them. `gap`: the longest side that is one, mm.
    """
    z, out, into, _, straight, *_ = columns
    size = np.sqrt(abs(float(np.imag(np.conj(z) @ np.roll(z, -1))) / 2))
    chord = np.roll(z, -1) - z
    short = straight & (np.abs(chord) <= min(gap, _GAP * size))
    if not short.any():
        return columns
    # what goes straight on is part of a side
    turns = _angle(np.roll(into, 1), chord), _angle(chord, np.roll(out, -1))
    short &= np.abs(turns).min(axis=0) > _JOINED
    kept = np.flatnonzero(~short)
    if len(kept) in (len(z), 0) or len(kept) < 3:
        return columns
    # from the end of one side to the start of the next all points are one
    before = np.roll(kept, 1)
    z = (z[(before + 1) % len(z)] + z[kept]) / 2
    chord = np.roll(z, -1) - z
    flat = straight[kept]
    out, into = np.where(flat, chord, out[kept]), np.where(flat, chord, into[kept])
    return [z, out, into, *(column[kept] for column in columns[3:])]


def _angle(a: Complexes, b: Complexes) -> Floats:
    return np.angle(b * np.conj(a))


def _outline(
    z: Complexes,
    out: Complexes,
    into: Complexes,
    curve: AnyInts,
    straight: Bools,
    circular: Bools,
    centre: Complexes,
    radius: Floats,
) -> Outline:
    n = len(z)
    area = float(np.imag(np.conj(z) @ np.roll(z, -1))) / 2
    size = np.sqrt(abs(area))
    reach = 0.004 * size
    # turn at vertex i, between half-edge i - 1 and half-edge i
    turn = _angle(np.roll(into, 1), out)
    joined = (curve == np.roll(curve, 1)) & ~straight & (np.abs(turn) < SMOOTH)
    breaks = np.flatnonzero(~joined)
    if len(breaks) == 0:
        return _round(z, area, bool(circular.all()), reach)
    pieces = []
    runs = (np.roll(breaks, -1) - breaks) % n
    runs[runs == 0] = n
    for first, run in zip(breaks.tolist(), runs.tolist(), strict=True):
        bend = 0.0
        if not straight[first]:
            index = (first + np.arange(run)) % n
            bend = float(_angle(out[index], into[index]).sum())
            bend += float(turn[index[1:]].sum())
        pieces.append(
            _Piece(
                first,
                first + run,
                bool(straight[first]),
                bend,
                bool(circular[first]),
                complex(centre[first]),
                float(radius[first]),
            )
        )
    pieces = _merge_curves(pieces, z, turn, reach)
    pieces = _merge_traced(pieces, z, turn, reach)
    pieces = _merge_straight(pieces, z, reach)
    if len(pieces) == 1 and abs(turn[pieces[0].first % n]) < SMOOTH:
        return _round(z, area, pieces[0].circular, reach)
    corners = z[np.array([p.first for p in pieces]) % n]
    arrive = np.array([_direction(p, z, 0.5j, into[(p.last - 1) % n]) for p in pieces])
    leave = np.array([_direction(p, z, -0.5j, out[p.first % n]) for p in pieces])
    joint = _angle(np.roll(arrive, 1), leave)
    return Outline(
        np.column_stack([corners.real, corners.imag]),
        np.array([p.bend for p in pieces]),
        np.array([p.circular and not p.straight for p in pieces]),
        joint,
        abs(area),
    )


def _direction(piece: _Piece, z: Complexes, half: complex, own: complex) -> complex:
    """Return the way of a piece at an end.

    `half`: -0.5j at its first, 0.5j at its last. `own`: the way there of a curve that
    is no arc.
    """
    chord = z[piece.last % len(z)] - z[piece.first % len(z)]
    if piece.straight:
        return complex(chord)
    if piece.circular and abs(chord) > 0:
        return complex(chord * np.exp(half * piece.bend))
    return complex(own)


def _round(z: Complexes, area: float, circular: bool, reach: float) -> Outline:
    if not circular:
        _, _, miss = _fit_circle(z)
        circular = miss <= 2.0 * reach
    none = np.zeros(0)
    return Outline(
        np.zeros((0, 2)),
        none,
        np.zeros(0, dtype=bool),
        none,
        abs(area),
        "circle" if circular else "oval",
    )


def _fit_circle(points: Complexes) -> tuple[complex, float, float]:
    """Return centre, radius and largest miss of a circle through points.

    The algebraic fit of Kåsa: linear least squares on x² + y² = 2 a x + 2 b y + c.
    """
    middle = points.mean()
    p = points - middle
    matrix = np.column_stack([2 * p.real, 2 * p.imag, np.ones(len(p))])
    solution, _, rank, _ = np.linalg.lstsq(matrix, np.abs(p) ** 2, rcond=None)
    if rank < 3:
        return complex(middle), np.inf, np.inf
    a, b, c = solution
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    miss = float(np.abs(np.abs(p - (a + 1j * b)) - radius).max())
    return complex(middle + a + 1j * b), radius, miss


def _points(piece: _Piece, z: Complexes) -> Complexes:
    return z[np.arange(piece.first, piece.last + 1) % len(z)]


def _sagitta(piece: _Piece, z: Complexes) -> float:
    points = _points(piece, z)
    chord = points[-1] - points[0]
    if abs(chord) == 0:
        return float(np.abs(points - points[0]).max())
    return float(
        np.abs(np.imag((points - points[0]) * np.conj(chord) / abs(chord))).max()
    )


def _merge_curves(
    pieces: list[_Piece], z: Complexes, turn: Floats, reach: float
) -> list[_Piece]:
    """Join parts of one curve; tell arcs of circles and straight curves."""
    n = len(z)
    for piece in pieces:
        if piece.straight:
            continue
        flat = _sagitta(piece, z) <= 0.25 * reach
        if flat and abs(piece.bend) < np.radians(4.0):
            piece.straight, piece.bend = True, 0.0
        elif not piece.circular and piece.last - piece.first >= 3:
            centre, radius, miss = _fit_circle(_points(piece, z))
            if miss <= 0.5 * reach:
                piece.circular, piece.centre, piece.radius = True, centre, radius
    start, changed = 0, True
    while changed and len(pieces) > 1:
        changed = False
        for k in range(start, len(pieces)):
            a, b = pieces[k - 1], pieces[k]
            if a is b or a.straight or b.straight:
                continue
            if abs(turn[b.first % n]) >= SMOOTH:
                continue
            whole = _Piece(
                a.first,
                a.last + b.last - b.first,
                False,
                a.bend + b.bend + float(turn[b.first % n]),
                False,
                0j,
                0.0,
            )
            if a.circular and b.circular:
                near = abs(a.centre - b.centre) <= 2 * reach
                if not (near and abs(a.radius - b.radius) <= 2 * reach):
                    continue
                whole.circular, whole.centre, whole.radius = True, a.centre, a.radius
            elif a.circular or b.circular or a.bend * b.bend < 0:
                continue
            else:
                centre, radius, miss = _fit_circle(_points(whole, z))
                if miss <= 0.5 * reach:
                    whole.circular, whole.centre = True, centre
                    whole.radius = radius
            pieces[k - 1] = whole
            del pieces[k]
            # joints further back are as they were, but for that of the two ends
            start = k - 1 if 0 < k < len(pieces) else 0
            changed = True
            break
    return pieces


def _merge_traced(
    pieces: list[_Piece], z: Complexes, turn: Floats, reach: float
) -> list[_Piece]:
    """Join runs of short chords that turn steadily one way."""
    n, m = len(z), len(pieces)
    if m < 5:
        return pieces
    steps = np.array([abs(z[p.last % n] - z[p.first % n]) for p in pieces])
    angle = np.array([turn[p.first % n] for p in pieces])
    straight = np.array([p.straight for p in pieces])
    # joint k lies between piece k - 1 and piece k
    ratio = steps / np.maximum(np.roll(steps, 1), 1e-300)
    gentle = straight & np.roll(straight, 1)
    gentle &= (np.abs(angle) <= _TRACED) & (np.abs(angle) > np.radians(0.5))
    gentle &= (ratio < 3.0) & (ratio > 1 / 3.0)
    sign = np.sign(angle)
    if gentle.all() and abs(sign.sum()) == m:
        total = float(angle.sum())
        centre, radius, miss = _fit_circle(z)
        return [_Piece(0, n, False, total, miss <= 2 * reach, centre, radius)]
    begin = [k for k in range(m) if not gentle[k] or sign[k] != sign[k - 1]]
    if not begin:
        return pieces
    merged: list[_Piece] = []
    k = begin[0]
    end = k + m
    while k < end:
        last = k + 1
        while (
            last < end
            and gentle[last % m]
            and (last == k + 1 or sign[last % m] == sign[(last - 1) % m])
        ):
            last += 1
        run = [pieces[i % m] for i in range(k, last)]
        total = float(sum(angle[i % m] for i in range(k + 1, last)))
        total *= len(run) / max(len(run) - 1, 1)
        if len(run) >= 4 and abs(total) >= np.radians(30.0):
            length = sum(p.last - p.first for p in run)
            whole = _Piece(
                run[0].first, run[0].first + length, False, total, False, 0j, 0
            )
            centre, radius, miss = _fit_circle(_points(whole, z))
            if miss <= reach:
                whole.circular, whole.centre, whole.radius = True, centre, radius
            merged.append(whole)
        else:
            merged.extend(run)
        k = last
    return merged


def _merge_straight(pieces: list[_Piece], z: Complexes, reach: float) -> list[_Piece]:
    """Join straight pieces that lie on one line, the straightest joint first.

    Joints wait in a heap and pieces know their neighbours, so that a joint costs
    the logarithm of their number. An entry is stale when one of its pieces has
    been joined since, which its time stamp tells.
    """
    n, count = len(z), len(pieces)
    if count < 3:
        return pieces
    before = [k - 1 for k in range(count)]
    before[0] = count - 1
    after = [k + 1 for k in range(count)]
    after[-1] = 0
    stamp = [count] * count
    points = z.tolist()

    def miss_before(k: int) -> float:
        a, b = pieces[before[k]], pieces[k]
        if not (a.straight and b.straight):
            return np.inf
        p, q, r = points[a.first % n], points[b.first % n], points[b.last % n]
        chord, first = r - p, q - p
        length = abs(chord)
        along = first.real * chord.real + first.imag * chord.imag
        if not 0 < along < length**2:
            return np.inf
        away = abs(first.imag * chord.real - first.real * chord.imag) / length
        # a corner of a small side needs a smaller miss; a hand's line that bends this
        # little where another joins it goes on
        short = min(abs(first), abs(r - q))
        allowed = min(reach, 0.12 * short)
        if abs(np.angle((r - q) * np.conj(first))) < _JOINED:
            allowed = max(allowed, _BENT * reach)
        return float(away / max(allowed, 1e-300))

    def entry(k: int) -> tuple[float, int, int, int]:
        return miss_before(k), k, stamp[before[k]], stamp[k]

    heap = [e for e in map(entry, range(count)) if e[0] <= 1.0]
    heapify(heap)
    alive = [True] * count
    left = count
    while heap and left > 2:
        _, k, old_a, old_b = heappop(heap)
        a = before[k]
        if not alive[k] or (stamp[a], stamp[k]) != (old_a, old_b):
            continue
        one, two = pieces[a], pieces[k]
        last = one.last + two.last - two.first
        pieces[a] = _Piece(one.first, last, True, 0.0, False, 0j, 0.0)
        alive[k] = False
        left -= 1
        after[a] = after[k]
        before[after[k]] = a
        stamp[a] = left
        for joint in (a, after[a]):
            again = entry(joint)
            if again[0] <= 1.0:
                heappush(heap, again)
    return [piece for piece, kept in zip(pieces, alive, strict=True) if kept]


def mean_outline(outlines: list[Outline]) -> tuple[Outline, float]:
    """Return the mean of outlines of congruent faces, and how far corners stray.

    `outlines`: outlines of one kind, turned, shifted and mirrored at will. Returns
    `outline`: the mean of those that have the number of corners that most have;
    `sigma`: root mean square distance of a corner from its mean in each direction, mm;
    NaN for fewer than three.
    """
    counts = [o.count for o in outlines]
    often = max(sorted(set(counts)), key=counts.count)
    same = [o for o in outlines if o.count == often]
    lead = same[0]
    if often < 3 or len(same) < 2:
        return lead, float("nan")
    target = lead.corners[:, 0] + 1j * lead.corners[:, 1]
    middle = target.mean()
    target = target - middle
    stack = [target]
    bends, turns, rounds = [lead.bend], [lead.turn], [lead.round]
    for other in same[1:]:
        z = other.corners[:, 0] + 1j * other.corners[:, 1]
        z = z - z.mean()
        # a mirrored copy is walked backwards: corner i of the copy is corner -i
        plain = _best_turn(z, other.bend, target, lead.bend)
        flipped = np.conj(z[::-1])
        back = _best_turn(flipped, np.roll(other.bend[::-1], -1), target, lead.bend)
        mirror = back[0] < plain[0]
        _, shift, spin = back if mirror else plain
        if mirror:
            z, bend = flipped, np.roll(other.bend[::-1], -1)
            turn = other.turn[::-1]
            is_round = np.roll(other.round[::-1], -1)
        else:
            bend, turn, is_round = other.bend, other.turn, other.round
        stack.append(np.roll(z, -shift) * spin)
        bends.append(np.roll(bend, -shift))
        turns.append(np.roll(turn, -shift))
        rounds.append(np.roll(is_round, -shift))
    table = np.array(stack)
    mean = table.mean(axis=0)
    sigma = float("nan")
    if len(table) >= 3:
        # turning and shifting copies to fit takes three freedoms from each
        freedoms = (2 * often - 3) * (len(table) - 1)
        spread = (np.abs(table - mean) ** 2).sum() / freedoms
        sigma = float(np.sqrt(spread))
    mean = mean + middle
    return (
        Outline(
            np.column_stack([mean.real, mean.imag]),
            np.mean(bends, axis=0),
            np.mean(rounds, axis=0) > 0.5,
            np.mean(turns, axis=0),
            float(np.mean([o.area for o in same])),
        ),
        sigma,
    )


def _best_turn(
    z: Complexes, bend: Floats, target: Complexes, target_bend: Floats
) -> tuple[float, int, complex]:
    """Return miss, cyclic shift and turn that lay corners on others best."""
    n = len(z)
    scale = np.abs(z).max() + 1e-300
    energy = (np.abs(z) ** 2).sum() + (np.abs(target) ** 2).sum()
    if n <= _TABLE:
        index = (np.arange(n)[:, None] + np.arange(n)[None]) % n
        value = z[index].conj() @ target
        apart = ((bend[index] - target_bend) ** 2).sum(axis=1)
    else:
        # the same sums as cyclic correlations, in n log n
        value = np.conj(_correlate(z, target))
        both = (bend**2).sum() + (target_bend**2).sum()
        apart = np.maximum(both - 2 * _correlate(bend, target_bend).real, 0.0)
    miss = energy - 2 * np.abs(value)
    miss = miss + apart * scale**2
    best = int(np.argmin(miss))
    size = abs(value[best])
    spin = value[best] / size if size > 0 else 1.0
    return float(miss[best]), best, complex(spin)


def _correlate(a: NDArray[Any], b: NDArray[Any]) -> Complexes:
    """Return the sums over i of a[s + i] conj(b[i]) for each cyclic shift s."""
    return np.fft.ifft(np.fft.fft(a) * np.conj(np.fft.fft(b)))
