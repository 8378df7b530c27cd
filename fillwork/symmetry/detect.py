"""Which symmetry the lines of a zone have: plane, frieze, rosette or none.

The lattice decides the family: two translations seen at least 1.3 times each
make a plane pattern, one makes a frieze, none leaves rosettes. Lines are the
evidence, those of cut regions too; a frame is none.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.symmetry.evidence import gather_evidence
from fillwork.symmetry.fit import (
    Correlator,
    Images,
    refine_shifts,
    score_images,
)
from fillwork.symmetry.groups import (
    LARGEST_ROSETTE,
    NO_GROUP,
    frieze_group,
    parse_group,
    rosette_group,
)
from fillwork.symmetry.lattice import find_lattice, lattice_kind, reduce_basis
from fillwork.symmetry.model import Candidate, Lattice, Operation, Symmetry
from fillwork.symmetry.plane import find_cosets, ideal_basis, match_table

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.geometry.affine import Affine
    from fillwork.symmetry.evidence import Evidence
    from fillwork.symmetry.lattice import LatticeFit
    from fillwork.symmetry.model import Group
    from fillwork.symmetry.plane import CosetFit, Setting

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

__all__ = ["describe", "find_symmetry"]

ACCEPT = 0.93
SEEN = 1.3


def find_symmetry(
    arrangement: Arrangement,
    faces: NDArray[np.int32] | None = None,
    *,
    stated: str | None = None,
    loose_lines: bool = True,
) -> Symmetry:
    """Find the symmetry of the lines that bound faces.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing.
    faces : ndarray of int32, optional
        The faces of one zone; all by default.
    stated : str, optional
        A group to hold, such as ``plane:p4m``, or ``none``.
    loose_lines : bool
        Whether lines that bound no face testify too.

    Returns
    -------
    Symmetry
        Group, translations, operations, and how sure that is.

    Raises
    ------
    SymmetryError
        If the stated group cannot be held.
    """
    wanted = None if stated is None else parse_group(stated)
    if wanted is not None and wanted.family == "none":
        return Symmetry(NO_GROUP, reason="stated", stated=True)
    evidence = gather_evidence(arrangement, faces, loose_lines=loose_lines)
    if evidence is None or len(evidence.samples) < 12:
        return _without("there are too few lines", wanted)
    correlator = Correlator(evidence)
    found: Symmetry | None = None
    lattice = find_lattice(evidence, correlator)
    if lattice is not None and lattice.rank == 2:
        rows = _rows_seen(evidence, lattice.basis)
        if min(rows) >= SEEN:
            found = _plane(evidence, lattice, wanted)
    if found is None and lattice is not None and lattice.share > 0.9:
        vector = _strip_vector(evidence, lattice)
        if vector is not None:
            found = _frieze(evidence, vector, lattice, wanted)
    if found is None:
        found = _rosette(evidence, correlator, wanted)
    if found is None:
        return _without(
            "no shift, turn or mirror carries the lines onto themselves", wanted
        )
    if wanted is not None and found.group != wanted:
        where = f"{wanted.family}:{wanted.short}"
        what = f"the lines do not hold this group; they show {found.group.short}"
        raise SymmetryError(what, where, "leave --symmetry out, or state a subgroup")
    return found


def _without(reason: str, wanted: Group | None) -> Symmetry:
    if wanted is not None:
        what = f"the drawing cannot hold this group: {reason}"
        where = f"{wanted.family}:{wanted.short}"
        raise SymmetryError(what, where, "leave --symmetry out, or state another group")
    return Symmetry(NO_GROUP, reason=reason)


def _rows_seen(evidence: Evidence, basis: Floats) -> tuple[float, float]:
    """Return how many repeats are seen across each basis vector."""
    u = evidence.samples @ np.linalg.inv(basis)
    extent = np.ptp(u, axis=0)
    return float(extent[0]), float(extent[1])


def _strip_vector(evidence: Evidence, lattice: LatticeFit) -> Floats | None:
    """Return the one translation of a strip, seen often enough."""
    best = None
    for vector in lattice.basis:
        length = float(np.hypot(*vector))
        along = vector / length
        extent = float(np.ptp(evidence.samples @ along))
        if extent / length >= 2 * SEEN and (best is None or length < np.hypot(*best)):
            best = np.asarray(vector)
    return best


def _affine(linear: Floats, centre: Floats, shift: Floats) -> Affine:
    """Return x' = L (x - c) + c + t."""
    t = centre + shift - linear @ centre
    return (
        float(linear[0, 0]),
        float(linear[1, 0]),
        float(linear[0, 1]),
        float(linear[1, 1]),
        float(t[0]),
        float(t[1]),
    )


