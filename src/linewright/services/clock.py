"""The clock, read here and nowhere below."""

from __future__ import annotations

from datetime import UTC, datetime

__all__ = ["now"]


def now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)
