"""How maps about a centre carry lines: what is scored of turns and mirrors."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.lines.evidence import REACH
from fillwork.symmetry.lines.fit import LADDER, Images, missed_places
from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.lines.window import widen_window

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Bools, Floats, Floats32, Ints
    from fillwork.symmetry.lines.evidence import Evidence


SEEN, SEEN_FREE = 0.2, 0.75  # share of the lines whose images must be seen
RINGS = 6
_APART = 4.0  # mean distances between lines that are one scale at most
ALWAYS = 64  # orders up to here are always scored
PARTS = (0.34, 0.382, 0.45)  # parts of a turn by which orders that large are told
_PLACE = 0.1  # how wide a place is, in scales
TELLING = 24  # samples that must tell of turns about a centre


def rotation(angle: float) -> Floats:
    """Return the matrix of a counter-clockwise turn.

    `angle`: radians. Returns (2, 2): for columns.
    """
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s], [s, c]])


def reflection(angle: float) -> Floats:
    """Return the matrix of the mirror at an angle to the x axis.

    `angle`: radians. Returns (2, 2): for columns.
    """
    c, s = math.cos(2 * angle), math.sin(2 * angle)
    return np.array([[c, s], [s, -c]])


def _margin(evidence: Evidence) -> float:
    """Return by how much `widened` grows the window, mm."""
    return 0.2 * evidence.scale + 3 * evidence.window.pixel


def _distance_apart(evidence: Evidence) -> float:
    """Return how far lines lie from their neighbours in the mean, mm."""
    length = float(evidence.index.length.sum())
    return evidence.window.area / length


def widened(evidence: Evidence) -> Evidence:
    """Return evidence whose window and scale suit turns."""
    # long lines that lie close, as spokes do: a miss counts beside their distance
    apart = _distance_apart(evidence)
    # a sliver may be narrower than the window's grid
    scale = min(evidence.scale, _APART * apart) if apart > 0 else evidence.scale
    if scale < 0.5 * evidence.scale:
        # no miss is measured that far: where lines crowd, few are asked
        index = LineIndex(evidence.segments, REACH * scale)
        evidence = replace(evidence, index=index)
    evidence = replace(evidence, scale=scale)
    return replace(evidence, window=widen_window(evidence.window, _margin(evidence)))


def images_of(
    evidence: Evidence, rows: Ints, maps: list[tuple[Floats, Floats]]
) -> tuple[Images, Floats]:
    """Return the images of samples under maps.

    `maps`: linear parts and shifts, mm. Returns `images`: all of them, map by map;
    `shifts` (maps, 2): shifts, mm.
    """
    samples, ways = (
        evidence.samples.take(rows, axis=0),
        evidence.directions.take(rows, axis=0),
    )
    points = [samples @ linear.T for linear, _ in maps]
    directions = [ways @ linear.T for linear, _ in maps]
    images = Images(
        np.concatenate(points),
        np.concatenate(directions),
        np.repeat(np.arange(len(maps)), len(rows)),
        np.ones(len(maps) * len(rows)),
        np.tile(rows, len(maps)),
        len(maps),
    )
    return images, np.array([shift for _, shift in maps])


def about(linear: Floats, centre: Floats) -> tuple[Floats, Floats]:
    """Return a linear map about a centre.

    `linear` (2, 2): turn or mirror. `centre` (2,): what it keeps, mm. Returns `linear`
    (2, 2): the same; `shift` (2,): what follows it, mm.
    """
    return linear, centre - linear @ centre


def telling_samples(evidence: Evidence, centre: Floats, most: int = 2500) -> Ints:
    """Return samples that chance turns about the centre do not keep.

    Rows of the samples. `centre` (2,): the centre, mm. `most`: samples that are looked
    at.
    """
    rows = evidence.thin(most)
    rng = np.random.default_rng(3)
    angles = rng.uniform(0.1, 2 * np.pi - 0.1, 24)
    images, shifts = images_of(
        evidence, rows, [about(rotation(a), centre) for a in angles]
    )
    points = images.at(shifts)
    seen = evidence.window.depth_at(points) > 0
    some = np.flatnonzero(seen)
    distance, _, _ = evidence.index.nearest(
        points.take(some, axis=0), images.directions.take(some, axis=0)
    )
    # a line anywhere is hit with a chance of twice the tolerance over the distance
    tolerance = min(0.06 * evidence.scale, 0.15 * _distance_apart(evidence))
    hit = np.zeros(len(points), bool)
    hit[seen] = distance <= tolerance
    chances = np.maximum(seen.reshape(len(angles), -1).sum(axis=0), 1)
    telling: Ints = rows[hit.reshape(len(angles), -1).sum(axis=0) < 0.45 * chances]
    if len(telling) >= TELLING:
        return telling
    # the sides of a polygon that lies near a circle tell of turns by less
    hit[seen] = distance <= LADDER[0] * evidence.scale
    kept = hit.reshape(len(angles), -1).sum(axis=0) < 0.45 * chances
    return np.asarray(rows[kept & _on_straight_lines(evidence, rows)])


def _on_straight_lines(evidence: Evidence, rows: Ints) -> Bools:
    """Return which samples lie on lines between two corners that do not bend."""
    heading = (evidence.directions.take(rows, axis=0) @ np.array([1, 1j])) ** 2
    _, piece, count = np.unique(
        evidence.piece[rows], return_inverse=True, return_counts=True
    )
    mean = np.bincount(piece, heading.real) + 1j * np.bincount(piece, heading.imag)
    return np.asarray(np.abs(mean / count)[piece] > 1 - 1e-6)


class Carried:
    """Lines carried by maps about a centre, and how near other lines lie.

    `evidence`: the drawing. `rows`: samples that are carried. `centre` (2,): what the
    maps leave where it is, mm. `loosest`: the last step of the tolerance ladder that
    will be asked for.
    """

    def __init__(
        self,
        evidence: Evidence,
        rows: Ints,
        centre: Floats,
        maps: list[tuple[Floats, Floats]],
        loosest: int,
    ) -> None:
        self.evidence = evidence
        self.count = len(maps)
        radius = np.hypot(*(evidence.samples.take(rows, axis=0) - centre).T)
        self.centre = centre
        self.maps = maps
        self.rows = rows
        order = np.argsort(radius, kind="stable")
        ring = np.empty(len(rows), np.intp)
        ring[order] = np.arange(len(rows)) * RINGS // len(rows)
        images, shifts = images_of(evidence, rows, maps)
        points = images.at(shifts)
        depth = evidence.window.depth_at(points)
        inside = np.flatnonzero(depth > self._edge(loosest))
        self.depth = depth.take(inside)
        self.distance, _, _ = evidence.index.nearest(
            points.take(inside, axis=0), images.directions.take(inside, axis=0)
        )
        self.owner = images.owner.take(inside)
        self._close: dict[tuple[int, int], tuple[Ints, Floats32, Floats]] = {}
        self.key = self.owner * RINGS + np.tile(ring, len(maps))[inside]

    def _edge(self, level: int) -> float:
        # lines on the outline of a figure that stands free testify too
        limit = LADDER[level] * self.evidence.scale
        return _margin(self.evidence) - 1.2 * limit - self.evidence.window.pixel

    def scores(self, level: int) -> tuple[Floats, Floats, Floats, Floats]:
        """Return share, weakest ring's share, rms and images expected of each map.

        `level`: step of the tolerance ladder. Returns `share` and `weakest` and `rms`
        and `expected` (maps,): rms in mm.
        """
        inside = self.depth > self._edge(level)
        distance, owner, key = (
            self.distance[inside],
            self.owner[inside],
            self.key[inside],
        )
        hit = distance <= LADDER[level] * self.evidence.scale
        size = self.count * RINGS
        want = np.bincount(key, minlength=size).reshape(-1, RINGS)
        have = np.bincount(key[hit], minlength=size).reshape(-1, RINGS)
        rings = np.where(want >= 8, have / np.maximum(want, 1), 1.0)
        square = np.bincount(
            owner[hit], weights=distance[hit] ** 2, minlength=self.count
        )
        total = want.sum(axis=1)
        share = have.sum(axis=1) / np.maximum(total, 1)
        rms = np.sqrt(square / np.maximum(have.sum(axis=1), 1))
        return share, rings.min(axis=1), rms, total.astype(np.float64)

    def lacking(self, number: int, known: int, level: int) -> float:
        """Return the share of the lines that a map misses wherever they repeat.

        Share of its images that should lie on lines. `known`: order of turns that hold,
        by which the lines are folded. `level`: step of the tolerance ladder.
        """
        if known < 2:
            return 0.0
        evidence = self.evidence
        if (number, known) not in self._close:
            # a small detail needs more samples than the rest
            samples, directions = evidence.closely()
            linear, shift = self.maps[number]
            points = samples @ linear.T + shift
            distance, _, _ = evidence.index.nearest(points, directions @ linear.T)
            depth = evidence.window.depth_at(points)
            places = _folded_places(evidence, samples, directions, self.centre, known)
            self._close[number, known] = places, depth, distance
        places, depth, distance = self._close[number, known]
        # a line that stands a little off is a miss, and no line that lacks
        level = min(level + 2, len(LADDER) - 1)
        mine = depth > self._edge(level)
        if not mine.any():
            return 0.0
        hit = distance[mine] <= LADDER[level] * evidence.scale
        return float(missed_places(places[mine], hit).mean())


def _folded_places(
    evidence: Evidence, samples: Floats, directions: Floats, centre: Floats, n: int
) -> Ints:
    """Return numbers of the places of samples; turns by 1/n change none."""
    away = samples - centre
    radius = np.hypot(away[:, 0], away[:, 1])
    angle = np.arctan2(away[:, 1], away[:, 0])
    heading = np.arctan2(directions[:, 1], directions[:, 0])
    step = _PLACE * evidence.scale
    ring = (radius / step).astype(np.intp)
    sector = 2 * math.pi / n
    parts = np.maximum(np.round((ring + 0.5) * step * sector / step), 1).astype(np.intp)
    place = (angle % sector / sector * parts).astype(np.intp)
    way = np.floor((heading - angle) / (math.pi / 4)).astype(np.intp) % 4
    most = int(parts.max(initial=0)) + 1
    return np.asarray((ring * most + place) * 4 + way)


def _steps(n: int, part: float = PARTS[0]) -> int:
    """Return how many nths of a turn tell an order from its neighbours.

    The smallest turn of a large order is hardly another one's.
    """
    if n <= ALWAYS:
        return 1
    return next(k for k in range(int(part * n), n) if math.gcd(k, n) == 1)


def turned_by_all(
    evidence: Evidence,
    centre: Floats,
    rows: Ints,
    loosest: int,
    numbers: Sequence[int],
    part: float = PARTS[0],
) -> Carried:
    """Return the lines turned about a centre by 1/2, 1/3 and so on of a turn.

    Map by map as `numbers`. `centre` (2,): the centre, mm. `rows`: samples that are
    turned. `loosest`: the last step of the tolerance ladder that will be asked for.
    `numbers`: orders: by which parts of a turn. `part`: of large orders, the part of a
    turn that their power lies beyond.
    """
    turns = [2 * math.pi * _steps(n, part) / n for n in numbers]
    maps = [about(rotation(turn), centre) for turn in turns]
    return Carried(evidence, rows, centre, maps, loosest)


def least_seen(evidence: Evidence) -> float:
    """Return the share of lines whose images must fall in the window.

    A crop hides images. Of figures on an empty ground nothing is hidden: they
    must not testify only where they happen to fall on each other.

    Share of all samples.
    """
    return SEEN_FREE if evidence.free else SEEN
