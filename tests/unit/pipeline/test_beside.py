"""What is said of pieces that stand beside the drawing."""

from __future__ import annotations

import numpy as np
import pytest

import fillwork
from fillwork.pipeline.beside import _beside
from fillwork.plans.model import Plan

_PAGE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="120mm" '
    'viewBox="0 0 160 120" fill="none" stroke="black" stroke-width="0.4">{}</svg>'
)
_FINAL = '<g id="final"><path d="M20 20H100V80H20Z M60 20V80 M20 50H100"/></g>'


def _told(inner: str, plan: Plan | None = None) -> list[fillwork.Note]:
    drawing = _PAGE.format(inner).encode()
    notes = fillwork.make_survey(drawing, plan or Plan(), name="a.svg").notes
    return [n for n in notes if n.type == "beside the drawing"]


def _mark(x: float, y: float) -> str:
    cross = f'<path d="M{x - 5} {y}H{x + 5}M{x} {y - 5}V{y + 5}"/>'
    return f'<circle cx="{x}" cy="{y}" r="3"/>{cross}'


@pytest.mark.parametrize(
    ("left_in", "regions"),
    [
        (_mark(8, 8) + _mark(150, 112), 8),  # registration marks
        ('<path d="M110 90H150V110H110ZM110 100H150M130 90V110"/>', 4),  # title block
        ('<path d="M20 100H70V103H20ZM30 100V103M50 100V103"/>', 3),  # scale
    ],
)
@pytest.mark.parametrize("border", ["", '<path d="M1 1H159V119H1Z"/>'])
def test_what_stands_beside_the_drawing_is_told(
    left_in: str, regions: int, border: str
) -> None:
    told = _told(f'{border}{_FINAL}<g id="sheet">{left_in}</g>')
    assert len(told) == 1
    assert f"{regions} regions beside" in told[0].text
    assert told[0].remedy == '--leave "layer=sheet" leaves them out'
    assert not _told(_FINAL + left_in, Plan(leave=("layer=final",)))


def test_pieces_of_one_design_stand_beside_nothing() -> None:
    # a figure in each quarter, a figure within a figure, a border round all
    four = "".join(
        f'<path d="M{x} {y}h40v30h-40zm20 0v30m-20 -15h40"/>'
        for x in (20, 80)
        for y in (20, 60)
    )
    assert not _told(four)
    inside = '<circle cx="40" cy="35" r="8"/><path d="M30 60h10v10h-10z"/>'
    assert not _told(_FINAL + inside)
    assert not _told(_FINAL + '<path d="M10 10H150V110H10Z"/>')


def _sides(*boxes: tuple[float, float, float, float, int]) -> list[bool]:
    """Say which pieces stand beside: each a box and how many regions it has."""
    table = np.array(boxes)
    low, high, faces = table[:, :2], table[:, 2:4], table[:, 4].astype(int)
    area = (high - low).prod(axis=1) * (faces > 0)
    return _beside(faces, area, low, high, np.full(len(boxes), -1)).tolist()


MAIN, FRAME = (20, 20, 80, 60, 6), (0, 0, 100, 80, 1)


@pytest.mark.parametrize(
    ("others", "told"),
    [
        # a mark below: alone with the drawing, and in a frame with it
        ([(40, 5, 45, 10, 2)], [True]),
        ([FRAME, (40, 5, 45, 10, 2)], [False, True]),
        # two frames, one in the other; what lies in the drawing's box is of it
        ([FRAME, (5, 2, 95, 78, 2), (40, 5, 45, 10, 2)], [False, False, True]),
        ([(40, 30, 45, 35, 2), (40, 5, 45, 10, 2)], [False, True]),
        # what does not reach round everything is no frame, nor is what has many
        # regions: being the largest, it is the drawing
        ([(0, 12, 100, 80, 1), (40, 5, 45, 10, 2)], [False, False]),
        ([(0, 0, 100, 70, 1), (40, 75, 45, 80, 2)], [False, False]),
        ([(0, 0, 90, 80, 1), (95, 5, 99, 10, 2)], [False, False]),
        ([(0, 12, 100, 80, 3), (40, 5, 45, 10, 2)], [False, True]),
        ([(0, 0, 100, 80, 9), (40, 5, 45, 10, 2)], [False, False]),
        # lines without regions are told nowhere; nor is what touches the drawing's box
        ([(40, 5, 45, 10, 0)], [False]),
        ([(40, 5, 45, 20, 2)], [False]),
        # more than a quarter of the drawing's area is a part of the design
        ([(20, 1, 80, 11, 2)], [True]),
        ([(20, 0, 80, 11, 2)], [False]),
        # nine figures on sides that face each other are a border, eight are marks
        (
            [(10 * k, y, 10 * k + 2, y + 2, 1) for k in range(3, 7) for y in (5, 65)],
            [True] * 8,
        ),
        (
            [(10 * k, y, 10 * k + 2, y + 2, 1) for k in range(2, 7) for y in (5, 65)],
            [False] * 10,
        ),
        # at the corners they are on no side
        (
            [(x + k, y, x + k + 2, y + 2, 1) for k in (0, 4, 8) for x in (2, 84)
             for y in (5, 65)],
            [True] * 12,
        ),
    ],
)  # fmt: skip
def test_pieces_stand_beside_what_holds_nearly_all(others, told) -> None:
    assert _sides(MAIN, *others) == [False, *told]


