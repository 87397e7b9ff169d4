"""Takes: recordings kept beside the library, and what was heard and said of them."""

from __future__ import annotations

import uuid as uuids
from datetime import datetime
from pathlib import Path

import sqlalchemy as sa

from linewright.errors import NotFound, OptionError, StoreError
from linewright.store.database import Database
from linewright.store.practice_records import checked_word
from linewright.store.practice_rows import entry_row
from linewright.store.schema import PLANS, STUDENTS, TAKES
from linewright.store.take_files import TakeFolder, format_of
from linewright.store.take_records import Judgement, KeptTake, Setting, TakeEntry
from linewright.store.take_rows import (
    entries_where,
    insert_take,
    judgement_values,
    setting_values,
    take_entry,
    take_whole,
)

__all__ = ["Takes"]

_LONGEST_PROBLEM = 1000


class Takes:
    """The takes of a library (see :attr:`Library.takes`)."""

    def __init__(self, database: Database) -> None:
        self._database = database

    # -- looking -------------------------------------------------------------------------
    def find(
        self,
        *,
        plan_id: int | None = None,
        step: int | None = None,
        student_id: int | None = None,
        deleted: bool = False,
    ) -> tuple[TakeEntry, ...]:
        """Takes, the first made first; the deleted ones when asked for."""
        wanted: list[sa.ColumnElement[bool]] = [
            TAKES.c.deleted.is_not(None) if deleted else TAKES.c.deleted.is_(None)
        ]
        if plan_id is not None:
            wanted.append(TAKES.c.plan_id == plan_id)
        if step is not None:
            wanted.append(TAKES.c.step == step)
        if student_id is not None:
            of_student = sa.select(PLANS.c.id).where(PLANS.c.student_id == student_id)
            wanted.append(TAKES.c.plan_id.in_(of_student))
        wanted.append(
            TAKES.c.plan_id.in_(
                sa.select(PLANS.c.id)
                .join(STUDENTS, STUDENTS.c.id == PLANS.c.student_id)
                .where(PLANS.c.deleted.is_(None), STUDENTS.c.deleted.is_(None))
            )
        )
        with self._database.reading() as connection:
            return entries_where(connection, sa.and_(*wanted), self._received)

    def entry(self, take_id: int) -> TakeEntry:
        """One take, deleted ones included; raises NotFound."""
        with self._database.reading() as connection:
            return take_entry(connection, take_id, self._received)

    def get(self, take_id: int) -> KeptTake:
        """The same with what was heard and said."""
        with self._database.reading() as connection:
            return take_whole(connection, take_id, self._received)

    def audio(self, take_id: int) -> Path:
        """Where the recording lies; NotFound when it is not there."""
        entry = self.entry(take_id)
        if entry.audio is None:
            raise NotFound(
                "this take was brought in without its recording",
                accepted="Import the library's zip into a library in a file",
            )
        if entry.state == "recording":
            raise NotFound("this recording is not finished", accepted="Finish it first")
        return self._folder.path(entry.audio)

    def whole(self) -> dict[int, list[tuple[KeptTake, Path | None]]]:
        """Every take that is not deleted, by plan, with the file of its recording where it is
        there.
        """
        found: dict[int, list[tuple[KeptTake, Path | None]]] = {}
        for entry in self.find():
            path = None
            if entry.audio is not None and self._database.beside is not None:
                path = self._folder.whatever(entry.audio)
            found.setdefault(entry.plan_id, []).append((self.get(entry.id), path))
        return found

    # -- keeping -------------------------------------------------------------------------
    def add(
        self,
        plan_id: int,
        step: int,
        data: bytes,
        setting: Setting,
        judgement: Judgement | None = None,
        *,
        now: datetime,
    ) -> TakeEntry:
        """Keep a whole recording with its verdict."""
        self._open_step(plan_id, step)
        name = TakeFolder.new_name(format_of(data[:16]))
        size, checksum = self._folder.put(name, iter((data,)))
        try:
            return self._insert(
                plan_id,
                step,
                setting,
                now=now,
                name=name,
                state="judged" if judgement else "unjudged",
                bytes=size,
                sha256=checksum,
                **(judgement_values(judgement) if judgement else {}),
            )
        except BaseException:
            self._folder.remove(name)
            raise

    def begin(
        self, plan_id: int, step: int, setting: Setting, form: str = "bin", *, now: datetime
    ) -> TakeEntry:
        """Begin a recording that comes in pieces; ``form`` is a hint at its kind."""
        self._open_step(plan_id, step)
        name = TakeFolder.new_name(form)
        self._folder.append(name, 0, b"")
        return self._insert(plan_id, step, setting, now=now, name=name, state="recording")

    def append(self, take_id: int, offset: int, data: bytes) -> int:
        """Add a piece that begins at byte ``offset``; how many bytes are there then.

        Raises
        ------
        OptionError
            When the recording is finished, or bytes before ``offset`` are missing.
        TooLarge, NotFound
        """
        with self._database.files_lock:
            entry = self._there(take_id)
            if entry.state != "recording" or entry.audio is None:
                raise OptionError("this recording is finished", accepted="Begin a new one")
            return self._folder.append(entry.audio, offset, data)

    def finish(self, take_id: int, setting: Setting | None = None) -> TakeEntry:
        """Close a recording, whole or broken off; it is then ``unjudged``. Closing again does
        nothing. ``setting`` replaces what was said when it began.
        """
        values: dict[str, object] = {} if setting is None else setting_values(setting)
        with self._database.files_lock:
            entry = self._there(take_id)
            if entry.audio is None:
                raise NotFound("this take has no recording")
            if entry.state == "recording":
                size, checksum = self._folder.finish(entry.audio)
                values |= {
                    "state": "unjudged", "bytes": size, "sha256": checksum,
                    "format": self._sniffed(entry.audio),
                }  # fmt: skip
            return self._update(take_id, **values)

    def judge(self, take_id: int, judgement: Judgement) -> TakeEntry:
        """Write the verdict of a finished recording down."""
        self._finished(take_id)
        return self._update(take_id, state="judged", problem="", **judgement_values(judgement))

    def not_judged(self, take_id: int, problem: str) -> TakeEntry:
        """Write down why a finished recording cannot be judged."""
        self._finished(take_id)
        return self._update(take_id, state="unjudged", problem=problem[:_LONGEST_PROBLEM])

    def rule(
        self, take_id: int, ruling: bool | None, *, by: str | None, comment: str = ""
    ) -> TakeEntry:
        """A teacher's word on a take: it counts as a pass, it does not, or (None) the verdict
        stands; with a comment.
        """
        if self._there(take_id).state == "recording":
            raise OptionError("this recording is not finished", accepted="Finish it first")
        name, comment = checked_word(by, comment)
        if ruling is not None and name is None:
            raise OptionError("an override without a name", accepted="Say which teacher decides")
        return self._update(take_id, ruling=ruling, by=name, comment=comment)

    def delete(self, take_id: int, *, now: datetime | None) -> TakeEntry:
        """Take a take out of the lists; with ``now`` None, bring it back."""
        self.entry(take_id)
        return self._update(take_id, deleted=now)

    # -- kernels -------------------------------------------------------------------------
    @property
    def _folder(self) -> TakeFolder:
        folder = self._database.beside
        if folder is None:
            raise StoreError(
                f"takes are kept in a folder beside the library's file, and {self._database.shown}"
                " is no file",
                accepted="Open a library in a file to record takes",
            )
        return TakeFolder(folder)

    def _received(self, name: str) -> int:
        return self._folder.received(name) if self._database.beside is not None else 0

    def _sniffed(self, name: str) -> str:
        with self._folder.path(name).open("rb") as file:
            return format_of(file.read(16))

    def _open_step(self, plan_id: int, step: int) -> None:
        """The plan and step are there and may be played."""
        with self._database.reading() as connection:
            entry = entry_row(connection, plan_id)
        if entry.deleted is not None:
            raise NotFound("this plan is deleted", accepted="Bring it back before recording")
        if not entry.progress.can_start(step):
            at = entry.progress.current
            raise OptionError(
                f"step {step} is held back by step {at}",
                accepted=f"Finish step {at} first, or let a teacher open it",
            )

    def _there(self, take_id: int) -> TakeEntry:
        entry = self.entry(take_id)
        if entry.deleted is not None:
            raise NotFound("this take is deleted", accepted="Bring it back first")
        return entry

    def _finished(self, take_id: int) -> TakeEntry:
        entry = self._there(take_id)
        if entry.state == "recording":
            raise OptionError("this recording is not finished", accepted="Finish it first")
        return entry

    def _insert(
        self,
        plan_id: int,
        step: int,
        setting: Setting,
        *,
        now: datetime,
        name: str,
        state: str,
        **values: object,
    ) -> TakeEntry:
        with self._database.writing() as connection:
            take_id = insert_take(
                connection,
                uuid=str(uuids.uuid4()),
                plan_id=plan_id,
                step=step,
                at=now,
                state=state,
                audio=name,
                format=name.partition(".")[2],
                **setting_values(setting),
                **values,
            )
            return take_entry(connection, take_id, self._received)

    def _update(self, take_id: int, **values: object) -> TakeEntry:
        with self._database.writing() as connection:
            if values:
                connection.execute(sa.update(TAKES).where(TAKES.c.id == take_id).values(**values))
            return take_entry(connection, take_id, self._received)
