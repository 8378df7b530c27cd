"""Mitres and the sides of corner pieces, looked for where they must be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.zones.meetings import CROSSED, count_meetings
from fillwork.symmetry.zones.runs import FIT, Run

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints


# how far a line from a corner reaches, in roots of the median area of a face
_FAR = 12.0

# share of such a line that lies on a frame line known already, from which it is that
_KNOWN = 0.7
# most corners that are looked at
_MOST = 200


def corner_lines(arrangement: Arrangement, frames: list[Run], unit: float) -> list[Run]:
    """Return lines from a corner of the frames to another corner or frame line.

    Mitres run from an inner corner to an outer one, sides of corner pieces from a
    corner square onto a frame line. They are looked for where they must be.

    The lines found, each covered by edges. `unit`: root of the median area of a face,
    mm.
    """
    corners = _corners(frames, unit)
    tails, heads = (arrangement.vertices[arrangement.origin[k::2]] for k in (0, 1))
    straight = [f for f in frames if not f.round]
    leaving = _Leaving.of(straight)
    size = np.hypot(*(heads - tails).T)
    on_run = np.zeros(len(tails))
    framed = np.concatenate([f.edges for f in frames]) if frames else np.array([], int)
    starts = np.cumsum([0, *(len(f.edges) for f in frames[:-1])])
    found: list[Run] = []
    crossed: list[Run] = []

    for k, corner in enumerate(corners):
        goals = np.concatenate([corners[k + 1 :], leaving.feet(corner, unit)])
        steps = goals - corner
        fars = np.hypot(*steps.T)
        near = (fars > 0.5 * unit) & (fars < _FAR * unit)
        # a line from here is covered by edges that are not far away
        round_it = (np.abs(tails - corner) < (_FAR + 1) * unit).all(axis=1)
        round_it &= (np.abs(heads - corner) < (_FAR + 1) * unit).all(axis=1)
        local = np.flatnonzero(round_it)
        beside = (local, tails[local], heads[local])
        for goal, step, far in zip(
            goals[near], steps[near], fars[near].tolist(), strict=True
        ):
            # the diagonal of a corner square lies between lines at both of its ends
            way = step / far
            if leaving.on_both_sides(corner, way, unit) and leaving.on_both_sides(
                goal, -way, unit
            ):
                continue
            run = _covering(corner, way, far, *beside, unit)
            if run is None or any(
                np.isin(run.edges, f.edges).mean() > 0.5 for f in found
            ):
                continue
            on_run[run.edges] = size[run.edges]
            on_frame = np.add.reduceat(on_run[framed], starts).max()
            on_run[run.edges] = 0.0
            if on_frame > _KNOWN * size[run.edges].sum():
                continue
            count_meetings(arrangement, [run], unit)
            if run.crossed <= CROSSED:
                found.append(run)
            else:
                crossed.append(run)
    # few lines meet a short one: where all four corners have it, it is a frame's
    long = np.array([r.length for r in crossed + found])
    slack = np.maximum(0.05 * long, FIT * unit)
    like = (np.abs(long[:, None] - long) < slack).sum(axis=0)
    return found + [r for r, n in zip(crossed, like, strict=False) if n >= 4]


@dataclass(frozen=True, slots=True)
class _Leaving:
    """The ends, directions and normals of straight lines, each both ways."""

    ends: Floats
    direction: Floats

    @classmethod
    def of(cls, lines: list[Run]) -> _Leaving:
        ends = np.array([line.ends for line in lines]).reshape(-1, 2, 2)
        direction = np.array([line.direction for line in lines]).reshape(-1, 2)
        return cls(np.tile(ends, (2, 1, 1)), np.concatenate([direction, -direction]))

    def feet(self, point: Floats, unit: float) -> Floats:
        """Return the feet of the perpendiculars from a point that lie on a line."""
        half = len(self.ends) // 2
        ends, direction = self.ends[:half], self.direction[:half]
        centre = ends.mean(axis=1)
        along = ((point - centre) * direction).sum(axis=1)
        reach = ((ends - centre[:, None]) * direction[:, None]).sum(axis=2)
        on = (reach.min(axis=1) - unit < along) & (along < reach.max(axis=1) + unit)
        return np.asarray((centre + along[:, None] * direction)[on])

    def on_both_sides(self, point: Floats, way: Floats, unit: float) -> bool:
        """Tell whether lines leave a point on both sides of a way, less than square."""
        away = self.ends - point
        u, v = self.direction.T
        aside = np.abs(away[:, 0, 1] * u - away[:, 0, 0] * v)
        reach = away[:, :, 0] * u[:, None] + away[:, :, 1] * v[:, None]
        along, across = way[0] * u + way[1] * v, way[1] * u - way[0] * v
        # it must begin at the point or before it, and go on
        leaves = (aside <= 0.5 * unit) & (along > 0.1 * np.abs(across))
        leaves &= (reach.min(axis=1) < 0.5 * unit) & (reach.max(axis=1) > unit)
        slant = 0.1 * along[leaves]
        across = across[leaves]
        return bool((across < -slant).any() and (across > slant).any())


def _covering(
    start: Floats,
    direction: Floats,
    far: float,
    edges: Ints,
    tails: Floats,
    heads: Floats,
    unit: float,
) -> Run | None:
    """Return the edges along a segment, or None when they do not cover it."""
    slack = 2.0 * FIT * unit
    ends = np.stack([tails, heads]) - start
    along = ends @ direction
    across = np.abs(ends[..., 0] * direction[1] - ends[..., 1] * direction[0])
    on = (across < slack) & (along > -slack) & (along < far + slack)
    mine = on.all(axis=0)
    edges = edges[mine]
    if len(edges) == 0:
        return None
    low, high = along[:, mine].min(axis=0), along[:, mine].max(axis=0)
    order = np.argsort(low, kind="stable")
    reach = np.maximum.accumulate(high[order])
    gaps = np.maximum(low[order][1:] - reach[:-1], 0.0).sum()
    gaps += max(float(low.min()), 0.0) + max(far - float(high.max()), 0.0)
    if gaps > max(0.06 * far, 2.0 * slack):
        return None
    ends = np.array([start, start + far * direction])
    return Run(edges, far, False, False, ends.mean(axis=0), direction, 0.0, ends)


def _corners(frames: list[Run], unit: float) -> Floats:
    """Return the points where straight frame lines meet, first those where one ends.

    Nearest to the ends of both before others: a row of bricks may end beside a corner.
    Both may go on: a border's corner lies on the lines of the next one.
    """
    lines = [f for f in frames if not f.round]
    if len(lines) < 2:
        return np.zeros((0, 2))
    direction = np.array([f.direction for f in lines])
    centre = np.array([f.centre for f in lines])
    ends = np.array([f.ends for f in lines])
    reach = ((ends - centre[:, None]) * direction[:, None]).sum(axis=2)
    low, high = reach.min(axis=1) - 0.5 * unit, reach.max(axis=1) + 0.5 * unit
    found, missed, crossings = [], [], []
    for i in range(len(lines) - 1):
        rest = slice(i + 1, None)
        across = np.array([direction[i, 1], -direction[i, 0]])
        cross = -direction[rest] @ across
        offset = centre[rest] - centre[i]
        along = offset[:, 0] * direction[rest, 1] - offset[:, 1] * direction[rest, 0]
        slanted = np.abs(cross) >= 0.2
        t = along / np.where(slanted, cross, np.inf)
        point = centre[i] + t[:, None] * direction[i]
        miss = [
            np.hypot(*np.moveaxis(e - point[:, None], -1, 0)).min(axis=1)
            for e in (ends[i][None], ends[rest])
        ]
        ended = np.minimum(*miss) < 0.5 * unit
        s = ((point - centre[rest]) * direction[rest]).sum(axis=1)
        on = (low[i] < t) & (t < high[i]) & (low[rest] < s) & (s < high[rest])
        on &= slanted
        found.append(point[on & ended])
        missed.append(np.maximum(*miss)[on & ended])
        crossings.append(point[on & ~ended])
    # by steps, so that rounding does not tell their order
    order = np.argsort(np.concatenate(missed) // (0.1 * unit), kind="stable")
    points = np.concatenate([np.concatenate(found)[order], *crossings])
    return np.asarray(points[_apart(points, 0.5 * unit)])


def _apart(points: Floats, away: float) -> list[int]:
    """Return the first points that have none before them nearer than a distance."""
    if len(points) == 0:
        return []
    # two points of one square are near each other: only the first can stand
    low = points.min(axis=0)
    column, row = ((points - low) // (0.7 * away)).astype(np.int64).T
    width = int(column.max()) + 5
    key = row * width + column
    firsts = np.sort(np.unique(key, return_index=True)[1])
    order = np.argsort(key, kind="stable")
    key = key[order]
    kept: list[int] = []
    for k in firsts.tolist():
        left = (row[k] + np.arange(-2, 3)) * width + column[k] - 2
        spans = zip(
            np.searchsorted(key, left).tolist(),
            np.searchsorted(key, left + 5).tolist(),
            strict=True,
        )
        if not any(_any_near(points, order[a:b], k, away) for a, b in spans):
            kept.append(k)
            if len(kept) == _MOST:
                break
    return kept


def _any_near(points: Floats, others: Ints, k: int, away: float) -> bool:
    """Tell whether a point has one of some before it that is near."""
    for at in range(0, len(others), 4096):
        part = others[at : at + 4096]
        part = part[part < k]
        if (np.hypot(*(points[part] - points[k]).T) <= away).any():
            return True
    return False
