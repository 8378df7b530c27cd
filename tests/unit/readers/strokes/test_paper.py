"""A white sheet drawn before all else, smaller than its page: no line bounds it."""

from __future__ import annotations

import pytest

from fillwork import read_linework


def on_paper(paper: str, line: str = "M20 20H60V50H20Z") -> bytes:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" '
        f'viewBox="0 0 100 80">{paper}<path d="{line}" fill="none" stroke="#000" '
        'stroke-width="0.5"/></svg>'
    ).encode()


SHEET = '<path d="M10 10H70V60H10Z" fill="#fff"/>'


@pytest.mark.parametrize(
    ("paper", "line", "strokes"),
    [
        (SHEET, "M20 20H60V50H20Z", 1),
        # two, as of a figure and what it shows
        (SHEET + '<path d="M12 12H68V58H12Z" fill="#fff"/>', "M20 20H60V50H20Z", 1),
        # a shape that lines run to bounds what they close with it, as does one in
        # another colour, with a line of its own, or of another form
        (SHEET, "M20 20H70", 2),
        (SHEET.replace("#fff", "#eee"), "M20 20H60V50H20Z", 2),
        (SHEET.replace("/>", ' stroke="#000"/>'), "M20 20H60V50H20Z", 2),
        (SHEET.replace("V60H10", "L60 60H10"), "M20 20H60V50H20Z", 2),
    ],
)
def test_a_white_sheet_that_all_else_was_drawn_on_is_paper(
    paper: str, line: str, strokes: int
) -> None:
    work = read_linework(on_paper(paper, line), name="sheet.svg")
    assert len(work.closed) == strokes
    assert any(note.type == "paper" for note in work.notes) is (strokes == 1)
    kept = read_linework(on_paper(paper, line), name="sheet.svg", scope="both")
    assert len(kept.closed) == 1 + paper.count("<path")


def test_white_cells_drawn_side_by_side_are_no_paper() -> None:
    cells = SHEET + '<path d="M30 60H70V70H30Z" fill="#fff"/>'
    work = read_linework(on_paper(cells), name="cells.svg")
    assert len(work.closed) == 3
