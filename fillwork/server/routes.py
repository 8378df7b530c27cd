"""Addresses and what answers there; each route reads, calls the sheet, answers."""

from __future__ import annotations

import json
import re
import secrets
import threading
from collections import OrderedDict
from pathlib import PurePath
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from flask import Flask, Response, jsonify, request
from werkzeug.exceptions import RequestEntityTooLarge

from fillwork.colouring.model import Pin
from fillwork.errors import FillworkError
from fillwork.pipeline.demo import demo_drawing, demo_picture, list_demos
from fillwork.pipeline.encoding import MEDIA
from fillwork.plans.file import plan_to_toml
from fillwork.plans.model import Plan
from fillwork.server.answers import Refusal, handle_errors
from fillwork.server.security import MOST_JSON, MOST_UPLOAD, guard
from fillwork.server.sheet import Sheet
from fillwork.server.store import Saved
from fillwork.server.wishes import BYTES
from fillwork.tomlfile import parse_toml

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.server.store import Store


MOST_SHEETS = 8
MOST_REPAIRS = 2000  # places mended at once
COMMON_PAPERS = ("A4", "A3", "letter")  # named first


class Desk:
    """Hold the sheets that are open.

    `store`: where work is kept. `plan`: the choices that new sheets begin with.
    `allow_large`: raise the size limits.
    """

    def __init__(
        self, store: Store, plan: Plan | None = None, *, allow_large: bool = False
    ) -> None:
        self.store = store
        self._plan = Plan() if plan is None else plan
        self._allow_large = allow_large
        self._lock = threading.RLock()
        self._sheets: OrderedDict[str, Sheet] = OrderedDict()

    def open(self, source: bytes, name: str) -> Sheet:
        """Open a drawing on a new sheet."""
        digest = self.store.save_drawing(source)
        plan = plan_to_toml(self._plan)
        saved = Saved(secrets.token_urlsafe(9), name, digest, plan, None)
        return self._take_up(saved, source)

    def reopen(self, sheet_id: str) -> Sheet:
        """Return a sheet as it was left."""
        with self._lock:
            found = self._sheets.get(sheet_id)
            if found is None:
                saved = self.store.load(sheet_id)
                return self._take_up(saved, self.store.drawing(saved.digest))
            found.resume()
            return found

    def sheet(self, sheet_id: str) -> Sheet:
        """Return an open sheet. Raises `Refusal` if it is not open."""
        with self._lock:
            found = self._sheets.get(sheet_id)
            if found is not None:
                self._sheets.move_to_end(sheet_id)
                return found
        what = "this sheet is not open"
        raise Refusal(404, what, mend="choose it from the list, or open a drawing")

    def close(self) -> None:
        """Stop all work."""
        with self._lock:
            for sheet in self._sheets.values():
                sheet.close()
            self._sheets.clear()

    def _take_up(self, saved: Saved, source: bytes) -> Sheet:
        large = self._allow_large
        sheet = Sheet(saved, self.store, source, self._plan, allow_large=large)
        with self._lock:
            self._sheets[sheet.id] = sheet
            while len(self._sheets) > MOST_SHEETS:
                _, oldest = self._sheets.popitem(last=False)
                oldest.close()
        return sheet


def _body(most: int = MOST_UPLOAD) -> bytes:
    """Return what a request brings, or refuse it.

    A length that is stated is checked before anything is read; of a stream without
    one no more than allowed is read.
    """
    request.max_content_length = most + 1
    data = request.get_data(cache=False)
    if len(data) > most:
        raise RequestEntityTooLarge
    return data


def _json() -> dict[str, Any]:
    """Return the request's table, or refuse it."""
    data = _body(MOST_JSON)
    try:
        table = json.loads(data or b"{}", parse_constant=_no_number)
        # JSON lets half a surrogate pair through (RFC 8259, section 8.2), which
        # nothing that is saved can hold
        json.dumps(table, ensure_ascii=False).encode()
    except UnicodeEncodeError as error:
        raise Refusal(400, "this request holds half a character") from error
    except (ValueError, RecursionError) as error:
        raise Refusal(400, "this request is no JSON") from error
    if not isinstance(table, dict):
        raise Refusal(400, "this request is no table")
    return table


