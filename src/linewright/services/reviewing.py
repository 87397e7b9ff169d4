"""Use cases: how a step comes on over its takes, and which finished steps are due again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from linewright.practice.review import Grade, Played, Review, review
from linewright.services.clock import now as clock
from linewright.services.practising import KeptPlan, PlanEntry
from linewright.services.shelf import Library
from linewright.services.takes import Row, TakeEntry, row_of
from linewright.store.practice import StepMark

__all__ = ["Due", "StepHistory", "due_steps", "review_of", "step_history"]


@dataclass(frozen=True)
class StepHistory:
    """The takes of a step over time.

    Parameters
    ----------
    takes : tuple of TakeEntry
        The first made first; recordings that are not finished too.
    best_clean : float or None
        The quickest tempo at which every rule but the tempo was kept.
    row : Row
    review : Review or None
        When to play it again; None for a step that is not done.
    """

    plan: PlanEntry
    step: int
    takes: tuple[TakeEntry, ...]
    best_clean: float | None
    row: Row
    review: Review | None


@dataclass(frozen=True)
class Due:
    """A finished step and when it should be played again."""

    plan: PlanEntry
    step: int
    title: str
    review: Review

    @property
    def due(self) -> datetime:
        """The moment from which it is due."""
        return self.review.due


def step_history(library: Library, plan_id: int, step: int) -> StepHistory:
    """How a step is coming on."""
    plan: KeptPlan = library.plans.get(plan_id)
    row = row_of(library, plan, step)
    takes = library.takes.find(plan_id=plan_id, step=step)
    clean = [take.setting.bpm for take in takes if take.clean and take.ruling is not False]
    return StepHistory(
        plan.entry,
        step,
        takes,
        max(clean, default=None),
        row,
        review_of(plan.entry, step, takes),
    )


def due_steps(
    library: Library,
    *,
    student_id: int | None = None,
    by: datetime | None = None,
    all_steps: bool = False,
) -> tuple[Due, ...]:
    """The finished steps that are due, the longest overdue first.

    Parameters
    ----------
    student_id : int, optional
        Of one student; raises NotFound when there is none of that number.
    by : datetime, optional
        Due at this moment; now when not given.
    all_steps : bool
        All finished steps, those that are not due yet too.
    """
    if student_id is not None:
        library.plans.student(student_id)
    moment = by or clock()
    takes: dict[tuple[int, int], list[TakeEntry]] = {}
    for take in library.takes.find(student_id=student_id):
        takes.setdefault((take.plan_id, take.step), []).append(take)
    found = []
    for plan in library.plans.find(student_id=student_id):
        for number, (_, title) in enumerate(plan.steps, 1):
            when = review_of(plan, number, takes.get((plan.id, number), ()))
            if when is not None and (all_steps or when.due <= moment):
                found.append(Due(plan, number, title, when))
    return tuple(sorted(found, key=lambda due: (due.due, due.plan.id, due.step)))


def review_of(plan: PlanEntry, step: int, takes: Iterable[TakeEntry]) -> Review | None:
    """When a finished step should be played again; None for one that is not done.

    Takes at the step's tempo that could be judged are its reviews; the mark that says it is done
    is one when no take before it does.
    """
    mark = plan.mark_of(step)
    if mark is None or mark.state != "done":
        return None
    played = [_played(take) for take in takes if _is_review(take)]
    if not any(one.grade != "not yet" and one.at <= mark.at for one in played):
        played.append(_marked(mark))
    return review(sorted(played, key=lambda one: one.at))


def _is_review(take: TakeEntry) -> bool:
    return take.counts is not None and bool(take.at_tempo or take.ruling)


def _played(take: TakeEntry) -> Played:
    if not take.counts:
        return Played(take.at, "not yet")
    grades: dict[str | None, Grade] = {"clean": "clean", "easy": "easy"}
    return Played(take.at, grades.get(take.grade, "just"))  # just: or a teacher let it pass


def _marked(mark: StepMark) -> Played:
    return Played(mark.at, "clean")
