"""Which gaps are closed: as ends in a drawing miss, none wider than regions allow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.arrangement import choice
from fillwork.arrangement.closings import Closings, find_closings
from fillwork.arrangement.corners import Corners, points_at_lines, points_at_points
from fillwork.arrangement.meant import meant_gap
from fillwork.errors import LineWorkError
from fillwork.notes import Note
from fillwork.units import plain

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrangement.edges import Edges
    from fillwork.arrangement.ends import Tips
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.curves import Curves
    from fillwork.tolerance import Tolerance


# how far gaps that are left on purpose differ from their usual size
_LIKE_GAPS = 0.5
# a gap is looked for within this share of the drawing's size, and at most at so many
# ends where no line closes a region
_FAR, _MANY = 0.05, 2000
# gaps up to so many times the longest that is closed are spoken of
_LITTLE_LONGER = 2.0


class Mends(NamedTuple):
    """Hold closings to make, which tips are overshoots, which closings were named."""

    closings: Closings  # gaps to close
    overshoot: Bools  # (tips,): ends to trim
    named: Bools  # (closings,): closings at points that were asked for

    def bounding_narrow(self, result: Arrangement, own: int) -> Bools:
        """Return which closings are longer than half the width of a region beside.

        `own`: the curves from there on close them, one each. Returns (closings,): those
        that were not asked for by name.
        """
        size = self.closings.size
        long = np.zeros(len(size), dtype=bool)
        curve = result.edge_curve
        edge = np.flatnonzero((curve >= own) & (curve < own + len(size)))
        for face in result.face.reshape(-1, 2)[edge].T:
            inner = np.flatnonzero(face > 0)
            _, radius = result.points_inside(face[inner].astype(np.int64))
            row = curve[edge[inner]] - own
            long[row[size[row] > radius]] = True
        return np.asarray(long & ~self.named)


@dataclass(frozen=True, slots=True, eq=False)
class Net:
    """Hold lines parted where they meet, and their loose ends."""

    curves: Curves  # the curves, about the origin
    vertices: Floats  # (V, 2): places of vertices, mm
    edges: Edges
    tips: Tips  # loose ends
    pen: Floats  # (curves,): width of the line that each draws, mm; 0 for none
    corners: Corners  # those that point somewhere, numbered after the ends in closings
    middle: Floats  # (2,): where the origin is on the page, mm
    # ink, most and slack: usual width of the lines, mm, 0 where it is not known; the
    # longest gap at a corner; what is nearer is one point, mm
    ink: float
    most: float
    slack: float

    def ends(self) -> Floats:
        """Return where the loose ends are on the page, shape (tips, 2), mm."""
        return np.asarray(self.vertices[self.tips.vertex] + self.middle)

    def closings(self, within: Floats, *, strict: bool = True) -> Closings:
        """Return what gaps no longer than `within`, mm of each tip, are closed by."""
        return find_closings(
            self.curves,
            self.vertices,
            self.edges,
            self.tips,
            within,
            strict,
            touching=self.ink / 2,
            slack=self.slack,
        )

    def near(self) -> float:
        """Return how far the ink of two lines reaches together, mm."""
        return min(self.ink, self.most)

    def reach(self, most: float) -> Floats:
        """Return the longest gap, mm, at each end and at each corner after them."""
        near = np.minimum(self.near() * self.corners.ink(), self.most)
        return np.concatenate([np.full(len(self.tips), most), near])

    def starts(self, closings: Closings) -> tuple[Floats, Ints]:
        """Return where closings begin on the page, (n, 2) mm, and on which edges."""
        vertex = np.r_[self.tips.vertex, self.corners.tips.vertex][closings.tip]
        edge = np.r_[self.tips.edge, self.corners.tips.edge][closings.tip]
        return self.vertices[vertex] + self.middle, edge

    def shown(self, closings: Closings) -> Closings:
        """Return those that begin at an end and that no ink covers."""
        return closings.take(
            (closings.tip < len(self.tips)) & (closings.size > self.ink / 2)
        )

    def longest_at_corners(self, closings: Closings) -> float:
        """Return the size of the longest that begins at a corner, mm; 0 for none."""
        return float(closings.size[closings.tip >= len(self.tips)].max(initial=0.0))

    def _at_corners(self, within: Floats) -> Closings:
        """Return what joins corners to the lines and points that their ink meets."""
        drawn = self.curves, self.vertices, self.edges, self.corners
        lines = points_at_lines(*drawn, np.minimum(within, self.near()), self.pen)
        points = points_at_points(*drawn, within, self.pen, self.near())
        found = lines.joined(points)
        return replace(found, tip=found.tip + len(self.tips))

    def held_open(
        self, tolerance: Tolerance, width: float | None
    ) -> tuple[Tolerance, tuple[Note, ...]]:
        """Return the tolerance with the longest gap that ends in this drawing ask for.

        `tolerance`: as it was chosen from the lengths of pieces. `width`: usual width
        of the lines, mm. Returns `tolerance`: with what is to be closed; `notes`: gaps
        that are left open on purpose part fewer regions than closed ones: one says what
        closes them.
        """
        tips = self.tips
        closings = self.closings(np.full(len(tips), tolerance.close_gaps))
        over = tips.from_junction & (tips.length <= tolerance.close_gaps)
        place, most = self.vertices[tips.vertex], tolerance.join_within
        meant = meant_gap(tips, place, closings, int(over.sum()), width, most)
        missed = len(closings) > 0 or bool(over.any())
        held = choice.with_gaps(tolerance, meant, missed=missed)
        if not 0 < held.close_gaps < tolerance.close_gaps:
            return held, ()
        alike = closings.size[np.abs(closings.size / meant - 1) < _LIKE_GAPS]
        text = f"{len(alike)} gaps of about {meant:.2g} mm are alike, so they stay open"
        return held, (_open_gaps(text, _round_up(alike.max(initial=meant))),)

    def mends(
        self, most: float, within: Floats, close: tuple[tuple[float, float], ...]
    ) -> Mends:
        """Return what to mend.

        `most`: longest overshoot, mm. `within` (tips and corners,): longest gap at each
        tip and corner, mm. `close`: points at which the nearest gap is closed whatever
        its size.
        """
        tips = self.tips
        closings = self.closings(within[: len(tips)])
        gap = np.full(len(tips), np.inf)
        gap[closings.tip] = closings.size
        paired = closings.other_tip >= 0
        gap[closings.other_tip[paired]] = closings.size[paired]
        overshoot = tips.from_junction & (tips.length <= most)
        overshoot &= 2 * gap > tips.length
        # an end that runs over is what the next line's end was to meet: it stays
        cut_back = overshoot[closings.tip]
        cut_back[paired] &= overshoot[closings.other_tip[paired]]
        met = paired & ~cut_back
        overshoot[closings.tip[met]] = overshoot[closings.other_tip[met]] = False
        closings = closings.take(~cut_back)
        twice, idle = self._met_twice(closings, most)
        closings = closings.take(~twice)
        overshoot[idle] = True
        closings = closings.joined(self._at_corners(within[len(tips) :]))
        named = np.zeros(len(closings), dtype=bool)
        if close:
            asked = self._asked_closings(close)
            mended = np.r_[closings.tip, closings.other_tip]
            fresh = np.flatnonzero(~np.isin(asked.tip, mended))
            overshoot[asked.tip] = False
            closings = closings.joined(asked.take(fresh))
            both = np.r_[asked.tip, asked.other_tip[asked.other_tip >= 0]]
            named = np.isin(closings.tip, both) | np.isin(closings.other_tip, both)
        return Mends(closings, overshoot, named)

    def _met_twice(self, closings: Closings, most: float) -> tuple[Bools, Ints]:
        """Return closings of an end to a second of two that cross, and those ends.

        Two ends that run over each other by no more than `most` are one place.
        """
        tips, edges = self.tips, self.edges
        twice = np.zeros(len(closings), dtype=bool)
        paired = np.flatnonzero(closings.other_tip >= 0)
        row = np.r_[paired, paired]
        one = np.r_[closings.tip[paired], closings.other_tip[paired]]
        met = np.r_[closings.other_tip[paired], closings.tip[paired]]
        over = tips.from_junction[one] & (tips.length[one] <= most)
        row, one, met = row[over], one[over], met[over]
        crossing = edges.vertex[tips.edge[one]].sum(axis=1) - tips.vertex[one]
        order = np.lexsort((closings.size[row], crossing, met))
        row, one, met, crossing = (v[order] for v in (row, one, met, crossing))
        again = np.zeros(len(row), dtype=bool)
        again[1:] = (met[1:] == met[:-1]) & (crossing[1:] == crossing[:-1])
        twice[row[again]] = True
        left = closings.take(~twice)
        idle = one[again]
        return twice, idle[~np.isin(idle, np.r_[left.tip, left.other_tip])]

    def _asked_closings(self, close: tuple[tuple[float, float], ...]) -> Closings:
        """Return closings for the points where a gap was asked to be closed."""
        tips = self.tips
        reach = _FAR * float(np.hypot(*np.ptp(self.vertices, axis=0)))
        within = np.zeros(len(tips))
        for point in close:
            where = f"--close @{point[0]:g},{point[1]:g}"
            if len(tips) == 0:
                what = "there is no open end to close"
                raise LineWorkError(what, where)
            away = np.hypot(*(self.ends() - np.array(point)).T)
            nearest = int(np.argmin(away))
            if away[nearest] > reach:
                what = (
                    f"no open end near: the nearest is {plain(away[nearest])} mm away"
                )
                mend = f"give a point within {plain(reach)} mm of the open end"
                raise LineWorkError(what, where, mend)
            within[nearest] = 3 * reach
        closings = self.closings(within)
        if len(closings) < np.count_nonzero(within):
            closings = self.closings(within, strict=False)
        served = np.isin(
            np.flatnonzero(within), np.r_[closings.tip, closings.other_tip]
        )
        if not served.all():
            place = self.ends()[np.flatnonzero(within)[~served][0]]
            what = f"nothing can be joined to the open end within {plain(3 * reach)} mm"
            raise LineWorkError(what, f"near ({place[0]:.4g}, {place[1]:.4g}) mm")
        return closings

    def shortest_that_closes(
        self, most: float, count: Callable[[float], int]
    ) -> tuple[Note, ...]:
        """Return a note on the length with which gaps are closed to most regions.

        None where no gap is near, or ends are very many. `most`: gaps up to this are
        closed already, mm. `count`: tells how many regions there are when gaps up to a
        length, mm, are closed.
        """
        if not 0 < len(self.tips) <= _MANY:
            return ()
        far = _FAR * float(np.hypot(*np.ptp(self.vertices, axis=0)))
        size = np.sort(self.closings(np.full(len(self.tips), far)).size)
        size = size[size > most]
        tried = size[[0, len(size) // 2, -1]].tolist() if len(size) else []
        found = {x: count(_round_up(x)) for x in sorted(set(tried))}
        regions = max(found.values(), default=0)
        if regions == 0:
            return ()
        longest = min(x for x in found if found[x] == regions)
        closed = int((size <= longest).sum())
        text = f"{_gaps(closed)} {longest:.2g} mm keep{'s' * (closed == 1)} lines open"
        return (_open_gaps(text, _round_up(longest)),)

    def just_longer(
        self, most: float, regions: int, count: Callable[[float], int]
    ) -> tuple[Note, ...]:
        """Return a note on gaps a little longer than those that are closed.

        None where no gap is so near, where closing them parts nothing, or where ends
        are very many.

        `most`: gaps up to this are closed where ends miss, mm. `regions`: how many
        regions there are. `count`: tells how many regions there are when gaps up to a
        length, mm, are closed.
        """
        if not 0 < len(self.tips) <= _MANY:
            return ()
        size = self.closings(np.full(len(self.tips), _LITTLE_LONGER * most)).size
        size = size[size > most]
        longest = float(size.max(initial=0.0))
        if longest == 0 or count(_round_up(longest)) <= regions:
            return ()
        text = (
            f"{_gaps(len(size))} {longest:.2g} mm stay{'s' * (len(size) == 1)} open: "
            f"only those up to {most:.2g} mm are mended by themselves"
        )
        return (_open_gaps(text, _round_up(longest)),)


def left_open(opened: dict[int, float], mends: Mends) -> tuple[Note, ...]:
    """Return a note on gaps that stay open because regions beside are narrow.

    None where all were. `opened`: sizes of gaps, mm, by their tips.
    """
    joined = {*mends.closings.tip.tolist(), *mends.closings.other_tip.tolist()}
    size = [size for tip, size in opened.items() if tip not in joined]
    if not size:
        return ()
    text = (
        f"{_gaps(len(size))} {max(size):.2g} mm would close regions less than twice as "
        "wide: left open"
    )
    return (_open_gaps(text, _round_up(max(size))),)


def _gaps(count: int) -> str:
    return f"{count} gaps of up to" if count > 1 else "1 gap of"


def _round_up(length: float) -> float:
    """Return a length of two digits that is longer, mm, as a message gives it."""
    return float(f"{1.1 * length:.2g}")


def _open_gaps(text: str, length: float) -> Note:
    remedy = f"--close-gaps {length:.2g}mm closes them"
    return Note("arrangement", "open gaps", text, remedy=remedy)
