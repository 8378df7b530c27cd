"""What a programmer finds: arguments checked, short words, maps, plots, pickles."""

from __future__ import annotations

import dataclasses
import inspect
import math
import pickle
import re

import matplotlib
import numpy as np
import pytest
import shapely

import fillwork
from fillwork import LineWork, Palette, Pin, Plan, Rules, Tolerance
from fillwork.errors import ColouringError, FillworkError, PlanError
from fillwork.geometry import affine

TWO = Palette.from_colours({"ivory": "#fffff0", "night": "#14143c"})
# a board of 4 x 4 squares of 10 mm, each with a triangle that shows its corner
BOARD = [
    part
    for x in range(0, 40, 10)
    for y in range(0, 40, 10)
    for part in (
        shapely.box(x, y, x + 10, y + 10),
        shapely.LineString([(x + 3, y), (x, y + 6)]),
    )
]


@pytest.fixture(scope="module")
def survey() -> fillwork.Survey:
    return fillwork.make_survey(LineWork.from_geometry(BOARD))


@pytest.mark.parametrize(
    ("arguments", "error", "words"),
    [
        ({"source": BOARD}, TypeError, "LineWork.from_geometry"),
        ({"source": np.zeros((3, 2, 2))}, TypeError, "ndarray"),
        ({"plan": {"match": "all"}}, TypeError, "read_plan"),
        ({"plan": Plan(match="al")}, PlanError, "none of all, turns"),
        ({"plan": Plan(real_width=math.nan)}, PlanError, "nan"),
        ({"plan": Plan(join_within=-1.0)}, PlanError, "-1"),
        ({"plan": Plan(close_gaps=math.inf)}, PlanError, "inf"),
        ({"plan": Plan(palette=TWO)}, PlanError, "Palette"),
        ({"plan": Plan(png_width=0)}, PlanError, "px"),
    ],
)
def test_arguments_are_checked_at_the_door(arguments, error, words) -> None:
    given = {"source": LineWork.from_geometry(BOARD)} | arguments
    with pytest.raises(error, match=words) as met:
        fillwork.make_survey(**given)
    assert "--" not in str(met.value)  # no words of the command line


@pytest.mark.parametrize("wrong", [-1.0, math.nan, math.inf])
def test_slacks_are_lengths(wrong: float) -> None:
    work = LineWork.from_geometry(BOARD)
    with pytest.raises(ValueError, match="join_within"):
        fillwork.build_arrangement(work, join_within=wrong)
    with pytest.raises(ValueError, match="close_gaps"):
        Tolerance(1e-3, wrong, 1e-2)


def test_a_plan_that_is_for_another_survey_is_refused(survey) -> None:
    with pytest.raises(PlanError, match="match"):
        fillwork.colour_survey(survey, Plan(match="none"), palette=TWO)
    named = fillwork.colour_survey(survey, palette="quiet-earth")
    assert named.palette.name == "Quiet earth"


def test_exact_data_keeps_a_gap_that_a_hand_would_not_mean() -> None:
    # 10 mm squares that stay 0.05 mm apart: a strip between them closes nothing
    apart = [shapely.box(x, 0, x + 10, 10) for x in (0, 10.05)]
    apart += [shapely.LineString([(0, 0), (20.05, 0)])]
    apart += [shapely.LineString([(0, 10), (20.05, 10)])]
    work = LineWork.from_geometry(apart)
    exact = fillwork.make_survey(work, tolerance=Tolerance.exact())
    areas = sorted(exact.arrangement.area[1:].tolist())
    assert areas == pytest.approx([0.5, 100, 100])


@pytest.mark.parametrize(
    "pins",
    [{"A": "night"}, [("A", "night")], [Pin("A", "night")], (("A", "night", "kind"),)],
)
def test_pins_in_every_shape(survey, pins) -> None:
    found = fillwork.colour_survey(survey, palette=TWO, pins=pins)
    kind = survey.orbits.of_face[1:] == 0
    assert set(found.colouring.of_face[1:][kind].tolist()) == {1}
    assert found.plan.rules.pins == Rules(pins=pins).pins == (Pin("A", "night"),)


@pytest.mark.parametrize("wrong", [["A"], [("A",)], [(1, "night")], {"A": 3}, "AB",
                                   [("A", "night", "everywhere")]])  # fmt: skip
