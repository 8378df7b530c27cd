"""Whether more carries a zone onto itself than the group that was found of it.

A group is what its lines agree with; what it misses stays apart. Where a turn, mirror
or glide outside the group carries the regions onto like ones, wherever its image falls
into the zone, the group is less than the truth, or the zone a piece of something else.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.geometry.ranges import distinct_pairs, marked
from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.repeats import BESIDE, athwart, same_pose

if TYPE_CHECKING:
    from shapely import STRtree

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Complexes, Floats, Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.faces.places import Marks
    from fillwork.symmetry.quotient import Quotient


# regions about the middle of a zone whose like ones are looked for, neighbours of each
# that tell how they are turned, like ones of each, and isometries outside the group
# that are tried
_SEEDS, _SIDES, _PARTNERS, _TRIED = 8, 3, 24, 60
# the same, with those of the group
_MOST_KEPT = 400
# regions that must fall on like ones: of those of a zone, and as many as are enough
_ASKED, _ENOUGH, _FEWEST = 0.5, 24, 4
# the same of those whose image falls into the zone, and of these without those that a
# window cuts; and the share of the lines that must fall on lines
_MOST, _CARRIED, _ON_LINES = 0.6, 0.9, 0.95
# regions in the middle that are asked first, the share that must fall on like ones, and
# how many times as many make a zone large
_FIRST, _MIDDLE, _LARGE = 60, 0.5, 4
# where along lines it is asked, and parts of them that are asked one after another
_ALONG, _PARTS = (0.2, 0.4, 0.6, 0.8), 16
# how near to one of the group an isometry is the same, in a median root of an area
_SAME = 0.3
# how near to its place a line lies, in roots of the median area
_NEAR = 0.04
# how far like regions are apart, in what lines stray by and roots of the median area,
# and in how much that is, for a region that is the middle's like
_NOISE, _SHARE, _ALIKE = 3.0, 0.01, 3.0
# how far outlines may lie apart, in what lines stray by
_STRAYS = 2.0


def share_beyond(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> tuple[float, str]:
    """Return which share of regions an isometry outside the group carries along.

    `arrangement`: all faces. `faces`: the faces of a zone. `found`: the group that was
    found of them. Returns `share`: of the regions whose image falls into the zone; 0
    where no isometry carries enough of them; `kind`: "a turn", "a mirror or glide" or
    "a shift".
    """
    quotient = quotient_of(found)
    zone = _Zone(arrangement, measures, faces, found)
    xy = zone.marks.xy
    probes = np.vstack([xy.mean(axis=0), xy.min(axis=0), xy.max(axis=0)])
    rails = athwart(arrangement, faces, found.lattice)
    tried = 0
    for isometry in _tried(arrangement, zone):
        moved = isometry.linear @ probes[0] + isometry.shift - probes[0]
        if abs(float(moved @ rails)) > BESIDE:
            continue
        if _is_known(quotient, isometry, probes, 2 * _SAME * zone.usual):
            continue
        tried += 1
        if tried > _TRIED:
            break
        fitted, hit = zone.fit(isometry)
        if hit is None or _is_known(quotient, fitted, probes, _SAME * zone.usual):
            continue
        if found.lattice is None and found.centre is not None:
            # what turns a rosette about its centre must keep its outline as well,
            # and has been asked for
            moved = fitted.linear @ np.array(found.centre) + fitted.shift - found.centre
            if np.hypot(*moved) <= _SAME * zone.usual:
                continue
        share = zone.share_carried(fitted, hit)
        if share and zone.lines.fall_on_lines(fitted):
            return share, zone.kind_of(fitted)
    return 0.0, ""


class _Isometry(NamedTuple):
    """A turn, after a mirror in the x axis or without one, and then a shift."""

    mirrored: bool
    spin: complex  # of modulus 1: it turns by its angle
    shift: Floats  # (2,), mm

    @property
    def linear(self) -> Floats:
        """Return (2, 2): what it does to directions."""
        c, s = self.spin.real, self.spin.imag
        return np.array([[c, s], [s, -c]] if self.mirrored else [[c, -s], [s, c]])


class _Zone:
    """Hold the faces of a zone, which isometries may carry onto each other."""

    def __init__(
        self,
        arrangement: Arrangement,
        measures: FaceMeasures,
        faces: Ints32,
        found: Symmetry,
    ) -> None:
        self.arrangement, self.faces = arrangement, faces
        self.noise = max(found.residual, arrangement.tolerance.join_within)
        alone = quotient_of(Symmetry(NO_GROUP))
        self.marks = marks_of_faces(measures, faces, alone, self.noise)
        self.matcher = Matcher(self.marks, alone)
        self.pose = measures.pose[faces]
        size = measures.size[faces]
        self.slack = _STRAYS * self.noise / np.maximum(size, 1e-300)
        self.usual = float(np.median(size))
        outer = arrangement.face[outer_sides(arrangement, faces)]
        self.inner = ~np.isin(faces, outer)
        self.least = max(_FEWEST, _MOST * min(_ASKED * len(faces), _ENOUGH))
        away = np.hypot(*(self.marks.xy - self.marks.xy.mean(axis=0)).T)
        self.middle = np.argsort(away, kind="stable")[:_FIRST]
        # about the middle of a large zone nearly all images fall into it
        large = len(faces) > _LARGE * _FIRST
        few = min(self.least, 0.5 * _MIDDLE * len(self.middle))
        self.of_middle = _MIDDLE * _FIRST if large else few

    @cached_property
    def tree(self) -> STRtree:
        """Return the faces by where they lie."""
        import shapely

        return shapely.STRtree(self.arrangement.polygons(self.faces))

    @cached_property
    def lines(self) -> _Lines:
        """Return the lines within the zone."""
        return _Lines(self.arrangement, self.faces, self.noise, self.tree)

    def fit(self, isometry: _Isometry) -> tuple[_Isometry, Bools | None]:
        """Return an isometry fitted to the faces, and which it carries onto others.

        None in their place where they are too few.
        """
        few = self.marks.take(self.middle).moved(isometry.linear, isometry.shift)
        if (self.matcher.match(few) >= 0).sum() < self.of_middle:
            return isometry, None
        hit, onto = self._carried(isometry)
        if hit.sum() < self.least:
            return isometry, None
        xy = self.marks.xy
        fitted = _fitted(xy[hit], xy[onto[hit]], isometry.mirrored)
        hit, _ = self._carried(fitted)
        return fitted, None if hit.sum() < self.least else hit

    def _carried(self, isometry: _Isometry) -> tuple[Bools, Ints]:
        """Return which faces an isometry carries onto like ones, and onto which."""
        moved = self.marks.moved(isometry.linear, isometry.shift)
        onto = self.matcher.match(moved)
        laid = self.pose.conj() if isometry.mirrored else self.pose
        laid = laid * isometry.spin ** np.arange(1, 4)
        return (onto >= 0) & same_pose(laid, self.pose[onto], self.slack), onto

    def share_carried(self, isometry: _Isometry, hit: Bools) -> float:
        """Return the share of faces that are carried, of those that stay in the zone.

        `hit`: those that are carried onto like ones. 0 where it is too small.
        """
        import shapely

        rest = np.flatnonzero(~hit)
        there = self.marks.xy[rest] @ isometry.linear.T + isometry.shift
        row, target = self.tree.query(shapely.points(there), predicate="within")
        row, count = rest[row], int(hit.sum())
        asked = count + len(np.unique(row))
        # what a window cuts is unlike the others, and shows nothing
        missed = np.unique(row[self.inner[row] & self.inner[target]])
        share = count / (count + len(missed))
        return 0.0 if count < _MOST * asked or share < _CARRIED else share

    def kind_of(self, isometry: _Isometry) -> str:
        """Return what an isometry is, in words."""
        if isometry.mirrored:
            return "a mirror or glide"
        extent = float(np.ptp(self.marks.xy, axis=0).max())
        return "a shift" if abs(isometry.spin - 1) * extent < self.usual else "a turn"


def _fitted(one: Floats, other: Floats, mirrored: bool) -> _Isometry:
    """Return the isometry that carries points onto others best."""
    p, q = one - one.mean(axis=0), other - other.mean(axis=0)
    u, v = p[:, 0] + 1j * p[:, 1], q[:, 0] + 1j * q[:, 1]
    total = complex((v * (u if mirrored else u.conj())).sum())
    turn = _Isometry(mirrored, total / max(abs(total), 1e-300), np.zeros(2))
    return turn._replace(shift=other.mean(axis=0) - one.mean(axis=0) @ turn.linear.T)


def _is_known(
    quotient: Quotient, isometry: _Isometry, probes: Floats, near: float
) -> bool:
    """Tell whether an isometry is one of a group's: it carries points as one does."""
    linear = isometry.linear
    there = probes @ linear.T + isometry.shift
    for own, away in zip(quotient.linear, quotient.shift, strict=True):
        if np.linalg.det(own) * np.linalg.det(linear) > 0:
            apart = there - (probes @ own.T + away)
            if len(quotient.basis):
                # one shift for all of them
                apart = apart - (apart[0] - quotient.nearest(apart[:1])[0])
            if np.hypot(*apart.T).max() <= near:
                return True
    return False