def _kind(linear: Floats, shift: Floats, basis: Floats) -> tuple[str, int]:
    """Return kind and order of an operation, given modulo translations."""
    if np.linalg.det(linear) > 0:
        angle = math.atan2(linear[1, 0], linear[0, 0])
        if abs(angle) < 1e-9:
            return "identity", 1
        return "rotation", round(2 * math.pi / abs(angle))
    axis = math.atan2(linear[1, 0], linear[0, 0]) / 2
    along = np.array([math.cos(axis), math.sin(axis)])
    steps = np.array([[i, j] for i in range(-2, 3) for j in range(-2, 3)])
    glide = np.abs((steps[:, : len(basis)] @ basis + shift) @ along)
    size = float(np.hypot(basis[:, 0], basis[:, 1]).max())
    if float(glide.min()) < 1e-6 * size:
        return "reflection", 2
    return "glide", 0


def _accepted(
    fits: list[list[CosetFit]], lattice: LatticeFit, scale: float
) -> list[CosetFit]:
    limit = 1.45 * lattice.rms + 0.0015 * scale
    chosen = [f[lattice.level] for f in fits]
    return [
        f for f in chosen if f.share >= ACCEPT and f.rms <= limit and f.failing < 0.1
    ]


def _plane(
    evidence: Evidence, lattice: LatticeFit, wanted: Group | None
) -> Symmetry | None:
    basis = reduce_basis(lattice.basis)
    scale = evidence.scale
    _, fits = find_cosets(evidence, basis, max(3 * lattice.rms, 0.02 * scale))
    held = _accepted(fits, lattice, scale)
    reason = ""
    names = None if wanted is None else (wanted.short,)
    if wanted is not None:
        held = [f[lattice.level] for f in fits]
    row = match_table(held, basis, names)
    while row is None and held and wanted is None:
        reason = "the operations that hold do not close as a group"
        held = sorted(held, key=lambda f: -f.share)[:-1]
        row = match_table(held, basis)
    if row is None:
        if wanted is not None:
            return None
        reason = reason or "no table group fits"
        row = match_table([], basis)
    if row is None:
        return None
    setting, origin, misfit, _ = row
    used = {tuple(int(v) for v in m.ravel()) for m in setting.matrices}
    fit_of = {
        tuple(int(v) for v in f[lattice.level].matrix.ravel()): f[lattice.level]
        for f in fits
    }
    rejected = [f for key, f in fit_of.items() if key not in used]
    near = [f for f in rejected if 0.8 <= f.share < ACCEPT]
    if lattice.weakest < 6:
        reason = reason or "too few lines testify to one of the shifts"
    elif near:
        best = max(near, key=lambda f: f.share)
        reason = (
            reason or f"another operation fits {100 * best.share:.0f} % of the lines"
        )
    elif lattice.share < 0.95:
        reason = reason or f"the shifts fit {100 * lattice.share:.0f} % of the lines"
    symmetry = _plane_symmetry(evidence, basis, setting, origin, fit_of)
    return Symmetry(
        group=setting.group,
        lattice=symmetry[0],
        centre=symmetry[1],
        operations=symmetry[2],
        residual=max(lattice.rms, misfit, *(o.residual for o in symmetry[2])),
        certain=not reason,
        reason=reason,
        candidates=_candidates(setting.group.short, lattice, near),
        repeats_seen=_repeats(evidence, basis),
        stated=wanted is not None,
    )


