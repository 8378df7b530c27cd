"""Translations and turns that lines keep so roughly that no group is sure of them.

Where corners stray by a tenth of a line, images miss their lines by more than a
group allows and nothing would be found. Shifts that carry far more of the lines
onto lines than chance shifts do are still seen when lines may miss by more. They
are no answer: they tell that there is one, and serve a group that is stated.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.lines.evidence import REACH
from fillwork.symmetry.lines.fit import LADDER, Correlator, refine_shifts, score_images
from fillwork.symmetry.lines.lattice_fit import (
    LatticeFit,
    fit_basis,
    measure_lattice,
    reduce_basis,
    translate_images,
)
from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.lines.rosette import find_rosette

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.mirrors import RosetteFit

# how much farther lines may miss than those of a group
_LOOSER = 2.5
_LEVEL = len(LADDER) - 1
# peaks of the votes that are weighed, and the smallest
_TRIED = 80
_LEAST_VOTE = 0.12
# share of the images of chance shifts, and how far above it a shift must be
_CHANCE = 64
_ABOVE = 0.35
# share of the images of the best shifts' that others must reach
_BESIDE_BEST = 0.8
# images that must be expected, and lines that must testify
_EXPECTED = 24
_LINES = 12
_COVERED = 0.5


def guess_lattice(evidence: Evidence) -> tuple[Evidence, LatticeFit] | None:
    """Find two shifts that lines keep far better than chance, however roughly.

    The lines with what they may miss by, and the lattice; None where no shifts are
    better than chance.
    """
    loose = replace(evidence, scale=_LOOSER * evidence.scale)
    vectors = _voted(Correlator(loose))
    if len(vectors) == 0:
        return None
    rows = loose.thin(3000)
    images = translate_images(loose, vectors, rows, 400)
    vectors = refine_shifts(loose, images, vectors, (0.16, 0.12))
    ladder = LADDER[_LEVEL:]
    images = translate_images(loose, vectors, rows, 400)
    scores = score_images(loose, images, vectors, ladder)
    share = np.where(scores.expected[:, 0] >= _EXPECTED, scores.share[:, 0], 0.0)
    share[np.hypot(vectors[:, 0], vectors[:, 1]) < 0.3 * loose.scale] = 0.0
    chance = _by_chance(loose, vectors, rows)
    good = share >= max(chance + _ABOVE, _BESIDE_BEST * float(share.max(initial=0.0)))
    basis = _shortest(vectors[good])
    if basis is None:
        return None
    return _measured(loose, basis, chance + _ABOVE)


def guess_rosette(evidence: Evidence) -> RosetteFit | None:
    """Find three turns or more that lines keep however roughly; None where none do."""
    scale = _LOOSER * evidence.scale
    index = LineIndex(evidence.segments, REACH * scale)
    loose = replace(evidence, scale=scale, index=index)
    found = find_rosette(loose, Correlator(loose, 200_000))
    return found if found is not None and found.n > 2 and not found.reason else None


def _voted(correlator: Correlator) -> Floats:
    """Return the shifts that most lines vote for, one of each pair v, -v."""
    vectors, _ = correlator.peaks(correlator.own_shares()[0], _TRIED, _LEAST_VOTE)
    far = np.hypot(vectors[:, 0], vectors[:, 1]) > 1.5 * correlator.cell
    return vectors[far]


def _by_chance(evidence: Evidence, vectors: Floats, rows: Ints) -> float:
    """Return the share of the images that shifts of like lengths carry onto lines."""
    rng = np.random.default_rng(11)
    size = np.hypot(vectors[:, 0], vectors[:, 1])
    size = rng.choice(size, _CHANCE) * rng.uniform(0.85, 1.15, _CHANCE)
    turn = rng.uniform(0, np.pi, _CHANCE)
    shifts = size[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    images = translate_images(evidence, shifts, rows, 100)
    # chance shifts slide to the nearest place that suits them as well
    shifts = refine_shifts(evidence, images, shifts, (0.16, 0.12))
    scores = score_images(evidence, images, shifts, LADDER[_LEVEL:])
    enough = scores.expected[:, 0] >= _EXPECTED
    return float(np.median(scores.share[enough, 0])) if enough.any() else 1.0


def _shortest(vectors: Floats) -> Floats | None:
    """Return two short shifts, neither nearly along the other."""
    order = np.argsort((vectors**2).sum(axis=1), kind="stable")
    for n, i in enumerate(order):
        a = vectors[i]
        for k in order[n + 1 :]:
            b = vectors[k]
            cross = abs(float(a[0] * b[1] - a[1] * b[0]))
            if cross > 0.2 * float(np.hypot(*a) * np.hypot(*b)):
                return reduce_basis(np.stack([a, b]))
    return None


def _fitted(evidence: Evidence, basis: Floats) -> LatticeFit | None:
    """Return a basis fitted and measured; None if it slides away."""
    start = float(np.linalg.norm(basis, axis=1).min())
    fitted = fit_basis(evidence, basis, evidence.thin(4000))
    if float(np.abs(fitted - basis).max()) > 0.15 * start:
        fitted = basis
    found = measure_lattice(evidence, fitted, _LEVEL)
    return found if found.expected >= _EXPECTED else None


def _measured(
    evidence: Evidence, basis: Floats, least: float
) -> tuple[Evidence, LatticeFit] | None:
    found = _fitted(evidence, basis)
    if found is None or found.share < least:
        return None
    if found.weakest < _LINES or found.covered < _COVERED:
        return None
    return evidence, replace(found, basis=reduce_basis(found.basis))
