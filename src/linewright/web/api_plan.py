"""The JSON API's practice: plans made from licks, given to students, marked step by step."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Query
from starlette.responses import Response

from linewright.services.clock import now
from linewright.services.planning import plan_file, plan_handout, plan_ics, read_day, sheet_for
from linewright.services.practising import give_plan, mark_step, undo_mark
from linewright.services.shelf import Library
from linewright.web.api_models import Problem
from linewright.web.api_plan_models import (
    GivenOut,
    GivenWholeOut,
    GivePlan,
    MarkIn,
    NameIn,
    PlanOut,
    StudentOut,
)
from linewright.web.pages_lick import file_response
from linewright.web.state import library_of

__all__ = ["TAG", "router"]

TAG: Final = {
    "name": "practice",
    "description": "Practice plans made from licks, the students they are given to, and marks.",
}
router = APIRouter(
    prefix="/api",
    tags=["practice"],
    responses={
        "4XX": {"model": Problem, "description": "What was wrong, where, and what is accepted"}
    },
)
TheLibrary = Annotated[Library, Depends(library_of)]
Seed = Annotated[int, Query(ge=-(2**53), le=2**53)]


# -- a lick's plan -----------------------------------------------------------------------
@router.get("/licks/{lick_id}/plan", summary="The plan of a lick")
def get_plan(
    lick_id: int,
    library: TheLibrary,
    level: str = "working",
    length: str = "week",
    seed: Seed = 0,
) -> PlanOut:
    """A graded practice plan, kept nowhere; ``level`` is ``beginner``, ``working`` or ``fluent``,
    ``length`` ``week`` or ``month``. The same wishes make the same plan.
    """
    kept = library.get(lick_id)
    return PlanOut.of(sheet_for(kept.lick, kept.given_tonic, level=level, length=length, seed=seed))


@router.get("/licks/{lick_id}/plan.pdf", summary="It on paper", response_class=Response)
def get_plan_pdf(
    lick_id: int,
    library: TheLibrary,
    level: str = "working",
    length: str = "week",
    seed: Seed = 0,
    paper: str = "a4",
    handout: bool = False,
) -> Response:
    """A PDF on ``a4`` or ``letter``; with ``handout`` the lick's lesson stands before it."""
    kept = library.get(lick_id)
    sheet = sheet_for(kept.lick, kept.given_tonic, level=level, length=length, seed=seed)
    if handout:
        return file_response(plan_handout(sheet, paper=paper, tonic=kept.given_tonic))
    return file_response(plan_file(sheet, paper=paper))


@router.get("/licks/{lick_id}/plan.ics", summary="Its days for a calendar", response_class=Response)
def get_plan_ics(
    lick_id: int,
    library: TheLibrary,
    start: str,
    level: str = "working",
    length: str = "week",
    seed: Seed = 0,
) -> Response:
    """The days as iCalendar, from ``start`` (as ``2026-03-02``) on."""
    kept = library.get(lick_id)
    sheet = sheet_for(kept.lick, kept.given_tonic, level=level, length=length, seed=seed)
    return file_response(plan_ics(sheet, read_day(start)))


@router.post("/licks/{lick_id}/plans", status_code=201, summary="Give a plan to a student")
def give(lick_id: int, asked: GivePlan, library: TheLibrary) -> GivenWholeOut:
    """Keep a plan as it is now, for a student."""
    made = give_plan(
        library,
        lick_id,
        student_id=asked.student,
        student=asked.name,
        level=asked.level,
        length=asked.length,
        seed=asked.seed,
    )
    return GivenWholeOut.whole(made.entry, made.sheet)


# -- given plans -------------------------------------------------------------------------
@router.get("/plans", summary="Plans that were given")
def list_plans(
    library: TheLibrary, student: int | None = None, lick: int | None = None
) -> list[GivenOut]:
    """By student, the last made first; of one ``student`` or one ``lick`` when a number is given."""
    return [GivenOut.of(e) for e in library.plans.find(student_id=student, lick_id=lick)]


@router.get("/plans/{plan_id}", summary="One given plan")
def get_given(plan_id: int, library: TheLibrary) -> GivenWholeOut:
    """With its music, what was said of its steps, and where the player stands."""
    found = library.plans.get(plan_id)
    return GivenWholeOut.whole(found.entry, found.sheet)


@router.get("/plans/{plan_id}/plan.pdf", summary="It on paper", response_class=Response)
def get_given_pdf(plan_id: int, library: TheLibrary, paper: str = "a4") -> Response:
    """A PDF on ``a4`` or ``letter``."""
    found = library.plans.get(plan_id)
    return file_response(plan_file(found.sheet, paper=paper, player=found.entry.student.name))


@router.get("/plans/{plan_id}/plan.ics", summary="Its days for a calendar", response_class=Response)
def get_given_ics(plan_id: int, library: TheLibrary, start: str) -> Response:
    """The days as iCalendar, from ``start`` (as ``2026-03-02``) on."""
    return file_response(plan_ics(library.plans.get(plan_id).sheet, read_day(start)))


@router.post("/plans/{plan_id}/marks", status_code=201, summary="Say something of a step")
def add_mark(plan_id: int, said: MarkIn, library: TheLibrary) -> GivenOut:
    """A step that is not done holds the next one back; a teacher may decide otherwise (``by``)."""
    return GivenOut.of(
        mark_step(library, plan_id, said.step, said.state, by=said.by, comment=said.comment)
    )


@router.post("/plans/{plan_id}/undo", summary="Take the last mark back")
def undo(plan_id: int, library: TheLibrary) -> GivenOut:
    """404 when there is none."""
    return GivenOut.of(undo_mark(library, plan_id)[0])


@router.delete("/plans/{plan_id}", summary="Delete a given plan")
def delete_plan(plan_id: int, library: TheLibrary) -> GivenOut:
    """Take it out of the lists; ``restore`` brings it back."""
    return GivenOut.of(library.plans.delete(plan_id, now=now()))


@router.post("/plans/{plan_id}/restore", summary="Bring a deleted plan back")
def restore_plan(plan_id: int, library: TheLibrary) -> GivenOut:
    """As it was."""
    return GivenOut.of(library.plans.delete(plan_id, now=None))


# -- students ----------------------------------------------------------------------------
@router.get("/students", summary="Who practises")
def list_students(library: TheLibrary) -> list[StudentOut]:
    """By name."""
    return [StudentOut.of(student) for student in library.plans.students()]


@router.post("/students", status_code=201, summary="Add a student")
def add_student(said: NameIn, library: TheLibrary) -> StudentOut:
    """A name only; it has to tell the students apart."""
    return StudentOut.of(library.plans.add_student(said.name, now=now()))


@router.patch("/students/{student_id}", summary="Rename a student")
def rename_student(student_id: int, said: NameIn, library: TheLibrary) -> StudentOut:
    """Plans and marks stay."""
    return StudentOut.of(library.plans.rename_student(student_id, said.name))


@router.delete("/students/{student_id}", summary="Take a student out")
def delete_student(student_id: int, library: TheLibrary) -> StudentOut:
    """With the plans; ``restore`` brings all back."""
    return StudentOut.of(library.plans.delete_student(student_id, now=now()))


@router.post("/students/{student_id}/restore", summary="Bring a student back")
def restore_student(student_id: int, library: TheLibrary) -> StudentOut:
    """With the plans."""
    return StudentOut.of(library.plans.delete_student(student_id, now=None))
