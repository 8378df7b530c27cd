"""Where a repeat may lie on a panel, and which places are good.

Rules of the trade (common practice, no source): a figure or the point between
figures on the middle; equal cuts on opposite sides; no piece under 5 mm and none
under half its figure at the edge, or a quarter in a corner; little of large figures
cut away; the same figure in all corners.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry import affine
from fillwork.laying.model import Placing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.laying.figures import Figures
    from fillwork.laying.model import Motif, Panel

_SHOWN = 8
_TRIED = 60
_THIN = 5.0  # mm
_ASKEW = math.radians(5)  # a slip of the hand or the scanner
_NEAR = 1e-6
_LOST = 2.0  # how much an edge of figures cut through counts
_SLIPS = 3.0  # times the slip of a hand by which lines may miss each other


def place_middle(motif: Motif, base: Affine, at: tuple[float, float]) -> Affine:
    """Return the map that brings the middle of the cell to a point.

    From the drawing's mm to the panel's. `motif`: the lines of one repeat. `base`: a
    map with the scale and the turn wanted. `at`: the point on the panel, mm.
    """
    middle = motif.outline.mean(axis=0)
    return _onto(base, (float(middle[0]), float(middle[1])), at)


def find_placings(
    figures: Figures, panel: Panel, scale: float, *, give: float = 0.0
) -> tuple[Placing, ...]:
    """Return the best places of a pattern on a panel.

    Eight at most, best first, numbered from 1. `figures`: what one repeat shows.
    `scale`: panel length / drawn length. `give`: how far the scale may be off, a share.
    """
    tried: list[Placing] = []
    seen: list[Affine] = []
    turns = _turns(figures, panel)
    upright = any(abs(rest) <= _ASKEW for rest in _directions(figures))
    upright = upright or _runs_straight(figures)
    for turn in turns:
        for size in _scales(figures, panel, scale, turn, give):
            linear = affine.compose(affine.rotation(turn), affine.scaling(size, size))
            for at in ((0.5, 0.5), (0.0, 0.0)):
                for point in figures.points:
                    if len(figures.basis) < 2 and at != (0.5, 0.5):
                        continue
                    target = (at[0] * panel.width, at[1] * panel.height)
                    place = _onto(linear, point.at, target)
                    if len(figures.basis) == 1:
                        place = _strip_middle(place, figures, panel)
                    if _known(place, seen, figures):
                        continue
                    seen.append(place)
                    if len(seen) > _TRIED:
                        break
                    name = point.name if at == (0.5, 0.5) else ""
                    judged = judge_place(figures, panel, place, what=name)
                    off = abs(size / scale - 1)
                    bonus = 0.15 * point.order if at == (0.5, 0.5) else 0.0
                    # turned ones come after all that lie straight as drawn
                    tilt = (20.0 if upright else 1.0) * (turn != turns[0])
                    score = judged.score + 50 * off - bonus + tilt
                    tried.append(replace(judged, score=score))
    tried.sort(key=lambda p: round(p.score, 6))
    shown = _unlike(tried, figures, panel)
    return tuple(replace(p, number=k) for k, p in enumerate(shown, 1))


def put_first(first: Placing, others: Sequence[Placing]) -> tuple[Placing, ...]:
    """Return places numbered anew, one of them first; as many as are shown."""
    rest = [p for p in others if np.abs(np.subtract(p.map, first.map)).max() > _NEAR]
    return tuple(replace(p, number=k) for k, p in enumerate([first, *rest][:_SHOWN], 1))


def _onto(
    linear: Affine, point: tuple[float, float], target: tuple[float, float]
) -> Affine:
    image = affine.apply(linear, np.array(point))
    shift = (target[0] - float(image[0]), target[1] - float(image[1]))
    return affine.compose(affine.translation(*shift), linear)


def _strip_middle(place: Affine, figures: Figures, panel: Panel) -> Affine:
    """Return the place with the strip's middle line on the panel's."""
    if len(figures.polygons) == 0:
        return place
    import shapely

    points = shapely.get_coordinates(figures.polygons)
    points = affine.apply(place, points)
    along = affine.linear(place) @ figures.basis[0]
    axis = 1 if abs(along[0]) >= abs(along[1]) else 0
    size = panel.height if axis else panel.width
    middle = float(points[:, axis].min() + points[:, axis].max()) / 2
    shift = [0.0, 0.0]
    shift[axis] = size / 2 - middle
    return affine.compose(affine.translation(*shift), place)


def _directions(figures: Figures) -> list[float]:
    """Return the turns that lay one of the shifts or mirrors along an edge."""
    directions: list[float] = []
    for g in figures.operations:
        m = affine.linear(g)
        if np.linalg.det(m) < 0:
            directions.append(math.atan2(m[1, 0], m[0, 0]) / 2)
    directions += [math.atan2(v[1], v[0]) for v in figures.basis]
    quarter = math.pi / 2
    return [-((d + quarter / 2) % quarter - quarter / 2) for d in directions]


def _runs_straight(figures: Figures) -> bool:
    """Return whether a shift or mirror lies along an edge as drawn."""
    if any(abs(rest) <= 1e-4 for rest in _directions(figures)):
        return True
    return any(shortest_period(figures.basis, axis) is not None for axis in (0, 1))


def _turns(figures: Figures, panel: Panel) -> list[float]:
    """Return turns that lay shifts or mirrors along the panel's edge."""
    turns = [0.0]
    quarter = math.pi / 2
    for rest in sorted(_directions(figures), key=abs):
        if all(abs(rest - t) > 1e-4 for t in turns):
            turns.append(rest)
    slip = len(turns) > 1 and abs(turns[1]) <= _ASKEW
    if slip and not _runs_straight(figures):
        # what is askew by a slip is laid straight first of all
        turns[:2] = [turns[1], 0.0]
    if len(figures.basis) == 1:
        b = figures.basis[0]
        upright = abs(b[1]) > abs(b[0])
        if upright != (panel.height > panel.width):
            turns = [quarter]
    return turns[:4]


