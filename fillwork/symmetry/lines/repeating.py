"""The plane or frieze group of lines that repeat, with what casts doubt on it.

A strip that is one or two repeats of a lattice wide has a frieze group, whatever its
lines would show across; where a patch ends, its outermost repeats may lack lines.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.groups import frieze_group
from fillwork.symmetry.lines.across import measure_across
from fillwork.symmetry.lines.assemble import frieze_symmetry, plane_symmetry
from fillwork.symmetry.lines.fit import LADDER, LOOSER, MISSES, Correlator
from fillwork.symmetry.lines.frieze import find_strip
from fillwork.symmetry.lines.lattice_fit import SPREAD, measure_lattice
from fillwork.symmetry.lines.plane import find_cosets
from fillwork.symmetry.lines.table import closed_subset, ideal_basis, match_table
from fillwork.symmetry.model import Candidate, Symmetry

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.symmetry.lines.across import Across
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.lattice_fit import LatticeFit
    from fillwork.symmetry.lines.plane import CosetFit
    from fillwork.symmetry.lines.table import Setting

ACCEPT = 0.93  # share of an operation's images that must be matched
CLOSELY = 0.7  # times the share of the shifts where lines may miss by less, at least
TOLD_CLOSELY = 0.4  # share of the shifts, from which that is told
COPIED = 0.999  # share of the closest images of shifts, from which they are copies
NEAR = 0.80  # an operation that fits so well is weighed
SURE = 0.95  # share of the translations' images
NEARLY = 0.90  # share of the images of translations across
STRONG = 0.98  # the same where lines agree fully
LEAST_LINES = 4.0  # lines that must testify to it, repeats along counted once
FEW_LINES = 12.0  # so many testify surely
COVERED = 0.6  # share of the lines that some translation must carry into the window
NARROW = 0.35  # share of the lines, under which a strip is weighed too
STRETCHED = 0.01  # by how much paper is longer one way than the other
WEAK = 6  # lines that must testify to a translation
SPOILT = 0.75  # share of the translations' images when the outermost repeats differ
RIM = 0.35  # so much of a repeat is set aside round a patch
LEAST_WITHIN = 4.0  # repeats that must be seen within that
MOST_OF_A_STRIP = 4  # operations of p2mm and p2mg, modulo shifts
TWO_WIDE = 2.2  # shifts straight across, under which a strip is few repeats wide
ROWS_WIDE = 2.6  # rows of a lattice under which it is, where none goes straight
LEVEL = 0.98  # cosine of the angle between a strip and its rails
OFF_MIDDLE = 0.15  # how far from its middle its axis lies at most, in rows


def along_a_strip(
    evidence: Evidence, correlator: Correlator, lattice: LatticeFit
) -> Symmetry | None:
    """Return the frieze group of a strip that is few repeats of a lattice wide.

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
    row = abs(float(np.linalg.det(lattice.basis))) / float(size[runs].min())
    most = TWO_WIDE * float(size[stands].min()) if len(stands) else ROWS_WIDE * row
    if high > most:
        return None
    vector = vectors[runs[np.argmin(size[runs])]]
    single = measure_lattice(evidence, vector[None, :], lattice.level)
    if single.share < SURE or single.covered < COVERED or single.weakest < WEAK:
        return None
    # rows of a lattice have axes beside the middle as well
    found = _frieze(evidence, correlator, single, single.basis[0], OFF_MIDDLE * row)
    return found if found.certain else None


