"""Start the local page and keep it until the person ends it."""

from __future__ import annotations

import contextlib
import logging
import socket
import threading
from typing import TYPE_CHECKING

from werkzeug.serving import WSGIRequestHandler, make_server

from fillwork.errors import FillworkError
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.surveying import make_survey
from fillwork.server.routes import Desk, make_app
from fillwork.server.security import new_token
from fillwork.server.store import Store, state_folder

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.plans.model import Plan


HOST = "127.0.0.1"
SLOWEST = 60.0
"""Seconds after which a connection that sends nothing is let go."""


class _Handler(WSGIRequestHandler):
    timeout = SLOWEST

    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002
        """Say nothing of each request."""


def _bind(port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((HOST, port))
    except (OSError, OverflowError) as error:
        found.close()
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        what = f"port {port} cannot be used: {reason}"
        mend = "take another with --port, or leave --port out"
        raise FillworkError(what, mend=mend) from error
    found.listen(64)
    return found


def _bind_again(port: int, before: int) -> socket.socket:
    """Bind the port asked for; where any will do, that of the start before first."""
    if port == 0 and before:
        with contextlib.suppress(FillworkError):
            return _bind(before)
    return _bind(port)


def _warm_up() -> None:
    """Load what the first drawing needs while the person looks for one."""
    line = b"<line x1='%d' y1='%d' x2='%d' y2='%d' stroke='#000'/>"
    lines = b"".join(
        line % (0, k, 9, k) + line % (k, 0, k, 9) for k in (0, 3, 6, 9)
    )  # a grid of nine squares
    size = b"<svg xmlns='http://www.w3.org/2000/svg' viewBox='-1 -1 11 11'>"
    with contextlib.suppress(FillworkError):
        survey = make_survey(size + lines + b"</svg>", name="grid.svg")
        colour_survey(survey)


def serve(
    drawing: tuple[bytes, str] | None,
    plan: Plan | None,
    *,
    port: int,
    allow_large: bool,
    ready: Callable[[str], None],
) -> None:
    """Serve the local page until it is interrupted.

    `drawing`: content and name of a drawing to open first. `port`: port on the loopback
    address; 0 for any that is free. `ready`: called with the page's address when it can
    be opened. Raises `FillworkError` if the port cannot be used.
    """
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    store = Store(state_folder())
    with _bind_again(port, store.last_port()) as listening:
        port = listening.getsockname()[1]
        store.save_port(port)
        token = new_token()
        store.tidy()
        desk = Desk(store, plan, allow_large=allow_large)
        first = "" if drawing is None else desk.open(*drawing).id
        app = make_app(desk, port=port, token=token, first=first)
        server = make_server(
            HOST,
            port,
            app,
            threaded=True,
            request_handler=_Handler,
            fd=listening.fileno(),
        )
        ready(f"http://{HOST}:{port}/#token={token}")
        threading.Thread(target=_warm_up, daemon=True).start()
        try:
            server.serve_forever(poll_interval=0.2)
        finally:
            desk.close()
            server.server_close()
