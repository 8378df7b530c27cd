"""Whether more carries a zone onto itself than the group that was found of it.

A group is what its lines agree with; what it misses stays apart. Where a turn, mirror
or glide outside the group carries the regions onto like ones, wherever its image falls
into the zone, the group is less than the truth, or the zone a piece of something else.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

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
    from fillwork.arrays import Complexes, Floats, Ints32
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
    noise = max(found.residual, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient_of(Symmetry(NO_GROUP)), noise)
    pose = measures.pose[faces]
    slack = _STRAYS * noise / np.maximum(measures.size[faces], 1e-300)
    inner = ~np.isin(faces, arrangement.face[outer_sides(arrangement, faces)])
    matcher = Matcher(marks, quotient_of(Symmetry(NO_GROUP)))
    usual = float(np.median(measures.size[faces]))
    probes = np.vstack(
        [marks.xy.mean(axis=0), marks.xy.min(axis=0), marks.xy.max(axis=0)]
    )
    least = max(_FEWEST, _MOST * min(_ASKED * len(faces), _ENOUGH))
    away = np.hypot(*(marks.xy - marks.xy.mean(axis=0)).T)
    middle = np.argsort(away, kind="stable")[:_FIRST]
    # about the middle of a large zone nearly all images fall into it
    large = len(faces) > _LARGE * _FIRST
    asked_least = _MIDDLE * _FIRST if large else min(least, 0.5 * _MIDDLE * len(middle))
    tree, lines = None, None
    import shapely

    rails = athwart(arrangement, faces, found.lattice)
    tried = 0
    for mirrored, spin, shift in _tried(arrangement, faces, marks, pose, noise):
        moved = _linear(spin, mirrored) @ probes[0] + shift - probes[0]
        if abs(float(moved @ rails)) > BESIDE:
            continue
        if _is_known(
            quotient, _linear(spin, mirrored), shift, probes, 2 * _SAME * usual
        ):
            continue
        tried += 1
        if tried > _TRIED:
            break
        few = marks.take(middle).moved(_linear(spin, mirrored), shift)
        if (matcher.match(few) >= 0).sum() < asked_least:
            continue
        for again in (True, False):
            linear = _linear(spin, mirrored)
            onto = matcher.match(marks.moved(linear, shift))
            laid = (pose.conj() if mirrored else pose) * spin ** np.arange(1, 4)
            hit = (onto >= 0) & same_pose(laid, pose[onto], slack)
            if hit.sum() < least:
                break
            if again:
                spin, shift = _fitted(marks.xy[hit], marks.xy[onto[hit]], mirrored)
        else:
            if _is_known(quotient, linear, shift, probes, _SAME * usual):
                continue
            if found.lattice is None and found.centre is not None:
                # what turns a rosette about its centre must keep its outline as well,
                # and has been asked for
                moved = linear @ np.array(found.centre) + shift - found.centre
                if np.hypot(*moved) <= _SAME * usual:
                    continue
            if tree is None:
                tree = shapely.STRtree(arrangement.polygons(faces))
            rest = np.flatnonzero(~hit)
            there = shapely.points(marks.xy[rest] @ linear.T + shift)
            row, target = tree.query(there, predicate="within")
            row, count = rest[row], int(hit.sum())
            asked = count + len(np.unique(row))
            # what a window cuts is unlike the others, and shows nothing
            missed = np.unique(row[inner[row] & inner[target]])
            share = count / (count + len(missed))
            if count < _MOST * asked or share < _CARRIED:
                continue
            lines = lines or _Lines(arrangement, faces, noise, tree)
            if not lines.fall_on_lines(linear, shift):
                continue
            kind = "a turn"
            if mirrored:
                kind = "a mirror or glide"
            elif abs(spin - 1) * float(np.ptp(marks.xy, axis=0).max()) < usual:
                kind = "a shift"
            return share, kind
    return 0.0, ""


def _linear(spin: complex, mirrored: bool) -> Floats:
    """Return a turn by the angle of a number, after a mirror in the x axis."""
    c, s = spin.real, spin.imag
    return np.array([[c, s], [s, -c]] if mirrored else [[c, -s], [s, c]])


def _fitted(one: Floats, other: Floats, mirrored: bool) -> tuple[complex, Floats]:
    """Return turn and shift that carry points onto others best."""
    p, q = one - one.mean(axis=0), other - other.mean(axis=0)
    u, v = p[:, 0] + 1j * p[:, 1], q[:, 0] + 1j * q[:, 1]
    total = complex((v * (u if mirrored else u.conj())).sum())
    spin = total / max(abs(total), 1e-300)
    return spin, other.mean(axis=0) - one.mean(axis=0) @ _linear(spin, mirrored).T


def _is_known(
    quotient: Quotient, linear: Floats, shift: Floats, probes: Floats, near: float
) -> bool:
    """Tell whether an isometry is one of a group's: it carries points as one does."""
    there = probes @ linear.T + shift
    for own, away in zip(quotient.linear, quotient.shift, strict=True):
        if np.linalg.det(own) * np.linalg.det(linear) > 0:
            apart = there - (probes @ own.T + away)
            if len(quotient.basis):
                # one shift for all of them
                apart = apart - (apart[0] - quotient.nearest(apart[:1])[0])
            if np.hypot(*apart.T).max() <= near:
                return True
    return False


