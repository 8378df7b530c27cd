"""Lines that are images of each other under the drawing's symmetry, made exactly so."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.notes import Note

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.geometry.affine import Affine
    from fillwork.linework import LineWork
    from fillwork.symmetry.model import Symmetry, Zone


# How far a place may miss the image of another, in residuals of the symmetry, and at
# least, mm: what a hand with a ruler strays.
_RESIDUALS, _LEAST = 5.0, 0.3
# mm: what is not worth an offer.
_SEEN = 0.02
# mm: a stroke's places lie so near one line where it is straight.
_STRAIGHT = 0.01


def even_out(
    linework: LineWork, arrange: Callable[[LineWork], Arrangement]
) -> LineWork:
    """Return a traced sheet with its lines averaged over its symmetry, and a note.

    `linework`: lines in mm. `arrange`: returns the regions of line work.
    """
    from fillwork.symmetry.zones.find import find_zones

    found = arrange(linework)
    zones = find_zones(found)
    return regular_lines(linework, found, zones, arrange, wanted=True)[0]


def regular_lines(
    linework: LineWork,
    arrangement: Arrangement,
    zones: tuple[Zone, ...],
    arrange: Callable[[LineWork], Arrangement],
    *,
    wanted: bool,
) -> tuple[LineWork, Arrangement, tuple[Zone, ...]]:
    """Average the lines of a traced sheet over its symmetry, or offer to.

    `linework`: lines in mm. `zones`: the drawing's zones with their symmetry.
    `arrange`: returns the regions of line work. `wanted`: whether the lines are
    averaged; if not, a note says by how much they would move at most. Returns
    `linework`: the drawing with a note; as it is where that note says why;
    `arrangement`: its regions; `zones`: its zones.
    """
    from fillwork.symmetry.zones.find import find_zones

    symmetry = zones[0].symmetry if len(zones) == 1 else None
    if symmetry is None or symmetry.group.family == "none" or not symmetry.certain:
        text = "the lines stay as traced: no one symmetry holds in the whole drawing"
        left = _noted(linework, "lines not averaged", text) if wanted else linework
        return left, arrangement, zones
    averaged, move = _average_lines(linework, symmetry)
    title = symmetry.group.title
    if not wanted:
        text = (
            "lines that should be alike were drawn a little unlike; evened out, none "
        )
        text += f"would move by more than {move:.2f} mm"
        remedy = "--regular evens them out"
        offered = _noted(linework, "lines nearly regular", text, remedy)
        return (offered if move >= _SEEN else linework), arrangement, zones
    regions = arrange(averaged)
    before, after = arrangement.face_count, regions.face_count
    fault = f"they would part {after - 1} regions, not {before - 1}"
    if before == after:
        stated = title.replace(" ", ":") if symmetry.stated else None
        found = find_zones(regions, stated=stated)
        if [z.symmetry.group for z in found] == [symmetry.group]:
            text = f"lines were evened out over {title}; the largest move was "
            text += f"{move:.2f} mm"
            return _noted(averaged, "lines averaged", text), regions, found
        fault = "their symmetry would be another"
    text = f"the lines stay as traced: averaged over {title}, {fault}"
    return _noted(linework, "lines not averaged", text), arrangement, zones


def _noted(lines: LineWork, kind: str, text: str, remedy: str = "") -> LineWork:
    note = Note("symmetry", kind, text, remedy=remedy)
    return replace(lines, notes=(*lines.notes, note))


def _average_lines(linework: LineWork, symmetry: Symmetry) -> tuple[LineWork, float]:
    """Return line work averaged over the images that the drawing has of itself.

    `linework`: lines and arcs, mm. `symmetry`: the group that holds. Returns
    `linework`: the same with its ends and circles moved; `move`: the largest move, mm.

    A place p goes to the mean of g⁻¹ q over all operations g of the group and all
    places q that g p meets. Where the drawing has all images, their means are
    images of each other again. Ends and circles go there, and each end then to
    where the lines and circles through it meet.
    """
    from fillwork.readers.scan.circles import fit_line, misses
    from fillwork.readers.scan.settle import meeting
    from fillwork.readers.scan.trails import arc_row

    curves = linework.curves
    kind, table, rows = curves.kind, curves.data.copy(), np.arange(len(curves))
    ends = np.stack([curves.point(rows, np.full(len(rows), t)) for t in (0, 1)], 1)
    spots, back = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True)
    corner = back.reshape(-1, 2)
    strokes = [slice(a, b) for a, b in itertools.pairwise(linework.stroke_start)]
    arcs = [s for s in strokes if (kind[s] == ARC).all()]
    rings = np.array([table[s, :3].mean(axis=0) for s in arcs]).reshape(-1, 3)
    circles = _averaged(rings, symmetry)
    moved = _averaged(np.c_[spots, np.zeros(len(spots))], symmetry)[:, :2]
    carriers: dict[int, list[Floats]] = {}
    for s in strokes:
        path = np.unique(corner[s])
        line = fit_line(spots[path]) if (kind[s] == LINE).all() else None
        if line is not None and np.abs(misses(spots[path], line)).max() < _STRAIGHT:
            for k in path.tolist():
                carriers.setdefault(k, []).append(fit_line(moved[path]))
    for s, circle in zip(arcs, circles, strict=True):
        for k in np.unique(corner[s]).tolist():
            carriers.setdefault(k, []).append(circle)
    for k, met in carriers.items():
        moved[k] = meeting(moved[k], met, 1.0)
    straight = kind == LINE
    table[straight, :4] = moved[corner[straight]].reshape(-1, 4)
    for s, circle in zip(arcs, circles, strict=True):
        for row, (i, j) in zip(rows[s], corner[s], strict=True):
            turn = float(table[row, 7] - table[row, 6])
            found = arc_row(moved[i], moved[j], circle, turn, whole=i == j)
            table[row] = table[row] if found is None else found
    move = max(
        float(np.hypot(*(new - old)[:, :2].T).max(initial=0.0))
        for new, old in ((moved, spots), (circles, rings))
    )
    return replace(linework, curves=Curves(kind, table)), move


def _averaged(places: Floats, symmetry: Symmetry) -> Floats:
    """Return the mean of the images of each place with a size, brought back to it."""
    from scipy.spatial import cKDTree

    if not len(places):
        return places
    slack = max(_RESIDUALS * symmetry.residual, _LEAST)
    # unlike sizes lie apart
    tree = cKDTree(places)
    total, count = places.copy(), np.ones((len(places), 1))
    low, high = places.min(axis=0)[:2] - slack, places.max(axis=0)[:2] + slack
    for m in _operations(symmetry, float(np.hypot(*(high - low)))):
        image = places.copy()
        image[:, :2] = affine.apply(m, places[:, :2])
        p = np.flatnonzero(((image[:, :2] >= low) & (image[:, :2] <= high)).all(axis=1))
        found = tree.query(image[p], distance_upper_bound=slack)
        miss, q = np.asarray(found[0]), np.asarray(found[1])
        p, q = p[np.isfinite(miss)], q[np.isfinite(miss)]
        total[p, :2] += affine.apply(affine.invert(m), places[q, :2])
        total[p, 2] += places[q, 2]
        count[p] += 1
    mean: Floats = total / count
    return mean


def _operations(symmetry: Symmetry, reach: float) -> Iterator[Affine]:
    """Return all operations but the identity that can carry the drawing on itself."""
    shifts = np.zeros((1, 2))
    if symmetry.lattice is not None:
        basis = symmetry.lattice.basis
        # a reduced basis: no sum of it is shorter than half of its parts
        most = [int(2.0 * reach / np.hypot(*b)) + 1 for b in basis]
        steps = np.meshgrid(*(np.arange(-n, n + 1) for n in most), indexing="ij")
        shifts = np.stack([s.ravel() for s in steps], axis=1) @ basis
        shifts = shifts[np.hypot(shifts[:, 0], shifts[:, 1]) <= 2.0 * reach]
    for operation in symmetry.operations:
        for x, y in shifts.tolist():
            if operation.kind != "identity" or x or y:
                yield affine.compose(affine.translation(x, y), operation.map)
