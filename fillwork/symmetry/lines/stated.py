"""A group that is stated, held to the lines: its place, and by how much they miss."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.symmetry.lines.assemble import (
    frieze_symmetry,
    plane_symmetry,
    rosette_symmetry,
)
from fillwork.symmetry.lines.fit import LADDER, Correlator
from fillwork.symmetry.lines.frieze import NEEDS, StripFit, find_strip
from fillwork.symmetry.lines.hints import guess_lattice
from fillwork.symmetry.lines.lattice import find_lattice
from fillwork.symmetry.lines.lattice_fit import lattice_kind, measure_lattice
from fillwork.symmetry.lines.plane import find_cosets, linear_parts
from fillwork.symmetry.lines.repeating import ACCEPT, NEAR, best_seen
from fillwork.symmetry.lines.rosette import hold_rosette
from fillwork.symmetry.lines.table import Setting, best_origin, settings_of
from fillwork.symmetry.model import Candidate, Symmetry

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.lattice_fit import LatticeFit
    from fillwork.symmetry.lines.plane import CosetFit
    from fillwork.symmetry.model import Group

LEAST_HELD = 0.5  # a stated group must fit at least so much


def refusal(wanted: Group, why: str) -> SymmetryError:
    """Return the error that a stated group cannot be held, with what speaks against."""
    what = f"the lines cannot have this symmetry: {why}"
    where = f"{wanted.family}:{wanted.short}"
    return SymmetryError(what, where, "leave --symmetry out, or state another group")


def hold_stated(evidence: Evidence, correlator: Correlator, wanted: Group) -> Symmetry:
    """Return the symmetry of a stated group, its misfit told.

    Raises `SymmetryError` if too few lines keep it.
    """
    if wanted.family == "rosette":
        n, mirrors = int(wanted.short[1:]), wanted.short[0] == "D"
        fit = hold_rosette(evidence, correlator, n, mirrors)
        if fit is None:
            raise refusal(wanted, "they tell no centre of turns and no mirror")
        _require(wanted, fit.share)
        return rosette_symmetry(fit, stated=True)
    lattice = find_lattice(evidence, correlator)
    few = 2 if wanted.family == "plane" else 1
    if lattice is None or lattice.share < LEAST_HELD or lattice.rank < few:
        guess = guess_lattice(evidence)
        if guess is not None:
            evidence, lattice = guess
            correlator = Correlator(evidence)
    if lattice is None or lattice.share < LEAST_HELD:
        raise refusal(wanted, "no shift carries the lines onto themselves")
    if wanted.family == "frieze":
        return _hold_frieze(evidence, correlator, lattice, wanted)
    if lattice.rank < 2:
        raise refusal(wanted, "the lines repeat in one direction only")
    return _hold_plane(evidence, lattice, wanted)


def _require(wanted: Group, share: float) -> str:
    """Return the doubt of a stated group; raise `SymmetryError` if too little fits."""
    why = f"it fits {100 * share:.0f} % of the lines"
    if share < LEAST_HELD:
        raise refusal(wanted, why.replace("fits", "fits only"))
    return "" if share >= ACCEPT else why


def _hold_frieze(
    evidence: Evidence, correlator: Correlator, lattice: LatticeFit, wanted: Group
) -> Symmetry:
    vector, _, _ = best_seen(evidence, lattice.basis)
    single = measure_lattice(evidence, vector[None, :], lattice.level)
    strip = find_strip(evidence, correlator, single, vector)
    share = min([1.0, *(strip.operations[m].share for m in NEEDS[wanted.short])])
    reason = _require(wanted, share)
    held = StripFit(
        wanted.short, vector, strip.centre, strip.operations, reason, strip.near
    )
    return frieze_symmetry(evidence, single, held, wanted, reason, stated=True)


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
        raise refusal(
            wanted,
            f"it needs a {wanted.lattice_kind} lattice; the lines repeat every "
            f"{a:.2f} mm and {b:.2f} mm at {angle:.1f}° ({kind})",
        )
    _, fits = find_cosets(evidence, basis, slack)
    level = min(lattice.level + 1, len(LADDER) - 1)
    of = {f[level].matrix.tobytes(): f[level] for f in fits}
    tried: list[tuple[float, Setting, Floats, float, list[CosetFit]]] = []
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
        tried.append((share, setting, origin, misfit, fitted))
    share, setting, origin, misfit, fitted = max(tried, key=lambda t: (t[0], -t[3]))
    reason = _require(wanted, share)
    candidates = (Candidate(wanted.short, share, lattice.rms),)
    return plane_symmetry(
        evidence,
        lattice,
        setting,
        origin,
        fitted,
        [reason] if reason else [],
        candidates,
        misfit,
        stated=True,
    )
