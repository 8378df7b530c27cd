"""The page: served live by the local server, or as one file to hand on.

One front end serves both. Its modules stand in ``assets`` as they are written, with
no build step. For the single file they are joined in the order of `_MODULES`, their
imports and exports taken off; a test sees to it that no name stands twice. A policy
in the file lets nothing run but that one script, known by its digest.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

_FOLDER = Path(__file__).resolve().parents[1] / "assets"

_MODULES = (
    "text.js", "dom.js", "painting.js", "marks.js", "sight.js", "service.js",
    "app.js", "numbers.js", "part_drawing.js", "part_trace.js", "part_welcome.js",
    "part_regions.js", "part_wishes.js", "part_colours.js", "part_colourways.js",
    "part_workshop.js", "part_finish.js", "part_hand.js", "part_print.js",
    "part_laying.js", "main.js",
)  # fmt: skip
"""Each imports only from those before it."""

_FONTS = {"NotoSans-Regular.ttf": "100 499", "NotoSans-Medium.ttf": "500 900"}
"""Weights that each file of the sheets' typeface stands for."""

ASSETS = (*_MODULES, "page.css", "fonts.css", *_FONTS)
"""Names that the live page asks for."""

_IMPORT = re.compile(r"^import [^;]*;\n", re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(async )?(function|class|const))", re.MULTILINE)


@cache
def _read(name: str) -> str:
    return (_FOLDER / name).read_text(encoding="utf-8")


def asset(name: str) -> tuple[bytes, str] | None:
    """Return one part of the live page.

    `name`: one of `ASSETS`. Returns its content and content type; None for another
    name.
    """
    if name not in ASSETS:
        return None
    if name in _FONTS:
        return (_FOLDER.parent / "fonts" / name).read_bytes(), "font/ttf"
    if name == "fonts.css":
        faces = (
            f'@font-face {{ font-family: "Noto Sans"; src: url("/assets/{file}"); '
            f"font-weight: {weights}; font-display: swap; }}"
            for file, weights in _FONTS.items()
        )
        return "\n".join(faces).encode(), "text/css; charset=utf-8"
    kind = "text/css" if name.endswith(".css") else "text/javascript"
    return _read(name).encode(), f"{kind}; charset=utf-8"


def _page(head: str, foot: str) -> str:
    return (
        _read("page.html").replace("<!--head-->\n", head).replace("<!--foot-->\n", foot)
    )


def live_page() -> bytes:
    """Return the page that the local server shows; HTML in UTF-8."""
    head = (
        '<link rel="icon" href="data:,">\n'
        '<link rel="stylesheet" href="/assets/fonts.css">\n'
        '<link rel="stylesheet" href="/assets/page.css">\n'
    )
    foot = '<script type="module" src="/assets/main.js"></script>\n'
    return _page(head, foot).encode()


def _joined() -> str:
    """Return all modules as one."""
    return "\n".join(_EXPORT.sub("", _IMPORT.sub("", _read(m))) for m in _MODULES)


def _digest(text: str) -> str:
    """Return the source expression of an inline text (CSP level 3, W3C)."""
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def single_file(drawing: dict[str, Any], colouring: dict[str, Any], plan: str) -> bytes:
    """Return the page as one file that needs nothing else.

    HTML in UTF-8; it repaints, but does not solve. `drawing` and `colouring`: as of
    `compose_drawing` and `compose_colouring`. `plan`: the plan file's text without
    pins, to which the page adds its own.
    """
    style, script = f"\n{_read('page.css')}", f"\n{_joined()}"
    policy = (
        f"default-src 'none'; script-src {_digest(script)}; "
        f"style-src {_digest(style)}; img-src blob: data:; base-uri 'none'; "
        "form-action 'none'"
    )
    data = json.dumps(
        {"drawing": drawing, "colouring": colouring, "plan": plan},
        ensure_ascii=False,
        separators=(",", ":"),
        allow_nan=False,
    )
    # within a script element "<" alone could end it
    data = data.replace("<", "\\u003c")
    head = (
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<link rel="icon" href="data:,">\n'
        f"<style>{style}</style>\n"
    )
    foot = (
        f'<script type="application/json" id="data">{data}</script>\n'
        f'<script type="module">{script}</script>\n'
    )
    return _page(head, foot).encode()
