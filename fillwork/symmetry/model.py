"""What the symmetry stage returns.

A *zone* is a part of the drawing with one symmetry of its own; a drawing
without frames is one zone. An *orbit* is a set of faces that the zone's
symmetry group carries onto each other; for users it is a *kind*. A face that
the page or a frame cuts is in the orbit of the whole face it is part of.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, get_args

from fillwork.values import Match, freeze, told_repr

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Defect
    from fillwork.geometry.affine import Affine
    from fillwork.notes import Note


MATCHES = get_args(Match)


@dataclass(frozen=True, slots=True)
class Group:
    """Name a symmetry group.

    Parameters
    ----------
    family : str
        ``plane``, ``frieze``, ``rosette`` or ``none``.
    short : str
        IUC short name such as ``p4m`` or ``p2mg``; ``C8`` or ``D8``; ``none``.
    full : str
        IUC full name such as ``p4mm``.
    orbifold : str
        Conway's symbol such as ``*442``.
    point_group : str
        ``C4`` or ``D4`` and so on.
    lattice_kind : str
        ``oblique``, ``rectangular``, ``centred rectangular``, ``square``,
        ``hexagonal``, or empty.
    """

    family: str
    short: str
    full: str
    orbifold: str
    point_group: str
    lattice_kind: str = ""

    @property
    def title(self) -> str:
        """Return family and short name, such as ``plane p4m``.

        ``none`` where there is no symmetry.
        """
        return "none" if self.family == "none" else f"{self.family} {self.short}"


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Hold the translations of a pattern.

    Parameters
    ----------
    basis : ndarray of float64, shape (2, 2) or (1, 2) for a frieze
        Reduced basis vectors as rows, mm.
    kind : str
        As `Group.lattice_kind`; ``line`` for a frieze.
    """

    basis: NDArray[np.float64]
    kind: str

    def __post_init__(self) -> None:
        freeze(self, "basis")


@dataclass(frozen=True, slots=True)
class Operation:
    """Hold one symmetry operation.

    Parameters
    ----------
    map : tuple of 6 floats
        The isometry, mm.
    kind : str
        ``identity``, ``translation``, ``rotation``, ``reflection`` or ``glide``.
    order : int
        Order of the rotation; 2 for a reflection; 1 for the identity; 0 for a
        translation or glide.
    residual : float
        How far lines and their images miss each other, mm (root mean square).
    """

    map: Affine
    kind: str
    order: int
    residual: float = 0.0


@dataclass(frozen=True, slots=True)
class Candidate:
    """Name a group that was weighed and how it fits.

    Parameters
    ----------
    group : str
        Short name.
    fit : float
        Share of the line work that agrees, 0 to 1.
    residual : float
        Root mean square miss, mm.
    reason : str
        Why it was not taken, or why it is doubtful.
    """

    group: str
    fit: float
    residual: float
    reason: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Symmetry:
    """Hold the symmetry of one zone.

    Parameters
    ----------
    group : Group
        Which group.
    lattice : Lattice or None
        Translations; None for rosettes and none.
    centre : tuple of float or None
        A centre of highest rotation (on mirrors where there are any), mm; on
        a mirror or glide axis when there is no rotation.
    operations : tuple of Operation
        One operation a coset of the translations, the identity first: for a
        plane group as many as its point group has, for a rosette all.
    residual : float
        Worst residual of the operations, mm.
    certain : bool
        Whether the evidence decides.
    reason : str
        Why it is not certain, or why there is no symmetry.
    candidates : tuple of Candidate
        Groups that were weighed, best first.
    repeats_seen : float
        Area seen / area of a unit cell (length / period for a frieze).
    stated : bool
        True when the user stated the group.
    """

    group: Group
    lattice: Lattice | None = None
    centre: tuple[float, float] | None = None
    operations: tuple[Operation, ...] = ()
    residual: float = 0.0
    certain: bool = True
    reason: str = ""
    candidates: tuple[Candidate, ...] = ()
    repeats_seen: float = 0.0
    stated: bool = False

    @property
    def generators(self) -> tuple[Affine, ...]:
        """Return maps that generate the group: its operations and shifts.

        Isometries, mm; see `fillwork.face_action` for what they do to regions.
        """
        basis = () if self.lattice is None else self.lattice.basis.tolist()
        moving = [one.map for one in self.operations if one.kind != "identity"]
        return (*moving, *((1.0, 0.0, 0.0, 1.0, x, y) for x, y in basis))

    def __repr__(self) -> str:
        operations = len(self.operations)
        facts = {"operations": operations, "certain": self.certain}
        return told_repr(self, self.group.title, **facts)


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """Hold a part of the drawing with one symmetry.

    Parameters
    ----------
    index : int
        From 1, by falling area.
    faces : ndarray of int32
        Its faces, ascending.
    symmetry : Symmetry
        The symmetry that holds in it.
    role : str
        ``field``, ``border``, ``corner``, ``medallion`` or empty.
    """

    index: int
    faces: NDArray[np.int32]
    symmetry: Symmetry
    role: str = ""

    def __post_init__(self) -> None:
        freeze(self, "faces")

    def __repr__(self) -> str:
        role = {"role": self.role} if self.role else {}
        group, faces = self.symmetry.group.title, len(self.faces)
        return told_repr(self, self.index, group, faces=faces, **role)


