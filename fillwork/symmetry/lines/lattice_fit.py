"""A lattice that is given: its reduced basis and kind, and how well lines keep it.

Many translations are asked at once; one least-squares fit over them gives the basis,
and their score together says how sure it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import expand_ranges
from fillwork.symmetry.lines.fit import (
    Images,
    Scores,
    score_images,
)

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence

SPREAD = 0.05  # least spread of the lines that testify to a second translation
_IMAGES = 12_000  # images by which a basis is fitted in a round


def reduce_basis(basis: Floats) -> Floats:
    """Return the reduced basis of a lattice.

    `basis` (2, 2): any basis, as rows. Returns (2, 2): the two shortest independent
    vectors, at 60° to 90° (a · b >= 0), b to the left of a.

    Lagrange's reduction, often called Gauss's.

    Examples
    --------
    >>> reduce_basis(np.array([[1.0, 0.0], [5.0, 2.0]])).tolist()
    [[1.0, 0.0], [0.0, 2.0]]
    """
    a, b = basis[0].astype(np.float64), basis[1].astype(np.float64)
    for _ in range(200):
        if b @ b < (a @ a) * (1 - 1e-9):
            a, b = b, a
        turn = np.rint((a @ b) / (a @ a))
        if turn == 0:
            break
        b = b - turn * a
    if abs(a[0]) < 1e-9 * np.hypot(*a):
        a = a if a[1] > 0 else -a
    elif a[0] < 0:
        a = -a
    if a @ b < -1e-9 * (a @ a):
        b = -b
    if a[0] * b[1] - a[1] * b[0] < 0:
        # the other order keeps the angle at 60° to 90°
        if abs(a @ b) > 1e-9 * (a @ a):
            a, b = b, a
        else:
            b = -b
    return np.array([a, b])


def lattice_kind(basis: Floats, slack: float) -> str:
    """Return the kind of a lattice by its reduced basis.

    ``oblique``, ``rectangular``, ``centred rectangular``, ``square`` or ``hexagonal``.

    `basis` (2, 2): reduced basis, mm. `slack`: share by which lengths may differ.
    """
    a, b = basis
    ab = abs(float(a @ b))
    # either may be the longer: their order tells on which side the other one lies
    aa, bb = sorted((float(a @ a), float(b @ b)))
    equal = abs(bb - aa) <= 2 * slack * bb
    right = ab <= slack * math.sqrt(aa * bb)
    if right:
        return "square" if equal else "rectangular"
    if equal and abs(ab - 0.5 * aa) <= slack * aa:
        return "hexagonal"
    if equal or abs(2 * ab - aa) <= 2 * slack * aa:
        return "centred rectangular"
    return "oblique"


@dataclass(frozen=True, slots=True, eq=False)
class LatticeFit:
    """Hold translations that hold, with their evidence."""

    basis: Floats  # (rank, 2): reduced basis, mm
    level: int  # step of the ladder at which it holds
    share: float  # matched / expected over all translations together
    rms: float  # root mean square miss of matched images, mm
    # lines that testify to translations that are no multiples of one of the basis
    # vectors, for the vector with the fewest
    weakest: float
    expected: float  # images that were expected in all
    covered: float  # share of the lines that some translation carries into the window
    shares: tuple[float, ...] = ()  # `share` at each step of the ladder
    doubt: str = ""  # why it may be a coarser or a finer one

    @property
    def rank(self) -> int:
        """Return in how many directions the pattern repeats."""
        return len(self.basis)


def translate_images(
    evidence: Evidence, vectors: Floats, rows: Ints, most: int
) -> Images:
    """Return images of samples under translations, both ways.

    Points before the shift, so that the vectors are the shifts. `vectors` (n, 2):
    translations, mm; only images inside the window are kept. `rows`: samples to use.
    `most`: images a translation, at most.
    """
    # rows of two are taken whole: by index numpy goes through them one number at a time
    points = evidence.samples.take(rows, axis=0)
    half = most // 2
    # every so many samples first: those whose images fall outside need more
    stride = max(len(rows) // (2 * half), 1)
    shifts = np.stack([vectors, -vectors], axis=1).reshape(-1, 2)
    parts = [np.empty(0, np.intp)] * len(shifts)
    todo = np.arange(len(shifts))
    while len(todo):
        # each translation takes others, so that together they ask all
        begin = (todo + 1 - 2 * (todo % 2)) % stride
        size = np.maximum(len(rows) - begin + stride - 1, 0) // stride
        which, place = expand_ranges(np.zeros(len(todo), np.intp), size)
        few = place * stride + begin.take(which)
        moved = points.take(few, axis=0) + shifts.take(todo.take(which), axis=0)
        seen = np.flatnonzero(evidence.window.depth_at(moved) > 0)
        few, which = few.take(seen), which.take(seen)
        kept = np.bincount(which, minlength=len(todo))
        until = np.cumsum(kept)
        for k, a, b in zip(todo.tolist(), until - kept, until, strict=True):
            parts[k] = few[a : b : (b - a) // half + 1 if b - a > half else 1]
        todo = todo[kept < half // 2] if stride > 1 else todo[:0]
        stride = max(stride // 4, 1)
    source = np.concatenate([*parts, np.empty(0, np.intp)])
    sizes = np.array([len(p) for p in parts], np.intp)
    number, sign = np.arange(len(parts)) // 2, np.tile([1.0, -1.0], len(vectors))
    chosen = rows.take(source)
    return Images(
        points.take(source, axis=0),
        evidence.directions.take(chosen, axis=0),
        np.repeat(number, sizes),
        np.repeat(sign, sizes),
        chosen,
        len(vectors),
    )


def lattice_points(evidence: Evidence, basis: Floats, most: int = 400) -> Ints:
    """Return the translations under which parts of the window overlap.

    `basis` (rank, 2): basis, mm. `most`: how many at most; the shortest are kept.
    Returns (n, rank): whole combinations without 0, one of each pair v, -v, shortest
    first.
    """
    window = evidence.window
    extent = np.array(window.depth.shape[::-1]) * window.pixel
    reach = float(np.hypot(*extent))
    if len(basis) == 1:
        n = int(min(reach / np.hypot(*basis[0]), most))
        return np.arange(1, n + 1)[:, None]
    cell = abs(basis[0, 0] * basis[1, 1] - basis[0, 1] * basis[1, 0])
    # rows of the lattice within reach, and a limit for tiny cells
    limit = int(math.sqrt(most)) + 1
    n0 = min(int(reach * np.hypot(*basis[1]) / cell) + 1, limit)
    n1 = min(int(reach * np.hypot(*basis[0]) / cell) + 1, limit)
    i, j = np.mgrid[-n0 : n0 + 1, -n1 : n1 + 1]
    both = np.stack([i.ravel(), j.ravel()], axis=1)
    half = (both[:, 1] > 0) | ((both[:, 1] == 0) & (both[:, 0] > 0))
    both = both[half]
    vectors = both @ basis
    fits = (np.abs(vectors) < extent).all(axis=1)
    both, vectors = both[fits], vectors[fits]
    order = np.argsort((vectors**2).sum(axis=1), kind="stable")[:most]
    return np.asarray(both[order])


def fit_basis(evidence: Evidence, basis: Floats, rows: Ints) -> Floats:
    """Return a basis fitted to the lines over many translations at once.

    `basis` (rank, 2): a basis that is right to a fraction of the scale. `rows`: samples
    to use. Returns (rank, 2): a better basis, mm.
    """
    basis = basis.copy()
    rank = len(basis)
    combos = lattice_points(evidence, basis)
    far = int(np.abs(combos).max()) if len(combos) else 0
    reach, tolerance = 1, 0.12
    while len(combos):
        near = combos[np.abs(combos).max(axis=1) <= reach]
        if len(near) == 0:  # the window shows none of the shortest
            reach = far
            continue
        if len(near) > 60:
            near = near[:: len(near) // 60 + 1]
        images = translate_images(
            evidence, near @ basis, rows, max(_IMAGES // len(near), 40)
        )
        points = images.at(near @ basis)
        distance, offset, normal = evidence.index.nearest(points, images.directions)
        good = distance <= tolerance * evidence.scale
        if good.sum() < 4 * rank:
            break
        factor = images.sign[good, None] * near[images.owner[good]]
        n = normal[good]
        design = (factor[:, :, None] * n[:, None, :]).reshape(-1, 2 * rank)
        matrix = design.T @ design
        matrix += np.eye(2 * rank) * (1e-6 * np.trace(matrix) + 1e-12)
        basis -= np.linalg.solve(matrix, design.T @ offset[good]).reshape(rank, 2)
        if tolerance <= 0.06 and reach >= far:
            break
        tolerance = max(tolerance / 1.5, 0.06)
        reach = min(max(reach * 2, 1), far)
    return basis


def measure_lattice(evidence: Evidence, basis: Floats, level: int) -> LatticeFit:
    """Return how well the lines keep a lattice.

    The basis with its evidence, over all translations. `basis` (rank, 2): reduced
    basis, mm. `level`: step of the tolerance ladder.
    """
    return LatticeMeasures(evidence).fit(basis, level)


@dataclass(frozen=True, slots=True, eq=False)
class _Measure:
    """Hold how the lines keep a lattice at each step of the ladder."""

    combos: Ints  # (n, rank): the translations that were asked, in the basis
    scores: Scores | None  # of each of them; None without any
    weakest: float  # as in a fit
    covered: float


class LatticeMeasures:
    """Measure lattices by the lines, each basis once for all steps of the ladder."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self.known: dict[bytes, _Measure] = {}

    def measure(self, basis: Floats) -> _Measure:
        """Return what the lines say about a basis."""
        key = basis.tobytes()
        if key not in self.known:
            self.known[key] = _measured(self.evidence, basis)
        return self.known[key]

    def fit(self, basis: Floats, level: int) -> LatticeFit:
        """Return how well the lines keep a lattice at a step of the ladder."""
        of = self.measure(basis)
        if of.scores is None:
            return LatticeFit(basis, level, 0.0, 0.0, 0.0, 0.0, 0.0)
        expected, have = self.images(basis, level).T.copy()
        total = max(float(expected.sum()), 1.0)
        square = float((of.scores.rms[:, level] ** 2 * have).sum())
        rms = math.sqrt(square / max(have.sum(), 1))
        rms = max(rms, self.evidence.slip)
        wanted = of.scores.expected
        each = (of.scores.share * wanted).sum(axis=0) / np.maximum(
            wanted.sum(axis=0), 1
        )
        shares = tuple(each.tolist())
        return LatticeFit(
            basis, level, shares[level], rms, of.weakest, total, of.covered, shares
        )

    def images(self, basis: Floats, level: int) -> Floats:
        """Return images of each translation that were expected and found, (n, 2)."""
        of = self.measure(basis)
        if of.scores is None:
            return np.zeros((0, 2))
        expected = of.scores.expected[:, level]
        return np.column_stack([expected, of.scores.share[:, level] * expected])


