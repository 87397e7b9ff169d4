"""What counts as done, changed by a teacher: the rules of one step of a student's plan, or of all."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from linewright.errors import LinewrightError, NotFound
from linewright.services.practising import KeptPlan
from linewright.services.rule_fields import (
    GROUPS,
    changes_typed,
    fields_for_all,
    fields_of,
    notes_on,
)
from linewright.services.shelf import Library
from linewright.services.tolerances import (
    change_all_rules,
    change_rules,
    changed_rules,
    rules_as_given,
    undo_rules,
)
from linewright.web.forms import Fields, read_form
from linewright.web.problems import status_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(prefix="/plans/{plan_id}", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
#: What was just done, and how it is said.
_DONE: Final = {
    "saved": "Saved.",
    "own": "The plan’s own rules are back.",
    "undone": "The last change is taken back.",
}


@router.get("/steps/{step}/rules")
@router.get("/rules")
def show_rules(
    request: Request, plan_id: int, library: TheLibrary, step: int | None = None, done: str = ""
) -> HTMLResponse:
    """The rules of one step, or those that all steps have; ``done`` is what was just done."""
    return _rules(request, library, plan_id, step, done=done)


def _rules(
    request: Request,
    library: Library,
    plan_id: int,
    step: int | None,
    *,
    done: str = "",
    error: LinewrightError | None = None,
    typed: Fields | None = None,
) -> HTMLResponse:
    plan = _plan(library, plan_id, step)
    fields = fields_for_all(plan) if step is None else fields_of(plan, step)
    if typed is not None:
        fields = tuple(field.typed(typed.text(field.name, field.value)) for field in fields)
    standing = [c for c in plan.changes if c.undone is None and step in (None, c.step)]
    notes = {s.number: notes_on(changed_rules(plan, s.number)) for s in plan.sheet.steps}
    where = "all steps" if step is None else f"step {step}"
    return page(
        request,
        "rules.html",
        status=200 if error is None else status_of(error),
        title=f"What counts as done: {where}",
        plan=plan.entry,
        step=None if step is None else plan.sheet.steps[step - 1],
        groups=[(name, [f for f in fields if f.group == name]) for name in GROUPS],
        notes={n: own for n, own in notes.items() if own and step in (None, n)},
        can_undo=bool(standing),
        by=typed.text("by") if typed is not None else standing[-1].by if standing else "",
        said=_DONE.get(done, ""),
        error=error,
    )


@router.post("/steps/{step}/rules")
@router.post("/rules")
def save_rules(
    request: Request, plan_id: int, library: TheLibrary, form: TheForm, step: int | None = None
) -> Response:
    """Change the rules of one step, or of all."""

    def save(plan: KeptPlan) -> None:
        by = form.text("by")
        if step is None:
            fields = fields_for_all(plan)
            typed = {field.name: form.text(field.name) for field in fields}
            made = changes_typed(fields, typed, all_steps=True)
            change_all_rules(library, plan_id, made, by=by)
        else:
            fields = fields_of(plan, step)
            typed = {field.name: form.text(field.name, field.value) for field in fields}
            change_rules(library, plan_id, step, changes_typed(fields, typed), by=by)

    return _tried(request, library, plan_id, step, form, "saved", save)


@router.post("/steps/{step}/rules/own")
@router.post("/rules/own")
def own_rules(
    request: Request, plan_id: int, library: TheLibrary, form: TheForm, step: int | None = None
) -> Response:
    """Go back to the rules the plan was given with, in one step or in all."""

    def restore(_plan: KeptPlan) -> None:
        rules_as_given(library, plan_id, step, by=form.text("by"))

    return _tried(request, library, plan_id, step, form, "own", restore)


@router.post("/steps/{step}/rules/undo")
@router.post("/rules/undo")
def undo_last_rules(
    request: Request, plan_id: int, library: TheLibrary, form: TheForm, step: int | None = None
) -> Response:
    """Take the last change back, of one step's rules or of the plan's."""

    def undo(_plan: KeptPlan) -> None:
        undo_rules(library, plan_id, step)

    return _tried(request, library, plan_id, step, form, "undone", undo)


# -- kernels ---------------------------------------------------------------------------------
def _tried(
    request: Request,
    library: Library,
    plan_id: int,
    step: int | None,
    form: Fields,
    done: str,
    change: Callable[[KeptPlan], None],
) -> Response:
    """Make a change and show what came of it; what was typed stays when it cannot be made."""
    plan = _plan(library, plan_id, step)
    try:
        change(plan)
    except NotFound:
        raise
    except LinewrightError as error:
        return _rules(request, library, plan_id, step, error=error, typed=form)
    place = "/rules" if step is None else f"/steps/{step}/rules"
    return RedirectResponse(f"/plans/{plan_id}{place}?done={done}", 303)


def _plan(library: Library, plan_id: int, step: int | None) -> KeptPlan:
    plan = library.plans.get(plan_id)
    if plan.entry.deleted is not None:
        raise NotFound("this plan is deleted", accepted="Bring it back before changing its rules")
    if step is not None and not 1 <= step <= len(plan.sheet.steps):
        raise NotFound(f"there is no step {step}", accepted=f"Use 1 to {len(plan.sheet.steps)}")
    return plan
