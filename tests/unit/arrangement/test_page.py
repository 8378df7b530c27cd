"""The page's edge: what it closes, and where it closes nothing."""

from __future__ import annotations

import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework


def _drawing(body: str) -> bytes:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        f'viewBox="0 0 100 100"><g fill="none" stroke="#000">{body}</g></svg>'
    ).encode()


def _tiles(x: float, y: float, count: int) -> str:
    return "".join(
        f'<rect x="{x + 10 * i}" y="{y + 10 * j}" width="10" height="10"/>'
        for i in range(count)
        for j in range(count)
    )


@pytest.mark.parametrize(("x", "y"), [(0, 0), (70, 0), (70, 70), (20, 0), (0, 35)])
def test_tiles_flush_with_the_page_leave_the_ground_open(x: float, y: float) -> None:
    # nine whole squares; their own sides close them, the page's edge closes nothing
    arrangement = build_arrangement(read_linework(_drawing(_tiles(x, y, 3)), name="t"))
    assert arrangement.face_count - 1 == 9
    assert arrangement.area[1:] == pytest.approx(100.0)


def test_tiles_all_over_the_page_are_all_there_is() -> None:
    arrangement = build_arrangement(read_linework(_drawing(_tiles(0, 0, 10)), name="t"))
    assert arrangement.face_count - 1 == 100


def test_lines_that_run_off_beside_flush_tiles_are_closed_still() -> None:
    # two lines from side to side beyond nine tiles: three fields, the first of
    # them round the tiles
    body = _tiles(0, 0, 3) + '<path d="M0 60H100M0 80H100"/>'
    arrangement = build_arrangement(read_linework(_drawing(body), name="t"))
    assert arrangement.face_count - 1 == 12
    assert arrangement.area[1:].sum() == pytest.approx(10_000.0)
