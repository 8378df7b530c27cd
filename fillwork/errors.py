"""What can go wrong, told in words that a maker understands.

::

    FillworkError
    ├── ReadError        a drawing or another input file could not be read
    ├── LineWorkError    the line work gives nothing to work on
    ├── SymmetryError    a stated symmetry cannot be held
    ├── PaletteError     a palette is wrong or unknown (also a ValueError)
    ├── ColouringError   wishes for the colouring contradict each other
    ├── PlanError        a plan or a setting is wrong
    └── RenderError      an output could not be made or written
"""


class FillworkError(Exception):
    """Report work that could not be done: what, where, and how to mend it.

    Parameters
    ----------
    what : str
        What is wrong, with the number that shows it.
    where : str, optional
        File, line, element or point (mm) it concerns.
    mend : str, optional
        What the user can do about it.
    """

    exit_code = 1

    def __init__(self, what: str, where: str = "", mend: str = "") -> None:
        super().__init__(what, where, mend)
        self.what = what
        self.where = where
        self.mend = mend

    def __str__(self) -> str:
        first = f"{self.where}: {self.what}" if self.where else self.what
        return f"{first}\n  {self.mend}" if self.mend else first


class ReadError(FillworkError):
    """Report a file that cannot be read as a drawing."""


class LineWorkError(FillworkError):
    """Report line work that gives nothing to work on."""


class SymmetryError(FillworkError):
    """Report a stated symmetry that the drawing cannot have."""


class PaletteError(FillworkError, ValueError):
    """Report a palette that is unknown or wrong."""


class ColouringError(FillworkError):
    """Report wishes for the colouring that cannot be met together."""


class PlanError(FillworkError):
    """Report a plan or a setting that is wrong."""


class RenderError(FillworkError):
    """Report an output that cannot be made or written."""
