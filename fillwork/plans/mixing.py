"""Recipes from the paints on hand.

The file of paints on hand is written like a palette (`palettes/README.md`); a
palette file serves as it is. Besides the keys of a palette it knows, at the top,

``white``
    Name of the white that tints were made with; the lightest paint by default.

and for each paint

``tint`` and ``tint_parts``
    The colour seen when 1 part of the paint is mixed with `tint_parts` parts
    (10 by default) of that white: it calibrates the tinting strength.
``strength``
    The tinting strength itself, white = 1, if it is known.

A recipe is a starting point: the model is Kubelka and Munk's with a single
constant, on reflectance rebuilt from screen colours. It knows nothing of
undertone, of how finely a pigment is ground, or of what a medium does on drying.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.colouring.difference import (
    ciede2000,
    hex_to_srgb,
    linear_to_srgb,
    parse_colour,
    srgb_to_hex,
    srgb_to_lab,
    srgb_to_linear,
)
from fillwork.colouring.palettes.file import (
    OPACITIES,
    PAINT_KEYS,
    TOP_KEYS,
    build_swatches,
)
from fillwork.colouring.palettes.model import MOST_SWATCHES
from fillwork.colouring.palettes.paint_keys import read_prices
from fillwork.colouring.palettes.tables import load_tables, nearest
from fillwork.errors import PaletteError
from fillwork.notes import Note
from fillwork.plans.media import liquid
from fillwork.plans.spectra import (
    absorb,
    linear_of,
    mix_reflectance,
    rebuild_reflectance,
    reflect,
)
from fillwork.tomlfile import LONGEST_TEXT

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from typing import Any

    from fillwork.arrays import Floats
    from fillwork.colouring.palettes.model import Palette, Prices, Swatch
    from fillwork.colouring.palettes.tables import TableReader

_FARTHEST = 5.0
"""ΔE00 beyond which a recipe is no mix of the colour."""

_STARTING_POINT = "A starting point: paint a swatch first."
_MOST_PARTS = 10
_TRIPLE_PARTS = 8
_DEEP = 8
_TINTS = (12, 15, 20, 30)
_TINT_PARTS = 10.0
_STRENGTH_KEYS = ("tint", "tint_parts", "strength")
_PER_PAINT, _PER_PART = 0.6, 0.05


@dataclass(frozen=True, slots=True)
class HandPaint:
    """Hold one paint on hand."""

    swatch: Swatch  # what the file says of it, as a palette would
    strength: float = 1.0  # tinting strength, white = 1
    calibrated: bool = False  # whether the strength was told or found from a tint

    @property
    def name(self) -> str:
        """Return its name."""
        return self.swatch.name


class Hand(NamedTuple):
    """Hold a file of paints on hand."""

    paints: tuple[HandPaint, ...] = ()
    currency: str = ""  # the file's word for prices
    prices: Prices = ()  # what the file says that tools and materials cost
    notes: tuple[Note, ...] = ()  # what is doubtful in it


@dataclass(frozen=True, slots=True)
class Recipe:
    """Hold a mix that comes near a colour."""

    parts: tuple[tuple[HandPaint, int], ...]  # whole parts by volume, the largest first
    difference: float  # expected ΔE00 from the colour
    hex: str  # expected colour
    remark: str = field(default=_STARTING_POINT)  # how far to trust it

    @property
    def single(self) -> str:
        """Return the name of the paint that is taken as it is.

        Empty where several are mixed.
        """
        return self.parts[0][0].name if len(self.parts) == 1 else ""

    @property
    def text(self) -> str:
        """Return the recipe in words.

        Such as ``3 parts white, 1 part ochre``, or ``ochre as it is``.
        """
        if self.single:
            return f"{self.single} as it is"
        return ", ".join(
            f"{n} part{'s' if n > 1 else ''} {paint.name}" for paint, n in self.parts
        )


def parse_paints(data: bytes, file: str) -> Hand:
    """Read the paints on hand.

    `data`: TOML as the module's head says. Doubtful are unknown pigments and tints that
    do not fit. Raises `PaletteError` if something is wrong; names the line and the
    nearest valid key.
    """
    reader, table = load_tables(data, file)
    reader.known_keys(table, (*TOP_KEYS, "white"), -1)
    paints = table.get("paint", [])
    if not isinstance(paints, list) or not all(isinstance(p, dict) for p in paints):
        reader.fail("“paint” must be written [[paint]]", -1, "paint")
    if not paints or len(paints) > MOST_SWATCHES:
        what = f"{len(paints)} paints are on hand"
        mend = f"list 1 to {MOST_SWATCHES} [[paint]] tables"
        raise PaletteError(what, where=file, mend=mend)
    extras = []
    for place, paint in enumerate(paints):
        reader.known_keys(paint, (*PAINT_KEYS, *_STRENGTH_KEYS), place)
        extras.append({k: paint.pop(k) for k in _STRENGTH_KEYS if k in paint})
    swatches = build_swatches(reader, table, paints)
    white = _white(reader, table, swatches)
    found = [
        _hand_paint(reader, swatch, extra, place, swatches[white])
        for place, (swatch, extra) in enumerate(zip(swatches, extras, strict=True))
    ]
    found[white] = replace(found[white], calibrated=True)  # strengths count from it
    currency = reader.text(table, "currency", -1, 20)
    prices = read_prices(reader, table)
    return Hand(tuple(found), currency, prices, tuple(reader.notes))


def _strength_notes(recipes: Iterable[Recipe]) -> tuple[Note, ...]:
    """Return a note where mixes take paints whose strength is not known."""
    mixed = (p for r in recipes if not r.single for p, _ in r.parts)
    loose = list(dict.fromkeys(p.name for p in mixed if not p.calibrated))
    if not loose:
        return ()
    named = ", ".join(loose[:6]) + (" ..." if len(loose) > 6 else "")
    text = f"the tinting strength of {named} is not known; 1 was taken"
    remedy = "mix 1 part with 10 parts of white and give its colour as tint"
    return (Note("plans", "strength not known", text, remedy=remedy),)


def _white(
    reader: TableReader, table: dict[str, Any], swatches: tuple[Swatch, ...]
) -> int:
    name = reader.text(table, "white", -1, LONGEST_TEXT)
    if not name:
        return max(range(len(swatches)), key=lambda i: (swatches[i].lab[0], -i))
    names = [s.name.casefold() for s in swatches]
    if name.casefold() in names:
        return names.index(name.casefold())
    near = nearest(name, tuple(s.name for s in swatches))
    mend = f"did you mean “{near}”?" if near else "give the name of a paint of the file"
    return reader.fail(f"“{name}” is no paint of this file", -1, "white", mend)


def _hand_paint(
    reader: TableReader,
    swatch: Swatch,
    extra: dict[str, Any],
    place: int,
    white: Swatch,
) -> HandPaint:
    what = "a tinting strength above 0, white = 1"
    strength = reader.number(extra, "strength", place, 1000.0, what)
    what = "parts of white to 1 part of the paint"
    parts = reader.number(extra, "tint_parts", place, 1000.0, what) or _TINT_PARTS
    tint = reader.text(extra, "tint", place, LONGEST_TEXT)
    if tint and strength is None:
        try:
            seen = parse_colour(tint).hex
        except PaletteError as error:
            where = f"{reader.file}, line {reader.lines.of(place, 'tint')}"
            raise PaletteError(error.what, where, error.mend) from error
        strength, miss = _calibrate(swatch.hex, white.hex, seen, parts)
        if miss > 10.0:
            text = f"{swatch.name}: no tint with {white.name} comes nearer to the one "
            text += f"given than ΔE00 {miss:.0f}"
            remedy = "check tint, tint_parts and which paint is the white"
            reader.doubt("tint does not fit", text, place, "tint", remedy)
    calibrated = strength is not None
    return HandPaint(swatch, 1.0 if strength is None else strength, calibrated)


def _ratios(hexes: Sequence[str]) -> Floats:
    return absorb(rebuild_reflectance(srgb_to_linear(hex_to_srgb(hexes))))


def _lab(reflectance: Floats) -> Floats:
    srgb = np.clip(linear_to_srgb(linear_of(reflectance)), 0.0, 1.0)
    return srgb_to_lab(srgb)


def _calibrate(paint: str, white: str, seen: str, parts: float) -> tuple[float, float]:
    """Return the strength that explains a tint, and the ΔE00 that is left."""
    ratios = _ratios([paint, white])
    target = srgb_to_lab(hex_to_srgb(seen))
    low, high = math.log(0.001), math.log(1000.0)
    for _ in range(4):
        steps = np.linspace(low, high, 121)
        amounts = np.stack([np.exp(steps), np.full(len(steps), parts)], axis=1)
        miss = ciede2000(_lab(mix_reflectance(ratios, amounts)), target)
        best = int(np.argmin(miss))
        width = steps[1] - steps[0]
        low, high = steps[best] - 2 * width, steps[best] + 2 * width
    return round(float(np.exp(steps[best])), 4), float(miss[best])


@lru_cache(maxsize=8)
def _proportions(paints: int, most: int) -> Floats:
    """Return all proportions of some paints in whole parts, in lowest terms."""
    found = [
        row
        for row in itertools.product(range(1, most), repeat=paints)
        if sum(row) <= most and math.gcd(*row) == 1
    ]
    if paints == 2:
        found += [row for n in _TINTS for row in ((n, 1), (1, n))]
    found.sort(key=lambda row: (sum(row), row))
    table = np.array(found, dtype=np.float64).reshape(-1, paints)
    table.setflags(write=False)
    return table


def find_mixes(swatches: Sequence[Swatch], paints: Sequence[HandPaint]) -> list[Recipe]:
    """Find for each swatch the recipe that comes nearest.

    One a swatch: one paint, two (up to 10 parts; tints up to 30 to 1) or three (up to
    8).

    Raises `PaletteError` if there is no paint.

    A recipe with one paint more must be nearer by 0.6 ΔE00, each further part
    counts 0.05. All pairs are tried; three paints among the eight that do best
    in pairs for that swatch.
    """
    if not paints:
        what = "no paint is on hand"
        raise PaletteError(what, mend="list at least one [[paint]]")
    if not swatches:
        return []
    best = _Best(swatches, paints)
    best.offer(itertools.combinations(range(len(paints)), 1), np.ones((1, 1)))
    if len(paints) > 1:
        pairs = itertools.combinations(range(len(paints)), 2)
        best.offer(pairs, _proportions(2, _MOST_PARTS))
    if len(paints) > 2:
        for row, costs in enumerate(best.cost_of.copy()):
            few = np.sort(np.argsort(costs, kind="stable")[:_DEEP])
            triples = itertools.combinations(few.tolist(), 3)
            best.offer(triples, _proportions(3, _TRIPLE_PARTS), only=row)
    return [best.recipe(row) for row in range(len(swatches))]


def as_mixed(swatch: Swatch, recipe: Recipe) -> Swatch:
    """Return a swatch as it is when it is mixed from the paints on hand.

    The same colour; medium, opacity, pigments, coverage, cautions and times come from
    the parts where they are known: the medium that has most parts, the opacity and the
    volume a m² takes by parts, the longest times.
    """
    told = [(paint.swatch, n) for paint, n in recipe.parts]
    parts: dict[str, int] = {}
    for one, n in told:
        if one.medium:
            parts[one.medium] = parts.get(one.medium, 0) + n
    medium = max(parts, key=lambda m: parts[m], default=swatch.medium)
    clear = [(OPACITIES.index(o.opacity), n) for o, n in told if o.opacity]
    rank = sum(c * n for c, n in clear) / sum(n for _, n in clear) if clear else -1
    covers = [(1.0 / o.coverage, n) for o, n in told if o.coverage]
    known = len(covers) == len(told)
    litres = sum(c * n for c, n in covers) / sum(n for _, n in told) if known else 0.0
    drying = [o.drying for o, _ in told if o.drying is not None]
    cure = [o.cure for o, _ in told if o.cure is not None]
    pigments = [p for o, _ in told for p in o.pigments]
    return replace(
        swatch,
        medium=medium,
        opacity=OPACITIES[math.floor(rank + 0.5)] if clear else swatch.opacity,
        pigments=tuple(dict.fromkeys(pigments)) or swatch.pigments,
        coverage=1.0 / litres if litres else None,
        price=(),
        drying=max(drying, default=None),
        cure=max(cure, default=None),
        cautions=tuple(dict.fromkeys(c for o, _ in told for c in o.cautions)),
    )


class _Best:
    """Keep the best recipe of each swatch, and how well each paint does for it."""

    def __init__(self, swatches: Sequence[Swatch], paints: Sequence[HandPaint]) -> None:
        self.paints = paints
        self.target = np.array([s.lab for s in swatches])
        self.ratios = _ratios([p.swatch.hex for p in paints])
        self.strength = np.array([p.strength for p in paints])
        # least cost of a recipe that takes each paint, singles and pairs alone
        self.cost_of = np.full((len(swatches), len(paints)), np.inf)
        self.cost = np.full(len(swatches), np.inf)
        self.miss = np.zeros(len(swatches))
        self.curve = np.zeros((len(swatches), 36))
        self.parts: list[dict[int, int]] = [{}] * len(swatches)

    def offer(
        self,
        groups: Iterable[tuple[int, ...]],
        proportions: Floats,
        only: int | None = None,
    ) -> None:
        """Weigh every group of paints in every proportion."""
        chosen = np.array(list(groups))
        rows = range(len(self.target)) if only is None else (only,)
        size = chosen.shape[1]
        dear = _PER_PAINT * (size - 1) + _PER_PART * proportions.sum(axis=1)
        step = max(1, 20_000 // len(proportions))
        for first in range(0, len(chosen), step):
            some = chosen[first : first + step]
            amounts = proportions[None] * self.strength[some][:, None, :]
            amounts /= amounts.sum(axis=-1, keepdims=True)
            curves = reflect(amounts @ self.ratios[some])
            lab = _lab(curves)
            for row in rows:
                miss = ciede2000(lab, self.target[row])
                cost = miss + dear[None]
                if only is None:
                    least = np.repeat(cost.min(axis=1), size)
                    np.minimum.at(self.cost_of[row], some.ravel(), least)
                group, mix = divmod(int(np.argmin(cost)), len(proportions))
                if cost[group, mix] < self.cost[row] - 1e-9:
                    self.cost[row] = cost[group, mix]
                    self.miss[row] = miss[group, mix]
                    self.curve[row] = curves[group, mix]
                    numbers = proportions[mix].astype(int).tolist()
                    pairs = zip(some[group].tolist(), numbers, strict=True)
                    self.parts[row] = dict(pairs)

    def recipe(self, row: int) -> Recipe:
        """Return the best recipe of a swatch."""
        parts = sorted(self.parts[row].items(), key=lambda p: (-p[1], p[0]))
        used = tuple((self.paints[i], n) for i, n in parts)
        (hexed,) = srgb_to_hex(linear_to_srgb(linear_of(self.curve[row][None])))
        remark = _STARTING_POINT
        if len(used) > 1 and any(not p.calibrated for p, _ in used):
            remark += " Tinting strengths are not known: expect to correct it."
        if self.miss[row] > _FARTHEST:
            remark += " No mix of these paints comes near."
        return Recipe(used, round(float(self.miss[row]), 3), hexed, remark)


class Mixes:
    """Hold which swatches are mixed from the paints on hand, and which are not.

    `used`: swatches that are painted. `on_hand`: file of the paints on hand.
    """

    def __init__(
        self, palette: Palette, used: Sequence[int], on_hand: bytes | None
    ) -> None:
        self.swatches: list[Swatch] = list(palette.swatches)
        self.recipes: dict[int, Recipe] = {}
        self.refused: dict[int, Recipe] = {}  # the nearest, where none comes near
        self.hand = Hand()
        if on_hand is None:
            return
        self.hand = parse_paints(on_hand, "paints on hand")
        wanted = [i for i in used if liquid(palette.swatches[i])]
        found = find_mixes([palette.swatches[i] for i in wanted], self.hand.paints)
        for place, recipe in zip(wanted, found, strict=True):
            if recipe.difference > _FARTHEST:
                self.refused[place] = recipe
            else:
                self.recipes[place] = recipe
                self.swatches[place] = as_mixed(palette.swatches[place], recipe)

    @property
    def notes(self) -> tuple[Note, ...]:
        """Return what is doubtful in the file, and what cannot be mixed from it."""
        none = []
        for place, recipe in self.refused.items():
            text = (
                f"{self.swatches[place].name} cannot be mixed from the paints on hand: "
                f"the nearest, {recipe.text}, is off by ΔE00 {recipe.difference:.1f}"
            )
            remedy = "buy it, or add a paint that comes nearer"
            none.append(Note("plans", "no mix", text, remedy=remedy))
        return (*self.hand.notes, *none, *_strength_notes(self.recipes.values()))
