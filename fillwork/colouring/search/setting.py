"""Everything that is settled before swatches are chosen.

`prepare_setting` turns drawing, palette and rules into classes, finds the
largest smallest difference, and where touching classes cannot all differ, joins
those that stay alike. What it returns serves one assignment or many.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.adjacency import measure_adjacency, sum_pairs
from fillwork.colouring.search.best import Best, find_best_threshold
from fillwork.colouring.search.improve import Fence
from fillwork.colouring.search.least import find_least_alike, swatches_open
from fillwork.colouring.search.meant import (
    keep_line_out,
    keep_open,
    open_to_regions,
)
from fillwork.colouring.search.reaching import (
    find_best,
    kept_apart,
    limit_of,
    worth_of,
)
from fillwork.colouring.search.solve import LEAST, MANY, Problem, no_progress
from fillwork.colouring.search.taste import Taste, form_taste
from fillwork.colouring.search.wishes import (
    Classes,
    Given,
    build_classes,
    share_wishes,
    swatch_named,
)
from fillwork.errors import ColouringError
from fillwork.geometry.parts import components

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints32
    from fillwork.colouring.counterchange.alternating_kinds import KindReader
    from fillwork.colouring.counterchange.plan import Alternation
    from fillwork.colouring.model import Adjacency, Counterchange, Rules
    from fillwork.colouring.palettes.model import Palette
    from fillwork.notes import Note
    from fillwork.symmetry.model import Orbits

    Alternating = tuple[Given, Alternation, Classes, Best]
    Flat = tuple[Classes, Best, Taste | None]


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """Hold what an assignment needs."""

    given: Given
    classes: Classes  # classes, those that must stay alike joined
    best: Best  # what is known of the largest smallest difference
    threshold: float  # difference that every assignment keeps at contrast links
    # of many classes, an assignment that keeps it, sought in the order of taste
    start: tuple[int, ...] | None
    problem: Problem  # classes, links and swatches for the search
    taste: Taste  # what is preferred
    fence: Fence  # what must be kept
    wished: Classes  # the same before touching ones had to be joined
    counterchange: Counterchange | None  # how colours change places
    asked: bool  # whether the maker asked for that
    notes: tuple[Note, ...]  # doubts so far


def _check_wishes(orbits: Orbits, palette: Palette, rules: Rules) -> None:
    """Raise for wishes that no drawing and palette can have."""
    if not math.isfinite(rules.goal_difference) or rules.goal_difference < 0:
        what = f"{rules.goal_difference:g} is no colour difference"
        raise ColouringError(what, where="goal", mend="give a number from 0 to 100")
    if rules.seed < 0:
        what = f"{rules.seed} is no seed"
        raise ColouringError(what, where="seed", mend="give 0 or more")
    if not orbits.orbits:
        what = "the drawing has no region to colour"
        raise ColouringError(what)
    for name in rules.bare:
        swatch_named(palette, name, f'bare "{name}"')


def _at_most(best: Best, fixed: float) -> Best:
    """Return what was reached, no more than what pins alone leave."""
    if not np.isfinite(fixed):
        return best
    low = min(best.reached, fixed) if not math.isnan(best.reached) else fixed
    high = min(best.bound, fixed) if not math.isnan(best.bound) else fixed
    return replace(best, reached=low, bound=high, proven=best.proven or low >= high)


def _fence(problem: Problem, threshold: float) -> Fence:
    """Return what must hold of every assignment that is tried."""
    differences = problem.differences
    return Fence(
        allowed=swatches_open(problem),
        links=problem.contrast,
        unlike=problem.unlike,
        link_ok=differences >= max(threshold, 2 * LEAST),
        unlike_ok=(differences > LEAST) & ~np.eye(len(differences), dtype=bool),
        most=problem.most,
    )


def prepare_setting(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    palette: Palette,
    rules: Rules,
    *,
    differences: Floats | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> Setting:
    """Settle classes, the best difference and preferences.

    `adjacency`: how they touch. `differences` (K, K): CIEDE2000 between swatches;
    measured when left out. `progress`: called with the part done, 0 to 1, and what is
    being done, also within long searches; what it raises ends the work. Raises
    `ColouringError` if wishes name unknown things or contradict each other.
    """
    given = _given(arrangement, orbits, adjacency, palette, rules, differences)
    progress = progress or no_progress

    def tell(
        done: float, what: str = "searching the largest smallest difference"
    ) -> None:
        """Pass on how far the search has come."""
        progress(0.6 * done, what)

    counterchange: Counterchange | None = None
    notes: tuple[Note, ...] = ()
    taste: Taste | None = None  # formed before the search where that asks for it
    asked = rules.counterchange not in (None, "no")
    found = _alternate(given, tell) if asked else _alternate_lone(given, tell)
    if found is None:
        classes, best, taste = _settle_flat(given, tell)
    else:
        given, plan, classes, best = found
        rules = given.rules
        counterchange, notes = plan.counterchange, plan.notes
    fixed, problem = _state_problem(classes, given)
    wished = classes
    joined = best.swatches is None
    if joined:
        what = "searching where touching kinds may be alike"
        tick = functools.partial(progress, 0.6, what)
        classes, best = _join_alike(classes, problem, best, given, tick)
        fixed, problem = _state_problem(classes, given)
    threshold = min(best.reached, rules.goal_difference)
    if math.isnan(threshold):
        threshold = rules.goal_difference
    best = _at_most(best, fixed)
    open_to = open_to_regions(given, classes)
    limit = limit_of(classes)
    problem, best = keep_open(problem, best, threshold, open_to, limit, rules.seed)
    met = taste is not None and best.reached >= rules.goal_difference
    start = best.swatches if met and not joined else None
    if taste is None or joined:
        taste = form_taste(given, classes, open_to)
    return Setting(
        given=given,
        classes=classes,
        best=best,
        threshold=threshold,
        start=start,
        problem=problem,
        taste=taste,
        fence=_fence(problem, threshold),
        wished=wished,
        counterchange=counterchange,
        asked=asked,
        notes=notes,
    )


def _settle_flat(given: Given, tell: Callable[[float], None]) -> Flat:
    """Settle classes where none alternate, and search their best difference.

    The outline's paint is left out of regions where the others can part them. Of many
    classes the taste comes too, by which they were searched.
    """
    rules = given.rules

    def settle(classes: Classes, tell: Callable[[float], None]) -> Flat:
        _, problem = _state_problem(classes, given)
        open_to = open_to_regions(given, classes)
        many = classes.count > MANY
        taste = form_taste(given, classes, open_to) if many else None
        best = find_best(classes, problem, rules, tell, open_to, taste)
        return classes, best, taste

    every = build_classes(
        given.arrangement, given.orbits, given.adjacency, given.palette, rules
    )
    kept_out = keep_line_out(every, given)
    first = settle(kept_out, tell)
    # what it leaves one swatch is not fixed by a wish, and counts
    _, problem = _state_problem(every, given)
    if kept_out is every or kept_apart(problem, first[1]):
        return first
    return settle(every, lambda part: tell(max(part, 0.95)))


def _given(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    palette: Palette,
    rules: Rules,
    differences: Floats | None,
) -> Given:
    """Return what is coloured, differences and corners measured, wishes looked up."""
    _check_wishes(orbits, palette, rules)
    if differences is None:
        from fillwork.colouring.difference import difference_matrix

        differences = difference_matrix(palette)
    if rules.corners_count and not len(adjacency.face_corners):
        adjacency = measure_adjacency(arrangement, orbits, corners=True)
    return Given(
        arrangement,
        orbits,
        adjacency,
        palette,
        rules,
        np.nan_to_num(np.asarray(differences, np.float64)),
        share_wishes(palette, rules),
        None
        if rules.ground is None
        else swatch_named(palette, rules.ground, f'ground "{rules.ground}"'),
    )


def _alternate_lone(given: Given, tell: Callable[..., None]) -> Alternating | None:
    """Let a kind that fills its zone alone alternate, as nothing else parts it.

    None where no kind does, the maker wants it in one colour, no symmetry parts it, or
    wishes or the contrast of other kinds would suffer.
    """
    from fillwork.colouring.counterchange.touching import lone_kinds, lone_note

    rules = given.rules
    if rules.counterchange == "no":
        return None
    only = lone_kinds(given.arrangement, given.orbits, given.adjacency)
    if not only:
        return None
    try:
        found = _alternate(given, tell, only)
    except ColouringError:
        return None
    now, plan, classes, best = found
    alone = np.isin(given.orbits.of_face[1:], only)
    part = float(given.arrangement.area[1:] @ alone / given.arrangement.area[1:].sum())
    # a swatch may cover the whole, or so much less where regions take turns
    less = part * (1.0 - 1.0 / plan.counterchange.colours)
    if max(given.asked.values(), default=0.0) > 1.0 - less / 2.0:
        return None
    if worth_of(best, rules) < rules.goal_difference - LEAST:
        plain = build_classes(
            given.arrangement, given.orbits, given.adjacency, given.palette, rules
        )
        _, problem = _state_problem(plain, given)
        flat = find_best(plain, problem, rules, tell)
        if best.swatches is None or (
            len(plain.links) and worth_of(flat, rules) > worth_of(best, rules) + LEAST
        ):
            return None
    return now, replace(plan, notes=(*plan.notes, lone_note(plan))), classes, best


def _alternate(
    given: Given, tell: Callable[..., None], only: Collection[int] | None = None
) -> Alternating:
    """Let as many sets of colours alternate as leave touching kinds well apart.

    Each set takes swatches from the kinds that stay as they are; where these could
    no longer differ, or the goal is not reached, fewer sets are tried. `only`: rows of
    the kinds that may, parted by as few colours as will do. What is returned first has
    the rules with the number of colours.
    """
    from fillwork.colouring.counterchange.alternating_kinds import KindReader
    from fillwork.colouring.counterchange.touching import part_touching, touching_kinds

    rules = given.rules
    reader = KindReader(given.arrangement, given.orbits, given.adjacency)
    fewer: Iterator[Rules] = iter(())
    if only is None and rules.counterchange == "apart":
        only = touching_kinds(given.orbits, given.adjacency)
    if only is not None:
        tell(0.0, "finding how few colours part what touches itself")
        fewer = part_touching(reader, rules, only)
        rules = next(fewer)
    kept: Alternating | None = None
    sets: int | None = None
    done = 0.0  # what is told only grows

    def search(part: float) -> None:
        nonlocal done
        done = max(done, part)
        tell(done)

    while True:
        plan, classes, fault = _plan_classes(
            reader, given, rules, sets, only, lambda what: tell(done, what)
        )
        if plan is not None and classes is not None:
            now = replace(given, rules=rules)
            _, problem = _state_problem(classes, now)
            best = find_best(classes, problem, rules, search)
            if kept is None or worth_of(best, rules) > worth_of(kept[3], rules) + LEAST:
                kept = now, plan, classes, best
            if worth_of(best, rules) >= rules.goal_difference - LEAST:
                return kept
        if plan is not None and plan.free and plan.sets >= 2:
            sets = plan.sets - 1
        elif (less := next(fewer, None)) is not None:
            rules = less
        elif kept is not None:
            return kept
        elif fault is not None:
            raise fault


def _plan_classes(
    reader: KindReader,
    given: Given,
    rules: Rules,
    sets: int | None,
    only: Collection[int] | None,
    tell: Callable[[str], None],
) -> tuple[Alternation | None, Classes | None, ColouringError | None]:
    """Plan one counterchange and class kinds by it, or return what is wrong."""
    from fillwork.colouring.counterchange.plan import plan_counterchange

    plan: Alternation | None = None
    try:
        plan = plan_counterchange(
            reader, given.palette, rules, sets=sets, only=only, tell=tell
        )
        classes = build_classes(
            given.arrangement,
            given.orbits,
            given.adjacency,
            given.palette,
            rules,
            base=plan.base,
            unlike=plan.unlike,
        )
    except ColouringError as fault:
        return plan, None, fault
    return plan, classes, None


def _state_problem(classes: Classes, given: Given) -> tuple[float, Problem]:
    """Return the problem without links fixed by wishes, and their least difference."""
    single = np.array([mask & (mask - 1) == 0 for mask in classes.domain], bool)
    swatch = np.array([mask.bit_length() - 1 for mask in classes.domain], np.int64)
    fixed = (
        single[classes.links].all(axis=1) if len(classes.links) else np.zeros(0, bool)
    )
    least = np.inf
    if fixed.any():
        ends = swatch[classes.links[fixed]]
        settled = given.differences[ends[:, 0], ends[:, 1]]
        least = float(settled[settled > LEAST].min(initial=np.inf))
    return least, Problem(
        domain=classes.domain,
        contrast=classes.links[~fixed],
        unlike=classes.unlike,
        differences=given.differences,
        most=given.rules.most,
    )


def _join_alike(
    classes: Classes,
    problem: Problem,
    best: Best,
    given: Given,
    tick: Callable[[], None],
) -> tuple[Classes, Best]:
    """Join touching classes that stay alike and measure the best for the rest."""
    key = {(int(a), int(b)): row for row, (a, b) in enumerate(classes.links)}
    rows = np.array([key[int(a), int(b)] for a, b in problem.contrast], np.int64)
    shared = classes.shared[rows] if len(rows) else np.zeros(0)
    alike = find_least_alike(problem, shared, seed=given.rules.seed, tick=tick)
    x = alike.swatches
    ends = x[problem.contrast]
    same = problem.differences[ends[:, 0], ends[:, 1]] <= LEAST
    joined = problem.contrast[same & (ends[:, 0] == ends[:, 1])]
    roots = components(joined[:, 0], joined[:, 1], classes.count)
    kept, place = np.unique(roots, return_inverse=True)
    domain = [-1] * len(kept)
    for j, mask in enumerate(classes.domain):
        domain[int(place[j])] &= mask
    merged = _merge(classes, place.astype(np.int32), tuple(domain))
    if not alike.proven:
        _, rest = _state_problem(merged, given)
        found = find_best_threshold(
            rest,
            goal=given.rules.goal_difference,
            limit=limit_of(classes),
            seed=given.rules.seed,
            progress=lambda _: tick(),
        )
        bound = float(problem.differences.max())
        if found.swatches is not None:
            return merged, replace(found, bound=bound, proven=False, separable=None)
    reached = alike.difference
    some = np.isfinite(reached)
    swatches = tuple(int(x[int(j)]) for j in kept)
    return merged, Best(
        reached if some else float("nan"),
        (reached if alike.proven else float(problem.differences.max()))
        if some
        else float("nan"),
        alike.proven,
        swatches,
        best.separable,
    )


def _merge(classes: Classes, place: Ints32, domain: tuple[int, ...]) -> Classes:
    count = len(domain)
    of_face = np.where(classes.of_face >= 0, place[classes.of_face], -1)
    orbit = np.full(count, classes.orbit.max(initial=0), np.int32)
    np.minimum.at(orbit, place, classes.orbit)
    ends = place[classes.links]
    apart = ends[:, 0] != ends[:, 1]
    links, shared = sum_pairs(ends[apart], classes.shared[apart], count)
    unlike = np.sort(place[classes.unlike], axis=1)
    return Classes(
        of_face=of_face.astype(np.int32),
        orbit=orbit,
        area=np.asarray(
            np.bincount(place, weights=classes.area, minlength=count), np.float64
        ),
        domain=domain,
        links=links,
        shared=shared,
        unlike=unlike[unlike[:, 0] != unlike[:, 1]].astype(np.int32),
    )