def test_what_is_no_pin_is_refused(wrong) -> None:
    with pytest.raises(ColouringError, match="is no pin"):
        Rules(pins=wrong)


def test_operations_act_on_regions_as_kinds_say(survey) -> None:
    found, symmetry = survey.arrangement, survey.zones[0].symmetry
    assert symmetry.group.short == "p1"
    across, up = symmetry.generators
    there = fillwork.face_action(found, across)
    back = fillwork.face_action(found, affine.invert(across))
    met = np.flatnonzero(there > 0)
    assert len(met) == 2 * 12  # of 4 x 4 cells of 2 regions, one column falls out
    assert (back[there[met]] == met).all()
    kinds = survey.orbits.of_face
    assert (kinds[there[met]] == kinds[met]).all()
    middles = [shapely.centroid(found.polygons(faces)) for faces in (met, there[met])]
    moved = np.subtract(*map(shapely.get_coordinates, reversed(middles)))
    assert moved == pytest.approx(np.tile(across[4:], (len(met), 1)), abs=1e-6)
    assert not np.array_equal(there, fillwork.face_action(found, up))


def test_a_region_knows_its_lines(survey) -> None:
    found = survey.arrangement
    corner = found.face_at(0.5, 0.5)
    assert found.area[corner] == pytest.approx(3 * 6 / 2)
    lines = [survey.linework.stroke(s).source[0] for s in found.strokes_of(corner)]
    assert "line 2" in lines
    assert found.face_at(-1, 0) == 0
    with pytest.raises(ValueError, match="regions are 1 to 32"):
        found.strokes_of(33)
    with pytest.raises(ValueError, match="finite"):
        found.faces_at([[math.nan, 0]])


def test_arrays_of_the_caller_stay_as_they_were() -> None:
    kind, data = np.zeros(1, np.uint8), np.array([[0, 0, 9, 0, 0, 0, 0, 0.0]])
    curves = fillwork.Curves(kind, data)
    assert data.flags.writeable
    assert kind.flags.writeable
    with pytest.raises(ValueError, match="read-only"):
        curves.data[0] = 1


def test_everything_pickles_and_is_short_to_read(survey) -> None:
    finish = fillwork.colour_drawing(survey.linework, palette=TWO)
    values = [survey, finish, finish.coloured, finish.colouring, finish.schedule, TWO,
              survey.linework, survey.arrangement, survey.orbits, survey.adjacency,
              survey.outlines, *survey.zones, survey.zones[0].symmetry, Plan(),
              finish.plan.sheets, Rules(), survey.linework.curves]  # fmt: skip
    for value in values:
        again = pickle.loads(pickle.dumps(value))
        assert repr(again) == repr(value)
        assert len(repr(value)) < 160
    assert pickle.loads(pickle.dumps(finish)).svg() == finish.svg()
    assert finish.pdf().startswith(b"%PDF-")
    assert "<svg" in survey._repr_svg_()
    assert "#14143c" in TWO._repr_html_()
    assert fillwork.contact_sheet(survey, [TWO], count=1).startswith(b"%PDF-")


def test_matplotlib_draws_the_regions(survey) -> None:
    matplotlib.use("Agg")
    finish = fillwork.colour_drawing(survey.linework, palette=TWO)
    for drawn in (survey.plot(), finish.plot()):
        (regions,) = drawn.collections
        assert len(regions.get_paths()) == survey.arrangement.face_count - 1
        box = drawn.dataLim.bounds
        assert box == pytest.approx((0, 0, 40, 40))
        drawn.figure.clear()
    colours = {tuple(c) for c in np.round(regions.get_facecolor() * 255).astype(int)}
    assert colours == {(255, 255, 240, 255), (20, 20, 60, 255)}


# names of shapes and of callables, which are words for types of others
ALIASES = {
    "Any", "ArrayLike", "Callable", "Iterable", "Iterator", "Mapping", "NDArray",
    "None", "Path", "Sequence", "Literal", "Inside", "Ints", "Points", "Prices",
    "Progress", "Item", "Hidden", "LineScope", "Match", "PageEdge", "RealOf", "View",
}  # fmt: skip
# made by commands, not by who writes a program
WITHIN = {"Choices", "Patch"}


