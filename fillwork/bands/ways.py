"""Ways from ends of lines to the ends that they face, and which lines they meet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.facing import on_an_arc, turns_of
from fillwork.geometry.crossings import cross
from fillwork.geometry.ranges import spread

if TYPE_CHECKING:
    from shapely import STRtree

    from fillwork.arrays import Bools, Floats, Ints, Ints32

# what turns by less is straight; an arc is looked along in so many chords
_STRAIGHT, _CHORDS = np.radians(4.0), 16
# a line so flat to a ray (sine) is none that it meets; and lines so near are one, mm
_ASLANT, _SAME = 0.1, 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Hold the ways from ends to those that face them: straight, or arcs of circles."""

    at: Floats  # (n, 2): where they begin, mm
    step: Floats  # (n, 2): from there to where they end
    half: Floats  # (n,): half of what they turn by; 0 where they are straight
    length: Floats  # (n,): along them, mm

    @classmethod
    def between(cls, at: Floats, out: Floats, one: Ints, other: Ints) -> Ways:
        """Return the ways from `one` to `other` of ends `at` that go on `out`."""
        step = at[other] - at[one]
        turns = turns_of(step, out[one], out[other])
        half = (turns[0] + turns[1]) / 2
        half[(np.abs(half) <= _STRAIGHT / 2) | ~on_an_arc(*turns)] = 0.0
        return cls(at[one], step, half, np.hypot(*step.T) / np.sinc(half / np.pi))

    @property
    def round(self) -> Bools:
        """Which of them are arcs."""
        return np.asarray(self.half != 0.0)

    def points(self, way: Ints, share: Floats) -> Floats:
        """Return points (m, 2) that lie a share of some ways, (m,), from their start.

        Shares may be beyond 1, where a way goes on.
        """
        half = self.half[way]
        # a chord of an arc turns from it by half of what the arc does
        far = share * np.sinc(half * share / np.pi) / np.sinc(half / np.pi)
        chord = far[:, None] * _turned(self.step[way], half * (share - 1.0))
        return self.at[way] + chord

    def hits(
        self, tree: STRtree, chords: Floats, owner: Ints32, rows: Ints, spare: float
    ) -> tuple[Ints, Floats]:
        """Return which ways meet other curves, and how far on, in order.

        `rows` (n,): the curves from which they lead. `spare`: how far beyond their end
        they are followed, mm.
        """
        way, piece = spread(np.where(self.round, _CHORDS, 1))
        count = np.where(self.round, _CHORDS, 1)[way]
        whole = (1.0 + spare / self.length)[way]
        begin = self.points(way, whole * piece / count)
        step = self.points(way, whole * (piece + 1) / count) - begin
        hit, far = rays_meet(tree, chords, owner, rows[way], (begin, step))
        share = (piece[hit] + far / np.hypot(*step[hit].T)) / count[hit]
        return _apart(way[hit], share * (whole * self.length[way])[hit])

    def arcs(self, way: Ints, far: Floats) -> Floats:
        """Return the beginning of ways that are arcs, (m, 8), rows of curves.

        `far` (m,): how far on, mm.
        """
        half, step = self.half[way], self.step[way]
        radius = self.length[way] / (2.0 * half)  # below 0 where it turns clockwise
        v = radius[:, None] * _turned(step / np.hypot(*step.T)[:, None], -half)
        u = np.stack([v[:, 1], -v[:, 0]], axis=1)
        zero = np.zeros(len(way))
        return np.column_stack([self.at[way] - u, u, v, zero, far / radius])


def _turned(v: Floats, angle: Floats) -> Floats:
    """Return vectors (n, 2) turned by angles (n,), anticlockwise."""
    x, y, c, s = *v.T, np.cos(angle), np.sin(angle)
    return np.stack([x * c - y * s, x * s + y * c], axis=1)


def rays_meet(
    tree: STRtree,
    chords: Floats,
    owner: Ints32,
    rows: Ints,
    rays: tuple[Floats, Floats],
) -> tuple[Ints, Floats]:
    """Return which rays meet chords of other curves, and how far on, in order."""
    import shapely

    at, step = rays
    ways = np.asarray(shapely.linestrings(np.stack([at, at + step], axis=1)))
    end, chord = tree.query(ways, "intersects")
    end, chord = end[owner[chord] != rows[end]], chord[owner[chord] != rows[end]]
    p, d = chords[chord, :2], chords[chord, 2:] - chords[chord, :2]
    area = cross(step[end], d)
    across = np.abs(area) > _ASLANT * np.hypot(*step[end].T) * np.hypot(*d.T)
    end, chord, p, d, area = (v[across] for v in (end, chord, p, d, area))
    far = cross(p - at[end], d) / area * np.hypot(*step[end].T)
    return _apart(end.astype(np.int64), np.maximum(far, 0.0))


def _apart(ray: Ints, far: Floats) -> tuple[Ints, Floats]:
    """Return places on rays in order, those that are one line once."""
    order = np.lexsort((far, ray))
    ray, far = ray[order], far[order]
    # two chords of one curve may meet on a ray
    fresh = np.ones(len(ray), bool)
    fresh[1:] = (np.diff(ray) > 0) | (np.diff(far) > _SAME)
    return ray[fresh], far[fresh]
