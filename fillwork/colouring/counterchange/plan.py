"""Which kinds alternate, and with which colours, before swatches are chosen."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

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
from fillwork.geometry.ranges import marked
from fillwork.notes import Note
from fillwork.units import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence

    from fillwork.arrays import AnyInts, Ints, Ints32
    from fillwork.colouring.counterchange.alternating_kinds import AlternatingKind, Way
    from fillwork.colouring.counterchange.find import ZoneKinds
    from fillwork.colouring.counterchange.subgroups import (
        Element,
        PatternGroup,
        Subgroup,
    )
    from fillwork.colouring.model import Rules
    from fillwork.colouring.palettes.model import Palette
    from fillwork.symmetry.model import Orbits

_SETS = 2  # one pair of colours changes places, at most two, unless kinds are named


@dataclass(frozen=True, slots=True, eq=False)
class Alternation:
    """Hold what counterchange settles before swatches are chosen."""

    # (F,): class of each face: its kind, or one colour of a set that alternates
    base: Ints32
    unlike: Ints32  # (U, 2): classes that must bear different swatches
    counterchange: Counterchange  # which kinds alternate, and how
    sets: int  # how many sets of K colours alternate
    free: bool  # whether their number was chosen here, kinds not being named
    notes: tuple[Note, ...]  # which kinds stay as they are, and why


@dataclass(frozen=True, slots=True, eq=False)
class _Action:
    """How the group of a zone moves the K colours of a set."""

    cosets: Cosets
    colour: Ints  # of each coset

    def labels(self, kind: AlternatingKind, then: Element | None = None) -> Ints:
        return self.colour[self.cosets.numbers(kind.part, kind.move, then)]

    def moved(self, by: Element) -> Subgroup:
        """Return what keeps a colour in place once an operation has moved it."""
        return conjugate(self.cosets.group, self.cosets.subgroup, by)


_Trial = tuple[int, _Action, int, "Ints"]
"""Number of a set, its action on a kind's zone, the way of the kind, its labels."""


