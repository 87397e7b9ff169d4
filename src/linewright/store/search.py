"""Searching: one query built from filters, and the counts beside each filter."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from linewright.store.records import FACETS, Query, SearchResult
from linewright.store.rows import ENTRY_COLUMNS, entries_of, folded
from linewright.store.schema import LICK_TAGS, LICKS, OUTSIDE, TAGS

__all__ = ["run"]

_ORDER: dict[str, tuple[Any, ...]] = {
    "newest": (LICKS.c.created.desc(), LICKS.c.id.desc()),
    "oldest": (LICKS.c.created, LICKS.c.id),
    "changed": (LICKS.c.updated.desc(), LICKS.c.id.desc()),
    "title": (sa.func.lower(LICKS.c.title), LICKS.c.id),
    "frame": (LICKS.c.frame, LICKS.c.tonic, sa.func.lower(LICKS.c.title), LICKS.c.id),
}


def run(connection: Connection, query: Query) -> SearchResult:
    """The licks a query finds, how many there are, and the counts of every facet."""
    conditions = {facet: _facet(facet, query) for facet in FACETS}
    base = [LICKS.c.deleted.is_(None), *_text(query.text)]
    where = [*base, *(c for c in conditions.values() if c is not None)]
    total = connection.scalar(sa.select(sa.func.count()).select_from(LICKS).where(*where)) or 0
    select = sa.select(*ENTRY_COLUMNS).where(*where).order_by(*_ORDER[query.sort])
    if query.limit is not None:
        select = select.limit(query.limit)
    if query.offset:
        select = select.offset(query.offset)
        if query.limit is None:
            select = select.limit(total)
    entries = entries_of(connection, connection.execute(select).all())
    facets = {}
    for facet in FACETS:
        others = [c for name, c in conditions.items() if name != facet and c is not None]
        facets[facet] = _counts(connection, facet, [*base, *others])
    return SearchResult(entries, total, facets)


def _text(text: str) -> list[sa.ColumnElement[bool]]:
    return [LICKS.c.words.contains(word, autoescape=True) for word in folded(text).split()]


def _facet(facet: str, query: Query) -> sa.ColumnElement[bool] | None:
    value = query.chosen(facet)
    if value is None:
        return None
    if facet == "tag":
        carriers = (
            sa.select(LICK_TAGS.c.lick_id)
            .join(TAGS, TAGS.c.id == LICK_TAGS.c.tag_id)
            .where(sa.func.lower(TAGS.c.name) == value.lower())
        )
        return LICKS.c.id.in_(carriers)
    if facet == "outside":
        return LICKS.c.id.in_(sa.select(OUTSIDE.c.lick_id).where(OUTSIDE.c.degree == value))
    return sa.func.lower(LICKS.c[facet]) == value.lower()


def _counts(
    connection: Connection, facet: str, where: list[sa.ColumnElement[bool]]
) -> tuple[tuple[str, int], ...]:
    count = sa.func.count(sa.distinct(LICKS.c.id)).label("n")
    if facet == "tag":
        value: sa.ColumnElement[Any] = TAGS.c.name
        source: sa.FromClause = LICKS.join(LICK_TAGS, LICK_TAGS.c.lick_id == LICKS.c.id).join(
            TAGS, TAGS.c.id == LICK_TAGS.c.tag_id
        )
    elif facet == "outside":
        value = OUTSIDE.c.degree
        source = LICKS.join(OUTSIDE, OUTSIDE.c.lick_id == LICKS.c.id)
    else:
        value = LICKS.c[facet]
        source = LICKS
    rows = connection.execute(
        sa.select(value, count)
        .select_from(source)
        .where(*where, value.is_not(None))
        .group_by(value)
        .order_by(count.desc(), value)
    )
    return tuple((str(name), int(n)) for name, n in rows)
