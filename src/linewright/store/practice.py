"""Students, the plans they were given, and what was said of each step."""

from __future__ import annotations

import uuid as uuids
from collections.abc import Mapping
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from linewright.errors import NotFound, OptionError
from linewright.practice import PlanSheet
from linewright.practice.tolerance import checked_changes
from linewright.store.database import Database
from linewright.store.practice_records import (
    STATES,
    KeptPlan,
    PlanEntry,
    StepMark,
    Student,
    checked_mark,
    checked_word,
)
from linewright.store.practice_rows import (
    add_mark,
    add_plan,
    add_student,
    entries_of,
    entries_query,
    entry_row,
    plain_name,
    plan_row,
    student_row,
    students_where,
)
from linewright.store.schema import MARKS, PLANS, RULE_CHANGES, STUDENTS
from linewright.store.take_records import RuleChange
from linewright.store.take_rows import add_change

__all__ = ["STATES", "KeptPlan", "PlanEntry", "Plans", "RuleChange", "StepMark", "Student"]


class Plans:
    """The practice part of a library (see :attr:`Library.plans`)."""

    def __init__(self, database: Database) -> None:
        self._database = database

    # -- students ------------------------------------------------------------------------
    def students(self, *, deleted: bool = False) -> tuple[Student, ...]:
        """The students by name; the deleted ones when asked for."""
        with self._database.reading() as connection:
            wanted = STUDENTS.c.deleted.is_not(None) if deleted else STUDENTS.c.deleted.is_(None)
            return students_where(connection, wanted)

    def student(self, student_id: int) -> Student:
        """One student, deleted ones included; raises NotFound."""
        with self._database.reading() as connection:
            return student_row(connection, student_id)

    def add_student(self, name: str, *, now: datetime, uuid: str | None = None) -> Student:
        """Add a student; OptionError when one of that name is here."""
        with self._database.writing() as connection:
            return add_student(connection, name, now=now, uuid=uuid)

    def rename_student(self, student_id: int, name: str) -> Student:
        """Give a student another name."""
        with self._database.writing() as connection:
            student_row(connection, student_id)
            plain = plain_name(connection, name, but=student_id)
            connection.execute(
                sa.update(STUDENTS).where(STUDENTS.c.id == student_id).values(name=plain)
            )
            return student_row(connection, student_id)

    def delete_student(self, student_id: int, *, now: datetime | None) -> Student:
        """Take a student and the plans out of the lists; with ``now`` None, bring them back."""
        with self._database.writing() as connection:
            found = student_row(connection, student_id)
            if now is None:
                plain_name(connection, found.name, but=student_id)
            connection.execute(
                sa.update(STUDENTS).where(STUDENTS.c.id == student_id).values(deleted=now)
            )
            return student_row(connection, student_id)

    # -- plans ---------------------------------------------------------------------------
    def find(
        self,
        *,
        student_id: int | None = None,
        lick_id: int | None = None,
        deleted: bool = False,
    ) -> tuple[PlanEntry, ...]:
        """Plans by student and, for each, the last made first; the deleted ones, of students who
        are not, when asked for.
        """
        wanted = PLANS.c.deleted.is_not(None) if deleted else PLANS.c.deleted.is_(None)
        query = entries_query().where(wanted, STUDENTS.c.deleted.is_(None))
        if student_id is not None:
            query = query.where(PLANS.c.student_id == student_id)
        if lick_id is not None:
            query = query.where(PLANS.c.lick_id == lick_id)
        with self._database.reading() as connection:
            return entries_of(connection, query)

    def all(self) -> tuple[KeptPlan, ...]:
        """Every plan that is not deleted, with its music, in order of number."""
        with self._database.reading() as connection:
            rows = connection.execute(
                sa.select(PLANS.c.id)
                .join(STUDENTS, STUDENTS.c.id == PLANS.c.student_id)
                .where(PLANS.c.deleted.is_(None), STUDENTS.c.deleted.is_(None))
                .order_by(PLANS.c.id)
            ).scalars()
            return tuple(plan_row(connection, plan_id) for plan_id in rows.all())

    def get(self, plan_id: int) -> KeptPlan:
        """One plan, deleted ones included (``entry.deleted`` says so); raises NotFound."""
        with self._database.reading() as connection:
            return plan_row(connection, plan_id)

    def entry(self, plan_id: int) -> PlanEntry:
        """The same without its music, which takes longer to read."""
        with self._database.reading() as connection:
            return entry_row(connection, plan_id)

    def add(
        self,
        sheet: PlanSheet,
        *,
        student_id: int,
        lick_id: int | None,
        now: datetime,
        uuid: str | None = None,
    ) -> KeptPlan:
        """Give a plan to a student."""
        with self._database.writing() as connection:
            student = student_row(connection, student_id)
            if student.deleted is not None:
                raise NotFound(f"the student {student.name!r} is deleted")
            return add_plan(
                connection, sheet, student_id=student_id, lick_id=lick_id, now=now, uuid=uuid
            )

    def delete(self, plan_id: int, *, now: datetime | None) -> PlanEntry:
        """Take a plan out of the lists; with ``now`` None, bring it back."""
        with self._database.writing() as connection:
            entry_row(connection, plan_id)
            connection.execute(sa.update(PLANS).where(PLANS.c.id == plan_id).values(deleted=now))
            return entry_row(connection, plan_id)

    # -- marks ---------------------------------------------------------------------------
    def mark(
        self,
        plan_id: int,
        step: int,
        state: str,
        *,
        now: datetime,
        by: str | None = None,
        comment: str = "",
    ) -> PlanEntry:
        """Say something of a step.

        Raises
        ------
        OptionError
            For a state or step there is not, a step marked done that is held back when no
            teacher decides, a step opened by nobody, or a name or comment that is too long.
        NotFound
            When there is no such plan, or it is deleted.
        """
        with self._database.writing() as connection:
            entry = entry_row(connection, plan_id)
            if entry.deleted is not None:
                raise NotFound("this plan is deleted", accepted="Bring it back before marking it")
            made = checked_mark(entry, StepMark(str(uuids.uuid4()), step, now, state, by, comment))
            add_mark(connection, plan_id, made)
            return entry_row(connection, plan_id)

    def undo(self, plan_id: int, *, now: datetime) -> tuple[PlanEntry, StepMark]:
        """Take the last mark back; returns the plan and what was taken back."""
        with self._database.writing() as connection:
            last = entry_row(connection, plan_id).last
            if last is None:
                raise NotFound("there is no mark of this plan to undo")
            connection.execute(sa.update(MARKS).where(MARKS.c.uuid == last.uuid).values(undone=now))
            return entry_row(connection, plan_id), last

    # -- rules ---------------------------------------------------------------------------
    def change_rules(
        self,
        plan_id: int,
        changes: Mapping[int, Mapping[str, Any]],
        *,
        by: str,
        now: datetime,
    ) -> KeptPlan:
        """Change what counts as done in steps, by their number, for this plan only: all of it or,
        when anything is wrong, nothing.

        Raises
        ------
        OptionError
            For a step or rule there is not, a value out of bounds, or nobody who decides.
        NotFound
            When there is no such plan, or it is deleted.
        """
        name, _ = checked_word(by)
        if name is None:
            raise OptionError("rules changed by nobody", accepted="Say which teacher decides")
        with self._database.writing() as connection:
            kept = plan_row(connection, plan_id)
            if kept.entry.deleted is not None:
                raise NotFound("this plan is deleted", accepted="Bring it back before changing it")
            steps = kept.as_given.steps
            for step, wanted in changes.items():
                if not 1 <= step <= len(steps):
                    raise OptionError(f"there is no step {step}", accepted=f"Use 1 to {len(steps)}")
                checked = checked_changes(steps[step - 1].done, wanted)
                change = RuleChange(str(uuids.uuid4()), step, now, name, checked)
                add_change(connection, plan_id, change)
            return plan_row(connection, plan_id)

    def undo_rules(
        self, plan_id: int, step: int | None = None, *, now: datetime
    ) -> tuple[KeptPlan, tuple[RuleChange, ...]]:
        """Take the last change of a plan's rules back, of one step when it is named; returns the
        plan and what was taken back. Steps changed together are taken back together.
        """
        with self._database.writing() as connection:
            kept = plan_row(connection, plan_id)
            standing = [c for c in kept.changes if c.undone is None and step in (None, c.step)]
            if not standing:
                raise NotFound(
                    "there is no change of these rules to undo",
                    accepted="Only a change that stands can be taken back",
                )
            last = standing[-1]
            taken = tuple(c for c in standing if (c.at, c.by) == (last.at, last.by))
            if len({c.step for c in taken}) < len(taken):
                taken = (last,)  # one step twice at one moment: two changes
            connection.execute(
                sa.update(RULE_CHANGES)
                .where(RULE_CHANGES.c.uuid.in_([c.uuid for c in taken]))
                .values(undone=now)
            )
            return plan_row(connection, plan_id), taken