class _Planner:
    """Gather sets of colours that alternate, kind by kind."""

    def __init__(
        self, reader: KindReader, colours: int, ways: dict[str, list[Way]]
    ) -> None:
        self.reader, self.colours, self.ways = reader, colours, ways
        self.label = np.full(reader.arrangement.face_count, -1, np.int64)
        self.sets: list[dict[int, _Action]] = []  # by zone
        self.taken: list[tuple[str, int, int, str]] = []
        self.rows: set[int] = set()

    def add_set(self, zone: int, kind: AlternatingKind, at: int) -> None:
        """Give a kind K colours of its own."""
        way, plain = self.ways[kind.letter][at], np.arange(self.colours, dtype=np.int64)
        self.sets.append(
            {zone: _Action(Cosets(self._group(zone), way.subgroup), plain)}
        )
        self._take(zone, kind, at, len(self.sets) - 1, way.label)

    def share(self, zone: int, kind: AlternatingKind, allowed: Sequence[int]) -> bool:
        """Give a kind the colours of a set of its zone where touching regions differ.

        The kinds of one zone that share a set must share one action on it.
        """
        ways = self.ways[kind.letter]
        trials = (
            (number, action, at, action.labels(kind, member))
            for number, actions in enumerate(self.sets)
            if (action := actions.get(zone)) is not None
            for at in allowed
            for member in action.cosets.members
            if action.moved(member) == ways[at].subgroup
        )
        return self._take_best(zone, kind, trials)

    def borrow(
        self, zone: int, kind: AlternatingKind, at: int, *, role: str = ""
    ) -> bool:
        """Give a kind the colours of another zone's set, if its zone has none yet.

        `role`: only of a zone that plays that part in the drawing. No operation carries
        one zone onto the other, so any order of the colours will do; the one under
        which touching regions differ most is taken.
        """
        if any(zone in actions for actions in self.sets):
            return False
        way = self.ways[kind.letter][at]
        cosets = Cosets(self._group(zone), way.subgroup)
        trials = (
            (number, _Action(cosets, order), at, order[way.label])
            for number, actions in enumerate(self.sets)
            if not role or any(self.reader.role(other) == role for other in actions)
            for order in self._orders()
        )
        return self._take_best(zone, kind, trials)

    def _take_best(
        self, zone: int, kind: AlternatingKind, trials: Iterator[_Trial]
    ) -> bool:
        """Take the trial under which touching regions differ most, if that will do.

        As much as with colours of its own; returns whether there is such a one.
        """
        of_kind = marked(kind.faces, len(self.label))
        rows = np.asarray(of_kind[self.reader.adjacency.face_pairs].any(axis=1))
        best: tuple[float, _Trial] | None = None
        for trial in trials:
            number, _, _, own = trial
            label = self.label.copy()
            label[kind.faces] = number * self.colours + own
            alike = alike_length(self.reader.adjacency, label, rows)
            if best is None or alike < best[0] - 1e-9:
                best = alike, trial
        if best is None:
            return False
        alike, (number, action, at, own) = best
        if alike > self.ways[kind.letter][at].alike + 1e-9:
            return False
        self.sets[number][zone] = action
        self._take(zone, kind, at, number, own)
        return True

    def _orders(self) -> list[Ints]:
        """Return orders of the K colours: all of few, the cyclic ones of many."""
        plain = np.arange(self.colours, dtype=np.int64)
        if self.colours <= 4:
            return [np.array(order) for order in itertools.permutations(plain.tolist())]
        return [np.roll(plain, k) for k in range(self.colours)]

    def _take(
        self, zone: int, kind: AlternatingKind, at: int, number: int, own: AnyInts
    ) -> None:
        """Give the regions of a kind their colours of a set, and keep by which way."""
        self.label[kind.faces] = number * self.colours + own
        self.rows.add(kind.row)
        ways = self.ways[kind.letter]
        name = subgroup_name(self._group(zone), ways[at].subgroup)
        self.taken.append((kind.letter, at + 1, len(ways), name))

    def _group(self, zone: int) -> PatternGroup:
        group = self.reader.group(zone)
        if group is None:
            what = (
                f"zone {zone + 1} has no group whose operations could exchange colours"
            )
            raise ColouringError(what)
        return group

    def take_named(
        self,
        zones: list[ZoneKinds],
        named: dict[str, int],
        swatches: int,
        *,
        kin: bool = False,
    ) -> None:
        """Let the kinds alternate that are named, each by its number.

        `kin`: zones that play one part, as the sides of a border, share their colours.
        """
        for index, kinds in zones:
            for kind in kinds:
                at = named.get(kind.letter, 0) - 1
                if at < 0:
                    continue
                role = self.reader.role(index) if kin else ""
                if role and self.borrow(index, kind, at, role=role):
                    continue
                kept = self._kept_beside(index, named)
                if not self.sets or (
                    (len(self.sets) + 1) * self.colours + kept <= swatches
                ):
                    self.add_set(index, kind, at)
                elif not self.share(index, kind, [at]) and not self.borrow(
                    index, kind, at
                ):
                    what = (
                        f"kind {kind.letter} would need {self.colours} colours of its "
                        f"own beside those of {counted(len(self.sets), 'set')}"
                    )
                    mend = "take a palette with more swatches, or let fewer kinds vary"
                    raise ColouringError(what, mend=mend)

    def _kept_beside(self, zone: int, named: dict[str, int]) -> int:
        """Return how many swatches the colours of a zone have to leave to its kinds.

        One where kinds stay as they are; none where a set of other zones serves them.
        """
        stays = any(
            orbit.zone == zone and named.get(orbit.letter, 0) < 1
            for orbit in self.reader.orbits.orbits
        )
        return int(stays and all(zone in actions for actions in self.sets))

    def take_free(self, zones: list[ZoneKinds], wanted: int, most: int) -> None:
        """Let as many kinds alternate as one possibility a zone allows.

        `wanted`: its number, of the largest zone that has any.
        """
        open_to: list[tuple[int, int, AlternatingKind, list[int]]] = []
        offered = (
            (index, kinds, options)
            for index, kinds in zones
            if (options := find_possibilities(self.reader, index, kinds, self.colours))
        )
        for place, (index, kinds, options) in enumerate(offered):
            number = wanted if place == 0 else 1
            if not 1 <= number <= len(options):
                what = f"there is no choice {number}"
                mend = f"for {self.colours} colours the choices are 1 to {len(options)}"
                raise ColouringError(what, where="choice", mend=mend)
            members = set(options[number - 1].members)
            for kind in kinds:
                own = self.ways[kind.letter]
                allowed = [k for k, w in enumerate(own) if w.subgroup in members]
                if allowed:
                    open_to.append((place, index, kind, allowed))
        # the largest zone, of which the possibility was chosen, before the others;
        # first kinds whose regions touch each other, since nothing else parts them, and
        # last what shows one colour alone, as a ground in one piece
        touching = set(self.reader.adjacency.self_adjacent.tolist())

        def rank(entry: tuple[int, int, AlternatingKind, list[int]]) -> tuple[Any, ...]:
            place, _, kind, allowed = entry
            several = self.ways[kind.letter][allowed[0]].several
            apart = kind.row not in touching
            return place > 0, not several, apart, place, -kind.area

        open_to.sort(key=rank)
        for _, index, kind, allowed in open_to:
            if len(self.sets) < most:
                self.add_set(index, kind, allowed[0])
            elif not self.share(index, kind, allowed):
                self.borrow(index, kind, allowed[0])


