"""Families of like shape, and figures round one centre."""

from __future__ import annotations

import itertools
import json
import math

import numpy as np
import pytest
from click.testing import CliRunner

from fillwork.arrangement.build import build_arrangement
from fillwork.cli.main import main
from fillwork.errors import PlanError
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import Plan
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments, polyline


def _read(segments):
    segments = np.asarray(segments, float)
    low = segments.reshape(-1, 2).min(axis=0)
    segments = segments - np.tile(low - 10, 2)
    width, height = segments.reshape(-1, 2).max(axis=0) + 10
    work = linework_from_segments(segments, width, height, has_page=False)
    arrangement = build_arrangement(work)
    return arrangement, find_zones(arrangement)


def _star(n, step, radius=60.0):
    angle = np.arange(n) * 2 * np.pi / n
    tips = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.hstack([tips, np.roll(tips, -step, axis=0)])


def _rhombs(reach=5):
    """Return the lines of a patch of rhombs of a pentagrid.

    N. G. de Bruijn, "Algebraic theory of Penrose's non-periodic tilings of the
    plane", Indagationes Mathematicae 43, 1981, section 5.
    """
    shift = np.array([0.11, 0.23, -0.17, 0.31, -0.48])
    ways = np.array(
        [[math.cos(0.4 * math.pi * j), math.sin(0.4 * math.pi * j)] for j in range(5)]
    )
    lines = set()
    for r, s in itertools.combinations(range(5), 2):
        for a, b in itertools.product(range(-reach, reach + 1), repeat=2):
            right = [a - shift[r], b - shift[s]]
            point = np.linalg.solve(ways[[r, s]], right)
            low = np.ceil(ways @ point + shift - 1e-9)
            low[[r, s]] = a, b
            one, two = np.eye(5)[r], np.eye(5)[s]
            ring = [low, low + one, low + one + two, low + two]
            ring = [tuple(np.round(10 * (k @ ways), 6)) for k in ring]
            if max(math.hypot(*p) for p in ring) > 75:
                continue
            for p, q in zip(ring, ring[1:] + ring[:1], strict=True):
                lines.add((*min(p, q), *max(p, q)))
    return sorted(lines)


def test_five_fold_rhombs_are_two_families_and_no_sure_mirror():
    arrangement, zones = _read(_rhombs())
    by_symmetry = find_orbits(arrangement, zones)
    assert len(by_symmetry.orbits) > 50
    symmetry = by_symmetry.zones[0].symmetry
    assert symmetry.group.family == "none" or not symmetry.certain
    (note,) = [n for n in by_symmetry.notes if n.type == "shapes return"]
    assert "no partner" in note.text
    assert "--match family" in note.remedy
    by_shape = find_orbits(arrangement, zones, match="family").orbits
    assert len(by_shape) == 2
    # rhombs of 72° and 36° of one side: sin 72° / sin 36° is the golden ratio
    ratio = by_shape[0].area / by_shape[1].area
    assert ratio == pytest.approx((1 + math.sqrt(5)) / 2, rel=1e-3)


