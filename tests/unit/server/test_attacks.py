"""What the server refuses, and that it goes on afterwards."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from typing import TYPE_CHECKING, Any

import pytest
from werkzeug.http import parse_options_header

from fillwork.errors import FillworkError
from fillwork.server import routes, store
from fillwork.server import sheet as sheets
from fillwork.server.routes import _file
from fillwork.server.store import Saved, Store, state_folder
from fillwork.server.work import Worker
from tests.unit.server.test_routes import PORT, TOKEN, Visitor

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SQUARE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" '
    b'viewBox="0 0 60 60"><path d="M10 10H50V50H10ZM30 10V50" fill="none" '
    b'stroke="#000"/>%s</svg>'
)


@pytest.fixture
def visitor(tmp_path: Path) -> Iterator[Visitor]:
    found = Visitor(tmp_path)
    yield found
    found.desk.close()


@pytest.mark.reference("RFC 9110, section 15.5.20: 421 Misdirected Request")
@pytest.mark.parametrize(
    "host", ["example.org", f"127.0.0.1:{PORT + 1}", "127.0.0.1", f"0.0.0.0:{PORT}", ""]
)
def test_foreign_hosts_are_not_served(visitor: Visitor, host: str) -> None:
    for path in ("/", "/api/start", "/assets/main.js"):
        assert visitor.get(path, Host=host).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://example.org"},
        {"Origin": "null"},
        {"Origin": f"http://127.0.0.1:{PORT + 1}"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Fillwork-Token": ""},
        {"Fillwork-Token": TOKEN + "x"},
        {"Fillwork-Token": "naïve"},
    ],
)
def test_other_pages_of_the_browser_get_nothing(
    visitor: Visitor, headers: dict[str, str]
) -> None:
    for answer in (
        visitor.get("/api/start", **headers),
        visitor.post("/api/open?name=a.svg", SQUARE % b"", **headers),
    ):
        assert answer.status_code == 403
        assert not any(h.startswith("Access-Control") for h in dict(answer.headers))
    assert visitor.get("/api/start").json["last"] == []


def test_the_page_may_run_only_its_own_scripts(visitor: Visitor) -> None:
    answer = visitor.get("/")
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert TOKEN not in answer.text
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    "path",
    [
        "/assets/..%2f..%2fpyproject.toml",
        "/assets/../html.py",
        "/assets/%2e%2e/html.py",
        "/assets//etc/passwd",
        "/assets/page.html",
        "/assets/main.js%00",
        "/static/x",
        "/api/..%2f..%2fx/state",
        "/api/nothing/state",
        "/api/nothing/files/..%2fplan.toml",
    ],
)
def test_paths_lead_nowhere_else(visitor: Visitor, path: str) -> None:
    assert visitor.get(path).status_code in (403, 404)


@pytest.mark.parametrize(
    "name",
    [
        "../../evil.svg",
        "..%5C..%5Cevil.svg",
        "%00evil.svg",
        "x" * 3000 + ".svg",
        "CON",
        "a%0d%0aSet-Cookie:%20x.svg",
        "%3Cscript%3E.svg",
        "",
    ],
)
def test_names_are_never_paths(visitor: Visitor, tmp_path: Path, name: str) -> None:
    sheet = visitor.post(f"/api/open?name={name}", SQUARE % b"").json["id"]
    state = visitor.settle(sheet)
    assert state["task"]["state"] == "idle"
    assert "/" not in state["file"]
    assert "\\" not in state["file"]
    assert len(state["file"]) <= 120
    found = {p.relative_to(tmp_path).parts[0] for p in tmp_path.rglob("*")}
    assert found <= {"drawings", "sheets"}


@pytest.mark.parametrize(
    "identity", ["../x", "..", "a" * 300, "", "x/y", "\0" * 12, "%"]
)
def test_sheets_are_known_by_id_only(visitor: Visitor, identity: str) -> None:
    answer = visitor.post("/api/reopen", {"id": identity})
    assert answer.status_code == 422
    assert "sheet" in answer.json["error"]["what"]


def test_uploads_are_limited(visitor: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    answer = visitor.client.post(
        "/api/open?name=a.svg",
        headers=visitor.headers,
        environ_overrides={"CONTENT_LENGTH": str(1_000_000_000)},
    )
    assert answer.status_code == 413
    assert "too large" in answer.json["error"]["what"]
    monkeypatch.setattr(routes, "MOST_JSON", 100)
    # a length that is not stated is counted while it is read
    answer = visitor.client.post(
        "/api/open-demo",
        headers=visitor.headers,
        environ_overrides={
            "CONTENT_LENGTH": "",
            "wsgi.input": _Endless(),
            "wsgi.input_terminated": True,
        },
    )
    assert answer.status_code == 413


def test_so_many_places_are_mended_at_once_and_no_more(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(routes, "MOST_REPAIRS", 2)
    monkeypatch.setattr(Worker, "submit", lambda *_: None)
    sheet = visitor.post("/api/open?name=a.svg", SQUARE % b"").json["id"]
    for many, status in ((0, 400), (1, 200), (2, 200), (3, 400)):
        wish = {"kind": "close", "places": [[10, 20]] * many}
        assert visitor.post(f"/api/{sheet}/repair", wish).status_code == status
    for at, status in (
        ([10, 20], 200),
        ([-999_999_999, 0.5], 200),
        ([10], 400),
        ([10, 20, 30], 400),
        ([1e9, 0], 400),
        ([0, -1e9], 400),
        (["1", 0], 400),
    ):
        answer = visitor.post(f"/api/{sheet}/repair", {"kind": "close", "at": at})
        assert answer.status_code == status, at


def test_so_many_wishes_wait_and_touches_that_join_are_one(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheets, "MOST_LINED_UP", 2)
    monkeypatch.setattr(Worker, "submit", lambda *_: None)
    sheet = visitor.post("/api/open?name=a.svg", SQUARE % b"").json["id"]
    touch = ("paint", {"at": [20, 20], "swatch": "x", "label": "x" * 300})
    for act, table, status in (
        (*touch, 200), ("solve", {}, 200), ("undo", {}, 422), (*touch, 422)
    ):  # fmt: skip
        assert visitor.post(f"/api/{sheet}/{act}", table).status_code == status
    assert visitor.post(f"/api/{sheet}/cancel").status_code == 200
    for act, table in (touch, touch, touch, ("solve", {})):
        assert visitor.post(f"/api/{sheet}/{act}", table).status_code == 200
    assert visitor.post(f"/api/{sheet}/redo").status_code == 422
    rows = visitor.desk.store.rows("wishes", sheet)
    acts = [(row["number"], row["act"]) for row in rows]
    # what is written down is done after a new start, what was cancelled is not
    assert acts[-4:] == [(3, "paint"), (4, "paint"), (5, "paint"), (6, "solve")]
    assert rows[-2]["given"]["label"] == "x" * 200


class _Endless:
    def read(self, size: int = -1) -> bytes:
        return b"x" * (65536 if size < 0 else size)

    def readinto(self, buffer: Any) -> int:
        buffer[:] = b"x" * len(buffer)
        return len(buffer)

    def close(self) -> None:
        pass


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b"[]",
        b"null",
        b'"x"',
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"settings":' + b'{"a":' * 50_000,
        b'{"at": [NaN, 1], "swatch": "x"}',
        b'{"at": [1e400, 1], "swatch": "x"}',
        b'{"at": [true, 1], "swatch": "x"}',
        b'{"at": "@1,2", "swatch": "x"}',
        b'{"at": [1, 2], "swatch": 3}',
        b'{"settings": [], "label": "x"}',
        b'{"settings": {}, "label": 7}',
        b'{"number": "1"}',
        b'{"number": true}',
        b'{"colours": 1.5}',
    ],
)
def test_broken_requests_are_answered_in_words(visitor: Visitor, body: bytes) -> None:
    sheet = visitor.post("/api/open?name=a.svg", SQUARE % b"").json["id"]
    visitor.settle(sheet)
    before = visitor.get(f"/api/{sheet}/plan").json
    for path in ("paint", "change", "take", "release", "choices"):
        answer = visitor.post(f"/api/{sheet}/{path}", body)
        if answer.status_code == 200:
            continue
        assert answer.status_code in (400, 413, 422), answer.text
        assert answer.json["error"]["what"]
    visitor.settle(sheet)
    assert visitor.get(f"/api/{sheet}/plan").json == before


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("change", rb'{"settings": {}, "label": "half \ud83d"}'),
        ("change", rb'{"settings": {"names": {"A": "\udc80"}}, "label": "x"}'),
        ("change", rb'{"settings": {"\ud800": 1}, "label": "x"}'),
        ("paint", rb'{"at": [20, 20], "swatch": "\ude00"}'),
        ("keep", rb'{"number": 0, "words": "\ud800"}'),
    ],
)
def test_half_a_character_is_refused(visitor: Visitor, path: str, body: bytes) -> None:
    sheet = visitor.post("/api/open?name=a.svg", SQUARE % b"").json["id"]
    visitor.settle(sheet)
    answer = visitor.post(f"/api/{sheet}/{path}", body)
    assert answer.status_code == 400
    assert "half a character" in answer.json["error"]["what"]
    # a pair is a whole one, and the work is saved as before
    whole = rb'{"settings": {}, "label": "\ud83d\ude00"}'
    assert visitor.post(f"/api/{sheet}/change", whole).status_code == 200
    assert visitor.settle(sheet)["task"]["error"] is None
    assert visitor.desk.store.load(sheet).label == "\U0001f600"


@pytest.mark.parametrize(
    "settings",
    [
        {"colouring": {"goal_difference": 10**400}},
        {"colouring": {"goal_difference": "much"}},
        {"colouring": {"most": -1}},
        {"drawing": {"real_width_mm": -5}},
        {"sheets": {"copies": 10**9}},
        {"paint": {"coats": 10**12}},
        {"lines": {"close": [[1, 2, 3]]}},
        {"names": {"A": ["x"]}},
        {"palette": {"paint": [{"name": "x", "colour": "url(evil)"}]}},
        {"palette": {"paint": "x"}},
        {"schema": 99},
        {"unknown": 1},
    ],
)
def test_senseless_settings_are_refused(
    visitor: Visitor, settings: dict[str, Any]
) -> None:
    sheet = visitor.post("/api/open?name=a.svg", SQUARE % b"").json["id"]
    visitor.settle(sheet)
    before = visitor.get(f"/api/{sheet}/plan").json
    answer = visitor.post(f"/api/{sheet}/change", {"settings": settings})
    assert answer.status_code in (200, 400, 422)
    task = visitor.settle(sheet)["task"]
    assert task["state"] == "failed"
    assert "inside fillwork" not in task["error"]["what"]
    assert visitor.get(f"/api/{sheet}/plan").json == before


def test_scripts_in_a_drawing_never_reach_the_page(visitor: Visitor) -> None:
    evil = b"<script>alert(1)</script><g onload='alert(2)'/><title>&lt;b&gt;</title>"
    name = "%3Cimg%20src=x%20onerror=alert(3)%3E.svg"
    sheet = visitor.post(f"/api/open?name={name}", SQUARE % evil).json["id"]
    visitor.settle(sheet)
    visitor.post(f"/api/{sheet}/pages")
    visitor.post(f"/api/{sheet}/files")
    assert visitor.settle(sheet)["task"]["error"] is None
    for path in ("pages/0", "files/coloured.svg"):
        answer = visitor.get(f"/api/{sheet}/{path}")
        assert b"<script" not in answer.data
        assert b"onload" not in answer.data
        assert b"<img" not in answer.data
        assert "sandbox" in answer.headers["Content-Security-Policy"]
    page = visitor.get(f"/api/{sheet}/files/page.html")
    assert b"<img" not in page.data
    assert page.headers["Content-Disposition"].startswith("attachment")


@pytest.mark.parametrize("name", ["خط.ttf", 'a"b.ttf', "coloured.svg"])
def test_a_file_of_any_name_is_sent(name: str) -> None:
    sent = _file(b"", name).headers["Content-Disposition"]
    sent.encode("latin-1")  # as headers are
    assert parse_options_header(sent)[1]["filename"] == name


def test_many_quick_touches_end_in_the_last_one(visitor: Visitor) -> None:
    sheet = visitor.open()
    visitor.settle(sheet)
    drawing = visitor.get(f"/api/{sheet}/drawing").json
    names = [
        s["name"]
        for s in visitor.get(f"/api/{sheet}/colouring").json["palette"]["swatches"]
    ]
    x, y, _ = drawing["places"][0]
    for k in range(100):
        paint = {"at": [x, drawing["height"] - y], "swatch": names[k % len(names)]}
        assert visitor.post(f"/api/{sheet}/paint", paint).status_code == 200
    visitor.settle(sheet)
    colouring = visitor.get(f"/api/{sheet}/colouring").json
    assert colouring["of_face"][0] == 99 % len(names)
    assert len(colouring["pins"]) == 1


def test_two_sheets_do_not_disturb_each_other(visitor: Visitor) -> None:
    one = visitor.post("/api/open?name=one.svg", SQUARE % b"").json["id"]
    two = visitor.open("warm-room-ceiling")
    visitor.settle(one)
    visitor.settle(two)
    before = visitor.get(f"/api/{two}/colouring").json
    other = visitor.get("/api/start").json["palettes"][-1]["name"]
    settings = {"palette": {"name": other}}
    visitor.post(f"/api/{one}/change", {"settings": settings})
    visitor.post(f"/api/{one}/cancel")
    visitor.settle(one)
    assert visitor.get(f"/api/{two}/colouring").json == before


def test_work_can_be_stopped(visitor: Visitor) -> None:
    sheet = visitor.open("warm-room-ceiling")
    visitor.settle(sheet)
    before = visitor.get(f"/api/{sheet}/colouring").json
    visitor.post(f"/api/{sheet}/suggest", {"count": 24})
    time.sleep(0.05)
    visitor.post(f"/api/{sheet}/cancel")
    state = visitor.settle(sheet)
    assert state["task"]["state"] in ("cancelled", "idle")
    assert visitor.get(f"/api/{sheet}/colouring").json == before
    visitor.post(f"/api/{sheet}/solve")
    assert visitor.settle(sheet)["task"]["error"] is None


def test_a_save_that_fails_leaves_the_one_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = Store(tmp_path)
    digest = kept.save_drawing(b"lines")
    kept.save(Saved("sheet-one", "a.svg", digest, "schema = 1\n", None))

    def broken(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store.os, "fsync", broken)
    with pytest.raises(FillworkError, match="no space left"):
        kept.save(
            Saved("sheet-one", "a.svg", digest, "schema = 2\n", [["A", "x", "kind"]])
        )
    assert kept.load("sheet-one").plan == "schema = 1\n"
    assert [p.name for p in (tmp_path / "sheets").iterdir()] == ["sheet-one.json"]


def test_damaged_records_are_passed_over(tmp_path: Path) -> None:
    kept = Store(tmp_path)
    digest = kept.save_drawing(b"lines")
    kept.save(Saved("sheet-one", "a.svg", digest, "schema = 1\n", None))
    (tmp_path / "sheets" / "sheet-two.json").write_text("{")
    (tmp_path / "sheets" / "sheet-six.json").write_text(json.dumps({"schema": 1}))
    assert [s.id for s in kept.last()] == ["sheet-one"]
    (tmp_path / "drawings" / digest).write_bytes(b"other lines")
    with pytest.raises(FillworkError, match="no longer there"):
        kept.drawing(digest)


def test_state_folder_follows_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FILLWORK_STATE", "here")
    assert str(state_folder()) == "here"
    monkeypatch.delenv("FILLWORK_STATE")
    monkeypatch.setenv("XDG_STATE_HOME", "base")
    if sys.platform.startswith("linux"):
        assert state_folder().parts == ("base", "fillwork")


def test_killed_in_the_middle_of_saving(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path\n"
        "from fillwork.server.store import Saved, Store\n"
        "kept = Store(Path(sys.argv[1])); d = kept.save_drawing(b'lines'); n = 0\n"
        "while True:\n"
        "    n += 1\n"
        "    kept.save(Saved('sheet-one', 'a.svg', d, f'# {n}\\n' * 2000, None))\n"
        "    print(n, flush=True)\n"
    )
    command = [sys.executable, "-c", program, str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        for _ in range(20):
            running.stdout.readline()
        os.kill(running.pid, signal.SIGKILL)
        rest = running.stdout.read().split()
    lines = Store(tmp_path).load("sheet-one").plan.splitlines()
    # whole, and no older than what was said to be saved
    assert len(lines) == 2000
    assert len(set(lines)) == 1
    assert int(lines[0][2:]) >= max([20, *map(int, rest)])


def test_a_port_in_use_is_said() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        result = subprocess.run(
            [
                sys.executable,
                "-m",
                "fillwork",
                "page",
                "--no-open",
                "--port",
                str(port),
            ],
            capture_output=True,
            text=True,
            timeout=60,
        )
    assert result.returncode == 1
    assert f"port {port} cannot be used" in result.stderr
    assert "--port" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("data", "word"),
    [(b"", "empty"), (SQUARE[:90], "cut short"), (b"no drawing", "SVG")],
)
def test_a_file_that_is_no_drawing_is_said_as_on_the_command_line(
    visitor: Visitor, data: bytes, word: str
) -> None:
    sheet = visitor.post("/api/open?name=a.svg", data).json["id"]
    task = visitor.settle(sheet)["task"]
    assert task["state"] == "failed"
    assert "a.svg" in task["error"]["where"]
    assert word in str(task["error"])
    assert task["error"]["mend"]
    answer = visitor.get(f"/api/{sheet}/drawing").json["error"]
    assert answer["what"] == "the drawing is not read"
