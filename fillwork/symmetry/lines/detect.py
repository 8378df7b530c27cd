"""Which symmetry the lines of a zone have: plane, frieze, rosette or none.

The lattice decides the family. Two translations of which enough is seen make a
plane pattern, one makes a frieze, none leaves rosettes. Lines are the evidence,
those of cut regions too; a frame that cuts the pattern is none. What the lines
do not decide is said: the result is not `certain`, and the groups that were
weighed stand in its candidates.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.faces.strangers import all_strangers
from fillwork.symmetry.groups import NO_GROUP, frieze_group, parse_group
from fillwork.symmetry.lines.across import measure_across
from fillwork.symmetry.lines.assemble import (
    frieze_symmetry,
    plane_symmetry,
    rosette_symmetry,
)
from fillwork.symmetry.lines.cut import why_cut_off
from fillwork.symmetry.lines.evidence import gather_evidence
from fillwork.symmetry.lines.fit import LADDER, LOOSER, MISSES, Correlator
from fillwork.symmetry.lines.frieze import NEEDS, StripFit, find_strip
from fillwork.symmetry.lines.hints import guess_lattice
from fillwork.symmetry.lines.lattice import (
    SPREAD,
    find_lattice,
    lattice_kind,
    measure_lattice,
)
from fillwork.symmetry.lines.plane import (
    Setting,
    best_origin,
    closed_subset,
    find_cosets,
    linear_parts,
    match_table,
    settings_of,
)
from fillwork.symmetry.lines.rosette import find_rosette, hold_rosette, stands_free
from fillwork.symmetry.model import Candidate, Symmetry

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.lines.across import Across
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.lattice import LatticeFit
    from fillwork.symmetry.lines.plane import CosetFit
    from fillwork.symmetry.lines.rosette import RosetteFit
    from fillwork.symmetry.model import Group

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

ACCEPT = 0.93  # share of an operation's images that must be matched
NEAR = 0.80  # an operation that fits so well is weighed
SURE = 0.95  # share of the translations' images
MANY = 6.0  # repeats, beyond which turns are those of the pattern
FEW = 2.0  # repeats, under which a figure that turns into itself is a rosette
NEARLY = 0.90  # share of the images of translations across
STRONG = 0.98  # the same where lines agree fully
LEAST_LINES = 4.0  # lines that must testify to it, repeats along counted once
FEW_LINES = 12.0  # so many testify surely
COVERED = 0.6  # share of the lines that some translation must carry into the window
NARROW = 0.35  # share of the lines, under which a strip is weighed too
WEAK = 6  # lines that must testify to a translation
SEVERAL = 500  # sides, above which regions are asked for their like first
LARGE = 4_000  # edges, above which the middle of a drawing is tried first
SPOILT = 0.75  # share of the translations' images when the outermost repeats differ
RIM = 0.35  # so much of a repeat is set aside round a patch
LEAST_WITHIN = 4.0  # repeats that must be seen within that
LOOSE = 0.03  # scales by which lines may miss their images in a sure group
ROUGHLY = 0.9  # the same, from which a group is named though lines miss by much
HINT = 0.6  # share of the images of shifts, from which nothing is no sure answer
ONE_WIDE = 1.6  # shifts straight across, under which a strip is one repeat wide
MOST_OF_A_STRIP = 4  # operations of p2mm and p2mg, modulo shifts
ROWS_WIDE = 2.6  # rows of a lattice under which it is, where none goes straight
ALIKE = 0.03  # by how much a group may fit worse than its shifts, roughly
LEAST_HELD = 0.5  # a stated group must fit at least so much


def find_symmetry(
    arrangement: Arrangement,
    faces: NDArray[np.int32] | None = None,
    *,
    stated: str | None = None,
    loose_lines: bool = True,
    strip: bool = False,
    repeats_alone: bool = False,
    turns_first: bool = False,
) -> Symmetry:
    """Find the symmetry of the lines that bound faces.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing.
    faces : ndarray of int32, optional
        The faces of one zone; all by default.
    stated : str, optional
        A group to hold, such as ``plane:p4m``, or ``none``; its misfit is then
        in ``residual`` and ``reason``.
    loose_lines : bool
        Whether lines that bound no face testify too.
    strip : bool
        Whether the faces are a strip: where it is one repeat wide, what it shows
        along is asked before what it would show across.
    repeats_alone : bool
        Whether only what repeats is looked for.
    turns_first : bool
        Whether a figure that turns onto itself, outline and all, is one though its
        lines repeat.

    Returns
    -------
    Symmetry
        Group, translations, operations, and how sure that is.

    Raises
    ------
    SymmetryError
        If the stated group is unknown or cannot be held.
    """
    wanted = None if stated is None else parse_group(stated)
    if wanted is not None and wanted.family == "none":
        return Symmetry(NO_GROUP, reason="so stated", stated=True)
    sides = arrangement.edge_count
    if faces is not None and sides > SEVERAL:
        sides = int(np.isin(arrangement.face, faces).sum())
    if wanted is None and sides > SEVERAL:
        own = np.arange(1, arrangement.face_count) if faces is None else faces
        measures = measure_faces(arrangement)
        if all_strangers(arrangement, measures, own, strictly=sides <= LARGE):
            return Symmetry(NO_GROUP, reason="hardly a region has its like")
    if wanted is None and sides > LARGE:
        found = _from_the_middle(arrangement, faces)
        if found is not None:
            return found
    evidence = gather_evidence(arrangement, faces, loose_lines=loose_lines)
    if evidence is None or len(evidence.samples) < 12:
        if wanted is not None:
            raise _refusal(wanted, "there are too few lines")
        return Symmetry(NO_GROUP, reason="there are too few lines")
    found = symmetry_of(
        evidence,
        wanted,
        strip=strip,
        repeats_alone=repeats_alone,
        turns_first=turns_first,
    )
    if loose_lines and wanted is None:
        found = _held_roughly(evidence, found)
    reason = why_cut_off(arrangement, evidence, found, ends=loose_lines)
    if reason and found.certain and not found.stated:
        return replace(found, certain=False, reason=reason)
    return _with_doubt(found, evidence.scale)


def _held_roughly(evidence: Evidence, found: Symmetry) -> Symmetry:
    """Return the group that nearly all lines keep, if only roughly, in doubt."""
    if found.group.family != "none" or not found.candidates:
        return found
    best = found.candidates[0]
    if best.fit < ROUGHLY:
        return found
    try:
        held = symmetry_of(evidence, parse_group(f"plane:{best.group}"))
    except SymmetryError:
        return found
    return replace(
        held,
        certain=False,
        stated=False,
        reason=found.reason,
        candidates=found.candidates,
    )


def _with_doubt(found: Symmetry, scale: float) -> Symmetry:
    """Return a symmetry, not certain where lines miss their images by much.

    Lines that are off by more are matched by chance as well, and those of a true
    symmetry missed.
    """
    if found.stated or not found.certain or not found.candidates:
        return found
    miss = found.candidates[0].residual
    if miss <= LOOSE * scale:
        return found
    reason = (
        f"the lines miss their images by {miss:.2g} mm, {100 * miss / scale:.0f} % of "
        "the usual line between corners"
    )
    return replace(found, certain=False, reason=reason)


def _from_the_middle(
    arrangement: Arrangement, faces: NDArray[np.int32] | None
) -> Symmetry | None:
    """Return the plane group that the middle of a large drawing shows surely.

    A grid over many repeats would be too coarse to tell their lines apart. What
    is no plane pattern for certain is judged by the whole.
    """
    middle = gather_evidence(arrangement, faces, loose_lines=False, most_edges=LARGE)
    if middle is None or len(middle.samples) < 12:
        return None
    found = symmetry_of(middle, repeats_alone=True)
    lattice = found.lattice
    if found.group.family != "plane" or not found.certain or lattice is None:
        return None
    area = arrangement.area if faces is None else arrangement.area[faces]
    cell = abs(float(np.linalg.det(lattice.basis)))
    return replace(found, repeats_seen=float(area.sum()) / cell)


def symmetry_of(
    evidence: Evidence,
    wanted: Group | None = None,
    *,
    strip: bool = False,
    repeats_alone: bool = False,
    turns_first: bool = False,
) -> Symmetry:
    """Find the symmetry of lines.

    `strip`: whether the lines are those of a strip. `repeats_alone`: whether only what
    repeats is looked for. `turns_first`: whether turns that carry all lines, outline
    and all, come before repeats. Returns group, translations, operations, and how sure
    that is. Raises `SymmetryError` if the wanted group cannot be held.
    """
    correlator = Correlator(evidence)
    if wanted is not None and wanted.family == "rosette":
        return _hold_rosette(evidence, correlator, wanted)
    lattice = find_lattice(evidence, correlator)
    if wanted is not None:
        return _hold_lattice(evidence, correlator, lattice, wanted)
    repeating: Symmetry | None = None
    strong = False
    if strip and lattice is not None and lattice.rank == 2:
        along = _along_a_strip(evidence, correlator, lattice)
        if along is not None:
            return along
    if lattice is not None and lattice.share >= 0.9:
        repeating = _repeating(evidence, correlator, lattice)
        strong = lattice.share >= SURE and lattice.weakest >= WEAK
    if lattice is not None and not strong:
        within = _within_the_edge(evidence, correlator, lattice)
        if within is not None:
            return within
    if repeating is not None and (repeating.certain or strong):
        few = repeating.group.family == "plane"
        few &= turns_first or repeating.repeats_seen < FEW
        alone = find_rosette(evidence, correlator, thorough=False) if few else None
        if alone is not None and alone.n > 2 and stands_free(evidence, alone):
            return rosette_symmetry(alone)
        return repeating
    if repeats_alone:
        return Symmetry(NO_GROUP) if repeating is None else repeating
    # centres need a coarser grid than translations
    rosette = find_rosette(evidence, Correlator(evidence, 200_000))
    if repeating is not None and rosette is not None and _holds(repeating, rosette.n):
        return repeating
    if rosette is not None and (repeating is None or not rosette.reason):
        return _beside_shifts(evidence, rosette, lattice)
    if repeating is not None:
        return repeating
    return _nothing(evidence, lattice)


def _beside_shifts(
    evidence: Evidence, rosette: RosetteFit, lattice: LatticeFit | None
) -> Symmetry:
    """Return a rosette, not certain where it may be a piece of what nearly repeats."""
    found = rosette_symmetry(rosette)
    roughly = lattice is not None and lattice.rank == 2 and lattice.share >= HINT
    if not found.certain or not roughly or lattice is None:
        return found
    if rosette.mirror is not None and stands_free(evidence, rosette):
        return found
    reason = f"shifts fit {100 * lattice.share:.0f} % of the lines as well"
    return replace(found, certain=False, reason=reason)


def _order_of(short: str) -> int:
    """Return how many operations a plane group has modulo its translations."""
    point = parse_group(f"plane:{short}").point_group
    return int(point[1:]) * (2 if point[0] == "D" else 1)


def _nothing(evidence: Evidence, lattice: LatticeFit | None) -> Symmetry:
    """Return that there is no symmetry, in doubt where shifts fit roughly.

    The group that fits best is a candidate then, and the reason names it.
    """
    reason = "no shift, turn or mirror carries the lines onto themselves"
    guess = guess_lattice(evidence)
    roughly = None if guess is None else _plane(*guess)
    if guess is not None and roughly is not None:
        fit = guess[1]
        # a group that fits as well as its shifts is as likely as a smaller one
        fits = [c for c in roughly.candidates if c.fit >= fit.share - ALIKE]
        best = max(fits or roughly.candidates, key=lambda c: _order_of(c.group))
        group, share = best.group, min(fit.share, best.fit)
        reason += (
            f" closely; {group} fits {100 * share:.0f} % of them roughly, off by "
            f"{100 * fit.rms / evidence.scale:.0f} % of the usual line"
        )
        candidates = (Candidate(group, share, fit.rms, "lines miss by much"),)
        return Symmetry(NO_GROUP, certain=False, reason=reason, candidates=candidates)
    if lattice is None or lattice.share < HINT:
        return Symmetry(NO_GROUP, reason=reason)
    reason += f", but shifts fit {100 * lattice.share:.0f} %"
    return Symmetry(NO_GROUP, certain=False, reason=reason)


def _holds(repeating: Symmetry, n: int) -> bool:
    """Return whether a pattern of many repeats has turns of an order already."""
    order = int(repeating.group.point_group[1:])
    many = repeating.group.family == "plane" and repeating.repeats_seen >= MANY
    return many and order % n == 0


def _along_a_strip(
    evidence: Evidence, correlator: Correlator, lattice: LatticeFit
) -> Symmetry | None:
    """Return the frieze group of a strip that is one repeat of a lattice wide.

    Its lines would agree with a plane pattern whose rows nobody drew.
    """
    middle = evidence.samples.mean(axis=0)
    away = evidence.samples - middle
    _, axes = np.linalg.eigh(away.T @ away)
    i, j = (g.ravel() for g in np.mgrid[-3:4, -3:4])
    vectors = np.stack([i, j], axis=1)[(i != 0) | (j != 0)] @ lattice.basis
    size = np.hypot(*vectors.T)
    across = np.abs(vectors @ axes[:, 0])
    runs = np.flatnonzero(across < 0.05 * size)
    stands = np.flatnonzero(np.abs(vectors @ axes[:, 1]) < 0.1 * size)
    if len(runs) == 0:
        return None
    high = float(np.ptp(away @ axes[:, 0]))
    if len(stands) and high > ONE_WIDE * float(size[stands].min()):
        return None
    row = abs(float(np.linalg.det(lattice.basis))) / float(size[runs].min())
    if len(stands) == 0 and high > ROWS_WIDE * row:
        return None
    vector = vectors[runs[np.argmin(size[runs])]]
    single = measure_lattice(evidence, vector[None, :], lattice.level)
    if single.share < SURE or single.covered < COVERED or single.weakest < WEAK:
        return None
    # rows of a lattice have axes beside the middle as well
    found = _frieze(evidence, correlator, single, single.basis[0], 0.15 * high)
    return found if found.certain else None


def _within_the_edge(
    evidence: Evidence, correlator: Correlator, lattice: LatticeFit
) -> Symmetry | None:
    """Return the plane group that a patch shows within its outermost repeats.

    Where a patch ends, its regions often lack the lines that their neighbours
    would have given them. What is certain within is the pattern's group.
    """
    if lattice.rank != 2 or lattice.share < SPOILT:
        return None
    repeat = float(np.hypot(*lattice.basis.T).min())
    # twice that where a free margin lies round the patch, within its frame
    for margin in (RIM * repeat, 2 * RIM * repeat):
        inner = replace(evidence, window=evidence.window.narrowed(margin))
        seen = measure_lattice(inner, lattice.basis, lattice.level)
        if seen.share < SURE or seen.weakest < WEAK:
            continue
        found = _repeating(inner, correlator, seen)
        if found is None or found.group.family != "plane" or not found.certain:
            continue
        return found if found.repeats_seen >= LEAST_WITHIN else None
    return None


def _refusal(wanted: Group, why: str) -> SymmetryError:
    what = f"the lines cannot have this symmetry: {why}"
    where = f"{wanted.family}:{wanted.short}"
    return SymmetryError(what, where, "leave --symmetry out, or state another group")


def _best_seen(
    evidence: Evidence, basis: Floats
) -> tuple[Floats, Floats, tuple[float, float]]:
    """Return a basis that begins with the translation that is seen best.

    The last numbers are the shares of the lines that each of the two keeps in the
    window. Of a lattice of rank 1 both vectors are the same.
    """
    short = ((1, 0), (0, 1), (1, 1), (1, -1)) if len(basis) == 2 else ((1,),)
    vectors = np.array(short) @ basis
    kept = [
        0.5
        * sum(
            float((evidence.window.depth_at(evidence.samples + s * v) > 0).mean())
            for s in (-1, 1)
        )
        for v in vectors
    ]
    best = int(np.argmax(kept))
    other = 1 if best == 0 and len(basis) == 2 else 0
    return vectors[best], vectors[other], (kept[best], kept[other])


def _repeating(
    evidence: Evidence, correlator: Correlator, lattice: LatticeFit
) -> Symmetry | None:
    """Return the plane or frieze group of a lattice, if enough of it is seen."""
    vector, other, overlaps = _best_seen(evidence, lattice.basis)
    across: Across | None = None
    if lattice.rank == 2 and lattice.covered >= COVERED:
        if overlaps[1] >= NARROW:
            return _plane(evidence, lattice)
        across = measure_across(evidence, vector, other[None, :])[0]
        if _tells(across):
            plane = _plane(evidence, lattice)
            wide = across.seen >= NARROW
            if plane is None or (wide and len(plane.operations) >= MOST_OF_A_STRIP):
                return plane
            few = across.lines < FEW_LINES or across.share < STRONG
            few = few and not wide
            if plane.certain and few:
                away = math.hypot(*across.vector)
                reason = f"few lines tell that it repeats by {away:.3g} mm across"
                plane = replace(plane, certain=False, reason=reason)
            # bands of a strip may fall on each other by chance: operations that keep
            # the strip and not the plane tell so
            single = measure_lattice(evidence, vector[None, :], lattice.level)
            if single.share < SURE or single.covered < COVERED:
                return plane
            strip = _frieze(evidence, correlator, single, vector)
            more = len(strip.operations) > len(plane.operations)
            ends = few and not _runs_off(evidence, vector)
            return strip if strip.certain and (more or ends) else plane
    single = lattice
    if lattice.rank == 2:
        single = measure_lattice(evidence, vector[None, :], lattice.level)
    if overlaps[0] < 0.3 or single.weakest < WEAK:
        return None
    if single.share < 0.9 or single.covered < COVERED:
        return None
    strip = _frieze(evidence, correlator, single, vector)
    told = across is not None and across.share >= SURE and across.spread >= SPREAD
    if strip.certain and told:
        away = math.hypot(*other)
        reason = f"too little is seen to tell whether it repeats by {away:.3g} mm"
        strip = replace(strip, certain=False, reason=f"{reason} across as well")
    if strip.certain and _runs_off(evidence, vector):
        reason = "the page cuts it off on both sides: it may repeat across as well"
        strip = replace(strip, certain=False, reason=reason)
    return strip


def _tells(across: Across) -> bool:
    """Tell whether a second translation is more than a chance."""
    return (
        across.share >= NEARLY
        and across.spread >= SPREAD
        and across.lines >= LEAST_LINES
    )


def _runs_off(evidence: Evidence, vector: Floats) -> bool:
    """Tell whether the page's edge cuts a strip off along both of its sides."""
    if evidence.page is None or len(evidence.page) == 0:
        return False
    along = vector / np.hypot(*vector)
    across = np.array([-along[1], along[0]])
    step = evidence.page[:, 2:] - evidence.page[:, :2]
    middle = 0.5 * (evidence.page[:, 2:] + evidence.page[:, :2]) @ across
    heights = evidence.samples @ across
    low, high = float(heights.min()), float(heights.max())
    extent = float(np.ptp(evidence.samples @ along))
    run = np.abs(step @ along)
    beside = run > 0.3 * np.hypot(step[:, 0], step[:, 1])
    run, middle = run[beside], middle[beside]
    half = 0.5 * (low + high)
    for side in (middle > half, middle < half):
        # lines that run off part the edge into pieces
        if side.sum() < 4 or float(run[side].sum()) < 0.35 * extent:
            return False
    return True


