"""Which symmetry the lines of a zone have: plane, frieze, rosette or none.

The lattice decides the family. Two translations of which enough is seen make a
plane pattern, one makes a frieze, none leaves rosettes. Lines are the evidence,
those of cut regions too; a frame that cuts the pattern is none. What the lines
do not decide is said: the result is not `certain`, and the groups that were
weighed stand in its candidates.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.errors import SymmetryError
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.faces.strangers import all_strangers
from fillwork.symmetry.groups import NO_GROUP, parse_group
from fillwork.symmetry.lines.assemble import rosette_symmetry
from fillwork.symmetry.lines.cut import why_cut_off
from fillwork.symmetry.lines.evidence import are_unlike_stripes
from fillwork.symmetry.lines.fit import Correlator
from fillwork.symmetry.lines.gathering import gather_evidence
from fillwork.symmetry.lines.hints import guess_lattice, guess_rosette
from fillwork.symmetry.lines.lattice import find_lattice
from fillwork.symmetry.lines.repeating import (
    SURE,
    WEAK,
    along_a_strip,
    along_bars,
    group_of_repeats,
    plane_group,
    within_the_edge,
)
from fillwork.symmetry.lines.rosette import find_rosette, stands_free
from fillwork.symmetry.lines.stated import hold_stated, refusal
from fillwork.symmetry.model import Candidate, Symmetry
from fillwork.values import check_kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.lattice_fit import LatticeFit
    from fillwork.symmetry.lines.mirrors import RosetteFit
    from fillwork.symmetry.model import Group

MANY = 6.0  # repeats, beyond which turns are those of the pattern
FEW = 2.0  # repeats, under which a figure that turns into itself is a rosette
SEVERAL = 500  # sides, above which regions are asked for their like first
LARGE = 4_000  # edges, above which the middle of a drawing is tried first
LOOSE = 0.03  # scales by which lines may miss their images in a sure group
ROUGHLY = 0.9  # the same, from which a group is named though lines miss by much
CLOSE = 0.98  # share of the lines that a turn or mirror keeps which is all there is
HINT = 0.6  # share of the images of shifts, from which nothing is no sure answer
ONE_WAY = "all lines run one way, and any shift along them keeps them"
ALIKE = 0.03  # by how much a group may fit worse than its shifts, roughly


def find_symmetry(
    arrangement: Arrangement,
    faces: NDArray[np.int32] | None = None,
    *,
    stated: str | None = None,
    loose_lines: bool = True,
    strip: bool = False,
    sliding: bool = False,
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
    sliding : bool
        Whether the strip is known to be one of bars that slide along themselves.
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
    check_kind(arrangement, Arrangement, "arrangement")
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
            raise refusal(wanted, "there are too few lines")
        return Symmetry(NO_GROUP, reason="there are too few lines")
    found = symmetry_of(
        evidence,
        wanted,
        strip=strip,
        sliding=sliding,
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


def turned_roughly(
    arrangement: Arrangement, faces: NDArray[np.int32], found: Symmetry
) -> Symmetry:
    """Return a rosette that lines keep roughly, where hardly anything holds closely.

    `faces`: those of one figure. `found`: what its lines show; returned where they turn
    no more than that.
    """
    little = found.group.family in ("none", "rosette") and len(found.operations) <= 2
    close = bool(found.candidates) and found.candidates[0].fit >= CLOSE
    if not little or close or not 3 <= len(faces) <= LARGE or not found.certain:
        return found
    evidence = gather_evidence(arrangement, faces)
    rough = None if evidence is None else guess_rosette(evidence)
    if evidence is None or rough is None:
        return found
    turned = rosette_symmetry(rough)
    miss = f"{100 * rough.rms / evidence.scale:.0f} % of the usual line"
    reason = f"{turned.group.short} fits the lines roughly, off by {miss}"
    return replace(turned, certain=False, reason=reason)


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
    sliding: bool = False,
    repeats_alone: bool = False,
    turns_first: bool = False,
) -> Symmetry:
    """Find the symmetry of lines.

    `strip`: whether the lines are those of a strip. `sliding`: whether it is known to
    be one of bars that slide along themselves. `repeats_alone`: whether only what
    repeats is looked for. `turns_first`: whether turns that carry all lines, outline
    and all, come before repeats. Returns group, translations, operations, and how sure
    that is. Raises `SymmetryError` if the wanted group cannot be held.
    """
    correlator = Correlator(evidence)
    if wanted is not None:
        return hold_stated(evidence, correlator, wanted)
    if not strip and are_unlike_stripes(evidence):
        return Symmetry(NO_GROUP, certain=False, reason=ONE_WAY)
    lattice = find_lattice(evidence, correlator)
    repeating: Symmetry | None = None
    strong = False
    if strip and lattice is not None and lattice.rank == 2:
        one_wide = along_bars if sliding else along_a_strip
        along = one_wide(evidence, correlator, lattice)
        if along is not None:
            return along
    if lattice is not None and lattice.share >= 0.9:
        repeating = group_of_repeats(evidence, correlator, lattice)
        strong = lattice.share >= SURE and lattice.weakest >= WEAK
    if lattice is not None and not strong:
        within = within_the_edge(evidence, correlator, lattice)
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
    roughly = None if guess is None else plane_group(*guess)
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
