"""The whole library out as a zip of open formats, and in again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from linewright.formats.limits import check_size
from linewright.score import Lick
from linewright.services.bring import made_of
from linewright.services.clock import now as clock
from linewright.store import Facts, Imported, Library, export_zip, facts_of, import_zip
from linewright.store.take_archive import MOST_AUDIO_BYTES
from linewright.store.take_records import KeptTake

__all__ = ["MAX_ZIP_BYTES", "export_all", "import_all", "left_behind"]

#: Largest zip of a library that is taken in: some tens of thousands of licks.
MAX_ZIP_BYTES = 256 * 1024 * 1024
Progress = Callable[[int, int, str], None]
Takes = dict[int, list[tuple[KeptTake, Path | None]]]


def export_all(
    library: Library, *, now: datetime | None = None, progress: Progress | None = None
) -> bytes:
    """Every lick and practice plan that is not deleted, with takes, as one zip.

    When recordings are too many for one zip, the oldest stay behind (see :func:`left_behind`);
    their verdicts go along.
    """
    return export_zip(
        library.all(),
        now=now or clock(),
        plans=library.plans.all(),
        students=library.plans.students(),
        takes=_takes(library),
        progress=progress,
    )


def left_behind(library: Library) -> int:
    """How many recordings do not fit into an export."""
    with_them = sum(path is not None for takes in _takes(library).values() for _, path in takes)
    there = sum(p is not None for takes in library.takes.whole().values() for _, p in takes)
    return there - with_them


def _takes(library: Library) -> Takes:
    """The takes of each plan with the recordings that fit, the newest before the older."""
    takes = library.takes.whole()
    every = sorted(
        (pair for pairs in takes.values() for pair in pairs), key=lambda p: p[0].entry.at
    )
    room, chosen = MOST_AUDIO_BYTES, set()
    for take, _ in reversed(every):
        room -= take.entry.bytes
        if room < 0:
            break
        chosen.add(take.id)
    return {
        plan: [(take, path if take.id in chosen else None) for take, path in pairs]
        for plan, pairs in takes.items()
    }


def import_all(library: Library, data: bytes, *, progress: Progress | None = None) -> Imported:
    """Bring in such a zip: all of it, or nothing when anything in it is wrong."""
    check_size(data, MAX_ZIP_BYTES)
    return import_zip(library, data, _facts_for, progress=progress)


def _facts_for(lick: Lick, tonic: str | None) -> Facts:
    return facts_of(made_of(lick, tonic))
