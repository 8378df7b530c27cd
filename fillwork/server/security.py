"""Which requests are answered, and what every answer says to the browser.

The server listens on the loopback address only, but any page open in the same
browser can send requests there. So a request must name this server as its host,
must not come from another origin, and must carry the token of this start, which
only the page opened by it knows: the token stands in the address after ``#``,
which browsers never send.
"""

from __future__ import annotations

import hmac
import secrets
from typing import TYPE_CHECKING

from flask import request

from fillwork.server.answers import Refusal

if TYPE_CHECKING:
    from flask import Flask, Response


MOST_UPLOAD = 120_000_000
"""Bytes of one drawing or picture; larger ones are for the command line."""

MOST_JSON = 4_000_000
"""Bytes of one request that is no file."""

_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "font-src 'self'",
        "img-src 'self' blob: data:",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


def new_token() -> str:
    """Return a token that nobody can guess."""
    return secrets.token_urlsafe(32)


def guard(app: Flask, port: int, token: str) -> None:
    """Have an application refuse what does not come from its own page."""
    hosts = {f"{name}:{port}" for name in ("127.0.0.1", "localhost")}
    origins = {f"http://{host}" for host in hosts}

    def check() -> None:
        if request.headers.get("Host", "").lower() not in hosts:
            what = "this address is not served here"
            raise Refusal(421, what, mend="open the address that fillwork printed")
        origin = request.headers.get("Origin")
        site = request.headers.get("Sec-Fetch-Site", "none")
        if (origin is not None and origin not in origins) or site == "cross-site":
            raise Refusal(403, "another site asked for this; it is not answered")
        if request.path.startswith("/api/"):
            given = request.headers.get("Fillwork-Token", "")
            if not hmac.compare_digest(given.encode(), token.encode()):
                what = "this page belongs to an earlier start of fillwork"
                raise Refusal(403, what, mend="open the address that fillwork printed")

    def protect(response: Response) -> Response:
        for name, value in _HEADERS.items():
            response.headers.setdefault(name, value)
        return response

    app.before_request(check)
    app.after_request(protect)
