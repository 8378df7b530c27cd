"""The live page in a real browser, from a drawing to the zip."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pytest

from fillwork.pipeline.demo import demo_drawing, list_demos
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.file import parse_plan
from tests.browser.conftest import Sight

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from tests.browser.conftest import Running

pytestmark = pytest.mark.browser

_SERIOUS = ("serious", "critical")


def _axe(page: Page) -> list[str]:
    """Return what axe finds that is serious, in a few words each."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = axe.Axe().run(page).response["violations"]
    return [
        f"{v['id']}: {v['nodes'][0]['html'][:120]}"
        for v in found
        if v["impact"] in _SERIOUS
    ]


def _download(sight: Sight, words: str) -> bytes:
    with sight.page.expect_download() as waiting:
        sight.page.get_by_role("button", name=words, exact=True).click()
    return Path(waiting.value.path()).read_bytes()


@pytest.mark.parametrize(
    "name", ["warm-room-ceiling", "fountain-medallion", "bench-border"]
)
def test_from_drop_to_zip(
    server: Running, sight: Sight, tmp_path: Path, name: str
) -> None:
    page = sight.open(server.address).page
    drawing = tmp_path / f"{name}.svg"
    drawing.write_bytes(demo_drawing(name))
    page.set_input_files("#drawing input[type=file]", str(drawing))
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    assert f"{name}.svg" in page.locator("#drawing .lead").inner_text()
    # give the first kind the third paint, by touching its row
    page.locator("button.pick").nth(2).click()
    page.locator("button.kind").first.click()
    sight.settle()
    paint = page.locator("button.pick").nth(2).locator(".name").inner_text()
    assert paint in page.locator(".pins").inner_text()
    page.get_by_role("button", name="Choose the rest again", exact=True).click()
    # the message goes again after a while, which a busy machine may sleep through
    page.wait_for_selector("#message [role=status]:has-text('again')")
    sight.settle()
    sight.turn_to("Finish")
    page.get_by_role("button", name="Show the sheets", exact=True).click()
    page.wait_for_selector("#large img[src^=blob]")
    sight.settle()
    width = page.locator("#large img").evaluate("image => image.naturalWidth")
    assert width > 0
    page.get_by_role("button", name="Make the files", exact=True).click()
    page.wait_for_selector("text=Download all as one zip")
    archive = zipfile.ZipFile(io.BytesIO(_download(sight, "Download all as one zip")))
    files = {n: archive.read(n) for n in archive.namelist()}
    plan = parse_plan(files["plan.toml"])
    assert any(pin.swatch == paint for pin in plan.rules.pins)
    again = colour_drawing(drawing.read_bytes(), plan, name=f"{name}.svg")
    assert files == again.files(html=True)
    assert _axe(page) == []
    assert sight.alert() == ""


