"""Translations of a pattern: candidates, reduced basis, joint fit.

Candidates are peaks of the correlation of the lines with themselves. Each is
refined and scored by its own; the two shortest that hold and are independent
span the lattice, if the others are whole combinations of them. At last one
least-squares fit over many translations at once gives the basis, and its score
over all translations says how sure it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import expand_ranges
from fillwork.symmetry.lines.across import find_across
from fillwork.symmetry.lines.fit import (
    LADDER,
    Images,
    Scores,
    refine_shifts,
    score_images,
)

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator

ACCEPT = 0.90  # share of a translation's images that must be matched
SURE = 0.95
_ALL = 0.985  # share from which no detail is missed
SPREAD = 0.05  # least spread of the lines that testify to a second translation
_OVERLAP = 0.06  # least share of the lines that a translation keeps in the window
_COARSEST = 8  # repeats of a lattice that one of a coarser lattice holds at most
_NARROWER = 0.1  # share of the lines that a coarser lattice may leave unseen beside it
_RETURNS = 0.6  # share of the images of lines, and of such lines, that a detail has
_OFTEN = 2  # other places where lines are wanting that tell of a coarser lattice surely
_PLACES = 400  # places where lines are wanting that are looked at
_SLIPS = 2.5  # times the usual slip that lines may miss by
_COLLAPSED = 0.3  # share of its length that a fitted vector keeps at least
_PEAKS, _MOST_PEAKS = 160, 4000  # shifts that are looked at, and at most found
_SHORTEST = 48  # translations that are measured closely
_IMAGES = 12_000  # images by which a basis is fitted in a round
_FEW_PLACES = "lines are missing or added in a few places, which shifts may carry along"


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
    aa, bb, ab = float(a @ a), float(b @ b), abs(float(a @ b))
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


def _span(vectors: Floats) -> Floats:
    """Return the shortest independent vectors."""
    order = np.argsort((vectors**2).sum(axis=1), kind="stable")
    first = vectors[order[0]]
    size = float(np.hypot(*first))
    for k in order[1:]:
        v = vectors[k]
        if abs(first[0] * v[1] - first[1] * v[0]) > 0.2 * size * np.hypot(*v):
            return reduce_basis(np.stack([first, v]))
    return np.asarray(first[None, :])


def measure_lattice(evidence: Evidence, basis: Floats, level: int) -> LatticeFit:
    """Return how well the lines keep a lattice.

    The basis with its evidence, over all translations. `basis` (rank, 2): reduced
    basis, mm. `level`: step of the tolerance ladder.
    """
    return _Measures(evidence).fit(basis, level)


@dataclass(frozen=True, slots=True, eq=False)
class _Measure:
    """Hold how the lines keep a lattice at each step of the ladder."""

    combos: Ints  # (n, rank): the translations that were asked, in the basis
    scores: Scores | None  # of each of them; None without any
    weakest: float  # as in a fit
    covered: float


class _Measures:
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


def find_lattice(evidence: Evidence, correlator: Correlator) -> LatticeFit | None:
    """Return the lattice of translations that the lines show.

    Two vectors for a plane pattern, one for a frieze; None when no translation holds.
    """
    vectors, scores = _candidates(evidence, correlator)
    if len(vectors) == 0:
        return None
    rows = evidence.thin(4000)
    best: LatticeFit | None = None
    # several steps of the ladder begin with one basis
    known: dict[bytes, Floats] = {}
    measures = _Measures(evidence)
    for level in range(_first_level(evidence), len(LADDER)):
        holds = (scores.share[:, level] >= ACCEPT) & (scores.expected[:, level] >= 24)
        if not holds.any():
            continue
        basis = _span(vectors[holds])
        found = _fitted(measures, basis, rows, level, known)
        if found is None or (found.rank == 2 and found.covered < 0.5):
            # one of the vectors may be held by a few lines only
            seen = scores.share[:, level] * scores.expected[:, level] * holds
            alone = vectors[int(np.argmax(seen))][None, :]
            single = _fitted(measures, alone, rows, level, known)
            if single is not None and (found is None or single.covered > found.covered):
                found = single
        if found is None:
            continue
        if best is None or _worth(found) > _worth(best):
            best = found
        seen_both_ways = found.rank == 2 and found.weakest > 0
        if seen_both_ways and found.share >= SURE and found.covered >= 0.5:
            return found
    if best is not None and best.rank == 1 and best.share >= SURE:
        return _widened(evidence, correlator, best, rows)
    return best


def _first_level(evidence: Evidence) -> int:
    """Return the step of the ladder that holds lines as far off as is known."""
    reach = _SLIPS * evidence.slip / evidence.scale
    return min(int(np.searchsorted(LADDER, reach)), len(LADDER) - 1)


def _widened(
    evidence: Evidence, correlator: Correlator, single: LatticeFit, rows: Ints
) -> LatticeFit:
    """Return the lattice with a second translation that a narrow part shows."""
    across = find_across(evidence, correlator, single.basis[0])
    if across is None or across.share < SURE or across.spread < SPREAD:
        return single
    basis = reduce_basis(np.stack([single.basis[0], across.vector]))
    known: dict[bytes, Floats] = {}
    measures = _Measures(evidence)
    for level in range(max(single.level, across.level), len(LADDER)):
        found = _fitted(measures, basis, rows, level, known)
        if found is not None and found.rank == 2 and found.share >= SURE:
            return found
    return single


def _fitted(
    measures: _Measures,
    basis: Floats,
    rows: Ints,
    level: int,
    known: dict[bytes, Floats],
) -> LatticeFit | None:
    """Return a lattice fitted and measured, None if it slides back to nothing.

    Fits are noted in `known`, under the basis that they began with.
    """
    key = basis.tobytes()
    if key not in known:
        known[key] = fit_basis(measures.evidence, basis, rows)
        if len(basis) == 2:
            known[key] = reduce_basis(known[key])
    fitted = known[key]
    start = float(np.linalg.norm(basis, axis=1).min())
    if not float(np.linalg.norm(fitted, axis=1).min()) > _COLLAPSED * start:
        return None
    found = measures.fit(fitted, level)
    if found.rank == 2 and found.share < _ALL and not _strays(measures, found):
        found = _coarser(measures, found)
    return found


def _strays(measures: _Measures, found: LatticeFit) -> bool:
    """Tell whether lines that miss their images do so by little: a detail is missed.

    Of lines that stray some coarser lattice fits better by chance.
    """
    looser = found.level + 1
    if looser >= len(LADDER):
        return False
    return measures.fit(found.basis, looser).share >= _ALL


def _worth(fit: LatticeFit) -> tuple[bool, int, float]:
    sound = fit.share >= ACCEPT and fit.weakest >= 6
    return sound, fit.rank, fit.share * min(1.0, fit.covered + 0.5)


def _coarser(measures: _Measures, fit: LatticeFit) -> LatticeFit:
    """Return a coarser lattice if it fits clearly better.

    A translation that carries all but a detail of the lines onto themselves is
    none: some multiple of it carries the detail as well. A spoiled repeat or
    noise disturbs the coarser lattice just as much.
    """
    best = fit
    combos = measures.measure(fit.basis).combos
    images = measures.images(fit.basis, fit.level)
    for index in range(2, _COARSEST + 1):
        # the sublattices of an index, each once: Hermite's normal form
        for a in (d for d in range(1, index + 1) if index % d == 0):
            for b in range(a):
                matrix = np.array([[a, 0], [b, index // a]])
                steps = combos @ np.linalg.inv(matrix)
                own = (np.abs(steps - np.round(steps)) < 1e-6).all(axis=1)
                expected, have = images[own].sum(axis=0)
                # its own among the translations known already speak for it or not
                if expected > 0 and 1 - have / expected > 0.6 * (1 - best.share):
                    continue
                wider = reduce_basis(matrix @ fit.basis)
                tried = measures.fit(wider, fit.level)
                # a few places far apart agree by chance, at the rim above all
                if tried.weakest < 6 * index or tried.covered < fit.covered - _NARROWER:
                    continue
                if 1 - tried.share < 0.35 * (1 - best.share):
                    best = tried
        if best is not fit:
            break
    if best is fit:
        return fit
    often = _returns(measures.evidence, fit, best)
    if often >= _OFTEN or (often and fit.share < ACCEPT):
        return best
    return replace(fit, doubt=_FEW_PLACES) if often else fit


def _returns(evidence: Evidence, fit: LatticeFit, coarser: LatticeFit) -> int:
    """Return how often a coarser lattice returns what a lattice does not.

    Lines at a hole in a pattern that are none of it miss their images under both; where
    the coarser one lays them into the hole alone, it fits better by that. So it does
    where lines are wanting in a few places of which it carries none onto another.
    """
    rows = evidence.thin(4000)
    wide = LADDER[fit.level] * evidence.scale
    count = len(evidence.samples)
    shares = []
    for basis in (coarser.basis, fit.basis):
        shifts = lattice_points(evidence, basis, most=_SHORTEST) @ basis
        images = translate_images(evidence, shifts, rows, len(rows))
        points = images.at(shifts)
        distance, _, _ = evidence.index.nearest(points, images.directions)
        seen = np.bincount(images.source, minlength=count)
        hit = np.bincount(images.source, distance <= wide, minlength=count)
        shares.append((seen, hit))
    (asked, found), (seen, hit) = shares
    odd = (seen > 0) & (hit < _RETURNS * seen)
    told = odd & (asked > 0) & (found >= _RETURNS * asked)
    if told.sum() < _RETURNS * odd.sum():
        return 0
    wanting = (distance > wide) & (evidence.window.depth_at(points) > 1.5 * wide)
    few = np.flatnonzero(wanting)
    few = few[:: len(few) // _PLACES + 1]
    if len(few) == 0:
        return 0
    shifts = lattice_points(evidence, coarser.basis, most=_SHORTEST) @ coarser.basis
    moved = points[few, None, :] + np.concatenate([shifts, -shifts])
    there = evidence.window.depth_at(moved.reshape(-1, 2)) > 1.5 * wide
    place = np.repeat(np.arange(len(few)), moved.shape[1])[there]
    distance, _, _ = evidence.index.nearest(
        moved.reshape(-1, 2)[there], images.directions[few].take(place, axis=0)
    )
    seen = np.bincount(place, minlength=len(few))
    empty = np.bincount(place, distance > wide, minlength=len(few))
    empty[empty < _RETURNS * seen] = 0
    # as often as most of what is wanting is wanting elsewhere
    return int(np.quantile(empty, 1 - _RETURNS))


def _candidates(evidence: Evidence, correlator: Correlator) -> tuple[Floats, Scores]:
    # shifts that leave little overlap match well by chance where lines are dense
    doubt = max(32.0, 0.1 * len(evidence.samples))
    blank = np.zeros((0, len(LADDER)))
    nothing = Scores(blank, blank, blank)
    agree, expected = correlator.own_votes()
    share = agree / (expected + np.float32(2 * doubt))
    # where hardly anything overlaps, a long line that falls on another outvotes all
    share[expected < 2 * _OVERLAP * len(evidence.samples)] = 0
    rows, columns = share.shape
    # one of each pair v, -v, and not the peak at no shift
    share[rows // 2 + 1 :] = 0
    share[0, columns // 2 :] = 0
    share[0, :2] = 0
    vectors, value = correlator.peaks(share, _MOST_PEAKS, 0.35)
    # of many repeats those on the grid's places are highest: the shortest count as well
    size = np.hypot(*vectors.T)
    high = np.flatnonzero(value >= 0.5 * value.max(initial=0.0))
    near = high[np.argsort(size[high], kind="stable")[:_SHORTEST]]
    vectors = vectors[np.union1d(np.arange(min(_PEAKS, len(vectors))), near)]
    vectors = vectors[np.hypot(vectors[:, 0], vectors[:, 1]) > 1.5 * correlator.cell]
    if len(vectors) == 0:
        return vectors, nothing
    rows_used = evidence.thin(3000)
    images = translate_images(evidence, vectors, rows_used, 300)
    vectors = refine_shifts(evidence, images, vectors, (0.16, 0.12))
    images = translate_images(evidence, vectors, rows_used, 300)
    rough = score_images(evidence, images, vectors, (0.03, 0.12))
    keep = (rough.share[:, 1] > 0.75) & (rough.expected[:, 1] >= 16)
    keep &= _moves(evidence, vectors)
    vectors, close = vectors[keep], rough.share[keep, 0]
    if len(vectors) == 0:
        return vectors, nothing
    # the shortest ones span the lattice, and where lines are dense many fit loosely
    order = np.lexsort(((vectors**2).sum(axis=1), close < 0.6 * close.max()))
    vectors = vectors[np.sort(order[:_SHORTEST])]
    images = translate_images(evidence, vectors, evidence.thin(6000), 1500)
    vectors = refine_shifts(evidence, images, vectors, (0.1, 0.05))
    scores = score_images(evidence, images, vectors)
    scores.share[~_moves(evidence, vectors)] = 0
    return vectors, scores


def _moves(evidence: Evidence, vectors: Floats) -> Bools:
    """Return which translations have not slid back to none at all."""
    return np.hypot(vectors[:, 0], vectors[:, 1]) > 0.3 * evidence.scale
