"""The case file: one SQLite file in which every change is one transaction.

Nothing waits to be saved. A change is kept when ``keep`` returns; one that fails leaves file and case as they were.
The file is held by one program at a time. Reading and writing is serialised by a lock, since captures are put in by
a thread of their own.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from app.case import schema
from app.case.errors import CaseBusy, CaseDamaged, CaseError, CaseReadOnly, CaseTooNew, DiskFull
from app.case.items import Key, case_of, differences, items_of
from app.case.record import OpenCase
from app.case.values import now

SUFFIX = ".twinslot"
_FULL = (sqlite3.SQLITE_FULL,)
_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_UNWRITABLE = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT)


@dataclass(frozen=True, slots=True)
class Step:
    """One change in the case's history."""

    n: int
    at: str
    author: str
    words: str
    standing: str


@dataclass(frozen=True, slots=True)
class SavedComparison:
    """A comparison's result as it was kept: when, for which question, and its record as JSON text."""

    at: str
    question: str
    record: str


class CaseStore:
    """An open case file. ``path`` is None for a case that lives in memory only."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None, read_only: bool = False) -> None:
        self._connection = connection
        self.path = path
        self.read_only = read_only
        self._lock = threading.RLock()
        self._items: dict[Key, str] = {}
        self.trouble: tuple[str, ...] = ()
        self.saved_at = ""

    # ---- opening and closing

    @classmethod
    def in_memory(cls) -> CaseStore:
        """A case without a file; ``copy_to`` gives it one."""
        store = cls(sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False), None)
        store._grow(0)
        store._begin_empty("")
        return store

    @classmethod
    def open(cls, path: str | Path, *, make: bool = True, author: str = "", look_only: bool = False) -> CaseStore:
        """Opens a case file, or makes it where there is none and ``make`` allows it.

        Where it cannot be written, or with ``look_only``, it is opened for reading (``read_only``) and not held.
        Raises CaseError where that fails too.
        """
        path = Path(path)
        fresh = not path.exists() or (path.is_file() and path.stat().st_size == 0)
        _check_place(path, fresh, make and not look_only)
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
                if fresh:
                    store._begin_empty(author)
                store._sweep()
        except CaseError:
            store._connection.close()
            if fresh:
                path.unlink(missing_ok=True)
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
    def _writable(cls, path: Path, fresh: bool) -> CaseStore | None:
        """The file opened and held for writing; None where it can be read only."""
        connection = _connect(path, "rwc" if fresh else "rw")
        store = cls(connection, path)
        try:
            if fresh:
                connection.execute(f"PRAGMA page_size={schema.PAGE_BYTES}")
            connection.execute("PRAGMA locking_mode=EXCLUSIVE")
            connection.execute("PRAGMA synchronous=FULL")
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
    def _readable(cls, path: Path) -> CaseStore:
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
        return version

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

    def _begin_empty(self, author: str) -> None:
        """A new case knows who opened it and when, and has an identity of its own."""
        case = OpenCase(identity=secrets.token_hex(8), opened_at=now(), opened_by=author)
        with self._transaction():
            for key, text in items_of(case).items():
                self._put(key, text)

    def _sweep(self) -> None:
        """Parts of a capture whose putting-in was cut off are of no use."""
        if self.read_only:
            return
        with self._transaction():
            half = "SELECT sha256 FROM blob WHERE whole = 0"
            self._connection.execute(f"DELETE FROM blob_part WHERE sha256 IN ({half})")
            self._connection.execute("DELETE FROM blob WHERE whole = 0")

    def close(self) -> None:
        """Lets go of the file. All that was kept is in it."""
        with self._lock:
            self._connection.close()

    # ---- the case

    def read(self) -> OpenCase:
        """The case as it stands; ``trouble`` names what could not be read."""
        with self._caught():
            rows = self._connection.execute("SELECT kind, id, body FROM item").fetchall()
            last = self._connection.execute("SELECT at FROM change ORDER BY n DESC LIMIT 1").fetchone()
        self._items = {(kind, number): body for kind, number, body in rows}
        self.saved_at = last[0] if last else ""
        case, self.trouble = case_of(self._items)
        return case

    def keep(self, words: str, author: str, case: OpenCase) -> None:
        """Keeps a changed case: one transaction with what changed, who changed it and how it was before."""
        fresh = items_of(case)
        at = now()
        with self._caught(), self._transaction():
            self._connection.execute("UPDATE change SET standing = 'left' WHERE standing = 'undone'")
            n = self._connection.execute(
                "INSERT INTO change(at, author, words, standing) VALUES(?, ?, ?, 'done')", (at, author, words)
            ).lastrowid
            for key, before, after in differences(self._items, fresh):
                self._connection.execute("INSERT INTO change_item VALUES(?, ?, ?, ?, ?)", (n, *key, before, after))
                self._put(key, after)
        self._items, self.saved_at = fresh, at

    def undo(self) -> tuple[str, OpenCase] | None:
        """Takes the newest change back; its words and the case before it, or None where there is none."""
        return self._turn("done", "undone", "before", "DESC")

    def redo(self) -> tuple[str, OpenCase] | None:
        """Does the change again that was taken back last."""
        return self._turn("undone", "done", "after", "ASC")

    def _turn(self, found: str, then: str, column: str, order: str) -> tuple[str, OpenCase] | None:
        query = f"SELECT n, words FROM change WHERE standing = ? ORDER BY n {order} LIMIT 1"
        with self._caught(), self._transaction():
            row = self._connection.execute(query, (found,)).fetchone()
            if row is None:
                return None
            texts = self._connection.execute(f"SELECT kind, id, {column} FROM change_item WHERE n = ?", (row[0],))
            for kind, number, text in texts.fetchall():
                self._put((kind, number), text)
            self._connection.execute("UPDATE change SET standing = ? WHERE n = ?", (then, row[0]))
        return row[1], self.read()

    def _put(self, key: Key, text: str | None) -> None:
        if text is None:
            self._connection.execute("DELETE FROM item WHERE kind = ? AND id = ?", key)
        else:
            self._connection.execute("INSERT OR REPLACE INTO item VALUES(?, ?, ?)", (*key, text))

    @property
    def can_undo(self) -> str:
        """The words of the change that ``undo`` would take back; empty where there is none."""
        return self._next_words("done", "DESC")

    @property
    def can_redo(self) -> str:
        """The words of the change that ``redo`` would do again; empty where there is none."""
        return self._next_words("undone", "ASC")

    def _next_words(self, standing: str, order: str) -> str:
        query = f"SELECT words FROM change WHERE standing = ? ORDER BY n {order} LIMIT 1"
        with self._caught():
            row = self._connection.execute(query, (standing,)).fetchone()
        return row[0] if row else ""

    def history(self, kind: str | None = None) -> tuple[Step, ...]:
        """All changes, oldest first; those that touched one kind of item where ``kind`` names it ("sheet")."""
        query = "SELECT n, at, author, words, standing FROM change"
        if kind is not None:
            query += " WHERE n IN (SELECT n FROM change_item WHERE kind = ?)"
        with self._caught():
            rows = self._connection.execute(query + " ORDER BY n", () if kind is None else (kind,)).fetchall()
        return tuple(Step(*row) for row in rows)

    def item_after(self, n: int, kind: str, number: str = "") -> str | None:
        """The JSON text of an item as change ``n`` left it; None where that change did not touch it."""
        with self._caught():
            row = self._connection.execute(
                "SELECT after FROM change_item WHERE n = ? AND kind = ? AND id = ?", (n, kind, number)
            ).fetchone()
        return row[0] if row else None

    # ---- answers

    def save_comparison(self, question: str, record: str) -> None:
        """Keeps a comparison's result; the same result for the same question is kept once."""
        with self._caught(), self._transaction():
            last = self._connection.execute("SELECT question, record FROM comparison ORDER BY id DESC LIMIT 1")
            if last.fetchone() != (question, record):
                self._connection.execute(
                    "INSERT INTO comparison(at, question, record) VALUES(?, ?, ?)", (now(), question, record)
                )

    def comparisons(self) -> tuple[SavedComparison, ...]:
        """All results that were kept, oldest first."""
        with self._caught():
            if not self._has("comparison"):
                return ()
            rows = self._connection.execute("SELECT at, question, record FROM comparison ORDER BY id").fetchall()
        return tuple(SavedComparison(*row) for row in rows)

    def remember(self, kind: str, key: str, body: str) -> None:
        """Keeps an answer that could be made again."""
        if self.read_only:
            return
        with self._caught(), self._transaction():
            self._connection.execute("INSERT OR REPLACE INTO kept VALUES(?, ?, ?)", (kind, key, body))

    def recall(self, kind: str, key: str) -> str | None:
        """An answer that was kept, or None."""
        with self._caught():
            if not self._has("kept"):
                return None
            row = self._connection.execute("SELECT body FROM kept WHERE kind = ? AND key = ?", (kind, key)).fetchone()
        return row[0] if row else None

    def _has(self, table: str) -> bool:
        """Is the table there? One that is opened for reading may be of an older version."""
        found = self._connection.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (table,)).fetchone()
        return found is not None

    # ---- blobs: captures and pictures by the SHA-256 of their bytes

    def has_blob(self, sha256: str) -> bool:
        """Are these bytes in the case, all of them?"""
        with self._caught():
            row = self._connection.execute("SELECT whole FROM blob WHERE sha256 = ?", (sha256,)).fetchone()
        return bool(row and row[0])

    def begin_blob(self, sha256: str, size_bytes: int) -> None:
        """Makes room for bytes that come part by part."""
        with self._caught(), self._transaction():
            self._connection.execute("DELETE FROM blob_part WHERE sha256 = ?", (sha256,))
            self._connection.execute("INSERT OR REPLACE INTO blob VALUES(?, ?, 0)", (sha256, size_bytes))

    def add_blob_part(self, sha256: str, part: int, data: bytes) -> None:
        """One compressed part."""
        with self._caught(), self._transaction():
            self._connection.execute("INSERT INTO blob_part VALUES(?, ?, ?)", (sha256, part, data))

    def end_blob(self, sha256: str) -> None:
        """All parts are there."""
        with self._caught(), self._transaction():
            self._connection.execute("UPDATE blob SET whole = 1 WHERE sha256 = ?", (sha256,))

    def blob_parts(self, sha256: str) -> Iterator[bytes]:
        """The compressed parts in their order."""
        with self._caught():
            row = self._connection.execute("SELECT max(part) FROM blob_part WHERE sha256 = ?", (sha256,)).fetchone()
        for part in range(0 if row[0] is None else row[0] + 1):
            with self._caught():
                data = self._connection.execute(
                    "SELECT data FROM blob_part WHERE sha256 = ? AND part = ?", (sha256, part)
                ).fetchone()
            if data is None:
                raise CaseDamaged(f"{self.path}: part {part} of {sha256[:12]} is lacking. Rescue the case.")
            yield bytes(data[0])

    # ---- files

    def copy_to(self, path: str | Path) -> CaseStore:
        """The same case in another file, whole or not at all; that file is then open, this one closed."""
        path = Path(path)
        if path.exists():
            raise CaseError(f"{path}: is there already. Choose a name that is not taken.")
        _check_place(path, True, True)
        beside = path.with_name(f".{path.name}.{os.getpid()}")
        try:
            with self._caught():
                target = sqlite3.connect(beside)
                try:
                    self._connection.backup(target)
                finally:
                    target.close()
            os.replace(beside, path)
        except sqlite3.Error as error:
            raise self._told(error) from error
        except OSError as error:
            raise CaseError(f"{path}: cannot be written ({error.strerror}). Choose another place.") from error
        finally:
            beside.unlink(missing_ok=True)
        copy = CaseStore.open(path, make=False)
        self.close()
        return copy

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
        return sqlite3.connect(
            f"{path.absolute().as_uri()}?mode={mode}",
            uri=True,
            isolation_level=None,
            check_same_thread=False,
            timeout=0.3,
        )
    except sqlite3.Error as error:
        raise CaseError(f"{path}: cannot be opened ({error}). Check the path and its permissions.") from error


def _check_place(path: Path, fresh: bool, make: bool) -> None:
    """One sentence where no case can lie at this path."""
    if path.is_dir():
        raise CaseError(
            f"{path}: is a folder; expected a case file. Name a file in it, such as {path / 'case'}{SUFFIX}."
        )
    if fresh and not make:
        raise CaseError(f"{path}: there is no such case. Check the name, or make it: twinslot open {path}")
    if fresh and not path.absolute().parent.is_dir():
        raise CaseError(f"{path}: the folder {path.absolute().parent} is not there. Make it, or choose another place.")
