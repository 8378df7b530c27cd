"""Lines of a sheet averaged over its symmetry."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.linework import TraceRecord
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import Plan
from fillwork.readers import read_linework

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
