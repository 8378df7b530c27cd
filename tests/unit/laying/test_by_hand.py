"""Cells whose corners a hand set: each off on its own, and all their copies alike.

The cells are invented. What an exact cell gives is known from its construction: the
group from how its lines lie, the regions of a repeat from counting those of the cell.
"""

from __future__ import annotations

import io
import itertools
import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter

from fillwork.errors import LineWorkError
from fillwork.laying.cell import default_slack, find_cell, find_outline
from fillwork.pipeline.laying import lay_drawing
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import Plan
from fillwork.plans.settings import LayingSettings
from fillwork.readers import read_linework

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    Place = tuple[float, float]

Line = list[tuple[float, float]]
SQUARE: Line = [(5, 5), (45, 5), (45, 45), (5, 45), (5, 5)]
WHEEL: list[Line] = [
    SQUARE,
    [(5, 5), (25, 17)], [(45, 5), (33, 25)], [(45, 45), (25, 33)], [(5, 45), (17, 25)],
    [(25, 17), (33, 25)], [(33, 25), (25, 33)], [(25, 33), (17, 25)],
    [(17, 25), (25, 17)], [(25, 5), (25, 17)], [(45, 25), (33, 25)],
    [(25, 45), (25, 33)], [(5, 25), (17, 25)],
]  # fmt: skip
EIGHTH: list[Line] = [
    [(5, 5), (45, 5), (45, 45), (5, 5)],
    [(18, 5), (45, 22)],
    [(30, 5), (45, 16.2)],
    [(45, 16.2), (38, 38)],
    [(25, 25), (45, 30)],
]


def spokes(radius: float) -> Line:
    turns = [math.pi / 3 * k for k in range(7)]
    return [(35 + radius * math.cos(t), 35 + radius * math.sin(t)) for t in turns]


HEXAGON: list[Line] = [spokes(25), spokes(12)]
HEXAGON += [list(pair) for pair in zip(spokes(25)[:6], spokes(12)[:6], strict=True)]


def drawn(lines: list[Line], off: float, seed: int, path: Path) -> Path:
    """Write lines, every corner moved by `off` mm or so on its own."""
    rng = np.random.default_rng(seed)
    corners = {p: np.array(p) + rng.normal(0, off, 2) for line in lines for p in line}
    body = "".join(
        '<path d="M' + "L".join(f"{x:.3f},{y:.3f} " for x, y in map(corners.get, line))
        + '"/>' for line in lines
    )  # fmt: skip
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="70mm" height="70mm" '
        'viewBox="0 0 70 70" fill="none" stroke="#222" stroke-width="0.4">'
        f"{body}</svg>"
    )
    return path


def laid(path: Path, by: str) -> tuple[str, bool, int]:
    plan = Plan(laying=LayingSettings(over=(260.0, 190.0), by=by))
    found = make_survey(lay_drawing(path, plan).linework)
    group = found.zones[0].symmetry
    return group.group.short, group.certain, len(found.orbits.orbits)


@pytest.mark.parametrize(
    ("lines", "by", "group", "kinds"),
    [
        # a wheel of four arms turns, and its mirrored copies stand beside it
        (WHEEL, "shifts", "p4", 3),
        (WHEEL, "mirrors", "p4g", 3),
        # every line ends on a side: the triangle stays one of three corners
        (EIGHTH, "mirrors", "p4m", 7),
        # a hexagon with a smaller one in it and six spokes
        (HEXAGON, "shifts", "p6m", 2),
    ],
)
@pytest.mark.parametrize("off", [0.0, 0.1])
def test_the_group_is_what_was_meant(
    lines: list[Line], by: str, group: str, kinds: int, off: float, tmp_path: Path
) -> None:
    assert laid(drawn(lines, off, 1, tmp_path / "cell.svg"), by) == (group, True, kinds)


def test_what_was_drawn_upright_lies_upright(tmp_path: Path) -> None:
    # rows that stand half a brick apart repeat along diagonals as well
    brick: list[Line] = [[(5, 5), (45, 5), (45, 25), (5, 25), (5, 5)]]
    brick += [[(5, 5), (25, 25), (45, 5)], [(25, 5), (25, 25)], [(35, 15), (45, 25)]]
    path = drawn(brick, 0.1, 3, tmp_path / "brick.svg")
    plan = Plan(laying=LayingSettings(over=(240.0, 160.0), by="brick 1/2"))
    turn = lay_drawing(path, plan).placing.map
    assert abs(math.degrees(math.atan2(turn[1], turn[0]))) < 2


@pytest.mark.parametrize("off", [0.0, 0.1])
def test_a_border_of_chevrons_runs_along_its_rails(off: float, tmp_path: Path) -> None:
    # rails and three chevrons, the ends of the repeat not drawn: all chevrons match
    # but those at the corners and in the middle of a side, where their way turns
    strip: list[Line] = [[(5, 5), (35, 5)], [(5, 21), (35, 21)]]
    strip += [[(x, 5), (x + 8, 13), (x, 21)] for x in (5, 15, 25)]
    path = drawn(strip, off, 4, tmp_path / "strip.svg")
    plan = Plan(laying=LayingSettings(over=(300.0, 200.0), by="border", give=0.08))
    found = make_survey(lay_drawing(path, plan).linework)
    friezes = [z for z in found.zones if z.symmetry.group.family == "frieze"]
    assert len(friezes) == 8
    # a chevron has a mirror along the strip, and none across
    assert {z.symmetry.group.short for z in friezes} == {"p11m"}
    assert len({k for z in friezes for k in found.orbits.of_face[z.faces]}) <= 4


