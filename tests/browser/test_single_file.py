"""The page to hand on, opened from the disk without a server."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.file import parse_plan

if TYPE_CHECKING:
    from tests.browser.conftest import Sight

pytestmark = pytest.mark.browser


def test_it_repaints_offline_and_gives_its_plan_back(
    sight: Sight, tmp_path: Path
) -> None:
    data = demo_drawing("cloakroom-door")
    finish = colour_drawing(data, name="cloakroom-door.svg")
    file = tmp_path / "page.html"
    file.write_bytes(finish.html())
    sight.page.context.set_offline(True)
    asked: list[str] = []
    sight.page.on("request", lambda r: asked.append(r.url))
    page = sight.open(file.as_uri()).page
    page.wait_for_selector("ul.kinds li")
    swatches = finish.palette.swatches
    now = int(finish.colouring.of_orbit[0])
    wanted = (now + 2) % len(swatches)
    # nothing is shown as set before anything was
    assert page.locator(".pins").inner_text() == ""
    page.locator("button.pick").nth(wanted).click()
    page.locator("button.kind").first.click()
    sight.turn_to("Finish")
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Download the plan", exact=True).click()
    plan = parse_plan(Path(waiting.value.path()).read_bytes())
    again = colour_drawing(data, plan, name="cloakroom-door.svg")
    assert int(again.colouring.of_orbit[0]) == wanted
    assert again.colouring.of_orbit[1:].tolist() == (
        finish.colouring.of_orbit[1:].tolist()
    )
    page.get_by_role("button", name="Undo", exact=True).click()
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Download the plan", exact=True).click()
    plan = parse_plan(Path(waiting.value.path()).read_bytes())
    back = colour_drawing(data, plan, name="cloakroom-door.svg").colouring
    assert back.of_face.tolist() == finish.colouring.of_face.tolist()
    assert [a for a in asked if not a.startswith(("file:", "blob:", "data:"))] == []


def test_contrast_on_the_page_is_that_of_the_report(
    sight: Sight, tmp_path: Path
) -> None:
    finish = colour_drawing(demo_drawing("stair-whirl"), name="stair-whirl.svg")
    file = tmp_path / "page.html"
    file.write_bytes(finish.html())
    page = sight.open(file.as_uri()).page
    page.wait_for_selector("ul.kinds li")
    words = page.locator(".contrast p").first.inner_text()
    assert f"ΔE00 {finish.colouring.smallest_difference:.1f}," in words
