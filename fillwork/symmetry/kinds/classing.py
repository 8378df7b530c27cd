"""Faces of one zone classed under its group.

In order: faces that translations carry onto each other form *places*; the
operations of the group join places to kinds; what is left over is a piece of a
face that the frame cuts, or a repeat that is spoiled.

A kind is told by one *root* place; every face of it lies where an operation g
carries the root. Operations that carry the root to itself are its *stabiliser*
S, so places of a kind are the cosets g S.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import LINE
from fillwork.geometry.parts import part_numbers
from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.faces.places import (
    Matcher,
    class_means,
    marks_of_faces,
    place_classes,
)
from fillwork.symmetry.kinds.drawn import PIECE, Drawn, Places
from fillwork.symmetry.kinds.layers import grounds, layers
from fillwork.symmetry.kinds.pieces import cover_of, cutting_sides, depth_inside
from fillwork.symmetry.quotient import quotient_of

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.faces.places import Marks
    from fillwork.symmetry.model import Zone
    from fillwork.symmetry.quotient import Quotient


# two pieces that share this much are pieces of one face
_OVERLAP = 0.3
# a kind seen at fewer than this share of another's places is the spoiled one
_RARE = 0.5
# of so many layers of faces over one repeat none is where the symmetry wants it
_MOST_LAYERS = 64.0


@dataclass(frozen=True, slots=True, eq=False)
class Classing:
    """Hold the kinds of one zone; rows are the zone's faces."""

    kind: Ints  # (m,): number of the kind, from 0
    # (m,): operation that, with some translation, carries the kind's root to the face;
    # -1 where not known
    operation: Ints
    # (m,): faces of one kind with the same number are carried onto each other by
    # translations
    place: Ints
    # (m,): faces of one kind with the same number are carried onto each other by
    # rotations and translations
    side: Ints
    cut: Bools  # (m,): True for faces that the page or a frame cuts
    # (m,): True for faces that stand for their kind: neither cut nor spoiled
    whole: Bools
    spoiled: Ints  # (s,): rows of faces that break the symmetry
    site: tuple[str, ...]  # site symmetry of each kind


def class_faces(
    arrangement: Arrangement, measures: FaceMeasures, zone: Zone
) -> Classing | None:
    """Class the faces of a zone under its group.

    `zone`: the zone, whose family is ``plane``, ``frieze`` or ``rosette``. Returns None
    where its translations lay faces over others by the dozen: none has a place then.
    """
    faces = zone.faces
    quotient = quotient_of(zone.symmetry)
    noise = _noise(arrangement, measures, zone)
    sides = outer_sides(arrangement, faces)
    if zone.symmetry.group.family == "rosette":
        sides = cutting_sides(arrangement, faces, sides, quotient, noise)
    edge = np.zeros(arrangement.face_count, dtype=bool)
    edge[arrangement.face[sides]] = True
    inner = ~edge[faces] & ~arrangement.cut[faces]
    for _ in range(2):
        marks = marks_of_faces(measures, faces, quotient, noise)
        label = place_classes(marks, quotient, inner)
        _, label = np.unique(label, return_inverse=True)
        means = class_means(marks, label, quotient, inner)
        seen_noise = _scatter(marks, label, inner, quotient, means)
        if seen_noise <= 1.2 * noise:
            break
        noise = min(seen_noise, 0.05 * float(np.median(measures.size[faces])))
    count = len(means)
    head = _heads(marks, label, inner, quotient, means)
    inner_count = np.bincount(label, inner, count).astype(np.float64)
    if layers(arrangement, faces, head[inner_count > 0], quotient) > _MOST_LAYERS:
        return None
    matcher = Matcher(means, quotient)
    moved = zip(quotient.linear, quotient.shift, strict=True)
    image = np.stack([matcher.match(means.moved(*g)) for g in moved], axis=1)
    places = _join_places(image, inner_count, means.size, quotient)
    ground = grounds(arrangement, faces, head, quotient)
    drawn = Drawn(arrangement, faces[head], sides, noise)
    # beyond the last figure of a strip its ground lies where one more is expected
    each = [
        _place_pieces(drawn, places, inner_count, label, means.size, quotient, some)
        for some in (ground, ~ground)
    ]
    odd_cut, odd_spoiled = each[0][0] | each[1][0], each[0][1] | each[1][1]
    models = np.concatenate([each[0][2], each[1][2]])
    framed = _framed_faces(
        arrangement, sides, arrangement.polygons(faces[head][models]), quotient, noise
    )
    kind = places.kind[label]
    operation = places.operation[label]
    far, smaller = _strays(marks, label, inner, quotient, means, noise)
    cut = odd_cut[label] | (smaller & ~inner)
    cut |= arrangement.cut[faces] & (inner_count[label] == 0)
    cut |= framed[faces] & ~odd_spoiled[label]
    cut &= ~ground[label] | arrangement.cut[faces]
    spoiled = (odd_spoiled[label] | far) & ~cut
    _, kind = np.unique(kind, return_inverse=True)
    old = np.zeros(int(kind.max(initial=-1)) + 1, dtype=np.int64)
    old[kind] = places.kind[label]
    place, side = _cosets(places, label, quotient)
    return Classing(
        kind.astype(np.int64),
        operation,
        place,
        side,
        cut,
        ~cut & ~spoiled,
        np.flatnonzero(spoiled),
        tuple(_site_name(places.stabiliser[int(k)], quotient) for k in old),
    )


