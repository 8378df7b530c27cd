"""How much line work is taken on: every limit in one place.

Line work below the limits is worked; above them it is refused by name before
it takes the machine's memory. ``allow_large`` raises each limit eightfold.
"""

from __future__ import annotations

from dataclasses import dataclass

from fillwork.errors import LineWorkError


@dataclass(frozen=True, slots=True)
class Limits:
    """Hold the largest counts that are taken on."""

    segments: int  # lines, and chords of curves
    crossings: int  # points where two of them meet
    regions: int  # closed regions
    near_pairs: int  # pairs of lines that come close to each other

    def raised(self) -> Limits:
        """Return the limits eight times as high."""
        return Limits(
            8 * self.segments, 8 * self.crossings, 8 * self.regions, 8 * self.near_pairs
        )

    def refuse_above(self, name: str, count: int) -> None:
        """Raise when a count is above its limit.

        `name`: ``segments``, ``crossings``, ``regions`` or ``near_pairs``. `count`: how
        many there are, or at least are. Raises `LineWorkError` if the count is above
        the limit.
        """
        limit = getattr(self, name)
        if count > limit:
            thing = name.replace("_pairs", " pairs of lines")
            what = f"the line work has more than {limit:,} {thing}"
            mend = "leave out hatching or construction lines, or use --allow-large"
            raise LineWorkError(what, mend=mend)


LIMITS = Limits(
    segments=3_000_000, crossings=6_000_000, regions=4_000_000, near_pairs=400_000_000
)
