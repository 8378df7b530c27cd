"""What a painter would prefer among colourings that keep kinds apart.

Every preference is a rule with a name, a reason and a weight (`RULES`); common
practice, no source. Each gives costs of swatches on classes, or gains of two swatches
at *bonds*: pairs of classes, touching or not, that should differ or agree. A
*character* leans the rules one way; `balanced` takes them as they are.

Hues are told apart as families of neighbouring hues; near-greys have none. Lightness
is CIE L*, chroma and hue are OKLCH's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.parts import find_parts, leave_touching
from fillwork.errors import ColouringError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Adjacency, Palette, Rules
    from fillwork.colouring.search.parts import Parts
    from fillwork.colouring.search.wishes import Classes
    from fillwork.symmetry.model import Orbits

__all__ = [
    "CHARACTERS",
    "RULES",
    "Bond",
    "Character",
    "Taste",
    "check_character",
    "form_taste",
]

RULES: dict[str, tuple[float, str]] = {
    "contrast": (1.6, "what touches reads apart, in value as much as in hue"),
    "area": (1.0, "a ground, one or two main colours, small accents"),
    "ground": (0.9, "the quietest, widest part of each zone carries the figures"),
    "quiet": (0.6, "chroma falls as area grows: few strong, many quiet"),
    "middle": (0.5, "the piece in the middle takes the strongest step, or metal"),
    "value": (0.5, "ground and main field are 20 L* apart, so grey shows them too"),
    "answer": (1.0, "centre, corners and border share an accent; borders one ground"),
    "frame": (0.4, "field and border differ in value"),
    "likeness": (0.9, "one star, one colour: like shapes alike"),
    "chains": (0.8, "chains of small pieces alternate two swatches"),
    "leaves": (0.5, "halves of a leaf are one hue, the light on the same side"),
    "stems": (0.4, "one stem, one paint"),
    "exchange": (0.8, "colours that change places are dark against light"),
    "hues": (0.6, "few hues in one zone"),
    "many": (0.7, "a palette wants to be used"),
}
"""Weight and reason of each rule, by its name."""


@dataclass(frozen=True, slots=True)
class Character:
    """Say how a colouring is to be.

    Parameters
    ----------
    words : str
        What it is like, for users.
    factors : mapping of str to float
        Factors on the weights of rules.
    hues : int
        Hues more, or fewer, in each zone than usual.
    dark : bool
        Whether the ground is the darkest swatch.
    """

    words: str
    factors: Mapping[str, float] = field(default_factory=dict)
    hues: int = 0
    dark: bool = False


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

_ROLE_SHARES = {"ground": 0.6, "main": 0.3, "accent": 0.1}
_CAP = 45.0  # contrast beyond this gains nothing, ΔE00 or ΔL*
_STEP = 20.0  # L* that part ground and field, and field and border
_ASKED = 40.0  # weight of shares asked for, beside those offered
_GREY = 0.035  # OKLCH chroma below which a swatch counts as no hue
_FAMILY = 40.0  # degrees of hue that read as one
_PALE = 72.0  # L* above which a weak colour is no accent for the middle
_FEW = 4  # kinds more than one from which on shares of areas count in full
_MOST_HUES = 3  # usual in a zone of many kinds, beside near-greys
_NONE = 1 << 30  # swatches of no hue: they neither come nor go


@dataclass(frozen=True, slots=True, eq=False)
class Bond:
    """Hold pairs of classes and what two swatches are worth there.

    Parameters
    ----------
    rule : str
        Name of the rule, or names of several with the same gain.
    links : ndarray of int, shape (E, 2)
        Classes.
    weight : ndarray of float64, shape (E,)
        Weight of each pair.
    gain : ndarray of float64, shape (K, K)
        Gain of two swatches, symmetric.
    """

    rule: str
    links: NDArray[np.integer]
    weight: NDArray[np.float64]
    gain: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Taste:
    """Hold preferences for N classes and K swatches.

    Parameters
    ----------
    area : ndarray of float64, shape (N,)
        Share of the area of each class.
    cost : ndarray of float64, shape (N, K)
        Cost of each swatch on each class by itself.
    bonds : tuple of Bond
        Gains of two swatches on two classes.
    target, strength : ndarray of float64, shape (K,)
        Area share wished and the weight of its squared miss.
    used_gain : ndarray of float64, shape (K,)
        Gain for using a swatch at all.
    zone : ndarray of int64, shape (N,)
        Zone of each class.
    hue : ndarray of int64, shape (K,)
        Hue family of each swatch; the last number stands for none.
    hues_cost : ndarray of float64, shape (Z, H + 2)
        Cost of so many hues in each zone.
    """

    area: NDArray[np.float64]
    cost: NDArray[np.float64]
    bonds: tuple[Bond, ...]
    target: NDArray[np.float64]
    strength: NDArray[np.float64]
    used_gain: NDArray[np.float64]
    zone: NDArray[np.int64]
    hue: NDArray[np.int64]
    hues_cost: NDArray[np.float64]

    def count_hues(self, swatches: NDArray[np.integer]) -> NDArray[np.int64]:
        """Return how many classes of each zone bear each hue.

        Parameters
        ----------
        swatches : ndarray of int, shape (N,)
            Swatch of each class.

        Returns
        -------
        ndarray of int64, shape (Z, H + 1)
            The last column, for no hue, is never empty.
        """
        zones, width = self.hues_cost.shape
        number = np.zeros((zones, width - 1), np.int64)
        np.add.at(number, (self.zone, self.hue[swatches]), 1)
        number[:, -1] = _NONE
        return number

    def measure(self, swatches: NDArray[np.integer]) -> float:
        """Return the cost of an assignment.

        Parameters
        ----------
        swatches : ndarray of int, shape (N,)
            Swatch of each class.

        Returns
        -------
        float
            Lower is better.
        """
        return float(self.measure_all(swatches[None, :])[0])

    def measure_all(self, swatches: NDArray[np.integer]) -> NDArray[np.float64]:
        """Return the costs of several assignments.

        Parameters
        ----------
        swatches : ndarray of int, shape (M, N)
            Swatch of each class, a row each.

        Returns
        -------
        ndarray of float64, shape (M,)
            Lower is better.
        """
        many, kinds = len(swatches), len(self.target)
        row = np.arange(many)[:, None]
        flat = (row * kinds + swatches).ravel()
        areas = np.tile(self.area, many)
        share = np.bincount(flat, areas, many * kinds).reshape(many, kinds)
        used = np.bincount(flat, minlength=many * kinds).reshape(many, kinds) > 0
        value = (self.strength * (share - self.target) ** 2).sum(axis=1)
        value -= np.where(used, self.used_gain, 0.0).sum(axis=1)
        value += self.cost[np.arange(swatches.shape[1]), swatches].sum(axis=1)
        for bond in self.bonds:
            a, b = swatches[:, bond.links[:, 0]], swatches[:, bond.links[:, 1]]
            value -= (bond.weight * bond.gain[a, b]).sum(axis=1)
        zones, width = self.hues_cost.shape
        seen = np.zeros((many, zones, width - 1), dtype=bool)
        seen[row, self.zone, self.hue[swatches]] = True
        number = seen[:, :, :-1].sum(axis=2)
        return np.asarray(value + self.hues_cost[np.arange(zones), number].sum(axis=1))

    def judge(self, swatches: NDArray[np.integer]) -> float:
        """Return how well an assignment keeps the rules, on one scale for palettes.

        Parameters
        ----------
        swatches : ndarray of int, shape (N,)
            Swatch of each class.

        Returns
        -------
        float
            0 to 1: what is kept of all that could be gained.
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


