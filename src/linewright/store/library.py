"""Library: everything that is kept, and the only path to it.

Every write goes through one method, in one transaction, one writer at a time. The library
reads no clock: whoever calls says what time it is.
"""

from __future__ import annotations

import json
import uuid as uuids
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Row

from linewright.errors import NotFound, OptionError, StoreError
from linewright.score import Lick
from linewright.store import search as searching
from linewright.store.database import Database
from linewright.store.records import Dash, Facts, Kept, Query, Removed, SearchResult, Version
from linewright.store.rows import columns_for, kept_of, lick_from_text, set_outside, set_tags
from linewright.store.schema import LICKS, TAKES, VERSIONS
from linewright.store.take_files import TakeFolder

if TYPE_CHECKING:
    from linewright.store.practice import Plans
    from linewright.store.practice_archive import Practice, TakenIn
    from linewright.store.takes import Takes

__all__ = ["Library", "Writer"]


class Library:
    """Licks on disk.

    Examples
    --------
    >>> with Library.open(":memory:") as library:
    ...     library.search(Query()).total
    0
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    @classmethod
    def open(cls, where: str | Path) -> Library:
        """Open a library file (made when it does not exist) or a database URL.

        Raises StoreError when it cannot be opened, is no library, or is of a newer version.
        """
        return cls(Database(where))

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()

    def __enter__(self) -> Library:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def where(self) -> str:
        """The file, or the address without its password."""
        return self._database.shown

    @property
    def plans(self) -> Plans:
        """Students, their practice plans and how far they are."""
        from linewright.store.practice import Plans  # brings in all that makes lines

        return Plans(self._database)

    @property
    def takes(self) -> Takes:
        """What players recorded, beside the library's file, and how it was judged."""
        from linewright.store.takes import Takes

        return Takes(self._database)

    @property
    def takes_folder(self) -> TakeFolder | None:
        """Where recordings lie; None for a library without a file."""
        return None if self._database.beside is None else TakeFolder(self._database.beside)

    def take_uuids(self) -> frozenset[str]:
        """Identifiers of all takes, deleted ones included."""
        with self._database.reading() as connection:
            return frozenset(connection.scalars(sa.select(TAKES.c.uuid)))

    # -- looking -------------------------------------------------------------------------
    def get(self, lick_id: int) -> Kept:
        """One lick, deleted ones included (``deleted`` says so); raises NotFound."""
        with self._database.reading() as connection:
            return kept_of(connection, _row(connection, lick_id))

    def find(self, uuid: str) -> Kept | None:
        """The lick with this universal identifier, deleted ones included, or None."""
        with self._database.reading() as connection:
            row = connection.execute(sa.select(LICKS).where(LICKS.c.uuid == uuid)).one_or_none()
            return kept_of(connection, row) if row is not None else None

    def search(self, query: Query) -> SearchResult:
        """What a query finds, and the counts beside every filter."""
        with self._database.reading() as connection:
            return searching.run(connection, query)

    def all(self) -> tuple[Kept, ...]:
        """Every lick that is not deleted, in order of number."""
        with self._database.reading() as connection:
            rows = connection.execute(
                sa.select(LICKS).where(LICKS.c.deleted.is_(None)).order_by(LICKS.c.id)
            ).all()
            return tuple(kept_of(connection, row) for row in rows)

    def deleted(self) -> tuple[Kept, ...]:
        """The deleted licks that can still be brought back, last deleted first."""
        with self._database.reading() as connection:
            rows = connection.execute(
                sa.select(LICKS)
                .where(LICKS.c.deleted.is_not(None))
                .order_by(LICKS.c.deleted.desc(), LICKS.c.id)
            ).all()
            return tuple(kept_of(connection, row) for row in rows)

    def history(self, lick_id: int) -> tuple[Version, ...]:
        """The changes that can be undone, last first."""
        with self._database.reading() as connection:
            _row(connection, lick_id)
            rows = connection.execute(
                sa.select(VERSIONS.c.at, VERSIONS.c.what)
                .where(VERSIONS.c.lick_id == lick_id)
                .order_by(VERSIONS.c.id.desc())
            )
            return tuple(Version(at, what) for at, what in rows)

    # -- changing ------------------------------------------------------------------------
    @contextmanager
    def writing(self) -> Iterator[Writer]:
        """Several changes as one: all are kept, or none when anything fails."""
        with self._database.writing() as connection:
            yield Writer(connection)

    def add(
        self,
        lick: Lick,
        facts: Facts,
        *,
        now: datetime,
        given_tonic: str | None = None,
        uuid: str | None = None,
    ) -> Kept:
        """Keep a lick."""
        with self.writing() as writer:
            return writer.add(lick, facts, now=now, given_tonic=given_tonic, uuid=uuid)

    def replace(
        self,
        lick_id: int,
        lick: Lick,
        facts: Facts,
        *,
        now: datetime,
        what: str,
        given_tonic: str | None = None,
    ) -> Kept:
        """Put another state in place of a lick's; the state before can be had back by undo."""
        with self.writing() as writer:
            return writer.replace(lick_id, lick, facts, now=now, what=what, given_tonic=given_tonic)

    def rename(self, lick_id: int, title: str, *, now: datetime) -> Kept:
        """Give a lick another title."""
        kept = self.get(lick_id)
        lick = kept.lick.with_(title=title)
        what = f"renamed from {kept.lick.title}"
        return self.replace(
            lick_id, lick, kept.entry.facts, now=now, what=what, given_tonic=kept.given_tonic
        )

    def tag(self, lick_id: int, tags: tuple[str, ...], *, now: datetime) -> Kept:
        """Make these the tags of a lick."""
        kept = self.get(lick_id)
        return self.replace(
            lick_id,
            kept.lick.with_(tags=tuple(dict.fromkeys(tags))),
            kept.entry.facts,
            now=now,
            what="changed the tags",
            given_tonic=kept.given_tonic,
        )

    def undo(self, lick_id: int, *, now: datetime) -> tuple[Kept, str]:
        """Take the last change back; returns the lick and what was undone.

        Raises NotFound when there is nothing left to undo.
        """
        with self.writing() as writer:
            return writer.undo(lick_id, now=now)

    def delete(self, lick_id: int, *, now: datetime) -> Kept:
        """Take a lick out of the library; :meth:`restore` brings it back."""
        with self.writing() as writer:
            return writer.mark(lick_id, now)

    def restore(self, lick_id: int) -> Kept:
        """Bring a deleted lick back as it was."""
        with self.writing() as writer:
            return writer.mark(lick_id, None)

    def removable(self, *, before: datetime) -> Removed:
        """What :meth:`purge` would remove."""
        from linewright.store.purging import removable

        with self._database.reading() as connection:
            return removable(connection, before)[0]

    def purge(self, *, before: datetime) -> Removed:
        """Remove for good the licks deleted before a moment, and students, plans and takes
        likewise, recordings too; a student goes with the plans, a plan with its takes.
        """
        from linewright.store.purging import forget, remove_files

        with self._database.writing() as connection:
            removed, names = forget(connection, before)
        # Rows first: what breaks off here leaves a file too many, never a take without its sound.
        remove_files(self._database, names)
        return removed


