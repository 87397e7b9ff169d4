"""Recordings as files in a folder beside the library.

A file is written under a temporary name and renamed, so that it is there whole or not at all. A
recording that is still coming in is a ``.part`` file to which every piece is written through to
the disk before it is said to be there: what was received survives whatever happens next.
"""

from __future__ import annotations

import hashlib
import os
import re
import uuid as uuids
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final

from linewright.errors import NotFound, OptionError, StoreError, TooLarge

__all__ = ["FORMATS", "MAX_CHUNK_BYTES", "MAX_TAKE_BYTES", "TakeFolder", "format_of"]

#: Largest recording kept: ten minutes of one channel at 48 kHz and 32 bits.
MAX_TAKE_BYTES: Final = 128 * 1024 * 1024
#: Largest piece of a recording sent while it goes on.
MAX_CHUNK_BYTES: Final = 8 * 1024 * 1024
#: Kinds of recordings, and their media types.
FORMATS: Final = {
    "wav": "audio/wav",
    "flac": "audio/flac",
    "mp3": "audio/mpeg",
    "m4a": "audio/mp4",
    "ogg": "audio/ogg",
    "webm": "audio/webm",
    "mid": "audio/midi",
    "bin": "application/octet-stream",
}
_NAME: Final = re.compile(r"[0-9a-f]{32}\.[a-z0-9]{2,4}")
_MOST_MB: Final = MAX_TAKE_BYTES // (1024 * 1024)


def format_of(head: bytes) -> str:
    """The kind of a recording by its first bytes; ``bin`` for one not known.

    >>> format_of(b"fLaC...")
    'flac'
    """
    if head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE":
        return "wav"
    if head[4:8] == b"ftyp":
        return "m4a"
    if head[:3] == b"ID3" or (len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0):
        return "mp3"
    known = {b"fLaC": "flac", b"OggS": "ogg", b"\x1aE\xdf\xa3": "webm", b"MThd": "mid"}
    return known.get(head[:4], "bin")


def _say_length(path: Path) -> None:
    """Give a WAV recorded without a known length its sizes (RIFF: bytes 4 and 40 of a plain head)."""
    size = path.stat().st_size
    with path.open("r+b") as file:
        head = file.read(44)
        if len(head) < 44 or format_of(head) != "wav" or head[36:40] != b"data":
            return
        if head[40:44] == b"\xff\xff\xff\xff" and size < 2**32:
            file.seek(4)
            file.write((size - 8).to_bytes(4, "little"))
            file.seek(40)
            file.write((size - 44).to_bytes(4, "little"))


class TakeFolder:
    """The folder of a library's recordings; made when the first one comes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @staticmethod
    def new_name(form: str) -> str:
        """A name no recording has."""
        return f"{uuids.uuid4().hex}.{form if form in FORMATS else 'bin'}"

    def path(self, name: str) -> Path:
        """Where a recording lies; NotFound when it is not there."""
        found = self._at(name)
        if not found.is_file():
            raise NotFound(
                f"the recording is not in the folder {self.folder.name}",
                accepted="The folder belongs beside the library file; move both together",
            )
        return found

    def whatever(self, name: str) -> Path | None:
        """What there is of a recording, finished or not."""
        return next((p for p in (self._at(name), self._part(name)) if p.is_file()), None)

    def put(self, name: str, pieces: Iterable[bytes]) -> tuple[int, str]:
        """Write a whole recording; its size and checksum."""
        digest, size = hashlib.sha256(), 0
        with self._told():
            target = self._at(name, make=True)
            waiting = target.with_name(f".{target.name}.tmp")
            try:
                with waiting.open("wb") as file:
                    for piece in pieces:
                        size += len(piece)
                        if size > MAX_TAKE_BYTES:
                            raise _too_large()
                        digest.update(piece)
                        file.write(piece)
                    _through(file)
                waiting.replace(target)
            finally:
                waiting.unlink(missing_ok=True)
        return size, digest.hexdigest()

    # -- recordings that come in pieces ----------------------------------------------
    def received(self, name: str) -> int:
        """Bytes that are there of a recording that is coming in."""
        path = self.whatever(name)
        return 0 if path is None else path.stat().st_size

    def append(self, name: str, offset: int, data: bytes) -> int:
        """Add a piece; the bytes that are there then. A piece sent twice is taken once.

        Raises
        ------
        OptionError
            When bytes before ``offset`` are missing.
        TooLarge
        """
        if len(data) > MAX_CHUNK_BYTES:
            raise TooLarge(
                f"a piece of {len(data):,} bytes",
                accepted=f"Send at most {MAX_CHUNK_BYTES // 2**20} MB at a time",
            )
        here = self.received(name)
        if not 0 <= offset <= here:
            raise OptionError(
                f"a piece from byte {offset} does not follow on the {here} that are here",
                accepted=f"Send on from byte {here}",
            )
        fresh = data[here - offset :]
        if here + len(fresh) > MAX_TAKE_BYTES:
            raise _too_large()
        if fresh:
            with self._told():
                self._at(name, make=True)
                with self._part(name).open("ab") as file:
                    file.write(fresh)
                    _through(file)
        return here + len(fresh)

    def finish(self, name: str) -> tuple[int, str]:
        """Give a recording that came in pieces its name; its size and checksum."""
        with self._told():
            target, part = self._at(name, make=True), self._part(name)
            if part.is_file():
                _say_length(part)
                part.replace(target)
            elif not target.is_file():
                target.touch()
            with target.open("rb") as file:
                return target.stat().st_size, hashlib.file_digest(file, "sha256").hexdigest()

    def remove(self, name: str) -> None:
        """Forget a recording for good."""
        with self._told():
            for path in (self._at(name), self._part(name)):
                path.unlink(missing_ok=True)

    def _at(self, name: str, *, make: bool = False) -> Path:
        if not _NAME.fullmatch(name):
            raise StoreError(f"{name[:40]!r} is not the name of a recording")
        if make:
            self.folder.mkdir(exist_ok=True)
        return self.folder / name

    def _part(self, name: str) -> Path:
        at = self._at(name)
        return at.with_name(f"{at.name}.part")

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise StoreError(
                f"the recording cannot be written to {self.folder.name}:"
                f" {error.strerror or type(error).__name__}",
                accepted="Check that there is room, and that you may write beside the library",
            ) from error


def _through(file: BinaryIO) -> None:
    file.flush()
    os.fsync(file.fileno())


def _too_large() -> TooLarge:
    return TooLarge(
        f"the recording has more than {_MOST_MB} MB",
        accepted=f"At most {_MOST_MB} MB are kept; record ten minutes at most, in one channel",
    )
