"""Which of the 7 frieze groups fits lines that repeat along a strip.

Half turns and mirrors are voted for by correlation of the lines with themselves
turned or mirrored: a crop may have taken off one side, so that the middle of what
is seen is not the middle of the strip. The best places are refined. Lines along
the strip that any shift keeps prove nothing and do not count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.lines.fit import (
    LADDER,
    LOOSER,
    MISSES,
    Images,
    refine_shifts,
    score_images,
)
from fillwork.symmetry.lines.turning import reflection, rotation

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator
    from fillwork.symmetry.lines.lattice_fit import LatticeFit

ACCEPT = 0.93
NEAR = 0.80
_FITTING = 0.85  # share of images matched by an operation whose products are tried
_ONE_LINE = 0.15  # how far middle lines may lie apart, in scales
_TRIED = 10  # shifts of an operation that are refined

UNCLOSED = "the operations that hold do not close as a group"
NO_MIDDLE = "the operations that hold have no middle line in common"
NEEDS: dict[str, tuple[str, ...]] = {
    "p1": (),
    "p11g": ("glide",),
    "p11m": ("mirror",),
    "p1m1": ("flip",),
    "p2": ("turn",),
    "p2mg": ("turn", "flip", "glide"),
    "p2mm": ("turn", "flip", "mirror"),
}

_SEEN = 0.6  # share of the lines that an operation must carry into the strip
_SMALL = 4_000  # samples, under which operations are tried step by step as well
_ROUNDS = (0.16, 0.16, 0.12, 0.08, 0.06)  # farthest misses that count, in scales
_LOOK = 600  # images by which a place is looked at first
_LOST = 0.65  # share of them matched, under which it is none
_STEPS = 40  # steps in a repeat at most


@dataclass(frozen=True, slots=True, eq=False)
class StripOperation:
    """Hold how one operation of a strip fits."""

    linear: Floats  # (2, 2): for columns
    shift: Floats  # (2,): x' = linear x + shift, mm
    share: float  # share and rms: matched / expected, and its miss in mm
    rms: float
    # the same where lines may miss by more, step by step
    looser: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class StripFit:
    """Hold the frieze group that lines show."""

    short: str  # IUC short name
    vector: Floats  # (2,): the translation, mm
    # (2,): centre of a half turn where there are any, on a mirror across where there
    # are any, else a point of the middle line; mm
    centre: Floats
    # ``turn``, ``flip`` (mirror across the strip), ``mirror`` and ``glide`` (along it),
    # as they fit
    operations: dict[str, StripOperation]
    reason: str  # why it is not sure
    near: tuple[tuple[str, float, float], ...]  # other groups with their share and rms


def _images(evidence: Evidence, rows: Ints, linear: Floats, shifts: Floats) -> Images:
    points = evidence.samples.take(rows, axis=0) @ linear.T
    directions = evidence.directions.take(rows, axis=0) @ linear.T
    count = len(shifts)
    return Images(
        np.tile(points, (count, 1)),
        np.tile(directions, (count, 1)),
        np.repeat(np.arange(count), len(rows)),
        np.ones(count * len(rows)),
        np.tile(rows, count),
        count,
    )


def _telling(evidence: Evidence, vector: Floats) -> Ints:
    """Return samples that chance shifts along the strip do not keep."""
    rows = evidence.thin(8000)
    rng = np.random.default_rng(5)
    shifts = rng.uniform(-1, 1, 24)[:, None] * vector
    images = _images(evidence, rows, np.eye(2), shifts)
    points = images.at(shifts)
    distance, _, _ = evidence.index.nearest(points, images.directions)
    seen = (evidence.window.depth_at(points) > 0).reshape(24, -1)
    hit = (distance <= 0.06 * evidence.scale).reshape(24, -1) & seen
    rate = hit.sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    # where nearly all lines run along the strip, those that are kept least
    limit = max(0.45, float(np.quantile(rate, 0.2)))
    telling: Ints = rows[rate <= limit]
    return telling


def _spread(
    evidence: Evidence,
    rows: Ints,
    operation: StripOperation,
    vector: Floats,
    level: int,
) -> StripOperation:
    """Return the operation refined and scored over several translations."""
    steps = np.arange(-3, 4)
    shifts = operation.shift + steps[:, None] * vector
    images = _images(evidence, rows, operation.linear, shifts)
    base = Images(
        images.points + (shifts - operation.shift)[images.owner],
        images.directions,
        np.zeros(len(images.owner), np.intp),
        images.sign,
        images.source,
        1,
    )
    inside = evidence.window.depth_at(base.at(operation.shift[None, :])) > 0
    # an axis beside the middle throws most of the lines out of the strip; those on
    # its rim, which are in it or not by the last bit, are not asked
    within = rows[evidence.window.depth_at(evidence.samples.take(rows, axis=0)) > 0]
    seen = np.isin(within, base.source[inside])
    if len(within) == 0 or seen.mean() < _SEEN:
        return StripOperation(operation.linear, operation.shift, 0.0, 0.0)
    base = base.take(inside)
    if len(base.owner) > 9000:
        base = base.take(np.arange(0, len(base.owner), len(base.owner) // 9000 + 1))
    start = operation.shift[None, :]
    # a quick look first: most places hold nothing, however much lines may miss
    if len(base.owner) > 4 * _LOOK:
        some = base.take(np.arange(0, len(base.owner), len(base.owner) // _LOOK))
        shift = refine_shifts(evidence, some, start, _ROUNDS)
        loosest = LADDER[: level + 1 + LOOSER][-1:]
        if score_images(evidence, some, shift, loosest).share[0, 0] < _LOST:
            return StripOperation(operation.linear, operation.shift, 0.0, 0.0)
    shift = refine_shifts(evidence, base, start, _ROUNDS)
    score = score_images(evidence, base, shift, LADDER[level : level + 1 + LOOSER])
    fits = list(zip(score.share[0].tolist(), score.rms[0].tolist(), strict=True))
    return StripOperation(operation.linear, shift[0], *fits[0], tuple(fits[1:]))


def _shifts(
    evidence: Evidence,
    correlator: Correlator,
    rows: Ints,
    linear: Floats,
    vector: Floats,
) -> Floats:
    """Return the shifts of an operation that most lines vote for, mm."""
    back = correlator.corner + np.array(correlator.shape[::-1]) * correlator.cell / 4
    points = (evidence.samples.take(rows, axis=0) - back) @ linear.T + back
    directions = evidence.directions.take(rows, axis=0) @ linear.T
    # an image outside the window is not expected, so none is welcome there
    seen = rows[evidence.window.depth_at(evidence.samples.take(rows, axis=0)) > 0]
    target = correlator.spectra(
        evidence.samples.take(seen, axis=0), evidence.directions.take(seen, axis=0)
    )
    doubt = 48.0
    share, expected = correlator.votes(points, directions, doubt, target)
    agree = share * (expected + np.float32(doubt))
    share = correlator.folded(agree, expected, vector, doubt, 0.4 * len(rows))
    shifts, _ = correlator.peaks(share, 40, 0.3)
    return np.asarray(shifts + back - linear @ back)


def find_strip(
    evidence: Evidence,
    correlator: Correlator,
    lattice: LatticeFit,
    vector: Floats,
    within: float = np.inf,
) -> StripFit:
    """Return the frieze group of lines that repeat by one vector.

    The group; ``p1`` when nothing but the translation holds. `lattice`: how well the
    translation holds. `vector` (2,): the translation, mm. `within`: how far from the
    middle the axis along the strip may lie, mm.
    """
    size = float(np.hypot(*vector))
    along = vector / size
    across = np.array([-along[1], along[0]])
    angle = math.atan2(along[1], along[0])
    rows = _telling(evidence, vector)
    few = rows[:: len(rows) // 2500 + 1]
    level = lattice.level
    operations: dict[str, StripOperation] = {}
    heights = evidence.samples @ across
    middle = 0.5 * float(heights.min() + heights.max())

    def attempt(name: str, shift: Floats) -> None:
        """Keep an operation if it fits better than what is known."""
        if name in operations and operations[name].share >= 1.0:
            return
        tried = StripOperation(trials[name], shift, 0.0, 0.0)
        tried = _spread(evidence, few, tried, vector, level)
        if name not in operations or tried.share > operations[name].share:
            operations[name] = tried

    trials = {
        "turn": rotation(math.pi),
        "flip": reflection(angle + math.pi / 2),
        "mirror": reflection(angle),
        "glide": reflection(angle),
    }
    # a mirror across shifts nothing across, one along shifts by half periods along
    slack = 1.5 * correlator.cell
    for name in ("turn", "flip", "mirror"):
        shifts = _shifts(evidence, correlator, rows, trials[name], vector)
        up, run = shifts @ across, 2 * (shifts @ along) / size
        if name != "flip":
            near = np.abs(0.5 * up - middle) <= within
            shifts, up, run = shifts[near], up[near], run[near]
        if name == "turn":
            for shift in shifts[:_TRIED]:
                attempt(name, shift)
        elif name == "flip":
            for shift in shifts[np.abs(up) < slack][:_TRIED]:
                attempt(name, along * float(shift @ along))
        else:
            kept = np.flatnonzero(np.abs(run - np.rint(run)) * size < 2 * slack)
            for k in kept[:_TRIED]:
                half = int(np.rint(run[k])) % 2
                named = ("mirror", "glide")[half]
                attempt(named, across * float(up[k]) + 0.5 * half * vector)
    for name, linear in trials.items():
        operations.setdefault(name, StripOperation(linear, np.zeros(2), 0.0, 0.0))
    for name in ("turn", "flip", "glide"):
        if operations[name].share < _FITTING and len(evidence.samples) <= _SMALL:
            for shift in _by_steps(evidence, few, trials[name], name, vector, middle):
                attempt(name, shift)
    if operations["mirror"].share < _FITTING and len(evidence.samples) <= _SMALL:
        attempt("mirror", 2.0 * middle * across)
    for name, shift in _products(operations, vector):
        attempt(name, shift)
    mean = evidence.samples.mean(axis=0)
    centre = mean + across * (middle - float(mean @ across))
    return _decide(evidence, lattice, vector, operations, centre)


def _by_steps(
    evidence: Evidence,
    rows: Ints,
    linear: Floats,
    name: str,
    vector: Floats,
    middle: float,
) -> Floats:
    """Return the best shifts of an operation, tried step by step along the strip.

    Few lines cast too few votes.
    """
    size = float(np.hypot(*vector))
    along = vector / size
    across = np.array([-along[1], along[0]])
    up = 0.0 if name == "flip" else 2.0 * middle
    if name == "glide":
        return (up * across + 0.5 * vector)[None, :]
    count = int(np.clip(np.ceil(size / (0.12 * evidence.scale)), 8, _STEPS))
    # where the operation, or one that differs by a translation, keeps the middle
    mean = evidence.samples.mean(axis=0)
    start = 2.0 * float(mean @ along)
    run = start + np.arange(count) * (size / count)
    shifts = run[:, None] * along + up * across
    few = rows[:: len(rows) // 400 + 1]
    images = _images(evidence, few, linear, shifts)
    share = score_images(evidence, images, shifts, LADDER[-1:]).share[:, 0]
    return np.asarray(shifts[np.argsort(-share, kind="stable")[:3]])


def _products(
    operations: dict[str, StripOperation], vector: Floats
) -> list[tuple[str, Floats]]:
    """Return what follows from operations that fit, where votes failed."""
    level = max(("mirror", "glide"), key=lambda n: operations[n].share)
    three = ("turn", "flip", level)
    found = []
    for third in three:
        a, b = (operations[n] for n in three if n != third)
        if min(a.share, b.share) < _FITTING or operations[third].share >= _FITTING:
            continue
        shift = a.linear @ b.shift + a.shift
        name = third
        if third == level:
            half = round(2 * float(shift @ vector) / float(vector @ vector)) % 2
            name = ("mirror", "glide")[half]
        found.append((name, shift))
    return found


def _decide(
    evidence: Evidence,
    lattice: LatticeFit,
    vector: Floats,
    operations: dict[str, StripOperation],
    centre: Floats,
) -> StripFit:
    accept = min(ACCEPT, lattice.share - 0.03)
    limit = 1.45 * lattice.rms + 0.004 * evidence.scale
    held = {n for n, o in operations.items() if o.share >= accept and o.rms <= limit}
    if {"mirror", "glide"} <= held:
        better = operations["mirror"].share >= operations["glide"].share
        held.discard("glide" if better else "mirror")
    reason = ""
    for name in {"mirror", "glide"} & held:
        # a half turn off the axis would make a translation across
        away = (operations["turn"].shift - operations[name].shift) @ np.array(
            [-vector[1], vector[0]]
        )
        off = abs(float(away)) / (2 * float(np.hypot(*vector)))
        if "turn" in held and off > _ONE_LINE * evidence.scale:
            better = operations["turn"].share >= operations[name].share
            held.discard(name if better else "turn")
            reason = NO_MIDDLE
    fitting = [n for n, needs in NEEDS.items() if set(needs) <= held]
    short = max(fitting, key=lambda n: len(NEEDS[n]))
    if set(NEEDS[short]) != held:
        reason = reason or UNCLOSED
    near = []
    close = MISSES * lattice.rms + 0.003 * evidence.scale
    for name, needs in NEEDS.items():
        more = set(needs) - set(NEEDS[short])
        if not more or not set(NEEDS[short]) <= set(needs):
            continue
        share = min(operations[m].share for m in more)
        rms = max(operations[m].rms for m in more)
        if share < NEAR and all(_nearly(operations[m], lattice, close) for m in more):
            near.append((name, share, rms))
            reason = reason or f"{name} fits nearly as well where lines may miss more"
        if share >= NEAR:
            near.append((name, share, rms))
            why = f"{name} fits {100 * share:.0f} % of the lines"
            if rms > limit:
                why += f", but they miss by {rms:.2g} mm, the shift's by "
                why += f"{lattice.rms:.2g} mm"
            reason = reason or why
    return StripFit(short, vector, centre, operations, reason, tuple(near))


def _nearly(operation: StripOperation, lattice: LatticeFit, close: float) -> bool:
    """Tell whether lines miss their images by little more than under the shift."""
    fits = ((operation.share, operation.rms), *operation.looser)
    least = min(ACCEPT, lattice.share - 0.03)
    return any(share >= least and rms <= close for share, rms in fits)
