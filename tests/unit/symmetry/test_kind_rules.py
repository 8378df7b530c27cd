"""Kinds step by step: families, figures, places, cosets, pieces and what is said."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.symmetry.faces.congruence import (
    _nearest,
    _rotation_order,
    _slack,
    _split_by_gaps,
    _turn_classes,
)
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.faces.places import marks_of_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.kinds.agree import _share_on_rim, contradicted
from fillwork.symmetry.kinds.classing import (
    _closure,
    _cosets,
    _free_kinds,
    _gaps,
    _heads,
    _join_places,
    _noise,
    _scatter,
    _site_name,
    _strays,
    class_faces,
)
from fillwork.symmetry.kinds.drawn import Drawn, Places
from fillwork.symmetry.kinds.families import class_families
from fillwork.symmetry.kinds.figures import class_figures
from fillwork.symmetry.kinds.layers import grounds, layers
from fillwork.symmetry.kinds.names import _middle, _ring_area, _touching_kinds
from fillwork.symmetry.kinds.orbits import _doubt, _members
from fillwork.symmetry.kinds.pieces import sample_points
from fillwork.symmetry.model import Lattice, Orbit, Symmetry, Zone
from fillwork.symmetry.quotient import quotient_of
from tests.unit.helpers import line
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_faces import MIDDLE, box, rings
from tests.unit.symmetry.test_zone_faces import about, along_x, spots
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

PLANE = quotient_of(
    replace(
        symmetry("plane", "p1"), lattice=Lattice(np.array([[20.0, 0], [0, 30]]), "")
    )
)
ROW = quotient_of(along_x("p2mm", 20.0, (0.0, 0.0)))
SLANTED = quotient_of(
    replace(symmetry("plane", "p1"), lattice=Lattice(np.array([[8.0, 0], [3, 7]]), ""))
)


def test_places_are_folded_into_the_cell() -> None:
    points = np.array([[25.0, 65], [-1, -1], [39, 29], [0, 30]])
    assert PLANE.fold(points).tolist() == [[5, 5], [19, 29], [19, 29], [0, 0]]
    # a strip is folded along itself alone
    assert ROW.fold(points).tolist() == [[5, 65], [19, -1], [19, 29], [0, 30]]
    free = quotient_of(NOTHING)
    assert free.fold(points) is points
    assert free.nearest(points) is points
    assert PLANE.nearest(points).tolist() == [[5, 5], [-1, -1], [-1, -1], [0, 0]]
    assert ROW.nearest(points).tolist() == [[5, 65], [-1, -1], [-1, 29], [0, 30]]
    u = SLANTED.fold(points) @ np.linalg.inv(SLANTED.basis)
    assert ((u >= -1e-9) & (u < 1 + 1e-9)).all()


@pytest.mark.parametrize("quotient", [PLANE, ROW, SLANTED])
@pytest.mark.parametrize("reach", [1.0, 25.0, 70.0])
def test_copies_bring_all_within_reach_into_the_cell(quotient, reach) -> None:
    found = quotient.copies(reach)
    assert found[0].tolist() == [0, 0]
    steps = np.linalg.lstsq(quotient.basis.T, found.T, rcond=None)[0].T
    assert np.allclose(steps, np.rint(steps), atol=1e-9)
    whole = {tuple(s) for s in np.rint(steps).astype(int).tolist()}
    assert len(whole) == len(found)
    # each shift that lays a point of the cell within reach of it is among them
    width = 1 / np.linalg.norm(quotient.inverse_basis, axis=0)
    most = np.ceil(reach / width).astype(int)
    spans = [range(-m - 1, m + 2) for m in most]
    assert len(whole) == math.prod(len(s) for s in spans)
    assert all(abs(k) <= m + 1 for w in whole for k, m in zip(w, most, strict=True))


def test_a_rosette_and_none_have_no_copies() -> None:
    for found in (about(5), NOTHING):
        quotient = quotient_of(found)
        assert quotient.copies(50.0).tolist() == [[0, 0]]
        assert quotient.basis.shape == (0, 2)
        assert quotient.inverse_basis.shape == (2, 0)
    assert quotient.order == 1
    assert quotient.turns.tolist() == [True]
    five = quotient_of(about(5, 0.0))
    assert five.order == 10
    assert five.turns.tolist() == [True] * 5 + [False] * 5
    for linear, shift in zip(five.linear, five.shift, strict=True):
        assert np.allclose(linear @ [50, 50] + shift, [50, 50])
    # products and inverses in numbers: turns add, a mirror after itself is nothing
    k = np.arange(5)
    assert (five.product[:5, :5] == (k[:, None] + k) % 5).all()
    assert five.inverse[:5].tolist() == [0, 4, 3, 2, 1]
    assert (np.diag(five.product)[5:] == 0).all()


def test_the_pose_of_an_outline_is_the_mean_of_its_powers() -> None:
    # a triangle about its centre: means along its sides, weighed by their lengths
    corners = np.array([[0, 0], [90, 0], [40, 50]], float) + 100
    drawing = rings(corners)
    measures = measure_faces(drawing)
    away = (corners - corners.mean(axis=0)) @ [1, 1j] / math.sqrt(2250)
    side = np.roll(away, -1) - away
    t = (np.arange(2000) + 0.5) / 2000
    length = np.abs(side)
    for k, told in enumerate(measures.pose[1], 1):
        means = ((away[:, None] + t * side[:, None]) ** k).mean(axis=1)
        assert told == pytest.approx((length * means).sum() / length.sum(), abs=1e-6)
    assert measures.inscribed[1] == pytest.approx(
        2
        * 2250
        / np.hypot(*np.diff(np.vstack([corners, corners[:1]]), axis=0).T).sum(),
        rel=0.02,
    )


def test_traits_of_copies_fall_below_a_gap() -> None:
    # sizes about 10 mm: copies that differ by some 0.002 mm, others by 0.5 mm
    rng = np.random.default_rng(3)
    base = np.repeat(10 + 0.5 * np.arange(12), 4)
    traits = np.column_stack(
        [base + 0.001 * rng.standard_normal(48), np.zeros((48, 5))]
    )
    slack = _slack(traits, np.arange(48), 0.0)
    assert 0.001 < slack < 0.02
    # those that are only shifted count once, and one alone tells nothing
    assert _slack(traits[:1], np.zeros(3, int), 0.5) == pytest.approx(0.01)
    assert _slack(traits[:1], np.zeros(3, int), 0.0) == pytest.approx(1e-6, rel=1e-3)
    apart = _nearest(np.array([[0.0, 0], [3, 4], [3, 4.5], [20, 0]]))
    assert apart == pytest.approx([5, 0.5, 0.5, math.hypot(17, 4)])


def test_groups_are_parted_by_gaps_in_any_column() -> None:
    values = np.array([[0.0, 0], [0.9, 0], [1.8, 0], [1.8, 5], [9, 5], [9.9, 5.9]])
    label = _split_by_gaps(values, 1.0)
    seen = {tuple(np.flatnonzero(label == k).tolist()) for k in label}
    assert seen == {(0, 1, 2), (3,), (4, 5)}


def test_outlines_have_as_many_turns_as_their_series_says() -> None:
    k = np.fft.fftfreq(128, 1 / 128)
    series = np.zeros((4, 128), complex)
    for row, waves in enumerate(([1, 4, -2], [1, 5, -3], [1, 2], [1, 7, -5])):
        for wave in waves:
            series[row, k == wave] = 1.0 if wave == 1 else 0.2
    # frequencies 1 + n j alone
    assert _rotation_order(series, np.full(4, 1e-6)).tolist() == [3, 4, 1, 6]
    series[0, k == 3] = 0.01
    assert _rotation_order(series[:1], np.array([0.009])).tolist() == [1]
    assert _rotation_order(series[:1], np.array([0.011])).tolist() == [3]
    # a thousandth of the strength at most, 1.08 here, however little is known
    for off, order in ((0.032, 3), (0.034, 1)):
        series[0, k == 3] = off
        assert _rotation_order(series[:1], np.array([1.0])).tolist() == [order]


def test_copies_turned_alike_are_told_across_the_seam() -> None:
    size, none = np.full(6, 10.0), np.zeros(6, int)
    angle = np.array([0.0005, 6.2827, 1.0, 1.0005, 2.0, 0.0002])
    told = _turn_classes(none, none, angle, np.ones(6, int), 0.0, size)
    assert told[0] == told[1] == told[5]
    assert told[2] == told[3]
    assert len(set(told.tolist())) == 3
    two = np.array([0.0002, 6.283, 6.2826, 0.0004, 0.0, 0.0])
    told = _turn_classes(none, none, two, np.ones(6, int), 0.0, size)
    assert len(set(told.tolist())) == 1
    # of a shape with quarter turns, modulo these
    told = _turn_classes(
        none,
        none,
        np.array([0.1, 0.1 + np.pi / 2, 0.2, 3.0, 3.1, 1]),
        np.full(6, 4),
        0.0,
        size,
    )
    assert told[0] == told[1] != told[2]
    # sides and kinds are told apart by other numbers: each begins anew
    alone = _turn_classes(np.arange(6), none, angle, np.ones(6, int), 0.0, size)
    assert (alone == 0).all()
    # wider where outlines are known less closely
    wide = _turn_classes(
        none, none, np.array([0, 0.1, 0.3, 1, 2, 3.0]), np.ones(6, int), 0.3, size
    )
    assert wide[0] == wide[1] != wide[2]


def test_layers_count_how_often_faces_cover_a_repeat() -> None:
    drawing = grid([0.0, 20, 40], [0.0, 30, 60])
    faces = np.arange(1, 5)
    # each of four faces is a repeat of 600 mm²
    assert layers(drawing, faces, np.arange(4), PLANE) == pytest.approx(4)
    assert layers(drawing, faces, np.arange(1), PLANE) == pytest.approx(1)
    assert layers(drawing, faces, np.arange(3), quotient_of(NOTHING)) == 1
    # what is larger than a repeat counts as one
    small = replace(PLANE, basis=10 * np.eye(2), inverse_basis=np.eye(2) / 10)
    assert layers(drawing, faces, np.arange(2), small) == pytest.approx(2)
    # of a strip a repeat is as high as points within its faces reach, or as it is long
    strip = grid([0.0, 20, 40], [0.0, 30, 60])
    high = float(np.ptp(strip.witness[1:, 1]))
    told = layers(strip, faces, np.arange(4), ROW)
    assert told == pytest.approx(4 * 600 / (20 * high))
    wide = grid([0.0, 70, 80], [0.0, 20])
    # 1400 mm² of 20 by 20 are three and a half repeats, 200 are none
    area = wide.area[1:]
    told = grounds(wide, np.array([1, 2]), np.array([0, 1]), ROW)
    assert told.tolist() == (area > 1000).tolist()
    assert sorted(told.tolist()) == [False, True]
    assert not grounds(wide, np.array([1, 2]), np.array([0, 1]), PLANE).any()


def test_points_that_stand_for_faces_lie_in_them() -> None:
    thin = [np.array([[300, 300], [500, 301], [300, 302]]), box(100, 100, 60, 40)]
    drawing = rings(*thin)
    faces = np.array([1, 2])
    points, row = sample_points(drawing, faces)
    inside = shapely.contains_xy(drawing.polygons(faces)[row], *points.T)
    assert inside.all()
    assert (np.diff(row) >= 0).all()
    for k in (0, 1):
        own = points[row == k]
        assert 2 <= len(own) <= 14
        # spread over it, and the point well inside is among them
        assert (own == drawing.witness[faces[k]]).all(axis=1).any()
    square = points[row == np.argmax(drawing.area[faces])]
    assert (np.ptp(square, axis=0) > [35, 22]).all()


def test_own_edges_are_those_that_no_frame_drew() -> None:
    drawing = grid([0.0, 30, 60], [0.0, 40])
    sides = np.flatnonzero(drawing.face == 0) ^ 1
    drawn = Drawn(drawing, np.array([1, 2]), sides, 0.1)
    points = drawn.own_edges(0)
    # the line between both, twenty points at equal steps of 2 mm
    assert points[:, 0] == pytest.approx(30)
    assert sorted(points[:, 1]) == pytest.approx(np.arange(20) * 2 + 1)
    alone = grid([0.0, 30], [0.0, 40])
    sides = np.flatnonzero(alone.face == 0) ^ 1
    assert Drawn(alone, np.array([1]), sides, 0.1).own_edges(0).shape == (0, 2)
    assert len(drawn.polygons(np.array([1, 0, 1]))) == 3


def test_thin_pieces_are_sampled_behind_their_frame() -> None:
    # a piece 0.6 mm wide at the right edge, of lines that stray by 0.2 mm
    drawing = grid([0.0, 30, 30.6], [0.0, 40])
    thin = int(np.argmin(drawing.area[1:])) + 1
    sides = np.flatnonzero(drawing.face == 0) ^ 1
    wide = 3 - thin
    drawn = Drawn(drawing, np.array([wide, thin]), sides, 0.2)
    points, row = drawn.points(np.array([0, 1]))
    assert (np.diff(row) >= 0).all()
    own = points[row == 1]
    # two and four times as far out as lines stray, at its three outer sides
    assert len(own) == 18
    right = own[own[:, 0] > 30.7]
    assert sorted(set(right[:, 0].round(6).tolist())) == [31.0, 31.4]
    assert sorted(set(right[:, 1].round(6).tolist())) == [10, 20, 30]
    assert sorted(set(own[:, 1].round(6).tolist())) == [
        -0.8,
        -0.4,
        10,
        20,
        30,
        40.4,
        40.8,
    ]
    still = Drawn(drawing, np.array([wide, thin]), sides, 0.05)
    points, row = still.points(np.array([0, 1]))
    assert (points[row == 1, 0] < 30.6).all()


def test_families_are_gathered_about_the_commonest() -> None:
    # squares of 10, 10.25, 10.5 and 10.75 mm: each is within 3 % of the next
    sides = [10, 10.25, 10.5, 10.75]
    drawing = rings(*(box(60 + 30 * k, 60, s, s) for k, s in enumerate(sides)))
    order = np.argsort(drawing.area[1:]) + 1
    told = class_families(drawing, order, np.array([1, 1, 1, 5]))
    # 10.75 leads; 10.25 is 4.7 % smaller and leads the others, the larger of two first
    assert told.tolist() == [1, 1, 0, 0]
    told = class_families(drawing, order, np.array([5, 1, 1, 1]))
    assert told.tolist() == [0, 0, 1, 1]
    told = class_families(drawing, order, np.ones(4, int), alike=0.08)
    assert told.tolist() == [0] * 4
    assert class_families(drawing, order[:0], order[:0]).shape == (0,)
    # turned, mirrored, and with another start it is the same shape
    corners = np.array([[0, 0], [40, 0], [50, 20], [10, 15]], float)
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    copies = [
        corners + 100,
        corners @ turn.T + np.array([300, 100]),
        np.roll(corners[::-1] * [-1, 1], 2, axis=0) + np.array([400, 300]),
    ]
    other = rings(*copies, box(100, 300, 35, 18.6))
    told = class_families(other, np.arange(1, 5), np.ones(4, int))
    at = other.faces_at(np.array([[125.0, 110], [110, 310]])) - 1
    assert told[at[0]] != told[at[1]]
    assert np.bincount(told).tolist() == [3, 1]
    # a frame and a full square are of two families
    framed = rings(box(60, 60, 40, 40), box(70, 70, 20, 20), box(200, 60, 40, 40))
    faces = framed.faces_at(np.array([[65.0, 65], [220, 80]]))
    assert class_families(framed, faces, np.ones(2, int)).tolist() != [0, 0]


def wheel(n: int) -> object:
    """Return a polygon with a rhomb on each of its sides, in one ground."""
    angle = 2 * np.pi * np.arange(n) / n
    inner = 40 * np.column_stack([np.cos(angle), np.sin(angle)]) + MIDDLE
    middle = angle + np.pi / n
    outer = 90 * np.column_stack([np.cos(middle), np.sin(middle)]) + MIDDLE
    tips = [np.array([inner[k], outer[k], inner[(k + 1) % n]]) for k in range(n)]
    return rings(inner, *tips)


@pytest.mark.parametrize(("n", "figure"), [(4, False), (5, True), (7, True)])
def test_a_heart_has_five_points_of_one_family_round_it(n, figure) -> None:
    drawing = wheel(n)
    heart = drawing.face_at(*MIDDLE)
    kind = np.full(drawing.face_count, 0)
    kind[0], kind[heart] = -1, 1
    whole = kind >= 0
    label, drawn = class_figures(drawing, kind, whole, np.array([0, 1]))
    assert drawn.tolist() == [figure, figure]
    assert bool(label[0] == label[1]) is figure
    # where one of the points is of another family none of them makes a figure
    odd = kind.copy()
    odd[1 if heart != 1 else 2] = 2
    label, drawn = class_figures(drawing, odd, whole, np.array([0, 1, 2]))
    assert not drawn.any()
    assert len(set(label.tolist())) == 3
    # two kinds of one family do
    label, drawn = class_figures(drawing, odd, whole, np.array([0, 1, 0]))
    assert drawn.tolist() == [figure] * 3


@pytest.mark.parametrize(("n", "figure"), [(4, False), (5, True), (6, True)])
def test_a_hub_is_where_five_of_one_family_meet(n, figure) -> None:
    angle = 2 * np.pi * np.arange(n) / n
    tips = 90 * np.column_stack([np.cos(angle), np.sin(angle)]) + MIDDLE
    drawing = rings(*(np.array([MIDDLE, tips[k], tips[(k + 1) % n]]) for k in range(n)))
    assert drawing.face_count == n + 1
    kind = np.zeros(n + 1, int)
    kind[0] = -1
    label, drawn = class_figures(drawing, kind, kind >= 0, np.array([0]))
    assert drawn.tolist() == [figure]
    assert label.tolist() == [0]


C4 = quotient_of(about(4))
D4 = quotient_of(about(4, 0.0))


def test_subgroups_sites_and_cosets_are_those_of_the_group() -> None:
    assert _closure([1], C4) == {0, 1, 2, 3}
    assert _closure([2], C4) == {0, 2}
    assert _closure([], C4) == {0}
    assert _closure([4, 5], D4) == set(range(8))
    assert _closure([4, 6], D4) == {0, 2, 4, 6}
    assert _site_name(frozenset({0}), D4) == "C1"
    assert _site_name(frozenset({0, 2}), D4) == "C2"
    assert _site_name(frozenset({0, 5}), D4) == "D1"
    assert _site_name(frozenset(range(8)), D4) == "D4"
    # places of a kind that half turns keep: two cosets of four turns
    places = Places(np.zeros(4, int), np.arange(4), {0: frozenset({0, 2})})
    place, side = _cosets(places, np.arange(4), C4)
    assert place.tolist() == [0, 1, 0, 1]
    assert side.tolist() == [0, 0, 0, 0]
    # of a kind without a mirror of its own, mirror images lie on another side
    places = Places(np.zeros(2, int), np.array([1, 5]), {0: frozenset({0})})
    assert _cosets(places, np.arange(2), D4)[1].tolist() == [0, 1]
    places = Places(np.zeros(2, int), np.array([1, 5]), {0: frozenset({0, 4})})
    assert _cosets(places, np.array([1, 0, 1]), D4)[1].tolist() == [0, 0, 0]


def test_places_are_joined_by_what_carries_them() -> None:
    # four corners that quarter turns carry round, and a middle that they keep
    image = np.array(
        [[k, (k + 1) % 4, (k + 2) % 4, (k + 3) % 4] for k in range(4)] + [[4] * 4]
    )
    seen, size = np.array([1.0, 1, 3, 1, 1]), np.full(5, 9.0)
    places = _join_places(image, seen, size, C4)
    # the root is the place that is seen whole most often, of equals the largest
    assert places.kind.tolist() == [2, 2, 2, 2, 4]
    assert places.operation.tolist() == [2, 3, 0, 1, 0]
    assert places.stabiliser == {2: {0}, 4: {0, 1, 2, 3}}
    even = _join_places(image, np.ones(5), np.array([9.0, 9, 9, 12, 9]), C4)
    assert even.kind.tolist() == [3, 3, 3, 3, 4]
    alone = _join_places(np.full((2, 4), -1), np.ones(2), np.ones(2), C4)
    assert alone.kind.tolist() == [0, 1]
    assert alone.operation.tolist() == [0, 0]


def test_a_kind_whose_root_went_elsewhere_has_a_new_one() -> None:
    # places 0 to 2 by turns about a quarter; their root 0 has gone to another kind
    places = Places(
        np.array([9, 0, 0]),
        np.array([3, 1, 2]),
        {0: frozenset({0, 2}), 9: frozenset({0})},
    )
    _free_kinds(places, np.array([0]), C4)
    assert places.kind.tolist() == [9, 1, 1]
    # as from the new root: by nothing, and by a quarter turn on
    assert places.operation.tolist() == [3, 0, 1]
    assert places.stabiliser[1] == {0, 2}
    kept = Places(np.array([0, 0]), np.array([0, 1]), {0: frozenset({0})})
    _free_kinds(kept, np.array([0]), C4)
    assert kept.kind.tolist() == [0, 0]


def test_faces_are_compared_with_the_mean_of_their_place() -> None:
    points = [(5, 5), (25, 5), (45.3, 5), (5, 35), (5, 5.4), (90, 71)]
    measures = spots(points, [4, 4, 4, 4, 3.5, 4])
    marks = marks_of_faces(measures, np.arange(6), PLANE, 0.0)
    label = np.array([0, 0, 0, 0, 0, 1])
    means = SimpleNamespace(xy=np.array([[5.0, 5], [10, 11]]), size=np.array([4.0, 4]))
    centre, size = _gaps(marks, label, PLANE, means)
    assert centre == pytest.approx([0, 0, 0.3, 0, 0.4, 0])
    assert size == pytest.approx([0, 0, 0, 0, -0.5, 0])
    inner = np.array([True, True, True, False, True, False])
    # of each place the face nearest to its mean, an inner one before others
    assert _heads(marks, label, inner, PLANE, means).tolist() == [0, 5]
    only = np.array([False, False, True, False, True, False])
    assert _heads(marks, label, only, PLANE, means).tolist() == [2, 5]
    # twice the median of 0, 0, 0.3 and 0.4 mm over that of a Rayleigh distribution
    assert _scatter(marks, label, inner, PLANE, means) == pytest.approx(
        2 * 0.15 / 1.177
    )
    assert _scatter(marks, label, only, PLANE, means) == 0
    zone = Zone(1, np.arange(6), NOTHING)
    drawing = SimpleNamespace(tolerance=SimpleNamespace(join_within=0.03))
    assert _noise(drawing, measures, zone) == 0.03
    loose = replace(zone, symmetry=replace(NOTHING, residual=0.1))
    assert _noise(drawing, measures, loose) == 0.1
    # a twentieth of the usual size at most
    loose = replace(zone, symmetry=replace(NOTHING, residual=0.9))
    assert _noise(drawing, measures, loose) == 0.2


class Means(SimpleNamespace):
    def __len__(self) -> int:
        return len(self.size)


def test_strays_miss_the_mean_by_seven_sigmas() -> None:
    # nine faces about one place: eight by 0.1 mm, of which sigma is 0.1 / 1.177
    count = 9
    for off, size, told in ((0.59, 4.0, False), (0.60, 4.0, True), (0.60, 3.99, True)):
        points = [(5 + 20 * k, 5.1) for k in range(count)]
        points[3] = (65, 5 + off)
        sizes = [4.0] * count
        sizes[3] = size
        measures = spots(points, sizes)
        marks = marks_of_faces(measures, np.arange(count), PLANE, 0.0)
        label, inner = np.zeros(count, int), np.ones(count, bool)

        own = Means(xy=np.array([[5.0, 5]]), size=np.array([4.0]))
        far, smaller = _strays(marks, label, inner, PLANE, own, 0.0)
        assert far.tolist() == [k == 3 and told for k in range(count)]
        assert smaller[3] == (told and size < 4)
        # three times what lines stray by at least
        far, _ = _strays(marks, label, inner, PLANE, own, 0.3)
        assert not far.any()


def test_a_face_breaks_a_symmetry_where_its_images_agree() -> None:
    step = np.arange(0.0, 51, 10)
    drawing = grid(step, step)
    faces = np.arange(1, 26, dtype=np.int32)
    lattice = Lattice(10 * np.eye(2), "square")
    zone = Zone(1, faces, replace(symmetry("plane", "p1"), lattice=lattice))
    middle = int(drawing.face_at(25, 25))
    kind = np.zeros(25, int)
    kind[middle - 1] = 1
    whole = kind == 0
    assert contradicted(drawing, zone, np.array([middle]), kind, whole).tolist() == [
        True
    ]
    # where they are of kinds that hardly agree nobody can say
    rng = np.random.default_rng(0)
    mixed = rng.permutation(np.arange(25) % 2)
    assert not contradicted(drawing, zone, np.array([middle]), mixed, whole).any()
    # six in ten must
    mostly = np.zeros(25, int)
    mostly[np.argsort(np.abs(drawing.witness[1:] - 25).sum(axis=1))[1:9]] = 2
    told = contradicted(drawing, zone, np.array([middle]), mostly, whole)
    # of 24 others sixteen are of one kind
    assert told.tolist() == [True]
    few = whole & (np.arange(25) < 1)
    assert not contradicted(drawing, zone, np.array([middle]), kind, few).any()
    # a corner has half of its outline on the rim, and most others none
    corner = int(drawing.face_at(5, 5))
    assert not contradicted(drawing, zone, np.array([corner]), kind, whole).any()
    assert contradicted(drawing, zone, np.zeros(0, int), kind, whole).shape == (0,)
    rim = _share_on_rim(drawing, faces)
    of = {f: round(float(s), 6) for f, s in zip(faces.tolist(), rim, strict=True)}
    assert of[corner] == 0.5
    assert of[middle] == 0
    assert sorted(set(of.values())) == [0, 0.25, 0.5]


def test_the_ends_of_a_strip_say_nothing_of_what_is_missing() -> None:
    drawing = grid(np.arange(0.0, 71, 10), [0.0, 10])
    zone = Zone(1, np.arange(1, 8, dtype=np.int32), along_x("p1", 10.0, (35.0, 5.0)))
    kind, whole = np.zeros(7, int), np.ones(7, bool)
    at = drawing.faces_at(np.array([[5.0, 5], [35, 5], [65, 5]]))
    told = contradicted(drawing, zone, at.astype(int), kind, whole)
    assert told.tolist() == [False, True, False]


def test_cells_of_a_framed_grid_are_classed_with_their_pieces() -> None:
    # squares of 20 mm, cut at the sides: 8 mm are left, and a corner of 8 by 8
    step = np.array([0.0, 8, 28, 48, 68, 76])
    drawing = grid(step, step)
    measures = measure_faces(drawing)
    faces = np.arange(1, 26, dtype=np.int32)
    lattice = Lattice(20 * np.eye(2), "square")
    found = replace(symmetry("plane", "p1"), lattice=lattice)
    told = class_faces(drawing, measures, Zone(1, faces, found))
    inner = np.isin(faces, cells(drawing, 8, 8, 68, 68))
    assert told.kind.tolist() == [0] * 25
    assert told.cut.tolist() == (~inner).tolist()
    assert told.whole.tolist() == inner.tolist()
    assert len(told.spoiled) == 0
    assert told.site == ("C1",)
    # one line is missing: the face twice as large is none of the kind
    uprights = [(x, 0, x, 100) for x in (20, 60, 80)] + [
        (40, 0, 40, 40),
        (40, 60, 40, 100),
    ]
    lines = [line(*map(float, r)) for r in uprights]
    torn = grid([0.0, 100], [0.0, 20, 40, 60, 80, 100], *lines)
    measures = measure_faces(torn)
    faces = np.arange(1, torn.face_count, dtype=np.int32)
    assert len(faces) == 24
    told = class_faces(torn, measures, Zone(1, faces, found))
    large = int(np.argmax(torn.area[faces]))
    assert told.spoiled.tolist() == [large]
    assert np.flatnonzero(~told.whole).tolist() == [large]
    assert len(set(np.delete(told.kind, large).tolist())) == 1
    assert not told.cut.any()


def orbit(zone: int, faces: int, area: float = 10.0) -> Orbit:
    return Orbit("A", "kite", "kite", zone, np.arange(faces), 0, "C1", area, 0)


def test_a_zone_whose_shapes_return_is_in_doubt() -> None:
    one = Zone(1, np.arange(30), about(1, 0.0))
    orbits = tuple(orbit(1, 1 if k < 6 else 2) for k in range(24))
    few, many = tuple(np.arange(24) % 12), tuple(np.arange(24) % 13)
    told, note = _doubt(one, orbits, few)
    assert (told.symmetry.certain, note.type) == (False, "shapes return")
    # six of 24 kinds stand alone, and eighteen have two regions each
    assert "24 kinds have only 12 shapes; 14 % of the area has no partner" in note.text
    assert _doubt(one, orbits, many) == (one, None)
    assert _doubt(one, orbits[1:], few[1:]) == (one, None)
    for found in (
        about(5),
        symmetry("frieze", "p1"),
        replace(about(1, 0.0), stated=True),
    ):
        other = replace(one, symmetry=found)
        assert _doubt(other, orbits, few) == (other, None)
    bare = replace(one, symmetry=Symmetry(NO_GROUP))
    told, note = _doubt(bare, orbits, few)
    assert told is bare
    assert note is not None
    # those of other zones are not counted
    mixed = (*orbits[:12], *(orbit(2, 1) for _ in range(12)))
    assert _doubt(one, mixed, few) == (one, None)


def test_members_of_kinds_are_their_faces() -> None:
    found = _members(np.array([-1, 2, 0, 2, 0, 1]), 4)
    assert [m.tolist() for m in found] == [[2, 4], [5], [1, 3], []]


def test_rings_have_the_area_and_middle_of_their_polygon() -> None:
    ring = np.array([[0.0, 0], [40, 0], [50, 20], [10, 15]]) + 300
    shape = shapely.Polygon(ring)
    assert _ring_area(ring) == pytest.approx(shape.area)
    assert _ring_area(ring[::-1]) == pytest.approx(-shape.area)
    assert _middle(ring) == pytest.approx(np.array(shape.centroid.coords[0]))
    flat = np.array([[0.0, 0], [10, 0], [20, 0]])
    assert _middle(flat).tolist() == [10, 0]


def test_kinds_touch_by_the_length_that_they_share() -> None:
    drawing = grid([0.0, 30, 60, 70], [0.0, 20, 50])
    of_face = np.full(drawing.face_count, -1)
    for k, x in enumerate((15, 45, 65)):
        for y in (10, 35):
            of_face[drawing.face_at(x, y)] = k
    told = _touching_kinds(drawing, of_face, 4)
    assert len(told) == 4
    assert [told[k] for k in range(4)] == [
        [(1, 50.0)],
        [(0, 50.0), (2, 50.0)],
        [(1, 50.0)],
        [],
    ]
    # the longest contact comes first
    of_face[drawing.face_at(15, 35)] = 3
    told = _touching_kinds(drawing, of_face, 4)
    assert told[1] == [(2, 50.0), (3, 30.0), (0, 20.0)]
    assert told[0] == [(3, 30.0), (1, 20.0)]
