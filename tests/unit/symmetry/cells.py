"""Patterns whose kinds are known: Voronoi cells of points placed by a plane group.

Every point of an orbit gets a congruent cell, and cells of different orbits are
different kinds. The operations come from gemmi's tables of the International
Tables for Crystallography; nothing here uses the package's own group tables.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import gemmi
import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import Voronoi, cKDTree

from fillwork.symmetry.model import Group, Lattice, Operation, Symmetry

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement

# space group whose operations at z = 0 are those of the plane group, and the
# shape of its cell: a, b, angle in degrees
SPACE_GROUPS = {
    "p1": ("P 1", None),
    "p2": ("P 1 1 2", None),
    "pm": ("P m 1 1", (1.0, 1.3, 90)),
    "pg": ("P b 1 1", (1.0, 1.3, 90)),
    "cm": ("C m 1 1", (1.0, 1.5, 90)),
    "pmm": ("P m m 2", (1.0, 1.3, 90)),
    "pmg": ("P m a 2", (1.0, 1.3, 90)),
    "pgg": ("P b a 2", (1.0, 1.3, 90)),
    "cmm": ("C m m 2", (1.0, 1.5, 90)),
    "p4": ("P 4", (1.0, 1.0, 90)),
    "p4m": ("P 4 m m", (1.0, 1.0, 90)),
    "p4g": ("P 4 b m", (1.0, 1.0, 90)),
    "p3": ("P 3", (1.0, 1.0, 120)),
    "p3m1": ("P 3 m 1", (1.0, 1.0, 120)),
    "p31m": ("P 3 1 m", (1.0, 1.0, 120)),
    "p6": ("P 6", (1.0, 1.0, 120)),
    "p6m": ("P 6 m m", (1.0, 1.0, 120)),
}


@dataclass(frozen=True, eq=False)
class Cells:
    """A pattern with its truth."""

    segments: np.ndarray
    symmetry: Symmetry
    seeds: np.ndarray
    orbit: np.ndarray
    coset: np.ndarray
    window: shapely.Polygon
    whole: np.ndarray
    cell: np.ndarray
    shift: np.ndarray

    def truth(self, arrangement: Arrangement) -> tuple[np.ndarray, np.ndarray]:
        """Return orbit and cut flag of faces 1, 2, ..."""
        _, near = cKDTree(self.seeds).query(arrangement.witness[1:])
        return self.orbit[near], ~self.whole[near]


def table_operations(name: str) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return fractional operations (matrix, shift) of a plane group, with centring."""
    found = gemmi.find_spacegroup_by_name(SPACE_GROUPS[name][0])
    out = []
    for op in found.operations():
        m = np.array(op.rot)[:2, :2] / op.DEN
        out.append((m, np.mod(np.array(op.tran)[:2] / op.DEN, 1.0)))
    return out


def make_cells(
    name: str,
    rng: np.random.Generator,
    *,
    repeats: float = 8.0,
    general: int = 2,
    special: int = 1,
    noise: float = 0.0,
    size: float = 30.0,
    framed: bool = True,
    turn: float | None = None,
) -> Cells:
    """Return a cropped pattern.

    `noise` is the sigma of a Gaussian, as a share of the median edge, by which
    each corner is moved.
    """
    shape = SPACE_GROUPS[name][1] or (1.0, 1.0 + rng.random(), 70 + 15 * rng.random())
    a, b, angle = shape
    angle = np.radians(angle)
    cell = size * np.array([[a, 0.0], [b * np.cos(angle), b * np.sin(angle)]])
    phi = rng.random() * 2 * np.pi if turn is None else turn
    rot = np.array([[np.cos(phi), np.sin(phi)], [-np.sin(phi), np.cos(phi)]])
    cell = cell @ rot
    shift = rng.random(2) * size
    table = table_operations(name)
    centring = [t for m, t in table if np.allclose(m, np.eye(2))]
    area = abs(np.linalg.det(cell)) / len(centring)
    ratio = 0.7 + 0.6 * rng.random()
    w = np.sqrt(repeats * area * ratio)
    h = repeats * area / w
    window = shapely.box(0, 0, w, h)
    for _ in range(200):
        seeds, orbit, coset = _seeds(table, cell, rng, general, special)
        pts, which, cosets = _spread(seeds, orbit, coset, cell, shift, w, h, size)
        drawn = _voronoi(pts, window, noise, rng)
        # an edge as short as the noise would turn over
        if drawn is not None:
            break
    assert drawn is not None
    segments, cells = drawn
    if framed:
        corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
        segments = np.vstack([segments, np.hstack([corners, np.roll(corners, -1, 0)])])
    whole = shapely.contains(window, cells)
    inside = shapely.intersects(window, cells)
    return Cells(
        segments,
        _symmetry(name, table, centring, cell, shift),
        pts[inside],
        which[inside],
        cosets[inside],
        window,
        whole[inside],
        cell,
        shift,
    )


