"""Strapwork found in drawings, against strands known from the graph of the pattern."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.drawing import as_linework
from fillwork.bands.found import find_bands
from fillwork.bands.kinds import bands_of_woven, join_strands
from fillwork.bands.model import CROSSING
from fillwork.bands.settings import doubt_note, worth_asking
from fillwork.bands.short_rails import lead_on_short_rails
from fillwork.bands.weave import weave_lines
from fillwork.cli.main import main
from fillwork.errors import PlanError
from fillwork.pipeline.reports import survey_report, survey_table
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import BandSettings, Plan
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.bench.bands import judge, score
from tests.bench.bands import panel as measured_panel
from tests.bench.patterns import svg_of
from tests.bench.strapwork import (
    middle_lines,
    strapwork,
    svg_of_panel,
    truth_of_faces,
)
from tests.unit.bands.test_weave import kagome
from tests.unit.helpers import (
    circle,
    line,
    linework_from_curves,
    linework_from_segments,
)


def panel(name: str, angle: float, width: float, pen: float = 0.2, **kwargs):
    """Return a panel of strapwork, its regions, and which truly are bands."""
    work = strapwork(name, angle=angle, width=width, side=90, **kwargs)
    lines = linework_from_segments(work.segments, 90, 90, line_width=pen)
    regions = build_arrangement(lines)
    true, members = truth_of_faces(work, regions.polygons())
    return regions, true, members, work.nodes


@pytest.mark.parametrize("jitter", [0.0, 0.01])
@pytest.mark.parametrize(
    ("name", "angle", "width"), [("4^4", 70, 3), ("6^3", 75, 2), ("3.6.3.6", 60, 1.6)]
)
def test_plain_strapwork_is_found(name, angle, width, jitter) -> None:
    regions, true, _, nodes = panel(name, angle, width, jitter=jitter)
    orbits = find_orbits(regions, find_zones(regions))
    bands = find_bands(regions, kind_of_face=orbits.of_face, cut=orbits.cut)
    assert bands is not None
    assert bands.sure
    found = bands.part[1:] > 0
    assert (found & true).sum() >= 0.99 * true.sum()
    assert not (found & ~true).any()
    # regions round the points of the graph are the crossings, wherever they are whole
    whole = ~orbits.cut[1:]
    double = np.zeros(len(true), bool)
    tree = shapely.STRtree(regions.polygons())
    double[tree.query(shapely.points(nodes), "within")[1]] = True
    crossing = bands.part[1:] == CROSSING
    assert (crossing == double)[whole].mean() >= 0.99


@pytest.mark.parametrize(
    ("name", "angle", "width", "jitter"),
    [
        ("6^3", 75, 2, 0.005),  # ends that meet their rail at 30°
        ("4^4", 70, 3, 0.01),  # a frame that cuts through bends
        ("4.8^2", 50, 2.5, 0),  # bends of 10°
        ("3.6.3.6", 60, 1.6, 0.01),
        ("3.4.6.4", 66, 1.8, 0),  # bands that run along the frame
    ],
)
def test_woven_strapwork_is_found_strand_by_strand(name, angle, width, jitter) -> None:
    # bends that lie 0.04 mm off the frame do not touch it with this pen
    regions, true, members, nodes = panel(
        name, angle, width, pen=0.03, woven=True, jitter=jitter
    )
    orbits = find_orbits(regions, find_zones(regions))
    bands = find_bands(regions, kind_of_face=orbits.of_face, cut=orbits.cut)
    assert bands is not None
    found = bands.part[1:] > 0
    assert (found == true).all()
    assert bands.crossings >= (0.96 if jitter else 1) * len(nodes)
    # no strand found runs over two of the graph
    for number in range(len(bands.strands)):
        faces = np.flatnonzero(bands.strand[1:] == number)
        assert set.intersection(*(members[f] for f in faces))


@pytest.mark.parametrize("woven", [False, True])
def test_a_band_with_a_middle_line_is_one(woven: bool) -> None:
    work = strapwork("4.8^2", angle=55, width=2.4, side=90, lined=True, woven=woven)
    lines = linework_from_segments(work.segments, 90, 90, line_width=0.2)
    regions = build_arrangement(lines)
    true, members = truth_of_faces(work, regions.polygons())
    orbits = find_orbits(regions, find_zones(regions))
    bands = find_bands(regions, kind_of_face=orbits.of_face, cut=orbits.cut)
    assert bands is not None
    assert bands.sure
    assert (true == (bands.part[1:] > 0)).all()
    assert bands.crossings == work.crossings
    assert np.isclose([s.width for s in bands.strands], 2.4, rtol=0.1).all()
    for number in range(len(bands.strands)):
        faces = np.flatnonzero(bands.strand[1:] == number)
        assert set.intersection(*(members[f] for f in faces))


def test_what_was_woven_is_found_again() -> None:
    lines = kagome(90.0, 70.0)
    woven = weave_lines(build_arrangement(lines), 3.0)
    regions = build_arrangement(as_linework(woven, lines), close_gaps=0.0)
    orbits = find_orbits(regions, find_zones(regions))
    bands = find_bands(regions, kind_of_face=orbits.of_face, cut=orbits.cut)
    assert bands is not None
    assert np.isclose([s.width for s in bands.strands], 3.0, rtol=0.01).all()
    joined, bands = join_strands(orbits, bands)
    # turns by 120° carry each of the three families of strands onto the others
    assert {s.orbit for s in bands.strands} == {0}
    assert sum(o.band for o in joined.orbits) == 1


def test_bends_between_broad_bands_are_theirs() -> None:
    # between two crossings little more than a bend of the band below is in sight
    drawn = strapwork("4.8^2", edge=16, side=70, angle=67.5, width=0.0)
    lines = linework_from_segments(drawn.segments, 70, 70)
    woven = weave_lines(build_arrangement(lines), 4.8, crossings="crossed")
    regions = build_arrangement(as_linework(woven, lines), close_gaps=0.0)
    bands = bands_of_woven(regions, woven)
    broad = replace(drawn, widths=np.full(len(drawn.middles), 4.8))
    true, _ = truth_of_faces(broad, regions.polygons())
    # crossings whose point lies beyond the frame go by their kind
    whole = true & ~regions.cut[1:]
    whole &= shapely.contains_properly(
        shapely.box(0.01, 0.01, 69.99, 69.99), regions.polygons()
    )
    assert whole.sum() > 40
    assert (bands.part[1:] > 0)[whole].all()
    assert not (bands.part[1:] > 0)[~true].any()


def _grid(xs, ys) -> np.ndarray:
    return np.array(
        [[x, 0, x, 100] for x in (0, *xs, 100)]
        + [[0, y, 100, y] for y in (0, *ys, 100)],
        float,
    )


def _bricks(size: float) -> np.ndarray:
    rows = np.arange(0, 100, size)
    joints = [
        [x, y, x, y + size]
        for k, y in enumerate(rows)
        for x in np.arange(size * (1 + k % 2), 100, 2 * size)
    ]
    return np.vstack([_grid([], rows[1:]), joints])


RANDOM = np.random.default_rng(7)


def _slanted(step: float) -> np.ndarray:
    """Rows of parallelograms that stand half a step off those beside them."""
    xs = np.arange(0, 99, step)
    return np.array(
        [[x, 0, x, 99] for x in xs]
        + [
            [x, y, x + step, y + step]
            for x in xs
            for y in np.arange(0, 99 - step, step / 2.5)
        ]
    )


def _tartan(seed: int) -> np.ndarray:
    """Return strips of many widths, the same across and along."""
    lines = np.cumsum(np.random.default_rng(seed).uniform(3, 9, 40))
    return _grid(lines[lines < 100], lines[lines < 100])


WITHOUT = {
    "tartan": _tartan(20),
    "tartan with few lines beside its pairs": _tartan(145),
    "tartan with two strips alike beside each other": _grid(
        *2 * [np.cumsum(np.tile([5.5, 8.2, 8.9, 5.5, 10.3], 2))]
    ),
    "slanted rows": _slanted(9.0),
    "parallel lines": _grid(np.arange(4, 100, 4), []),
    "squares": _grid(np.arange(10, 100, 10), np.arange(10, 100, 10)),
    "oblongs": _grid(np.arange(10, 100, 10), np.arange(5, 100, 5)),
    "bricks": _bricks(10.0),
    **{
        f"lines at random {k}": _grid(
            RANDOM.uniform(0, 100, 8), RANDOM.uniform(0, 100, 8)
        )
        for k in range(4)
    },
    **{
        f"stars on {name} at {angle}": np.vstack(
            [
                np.hstack([m[:-1], m[1:]])
                for m in middle_lines(name, 20, 100, np.radians(angle))
            ]
        )
        for name, angle in (("4^4", 60), ("6^3", 45), ("4.8^2", 54), ("3.4.6.4", 67.5))
    },
}


@pytest.mark.parametrize("name", WITHOUT)
def test_no_band_is_seen_where_there_is_none(name: str) -> None:
    lines = linework_from_segments(WITHOUT[name], line_width=0.2)
    bands = find_bands(build_arrangement(lines))
    assert bands is None or not bands.sure


def test_no_band_is_seen_in_scales() -> None:
    rings = [
        circle(x, y, 8.0) for x in np.arange(10, 95, 8) for y in np.arange(10, 95, 8)
    ]
    assert find_bands(build_arrangement(linework_from_curves(rings))) is None


@pytest.fixture(scope="module")
def drawing() -> bytes:
    return svg_of(strapwork("3.6.3.6", angle=60, width=1.6, side=90).segments)


def test_strands_stand_in_the_report_and_the_survey(drawing: bytes) -> None:
    survey = make_survey(drawing, Plan())
    report = survey_report(survey)
    parts = {r["band"]["part"] for r in report["regions"] if r["band"]}
    assert parts == {"band", "crossing"}
    numbers = {r["band"]["strand"] for r in report["regions"] if r["band"]}
    assert numbers <= {s["strand"] for s in report["strands"]}
    assert set(report["strands"][0]) == {
        "strand",
        "orbit",
        "length_mm",
        "closed",
        "width_mm",
    }
    assert "\nbands     " in survey_table(survey)


def test_nothing_is_closed_over_half_a_band() -> None:
    # bands of 0.8 mm, and a gap of 0.6 mm in the longest rail
    rows = strapwork("4^4", angle=70, width=0.8, side=90).segments
    inner = ((rows > 1) & (rows < 89)).all(axis=1)
    long = int((np.hypot(*(rows[:, 2:] - rows[:, :2]).T) * inner).argmax())
    a, b = rows[long, :2], rows[long, 2:]
    half = 0.3 * (b - a) / np.hypot(*(b - a))
    gap = [[*a, *((a + b) / 2 - half)], [*((a + b) / 2 + half), *b]]
    drawn = svg_of(np.vstack([np.delete(rows, long, axis=0), gap]))
    survey = make_survey(drawn, Plan())
    assert survey.bands is not None
    narrowest = min(strand.width for strand in survey.bands.strands)
    assert survey.arrangement.tolerance.close_gaps <= 0.5001 * narrowest
    assert {d.done for d in survey.arrangement.defects} == {"left"}


def test_bands_that_stop_short_of_the_one_above_are_led_on_to_it() -> None:
    # aslant at 30°, so that the ends of the two rails lie apart, and off by a hand
    work = strapwork("6^3", angle=75, side=90, woven=True, gap=0.3, jitter=0.01)
    # bends that lie 0.03 mm off the frame do not touch it with this pen
    drawn = svg_of(work.segments).replace(b'stroke-width="0.3"', b'stroke-width="0.03"')
    survey = make_survey(drawn, Plan())
    assert survey.bands is not None
    turned = shapely.transform(
        survey.arrangement.polygons(), lambda p: [0, 100] + p * [1, -1]
    )
    true, members = truth_of_faces(work, turned)
    assert (true == (survey.bands.part[1:] > 0)).all()
    assert survey.bands.crossings == work.crossings
    for number in range(len(survey.bands.strands)):
        faces = np.flatnonzero(survey.bands.strand[1:] == number)
        assert set.intersection(*(members[f] for f in faces))
    assert "short rails" in {n.type for n in survey.notes}
    given = replace(survey.arrangement.tolerance, why="as given")
    same = make_survey(drawn, tolerance=given)
    assert same.arrangement.tolerance == given
    assert "short rails" in {n.type for n in same.notes}


def test_a_gap_on_one_side_of_the_band_above_is_led_on() -> None:
    # bands 4 mm wide, over and under in turn; what passes under stops 0.5 mm short of
    # the band above on its left or lower side, as in its shadow, and touches the other
    ways = {0: [14, 36, 58, 80], 1: [10, 30, 52, 72, 88]}
    rows = [[0, 0, 100, 0], [100, 0, 100, 100], [100, 100, 0, 100], [0, 100, 0, 0]]
    for axis, places in ways.items():
        for k, place in enumerate(places):
            above = [v for n, v in enumerate(ways[1 - axis]) if (k + n + axis) % 2]
            stops = [0, *(v + d for v in above for d in (-2.5, 2.0)), 100]
            for a, b in zip(stops[::2], stops[1::2], strict=True):
                rails = np.array([[a, place - 2, b, place - 2], [a, place + 2] * 2])
                rails[1, 2] = b
                rows += rails[:, [0, 1, 2, 3] if axis else [1, 0, 3, 2]].tolist()
    survey = make_survey(svg_of(np.array(rows, float)), Plan())
    assert survey.bands is not None
    assert survey.bands.sure
    assert len(survey.bands.strands) == 4 + 5
    assert survey.bands.crossings == 4 * 5
    assert [s.width for s in survey.bands.strands] == pytest.approx([4.0] * 9)
    # each strand is parted where it passes under: half of the crossings of all
    assert (survey.bands.part > 0).sum() == 4 + 5 + 4 * 5
    assert "short rails" in {n.type for n in survey.notes}


def test_gaps_in_single_lines_are_not_led_on() -> None:
    # two strands of lines, one short of the other at each crossing
    rows = [[0, y, 100, y] for y in range(10, 100, 20)]
    for x in range(10, 100, 20):
        stops = [0, *(v for y in range(10, 100, 20) for v in (y - 2, y + 2)), 100]
        rows += [[x, a, x, b] for a, b in zip(stops[::2], stops[1::2], strict=True)]
    lines = linework_from_segments(np.array(rows, float))
    assert lead_on_short_rails(lines, 0.01) is None


@pytest.mark.parametrize("seed", range(3))
def test_ends_that_miss_a_band_by_a_hand_are_not_led_on(seed) -> None:
    # about half of them run over the rail that they were to meet, and none was to meet
    # the middle line beyond
    how = {"woven": True, "lined": True, "jitter": 0.01, "seed": seed}
    work = strapwork("3^3.4^2", angle=60, side=90, width=(3.0, 2.0), **how)
    lines = linework_from_segments(work.segments, 90, 90, line_width=0.2)
    assert lead_on_short_rails(lines, 1e-4) is None


@pytest.mark.parametrize("name", ["4^4", "3^6", "3^4.6", "3^2.4.3.4"])
def test_wide_gaps_before_bends_are_led_on(name: str) -> None:
    # rails are as short as the gaps are wide: what lies behind an end by so much is the
    # next rail of its own band, not one that it ran over
    found = score(measured_panel("wide gap", name, 0.0, 9001))
    assert found.found == found.regions
    assert found.crossed == found.crossings


def test_lines_that_lie_apart_are_not_led_on() -> None:
    # nothing stands between any two ends that face each other
    rows = [[x, y, x + 5, y] for x in range(0, 80, 10) for y in range(0, 40, 10)]
    lines = linework_from_segments(np.array(rows, float))
    assert lead_on_short_rails(lines, 0.01) is None


def test_bands_are_left_alone_when_told_so(drawing: bytes) -> None:
    survey = make_survey(drawing, Plan(bands=BandSettings(find="no")))
    assert survey.bands is None
    assert not any(o.band for o in survey.orbits.orbits)
    assert "strands" not in survey_report(survey)


def test_no_band_of_another_width_is_found(drawing: bytes) -> None:
    for width, seen in (("1.6mm", True), ("5mm", False)):
        survey = make_survey(drawing, Plan(bands=BandSettings(find=width)))
        assert (survey.bands is not None) == seen


def test_the_choice_is_kept_in_the_plan() -> None:
    plan = Plan(bands=BandSettings(find="4mm"))
    assert parse_plan(plan_to_toml(plan).encode()).bands.find == "4mm"


def test_a_width_that_is_none_is_refused(drawing: bytes) -> None:
    with pytest.raises(PlanError, match="no width of bands"):
        make_survey(drawing, Plan(bands=BandSettings(find="wide")))
    result = CliRunner().invoke(main, ["survey", "-", "--bands", "wide"], drawing)
    assert result.exit_code == 1
    assert "--bands auto" in result.stderr


def test_a_ring_over_all_others_is_a_strand() -> None:
    # two pairs of bands cross in the middle, and pass under a ring of the same width
    reach = {y: [np.sqrt(r**2 - (y - 50) ** 2) for r in (28, 32)] for y in (38, 42)}
    rails = []
    for y, (inner, outer) in reach.items():
        for a, b in ((0, 50 - outer), (50 - inner, 50 + inner), (50 + outer, 100)):
            for at in (y, 100 - y):
                rails += [[a, at, b, at], [at, a, at, b]]
    frame = [[0, 0, 100, 0], [100, 0, 100, 100], [100, 100, 0, 100], [0, 100, 0, 0]]
    straight = [line(*row) for row in np.array([*rails, *frame], float)]
    rings = [circle(50, 50, 28), circle(50, 50, 32)]
    regions = build_arrangement(linework_from_curves([*straight, *rings], 100, 100))
    bands = find_bands(regions)
    assert bands is not None
    assert bands.sure
    # four crossings of bands, eight with the ring
    assert bands.crossings == 12
    assert len(bands.strands) == 5
    ring = bands.strands[0]
    assert ring.closed
    assert np.isclose(ring.length, 2 * np.pi * 30, rtol=1e-3)


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("woven", "3^4.6"),  # a band runs along the frame, as far from it as it is wide
        ("plain", "3.12^2"),  # bends that the frame cuts, between two crossings
        ("gap", "6^3"),  # and between two bands that lie over them
        ("wide gap", "4^4"),  # ends a tenth of the panel apart that face each other
        ("framed, woven", "6^3"),  # the frame has another frame round it
    ],
)
def test_bands_beside_a_frame_are_right(kind: str, name: str) -> None:
    found = score(measured_panel(kind, name, 0.0, 11))
    assert found.found == found.regions
    assert found.false == found.extra == 0
    assert found.strand >= 0.9 * found.known
    assert found.crossed == found.crossings


@pytest.mark.parametrize(
    ("kind", "name", "seed"),
    [
        ("plain", "3^2.4.3.4", 31),
        ("two widths, middle line", "6^3", 31),
        # two strands cross right on the frame; a scrap lies on rails of both
        ("two widths", "3^6", 9001),
        # strands cross at a flat angle right on the frame, and turn back there in none
        ("plain", "4.6.12", 9001),
        # a strip of ground at the frame is as wide as the wider bands
        ("two widths, woven", "3.6.3.6", 9001),
        # a frame cuts the end of a band, which has two readings with the other end
        ("two widths, woven", "3^4.6", 81307),
        # what is a band by its kind lies on the side of a rail that a strand runs on
        ("framed", "6^3", 81307),
    ],
)
def test_what_a_frame_leaves_of_a_strand_stays_with_it(
    kind: str, name: str, seed: int
) -> None:
    found = score(measured_panel(kind, name, 0.0, seed))
    assert found.whole == found.strands
    assert found.false == 0


def test_strips_of_a_grid_are_a_question() -> None:
    # lines 3 and 9 apart in turn, both ways: tartan or bands, the drawing does not say
    at = np.cumsum(np.tile([9.0, 3.0], 8))[:-1]
    end = at[-1] + 9
    each = [[[x, 0, x, end], [0, x, end, x]] for x in np.r_[0, at, end]]
    lines = linework_from_segments(np.array(each).reshape(-1, 4), end, end)
    bands = find_bands(build_arrangement(lines))
    assert bands is not None
    assert not bands.sure
    told = find_bands(build_arrangement(lines), width=3.0)
    assert told is not None
    assert told.sure
    assert len(told.strands) == 14


@pytest.mark.parametrize(
    ("kind", "name", "noise"),
    [
        # crumbs of edges where a rail, a middle line and a rail meet nearly in a point
        ("middle line", "3^4.6", 0.005),
        # a middle line of a wide band faces a rail of a narrow one
        ("two widths, middle line, woven", "4.6.12", 0.0),
        # rails that cross 0.05 mm from the frame, which bends there when they are one
        ("middle line, woven", "3.4.6.4", 0.0),
        # a strip of ground at the frame is as wide as half of the band beside it
        ("middle line, woven", "3^3.4^2", 0.0),
    ],
)
def test_bands_with_middle_lines_are_seen(kind: str, name: str, noise: float) -> None:
    seed = {"3.4.6.4": 7303, "3^3.4^2": 9001}.get(name, 31)
    found = score(measured_panel(kind, name, noise, seed))
    assert found.found >= 0.93 * found.regions
    assert found.crossed == found.crossings


def test_chords_of_finely_drawn_arcs_are_no_faults_of_a_hand() -> None:
    # arcs end so near to each other that they are drawn by chords of 0.085 mm
    found = score(measured_panel("curved, woven", "3.4.6.4", 0.005, 7303))
    assert found.found == found.regions
    assert found.false == 0
    assert found.crossed == found.crossings
    assert found.whole == found.strands


def test_ground_between_single_lines_is_no_broad_band() -> None:
    found = score(measured_panel("some lines", "3.4.6.4", 0.0, 7303))
    assert found.found >= 0.85 * found.regions
    assert found.false <= 1
    assert found.crossed == found.crossings


def test_panes_that_stand_apart_are_no_bands() -> None:
    panes = [
        [x, y, x + 22, y + tall]
        for x, tall, step in ((2, 17, 20), (27, 47, 50), (52, 17, 20), (77, 17, 20))
        for y in range(2, 98, step)
    ]
    sides = [
        row
        for a, b, c, d in panes
        for row in ([a, b, c, b], [c, b, c, d], [c, d, a, d], [a, d, a, b])
    ]
    lines = linework_from_segments(np.vstack([sides, _grid([], [])]), line_width=0.2)
    assert find_bands(build_arrangement(lines)) is None


@pytest.mark.parametrize("name", ["4.6.12", "3^4.6"])
def test_lines_drawn_over_bands_that_bend_do_not_hide_them(name: str) -> None:
    # strips of a grid are straight, so that bands that bend and cross are no grid's
    found = score(measured_panel("some lines", name, 0.0, 7301))
    assert not found.unseen
    assert found.found >= 0.97 * found.regions
    assert found.false == 0
    assert found.crossed == found.crossings


def test_a_middle_line_beside_a_frame_is_one() -> None:
    # one where a frame cuts its band along, beside a corner, at half a per cent
    one = score(measured_panel("middle line, woven", "3^4.6", 0.005, 47))
    assert one.whole == one.strands


def test_bands_that_cross_single_lines_alone_are_found_by_their_width() -> None:
    work = measured_panel("some lines", "3^6", 0.0, 81307)
    told = Plan(bands=BandSettings(find=f"{work.widths.max():.2f}mm"))
    survey = make_survey(svg_of_panel(work), told)
    one = judge(work, survey.arrangement, survey.bands)
    assert one.unseen == 0
    assert one.found == one.regions
    assert one.whole == one.strands
    assert one.false == 0


def test_a_question_about_bands_that_cross_none_says_so() -> None:
    # two zigzags of own rails, each crossed by upright lines alone
    bend = np.tile([0.0, 12.0], 5)[:9] + 30.0
    at = np.linspace(0, 96, 9)
    rails = [bend + off for off in (0.0, 4.0, 33.0, 37.0)]
    sides = [np.stack([at[:-1], r[:-1], at[1:], r[1:]], axis=1) for r in rails]
    upright = np.array([[x, 0, x, 96] for x in (5.0, 17.0, 41.0, 55.0, 77.0)])
    frame = np.array([[0, 0, 96, 0], [96, 0, 96, 96], [96, 96, 0, 96], [0, 96, 0, 0]])
    rows = np.concatenate([*sides, upright, frame]).astype(float)
    bands = find_bands(build_arrangement(linework_from_segments(rows, 96, 96)))
    assert bands is not None
    assert not bands.sure
    assert bands.crossings == 0
    assert len(bands.strands) == 2
    assert "cross no others" in doubt_note(bands).text
    # no symmetry carries either onto figures that are no bands
    assert worth_asking(bands, np.arange(-1, len(bands.strand) - 1))
    # strands of one kind each are one paint whatever is said
    assert not worth_asking(bands, np.where(bands.strand >= 0, bands.strand, 9))


def test_figures_that_are_bands_here_and_there_are_no_question() -> None:
    # stars in a field of like stars: where a medallion cuts them, some seem to cross
    panel = Path(__file__).parents[3] / "demo/drawings/framed-panel.svg"
    survey = make_survey(panel)
    assert not [n for n in survey.notes if n.type == "bands in doubt"]
    assert survey.bands is None
