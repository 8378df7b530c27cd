"""What a walk over a drawing leaves for the last steps of reading, in any format."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, cast

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine
    from fillwork.readers.limits import Limits
    from fillwork.readers.strokes.collect import Collector, Context
    from fillwork.readers.strokes.cutting import Region


@dataclass(frozen=True, slots=True)
class Clip:
    """Hold one outline that cuts lines, with the clips around it."""

    parent: int  # index of the clip around it, -1 for none
    matrix: Affine  # from its units to the page's
    # x, y, width, height, where it is a viewport
    box: tuple[float, float, float, float] | None = None
    # otherwise its `Region`, what makes that for a box of some size, or what the walk
    # over the drawing knows it by
    shape: object = None
    by_box: int = 0  # 1 if it is laid in the box of what it cuts, 2 that of its strokes
    # 1 if its outline is drawn besides, as the edge of a fill, 2 if as a stroke; 0
    # where it becomes an edge of the fills that it cuts
    drawn: int = 0


class Seen(Protocol):
    """Say what cutting, choosing and telling ask of a walk over a drawing."""

    limits: Limits
    where: str
    clips: list[Clip]
    counts: dict[str, int]
    notes: dict[str, list[tuple[str, int]]]
    layers: dict[str, None]
    line_shift: int
    thin: bool

    @property
    def collector(self) -> Collector:
        """Return what gathered the strokes, with their items and contexts."""
        ...

    @property
    def odd(self) -> list[str]:
        """Return what was met and not understood, with where."""
        ...

    @property
    def classes(self) -> list[str]:
        """Return the classes met."""
        ...

    @property
    def unread(self) -> tuple[int, int]:
        """Return how many style sheets and style selectors were not read."""
        ...

    def clip_region(self, clip: Clip) -> Region:
        """Return the outline of a clip that is no box, in its own units."""
        ...


@dataclass(slots=True)
class Drawn:
    """Hold what was met in a drawing that is no SVG."""

    limits: Limits  # sizes allowed
    where: str  # file name for messages
    collector: Collector  # items and their contexts; the curves are kept elsewhere
    # clips, each with the one around it
    clips: list[Clip] = field(default_factory=list)
    # what is no line work, by word
    counts: dict[str, int] = field(default_factory=dict)
    # what was not understood: where
    notes: dict[str, list[tuple[str, int]]] = field(default_factory=dict)
    # layers and names: layers and classes met, in order
    layers: dict[str, None] = field(default_factory=dict)
    names: dict[str, None] = field(default_factory=dict)
    line_shift: int = 0  # always 0
    thin: bool = False  # whether lines of width 0 were met
    # what was not understood, in words, said where no line is left
    odd: list[str] = field(default_factory=list)
    _contexts: dict[Context, int] = field(default_factory=dict)

    @property
    def classes(self) -> list[str]:
        """Return the classes met."""
        return list(self.names)

    def context(self, context: Context) -> int:
        """Return the number of a context; the same for the same context."""
        found = self._contexts.get(context)
        if found is None:
            found = self._contexts[context] = len(self.collector.contexts)
            self.collector.contexts.append(context)
        return found

    @property
    def unread(self) -> tuple[int, int]:
        """Return that there are no styles to read."""
        return 0, 0

    def clip_region(self, clip: Clip) -> Region:
        """Return the outline of a clip, which is known."""
        return cast("Region", clip.shape)