def _measured(evidence: Evidence, basis: Floats) -> _Measure:
    """Return what the lines say about a basis, at every step of the ladder."""
    rows = evidence.thin(4000)
    combos = lattice_points(evidence, basis, most=64)
    if len(combos) == 0:
        return _Measure(combos, None, 0.0, 0.0)
    each = max(24_000 // len(combos), 200)
    images = translate_images(evidence, combos @ basis, rows, each)
    scores = score_images(evidence, images, combos @ basis)
    depth = evidence.window.depth_at(images.at(combos @ basis))
    owner, source = images.owner[depth > 0], images.source[depth > 0]
    weakest = min(
        float(len(np.unique(evidence.piece[source[other[owner]]])))
        for other in _other_ways(combos, np.bincount(owner, minlength=len(combos)))
    )
    # lines outside the window are expected nowhere
    samples = evidence.samples.take(rows, axis=0)
    inside = rows[evidence.window.depth_at(samples) > 0]
    covered = len(np.intersect1d(images.source, inside)) / max(len(inside), 1)
    # with few translations each asks only some of the lines
    if covered < 0.9:
        whole = translate_images(evidence, basis, inside, 2 * len(rows))
        covered = max(covered, len(np.unique(whole.source)) / max(len(inside), 1))
    return _Measure(combos, scores, weakest, covered)


def _other_ways(combos: Ints, images: Ints) -> list[Bools]:
    """Return, for the ways that may stand alone, which translations go another way.

    Those of the basis, and the way of the most images: where a strip repeats, both
    vectors of a basis may leave it, and only their difference be seen.
    """
    others = [column != 0 for column in combos.T]
    if combos.shape[1] == 2:
        i, j = combos[int(np.argmax(images))]
        others.append(combos[:, 0] * j != combos[:, 1] * i)
    return others
