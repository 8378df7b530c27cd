"""What a stencil needs besides its outlines: bridges, an overlap, sound tips.

An *island* is a piece that nothing holds once the openings are cut out. A *bridge*
is a strip across an opening that holds one. *Tips* are openings that touch in a
point, where the sheet tears.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats
    from fillwork.renderers.sheets.parts import Parts

BRIDGE = 3.0
"""Width of a bridge that is proposed, mm."""


def opening_shape(parts: Parts, faces: AnyInts, grow: float) -> Any:
    """Return the openings of a mask as one shape, in the drawing's mm.

    `faces`: regions that are cut out. `grow`: how far the openings reach beyond their
    regions, mm of the drawing. Returns shapely geometry: a polygon or several.
    """
    shapes = [shapely.make_valid(shape) for shape in parts.shapes(faces)]
    joined = shapely.union_all(shapes)
    if grow:
        joined = shapely.buffer(joined, grow, join_style="mitre", mitre_limit=3.0)
    return joined


def find_bridges(openings: Any, frame: Any) -> tuple[Floats, int]:
    """Return bridges that hold all islands of a mask, and one another.

    They are the shortest that join every island to what holds (a least spanning
    tree), and a second one for each island that hangs on one alone.

    `openings` (shapely geometry): what is cut out. `frame` (shapely polygon): the sheet
    that it is cut from. Returns `bridges` (n, 4): middle lines, from piece to piece; of
    no length where they touch in a tip; `islands`: how many islands there are.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import minimum_spanning_tree

    stays = list(shapely.get_parts(shapely.difference(frame, openings)))
    edge = shapely.boundary(frame)
    holds = [p for p in stays if p.intersects(edge)]
    islands = [p for p in stays if not p.intersects(edge) and p.area > 0]
    n = len(islands)
    if not islands or not holds:
        return np.empty((0, 4)), n
    pieces = np.array([*islands, shapely.union_all(holds)])
    bounds = shapely.bounds(pieces[:n])
    size = np.hypot(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    tree = shapely.STRtree(pieces[:n])
    one, two = tree.query(pieces[:n], "dwithin", distance=float(np.median(size)))
    one, two = one[one < two], two[one < two]
    one, two = np.r_[one, np.arange(n)], np.r_[two, np.full(n, n)]
    lines = shapely.shortest_line(pieces[one], pieces[two])
    length = shapely.length(lines)
    # older scipy takes no wider numbers of rows
    rows = (one.astype(np.int32), two.astype(np.int32))
    graph = coo_array((length + 1e-6, rows), (n + 1, n + 1))
    kept = minimum_spanning_tree(graph).tocoo()
    taken = set(zip(kept.row.tolist(), kept.col.tolist(), strict=True))
    chosen = [k for k in range(len(one)) if (int(one[k]), int(two[k])) in taken]
    ends = shapely.get_coordinates(lines).reshape(-1, 4)
    # an island on one bridge turns: a second from its other side
    count = np.bincount(np.r_[one[chosen], two[chosen]], minlength=n + 1)
    used = set(chosen)
    for island in np.flatnonzero(count[:n] == 1).tolist():
        mine = np.flatnonzero((one == island) | (two == island))
        (first,) = (k for k in mine.tolist() if k in used)
        spot = ends[first, :2]
        far = np.linalg.norm(ends[mine, :2] - spot, axis=1) > 0.4 * size[island]
        more = mine[far & (length[mine] < 1.5 * size[island])]
        if len(more):
            chosen.append(int(more[np.argmin(length[more])]))
    return ends[sorted(set(chosen))], n


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
    faces = np.arange(1, parts.arrangement.face_count)
    # ring by ring, so that every corner is a corner and none an end
    rings = shapely.get_parts([shape.boundary for shape in parts.shapes(faces)])
    wide = shapely.buffer(rings, width / 2, join_style="mitre", mitre_limit=3.0)
    return shapely.union_all(wide)
