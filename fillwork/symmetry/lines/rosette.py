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
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.crossings import cross
from fillwork.symmetry.groups import LARGEST_ROSETTE
from fillwork.symmetry.lines.evidence import REACH
from fillwork.symmetry.lines.fit import (
    FEW_SAMPLES,
    LADDER,
    refine_shifts,
    score_images,
)
from fillwork.symmetry.lines.turning import (
    ALWAYS,
    PARTS,
    Carried,
    about,
    images_of,
    least_seen,
    reflection,
    rotation,
    telling_samples,
    turned_by_all,
    widened,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.symmetry.lines.evidence import Evidence
    from fillwork.symmetry.lines.fit import Correlator

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

ACCEPT = 0.93
RING = 0.80
NEAR = 0.80
PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61)
LARGE_PRIMES = tuple(
    p for p in range(ALWAYS + 1, LARGEST_ROSETTE + 1) if all(p % q for q in PRIMES)
)
# orders that are looked for where half of a figure is cut off, and half turns with it
CUT_ORDERS = tuple(sorted({*PRIMES, 4, 8, 9, 16}))
_HEADINGS = 360  # of half a turn, that are told apart
_ASIDE = 0.2  # of its radius: how far the middle of its lines lies from its centre
_CHORD = 0.5  # share of its hull's width that the cut of a figure has at least
_STRAIGHT = 0.01  # of it: how far lines may end from the cut
_FINE = 2  # step of the ladder at which turns that small are looked for
_SAME = 1e-9  # scales by which the same centre is another through rounding
_LACKING = 0.002  # share of the lines whose images all lack a line, that breaks a group
# up to which an order that fits nearly all lines is weighed, where lines stray so far
_DETAIL, _WHOLLY, _STRAYING = 0.005, 0.985, 0.002


@dataclass(frozen=True, slots=True, eq=False)
class RosetteFit:
    """Hold the rosette group that lines show."""

    n: int  # order of the rotation; 1 for a mirror alone
    mirror: float | None  # angle of one mirror to the x axis, radians
    centre: Floats  # (2,): the centre, or a point of the mirror, mm
    level: int  # step of the ladder at which it holds
    # share and rms: matched / expected of the weakest generator, and its miss, mm
    share: float
    rms: float
    reason: str = ""  # why it is not sure
    # other groups with their share and rms
    near: tuple[tuple[str, float, float], ...] = ()


_Climbed = list[tuple["Floats", RosetteFit | None]]


def _headings(evidence: Evidence) -> Floats:
    """Return how much line heads each way, over half a turn, smoothed."""
    angle = np.arctan2(evidence.directions[:, 1], evidence.directions[:, 0]) % math.pi
    cells = (angle / math.pi * _HEADINGS).astype(np.intp) % _HEADINGS
    count = np.bincount(cells, minlength=_HEADINGS).astype(np.float64)
    soft = np.exp(-2 * (np.fft.fftfreq(_HEADINGS) * 2 * np.pi) ** 2)
    return np.asarray(np.fft.ifft(np.fft.fft(count) * soft).real)


def _voted(
    evidence: Evidence, correlator: Correlator, linear: Floats
) -> tuple[NDArray[np.float32], NDArray[np.float32], Floats]:
    """Return the votes for each shift of the lines mapped about their middle.

    With them the samples expected, and that map's own shift.
    """
    ends = evidence.segments.reshape(-1, 2)
    middle = 0.5 * (ends.min(axis=0) + ends.max(axis=0))
    back = middle - linear @ middle
    points, directions, weights = correlator.gathered
    share, expected = correlator.votes(
        points @ linear.T + back, directions @ linear.T, 64.0, weights=weights
    )
    return share, expected, back