def _no_number(text: str) -> float:
    raise ValueError(text)


def _get(table: dict[str, Any], key: str, kind: type, default: Any = None) -> Any:
    value = table.get(key, default)
    wrong = not isinstance(value, kind) or (kind is int and isinstance(value, bool))
    if wrong:
        raise Refusal(400, f"“{key}” is missing or of the wrong kind")
    return value


def _point(table: dict[str, Any]) -> tuple[float, float]:
    value = _get(table, "at", list)
    if len(value) != 2 or not all(
        isinstance(v, int | float) and not isinstance(v, bool) and abs(v) < 1e9
        for v in value
    ):
        raise Refusal(400, "“at” is no point")
    return float(value[0]), float(value[1])


def _name(default: str) -> str:
    """Return the file name that a request states, fit for messages."""
    given = request.args.get("name", "").replace("\\", "/").rsplit("/", 1)[-1]
    shown = "".join(c for c in given if c.isprintable()).strip(" .")[:120]
    return shown or default


def _file(data: bytes, name: str) -> Response:
    # what else there is are fonts of the user's
    kind = MEDIA.get(PurePath(name).suffix, "application/octet-stream")
    response = Response(data, content_type=kind)
    # a drawing opened by itself must not act on this origin
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    # headers are Latin: other letters as RFC 8187 has them
    plain = name.encode("ascii", "replace").decode()
    more = {} if plain == name else {"filename*": f"UTF-8''{quote(name, safe='')}"}
    response.headers.set("Content-Disposition", "attachment", filename=plain, **more)
    return response


def _picture(data: bytes, kind: str) -> Response:
    response = Response(data, content_type=kind)
    response.headers["Content-Security-Policy"] = (
        "sandbox; default-src 'none'; style-src 'unsafe-inline'"
    )
    return response


def make_app(desk: Desk, *, port: int, token: str, first: str = "") -> Flask:
    """Return the application behind the local page.

    `port`: the port that it will listen on. `token`: the token of this start. `first`:
    id of the sheet that the page shows first; empty for none.
    """
    app = Flask("fillwork.server", static_folder=None)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    guard(app, port, token)
    handle_errors(app)
    _page_routes(app)
    _desk_routes(app, desk, first)
    _shown_routes(app, desk)
    _done_routes(app, desk)
    _file_routes(app, desk)
    return app


def _page_routes(app: Flask) -> None:
    from fillwork.renderers.page.html import asset, live_page

    @app.get("/")
    def whole_page() -> Response:
        return Response(live_page(), content_type="text/html; charset=utf-8")

    @app.get("/assets/<name>")
    def part(name: str) -> Response:
        found = asset(name)
        if found is None:
            raise Refusal(404, "there is no such part of the page")
        data, kind = found
        return Response(data, content_type=kind)


