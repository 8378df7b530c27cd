"""Faces from cycles of half-edges: rings, holes, containment, areas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import components
from fillwork.geometry.polygons import bulge_areas
from fillwork.geometry.ranges import begins, expand_ranges, marked

if TYPE_CHECKING:
    from fillwork.arrangement.edges import Edges
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Hold faces as compressed rows of rings; see `Arrangement` for the fields."""

    face: Ints32  # (H,): face on the left of each half-edge
    # ring_start, ring_half_edge and face_ring_start: rings of faces
    ring_start: Ints
    ring_half_edge: Ints32
    face_ring_start: Ints
    area: Floats  # (F,): areas, mm²
    components: int  # connected components
    difference: float  # sum of areas less the area inside the outer boundaries, mm²


def _sums(values: Floats, start: Ints) -> Floats:
    if len(start) < 2:
        return np.empty(0)
    return np.asarray(np.add.reduceat(values, start[:-1]))


def _half_edge_areas(curves: Curves, vertices: Floats, edges: Edges) -> Floats:
    """Return what each half-edge adds to the area of its ring.

    `vertices` (V, 2): places of vertices. Returns (H,): terms of Green's theorem, mm².
    """
    a, b = edges.ends(vertices)
    term = 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    term += bulge_areas(curves, edges.curve, edges.span[:, 0], edges.span[:, 1])
    both = np.empty(2 * len(term))
    both[0::2], both[1::2] = term, -term
    return both


def build_faces(
    curves: Curves,
    vertices: Floats,
    edges: Edges,
    order: Ints32,
    cycle_start: Ints,
    cycle_member: Ints32,
) -> Faces:
    """Build faces from the cycles of half-edges; face 0 is the unbounded one.

    `vertices` (V, 2): places of vertices. `edges`: the edges; none is a bridge or
    dangles. `order`: half-edges round the vertices. `cycle_start` and `cycle_member`:
    from `find_cycles`.
    """
    half = 2 * len(edges)
    cycles = len(cycle_start) - 1
    if cycles == 0:
        one = np.zeros(1, np.int64)
        return Faces(
            np.zeros(half, np.int32),
            one,
            np.empty(0, np.int32),
            np.zeros(2, np.int64),
            np.zeros(1),
            0,
            0.0,
        )
    length = np.diff(cycle_start)
    cycle_of = np.empty(half, np.int32)
    cycle_of[cycle_member] = np.repeat(np.arange(cycles, dtype=np.int32), length)
    term = _half_edge_areas(curves, vertices, edges)
    area = _sums(term[cycle_member], cycle_start)

    outer, component = _outer_cycles(cycle_of, area)
    is_outer = marked(outer, cycles)
    head = cycle_member[cycle_start[:-1]]
    inner = np.flatnonzero(~is_outer)
    inner = inner[np.argsort(head[inner], kind="stable")]
    number = np.zeros(cycles, np.int32)
    number[inner] = np.arange(1, len(inner) + 1, dtype=np.int32)
    if len(outer) > 1:
        number[outer] = _find_parents(
            vertices, edges, cycle_of, component, is_outer, number, len(outer)
        )
    face = number[cycle_of]
    rings = _rings(
        edges, order, cycle_of, cycle_start, cycle_member, is_outer, number, term
    )
    ring_start, ring_half_edge, face_ring_start = rings
    face_area = np.zeros(len(inner) + 1)
    face_area[1:] = area[inner]
    held = outer[number[outer] > 0]
    np.add.at(face_area, number[held], area[held])
    inside = -float(area[outer[number[outer] == 0]].sum())
    return Faces(
        face,
        ring_start,
        ring_half_edge,
        face_ring_start,
        face_area,
        len(outer),
        float(face_area.sum()) - inside,
    )


def _outer_cycles(cycle_of: Ints32, area: Floats) -> tuple[Ints, Ints]:
    """Return the outer boundary of each connected component, and whose each cycle is.

    It is the cycle of the most negative area.
    """
    root = components(cycle_of[0::2], cycle_of[1::2], len(area))
    by_area = np.lexsort((area, root))
    first = begins(root[by_area])
    component = np.empty(len(area), np.int64)
    component[by_area] = np.cumsum(first) - 1
    return by_area[first], component


def _find_parents(
    vertices: Floats,
    edges: Edges,
    cycle_of: Ints32,
    component: Ints,
    is_outer: Bools,
    number: Ints32,
    count: int,
) -> Ints32:
    """Return the face in which each component lies.

    From the rightmost vertex of a component a ray runs to the right. The first
    edge that it meets belongs to another component: on its near side lies the
    face, or the outside of that component, which lies in the same face.
    """
    edge_component = component[cycle_of[0::2]]
    a, b = edges.ends(vertices)
    # rightmost vertex of each component; the lowest of several
    tip = np.full(count, -np.inf)
    np.maximum.at(tip, edge_component, np.maximum(a[:, 0], b[:, 0]))
    tip_y = np.full(count, np.inf)
    for p in (a, b):
        at = p[:, 0] == tip[edge_component]
        np.minimum.at(tip_y, edge_component[at], p[at, 1])
    up = a[:, 1] <= b[:, 1]
    low = np.where(up[:, None], a, b)
    high = np.where(up[:, None], b, a)
    hit = _first_to_the_right(low, high, edge_component, tip, tip_y)
    parent = np.zeros(count, np.int64)
    link = np.arange(count)
    found = np.flatnonzero(hit >= 0)
    e = hit[found]
    # the side facing the ray's start: left of the edge as it runs upwards
    half = np.where(up[e], 2 * e, 2 * e + 1)
    cycle = cycle_of[half]
    outside = is_outer[cycle]
    parent[found[~outside]] = number[cycle[~outside]]
    link[found[outside]] = component[cycle[outside]]
    while True:
        further = link[link]
        if np.array_equal(further, link):
            break
        link = further
    return parent[link].astype(np.int32)


