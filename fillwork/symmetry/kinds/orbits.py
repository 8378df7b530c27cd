"""Kinds of regions: the orbits of a drawing's faces.

Faces that an operation of their zone's group carries onto each other are one
orbit; for users a *kind*. Without symmetry, congruent faces are one kind.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import lru_cache
from string import ascii_uppercase
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement, Defect
from fillwork.notes import Note
from fillwork.symmetry.faces.congruence import class_congruent
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.kinds.agree import contradicted
from fillwork.symmetry.kinds.classing import Classing, class_faces
from fillwork.symmetry.kinds.families import ALIKE, class_families
from fillwork.symmetry.kinds.figures import class_figures
from fillwork.symmetry.kinds.names import find_names
from fillwork.symmetry.model import MATCHES, Orbit, Orbits, Zone
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.siblings import shared_kinds
from fillwork.values import check_each, check_kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.symmetry.faces.measures import FaceMeasures


_LIKE = ("family", "figure")  # ways to match that do not ask the symmetry
_SMALL_GROUP = 4  # operations at most of a group that says little
_MANY_KINDS = 24  # kinds at least, of which few have a shape of their own
_FEW_KINDS = 5_000  # families are looked for among so many kinds unasked


def find_orbits(
    arrangement: Arrangement,
    zones: tuple[Zone, ...],
    *,
    match: str = "all",
    alike: float = ALIKE,
) -> Orbits:
    """Class the faces of a drawing into kinds.

    Parameters
    ----------
    arrangement : Arrangement
        The faces.
    zones : tuple of Zone
        Its zones, which together hold every face but face 0. Zones that are
        copies of each other, as the sides of a border are, share their kinds
        under ``all``.
    match : str
        What must match: ``all`` (the whole group), ``turns`` (rotations and
        translations, mirror images apart), ``shifts`` (translations), ``none``
        (every face by itself), ``family`` (like shapes, whatever their zone and its
        group) or ``figure`` (the parts of one star or flower).
    alike : float
        How far outlines of one family may lie apart, in roots of the area.

    Returns
    -------
    Orbits
        The kinds by letter. A face that a frame cuts has the kind of the whole
        face it is part of. A face that breaks the symmetry has the kind of the
        face expected there when that holds three fifths of it, and is a kind of
        its own otherwise; where most of its images agree on another kind, that is
        a defect ``breaks symmetry``.

    Raises
    ------
    ValueError
        If `match` is none of them.
    """
    check_kind(arrangement, Arrangement, "arrangement")
    check_each(zones, Zone, "zones")
    if match not in MATCHES:
        what = f"match must be one of {', '.join(MATCHES)}, not {match!r}"
        raise ValueError(what)
    count = arrangement.face_count
    measures = measure_faces(arrangement)
    table = _Table(count)
    for zone in zones:
        if len(zone.faces):
            table.add(arrangement, measures, zone, match)
    if match in ("all", *_LIKE) and len(zones) > 1:
        table.share(measures, zones)
    if match in _LIKE:
        table.join_like(arrangement, measures, match, alike)
    return table.lettered(arrangement, measures, zones, match, alike)


class _Table:
    """Gather the kinds of all zones; rows are faces."""

    def __init__(self, count: int) -> None:
        self.kind = np.full(count, -1, dtype=np.int64)
        self.turns = np.full(count, -1, dtype=np.int64)
        self.shifts = np.full(count, -1, dtype=np.int64)
        self.operation = np.full(count, -1, dtype=np.int64)
        self.cut = np.zeros(count, dtype=bool)
        self.whole = np.zeros(count, dtype=bool)
        self.zone = np.zeros(count, dtype=np.int64)
        self.spoiled: list[NDArray[np.int64]] = []
        self.site: dict[int, str] = {}
        self.used = 0
        self.left = 0

    def add(
        self, arrangement: Arrangement, measures: FaceMeasures, zone: Zone, match: str
    ) -> None:
        faces = zone.faces.astype(np.int64)
        grouped = zone.symmetry.group.family != "none" and zone.symmetry.operations
        classing = class_faces(arrangement, measures, zone) if grouped else None
        if classing is None:
            kind, side, turn, left = class_congruent(arrangement, measures, faces)
            self.left += left
            cut = arrangement.cut[faces]
            classing = Classing(
                kind,
                np.full(len(faces), -1, dtype=np.int64),
                turn,
                side,
                cut,
                ~cut,
                np.zeros(0, dtype=np.int64),
                ("C1",) * (int(kind.max()) + 1),
            )
        base = classing.kind * 2 + classing.side
        turns = np.unique(base, return_inverse=True)[1]
        span = int(classing.place.max()) + 1
        shifts = np.unique(base * span + classing.place, return_inverse=True)[1]
        own = np.arange(len(faces))
        chosen = {
            "all": classing.kind,
            "turns": turns,
            "shifts": shifts,
            "none": own,
        }.get(match, classing.kind)
        top = int(chosen.max()) + 1
        _, first = np.unique(chosen, return_index=True)
        for number, row in enumerate(first):
            site = classing.site[int(classing.kind[row])]
            self.site[self.used + number] = site
        self.kind[faces] = self.used + chosen
        self.turns[faces] = self.turns.max() + 1 + turns
        self.shifts[faces] = self.shifts.max() + 1 + shifts
        self.operation[faces] = classing.operation
        self.cut[faces] = classing.cut
        self.whole[faces] = classing.whole
        self.zone[faces] = zone.index
        spoiled = faces[classing.spoiled]
        told = contradicted(arrangement, zone, spoiled, classing.kind, classing.whole)
        self.spoiled.append(spoiled[told])
        self.used += top

    def share(self, measures: FaceMeasures, zones: tuple[Zone, ...]) -> None:
        """Join kinds of zones that are copies of each other."""
        by_index = {zone.index: zone for zone in zones}
        common = shared_kinds(measures, zones, self.kind, self.whole)
        for later, (earlier, lead, image) in common.items():
            members = self.kind == later
            zone = by_index[int(self.zone[image])]
            if zone.symmetry.operations and self.operation[image] >= 0:
                # as if the image of the earlier kind's root were the root
                quotient = quotient_of(zone.symmetry)
                back = quotient.product[
                    quotient.inverse[self.operation[image]], self.operation[lead]
                ]
                self.operation[members] = quotient.product[
                    self.operation[members], back
                ]
            self.kind[members] = earlier
        _, kind = np.unique(self.kind[self.kind >= 0], return_inverse=True)
        old = self.kind[self.kind >= 0]
        self.kind[self.kind >= 0] = kind
        self.site = {
            int(new): self.site[int(was)] for new, was in zip(kind, old, strict=True)
        }

    def like(
        self,
        arrangement: Arrangement,
        representative: NDArray[np.int64],
        kind: NDArray[np.int64],
        alike: float,
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
        """Return family and figure of each kind, and which are parts of figures."""
        known = kind >= 0
        if not known.any():
            none = np.zeros(0, dtype=np.int64)
            return none, none, none > 0
        weight = np.bincount(kind[known], minlength=len(representative))
        family = class_families(arrangement, representative, weight, alike=alike)
        # a piece shows neither shape nor size of its region
        cut = ~self.whole[representative]
        family[cut] = family.max() + 1 + np.arange(int(cut.sum()))
        figure, drawn = class_figures(arrangement, kind, self.whole, family)
        return family, figure, drawn

    def join_like(
        self, arrangement: Arrangement, measures: FaceMeasures, match: str, alike: float
    ) -> None:
        """Join kinds of like shape, or the kinds of one figure."""
        representative = self._representatives(arrangement, measures)
        family, figure, _ = self.like(arrangement, representative, self.kind, alike)
        if len(family) == 0:
            return
        label = family if match == "family" else figure
        self.kind = np.where(self.kind >= 0, label[np.maximum(self.kind, 0)], -1)
        used, kind = np.unique(self.kind[self.kind >= 0], return_inverse=True)
        self.kind[self.kind >= 0] = kind
        # no one operation carries what is alike by chance
        self.operation[:] = -1
        self.site = dict.fromkeys(range(len(used)), "C1")

    def lettered(
        self,
        arrangement: Arrangement,
        measures: FaceMeasures,
        zones: tuple[Zone, ...],
        match: str,
        alike: float,
    ) -> Orbits:
        """Return the kinds by their letters, with names, families and figures."""
        representative = self._representatives(arrangement, measures)
        area, length = self._sizes(arrangement, measures, representative)
        order = _letter_order(area, length, arrangement.witness[representative])
        rank = np.empty(len(order), dtype=np.int64)
        rank[order] = np.arange(len(order))
        of_face = np.full(len(self.kind), -1, dtype=np.int64)
        of_face[self.kind >= 0] = rank[self.kind[self.kind >= 0]]
        self._turn_to_representatives(representative, zones)
        lead = representative[order]
        orbits = self._orbits(arrangement, of_face, order, lead, area[order])
        families: tuple[int, ...] = ()
        figures: tuple[int, ...] = ()
        if match in ("all", *_LIKE) and 0 < len(orbits) <= _FEW_KINDS:
            family, figure, drawn = self.like(arrangement, lead, of_face, alike)
            families = _numbers(family)
            figures = _numbers(np.where(drawn, figure, -1))
        notes: list[Note] = []
        if self.left:
            text = (
                f"{self.left:,} regions were not compared with each other: too many "
                "are nearly alike; each is a kind of its own"
            )
            notes.append(Note("symmetry", "kinds not searched", text))
        if match == "all" and families:
            shapes = families
            if alike > ALIKE:
                # what a wide tolerance joins is no doubt about the symmetry
                shapes = _numbers(self.like(arrangement, lead, of_face, ALIKE)[0])
            doubts = [_doubt(zone, orbits, shapes) for zone in zones]
            notes += [note for _, note in doubts if note is not None]
            zones = tuple(zone for zone, _ in doubts)
        return Orbits(
            orbits=orbits,
            of_face=of_face.astype(np.int32),
            turns_of_face=self.turns.astype(np.int32),
            shifts_of_face=self.shifts.astype(np.int32),
            operation_of_face=self.operation.astype(np.int32),
            cut=self.cut,
            match=match,
            zones=zones,
            defects=self._defects(arrangement, measures),
            families=families,
            figures=figures,
            alike=alike,
            notes=tuple(notes),
        )

    def _orbits(
        self,
        arrangement: Arrangement,
        of_face: NDArray[np.int64],
        order: NDArray[np.int64],
        lead: NDArray[np.int64],
        area: NDArray[np.float64],
    ) -> tuple[Orbit, ...]:
        """Return the kinds in the order of their letters.

        `order`: their numbers so far. `lead` and `area`: the face that stands for each,
        and its area, mm².
        """
        members = _members(of_face, len(order))
        whole, cut = (
            np.bincount(of_face[told & (of_face >= 0)], minlength=len(order))
            for told in (self.whole, self.cut)
        )
        standing = [self._standing(rows) for rows in members]
        names = find_names(arrangement, of_face, standing, whole > 0, area)
        return tuple(
            Orbit(
                letter=letters(k),
                name=names[k][0],
                base_name=names[k][1],
                zone=int(self.zone[lead[k]]),
                faces=members[k],
                representative=int(lead[k]),
                site_symmetry=self.site[kind],
                area=float(area[k]),
                cut=int(cut[k]),
            )
            for k, kind in enumerate(order.tolist())
        )

    def _standing(self, rows: NDArray[np.int32]) -> NDArray[np.int32]:
        """Return the faces of a kind that stand for it: the whole ones, if any."""
        if len(rows) == 1:
            return rows
        whole = self.whole[rows]
        return rows[whole] if whole.any() else rows

    def _representatives(
        self, arrangement: Arrangement, measures: FaceMeasures
    ) -> NDArray[np.int64]:
        """Return the whole face of each kind that is nearest to the middle."""
        faces = np.flatnonzero(self.kind >= 0)
        if len(faces) == 0:
            return np.zeros(0, dtype=np.int64)
        centre = measures.centroid[faces]
        middle = (centre.min(axis=0) + centre.max(axis=0)) / 2
        away = centre - middle
        span = max(float(np.abs(away).max()), 1e-12)
        distance = np.round(np.hypot(*away.T) / span, 4)
        angle = np.round(
            np.mod(np.arctan2(away[:, 1], away[:, 0]) + 1e-6, 2 * np.pi), 4
        )
        missing = ~self.whole[faces]
        # without a whole face the largest piece stands for the kind
        least = missing * -arrangement.area[faces]
        order = np.lexsort(
            (angle, distance, least, self.zone[faces], missing, self.kind[faces])
        )
        _, first = np.unique(self.kind[faces][order], return_index=True)
        return np.asarray(faces[order[first]])

    def _sizes(
        self,
        arrangement: Arrangement,
        measures: FaceMeasures,
        representative: NDArray[np.int64],
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean area and boundary length of the whole faces of each kind."""
        area = arrangement.area[representative].copy()
        length = measures.length[representative].copy()
        faces = np.flatnonzero(self.whole & (self.kind >= 0))
        if len(faces):
            count = np.bincount(self.kind[faces], minlength=len(area))
            some = count > 0
            for total, values in ((area, arrangement.area), (length, measures.length)):
                mean = np.bincount(self.kind[faces], values[faces], len(area))
                total[some] = mean[some] / count[some]
        return area, length

    def _turn_to_representatives(
        self, representative: NDArray[np.int64], zones: tuple[Zone, ...]
    ) -> None:
        """Make operations start at the representative instead of the root."""
        for zone in zones:
            if not zone.symmetry.operations:
                continue
            quotient = quotient_of(zone.symmetry)
            faces = zone.faces[self.operation[zone.faces] >= 0]
            lead = representative[self.kind[faces]]
            faces, lead = (
                faces[self.operation[lead] >= 0],
                lead[self.operation[lead] >= 0],
            )
            start = self.operation[lead]
            back = quotient.inverse[start]
            self.operation[faces] = quotient.product[self.operation[faces], back]

    def _defects(
        self, arrangement: Arrangement, measures: FaceMeasures
    ) -> tuple[Defect, ...]:
        faces = np.concatenate([*self.spoiled, np.zeros(0, dtype=np.int64)])
        return tuple(
            Defect(
                type="breaks symmetry",
                at=(
                    float(arrangement.witness[face, 0]),
                    float(arrangement.witness[face, 1]),
                ),
                size=float(measures.size[face]),
                done="left",
                remedy=(
                    "compare this region with the same place in another repeat:"
                    " a line may be missing, added or moved"
                ),
            )
            for face in np.sort(faces)
        )


