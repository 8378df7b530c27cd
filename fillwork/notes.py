"""Notes: what a stage skipped, repaired or doubts.

A note never stops the work; an error does. Notes travel with the result of the
stage that made them and are printed at the end.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Note:
    """Say one odd thing that a stage met.

    Parameters
    ----------
    stage : str
        The stage that speaks: ``readers``, ``arrangement``, ``symmetry``, ...
    type : str
        A short stable word for the sort of note, such as ``text skipped``.
    text : str
        One sentence for the user.
    at : tuple of float, optional
        Where, in mm from the page's lower left corner.
    source : tuple of (str, int), optional
        Element and line in the source file.
    remedy : str
        What the user can do; empty when nothing is needed.
    """

    stage: str
    type: str
    text: str
    at: tuple[float, float] | None = None
    source: tuple[str, int] | None = None
    remedy: str = ""