def shortest_period(basis: Floats, axis: int) -> float | None:
    """Return the shortest shift along x or y.

    Its length, mm; None where no shift runs so. `basis` (r, 2): shifts as rows, mm.
    `axis`: 0 for x, 1 for y.
    """
    if len(basis) == 0:
        return None
    span = np.arange(-8, 9)
    axes = np.stack(np.meshgrid(*[span] * len(basis), indexing="ij"), axis=-1)
    vectors = axes.reshape(-1, len(basis)) @ basis
    size = float(np.abs(basis).max())
    straight = np.abs(vectors[:, 1 - axis]) < 1e-6 * size
    lengths = np.abs(vectors[straight, axis])
    lengths = lengths[lengths > 1e-6 * size]
    return float(lengths.min()) if len(lengths) else None


def _scales(
    figures: Figures, panel: Panel, scale: float, turn: float, give: float
) -> list[float]:
    """Return the scale as given and those at which half-repeats come out even."""
    found = [scale]
    if give <= 0:
        return found
    basis = figures.basis @ affine.linear(affine.rotation(turn)).T
    for axis, length in ((0, panel.width), (1, panel.height)):
        period = shortest_period(basis, axis)
        if period is None:
            continue
        half = period * scale / 2
        count = length / half
        for k in {math.floor(count), math.ceil(count), round(count)}:
            if k >= 1 and abs(count / k - 1) <= give + 1e-9:
                size = scale * count / k
                if all(abs(size / s - 1) > 1e-6 for s in found):
                    found.append(size)
    return found


def _same_pattern(one: Affine, two: Affine, figures: Figures) -> bool:
    """Return whether two places lay the same lines on the panel."""
    step = affine.compose(affine.invert(one), two)
    size = max(float(np.abs(figures.basis).max()) if len(figures.basis) else 1.0, 1e-9)
    inverse = np.linalg.pinv(figures.basis) if len(figures.basis) else None
    for g in figures.operations:
        if np.abs(affine.linear(g) - affine.linear(step)).max() > 1e-4:
            continue
        rest = np.array([step[4] - g[4], step[5] - g[5]])
        if inverse is not None:
            rest = rest - np.round(rest @ inverse) @ figures.basis
        if np.abs(rest).max() < max(1e-3 * size, _SLIPS * figures.slip):
            return True
    return False


def _known(place: Affine, seen: list[Affine], figures: Figures) -> bool:
    return any(_same_pattern(place, other, figures) for other in seen)


def judge_place(
    figures: Figures, panel: Panel, place: Affine, *, what: str = ""
) -> Placing:
    """Return a place with what the trade asks of it.

    With pieces at the edge, what is alike, and a score. `figures`: what one repeat
    shows. `place`: from the drawing's mm to the panel's. `what`: the special point that
    stands in the middle.
    """
    alike = _alike(figures, panel, place)
    smallest, small, halves, cut, lost = _pieces(figures, panel, place)
    middle = _in_middle(figures, panel, place, what)
    score = 0.0
    score += 3.0 * ("left and right" not in alike)
    score += 3.0 * ("top and bottom" not in alike)
    score += 2.0 * ("corners" not in alike)
    score += 4.0 * min(small, 10) / 10 + 2.0 * bool(small)
    score += 3.0 * halves / max(cut, 1) + _LOST * lost
    return Placing(
        number=0,
        map=place,
        scale=affine.mean_scale(place),
        middle=middle,
        smallest=smallest,
        small=small,
        halves=halves,
        alike=alike,
        score=score,
    )


