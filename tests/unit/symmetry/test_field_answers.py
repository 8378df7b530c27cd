"""What a lattice explains, of which edges and faces are told to hold under its shifts.

Faces are numbers here: which of them lie side by side is given.
"""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones import fields, held
from tests.unit.symmetry.answers import given, some
from tests.unit.symmetry.test_exchange_answers import chain, mesh
from tests.unit.symmetry.test_small_panels import SQUARES, TENS, plane
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

BASIS = 10 * np.eye(2)


def explained(patch, holds, *, core=12, count=16, length=(), outline=4.0, **facts):
    """Return the faces that a lattice explains of a row of them.

    `core`: so many are in cells. `holds`: of the edges from the last of these on which
    hold. `length`: of some of these edges, 1 mm of the others. `outline`: of each face.
    """
    links = [*chain(*range(1, count + 1)), *facts.get("links", ())]
    drawing = mesh(count, links)
    size = np.ones(len(links))
    for row, value in dict(length).items():
        size[row] = value
    barrier = np.isin(np.arange(len(links)), facts.get("barrier", ()))
    again = facts.get("again", ())
    rounds = []

    def edges(arrangement, edge, shifts, of):
        rounds.append((edge.tolist(), len(shifts), len(of)))
        held_now = holds if len(rounds) == 1 else again
        return np.isin(edge, held_now), size[edge]

    onto = np.tile(np.arange(count), (4, 2, 1))
    given(
        patch,
        fields,
        onto_by=onto,
        in_cells=np.arange(count) < core,
        edges_that_hold=edges,
        _wide_parts=lambda a, member, between, basis, barrier: np.flatnonzero(member),
        _islands=lambda *told: np.zeros(count + 1, bool),
    )
    measures = SimpleNamespace(length=np.full(count + 1, outline))
    told = fields.field_of(drawing, measures, some(count), BASIS, barrier)
    return told.tolist(), rounds


def test_a_field_grows_from_its_cells_across_edges_that_hold(monkeypatch) -> None:
    core = list(range(1, 13))
    told, rounds = explained(monkeypatch, [])
    assert told == core
    # what lies between two faces of the core is not asked; eight shifts near by
    assert rounds[0] == ([11, 12, 13, 14], 8, 12)
    # 14 and 15 are told again by what was told, under 24 longer shifts
    assert rounds[1][1:] == (24, 12)
    assert explained(monkeypatch, [11])[0] == [*core, 13]
    assert explained(monkeypatch, [11, 12, 13])[0] == [*core, 13, 14, 15]
    # not beyond an edge that does not hold
    assert explained(monkeypatch, [11, 13])[0] == [*core, 13]
    # twelve are in cells at least
    assert explained(monkeypatch, [11], core=fields.ASKED - 1)[0] == []
    # edges that hold under longer shifts
    assert explained(monkeypatch, [11], again=[12])[0] == [*core, 13, 14]


def test_faces_are_explained_by_a_fifth_of_their_lines(monkeypatch) -> None:
    core = list(range(1, 13))
    # of face 13: the edge that it shares with 12, and that with 14
    for other, told in ((3.9, [13]), (4.1, [])):
        found, _ = explained(monkeypatch, [11], length={12: other})
        assert found == [*core, *told]
    # and 0.08 of its whole outline
    for outline, told in ((12.4, [13]), (12.6, [])):
        found, _ = explained(monkeypatch, [11], outline=outline)
        assert found == [*core, *told]
    # what a frame cuts says nothing
    found, _ = explained(monkeypatch, [11], length={12: 9.0}, barrier=[12])
    assert found == [*core, 13]
    found, _ = explained(monkeypatch, [11], barrier=[11])
    assert found == core


