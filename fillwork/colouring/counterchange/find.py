"""Which colourings a group permutes, and how its operations act on the colours.

A kind takes K colours perfectly when every operation of the group carries each
colour wholly onto one colour. Such colourings are the subgroups H of index K
that contain the stabiliser of one of the kind's regions F: the region gF takes
the colour of the coset gH. Different subgroups give different colourings, also
where they are conjugate. Kinds that share colours must share one action: their
subgroups are conjugate, and their cosets are matched by an element that carries
one subgroup to the other.

Choices are numbered for one kind, and for a whole drawing by the classes of
conjugate subgroups, under each of which as many kinds as can alternate together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fillwork.colouring.counterchange.alternating_kinds import KindReader
from fillwork.colouring.counterchange.subgroups import conjugacy_classes, subgroup_name
from fillwork.colouring.counterchange.words import say_choice, say_round
from fillwork.errors import ColouringError

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Ints32
    from fillwork.colouring.counterchange.alternating_kinds import AlternatingKind
    from fillwork.colouring.counterchange.subgroups import Subgroup
    from fillwork.colouring.model import Adjacency
    from fillwork.symmetry.model import Orbits

_MOST_COLOURS = 12

ZoneKinds = tuple[int, "list[AlternatingKind]"]
"""Index of a zone with symmetry, and its kinds."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Hold one way in which a kind can alternate."""

    letter: str  # the kind
    number: int  # from 1, those under which touching regions differ first
    colours: int  # how many change places, K
    subgroup: str  # name of the subgroup that keeps a colour in place
    sentence: str  # what it does, in plain words
    alike: float  # length along which touching regions of the kind bear one colour, mm
    faces: Ints32  # the regions of the kind
    # which of the K colours each has; the representative has 0
    colour: Ints32

    def __post_init__(self) -> None:
        self.faces.setflags(write=False)
        self.colour.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Possibility:
    """Hold one way in which a whole zone can alternate."""

    number: int  # from 1, those under which touching regions differ first
    zone: int  # index of the zone
    letters: tuple[str, ...]  # the kinds that alternate
    subgroup: str  # name of the subgroup that keeps a colour in place
    sentence: str  # what it does, in plain words
    alike: float  # length along which touching regions of one kind bear one colour, mm
    members: tuple[Subgroup, ...]  # the class of conjugate subgroups


