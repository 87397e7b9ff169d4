"""Between students, plans, marks and their rows; everything here runs in an open transaction."""

from __future__ import annotations

import json
import uuid as uuids
from collections.abc import Iterable
from datetime import datetime
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Row

from linewright.errors import LinewrightError, NotFound, OptionError, StoreError
from linewright.practice import PlanSheet, sheet_from_dict, sheet_to_dict
from linewright.practice.tolerance import changed_sheet, merged_changes
from linewright.store.practice_records import LONGEST_NAME, KeptPlan, PlanEntry, StepMark, Student
from linewright.store.schema import MARKS, PLANS, STUDENTS
from linewright.store.take_rows import changes_of

__all__ = [
    "add_mark",
    "add_plan",
    "add_student",
    "entries_of",
    "entries_query",
    "entry_row",
    "plain_name",
    "plan_row",
    "student_row",
    "students_where",
]


def add_student(
    connection: Connection, name: str, *, now: datetime, uuid: str | None = None
) -> Student:
    """Add a student."""
    plain = plain_name(connection, name)
    result = connection.execute(
        sa.insert(STUDENTS).values(uuid=uuid or str(uuids.uuid4()), name=plain, created=now)
    )
    return student_row(connection, _key(result))


def add_plan(
    connection: Connection,
    sheet: PlanSheet,
    *,
    student_id: int,
    lick_id: int | None,
    now: datetime,
    uuid: str | None = None,
) -> KeptPlan:
    """Add a plan."""
    title = sheet.lick.title
    result = connection.execute(
        sa.insert(PLANS).values(
            uuid=uuid or str(uuids.uuid4()),
            student_id=student_id,
            lick_id=lick_id,
            title=title if len(title) <= 200 else title[:199] + "…",
            level=sheet.level,
            length=sheet.length,
            seed=sheet.seed,
            steps=json.dumps([[s.key, s.title] for s in sheet.steps], ensure_ascii=False),
            document=json.dumps(sheet_to_dict(sheet), ensure_ascii=False),
            made=now,
        )
    )
    return KeptPlan(entry_row(connection, _key(result)), sheet)


def add_mark(connection: Connection, plan_id: int, mark: StepMark) -> None:
    """Write a mark down as it is."""
    connection.execute(
        sa.insert(MARKS).values(
            uuid=mark.uuid,
            plan_id=plan_id,
            step=mark.step,
            at=mark.at,
            state=mark.state,
            by=mark.by,
            comment=mark.comment,
            undone=mark.undone,
        )
    )


def _key(result: Any) -> int:
    key = result.inserted_primary_key
    if key is None:
        raise StoreError("the database gave the new row no number")
    return int(key[0])


def plain_name(connection: Connection, name: str, *, but: int | None = None) -> str:
    """A name as it is kept; OptionError when it is none, or another student (``but``) has it."""
    plain = " ".join(name.split())
    if not plain or len(plain) > LONGEST_NAME or not plain.isprintable():
        raise OptionError(
            f"{name[:60]!r} is not a student's name",
            accepted=f"Use 1 to {LONGEST_NAME} characters",
        )
    for student in students_where(connection, STUDENTS.c.deleted.is_(None)):
        if student.name.casefold() == plain.casefold() and student.id != but:
            raise OptionError(
                f"there is a student called {student.name} already",
                accepted="Add something that tells the two apart",
            )
    return plain


def students_where(connection: Connection, wanted: sa.ColumnElement[bool]) -> tuple[Student, ...]:
    """The students that fit, by name."""
    counts: dict[int, int] = {
        row.student_id: row.given
        for row in connection.execute(
            sa.select(PLANS.c.student_id, sa.func.count().label("given"))
            .where(PLANS.c.deleted.is_(None))
            .group_by(PLANS.c.student_id)
        )
    }
    rows = connection.execute(sa.select(STUDENTS).where(wanted)).all()
    found = [
        Student(row.id, row.uuid, row.name, row.created, counts.get(row.id, 0), row.deleted)
        for row in rows
    ]
    return tuple(sorted(found, key=lambda student: (student.name.casefold(), student.id)))


