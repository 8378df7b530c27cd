"""A cell laid over a panel on the page: dragged, caught by a good place, laid."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.unit.laying.test_places import framed

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
    # scrolled to again for as long as the page is laid anew
    page.wait_for_function("""() => {
        const frame = document.querySelector("canvas.frame");
        frame.scrollIntoView({ behavior: "instant" });
        const bar = document.querySelector("#top").getBoundingClientRect();
        return bar.bottom <= frame.getBoundingClientRect().top;
    }""")
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


def _asked(sight: Sight, drawing: str, address: str, tmp_path: Path) -> None:
    """Open a drawing, and what is asked before it is laid."""
    page = sight.open(address).page
    (tmp_path / "mine.svg").write_text(drawing)
    page.set_input_files("#welcome input[type=file]", str(tmp_path / "mine.svg"))
    page.wait_for_selector("ul.kinds li", state="attached")
    sight.settle()
    page.locator("#parts a[href='#drawing']").click()
    page.locator(".laying summary").click()


def test_a_border_from_a_file_runs_round_a_cell(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    # guides as long and as dark as the ink, on a layer of their own
    guides = CELL.replace("#0000ff", "#000").replace(
        "<rect", "<g id='Hilfslinien'><rect"
    )
    guides = guides.replace('stroke-width="0.2"/>', 'stroke-width="0.5"/></g>')
    _asked(sight, guides, server.address, tmp_path)
    page = sight.page
    assert "construction" in page.locator("#drawing .ask").inner_text()
    cell = page.locator(".laying [data-key=cell]")
    assert cell.input_value() == "layer=Hilfslinien,colour=#000000"
    page.locator(".laying [data-key=over]").fill("24 × 32 cm")
    strip = page.locator(".laying [data-key=strip]")
    assert not strip.is_visible()
    page.locator(".laying [data-key=border]").select_option("file")
    page.get_by_role("button", name="Lay it").click()
    assert "strip" in sight.alert()
    zigzag = "".join(f"M{20 * k} 0l10 20 10-20" for k in range(4))
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="20mm" '
    head += 'viewBox="0 0 80 20" fill="none" stroke="#000">'
    (tmp_path / "strip.svg").write_text(
        f'{head}<path d="{zigzag}M0 0H80M0 20H80"/></svg>'
    )
    strip.set_input_files(str(tmp_path / "strip.svg"))
    page.get_by_role("button", name="Lay it").click()
    page.locator("canvas.frame").wait_for()
    sight.settle()
    assert "240 × 320 mm" in page.locator("#drawing .lead").inner_text()
    assert page.locator(".places button").count() == 8
    # laid again on another panel, the border stays
    page.get_by_text("Another panel, cell or border").click()
    page.locator(".laying [data-key=over]").fill("300 x 300")
    assert page.locator(".laying [data-key=border]").input_value() == "keep"
    page.locator(".laying [data-key=lay]").click()
    page.wait_for_selector("#drawing .lead:has-text('300 × 300 mm')")
    sight.settle()
    assert "border" in page.locator(".laying pre").text_content()


def test_a_framed_panel_is_laid_anew_with_its_own_border(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    _asked(sight, framed(10, 8).decode(), server.address, tmp_path)
    page = sight.page
    page.locator(".laying [data-key=over]").fill("440 x 340")
    page.locator(".laying [data-key=border]").select_option("own")
    page.locator(".laying [data-key=lay]").click()
    page.locator("canvas.frame").wait_for()
    sight.settle()
    assert "440 × 340 mm" in page.locator("#drawing .lead").inner_text()
    assert page.locator(".places button").count() == 8


def test_a_sector_between_two_guide_lines_goes_round_its_middle(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    # a sector of 90°, four of which are the whole
    sector = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm"
    viewBox="0 0 60 60" fill="none" stroke="#000"><g id="guides" stroke-width="0.1">
    <path d="M5 55H55M5 55V5"/></g><path d="M45 55A40 40 0 0 0 5 15M25 55 15 35 5 35"/>
    </svg>"""
    _asked(sight, sector, server.address, tmp_path)
    page = sight.page
    page.locator(".laying [data-key=over]").fill("100 x 100")
    page.locator(".laying [data-key=by]").select_option("C")
    page.locator(".laying [data-key=sectors]").fill("4")
    page.locator(".laying [data-key=lay]").click()
    page.locator("canvas.frame").wait_for()
    sight.settle()
    assert "100 × 100 mm" in page.locator("#drawing .lead").inner_text()
    # taken as it is again, no rosette is stated any more
    page.get_by_role("button", name="Take the drawing as it is").click()
    page.wait_for_selector("#drawing .lead:has-text('60 × 60 mm')")
    sight.settle()
    sight.turn_to("Regions")
    assert page.locator("[data-key=symmetry]").input_value() == "auto"
