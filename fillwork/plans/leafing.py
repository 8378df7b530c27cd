"""How leaf is laid and cut: leaves on the true shapes of regions.

A region is grown by the lap, for leaf must reach over the edge of its size. Where
it fits into one leaf it takes one *piece*, the box round it; else leaves lie in
rows with their lap, turned and shifted as takes the least, and each leaf that the
region fills in part is a piece of what it needs. Two alike shapes that nest when
one is turned about, as triangles do, come from one piece. Pieces are then cut
from whole leaves by guillotine cuts, several small ones from one leaf. Nothing is
joined from offcuts that do not hold a whole piece. What is lost to faults and wind
comes on top, as a share.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray


_MOST_TURNS = 4
_SHIFTS = (0.0, 0.5, 1.0)
_MANY = 60
"""Alike pieces above which whole leaves are cut alike before the rest is mixed."""
_FEW = 600
"""Pieces up to which several orders of cutting are tried."""
_OPEN = 30
"""Begun leaves that are looked through for a place."""
_COPIED = 12
"""Pieces of a shape up to which leaves are counted by cutting."""
_FINE = 0.05
"""mm to which pieces are rounded up, so that alike ones are alike."""


_Box = tuple[float, float, float, float]
"""Left, bottom, right, top of a piece as it lies; x, y, width, height of a cut."""


@dataclass(frozen=True, slots=True, eq=False)
class LeafShape:
    """Hold one gilded shape and the leaves that lie on it.

    Parameters
    ----------
    orbits : tuple of int
        Its kinds; none for lines.
    count : float
        How many there are.
    outline : tuple of ndarray of shape (n, 2)
        Its rings, not closed, mm, true size; empty for lines.
    pieces : tuple of ndarray of shape (4, 2)
        Corners of each piece of leaf on it, mm.
    sizes : tuple of (float, float)
        Width and height of each piece, mm.
    pair : tuple of (float, float) or None
        The piece from which two of them are cut, one turned about.
    """

    orbits: tuple[int, ...]
    count: float
    outline: tuple[NDArray[np.float64], ...]
    pieces: tuple[NDArray[np.float64], ...]
    sizes: tuple[tuple[float, float], ...]
    pair: tuple[float, float] | None = None

    @property
    def cuts(self) -> tuple[tuple[float, float, int], ...]:
        """Return the pieces that all of them take: width, height, number."""
        many = max(1, math.ceil(self.count - 1e-6))
        if self.pair is None:
            return tuple((w, h, many) for w, h in self.sizes)
        single = ((*self.sizes[0], 1),) if many % 2 else ()
        return ((*self.pair, many // 2), *single)


@dataclass(frozen=True, slots=True)
class CutLeaf:
    """Hold how one leaf is cut, and how many are cut so.

    Parameters
    ----------
    cuts : tuple of (float, float, float, float)
        x, y, width and height of each piece on the leaf, mm.
    count : int
        Leaves cut this way.
    """

    cuts: tuple[tuple[float, float, float, float], ...]
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class LeafPlan:
    """Hold how one leaf metal is laid over all its regions.

    Parameters
    ----------
    swatch : int
        Place in the palette.
    size : tuple of (float, float)
        Width and height of a leaf, mm.
    lap : float
        Lap of leaves, mm.
    loss : float
        Share lost.
    shapes : tuple of LeafShape
        What is gilded.
    leaves : tuple of CutLeaf
        How leaves are cut.
    """

    swatch: int
    size: tuple[float, float]
    lap: float
    loss: float
    shapes: tuple[LeafShape, ...]
    leaves: tuple[CutLeaf, ...]

    @property
    def laid(self) -> int:
        """Return the leaves that are laid, without loss."""
        return sum(leaf.count for leaf in self.leaves)

    @property
    def needed(self) -> int:
        """Return the leaves to have at hand, with loss."""
        return math.ceil(self.laid * (1.0 + self.loss) - 1e-9)


def _turns(shape: Any) -> list[float]:
    """Return angles worth trying: of the least box, and of the longest sides."""
    import shapely

    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    angles = [0.0]
    for points in (box, shapely.get_coordinates(shape.exterior)):
        sides = np.diff(points, axis=0)
        order = np.argsort(-np.hypot(sides[:, 0], sides[:, 1]), kind="stable")
        angles += [math.atan2(*sides[k][::-1]) for k in order[:3]]
    found: list[float] = []
    for angle in angles:
        bare = angle % (math.pi / 2)
        if all(abs(math.sin(2 * (bare - other))) > 1e-6 for other in found):
            found.append(bare)
    return found[:_MOST_TURNS]


def cover_shape(
    shape: Any, size: tuple[float, float], lap: float
) -> tuple[tuple[NDArray[np.float64], ...], tuple[tuple[float, float], ...]]:
    """Lay leaves on one shape.

    `shape` (shapely Polygon or MultiPolygon): the shape, mm, true size. `size`: width
    and height of a leaf, mm. `lap`: lap of leaves, and how far leaf reaches over the
    edge, mm. Returns `corners` (4, 2): corners of each piece as it lies; `sizes`: its
    width and height, the wider first.
    """
    import shapely
    from shapely import affinity

    parts = [p for p in shapely.get_parts(shape) if p.area > 0]
    if len(parts) != 1:
        found = [cover_shape(p, size, lap) for p in parts]
        corners = tuple(c for f in found for c in f[0])
        return corners, tuple(s for f in found for s in f[1])
    grown = shapely.buffer(parts[0], lap, join_style="mitre", mitre_limit=2.0)
    best: tuple[float, list[_Box], float] = (math.inf, [], 0.0)
    for angle in _turns(grown):
        turned = affinity.rotate(grown, -angle, origin=(0, 0), use_radians=True)
        for width, height in dict.fromkeys((size, size[::-1])):
            cost, boxes = _rows_of_leaves(turned, width, height, lap)
            if cost < best[0] - 1e-9:
                best = (cost, boxes, angle)
    _, boxes, angle = best
    turn = np.array(
        [[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]]
    )
    laid = tuple(
        np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) @ turn.T
        for x0, y0, x1, y1 in boxes
    )
    return laid, tuple(map(_sides, boxes))


def _pair_up(
    shape: Any, size: tuple[float, float], lap: float
) -> tuple[float, float] | None:
    """Return the least piece that two alike shapes come from, one turned about.

    None where two boxes side by side are hardly larger, or no leaf holds it.
    """
    import shapely
    from shapely import affinity

    grown = shapely.buffer(shape, lap, join_style="mitre", mitre_limit=2.0)
    hull = grown.convex_hull
    best: tuple[float, float] | None = None
    box_area = shapely.minimum_rotated_rectangle(grown).area
    if hull.area > 0.7 * box_area:
        return None
    least = 0.85 * 2.0 * box_area
    for angle in _turns(grown):
        turned = affinity.rotate(hull, -angle, origin=(0, 0), use_radians=True)
        left, bottom, right, top = turned.bounds
        middle = ((left + right) / 2, (bottom + top) / 2)
        other = affinity.rotate(turned, 180, origin=middle)
        wide, high = right - left, top - bottom
        for dx, dy in ((wide, 0.0), (0.0, high)):
            low, far = 0.0, 1.0
            for _ in range(24):
                share = (low + far) / 2
                moved = affinity.translate(other, share * dx, share * dy)
                if shapely.intersection(turned, moved).area > 1e-6:
                    low = share
                else:
                    far = share
            box = (wide + far * dx, high + far * dy)
            fits = max(box) <= max(size) and min(box) <= min(size)
            if fits and box[0] * box[1] < least:
                best, least = (max(box), min(box)), box[0] * box[1]
    return best


def _sides(box: _Box) -> tuple[float, float]:
    """Return the longer and the shorter side."""
    sides = box[2] - box[0], box[3] - box[1]
    return max(sides), min(sides)


def _leaves_of(boxes: list[_Box], size: tuple[float, float]) -> float:
    """Return about how many leaves some pieces take where there are more alike.

    Four copies are cut together, so that what is left of a leaf counts when it
    holds a piece of the next shape; of many pieces the area counts, and a tenth
    of a leaf for each join.
    """
    area = sum((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in boxes) / (size[0] * size[1])
    if len(boxes) > _COPIED:
        return area + 0.1 * len(boxes)
    pieces = sorted(4 * [_sides(box) for box in boxes], reverse=True)
    return len(_pack(pieces, size, short=True)) / 4 + 0.01 * area + 1e-3 * len(boxes)


def _rows_of_leaves(
    shape: Any, width: float, height: float, lap: float
) -> tuple[float, list[_Box]]:
    """Return leaves that cover a shape, rows along the axes, and what they cost."""
    import shapely

    left, bottom, right, top = shape.bounds
    if right - left <= width + 1e-9 and top - bottom <= height + 1e-9:
        boxes = [(left, bottom, right, top)]
        return _leaves_of(boxes, (width, height)), boxes
    step_x, step_y = width - lap, height - lap
    across = max(1, math.ceil((right - left - lap) / step_x - 1e-9))
    up = max(1, math.ceil((top - bottom - lap) / step_y - 1e-9))
    slack_x = across * step_x + lap - (right - left)
    slack_y = up * step_y + lap - (top - bottom)
    best: tuple[float, list[_Box]] = (math.inf, [])
    shares = (0.5,) if across * up > 40 else _SHIFTS
    i, j = np.meshgrid(np.arange(across), np.arange(up))
    for share_x in shares:
        for share_y in shares:
            x0, y0 = left - share_x * slack_x, bottom - share_y * slack_y
            low_x, low_y = x0 + i.ravel() * step_x, y0 + j.ravel() * step_y
            cells = shapely.box(low_x, low_y, low_x + width, low_y + height)
            parts = shapely.get_parts(shapely.intersection(cells, shape))
            boxes = [one.bounds for one in parts if one.area > 1e-6]
            cost = _leaves_of(boxes, (width, height))
            if cost < best[0] - 1e-9:
                best = (cost, boxes)
    return best


def cut_leaves(
    pieces: Iterable[tuple[float, float, int]], size: tuple[float, float]
) -> tuple[CutLeaf, ...]:
    """Cut pieces from leaves by guillotine cuts.

    How leaves are cut, the commonest first. `pieces`: width, height and number of each
    piece; a piece may be turned by 90°. `size`: width and height of a leaf; no piece is
    larger.

    The pieces with the longest side first, each into the begun leaf whose free
    part it fills best; the free part is split the shorter or the longer way, and
    the way that needs fewer leaves is taken. It is no proof of the fewest: on
    small cases an exact search is never beaten by more than one leaf in tests.
    """
    tally: Counter[tuple[float, float]] = Counter()
    for w, h, n in pieces:
        tally[_up(max(w, h), max(size)), _up(min(w, h), min(size))] += n
    alike: list[CutLeaf] = []
    rest: list[tuple[float, float]] = []
    for (w, h), n in sorted(tally.items(), reverse=True):
        if n > _MANY:
            one = _most_alike(w, h, size)
            whole = n // len(one)
            alike.append(CutLeaf(tuple(one), whole))
            n -= whole * len(one)
        rest += [(w, h)] * n
    orders = (
        sorted(rest, key=lambda p: (-p[0], -p[1])),
        sorted(rest, key=lambda p: (-p[0] * p[1], -p[0])),
        sorted(rest, key=lambda p: (-p[1], -p[0])),
    )
    ways = ((True, 0.0), (False, 0.0), (True, 1e3), (False, 1e3))
    # very many pieces fill leaves well in any order
    few = len(rest) <= _FEW
    tried = (
        _pack(order, size, short=short, turned=turned)
        for order in (orders if few else orders[:1])
        for short, turned in (ways if few else ways[:1])
    )
    count = Counter(tuple(sorted(leaf)) for leaf in min(tried, key=len))
    found = [CutLeaf(cuts, n) for cuts, n in count.items()]
    return tuple(sorted((*alike, *found), key=lambda c: (-c.count, c.cuts)))


def _most_alike(w: float, h: float, size: tuple[float, float]) -> list[_Box]:
    """Return as many pieces of one size as were found to come from a leaf."""
    found = []
    for a, b in ((w, h), (h, w)):
        across, up = int((size[0] + 1e-9) // a), int((size[1] + 1e-9) // b)
        found.append([(i * a, j * b, a, b) for j in range(up) for i in range(across)])
    alike = [(w, h)] * _MANY
    found += [_pack(alike, size, short=short)[0] for short in (True, False)]
    return max(found, key=len)


def _up(value: float, most: float) -> float:
    return min(round(math.ceil(value / _FINE - 1e-6) * _FINE, 4), most)


def _pack(
    pieces: Sequence[tuple[float, float]],
    size: tuple[float, float],
    *,
    short: bool,
    turned: float = 0.0,
) -> list[list[_Box]]:
    """Return leaves with their cuts, each piece where it fits best.

    `turned` is what turning a piece by 90° counts as, mm of a bad fit.
    """
    leaves: list[list[_Box]] = []
    free: list[list[_Box]] = []
    for w, h in pieces:
        best: tuple[float, int, int, float, float] | None = None
        for k in range(max(0, len(leaves) - _OPEN), len(leaves)):
            for f, (_, _, fw, fh) in enumerate(free[k]):
                for a, b, worse in ((w, h, 0.0), (h, w, turned)):
                    if a <= fw + 1e-9 and b <= fh + 1e-9:
                        left = min(fw - a, fh - b) + worse
                        if best is None or left < best[0] - 1e-9:
                            best = (left, k, f, a, b)
        if best is None:
            leaves.append([])
            free.append([(0.0, 0.0, *size)])
            a, b = (w, h) if w <= size[0] + 1e-9 and h <= size[1] + 1e-9 else (h, w)
            best = (0.0, len(leaves) - 1, 0, a, b)
        _, k, f, a, b = best
        x, y, fw, fh = free[k].pop(f)
        leaves[k].append((x, y, a, b))
        if (fw - a < fh - b) == short:
            rest = ((x + a, y, fw - a, b), (x, y + b, fw, fh - b))
        else:
            rest = ((x + a, y, fw - a, fh), (x, y + b, a, fh - b))
        free[k] += [r for r in rest if r[2] > _FINE and r[3] > _FINE]
    return leaves


def lay_leaf(
    swatch: int,
    shapes: Iterable[tuple[tuple[int, ...], float, Any]],
    lines: Iterable[LeafShape] = (),
    *,
    size: tuple[float, float],
    lap: float,
    loss: float,
) -> LeafPlan:
    """Lay leaf over shapes and lines, and cut it.

    `swatch`: place in the palette. `shapes` (iterable of (tuple of int, float,
    polygon)): kinds, how many there are, and the shape at true size, mm. `size`: width
    and height of a leaf, mm. `lap`: lap of leaves, mm. `loss`: share lost.
    """
    import shapely

    laid = []
    for kinds, count, shape in shapes:
        corners, sizes = cover_shape(shape, size, lap)
        rings = tuple(
            np.asarray(shapely.get_coordinates(ring))[:-1]
            for part in shapely.get_parts(shape)
            if part.geom_type == "Polygon"
            for ring in (part.exterior, *part.interiors)
        )
        pair = _pair_up(shape, size, lap) if len(sizes) == 1 and count > 1.5 else None
        laid.append(LeafShape(kinds, count, rings, corners, sizes, pair))
    laid += list(lines)
    pieces = [cut for shape in laid for cut in shape.cuts]
    return LeafPlan(swatch, size, lap, loss, tuple(laid), cut_leaves(pieces, size))


def lay_lines(
    length: float, width: float, size: tuple[float, float], lap: float
) -> LeafShape:
    """Lay strips of leaf along lines.

    One strip as long as a leaf, and how many of them. `length` and `width`: length of
    all lines and their width, mm, true size. `size`: width and height of a leaf, mm.
    `lap`: lap of leaves, and how far leaf reaches over the edge, mm.
    """
    long, other = max(size), min(size)
    strip = min(width + 2 * lap, other)
    rows = math.ceil((width + lap) / (other - lap) - 1e-9)
    count = math.ceil(length / (long - lap) - 1e-9) * rows
    corners = np.array([[0, 0], [long, 0], [long, strip], [0, strip]], float)
    return LeafShape((), float(count), (), (corners,), ((long, strip),))