def _candidates(
    short: str, lattice: LatticeFit, near: list[CosetFit]
) -> tuple[Candidate, ...]:
    found = [Candidate(short, lattice.share, lattice.rms)]
    if near:
        best = max(near, key=lambda f: f.share)
        larger = "a larger group"
        found.append(Candidate(larger, best.share, best.rms, "fits too few lines"))
    return tuple(found)


def _repeats(evidence: Evidence, basis: Floats) -> float:
    window = evidence.window
    area = float((window.depth > 0).sum()) * window.pixel**2
    return area / abs(float(np.linalg.det(basis)))


def _plane_symmetry(
    evidence: Evidence,
    basis: Floats,
    setting: Setting,
    origin: Floats,
    fit_of: dict[tuple[int, ...], CosetFit],
) -> tuple[Lattice, tuple[float, float], tuple[Operation, ...]]:
    ideal = ideal_basis(basis, setting.matrices)
    middle = np.median(evidence.samples, axis=0) @ np.linalg.inv(basis)
    centre = (origin + np.rint(middle - origin)) @ basis
    inverse = np.linalg.inv(ideal)
    operations = []
    for matrix, shift in zip(setting.matrices, setting.shifts, strict=True):
        linear = (inverse @ matrix @ ideal).T
        step = (shift - np.rint(shift)) @ ideal
        kind, order = _kind(linear, step, ideal)
        fit = fit_of.get(tuple(int(v) for v in matrix.ravel()))
        residual = 0.0 if fit is None else fit.rms
        operations.append(
            Operation(_affine(linear, centre, step), kind, order, residual)
        )
    kind = setting.group.lattice_kind
    if kind == "oblique":
        kind = lattice_kind(ideal, 1e-6)
    return (
        Lattice(ideal, kind),
        (float(centre[0]), float(centre[1])),
        tuple(operations),
    )


def _images(
    evidence: Evidence, rows: Ints, hypotheses: list[tuple[Floats, Floats]]
) -> tuple[Images, Floats]:
    points = [evidence.samples[rows] @ linear.T for linear, _ in hypotheses]
    directions = [evidence.directions[rows] @ linear.T for linear, _ in hypotheses]
    count = len(hypotheses)
    images = Images(
        np.concatenate(points),
        np.concatenate(directions),
        np.repeat(np.arange(count), len(rows)),
        np.ones(count * len(rows)),
        np.tile(rows, count),
        count,
    )
    return images, np.array([shift for _, shift in hypotheses])


def _best(
    evidence: Evidence, rows: Ints, hypotheses: list[tuple[Floats, Floats]], level: int
) -> tuple[Floats, Floats, float, float]:
    """Return linear part, shift, share and rms of the best hypothesis, refined."""
    few = rows[:: max(1, len(rows) // 400)]
    images, shifts = _images(evidence, few, hypotheses)
    rough = score_images(evidence, images, shifts, (0.3,)).share[:, 0]
    top = np.argsort(-rough, kind="stable")[:6]
    chosen = [hypotheses[k] for k in top]
    images, shifts = _images(evidence, rows, chosen)
    shifts = refine_shifts(evidence, images, shifts, (0.3, 0.2, 0.12, 0.08, 0.06))
    scores = score_images(evidence, images, shifts)
    k = int(np.argmax(scores.share[:, level]))
    return (
        chosen[k][0],
        shifts[k],
        float(scores.share[k, level]),
        float(scores.rms[k, level]),
    )


def _reflection(angle: float) -> Floats:
    c, s = math.cos(2 * angle), math.sin(2 * angle)
    return np.array([[c, s], [s, -c]])


def _rotation(angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s], [s, c]])