def plan_counterchange(
    reader: KindReader,
    palette: Palette,
    rules: Rules,
    *,
    sets: int | None = None,
    only: Collection[int] | None = None,
    tell: Callable[[str], None] | None = None,
) -> Alternation:
    """Settle which kinds alternate and how; classes and what they must keep.

    `reader`: the drawing, its kinds matched by the whole symmetry. `palette`: the
    swatches; their number limits how many sets of K alternate. `rules`: `counterchange`
    is K. `choices` with letters: those kinds alternate, each by its number (0: stays as
    it is). Without a letter: the number of the possibility for the whole drawing, in
    which as many kinds as can share one action. Without choices the first possibility
    is taken. `sets`: largest number of sets of K colours, where kinds are not named; by
    default two, if they leave two swatches to the rest: more would read as a medley.
    `only`: rows of the kinds that are looked at, to part their regions; all by default.
    `tell`: called with what is being done; what it raises ends the work. Raises
    `ColouringError` if no perfect colouring with K colours exists, a choice has no such
    number, or the palette is too small.
    """
    colours, orbits = rules.counterchange, reader.orbits
    if not isinstance(colours, int):
        what = "no number of colours to exchange was asked for"
        raise ColouringError(what, mend="give --counterchange")
    check_counterchange(orbits, colours)
    # two paints of one colour are one to the eye
    swatches = len({swatch.hex for swatch in palette.swatches})
    if rules.most is not None:
        swatches = min(swatches, rules.most)
    if swatches < colours:
        among = "one swatch" if swatches == 1 else f"{swatches} swatches"
        what = f"{colours} colours cannot change places among {among}"
        raise ColouringError(what, mend="take a palette with more swatches")
    zones, unread = read_zones(reader, only)
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
    planner = _Planner(reader, colours, ways)
    named = _named_choices(orbits, rules, ways, colours)
    if named:
        planner.take_named(zones, named, swatches, kin=only is not None)
    else:
        wanted = next((n for letter, n in rules.choices if not letter.strip()), 1)
        most = max(1, (swatches - min(2, len(orbits.orbits) - 1)) // colours)
        planner.take_free(zones, wanted, min(most, _SETS if sets is None else sets))
    notes = _notes_of(planner, zones, unread, stated=bool(named))
    return _settled(planner, notes, stated=bool(named))


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


def _settled(planner: _Planner, notes: list[Note], *, stated: bool) -> Alternation:
    """Return the classes of what alternates, and which must be unlike."""
    orbits, colours = planner.reader.orbits, planner.colours
    count, total = len(orbits.orbits), len(planner.sets) * planner.colours
    base = np.where(planner.label >= 0, count + planner.label, orbits.of_face)
    base[0] = -1
    unlike = list(itertools.combinations(range(count, count + total), 2))
    for row, orbit in enumerate(orbits.orbits):
        if row in planner.rows:
            continue
        for number, actions in enumerate(planner.sets):
            if orbit.zone in actions:
                first = count + number * colours
                unlike += [(row, first + k) for k in range(colours)]
    order = {orbit.letter: row for row, orbit in enumerate(orbits.orbits)}
    taken = tuple(sorted(planner.taken, key=lambda entry: order[entry[0]]))
    return Alternation(
        base=base.astype(np.int32),
        unlike=np.array(unlike, np.int32).reshape(-1, 2),
        counterchange=Counterchange(colours, taken),
        sets=len(planner.sets),
        free=not stated,
        notes=tuple(notes),
    )


def _notes_of(
    planner: _Planner, zones: list[ZoneKinds], unread: list[str], *, stated: bool
) -> list[Note]:
    """Return why kinds stay as they are, and what is not sure of the others."""
    every = [kind for _, kinds in zones for kind in kinds]
    still = [k.letter for k in every if not planner.ways[k.letter]]
    apart = [
        k.letter
        for k in every
        if planner.ways[k.letter] and k.row not in planner.rows and not stated
    ]
    found: list[tuple[str, str]] = []
    if still:
        who = f"kinds {', '.join(still)} stay as they are: the symmetry of their"
        if len(still) == 1:
            who = f"kind {still[0]} stays as it is: the symmetry of its"
        text = (
            f"{who} regions allows no perfect colouring with {planner.colours} colours"
        )
        found.append((text, ""))
    if apart:
        text = "could alternate too, but not with the colours of the others here: "
        remedy = f'let them by --choice "{apart[0]}=1", if swatches suffice'
        found.append((text + ", ".join(apart), remedy))
    if unread:
        text = "cannot alternate, since their zones could not be laid on each other: "
        remedy = "state the zones' symmetry alike with --symmetry"
        found.append((text + ", ".join(unread), remedy))
    kind = "does not alternate"
    notes = [Note("colouring", kind, text, remedy=remedy) for text, remedy in found]
    if rough := sum(k.doubtful for k in every):
        text = (
            f"the place of {rough} regions in the repeat is not sure; their colour is "
            "that of the nearest place"
        )
        notes.append(Note("colouring", "place not sure", text, remedy="check them"))
    return notes
