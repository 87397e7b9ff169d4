"""The application, and running it."""

from __future__ import annotations

import logging
import socket
import threading
import webbrowser
from collections.abc import Callable, Iterable
from contextlib import closing, suppress
from importlib import resources
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

from linewright import __version__
from linewright.errors import OptionError
from linewright.services.demo_library import add_demo_licks
from linewright.services.shelf import Library, default_library
from linewright.web import (
    api,
    api_lines,
    api_move,
    api_plan,
    api_takes,
    pages_bring,
    pages_compare,
    pages_guide,
    pages_library,
    pages_lick,
    pages_lines,
    pages_list,
    pages_move,
    pages_plan,
    pages_rules,
    pages_sound,
    pages_takes,
    pages_takes_sound,
    problems,
)
from linewright.web.guard import Guard
from linewright.web.idle import Idle, warming

__all__ = ["DEFAULT_PORT", "create_app", "serve"]

DEFAULT_PORT = 8765


def create_app(library: Library, *, hosts: Iterable[str] = ()) -> FastAPI:
    """The web app over an open library.

    Parameters
    ----------
    library : Library
    hosts : iterable of str
        Names the app may be asked for besides ``localhost`` and plain IP addresses.
    """
    app = FastAPI(
        title="Linewright",
        version=__version__,
        summary="What a lick is made of, and a library to keep it in",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        openapi_tags=api.TAGS,
    )
    app.state.library = library
    problems.install(app)
    for module in (
        pages_list,
        pages_lick,
        pages_lines,
        pages_rules,
        pages_plan,
        pages_move,
        pages_sound,
        pages_takes,
        pages_takes_sound,
        pages_compare,
        pages_guide,
        pages_bring,
        pages_library,
    ):
        app.include_router(module.router)
    app.include_router(api.router)
    app.include_router(api_lines.router)
    app.include_router(api_plan.router)
    app.include_router(api_takes.router)
    app.include_router(api_move.router)
    static = resources.files("linewright.web") / "static"
    app.mount("/static", _Static(directory=str(static)), name="static")
    app.add_middleware(Guard, hosts=tuple(hosts))
    return app


class _Static(StaticFiles):
    """Our own files: a browser asks each time whether they changed, and is told quickly."""

    def file_response(self, *args: object, **kwargs: object) -> Response:
        response = super().file_response(*args, **kwargs)  # type: ignore[arg-type]
        response.headers["cache-control"] = "no-cache"
        return response


def serve(
    library_path: str | Path | None = None,
    host: str = "127.0.0.1",
    port: int | None = None,
    open_browser: bool = False,
    demo: bool = False,
    announce: Callable[[str], None] | None = None,
) -> None:
    """Open a library and serve it until interrupted.

    Parameters
    ----------
    library_path : str or Path, optional
        A file or database URL; the user's own library when not given (with ``demo``, a demo
        library beside it).
    host : str
        Address to listen on. Anything but a loopback address lets others on the network in.
    port : int, optional
        When not given, 8765, or a free one when that is taken.
    open_browser : bool
        Open the page in the user's browser.
    demo : bool
        Add the demo licks that the library does not have yet.
    announce : callable, optional
        Told the address once the port is held.

    Raises
    ------
    OptionError
        When the port is taken or the host is not an address of this computer.
    StoreError
        When the library cannot be opened.
    """
    if library_path is None:
        library_path = default_library()
        if demo:
            library_path = library_path.with_name("demo.db")
    with closing(_listen(host, port)) as listening, Library.open(library_path) as library:
        if demo:
            add_demo_licks(library)
        shown = f"[{host}]" if ":" in host else host
        address = f"http://{shown}:{listening.getsockname()[1]}/"
        if announce is not None:
            announce(address)
        if open_browser:
            opener = threading.Timer(0.8, webbrowser.open, [address])
            opener.daemon = True
            opener.start()
        logging.getLogger("uvicorn.error").setLevel(logging.WARNING)
        idle = Idle(create_app(library, hosts=(host, socket.gethostname())))
        config = uvicorn.Config(
            idle,
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=3,
        )
        with warming(idle), suppress(KeyboardInterrupt):  # Ctrl-C is how it is stopped
            uvicorn.Server(config).run(sockets=[listening])


def _listen(host: str, port: int | None) -> socket.socket:
    """A socket that holds the port; raises OptionError when there is none to hold."""
    if port is not None and not 0 <= port <= 65535:
        raise OptionError(f"{port} is not a port", accepted="Use 1 to 65535, or 0 for a free one")
    tries = (port,) if port is not None else (DEFAULT_PORT, 0)
    for number, candidate in enumerate(tries, start=1):
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        listening = socket.socket(family, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, candidate))
            listening.listen(128)
        except OSError as error:
            listening.close()
            if number < len(tries):
                continue
            raise OptionError(
                f"cannot listen on {host}, port {candidate}: {error.strerror or error}",
                accepted="Choose another port with --port, or leave it out for a free one",
            ) from error
        return listening
    raise OptionError("there is no port to listen on")