def test_tiles_drawn_by_hand_are_one_family():
    rng = np.random.default_rng(4)
    base = np.array([[0.0, 0.0], [10.0, 0.0], [12.0, 8.0], [2.0, 8.0]])
    rows = []
    for k in range(30):
        turn = rng.uniform(0, 2 * np.pi)
        c, s = np.cos(turn), np.sin(turn)
        flip = np.diag([1.0, rng.choice([-1.0, 1.0])])
        tile = base @ flip @ np.array([[c, s], [-s, c]])
        tile = tile + rng.normal(0, 0.08, tile.shape)
        tile += np.array([k % 6, k // 6]) * 40 + rng.uniform(-2, 2, 2)
        rows.append(polyline(tile, closed=True))
    arrangement, zones = _read(np.vstack(rows))
    assert len(find_orbits(arrangement, zones, match="family").orbits) == 1


def test_a_joint_on_a_side_makes_no_other_family():
    # squares of one size, some with a line that ends on their side
    squares = [
        polyline([[x, 0], [x + 10, 0], [x + 10, 10], [x, 10]], closed=True)
        for x in (0, 20, 47, 83)
    ]
    lines = np.vstack([*squares, [[30.0, 4.0, 47.0, 6.0]], [[4.0, 10.0, 24.0, 10.0]]])
    arrangement, zones = _read(lines)
    orbits = find_orbits(arrangement, zones, match="family").orbits
    squares_found = [o for o in orbits if o.area == pytest.approx(100, rel=1e-6)]
    assert [len(o.faces) for o in squares_found] == [4]


def test_unlike_shapes_of_one_area_are_two_families():
    a = polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True)
    b = polyline([[20, 0], [40, 0], [40, 5], [20, 5]], closed=True)
    c = polyline([[53, 27], [63.5, 27], [63.5, 37.5], [53, 37.5]], closed=True)
    arrangement, zones = _read(np.vstack([a, b, c]))
    assert len(find_orbits(arrangement, zones, match="family").orbits) == 3


@pytest.mark.parametrize(("n", "step"), [(8, 3), (12, 5), (7, 3)])
def test_the_points_round_the_middle_of_a_star_are_one_figure(n, step):
    arrangement, zones = _read(_star(n, step))
    orbits = find_orbits(arrangement, zones)
    together = find_orbits(arrangement, zones, match="figure")
    # {n/k} has k kinds; the middle and the first ring round it make the figure
    assert len(orbits.orbits) == step
    assert len(together.orbits) == step - 1
    assert sorted(len(o.faces) for o in together.orbits)[-1] == n + 1
    assert sum(f > 0 for f in orbits.figures) == 2


def test_a_ground_of_triangles_makes_no_figure():
    side, high = 10.0, 10.0 * math.sqrt(3) / 2
    rows = []
    for r in range(5):
        for c in range(5):
            x, y = (c + r / 2) * side, r * high
            rows += [[x, y, x + side, y], [x, y, x + side / 2, y + high]]
            rows += [[x + side, y, x + side / 2, y + high]]
    arrangement, zones = _read(rows)
    assert not any(find_orbits(arrangement, zones).figures)


@pytest.mark.parametrize("match", ["family", "figure"])
def test_every_region_has_one_kind(match):
    arrangement, zones = _read(_star(12, 5))
    orbits = find_orbits(arrangement, zones, match=match)
    assert (orbits.of_face[1:] >= 0).all()
    assert sum(len(o.faces) for o in orbits.orbits) == arrangement.face_count - 1
    assert len({o.name for o in orbits.orbits}) == len(orbits.orbits)


@pytest.mark.parametrize("match", ["all", "family", "figure"])
def test_lines_that_close_nothing_have_no_family(match):
    arrangement, zones = _read([[0.0, 0.0, 10.0, 0.0], [0.0, 5.0, 10.0, 6.0]])
    orbits = find_orbits(arrangement, zones, match=match)
    assert orbits.orbits == ()
    assert orbits.families == ()


def test_how_far_like_shapes_may_differ_is_a_choice():
    # the root of the area of the second is 5 % above that of the first
    small = polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True)
    large = polyline([[20, 0], [30.5, 0], [30.5, 10.5], [20, 10.5]], closed=True)
    arrangement, _ = _read(np.vstack([small, large]))
    zones = find_zones(arrangement, stated="none")
    for alike, count in ((0.03, 2), (0.06, 1), (0.0, 2)):
        found = find_orbits(arrangement, zones, match="family", alike=alike)
        assert len(found.orbits) == count
        assert found.alike == alike


def test_the_option_for_like_shapes_reaches_the_report_and_the_plan(tmp_path):
    drawing = tmp_path / "squares.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 60" width="100mm" '
        'height="60mm" fill="none" stroke="#000"><path d="M5 5h20v20h-20z'
        'M40 5h21v21h-21z"/></svg>'
    )
    run = CliRunner().invoke(
        main, ["survey", str(drawing), "--match", "family", "--alike", "6%", "--json"]
    )
    assert run.exit_code == 0, run.output
    report = json.loads(run.stdout)
    assert report["match"] == "family"
    assert report["alike"] == 0.06
    assert [k["count"] for k in report["kinds"]] == [2]
    plan = parse_plan(plan_to_toml(Plan(alike=0.06)).encode())
    assert plan.alike == 0.06
    with pytest.raises(PlanError, match="alike"):
        parse_plan(b"[symmetry]\nalike = 0.6\n")
