"""The values of the practice part of a library: students, plans as listed, marks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from linewright.errors import OptionError
from linewright.practice import Mark, PlanSheet, Progress
from linewright.store.take_records import RuleChange

__all__ = [
    "LONGEST_NAME",
    "STATES",
    "KeptPlan",
    "PlanEntry",
    "StepMark",
    "Student",
    "checked_mark",
    "progress_of",
]

#: What can be said of a step.
STATES: Final = ("done", "opened", "not yet")
LONGEST_NAME: Final = 100
LONGEST_COMMENT: Final = 2000


@dataclass(frozen=True)
class Student:
    """Someone who practises; ``plans`` counts the plans that are not deleted."""

    id: int
    uuid: str
    name: str
    created: datetime
    plans: int = 0
    deleted: datetime | None = None


@dataclass(frozen=True)
class StepMark:
    """What was said of a step.

    Parameters
    ----------
    uuid : str
        The same in every library that knows of it.
    step : int
        From 1.
    at : datetime
    state : str
        ``done``; ``opened`` (a teacher lets the player past it); or ``not yet``.
    by : str or None
        The teacher who decided, where one did.
    comment : str
    undone : datetime or None
        When it was taken back; it counts no more then.
    """

    uuid: str
    step: int
    at: datetime
    state: str
    by: str | None = None
    comment: str = ""
    undone: datetime | None = None


@dataclass(frozen=True)
class PlanEntry:
    """A line of a list of plans: a plan without its music.

    ``lick_id`` is None when the lick is gone; ``steps`` holds the key and title of each step,
    ``marks`` every mark, the first said first.
    """

    id: int
    uuid: str
    student: Student
    lick_id: int | None
    title: str
    level: str
    length: str
    seed: int
    made: datetime
    deleted: datetime | None
    steps: tuple[tuple[str, str], ...]
    marks: tuple[StepMark, ...]

    @property
    def progress(self) -> Progress:
        """Which steps are done, and which may be begun."""
        return progress_of(len(self.steps), self.marks)

    def mark_of(self, step: int) -> StepMark | None:
        """The mark that counts for a step."""
        return next((m for m in reversed(self.marks) if m.step == step and not m.undone), None)

    @property
    def last(self) -> StepMark | None:
        """The last mark that was not taken back."""
        return next((m for m in reversed(self.marks) if not m.undone), None)


@dataclass(frozen=True)
class KeptPlan:
    """A plan a student was given, with all its music.

    ``sheet`` has the rules as the teacher set them; ``changes`` are what was changed (and taken
    back) since, ``given`` is the plan as it was given where that differs.
    """

    entry: PlanEntry
    sheet: PlanSheet
    changes: tuple[RuleChange, ...] = ()
    given: PlanSheet | None = None

    @property
    def as_given(self) -> PlanSheet:
        """The plan as it was given."""
        return self.given or self.sheet

    def changes_of(self, step: int) -> tuple[RuleChange, ...]:
        """The changes of a step's rules that stand."""
        return tuple(c for c in self.changes if c.step == step and c.undone is None)

    @property
    def id(self) -> int:
        """Number in the library."""
        return self.entry.id


def progress_of(steps: int, marks: Iterable[StepMark]) -> Progress:
    """Progress as the marks say: for each step the last one that was not taken back."""
    found = {mark.step: mark for mark in marks if mark.undone is None}
    return Progress(
        tuple(
            Mark(found[k].state == "done", found[k].by if found[k].state != "not yet" else None)
            if k in found
            else Mark()
            for k in range(1, steps + 1)
        )
    )


def checked_word(by: str | None, comment: str = "") -> tuple[str | None, str]:
    """Who says something (None: nobody) and what, as they are kept, without outer space."""
    name, comment = " ".join((by or "").split()), comment.strip()
    for what, text, longest in (
        ("name", name, LONGEST_NAME),
        ("comment", comment, LONGEST_COMMENT),
    ):
        if len(text) > longest:
            raise OptionError(
                f"the {what} has {len(text)} characters", accepted=f"Use up to {longest}"
            )
    if not name.isprintable():
        raise OptionError(
            f"{name[:60]!r} is no name", accepted="Use characters that can be printed"
        )
    return name or None, comment


def checked_mark(entry: PlanEntry, mark: StepMark) -> StepMark:
    """A mark as it may be said, its texts without outer space."""
    if mark.state not in STATES:
        raise OptionError(
            f"a step cannot be {mark.state!r:.40}", accepted=f"Use one of {', '.join(STATES)}"
        )
    by, comment = checked_word(mark.by, mark.comment)
    if mark.state == "opened" and by is None:
        raise OptionError("an override without a name", accepted="Say which teacher decides")
    # Progress knows what is held back.
    entry.progress.mark(mark.step, mark.state == "done", by)
    return StepMark(mark.uuid, mark.step, mark.at, mark.state, by, comment)