def told_fields(patch, sizes, shifts, found, **facts):
    """Return the number of the field of each face, of parts of some sizes.

    `shifts`: parts of which some are told. `found`: which of the free faces are a
    field then.
    """
    ends = np.cumsum([0, *sizes])
    count = int(ends[-1])
    label = np.zeros(count + 1, int)
    for k, (a, b) in enumerate(pairwise(ends), 1):
        label[a + 1 : b + 1] = k
    drawing = SimpleNamespace(face_count=count + 1)
    asked = given(
        patch,
        fields,
        shifts_of=lambda a, m, own, barrier: (
            BASIS if label[own[0]] in shifts else None
        ),
        field_of=lambda a, m, free, basis, barrier: found(free),
        _of_one_pattern=lambda a, m, own, label, part, basis: own,
        _without_grounds=lambda a, own, basis: own,
        **facts,
    )
    number, bases = fields.find_fields(drawing, None, some(count), None, label)
    return [int(number[k]) for k in ends[1:]], [len(b) for b in bases], asked


def test_fields_are_sought_in_the_largest_part_first(monkeypatch) -> None:
    def all_of(free):
        return free

    # the largest explains all
    told, bases, asked = told_fields(monkeypatch, [12, 20], [1, 2], all_of)
    assert (told, bases) == ([0, 0], [2, 0])
    assert len(asked.last("shifts_of", 2)) == 20

    def twelve(free):
        return free[-12:]

    # what is left is asked again, as long as twelve are free
    told, bases, asked = told_fields(monkeypatch, [14, 24], [1, 2], twelve)
    assert told == [2, 0]
    assert bases[:3] == [2, 2, 2]
    told, bases, _ = told_fields(monkeypatch, [14, 24], [1], twelve)
    # the largest has no shifts; of the other the last twelve of all that are free, as
    # often as there are some
    assert told == [3, 1]
    assert bases[:4] == [0, 2, 2, 2]
    assert told_fields(monkeypatch, [11, 11], [1, 2], all_of)[2]["shifts_of"] == []
    assert told_fields(monkeypatch, [12], [1], all_of)[0] == [0]
    assert told_fields(monkeypatch, [11], [1], all_of)[0] == [-1]

    def eleven(free):
        return free[:11]

    told, bases, _ = told_fields(monkeypatch, [12, 20], [1, 2], eleven)
    assert (told, bases) == ([-1, -1], [0, 0, 0])
    # of equal parts the first
    _, _, asked = told_fields(monkeypatch, [12, 12], [1, 2], eleven)
    assert asked["shifts_of"][0][0][2].tolist() == some(12).tolist()


def islands(patch, holds, *, size=20, found=200, open_=False, length=(), barrier=()):
    """Tell whether faces that a field closes in are its own.

    The isle is a row of faces after the field's, joined to it at both ends; `open_`:
    its last face borders on another face that is neither.
    """
    links = [*chain(*range(1, found + size + 1)), (found + size, 1)]
    count = found + size + 1
    if open_:
        links.append((found + size, count))
    drawing = mesh(count, links)
    of = np.ones(len(links))
    for row, value in dict(length).items():
        of[row] = value
    given(
        patch,
        fields,
        edges_that_hold=lambda a, edge, shifts, core: (np.isin(edge, holds), of[edge]),
    )
    number = np.arange(count + 1)
    own = (number > 0) & (number <= found)
    candidate = (number > 0) & (number <= found + size)
    told = fields._islands(
        drawing, own, candidate, np.isin(np.arange(len(links)), barrier), []
    )
    assert not told[own].any()
    assert told.any() == told[found + 1 : found + size + 1].all()
    return bool(told.any())


def test_parts_that_a_field_closes_in_are_its_own(monkeypatch) -> None:
    # 19 edges within, which count for both their faces, and two on the shore: more
    # than half of them must hold
    inner = list(range(200, 219))
    assert islands(monkeypatch, inner[:11])
    assert not islands(monkeypatch, inner[:10])
    assert islands(monkeypatch, [*inner[:10], 199])
    assert not islands(monkeypatch, [*inner[:9], 199, 219])
    # a tenth of the field at most
    assert not islands(monkeypatch, inner, found=199)
    # what it does not close in is told by its inner lines alone
    assert islands(monkeypatch, inner[:11], open_=True)
    assert not islands(monkeypatch, [*inner[:8], 199, 219], open_=True)
    # by length
    assert islands(monkeypatch, inner[:10], length={200: 3.0})
    assert not islands(monkeypatch, inner[:11], length={215: 3.0})
    assert not islands(monkeypatch, inner, found=0, size=3)


