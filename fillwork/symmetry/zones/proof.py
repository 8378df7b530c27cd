"""Whether a part of a panel shows the symmetry that its lines agree with.

A few lines agree with much by chance, and the sides of a border with shifts and turns
of the frame. What a group says of lines is therefore held against the regions: it
must carry enough of them onto like ones, and two shifts must be seen in one place.

One module of some length: what is doubted of one family is what another is tried for.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.symmetry.faces.congruence import class_congruent
from fillwork.symmetry.faces.measures import is_long, outer_sides, slivers, specks
from fillwork.symmetry.lines.detect import find_symmetry, symmetry_of
from fillwork.symmetry.lines.gathering import gather_evidence
from fillwork.symmetry.zones.beyond import share_beyond
from fillwork.symmetry.zones.enclosed import turned_in_ground
from fillwork.symmetry.zones.fewer import (
    closed_by_regions,
    kept_by_regions,
    shares_kept,
)
from fillwork.symmetry.zones.making import PLAIN, count_kinds
from fillwork.symmetry.zones.repeats import (
    athwart,
    cells_of,
    repeating,
    share_carried,
    share_shifted,
)
from fillwork.symmetry.zones.turned import (
    EACH_TURNED,
    FEW_TURNS,
    HOLLOW,
    STAR,
    turned_faces,
    with_doubt_about,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry

_SLIDES = "its lines slide along themselves, and hide how it repeats"
EMPTY = "its middle is empty: its sides may repeat one by one"
# share of a part's faces that shifts must carry onto like ones, if they are its own
_CARRIED = 0.5
# share of a pattern's area in regions that its shifts carry, under which it is a part's
_COVERED = 0.25
# share of a part's faces that must stand in cells, if its ground is not to tell
_TOLD = 0.4
# how much larger than all of them the ground is
_LARGER = 1.1
# share of a part's area, from which one face of it is the ground of the others
_GROUND = 0.5
# share of the regions that repeat which each operation of a strip or pattern carries
# onto like ones: a mirror of one of two borders side by side leaves the other out
_EACH_KEPT = 0.8
# share of regions that a shift carries, from which a half turn or mirror is unsure
_SHIFTED = 0.5
# the same where nothing returns, or half turns or mirrors alone; their operations
_SHIFTED_ALONE, _LITTLE = 0.33, 2
# regions under which a shift may be a chance, and above which lines are enough
_FEW_SHIFTED = 9
_MOST_SHIFTED = 2000
_FEW_IN_STRIP = 4
# regions that repeat, of which each operation is asked
_MANY_ASKED = 800
# repeats under which a lattice may be a chance
_FEW_SEEN = 2.5
# repeats under which turns alone may explain as much
_FEW_CELLS = 6.0
# repeats from which a lattice is no coarser one of a field's
_MANY_SEEN = 12.0
# repeats that a whole region covers at most: a missing line makes one of two
_OVER_ITSELF = 2.0
# repeats under which a region may be the empty middle of a frame, and share of a
# repeat that it covers then
_ROUND_NOTHING, _EMPTY = 2.0, 0.5
# faces round a middle, and its share of the area, from which friezes may frame it
_FRAMING, _WIDE = 16, 0.33
# regions of one kind from which they are no scraps of a strip's ends, and share of its
# length that such take
_ALIKE, _MOST = 3, 0.6
# share by which sizes of those may differ that are nearly alike, and share of a side's
# regions that are, where it is a row of figures
_ABOUT, IN_ROWS = 0.02, 0.8
# share of its convex hull that a plane pattern fills at least: a border fills less
_FILLED = 0.5


def own_symmetry(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32
) -> Symmetry:
    """Return the symmetry of a part, not certain where its faces show little of it.

    `faces`: the faces of the part. Returns what its lines show, held against its faces.
    """
    strip = is_long(arrangement, faces)
    found = find_symmetry(arrangement, faces, loose_lines=False, strip=strip)
    if not strip and not (found.certain and len(found.operations) > FEW_TURNS):
        cells = cells_of(arrangement, measures, faces)
        largest = float(arrangement.area[cells].max(initial=0.0))
        ground = arrangement.area[faces] > _LARGER * largest
        if len(cells) > _TOLD * len(faces) and ground.any():
            inner = find_symmetry(arrangement, faces[~ground], loose_lines=False)
            plane = inner.certain and inner.group.family == "plane"
            if plane and _filled(arrangement, faces) >= _FILLED:
                return inner
    # bars across a strip slide along themselves, and a repeat holds a region at least
    finer = found.group.family == "plane" and found.repeats_seen > len(faces)
    if strip and finer:
        bars = find_symmetry(
            arrangement, faces, loose_lines=False, strip=True, sliding=True
        )
        if bars.group.family != "frieze":
            return replace(found, certain=False, reason=_SLIDES)
        found = bars
    if strip and found.lattice is None:
        along = _along(arrangement, measures, faces)
        if along is not None:
            return along
    lattice = found.lattice
    if lattice is None and len(found.operations) <= FEW_TURNS:
        turned = turned_in_ground(arrangement, measures, faces)
        if turned is not None:
            return turned
    if strip and found.group.family == "frieze":
        found = closed_by_regions(arrangement, measures, faces, found)
        lattice = found.lattice
    if not found.certain and found.group.family == "plane":
        along = _along(arrangement, measures, faces) if strip else None
        alone = along or _turning_alone(arrangement, measures, faces, found)
        return alone or found
    if not found.certain or found.group.family == "none":
        return found
    if lattice is None:
        return with_doubt_about(arrangement, measures, faces, found)
    return _held_by_shifts(arrangement, measures, faces, found, strip=strip)


def _held_by_shifts(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    found: Symmetry,
    *,
    strip: bool,
) -> Symmetry:
    """Return what repeats if its shifts carry enough regions, else what explains more.

    `faces`: those of the part. `found`: sure of its lines, with shifts. `strip`:
    whether the part is long.
    """
    lattice = found.lattice
    assert lattice is not None
    told = faces[~slivers(arrangement, measures, faces)]
    share = share_carried(arrangement, measures, told, lattice.basis, found.residual)
    wide = len(lattice.basis) == 1 and not strip
    if (wide or len(lattice.basis) == 2) and _filled(arrangement, faces) < _FILLED:
        return replace(found, certain=False, reason=EMPTY)
    if share >= _CARRIED:
        if len(lattice.basis) == 2 and found.repeats_seen < _FEW_CELLS:
            turned = _turning_as_well(arrangement, measures, faces)
            if turned is not None:
                return turned
        found = kept_by_regions(arrangement, measures, faces, found)
        return _with_doubt_across(arrangement, faces, found) if wide else found
    # so may those of a strip, whose mitres hide that only the next figure is like one
    along = None
    if strip and len(lattice.basis) == 2:
        along = _along(arrangement, measures, faces)
    if along is not None:
        return along
    # lines of a star may be those of a pattern by chance: its regions turn alone
    turned = find_symmetry(arrangement, faces, loose_lines=False, turns_first=True)
    if turned.group.family == "rosette":
        return turned
    alone = _turning_alone(arrangement, measures, faces, found)
    if alone is not None:
        return alone
    reason = f"its shifts carry {100 * share:.0f} % of the regions onto like ones"
    return replace(found, certain=False, reason=reason)


def _without_ground(arrangement: Arrangement, faces: Ints32) -> Ints32:
    """Return faces without the one that is the ground of the others, if one is."""
    area = arrangement.area[faces]
    ground = int(area.argmax())
    return faces if area[ground] < _GROUND * area.sum() else np.delete(faces, ground)


def held_or_of_figures(
    arrangement: Arrangement, faces: Ints32, stated: str
) -> Symmetry:
    """Return a stated group of all faces, or of figures if their ground has none.

    `faces`: the faces that it is stated of. `stated`: such as ``frieze:p2mm``. Raises
    `SymmetryError` if neither can hold it.
    """
    try:
        return find_symmetry(arrangement, faces, stated=stated)
    except SymmetryError:
        figures = _without_ground(arrangement, faces)
        if len(figures) == len(faces):
            raise
        return find_symmetry(arrangement, figures, stated=stated, loose_lines=False)


def of_figures(arrangement: Arrangement, faces: Ints32, found: Symmetry) -> Symmetry:
    """Return the group of figures in one ground, where that of the whole is not sure.

    The ends of a frame about a row of them are lines that nothing repeats. `faces`:
    figures and ground. `found`: what the lines of all of them show.
    """
    figures = _without_ground(arrangement, faces)
    more = found.lattice is not None or len(found.operations) > FEW_TURNS
    if (found.certain and more) or len(figures) == len(faces):
        return found
    inner = find_symmetry(arrangement, figures, loose_lines=False)
    if inner.group.family == "plane":
        # without their ground nothing tells where figures are wanting
        if found.group.family == "plane":
            return found
        inner = replace(inner, certain=False, reason=found.reason or inner.reason)
    repeats = inner.lattice is not None and inner.repeats_seen >= _FEW_SEEN
    better = inner.certain or (found.lattice is None and not found.certain)
    return inner if repeats and better else found


def _turning_as_well(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32
) -> Symmetry | None:
    """Return the rosette whose turns alone carry each face onto all of its like.

    Shifts explain nothing more then: six beads in a ring are no lattice.
    """
    turned = find_symmetry(arrangement, faces, loose_lines=False, turns_first=True)
    if not turned.certain or turned.group.family != "rosette":
        return None
    like = class_congruent(arrangement, measures, faces)[0]
    kinds = count_kinds(arrangement, measures, faces, turned)
    return turned if kinds <= len(np.unique(like)) else None


def _along(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32
) -> Symmetry | None:
    """Return the frieze of a strip whose regions repeat though its ends do not.

    A mitre leaves room beyond the last figure, where lines alone miss their images.
    """
    for asked, hull in _asked_along(arrangement, measures, faces):
        if not hull:
            found = find_symmetry(
                arrangement, asked, loose_lines=False, strip=True, repeats_alone=True
            )
        elif lines := gather_evidence(arrangement, asked, loose_lines=False):
            found = symmetry_of(lines.in_hull(), strip=True, repeats_alone=True)
        else:
            continue
        if found.group.family != "frieze" or found.lattice is None:
            continue
        basis, noise = found.lattice.basis, found.residual
        share = share_carried(arrangement, measures, asked, basis, noise)
        if share >= _EACH_KEPT and found.repeats_seen >= _FEW_SEEN:
            break
    else:
        return None
    if len(found.candidates) > 1:
        return found
    sure = replace(found, certain=True, reason="")
    return kept_by_regions(arrangement, measures, faces, sure)


def _asked_along(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32
) -> Iterator[tuple[Ints32, bool]]:
    """Yield the faces of a strip that may show what it repeats, and whether by hull.

    Beside few strands the bars at both ends are too many lines, and beside figures in
    one ground what a mitre cuts too many regions; with nothing between them these have
    no lines but their outlines.
    """
    yield faces, False
    kind = class_congruent(arrangement, measures, faces)[0]
    alike = faces[np.bincount(kind)[kind] >= _ALIKE]
    far = _MOST * _span(arrangement, faces)
    if len(alike) and _span(arrangement, alike) >= far:
        if len(alike) < len(faces):
            yield alike, False
        yield alike, True
    some = nearly_alike(measures, faces)
    if len(some) >= IN_ROWS * len(faces) and _span(arrangement, some) >= far:
        yield some, True


def nearly_alike(measures: FaceMeasures, faces: Ints32) -> Ints32:
    """Return the faces that have several about as large and as long round as they.

    Half circles between points with few decimals are not quite congruent.
    """
    sizes = np.column_stack([measures.size[faces], measures.length[faces]])
    steps = np.log(np.maximum(sizes, 1e-300)) / (2 * _ABOUT)
    several = np.zeros(len(faces), dtype=bool)
    # what a border of steps parts, those half a step on hold together
    for half in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        cell = np.floor(steps + half)
        _, row, count = np.unique(cell, axis=0, return_inverse=True, return_counts=True)
        several |= (count >= _ALIKE)[row.ravel()]
    return faces[several]


def _turning_alone(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry | None:
    """Return the rosette that a few faces have whose lines are those of a pattern.

    All lines of a star of six points lie on a lattice of triangles.
    """
    order = int(found.group.point_group[1:]) if len(faces) <= STAR else 0
    for n in [k for k in (2 * order, order) if k in (4, 6, 8, 12)]:
        with suppress(SymmetryError):
            star = find_symmetry(
                arrangement, faces, stated=f"rosette:D{n}", loose_lines=False
            )
            each = turned_faces(arrangement, measures, faces, star).mean(axis=1)
            if not star.reason and each.min() >= EACH_TURNED:
                return replace(star, stated=False)
    return None


def with_doubt_of_regions(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return a symmetry, not certain where regions speak against it.

    Lines are asked where their images fall into the drawing alone. What an operation
    carries beyond it, such as the second of two borders side by side, is told by
    regions: those that repeat must have their like under each operation too.

    `faces`: the faces of the zone. `found`: what was found of it. Returns the same, in
    doubt with the reason where regions contradict it.
    """
    if not found.certain or found.stated:
        return found
    if found.reason == PLAIN and arrangement.cut[faces].all():
        return found  # pieces along the drawing's edge are alike as it is
    lattice = found.lattice
    few = (
        len(found.operations) <= FEW_TURNS
        if lattice is None
        # one side of a border with its field repeats along that side alone
        else found.repeats_seen < _MANY_SEEN or _is_wide(arrangement, faces, found)
    )
    if few and (reason := _outdone_by_shift(arrangement, measures, faces, found)):
        return replace(found, certain=False, reason=reason)
    if lattice is None and few and _frames_nothing(arrangement, faces, found):
        return replace(found, certain=False, reason=HOLLOW)
    if len(faces) <= _MOST_SHIFTED:
        share, kind = share_beyond(arrangement, measures, faces, found)
        if share:
            reason = f"{kind} outside it carries {100 * share:.0f} % of the regions "
            return replace(found, certain=False, reason=reason + "onto like ones")
    if lattice is None:
        return found
    asked = faces
    if found.group.family == "plane":
        cell = abs(float(np.linalg.det(lattice.basis)))
        # the ground of loose figures ends where a window cuts it
        rim = arrangement.face[outer_sides(arrangement, faces)]
        asked = np.setdiff1d(faces[~arrangement.cut[faces]], rim)
        whole = asked[np.diff(arrangement.face_ring_start)[asked] == 1]
        largest = float(arrangement.area[whole].max(initial=0.0))
        if largest > _OVER_ITSELF * cell:
            reason = "a region larger than two repeats would lie over its own images"
            return replace(found, certain=False, reason=reason)
        if found.repeats_seen < _ROUND_NOTHING and largest > _EMPTY * cell:
            return replace(found, certain=False, reason=EMPTY)
    reason = _repeats_little(arrangement, measures, faces, asked, found)
    return replace(found, certain=False, reason=reason) if reason else found


