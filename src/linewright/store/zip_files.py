"""Reading the files of a zip that is not to be trusted."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Iterator
from typing import Any, Final

from linewright.errors import ReadError, TooLarge
from linewright.store.take_files import MAX_TAKE_BYTES

__all__ = [
    "EXPORTED",
    "MANIFEST",
    "check_names",
    "checked_file",
    "parsed",
    "pieces_of",
    "read_file",
]

MANIFEST: Final = "manifest.json"
EXPORTED: Final = "Choose a zip that was exported from a library"
MAX_FILES: Final = 100_000
MAX_ONE: Final = 20_000_000
MAX_TOTAL: Final = 1_000_000_000
#: Where recordings lie; they may be larger than other files.
_TAKES: Final = re.compile(r"plans/[^/]+/takes/[^/]+")


def check_names(archive: zipfile.ZipFile) -> None:
    """ReadError for names that leave the folder or come twice, TooLarge for what swells."""
    infos = archive.infolist()
    if len(infos) > MAX_FILES:
        raise TooLarge(f"the zip holds {len(infos)} files", accepted=f"Up to {MAX_FILES} are read")
    total = 0
    seen: set[str] = set()
    for info in infos:
        name = info.filename
        parts = name.split("/")
        if name.startswith("/") or "\\" in name or ":" in name or ".." in parts or name in seen:
            raise ReadError(
                f"the zip holds a file called {name[:100]!r}, which no export writes",
                accepted=EXPORTED,
            )
        seen.add(name)
        total += info.file_size
        most = MAX_TAKE_BYTES if _TAKES.fullmatch(name) else MAX_ONE
        if info.file_size > most or total > MAX_TOTAL:
            raise TooLarge(
                f"the zip swells past its limit at {name[:100]}",
                accepted=f"Up to {MAX_ONE // 10**6} MB a file and {MAX_TOTAL // 10**6} MB in all",
            )


def read_file(archive: zipfile.ZipFile, path: str) -> bytes:
    """A file as it is."""
    try:
        with archive.open(path) as file:
            data = file.read(MAX_ONE + 1)
    except KeyError as error:
        raise _missing(path) from error
    if len(data) > MAX_ONE:
        raise TooLarge(f"{path[:100]} is larger than {MAX_ONE // 10**6} MB", accepted=EXPORTED)
    return data


def pieces_of(archive: zipfile.ZipFile, file: Any) -> Iterator[bytes]:
    """A recording the manifest names, bit by bit; ReadError at its end when it was changed."""
    try:
        path, checksum = str(file["path"]), file["sha256"]
    except (KeyError, TypeError) as error:
        raise ReadError(
            "a record in the manifest is damaged", place=MANIFEST, accepted=EXPORTED
        ) from error
    if not _TAKES.fullmatch(path):
        raise ReadError(
            f"{path[:100]} is no place for a recording", place=MANIFEST, accepted=EXPORTED
        )
    digest = hashlib.sha256()
    try:
        with archive.open(path) as source:
            while piece := source.read(1 << 20):
                digest.update(piece)
                yield piece
    except KeyError as error:
        raise _missing(path) from error
    if digest.hexdigest() != checksum:
        raise ReadError("the file was changed after the export", place=path, accepted=EXPORTED)


def _missing(path: str) -> ReadError:
    return ReadError(
        f"{path[:100]} is missing from the zip",
        accepted=EXPORTED,
    )


def parsed(data: bytes, path: str) -> Any:
    """The JSON in it."""
    try:
        return json.loads(data)
    except (ValueError, RecursionError) as error:
        raise ReadError("this is not sound JSON", place=path, accepted=EXPORTED) from error


def checked_file(archive: zipfile.ZipFile, file: Any) -> bytes:
    """A file the manifest names, which has to be there and as it was exported."""
    try:
        path, checksum = str(file["path"]), file["sha256"]
    except (KeyError, TypeError) as error:
        raise ReadError(
            "a record in the manifest is damaged", place=MANIFEST, accepted=EXPORTED
        ) from error
    data = read_file(archive, path)
    if hashlib.sha256(data).hexdigest() != checksum:
        raise ReadError("the file was changed after the export", place=path, accepted=EXPORTED)
    return data