def _accepts(fit: CosetFit, lattice: LatticeFit, scale: float) -> bool:
    return (
        fit.share >= min(ACCEPT, lattice.share - 0.03)
        and fit.failing <= 0.04
        and fit.rms <= 1.45 * lattice.rms + 0.0015 * scale
        and fit.expected >= 24
    )


def _plane(evidence: Evidence, lattice: LatticeFit) -> Symmetry | None:
    scale = evidence.scale
    slack = (0.03 + LADDER[lattice.level]) * scale
    _, fits = find_cosets(evidence, lattice.basis, slack)
    first: Symmetry | None = None
    for level in range(lattice.level, min(lattice.level + 2, len(LADDER))):
        at = (
            lattice
            if level == lattice.level
            else measure_lattice(evidence, lattice.basis, level)
        )
        looser = [f[level : level + LOOSER + 1] for f in fits]
        found = _plane_at(evidence, at, [f[level] for f in fits], looser)
        if found is not None and found.certain:
            closer = first is not None and lattice.share >= SURE
            if closer and first is not None and first.group != found.group:
                # shifts hold closely, and some operations only where lines may miss
                reason = f"{first.group.short} fits the lines more closely"
                return replace(found, certain=False, reason=reason)
            return found
        first = first or found
    return first


def _plane_at(
    evidence: Evidence,
    lattice: LatticeFit,
    fits: list[CosetFit],
    looser: list[list[CosetFit]],
) -> Symmetry | None:
    """Return the group of the operations that hold, in doubt where one nearly does.

    An operation is refuted by lines that miss their images by clearly more than under
    the shifts; `looser` has its fits at this step of the ladder and the next ones.
    """
    scale = evidence.scale
    passing = [f for f in fits if _accepts(f, lattice, scale)]
    held = closed_subset(passing)
    row = match_table(held, lattice.basis)
    if row is None:
        held = []
        row = match_table(held, lattice.basis)
    if row is None:
        return None
    setting, origin, misfit, _ = row
    used = {f.matrix.tobytes() for f in held}
    others = [f for f in fits if f.matrix.tobytes() not in used]
    reasons: list[str] = []
    candidates: list[Candidate] = []
    weakest = min([1.0, *(f.share for f in held)])
    candidates.append(
        Candidate(setting.group.short, min(lattice.share, weakest), lattice.rms)
    )
    if lattice.weakest < WEAK:
        reasons.append("too few lines testify to one of the shifts")
    if lattice.share < SURE:
        reasons.append(f"the shifts fit {100 * lattice.share:.0f} % of the lines")
    if len(passing) > len(held):
        reasons.append("the operations that hold do not close as a group")
    if misfit > 0.15 * scale:
        reasons.append("the operations that hold do not agree on a centre")
    for f in sorted(others, key=lambda f: -f.share):
        if f.share < NEAR or f.expected < 24:
            continue
        # fits all over but for details that break it in every repeat
        if f.failing > 0.04 and f.failing > 8 * (1 - lattice.share) + 0.06:
            continue
        larger = _with(held, f, fits, lattice.basis)
        if larger is None:
            continue
        if f.rms > 1.45 * lattice.rms + 0.0015 * scale:
            why = f"its lines miss by {f.rms:.3g} mm, the shifts' by {lattice.rms:.3g}"
        else:
            why = f"fits {100 * f.share:.0f} % of the lines"
        if all(c.group != larger for c in candidates):
            candidates.append(Candidate(larger, f.share, f.rms, why))
            reasons.append(f"{larger} {why}")
    for steps in looser:
        if steps[0].matrix.tobytes() in used or steps[0].expected < 24:
            continue
        close = MISSES * lattice.rms + 0.003 * scale
        near = [f for f in steps if f.share >= ACCEPT and f.rms <= close]
        larger = _with(held, near[0], fits, lattice.basis) if near else None
        if larger is None or any(c.group == larger for c in candidates):
            continue
        f = near[0]
        why = f"lines miss by {f.rms:.3g} mm, the shifts' by {lattice.rms:.3g}"
        candidates.append(Candidate(larger, f.share, f.rms, why))
        reasons.append(f"{larger} fits nearly as well: its {why}")
    for f in held:
        if f.share < min(0.95, lattice.share - 0.02):
            reasons.append(f"one operation fits {100 * f.share:.0f} % of the lines")
            break
    return plane_symmetry(
        evidence, lattice, setting, origin, held, reasons, tuple(candidates), misfit
    )


