"""One connection to a history, in SQLite or PostgreSQL: the same queries, the same errors, the schema kept up to date.

Queries are written with `?`; the PostgreSQL side turns it into its own style. No WAL: it does not work on the network file
systems that home folders lie on (SQLite's own documentation of write-ahead logging, "Disadvantages").
"""

from __future__ import annotations

import os
from contextlib import contextmanager, suppress
from itertools import chain
from typing import TYPE_CHECKING, Any, Protocol

from logdoctor.memory.history.errors import HistoryBusyError, HistoryError
from logdoctor.memory.history.schema import ABOUT, ASK_VERSION, SET_VERSION, STEPS, VERSION

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    import psycopg

    from logdoctor.memory.history.place import Place

__all__ = ["Store", "opened"]

Row = tuple[Any, ...]
_MIN_SECONDS_TO_CONNECT = 2  # libpq takes a shorter time limit as this one


class _Side(Protocol):
    """What differs between the two kinds of database."""

    def execute(self, query: str, values: Sequence[object] = ()) -> list[Row]:
        """Run a query written with `?`; all its rows."""

    def begin(self, *, writing: bool) -> None:
        """Open a transaction; a writing one has the only right to write until it ends."""

    def end(self, *, keep: bool) -> None:
        """Commit or roll back."""

    def has_table(self, name: str) -> bool:
        """Whether the table is there."""

    def is_foreign(self) -> bool:
        """Whether tables of something else are there, so that this is no place for a history."""

    def close(self) -> None:
        """Close the connection."""


class Store:
    """A history that is open."""

    def __init__(self, side: _Side, name: str) -> None:
        self._side = side
        self._name = name

    def rows(self, query: str, values: Sequence[object] = ()) -> list[Row]:
        """The rows of a query."""
        return self._side.execute(query, values)

    @contextmanager
    def transaction(self, *, writing: bool) -> Iterator[None]:
        """All or nothing; a reading one on a history that is not up to date brings it up to date first."""
        if not writing and self._version() < VERSION:
            with self.transaction(writing=True):
                pass
        self._side.begin(writing=writing)
        try:
            if writing:
                self._migrate()
            yield
        except BaseException:
            with suppress(Exception):
                self._side.end(keep=False)
            raise
        self._side.end(keep=True)

    def _version(self) -> int:
        if not self._side.has_table(ABOUT):
            if self._side.is_foreign():
                raise HistoryError(self._name, "is another program's database", "name another file with --history")
            return 0
        found = self.rows(ASK_VERSION)
        version = int(found[0][0]) if found and str(found[0][0]).isdecimal() else 0
        if version > VERSION:
            raise HistoryError(
                self._name,
                f"was written by a newer version of logdoctor (schema {version}; this one knows up to {VERSION})",
                "update logdoctor, or name another history with --history",
            )
        return version

    def _migrate(self) -> None:
        """Inside the writing transaction, so that of several that find an old schema one changes it."""
        version = self._version()
        if version == VERSION:
            return
        for statement in (*chain.from_iterable(STEPS[version:]), *SET_VERSION):
            self._side.execute(statement)


@contextmanager
def opened(place: Place, *, patience: float) -> Iterator[Store]:
    """The history at a place; `patience` is how long to wait for a lock, in seconds."""
    side: _Side = _Postgres(place, patience) if place.server else _Sqlite(place, patience)
    try:
        yield Store(side, place.name)
    finally:
        with suppress(Exception):
            side.close()


