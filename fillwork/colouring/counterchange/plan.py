"""Which kinds alternate, and with which colours, before swatches are chosen."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.alternating_kinds import KindReader, alike_length
from fillwork.colouring.counterchange.cosets import Cosets
from fillwork.colouring.counterchange.find import (
    check_counterchange,
    find_possibilities,
    nearest_numbers,
    read_zones,
    row_of_kind,
)
from fillwork.colouring.counterchange.subgroups import conjugate, subgroup_name
from fillwork.colouring.model import Counterchange
from fillwork.errors import ColouringError
from fillwork.notes import Note

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.counterchange.alternating_kinds import AlternatingKind, Way
    from fillwork.colouring.counterchange.find import ZoneKinds
    from fillwork.colouring.counterchange.subgroups import (
        Element,
        PatternGroup,
        Subgroup,
    )
    from fillwork.colouring.model import Adjacency, Palette, Rules
    from fillwork.symmetry.model import Orbits


_SETS = 2  # one pair of colours changes places, at most two, unless kinds are named


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
    sets : int
        How many sets of K colours alternate.
    free : bool
        Whether their number was chosen here, kinds not being named.
    notes : tuple of Note
        Which kinds stay as they are, and why.
    """

    base: NDArray[np.int32]
    unlike: NDArray[np.int32]
    counterchange: Counterchange
    sets: int
    free: bool
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Action:
    """How the group of a zone moves the K colours of a set."""

    group: PatternGroup
    subgroup: Subgroup
    cosets: Cosets
    colour: NDArray[np.int64]  # of each coset

    def labels(
        self, kind: AlternatingKind, then: Element | None = None
    ) -> NDArray[np.int64]:
        return self.colour[self.cosets.numbers(kind.part, kind.move, then)]


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
        self.sets: list[dict[int, _Action]] = []  # by zone
        self.taken: list[tuple[str, int, int, str]] = []
        self.rows: set[int] = set()

    def add_set(
        self,
        zone: int,
        group: PatternGroup,
        kind: AlternatingKind,
        ways: list[Way],
        at: int,
    ) -> None:
        """Give a kind K colours of its own."""
        way = ways[at]
        number = len(self.sets)
        cosets = Cosets(group, way.subgroup)
        plain = np.arange(self.colours, dtype=np.int64)
        self.sets.append({zone: _Action(group, way.subgroup, cosets, plain)})
        self.label[kind.faces] = number * self.colours + way.label
        self._note(kind, group, ways, at)

    def share(
        self,
        zone: int,
        kind: AlternatingKind,
        ways: list[Way],
        allowed: Sequence[int],
    ) -> bool:
        """Give a kind the colours of a set of its zone where touching regions differ.

        The kinds of one zone that share a set must share one action on it.
        """
        best: tuple[float, int, NDArray[np.int64]] | None = None
        rows = self._touching(kind)
        for number, actions in enumerate(self.sets):
            action = actions.get(zone)
            if action is None:
                continue
            for at in allowed:
                for member in action.cosets.members:
                    turned = conjugate(action.group, action.subgroup, member)
                    if turned != ways[at].subgroup:
                        continue
                    label = self.label.copy()
                    own = action.labels(kind, member)
                    label[kind.faces] = number * self.colours + own
                    alike = alike_length(self.adjacency, label, rows)
                    if best is None or alike < best[0] - 1e-9:
                        best = (alike, at, label)
        if best is None or best[0] > ways[best[1]].alike + 1e-9:
            return False
        group = next(own[zone].group for own in self.sets if zone in own)
        self.label = best[2]
        self._note(kind, group, ways, best[1])
        return True

    def borrow(
        self,
        zone: int,
        group: PatternGroup,
        kind: AlternatingKind,
        ways: list[Way],
        at: int,
    ) -> bool:
        """Give a kind the colours of another zone's set, if its zone has none yet.

        No operation carries one zone onto the other, so any order of the colours
        will do; the one under which touching regions differ most is taken.
        """
        if any(zone in actions for actions in self.sets):
            return False
        best: tuple[float, int, NDArray[np.int64]] | None = None
        rows = self._touching(kind)
        for number in range(len(self.sets)):
            for order in self._orders():
                label = self.label.copy()
                label[kind.faces] = number * self.colours + order[ways[at].label]
                alike = alike_length(self.adjacency, label, rows)
                if best is None or alike < best[0] - 1e-9:
                    best = (alike, number, order)
        if best is None or best[0] > ways[at].alike + 1e-9:
            return False
        _, number, order = best
        subgroup = ways[at].subgroup
        action = _Action(group, subgroup, Cosets(group, subgroup), order)
        self.sets[number][zone] = action
        self.label[kind.faces] = number * self.colours + order[ways[at].label]
        self._note(kind, group, ways, at)
        return True

    def _orders(self) -> list[NDArray[np.int64]]:
        """Return orders of the K colours: all of few, the cyclic ones of many."""
        plain = np.arange(self.colours, dtype=np.int64)
        if self.colours <= 4:
            return [np.array(order) for order in itertools.permutations(plain.tolist())]
        return [np.roll(plain, k) for k in range(self.colours)]

    def _touching(self, kind: AlternatingKind) -> NDArray[np.bool_]:
        """Return which contacts of regions the kind has a part in."""
        own = np.zeros(self.arrangement.face_count, bool)
        own[kind.faces] = True
        return np.asarray(own[self.adjacency.face_pairs].any(axis=1))

    def _note(
        self, kind: AlternatingKind, group: PatternGroup, ways: list[Way], at: int
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
    *,
    sets: int | None = None,
    reader: KindReader | None = None,
    tell: Callable[[str], None] | None = None,
) -> Alternation:
    """Settle which kinds alternate and how; classes and what they must keep.

    Parameters
    ----------
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
    sets : int, optional
        Largest number of sets of K colours, where kinds are not named; by default
        two, if they leave two swatches to the rest: more would read as a medley.
    reader : KindReader, optional
        The same drawing as read before, to save the work.
    tell : callable, optional
        Called with what is being done; what it raises ends the work.

    Raises
    ------
    ColouringError
        If no perfect colouring with K colours exists, a choice has no such
        number, or the palette is too small.
    """
    colours = rules.counterchange
    if not isinstance(colours, int):
        what = "no number of colours to exchange was asked for"
        raise ColouringError(what, mend="give --counterchange")
    check_counterchange(orbits, colours)
    swatches = len(palette.swatches) if rules.most is None else rules.most
    if swatches < colours:
        what = f"{colours} colours cannot change places among {swatches} swatches"
        raise ColouringError(what, mend="take a palette with more swatches")
    if reader is None:
        reader = KindReader(arrangement, orbits, adjacency)
    zones, unread = read_zones(reader)
    planner = _Planner(arrangement, orbits, adjacency, colours)
    ways: dict[str, list[Way]] = {}
    for _, kinds in zones:
        for kind in kinds:
            if tell is not None:
                tell(f"finding how kind {kind.letter} can alternate")
            ways[kind.letter] = reader.ways(kind, colours)
    if not any(ways.values()):
        what = f"no perfect colouring with {colours} colours exists here"
        near = nearest_numbers(reader, zones, colours)
        mend = "no other number up to 12 works either"
        if near:
            mend = "the nearest that works is " + " or ".join(str(k) for k in near)
        raise ColouringError(what, where=f"counterchange {colours}", mend=mend)
    named = _named_choices(orbits, rules, ways, colours)
    most = max(1, (swatches - min(2, len(orbits.orbits) - 1)) // colours)
    most = min(most, _SETS if sets is None else sets)
    if named:
        for index, kinds in zones:
            group = _group(reader, index)
            for kind in kinds:
                number = named.get(kind.letter, 0)
                if number == 0:
                    continue
                if (len(planner.sets) + 1) * colours <= swatches:
                    planner.add_set(index, group, kind, ways[kind.letter], number - 1)
                elif not planner.share(
                    index, kind, ways[kind.letter], [number - 1]
                ) and not planner.borrow(
                    index, group, kind, ways[kind.letter], number - 1
                ):
                    what = (
                        f"kind {kind.letter} would need {colours} colours of its own "
                        f"beside those of {len(planner.sets)} sets"
                    )
                    mend = "take a palette with more swatches, or let fewer kinds vary"
                    raise ColouringError(what, mend=mend)
    else:
        wanted = next((n for letter, n in rules.choices if not letter.strip()), 1)
        open_to: list[tuple[int, int, AlternatingKind, list[int]]] = []
        for place, (index, kinds) in enumerate(zones):
            options = find_possibilities(reader, index, kinds, colours)
            if not options:
                continue
            number = wanted if place == 0 else 1
            if not 1 <= number <= len(options):
                what = f"there is no choice {number}"
                mend = f"for {colours} colours the choices are 1 to {len(options)}"
                raise ColouringError(what, where="choice", mend=mend)
            members = set(options[number - 1].members)
            for kind in kinds:
                own = ways[kind.letter]
                allowed = [k for k, w in enumerate(own) if w.subgroup in members]
                if allowed:
                    open_to.append((place, index, kind, allowed))
        # the largest zone, of which the possibility was chosen, before the others;
        # first kinds whose regions touch each other, since nothing else parts them
        touching = set(adjacency.self_adjacent.tolist())
        open_to.sort(
            key=lambda e: (e[0] > 0, e[2].row not in touching, e[0], -e[2].area)
        )
        for _, index, kind, allowed in open_to:
            group, own = _group(reader, index), ways[kind.letter]
            if len(planner.sets) < most:
                planner.add_set(index, group, kind, own, allowed[0])
            elif not planner.share(index, kind, own, allowed):
                planner.borrow(index, group, kind, own, allowed[0])
    return _settle(planner, orbits, zones, ways, unread, stated=bool(named))


def _group(reader: KindReader, zone: int) -> PatternGroup:
    group = reader.group(zone)
    if group is None:
        what = f"zone {zone + 1} has no group whose operations could exchange colours"
        raise ColouringError(what)
    return group


def _named_choices(
    orbits: Orbits, rules: Rules, ways: dict[str, list[Way]], colours: int
) -> dict[str, int]:
    named: dict[str, int] = {}
    for letter, number in rules.choices:
        if not letter.strip():
            continue
        own = orbits.orbits[row_of_kind(orbits, letter)].letter
        count = len(ways.get(own, ()))
        if not 0 <= number <= count:
            what = f"kind {own} has no choice {number} with {colours} colours"
            mend = f"its choices are 1 to {count}" if count else "it cannot alternate"
            raise ColouringError(what, where=f'choice "{letter}={number}"', mend=mend)
        named[own] = number
    return named


def _settle(
    planner: _Planner,
    orbits: Orbits,
    zones: list[ZoneKinds],
    ways: dict[str, list[Way]],
    unread: list[str],
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
        for number, actions in enumerate(planner.sets):
            if orbit.zone in actions:
                first = count + number * colours
                unlike += [(row, first + k) for k in range(colours)]
    notes = []
    still = [k.letter for _, kinds in zones for k in kinds if not ways[k.letter]]
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
        for _, kinds in zones
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
    if unread:
        text = (
            f"cannot alternate, since their zones could not be laid on each other: "
            f"{', '.join(unread)}"
        )
        remedy = "state the zones' symmetry alike with --symmetry"
        notes.append(Note("colouring", "does not alternate", text, remedy=remedy))
    rough = sum(k.doubtful for _, kinds in zones for k in kinds)
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
        sets=len(planner.sets),
        free=not stated,
        notes=tuple(notes),
    )
