"""Removing for good what was deleted; counting and removing run in an open transaction."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from linewright.store.database import Database
from linewright.store.records import Removed
from linewright.store.rows import set_tags
from linewright.store.schema import LICKS, PLANS, STUDENTS, TAKES
from linewright.store.take_files import TakeFolder

__all__ = ["forget", "removable", "remove_files"]


def removable(connection: Connection, before: datetime) -> tuple[Removed, tuple[str, ...]]:
    """What was deleted before a moment, by itself or with its plan or student; and the names of
    its recordings.
    """
    plans = _plans(before)
    takes = connection.execute(sa.select(TAKES.c.audio, TAKES.c.bytes).where(_takes(before))).all()
    names = tuple(row.audio for row in takes if row.audio)
    count = sa.select(sa.func.count())
    return (
        Removed(
            licks=connection.scalar(count.select_from(LICKS).where(LICKS.c.deleted < before)) or 0,
            students=connection.scalar(
                count.select_from(STUDENTS).where(STUDENTS.c.deleted < before)
            )
            or 0,
            plans=connection.scalar(count.select_from(plans.subquery())) or 0,
            takes=len(takes),
            recordings=len(names),
            bytes=sum(row.bytes or 0 for row in takes if row.audio),
        ),
        names,
    )


def forget(connection: Connection, before: datetime) -> tuple[Removed, tuple[str, ...]]:
    """Remove the rows; what they were, and the names of the recordings that are nobody's now."""
    found = removable(connection, before)
    connection.execute(sa.delete(TAKES).where(_takes(before)))
    for lick_id in connection.scalars(sa.select(LICKS.c.id).where(LICKS.c.deleted < before)).all():
        set_tags(connection, lick_id, ())
        connection.execute(sa.delete(LICKS).where(LICKS.c.id == lick_id))
    for table in (PLANS, STUDENTS):
        connection.execute(sa.delete(table).where(table.c.deleted < before))
    return found


def remove_files(database: Database, names: Iterable[str]) -> None:
    """Remove recordings for good."""
    if database.beside is not None:
        with database.files_lock:
            for name in names:
                TakeFolder(database.beside).remove(name)


def _plans(before: datetime) -> sa.Select[tuple[int]]:
    return (
        sa.select(PLANS.c.id)
        .join(STUDENTS, STUDENTS.c.id == PLANS.c.student_id)
        .where(sa.or_(PLANS.c.deleted < before, STUDENTS.c.deleted < before))
    )


def _takes(before: datetime) -> sa.ColumnElement[bool]:
    return sa.or_(TAKES.c.deleted < before, TAKES.c.plan_id.in_(_plans(before)))
