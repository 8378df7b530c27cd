"""Answers that come late, out of turn or for a sheet that was left."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillwork.pipeline.demo import demo_drawing
from fillwork.plans.file import parse_plan

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

    from tests.browser.conftest import Running, Sight

pytestmark = pytest.mark.browser

# an answer is there, but the page gets it only when it is let go
_GATES = """
const gates = {}, real = window.fetch.bind(window);
window.hold = (part) => {
  gates[part] = { waits: 0 };
  gates[part].gate = new Promise((open) => (gates[part].open = open));
};
window.letGo = (part) => {
  const { open } = gates[part];
  delete gates[part];
  open();
};
window.waits = (part) => gates[part].waits;
window.fetch = async (address, options) => {
  const answer = await real(address, options);
  const part = Object.keys(gates).find((one) => String(address).includes(one));
  if (!part) return answer;
  gates[part].waits += 1;
  await gates[part].gate;
  return answer;
};
"""


class Gate:
    """Holds back the answers whose address has some part."""

    def __init__(self, page: Page, part: str) -> None:
        self._page, self._part = page, part
        page.evaluate("part => hold(part)", part)

    def wait(self) -> None:
        self._page.wait_for_function("part => waits(part) > 0", arg=self._part)

    def open(self) -> None:
        self._page.evaluate("part => letGo(part)", self._part)


@pytest.fixture
def gated(shared: Running, sight: Sight) -> Sight:
    sight.page.add_init_script(_GATES)
    return sight.open(shared.address)


def _drawing(tmp_path: Path, name: str) -> str:
    file = tmp_path / f"{name}.svg"
    file.write_bytes(demo_drawing(name))
    return str(file)


def _touch(page: Page, kind: int) -> None:
    page.locator("button.kind").nth(kind).click()


def _downloaded(page: Page, script: str) -> bytes:
    with page.expect_download() as waiting:
        page.evaluate(script)
    return waiting.value.path().read_bytes()


def test_a_touch_made_while_colours_are_fetched_stays(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    page.locator("button.pick").nth(3).click()
    gate = Gate(page, "/colouring")
    _touch(page, 0)
    gate.wait()
    _touch(page, 1)
    painted = page.locator("ul.kinds").inner_text()
    page.wait_for_timeout(200)
    gate.open()
    gated.settle()
    assert page.locator("ul.kinds").inner_text() == painted
    assert "What you set (2)" in page.locator(".pins").inner_text()


def test_a_sheet_opened_while_another_is_fetched_is_shown(
    gated: Sight, tmp_path: Path
) -> None:
    page = gated.page
    gate = Gate(page, "/drawing")
    page.get_by_role("button", name="bench border", exact=True).click()
    gate.wait()
    control = page.locator("#drawing .drop input")
    control.set_input_files(_drawing(tmp_path, "stair-whirl"))
    page.wait_for_timeout(200)
    gate.open()
    page.wait_for_selector("#drawing .lead:has-text('stair-whirl')", state="attached")
    gated.settle()
    assert page.title().startswith("stair-whirl")
    assert page.locator("ul.kinds li").count() > 0
    # the same file may be chosen again once it is saved anew
    assert control.evaluate("it => it.files.length") == 0


def test_the_drawing_asked_for_last_is_shown(gated: Sight, tmp_path: Path) -> None:
    page = gated.page
    gate = Gate(page, "/open?name=stair")
    control = page.locator("#drawing .drop input")
    control.set_input_files(_drawing(tmp_path, "stair-whirl"))
    gate.wait()
    gated.page.get_by_role("button", name="bench border", exact=True).click()
    page.wait_for_selector("ul.kinds li")
    gate.open()
    gated.settle()
    assert page.title().startswith("bench-border")


def test_parts_of_a_sheet_that_was_left_are_not_worked_with(
    gated: Sight, tmp_path: Path
) -> None:
    page = gated.page
    gated.take_demo("bench border")
    parts = page.locator("#parts a")
    assert parts.count() == 5
    gate = Gate(page, "/drawing")
    control = page.locator("#drawing .drop input")
    control.set_input_files(_drawing(tmp_path, "stair-whirl"))
    gate.wait()
    assert parts.all_inner_texts() == ["Drawing"]
    assert not page.locator("#hand").is_visible()
    gate.open()
    gated.settle()
    assert parts.count() == 5


def test_the_page_turned_to_last_is_shown(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    gated.turn_to("Finish")
    page.get_by_label("Blank outlines").check()
    page.get_by_label("Steps, in painting order").check()
    gated.settle()
    page.get_by_role("button", name="Show the sheets").click()
    page.wait_for_selector("#large img[src^=blob]")
    gated.settle()
    source = "document.querySelector('#large img').src"
    gate = Gate(page, "/pages/1")
    forth = page.get_by_role("button", name="Next page", exact=True)
    first = page.evaluate(source)
    forth.click()
    gate.wait()
    forth.click()
    page.wait_for_function(f"first => {source} !== first", arg=first)
    shown = page.evaluate(source)
    gate.open()
    gated.settle()
    assert page.evaluate(source) == shown
    # what lies there is laid out again when something is changed
    page.locator("[data-key=paper]").select_option("A3")
    page.wait_for_function(f"shown => {source} !== shown", arg=shown)
    gated.settle()
    page.wait_for_selector("text=Page 1 of")


def test_what_is_being_written_outlasts_other_work(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    gated.turn_to("Finish")
    title = page.locator("[data-key=title]")
    gate = Gate(page, "/state")
    page.locator("[data-key=paper]").select_option("A3")
    gate.wait()
    title.press_sequentially("Bench of")
    gate.open()
    page.keyboard.type(" the lower hall", delay=40)
    gated.settle()
    assert title.input_value() == "Bench of the lower hall"
    assert title.evaluate("it => it === document.activeElement")
    page.keyboard.press("Enter")
    gated.settle()
    page.keyboard.press("Tab")
    assert title.input_value() == "Bench of the lower hall"
    assert page.locator("[data-key=paper]").input_value() == "A3"


def test_a_failure_is_said_once(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    page.locator("summary", has_text="Change the palette").click()
    name = page.locator("[data-key=name0]")
    first = name.input_value()
    taken = page.locator("[data-key=name1]").input_value()
    name.fill(taken)
    name.press("Enter")
    gated.settle()
    assert "already the name" in gated.alert()
    assert name.input_value() == first
    gated.turn_to("Regions")
    assert not gated.alert()
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    gated.settle()
    assert not gated.alert()
    # one that is followed by other work before the page asks is said too
    gated.turn_to("Colours")
    gate = Gate(page, "/state")
    name.fill(taken)
    name.press("Enter")
    gate.wait()
    page.get_by_role("button", name="Choose the rest again", exact=True).click()
    page.wait_for_timeout(300)
    gate.open()
    gated.settle()
    assert "already the name" in gated.alert()


def test_two_that_are_let_go_one_after_the_other_are_those(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    page.locator("button.pick").nth(3).click()
    for kind in range(3):
        _touch(page, kind)
        gated.settle()
    release = page.get_by_role("button", name="Let go", exact=False)
    last = release.nth(2).get_attribute("aria-label")
    gate = Gate(page, "/state")
    release.nth(0).click()
    release.nth(1).click()
    gate.wait()
    gate.open()
    gated.settle()
    assert release.count() == 1
    assert release.get_attribute("aria-label") == last


def test_a_plan_holds_what_was_touched_just_before(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    page.locator("button.pick").nth(3).click()
    load = (
        "[...document.querySelectorAll('#finish button')]"
        ".find((it) => it.textContent === 'Download the plan').click()"
    )
    before = parse_plan(_downloaded(page, load)).rules.pins
    touch = "document.querySelector('button.kind').click();"
    plan = _downloaded(page, touch + load)
    assert parse_plan(plan).rules.pins != before
    gated.settle()
    assert _downloaded(page, load) == plan


def test_a_way_pressed_twice_is_kept_once(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    gated.turn_to("Colourways")
    page.get_by_role("button", name="Suggest some in this palette").click()
    page.get_by_role("button", name="Keep", exact=True).first.dblclick()
    gated.settle()
    assert page.get_by_label("side by side").count() == 1


def test_an_answer_that_is_long_in_coming_is_waited_for_in_words(
    gated: Sight, tmp_path: Path
) -> None:
    page = gated.page
    gate = Gate(page, "/open?name=stair")
    control = page.locator("#drawing .drop input")
    control.set_input_files(_drawing(tmp_path, "stair-whirl"))
    page.wait_for_selector(".work span:has-text('working')")
    gate.open()
    page.wait_for_selector("ul.kinds li")
    gated.settle()


def test_an_answer_that_breaks_off_is_none(gated: Sight) -> None:
    said = gated.page.evaluate("""async () => {
        const { Service } = await import("/assets/service.js");
        const { text } = await import("/assets/text.js");
        const broken = () => Promise.reject(new TypeError("network error"));
        window.fetch = async () => ({ ok: true, json: broken, blob: broken });
        const service = new Service("", text);
        const fail = ({ message, away }) => [message, away];
        const asked = [service.get("a"), service.blob("a")];
        return Promise.all(asked.map((one) => one.catch(fail)));
    }""")
    assert said == [["fillwork does not answer: it was closed", True]] * 2


def test_a_file_that_cannot_be_read_any_more_is_said(gated: Sight) -> None:
    said = gated.page.evaluate("""async () => {
        const { Service } = await import("/assets/service.js");
        const { text } = await import("/assets/text.js");
        const file = { name: "strip.svg", arrayBuffer: () => Promise.reject() };
        const fail = ({ message, where, away }) => [message, where, away];
        return new Service("", text).send("open", file).catch(fail);
    }""")
    assert said == [
        "this file cannot be read any more, or is a folder",
        "strip.svg",
        False,
    ]


def test_work_that_nobody_does_any_more_is_not_waited_for(
    server: Running, sight: Sight
) -> None:
    sight.page.add_init_script(_GATES)
    page = sight.open(server.address).page
    sight.take_demo("bench border")
    sight.turn_to("Finish")
    gate = Gate(page, "/state")
    page.get_by_role("button", name="Make the files", exact=True).click()
    gate.wait()
    server.kill()
    gate.open()
    page.wait_for_selector("[role=alert]:has-text('was closed')")
    assert page.locator(".work button").count() == 0
    # the browser itself reports the connection that failed, or broke off
    failed = ("ERR_CONNECTION", "ERR_EMPTY_RESPONSE", "ERR_CONTENT_LENGTH_MISMATCH")
    sight.said[:] = [s for s in sight.said if not any(word in s for word in failed)]


def test_a_touch_that_waited_and_is_refused_waits_no_longer(gated: Sight) -> None:
    page = gated.page
    gated.take_demo("bench border")
    key = "`fillwork-waiting-${sessionStorage.getItem('fillwork-sheet')}`"
    touch = "[{at: [1, 1], scope: 'no such', swatch: 'x', label: ''}]"
    page.evaluate(f"localStorage.setItem({key}, JSON.stringify({touch}))")
    page.reload()
    page.wait_for_selector("ul.kinds li")
    page.wait_for_function(f"() => localStorage.getItem({key}) === null")
    gated.settle()
    assert gated.alert() == ""
    # the browser itself reports the refusal
    gated.said[:] = [s for s in gated.said if "status of 4" not in s]
