"""Rosettes: turns about one centre, and mirrors through it.

Centres are voted for by correlation of the lines with themselves turned by
360°/p for small primes p (by the multiple of it nearest to a half turn), and by
the middle of the lines. About a centre every order from 2 to 64 is scored at
once, and those up to 360 of which a quick look finds signs. Lines that any turn
keeps, such as circles about the centre, prove nothing and do not count. An order
must hold in each of six rings of equal evidence, so that a rich middle does not
speak for the rest; and a detail that all images of one place lack speaks against an
order, however few lines it has.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.symmetry.groups import LARGEST_ROSETTE
from fillwork.symmetry.lines.centres import cut_figures, refine_centre, voted_centres
from fillwork.symmetry.lines.evidence import REACH
from fillwork.symmetry.lines.fit import FEW_SAMPLES, LADDER
from fillwork.symmetry.lines.mirrors import (
    ACCEPT,
    RING,
    RosetteFit,
    best_mirror,
    find_mirror,
    hold_mirror,
)
from fillwork.symmetry.lines.turning import (
    ALWAYS,
    PARTS,
    TELLING,
    Carried,
    about,
    least_seen,
    rotation,
    telling_samples,
    turned_by_all,
    widened,
)

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints
    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator

NEAR = 0.80  # share of the images, from which an order is weighed
PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61)
LARGE_PRIMES = tuple(
    p for p in range(ALWAYS + 1, LARGEST_ROSETTE + 1) if all(p % q for q in PRIMES)
)
# orders that are looked for where half of a figure is cut off, and half turns with it
CUT_ORDERS = tuple(sorted({*PRIMES, 4, 8, 9, 16}))
_FINE = 2  # step of the ladder at which turns that small are looked for
_HELD = 3  # step at which a stated group is held to the lines
_SAME = 1e-9  # scales by which the same centre is another through rounding
_LACKING = 0.002  # share of the lines whose images all lack a line, that breaks a group
# up to which an order that fits nearly all lines is weighed, where lines stray so far
_DETAIL, _WHOLLY, _STRAYING = 0.005, 0.985, 0.002


_Climbed = list[tuple["Floats", RosetteFit | None]]


class _Orders(NamedTuple):
    """Hold which orders of turns about a centre hold."""

    held: list[int]
    broken: list[int]  # by a detail
    # of each order: share matched, the same in the weakest ring, and rms, mm
    share: dict[int, float]
    weakest: dict[int, float]
    rms: dict[int, float]

    def larger(self, n: int) -> int | None:
        """Return the least multiple of an order that nearly holds."""
        for m, share in self.share.items():
            multiple = m > n and m % n == 0 and m not in self.held
            near = share >= NEAR and self.weakest[m] > 0.5
            if multiple and near and all(m % b for b in self.broken):
                return m
        return None


def _orders(carried: Carried, numbers: tuple[int, ...], level: int) -> _Orders:
    """Return which orders of turns hold at a step of the ladder."""
    evidence, rows, centre = carried.evidence, carried.rows, carried.centre
    share, weakest, rms, total = carried.scores(level)
    enough = total >= least_seen(evidence) * len(rows)
    # a turn that hardly moves the lines proves nothing
    radius = float(
        np.median(np.hypot(*(evidence.samples.take(rows, axis=0) - centre).T))
    )
    moved = 2 * math.pi * radius / np.array(numbers)
    enough &= moved > 6 * LADDER[level] * evidence.scale
    holds = (share >= ACCEPT) & (weakest >= RING) & enough
    passing = {n for n, h in zip(numbers, holds, strict=True) if h}
    # an order is there when all its divisors are, if a cut figure shows their turns
    unseen = total < least_seen(evidence) * len(rows)
    hidden = {n for n, out in zip(numbers, unseen, strict=True) if out}
    closed: list[int] = []
    broken: list[int] = []
    share = share * enough
    for k, n in enumerate(numbers):
        below = [d for d in range(2, n) if n % d == 0]
        if not enough[k] or not all(d in closed or d in hidden for d in below):
            continue
        # no multiple comes near either: whether a detail breaks it is all one
        near = (m for m, s in zip(numbers, share, strict=True) if s >= NEAR)
        if all(m % n for m in near):
            continue
        # what is in every repeat of a smaller order and in no image is no fault
        known = [d for d in below if d in closed]
        lacking = carried.lacking(k, known[-1], level) if known else 0.0
        if lacking > max(_LACKING, 0.25 * (1 - share[k])):
            broken.append(n)
        elif n in passing:
            closed.append(n)
    scores = (share.tolist(), weakest.tolist(), rms.tolist())
    of = [dict(zip(numbers, score, strict=True)) for score in scores]
    return _Orders(closed, broken, *of)


def _numbers(evidence: Evidence, centre: Floats, rows: Ints) -> tuple[int, ...]:
    """Return the orders that are worth scoring, ascending."""
    few = rows[:: max(1, len(rows) // 250)]
    away = evidence.samples.take(few, axis=0) - centre
    radius = float(np.median(np.hypot(away[:, 0], away[:, 1])))
    # turns that hardly move the lines prove nothing
    moved = 2 * math.pi * radius / (6 * LADDER[_FINE] * evidence.scale)
    large = range(ALWAYS + 1, min(LARGEST_ROSETTE, int(moved)) + 1)
    left = list(large)
    for part in PARTS:
        # turns by parts of other orders may come close once, not each time
        if left:
            carried = turned_by_all(evidence, centre, few, _FINE, left, part)
            share, _, _, seen = carried.scores(_FINE)
            holds = (share >= NEAR) & (seen >= least_seen(evidence) * len(few))
            left = [n for n, h in zip(left, holds, strict=True) if h]
    found = {d for n in left for d in range(ALWAYS + 1, n + 1) if n % d == 0}
    return (*range(2, ALWAYS + 1), *sorted(found))


def find_rosette(
    evidence: Evidence, correlator: Correlator, *, thorough: bool = True
) -> RosetteFit | None:
    """Return the rosette group that the lines show.

    None when no turn and no mirror holds. `thorough`: whether rare orders and a single
    mirror are looked for too.
    """
    evidence = widened(evidence)
    middle = evidence.samples.mean(axis=0)
    window = evidence.window
    rows, columns = np.nonzero(window.depth > 0)
    if len(rows) == 0:
        return None
    heart = np.array([columns.mean(), rows.mean()]) + 0.5
    guesses = (middle, heart * window.pixel + window.corner)
    best: RosetteFit | None = None
    climbed: _Climbed = []
    centres: list[tuple[Floats, tuple[int, ...]]]
    for stage in range(3 if thorough else 2):
        if stage == 0:
            centres = [(guess, PRIMES) for guess in guesses]
            centres += [(guess, LARGE_PRIMES) for guess in guesses]
        elif stage == 1:
            centres = voted_centres(evidence, correlator, PRIMES[:4])
        else:
            big = len(evidence.samples) > 2 * FEW_SAMPLES
            centres = voted_centres(
                evidence, correlator, PRIMES[4 : 8 if big else None]
            )
        for centre, primes in centres:
            fit = _try_centre(evidence, centre, primes, climbed)
            if fit is not None and _is_better(evidence, fit, best):
                best = fit
        if stage == 0:
            for centre, beside in cut_figures(evidence):
                fit = _try_centre(beside, centre, CUT_ORDERS, [])
                if fit is not None and _is_better(evidence, fit, best):
                    best = fit
        if best is not None and not best.reason:
            break
    if best is None and thorough:
        return find_mirror(evidence, correlator)
    return best


def stands_free(evidence: Evidence, fit: RosetteFit) -> bool:
    """Tell whether a rosette is surely one, and the whole of the drawing.

    True when its turns carry the whole drawing, outline and all, onto itself.
    """
    wide = widened(evidence)
    linear, shift = about(rotation(2 * math.pi / fit.n), fit.centre)
    inside = wide.window.depth_at(evidence.samples @ linear.T + shift) > 0
    return not fit.reason and fit.share >= 0.985 and bool(inside.mean() >= 0.985)


def _worth(fit: RosetteFit) -> tuple[bool, int, float]:
    return not fit.reason, fit.n * (1 if fit.mirror is None else 2), fit.share


def _is_better(evidence: Evidence, fit: RosetteFit, best: RosetteFit | None) -> bool:
    """Tell which of two fits is worth more; of one centre, the one that is closer."""
    if best is None:
        return True
    near = float(np.hypot(*(fit.centre - best.centre))) < REACH * evidence.scale
    if near and fit.n == best.n and fit.level != best.level:
        return _closely(fit) > _closely(best)
    return _worth(fit) > _worth(best)


def _closely(fit: RosetteFit) -> tuple[bool, int, int]:
    return not fit.reason, -fit.level, fit.n


def _try_centre(
    evidence: Evidence, centre: Floats, primes: tuple[int, ...], climbed: _Climbed
) -> RosetteFit | None:
    """Return the group about a centre that turns of some prime order speak for.

    Whatever the order of a rosette, turns of its prime divisors keep it. Centres that
    were reached are noted in `climbed`: several ways lead to one.
    """
    # a quick look first: most centres hold nothing
    rows = evidence.thin(250)
    loosest = len(LADDER) - 1
    if primes[0] > ALWAYS:
        loosest = _FINE
        reach = float(
            np.median(np.hypot(*(evidence.samples.take(rows, axis=0) - centre).T))
        )
        most = 2 * math.pi * reach / (6 * LADDER[_FINE] * evidence.scale)
        primes = tuple(p for p in primes if p <= most)
        if not primes:
            return None
    share, _, _, seen = turned_by_all(evidence, centre, rows, loosest, primes).scores(
        loosest
    )
    share[seen < 0.5 * least_seen(evidence) * len(rows)] = 0.0
    if share.max() < 0.5:
        return None
    rows = telling_samples(evidence, centre, 250)
    if len(rows) < TELLING:
        return None
    share, _, _, seen = turned_by_all(evidence, centre, rows, loosest, primes).scores(
        loosest
    )
    share[seen < least_seen(evidence) * len(rows)] = 0.0
    top = np.argsort(-share, kind="stable")[:2]
    if share[top[0]] < 0.6:
        return None
    rows = telling_samples(evidence, centre)
    few = rows[:: max(1, len(rows) // 500)]
    best: RosetteFit | None = None
    # of a cut figure two orders may be near: the one that fits more closely is its own
    worth = _closely if primes is CUT_ORDERS else _worth
    for n in (primes[k] for k in top if share[k] >= 0.6):
        at = refine_centre(evidence, few, centre, n)
        at = refine_centre(evidence, rows, at, n)
        fit = _reached(evidence, at, climbed)
        if fit is not None and (best is None or worth(fit) > worth(best)):
            best = fit
    return best


def _reached(
    evidence: Evidence, centre: Floats, climbed: _Climbed
) -> RosetteFit | None:
    """Return the group about a centre, that of one which was looked at if it is it."""
    for known, fit in climbed:
        if float(np.hypot(*(centre - known))) <= _SAME * evidence.scale:
            return fit
    fit = _climb(evidence, centre)
    climbed.append((centre, fit))
    return fit


def _climb(evidence: Evidence, centre: Floats) -> RosetteFit | None:
    """Return the group about a centre, at the first sure step of the ladder."""
    rows = telling_samples(evidence, centre)
    if len(rows) < TELLING:
        return None
    found: RosetteFit | None = None
    # of a few lines, some agree better than others by chance: two that cross are a D2
    # without any miss, however square they were meant
    pieces = len(np.unique(evidence.piece[rows]))
    spread = 1.45 + 6.0 / pieces
    chance = (0.004 + 0.02 / pieces) * evidence.scale
    numbers = _numbers(evidence, centre, rows)
    carried = turned_by_all(evidence, centre, rows, len(LADDER) - 1, numbers)
    for level in range(len(LADDER)):
        orders = _orders(carried, numbers, level)
        share, rms = orders.share, orders.rms
        if not orders.held:
            continue
        limit = spread * min(rms[n] for n in orders.held) + chance
        n = max(m for m in orders.held if rms[m] <= limit)
        sure = found is not None and not found.reason
        if found is not None and sure and (n == found.n or n % found.n):
            break
        mirror = best_mirror(evidence, rows, centre, n, level)
        torn = mirror.lacking > max(_LACKING, 0.25 * (1 - mirror.share))
        has = (
            mirror.share >= ACCEPT
            and mirror.weakest >= RING
            and mirror.rms <= spread * rms[n] + chance
            and not torn
        )
        letter = "D" if has else "C"
        near: list[tuple[str, float, float]] = []
        doubts: list[str] = []
        m = orders.larger(n)
        if m is not None:
            near.append((f"{letter}{m}", share[m], rms[m]))
            doubts.append(f"turns by 1/{m} fit {100 * share[m]:.0f} % of the lines")
        # where corners stray, an end that runs past its line is no design
        for m in [m for m in orders.broken if m % n == 0 and share[m] >= _WHOLLY]:
            lacks = carried.lacking(numbers.index(m), n, level)
            if lacks <= _DETAIL and rms[m] > _STRAYING * evidence.scale:
                near.append((f"{letter}{m}", 1 - lacks, rms[m]))
                doubts.append(f"turns by 1/{m} fit all but a detail of the lines")
        if not has and not torn and mirror.share >= NEAR and mirror.weakest > 0.5:
            near.append((f"D{n}", mirror.share, mirror.rms))
            doubts.append(f"mirrors fit {100 * mirror.share:.0f} % of the lines")
        if found is None or not doubts:
            found = RosetteFit(
                n,
                mirror.angle if has else None,
                centre,
                level,
                min(share[n], mirror.share if has else 1.0),
                max(rms[n], mirror.rms if has else 0.0),
                doubts[0] if doubts else "",
                tuple(near),
            )
        elif sure:
            break
    return found


def hold_rosette(
    evidence: Evidence, correlator: Correlator, n: int, mirrors: bool
) -> RosetteFit | None:
    """Return how well a stated rosette group fits.

    The best centre with the share that fits; None without a centre. `n`: order of the
    rotation, from 1.
    """
    evidence = widened(evidence)
    if n == 1:
        best = hold_mirror(evidence, correlator, _HELD)
    else:
        best = _hold_turns(evidence, correlator, n, mirrors)
    if best is not None and best.share < ACCEPT:
        best = replace(best, reason=f"it fits {100 * best.share:.0f} % of the lines")
    return best


def _hold_turns(
    evidence: Evidence, correlator: Correlator, n: int, mirrors: bool
) -> RosetteFit | None:
    """Return the best centre of turns by 1/n, with mirrors or without."""
    window = evidence.window
    rows, columns = np.nonzero(window.depth > 0)
    heart = (np.array([columns.mean(), rows.mean()]) + 0.5) * window.pixel
    primes = tuple(p for p in PRIMES + LARGE_PRIMES if n % p == 0)
    starts = [evidence.samples.mean(axis=0), heart + window.corner]
    starts += [centre for centre, _ in voted_centres(evidence, correlator, primes)]
    best: RosetteFit | None = None
    for start in starts:
        rows = telling_samples(evidence, start)
        if len(rows) < TELLING:
            continue
        centre = refine_centre(evidence, rows, start, n)
        maps = [about(rotation(2 * math.pi / n), centre)]
        carried = Carried(evidence, rows, centre, maps, _HELD)
        share, _, rms, _ = carried.scores(_HELD)
        fit = RosetteFit(n, None, centre, _HELD, float(share[0]), float(rms[0]))
        if mirrors:
            mirror = best_mirror(evidence, rows, centre, n, _HELD)
            share_of_both = min(fit.share, mirror.share)
            worst = max(fit.rms, mirror.rms)
            fit = replace(fit, mirror=mirror.angle, share=share_of_both, rms=worst)
        if best is None or fit.share > best.share:
            best = fit
    return best