def _doubt(
    zone: Zone, orbits: tuple[Orbit, ...], families: tuple[int, ...]
) -> tuple[Zone, Note | None]:
    """Return a zone, in doubt where its shapes return more than its group says.

    A star of more points than are looked for, or a patch of a tiling that never
    repeats, has a mirror and many regions of few shapes.
    """
    symmetry = zone.symmetry
    few = symmetry.lattice is None and len(symmetry.operations) <= _SMALL_GROUP
    mine = [k for k, orbit in enumerate(orbits) if orbit.zone == zone.index]
    shapes = len({families[k] for k in mine})
    if not few or symmetry.stated or len(mine) < _MANY_KINDS or shapes > len(mine) / 2:
        return zone, None
    area = np.array([orbits[k].area * len(orbits[k].faces) for k in mine])
    alone = np.array([len(orbits[k].faces) == 1 for k in mine])
    share = 100 * float(area[alone].sum()) / float(area.sum())
    text = (
        f"zone {zone.index}: {len(mine)} kinds have only {shapes} shapes; "
        f"{share:.0f} % of the area has no partner by symmetry"
    )
    remedy = "paint by shape with --match family"
    if symmetry.operations and symmetry.certain:
        reason = f"{len(mine)} kinds have only {shapes} shapes: more returns than that"
        symmetry = replace(symmetry, certain=False, reason=reason)
        zone = replace(zone, symmetry=symmetry)
    return zone, Note("symmetry", "shapes return", text, remedy=remedy)