def test_lozenges_between_rails_are_no_cell(tmp_path: Path) -> None:
    # the lozenge is closed and convex, the repeat that holds it wider
    strip: list[Line] = [[(5, 5), (35, 5)], [(5, 21), (35, 21)]]
    strip += [[(5, 13), (20, 5), (35, 13), (20, 21), (5, 13)]]
    linework = read_linework(drawn(strip, 0.0, 1, tmp_path / "strip.svg"))
    corners = find_cell(linework, None, slack=0.5, strip=True).outline
    assert np.ptp(corners, axis=0) == pytest.approx([30, 16])


@pytest.mark.parametrize("height", [0.0, 0.001])
@pytest.mark.parametrize("by", ["mirrors", "shifts", "border", "turns 6"])
def test_a_line_is_no_cell(height: float, by: str, tmp_path: Path) -> None:
    flat: Line = [(5, 5), (45, 5), (45, 5 + height), (5, 5 + height), (5, 5)]
    path = drawn([flat if height else flat[:2]], 0.0, 1, tmp_path / "line.svg")
    plan = Plan(laying=LayingSettings(over=(200.0, 150.0), by=by))
    with pytest.raises(LineWorkError, match="narrow as a line"):
        lay_drawing(path, plan)


@pytest.mark.parametrize(
    ("rim", "lines", "named"), [("rim", "stars", True), ("all", "all", False)]
)
def test_a_rim_taken_for_the_cell_is_named_by_its_layer(
    tmp_path: Path, rim: str, lines: str, named: bool
) -> None:
    layer = (
        '<g inkscape:groupmode="layer" inkscape:label="{}" fill="none" stroke="#000">'
        '<path d="{}"/></g>'
    )
    body = layer.format(rim, "M0 0H40V40H0Z")
    body += layer.format(lines, "M0 20L20 0L40 20L20 40Z")
    path = tmp_path / "cell.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" '
        'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        f'viewBox="0 0 40 40" stroke-width="0.2">{body}</svg>'
    )
    plan = Plan(laying=LayingSettings(over=(200.0, 120.0)))
    (told,) = [n for n in lay_drawing(path, plan).notes if n.type == "cell"]
    assert told.remedy.endswith('--cell "layer=rim"') == named
    assert told.text.endswith("drawn on layer rim") == named


def test_guides_that_stop_short_of_their_corners_bound_the_cell(tmp_path: Path) -> None:
    # a square of 40 mm: sides 2 mm short or past their ends, one in two pieces where
    # the ink lies over it, with a cross of construction through it
    guide = read_linework(
        drawn(
            [
                [(7, 5), (24, 5)], [(26, 5), (44, 5)], [(45, 7), (45, 43)],
                [(47, 45), (6, 45)], [(5, 46), (5, 8)],
                [(24, 1), (24, 69)], [(1, 23), (69, 23)],
            ], 0.0, 1, tmp_path / "guide.svg",
        )
    )  # fmt: skip
    turned: Line = [(5, 25), (25, 5), (45, 25), (25, 45), (5, 25)]
    inside = read_linework(drawn([turned], 0.0, 1, tmp_path / "ink.svg"))
    outline = find_outline(guide, slack=0.4, within=inside)
    assert np.ptp(outline, axis=0) == pytest.approx([40, 40], abs=0.05)
    assert len(outline) == 4
    short: list[Line] = [[(7, 5), (44, 5)], [(45, 30), (45, 43)]]
    with pytest.raises(LineWorkError, match="close nothing"):
        find_outline(read_linework(drawn(short, 0.0, 1, tmp_path / "x.svg")), slack=0.4)


def photographed_cell(
    colour: tuple[int, int, int], width: int, lines: Iterable[Iterable[Place]]
) -> bytes:
    """Return a picture of black lines in a square of 40 mm, at 10 px a mm.

    `colour` and `width`: of the square's sides, which go past its corners or stop short
    of them; px.
    """
    image = Image.new("RGB", (600, 600), (246, 246, 242))
    pen = ImageDraw.Draw(image)
    for side in (
        [(85, 100), (520, 100)], [(500, 85), (500, 480)],
        [(485, 500), (80, 500)], [(100, 520), (100, 115)],
    ):  # fmt: skip
        pen.line(side, fill=colour, width=width)
    for line in lines:
        pen.line(list(line), fill=(25, 25, 28), width=5)
    out = io.BytesIO()
    image.filter(ImageFilter.GaussianBlur(0.7)).save(out, "PNG", dpi=(254, 254))
    return out.getvalue()