def _is_wide(arrangement: Arrangement, faces: Ints32, found: Symmetry) -> bool:
    """Tell whether what repeats one way alone is no strip."""
    lattice = found.lattice
    along = lattice is not None and len(lattice.basis) == 1
    return along and not is_long(arrangement, faces)


def _outdone_by_shift(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> str:
    """Return why a shift outside a group of little says more; empty if none does."""
    lattice = found.lattice
    # a short strip repeats more likely than it turns alone
    strip = lattice is None and is_long(arrangement, faces)
    enough = _FEW_IN_STRIP if strip else _FEW_SHIFTED
    if not enough <= len(faces) <= _MOST_SHIFTED:
        return ""
    basis = np.zeros((0, 2)) if lattice is None else lattice.basis
    seldom = found.repeats_seen < _FEW_SEEN or _is_wide(arrangement, faces, found)
    least = _SHIFTED if seldom else _EACH_KEPT
    whole = faces
    # what says little is outdone by a shift of fewer
    if found.repeats_seen < _FEW_SEEN and len(found.operations) <= _LITTLE:
        least = _SHIFTED_ALONE
        # what a frame cuts is carried onto none
        rim = arrangement.face[outer_sides(arrangement, faces)]
        whole = np.setdiff1d(faces, rim).astype(np.int32)
        whole = whole if len(whole) >= enough else faces
    rails = athwart(arrangement, faces, lattice)
    share = share_shifted(arrangement, measures, whole, basis, found.residual, rails)
    if share < least:
        return ""
    other = "another shift" if len(basis) else "a shift"
    return f"{other} carries {100 * share:.0f} % of the regions onto like ones"


def _repeats_little(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    asked: Ints32,
    found: Symmetry,
) -> str:
    """Return why too few regions return under what has a lattice; empty if enough do.

    `asked`: those of the zone that can tell.
    """
    plane = found.group.family == "plane"
    asked = asked[~specks(arrangement, asked)] if len(asked) else asked
    inner, covered = len(asked), float(arrangement.area[asked].sum())
    asked = repeating(arrangement, measures, asked, found)
    # rows of a border above and below a field say nothing of it
    part = float(arrangement.area[asked].sum()) / max(covered, 1e-300)
    if plane and part < _COVERED and inner >= _FEW_SHIFTED:
        told = f"its shifts carry regions of {100 * part:.0f} % of its area onto like"
        return f"{told} ones"
    if found.repeats_seen < _FEW_SEEN and len(asked) < _CARRIED * inner:
        told = f"its shifts carry {100 * len(asked) / inner:.0f} % of the regions"
        return f"{told} onto like ones"
    if len(asked) < _FEW_SHIFTED:
        return ""
    # a share of many is told by some of them
    asked = asked[:: len(asked) // _MANY_ASKED + 1]
    least = float(shares_kept(arrangement, measures, faces, asked, found).min())
    if least >= _EACH_KEPT:
        return ""
    told = f"one of its operations carries {100 * least:.0f} % of the regions that "
    return told + "repeat onto like ones"


def _frames_nothing(arrangement: Arrangement, faces: Ints32, found: Symmetry) -> bool:
    """Tell whether many faces stand round a wide empty one in the middle."""
    if found.centre is None or len(faces) < _FRAMING:
        return False
    middle = arrangement.face_at(*found.centre)
    alone = middle in faces and np.diff(arrangement.face_ring_start)[middle] == 1
    area = arrangement.area
    return bool(alone and area[middle] > _WIDE * area[faces].sum())


def _with_doubt_across(
    arrangement: Arrangement, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return a frieze, not certain where it reaches farther across than along."""
    if found.lattice is None:
        return found
    half = np.flatnonzero(np.isin(arrangement.face, faces))
    points = arrangement.vertices[arrangement.origin[half]]
    along = found.lattice.basis[0] / np.hypot(*found.lattice.basis[0])
    high = float(np.ptp(points @ np.array([-along[1], along[0]])))
    if high <= float(np.ptp(points @ along)):
        return found
    reason = "it reaches farther across than along: it may repeat across as well"
    return replace(found, certain=False, reason=reason)


def _corners(arrangement: Arrangement, faces: Ints32) -> Floats:
    """Return the corners of faces, mm."""
    half = np.flatnonzero(np.isin(arrangement.face, faces))
    return arrangement.vertices[arrangement.origin[half]]


def _span(arrangement: Arrangement, faces: Ints32) -> float:
    """Return how long faces are together, mm."""
    points = _corners(arrangement, faces)
    away = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(away.T @ away)
    return float(np.ptp(away @ axes[:, 1]))


def _filled(arrangement: Arrangement, faces: Ints32) -> float:
    """Return which share of the area within their convex hull faces fill."""
    import shapely

    whole = shapely.multipoints(_corners(arrangement, faces))
    hull = float(shapely.area(shapely.convex_hull(whole)))
    return float(arrangement.area[faces].sum()) / max(hull, 1e-300)