def _box_moves(panel: Panel) -> dict[str, Affine]:
    """Return the moves that carry the box of a panel onto itself."""
    w, h = panel.width, panel.height
    moves: dict[str, Affine] = {
        "across": (-1.0, 0.0, 0.0, 1.0, w, 0.0),
        "up": (1.0, 0.0, 0.0, -1.0, 0.0, h),
        "half": (-1.0, 0.0, 0.0, -1.0, w, h),
    }
    if abs(w - h) < 1e-6 * w:
        moves["quarter"] = affine.rotation(math.pi / 2, (w / 2, h / 2))
    return moves


def _unlike(tried: list[Placing], figures: Figures, panel: Panel) -> list[Placing]:
    """Return the first places of which none is another, turned or mirrored."""
    moves = [affine.IDENTITY]
    if panel.rectangle:
        moves += _box_moves(panel).values()
    kept: list[Placing] = []
    for place in tried:
        images = [affine.compose(g, place.map) for g in moves]
        if not any(_same_pattern(i, k.map, figures) for k in kept for i in images):
            kept.append(place)
        if len(kept) == _SHOWN:
            break
    return kept


def _alike(figures: Figures, panel: Panel, place: Affine) -> tuple[str, ...]:
    """Return which sides of the panel show the same."""
    holds = {
        name: _same_pattern(place, affine.compose(g, place), figures)
        for name, g in _box_moves(panel).items()
    }
    quarter = holds.pop("quarter", False)
    found = []
    if holds["across"] or holds["half"] or quarter:
        found.append("left and right")
    if holds["up"] or holds["half"] or quarter:
        found.append("top and bottom")
    if sum(holds.values()) == 3 or quarter:
        found.append("corners")
    return tuple(found)


def _pieces(
    figures: Figures, panel: Panel, place: Affine
) -> tuple[float, int, int, int, float]:
    """Return the least width, thin ones, those under half, all, and what is cut off.

    What is cut off is a depth along the whole edge, over the width of a figure.
    """
    import shapely

    pieces = edge_pieces(figures, panel, place)
    if len(pieces.width) == 0:
        return math.inf, 0, 0, 0, 0.0
    least = np.full(len(pieces.share), 0.5)
    corners = shapely.points(panel.rings[0])
    least[shapely.STRtree(pieces.polygons).query(corners, "dwithin", 1e-6)[1]] = 0.25
    thin, half = pieces.width < _THIN - 1e-3, pieces.share < least - 1e-6
    area = shapely.area(pieces.polygons)
    off = (area / pieces.share - area).sum() / panel.curves.lengths().sum()
    size = math.sqrt(float(np.mean(shapely.area(figures.polygons))))
    lost = float(off / (size * affine.mean_scale(place)))
    width = float(pieces.width.min())
    return width, int(thin.sum()), int(half.sum()), len(thin), lost


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Hold the figures that a panel's edge cuts, as far as they lie on the panel."""

    polygons: NDArray[Any]  # ndarray of object, shape (n,): the pieces, mm of the panel
    # (n,): shorter side of the least rectangle round each, mm
    width: Floats
    share: Floats  # (n,): share of the whole figure that is left

    @property
    def poor(self) -> Bools:
        """Return which are too thin. Returns (n,): True under 5 mm."""
        return np.asarray(self.width < _THIN - 1e-3)


def edge_pieces(figures: Figures, panel: Panel, place: Affine) -> Pieces:
    """Return what a panel's edge cuts; every piece of a cut figure.

    `figures`: what one repeat shows. `place`: from the drawing's mm to the panel's.
    """
    import shapely

    none = Pieces(np.empty(0, dtype=object), np.empty(0), np.empty(0))
    if len(figures.polygons) == 0:
        return none
    shapes = shapely.transform(figures.polygons, lambda p: affine.apply(place, p))
    area = shapely.Polygon(panel.rings[0], list(panel.rings[1:]))
    rim = shapely.boundary(area)
    boxes = shapely.bounds(shapes)
    basis = figures.basis @ affine.linear(place).T
    owner, shift = _over(boxes, basis, panel)
    # only what the edge may cut
    moved = boxes[owner] + np.hstack([shift, shift])
    crosses = shapely.intersects(shapely.box(*moved.T), rim)
    owner, shift = owner[crosses], shift[crosses]
    if len(owner) == 0:
        return none
    copies = _shifted(shapes[owner], shift)
    pieces = shapely.intersection(copies, area)
    whole = shapely.area(copies)
    share = shapely.area(pieces) / np.maximum(whole, 1e-12)
    cut = (share < 1 - 1e-6) & (share > 1e-9)
    if not cut.any():
        return none
    pieces, share = pieces[cut], share[cut]
    parts, of = shapely.get_parts(pieces, return_index=True)
    width = _narrow_side(parts)
    real = width > max(1e-6, _SLIPS * figures.slip * affine.mean_scale(place))
    return Pieces(parts[real], width[real], share[of[real]])


