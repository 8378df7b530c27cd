"""The group of a strip whose regions keep fewer operations than its lines.

Teeth on one rail: a half turn carries their zigzag onto itself, and each tooth onto
the gap between two, which is no tooth but a part of the ground. Lines along a strip
prove nothing of where its rails are, so that regions must tell.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.geometry import affine
from fillwork.geometry.parts import part_numbers
from fillwork.symmetry.faces.measures import specks
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.lines.frieze import NEEDS, NO_MIDDLE, UNCLOSED
from fillwork.symmetry.model import Candidate
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.repeats import laid_by, onto_by, repeating, same_pose

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Lattice, Operation, Symmetry
    from fillwork.symmetry.quotient import Quotient

# frieze groups by what holds in them beside their shifts
_SHORT = {frozenset(needs): short for short, needs in NEEDS.items()}
_LARGEST_FIRST = ("p2mm", "p2mg", "p2", "p1m1", "p11m", "p11g")
# regions that repeat, from which they tell
_TELLING = 3
# share of them that an operation carries onto like ones, from which it is the strip's,
# and up to which it is not
_KEPT, _LOST = 0.8, 0.34
# how far off the middle of a strip its middle line may lie, in its width
_BESIDE = 0.03
# how much farther outlines may lie apart, in what lines stray by
_STRAYS = 2.0
# repeats that stand for all of a large field: one like face is as good as a thousand
_REPEATS = 150


def shares_kept(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    asked: Ints32,
    found: Symmetry,
) -> Floats:
    """Return which share of some faces each operation carries onto like ones.

    Those must lie as it lays them: a tulip turned over is another. `faces`: those of
    the zone. `asked`: some of them. `found`: what has a lattice. Returns (k,): a share
    for each operation, the identity first.
    """
    kept = _kept(arrangement, measures, faces, asked, found)
    return np.asarray(kept.mean(axis=1), np.float64)


def _kept(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    asked: Ints32,
    found: Symmetry,
) -> Bools:
    """Return which faces each operation carries onto like ones (k, n)."""
    quotient = quotient_of(found)
    noise = max(found.residual, arrangement.tolerance.join_within)
    faces = _some_repeats(measures, faces, quotient)
    matcher = Matcher(marks_of_faces(measures, faces, quotient, noise), quotient)
    marks = marks_of_faces(measures, asked, quotient, noise)
    pose = measures.pose
    slack = _STRAYS * noise / np.maximum(measures.size[asked], 1e-300)
    kept = [np.ones(len(asked), dtype=bool)]
    for linear, shift in zip(quotient.linear[1:], quotient.shift[1:], strict=True):
        onto = matcher.match(marks.moved(linear, shift))
        laid = laid_by(pose[asked], linear)
        kept.append((onto >= 0) & same_pose(laid, pose[faces][onto], slack))
    return np.array(kept)


def _some_repeats(measures: FaceMeasures, faces: Ints32, quotient: Quotient) -> Ints32:
    """Return the faces of some repeats, spread over all that there are."""
    if len(quotient.basis) == 0 or len(faces) <= _REPEATS:
        return faces
    # off any simple fraction, so that no face's middle lies between two repeats
    along = np.floor(measures.centroid[faces] @ quotient.inverse_basis + 0.3819660113)
    row = along.astype(np.int64) @ np.array([1, 7919])[: along.shape[1]]
    step = len(np.unique(row)) // _REPEATS
    return faces[row % step == 0] if step > 1 else faces


def kept_by_regions(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return the largest subgroup of a strip's group that its regions keep.

    The group itself where they keep all of it, or tell nothing. `faces`: the faces of
    the strip. `found`: a frieze group.
    """
    if found.group.family != "frieze" or len(found.operations) < 2:
        return found
    told = faces[~specks(arrangement, faces)]
    asked = repeating(arrangement, measures, told, found)
    if len(asked) < _TELLING:
        return found
    kept = shares_kept(arrangement, measures, faces, asked, found)
    # bars across tell no middle: that of the strip may do
    middle = _in_the_middle(arrangement, faces, found)
    there = shares_kept(arrangement, measures, faces, asked, middle)
    if kept.min() >= _KEPT:
        if not found.certain:
            return found
        # figures nearer one rail are mirrored in themselves, and the rails are not
        flips = [o for o in found.operations[1:] if _name_of(found, o) == "flip"]
        level = len(flips) + 1 < len(found.operations)
        if level and flips and _lies_beside(arrangement, faces, found, middle):
            return _subgroup(found, [found.operations[0], *flips]) or found
        if there.min() > _LOST:
            return _kept_by_rows(arrangement, measures, faces, asked, found)
        reason = "its middle line is not that of the strip"
        return replace(found, certain=False, reason=reason)
    if (there >= kept).all() and (there > kept).any():
        found, kept = middle, there
    if kept.min() >= _KEPT:
        return found
    if ((kept > _LOST) & (kept < _KEPT)).any():
        return _kept_by_rows(arrangement, measures, faces, asked, found)
    held = [
        o for o, share in zip(found.operations, kept, strict=True) if share >= _KEPT
    ]
    if len(found.operations) > 2 and len(held) == 1:
        reason = "its regions keep none of its turns and mirrors"
        return replace(found, certain=False, reason=reason)
    return _subgroup(found, held) or found


