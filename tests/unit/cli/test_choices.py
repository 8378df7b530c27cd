"""What the options choose, before any drawing is read."""

import importlib
import inspect
from dataclasses import fields, is_dataclass
from pathlib import Path

import click
import pytest

from fillwork.cli import batch, colour, command, main, options, sheets
from fillwork.cli.choices import plan_from
from fillwork.cli.values import CORNERS, MEASURE, POINT, REAL_WIDTH, SCALE, pair
from fillwork.errors import ColouringError
from fillwork.pipeline import finish_files
from fillwork.pipeline.batch.run import colour_batch
from fillwork.pipeline.encoding import MEDIA
from fillwork.pipeline.finish import Finish
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.file import check_values, parse_plan, plan_to_toml
from fillwork.plans.model import Plan
from fillwork.values import option_of

# an invented square of 8 mm on a page of 10 mm
SQUARE = b"""<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"
viewBox="0 0 10 10"><path d="M1 1h8v8h-8z" fill="none" stroke="#000"/></svg>"""


# of all commands `colour` takes the most
OPTIONS = [p for p in colour.command.params if isinstance(p, click.Option)]
FURTHER = set(options.names_of(options.further_options))
# which drawing a plan is for is no choice, and these stand in the plan file alone
WITHOUT = {"drawing", "digest", "containers", "leaf_size", "leaf_lap", "leaf_waste"}


@pytest.mark.parametrize("name", sorted(set(main.COMMANDS) - {"page", "palettes"}))
def test_every_option_of_a_command_is_taken(name: str) -> None:
    found = importlib.import_module(f"fillwork.cli.{name}").command
    own = {*inspect.signature(found.callback).parameters, *FURTHER}
    left = [p for p in found.params if p.name not in own]
    settings = {p.name: () if p.multiple else None for p in left}
    assert settings
    assert plan_from(settings) == Plan()
    assert settings == {}  # what stays here cli/choices.py does not take


def test_every_choice_has_an_option_of_each_command_that_colours() -> None:
    known = {name for p in OPTIONS for name in p.opts}
    plan = Plan()
    for part in (plan, *(getattr(plan, f.name) for f in fields(plan))):
        for one in fields(part) if is_dataclass(part) else ():
            if one.metadata and one.name not in WITHOUT:
                assert option_of(one) in known, one.name
    for other in (batch, sheets):
        known = {name for p in other.command.params for name in p.opts}
        lacking = {p.name for p in OPTIONS if not known & {*p.opts}}
        assert lacking <= FURTHER, other.__name__


def test_every_option_of_a_choice_stands_under_a_heading_of_its_own() -> None:
    known = {name for names in command._headings().values() for name in names}
    assert {p.name for p in OPTIONS} - known == FURTHER
    assert "border" in command._headings()["One cell over a panel"]


def test_what_else_is_made_can_be_asked_for_wherever_all_files_are_made() -> None:
    def told(call):
        known = inspect.signature(call).parameters.values()
        return {p.name for p in known if p.kind is p.KEYWORD_ONLY}

    but = {"force", "keep"}
    assert told(Finish.files) == told(finish_files.all_files) == FURTHER
    assert told(Finish.write) - but == FURTHER <= told(colour_batch)
    assert {p.name for p in batch.command.params} >= FURTHER


def test_every_file_that_is_made_has_a_media_type() -> None:
    plan = plan_from({"sheet": ("masks",), "view": "deutan"})
    done = colour_drawing(SQUARE, plan, name="square.svg")
    names = {*done.files(**dict.fromkeys(FURTHER, True)), *done.sheet_files(["svg"])}
    assert {Path(name).suffix for name in names} == set(MEDIA)


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
    with pytest.raises(click.BadParameter, match=text.replace("(", ".")):
        kind.convert(text, None, None)


def test_a_pin_whose_point_is_none_or_in_centimetres_is_told_or_taken() -> None:
    for where in ("@5", "@", "@a,b", "@1e400,1", "@nan,nan"):
        plan = plan_from({"pins_kind": ((where, "straw"),)})
        check_values(plan)
        with pytest.raises(ColouringError, match="is not a point"):
            colour_drawing(SQUARE, plan, name="square.svg")
    plan = plan_from({"pins_kind": (("@0.4cm,4mm", "straw"),)})
    done = colour_drawing(SQUARE, plan, name="square.svg")
    assert done.colouring.palette.swatches[done.colouring.of_face[1]].name == "straw"
    again = parse_plan(plan_to_toml(done.plan).encode())
    assert again.rules.pins == plan.rules.pins
