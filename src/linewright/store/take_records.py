"""The values of takes as they are kept: listed, whole, and what a judgement writes down."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from linewright.errors import OptionError, ReadError
from linewright.formats.lickjson import lick_from_dict, lick_to_dict
from linewright.practice.review import grade_of
from linewright.practice.takes import Verdict, verdict_to_dict
from linewright.practice.tolerance import TOLERANCES
from linewright.score import Lick

__all__ = [
    "DOCUMENT",
    "GRADES",
    "STATES",
    "ChangedRule",
    "Judgement",
    "KeptTake",
    "RuleChange",
    "Setting",
    "TakeEntry",
    "checked_document",
    "judgement_of",
]

#: ``recording``: still coming in, or broken off; ``unjudged``: whole, but not judged, ``problem``
#: says why; ``judged``.
STATES: Final = ("recording", "unjudged", "judged")
GRADES: Final = ("not yet", "just", "clean", "easy")
_CHANGED: Final = ("name", "key", "value", "own", "by")
#: Version of the form of a take's document.
DOCUMENT: Final = 1


@dataclass(frozen=True, slots=True)
class Setting:
    """How a take was recorded.

    Parameters
    ----------
    bpm : float
        The click's tempo, in the plan's beat.
    start_s : float or None
        Where beat 1 of bar 1 was played to the player, in seconds of the recording; None when it
        is not known.
    delay_s : float or None
        How late our own sound comes back in a recording on that machine (see ``calibrate``); None
        when it was not measured, and early or late is then not judged unless our click is found in
        the recording.
    click : bool
        Whether our click can be heard in the recording.
    """

    bpm: float
    start_s: float | None = None
    delay_s: float | None = None
    click: bool = False

    def __post_init__(self) -> None:
        if not 10 <= self.bpm <= 1000:
            raise OptionError(f"a tempo of {self.bpm:g}", accepted="Use 10 to 1000 beats a minute")
        if self.start_s is not None and not -60 <= self.start_s <= 600:
            raise OptionError(
                f"beat 1 at {self.start_s:g} s of the recording", accepted="Use -60 to 600 seconds"
            )
        if self.delay_s is not None and not -0.5 <= self.delay_s <= 2:
            raise OptionError(f"a delay of {self.delay_s:g} s", accepted="Use -0.5 to 2 seconds")

    @property
    def placed_s(self) -> float | None:
        """Where beat 1 of bar 1 lies in the recording, the delay included as far as it is known."""
        return None if self.start_s is None else self.start_s + (self.delay_s or 0.0)


@dataclass(frozen=True, slots=True)
class RuleChange:
    """What a teacher changed of a step's rules; ``undone`` when it was taken back."""

    uuid: str
    step: int
    at: datetime
    by: str
    changes: Mapping[str, Any]
    undone: datetime | None = None


@dataclass(frozen=True, slots=True)
class ChangedRule:
    """A rule that is not the one the plan was given with.

    Parameters
    ----------
    name, key : str
        The field of ``Done``; for ``figures`` and ``uses`` the tag or degree.
    value, own : float or None
        As it is, and as the plan had it; None for chords that do not count.
    by : str
        The teacher who set it.
    at : datetime
    """

    name: str
    key: str
    value: float | None
    own: float | None
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a verdict writes down beside its document.

    Parameters
    ----------
    passed : bool or None
    clean : bool
        Whether every rule but the tempo was kept.
    at_tempo : bool
        Whether the click went at the step's tempo.
    grade : str
        One of :data:`GRADES`.
    mean_ms : float or None
        None when the click's place was not known.
    document : mapping
        ``verdict`` (docs/takes.md), ``lick`` (what was played, lossless), ``heard``, and
        ``changed``: the rules a teacher had changed when it was judged.
    """

    seconds: float
    passed: bool | None
    clean: bool
    at_tempo: bool
    grade: str
    mean_ms: float | None
    spread_ms: float
    drift_ms: float
    document: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class TakeEntry:
    """A take as listed: all of it but the document and the sound.

    ``audio`` is the name of its file in the library's folder of takes, None when the recording
    did not come along with an import; ``bytes`` is what there is of it. ``ruling`` is what a
    teacher (``by``) decided in place of the verdict.
    """

    id: int
    uuid: str
    plan_id: int
    step: int
    at: datetime
    state: str
    setting: Setting
    audio: str | None
    format: str
    bytes: int
    sha256: str | None
    seconds: float | None
    passed: bool | None
    clean: bool
    at_tempo: bool
    grade: str | None
    mean_ms: float | None
    spread_ms: float | None
    drift_ms: float | None
    problem: str
    ruling: bool | None
    by: str | None
    comment: str
    deleted: datetime | None

    @property
    def counts(self) -> bool | None:
        """Whether it counts as a pass: the teacher's word, else the verdict, else None."""
        return self.passed if self.ruling is None else self.ruling


