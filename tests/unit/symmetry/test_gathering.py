"""Lines gathered from a drawing: pieces, chains, margins; and what turns about them."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.lines.centres import cut_figures, headings, voted, voted_centres
from fillwork.symmetry.lines.cut import _ends_cut_off, _tips
from fillwork.symmetry.lines.detect import symmetry_of
from fillwork.symmetry.lines.evidence import are_unlike_stripes, build_evidence
from fillwork.symmetry.lines.fit import Correlator
from fillwork.symmetry.lines.gathering import (
    _chains,
    _loose_chains,
    _margin_faces,
    _pieces,
    _usual_width,
    gather_evidence,
)
from fillwork.symmetry.lines.rosette import (
    _numbers,
    find_rosette,
    hold_rosette,
    stands_free,
)
from fillwork.symmetry.lines.turning import (
    Carried,
    _folded_places,
    about,
    rotation,
    telling_samples,
    widened,
)
from tests.unit.helpers import circle, line, linework_from_curves
from tests.unit.symmetry.test_evidence import strokes
from tests.unit.symmetry.test_groups_of_lines import box_of
from tests.unit.symmetry.test_zone_faces import about as turns_about
from tests.unit.symmetry.test_zone_faces import along_x
from tests.unit.symmetry.test_zone_parts import cells, grid


def bent(turns) -> tuple[np.ndarray, np.ndarray]:
    """Return ends of chords of 10 mm of which each turns by so many radians."""
    way = np.exp(1j * np.cumsum([0.0, *turns]))
    z = np.concatenate([[0], np.cumsum(10 * way)])
    points = np.column_stack([z.real, z.imag])
    return points[:-1], points[1:]


def test_chords_are_one_piece_where_they_hardly_turn() -> None:
    start, end = bent([0.05, 0.24, 0.26, 0.05])
    ends = np.arange(5), np.arange(1, 6)
    degree = np.full(6, 2)
    lone = np.arange(5)
    begin, last, piece = _pieces(start, end, ends, lone, degree)
    # lines that turn by a quarter of a radian meet in a corner
    assert (begin.tolist(), piece.tolist()) == ([0, 2, 3], [0, 0, 1])
    # chords of one curve may turn by 0.6
    start, end = bent([0.5, 0.5, 0.7, 0.5])
    _, last, piece = _pieces(start, end, ends, np.zeros(5, int), degree)
    assert piece.tolist() == [0, 0, 0, 1, 1]
    assert last.tolist() == [0, 1, 2, 3, 4]
    # where a third line meets them, and where they do not follow, they part
    degree[2] = 3
    piece = _pieces(start, end, ends, np.zeros(5, int), degree)[2]
    assert piece.tolist() == [0, 0, 1, 2, 2]
    apart = np.array([0, 1, 9, 3, 4]), np.array([1, 2, 3, 4, 5])
    piece = _pieces(start, end, apart, np.zeros(5, int), np.full(10, 2))[2]
    assert piece.max() == 2
    # points are kept so that no chord turns by more than 0.07
    start, end = bent([0.031] * 9)
    begin, last, piece = _pieces(
        start, end, (np.arange(10), np.arange(1, 11)), np.zeros(10, int), np.full(11, 2)
    )
    assert piece.tolist() == [0] * len(begin)
    assert begin.tolist() == [0, 3, 5, 7]
    assert last.tolist() == [2, 4, 6, 9]


def test_edges_are_chained_in_whatever_order_they_were_drawn() -> None:
    points = np.array([[0.0, 0], [10, 0], [20, 1], [29, 6], [20, 20]])
    a, b = np.array([2, 1, 1, 3]), np.array([3, 0, 2, 4])
    degree = np.array([1, 2, 2, 2, 1])
    # turns of 0.1, 0.41 and 1.6 radians at points 1, 2 and 3
    chain = _chains(points, a, b, degree)
    assert chain[1] == chain[2]
    assert len(set(chain.tolist())) == 3
    # chords of one true curve may turn more
    one = _chains(points, a, b, degree, np.zeros(4, int))
    assert one[0] == one[1] == one[2] != one[3]
    # three that meet are chained to none
    degree[1] = 3
    assert len(set(_chains(points, a, b, degree).tolist())) == 4


def test_loose_lines_are_chained_but_where_they_meet_a_drawing() -> None:
    chords = np.array([[0.0, 0, 10, 0], [10.01, 0, 20, 1], [20, 1, 30, 2.5]])
    chain = _loose_chains(chords, np.zeros((0, 2)), 0.05)
    assert len(set(chain.tolist())) == 1
    # a vertex of the drawing at one of their joints parts them there
    chain = _loose_chains(chords, np.array([[20.0, 1]]), 0.05)
    assert chain[0] == chain[1] != chain[2]
    # within four times what joins ends, and no more
    wide = chords + np.array([[0, 0, 0, 0], [0.4, 0, 0, 0], [0, 0, 0, 0]])
    assert len(set(_loose_chains(wide, np.zeros((0, 2)), 0.05).tolist())) == 2


def test_the_usual_width_is_that_of_half_of_the_area() -> None:
    arrangement = SimpleNamespace(
        inscribed=np.array([0.0, 1, 2, 5, 9]), area=np.array([0.0, 10, 30, 41, 80])
    )
    # 81 of 161 mm² lie in those up to 5 mm
    assert _usual_width(arrangement, np.array([1, 2, 3, 4])) == 10
    assert _usual_width(arrangement, np.array([1, 2, 4])) == 18
    assert _usual_width(arrangement, np.array([2])) == 4


def test_a_margin_has_one_hole_that_holds_nearly_all() -> None:
    inner = [line(30.0, y, 70, y) for y in (40, 50, 60)] + [
        line(30.0, 30, 70, 30),
        line(30.0, 70, 70, 70),
        line(30.0, 30, 30, 70),
        line(70.0, 30, 70, 70),
    ]
    drawing = grid([0.0, 100], [0.0, 100], *inner)
    inside = np.ones(drawing.face_count, bool)
    margin = drawing.face_at(5, 5)
    assert np.flatnonzero(_margin_faces(drawing, inside)).tolist() == [margin]
    # two figures in one ground have a hole each
    two = grid([0.0, 100], [0.0, 100], circle(30, 50, 10), circle(70, 50, 10))
    assert not _margin_faces(two, np.ones(4, bool)).any()
    none = np.arange(drawing.face_count) != margin
    assert not _margin_faces(drawing, none).any()


def test_lines_of_some_faces_are_gathered_with_their_window() -> None:
    drawing = grid(np.arange(0.0, 61, 10), np.arange(0.0, 61, 10))
    whole = gather_evidence(drawing)
    # a side of 10 mm is a line between two crossings
    assert whole.scale == pytest.approx(10)
    assert whole.window.area == pytest.approx(3600, rel=0.03)
    assert np.hypot(
        *(whole.segments[:, 2:] - whole.segments[:, :2]).T
    ).sum() == pytest.approx(840)
    # what bounds the whole is a frame, and no evidence
    assert np.hypot(
        *(whole.lines[:, 2:] - whole.lines[:, :2]).T
    ).sum() == pytest.approx(600)
    assert (whole.free, whole.torn, len(whole.page)) == (False, False, 0)
    left = cells(drawing, 0, 0, 30, 60)
    part = gather_evidence(drawing, left)
    assert part.window.area == pytest.approx(1800, rel=0.03)
    assert part.segments[:, [0, 2]].max() == pytest.approx(30)
    assert gather_evidence(drawing, np.zeros(0, np.int32)) is None
    # of large drawings the part round their middle
    few = gather_evidence(drawing, most_edges=18)
    assert few.window.area == pytest.approx(900, rel=0.06)
    assert np.abs(few.segments - 30).max() <= 20


def test_stripes_at_unlike_distances_tell_nothing() -> None:
    def stripes(at, **facts):
        rows = np.array([(x, 0.0, x, 60) for x in at])
        evidence = build_evidence(rows, np.arange(len(rows)), box_of(0, 0, 100, 60))
        return replace(evidence, **facts)

    assert are_unlike_stripes(stripes([5, 15, 28, 40, 70]))
    told = symmetry_of(stripes([5, 15, 28, 40, 70]))
    assert (told.group.family, told.certain) == ("none", False)
    assert told.reason == "all lines run one way, and any shift along them keeps them"
    # gaps that differ by a quarter at most, or three of them, are none
    assert not are_unlike_stripes(stripes([5, 15, 26, 37, 49]))
    assert not are_unlike_stripes(stripes([5, 15, 28, 70]))
    # nor are they where one runs another way, or ends inside
    lines = np.array(
        [(x, 0.0, x, 60) for x in (5, 15, 28, 40)] + [(70, 0, 72, 60)], float
    )
    aslant = build_evidence(lines, np.arange(5), box_of(0, 0, 100, 60))
    assert not are_unlike_stripes(aslant)
    lines[4] = (70, 0, 70, 40)
    short = build_evidence(lines, np.arange(5), box_of(0, 0, 100, 60))
    assert not are_unlike_stripes(short)


def rosette(n: int, seed: int = 2, mirrors: bool = False, centre=(70.0, 80.0)):
    rng = np.random.default_rng(seed)
    own = strokes(rng, 4, 30.0).reshape(-1, 2)
    if mirrors:
        own = np.vstack([own, own * [1, -1]])
    every = [own @ rotation(2 * np.pi * k / n).T for k in range(n)]
    rows = (np.vstack(every) + centre).reshape(-1, 4)
    return build_evidence(rows, np.arange(len(rows)), np.zeros((0, 4)))


def test_headings_are_counted_over_half_a_turn() -> None:
    lines = np.array([[0.0, 0, 30, 0], [0, 0, 0, 10], [40, 10, 10, 10]])
    evidence = build_evidence(lines, np.arange(3), np.zeros((0, 4)))
    found = headings(evidence)
    assert len(found) == 360
    assert found.sum() == pytest.approx(len(evidence.samples))
    # level ones head either way
    level = int((np.abs(evidence.directions[:, 1]) < 0.5).sum())
    near = [found[np.arange(-9, 10) % 360].sum(), found[171:190].sum()]
    assert near == pytest.approx([level, len(evidence.samples) - level], rel=1e-3)
    assert int(found.argmax()) in (0, 359)


@pytest.mark.parametrize("n", [2, 3, 5])
def test_centres_are_voted_for_by_turned_lines(n) -> None:
    evidence = rosette(n)
    found = voted_centres(evidence, Correlator(evidence), (2, 3, 5))
    away = [float(np.hypot(*(c - [70, 80]))) for c, p in found if p == (n,)]
    assert min(away) < evidence.scale / 2
    linear = rotation(2 * np.pi / n)
    share, expected, back = voted(evidence, Correlator(evidence), linear)
    assert share.shape == expected.shape
    # 64 samples' worth of disagreement are added to each shift
    most = np.unravel_index(share.argmax(), share.shape)
    assert 0.8 < share[most] * (expected[most] + 64) / expected[most] < 1.2
    middle = (
        evidence.segments.reshape(-1, 2).min(0)
        + evidence.segments.reshape(-1, 2).max(0)
    ) / 2
    assert np.allclose(linear @ middle + back, middle)


@pytest.mark.parametrize(("n", "mirrors"), [(3, False), (4, True), (7, False)])
def test_the_group_of_lines_about_a_centre_is_found_and_held(n, mirrors) -> None:
    evidence = rosette(n, 2, mirrors)
    correlator = Correlator(evidence, 200_000)
    found = find_rosette(evidence, correlator, thorough=False)
    assert (found.n, found.reason) == (n, "")
    assert (found.mirror is not None) is mirrors
    assert np.abs(found.centre - [70, 80]).max() < 1e-3
    assert found.share > 0.98
    assert stands_free(evidence, found)
    assert not stands_free(evidence, replace(found, reason="few"))
    assert not stands_free(evidence, replace(found, share=0.98))
    assert not stands_free(evidence, replace(found, centre=found.centre + 9))
    held = hold_rosette(evidence, correlator, n, mirrors)
    assert (held.n, held.reason) == (n, "")
    wrong = hold_rosette(evidence, correlator, n + 1, False)
    assert wrong.share < 0.7
    assert wrong.reason == f"it fits {100 * wrong.share:.0f} % of the lines"


def test_the_centre_of_a_cropped_figure_is_voted_for() -> None:
    # neither the middle of its lines nor that of its window
    lines = rosette(5, 3).segments
    low = np.array([42.0, 60.4])
    lines = lines[(lines > np.tile(low, 2)).all(axis=1)]
    assert len(lines) == 17
    edge = box_of(*low, *(lines.reshape(-1, 2).max(axis=0) + 1))
    evidence = build_evidence(lines, np.arange(len(lines)), edge)
    correlator = Correlator(evidence, 200_000)
    found = find_rosette(evidence, correlator, thorough=False)
    assert (found.n, found.reason) == (5, "")
    assert np.abs(found.centre - [70, 80]).max() < 0.01


def test_a_detail_that_breaks_every_turn_is_told() -> None:
    evidence = rosette(6)
    # a short stroke in every second sixth makes it a C3
    stroke = np.array([[12.0, 3], [15, 5]])
    more = [
        (stroke @ rotation(2 * np.pi * k / 3).T + [70, 80]).reshape(1, 4)
        for k in range(3)
    ]
    lines = np.vstack([evidence.segments, *more])
    broken = build_evidence(lines, np.arange(len(lines)), np.zeros((0, 4)))
    found = find_rosette(broken, Correlator(broken, 200_000), thorough=False)
    assert found.n == 3
    # lines carried by a sixth: those strokes lack their images in all places
    wide = widened(broken)
    centre = np.array([70.0, 80])
    rows = wide.thin(2500)
    maps = [about(rotation(np.pi / 3), centre), about(rotation(2 * np.pi / 3), centre)]
    carried = Carried(wide, rows, centre, maps, 4)
    share, weakest, rms, want = carried.scores(2)
    length = np.hypot(*(lines[:, 2:] - lines[:, :2]).T)
    odd = length[-3:].sum() / length.sum()
    assert share[1] > 0.99
    assert share[0] == pytest.approx(1 - odd, abs=0.02)
    assert weakest[0] < share[0]
    assert rms.max() < 1e-6
    assert (want <= len(rows)).all()
    assert carried.lacking(0, 3, 2) == pytest.approx(odd, abs=0.02)
    assert carried.lacking(1, 3, 2) == pytest.approx(0, abs=0.003)
    assert carried.lacking(0, 1, 2) == 0


def test_rings_about_the_centre_tell_nothing_of_turns() -> None:
    evidence = rosette(5)
    t = np.linspace(0, 2 * np.pi, 181)
    ring = 34 * np.column_stack([np.cos(t), np.sin(t)]) + [70, 80]
    lines = np.vstack([evidence.segments, np.hstack([ring[:-1], ring[1:]])])
    piece = np.append(np.arange(20), np.full(180, 20))
    both = widened(build_evidence(lines, piece, np.zeros((0, 4))))
    centre = np.array([70.0, 80])
    told = telling_samples(both, centre, 4000)
    on_ring = np.abs(np.hypot(*(both.samples - centre).T) - 34) < 0.5
    assert np.isin(np.flatnonzero(~on_ring & (both.piece < 20)), told).mean() > 0.9
    assert not (both.piece[told] == 20).any()
    # a turn must move lines by six tolerances: few orders beyond 64 do
    rows = both.thin(500)
    numbers = _numbers(both, centre, rows)
    assert numbers[:63] == tuple(range(2, 65))
    assert all(n % 5 == 0 for n in numbers[63:])


def test_places_of_samples_are_folded_by_turns() -> None:
    evidence = SimpleNamespace(scale=10.0)
    rng = np.random.default_rng(6)
    points = rng.uniform(-40, 40, (300, 2))
    ways = np.exp(1j * rng.uniform(0, np.pi, 300))
    directions = np.column_stack([ways.real, ways.imag])
    centre = np.array([3.0, 4])
    own = _folded_places(evidence, points + centre, directions, centre, 6)
    turn = rotation(2 * np.pi / 6 * 5)
    there = _folded_places(
        evidence, points @ turn.T + centre, directions @ turn.T, centre, 6
    )
    # but for rounding at the edges of places
    assert (own == there).mean() > 0.99
    other = rotation(0.5)
    moved = _folded_places(
        evidence, points @ other.T + centre, directions @ other.T, centre, 6
    )
    assert (own == moved).mean() < 0.2
    assert len(set(own.tolist())) > 200


def test_half_of_a_figure_turns_about_the_middle_of_its_cut() -> None:
    t = np.linspace(0, np.pi, 91)
    arc = 40 * np.column_stack([np.cos(t), np.sin(t)]) + [50, 20]
    rows = np.vstack(
        [
            np.hstack([arc[:-1], arc[1:]]),
            [[10, 20, 90, 20], [50, 20, 50, 60], [50, 20, 78, 48]],
        ]
    )
    piece = np.append(np.zeros(90, int), [1, 2, 3])
    evidence = build_evidence(rows, piece, np.zeros((0, 4)))
    ((centre, beside),) = cut_figures(evidence)
    assert np.abs(centre - [50, 20]).max() < 1.5
    # without the lines along the cut
    assert not (beside.piece == 1).any()
    assert (beside.piece == 2).any()
    full = np.linspace(0, 2 * np.pi, 181)
    ring = 40 * np.column_stack([np.cos(full), np.sin(full)]) + 50
    whole = build_evidence(
        np.hstack([ring[:-1], ring[1:]]), np.zeros(180, int), np.zeros((0, 4))
    )
    assert cut_figures(whole) == []
    line_ = build_evidence(
        np.array([[0.0, 0, 50, 0]]), np.zeros(1, int), np.zeros((0, 4))
    )
    assert cut_figures(line_) == []


def test_free_ends_are_carried_onto_ends_or_cut_off() -> None:
    # a fringe below a row of squares: it repeats with them
    fringe = [line(10.0 * k + 5, 30, 10.0 * k + 5, 22) for k in range(8)]
    rows = [line(0, 30, 80, 30), line(0, 40, 80, 40)] + [
        line(10.0 * k, 30, 10.0 * k, 40) for k in range(9)
    ]

    def drawn(lines):
        return build_arrangement(
            linework_from_curves([*rows, *lines], has_page=False), close_gaps=0.0
        )

    drawing = drawn(fringe)
    tips = _tips(drawing)
    assert sorted(tips[:, 0].tolist()) == pytest.approx([10 * k + 5 for k in range(8)])
    assert tips[:, 1] == pytest.approx([22] * 8)
    strip = along_x("p1", 10.0, (40.0, 35.0))
    assert not _ends_cut_off(drawing, strip, 10.0)
    # of other lengths, a shift carries few of them onto ends: 0.2 of the scale
    uneven = [line(10.0 * k + 5, 30, 10.0 * k + 5, 26 - 4 * (k % 3)) for k in range(8)]
    assert _ends_cut_off(drawn(uneven), strip, 10.0)
    assert not _ends_cut_off(drawn(uneven[:3]), strip, 10.0)
    assert not _ends_cut_off(drawn([]), strip, 10.0)
    half = turns_about(2, None, (40.0, 35.0))
    # a half turn lays them above, where none is, and out of sight
    assert not _ends_cut_off(drawing, half, 1.0)


@pytest.mark.parametrize("n", [8, 12, 20])
def test_a_polygon_near_its_circle_turns_as_often_as_it_has_sides(n) -> None:
    def ring(count, radius):
        t = 0.3 + 2 * np.pi * np.arange(count + 1) / count
        z = radius * np.column_stack([np.cos(t), np.sin(t)]) + [60, 55]
        return np.hstack([z[:-1], z[1:]])

    lines = np.vstack([ring(n, 30), ring(90, 34)])
    piece = np.append(np.arange(n), np.full(90, n))
    evidence = build_evidence(lines, piece, np.zeros((0, 4)))
    found = find_rosette(evidence, Correlator(evidence, 200_000))
    assert (found.n, found.reason) == (n, "")
    assert found.mirror is not None
    assert np.abs(found.centre - [60, 55]).max() < 1e-3
