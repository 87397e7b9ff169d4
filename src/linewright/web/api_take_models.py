"""What the JSON API takes and gives about takes, checked and documented by pydantic."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any, Self

from pydantic import BaseModel, Field

from linewright.formats.lickjson import lick_to_dict
from linewright.practice.sheet_json import sheet_to_dict
from linewright.services.reviewing import Due, StepHistory
from linewright.services.takes import KeptTake, Outcome, Row, Setting, TakeEntry
from linewright.services.tolerances import RuleChange, StepRules
from linewright.web.api_models import Strict
from linewright.web.api_plan_models import DoneOut, GivenOut

__all__ = [
    "ChangeRulesIn",
    "ClicksOut",
    "DelayOut",
    "DueOut",
    "HistoryOut",
    "OutcomeOut",
    "OwnRulesIn",
    "PieceOut",
    "RecordingIn",
    "RulesOut",
    "RulingIn",
    "SettingIn",
    "TakeOut",
    "TakeWholeOut",
    "setting_from",
]

Teacher = Annotated[str, Field(max_length=100, description="The teacher who decides")]


class SettingIn(Strict):
    """How a take is recorded; what is left out stays as it is, or the step's own."""

    bpm: Annotated[
        float | None, Field(ge=10, le=1000, description="The click's tempo, in the plan's beat")
    ] = None
    start_s: Annotated[
        float | None,
        Field(
            ge=-60,
            le=600,
            description="When beat 1 of bar 1 was played out, in seconds of the recording; left"
            " out when it is not known",
        ),
    ] = None
    delay_s: Annotated[
        float | None,
        Field(
            ge=-0.5,
            le=2,
            description="What `/api/calibration` measured on this machine; left out when it was not"
            " measured: early or late is then only judged when our click is found in the recording",
        ),
    ] = None
    click: Annotated[bool, Field(description="Whether our click can be heard in the recording")] = (
        False
    )


class RecordingIn(SettingIn):
    """Begins a recording that comes in pieces."""

    format: Annotated[
        str, Field(max_length=10, description="A hint: `webm`, `ogg`, `m4a`, `wav`")
    ] = "bin"


def setting_from(given: SettingIn, otherwise: float) -> Setting:
    """The service's own value; ``otherwise`` is the tempo when none is given."""
    bpm = otherwise if given.bpm is None else given.bpm
    return Setting(bpm, given.start_s, given.delay_s, given.click)


class RulingIn(Strict):
    """A teacher's word on a take."""

    passed: Annotated[
        bool | None,
        Field(description="Counts as a pass, or does not; null: the verdict stands"),
    ] = None
    by: Annotated[Teacher | None, Field(description="Needed to decide")] = None
    comment: Annotated[str, Field(max_length=2000)] = ""


class ChangeRulesIn(Strict):
    """Rules of a step as a teacher wants them for this plan; what is left out stays."""

    by: Teacher
    changes: Annotated[
        dict[str, float | dict[str, int] | None],
        Field(
            min_length=1,
            max_length=20,
            description="By name: `bpm`, `bars`, `takes`, `mean_ms`, `spread_ms`, `slips`, `leap`,"
            " `chord_tones` (null: chords do not count), `alike`, `quoted`; `figures` and `uses`"
            " give the times each has to come by tag or degree",
        ),
    ]


class OwnRulesIn(Strict):
    """Back to the rules the plan was given with."""

    by: Teacher
    step: Annotated[int | None, Field(ge=1, description="From 1; left out: all steps")] = None


class PieceOut(BaseModel):
    """What is there of a recording that is coming in."""

    bytes: Annotated[int, Field(description="Send on from here")]


class DelayOut(BaseModel):
    """How late our own sound comes back."""

    delay_s: float


class ClicksOut(BaseModel):
    """What to play for a calibration."""

    click_times: Annotated[
        list[float], Field(description="Seconds from the start, unevenly spaced")
    ]


class TakeOut(BaseModel):
    """A take without what was heard and said of it."""

    id: int
    uuid: str
    plan: int
    step: int
    at: datetime
    state: Annotated[
        str,
        Field(
            description="`recording` (coming in, or broken off), `unjudged` (`problem` says why),"
            " `judged`"
        ),
    ]
    bpm: float
    start_s: float | None
    delay_s: float | None
    click: bool
    format: str
    bytes: int
    has_audio: Annotated[bool, Field(description="Whether its recording is in this library")]
    seconds: float | None
    passed: Annotated[bool | None, Field(description="The verdict; null when it cannot tell")]
    counts: Annotated[bool | None, Field(description="The teacher's word, else the verdict")]
    clean: Annotated[bool, Field(description="Every rule but the tempo kept")]
    at_tempo: Annotated[bool, Field(description="Played at the step's tempo")]
    grade: Annotated[str | None, Field(description="`not yet`, `just`, `clean` or `easy`")]
    mean_ms: float | None
    spread_ms: float | None
    drift_ms: float | None
    problem: str
    ruling: bool | None
    by: str | None
    comment: str
    deleted: datetime | None

    @classmethod
    def of(cls, entry: TakeEntry) -> Self:
        """From the library's own value."""
        return cls(**_fields(entry))


