"""Which zone a scrap belongs to: the one whose operations keep its lines.

What a mitre or a line of the frame cuts off a border shows too little to have a
symmetry of its own. Its lines still agree with those of the zone that it was cut
from: images of them that fall among that zone's faces lie on its lines.

One module of some length: scraps, parts and what turns are asked by the same images.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct, distinct_pairs, marked, spread
from fillwork.symmetry.action import face_action
from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.repeats import repeating

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry

# how near a line must be, in roots of the median area of a face
_NEAR = 0.06
# the same for what is sure of its own turns: a corner square beside cells that are
# a twentieth shorter is no piece of their strip
_EXACTLY = 0.015
# share of an edge's images that must lie on lines, and images that must be seen
_HOLDS = 0.8
_SEEN = 3
# repeats that images lie from the scrap at most
_FAR = 2
# edges between two faces of which all are asked
_BETWEEN = 12
# images that are looked at together
_AT_ONCE = 1 << 16
# share of a face's outline that must be asked, and of that what must hold
_ASKED = 0.4
_HELD = 0.6
# the same where no other zone keeps nearly as much
_PARTLY = 0.3
# the same of a face that a rosette carries onto some like ones
_WHOLE = 0.9
# share of a scrap's faces that must be claimed
_MOST = 0.5
# by how much the area of a face may differ from that of its image
_LIKE = 0.03
# share of the lines that images must fall on, each way, where a pattern goes on; lines
# that must be seen so, and that are asked
_GOES_ON = 0.9
_LINES_SEEN, _LINES_ASKED = 3, 150
# area of a sliver at most, in its outline squared: it shows nothing
_SLIVER = 0.02
# share of a pattern's faces that must repeat, if others are to be strange in it; edges
# of those that are asked at most, and of each outline at least; the share kept below
_TOLD, _MOST_ASKED, _SOME, _STRANGE = 0.3, 500, 0.2, 0.34
# images that are looked for in faces before it is asked whether all can be enough
_FEW_AT_FIRST = 256
# images that wait at most
_WAITING = 1 << 19


def claim_faces(
    arrangement: Arrangement,
    scrap: AnyInts,
    zones: Sequence[tuple[AnyInts, Symmetry]],
    *,
    whole: bool = False,
    exactly: bool = False,
) -> Ints | None:
    """Find the zone that each face of a scrap was cut from.

    `scrap` (m,): faces that hang together. `zones`: faces and symmetry of each zone
    that may claim them. `whole`: whether nearly all of a face's lines must be the
    zone's. `exactly`: whether they must lie as near as the zone's own, for what is a
    pattern by itself; else as near as a hand can miss. Returns (m,): row of `zones` for
    each face, -1 where none claims it; None where most of the faces are claimed by
    none.
    """
    near = _EXACTLY if exactly else _NEAR
    share = np.array([_share_kept(arrangement, scrap, *zone, near) for zone in zones])
    if len(share) == 0:
        return None
    best = share.argmax(axis=0)
    best[share.max(axis=0) < (_WHOLE if whole else _HELD)] = -1
    if (best >= 0).mean() < _MOST:
        return None
    if not whole and len(zones) > 1:
        # a mitre leaves less of some, and what is left is one side's alone
        low, top = np.sort(share, axis=0)[-2:]
        one = (best < 0) & (top >= _PARTLY) & (low < _ASKED * top)
        best[one] = share.argmax(axis=0)[one]
    return _with_neighbours(arrangement, scrap, best)


def of_several(
    arrangement: Arrangement,
    faces: AnyInts,
    zones: Sequence[tuple[AnyInts, Symmetry]],
) -> bool:
    """Tell whether each face has lines of some zone, and several have faces of theirs.

    `faces`: those that are asked about. `zones`: faces and symmetry of each zone.
    """
    share = np.array([_share_kept(arrangement, faces, *zone, _NEAR) for zone in zones])
    each = bool((share.max(axis=0) >= _PARTLY).all())
    return each and len(distinct(share.argmax(axis=0))) > 1


def claim_turned(
    arrangement: Arrangement, free: AnyInts, faces: AnyInts, symmetry: Symmetry
) -> Ints:
    """Find the faces beside a rosette that every operation carries onto their like.

    What petals leave of the ring about them touches it in points, and stands alone.

    Those of the free faces that turn with it. `free` (m,): faces that belong to no
    zone. `symmetry`: its group.
    """
    count = arrangement.face_count
    own, loose = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    own[faces] = loose[free] = True
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    beside = np.zeros(count, dtype=bool)
    beside[a[own[b]]] = beside[b[own[a]]] = True
    loose &= beside
    row = np.flatnonzero(loose)
    if len(row) == 0:
        return row
    onto = np.array([face_action(arrangement, o)[row] for o in symmetry.operations])
    area = np.maximum(arrangement.area, 1e-300)
    like = (onto > 0) & loose[onto] & (np.abs(area[onto] / area[row] - 1) < _LIKE)
    # what lies round it and stays where it is may be its frame, but not its middle
    middle = np.zeros(len(row), dtype=bool)
    if symmetry.centre is not None:
        whole = np.diff(arrangement.face_ring_start)[row] == 1
        middle = whole & (row == arrangement.face_at(*symmetry.centre))
    turned = (onto != row).any(axis=0) | middle
    return np.asarray(row[like.all(axis=0) & turned], np.int64)


class Pattern:
    """Hold a pattern that parts beside it are asked whether they are more of.

    `faces` and `symmetry`: the pattern's.
    """

    def __init__(
        self, arrangement: Arrangement, faces: AnyInts, symmetry: Symmetry
    ) -> None:
        self.arrangement, self.symmetry = arrangement, symmetry
        self.inside = np.zeros(arrangement.face_count, dtype=bool)
        self.inside[faces] = True
        unit = float(np.median(np.sqrt(arrangement.area[faces])))
        self.near = _EXACTLY * unit + 2 * symmetry.residual
        self._faces = faces

    @cached_property
    def ground(self) -> _Ground:
        """Return the pattern's faces, and lines, as images fall on them."""
        return _Ground(self.arrangement, self._faces, self.near)

    def goes_on(self, part: AnyInts) -> bool:
        """Tell whether a part is more of the pattern.

        Its lines, and those between both, fall on the pattern's wherever operations
        carry them into it, and the pattern's on the part's: a row that one line parts
        from a field shows little of what the field repeats, and nothing else.

        `part`: faces that lie beside the pattern.
        """
        own, theirs = np.zeros_like(self.inside), self.inside
        own[part] = True
        a, b = self.arrangement.face[0::2], self.arrangement.face[1::2]
        between = (own[a] & theirs[b]) | (theirs[a] & own[b])
        mine = np.flatnonzero((own[a] & own[b]) | between)
        if not between.any() or len(mine) < _LINES_SEEN:
            return False
        _, images = _images_of(_few(mine), self.ground, self.symmetry, beside=True)
        if not images.fall_on():
            return False
        ground = _Ground(self.arrangement, part, self.near)
        asked = _few(np.flatnonzero(theirs[a] & theirs[b]))
        return _images_of(asked, ground, self.symmetry, beside=False)[1].fall_on()


