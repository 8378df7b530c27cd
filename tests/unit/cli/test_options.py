"""Each option of the main job, from the command line to its place in the plan."""

from __future__ import annotations

import shlex
from functools import reduce
from typing import TYPE_CHECKING

import pytest

from fillwork.cli.choices import plan_from
from fillwork.cli.colour import command
from fillwork.colouring.model import Pin
from fillwork.errors import FillworkError
from fillwork.plans.file import parse_plan, plan_to_toml

if TYPE_CHECKING:
    from fillwork.plans.model import Plan

KEPT = {"drawing", "out", "force", "quiet", "allow_large", "html", "dxf"}


def planned(*args: str) -> Plan:
    """Return what a command line chooses."""
    context = command.make_context("colour", ["drawing.svg", *args])
    settings = {k: v for k, v in context.params.items() if k not in KEPT}
    plan = plan_from(settings)
    # every option has found its place but the picture's own
    assert settings.keys() <= {"view", "png_width"}, settings
    return plan


@pytest.mark.parametrize(
    ("args", "place", "value"),
    [
        ("--real-width 3m", "real_width", 3000.0),
        ("--real-width 'drawing 40cm'", "real_of", "drawing"),
        ("--scale 1:20", "scale", 20.0),
        ("--real '0,0 3,4 = 1m'", "real", (0.0, 0.0, 3.0, 4.0, 1000.0)),
        ("--over 600,40cm", "laying.over", (600.0, 400.0)),
        ("--cell layer=cell --cell pen=2", "laying.cell", ("layer=cell", "pen=2")),
        ("--by p4m", "laying.by", "p4m"),
        ("--border 40mm", "laying.border_width", 40.0),
        ("--border rest", "laying.border", "rest"),
        ("--medallion drop", "laying.medallion", "drop"),
        ("--place 2@-3,4cm", "laying.place_at", (-3.0, 40.0)),
        ("--place 2@-3,4cm", "laying.place", 2),
        ("--place 5", "laying.place", 5),
        ("--place 5,6", "laying.place_at", (5.0, 6.0)),
        ("--scale-by 5%", "laying.give", 0.05),
        ("--misfit 2mm", "laying.misfit", 2.0),
        ("--lines layer=a --lines layer=b", "lines", ("layer=a", "layer=b")),
        ("--leave colour=#c00", "leave", ("colour=#c00",)),
        ("--scope outlines", "scope", "outlines"),
        ("--hidden keep", "hidden", "keep"),
        ("--layout Plan", "layout", "Plan"),
        ("--page-number 3", "page_number", 3),
        ("--join-within 0.2", "join_within", 0.2),
        ("--close-gaps 1mm", "close_gaps", 1.0),
        ("--close @1,2 --close @3,4", "close", ((1.0, 2.0), (3.0, 4.0))),
        ("--drop @1,2", "drop", ((1.0, 2.0),)),
        ("--cut @1,2", "cut", ((1.0, 2.0),)),
        ("--page-edge open", "page_edge", "open"),
        ("--symmetry 2=frieze:p2mg", "symmetry", ((2, "frieze:p2mg"),)),
        ("--match turns", "match", "turns"),
        ("--alike 5%", "alike", 0.05),
        ("--sheet-size A3", "scan.sheet_size", "A3"),
        (
            "--sheet-corners '1,2 3,4 5,6 7,8'",
            "scan.corners",
            ((1.0, 2.0), (3.0, 4.0), (5.0, 6.0), (7.0, 8.0)),
        ),
        ("--pen black", "scan.pen", "black"),
        ("--pencil keep", "scan.pencil", "keep"),
        ("--dpi 300", "scan.dpi", 300.0),
        ("--settled @1,2", "scan.settled", ((1.0, 2.0),)),
        ("--inked @1,2", "scan.inked", ((1.0, 2.0),)),
        ("--regular", "scan.regular", True),
        ("--as-traced", "scan.regular", False),
        ("--bands no", "bands.find", "no"),
        ("--band 4", "bands.width", 4.0),
        ("--band-gap 1", "bands.gap", 1.0),
        ("--band-start under", "bands.start", "under"),
        ("--band-corners round", "bands.corners", "round"),
        ("--band-crossings open", "bands.crossings", "open"),
        ("--band-nodes ring", "bands.nodes", "ring"),
        ("--goal 12.5", "rules.goal_difference", 12.5),
        ("--pin A=straw", "rules.pins", (Pin("A", "straw"),)),
        ("--pin-turns A=straw", "rules.pins", (Pin("A", "straw", "turns"),)),
        ("--pin-shifts A=straw", "rules.pins", (Pin("A", "straw", "shifts"),)),
        (
            "--pin-only @1.0,2.0=straw",
            "rules.pins",
            (Pin("@1.0,2.0", "straw", "only"),),
        ),
        ("--tie A,B --tie C,@1,2", "rules.ties", (("A", "B"), ("C", "@1,2"))),
        ("--tie A,,B,", "rules.ties", (("A", "B"),)),
        ("--ban A=straw", "rules.bans", (("A", "straw"),)),
        ("--most 4", "rules.most", 4),
        ("--taste quiet", "rules.taste", "quiet"),
        ("--share straw=30%", "rules.shares", (("straw", 0.3),)),
        ("--corners", "rules.corners_count", True),
        ("--ground straw", "rules.ground", "straw"),
        ("--outline clay:0.8mm", "rules.outline", "clay"),
        ("--outline clay:0.8mm", "rules.outline_width", 0.8),
        ("--outline clay", "rules.outline", "clay"),
        ("--outline clay", "rules.outline_width", None),
        ("--bare straw --bare clay", "rules.bare", ("straw", "clay")),
        ("--choice 3", "rules.choices", (("", 3),)),
        ("--choice A=2 --choice B=7", "rules.choices", (("A", 2), ("B", 7))),
        ("--seed 7", "rules.seed", 7),
        ("--sheet blank --sheet masks", "sheets.sheets", ("blank", "masks")),
        ("--paper A3", "sheets.paper", "A3"),
        ("--fit page", "sheets.fit", "page"),
        ("--most-pages 80", "sheets.most_pages", 80),
        ("--least-number 3", "sheets.least_number", 3.0),
        ("--mirror", "sheets.mirror", True),
        ("--hatch", "sheets.hatch", True),
        ("--teach 12", "sheets.teach", 12),
        ("--teach", "sheets.teach", 1),
        ("--teach --mirror", "sheets.mirror", True),
        ("--fit", "sheets.fit", "page"),
        ("--fit true", "sheets.fit", "true"),
        ("--fit --mirror", "sheets.fit", "page"),
        ("--copies 3", "sheets.copies", 3),
        ("--overlap 12", "sheets.overlap", 12.0),
        ("--mask-overlap 1", "sheets.mask_overlap", 1.0),
        ("--bridge 5", "sheets.bridge", 5.0),
        ("--title Panel", "sheets.title", "Panel"),
        ("--coats 3", "paint.coats", 3),
        ("--coats straw=50 --coats 1", "paint.coats_of", (("straw", 50),)),
        ("--under white", "paint.under", "white"),
        ("--tape", "paint.tape", True),
        ("--pace 0.5,8", "paint.pace", (0.5, 8.0)),
        ("--pace 0.001,10000", "paint.pace", (0.001, 10000.0)),
        ("--spare 20%", "paint.spare", 0.2),
        ("--panel 2m,1.5m", "paint.panel", (2000.0, 1500.0)),
        ("--paint-bands last", "paint.bands", "last"),
        ("--patch '@9,9 r=2'", "paint.patch", "@9,9 r=2"),
        ("--patch '@9,9 r=2'", "sheets.sheets", ("repair", "steps")),
        ("--patch '@9,9 r=2' --sheet blank", "sheets.sheets", ("blank",)),
    ],
)
def test_each_option_is_kept_in_its_place(args: str, place: str, value: object) -> None:
    plan = planned(*shlex.split(args))
    found = reduce(getattr, place.split("."), plan)
    assert found == value
    assert type(found) is type(value)
    again = parse_plan(plan_to_toml(plan).encode())
    assert reduce(getattr, place.split("."), again) == value