def test_every_type_in_a_public_signature_is_public() -> None:
    missing = {}
    for name in fillwork.__all__:
        value = getattr(fillwork, name)
        parts = [value]
        if inspect.isclass(value) and value.__module__.startswith("fillwork"):
            parts += [
                getattr(own, "fget", None) or getattr(own, "__func__", own)
                for key, own in vars(value).items()
                if not key.startswith("_")
            ]
        for part in parts:
            for hint in getattr(part, "__annotations__", {}).values():
                for word in re.findall(r"\b[A-Z]\w+", str(hint)):
                    if word not in {*fillwork.__all__, *ALIASES, *WITHIN}:
                        missing.setdefault(word, f"{name}: {hint}")
    assert not missing


def test_every_public_callable_says_what_it_takes_and_gives() -> None:
    for name in fillwork.__all__:
        value = getattr(fillwork, name)
        if inspect.isfunction(value):
            hints = value.__annotations__
            assert set(inspect.signature(value).parameters) | {"return"} == set(hints)
        elif inspect.isclass(value) and dataclasses.is_dataclass(value):
            assert not issubclass(value, FillworkError)
            assert value.__doc__, name


@pytest.mark.parametrize("wrong", [None, 3, "survey", [], np.zeros(2)])
def test_arguments_of_another_kind_are_refused_by_name(wrong) -> None:
    for take in (
        fillwork.colour_survey,
        fillwork.contact_graph,
        fillwork.region_columns,
        fillwork.region_geojson,
        fillwork.plot_regions,
        lambda survey: fillwork.survey_picture(survey, ".svg"),
        lambda survey: fillwork.contact_sheet(survey, ["quiet-earth"]),
    ):
        with pytest.raises(TypeError, match="survey is a Survey, not"):
            take(wrong)
    with pytest.raises(TypeError, match="data is a bytes, not"):
        fillwork.parse_plan(wrong)
    with pytest.raises(TypeError, match="plan is a Plan, not"):
        fillwork.plan_to_toml(wrong)
    if wrong is not None:
        lines = fillwork.LineWork.from_geometry([shapely.box(0, 0, 9, 9)])
        with pytest.raises(TypeError, match="tolerance is a Tolerance, not"):
            fillwork.make_survey(lines, tolerance=wrong)
        with pytest.raises(TypeError, match="plan is a Plan, not"):
            fillwork.colour_survey(fillwork.make_survey(lines), wrong)


def test_single_stages_name_what_is_of_another_kind() -> None:
    lines = fillwork.LineWork.from_geometry([shapely.box(0, 0, 9, 9)])
    regions = fillwork.build_arrangement(lines)
    zones = fillwork.find_zones(regions)
    orbits = fillwork.find_orbits(regions, zones)
    contacts = fillwork.measure_adjacency(regions, orbits)
    palette = fillwork.Palette.from_colours({"ivory": "#fffff0", "night": "#14143c"})
    rules = fillwork.Rules()
    for told, take in (
        ("arrangement is an Arrangement", lambda: fillwork.find_symmetry(lines)),
        ("arrangement is an Arrangement", lambda: fillwork.find_zones("a.svg")),
        ("arrangement is an Arrangement", lambda: fillwork.find_orbits(lines, zones)),
        ("arrangement is an Arrangement", lambda: fillwork.build_outlines(lines)),
        ("arrangement is an Arrangement", lambda: fillwork.face_action(lines, None)),
        ("linework is a LineWork", lambda: fillwork.build_arrangement(b"<svg/>")),
        ("zones is a sequence of Zone, not None",
         lambda: fillwork.find_orbits(regions, None)),
        (r"zones\[0\] is a Zone, not a str",
         lambda: fillwork.find_orbits(regions, ["1"])),
        ("orbits is an Orbits", lambda: fillwork.measure_adjacency(regions, zones)),
        ("adjacency is an Adjacency",
         lambda: fillwork.assign_colours(regions, orbits, None, palette, rules)),
        ("palette is a Palette, not a str",
         lambda: fillwork.assign_colours(
             regions, orbits, contacts, "quiet-earth", rules)),
        ("rules is a Rules", lambda: fillwork.assign_colours(
            regions, orbits, contacts, palette, {})),
        ("palettes is a sequence of Palette", lambda: fillwork.find_colourways(
            regions, orbits, contacts, palette, rules)),
        ("rules is a sequence of Rules", lambda: fillwork.find_colourways(
            regions, orbits, contacts, [palette], None)),
    ):  # fmt: skip
        with pytest.raises(TypeError, match=told):
            take()
