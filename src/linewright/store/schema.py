"""The tables. The migrations build them; a test holds the two against each other."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
)

__all__ = [
    "LICKS",
    "LICK_TAGS",
    "MARKS",
    "METADATA",
    "OUTSIDE",
    "PLANS",
    "RULE_CHANGES",
    "STUDENTS",
    "TAGS",
    "TAKES",
    "VERSIONS",
    "UtcDateTime",
]


class UtcDateTime(TypeDecorator[datetime]):
    """An aware moment, kept as naive UTC so that every database gives the same one back."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """To the database."""
        return value.astimezone(UTC).replace(tzinfo=None) if value is not None else None

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """From the database."""
        return value.replace(tzinfo=UTC) if value is not None else None


METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

#: One row a lick. ``document`` is the lick itself; the other columns are drawn from it and from
#: its analysis, to be searched by.
LICKS = Table(
    "licks",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("uuid", String(36), nullable=False, unique=True),
    Column("title", String(200), nullable=False),
    Column("style", String(100)),
    Column("instrument", String(60)),
    Column("tuning", String(60)),
    Column("meter", String(40), nullable=False),
    Column("source", Text),
    Column("tonic", String(8), nullable=False),
    Column("given_tonic", String(8)),
    Column("frame", String(60), nullable=False),
    Column("frame_label", String(200), nullable=False),
    Column("functions", Text, nullable=False),
    Column("sketch", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("document", Text, nullable=False),
    Column("created", UtcDateTime, nullable=False),
    Column("updated", UtcDateTime, nullable=False),
    Column("deleted", UtcDateTime),
    Index("ix_licks_deleted_created", "deleted", "created"),
)

TAGS = Table(
    "tags",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", String(60), nullable=False, unique=True),
)

LICK_TAGS = Table(
    "lick_tags",
    METADATA,
    Column("lick_id", ForeignKey("licks.id", ondelete="CASCADE"), primary_key=True),
    Column("tag_id", ForeignKey("tags.id", ondelete="CASCADE"), primary_key=True, index=True),
    Column("position", Integer, nullable=False),
)

#: Degrees of the outside notes of a lick, to be searched by.
OUTSIDE = Table(
    "outside_degrees",
    METADATA,
    Column("lick_id", ForeignKey("licks.id", ondelete="CASCADE"), primary_key=True),
    Column("degree", String(8), primary_key=True, index=True),
    Column("position", Integer, nullable=False),
)

#: States a lick was in before each change, for undo.
VERSIONS = Table(
    "versions",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("lick_id", ForeignKey("licks.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("at", UtcDateTime, nullable=False),
    Column("what", String(200), nullable=False),
    Column("snapshot", Text, nullable=False),
)

#: Who practises: names only, no accounts.
STUDENTS = Table(
    "students",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("uuid", String(36), nullable=False, unique=True),
    Column("name", String(100), nullable=False),
    Column("created", UtcDateTime, nullable=False),
    Column("deleted", UtcDateTime),
)

#: A plan as it was given to a student: ``document`` holds all of it, the lick and its music too,
#: so that it stays as it was when the lick is changed or gone. The other columns are drawn from it.
PLANS = Table(
    "plans",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("uuid", String(36), nullable=False, unique=True),
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("lick_id", ForeignKey("licks.id", ondelete="SET NULL"), index=True),
    Column("title", String(200), nullable=False),
    Column("level", String(20), nullable=False),
    Column("length", String(20), nullable=False),
    Column("seed", BigInteger, nullable=False),
    Column("steps", Text, nullable=False),
    Column("document", Text, nullable=False),
    Column("made", UtcDateTime, nullable=False),
    Column("deleted", UtcDateTime),
)

#: What was said of a step and when. The last one of a step that was not taken back counts; what
#: was taken back stays, so that an import does not bring it again.
MARKS = Table(
    "step_marks",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("uuid", String(36), nullable=False, unique=True),
    Column("plan_id", ForeignKey("plans.id", ondelete="CASCADE"), nullable=False),
    Column("step", Integer, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Column("state", String(20), nullable=False),
    Column("by", String(100)),
    Column("comment", Text, nullable=False),
    Column("undone", UtcDateTime),
    Index("ix_step_marks_plan_id_step", "plan_id", "step"),
)

#: What a teacher changed of a step's rules, as JSON; laid over the plan in order, those taken back
#: apart.
RULE_CHANGES = Table(
    "rule_changes",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("uuid", String(36), nullable=False, unique=True),
    Column("plan_id", ForeignKey("plans.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("step", Integer, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Column("by", String(100), nullable=False),
    Column("changes", Text, nullable=False),
    Column("undone", UtcDateTime),
)

#: A take of a step. Its recording is the file ``audio`` in the folder beside the library;
#: ``document`` holds what was heard and the verdict, from which the columns before it are drawn.
TAKES = Table(
    "takes",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("uuid", String(36), nullable=False, unique=True),
    Column("plan_id", ForeignKey("plans.id", ondelete="CASCADE"), nullable=False),
    Column("step", Integer, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Column("state", String(20), nullable=False),
    Column("bpm", Float, nullable=False),
    Column("start_s", Float),
    Column("delay_s", Float),
    Column("click", Boolean, nullable=False),
    Column("audio", String(60)),
    Column("format", String(10), nullable=False),
    Column("bytes", Integer, nullable=False),
    Column("sha256", String(64)),
    Column("seconds", Float),
    Column("passed", Boolean),
    Column("clean", Boolean, nullable=False),
    Column("at_tempo", Boolean, nullable=False),
    Column("grade", String(10)),
    Column("mean_ms", Float),
    Column("spread_ms", Float),
    Column("drift_ms", Float),
    Column("problem", Text, nullable=False),
    Column("document", Text),
    Column("ruling", Boolean),
    Column("by", String(100)),
    Column("comment", Text, nullable=False),
    Column("deleted", UtcDateTime),
    Index("ix_takes_plan_id_step", "plan_id", "step"),
)
