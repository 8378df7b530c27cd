"""Where things stand in the survey picture: nothing on another, each at its place."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.model import Defect
from fillwork.renderers.scene import Fills, Labels, Placed, Strokes, Text
from fillwork.renderers.survey.picture import compose_survey
from fillwork.renderers.text.typeset import default_fonts
from fillwork.renderers.tints import kind_tints
from tests.unit.plans.boards import board, orbits_of
from tests.unit.renderers.patterns import outlines_of

FONTS = default_fonts()


def survey(columns=6, rows=4, kinds=4, defects=(), found=(), **options):
    squares = replace(board(columns, rows), defects=tuple(defects))
    of = [k % kinds for k in range(columns * rows)]
    orbits = replace(orbits_of(squares, of, **options), defects=tuple(found))
    return compose_survey(squares, outlines_of(squares), orbits, title="Board"), orbits


def texts(scene) -> list[Text]:
    return [i for i in scene.items if isinstance(i, Text)]


def room_of(text: Text):
    """Return the box of a line of words, capitals high."""
    wide = FONTS.width(text.text, text.size, text.weight)
    left = text.at[0] - {"left": 0.0, "centre": wide / 2, "right": wide}[text.align]
    return shapely.box(left, text.at[1], left + wide, text.at[1] + 0.25 * text.size)


def drawn(scene) -> tuple[Placed, np.ndarray]:
    """Return the drawing and its box on paper."""
    placed = next(i for i in scene.items if isinstance(i, Placed))
    a, _, _, d, e, f = placed.map
    assert a == d
    box = np.reshape(placed.picture.box, (2, 2)) * a + (e, f)
    return placed, box.ravel()


def gap(k: int, size: float, done: str = "left") -> Defect:
    return Defect("gap", (5.0 * k + 1.0, 7.0), size, done, "")


@pytest.mark.parametrize(
    ("columns", "rows", "page", "below"),
    [(6, 4, (297, 210), False), (4, 6, (210, 297), False), (40, 2, (297, 210), True)],
)
@pytest.mark.parametrize("kinds", [2, 80])
@pytest.mark.parametrize("faults", [0, 60])
def test_lists_stand_beside_the_drawing_or_below_it(
    columns, rows, page, below, kinds, faults
) -> None:
    if kinds > columns * rows:
        kinds = columns * rows
    defects = [gap(k % 5, 2.0 + k) for k in range(faults)]
    scene, orbits = survey(columns, rows, kinds, defects)
    assert (scene.width, scene.height) == page
    _, box = drawn(scene)
    assert box[0] >= 10.0 - 1e-9
    assert box[2] <= scene.width - 10.0 + 1e-9
    assert box[1] >= 10.0 - 1e-9
    # it fills its room one way
    wide = scene.width - 20.0 - (0.0 if below else 64.0 + 8.0)
    high = scene.height - 20.0 - 18.0 - (62.0 if below else 0.0)
    share = ((box[2] - box[0]) / wide, (box[3] - box[1]) / high)
    assert max(share) == pytest.approx(1.0)
    words = texts(scene)
    for one, other in itertools.combinations(words, 2):
        assert not room_of(one).buffer(-0.2).intersects(room_of(other).buffer(-0.2)), (
            one.text,
            other.text,
        )
    paper = shapely.box(10, 5, scene.width - 10 + 0.1, scene.height - 5)
    shown = shapely.box(*box)
    for text in words:
        assert paper.covers(room_of(text)), text.text
        assert not shown.buffer(-0.5).intersects(room_of(text)), text.text
    # each kind that is listed has its tint, its letter and how many there are
    listed = [t for t in words if t.role == "TD" and t.align == "left"]
    counts = [t for t in words if t.role == "TD" and t.align == "right"]
    tints = kind_tints(range(len(orbits.orbits)))
    squares = {
        i.colour: i.shapes.pieces.starts() for i in scene.items if isinstance(i, Fills)
    }
    for row, (name, count) in enumerate(zip(listed, counts, strict=True)):
        orbit = orbits.orbits[row]
        assert name.text == f"{orbit.letter}  {orbit.name}"
        assert (count.text, count.at[1]) == (str(len(orbit.faces)), name.at[1])
        at = squares[tints[row]]
        assert at.min(axis=0) == pytest.approx((name.at[0] - 6, name.at[1] - 0.9))
        assert at.max(axis=0) == pytest.approx((name.at[0] - 2, name.at[1] + 2.7))
        assert count.at[0] == pytest.approx(name.at[0] + 58)
    steps = -np.diff([t.at[1] for t in listed])
    assert steps == pytest.approx(np.full(len(steps), 4.4))
    rest = len(orbits.orbits) - len(listed)
    told = [t.text for t in words]
    assert (f"and {rest} more" in told) == (rest > 0)
    assert ("No defects found" in told) == (faults == 0)


def test_defects_are_ringed_where_they_are_and_numbered() -> None:
    defects = [gap(0, 2.0), gap(3, 9.0), gap(6, 5.0)]
    small = [gap(9, 0.5, "closed"), gap(10, 0.25, "closed")]
    scene, _ = survey(defects=(*defects, *small), found=(gap(4, 7.0),))
    placed, _ = drawn(scene)
    scale, e, f = placed.map[0], *placed.map[4:]
    # the largest first
    order = np.array([(16.0, 7.0), (21.0, 7.0), (31.0, 7.0), (1.0, 7.0)])
    where = order * scale + (e, f)
    red = [i for i in scene.items if getattr(i, "colour", "") == "#c8102e"]
    (numbers,) = (i for i in red if isinstance(i, Labels))
    assert [numbers.texts[k] for k in numbers.text] == ["1", "2", "3", "4"]
    assert numbers.at == pytest.approx(where + 3.0)
    (rings,) = (i for i in red if isinstance(i, Strokes))
    for start, stop, at in zip(rings.start, rings.start[1:], where, strict=False):
        part = rings.curves.take(np.arange(start, stop))
        ends = part.starts()
        assert np.hypot(*(ends - at).T) == pytest.approx(np.full(len(ends), 2.6))
    assert len(rings.start) == 5
    # trifles are dots, in the drawing and before the line that tells them
    spots = [i for i in red if isinstance(i, Fills)]
    # arcs of circles, by their middles
    middles = np.unique(
        np.vstack([i.shapes.pieces.data[:, :2] for i in spots]).round(6), axis=0
    )
    for x in (46.0, 51.0):
        at = np.array([x, 7.0]) * scale + (e, f)
        assert np.hypot(*(middles - at).T).min() < 1e-3
    assert len(middles) == 3
    told = [t.text for t in texts(scene)]
    assert any(t.startswith("2 small ones mended") for t in told)


def test_a_drawing_without_regions_is_told_by_its_loose_lines() -> None:
    from fillwork.geometry.curves import Curves

    squares, orbits = board(2, 1), orbits_of(board(2, 1), [0, 1])
    loose = Curves.from_segments(np.array([[-10.0, -5.0, 40.0, -5.0]]))
    drawing = replace(squares, loose=loose)
    scene = compose_survey(drawing, outlines_of(squares), orbits, title="Board")
    placed, _ = drawn(scene)
    # all of the squares of 10 mm and of the line below them
    assert placed.picture.box == pytest.approx((-10, -5, 40, 10))
    lines = [i for i in placed.picture.items if isinstance(i, Strokes)]
    assert [i.colour for i in lines][-1] == "#c8102e"
    # 0.35 mm on paper
    assert lines[-1].width * placed.map[0] == pytest.approx(0.35)
    assert lines[0].width * placed.map[0] == pytest.approx(0.15)
