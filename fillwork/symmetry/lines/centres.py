"""Where lines may turn: centres voted for, and those of figures that are cut."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.crossings import cross
from fillwork.symmetry.lines.fit import refine_shifts
from fillwork.symmetry.lines.turning import about, images_of, rotation

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Floats32, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator

_HEADINGS = 360  # of half a turn, that are told apart
_CHORD = 0.5  # share of its hull's width that the cut of a figure has at least
_STRAIGHT = 0.01  # of it: how far lines may end from the cut


def headings(evidence: Evidence) -> Floats:
    """Return how much line heads each way, over half a turn, smoothed."""
    angle = np.arctan2(evidence.directions[:, 1], evidence.directions[:, 0]) % math.pi
    cells = (angle / math.pi * _HEADINGS).astype(np.intp) % _HEADINGS
    count = np.bincount(cells, minlength=_HEADINGS).astype(np.float64)
    soft = np.exp(-2 * (np.fft.fftfreq(_HEADINGS) * 2 * np.pi) ** 2)
    return np.asarray(np.fft.ifft(np.fft.fft(count) * soft).real)


def voted(
    evidence: Evidence, correlator: Correlator, linear: Floats
) -> tuple[Floats32, Floats32, Floats]:
    """Return the votes for each shift of the lines mapped about their middle.

    With them the samples expected, and that map's own shift.
    """
    ends = evidence.segments.reshape(-1, 2)
    middle = 0.5 * (ends.min(axis=0) + ends.max(axis=0))
    back = middle - linear @ middle
    points, directions, weights = correlator.gathered
    share, expected = correlator.votes(
        points @ linear.T + back, directions @ linear.T, 64.0, weights=weights
    )
    return share, expected, back


def voted_centres(
    evidence: Evidence, correlator: Correlator, primes: tuple[int, ...]
) -> list[tuple[Floats, tuple[int, ...]]]:
    """Return centres with the prime whose turns voted for each."""
    found: list[tuple[Floats, tuple[int, ...]]] = []
    heading = headings(evidence)
    spectrum = np.fft.fft(heading)
    own = float((np.abs(spectrum) ** 2).sum())
    for p in primes:
        # lines of a p-fold pattern head p-fold ways; a half turn keeps them all
        step = len(heading) * max(p // 2, 1) * 2 // p
        wave = np.exp(2j * np.pi * np.fft.fftfreq(len(heading)) * step)
        if p > 2 and float((np.abs(spectrum) ** 2 * wave).sum().real) < 0.5 * own:
            continue
        linear = rotation(2 * math.pi * max(p // 2, 1) / p)
        share, expected, back = voted(evidence, correlator, linear)
        share[expected < 0.15 * len(evidence.samples)] = 0
        shifts, _ = correlator.peaks(share, 2, 0.3)
        shifts = shifts + back
        found.extend((np.linalg.solve(np.eye(2) - linear, s), (p,)) for s in shifts)
    return found


def refine_centre(evidence: Evidence, rows: Ints, centre: Floats, n: int) -> Floats:
    """Return a centre moved to where turns of an order fit the lines best."""
    linear = rotation(2 * math.pi * max(n // 2, 1) / n)
    images, shifts = images_of(evidence, rows, [about(linear, centre)])
    shifts = refine_shifts(evidence, images, shifts, (0.16, 0.16, 0.1, 0.06, 0.04))
    return np.asarray(np.linalg.solve(np.eye(2) - linear, shifts[0]))


def cut_figures(evidence: Evidence) -> list[tuple[Floats, Evidence]]:
    """Return where a figure of which a half or a quarter is drawn may turn.

    That is the middle of a straight cut, or where two of them meet. With each comes
    the evidence without the lines along the cut: they are the frame's.
    """
    import shapely

    slack = _STRAIGHT * float(np.ptp(evidence.samples, axis=0).max())
    hull = shapely.convex_hull(shapely.multipoints(evidence.samples))
    if not isinstance(hull, shapely.Polygon):
        return []
    corner = shapely.get_coordinates(shapely.simplify(hull, slack))[:-1]
    # the first corner is always kept: once more, begun from another
    again = shapely.polygons(np.roll(corner, -1, axis=0))
    corner = shapely.get_coordinates(shapely.simplify(again, slack))[:-1]
    side = np.roll(corner, -1, axis=0) - corner
    length = np.hypot(*side.T)
    long = np.flatnonzero(length > _CHORD * float(np.ptp(corner, axis=0).max()))
    # a hull with more long sides is a frame
    if not 1 <= len(long) <= 2:
        return []
    kept = np.ones(len(evidence.samples), dtype=bool)
    for k in long:
        away = cross(side[k], evidence.samples - corner[k]) / length[k]
        kept &= np.abs(away) > slack
    beside = replace(
        evidence,
        samples=evidence.samples[kept],
        directions=evidence.directions[kept],
        piece=evidence.piece[kept],
    )
    found = [corner[k] + side[k] / 2 for k in long]
    if len(long) == 2:
        found = [corner[k] for k in long if (k - 1) % len(corner) in long]
    return [(centre, beside) for centre in found] if kept.any() else []
