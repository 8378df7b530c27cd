"""Rails that were cut to length, drawn as paths from end to end.

A *gate* is an end of a rail: ``2 r`` its start and ``2 r + 1`` its end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.curves import ARC, LINE, Curves

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints


# a curve that runs out over a frame by more is cut there, mm
_OVER = 0.005
# at how many places it is asked whether it is out, and how often halved between two
_STEPS, _HALVES = 65, 50


def draw_paths(
    rails: Curves, span: Floats, follow: Ints, live: Bools, about: Floats, radius: float
) -> tuple[Curves, Ints, Ints]:
    """Return rails as paths.

    `rails`: the table of rails, R of them and perhaps more. `span` (R, 2): parameters
    between which each is drawn. `follow` (2 R,): the gate in which each goes on; -1
    where a rail ends. `live` (R,): which are drawn at all. `about` (2 R, 2): middle of
    the arc from a gate to the next, mm; nan where there is none. `radius`: of these
    arcs, mm. Returns `curves`: the paths one after the other, each a run of curves end
    to end; `start` (P + 1,): path ``p`` has the rows ``start[p]:start[p + 1]``; `rail`
    (P,): a rail of each path.
    """
    gates, first = _walk(follow, live)
    rail, end = gates >> 1, gates & 1
    curves = rails.part(rail, span[rail, end], span[rail, 1 - end])
    path = np.repeat(np.arange(len(first)), np.diff(np.r_[first, len(gates)]))
    # arcs round corners come right after the rail that leads to them
    leave = gates ^ 1
    bent = np.flatnonzero((follow[leave] >= 0) & ~np.isnan(about[leave, 0]))
    after = np.minimum(bent + 1, len(gates) - 1)
    after = np.where(gates[after] == follow[leave[bent]], after, first[path[bent]])
    middle = about[leave[bent]]
    arcs = _arcs(middle, curves.ends()[bent], curves.starts()[after], radius)
    order = np.argsort(np.r_[2 * np.arange(len(gates)), 2 * bent + 1], kind="stable")
    curves = Curves.concatenate([curves, arcs]).take(order)
    curves, path = _with_long_lines(curves, np.r_[path, path[bent]][order])
    start = np.searchsorted(path, np.arange(len(first) + 1))
    return curves, start.astype(np.int64), rail[first]


def _walk(follow: Ints, live: Bools) -> tuple[Ints, Ints]:
    """Return the gates through which runs enter rails, and where each run begins."""
    ahead, seen = follow.tolist(), (~live).tolist()
    gates: list[int] = []
    first: list[int] = []
    for begin in (np.flatnonzero(follow < 0).tolist(), range(0, len(ahead), 2)):
        for start in begin:
            gate = start
            if seen[gate >> 1]:
                continue
            first.append(len(gates))
            while gate >= 0 and not seen[gate >> 1]:
                seen[gate >> 1] = True
                gates.append(gate)
                gate = ahead[gate ^ 1]
    return np.array(gates, np.int64), np.array(first, np.int64)


def _arcs(about: Floats, start: Floats, end: Floats, radius: float) -> Curves:
    """Return the arcs round corners from the end of one rail to the next."""
    p, q = start - about, end - about
    begin = np.arctan2(p[:, 1], p[:, 0])
    sweep = np.angle(np.exp(1j * (np.arctan2(q[:, 1], q[:, 0]) - begin)))
    data = np.zeros((len(about), 8))
    data[:, 0:2], data[:, 2], data[:, 5] = about, radius, radius
    data[:, 6], data[:, 7] = begin, begin + sweep
    return Curves(np.full(len(about), ARC, np.uint8), data)


def _with_long_lines(curves: Curves, path: Ints) -> tuple[Curves, Ints]:
    """Return curves, straight stretches in line made one, and the path of each."""
    straight = curves.kind == LINE
    d = curves.data[:, 2:4] - curves.data[:, 0:2]
    size = np.hypot(d[:, 0], d[:, 1])
    turn = np.abs(d[:-1, 0] * d[1:, 1] - d[:-1, 1] * d[1:, 0])
    same = straight[:-1] & straight[1:] & (turn <= 1e-9 * size[:-1] * size[1:])
    same &= ((d[:-1] * d[1:]).sum(axis=1) > 0) & (path[:-1] == path[1:])
    first = np.flatnonzero(np.r_[True, ~same][: len(curves)])
    last = np.r_[first[1:], len(curves)] - 1
    data = curves.data[first].copy()
    lines = straight[first]
    data[lines, 2:4] = curves.data[last[lines], 2:4]
    return Curves(curves.kind[first].copy(), data), path[first]


def clip_paths(
    curves: Curves, start: Ints, strand: Ints, frame: Curves
) -> tuple[Curves, Ints, Ints]:
    """Return paths without what runs out over a frame round their strands.

    A band that bends right before the frame has its outer corner beyond it.

    `start` (P + 1,): where each begins. `strand` (P,): strand of each path. Those that
    lie outside for the most part, as in a border round the frame, stay as they are.
    `frame`: the frame's lines in order. Returns the paths that are left; those that
    nowhere cross the frame as they are; `path`: the path of which each was a
    part.
    """
    import shapely

    path = np.arange(len(start) - 1)
    chords = frame.flatten(1e-3)[0].reshape(-1, 2, 2)
    sides: Any = shapely.linestrings(chords)
    rings: Any = shapely.polygonize(list(sides))
    if len(rings.geoms) != 1:
        return curves, start, path
    size = float(np.ptp(chords.reshape(-1, 2), axis=0).max())
    panel: Any = rings.geoms[0]
    near: Any = panel.buffer(1e-7 * size, join_style="mitre")
    shapely.prepare(near)
    begins, ends = curves.starts(), curves.ends()
    left = ~shapely.contains_xy(near, *begins.T), ~shapely.contains_xy(near, *ends.T)
    out = left[0] | left[1]
    row = np.repeat(path, np.diff(start))
    long = np.hypot(*(ends - begins).T)
    beyond = np.bincount(strand[row], long * (left[0] & left[1]))
    out &= (beyond <= 0.5 * np.bincount(strand[row], long))[strand[row]]
    # rails that end on a round frame lie off its chords
    far: Any = panel.buffer(_OVER)
    over = ~shapely.contains_xy(far, *begins.T) | ~shapely.contains_xy(far, *ends.T)
    out &= (curves.kind == LINE) | over
    if not out.any():
        return curves, start, path
    cut = np.isin(row, row[out])
    # paths are taken apart where a line leaves the panel
    runs: list[list[Curves]] = []
    owner: list[int] = []
    last, end = -1, np.full(2, np.nan)
    for k in np.flatnonzero(cut).tolist():
        one = curves.take(np.array([k]))
        inner = _within if one.kind[0] == LINE else _bent_within
        for part in inner(one, panel) if out[k] else [one]:
            apart = np.hypot(*(part.starts()[0] - end)) > 1e-6 * size
            if row[k] != last or apart:
                runs.append([])
                owner.append(int(row[k]))
            runs[-1].append(part)
            last, end = int(row[k]), part.ends()[0]
    kept = np.flatnonzero(~np.isin(path, row[out]))
    sizes = np.r_[np.diff(start)[kept], [len(run) for run in runs]].astype(np.int64)
    every = [curves.take(np.flatnonzero(~cut)), *(part for run in runs for part in run)]
    return (
        Curves.concatenate(every),
        np.r_[0, np.cumsum(sizes)],
        np.r_[kept, np.array(owner, np.int64)],
    )


def _within(line: Curves, panel: Any) -> list[Curves]:
    """Return the parts of a straight line within a panel, in order."""
    import shapely

    chord: Any = shapely.linestrings(line.data[0, :4].reshape(2, 2))
    cuts = [0.0, 1.0]
    for part in shapely.get_parts(shapely.intersection(chord, panel)):
        cuts += [chord.project(shapely.Point(p)) / chord.length for p in part.coords]
    t = np.unique(np.round(cuts, 12))
    middles = line.point(np.zeros(len(t) - 1, np.int64), (t[:-1] + t[1:]) / 2)
    inside = np.flatnonzero(shapely.contains_xy(panel, *middles.T))
    inside = inside[(t[inside + 1] - t[inside]) * chord.length > 1e-6]
    return [line.part(np.array([0]), t[k : k + 1], t[k + 1 : k + 2]) for k in inside]


def _bent_within(curve: Curves, panel: Any) -> list[Curves]:
    """Return the parts of a curve within a panel, in order."""
    import shapely

    def inside(t: Floats) -> Bools:
        points = curve.point(np.zeros(len(t), np.int64), t)
        return np.asarray(shapely.contains_xy(panel, *points.T))

    steps = np.linspace(0.0, 1.0, _STEPS)
    held = inside(steps)
    at = np.flatnonzero(held[1:] != held[:-1])
    low, high = steps[at], steps[at + 1]
    for _ in range(_HALVES):
        middle = (low + high) / 2
        same = inside(middle) == held[at]
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    cuts = np.r_[0.0, (low + high) / 2, 1.0]
    kept = np.flatnonzero(inside((cuts[1:] + cuts[:-1]) / 2))
    row = np.array([0])
    return [curve.part(row, cuts[k : k + 1], cuts[k + 1 : k + 2]) for k in kept]
