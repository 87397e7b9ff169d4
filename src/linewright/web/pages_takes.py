"""Takes on the page: recording one for a step, its verdict, what is done with it afterwards.

The recording itself goes piece by piece to the JSON API (:mod:`linewright.web.api_takes`).
"""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from linewright.errors import LinewrightError, NotFound, OptionError
from linewright.practice import beat_name
from linewright.services.clock import now
from linewright.services.practising import KeptPlan
from linewright.services.reviewing import step_history
from linewright.services.rule_fields import differ, notes_on
from linewright.services.shelf import Library
from linewright.services.take_history import history_view, next_tempo
from linewright.services.take_keeping import keep_as_lick
from linewright.services.take_sound import TEMPOS
from linewright.services.take_view import take_view
from linewright.services.takes import (
    KeptTake,
    Setting,
    TakeEntry,
    delete_take,
    finish_take,
    judge_again,
    keep_take,
    restore_take,
    rule_take,
)
from linewright.services.taking import step_of
from linewright.services.tolerances import changed_rules
from linewright.web.forms import Fields, read_form
from linewright.web.problems import status_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["router", "take_of"]

router = APIRouter(prefix="/plans/{plan_id}", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
_RULINGS: Final = {"pass": True, "not yet": False, "": None}


# -- recording -----------------------------------------------------------------------------
@router.get("/steps/{step}/take")
def show_recording(
    request: Request, plan_id: int, step: int, library: TheLibrary, deleted: int | None = None
) -> HTMLResponse:
    """Where a take of a step is recorded or brought in; ``deleted`` may be brought back."""
    return _recording(request, library, plan_id, step, deleted=deleted)


def _recording(
    request: Request,
    library: Library,
    plan_id: int,
    step: int,
    *,
    deleted: int | None = None,
    error: LinewrightError | None = None,
    typed: dict[str, str] | None = None,
) -> HTMLResponse:
    plan, sheet_step = _step(library, plan_id, step)
    history = step_history(library, plan_id, step)
    gone = None
    with suppress(NotFound):  # an old address
        gone = library.takes.entry(deleted) if deleted is not None else None
    return page(
        request,
        "take_record.html",
        status=200 if error is None else status_of(error),
        title=f"Record a take: step {step}",
        plan=plan.entry,
        step=sheet_step,
        tempos=f"{beat_name(plan.sheet.beat)} a minute",
        bpm=next_tempo(sheet_step, history),
        row=history.row,
        is_done=plan.entry.progress.is_done(step),
        changed=notes_on(changed_rules(plan, step)),
        held=None if plan.entry.progress.can_start(step) else plan.entry.progress.current,
        unfinished=[take for take in history.takes if take.state != "judged"],
        history=history_view(sheet_step, history),
        cautions=plan.sheet.cautions,
        error=error,
        typed=typed or {},
        gone=gone if gone is not None and gone.deleted and gone.plan_id == plan_id else None,
    )


@router.post("/steps/{step}/takes")
def bring_take(
    request: Request, plan_id: int, step: int, library: TheLibrary, form: TheForm
) -> Response:
    """Judge an uploaded recording or MIDI file."""
    typed = {name: form.text(name) for name in ("bpm", "start")}
    _step(library, plan_id, step)
    try:
        bpm = _number(typed["bpm"], "tempo")
        if not TEMPOS[0] <= bpm <= TEMPOS[1]:
            raise OptionError(
                f"a tempo of {bpm:g} a minute", accepted=f"Use {TEMPOS[0]} to {TEMPOS[1]}"
            )
        start = _number(typed["start"], "first beat") if typed["start"].strip() else None
        with form.upload().reading() as data:
            made = keep_take(library, plan_id, step, data, _brought(bpm, start))
    except NotFound:
        raise
    except LinewrightError as error:
        return _recording(request, library, plan_id, step, error=error, typed=typed)
    return _to_take(made.take.entry, made.marked)


# -- a take ----------------------------------------------------------------------------------
@router.get("/takes/{take_id}")
def show_take(
    request: Request, plan_id: int, take_id: int, library: TheLibrary, marked: bool = False
) -> HTMLResponse:
    """The verdict; ``marked``: the step has just been done by this take."""
    return _take(request, library, plan_id, take_id, marked=marked)


def _take(
    request: Request,
    library: Library,
    plan_id: int,
    take_id: int,
    *,
    marked: bool = False,
    error: LinewrightError | None = None,
    typed: dict[str, str] | None = None,
) -> HTMLResponse:
    take = take_of(library, plan_id, take_id)
    entry = take.entry
    plan, step = _step(library, plan_id, entry.step)
    history = step_history(library, plan_id, entry.step)
    view = None
    if take.verdict is not None and take.lick is not None:
        view = take_view(take.verdict, take.lick)
    return page(
        request,
        "take.html",
        status=200 if error is None else status_of(error),
        title=f"Take at {entry.setting.bpm:g}, step {entry.step}",
        plan=plan.entry,
        step=step,
        entry=entry,
        view=view,
        changed=notes_on(take.changed),
        outdated=take.verdict is not None and differ(take.changed, changed_rules(plan, entry.step)),
        warnings=tuple(take.heard["warnings"]) if take.heard else (),
        is_done=plan.entry.progress.is_done(entry.step),
        next_step=entry.step + 1 if entry.step < len(plan.sheet.steps) else None,
        marked=marked,
        row=history.row,
        history=history_view(step, history, here=entry.id),
        sound=f"/plans/{plan_id}/takes/{take_id}/sound",
        audible=entry.audio is not None and entry.format != "mid",
        error=error,
        typed=typed or {},
    )


@router.post("/takes/{take_id}/judge")
def judge_take(plan_id: int, take_id: int, library: TheLibrary) -> Response:
    """Judge a recording that broke off, or one anew."""
    entry = take_of(library, plan_id, take_id).entry
    judge = finish_take if entry.state == "recording" else judge_again
    made = judge(library, take_id)
    return _to_take(made.take.entry, made.marked)


@router.post("/takes/{take_id}/delete")
def throw_away(plan_id: int, take_id: int, library: TheLibrary) -> Response:
    """Take a take out, with a way back."""
    entry = take_of(library, plan_id, take_id).entry
    delete_take(library, take_id, now=now())
    return RedirectResponse(f"/plans/{plan_id}/steps/{entry.step}/take?deleted={take_id}", 303)


@router.post("/takes/{take_id}/restore")
def bring_back(plan_id: int, take_id: int, library: TheLibrary) -> Response:
    """Bring a deleted take back."""
    entry = take_of(library, plan_id, take_id).entry
    restore_take(library, take_id)
    return RedirectResponse(f"/plans/{plan_id}/takes/{entry.id}", 303)


@router.post("/takes/{take_id}/word")
def teachers_word(
    request: Request, plan_id: int, take_id: int, library: TheLibrary, form: TheForm
) -> Response:
    """A teacher's word on a take, and a comment."""
    take_of(library, plan_id, take_id)
    typed = {name: form.text(name) for name in ("ruling", "by", "comment")}
    try:
        if typed["ruling"] not in _RULINGS:
            raise OptionError(
                f"{typed['ruling']!r:.40} of a take", accepted="Use pass, not yet, or nothing"
            )
        made = rule_take(
            library,
            take_id,
            _RULINGS[typed["ruling"]],
            by=typed["by"].strip() or None,
            comment=typed["comment"],
        )
    except NotFound:
        raise
    except LinewrightError as error:
        return _take(request, library, plan_id, take_id, error=error, typed=typed)
    return _to_take(made.take.entry, made.marked, "#word")


@router.post("/takes/{take_id}/keep")
def keep_lick(
    request: Request, plan_id: int, take_id: int, library: TheLibrary, form: TheForm
) -> Response:
    """Keep what was played as a lick of its own."""
    take = take_of(library, plan_id, take_id)
    try:
        kept = keep_as_lick(library, take, form.text("title"))
    except LinewrightError as error:
        return _take(
            request, library, plan_id, take_id, error=error, typed={"title": form.text("title")}
        )
    return RedirectResponse(f"/licks/{kept.id}", 303)


def _brought(bpm: float, start: float | None) -> Setting:
    """A recording whose first beat was read off the recording itself: no delay is left in it."""
    return Setting(bpm, start, None if start is None else 0.0)


# -- kernels ---------------------------------------------------------------------------------
def take_of(library: Library, plan_id: int, take_id: int) -> KeptTake:
    """A take of a plan; NotFound when the plan has none of that number."""
    take = library.takes.get(take_id)
    if take.entry.plan_id != plan_id:
        raise NotFound(f"plan {plan_id} has no take {take_id}", accepted="See the step's takes")
    return take


def _step(library: Library, plan_id: int, step: int) -> tuple[KeptPlan, Any]:
    plan = library.plans.get(plan_id)
    if not 1 <= step <= len(plan.sheet.steps):
        raise NotFound(f"there is no step {step}", accepted=f"Use 1 to {len(plan.sheet.steps)}")
    return plan, step_of(plan.sheet, step)


def _to_take(entry: TakeEntry, marked: bool, place: str = "") -> RedirectResponse:
    query = "?marked=true" if marked else ""
    return RedirectResponse(f"/plans/{entry.plan_id}/takes/{entry.id}{query}{place}", 303)


def _number(text: str, what: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError as error:
        raise OptionError(f"{text!r:.40} for the {what}", accepted="Use a number") from error
    if not -1e6 < value < 1e6:
        raise OptionError(f"{text!r:.40} for the {what}", accepted="Use a smaller number")
    return value
