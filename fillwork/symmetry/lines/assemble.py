"""From what was measured to a `Symmetry` whose operations agree exactly.

The measured basis is replaced by the nearest one that the group keeps, and the
measured shifts by those of the table about the best origin; so the operations
form a group modulo the translations, to rounding.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.groups import rosette_group
from fillwork.symmetry.lines.frieze import NEEDS
from fillwork.symmetry.lines.lattice_fit import lattice_kind
from fillwork.symmetry.lines.table import ideal_basis
from fillwork.symmetry.lines.turning import reflection, rotation
from fillwork.symmetry.model import Candidate, Lattice, Operation, Symmetry

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.geometry.affine import Affine
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.frieze import StripFit
    from fillwork.symmetry.lines.lattice_fit import LatticeFit
    from fillwork.symmetry.lines.mirrors import RosetteFit
    from fillwork.symmetry.lines.plane import CosetFit
    from fillwork.symmetry.lines.table import Setting
    from fillwork.symmetry.model import Group

_IDENTITY = Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1)


def _about(linear: Floats, centre: Floats, shift: Floats | None = None) -> Affine:
    """Return x' = L (x - c) + c + t."""
    t = centre - linear @ centre
    if shift is not None:
        t = t + shift
    return (
        float(linear[0, 0]),
        float(linear[1, 0]),
        float(linear[0, 1]),
        float(linear[1, 1]),
        float(t[0]),
        float(t[1]),
    )


def plane_symmetry(
    evidence: Evidence,
    lattice: LatticeFit,
    setting: Setting,
    origin: Floats,
    fits: list[CosetFit],
    reasons: list[str],
    candidates: tuple[Candidate, ...],
    misfit: float,
    *,
    stated: bool = False,
) -> Symmetry:
    """Return a plane group with exact operations.

    `origin` (2,): the table's origin, fractional. `misfit`: how far measured shifts are
    from the table's, mm. `stated`: whether the user stated the group. Returns the
    result.
    """
    basis = lattice.basis
    ideal = ideal_basis(basis, setting.matrices)
    inverse = np.linalg.inv(ideal)
    window = evidence.window
    rows, columns = np.nonzero(window.depth > 0)
    heart = np.array([columns.mean() + 0.5, rows.mean() + 0.5]) * window.pixel
    # the origin nearest to the middle, where the measured basis errs least
    u = (heart + window.corner) @ np.linalg.inv(basis)
    centre = (origin + np.rint(u - origin)) @ basis
    rms = {f.matrix.tobytes(): f.rms for f in fits}
    operations = []
    for matrix, shift in zip(setting.matrices, setting.shifts, strict=True):
        linear = (inverse @ matrix @ ideal).T
        residual = rms.get(np.ascontiguousarray(matrix).tobytes(), 0.0)
        operations.append(_coset(linear, shift, ideal, centre, residual))
    residuals = [lattice.rms, misfit, *(o.residual for o in operations)]
    size = float(np.hypot(ideal[:, 0], ideal[:, 1]).min())
    slack = max(2 * lattice.rms / size, 1e-6)
    area = abs(float(np.linalg.det(ideal)))
    return Symmetry(
        group=setting.group,
        lattice=Lattice(ideal, lattice_kind(ideal, slack)),
        centre=(float(centre[0]), float(centre[1])),
        operations=tuple(operations),
        residual=max(residuals),
        certain=not reasons,
        reason="; ".join(reasons),
        candidates=candidates,
        repeats_seen=window.area / area,
        stated=stated,
    )


def _coset(
    linear: Floats, shift: Floats, basis: Floats, centre: Floats, residual: float
) -> Operation:
    """Return the plainest operation of a coset: no glide, nearest to the centre."""
    steps = [
        (shift + np.array(k)) @ basis
        for k in itertools.product((-2, -1, 0, 1), repeat=2)
    ]
    size = float(np.hypot(basis[:, 0], basis[:, 1]).max())
    if np.linalg.det(linear) > 0:
        angle = math.atan2(linear[1, 0], linear[0, 0])
        if abs(angle) < 1e-9:
            return _IDENTITY
        solve = np.linalg.inv(np.eye(2) - linear)
        step = min(steps, key=lambda s: round(float(np.hypot(*(solve @ s))) / size, 6))
        order = round(2 * math.pi / abs(angle))
        return Operation(_about(linear, centre, step), "rotation", order, residual)
    axis = math.atan2(linear[1, 0], linear[0, 0]) / 2
    along = np.array([math.cos(axis), math.sin(axis)])
    across = np.array([-along[1], along[0]])

    def plain(s: Floats) -> tuple[float, float, float]:
        return (
            round(abs(float(s @ along)) / size, 6),
            round(abs(float(s @ across)) / size, 6),
            -float(s @ along),
        )

    step = min(steps, key=plain)
    if abs(float(step @ along)) < 1e-6 * size:
        step = across * float(step @ across)
        return Operation(_about(linear, centre, step), "reflection", 2, residual)
    return Operation(_about(linear, centre, step), "glide", 0, residual)


