"""Which whole face a piece belongs to.

A frame cuts faces. The pattern itself goes on behind the frame, so a piece is
part of the whole face that some operation of the group lays over it; a few
points spread over the piece say which.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct, marked, spread
from fillwork.symmetry.lines.near_lines import LineIndex

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.symmetry.quotient import Quotient


# share of a side's images on lines that makes it the rosette's own
_OWN = 0.9
_POINTS = 12  # points in a face at most
_COPIES = 60  # copies of a face that are asked how deep points lie in them
_MANY_COPIES = 400  # copies of a face that pieces are laid over
_EVENLY = 0.6180339887  # steps of it lie evenly, and along no row of copies


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """Say how much of each piece lies in each whole face under each operation."""

    # piece, operation and whole, (c,): rows of the pieces, of the operations and of the
    # whole faces
    piece: Ints
    operation: Ints
    whole: Ints
    # (c,): share of the piece's points that the operation, with some translation,
    # carries into the whole face, 0 to 1
    share: Floats


def cutting_sides(
    arrangement: Arrangement,
    faces: AnyInts,
    sides: Ints,
    quotient: Quotient,
    noise: float,
) -> Ints:
    """Return the outer sides of a rosette that cut it.

    The outline of a figure that stands free is its own: turns carry it onto itself.
    What cuts it is carried to where no line is.

    Those of the half-edges that are no lines of the rosette. `faces`: the faces of the
    zone. `sides` (s,): half-edges that bound it. `noise`: how far lines stray from
    their places, mm.
    """
    import shapely

    if len(sides) == 0 or quotient.order < 2:
        return sides
    member = marked(faces, arrangement.face_count)
    start, stop = arrangement.origin[0::2], arrangement.origin[1::2]
    near = member[arrangement.face[0::2]] | member[arrangement.face[1::2]]
    points = arrangement.vertices
    lines = np.hstack([points[start[near]], points[stop[near]]])
    lines = lines[np.hypot(*(lines[:, 2:] - lines[:, :2]).T) > 0]
    p, q = points[arrangement.origin[sides]], points[arrangement.origin[sides ^ 1]]
    step = q - p
    along = step / np.maximum(np.hypot(*step.T), 1e-300)[:, None]
    reach = 4.0 * noise + 2.0 * arrangement.tolerance.flatten
    reach = max(reach, arrangement.tolerance.join_within, 1e-9)
    index = LineIndex(lines, reach)
    linear = quotient.linear[1:]
    images = np.einsum("nij,mj->nmi", linear, 0.5 * (p + q))
    images = (images + quotient.shift[1:, None]).reshape(-1, 2)
    headings = np.einsum("nij,mj->nmi", linear, along).reshape(-1, 2)
    hit = index.nearest(images, headings)[0] <= reach
    side = np.tile(np.arange(len(sides)), len(linear))
    tree = shapely.STRtree(arrangement.polygons(faces))
    miss = np.flatnonzero(~hit)
    inside = distinct(tree.query(shapely.points(images[miss]), "within")[0])
    on = np.bincount(side[hit], minlength=len(sides))
    off = np.bincount(side[miss[inside]], minlength=len(sides))
    return np.asarray(sides[on < _OWN * np.maximum(on + off, 1)])


def sample_points(arrangement: Arrangement, faces: AnyInts) -> tuple[Floats, Ints]:
    """Return points spread over faces.

    Returns `points` (p, 2): points inside, mm; the witness of each face is among them;
    `row` (p,): row of `faces` that each belongs to, ascending.
    """
    import shapely

    faces = np.asarray(faces)
    polygons = arrangement.polygons(faces)
    shapely.prepare(polygons)
    found = [arrangement.witness[faces]]
    rows = [np.arange(len(faces))]
    left = np.arange(len(faces))
    # thin faces need a finer grid before enough of its points fall inside
    for side in (7, 17, 41):
        if len(left) == 0:
            break
        inside, xy = _grid_points(polygons[left], side)
        total = inside.sum(axis=1)
        enough = (total >= _POINTS // 2) | (side == 41)
        inside[~enough] = False
        rank = np.cumsum(inside, axis=1)
        # every k-th point, so that those kept spread over the face
        stride = np.maximum(np.ceil(total / (_POINTS - 1)), 1).astype(np.int64)
        keep = inside & ((rank - 1) % stride[:, None] == 0)
        row, column = np.nonzero(keep)
        found.append(xy[row, column])
        rows.append(left[row])
        left = left[~enough]
    points, row = np.concatenate(found), np.concatenate(rows)
    order = np.argsort(row, kind="stable")
    return points[order], row[order].astype(np.int64)


def _grid_points(polygons: NDArray[Any], side: int) -> tuple[Bools, Floats]:
    """Return a grid over the box of each polygon, and which points are inside."""
    import shapely

    box = shapely.bounds(polygons).reshape(-1, 4)
    # unequal steps, so that no row of points runs along a line of the pattern
    step = np.arange(side)
    u = (step + 0.5 + 0.09 * np.sin(1.0 + 2.0 * step)) / side
    v = (step + 0.5 + 0.09 * np.sin(2.5 + 1.7 * step)) / side
    gx, gy = (g.ravel() for g in np.meshgrid(u, v, indexing="ij"))
    x = box[:, 0, None] + (box[:, 2] - box[:, 0])[:, None] * gx
    y = box[:, 1, None] + (box[:, 3] - box[:, 1])[:, None] * gy
    inside = shapely.contains_xy(polygons[:, None], x, y)
    return np.asarray(inside), np.stack([x, y], axis=-1)


def cover_of(
    points: Floats, piece: Ints, polygons: NDArray[Any], quotient: Quotient
) -> Cover:
    """Find the whole faces that operations carry points of pieces into.

    All that overlap, by piece. `points` (p, 2), mm: points of the pieces. `piece` (p,):
    the piece that each belongs to. `polygons` (ndarray of shapely polygons, shape
    (w,)): the whole faces, wherever they lie on the page.
    """
    empty = np.zeros(0, dtype=np.int64)
    if len(points) == 0 or len(polygons) == 0:
        return Cover(empty, empty, empty, np.zeros(0))
    copies, whole = _copies_over_cell(polygons, quotient, _MANY_COPIES)
    total = np.bincount(piece)
    n = quotient.order
    keys: list[Ints] = []
    counts: list[Ints] = []
    step = max(1, 400_000 // max(len(points), 1))
    for first in range(0, n, step):
        part = slice(first, min(first + step, n))
        moved = _images(quotient, points, part)
        hit, copy = _within(moved.reshape(-1, 2), copies)
        operation, point = np.divmod(hit, len(points))
        key = (piece[point] * n + operation + first) * len(polygons) + whole[copy]
        value, count = np.unique(key, return_counts=True)
        keys.append(value)
        counts.append(count)
    key, count = np.concatenate(keys), np.concatenate(counts)
    order = np.argsort(key, kind="stable")
    key, count = key[order], count[order]
    rest, target = np.divmod(key, len(polygons))
    row, operation = np.divmod(rest, n)
    return Cover(row, operation, target, count / total[row])


def depth_inside(points: Floats, polygons: NDArray[Any], quotient: Quotient) -> Floats:
    """Return how deep inside whole faces points lie, under any operation.

    `points` (p, 2), mm: points, such as those of an edge: where the edge is part of the
    pattern all its images lie on boundaries. `polygons` (ndarray of shapely polygons,
    shape (w,)): faces, wherever they lie on the page. Returns (p,): distance of an
    image from the boundary of the face that it lies in, mm, the median of all images; 0
    where no image lies in any.
    """
    import shapely

    depth = np.zeros(len(points))
    if len(points) == 0 or len(polygons) == 0:
        return depth
    # a ground as wide as the field lies over its cell by the hundred: some tell as much
    copies, _ = _copies_over_cell(polygons, quotient, _COPIES)
    edges = shapely.boundary(copies)
    rows: list[Ints] = []
    found: list[Floats] = []
    for g in range(quotient.order):
        moved = _images(quotient, points, slice(g, g + 1))[0]
        point, copy = _within(moved, copies)
        rows.append(point)
        dots = shapely.points(moved[point])
        found.append(np.asarray(shapely.distance(dots, edges[copy])))
    row, away = np.concatenate(rows), np.concatenate(found)
    order = np.lexsort((away, row))
    hit, first, count = np.unique(row[order], return_index=True, return_counts=True)
    depth[hit] = away[order][first + count // 2]
    return depth


def inner_share(
    points: Floats,
    edges: Floats,
    polygon: Any,
    quotient: Quotient,
    operation: int,
    slack: float,
) -> float:
    """Return which share of a piece's own edges runs inside its whole face.

    0 when the edges lie on the whole face's boundary, as those of a piece do that a
    frame cuts off.

    `points` (p, 2), mm: points of the piece. `edges` (e, 2), mm: points spread along
    the edges that no frame drew. `polygon` (shapely polygon): the whole face.
    `operation`: the operation that carries the piece into the whole face. `slack`:
    depth from which a point is inside, mm.
    """
    import shapely

    if len(edges) == 0:
        return 0.0
    linear, shift = quotient.linear[operation], quotient.shift[operation]
    moved = points @ linear.T + shift
    low = np.array(shapely.bounds(polygon)[:2])
    base = quotient.fold(moved[:1])[0] - moved[0]
    # of the translations near by, the one that lays most points into the face
    start = low - moved.min(axis=0)
    steps = quotient.copies(float(np.hypot(*np.ptp(moved, axis=0)))) + base
    if len(quotient.basis):
        steps = (
            steps + np.rint((start - base) @ quotient.inverse_basis) @ quotient.basis
        )
    x, y = (moved[None] + steps[:, None]).transpose(2, 0, 1)
    best = int(np.argmax(shapely.contains_xy(polygon, x, y).sum(axis=1)))
    laid = edges @ linear.T + shift + steps[best]
    dots = shapely.points(laid)
    deep = shapely.contains(polygon, dots)
    deep &= shapely.distance(dots, shapely.boundary(polygon)) > slack
    return float(deep.mean())


def _images(quotient: Quotient, points: Floats, part: slice) -> Floats:
    linear, shift = quotient.linear[part], quotient.shift[part]
    moved = np.einsum("nij,mj->nmi", linear, points) + shift[:, None, :]
    return quotient.fold(moved)


def _within(points: Floats, polygons: NDArray[Any]) -> tuple[Ints, Ints]:
    """Return rows of points and of the polygons that they lie in, in no order."""
    import shapely

    # of what is asked each is prepared once, however many sides it has
    tree = shapely.STRtree(np.asarray(shapely.points(points)))
    polygon, point = tree.query(polygons, predicate="contains")
    return point, polygon


def _copies_over_cell(
    polygons: NDArray[Any], quotient: Quotient, most: float = np.inf
) -> tuple[NDArray[Any], Ints]:
    """Return shifted copies that reach into the cell, some `most` of each polygon."""
    import shapely

    if len(quotient.basis) == 0:
        return polygons, np.arange(len(polygons))
    xy, owner = shapely.get_coordinates(polygons, return_index=True)
    along = xy @ quotient.inverse_basis
    k = along.shape[1]
    low = np.full((len(polygons), k), np.inf)
    high = np.full((len(polygons), k), -np.inf)
    np.minimum.at(low, owner, along)
    np.maximum.at(high, owner, along)
    first = np.ceil(-high - 1e-9).astype(np.int64)
    last = np.floor(1.0 - low + 1e-9).astype(np.int64)
    each = np.maximum(last - first + 1, 1)
    whole, rest = spread(each.prod(axis=1))
    kept = rest * _EVENLY % 1.0 < most / each.prod(axis=1)[whole]
    whole, rest = whole[kept], rest[kept]
    steps = np.empty((len(whole), k), dtype=np.int64)
    for axis in range(k):
        rest, steps[:, axis] = np.divmod(rest, each[whole, axis])
    shift = (first[whole] + steps) @ quotient.basis
    picked = polygons[whole]
    sizes = shapely.get_num_coordinates(picked)
    xy = shapely.get_coordinates(picked) + np.repeat(shift, sizes, axis=0)
    moved = shapely.set_coordinates(picked.copy(), xy)
    return np.asarray(moved), whole
