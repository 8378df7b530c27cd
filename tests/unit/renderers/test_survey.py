"""The survey picture."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely

from fillwork.arrangement.model import Defect
from fillwork.linework import LineWork
from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.picture import survey_scene
from fillwork.pipeline.reports import survey_table
from fillwork.pipeline.surveying import make_survey
from fillwork.renderers.scene import Fills, Labels, Placed, Text
from fillwork.renderers.survey.mending import mended_words, split_defects
from fillwork.renderers.survey.text import _defect_lines
from fillwork.renderers.symbols import find_elements, wedge_of
from fillwork.renderers.text.typeset import default_fonts
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.model import Operation, Symmetry


@pytest.mark.parametrize("name", ["bench-border", "fountain-medallion"])
def test_every_letter_of_its_words_has_a_shape(name: str) -> None:
    scene = survey_scene(make_survey(demo_drawing(name), name=f"{name}.svg"))
    words = [item.text for item in scene.items if isinstance(item, Text)]
    assert any("group" in text for text in words)
    assert [t for t in words if default_fonts().shape(t).missing] == []


def defect(kind: str, size: float, done: str, at=(1.0, 2.0)) -> Defect:
    return Defect(kind, at, size, done, "look there")


def test_trifles_are_one_line_and_what_was_left_comes_first() -> None:
    many = [defect("gap", 0.01 * k, "closed", (k, 0.0)) for k in range(1, 34)]
    many += [defect("doubled", 40.0, "merged")]
    worth = [
        defect("loose end", 3.0, "left"),
        defect("gap", 2.5, "closed"),
        defect("loose end", 12.0, "left"),
    ]
    shown, trifles = split_defects([*many, *worth])
    assert [(d.done, d.size) for d in shown] == [
        ("left", 12.0),
        ("left", 3.0),
        ("closed", 2.5),
    ]
    line, sorts = mended_words(trifles)
    assert line.startswith("33 small ones mended, the largest 0.33 mm at @33.0,0.0")
    assert "1 line drawn twice merged" in line
    assert sorts == "1 doubled merged, 33 gap closed"
    assert mended_words(()) == ("", "")


def rosette(order: int, mirrors: bool) -> Symmetry:
    group = parse_group(f"rosette:{'D' if mirrors else 'C'}{order}")
    turns, flips = [], []
    for k in range(order):
        c, s = np.cos(2 * np.pi * k / order), np.sin(2 * np.pi * k / order)
        kind = "rotation" if k else "identity"
        whole = order // math.gcd(k, order)
        turns.append(Operation((c, s, -s, c, 0.0, 0.0), kind, whole))
        flips.append(Operation((c, s, s, -c, 0.0, 0.0), "reflection", 2))
    operations = (*turns, *(flips if mirrors else ()))
    return Symmetry(group, centre=(0.0, 0.0), operations=operations)


@pytest.mark.parametrize(("order", "mirrors"), [(64, True), (12, False), (9, True)])
def test_above_order_eight_one_wedge_stands_for_all_mirrors(order, mirrors) -> None:
    symmetry = rosette(order, mirrors)
    wedge = wedge_of(symmetry, 5.0)
    assert wedge is not None
    a, b = wedge[0] - wedge[1], wedge[2] - wedge[1]
    assert np.hypot(*a) == pytest.approx(5.0)
    # the angle of what the group repeats: a turn over its number of operations
    angle = np.arccos(a @ b / 25.0)
    assert angle == pytest.approx(2 * np.pi / (order * (1 + mirrors)))
    window = np.array([(-9.0, -9), (9, -9), (9, 9), (-9, 9)])
    assert len(find_elements(symmetry, window).mirrors) == (2 if mirrors else 0)
    if mirrors:  # its sides are mirrors: the group carries each onto itself
        for side in (a, b):
            maps = [np.reshape(o.map[:4], (2, 2)).T for o in symmetry.operations]
            flips = [m for m in maps if np.linalg.det(m) < 0]
            assert min(np.linalg.norm(m @ side - side) for m in flips) < 1e-9


@pytest.mark.parametrize("order", [4, 8])
def test_up_to_order_eight_every_mirror_is_drawn(order: int) -> None:
    symmetry = rosette(order, True)
    assert wedge_of(symmetry, 5.0) is None
    window = np.array([(-9.0, -9), (9, -9), (9, 9), (-9, 9)])
    assert len(find_elements(symmetry, window).mirrors) == order


def test_every_zone_is_named() -> None:
    survey = make_survey(demo_drawing("framed-panel"), name="framed-panel.svg")
    scene = survey_scene(survey)
    told = [i.text for i in scene.items if isinstance(i, Text)]
    assert told[0] == "Framed panel"  # words, not the file's name
    at = told.index("Zones")
    numbers: set[int] = set()
    for line in told[at + 1 : told.index("Kinds")]:
        for part in re.match(r"[\d, -]*", line)[0].split(", "):
            first, _, last = part.strip().partition("-")
            numbers.update(range(int(first), int(last or first) + 1))
    assert numbers == {zone.index for zone in survey.orbits.zones}
    # in words the four sides of the border are one line, and a doubt is said once
    words = survey_table(survey)
    assert "zones 3, 4, 5, 6 (border): frieze:p2mm" in words
    assert words.count("not certain") == 1


def test_defects_that_differ_by_their_place_alone_are_told_as_one() -> None:
    alike = [Defect("loose end", (float(k), 2.0), 5.0, "left", "") for k in range(32)]
    lines = _defect_lines([*alike, Defect("gap", (1.0, 1.0), 9.0, "left", "")])
    assert lines[1:] == [
        "        1  gap of 9 mm at @1.0,1.0: left",
        "        2  32 × loose end of 5 mm, one at @0.0,2.0: left",
    ]
    few = _defect_lines(alike[:3])
    assert [line.strip()[:1] for line in few[1:]] == ["1", "2", "3"]
    many = _defect_lines([Defect("gap", (0.0, 0.0), k, "left", "") for k in range(40)])
    assert many[-1] == "          and 28 more (--json)"


def test_letters_stand_beside_the_centre_of_their_region() -> None:
    # the centre of turning lies in the middle of the inner square, 30 mm wide
    rings = [shapely.box(-r, -r, r, r) for r in (15, 30)]
    scene = survey_scene(make_survey(LineWork.from_geometry(rings)))
    letters = next(i for i in scene.items if isinstance(i, Labels))
    symbol = next(i for i in scene.items if isinstance(i, Fills))
    assert symbol.colour == "#000000"  # not a kind's in the list: no letter hides it
    corners = symbol.shapes.pieces.starts()
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    size = np.abs(corners - middle).max()
    assert len(letters.at) == 2
    for at, height in zip(letters.at, letters.height, strict=True):
        # a letter is about as wide as high
        assert np.abs(at - middle).max() > height / 2 + size


def test_groups_of_lines_beyond_a_dozen_are_counted() -> None:
    # fourteen squares, each of a pen of its own: twelve are listed, two are left
    squares = "".join(
        f'<rect x="{10 * k}" width="8" height="8" fill="none" stroke="#000" '
        f'stroke-width="{0.1 * (k + 1):.1f}"/>'
        for k in range(14)
    )
    svg = '<svg xmlns="http://www.w3.org/2000/svg" width="140mm" height="9mm" '
    svg += f'viewBox="0 0 140 9">{squares}</svg>'
    survey = make_survey(svg.encode(), name="pens.svg")
    assert len(survey.linework.groups) == 14
    lines = survey_table(survey).splitlines()
    assert sum(" × #000000 " in line for line in lines) == 12
    assert "          and 2 more (all with --json)" in lines


def test_one_region_is_told_as_one() -> None:
    svg = b"""<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"
    viewBox="0 0 9 9"><rect x="1" y="1" width="7" height="7" fill="none"
    stroke="#000" stroke-width="0.2"/></svg>"""
    scene = survey_scene(make_survey(svg, name="tile.svg"))
    (alt,) = (item.alt for item in scene.items if isinstance(item, Placed))
    assert alt == "Tile: 1 region of 1 kind, 0 defects"
