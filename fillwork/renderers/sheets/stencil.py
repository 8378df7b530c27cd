"""What a stencil needs besides its outlines: bridges, an overlap, sound tips.

An *island* is a piece that nothing holds once the openings are cut out. A *bridge*
is a strip across an opening that holds one. *Tips* are openings that touch in a
point, where the sheet tears.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fillwork.geometry.polygons import polygon_sides
from fillwork.renderers.coloured import outline_strokes
from fillwork.renderers.scene import BLACK

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats
    from fillwork.renderers.sheets.parts import Parts

BRIDGE = 3.0
"""Width of a bridge that is proposed, mm."""

_GRID = 1e-7
"""How near points of an opening are one, in lengths of the drawing."""

_SECOND, _LONGER = 4, 3.0
"""A second bridge is no longer than so many widths of its island, or so many times the
first: longer ones sag."""

_ASIDE = 0.2
"""Seen from the middle a second bridge stands 78° from the first at least: the cosine.
"""

_ALIKE = 1e-6
"""Bridges are as short where they differ by less than that share of their island's
width."""

_BENT = np.cos(np.radians(20.0))
"""Where an outline turns more there is a corner."""

_PLACES = 48
"""From how many places on an outline bridges are tried, or along one side."""


def opening_shape(parts: Parts, faces: AnyInts, grow: float) -> Any:
    """Return the openings of a mask as one shape, in the drawing's mm.

    `faces`: regions that are cut out. `grow`: how far the openings reach beyond their
    regions, mm of the drawing. Returns shapely geometry: a polygon or several.
    """
    shapes = [shapely.make_valid(shape) for shape in parts.shapes(faces)]
    # sides that two regions share are alike but for the last digits of their chords
    joined = shapely.union_all(shapes, grid_size=_GRID * max(parts.size))
    if grow:
        joined = shapely.buffer(joined, grow, join_style="mitre", mitre_limit=3.0)
    return joined


def find_bridges(openings: Any, frame: Any) -> tuple[Floats, int]:
    """Return bridges that hold all islands of a mask, and one another.

    They are the shortest that join every island to what holds (a least spanning
    tree), and a second one, where it fits, for all that hangs on one alone.

    `openings` (shapely geometry): what is cut out. `frame` (shapely polygon): the sheet
    that it is cut from. Returns `bridges` (n, 4): middle lines, from piece to piece; of
    no length where they touch in a tip; `islands`: how many islands there are.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

    stays = list(shapely.get_parts(shapely.difference(frame, openings)))
    edge = shapely.boundary(frame)
    holds = [p for p in stays if p.intersects(edge)]
    islands = [p for p in stays if not p.intersects(edge) and p.area > 0]
    n = len(islands)
    if not islands or not holds:
        return np.empty((0, 4)), n
    pieces = np.array([*islands, shapely.union_all(holds)])
    size = _spans(pieces[:n])
    tree = shapely.STRtree(pieces[:n])
    one, two = tree.query(pieces[:n], "dwithin", distance=float(np.median(size)))
    one, two = one[one < two], two[one < two]
    one, two = np.r_[one, np.arange(n)], np.r_[two, np.full(n, n)]
    lines = shapely.shortest_line(pieces[one], pieces[two])
    # older scipy takes no wider numbers of rows
    rows = (one.astype(np.int32), two.astype(np.int32))
    graph = coo_array((shapely.length(lines) + 1e-6, rows), (n + 1, n + 1))
    kept = minimum_spanning_tree(graph)
    order, above = breadth_first_order(kept, n, directed=False)
    ends = shapely.get_coordinates(lines).reshape(-1, 4)
    # of each island the bridge towards the sheet, from its own end on
    row_of = {(a, b): k for k, (a, b) in enumerate(zip(*rows, strict=True))}
    first = np.empty((n, 4))
    shapely.prepare(pieces)
    for island in range(n):
        up = int(above[island])
        k = row_of[min(island, up), max(island, up)]
        bridge = ends[k] if island < up else ends[k][[2, 3, 0, 1]]
        first[island] = _centred(bridge, pieces[island], pieces[up])
    second = _second_bridges(pieces, first, order[:0:-1].tolist(), above.tolist())
    return np.concatenate([first, second]), n


def _spans(shapes: Any) -> Floats:
    """Return the diagonals of the boxes of shapes."""
    bounds = shapely.bounds(shapes)
    wide, high = bounds[..., 2] - bounds[..., 0], bounds[..., 3] - bounds[..., 1]
    return np.asarray(np.hypot(wide, high))


