"""What a walk over a drawing leaves for the last steps of reading, in any format."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from fillwork.readers.limits import Limits
    from fillwork.readers.svg.collect import Collector, Context
    from fillwork.readers.svg.cutting import Region
    from fillwork.readers.svg.frames import Clip
    from fillwork.readers.svg.style.css import Sheet


class Seen(Protocol):
    """Say what cutting, choosing and telling ask of a walk over a drawing."""

    limits: Limits
    where: str
    collector: Collector
    clips: list[Clip]
    clip_shapes: dict[tuple[int, bool], Region]
    counts: dict[str, int]
    notes: dict[str, list[tuple[str, int]]]
    layers: dict[str, None]
    line_shift: int
    thin: bool
    sheet: Sheet

    @property
    def classes(self) -> list[str]:
        """Return the classes met."""
        ...

    def replay_clip(self, clip: Clip, collector: Collector) -> None:
        """Draw the shapes of a clip into a collector.

        Parameters
        ----------
        clip : Clip
            A clip.
        collector : Collector
            Where its shapes are drawn.
        """
        ...


@dataclass(slots=True)
class Drawn:
    """Hold what was met in a drawing that is no SVG.

    Parameters
    ----------
    limits : Limits
        Sizes allowed.
    where : str
        File name for messages.
    collector : Collector
        Items and their contexts; the curves are kept elsewhere.
    sheet : Sheet
        An empty style sheet.
    clips : list of Clip
        Clips, each with the one around it.
    clip_shapes : dict
        The outline of each clip that is no box.
    counts : dict of str to int
        What is no line work, by word.
    notes : dict
        What was not understood: where.
    layers, names : dict
        Layers and classes met, in order.
    line_shift : int
        Always 0.
    thin : bool
        Whether lines of width 0 were met.
    """

    limits: Limits
    where: str
    collector: Collector
    sheet: Sheet
    clips: list[Clip] = field(default_factory=list)
    clip_shapes: dict[tuple[int, bool], Region] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    notes: dict[str, list[tuple[str, int]]] = field(default_factory=dict)
    layers: dict[str, None] = field(default_factory=dict)
    names: dict[str, None] = field(default_factory=dict)
    line_shift: int = 0
    thin: bool = False
    _contexts: dict[Context, int] = field(default_factory=dict)

    @property
    def classes(self) -> list[str]:
        """Return the classes met."""
        return list(self.names)

    def context(self, context: Context) -> int:
        """Return the number of a context.

        Parameters
        ----------
        context : Context
            The context.

        Returns
        -------
        int
            The same for the same context.
        """
        found = self._contexts.get(context)
        if found is None:
            found = self._contexts[context] = len(self.collector.contexts)
            self.collector.contexts.append(context)
        return found

    def replay_clip(self, clip: Clip, collector: Collector) -> None:
        """Do nothing: the outlines of clips are known.

        Parameters
        ----------
        clip : Clip
            A clip.
        collector : Collector
            Where its shapes would be drawn.
        """