def _noise(arrangement: Arrangement, measures: FaceMeasures, zone: Zone) -> float:
    """Return how far lines stray from where the symmetry wants them, mm."""
    middle = float(np.median(measures.size[zone.faces]))
    stray = max(zone.symmetry.residual, arrangement.tolerance.join_within)
    return float(min(stray, 0.05 * middle))


def _scatter(
    marks: Marks, label: Ints, inner: Bools, quotient: Quotient, means: Marks
) -> float:
    """Return how far corners stray, judged from the scatter of centres, mm."""
    sure = inner & (np.bincount(label, inner)[label] >= 3)
    if not sure.any():
        return 0.0
    centre, _ = _gaps(marks, label, quotient, means)
    # 1.177: median of a Rayleigh distribution over its sigma; the centre of a
    # face with n corners strays by about 1 / sqrt(n) of what a corner does
    return 2.0 * float(np.median(centre[sure])) / 1.177


def _gaps(
    marks: Marks, label: Ints, quotient: Quotient, means: Marks
) -> tuple[Floats, Floats]:
    """Return how far each face is from the mean of its place: centre and size."""
    offset = quotient.nearest(marks.xy - means.xy[label])
    return np.linalg.norm(offset, axis=1), marks.size - means.size[label]


def _heads(
    marks: Marks, label: Ints, inner: Bools, quotient: Quotient, means: Marks
) -> Ints:
    """Return the face of each place that is nearest to its mean."""
    centre, size = _gaps(marks, label, quotient, means)
    order = np.lexsort((np.hypot(centre, size), ~inner, label))
    _, head = np.unique(label[order], return_index=True)
    return order[head]


def _strays(
    marks: Marks,
    label: Ints,
    inner: Bools,
    quotient: Quotient,
    means: Marks,
    noise: float,
) -> tuple[Bools, Bools]:
    """Return which faces miss their place's mean clearly, and which are smaller."""
    centre, size = _gaps(marks, label, quotient, means)
    gap = np.hypot(centre, size)
    members = np.bincount(label, inner)
    sure = inner & (members[label] >= 3)
    # 1.177: median of a Rayleigh distribution over its sigma
    sigma = float(np.median(gap[sure])) / 1.177 if sure.any() else noise
    limit = np.full(len(means), max(7.0 * sigma, 3.0 * noise))
    for place in np.flatnonzero(members >= 8):
        own = gap[(label == place) & inner]
        limit[place] = max(limit[place], 7.0 * float(np.median(own)) / 1.177)
    far = gap > np.maximum(limit[label], 1e-6 * marks.size)
    return far, far & (size < 0)


def _join_places(
    image: Ints, inner_count: Floats, size: Floats, quotient: Quotient
) -> Places:
    """Join places that operations carry onto each other."""
    count = len(image)
    row, g = np.nonzero(image >= 0)
    target = image[row, g]
    group = part_numbers(row, target, count)
    # the root is the place that is seen whole most often
    order = np.lexsort((np.arange(count), -size, -inner_count, group))
    _, first = np.unique(group[order], return_index=True)
    root = order[first]
    operation = np.full(count, -1, dtype=np.int64)
    operation[root] = 0
    preferred = np.argsort(~quotient.turns, kind="stable")
    frontier = root
    while len(frontier):
        fresh: list[Ints] = []
        for h in preferred:
            landing = image[frontier, h]
            hit = (landing >= 0) & (operation[np.maximum(landing, 0)] < 0)
            place, source = np.unique(landing[hit], return_index=True)
            operation[place] = quotient.product[h, operation[frontier[hit][source]]]
            fresh.append(place)
        frontier = np.concatenate(fresh) if fresh else np.zeros(0, dtype=np.int64)
    # a place that is only reached against the arrows
    lost = np.flatnonzero(operation < 0)
    kind = root[group]
    kind[lost], operation[lost] = lost, 0
    stabiliser = {
        int(r): _closure(np.flatnonzero(image[r] == r).tolist(), quotient)
        for r in np.unique(kind)
    }
    return Places(kind, operation, stabiliser)


