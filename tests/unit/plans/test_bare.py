"""What is left bare on regions and yet painted: under others, as a line, as white.

Sums are by hand: 24 squares of 10 mm at 1 : 20 are 960,000 mm²; a kind has 240,000.
"""

import pytest

from fillwork.colouring.model import Rules
from fillwork.plans.model import PaintSettings
from fillwork.plans.schedule_text import schedule_text
from tests.unit.plans.test_workshop import HALL, extra, made, row

LEAD = HALL.replace(b'name = "chalk"', b'name = "chalk"\npigments = ["PW1"]')
MIDNIGHT = HALL.replace(
    b'name = "midnight"', b'name = "midnight"\npigments = ["PR108"]'
)


def bought(schedule, name):
    return next(b for b in schedule.buys if b.name == name)


def test_a_ground_whose_own_regions_are_bare_is_coated_and_bought():
    rules = Rules(bare=("midnight",))
    schedule, palette, orbits = made(
        [0, 1, 2, 3], PaintSettings(under="midnight"), rules, data=MIDNIGHT
    )
    own, ground = row(schedule, "midnight"), extra(schedule, "ground: midnight")
    assert (own.bare, own.volume, own.area_real) == (True, None, 240_000)
    # opaque: 2 coats, over all but its own regions: 0.72 m² x 2 x 1.15 / 6.5 m²/L
    assert (ground.coats, ground.area_real) == (2, pytest.approx(720_000))
    assert ground.volume == pytest.approx(0.72 * 2 * 1.15 / 6.5 * 1000)
    tin = bought(schedule, "midnight")
    assert tin.need == pytest.approx(ground.volume)
    assert ground.containers == tin.packages != ()
    leave, _, under = schedule.steps[:3]
    assert (leave.kind, leave.orbits) == ("bare", (0,))
    assert (under.kind, under.orbits) == ("under", ())
    assert "midnight in 2 coats" in under.text
    assert "not midnight" in under.text
    # cadmium is told where it is laid and among the cautions
    assert "admium" in under.care
    assert any(c.startswith("midnight: ") and "admium" in c for c in schedule.cautions)
    # rolled at 5 m² an hour, a quarter of an hour a coat to set out
    paced, _, _ = made(
        [0, 1, 2, 3], PaintSettings(under="midnight", pace=(1.0, 1.0)), rules
    )
    (hours,) = [s.hours for s in paced.steps if s.kind == "under"]
    assert hours == pytest.approx(2 * (0.25 + 0.72 / 5.0))
    assert "in 0 coats" not in schedule_text(schedule, palette, orbits)


def test_a_ground_that_is_bare_and_has_no_region_is_laid_all_the_same():
    rules = Rules(bare=("midnight",))
    schedule, _, _ = made([1, 1, 2, 3], PaintSettings(under="midnight"), rules)
    ground = extra(schedule, "ground: midnight")
    assert ground.area_real == pytest.approx(960_000)
    assert [s.kind for s in schedule.steps if s.swatch == 0] == ["under"]


def test_a_white_ground_whose_regions_are_bare_is_coated():
    rules, settings = Rules(bare=("chalk",)), PaintSettings(under="chalk")
    schedule, _, _ = made([0, 1, 2, 3], settings, rules)
    assert extra(schedule, "ground: chalk").coats == 2
    # where all lies bare nothing is laid, primed or varnished
    schedule, _, _ = made([3, 3, 3, 3], settings, rules)
    assert [s.kind for s in schedule.steps] == ["bare"]
    assert schedule.extras == ()


def test_a_bare_paint_that_outlines_is_bought_with_its_cautions():
    rules = Rules(bare=("chalk",), outline="chalk", outline_width=1.0)
    schedule, _, _ = made([0, 1, 2, 3], rules=rules, data=LEAD)
    line = extra(schedule, "outline: chalk")
    assert line.containers == bought(schedule, "chalk").packages != ()
    assert row(schedule, "chalk").bare
    assert any(c.startswith("chalk: ") and "ead" in c for c in schedule.cautions)


@pytest.mark.parametrize("bare", [(), ("chalk",)])
def test_white_under_others_is_bought_with_its_cautions(bare):
    # chalk is the white under straw; it has regions that are bare, or none
    fourth = 3 if bare else 0
    schedule, _, _ = made(
        [0, 1, 2, fourth], PaintSettings(under="midnight"), Rules(bare=bare), data=LEAD
    )
    white = extra(schedule, "under straw: chalk")
    assert white.containers == bought(schedule, "chalk").packages != ()
    assert any(c.startswith("chalk: ") and "ead" in c for c in schedule.cautions)
    (step,) = [s for s in schedule.steps if s.kind == "white"]
    assert "ead" in step.care


def test_a_new_white_has_not_the_dangers_of_the_paint_above():
    data = HALL.replace(b'name = "straw"', b'name = "straw"\npigments = ["PY35"]')
    data = data.replace(b'"#f4f1e8"', b'"#808080"')
    schedule, _, _ = made([0, 1, 2, 3], PaintSettings(under="midnight"), data=data)
    assert "under straw: white, acrylic" in schedule.extra_names
    care = {s.kind: s.care for s in schedule.steps if s.swatch == 1}
    assert "admium" in care["fill"]
    assert "admium" not in care["white"]


def test_bare_leaf_takes_no_leaf_but_for_the_line():
    data = HALL.replace(b'name = "chalk"', b'name = "chalk"\nmedium = "leaf"')
    schedule, _, _ = made([0, 1, 2, 3], rules=Rules(bare=("chalk",)), data=data)
    assert schedule.leafing == ()
    assert row(schedule, "chalk").leaves is None
    assert not any(b.unit == "leaf" for b in schedule.buys)
    # what is sealed is what is painted
    sealed = extra(schedule, "acrylic varnish, what is painted")
    assert sealed.area_real == pytest.approx(720_000)
    rules = Rules(bare=("chalk",), outline="chalk", outline_width=1.0)
    schedule, _, _ = made([0, 1, 2, 3], rules=rules, data=data)
    assert row(schedule, "chalk").leaves is None
    assert extra(schedule, "outline: chalk").leaves == bought(schedule, "chalk").need


def test_what_all_lies_bare_has_no_cautions_of_what_would_go_under() -> None:
    settings, rules = PaintSettings(under="midnight"), Rules(bare=("midnight",))
    schedule, _, _ = made([0, 0, 0, 0], settings, rules, data=MIDNIGHT)
    assert [s.kind for s in schedule.steps] == ["bare"]
    assert not any("midnight" in c or "admium" in c for c in schedule.cautions)


@pytest.mark.parametrize(
    ("swatches", "primed"), [([1, 1, 1, 1], 960_000), ([0, 1, 4, 4], 480_000)]
)
def test_what_goes_under_dry_paints_is_primed(swatches, primed) -> None:
    pencil = b'name = "straw"\nmedium = "pencil"'
    data = HALL.replace(b'name = "straw"', pencil)
    settings = PaintSettings(under="midnight")
    schedule, _, _ = made(swatches, settings, data=data)
    named = zip(schedule.extra_names, schedule.extras, strict=True)
    found = [row.area_real for name, row in named if "primer" in name]
    assert found == [pytest.approx(primed)]