class ChangedRuleOut(BaseModel):
    """A rule a teacher had changed, and the plan's own."""

    name: Annotated[str, Field(description="As in the rules of a step")]
    key: Annotated[str, Field(description="Tag or degree, for `figures` and `uses`; else empty")]
    value: float | None
    own: float | None
    by: str
    at: datetime


class TakeWholeOut(TakeOut):
    """A take with what was heard and said of it; all null when it is not judged."""

    verdict: Annotated[dict[str, Any] | None, Field(description="As in docs/takes.md")]
    changed: Annotated[
        list[ChangedRuleOut],
        Field(description="Rules a teacher had changed when it was judged"),
    ]
    heard: Annotated[dict[str, Any] | None, Field(description="As in docs/hearing.md")]
    lick: Annotated[
        dict[str, Any] | None,
        Field(description="What was played in Linewright's JSON, note for note as in the verdict"),
    ]

    @classmethod
    def whole(cls, take: KeptTake) -> Self:
        """From the library's own value."""
        lick = take.lick
        return cls(
            **_fields(take.entry),
            verdict=dict(take.verdict) if take.verdict is not None else None,
            changed=[ChangedRuleOut.model_validate(asdict(rule)) for rule in take.changed],
            heard=dict(take.heard) if take.heard is not None else None,
            lick=None if lick is None else lick_to_dict(lick),
        )


def _fields(entry: TakeEntry) -> dict[str, Any]:
    values = {name: getattr(entry, name) for name in TakeOut.model_fields if hasattr(entry, name)}
    setting = entry.setting
    return values | {
        "plan": entry.plan_id, "bpm": setting.bpm, "start_s": setting.start_s,
        "delay_s": setting.delay_s, "click": setting.click, "has_audio": entry.audio is not None,
    }  # fmt: skip


class RowOut(BaseModel):
    """How many takes in a row stand, of how many, at which tempo."""

    passed: int
    needed: int
    bpm: int

    @classmethod
    def of(cls, row: Row) -> RowOut:
        """From the service's own value."""
        return cls(passed=row.passed, needed=row.needed, bpm=row.bpm)


class OutcomeOut(BaseModel):
    """A take and what came of it."""

    take: TakeWholeOut
    row: RowOut
    marked: Annotated[bool, Field(description="Its step is now marked done, by this take")]
    plan: GivenOut

    @classmethod
    def of(cls, outcome: Outcome) -> OutcomeOut:
        """From the service's own value."""
        return cls(
            take=TakeWholeOut.whole(outcome.take),
            row=RowOut.of(outcome.row),
            marked=outcome.marked,
            plan=GivenOut.of(outcome.plan),
        )


class HistoryOut(BaseModel):
    """How a step is coming on."""

    plan: int
    step: int
    row: RowOut
    best_clean: Annotated[float | None, Field(description="Quickest tempo played clean")]
    due: Annotated[datetime | None, Field(description="When to play it again, once it is done")]
    takes: Annotated[list[TakeOut], Field(description="The first made first")]

    @classmethod
    def of(cls, history: StepHistory) -> HistoryOut:
        """From the service's own value."""
        return cls(
            plan=history.plan.id,
            step=history.step,
            row=RowOut.of(history.row),
            best_clean=history.best_clean,
            due=history.review.due if history.review else None,
            takes=[TakeOut.of(take) for take in history.takes],
        )


class DueOut(BaseModel):
    """A finished step and when it should be played again."""

    student: Annotated[str, Field(description="The student's name")]
    student_id: int
    plan: int
    plan_title: str
    step: int
    title: str
    due: datetime
    days: Annotated[float, Field(description="From its last take to then; a suggestion")]

    @classmethod
    def of(cls, due: Due) -> DueOut:
        """From the service's own value."""
        return cls(
            student=due.plan.student.name,
            student_id=due.plan.student.id,
            plan=due.plan.id,
            plan_title=due.plan.title,
            step=due.step,
            title=due.title,
            due=due.due,
            days=round(due.review.days, 2),
        )


class RuleChangeOut(BaseModel):
    """What a teacher changed, and when."""

    uuid: str
    step: int
    at: datetime
    by: str
    changes: dict[str, Any]
    undone: datetime | None

    @classmethod
    def of(cls, change: RuleChange) -> RuleChangeOut:
        """From the library's own value."""
        names = ("uuid", "step", "at", "by", "undone")
        return cls(**{n: getattr(change, n) for n in names}, changes=dict(change.changes))


class RulesOut(BaseModel):
    """What counts as done in a step of a given plan, and what was changed of it."""

    plan: int
    step: int
    done: DoneOut
    rules: Annotated[list[str], Field(description="The same in sentences")]
    changes: Annotated[list[RuleChangeOut], Field(description="Those that stand")]
    words: Annotated[list[str], Field(description="What they amount to, in sentences")]

    @classmethod
    def of(cls, rules: StepRules) -> RulesOut:
        """From the service's own value."""
        step = sheet_to_dict(rules.plan.sheet)["steps"][rules.step - 1]
        return cls(
            plan=rules.plan.id,
            step=rules.step,
            done=DoneOut.model_validate(step["done"]),
            rules=step["rules"],
            changes=[RuleChangeOut.of(change) for change in rules.changes],
            words=list(rules.words),
        )