def frieze_symmetry(
    evidence: Evidence,
    lattice: LatticeFit,
    strip: StripFit,
    group: Group,
    reason: str,
    *,
    stated: bool = False,
) -> Symmetry:
    """Return a frieze group with exact operations.

    `lattice`: how its translation fits. `reason`: why it is not certain. `stated`:
    whether the user stated the group. Returns the result.
    """
    vector = strip.vector
    size = float(np.hypot(*vector))
    along = vector / size
    if along[0] < -1e-9 or (abs(along[0]) <= 1e-9 and along[1] < 0):
        along, vector = -along, -vector
    angle = math.atan2(along[1], along[0])
    needs = NEEDS[group.short]
    fits = strip.operations
    centre = _centre_of_strip(strip, needs, evidence.samples.mean(axis=0), along, size)
    operations = [_IDENTITY]
    none = np.zeros(2)
    for name in needs:
        fit = fits[name]
        if name == "turn":
            made = _about(rotation(math.pi), centre)
            operations.append(Operation(made, "rotation", 2, fit.rms))
        elif name == "flip":
            step = vector / 2 if "glide" in needs else none
            made = _about(reflection(angle + math.pi / 2), centre, step)
            operations.append(Operation(made, "reflection", 2, fit.rms))
        elif name == "mirror":
            made = _about(reflection(angle), centre)
            operations.append(Operation(made, "reflection", 2, fit.rms))
        else:
            made = _about(reflection(angle), centre, vector / 2)
            operations.append(Operation(made, "glide", 0, fit.rms))
    share = min([lattice.share, *(fits[m].share for m in needs)])
    near = [Candidate(n, s, r, "weighed") for n, s, r in strip.near]
    extent = float(np.ptp(evidence.segments.reshape(-1, 2) @ along))
    return Symmetry(
        group=group,
        lattice=Lattice(vector[None, :].copy(), "line"),
        centre=(float(centre[0]), float(centre[1])),
        operations=tuple(operations),
        residual=max([lattice.rms, *(fits[m].rms for m in needs)]),
        certain=not reason,
        reason=reason,
        candidates=(Candidate(group.short, share, lattice.rms), *near),
        repeats_seen=extent / size,
        stated=stated,
    )


def _centre_of_strip(
    strip: StripFit, needs: tuple[str, ...], middle: Floats, along: Floats, size: float
) -> Floats:
    """Return the centre of a strip nearest the middle of its lines.

    `needs`: the operations of its group. `along`: unit vector, and `size`: length, mm,
    of its shift.
    """
    across = np.array([-along[1], along[0]])
    fits = strip.operations
    # the middle line from every operation that fixes it, the place from a centre
    levels = [float(fits[n].shift @ across) / 2 for n in needs if n != "flip"]
    level = float(np.mean(levels)) if levels else float(strip.centre @ across)
    place = float(middle @ along)
    for name in ("turn", "flip"):
        if name in needs:
            place = float(fits[name].shift @ along) / 2
            break
    if "flip" in needs and "turn" in needs:
        # the mirror is at a centre (p2mm) or a quarter period from it (p2mg)
        offset = size / 4 if "glide" in needs else 0.0
        other = float(fits["flip"].shift @ along) / 2 - offset
        place += 0.5 * _nearest(other - place, size / 2)
    place += round((float(middle @ along) - place) / (size / 2)) * (size / 2)
    return np.asarray(along * place + across * level)


def _nearest(value: float, period: float) -> float:
    return value - round(value / period) * period


def rosette_symmetry(fit: RosetteFit, *, stated: bool = False) -> Symmetry:
    """Return a rosette group with exact operations."""
    n = fit.n
    group = rosette_group(n, fit.mirror is not None)
    operations = [_IDENTITY]
    for k in range(1, n):
        linear = rotation(2 * math.pi * k / n)
        order = n // math.gcd(n, k)
        operations.append(
            Operation(_about(linear, fit.centre), "rotation", order, fit.rms)
        )
    if fit.mirror is not None:
        for k in range(n):
            linear = reflection(fit.mirror + math.pi * k / n)
            operations.append(
                Operation(_about(linear, fit.centre), "reflection", 2, fit.rms)
            )
    near = [Candidate(g, s, r, "weighed") for g, s, r in fit.near]
    return Symmetry(
        group=group,
        centre=(float(fit.centre[0]), float(fit.centre[1])),
        operations=tuple(operations),
        residual=fit.rms,
        certain=not fit.reason,
        reason=fit.reason,
        candidates=(Candidate(group.short, fit.share, fit.rms), *near),
        repeats_seen=float(n),
        stated=stated,
    )
