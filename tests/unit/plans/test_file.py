"""Plan files: what is written is read back, and mistakes are named."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
import tomli_w

from fillwork.colouring.model import Pin, Rules
from fillwork.errors import PlanError
from fillwork.plans.checks import KINDS
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import Made, Plan, UsedPaint

PAINT = {"name": "gold", "colour": "#c9a227"}

# a value of each kind, none of which is any field's default
SAMPLES = {
    "number": 0.25, "length": 0.75, "numbers": (5.5, 250.0), "whole": 7, "count": 4,
    "colours": 3, "copies": 3, "alike": 0.07, "width": 800, "pages": 9, "fit": "true",
    "pupils": 1, "truth": True, "text": "some words", "swatch": "gold",
    "swatches": ("gold", "ivory"), "file": "mine.ttf",
    "texts": ("layer=ink", "width>0.3"), "points": ((1.0, 2.0), (3.0, 4.5)),
    "point": (12.5, -40.0), "measure": (1.0, 2.0, 31.0, 2.0, 300.0),
    "size": (1200.0, 800.0), "groups": (("A", "B"),), "pairs": (("C", "gold"),),
    "shares": (("gold", 0.1),), "coats": (("gold", 2),),
    "choices": (("A", 2), ("C", 1)),
}  # fmt: skip
# what is no choice with a kind of its own
OWN = {
    "pins": (Pin("@10.5,20.25", "gold"), Pin("square", "gold", "turns")),
    "symmetry": ((0, "plane:p4m"), (2, "frieze:p2mg")),
    "names": (("A", "big star"),),
    "palette": "",
    "palette_data": tomli_w.dumps({"name": "mine", "paint": [PAINT]}),
    "on_hand_data": tomli_w.dumps({"paint": [PAINT]}),
    "made": Made("0.1.0", (("A", "gold"),)),
    "used": (UsedPaint("gold", "17 B", "2 to 1", "May", "thin"),),
    "font_data": b"",  # lies in a file of its own
}


def full(settings):
    """Return choices of which none is at its default."""
    values = {}
    for one in fields(settings):
        kind = one.metadata.get("kind")
        if isinstance(kind, tuple):
            values[one.name] = next(k for k in kind if k and k != one.default)
        elif kind is not None:
            values[one.name] = SAMPLES[kind]
        elif one.name in OWN:
            values[one.name] = OWN[one.name]
        else:  # a part of the plan
            values[one.name] = full(one.default_factory)
    return settings(**values)


FULL = full(Plan)
PARTS = [f.name for f in fields(Plan) if hasattr(getattr(FULL, f.name), "__slots__")]
LEAVES = [(part, f.name) for part in PARTS for f in fields(getattr(FULL, part))]
LEAVES += [("", f.name) for f in fields(Plan) if f.name not in (*PARTS, "font_data")]


def test_every_choice_survives_the_file() -> None:
    assert set(SAMPLES) == set(KINDS)
    for part, name in LEAVES:
        mine, usual = (getattr(p, part, p) for p in (FULL, Plan()))
        assert getattr(mine, name) != getattr(usual, name), name
    assert parse_plan(plan_to_toml(FULL).encode()) == FULL


def test_defaults_survive_the_file() -> None:
    assert parse_plan(plan_to_toml(Plan()).encode()) == Plan()
    assert parse_plan(b"") == Plan()


# a new choice that fails here lacks a key in a section that plans/file.py reads and
# writes
@pytest.mark.parametrize(("part", "name"), LEAVES)
def test_each_choice_alone_survives_the_file(part: str, name: str) -> None:
    plan, value = Plan(), getattr(getattr(FULL, part, FULL), name)
    if part:
        plan = replace(plan, **{part: replace(getattr(plan, part), **{name: value})})
    else:
        plan = replace(plan, **{name: value})
    if name == "palette":
        plan = replace(plan, palette="earth.toml")
    if name == "palette_data":
        plan = replace(plan, palette="")
    if name == "real_of":  # of nothing by itself
        plan = replace(plan, real_width=3.0)
    assert parse_plan(plan_to_toml(plan).encode()) == plan


def test_colours_that_change_places_are_a_number_or_apart() -> None:
    plan = Plan(rules=Rules(counterchange="apart"))
    assert parse_plan(plan_to_toml(plan).encode()) == plan
    wrong = plan_to_toml(plan).replace('"apart"', '"part"')
    with pytest.raises(PlanError, match="apart, no, or a whole number"):
        parse_plan(wrong.encode())


def test_one_choice_for_all_kinds_is_a_number() -> None:
    plan = Plan(rules=Rules(counterchange=2, choices=(("", 3),)))
    assert "choices = 3" in plan_to_toml(plan)
    assert parse_plan(plan_to_toml(plan).encode()) == plan


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("schema = 2", "newer fillwork"),
        ("schema = true", "whole number"),
        ("shema = 1", "did you mean “schema”"),
        ("[colouring]\ngoal_diference = 3", "did you mean “goal_difference”"),
        ("[colouring]\ngoal_difference = 'x'", "a number of 0 or more"),
        ("[colouring]\ngoal_difference = nan", "a number of 0 or more"),
        ("[colouring]\ngoal_diference = 3", r": colouring\.goal_diference: unknown"),
        ("shema = 1", r": shema: unknown"),
        ("[[colouring.pin]]\nswatch = 'a'", "either at"),
        ("[[colouring.pin]]\nat = [1, 2]", "needs a swatch"),
        ("[[colouring.pin]]\nat = [1]\nswatch = 'a'", "points"),
        ("[lines]\nscope = 'all'", "none of auto"),
        ("[paint]\ncoats = 0", "1 or more"),
        ("[symmetry.zones]\nx = 'plane:p4m'", "number from 1"),
        ("palette = 3", "must be a table"),
        ("[picture]\npng_width = 3", "from 16"),
        ("a = ", "not sound TOML"),
    ],
)
def test_mistakes_are_named(text: str, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        parse_plan(text.encode())


def test_a_mistake_names_its_line() -> None:
    with pytest.raises(PlanError, match=r"plan.toml, line 3: colouring\.seed"):
        parse_plan(b"schema = 1\n[colouring]\nseed = -1\n")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        # each key stands in two tables, and is wrong in the later one
        ("[bands]\ncorners = 'mitre'\n[colouring]\ncorners = 3", 4),
        ("[[colouring.pin]]\nwhere = 'A'\nswatch = 'a'\n"
         "[[colouring.pin]]\nwhere = 'B'\nswatch = 3", 6),
        ("[[used]]\nswatch = 'a'\n[[used]]\nbatch = 'x'", 3),
        ("colouring = {seed = 1, corners = 3}", 1),
        ("[lines]\nclose = [\n[1.0]\n]\n[sheets]\ncopies = 0", 2),
        ("[sheets]\n'copies' = 0", 2),
        ("[symmetry]\ngroup = 'plane:p1'\n[symmetry.zones]\nx = 'plane:p1'", 4),
    ],
)  # fmt: skip
def test_a_mistake_names_the_line_in_its_own_table(text: str, line: int) -> None:
    with pytest.raises(PlanError, match=f"^plan.toml, line {line}: "):
        parse_plan(text.encode())


@pytest.mark.parametrize("key", ["outline", "border"])
def test_long_lines_are_held_and_long_words_are_not(key: str) -> None:
    lines = "M0 0" + "L12.345678 9.876543" * 1000
    found = parse_plan(f'[laying]\n{key} = "{lines}"'.encode())
    assert getattr(found.laying, key) == lines
    assert parse_plan(plan_to_toml(found).encode()) == found
    for wrong in ("M0 0 and words" * 1000, lines * 30):
        with pytest.raises(PlanError, match=f"line 2: “{key}” has"):
            parse_plan(f'[laying]\n{key} = "{wrong}"'.encode())
    with pytest.raises(PlanError, match="“title” has"):
        parse_plan(f'[sheets]\ntitle = "{lines}"'.encode())


def test_bytes_that_are_no_text_are_refused() -> None:
    with pytest.raises(PlanError, match="not UTF-8"):
        parse_plan(b"\xff\xfe\x00")


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('[colouring]\nties = [["A"]]\n', "ties"),  # with nothing to be tied to
        ("[colouring]\nties = [3]\n", "ties"),
        ("[drawing]\nreal_width_mm = 1e9\n", "real_width_mm"),  # a thousand km
        ("[drawing]\nreal_width_mm = -1\n", "real_width_mm"),
        ("[drawing]\nreal_width_mm = true\n", "real_width_mm"),
    ],
)
def test_values_that_cannot_be_are_refused_by_their_key(text: str, key: str) -> None:
    with pytest.raises(PlanError, match=key):
        parse_plan(f"schema = 1\n{text}".encode(), "plan.toml")


def test_a_wrong_value_says_how_it_is_written():
    for text, mend in (
        ("[paint]\ncontainers_ml = [-250]", "write it as in [250, 1000]"),
        ("[paint]\ncontainers_ml = 250", "write it as in [250, 1000]"),
        ("[lines]\nclose_gaps_mm = -1", "change it, or leave it out"),
    ):
        with pytest.raises(PlanError) as raised:
            parse_plan(text.encode())
        assert raised.value.mend == mend
