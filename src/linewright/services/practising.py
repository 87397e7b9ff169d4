"""Practising: giving a student a plan, and saying of its steps what was heard."""

from __future__ import annotations

from datetime import datetime

from linewright.errors import OptionError
from linewright.services.clock import now as clock
from linewright.services.plan_view import Standing, standing_of
from linewright.services.planning import sheet_for
from linewright.services.shelf import Library
from linewright.store.practice import STATES, KeptPlan, PlanEntry, StepMark, Student

__all__ = [
    "STATES",
    "KeptPlan",
    "PlanEntry",
    "Standing",
    "StepMark",
    "Student",
    "by_student",
    "give_plan",
    "mark_step",
    "student_named",
    "undo_mark",
]


def student_named(library: Library, name: str, *, now: datetime | None = None) -> Student:
    """The student of that name, added when there is none."""
    wanted = " ".join(name.split()).casefold()
    for student in library.plans.students():
        if student.name.casefold() == wanted:
            return student
    return library.plans.add_student(name, now=now or clock())


def give_plan(
    library: Library,
    lick_id: int,
    *,
    student_id: int | None = None,
    student: str | None = None,
    level: str = "working",
    length: str = "week",
    seed: int = 0,
    now: datetime | None = None,
) -> KeptPlan:
    """Make a plan from a lick of the library and give it to a student, by number or by name.

    Raises
    ------
    OptionError, MusicError
        When no student is named, or no plan can be made.
    """
    moment = now or clock()
    kept = library.get(lick_id)
    sheet = sheet_for(kept.lick, kept.given_tonic, level=level, length=length, seed=seed)
    if student_id is None:
        if not (student or "").strip():
            raise OptionError("whose plan is it?", accepted="Choose a student, or write a new name")
        student_id = student_named(library, student or "", now=moment).id
    return library.plans.add(sheet, student_id=student_id, lick_id=kept.id, now=moment)


def mark_step(
    library: Library,
    plan_id: int,
    step: int,
    state: str,
    *,
    by: str | None = None,
    comment: str = "",
    now: datetime | None = None,
) -> PlanEntry:
    """Say of a step that it is ``done``, ``opened`` (by a teacher) or ``not yet``."""
    return library.plans.mark(plan_id, step, state, now=now or clock(), by=by, comment=comment)


def undo_mark(
    library: Library, plan_id: int, *, now: datetime | None = None
) -> tuple[PlanEntry, StepMark]:
    """Take the last mark of a plan back."""
    return library.plans.undo(plan_id, now=now or clock())


def by_student(library: Library) -> tuple[tuple[Student, tuple[Standing, ...]], ...]:
    """Every student with the plans given and where each stands, the last touched first."""
    standings: dict[int, list[Standing]] = {}
    for entry in library.plans.find():
        standings.setdefault(entry.student.id, []).append(standing_of(entry))
    return tuple(
        (
            student,
            tuple(sorted(standings.get(student.id, ()), key=lambda s: s.when, reverse=True)),
        )
        for student in library.plans.students()
    )
