"""Students, plans and marks in the zip of a library, and in again.

A plan is a file of its own. Taking in adds what is not here by identifier and changes nothing
that is: a mark taken back here stays taken back, a student renamed here keeps the name.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from linewright.errors import InputError, OptionError, ReadError
from linewright.practice import PlanSheet, sheet_from_dict, sheet_to_dict
from linewright.store.practice_records import STATES, KeptPlan, StepMark, Student
from linewright.store.practice_rows import add_mark, add_plan, add_student
from linewright.store.rows import folded
from linewright.store.schema import LICKS, MARKS, PLANS, STUDENTS, TAKES
from linewright.store.take_archive import (
    ComingTake,
    Stage,
    add_changes,
    add_takes,
    changes_in,
    changes_out,
    takes_out,
)
from linewright.store.take_archive import take_in as one_take_in
from linewright.store.take_records import KeptTake, RuleChange

__all__ = ["Practice", "TakenIn", "practice_in", "practice_out", "take_in"]

#: Writes a file; returns what the manifest says of it.
Put = Callable[[str, bytes], dict[str, Any]]
#: Reads the JSON of a file the manifest names.
Get = Callable[[Any], Any]
_PLACE = "manifest.json"


@dataclass(frozen=True)
class _Plan:
    uuid: str
    student: str
    lick: str | None
    made: datetime
    sheet: PlanSheet
    marks: tuple[StepMark, ...]
    changes: tuple[RuleChange, ...]
    takes: tuple[ComingTake, ...]


@dataclass(frozen=True)
class Practice:
    """The practice part of a zip: students by identifier, and their plans."""

    students: tuple[Student, ...]
    plans: tuple[_Plan, ...]


@dataclass(frozen=True)
class TakenIn:
    """What came in: numbers of the plans that are new or have something new, and how many takes,
    with and without their recordings.
    """

    plans: tuple[int, ...] = ()
    takes: int = 0
    silent: int = 0


def practice_out(
    students: Iterable[Student],
    plans: Iterable[KeptPlan],
    licks: Mapping[int, str],
    put: Put,
    takes: Mapping[int, Sequence[tuple[KeptTake, Path | None]]] | None = None,
) -> dict[str, Any]:
    """What the manifest says of students and plans; ``licks`` gives identifiers by number,
    ``takes`` those of each plan, with the files of their recordings.
    """
    return {
        "students": [
            {"uuid": s.uuid, "name": s.name, "created": s.created.isoformat()} for s in students
        ],
        "plans": [_plan_out(plan, licks, put, (takes or {}).get(plan.id, ())) for plan in plans],
    }


def _plan_out(
    plan: KeptPlan,
    licks: Mapping[int, str],
    put: Put,
    takes: Iterable[tuple[KeptTake, Path | None]],
) -> dict[str, Any]:
    entry = plan.entry
    slug = re.sub(r"[^a-z0-9]+", "-", folded(entry.title)).strip("-")[:40] or "plan"
    document = json.dumps(sheet_to_dict(plan.as_given), ensure_ascii=False, indent=1)
    return {
        "uuid": entry.uuid,
        "student": entry.student.uuid,
        "lick": licks.get(entry.lick_id) if entry.lick_id is not None else None,
        "title": entry.title,
        "made": entry.made.isoformat(),
        "file": put(f"plans/{entry.id:05d}-{slug}.json", document.encode()),
        "changes": changes_out(plan.changes),
        "takes": takes_out(f"plans/{entry.id:05d}-{slug}", takes, put),
        "marks": [
            {
                "uuid": mark.uuid,
                "step": mark.step,
                "at": mark.at.isoformat(),
                "state": mark.state,
                "by": mark.by,
                "comment": mark.comment,
                "undone": mark.undone.isoformat() if mark.undone else None,
            }
            for mark in entry.marks
        ],
    }


def practice_in(
    manifest: Mapping[str, Any], get: Get, stage: Stage, here: Collection[str] = ()
) -> Practice:
    """Read it back; a zip without any has none. ``stage`` copies recordings out, but for takes
    that are ``here``. Raises ReadError for damage.
    """
    try:
        students = tuple(
            Student(0, _identifier(row["uuid"]), _text(row["name"]), _moment(row["created"]))
            for row in manifest.get("students", ())
        )
        plans = tuple(_plan_in(row, get, stage, here) for row in manifest.get("plans", ()))
    except ReadError:
        raise
    except (InputError, KeyError, TypeError, ValueError, AttributeError) as error:
        raise ReadError(
            f"what the manifest says of practice is damaged: {error!r:.120}", place=_PLACE
        ) from error
    known = {student.uuid for student in students}
    identifiers = [plan.uuid for plan in plans]
    for plan in plans:
        identifiers += [mark.uuid for mark in plan.marks] + [take.uuid for take in plan.takes]
        identifiers += [change.uuid for change in plan.changes]
    if len(known) < len(students) or len(set(identifiers)) < len(identifiers):
        raise ReadError(
            "two students, plans, marks or takes carry the same identifier", place=_PLACE
        )
    if any(plan.student not in known for plan in plans):
        raise ReadError("a plan belongs to a student who is not in the zip", place=_PLACE)
    return Practice(students, plans)


def _plan_in(row: Mapping[str, Any], get: Get, stage: Stage, here: Collection[str]) -> _Plan:
    sheet = sheet_from_dict(get(row["file"]))
    marks = tuple(_mark_in(mark, len(sheet.steps)) for mark in row["marks"])
    lick = row["lick"]
    return _Plan(
        _identifier(row["uuid"]),
        _identifier(row["student"]),
        None if lick is None else _identifier(lick),
        _moment(row["made"]),
        sheet,
        marks,
        changes_in(row.get("changes", ()), sheet),
        tuple(one_take_in(take, sheet, get, stage, here) for take in row.get("takes", ())),
    )


def _mark_in(row: Mapping[str, Any], steps: int) -> StepMark:
    step, state, undone = row["step"], row["state"], row["undone"]
    if not isinstance(step, int) or not 1 <= step <= steps or state not in STATES:
        raise ValueError("a mark of a step there is not")
    return StepMark(
        _identifier(row["uuid"]),
        step,
        _moment(row["at"]),
        state,
        None if row["by"] is None else _text(row["by"])[:100],
        _text(row["comment"])[:2000],
        None if undone is None else _moment(undone),
    )


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r:.40} is not text")
    return value


def _identifier(value: Any) -> str:
    if not 1 <= len(_text(value)) <= 36:
        raise ValueError("an identifier of a wrong length")
    return str(value)


def _moment(value: Any) -> datetime:
    moment = datetime.fromisoformat(_text(value))
    if moment.tzinfo is None:
        raise ValueError("a date without its zone")
    return moment


# -- into the tables ---------------------------------------------------------------------
def take_in(connection: Connection, practice: Practice) -> TakenIn:
    """Add what is not here."""
    here_before = set(connection.scalars(sa.select(TAKES.c.uuid)))
    students = {student.uuid: _student_id(connection, student) for student in practice.students}
    touched = []
    for plan in practice.plans:
        plan_id = connection.scalar(sa.select(PLANS.c.id).where(PLANS.c.uuid == plan.uuid))
        is_new = plan_id is None
        if plan_id is None:
            plan_id = add_plan(
                connection,
                plan.sheet,
                student_id=students[plan.student],
                lick_id=_lick_id(connection, plan.lick),
                now=plan.made,
                uuid=plan.uuid,
            ).id
        here = set(connection.scalars(sa.select(MARKS.c.uuid)))
        fresh = [mark for mark in plan.marks if mark.uuid not in here]
        for mark in fresh:
            add_mark(connection, plan_id, mark)
        changed = add_changes(connection, plan_id, plan.changes)
        taken = add_takes(connection, plan_id, plan.takes)
        if is_new or fresh or changed or taken:
            touched.append(plan_id)
    came = [t for plan in practice.plans for t in plan.takes if t.uuid not in here_before]
    return TakenIn(tuple(touched), len(came), sum(take.audio is None for take in came))


def _lick_id(connection: Connection, uuid: str | None) -> int | None:
    return connection.scalar(sa.select(LICKS.c.id).where(LICKS.c.uuid == uuid))


def _student_id(connection: Connection, student: Student) -> int:
    """The student with that identifier; another of the same name is told apart by a number."""
    found = connection.scalar(sa.select(STUDENTS.c.id).where(STUDENTS.c.uuid == student.uuid))
    if found is not None:
        return int(found)
    name = student.name[:90]
    for number in range(1, 1000):
        tried = name if number == 1 else f"{name} ({number})"
        taken = connection.scalars(
            sa.select(STUDENTS.c.name).where(STUDENTS.c.deleted.is_(None))
        ).all()
        if tried.casefold() not in {other.casefold() for other in taken}:
            return add_student(connection, tried, now=student.created, uuid=student.uuid).id
    raise OptionError(f"there are too many students called {name}")
