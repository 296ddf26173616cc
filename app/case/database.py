"""A SQLite file that is a case: how it is opened and held, its version, and what it says when it cannot.

The file is held by one program at a time. Reading and writing is serialised by a lock, since captures are put in by
a thread of their own.
"""

from __future__ import annotations

import sqlite3
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from app.case import schema
from app.case.errors import CaseBusy, CaseDamaged, CaseError, CaseReadOnly, CaseTooNew, DiskFull

SUFFIX = ".twinslot"
LONGEST_ROW_BYTES = 64 << 20
"""No row of a case is longer: parts of a capture have 4 MiB, the record of a comparison a few."""
SYNCHRONOUS = "FULL"
"""A change is on the disk before the next one begins, so that a loss of power takes none that was told as kept."""
_FULL = (sqlite3.SQLITE_FULL,)
_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_UNWRITABLE = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT)
Kind = TypeVar("Kind", bound="CaseDatabase")


class CaseDatabase:
    """The connection and its lock. ``path`` is None for a case in memory; ``read_only`` where nothing can be kept."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None, read_only: bool = False) -> None:
        self._connection = connection
        self.path = path
        self.read_only = read_only
        self._lock = threading.RLock()

    # ---- opening and closing

    @classmethod
    def _held(cls: type[Kind], path: Path, fresh: bool, look_only: bool) -> Kind:
        """The file, held for writing, or open for reading where it cannot be written; its tables are of today."""
        if not fresh:
            cls._refuse_strangers(path)
        store = None if look_only else cls._writable(path, fresh)
        if store is None:
            store = cls._readable(path)
        try:
            with store._caught():
                version = store._version()
                if not store.read_only and version < schema.VERSION:
                    store._grow(version)
        except CaseError:
            store._connection.close()
            raise
        return store

    @classmethod
    def _refuse_strangers(cls, path: Path) -> None:
        """Raises where the file is none of ours or too new, before anything is written to it."""
        store = cls._readable(path)
        try:
            with store._caught():
                store._version()
        except CaseReadOnly:
            # a change was cut off by a kill: only who may write can take it back, and looks again then
            return
        finally:
            store._connection.close()

    @classmethod
    def _writable(cls: type[Kind], path: Path, fresh: bool) -> Kind | None:
        """The file opened and held for writing; None where it can be read only."""
        connection = _connect(path, "rwc" if fresh else "rw")
        store = cls(connection, path)
        try:
            if fresh:
                connection.execute(f"PRAGMA page_size={schema.PAGE_BYTES}")
            connection.execute("PRAGMA locking_mode=EXCLUSIVE")
            connection.execute(f"PRAGMA synchronous={SYNCHRONOUS}")
            connection.execute("BEGIN EXCLUSIVE")
            # a write of nothing new: only it shows whether the journal can be made beside the file
            version = connection.execute("PRAGMA user_version").fetchone()[0]
            connection.execute(f"PRAGMA user_version={version}")
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            connection.close()
            if _primary(error) in _UNWRITABLE and not fresh:
                return None
            raise store._told(error) from error
        return store

    @classmethod
    def _readable(cls: type[Kind], path: Path) -> Kind:
        try:
            return cls(_connect(path, "ro"), path, read_only=True)
        except sqlite3.Error as error:
            raise CaseError(f"{path}: cannot be opened ({error}). Check the path and its permissions.") from error

    def _version(self) -> int:
        """The version of the tables; raises where the file is none of ours or too new."""
        version = int(self._connection.execute("PRAGMA user_version").fetchone()[0])
        mark = int(self._connection.execute("PRAGMA application_id").fetchone()[0])
        tables = self._connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if tables and mark != schema.APPLICATION_ID:
            raise CaseError(f"{self.path}: found a database of another program; expected a case. Name another file.")
        if version > schema.VERSION:
            raise CaseTooNew(
                f"{self.path}: found a case of version {version}; this program knows up to {schema.VERSION}. "
                "Nothing was changed. Open it with a newer Twinslot."
            )
        if tables or version:
            self._refuse_strange_objects(version)
        return version

    def _refuse_strange_objects(self, version: int) -> None:
        """Raises where the file holds more than the tables of a case: a trigger or a view could change or drop what is
        written, or never end."""
        expected, found = schema.objects(version), frozenset(schema.found_objects(self._connection))
        strange = sorted(f"{kind} {name}" for kind, name, _ in found - expected)
        if strange:
            raise CaseError(
                f"{self.path}: found the {strange[0]} in it, which is not as a case has it. Somebody may have altered "
                "it. Nothing was read or written. "
                f"Ask for another copy, or take over what is sound: twinslot rescue {self.path} NEW{SUFFIX}"
            )
        lacking = sorted(name for _, name, _ in expected - found)
        if lacking:
            raise CaseDamaged(
                f"{self.path}: the table {lacking[0]} is lacking. Nothing was changed. "
                f"Recover what can be read: twinslot rescue {self.path} NEW{SUFFIX}"
            )

    def _grow(self, version: int) -> None:
        """Brings the tables to today's version, in one transaction."""
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            for step in schema.STEPS[version:]:
                for statement in step.split(";"):
                    if statement.strip():
                        self._connection.execute(statement)
            self._connection.execute(f"PRAGMA application_id={schema.APPLICATION_ID}")
            self._connection.execute(f"PRAGMA user_version={schema.VERSION}")
            self._connection.execute("COMMIT")
        except sqlite3.Error:
            self._rollback()
            raise

    def close(self) -> None:
        """Lets go of the file. All that was kept is in it."""
        with self._lock:
            self._connection.close()

    # ---- transactions and errors

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with self._lock:
            if self.read_only:
                raise CaseReadOnly(
                    f"{self.path}: can be read only, so the change was not kept. "
                    "Copy the case to a place that can be written and open it there."
                )
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                self._rollback()
                raise

    def _rollback(self) -> None:
        if self._connection.in_transaction:
            self._connection.execute("ROLLBACK")

    @contextmanager
    def _caught(self) -> Iterator[None]:
        """Whatever SQLite says becomes one sentence."""
        with self._lock:
            try:
                yield
            except sqlite3.Error as error:
                raise self._told(error) from error

    def _told(self, error: sqlite3.Error) -> CaseError:
        code, where = _primary(error), self.path or "The case"
        if code in _FULL:
            return DiskFull(f"{where}: the disk is full, so the last change was not kept; all before it is. Make room.")
        if code in _BUSY:
            return CaseBusy(f"{where}: is open in another window or command. Close it there, then open it here.")
        if code in _DAMAGED:
            return CaseDamaged(
                f"{where}: found bytes that are no sound case file. Nothing was changed. "
                f"Recover what can be read: twinslot rescue {where} NEW{SUFFIX}"
            )
        if code in _UNWRITABLE:
            return CaseReadOnly(f"{where}: cannot be written ({error}). Choose another place or free the folder.")
        if code == sqlite3.SQLITE_IOERR:
            return CaseError(
                f"{where}: the disk gave an error ({error}). The last change was not kept. Check the disk."
            )
        return CaseDamaged(f"{where}: cannot be used ({error}). Recover what can be read: twinslot rescue {where} NEW")