def _centred(bridge: Floats, island: Any, other: Any) -> Floats:
    """Return a bridge in the middle of a straight side along which it is as short.

    At the corner where the shortest way is found first, half of a bridge would hold.
    `bridge` (4,): from the `island` on to the `other` piece, which is prepared.
    """
    length = float(np.hypot(*(bridge[2:] - bridge[:2])))
    if length == 0:
        return bridge
    sides = np.concatenate(polygon_sides(island))
    begins = shapely.linestrings(sides.reshape(-1, 2, 2))
    spot = shapely.Point(bridge[:2])
    best: Floats = np.empty((0, 2))
    t = np.linspace(0.0, 1.0, _PLACES + 1)[:, None]
    for x0, y0, x1, y1 in sides[shapely.distance(begins, spot) < 1e-9 * length]:
        places = (1 - t) * (x0, y0) + t * (x1, y1)
        near = length * (1 + 1e-6)
        short = places[shapely.dwithin(other, shapely.points(places), near)]
        if len(short) > len(best):
            best = short
    if len(best) < 3:
        return bridge
    middle = shapely.Point(best[len(best) // 2])
    return shapely.get_coordinates(shapely.shortest_line(middle, other)).ravel()


def _second_bridges(
    pieces: Any, first: Floats, order: list[int], above: list[int]
) -> Floats:
    """Return second bridges for all that would turn, or fall with the one it has.

    `pieces` (n + 1,): islands, and last the sheet. `first` (n, 4): the bridge of each
    island, from the island on. `order`: islands, the farthest from the sheet first.
    `above` (n + 1,): to what piece the first bridge of each leads.
    """
    n = len(first)
    tree = shapely.STRtree(pieces)
    hung: list[list[int]] = [[k] for k in range(n)]  # with what hangs on it in turn
    held = [False] * n
    found: list[Floats] = []
    for island in order:
        group = hung[island]
        up = above[island]
        if up < n:
            hung[up] += group
        if held[island]:
            continue
        best = _second_bridge(tree, group, first[island])
        if best is None:
            continue
        line, one, two = best
        found.append(line)
        # every first bridge on the way round is one of two from now on
        way = [_way_up(piece, above) for piece in (one, two)]
        for piece in set(way[0]) ^ set(way[1]):
            held[piece] = True
    return np.array(found).reshape(-1, 4)


def _way_up(piece: int, above: list[int]) -> list[int]:
    """Return an island and all that its first bridges lead over, without the sheet."""
    way = []
    while piece < len(above) - 1:
        way.append(piece)
        piece = above[piece]
    return way


def _second_bridge(
    tree: Any, group: list[int], first: Floats
) -> tuple[Floats, int, int] | None:
    """Return the shortest bridge that holds islands on another side than their first.

    `tree`: over all pieces. `group`: the islands, which hang together. `first` (4,):
    their bridge. Returns a line, the island where it begins and the piece where it
    ends; None where none fits.
    """
    pieces = tree.geometries
    own = shapely.multipolygons(pieces[group])
    least = _LONGER * float(np.hypot(*(first[2:] - first[:2])))
    size = _spans(pieces[group])
    reach = np.maximum(_SECOND * size, least)
    tried = [_places(pieces[k]) for k in group]
    points, at = np.concatenate(tried), np.repeat(range(len(group)), [*map(len, tried)])
    middle = shapely.get_coordinates(shapely.centroid(own))[0]
    ways = points - middle
    towards = first[:2] - middle
    turn = ways @ towards / np.maximum(np.hypot(*ways.T) * np.hypot(*towards), 1e-300)
    aside = turn <= _ASIDE
    spots, at, turn = shapely.points(points[aside]), at[aside], turn[aside]
    # most are short: what is farther is asked where nothing nearer fits
    limit, known = min(least, float(reach.max())), np.empty(0, np.int64)
    order, length = np.empty(0, np.int64), np.empty(0)
    while len(spots):
        near = tree.query(own, "dwithin", distance=limit)
        others = np.setdiff1d(near, group)
        if len(others) > len(known):
            known = others
            # of those as near the first; a table of all would fill the memory
            at_spot, of = shapely.STRtree(pieces[others]).query_nearest(spots)
            _, begin = np.unique(at_spot, return_index=True)
            which = np.minimum.reduceat(of, begin)
            lines = shapely.shortest_line(spots, pieces[others[which]])
            length = shapely.length(lines)
            # of those as short the one straight across
            about = np.round(length / (_ALIKE * size[at]))
            order = np.lexsort((length, np.round(turn, 6), about))
        # what was too far for the last limit may be near enough for this one
        allowed = np.minimum(reach[at[order]], limit)
        for k in order[length[order] <= allowed].tolist():
            # not over the islands themselves
            over = shapely.length(shapely.intersection(lines[k], own))
            if over <= 1e-6 * length[k]:
                line = shapely.get_coordinates(lines[k]).ravel()
                return line, group[int(at[k])], int(others[which[k]])
        if limit >= reach.max():
            break
        limit = min(2 * limit, float(reach.max())) if limit else float(reach.max())
    return None


def find_tips(arrangement: Arrangement, cut_out: Bools) -> Floats:
    """Return where openings of a mask touch in a point.

    `cut_out` (F,): regions that are cut out. Returns (n, 2): points, mm of the drawing.
    """
    one, two = arrangement.face[0::2], arrangement.face[1::2]
    edge = np.flatnonzero(cut_out[one] != cut_out[two])
    ends = np.r_[arrangement.origin[2 * edge], arrangement.origin[2 * edge + 1]]
    # round such a vertex openings begin and end more than once
    count = np.bincount(ends, minlength=len(arrangement.vertices))
    return arrangement.vertices[count >= 4]


def _places(island: Any) -> Floats:
    """Return points all round an island from which a bridge is tried, (n, 2).

    All corners, and along sides as many more as make some `_PLACES` of them, the
    middles of these sides among them; of the chords of curves as many.
    """
    sides = np.concatenate(polygon_sides(island))
    ways = sides[:, 2:] - sides[:, :2]
    length = np.hypot(*ways.T)
    step = length.sum() / _PLACES
    count = np.where(length > step, 2 * np.ceil(length / step / 2), 1).astype(np.int64)
    # a vertex between chords stays where a step begins
    place = np.floor((np.cumsum(length) - length) / step)
    before = np.roll(ways, 1, axis=0)
    bent = (ways * before).sum(axis=1) < _BENT * length * np.roll(length, 1)
    count[(count == 1) & ~bent & (place == np.roll(place, 1))] = 0
    row = np.repeat(np.arange(len(sides)), count)
    nth = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    points: Floats = sides[row, :2] + ways[row] * (nth / count[row])[:, None]
    return points


def bridge_strips(bridges: Floats, width: float) -> list[Any]:
    """Return bridges as strips that reach a little into what they join.

    `bridges` (n, 4): their middle lines. `width`: their width, in the same unit.
    """
    strips = []
    for x0, y0, x1, y1 in bridges.tolist():
        way = np.array([x1 - x0, y1 - y0])
        length = float(np.hypot(*way))
        if length <= 1e-9:
            # pieces that touch in a tip: a small square joins them
            strips.append(shapely.Point(x0, y0).buffer(width / 2, cap_style="square"))
            continue
        way *= width / 2 / length
        dx, dy = way.tolist()
        line = shapely.LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)])
        strips.append(shapely.buffer(line, width / 2, cap_style="flat"))
    return strips