def _few(asked: AnyInts) -> AnyInts:
    return asked[:: len(asked) // _LINES_ASKED + 1]


class _Ground:
    """Hold some faces and all lines on their rims and between them.

    `near`: how near to a line an image falls on it, mm.
    """

    def __init__(self, arrangement: Arrangement, faces: AnyInts, near: float) -> None:
        import shapely

        inside = marked(faces, arrangement.face_count)
        a, b = arrangement.face[0::2], arrangement.face[1::2]
        ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)]
        self.near, self.start, self.step = near, ends[:, 0], ends[:, 1] - ends[:, 0]
        self.size = np.hypot(*self.step.T)
        drawn = (inside[a] | inside[b]) & (self.size > 0)
        self.index = LineIndex(ends[drawn].reshape(-1, 4), near)
        corners = ends[drawn].reshape(-1, 2)
        self.low, self.high = corners.min(axis=0) - near, corners.max(axis=0) + near
        self.tree = shapely.STRtree(arrangement.polygons(faces))


def _images_of(
    asked: AnyInts, onto: _Ground, symmetry: Symmetry, *, beside: bool
) -> tuple[AnyInts, _Images]:
    """Return edges, and the images that operations lay into some faces of each.

    `asked`: rows of edges. `beside`: whether only images near each edge are asked, else
    all in those faces.
    """
    start, step, size = onto.start, onto.step, onto.size
    low, high, near = onto.low, onto.high, onto.near
    asked = asked[size[asked] > 0]
    quotient = quotient_of(symmetry)
    about = 0.5 * (low + high)
    wide = 0.5 * float(np.hypot(*(high - low)))
    reach = _FAR * float(np.hypot(*quotient.basis.T).max())
    steps = quotient.copies(min(wide, reach) if beside else wide)
    along = step[asked] / size[asked, None]
    images = _Images(size[asked], onto.tree)
    for share in (0.2, 0.5, 0.8):
        spot = start[asked] + share * step[asked]
        for linear, shift in zip(quotient.linear, quotient.shift, strict=True):
            at = spot if beside else about
            moved = at + quotient.nearest(spot @ linear.T + shift - at)
            there = (moved[:, None] + steps).reshape(-1, 2)
            row = np.flatnonzero(((there > low) & (there < high)).all(axis=1))
            there, row = there[row], row // len(steps)
            # what stays where it is says nothing
            away = np.hypot(*(there - spot[row]).T) > near
            there, row = there[away], row[away]
            on = np.isfinite(onto.index.nearest(there, along[row] @ linear.T)[0])
            images.add(there, row, on)
    return asked, images


