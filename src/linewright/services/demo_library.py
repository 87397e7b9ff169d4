"""The demo library: licks composed for this project, as an evening class would meet them."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from importlib import resources

from linewright.services.bring import BroughtIn, bring_in
from linewright.services.clock import now as clock
from linewright.store import Library, facts_of

__all__ = ["add_demo_licks", "demo_licks"]

_NAMESPACE = uuid.UUID("6f1d4a52-8f0b-4d0e-9d0a-3b1f1c1e7a10")


def demo_licks() -> Iterator[tuple[str, BroughtIn]]:
    """File name and lick of every demo lick, in order of file name."""
    folder = resources.files("linewright.services") / "demo"
    files = sorted((f for f in folder.iterdir() if f.name.endswith(".tab")), key=lambda f: f.name)
    for file in files:
        yield file.name, bring_in(file.read_bytes(), file.name)


def add_demo_licks(library: Library, *, now: datetime | None = None) -> int:
    """Put the demo licks that are not there yet into a library; returns how many were added.

    One that was deleted stays deleted.
    """
    moment = now or clock()
    added = 0
    for number, (name, brought) in enumerate(demo_licks()):
        identifier = str(uuid.uuid5(_NAMESPACE, name))
        if library.find(identifier) is not None:
            continue
        library.add(
            brought.lick,
            facts_of(brought.analysis),
            now=moment + timedelta(seconds=number),
            given_tonic=brought.tonic,
            uuid=identifier,
        )
        added += 1
    return added
