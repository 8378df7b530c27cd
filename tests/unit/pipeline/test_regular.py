"""Lines of a sheet averaged over its symmetry."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.linework import TraceRecord
from fillwork.pipeline import laying
from fillwork.pipeline import regular as room
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import Plan
from fillwork.readers import read_linework
from fillwork.symmetry.zones import find

if TYPE_CHECKING:
    from fillwork.geometry.curves import Curves


def _star(stray: float) -> tuple[np.ndarray, str]:
    """A star of eight points with its spokes and a circle, drawn by a hand."""
    rng = np.random.default_rng(5)
    angle = np.pi / 8 * np.arange(16)
    radius = np.where(np.arange(16) % 2, 22.0, 40.0)
    true = 50 + radius[:, None] * np.c_[np.cos(angle), np.sin(angle)]
    at = true + rng.uniform(-stray, stray, true.shape)
    around = " ".join(f"{x:.4f},{y:.4f}" for x, y in at)
    spokes = "".join(f"M50,50 L{x:.4f},{y:.4f}" for x, y in at)
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        f'viewBox="0 0 100 100" fill="none" stroke="#000"><path d="M{around} Z"/>'
        f'<path d="{spokes}"/></svg>'
    )
    return true, svg


def test_a_star_becomes_regular_only_when_asked() -> None:
    true, svg = _star(0.08)
    lines = read_linework(svg.encode(), name="star.svg")
    # as if it had been traced
    record = TraceRecord(True, (), (100.0, 100.0), (), 0.5, 300.0)
    lines = replace(lines, trace=record)
    plain = make_survey(lines, Plan())
    told = [n for n in plain.notes if n.type == "lines nearly regular"]
    assert len(told) == 1
    assert plain.linework.curves is lines.curves
    plan = replace(Plan(), scan=replace(Plan().scan, regular=True))
    assert parse_plan(plan_to_toml(plan).encode()).scan.regular
    done = make_survey(lines, plan)
    assert [n.type for n in done.notes if n.stage == "symmetry"] == ["lines averaged"]
    assert done.arrangement.face_count == plain.arrangement.face_count == 17
    # y up, turned about its own middle: each point is as far from it as its like
    ends = _ends(done.linework.curves)
    middle = ends[np.argmin(np.hypot(*(ends - 50).T))]
    far = np.hypot(*(ends - middle).T)
    for radius in (22.0, 40.0):
        own = far[np.abs(far - radius) < 5.0]
        assert np.ptp(own) < 1e-6
        assert abs(own.mean() - radius) < 0.12
    assert len(true) == 16


def _ends(curves: Curves) -> np.ndarray:
    rows = np.arange(len(curves))
    return np.vstack([curves.point(rows, np.full(len(rows), t)) for t in (0.0, 1.0)])


def test_a_cell_by_hand_is_evened_out_before_it_is_laid(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # a square of 60 mm and in it a square on its tip, by a hand that strays by 0.3 mm
    rng = np.random.default_rng(2)
    tip = np.array([[50, 20], [80, 50], [50, 80], [20, 50]]) * 1.0
    corner = np.array([[20, 20], [80, 20], [80, 80], [20, 80]]) * 1.0
    tip += rng.uniform(-0.3, 0.3, (4, 2)) * [[1, 0], [0, 1], [1, 0], [0, 1]]
    around = np.stack([corner, tip], axis=1).reshape(-1, 2)
    frame = " ".join(f"{x:.4f},{y:.4f}" for x, y in around)
    inner = " ".join(f"{x:.4f},{y:.4f}" for x, y in tip)
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        'viewBox="0 0 100 100" fill="none" stroke="#000" stroke-width="0.5">'
        f'<path d="M{frame} Z"/><path d="M{inner} Z"/></svg>'
    )
    record = TraceRecord(True, (), (100.0, 100.0), (), 0.5, 300.0)
    read = laying.read_chosen
    monkeypatch.setattr(
        laying,
        "read_chosen",
        lambda *given, **named: replace(read(*given, **named), trace=record),
    )
    spread = []
    for regular in (False, True):
        scan = replace(Plan().scan, regular=regular)
        over = replace(Plan().laying, over=(180.0, 240.0), place_at=(0.0, 0.0))
        plan = replace(Plan(), scan=scan, laying=over)
        laid = make_survey(svg.encode(), plan, name="cell.svg")
        # a corner is an eighth of the square
        small = laid.arrangement.area[1:] < 500
        whole = laid.arrangement.area[1:][small & ~laid.orbits.cut[1:]]
        assert len(whole) > 20
        spread.append(float(np.ptp(whole)))
    assert spread[0] > 1.0
    assert spread[1] < 0.1


@pytest.mark.parametrize("wanted", [False, True])
def test_lines_that_no_hand_drew_are_left_as_they_are(wanted: bool) -> None:
    lines = read_linework(_star(0.08)[1].encode(), name="star.svg")
    plan = replace(Plan(), scan=replace(Plan().scan, regular=wanted))
    found = make_survey(lines, plan)
    assert found.linework.curves is lines.curves
    assert not [n for n in found.notes if n.type.startswith("lines ")]


def zone(family="plane", *, certain=True, group="p4m"):
    """Return a zone as far as it decides whether lines are averaged."""
    named = SimpleNamespace(family=family, title=f"{family} {group}", short=group)
    symmetry = SimpleNamespace(group=named, certain=certain, stated=False)
    return SimpleNamespace(symmetry=symmetry)


@pytest.mark.parametrize(
    ("zones", "wanted", "move", "after", "told"),
    [
        # no one symmetry, and asked for or not
        ((), True, 0.5, 9, "lines not averaged"),
        ((zone(), zone()), True, 0.5, 9, "lines not averaged"),
        ((zone("none", group="none"),), True, 0.5, 9, "lines not averaged"),
        ((zone(certain=False),), True, 0.5, 9, "lines not averaged"),
        ((zone("none", group="none"),), False, 0.5, 9, None),
        # offered where it is seen
        ((zone(),), False, 0.02, 9, "lines nearly regular"),
        ((zone(),), False, 0.019, 9, None),
        # averaged, unless regions or their symmetry would be others
        ((zone(),), True, 0.001, 9, "lines averaged"),
        ((zone(),), True, 0.5, 8, "lines not averaged"),
        ((zone(group="p4g"),), True, 0.5, 9, "lines not averaged"),
    ],
)
def test_lines_are_averaged_where_that_changes_nothing_else(
    zones, wanted, move, after, told, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn, averaged = (read_linework(_star(s)[1].encode()) for s in (0.0, 0.1))
    same = zone()
    for each in zones:
        if each.symmetry.group.short == "p4m":
            each.symmetry.group = same.symmetry.group
    monkeypatch.setattr(room, "_average_lines", lambda *_: (averaged, move))
    monkeypatch.setattr(find, "find_zones", lambda *_, **__: (same,))
    before, regions = SimpleNamespace(face_count=9), SimpleNamespace(face_count=after)
    lines, found, of = room.regular_lines(
        drawn, before, zones, lambda _: regions, wanted=wanted
    )
    moved = told == "lines averaged"
    assert [n.type for n in lines.notes if n.type.startswith("lines ")] == (
        [told] if told else []
    )
    assert (lines.curves is drawn.curves) != moved
    assert found is (regions if moved else before)
    assert of == ((same,) if moved else zones)
