"""Mirrors: the best one through a centre, and a single one wherever it lies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.symmetry.lines.centres import headings, voted
from fillwork.symmetry.lines.fit import LADDER, score_images
from fillwork.symmetry.lines.turning import (
    Carried,
    about,
    images_of,
    least_seen,
    reflection,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrays import Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator

ACCEPT = 0.93  # share of the images that must be matched
RING = 0.80  # the same in each ring
_ASIDE = 0.2  # of its radius: how far the middle of its lines lies from its centre


@dataclass(frozen=True, slots=True, eq=False)
class RosetteFit:
    """Hold the rosette group that lines show."""

    n: int  # order of the rotation; 1 for a mirror alone
    mirror: float | None  # angle of one mirror to the x axis, radians
    centre: Floats  # (2,): the centre, or a point of the mirror, mm
    level: int  # step of the ladder at which it holds
    # share and rms: matched / expected of the weakest generator, and its miss, mm
    share: float
    rms: float
    reason: str = ""  # why it is not sure
    # other groups with their share and rms
    near: tuple[tuple[str, float, float], ...] = ()


class Mirror(NamedTuple):
    """Hold a mirror through a centre, and how lines keep it."""

    angle: float  # to the x axis, radians
    share: float  # matched / expected
    rms: float  # its miss, mm
    weakest: float  # share in the weakest ring
    lacking: float  # share of the lines whose images all lack a line


def best_mirror(
    evidence: Evidence, rows: Ints, centre: Floats, n: int, level: int
) -> Mirror:
    """Return the mirror that fits best beside turns of order `n` about a centre."""
    few = rows[:: max(1, len(rows) // 300)]
    away = evidence.samples.take(few, axis=0) - centre
    reach = float(np.percentile(np.hypot(away[:, 0], away[:, 1]), 90))
    steps = int(np.clip(math.pi / n * 2 * reach / (0.12 * evidence.scale), 12, 1500))
    angles = np.arange(steps) / steps * math.pi / n
    middle = away.mean(axis=0)
    if np.hypot(*middle) > _ASIDE * reach:
        # of a figure that is cut, the mirrors through its middle show most
        angles += math.atan2(middle[1], middle[0]) - math.pi / (2 * n)
    share = np.empty(steps)
    for part in np.array_split(np.arange(steps), steps // 200 + 1):
        maps = [about(reflection(float(angles[k])), centre) for k in part]
        images, shifts = images_of(evidence, few, maps)
        share[part] = score_images(evidence, images, shifts, (0.1,)).share[:, 0]
    best = Mirror(0.0, 0.0, 0.0, 0.0, 0.0)
    for k in np.argsort(-share, kind="stable")[:3]:
        angle = _refine_angle(evidence, rows, centre, float(angles[k]))
        maps = [about(reflection(angle), centre)]
        carried = Carried(evidence, rows, centre, maps, level)
        total, weakest, rms, want = carried.scores(level)
        seen = want[0] >= least_seen(evidence) * len(rows)
        if seen and total[0] > best.share:
            lacking = carried.lacking(0, n, level)
            scores = (float(total[0]), float(rms[0]), float(weakest[0]))
            best = Mirror(angle, *scores, lacking)
    return best


def _refine_angle(
    evidence: Evidence, rows: Ints, centre: Floats, angle: float
) -> float:
    for tolerance in (0.16, 0.12, 0.08, 0.06):
        linear = reflection(angle)
        away = (evidence.samples.take(rows, axis=0) - centre) @ linear.T
        distance, offset, normal = evidence.index.nearest(
            away + centre, evidence.directions.take(rows, axis=0) @ linear.T
        )
        good = distance <= tolerance * evidence.scale
        # the image turns twice as fast as the mirror
        pull = 2 * (normal[:, 1] * away[:, 0] - normal[:, 0] * away[:, 1])[good]
        weight = float(pull @ pull)
        if weight > 0:
            angle -= float(pull @ offset[good]) / weight
    return angle


def find_mirror(evidence: Evidence, correlator: Correlator) -> RosetteFit | None:
    """Return a single mirror, its angle from the lines' directions."""
    best: RosetteFit | None = None
    for angle, centre, rows in _mirrors(evidence, correlator):
        for level in range(len(LADDER)):
            fit, weakest = _scored(evidence, rows, angle, centre, level)
            if fit is not None and fit.share >= ACCEPT and weakest >= RING:
                if best is None or fit.share > best.share:
                    best = fit
                break
    return best


