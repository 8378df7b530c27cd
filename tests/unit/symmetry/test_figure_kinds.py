"""Kinds that make stars, arcs that close with frames, and thin pieces at a frame."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.kinds import figures
from fillwork.symmetry.kinds.drawn import Drawn
from fillwork.symmetry.zones import arcs
from tests.unit.symmetry.answers import given
from tests.unit.symmetry.test_frame_rules import ring, straight
from tests.unit.symmetry.test_zone_parts import grid

# faces 1 and 7 are hearts of five points each, 13 to 17 ground
HEARTS = [(1, k) for k in range(2, 7)] + [(7, k) for k in range(8, 13)]
KIND = np.array([-1, 0, *[1] * 5, 2, *[3] * 5, *[4] * 5])


def classed(patch, pairs=HEARTS, *, hubs=(), kind=KIND, family=None, whole=None):
    heart, point = np.array(pairs, int).reshape(-1, 2).T
    given(
        patch,
        figures,
        _hearts=(heart, point),
        _hubs=np.array(hubs, int),
    )
    whole = np.ones(len(kind), bool) if whole is None else whole
    family = np.arange(kind.max() + 1) if family is None else np.array(family)
    label, drawn = figures.class_figures(None, kind, whole, family)
    return label.tolist(), drawn.tolist()


def test_hearts_and_their_points_are_figures_of_one_sort(monkeypatch) -> None:
    label, drawn = classed(monkeypatch)
    assert label[0] == label[1] != label[2] == label[3]
    assert label[4] not in label[:4]
    assert drawn == [True] * 4 + [False]
    # of one family of hearts they are of one sort
    label, _ = classed(monkeypatch, family=[0, 1, 0, 3, 4])
    assert len(set(label[:4])) == 1
    label, _ = classed(monkeypatch, family=[0, 1, 2, 1, 4])
    assert len(set(label[:4])) == 2
    # beside figures those of one family are together
    label, _ = classed(monkeypatch, HEARTS[:5], family=[0, 1, 3, 3, 4])
    assert label[2] == label[3] != label[4]


@pytest.mark.parametrize(("count", "told"), [(3, True), (2, False)])
def test_most_regions_of_a_kind_are_in_one_figure(monkeypatch, count, told) -> None:
    _, drawn = classed(monkeypatch, [*HEARTS[:count], *HEARTS[5:]])
    assert drawn == [told] * 2 + [True] * 2 + [False]
    # a region of several figures makes none of them
    both = [*HEARTS, *((7, k) for k in range(2, 7 - count))]
    _, drawn = classed(monkeypatch, both)
    assert drawn[0] is drawn[1] is told
    # those that are cut do not count
    whole = ~np.isin(np.arange(18), range(2 + count, 7))
    _, drawn = classed(monkeypatch, [*HEARTS[:count], *HEARTS[5:]], whole=whole)
    assert drawn[0]


def test_regions_round_a_point_are_a_star(monkeypatch) -> None:
    ground = range(13, 18)
    label, drawn = classed(monkeypatch, hubs=ground)
    assert drawn == [True] * 5
    assert label[4] not in label[:4]
    assert classed(monkeypatch, hubs=list(ground)[:3])[1][4]
    assert not classed(monkeypatch, hubs=list(ground)[:2])[1][4]
    # round several points they are none
    twice = [*ground, *list(ground)[:3]]
    assert not classed(monkeypatch, hubs=twice)[1][4]
    # a star and what is of its family beside figures are two
    label, _ = classed(monkeypatch, HEARTS[:5], hubs=ground, family=[0, 1, 4, 3, 4])
    assert label[2] != label[4]


def test_regions_beside_an_arc_are_counted_on_each_side() -> None:
    # four edges of a square about (0, 0), of which two are walked the other way
    corners = np.array([[1.0, 0], [0, 1], [-1, 0], [0, -1]])
    drawing = SimpleNamespace(
        vertices=corners,
        origin=np.array([0, 1, 2, 1, 2, 3, 0, 3]),
        face=np.array([9, 1, 2, 9, 9, 3, 4, 9]),
    )
    run = replace(ring(0, 0, 1.0), edges=np.arange(4))
    assert arcs._regions_beside(drawing, run) == 4
    drawing.face = np.array([9, 1, 1, 8, 7, 1, 1, 6])
    assert arcs._regions_beside(drawing, run) == 4
    assert arcs._regions_beside(drawing, replace(run, edges=np.arange(2))) == 2


def framed(patch, *, count=1, beside=None, legs=(), at=((0.0, 0), (60.0, 0)), **facts):
    """Tell which arcs and legs close with a frame line at the foot of both ends."""
    usual = {"length": 200.0, "crossed": 0.0, "both": 0.0, "closed": False}
    facts = usual | facts
    own = [replace(ring(30, 0, 30.0 * 1.1**k), **facts) for k in range(count)]
    frame = straight(-50, 0, 100, 0)
    given(
        patch,
        arcs,
        _regions_beside=arcs._BESIDE if beside is None else beside,
        _tips=np.array(at),
        _vertices=lambda a, run: np.array(at) if run.round else run.ends,
    )
    clear = [*own, *legs, straight(0, -90, 90, -90)]
    # the frame has vertices where the arc may end
    frame = replace(frame, ends=np.array([[0.0, 0], [60, 0]]))
    told = arcs.framing_arcs(None, clear, [frame], 10.0)
    return len([r for r in told if r.round]), len([r for r in told if not r.round])


def test_arcs_that_end_on_a_frame_are_its_own(monkeypatch) -> None:
    assert framed(monkeypatch) == (1, 0)
    for short, told in ((arcs._LONG * 10, 1), (arcs._LONG * 10 - 0.1, 0)):
        assert framed(monkeypatch, length=short)[0] == told
    for clear, told in ((arcs._CLEAR, 1), (arcs._CLEAR + 0.01, 0)):
        assert framed(monkeypatch, crossed=clear)[0] == told
        assert framed(monkeypatch, both=clear)[0] == told
    assert framed(monkeypatch, closed=True)[0] == 0
    assert framed(monkeypatch, beside=arcs._BESIDE - 1)[0] == 0
    # both ends within a quarter of a unit
    for off, told in ((2.4, 1), (2.6, 0)):
        assert framed(monkeypatch, at=((0, off), (60.0, 0)))[0] == told
        assert framed(monkeypatch, at=((0, 0), (60.0, off)))[0] == told
    # six of one radius are cells of a pattern
    assert framed(monkeypatch, count=6)[0] == 6


def test_legs_lead_from_an_arc_to_a_frame(monkeypatch) -> None:
    high = ((0.0, 20), (60.0, 20))
    assert framed(monkeypatch, at=high) == (0, 0)
    legs = [straight(0, 0, 0, 20), straight(60, 0, 60, 20)]
    assert framed(monkeypatch, at=high, legs=legs) == (1, 2)
    # both are wanted
    assert framed(monkeypatch, at=high, legs=legs[:1]) == (0, 0)
    crossed = [replace(leg, crossed=arcs._CLEAR + 0.01) for leg in legs]
    assert framed(monkeypatch, at=high, legs=crossed) == (0, 0)
    short = [replace(leg, length=arcs._LEG * 10 - 0.1) for leg in legs]
    assert framed(monkeypatch, at=high, legs=short) == (0, 0)
    # what ends elsewhere is no leg of it, and one that hangs in the air none
    aside = [*legs, straight(0, 26, 0, 60)]
    assert framed(monkeypatch, at=high, legs=aside) == (1, 2)
    up = [straight(0, 5, 0, 20), straight(60, 0, 60, 20)]
    assert framed(monkeypatch, at=high, legs=up) == (0, 0)


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_points_of_thin_pieces_lie_behind_the_frame(order) -> None:
    # a piece 0.6 mm wide beside a square, both at a frame on the left
    drawing = grid([0.0, 0.6, 20], [0.0, 20])
    thin, wide = drawing.faces_at(np.array([[0.3, 10], [10, 10]]))
    heads = np.array([thin, wide])[list(order)]
    half = np.flatnonzero(drawing.face == thin)
    x = drawing.vertices[drawing.origin[np.stack([half, half ^ 1])], 0]
    side = half[(x < 1e-9).all(axis=0)]
    assert len(side) == 1
    row = order.index(0)

    def points(noise):
        found, of = Drawn(drawing, heads, side, noise).points(np.arange(2))
        return found[of == row], found[of != row]

    # four times what lines stray by is more than the 0.3 mm of its circle
    own, others = points(0.076)
    # a quarter, a half and three quarters of its side, two and four times as far out
    wanted = sorted((-0.076 * d, 5.0 * s) for s in (1, 2, 3) for d in (2, 4))
    assert np.allclose(sorted(map(tuple, own.tolist())), wanted)
    assert (others[:, 0] > 0.6).all()
    own, _ = points(0.074)
    assert (own[:, 0] > 0).all()