class _Images:
    """Count which images of edges fall on lines, of those that fall into some faces.

    `weight` (n,): of each edge. `tree`: the faces.
    """

    def __init__(self, weight: Floats, tree: Any) -> None:
        self.weight, self.tree = weight, tree
        self.hit, self.beside = np.zeros((2, len(weight)))
        # images on no line, which may lie in no face either
        self._left: list[tuple[Floats, Ints]] = []

    def add(self, at: Floats, row: Ints, on: Bools) -> None:
        """Take up images of the edges `row`, and whether each lies on a line."""
        self.hit += np.bincount(row[on], minlength=len(self.hit))
        self._left.append((at[~on], row[~on]))
        if sum(len(left) for _, left in self._left) > _WAITING:
            self._look(*self._all_left())

    def fall_on(self) -> bool:
        """Tell whether nearly all fall on lines.

        Every image that is found to miss them makes the share less: where few are
        enough for a no, the others are not looked for.
        """
        at, row = self._all_left()
        few = -(-len(row) // _FEW_AT_FIRST)
        # from all over the drawing, and more of them each time
        order = np.argsort(np.arange(len(row)) % max(few, 1), kind="stable")
        first, many = 0, _FEW_AT_FIRST
        while first < len(row):
            some = order[first : first + many]
            self._look(at[some], row[some])
            if self._kept() < _GOES_ON - 1e-9:
                return False
            first, many = first + many, 2 * many
        seen = self.hit + self.beside > 0
        return int(seen.sum()) >= _LINES_SEEN and self._kept() >= _GOES_ON

    def shares(self) -> tuple[Ints, Floats]:
        """Return the edges seen in the faces, and which share falls on lines."""
        self._look(*self._all_left())
        seen = self.hit + self.beside
        told = np.flatnonzero(seen > 0)
        return told, self.hit[told] / seen[told]

    def _all_left(self) -> tuple[Floats, Ints]:
        points = [np.empty((0, 2)), *(at for at, _ in self._left)]
        rows = [np.empty(0, np.intp), *(row for _, row in self._left)]
        self._left = []
        return np.concatenate(points), np.concatenate(rows)

    def _look(self, at: Floats, row: Ints) -> None:
        """Count which images lie in the faces."""
        import shapely

        inside = distinct(self.tree.query(shapely.points(at), predicate="within")[0])
        self.beside += np.bincount(row[inside], minlength=len(self.beside))

    def _kept(self) -> float:
        seen = self.hit + self.beside
        told = seen > 0
        if not told.any():
            return 1.0
        weight = self.weight[told]
        return float((weight * self.hit[told] / seen[told]).sum() / weight.sum())


def strange_faces(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    symmetry: Symmetry,
    frame: Bools,
) -> Ints32:
    """Return the faces of a pattern whose lines its operations do not keep.

    Of those that no shift carries onto like ones. Leaves of a border have fallen in
    with its field where the line between was not seen.

    `faces` and `symmetry`: those of the pattern. `frame` (E,): edges on lines of a
    frame, which say nothing: what it cuts keeps the rest of its outline.
    """
    told = repeating(arrangement, measures, faces, symmetry)
    odd, own = np.zeros((2, arrangement.face_count), dtype=bool)
    own[faces] = odd[faces] = True
    odd[told] = False
    if len(told) < _TOLD * len(faces) or not odd.any():
        return faces[:0]
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    edges = np.flatnonzero((odd[a] | odd[b]) & (a > 0) & (b > 0) & ~frame)
    if len(edges) == 0:
        return faces[:0]
    # curves are many short edges
    every = len(edges) // _MOST_ASKED + 1
    unit = float(np.median(np.sqrt(arrangement.area[told])))
    near = _NEAR * unit + 2 * symmetry.residual
    ground = _Ground(arrangement, told, near)
    asked, images = _images_of(edges[::every], ground, symmetry, beside=True)
    row, share = images.shares()
    edge, size = asked[row], images.weight[row]
    seen, kept = np.zeros((2, arrangement.face_count))
    for side in (a[edge], b[edge]):
        np.add.at(seen, side, size)
        np.add.at(kept, side, size * share)
    strange = odd & (every * seen > _SOME * measures.length) & (kept < _STRANGE * seen)
    strange &= arrangement.area > _SLIVER * measures.length**2
    # and the ground that several of them stand in
    pairs = distinct_pairs(np.vstack([np.stack([a, b], 1), np.stack([b, a], 1)]))
    among = np.bincount(pairs[strange[pairs[:, 1]], 0], minlength=len(odd))
    strange |= odd & (among >= _LINES_SEEN)
    return np.flatnonzero(strange).astype(np.int32)


def _with_neighbours(arrangement: Arrangement, scrap: AnyInts, best: Ints) -> Ints:
    """Let faces that the frame cuts go with those that they share most of a side with.

    Too little of their own lines is left to be asked about.
    """
    row = np.full(arrangement.face_count, -1, dtype=np.int64)
    row[scrap] = np.arange(len(scrap))
    ends = arrangement.vertices[arrangement.origin]
    size = np.hypot(*(ends[0::2] - ends[1::2]).T)
    a, b = row[arrangement.face[0::2]], row[arrangement.face[1::2]]
    inner = (a >= 0) & (b >= 0) & (a != b)
    one = np.concatenate([a[inner], b[inner]])
    other = np.concatenate([b[inner], a[inner]])
    size = np.tile(size[inner], 2)
    zones = int(best.max()) + 1
    best = best.copy()
    while (best < 0).any():
        known = (best[one] < 0) & (best[other] >= 0)
        shared = np.zeros((len(scrap), zones))
        np.add.at(shared, (one[known], best[other[known]]), size[known])
        new = np.flatnonzero(shared.max(axis=1) > 0)
        if len(new) == 0:
            break
        best[new] = shared[new].argmax(axis=1)
    return best


def _some_between(edges: Ints, left: Ints32, right: Ints32) -> tuple[Ints, Ints]:
    """Return some of the edges between each two faces, and for how many each stands.

    Curves are many short edges, and a few along each tell as much.
    """
    key = left[edges].astype(np.int64) * (int(right.max(initial=0)) + 1) + right[edges]
    _, place, count = np.unique(key, return_inverse=True, return_counts=True)
    order = np.argsort(place, kind="stable")
    rank = np.empty(len(edges), np.int64)
    rank[order] = spread(count)[1]  # along each border in the order of its edges
    every = -(-count[place] // _BETWEEN)
    some = rank % every == 0
    return edges[some], every[some]


def _share_kept(
    arrangement: Arrangement,
    scrap: AnyInts,
    faces: AnyInts,
    symmetry: Symmetry,
    reach: float,
) -> Floats:
    """Return which share of each face's lines the zone's operations keep."""
    import shapely

    member = marked(scrap, arrangement.face_count)
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    points = arrangement.vertices
    start, stop = (points[arrangement.origin[k::2]] for k in (0, 1))
    size = np.hypot(*(stop - start).T)
    asked_edge = np.flatnonzero((member[left] | member[right]) & (size > 0))
    asked_edge, many = _some_between(asked_edge, left, right)
    along = (stop - start)[asked_edge] / size[asked_edge, None]
    own = marked(faces, arrangement.face_count)
    lines = (own[left] | own[right]) & (size > 0)
    unit = float(np.median(np.sqrt(arrangement.area[faces])))
    near = reach * unit + symmetry.residual
    index = LineIndex(np.hstack([start[lines], stop[lines]]), near)
    low = np.minimum(start[lines], stop[lines]).min(axis=0) - 2 * near
    high = np.maximum(start[lines], stop[lines]).max(axis=0) + 2 * near
    quotient = quotient_of(symmetry)
    steps = _steps_about(quotient.basis)
    seen, hit = np.zeros((2, len(asked_edge)))
    # the edge that parts it from the zone is the frame's
    frame = own[left[asked_edge]] | own[right[asked_edge]]
    shares = np.array([[0.25], [0.5], [0.75]])
    each = len(shares) * len(steps)
    free = np.flatnonzero(~frame)
    tree: Any = None
    for first in range(0, len(free), _AT_ONCE // each + 1):
        beside: list[tuple[Ints, Floats]] = []
        rows = free[first : first + _AT_ONCE // each + 1]
        edge = asked_edge[rows]
        spot = start[edge, None] + shares * (stop - start)[edge, None]
        rows = np.repeat(rows, each)
        for linear, shift in zip(quotient.linear, quotient.shift, strict=True):
            flat = spot.reshape(-1, 2)
            moved = flat @ linear.T + shift
            moved = flat + quotient.nearest(moved - flat)
            image = (moved[:, None] + steps).reshape(-1, 2)
            # what stays where it is says nothing, nor what goes far away
            inner = ((image > low) & (image < high)).all(axis=1).nonzero()[0]
            image, row = image[inner], rows[inner]
            away = np.hypot(*(image - flat[inner // len(steps)]).T) > near
            image, row = image[away], row[away]
            turned = (along @ linear.T)[row]
            close = np.isfinite(index.nearest(image, turned)[0])
            hit += np.bincount(row[close], minlength=len(hit))
            beside.append((row[~close], image[~close]))
        row = np.concatenate([r for r, _ in beside])
        most = hit + np.bincount(row, minlength=len(hit))
        # where enough lie on lines, or too few are left, the others are not asked
        doubt = ((most >= _SEEN) & ((hit < _SEEN) | (hit < _HOLDS * most)))[row]
        row = row[doubt]
        if len(row):
            points = shapely.points(np.concatenate([p for _, p in beside])[doubt])
            tree = tree or shapely.STRtree(arrangement.polygons(faces))
            inside = np.unique(tree.query(points, predicate="within")[0])
            seen += np.bincount(row[inside], minlength=len(hit))
    seen += hit
    holds = (seen >= _SEEN) & (hit >= _HOLDS * seen)
    asked, kept = (seen >= _SEEN) & ~frame, holds & ~frame
    length = many * size[asked_edge]
    return _share_of_faces(arrangement, asked_edge, length, asked, kept)[scrap]


def _steps_about(basis: Floats) -> Floats:
    """Return the shifts of a lattice up to so many repeats each way, with none."""
    steps = np.zeros((1, 2))
    for vector in basis:
        near_by = np.arange(-_FAR, _FAR + 1)[:, None] * vector
        steps = (steps[:, None] + near_by).reshape(-1, 2)
    return steps


def _share_of_faces(
    arrangement: Arrangement, edge: Ints, length: Floats, asked: Bools, kept: Bools
) -> Floats:
    """Return which share of each face's lines is kept, 0 where too few were asked.

    `edge` (n,): edges, each with the length that it stands for, mm.
    """
    sides = arrangement.face.reshape(-1, 2)[edge].T.ravel()
    total, told, good = (
        np.bincount(sides, np.tile(length * of, 2), arrangement.face_count)
        for of in (1.0, asked, kept)
    )
    share = good / np.maximum(told, 1e-300)
    return np.asarray(np.where(told >= _ASKED * total, share, 0.0))
