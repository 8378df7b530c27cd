"""Plain names for kinds of regions, unique in the drawing.

The mean shape of a kind gives its base name. Where several kinds share one, a
word for the size parts them, then the neighbour that only one of them has, then
a number.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.geometry.curves import LINE
from fillwork.symmetry.kinds.outlines import SMOOTH, mean_outline, outlines_of
from fillwork.symmetry.kinds.shape import TOLD, name_outline

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.symmetry.kinds.outlines import Outline


# members whose outlines are averaged, and outlines looked at in all
_MEMBERS = 9
_BUDGET = 6000
# kinds that are named with all care; beyond, corners are counted
_FULLY = 500
# areas that differ more get a size word
_SIZE_STEP = 0.08
_EDGE_PIECE = "edge piece"
# a piece with this share of all the area is the ground behind the figures
_GROUND = 0.15


def find_names(
    arrangement: Arrangement,
    of_face: Ints,
    standing: Sequence[AnyInts],
    seen_whole: Bools,
    area: Floats,
) -> list[tuple[str, str]]:
    """Name the kinds of a drawing.

    `of_face` (F,): kind of each face, -1 for none. `standing`: faces that stand for
    each kind. `seen_whole` (kinds,): False for kinds of which only pieces are on the
    page. `area` (kinds,): area of one whole face, mm². Returns unique name and base
    name of each kind.
    """
    base = _base_names(arrangement, standing, seen_whole)
    ground = _GROUND * float(arrangement.area.sum())
    for row in np.flatnonzero(~seen_whole & (np.asarray(area) > ground)):
        base[row] = "ground"
    neighbours = _touching_kinds(arrangement, of_face, len(base))
    return list(zip(make_unique(base, area, neighbours), base, strict=True))


def _base_names(
    arrangement: Arrangement, standing: Sequence[AnyInts], seen_whole: Bools
) -> list[str]:
    if len(standing) > _FULLY:
        # the most of them by plain counting, the largest with all care
        rest = [rows[:1] for rows in standing[_FULLY:]]
        quick = _quick_names(arrangement, np.concatenate(rest))
        quick = [
            name if whole else _EDGE_PIECE
            for name, whole in zip(quick, seen_whole[_FULLY:], strict=True)
        ]
        first = _base_names(arrangement, standing[:_FULLY], seen_whole[:_FULLY])
        return first + quick
    kinds = len(standing)
    each = int(np.clip(_BUDGET // max(kinds, 1), 1, _MEMBERS))
    chosen: list[AnyInts] = []
    for rows in standing:
        step = np.linspace(0, len(rows) - 1, min(each, len(rows)))
        chosen.append(rows[np.unique(np.rint(step).astype(np.int64))])
    owner = np.repeat(np.arange(kinds), [len(c) for c in chosen])
    faces = np.concatenate([*chosen, np.zeros(0, dtype=np.int64)])
    outlines = outlines_of(arrangement, arrangement.face_ring_start[faces])
    grouped: list[list[Outline]] = [[] for _ in range(kinds)]
    for kind, outline in zip(owner, outlines, strict=True):
        grouped[int(kind)].append(outline)
    means: list[Outline] = []
    spread = np.full(kinds, np.nan)
    for row, group in enumerate(grouped):
        mean, spread[row] = mean_outline(group)
        means.append(mean)
    known = spread[np.isfinite(spread)]
    pooled = float(np.median(known)) if len(known) else None
    names: list[str] = []
    for row, mean in enumerate(means):
        if not seen_whole[row]:
            names.append(_EDGE_PIECE)
            continue
        slack = _slack(mean, float(spread[row]), pooled, len(grouped[row]))
        name = name_outline(mean, slack)
        holes = _holes(arrangement, int(chosen[row][0]), mean, name)
        names.append(holes)
    return names


def _quick_names(arrangement: Arrangement, faces: AnyInts) -> list[str]:
    """Name faces by the number of their corners alone.

    ``triangle``, ``7-sided``, ``curved 5-sided``, ``free form`` and the like.
    """
    rings = arrangement.face_ring_start[faces]
    start, stop = arrangement.ring_start[rings], arrangement.ring_start[rings + 1]
    size = (stop - start).astype(np.int64)
    offset = np.cumsum(size) - size
    row = np.repeat(np.arange(len(rings)), size)
    at = np.arange(len(row)) - np.repeat(offset, size)
    half = arrangement.ring_half_edge[np.repeat(start, size) + at]
    before = arrangement.ring_half_edge[
        np.repeat(start, size) + (at - 1) % np.repeat(size, size)
    ]
    ways, curved = _ways(arrangement, half)
    last, _ = _ways(arrangement, before ^ 1)
    # what comes in runs against what leaves the other way
    into, out = -last, ways
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    turn = np.abs(np.arctan2(cross, (into * out).sum(axis=1)))
    corners = np.bincount(row, turn > SMOOTH, len(rings)).astype(np.int64)
    curved = np.bincount(row, curved, len(rings)) > 0
    names = []
    for count, bent in zip(corners.tolist(), curved.tolist(), strict=True):
        if count < 2:
            names.append("round" if bent or count == 0 else "drop")
        elif count > TOLD:
            names.append("free form")
        else:
            plain = "triangle" if count == 3 else f"{count}-sided"
            names.append(f"curved {plain}" if bent else plain)
    return names


def _ways(arrangement: Arrangement, half: Ints) -> tuple[Floats, Bools]:
    """Return the directions in which half-edges leave, and which of them are curved.

    A line that was joined to a near vertex runs along its chord; so does a curve that
    has no direction there, as its handle lies on its end.
    """
    curves = half_edge_curves(arrangement, half)
    ways = curves.derivative(np.arange(len(half)), np.zeros(len(half)))
    p = arrangement.vertices[arrangement.origin[half]]
    q = arrangement.vertices[arrangement.origin[half ^ 1]]
    straight = curves.kind == LINE
    none = np.hypot(*ways.T) <= 1e-9 * np.hypot(*(q - p).T)
    ways[straight | none] = (q - p)[straight | none]
    return ways, ~straight


def _slack(outline: Outline, sigma: float, pooled: float | None, members: int) -> float:
    """Return how far a corner of a mean outline may have to move, mm."""
    least = 0.006 * float(np.sqrt(outline.area))
    if pooled is None:
        # nothing tells how exact the drawing is: allow for corners that are off
        # by a hundredth of a side
        sides = np.diff(outline.corners, axis=0, append=outline.corners[:1])
        step = float(np.median(np.hypot(*sides.T))) if len(sides) else 0.0
        return max(least, 0.03 * step / float(np.sqrt(members)))
    own = max(sigma, pooled) if np.isfinite(sigma) else pooled
    # members are laid on the first of them, so some of its noise stays in the mean
    return max(least, 3.5 * own * max(1.0 / float(np.sqrt(members)), 0.6))


def _holes(arrangement: Arrangement, face: int, outline: Outline, name: str) -> str:
    """Add the holes of a face to its name."""
    outer_ring, *rings = arrangement.face_half_edges(face)
    if not rings:
        return name
    if len(rings) > 1:
        return f"{name} with {len(rings)} holes"
    points = arrangement.vertices[arrangement.origin[rings[0]]]
    outer = arrangement.vertices[arrangement.origin[outer_ring]]
    size = float(np.sqrt(outline.area))
    apart = float(np.hypot(*(_middle(points) - _middle(outer))))
    if outline.closed == "circle" and apart < 0.03 * size:
        curves = half_edge_curves(arrangement, rings[0])
        middles = curves.point(np.arange(len(curves)), np.full(len(curves), 0.5))
        radius = np.hypot(*(np.vstack([points, middles]) - _middle(points)).T)
        if np.ptp(radius) < 0.06 * float(radius.mean()):
            return "ring"
    inside = abs(_ring_area(points))
    if apart < 0.03 * size and inside > 0.4 * outline.area:
        return f"{name} frame"
    return f"{name} with a hole"


def _ring_area(points: Floats) -> float:
    p = points - points[0]
    q = np.roll(p, -1, axis=0)
    return float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum()) / 2


def _middle(points: Floats) -> Floats:
    """Return the centre of area of a ring."""
    p = points - points[0]
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    total = cross.sum()
    if total == 0:
        return np.asarray(points.mean(axis=0))
    return np.asarray(points[0] + ((p + q) * cross[:, None]).sum(axis=0) / (3 * total))


def _touching_kinds(
    arrangement: Arrangement, of_face: Ints, kinds: int
) -> Sequence[Sequence[tuple[int, float]]]:
    """Return which kinds touch along edges, longest contact first.

    `of_face` (F,): kind of each face, -1 for none. `kinds`: how many kinds. For each
    kind the other kinds and the length shared with them, mm.
    """
    half = np.arange(len(arrangement.origin))
    a, b = of_face[arrangement.face], of_face[arrangement.face[half ^ 1]]
    both = (a >= 0) & (b >= 0) & (a != b)
    step = arrangement.vertices[arrangement.origin[half ^ 1]]
    step = step - arrangement.vertices[arrangement.origin]
    length = np.hypot(step[:, 0], step[:, 1])[both]
    key, row = np.unique(a[both] * max(kinds, 1) + b[both], return_inverse=True)
    total = np.bincount(row, length, len(key))
    one, other = np.divmod(key, max(kinds, 1))
    order = np.lexsort((-np.round(total, 6), one))
    return _Touching(
        np.searchsorted(one, np.arange(kinds + 1)), other[order], total[order]
    )


class _Touching(Sequence[list[tuple[int, float]]]):
    """Hold the kinds that touch each kind; few are ever asked for."""

    def __init__(
        self, first: NDArray[Any], kind: NDArray[Any], length: NDArray[Any]
    ) -> None:
        self._first, self._kind, self._length = first, kind, length

    def __len__(self) -> int:
        return len(self._first) - 1

    def __getitem__(self, kind: Any) -> Any:
        own = slice(*self._first[kind : kind + 2])
        return list(
            zip(self._kind[own].tolist(), self._length[own].tolist(), strict=True)
        )


def make_unique(
    base: Sequence[str], area: Floats, neighbours: Sequence[Sequence[tuple[int, float]]]
) -> list[str]:
    """Return names that differ for all kinds; unique names, in the same order.

    `area` (kinds,): area of one face of each kind, mm². `neighbours`: as
    `_touching_kinds` returns them.
    """
    names: list[str] = list(base)
    groups: dict[str, list[int]] = {}
    for kind, name in enumerate(base):
        groups.setdefault(name, []).append(kind)
    settled = {kinds[0] for kinds in groups.values() if len(kinds) == 1}
    open_groups: list[list[int]] = []
    for name, kinds in groups.items():
        if len(kinds) == 1:
            continue
        ranked = sorted(kinds, key=lambda k: -area[k])
        tiers: list[list[int]] = [[ranked[0]]]
        for before, kind in pairwise(ranked):
            if area[kind] < (1 - _SIZE_STEP) * area[before]:
                tiers.append([])
            tiers[-1].append(kind)
        words = {2: ("large", "small"), 3: ("large", "middle", "small")}
        if len(tiers) in words and name != _EDGE_PIECE:
            for word, tier in zip(words[len(tiers)], tiers, strict=True):
                for kind in tier:
                    names[kind] = f"{word} {name}"
                if len(tier) == 1:
                    settled.add(tier[0])
                else:
                    open_groups.append(tier)
        else:
            open_groups.append(ranked)
    for group in open_groups:
        _name_by_neighbour(group, names, base, neighbours, settled)
    _number(names)
    return names


def _name_by_neighbour(
    group: list[int],
    names: list[str],
    base: Sequence[str],
    neighbours: Sequence[Sequence[tuple[int, float]]],
    settled: set[int],
) -> None:
    """Name kinds of one group by a neighbour that no other of them touches."""
    if len(group) > 40:
        return
    touched = {k: [n for n, _ in neighbours[k] if n in settled] for k in group}
    for kind in group:
        others = {n for k in group if k != kind for n in touched[k]}
        own = [n for n in touched[kind] if n not in others]
        own = [n for n in own if base[n] != _EDGE_PIECE]
        if own:
            names[kind] = f"{names[kind]} beside the {names[own[0]]}"


def _number(names: list[str]) -> None:
    count: dict[str, list[int]] = {}
    for kind, name in enumerate(names):
        count.setdefault(name, []).append(kind)
    for name, kinds in count.items():
        if len(kinds) > 1:
            for number, kind in enumerate(kinds, 1):
                names[kind] = f"{name} {number}"