def _frieze(
    evidence: Evidence, vector: Floats, lattice: LatticeFit, wanted: Group | None
) -> Symmetry | None:
    length = float(np.hypot(*vector))
    along = vector / length
    across = np.array([-along[1], along[0]])
    middle = evidence.samples.mean(axis=0)
    span = evidence.samples @ across
    centre: Floats = middle + across * (
        0.5 * (span.min() + span.max()) - middle @ across
    )
    rows = evidence.thin(2500)
    level = max(lattice.level, 1)
    angle = math.atan2(along[1], along[0])
    steps = [k / 96 * vector for k in range(96)]
    turn, flip, keep = (
        _rotation(math.pi),
        _reflection(angle + math.pi / 2),
        _reflection(angle),
    )

    def fixed(linear: Floats, extra: Floats) -> tuple[Floats, Floats]:
        return linear, centre - linear @ centre + extra

    trials = {
        "turn": [fixed(turn, s) for s in steps],
        "flip": [fixed(flip, s) for s in steps],
        "mirror": [fixed(keep, np.zeros(2))],
        "glide": [fixed(keep, vector / 2)],
    }
    fits = {name: _best(evidence, rows, h, level) for name, h in trials.items()}
    limit = 1.6 * lattice.rms + 0.006 * evidence.scale
    held = {n for n, f in fits.items() if f[2] >= ACCEPT and f[3] <= limit}
    reason = ""
    if "mirror" in held:
        short = "p2mm" if {"turn", "flip"} <= held else "p11m"
    elif "glide" in held:
        short = "p2mg" if {"turn", "flip"} <= held else "p11g"
    elif "flip" in held:
        short = "p1m1"
    else:
        short = "p2" if "turn" in held else "p1"
    near = [n for n, f in fits.items() if n not in held and 0.8 <= f[2] < ACCEPT]
    if near:
        reason = "another operation nearly fits"
    if lattice.weakest < 6:
        reason = reason or "too few lines testify to the shift"
    group = frieze_group(short)
    if wanted is not None:
        if wanted.family != "frieze":
            return None
        group, reason = wanted, ""
    needs = {
        "p1": (),
        "p11g": ("glide",),
        "p11m": ("mirror",),
        "p1m1": ("flip",),
        "p2": ("turn",),
        "p2mg": ("turn", "flip", "glide"),
        "p2mm": ("turn", "flip", "mirror"),
    }[group.short]
    centre, operations = _frieze_operations(needs, fits, vector, along, across, centre)
    return Symmetry(
        group=group,
        lattice=Lattice(np.array([vector]), "line"),
        centre=(float(centre[0]), float(centre[1])),
        operations=operations,
        residual=max([lattice.rms, *(fits[n][3] for n in needs)]),
        certain=not reason,
        reason=reason,
        candidates=(Candidate(group.short, lattice.share, lattice.rms),),
        repeats_seen=float(np.ptp(evidence.samples @ along)) / length,
        stated=wanted is not None,
    )


def _frieze_operations(
    needs: tuple[str, ...],
    fits: dict[str, tuple[Floats, Floats, float, float]],
    vector: Floats,
    along: Floats,
    across: Floats,
    centre: Floats,
) -> tuple[Floats, tuple[Operation, ...]]:
    """Return a centre and operations that agree with each other exactly."""
    eye = np.eye(2)
    at = centre.copy()
    if "turn" in needs:
        at = np.linalg.solve(eye - fits["turn"][0], fits["turn"][1])
        away = round(float((centre - at) @ vector / (vector @ vector)) * 2) / 2
        at = at + away * vector
    else:
        for name, axis in (("flip", along), ("mirror", across), ("glide", across)):
            if name in needs:
                linear, shift, *_ = fits[name]
                place = float(shift @ axis) / 2
                if name == "flip":
                    size = float(vector @ axis)
                    place += round((float(centre @ axis) - place) / size * 2) / 2 * size
                at = at + axis * (place - float(at @ axis))
    operations = [Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1)]
    for name in needs:
        linear, residual = fits[name][0], fits[name][3]
        step = np.zeros(2)
        if name == "glide" or (name == "flip" and "glide" in needs):
            step = vector / 2
        kind = {"turn": "rotation", "glide": "glide"}.get(name, "reflection")
        order = 0 if name == "glide" else 2
        operations.append(Operation(_affine(linear, at, step), kind, order, residual))
    return at, tuple(operations)


