"""From the maker's wishes to classes of faces and the swatches open to each.

A *class* takes one swatch. It is a kind, or a part of one where a wish reaches
only some of its faces, or one colour of a kind that alternates. Of two wishes
for a face the one with the finer scope counts. Wishes that leave no way out are
refused, naming a set from which none can be dropped without the rest becoming
possible (found by deletion: drop each in turn, keep it out if the rest is still
impossible).
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING, NoReturn

import numpy as np

from fillwork.colouring.adjacency import contacts, sum_pairs
from fillwork.colouring.places import find_place
from fillwork.colouring.search.solve import Problem, solve_threshold
from fillwork.errors import ColouringError
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import marked

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints32
    from fillwork.colouring.model import Adjacency, Rules
    from fillwork.colouring.palettes.model import Palette
    from fillwork.colouring.places import Place
    from fillwork.symmetry.model import Orbits

_FINENESS = {"kind": 0, "turns": 1, "shifts": 2, "only": 3}
_ABOUT = {"kind": "pin", "turns": "pin-turns", "shifts": "pin-shifts"}


@dataclass(frozen=True, slots=True, eq=False)
class Given:
    """Hold what is coloured, with what, and what is wished."""

    arrangement: Arrangement
    orbits: Orbits
    adjacency: Adjacency  # with corners where they count
    palette: Palette
    rules: Rules
    differences: Floats  # (K, K): CIEDE2000 between swatches
    asked: dict[int, float]  # area shares asked for
    ground: int | None  # swatch behind the pattern


@dataclass(frozen=True, slots=True, eq=False)
class Classes:
    """Hold the classes of a drawing and how they touch."""

    of_face: Ints32  # (F,): class of each face; -1 for face 0
    # (N,): a kind to which each class belongs (the first one where it joins several)
    orbit: Ints32
    area: Floats  # (N,): area of its faces, mm²
    domain: tuple[int, ...]  # swatch set open to each class
    links: Ints32  # (E, 2): classes a < b that touch and should contrast
    shared: Floats  # (E,): length they share, mm; 0 for corners only
    # (U, 2): classes that must bear different swatches, touching or not
    unlike: Ints32

    @property
    def count(self) -> int:
        """Return the number of classes."""
        return len(self.domain)


@dataclass(frozen=True, slots=True)
class _Wish:
    text: str
    tie: tuple[int, ...] = ()
    classes: tuple[int, ...] = ()
    mask: int = -1
    most: int | None = None


def swatch_named(palette: Palette, name: str, about: str) -> int:
    """Return the place of a swatch that a wish names.

    `name`: name or code. `about`: the wish, for the error. Raises `ColouringError` if
    the palette has no such swatch.
    """
    try:
        return palette.index(name)
    except KeyError as error:
        what = f'the palette "{palette.name}" has no swatch "{name}"'
        names = {swatch.name.casefold(): swatch.name for swatch in palette.swatches}
        near = difflib.get_close_matches(name.strip().casefold(), list(names), n=1)
        if near:
            mend = f'did you mean "{names[near[0]]}"?'
        else:
            known = [swatch.name for swatch in palette.swatches]
            mend = "it has " + ", ".join(known[:12])
            mend += f" and {len(known) - 12} more" if len(known) > 12 else ""
        raise ColouringError(what, where=about, mend=mend) from error


def share_wishes(palette: Palette, rules: Rules) -> dict[int, float]:
    """Return the area shares that the rules ask for.

    Share of the area, 0 to 1, for each swatch named. Raises `ColouringError` if a share
    is no fraction, a swatch has two, or the sum passes 100 %.
    """
    found: dict[int, float] = {}
    for name, share in rules.shares:
        text = f'share "{name}={share:.4g}"'
        at = swatch_named(palette, name, text)
        if not 0.0 <= share <= 1.0:
            what = f"a share of {100 * share:.4g} % is not between 0 and 100 %"
            raise ColouringError(what, where=text)
        if at in found and found[at] != share:
            what = f'"{palette.swatches[at].name}" is given two shares'
            where = f"{100 * found[at]:.4g} % and {100 * share:.4g} %"
            raise ColouringError(what, where=where, mend="keep one of them")
        found[at] = share
    if sum(found.values()) > 1.0 + 1e-9:
        kept = sorted(found, key=lambda at: (-found[at], at))
        for at in list(reversed(kept)):
            if sum(found[i] for i in kept if i != at) > 1.0 + 1e-9:
                kept.remove(at)
        total = sum(found[i] for i in kept)
        named = ", ".join(
            f"{palette.swatches[i].name} {100 * found[i]:.4g} %" for i in sorted(kept)
        )
        what = f"the shares {named} add up to {100 * total:.4g} %"
        raise ColouringError(what, mend="lower them to 100 % or less together")
    return found


class _Sorter:
    """Split base classes by the finer pins and gather all wishes."""

    def __init__(
        self,
        arrangement: Arrangement,
        orbits: Orbits,
        palette: Palette,
        rules: Rules,
        base: Ints32,
        unlike: Ints32,
    ) -> None:
        self.orbits, self.kinds = orbits, len(palette.swatches)
        hexes = np.array([swatch.hex for swatch in palette.swatches])
        self.differ = (hexes[:, None] != hexes).astype(np.float64)
        self.of_face = base.copy()
        self.base = base
        # a colour that no region of the page bears is no class; splits take its number
        self.unlike = unlike[(unlike <= base.max(initial=-1)).all(axis=1)]
        self.next = int(base.max(initial=-1)) + 1
        self.wishes: list[_Wish] = []
        pins = []
        for pin in rules.pins:
            about = _ABOUT.get(pin.scope, "pin-only")
            text = f'{about} "{pin.where}={pin.swatch}"'
            swatch = swatch_named(palette, pin.swatch, text)
            place = find_place(arrangement, orbits, pin.where, pin.scope)
            pins.append((_FINENESS[pin.scope], text, place, swatch))
        split: dict[tuple[int, bytes], int] = {}
        for fineness, _, place, _ in sorted(pins, key=lambda p: p[0]):
            if fineness:
                self._split(place, split)
        for _, text, place, swatch in pins:
            if place.scope != "kind":
                classes = self._split_classes(place, split)
            elif place.face is None:
                classes = self._classes(place, one=True)
            else:  # the kind, though a finer pin may hold the region pointed at
                classes = (int(self.base[place.face]),)
            self.wishes.append(_Wish(text, classes=classes, mask=1 << swatch))
        for where, name in rules.bans:
            text = f'ban "{where}={name}"'
            swatch = swatch_named(palette, name, text)
            place = find_place(arrangement, orbits, where)
            classes = self._classes(place, one=False)
            self.wishes.append(_Wish(text, classes=classes, mask=~(1 << swatch)))
        for tie in rules.ties:
            text = f'tie "{",".join(tie)}"'
            tied: list[int] = []
            for where in tie:
                place = find_place(arrangement, orbits, where)
                tied.extend(self._classes(place, one=True))
            self.wishes.append(_Wish(text, tie=tuple(dict.fromkeys(tied))))
        if rules.most is not None:
            if rules.most < 1:
                what = f"a drawing cannot have {rules.most} swatches"
                raise ColouringError(what, where="most", mend="allow at least 1")
            self.wishes.append(_Wish(f"most {rules.most}", most=rules.most))
        self.present = marked(self.of_face[self.of_face >= 0], self.next)

    def _pieces(self, place: Place) -> list[Ints32]:
        """Return the faces of a place, base class by base class."""
        classes = self.base[place.faces]
        return [place.faces[classes == c] for c in np.unique(classes)]

    def _split(self, place: Place, split: dict[tuple[int, bytes], int]) -> None:
        for faces in self._pieces(place):
            key = (_FINENESS[place.scope], faces.tobytes())
            if key in split:
                continue
            split[key] = self.next
            self.of_face[faces] = self.next
            self.next += 1

    def _split_classes(
        self, place: Place, split: dict[tuple[int, bytes], int]
    ) -> tuple[int, ...]:
        return tuple(
            split[_FINENESS[place.scope], faces.tobytes()]
            for faces in self._pieces(place)
        )

    def _classes(self, place: Place, *, one: bool) -> tuple[int, ...]:
        """Return the classes a wish for whole kinds means.

        Where a kind alternates and `one` is set, the class of the face that was
        pointed at or represents the kind.
        """
        if place.face is not None:
            return (int(self.of_face[place.face]),)
        found: list[int] = []
        for row in place.orbits:
            orbit = self.orbits.orbits[row]
            base = np.unique(self.base[orbit.faces])
            if one and len(base) > 1:
                found.append(int(self.base[orbit.representative]))
                continue
            found.extend(int(c) for c in base)
        return tuple(dict.fromkeys(found))

    def merge(
        self, wishes: list[_Wish]
    ) -> tuple[Ints32, list[int], Ints32, int | None]:
        """Join the classes that wishes tie, and say what they leave open.

        Returns the new number of each class, -1 where no region bears it; the swatch
        set of each new one; which of these must be unlike; the most swatches in all.
        """
        ties = [(wish.tie[0], other) for wish in wishes for other in wish.tie[1:]]
        tied = np.array(ties, np.int64).reshape(-1, 2)
        roots = components(tied[:, 0], tied[:, 1], self.next)
        kept = np.unique(roots[self.present])
        place = np.full(self.next, -1, np.int32)
        place[kept] = np.arange(len(kept), dtype=np.int32)
        place = place[roots]
        domain = [(1 << self.kinds) - 1] * len(kept)
        for wish in wishes:
            for j in wish.classes:
                if place[j] >= 0:
                    domain[int(place[j])] &= wish.mask
        unlike = place[self.unlike]
        most = next((wish.most for wish in wishes if wish.most is not None), None)
        return place, domain, unlike[(unlike >= 0).all(axis=1)], most

    def allows(self, wishes: list[_Wish]) -> bool:
        """Say whether wishes leave every class a swatch, as far as that is known."""
        _, domain, unlike, most = self.merge(wishes)
        if 0 in domain or (unlike[:, 0] == unlike[:, 1]).any():
            return False
        if not len(unlike):
            if most is None:
                return True
            domain = sorted(set(domain))  # like sets may take like swatches
        none = np.empty((0, 2), np.int32)
        problem = Problem(tuple(domain), none, unlike, self.differ, most)
        answer, _ = solve_threshold(problem, 0.0, limit=5000)
        return answer is not False

    def refuse(self) -> NoReturn:
        """Name wishes that cannot be met together, each needed for that."""
        kept = list(self.wishes)
        for wish in self.wishes:
            rest = [other for other in kept if other is not wish]
            if not self.allows(rest):
                kept = rest
        mend = "drop or change any one of them"
        if not kept:
            what = "counterchange needs more swatches than the "
            what += f"{self.kinds} of the palette"
            mend = "take a palette with more swatches"
        elif len(kept) == 1:
            what = f"this wish cannot be met: {kept[0].text}"
            mend = "drop it, or take a palette with more swatches"
        else:
            told = "; ".join(wish.text for wish in kept)
            what = f"these wishes contradict each other: {told}"
        raise ColouringError(what, mend=mend)


def build_classes(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    palette: Palette,
    rules: Rules,
    *,
    base: Ints32 | None = None,
    unlike: Ints32 | None = None,
) -> Classes:
    """Turn wishes into classes of faces with the swatches open to each.

    `adjacency`: how faces touch. `base` (F,): class of each face before wishes; its
    kind by default. `unlike` (U, 2): base classes that must bear different swatches.
    Raises `ColouringError` if a place or swatch is unknown or wishes contradict each
    other.
    """
    if not palette.swatches:
        what = f'the palette "{palette.name}" has no swatch'
        raise ColouringError(what, mend="add paints to it")
    if base is None:
        base = np.asarray(orbits.of_face, np.int32)
    if unlike is None:
        unlike = np.empty((0, 2), np.int32)
    sorter = _Sorter(arrangement, orbits, palette, rules, base, unlike)
    if not sorter.allows(sorter.wishes):
        sorter.refuse()
    place, domain, pairs, _ = sorter.merge(sorter.wishes)
    inside = sorter.of_face >= 0
    of_face = np.full(len(base), -1, np.int32)
    of_face[inside] = place[sorter.of_face[inside]]
    number = len(domain)
    orbit = np.full(number, len(orbits.orbits), np.int32)
    np.minimum.at(orbit, of_face[inside], orbits.of_face[inside])
    area = np.bincount(
        of_face[inside], weights=arrangement.area[inside], minlength=number
    )
    links, shared = _links(adjacency, of_face, number, corners=rules.corners_count)
    return Classes(
        of_face=of_face,
        orbit=orbit,
        area=area.astype(np.float64),
        domain=tuple(domain),
        links=links,
        shared=shared,
        unlike=np.unique(np.sort(pairs, axis=1), axis=0).astype(np.int32),
    )


def _links(
    adjacency: Adjacency, of_face: Ints32, count: int, *, corners: bool
) -> tuple[Ints32, Floats]:
    pairs, shared = contacts(adjacency, corners=corners)
    ends = of_face[pairs]
    known = (ends >= 0).all(axis=1) & (ends[:, 0] != ends[:, 1])
    return sum_pairs(ends[known], shared[known], count)