def _kept_by_rows(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    asked: Ints32,
    found: Symmetry,
) -> Symmetry:
    """Return the subgroup of a strip's group that keeps something of each row.

    Eyes of a plait are mirrored in themselves, and its few strands turn alone. In doubt
    where those that are not kept are no more than two. `asked`: those that repeat.
    """
    kept = _kept(arrangement, measures, faces, asked, found)
    basis = found.lattice.basis if found.lattice is not None else np.zeros((0, 2))
    onto = onto_by(arrangement, measures, asked, basis, found.residual)[:, 0]
    one, hit = np.nonzero(onto.T >= 0)
    row = part_numbers(one, onto[hit, one], len(asked))
    some = np.array([np.bincount(row, k, len(asked)) for k in kept])[:, row] > 0
    if some.all():
        return found
    held = [o for o, k in zip(found.operations, some, strict=True) if k.all()]
    fewer = _subgroup(found, held)
    if fewer is None:
        return found
    told = int((~some).sum(axis=1).max()) >= _TELLING
    reason = fewer.candidates[-1].reason
    return fewer if told else replace(fewer, certain=False, reason=reason)


def _subgroup(found: Symmetry, held: list[Operation]) -> Symmetry | None:
    """Return the group of some operations of a frieze; None where they are none."""
    short = _SHORT.get(frozenset(_name_of(found, o) for o in held[1:]))
    if short is None:
        return None
    reason = f"its regions keep {short} alone"
    more = Candidate(found.group.short, 1.0, found.residual, reason)
    return replace(
        found,
        group=parse_group(f"frieze:{short}"),
        centre=_centre_of(found, held),
        operations=tuple(held),
        residual=max(o.residual for o in held),
        candidates=(replace(found.candidates[0], group=short), more),
    )


def _lies_beside(
    arrangement: Arrangement, faces: Ints32, found: Symmetry, middle: Symmetry
) -> bool:
    """Tell whether the middle line of a frieze lies beside that of its strip.

    `middle`: the same group with the strip's middle line.
    """
    if found.centre is None or middle.centre is None or found.lattice is None:
        return False
    off = float(np.hypot(*np.subtract(middle.centre, found.centre)))
    high = float(np.ptp(_across(arrangement, faces, found.lattice)[1]))
    return off > _BESIDE * high + found.residual


