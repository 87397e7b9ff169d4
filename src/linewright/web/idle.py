"""Using the time in which nobody asks for anything: a fresh server warms up then, and only then."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic
from typing import Final

from starlette.types import ASGIApp, Receive, Scope, Send

from linewright.services.warming import warm_up

__all__ = ["Idle", "warming"]

#: Nobody has asked for anything for so long: what a page asks for at once has been answered.
_QUIET_S: Final = 0.25
#: How long the last step of warming up may take to end.
_ENDS_S: Final = 3.0


class Idle:
    """An ASGI app around another one that knows whether it has something to do."""

    def __init__(self, app: ASGIApp, quiet_s: float = _QUIET_S) -> None:
        self._app = app
        self._quiet_s = quiet_s
        self._asked = 0
        self._last = monotonic()
        self._stopped = threading.Event()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, counting it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        self._asked += 1
        try:
            await self._app(scope, receive, send)
        finally:
            self._asked -= 1
            self._last = monotonic()

    def stop(self) -> None:
        """Nothing more is to be begun."""
        self._stopped.set()

    def wait(self) -> bool:
        """Wait until nobody has asked for anything for a moment; False when stopped."""
        while not self._stopped.is_set():
            left = self._last + self._quiet_s - monotonic()
            if not self._asked and left <= 0:
                return True
            self._stopped.wait(max(left, 0.02))
        return False


@contextmanager
def warming(idle: Idle) -> Iterator[None]:
    """Warm up in the background while this goes on, whenever nothing else is to do."""
    thread = threading.Thread(target=warm_up, args=(idle.wait,), name="warming", daemon=True)
    thread.start()
    try:
        yield
    finally:
        idle.stop()
        thread.join(_ENDS_S)
