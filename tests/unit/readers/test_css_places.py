"""What style sheets move and cut lies where the same drawing has it by attributes."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork import build_arrangement, read_linework
from fillwork.readers.svg.shapes.values import Viewport
from fillwork.readers.svg.style.cascade import INITIAL, resolve

_GRID = "M10 10H70V50H10ZM10 30H70M30 10V50"
_LINES = '<path d="M0 10H100M0 50H100M0 90H100M10 0V100M50 0V100M90 0V100"/>'


def _areas(inside: str, style: str = "") -> np.ndarray:
    """Return the areas of the regions of a drawing of 100 mm, and no doubts."""
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        f'viewBox="0 0 100 100"><style>{style}</style><g fill="none" stroke="#000" '
        f'stroke-width=".2">{inside}</g></svg>'
    )
    work = read_linework(text.encode())
    assert not any("not used" in note.text for note in work.notes), work.notes
    return np.sort(build_arrangement(work).area[1:])


# CSS Transforms 2, section 3: the origin, translate, rotate, scale, transform; the
# box of the fill by CSS Transforms 1, section 8
@pytest.mark.parametrize(
    ("style", "attribute"),
    [
        ("translate:10px 5px;scale:1.2 .8", "translate(10 5) scale(1.2 .8)"),
        ("rotate:30deg", "rotate(30)"),
        ("rotate:z .125turn;scale:.5", "rotate(45) scale(.5)"),
        (
            "translate:30px;rotate:30deg;scale:.7;transform:skewX(10deg)",
            "translate(30) rotate(30) scale(.7) skewX(10)",
        ),
        (
            "scale:.5;transform-origin:40px 30px",
            "translate(40 30) scale(.5) translate(-40 -30)",
        ),
        ("rotate:90deg;transform-box:fill-box;transform-origin:50% 50%", "QUARTER"),
        ("transform:rotate(90deg);transform-box:fill-box;"
         "transform-origin:center", "QUARTER"),
        ("transform:rotate(90deg);transform-box:fill-box", "rotate(90 10 10)"),
    ],
)  # fmt: skip
def test_single_maps_move_as_their_functions_do(style: str, attribute: str) -> None:
    # the grid's own box is 10 10 60 40, its middle 40 30
    attribute = attribute.replace("QUARTER", "rotate(90 40 30)")
    frame = '<path d="M0 0H100V100H0Z"/>'
    found = _areas(f'{frame}<path style="{style}" d="{_GRID}"/>')
    same = _areas(f'{frame}<path transform="{attribute}" d="{_GRID}"/>')
    np.testing.assert_allclose(found, same, rtol=1e-6)


def test_a_map_of_the_style_comes_before_that_of_the_attribute() -> None:
    shape = f'd="{_GRID}" transform="scale(.5)"'
    found = _areas(f'<path {shape} style="scale:.5 1"/>')
    np.testing.assert_allclose(found, _areas(f'<path d="{_GRID}"/>') / 8)


# CSS Shapes 1, section 3; CSS Masking 1, section 3: with no box named px are those of
# the box of the strokes, which for lines that end square on 0 and 100 is the page's
@pytest.mark.parametrize(
    ("clip", "rim", "inside"),
    [
        ("polygon(50px 0, 100px 50px, 50px 100px, 0 50px)", "M50 0L100 50L50 100L0 50Z",
         "M0 50H100M50 0V100M40 10H60M40 90H60M10 40V60M90 40V60"),
        ("polygon(evenodd, 50% 0, 100% 50%, 50% 100%, 0 50%) view-box",
         "M50 0L100 50L50 100L0 50Z",
         "M0 50H100M50 0V100M40 10H60M40 90H60M10 40V60M90 40V60"),
        ("circle(40px at 50px 50px)", "M10 50a40 40 0 1 1 80 0a40 40 0 1 1 -80 0Z",
         "M10 50H90M50 10V90"),
        ("circle(40%)", "M10 50a40 40 0 1 1 80 0a40 40 0 1 1 -80 0Z",
         "M10 50H90M50 10V90"),
        ("ellipse(40px 20px) fill-box", "M10 50a40 20 0 1 1 80 0a40 20 0 1 1 -80 0Z",
         "M10 50H90M50 30V70"),
        ("circle(at 30px 40px)", "M0 40a30 30 0 1 1 60 0a30 30 0 1 1 -60 0Z",
         "M10 0V100M50 0V100M0 50H100"),
        ("inset(20px 30px 20px 20px)", "M20 20H70V80H20Z", "M20 50H70M50 20V80"),
        ("inset(20% 30%)", "M30 20H70V80H30Z", "M30 50H70M50 20V80"),
        ("rect(20px 70px 80px 20px)", "M20 20H70V80H20Z", "M20 50H70M50 20V80"),
        ("view-box xywh(20px 20px 50px 60px)", "M20 20H70V80H20Z",
         "M20 50H70M50 20V80"),
        ("path('M20 20H70V80H20Z')", "M20 20H70V80H20Z", "M20 50H70M50 20V80"),
    ],
)  # fmt: skip
def test_shapes_of_css_cut_as_outlines_do(clip: str, rim: str, inside: str) -> None:
    drawn = f'<path d="{rim}"/>'
    found = _areas(f'<g class="c">{_LINES}</g>{drawn}', f".c{{clip-path:{clip}}}")
    if "at 30px" in clip:
        # the outline is that of a clip path
        same = _areas(
            f'<clipPath id="c"><path d="{rim}"/></clipPath>'
            f'<g clip-path="url(#c)"><path d="{inside}"/></g>{drawn}'
        )
    else:
        same = _areas(f'{drawn}<path d="{inside}"/>')
    np.testing.assert_allclose(found, same, rtol=1e-6)


def test_a_clip_with_no_box_is_laid_in_that_of_the_strokes() -> None:
    # sides from 10 to 90 and a pen of 2: the box is 9 to 91 on each side
    shape = (
        '<path d="M10 10H90V90H10ZM50 10V90M10 50H90" stroke-width="2" '
        'style="clip-path:inset(10px 20px 30px)"/>'
    )
    found = _areas(f'{shape}<path d="M29 19H71V61H29Z"/>')
    np.testing.assert_allclose(found, np.sort([21 * 31, 21 * 31, 21 * 11, 21 * 11]))


def test_sums_stand_for_lengths() -> None:
    style = (
        "rect{width:calc((1in - 36px) * 2 / 2);height:min(40px, 90%)}"
        "circle{r:clamp(5px, 10%, 8px)}"
    )
    found = _areas('<rect/><circle cx="80" cy="80"/>', style)
    np.testing.assert_allclose(found, np.sort([60.0 * 40.0, np.pi * 64]))


@pytest.mark.parametrize(
    "media", ["print", "(prefers-color-scheme: dark)", "print and (color)"]
)
def test_sheets_for_other_media_are_passed_over(media: str) -> None:
    sheet = f'<style media="{media}">path{{display:none}}</style>'
    assert len(_areas(f'{sheet}<path d="{_GRID}"/>')) == 4
    assert (
        len(
            _areas(
                f'<path d="{_GRID}"/>', f"@media {media}{{path{{r:1;display:none}}}}"
            )
        )
        == 4
    )


@pytest.mark.parametrize("rule", ["path:first-child", "path + path"])
def test_what_is_no_line_is_a_sibling_too(rule: str) -> None:
    inside = f'<path d="M0 0h1"/><desc>d</desc><path d="{_GRID}"/>'
    assert len(_areas(inside, f"{rule}{{display:none}}")) == 4
    inside = f'<title>t</title><path d="{_GRID}"/>'
    assert len(_areas(inside, f"{rule}{{display:none}}")) == 4


def test_a_sheet_outside_the_file_is_told() -> None:
    text = (
        '<?xml-stylesheet href="a.css"?><svg xmlns="http://www.w3.org/2000/svg" '
        f'width="90mm" height="90mm"><path d="{_GRID}" stroke="#000"/></svg>'
    )
    notes = read_linework(text.encode()).notes
    assert any("style sheet outside the file" in note.text for note in notes)


def test_a_blending_without_a_value_is_none_at_all() -> None:
    # CSS Custom Properties 1, section 3: what var() leaves empty is as if not declared
    solid = [
        resolve(INITIAL, {"mix-blend-mode": text}, Viewport(9.0, 9.0))[0].solid
        for text in ("var(--nothing)", "", "normal", "multiply")
    ]
    assert solid == [True, True, True, False]


@pytest.mark.parametrize(
    "clip", ["inset(50%)", "circle(0)", "path('')", "xywh(0 0 0 9px)"]
)
def test_a_clip_that_leaves_nothing_hides_all(clip: str) -> None:
    # CSS Masking 1, section 5: what is outside the clip is not seen
    square = '<path d="M20 20H40V40H20Z"/>'
    hidden = f'<path d="M60 60H90V90H60Z" style="clip-path:{clip}"/>'
    np.testing.assert_allclose(_areas(square + hidden), [400.0])


def test_the_outermost_element_is_moved_and_cut_as_any_other() -> None:
    grid = f'<path d="{_GRID}"/>'
    turned = "svg{transform-origin:center;transform:rotate(90deg)}"
    np.testing.assert_allclose(_areas(grid, turned), [400.0, 400.0, 800.0, 800.0])
    # left is 20 to 80 each way: lines at 30 and 70 across, at 30 and 50 down
    found = _areas(
        f'{grid}<path d="M20 20H80V80H20Z"/>', "svg{clip-path:inset(20px) view-box}"
    )
    parts = [10 * 10, 10 * 20, 40 * 10, 40 * 20]
    np.testing.assert_allclose(found, [*parts, 60 * 60 - sum(parts)])