@pytest.mark.parametrize(
    ("args", "told"),
    [
        ("--coats 0", "--coats “0”"),
        ("--coats 51", "--coats “51”"),
        ("--coats =2", "--coats “=2”"),
        ("--pace 0.0009,1", "--pace"),
        ("--pace 1,10001", "--pace"),
        ("--pace 1", "--pace"),
        ("--pace 1.2.3,4", "--pace"),
        ("--panel 2m", "--panel “2m” is no size"),
        ("--panel 2m,0", "--panel “2m,0” has no area"),
        ("--over 1,2,3", "--over “1,2,3” is no size"),
        ("--over 120", "--over “120” is no size"),
        ("--over 2024.svg", "2024.svg: cannot be read"),
        ("--border 0mm", "--border “0mm”"),
        ("--border wide", "--border “wide”"),
        ("--place 0", "--place “0”"),
        ("--place 1,2,3", "--place"),
        ("--place x@1,2", "--place"),
        ("--tie A", "--tie “A” names one place"),
        ("--choice 0", "--choice “0” is no number"),
        ("--choice A=1234567890", "--choice"),
        ("--symmetry 2=", "--symmetry “2=” is no group"),
        ("--symmetry x=p4", "--symmetry"),
        ("--scale 1:2 --real-width 1m", "--real-width and --scale each state"),
    ],
)
def test_what_is_no_value_of_an_option_is_told(args: str, told: str) -> None:
    with pytest.raises(FillworkError) as caught:
        planned(*args.split())
    assert told in str(caught.value)
    assert caught.value.mend


