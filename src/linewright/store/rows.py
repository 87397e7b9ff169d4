"""Between a lick and its row: the one place where columns are filled and read."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Row

from linewright.errors import LinewrightError, OptionError, StoreError
from linewright.formats.lickjson import lick_from_dict, lick_to_dict
from linewright.score import Lick
from linewright.store.records import Dash, Entry, Facts, Kept
from linewright.store.schema import LICK_TAGS, LICKS, OUTSIDE, TAGS, VERSIONS

__all__ = [
    "ENTRY_COLUMNS",
    "columns_for",
    "entries_of",
    "folded",
    "kept_of",
    "lick_from_text",
    "lick_to_text",
    "set_outside",
    "set_tags",
]

ENTRY_COLUMNS = tuple(
    column for column in LICKS.c if column.name not in ("document", "words", "deleted")
)
_LONGEST_TAG = 60


def folded(text: str) -> str:
    """Text as it is compared: lower case, without accents, signs for sharp and flat plain."""
    plain = text.replace("♭", "b").replace("♯", "#")
    stripped = "".join(
        char for char in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(char)
    )
    return " ".join(stripped.casefold().split())


def lick_to_text(lick: Lick) -> str:
    """The lick as the JSON kept in the library."""
    return json.dumps(lick_to_dict(lick), ensure_ascii=False)


def lick_from_text(text: str, title: str) -> Lick:
    """Read :func:`lick_to_text` back; raises StoreError when the row is damaged."""
    try:
        return lick_from_dict(json.loads(text))
    except (LinewrightError, ValueError) as error:
        raise StoreError(f"the record of the lick {title!r} is damaged: {error}") from error


def columns_for(lick: Lick, facts: Facts, given_tonic: str | None) -> dict[str, Any]:
    """Every column that follows from the lick itself."""
    instrument = lick.instrument
    chords = dict.fromkeys(str(span.symbol) for span in lick.chords if span.symbol)
    words = " ".join(
        filter(
            None,
            (
                lick.title,
                lick.style,
                lick.source,
                *lick.tags,
                instrument.name if instrument else None,
                instrument.tuning if instrument else None,
                f"capo {instrument.capo}" if instrument and instrument.capo else None,
                lick.meter.text,
                lick.key.name if lick.key else None,
                facts.frame_label,
                facts.frame,
                *chords,
                *facts.outside,
                *facts.functions,
            ),
        )
    )
    return {
        "title": _clip(lick.title, 200),
        "style": _clip(lick.style, 100),
        "instrument": _clip(instrument.name, 60) if instrument else None,
        "tuning": _clip(instrument.tuning, 60) if instrument else None,
        "meter": _clip(lick.meter.text, 40),
        "source": lick.source,
        "tonic": facts.tonic,
        "given_tonic": given_tonic,
        "frame": facts.frame,
        "frame_label": _clip(facts.frame_label, 200),
        "functions": json.dumps(list(facts.functions)),
        "sketch": json.dumps(facts.sketch),
        "words": folded(words),
        "document": lick_to_text(lick),
    }


def _clip(text: str | None, longest: int) -> str | None:
    if text is None or len(text) <= longest:
        return text
    return text[: longest - 1] + "…"


def set_tags(connection: Connection, lick_id: int, tags: Sequence[str]) -> None:
    """Make these the tags of a lick, in this order; a tag no lick carries goes away."""
    removed = connection.execute(sa.delete(LICK_TAGS).where(LICK_TAGS.c.lick_id == lick_id))
    for position, name in enumerate(dict.fromkeys(tags)):
        if not name.strip() or len(name) > _LONGEST_TAG:
            raise OptionError(
                f"{name[:80]!r} is not a tag", accepted=f"Use 1 to {_LONGEST_TAG} characters"
            )
        tag_id = connection.scalar(sa.select(TAGS.c.id).where(TAGS.c.name == name))
        if tag_id is None:
            tag_id = _new_id(connection.execute(sa.insert(TAGS).values(name=name)))
        connection.execute(
            sa.insert(LICK_TAGS).values(lick_id=lick_id, tag_id=tag_id, position=position)
        )
    if removed.rowcount:
        connection.execute(sa.delete(TAGS).where(TAGS.c.id.not_in(sa.select(LICK_TAGS.c.tag_id))))


def set_outside(connection: Connection, lick_id: int, degrees: Sequence[str]) -> None:
    """Make these the outside degrees a lick is found by."""
    connection.execute(sa.delete(OUTSIDE).where(OUTSIDE.c.lick_id == lick_id))
    rows = [
        {"lick_id": lick_id, "degree": degree, "position": position}
        for position, degree in enumerate(dict.fromkeys(degrees))
    ]
    if rows:
        connection.execute(sa.insert(OUTSIDE), rows)


def _new_id(result: Any) -> int:
    return int(result.inserted_primary_key[0])


def entries_of(connection: Connection, rows: Sequence[Row[Any]]) -> tuple[Entry, ...]:
    """List entries for rows of :data:`ENTRY_COLUMNS`, with tags and outside degrees."""
    ids = [row.id for row in rows]
    tags = _grouped(
        connection,
        sa.select(LICK_TAGS.c.lick_id, TAGS.c.name)
        .join(TAGS, TAGS.c.id == LICK_TAGS.c.tag_id)
        .order_by(LICK_TAGS.c.position),
        LICK_TAGS.c.lick_id,
        ids,
    )
    outside = _grouped(
        connection,
        sa.select(OUTSIDE.c.lick_id, OUTSIDE.c.degree).order_by(OUTSIDE.c.position),
        OUTSIDE.c.lick_id,
        ids,
    )
    return tuple(
        Entry(
            id=row.id,
            uuid=row.uuid,
            title=row.title,
            style=row.style,
            instrument=row.instrument,
            tuning=row.tuning,
            meter=row.meter,
            source=row.source,
            tags=tuple(tags.get(row.id, ())),
            facts=Facts(
                row.tonic,
                row.frame,
                row.frame_label,
                tuple(outside.get(row.id, ())),
                tuple(json.loads(row.functions)),
                tuple(Dash(*dash) for dash in json.loads(row.sketch)),
            ),
            created=row.created,
            updated=row.updated,
        )
        for row in rows
    )


def _grouped(
    connection: Connection, query: Any, column: sa.ColumnElement[Any], ids: Sequence[int]
) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for start in range(0, len(ids), 500):  # databases limit the length of a list of parameters
        for lick_id, value in connection.execute(query.where(column.in_(ids[start : start + 500]))):
            found.setdefault(lick_id, []).append(value)
    return found


def kept_of(connection: Connection, row: Row[Any], lick: Lick | None = None) -> Kept:
    """A whole lick for a full row; ``lick`` is its document where that is at hand already."""
    (entry,) = entries_of(connection, [row])
    changes = connection.scalar(
        sa.select(sa.func.count()).select_from(VERSIONS).where(VERSIONS.c.lick_id == row.id)
    )
    deleted: datetime | None = row.deleted
    whole = lick if lick is not None else lick_from_text(row.document, row.title)
    return Kept(entry, whole, row.given_tonic, deleted, changes or 0)
