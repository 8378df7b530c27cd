import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwork.colouring.palettes.file import MEDIA, parse_palette
from fillwork.errors import PlanError
from fillwork.plans.areas import Areas
from fillwork.plans.media import MEDIA_FACTS, liquid
from fillwork.plans.model import PaintSettings
from fillwork.plans.packages import pick_containers
from fillwork.plans.quantities import (
    COMMON,
    check_settings,
    coverage_of,
    find_quantities,
)

MIXED = parse_palette(
    b"""
[[paint]]
name = "wall"
colour = "#eeeeee"
medium = "emulsion"
coverage = 10.0
[[paint]]
name = "gold"
colour = "#d4a73c"
medium = "leaf"
[[paint]]
name = "pencil"
colour = "#2f2722"
medium = "pencil"
[[paint]]
name = "unknown"
colour = "#2d4f80"
[[paint]]
name = "unused"
colour = "#a9502f"
medium = "oil"
[[paint]]
name = "paper"
colour = "#fbf9f2"
medium = "bare"
""",
    "mixed.toml",
)


def areas(*area: float, edge: float = 0.0, margin: float = 0.0) -> Areas:
    count = len(MIXED.swatches)
    table = np.zeros(count)
    table[: len(area)] = area
    return Areas(
        faces=(table > 0).astype(float),
        area=table,
        edge=np.where(table > 0, edge, 0.0),
        touching=np.zeros((count, count)),
        outline=0.0,
        total=float(table.sum()),
        outline_width=0.35,
        margin=margin,
    )


def find(what: Areas, settings: PaintSettings | None = None, **options):
    return find_quantities(
        what, MIXED, settings or PaintSettings(), **{"real_scale": 1.0, **options}
    )


def test_volume_by_hand():
    # 2 m² x 2 coats x 1.15 / 10 m²/L = 0.46 L
    (wall,), notes = find(areas(2e6))
    assert wall.volume == pytest.approx(460.0)
    assert wall.coverage == 10.0
    assert notes == ()
    assert ("coverage", "10 m²/L", "palette") in wall.factors
    assert ("coats", "2", COMMON) in wall.factors


def test_scale_is_squared_for_areas_and_not_for_edges():
    (small,), _ = find(areas(1e4, edge=400))
    (large,), _ = find(areas(1e4, edge=400), real_scale=5.0)
    assert large.area_drawn == small.area_drawn
    assert large.area_real == pytest.approx(25 * small.area_real)
    assert large.volume == pytest.approx(25 * small.volume)
    assert large.edge == pytest.approx(5 * small.edge)


def test_settings_are_said_to_come_from_the_plan():
    (wall,), _ = find(areas(2e6), PaintSettings(coats=3, spare=0.0, containers=(750,)))
    assert wall.volume == pytest.approx(600)
    assert ("coats", "3", "plan") in wall.factors
    assert ("containers", "750 mL", "plan") in wall.factors


def test_what_is_not_sold_by_volume():
    found, _ = find(areas(1.0, 1.0, 1e4))
    pencil = found[2]
    assert pencil.volume is None
    assert pencil.containers == ()
    assert pencil.factors[0][0] == "pencil"


@pytest.mark.parametrize("medium", ["pencil", "marker", "tile", "thread", "leaf"])
def test_what_is_not_sold_by_volume_has_no_coverage_from_the_head(medium):
    head = f'coverage = 9.0\n[[paint]]\nname = "a"\ncolour = "red"\nmedium = "{medium}"'
    other = '\n[[paint]]\nname = "b"\ncolour = "blue"\nmedium = "gouache"\n'
    palette = parse_palette((head + other).encode(), "head.toml")
    assert [liquid(swatch) for swatch in palette.swatches] == [False, True]
    assert coverage_of(palette.swatches[1]) == (9.0, "palette")


@pytest.mark.parametrize(("bare", "page"), [((), 3e4), ((5,), 0.0)])
def test_a_page_that_is_left_bare_takes_no_ground(bare, page):
    # the page outside bears the ground of the colouring, 5, and 0 goes under all
    what = areas(1e4, 0, 0, 0, 0, 2e4, margin=3e4)
    (under, _), _ = find(what, bare=bare, under=0, ground=5)
    assert under.area_real == pytest.approx(1e4 + page + (0.0 if bare else 2e4))


def test_unknown_coverage_is_noted_once():
    found, notes = find(areas(1.0, 1.0, 1.0, 1e6))
    assert found[3].coverage == 8.0
    assert [n.type for n in notes] == ["no coverage"]
    assert "unknown" in notes[0].text


def test_unused_swatches_and_bare_ones():
    found, _ = find(areas(1.0, 0, 0, 0, 0, 1e4), bare=(5,))
    assert [q.swatch for q in found] == [0, 5]
    assert found[1].bare
    assert found[1].volume is None
    assert found[1].area_real == pytest.approx(1e4)


def test_the_ground_covers_the_margin_too():
    (wall,), _ = find(areas(1e6, margin=5e5), ground=0)
    assert wall.area_real == pytest.approx(1.5e6)
    assert wall.factors[0][0] == "margin"


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"coats": 0}, "0 coats"),
        ({"coats": -1}, "-1 coats"),
        ({"spare": -0.1}, "spare"),
        ({"spare": math.nan}, "spare"),
        ({"containers": (0.0,)}, "container"),
        ({"leaf_lap": 40.0}, "lap"),
        ({"leaf_size": 0.0}, "lap"),
        ({"leaf_waste": 1.0}, "loss"),
    ],
)
def test_settings_that_make_no_sense(change, what):
    settings = dataclasses.replace(PaintSettings(), **change)
    with pytest.raises(PlanError, match=what) as caught:
        check_settings(settings, 1.0)
    assert caught.value.mend


@pytest.mark.parametrize("scale", [0.0, -1.0, math.nan, math.inf])
def test_scales_that_make_no_sense(scale):
    with pytest.raises(PlanError, match="scale"):
        check_settings(PaintSettings(), scale)


def test_every_medium_has_its_facts():
    assert set(MEDIA_FACTS) == set(MEDIA)
    for facts in MEDIA_FACTS.values():
        if facts.coverage is not None:
            low, high = map(float, facts.span.split("-"))
            assert low <= facts.coverage <= high
            assert facts.drying


@given(
    st.floats(0.01, 1e6),
    st.lists(st.floats(1.0, 1e4), min_size=1, max_size=6),
)
def test_containers_hold_the_need(need, sizes):
    picked = pick_containers(need, sizes)
    volume = sum(s * n for s, n in picked)
    assert volume >= need * (1 - 1e-6)
    assert all(n > 0 and s in sizes for s, n in picked)
    # never a whole smallest container too much of one size
    size, _ = picked[-1]
    assert volume - size < need


def test_containers_by_hand():
    assert pick_containers(0.0, (100.0,)) == ()
    assert pick_containers(320.0, (100.0, 250.0, 1000.0)) == ((250.0, 1), (100.0, 1))
    assert pick_containers(950.0, (100.0, 250.0, 500.0, 1000.0)) == ((1000.0, 1),)