def _first_to_the_right(
    low: Floats, high: Floats, owner: Ints, x: Floats, y: Floats
) -> Ints:
    """Return the first edge that a ray to the right meets, or -1."""
    n = len(x)
    best = np.full(n, -1, np.int64)
    height = high[:, 1] - low[:, 1]
    bottom, top = float(low[:, 1].min()), float(high[:, 1].max())
    rows = int(np.clip((top - bottom) * len(low) / max(height.sum(), 1e-300), 1, 4096))
    scale = rows / max(top - bottom, 1e-300)

    def row_of(v: Floats) -> Ints:
        return np.clip(((v - bottom) * scale).astype(np.int64), 0, rows - 1)

    first, last = row_of(low[:, 1]), row_of(high[:, 1])
    # only rows that a ray runs in matter
    wanted = np.zeros(rows + 1, np.int64)
    np.add.at(wanted, row_of(y), 1)
    sums = np.r_[0, np.cumsum(wanted)]
    use = np.flatnonzero((sums[last + 1] > sums[first]) & (height > 0))
    entry, row = expand_ranges(first[use], last[use] - first[use] + 1)
    entry = use[entry]
    order = np.argsort(row, kind="stable")
    entry, row = entry[order], row[order]
    begin = np.searchsorted(row, np.arange(rows))
    stop = np.searchsorted(row, np.arange(rows), side="right")
    mine = row_of(y)
    count = stop[mine] - begin[mine]
    done = 0
    ends = np.cumsum(count)
    while done < n:
        base = ends[done - 1] if done else 0
        upto = max(int(np.searchsorted(ends, base + (1 << 21), side="right")), done + 1)
        ray, member = expand_ranges(begin[mine[done:upto]], count[done:upto])
        ray += done
        e = entry[member]
        yy = y[ray]
        good = (low[e, 1] <= yy) & (yy < high[e, 1]) & (owner[e] != ray)
        ray, e, yy = ray[good], e[good], yy[good]
        slope = (high[e, 0] - low[e, 0]) / height[e]
        # from the nearer end: just below a tip its two edges are told by their slopes
        above, below = high[e, 1] - yy, yy - low[e, 1]
        under = above < below
        xx = np.where(under, high[e, 0] - above * slope, low[e, 0] + below * slope)
        right = xx >= x[ray]
        slope = np.where(under, -slope, slope)
        ray, e, xx, slope = ray[right], e[right], xx[right], slope[right]
        rank = np.lexsort((slope, xx, ray))
        ray, e = ray[rank], e[rank]
        lead = begins(ray)
        best[ray[lead]] = e[lead]
        done = upto
    return best


def _rings(
    edges: Edges,
    order: Ints32,
    cycle_of: Ints32,
    cycle_start: Ints,
    cycle_member: Ints32,
    is_outer: Bools,
    number: Ints32,
    term: Floats,
) -> tuple[Ints, Ints32, Ints]:
    """Return rings of all faces; a cycle that touches itself is parted there."""
    origin = edges.vertex.reshape(-1)
    touching = _touching_cycles(origin, order, cycle_of, len(cycle_start) - 1)
    whole = np.flatnonzero(~touching)
    size = np.diff(cycle_start)
    parts: list[list[int]] = []
    part_cycle: list[int] = []
    for c in np.flatnonzero(touching).tolist():
        member = cycle_member[cycle_start[c] : cycle_start[c + 1]]
        rings = _part_at_repeats(member.tolist(), origin[member].tolist())
        parts.extend(rings)
        part_cycle.extend([c] * len(rings))
    ring_cycle = np.r_[whole, np.array(part_cycle, np.int64)]
    ring_size = np.r_[size[whole], np.array([len(r) for r in parts], np.int64)]
    _, whole_member = expand_ranges(cycle_start[whole], size[whole])
    half = np.concatenate(
        [cycle_member[whole_member], *[np.array(r, np.int32) for r in parts]]
    )
    start = np.r_[0, np.cumsum(ring_size)]
    area = _sums(term[half], start)
    face = number[ring_cycle].astype(np.int64)
    # the outer ring first: of the face's own cycle the ring of greatest area
    hole = is_outer[ring_cycle] | (area < 0)
    rank = np.lexsort((half[start[:-1]], hole, face))
    _, held = expand_ranges(start[:-1][rank], ring_size[rank])
    faces = int(number.max()) + 1
    per_face = np.bincount(face, minlength=faces)
    return (
        np.r_[0, np.cumsum(ring_size[rank])].astype(np.int64),
        half[held],
        np.r_[0, np.cumsum(per_face)].astype(np.int64),
    )


def _touching_cycles(
    origin: Ints32, order: Ints32, cycle_of: Ints32, cycles: int
) -> Bools:
    """Return which cycles visit a vertex more than once."""
    touching = np.zeros(cycles, dtype=bool)
    key = np.sort(origin[order].astype(np.int64) * cycles + cycle_of[order])
    touching[key[1:][key[1:] == key[:-1]] % cycles] = True
    return touching


def _part_at_repeats(member: list[int], origin: list[int]) -> list[list[int]]:
    """Part a closed walk into simple rings."""
    rings: list[list[int]] = []
    path: list[int] = []
    where: dict[int, int] = {}
    visited: list[int] = []
    for half, vertex in zip(member, origin, strict=True):
        at = where.get(vertex)
        if at is not None:
            rings.append(path[at:])
            for passed in visited[at:]:
                del where[passed]
            del path[at:], visited[at:]
        where[vertex] = len(path)
        path.append(half)
        visited.append(vertex)
    rings.append(path)
    return rings
