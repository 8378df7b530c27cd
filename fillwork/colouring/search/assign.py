"""Give every kind of region a swatch.

The aims, in this order:

1. touching kinds are unlike (else alike along the least shared length);
2. the smallest CIEDE2000 between touching kinds reaches the goal, or the best
   that the palette allows;
3. area shares: those asked for, then those of the palette or its roles;
4. as many of the swatches as kinds and goal allow;
5. contrast along shared edges, figures first.

Wishes (pins, ties, bans, a largest number of swatches) come before all aims.
Swatches with the role ``line``, and that of the outline, are kept for lines
where the others suffice.
"""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.colouring.adjacency import contacts, sum_pairs
from fillwork.colouring.model import Adjacency, Colouring, Rules
from fillwork.colouring.outline import outline_note
from fillwork.colouring.palettes.model import Palette
from fillwork.colouring.search.meant import line_paint
from fillwork.colouring.search.seek import find_assignment
from fillwork.colouring.search.setting import prepare_setting
from fillwork.colouring.search.solve import LEAST, no_progress
from fillwork.notes import Note
from fillwork.symmetry.model import Orbits
from fillwork.values import check_kind

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.colouring.search.setting import Setting


def assign_colours(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    palette: Palette,
    rules: Rules,
    *,
    differences: NDArray[np.float64] | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> Colouring:
    """Assign a swatch to every kind of region.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds.
    adjacency : Adjacency
        How they touch, from `measure_adjacency`.
    palette : Palette
        The swatches, 1 to 64 or more.
    rules : Rules
        Goal and wishes.
    differences : ndarray of float64, shape (K, K), optional
        CIEDE2000 between swatches; measured when left out.
    progress : callable, optional
        Called with the part done, 0 to 1, and what is being done, also within long
        searches; what it raises ends the work.

    Returns
    -------
    Colouring
        Swatches, what was reached, what is the best possible, and whether that
        is proven.

    Raises
    ------
    ColouringError
        If a wish names an unknown place or swatch, or wishes contradict each
        other.

    Notes
    -----
    Searches are limited by steps, never by time. A limit that was hit leaves
    `Colouring.proven` False and `Colouring.bound` an upper bound.
    """
    check_kind(arrangement, Arrangement, "arrangement")
    check_kind(orbits, Orbits, "orbits")
    check_kind(adjacency, Adjacency, "adjacency")
    check_kind(palette, Palette, "palette")
    check_kind(rules, Rules, "rules")
    progress = progress or no_progress
    setting = prepare_setting(
        arrangement,
        orbits,
        adjacency,
        palette,
        rules,
        differences=differences,
        progress=progress,
    )
    tick = functools.partial(progress, 0.6, "weighing shares and contrast")
    tick()
    swatches, _ = find_assignment(setting, seed=rules.seed, tick=tick)
    progress(1.0, "colours assigned")
    return make_colouring(setting, swatches)


def make_colouring(setting: Setting, swatches: NDArray[np.integer]) -> Colouring:
    """Turn an assignment of classes into a colouring of faces.

    `swatches` (N,): swatch of each class.
    """
    given, classes = setting.given, setting.classes
    orbits, table = given.orbits, given.differences
    of_face = np.full(len(classes.of_face), -1, np.int32)
    inside = classes.of_face >= 0
    of_face[inside] = swatches[classes.of_face[inside]]
    count = len(orbits.orbits)
    number = np.zeros((count, len(given.palette.swatches)))
    area = given.arrangement.area[inside]
    # the most common by number, the larger area breaking ties
    weight = 1.0 + area / max(2.0 * float(area.sum()), 1e-12)
    np.add.at(number, (orbits.of_face[inside], of_face[inside]), weight)
    pairs, shared = contacts(given.adjacency, corners=given.rules.corners_count)
    known = (orbits.of_face[pairs] >= 0).all(axis=1)
    pairs, shared = pairs[known], shared[known]
    a, b = of_face[pairs[:, 0]], of_face[pairs[:, 1]]
    kind_pairs = np.sort(orbits.of_face[pairs], axis=1)
    alike = table[a, b] <= LEAST  # also swatches of one colour under two names
    apart = np.where(alike, np.inf, table[a, b])
    smallest, closest = float("nan"), None
    if len(apart) and np.isfinite(apart.min()):
        smallest = float(apart.min())
        rows = np.flatnonzero(apart <= smallest + 1e-12)
        rows = rows[np.lexsort((kind_pairs[rows, 1], kind_pairs[rows, 0]))]
        closest = (int(kind_pairs[rows[0], 0]), int(kind_pairs[rows[0], 1]))
    both, length = sum_pairs(kind_pairs[alike], shared[alike], count)
    equal = tuple(
        (p, q, w) for (p, q), w in zip(both.tolist(), length.tolist(), strict=True)
    )
    bound, proven = setting.best.bound, setting.best.proven
    if not math.isnan(smallest) and (math.isnan(bound) or bound < smallest):
        bound = smallest  # links that no class stands for, within one kind
    notes = (*setting.notes, *_notes(setting, of_face, smallest, closest, equal))
    colouring = Colouring(
        palette=given.palette,
        of_orbit=np.argmax(number.round(6), axis=1).astype(np.int32),
        of_face=of_face,
        goal=given.rules.goal_difference,
        smallest_difference=smallest,
        closest=closest,
        bound=bound,
        proven=proven,
        equal_neighbours=equal,
        counterchange=setting.counterchange,
        rules=given.rules,
        ground=given.ground,
        notes=notes,
    )
    lost = outline_note(colouring)
    return colouring if lost is None else replace(colouring, notes=(*notes, lost))


def _notes(
    setting: Setting,
    of_face: NDArray[np.int32],
    smallest: float,
    closest: tuple[int, int] | None,
    equal: tuple[tuple[int, int, float], ...],
) -> list[Note]:
    given = setting.given
    orbits, goal = given.orbits.orbits, given.rules.goal_difference
    found: list[Note] = []
    if closest is not None and smallest < goal - 1e-9:
        first, second = (orbits[row].letter for row in closest)
        best = setting.best
        text = (
            f"touching kinds {first} and {second} differ by {smallest:.1f} "
            f"where {goal:.1f} was wished; "
        )
        if best.proven:
            text += f"the palette allows {best.bound:.1f} at best"
            text += _but_for_the_line(setting)
        else:
            text += (
                f"this is the best found, more than {best.bound:.1f} is not possible"
            )
        remedy = "take a palette with wider steps, lift a wish, or lower the goal"
        found.append(Note("colouring", "goal not reached", text, remedy=remedy))
    found += _self_touching(setting, [(a, s) for a, b, s in equal if a == b])
    others = [(a, b, length) for a, b, length in equal if a != b]
    # what is wanting: swatches, or freedom to use them
    joined = setting.wished is not setting.classes
    few = joined or int((given.differences > LEAST).any(axis=0).sum()) < 2
    for a, b, length in sorted(others, key=lambda e: -e[2])[:8]:
        text = (
            f"kinds {orbits[a].letter} and {orbits[b].letter} bear the same colour "
            f"and touch along {length:.1f} mm"
        )
        remedy = "change the pins, ties or bans that ask for it"
        held = _is_held(setting, a) and _is_held(setting, b)
        if few and not held and not _are_tied(setting, a, b):
            most = given.rules.most
            bound = most is not None and most < len(given.palette.swatches)
            remedy = "raise --most" if bound else "take a palette with more swatches"
        found.append(Note("colouring", "neighbours alike", text, remedy=remedy))
    if len(others) > 8:
        more = len(others) - 8
        pairs = "one more pair" if more == 1 else f"{more} more pairs"
        text = f"{pairs} of touching kinds alike"
        found.append(Note("colouring", "neighbours alike", text))
    total = float(setting.classes.area.sum())
    inside = of_face >= 0
    share = np.bincount(
        of_face[inside],
        weights=given.arrangement.area[inside],
        minlength=len(given.palette.swatches),
    ) / max(total, 1e-12)
    for j, wished in given.asked.items():
        if abs(share[j] - wished) > 0.02:
            name = given.palette.swatches[j].name
            text = (
                f"{name} covers {100 * share[j]:.1f} % of the area where "
                f"{100 * wished:.4g} % was wished: kinds are taken whole"
            )
            found.append(Note("colouring", "share not met", text))
    return found


def _but_for_the_line(setting: Setting) -> str:
    """Return which swatch was left out of regions, as the outline's paint."""
    line = line_paint(setting.given)
    if line is None or any(mask >> line & 1 for mask in setting.classes.domain):
        return ""
    return f" without {setting.given.palette.swatches[line].name}, kept for the outline"


def _is_held(setting: Setting, row: int) -> bool:
    """Return whether wishes leave a kind one swatch of several."""
    classes = setting.classes
    own = np.unique(classes.of_face[setting.given.orbits.orbits[row].faces])
    several = len(setting.given.palette.swatches) > 1
    return several and all(classes.domain[c].bit_count() == 1 for c in own.tolist())


def _are_tied(setting: Setting, a: int, b: int) -> bool:
    """Return whether a wish ties two kinds, or regions of them."""
    orbits, of_face = setting.given.orbits.orbits, setting.wished.of_face
    return not set(of_face[orbits[a].faces]).isdisjoint(of_face[orbits[b].faces])


def _self_touching(setting: Setting, rows: list[tuple[int, float]]) -> list[Note]:
    """Say which kinds touch themselves, one line for those that one thing parts."""
    alike: dict[str, list[tuple[int, float]]] = {}
    for row, length in rows:
        alike.setdefault(_parted_by(setting, row), []).append((row, length))
    notes = []
    for remedy, kinds in alike.items():
        letters = [setting.given.orbits.orbits[row].letter for row, _ in kinds]
        of = f"kind {letters[0]}" if len(letters) == 1 else "one kind"
        text = (
            f"regions of {of} touch each other along "
            f"{sum(length for _, length in kinds):.1f} mm and bear one swatch"
        )
        if len(letters) > 1:
            text += f": {', '.join(letters)}"
        notes.append(Note("colouring", "kind touches itself", text, remedy=remedy))
    return notes


def _parted_by(setting: Setting, row: int) -> str:
    """Return what would part the touching regions of a kind."""
    orbits, pairs = setting.given.orbits, setting.given.adjacency.face_pairs
    own = pairs[(orbits.of_face[pairs] == row).all(axis=1)]
    parts = "none"
    for match, finer in (
        ("turns", orbits.turns_of_face),
        ("shifts", orbits.shifts_of_face),
    ):
        if len(own) and bool((finer[own[:, 0]] != finer[own[:, 1]]).all()):
            parts = match
            break
    remedy = f"part them by --counterchange apart or --match {parts}"
    if setting.asked:
        letter = orbits.orbits[row].letter
        remedy = f'let them alternate by --choice "{letter}=1", if that kind has one'
    if orbits.match in ("family", "figure"):
        remedy = "part them by --match all, which asks the symmetry"
    if orbits.match == "none":
        remedy = "take a palette with more swatches, or change the wishes"
    return remedy
