"""What a rosette's regions say: which of them it carries onto like ones, and where."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.geometry import affine
from fillwork.symmetry.faces.measures import outer_sides, slivers
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.repeats import laid_by, same_pose

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry

HOLLOW = "nothing stands in its middle: its sides may be alike one by one"
CUT_THROUGH = "its centre lies on its rim: the whole may turn more often"
# share of a rosette's faces that its turns and mirrors must carry onto like ones; a
# frame may cut many of them
_TURNED = 0.3
# the same of each operation, where they are few or were not looked for
EACH_TURNED = 0.8
# share of an outline, times its width, that what keeps it may miss
_OUTLINE = 0.002
# how much farther outlines may lie apart, in what lines stray by
_STRAYS = 2.0
# faces under which a rosette about a point on its rim may be a piece of a larger one
_PIECE = 12
# faces up to which a pattern may be a star alone
STAR = 40
# how near the rim that is, in roots of the median area
AT_RIM = 0.25
# groups of few faces, and those that these may have as well
_MAY_BE_MORE = {
    "D1": ("D2",),
    "D2": ("D4",),
    "D3": ("D6",),
    "C2": ("C4", "D2"),
    "C3": ("D3", "C6"),
    "C4": ("D4",),
}
# how far lines stray at least, in roots of the median area, if more regions are asked,
# and share of them that more operations must carry each
_ROUGH, _EACH_ROUGH = 0.005, 0.6
# operations of rosettes that few lines show by chance
FEW_TURNS = 4


def with_doubt_about(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return a rosette, not certain where it carries few regions onto like ones.

    A few lines agree with a half turn or a mirror by chance.
    """
    turned = turned_faces(arrangement, measures, faces, found).mean(axis=1)
    if found.group.short == "C2" and len(faces) < _PIECE:
        # a hand's misses weigh more where lines are few
        both, least = _held(arrangement, measures, faces, "D2")
        if both and not both.reason and least >= EACH_TURNED:
            return replace(both, stated=False)
    share = float(turned.max(initial=0.0))
    n = int(found.group.point_group[1:])
    if found.group.short == f"D{n}" and n > 2:
        turns = quotient_of(found).turns
        outline = keeps_outline(arrangement, faces, found)
        # a wheel within a star turned against it has mirrors that the star has not
        turned_against = bool(outline[turns].all() and not outline[~turns].any())
    else:
        turned_against = False
    if turned_against:
        wheel, _ = _held(arrangement, measures, faces, f"C{n}")
        if wheel and not wheel.reason:
            return replace(wheel, stated=False)
    if share >= _TURNED and _at_rim(arrangement, measures, faces, found):
        return replace(found, certain=False, reason=CUT_THROUGH)
    told = faces[~slivers(arrangement, measures, faces)]
    rough = found.residual > _ROUGH * float(np.median(measures.size[faces]))
    few = len(faces) < _PIECE or (rough and len(told) < STAR)
    for more in _MAY_BE_MORE.get(found.group.short, ()) if few else ():
        # a hand's misses weigh more where lines are few
        wanted = _EACH_ROUGH if rough else EACH_TURNED
        held, least = _held(arrangement, measures, told, more)
        if held and least >= wanted:
            reason = f"its regions are laid as {more} would lay them"
            return replace(found, certain=False, reason=reason)
    few = len(found.operations) <= FEW_TURNS and turned.min(initial=1.0) < EACH_TURNED
    if share >= _TURNED and few:
        fewest = 100 * float(turned.min())
        reason = f"one of its operations carries {fewest:.0f} % of the regions"
        return replace(found, certain=False, reason=f"{reason} onto like ones")
    if share >= _TURNED and not _is_hollow(arrangement, measures, faces, found):
        return found
    if share >= _TURNED:
        return replace(found, certain=False, reason=HOLLOW)
    if found.group.short == "C2":
        # lines that cross have half turns and mirrors alike
        mirror, least = _held(arrangement, measures, faces, "D1")
        if mirror and not mirror.reason and least >= EACH_TURNED:
            return replace(mirror, stated=False)
    reason = f"it carries {100 * share:.0f} % of the regions onto like ones"
    return replace(found, certain=False, reason=reason)