def hold_mirror(
    evidence: Evidence, correlator: Correlator, level: int
) -> RosetteFit | None:
    """Return the single mirror that fits best, however many lines keep it.

    `level`: step of the ladder at which it is scored. None where no line votes for any.
    """
    found = [
        _scored(evidence, rows, angle, centre, level)[0]
        for angle, centre, rows in _mirrors(evidence, correlator)
    ]
    known = [fit for fit in found if fit is not None]
    return max(known, key=lambda fit: fit.share, default=None)


def _mirrors(
    evidence: Evidence, correlator: Correlator
) -> Iterator[tuple[float, Floats, Ints]]:
    """Yield the angles and places of mirrors that lines vote for.

    With each comes which samples tell of it.
    """
    heading = headings(evidence)
    bins = len(heading)
    # agreement of h(θ) with h(2α - θ), for every 2α
    agree = np.fft.ifft(np.fft.fft(heading) ** 2).real
    own = float(heading @ heading)
    picks: list[int] = []
    for k in np.argsort(-agree, kind="stable"):
        if agree[k] < 0.6 * own or len(picks) == 6:
            break
        apart = [min((k - q) % bins, (q - k) % bins) for q in picks]
        if all(a > 2 for a in apart):
            picks.append(int(k))
    for k in picks:
        for half in (0, 1):
            axis = ((k + 1) / bins * math.pi) / 2 + half * math.pi / 2
            yield from _mirrors_at(evidence, correlator, axis)


def _mirrors_at(
    evidence: Evidence, correlator: Correlator, axis: float
) -> Iterator[tuple[float, Floats, Ints]]:
    """Yield mirrors about an angle, refined."""
    share, expected, back = voted(evidence, correlator, reflection(axis))
    share[expected < 0.4 * len(evidence.samples)] = 0
    shifts, _ = correlator.peaks(share, 2, 0.4)
    along = np.array([math.cos(axis), math.sin(axis)])
    across = np.array([-along[1], along[0]])
    rows = evidence.thin(2500)
    # lines straight across fall on themselves wherever the mirror is
    rows = rows[np.abs(evidence.directions.take(rows, axis=0) @ across) < 0.97]
    if len(rows) < 24:
        return
    middle = evidence.samples.mean(axis=0)
    for shift in shifts + back:
        # a mirror shifts nothing along its axis; a slightly wrong angle does
        place = across * float(shift @ across) / 2
        centre = place + along * float((middle - place) @ along)
        angle = axis
        for tolerance in (0.16, 0.16, 0.12, 0.08, 0.06):
            turned = reflection(angle)
            away = (evidence.samples.take(rows, axis=0) - centre) @ turned.T
            distance, offset, normal = evidence.index.nearest(
                away + centre, evidence.directions.take(rows, axis=0) @ turned.T
            )
            good = distance <= tolerance * evidence.scale
            if good.sum() < 12:
                break
            side = np.array([-math.sin(angle), math.cos(angle)])
            pull = 2 * (normal[:, 1] * away[:, 0] - normal[:, 0] * away[:, 1])[good]
            push = 2 * (normal[good] @ side)
            design = np.stack([pull, push], axis=1)
            step, *_ = np.linalg.lstsq(design, -offset[good], rcond=None)
            angle += float(step[0])
            centre = centre + side * float(step[1])
        yield angle, centre, rows


def _scored(
    evidence: Evidence, rows: Ints, angle: float, centre: Floats, level: int
) -> tuple[RosetteFit | None, float]:
    """Return a mirror at a step of the ladder, and its share in the weakest ring.

    None in its place where too few of its images are seen.
    """
    maps = [about(reflection(angle), centre)]
    carried = Carried(evidence, rows, centre, maps, level)
    total, weakest, rms, want = carried.scores(level)
    if want[0] < max(0.5, least_seen(evidence)) * len(rows):
        return None, 0.0
    fit = RosetteFit(1, angle, centre, level, float(total[0]), float(rms[0]))
    return fit, float(weakest[0])