@pytest.mark.parametrize(
    ("wide", "high", "told"),
    [(1.31, 1.31, True), (1.29, 2.0, False), (2.0, 1.29, False)],
)
def test_parts_of_a_field_are_wider_than_a_repeat(monkeypatch, wide, high, told):
    given(monkeypatch, fields, is_long=False)
    drawing = grid([0.0, 5 * wide, 10 * wide], [0.0, 10 * high])
    member = np.array([False, True, True])
    free = np.zeros(drawing.edge_count, bool)
    between = np.zeros(3, bool)
    found = fields._wide_parts(drawing, member, between, BASIS, free)
    assert found.tolist() == ([1, 2] if told else [])
    if told:
        # parted in the middle neither is
        x = drawing.vertices[drawing.origin.reshape(-1, 2), 0]
        line = (np.abs(x - 5 * wide) < 1e-9).all(axis=1)
        assert len(fields._wide_parts(drawing, member, between, BASIS, line)) == 0
        # of a strip some faces must lie between like ones, both ways
        given(monkeypatch, fields, is_long=True)
        assert len(fields._wide_parts(drawing, member, between, BASIS, free)) == 0
        between[1] = True
        found = fields._wide_parts(drawing, member, between, BASIS, free)
        assert found.tolist() == [1, 2]
        some_ = member.copy()
        some_[2] = False
        assert len(fields._wide_parts(drawing, some_, between, BASIS, free)) == 0


def one_pattern(patch, kinds, matched=1.0, *, sizes=(20, 12), area=None):
    """Return how many faces of each of two parts are of one field.

    `kinds`: how many of the second part's faces are like some of the first.
    """
    count = sum(sizes)
    label = np.concatenate([[0], np.repeat([1, 2], sizes)])
    kind = np.concatenate(
        [np.zeros(sizes[0], int), np.arange(sizes[1]) >= kinds]
    ).astype(int)

    class Given:
        def __init__(self, marks, quotient):
            assert len(marks) == sizes[0]

        def match(self, marks):
            return np.where(np.arange(len(marks)) < matched * len(marks), 0, -1)

    given(
        patch,
        fields,
        class_congruent=(kind,),
        marks_of_faces=lambda m, found, quotient, noise: Taken(found),
    )
    patch.setattr(fields, "Matcher", Given)
    drawing = SimpleNamespace(
        area=np.array([0.0, *([1.0] * count if area is None else area)]),
        tolerance=SimpleNamespace(join_within=0.0),
    )
    told = fields._of_one_pattern(drawing, None, some(count), label, 1, BASIS)
    return np.bincount(label[told], minlength=3)[1:].tolist()


class Taken:
    def __init__(self, faces):
        self.faces = np.asarray(faces)

    def __len__(self):
        return len(self.faces)

    def take(self, rows):
        return Taken(self.faces[rows])


def test_fields_on_one_grid_are_two_where_hardly_a_face_is_alike(monkeypatch) -> None:
    assert one_pattern(monkeypatch, 12) == [20, 12]
    # a tenth of the area
    areas = [1.0] * 20 + [1.0] + [0.8] * 11
    assert one_pattern(monkeypatch, 1, area=areas) == [20, 12]
    areas = [1.0] * 20 + [1.0] + [0.83] * 11
    assert one_pattern(monkeypatch, 1, area=areas) == [20, 0]
    assert one_pattern(monkeypatch, 0) == [20, 0]
    # parts of fewer than twelve are not asked
    assert one_pattern(monkeypatch, 0, sizes=(20, 11)) == [20, 11]
    # a fifth of those alike must lie where shifts lay the first
    assert one_pattern(monkeypatch, 12, 0.17) == [20, 12]
    assert one_pattern(monkeypatch, 12, 0.16) == [20, 0]
    assert one_pattern(monkeypatch, 10, 0.2) == [20, 12]
    assert one_pattern(monkeypatch, 10, 0.1) == [20, 0]


