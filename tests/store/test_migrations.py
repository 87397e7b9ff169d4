"""The migrations build exactly the tables that the code uses."""

import sqlite3

import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from store_samples import BLUES, NOON, make_lick

from linewright.store import Library
from linewright.store.schema import METADATA


def test_migrations_and_tables_agree(tmp_path):
    path = tmp_path / "library.db"
    Library.open(path).close()
    engine = sa.create_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []
    engine.dispose()


def test_an_interrupted_first_opening_is_taken_up_again(tmp_path):
    path = tmp_path / "library.db"
    path.touch()
    with Library.open(path) as library:
        kept = library.add(make_lick(), BLUES, now=NOON)
    with Library.open(path) as library:  # opening again migrates nothing and loses nothing
        assert library.get(kept.id) == kept
    raw = sqlite3.connect(path)
    assert raw.execute("SELECT count(*) FROM alembic_version").fetchone() == (1,)
    raw.close()
