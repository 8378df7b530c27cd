"""What a newcomer sees: lines that close nothing, wrong files, what is asked about."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from tests.browser.conftest import Running, Sight

pytestmark = pytest.mark.browser


@pytest.fixture
def opened(shared: Running, sight: Sight) -> Sight:
    return sight.open(shared.address)


def _send(page: Page, name: str, content: str) -> None:
    file = {"name": name, "mimeType": "image/svg+xml", "buffer": content.encode()}
    page.locator("#drawing .drop input").set_input_files(file)


def _svg(lines: str) -> str:
    size = "width='100mm' height='100mm' viewBox='0 0 100 100'"
    return f"<svg xmlns='http://www.w3.org/2000/svg' {size}>{lines}</svg>"


def test_a_file_that_is_no_drawing_leaves_what_was_there(opened: Sight) -> None:
    page = opened.page
    _send(page, "first.svg", "no drawing")
    page.locator("[role=alert]", has_text="first.svg").wait_for()
    opened.settle()
    assert page.locator("#welcome").is_visible()
    opened.take_demo("bench border")
    _send(page, "second.svg", "no drawing")
    page.locator("[role=alert]", has_text="second.svg").wait_for()
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    assert "second.svg" in opened.alert()
    assert page.title().startswith("bench-border")
    assert page.locator("#sight").is_visible()
    # and so it is when the page is loaded again
    page.reload()
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    assert page.title().startswith("bench-border")
    assert not opened.alert()


def test_rings_show_the_open_ends_where_no_line_closes_a_region(opened: Sight) -> None:
    page = opened.page
    lines = "<path d='M10,10H90M10,20V90' stroke='#000' fill='none'/>"
    _send(page, "open.svg", _svg(lines))
    rings = page.locator("#pencil .ring")
    rings.nth(3).wait_for()
    opened.settle()
    assert rings.locator("text").all_text_contents() == ["1", "2", "3", "4"]
    page.get_by_role("button", name="Show", exact=False).first.click()
    assert page.locator("#pencil .ring.shown").count() == 1
    # also on a small screen they are large enough to be seen
    page.set_viewport_size({"width": 360, "height": 740})
    page.reload()
    rings.nth(3).wait_for()
    opened.settle()
    for circle in rings.locator("circle").all():
        lies = circle.bounding_box()
        assert lies is not None
        assert lies["width"] >= 15
    # which line would go is shown before it is left out
    page.get_by_role("button", name="Leave all whole lines out").hover()
    assert page.locator("#pencil path.meant").get_attribute("d")


def test_lines_stand_in_the_place_of_regions_that_are_gone(opened: Sight) -> None:
    page = opened.page
    black = "<path d='M10,10H90V90H10Z' stroke='#000' fill='none'/>"
    blue = "<path d='M20,20H80' stroke='#00f' fill='none'/>"
    _send(page, "framed.svg", _svg(black + blue))
    page.wait_for_selector("#drawing .lead:has-text('regions'), ul.kinds li")
    opened.settle()
    opened.turn_to("Drawing")
    page.get_by_role("checkbox", name="black line").uncheck()
    page.wait_for_selector("#drawing .lead:has-text('0 regions')")
    opened.settle()
    assert page.locator("#pencil").is_visible()
    assert not page.locator("#sight").is_visible()
    assert not page.locator("#hand").is_visible()
    assert page.locator("#parts a").all_inner_texts() == ["Drawing", "Regions"]


def test_kinds_that_are_asked_about_stay_marked(opened: Sight) -> None:
    page = opened.page
    lines = "M10,10H90V90H10ZM50,10V90"
    _send(page, "two.svg", _svg(f"<path d='{lines}' stroke='#000' fill='none'/>"))
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    marks = "document.querySelector('canvas.marks').toDataURL()"
    bare = page.evaluate(marks)
    box = page.locator("#sight").bounding_box()
    assert box is not None
    across, down = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.click(across - 100, down)
    marked = page.evaluate(marks)
    assert marked != bare
    caption = page.locator("#caption").inner_text()
    page.mouse.move(5, 5)
    assert page.evaluate(marks) == marked
    assert page.locator("#caption").inner_text() == caption
    # closed by itself, and pointed at again without having left the region
    page.mouse.move(across - 100, down)
    page.evaluate("document.querySelector('[data-key=close-card]').click()")
    assert page.evaluate(marks) == bare
    page.mouse.move(across - 90, down)
    assert page.evaluate(marks) == marked


def test_several_kinds_are_told_with_the_paints_of_all(opened: Sight) -> None:
    page = opened.page
    opened.take_demo("bench border")
    page.locator("button.kind").nth(0).click()
    card = page.locator("#card")
    card.get_by_label("Several kinds").check()
    first = card.locator("[aria-pressed=true]").get_attribute("title")
    swatches = page.locator("button.kind").all_inner_texts()
    other = next(k for k, row in enumerate(swatches) if row[0] != swatches[0][0])
    page.locator("button.kind").nth(other).click()
    words = card.locator("p small").inner_text()
    assert words.startswith(f"Now {first}, ")
    assert "these kinds" in words
    assert card.locator("[aria-pressed=true]").count() == 0


def test_a_number_that_does_not_serve_is_said_and_changes_nothing(
    opened: Sight,
) -> None:
    page = opened.page
    opened.take_demo("bench border")
    opened.turn_to("Finish")
    page.locator("summary", has_text="Copies, coats").click()
    coats = page.locator("[data-key=coats]")
    for words in ("0", "2.5", "99"):
        coats.fill(words)
        coats.press("Enter")
        assert opened.alert() == "Coats: write a whole number from 1 to 50, or none"
    # letters that a field for numbers lets through are no emptied field
    coats.fill("")
    coats.press_sequentially("1e")
    coats.press("Enter")
    assert "whole number" in opened.alert()
    coats.fill("2")
    coats.press("Enter")
    opened.settle()
    assert not opened.alert()
    page.reload()
    page.wait_for_selector("ul.kinds li", state="attached")
    opened.settle()
    assert coats.input_value() == "2"


def test_what_is_dropped_is_taken_or_said(opened: Sight) -> None:
    page = opened.page
    drop = """(files) => {
        const carried = new DataTransfer();
        for (const [name, content] of files)
            carried.items.add(new File([content], name));
        const how = { dataTransfer: carried, cancelable: true };
        document.dispatchEvent(new DragEvent("drop", how));
    }"""
    square = _svg("<path d='M10,10H90V90H10Z' stroke='#000' fill='none'/>")
    page.evaluate(drop, [["one.svg", square], ["two.svg", square]])
    assert opened.alert() == "One drawing at a time: drop them one by one."
    page.evaluate(drop, [["one.svg", square]])
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    # a plan is taken up for the drawing that is there
    page.evaluate(drop, [["plan.toml", "[sheets]\ntitle = 'Hall'\n"]])
    page.locator("[role=status]", has_text="The plan is taken up").wait_for()
    opened.turn_to("Finish")
    assert page.locator("[data-key=title]").input_value() == "Hall"
    assert page.title().startswith("one.svg")


def test_paints_keep_their_colours_where_the_persons_own_stand(
    opened: Sight,
) -> None:
    page = opened.page
    opened.take_demo("bench border")
    square = page.locator("button.pick .swatch").nth(2)

    def middle() -> tuple[int, ...]:
        image = Image.open(io.BytesIO(square.screenshot())).convert("RGB")
        found = image.getpixel((image.width // 2, image.height // 2))
        assert isinstance(found, tuple)
        return found

    before = middle()
    page.emulate_media(forced_colors="active")
    assert middle() == before
    # and what is chosen is told by more than a border that all have there
    pick = page.locator("button.pick").nth(2)
    pick.click()
    style = "it => getComputedStyle(it).outlineStyle"
    assert pick.evaluate(style) == "solid"
    assert page.locator("button.pick").nth(1).evaluate(style) == "none"


def test_on_a_phone_a_sheet_can_be_read_and_two_ways_are_whole(opened: Sight) -> None:
    page = opened.page
    page.set_viewport_size({"width": 360, "height": 740})
    lines = "M30,10H60V90H30ZM30,40H60M30,70H60"
    _send(page, "tall.svg", _svg(f"<path d='{lines}' stroke='#000' fill='none'/>"))
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    opened.turn_to("Colourways")
    page.get_by_role("button", name="Suggest some in this palette").click()
    opened.settle()
    for k in range(2):
        page.get_by_role("button", name="Keep", exact=True).nth(k).click()
        page.get_by_label("side by side").nth(k).check()
    seen = page.locator("#view").bounding_box()
    back = page.locator("#beside").get_by_role("button", name="Back to the drawing")
    lies = back.bounding_box()
    assert seen is not None
    assert lies is not None
    assert lies["y"] + lies["height"] <= seen["y"] + seen["height"]
    back.click()
    opened.turn_to("Finish")
    page.get_by_role("button", name="Show the sheets").click()
    page.wait_for_selector("#large img[src^=blob]")
    opened.settle()
    sheet = page.locator("#large img").bounding_box()
    assert sheet is not None
    # an A4 sheet as wide as the screen lets it be
    assert sheet["height"] * 210 / 297 > 0.75 * 360
    bar = page.locator("#parts").bounding_box()
    assert bar is not None
    assert sheet["y"] + sheet["height"] <= bar["y"]


def test_other_buttons_of_a_mouse_paint_nothing(opened: Sight) -> None:
    page = opened.page
    opened.take_demo("fountain medallion")
    page.locator("button.pick").nth(3).click()
    box = page.locator("#sight").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    for other in ("right", "middle"):
        page.mouse.click(x, y, button=other)
    opened.settle()
    assert page.locator(".pins").inner_text() == ""
    page.mouse.click(x, y)
    opened.settle()
    assert "What you set (1)" in page.locator(".pins").inner_text()


def test_who_came_closer_sees_the_same_place_in_a_window_of_another_size(
    opened: Sight,
) -> None:
    page = opened.page
    lines = "M10,10H90V90H10ZM48,48H52V52H48Z"
    _send(page, "spot.svg", _svg(f"<path d='{lines}' stroke='#000' fill='none'/>"))
    page.wait_for_selector("ul.kinds li")
    opened.settle()

    def small_share() -> float:
        """Tell how much of the picture the small square in the middle takes."""
        page.wait_for_timeout(200)
        data = page.locator("#sight").screenshot()
        seen = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
        middle = seen[seen.shape[0] // 2, seen.shape[1] // 2]
        return float((seen == middle).all(axis=2).mean())

    assert small_share() < 0.1
    for _ in range(12):
        page.get_by_role("button", name="Closer", exact=True).click()
    assert small_share() > 0.9
    page.set_viewport_size({"width": 1100, "height": 800})
    assert small_share() > 0.9
    page.get_by_role("button", name="Fit", exact=True).click()
    assert small_share() < 0.1


def test_a_sheet_that_was_put_away_for_others_goes_on(opened: Sight) -> None:
    page = opened.page
    opened.take_demo("bench border")
    square = _svg("<path d='M10,10H90V90H10Z' stroke='#000' fill='none'/>")
    page.evaluate(
        """async (square) => {
            const token = sessionStorage.getItem("fillwork-token");
            const headers = { "Fillwork-Token": token };
            const how = { method: "POST", headers, body: square };
            for (let k = 0; k < 8; k += 1) await fetch("/api/open?name=a.svg", how);
        }""",
        square,
    )
    page.locator("button.pick").nth(3).click()
    page.locator("button.kind").first.click()
    page.locator(".pins", has_text="What you set (1)").wait_for()
    opened.settle()
    assert opened.alert() == ""
    undo = page.get_by_role("button", name="Undo", exact=True)
    assert undo.is_enabled()
    # the browser itself reports the answer of before
    opened.said[:] = [s for s in opened.said if "404" not in s]


def test_a_place_to_be_touched_is_given_up_by_escape(opened: Sight) -> None:
    page = opened.page
    opened.take_demo("fountain medallion")
    opened.turn_to("Finish")
    for words in ("Copies, coats", "In the workshop"):
        page.locator("summary", has_text=words).click()
    page.get_by_role("button", name="Touch the place", exact=True).click()
    status = page.locator("#message [role=status]")
    assert "Now touch" in status.inner_text()
    page.keyboard.press("Escape")
    assert status.text_content() == ""
    page.locator("#sight").click()
    opened.settle()
    assert page.locator("[data-key=patch-none]").count() == 0
    assert page.locator("#card").is_visible()


def test_a_drawing_whose_reading_is_cancelled_waits_in_the_list(opened: Sight) -> None:
    page = opened.page
    squares = "".join(
        f"<path d='M{k % 45},{k // 45}l.9,.1l-.2,.8l-.6,-.1Z'/>" for k in range(45 * 45)
    )
    # cancelled as soon as it is opened, long before it is read
    page.evaluate("""() => {
        const real = window.fetch;
        window.fetch = async (address, options) => {
            const answer = await real(address, options);
            if (!address.includes("/open?")) return answer;
            window.fetch = real;
            const { id } = await answer.clone().json();
            await real(`/api/${id}/cancel`, { ...options, body: "{}" });
            return answer;
        };
    }""")
    _send(page, "many.svg", _svg(f"<g fill='none' stroke='#000'>{squares}</g>"))
    page.locator("[role=status]", has_text="in the list").wait_for()
    opened.settle()
    assert page.locator("#welcome").is_visible()
    assert page.title() == "fillwork"
    page.get_by_role("button", name="many.svg", exact=True).first.click()
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    assert "many.svg" in page.title()


def test_what_is_opened_while_the_page_begins_stays(opened: Sight) -> None:
    page, asked, held = opened.page, [], []
    opened.take_demo("fountain medallion")
    page.on("request", lambda request: asked.append(request.url))
    page.route("**/api/start", lambda route: held.append(route))
    page.reload()
    square = _svg("<path d='M10,10H90V90H10Z' stroke='#000' fill='none'/>")
    with page.expect_response("**/api/open?*"):
        _send(page, "soon.svg", square)
    held[0].continue_()
    # the sheet from before is not taken up again
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    assert "soon.svg" in page.title()
    assert not any("reopen" in url for url in asked)


def test_a_long_name_is_printed_on_lines_of_its_own(opened: Sight) -> None:
    page = opened.page
    square = _svg("<path d='M10,10H90V90H10Z' stroke='#000' fill='none'/>")
    _send(page, f"{'a name of some length and more ' * 4}.svg", square)
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    page.set_viewport_size({"width": 700, "height": 990})  # as wide as paper is
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    title, key = (page.locator(f"#print {part}") for part in ("h1", "ul"))
    over, under = title.bounding_box(), key.bounding_box()
    assert over is not None
    assert under is not None
    assert over["height"] >= 2 * 20  # two lines of 1.25 rem
    assert over["y"] + over["height"] <= under["y"]


def test_ends_that_are_joined_no_more_can_be_joined_again(opened: Sight) -> None:
    page = opened.page
    lines = "M10,10H90V90H10ZM50,10.6V90"
    _send(page, "gap.svg", _svg(f"<path d='{lines}' stroke='#000' fill='none'/>"))
    page.wait_for_selector("ul.kinds li")
    opened.settle()
    opened.turn_to("Drawing")
    lead = page.locator("#drawing .lead")
    assert "2 regions" in lead.inner_text()
    page.locator("summary", has_text="place to look at").click()
    page.locator("[data-key=mend]").focus()
    page.keyboard.press("Home")
    opened.settle()
    assert "1 region " in lead.inner_text()
    here = "document.activeElement.dataset.key"
    assert page.evaluate(here) == "mend"
    page.keyboard.press("End")
    opened.settle()
    assert "2 regions" in lead.inner_text()
