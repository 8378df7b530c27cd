"""Every numerical slack in one frozen object, in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Hold the slacks that the stages work with.

    Parameters
    ----------
    join_within : float
        Points nearer than this are one vertex; lines nearer are one line (mm).
    close_gaps : float
        Longest gap that is closed and longest overshoot that is trimmed (mm).
    flatten : float
        Largest distance of a chord from its curve (mm).
    match : float
        How far lines may miss their images whatever the shifts' do (mm); 0 means: that
        is taken from the drawing.
    sliver : float
        Largest inscribed radius of a region that may be a sliver (mm).
    touch : float
        Lines that all but touch, and miss by no more, touch (mm); what is nearer than
        `join_within` does so anyway.
    why : str
        How the numbers came about, for the report.
    """

    join_within: float
    close_gaps: float
    flatten: float
    match: float = 0.0
    sliver: float = 0.0
    touch: float = 0.0
    why: str = ""

    @classmethod
    def exact(cls, *, flatten: float = 0.01) -> Tolerance:
        """Return slacks for exact data: nothing is closed, and no line moved.

        Parameters
        ----------
        flatten : float
            Largest distance of a chord from its curve, mm.

        Returns
        -------
        Tolerance
            Points within a millionth of a millimetre are one, for rounding.

        Examples
        --------
        >>> Tolerance.exact().close_gaps
        0.0
        """
        return cls(1e-6, 0.0, flatten, why="exact data, as asked")

    def __post_init__(self) -> None:
        for name in (f.name for f in fields(self) if f.name != "why"):
            value = getattr(self, name)
            if not 0 <= value < math.inf:
                what = f"{name} is a length of 0 mm or more, not {value!r}"
                raise ValueError(what)