def _rosette(
    evidence: Evidence, correlator: Correlator, wanted: Group | None
) -> Symmetry | None:
    centres = [evidence.samples.mean(axis=0)]
    for prime in (2, 3, 5, 7):
        linear = _rotation(2 * math.pi / prime)
        share, _ = correlator.votes(
            evidence.samples @ linear.T, evidence.directions @ linear.T, 64.0
        )
        shifts, _ = correlator.peaks(share, 1, 0.3)
        centres.extend(np.linalg.solve(np.eye(2) - linear, s) for s in shifts)
    best: tuple[int, Floats, Ints, int] | None = None
    for centre in centres:
        rows = _telling(evidence, centre)
        if len(rows) < 24:
            continue
        for level in (1, 2, 3):
            n, at = _turns(evidence, rows, centre, level)
            if n > 1:
                if best is None or n > best[0]:
                    best = (n, at, rows, level)
                break
    if best is None:
        return _one_mirror(evidence, wanted)
    n, centre, rows, level = best
    mirror = _mirror(evidence, rows, centre, n, level)
    group = rosette_group(n, mirror is not None)
    if wanted is not None and wanted.family == "rosette":
        order = int(wanted.short[1:])
        if n % order == 0 and (wanted.short[0] == "C" or mirror is not None):
            group, n = wanted, order
    mirrored = group.short.startswith("D") and mirror is not None
    operations = []
    for k in range(n):
        linear = _rotation(2 * math.pi * k / n)
        kind = "rotation" if k else "identity"
        order = n // math.gcd(n, k) if k else 1
        operations.append(Operation(_affine(linear, centre, np.zeros(2)), kind, order))
    if mirrored and mirror is not None:
        for k in range(n):
            linear = _reflection(mirror + math.pi * k / n)
            operations.append(
                Operation(_affine(linear, centre, np.zeros(2)), "reflection", 2)
            )
    return Symmetry(
        group=group,
        centre=(float(centre[0]), float(centre[1])),
        operations=tuple(operations),
        candidates=(Candidate(group.short, 1.0, 0.0),),
        repeats_seen=float(n),
        stated=wanted is not None,
    )


def _about(linear: Floats, centre: Floats) -> tuple[Floats, Floats]:
    return linear, centre - linear @ centre


def _telling(evidence: Evidence, centre: Floats) -> Ints:
    """Return samples that a random turn about the centre does not keep."""
    rows = evidence.thin(2500)
    rng = np.random.default_rng(3)
    turns = [_about(_rotation(a), centre) for a in rng.uniform(0.1, 6.1, 16)]
    rate = np.zeros(len(rows))
    for linear, shift in turns:
        distance, _, _ = evidence.index.nearest(
            evidence.samples[rows] @ linear.T + shift,
            evidence.directions[rows] @ linear.T,
        )
        rate += (distance <= 0.06 * evidence.scale) / len(turns)
    return rows[rate < 0.5]