def _closure(members: Iterable[int], quotient: Quotient) -> frozenset[int]:
    """Return the subgroup of cosets that the members generate."""
    found = {0, *members}
    while True:
        grown = {int(quotient.product[a, b]) for a in found for b in found}
        if grown <= found:
            return frozenset(found)
        found |= grown


def _place_pieces(
    drawn: Drawn,
    places: Places,
    inner_count: Floats,
    label: Ints,
    size: Floats,
    quotient: Quotient,
    some: Bools,
) -> tuple[Bools, Bools, Ints]:
    """Give pieces and spoiled repeats among some of the places a kind.

    Return which places are pieces, which are spoiled, and which together show the whole
    pattern.
    """
    count = len(drawn.heads)
    cut = np.zeros(count, dtype=bool)
    spoiled = np.zeros(count, dtype=bool)
    seen = np.bincount(places.kind, inner_count, count).astype(np.float64)
    whole_kinds = np.flatnonzero((seen > 0) & some)
    bad = _spoiled_kinds(drawn, places, seen, whole_kinds, size, quotient)
    models = np.setdiff1d(whole_kinds, bad)
    spoiled[np.isin(places.kind, bad)] = True
    loose = np.flatnonzero(((seen[places.kind] == 0) | spoiled) & some)
    if len(loose) == 0:
        return cut, spoiled, models
    points, row = drawn.points(loose)
    cover = cover_of(points, row, drawn.polygons(models), quotient)
    inside = np.bincount(cover.piece, cover.share, len(loose)) / quotient.order
    order = np.lexsort((cover.operation, -np.round(cover.share, 9), cover.piece))
    piece, best = np.unique(cover.piece[order], return_index=True)
    taken = np.zeros(len(loose), dtype=bool)
    for p, c in zip(piece, order[best], strict=True):
        place, model = int(loose[p]), int(models[cover.whole[c]])
        # a small piece may hang over where corners have moved
        small = size[place] < 0.3 * size[model] and not spoiled[place]
        if cover.share[c] < (_OVERLAP if small else PIECE):
            continue
        # what is larger than the whole face is no piece of it: a line is missing
        largest = 1.02 * size[model] + 2.0 * drawn.noise
        if size[place] > largest and not spoiled[place]:
            spoiled[place] = True
            continue
        operation = int(cover.operation[c])
        places.kind[place] = model
        places.operation[place] = quotient.inverse[operation]
        taken[p] = True
        if not spoiled[place]:
            own = points[row == p]
            spoiled[place] = drawn.drawn_inside(place, own, model, operation, quotient)
            cut[place] = not spoiled[place]
    _free_kinds(places, loose[taken], quotient)
    rest = loose[~taken & ~spoiled[loose] & (inside < _OVERLAP)]
    if len(rest):
        members = np.bincount(label, minlength=count)
        _join_pieces(drawn, places, rest, size, members, cut, spoiled, quotient)
    return cut, spoiled, np.concatenate([models, rest])


