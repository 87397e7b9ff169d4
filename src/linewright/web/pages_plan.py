"""The practice plan's pages: made from a lick, given to a student, marked; who stands where.

Every page works by its address alone. The music of a step is on a page of its own, which the script
fetches when the step is opened.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from linewright.errors import LinewrightError, NotFound, OptionError
from linewright.practice import LENGTHS, LEVELS, PlanSheet
from linewright.services.clock import now
from linewright.services.plan_view import PieceView, pieces_of, standing_of, steps_of, tempos_in
from linewright.services.planning import plan_file, plan_handout, plan_ics, read_day, sheet_for
from linewright.services.practising import (
    PlanEntry,
    by_student,
    give_plan,
    mark_step,
    student_named,
    undo_mark,
)
from linewright.services.reviewing import due_steps
from linewright.services.rule_fields import notes_on
from linewright.services.shelf import Kept, Library
from linewright.services.tolerances import changed_rules
from linewright.web.forms import Fields, read_form
from linewright.web.pages_lick import PAPERS, file_response
from linewright.web.problems import status_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
STATE_WORDS: Final = {
    "done": "done",
    "opened": "let pass",
    "open": "to do",
    "not yet": "not yet",
    "held": "held back",
}


@dataclass(frozen=True)
class _Asked:
    """Which plan of a lick is wanted."""

    level: str = "working"
    length: str = "week"
    seed: int = 0

    @property
    def query(self) -> str:
        """As an address."""
        return urlencode({"level": self.level, "length": self.length, "seed": self.seed})

    def sheet(self, kept: Kept) -> PlanSheet:
        """The plan."""
        return sheet_for(
            kept.lick, kept.given_tonic, level=self.level, length=self.length, seed=self.seed
        )


def asked_for(level: str = "working", length: str = "week", seed: int = 0) -> _Asked:
    """From the address of a request (a FastAPI dependency)."""
    return _Asked(level, length, seed)


Asked = Annotated[_Asked, Depends(asked_for)]


# -- a lick's plan, nobody's yet ---------------------------------------------------------
@router.get("/licks/{lick_id}/plan")
def show_plan(request: Request, lick_id: int, library: TheLibrary, asked: Asked) -> HTMLResponse:
    """The plan, with a choice of level and length, and giving it to a student."""
    return _lick_plan(request, library, lick_id, asked)


@router.get("/licks/{lick_id}/plan/steps/{step}")
def show_step(
    request: Request, lick_id: int, step: int, library: TheLibrary, asked: Asked
) -> HTMLResponse:
    """The same with the music of one step."""
    return _lick_plan(request, library, lick_id, asked, step)


def _lick_plan(
    request: Request,
    library: Library,
    lick_id: int,
    asked: _Asked,
    step: int | None = None,
    error: LinewrightError | None = None,
    name: str = "",
) -> HTMLResponse:
    kept = library.get(lick_id)
    sheet = None
    problem = error
    try:
        sheet = asked.sheet(kept)
    except LinewrightError as refused:
        problem = refused
    values: dict[str, Any] = {"kept": kept, "asked": asked, "sheet": sheet, "error": problem}
    if sheet is not None:
        values |= _steps(sheet, None, step)
    return page(
        request,
        "plan.html",
        status=200 if problem is None else status_of(problem),
        title=f"Practice plan: {kept.lick.title}",
        levels=tuple(LEVELS),
        lengths=tuple(LENGTHS),
        students=library.plans.students(),
        given=[standing_of(entry) for entry in library.plans.find(lick_id=kept.id)],
        papers=PAPERS,
        name=name,
        **values,
    )


def _steps(sheet: PlanSheet, entry: PlanEntry | None, step: int | None) -> dict[str, Any]:
    """What the list of steps needs; music of one step only, and of none that is held back."""
    views = steps_of(sheet, entry)
    if step is not None and not 1 <= step <= len(views):
        raise NotFound(f"there is no step {step}", accepted=f"Use 1 to {len(views)}")
    drills: tuple[PieceView, ...] = ()
    examples: tuple[PieceView, ...] = ()
    if step is not None and views[step - 1].state != "held":
        drills, examples = pieces_of(sheet.steps[step - 1])
    return {
        "views": views,
        "opened": step,
        "drills": drills,
        "examples": examples,
        "words": STATE_WORDS,
        "tempos": tempos_in(sheet),
    }


@router.get("/licks/{lick_id}/plan/{kind}")
def show_plan_file(
    request: Request, lick_id: int, kind: str, library: TheLibrary, asked: Asked
) -> Response:
    """``plan.pdf``, ``handout.pdf`` (the lesson with its plan) or ``plan.ics``."""
    kept = library.get(lick_id)
    return _file(request, asked.sheet(kept), kind, tonic=kept.given_tonic)


def _file(
    request: Request, sheet: PlanSheet, kind: str, *, tonic: str | None = None, player: str = ""
) -> Response:
    paper = request.query_params.get("paper", "a4")
    if kind == "plan.pdf":
        return file_response(plan_file(sheet, paper=paper, player=player))
    if kind == "handout.pdf":
        return file_response(plan_handout(sheet, paper=paper, tonic=tonic, player=player))
    if kind == "plan.ics":
        start = request.query_params.get("start", "").strip()
        first = read_day(start) if start else now().astimezone().date()
        return file_response(plan_ics(sheet, first))
    raise NotFound(
        f"no file of a plan is called {kind!r:.40}",
        accepted="Use plan.pdf, handout.pdf or plan.ics",
    )


@router.post("/licks/{lick_id}/plan")
def give(request: Request, lick_id: int, library: TheLibrary, form: TheForm) -> Response:
    """Give the plan to a student, chosen or new."""
    asked = _Asked(form.text("level"), form.text("length"), _whole(form.text("seed")))
    chosen, name = form.text("student"), form.text("name")
    try:
        given = give_plan(
            library,
            lick_id,
            student_id=_whole(chosen) if chosen and not name.strip() else None,
            student=name,
            level=asked.level,
            length=asked.length,
            seed=asked.seed,
        )
    except LinewrightError as error:
        return _lick_plan(request, library, lick_id, asked, error=error, name=name)
    return RedirectResponse(f"/plans/{given.id}", 303)


def _whole(text: str) -> int:
    if not (text.isascii() and text.removeprefix("-").isdigit() and len(text) < 20):
        raise OptionError(f"{text!r:.40} is no number")
    return int(text)


# -- a student's plan --------------------------------------------------------------------
@router.get("/plans/{plan_id}")
def show_given(
    request: Request, plan_id: int, library: TheLibrary, marked: int | None = None
) -> HTMLResponse:
    """A student's plan; ``marked`` is the step something was just said of."""
    return _given(request, library, plan_id, marked=marked)


