"""What is measured of lines and bands, and handed on: against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.drawing import as_linework, weaving_notes, with_room_for_bands
from fillwork.bands.kinds import bands_of_woven
from fillwork.bands.model import BAND, GROUND, Bands, BandStrand
from fillwork.bands.paths import clip_paths, draw_paths
from fillwork.bands.settings import doubt_note, known_width, worth_asking
from fillwork.bands.strands import follow_strands, gather_lines
from fillwork.bands.weave import weave_lines
from fillwork.errors import PlanError
from fillwork.geometry.curves import ARC, LINE, Curves
from tests.unit.helpers import (
    arc,
    circle,
    cubic,
    line,
    linework_from_curves,
    linework_from_segments,
    polyline,
)

BOX = [(0, 0), (60, 0), (60, 40), (0, 40)]


def strands_of(work):
    return follow_strands(gather_lines(build_arrangement(work)))


def test_headings_and_bends_are_those_of_circle_line_and_parabola() -> None:
    # radius 20, against the clock from 0 to 90 degrees; a parabola y = x² / 40 as a
    # cubic, whose curvature is 2 / 40 at its foot, where it is level
    rows = [
        arc(50, 50, 20, 0, math.pi / 2),
        line(5, 5, 25, 5),
        cubic(0, 60, 10 / 3, 60, 20 / 3, 60 + 5 / 6, 10, 62.5),
    ]
    lines = gather_lines(build_arrangement(linework_from_curves(rows)))
    at = {
        tuple(lines.vertices[v].round(3).tolist()): (h, b)
        for v, h, b in zip(lines.origin, lines.headings(), lines.bends(), strict=True)
    }
    for place, heading, bend in (
        ((70, 50), math.pi / 2, 1 / 20),  # bends to the left
        ((50, 70), 0.0, -1 / 20),  # from the other end to the right
        ((5, 5), 0.0, 0.0),
        ((25, 5), math.pi, 0.0),
        ((0, 60), 0.0, 1 / 20),
        # slope 1/2: the curvature is 1/20 over (1 + 1/4) to the 3/2
        ((10, 62.5), -math.pi + math.atan(0.5), -1 / 20 / 1.25**1.5),
    ):
        assert np.exp(1j * at[place][0]) == pytest.approx(np.exp(1j * heading))
        assert at[place][1] == pytest.approx(bend, rel=1e-3, abs=1e-9)


def test_strands_are_as_long_as_their_lines_and_stand_by_length() -> None:
    # a circle, and two lines that cross it and each other, in a box
    rows = [circle(30, 20, 10), line(0, 20, 60, 20), line(30, 0, 30, 40)]
    work = linework_from_curves(
        [*rows, *(line(*s) for s in polyline(BOX, True).tolist())], 60, 40
    )
    found = strands_of(work)
    told = [(round(s.length, 6), s.closed, s.border) for s in found.strands]
    assert told == [
        (200, True, True),
        (round(20 * math.pi, 6), True, False),
        (60, False, False),
        (40, False, False),
    ]
    bands = bands_of_woven(build_arrangement(work), weave_lines_of(work, 3.0))
    assert [(s.length, s.closed, s.width) for s in bands.strands] == [
        (pytest.approx(20 * math.pi), True, 3.0),
        (pytest.approx(60), False, 3.0),
        (pytest.approx(40), False, 3.0),
    ]
    # the circle crosses each line twice, the lines cross once
    assert bands.crossings == 5


def weave_lines_of(work, width, **choices):
    return weave_lines(build_arrangement(work), width, **choices)


@pytest.mark.parametrize(("width", "pen"), [(3.0, 0.5), (0.6, 0.3)])
def test_woven_bands_are_drawn_with_the_pen_on_two_layers(width, pen) -> None:
    rows = [line(0, 20, 60, 20), line(30, 0, 30, 40), circle(45, 30, 4)]
    rows += [line(*s) for s in polyline(BOX, True).tolist()]
    work = linework_from_curves(rows, 60, 40, line_width=0.5)
    woven = weave_lines_of(work, width)
    drawn = as_linework(woven, work)
    # half a band is the widest pen that leaves its rails apart
    assert drawn.styles == (
        ("bands", "#000000", pen, False),
        ("frame", "#000000", pen, False),
    )
    strand = [int(name.removeprefix("strand ")) - 1 for name in drawn.source_name]
    assert strand == woven.path_strand.tolist()
    assert drawn.frame == work.frame
    # the frame, and two rails of the ring
    round_ = [woven.strands.strands[s].closed for s in strand]
    assert drawn.closed.tolist() == round_
    assert sum(round_) == 3
    length = drawn.curves.lengths()
    for layer, wanted in ((1, 200.0), (0, None)):
        rows = [
            r
            for k, style in enumerate(drawn.style.tolist())
            for r in range(drawn.stroke_start[k], drawn.stroke_start[k + 1])
            if style == layer
        ]
        ring = 2 * math.pi * 8
        # rails beside a ring have its radius in the mean; the band under is left out
        # where the other one passes over it
        told = ring + 2 * 60 + 2 * 40 - 2 * width
        assert length[rows].sum() == pytest.approx(wanted or told)
    unknown = as_linework(
        woven, replace(work, styles=((None, "#000000", None, False),))
    )
    assert unknown.styles[0][2] == min(0.35, width / 2)


def test_a_page_that_was_not_drawn_grows_with_its_bands() -> None:
    work = linework_from_segments(polyline([(0, 0), (50, 0), (50, 30), (0, 30)], True))
    bare = linework_from_segments(
        polyline([(0, 0), (50, 0), (50, 30), (0, 30)], True), 50, 30, has_page=False
    )
    assert with_room_for_bands(work, 1.0) is work
    assert with_room_for_bands(bare, 1.0) is bare
    # a band 4 mm wide stands 2 mm out on all sides, but for the upper one
    wide = polyline([(-2, -2), (52, -2), (52, 29), (-2, 29)], closed=True)
    out = replace(bare, curves=Curves.from_segments(wide))
    grown = with_room_for_bands(out, 1.0)
    assert (grown.frame.width, grown.frame.height) == (56, 33)
    assert np.allclose(grown.curves.starts(), wide[:, :2] + [3, 3])
    # a point of the file is where the line of it is
    assert grown.frame.to_mm[4:] == (3.0, 3.0)
    empty = replace(bare, curves=Curves.empty())
    assert with_room_for_bands(empty, 1.0) is empty


def test_widths_of_bands_are_lengths_or_left_open() -> None:
    assert known_width("auto") is None
    assert known_width("no") is None
    assert known_width("4mm") == 4
    assert known_width("0.5in") == pytest.approx(12.7)
    for none in ("0mm", "-2mm", "broad", "inf", ""):
        with pytest.raises(PlanError, match="no width of bands"):
            known_width(none)


def found(strand: list[int], crossings: int, widths=(4.0,)) -> Bands:
    return Bands(
        np.array(strand),
        np.where(np.array(strand) >= 0, BAND, GROUND),
        np.empty((0, 3), np.int64),
        tuple(BandStrand(10.0, False, w) for w in widths),
        crossings,
        False,
    )


def test_bands_in_doubt_are_asked_where_most_of_their_kinds_are_bands() -> None:
    # kinds 0 and 1; -1 is the outside or the ground
    kinds = np.array([-1, 0, 0, 0, 1, 1])
    assert worth_asking(found([-1, 0, 0, -1, -1, -1], 2), kinds)
    assert not worth_asking(found([-1, 0, -1, -1, -1, -1], 2), kinds)
    # half of a kind is enough, and other kinds say nothing
    assert worth_asking(found([-1, -1, -1, -1, 0, -1], 2), kinds)
    # without crossings: rings, each of one kind, are one paint in any case
    assert not worth_asking(found([-1, 0, 0, 0, 1, 1], 0), kinds)
    assert worth_asking(found([-1, 0, 0, 0, 0, 0], 0), kinds)
    assert worth_asking(found([-1, 0, 0, 0, 1, 1], 1), kinds)


def test_the_question_about_bands_tells_their_width_at_true_size() -> None:
    note = doubt_note(found([-1, 0], 3, (4.0, 5.0, 9.0)), 10.0)
    assert "bands 50 mm wide that cross" in note.text
    assert note.remedy.startswith("--bands 50mm takes")
    assert "cross no others" in doubt_note(found([-1, 0], 0)).text
    # a floor is told in whole millimetres as well
    floor = doubt_note(found([-1, 0], 3, (12.5,)), 100.0)
    assert "bands 1250 mm wide" in floor.text
    assert floor.remedy.startswith("--bands 1250mm takes")


def test_where_turns_fail_is_told_with_its_place_and_number() -> None:
    points = np.array([[1.0, 2.0], [3.04, 4.06], [5.0, 6.0]])
    strands = SimpleNamespace(lines=SimpleNamespace(vertices=points))

    def told(piled, stuck, nodes):
        crossings = SimpleNamespace(piled=np.array(piled), stuck=np.array(stuck))
        woven = SimpleNamespace(strands=strands, crossings=crossings, nodes=nodes)
        return weaving_notes(woven)

    assert told([], [], "piled") == ()
    both = told([1], [2, 0], "piled")
    assert [n.at for n in both] == [(3.04, 4.06), (5.0, 6.0)]
    assert both[0].text.endswith("in order of direction: at (3.0, 4.1) mm")
    assert both[1].text.endswith("2 places, the first at (5.0, 6.0) mm")
    assert both[1].remedy.endswith("--nodes plain leaves it open")
    (plain,) = told([], [0], "plain")
    assert "these crossings are plain nodes" in plain.text
    assert plain.remedy == "lead the line on to the frame, or join its ends"
    (ring,) = told([0], [], "ring")
    assert "within a ring" in ring.text
    assert "--nodes plain leaves the rings out" in ring.remedy


def test_rails_are_drawn_from_end_to_end_with_arcs_round_corners() -> None:
    # three rails: two in line, and one at right angles round an arc of radius 2
    rails = Curves.from_segments(
        np.array([[0.0, 0, 10, 0], [10, 0, 20, 0], [22, 2, 22, 9], [0, 5, 9, 5]])
    )
    span = np.array([[0.2, 1.0], [0.0, 1.0], [0.0, 0.5], [0.0, 1.0]])
    follow = np.array([-1, 2, 1, 4, 3, -1, -1, -1])
    about = np.full((8, 2), np.nan)
    about[[3, 4]] = 20, 2
    live = np.array([True, True, True, False])
    curves, start, rail = draw_paths(rails, span, follow, live, about, 2.0)
    # straight stretches in line are one
    assert curves.kind.tolist() == [LINE, ARC, LINE]
    assert start.tolist() == [0, 3]
    assert rail.tolist() == [0]
    places = np.vstack([curves.starts(), curves.ends()[-1:]])
    assert np.allclose(places, [[2, 0], [20, 0], [22, 2], [22, 5.5]])
    middle = curves.point(np.array([1]), np.array([0.5]))[0]
    assert np.hypot(*(middle - [20, 2])) == pytest.approx(2)
    assert curves.lengths()[1] == pytest.approx(math.pi)
    # what is live alone is a path of its own
    both = draw_paths(rails, span, follow, np.ones(4, bool), about, 2.0)
    assert both[1].tolist() == [0, 3, 4]
    assert both[2].tolist() == [0, 3]


def test_paths_end_at_the_frame_that_they_run_out_over() -> None:
    frame = Curves.from_segments(polyline(BOX, closed=True))
    inner = [[5.0, 5, 55, 5]]
    # out and in again at the right: what is beyond 60 is left out, and the path parted
    out = [[10.0, 20, 70, 20], [70, 20, 70, 30], [70, 30, 10, 30]]
    # a border that lies outside for the most part stays
    beside = [[-5.0, -5, 65, -5], [65, -5, 65, 5]]
    bent = np.zeros((1, 8))
    # a half of a circle of radius 10 about (60, 15): a half of it is out
    bent[0] = 60, 15, 10, 0, 0, 10, 0, math.pi
    curves = Curves.concatenate(
        [
            *(Curves.from_segments(np.array(rows)) for rows in (inner, out, beside)),
            Curves(np.array([ARC], np.uint8), bent),
        ]
    )
    start, strand = np.array([0, 1, 4, 6, 7]), np.array([0, 1, 2, 3])
    cut, begins, path = clip_paths(curves, start, strand, frame)
    runs = {}
    for k, p in enumerate(path.tolist()):
        rows = cut.take(slice(int(begins[k]), int(begins[k + 1])))
        runs.setdefault(p, []).append(
            np.vstack([rows.starts(), rows.ends()[-1:]]).round(6).tolist()
        )
    assert runs[0] == [[[5, 5], [55, 5]]]
    assert sorted(runs[1]) == [[[10, 20], [60, 20]], [[60, 30], [10, 30]]]
    assert runs[2] == [[[-5, -5], [65, -5], [65, 5]]]
    assert runs[3] == [[[60, 25], [50, 15]]]
    same = clip_paths(curves.take(slice(0, 1)), np.array([0, 1]), np.array([0]), frame)
    assert same[0].data.tolist() == curves.data[:1].tolist()
