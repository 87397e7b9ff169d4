"""Use case: remove for good what was deleted. Nothing goes by itself.

What is deleted can be brought back. Only what has been deleted for :data:`KEPT_DAYS` days may be
removed, only when somebody asks for it, and only what that somebody was shown: the moment up to
which it was deleted is fixed when it is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

from linewright.errors import OptionError
from linewright.services.clock import now as clock
from linewright.services.shelf import Kept, Library
from linewright.store.practice_records import PlanEntry, Student
from linewright.store.records import Removed
from linewright.store.take_records import TakeEntry

__all__ = ["KEPT_DAYS", "Deleted", "Removed", "deleted_things", "removable", "remove_for_good"]

#: Days for which what is deleted can only be brought back.
KEPT_DAYS: Final = 30


@dataclass(frozen=True)
class Deleted:
    """What is deleted and can be brought back, the last deleted first, each take with its plan;
    what went with its student or plan comes back with it and is not listed by itself.
    """

    licks: tuple[Kept, ...]
    students: tuple[Student, ...]
    plans: tuple[PlanEntry, ...]
    takes: tuple[tuple[TakeEntry, PlanEntry], ...]

    @property
    def anything(self) -> bool:
        """Whether anything is deleted."""
        return bool(self.licks or self.students or self.plans or self.takes)


def deleted_things(library: Library) -> Deleted:
    """Everything that can be brought back."""

    def when(thing: Student | PlanEntry | TakeEntry) -> datetime:
        assert thing.deleted is not None
        return thing.deleted

    plans = {plan.id: plan for plan in library.plans.find()}
    takes = sorted(library.takes.find(deleted=True), key=when, reverse=True)
    return Deleted(
        library.deleted(),
        tuple(sorted(library.plans.students(deleted=True), key=when, reverse=True)),
        tuple(sorted(library.plans.find(deleted=True), key=when, reverse=True)),
        tuple((take, plans[take.plan_id]) for take in takes if take.plan_id in plans),
    )


def removable(library: Library, *, now: datetime | None = None) -> tuple[Removed, datetime]:
    """What may be removed now, and the moment up to which it was deleted."""
    before = (now or clock()) - timedelta(days=KEPT_DAYS)
    return library.removable(before=before), before


def remove_for_good(library: Library, before: datetime, *, now: datetime | None = None) -> Removed:
    """Remove what was deleted before a moment, recordings too; it cannot be undone.

    Raises
    ------
    OptionError
        When the moment is less than :data:`KEPT_DAYS` days ago, or before the calendar begins.
    """
    if before > (now or clock()) - timedelta(days=KEPT_DAYS):
        raise OptionError(
            "what was deleted lately cannot be removed for good yet",
            accepted=f"Only what has been deleted for {KEPT_DAYS} days can",
        )
    try:
        moment = before.astimezone(UTC)
    except OverflowError as error:
        raise OptionError(
            f"{before.isoformat()} lies before the calendar begins",
            accepted=f"Use a moment at least {KEPT_DAYS} days ago",
        ) from error
    return library.purge(before=moment)
