"""What every request finds at hand: the open library."""

from __future__ import annotations

from starlette.requests import Request

from linewright.services.shelf import Library

__all__ = ["library_of"]


def library_of(request: Request) -> Library:
    """The library this app serves (a FastAPI dependency)."""
    library: Library = request.app.state.library
    return library