def _tried(
    arrangement: Arrangement, faces: Ints32, marks: Marks, pose: Complexes, noise: float
) -> list[tuple[bool, complex, Floats]]:
    """Return isometries that carry a region near the middle, with one beside it, on.

    Each is whether it mirrors, a number of modulus 1 that turns, and a shift; those
    that fit best come first, and of these those that move the middle least.
    """
    row = np.full(arrangement.face_count, -1, dtype=np.int64)
    row[faces] = np.arange(len(faces))
    a, b = row[arrangement.face[0::2]], row[arrangement.face[1::2]]
    link = (a >= 0) & (b >= 0) & (a != b)
    both = np.concatenate([np.stack([a, b], 1)[link], np.stack([b, a], 1)[link]])
    pairs = distinct_pairs(both)
    first = np.searchsorted(pairs[:, 0], np.arange(len(faces) + 1))
    z = marks.xy[:, 0] + 1j * marks.xy[:, 1]
    middle = complex(z.mean())
    usual = float(np.median(marks.size))
    slack = _NOISE * noise + _SHARE * usual
    powers = np.arange(1, pose.shape[1] + 1)
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
        for k in beside[:_SIDES].tolist():
            away = z[k] - z[i]
            source = np.concatenate([np.arange(first[j], first[j + 1]) for j in alike])
            start, stop = pairs[source].T
            step = z[stop] - z[start]
            misfit = np.maximum(apart[start], np.abs(np.abs(step) - abs(away)))
            misfit = np.maximum(misfit, np.abs(marks.size[stop] - marks.size[k]))
            for mirrored in (False, True):
                spin = step / (away.conjugate() if mirrored else away)
                spin /= np.maximum(np.abs(spin), 1e-300)
                miss = misfit.copy()
                for one, other in ((i, start), (k, stop)):
                    own = pose[one].conj() if mirrored else pose[one]
                    laid = own * spin[:, None] ** powers
                    off = np.abs(laid - pose[other]).max(axis=1)
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
    span = float(np.ptp(marks.xy, axis=0).max())
    kept: dict[tuple[bool, int, int, int, int], tuple[bool, complex, complex]] = {}
    for _, _, mirrored, spin, there in found:
        if len(kept) >= _MOST_KEPT:
            break
        places = np.array([spin.real * span, spin.imag * span, there.real, there.imag])
        key = np.rint(places / (_SAME * usual)).astype(int).tolist()
        kept.setdefault((mirrored, *key), (mirrored, spin, there))
    return [(m, p, _shift_of(m, p, middle, at)) for m, p, at in kept.values()]


def _shift_of(mirrored: bool, spin: complex, point: complex, there: complex) -> Floats:
    """Return what an isometry adds that carries a point to another."""
    at = there - spin * (point.conjugate() if mirrored else point)
    return np.array([at.real, at.imag])


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

    def fall_on_lines(self, linear: Floats, shift: Floats) -> bool:
        """Tell whether an isometry lays nearly all lines onto lines.

        Of what it carries into the zone. Asked part by part, from all over the zone,
        until it is settled.
        """
        import shapely

        if self.index is None:
            return True
        good, missed, left = 0.0, 0.0, float(self.size.sum())
        for part in range(_PARTS):
            there = self.points[part::_PARTS] @ linear.T + shift
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
