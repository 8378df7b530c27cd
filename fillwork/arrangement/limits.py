"""How much line work is taken on: every limit in one place.

Line work below the limits is worked; above them it is refused by name before
it takes the machine's memory. ``allow_large`` raises each limit eightfold.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

from fillwork.errors import LineWorkError


@dataclass(frozen=True, slots=True)
class Limits:
    """Hold the largest counts that are taken on."""

    segments: int  # lines, and chords of curves
    crossings: int  # points where two of them meet
    regions: int  # closed regions
    near_pairs: int  # pairs of lines that come close to each other
    # pieces of lines so close to each other that their order is worked out on a grid
    crowded_pieces: int

    def raised(self) -> Limits:
        """Return the limits eight times as high."""
        return Limits(*(8 * getattr(self, field.name) for field in fields(self)))

    def refuse_above(self, name: str, count: int) -> None:
        """Raise when a count is above its limit.

        `name`: a field. `count`: how many there are, or at least are. Raises
        `LineWorkError` if the count is above the limit.
        """
        limit = getattr(self, name)
        if count > limit:
            thing = name.replace("_pairs", " pairs of lines").replace("_", " ")
            what = f"the line work has more than {limit:,} {thing}"
            mend = "leave out hatching or construction lines, or use --allow-large"
            raise LineWorkError(what, mend=mend)


LIMITS = Limits(
    segments=3_000_000,
    crossings=6_000_000,
    regions=4_000_000,
    near_pairs=400_000_000,
    crowded_pieces=3_000_000,
)
