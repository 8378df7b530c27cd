"""Where zones end: at a line that parts them, or in the middle of a pattern.

A group is sure of all that lies within its zone. Where a zone ends along lines that no
frame drew, and the regions beyond are like its own, it is a piece of something larger
that was not found whole: what the piece shows alone is a subgroup of the truth.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct, distinct_pairs, marked
from fillwork.symmetry.zones.turned import FEW_TURNS

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.zones.making import Part


# share of what parts a zone from others that no frame drew, from which it may be torn
_UNFRAMED = 0.3
# the same of a strip, or of what turns seldom, whatever lies beside it
_HALF_FRAMED = 0.45
# share of the regions beside it, and of its own, that are like one of the others
_LIKE = 0.6
# share of the regions beside it at least, if its own are like some of them
_SOME = 0.1
# faces of the others beside it, for one of its own
_WEIGHT = 0.2
# by how much of their area and boundary like regions differ at most
_SAME = 0.02
# regions of each that are asked
_ASKED = 400
# regions of a rosette, under which it may be a piece of what was parted at random, and
# zones in doubt about one that tell so
_PIECE, _ABOUT = 12, 3
# islands of no sure zone that leave the regions which hold them in doubt
_ISLANDS = 4


def is_torn(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    others: list[Ints32],
    frame: Bools,
    noise: float,
    *,
    alone: bool = False,
) -> bool:
    """Tell whether a zone ends where no frame does, beside regions like its own.

    True when it may be a piece of a larger pattern. `faces`: the faces of the zone.
    `others`: the faces of the other zones, and plain ones. `frame` (E,): edges on lines
    of a frame. `noise`: how far lines stray from their places, mm. `alone`: whether
    frames part what is like it from others: the long sides of a strip are lines of a
    frame, and a piece of a pattern has few turns or none.
    """
    own = marked(faces, arrangement.face_count)
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    rim = (own[left] != own[right]) & (left != 0) & (right != 0)
    torn = rim & ~frame
    if not torn.any():
        return False
    ends = arrangement.vertices[arrangement.origin]
    length = np.hypot(*(ends[1::2] - ends[0::2]).T)
    if length[torn].sum() < _UNFRAMED * length[rim].sum():
        return False
    if alone and length[torn].sum() >= _HALF_FRAMED * length[rim].sum():
        return True
    beside = np.where(own[left], right, left)[torn]
    beyond = np.unique(beside)[:_ASKED]
    # scraps that a window cut off are no part of any weight
    near = [f for f in others if np.isin(f, beyond).any()]
    if sum(len(f) for f in near) < _WEIGHT * len(faces):
        return False
    alike = _share_like(measures, beyond, faces, noise)
    # twelve of one size are like one cell by chance
    return alike >= _LIKE or (
        alike >= _SOME and _share_like(measures, faces[:_ASKED], beyond, noise) >= _LIKE
    )


def amid_doubt(
    arrangement: Arrangement, parts: list[Part], plain: list[Ints32]
) -> list[Part]:
    """Return sure rosettes about which, or within whose regions, all is in doubt.

    Lines that were taken for frames part a pattern into pieces, of which some turn; so
    do the cells of a strip without what stands in them.

    `arrangement`: all faces. `parts`: zones in the making. `plain`: faces that are of
    none. Those of a few regions that have three zones or more beside them, which are
    all in doubt but for others of their group and size; and those of a few turns whose
    regions hold islands that are of none, or of one in doubt.
    """
    found = []
    for part, beside in _sure_rosettes(arrangement, parts):
        own = part.symmetry
        others = _states(part, beside)
        about = len(part.faces) < _PIECE and len(others) >= _ABOUT and not any(others)
        few = len(own.operations) <= FEW_TURNS
        doubt = [p.faces for p in beside if not p.symmetry.certain] + plain
        if about or (few and doubt and _holds(arrangement, part.faces, doubt)):
            found.append(part)
    return found


def small_amid_doubt(arrangement: Arrangement, parts: list[Part]) -> list[Part]:
    """Return small sure medallions about which all that is a zone is in doubt.

    But for others of their group and size: they may be pieces of a pattern that was not
    found.
    """
    found = []
    for part, beside in _sure_rosettes(arrangement, parts):
        states = _states(part, beside)
        small = part.role == "medallion" and len(part.faces) < _PIECE
        if small and states and not any(states):
            found.append(part)
    return found


def _sure_rosettes(
    arrangement: Arrangement, parts: list[Part]
) -> list[tuple[Part, list[Part]]]:
    """Return the sure rosettes among parts, each with the parts beside it."""
    owner = np.full(arrangement.face_count, -1, dtype=np.int64)
    for k, part in enumerate(parts):
        owner[part.faces] = k
    sides = owner[arrangement.face].reshape(-1, 2)
    sides = distinct_pairs(np.vstack([sides, sides[:, ::-1]]))
    return [
        (part, [parts[j] for i, j in sides.tolist() if i == k and j not in (-1, k)])
        for k, part in enumerate(parts)
        if part.symmetry.group.family == "rosette" and part.symmetry.certain
    ]


def _states(part: Part, beside: list[Part]) -> list[bool]:
    """Return which parts are certain, but for those of a part's own group and size."""
    own = (part.symmetry.group, len(part.faces))
    return [
        p.symmetry.certain for p in beside if (p.symmetry.group, len(p.faces)) != own
    ]


def _holds(arrangement: Arrangement, faces: Ints32, others: list[Ints32]) -> bool:
    """Tell whether several parts of others stand within regions of a zone."""
    own, theirs = np.zeros((2, arrangement.face_count), dtype=bool)
    own[faces] = True
    theirs[np.concatenate(others)] = True
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    link = theirs[a] & theirs[b]
    label = part_numbers(a[link], b[link], arrangement.face_count)
    open_ = np.zeros_like(own)  # parts that border on a third zone
    for one, across in ((a, b), (b, a)):
        open_[label[one[theirs[one] & ~theirs[across] & ~own[across]]]] = True
    return len(distinct(label[theirs & ~open_[label]])) >= _ISLANDS


def _share_like(
    measures: FaceMeasures, faces: AnyInts, others: AnyInts, noise: float
) -> float:
    """Return which share of faces have the size and boundary of some of the others."""
    size, length = measures.size, measures.length
    near = np.abs(size[faces, None] - size[others]) <= noise + _SAME * size[faces, None]
    slack = 4 * noise + _SAME * length[faces, None]
    near &= np.abs(length[faces, None] - length[others]) <= slack
    return float(near.any(axis=1).mean())
