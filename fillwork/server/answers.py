"""Answers in one form: plain values, or what went wrong and how to mend it."""

from __future__ import annotations

import sys
import traceback
from typing import TYPE_CHECKING, Any

from flask import jsonify
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from fillwork.errors import FillworkError

if TYPE_CHECKING:
    from flask import Flask, Response


class Refusal(Exception):  # noqa: N818 - what a person reads is no programmer's error
    """Refuse a request.

    `status`: HTTP status. `what`: what is wrong. `mend`: how to mend it.
    """

    def __init__(self, status: int, what: str, mend: str = "") -> None:
        super().__init__(what)
        self.status = status
        self.what = what
        self.mend = mend


def error_table(what: str, where: str = "", mend: str = "") -> dict[str, str]:
    """Return an error as the page takes it; plain values.

    `what`, `where`, `mend`: what is wrong, where, and how to mend it.
    """
    return {"what": what, "where": where, "mend": mend}


def _answer(status: int, what: str, where: str = "", mend: str = "") -> Response:
    response = jsonify({"error": error_table(what, where, mend)})
    response.status_code = status
    return response


def handle_errors(app: Flask) -> None:
    """Have an application say every failure in words."""

    def refuse(error: Refusal) -> Response:
        return _answer(error.status, error.what, mend=error.mend)

    def fail(error: FillworkError) -> Response:
        return _answer(422, error.what, error.where, error.mend)

    def too_large(_: RequestEntityTooLarge) -> Response:
        what = "this file is too large for the page"
        return _answer(413, what, mend="use the command line with --allow-large")

    def http(error: HTTPException) -> Response:
        return _answer(error.code or 500, f"{error.name}".lower())

    def unexpected(error: Exception) -> Response:
        traceback.print_exception(error, file=sys.stderr)
        what = "something went wrong inside fillwork"
        return _answer(500, what, mend="your work is saved; load the page again")

    handlers: dict[type[Exception], Any] = {
        Refusal: refuse,
        FillworkError: fail,
        RequestEntityTooLarge: too_large,
        HTTPException: http,
        Exception: unexpected,
    }
    for kind, handler in handlers.items():
        app.register_error_handler(kind, handler)
