"""Several colourings to choose from, clearly different and measured.

For one palette each further assignment is sought with a price on every choice
made before, then those are kept that change most area among the sound ones. For
several palettes each gives its best, further ones in turn.

They are ranked by measures that are stated, one after the other: the length
along which touching kinds are alike; the smallest difference, as far as the
goal counts it; children's paints after others; harmony and how well the rules of
`search.taste` are kept, together in steps of 5 %; the largest miss of an
area share, likewise; the mean contrast.
"""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.colouring.model import Adjacency, Colourway, Pin, Rules
from fillwork.colouring.palettes.model import Palette
from fillwork.colouring.search.assign import make_colouring
from fillwork.colouring.search.seek import find_assignment
from fillwork.colouring.search.setting import prepare_setting
from fillwork.colouring.search.solve import no_progress
from fillwork.colouring.search.tones import GREY
from fillwork.errors import ColouringError
from fillwork.geometry.ranges import distinct
from fillwork.symmetry.model import Orbits
from fillwork.values import check_each, check_kind

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from fillwork.colouring.model import Colouring
    from fillwork.colouring.search.setting import Setting
    from fillwork.colouring.search.taste import Taste


RANKED_BY = (
    "alike length",
    "smallest difference up to the goal",
    "children's paints last",
    "harmony and taste in steps of 5 %",
    "share miss in steps of 5 %",
    "mean contrast",
)
"""The measures that rank colourways, the first one first."""

_KIN, _OPPOSITE = 40.0, 140.0  # degrees of hue
_PRICE = 1.2  # on choosing again what was chosen before
_FEW = 6  # palettes; of more, each is looked over with two starts, to choose among
_SETTLING = 0.3  # part of the work that is done once a palette
_SPARE = 3  # candidates sought beyond the number wanted


