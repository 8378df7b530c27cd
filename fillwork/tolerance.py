"""Every numerical slack in one frozen object, in mm."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Tolerance"]


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
        Largest residual of a symmetry operation (mm); 0 means: from the drawing.
    sliver : float
        Largest inscribed radius of a region that may be a sliver (mm).
    why : str
        How the numbers came about, for the report.
    """

    join_within: float
    close_gaps: float
    flatten: float
    match: float = 0.0
    sliver: float = 0.0
    why: str = ""