def _tried(arrangement: Arrangement, zone: _Zone) -> list[_Isometry]:
    """Return isometries that carry a region near the middle, with one beside it, on.

    Those that fit best come first, and of these those that move the middle least.
    """
    faces, marks = zone.faces, zone.marks
    row = np.full(arrangement.face_count, -1, dtype=np.int64)
    row[faces] = np.arange(len(faces))
    a, b = row[arrangement.face[0::2]], row[arrangement.face[1::2]]
    link = (a >= 0) & (b >= 0) & (a != b)
    both = np.concatenate([np.stack([a, b], 1)[link], np.stack([b, a], 1)[link]])
    pairs = distinct_pairs(both)
    first = np.searchsorted(pairs[:, 0], np.arange(len(faces) + 1))
    z = marks.xy[:, 0] + 1j * marks.xy[:, 1]
    middle = complex(z.mean())
    slack = _NOISE * zone.noise + _SHARE * float(np.median(marks.size))
    found: list[tuple[int, float, bool, complex, complex]] = []
    seeds = 0
    for i in np.argsort(np.abs(z - middle), kind="stable").tolist():
        apart = np.maximum(
            np.abs(marks.size - marks.size[i]),
            np.abs(marks.length - marks.length[i]) / 4,
        )
        alike = np.flatnonzero(apart <= _ALIKE * slack)
        beside = pairs[first[i] : first[i + 1], 1]
        beside = beside[np.abs(z[beside] - z[i]) > _SAME * marks.size[beside]]
        if len(alike) < 2 or len(beside) == 0:
            continue
        seeds += 1
        if seeds > _SEEDS:
            break
        alike = alike[np.argsort(np.abs(z[alike] - z[i]), kind="stable")][:_PARTNERS]
        source = np.concatenate([np.arange(first[j], first[j + 1]) for j in alike])
        start, stop = pairs[source].T
        for k in beside[:_SIDES].tolist():
            step, away = z[stop] - z[start], z[k] - z[i]
            misfit = np.maximum(apart[start], np.abs(np.abs(step) - abs(away)))
            misfit = np.maximum(misfit, np.abs(marks.size[stop] - marks.size[k]))
            for mirrored in (False, True):
                spin = step / (away.conjugate() if mirrored else away)
                spin /= np.maximum(np.abs(spin), 1e-300)
                miss = misfit.copy()
                for one, other in ((i, start), (k, stop)):
                    off = _turned_off(zone.pose, one, other, mirrored, spin)
                    miss = np.maximum(miss, marks.size[one] * off)
                at = z.conj() if mirrored else z
                shift = z[start] - spin * at[i]
                there = spin * (middle.conjugate() if mirrored else middle) + shift
                moved = np.abs(there - middle)
                found += [
                    (int(miss[r] / slack), moved[r], mirrored, spin[r], there[r])
                    for r in np.flatnonzero(miss <= _ALIKE * slack)
                ]
    found.sort(key=lambda f: f[:2])
    return _once_each(found, middle, float(np.ptp(marks.xy, axis=0).max()), marks)