def along_bars(
    evidence: Evidence, correlator: Correlator, lattice: LatticeFit
) -> Symmetry | None:
    """Return the frieze group of a strip of bars that slide along themselves.

    A shift along the bars and one from bar to bar make a lattice; the strip repeats
    along its rails.
    """
    away = evidence.samples - evidence.samples.mean(axis=0)
    _, axes = np.linalg.eigh(away.T @ away)
    lines = evidence.segments[:, 2:] - evidence.segments[:, :2]
    run = lines @ axes[:, 1]
    rails = np.abs(run) > LEVEL * np.hypot(*lines.T)
    if not rails.any():
        return None
    along = (lines * np.sign(run)[:, None])[rails].sum(axis=0)
    along = along / np.hypot(*along)
    slides = np.array([[1, 0], [0, 1], [1, 1], [1, -1]]) @ lattice.basis
    aslant = np.abs(slides @ np.array([-along[1], along[0]]))
    steps = abs(float(np.linalg.det(lattice.basis))) / aslant[aslant > 0]
    for step in np.sort(steps).tolist():
        single = measure_lattice(evidence, step * along[None, :], lattice.level)
        if single.share >= SURE and single.covered >= COVERED:
            found = _frieze(evidence, correlator, single, single.basis[0])
            if found.certain and single.weakest >= WEAK:
                return found
    return None


