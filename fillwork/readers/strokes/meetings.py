"""Where curves meet the outlines that cut them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.crossings import refine_crossing
from fillwork.geometry.curves import ARC, LINE, Curves

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Floats, Ints, Ints32


# Pairs of chords that are looked at together; bounds the memory of the work.
_CHUNK = 400_000
_BLOCK = 100_000
# steps that a meeting costs beside looking for it: what comes of it is kept
_MET = 40


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """Hold the outlines as chords."""

    segments: Floats  # (K, 4): ends of each chord, mm
    curve: Ints32  # (K,): the curve of the outline that each belongs to
    span: Floats  # (K, 2): its parameters there


_Meetings = tuple["Ints", "Floats"]


def find_meetings(
    curves: Curves,
    rows: Ints,
    outline: Curves,
    walls: Walls,
    spend: Callable[[int], None],
) -> _Meetings:
    """Return where curves meet outlines, between their ends.

    `curves`: curves that may be cut. `rows` (n,): those of them to look at. `spend`:
    told how many comparisons are about to be made. Returns `index` (m,): curve of each
    meeting; `t` (m,): parameter on it, within rounding of the exact one.

    Arcs meet straight outlines by formula. Otherwise chords say where, and Newton
    steps on the true curves how exactly.
    """
    found: list[_Meetings] = []
    size = float(np.ptp(walls.segments.reshape(-1, 2), axis=0).max())
    if (outline.kind == LINE).all():
        arcs = rows[curves.kind[rows] == ARC]
        rows = rows[curves.kind[rows] != ARC]
        step = max(1, _CHUNK // len(walls.segments))
        spend(len(arcs) * len(walls.segments))
        for begin in range(0, len(arcs), step):
            part = arcs[begin : begin + step]
            index, t = _arcs_and_lines(curves.data[part], walls.segments)
            found.append((part[index], t))
    chord = max(size * 1e-4, 1e-12)
    counts = curves.take(rows).chord_counts(chord)
    block = np.cumsum(counts) // _BLOCK
    for part in np.split(rows, np.flatnonzero(np.diff(block)) + 1):
        if len(part):
            some = curves.take(part)
            index, t = _by_chords(some, outline, walls, chord, size, spend)
            found.append((part[index], t))
    if not found:
        return rows[:0], np.empty(0)
    return (
        np.concatenate([part[0] for part in found]),
        np.concatenate([part[1] for part in found]),
    )


def _arcs_and_lines(arcs: Floats, lines: Floats) -> _Meetings:
    # n . (c + u cos s + v sin s) = h, which is R cos(s - p) = C
    p, w = lines[:, 0:2], lines[:, 2:4] - lines[:, 0:2]
    normal = np.stack([-w[:, 1], w[:, 0]], axis=1)
    height = (normal * p).sum(axis=1)
    along_u, along_v = arcs[:, 2:4] @ normal.T, arcs[:, 4:6] @ normal.T
    rest = height - arcs[:, 0:2] @ normal.T
    reach = np.hypot(along_u, along_v)
    i, j = np.nonzero((np.abs(rest) <= reach) & (reach > 0))
    peak = np.arctan2(along_v[i, j], along_u[i, j])
    half = np.arccos(rest[i, j] / reach[i, j])
    index, t = [], []
    sweep = arcs[i, 7] - arcs[i, 6]
    for side in (peak - half, peak + half):
        turn = np.mod((side - arcs[i, 6]) * np.sign(sweep), 2 * np.pi)
        at = turn / np.where(sweep == 0, 1.0, np.abs(sweep))
        point = arcs[i, 0:2] + arcs[i, 2:4] * np.cos(side)[:, None]
        point = point + arcs[i, 4:6] * np.sin(side)[:, None]
        length = (w[j] * w[j]).sum(axis=1)
        place = ((point - p[j]) * w[j]).sum(axis=1) / np.maximum(length, 1e-300)
        real = (at > 0) & (at < 1) & (np.abs(place - 0.5) <= 0.5 + 1e-9)
        index.append(i[real])
        t.append(at[real])
    return np.concatenate(index), np.concatenate(t)


def _crossed(
    chords: Floats, segments: Floats, spend: Callable[[int], None]
) -> tuple[Ints, Ints, Floats, Floats]:
    # which chords cross which, a little beyond their ends too, and where along both
    import shapely

    # chords of curves may miss by a little what the curves meet
    beyond = 0.001
    boxes: list[Any] = []
    for ends in (chords, segments):
        low = np.minimum(ends[:, 0:2], ends[:, 2:4])
        high = np.maximum(ends[:, 0:2], ends[:, 2:4])
        wide = beyond * (high - low).sum(axis=1)[:, None]
        boxes.append(shapely.box(*(low - wide).T, *(high + wide).T))
    tree = shapely.STRtree(boxes[1])
    spend(len(chords) + len(segments))
    found = [np.empty((4, 0))]
    begin, step = 0, 16
    while begin < len(chords):
        i, j = tree.query(boxes[0][begin : begin + step])
        spend(len(i))
        i = i + begin
        begin += step
        # few or many chords at once, so that pairs take little room
        step = min(2 * step, _BLOCK) if len(i) < _CHUNK else max(step // 2, 1)
        p, a = chords[i, 0:2], segments[j, 0:2]
        d, w, gap = chords[i, 2:4] - p, segments[j, 2:4] - a, a - p
        with np.errstate(divide="ignore", invalid="ignore"):
            det = d[:, 0] * w[:, 1] - d[:, 1] * w[:, 0]
            s = (gap[:, 0] * w[:, 1] - gap[:, 1] * w[:, 0]) / det
            t = (gap[:, 0] * d[:, 1] - gap[:, 1] * d[:, 0]) / det
            hit = (np.abs(s - 0.5) <= 0.5005) & (np.abs(t - 0.5) <= 0.5005)
        spend(_MET * int(hit.sum()))
        found.append(np.stack([i[hit], j[hit], s[hit], t[hit]]))
    first, second, s, t = np.concatenate(found, axis=1)
    i, j = first.astype(np.int64), second.astype(np.int64)
    order = np.lexsort((j, i))
    return i[order], j[order], s[order], t[order]


def _by_chords(
    some: Curves,
    outline: Curves,
    walls: Walls,
    chord: float,
    size: float,
    spend: Callable[[int], None],
) -> _Meetings:
    chords, owner, span = some.flatten(chord)
    i, j, s, t = _crossed(chords, walls.segments, spend)
    mine = span[i, 0] + s * (span[i, 1] - span[i, 0])
    other = walls.span[j, 0] + t * (walls.span[j, 1] - walls.span[j, 0])
    first, second = owner[i].astype(np.int64), walls.curve[j].astype(np.int64)
    k = np.flatnonzero((some.kind[first] != LINE) | (outline.kind[second] != LINE))
    if len(k):
        both = Curves.concatenate([some, outline])
        mine[k], other[k], miss = refine_crossing(
            both, first[k], second[k] + len(some), mine[k], other[k]
        )
        good = np.ones(len(i), bool)
        good[k] = miss <= 1e-7 * size
        first, mine, other = first[good], mine[good], other[good]
    real = (np.abs(other - 0.5) <= 0.5 + 1e-9) & (mine > 0.0) & (mine < 1.0)
    return first[real], mine[real]
