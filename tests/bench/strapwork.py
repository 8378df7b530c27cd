"""Strapwork whose strands are known from its graph, drawn as bands.

Star patterns by polygons in contact: in each tile of a uniform tiling two rays leave
the middle of every side and end where they meet those of the next side. Strands go
straight on through middles of sides and bend where rays meet, so that they follow from
the tiling alone; rails and cuts are made here, segment by segment, without the package.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree

from tests.reference.test_kinds_tilings import TILINGS


@dataclass(frozen=True)
class Strapwork:
    """Rails as segments, middle lines, and the size of the panel."""

    segments: np.ndarray  # (n, 4), mm
    middles: list[np.ndarray]  # points of each strand; closed where the first is last
    widths: np.ndarray  # of each strand, mm; 0 where it stays a line
    side: float
    nodes: np.ndarray  # points where strands cross, inside the panel

    @property
    def crossings(self) -> int:
        return len(self.nodes)


def _tiles(name: str, edge: float, side: float) -> list[np.ndarray]:
    basis, vertices, *_ = TILINGS[name]
    n = int(np.ceil(side / edge / np.sqrt(abs(np.linalg.det(basis))))) + 6
    i, j = np.meshgrid(np.arange(-n, n + 1), np.arange(-n, n + 1))
    shifts = np.column_stack([i.ravel(), j.ravel()]) @ np.asarray(basis, float)
    points = (shifts[:, None] + np.asarray(vertices, float)).reshape(-1, 2)
    points = points * edge + (side / 2 + 0.137 * edge)
    points = points[(np.abs(points - side / 2) < side / 2 + 4 * edge).all(axis=1)]
    points = points[np.unique(np.round(points / edge, 4), axis=0, return_index=True)[1]]
    pairs = cKDTree(points).query_pairs(1.001 * edge, output_type="ndarray")
    faces = shapely.polygonize(shapely.linestrings(points[pairs])).geoms
    return [np.array(f.exterior.coords)[:-1] for f in faces if f.area < 14 * edge**2]


def middle_lines(name: str, edge: float, side: float, angle: float) -> list[np.ndarray]:
    """Return the strands of a star pattern, longer than the panel."""
    links: dict[tuple, list[tuple]] = {}
    at: dict[tuple, np.ndarray] = {}

    def key(p: np.ndarray) -> tuple:
        k = tuple(np.round(p, 4) + 0.0)
        at.setdefault(k, p)
        return k

    for tile in _tiles(name, edge, side):
        if not shapely.LinearRing(tile).is_ccw:
            tile = tile[::-1]
        centre = tile.mean(axis=0)
        for k in range(len(tile)):
            before, corner, after = tile[k - 1], tile[k], tile[(k + 1) % len(tile)]
            one, other = (before + corner) / 2, (corner + after) / 2
            inward = centre - corner
            inward = inward / np.hypot(*inward)
            along = (corner - one) / np.hypot(*(corner - one))
            turn = np.array(
                [
                    [np.cos(angle), -np.sin(angle)],
                    [np.sin(angle), np.cos(angle)],
                ]
            )
            ray = turn @ along
            s, _ = np.linalg.solve(np.column_stack([ray, -inward]), corner - one)
            tip = key(one + s * ray)
            for end in (key(one), key(other)):
                links.setdefault(end, []).append(tip)
                links.setdefault(tip, []).append(end)
    return _followed(links, at)


def _followed(links: dict, at: dict) -> list[np.ndarray]:
    def onward(here: tuple, come: tuple) -> tuple | None:
        rest = [k for k in links[here] if k != come]
        if len(links[here]) == 2:
            return rest[0] if rest else None
        if len(links[here]) != 4:
            return None
        straight = at[here] - at[come]
        return max(
            rest,
            key=lambda k: (at[k] - at[here]) @ straight / np.hypot(*(at[k] - at[here])),
        )

    seen: set = set()
    strands = []
    whole = [k for k in links if len(links[k]) in (2, 4)]
    for first in sorted(whole):
        for second in sorted(links[first]):
            if (first, second) in seen:
                continue
            walk = [first, second]
            while True:
                seen |= {(walk[-2], walk[-1]), (walk[-1], walk[-2])}
                step = onward(walk[-1], walk[-2])
                if step is None or (walk[-1], step) in seen:
                    break
                walk.append(step)
            if walk[-1] != walk[0]:
                back = [second, first]
                while True:
                    step = onward(back[-1], back[-2])
                    if step is None or (back[-1], step) in seen:
                        break
                    back.append(step)
                    seen |= {(back[-2], back[-1]), (back[-1], back[-2])}
                walk = [*back[:1:-1], first, *walk[1:]]
            strands.append(np.array([at[k] for k in walk]))
    return strands


def _rails(middle: np.ndarray, reach: list[float]) -> np.ndarray:
    """Return (segments, lines, 4) of lines beside a middle, with mitred bends."""
    closed = np.allclose(middle[0], middle[-1])
    step = np.diff(middle, axis=0)
    step = step / np.hypot(*step.T)[:, None]
    normal = np.column_stack([-step[:, 1], step[:, 0]])
    before = np.vstack([normal[-1] if closed else normal[0], normal])
    after = np.vstack([normal, normal[0] if closed else normal[-1]])
    mitre = (before + after) / (1 + (before * after).sum(axis=1))[:, None]
    sides = []
    for aside in reach:
        rail = middle + aside * mitre
        sides.append(np.hstack([rail[:-1], rail[1:]]))
    return np.stack(sides, axis=1)


def strapwork(
    name: str,
    *,
    edge: float = 20.0,
    side: float = 120.0,
    angle: float = 60.0,
    width: float | tuple[float, ...] = 2.0,
    **how,
) -> Strapwork:
    """Return a panel of strapwork, drawn as `drawn_as_bands` has it.

    Several widths go round among the strands that are unlike by direction or size.
    """
    middles = middle_lines(name, edge, side, np.radians(angle))
    widths = np.resize(width, len(middles))
    if np.ndim(width):
        like = [_like(m, edge) for m in middles]
        ranks = {key: n for n, key in enumerate(sorted(set(like)))}
        widths = np.array([width[ranks[key] % len(width)] for key in like])
    return drawn_as_bands(middles, widths, side, **how)


def _like(middle: np.ndarray, edge: float) -> tuple[bool, int]:
    """Return what strands have in common: their size, or the way they run."""
    step = middle[-1] - middle[0]
    if np.allclose(step, 0):
        length = np.hypot(*np.diff(middle, axis=0).T).sum()
        return True, round(length / edge)
    return False, round(np.degrees(np.arctan2(step[1], step[0])) / 10) % 18


def drawn_as_bands(
    middles: list[np.ndarray],
    width: float | np.ndarray,
    side: float,
    *,
    woven: bool = False,
    lined: bool = False,
    gap: float = 0.0,
    jitter: float = 0.0,
    seed: int = 0,
    frame: bool = True,
) -> Strapwork:
    """Return strands that cross at shared points of theirs, drawn by their rails.

    Parameters
    ----------
    width : float or ndarray
        Of all bands or of each, mm; 0 leaves a line, which passes under all bands.
    lined : bool
        Whether a line runs along the middle of each band.
    gap : float
        By how much rails stop short of the band above, mm.
    jitter : float
        How far ends are off (normal), as a share of the mean width.
    """
    widths = np.resize(np.asarray(width, float), len(middles))
    passes: dict[tuple, list[tuple[int, int]]] = {}
    for s, middle in enumerate(middles):
        closed = np.allclose(middle[0], middle[-1])
        last = len(middle) - 1
        for k in range(last if closed else last + 1):
            passes.setdefault(tuple(np.round(middle[k], 4) + 0.0), []).append((s, k))
    cross = {p: v for p, v in passes.items() if len(v) == 2}
    nodes = {p: v for p, v in cross.items() if all(widths[s] for s, _ in v)}
    panel = shapely.box(0, 0, side, side)
    lines: list[np.ndarray] = []
    rails = [
        _rails(m, [w / 2, -w / 2, 0.0][: 3 if w and lined else 2 if w else 1])
        for m, w in zip(middles, widths, strict=True)
    ]
    cuts: dict[tuple[int, int], list] = {}
    if woven:
        below = _alternating(middles, nodes)
        for point, both in cross.items():
            if point not in nodes:  # lines go under bands
                if not any(widths[s] for s, _ in both):
                    continue
                below[point] = min(both, key=lambda at: widths[at[0]])
        for point, under in below.items():
            over = next(p for p in cross[point] if p != under)
            cut = _local(middles, over, widths[over[0]] + 2 * gap)
            s, k = under
            count = len(rails[s])
            for segment in ((k - 1) % count, k % count):
                cuts.setdefault((s, segment), []).append(cut)
    for s, table in enumerate(rails):
        for segment, pair in enumerate(table):
            for rail in pair:
                line = shapely.LineString(rail.reshape(2, 2))
                for cut in cuts.get((s, segment), ()):
                    line = line.difference(cut)
                line = line.intersection(panel)
                lines.extend(
                    np.array(part.coords).reshape(-1)
                    for part in shapely.get_parts(line)
                    if part.length > 1e-6
                )
    segments = np.array(lines)
    rng = np.random.default_rng(seed)
    if jitter:
        ends = segments.reshape(-1, 2)
        unique, back = np.unique(np.round(ends, 5), axis=0, return_inverse=True)
        inner = ((unique > 1e-4) & (unique < side - 1e-4)).all(axis=1)
        size = jitter * widths[widths > 0].mean()
        shift = rng.normal(0, size, unique.shape) * inner[:, None]
        segments = (ends + shift[back.reshape(-1)]).reshape(-1, 4)
    if frame:
        corners = np.array([[0, 0], [side, 0], [side, side], [0, side]], float)
        border = np.hstack([corners, np.roll(corners, -1, axis=0)])
        segments = np.vstack([segments, border])
    inside = [p for p in nodes if panel.contains(shapely.Point(p))]
    return Strapwork(segments, middles, widths, side, np.array(inside).reshape(-1, 2))


def _local(middles: list[np.ndarray], at: tuple[int, int], width: float):
    """Return a stretch of a straight band round one of its points."""
    s, k = at
    middle = middles[s]
    count = len(middle) - 1
    closed = np.allclose(middle[0], middle[-1])
    ends = [middle[k]]
    if k > 0 or closed:
        ends.insert(0, middle[(k - 1) % count if k == 0 else k - 1])
    if k < count or closed:
        ends.append(middle[k + 1 if k < count else 1])
    return shapely.LineString(ends).buffer(
        width / 2, cap_style="square", join_style="mitre"
    )


def _alternating(middles: list[np.ndarray], nodes: dict) -> dict:
    """Return the pass that is under at each crossing, over and under in turn."""
    chain: dict[tuple, list[tuple[tuple, int]]] = {}
    where = {p: (node, n) for node, v in nodes.items() for n, p in enumerate(v)}
    for s, middle in enumerate(middles):
        closed = np.allclose(middle[0], middle[-1])
        count = len(middle) - 1 if closed else len(middle)
        run = [where[s, k] for k in range(count) if (s, k) in where]
        links = zip(run, run[1:] + (run[:1] if closed else []), strict=False)
        for (a, i), (b, j) in links:
            chain.setdefault(a, []).append((b, i == j))
            chain.setdefault(b, []).append((a, i == j))
    state: dict[tuple, int] = {}
    for first in nodes:
        if first in state:
            continue
        state[first] = 0
        queue = [first]
        while queue:
            here = queue.pop()
            for there, flips in chain.get(here, ()):
                if there not in state:
                    state[there] = state[here] ^ int(flips)
                    queue.append(there)
    return {node: v[state[node]] for node, v in nodes.items()}


def truth_of_faces(work: Strapwork, polygons: np.ndarray) -> tuple[np.ndarray, list]:
    """Return which faces are bands, and the strands of which each is a part."""
    bands = [
        shapely.LineString(m).buffer(
            max(w, 1e-6) / 2, cap_style="flat", join_style="mitre", mitre_limit=20.0
        )
        for m, w in zip(work.middles, work.widths, strict=True)
    ]
    tree = shapely.STRtree(bands)
    members: list[set[int]] = [set() for _ in polygons]
    for face, s in zip(*tree.query(polygons, predicate="intersects"), strict=True):
        share = polygons[face].intersection(bands[s]).area / polygons[face].area
        if share > 0.8 and work.widths[s]:
            members[face].add(int(s))
    return np.array([bool(m) for m in members]), members