def check_counterchange(orbits: Orbits, colours: int) -> None:
    """Raise where colours cannot change places at all.

    `colours`: K. Raises `ColouringError` if K is out of range, or kinds are matched by
    less than the whole symmetry.
    """
    if not 2 <= colours <= _MOST_COLOURS:
        what = f"counterchange with {colours} colours is not possible here"
        raise ColouringError(what, mend=f"give a number from 2 to {_MOST_COLOURS}")
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

    Numbered; none where no perfect colouring exists. `orbits`: their kinds, matched by
    the whole symmetry. `adjacency`: how they touch. `colours`: K, 2 to 12. Raises
    `ColouringError` if no kind has the letter, K is out of range, or kinds are matched
    by less than the whole symmetry.
    """
    check_counterchange(orbits, colours)
    row = row_of_kind(orbits, letter)
    return _choices(KindReader(arrangement, orbits, adjacency), row, colours)


def find_all_choices(
    reader: KindReader, colours: int
) -> tuple[tuple[Possibility, ...], tuple[Choice, ...]]:
    """Find all numbered choices, of the whole drawing and of single kinds.

    `reader`: the drawing, its kinds matched by the whole symmetry. `colours`: K, 2 to
    12. Returns `whole`: those of the largest zone that has any; the numbers of
    ``--choice N``; `single`: those of every kind, in the order of the kinds. Raises
    `ColouringError` if K is out of range, or kinds are matched by less than the whole
    symmetry.
    """
    check_counterchange(reader.orbits, colours)
    zones, _ = read_zones(reader)
    of_zones = (find_possibilities(reader, *zone, colours) for zone in zones)
    whole = next(filter(None, of_zones), ())
    single = [
        choice
        for row in range(len(reader.orbits.orbits))
        for choice in _choices(reader, row, colours)
    ]
    return whole, tuple(single)


def _choices(reader: KindReader, row: int, colours: int) -> tuple[Choice, ...]:
    group, kind = reader.group(reader.orbits.orbits[row].zone), reader.kind(row)
    if group is None or kind is None:
        return ()
    home = reader.arrangement.witness[reader.orbits.orbits[row].representative]
    found = []
    for number, way in enumerate(reader.ways(kind, colours), start=1):
        sentence = say_choice(group, way.subgroup, colours)
        # a region that a turn keeps in place lies over its own images
        turned = any(group.turning[g] for g, _ in kind.stabiliser[1:])
        about = "" if turned else say_round(group, way.subgroup, home)
        found.append(
            Choice(
                letter=kind.letter,
                number=number,
                colours=colours,
                subgroup=subgroup_name(group, way.subgroup),
                sentence=f"{sentence}; {about}" if about else sentence,
                alike=way.alike,
                faces=kind.faces.copy(),
                colour=way.label,
            )
        )
    return tuple(found)


def row_of_kind(orbits: Orbits, letter: str) -> int:
    """Return the row of a kind.

    `letter`: its letter, in any case. Raises `ColouringError` if no kind has the
    letter.
    """
    for row, orbit in enumerate(orbits.orbits):
        if orbit.letter.casefold() == letter.strip().casefold():
            return row
    what = f'no kind has the letter "{letter}"'
    known = [orbit.letter for orbit in orbits.orbits]
    mend = f"the kinds of this drawing are {known[0]} to {known[-1]}" if known else ""
    raise ColouringError(what, where="choice", mend=mend)


def read_zones(
    reader: KindReader, only: Collection[int] | None = None
) -> tuple[list[ZoneKinds], list[str]]:
    """Read all kinds by zones.

    `only`: rows of the kinds to read; all by default. Returns `zones`: zones that have
    a symmetry and a kind that it moves; `apart`: letters of kinds shared by zones that
    could not be laid on each other.
    """
    zones: list[ZoneKinds] = []
    apart = []
    orbits = reader.orbits
    for zone in orbits.zones:
        if reader.group(zone.index) is None:
            continue
        kinds = []
        for row, orbit in enumerate(orbits.orbits):
            if orbit.zone != zone.index or (only is not None and row not in only):
                continue
            kind = reader.kind(row)
            if kind is None:
                apart.append(orbit.letter)
            else:
                kinds.append(kind)
        if kinds:
            zones.append((zone.index, kinds))
    return zones, apart


def find_possibilities(
    reader: KindReader, zone: int, kinds: Sequence[AlternatingKind], colours: int
) -> tuple[Possibility, ...]:
    """Find the classes of conjugate subgroups by which kinds of a zone alternate.

    Those under which touching regions differ first, then by the area that alternates.

    `zone`: index of the zone. `colours`: K.
    """
    if (zone, colours) not in reader.possibilities:
        found = _find_possibilities(reader, zone, kinds, colours)
        reader.possibilities[zone, colours] = found
    return reader.possibilities[zone, colours]


def _find_possibilities(
    reader: KindReader, zone: int, kinds: Sequence[AlternatingKind], colours: int
) -> tuple[Possibility, ...]:
    group = reader.group(zone)
    if group is None:
        return ()
    ranked = []
    for number, members in enumerate(
        conjugacy_classes(group, reader.subgroups(zone, colours))
    ):
        inside = set(members)
        area = alike = 0.0
        letters = []
        for kind in kinds:
            own = [w for w in reader.ways(kind, colours) if w.subgroup in inside]
            if own:
                letters.append(kind.letter)
                area += kind.area if own[0].several else 0.0
                alike += own[0].alike
        if letters:
            key = (alike > 1e-9, -round(area, 6), number)
            ranked.append((key, tuple(letters), alike, members))
    return tuple(
        Possibility(
            number=number,
            zone=zone,
            letters=letters,
            subgroup=subgroup_name(group, members[0]),
            sentence=say_choice(group, members[0], colours),
            alike=alike,
            members=members,
        )
        for number, (_, letters, alike, members) in enumerate(
            sorted(ranked, key=lambda entry: entry[0]), start=1
        )
    )


def nearest_numbers(
    reader: KindReader, zones: Iterable[ZoneKinds], colours: int
) -> list[int]:
    """Return the numbers of colours nearest to K for which some kind alternates.

    One or two numbers up to 12; none where no number works. `zones`: its kinds.
    """
    every = [kind for _, kinds in zones for kind in kinds]
    others = sorted(
        (k for k in range(2, _MOST_COLOURS + 1) if k != colours),
        key=lambda k: (abs(k - colours), k),
    )
    found: list[int] = []
    for k in others:
        if found and abs(k - colours) > abs(found[0] - colours):
            break
        if any(reader.can_alternate(kind, k) for kind in every):
            found.append(k)
    return found
