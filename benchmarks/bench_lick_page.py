"""The lick page: the whole response against verovio's own time for the drawings in it.

Every lick is new to the server, in every round (lessons are kept at hand): the response reads it
from the library, analyses it, engraves it at two widths, draws neck and rhythm strip and renders
the page. Reference: verovio's ``loadData`` and ``renderToSVG`` on the MEI of the same two drawings,
with the same options, in the same process. Both are processor time, least of three rounds for each
lick. Target: the whole takes at most half as long again; asked for once more, at most a fifth.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from time import process_time
from typing import Any

import verovio

from linewright.page import engrave
from linewright.page.engraving import OPTIONS
from linewright.services.bring import BroughtIn, made_of
from linewright.services.demo_library import demo_licks
from linewright.services.lesson import NARROW, WIDE
from linewright.services.shelf import About, Library, keep
from linewright.web.app import create_app

ROUNDS = 3


async def _ask(app: Any, path: str) -> int:
    """Ask the app itself, with no client or network between; gives the length of the page."""
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET",
        "scheme": "http", "path": path, "raw_path": path.encode(), "query_string": b"",
        "root_path": "", "headers": [(b"host", b"127.0.0.1:8765")], "state": {},
        "client": ("127.0.0.1", 50000), "server": ("127.0.0.1", 8765),
    }  # fmt: skip
    await app(scope, receive, send)
    assert sent[0]["status"] == 200
    return sum(len(message.get("body", b"")) for message in sent[1:])


async def _timed(app: Any, numbers: list[int]) -> list[float]:
    times = []
    for number in numbers:
        start = process_time()
        await _ask(app, f"/licks/{number}")
        times.append((process_time() - start) * 1000)
    return times


def _alone(toolkit: Any, drawings: list[tuple[str, int, int]]) -> float:
    """Milliseconds for verovio to draw these."""
    start = process_time()
    for mei, width, scale in drawings:
        toolkit.setOptions(
            {"pageWidth": round(width * 100 / scale), "pageHeight": 60000, "scale": scale}
        )
        toolkit.loadData(mei)
        toolkit.renderToSVG(1)
    return (process_time() - start) * 1000


def _drawings(brought: BroughtIn) -> Iterator[tuple[str, int, int]]:
    analysis = made_of(brought.lick)
    for width in (WIDE, NARROW):
        yield engrave(analysis.lick, analysis=analysis, width_px=width).mei, width, 42


def run() -> list[tuple[str, float, float, float, str]]:
    """Rows of (what, ours in ms, reference in ms, ratio, target)."""
    licks = [brought for _, brought in demo_licks()]
    cold, again, alone = [], [], []
    toolkit = verovio.toolkit()
    toolkit.setOptions(OPTIONS)
    drawings = [list(_drawings(brought)) for brought in licks]
    with Library.open(":memory:") as library:
        app = create_app(library)
        first = keep(library, licks[0], About(title="first")).id
        asyncio.run(_ask(app, f"/licks/{first}"))  # fonts and templates
        for number in range(ROUNDS):
            ids = [
                keep(library, brought, About(title=f"{brought.lick.title} {number}")).id
                for brought in licks
            ]
            cold.append(asyncio.run(_timed(app, ids)))
            again.append(asyncio.run(_timed(app, ids)))
            alone.append([_alone(toolkit, both) for both in drawings])
    ours, later, reference = (
        sum(map(min, zip(*rounds, strict=True))) / len(licks) for rounds in (cold, again, alone)
    )
    return [
        ("lick page, asked for first / verovio alone", ours, reference, ours / reference,
         "at most 1.5"),
        ("lick page, asked for again / verovio alone", later, reference, later / reference,
         "at most 0.2"),
    ]  # fmt: skip


if __name__ == "__main__":
    for what, ours, reference, ratio, target in run():
        print(f"{what}: {ours:.2f} ms / {reference:.2f} ms = {ratio:.2f} ({target})")