def _turns(
    evidence: Evidence, rows: Ints, centre: Floats, level: int
) -> tuple[int, Floats]:
    """Return the highest rotation that holds about a centre near the given one."""
    best, at = 1, centre
    for n in (2, 3, 5, 7, 11, 13):
        linear, shift, share, _ = _best(
            evidence, rows, [_about(_rotation(2 * math.pi / n), centre)], level
        )
        if share >= ACCEPT:
            at = np.linalg.solve(np.eye(2) - linear, shift)
            best = n
            break
    if best == 1:
        return 1, centre
    numbers = range(2, LARGEST_ROSETTE + 1)
    images, shifts = _images(
        evidence,
        rows[:: max(1, len(rows) // 800)],
        [_about(_rotation(2 * math.pi / n), at) for n in numbers],
    )
    shares = score_images(evidence, images, shifts).share[:, level]
    radial = [n for n, s in zip(numbers, shares, strict=True) if s >= ACCEPT]
    return (max(radial), at) if radial else (best, at)


def _mirror(
    evidence: Evidence, rows: Ints, centre: Floats, n: int, level: int
) -> float | None:
    """Return the angle of a mirror through the centre, or None."""
    few = rows[:: max(1, len(rows) // 500)]
    # a little more than one period, so that no optimum lies on its ends
    low, high = -0.13 * math.pi / n, 1.07 * math.pi / n
    angle = 0.0
    for tolerance, steps in ((0.1, 240), (0.05, 24), (0.03, 24), (0.015, 24)):
        angles = np.linspace(low, high, steps)
        images, shifts = _images(
            evidence, few, [_about(_reflection(float(a)), centre) for a in angles]
        )
        share = score_images(evidence, images, shifts, (tolerance,)).share[:, 0]
        top = np.flatnonzero(share >= share.max() - 1e-9)
        runs = np.split(top, np.flatnonzero(np.diff(top) > 1) + 1)
        run = max(runs, key=len)
        angle = float(angles[run].mean())
        width = (high - low) / steps * (1 + len(run) / 2)
        low, high = angle - width, angle + width
    images, shifts = _images(evidence, rows, [_about(_reflection(angle), centre)])
    share = score_images(evidence, images, shifts).share[0, level]
    return angle if share >= ACCEPT else None


def _one_mirror(evidence: Evidence, wanted: Group | None) -> Symmetry | None:
    centre = evidence.samples.mean(axis=0)
    rows = evidence.thin(2500)
    for level in (1, 2, 3):
        angle = _mirror(evidence, rows, centre, 1, level)
        if angle is None:
            continue
        identity = Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1)
        linear = _reflection(angle)
        mirror = Operation(_affine(linear, centre, np.zeros(2)), "reflection", 2)
        return Symmetry(
            group=rosette_group(1, True),
            centre=(float(centre[0]), float(centre[1])),
            operations=(identity, mirror),
            candidates=(Candidate("D1", 1.0, 0.0),),
            repeats_seen=1.0,
            stated=wanted is not None,
        )
    return None


_ROTATIONS = {2: "half turns", 3: "third turns", 4: "quarter turns", 6: "sixth turns"}


def describe(symmetry: Symmetry) -> str:
    """Say a symmetry in one plain sentence.

    Parameters
    ----------
    symmetry : Symmetry
        What was found.

    Returns
    -------
    str
        Such as ``repeats every 84 mm two ways at 90°; quarter turns; mirrors``.
    """
    group = symmetry.group
    if group.family == "none":
        return "no symmetry: " + (symmetry.reason or "regions alike in shape match")
    kinds = {o.kind for o in symmetry.operations}
    turns = max(
        (o.order for o in symmetry.operations if o.kind == "rotation"), default=1
    )
    parts = []
    if group.family == "rosette":
        where = "about one centre"
        n = len([o for o in symmetry.operations if o.kind in ("identity", "rotation")])
        parts.append(f"{n}-fold turns {where}" if n > 1 else "one mirror")
        if "reflection" in kinds and n > 1:
            parts.append(f"{n} mirrors through it")
        return "; ".join(parts)
    lattice = symmetry.lattice
    if lattice is not None:
        lengths = np.hypot(lattice.basis[:, 0], lattice.basis[:, 1])
        if len(lengths) == 1:
            parts.append(f"repeats every {lengths[0]:.1f} mm along the strip")
        else:
            cosine = lattice.basis[0] @ lattice.basis[1] / lengths.prod()
            angle = math.degrees(math.acos(float(np.clip(cosine, -1, 1))))
            if abs(lengths[0] - lengths[1]) < 5e-4 * lengths[0]:
                parts.append(
                    f"repeats every {lengths[0]:.1f} mm two ways at {angle:.0f}°"
                )
            else:
                parts.append(
                    f"repeats every {lengths[0]:.1f} mm and {lengths[1]:.1f} mm "
                    f"at {angle:.0f}°"
                )
    if turns > 1:
        parts.append(_ROTATIONS[turns])
    if "reflection" in kinds:
        parts.append("mirrors")
    if "glide" in kinds:
        parts.append("glides")
    return "; ".join(parts)
