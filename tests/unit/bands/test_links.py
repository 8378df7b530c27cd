"""Which readings hold, and where pieces go on: small tables by construction."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands import links
from fillwork.bands.links import Pieces, _bulges
from fillwork.bands.pieces import Readings, read_faces
from fillwork.bands.runs import find_runs
from tests.unit.helpers import line, linework_from_curves, polyline


def readings(width, face=None, length=None, middle=None, degrees=None, ring=()):
    """Return readings by their numbers; their caps are runs 2 r and 2 r + 1."""
    count = len(width)
    caps = np.repeat(np.arange(2 * count), 2).reshape(-1, 2, 2)
    caps[list(ring)] = -1
    way = np.radians(np.zeros((count, 2)) if degrees is None else degrees)
    return Readings(
        np.arange(1, count + 1) if face is None else np.array(face),
        caps,
        np.array(width, float),
        np.array([4.0 * w for w in width] if length is None else length),
        np.zeros((count, 2, 2)) if middle is None else np.array(middle, float),
        np.stack([np.cos(way), np.sin(way)], axis=-1),
        np.zeros(count, bool),
        np.zeros(count),
    )


class Told(Pieces):
    """Hold what is told, in place of what a drawing shows."""

    def __init__(self, found: Readings, **told) -> None:
        count = len(found.face)
        self.readings = found
        self.runs = SimpleNamespace(outer=np.zeros(2 * count, bool))
        self.arrangement = SimpleNamespace(face_count=1 + int(found.face.max()))
        self.alive = np.ones(count, bool)
        self.at_edge = np.zeros(2 * count, bool)
        none = np.empty(0, np.int64)
        self.a = self.b = self.over = none
        self.ahead = np.empty(0)
        self.across_pair = self.across = self.rival_a = self.rival_b = none
        for name, value in told.items():
            setattr(self, name, np.asarray(value))


class Supported(Told):
    """Hold at how many caps each reading goes on, too."""

    def _support(self):
        return self.support

    def _widen(self):
        """Take no more readings than hold."""


def test_the_nearest_caps_go_on_in_each_other_each_once() -> None:
    # caps 0 to 7 of four readings, in pairs: 1 - 2 at 3 mm, 1 - 4 at 2, 5 - 6 at 9,
    # 3 - 6 at 9; equal ones in order of their caps
    told = Told(
        readings([4.0] * 4), a=[1, 1, 5, 3], b=[2, 4, 6, 6], ahead=[3, 2, 9, 9.0],
        over=[-1] * 4,
    )  # fmt: skip
    mate, pair = told.mates()
    assert mate.tolist() == [-1, 4, -1, 6, 1, -1, 3, -1]
    assert pair.tolist() == [-1, 1, -1, 3, 1, -1, 3, -1]
    # the first cap of all is one like others
    first = Told(
        readings([4.0] * 3), a=[0, 0, 1], b=[3, 4, 4], ahead=[1, 2, 3.0], over=[-1] * 3
    )
    assert first.mates()[0].tolist() == [3, 4, -1, 0, 1, -1]
    assert first._support().tolist() == [2, 1, 1]
    # what is no piece goes on nowhere
    told.alive[2] = False
    assert told.mates()[0].tolist() == [-1, 2, 1, 6, -1, -1, 3, -1]


def test_a_band_goes_on_under_another_that_runs_across_it() -> None:
    # caps 1 and 2 face each other under face 3, read as 2 (across) and as 3 (along)
    told = Told(
        readings([4.0] * 4, face=[1, 2, 3, 3]), a=[1], b=[2], ahead=[5.0], over=[3],
        across_pair=[0], across=[2],
    )  # fmt: skip
    mate, pair = told.mates()
    assert mate.tolist() == [-1, 2, 1] + [-1] * 5
    assert told.above(pair).tolist() == [False, False, True, False]
    assert not told.above(np.full(8, -1)).any()
    told.alive[2] = False
    assert (told.mates()[0] == -1).all()


@pytest.mark.parametrize(("width", "support", "rivals", "alive"), [
    # what goes on nowhere is none
    ([4, 4], [0, 1], [], [False, True]),
    # of two with a rail in common that which goes on at more caps
    ([4, 4], [2, 1], [(0, 1)], [True, False]),
    ([4, 4], [1, 2], [(0, 1)], [False, True]),
    # of equal ones the narrower by a fifth
    ([3.1, 4], [1, 1], [(0, 1)], [True, False]),
    ([4, 3.1], [1, 1], [(0, 1)], [False, True]),
    ([3.3, 4], [1, 1], [(0, 1)], [False, False]),
    ([4, 4], [2, 2], [(0, 1)], [False, False]),
    # one cap more is little for what is three times as broad, two are not
    ([4, 12.1], [1, 2], [(0, 1)], [True, False]),
    ([12.1, 4], [2, 1], [(0, 1)], [False, True]),
    ([4, 11.9], [1, 2], [(0, 1)], [False, True]),
    ([4, 12.1], [1, 3], [(0, 1)], [False, True]),
    # what loses to none decides first: 0 drops 1, and 2 stays
    ([4, 4, 4], [3, 2, 1], [(0, 1), (1, 2)], [True, False, True]),
    # and what is equal when nothing is left
    ([4, 4, 4], [3, 1, 1], [(0, 1), (1, 2)], [True, False, True]),
])  # fmt: skip
def test_of_two_readings_that_share_a_rail_one_holds(
    width, support, rivals, alive, monkeypatch
) -> None:
    monkeypatch.setattr(links, "along_frames", lambda *a: np.zeros(len(a[2]), bool))
    rival = np.array(rivals, np.int64).reshape(-1, 2)
    told = Supported(
        readings(width), support=support, rival_a=rival[:, 0], rival_b=rival[:, 1]
    )
    told.settle()
    assert told.alive.tolist() == alive


@pytest.mark.parametrize(("along", "cut", "support", "alive"), [
    # between a band and a frame beside it lies ground, whatever goes on there
    ([True, False], [], [2, 1], [False, True]),
    ([False, True], [], [1, 2], [True, False]),
    ([True, True], [], [2, 1], [True, False]),
    # of equal ones that which no frame cuts
    ([False, False], [0], [1, 1], [False, True]),
    ([False, False], [3], [1, 1], [True, False]),
    ([False, False], [0, 3], [1, 1], [False, False]),
    ([False, False], [0], [2, 1], [True, False]),
])  # fmt: skip
def test_frames_beside_readings_tell_which_of_two_holds(
    along, cut, support, alive, monkeypatch
) -> None:
    monkeypatch.setattr(links, "along_frames", lambda *_: np.array(along))
    told = Supported(readings([4, 4]), support=support, rival_a=[0], rival_b=[1])
    told.runs.outer[cut] = True
    told.settle()
    assert told.alive.tolist() == alive


def test_what_is_as_wide_as_bands_and_ends_on_them_is_taken() -> None:
    # readings 0 and 1 hold at 4 and 6 mm; the others end at edges, on bands, or go on
    found = readings([4, 6, 4.19, 4.22, 5.73, 5.7, 4, 4, 4, 4], ring=[8])
    runs = SimpleNamespace(start=np.arange(21), half=2 * np.arange(20))
    # the face beyond the one cap of each, that of reading 0 beyond the caps of 6
    beyond = np.zeros(40, np.int64)
    beyond[runs.half[[12, 13]] ^ 1] = 1
    told = Told(
        found, a=[14], b=[3], ahead=[1.0], over=[-1],
        at_edge=[*[True] * 12, False, False, False, *[True] * 4, False],
    )  # fmt: skip
    told.runs = runs
    told.arrangement.face = beyond
    told.alive[2:] = False
    told._widen()
    # within a twentieth of 4 or of 6: 4.19 and 5.73, not 4.22 and 5.7; 6 ends on bands
    # on both sides, 7 goes on and ends at an edge, 9 ends at one alone; a ring is none
    taken = [True, True, True, False, True, False, True, True, False, False]
    assert told.alive.tolist() == taken
    # of two that share a rail neither is, unless it holds already
    told.alive[2:] = False
    told.rival_a, told.rival_b = np.array([2, 0]), np.array([4, 7])
    told._widen()
    taken = [True, True, False, False, False, False, True, False, False, False]
    assert told.alive.tolist() == taken
    # without bands there is nothing to be as wide as
    told.alive[:] = False
    told._widen()
    assert not told.alive.any()


def test_faces_are_crossings_or_read_one_way() -> None:
    # face 1 with 3 ends in all is a crossing, face 2 with 2 none: the better one stays,
    # the narrower of equal ones; face 3 has one reading
    found = readings([4, 5, 4, 5, 6, 5, 4], face=[1, 1, 2, 2, 3, 4, 4])
    told = Supported(found, support=[2, 1, 0, 2, 1, 1, 1])
    told._one_reading_a_face()
    assert told.alive.tolist() == [True, True, False, True, True, False, True]
    assert told.crossing.tolist() == [False, True, False, False, False]
    # of three readings none is a crossing
    three = Supported(readings([4, 5, 6], face=[1, 1, 1]), support=[2, 2, 2])
    three._one_reading_a_face()
    assert three.alive.tolist() == [True, False, False]
    # nor where both have the end in common that a frame cuts
    for cap, outer, both in ((0, True, True), (0, False, False), (2, False, True)):
        same = readings([4, 5], face=[1, 1])
        same.caps[1, 0, 0] = cap
        told = Supported(same, support=[2, 2])
        told.runs.outer[0] = outer
        told._one_reading_a_face()
        assert told.alive.tolist() == [True, both]
        assert told.crossing[1] == both


def test_ends_that_go_on_or_lie_at_an_edge_are_counted() -> None:
    # 0 - 1 - 2 in line, 2 ends at an edge; 3 ends at edges alone; 4 at one
    told = Told(
        readings([4.0] * 5), a=[1, 3], b=[2, 4], ahead=[1.0, 1.0], over=[-1, -1],
        at_edge=[False] * 5 + [True] * 4 + [False],
    )  # fmt: skip
    assert told._support().tolist() == [1, 2, 2, 0, 0]
    # under 3 another one goes on from 0 to 1, which is one more where half of all
    # pairs are hidden; from edge to edge over others is as good as two
    told.over = np.array([4, -1])
    told.across_pair, told.across = np.array([0]), np.array([3])
    assert told._support().tolist() == [1, 2, 2, 3, 0]
    # one of three is less than half
    told.a, told.b = np.array([1, 3, 8]), np.array([2, 4, 9])
    told.over, told.ahead = np.array([4, -1, -1]), np.ones(3)
    assert told._support().tolist() == [1, 2, 2, 2, 2]


def test_rings_hold_by_what_passes_under_them() -> None:
    for under, held in ((1, 1), (2, 2), (3, 2)):
        count = 2 * under
        found = readings([4.0] * (count + 1), ring=[count])
        pairs = np.arange(under)
        told = Told(
            found, a=4 * pairs + 1, b=4 * pairs + 2, ahead=np.ones(under),
            over=np.full(under, count + 1), across_pair=pairs,
            across=np.full(under, count),
        )  # fmt: skip
        # and one more, since bands go on under it
        assert told._support()[-1] == held + 1


def test_caps_are_grouped_with_those_as_wide() -> None:
    width = [4.0, 4.2, 4.6, 8.0]
    told = Told(readings(width))
    caps = 2 * np.arange(4)
    groups = told._of_like_width(caps, caps + 1)
    asked = np.concatenate([one for one, _ in groups])
    assert sorted(asked.tolist()) == caps.tolist()
    with_ = {int(c): {*other.tolist()} for one, other in groups for c in one}
    for i, j in np.ndindex(4, 4):
        # what differs by a tenth of the mean at most is among them, twice as wide not
        apart = abs(width[i] - width[j]) / (width[i] + width[j]) * 2
        if apart <= 0.1:
            assert 2 * j + 1 in with_[2 * i]
    assert 7 not in with_[0] | with_[2] | with_[4]
    assert with_[6] == {7}
    none = caps[:0]
    assert [len(v) for v in told._of_like_width(none, caps)[0]] == [0, 4]


def test_pairs_are_told_with_what_runs_across_what_lies_over() -> None:
    # face 3 is read level (2), upright (3) and curved (4); the pair runs level
    found = readings(
        [4.0] * 6, face=[1, 2, 3, 3, 3, 4],
        degrees=[[0, 180], [0, 180], [180, 0], [90, 270], [0, 90], [9, 189]],
    )  # fmt: skip
    found.curved[4] = True
    told = Told(found, over=[3, -1, 4])
    along = np.array([[1.0, 0], [1, 0], [1, 0]])
    told._across(along)
    rows = list(zip(told.across_pair.tolist(), told.across.tolist(), strict=True))
    # bands cross at no flatter angle than 10 degrees
    assert rows == [(0, 3), (0, 4)]
    found.out[5] = [[np.cos(0.18), np.sin(0.18)]] * 2  # 10.3 degrees
    told._across(along)
    assert (2, 5) in zip(told.across_pair.tolist(), told.across.tolist(), strict=True)


def drawn(*rows, wide=200.0):
    frame = polyline([(0, 0), (wide, 0), (wide, 200), (0, 200)], closed=True)
    lines = [*rows, *(line(*row) for row in frame.tolist())]
    work = linework_from_curves(lines, wide, 200)
    return build_arrangement(work, close_gaps=0.0)


def pieces_of(arrangement, width):
    runs = find_runs(arrangement)
    found = read_faces(arrangement, runs)
    rows = np.flatnonzero(np.abs(found.width - width) < 0.3 * width)
    return Pieces(arrangement, runs, found.take(rows), None)


def turned(rows, degrees):
    """Return lines turned about the middle of the drawing."""
    a = math.radians(degrees)
    c, s = math.cos(a), math.sin(a)
    found = []
    for row in np.array(rows, float):
        x, y = row[0::2] - 100, row[1::2] - 100
        at = np.stack([100 + c * x - s * y, 100 + s * x + c * y], axis=1)
        found.append(line(*at.reshape(-1).tolist()))
    return found


def parted(gap=6.0, aside=0.0, other=6.0, lean=0.0, degrees=0.0):
    """Return the pieces of a level band 6 mm wide that goes on beyond an upright slab.

    Beyond it the band is `other` wide, `aside` off its line, and leans by so many
    degrees about the middle of the gap. All is turned by `degrees`.
    """
    a, b = 100.0 - gap / 2, 100.0 + gap / 2
    rows = [[a, 40, a, 160], [b, 40, b, 160], [a, 40, b, 40], [a, 160, b, 160]]
    rows += [[40, y, a, y] for y in (97, 103)] + [[40, 97, 40, 103]]
    rise, ends = math.tan(math.radians(lean)), []
    for off in (-other / 2, other / 2):
        off = off / math.cos(math.radians(lean)) + aside
        ends += [160, 100 + off + 60 * rise]
        rows.append([b, 100 + off + (b - 100) * rise, *ends[-2:]])
    arrangement = drawn(*turned([*rows, ends], degrees))
    runs = find_runs(arrangement)
    found = read_faces(arrangement, runs)
    level = (np.abs(found.width - 6) < 1) & (np.abs(found.length - 60) < 20)
    slab = np.abs(found.length - 120) < 1e-6
    assert level.sum() == 2
    pieces = Pieces(arrangement, runs, found.take(np.flatnonzero(level | slab)), None)
    middle = arrangement.faces_at(np.array([[100.0, 100]]))
    hidden = pieces.over >= 0
    assert (pieces.over[hidden] == middle).all()
    assert (pieces.mates()[0] >= 0).sum() == 2 * hidden.sum()
    return pieces, hidden


@pytest.mark.parametrize("degrees", [0.0, 25.0, 110.0, 205.0])
@pytest.mark.parametrize(("how", "on"), [
    # up to five widths out of sight
    ({"gap": 29.0}, True), ({"gap": 31.0}, False),
    # a tenth of a width off its line, on either side
    ({"aside": 0.5}, True), ({"aside": 0.7}, False),
    ({"aside": -0.5}, True), ({"aside": -0.7}, False),
    # widths that differ by a tenth of their mean
    ({"other": 6.5}, True), ({"other": 5.5}, True), ({"other": 6.8}, False),
    # turned by nine degrees, on either side
    ({"lean": 8.5}, True), ({"lean": 9.5}, False), ({"lean": -8.5}, True),
    ({"lean": -9.5}, False), ({"lean": 8.5, "gap": 20.0}, True),
])  # fmt: skip
def test_straight_bands_go_on_under_others_in_line(how, on, degrees) -> None:
    pieces, hidden = parted(**how, degrees=degrees)
    assert hidden.sum() == on
    if on and not how.get("lean"):
        assert pieces.ahead[hidden] == pytest.approx([how.get("gap", 6.0)])


@pytest.mark.parametrize(("half", "on"), [(4.0, True), (6.5, True), (7.0, False)])
def test_curved_bands_go_on_round_under_others(half, on) -> None:
    # an arc of 20 mm, 6 wide, parted by an upright slab: its rails of 17 and 23 turn by
    # asin(half / 17) and asin(half / 23) up to there, in the mean 19.4 or 21.1 degrees
    rows = []
    for radius in (17.0, 23.0):
        x = math.asin(half / radius)
        rows += [
            (1, [100, 80, radius, 0, 0, radius, math.pi / 2 + x, math.pi]),
            (1, [100, 80, radius, 0, 0, radius, 0.0, math.pi / 2 - x]),
        ]
    rows += [line(x, 80, x + 6, 80) for x in (77, 117)]
    a, b = 100 - half, 100 + half
    rows += [line(a, 60, a, 160), line(b, 60, b, 160), line(a, 60, b, 60)]
    rows.append(line(a, 160, b, 160))
    arrangement = drawn(*rows)
    runs = find_runs(arrangement)
    found = read_faces(arrangement, runs)
    some = np.abs(found.width - 6) < 0.5
    assert some.sum() == 2
    some |= np.abs(found.length - 100) < 1e-6
    pieces = Pieces(arrangement, runs, found.take(np.flatnonzero(some)), None)
    assert (pieces.over >= 0).sum() == on


def test_readings_of_two_faces_with_a_rail_between_are_rivals() -> None:
    # three strips side by side, crossed so that each has a piece between
    rows = [line(0, y, 200, y) for y in (100, 106, 112, 118)]
    rows += [line(x, 0, x, 200) for x in (60, 140)]
    arrangement = drawn(*rows)
    pieces = pieces_of(arrangement, 6.0)
    face = pieces.readings.face
    told = arrangement.faces_at(np.array([[100.0, y] for y in (103, 109, 115)]))
    rows_of = {int(f): k for k, f in enumerate(told.tolist())}
    pairs = {
        tuple(sorted((rows_of[int(face[i])], rows_of[int(face[j])])))
        for i, j in zip(pieces.rival_a, pieces.rival_b, strict=True)
        if int(face[i]) in rows_of and int(face[j]) in rows_of
    }
    assert pairs == {(0, 1), (1, 2)}
    # each pair once; what shares a corner or a cap alone is no rival
    assert len(pieces.rival_a) == 3 * 2
    for i, j in zip(pieces.rival_a, pieces.rival_b, strict=True):
        one, other = arrangement.witness[face[[i, j]]]
        assert one[1] != pytest.approx(other[1])


def test_caps_at_the_outside_or_at_free_ends_are_at_an_edge() -> None:
    # a band from the frame that ends freely, with a line across
    rows = [line(0, 100, 60, 100), line(0, 106, 60, 106), line(60, 100, 60, 106)]
    arrangement = drawn(*rows, line(30, 0, 30, 200))
    pieces = pieces_of(arrangement, 6.0)
    at = pieces.readings.middle.reshape(-1, 2).round(6)
    told = {tuple(p): bool(e) for p, e in zip(at.tolist(), pieces.at_edge, strict=True)}
    assert told[0.0, 103.0]
    assert not told[30.0, 103.0]
    assert told[60.0, 103.0]
    # what lies at a face that is cut is at an edge, too
    cut = np.zeros(arrangement.face_count, bool)
    cut[arrangement.faces_at(np.array([[45.0, 103]]))] = True
    assert pieces._at_an_edge(cut).all()


def test_a_cap_bulges_as_far_as_a_parabola_of_its_area() -> None:
    # a level band whose one cap is bent outward by 0.2 mm in its middle: 0.6 mm² over
    # a chord of 6, and of a parabola that is two thirds of chord times sag
    rows = [line(20, y, 100, y) for y in (100, 106)] + [line(20, 100, 20, 106)]
    rows += [line(100, 100, 100.2, 103), line(100.2, 103, 100, 106)]
    rows += [line(100, 50, 100, 100), line(100, 106, 100, 150)]
    pieces = pieces_of(drawn(*rows), 6.0)
    bulge = _bulges(pieces.runs, pieces.readings.caps)
    at = pieces.readings.middle.reshape(-1, 2)
    assert sorted(at[:, 0].tolist()) == pytest.approx([20, 100])
    flat = np.argmin(at[:, 0])
    assert bulge[[flat, 1 - flat]] == pytest.approx([0, 1.5 * 0.6 / 6], abs=1e-9)
    # caps stand in the order of the readings
    assert _bulges(pieces.runs, pieces.readings.caps[:, ::-1]).tolist() == (
        bulge[::-1].tolist()
    )
