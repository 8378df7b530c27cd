"""Open groups: what they hand to the elements inside them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fillwork.geometry import affine
from fillwork.readers.svg.style.cascade import INITIAL

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine
    from fillwork.readers.svg.gate.gather import Node
    from fillwork.readers.svg.shapes.values import Viewport
    from fillwork.readers.svg.style.cascade import Inherited, Own
    from fillwork.readers.svg.style.css import Element
    from fillwork.readers.svg.walk import Walk


@dataclass(slots=True)
class Frame:
    """Hold what an open group hands to the elements inside it."""

    matrix: Affine  # from its user units to the page's
    style: Inherited  # properties that are inherited
    viewport: Viewport  # what percentages refer to
    layer: str | None = None  # outermost named group
    clip: int = -1  # index of the clip, -1 for none
    names: int = 0  # which conditions on class and id hold, one bit each
    # contexts of a shape that adds nothing, and of such a line; -2 until made
    plain: int = -2
    plain_line: int = -2
    # what selectors may ask of the group, and of the last element inside it
    element: Element | None = None
    last: Element | None = None
    using: frozenset[str] = frozenset()  # ids of the elements being copied
    switch: int = 0  # 1 for a switch still looking, 2 for one that has drawn
    # contexts made so far, by style
    cache: dict[object, tuple[int, Own]] = field(default_factory=dict)


def frame_of_node(
    walk: Walk, holder: Node, content: Affine, viewport: Viewport
) -> Frame:
    """Return the frame of what a pattern or a mask holds.

    Properties come from where it stands, not from the shapes that it fills or masks.
    `walk`: the walk, whose open frames it changes. `holder`: the pattern or mask.
    `content`: from the units of what it holds to those of where it is laid. `viewport`:
    what percentages refer to.
    """
    around = holder.around
    steps = [(holder.role, holder.attributes, holder.element)]
    while around is not None:
        steps.append(around[1:])
        around = around.outer
    frame = Frame(affine.IDENTITY, INITIAL, viewport)
    for role, attributes, element in reversed(steps[: walk.limits.depth]):
        walk.open_frame(frame)
        style = walk.style_of(role, attributes, element)
        frame = Frame(affine.IDENTITY, style._replace(solid=True), viewport)
    frame.matrix, frame.element = content, holder.element
    return frame
