"""The whole library out as a zip of open formats, and in again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from linewright.formats.limits import check_size
from linewright.score import Lick
from linewright.services.bring import made_of
from linewright.services.clock import now as clock
from linewright.store import Facts, Imported, Library, export_zip, facts_of, import_zip

__all__ = ["MAX_ZIP_BYTES", "export_all", "import_all"]

#: Largest zip of a library that is taken in: some tens of thousands of licks.
MAX_ZIP_BYTES = 256 * 1024 * 1024
Progress = Callable[[int, int, str], None]


def export_all(
    library: Library, *, now: datetime | None = None, progress: Progress | None = None
) -> bytes:
    """Every lick and practice plan that is not deleted, as one zip."""
    return export_zip(
        library.all(),
        now=now or clock(),
        plans=library.plans.all(),
        students=library.plans.students(),
        progress=progress,
    )


def import_all(library: Library, data: bytes, *, progress: Progress | None = None) -> Imported:
    """Bring in such a zip: all of it, or nothing when anything in it is wrong."""
    check_size(data, MAX_ZIP_BYTES)
    return import_zip(library, data, _facts_for, progress=progress)


def _facts_for(lick: Lick, tonic: str | None) -> Facts:
    return facts_of(made_of(lick, tonic))
