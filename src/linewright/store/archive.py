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
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from linewright.errors import LinewrightError, ReadError, WriteError
from linewright.formats import write_bytes
from linewright.formats.lickjson import lick_from_dict
from linewright.score import Lick
from linewright.store.library import Library, Writer
from linewright.store.records import Facts, Kept
from linewright.store.rows import folded
from linewright.store.take_files import TakeFolder
from linewright.store.zip_files import (
    EXPORTED,
    MANIFEST,
    check_names,
    checked_file,
    parsed,
    pieces_of,
    read_file,
)

if TYPE_CHECKING:
    from linewright.store.practice_archive import Practice
    from linewright.store.practice_records import KeptPlan, Student
    from linewright.store.take_records import KeptTake

__all__ = ["Imported", "export_zip", "import_zip"]

KIND: Final = "linewright library"
VERSION: Final = 1
#: Format name -> file name inside a lick's folder.
FILES: Final = {
    "json": "lick.json",
    "musicxml": "lick.musicxml",
    "tab": "lick.txt",
    "abc": "lick.abc",
}

#: Kinds of files that do not get smaller.
_PACKED: Final = ("flac", "mp3", "m4a", "ogg", "webm")

Progress = Callable[[int, int, str], None]
FactsFor = Callable[[Lick, str | None], Facts]


@dataclass(frozen=True)
class Imported:
    """What an import did: numbers of the licks added, changed to the newer state, already here,
    and of the practice plans that came in or have something new; how many takes came, and how many
    of them without their recordings.
    """

    added: tuple[int, ...]
    updated: tuple[int, ...]
    unchanged: tuple[int, ...]
    plans: tuple[int, ...] = ()
    takes: int = 0
    silent: int = 0

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
    takes: Mapping[int, Sequence[tuple[KeptTake, Path | None]]] | None = None,
    progress: Progress | None = None,
) -> bytes:
    """Write licks as a zip of open formats, and practice plans with their takes beside them."""
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
            students, plans, uuids, lambda path, data: _put(archive, path, data, now), takes
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
    is_packed = path.rpartition(".")[2] in _PACKED
    info.compress_type = zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED
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
    folder = library.takes_folder
    staged: list[str] = []
    try:
        return _import(library, data, facts_for, progress, folder, staged)
    except BaseException:
        if folder is not None:
            for name in staged:
                folder.remove(name)
        raise


def _import(
    library: Library,
    data: bytes,
    facts_for: FactsFor,
    progress: Progress | None,
    folder: TakeFolder | None,
    staged: list[str],
) -> Imported:
    """``staged`` is told of every recording copied out, for the caller to clear when all fails."""
    known = library.take_uuids()
    incoming, practice = _read_zip(data, facts_for, progress, folder, staged, known)
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
        came = writer.take_practice(practice)
    return Imported(
        tuple(added), tuple(updated), tuple(unchanged), came.plans, came.takes, came.silent
    )


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
    data: bytes,
    facts_for: FactsFor,
    progress: Progress | None,
    folder: TakeFolder | None,
    staged: list[str],
    known: frozenset[str],
) -> tuple[list[_Incoming], Practice]:
    from linewright.store.practice_archive import practice_in

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            check_names(archive)
            manifest = _manifest(archive)
            incoming: list[_Incoming] = []
            for number, record in enumerate(manifest["licks"], start=1):
                incoming.append(_incoming(archive, record, facts_for))
                if progress is not None:
                    progress(number, len(manifest["licks"]), incoming[-1].lick.title)

            def stage(file: Any, form: str) -> tuple[str, int, str] | None:
                if folder is None:
                    return None
                staged.append(folder.new_name(form))
                return (staged[-1], *folder.put(staged[-1], pieces_of(archive, file)))

            practice = practice_in(
                manifest,
                lambda file: parsed(checked_file(archive, file), str(file["path"])),
                stage,
                known,
            )
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise ReadError(
            f"this is not an intact zip file ({error})",
            accepted=EXPORTED,
        ) from error
    if len({item.uuid for item in incoming}) < len(incoming):
        raise ReadError("two licks in the zip carry the same identifier", place=MANIFEST)
    return incoming, practice


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    manifest = parsed(read_file(archive, MANIFEST), MANIFEST)
    if not isinstance(manifest, dict) or manifest.get("kind") != KIND:
        raise ReadError(
            "the zip's manifest is not that of a library",
            accepted=EXPORTED,
        )
    if manifest.get("version") != VERSION:
        raise ReadError(
            f"the zip is of version {manifest.get('version')!r}",
            accepted=f"This Linewright reads version {VERSION}; install a newer one",
        )
    if not isinstance(manifest.get("licks"), list):
        raise ReadError("the manifest lists no licks", place=MANIFEST, accepted=EXPORTED)
    return manifest


def _incoming(archive: zipfile.ZipFile, record: Any, facts_for: FactsFor) -> _Incoming:
    try:
        path = str(record["files"]["json"]["path"])
        number = int(record["id"])
        uuid = str(record["uuid"])
        created = datetime.fromisoformat(record["created"])
        updated = datetime.fromisoformat(record["updated"])
        given_tonic = record.get("given_tonic")
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise ReadError(
            "a record in the manifest is damaged", place=MANIFEST, accepted=EXPORTED
        ) from error
    if created.tzinfo is None or updated.tzinfo is None or len(uuid) > 36:
        raise ReadError(
            "a record in the manifest has a date without its zone",
            place=MANIFEST,
            accepted=EXPORTED,
        )
    contents = {name: checked_file(archive, file) for name, file in record["files"].items()}
    data = contents["json"]
    try:
        lick = lick_from_dict(parsed(data, path))
        facts = facts_for(lick, given_tonic)
    except LinewrightError as error:
        raise ReadError(f"{path} cannot be read: {error}") from error
    return _Incoming(lick, facts, uuid, number, created, updated, given_tonic)
