"""Lines that a clip cuts end on its outline, as they do at the page's edge."""

from __future__ import annotations

import time

import pytest

from fillwork import build_arrangement, read_linework
from fillwork.errors import ReadError

_HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" '
    'viewBox="0 0 60 60">'
)
_LINES = "".join(
    f'<path d="M0 {k}H60M{k} 0V60" fill="none" stroke="#000"/>' for k in (15, 30, 45)
)


def _regions(clip: str, more: str = "") -> tuple[int, list[str]]:
    text = (
        f'{_HEAD}<clipPath id="c">{clip}</clipPath>'
        f'<g clip-path="url(#c)">{_LINES}</g>{more}</svg>'
    )
    work = read_linework(text.encode())
    return build_arrangement(work).face_count - 1, [note.type for note in work.notes]


@pytest.mark.parametrize(
    "clip",
    [
        '<rect x="10" y="10" width="40" height="40"/>',
        '<circle cx="30" cy="30" r="24"/>',
    ],
)
def test_lines_that_run_off_a_clip_close_regions_with_its_outline(clip: str) -> None:
    # three lines each way part a convex window into sixteen
    count, told = _regions(clip)
    assert count == 16
    assert "clip edges" in told


def test_an_outline_that_is_drawn_besides_is_there_once() -> None:
    frame = '<rect x="10" y="10" width="40" height="40" fill="none" stroke="#000"/>'
    count, told = _regions('<rect x="10" y="10" width="40" height="40"/>', frame)
    assert count == 16
    assert not {"clip edges", "doubled lines"} & set(told)


def test_a_clip_that_cuts_nothing_is_no_line() -> None:
    # one square well inside it
    text = (
        f'{_HEAD}<clipPath id="c"><rect x="1" y="1" width="58" height="58"/></clipPath>'
        '<g clip-path="url(#c)" fill="none" stroke="#000">'
        '<rect x="10" y="10" width="20" height="20"/></g></svg>'
    )
    work = read_linework(text.encode())
    assert build_arrangement(work).face_count - 1 == 1


def test_more_clips_than_allowed_are_refused_before_any_cuts() -> None:
    body = "".join(
        f'<clipPath id="c{k}"><circle cx="{k % 100}" cy="50" r="30"/></clipPath>'
        f'<path clip-path="url(#c{k})" d="M0 {k % 99}H100"/>'
        for k in range(20_000)
    )
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" fill="none" '
        f'stroke="#000">{body}</svg>'
    )
    start = time.process_time()
    with pytest.raises(ReadError, match="comparisons with clips"):
        read_linework(svg.encode(), name="clips.svg")
    assert time.process_time() - start < 10
