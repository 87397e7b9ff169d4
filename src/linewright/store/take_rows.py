"""Between takes, changes of rules and their rows; everything here runs in an open transaction."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Row

from linewright.errors import NotFound, StoreError
from linewright.store.schema import RULE_CHANGES, TAKES
from linewright.store.take_records import Judgement, KeptTake, RuleChange, Setting, TakeEntry

__all__ = [
    "add_change",
    "changes_of",
    "entries_where",
    "insert_take",
    "judgement_values",
    "setting_values",
    "take_entry",
    "take_whole",
]

#: Bytes that are there of a recording that is coming in, by its name.
Received = Callable[[str], int]
_LISTED = tuple(column for column in TAKES.c if column.name != "document")
_EMPTY: Mapping[str, Any] = {
    "bytes": 0, "clean": False, "at_tempo": False, "problem": "", "comment": "",
}  # fmt: skip


def insert_take(connection: Connection, **values: Any) -> int:
    """Write a take down; its number."""
    key = connection.execute(sa.insert(TAKES).values(**{**_EMPTY, **values})).inserted_primary_key
    if key is None:
        raise StoreError("the database gave the new take no number")
    return int(key[0])


def judgement_values(judgement: Judgement) -> dict[str, Any]:
    """The columns of a judgement."""
    names = (
        "seconds", "passed", "clean", "at_tempo", "grade", "mean_ms", "spread_ms", "drift_ms",
    )  # fmt: skip
    values = {name: getattr(judgement, name) for name in names}
    return values | {"document": json.dumps(dict(judgement.document), ensure_ascii=False)}


def setting_values(setting: Setting) -> dict[str, Any]:
    """The columns of a setting."""
    return {
        "bpm": setting.bpm, "start_s": setting.start_s, "delay_s": setting.delay_s,
        "click": setting.click,
    }  # fmt: skip


def entries_where(
    connection: Connection, wanted: sa.ColumnElement[bool], received: Received
) -> tuple[TakeEntry, ...]:
    """The takes that fit, the first made first."""
    query = sa.select(*_LISTED).where(wanted).order_by(TAKES.c.at, TAKES.c.id)
    return tuple(_entry(row, received) for row in connection.execute(query))


def take_entry(connection: Connection, take_id: int, received: Received) -> TakeEntry:
    """One take; NotFound when there is none of that number."""
    found: tuple[TakeEntry, ...] = ()
    if 0 < take_id < 2**31:
        found = entries_where(connection, TAKES.c.id == take_id, received)
    if not found:
        raise NotFound(
            f"there is no take {take_id} in the library", accepted="See the list of takes"
        )
    return found[0]


def take_whole(connection: Connection, take_id: int, received: Received) -> KeptTake:
    """One take with its document; StoreError when that is damaged."""
    entry = take_entry(connection, take_id, received)
    text = connection.scalar(sa.select(TAKES.c.document).where(TAKES.c.id == take_id))
    try:
        return KeptTake(entry, None if text is None else json.loads(text))
    except ValueError as error:
        raise StoreError(f"the record of take {take_id} is damaged") from error


def _entry(row: Row[Any], received: Received) -> TakeEntry:
    values = dict(row._mapping)
    setting = Setting(
        values.pop("bpm"), values.pop("start_s"), values.pop("delay_s"), values.pop("click")
    )
    if row.state == "recording" and row.audio:
        values["bytes"] = received(row.audio)
    return TakeEntry(**values, setting=setting)


# -- changes of rules --------------------------------------------------------------------
def changes_of(connection: Connection, plan_id: int) -> tuple[RuleChange, ...]:
    """Every change of a plan's rules, the first made first."""
    rows = connection.execute(
        sa.select(RULE_CHANGES)
        .where(RULE_CHANGES.c.plan_id == plan_id)
        .order_by(RULE_CHANGES.c.at, RULE_CHANGES.c.id)
    )
    return tuple(
        RuleChange(row.uuid, row.step, row.at, row.by, json.loads(row.changes), row.undone)
        for row in rows
    )


def add_change(connection: Connection, plan_id: int, change: RuleChange) -> None:
    """Write a change down as it is."""
    connection.execute(
        sa.insert(RULE_CHANGES).values(
            uuid=change.uuid,
            plan_id=plan_id,
            step=change.step,
            at=change.at,
            by=change.by,
            changes=json.dumps(dict(change.changes), ensure_ascii=False),
            undone=change.undone,
        )
    )