def name_points(points: Floats) -> str:
    """Return points in words, two of them as ``@x,y``. `points` (n, 2): mm."""
    named = [f"@{x:.1f},{y:.1f}" for x, y in points[:2].tolist()]
    rest = len(points) - len(named)
    return ", ".join(named) + (f" and {rest} more" if rest > 0 else "")


def line_shape(parts: Parts, width: float) -> Any:
    """Return the painted line as one shape with both edges, in the drawing's mm.

    Shapely geometry: a polygon or several.
    """
    # path by path, as it is painted: straight on where lines cross, and so without the
    # tips that the corners of each region would have there
    drawn = outline_strokes(parts.arrangement, width, BLACK)
    error = min(0.02, max(parts.size) * 2e-5)
    steps = np.cumsum(np.r_[0, drawn.curves.chord_counts(error).astype(np.int64)])
    chords, _, _ = drawn.curves.flatten(error)
    paths: list[Any] = []
    for rows, closed in zip(
        np.split(chords, steps[drawn.start[1:-1]]), drawn.closed, strict=True
    ):
        if closed and len(rows) > 2:
            paths.append(shapely.LinearRing(rows[:, 0:2]))
        else:
            paths.append(shapely.LineString(np.vstack([rows[:1, 0:2], rows[:, 2:4]])))
    wide = shapely.buffer(
        paths, width / 2, cap_style="flat", join_style="mitre", mitre_limit=3.0
    )
    return shapely.union_all(wide)
