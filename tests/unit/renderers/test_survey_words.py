"""The survey in words: every line of a small drawing, by construction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.model import Defect
from fillwork.bands.model import Bands, BandStrand
from fillwork.pipeline.surveying import make_survey
from fillwork.renderers.survey.mending import split_defects
from fillwork.renderers.survey.text import compose_table
from fillwork.symmetry.model import Candidate

# two squares of 40 mm: one in a layer, halved by what is dashed, which is left, and
# one halved; at its right a line of 6 mm that stops at both ends
DRAWING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="60mm"
viewBox="0 0 120 60" fill="none" stroke="#000"><g id="frame"><path
d="M10 10h40v40h-40z"/></g><path d="M10 30h40" stroke="#c00" stroke-width="0.5"
stroke-dasharray="2 1"/><path d="M70 10h40v40h-40zM90 10v40M115 20v6"/></svg>"""


@pytest.fixture(scope="module")
def survey():
    return make_survey(DRAWING, name="two.svg")


def table(survey, *, scale=1.0, known=True, defects=None, bands=None, **orbits):
    arrangement = survey.arrangement
    if defects is not None:
        arrangement = replace(arrangement, defects=tuple(defects))
    return compose_table(
        survey.linework,
        arrangement,
        replace(survey.orbits, **orbits),
        real_scale=scale,
        scale_known=known,
        bands=bands,
    ).splitlines()


def test_every_line_of_a_small_drawing(survey) -> None:
    lines = table(survey)
    stop = "left; nothing, if meant so; else join it, or use --close or --cut here"
    assert lines[:8] == [
        "drawing   two.svg, 120.0 × 60.0 mm",
        "lines     4 strokes, taken as stroked",
        "          2 of 3 groups used:",
        "          used      3 × #000000 1 mm, 206 mm",
        "          used      1 × #000000 1 mm layer “frame”, 160 mm",
        "          left      1 × #cc0000 0.5 mm dashed, 40 mm",
        "regions   3",
        "symmetry",
    ]
    at = lines.index("kinds     3")
    assert lines[at + 1 : -1] == [
        "          kind   regions  cut   area mm²  name",
        "          A            1    0       1600  square",
        "          B            1    0        800  rectangle 1",
        "          C            1    0        800  rectangle 2",
        "shapes    2 (alike within 3 %; --match family paints by them)",
        "          B C alike",
        "defects   2 × loose end (left)",
        f"        1  loose end of 6 mm at @115.0,34.0: {stop}",
        f"        2  loose end of 6 mm at @115.0,40.0: {stop}",
    ]
    assert lines[-1].startswith("tolerance ")


def test_sizes_on_paper_and_in_truth(survey) -> None:
    size = "drawing   two.svg, 120.0 × 60.0 mm"
    half = table(survey, scale=2.5)[0]
    assert half == f"{size}, real 300.0 × 150.0 mm, at 1 : 2.5"
    for scale in (1.0, 2.5):
        unknown = table(survey, scale=scale, known=False)[0]
        assert unknown.startswith(f"{size} (taken from px; state the true size")


def test_regions_that_the_edge_cuts_are_counted(survey) -> None:
    cut = np.array([False, True, False, True])
    assert "regions   3, 2 of them cut by the edge" in table(survey, cut=cut)


def test_each_zone_is_told_with_what_settles_it(survey) -> None:
    (zone,) = survey.orbits.zones
    rivals = tuple(
        Candidate(g, 0.01 * k, 0.0) for k, g in enumerate(("D2", "C2", "D1"))
    )
    doubt = replace(zone.symmetry, certain=False, reason="x", candidates=rivals)
    sure = replace(zone.symmetry, certain=True, candidates=rivals)
    said = "rosette:D2  turns by 1/2 about one centre; 2 mirrors through it"
    weighed = "    also weighed: C2 fits 1 %; D1 fits 2 %"
    ways = ("rosette:D2", "rosette:C2", "rosette:D1")

    def told(*zones) -> list[str]:
        lines = table(survey, zones=zones)
        first, last = lines.index("symmetry"), lines.index("kinds     3")
        return lines[first + 1 : last]

    alone = ", or by ".join(f"--symmetry {way}" for way in ways)
    assert told(replace(zone, symmetry=doubt)) == [
        f"  {said} (not certain: x)",
        weighed,
        f"    settle it by {alone}",
    ]
    two, three, four = (
        replace(zone, index=k, role="border", symmetry=doubt) for k in (2, 3, 4)
    )
    several = ", or by ".join(f"--symmetry 2={way}" for way in ways)
    zones = (replace(zone, symmetry=sure), two, three, replace(four, symmetry=sure))
    assert told(*zones) == [
        f"  zone 1: {said}",
        f"  zones 2, 3 (border): {said} (not certain: x)",
        weighed,
        f"    settle it by {several}, likewise for the others",
        f"  zone 4 (border): {said}",
    ]
    # and each kind with the zone that it lies in
    kinds = [replace(o, zone=k) for k, o in enumerate(survey.orbits.orbits, 1)]
    lines = table(survey, zones=zones, orbits=tuple(kinds))
    row = lines.index("          kind   regions  cut   area mm²  name")
    ends = [line.partition("  name")[0][-8:] for line in lines[row + 1 : row + 4]]
    assert ends == ["(zone 1)", "(zone 2)", "(zone 3)"]