def _centres(
    evidence: Evidence, correlator: Correlator, primes: tuple[int, ...]
) -> list[tuple[Floats, tuple[int, ...]]]:
    """Return centres with the prime whose turns voted for each."""
    found: list[tuple[Floats, tuple[int, ...]]] = []
    heading = _headings(evidence)
    spectrum = np.fft.fft(heading)
    own = float((np.abs(spectrum) ** 2).sum())
    for p in primes:
        # lines of a p-fold pattern head p-fold ways; a half turn keeps them all
        step = len(heading) * max(p // 2, 1) * 2 // p
        wave = np.exp(2j * np.pi * np.fft.fftfreq(len(heading)) * step)
        if p > 2 and float((np.abs(spectrum) ** 2 * wave).sum().real) < 0.5 * own:
            continue
        linear = rotation(2 * math.pi * max(p // 2, 1) / p)
        share, expected, back = _voted(evidence, correlator, linear)
        share[expected < 0.15 * len(evidence.samples)] = 0
        shifts, _ = correlator.peaks(share, 2, 0.3)
        shifts = shifts + back
        found.extend((np.linalg.solve(np.eye(2) - linear, s), (p,)) for s in shifts)
    return found


def _refine_centre(evidence: Evidence, rows: Ints, centre: Floats, n: int) -> Floats:
    linear = rotation(2 * math.pi * max(n // 2, 1) / n)
    images, shifts = images_of(evidence, rows, [about(linear, centre)])
    shifts = refine_shifts(evidence, images, shifts, (0.16, 0.16, 0.1, 0.06, 0.04))
    return np.asarray(np.linalg.solve(np.eye(2) - linear, shifts[0]))


def _orders(
    carried: Carried, numbers: tuple[int, ...], level: int
) -> tuple[list[int], list[int], Floats, Floats, Floats]:
    """Return the orders that hold and those that a detail breaks.

    With them share, weakest ring and rms of all.
    """
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
        if not any(
            s >= NEAR for m, s in zip(numbers, share, strict=True) if m % n == 0
        ):
            continue
        # what is in every repeat of a smaller order and in no image is no fault
        known = [d for d in below if d in closed]
        lacking = carried.lacking(k, known[-1], level) if known else 0.0
        if lacking > max(_LACKING, 0.25 * (1 - share[k])):
            broken.append(n)
        elif n in passing:
            closed.append(n)
    return closed, broken, share, weakest, rms


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

    None when no turn and no mirror holds.

    `thorough`: whether rare orders and a single mirror are looked for too.
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
            centres = _centres(evidence, correlator, PRIMES[:4])
        else:
            big = len(evidence.samples) > 2 * FEW_SAMPLES
            centres = _centres(evidence, correlator, PRIMES[4 : 8 if big else None])
        for centre, primes in centres:
            fit = _try_centre(evidence, centre, primes, climbed)
            if fit is not None and _is_better(evidence, fit, best):
                best = fit
        if stage == 0:
            for centre, beside in _cut_figures(evidence):
                fit = _try_centre(beside, centre, CUT_ORDERS, [])
                if fit is not None and _is_better(evidence, fit, best):
                    best = fit
        if best is not None and not best.reason:
            break
    if best is None and thorough:
        return _one_mirror(evidence, correlator)
    return best


def _cut_figures(evidence: Evidence) -> list[tuple[Floats, Evidence]]:
    """Return where a figure of which a half or a quarter is drawn may turn.

    That is the middle of a straight cut, or where two of them meet. With each comes
    the evidence without the lines along the cut: they are the frame's.
    """
    import shapely

    slack = _STRAIGHT * float(np.ptp(evidence.samples, axis=0).max())
    hull = shapely.convex_hull(shapely.multipoints(evidence.samples))
    if not isinstance(hull, shapely.Polygon):
        return []
    corner = shapely.get_coordinates(shapely.simplify(hull, slack))[:-1]
    # the first corner is always kept: once more, begun from another
    again = shapely.polygons(np.roll(corner, -1, axis=0))
    corner = shapely.get_coordinates(shapely.simplify(again, slack))[:-1]
    side = np.roll(corner, -1, axis=0) - corner
    length = np.hypot(*side.T)
    long = np.flatnonzero(length > _CHORD * float(np.ptp(corner, axis=0).max()))
    # a hull with more long sides is a frame
    if not 1 <= len(long) <= 2:
        return []
    kept = np.ones(len(evidence.samples), dtype=bool)
    for k in long:
        away = cross(side[k], evidence.samples - corner[k]) / length[k]
        kept &= np.abs(away) > slack
    beside = replace(
        evidence,
        samples=evidence.samples[kept],
        directions=evidence.directions[kept],
        piece=evidence.piece[kept],
    )
    found = [corner[k] + side[k] / 2 for k in long]
    if len(long) == 2:
        found = [corner[k] for k in long if (k - 1) % len(corner) in long]
    return [(centre, beside) for centre in found] if kept.any() else []


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
    if len(rows) < 24:
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
        at = _refine_centre(evidence, few, centre, n)
        at = _refine_centre(evidence, rows, at, n)
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
    if len(rows) < 24:
        return None
    found: RosetteFit | None = None
    # of a few lines, some agree better than others by chance: two that cross are a D2
    # without any miss, however square they were meant
    pieces = len(np.unique(evidence.piece[rows]))
    spread = 1.45 + 6.0 / pieces
    chance = (0.004 + 0.02 / pieces) * evidence.scale
    numbers = _numbers(evidence, centre, rows)
    at = {n: k for k, n in enumerate(numbers)}
    carried = turned_by_all(evidence, centre, rows, len(LADDER) - 1, numbers)
    for level in range(len(LADDER)):
        orders, broken, share, weakest, rms = _orders(carried, numbers, level)
        if not orders:
            continue
        least = min(float(rms[at[n]]) for n in orders)
        limit = spread * least + chance
        n = max(m for m in orders if rms[at[m]] <= limit)
        sure = found is not None and not found.reason
        if found is not None and sure and (n == found.n or n % found.n):
            break
        rest = [
            m
            for m in numbers
            if m > n
            and m % n == 0
            and share[at[m]] >= NEAR
            and m not in orders
            and not any(m % b == 0 for b in broken)
            and weakest[at[m]] > 0.5
        ]
        angle, mirror_share, mirror_rms, mirror_ring, lacking = _mirror(
            evidence, rows, centre, n, level
        )
        torn = lacking > max(_LACKING, 0.25 * (1 - mirror_share))
        has = (
            mirror_share >= ACCEPT
            and mirror_ring >= RING
            and mirror_rms <= spread * float(rms[at[n]]) + chance
            and not torn
        )
        reason = ""
        near: list[tuple[str, float, float]] = []
        if rest:
            m = rest[0]
            part, miss = float(share[at[m]]), float(rms[at[m]])
            near.append((f"{'D' if has else 'C'}{m}", part, miss))
            reason = f"turns by 1/{m} fit {100 * part:.0f} % of the lines"
        # where corners stray, an end that runs past its line is no design
        for m in [m for m in broken if m % n == 0 and share[at[m]] >= _WHOLLY]:
            lacks = carried.lacking(at[m], n, level)
            if lacks <= _DETAIL and rms[at[m]] > _STRAYING * evidence.scale:
                near.append((f"{'D' if has else 'C'}{m}", 1 - lacks, float(rms[at[m]])))
                reason = reason or f"turns by 1/{m} fit all but a detail of the lines"
        if not has and not torn and mirror_share >= NEAR and mirror_ring > 0.5:
            near.append((f"D{n}", mirror_share, mirror_rms))
            reason = reason or f"mirrors fit {100 * mirror_share:.0f} % of the lines"
        found_here = RosetteFit(
            n,
            angle if has else None,
            centre,
            level,
            min(float(share[at[n]]), mirror_share if has else 1.0),
            max(float(rms[at[n]]), mirror_rms if has else 0.0),
            reason,
            tuple(near),
        )
        if found is None or not reason:
            found = found_here
        elif sure:
            break
    return found


def _mirror(
    evidence: Evidence, rows: Ints, centre: Floats, n: int, level: int
) -> tuple[float, float, float, float, float]:
    """Return angle, share, rms, weakest ring and what lacks of the best mirror."""
    few = rows[:: max(1, len(rows) // 300)]
    away = evidence.samples.take(few, axis=0) - centre
    reach = float(np.percentile(np.hypot(away[:, 0], away[:, 1]), 90))
    steps = int(np.clip(math.pi / n * 2 * reach / (0.12 * evidence.scale), 12, 1500))
    angles = np.arange(steps) / steps * math.pi / n
    middle = away.mean(axis=0)
    if np.hypot(*middle) > _ASIDE * reach:
        # of a figure that is cut, the mirrors through its middle show most
        angles += math.atan2(middle[1], middle[0]) - math.pi / (2 * n)
    share = np.empty(steps)
    for part in np.array_split(np.arange(steps), steps // 200 + 1):
        maps = [about(reflection(float(angles[k])), centre) for k in part]
        images, shifts = images_of(evidence, few, maps)
        share[part] = score_images(evidence, images, shifts, (0.1,)).share[:, 0]
    best = (0.0, 0.0, 0.0, 0.0, 0.0)
    for k in np.argsort(-share, kind="stable")[:3]:
        angle = _refine_angle(evidence, rows, centre, float(angles[k]))
        maps = [about(reflection(angle), centre)]
        carried = Carried(evidence, rows, centre, maps, level)
        total, weakest, rms, want = carried.scores(level)
        seen = want[0] >= least_seen(evidence) * len(rows)
        if seen and total[0] > best[1]:
            lacking = carried.lacking(0, n, level)
            best = (angle, float(total[0]), float(rms[0]), float(weakest[0]), lacking)
    return best


def _refine_angle(
    evidence: Evidence, rows: Ints, centre: Floats, angle: float
) -> float:
    for tolerance in (0.16, 0.12, 0.08, 0.06):
        linear = reflection(angle)
        away = (evidence.samples.take(rows, axis=0) - centre) @ linear.T
        distance, offset, normal = evidence.index.nearest(
            away + centre, evidence.directions.take(rows, axis=0) @ linear.T
        )
        good = distance <= tolerance * evidence.scale
        # the image turns twice as fast as the mirror
        pull = 2 * (normal[:, 1] * away[:, 0] - normal[:, 0] * away[:, 1])[good]
        weight = float(pull @ pull)
        if weight > 0:
            angle -= float(pull @ offset[good]) / weight
    return angle


def _one_mirror(evidence: Evidence, correlator: Correlator) -> RosetteFit | None:
    """Return a single mirror, its angle from the lines' directions."""
    heading = _headings(evidence)
    bins = len(heading)
    # agreement of h(θ) with h(2α - θ), for every 2α
    agree = np.fft.ifft(np.fft.fft(heading) ** 2).real
    own = float(heading @ heading)
    picks: list[int] = []
    for k in np.argsort(-agree, kind="stable"):
        if agree[k] < 0.6 * own or len(picks) == 6:
            break
        apart = [min((k - q) % bins, (q - k) % bins) for q in picks]
        if all(a > 2 for a in apart):
            picks.append(int(k))
    best: RosetteFit | None = None
    for k in picks:
        for half in (0, 1):
            axis = ((k + 1) / bins * math.pi) / 2 + half * math.pi / 2
            fit = _mirror_at(evidence, correlator, axis)
            if fit is not None and (best is None or fit.share > best.share):
                best = fit
    return best


def _mirror_at(
    evidence: Evidence, correlator: Correlator, axis: float
) -> RosetteFit | None:
    linear = reflection(axis)
    share, expected, back = _voted(evidence, correlator, linear)
    share[expected < 0.4 * len(evidence.samples)] = 0
    shifts, _ = correlator.peaks(share, 2, 0.4)
    shifts = shifts + back
    along = np.array([math.cos(axis), math.sin(axis)])
    across = np.array([-along[1], along[0]])
    rows = evidence.thin(2500)
    # lines straight across fall on themselves wherever the mirror is
    rows = rows[np.abs(evidence.directions.take(rows, axis=0) @ across) < 0.97]
    if len(rows) < 24:
        return None
    best: RosetteFit | None = None
    for shift in shifts:
        # a mirror shifts nothing along its axis; a slightly wrong angle does
        place = across * float(shift @ across) / 2
        middle = evidence.samples.mean(axis=0)
        centre = place + along * float((middle - place) @ along)
        angle = axis
        for tolerance in (0.16, 0.16, 0.12, 0.08, 0.06):
            turned = reflection(angle)
            away = (evidence.samples.take(rows, axis=0) - centre) @ turned.T
            distance, offset, normal = evidence.index.nearest(
                away + centre, evidence.directions.take(rows, axis=0) @ turned.T
            )
            good = distance <= tolerance * evidence.scale
            if good.sum() < 12:
                break
            side = np.array([-math.sin(angle), math.cos(angle)])
            pull = 2 * (normal[:, 1] * away[:, 0] - normal[:, 0] * away[:, 1])[good]
            push = 2 * (normal[good] @ side)
            design = np.stack([pull, push], axis=1)
            step, *_ = np.linalg.lstsq(design, -offset[good], rcond=None)
            angle += float(step[0])
            centre = centre + side * float(step[1])
        for level in range(len(LADDER)):
            maps = [about(reflection(angle), centre)]
            carried = Carried(evidence, rows, centre, maps, level)
            total, weakest, rms, want = carried.scores(level)
            seen = want[0] >= max(0.5, least_seen(evidence)) * len(rows)
            if total[0] >= ACCEPT and weakest[0] >= RING and seen:
                fit = RosetteFit(
                    1, angle, centre, level, float(total[0]), float(rms[0])
                )
                if best is None or fit.share > best.share:
                    best = fit
                break
    return best


def hold_rosette(
    evidence: Evidence, correlator: Correlator, n: int, mirrors: bool
) -> RosetteFit | None:
    """Return how well a stated rosette group fits.

    The best centre with the share that fits; None without a centre.

    `n`: order of the rotation, from 1.
    """
    evidence = widened(evidence)
    if n == 1:
        return _one_mirror(evidence, correlator)
    window = evidence.window
    rows, columns = np.nonzero(window.depth > 0)
    heart = (np.array([columns.mean(), rows.mean()]) + 0.5) * window.pixel
    primes = tuple(p for p in PRIMES + LARGE_PRIMES if n % p == 0)
    starts = [evidence.samples.mean(axis=0), heart + window.corner]
    starts += [centre for centre, _ in _centres(evidence, correlator, primes)]
    best: RosetteFit | None = None
    for start in starts:
        rows = telling_samples(evidence, start)
        if len(rows) < 24:
            continue
        centre = _refine_centre(evidence, rows, start, n)
        maps = [about(rotation(2 * math.pi / n), centre)]
        share, _, rms, _ = Carried(evidence, rows, centre, maps, 3).scores(3)
        fit = RosetteFit(n, None, centre, 3, float(share[0]), float(rms[0]))
        if mirrors:
            angle, part, miss, _, _ = _mirror(evidence, rows, centre, n, 3)
            fit = RosetteFit(
                n, angle, centre, 3, min(fit.share, part), max(fit.rms, miss)
            )
        if best is None or fit.share > best.share:
            best = fit
    if best is not None and best.share < ACCEPT:
        reason = f"it fits {100 * best.share:.0f} % of the lines"
        best = RosetteFit(
            best.n, best.mirror, best.centre, best.level, best.share, best.rms, reason
        )
    return best
