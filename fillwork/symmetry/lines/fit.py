"""How well an isometry fits the lines: votes for shifts, refinement, scores.

For a given linear part every shift is weighed at once by a correlation of two
grids (through the fast Fourier transform); lines of unlike direction hardly
count. The best few shifts are then refined by least squares on the distances
from images of samples to the nearest lines, and scored by the share of the
expected images that are matched.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.grids import fast_length, local_peaks

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Floats32, Ints
    from fillwork.symmetry.lines.evidence import Evidence

_MARGIN = 8  # cells about a grid, twice a drawing's size
_MISSED = 0.15  # share of a place's images that are matched at most where it is missed
_TOLD = 6  # images by which a place is judged at least

FEW_SAMPLES = 20_000
"""Samples above which those alike in one cell are taken as one."""

_WAYS = 64  # ways to head that are told apart among these

# tolerances that are tried in turn, in scales
LADDER = (0.006, 0.015, 0.03, 0.06, 0.1)

LOOSER = 2
"""Steps of it by which an operation must still fail, to be refuted."""

MISSES = 3.0
"""Times the miss of shifts by which lines must miss, else."""


class Correlator:
    """Weigh all shifts of a set of directed samples against the lines.

    `evidence`: the drawing. `most_cells`: size of the padded grid.
    """

    def __init__(self, evidence: Evidence, most_cells: int = 1_600_000) -> None:
        ends = evidence.segments.reshape(-1, 2)
        low, high = ends.min(axis=0), ends.max(axis=0)
        width, height = np.maximum(high - low, evidence.scale)
        # those about a long narrow drawing count as well
        least = 2 * _MARGIN * (width + height) / most_cells
        least = max(least, np.sqrt(4 * width * height / most_cells))
        self.cell = float(max(evidence.scale / 4, least))
        # twice the size, so that a shift never wraps onto the drawing
        self.shape = (
            fast_length(2 * int(np.ceil(height / self.cell)) + _MARGIN),
            fast_length(2 * int(np.ceil(width / self.cell)) + _MARGIN),
        )
        self.corner = low
        ky = np.fft.fftfreq(self.shape[0]).astype(np.float32)[:, None]
        kx = np.fft.fftfreq(self.shape[1]).astype(np.float32)[None, :]
        # both grids blurred by 0.6 cells
        self.blur = np.exp(-((2 * np.pi * 0.6) ** 2) * (kx**2 + ky**2))
        self.evidence = evidence
        self.target = self.spectra(evidence.samples, evidence.directions)
        rows, columns = self.shape
        y, x = np.mgrid[0:rows, 0:columns]
        centres = np.stack([x.ravel(), y.ravel()], axis=1) * self.cell + self.corner
        inside = evidence.window.depth_at(centres) > 0
        mask = np.fft.rfft2(inside.reshape(self.shape).astype(np.float32))
        self.mask = mask.astype(np.complex64)
        self._own: tuple[Floats32, Floats32] | None = None

    def _grid(self, points: Floats, weights: Floats | None = None) -> Floats32:
        cells = np.rint((points - self.corner) / self.cell).astype(np.intp)
        rows, columns = self.shape
        flat = (cells[:, 1] % rows) * columns + cells[:, 0] % columns
        total = np.bincount(flat, weights=weights, minlength=rows * columns)
        return total.astype(np.float32).reshape(self.shape)

    @cached_property
    def gathered(self) -> tuple[Floats, Floats, Floats]:
        """Return the samples, those alike in one cell of the grid taken as one.

        Returns `points` and `directions` (n, 2): mean places, mm, and unit vectors; no
        more than cells and ways to head; `weights` (n,): how many samples each stands
        for.
        """
        points, directions = self.evidence.samples, self.evidence.directions
        if len(points) <= FEW_SAMPLES:
            return points, directions, np.ones(len(points))
        cells = np.rint((points - self.corner) / self.cell).astype(np.int64)
        angle = np.arctan2(directions[:, 1], directions[:, 0]) % math.pi
        way = (angle / math.pi * _WAYS).astype(np.int64) % _WAYS
        key = (cells[:, 1] * (self.shape[1] + 1) + cells[:, 0]) * _WAYS + way
        _, row = np.unique(key, return_inverse=True)
        weights = np.bincount(row).astype(np.float64)
        # lines have no sense: heads within a bin are turned the same way
        turned = directions * np.where(directions[:, 1:] < 0, -1.0, 1.0)

        def mean(values: Floats) -> Floats:
            sums = [np.bincount(row, weights=column) for column in values.T]
            return np.stack(sums, axis=1) / weights[:, None]

        heads = mean(turned)
        heads /= np.maximum(np.hypot(heads[:, 0], heads[:, 1]), 1e-12)[:, None]
        return mean(points), heads, weights

    def spectra(
        self, points: Floats, directions: Floats, weights: Floats | None = None
    ) -> list[NDArray[np.complex64]]:
        """Return the transforms of the samples' density and direction fields.

        Of the density and of its second and fourth angular harmonics. `points` and
        `directions` (n, 2): samples, mm, and unit vectors. `weights` (n,): how many
        samples each stands for; one by default.
        """
        double = (directions[:, 0] + 1j * directions[:, 1]) ** 2
        each = 1.0 if weights is None else weights
        fields = [self._grid(points, weights)]
        fields += [
            self._grid(points, v.real) + 1j * self._grid(points, v.imag)
            for v in (each * double, each * double**2)
        ]
        # numpy 1 gives double precision
        return [
            np.fft.fft2(f.astype(np.complex64)).astype(np.complex64) for f in fields
        ]

    def votes(
        self,
        points: Floats,
        directions: Floats,
        doubt: float,
        target: list[NDArray[np.complex64]] | None = None,
        weights: Floats | None = None,
    ) -> tuple[Floats32, Floats32]:
        """Return the share of samples that fall on like lines, for every shift.

        `points` and `directions` (n, 2): samples to shift, mm, and unit vectors. Points
        may be moved by whole cells of the grid's size first; shifts wrap. `doubt`:
        samples' worth of disagreement that is added to each shift, so that shifts with
        little evidence do not win by chance. `target`: what `spectra` gives for the
        samples to fall on; all by default. `weights` (n,): how many samples each stands
        for; one by default. Returns `share` (rows, columns): about 1 where all agree;
        by shift in cells, wrapped; `expected`: how many samples fall inside the window.
        """
        source = self.spectra(points, directions, weights)
        count = len(points) if weights is None else float(weights.sum())
        product = np.zeros(self.shape, np.complex64)
        for factor, a, b in zip(
            (1, 4 / 3, 2 / 3), target or self.target, source, strict=True
        ):
            product += np.float32(factor) * a * np.conj(b)
        agree = np.fft.ifft2(product * self.blur).real
        unit = float(self._power(source).mean()) / count
        expected = self._expected(source[0])
        share = agree / (unit * (expected + np.float32(doubt)))
        return share.astype(np.float32), expected

    def _power(self, fields: list[NDArray[np.complex64]]) -> Floats32:
        """Return the spectrum of how samples agree with themselves when shifted."""
        power = np.zeros(self.shape, np.float32)
        for factor, b in zip((1, 4 / 3, 2 / 3), fields, strict=True):
            power += np.float32(factor) * (b.real**2 + b.imag**2)
        return np.asarray(power * self.blur)

    def _expected(self, density: NDArray[np.complex64]) -> Floats32:
        """Return how many samples fall inside the window, for every shift."""
        # of a real field half of the spectrum says all
        half = density[:, : self.mask.shape[1]]
        expected = np.fft.irfft2(self.mask * np.conj(half), s=self.shape)
        return np.maximum(expected, 0).astype(np.float32)

    def own_votes(self) -> tuple[Floats32, Floats32]:
        """Return how many samples fall on like lines for every translation.

        Returns `agree` and `expected` (rows, columns): samples that fall on like lines,
        and samples that fall inside the window, under a translation and its inverse
        together; by shift in cells, wrapped.
        """
        if self._own is None:
            # a shift and its inverse together: the spectrum is even as well as real
            power = self._power(self.target)
            power = power + np.roll(power[::-1, ::-1], (1, 1), axis=(0, 1))
            agree = np.fft.irfft2(power[:, : self.mask.shape[1]], s=self.shape)
            unit = float(agree[0, 0]) / (2 * len(self.evidence.samples))
            expected = self._expected(self.target[0])
            mirrored = np.roll(expected[::-1, ::-1], (1, 1), axis=(0, 1))
            self._own = (agree / unit).astype(np.float32), expected + mirrored
        return self._own

    def own_shares(self) -> tuple[Floats32, Floats32]:
        """Return the share of samples that agree under shifts, one of each pair.

        Those that leave little overlap match well by chance where lines are dense, so
        that some disagreement is added. Returns `share` (rows, columns): 0 for the
        second of each pair v, -v and for none at all; `expected`: as for `own_votes`.
        """
        doubt = max(32.0, 0.1 * len(self.evidence.samples))
        agree, expected = self.own_votes()
        share = agree / (expected + np.float32(2 * doubt))
        rows, columns = share.shape
        share[rows // 2 + 1 :] = 0
        share[0, columns // 2 :] = 0
        share[0, :2] = 0
        return share, expected

    def folded(
        self,
        agree: Floats32,
        expected: Floats32,
        along: Floats,
        doubt: float,
        least: float,
    ) -> Floats32:
        """Return the share that agree, shifts by a translation taken together.

        Shifts that differ by whole multiples of a translation hold or fail together.

        `agree` and `expected` (rows, columns): samples that fall on like lines, and
        samples expected on lines; by shift in cells, wrapped. `along` (2,): the
        translation, mm. `doubt`: samples' worth of disagreement that is added. `least`:
        samples that must be expected. Returns (rows, columns): about 1 where all agree;
        0 but within half a translation each way.
        """
        rows, columns = self.shape
        size = float(np.hypot(*along))
        y, x = np.mgrid[
            -(rows // 2) + 1 : rows // 2, -(columns // 2) + 1 : columns // 2
        ]
        run = (x * along[0] + y * along[1]) * (self.cell / size**2)
        keep = np.abs(run) <= 0.55
        y, x = y[keep], x[keep]
        votes, total = np.zeros(len(x)), np.zeros(len(x))
        most = int(np.hypot(rows, columns) * self.cell / size) + 1
        for k in range(-most, most + 1):
            step = np.rint(k * along / self.cell).astype(np.intp)
            u, v = x + step[0], y + step[1]
            # beyond half of the grid shifts wrap
            there = (np.abs(u) < columns // 2) & (np.abs(v) < rows // 2)
            votes[there] += agree[v[there], u[there]]
            total[there] += expected[v[there], u[there]]
        share = np.zeros(self.shape, np.float32)
        share[y, x] = np.where(total >= least, votes / (total + doubt), 0)
        return share

    def peaks(self, share: Floats32, count: int, least: float) -> tuple[Floats, Floats]:
        """Return the shifts of the highest local maxima.

        `share` (rows, columns): as `votes` gives it. `count`: how many at most.
        `least`: smallest share. Returns `shifts` (n, 2): shifts in mm, best first;
        `values` (n,): their shares.
        """
        row, column = np.nonzero(local_peaks(share) & (share > least))
        value = share[row, column]
        order = np.argsort(-value, kind="stable")[:count]
        row, column, value = row[order], column[order], value[order]
        rows, columns = self.shape

        def offset(before: Floats32, here: Floats32, after: Floats32) -> Floats:
            """Return where a parabola through three values peaks."""
            bend = before - 2 * here + after
            shift = 0.5 * (before - after) / np.where(bend < 0, bend, -1.0)
            return np.clip(shift, -0.5, 0.5).astype(np.float64)

        dy = offset(share[row - 1, column], value, share[(row + 1) % rows, column])
        dx = offset(share[row, column - 1], value, share[row, (column + 1) % columns])
        y = np.where(row > rows // 2, row - rows, row) + dy
        x = np.where(column > columns // 2, column - columns, column) + dx
        return np.stack([x, y], axis=1) * self.cell, value.astype(np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Images:
    """Hold images of samples under several hypotheses, before their shifts."""

    # points and directions, (n, 2): images under the linear part, mm, and unit vectors
    points: Floats
    directions: Floats
    owner: Ints  # (n,): which hypothesis
    # (n,): +1 where the hypothesis' shift is added, -1 where it is taken off
    sign: Floats
    source: Ints  # (n,): the sample that each comes from
    count: int  # number of hypotheses

    def at(self, shifts: Floats) -> Floats:
        """Return the images with their shifts.

        `shifts` (count, 2): shift of each hypothesis, mm. Returns (n, 2): points, mm.
        """
        return self.points + self.sign[:, None] * shifts.take(self.owner, axis=0)

    def take(self, rows: Ints | Bools) -> Images:
        """Return some of the images."""
        return Images(
            self.points[rows],
            self.directions[rows],
            self.owner[rows],
            self.sign[rows],
            self.source[rows],
            self.count,
        )


def _solve_2x2(matrix: Floats, right: Floats, ridge: Floats) -> Floats:
    a, b, c = matrix[:, 0] + ridge, matrix[:, 1], matrix[:, 2] + ridge
    determinant = a * c - b * b
    safe = np.where(determinant > 0, determinant, 1.0)
    x = (c * right[:, 0] - b * right[:, 1]) / safe
    y = (a * right[:, 1] - b * right[:, 0]) / safe
    return np.where(determinant[:, None] > 0, np.stack([x, y], axis=1), 0.0)


def refine_shifts(
    evidence: Evidence,
    images: Images,
    shifts: Floats,
    tolerances: tuple[float, ...] = (0.16, 0.12, 0.06),
) -> Floats:
    """Return shifts improved by least squares of images to lines.

    `images`: images of samples, before their shifts. `shifts` (count, 2): where to
    start, mm. `tolerances`: farthest miss that counts in each round, in scales. Returns
    (count, 2): better shifts, mm.
    """
    shifts = shifts.copy()
    ways = evidence.index.ways(images.directions)
    for tolerance in tolerances:
        distance, offset, normal = evidence.index.nearest(
            images.at(shifts), images.directions, ways
        )
        good = np.flatnonzero(distance <= tolerance * evidence.scale)
        owner, n = images.owner.take(good), normal.take(good, axis=0)
        step = images.sign.take(good) * offset.take(good)

        def total(values: Floats, owner: Ints = owner) -> Floats:
            """Sum values by hypothesis."""
            summed = np.bincount(owner, weights=values, minlength=images.count)
            return summed.astype(np.float64)

        matrix = np.stack(
            [total(n[:, 0] ** 2), total(n[:, 0] * n[:, 1]), total(n[:, 1] ** 2)], axis=1
        )
        right = np.stack([total(n[:, 0] * step), total(n[:, 1] * step)], axis=1)
        # a little ridge keeps a family of parallel lines from sliding
        ridge = 1e-3 * (matrix[:, 0] + matrix[:, 2]) + 1e-9
        shifts -= _solve_2x2(matrix, right, ridge)
    return shifts


@dataclass(frozen=True, slots=True, eq=False)
class Scores:
    """Hold how hypotheses fit at each tolerance of the ladder."""

    share: Floats  # (count, levels): matched / expected; 0 where nothing is expected
    expected: Floats  # (count, levels): images expected on lines
    rms: Floats  # (count, levels): root mean square distance of matched images, mm


def score_images(
    evidence: Evidence,
    images: Images,
    shifts: Floats,
    ladder: tuple[float, ...] = LADDER,
) -> Scores:
    """Return how images fit the lines at each tolerance; one row a hypothesis.

    `images`: images of samples, before their shifts. `shifts` (count, 2): shift of each
    hypothesis, mm. `ladder`: tolerances, in scales.
    """
    points = images.at(shifts)
    depth = evidence.window.depth_at(points)
    distance = np.full(len(points), np.inf)
    asked = np.flatnonzero(depth > 1.5 * min(ladder) * evidence.scale)
    found = evidence.index.nearest(
        points.take(asked, axis=0), images.directions.take(asked, axis=0)
    )
    distance[asked] = found[0]
    shape = (images.count, len(ladder))
    share, expected, rms = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for level, tolerance in enumerate(ladder):
        limit = tolerance * evidence.scale
        inside = depth > 1.5 * limit
        hit = inside & (distance <= limit)
        owner = images.owner
        want = np.bincount(owner[inside], minlength=images.count)
        have = np.bincount(owner[hit], minlength=images.count)
        square = np.bincount(
            owner[hit], weights=distance[hit] ** 2, minlength=images.count
        )
        expected[:, level] = want
        share[:, level] = have / np.maximum(want, 1)
        rms[:, level] = np.sqrt(square / np.maximum(have, 1))
    return Scores(share, expected, rms)


def missed_places(key: Ints, hit: Bools) -> Bools:
    """Tell which images belong to places that hardly any image matches.

    A fault of the hand spoils one repeat of a place; a detail that breaks a
    symmetry is missed in all of them.

    `key` (n,): number of the place, from 0, folded by a symmetry that is known. `hit`
    (n,): whether the image lies on a line. Returns (n,): True for every image of such a
    place.
    """
    _, number, count = np.unique(key, return_inverse=True, return_counts=True)
    mean = np.bincount(number, weights=hit) / count
    missed: Bools = ((mean <= _MISSED) & (count >= _TOLD))[number]
    return missed
