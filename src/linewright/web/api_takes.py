"""The JSON API's takes: recorded or uploaded, judged, listed; reviews; rules a teacher changes."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Query
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, Response

from linewright.errors import OptionError
from linewright.services.reviewing import due_steps, step_history
from linewright.services.shelf import Library
from linewright.services.takes import (
    FORMATS,
    add_piece,
    audio_of,
    begin_take,
    delete_take,
    finish_take,
    judge_again,
    keep_take,
    restore_take,
    rule_take,
)
from linewright.services.taking import CALIBRATION_CLICKS, find_delay, step_of
from linewright.services.tolerances import (
    change_all_rules,
    change_rules,
    rules_as_given,
    rules_of,
    undo_rules,
)
from linewright.web.api_models import Problem
from linewright.web.api_take_models import (
    ChangeRulesIn,
    ClicksOut,
    DelayOut,
    DueOut,
    HistoryOut,
    OutcomeOut,
    OwnRulesIn,
    PieceOut,
    RecordingIn,
    RulesOut,
    RulingIn,
    SettingIn,
    TakeOut,
    TakeWholeOut,
    setting_from,
)
from linewright.web.forms import Fields, form_of, read_form
from linewright.web.state import library_of

__all__ = ["TAG", "router"]

TAG: Final = {
    "name": "takes",
    "description": "Recordings of a step, judged by its rules; what is due again.",
}
router = APIRouter(
    prefix="/api",
    tags=["takes"],
    responses={
        "4XX": {"model": Problem, "description": "What was wrong, where, and what is accepted"}
    },
)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
_BYTES: Final = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


async def raw_body(request: Request) -> bytes:
    """The bytes of a request (a FastAPI dependency); a page that is gone sends a piece no more."""
    try:
        return await request.body()
    except ClientDisconnect as error:
        raise OptionError("the piece broke off", accepted="Send it again") from error


def _given(form: Fields) -> SettingIn:
    """The fields of a setting in a form."""
    values = {name: form.optional(name) for name in SettingIn.model_fields}
    try:
        return SettingIn.model_validate({k: v for k, v in values.items() if v is not None})
    except ValidationError as error:
        raise RequestValidationError(error.errors()) from error


def _tempo(library: Library, plan_id: int, step: int) -> float:
    return float(step_of(library.plans.get(plan_id).sheet, step).done.bpm)


# -- recording ---------------------------------------------------------------------------
@router.post(
    "/plans/{plan_id}/steps/{step}/takes",
    status_code=201,
    summary="Judge and keep a recording",
    openapi_extra=form_of(
        bpm={"type": "number"},
        start_s={"type": "number"},
        delay_s={"type": "number"},
        click={"type": "boolean"},
    ),
)
def upload_take(plan_id: int, step: int, library: TheLibrary, form: TheForm) -> OutcomeOut:
    """A whole recording of up to ten minutes (wav, flac, mp3, m4a, ogg, webm, or MIDI), by
    multipart upload; the fields besides ``file`` are those of SettingIn. What cannot be read or
    judged is an error, and nothing is kept.
    """
    setting = setting_from(_given(form), _tempo(library, plan_id, step))
    with form.upload().reading() as data:
        return OutcomeOut.of(keep_take(library, plan_id, step, data, setting))


@router.post(
    "/plans/{plan_id}/steps/{step}/recordings",
    status_code=201,
    summary="Begin a recording in pieces",
)
def begin_recording(plan_id: int, step: int, library: TheLibrary, given: RecordingIn) -> TakeOut:
    """Then send its bytes as they come, and finish it. What was received stays if it breaks off."""
    setting = setting_from(given, _tempo(library, plan_id, step))
    return TakeOut.of(begin_take(library, plan_id, step, setting, form=given.format))


@router.put("/takes/{take_id}/audio", summary="Send a piece of a recording", openapi_extra=_BYTES)
def append_piece(
    take_id: int,
    library: TheLibrary,
    offset: Annotated[int, Query(ge=0, description="Bytes sent before this piece")],
    data: Annotated[bytes, Depends(raw_body)],
) -> PieceOut:
    """Up to 8 MB, as they are; a piece sent twice is taken once. It is on the disk when this
    answers.
    """
    return PieceOut(bytes=add_piece(library, take_id, offset, data))


@router.post("/takes/{take_id}/finish", summary="Finish a recording and judge it")
def finish_recording(
    take_id: int, library: TheLibrary, given: SettingIn | None = None
) -> OutcomeOut:
    """Also one that broke off. With a body its setting replaces the one it began with. When it
    cannot be judged it is kept `unjudged`, and `problem` says why.
    """
    setting = None
    if given is not None:
        setting = setting_from(given, library.takes.entry(take_id).setting.bpm)
    return OutcomeOut.of(finish_take(library, take_id, setting))


@router.post("/takes/{take_id}/judge", summary="Judge a take again")
def judge_take(take_id: int, library: TheLibrary) -> OutcomeOut:
    """By the rules as they are now."""
    return OutcomeOut.of(judge_again(library, take_id))


@router.get("/calibration", summary="Clicks to calibrate with")
def calibration_clicks() -> ClicksOut:
    """When to play our clicks, so that a recording of them tells the delay of the sound."""
    return ClicksOut(click_times=list(CALIBRATION_CLICKS))


@router.post(
    "/calibration",
    summary="Measure the delay of our own sound",
    openapi_extra=form_of(start_s={"type": "number"}),
)
def measure_delay(form: TheForm) -> DelayOut:
    """From a recording (``file``) in which our clicks can be heard and nobody plays. ``start_s``
    is when the row of clicks began, in seconds of the recording (0). An error when they are not
    found.
    """
    start = _given(form).start_s or 0.0
    times = [start + time for time in CALIBRATION_CLICKS]
    with form.upload().reading() as data:
        return DelayOut(delay_s=round(find_delay(data, times), 5))


# -- takes -------------------------------------------------------------------------------
@router.get("/plans/{plan_id}/takes", summary="The takes of a plan")
def list_takes(
    plan_id: int, library: TheLibrary, step: int | None = None, deleted: bool = False
) -> list[TakeOut]:
    """The first made first; of one ``step`` when a number is given. Recordings that broke off are
    among them.
    """
    library.plans.entry(plan_id)
    found = library.takes.find(plan_id=plan_id, step=step, deleted=deleted)
    return [TakeOut.of(take) for take in found]


@router.get("/plans/{plan_id}/steps/{step}/history", summary="How a step is coming on")
def get_history(plan_id: int, step: int, library: TheLibrary) -> HistoryOut:
    """Its takes over time, the best clean tempo, takes in a row, the next review."""
    return HistoryOut.of(step_history(library, plan_id, step))


@router.get("/takes/{take_id}", summary="One take")
def get_take(take_id: int, library: TheLibrary) -> TakeWholeOut:
    """With its verdict and what was heard."""
    return TakeWholeOut.whole(library.takes.get(take_id))


@router.get("/takes/{take_id}/audio", summary="Its recording", response_class=Response)
def get_audio(take_id: int, library: TheLibrary) -> Response:
    """The bytes as they were recorded; ranges can be asked for."""
    path, entry = audio_of(library, take_id)
    form = entry.format if entry.format in FORMATS else "bin"
    return FileResponse(
        path, media_type=FORMATS[form], filename=f"take-{take_id}.{form}",
        content_disposition_type="inline" if form != "bin" else "attachment",
    )  # fmt: skip


@router.post("/takes/{take_id}/ruling", summary="Let a take count, or not")
def rule(take_id: int, said: RulingIn, library: TheLibrary) -> OutcomeOut:
    """Lets it count or not, whatever the verdict; marks the step done when the row is full by it."""
    return OutcomeOut.of(rule_take(library, take_id, said.passed, by=said.by, comment=said.comment))


@router.delete("/takes/{take_id}", summary="Delete a take")
def remove_take(take_id: int, library: TheLibrary) -> TakeOut:
    """Take it out of the lists; ``restore`` brings it back. Marks that came from it stay."""
    return TakeOut.of(delete_take(library, take_id))


@router.post("/takes/{take_id}/restore", summary="Bring a deleted take back")
def bring_back(take_id: int, library: TheLibrary) -> TakeOut:
    """As it was."""
    return TakeOut.of(restore_take(library, take_id))


@router.get("/due", summary="Finished steps that are due")
def list_due(
    library: TheLibrary,
    student: int | None = None,
    by: datetime | None = None,
    all_steps: bool = False,
) -> list[DueOut]:
    """The longest overdue first; of one ``student``, due ``by`` a moment (now), or ``all_steps``."""
    if by is not None and by.tzinfo is None:
        raise OptionError("a moment without its zone", accepted="Write it as 2026-03-02T12:00:00Z")
    found = due_steps(library, student_id=student, by=by, all_steps=all_steps)
    return [DueOut.of(due) for due in found]


# -- rules -------------------------------------------------------------------------------
@router.get("/plans/{plan_id}/steps/{step}/rules", summary="The rules of a step")
def get_rules(plan_id: int, step: int, library: TheLibrary) -> RulesOut:
    """As they stand, and what a teacher changed since the plan was given."""
    return RulesOut.of(rules_of(library.plans.get(plan_id), step))


@router.patch("/plans/{plan_id}/steps/{step}/rules", summary="Change the rules of a step")
def patch_rules(plan_id: int, step: int, said: ChangeRulesIn, library: TheLibrary) -> RulesOut:
    """For this plan only; takes in a row begin anew."""
    return RulesOut.of(change_rules(library, plan_id, step, said.changes, by=said.by))


@router.patch("/plans/{plan_id}/rules", summary="Change the rules of all steps")
def patch_all_rules(plan_id: int, said: ChangeRulesIn, library: TheLibrary) -> list[RulesOut]:
    """The same values in every step; `chord_tones` only where a step asks for chords."""
    plan = change_all_rules(library, plan_id, said.changes, by=said.by)
    return [RulesOut.of(rules_of(plan, step.number)) for step in plan.sheet.steps]


@router.post("/plans/{plan_id}/rules/as-given", summary="Go back to the rules as given")
def restore_rules(plan_id: int, said: OwnRulesIn, library: TheLibrary) -> list[RulesOut]:
    """Of one `step` or of all; 400 when none is changed. It can be undone like any change."""
    plan = rules_as_given(library, plan_id, said.step, by=said.by)
    return [RulesOut.of(rules_of(plan, step.number)) for step in plan.sheet.steps]


@router.post("/plans/{plan_id}/rules/undo", summary="Take the last change of rules back")
def undo_change_of_rules(plan_id: int, library: TheLibrary, step: int | None = None) -> RulesOut:
    """Of one `step` when a number is given; steps changed together go back together. 404 when
    there is none.
    """
    return RulesOut.of(undo_rules(library, plan_id, step)[0])