def test_what_is_given_is_laid_over_the_plan_file(tmp_path) -> None:
    before = "--scale 1:5 --close @1,2 --pin A=straw --pin B=clay --tie A,B --seed 3 "
    before += "--share straw=30% --choice A=2 --coats straw=3 --border rest"
    first = planned(*before.split())
    file = tmp_path / "plan.toml"
    file.write_text(plan_to_toml(first))
    assert planned("--plan", str(file)) == parse_plan(plan_to_toml(first).encode())
    more = "--real-width 1m --close @3,4 --close @1,2 --pin A=sand --tie C,D "
    more += "--share clay=10% --choice A=4 --coats clay=2 --border no"
    over = planned("--plan", str(file), *more.split())
    assert (over.scale, over.real_width, over.rules.seed) == (None, 1000.0, 3)
    assert over.close == ((1.0, 2.0), (3.0, 4.0))
    assert over.rules.pins == (Pin("B", "clay"), Pin("A", "sand"))
    assert over.rules.ties == (("A", "B"), ("C", "D"))
    assert dict(over.rules.shares) == {"straw": 0.3, "clay": 0.1}
    assert over.rules.choices == (("A", 4),)
    assert dict(over.paint.coats_of) == {"straw": 3, "clay": 2}
    assert over.laying.border == ""
    # what was made of the kinds before stands in place of pins by kind
    made = file.read_text() + '\n[made.swatches]\nA = "sand"\nB = "clay"\nC = "straw"\n'
    file.write_text(made)
    again = planned("--plan", str(file), "--as-made", "--pin", "C=chalk")
    assert {(p.where, p.swatch) for p in again.rules.pins} == {
        ("A", "sand"), ("B", "clay"), ("C", "chalk")
    }  # fmt: skip


@pytest.mark.parametrize(
    "given", ["--choice 3 --choice A=2", "--choice A=2 --choice 3"]
)
def test_a_choice_of_a_kind_outlasts_one_for_all(given: str) -> None:
    # where kinds are named the number for all counts for nothing, in the file too
    plan = planned(*given.split())
    again = parse_plan(plan_to_toml(plan).encode())
    assert again.rules.choices == (("A", 2),)


def test_a_border_or_place_given_takes_the_place_of_the_other_kind() -> None:
    # each says how it is: by its number alone, or by its point alone
    by_number, by_point = (
        planned("--place", "3").laying,
        planned("--place", "3,4").laying,
    )
    assert (by_number.place, by_number.place_at) == (3, None)
    assert (by_point.place, by_point.place_at) == (None, (3.0, 4.0))
    wide = planned("--border", "3cm").laying
    assert (wide.border, wide.border_width) == ("", 30.0)