def _seeds(table, cell, rng, general, special):
    """Return fractional points of several orbits, far enough from each other."""
    points = np.zeros((0, 2))
    orbit = np.zeros(0, int)
    coset = np.zeros(0, int)
    made, tries = 0, 0
    spacing = 0.32 * np.sqrt(
        abs(np.linalg.det(cell)) / (len(table) * (general + special / 2))
    )
    wanted = ["general"] * general + ["special"] * special
    while made < len(wanted) and tries < 4000:
        tries += 1
        if tries % 200 == 0:
            spacing *= 0.85
        p = rng.random(2)
        if wanted[made] == "special":
            p = _fixed_point(table, p, rng)
            if p is None:
                p = rng.random(2)
        images, first = [], []
        for k, (m, t) in enumerate(table):
            q = np.mod(m @ p + t, 1.0)
            gap = [np.linalg.norm(((q - r + 0.5) % 1 - 0.5) @ cell) for r in images]
            if not gap or min(gap) > 1e-6:
                images.append(q)
                first.append(k)
        images = np.array(images)
        near = ((images[:, None] - np.vstack([points, images])[None]) + 0.5) % 1 - 0.5
        gap = np.linalg.norm(near @ cell, axis=2)
        own = np.arange(len(images))
        gap[own, len(points) + own] = np.inf
        if gap.min() < spacing:
            continue
        points = np.vstack([points, images])
        orbit = np.concatenate([orbit, np.full(len(images), made)])
        coset = np.concatenate([coset, first])
        made += 1
    return points, orbit, coset


def _fixed_point(table, p, rng):
    m, t = table[rng.integers(len(table))]
    if np.allclose(m, np.eye(2)):
        return None
    t = t + rng.integers(-1, 2, 2)
    if np.linalg.det(m) > 0:
        return np.linalg.solve(np.eye(2) - m, t)
    # a mirror has fixed points, a glide has none
    if np.abs(m @ t + t).max() > 1e-9:
        return None
    return (p + m @ p + t) / 2


def _spread(seeds, orbit, coset, cell, shift, w, h, size):
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]]) - shift
    along = corners @ np.linalg.inv(cell)
    low, high = np.floor(along.min(0)) - 2, np.ceil(along.max(0)) + 2
    grid = np.stack(
        np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1)),
        axis=-1,
    ).reshape(-1, 2)
    pts = ((seeds[None] + grid[:, None]) @ cell + shift).reshape(-1, 2)
    which, cosets = np.tile(orbit, len(grid)), np.tile(coset, len(grid))
    near = (
        (pts[:, 0] > -1.5 * size)
        & (pts[:, 0] < w + 1.5 * size)
        & (pts[:, 1] > -1.5 * size)
        & (pts[:, 1] < h + 1.5 * size)
    )
    return pts[near], which[near], cosets[near]


