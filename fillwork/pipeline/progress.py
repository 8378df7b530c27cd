"""Tellers of progress."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    Progress = Callable[[str], None]


def quiet(stage: str) -> None:
    """Take a progress message and say nothing.

    Parameters
    ----------
    stage : str
        What is being done.
    """


def telling(progress: Progress) -> Callable[[float, str], None]:
    """Return a teller of parts done for one of stages.

    What is returned is called with the part done, 0 to 1, and what is being done.
    """

    def tell(done: float, what: str) -> None:
        progress(f"{what} ({100 * done:.0f} %)")

    return tell