def _numbers(labels: NDArray[np.int64]) -> tuple[int, ...]:
    """Return labels numbered from 1 as they come, 0 for -1."""
    seen: dict[int, int] = {-1: 0}
    return tuple(seen.setdefault(v, len(seen)) for v in labels.tolist())


def _members(of_face: NDArray[np.int64], count: int) -> list[NDArray[np.int32]]:
    order = np.argsort(of_face, kind="stable")
    edges = np.searchsorted(of_face[order], np.arange(count + 1)).tolist()
    faces = order.astype(np.int32)
    faces.setflags(write=False)
    return [faces[first:last] for first, last in itertools.pairwise(edges)]


def _letter_order(
    area: NDArray[np.float64], length: NDArray[np.float64], witness: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Return kinds by falling area, then boundary length, then witness point.

    Values that lie within 0.5 % of the next one are taken as equal, so that
    noise does not change the letters of kinds of one size.
    """
    tiers = np.zeros(len(area), dtype=np.int64)
    for values in (area, length):
        order = np.lexsort((-values, tiers))
        ranked = values[order]
        step = np.diff(tiers[order]) != 0
        step |= ranked[:-1] - ranked[1:] > 0.005 * ranked[:-1]
        tiers[order] = np.concatenate([[0], np.cumsum(step)])[: len(order)]
    point = np.round(witness, 2)
    return np.lexsort((point[:, 1], point[:, 0], tiers))


def letters(index: int) -> str:
    """Return the letter of a kind: A ... Z, AA, AB ...

    `index`: place in the order, from 0.

    Examples
    --------
    >>> letters(0), letters(25), letters(26), letters(702)
    ('A', 'Z', 'AA', 'AAA')
    """
    before, last = divmod(index, 26)
    return (_letters_before(before - 1) if before else "") + ascii_uppercase[last]


_letters_before = lru_cache(maxsize=4096)(letters)  # 26 kinds in a row share them
