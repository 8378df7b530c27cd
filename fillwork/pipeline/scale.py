"""True length / drawn length, as the plan or the drawing states it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.colouring.model import Rules
    from fillwork.linework import Frame, LineWork
    from fillwork.plans.model import Plan


def scale_known(plan: Plan, linework: LineWork) -> bool:
    """Return whether a physical size is stated, by the plan or the drawing."""
    stated = (plan.real_width, plan.scale, plan.real)
    return linework.frame.scale_known or any(s is not None for s in stated)


def real_scale(plan: Plan, arrangement: Arrangement) -> float:
    """Return real length / drawn length.

    1 when no real size is stated, or when a cell was laid at true size. `plan`: the
    choices; `Plan.real`, `Plan.scale` and `Plan.real_width` count. `arrangement`: the
    regions; the width of its page counts.
    """
    if plan.laying.wanted:
        return 1.0
    return drawn_scale(plan, arrangement.frame, arrangement.vertices)


def drawn_rules(plan: Plan, arrangement: Arrangement) -> Rules:
    """Return a plan's wishes with the painted line's width in mm of the drawing.

    `plan`: the choices; there the width is that on the panel.
    """
    rules = plan.rules
    if rules.outline_width is None:
        return rules
    width = rules.outline_width / real_scale(plan, arrangement)
    return replace(rules, outline_width=width)


def drawn_scale(plan: Plan, frame: Frame, points: Floats) -> float:
    """Return true length / drawn length of a drawing as it was read.

    1 when nothing is stated. `points` (n, 2): points that reach as far as its lines,
    mm.
    """
    if plan.real is not None:
        x0, y0, x1, y1, length = plan.real
        return length / math.hypot(x1 - x0, y1 - y0)
    if plan.scale is not None:
        return plan.scale
    width = frame.width
    if plan.real_of == "drawing":
        width = float(points[:, 0].max() - points[:, 0].min()) if len(points) else 0.0
    if plan.real_width is None or width <= 0:
        return 1.0
    return plan.real_width / width
