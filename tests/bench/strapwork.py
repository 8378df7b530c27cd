"""Strapwork whose strands are known from its graph, drawn as bands.

Star patterns by polygons in contact: in each tile of a uniform tiling two rays leave
the middle of every side and end where they meet those of the next side. Strands go
straight on through middles of sides and bend where rays meet, so that they follow from
the tiling alone; rails and cuts are made here, segment by segment, without the package.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace

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
    arcs: np.ndarray = field(default_factory=lambda: np.empty((0, 5)))
    """Centre, radius and two angles of each, mm and radians."""
    margin: float = 8.0  # of the page round the panel, mm

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
    lined: bool | tuple[float, ...] = False,
    gap: float = 0.0,
    jitter: float = 0.0,
    seed: int = 0,
    frame: bool = True,
    border: float = 0.0,
) -> Strapwork:
    """Return strands that cross at shared points of theirs, drawn by their rails.

    Parameters
    ----------
    width : float or ndarray
        Of all bands or of each, mm; 0 leaves a line, which passes under all bands.
    lined : bool or tuple of float
        Whether a line runs along the middle of each band, or where several do: how far
        off its middle, in widths.
    gap : float
        By how much rails stop short of the band above, mm.
    jitter : float
        How far ends are off (normal), as a share of the mean width.
    frame : bool
        Whether lines run round the panel; else its page ends there.
    border : float
        How far outside those a second frame runs, mm; 0 for none.
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
    inner = [0.0] if lined is True else list(lined or [])
    rails = [
        _rails(m, [w / 2, -w / 2, *(w * off for off in inner)] if w else [0.0])
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
        segments = np.vstack([segments, *_frames(side, border)])
    inside = [p for p in nodes if panel.contains(shapely.Point(p))]
    return Strapwork(
        segments,
        middles,
        widths,
        side,
        np.array(inside).reshape(-1, 2),
        margin=8.0 if frame else 0.0,
    )


def _frames(side: float, border: float) -> list[np.ndarray]:
    """Return the sides of a frame, and of one round it."""
    corners = np.array([[0, 0], [side, 0], [side, side], [0, side]], float)
    sides = np.hstack([corners, np.roll(corners, -1, axis=0)])
    more = np.sign(sides - side / 2) * border
    return [sides, sides + more] if border else [sides]


def circles_as_bands(
    rng: np.random.Generator,
    side: float,
    *,
    woven: bool = False,
    jitter: float = 0.0,
    seed: int = 0,
) -> Strapwork:
    """Return circles of a lattice that cross two by two, each a band of two arcs.

    Centres and radii of arcs are off by a normal error of so many widths.
    """
    step = rng.uniform(20, 28)
    square = rng.random() < 0.5
    radius = step * (rng.uniform(0.57, 0.63) if square else rng.uniform(0.68, 0.73))
    width = step * rng.uniform(0.05, 0.085)
    basis = np.eye(2) if square else np.array([[1, 0], [0.5, np.sqrt(0.75)]])
    i = np.arange(-9, 10)
    centres = np.stack(np.meshgrid(i, i), -1).reshape(-1, 2) @ basis * step
    centres = centres + side / 2 + rng.uniform(-0.5, 0.5, 2) * step
    centres = centres[(np.abs(centres - side / 2) < side / 2 + radius + width).all(1)]
    meet: list[list[tuple[float, int]]] = [[] for _ in centres]
    for a, b in cKDTree(centres).query_pairs(2 * radius, output_type="ndarray"):
        way = centres[b] - centres[a]
        turn = np.arccos(np.hypot(*way) / 2 / radius)
        base = np.arctan2(way[1], way[0])
        for sign in (1, -1):
            meet[a].append(((base + sign * turn) % (2 * np.pi), int(b)))
            meet[b].append(((base + np.pi - sign * turn) % (2 * np.pi), int(a)))
    middles = []
    for centre, points in zip(centres, meet, strict=True):
        angles = np.unique([a for a, _ in points] + list(np.radians(np.arange(360))))
        spots = centre + radius * np.stack([np.cos(angles), np.sin(angles)], 1)
        middles.append(np.vstack([spots, spots[:1]]))
    passes: dict[tuple, list[tuple[int, int]]] = {}
    for s, points in enumerate(meet):
        for angle, _ in points:
            spot = centres[s] + radius * np.array([np.cos(angle), np.sin(angle)])
            k = int(np.hypot(*(middles[s][:-1] - spot).T).argmin())
            passes.setdefault(tuple(np.round(spot, 4) + 0.0), []).append((s, k))
    nodes = {p: v for p, v in passes.items() if len(v) == 2}
    below = _alternating(middles, nodes) if woven else {}
    over: dict[int, list[tuple[np.ndarray, int]]] = {}
    for spot, (s, _) in below.items():
        other = next(t for t, _ in nodes[spot] if t != s)
        over.setdefault(s, []).append((np.array(spot), other))
    noise = np.random.default_rng(seed)
    arcs = []
    for s, centre in enumerate(centres):
        for rail in (radius - width / 2, radius + width / 2):
            cuts = [0.0, 2 * np.pi]
            for axis in (0, 1):
                for wall in (0.0, side):
                    far = (wall - centre[axis]) / rail
                    if abs(far) < 1:
                        turn = np.arccos(far) if axis == 0 else np.arcsin(far)
                        cuts += [turn, -turn if axis == 0 else np.pi - turn]
            for _, t in over.get(s, ()):
                way = centres[t] - centre
                apart, base = np.hypot(*way), np.arctan2(way[1], way[0])
                for reach in (radius - width / 2, radius + width / 2):
                    turn = (rail**2 + apart**2 - reach**2) / (2 * rail * apart)
                    cuts += [base + np.arccos(turn), base - np.arccos(turn)]
            cuts = np.unique(np.mod(cuts[2:], 2 * np.pi)).tolist() or [0.0]
            for a, b in zip(cuts, [*cuts[1:], cuts[0] + 2 * np.pi], strict=True):
                turn = (a + b) / 2
                mid = centre + rail * np.array([np.cos(turn), np.sin(turn)])
                hidden = any(
                    abs(np.hypot(*(mid - centres[t])) - radius) < width / 2
                    and np.hypot(*(mid - spot)) < 3 * width
                    for spot, t in over.get(s, ())
                )
                if hidden or (mid < 0).any() or (mid > side).any() or b - a < 1e-9:
                    continue
                arcs.append([*centre, rail, a, b])
    table = np.array(arcs)
    # ends stay on their rails where a hand is off by a little
    table[:, :3] += noise.normal(0, jitter * width, (len(table), 3))
    inside = [p for p in nodes if min(p) > 0 and max(p) < side]
    return Strapwork(
        _frames(side, 0.0)[0],
        middles,
        np.full(len(middles), width),
        side,
        np.array(inside).reshape(-1, 2),
        table,
    )


def near_panel(work: Strapwork, far: float) -> Strapwork:
    """Return a panel whose strands are other ones where they go farther off than that.

    The lines of a pattern end a little outside, and turn back there into others.
    """
    middles, widths = [], []
    for middle, width in zip(work.middles, work.widths, strict=True):
        parts, _ = _clipped(middle + far, work.side + 2 * far)
        middles += [part - far for part in parts]
        widths += [width] * len(parts)
    return replace(work, middles=middles, widths=np.array(widths))


def within_panel(
    work: Strapwork,
) -> tuple[Strapwork, np.ndarray, list[tuple[int, int]]]:
    """Return a panel whose strands end where its frame cuts them, and whose they are.

    The last are pairs of parts: where the one leaves the panel, the other is the next
    of its strand to come in, and the middle goes no farther than 1.5 widths meanwhile.
    Crossings that the frame cuts are left out.
    """
    middles, widths, origin = [], [], []
    onward: list[tuple[int, int]] = []
    for s, (middle, width) in enumerate(zip(work.middles, work.widths, strict=True)):
        parts, away = _clipped(middle, work.side)
        rows = np.arange(len(middles), len(middles) + len(parts))
        pairs = zip(np.roll(rows, 1).tolist(), rows.tolist(), away, strict=True)
        onward += [(a, b) for a, b, far in pairs if far <= 1.5 * width]
        middles += parts
        widths += [width] * len(parts)
        origin += [s] * len(parts)
    panel = shapely.box(0, 0, work.side, work.side)
    near = [shapely.Point(p).buffer(2 * work.widths.max()) for p in work.nodes]
    bands = [
        shapely.LineString(m).buffer(
            max(w, 1e-3) / 2, cap_style="flat", join_style="mitre", mitre_limit=20.0
        )
        for m, w in zip(work.middles, work.widths, strict=True)
    ]
    whole = []
    for spot in near:
        both = [b for b in bands if b.contains(spot.centroid)]
        # where a strand crosses itself, a circle about the point
        common = both[0].intersection(both[1]) if len(both) == 2 else spot
        whole.append(panel.covers(common.intersection(spot)))
    inner = replace(
        work, middles=middles, widths=np.array(widths), nodes=work.nodes[whole]
    )
    return inner, np.array(origin), onward


def crossing_places(work: Strapwork) -> np.ndarray:
    """Return the places in a panel in which bands cross, one with itself too."""
    wide = [s for s, w in enumerate(work.widths) if w]
    panel = shapely.box(0, 0, work.side, work.side)
    near = panel.buffer(0.1)
    # stretches of bands, so that a strand that crosses itself is seen as well
    parts, place = [], []
    for s in wide:
        for k, (p, q) in enumerate(itertools.pairwise(work.middles[s])):
            line = shapely.LineString([p, q])
            if near.distance(line) < 2 * work.widths[s]:
                parts.append(line.buffer(work.widths[s] / 2, cap_style="flat"))
                place.append((s, k))
    stretches = np.array(parts, object)
    one, other = shapely.STRtree(stretches).query(stretches, predicate="intersects")
    common = [
        parts[a].intersection(parts[b])
        for a, b in zip(one.tolist(), other.tolist(), strict=True)
        if a < b and (place[a][0] != place[b][0] or abs(place[a][1] - place[b][1]) > 1)
    ]
    spots = shapely.union_all([c for c in common if c.area > 1e-6])
    spots = shapely.get_parts(spots.intersection(panel))
    return spots[shapely.area(spots) > 1e-6]


def _clipped(middle: np.ndarray, side: float) -> tuple[list[np.ndarray], list[float]]:
    """Return the parts of a line in a square, and how far off it went before each."""
    parts: list[list[np.ndarray]] = []
    away: list[float] = []
    closed = np.allclose(middle[0], middle[-1])
    off = np.hypot(*np.maximum(np.maximum(-middle, middle - side), 0).T)
    far, fresh = 0.0 if closed else np.inf, True
    for k, (p, q) in enumerate(itertools.pairwise(middle)):
        d = q - p
        far = max(far, float(off[k]))
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.stack([(0 - p) / d, (side - p) / d])
        low, high = np.nan_to_num(np.sort(t, axis=0), nan=0.0)
        flat = np.abs(d) < 1e-12
        low, high = np.where(flat, 0, low), np.where(flat, 1, high)
        a, b = max(0.0, low.max()), min(1.0, high.min())
        if (flat & ((p < 0) | (p > side))).any() or b - a < 1e-9:
            fresh = True
            continue
        if fresh or a > 1e-9:
            parts.append([p + a * d])
            away.append(far)
        parts[-1].append(p + b * d)
        fresh, far = b < 1 - 1e-9, 0.0
    if parts and closed:
        away[0] = max(away[0], far, float(off[-1]))
        if len(parts) > 1 and np.allclose(parts[0][0], parts[-1][-1]):
            parts[0] = parts.pop() + parts[0][1:]
            away[0] = away.pop()
    return [np.array(p) for p in parts], away


def svg_of_panel(work: Strapwork) -> bytes:
    """Return an SVG drawing of a panel on a page with a margin, in mm."""
    size = work.side + 2 * work.margin
    rows = [
        f'<line x1="{a:.6f}" y1="{b:.6f}" x2="{c:.6f}" y2="{d:.6f}"/>'
        for a, b, c, d in (work.segments + work.margin).tolist()
    ]
    for x, y, r, a, b in work.arcs.tolist():
        cx, cy = x + work.margin, y + work.margin
        if b - a > 2 * np.pi - 1e-9:
            rows.append(f'<circle cx="{cx:.6f}" cy="{cy:.6f}" r="{r:.6f}"/>')
            continue
        large = int(b - a > np.pi)
        rows.append(
            f'<path d="M{cx + r * np.cos(a):.6f} {cy + r * np.sin(a):.6f}'
            f"A{r:.6f} {r:.6f} 0 {large} 1 "
            f'{cx + r * np.cos(b):.6f} {cy + r * np.sin(b):.6f}"/>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size:.3f}mm" '
        f'height="{size:.3f}mm" viewBox="0 0 {size:.3f} {size:.3f}">'
        '<g fill="none" stroke="#000" stroke-width="0.2">\n'
        + "\n".join(rows)
        + "\n</g></svg>\n"
    ).encode()


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


def truth_of_faces(
    work: Strapwork, polygons: np.ndarray, *, cap: str = "flat", most: float = 0.8
) -> tuple[np.ndarray, list]:
    """Return which faces are bands, and the strands of which each is a part."""
    bands = [
        shapely.LineString(m).buffer(
            max(w, 1e-6) / 2, cap_style=cap, join_style="mitre", mitre_limit=20.0
        )
        for m, w in zip(work.middles, work.widths, strict=True)
    ]
    tree = shapely.STRtree(bands)
    members: list[set[int]] = [set() for _ in polygons]
    for face, s in zip(*tree.query(polygons, predicate="intersects"), strict=True):
        share = polygons[face].intersection(bands[s]).area / polygons[face].area
        if share > most and work.widths[s]:
            members[face].add(int(s))
    return np.array([bool(m) for m in members]), members