def _desk_routes(app: Flask, desk: Desk, first: str) -> None:
    from fillwork.colouring.palettes.file import list_palettes, read_palette
    from fillwork.colouring.search.taste import CHARACTERS
    from fillwork.plans.model import SHEETS
    from fillwork.plans.settings import SUPPORTS
    from fillwork.symmetry.groups import FRIEZE_GROUPS, PLANE_GROUPS
    from fillwork.units import PAGE_SIZES
    from fillwork.version import __version__

    def palettes() -> list[dict[str, Any]]:
        found = []
        for name in list_palettes():
            palette = read_palette(name)
            hexes = [s.hex for s in palette.swatches]
            found.append(
                {"name": name, "title": palette.name, "note": palette.note}
                | {"hexes": hexes}
            )
        return found

    @app.get("/api/start")
    def start() -> Response:
        groups = [f"plane:{g.short}" for g in PLANE_GROUPS]
        groups += [f"frieze:{g.short}" for g in FRIEZE_GROUPS]
        return jsonify(
            version=__version__,
            first=first,
            demos=list_demos(),
            palettes=palettes(),
            papers=list(dict.fromkeys((*COMMON_PAPERS, *PAGE_SIZES, "drawing"))),
            tastes={name: one.words for name, one in CHARACTERS.items()},
            supports=list(SUPPORTS),
            sheets=[s for s in SHEETS if s != "repair"],  # comes with a patch
            groups=groups,
            last=[
                {"id": s.id, "file": s.name, "when": s.when} for s in desk.store.last()
            ],
        )

    @app.post("/api/open")
    def open_drawing() -> Response:
        return jsonify(id=desk.open(_body(), _name("drawing.svg")).id)

    @app.post("/api/open-demo")
    def open_demo() -> Response:
        name = _get(_json(), "name", str)
        return jsonify(id=desk.open(demo_drawing(name), f"{name}.svg").id)

    @app.get("/api/demos/<name>")
    def picture_of_demo(name: str) -> Response:
        return _picture(demo_picture(name), "image/png")

    @app.post("/api/reopen")
    def reopen() -> Response:
        return jsonify(id=desk.reopen(_get(_json(), "id", str)).id)


def _shown_routes(app: Flask, desk: Desk) -> None:
    of_sheet = "state, lines, paper, drawing, laying, colouring, plan, schedule, pages"
    of_trials = "suggestions, kept, choices"

    @app.get(f"/api/<sheet>/<any({of_sheet}):what>")
    def shown(sheet: str, what: str) -> Response:
        return jsonify(getattr(desk.sheet(sheet), what)())

    @app.get(f"/api/<sheet>/<any({of_trials}):what>")
    def tried(sheet: str, what: str) -> Response:
        return jsonify(getattr(desk.sheet(sheet).trials, what)())

    @app.get("/api/<sheet>/pictures/<name>")
    def picture(sheet: str, name: str) -> Response:
        kind = "image/jpeg" if name in ("photo", "flat") else "image/png"
        return _picture(desk.sheet(sheet).picture(name), kind)

    @app.get("/api/<sheet>/pages/<int:number>")
    def page(sheet: str, number: int) -> Response:
        return _picture(desk.sheet(sheet).page(number), "image/svg+xml")


def _paint(sheet: Sheet) -> None:
    table = _json()
    x, y = _point(table)
    scope = _get(table, "scope", str, "kind")
    pin = [f"@{x!r},{y!r}", _get(table, "swatch", str), scope]
    Pin.from_row(pin)
    sheet.wish("paint", pin=pin, label=_get(table, "label", str, "paint")[:200])


def _release(sheet: Sheet) -> None:
    table = _json()
    # by what it holds: a number would be another pin's once one before it is gone
    where, scope = (_get(table, key, str) for key in ("where", "scope"))
    sheet.wish("release", where=where, scope=scope)


def _change(sheet: Sheet) -> None:
    table = _json()
    renamed = _get(table, "renamed", dict, {})
    if not all(isinstance(v, str) for v in renamed.values()):
        raise Refusal(400, "“renamed” is of the wrong kind")
    label = _get(table, "label", str, "change")[:200]
    settings = _get(table, "settings", dict)
    sheet.wish("change", settings=settings, label=label, renamed=renamed)


def _repair(sheet: Sheet) -> None:
    table = _json()
    places = _get(table, "places", list, [table.get("at")])
    if not 1 <= len(places) <= MOST_REPAIRS:
        raise Refusal(400, "“places” is of the wrong length")
    points = [_point({"at": place}) for place in places]
    sheet.repair(_get(table, "kind", str), points)


def _suggest(sheet: Sheet) -> None:
    table = _json()
    palettes = _get(table, "palettes", list, [])
    if not all(isinstance(p, str) for p in palettes):
        raise Refusal(400, "“palettes” is of the wrong kind")
    sheet.suggest(palettes, _get(table, "count", int, 6))


