"""What stands before every request: who may ask, how much they may send, what a page may do.

The app listens on this computer, yet any page open in the same browser can send requests to
it. So a request is refused when its Host is a name we do not serve (DNS rebinding needs a
name of the attacker's), and when one that changes something comes from another origin
(``Sec-Fetch-Site``, then ``Origin``; OWASP, Cross-Site Request Forgery Prevention).
"""

from __future__ import annotations

import contextlib
import ipaddress
import re
from collections.abc import Iterable
from typing import Any
from urllib.parse import urlsplit

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from linewright.errors import LinewrightError, OptionError, TooLarge
from linewright.services.takes import MAX_TAKE_BYTES
from linewright.services.zips import MAX_ZIP_BYTES
from linewright.web.problems import problem_response

__all__ = ["MAX_UPLOAD_BYTES", "Guard"]

#: Largest body of any request but the import of a whole library: an 8 MB file, as text in a form.
MAX_UPLOAD_BYTES = 24 * 1024 * 1024
_IMPORT_PATHS = ("/library/import", "/api/library/import")
#: Where a whole recording is uploaded, in a form that takes some room itself.
_TAKES = re.compile(r"(/api)?/plans/\d+/steps/\d+/takes")
_MAX_TAKE_FORM = MAX_TAKE_BYTES + 1024 * 1024
_SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
#: Scripts and styles only from our own files, nothing from elsewhere, no framing.
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self';"
    " media-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
)


class _Swollen(HTTPException):
    """Raised inside the app when a body passes its limit; the answer is given here."""

    def __init__(self) -> None:
        super().__init__(413)


class Guard:
    """The outermost layer of the app.

    Parameters
    ----------
    app : ASGI application
    hosts : iterable of str
        Names the app is served under besides ``localhost`` and plain IP addresses.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = ()) -> None:
        self._app = app
        self._hosts = {"localhost", *(host.lower() for host in hosts)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check, pass on, and set the safety headers of the answer."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        request = Request(scope)

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name for name, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *(pair for pair in _HEADERS if pair[0] not in given),
                ]
                if b"cache-control" not in given:
                    message["headers"].append((b"cache-control", b"no-store"))
            await send(message)

        refused = self._refusal(request)
        if refused is not None:
            await problem_response(request, refused, 403)(scope, receive, send_safely)
            return
        await self._pass_on(request, receive, send_safely)

    # -- who ----------------------------------------------------------------------------
    def _refusal(self, request: Request) -> LinewrightError | None:
        host = request.headers.get("host", "")
        if not self._serves(host):
            return OptionError(
                f"this library is not served under the name {host!r:.80}",
                accepted="Open it by the address the serve command showed",
            )
        if request.method in _SAFE_METHODS:
            return None
        site = request.headers.get("sec-fetch-site")
        origin = request.headers.get("origin")
        foreign = site is not None and site not in ("same-origin", "none")
        if origin is not None:
            foreign = foreign or urlsplit(origin).netloc.lower() != host.lower()
        if foreign:
            return OptionError(
                "a page of another site asked for this change, so it was not made",
                accepted="Make it from the library's own pages",
            )
        return None

    def _serves(self, host: str) -> bool:
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:
            return False
        if name in self._hosts:
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True

    # -- how much -----------------------------------------------------------------------
    async def _pass_on(self, request: Request, receive: Receive, send: Send) -> None:
        limit = _limit_of(request.url.path)
        state = _Body(receive, limit)
        declared = request.headers.get("content-length", "")
        if declared.isdigit() and int(declared) > limit:
            await state.drain()
            await self._refuse_size(request, limit, receive, send)
            return
        started = False

        async def send_unless_swollen(message: Message) -> None:
            nonlocal started
            if state.swollen and not started:
                return  # what the app makes of a cut body is not the answer
            started = True
            await send(message)

        with contextlib.suppress(_Swollen):
            await self._app(request.scope, state.receive, send_unless_swollen)
        if state.swollen and not started:
            await state.drain()
            await self._refuse_size(request, limit, receive, send)

    @staticmethod
    async def _refuse_size(request: Request, limit: int, receive: Receive, send: Send) -> None:
        error = TooLarge(
            "the upload is too large",
            accepted=f"At most {limit // (1024 * 1024)} MB are taken; {_remedy(request.url.path)}",
        )
        await problem_response(request, error, 413)(request.scope, receive, send)


def _limit_of(path: str) -> int:
    if path in _IMPORT_PATHS:
        return MAX_ZIP_BYTES
    return _MAX_TAKE_FORM if _TAKES.fullmatch(path) else MAX_UPLOAD_BYTES


def _remedy(path: str) -> str:
    if _TAKES.fullmatch(path):
        return "save the recording as flac or mp3, or cut it"
    return "bring in fewer tunes at once"


class _Body:
    """Counts the bytes of a request body as they arrive."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self._receive = receive
        self._limit = limit
        self._count = 0
        self._more = True
        self.swollen = False

    async def receive(self) -> Any:
        """The next message, or an end to it when the limit is passed."""
        message = await self._receive()
        self._note(message)
        if self._count > self._limit:
            self.swollen = True
            raise _Swollen
        return message

    async def drain(self) -> None:
        """Read the rest and drop it, so that the sender gets to read the answer."""
        while self._more and self._count < 4 * MAX_ZIP_BYTES:
            self._note(await self._receive())

    def _note(self, message: Message) -> None:
        if message["type"] == "http.request":
            self._count += len(message.get("body", b""))
            self._more = bool(message.get("more_body", False))
        else:
            self._more = False
