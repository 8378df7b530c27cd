"""Which parts of a drawing have a symmetry of their own.

A *zone* is a set of faces under one symmetry: the field of a panel, a side of
its border, a medallion, a corner piece. Frame lines part zones; where the parts
on both sides of a line go on in each other the line belongs to the pattern. A
drawing without frame lines is one zone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.geometry import affine
from fillwork.symmetry.congruence import class_congruent
from fillwork.symmetry.detect import find_symmetry
from fillwork.symmetry.frames import face_parts, find_frame_edges
from fillwork.symmetry.grids import part_numbers
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.measures import measure_faces, outer_sides
from fillwork.symmetry.model import Symmetry, Zone
from fillwork.symmetry.places import Matcher, marks_of_faces
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.repeats import field_of, shifts_of
from fillwork.symmetry.siblings import find_copy

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.measures import FaceMeasures

__all__ = ["find_zones"]

# parts of fewer faces have no symmetry worth asking for
_FEWEST = 3
# share of like faces from which two parts are one pattern
_ALIKE = 0.6
# share of faces that must find themselves again a repeat away in one pattern
_HELD = 0.88
# share of the kinds that parting must save
_GAIN = 0.25
# and so many at least
_ACCOUNTED = 8
# share of a panel's area that scraps on a field's rim stay below
_RIM = 0.01
# operations of a part for one of the whole, from which it is a zone
_MORE_TURNS = 4
# share of the lines that must fit where too few faces can be asked
_LINES = 0.97
# share of the faces of small parts that must fit then
_PART_HELD = 0.7
# share of the inner faces that have their place a repeat away on the page
_ASKED = 0.4
# length over width of a side of a border
_LONG = 3.0
# faces of a field at least, and fields that are looked for
_FIELD = 12
_MOST_FIELDS = 8
# squared boundary over area, from which a face is a strip (a square has 16)
_STRIP = 60.0
# share of a panel's shorter side that it runs along
_ALONG_SIDE = 0.5
_TOO_FEW = "too few regions to tell whether anything returns"
# more parts than this are no panel
_MOST_PARTS = 60


def find_zones(
    arrangement: Arrangement, *, stated: str | Mapping[int, str] | None = None
) -> tuple[Zone, ...]:
    """Find the parts of a drawing that have one symmetry each.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing's faces.
    stated : str or mapping of int to str, optional
        Symmetry that the user states: for the whole drawing, which is one zone
        then, or by zone index; such as ``plane:p4m``. ``none`` leaves symmetry
        out of account.

    Returns
    -------
    tuple of Zone
        By falling area, indices from 1; together they hold every face but face
        0. Empty when there is no face.

    Raises
    ------
    SymmetryError
        If a stated symmetry cannot be held, or is stated for a zone that is not
        there.
    """
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    if len(faces) == 0:
        return ()
    if stated == "none":
        held = Symmetry(NO_GROUP, reason="left out by choice", stated=True)
        return (Zone(1, faces, held),)
    if isinstance(stated, str):
        return (Zone(1, faces, find_symmetry(arrangement, faces, stated=stated)),)
    wishes = dict(stated or {})
    parts = _panel_parts(arrangement, faces)
    if wishes and not set(wishes) <= set(range(1, len(parts) + 1)):
        strange = min(set(wishes) - set(range(1, len(parts) + 1)))
        what = f"zone {strange} is not in the drawing, which has {len(parts)}"
        raise SymmetryError(what, mend="see the zones with: fillwork survey")
    return tuple(
        Zone(
            number,
            part.faces,
            find_symmetry(arrangement, part.faces, stated=wishes[number])
            if number in wishes
            else part.symmetry,
            part.role,
        )
        for number, part in enumerate(parts, 1)
    )


@dataclass(slots=True, eq=False)
class _Part:
    """A zone in the making."""

    faces: NDArray[np.int32]
    symmetry: Symmetry
    role: str = ""
    copy: bool = False


def _panel_parts(arrangement: Arrangement, faces: NDArray[np.int32]) -> list[_Part]:
    """Return the parts of a panel, by falling area."""
    measures = measure_faces(arrangement)
    groups, explained = _split(arrangement, measures, faces)
    if len(groups) == 1:
        return [_Part(faces, _symmetry(arrangement, faces, whole=True))]
    together = _symmetry(arrangement, faces, whole=True)
    if together.lattice is not None:
        held = _share_held(arrangement, measures, faces, together)
        if held is None:
            # too few faces can be asked: the lines decide, and the small parts
            held = _HELD if together.candidates[0].fit >= _LINES else 0.0
            if len(together.lattice.basis) == 2:
                largest = max(groups, key=lambda g: float(arrangement.area[g].sum()))
                rest = np.setdiff1d(faces, largest)
                part = _share_held(arrangement, measures, faces, together, rest)
                held = max(held, _HELD if part is None or part >= _PART_HELD else 0.0)
        rest = faces[~explained]
        if explained.any() and _is_more(arrangement, rest, faces):
            # what lies beside the fields must be carried along as well
            part = _share_held(arrangement, measures, faces, together, rest)
            held = held if part is not None and part >= _PART_HELD else 0.0
        if together.certain and held >= _HELD:
            return _with_inlays(arrangement, measures, faces, groups, together)
    parts: list[_Part] = []
    plain: list[NDArray[np.int32]] = []
    for group in groups:
        if len(group) < _FEWEST:
            plain.append(group)
            continue
        # the sides of a border and its corners are copies: look at one of each
        known = _copied(measures, group, parts)
        symmetry = known or _symmetry(arrangement, group, strip=True)
        if symmetry.group.family == "none" and len(group) < _FIELD:
            symmetry = replace(symmetry, certain=False, reason=_TOO_FEW)
        parts.append(_Part(group, symmetry, copy=known is not None))
    parts = _merge_lattices(arrangement, measures, parts)
    # lines that tear a pattern make more kinds of it, or hardly fewer
    kinds = _count_kinds(arrangement, measures, faces, together)
    apart = sum(len(g) for g in plain) + sum(
        _count_kinds(arrangement, measures, p.faces, p.symmetry)
        for p in parts
        if not p.copy
    )
    gain = max(_GAIN * kinds, _ACCOUNTED)
    if kinds - apart < gain and not explained.any() and not _outdone(together, parts):
        return [_Part(faces, together)]
    if plain:
        rest = np.sort(np.concatenate(plain)).astype(np.int32)
        reason = "plain parts of the frame"
        parts.append(_Part(rest, Symmetry(NO_GROUP, reason=reason)))
    return _in_order(arrangement, parts)


def _is_more(
    arrangement: Arrangement, rest: NDArray[np.int32], faces: NDArray[np.int32]
) -> bool:
    """Tell whether what lies beside the fields is more than scraps of their rim."""
    area = arrangement.area
    return bool(area[rest].sum() > _RIM * area[faces].sum())


def _outdone(together: Symmetry, parts: list[_Part]) -> bool:
    """Tell whether a part surely turns onto itself more often than the whole.

    A rosette in a square has turns that its corner pieces have not.
    """
    if together.lattice is not None:
        return False
    least = _MORE_TURNS * max(len(together.operations), 1)
    return any(
        p.symmetry.certain
        and p.symmetry.lattice is None
        and len(p.symmetry.operations) >= least
        for p in parts
    )


def _in_order(arrangement: Arrangement, parts: list[_Part]) -> list[_Part]:
    """Return parts by falling area, with their roles."""
    area = [float(arrangement.area[p.faces].sum()) for p in parts]
    order = sorted(range(len(parts)), key=lambda k: (-area[k], int(parts[k].faces[0])))
    parts = [parts[k] for k in order]
    if len(parts) > 1:
        _give_roles(arrangement, parts)
    return parts


def _with_inlays(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    groups: list[NDArray[np.int32]],
    together: Symmetry,
) -> list[_Part]:
    """Return a pattern, and what is laid into it: framed parts that do not repeat."""
    edge = np.zeros(arrangement.face_count, dtype=bool)
    edge[arrangement.face[outer_sides(arrangement, faces)]] = True
    orbit = _orbit_numbers(arrangement, measures, faces, together)
    weight = np.zeros(arrangement.face_count)
    weight[faces] = 1.0 / np.bincount(orbit)[orbit]
    parts: list[_Part] = []
    for group in groups:
        if len(group) < _FEWEST or edge[group].any() or arrangement.cut[group].any():
            continue
        kinds = float(weight[group].sum())
        if kinds <= max(0.5 * len(group), _ACCOUNTED):
            continue
        own = _symmetry(arrangement, group)
        count = _count_kinds(arrangement, measures, group, own)
        if own.certain and kinds - count >= _ACCOUNTED:
            parts.append(_Part(group, own))
    if not parts:
        return [_Part(faces, together)]
    rest = np.setdiff1d(faces, np.concatenate([p.faces for p in parts]))
    return _in_order(arrangement, [_Part(rest.astype(np.int32), together), *parts])


def _copied(
    measures: FaceMeasures, faces: NDArray[np.int32], parts: list[_Part]
) -> Symmetry | None:
    """Return the symmetry of an earlier part carried over to its copy."""
    for part in parts:
        if len(part.faces) != len(faces) or part.symmetry.group.family == "none":
            continue
        found = find_copy(measures, part.faces, faces, part.symmetry.residual)
        if found is not None:
            return _carried(part.symmetry, *found)
    return None


def _carried(
    symmetry: Symmetry, linear: NDArray[np.float64], shift: NDArray[np.float64]
) -> Symmetry:
    """Return a symmetry as it is after an isometry."""
    numbers = (*linear.T.ravel(), *shift)
    a, b, c, d, e, f = (float(v) for v in numbers)
    there = (a, b, c, d, e, f)
    back = affine.invert(there)
    operations = tuple(
        replace(o, map=affine.compose(there, affine.compose(o.map, back)))
        for o in symmetry.operations
    )
    lattice = symmetry.lattice
    if lattice is not None:
        lattice = replace(lattice, basis=lattice.basis @ linear.T)
    centre = symmetry.centre
    if centre is not None:
        x, y = linear @ np.array(centre) + shift
        centre = (float(x), float(y))
    return replace(symmetry, operations=operations, lattice=lattice, centre=centre)


def _count_kinds(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    symmetry: Symmetry,
) -> int:
    """Return about how many kinds of faces a symmetry leaves."""
    return int(_orbit_numbers(arrangement, measures, faces, symmetry).max()) + 1


def _orbit_numbers(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    symmetry: Symmetry,
) -> NDArray[np.int64]:
    """Return the same number for faces that a symmetry carries onto each other.

    A face whose images are no faces alike has a number of its own.
    """
    quotient = quotient_of(symmetry)
    plain = quotient_of(Symmetry(NO_GROUP))
    noise = max(symmetry.residual, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient, noise)
    generators = np.arange(1, quotient.order)
    if len(quotient.basis) == 0:
        # the smallest turn and one mirror make all others
        mirrors = np.flatnonzero(~quotient.turns)
        generators = np.union1d(generators[:1], mirrors[:1])
    anywhere, folded = Matcher(marks, plain), Matcher(marks, quotient)
    hits = [anywhere.match(marks.moved(np.eye(2), v)) for v in quotient.basis]
    hits += [
        folded.match(marks.moved(quotient.linear[g], quotient.shift[g]))
        for g in generators
    ]
    own = np.arange(len(faces))
    onto = np.concatenate([own, *hits])
    row = np.tile(own, len(hits) + 1)
    return part_numbers(row[onto >= 0], onto[onto >= 0], len(faces))


def _symmetry(
    arrangement: Arrangement,
    faces: NDArray[np.int32],
    *,
    whole: bool = False,
    strip: bool = False,
) -> Symmetry:
    strip = strip and _is_long(arrangement, faces)
    return find_symmetry(arrangement, faces, loose_lines=whole, strip=strip)


def _is_long(arrangement: Arrangement, faces: NDArray[np.int32]) -> bool:
    """Tell whether faces fill a strip, whichever way it lies."""
    half = np.flatnonzero(np.isin(arrangement.face, faces))
    points = arrangement.vertices[arrangement.origin[half]]
    away = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(away.T @ away)
    narrow, long = np.ptp(away @ axes, axis=0)
    return bool(long >= _LONG * narrow)


def _split(
    arrangement: Arrangement, measures: FaceMeasures, faces: NDArray[np.int32]
) -> tuple[list[NDArray[np.int32]], NDArray[np.bool_]]:
    """Return the faces of fields, and those between frame lines.

    What a lattice explains is a field wherever lines lie; the rest hangs together
    across edges that are no frame lines. One group when there is no panel. The
    second value tells which faces are a field's.
    """
    whole = np.zeros(len(faces), dtype=bool)
    barrier = find_frame_edges(arrangement)
    label = face_parts(arrangement, barrier)
    field = _fields(arrangement, measures, faces, barrier, label)
    if not barrier.any() and (field[faces] == field[faces[0]]).all():
        return [faces], whole
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    open_edge = ~barrier & (a != 0) & (b != 0)
    open_edge &= (field[a] < 0) & (field[b] < 0)
    label = part_numbers(a[open_edge], b[open_edge], arrangement.face_count)
    field = _with_scraps(arrangement, measures, field, label, ~barrier)
    label = np.where(field >= 0, arrangement.face_count + field, label)
    _, label = np.unique(label[faces], return_inverse=True)
    label = label.reshape(-1)
    size = np.bincount(label)
    if len(size) < 2 or len(size) > 40 * _MOST_PARTS:
        return [faces], whole
    label = _merge_alike(arrangement, faces, label, barrier)
    count = int(label.max()) + 1
    size = np.bincount(label)
    if count < 2 or not 1 <= (size >= _FEWEST).sum() <= _MOST_PARTS:
        return [faces], whole
    return [faces[label == k] for k in range(count)], field[faces] >= 0


def _with_scraps(
    arrangement: Arrangement,
    measures: FaceMeasures,
    field: NDArray[np.int64],
    label: NDArray[np.int64],
    open_edge: NDArray[np.bool_],
) -> NDArray[np.int64]:
    """Join scraps that a frame cuts off a field with it; plain strips stay."""
    size = np.bincount(label)
    scrap = (field < 0) & (size[label] < _FEWEST)
    scrap[0] = False
    strip = measures.length**2 > _STRIP * np.maximum(arrangement.area, 1e-300)
    # a strip of a frame runs along a side of it, and a scrap along a repeat
    points = arrangement.vertices[arrangement.origin]
    side = float(np.ptp(points, axis=0).min())
    scrap &= ~(strip & (measures.length > 2.0 * _ALONG_SIDE * side))
    member = field >= 0
    member[0] = False
    usual = float(np.median(arrangement.area[member])) if member.any() else 0.0
    small = arrangement.area < usual
    joined = field.copy()
    for one, other in ((0, 1), (1, 0)):
        a, b = arrangement.face[one::2], arrangement.face[other::2]
        row = np.flatnonzero((open_edge | small[a]) & scrap[a] & (field[b] >= 0))
        joined[a[row]] = field[b[row]]
    return joined


def _fields(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    barrier: NDArray[np.bool_],
    label: NDArray[np.int64],
) -> NDArray[np.int64]:
    """Return the number of the field that explains each face, or -1."""
    field = np.full(arrangement.face_count, -1, dtype=np.int64)
    tried: set[int] = set()
    for number in range(_MOST_FIELDS):
        free = faces[field[faces] < 0]
        if len(free) < _FIELD:
            break
        value, size = np.unique(label[free], return_counts=True)
        todo = [
            (int(n), int(k))
            for k, n in zip(value, size, strict=True)
            if n >= _FIELD and int(k) not in tried
        ]
        if not todo:
            break
        part = min(todo, key=lambda t: (-t[0], t[1]))[1]
        tried.add(part)
        own = free[label[free] == part]
        basis = shifts_of(arrangement, measures, own, barrier)
        if basis is None:
            continue
        found = field_of(arrangement, measures, free, basis, barrier)
        if len(found) >= _FIELD:
            field[found] = number
            tried.discard(part)
    return field


def _merge_alike(
    arrangement: Arrangement,
    faces: NDArray[np.int32],
    label: NDArray[np.int64],
    barrier: NDArray[np.bool_],
) -> NDArray[np.int64]:
    """Join parts on both sides of a long line that hold the same faces.

    Faces are the same when they are congruent and not turned: the sides of a
    border that meet at a mitre are turned, rows of one pattern are not.
    """
    measures = measure_faces(arrangement)
    kind, side, turn = class_congruent(arrangement, measures, faces)
    span = int(turn.max(initial=0)) + 1
    _, kind = np.unique((kind * 2 + side) * span + turn, return_inverse=True)
    kind = kind.reshape(-1)
    row_of = np.full(arrangement.face_count, -1, dtype=np.int64)
    row_of[faces] = np.arange(len(faces))
    edge = np.flatnonzero(barrier)
    a = row_of[arrangement.face[2 * edge]]
    b = row_of[arrangement.face[2 * edge + 1]]
    keep = (a >= 0) & (b >= 0)
    a, b = a[keep], b[keep]
    # faces that a frame may have cut say nothing
    touching = np.zeros(len(faces), dtype=bool)
    touching[a] = touching[b] = True
    touching[row_of[arrangement.face[outer_sides(arrangement, faces)]]] = True
    area = arrangement.area[faces]
    merged = True
    while merged:
        merged = False
        pairs = np.unique(
            np.sort(np.column_stack([label[a], label[b]]), axis=1), axis=0
        )
        for one, other in pairs[pairs[:, 0] != pairs[:, 1]].tolist():
            if _alike(kind, area, touching, label == one, label == other):
                label = np.where(label == other, one, label)
                merged = True
                break
    return np.unique(label, return_inverse=True)[1].reshape(-1).astype(np.int64)


def _alike(
    kind: NDArray[np.int64],
    area: NDArray[np.float64],
    touching: NDArray[np.bool_],
    one: NDArray[np.bool_],
    other: NDArray[np.bool_],
) -> bool:
    """Tell whether two parts are mostly made of faces that both of them hold."""
    for strict in (True, False):
        a = one & ~touching if strict else one
        b = other & ~touching if strict else other
        if strict and (a.sum() < _FEWEST or b.sum() < _FEWEST):
            continue
        if not a.any() or not b.any():
            return False
        in_both = np.intersect1d(kind[a], kind[b])
        shares = [
            float(area[s & np.isin(kind, in_both)].sum() / area[s].sum())
            for s in (a, b)
        ]
        return min(shares) >= _ALIKE
    return False


def _share_held(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    symmetry: Symmetry,
    part: NDArray[np.int32] | None = None,
) -> float | None:
    """Return which share of inner faces the translations carry onto like faces.

    With a part only its faces are asked, under longer translations too. None when
    too few faces have a place a repeat away to be asked about.
    """
    import shapely

    edge = np.zeros(arrangement.face_count, dtype=bool)
    edge[arrangement.face[outer_sides(arrangement, faces)]] = True
    inner = faces[~edge[faces] & ~arrangement.cut[faces]]
    if len(inner) < 2 or symmetry.lattice is None:
        return None
    quotient = quotient_of(symmetry)
    noise = max(symmetry.residual, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, inner, quotient, noise)
    plain = quotient_of(Symmetry(NO_GROUP))
    matcher = Matcher(marks, plain)
    tree = shapely.STRtree(arrangement.polygons(inner))
    everything = float(arrangement.area[inner].sum())
    right = total = 0.0
    own = np.ones(len(inner), bool) if part is None else np.isin(inner, part)
    shifts = [*symmetry.lattice.basis, *(-symmetry.lattice.basis)]
    if part is not None:
        a, b = shifts[:2]
        shifts += [a + b, a - b, b - a, -a - b]
    for shift in shifts:
        moved = marks.moved(np.eye(2), shift)
        # asked only where an inner face is expected
        row = np.unique(tree.query(shapely.points(moved.xy), predicate="within")[0])
        row = row[own[row]]
        hit = matcher.match(moved.take(row)) >= 0
        weight = arrangement.area[inner[row]]
        right += float(weight[hit].sum())
        total += float(weight.sum())
    # a repeat that few faces can be asked about is no evidence
    if total <= (4 * _ASKED * everything if part is None else 0.0):
        return None
    return right / total


def _merge_lattices(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[_Part]
) -> list[_Part]:
    """Join neighbouring parts that one plane lattice holds together."""
    merged = True
    while merged and len(parts) > 1:
        merged = False
        owner = np.full(arrangement.face_count, -1, dtype=np.int64)
        for k, part in enumerate(parts):
            owner[part.faces] = k
        a, b = owner[arrangement.face[0::2]], owner[arrangement.face[1::2]]
        near = (a >= 0) & (b >= 0) & (a != b)
        pairs = np.unique(np.sort(np.column_stack([a[near], b[near]]), axis=1), axis=0)
        for i, j in pairs.tolist():
            if not _same_lattice(parts[i].symmetry, parts[j].symmetry):
                continue
            faces = np.sort(np.concatenate([parts[i].faces, parts[j].faces]))
            both = _symmetry(arrangement, faces.astype(np.int32))
            if both.lattice is None or len(both.lattice.basis) != 2:
                continue
            held = _share_held(arrangement, measures, faces, both)
            if held is None or held < _HELD:
                continue
            parts = [p for k, p in enumerate(parts) if k not in (i, j)]
            parts.append(_Part(faces.astype(np.int32), both))
            merged = True
            break
    return parts


def _same_lattice(a: Symmetry, b: Symmetry) -> bool:
    if a.lattice is None or b.lattice is None:
        return False
    p, q = a.lattice.basis, b.lattice.basis
    if len(p) != 2 or len(q) != 2:
        return False
    along = q @ np.linalg.inv(p)
    size = abs(float(np.linalg.det(along)))
    return bool(np.abs(along - np.rint(along)).max() < 0.03 and abs(size - 1) < 0.05)


def _give_roles(arrangement: Arrangement, parts: list[_Part]) -> None:
    """Say what each part of a panel is."""
    boxes = []
    for part in parts:
        half = np.flatnonzero(np.isin(arrangement.face, part.faces))
        points = arrangement.vertices[arrangement.origin[half]]
        boxes.append(np.concatenate([points.min(axis=0), points.max(axis=0)]))
    table = np.array(boxes)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    size = float(np.hypot(*(high - low)))
    parts[0].role = "field"
    for part, box in zip(parts[1:], table[1:], strict=True):
        if part.symmetry.reason == "plain parts of the frame":
            continue
        wide, tall = box[2:] - box[:2]
        sides = [
            box[0] - low[0] < 0.02 * size,
            box[1] - low[1] < 0.02 * size,
            high[0] - box[2] < 0.02 * size,
            high[1] - box[3] < 0.02 * size,
        ]
        ratio = max(wide, tall) / max(min(wide, tall), 1e-300)
        round_all = sum(sides) == 4
        if round_all or ratio >= _LONG:
            part.role = "border"
        elif sum(sides) >= 2 and max(wide, tall) < 0.4 * float((high - low).min()):
            part.role = "corner"
        elif not any(sides):
            part.role = "medallion"
        elif any(sides):
            part.role = "border"
