"""What a user says of bands in the drawing, and what is asked of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import FillworkError, PlanError
from fillwork.notes import Note
from fillwork.units import parse_length, plain

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts
    from fillwork.bands.model import Bands

_OF_KINDS = 0.5
"""Of the regions of kinds that may be bands: those of bands are cut, covered or missed
here and there, yet most of them are found."""


def known_width(find: str) -> float | None:
    """Return the width of bands that a setting states.

    The width, mm; None for ``auto`` and ``no``. `find`: ``auto``, ``no`` or a length.
    Raises `PlanError` if it is none of these.
    """
    if find in ("auto", "no"):
        return None
    try:
        width = parse_length(find)
    except FillworkError:
        width = 0.0
    if not 0 < width < np.inf:
        what = f"“{find}” is no width of bands"
        mend = "write --bands auto, --bands no, or a width such as --bands 4mm"
        raise PlanError(what, mend=mend)
    return width


def worth_asking(bands: Bands, of_kind: AnyInts) -> bool:
    """Say whether regions that may be bands are the most of their kinds.

    Symmetry carries bands onto bands; of figures that only seem to cross here and there
    it would carry most elsewhere. Rings that cross nothing, each of one kind, are one
    paint all round in any case. `of_kind` (F,): kind of each region.
    """
    held = (bands.strand >= 0) & (of_kind >= 0)
    both = np.stack([bands.strand[held], of_kind[held]], axis=1)
    if not bands.crossings and len(np.unique(both, axis=0)) == len(
        np.unique(both[:, 0])
    ):
        return False
    kinds = np.unique(of_kind[held])
    return int(held.sum()) >= _OF_KINDS * int(np.isin(of_kind, kinds).sum())


def doubt_note(bands: Bands, scale: float = 1.0) -> Note:
    """Return the question whether a drawing is strapwork, with both answers.

    `bands`: what may be bands. `scale`: True length / drawn length.
    """
    width = plain(scale * float(np.median([s.width for s in bands.strands])))
    how = (
        "that cross, but too few of them hang together"
        if bands.crossings
        else "that bend side by side, but cross no others"
    )
    text = (
        f"some regions look like bands {width} mm wide {how}; they are taken as "
        "ordinary regions"
    )
    remedy = f"--bands {width}mm takes them as bands, --bands no leaves this out"
    return Note("bands", "bands in doubt", text, remedy=remedy)
