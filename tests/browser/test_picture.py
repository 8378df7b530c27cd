"""A photograph on the page: corners, pen, doubts, then on to the regions."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.unit.readers.scan.sheets import Faults, make_sheet, photo

if TYPE_CHECKING:
    from pathlib import Path

    from tests.browser.conftest import Running, Sight

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [1400, 360])
def test_photo_to_regions(
    sight: Sight, server: Running, tmp_path: Path, width: int
) -> None:
    sheet = make_sheet("bricks", 76, (80.0, 100.0))
    x, y = sheet.regions()[3].centroid.coords[0]
    # an end that stops alone, to be answered
    sheet.lines.append(np.array([[x - 2, y], [x + 2, y]]))
    data, corners = photo(sheet, Faults(tilt=8, pencil=180), 76, (1000, 1250))
    file = tmp_path / "sheet.jpg"
    file.write_bytes(data)
    page = sight.page
    page.set_viewport_size({"width": width, "height": 800})
    sight.open(server.address)
    page.set_input_files("#welcome input[type=file]", file)
    page.wait_for_selector("#trace path.final")
    sight.settle()
    # the sheet's own corners stand on the photo and follow the arrow keys
    page.get_by_role("button", name="Photo and corners").click()
    # what holds controls is no picture: to a reader of screens they would be lost
    assert page.locator("#trace [role=img]:has(.corner)").count() == 0
    corner = page.locator("#trace .corner").first
    seen = [float(corner.get_attribute(k) or "nan") for k in ("cx", "cy")]
    assert np.abs(np.array(seen) - corners[0]).max() < 3
    corner.focus()
    page.keyboard.press("ArrowRight")
    assert float(corner.get_attribute("cx") or "nan") == pytest.approx(seen[0] + 1)
    page.get_by_role("button", name="Trace with these corners").click()
    sight.settle()
    # the pen is told from the pencil by a touch
    page.get_by_role("button", name="Touch my pen on the sheet").click()
    line = page.locator("#trace path.final").bounding_box()
    assert line is not None
    page.mouse.click(line["x"] + line["width"] / 2, line["y"])
    sight.settle()
    page.get_by_role("button", name="Find the pen again").wait_for()
    # lines that are images of each other are averaged where wished, and it is told
    page.get_by_label("Even out lines that should be alike").check()
    sight.settle()
    assert page.get_by_text("evened out over", exact=False).count()
    alone = page.locator(".doubts li", has_text="stops alone")
    # the numbers of their rings do not cover each other
    boxes = [t.bounding_box() for t in page.locator("#trace .ring text").all()]
    assert len(boxes) >= 2
    for one, two in itertools.combinations(filter(None, boxes), 2):
        across = abs(one["x"] - two["x"]) * 2 >= one["width"] + two["width"]
        down = abs(one["y"] - two["y"]) * 2 >= one["height"] + two["height"]
        assert across or down
    before = alone.count()
    none = alone.first.get_by_role("button", name="This is none")
    none.click()
    # an answer that is not handed over yet outlasts what else is said meanwhile
    width = page.locator("[data-key=width]")
    width.fill("500 mm")
    width.press("Enter")
    sight.settle()
    page.wait_for_selector("#drawing .lead:has-text('500')")
    assert none.get_attribute("aria-pressed") == "true"
    page.get_by_role("button", name="go on to Regions").click()
    page.wait_for_selector("section#regions.open")
    assert page.locator("#trace").is_hidden()
    page.get_by_role("link", name="Drawing", exact=True).click()
    assert alone.count() == before - 1
    if width == 360:
        return
    # laid over a panel the sheet is one cell of what is seen
    page.locator(".laying summary").click()
    page.locator(".laying [data-key=over]").fill("200 × 150 mm")
    page.locator(".laying [data-key=lay]").click()
    page.locator("canvas.frame").wait_for()
    sight.settle()
    assert page.locator("#trace").is_hidden()
