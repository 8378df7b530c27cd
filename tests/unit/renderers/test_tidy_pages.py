"""Words of schedules, leaf and contact sheets: on their page, and none on another."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely

from fillwork.colouring.model import Rules
from fillwork.colouring.palettes.file import list_palettes
from fillwork.plans.model import PaintSettings
from fillwork.renderers.scene import Placed, Text
from fillwork.renderers.sheets.leaf_page import compose_leaf
from fillwork.renderers.sheets.schedule_page import compose_schedule
from fillwork.renderers.text.typeset import default_fonts
from tests.unit.plans.test_schedule import made
from tests.unit.renderers.test_contact import cells, compose_contact

FONTS = default_fonts()


def room_of(text: Text) -> shapely.Geometry:
    """Return the box of a line of words, as high as small letters."""
    wide = FONTS.width(text.text, text.size, text.weight)
    left = text.at[0] - {"left": 0.0, "centre": wide / 2, "right": wide}[text.align]
    return shapely.box(left, text.at[1], left + wide, text.at[1] + 0.18 * text.size)


def check(page) -> None:
    words = [i for i in page.items if isinstance(i, Text) and i.text.strip()]
    rooms = np.array([room_of(text) for text in words])
    paper = shapely.box(5, 4, page.width - 5, page.height - 5)
    for text, room in zip(words, rooms, strict=True):
        assert paper.covers(room), (page.name, text.text)
    tree = shapely.STRtree(rooms)
    one, other = tree.query(rooms, predicate="intersects")
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        if a < b:
            over = rooms[a].intersection(rooms[b]).area
            assert over < 0.05, (page.name, words[a].text, words[b].text)
    shown = [
        shapely.box(*i.clip) for i in page.items if isinstance(i, Placed) and i.clip
    ]
    for a, b in itertools.combinations(shown, 2):
        assert a.intersection(b).area < 1e-6


@pytest.mark.parametrize("name", list_palettes()[:3])
@pytest.mark.parametrize("paper", ["A4", "A3-landscape"])
def test_schedules_are_tidy(name, paper) -> None:
    settings = PaintSettings(tape=True, pace=(0.5, 8.0))
    rules = Rules(outline="#1d1a17")
    for scale in (1.0, 200.0):
        schedule, palette, _ = made(
            name, range(4), settings, rules, real_scale=scale, scale_known=scale > 1
        )
        pages = compose_schedule(schedule, palette, title="The hall", paper=paper)
        assert pages
        for page in pages:
            check(page)


@pytest.mark.parametrize("scale", [2.0, 20.0, 55.0])
def test_pages_of_leaf_are_tidy(scale) -> None:
    schedule, palette, orbits = made(
        "gilded-ceiling", (0, 2, 5, 2), real_scale=scale, scale_known=True
    )
    for page in compose_leaf(schedule, palette, orbits, title="Board"):
        check(page)


@pytest.mark.parametrize("count", [1, 4, 13])
def test_contact_sheets_are_tidy(count) -> None:
    words = "Two of them change places where the pattern is turned by a quarter."
    for page in compose_contact(cells(count, words=words), title="Panel"):
        check(page)