@router.get("/plans/{plan_id}/steps/{step}")
def show_given_step(request: Request, plan_id: int, step: int, library: TheLibrary) -> HTMLResponse:
    """The same with the music of one step."""
    return _given(request, library, plan_id, step)


def _given(
    request: Request,
    library: Library,
    plan_id: int,
    step: int | None = None,
    *,
    marked: int | None = None,
    error: LinewrightError | None = None,
    typed: dict[str, str] | None = None,
) -> HTMLResponse:
    plan = library.plans.get(plan_id)
    entry = plan.entry
    return page(
        request,
        "plan_given.html",
        status=200 if error is None else status_of(error),
        title=f"{entry.student.name}: {entry.title}",
        kept_plan=plan,
        sheet=plan.sheet,
        standing=standing_of(entry),
        papers=PAPERS,
        changed={s.number: notes_on(changed_rules(plan, s.number)) for s in plan.sheet.steps},
        marked=marked if entry.last and entry.last.step == marked else None,
        error=error,
        typed=typed or {},
        today=now().astimezone().date().isoformat(),
        **_steps(plan.sheet, entry, step),
    )


@router.post("/plans/{plan_id}/marks")
def mark(request: Request, plan_id: int, library: TheLibrary, form: TheForm) -> Response:
    """Say something of a step."""
    step = _whole(form.text("step"))
    said = {name: form.text(name) for name in ("state", "by", "comment")}
    by = said["by"] if said["state"] == "opened" else ""
    try:
        mark_step(
            library, plan_id, step, said["state"], by=by.strip() or None, comment=said["comment"]
        )
    except NotFound:
        raise
    except LinewrightError as error:
        typed = {**said, "step": str(step)}
        return _given(request, library, plan_id, error=error, typed=typed)
    return RedirectResponse(f"/plans/{plan_id}?marked={step}#step-{step}", 303)