@dataclass(frozen=True, slots=True, eq=False)
class Orbit:
    """Hold one kind of region.

    Parameters
    ----------
    letter : str
        ``A`` ... ``Z``, ``AA`` ..., by falling area of one whole face.
    name : str
        Plain name, unique in the drawing.
    base_name : str
        Plain name without what makes it unique.
    zone : int
        Index of the zone, from 1.
    faces : ndarray of int32
        Its faces, ascending.
    representative : int
        The whole face (the largest piece when none is whole) that stands for it.
    site_symmetry : str
        Group that keeps the representative in place, such as ``D4`` or ``C1``.
    area : float
        Area of one whole face, mm² (of the largest piece when none is whole).
    cut : int
        How many of its faces the page's edge or a frame cuts.
    band : bool
        True for the pieces of strands: they are one paint where they touch, too.
    """

    letter: str
    name: str
    base_name: str
    zone: int
    faces: NDArray[np.int32]
    representative: int
    site_symmetry: str
    area: float
    cut: int
    band: bool = False

    def __post_init__(self) -> None:
        freeze(self, "faces")

    def __repr__(self) -> str:
        area = float(f"{self.area:.6g}")
        return told_repr(self, self.letter, self.name, faces=len(self.faces), area=area)


@dataclass(frozen=True, slots=True, eq=False)
class Orbits:
    """Hold all kinds of a drawing.

    Parameters
    ----------
    orbits : tuple of Orbit
        By letter.
    of_face : ndarray of int32, shape (F,)
        Row of `orbits` for each face; -1 for face 0.
    turns_of_face, shifts_of_face : ndarray of int32, shape (F,)
        Finer classes with ids of their own: faces alike by turns and shifts, and
        by shifts alone. Equal to `of_face` classes where these are finer already.
    operation_of_face : ndarray of int32, shape (F,)
        Index into the zone's ``symmetry.operations`` of the operation that,
        with some translation, carries the representative's place to the face's;
        -1 where not known (family ``none``).
    cut : ndarray of bool, shape (F,)
        True where the page's edge or a frame cuts the face.
    match : str
        ``all``, ``turns``, ``shifts``, ``none``, ``family`` or ``figure``.
    zones : tuple of Zone
        The zones, by index.
    defects : tuple of Defect
        Places that break the symmetry.
    notes : tuple of Note
        Doubts.
    families, figures : tuple of int
        For each kind the number of its family, from 1, and of the sort of star or
        flower that it is part of, 0 for none; empty where they were not asked for.
    alike : float
        How far outlines of one family lie apart at most, in roots of the area.
    strand_of_face : ndarray of int64, shape (F,), optional
        Strand of each face of a kind of band, -1 for others; None without bands.
    rows : dict of str to dict of str to list of int
        Rows of `orbits` by letter, name and base name, without case; made when asked
        for by `find_place`.
    """

    orbits: tuple[Orbit, ...]
    of_face: NDArray[np.int32]
    turns_of_face: NDArray[np.int32]
    shifts_of_face: NDArray[np.int32]
    operation_of_face: NDArray[np.int32]
    cut: NDArray[np.bool_]
    match: str
    zones: tuple[Zone, ...]
    defects: tuple[Defect, ...] = ()
    notes: tuple[Note, ...] = field(default=())
    families: tuple[int, ...] = ()
    figures: tuple[int, ...] = ()
    alike: float = 0.03
    strand_of_face: NDArray[np.int64] | None = None
    rows: dict[str, dict[str, list[int]]] = field(
        init=False, repr=False, default_factory=dict
    )

    def __post_init__(self) -> None:
        freeze(self, "of_face", "turns_of_face", "shifts_of_face", "operation_of_face")
        freeze(self, "cut")

    def __repr__(self) -> str:
        kinds, zones = len(self.orbits), len(self.zones)
        return told_repr(self, kinds=kinds, zones=zones, match=self.match)