def _framed_faces(
    arrangement: Arrangement,
    sides: Ints,
    polygons: NDArray[Any],
    quotient: Quotient,
    noise: float,
) -> Bools:
    """Return the faces with a side that is no line of the pattern."""
    framed = np.zeros(arrangement.face_count, dtype=bool)
    start = arrangement.vertices[arrangement.origin[sides]]
    stop = arrangement.vertices[arrangement.origin[sides ^ 1]]
    share = np.array([0.2, 0.5, 0.8])[:, None, None]
    points = (start + share * (stop - start)).reshape(-1, 2)
    depth = depth_inside(points, polygons, quotient)
    least = np.full(len(sides), max(4.0 * noise, arrangement.tolerance.join_within))
    # chords of one curve lie differently in each repeat
    curved = arrangement.curves.kind[arrangement.edge_curve[sides // 2]] != LINE
    least[curved] += 2.0 * arrangement.tolerance.flatten
    off = depth.reshape(3, -1) > least
    framed[arrangement.face[sides[off.any(axis=0)]]] = True
    return framed


def _free_kinds(places: Places, moved: Ints, quotient: Quotient) -> None:
    """Give kinds whose root went elsewhere a new root."""
    for root in moved:
        orphans = np.flatnonzero(places.kind == root)
        if len(orphans) == 0 or places.kind[root] == root:
            continue
        heir = int(orphans[0])
        back = quotient.inverse[places.operation[heir]]
        turn = int(places.operation[heir])
        places.stabiliser[heir] = frozenset(
            int(quotient.product[quotient.product[turn, s], back])
            for s in places.stabiliser[int(root)]
        )
        places.operation[orphans] = quotient.product[places.operation[orphans], back]
        places.kind[orphans] = heir


def _spoiled_kinds(
    drawn: Drawn,
    places: Places,
    seen: Floats,
    kinds: Ints,
    size: Floats,
    quotient: Quotient,
) -> Ints:
    """Return the kinds that lie where other kinds are expected."""
    if len(kinds) < 2:
        return np.zeros(0, dtype=np.int64)
    points, row = drawn.points(kinds)
    cover = cover_of(points, row, drawn.polygons(kinds), quotient)
    clash = (cover.share >= _OVERLAP) & (cover.piece != cover.whole)
    others = cover.piece != cover.whole
    total = np.bincount(cover.piece[others], cover.share[others], len(kinds))
    covered = total / quotient.order
    # how often a kind is seen at each of its places
    each = [len(places.stabiliser[int(k)]) for k in kinds]
    often = seen[kinds] * np.array(each) / quotient.order
    bad = np.zeros(len(kinds), dtype=bool)
    pairs = np.unique(
        np.sort(np.column_stack([cover.piece[clash], cover.whole[clash]]), axis=1),
        axis=0,
    )
    # the rarest are judged first: they cannot speak against others then
    for a, b in sorted(pairs.tolist(), key=lambda p: min(often[p[0]], often[p[1]])):
        if bad[a] or bad[b]:
            continue
        rare, common = (a, b) if often[a] < often[b] else (b, a)
        if often[rare] > _RARE * often[common]:
            # both are seen about as often: a missing line makes the larger one,
            # which then is all made of others
            rare = a if size[kinds[a]] > size[kinds[b]] else b
            if covered[rare] < PIECE:
                continue
        bad[rare] = True
    return kinds[bad]


def _join_pieces(
    drawn: Drawn,
    places: Places,
    rest: Ints,
    size: Floats,
    members: Ints,
    cut: Bools,
    spoiled: Bools,
    quotient: Quotient,
) -> None:
    """Join pieces of faces that are nowhere whole, where their images overlap.

    Edges of the smaller one that run inside the larger one are no frame's: a line
    is missing in one of them, or added, and the kind seen less often is spoiled.
    """
    rest = rest[np.argsort(-size[rest], kind="stable")]
    points, row = drawn.points(rest)
    cover = cover_of(points, row, drawn.polygons(rest), quotient)
    product, inverse = quotient.product, quotient.inverse
    keep = (cover.share >= _OVERLAP) & (cover.whole <= cover.piece)
    order = np.lexsort((cover.operation, -np.round(cover.share, 9), cover.piece))
    for c in order[keep[order]]:
        small, large = int(rest[cover.piece[c]]), int(rest[cover.whole[c]])
        back = inverse[cover.operation[c]]
        # small = back(large), in terms of the roots: root = h(root of the larger)
        h = product[
            product[inverse[places.operation[small]], back], places.operation[large]
        ]
        root, other = int(places.kind[large]), int(places.kind[small])
        if root != other and drawn.drawn_inside(
            small,
            points[row == cover.piece[c]],
            large,
            int(cover.operation[c]),
            quotient,
        ):
            often = [int(members[places.kind == k].sum()) for k in (other, root)]
            rare = other if often[0] < often[1] else root
            spoiled[places.kind == rare] = True
            if rare == root:
                continue
        if root == other:
            if h not in places.stabiliser[root]:
                places.stabiliser[root] = _closure(
                    [*places.stabiliser[root], int(h)], quotient
                )
            continue
        joined = np.flatnonzero(places.kind == other)
        places.kind[joined] = root
        places.operation[joined] = product[places.operation[joined], h]
        moved = [
            int(product[product[inverse[h], s], h]) for s in places.stabiliser[other]
        ]
        places.stabiliser[root] = _closure([*places.stabiliser[root], *moved], quotient)
        cut[joined] = ~spoiled[joined]


def _cosets(places: Places, label: Ints, quotient: Quotient) -> tuple[Ints, Ints]:
    count = len(places.kind)
    place = np.zeros(count, dtype=np.int64)
    side = np.zeros(count, dtype=np.int64)
    for row in range(count):
        members = sorted(places.stabiliser[int(places.kind[row])])
        coset = quotient.product[places.operation[row], members]
        place[row] = coset.min()
        mirrored = not quotient.turns[members].all()
        side[row] = 0 if mirrored else int(not quotient.turns[coset[0]])
    return place[label], side[label]


def _site_name(members: frozenset[int], quotient: Quotient) -> str:
    turns = int(quotient.turns[sorted(members)].sum())
    return f"{'C' if turns == len(members) else 'D'}{turns}"
