"""What the options choose, before any drawing is read."""

import pytest

from fillwork.cli.choices import plan_from
from fillwork.cli.values import CORNERS, MEASURE, POINT, REAL_WIDTH, SCALE, pair


def test_places_that_are_tied_are_kept_as_they_are_named() -> None:
    plan = plan_from({"tie": ("A, B", "@1,2,@3,4")})
    assert plan.rules.ties == (("A", "B"), ("@1,2", "@3,4"))


def test_auto_states_nothing_for_the_whole_and_something_for_a_zone() -> None:
    stated = plan_from({"symmetry": ("auto", "2=auto", "plane:p4m")}).symmetry
    assert stated == ((2, "auto"), (0, "plane:p4m"))


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (POINT, " @12.5,-40", (12.5, -40.0)),
        (SCALE, "2:5", 2.5),
        (REAL_WIDTH, "drawing 30cm", ("drawing", 300.0)),
        (REAL_WIDTH, "1 m", ("page", 1000.0)),
        (MEASURE, "@10,10 70,10 = 3cm", (10.0, 10.0, 70.0, 10.0, 30.0)),
        (CORNERS, "1,2 3,4 5,6 7,8", ((1, 2), (3, 4), (5, 6), (7, 8))),
        (pair("WHERE", "SWATCH"), "strand 2 = gold", ("strand 2", "gold")),
    ],
)
def test_values_are_read_as_they_are_written(kind, text, value) -> None:
    assert kind.convert(text, None, None) == value
    assert kind.convert(value, None, None) == value


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (POINT, "12"),
        (POINT, "1,2,3"),
        (POINT, "nan,2"),
        (SCALE, "0:5"),
        (SCALE, "5"),
        (MEASURE, "1,1 1,1 = 3cm"),
        (MEASURE, "1,1 2,2 = -3cm"),
        (CORNERS, "1,2 3,4 5,6"),
        (CORNERS, "1,2 3,4 5,6 7,nan"),
        (pair("A", "B"), "=gold"),
        (pair("A", "B"), "gold"),
    ],
)
def test_what_is_no_value_is_refused_by_its_own_words(kind, text) -> None:
    import click

    with pytest.raises(click.BadParameter, match=text.replace("(", ".")):
        kind.convert(text, None, None)