class Writer:
    """The changes themselves, inside an open transaction (see :meth:`Library.writing`)."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(
        self,
        lick: Lick,
        facts: Facts,
        *,
        now: datetime,
        given_tonic: str | None = None,
        uuid: str | None = None,
        updated: datetime | None = None,
        wanted_id: int | None = None,
    ) -> Kept:
        """Keep a lick; ``wanted_id`` is its number when that is free."""
        values = columns_for(lick, facts, given_tonic)
        values |= {"uuid": uuid or str(uuids.uuid4()), "created": now, "updated": updated or now}
        if wanted_id is not None and not self._taken(wanted_id):
            values["id"] = wanted_id
        result = self._connection.execute(sa.insert(LICKS).values(**values))
        key = result.inserted_primary_key
        if key is None:
            raise StoreError("the database gave the new lick no number")
        return self._finish(int(key[0]), lick, facts)

    def replace(
        self,
        lick_id: int,
        lick: Lick,
        facts: Facts,
        *,
        now: datetime,
        what: str,
        given_tonic: str | None = None,
    ) -> Kept:
        """Put another state in place of a lick's, keeping the one before for undo."""
        row = _row(self._connection, lick_id)
        if row.deleted is not None:
            raise NotFound(
                f"the lick {row.title!r} is deleted", accepted="Bring it back before changing it"
            )
        before = kept_of(self._connection, row)
        self._connection.execute(
            sa.insert(VERSIONS).values(
                lick_id=lick_id, at=now, what=what[:200], snapshot=_snapshot(row, before)
            )
        )
        self._write(lick_id, lick, facts, given_tonic, now)
        return self._finish(lick_id, lick, facts)

    def undo(self, lick_id: int, *, now: datetime) -> tuple[Kept, str]:
        """Take the last change back."""
        row = _row(self._connection, lick_id)
        version = self._connection.execute(
            sa.select(VERSIONS)
            .where(VERSIONS.c.lick_id == lick_id)
            .order_by(VERSIONS.c.id.desc())
            .limit(1)
        ).one_or_none()
        if version is None:
            raise NotFound(f"there is no change of {row.title!r} to undo")
        before = json.loads(version.snapshot)
        lick = lick_from_text(before["document"], row.title)
        facts = _facts(before["facts"])
        self._write(lick_id, lick, facts, before["given_tonic"], now)
        self._connection.execute(sa.delete(VERSIONS).where(VERSIONS.c.id == version.id))
        return self._finish(lick_id, lick, facts), str(version.what)

    def mark(self, lick_id: int, deleted: datetime | None) -> Kept:
        """Say when a lick was deleted, or with None that it is not."""
        _row(self._connection, lick_id)
        self._connection.execute(
            sa.update(LICKS).where(LICKS.c.id == lick_id).values(deleted=deleted)
        )
        return kept_of(self._connection, _row(self._connection, lick_id))

    def take_practice(self, practice: Practice) -> TakenIn:
        """Add the students, plans, marks, changes of rules and takes that are not here."""
        from linewright.store.practice_archive import take_in

        return take_in(self._connection, practice)

    def _write(
        self, lick_id: int, lick: Lick, facts: Facts, given_tonic: str | None, now: datetime
    ) -> None:
        values = columns_for(lick, facts, given_tonic) | {"updated": now}
        self._connection.execute(sa.update(LICKS).where(LICKS.c.id == lick_id).values(**values))

    def _finish(self, lick_id: int, lick: Lick, facts: Facts) -> Kept:
        if not lick.title.strip():
            raise OptionError("a lick needs a title")
        set_tags(self._connection, lick_id, lick.tags)
        set_outside(self._connection, lick_id, facts.outside)
        return kept_of(self._connection, _row(self._connection, lick_id), lick)

    def _taken(self, lick_id: int) -> bool:
        found = self._connection.scalar(sa.select(LICKS.c.id).where(LICKS.c.id == lick_id))
        return found is not None or lick_id < 1


def _row(connection: Connection, lick_id: int) -> Row[Any]:
    row = None
    if 0 < lick_id < 2**31:
        row = connection.execute(sa.select(LICKS).where(LICKS.c.id == lick_id)).one_or_none()
    if row is None:
        raise NotFound(
            f"there is no lick {lick_id} in the library", accepted="See the list for what there is"
        )
    return row


def _snapshot(row: Row[Any], kept: Kept) -> str:
    facts = kept.entry.facts
    return json.dumps(
        {
            "document": row.document,
            "given_tonic": row.given_tonic,
            "facts": {
                "tonic": facts.tonic,
                "frame": facts.frame,
                "frame_label": facts.frame_label,
                "outside": facts.outside,
                "functions": facts.functions,
                "sketch": facts.sketch,
            },
        },
        ensure_ascii=False,
    )


def _facts(kept: dict[str, Any]) -> Facts:
    return Facts(
        kept["tonic"],
        kept["frame"],
        kept["frame_label"],
        tuple(kept["outside"]),
        tuple(kept["functions"]),
        tuple(Dash(*dash) for dash in kept["sketch"]),
    )