@router.post("/plans/{plan_id}/undo")
def take_mark_back(plan_id: int, library: TheLibrary) -> RedirectResponse:
    """Undo the last mark."""
    _, taken = undo_mark(library, plan_id)
    return RedirectResponse(f"/plans/{plan_id}#step-{taken.step}", 303)


@router.post("/plans/{plan_id}/delete")
def take_plan_out(plan_id: int, library: TheLibrary) -> RedirectResponse:
    """Delete a plan, with a way back."""
    library.plans.delete(plan_id, now=now())
    return RedirectResponse(f"/practice?deleted={plan_id}", 303)


@router.post("/plans/{plan_id}/restore")
def put_plan_back(plan_id: int, library: TheLibrary) -> RedirectResponse:
    """Bring a deleted plan back."""
    library.plans.delete(plan_id, now=None)
    return RedirectResponse(f"/plans/{plan_id}", 303)


@router.get("/plans/{plan_id}/{kind}")
def show_given_file(request: Request, plan_id: int, kind: str, library: TheLibrary) -> Response:
    """``plan.pdf``, ``handout.pdf`` or ``plan.ics``."""
    plan = library.plans.get(plan_id)
    return _file(request, plan.sheet, kind, player=plan.entry.student.name)


# -- who stands where --------------------------------------------------------------------
@router.get("/practice")
def show_practice(
    request: Request,
    library: TheLibrary,
    deleted: int | None = None,
    gone: int | None = None,
) -> HTMLResponse:
    """Students, their plans, and where each stands."""
    return _practice(request, library, deleted=deleted, gone=gone)


def _practice(
    request: Request,
    library: Library,
    *,
    deleted: int | None = None,
    gone: int | None = None,
    error: LinewrightError | None = None,
    name: str = "",
) -> HTMLResponse:
    plan = student = None
    try:
        plan = library.plans.entry(deleted) if deleted is not None else None
        student = library.plans.student(gone) if gone is not None else None
    except NotFound:
        pass  # an old address
    return page(
        request,
        "practice.html",
        status=200 if error is None else status_of(error),
        title="Practice",
        students=by_student(library),
        due=due_steps(library),
        deleted=plan if plan is not None and plan.deleted else None,
        gone=student if student is not None and student.deleted else None,
        absent=library.plans.students(deleted=True),
        error=error,
        name=name,
    )


@router.post("/students")
def add_student(request: Request, library: TheLibrary, form: TheForm) -> Response:
    """Add a student."""
    name = form.text("name")
    try:
        if not name.strip():
            raise OptionError("a student needs a name", accepted="Write one")
        student_named(library, name)
    except LinewrightError as error:
        return _practice(request, library, error=error, name=name)
    return RedirectResponse("/practice", 303)


@router.post("/students/{student_id}/rename")
def rename(request: Request, student_id: int, library: TheLibrary, form: TheForm) -> Response:
    """Give a student another name."""
    try:
        library.plans.rename_student(student_id, form.text("name"))
    except OptionError as error:
        return _practice(request, library, error=error)
    return RedirectResponse(f"/practice#student-{student_id}", 303)


@router.post("/students/{student_id}/delete")
def take_student_out(student_id: int, library: TheLibrary) -> RedirectResponse:
    """Take a student and the plans out of the list, with a way back."""
    library.plans.delete_student(student_id, now=now())
    return RedirectResponse(f"/practice?gone={student_id}", 303)


@router.post("/students/{student_id}/restore")
def put_student_back(request: Request, student_id: int, library: TheLibrary) -> Response:
    """Bring a student back."""
    try:
        library.plans.delete_student(student_id, now=None)
    except OptionError as error:
        return _practice(request, library, error=error)
    return RedirectResponse(f"/practice#student-{student_id}", 303)