def with_doubt_of_few(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return the rosette of a few regions, in doubt where it is that of a part.

    What its operations carry beyond them all no line tells of.
    """
    turns = found.group.family == "rosette" and len(found.operations) > 1
    if not (turns and found.certain and 1 < len(faces) < _PIECE):
        return found
    each = turned_faces(arrangement, measures, faces, found).mean(axis=1)
    share = float(each.min())
    if share >= EACH_TURNED:
        return found
    reason = f"one of its operations carries {100 * share:.0f} % of the regions"
    reason += " onto like ones"
    return replace(found, certain=False, reason=reason)


def _held(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, group: str
) -> tuple[Symmetry | None, float]:
    """Return a rosette of a stated group; None where lines cannot have it.

    And the least share of the faces that one of its operations carries.
    """
    try:
        held = find_symmetry(
            arrangement, faces, stated=f"rosette:{group}", loose_lines=False
        )
    except SymmetryError:
        return None, 0.0
    each = turned_faces(arrangement, measures, faces, held).mean(axis=1)
    return held, float(each.min(initial=1.0))


def keeps_outline(arrangement: Arrangement, faces: AnyInts, found: Symmetry) -> Bools:
    """Return which operations carry the outline of some faces onto itself.

    One for each operation; none where they are no such piece. `faces`: those whose
    outline is asked; it is that of one piece without holes. `found`: a rosette group.
    """
    import shapely

    count = len(found.operations)
    whole = shapely.union_all(arrangement.polygons(faces, valid=True))
    if not isinstance(whole, shapely.Polygon) or len(whole.interiors):
        return np.zeros(count, dtype=bool)
    slack = _OUTLINE * np.sqrt(whole.area) + 2 * found.residual
    kept = np.zeros(count, dtype=bool)
    for k, operation in enumerate(found.operations):
        moved = shapely.transform(whole, partial(affine.apply, operation.map))
        kept[k] = whole.symmetric_difference(moved).area < slack * whole.length
    return kept


def _is_hollow(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> bool:
    """Tell whether half turns or mirrors carry faces far from their centre alone.

    The four sides of a border in one piece do so by their frame.
    """
    import shapely

    if found.centre is None or len(found.operations) > FEW_TURNS:
        return False
    away = shapely.distance(arrangement.polygons(faces), shapely.Point(found.centre))
    return bool(away.min() > float(np.median(measures.size[faces])))


def _at_rim(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> bool:
    """Tell whether few faces turn about a point where they end: a figure that is cut.

    Its turns by half or by thirds are seen, and those between may be cut off.
    """
    turns = int(found.group.point_group[1:]) > 1
    if not turns or len(faces) >= _PIECE or found.centre is None:
        return False
    return ends_at(arrangement, measures, faces, found.centre)


def ends_at(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    centre: tuple[float, float],
) -> bool:
    """Tell whether a point lies on the rim of faces.

    `faces`: the faces of the zone. `centre`: the point, mm.
    """
    import shapely

    rim = outer_sides(arrangement, faces) // 2
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[rim]]
    away = shapely.distance(shapely.linestrings(ends), shapely.Point(centre))
    # what fills a region with a hole has no sides outside
    away_least = away.min(initial=np.inf)
    return bool(away_least < AT_RIM * float(np.median(measures.size[faces])))


def turned_faces(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, symmetry: Symmetry
) -> Bools:
    """Return which faces each operation of a rosette but one carries onto like ones.

    `faces`: the faces of the zone. Returns (k - 1, n): a row for each of `k` operations
    but the identity.
    """
    quotient = quotient_of(symmetry)
    noise = max(symmetry.residual, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient, noise)
    matcher = Matcher(marks, quotient)
    pose = measures.pose[faces]
    slack = _STRAYS * noise / np.maximum(measures.size[faces], 1e-300)
    hits = []
    for linear, shift in zip(quotient.linear[1:], quotient.shift[1:], strict=True):
        onto = matcher.match(marks.moved(linear, shift))
        # a like face must also lie as the operation lays it
        laid = laid_by(pose, linear)
        hits.append((onto >= 0) & same_pose(laid, pose[onto], slack))
    return np.array(hits, dtype=bool).reshape(len(hits), len(faces))
