"""Counterchange: colours that change places under the symmetry.

A kind takes K colours perfectly when every operation of the group carries each
colour wholly onto one colour. Such colourings are the subgroups H of index K
that contain the stabiliser of one of the kind's regions F: the region gF takes
the colour of the coset gH. Different subgroups give different colourings, also
where they are conjugate. Kinds that share colours must share one action: their
subgroups are conjugate, and their cosets are matched by an element that carries
one subgroup to the other.

The colour of a region follows from its place in the repeat, which is found by
carrying a point inside it back into the region that represents its kind; so a
region that the page cuts has the colour of the whole one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.model import Counterchange
from fillwork.colouring.subgroups import (
    conjugacy_classes,
    conjugate,
    find_subgroups,
    read_pattern_group,
    subgroup_name,
)
from fillwork.errors import ColouringError
from fillwork.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Adjacency, Palette, Rules
    from fillwork.colouring.subgroups import Element, PatternGroup, Subgroup
    from fillwork.symmetry.model import Orbits, Zone

__all__ = [
    "MOST_COLOURS",
    "Alternation",
    "Choice",
    "find_choices",
    "plan_counterchange",
]

MOST_COLOURS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Hold one way in which a kind can alternate.

    Parameters
    ----------
    letter : str
        The kind.
    number : int
        From 1, those under which touching regions differ first.
    colours : int
        How many change places, K.
    subgroup : str
        Name of the subgroup that keeps a colour in place.
    sentence : str
        What it does, in plain words.
    alike : float
        Length along which touching regions of the kind bear one colour, mm.
    faces : ndarray of int32
        The regions of the kind.
    colour : ndarray of int32
        Which of the K colours each has; the representative has 0.
    """

    letter: str
    number: int
    colours: int
    subgroup: str
    sentence: str
    alike: float
    faces: NDArray[np.int32]
    colour: NDArray[np.int32]

    def __post_init__(self) -> None:
        self.faces.setflags(write=False)
        self.colour.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Alternation:
    """Hold what counterchange settles before swatches are chosen.

    Parameters
    ----------
    base : ndarray of int32, shape (F,)
        Class of each face: its kind, or one colour of a set that alternates.
    unlike : ndarray of int32, shape (U, 2)
        Classes that must bear different swatches.
    counterchange : Counterchange
        Which kinds alternate, and how.
    notes : tuple of Note
        Which kinds stay as they are, and why.
    """

    base: NDArray[np.int32]
    unlike: NDArray[np.int32]
    counterchange: Counterchange
    notes: tuple[Note, ...]


class _Cosets:
    """The cosets gH of a subgroup, numbered from 0 for H itself."""

    def __init__(self, group: PatternGroup, subgroup: Subgroup) -> None:
        self.group, self.subgroup = group, subgroup
        zero = (0,) * group.rank
        steps: list[Element] = [(g, zero) for g in range(1, group.order)]
        steps += [
            (0, tuple(int(i == j) for j in range(group.rank)))
            for i in range(group.rank)
        ]
        self.members: list[Element] = [(0, zero)]
        self._back: list[Element] = [(0, zero)]
        self._memo: dict[Element, int] = {}
        for member in self.members:  # grows while it is walked
            for step in steps:
                new = group.multiply(step, member)
                if self._find(new) < 0:
                    self.members.append(new)
                    self._back.append(group.invert(new))
        # translations by this many lattice vectors keep every coset
        self._period = max(subgroup.index, 1) if group.rank else 1

    def _find(self, element: Element) -> int:
        for number, back in enumerate(self._back):
            if self.subgroup.contains(self.group.multiply(back, element)):
                return number
        return -1

    def number(self, element: Element) -> int:
        """Return the coset of an operation."""
        g, t = element
        key = (g, tuple(v % self._period for v in t))
        found = self._memo.get(key)
        if found is None:
            found = self._memo[key] = self._find(key)
        return found


@dataclass(frozen=True, slots=True, eq=False)
class _Kind:
    """One kind: where its regions are in the group, and what keeps one in place."""

    row: int
    letter: str
    faces: NDArray[np.int32]
    places: tuple[Element, ...]
    stabiliser: tuple[Element, ...]
    area: float
    doubtful: int


