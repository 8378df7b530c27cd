"""The server's addresses, from a drawing to all files, without a browser."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image

from fillwork.errors import ReadError
from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.job import colour_drawing
from fillwork.pipeline.moments import KeptDrawing
from fillwork.plans.file import parse_plan
from fillwork.plans.model import LayingSettings, Plan
from fillwork.readers import limits
from fillwork.server.routes import Desk, make_app
from fillwork.server.store import Store
from fillwork.server.work import Cancelled, Worker
from tests.unit.laying.test_places import framed

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from flask.testing import FlaskClient

PORT = 8123
TOKEN = "a token of the test"
SQUARES = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="40mm" '
    b'viewBox="0 0 80 40"><path d="M5 5H75V35H5ZM40 5V35" fill="none" '
    b'stroke="#000"/></svg>'
)  # two, side by side


class Visitor:
    """Ask as the page does."""

    def __init__(self, folder: Path) -> None:
        self.desk = Desk(Store(folder))
        app = make_app(self.desk, port=PORT, token=TOKEN)
        self.client: FlaskClient = app.test_client()
        self.headers = {"Host": f"127.0.0.1:{PORT}", "Fillwork-Token": TOKEN}

    def get(self, path: str, **extra: str) -> Any:
        return self.client.get(path, headers={**self.headers, **extra})

    def post(self, path: str, body: Any = None, **extra: str) -> Any:
        data = body if isinstance(body, bytes) else json.dumps(body or {})
        return self.client.post(path, data=data, headers={**self.headers, **extra})

    def open(self, name: str = "bench-border") -> str:
        answer = self.post("/api/open-demo", {"name": name})
        assert answer.status_code == 200, answer.text
        return str(answer.json["id"])

    def settle(self, sheet: str) -> dict[str, Any]:
        assert self.desk.sheet(sheet).wait(120)
        state = self.get(f"/api/{sheet}/state").json
        return dict(state)


@pytest.fixture
def visitor(tmp_path: Path) -> Iterator[Visitor]:
    found = Visitor(tmp_path)
    yield found
    found.desk.close()


def test_whole_job_from_a_drawing_to_the_zip(visitor: Visitor) -> None:
    start = visitor.get("/api/start").json
    assert "warm-room-ceiling" in start["demos"]
    assert start["last"] == []
    data = demo_drawing("drafting-sheet")
    sheet = visitor.post("/api/open?name=mine.svg", data).json["id"]
    state = visitor.settle(sheet)
    assert state["task"]["state"] == "idle"
    settings = {"lines": {"leave": ["layer=construction"]}}
    visitor.post(f"/api/{sheet}/change", {"settings": settings, "label": "lines"})
    visitor.settle(sheet)
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    colouring = visitor.get(f"/api/{sheet}/colouring").json
    assert drawing["file"] == "mine.svg"
    assert drawing["zones"][0]["group"] == "D12"
    assert len(drawing["shapes"]) == len(colouring["of_face"])
    name = colouring["palette"]["swatches"][4]["name"]
    x, y, _ = drawing["places"][0]
    paint = {"at": [x, drawing["height"] - y], "swatch": name, "scope": "kind"}
    visitor.post(f"/api/{sheet}/paint", paint)
    visitor.post(f"/api/{sheet}/pages")
    visitor.post(f"/api/{sheet}/files")
    assert visitor.settle(sheet)["task"]["error"] is None
    assert visitor.get(f"/api/{sheet}/pages").json
    page = visitor.get(f"/api/{sheet}/pages/0")
    assert page.data.startswith(b"<?xml")
    assert "sandbox" in page.headers["Content-Security-Policy"]
    archive = zipfile.ZipFile(io.BytesIO(visitor.get(f"/api/{sheet}/all.zip").data))
    files = {n: archive.read(n) for n in archive.namelist()}
    # the command line makes the same from the plan
    plan = parse_plan(files["plan.toml"])
    again = colour_drawing(data, plan, name="mine.svg").files(html=True)
    assert files == again
    assert visitor.get("/api/start").json["last"][0]["file"] == "mine.svg"


def test_a_large_cell_is_laid_where_large_work_is_allowed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a cell of five elements, where two are the most that are taken on unasked
    monkeypatch.setattr(limits, "NORMAL", replace(limits.NORMAL, elements=2))
    cell = (
        b"<svg xmlns='http://www.w3.org/2000/svg' width='20mm' height='20mm' "
        b"viewBox='0 0 20 20' fill='none' stroke='black'><path d='M0,0h20v20h-20z'/>"
        b"<path d='M0,10h20'/><path d='M10,0v20'/><path d='M5,5l3,1-2,2z'/></svg>"
    )
    plan = Plan(laying=LayingSettings(over=(60.0, 40.0)))
    for allowed in (True, False):
        desk = Desk(Store(tmp_path), plan, allow_large=allowed)
        sheet = desk.open(cell, "cell.svg")
        assert sheet.wait(60)
        if allowed:
            told = sheet.laying()
            assert (told["width"], told["height"]) == (60.0, 40.0)
        else:
            with pytest.raises(ReadError, match="limit elements"):
                sheet.laying()
        desk.close()


def test_what_is_laid_follows_what_the_true_width_is_of(visitor: Visitor) -> None:
    # a square of 40 in four on a page of 60 mm: 60 mm of the page, or of the square
    cell = (
        b"<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='60mm' "
        b"viewBox='0 0 60 60' fill='none' stroke='black'>"
        b"<path d='M10,10h40v40h-40z M10,30h40 M30,10v40'/></svg>"
    )
    sheet = visitor.post("/api/open?name=cell.svg", cell).json["id"]
    settings = {"laying": {"over_mm": [120, 120]}, "drawing": {"real_width_mm": 60}}
    for of, scale in (("page", 1.0), ("drawing", 1.5)):
        settings["drawing"]["real_width_of"] = of
        visitor.post(f"/api/{sheet}/change", {"settings": settings})
        visitor.settle(sheet)
        laid = visitor.get(f"/api/{sheet}/laying").json
        assert laid["place"]["scale"] == pytest.approx(scale)


def test_the_lines_are_there_as_the_file_states_them(visitor: Visitor) -> None:
    # a square of 40 and a line beside it, on a page of 100 by 80 mm
    size = b"width='100mm' height='80mm' viewBox='0 0 100 80'"
    lines = b"<path d='M10,20h40v40h-40z'/><path d='M70,20v30' stroke-width='2'/>"
    drawing = b"<svg xmlns='http://www.w3.org/2000/svg' %s>%s</svg>"
    group = b"<g fill='none' stroke='#000'>" + lines + b"</g>"
    sheet = visitor.post("/api/open?name=a.svg", drawing % (size, group)).json["id"]
    state = visitor.settle(sheet)
    assert state["revision"]["lines"] == 1
    found = visitor.get(f"/api/{sheet}/lines").json
    assert (found["file"], found["width"], found["height"]) == ("a.svg", 100, 80)
    assert found["box"] == [10, 20, 60, 40]
    assert len(found["paths"]) == 2
    assert [g["count"] for g in found["line_groups"]] == [1, 1]
    assert sorted(g["path"] for g in found["line_groups"]) == [0, 1]
    thick = next(g for g in found["line_groups"] if g["width"] == 2)
    assert found["paths"][thick["path"]].startswith("M70 20")
    # another colour needs no new look at the lines
    visitor.post(f"/api/{sheet}/solve")
    assert visitor.settle(sheet)["revision"]["lines"] == 1


def test_each_demo_has_a_picture_of_what_comes_of_it(visitor: Visitor) -> None:
    pictures = {}
    for name in visitor.get("/api/start").json["demos"]:
        answer = visitor.get(f"/api/demos/{name}")
        assert answer.status_code == 200
        pictures[name] = Image.open(io.BytesIO(answer.data)).convert("RGB")
    name = "bench-border"
    scene = colour_drawing(demo_drawing(name), name=f"{name}.svg").scene()
    drawn = Image.open(io.BytesIO(encode(scene, ".png", width=720))).convert("RGB")
    shown = pictures[name]
    drawn = drawn.resize(shown.size, Image.Resampling.LANCZOS)
    away = np.abs(np.asarray(drawn, float) - np.asarray(shown, float))
    assert away.mean() < 6
    assert visitor.get("/api/demos/none-such").status_code in (400, 422)


def test_a_painted_kind_keeps_all_others_until_solved_again(visitor: Visitor) -> None:
    sheet = visitor.open("warm-room-ceiling")
    visitor.settle(sheet)
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    before = visitor.get(f"/api/{sheet}/colouring").json
    wanted = (before["of_face"][0] + 1) % len(before["palette"]["swatches"])
    name = before["palette"]["swatches"][wanted]["name"]
    x, y, _ = drawing["places"][0]
    at = [x, drawing["height"] - y]
    visitor.post(f"/api/{sheet}/paint", {"at": at, "swatch": name})
    visitor.settle(sheet)
    after = visitor.get(f"/api/{sheet}/colouring").json
    mine = drawing["kind"][0]
    for kind, old, new in zip(
        drawing["kind"], before["of_face"], after["of_face"], strict=True
    ):
        assert new == (wanted if kind == mine else old)
    visitor.post(f"/api/{sheet}/solve")
    visitor.settle(sheet)
    solved = visitor.get(f"/api/{sheet}/colouring").json
    # around the pin, never against it
    assert solved["of_face"][0] == wanted
    for step, expected in (("undo", after), ("undo", before), ("redo", after)):
        visitor.post(f"/api/{sheet}/{step}")
        visitor.settle(sheet)
        found = visitor.get(f"/api/{sheet}/colouring").json
        assert found["of_face"] == expected["of_face"]
        assert found["pins"] == expected["pins"]


def test_one_region_alone_within_its_kind(visitor: Visitor) -> None:
    sheet = visitor.open()
    visitor.settle(sheet)
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    before = visitor.get(f"/api/{sheet}/colouring").json["of_face"]
    kind = max(set(drawing["kind"]), key=drawing["kind"].count)
    region = drawing["kind"].index(kind)
    x, y, _ = drawing["places"][region]
    swatches = visitor.get(f"/api/{sheet}/colouring").json["palette"]["swatches"]
    wanted = (before[region] + 1) % len(swatches)
    pin = {"at": [x, drawing["height"] - y], "scope": "only"}
    visitor.post(f"/api/{sheet}/paint", {**pin, "swatch": swatches[wanted]["name"]})
    visitor.settle(sheet)
    after = visitor.get(f"/api/{sheet}/colouring").json["of_face"]
    changed = [r for r in range(len(before)) if before[r] != after[r]]
    assert changed == [region]


def test_palette_edited_in_place_takes_its_pins_along(visitor: Visitor) -> None:
    sheet = visitor.open()
    visitor.settle(sheet)
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    table = visitor.get(f"/api/{sheet}/plan").json["palette"]
    old = table["paint"][2]["name"]
    x, y, _ = drawing["places"][0]
    paint = {"at": [x, drawing["height"] - y], "swatch": old}
    visitor.post(f"/api/{sheet}/paint", paint)
    visitor.settle(sheet)
    table["paint"][2] |= {"name": "river stone", "colour": "#345678"}
    change = {"settings": {"palette": table}, "renamed": {old: "river stone"}}
    visitor.post(f"/api/{sheet}/change", change)
    state = visitor.settle(sheet)
    assert state["task"]["error"] is None
    colouring = visitor.get(f"/api/{sheet}/colouring").json
    assert colouring["pins"][0]["swatch"] == 2
    assert colouring["palette"]["swatches"][2]["hex"] == "#345678"
    assert b"river stone" in visitor.get(f"/api/{sheet}/palette.toml").data


def test_suggestions_and_choices_can_be_taken_up(visitor: Visitor) -> None:
    sheet = visitor.open("cloakroom-door")
    visitor.settle(sheet)
    visitor.post(f"/api/{sheet}/suggest", {"count": 2})
    visitor.settle(sheet)
    found = visitor.get(f"/api/{sheet}/suggestions").json
    assert found
    picture = visitor.get(f"/api/{sheet}/pictures/{found[-1]['picture']}")
    assert picture.data.startswith(b"\x89PNG")
    visitor.post(f"/api/{sheet}/take", {"number": found[-1]["number"]})
    assert visitor.settle(sheet)["task"]["error"] is None
    # one that was kept can be taken up after others were asked for
    visitor.post(f"/api/{sheet}/suggest", {"count": 2})
    visitor.settle(sheet)
    later = visitor.get(f"/api/{sheet}/suggestions").json
    assert {s["number"] for s in later}.isdisjoint(s["number"] for s in found)
    visitor.post(f"/api/{sheet}/take", {"number": found[0]["number"]})
    assert visitor.settle(sheet)["task"]["error"] is None
    # the chessboard of stars: two colours change places under p4m
    visitor.post(f"/api/{sheet}/choices", {"colours": 2})
    visitor.settle(sheet)
    choices = visitor.get(f"/api/{sheet}/choices").json
    assert choices
    one = choices[0]
    settings = {
        "colouring": {"counterchange": 2, "choices": {one["letter"]: one["number"]}}
    }
    visitor.post(f"/api/{sheet}/solve")
    visitor.post(f"/api/{sheet}/change", {"settings": settings})
    assert visitor.settle(sheet)["task"]["error"] is None
    change = visitor.get(f"/api/{sheet}/colouring").json["counterchange"]
    assert change["colours"] == 2


def test_a_kept_colourway_comes_back_after_the_server_ended(tmp_path: Path) -> None:
    first = Visitor(tmp_path)
    sheet = first.open()
    first.settle(sheet)
    first.post(f"/api/{sheet}/suggest", {"count": 2})
    first.settle(sheet)
    number = first.get(f"/api/{sheet}/suggestions").json[1]["number"]
    first.post(f"/api/{sheet}/keep", {"number": number, "words": "the quiet one"})
    picture = first.get(f"/api/{sheet}/pictures/suggestion-{number}").data
    first.post(f"/api/{sheet}/take", {"number": number})
    first.settle(sheet)
    wanted = first.get(f"/api/{sheet}/colouring").json["of_face"]
    first.post(f"/api/{sheet}/undo")
    first.settle(sheet)
    first.desk.close()
    second = Visitor(tmp_path)
    second.post("/api/reopen", {"id": sheet})
    second.settle(sheet)
    (kept,) = second.get(f"/api/{sheet}/kept").json
    assert (kept["number"], kept["words"]) == (number, "the quiet one")
    assert second.get(f"/api/{sheet}/pictures/{kept['picture']}").data == picture
    # new suggestions take other numbers
    second.post(f"/api/{sheet}/suggest", {"count": 1})
    second.settle(sheet)
    assert second.get(f"/api/{sheet}/suggestions").json[0]["number"] > number
    second.post(f"/api/{sheet}/take", {"number": number})
    assert second.settle(sheet)["task"]["error"] is None
    assert second.get(f"/api/{sheet}/colouring").json["of_face"] == wanted
    assert second.post(f"/api/{sheet}/let-go", {"number": number}).json == []
    second.desk.close()


def test_repairs_close_what_the_drawing_left_open(visitor: Visitor) -> None:
    # a square of 40 mm whose last side stops 12 mm short, and one that is closed
    data = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="60mm" '
        b'viewBox="0 0 120 60"><path d="M10 10H50V50H10V22M70 10H110V50H70Z" '
        b'fill="none" stroke="#000"/></svg>'
    )
    sheet = visitor.post("/api/open?name=gap.svg", data).json["id"]
    visitor.settle(sheet)
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    assert len(drawing["shapes"]) == 1
    left = [d for d in drawing["defects"] if d["done"] == "left"]
    assert left
    # a colour that merely stands, since its pin was let go, outlasts the repair
    colouring = visitor.get(f"/api/{sheet}/colouring").json
    swatches = colouring["palette"]["swatches"]
    other = (colouring["of_face"][0] + 1) % len(swatches)
    swatch = swatches[other]["name"]
    touch = {"at": [90, 30], "scope": "kind", "swatch": swatch, "label": ""}
    visitor.post(f"/api/{sheet}/paint", touch)
    visitor.settle(sheet)
    visitor.post(f"/api/{sheet}/release", {"where": "@90.0,30.0", "scope": "kind"})
    visitor.settle(sheet)
    visitor.post(f"/api/{sheet}/repair", {"kind": "close", "at": left[0]["at_mm"]})
    many = {"kind": "close", "places": []}
    assert visitor.post(f"/api/{sheet}/repair", many).status_code == 400
    assert visitor.settle(sheet)["task"]["error"] is None
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    assert sorted(drawing["area"]) == pytest.approx([1600, 1600])
    of_face = visitor.get(f"/api/{sheet}/colouring").json["of_face"]
    assert of_face[[p[0] > 60 for p in drawing["places"]].index(True)] == other
    visitor.post(f"/api/{sheet}/undo")
    visitor.settle(sheet)
    assert len(visitor.get(f"/api/{sheet}/drawing").json["shapes"]) == 1


def test_a_doubtful_symmetry_is_settled_by_a_picture(visitor: Visitor) -> None:
    # nine squares, those of one diagonal halved: it repeats along that alone
    data = (
        b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-1 -1 32 32"><path '
        b'd="M0 0H30V30H0ZM10 0V30M20 0V30M0 10H30M0 20H30M0 0L10 10L20 20L30 30" '
        b'fill="none" stroke="#000"/></svg>'
    )
    sheet = visitor.post("/api/open?name=nine.svg", data).json["id"]
    visitor.settle(sheet)
    (zone,) = visitor.get(f"/api/{sheet}/drawing").json["zones"]
    assert not zone["certain"]
    assert zone["settling"][-1] == "none"
    names = [g.replace(":", "-") for g in zone["settling"]]
    pictures = [visitor.get(f"/api/{sheet}/pictures/zone-1-{g}").data for g in names]
    assert {p[:4] for p in pictures} == {b"\x89PNG"}
    assert len(set(pictures)) == len(pictures) > 2
    for name in ("zone-2-none", "zone-1-plane-p5"):
        assert visitor.get(f"/api/{sheet}/pictures/{name}").status_code == 422
    wanted = zone["settling"][1]
    change = {"settings": {"symmetry": {"group": wanted}}, "label": wanted}
    visitor.post(f"/api/{sheet}/change", change)
    for group, settling in ((wanted, []), (zone["settling"][0], zone["settling"])):
        visitor.settle(sheet)
        (now,) = visitor.get(f"/api/{sheet}/drawing").json["zones"]
        assert f"{now['family']}:{now['group']}" == group
        assert now["settling"] == settling
        visitor.post(f"/api/{sheet}/undo")


def test_what_was_answered_comes_back_where_the_server_was_killed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, twin = Visitor(tmp_path / "a"), Visitor(tmp_path / "b")
    size = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-1 -1 32 32">'
    path = b'<path d="M0 0H30V30H0ZM10 0V30M20 0V30M0 12H30" fill="none" '
    drawing = size + path + b'stroke="#000"/></svg>'
    sheet, other = (
        v.post("/api/open?name=a.svg", drawing).json["id"] for v in (first, twin)
    )
    first.settle(sheet)
    shown = first.get(f"/api/{sheet}/drawing").json
    names = [
        row["name"] for row in first.get(f"/api/{sheet}/plan").json["palette"]["paint"]
    ]
    places = [[x, shown["height"] - y] for x, y, _ in shown["places"][:4]]
    touches = [
        ("paint", {"at": at, "swatch": swatch, "label": f"touch {swatch}"})
        for at, swatch in zip(places, names, strict=False)
    ]
    done, answered = (
        touches[:1],
        [
            *touches[1:3],
            ("undo", {}),
            ("change", {"settings": {"title": "One"}, "label": "title"}),
            ("repair", {"kind": "no such", "at": places[0]}),
            ("release", {"where": "@9.0,9.0", "scope": "only"}),
            ("paint", touches[3][1]),
            ("undo", {}),
            ("redo", {}),
        ],
    )
    for act, table in done:
        first.post(f"/api/{sheet}/{act}", table)
        first.settle(sheet)
    with monkeypatch.context() as held:  # killed before anything is worked
        held.setattr(Worker, "submit", lambda *_: None)
        for act, table in answered:
            first.post(f"/api/{sheet}/{act}", table)
    wishes = tmp_path / "a" / "wishes" / f"{sheet}.json"
    with wishes.open("ab") as file:  # and in the midst of writing the next one
        file.write(b'\n{"number": 11, "act": "pa')
    first.desk.close()
    for act, table in (*done, *answered):
        twin.settle(other)
        twin.post(f"/api/{other}/{act}", table)
    second = Visitor(tmp_path / "a")
    (last,) = second.get("/api/start").json["last"]
    assert second.get(f"/api/{sheet}/state").status_code == 404
    assert second.post("/api/reopen", {"id": last["id"]}).json == {"id": sheet}
    for step in ("", "undo", "undo", "redo", "undo"):
        both = []
        for visitor, name in ((second, sheet), (twin, other)):
            if step:
                visitor.post(f"/api/{name}/{step}")
            state = visitor.settle(name)
            parts = [
                visitor.get(f"/api/{name}/{part}").json
                for part in ("colouring", "plan")
            ]
            both.append([state["undo"], state["redo"], *parts])
        assert both[0] == both[1], step
    assert not wishes.exists()
    second.desk.close()
    twin.desk.close()


def test_what_waits_and_is_cancelled_is_fetched_as_it_stands(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet = visitor.post("/api/open?name=a.svg", SQUARES).json["id"]
    state = visitor.settle(sheet)
    swatches = visitor.get(f"/api/{sheet}/colouring").json["palette"]["swatches"]
    with monkeypatch.context() as held:
        held.setattr(Worker, "submit", lambda *_: None)
        touch = {"at": [20, 20], "swatch": swatches[3]["name"], "label": ""}
        visitor.post(f"/api/{sheet}/paint", touch)
        # the page has painted ahead; a wish that never began gives nothing to show
        after = visitor.post(f"/api/{sheet}/cancel").json
    assert after["revision"]["colouring"] > state["revision"]["colouring"]


def test_a_drawing_whose_reading_was_cancelled_is_read_when_it_is_opened_again(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object) -> None:
        raise Cancelled

    with monkeypatch.context() as held:
        held.setattr(KeptDrawing, "colour", stopped)
        sheet = visitor.post("/api/open?name=a.svg", SQUARES).json["id"]
        assert visitor.settle(sheet)["task"]["state"] == "cancelled"
    assert visitor.post("/api/reopen", {"id": sheet}).json == {"id": sheet}
    assert visitor.settle(sheet)["revision"]["drawing"] == 1
    # and once it is there, nothing is read again
    visitor.post("/api/reopen", {"id": sheet})
    assert visitor.settle(sheet)["revision"]["drawing"] == 1


def test_a_pin_is_let_go_by_what_it_holds(visitor: Visitor) -> None:
    sheet = visitor.post("/api/open?name=a.svg", SQUARES).json["id"]
    visitor.settle(sheet)
    shown = visitor.get(f"/api/{sheet}/colouring").json
    name = shown["palette"]["swatches"][3]["name"]
    for at in ([20, 20], [60, 20]):
        visitor.post(f"/api/{sheet}/paint", {"at": at, "scope": "only", "swatch": name})
    visitor.settle(sheet)
    # the page writes numbers in its own way
    visitor.post(f"/api/{sheet}/release", {"where": "@20,20", "scope": "only"})
    visitor.settle(sheet)
    pins = visitor.get(f"/api/{sheet}/colouring").json["pins"]
    assert [pin["where"] for pin in pins] == ["@60.0,20.0"]
    visitor.post(f"/api/{sheet}/release", {"where": "A", "scope": "only"})
    assert "no longer set" in visitor.settle(sheet)["task"]["error"]["what"]


def test_a_drawing_that_closes_nothing_is_shown_with_its_open_ends(
    visitor: Visitor,
) -> None:
    data = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" '
        b'viewBox="0 0 90 90"><path d="M10 10H80M40 20V70" fill="none" '
        b'stroke="#000"/></svg>'
    )
    sheet = visitor.post("/api/open?name=open.svg", data).json["id"]
    assert visitor.settle(sheet)["task"]["state"] == "idle"
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    assert drawing["shapes"] == []
    assert {d["type"] for d in drawing["defects"]} <= {"loose end", "bridge"}
    assert drawing["defects"]
    answer = visitor.get(f"/api/{sheet}/colouring")
    assert answer.status_code == 422
    assert "no closed region" in answer.json["error"]["what"]


def test_a_wish_that_cannot_be_met_changes_nothing(visitor: Visitor) -> None:
    sheet = visitor.open()
    visitor.settle(sheet)
    before = visitor.get(f"/api/{sheet}/plan").json
    for settings, word in [
        ({"colouring": {"goal_differense": 10}}, "goal_difference"),
        ({"symmetry": {"group": "plane:p9"}}, "p9"),
        ({"palette": {"name": "no such"}}, "no such"),
        ({"sheets": {"paper": "A99"}}, "A99"),
    ]:
        visitor.post(f"/api/{sheet}/change", {"settings": settings})
        task = visitor.settle(sheet)["task"]
        assert task["state"] == "failed"
        assert word in str(task["error"])
    assert visitor.get(f"/api/{sheet}/plan").json == before


def test_repair_pace_and_paints_on_hand_reach_the_schedule(visitor: Visitor) -> None:
    sheet = visitor.open()
    visitor.settle(sheet)
    whole = visitor.get(f"/api/{sheet}/schedule").json["text"]
    assert "at your pace" not in whole

    def change(paint: dict[str, Any]) -> str:
        visitor.post(f"/api/{sheet}/change", {"settings": {"paint": paint}})
        assert visitor.settle(sheet)["task"]["state"] == "idle"
        return str(visitor.get(f"/api/{sheet}/schedule").json["text"])

    assert "at your pace" in change({"pace": [1.5, 20]})
    # a repair of 15 mm about a point takes less of each paint than the whole
    assert "repair" in change({"patch": "@220,40 r=15mm"}).casefold()
    assert visitor.get(f"/api/{sheet}/plan").json["plan"]["paint"]["patch"]
    change({"patch": None, "pace": None})
    assert visitor.get(f"/api/{sheet}/schedule").json["text"] == whole
    paints = b'[[paint]]\nname = "my white"\ncolour = "#f8f8f4"\nmedium = "acrylic"\n'
    visitor.post(f"/api/{sheet}/on-hand?name=mine.toml", paints)
    assert visitor.settle(sheet)["task"]["state"] == "idle"
    assert "my white" in visitor.get(f"/api/{sheet}/schedule").json["text"]
    # what is no list of paints is said, and what stood still stands
    visitor.post(f"/api/{sheet}/on-hand?name=mine.toml", b"not = [toml")
    assert visitor.settle(sheet)["task"]["state"] == "failed"
    assert "my white" in visitor.get(f"/api/{sheet}/schedule").json["text"]


def test_the_border_of_a_framed_panel_is_had_as_a_strip(visitor: Visitor) -> None:
    # by construction: squares of 20 mm in a frame of lozenges, 20 mm wide
    sheet = visitor.post("/api/open?name=framed.svg", framed(10, 8)).json["id"]
    visitor.settle(sheet)
    own = visitor.post(f"/api/{sheet}/strip?own=yes").json
    laying = {"over_mm": [440, 340], **own}
    visitor.post(f"/api/{sheet}/change", {"settings": {"laying": laying}})
    assert visitor.settle(sheet)["task"]["state"] == "idle"
    laid = visitor.get(f"/api/{sheet}/laying").json
    assert np.ptp(np.reshape(laid["rings"][0], (-1, 2)), axis=0) == pytest.approx(
        (400, 300), abs=0.1
    )
    # the rim of the disc's surroundings, which the pattern does not run into
    assert len(laid["rings"]) == 2
    assert len(laid["places"]) == 8
    # a file that is none is told, and nothing stands otherwise
    wrong = visitor.post(f"/api/{sheet}/strip?name=strip.svg", b"")
    assert wrong.status_code == 422
    assert "strip.svg" in wrong.text
