"""The page to hand on in a real browser: size, first paint, one kind painted."""

from __future__ import annotations

import itertools
import os
import statistics
from typing import TYPE_CHECKING, Any

import pytest

from fillwork.pipeline.job import colour_drawing
from tests.bench.patterns import star_and_cross, svg_of

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.bench

_AGAIN = 8


def _cpu(session: Any) -> float:
    """Return the CPU seconds that the page's main thread has worked."""
    metrics = session.send("Performance.getMetrics")["metrics"]
    return float(next(m["value"] for m in metrics if m["name"] == "TaskDuration"))


def _measure(page: Any, file: Path) -> dict[str, float]:
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")
    page.goto(file.as_uri())
    page.wait_for_selector("ul.kinds li")
    page.wait_for_timeout(1500)
    found = {"open": _cpu(session)}
    box = page.locator("#sight").bounding_box()
    spent: dict[str, list[float]] = {"paint": [], "hover": []}
    for k in range(_AGAIN):
        page.locator("button.pick").nth(1 + k % 4).click()
        page.wait_for_timeout(150)
        before = _cpu(session)
        page.locator("button.kind").first.click()
        page.wait_for_timeout(400)
        spent["paint"].append(_cpu(session) - before)
        x = box["x"] + box["width"] * (0.3 + 0.05 * k)
        before = _cpu(session)
        page.mouse.move(x, box["y"] + box["height"] / 2)
        page.wait_for_timeout(250)
        spent["hover"].append(_cpu(session) - before)
    return found | {name: statistics.median(values) for name, values in spent.items()}


def test_the_page_grows_no_faster_than_its_regions(tmp_path: Path) -> None:
    playwright = pytest.importorskip("playwright.sync_api")
    path = os.environ.get("FILLWORK_CHROMIUM")
    if not path:
        pytest.skip("FILLWORK_CHROMIUM names no browser")
    rows = []
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        for segments in (1_600, 16_000, 160_000):
            data = svg_of(star_and_cross(segments))
            finish = colour_drawing(data, name="stars.svg")
            file = tmp_path / f"{segments}.html"
            file.write_bytes(finish.html())
            regions = finish.arrangement.face_count - 1
            page = browser.new_page(viewport={"width": 1400, "height": 900})
            found = _measure(page, file)
            page.close()
            size = file.stat().st_size / 1e6
            rows.append((regions, size, found))
            print(
                f"\n{regions:6d} regions: {size:5.2f} MB, opened in "
                f"{1000 * found['open']:.0f} ms of CPU, one kind painted in "
                f"{1000 * found['paint']:.0f} ms, hover {1000 * found['hover']:.0f} ms"
            )
        browser.close()
    for (few, small, _), (many, large, _) in itertools.pairwise(rows):
        assert large / small <= 1.1 * many / few
