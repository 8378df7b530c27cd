"""A cell laid over a panel on the page: dragged, caught by a good place, laid."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.browser.conftest import Running, Sight

pytestmark = pytest.mark.browser

# invented: a square of guide lines, a cross, a circle
CELL = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm"
viewBox="0 0 60 60"><rect x="10" y="10" width="40" height="40" fill="none"
stroke="#0000ff" stroke-width="0.2"/><g fill="none" stroke="#000" stroke-width="0.5">
<path d="M10 30H50"/><path d="M30 10V50"/><circle cx="30" cy="30" r="8"/></g></svg>"""


def test_a_pattern_is_dragged_under_its_frame(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    page = sight.open(server.address).page
    page.set_viewport_size({"width": 1280, "height": 800})
    (tmp_path / "cell.svg").write_text(CELL)
    page.set_input_files("#drawing input[type=file]", str(tmp_path / "cell.svg"))
    page.wait_for_selector("ul.kinds li", state="attached")
    sight.settle()
    page.locator("#parts a[href='#drawing']").click()
    page.locator(".laying summary").click()
    page.locator(".laying [data-key=over]").fill("110 x 150")
    page.locator(".laying [data-key=cell]").select_option("colour=#0000ff")
    page.get_by_role("button", name="Lay it").click()
    frame = page.locator("canvas.frame")
    frame.wait_for()
    sight.settle()
    words = page.locator(".laying p[aria-live]")
    assert words.inner_text().startswith("Place 1")
    # by keys to between the good places, and it lies there
    frame.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert not words.inner_text().startswith("Place")
    page.keyboard.press("Enter")
    sight.settle()
    page.wait_for_timeout(300)
    assert not words.inner_text().startswith("Place")
    # dragged back by about as much, it is caught by the good place
    box = frame.bounding_box()
    assert box is not None
    px = box["width"] / 110
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 3 * px + 2, y + 1, steps=3)
    assert words.inner_text().startswith("Place 1")
    page.mouse.up()
    sight.settle()
    page.wait_for_timeout(300)
    pressed = page.locator(".places button[aria-pressed=true]")
    assert pressed.inner_text().startswith("1")
    # on a phone the page is no wider, and the whole frame can be seen and dragged
    page.set_viewport_size({"width": 360, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    frame.evaluate("e => e.scrollIntoView({behavior: 'instant'})")
    page.wait_for_timeout(200)
    box, bar = frame.bounding_box(), page.locator("#top").bounding_box()
    assert box is not None
    assert bar is not None
    assert bar["y"] + bar["height"] <= box["y"]
    assert box["y"] + box["height"] <= 640
    before = words.inner_text()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2 + 17, box["y"] + 50, steps=3)
    assert words.inner_text() != before
    page.mouse.up()
    sight.settle()
    page.wait_for_timeout(300)
    assert words.inner_text() != before