def _primary(error: sqlite3.Error) -> int:
    """The primary result code; the bits above it only tell more."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    try:
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode={mode}",
            uri=True,
            isolation_level=None,
            check_same_thread=False,
            timeout=0.3,
        )
    except sqlite3.Error as error:
        raise CaseError(f"{path}: cannot be opened ({error}). Check the path and its permissions.") from error
    guard(connection)
    return connection


def guard(connection: sqlite3.Connection) -> None:
    """A file may come from anybody: nothing written in it is run, and no row is larger than any of ours."""
    connection.execute("PRAGMA trusted_schema=OFF")
    connection.execute("PRAGMA cell_size_check=ON")
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_ROW_BYTES)
    connection.setlimit(sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH, 0)
    connection.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
    if sys.version_info >= (3, 12):
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_DEFENSIVE, True)
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_ENABLE_TRIGGER, False)
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_ENABLE_VIEW, False)


def check_place(path: Path, fresh: bool, make: bool) -> None:
    """One sentence where no case can lie at this path."""
    if path.is_dir():
        raise CaseError(
            f"{path}: is a folder; expected a case file. Name a file in it, such as {path / 'case'}{SUFFIX}."
        )
    if fresh and not make:
        raise CaseError(f"{path}: there is no such case. Check the name, or make it: twinslot open {path}")
    if fresh and not path.absolute().parent.is_dir():
        raise CaseError(f"{path}: the folder {path.absolute().parent} is not there. Make it, or choose another place.")
