"""The whole library as a zip of open formats, and back with nothing lost.

The zip holds ``manifest.json`` (numbers, identifiers, dates, checksums) and a folder for each
lick: ``lick.json`` says everything and is what an import reads; the MusicXML, the text tab and
the ABC beside it are for other programs and for people. A format that cannot say a lick is
left out, and the manifest says why. Each practice plan is a file in ``plans``, and the manifest
says whose it is and what was said of its steps. What is deleted and earlier versions stay at home.

Importing never unpacks to disk. Names that leave the folder, files that are not in the
manifest, wrong checksums and zips that swell past the limits are refused as a whole.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from linewright.errors import LinewrightError, ReadError, TooLarge, WriteError
from linewright.formats import write_bytes
from linewright.formats.lickjson import lick_from_dict
from linewright.score import Lick
from linewright.store.library import Library, Writer
from linewright.store.records import Facts, Kept
from linewright.store.rows import folded

if TYPE_CHECKING:
    from linewright.store.practice_archive import Practice
    from linewright.store.practice_records import KeptPlan, Student

__all__ = ["Imported", "export_zip", "import_zip"]

KIND: Final = "linewright library"
VERSION: Final = 1
MANIFEST: Final = "manifest.json"
#: Format name -> file name inside a lick's folder.
FILES: Final = {
    "json": "lick.json",
    "musicxml": "lick.musicxml",
    "tab": "lick.txt",
    "abc": "lick.abc",
}
MAX_FILES: Final = 100_000
MAX_ONE: Final = 20_000_000
MAX_TOTAL: Final = 1_000_000_000

Progress = Callable[[int, int, str], None]
FactsFor = Callable[[Lick, str | None], Facts]


@dataclass(frozen=True)
class Imported:
    """What an import did: numbers of the licks added, changed to the newer state, already here,
    and of the practice plans that came in or have new marks.
    """

    added: tuple[int, ...]
    updated: tuple[int, ...]
    unchanged: tuple[int, ...]
    plans: tuple[int, ...] = ()

    @property
    def total(self) -> int:
        """Licks in the zip."""
        return len(self.added) + len(self.updated) + len(self.unchanged)


def export_zip(
    licks: Iterable[Kept],
    *,
    now: datetime,
    plans: Iterable[KeptPlan] = (),
    students: Iterable[Student] = (),
    progress: Progress | None = None,
) -> bytes:
    """Write licks as a zip of open formats, and practice plans beside them."""
    from linewright.store.practice_archive import practice_out  # brings in all that makes lines

    chosen = tuple(licks)
    target = io.BytesIO()
    manifest: dict[str, Any] = {
        "kind": KIND,
        "version": VERSION,
        "exported": now.isoformat(),
        "licks": [],
    }
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, kept in enumerate(chosen, start=1):
            manifest["licks"].append(_write_lick(archive, kept))
            if progress is not None:
                progress(number, len(chosen), kept.lick.title)
        uuids = {kept.id: kept.entry.uuid for kept in chosen}
        manifest |= practice_out(
            students, plans, uuids, lambda path, data: _put(archive, path, data, now)
        )
        _write_file(archive, MANIFEST, _json_bytes(manifest), now)
    return target.getvalue()


def _write_lick(archive: zipfile.ZipFile, kept: Kept) -> dict[str, Any]:
    slug = re.sub(r"[^a-z0-9]+", "-", folded(kept.lick.title)).strip("-")[:40] or "lick"
    folder = f"licks/{kept.id:05d}-{slug}"
    files: dict[str, Any] = {}
    left_out: dict[str, str] = {}
    for name, file in FILES.items():
        try:
            data = write_bytes(kept.lick, name)
        except WriteError as error:
            left_out[name] = str(error)
            continue
        files[name] = _put(archive, f"{folder}/{file}", data, kept.entry.updated)
    return {
        "id": kept.id,
        "uuid": kept.entry.uuid,
        "title": kept.lick.title,
        "tags": list(kept.lick.tags),
        "created": kept.entry.created.isoformat(),
        "updated": kept.entry.updated.isoformat(),
        "given_tonic": kept.given_tonic,
        "files": files,
        "left_out": left_out,
    }


def _put(archive: zipfile.ZipFile, path: str, data: bytes, moment: datetime) -> dict[str, Any]:
    """Write a file; returns what the manifest says of it."""
    _write_file(archive, path, data, moment)
    return {"path": path, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}


def _write_file(archive: zipfile.ZipFile, path: str, data: bytes, moment: datetime) -> None:
    stamp = max(moment.year, 1980), *moment.timetuple()[1:6]
    info = zipfile.ZipInfo(path, date_time=stamp)
    info.compress_type = zipfile.ZIP_DEFLATED
    archive.writestr(info, data)


def _json_bytes(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()


# -- back in -----------------------------------------------------------------------------
@dataclass(frozen=True)
class _Incoming:
    lick: Lick
    facts: Facts
    uuid: str
    number: int
    created: datetime
    updated: datetime
    given_tonic: str | None


def import_zip(
    library: Library,
    data: bytes,
    facts_for: FactsFor,
    *,
    progress: Progress | None = None,
) -> Imported:
    """Bring in a zip written by :func:`export_zip`; all of it, or nothing when anything is wrong.

    A lick keeps its number when that is free, always its identifier, tags and dates. One that
    is already here is left alone when the zip's is not newer; else it is changed, and undo
    brings the state before back.
    """
    incoming, practice = _read_zip(data, facts_for, progress)
    added: list[int] = []
    updated: list[int] = []
    unchanged: list[int] = []
    here = {item.uuid: library.find(item.uuid) for item in incoming}
    with library.writing() as writer:
        for item in incoming:
            before = here[item.uuid]
            if before is None:
                added.append(_add(writer, item))
                continue
            if before.deleted is not None:
                writer.mark(before.id, None)
            if before.entry.updated < item.updated:
                writer.replace(
                    before.id,
                    item.lick,
                    item.facts,
                    now=item.updated,
                    what="imported a newer state",
                    given_tonic=item.given_tonic,
                )
                updated.append(before.id)
            else:
                unchanged.append(before.id)
        plans = writer.take_practice(practice)
    return Imported(tuple(added), tuple(updated), tuple(unchanged), plans)


def _add(writer: Writer, item: _Incoming) -> int:
    return writer.add(
        item.lick,
        item.facts,
        now=item.created,
        updated=item.updated,
        given_tonic=item.given_tonic,
        uuid=item.uuid,
        wanted_id=item.number,
    ).id


def _read_zip(
    data: bytes, facts_for: FactsFor, progress: Progress | None
) -> tuple[list[_Incoming], Practice]:
    from linewright.store.practice_archive import practice_in

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_names(archive)
            manifest = _manifest(archive)
            incoming: list[_Incoming] = []
            for number, record in enumerate(manifest["licks"], start=1):
                incoming.append(_incoming(archive, record, facts_for))
                if progress is not None:
                    progress(number, len(manifest["licks"]), incoming[-1].lick.title)
            practice = practice_in(
                manifest, lambda file: _parsed(_checked(archive, file), str(file["path"]))
            )
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise ReadError(
            f"this is not a sound zip file ({error})",
            accepted="Choose a zip that was exported from a library",
        ) from error
    if len({item.uuid for item in incoming}) < len(incoming):
        raise ReadError("two licks in the zip carry the same identifier", place=MANIFEST)
    return incoming, practice


def _check_names(archive: zipfile.ZipFile) -> None:
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
                accepted="Choose a zip that was exported from a library",
            )
        seen.add(name)
        total += info.file_size
        if info.file_size > MAX_ONE or total > MAX_TOTAL:
            raise TooLarge(
                f"the zip swells past its limit at {name[:100]}",
                accepted=f"Up to {MAX_ONE // 10**6} MB a file and {MAX_TOTAL // 10**6} MB in all",
            )


def _read_file(archive: zipfile.ZipFile, path: str) -> bytes:
    try:
        with archive.open(path) as file:
            data = file.read(MAX_ONE + 1)
    except KeyError as error:
        raise ReadError(
            f"{path[:100]} is missing from the zip",
            accepted="Choose a zip that was exported from a library",
        ) from error
    if len(data) > MAX_ONE:
        raise TooLarge(f"{path[:100]} is larger than {MAX_ONE // 10**6} MB")
    return data


def _parsed(data: bytes, path: str) -> Any:
    try:
        return json.loads(data)
    except (ValueError, RecursionError) as error:
        raise ReadError(f"{path} is not sound JSON", place=path) from error


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    manifest = _parsed(_read_file(archive, MANIFEST), MANIFEST)
    if not isinstance(manifest, dict) or manifest.get("kind") != KIND:
        raise ReadError(
            "the zip's manifest is not that of a library",
            accepted="Choose a zip that was exported from a library",
        )
    if manifest.get("version") != VERSION:
        raise ReadError(
            f"the zip is of version {manifest.get('version')!r}",
            accepted=f"This Linewright reads version {VERSION}; install a newer one",
        )
    if not isinstance(manifest.get("licks"), list):
        raise ReadError("the manifest lists no licks", place=MANIFEST)
    return manifest


def _incoming(archive: zipfile.ZipFile, record: Any, facts_for: FactsFor) -> _Incoming:
    try:
        path = str(record["files"]["json"]["path"])
        number = int(record["id"])
        uuid = str(record["uuid"])
        created = datetime.fromisoformat(record["created"])
        updated = datetime.fromisoformat(record["updated"])
        given_tonic = record.get("given_tonic")
    except (KeyError, TypeError, ValueError) as error:
        raise ReadError(
            f"a record in the manifest is damaged: {error!r}", place=MANIFEST
        ) from error
    if created.tzinfo is None or updated.tzinfo is None or len(uuid) > 36:
        raise ReadError("a record in the manifest has a date without its zone", place=MANIFEST)
    contents = {name: _checked(archive, file) for name, file in record["files"].items()}
    data = contents["json"]
    try:
        lick = lick_from_dict(_parsed(data, path))
        facts = facts_for(lick, given_tonic)
    except LinewrightError as error:
        raise ReadError(f"{path} cannot be read: {error}") from error
    return _Incoming(lick, facts, uuid, number, created, updated, given_tonic)


def _checked(archive: zipfile.ZipFile, file: Any) -> bytes:
    """A file the manifest names, which has to be there and as it was exported."""
    try:
        path, checksum = str(file["path"]), file["sha256"]
    except (KeyError, TypeError) as error:
        raise ReadError("a record in the manifest is damaged", place=MANIFEST) from error
    data = _read_file(archive, path)
    if hashlib.sha256(data).hexdigest() != checksum:
        raise ReadError("the file was changed after the export", place=path)
    return data
