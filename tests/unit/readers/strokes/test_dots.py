"""Nodes drawn as dots, on which lines end: squares and triangles by construction."""

from __future__ import annotations

import pytest

from fillwork import build_arrangement, read_linework

SIDE = 20.0
SHORT = 0.1  # mm by which lines stop short of the middle of a node


def netting(count: int, dot: str) -> bytes:
    """Draw the sides of count × count squares, each line from node to node."""
    nodes = range(count + 1)
    lines = [
        f"M{SIDE * x + SHORT} {SIDE * y}H{SIDE * (x + 1) - SHORT}"
        f"M{SIDE * y} {SIDE * x + SHORT}V{SIDE * (x + 1) - SHORT}"
        for x in range(count)
        for y in nodes
    ]
    dots = [dot.format(x=SIDE * x, y=SIDE * y) for x in nodes for y in nodes]
    size = SIDE * count + 10
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}mm" height="{size}mm" '
        f'viewBox="-5 -5 {size} {size}"><g fill="none" stroke="#000" '
        f'stroke-width="0.4"><path d="{"".join(lines)}"/>{"".join(dots)}</g></svg>'
    ).encode()


@pytest.mark.parametrize(
    "dot",
    [
        '<circle cx="{x}" cy="{y}" r="0.02"/>',
        # ends where it begins, and is not closed
        '<path d="M{x} {y}l0.1 0 0 0.1-0.1-0.1"/>',
    ],
)
def test_dots_on_nodes_are_no_regions_and_keep_no_gap_open(dot: str) -> None:
    work = read_linework(netting(3, dot), name="net.svg")
    regions = build_arrangement(work)
    assert regions.face_count - 1 == 9
    (told,) = [note for note in work.notes if note.type == "dots"]
    assert "16 closed lines" in told.text
    kept = read_linework(netting(3, dot), name="net.svg", hidden="keep")
    assert len(kept.closed) == len(work.closed) + 16


def test_circles_that_a_pen_leaves_open_stay() -> None:
    # half of the pen's width is 0.2 mm
    work = read_linework(
        netting(3, '<circle cx="{x}" cy="{y}" r="0.11"/>'), name="net.svg"
    )
    assert work.closed.sum() == 16
    assert not any(note.type == "dots" for note in work.notes)


def test_a_drawing_finer_than_its_pens_is_no_drawing_of_dots() -> None:
    circles = "".join(f'<circle cx="{x}" cy="5" r="1"/>' for x in (5, 10, 15))
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" '
        f'viewBox="0 0 20 10"><g fill="none" stroke="#000" stroke-width="9">{circles}'
        "</g></svg>"
    )
    assert read_linework(svg.encode(), name="thick.svg").closed.sum() == 3


def test_a_few_small_circles_do_not_tell_how_long_lines_are() -> None:
    # of no known width: circles stay, and gaps beside them are mended all the same
    svg = netting(3, '<circle cx="{x}" cy="{y}" r="0.02"/>')
    work = read_linework(svg.replace(b'stroke-width="0.4"', b""), name="net.svg")
    wide = read_linework(svg, name="net.svg", hidden="keep")
    for lines in (work, wide):
        # nine squares of 400 mm², whose corners the circles cut
        assert (build_arrangement(lines).area > 390).sum() == 9


def test_closed_lines_without_extent_or_width_are_told_of_by_no_note() -> None:
    # a fill that is a point shows nothing and is no dot of a pen
    svg = netting(3, '<path d="M{x} {y}Z" fill="#000" stroke="none"/>')
    work = read_linework(svg, name="net.svg", scope="both")
    assert not any(note.type == "dots" for note in work.notes)