def _with(
    held: list[CosetFit], extra: CosetFit, fits: list[CosetFit], basis: Floats
) -> str | None:
    """Return the name of the group that one more operation would make."""
    eye = np.eye(2, dtype=np.intp)
    known = {f.matrix.tobytes(): f for f in fits}
    matrices = {f.matrix.tobytes(): f.matrix for f in [*held, extra]}
    grown = True
    while grown:
        grown = False
        for a in list(matrices.values()):
            for b in list(matrices.values()):
                c = np.ascontiguousarray(a @ b)
                if c.tobytes() not in matrices and not np.array_equal(c, eye):
                    matrices[c.tobytes()] = c
                    grown = True
    if not set(matrices) <= set(known):
        return None
    row = match_table([known[k] for k in matrices], basis)
    return None if row is None else row[0].group.short


def _frieze(
    evidence: Evidence,
    correlator: Correlator,
    lattice: LatticeFit,
    vector: Floats,
    within: float = np.inf,
) -> Symmetry:
    strip = find_strip(evidence, correlator, lattice, vector, within)
    level = lattice.level
    if strip.reason and level + 1 < len(LADDER):
        looser = measure_lattice(evidence, vector[None, :], level + 1)
        again = find_strip(evidence, correlator, looser, vector, within)
        if not again.reason:
            strip, lattice = again, looser
    reason = strip.reason
    if lattice.share < SURE:
        reason = reason or f"the shift fits {100 * lattice.share:.0f} % of the lines"
    return frieze_symmetry(evidence, lattice, strip, frieze_group(strip.short), reason)


