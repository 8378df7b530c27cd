"""Pieces, spoiled kinds and framed faces, of how far they are told to cover each other.

Places are numbers here; which share of one lies in another, and how, is given.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.kinds import classing
from fillwork.symmetry.kinds.drawn import Places
from fillwork.symmetry.kinds.pieces import Cover
from fillwork.symmetry.quotient import quotient_of
from tests.unit.helpers import circle
from tests.unit.symmetry.answers import given
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_small_panels import SQUARES
from tests.unit.symmetry.test_zone_parts import grid

C4, C2, C1 = (quotient_of(symmetry("rosette", short)) for short in ("C4", "C2", "C1"))
# operations of C4 are turns by 0, 1, 2 and 3 quarters
QUARTERS = [
    int(np.rint(np.arctan2(m[1, 0], m[0, 0]) / (np.pi / 2))) % 4 for m in C4.linear
]


def cover(*rows):
    """Return rows of a piece, an operation, a whole face and a share."""
    table = np.array(rows, float).reshape(-1, 4)
    piece, operation, whole = table[:, :3].astype(int).T
    return Cover(piece, operation, whole, table[:, 3])


def drawn_of(heads=9, inside=(), noise=0.0):
    """Return what is drawn of places; `inside`: those with edges in a whole face."""
    return SimpleNamespace(
        heads=np.arange(heads),
        noise=noise,
        points=lambda places: (np.zeros((len(places), 2)), np.arange(len(places))),
        polygons=lambda places: places,
        drawn_inside=lambda place, *rest: place in inside,
    )


def alone(count, **stabilisers):
    """Return places of a kind each, kept by nothing."""
    sites = {k: frozenset({0}) for k in range(count)}
    sites |= {int(k[1:]): frozenset(v) for k, v in stabilisers.items()}
    return Places(np.arange(count), np.zeros(count, int), sites)


BOTH = cover((0, 0, 1, 0.9), (1, 0, 0, 0.3))


@pytest.mark.parametrize(
    ("seen", "rows", "size", "bad"),
    [
        # one that is seen at half of the other's places, or fewer, is spoiled
        ((10, 5), BOTH, (4, 4), [5]),
        ((5, 10), BOTH, (4, 4), [3]),
        # of two that are seen about as often the larger, if it is made of others
        ((10, 6), BOTH, (4, 5), []),
        ((10, 6), BOTH, (5, 4), [3]),
        ((10, 6), cover((0, 0, 1, 0.6)), (5, 4), [3]),
        ((10, 6), cover((0, 0, 1, 0.59)), (5, 4), []),
        ((10, 6), cover((1, 0, 0, 0.6)), (4, 5), [5]),
        # what lies in another by little, or in itself, is none
        ((10, 1), cover((0, 0, 1, 0.3)), (4, 4), [5]),
        ((10, 1), cover((0, 0, 1, 0.29)), (4, 4), []),
        ((10, 1), cover((0, 0, 0, 1.0), (1, 0, 1, 1.0)), (4, 4), []),
        ((10, 1), cover(), (4, 4), []),
    ],
)
def test_the_kind_that_is_seen_less_often_is_spoiled(
    monkeypatch, seen, rows, size, bad
) -> None:
    given(monkeypatch, classing, cover_of=rows)
    often, large = np.zeros((2, 6))
    often[[3, 5]], large[[3, 5]] = seen, size
    kinds = np.array([3, 5])
    told = classing._spoiled_kinds(drawn_of(), alone(6), often, kinds, large, C1)
    assert told.tolist() == bad
    one = classing._spoiled_kinds(drawn_of(), alone(6), often, kinds[:1], large, C1)
    assert one.tolist() == []


def test_kinds_that_operations_keep_stand_at_fewer_places(monkeypatch) -> None:
    given(monkeypatch, classing, cover_of=BOTH)
    often, size = np.zeros((2, 6))
    often[[3, 5]], size[[3, 5]] = (10, 4), (4, 5)
    kinds = np.array([3, 5])
    # 4 times 2 of 2 operations are as often as 8 of 10 times one
    for sites, bad in (({}, [5]), ({"k5": {0, 1}}, []), ({"k3": {0, 1}}, [5])):
        places = alone(6, **sites)
        told = classing._spoiled_kinds(drawn_of(), places, often, kinds, size, C2)
        assert told.tolist() == bad
    # what is covered by others is so under each operation
    often[5] = 10
    for share, bad in ((0.61, [5]), (0.59, [])):
        rows = cover((1, 0, 0, share), (1, 1, 0, share), (1, 1, 1, 1.0))
        given(monkeypatch, classing, cover_of=rows)
        told = classing._spoiled_kinds(drawn_of(), alone(6), often, kinds, size, C2)
        assert told.tolist() == bad


def test_the_rarest_kinds_are_judged_first(monkeypatch) -> None:
    # 0 lies in 1, and 1 in 2; 2 is the rarest and cannot speak against 1 then
    rows = cover((0, 0, 1, 0.9), (1, 0, 2, 0.9))
    given(monkeypatch, classing, cover_of=rows)
    kinds, size = np.arange(3), np.full(3, 4.0)

    def told(*seen):
        often = np.array(seen, float)
        bad = classing._spoiled_kinds(drawn_of(), alone(3), often, kinds, size, C1)
        return bad.tolist()

    assert told(20, 8, 2) == [1, 2]
    assert told(2, 8, 20) == [0, 1]
    assert told(20, 2, 8) == [1]
    assert told(8, 20, 8) == [0, 2]


def placed(patch, rows, size, *, seen=(5, 0), bad=(), quotient=C4, some=None, **drawn):
    """Give pieces a kind: place 0 is seen whole; return what is told of all."""
    count = len(size)
    places = alone(count)
    asked = given(
        patch,
        classing,
        cover_of=rows,
        _spoiled_kinds=np.array(bad, int),
        _join_pieces=None,
    )
    cut, spoiled, models = classing._place_pieces(
        drawn_of(count, **drawn),
        places,
        np.array(seen, float),
        np.arange(count),
        np.array(size, float),
        quotient,
        np.ones(count, bool) if some is None else np.array(some),
    )
    rest = asked.last("_join_pieces", 2).tolist() if asked["_join_pieces"] else []
    return places, np.flatnonzero(cut), np.flatnonzero(spoiled), models.tolist(), rest


@pytest.mark.parametrize(
    ("share", "size", "told"),
    [
        (0.6, (10, 5), "cut"),
        (0.59, (10, 5), "none"),
        # of a small one, of less than 0.3 of the whole, a third is enough
        (0.3, (10, 2.9), "cut"),
        (0.29, (10, 2.9), "rest"),
        (0.3, (10, 3.0), "none"),
        # what is larger than the whole by 0.02 is no piece of it
        (0.9, (10, 10.19), "cut"),
        (0.9, (10, 10.21), "spoiled"),
    ],
)
def test_a_piece_lies_in_a_whole_face(monkeypatch, share, size, told) -> None:
    rows = cover((0, 0, 0, share))
    places, cut, spoiled, models, rest = placed(monkeypatch, rows, size, quotient=C1)
    assert cut.tolist() == ([1] if told == "cut" else [])
    assert spoiled.tolist() == ([1] if told == "spoiled" else [])
    assert rest == ([1] if told == "rest" else [])
    assert models == [0, *rest]
    assert places.kind.tolist() == [0, 0 if told == "cut" else 1]


def test_a_piece_goes_where_most_of_it_lies(monkeypatch) -> None:
    rows = cover((0, 3, 0, 0.7), (0, 1, 0, 0.9), (0, 2, 0, 0.9), (0, 0, 0, 0.2))
    places, cut, *_ = placed(monkeypatch, rows, (10, 5))
    assert (places.kind.tolist(), cut.tolist()) == ([0, 0], [1])
    # by the first of those that lay as much of it there; back from the whole face
    turned = [int(C4.inverse[1])]
    assert places.operation.tolist() == [0, *turned]
    assert (QUARTERS[turned[0]] + QUARTERS[1]) % 4 == 0
    # of two whole faces that which holds more
    rows = cover((0, 0, 0, 0.7), (0, 0, 1, 0.8))
    places, *_ = placed(monkeypatch, rows, (10, 9, 5), seen=(5, 5, 0))
    assert places.kind.tolist() == [0, 1, 1]
    # what lies in whole faces by a third of its images in all is nothing else's piece
    for share, left in ((0.29, [1]), (0.3, [])):
        rows = cover(*((0, k, 0, share) for k in range(4)))
        assert placed(monkeypatch, rows, (10, 5))[4] == left


def test_a_piece_with_lines_in_the_whole_face_is_spoiled(monkeypatch) -> None:
    rows = cover((0, 0, 0, 0.9))
    places, cut, spoiled, models, _ = placed(monkeypatch, rows, (10, 5), inside=(1,))
    assert (cut.tolist(), spoiled.tolist()) == ([], [1])
    assert (places.kind.tolist(), models) == ([0, 0], [0])
    # twice what lines stray by is added to what a piece may be larger
    for size, told in ((10.39, []), (10.41, [1])):
        found = placed(monkeypatch, rows, (10, size), noise=0.1)
        assert found[2].tolist() == told
    # kinds that others lie in are spoiled, and belong to these
    rows = cover((0, 0, 0, 0.9))
    places, cut, spoiled, models, _ = placed(
        monkeypatch, rows, (10, 20), seen=(5, 5), bad=(1,), inside=()
    )
    assert (spoiled.tolist(), cut.tolist(), models) == ([1], [], [0])
    assert places.kind.tolist() == [0, 0]
    # those that are not asked are left
    found = placed(monkeypatch, rows, (10, 5), some=(True, False))
    assert found[1].tolist() == found[2].tolist() == []
    found = placed(monkeypatch, rows, (10, 5), seen=(5, 5))
    assert (found[1].tolist(), found[3], found[4]) == ([], [0, 1], [])


def joined(
    patch, rows, *, kind=None, operation=(0, 0), sites=None, inside=(), members=(1, 1)
):
    """Join places 0 and 1, of which the first is larger."""
    given(patch, classing, cover_of=rows)
    places = alone(2, **(sites or {}))
    places.operation[:] = operation
    if kind is not None:
        places.kind[:] = kind
    cut, spoiled = np.zeros((2, 2), bool)
    classing._join_pieces(
        drawn_of(2, inside=inside),
        places,
        np.arange(2),
        np.array([9.0, 4.0]),
        np.array(members),
        cut,
        spoiled,
        C4,
    )
    return places, cut.tolist(), spoiled.tolist()


def test_pieces_that_overlap_are_of_one_kind(monkeypatch) -> None:
    back = [int(k) for k in C4.inverse]
    for turn in range(4):
        # the smaller one, turned so, lies in the larger
        places, cut, spoiled = joined(monkeypatch, cover((1, turn, 0, 0.3)))
        assert places.kind.tolist() == [0, 0]
        assert places.operation.tolist() == [0, back[turn]]
        assert (cut, spoiled) == ([False, True], [False, False])
    # by less than a third, or the larger in the smaller, they are two
    for rows in (cover((1, 1, 0, 0.29)), cover((0, 1, 1, 0.9)), cover()):
        places, cut, _ = joined(monkeypatch, rows)
        assert (places.kind.tolist(), cut) == ([0, 1], [False, False])
    # a place already turned from its root is turned on
    one, two = (QUARTERS.index(k) for k in (1, 2))
    places, *_ = joined(monkeypatch, cover((1, one, 0, 0.9)), operation=(two, 0))
    assert QUARTERS[places.operation[1]] == 1  # back by one quarter, and on by two
    places, *_ = joined(monkeypatch, cover((1, one, 0, 0.9)), operation=(0, one))
    # its root lies a quarter before it, and it a quarter before its whole
    assert QUARTERS[places.operation[1]] == 3


def test_a_piece_that_turns_onto_itself_is_kept_by_that(monkeypatch) -> None:
    one, two = (QUARTERS.index(k) for k in (1, 2))
    for turn, kept in ((two, {0, two}), (one, {0, 1, 2, 3}), (0, {0})):
        places, cut, _ = joined(monkeypatch, cover((0, turn, 0, 0.5)))
        assert places.stabiliser[0] == kept
        assert cut == [False, False]
    # what keeps the one that is joined keeps the whole
    places, *_ = joined(monkeypatch, cover((1, one, 0, 0.9)), sites={"k1": {0, two}})
    assert places.stabiliser[0] == {0, two}


def test_a_line_in_one_of_two_pieces_spoils_the_rarer(monkeypatch) -> None:
    rows = cover((1, 0, 0, 0.9))
    for members, rare in (((5, 2), 1), ((2, 5), 0), ((3, 3), 0)):
        places, cut, spoiled = joined(monkeypatch, rows, inside=(1,), members=members)
        assert spoiled == [k == rare for k in range(2)]
        # a spoiled root takes up nothing, a spoiled piece is of its kind and not cut
        assert places.kind.tolist() == ([0, 1] if rare == 0 else [0, 0])
        assert cut == [False, False]
    # of one kind already no line tells
    _, _, spoiled = joined(monkeypatch, rows, inside=(1,), kind=0)
    assert spoiled == [False, False]


def test_sides_within_a_whole_face_are_a_frames(monkeypatch) -> None:
    sides = np.array([4, 9, 12])

    def framed(drawing, depth, noise=0.1, sides=sides):
        given(monkeypatch, classing, depth_inside=np.ravel(depth))
        told = classing._framed_faces(drawing, sides, None, None, noise)
        return np.flatnonzero(told).tolist()

    faces = SQUARES.face[sides]
    within = SQUARES.tolerance.join_within
    # four times what lines stray by; at any of three points of each side
    for row in range(3):
        depth = np.zeros((3, 3))
        depth[row] = (0.39, 0.41, 0.5)
        assert within < 0.39
        assert framed(SQUARES, depth) == sorted(faces[1:].tolist())
    depth = np.full((3, 3), -1.0)
    assert framed(SQUARES, depth) == []
    depth[1, 0] = 1.01 * within
    assert framed(SQUARES, depth, noise=0.0) == [int(faces[0])]
    depth[1, 0] = 0.99 * within
    assert framed(SQUARES, depth, noise=0.0) == []
    # chords of a curve lie off by twice what it is flattened by
    disc = grid([0.0, 100], [0.0, 100], circle(50, 50, 30))
    curve = np.flatnonzero(disc.curves.kind[disc.edge_curve] != 0)
    straight = np.setdiff1d(np.arange(disc.edge_count), curve)
    flat = disc.tolerance.flatten
    own = 2 * np.array([straight[0], curve[0]])
    for more, told in ((1.9, 1), (2.1, 2)):
        depth = np.full((3, 2), 0.4 + more * flat)
        assert len(framed(disc, depth, sides=own)) == told