class _Sqlite:
    """A file, opened by the standard library; it is made when it is not there."""

    def __init__(self, place: Place, patience: float) -> None:
        import sqlite3

        if place.file is None:
            raise HistoryError("history", "has no place", "name a file with --history")
        self._name = place.name
        self._errors = sqlite3.Error
        _make_private(place.file)
        with self._worded():
            # Transactions are opened by hand: the module's own would begin them too late for a migration.
            self._connection: sqlite3.Connection = sqlite3.connect(
                place.file, timeout=patience, isolation_level=None, check_same_thread=False
            )
            self._connection.execute("PRAGMA secure_delete = ON")  # what is forgotten is not left in the file

    def execute(self, query: str, values: Sequence[object] = ()) -> list[Row]:
        with self._worded():
            return self._connection.execute(query, tuple(values)).fetchall()

    def begin(self, *, writing: bool) -> None:
        self.execute("BEGIN IMMEDIATE" if writing else "BEGIN")

    def end(self, *, keep: bool) -> None:
        self.execute("COMMIT" if keep else "ROLLBACK")

    def has_table(self, name: str) -> bool:
        return bool(self.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", [name]))

    def is_foreign(self) -> bool:
        return bool(self.execute("SELECT 1 FROM sqlite_master LIMIT 1"))

    def close(self) -> None:
        self._connection.close()

    @contextmanager
    def _worded(self) -> Iterator[None]:
        try:
            yield
        except self._errors as error:
            raise _sqlite_error(self._name, error) from error


def _sqlite_error(name: str, error: sqlite3.Error) -> HistoryError:
    """By the primary result code (SQLite's documentation of its result codes)."""
    import sqlite3

    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
        return HistoryError(name, "is no history, or a damaged one", "name another file with --history")
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return HistoryError(name, "can't be written", "name a file that can with --history")
    if code == sqlite3.SQLITE_FULL:
        return HistoryBusyError(name, "the disk is full", "make room")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL):
        return HistoryBusyError(name, "another process holds it", "try again")
    if code == sqlite3.SQLITE_IOERR:
        return HistoryBusyError(name, "the disk or the network file system gave an error", "try again")
    return HistoryError(name, f"can't be used ({type(error).__name__})", "name another file with --history")


def _make_private(file: Path) -> None:
    """A new file, and a new folder for it, are the user's alone."""
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with suppress(FileExistsError):
            os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except OSError as error:
        problem = f"can't be written ({error.strerror})"
        raise HistoryError(str(file), problem, "name a file that can with --history") from error


class _Postgres:
    """A team's database, through `psycopg`."""

    def __init__(self, place: Place, patience: float) -> None:
        try:
            import psycopg
        except ImportError as error:
            mend = "install logdoctor with its extra: logdoctor[postgres]"
            raise HistoryError(place.name, "needs the package psycopg", mend) from error
        self._errors = psycopg.Error
        self._lost = (psycopg.OperationalError, psycopg.errors.QueryCanceled, psycopg.errors.LockNotAvailable)
        self._refused = (psycopg.errors.InsufficientPrivilege, psycopg.errors.ReadOnlySqlTransaction)
        self._name = place.name
        limit = max(1, int(patience * 1000))
        with self._worded():
            self._connection: psycopg.Connection[Row] = psycopg.connect(
                str(place.server),
                autocommit=True,
                connect_timeout=max(_MIN_SECONDS_TO_CONNECT, int(patience)),
                options=f"-c lock_timeout={limit} -c statement_timeout={limit * 10}",
            )

    def execute(self, query: str, values: Sequence[object] = ()) -> list[Row]:
        with self._worded():
            # No query holds a `?` or a `%` of its own, so the styles differ by the sign alone.
            cursor = self._connection.execute(query.replace("?", "%s").encode(), list(values))
            return cursor.fetchall() if cursor.description else []

    def begin(self, *, writing: bool) -> None:
        self.execute("BEGIN")
        if writing and not self._ready():
            self.execute("SELECT pg_advisory_xact_lock(7210348)")  # any number of our own: one process makes the tables

    def _ready(self) -> bool:
        if not self.has_table(ABOUT):
            return False
        return self.execute(ASK_VERSION) == [(str(VERSION),)]

    def end(self, *, keep: bool) -> None:
        self.execute("COMMIT" if keep else "ROLLBACK")

    def has_table(self, name: str) -> bool:
        return bool(
            self.execute("SELECT 1 FROM pg_tables WHERE schemaname = current_schema() AND tablename = ?", [name])
        )

    def is_foreign(self) -> bool:
        return False  # a database may hold other tables; ours have names of their own

    def close(self) -> None:
        self._connection.close()

    @contextmanager
    def _worded(self) -> Iterator[None]:
        """The server's own words may hold the address or a name, so they are left out."""
        try:
            yield
        except self._refused as error:
            raise HistoryError(self._name, "the account may not write there", "ask its owner for the right") from error
        except self._lost as error:
            raise HistoryBusyError(
                self._name, "does not answer, or refuses the account", "check its address"
            ) from error
        except self._errors as error:
            problem = f"can't be used ({type(error).__name__})"
            raise HistoryError(self._name, problem, "check the address and the account's rights") from error