def _turned_off(
    pose: Complexes, one: int, others: Ints, mirrored: bool, spin: Complexes
) -> Floats:
    """Return how far turns of a face miss the pose of others."""
    own = pose[one].conj() if mirrored else pose[one]
    laid = own * spin[:, None] ** np.arange(1, pose.shape[1] + 1)
    return np.asarray(np.abs(laid - pose[others]).max(axis=1))


def _once_each(
    found: list[tuple[int, float, bool, complex, complex]],
    middle: complex,
    span: float,
    marks: Marks,
) -> list[_Isometry]:
    """Return isometries, those that do the same over a zone once.

    `found`: of each two numbers that order them, whether it mirrors, how it turns, and
    where it carries the middle.
    """
    near = _SAME * float(np.median(marks.size))
    kept: dict[tuple[bool, int, int, int, int], _Isometry] = {}
    for _, _, mirrored, spin, there in found:
        if len(kept) >= _MOST_KEPT:
            break
        places = np.array([spin.real * span, spin.imag * span, there.real, there.imag])
        key = np.rint(places / near).astype(int).tolist()
        at = there - spin * (middle.conjugate() if mirrored else middle)
        isometry = _Isometry(mirrored, spin, np.array([at.real, at.imag]))
        kept.setdefault((mirrored, *key), isometry)
    return list(kept.values())


