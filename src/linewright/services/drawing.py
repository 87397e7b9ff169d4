"""One thread that draws.

Verovio is not made for several threads, and each new thread would load its fonts again, which
takes longer than a drawing. So all drawing for the web app happens on one thread, in turn; a
document of many drawings gives them one by one, so that a page never waits for all of it.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

__all__ = ["drawn"]

_Drawing = TypeVar("_Drawing")
_thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="drawing")


def drawn(draw: Callable[[], _Drawing]) -> _Drawing:
    """What ``draw()`` gives, run on the drawing thread; its errors are raised here."""
    return _thread.submit(draw).result()