def _hold_rosette(
    evidence: Evidence, correlator: Correlator, wanted: Group
) -> Symmetry:
    n, mirrors = int(wanted.short[1:]), wanted.short[0] == "D"
    fit = hold_rosette(evidence, correlator, n, mirrors)
    if fit is None or fit.share < LEAST_HELD:
        share = 0.0 if fit is None else fit.share
        raise _refusal(wanted, f"it fits only {100 * share:.0f} % of the lines")
    return rosette_symmetry(fit, stated=True)


def _hold_lattice(
    evidence: Evidence,
    correlator: Correlator,
    lattice: LatticeFit | None,
    wanted: Group,
) -> Symmetry:
    plane = wanted.family == "plane"
    if lattice is None or lattice.share < LEAST_HELD or (plane and lattice.rank < 2):
        guess = guess_lattice(evidence)
        if guess is not None:
            evidence, lattice = guess
            correlator = Correlator(evidence)
    if lattice is None or lattice.share < LEAST_HELD:
        raise _refusal(wanted, "no shift carries the lines onto themselves")
    if wanted.family == "frieze":
        vector, _, _ = _best_seen(evidence, lattice.basis)
        single = measure_lattice(evidence, vector[None, :], lattice.level)
        strip = find_strip(evidence, correlator, single, vector)
        needs = NEEDS[wanted.short]
        share = min([1.0, *(strip.operations[m].share for m in needs)])
        if share < LEAST_HELD:
            raise _refusal(wanted, f"it fits only {100 * share:.0f} % of the lines")
        reason = "" if share >= ACCEPT else f"it fits {100 * share:.0f} % of the lines"
        held = StripFit(
            wanted.short, vector, strip.centre, strip.operations, reason, strip.near
        )
        return frieze_symmetry(evidence, single, held, wanted, reason, stated=True)
    if lattice.rank < 2:
        raise _refusal(wanted, "the lines repeat in one direction only")
    return _hold_plane(evidence, lattice, wanted)


