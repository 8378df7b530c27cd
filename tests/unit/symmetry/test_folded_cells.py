"""Lines folded into one cell, and shifts of regions: where votes fall, who is asked."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.lines import plane
from fillwork.symmetry.zones import repeats
from tests.unit.symmetry.answers import given, some

BASIS = np.array([[20.0, 0], [5, 30]])


def evidence_of(samples, depth=None, scale=10.0):
    """Return lines that head to the right, in a window of pixels of 2 mm from 0."""
    samples = np.array(samples, float)
    return SimpleNamespace(
        samples=samples,
        directions=np.tile([1.0, 0], (len(samples), 1)),
        scale=scale,
        thin=lambda most: np.arange(len(samples)),
        window=SimpleNamespace(
            depth=np.ones((60, 80)) if depth is None else depth,
            pixel=2.0,
            corner=np.zeros(2),
            depth_at=lambda p: np.where(
                ((p > 0) & (p < [160, 120])).all(axis=1), 1.0, -1.0
            ),
        ),
    )


def folded(scale=10.0, samples=((1.0, 1), (90, 70)), depth=None, basis=BASIS):
    return plane._FoldedCell(evidence_of(samples, depth, scale), basis)


def test_cells_have_five_places_a_scale(monkeypatch) -> None:
    monkeypatch.setattr(plane, "fast_length", lambda n: n)
    # 20 and 30.4 mm
    assert folded(5.0).shape == (20, 30)
    assert folded(10.0).shape == (16, 16)
    assert folded(0.3).shape == (240, 240)
    assert folded(5.0, basis=BASIS[::-1]).shape == (30, 20)


def test_points_fall_into_places_of_the_cell() -> None:
    cell = folded(5.0)
    rows, columns = cell.shape
    for k, m in ((0.1, 0.6), (0.7, 0.3), (0.95, 0.0)):
        for i, j in ((0, 0), (2, -1), (-3, 4)):
            point = (np.array([k, m]) + (i, j) + 1e-6) @ BASIS
            at = cell.flat(point[None])[0]
            assert at == int(k * rows + 1e-4) * columns + int(m * columns + 1e-4)
    three = np.array([[0.1, 0.1], [1.1, 2.1], [0.5, 0.5]]) @ BASIS
    grid = cell.grid(three + 1e-6)
    assert grid.shape == cell.shape
    assert sorted(grid[grid > 0].tolist()) == [1, 2]


def test_places_that_are_hardly_seen_weigh_little() -> None:
    # of a square cell of 32 mm, 16 pixels, the window shows all, and a part again
    square = 32.0 * np.eye(2)
    depth = np.zeros((16, 32))
    depth[:, :16] = depth[:, 16:24] = 1
    cell = folded(10.0, depth=depth, basis=square)
    assert cell.shape == (16, 16)
    # 24 columns in all, 1.5 on average: the left half is seen 4 / 3 as much
    assert np.unique(np.round(cell.weight, 9)).tolist() == [0.75, 1.5]
    depth[:, :15] = 0
    # now the last column is seen once and the left half once: of 9 / 16 on average
    cell = folded(10.0, depth=depth, basis=square)
    assert np.unique(np.round(cell.weight, 9)).tolist() == [0, 0.5625]
    depth = np.zeros((160, 16))
    depth[:, :8] = 1
    depth[:16, 8:] = 1
    # ten times as much on one side, 1.82 of 5.5: the other weighs at most four
    cell = folded(10.0, depth=depth, basis=square)
    assert np.unique(np.round(cell.weight, 6)).tolist() == [0.55, 4.0]


def test_lines_are_shared_among_four_places() -> None:
    cell = folded(5.0)
    rows, columns = cell.shape
    at = np.array([[(rows - 0.75) / rows, 2.25 / columns]]) @ BASIS
    fields = cell.spectra(at, np.array([[0.0, 1.0]]), np.array([8.0]))
    flat, twice, four = (np.fft.ifft2(f) for f in fields)
    # a quarter and three quarters on, over the edge of the cell to its first row
    wanted = np.zeros(cell.shape)
    for i, u in ((rows - 1, 0.75), (0, 0.25)):
        for j, v in ((2, 0.75), (3, 0.25)):
            wanted[i, j] = 8 * u * v
    assert np.allclose(flat, wanted)
    # upright lines are half a turn on when heads are doubled, and a whole one again
    assert np.allclose(twice, -wanted)
    assert np.allclose(four, wanted)
    # by the weight of their places where none is given
    cell.weight = np.full(cell.shape, 3.0)
    plain, *_ = cell.spectra(at, np.array([[0.0, 1.0]]))
    assert np.fft.ifft2(plain).real.sum() == pytest.approx(3)


def test_votes_are_highest_where_lines_fall_on_lines() -> None:
    points = np.array([[0.2, 0.3], [0.55, 0.7], [0.8, 0.1]])
    cell = folded(1.0, samples=points @ BASIS)
    cell.weight = np.ones(cell.shape)
    cell.target = cell.spectra(cell.samples, cell.directions)
    shift = np.array([0.25, 0.4])
    moved = (points - shift) @ BASIS
    ways = np.tile([1.0, 0], (3, 1))
    votes = cell.votes(moved, ways, np.ones(3))
    best = cell.peaks(votes, 1)
    assert np.abs(best - shift).max() < 1 / min(cell.shape)
    # lines that head across speak against it
    across = cell.votes(moved, ways[:, ::-1], np.ones(3))
    assert across.max() < votes.max() / 2
    # and all of them are blurred alike
    blur, cell.blur = cell.blur, np.ones(cell.shape)
    sharp = cell.votes(moved, ways, np.ones(3))
    assert np.allclose(votes, np.fft.ifft2(np.fft.fft2(sharp) * blur).real)


def test_votes_are_blurred_by_six_tenths_of_a_place_on_both_sides() -> None:
    # the transform of a Gaussian of that width, times itself
    cell = folded(5.0)
    rows, columns = cell.shape
    for k, m in ((0, 0), (1, 0), (0, 2), (3, -4)):
        square = (k / rows) ** 2 + (m / columns) ** 2
        wanted = math.exp(-((2 * math.pi * 0.6) ** 2) * square)
        assert cell.blur[k, m] == pytest.approx(wanted)


def test_peaks_are_half_as_high_as_the_highest() -> None:
    cell = folded(5.0)
    rows, columns = cell.shape
    votes = np.zeros(cell.shape)
    votes[3, 4], votes[10, 20], votes[15, 8] = 1.0, 0.51, 0.49
    told = cell.peaks(votes, 9)
    assert np.allclose(told, [[3 / rows, 4 / columns], [10 / rows, 20 / columns]])
    assert len(cell.peaks(votes, 1)) == 1
    # where all speak against it the least bad one
    votes = np.full(cell.shape, -2.0)
    votes[5, 6] = -1.0
    assert np.allclose(cell.peaks(votes, 9), [[5 / rows, 6 / columns]])


def test_cells_that_meet_the_window_are_told() -> None:
    depth = np.zeros((60, 80))
    depth[:15, :20] = 1
    # 40 by 30 mm: of cells 20 mm wide two, of 30 mm high one
    told = plane._cells_seen(evidence_of([(1.0, 1)], depth), np.diag([20.0, 30]))
    assert told.tolist() == [[0, 0], [1, 0]]
    told = plane._cells_seen(evidence_of([(1.0, 1)], depth), np.diag([20.0, 29]))
    assert told.tolist() == [[0, 0], [0, 1], [1, 0], [1, 1]]


def test_images_lie_in_all_cells_of_the_window() -> None:
    basis = np.diag([40.0, 40])
    samples = [(5.0, 6), (90, 70)]
    evidence = evidence_of(samples)
    cells = plane._cells_seen(evidence, basis)
    assert len(cells) == 12
    turn = -np.eye(2)
    maps = [(np.eye(2), np.array([3.0, 2])), (turn, np.array([1.0, 1]))]

    def images(each=99, most=999):
        return plane._folded_images(
            evidence, basis, cells, maps, np.arange(2), each, most
        )

    found = images()
    shifts = np.array([s for _, s in maps])
    told = found.at(shifts)
    for number, (linear, shift) in enumerate(maps):
        for row, sample in enumerate(samples):
            own = told[(found.owner == number) & (found.source == row)]
            home = linear @ sample + shift
            # one in each of the twelve cells
            along = (own - home) / 40
            assert np.allclose(along, np.rint(along))
            assert len(np.unique(np.floor(own / 40), axis=0)) == 12
    assert (found.directions[found.owner == 1] == [-1, 0]).all()
    assert found.count == 2
    few = images(most=5)
    assert np.bincount(few.owner).tolist() == [5, 5]
    assert len(images(each=3).points) == 2 * 2 * 3


def carried(onto, core, count, *, inside=()):
    """Return the shifts of 10, 20 and 30 mm that carry most of a core along."""
    xy = np.column_stack([10.0 * np.arange(count), np.zeros(count)])
    marks = SimpleNamespace(xy=xy)
    tried = np.array([[10.2, 0], [19.8, 0], [30.1, 0]])[: len(onto)]
    return marks, tried, np.array(onto), np.array(core)


def test_shifts_carry_most_of_a_core(monkeypatch) -> None:
    count = 40
    number = np.arange(count)

    def told(*missing, core=None, inside=True):
        """Let each shift carry faces along, but for so many of the last ones."""
        onto = []
        for k, none in enumerate(missing, 1):
            hit = np.where(number + k < count, number + k, -1)
            hit[count - none - k :] = -1
            onto.append(hit)
        own = np.ones(count, bool) if core is None else number < core
        marks, tried, hits, own = carried(onto, own, count)
        given(
            monkeypatch,
            repeats,
            tree_of=None,
            inside_of=lambda tree, points: np.full(len(points), inside),
        )
        found = repeats._carrying(None, marks, some(count), tried, hits, own)
        return np.round(found[:, 0] / 10, 6).tolist()

    # each is told by where it carries them
    assert told(0, 0, 0) == [1, 2, 3]
    most = repeats._CARRIED
    # of 40 those that are not carried lie within the core
    assert told(0, 0, round(40 * (1 - most)) + 2) == [1, 2]
    assert told(0, 0, round(40 * (1 - most)) + 2, inside=False) == [1, 2, 3]
    # nor what carries less than 0.85 of what another does: 36, but not 29, beside 39
    assert told(0, 0, 1) == [1, 2, 3]
    assert told(0, 0, 8) == [1, 2]
    few = repeats.ASKED
    assert told(0, 0, count - 3 - few) in ([1, 2], [1, 2, 3])
    assert told(0, 0, count - 3 - few + 1, inside=False) == [1, 2]
    # one shift alone is none, nor are any of a small core
    assert told(0) == []
    assert told(0, 0, core=few - 1) == []


def test_cells_are_those_of_two_shifts_that_are_not_in_line() -> None:
    # four faces in a square
    onto = np.array([[1, -1, 3, -1], [2, 3, -1, -1]])
    for sine, told in ((0.21, True), (0.19, False), (-0.21, True)):
        # a short and a long shift: by the sine between them alone
        for long in (3.0, 300.0):
            tried = np.array([[10.0, 0], [long * np.sqrt(1 - sine**2), long * sine]])
            found = repeats._in_most_cells(onto, tried)
            assert found.tolist() == [told] * 4
    # of several pairs that which makes most cells
    third = np.array([[-1, -1, -1, -1]])
    tried = np.array([[10.0, 0], [0, 10], [7, 7]])
    for order in ([0, 1, 2], [2, 0, 1], [0, 2, 1]):
        rows = np.vstack([onto, third])[order]
        assert repeats._in_most_cells(rows, tried[order]).all()


def shifts(patch, *, count=40, barrier=(), outer=(), tried=2, hits=8, core=40, **facts):
    """Return the shifts that faces share, of what is voted for and carries them."""
    drawing = SimpleNamespace(
        face_count=count + 1,
        face=np.repeat(np.arange(count + 1), 2),
        tolerance=SimpleNamespace(join_within=0.0),
    )
    onto = np.zeros((max(tried, 1), 2, count), int) - 1
    onto.reshape(-1, count)[:hits, :core] = 0
    asked = given(
        patch,
        repeats,
        all_strangers=facts.get("strange", False),
        marks_of_faces=lambda m, faces, plane, noise: Taken(faces),
        outer_sides=np.array([2 * k for k in outer], int),
        _voted=np.zeros((tried, 2)),
        _hits_both_ways=onto,
        _in_most_cells=lambda hits, tried: np.arange(count) < facts.get("cells", count),
        _carrying=lambda a, marks, faces, tried, onto, core: core,
        _shortest_two=lambda core: (
            core.sum() if core.sum() in facts.get("good", (core.sum(),)) else None
        ),
    )
    edges = np.isin(np.arange(count + 1), barrier)
    pose = SimpleNamespace(pose=np.zeros((count + 1, 3)))
    return repeats.shifts_of(drawing, pose, some(count), edges), asked


class Taken:
    def __init__(self, faces):
        self.faces = np.asarray(faces)

    def __len__(self):
        return len(self.faces)

    def take(self, rows):
        return Taken(self.faces[rows])


def test_shifts_are_asked_of_faces_off_the_rim(monkeypatch) -> None:
    assert shifts(monkeypatch)[0] == 40
    assert shifts(monkeypatch, outer=range(1, 11))[0] == 30
    assert shifts(monkeypatch, barrier=range(1, 11))[0] == 30
    # of all where too few are left
    few = repeats.ASKED
    assert shifts(monkeypatch, outer=range(1, 41 - few))[0] == few
    assert shifts(monkeypatch, outer=range(1, 42 - few))[0] == 40
    # twice as many at least in all, and two shifts that they vote for
    assert shifts(monkeypatch, count=2 * few, core=2 * few)[0] == 2 * few
    assert shifts(monkeypatch, count=2 * few - 1, core=2 * few - 1)[0] is None
    assert shifts(monkeypatch, tried=1)[0] is None
    # those that several shifts carry, this way or that
    most = repeats._HITS
    assert shifts(monkeypatch, tried=9, hits=most)[0] == 40
    assert shifts(monkeypatch, tried=9, hits=most - 1)[0] is None
    assert shifts(monkeypatch, core=few)[0] == few
    assert shifts(monkeypatch, core=few - 1)[0] is None
    # in cells first, and then of all
    assert shifts(monkeypatch, cells=20)[0] == 20
    assert shifts(monkeypatch, cells=20, good=(40,))[0] == 40
    assert shifts(monkeypatch, cells=20, good=())[0] is None
    many = repeats._MANY
    for count, told in ((many + 1, None), (many, many)):
        got, _ = shifts(monkeypatch, count=count, core=count, strange=True)
        assert got == told