@pytest.mark.parametrize(
    ("colour", "cell"),
    [((190, 40, 40), "colour=#c02020"), ((150, 150, 155), "layer=pencil")],
)
def test_a_picture_names_the_guide_of_its_cell(
    colour: tuple[int, int, int], cell: str
) -> None:
    # 254 dpi: 10 px a mm; a square of 40 mm in which a turned one stands
    tips = [(100, 300), (300, 100), (500, 300), (300, 500), (100, 300)]
    data = photographed_cell(colour, 5, list(itertools.pairwise(tips)))
    laying = LayingSettings(over=(120.0, 80.0), cell=(cell,), by="shifts")
    laid = lay_drawing(data, Plan(laying=laying), name="cell.png")
    assert np.ptp(laid.motif.outline, axis=0) == pytest.approx([40, 40], abs=0.2)


def test_ends_at_the_outline_of_a_photographed_cell_are_not_in_doubt() -> None:
    # 254 dpi: a square of 40 mm in pencil, three lines right through it that go on in
    # the next cell, and one that stops alone in its middle
    lines: list[Line] = [
        [(100, 200), (500, 200)], [(100, 420), (500, 420)],
        [(210, 100), (210, 500)], [(210, 310), (350, 310)],
    ]  # fmt: skip
    data = photographed_cell((150, 150, 155), 4, lines)
    laying = LayingSettings(over=(120.0, 80.0), cell=("layer=pencil",), by="shifts")
    laid = lay_drawing(data, Plan(laying=laying), name="cell.png")
    assert laid.open_joins == ()
    assert laid.linework.trace is not None
    doubts = [d.at for d in laid.linework.trace.doubtful]
    assert len(doubts) == 1
    assert doubts[0] == pytest.approx((35, 29), abs=0.5)
    told = [n for n in laid.linework.notes if n.type == "tracing in doubt"]
    assert [n.text[:16] for n in told] == ["1 place in doubt"]
    assert not any(n.type == "size not stated" for n in laid.linework.notes)


def test_a_cell_drawn_past_its_outline_leaves_no_scraps(tmp_path: Path) -> None:
    # a square of 40 mm; on each side two lines cross and go on, 0.2 mm inside it on
    # one side and beyond it on the other, in pieces from crossing to crossing
    body = '<path stroke="#c02020" d="M15 15H55V55H15Z"/>'
    for at, way in (((54.8, 35.1), (1, 0)), ((15.0, 35.0), (-1, 0)),
                    ((35.1, 54.8), (0, 1)), ((35.0, 15.0), (0, -1))):  # fmt: skip
        (x, y), (u, v) = at, way
        for turn in (-1, 1):
            a, b = u - turn * v, v + turn * u
            body += f'<path d="M{35 + 10 * (u or a)} {35 + 10 * (v or b)}L{x} {y}"/>'
            body += f'<path d="M{x} {y}l{4 * a} {4 * b}"/>'
    path = tmp_path / "cell.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="70mm" height="70mm" '
        'viewBox="0 0 70 70" fill="none" stroke="#222" stroke-width="0.4">'
        f"{body}</svg>"
    )
    settings = LayingSettings(over=(200.0, 120.0), cell=("colour=#c02020",))
    laid = lay_drawing(path, Plan(laying=settings))
    assert len(laid.motif.curves) == 8
    assert laid.motif.curves.lengths().min() > 10.0


def test_lines_of_a_hand_may_miss_each_other_by_two_widths_of_the_pen(
    tmp_path: Path,
) -> None:
    # 254 dpi: 10 px a mm; six level lines of 40 mm on two uprights, each short of the
    # right one by 0.6 mm, which is bridged
    image = Image.new("RGB", (600, 600), (246, 246, 242))
    pen = ImageDraw.Draw(image)
    for x in (100, 500):
        pen.line([(x, 60), (x, 560)], fill=(25, 25, 28), width=5)
    for y in range(100, 501, 80):
        pen.line([(100, y), (488, y)], fill=(25, 25, 28), width=5)
    out = io.BytesIO()
    image.filter(ImageFilter.GaussianBlur(0.7)).save(out, "PNG", dpi=(254, 254))
    traced = read_linework(out.getvalue(), name="lines.png")
    assert sum(g.count for g in traced.groups if g.layer == "doubtful") == 6
    assert default_slack(traced) == pytest.approx(1.0, abs=0.1)
    exact = read_linework(drawn(WHEEL, 0.0, 1, tmp_path / "wheel.svg"))
    assert default_slack(exact) == 0.5


def test_thousands_of_lines_that_close_nothing_are_no_guide(tmp_path: Path) -> None:
    # short strokes beside each other, of which every end would be tried with every one
    strokes: list[Line] = [
        [(x / 100, y), (x / 100, y + 0.3)] for x in range(500, 6500) for y in (5, 25)
    ]
    guide = read_linework(drawn(strokes, 0.0, 1, tmp_path / "guide.svg"))
    inside = read_linework(drawn([SQUARE], 0.0, 1, tmp_path / "ink.svg"))
    with pytest.raises(LineWorkError, match="close nothing"):
        find_outline(guide, slack=0.05, within=inside)