class _Lines:
    """Hold the lines within a zone, and those that their images may fall on.

    `noise`: how far lines stray from their places, mm. `tree`: the faces of the zone.
    """

    def __init__(
        self, arrangement: Arrangement, faces: Ints32, noise: float, tree: STRtree
    ) -> None:
        own = marked(faces, arrangement.face_count)
        a, b = own[arrangement.face[0::2]], own[arrangement.face[1::2]]
        ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)]
        start, step = ends[a & b, 0], ends[a & b, 1] - ends[a & b, 0]
        size = np.maximum(np.hypot(*step.T), 1e-300)
        self.points = np.vstack([start + share * step for share in _ALONG])
        self.along = np.tile(step / size[:, None], (len(_ALONG), 1))
        self.size = np.tile(size, len(_ALONG))
        every = ends[a | b].reshape(-1, 4)
        every = every[np.hypot(*(every[:, 2:] - every[:, :2]).T) > 0]
        unit = float(np.median(np.sqrt(arrangement.area[faces])))
        self.index = LineIndex(every, _NEAR * unit + 2.0 * noise) if len(size) else None
        self.tree = tree

    def fall_on_lines(self, isometry: _Isometry) -> bool:
        """Tell whether an isometry lays nearly all lines onto lines.

        Of what it carries into the zone. Asked part by part, from all over the zone,
        until it is settled.
        """
        import shapely

        if self.index is None:
            return True
        linear = isometry.linear
        good, missed, left = 0.0, 0.0, float(self.size.sum())
        for part in range(_PARTS):
            there = self.points[part::_PARTS] @ linear.T + isometry.shift
            along, size = self.along[part::_PARTS] @ linear.T, self.size[part::_PARTS]
            on = np.isfinite(self.index.nearest(there, along)[0])
            off = np.flatnonzero(~on)
            inside = self.tree.query(shapely.points(there[off]), predicate="within")[0]
            good += float(size[on].sum())
            missed += float(size[off[np.unique(inside)]].sum())
            left -= float(size.sum())
            if good + left < _ON_LINES * (good + missed + left):
                return False
        return good > 0