def _open_plan(sheet: Sheet) -> None:
    plan = _body(MOST_JSON).decode(errors=BYTES)
    sheet.wish("open-plan", plan=plan, name=_name("plan.toml"))


def _on_hand(sheet: Sheet) -> None:
    paints = _body(MOST_JSON).decode(errors=BYTES)
    sheet.wish("on-hand", paints=paints, name=_name("paints.toml"))


_DONE: dict[str, Callable[[Sheet], None]] = {
    "paint": _paint,
    "release": _release,
    "solve": lambda s: s.wish("solve"),
    "undo": lambda s: s.wish("undo"),
    "redo": lambda s: s.wish("redo"),
    "change": _change,
    "repair": _repair,
    "open-plan": _open_plan,
    "on-hand": _on_hand,
    "suggest": _suggest,
    "take": lambda s: s.take(_get(_json(), "number", int)),
    "choices": lambda s: s.find_choices(_get(_json(), "colours", int)),
    "pages": lambda s: s.lay_out(_get(_json(), "only", str, "")),
    "files": Sheet.make_files,
    "cancel": Sheet.cancel,
}
"""What a request does to a sheet, by the last part of its address."""


def _done_routes(app: Flask, desk: Desk) -> None:
    @app.post(f"/api/<sheet>/<any({', '.join(map(repr, _DONE))}):what>")
    def done(sheet: str, what: str) -> Response:
        found = desk.sheet(sheet)
        _DONE[what](found)
        return jsonify(found.state())

    @app.post("/api/<sheet>/keep")
    def keep(sheet: str) -> Response:
        table = _json()
        found = desk.sheet(sheet).trials
        found.keep(_get(table, "number", int), _get(table, "words", str, "")[:200])
        return jsonify(found.kept())

    @app.post("/api/<sheet>/let-go")
    def let_go(sheet: str) -> Response:
        found = desk.sheet(sheet).trials
        found.let_go(_get(_json(), "number", int))
        return jsonify(found.kept())

    @app.post("/api/<sheet>/strip")
    def strip(sheet: str) -> Response:
        cell = tuple(request.args.getlist("cell"))
        source = None if "own" in request.args else _body()
        return jsonify(desk.sheet(sheet).strip(source, _name("border.svg"), cell))

    @app.post("/api/palette-from-picture")
    def from_picture() -> Response:
        from fillwork.colouring.palettes.file import palette_to_toml
        from fillwork.colouring.palettes.picture import palette_from_picture

        count = request.args.get("count", "8")
        if not re.fullmatch("[0-9]{1,3}", count):
            raise Refusal(400, "“count” is no number")
        data = _body()
        palette = palette_from_picture(data, int(count), _name("From a picture"))
        return jsonify(parse_toml(palette_to_toml(palette).encode(), "palette")[1])


def _file_routes(app: Flask, desk: Desk) -> None:
    @app.get("/api/<sheet>/plan.toml")
    def plan(sheet: str) -> Response:
        return _file(desk.sheet(sheet).plan_file(), "plan.toml")

    @app.get("/api/<sheet>/palette.toml")
    def palette(sheet: str) -> Response:
        return _file(desk.sheet(sheet).palette_file(), "palette.toml")

    @app.get("/api/<sheet>/files")
    def files(sheet: str) -> Response:
        made = desk.sheet(sheet).files()
        return jsonify([{"name": n, "size": len(d)} for n, d in made.items()])

    @app.get("/api/<sheet>/files/<name>")
    def one(sheet: str, name: str) -> Response:
        found = desk.sheet(sheet).files().get(name)
        if found is None:
            raise Refusal(404, "there is no such file", mend="make the files again")
        return _file(found, name)

    @app.get("/api/<sheet>/all.zip")
    def archive(sheet: str) -> Response:
        found = desk.sheet(sheet)
        if not found.files():
            what = "the files are not made yet"
            raise FillworkError(what, mend="make them first")
        response = _file(found.archive(), "fillwork.zip")
        response.content_type = "application/zip"
        return response