def _voronoi(pts, window, noise, rng):
    vor = Voronoi(pts)
    vertices = np.round(vor.vertices, 7)
    # four cells that meet in one point give several vertices there
    pairs = cKDTree(vertices).query_pairs(1e-3, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), pairs.T), (len(vertices),) * 2)
    group = connected_components(links, directed=False)[1]
    head = np.unique(group, return_index=True)[1][group]
    finite = np.array([min(r) >= 0 for r in vor.ridge_vertices])
    ridges = head[np.array(vor.ridge_vertices, dtype=object)[finite].tolist()]
    # of many points on one circle some ridges run across cells: at its middle a true
    # one is as near to its two points as to any
    middle = vertices[ridges].mean(axis=1)
    own = np.linalg.norm(pts[vor.ridge_points[finite, 0]] - middle, axis=1)
    true = own < cKDTree(pts).query(middle)[0] + 1e-3
    ridges = ridges[true & (ridges[:, 0] != ridges[:, 1])]
    x0, y0, x1, y1 = window.bounds
    mid = vertices[ridges].mean(axis=1)
    seen = (mid[:, 0] > x0) & (mid[:, 0] < x1) & (mid[:, 1] > y0) & (mid[:, 1] < y1)
    length = np.linalg.norm(np.diff(vertices[ridges], axis=1)[:, 0], axis=1)
    if length[seen].min() < 0.15 * np.median(length[seen]):
        return None
    sigma = noise * np.median(length[seen])
    moved = vertices + sigma * rng.standard_normal(vertices.shape)
    lines = shapely.linestrings(moved[ridges])
    parts = shapely.intersection(lines, window)
    parts = parts[shapely.get_type_id(parts) == 1]
    parts = parts[shapely.length(parts) > 1e-9]
    segments = shapely.get_coordinates(parts).reshape(-1, 4)
    cells = []
    for k in range(len(pts)):
        region = vor.regions[vor.point_region[k]]
        ok = len(region) > 2 and min(region) >= 0
        far = shapely.Point(x0 - 1e6, y0).buffer(1)
        cells.append(shapely.Polygon(moved[head[region]]).buffer(0) if ok else far)
    return segments, np.array(cells)


def _symmetry(name, table, centring, cell, shift):
    """Return the truth as the package's own value."""
    operations = []
    seen: list[np.ndarray] = []
    for m, t in table:
        if any(np.allclose(m, other) for other in seen):
            continue
        seen.append(m)
        # row vectors: x = f cell + shift
        linear = np.linalg.inv(cell) @ m.T @ cell
        move = t @ cell + shift - shift @ linear
        turn = np.linalg.det(m) > 0
        kind = "rotation" if turn else "reflection"
        if np.allclose(m, np.eye(2)):
            kind = "identity"
        numbers = (*linear.ravel(), *move)
        operations.append(Operation(tuple(float(v) for v in numbers), kind, 1))
    operations.sort(key=lambda op: op.kind != "identity")
    basis = cell
    if len(centring) == 2:
        basis = np.array([[0.5, 0.5], [-0.5, 0.5]]) @ cell
    basis = _reduce(basis)
    group = Group("plane", name, name, "", "")
    return Symmetry(group, Lattice(basis, ""), None, tuple(operations))


def _reduce(basis):
    a, b = basis
    while True:
        if a @ a > b @ b:
            a, b = b, a
        k = np.rint((a @ b) / (a @ a))
        if k == 0:
            return np.array([a, b])
        b = b - k * a


def agreement(truth: np.ndarray, found: np.ndarray) -> np.ndarray:
    """Return which faces are in the right kind.

    A face is right when most faces of its true kind got its label and most
    faces that bear its label are of its true kind.
    """
    _, t = np.unique(truth, return_inverse=True)
    _, f = np.unique(found, return_inverse=True)
    table = np.zeros((t.max() + 1, f.max() + 1), int)
    np.add.at(table, (t, f), 1)
    return (table.argmax(1)[t] == f) & (table.argmax(0)[f] == t)
