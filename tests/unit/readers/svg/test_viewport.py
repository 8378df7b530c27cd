"""What the root element states of its page: sizes, units, the view box."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.geometry import affine
from fillwork.readers.svg.viewport import OutermostPage

PX_A_MM = 96 / 25.4


def opened(**attributes: str) -> OutermostPage:
    page = OutermostPage()
    page.open({key.replace("_", ""): text for key, text in attributes.items()}, 16.0)
    return page


@pytest.mark.parametrize(
    ("width", "height", "box", "size"),
    [
        ("100mm", "50mm", None, (100 * PX_A_MM, 50 * PX_A_MM)),
        ("100", "50px", None, (100, 50)),
        # what is missing follows from the view box
        (None, None, "0 0 30 20", (30, 20)),
        (None, "40", "0 0 30 20", (60, 40)),
        ("90", None, "0 0 30 20", (90, 60)),
        ("auto", "40", "0 0 30 20", (60, 40)),
        # shares of what nobody knows are none, nor is what is not above nothing
        ("100%", "100%", "0 0 30 20", (30, 20)),
        ("0", "40", "0 0 30 20", (60, 40)),
        ("-5", "40", "0 0 30 20", (60, 40)),
        ("-5%", "40", "0 0 30 20", (60, 40)),
        ("wide", "40", "0 0 30 20", (60, 40)),
    ],
)
def test_sizes_of_the_page(
    width: str | None, height: str | None, box: str | None, size: tuple[float, float]
) -> None:
    told = {"width": width, "height": height, "viewBox": box}
    page = opened(**{key: text for key, text in told.items() if text is not None})
    assert page.has_page
    assert (page.width, page.height) == pytest.approx(size)


@pytest.mark.parametrize(
    ("width", "doubt"),
    [
        ("90", ""),
        ("auto", ""),
        ("", ""),
        ("100%", ""),
        ("0", "the page's width is '0'"),
        ("-5", "the page's width is '-5'"),
        ("0%", ""),
        ("wide", "the page's width is 'wide'"),
    ],
)
def test_sizes_that_are_none_are_told(width: str, doubt: str) -> None:
    assert opened(width=width, height="40", viewBox="0 0 30 20").doubt == doubt


def test_units_tell_the_scale() -> None:
    for width, height, known, unit in (
        ("10cm", "5cm", True, "cm"), ("10", "5", False, "px"),
        ("10px", "5mm", True, "mm"), ("1in", "50mm", True, "in"),
    ):  # fmt: skip
        page = opened(width=width, height=height)
        assert (page.scale_known, page.unit) == (known, unit)


def test_without_two_sizes_there_is_no_page() -> None:
    for told in (
        {},
        {"width": "30"},
        {"height": "30"},
        {"width": "50%", "height": "9"},
    ):
        assert not opened(**told).has_page


@pytest.mark.parametrize(
    ("size", "page"), [("1e-9", False), ("1e12", False), ("5", True)]
)
def test_a_page_is_of_a_size_that_can_be_meant(size: str, page: bool) -> None:
    told = opened(width=size, height="5")
    assert told.has_page == page
    assert ("cannot be meant" in told.doubt) == (not page)


def test_the_view_box_is_laid_on_the_page_with_y_up() -> None:
    page = opened(width="100mm", height="50mm", viewBox="10 20 200 100")
    places = affine.apply(
        page.to_mm, np.array([[10.0, 20.0], [210.0, 120.0], [110, 20]])
    )
    assert places == pytest.approx(np.array([[0, 50], [100, 0], [50, 50]]), abs=1e-9)
    plain = opened(width="100mm", height="50mm")
    places = affine.apply(plain.to_mm, np.array([[0.0, 0.0], [0.0, 50 * PX_A_MM]]))
    assert places == pytest.approx(np.array([[0, 50], [0, 0]]), abs=1e-9)