def student_row(connection: Connection, student_id: int) -> Student:
    """One student; NotFound when there is none of that number."""
    found = (
        students_where(connection, STUDENTS.c.id == student_id) if 0 < student_id < 2**31 else ()
    )
    if not found:
        raise NotFound(
            f"there is no student {student_id}", accepted="See the practice page for who there is"
        )
    return found[0]


_LISTED = tuple(column for column in PLANS.c if column.name != "document")


def entries_query() -> sa.Select[Any]:
    """All plans without their music, by student and then last made first; to be narrowed."""
    return (
        sa.select(*_LISTED)
        .join(STUDENTS, STUDENTS.c.id == PLANS.c.student_id)
        .order_by(
            sa.func.lower(STUDENTS.c.name), STUDENTS.c.id, PLANS.c.made.desc(), PLANS.c.id.desc()
        )
    )


def entries_of(connection: Connection, query: sa.Select[Any]) -> tuple[PlanEntry, ...]:
    """The plans that such a query finds."""
    rows = connection.execute(query).all()
    if not rows:
        return ()
    students = {student.id: student for student in students_where(connection, sa.true())}
    marks: dict[int, list[StepMark]] = {}
    ids = [row.id for row in rows]
    for start in range(0, len(ids), 500):  # databases limit the length of a list of parameters
        for row in connection.execute(
            sa.select(MARKS)
            .where(MARKS.c.plan_id.in_(ids[start : start + 500]))
            .order_by(MARKS.c.at, MARKS.c.id)
        ):
            marks.setdefault(row.plan_id, []).append(
                StepMark(row.uuid, row.step, row.at, row.state, row.by, row.comment, row.undone)
            )
    return tuple(_listed(row, students[row.student_id], marks.get(row.id, ())) for row in rows)


def _listed(row: Row[Any], student: Student, marks: Iterable[StepMark]) -> PlanEntry:
    return PlanEntry(
        id=row.id,
        uuid=row.uuid,
        student=student,
        lick_id=row.lick_id,
        title=row.title,
        level=row.level,
        length=row.length,
        seed=row.seed,
        made=row.made,
        deleted=row.deleted,
        steps=tuple((key, title) for key, title in json.loads(row.steps)),
        marks=tuple(marks),
    )


def entry_row(connection: Connection, plan_id: int) -> PlanEntry:
    """One plan without its music; NotFound when there is none of that number."""
    found: tuple[PlanEntry, ...] = ()
    if 0 < plan_id < 2**31:
        found = entries_of(connection, entries_query().where(PLANS.c.id == plan_id))
    if not found:
        raise NotFound(
            f"there is no plan {plan_id} in the library",
            accepted="See the practice page for what there is",
        )
    return found[0]


@lru_cache(maxsize=16)
def _sheet_of(text: str) -> PlanSheet:
    """The sheet of a document. A plan is looked at many times and its document never changes."""
    return sheet_from_dict(json.loads(text))


def plan_row(connection: Connection, plan_id: int) -> KeptPlan:
    """One plan; StoreError when its record is damaged."""
    entry = entry_row(connection, plan_id)
    text = connection.scalar(sa.select(PLANS.c.document).where(PLANS.c.id == plan_id))
    try:
        given = _sheet_of(text or "")
        changes = changes_of(connection, plan_id)
        sheet = given
        standing = [change for change in changes if change.undone is None]
        for step in sorted({change.step for change in standing}):
            made = merged_changes(c.changes for c in standing if c.step == step)
            sheet = changed_sheet(sheet, step, made)
        return KeptPlan(entry, sheet, changes, None if sheet is given else given)
    except (LinewrightError, ValueError) as error:
        raise StoreError(f"the record of the plan {entry.title!r} is damaged: {error}") from error