def test_before_there_is_a_drawing_the_page_bids_welcome(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    pictures = page.locator("#welcome .demos img")
    page.wait_for_selector("#welcome .demos img[src]")
    assert pictures.count() == len(list_demos())
    for k in range(pictures.count()):
        wide = "k => document.querySelectorAll('#welcome img')[k].naturalWidth > 100"
        page.wait_for_function(wide, arg=k)
    assert _axe(page) == []
    # the lines stand there before regions are found, and make way for the colours
    page.get_by_role("button", name="warm room ceiling", exact=True).click()
    page.wait_for_selector("#pencil path", state="attached")
    assert not page.locator("#welcome").is_visible()
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    assert not page.locator("#pencil").is_visible()


def test_with_no_paint_in_hand_a_touch_asks(server: Running, sight: Sight) -> None:
    page = sight.open(server.address).page
    sight.take_demo("fountain medallion")
    box = page.locator("#sight").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    card = page.locator("#card")
    assert "star" in card.inner_text()
    assert page.locator(".pins").inner_text() == ""
    assert _axe(page) == []
    now = card.locator("[aria-pressed=true]").get_attribute("title")
    other = card.locator("[aria-pressed=false]").first
    name = other.get_attribute("title")
    assert name != now
    other.click()
    sight.settle()
    assert name in page.locator(".pins").inner_text()
    assert card.locator("[aria-pressed=true]").get_attribute("title") == name
    card.get_by_role("button", name="Close", exact=True).click()
    assert not card.is_visible()
    # a paint is taken in hand, and put down by the same touch
    pick = page.locator("button.pick").first
    pick.click()
    assert pick.get_attribute("aria-pressed") == "true"
    assert page.locator("#hand .held").inner_text() in pick.inner_text()
    pick.click()
    assert pick.get_attribute("aria-pressed") == "false"


def test_a_drawing_without_regions_shows_its_lines(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    page = sight.open(server.address).page
    broken = tmp_path / "open.svg"
    size = "width='100mm' height='100mm' viewBox='0 0 100 100'"
    lines = "<path d='M10,10H90M10,20V90' stroke='#000' fill='none'/>"
    broken.write_text(
        f"<svg xmlns='http://www.w3.org/2000/svg' {size}>{lines}</svg>",
        encoding="utf-8",
    )
    page.set_input_files("#welcome input[type=file]", str(broken))
    page.wait_for_selector("#drawing .lead")
    sight.settle()
    assert page.locator("#pencil path").count() == 1
    assert page.locator("#pencil").is_visible()


def test_lines_that_look_like_construction_are_asked_about(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    page.get_by_role("button", name="drafting sheet", exact=True).click()
    page.wait_for_selector("#drawing .lead:has-text('regions')")
    sight.settle()
    # the drawing waits for the answer, and shows which lines are meant
    asked = page.locator("#drawing .ask")
    assert "construction" in asked.inner_text()
    assert "blue line" in asked.inner_text()
    page.get_by_role("checkbox", name="blue line").hover()
    before = int(page.locator("#drawing .lead").inner_text().split(":")[1].split()[0])
    assert _axe(page) == []
    asked.get_by_role("button", name="Leave them out", exact=True).click()
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    sight.turn_to("Drawing")
    after = int(page.locator("#drawing .lead").inner_text().split(":")[1].split()[0])
    assert after < before
    assert asked.count() == 0
    assert not page.get_by_role("checkbox", name="blue line").is_checked()


def test_who_comes_back_sees_the_drawing_and_writes_nothing_unasked(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    page.get_by_role("button", name="drafting sheet", exact=True).click()
    page.wait_for_selector("#drawing .lead:has-text('regions')")
    sight.settle()
    # what was pressed is gone: no field to write in takes the focus, as phones
    # bring their keyboard up for it
    page.locator("[data-key=leave-out]").click()
    sight.settle()
    assert not page.evaluate("document.activeElement.matches('input[type=text]')")
    sight.turn_to("Finish")
    page.get_by_role("button", name="Show the sheets").click()
    page.wait_for_selector("#large")
    sight.settle()
    page.reload()
    page.wait_for_selector("ul.kinds li", state="attached")
    sight.settle()
    assert page.locator("#large").count() == 0


def test_nothing_lies_over_the_drawing(server: Running, sight: Sight) -> None:
    page = sight.open(server.address).page
    sight.take_demo("fountain medallion")
    box = page.locator("#sight").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    for part in ("#card", "#nearer", "#caption"):
        other = page.locator(part).bounding_box()
        assert other is not None
        apart = (
            other["x"] + other["width"] <= box["x"]
            or other["y"] >= box["y"] + box["height"]
        )
        assert apart, part


def test_an_overhang_is_shown_before_it_is_cut_and_comes_back(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    page = sight.open(server.address).page
    drawing = tmp_path / "over.svg"
    size = "width='60mm' height='60mm' viewBox='0 0 60 60'"
    lines = "<path d='M10 10H50V50H10ZM30 10V56' stroke='#000' fill='none'/>"
    drawing.write_text(f"<svg xmlns='http://www.w3.org/2000/svg' {size}>{lines}</svg>")
    page.set_input_files("#welcome input[type=file]", str(drawing))
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    sight.turn_to("Drawing")
    cut = page.locator("[data-key^=cut]")
    marks = "document.querySelector('canvas.marks').toDataURL()"
    bare = page.evaluate(marks)
    cut.focus()
    shown = page.evaluate(marks)
    assert shown != bare
    page.locator("[data-key^=drop]").focus()
    assert page.evaluate(marks) not in (bare, shown)  # the whole line would go
    cut.click()
    sight.settle()
    assert cut.count() == 0
    assert page.locator("ul.kinds li").count() == 1
    page.get_by_role("button", name="Undo", exact=True).click()
    sight.settle()
    assert cut.count() == 1


def test_print_shows_the_drawing_in_its_proportions(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    sight.take_demo("fountain medallion")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    canvas = page.locator("#print canvas")
    # the medallion is a circle: as wide as high
    assert canvas.evaluate("c => Math.abs(c.width - c.height)") <= 2
    page.emulate_media(media="print")
    shown = canvas.bounding_box()
    assert shown is not None
    assert abs(shown["width"] / shown["height"] - 1) < 0.01
    assert page.locator("#print li").count() >= 3
    assert "fountain medallion" in page.locator("#print").inner_text()
    assert not page.locator("#sight").is_visible()


def test_a_touch_on_the_drawing_paints_its_kind(server: Running, sight: Sight) -> None:
    page = sight.open(server.address).page
    sight.take_demo("fountain medallion")
    box = page.locator("#sight").bounding_box()
    assert box is not None
    page.locator("button.pick").nth(1).click()
    # half way between the middle and the rim something is always drawn
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    caption = page.locator("#caption").inner_text()
    assert caption
    page.mouse.click(x, y)
    sight.settle()
    pins = page.locator(".pins").inner_text()
    assert "What you set (1)" in pins
    page.get_by_role("button", name="Undo", exact=True).click()
    sight.settle()
    assert "What you set" not in page.locator(".pins").inner_text()
    page.get_by_role("button", name="Redo", exact=True).click()
    sight.settle()
    assert page.locator(".pins").inner_text() == pins
    # zoom, move and fit change what is seen, not what is there
    page.mouse.wheel(0, -400)
    page.get_by_role("button", name="Fit", exact=True).click()
    sight.turn_to("Regions")
    page.get_by_label("Numbers of the paints on the regions").check()
    page.get_by_label("One repeat, with centres and mirrors").check()
    sight.turn_to("Colours")
    page.get_by_label("Seen as").select_option("grey")


def test_fingers_paint_move_and_bring_closer(server: Running, browser: Browser) -> None:
    context = browser.new_context(
        viewport={"width": 390, "height": 800}, has_touch=True, is_mobile=True
    )
    sight = Sight(context.new_page()).open(server.address)
    page = sight.page
    sight.take_demo("fountain medallion")
    # WCAG 2.2, success criterion 2.5.5: 44 px
    low = page.evaluate(
        "[...document.querySelectorAll('button, select, summary, #parts a, .tick, "
        "input:not([type=checkbox], [type=radio])')]"
        ".filter(e => e.offsetParent && e.offsetHeight < 44).map(e => e.outerHTML)"
    )
    assert low == []
    box = page.locator("#sight").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    hand = context.new_cdp_session(page)

    def touch(kind: str, *fingers: tuple[float, float]) -> None:
        points = [{"x": a, "y": b, "id": k} for k, (a, b) in enumerate(fingers)]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def seen() -> bytes:
        page.wait_for_timeout(300)
        return page.locator("#sight").screenshot()

    at_first = seen()
    # two fingers drawn apart bring the drawing closer, and paint nothing
    touch("touchStart", (x - 20, y), (x + 20, y))
    for step in range(1, 6):
        touch("touchMove", (x - 20 - 8 * step, y), (x + 20 + 8 * step, y))
    touch("touchEnd")
    closer = seen()
    assert closer != at_first
    # one finger moves it
    touch("touchStart", (x, y))
    for step in range(1, 6):
        touch("touchMove", (x + 8 * step, y))
    touch("touchEnd")
    assert seen() != closer
    assert "What you set" not in page.locator(".pins").inner_text()
    # a tap with a paint in hand paints
    page.locator("button.pick").nth(1).tap()
    page.touchscreen.tap(x, y)
    sight.settle()
    assert "What you set (1)" in page.locator(".pins").inner_text()
    assert sight.said == []
    context.close()


def test_two_that_were_kept_are_seen_side_by_side(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    sight.take_demo("fountain medallion")
    sight.turn_to("Colourways")
    page.get_by_role("button", name="Suggest some in this palette").click()
    keep = page.get_by_role("button", name="Keep", exact=True)
    keep.nth(2).wait_for()
    for k in range(3):
        keep.nth(k).click()
    ticks = page.get_by_label("side by side")
    for k in range(3):
        ticks.nth(k).check()
    # the two ticked last
    assert [ticks.nth(k).is_checked() for k in range(3)] == [False, True, True]
    assert page.locator("#beside img").count() == 2
    assert _axe(page) == []
    page.locator("#beside").get_by_role("button", name="Take up").first.click()
    sight.settle()
    assert page.locator("#beside").is_hidden()
    # they are there again when the page is loaded again
    page.reload()
    page.wait_for_selector("ul.kinds li")
    sight.turn_to("Colourways")
    ticks.nth(2).wait_for()
    assert ticks.count() == 3


def test_the_whole_job_by_keyboard(server: Running, sight: Sight) -> None:
    page = sight.open(server.address).page

    def reach(words: str, role: Literal["button", "link"] = "button") -> None:
        target = page.get_by_role(role, name=words, exact=True).first
        target.wait_for()
        for _ in range(160):
            page.keyboard.press("Tab")
            if target.evaluate("it => it === document.activeElement"):
                return
        pytest.fail(f"Tab never reaches “{words}”")

    reach("bench border")
    page.keyboard.press("Enter")
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    page.locator("body").click(position={"x": 5, "y": 5})
    row = page.locator("button.kind").first
    reach(row.get_attribute("aria-label") or "")
    assert page.locator("#caption").inner_text().startswith("A")
    # with no paint in hand the kind's paints are offered, the present one first
    page.keyboard.press("Enter")
    here = "document.activeElement.dataset.key"
    first = page.evaluate(here)
    assert first.startswith("give")
    page.keyboard.press("Tab" if first == "give0" else "Shift+Tab")
    given = page.evaluate(here)
    page.keyboard.press("Enter")
    sight.settle()
    assert "What you set (1)" in page.locator(".pins").inner_text()
    # the focus stays where it was, and goes back from there
    assert page.evaluate(here) == given
    page.keyboard.press("Escape")
    assert page.evaluate(here) == "kind0"
    reach("Choose the rest again")
    page.keyboard.press("Space")
    sight.settle()
    page.locator("#sight").focus()
    for key in ("ArrowLeft", "ArrowUp", "+", "-", "0"):
        page.keyboard.press(key)
    # one region alone: reached on the drawing, and given another paint
    alone = page.get_by_label("this region or band alone")
    page.locator("details").filter(has=alone).evaluate("fold => (fold.open = true)")
    alone.check()
    page.locator("#sight").focus()
    for way in ("Right", "Right", "Up"):
        page.keyboard.press(f"Shift+Arrow{way}")
    page.keyboard.press("Enter")
    page.wait_for_selector("#card:not([hidden])")
    first = page.evaluate(here)
    assert first.startswith("give")
    page.keyboard.press("Tab" if first == "give0" else "Shift+Tab")
    page.keyboard.press("Enter")
    sight.settle()
    assert "What you set (2)" in page.locator(".pins").inner_text()
    page.keyboard.press("Escape")
    assert page.evaluate(here) == "sight"
    reach("Finish", "link")
    page.keyboard.press("Enter")
    reach("Make the files")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Download all as one zip")
    reach("Download all as one zip")
    with page.expect_download():
        page.keyboard.press("Enter")


def test_the_focus_stays_where_the_work_goes_on(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    page = sight.open(server.address).page
    page.emulate_media(reduced_motion="reduce")
    file = tmp_path / "border.svg"
    file.write_bytes(demo_drawing("bench-border"))
    control = page.locator("#welcome input[type=file]")
    control.focus()
    control.set_input_files(file)
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    here = "document.activeElement.dataset.key || document.activeElement.textContent"

    def press(words: str, key: str = "Enter") -> str:
        """Press a control by keyboard, and return where the focus is then."""
        page.get_by_role("button", name=words, exact=True).first.focus()
        page.keyboard.press(key)
        sight.settle()
        return str(page.evaluate(here))

    # what it was on is gone
    assert page.evaluate(here) == "part-colours"
    # a button that has nothing more to do, or goes with what it stood for
    page.locator("button.kind").first.focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    sight.settle()
    page.keyboard.press("Escape")
    assert press("Undo") == "redo"
    page.locator("summary", has_text="Change the palette").click()
    removes = page.get_by_role("button", name="Remove", exact=False)
    second = removes.nth(1).get_attribute("aria-label")
    removes.first.focus()
    page.keyboard.press("Enter")
    sight.settle()
    assert page.evaluate("document.activeElement.ariaLabel") == second
    # nothing that stands still on the page lies over it
    page.locator("summary", has_text="Change the palette").focus()
    for _ in range(30):
        page.keyboard.press("Shift+Tab")
        covered = page.evaluate(
            "(() => { const top = document.getElementById('top');"
            "const at = document.activeElement; return !top.contains(at)"
            "&& document.getElementById('column').contains(at)"
            "&& at.getBoundingClientRect().top"
            " < top.getBoundingClientRect().bottom - 1; })()"
        )
        assert not covered, page.evaluate(here)
    # a name that is left as it was
    press("Rename kind A")
    page.keyboard.press("Escape")
    assert page.evaluate(here) == "rename0"
    page.get_by_role("link", name="Finish", exact=True).focus()
    page.keyboard.press("Enter")
    assert press("Show the sheets") == "Show the sheets"
    page.wait_for_selector("#large img[src^=blob]")
    page.keyboard.press("Escape")
    assert page.locator("#large").count() == 0
    forth = page.get_by_role("button", name="Next page", exact=True)
    while forth.is_enabled():
        at = press("Next page")
    assert at == "Page before"


def test_a_list_is_one_stop_and_arrows_go_through_it(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    page.get_by_role("button", name="bench border").click()
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    here = "document.activeElement.dataset.key ?? ''"
    for rows, key in (("button.kind", "kind"), ("button.pick", "swatch")):
        page.locator(rows).first.focus()
        for press, at in (
            ("ArrowDown", 1),
            ("ArrowDown", 2),
            ("ArrowUp", 1),
            ("Home", 0),
            ("ArrowUp", 0),
            # paints stand in two columns: what lies beside is the next
            *((("ArrowRight", 1), ("ArrowLeft", 0)) if key == "swatch" else ()),
            ("End", page.locator(rows).count() - 1),
        ):
            page.keyboard.press(press)
            assert page.evaluate(here) == f"{key}{at}"
        # Tab leaves the list, and comes back to where one was
        page.keyboard.press("Tab")
        assert not page.evaluate(here).startswith((key, "rename"))
        page.keyboard.press("Shift+Tab")
        assert page.evaluate(here) == f"{key}{at}"
    # along a row to its other button; F2 on the row does as that button
    page.locator("button.kind").nth(1).focus()
    page.keyboard.press("ArrowRight")
    assert page.evaluate(here) == "rename1"
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("F2")
    page.keyboard.type("toothed star")
    page.keyboard.press("Enter")
    sight.settle()
    assert page.locator("button.kind .name").nth(1).inner_text() == "toothed star"


def test_an_alarm_ends_when_one_turns_to_another_part(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    page.get_by_role("button", name="bench border").click()
    page.wait_for_selector("ul.kinds li")
    sight.settle()
    empty = {"name": "empty.svg", "mimeType": "image/svg+xml", "buffer": b"<svg/>"}
    page.locator("input[type=file]").first.set_input_files(empty)
    alarm = page.locator("[role=alert]")
    alarm.filter(has_text="empty.svg").wait_for()
    sight.turn_to("Drawing")
    assert alarm.text_content() == ""


def test_a_remedy_speaks_of_the_page(server: Running, sight: Sight) -> None:
    page = sight.open(server.address).page
    said = page.evaluate(
        "import('/assets/text.js').then(({ speakHere }) => ["
        "'match them by less: --match shifts', 'use --allow-large', 'draw it anew',"
        "'--counterchange no gives one'"
        "].map(speakHere))"
    )
    # words of the page for an option it has, none for one that it lacks
    assert said[0].endswith("“What must match: shifted copies only” under Regions")
    assert said[1:3] == ["", "draw it anew"]
    assert said[3] == "“Counterchange: no” under Colourways gives one"


def test_killed_and_started_again_it_comes_back(
    server: Running, sight: Sight, browser: Browser
) -> None:
    page = sight.open(server.address).page
    sight.take_demo("fountain medallion")
    page.locator("button.pick").nth(3).click()
    page.locator("button.kind").first.click()
    sight.settle()
    before = page.locator("ul.kinds").inner_text()
    # a colourway that is kept comes back too
    sight.turn_to("Colourways")
    page.get_by_role("button", name="Suggest some in this palette").click()
    page.get_by_role("button", name="Keep", exact=True).first.click()
    page.wait_for_selector("[role=status]:has-text('is kept')")
    sight.turn_to("Colours")
    server.kill()
    # so does a touch that was made while nobody listened
    page.locator("button.kind").nth(1).click()
    page.wait_for_selector("[role=alert]:has-text('was closed')")
    assert "The last touch is not saved yet" in sight.alert()
    painted = page.locator("ul.kinds").inner_text()
    assert painted != before
    # the browser itself reports the connection that failed, or broke off
    failed = ("ERR_CONNECTION_REFUSED", "ERR_CONNECTION_RESET", "ERR_EMPTY_RESPONSE")
    sight.said[:] = [s for s in sight.said if not any(word in s for word in failed)]
    server.start()
    again = page.context.new_page()
    again.goto(server.address)
    again.get_by_role("button", name="fountain-medallion.svg", exact=True).click()
    again.wait_for_selector("[role=status]:has-text('is saved now')", timeout=60_000)
    assert again.locator("ul.kinds").inner_text() == painted
    again.get_by_role("link", name="Colourways", exact=True).click()
    assert again.get_by_label("side by side").count() == 1
    again.close()
    # in another browser, where nothing waited, the touch stands too
    other = browser.new_context().new_page()
    other.goto(server.address)
    other.get_by_role("button", name="fountain-medallion.svg", exact=True).click()
    other.wait_for_selector("ul.kinds li", timeout=60_000)
    assert other.locator("ul.kinds").inner_text() == painted
    other.context.close()


def test_one_part_is_open_and_the_character_is_kept(
    server: Running, sight: Sight
) -> None:
    page = sight.open(server.address).page
    sight.take_demo("fountain medallion")

    def open_parts() -> list[str]:
        return page.locator("section.open h2").all_inner_texts()

    assert open_parts() == ["Colours"]
    marked = page.locator("#parts a[aria-current]")
    assert marked.all_inner_texts() == ["Colours"]
    filled = "[...document.querySelectorAll('.body:not([hidden]) button.main')]"
    for heading in ("Colours", "Colourways", "Finish"):
        sight.turn_to(heading)
        assert open_parts() == [heading]
        assert page.evaluate(f"{filled}.length") == 1
        assert _axe(page) == []
    papers = page.locator("[data-key=paper] option").all_inner_texts()
    assert [p.split(",")[0] for p in papers[::2]][:3] == ["A4", "A3", "letter"]
    sight.turn_to("Colours")
    before = page.locator("ul.kinds").inner_text()
    page.get_by_role("button", name="Dark", exact=True).click()
    sight.settle()
    assert page.locator("ul.kinds").inner_text() != before
    pressed = page.locator("button.taste[aria-pressed=true]")
    assert pressed.all_inner_texts() == ["Dark"]
    # two kinds that are touched together are kept alike from then on
    page.locator("button.kind").nth(1).click()
    page.get_by_label("Several kinds").check()
    page.locator("button.kind").nth(2).click()
    page.get_by_role("button", name="Always alike", exact=True).click()
    sight.settle()
    page.locator("summary", has_text="Other wishes").click()
    assert "are always alike" in page.locator(".wishes").inner_text()


def test_two_tabs_keep_to_themselves(
    server: Running, sight: Sight, browser: Browser
) -> None:
    page = sight.open(server.address).page
    sight.take_demo("bench border")
    other = page.context.new_page()
    other.goto(server.address)
    other.get_by_role("button", name="stair whirl", exact=True).click()
    other.wait_for_selector("ul.kinds li", timeout=60_000)
    kinds = other.locator("ul.kinds").inner_text()
    page.locator("button.pick").nth(3).click()
    page.locator("button.kind").first.click()
    sight.settle()
    page.get_by_role("button", name="Choose the rest again", exact=True).click()
    sight.settle()
    assert other.locator("ul.kinds").inner_text() == kinds
    assert "bench-border.svg" in page.locator("#drawing .lead").inner_text()


def test_two_windows_of_one_sheet_agree(server: Running, sight: Sight) -> None:
    page = sight.open(server.address).page
    sight.take_demo("bench border")
    other = page.context.new_page()
    other.goto(server.address)
    other.get_by_role("button", name="bench-border.svg", exact=True).click()
    other.wait_for_selector("ul.kinds li")
    other.locator("button.pick").nth(3).click()
    other.locator("button.kind").first.click()
    other.wait_for_selector(".pins:has-text('What you set (1)')")
    other.wait_for_selector("body:not([aria-busy])")
    # who comes back to the first window finds the touch there, and adds another
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    page.wait_for_selector(".pins:has-text('What you set (1)')")
    assert (
        page.locator("ul.kinds").inner_text() == other.locator("ul.kinds").inner_text()
    )
    page.locator("button.pick").nth(2).click()
    page.locator("button.kind").nth(1).click()
    sight.settle()
    other.evaluate("window.dispatchEvent(new Event('focus'))")
    other.wait_for_selector(".pins:has-text('What you set (2)')")
    other.close()


@pytest.mark.parametrize(("width", "height"), [(360, 740), (1000, 700), (2200, 1200)])
def test_nothing_runs_over_the_side(
    server: Running, sight: Sight, width: int, height: int
) -> None:
    sight.page.set_viewport_size({"width": width, "height": height})
    page = sight.open(server.address).page
    sight.take_demo("framed panel")
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width
    page.evaluate("document.documentElement.dir = 'rtl'")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert _axe(page) == []
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, input')]"
        ".filter(e => e.offsetParent && e.type !== 'checkbox' && e.type !== 'radio')"
        ".filter(e => Math.min(e.offsetWidth, e.offsetHeight) < 24)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    # WCAG 2.2, success criterion 2.5.8: 24 px
    assert small == []


def test_a_wrong_file_is_said_in_words(
    server: Running, sight: Sight, tmp_path: Path
) -> None:
    page = sight.open(server.address).page
    wrong = tmp_path / "<img src=x onerror=alert(1)>.svg"
    wrong.write_text("no drawing at all")
    page.set_input_files("#drawing input[type=file]", str(wrong))
    page.wait_for_selector("[role=alert]:has-text('To mend it')")
    assert "To mend it" in sight.alert()
    assert page.locator("img:not(.demos img)").count() == 0