def _shifted(shapes: NDArray[np.object_], shift: Floats) -> NDArray[np.object_]:
    import shapely

    count = shapely.get_num_coordinates(shapes)
    points = shapely.get_coordinates(shapes) + np.repeat(shift, count, axis=0)
    return np.asarray(shapely.set_coordinates(shapes.copy(), points))


def _narrow_side(shapes: NDArray[np.object_]) -> Floats:
    """Return the shorter side of the least rectangle round each shape."""
    import shapely

    found = np.zeros(len(shapes))
    boxes = shapely.oriented_envelope(shapes)
    good = shapely.get_type_id(boxes) == 3
    if good.any():
        ring = shapely.get_coordinates(boxes[good]).reshape(-1, 5, 2)
        sides = np.hypot(*np.moveaxis(ring[:, 1:3] - ring[:, 0:2], -1, 0))
        found[good] = sides.min(axis=1)
    return found


def _over(boxes: Floats, basis: Floats, panel: Panel) -> tuple[Ints, Floats]:
    """Return which figures with which shifts may meet the panel."""
    rank = len(basis)
    every = np.arange(len(boxes))
    if rank == 0:
        return every, np.zeros((len(boxes), 2))
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    size = np.array([panel.width, panel.height])
    corners = np.array(
        [
            [x, y]
            for x in (-high[0], size[0] - low[0])
            for y in (-high[1], size[1] - low[1])
        ]
    )
    along = corners @ np.linalg.pinv(basis)
    axes = [
        np.arange(math.floor(a), math.ceil(b) + 1)
        for a, b in zip(along.min(axis=0), along.max(axis=0), strict=True)
    ]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, rank)
    shifts = grid @ basis
    # the figure must reach over the edge of the box, or the panel has holes
    owner = np.tile(every, len(shifts))
    shift = np.repeat(shifts, len(boxes), axis=0)
    moved = boxes[owner] + np.hstack([shift, shift])
    meets = (moved[:, 2] > 0) & (moved[:, 0] < size[0])
    meets &= (moved[:, 3] > 0) & (moved[:, 1] < size[1])
    if panel.rectangle:
        inner = (moved[:, 0] > 0) & (moved[:, 2] < size[0])
        inner &= (moved[:, 1] > 0) & (moved[:, 3] < size[1])
        meets &= ~inner
    return owner[meets], shift[meets]


def _in_middle(figures: Figures, panel: Panel, place: Affine, what: str) -> str:
    """Return what stands in the middle of the panel."""
    import shapely

    if len(figures.polygons) == 0:
        return what
    back = affine.invert(place)
    target = affine.apply(back, np.array([panel.width / 2, panel.height / 2]))
    point = target
    near = 1e-6 * float(np.abs(shapely.total_bounds(figures.polygons)).max() + 1)
    span = np.arange(-3, 4)
    rank = len(figures.basis)
    shifts = np.zeros((1, 2))
    if rank:
        middle = np.array(shapely.total_bounds(figures.polygons)).reshape(2, 2).mean(0)
        point = (
            target
            - np.round((target - middle) @ np.linalg.pinv(figures.basis))
            @ figures.basis
        )
        grid = np.stack(np.meshgrid(*[span] * rank, indexing="ij"), axis=-1)
        shifts = grid.reshape(-1, rank) @ figures.basis
    probes = shapely.points(point + shifts)
    tree = shapely.STRtree(figures.polygons)
    _, hit = tree.query(probes, predicate="dwithin", distance=near)
    names = [figures.names[int(k)] for k in hit]
    if len(names) == 1:
        name = names[0]
        return name if name[:2] in ("a ", "an") else f"{_article(name)} {name}"
    if len(names) > 2:
        return f"the point where {len(names)} figures meet"
    if len(names) == 2:
        return "a line between two figures"
    return what


def _article(name: str) -> str:
    return "an" if name[:1].lower() in "aeiou8" else "a"
