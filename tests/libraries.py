"""Libraries for tests, each a copy of one made once: making the tables and a plan takes longest."""

from __future__ import annotations

import sqlite3
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import sqlalchemy as sa

from linewright.services.bring import bring_in
from linewright.services.practising import give_plan
from linewright.services.shelf import keep
from linewright.store import Library, database
from samples import PORCH


@cache
def _empty() -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "library.db"
        Library.open(path).close()
        return path.read_bytes()


@cache
def _planned() -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "library.db"
        with Library.open(path) as library:
            porch = keep(library, bring_in(PORCH.encode()))
            give_plan(library, porch.id, student="Ada Lane", level="beginner")
        return path.read_bytes()


def empty_library(path: Path) -> Library:
    """A library in a new file, with nothing in it."""
    path.write_bytes(_empty())
    return Library.open(path)


def planned_library(path: Path) -> Library:
    """One with the porch lick and, as plan 1, a beginner's plan on it for Ada Lane."""
    path.write_bytes(_planned())
    return Library.open(path)


def memory_library(monkeypatch) -> Library:
    """A library in memory, with nothing in it."""
    data, make = _empty(), database._engine

    def filled(url: sa.URL) -> sa.Engine:
        engine = make(url)

        def fill(connection: sqlite3.Connection, _record: object) -> None:
            connection.deserialize(data)

        sa.event.listen(engine, "connect", fill)
        return engine

    with monkeypatch.context() as patch:
        patch.setattr(database, "_engine", filled)
        return Library.open(":memory:")