def _halved(
    evidence: Evidence, lattice: LatticeFit, wanted: Group, slack: float
) -> LatticeFit | None:
    """Return the lattice twice as fine that a group needs, if most lines keep it.

    Of lines that stray far, every second repeat may fit better by chance.
    """
    for half in ([[0.5, 0], [0, 1]], [[1, 0], [0, 0.5]], [[0.5, 0.5], [0, 1]]):
        basis = np.array(half) @ lattice.basis
        matrices = [np.eye(2, dtype=np.intp)]
        matrices += [m for m, _ in linear_parts(basis, slack)]
        if settings_of(wanted.short, matrices):
            finer = measure_lattice(evidence, basis, lattice.level)
            if finer.share >= LEAST_HELD:
                return finer
    return None


def _hold_plane(evidence: Evidence, lattice: LatticeFit, wanted: Group) -> Symmetry:
    basis, scale = lattice.basis, evidence.scale
    longest = float(np.hypot(basis[:, 0], basis[:, 1]).max())
    slack = max((0.03 + LADDER[lattice.level]) * scale, 0.02 * longest)
    matrices = [np.eye(2, dtype=np.intp), *(m for m, _ in linear_parts(basis, slack))]
    settings = settings_of(wanted.short, matrices)
    if not settings:
        halved = _halved(evidence, lattice, wanted, slack)
        if halved is not None:
            return _hold_plane(evidence, halved, wanted)
        a, b = np.hypot(basis[:, 0], basis[:, 1])
        angle = math.degrees(math.acos(float(basis[0] @ basis[1]) / (a * b)))
        kind = lattice_kind(basis, slack / longest)
        raise _refusal(
            wanted,
            f"it needs a {wanted.lattice_kind} lattice; the lines repeat every "
            f"{a:.2f} mm and {b:.2f} mm at {angle:.1f}° ({kind})",
        )
    _, fits = find_cosets(evidence, basis, slack)
    level = min(lattice.level + 1, len(LADDER) - 1)
    of = {f[level].matrix.tobytes(): f[level] for f in fits}
    best: tuple[float, Setting, Floats, float, list[CosetFit]] | None = None
    for setting in settings:
        fitted = [of[np.ascontiguousarray(m).tobytes()] for m in setting.matrices[1:]]
        good = [k for k, f in enumerate(fitted) if f.share >= NEAR]
        part = good or list(range(len(fitted)))
        some = Setting(
            setting.group,
            (setting.matrices[0], *(setting.matrices[k + 1] for k in part)),
            (setting.shifts[0], *(setting.shifts[k + 1] for k in part)),
        )
        origin, misfit = best_origin(
            some, [np.zeros(2), *(fitted[k].shift for k in part)], basis
        )
        share = min([lattice.share, *(f.share for f in fitted)])
        if misfit > 0.3 * scale:
            share *= 0.5
        if best is None or (share, -misfit) > (best[0], -best[3]):
            best = (share, setting, origin, misfit, fitted)
    if best is None or best[0] < LEAST_HELD:
        share = 0.0 if best is None else best[0]
        raise _refusal(wanted, f"it fits only {100 * share:.0f} % of the lines")
    share, setting, origin, misfit, fitted = best
    reasons = [] if share >= ACCEPT else [f"it fits {100 * share:.0f} % of the lines"]
    candidates = (Candidate(wanted.short, share, lattice.rms),)
    return plane_symmetry(
        evidence,
        lattice,
        setting,
        origin,
        fitted,
        reasons,
        candidates,
        misfit,
        stated=True,
    )
