"""Size limits that every reader states and keeps."""

from __future__ import annotations

from typing import Final

from linewright.errors import ReadError, TooLarge

__all__ = ["MAX_BYTES", "MAX_UNPACKED_BYTES", "check_size"]

#: Largest file any reader takes. A lick is a few kilobytes; a book of a thousand tunes is 1 MB.
MAX_BYTES: Final = 8 * 1024 * 1024
#: Largest score a compressed file may unpack to.
MAX_UNPACKED_BYTES: Final = 16 * 1024 * 1024


def check_size(data: bytes | str, limit: int = MAX_BYTES) -> None:
    """Raise ReadError for an empty input and TooLarge for one past ``limit``."""
    if not data:
        raise ReadError("the input is empty", accepted=f"From 1 to {limit:,} bytes are read")
    if len(data) > limit:
        raise TooLarge(
            f"the input has {len(data):,} bytes",
            accepted=f"At most {limit:,} bytes are read; bring in one part or a few bars",
        )
