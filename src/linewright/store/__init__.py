"""The library on disk: the only place that knows SQL.

Students and plans are in :mod:`linewright.store.practice`, which takes longer to import.
"""

from linewright.store.archive import Imported, export_zip, import_zip
from linewright.store.library import Library
from linewright.store.records import (
    FACETS,
    SORTS,
    Dash,
    Entry,
    Facts,
    Kept,
    Query,
    SearchResult,
    Version,
    facts_of,
)

__all__ = [
    "FACETS",
    "SORTS",
    "Dash",
    "Entry",
    "Facts",
    "Imported",
    "Kept",
    "Library",
    "Query",
    "SearchResult",
    "Version",
    "export_zip",
    "facts_of",
    "import_zip",
]
