"""Translations of a pattern: which of the candidates span its lattice.

Candidates are peaks of the correlation of the lines with themselves. Each is
refined and scored by its own; the two shortest that hold and are independent
span the lattice, if the others are whole combinations of them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.lines.across import find_across
from fillwork.symmetry.lines.fit import (
    LADDER,
    LOOSER,
    Scores,
    refine_shifts,
    score_images,
)
from fillwork.symmetry.lines.lattice_fit import (
    SPREAD,
    LatticeFit,
    LatticeMeasures,
    fit_basis,
    lattice_points,
    reduce_basis,
    translate_images,
)

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator

ACCEPT = 0.90  # share of a translation's images that must be matched
SURE = 0.95
_ALL = 0.985  # share from which no detail is missed
_OVERLAP = 0.06  # least share of the lines that a translation keeps in the window
_COARSEST = 8  # repeats of a lattice that one of a coarser lattice holds at most
_NARROWER = 0.1  # share of the lines that a coarser lattice may leave unseen beside it
_RETURNS = 0.6  # share of the images of lines, and of such lines, that a detail has
_OFTEN = 2  # other places where lines are wanting that tell of a coarser lattice surely
_PLACES = 400  # places where lines are wanting that are looked at
_SLIPS = 2.5  # times the usual slip that lines may miss by
# repeats under which a long shift may hold by chance, and how far it may be from whole
# steps of a short one
_FEW_LONG, _WHOLE = 4.5, 0.1
_COLLAPSED = 0.3  # share of its length that a fitted vector keeps at least
_PEAKS, _MOST_PEAKS = 160, 4000  # shifts that are looked at, and at most found
_SHORTEST = 48  # translations that are measured closely
_FEW_PLACES = "lines are missing or added in a few places, which shifts may carry along"


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
    measures = LatticeMeasures(evidence)
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
        if (
            best is None
            or _worth(found) > _worth(best)
            or _divides(evidence, found, best)
        ):
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
    measures = LatticeMeasures(evidence)
    for level in range(max(single.level, across.level), len(LADDER)):
        found = _fitted(measures, basis, rows, level, known)
        if found is not None and found.rank == 2 and found.share >= SURE:
            return found
    return single


def _fitted(
    measures: LatticeMeasures,
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


def _strays(measures: LatticeMeasures, found: LatticeFit) -> bool:
    """Tell whether lines that miss their images do so by little: a detail is missed.

    Of lines that stray some coarser lattice fits better by chance.
    """
    looser = found.level + 1
    if looser >= len(LADDER):
        return False
    return measures.fit(found.basis, looser).share >= _ALL


def _divides(evidence: Evidence, found: LatticeFit, best: LatticeFit) -> bool:
    """Tell whether a shift takes the place of a longer one that is seldom seen.

    Where figures stray, some that are far apart stray alike by chance, and a long shift
    holds more closely than the short one that no line speaks against.
    """
    if found.rank != 1 or best.rank != 1 or found.share < _ALL:
        return False
    long, short = (float(np.hypot(*fit.basis[0])) for fit in (best, found))
    extent = float(np.ptp(evidence.samples @ (best.basis[0] / long)))
    steps = best.basis[0] @ found.basis[0] / short**2
    whole = abs(steps - round(steps)) < _WHOLE and abs(round(steps)) >= 2
    few = extent < _FEW_LONG * long
    return bool(whole and few and found.level <= best.level + LOOSER)


def _worth(fit: LatticeFit) -> tuple[bool, int, float]:
    sound = fit.share >= ACCEPT and fit.weakest >= 6
    return sound, fit.rank, fit.share * min(1.0, fit.covered + 0.5)


def _coarser(measures: LatticeMeasures, fit: LatticeFit) -> LatticeFit:
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
    blank = np.zeros((0, len(LADDER)))
    nothing = Scores(blank, blank, blank)
    share, expected = correlator.own_shares()
    # where hardly anything overlaps, a long line that falls on another outvotes all
    share[expected < 2 * _OVERLAP * len(evidence.samples)] = 0
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
