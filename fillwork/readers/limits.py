"""The one place of all limits on what a drawing file may ask of the reader.

A hostile file can ask for any amount of work: entities that multiply, `use`
elements that call each other, packed files that swell. Each limit is named in
the message that refuses a file, and `allow_large` raises all of them together.
"""

from __future__ import annotations

from dataclasses import dataclass

from fillwork.errors import ReadError


@dataclass(frozen=True, slots=True)
class Limits:
    """Hold the largest sizes that a drawing may have."""

    file_bytes: int = 120_000_000  # bytes of the file, and of its text once unpacked
    unpack_ratio: int = 200  # how many times larger a packed file may become
    # bytes that all entity references of a file may expand to
    entity_bytes: int = 20_000_000
    depth: int = 400  # elements inside each other
    elements: int = 1_200_000  # elements of the file, copies made by `use` included
    copies: int = 200_000  # elements copied by `use`, clips of a PDF
    forms: int = 25_000  # forms that a PDF places, blocks of a DXF each in its way
    tiles: int = 20_000  # tiles that fills by patterns are laid with
    curves: int = 3_000_000  # lines, arcs and Bézier curves together
    style_rules: int = 20_000  # rules of all style sheets together
    style_steps: int = 3_000_000  # comparisons of style rules with elements
    cut_steps: int = 80_000_000  # comparisons of curves with the outlines that cut them
    coordinate: float = 1e7  # largest distance from the origin, mm
    raised: bool = False  # whether these are already the raised limits

    def refuse(self, limit: str, got: str, where: str) -> ReadError:
        """Return the error that names a limit; to be raised by the caller.

        `limit`: name of the limit, a field of this class. `got`: what the file asks
        for, such as ``3000000 elements``. `where`: file, and element if known.
        """
        value = getattr(self, limit)
        number = f"{value:,}" if isinstance(value, int) else f"{value:g}"
        words = limit.replace("_", " ")
        mend = "" if self.raised else "if the file is trusted, --allow-large raises it"
        return ReadError(f"{got}: over the limit {words} = {number}", where, mend)


NORMAL = Limits()

LARGE = Limits(
    file_bytes=1_500_000_000,
    unpack_ratio=1_000,
    entity_bytes=400_000_000,
    depth=5_000,
    elements=30_000_000,
    copies=20_000_000,
    forms=2_500_000,
    tiles=2_000_000,
    curves=60_000_000,
    style_rules=200_000,
    style_steps=1_000_000_000,
    cut_steps=20_000_000_000,
    coordinate=1e8,
    raised=True,
)


def limits_for(allow_large: bool) -> Limits:
    """Return the limits in force."""
    return LARGE if allow_large else NORMAL
