"""What the JSON API takes and gives about practice, checked and documented by pydantic."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from linewright.practice import PlanSheet, sheet_to_dict
from linewright.services.plan_view import standing_of, steps_of
from linewright.services.practising import PlanEntry, StepMark, Student
from linewright.web.api_models import Strict

__all__ = [
    "GivePlan",
    "GivenOut",
    "GivenWholeOut",
    "MarkIn",
    "MarkOut",
    "NameIn",
    "PlanOut",
    "StudentOut",
]

Name = Annotated[str, Field(max_length=100)]


class PieceOut(BaseModel):
    """A drill or an example line."""

    title: str
    words: Annotated[str, Field(description="How to play it; empty for an example line")]
    lick: Annotated[dict[str, Any], Field(description="The music in Linewright's own JSON")]
    outside: Annotated[
        list[dict[str, Any]],
        Field(description="`note` (its index) and `degree`, outside the frame"),
    ]
    reasons: Annotated[list[str], Field(description="Why each note is there; none for a drill")]


class DoneOut(BaseModel):
    """What counts as done, as values to check a take by."""

    model_config = {"extra": "allow"}

    statement: str
    bpm: Annotated[int, Field(description="In beats of the plan a minute")]
    bars: Annotated[int, Field(description="Without a stop")]
    takes: Annotated[int, Field(description="In a row")]
    mean_ms: Annotated[float, Field(description="Largest mean distance from the click")]
    spread_ms: Annotated[float, Field(description="Largest standard deviation")]
    timing_source: str
    only: Annotated[
        list[dict[str, Any]],
        Field(description="`over` a chord or everywhere, `degrees` above `tonic`: no other notes"),
    ]
    leap: Annotated[int, Field(description="Largest move in semitones")]
    figures: Annotated[list[dict[str, Any]], Field(description="`tag`, `kind`, `times` in `bars`")]
    uses: Annotated[
        list[dict[str, Any]],
        Field(description="An outside note and the one way it may be used, `times` in `bars`"),
    ]
    chord_tones: Annotated[
        float | None, Field(description="Least share of chord changes met by a chord tone")
    ]


class StepOut(BaseModel):
    """One grade of a plan."""

    number: int
    key: Annotated[str, Field(description="As `frame`, `figure f1`, `outside b5`")]
    title: str
    purpose: str
    drills: list[PieceOut]
    examples: Annotated[list[PieceOut], Field(description="Three lines of this step")]
    tempo_ladder: list[int]
    done: DoneOut
    rules: Annotated[list[str], Field(description="The same in sentences")]
    if_not: Annotated[list[str], Field(description="What to do when it will not come")]


class DayOut(BaseModel):
    """A day of the schedule."""

    day: int
    rest: bool
    words: str
    work: Annotated[
        list[dict[str, Any]], Field(description="`step`, `minutes`, `from_bpm`, `to_bpm`, `new`")
    ]


class PlanOut(BaseModel):
    """A practice plan with all its music."""

    plan: Annotated[int, Field(description="Version of this form")]
    title: str
    level: str
    length: str
    seed: int
    beat: Annotated[str, Field(description="What tempos count, in quarters, as `3/2`")]
    lick: Annotated[dict[str, Any], Field(description="The lick it was made from")]
    steps: list[StepOut]
    schedule: list[DayOut]
    cautions: list[str]

    @classmethod
    def of(cls, sheet: PlanSheet) -> PlanOut:
        """From the service's own value."""
        return cls.model_validate(sheet_to_dict(sheet))


class StudentOut(BaseModel):
    """Someone who practises."""

    id: int
    uuid: str
    name: str
    created: datetime
    plans: Annotated[int, Field(description="How many are not deleted")]
    deleted: datetime | None

    @classmethod
    def of(cls, student: Student) -> StudentOut:
        """From the library's own value."""
        return cls(**vars(student))


class NameIn(Strict):
    """A student's name."""

    name: Name


class GivePlan(Strict):
    """Which plan, and whose: a student by number, or by name (added when there is none)."""

    student: Annotated[int | None, Field(ge=1, description="By number")] = None
    name: Annotated[Name | None, Field(description="By name, when no number is given")] = None
    level: Annotated[str, Field(max_length=20)] = "working"
    length: Annotated[str, Field(max_length=20)] = "week"
    seed: Annotated[int, Field(ge=-(2**53), le=2**53)] = 0


class MarkIn(Strict):
    """What to say of a step."""

    step: Annotated[int, Field(description="From 1")]
    state: Annotated[
        Literal["done", "opened", "not yet"],
        Field(description="`opened`: a teacher lets the player past it, though it is not done"),
    ]
    by: Annotated[
        Name | None,
        Field(description="The teacher who decides; needed to open, or to mark what is held back"),
    ] = None
    comment: Annotated[str, Field(max_length=2000)] = ""


class MarkOut(BaseModel):
    """What was said of a step, and when; `undone` when it was taken back and counts no more."""

    uuid: str
    step: int
    at: datetime
    state: str
    by: str | None
    comment: str
    undone: datetime | None

    @classmethod
    def of(cls, mark: StepMark) -> MarkOut:
        """From the library's own value."""
        return cls(**vars(mark))


class StandingOut(BaseModel):
    """A step of a given plan and where the player stands in it."""

    number: int
    key: str
    title: str
    state: Annotated[
        str,
        Field(description="`done`, `opened`, `open`, `not yet` (tried) or `held` (back)"),
    ]
    held_by: Annotated[int | None, Field(description="The step that holds it back")]


class GivenOut(BaseModel):
    """A plan a student was given, without its music."""

    id: int
    uuid: str
    student: StudentOut
    lick_id: Annotated[int | None, Field(description="None when the lick is gone")]
    title: str
    level: str
    length: str
    seed: int
    made: datetime
    deleted: datetime | None
    steps: Annotated[int, Field(description="How many")]
    done: Annotated[int, Field(description="How many of them are done")]
    at: Annotated[int | None, Field(description="The step the player is at; None past the last")]
    marks: Annotated[list[MarkOut], Field(description="All of them, the first said first")]

    @classmethod
    def of(cls, entry: PlanEntry) -> GivenOut:
        """From the library's own value."""
        return cls(**_given(entry))


class GivenWholeOut(GivenOut):
    """The same with the plan and the state of each step."""

    standing: list[StandingOut]
    plan: PlanOut

    @classmethod
    def whole(cls, entry: PlanEntry, sheet: PlanSheet) -> GivenWholeOut:
        """From the library's own values."""
        standing = [
            StandingOut(
                number=view.step.number,
                key=view.step.key,
                title=view.step.title,
                state=view.state,
                held_by=view.held_by,
            )
            for view in steps_of(sheet, entry)
        ]
        return cls(**_given(entry), standing=standing, plan=PlanOut.of(sheet))


def _given(entry: PlanEntry) -> dict[str, Any]:
    standing = standing_of(entry)
    return {
        "id": entry.id,
        "uuid": entry.uuid,
        "student": StudentOut.of(entry.student),
        "lick_id": entry.lick_id,
        "title": entry.title,
        "level": entry.level,
        "length": entry.length,
        "seed": entry.seed,
        "made": entry.made,
        "deleted": entry.deleted,
        "steps": standing.steps,
        "done": standing.done,
        "at": standing.at,
        "marks": [MarkOut.of(mark) for mark in entry.marks],
    }
