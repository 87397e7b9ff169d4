"""Opening a database: the engine, the migrations, and errors in our own words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from threading import Lock
from typing import Any

import sqlalchemy as sa
from sqlalchemy import exc
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.pool import StaticPool

from linewright.errors import StoreError

__all__ = ["Database"]

#: Seconds a writer waits for another program to finish with the file.
_BUSY_SECONDS = 10


class Database:
    """An open, migrated database. All writing goes through :meth:`writing`, one at a time."""

    def __init__(self, where: str | Path) -> None:
        self.url = _url(where)
        self.shown = self.url.database or ":memory:"
        if self.url.get_backend_name() != "sqlite":
            self.shown = self.url.render_as_string(hide_password=True)
        self._lock = Lock()
        #: Held while a recording in the folder of takes grows.
        self.files_lock = Lock()
        with self._translated():
            self._engine = _engine(self.url)
        self._migrate()

    @property
    def beside(self) -> Path | None:
        """The folder of takes beside the library's file; None for a library without a file."""
        name = self.url.database
        if self.url.get_backend_name() != "sqlite" or name in (None, "", ":memory:"):
            return None
        path = Path(str(name))
        return path.with_name(f"{path.stem}-takes")

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection for looking only."""
        with self._translated(), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection whose changes are all kept, or none when anything fails."""
        with self._lock, self._translated(), self._engine.begin() as connection:
            yield connection

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    @contextmanager
    def _translated(self) -> Iterator[None]:
        try:
            yield
        except exc.SQLAlchemyError as error:
            cause = getattr(error, "orig", None) or error
            raise StoreError(
                f"the library {self.shown} cannot be used: {str(cause).splitlines()[0]}",
                accepted=_advice(str(cause)),
            ) from error

    def _migrate(self) -> None:
        # Alembic costs time to import; only opening a library pays for it.
        from alembic import command
        from alembic.config import Config
        from alembic.migration import MigrationContext
        from alembic.script import ScriptDirectory
        from alembic.util import CommandError

        with resources.as_file(resources.files("linewright.store") / "migrations") as folder:
            config = Config()
            config.set_main_option("script_location", str(folder).replace("%", "%%"))
            scripts = ScriptDirectory.from_config(config)
            with self.reading() as connection:
                current = MigrationContext.configure(connection).get_current_revision()
                names = set(sa.inspect(connection).get_table_names())
            if current == scripts.get_current_head():
                return
            if current is None and names:
                raise StoreError(
                    f"{self.shown} is a database of some other program",
                    accepted="Name a library file, or one that does not exist yet",
                )
            if current is not None and current not in {
                s.revision for s in scripts.walk_revisions()
            }:
                raise StoreError(
                    f"the library {self.shown} was made by a newer Linewright",
                    accepted="Install the newer version to open it",
                )
            with self.writing() as connection:
                config.attributes["connection"] = connection
                try:
                    command.upgrade(config, "head")
                except CommandError as error:
                    raise StoreError(
                        f"the library {self.shown} cannot be brought up to date: {error}"
                    ) from error


def _url(where: str | Path) -> URL:
    if isinstance(where, str) and "://" in where:
        try:
            return make_url(where)
        except (exc.ArgumentError, ValueError) as error:
            raise StoreError(
                "the library's address cannot be read",
                accepted="Name a file, or a database URL such as postgresql+psycopg://host/name",
            ) from error
    if str(where) == ":memory:":
        return URL.create("sqlite")
    path = Path(where).expanduser()
    if path.is_dir():
        raise StoreError(f"{path} is a folder", accepted="Name the library file inside it")
    if not path.parent.is_dir():
        raise StoreError(f"there is no folder {path.parent}", accepted="Make the folder first")
    return URL.create("sqlite", database=str(path))


def _engine(url: URL) -> Engine:
    if url.get_backend_name() != "sqlite":
        try:
            return sa.create_engine(url, pool_pre_ping=True)
        except (ModuleNotFoundError, exc.NoSuchModuleError) as error:
            raise StoreError(
                f"the driver for {url.drivername} is not installed",
                accepted=f"Install the Python package for {url.drivername.split('+')[-1]}",
            ) from error
    options: dict[str, Any] = {
        "connect_args": {"check_same_thread": False, "timeout": _BUSY_SECONDS}
    }
    if url.database in (None, "", ":memory:"):
        options["poolclass"] = StaticPool
    engine = sa.create_engine(url, **options)
    sa.event.listen(engine, "connect", _set_up_sqlite)
    return engine


def _set_up_sqlite(connection: Any, _record: Any) -> None:
    """Keep the library one complete file at all times: no write-ahead log beside it."""
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.execute("PRAGMA journal_mode = DELETE")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.close()


def _advice(cause: str) -> str | None:
    lowered = cause.lower()
    if "not a database" in lowered:
        return "Name a library file; this is something else"
    if "locked" in lowered:
        return "Another program is using the file; try again when it has finished"
    if "readonly" in lowered or "unable to open" in lowered:
        return "Check that you may read and write the file and its folder"
    if "malformed" in lowered:
        return "The file is damaged; go back to a copy or an export"
    return None
