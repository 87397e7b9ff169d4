"""One place turns errors into answers: the same words as on the command line, one shape.

Under ``/api`` the answer is ``{"error": {"message", "file", "where", "accepted", "line",
"column", "options", "kind"}}``; elsewhere a page says the same.
"""

from __future__ import annotations

import logging
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from linewright.errors import (
    AlreadyKept,
    ChoiceNeeded,
    InputError,
    LinewrightError,
    NotFound,
    OptionError,
    StoreError,
    TooLarge,
    WriteError,
)
from linewright.web.render import page

__all__ = ["error_body", "install", "problem_response", "status_of"]

_log = logging.getLogger("linewright.web")
#: Most particular first.
_STATUS: tuple[tuple[type[LinewrightError], int], ...] = (
    (NotFound, 404),
    (TooLarge, 413),
    (ChoiceNeeded, 409),
    (AlreadyKept, 409),
    (InputError, 400),
    (WriteError, 422),
    (StoreError, 503),
)
_KNOWN = {
    404: ("there is no such page", "See the list of licks"),
    405: ("this address does not take such a request", None),
}


def status_of(error: LinewrightError) -> int:
    """HTTP status of an error."""
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 400)


def error_body(error: LinewrightError) -> dict[str, Any]:
    """The error as the API gives it."""
    options: list[str] | None = None
    kind = None
    if isinstance(error, ChoiceNeeded):
        options, kind = list(error.options), error.kind
    elif isinstance(error, AlreadyKept):
        options, kind = [str(error.number)], "kept"
    return {
        "error": {
            "message": error.message,
            "file": error.file,
            "where": error.where or None,
            "accepted": error.accepted,
            "line": error.line,
            "column": error.column,
            "options": options,
            "kind": kind,
        }
    }


def problem_response(
    request: Request, error: LinewrightError, status: int | None = None
) -> Response:
    """The answer to a request that failed."""
    code = status or status_of(error)
    if request.url.path.startswith("/api"):
        return JSONResponse(error_body(error), code)
    return page(request, "error.html", status=code, error=error, title="That did not work")


def install(app: FastAPI) -> None:
    """Give an app its error answers."""

    def known(request: Request, error: Exception) -> Response:
        assert isinstance(error, LinewrightError)
        return problem_response(request, error)

    def http(request: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 400
        detail = str(error.detail) if isinstance(error, HTTPException) else str(error)
        message, accepted = _KNOWN.get(status, (detail or "the request cannot be used", None))
        return problem_response(request, OptionError(message, accepted=accepted), status)

    def invalid(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        if not request.url.path.startswith("/api") and error.errors()[0]["loc"][0] == "path":
            return http(request, HTTPException(404))  # an address mistyped, not a field
        return problem_response(request, _from_validation(error), 422)

    def unforeseen(request: Request, error: Exception) -> Response:
        _log.error("%s %s", request.method, request.url.path, exc_info=error)
        told = LinewrightError(
            "something in Linewright itself went wrong; nothing was changed",
            accepted="The terminal that runs it shows the details",
        )
        return problem_response(request, told, 500)

    app.add_exception_handler(LinewrightError, known)
    app.add_exception_handler(HTTPException, http)
    app.add_exception_handler(RequestValidationError, invalid)
    app.add_exception_handler(Exception, unforeseen)


def _from_validation(error: RequestValidationError) -> OptionError:
    first = error.errors()[0]
    field = ".".join(str(part) for part in first["loc"] if part not in ("body", "query", "path"))
    return OptionError(
        f"{field or 'the request'}: {first['msg'][:1].lower()}{first['msg'][1:]}",
        accepted="See /api/docs for what each field takes",
    )
