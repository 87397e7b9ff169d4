"""Taking turns at drawing: a document of many drawings hands each one to whoever draws.

Verovio is not made for several threads (see :mod:`linewright.services.drawing`). A printed plan
has dozens of drawings; given one by one, others get their turn in between.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

__all__ = ["Draw", "at_once"]

_Drawing = TypeVar("_Drawing")


class Draw(Protocol):
    """Runs one drawing and gives what came of it."""

    def __call__(self, draw: Callable[[], _Drawing]) -> _Drawing:
        """What ``draw()`` gives."""


def at_once(draw: Callable[[], _Drawing]) -> _Drawing:
    """Draw here and now."""
    return draw()
