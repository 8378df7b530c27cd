"""A second translation that only a narrow part of a drawing shows.

Where little more than one repeat is seen across a known translation, no single
shift keeps many lines in the window. Shifts that differ by whole multiples of the
known translation hold or fail together, so their votes and their evidence are
taken together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.lines.fit import LADDER, Images, refine_shifts, score_images

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator

_TRIED = 12  # shifts that are refined
_SAMPLES = 6000  # samples that are carried about
_FEW = 500  # the same where shifts are only improved and compared
_WORSE = 0.15  # share below the best's, under which a shift is left out
_HOPELESS = 0.8  # share matched by few samples, under which a shift is none
_DOUBT = 32.0  # samples' worth of disagreement added to each shift
_LEAST = 24  # samples that must be expected on lines
_SHORTEST = 0.8  # scales, under which a shift across is none


@dataclass(frozen=True, slots=True, eq=False)
class Across:
    """Hold how a second translation fits, all that differ by the first together."""

    vector: Floats  # (2,): the translation, mm
    level: int  # first step of the ladder at which it fits best
    share: float  # matched / expected
    # lines between corners that testify, those that the first translation carries onto
    # each other counted as one
    lines: float
    # 0 where all lines that testify are parallel, 0.5 where they run all ways
    spread: float
    seen: float  # share of the lines that testify


def _reach(evidence: Evidence) -> float:
    return float(np.hypot(*evidence.window.depth.shape)) * evidence.window.pixel


def _images(evidence: Evidence, along: Floats, shifts: Floats, rows: Ints) -> Images:
    """Return images of samples under every shift ± (b + k along), k any number."""
    points, directions = (
        evidence.samples.take(rows, axis=0),
        evidence.directions.take(rows, axis=0),
    )
    most = int(_reach(evidence) / np.hypot(*along)) + 1
    step, sign = np.repeat(np.arange(-most, most + 1), 2), np.ones(4 * most + 2)
    sign[1::2] = -1.0
    parts: list[tuple[Floats, Ints, Floats]] = []
    for shift in shifts:
        moves = sign[:, None] * (shift + step[:, None] * along)
        moved = (points + moves[:, None, :]).reshape(-1, 2)
        inside = np.flatnonzero(evidence.window.depth_at(moved) > 0)
        way = inside // len(rows)
        before = moved[inside] - sign[way, None] * shift
        parts.append((before, inside - way * len(rows), sign[way]))
    source = np.concatenate([p[1] for p in parts])
    return Images(
        np.concatenate([p[0] for p in parts]),
        directions[source],
        np.repeat(np.arange(len(shifts)), [len(p[1]) for p in parts]),
        np.concatenate([p[2] for p in parts]),
        rows[source],
        len(shifts),
    )


def _voted(evidence: Evidence, correlator: Correlator, along: Floats) -> Floats:
    """Return the shifts across that most lines vote for, mm."""
    agree, expected = correlator.own_votes()
    share = correlator.folded(agree, expected, along, 2 * _DOUBT, _LEAST)
    rows, columns = share.shape
    unit = along / np.hypot(*along)
    y = np.fft.fftfreq(rows, 1 / rows)[:, None] * correlator.cell
    x = np.fft.fftfreq(columns, 1 / columns)[None, :] * correlator.cell
    # one of each pair v, -v
    share[y * unit[0] - x * unit[1] < _SHORTEST * evidence.scale] = 0
    shifts, _ = correlator.peaks(share, _TRIED, 0.3)
    return shifts


def measure_across(
    evidence: Evidence, along: Floats, shifts: Floats, *, refine: bool = False
) -> list[Across]:
    """Return how shifts fit, together with all that differ by a translation.

    `along` (2,): a translation that holds, mm. `shifts` (n, 2): translations that are
    no multiples of it, mm. `refine`: whether the shifts are improved first.
    """
    rows = evidence.thin(_SAMPLES)
    if refine:
        few = evidence.thin(_FEW)
        images = _images(evidence, along, shifts, few)
        shifts = refine_shifts(evidence, images, shifts, (0.16, 0.12, 0.08))
        images = _images(evidence, along, shifts, few)
        shifts = refine_shifts(evidence, images, shifts, (0.06, 0.04))
        # those that fit far worse than the best, or surely too few, are not measured
        images = _images(evidence, along, shifts, few)
        share = score_images(evidence, images, shifts).share.max(axis=1)
        shifts = shifts[share >= max(share.max() - _WORSE, _HOPELESS)]
        if len(shifts) == 0:
            return []
    images = _images(evidence, along, shifts, rows)
    scores = score_images(evidence, images, shifts)
    points = images.at(shifts)
    depth = evidence.window.depth_at(points)
    distance, _, normal = evidence.index.nearest(points, images.directions)
    inside = depth > 0
    repeats = float(np.ptp(evidence.samples @ along)) / float(along @ along)
    found = []
    for number in range(len(shifts)):
        share = scores.share[number]
        enough = scores.expected[number] >= _LEAST
        level = int(np.argmax(enough & (share >= share[enough].max(initial=0) - 0.01)))
        hit = images.owner == number
        hit &= inside & (distance <= LADDER[level] * evidence.scale)
        n = normal[hit]
        moments = n.T @ n / max(len(n), 1)
        source = np.unique(images.source[hit])
        found.append(
            Across(
                shifts[number],
                level,
                float(share[level]) if enough[level] else 0.0,
                len(np.unique(evidence.piece[source])) / max(repeats, 1.0),
                float(np.linalg.eigvalsh(moments)[0]) if len(n) else 0.0,
                len(source) / len(rows),
            )
        )
    return found


def find_across(
    evidence: Evidence, correlator: Correlator, along: Floats
) -> Across | None:
    """Return the second translation that fits best; None when no line votes for any.

    `along` (2,): a translation that holds, mm.
    """
    shifts = _voted(evidence, correlator, along)
    if len(shifts) == 0:
        return None
    found = measure_across(evidence, along, shifts, refine=True)
    # some slide back onto the first translation
    unit = along / np.hypot(*along)
    away = [abs(float(f.vector[1] * unit[0] - f.vector[0] * unit[1])) for f in found]
    found = [
        f
        for f, d in zip(found, away, strict=True)
        if d > 0.5 * _SHORTEST * evidence.scale
    ]
    if not found:
        return None
    # of those that fit alike the shortest: others are its multiples
    best = max(f.share for f in found)
    alike = [f for f in found if f.share >= best - 0.02]
    return min(alike, key=lambda f: math.hypot(*f.vector))
