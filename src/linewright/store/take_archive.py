"""Takes and changes of rules in the zip of a library, and in again.

A take is a JSON file beside its plan, its recording a file beside that. Taking in adds what is not
here by identifier. Recordings are copied out piece by piece, checked against the manifest, under
names of our own; a library without a file takes the verdicts in alone.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from linewright.errors import InputError, ReadError, StoreError
from linewright.practice import PlanSheet
from linewright.practice.tolerance import checked_changes
from linewright.store.schema import RULE_CHANGES, TAKES
from linewright.store.take_files import FORMATS
from linewright.store.take_records import (
    GRADES,
    KeptTake,
    RuleChange,
    Setting,
    checked_document,
)
from linewright.store.take_rows import add_change, insert_take, setting_values

__all__ = [
    "MOST_AUDIO_BYTES",
    "ComingTake",
    "Stage",
    "add_changes",
    "add_takes",
    "changes_in",
    "changes_out",
    "take_in",
    "takes_out",
]

#: Recordings that go into one zip, the newest first; of older ones only the verdicts.
MOST_AUDIO_BYTES: Final = 160 * 1024 * 1024
#: Writes a file; returns what the manifest says of it.
Put = Callable[[str, bytes], dict[str, Any]]
#: Reads the JSON of a file the manifest names.
Get = Callable[[Any], Any]
#: Copies a recording the manifest names (and its kind) out of the zip: its name, size and
#: checksum; None when this library has no place for it.
Stage = Callable[[Any, str], tuple[str, int, str] | None]
_BROKE_OFF: Final = "The recording broke off."


@dataclass(frozen=True)
class ComingTake:
    """A take in a zip: its columns, and how its recording is called here, if it came along."""

    uuid: str
    values: Mapping[str, Any]
    audio: tuple[str, int, str] | None


# -- out ---------------------------------------------------------------------------------
def takes_out(
    folder: str, takes: Iterable[tuple[KeptTake, Path | None]], put: Put
) -> list[dict[str, Any]]:
    """What the manifest says of a plan's takes; each comes with the file of its recording, or
    None where that stays behind.
    """
    return [_take_out(f"{folder}/takes/{take.id:05d}", take, path, put) for take, path in takes]


def _take_out(stem: str, take: KeptTake, path: Path | None, put: Put) -> dict[str, Any]:
    entry, setting = take.entry, take.entry.setting
    plain = (
        "uuid", "step", "state", "format", "seconds", "passed", "clean", "at_tempo", "grade",
        "mean_ms", "spread_ms", "drift_ms", "problem", "ruling", "by", "comment",
    )  # fmt: skip
    record = {name: getattr(entry, name) for name in plain} | setting_values(setting)
    record |= {"at": entry.at.isoformat(), "document": take.document}
    text = json.dumps(record, ensure_ascii=False, indent=1)
    audio = None
    if path is not None:
        try:
            sound = path.read_bytes()
        except OSError as error:
            raise StoreError(
                f"the recording {path.name} cannot be read: {error.strerror or error}",
                accepted="Try again; it may just have been finished",
            ) from error
        audio = put(f"{stem}.{entry.format}", sound)
    return {"file": put(f"{stem}.json", text.encode()), "audio": audio}


def changes_out(changes: Iterable[RuleChange]) -> list[dict[str, Any]]:
    """What the manifest says of changes of rules."""
    return [
        {
            "uuid": change.uuid,
            "step": change.step,
            "at": change.at.isoformat(),
            "by": change.by,
            "changes": dict(change.changes),
            "undone": change.undone.isoformat() if change.undone else None,
        }
        for change in changes
    ]


# -- in ----------------------------------------------------------------------------------
def changes_in(rows: Any, sheet: PlanSheet) -> tuple[RuleChange, ...]:
    """Read them back; OptionError, ValueError and the like for damage."""
    found = []
    for row in rows:
        step = _whole(row["step"], 1, len(sheet.steps))
        changes = checked_changes(sheet.steps[step - 1].done, row["changes"])
        undone = None if row["undone"] is None else _moment(row["undone"])
        by = _text(row["by"], 100)
        found.append(
            RuleChange(_text(row["uuid"], 36), step, _moment(row["at"]), by, changes, undone)
        )
    return tuple(found)


def take_in(
    row: Mapping[str, Any], sheet: PlanSheet, get: Get, stage: Stage, here: Iterable[str]
) -> ComingTake:
    """Read one take; its recording is copied out unless the take is ``here`` already."""
    record = get(row["file"])
    try:
        values = _values(record, len(sheet.steps))
    except (KeyError, TypeError, ValueError, AttributeError, InputError) as error:
        raise ReadError(f"a take in the zip is damaged: {error!s:.120}") from error
    uuid = _text(record["uuid"], 36)
    audio = None
    if row["audio"] is not None and uuid not in here:
        audio = stage(row["audio"], values["format"])
    return ComingTake(uuid, values, audio)


def _values(record: Mapping[str, Any], steps: int) -> dict[str, Any]:
    setting = Setting(
        _number(record["bpm"]),
        None if record["start_s"] is None else _number(record["start_s"]),
        None if record["delay_s"] is None else _number(record["delay_s"]),
        _flag(record["click"]),
    )
    document = record["document"]
    is_judged = record["state"] == "judged"
    if is_judged != (document is not None):
        raise ValueError("a judged take without a verdict, or the other way round")
    grade = record["grade"]
    if grade is not None and grade not in GRADES:
        raise ValueError(f"a grade {grade!r:.20}")
    form = record["format"]
    broke_off = record["state"] == "recording"
    checked = None if document is None else checked_document(document)
    return setting_values(setting) | {
        "step": _whole(record["step"], 1, steps),
        "at": _moment(record["at"]),
        "state": "judged" if is_judged else "unjudged",
        "format": form if form in FORMATS else "bin",
        "seconds": None if record["seconds"] is None else _number(record["seconds"]),
        "passed": None if checked is None else checked["verdict"]["passed"],
        "clean": _flag(record["clean"]),
        "at_tempo": _flag(record["at_tempo"]),
        "grade": grade,
        **{
            name: None if record[name] is None else _number(record[name])
            for name in ("mean_ms", "spread_ms", "drift_ms")
        },
        "problem": _BROKE_OFF if broke_off else _text(record["problem"], 1000, least=0),
        "ruling": None if record["ruling"] is None else _flag(record["ruling"]),
        "by": None if record["by"] is None else _text(record["by"], 100),
        "comment": _text(record["comment"], 2000, least=0),
        "document": None if checked is None else json.dumps(checked, ensure_ascii=False),
    }


def add_changes(connection: Connection, plan_id: int, changes: Iterable[RuleChange]) -> int:
    """Add the changes that are not here; how many."""
    here = set(connection.scalars(sa.select(RULE_CHANGES.c.uuid)))
    fresh = [change for change in changes if change.uuid not in here]
    for change in fresh:
        add_change(connection, plan_id, change)
    return len(fresh)


def add_takes(connection: Connection, plan_id: int, takes: Iterable[ComingTake]) -> int:
    """Add the takes that are not here; how many."""
    here = set(connection.scalars(sa.select(TAKES.c.uuid)))
    fresh = [take for take in takes if take.uuid not in here]
    for take in fresh:
        name, size, checksum = take.audio or (None, 0, None)
        insert_take(
            connection,
            uuid=take.uuid,
            plan_id=plan_id,
            audio=name,
            bytes=size,
            sha256=checksum,
            **take.values,
        )
    return len(fresh)


def _text(value: Any, longest: int, *, least: int = 1) -> str:
    if not isinstance(value, str) or not least <= len(value) <= longest:
        raise ValueError(f"{value!r:.40} is no text of {least} to {longest} characters")
    return value


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not abs(value) < 1e9:
        raise ValueError(f"{value!r:.40} is no number")
    return float(value)


def _whole(value: Any, low: int, high: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise ValueError(f"{value!r:.40} is not {low} to {high}")
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"{value!r:.40} is neither true nor false")
    return value


def _moment(value: Any) -> datetime:
    if not re.match(r"\d{4}-", _text(value, 40)):
        raise ValueError("no date")
    moment = datetime.fromisoformat(value)
    if moment.tzinfo is None:
        raise ValueError("a date without its zone")
    return moment
