"""A lick on paper and in other programs: the handout, and files in every format."""

from __future__ import annotations

import re
from dataclasses import dataclass

from linewright.formats import find_format, write_bytes
from linewright.score import Lick
from linewright.services.bring import made_of
from linewright.services.drawing import drawn

__all__ = ["File", "download", "handout", "safe_name"]


@dataclass(frozen=True)
class File:
    """A file to hand out: its bytes, a safe name, its media type."""

    data: bytes
    name: str
    media_type: str


def handout(lick: Lick, *, paper: str = "a4", tonic: str | None = None) -> File:
    """The printed lesson as PDF; raises OptionError for a paper size there is not."""
    size = paper.strip().lower()
    from linewright.page.handout import handout_pdf  # typst: only printing pays for it

    analysis = made_of(lick, tonic)
    data = handout_pdf(analysis, paper=size, draw=drawn)
    return File(data, f"{safe_name(lick.title)}-{size}.pdf", "application/pdf")


def download(lick: Lick, format: str) -> File:
    """A lick as a file in a format; raises OptionError, or WriteError when it cannot be said."""
    form = find_format(format)
    data = write_bytes(lick, form.name)
    return File(data, f"{safe_name(lick.title)}{form.extensions[0]}", form.media_type)


def safe_name(title: str) -> str:
    """A title as a plain file name on any system."""
    return re.sub(r"[^A-Za-z0-9]+", "-", title).strip("-").lower()[:60] or "lick"
