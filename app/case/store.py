"""What is kept in a case file: the case item by item, the history of its changes, answers, and bytes by their hash.

Nothing waits to be saved. Every change is one transaction, kept when ``keep`` returns; one that fails leaves file
and case as they were.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from app.case.change import BEGIN
from app.case.database import SUFFIX, CaseDatabase, check_place
from app.case.errors import CaseDamaged, CaseError
from app.case.items import Key, case_of, differences, items_of
from app.case.record import OpenCase
from app.case.values import now

MOST_ITEMS, MOST_TEXT = 100_000, 256 << 20
"""Items of a case, and letters of all of them, that are read: tenfold what years of work on one machine make."""
__all__ = ["SUFFIX", "CaseStore", "SavedComparison", "Step"]


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


class CaseStore(CaseDatabase):
    """An open case file. ``path`` is None for a case that lives in memory only."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None, read_only: bool = False) -> None:
        super().__init__(connection, path, read_only)
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
        check_place(path, fresh, make and not look_only)
        store = None
        try:
            store = cls._held(path, fresh, look_only)
            with store._caught():
                if fresh:
                    store._begin_empty(author)
                store._sweep()
        except CaseError:
            if store is not None:
                store.close()
            _clear_away(path, fresh)
            raise
        return store

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

    # ---- the case

    def read(self) -> OpenCase:
        """The case as it stands; ``trouble`` names what could not be read."""
        with self._caught():
            self._check_amount()
            rows = self._connection.execute("SELECT kind, id, body FROM item").fetchall()
            last = self._connection.execute("SELECT at FROM change ORDER BY n DESC LIMIT 1").fetchone()
        self._items = {(row[0], row[1]): row[2] for row in rows if _are_texts(row)}
        self.saved_at = last[0] if last and _are_texts(last) else ""
        case, trouble = case_of(self._items)
        odd = len(rows) - len(self._items)
        more = (f"{odd} of its {len(rows)} rows hold no text, so they cannot be read",) if odd else ()
        self.trouble = (*trouble, *more)
        return replace(case, unread=self.trouble)

    def _check_amount(self) -> None:
        """Raises CaseDamaged where there is more than any case of ours holds, and more than memory may bear."""
        count, size = self._connection.execute("SELECT count(*), total(length(body)) FROM item").fetchone()
        if count <= MOST_ITEMS and size <= MOST_TEXT:
            return
        raise CaseDamaged(
            f"{self.path}: found {count} items of {size / 2**20:.0f} million letters; at most {MOST_ITEMS} of "
            f"{MOST_TEXT >> 20} million are read. Nothing was changed. Ask whoever sent it for a smaller case."
        )

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
        """Takes the newest change back; its words and the case before it.

        None where there is none, and before what the case began with: that is no change of it."""
        return self._turn("done", "undone", "before", "DESC")

    def redo(self) -> tuple[str, OpenCase] | None:
        """Does the change again that was taken back last."""
        return self._turn("undone", "done", "after", "ASC")

    def _turn(self, found: str, then: str, column: str, order: str) -> tuple[str, OpenCase] | None:
        query = f"SELECT n, words FROM change WHERE standing = ? ORDER BY n {order} LIMIT 1"
        with self._caught(), self._transaction():
            row = self._connection.execute(query, (found,)).fetchone()
            if row is None or (found == "done" and row[1] == BEGIN):
                return None
            texts = self._connection.execute(f"SELECT kind, id, {column} FROM change_item WHERE n = ?", (row[0],))
            for kind, number, text in texts.fetchall():
                if not _are_texts((kind, number, text or "")):
                    raise CaseDamaged(f"{self.path}: change {row[0]} cannot be turned back; its rows hold no text.")
                self._put((kind, number), text)
            self._connection.execute("UPDATE change SET standing = ? WHERE n = ?", (then, row[0]))
        return str(row[1]), self.read()

    def _put(self, key: Key, text: str | None) -> None:
        if text is None:
            self._connection.execute("DELETE FROM item WHERE kind = ? AND id = ?", key)
        else:
            self._connection.execute("INSERT OR REPLACE INTO item VALUES(?, ?, ?)", (*key, text))

    @property
    def can_undo(self) -> str:
        """The words of the change that ``undo`` would take back; empty where there is none."""
        words = self._next_words("done", "DESC")
        return "" if words == BEGIN else words

    @property
    def can_redo(self) -> str:
        """The words of the change that ``redo`` would do again; empty where there is none."""
        return self._next_words("undone", "ASC")

    def _next_words(self, standing: str, order: str) -> str:
        query = f"SELECT words FROM change WHERE standing = ? ORDER BY n {order} LIMIT 1"
        with self._caught():
            row = self._connection.execute(query, (standing,)).fetchone()
        return str(row[0]) if row else ""

    def history(self, kind: str | None = None) -> tuple[Step, ...]:
        """All changes, oldest first; those that touched one kind of item where ``kind`` names it ("sheet")."""
        query = "SELECT n, at, author, words, standing FROM change"
        if kind is not None:
            query += " WHERE n IN (SELECT n FROM change_item WHERE kind = ?)"
        with self._caught():
            rows = self._connection.execute(query + " ORDER BY n", () if kind is None else (kind,)).fetchall()
        return tuple(Step(row[0], *map(str, row[1:])) for row in rows)

    def item_after(self, n: int, kind: str, number: str = "") -> str | None:
        """The JSON text of an item as change ``n`` left it; None where that change did not touch it."""
        with self._caught():
            row = self._connection.execute(
                "SELECT after FROM change_item WHERE n = ? AND kind = ? AND id = ?", (n, kind, number)
            ).fetchone()
        return row[0] if row and _are_texts(row) else None

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
        return tuple(SavedComparison(*row) for row in rows if _are_texts(row))

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
        return row[0] if row and _are_texts(row) else None

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

    def drop_blob(self, sha256: str) -> None:
        """Takes out what was put in of these bytes."""
        with self._caught(), self._transaction():
            self._connection.execute("DELETE FROM blob_part WHERE sha256 = ?", (sha256,))
            self._connection.execute("DELETE FROM blob WHERE sha256 = ?", (sha256,))

    def blob_parts(self, sha256: str) -> Iterator[bytes]:
        """The compressed parts in their order."""
        with self._caught():
            row = self._connection.execute("SELECT count(*) FROM blob_part WHERE sha256 = ?", (sha256,)).fetchone()
        for part in range(row[0]):
            with self._caught():
                data = self._connection.execute(
                    "SELECT data FROM blob_part WHERE sha256 = ? AND part = ?", (sha256, part)
                ).fetchone()
            if data is None:
                raise CaseDamaged(f"{self.path}: part {part} of {sha256[:12]} is lacking. Rescue the case.")
            if not isinstance(data[0], bytes):
                raise CaseDamaged(f"{self.path}: part {part} of {sha256[:12]} holds no bytes. Rescue the case.")
            yield data[0]

    # ---- files

    def copy_to(self, path: str | Path) -> CaseStore:
        """The same case in another file, whole or not at all; that file is then open, this one closed."""
        path = Path(path)
        if path.exists():
            raise CaseError(f"{path}: is there already. Choose a name that is not taken.")
        check_place(path, True, True)
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


def _are_texts(row: Iterable[object]) -> bool:
    """SQLite keeps values of any type in any column."""
    return all(isinstance(value, str) for value in row)


def _clear_away(path: Path, fresh: bool) -> None:
    """A new file that came to nothing goes; one that another program is filling meanwhile does not."""
    if fresh and path.exists() and path.stat().st_size == 0:
        path.unlink()
