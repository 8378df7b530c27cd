"""Faces that are congruent, for drawings without symmetry.

Two faces are congruent when an isometry carries one to the other, wherever they
lie. Invariants of area and boundary sort faces first; outlines, as Fourier
series over arc length, confirm it and tell turned and mirrored copies apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.copies import shifted_copies
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Complexes, Floats, Ints
    from fillwork.symmetry.faces.measures import FaceMeasures


# samples along an outline, and steps in which turns are tried
_SAMPLES = 128
_STEPS = 512
# faces of which the nearest is sought, and pairs that are tried for it
_FEW = 500
_PAIRS = 25_000_000
# outlines that are compared before the rest count as unlike: some 20 s
_COMPARED = 1_000_000
# outlines that are held at a time
_BATCH = 16_384


def class_congruent(
    arrangement: Arrangement, measures: FaceMeasures, faces: AnyInts
) -> tuple[Ints, Ints, Ints, int]:
    """Class faces by congruence.

    Returns `kind`: congruent faces have the same number; `side`: within a kind: 0 for
    copies turned and shifted, 1 for mirror images of these; `turn`: within a kind and
    side: the same number for copies that are only shifted; `left`: faces that were not
    compared, since so many others had to be; each is a kind of its own.
    """
    faces = np.asarray(faces)
    m = len(faces)
    if m == 0:
        none = np.zeros(0, dtype=np.int64)
        return none, none.copy(), none.copy(), 0
    # of faces that are only shifted one is compared and the others follow
    lead, like = _copies(arrangement, faces)
    traits = traits_of(arrangement, measures, faces[lead])
    slack = _slack(traits, like, arrangement.tolerance.join_within)
    group = _split_by_gaps(traits, slack)
    kind, side, angle, fold, left = _compare_all(arrangement, faces[lead], group, slack)
    turn = _turn_classes(kind, side, angle, fold, slack, traits[:, 0])
    return kind[like], side[like], turn[like], left


def _compare_all(
    arrangement: Arrangement, faces: AnyInts, group: Ints, slack: float
) -> tuple[Ints, Ints, Floats, Ints, int]:
    """Return kind, side, turn in radians and order of rotation of each face.

    The last number tells how many faces were not compared.
    """
    m = len(faces)
    kind = np.full(m, -1, dtype=np.int64)
    side = np.zeros(m, dtype=np.int64)
    angle = np.zeros(m)
    fold = np.ones(m, dtype=np.int64)
    used = 0
    budget = _COMPARED
    for rows in _batches(group):
        part = _compare_groups(arrangement, faces[rows], group[rows], slack, budget)
        kind[rows], side[rows], angle[rows], fold[rows], spent = part
        budget -= spent
        known = rows[kind[rows] >= 0]
        kind[known] += used
        used = int(kind[known].max(initial=used - 1)) + 1
    left = (kind < 0) & (np.bincount(group)[group] > 1)
    alone = np.flatnonzero(kind < 0)
    kind[alone] = used + np.arange(len(alone))
    return kind, side, angle, fold, int(left.sum())


def _batches(group: Ints) -> Iterator[Ints]:
    """Yield rows of whole groups of several, some thousands at a time."""
    size = np.bincount(group)
    order = np.argsort(group, kind="stable")
    order = order[size[group[order]] > 1]
    ends = np.cumsum(size[size > 1])
    done = 0
    while done < len(order):
        stop = int(ends[np.searchsorted(ends, min(done + _BATCH, len(order)))])
        yield order[done:stop]
        done = stop


def _compare_groups(
    arrangement: Arrangement, faces: AnyInts, group: Ints, slack: float, budget: int
) -> tuple[Ints, Ints, Floats, Ints, int]:
    """Do the work of `_compare_all` for whole groups of faces.

    The kind of faces that the budget does not suffice for is -1; the last number is
    how many outlines were compared.
    """
    series, spread = _outlines(arrangement, faces)
    near = np.maximum(4e-3 * spread, 2.0 * slack)
    kind = np.full(len(faces), -1, dtype=np.int64)
    side = np.zeros(len(faces), dtype=np.int64)
    angle = np.zeros(len(faces))
    fold = np.ones(len(faces), dtype=np.int64)
    left = np.arange(len(faces))
    used = spent = 0
    while len(left) and spent + len(left) <= budget:
        spent += len(left)
        _, first, row = np.unique(group[left], return_index=True, return_inverse=True)
        lead = left[first][row]
        direct, theta = _compare(series[left], series[lead])
        # the mirror image, walked the same way round, has the conjugate series
        mirror, phi = _compare(series[left], np.conj(series[lead]))
        best = np.minimum(direct, mirror)
        fits = (best <= near[left]) | (left == lead)
        got = left[fits]
        kind[got] = used + row[fits]
        heads = left[first]
        # a shape with a mirror line has no sides
        two_sided = _compare(series[heads], np.conj(series[heads]))[0] > near[heads]
        flipped = (mirror < direct) & two_sided[row]
        side[got] = flipped[fits]
        angle[got] = np.where(flipped, phi, theta)[fits]
        used += len(first)
        fold[got] = _rotation_order(series[heads], near[heads])[row][fits]
        left = left[~fits]
    return kind, side, angle, fold, spent


def _copies(arrangement: Arrangement, faces: AnyInts) -> tuple[Ints, Ints]:
    """Return rows of faces of which none is another one shifted, and whose each is.

    Faces with holes, which may lie anywhere inside, all stand for themselves.
    """
    rings = arrangement.face_ring_start[faces]
    start = arrangement.ring_start[rings]
    size = (arrangement.ring_start[rings + 1] - start).astype(np.int64)
    _, side = expand_ranges(start, size)
    half = arrangement.ring_half_edge[side]
    step = arrangement.vertices.take(arrangement.origin[half ^ 1], axis=0)
    step -= arrangement.vertices.take(arrangement.origin[half], axis=0)
    lead, like = shifted_copies(step, np.r_[0, np.cumsum(size)])
    pierced = arrangement.face_ring_start[faces + 1] > rings + 1
    sort = np.where(pierced, len(lead) + np.arange(len(faces)), like)
    _, lead, like = np.unique(sort, return_index=True, return_inverse=True)
    return lead, like


_FREQUENCIES = np.fft.fftfreq(_SAMPLES, 1.0 / _SAMPLES).astype(np.int64)


def share_alike_alone(arrangement: Arrangement, faces: AnyInts, off: float) -> float:
    """Return the share of faces that have a mirror line or a turn of their own.

    `off`: how far an outline may lie from its image, in root mean square radii.
    """
    series, spread = _outlines(arrangement, faces)
    mirrored = _compare(series, np.conj(series))[0] <= off * spread
    return float((mirrored | (_rotation_order(series, off * spread) > 1)).mean())


def traits_of(
    arrangement: Arrangement, measures: FaceMeasures, faces: AnyInts
) -> Floats:
    """Return numbers that isometries leave alone.

    `faces` (n,): which of them. Returns (n, 6): root of the area, a quarter of the
    boundary, and four moments, mm.
    """
    count = len(faces)
    owner, p, q = arrangement.sides(faces)
    middle = measures.centroid[faces].take(owner, axis=0)
    p, q = p - middle, q - middle
    z, w = p[:, 0] + 1j * p[:, 1], q[:, 0] + 1j * q[:, 1]
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]

    def total(values: Complexes) -> Complexes:
        real = np.bincount(owner, values.real * cross, count)
        return np.asarray(real + 1j * np.bincount(owner, values.imag * cross, count))

    # moments of the triangle (0, p, q), twice area `cross`: the integral of a
    # product of linear forms over it
    zz = (z * z + z * w + w * w) / 12.0
    zc, wc = np.conj(z), np.conj(w)
    z1 = (2 * z * zc + z * wc + w * zc + 2 * w * wc) / 24.0
    z3 = (z**3 + z * z * w + z * w * w + w**3) / 20.0
    z21 = (
        3 * z * z * zc
        + z * z * wc
        + 2 * z * w * zc
        + 2 * z * w * wc
        + w * w * zc
        + 3 * w * w * wc
    ) / 60.0
    size = np.where(measures.size[faces] > 0, measures.size[faces], 1.0)
    area = size * size
    c20, c11 = np.abs(total(zz)) / area, total(z1).real / area
    c30, c21 = np.abs(total(z3)) / area, np.abs(total(z21)) / area
    return np.column_stack(
        [
            size,
            measures.length[faces] / 4.0,
            c11 / size,
            c20 / size,
            c30 / area,
            c21 / area,
        ]
    )


def _slack(traits: Floats, like: Ints, join_within: float) -> float:
    """Return how much traits of copies differ, mm; `like` is the row of each face.

    Copies lie near each other and other faces do not, so the distances of
    nearest neighbours fall into two groups with a gap between them. Copies that
    are only shifted, as exact as the drawing's numbers, count once.
    """
    middle = float(np.median(traits[like, 0]))
    least = max(1e-7 * middle, 0.02 * join_within)
    most = 0.03 * middle
    if len(traits) < 2:
        return least
    exact = min(int((np.bincount(like) > 1).sum()), _FEW)
    near = np.sort(np.concatenate([np.zeros(exact), _nearest(traits)]))
    asked = len(near)
    near = near[near < most]
    if len(near) < max(2, 0.02 * asked):
        return least
    low = np.maximum(near, least)
    high = np.append(low[1:], most)
    ratio = high / low
    ratio[: max(1, int(0.02 * asked) - 1)] = 0.0
    best = int(np.argmax(ratio))
    if ratio[best] < 3.0:
        return least
    return float(min(np.sqrt(low[best] * high[best]), 6.0 * low[best]))


def _nearest(points: Floats) -> Floats:
    """Return how far points are from the nearest other one, of many a sample."""
    asked = np.arange(len(points))
    few = int(np.clip(_PAIRS // len(points), _FEW // 10, _FEW))
    if len(points) > few:
        asked = np.sort(np.random.default_rng(0).choice(asked, few, replace=False))
    # all pairs take less time than the library of a tree takes to load
    nearest = np.empty(len(asked))
    for begin in range(0, len(asked), 16):
        part = asked[begin : begin + 16]
        square = np.zeros((len(part), len(points)))
        for column in points.T:
            square += np.subtract.outer(column[part], column) ** 2
        square[np.arange(len(part)), part] = np.inf
        nearest[begin : begin + 16] = np.sqrt(square.min(axis=1))
    return nearest


def _split_by_gaps(values: Floats, slack: float) -> Ints:
    """Return groups that no gap wider than the slack parts along any column."""
    label = np.zeros(len(values), dtype=np.int64)
    groups = 0
    while True:
        for column in values.T:
            order = np.lexsort((column, label))
            cut = (np.diff(label[order]) != 0) | (np.diff(column[order]) > slack)
            label[order] = np.concatenate([[0], np.cumsum(cut)])
        now = int(label.max()) + 1
        if now == groups:
            return label
        groups = now


def _outlines(arrangement: Arrangement, faces: AnyInts) -> tuple[Complexes, Floats]:
    """Return Fourier series of outer rings, and their root mean square radius."""
    rings = arrangement.face_ring_start[faces]
    start, stop = arrangement.ring_start[rings], arrangement.ring_start[rings + 1]
    size = (stop - start).astype(np.int64)
    offset = np.cumsum(size) - size
    row = np.repeat(np.arange(len(faces)), size)
    half = arrangement.ring_half_edge[
        np.repeat(start, size) + np.arange(len(row)) - np.repeat(offset, size)
    ]
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    step = np.hypot(*(q - p).T)
    total = np.bincount(row, step, len(faces))
    # one long line of all outlines, each of length 1
    share = step / total[row]
    end = np.cumsum(share)
    begin = end - share
    # ends of outlines are whole numbers but for rounding
    wanted = np.arange(len(faces))[:, None] + (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    at = np.searchsorted(end, wanted.ravel(), side="left")
    at = np.minimum(at, len(end) - 1).reshape(wanted.shape)
    at = np.clip(at, offset[:, None], (offset + size - 1)[:, None])
    t = (wanted - begin[at]) / np.maximum(share[at], 1e-300)
    t = np.clip(t, 0.0, 1.0)
    z = p[:, 0] + 1j * p[:, 1]
    w = q[:, 0] + 1j * q[:, 1]
    points = z[at] + t * (w[at] - z[at])
    series = np.asarray(np.fft.fft(points, axis=1), np.complex128) / _SAMPLES
    series[:, 0] = 0.0
    return series, np.sqrt((np.abs(series) ** 2).sum(axis=1))


def _compare(a: Complexes, b: Complexes) -> tuple[Floats, Floats]:
    """Return the root mean square miss of outlines, best turned, and the turn."""
    miss, turn = np.empty(len(a)), np.empty(len(a))
    k = _FREQUENCIES
    for first in range(0, len(a), 4096):
        part = slice(first, first + 4096)
        product = a[part] * np.conj(b[part])
        # single precision finds the best step; what it gives is measured in double
        size = np.sqrt((np.abs(product) ** 2).sum(axis=1, keepdims=True))
        padded = np.zeros((len(product), _STEPS), dtype=np.complex64)
        padded[:, k] = product / np.maximum(size, 1e-300)
        shifted = np.fft.ifft(padded, axis=1)
        power = shifted.real**2 + shifted.imag**2
        top = np.argmax(power, axis=1)
        rows = np.arange(len(product))
        left = power[rows, top - 1]
        right = power[rows, (top + 1) % _STEPS]
        bend = left - 2 * power[rows, top] + right
        shift = np.where(
            bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, 1), 0
        )
        phase = 2 * np.pi * (top + np.clip(shift, -1, 1)) / _STEPS
        value = (product * np.exp(1j * phase[:, None] * k)).sum(axis=1)
        energy = (np.abs(a[part]) ** 2 + np.abs(b[part]) ** 2).sum(axis=1)
        miss[part] = np.sqrt(np.maximum(energy - 2 * np.abs(value), 0.0))
        turn[part] = np.angle(value)
    return miss, turn


def _rotation_order(series: Complexes, near: Floats) -> Ints:
    """Return how many rotations keep each outline."""
    orders = np.ones(len(series), dtype=np.int64)
    energy = (np.abs(series) ** 2).sum(axis=1)
    for n in range(2, 33):
        # a shape with n-fold rotation has only frequencies 1 + n j
        off = (_FREQUENCIES - 1) % n != 0
        rest = (np.abs(series[:, off]) ** 2).sum(axis=1)
        orders[rest <= np.minimum(near**2, 1e-3 * energy)] = n
    return orders


def _turn_classes(
    kind: Ints, side: Ints, angle: Floats, fold: Ints, slack: float, size: Floats
) -> Ints:
    """Return numbers that are equal for copies turned alike."""
    period = 2 * np.pi / fold
    group = kind * 2 + side
    width = np.maximum(1e-3, 4.0 * slack / size)
    angle = np.mod(angle, period)
    turn = np.zeros(len(kind), dtype=np.int64)
    several = np.flatnonzero(np.bincount(group)[group] > 1)
    order = several[np.lexsort((angle[several], group[several]))]
    if len(order) == 0:
        return turn
    sorted_group = group[order]
    edges = np.flatnonzero(np.diff(sorted_group)) + 1
    for rows in np.split(order, edges):
        values, reach = angle[rows], float(width[rows].max())
        # a class is no wider than the slack, however densely angles lie
        label = np.zeros(len(rows), dtype=np.int64)
        start = number = 0
        while start < len(rows):
            stop = int(np.searchsorted(values, values[start] + reach, side="right"))
            label[start:stop] = number
            start, number = stop, number + 1
        # the first and the last one may be one class across the seam
        around = values[0] + period[rows[0]] - values[label == number - 1][0]
        if number > 1 and around <= reach:
            label[label == number - 1] = 0
        turn[rows] = label
    return turn
