"""What a painter would prefer among colourings that keep kinds apart.

Every preference is a rule with a name, a reason and a weight (`RULES`); common
practice, no source. Each gives costs of swatches on classes, or gains of two swatches
at *bonds*: pairs of classes, touching or not, that should differ or agree. A
*character* leans the rules one way; `balanced` takes them as they are.

What the rules ask of swatches stands in `tones`, what part classes play in `parts`,
the bonds in `bonds`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.bonds import find_bonds, join_bonds
from fillwork.colouring.search.parts import find_parts
from fillwork.colouring.search.tones import STEP, Tones, beyond_narrow, find_shares
from fillwork.errors import ColouringError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.colouring.search.bonds import Bond
    from fillwork.colouring.search.parts import Parts
    from fillwork.colouring.search.wishes import Classes, Given

RULES: dict[str, tuple[float, str]] = {
    "contrast": (1.6, "what touches reads apart, in value as much as in hue"),
    "area": (1.0, "a ground, one or two main colours, small accents"),
    "ground": (0.9, "the quietest, widest part of each zone carries the figures"),
    "quiet": (1.0, "chroma falls as area grows: few strong, many quiet"),
    "middle": (0.5, "the piece in the middle takes the strongest step, warm, or metal"),
    "value": (0.5, "ground and main field are 20 L* apart, so grey shows them too"),
    "hollow": (0.3, "wide parts of one zone that lie apart are not all of one paint"),
    "wall": (8.0, "the widest paints of all are 20 L* apart, or the wall is one tone"),
    "answer": (1.0, "centre, corners and border share an accent; borders one ground"),
    "sides": (
        1.2,
        "sides of one frame are alike, or one hue in two values where they touch",
    ),
    "frame": (0.4, "field and border differ in value"),
    "likeness": (0.9, "one star, one colour: like shapes alike"),
    "chains": (0.8, "chains of small pieces alternate two swatches"),
    "leaves": (0.5, "halves of a leaf are one hue, the light on the same side"),
    "stems": (0.4, "one stem, one paint"),
    "exchange": (0.8, "colours that change places are dark against light"),
    "hues": (0.9, "few hues in one zone, yet no zone of one hue"),
    "spark": (0.35, "beside much of one hue a little of a far one, warm on cold"),
    "many": (0.9, "a palette wants to be used"),
    "calm": (2.5, "where each piece has its own shape, few colours hold them together"),
    "lines": (
        2.0,
        "pieces of one paint side by side are pale enough for their lines to show",
    ),
    "rim": (
        1.5,
        "lobes and corners on bare paper are not of its white: they keep an edge",
    ),
    "focus": (
        0.2,
        "what lies round the middle is light to its dark, or dark to its light",
    ),
}
"""Weight and reason of each rule, by its name."""


@dataclass(frozen=True, slots=True)
class Character:
    """Say how a colouring is to be."""

    words: str  # what it is like, for users
    # factors on the weights of rules
    factors: Mapping[str, float] = field(default_factory=dict)
    hues: int = 0  # hues more, or fewer, in each zone than usual
    dark: bool = False  # whether the ground is the darkest swatch


CHARACTERS = {
    "balanced": Character("a ground, one or two main colours, small accents"),
    "quiet": Character(
        "few hues, large parts pale or grey, one clear colour in the middle",
        {"quiet": 3.0, "many": 0.2, "hues": 2.0, "middle": 2.0},
        hues=-1,
    ),
    "festive": Character(
        "many clear colours side by side",
        {"quiet": 0.2, "many": 3.0, "hues": 0.5, "contrast": 1.3, "area": 0.5},
        hues=2,
    ),
    "two-tone": Character(
        "one dark and one light carry the pattern, a third for accents",
        {"many": -1.5, "hues": 3.0, "area": 0.2, "value": 2.0, "likeness": 2.0},
        hues=-8,
    ),
    "dark": Character("the pattern lies light on a dark ground", dark=True),
}
"""Characters that ``--taste`` chooses among."""

_PALE = 72.0  # L* above which a weak colour is no accent for the middle
_DEEP = 40.0  # L* below which a middle begins to be a hole
_FEW = 4  # kinds more than one from which on shares of areas count in full
_MOST_HUES = 3  # usual in a zone of many kinds, beside near-greys
_SEVERAL = 4  # kinds in a zone from which on one hue is dull
_NONE = 1 << 30  # swatches of no hue: they neither come nor go


@dataclass(frozen=True, slots=True, eq=False)
class Taste:
    """Hold preferences for N classes and K swatches."""

    area: Floats  # (N,): share of the area of each class
    cost: Floats  # (N, K): cost of each swatch on each class by itself
    bonds: tuple[Bond, ...]  # gains of two swatches on two classes
    # target and strength, (K,): area share wished and the weight of its squared miss
    target: Floats
    strength: Floats
    used_gain: Floats  # (K,): gain for using a swatch at all
    # near and tone, (K, K): cost of two swatches of like value, times what both cover
    # beyond `NARROW`; symmetric, nothing on the diagonal. `near` has all pairs, `tone`
    # those that were the widest two and count since.
    near: Floats
    tone: Floats
    zone: Ints  # (N,): zone of each class
    # (K,): hue family of each swatch; the last number stands for none
    hue: Ints
    hues_cost: Floats  # (Z, H + 2): cost of so many hues in each zone

    def count_hues(self, swatches: AnyInts) -> Ints:
        """Return how many classes of each zone bear each hue.

        `swatches` (N,): swatch of each class. Returns (Z, H + 1): the last column, for
        no hue, is never empty.
        """
        zones, width = self.hues_cost.shape
        place = self.zone * (width - 1) + self.hue[swatches]
        number = np.bincount(place, minlength=zones * (width - 1))
        number = number.reshape(zones, width - 1)
        number[:, -1] = _NONE
        return number

    def measure(self, swatches: AnyInts) -> float:
        """Return the cost of an assignment; lower is better.

        `swatches` (N,): swatch of each class.
        """
        return float(self.measure_all(swatches[None, :])[0])

    def measure_all(self, swatches: AnyInts) -> Floats:
        """Return the costs of several assignments.

        `swatches` (M, N): swatch of each class, a row each. Returns (M,): lower is
        better.
        """
        many, kinds = len(swatches), len(self.target)
        row = np.arange(many)[:, None]
        flat = (row * kinds + swatches).ravel()
        areas = np.tile(self.area, many)
        share = np.bincount(flat, areas, many * kinds).reshape(many, kinds)
        used = np.bincount(flat, minlength=many * kinds).reshape(many, kinds) > 0
        value = (self.strength * (share - self.target) ** 2).sum(axis=1)
        value -= np.where(used, self.used_gain, 0.0).sum(axis=1)
        wide = beyond_narrow(share)
        value += ((wide @ self.tone) * wide).sum(axis=1)
        value += self.cost[np.arange(swatches.shape[1]), swatches].sum(axis=1)
        for bond in self.bonds:
            a, b = swatches[:, bond.links[:, 0]], swatches[:, bond.links[:, 1]]
            value -= (bond.weight * bond.gain.take(a * kinds + b)).sum(axis=1)
        zones, width = self.hues_cost.shape
        seen = np.zeros((many, zones, width - 1), dtype=bool)
        seen[row, self.zone, self.hue[swatches]] = True
        number = seen[:, :, :-1].sum(axis=2)
        return np.asarray(value + self.hues_cost[np.arange(zones), number].sum(axis=1))

    def part_widest(self, swatches: AnyInts) -> Taste | None:
        """Return the taste to which the two widest paints are one tone, if they are.

        None where they are apart in value. `swatches` (N,): swatch of each class.
        """
        share = np.bincount(swatches, self.area, len(self.target))
        p, q = np.argsort(-share, kind="stable")[:2] if len(share) > 1 else (0, 0)
        if self.near[p, q] <= 0.0 or share[q] <= 0.0:
            return None
        tone = self.tone.copy()
        tone[p, q] = tone[q, p] = self.near[p, q]
        return replace(self, tone=tone)

    def judge(self, swatches: AnyInts) -> float:
        """Return how well an assignment keeps the rules, on one scale for palettes.

        0 to 1: what is kept of all that could be gained. `swatches` (N,): swatch of
        each class.
        """
        own = self.cost[np.arange(len(swatches)), swatches]
        best, worst = self.cost.min(axis=1), self.cost.max(axis=1)
        kept, whole = float((worst - own).sum()), float((worst - best).sum())
        for bond in self.bonds:
            ends = swatches[bond.links]
            low, high = float(bond.gain.min()), float(bond.gain.max())
            gained = bond.gain[ends[:, 0], ends[:, 1]] - low
            kept += float((bond.weight * gained).sum())
            whole += float(bond.weight.sum()) * (high - low)
        return kept / whole if whole > 0 else 1.0


def _check_character(name: str) -> Character:
    """Return the character of that name; how the colouring is to be.

    Raises `ColouringError` if there is none.
    """
    found = CHARACTERS.get(name)
    if found is None:
        what = f"“{name}” is no taste"
        mend = "take one of " + ", ".join(CHARACTERS)
        raise ColouringError(what, where="taste", mend=mend)
    return found


def form_taste(given: Given, classes: Classes, open_to: Bools) -> Taste:
    """Gather what is preferred for one drawing and palette.

    `open_to` (K,): swatches meant for regions. Raises `ColouringError` if there is no
    such character.
    """
    palette, asked = given.palette, given.asked
    character = _check_character(given.rules.taste)
    weights = {
        name: weight * character.factors.get(name, 1.0)
        for name, (weight, _) in RULES.items()
    }
    parts = find_parts(given.arrangement, classes, given.orbits, given.adjacency)
    dark = character.dark and given.ground is None  # a ground that is named stays one
    colours = Tones(palette, open_to, given.ground, dark)
    # the sides of a frame count as one when hues are counted, corners too
    first = [
        parts.roles.index(role) if role in ("border", "corner") else z
        for z, role in enumerate(parts.roles)
    ]
    zone = np.array(first, np.int64)[parts.zone]
    bonds = find_bonds(classes, parts, colours, given.differences, given.rules)
    # the fewer kinds there are, the less shares of areas can be met
    offered = weights["area"] * min(1.0, (classes.count - 1) / _FEW)
    # what lies on bare paper has it for a ground
    offered *= 1.0 - float((parts.rim * parts.area).sum())
    target, strength = find_shares(palette, colours, asked, open_to, offered, dark)
    usable = max(1, min(classes.count, int(open_to.sum())))
    use = weights["many"] - weights["calm"] * parts.loose
    gain = np.where(open_to, use / usable, 0.0)
    gain[[j for j, share in asked.items() if share <= 0.0]] = 0.0
    hue, hues = colours.families(open_to)
    return Taste(
        area=parts.area,
        cost=_costs(parts, colours, open_to, weights),
        bonds=join_bonds(bonds, weights),
        target=target,
        strength=strength,
        used_gain=gain,
        near=weights["wall"] * colours.one_tone,
        tone=np.zeros_like(colours.one_tone),
        zone=zone,
        hue=hue,
        hues_cost=weights["hues"] * _hues(parts, zone, hues, character.hues),
    )


def _costs(
    parts: Parts, colours: Tones, open_to: Bools, weights: dict[str, float]
) -> Floats:
    """Return what each swatch costs on each class by itself."""
    count, kinds = len(parts.area), len(open_to)
    strong = colours.chroma / max(float(colours.chroma.max()), 1e-9)
    cost = np.zeros((count, kinds))
    accent = np.maximum(parts.figure, 0.6 * parts.small)
    for j, role in enumerate(colours.roles):
        if role == "ground":
            cost[:, j] -= 2.0 * parts.ground - 0.5 - 0.5 * parts.figure
            cost[parts.alone, j] += 1.0
        elif role == "accent":
            cost[:, j] -= accent - 0.4
            cost[parts.alone, j] += 0.5
        elif role == "main":
            cost[:, j] -= 0.4 * (1.0 - parts.small)
    cost[:, ~open_to] += 2.0
    cost *= weights["ground"]
    # area and chroma in inverse proportion
    cost += weights["quiet"] * np.outer(0.7 - parts.small, strong)
    # half by number, half by area, so that neither small nor large kinds rule
    cost *= (0.5 / max(count, 1) + 0.5 * parts.area)[:, None]
    base = _mean_lightness(colours)
    step = np.minimum(np.abs(colours.lightness - base) / (2 * STEP), 1.0)
    shows = strong + 0.5 * step + 0.5 * colours.metal
    shows += 0.5 * colours.warm  # warm colours come forward, dark ones are a hole
    shows -= 0.5 * np.clip((_DEEP - colours.lightness) / 15.0, 0.0, 1.0)
    shows -= 1.0 * ((colours.lightness > _PALE) & (strong < 0.5) & ~colours.metal)
    middles = max(int((parts.middle >= 1.0).sum()), 1)
    cost -= weights["middle"] * np.outer(parts.middle / middles, shows)
    number = max(float(parts.rim.sum()), 1.0)
    cost += weights["rim"] * np.outer(parts.rim / number, colours.paper)
    cost += weights["lines"] * np.outer(
        parts.held * (0.5 / max(count, 1) + 0.5 * parts.area), colours.dark
    )
    light = (colours.lightness - 50.0) / 50.0
    halves = max(int((parts.lit != 0).sum()), 1)
    cost -= weights["leaves"] * np.outer(parts.lit / halves, light)
    return cost


def _mean_lightness(colours: Tones) -> float:
    """Return the lightness of the ground, against which the middle stands."""
    grounds = [j for j, role in enumerate(colours.roles) if role == "ground"]
    return float(colours.lightness[grounds].mean()) if grounds else 50.0


def _hues(parts: Parts, zone: Ints, families: int, more: int) -> Floats:
    """Return the cost of 0 to H + 1 hues in each zone: beyond the usual it grows."""
    zones = len(parts.roles)
    cost = np.zeros((zones, families + 2))
    number = np.arange(families + 2)
    for z in range(zones):
        own = zone == z
        if not own.any():
            continue
        # a hue more each time that the kinds double: 2 of three kinds, 3 of eight
        usual = min(round(float(np.log2(own.sum() + 1))), _MOST_HUES)
        usual = max(usual + more, 1)
        share = 0.5 / zones + 0.5 * float(parts.area[own].sum())
        least = min(usual, families, 2 if own.sum() >= _SEVERAL else 1)
        cost[z] = share * (
            np.maximum(number - usual, 0) + np.maximum(least - number, 0)
        )
    return cost
