"""True widths of the painted line, and regions that it covers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillwork.pipeline.job import colour_drawing
from fillwork.plans.file import parse_plan

if TYPE_CHECKING:
    from fillwork.pipeline.finish import Finish

# three squares of 20, 6 and 2 mm side, in a drawing at 1 : 5
DRAWING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm"
viewBox="0 0 40 30"><g fill="none" stroke="#000" stroke-width="0.2">
<rect x="1" y="1" width="20" height="20"/><rect x="24" y="1" width="6" height="6"/>
<rect x="34" y="1" width="2" height="2"/></g></svg>"""


def finish(width: float) -> Finish:
    plan = parse_plan(
        b"[drawing]\nscale = 5.0\n[colouring]\noutline = '#ffffff'\n"
        b"outline_width_mm = %r\n" % width
    )
    return colour_drawing(DRAWING, plan, name="squares.svg")


def test_the_painted_line_is_as_wide_on_the_wall_as_was_said() -> None:
    done = finish(4.0)
    line = next(
        q
        for q, name in zip(done.schedule.extras, done.schedule.extra_names, strict=True)
        if name.startswith("outline")
    )
    # 4 x (20 + 6 + 2) mm of line at 1 : 5, 4 mm wide
    assert line.edge == pytest.approx(4 * 28 * 5)
    assert line.area_real == pytest.approx(4 * 28 * 5 * 4)
    assert done.colouring.rules.outline_width == pytest.approx(0.8)
    assert "1 : 5" in done.schedule_text()


@pytest.mark.parametrize(
    ("width", "whole", "more", "left"),
    [
        # half the line, in mm of the drawing: 0.4, 1.0, 3.2
        (4.0, 0, 1, 400 + 36),  # 1.2^2 of 2^2 is left: under half
        (10.0, 1, 1, 400),  # 1 mm: nothing of 2, 4^2 of 6^2
        (32.0, 2, 1, 0),  # nothing of 6, 13.6^2 of 20^2: 46 %
    ],
)
def test_swallowed_regions_are_counted_and_not_bought(
    width: float, whole: int, more: int, left: float
) -> None:
    done = finish(width)
    notes = [n for n in done.schedule.notes if n.type == "swallowed regions"]
    text = notes[0].text
    assert f"{more} region by over half" in text
    named = f"{whole} region{'s' * (whole != 1)} wholly"
    assert (named in text) if whole else ("wholly" not in text)
    drawn = sum(q.area_drawn for q in done.schedule.quantities)
    assert drawn == pytest.approx(left)