def _offsets(rank: int, reach: int) -> list[tuple[int, ...]]:
    span = sorted(range(-reach, reach + 1), key=abs)
    if rank == 0:
        return [()]
    if rank == 1:
        return [(a,) for a in span]
    return sorted(
        ((a, b) for a in span for b in span), key=lambda t: (abs(t[0]) + abs(t[1]), t)
    )


def _locate(
    arrangement: Arrangement,
    group: PatternGroup,
    face: int,
    points: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Return the operation (g, t) that carries a face over each point.

    Points that no image of the face holds get the nearest image.
    """
    import shapely

    polygon = arrangement.polygons(np.array([face]))[0]
    shapely.prepare(polygon)
    home = arrangement.witness[face]
    away = np.linalg.pinv(group.basis) if group.rank else np.zeros((2, 0))
    count = len(points)
    part = np.full(count, -1, np.int64)
    move = np.zeros((count, group.rank), np.int64)
    sure = np.zeros(count, bool)
    near = np.full(count, np.inf)
    offsets = _offsets(group.rank, 2)
    for g in range(group.order):
        rows = np.flatnonzero(~sure)
        if not len(rows):
            break
        # back by the operation, then by lattice vectors to the face
        inside = (points[rows] - group.shift[g]) @ group.linear[g]
        whole = np.rint((inside - home) @ away).astype(np.int64)
        for offset in offsets:
            steps = whole + np.array(offset, np.int64).reshape(1, -1)
            back = inside - steps @ group.basis if group.rank else inside
            hit = shapely.contains_xy(polygon, back[:, 0], back[:, 1])
            apart = np.hypot(*(back - home).T)
            better = hit & ~sure[rows] | ~sure[rows] & ~hit & (apart < near[rows])
            near[rows[better]] = apart[better]
            part[rows[better]] = g
            turned = (
                steps
                @ np.array(group.matrix[g], np.int64).reshape(group.rank, group.rank).T
            )
            move[rows[better]] = turned[better]
            sure[rows[hit]] = True
    return part, move, sure


def _stabiliser(
    arrangement: Arrangement, group: PatternGroup, face: int
) -> tuple[Element, ...]:
    """Return the operations that carry a face onto itself."""
    import shapely

    polygon = arrangement.polygons(np.array([face]))[0]
    home = arrangement.witness[face]
    centre = np.array(polygon.centroid.coords[0])
    away = np.linalg.pinv(group.basis) if group.rank else np.zeros((2, 0))
    found: list[Element] = []
    for g in range(group.order):
        # where centroids meet, the face lies over itself
        image = group.linear[g] @ centre + group.shift[g]
        whole = np.rint((centre - image) @ away).astype(np.int64)
        for offset in _offsets(group.rank, 1):
            t = whole + np.array(offset, np.int64)
            point = group.linear[g] @ home + group.shift[g] + t @ group.basis
            if bool(shapely.contains_xy(polygon, point[0], point[1])):
                found.append((g, tuple(int(v) for v in t)))
                break
    return tuple(found)


def _alternating_zone(orbits: Orbits, row: int) -> Zone | None:
    orbit = orbits.orbits[row]
    for zone in orbits.zones:
        if zone.index == orbit.zone:
            return zone
    return None


def _kind(
    arrangement: Arrangement, orbits: Orbits, row: int, zone: Zone, group: PatternGroup
) -> _Kind | None:
    orbit = orbits.orbits[row]
    if not bool(np.isin(orbit.faces, zone.faces).all()):
        return None  # shared between zones: no one group moves its regions
    part, move, sure = _locate(
        arrangement, group, orbit.representative, arrangement.witness[orbit.faces]
    )
    return _Kind(
        row=row,
        letter=orbit.letter,
        faces=orbit.faces,
        places=tuple(
            (int(g), tuple(t)) for g, t in zip(part, move.tolist(), strict=True)
        ),
        stabiliser=_stabiliser(arrangement, group, orbit.representative),
        area=float(arrangement.area[orbit.faces].sum()),
        doubtful=int((~sure).sum()),
    )


def _labels(
    cosets: _Cosets, places: Sequence[Element], then: Element | None = None
) -> NDArray[np.int32]:
    group = cosets.group
    if then is None:
        return np.array([cosets.number(p) for p in places], np.int32)
    return np.array([cosets.number(group.multiply(p, then)) for p in places], np.int32)


def _alike_length(
    adjacency: Adjacency, label: NDArray[np.int64], rows: NDArray[np.bool_]
) -> float:
    pairs = adjacency.face_pairs[rows]
    same = label[pairs[:, 0]] == label[pairs[:, 1]]
    return float(adjacency.face_shared[rows][same].sum())


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """A subgroup that a kind can alternate by."""

    subgroup: Subgroup
    label: NDArray[np.int32]
    alike: float


def _ways(
    arrangement: Arrangement,
    adjacency: Adjacency,
    group: PatternGroup,
    kind: _Kind,
    colours: int,
) -> list[_Way]:
    """Return the subgroups for a kind, those that part touching regions first."""
    found = []
    label = np.full(arrangement.face_count, -1, np.int64)
    own = np.zeros(arrangement.face_count, bool)
    own[kind.faces] = True
    rows = np.asarray(own[adjacency.face_pairs].all(axis=1))
    for subgroup in find_subgroups(group, colours):
        if not all(subgroup.contains(s) for s in kind.stabiliser):
            continue
        labels = _labels(_Cosets(group, subgroup), kind.places)
        label[kind.faces] = labels
        found.append(_Way(subgroup, labels, _alike_length(adjacency, label, rows)))
    whole = float(adjacency.face_shared[rows].sum()) or 1.0
    return sorted(found, key=lambda way: round(way.alike / whole, 6))


def _group_of(zone: Zone) -> PatternGroup | None:
    symmetry = zone.symmetry
    if symmetry.group.family == "none" or not symmetry.operations:
        return None
    basis = np.empty((0, 2)) if symmetry.lattice is None else symmetry.lattice.basis
    return read_pattern_group([op.map for op in symmetry.operations], basis)


def _check(orbits: Orbits, colours: int) -> None:
    if not 2 <= colours <= MOST_COLOURS:
        what = f"counterchange with {colours} colours is not possible here"
        raise ColouringError(what, mend=f"give a number from 2 to {MOST_COLOURS}")
    if orbits.match != "all":
        what = "counterchange moves colours under the whole symmetry"
        raise ColouringError(what, mend="leave out --match, or use --match all")


def find_choices(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    letter: str,
    colours: int,
) -> tuple[Choice, ...]:
    """Find all perfect colourings of one kind with K colours.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds, matched by the whole symmetry.
    adjacency : Adjacency
        How they touch.
    letter : str
        The kind.
    colours : int
        K, 2 to 12.

    Returns
    -------
    tuple of Choice
        Numbered; none where no perfect colouring exists.

    Raises
    ------
    ColouringError
        If no kind has the letter, K is out of range, or kinds are matched by
        less than the whole symmetry.
    """
    _check(orbits, colours)
    row = _row_of(orbits, letter)
    zone = _alternating_zone(orbits, row)
    group = None if zone is None else _group_of(zone)
    if zone is None or group is None:
        return ()
    kind = _kind(arrangement, orbits, row, zone, group)
    if kind is None:
        return ()
    return tuple(
        Choice(
            letter=kind.letter,
            number=number,
            colours=colours,
            subgroup=subgroup_name(group, way.subgroup),
            sentence=_sentence(group, way.subgroup, colours),
            alike=way.alike,
            faces=kind.faces.copy(),
            colour=way.label,
        )
        for number, way in enumerate(
            _ways(arrangement, adjacency, group, kind, colours), start=1
        )
    )


def _row_of(orbits: Orbits, letter: str) -> int:
    for row, orbit in enumerate(orbits.orbits):
        if orbit.letter.casefold() == letter.strip().casefold():
            return row
    what = f'no kind has the letter "{letter}"'
    known = [orbit.letter for orbit in orbits.orbits]
    mend = f"the kinds of this drawing are {known[0]} to {known[-1]}" if known else ""
    raise ColouringError(what, where="choice", mend=mend)


_TURNS = {2: "half-turns", 3: "third-turns", 4: "quarter-turns", 6: "sixth-turns"}


def _sentence(group: PatternGroup, subgroup: Subgroup, colours: int) -> str:
    """Say in plain words what a choice does."""
    groups: dict[str, list[int]] = {}
    for g in range(group.order):
        linear = group.linear[g]
        if float(np.linalg.det(linear)) < 0:
            groups.setdefault("mirror images", []).append(g)
            continue
        angle = abs(float(np.arctan2(linear[1, 0], linear[0, 0])))
        if angle > 1e-3:
            order = round(2 * np.pi / angle)
            if abs(2 * np.pi / order - angle) < 0.02:
                name = _TURNS.get(order, f"turns by {360 / order:.4g}°")
                groups.setdefault(name, []).append(g)
    held = {g for g, _ in subgroup.parts}
    period = 1
    for row in subgroup.lattice:
        for v, k in zip(row, range(len(row)), strict=True):
            period = max(period, v) if k == subgroup.lattice.index(row) else period
    lines = []
    if group.rank:
        moved = period > 1
        lines.append(
            "colours change from repeat to repeat"
            if moved
            else "every repeat is coloured alike"
        )
    move, keep, both = [], [], []
    for name, parts in groups.items():
        inside = [g in held for g in parts]
        if not any(inside):
            move.append(name)
        elif all(inside) and period == 1:
            keep.append(name)
        else:
            both.append(name)
    if move:
        lines.append(f"{_and(move)} change them")
    if keep:
        lines.append(f"{_and(keep)} keep them")
    if both:
        lines.append(f"{_and(both)} keep them at some places and change them at others")
    return f"{colours} colours: " + "; ".join(lines)


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _nearest(
    arrangement: Arrangement,
    adjacency: Adjacency,
    groups: Iterable[tuple[PatternGroup, list[_Kind]]],
    colours: int,
) -> list[int]:
    """Return the numbers of colours nearest to K for which some kind alternates."""
    possible = []
    groups = list(groups)
    for other in range(2, MOST_COLOURS + 1):
        if other == colours:
            continue
        for group, kinds in groups:
            subgroups = find_subgroups(group, other)
            if any(
                all(h.contains(s) for s in kind.stabiliser)
                for kind in kinds
                for h in subgroups
            ):
                possible.append(other)
                break
    if not possible:
        return []
    least = min(abs(k - colours) for k in possible)
    return [k for k in possible if abs(k - colours) == least]


class _Planner:
    """Gather sets of colours that alternate, kind by kind."""

    def __init__(
        self,
        arrangement: Arrangement,
        orbits: Orbits,
        adjacency: Adjacency,
        colours: int,
    ) -> None:
        self.arrangement, self.orbits, self.adjacency = arrangement, orbits, adjacency
        self.colours = colours
        self.label = np.full(arrangement.face_count, -1, np.int64)
        self.sets: list[tuple[int, PatternGroup, Subgroup, _Cosets]] = []
        self.taken: list[tuple[str, int, int, str]] = []
        self.rows: set[int] = set()

    def add_set(
        self, zone: int, group: PatternGroup, kind: _Kind, ways: list[_Way], at: int
    ) -> None:
        """Give a kind K colours of its own."""
        way = ways[at]
        number = len(self.sets)
        self.sets.append((zone, group, way.subgroup, _Cosets(group, way.subgroup)))
        self.label[kind.faces] = number * self.colours + way.label
        self._note(kind, group, ways, at)

    def share(
        self,
        zone: int,
        kind: _Kind,
        ways: list[_Way],
        allowed: Sequence[int],
    ) -> bool:
        """Give a kind the colours of a set where touching regions differ."""
        touching = np.zeros(self.arrangement.face_count, bool)
        touching[kind.faces] = True
        rows = np.asarray(touching[self.adjacency.face_pairs].any(axis=1))
        best: tuple[float, int, NDArray[np.int64]] | None = None
        for number, (where, group, base, cosets) in enumerate(self.sets):
            if where != zone:
                continue
            for at in allowed:
                for member in cosets.members:
                    if conjugate(group, base, member) != ways[at].subgroup:
                        continue
                    label = self.label.copy()
                    label[kind.faces] = number * self.colours + _labels(
                        cosets, kind.places, member
                    )
                    alike = _alike_length(self.adjacency, label, rows)
                    if best is None or alike < best[0] - 1e-9:
                        best = (alike, at, label)
        if best is None or best[0] > ways[best[1]].alike + 1e-9:
            return False
        group = next(g for where, g, _, _ in self.sets if where == zone)
        self.label = best[2]
        self._note(kind, group, ways, best[1])
        return True

    def _note(
        self, kind: _Kind, group: PatternGroup, ways: list[_Way], at: int
    ) -> None:
        self.rows.add(kind.row)
        name = subgroup_name(group, ways[at].subgroup)
        self.taken.append((kind.letter, at + 1, len(ways), name))


def plan_counterchange(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    palette: Palette,
    rules: Rules,
) -> Alternation:
    """Settle which kinds alternate and how.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds, matched by the whole symmetry.
    adjacency : Adjacency
        How they touch.
    palette : Palette
        The swatches; their number limits how many sets of K alternate.
    rules : Rules
        `counterchange` is K. `choices` with letters: those kinds alternate, each
        by its number (0: stays as it is). Without a letter: the number of the
        possibility for the whole drawing, in which as many kinds as can share
        one action. Without choices the first possibility is taken.

    Returns
    -------
    Alternation
        Classes and what they must keep.

    Raises
    ------
    ColouringError
        If no perfect colouring with K colours exists, a choice has no such
        number, or the palette is too small.
    """
    colours = rules.counterchange
    assert colours is not None
    _check(orbits, colours)
    swatches = len(palette.swatches) if rules.most is None else rules.most
    if swatches < colours:
        what = f"{colours} colours cannot change places among {swatches} swatches"
        raise ColouringError(what, mend="take a palette with more swatches")
    zones: list[tuple[int, PatternGroup, list[_Kind]]] = []
    for zone in orbits.zones:
        group = _group_of(zone)
        if group is None:
            continue
        kinds = [
            kind
            for row, orbit in enumerate(orbits.orbits)
            if orbit.zone == zone.index
            and (kind := _kind(arrangement, orbits, row, zone, group)) is not None
        ]
        if kinds:
            zones.append((zone.index, group, kinds))
    planner = _Planner(arrangement, orbits, adjacency, colours)
    ways = {
        kind.letter: _ways(arrangement, adjacency, group, kind, colours)
        for _, group, kinds in zones
        for kind in kinds
    }
    if not any(ways.values()):
        what = f"no perfect colouring with {colours} colours exists here"
        near = _nearest(
            arrangement, adjacency, [(g, kinds) for _, g, kinds in zones], colours
        )
        mend = "no other number up to 12 works either"
        if near:
            mend = "the nearest that works is " + " or ".join(str(k) for k in near)
        raise ColouringError(what, where=f"counterchange {colours}", mend=mend)
    named = _named_choices(orbits, rules, ways, colours)
    most = max(1, (swatches - min(2, len(orbits.orbits) - 1)) // colours)
    if named:
        for index, group, kinds in zones:
            for kind in kinds:
                number = named.get(kind.letter, 0)
                if number == 0:
                    continue
                if (len(planner.sets) + 1) * colours <= swatches:
                    planner.add_set(index, group, kind, ways[kind.letter], number - 1)
                elif not planner.share(index, kind, ways[kind.letter], [number - 1]):
                    what = (
                        f"kind {kind.letter} would need {colours} colours of its own "
                        f"beside those of {len(planner.sets)} sets"
                    )
                    mend = "take a palette with more swatches, or let fewer kinds vary"
                    raise ColouringError(what, mend=mend)
    else:
        wanted = next((n for letter, n in rules.choices if not letter.strip()), 1)
        for place, (index, group, kinds) in enumerate(zones):
            options = _possibilities(group, kinds, ways, colours)
            if not options:
                continue
            number = wanted if place == 0 else 1
            if not 1 <= number <= len(options):
                what = f"there is no choice {number}"
                mend = f"for {colours} colours the choices are 1 to {len(options)}"
                raise ColouringError(what, where="choice", mend=mend)
            members = set(options[number - 1])
            for kind in sorted(kinds, key=lambda k: (-k.area, k.row)):
                own = ways[kind.letter]
                allowed = [k for k, w in enumerate(own) if w.subgroup in members]
                if not allowed:
                    continue
                if len(planner.sets) < most:
                    planner.add_set(index, group, kind, own, allowed[0])
                else:
                    planner.share(index, kind, own, allowed)
    return _settle(planner, orbits, zones, ways, stated=bool(named))


def _named_choices(
    orbits: Orbits, rules: Rules, ways: dict[str, list[_Way]], colours: int
) -> dict[str, int]:
    named: dict[str, int] = {}
    for letter, number in rules.choices:
        if not letter.strip():
            continue
        own = orbits.orbits[_row_of(orbits, letter)].letter
        count = len(ways.get(own, ()))
        if not 0 <= number <= count:
            what = f"kind {own} has no choice {number} with {colours} colours"
            mend = f"its choices are 1 to {count}" if count else "it cannot alternate"
            raise ColouringError(what, where=f'choice "{letter}={number}"', mend=mend)
        named[own] = number
    return named


def _possibilities(
    group: PatternGroup,
    kinds: list[_Kind],
    ways: dict[str, list[_Way]],
    colours: int,
) -> list[tuple[Subgroup, ...]]:
    """Return classes of conjugate subgroups by which kinds can alternate."""
    ranked = []
    for number, members in enumerate(
        conjugacy_classes(group, find_subgroups(group, colours))
    ):
        inside = set(members)
        area = alike = 0.0
        for kind in kinds:
            own = [w for w in ways[kind.letter] if w.subgroup in inside]
            if own:
                area += kind.area
                alike += own[0].alike
        if area > 0:
            ranked.append((alike > 1e-9, -round(area, 6), number, members))
    return [members for _, _, _, members in sorted(ranked, key=lambda r: r[:3])]


def _settle(
    planner: _Planner,
    orbits: Orbits,
    zones: list[tuple[int, PatternGroup, list[_Kind]]],
    ways: dict[str, list[_Way]],
    *,
    stated: bool,
) -> Alternation:
    count, colours = len(orbits.orbits), planner.colours
    base = np.where(planner.label >= 0, count + planner.label, orbits.of_face).astype(
        np.int32
    )
    base[0] = -1
    unlike = []
    total = len(planner.sets) * colours
    for a in range(total):
        unlike += [(count + a, count + b) for b in range(a + 1, total)]
    for row, orbit in enumerate(orbits.orbits):
        if row in planner.rows:
            continue
        for number, (zone, _, _, _) in enumerate(planner.sets):
            if zone == orbit.zone:
                first = count + number * colours
                unlike += [(row, first + k) for k in range(colours)]
    notes = []
    still = [k.letter for _, _, kinds in zones for k in kinds if not ways[k.letter]]
    if still:
        text = (
            f"kinds {', '.join(still)} stay as they are: the symmetry of their regions "
            f"allows no perfect colouring with {colours} colours"
        )
        if len(still) == 1:
            text = (
                f"kind {still[0]} stays as it is: the symmetry of its regions "
                f"allows no perfect colouring with {colours} colours"
            )
        notes.append(Note("colouring", "does not alternate", text))
    apart = [
        k.letter
        for _, _, kinds in zones
        for k in kinds
        if ways[k.letter] and k.row not in planner.rows and not stated
    ]
    if apart:
        text = (
            f"could alternate too, but not with the colours of the others here: "
            f"{', '.join(apart)}"
        )
        remedy = f'let them by --choice "{apart[0]}=1", if swatches suffice'
        notes.append(Note("colouring", "does not alternate", text, remedy=remedy))
    rough = sum(k.doubtful for _, _, kinds in zones for k in kinds)
    if rough:
        text = (
            f"the place of {rough} regions in the repeat is not sure; their colour is "
            "that of the nearest place"
        )
        notes.append(Note("colouring", "place not sure", text, remedy="check them"))
    order = {orbit.letter: row for row, orbit in enumerate(orbits.orbits)}
    taken = tuple(sorted(planner.taken, key=lambda entry: order[entry[0]]))
    return Alternation(
        base=base,
        unlike=np.array(unlike, np.int32).reshape(-1, 2),
        counterchange=Counterchange(colours, taken),
        notes=tuple(notes),
    )