def find_colourways(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    palettes: Sequence[Palette],
    rules: Rules | Sequence[Rules],
    *,
    count: int = 6,
    progress: Callable[[float, str], None] | None = None,
) -> tuple[Colourway, ...]:
    """Find colourways of a drawing, best first.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds.
    adjacency : Adjacency
        How they touch.
    palettes : sequence of Palette
        One palette, for several assignments of it, or several, for the best of
        each first.
    rules : Rules or sequence of Rules
        Wishes, which hold in all, or those for each palette.
    count : int
        How many are wanted; fewer come back when there are not so many.
    progress : callable, optional
        Called with the part done, 0 to 1, and what is being done, also within long
        searches; what it raises ends the work.

    Returns
    -------
    tuple of Colourway
        Ranked by `RANKED_BY`.

    Raises
    ------
    ColouringError
        If no palette is given, the count is below 1, rules are not as many as
        palettes, or wishes cannot be met in a palette.
    """
    check_kind(arrangement, Arrangement, "arrangement")
    check_kind(orbits, Orbits, "orbits")
    check_kind(adjacency, Adjacency, "adjacency")
    check_each(palettes, Palette, "palettes")
    check_each([rules] if isinstance(rules, Rules) else rules, Rules, "rules")
    if not palettes:
        what = "colourways need at least one palette"
        raise ColouringError(what)
    if count < 1:
        what = f"{count} colourways cannot be made"
        raise ColouringError(what, mend="ask for 1 or more")
    progress = progress or no_progress
    each_rules = [rules] * len(palettes) if isinstance(rules, Rules) else list(rules)
    if len(each_rules) != len(palettes):
        what = f"{len(each_rules)} rules are given for {len(palettes)} palettes"
        raise ColouringError(what, mend="give one for all, or one for each")
    palettes = palettes[:count]
    each = [count // len(palettes)] * len(palettes)
    for j in range(count % len(palettes)):
        each[j] += 1
    found: list[tuple[Setting, NDArray[np.int64]]] = []
    for number, (palette, wanted) in enumerate(zip(palettes, each, strict=True)):
        tell = functools.partial(_tell, progress, number, len(palettes), palette.name)

        def settle(
            done: float, _: str, *, tell: Callable[[float], None] = tell
        ) -> None:
            tell(_SETTLING * done)

        tell(0.0)
        try:
            setting = prepare_setting(
                arrangement,
                orbits,
                adjacency,
                palette,
                each_rules[number],
                progress=settle,
            )
        except ColouringError as error:
            if len(palettes) == 1:
                raise
            where = f"palette {palette.name}"
            raise ColouringError(str(error.what), where, error.mend) from error
        starts = None if len(palettes) <= _FEW else 2
        found += [(setting, x) for x in _different(setting, wanted, starts, tell)]
    colourways = [_as_colourway(*one) for one in found]
    colourways.sort(key=lambda way: _rank(way, each_rules[0].goal_difference))
    progress(1.0, "colourways ranked")
    return _with_changes(arrangement, colourways)


def _tell(
    progress: Callable[[float, str], None],
    number: int,
    count: int,
    name: str,
    done: float,
) -> None:
    """Tell how much of one of several palettes is done."""
    progress((number + done) / count, f"laying out {name}")


def _as_colourway(setting: Setting, swatches: NDArray[np.int64]) -> Colourway:
    """Return an assignment as a colourway with its measures."""
    colouring = make_colouring(setting, swatches)
    measures = _measure_colouring(setting, swatches, colouring)
    pins = pins_of(setting.given.arrangement, setting.given.orbits, colouring)
    return Colourway(colouring=colouring, measures=measures, changed=1.0, pins=pins)


def _different(
    setting: Setting, wanted: int, starts: int | None, tell: Callable[[float], None]
) -> list[NDArray[np.int64]]:
    """Return assignments that differ clearly, the best one first."""
    base, count = setting.taste, setting.classes.count
    done = _SETTLING

    def tick() -> None:
        tell(done)

    seed = setting.given.rules.seed
    first, best_cost = find_assignment(setting, seed=seed, tries=starts, tick=tick)
    pool = [first]
    if wanted == 1:
        return pool
    worth = 0.5 * base.area + 0.5 / max(count, 1)
    repeats = np.zeros_like(base.cost)
    asked = np.isin(np.arange(len(base.target)), list(setting.given.asked))
    tries = wanted + _SPARE if count <= 400 else wanted
    for attempt in range(1, tries):
        repeats[np.arange(count), pool[-1]] += worth
        rng = np.random.default_rng([seed, 77, attempt])
        x, _ = find_assignment(
            setting,
            seed=seed + 101 * attempt,
            taste=_leaning(base, repeats, asked, rng),
            tries=1,
            tick=tick,
        )
        pool.append(x)
        done = _SETTLING + (1.0 - _SETTLING) * attempt / tries
        tick()
    # by difference, those of bad taste last
    costs = np.array([base.measure(x) for x in pool])
    bad = costs > best_cost + 1.5 + np.median(costs - best_cost)
    chosen = [0]
    left_over = list(range(1, len(pool)))
    while len(chosen) < wanted and left_over:
        apart = [
            min(float(base.area[pool[j] != pool[i]].sum()) for i in chosen)
            for j in left_over
        ]
        at = int(np.argmax(np.array(apart) - 0.5 * bad[left_over]))
        if apart[at] <= 0.0:
            break
        chosen.append(left_over.pop(at))
    return [pool[j] for j in chosen]


def _leaning(
    base: Taste,
    repeats: NDArray[np.float64],
    asked: NDArray[np.bool_],
    rng: np.random.Generator,
) -> Taste:
    """Return a taste that shuns repeats, and wishes swatches more or less than usual.

    `repeats` (N, K): price of choosing again. `asked` (K,): whose shares are asked for.
    """
    lean = rng.normal(0.0, 0.35, len(base.target))
    cost = base.cost + _PRICE * repeats + np.outer(base.area, lean)
    target = base.target * np.exp(rng.normal(0.0, 0.5, len(base.target)))
    target = np.where(asked, base.target, target)
    free = float(target[~asked].sum())
    if free > 0.0:
        target[~asked] *= (1.0 - float(target[asked].sum())) / free
    return replace(base, cost=cost, target=target)


def _measure_colouring(
    setting: Setting, swatches: NDArray[np.integer], colouring: Colouring
) -> tuple[tuple[str, float], ...]:
    """Measure a colouring as a painter compares them.

    `swatches` (N,): swatch of each class. Returns measures as `Colourway.measures`
    lists them.
    """
    lightness = np.array([s.lab[0] for s in colouring.palette.swatches])
    area = setting.taste.area
    kinds = len(lightness)
    share = np.bincount(swatches, weights=area, minlength=kinds).astype(np.float64)
    used = np.flatnonzero(np.bincount(swatches, minlength=kinds))
    tone = lightness[swatches]
    middle = float((area * tone).sum())
    spread = math.sqrt(max(float((area * (tone - middle) ** 2).sum()), 0.0))
    links, shared = setting.classes.links, setting.classes.shared
    contrast = float("nan")
    if len(links) and shared.sum() > 0:
        ends = swatches[links]
        apart = setting.given.differences[ends[:, 0], ends[:, 1]]
        contrast = float((shared * apart).sum() / shared.sum())
    target = setting.taste.target
    rows = list(setting.given.asked) or np.flatnonzero(target > 0).tolist()
    miss = float(np.abs(share - target)[rows].max()) if rows else 0.0
    alike = math.fsum(length for _, _, length in colouring.equal_neighbours)
    return (
        ("smallest difference", colouring.smallest_difference),
        ("alike length", alike),
        ("lightness range", float(np.ptp(lightness[used])) if len(used) else 0.0),
        ("lightness spread", spread),
        ("mean contrast", contrast),
        ("share miss", miss),
        ("swatches", float(len(used))),
        ("harmony", measure_harmony(colouring.palette, share)),
        ("taste", setting.taste.judge(swatches)),
    )


def measure_harmony(palette: Palette, share: NDArray[np.float64]) -> float:
    """Measure how far the colours of a drawing are kin or opposite in hue.

    `share` (K,): share of the area of each. Returns 0 to 1: the mean over pairs of
    swatches by their areas and chroma. Hues within `_KIN` degrees or farther than
    `_OPPOSITE` agree, those half-way do not (common practice, no source); greys agree
    with everything.
    """
    chroma = np.nan_to_num([s.oklch[1] for s in palette.swatches])
    hue = np.nan_to_num([s.oklch[2] for s in palette.swatches])
    turn = np.abs(hue[:, None] - hue[None, :])
    turn = np.minimum(turn, 360.0 - turn)
    half = (_OPPOSITE - _KIN) / 2.0
    discord = np.clip(1.0 - np.abs(turn - _KIN - half) / half, 0.0, 1.0)
    grey = np.minimum(chroma[:, None], chroma[None, :]) / max(float(chroma.max()), 1e-9)
    weight = np.outer(share, share)
    np.fill_diagonal(weight, 0.0)
    total = float(weight.sum())
    return 1.0 - float((weight * discord * grey).sum()) / total if total > 0 else 1.0


def _is_for_children(palette: Palette) -> bool:
    """Tell whether a palette is of pencils, markers and crayons alone."""
    media = {s.medium for s in palette.swatches} - {"bare", "paper", ""}
    return bool(media) and media <= {"pencil", "marker", "crayon"}


def _is_grey(palette: Palette) -> bool:
    """Tell whether a palette is mostly of near-greys.

    Whether half of them or more have no hue.
    """
    return (
        float(np.median(np.nan_to_num([s.oklch[1] for s in palette.swatches]))) < GREY
    )


def _rank(way: Colourway, goal: float) -> tuple[float, ...]:
    values = dict(way.measures)

    def known(name: str) -> float:
        value = values[name]
        return 0.0 if math.isnan(value) else value

    return (
        round(known("alike length"), 3),
        -round(min(known("smallest difference"), goal), 3),
        _is_for_children(way.colouring.palette),
        # greys agree with all: they would always come first
        _is_grey(way.colouring.palette),
        -math.floor((known("harmony") + known("taste")) / 0.1),
        math.floor(known("share miss") / 0.05),
        -round(known("mean contrast"), 3),
    )


def _with_changes(
    arrangement: Arrangement, ways: list[Colourway]
) -> tuple[Colourway, ...]:
    """Return colourways with the share of area by which each is new."""
    whole = max(float(arrangement.area.sum()), 1e-12)
    out: list[Colourway] = []
    for way in ways:
        changed = 1.0
        for other in out:
            if other.colouring.palette is not way.colouring.palette:
                continue
            new = other.colouring.of_face != way.colouring.of_face
            changed = min(changed, float(arrangement.area[new].sum()) / whole)
        out.append(replace(way, changed=changed))
    return tuple(out)


def pins_of(
    arrangement: Arrangement, orbits: Orbits, colouring: Colouring
) -> tuple[Pin, ...]:
    """Return wishes that give a colouring again.

    A pin for each kind by its letter, for each colour of an alternating kind by a
    point, and the finer pins of the colouring's rules.
    """
    from fillwork.colouring.places import find_place

    names = [swatch.name for swatch in colouring.palette.swatches]
    finer = [pin for pin in colouring.rules.pins if pin.scope != "kind"]
    special = np.zeros(len(colouring.of_face), bool)
    for pin in finer:
        special[find_place(arrangement, orbits, pin.where, pin.scope).faces] = True
    pins: list[Pin] = []
    for orbit in orbits.orbits:
        faces = orbit.faces[~special[orbit.faces]]
        if not len(faces):
            continue
        swatches = distinct(colouring.of_face[faces])
        if len(swatches) == 1:
            pins.append(Pin(orbit.letter, names[int(swatches[0])]))
            continue
        for swatch in swatches:
            same = faces[colouring.of_face[faces] == swatch]
            face = int(same[int(np.argmax(arrangement.inscribed[same]))])
            x, y = arrangement.witness[face].tolist()
            pins.append(Pin(f"@{x:.4f},{y:.4f}", names[int(swatch)]))
    return (*pins, *finer)