def test_long_lists_end_with_how_many_more_there_are(survey) -> None:
    one = survey.orbits.orbits[0]
    for count, rest in (
        (40, []),
        (42, ["          and 2 more (all with --json)"]),
    ):
        kinds = tuple(replace(one, letter=f"K{k}") for k in range(count))
        lines = table(survey, match="turns", orbits=kinds)
        assert f"kinds     {count}" in lines
        row = lines.index("          kind   regions  cut   area mm²  name")
        assert lines[row + 40].split()[0] == "K39"
        more = [line for line in lines if "more (all" in line]
        assert more == rest
    # 13 shapes of two kinds each, of which twelve are told
    kinds = tuple(replace(one, letter=f"K{k}") for k in range(26))
    pairs = tuple(k // 2 + 1 for k in range(26))
    lines = table(survey, orbits=kinds, families=pairs)
    at = lines.index("shapes    13 (alike within 3 %; --match family paints by them)")
    assert lines[at + 1] == "          K0 K1 alike"
    assert lines[at + 12 : at + 14] == [
        "          K22 K23 alike",
        "          and 1 more (with --json)",
    ]
    # one shape of 43 kinds in figures of one sort
    kinds = tuple(replace(one, letter=f"K{k}") for k in range(43))
    alone = (1,) * 43
    lines = table(survey, orbits=kinds, families=alone, figures=alone)
    at = lines.index("figures   1 (--match figure paints by them)")
    letters = " ".join(f"K{k}" for k in range(40))
    assert lines[at - 1] == f"          {letters} and 3 more alike"
    assert lines[at + 1] == f"          {letters} and 3 more one figure"


def test_strands_are_told_by_their_kinds(survey) -> None:
    strands = (
        BandStrand(2500.0, closed=True, width=4.0, orbit=1),
        BandStrand(1500.0, closed=False, width=5.0, orbit=1),
        BandStrand(700.0, closed=True, width=2.0, orbit=0),
    )
    none = np.zeros(0, np.int64)
    bands = Bands(none, none, none.reshape(0, 3), strands, 12, sure=True)
    lines = table(survey, bands=bands)
    at = lines.index("bands     3 strands, 12 crossings")
    assert lines[at + 1 : at + 3] == [
        "          a            1 (1 closed), 2 mm wide, 0.7 m in all",
        "          b            2 (1 closed), 4.5 mm wide, 4 m in all",
    ]
    lines = table(survey, bands=replace(bands, strands=strands[2:], crossings=1))
    assert "bands     1 strand, 1 crossing" in lines
    many = tuple(replace(strands[0], orbit=k) for k in range(14))
    lines = table(survey, bands=replace(bands, strands=many))
    at = lines.index("bands     14 strands, 12 crossings")
    assert lines[at + 13] == "          and 2 more (with --json)"


def test_what_was_mended_and_is_small_is_one_line(survey) -> None:
    # up to 1 mm
    gaps = [Defect("gap", (5.0, 6.0), size, "closed", "") for size in (1.0, 1.01)]
    lines = table(survey, defects=gaps)
    at = lines.index("defects   1 × gap (closed)")
    assert lines[at + 1 : -1] == [
        "        1  gap of 1.01 mm at @5.0,6.0: closed",
        "mended    1 small one mended, of 1 mm at @5.0,6.0",
        "          1 gap closed (each with --json)",
    ]
    twice = Defect("doubled", (0.0, 0.0), 9.0, "merged", "")
    left = replace(twice, done="left")
    shown, trifles = split_defects([twice, left, twice])
    assert (shown, trifles) == ((left,), (twice, twice))
    lines = table(survey, defects=[twice, twice])
    assert lines[-3:-1] == [
        "mended    2 lines drawn twice merged",
        "          2 doubled merged (each with --json)",
    ]
    # twelve rows are told
    for count, rest in ((12, []), (13, ["          and 1 more (--json)"])):
        rows = [Defect("gap", (0.0, 0.0), 9.0 + k, "left", "") for k in range(count)]
        assert [x for x in table(survey, defects=rows) if "--json" in x] == rest