def within_the_edge(
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
        found = group_of_repeats(inner, correlator, seen)
        if found is None or found.group.family != "plane" or not found.certain:
            continue
        return found if found.repeats_seen >= LEAST_WITHIN else None
    return None


def best_seen(
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


def group_of_repeats(
    evidence: Evidence, correlator: Correlator, lattice: LatticeFit
) -> Symmetry | None:
    """Return the plane or frieze group of a lattice, if enough of it is seen."""
    vector, other, overlaps = best_seen(evidence, lattice.basis)
    across: Across | None = None
    if lattice.rank == 2 and lattice.covered >= COVERED:
        if overlaps[1] >= NARROW:
            return plane_group(evidence, lattice)
        across = measure_across(evidence, vector, other[None, :])[0]
        if _tells(across):
            plane = plane_group(evidence, lattice)
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


def _accepts(steps: list[CosetFit], lattice: LatticeFit, scale: float) -> bool:
    """Tell whether an operation holds as the shifts do; `steps` are its fits.

    Lines that are off are off by as much under both. Where some lines, such as those of
    a frame, loosen the fit of the shifts, what most lines miss by is still told by how
    many the closer steps hold. Copies of a cell that a hand drew tell nothing of it.
    """
    fit, copied = steps[lattice.level], lattice.shares[0] >= COPIED
    return (
        fit.share >= min(ACCEPT, lattice.share - 0.03)
        and fit.failing <= 0.04
        and fit.rms <= 1.45 * lattice.rms + 0.0015 * scale
        and fit.expected >= 24
        and all(
            step.share >= CLOSELY * share
            for step, share in zip(steps, lattice.shares[: lattice.level], strict=False)
            if share >= TOLD_CLOSELY and not copied
        )
    )


def _slack(evidence: Evidence, lattice: LatticeFit) -> float:
    """Return how far operations may miss a lattice that fits the lines, mm."""
    return (0.03 + LADDER[lattice.level]) * evidence.scale


def _stretch(basis: Floats, setting: Setting) -> float:
    """Return by how much more a basis is stretched one way than the other."""
    ideal = ideal_basis(basis, setting.matrices)
    most, least = np.linalg.svd(np.linalg.inv(ideal) @ basis, compute_uv=False)
    return float(most / least) - 1


def plane_group(evidence: Evidence, lattice: LatticeFit) -> Symmetry | None:
    """Return the plane group of a lattice, in doubt where it holds only loosely."""
    longest = float(np.hypot(*lattice.basis.T).max())
    _, fits = find_cosets(
        evidence, lattice.basis, max(_slack(evidence, lattice), STRETCHED * longest)
    )
    first: Symmetry | None = None
    for level in range(lattice.level, min(lattice.level + 2, len(LADDER))):
        at = (
            lattice
            if level == lattice.level
            else replace(
                measure_lattice(evidence, lattice.basis, level), doubt=lattice.doubt
            )
        )
        found = _plane_at(evidence, at, fits)
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
    evidence: Evidence, lattice: LatticeFit, steps: list[list[CosetFit]]
) -> Symmetry | None:
    """Return the group of the operations that hold, in doubt where one nearly does.

    An operation is refuted by lines that miss their images by clearly more than under
    the shifts; `steps` has the fits of each at all steps of the ladder.
    """
    scale, level = evidence.scale, lattice.level
    fits = [f[level] for f in steps]
    looser = [f[level : level + LOOSER + 1] for f in steps]
    passing = [f[level] for f in steps if _accepts(f, lattice, scale)]
    held = closed_subset(passing)
    row = match_table(held, lattice.basis)
    if row is None:
        held = []
        row = match_table(held, lattice.basis)
    if row is None:
        return None
    setting, origin, misfit, _ = row
    weakest = min([1.0, *(f.share for f in held)])
    own = Candidate(setting.group.short, min(lattice.share, weakest), lattice.rms)
    reasons = [lattice.doubt] if lattice.doubt else []
    if lattice.weakest < WEAK:
        reasons.append("too few lines testify to one of the shifts")
    if lattice.share < SURE:
        reasons.append(f"the shifts fit {100 * lattice.share:.0f} % of the lines")
    if len(passing) > len(held):
        reasons.append("the operations that hold do not close as a group")
    if misfit > 0.15 * scale:
        reasons.append("the operations that hold do not agree on a centre")
    stretch = _stretch(lattice.basis, setting)
    if stretch * float(np.hypot(*lattice.basis.T).max()) > _slack(evidence, lattice):
        share = f"{100 * stretch:.1f} %"
        reasons.append(f"it holds if the drawing is stretched by {share} one way")
    candidates, doubts = _weigh_larger(lattice, own, held, fits, looser, scale)
    reasons += doubts
    for f in held:
        if f.share < min(0.95, lattice.share - 0.02):
            reasons.append(f"one operation fits {100 * f.share:.0f} % of the lines")
            break
    return plane_symmetry(
        evidence, lattice, setting, origin, held, reasons, candidates, misfit
    )


def _weigh_larger(
    lattice: LatticeFit,
    own: Candidate,
    held: list[CosetFit],
    fits: list[CosetFit],
    looser: list[list[CosetFit]],
    scale: float,
) -> tuple[tuple[Candidate, ...], list[str]]:
    """Return a group, and those that one more operation would make which nearly holds.

    Beside them stand the doubts that they cast, in words.
    """
    used = {f.matrix.tobytes() for f in held}
    found = {own.group: own}
    reasons: list[str] = []
    others = [f for f in fits if f.matrix.tobytes() not in used]
    for f in sorted(others, key=lambda f: -f.share):
        if f.share < NEAR or f.expected < 24:
            continue
        # fits all over but for details that break it in every repeat
        if f.failing > 0.04 and f.failing > 8 * (1 - lattice.share) + 0.06:
            continue
        larger = _with(held, f, fits, lattice.basis)
        if larger is None or larger in found:
            continue
        if f.rms > 1.45 * lattice.rms + 0.0015 * scale:
            why = f"its lines miss by {f.rms:.3g} mm, the shifts' by {lattice.rms:.3g}"
        else:
            why = f"fits {100 * f.share:.0f} % of the lines"
        found[larger] = Candidate(larger, f.share, f.rms, why)
        reasons.append(f"{larger} {why}")
    for steps in looser:
        if steps[0].matrix.tobytes() in used or steps[0].expected < 24:
            continue
        close = MISSES * lattice.rms + 0.003 * scale
        near = [f for f in steps if f.share >= ACCEPT and f.rms <= close]
        larger = _with(held, near[0], fits, lattice.basis) if near else None
        if larger is None or larger in found:
            continue
        f = near[0]
        why = f"lines miss by {f.rms:.3g} mm, the shifts' by {lattice.rms:.3g}"
        found[larger] = Candidate(larger, f.share, f.rms, why)
        reasons.append(f"{larger} fits nearly as well: its {why}")
    return tuple(found.values()), reasons


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
