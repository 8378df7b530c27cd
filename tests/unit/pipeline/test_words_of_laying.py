"""What is told of a laid cell, its border, its ways and of woven bands, in words."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.laying.model import Misfit
from fillwork.pipeline import laying_notes
from fillwork.pipeline.laying_notes import border_notes, cell_notes, medallion_notes
from fillwork.pipeline.laying_way import _differ, _words
from fillwork.pipeline.weaving import Weaving
from fillwork.plans.model import BandSettings, LayingSettings, Plan, ScanSettings
from fillwork.readers import read_linework

SQUARE = np.array([[5.0, 5.0], [35.0, 5.0], [35.0, 25.0], [5.0, 25.0]])


def drawing(outline: str, inner: str = "", size: str = "width='40mm' height='30mm'"):
    data = (
        f"<svg xmlns='http://www.w3.org/2000/svg' {size} viewBox='0 0 40 30' "
        f"fill='none' stroke='#000'><g id='{outline}'><path d='M5 5h30v20h-30z'/></g>"
        f"<g id='{inner}'><path d='M10 10l9 4'/></g></svg>"
    )
    return read_linework(data.encode(), name="cell.svg")


def told(drawn, *misfits, guided=False, plan=None):
    motif = SimpleNamespace(misfits=misfits)
    cell = SimpleNamespace(guided=guided, outline=SQUARE)
    return {n.type: n for n in cell_notes(drawn, plan or Plan(), motif, cell)}


def test_an_outline_that_is_taken_unasked_is_told_with_its_layer() -> None:
    note = told(drawing("cell", "motif"))["cell"]
    assert note.text == (
        "the cell is taken as the outline of the drawing, 30.0 x 20.0 mm with 4 "
        "corners, drawn on layer cell"
    )
    assert note.remedy.endswith('--cell "layer=cell"')
    # no layer of its own
    for outline, inner in (("both", "both"), ("", "motif")):
        note = told(drawing(outline, inner))["cell"]
        assert note.text.endswith("30.0 x 20.0 mm with 4 corners")
        assert note.remedy.endswith("--cell colour=#00f")
    assert told(drawing("cell"), guided=True) == {}


@pytest.mark.parametrize(
    ("plan", "size", "noted"),
    [
        (Plan(), "width='40mm' height='30mm'", False),
        (Plan(), "width='40' height='30'", True),
        (Plan(scale=5.0), "width='40' height='30'", False),
        (Plan(real_width=900.0), "width='40' height='30'", False),
        (Plan(real=(0.0, 0.0, 1.0, 0.0, 5.0)), "width='40' height='30'", False),
    ],
)
def test_a_size_that_nobody_states_is_told(plan, size, noted) -> None:
    notes = told(drawing("", size=size), guided=True, plan=plan)
    assert ("size not stated" in notes) == noted


def test_joins_that_were_closed_are_told_with_the_worst() -> None:
    small, worst = Misfit((1, 2), 0.004, True), Misfit((3, 4), 0.25, True)
    drawn = drawing("")
    note = told(drawn, small, guided=True)["joins closed"]
    assert note.text == "1 join closed where lines missed each other by up to a hair"
    note = told(drawn, small, worst, small, guided=True)["joins closed"]
    text = "3 joins closed where lines missed each other by up to 0.25 mm"
    assert (note.text, note.at, note.remedy) == (text, (3, 4), "")
    # from five thousandths of a millimetre on they have a size
    note = told(drawn, Misfit((1, 2), 0.005, True), guided=True)["joins closed"]
    assert note.text.endswith(("by up to 0.01 mm", "by up to 0.00 mm"))


@pytest.mark.parametrize(
    ("regular", "cell", "offered"),
    [(False, (), True), (True, (), False), (False, ("layer=a",), False)],
)
def test_a_cell_drawn_by_hand_can_be_made_even(regular, cell, offered) -> None:
    drawn = SimpleNamespace(trace=object())
    plan = Plan(scan=ScanSettings(regular=regular), laying=LayingSettings(cell=cell))
    join = Misfit((3, 4), 0.25, True)
    note = told(drawn, join, guided=True, plan=plan)["joins closed"]
    assert note.remedy.startswith("--regular") == offered


def test_lines_that_meet_nothing_are_told_with_what_would_do() -> None:
    drawn = drawing("")
    note = told(drawn, Misfit((1, 2), 0.0, False), guided=True)["open joins"]
    assert note.text.startswith("1 line ends at the cell's outline and meets nothing")
    assert "--misfit LENGTH" in note.remedy
    ends = [Misfit((k, 2), size, False) for k, size in enumerate((0.2, 1.31, 0.5))]
    note = told(drawn, *ends, guided=True)["open joins"]
    assert note.text.startswith("3 lines end at the cell's outline and meet nothing")
    assert note.at == (0, 2)
    # a tenth more than 1.31 mm is 1.44 mm, in tenths at least 1.5 mm
    assert "--misfit 1.5mm" in note.remedy


def border(stretch, wanted, *, apart=0, closed=0.0):
    sides = tuple(f"side {k}" for k in range(len(stretch)))
    return SimpleNamespace(
        sides=sides, stretch=stretch, wanted=wanted, apart=apart, closed=closed
    )


def test_each_side_of_a_border_tells_how_its_repeat_ends() -> None:
    # stretched as wished, cut, and even but for what nobody sees
    found = border_notes(border((0.0213, 0.0, 0.0005), (0.0213, -0.0407, 0.0005)))
    assert [(n.type, n.text) for n in found] == [
        ("stretched", "the repeat is 2.13 % longer along the side 0"),
        ("cut repeat", "the repeat does not come out even along the side 1"),
    ]
    # rounded up, that it does
    assert found[1].remedy == "let it be 4.07 % shorter: --scale-by 4.1%"
    (far,) = border_notes(border((0.0,), (0.1501,)))
    assert far.remedy.startswith("change the size of the panel")
    (near,) = border_notes(border((0.0,), (0.15,)))
    assert near.remedy.endswith("--scale-by 15%")
    assert border_notes(border((0.0,), (0.0009,))) == []


def test_a_corner_piece_tells_what_does_not_go_on() -> None:
    (note,) = border_notes(border((), (), apart=1))
    assert note.text == "1 line ends at the corner piece and does not go on"
    (note,) = border_notes(border((), (), apart=3))
    assert note.text == "3 lines end at the corner piece and do not go on"
    # where a repeat is cut its lines end anywhere
    assert [n.type for n in border_notes(border((0.0,), (0.1,), apart=3))] == [
        "cut repeat"
    ]
    (note,) = border_notes(border((), (), closed=0.034))
    assert "moved by up to 0.03 mm" in note.text
    assert border_notes(border((), (), closed=0.004)) == []


def test_a_field_that_is_scaled_and_a_medallion_aside_are_told() -> None:
    (note,) = border_notes(border((), ()), -0.0125)
    assert note.text == "the field is laid 1.25 % smaller, so that the rest is even"
    assert border_notes(border((), ()), 1e-7) == []
    assert medallion_notes(SimpleNamespace(aside=None)) == ()
    (note,) = medallion_notes(SimpleNamespace(aside=(7.0, 8.0)))
    assert (note.type, note.at) == ("medallion", (7.0, 8.0))


@pytest.mark.parametrize(
    ("borders", "corners", "words"),
    [
        (1, True, ["unlike"]),
        (3, False, ["has 3 borders", "that of 12.3 mm"]),
        (2, True, ["has 2 borders", "unlike"]),
    ],
)
def test_what_a_frame_drawn_anew_leaves_out_is_told(
    borders, corners, words, monkeypatch
) -> None:
    from fillwork.laying import left_out

    found = left_out.LeftOut(borders, 12.345, corners)
    monkeypatch.setattr(left_out, "find_left_out", lambda _: found)
    notes = laying_notes.frame_notes(SimpleNamespace(part=object()))
    text = " ".join(note.text for note in notes)
    assert len(notes) == (borders > 1) + corners
    assert all(word in text for word in words)
    assert laying_notes.frame_notes(SimpleNamespace(part=None)) == ()
    monkeypatch.setattr(left_out, "find_left_out", lambda _: None)
    assert laying_notes.frame_notes(SimpleNamespace(part=object())) == ()


def flip(degrees: float) -> tuple[float, ...]:
    """Return the reflection in a line through the origin at that angle."""
    c, s = (f(math.radians(2 * degrees)) for f in (math.cos, math.sin))
    return (c, s, s, -c, 0.0, 0.0)


def test_a_way_is_told_by_its_shifts_and_its_mirrors() -> None:
    turn = (-1.0, 0.0, 0.0, -1.0, 9.0, 9.0)
    basis = np.array([[30.0, 0.0], [-0.001, 20.125]])
    way = SimpleNamespace(basis=basis, operations=(turn,))
    assert _words(way) == "shifts 30,0 and 0,20.12"
    way.operations = (turn, flip(90), flip(0), flip(120), flip(90))
    assert (
        _words(way) == "shifts 30,0 and 0,20.12 with mirrors or glides at 0°, 90°, 120°"
    )


def test_fields_differ_by_a_line_more_or_elsewhere() -> None:
    one = np.array([[0.0, 0.0, 5.0], [10.0, 0.0, 5.0]])
    assert not _differ(one, one[::-1] + 5e-4)
    assert _differ(one, one + np.array([0.0, 0.002, 0.0]))
    assert _differ(one, one + np.array([0.0, 0.0, 0.002]))
    assert _differ(one, one[:1])
    assert not _differ(one[:0], one[:0])


WOVEN = ("p4m", "p4")


def strand(length, *, closed=False, border=False):
    return SimpleNamespace(length=length, closed=closed, border=border)


def weaving(*, width=4.0, asked=4.0, gap=0.0, room=None, piled=(), symmetry=None):
    points = np.array([[1.0, 2.0], [3.00049, 4.0], [5.0, 6.0]])
    strands = (
        strand(1500.1234, closed=True), strand(500.0), strand(900.0, border=True)
    )  # fmt: skip
    woven = SimpleNamespace(
        strands=SimpleNamespace(
            strands=strands, lines=SimpleNamespace(vertices=points)
        ),
        width=width,
        gap=gap,
        widest=room,
        crossings=SimpleNamespace(
            double=np.zeros(7), piled=np.array(piled, int), stuck=np.array([1])
        ),
    )
    drawn = SimpleNamespace(file="a.svg", digest="d")
    plain = bound = None
    if symmetry is not None:
        plain = SimpleNamespace(group=SimpleNamespace(short=symmetry[0]))
        bound = symmetry[1]
    return Weaving(woven, drawn, Plan(bands=BandSettings(width=asked)), plain, bound)


@pytest.mark.parametrize(
    ("made", "lines"),
    [
        (
            weaving(),
            [
                "strands   2, 1 of them closed; 2 m in all",
                "bands     4 mm wide",
                "crossings 7",
            ],
        ),
        (
            weaving(
                width=0.4, gap=0.05, room=1.2345, piled=[0, 2], symmetry=("p4m", "p4")
            ),
            [
                "strands   2, 1 of them closed; 2 m in all",
                "bands     0.4 mm wide on the drawing, 4 mm in truth, 0.05 mm free "
                "beside the one above, room for 1.23 mm",
                "crossings 7 and 2 of three or more",
                "symmetry  p4m of the lines, p4 of the bands",
            ],
        ),
        (
            weaving(room=np.inf, symmetry=("p4m", None)),
            [
                "strands   2, 1 of them closed; 2 m in all",
                "bands     4 mm wide",
                "crossings 7",
            ],
        ),
    ],
)
def test_woven_bands_are_told_in_a_few_lines(made, lines) -> None:
    assert made.table().splitlines() == lines


def test_woven_bands_are_reported_as_plain_values() -> None:
    report = weaving(room=1.5, piled=[1], symmetry=("p4m", "p4")).report()
    assert report == {
        "schema": 1,
        "drawing": {"file": "a.svg", "sha256": "d"},
        "band_mm": 4.0,
        "gap_mm": 0.0,
        "room_mm": 1.5,
        "strands": [
            {"strand": 1, "length_mm": 1500.123, "closed": True, "width_mm": 4.0},
            {"strand": 2, "length_mm": 500.0, "closed": False, "width_mm": 4.0},
            {"strand": 3, "length_mm": 900.0, "closed": False, "width_mm": 0.0},
        ],
        "crossings": 7,
        "piled_mm": [[3.0, 4.0]],
        "not_in_turn_mm": [[3.0, 4.0]],
        "symmetry": {"lines": "p4m", "bands": "p4"},
    }
    for room in (None, np.inf):
        bare = weaving(room=room).report()
        assert bare["room_mm"] is None
        assert bare["symmetry"] == {"lines": None, "bands": None}