@dataclass(frozen=True)
class KeptTake:
    """A take with what was heard and said of it."""

    entry: TakeEntry
    document: Mapping[str, Any] | None

    @property
    def id(self) -> int:
        """Number in the library."""
        return self.entry.id

    @property
    def verdict(self) -> Mapping[str, Any] | None:
        """As ``verdict_to_dict`` wrote it; None when the take is not judged."""
        return None if self.document is None else self.document["verdict"]

    @property
    def heard(self) -> Mapping[str, Any] | None:
        """As ``Heard.to_dict`` wrote it."""
        return None if self.document is None else self.document["heard"]

    @property
    def changed(self) -> tuple[ChangedRule, ...]:
        """The rules it was judged by that a teacher had changed."""
        rows = () if self.document is None else self.document.get("changed", ())
        return tuple(
            ChangedRule(**{**row, "at": datetime.fromisoformat(row["at"])}) for row in rows
        )

    @property
    def lick(self) -> Lick | None:
        """What was played; its notes are those of the verdict's ``take``, in order."""
        return None if self.document is None else lick_from_dict(self.document["lick"])


def judgement_of(
    verdict: Verdict, heard: Mapping[str, Any], changed: Iterable[ChangedRule] = ()
) -> Judgement:
    """What is written down of a verdict; ``heard`` as ``Heard.to_dict`` gives it, ``changed`` the
    rules it was judged by that a teacher had changed.
    """
    tempo = verdict.rule("tempo")
    at_tempo = tempo is None or tempo.passed is not False
    clean = verdict.passed is not None and all(
        rule.passed is not False or rule.key == "tempo" for rule in verdict.rules
    )
    timing = verdict.take.timing
    return Judgement(
        seconds=float(heard["duration_s"]),
        passed=verdict.passed,
        clean=clean,
        at_tempo=at_tempo,
        grade=grade_of(verdict),
        mean_ms=timing.mean_ms if timing.is_placed else None,
        spread_ms=timing.spread_ms,
        drift_ms=timing.drift_ms,
        document={
            "take": DOCUMENT,
            "verdict": verdict_to_dict(verdict),
            "lick": lick_to_dict(verdict.take.lick),
            "heard": dict(heard),
            "changed": [
                {name: getattr(rule, name) for name in _CHANGED} | {"at": rule.at.isoformat()}
                for rule in changed
            ],
        },
    )


# -- documents from elsewhere ------------------------------------------------------------
_TEXTS: Final = ("words", "work_on", "suggestion")
_RULE_TEXTS: Final = ("key", "title", "unit", "words")


def checked_document(data: Any) -> Mapping[str, Any]:
    """A take's document as it may be shown; ReadError for any other."""
    try:
        if data["take"] != DOCUMENT:
            raise ValueError(f"version {data['take']!r:.20}")
        verdict = data["verdict"]
        lick = lick_from_dict(data["lick"])
        count = len(lick.notes)
        _need(verdict["passed"] in (True, False, None))
        _need(all(isinstance(verdict[key], str) for key in _TEXTS))
        _need(_number(verdict["bpm"]))
        timing = verdict["timing"]
        _need(all(_number(timing[key]) for key in ("spread_ms", "drift_ms", "kept_bpm")))
        _need(all(timing[key] is None or _number(timing[key]) for key in ("mean_ms", "swing")))
        _need(isinstance(timing["placed"], bool) and _number(timing["measured"]))
        for rule in verdict["rules"]:
            _need(all(isinstance(rule[key], str) for key in _RULE_TEXTS))
            _need(rule["passed"] in (True, False, None))
            _need(all(rule[key] is None or _number(rule[key]) for key in ("value", "limit")))
            _need(_indexes(rule["notes"], count) and _indexes(rule["bars"], 100_000))
        _need(_indexes(verdict["wrong"], count) and _indexes(verdict["doubtful"], count))
        notes = verdict["take"]["notes"]
        _need(len(notes) == count)
        for note in notes:
            _need(all(_number(note[key]) for key in ("onset_s", "late_ms", "cents", "confidence")))
            _need(isinstance(note["off_grid"], bool))
        heard = data["heard"]
        _need(_number(heard["duration_s"]))
        for note in heard["notes"]:
            names = ("onset_s", "offset_s", "midi", "cents", "strength", "confidence")
            _need(all(_number(note[key]) for key in names) and isinstance(note["attack"], str))
        _need(all(isinstance(word, str) for word in heard["warnings"]))
        changed = [_checked_change(row) for row in data.get("changed", ())]
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ReadError(f"the verdict of a take is damaged ({error!r:.80})") from error
    return {
        "take": DOCUMENT, "verdict": verdict, "lick": data["lick"], "heard": heard,
        "changed": changed,
    }  # fmt: skip


def _checked_change(row: Any) -> dict[str, Any]:
    _need(row["name"] in TOLERANCES or (row["name"] in ("figures", "uses") and row["key"] != ""))
    _need(all(isinstance(row[name], str) and len(row[name]) <= 100 for name in ("key", "by")))
    _need(all(row[name] is None or _number(row[name]) for name in ("value", "own")))
    _need(datetime.fromisoformat(row["at"]).tzinfo is not None)
    return {name: row[name] for name in (*_CHANGED, "at")}


def _need(is_so: bool) -> None:
    if not is_so:
        raise ValueError("a value of a wrong kind")


def _number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _indexes(values: Any, count: int) -> bool:
    return isinstance(values, list) and all(
        isinstance(v, int) and not isinstance(v, bool) and 0 <= v < count for v in values
    )
