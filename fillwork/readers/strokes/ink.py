"""Fills that are the ink of lines, of any width and bend, read by its middle.

A tracing program, or one that expands strokes of several widths into one shape, leaves
the ink, whose holes are the drawn regions. The line between two of them is where their
edges are equally near: the border of their Voronoi cells, for points set densely on the
edges. Where two lines cross, the corners of opposite holes meet in a short border,
which is drawn to a point; near a bend the border is rounded, and the straight lines
before and after it are carried on. Ends that stand free of all holes are lost.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import LINE
from fillwork.geometry.parts import gathered
from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.hidden import find_fills

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints

_THIN = 0.3  # of the mean hole's side: ink is no wider than that in most places
_COVERED = 0.4  # of their box: shapes that are ink cover no more
_MOST = 0.9  # the share of its length that most places are
_STEP = 0.2  # of the width: from one point on an edge to the next
_SMOOTH = 0.03  # of the width: a middle line may stray by that much
_LONG = 1.5  # widths: shorter pieces beside longer ones belong to a bend
_SHORT = 1.2  # widths: nodes nearer to each other along a border are one
_BEND = 4.0  # widths: a bend is no longer, and moves no farther
_CUT = 0.5  # of the outlines: so many are whole
_FEWEST = 6  # holes that tell ink from a figure, such as a frame with panes
_POINTS = 400_000  # points that are looked at


def lines_of_ink(
    table: StrokeTable, even_odd: Bools
) -> tuple[StrokeTable, float] | None:
    """Return the middle lines of shapes that are ink between regions.

    `table`: the edges of the shapes, closed, mm. `even_odd` (items,): fill rule of each
    item. Returns lines, of the first item, and the usual width, mm; None where the
    shapes are not thin beside what they bound.
    """
    edges = _edges(table, even_odd) if _may_be_ink(table) else None
    if edges is None:
        return None
    points, label, side = edges
    ends, pair = _borders(points, label)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    width = np.hypot(*(points[pair[:, 0]] - points[pair[:, 1]]).T)
    usual, wide = _quantiles(width, length, (0.5, _MOST))
    if not 0 < wide <= _THIN * side:
        return None
    chains = _sharpened(_chains(ends, pair, points, usual), usual)
    start = np.cumsum([0, *(len(chain) - 1 for chain in chains)])
    data = np.zeros((int(start[-1]), 8))
    data[:, 0:2] = np.concatenate([chain[:-1] for chain in chains])
    data[:, 2:4] = np.concatenate([chain[1:] for chain in chains])
    return StrokeTable.of_lines(data, table.item[0], start), usual


def _may_be_ink(table: StrokeTable) -> bool:
    """Return whether shapes are few with many holes, or cover little together.

    Where later fills cut most of them, they are a painted picture.
    """
    if not table.closed.mean() > _CUT:
        return False
    several = np.unique(table.item, return_counts=True)[1]
    if several[several > 1].sum() > 0.5 * len(table.item):
        return True
    # by the chords of their curves
    curves = table.curves()
    begin = curves.starts()
    areas = cross(begin, curves.ends())
    areas = np.abs(np.add.reduceat(areas, table.start[:-1])) / 2
    # the outline of a shape without its holes, whichever way round they run
    largest = np.zeros(int(table.item.max()) + 1)
    np.maximum.at(largest, table.item, areas)
    covered = 2 * largest.sum() - areas.sum()
    return bool(covered <= _COVERED * np.ptp(begin, axis=0).prod())


def _edges(table: StrokeTable, even_odd: Bools) -> tuple[Floats, Ints, float] | None:
    """Return points on the edges of ink, and which region each bounds.

    Region 0 is what lies around. The last is the side of a mean region; None where
    there are too few regions or too many points.
    """
    import shapely

    reach = table.data[:, 0:4]
    size = float(np.ptp(reach[np.isfinite(reach)]))
    fine = 1e-4 * size
    straight = bool((table.kind == LINE).all())
    for last in (straight, True):
        shapes, _ = find_fills(table, fine, even_odd)
        material: Any = shapes[0] if len(shapes) == 1 else None
        if material is None:
            material = shapely.union_all(shapes, grid_size=0.1 * fine)
        if material.is_empty or material.length <= 0:
            return None
        width = 2 * material.area / material.length
        fine = min(fine, 0.5 * _SMOOTH * width)
        if last:
            break
    low, high = np.reshape(material.bounds, (2, 2))
    around = shapely.box(*(low - width), *(high + width))
    regions: Any = shapely.get_parts(around.difference(material))
    regions = regions[shapely.area(regions) > (0.5 * width) ** 2]
    if len(regions) - 1 < _FEWEST:
        return None
    corner = shapely.points(around.exterior.coords[0])
    regions = regions[np.argsort(shapely.distance(regions, corner), kind="stable")]
    side = float(np.sqrt(shapely.area(regions[1:]).mean()))
    rims = shapely.boundary(regions)
    rims[0] = shapely.difference(rims[0], around.exterior)
    if shapely.length(rims).sum() > _POINTS * _STEP * width:
        return None
    dense = shapely.segmentize(rims, _STEP * width)
    points, label = shapely.get_coordinates(dense, return_index=True)
    # holes that touch in a point share it, and rings repeat theirs
    _, first = np.unique(np.round(points / fine), axis=0, return_index=True)
    first.sort()
    return points[first], label[first].astype(np.int64), side


def _borders(points: Floats, label: Ints) -> tuple[Floats, Ints]:
    """Return the borders between cells of unlike regions, and the two points of each.

    (n, 2, 2) ends; (n, 2) rows of `points`.
    """
    from scipy.spatial import Voronoi

    cells = Voronoi(points)
    pair = np.asarray(cells.ridge_points, np.int64)
    ends = np.asarray(cells.ridge_vertices, np.int64)
    parts = (label[pair[:, 0]] != label[pair[:, 1]]) & (ends >= 0).all(axis=1)
    return cells.vertices[ends[parts]], pair[parts]


def _quantiles(
    values: Floats, weights: Floats, shares: tuple[float, ...]
) -> list[float]:
    if not weights.sum() > 0:
        return [0.0] * len(shares)
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weights[order])
    at = np.searchsorted(total, np.array(shares) * total[-1])
    return [float(values[order[k]]) for k in np.minimum(at, len(order) - 1).tolist()]


def _chains(ends: Floats, pair: Ints, points: Floats, width: float) -> list[Floats]:
    """Return borders joined from node to node, those between two corners as points."""
    from scipy.spatial import cKDTree

    places = ends.reshape(-1, 2)
    near = cKDTree(places).query_pairs(1e-3 * width, output_type="ndarray")
    middle, of = gathered(places, *near.T)
    link = of.reshape(-1, 2)
    # corners that face each other over a crossing: one border between two nodes
    node = np.bincount(_between(link).ravel(), minlength=len(middle)) > 2
    long = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    apart = np.hypot(*(points[pair[:, 0]] - points[pair[:, 1]]).T)
    facing = node[link].all(axis=1) & (long <= _BEND * np.maximum(width, apart))
    middle, of = gathered(middle, *link[facing].T)
    link = _between(of[link])
    rows = _followed(link, len(middle))
    # nodes about one place, of lines of unlike widths
    node = np.bincount(link.ravel(), minlength=len(middle)) > 2
    lengths = [_length(middle[row]) for row in rows]
    ends_of = np.array([[row[0], row[-1]] for row in rows], np.int64)
    short = np.array(lengths) <= _SHORT * width
    place, _ = gathered(middle, *ends_of[short & node[ends_of].all(axis=1)].T)
    return [
        np.concatenate([place[row[:1]], middle[row[1:-1]], place[row[-1:]]])
        for row, length in zip(rows, lengths, strict=True)
        if length > _SHORT * width or (place[row[0]] != place[row[-1]]).any()
    ]


def _between(link: Ints) -> Ints:
    """Return links between two places, each once."""
    link = link[link[:, 0] != link[:, 1]]
    return np.unique(np.sort(link, axis=1), axis=0)


def _length(chain: Floats) -> float:
    return float(np.hypot(*np.diff(chain, axis=0).T).sum())


def _followed(link: Ints, count: int) -> list[list[int]]:
    """Return chains of nodes, from one where not two links meet to the next."""
    degree = np.bincount(link.ravel(), minlength=count)
    rows: list[list[int]] = [[] for _ in range(count)]
    for k, (a, b) in enumerate(link.tolist()):
        rows[a].append(k)
        rows[b].append(k)
    used = np.zeros(len(link), bool)
    pairs = link.tolist()

    def follow(node: int, row: int) -> list[int]:
        chain = [node]
        while True:
            used[row] = True
            a, b = pairs[row]
            node = b if node == a else a
            chain.append(node)
            free = [k for k in rows[node] if not used[k]]
            if degree[node] != 2 or not free:
                return chain
            row = free[0]

    nodes = np.flatnonzero((degree > 0) & (degree != 2)).tolist()
    chains = [follow(n, k) for n in nodes for k in rows[n] if not used[k]]
    # rings without a node
    return chains + [follow(pairs[k][0], k) for k in range(len(pairs)) if not used[k]]


def _sharpened(chains: list[Floats], width: float) -> list[Floats]:
    """Return chains without the roundness of bends."""
    import shapely

    return [
        _without_bends(
            shapely.get_coordinates(shapely.LineString(c).simplify(_SMOOTH * width)),
            width,
        )
        for c in chains
    ]


def _without_bends(chain: Floats, width: float) -> Floats:
    # runs of short pieces between two long ones become the point where those meet
    step = np.diff(chain, axis=0)
    length = np.hypot(*step.T)
    long = np.flatnonzero(length >= _LONG * width)
    if not len(long):
        return chain
    out = (
        [chain[: long[0] + 1]]
        if length[: long[0]].sum() > _BEND * width
        else [chain[:1]]
    )
    for a, b in zip(long[:-1].tolist(), long[1:].tolist(), strict=True):
        middle = chain[a + 1 : b + 1]
        if b > a + 1 and length[a + 1 : b].sum() <= _BEND * width:
            turn = cross(step[a], step[b])
            if abs(turn) > 0.05 * length[a] * length[b]:
                t = cross(chain[b] - chain[a], step[b]) / turn
                place = chain[a] + t * step[a]
                if np.hypot(*(place - middle.mean(axis=0))) <= _BEND * width:
                    middle = place[None]
        out.append(middle)
    tail = chain[long[-1] + 1 :]
    out.append(tail if length[long[-1] + 1 :].sum() > _BEND * width else tail[-1:])
    return np.concatenate(out)
