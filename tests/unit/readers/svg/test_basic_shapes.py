"""Basic shapes of SVG 2, section 10: what is drawn, what is nothing, what is told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillwork.geometry.curves import ARC, LINE
from fillwork.readers import read_linework

if TYPE_CHECKING:
    from fillwork.linework import LineWork

AROUND = '<svg xmlns="http://www.w3.org/2000/svg" width="90" height="90">{}</svg>'
EDGE = '<path d="M0 80H90" stroke="#000"/>'


def read(shape: str) -> tuple[LineWork, list[str]]:
    """Read a shape beside a line, in px; and what is told of it."""
    body = shape.replace("/>", ' fill="none" stroke="#000"/>') + EDGE
    work = read_linework(AROUND.format(body).encode(), name="a.svg")
    return work, [n.text for n in work.notes if "negative" in n.text]


def kinds(shape: str) -> list[int]:
    return read(shape)[0].curves.kind.tolist()[:-1]


@pytest.mark.parametrize(
    ("shape", "drawn"),
    [
        ('<ellipse cx="9" cy="9" rx="4" ry="2"/>', [ARC]),
        # a radius that is missing is the other's
        ('<ellipse cx="9" cy="9" rx="4"/>', [ARC]),
        ('<ellipse cx="9" cy="9" ry="4"/>', [ARC]),
        ('<ellipse cx="9" cy="9"/>', []),
        ('<ellipse cx="9" cy="9" rx="0" ry="4"/>', []),
        ('<ellipse cx="9" cy="9" rx="4" ry="0"/>', []),
        ('<rect x="1" y="1" width="8" height="6"/>', [LINE] * 4),
        ('<rect x="1" y="1" width="0" height="6"/>', []),
        ('<rect x="1" y="1" width="8" height="0"/>', []),
        ('<rect x="1" y="1" width="8" height="6" rx="1"/>', [LINE, ARC] * 4),
        ('<rect x="1" y="1" width="8" height="6" ry="1"/>', [LINE, ARC] * 4),
        # below nothing it counts as not given
        ('<rect x="1" y="1" width="8" height="6" rx="-1" ry="1"/>', [LINE, ARC] * 4),
        ('<rect x="1" y="1" width="8" height="6" rx="1" ry="-1"/>', [LINE, ARC] * 4),
        ('<rect x="1" y="1" width="8" height="6" rx="-1"/>', [LINE] * 4),
        ('<rect x="1" y="1" width="8" height="6" rx="0" ry="1"/>', [LINE] * 4),
        # no more than half of the side
        (
            '<rect x="1" y="1" width="8" height="6" rx="9" ry="1"/>',
            [LINE, ARC, ARC] * 2,
        ),
        ('<polyline points="1,1 5,5 9,1"/>', [LINE] * 2),
        ('<polygon points="1,1 5,5 9,1"/>', [LINE] * 3),
        ('<polygon points="1,1 5,5 9,1,"/>', [LINE] * 3),
        ('<polygon points="none"/>', []),
        ('<polyline points=""/>', []),
        ('<path d="none"/>', []),
        ('<path d="path(&quot;M1 1H5&quot;)"/>', [LINE]),
    ],
)
def test_what_a_shape_draws(shape: str, drawn: list[int]) -> None:
    got = kinds(shape)
    assert sorted(got) == sorted(drawn)


def test_round_corners_reach_half_of_a_side_at_most() -> None:
    work, _ = read('<rect x="1" y="1" width="8" height="6" rx="9" ry="1"/>')
    arcs = work.curves.data[work.curves.kind == ARC] * 96 / 25.4
    assert abs(arcs[:, 2]) == pytest.approx([4.0] * 4)
    assert abs(arcs[:, 5]) == pytest.approx([1.0] * 4)


@pytest.mark.parametrize(
    ("shape", "told"),
    [
        ('<ellipse cx="9" cy="9" rx="-4" ry="2"/>', True),
        ('<ellipse cx="9" cy="9" rx="4" ry="-2"/>', True),
        ('<ellipse cx="9" cy="9" rx="-4"/>', True),
        ('<ellipse cx="9" cy="9" rx="0" ry="2"/>', False),
        ('<ellipse cx="9" cy="9"/>', False),
        ('<rect x="1" y="1" width="-8" height="6"/>', True),
        ('<rect x="1" y="1" width="8" height="-6"/>', True),
        ('<rect x="1" y="1" width="0" height="6"/>', False),
        ('<rect x="-1" y="-1" width="8" height="6"/>', False),
    ],
)
def test_sizes_below_nothing_are_told(shape: str, told: bool) -> None:
    assert (read(shape)[1] != []) == told
