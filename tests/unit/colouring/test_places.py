import numpy as np
import pytest

from fillwork.colouring.places import face_at, find_place, nearest_region
from fillwork.errors import ColouringError
from tests.unit.colouring.stand_ins import drawing, grid, kinds

BOARD = grid(4, 2)


def named():
    column = np.floor(BOARD.witness[1:, 0] / 10).astype(int)
    return kinds(
        BOARD,
        np.r_[-1, column],
        names=("square 1", "square 2", "narrow kite", "b"),
    )


def test_every_point_lies_in_the_face_of_its_square():
    rng = np.random.default_rng(3)
    for x, y in rng.uniform((0, 0), (40, 20), (200, 2)):
        face = face_at(BOARD, x, y)
        assert np.floor(BOARD.witness[face] / 10).tolist() == [x // 10, y // 10]


def test_points_at_the_height_of_vertices():
    assert face_at(BOARD, 5.0, 10.0) > 0
    assert face_at(BOARD, 5.0, 0.0) > 0
    assert face_at(BOARD, -1.0, 10.0) == 0 or face_at(BOARD, -1.0, 5.0) == 0
    assert face_at(BOARD, 45.0, 5.0) == 0


def test_a_face_within_a_face():
    def box(a, b):
        return [(a, a, b, a), (b, a, b, b), (b, b, a, b), (a, b, a, a)]

    ring = drawing(box(10, 90) + box(40, 60), page_edge="open")
    inner, outer = face_at(ring, 50, 50), face_at(ring, 20, 50)
    assert ring.area[inner] == pytest.approx(400)
    assert ring.area[outer] == pytest.approx(6000)
    assert face_at(ring, 5, 50) == 0
    assert nearest_region(ring, 5, 50) == (outer, pytest.approx(5.0))


def test_letter_name_base_name_point():
    orbits = named()
    assert find_place(BOARD, orbits, "a").orbits == (0,)
    assert find_place(BOARD, orbits, "Square 2").orbits == (1,)
    assert find_place(BOARD, orbits, "SQUARE").orbits == (0, 1)
    assert find_place(BOARD, orbits, "@25, 5").orbits == (2,)
    assert find_place(BOARD, orbits, "@2.5cm,0.5cm").orbits == (2,)


def test_letters_win_over_names():
    # the fourth kind is named "b", the second has the letter B
    assert find_place(BOARD, named(), "b").orbits == (1,)


def test_scopes():
    turns = np.array([-1, 0, 1, 2, 3, 0, 1, 2, 3])
    orbits = kinds(BOARD, [-1, 0, 0, 0, 0, 0, 0, 0, 0], turns=turns)
    at = BOARD.witness[2]
    point = f"@{at[0]},{at[1]}"
    assert len(find_place(BOARD, orbits, point).faces) == 8
    assert find_place(BOARD, orbits, point, "turns").faces.tolist() == [2, 6]
    assert find_place(BOARD, orbits, point, "shifts").faces.tolist() == [2]
    assert find_place(BOARD, orbits, point, "only").faces.tolist() == [2]
    with pytest.raises(ColouringError, match="8 regions"):
        find_place(BOARD, orbits, "A", "only")


@pytest.mark.parametrize(
    ("where", "said"),
    [
        ("sqare 1", 'did you mean "square 1"'),
        ("Z", "the kinds of this drawing are A to D"),
        ("@100,5", "the nearest region, of kind D, is 60.0 mm away"),
        ("@-7,5", "the nearest region, of kind A, is 7.0 mm away"),
        ("@1", "write it as"),
        ("@x,y", "write it as"),
        ("", "no kind has the letter or name"),
    ],
)
def test_errors_say_what_is_near(where, said):
    with pytest.raises(ColouringError) as error:
        find_place(BOARD, named(), where)
    assert said in str(error.value)


def test_unknown_scope():
    with pytest.raises(ColouringError, match="not a scope"):
        find_place(BOARD, named(), "A", "row")


@pytest.mark.parametrize("name", ["fountain-medallion", "warm-room-ceiling"])
def test_the_point_inside_each_region_finds_it(name: str) -> None:
    from pathlib import Path

    from fillwork.arrangement.build import build_arrangement
    from fillwork.colouring.places import face_at
    from fillwork.readers import read_linework

    drawings = Path(__file__).parents[3] / "demo" / "drawings"
    arrangement = build_arrangement(read_linework(drawings / f"{name}.svg"))
    # plans hold points with three decimals
    points = np.round(arrangement.witness[1:], 3)
    found = [face_at(arrangement, x, y) for x, y in points.tolist()]
    assert found == list(range(1, arrangement.face_count))