def check_character(name: str) -> Character:
    """Return the character of that name.

    Parameters
    ----------
    name : str
        One of `CHARACTERS`.

    Returns
    -------
    Character
        How the colouring is to be.

    Raises
    ------
    ColouringError
        If there is none.
    """
    found = CHARACTERS.get(name)
    if found is None:
        what = f"“{name}” is no taste"
        mend = "take one of " + ", ".join(CHARACTERS)
        raise ColouringError(what, where="taste", mend=mend)
    return found


class _Colours:
    """Measures of the swatches that the rules ask for."""

    def __init__(
        self,
        palette: Palette,
        open_to: NDArray[np.bool_],
        ground: int | None,
        dark: bool,
    ) -> None:
        self.lightness = np.array([s.lab[0] for s in palette.swatches])
        self.chroma = np.nan_to_num([s.oklch[1] for s in palette.swatches])
        self.hue = np.nan_to_num([s.oklch[2] for s in palette.swatches])
        self.metal = np.array([s.medium == "leaf" for s in palette.swatches])
        self.roles = [s.role for s in palette.swatches]
        if dark:
            ground = int(np.argmin(np.where(open_to, self.lightness, np.inf)))
            given = [j for j, role in enumerate(self.roles) if role == "ground"]
            for j in given:
                self.roles[j] = "accent" if self.roles[ground] == "accent" else "main"
            self.roles[ground] = "ground"
        elif ground is not None:
            self.roles[ground] = "ground"
        elif "ground" not in self.roles and len(self.roles) > 2:
            # the palest stands in for a ground that a plain list of colours lacks
            pale = self.lightness - 100.0 * self.chroma
            self.roles[int(np.argmax(np.where(open_to, pale, -np.inf)))] = "ground"
        value = np.abs(self.lightness[:, None] - self.lightness[None, :])
        self.value = np.minimum(value, _CAP) / _CAP
        self.step = np.minimum(value / _STEP, 1.0) + 0.25 * self.value
        self.same = np.eye(len(self.roles))

    def families(self, open_to: NDArray[np.bool_]) -> tuple[NDArray[np.int64], int]:
        """Return the hue family of each swatch, and their number, which says none."""
        coloured = np.flatnonzero((self.chroma >= _GREY) & open_to)
        if not len(coloured):
            return np.zeros(len(self.chroma), np.int64), 0
        order = coloured[np.argsort(self.hue[coloured], kind="stable")]
        # the circle of hues is cut where it is widest
        angles = self.hue[order]
        gaps = np.diff(np.r_[angles, angles[0] + 360.0])
        order = np.roll(order, -(int(np.argmax(gaps)) + 1))
        family = np.full(len(self.chroma), -1, np.int64)
        number, first = -1, -np.inf
        last = 0.0
        for j in order.tolist():
            angle = last + (self.hue[j] - last) % 360.0
            if angle - first > _FAMILY:
                number, first = number + 1, angle
            family[j], last = number, angle
        family[family < 0] = number + 1
        return family, number + 1

    def alike_in_hue(self) -> NDArray[np.float64]:
        """Return 1 for one hue in two values, down to 0 for far hues or one value."""
        turn = np.abs(self.hue[:, None] - self.hue[None, :])
        turn = np.minimum(turn, 360.0 - turn)
        grey = np.minimum(self.chroma[:, None], self.chroma[None, :]) < _GREY
        near = np.clip(1.0 - turn / (2 * _FAMILY), 0.0, 1.0)
        kin = np.where(grey, 0.2, near) * np.minimum(2 * self.value, 1.0)
        return np.asarray(kin, np.float64)


