"""A real server on a free port and a real browser, with everything odd written down."""

from __future__ import annotations

import contextlib
import shutil
import socket
import threading
from urllib.parse import urlsplit

import pytest
import uvicorn

from linewright.store import Library
from linewright.web.app import create_app

SIZES = {"desktop": (1280, 900), "phone": (390, 844)}
#: For what goes the same way at any width, and for what takes the time it plays: tried at one. What
#: is laid out, pointed at or reached by keys is tried at both.
at_desktop = pytest.mark.parametrize("page", ["desktop"], indirect=True)
at_phone = pytest.mark.parametrize("page", ["phone"], indirect=True)
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
    "--no-first-run",
]  # fmt: skip


def chromium() -> str | None:
    names = ("chromium", "chromium-browser", "google-chrome")
    return next((path for path in map(shutil.which, names) if path), None)


@contextlib.contextmanager
def served(path):
    """A library file served on a free port; gives the library and the address."""
    with Library.open(path) as library, socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen(64)
        config = uvicorn.Config(create_app(library), log_level="warning", access_log=False)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        try:
            yield library, f"http://127.0.0.1:{listening.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(timeout=10)


class Watch:
    """Console errors, page errors and requests that leave this computer."""

    def __init__(self, page) -> None:
        self.odd: list[str] = []
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.odd.append(f"page error: {error}"))
        page.on("request", self._request)

    def _console(self, message) -> None:
        # The browser itself logs an answer of 4xx; to a preview of a half-typed text, and to a
        # file of which a part has to be chosen (409), that is the right answer, and so it is to
        # wishes that no line can meet, and to a mark, a word or a typed lick that cannot be.
        url = message.location.get("url", "")
        expected = (
            "/api/preview" in url
            or (url.endswith("/new/file") and "409" in message.text)
            or ("/lines?" in url and "400" in message.text)
            or (url.endswith(("/marks", "/word", "/new/text")) and "400" in message.text)
        )
        if message.type in ("error", "warning") and not expected:
            self.odd.append(f"console {message.type}: {message.text}")

    def _request(self, request) -> None:
        parts = urlsplit(request.url)
        if parts.scheme not in ("data", "blob") and parts.hostname != "127.0.0.1":
            self.odd.append(f"request to {request.url}")


#: What is smaller than WCAG 2.2, 2.5.8 Target Size (Minimum) asks for.
SMALL = """() => [...document.querySelectorAll("a, button, input, select, summary")]
  .filter(e => e.checkVisibility() && !e.closest(".skip") && getComputedStyle(e).position !== "absolute")
  .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
  .filter(([, r]) => r.width && (r.height < 23.5 || r.width < 23.5)).map(([html]) => html)"""
#: Relative luminance and contrast ratio as WCAG 2.2 defines them.
CONTRAST = """() => {
  const parse = (c) => c.match(/[\\d.]+/g).map(Number);
  const lum = ([r, g, b]) => [r, g, b].map((v) => v / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
    .reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
  const behind = (e) => {
    for (; e; e = e.parentElement) {
      const c = parse(getComputedStyle(e).backgroundColor);
      if (c.length < 4 || c[3] > 0) return c;
    }
    return [255, 255, 255];
  };
  const low = [];
  for (const e of document.querySelectorAll("body *:not(svg *)")) {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!own || !e.checkVisibility() || e.closest("[aria-hidden=true]")) continue;
    const [a, b] = [lum(parse(getComputedStyle(e).color)), lum(behind(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) low.push(`${ratio.toFixed(2)} ${e.outerHTML.slice(0, 90)}`);
  }
  return low;
}"""