def closed_by_regions(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return the group of a strip that its regions keep, where lines tell no group.

    Operations that fit the lines may not close as a group: then found as it is in doubt
    is held against each group by its regions.

    `faces`: the faces of the strip. `found`: a frieze group.
    """
    if found.certain:
        return found
    if any(found.reason.startswith(f"{c.group} fits ") for c in found.candidates[1:]):
        return _without_more(arrangement, measures, faces, found)
    if found.reason not in (UNCLOSED, NO_MIDDLE):
        return found
    for short in _LARGEST_FIRST:
        with suppress(SymmetryError):
            held = find_symmetry(
                arrangement, faces, stated=f"frieze:{short}", loose_lines=False
            )
            asked = repeating(arrangement, measures, faces, held)
            if held.reason or len(asked) < _TELLING:
                continue
            kept = shares_kept(arrangement, measures, faces, asked, held)
            if kept.min() >= _KEPT:
                return replace(held, stated=False)
    return found


def _without_more(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return a frieze, certain where regions keep it and nothing of what nearly fits.

    Bars with hooks turned by half have most of their lines where mirrors lay them.

    `found`: a group in doubt for others that fit most lines.
    """
    asked = repeating(arrangement, measures, faces, found)
    if len(asked) < _TELLING:
        return found
    if shares_kept(arrangement, measures, faces, asked, found).min() < _KEPT:
        return found
    own = {_name_of(found, o) for o in found.operations[1:]}
    for candidate in found.candidates[1:]:
        try:
            held = find_symmetry(
                arrangement,
                faces,
                stated=f"frieze:{candidate.group}",
                loose_lines=False,
            )
        except SymmetryError:
            return found
        kept = shares_kept(arrangement, measures, faces, asked, held)
        more = [_name_of(held, o) not in own for o in held.operations[1:]]
        if kept[1:][more].max(initial=0.0) > _LOST:
            return found
    return replace(found, certain=True, reason="")


def _in_the_middle(
    arrangement: Arrangement, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return a frieze group whose middle line is that of the strip."""
    if found.lattice is None or found.centre is None:
        return found
    across, up = _across(arrangement, faces, found.lattice)
    centre = np.array(found.centre)
    shift = across * (0.5 * float(up.min() + up.max()) - float(centre @ across))
    dx, dy = shift.tolist()
    there = (1.0, 0.0, 0.0, 1.0, dx, dy)
    back = affine.invert(there)
    moved = tuple(
        replace(o, map=affine.compose(there, affine.compose(o.map, back)))
        for o in found.operations
    )
    x, y = (centre + shift).tolist()
    return replace(found, centre=(x, y), operations=moved)


def _across(
    arrangement: Arrangement, faces: Ints32, lattice: Lattice
) -> tuple[Floats, Floats]:
    """Return the unit vector across a strip, and how far up the strip's corners lie."""
    along = lattice.basis[0]
    across = np.array([-along[1], along[0]]) / np.hypot(*along)
    half = np.flatnonzero(np.isin(arrangement.face, faces))
    return across, arrangement.vertices[arrangement.origin[half]] @ across


def _name_of(found: Symmetry, operation: Operation) -> str:
    """Return what an operation of a frieze is called where groups are told by them."""
    if operation.kind in ("rotation", "glide") or found.lattice is None:
        return "turn" if operation.kind == "rotation" else "glide"
    along = found.lattice.basis[0]
    a, b, c, d = operation.map[:4]
    kept = along @ np.array([[a, b], [c, d]]) @ along
    return "mirror" if kept > 0 else "flip"


def _centre_of(found: Symmetry, held: list[Operation]) -> tuple[float, float] | None:
    """Return a centre of half turns, or a point on an axis, of the operations held."""
    if found.centre is None or len(held) < 2:
        return found.centre
    turning = [o for o in held if o.kind == "rotation"]
    x, y = found.centre
    mx, my = affine.apply((turning or held[1:])[0].map, np.array([[x, y]]))[0]
    return 0.5 * (x + float(mx)), 0.5 * (y + float(my))