def _targets(
    palette: Palette,
    colours: _Colours,
    asked: dict[int, float],
    open_to: NDArray[np.bool_],
    weight: float,
    dark: bool,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the area share wished for each swatch and its weight."""
    kinds = len(palette.swatches)
    offered = np.zeros(kinds)
    for j, swatch in enumerate(palette.swatches):
        role = colours.roles[j]
        if swatch.share is not None:
            offered[j] = swatch.share
        elif role in _ROLE_SHARES:
            offered[j] = _ROLE_SHARES[role] / colours.roles.count(role)
    if dark:  # the new ground takes the room of the one before
        widest = int(np.argmax(np.where(open_to, offered, -1.0)))
        new = colours.roles.index("ground")
        offered[[new, widest]] = offered[[widest, new]]
    blank = offered == 0.0
    if blank.any():  # quiet colours may be large, clear ones small
        quiet = 1.0 / (0.05 + colours.chroma[blank])
        rest = 1.0 if blank.all() else float(offered[~blank].mean() * blank.sum())
        offered[blank] = rest * quiet / quiet.sum()
    offered[~open_to] = 0.0
    target = np.zeros(kinds)
    strength = np.full(kinds, weight)
    left = 1.0
    for j, share in asked.items():
        target[j], strength[j] = share, _ASKED
        offered[j] = 0.0
        left -= share
    if offered.sum() > 0:
        target += offered * (left / offered.sum())
    return target, strength / (target + 0.05)


def form_taste(
    arrangement: Arrangement,
    classes: Classes,
    orbits: Orbits,
    adjacency: Adjacency,
    palette: Palette,
    rules: Rules,
    differences: NDArray[np.float64],
    asked: dict[int, float],
    open_to: NDArray[np.bool_],
    ground: int | None,
) -> Taste:
    """Gather what is preferred for one drawing and palette.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    classes : Classes
        The classes.
    orbits : Orbits
        Their kinds.
    adjacency : Adjacency
        How regions touch.
    palette : Palette
        The swatches.
    rules : Rules
        The wishes, with the character.
    differences : ndarray of float64, shape (K, K)
        CIEDE2000 between swatches.
    asked : dict of int to float
        Area shares asked for.
    open_to : ndarray of bool, shape (K,)
        Swatches meant for regions.
    ground : int or None
        Swatch behind the pattern.

    Returns
    -------
    Taste
        The preferences.

    Raises
    ------
    ColouringError
        If there is no such character.
    """
    character = check_character(rules.taste)
    weights = {
        name: weight * character.factors.get(name, 1.0)
        for name, (weight, _) in RULES.items()
    }
    parts = find_parts(arrangement, classes, orbits, adjacency)
    colours = _Colours(palette, open_to, ground, character.dark)
    # the sides of a frame count as one when hues are counted, corners too
    first = [
        parts.roles.index(role) if role in ("border", "corner") else z
        for z, role in enumerate(parts.roles)
    ]
    zone = np.array(first, np.int64)[parts.zone]
    bonds = [
        _contrast(classes, parts, colours, differences, rules),
        *_zone_bonds(classes, parts, colours),
        _bond("likeness", parts.families, colours.same, parts.area),
        _bond("chains", _chains(classes, parts), colours.same, parts.area),
        _bond("leaves", parts.leaves, colours.alike_in_hue(), parts.area),
        _bond("stems", parts.stems, colours.same, parts.area),
        _bond("exchange", classes.unlike, colours.step, parts.area),
    ]
    # the fewer kinds there are, the less shares of areas can be met
    offered = weights["area"] * min(1.0, (classes.count - 1) / _FEW)
    target, strength = _targets(
        palette, colours, asked, open_to, offered, character.dark
    )
    usable = max(1, min(classes.count, int(open_to.sum())))
    gain = np.where(open_to, weights["many"] / usable, 0.0)
    gain[[j for j, share in asked.items() if share <= 0.0]] = 0.0
    hue, hues = colours.families(open_to)
    return Taste(
        area=parts.area,
        cost=_costs(parts, colours, open_to, weights),
        bonds=_joined(bonds, weights),
        target=target,
        strength=strength,
        used_gain=gain,
        zone=zone,
        hue=hue,
        hues_cost=weights["hues"] * _hues(parts, zone, hues, character.hues),
    )


def _joined(bonds: list[Bond], weights: dict[str, float]) -> tuple[Bond, ...]:
    """Return bonds with the weights of their rules, those of one gain as one."""
    found: list[Bond] = []
    for bond in bonds:
        if not len(bond.links):
            continue
        weight = weights[bond.rule] * bond.weight
        same = next((k for k, b in enumerate(found) if b.gain is bond.gain), None)
        if same is None:
            found.append(Bond(bond.rule, bond.links, weight, bond.gain))
            continue
        other = found[same]
        found[same] = Bond(
            f"{other.rule}, {bond.rule}",
            np.concatenate([other.links, bond.links]),
            np.concatenate([other.weight, weight]),
            bond.gain,
        )
    return tuple(found)


def _bond(
    rule: str,
    links: NDArray[np.integer],
    gain: NDArray[np.float64],
    area: NDArray[np.float64],
) -> Bond:
    """Return a bond whose weights sum to 1, half by number and half by area."""
    if not len(links):
        return Bond(rule, np.empty((0, 2), np.int64), np.zeros(0), gain)
    least = area[links].min(axis=1)
    weight = 0.5 / len(links) + 0.5 * least / max(float(least.sum()), 1e-12)
    return Bond(rule, links, weight, gain)


def _contrast(
    classes: Classes,
    parts: Parts,
    colours: _Colours,
    differences: NDArray[np.float64],
    rules: Rules,
) -> Bond:
    apart = np.minimum(differences, _CAP) / _CAP
    gain = np.sqrt((apart + colours.value) / 2.0)
    if rules.goal_difference > 0:  # where the goal cannot be met, come near it
        miss = np.clip(1.0 - differences / rules.goal_difference, 0.0, 1.0)
        gain = gain - miss**2
    links, shared = classes.links, classes.shared
    mean = float(shared.mean()) if len(shared) else 0.0
    weight = np.maximum(shared, 0.02 * mean)
    weight = weight * (1.0 + parts.figure[links].max(axis=1, initial=0.0))
    if weight.sum() > 0:
        weight = weight / weight.sum()
    elif len(weight):
        weight = np.full(len(weight), 1.0 / len(weight))
    return Bond("contrast", links, weight, gain)


def _zone_bonds(classes: Classes, parts: Parts, colours: _Colours) -> list[Bond]:
    """Let ground and field differ in value, and zones answer each other."""

    def pairs(found: list[tuple[int, int]]) -> NDArray[np.int64]:
        return np.array(found, np.int64).reshape(-1, 2)

    under: dict[int, int] = {}
    accents: dict[int, int] = {}
    field_pairs: list[tuple[int, int]] = []
    for z in range(len(parts.roles)):
        own = np.flatnonzero(parts.zone == z)
        if not len(own):
            continue
        ground = int(own[np.argmax(parts.ground[own])])
        under[z] = ground
        rest = own[own != ground]
        if not len(rest):
            continue
        field_pairs.append((ground, int(rest[np.argmax(parts.area[rest])])))
        stands_out = parts.figure[rest] + parts.middle[rest] + 0.5 * parts.small[rest]
        accents[z] = int(rest[np.argmax(stands_out)])
    framed = [z for z in under if parts.roles[z] == "border"]
    fields = [z for z in under if parts.roles[z] == "field"]
    around = [z for z in accents if parts.roles[z] in ("border", "corner", "medallion")]
    answer = [(under[a], under[b]) for a, b in pairwise(framed)]
    answer += [(accents[a], accents[b]) for a, b in pairwise(around)]
    corners = [z for z in under if parts.roles[z] == "corner"]
    answer += [
        (one[name], two[name])
        for zones in (framed, corners)
        for one, two in pairwise([_by_name(parts, z) for z in zones])
        for name in one
        if name in two
    ]
    free = set(map(tuple, leave_touching(classes, pairs(answer)).tolist()))
    touching = [pair for pair in answer if pair not in free]
    frame = [(under[fields[0]], under[z]) for z in framed] if fields else []

    return [
        _bond("value", pairs(field_pairs), colours.step, parts.area),
        _bond(
            "answer", leave_touching(classes, pairs(answer)), colours.same, parts.area
        ),
        # those that touch, as at a mitre, answer by one hue in two values
        _bond("answer", pairs(touching), colours.alike_in_hue(), parts.area),
        _bond("frame", pairs(frame), colours.step, parts.area),
    ]


def _by_name(parts: Parts, zone: int) -> dict[str, int]:
    """Return the largest class of each plain name in a zone."""
    own = np.flatnonzero(parts.zone == zone)
    own = own[np.argsort(parts.area[own], kind="stable")]
    return {parts.names[j]: j for j in own.tolist()}


def _chains(classes: Classes, parts: Parts) -> NDArray[np.int64]:
    """Return small classes of one zone that touch the same small class."""
    fine = parts.small > 0.5
    ends = classes.links.astype(np.int64)
    ends = ends[fine[ends].all(axis=1)]
    ends = ends[parts.zone[ends[:, 0]] == parts.zone[ends[:, 1]]]
    both = np.concatenate([ends, ends[:, ::-1]])
    both = both[np.lexsort((both[:, 1], both[:, 0]))]
    # those that follow each other round one class are alike, every second one
    same = both[1:, 0] == both[:-1, 0]
    found = np.column_stack([both[:-1, 1], both[1:, 1]])[same]
    found = np.unique(np.sort(found, axis=1), axis=0).reshape(-1, 2)
    return leave_touching(classes, found)


def _costs(
    parts: Parts,
    colours: _Colours,
    open_to: NDArray[np.bool_],
    weights: dict[str, float],
) -> NDArray[np.float64]:
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
    base = _mean_lightness(parts, colours)
    step = np.minimum(np.abs(colours.lightness - base) / (2 * _STEP), 1.0)
    shows = np.maximum(step, strong) + 0.5 * strong + 0.5 * colours.metal
    shows -= 1.0 * ((colours.lightness > _PALE) & (strong < 0.5) & ~colours.metal)
    middles = max(float(parts.middle.sum()), 1.0)
    cost -= weights["middle"] * np.outer(parts.middle / middles, shows)
    light = (colours.lightness - 50.0) / 50.0
    halves = max(int((parts.lit != 0).sum()), 1)
    cost -= weights["leaves"] * np.outer(parts.lit / halves, light)
    return cost


def _mean_lightness(parts: Parts, colours: _Colours) -> float:
    """Return the lightness of the ground, against which the middle stands."""
    grounds = [j for j, role in enumerate(colours.roles) if role == "ground"]
    return float(colours.lightness[grounds].mean()) if grounds else 50.0


def _hues(
    parts: Parts, zone: NDArray[np.int64], families: int, more: int
) -> NDArray[np.float64]:
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
        cost[z] = share * np.maximum(number - usual, 0)
    return cost