def test_a_drawing_of_two_regions_has_nothing_beside_it() -> None:
    few, mark = (20, 20, 80, 60, 2), (40, 5, 45, 10, 2)
    assert _sides(few, mark) == [False, False]


def test_loose_figures_of_a_border_are_no_marks() -> None:
    def dots(places: list[tuple[int, int]]) -> str:
        return "".join(f'<circle cx="{x}" cy="{y}" r="3"/>' for x, y in places)

    frame = '<path d="M1 1H159V119H1Z"/>'
    below, above = ([(x, y) for x in range(15, 150, 10)] for y in (112, 8))
    beside = [(x, y) for x in (8, 152) for y in range(20, 110, 10)]
    assert not _told(frame + _FINAL + dots(below + above + beside))
    assert not _told(frame + _FINAL + dots(below + above))
    # on one side alone they may be letters of a title
    assert len(_told(frame + _FINAL + dots(below))) == 1
    # marks at all four corners
    corners = [(8, 8), (8, 112), (152, 8), (152, 112)]
    marks = "".join(_mark(x, y) for x, y in corners)
    assert len(_told(frame + _FINAL + marks)) == 1


SQUARE, FIGURE = (85, 5, 95, 15, 1), (88, 8, 92, 12, 2)


@pytest.mark.parametrize(
    ("regions", "others", "holder", "told"),
    [
        # a figure in a corner square of a border of many regions
        (9, [SQUARE], (-1, 0, 0), [False]),
        # and one in a loose square there
        (9, [SQUARE, FIGURE], (-1, 0, 0, 2), [False, False]),
        # a frame round everything is no border: what lies in it stands beside, and so
        # does a figure in that
        (1, [SQUARE, FIGURE], (-1, 0, 0, 2), [True, True]),
        # what lies outside the border does too
        (9, [(110, 5, 120, 15, 2), (112, 8, 116, 12, 2)], (-1, 0, -1, 2), [True, True]),
    ],
)
def test_what_lies_in_a_border_is_a_part_of_it(regions, others, holder, told) -> None:
    # of the border's box the drawing takes the most
    table = np.array([(0, 0, 100, 80, regions), (20, 20, 80, 60, 6), *others])
    area = (table[:, 2:4] - table[:, :2]).prod(axis=1).astype(float)
    area[0] = 2000.0
    faces, low, high = table[:, 4], table[:, :2].astype(float), table[:, 2:4] * 1.0
    found = _beside(faces, area, low, high, np.array(holder)).tolist()
    assert found == [False, False, *told]


def test_figures_in_the_corner_squares_of_a_border_are_no_marks() -> None:
    corners = [(x, y) for x in (5, 145) for y in (5, 105)]
    squares = "".join(f'<path d="M{x} {y}h10v10h-10z"/>' for x, y in corners)
    rings = "".join(f'<circle cx="{x + 5}" cy="{y + 5}" r="3"/>' for x, y in corners)
    frame = '<path d="M5 5H155V115H5ZM15 15H145V105H15ZM5 60H15M145 60H155"/>'
    field = '<path d="M18 18H142V102H18ZM60 18V102M18 50H142"/>'
    assert not _told(frame + squares + rings + field)
    assert len(_told(squares + rings + field)) == 1