def carried(patch, right, total, whole=100.0, strip=False):
    return given(
        patch,
        held,
        _carried=lambda a, m, faces, found, part, shifts: (
            np.broadcast_to(right, len(shifts)).astype(float),
            np.broadcast_to(total, len(shifts)).astype(float),
            whole,
        ),
        strips=np.array([False, strip]),
    )


def test_shifts_hold_a_share_of_what_can_be_asked(monkeypatch) -> None:
    found = plane("p1")
    asked = carried(monkeypatch, 30.0, 40.0, whole=1.0)
    assert held.share_held(None, None, some(9), found) == 0.75
    assert len(asked.last("_carried", 5)) == 2
    assert held.share_held(None, None, some(9), NOTHING) is None
    # of the whole some must be asked: both ways by two shifts
    least = 4 * held._ASKED * 100.0 / 2
    carried(monkeypatch, 0.0, least * 1.01)
    assert held.share_held(None, None, some(9), found) == 0
    carried(monkeypatch, 0.0, least * 0.99)
    assert held.share_held(None, None, some(9), found) is None
    # of a part anything, under longer shifts too
    asked = carried(monkeypatch, 1.0, 2.0)
    assert held.share_held(None, None, some(9), found, some(3)) == 0.5
    shifts = asked.last("_carried", 5).tolist()
    assert shifts == [[10, 0], [0, 10], [10, 10], [10, -10]]
    carried(monkeypatch, 0.0, 0.0)
    assert held.share_held(None, None, some(9), found, some(3)) is None


def test_two_shifts_of_a_field_may_hold_the_rest(monkeypatch) -> None:
    found = plane("p1")
    most = held._MULTIPLE
    i, j = (k.ravel() for k in np.mgrid[: most + 1, -most : most + 1])
    shifts = np.column_stack([i, j])[(i > 0) | (j > 0)]

    def holds(good, asked=None, strip=False):
        right = np.array([held.PART_HELD * (tuple(s) in good) for s in shifts.tolist()])
        total = np.ones(len(shifts)) if asked is None else np.full(len(shifts), asked)
        carried(monkeypatch, right * total, total, strip=strip)
        return held.may_hold(None, None, some(9), some(3), found)

    assert holds({(1, 0), (0, 1)})
    assert holds({(1, 2), (2, -1)})
    assert not holds({(1, 0)})
    # two along one line are one
    assert not holds({(1, 0), (2, 0)})
    assert not holds({(1, 1), (2, 2)})
    assert not holds(set())
    # where none can be asked, no strip of a frame is among it
    assert holds(set(), asked=0.0)
    assert not holds(set(), asked=0.0, strip=True)
    assert not held.may_hold(None, None, some(9), some(3), NOTHING)


def test_areas_carried_are_those_of_inner_faces_within() -> None:
    # of 36 inner squares those whose neighbour to the right is one: 30, and 30 back
    measures = measure_faces(SQUARES)
    every = np.arange(1, 65, dtype=np.int32)
    shifts = np.array([[10.0, 0], [20, 10], [2, 0], [4, 0]])
    right, total, whole = held._carried(
        SQUARES, measures, every, plane("p1"), None, shifts
    )
    assert whole == pytest.approx(3600)
    # by 2 mm each lies on itself, by 4 mm within itself alone
    assert right == pytest.approx([6000, 4000, 7200, 0])
    assert total == pytest.approx([6000, 4000, 7200, 7200])
    row = cells(SQUARES, 10, 10, 70, 20)
    right, total, _ = held._carried(
        SQUARES, measures, every, plane("p1"), row, shifts[:1]
    )
    assert (right.tolist(), total.tolist()) == ([1000], [1000])
    wide = grid(TENS, [0.0, 10, 20])
    none = held._carried(
        wide, measure_faces(wide), some(16), plane("p1"), None, shifts[:1]
    )
    assert (none[0].tolist(), none[1].tolist(), none[2]) == ([0], [0], 0)
