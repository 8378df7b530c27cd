"""Which operations modulo a known lattice the lines have.

Linear parts come from the lattice: whole matrices that keep its metric. The
shift of each is voted for on one unit cell into which all repeats are folded,
refined, and scored over all translations at once, so that every repeat
testifies. The operations that hold form a group modulo the lattice, one of the 17.

Fractional coordinates are rows: a point is ``u @ basis``, and an operation is
``u @ matrix + shift``.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.grids import fast_length, local_peaks
from fillwork.symmetry.lines.fit import LADDER, Images, refine_shifts, score_images

if TYPE_CHECKING:
    from fillwork.arrays import Complexes, Floats, Floats32, Ints
    from fillwork.symmetry.lines.evidence import Evidence

_FOLDED = 30_000  # samples that are folded into one unit cell
_FITTING = 0.85  # share of images matched by an operation whose products are tried


@dataclass(frozen=True, slots=True, eq=False)
class CosetFit:
    """Hold how one coset of the translations fits."""

    matrix: Ints  # (2, 2): in fractional coordinates of the basis, for rows
    shift: Floats  # (2,): fractional shift
    share: float  # matched / expected
    rms: float  # root mean square miss, mm
    failing: float  # share of the unit cell's lines that most of their images miss
    expected: float  # how many images testify


def linear_parts(basis: Floats, slack: float) -> list[tuple[Ints, Floats]]:
    """Return the isometries that keep a lattice, without the identity.

    `basis` (2, 2): reduced basis, mm. `slack`: how far a basis vector's image may miss
    the lattice, mm. Returns whole matrix for fractional rows; matrix for columns in mm
    that keeps the lattice, orthogonal but for what paper is stretched by.
    """
    inverse = np.linalg.inv(basis)
    found = []
    for entries in itertools.product((-1, 0, 1), repeat=4):
        matrix = np.array(entries, dtype=np.intp).reshape(2, 2)
        determinant = entries[0] * entries[3] - entries[1] * entries[2]
        if abs(determinant) != 1 or entries == (1, 0, 0, 1):
            continue
        u, _, vt = np.linalg.svd(inverse @ matrix @ basis)
        linear = u @ vt
        miss = basis @ linear - matrix @ basis
        if np.hypot(miss[:, 0], miss[:, 1]).max() <= slack:
            found.append((matrix, (inverse @ matrix @ basis).T))
    return found


class _FoldedCell:
    """One unit cell with all lines folded into it."""

    def __init__(self, evidence: Evidence, basis: Floats) -> None:
        lengths = np.hypot(basis[:, 0], basis[:, 1])
        self.shape = tuple(
            fast_length(int(np.clip(5 * d / evidence.scale, 16, 240))) for d in lengths
        )
        self.inverse = np.linalg.inv(basis)
        window = evidence.window
        rows, columns = np.nonzero(window.depth > 0)
        every = len(rows) // 60_000 + 1
        at = np.stack([columns, rows], axis=1)[::every] + 0.5
        seen = self.grid(at * window.pixel + window.corner)
        seen = seen / max(float(seen.mean()), 1e-9)
        # where a part of the cell is hardly seen it weighs little, not much
        self.weight = np.minimum(1 / np.maximum(seen, 0.25), 4.0) * (seen > 0)
        ky = np.fft.fftfreq(self.shape[0])[:, None]
        kx = np.fft.fftfreq(self.shape[1])[None, :]
        self.blur = np.exp(-((2 * np.pi * 0.6) ** 2) * (kx**2 + ky**2))
        # folded into one cell, some ten thousand samples fill it many times over
        rows = evidence.thin(_FOLDED)
        self.samples = evidence.samples.take(rows, axis=0)
        self.directions = evidence.directions.take(rows, axis=0)
        self.target = self.spectra(self.samples, self.directions)

    def flat(self, points: Floats) -> Ints:
        u = points @ self.inverse
        u -= np.floor(u)
        cells = (u * self.shape).astype(np.intp) % self.shape
        return np.asarray(cells[:, 0] * self.shape[1] + cells[:, 1])

    def grid(self, points: Floats) -> Floats:
        total = np.bincount(self.flat(points), minlength=self.shape[0] * self.shape[1])
        return total.reshape(self.shape).astype(np.float64)

    def spectra(
        self, points: Floats, directions: Floats, weight: Floats | None = None
    ) -> list[Complexes]:
        if weight is None:
            weight = self.weight.ravel()[self.flat(points)]
        double = (directions[:, 0] + 1j * directions[:, 1]) ** 2
        # shared among the four nearest places: lines that lie on the edge of one
        # would fall to either side, and their image to the other
        u = points @ self.inverse
        u = (u - np.floor(u)) * self.shape
        low = np.floor(u)
        rest = u - low
        size = self.shape[0] * self.shape[1]
        flat, part = [], []
        for steps in ((0, 0), (0, 1), (1, 0), (1, 1)):
            at = low.astype(np.intp) + steps
            at -= np.where(at >= self.shape, self.shape, 0)
            flat.append(at[:, 0] * self.shape[1] + at[:, 1])
            part.append(np.where(steps, rest, 1 - rest).prod(axis=1))
        places = np.concatenate(flat)
        fields = []
        for harmonic in (np.ones(len(points)), double, double**2):
            value = np.concatenate([weight * harmonic * share for share in part])
            real = np.bincount(places, weights=value.real, minlength=size)
            imaginary = np.bincount(places, weights=value.imag, minlength=size)
            fields.append(np.fft.fft2((real + 1j * imaginary).reshape(self.shape)))
        return fields

    def votes(self, points: Floats, directions: Floats, weight: Floats) -> Floats:
        source = self.spectra(points, directions, weight)
        product = np.zeros(self.shape, np.complex128)
        for factor, a, b in zip((1, 4 / 3, 2 / 3), self.target, source, strict=True):
            product += factor * a * np.conj(b)
        return np.asarray(np.fft.ifft2(product * self.blur).real)

    def peaks(self, votes: Floats, count: int) -> Floats:
        top = float(votes.max())
        # where nothing speaks for an operation, its best shift is the least bad one
        high = votes >= min(0.5 * top, top)
        row, column = np.nonzero(local_peaks(votes) & high)
        order = np.argsort(-votes[row, column], kind="stable")[:count]
        at = np.stack([row, column], axis=1)[order]
        return np.asarray(at / np.array(self.shape))


def _cells_seen(evidence: Evidence, basis: Floats) -> Floats:
    """Return whole translations whose unit cell meets the window."""
    window = evidence.window
    rows, columns = np.nonzero(window.depth > 0)
    every = len(rows) // 40_000 + 1
    at = np.stack([columns, rows], axis=1)[::every] + 0.5
    u = (at * window.pixel + window.corner) @ np.linalg.inv(basis)
    return np.unique(np.floor(u), axis=0)


def _folded_images(
    evidence: Evidence,
    basis: Floats,
    cells: Floats,
    hypotheses: list[tuple[Floats, Floats]],
    rows: Ints,
    each: int,
    most: int,
) -> Images:
    """Return images of samples under (linear, shift), all over the window."""
    inverse = np.linalg.inv(basis)
    rng = np.random.default_rng(7)
    parts = []
    for number, (linear, shift) in enumerate(hypotheses):
        image = evidence.samples.take(rows, axis=0) @ linear.T + shift
        u = image @ inverse
        home = np.floor(u)
        if len(cells) <= each:
            pick = np.tile(np.arange(len(cells)), (len(rows), 1))
        else:
            pick = rng.integers(0, len(cells), (len(rows), each))
        steps = cells.take(pick, axis=0) - home[:, None, :]
        points = (image[:, None, :] + steps @ basis).reshape(-1, 2)
        source = np.repeat(np.arange(len(rows)), pick.shape[1])
        inside = np.flatnonzero(evidence.window.depth_at(points) > 0)
        if len(inside) > most:
            inside = np.sort(rng.permutation(inside)[:most])
        source = source[inside]
        parts.append(
            (
                points.take(inside, axis=0) - shift,
                evidence.directions.take(rows[source], axis=0) @ linear.T,
                np.full(len(inside), number),
                rows[source],
            )
        )
    points, directions, owner, source = (
        np.concatenate([p[k] for p in parts]) for k in range(4)
    )
    return Images(
        points, directions, owner, np.ones(len(points)), source, len(hypotheses)
    )


def _failing_share(
    evidence: Evidence,
    basis: Floats,
    images: Images,
    depth: Floats32,
    distance: Floats,
    tolerance: float,
) -> Floats:
    """Return for each hypothesis the share of the cell's lines that it misses.

    A place in the unit cell fails when most of its images, over all repeats,
    lie on no line: a spoiled repeat does not make a place fail, a detail that
    breaks the symmetry everywhere does.
    """
    limit = tolerance * evidence.scale
    inside = depth > 1.5 * limit
    owner, source = images.owner[inside], images.source[inside]
    hit = distance[inside] <= limit
    lengths = np.hypot(basis[:, 0], basis[:, 1])
    split = np.maximum(np.round(2.5 * lengths / evidence.scale), 1).astype(np.intp)
    u = evidence.samples.take(source, axis=0) @ np.linalg.inv(basis)
    u -= np.floor(u)
    cell = (u * split).astype(np.intp) % split
    angle = np.arctan2(evidence.directions[source, 1], evidence.directions[source, 0])
    sector = (np.floor(angle / (np.pi / 4)).astype(np.intp)) % 4
    key = ((owner * split[0] + cell[:, 0]) * split[1] + cell[:, 1]) * 4 + sector
    count = np.bincount(key)
    unique = np.flatnonzero(count)
    have = np.bincount(key, weights=hit.astype(np.float64))
    count, have = count[unique], have[unique]
    mean = have / count
    whose = unique // (4 * split[0] * split[1])
    bad = np.bincount(whose, weights=count * (mean < 0.4), minlength=images.count)
    total = np.bincount(whose, weights=count, minlength=images.count)
    return np.asarray(bad / np.maximum(total, 1))


def _completed(
    evidence: Evidence,
    basis: Floats,
    cells: Floats,
    parts: list[tuple[Ints, Floats]],
    chosen: list[tuple[Floats, Floats]],
    rough: Floats,
) -> list[tuple[Floats, Floats]]:
    """Return the operations, with products of those that fit where votes failed.

    Lines that run on through many repeats can outvote the true shift of an
    operation; what follows from operations that fit is tried as well.
    """
    number = {m.tobytes(): k for k, (m, _) in enumerate(parts)}
    chosen, share = list(chosen), rough.copy()
    rows = evidence.thin(1200)
    tried: set[tuple[int, int]] = set()
    while True:
        fitting = [k for k in range(len(parts)) if share[k] >= _FITTING]
        products: list[tuple[int, tuple[Floats, Floats]]] = []
        for a, b in itertools.product(fitting, repeat=2):
            product = np.ascontiguousarray(parts[a][0] @ parts[b][0])
            k = number.get(product.tobytes())
            if k is None or share[k] >= _FITTING or (a, b) in tried:
                continue
            tried.add((a, b))
            linear, shift = chosen[b]
            at = (chosen[a][1] @ linear.T + shift) @ np.linalg.inv(basis)
            products.append((k, (chosen[k][0], (at - np.floor(at)) @ basis)))
        if not products:
            return chosen
        hypotheses = [h for _, h in products]
        images = _folded_images(evidence, basis, cells, hypotheses, rows, 6, 700)
        shifts = np.array([shift for _, shift in hypotheses])
        shifts = refine_shifts(evidence, images, shifts, (0.16, 0.12))
        fit = score_images(evidence, images, shifts, (0.1,)).share[:, 0]
        for row, (k, (linear, _)) in enumerate(products):
            if fit[row] > share[k]:
                share[k] = fit[row]
                chosen[k] = (linear, shifts[row])


def find_cosets(
    evidence: Evidence, basis: Floats, slack: float
) -> tuple[list[tuple[Ints, Floats]], list[list[CosetFit]]]:
    """Return how every possible coset of the translations fits.

    `basis` (2, 2): reduced basis, mm. `slack`: how far a basis vector's image may miss
    the lattice, mm. Returns `parts`: linear parts, as `linear_parts`; `fits`: for each
    of them, its best shift's fit at each tolerance of the ladder.
    """
    parts = linear_parts(basis, slack)
    if not parts:
        return [], []
    cell = _FoldedCell(evidence, basis)
    weight = cell.weight.ravel()[cell.flat(cell.samples)]
    hypotheses: list[tuple[Floats, Floats]] = []
    whose: list[int] = []
    for number, (_, linear) in enumerate(parts):
        votes = cell.votes(cell.samples @ linear.T, cell.directions @ linear.T, weight)
        for shift in cell.peaks(votes, 3):
            hypotheses.append((linear, shift @ basis))
            whose.append(number)
    cells = _cells_seen(evidence, basis)
    rows = evidence.thin(1200)
    images = _folded_images(evidence, basis, cells, hypotheses, rows, 6, 700)
    shifts = np.array([h[1] for h in hypotheses])
    shifts = refine_shifts(evidence, images, shifts, (0.16, 0.16, 0.12))
    rough = score_images(evidence, images, shifts, (0.1,)).share[:, 0]
    best = []
    for number in range(len(parts)):
        mine = [k for k in range(len(whose)) if whose[k] == number]
        best.append(max(mine, key=lambda k: rough[k]))
    chosen = [(hypotheses[k][0], shifts[k]) for k in best]
    chosen = _completed(evidence, basis, cells, parts, chosen, rough[best])
    rows = evidence.thin(3000)
    images = _folded_images(evidence, basis, cells, chosen, rows, 9, 4000)
    shifts = np.array([shift for _, shift in chosen])
    shifts = refine_shifts(evidence, images, shifts, (0.12, 0.08, 0.06))
    scores = score_images(evidence, images, shifts)
    inverse = np.linalg.inv(basis)
    fits: list[list[CosetFit]] = [[] for _ in parts]
    at = images.at(shifts)
    depth = evidence.window.depth_at(at)
    distance, _, _ = evidence.index.nearest(at, images.directions)
    for level, tolerance in enumerate(LADDER):
        failing = _failing_share(evidence, basis, images, depth, distance, tolerance)
        for number, (matrix, _) in enumerate(parts):
            fits[number].append(
                CosetFit(
                    matrix,
                    shifts[number] @ inverse,
                    float(scores.share[number, level]),
                    float(scores.rms[number, level]),
                    float(failing[number]),
                    float(scores.expected[number, level]),
                )
            )
    return parts, fits
