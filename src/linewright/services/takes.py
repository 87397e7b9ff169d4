"""Use cases: keep takes, open the next step after enough of them, say how a step is coming on.

A step is marked done, through the same marks a teacher makes, when as many takes in a row as it
asks for were passed at its tempo. Slower takes and takes that could not be heard clearly neither
count nor break the row; it begins anew when a teacher says "not yet" or changes the rules.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from linewright.errors import InputError, OptionError
from linewright.services.clock import now as clock
from linewright.services.practising import KeptPlan, PlanEntry, mark_step
from linewright.services.shelf import Library
from linewright.services.taking import Setting, judge_audio, step_of
from linewright.services.tolerances import changed_rules
from linewright.store.take_files import FORMATS, MAX_CHUNK_BYTES, MAX_TAKE_BYTES
from linewright.store.take_records import KeptTake, TakeEntry, judgement_of

__all__ = [
    "FORMATS",
    "MAX_CHUNK_BYTES",
    "MAX_TAKE_BYTES",
    "KeptTake",
    "Outcome",
    "Row",
    "Setting",
    "TakeEntry",
    "add_piece",
    "audio_of",
    "begin_take",
    "delete_take",
    "finish_take",
    "judge_again",
    "keep_take",
    "restore_take",
    "row_of",
    "rule_take",
    "unfinished",
]


@dataclass(frozen=True)
class Row:
    """How many takes in a row stand, of how many the step asks for, and at which tempo."""

    passed: int
    needed: int
    bpm: int

    @property
    def is_full(self) -> bool:
        """Whether the step is done by its takes."""
        return self.passed >= self.needed


@dataclass(frozen=True)
class Outcome:
    """A take as kept and what came of it.

    ``marked`` says that this take closed the row and its step is now marked done; ``plan`` is
    where the plan stands.
    """

    take: KeptTake
    row: Row
    marked: bool
    plan: PlanEntry


def keep_take(
    library: Library,
    plan_id: int,
    step: int,
    audio: bytes,
    setting: Setting | None = None,
    *,
    now: datetime | None = None,
) -> Outcome:
    """Judge a whole recording of a step and keep both.

    Nothing is kept of what cannot be judged: the errors are those of ``judge_audio``, and
    OptionError for a step that is held back.
    """
    moment = now or clock()
    plan = library.plans.get(plan_id)
    how = setting or Setting(float(step_of(plan.sheet, step).done.bpm))
    judged = judge_audio(audio, plan.sheet, step, how)
    made = judgement_of(judged.verdict, judged.heard.to_dict(), changed_rules(plan, step))
    entry = library.takes.add(plan_id, step, audio, how, made, now=moment)
    return _outcome(library, entry.id, moment)


# -- while it is recorded ----------------------------------------------------------------
def begin_take(
    library: Library,
    plan_id: int,
    step: int,
    setting: Setting | None = None,
    *,
    form: str = "bin",
    now: datetime | None = None,
) -> TakeEntry:
    """Begin a recording that will come in pieces. What was received is kept, whatever happens."""
    plan = library.plans.get(plan_id)
    how = setting or Setting(float(step_of(plan.sheet, step).done.bpm))
    return library.takes.begin(plan_id, step, how, form, now=now or clock())


def add_piece(library: Library, take_id: int, offset: int, data: bytes) -> int:
    """Add a piece that begins at byte ``offset``; how many bytes are there then."""
    return library.takes.append(take_id, offset, data)


def finish_take(
    library: Library,
    take_id: int,
    setting: Setting | None = None,
    *,
    now: datetime | None = None,
) -> Outcome:
    """Close a recording and judge it; also one that broke off, or could not be judged before.

    A recording that cannot be judged is kept, ``unjudged``, and ``problem`` says why.
    """
    entry = library.takes.finish(take_id, setting)
    return _judge(library, entry, now or clock())


def judge_again(library: Library, take_id: int, *, now: datetime | None = None) -> Outcome:
    """Judge a kept take anew, by the rules as they are now."""
    entry = library.takes.entry(take_id)
    if entry.state == "recording":
        raise OptionError("this recording is not finished", accepted="Finish it first")
    return _judge(library, entry, now or clock())


def _judge(library: Library, entry: TakeEntry, moment: datetime) -> Outcome:
    path = library.takes.audio(entry.id)
    plan = library.plans.get(entry.plan_id)
    try:
        judged = judge_audio(path, plan.sheet, entry.step, entry.setting)
    except InputError as error:
        library.takes.not_judged(entry.id, str(error))
    else:
        changed = changed_rules(plan, entry.step)
        made = judgement_of(judged.verdict, judged.heard.to_dict(), changed)
        library.takes.judge(entry.id, made)
    return _outcome(library, entry.id, moment)


def unfinished(library: Library, plan_id: int | None = None) -> tuple[TakeEntry, ...]:
    """Recordings that broke off, or are still going on: to be finished or thrown away."""
    return tuple(t for t in library.takes.find(plan_id=plan_id) if t.state == "recording")


# -- a teacher's word --------------------------------------------------------------------
def rule_take(
    library: Library,
    take_id: int,
    passed: bool | None,
    *,
    by: str | None = None,
    comment: str = "",
    now: datetime | None = None,
) -> Outcome:
    """A teacher says that a take counts as a pass or does not (None: the verdict stands), with a
    comment. A row that is full by it marks the step done in the teacher's name.
    """
    library.takes.rule(take_id, passed, by=by, comment=comment)
    return _outcome(library, take_id, now or clock(), by=by)


def delete_take(library: Library, take_id: int, *, now: datetime | None = None) -> TakeEntry:
    """Take a take out of the lists, so that it can be brought back."""
    return library.takes.delete(take_id, now=now or clock())


def restore_take(library: Library, take_id: int) -> TakeEntry:
    """Bring a deleted take back."""
    return library.takes.delete(take_id, now=None)


def audio_of(library: Library, take_id: int) -> tuple[Path, TakeEntry]:
    """Where a recording lies, and its take."""
    return library.takes.audio(take_id), library.takes.entry(take_id)


# -- the gate ----------------------------------------------------------------------------
def row_of(library: Library, plan: KeptPlan, step: int) -> Row:
    """How many takes in a row stand for a step."""
    done = step_of(plan.sheet, step).done
    since = [
        mark.at
        for mark in plan.entry.marks
        if mark.step == step and mark.state == "not yet" and mark.undone is None
    ]
    since += [change.at for change in plan.changes_of(step)]
    begins = max(since, default=None)
    passed = 0
    for take in reversed(library.takes.find(plan_id=plan.id, step=step)):
        if begins is not None and take.at <= begins:
            break
        if take.counts is None or not (take.at_tempo or take.ruling):
            continue
        if not take.counts:
            break
        passed += 1
    return Row(passed, done.takes, done.bpm)


def _outcome(library: Library, take_id: int, moment: datetime, by: str | None = None) -> Outcome:
    """The take as it is kept now; marks its step done when the row is full by it."""
    take = library.takes.get(take_id)
    plan = library.plans.get(take.entry.plan_id)
    step = take.entry.step
    row = row_of(library, plan, step)
    entry, marked = plan.entry, False
    open_to_it = not entry.progress.is_done(step) and (by or entry.progress.can_start(step))
    if take.entry.counts and row.is_full and open_to_it and entry.deleted is None:
        entry = mark_step(
            library, plan.id, step, "done", by=by, comment=_note(row, take.entry), now=moment
        )
        marked = True
    return Outcome(take, row, marked, entry)


def _note(row: Row, last: TakeEntry) -> str:
    """What a mark that came from takes says."""
    said = "take" if row.needed == 1 else "takes in a row"
    words = f"From {row.needed} {said} at {row.bpm}."
    if last.spread_ms is not None and last.ruling is None:
        words += f" The last one spread by {last.spread_ms:.0f} ms."
    return f"{words} {last.comment}".strip() if last.ruling else words
