"""Families: kinds of like shape and size, whatever the symmetry says of them.

Symmetry parts what the eye joins: the points of one star fall into two kinds, tiles
drawn by hand into as many as there are tiles. A *family* is a set of kinds whose
regions have one shape and one size within a tolerance, mirror images too. Outlines
are compared at equal steps of their length, so a joint on a straight side changes
nothing. How far two outlines lie apart is the root mean square distance of their
points, laid on each other as well as turns and mirrors can, over the root of the
area.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Complexes, Floats, Ints

ALIKE = 0.03  # outlines of one family lie so far apart at most, in roots of the area
_SAMPLES = 64  # points along an outline
_WAVES = 20  # of its Fourier series, on both sides of the constant
_STEPS = 256  # starts along the outline that are tried
_LENGTH = 0.1  # of the boundary, by which two outlines differ at most


def class_families(
    arrangement: Arrangement, faces: AnyInts, weight: AnyInts, *, alike: float = ALIKE
) -> Ints:
    """Class faces by shape and size.

    `faces` (n,): the faces to class, such as one for each kind. `weight` (n,): how many
    faces each stands for: the commonest lead a family. `alike`: how far outlines of one
    family may lie apart, in roots of the area. Returns (n,): number of the family, from
    0; the commonest first.

    Families are gathered about their leader and not from neighbour to neighbour, so
    that a row of shapes each a little larger than the last is not one family.
    """
    faces = np.asarray(faces)
    family = np.full(len(faces), -1, dtype=np.int64)
    if len(faces) == 0:
        return family
    series, length = _series(arrangement, faces)
    size = np.sqrt(np.maximum(arrangement.area[faces], 1e-300))
    holes = np.diff(arrangement.face_ring_start)[faces]
    strength = np.abs(series)
    order = np.lexsort((faces, -np.round(size, 6), -np.asarray(weight)))
    by_size = np.argsort(size, kind="stable")
    sizes = size[by_size]
    used = 0
    for lead in order:
        if family[lead] >= 0:
            continue
        near = slice(
            int(np.searchsorted(sizes, size[lead] * (1 - alike))),
            int(np.searchsorted(sizes, size[lead] * (1 + alike), side="right")),
        )
        rows = by_size[near]
        rows = rows[(family[rows] < 0) & (holes[rows] == holes[lead])]
        rows = rows[np.abs(length[rows] - length[lead]) <= _LENGTH * length[lead]]
        # turns, starts and mirrors leave the strengths alone
        apart = np.sqrt(((strength[rows] - strength[lead]) ** 2).sum(axis=1))
        limit = alike * size[lead]
        rows = rows[apart <= limit]
        rows = rows[_apart(series[rows], series[lead]) <= limit]
        family[rows] = used
        family[lead] = used
        used += 1
    return family


def _series(arrangement: Arrangement, faces: AnyInts) -> tuple[Complexes, Floats]:
    """Return the Fourier series of the outer outlines, and their lengths, mm."""
    rings = arrangement.face_ring_start[faces]
    start = arrangement.ring_start[rings]
    count = (arrangement.ring_start[rings + 1] - start).astype(np.int64)
    owner, member = expand_ranges(start, count)
    half = arrangement.ring_half_edge[member]
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    step = np.hypot(*(q - p).T)
    length = np.maximum(np.bincount(owner, step, len(faces)), 1e-300)
    # all outlines laid end to end, each of length 1
    run = np.concatenate([[0.0], np.cumsum(step / length[owner])])
    at = np.arange(_SAMPLES) / _SAMPLES + run[np.cumsum(count) - count][:, None]
    side = np.clip(np.searchsorted(run, at.ravel(), side="right") - 1, 0, len(p) - 1)
    share = (at.ravel() - run[side]) / np.maximum(run[side + 1] - run[side], 1e-300)
    points = p[side] + np.clip(share, 0, 1)[:, None] * (q - p)[side]
    z = (points[:, 0] + 1j * points[:, 1]).reshape(len(faces), _SAMPLES)
    series = np.fft.fft(z, axis=1) / _SAMPLES
    keep = [*range(1, _WAVES + 1), *range(-_WAVES, 0)]
    return np.ascontiguousarray(series[:, keep]), length


def _apart(series: Complexes, lead: Complexes) -> Floats:
    """Return how far outlines lie from one, turned or mirrored to fit best, mm."""
    if len(series) == 0:
        return np.zeros(0)
    waves = np.array([*range(1, _WAVES + 1), *range(-_WAVES, 0)])
    power = (np.abs(series) ** 2).sum(axis=1) + float((np.abs(lead) ** 2).sum())
    best = np.zeros(len(series))
    for other in (lead, np.conj(lead)):
        spread = np.zeros((len(series), _STEPS), np.complex128)
        spread[:, waves] = series * np.conj(other)
        # whatever the start, the best turn makes the sum real and positive
        value = np.abs(np.fft.ifft(spread, axis=1)).max(axis=1) * _STEPS
        best = np.maximum(best, value)
    return np.asarray(np.sqrt(np.maximum(power - 2 * best, 0.0)))
