"""Where a repeat may lie on a panel, and which places are good.

Rules of the trade (common practice, no source): a figure or the point between
figures on the middle; equal cuts on opposite sides; no piece under 5 mm and none
under half its figure at the edge, or a quarter in a corner; little of large figures
cut away; the same figure in all corners.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds
from fillwork.laying.model import Placing
from fillwork.laying.moves import as_point, lattice_steps, nearest_shifts, shifts_over

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.laying.figures import Figures
    from fillwork.laying.model import Motif, Panel

_SHOWN = 8  # places in the picture and on the page
_TRIED = 60  # places that are judged; each takes some hundredths of a second
_THIN = 5.0  # mm; a thinner piece is no figure to paint
# what sides count that are not alike, and what pieces at the edge
_UNLIKE = {"left and right": 3.0, "top and bottom": 3.0, "corners": 2.0}
_SMALL, _SOME_SMALL, _HALVES = 4.0, 2.0, 3.0
_ASKEW = math.radians(5)  # a slip of the hand or the scanner
_NEAR = 1e-6  # of a length, beside which it is none
_REACH = 8  # shifts either way among which the shortest along a side is looked for
_LOST = 2.0  # how much an edge of figures cut through counts
_SLIPS = 3.0  # times the slip of a hand by which lines may miss each other


def place_middle(motif: Motif, base: Affine, at: tuple[float, float]) -> Affine:
    """Return the map that brings the middle of the cell to a point.

    From the drawing's mm to the panel's. `motif`: the lines of one repeat. `base`: a
    map with the scale and the turn wanted. `at`: the point on the panel, mm.
    """
    return _onto(base, as_point(motif.outline.mean(axis=0)), at)


def find_placings(
    figures: Figures, panel: Panel, scale: float, *, give: float = 0.0
) -> tuple[Placing, ...]:
    """Return the best places of a pattern on a panel.

    Eight at most, best first, numbered from 1. `figures`: what one repeat shows.
    `scale`: panel length / drawn length. `give`: how far the scale may be off, a share.
    """
    tried: list[Placing] = []
    turns = _turns(figures, panel)
    upright = any(abs(rest) <= _ASKEW for rest in _directions(figures))
    upright = upright or _runs_straight(figures)
    # on the middle of the panel, or on its corner
    shares = (0.5, 0.0) if len(figures.basis) > 1 else (0.5,)
    for turn in turns:
        # turned ones come after all that lie straight as drawn
        tilt = (20.0 if upright else 1.0) * (turn != turns[0])
        for size in _scales(figures, panel, scale, turn, give):
            linear = affine.compose(affine.rotation(turn), affine.scaling(size, size))
            for share, point in itertools.product(shares, figures.points):
                target = (share * panel.width, share * panel.height)
                place = _onto(linear, point.at, target)
                if len(figures.basis) == 1:
                    place = _strip_middle(place, figures, panel)
                known = any(_same_pattern(place, p.map, figures) for p in tried)
                if known or len(tried) == _TRIED:
                    continue
                name, order = (point.name, point.order) if share else ("", 0)
                judged = judge_place(figures, panel, place, what=name)
                score = judged.score + 50 * abs(size / scale - 1) - 0.15 * order + tilt
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

    low, high = bounds(affine.apply(place, shapely.get_coordinates(figures.polygons)))
    x, y = np.abs(affine.linear(place) @ figures.basis[0])
    shift = np.array([panel.width, panel.height]) / 2 - (low + high) / 2
    shift[0 if x >= y else 1] = 0.0
    return affine.compose(affine.translation(*shift), place)


def _directions(figures: Figures) -> list[float]:
    """Return the turns that lay one of the shifts or mirrors along an edge."""
    mirrors = [g for g in figures.operations if affine.determinant(g) < 0]
    directions = [math.atan2(g[1], g[0]) / 2 for g in mirrors]
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
    for rest in sorted(_directions(figures), key=abs):
        if all(abs(rest - t) > 1e-4 for t in turns):
            turns.append(rest)
    slip = len(turns) > 1 and abs(turns[1]) <= _ASKEW
    if slip and not _runs_straight(figures):
        # what is askew by a slip is laid straight first of all
        turns[:2] = [turns[1], 0.0]
    if len(figures.basis) == 1:
        x, y = np.abs(figures.basis[0])
        if (y > x) != (panel.height > panel.width):
            turns = [turn + math.pi / 2 for turn in turns]
    return turns[:4]


def shortest_period(basis: Floats, axis: int) -> float | None:
    """Return the shortest shift along x or y.

    Its length, mm; None where no shift runs so. `basis` (r, 2): shifts as rows, mm.
    `axis`: 0 for x, 1 for y.
    """
    vectors = lattice_steps(len(basis), _REACH) @ basis
    slack = _NEAR * float(np.abs(basis).max(initial=0.0))
    lengths = np.abs(vectors[np.abs(vectors[:, 1 - axis]) < slack, axis])
    least = float(lengths[lengths > slack].min(initial=math.inf))
    return least if least < math.inf else None


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
        count = length / (period * scale / 2)
        for k in {math.floor(count), math.ceil(count), round(count)}:
            if k >= 1 and abs(count / k - 1) <= give + 1e-9:
                size = scale * count / k
                if all(abs(size / s - 1) > 1e-6 for s in found):
                    found.append(size)
    return found


def _same_pattern(one: Affine, two: Affine, figures: Figures) -> bool:
    """Return whether two places lay the same lines on the panel."""
    step = np.array(affine.compose(affine.invert(one), two))
    maps = np.array(figures.operations)
    maps = maps[np.abs(maps[:, :4] - step[:4]).max(axis=1) <= 1e-4]
    rest = step[4:] - maps[:, 4:]
    rest -= nearest_shifts(rest, figures.basis)
    size = float(np.abs(figures.basis).max()) if len(figures.basis) else 1.0
    off = np.abs(rest).max(axis=1).min(initial=math.inf)
    return bool(off < max(1e-3 * size, _SLIPS * figures.slip))


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
    score = sum((v for side, v in _UNLIKE.items() if side not in alike), 0.0)
    score += _SMALL * min(small, 10) / 10 + _SOME_SMALL * bool(small)
    score += _HALVES * halves / max(cut, 1) + _LOST * lost
    scale = affine.mean_scale(place)
    return Placing(0, place, scale, middle, smallest, small, halves, alike, score)


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
    basis, area = figures.basis @ affine.linear(place).T, panel.area
    owner, shift = _at_edge(shapely.bounds(shapes), basis, panel)
    copies = _shifted(shapes[owner], shift)
    pieces = shapely.intersection(copies, area)
    share = shapely.area(pieces) / np.maximum(shapely.area(copies), 1e-12)
    cut = (share < 1 - 1e-6) & (share > 1e-9)
    if not cut.any():
        return none
    parts, of = shapely.get_parts(pieces[cut], return_index=True)
    width = _narrow_side(parts)
    real = width > max(1e-6, _SLIPS * figures.slip * affine.mean_scale(place))
    return Pieces(parts[real], width[real], share[cut][of[real]])


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


def _at_edge(boxes: Floats, basis: Floats, panel: Panel) -> tuple[Ints, Floats]:
    """Return which figures, in these boxes, a panel's edge may cut at which shifts."""
    import shapely

    size = np.array([panel.width, panel.height])
    own = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    shifts = shifts_over(own, basis, (np.zeros(2), size))
    owner = np.tile(np.arange(len(boxes)), len(shifts))
    shift = np.repeat(shifts, len(boxes), axis=0)
    moved = boxes[owner] + np.hstack([shift, shift])
    low, high = moved[:, :2], moved[:, 2:]
    meets = ((high > 0) & (low < size)).all(axis=1)
    if panel.rectangle:  # with holes it may cut those within its box as well
        meets &= ~((low > 0) & (high < size)).all(axis=1)
    rows = np.flatnonzero(meets)
    rim = shapely.boundary(panel.area)
    rows = rows[shapely.intersects(shapely.box(*moved[rows].T), rim)]
    return owner[rows], shift[rows]


def _in_middle(figures: Figures, panel: Panel, place: Affine, what: str) -> str:
    """Return what stands in the middle of the panel."""
    import shapely

    if len(figures.polygons) == 0:
        return what
    middle = np.array([panel.width / 2, panel.height / 2])
    target = affine.apply(affine.invert(place), middle)
    box = shapely.total_bounds(figures.polygons)
    near = _NEAR * float(np.abs(box).max() + 1)
    own = np.array(box).reshape(2, 2).mean(axis=0)
    point = target - nearest_shifts(target - own, figures.basis)
    shifts = lattice_steps(len(figures.basis), 3) @ figures.basis
    tree = shapely.STRtree(figures.polygons)
    _, hit = tree.query(shapely.points(point + shifts), "dwithin", distance=near)
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
